"""Bounds of survival: by hand, against the headline, and never the wrong way round."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitoring.estimators.bounds import BOUND_MEASURES, OpenThings, bound_estimates
from monitoring.estimators.round_estimates import round_estimates
from monitoring.estimators.table import REBUILT, SEED_SPOT, BlockFacts, CountTable


def two_blocks(**columns):
    """Blocks A and B of four plots of 20 trees; A holds 900 trees, B 300."""
    given_ = {"alive": [18, 17, 19, 16, 10, 12, 9, 11], **columns}
    return CountTable.build(
        block=[0] * 4 + [1] * 4, plot=range(8), species=[0] * 8, planted=[20] * 8,
        blocks=BlockFacts.build(2, planted=[900, 300], site=[0, 0]),
        labels={"project": ("P",), "site": ("S",), "block": ("A", "B"), "species": ("oak",)}, **given_,
    )  # fmt: skip


def bounds(table, things, **options):
    return {(row.scope, row.key, row.measure): row for row in bound_estimates(table, things, **options)}


def headlines(table):
    return {(row.scope, row.key, row.measure): row for row in round_estimates(table) if row.is_headline}


def test_nothing_open_gives_no_bounds():
    table = two_blocks(not_found=[1, 0, 0, 0, 0, 0, 0, 0])
    assert bound_estimates(table, OpenThings.none(table)) == ()


def test_a_doubtful_count_moves_its_block_and_the_project_and_leaves_other_blocks_alone():
    table = two_blocks()
    found = bounds(table, OpenThings.none(table).with_cases([0], [[8, 0, 0]], [[20, 0, 0]]))
    assert found["block", "A", "survival_cases_low"].value == pytest.approx(60 / 80)
    assert found["block", "A", "survival_cases_high"].value == pytest.approx(72 / 80)
    weighted = (900 * 60 / 80 + 300 * 42 / 80) / 1200
    assert found["project", "P", "survival_cases_low"].value == pytest.approx(weighted)
    assert not [key for key in found if key[1] == "B"]
    assert {key[2] for key in found} == set(BOUND_MEASURES[:4])


def test_a_plot_not_counted_enters_dead_or_alive_with_the_trees_planted_in_it():
    table = two_blocks()
    found = bounds(table, OpenThings.none(table).with_missing([1, 1], [10, 30]))
    assert found["block", "B", "survival_missing_dead"].value == pytest.approx(42 / 120)
    assert found["block", "B", "survival_missing_alive"].value == pytest.approx(82 / 120)
    assert found["block", "B", "survival_missing_dead"].n_plots == 6
    whole = (900 * 70 / 80 + 300 * 42 / 120) / 1200
    assert found["project", "P", "survival_missing_dead"].value == pytest.approx(whole)


def test_a_block_in_which_no_plot_was_counted_is_known_no_better_than_none_to_all():
    facts = BlockFacts.build(2, planted=[900, 300])
    table = CountTable.build(
        block=[0] * 4, plot=range(4), species=[0] * 4, planted=[20] * 4, alive=[18, 17, 19, 16], blocks=facts,
        labels={"project": ("P",), "block": ("A", "B"), "species": ("oak",)},
    )  # fmt: skip
    found = bounds(table, OpenThings.none(table).with_missing([1, 1], [20, 20]))
    assert found["block", "B", "survival_worst_case"].value == 0
    assert found["block", "B", "survival_best_case"].value == 1
    assert found["project", "P", "survival_worst_case"].value == pytest.approx(0.75 * 70 / 80)
    assert found["project", "P", "survival_best_case"].value == pytest.approx(0.75 * 70 / 80 + 0.25)


def test_trees_of_uncertain_origin_are_natural_seedlings_at_worst():
    table = two_blocks()
    things = OpenThings.none(table).with_uncertain([3, 0, 0, 0, 0, 0, 0, 0])
    found = bounds(table, things)
    assert found["block", "A", "survival_uncertain_natural"].value == pytest.approx(67 / 80)
    assert found["block", "A", "survival_worst_case"].value == pytest.approx(67 / 80)
    assert found["block", "A", "survival_best_case"].value == pytest.approx(70 / 80)


def test_everything_together_is_worst_and_best():
    table = two_blocks(not_found=[0, 2, 0, 0, 0, 0, 0, 0])
    things = OpenThings.none(table).with_cases([0], [[0, 0, 0]], [[20, 0, 0]])
    things = things.with_missing([0], [20]).with_uncertain([0, 0, 1, 0, 0, 0, 0, 0])
    found = bounds(table, things)
    assert found["block", "A", "survival_worst_case"].value == pytest.approx((0 + 17 + 18 + 16) / 100)
    assert found["block", "A", "survival_best_case"].value == pytest.approx((20 + 19 + 19 + 16 + 20) / 100)


def test_another_count_may_have_assessed_fewer_trees():
    table = two_blocks()
    found = bounds(table, OpenThings.none(table).with_cases([0], [[8, 0, 10]], [[18, 0, 0]]))
    assert found["block", "A", "survival_cases_low"].value == pytest.approx((8 + 52) / 70)
    assert found["block", "A", "survival_cases_low"].n_trees == 70


def test_seed_spots_and_rebuilt_baselines_have_no_part_in_it():
    table = two_blocks(unit=[SEED_SPOT] + [0] * 7, baseline=[0, REBUILT] + [0] * 6)
    things = OpenThings.none(table).with_cases([0, 1], [[0] * 3] * 2, [[20, 0, 0]] * 2)
    assert bound_estimates(table, things) == ()
    things = things.with_missing([0], [20])
    found = bounds(table, things)
    assert found["block", "A", "survival_missing_dead"].value == pytest.approx(35 / 60)


def test_rows_of_one_plot_are_capped_each_before_they_are_added():
    table = CountTable.build(
        block=[0, 0, 0], plot=[0, 0, 1], species=[0, 1, 0], planted=[10, 10, 20], alive=[14, 5, 15],
        blocks=BlockFacts.build(1, planted=[500]),
        labels={"project": ("P",), "block": ("A",), "species": ("oak", "rowan")},
    )  # fmt: skip
    found = bounds(table, OpenThings.none(table).with_missing([0], [20]), scopes=("block",))
    assert found["block", "A", "survival_missing_dead"].value == pytest.approx((10 + 5 + 15) / 60)


@st.composite
def open_tables(draw):
    """A table of two blocks with any mix of open things, each reading within what was planted."""
    alive = draw(st.lists(st.integers(0, 22), min_size=8, max_size=8))
    lost = [draw(st.integers(0, max(20 - a, 0))) for a in alive]
    table = two_blocks(alive=alive, not_found=lost)
    chosen = draw(st.lists(st.integers(0, 7), unique=True, max_size=4))
    capped = [min(alive[row], 20) for row in chosen]
    low = [[draw(st.integers(0, most)), 0, 0] for most in capped]
    high = [[draw(st.integers(least, 20)), 0, 0] for least in capped]
    things = OpenThings.none(table).with_cases(chosen, low, high)
    missing = draw(st.lists(st.integers(0, 1), max_size=3))
    uncertain = [draw(st.integers(0, min(a, 20))) for a in alive]
    return table, things.with_missing(missing, [20] * len(missing)).with_uncertain(uncertain)


@settings(max_examples=40, deadline=None)
@given(open_tables())
def test_worst_and_best_hold_the_headline_and_every_bound_of_a_part(case):
    table, things = case
    found, first = bounds(table, things), headlines(table)
    for (scope, key, measure), row in found.items():
        worst = found[scope, key, "survival_worst_case"].value
        best = found[scope, key, "survival_best_case"].value
        assert worst - 1e-9 <= row.value <= best + 1e-9
        assert row.lower - 1e-9 <= row.value <= row.upper + 1e-9
        headline = first[scope, key, "survival"].value
        if measure in ("survival_cases_low", "survival_missing_dead", "survival_uncertain_natural"):
            assert row.value <= headline + 1e-9
        if measure in ("survival_cases_high", "survival_missing_alive"):
            assert row.value >= headline - 1e-9


def test_a_hundred_blocks_are_bounded_together():
    n_blocks, n_plots = 100, 20
    n_rows = n_blocks * n_plots
    draws = np.random.default_rng(5)
    table = CountTable.build(
        block=np.repeat(np.arange(n_blocks), n_plots), plot=np.arange(n_rows), species=np.zeros(n_rows, int),
        planted=np.full(n_rows, 20), alive=draws.binomial(20, 0.8, n_rows),
        blocks=BlockFacts.build(n_blocks, planted=[500] * n_blocks),
        labels={"project": ("P",), "block": tuple(f"{n:03}" for n in range(n_blocks)), "species": ("oak",)},
    )  # fmt: skip
    things = OpenThings.none(table).with_missing(np.arange(n_blocks), np.full(n_blocks, 20))
    found = bounds(table, things, scopes=("block", "project"))
    assert len(found) == 4 * (n_blocks + 1)
