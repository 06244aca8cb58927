"""A round's rows: weights, domains, census, capping, and what is said when there is no figure."""

import time
from dataclasses import replace

import numpy as np
import pytest

from monitoring.estimators.round_estimates import round_estimates
from monitoring.estimators.rows import EstimateSettings
from monitoring.estimators.table import REBUILT, SEED_SPOT, BlockFacts, CountTable


def two_blocks(planted=(9600, 4400), **columns):
    return CountTable.build(
        block=[0] * 5 + [1] * 5, plot=range(10), species=[0] * 10,
        planted=[10] * 10, alive=[8, 9, 7, 10, 9, 3, 5, 4, 6, 5],
        blocks=BlockFacts.build(2, planted=planted, site=[0, 0]),
        labels={"block": ("A", "B"), "project": ("P",), "site": ("S",), "species": ("oak",)}, **columns,
    )  # fmt: skip


def headlines(table, **options):
    rows = round_estimates(table, EstimateSettings(**options))
    return {(row.scope, row.key, row.measure): row for row in rows if row.is_headline}


def test_every_figure_has_exactly_one_headline():
    rows = round_estimates(two_blocks(not_found=[1] * 10))
    figures = {(row.scope, row.key, row.measure) for row in rows}
    assert len([row for row in rows if row.is_headline]) == len(figures)


def test_a_project_lacks_a_figure_when_a_block_lacks_its_weight():
    found = headlines(two_blocks(planted=[9600, -1]))
    project = found["project", "P", "survival"]
    assert (project.status, project.reason) == ("not_estimable", "block_weight_missing")
    assert project.value is project.lower is None
    assert found["block", "A", "survival"].status == "ok"


def test_a_project_of_one_block_repeats_its_block():
    table = CountTable.build(
        block=[0] * 6, plot=range(6), species=[0] * 6, planted=[20] * 6, alive=[18, 12, 20, 9, 15, 16],
        labels={"block": ("A",), "project": ("P",)},
    )  # fmt: skip
    found = headlines(table)
    block, project = found["block", "A", "survival"], found["project", "P", "survival"]
    assert replace(project, scope="block", key="A") == block


def test_a_census_has_no_sampling_error():
    facts = BlockFacts.build(1, planted=[60], is_census=[True])
    table = CountTable.build(
        block=[0], plot=[0], species=[0], planted=[60], alive=[48], not_found=[6], blocks=facts
    )
    found = headlines(table)
    row = found["block", "0", "survival"]
    assert (row.method, row.se, row.lower, row.value, row.upper) == ("census", 0, 0.8, 0.8, 0.8)
    assert found["block", "0", "survival_if_found"].value == 0.9


def test_a_census_beside_a_sampled_block_adds_no_variance():
    table = two_blocks()
    counted = replace(table, blocks=BlockFacts.build(2, planted=[9600, 4400], is_census=[False, True]))
    sampled, census = (headlines(each)["project", "P", "survival"] for each in (table, counted))
    assert census.value == sampled.value
    assert 0 < census.se < sampled.se


def test_more_alive_than_planted_is_capped_and_counted_as_flagged():
    table = CountTable.build(block=[0] * 3, plot=range(3), planted=[10, 10, 10], alive=[9, 14, 8])
    row = headlines(table)["block", "0", "survival"]
    assert (row.n_alive, row.n_trees, row.n_flagged) == (27, 30, 1)


def test_removed_trees_leave_the_headline_and_have_a_figure_of_their_own():
    table = CountTable.build(
        block=[0] * 4,
        plot=range(4),
        planted=[10] * 4,
        alive=[6, 5, 7, 6],
        removed=[2] * 4,
        not_assessed=[1, 0, 0, 0],
    )
    found = headlines(table)
    assert found["block", "0", "survival"].value == pytest.approx(24 / 31)
    assert found["block", "0", "survival_removed_alive"].value == pytest.approx(32 / 39)


def test_visited_empty_plots_stay_in_the_sample():
    plots = {"planted": [10, 12, 9, 0], "alive": [8, 7, 9, 0], "species": [0, 0, 0, -1]}
    with_empty = CountTable.build(block=[0] * 4, plot=range(4), **plots)
    without = CountTable.build(block=[0] * 3, plot=range(3), **{k: v[:3] for k, v in plots.items()})
    rows = [
        next(r for r in round_estimates(t, scopes=("block",)) if r.method == "ratio_logit_t")
        for t in (with_empty, without)
    ]
    assert [row.n_plots for row in rows] == [4, 3]
    assert rows[0].se == pytest.approx(rows[1].se * np.sqrt((4 / 3) / (3 / 2)))


def test_seed_spots_and_rebuilt_baselines_never_enter_survival():
    table = CountTable.build(
        block=[0] * 6, plot=range(6), planted=[10] * 6, alive=[5, 6, 7, 8, 9, 10],
        unit=[0, 0, SEED_SPOT, SEED_SPOT, 0, 0], baseline=[0, 0, 0, 0, REBUILT, REBUILT],
    )  # fmt: skip
    found = headlines(table)
    assert found["block", "0", "survival"].n_trees == 20
    assert found["block", "0", "spot_occupancy"].value == pytest.approx(0.75)
    assert found["block", "0", "share_of_visible_spots"].value == pytest.approx(0.95)


def test_a_species_in_few_plots_shows_counts_without_a_figure():
    table = CountTable.build(
        block=[0] * 8, plot=range(8), species=[0] * 5 + [1] * 3, planted=[10] * 8, alive=[9] * 5 + [4] * 3
    )
    row = headlines(table)["species", "1", "survival"]
    assert (row.status, row.reason, row.value) == ("not_estimable", "too_few_plots", None)
    assert (row.n_alive, row.n_trees, row.n_plots) == (12, 30, 3)
    assert headlines(table, minimum_plots=2)["species", "1", "survival"].status == "ok"


def test_lots_leave_out_lines_without_a_single_cohort_and_say_so():
    lots = [0, 0, 0, 0, 0, -1, 0, 0, 0, 0]
    row = headlines(two_blocks(lot=lots))["lot", "0", "survival"]
    assert row.reason == "lines_left_out"
    assert row.n_trees == 90


def test_plots_of_unequal_weight_are_led_by_the_weighted_interval():
    table = CountTable.build(
        block=[0] * 4, plot=range(4), planted=[10] * 4, alive=[9, 8, 3, 7], plot_weight=[1, 1, 4, 1]
    )
    row = headlines(table)["block", "0", "survival"]
    assert (row.method, row.reason) == ("ratio_logit_t", "unequal_plot_weights")
    assert row.value == pytest.approx((9 + 8 + 12 + 7) / 70)


def test_a_block_nobody_reached_says_so():
    table = CountTable.build(
        block=[0] * 3, plot=range(3), planted=[10] * 3, alive=[9, 8, 7], blocks=BlockFacts.build(2)
    )
    row = headlines(table)["block", "1", "survival"]
    assert (row.status, row.reason, row.n_plots) == ("not_estimable", "no_plots", 0)


def test_equal_shares_in_every_plot_do_not_claim_certainty():
    table = CountTable.build(block=[0] * 4, plot=range(4), planted=[10] * 4, alive=[8] * 4)
    for row in round_estimates(table, scopes=("block",)):
        if row.measure == "survival":
            assert row.lower < 0.75 < 0.85 < row.upper


def test_rows_do_not_depend_on_the_order_of_lines():
    rng = np.random.default_rng(2)
    columns = {
        "block": np.repeat([0, 1, 2], 20), "plot": np.repeat(np.arange(30), 2), "species": np.tile([0, 1], 30),
        "planted": rng.integers(4, 20, 60),
    }  # fmt: skip
    columns["alive"] = rng.binomial(columns["planted"], 0.8)
    facts = BlockFacts.build(3, planted=[500, 700, 900])
    shuffled = rng.permutation(60)
    moved = {name: column[shuffled] for name, column in columns.items()}
    assert round_estimates(CountTable.build(blocks=facts, **columns)) == round_estimates(
        CountTable.build(blocks=facts, **moved)
    )


def test_figures_are_rounded_to_12_significant_digits():
    for row in round_estimates(two_blocks()):
        for figure in (row.value, row.se, row.lower, row.upper, row.deff):
            assert figure is None or float(f"{figure:.12g}") == figure


@pytest.mark.parametrize(
    ("columns", "words"),
    [
        ({"alive": [-1, 2]}, "alive must not be negative"),
        ({"alive": [1.5, 2]}, "whole numbers"),
        ({"plot": [0, 0], "block": [0, 1]}, "two blocks"),
        ({"planted": [3]}, "planted has 1 rows"),
        ({"colour": [1, 1]}, "unknown columns: colour"),
        ({"plot_weight": [0, 1]}, "plot_weight must be above 0"),
    ],
)
def test_a_table_refuses_what_cannot_be_counts(columns, words):
    given = {"block": [0, 0], "plot": [0, 1], "planted": [5, 5], "alive": [4, 5]} | columns
    with pytest.raises(ValueError, match=words):
        CountTable.build(**given)


def test_a_round_of_125_000_lines_takes_seconds_not_minutes():
    """The real budget is held by the benchmarks; this only catches a fall into loops over lines."""
    rng = np.random.default_rng(0)
    plot = np.repeat(np.arange(20 * 625), 10)
    planted = rng.poisson(2.5, plot.size)
    table = CountTable.build(
        block=plot // 625, plot=plot, species=np.tile(np.arange(10), 20 * 625), planted=planted,
        alive=rng.binomial(planted, 0.8), blocks=BlockFacts.build(20, planted=np.full(20, 3000)),
    )  # fmt: skip
    start = time.perf_counter()
    assert round_estimates(table)
    assert time.perf_counter() - start < 8


def test_a_block_gets_the_same_rows_from_its_own_lines_alone():
    """What one block×round recompute stores is what a rebuild of the whole round stores."""
    rng = np.random.default_rng(4)
    block, plot = np.repeat([0, 1, 2], 24), np.repeat(np.arange(36), 2)
    planted = rng.integers(3, 20, 72)
    alive, species = rng.binomial(planted, 0.8), np.tile([0, 1], 36)

    def rows(chosen):
        table = CountTable.build(
            block=block[chosen], plot=plot[chosen], species=species[chosen], planted=planted[chosen],
            alive=alive[chosen], blocks=BlockFacts.build(3, planted=[500, 700, 900]),
        )  # fmt: skip
        found = round_estimates(table, scopes=("block", "block_species"))
        return [r for r in found if r.key.split(":")[0] == "1" and r.method != "pooled_icc_wilson"]

    assert rows(block == 1) == rows(block >= 0)


def test_a_block_of_seed_spots_lends_no_plots_to_the_survival_of_trees():
    table = two_blocks(unit=[0] * 5 + [SEED_SPOT] * 5)
    found = headlines(table)
    block, project = found["block", "A", "survival"], found["project", "P", "survival"]
    assert (project.n_plots, project.n_trees) == (block.n_plots, block.n_trees) == (5, 50)
    assert found["project", "P", "spot_occupancy"].n_plots == 5


def test_living_trees_without_a_baseline_are_not_called_too_many():
    table = two_blocks(flagged=[0] * 10)
    bare = replace(table, planted=np.where(table.block == 1, 0, table.planted))
    assert headlines(bare)["project", "P", "survival"].n_flagged == 0
