"""How many plots and how they are shared out: Cochran, Kish, Pearson et al., the UNFCCC tool and statsmodels.

Ids such as `6-plots-…` are in `data/estimator_checks.json` with their sources; ids such as E1 name theirs here.
"""

import itertools
import math

import numpy as np
import pytest
from statsmodels.stats.proportion import samplesize_confint_proportion

from monitoring.estimators import allocation, sample_size, sample_size_of_means
from monitoring.estimators.intervals import student_t
from monitoring.estimators.outcome import judge
from monitoring.estimators.plot_chances import Nodes, judged, made_up_surveys
from monitoring.estimators.round_estimates import round_estimates
from monitoring.estimators.sample_size import plots_needed, simple_random_n, what_plots_buy
from monitoring.estimators.table import BlockFacts, CountTable
from tests.published.checks import cases, ids


# --- trees, as if each were drawn alone ---------------------------------------------------------
@pytest.mark.parametrize("name", ids("6-n-"))
def test_trees_needed_agree_with_cochran_and_kish(name):
    asked, expected = cases()[name]["inputs"], cases()[name]["expected"]
    n = simple_random_n(asked["p"], asked["half_width"], deff=asked["deff"], population=asked["N"])
    assert n == pytest.approx(expected["n_raw"], rel=1e-9)
    assert math.ceil(n) == expected["n"]


@pytest.mark.parametrize(("p", "d"), [(0.5, 0.05), (0.8, 0.05), (0.97, 0.02)])
def test_trees_needed_agree_with_statsmodels(p, d):
    assert simple_random_n(p, d) == pytest.approx(samplesize_confint_proportion(p, d), rel=1e-12)


def test_cochrans_town_of_3200_needs_356():
    """E1 and 6-cochran-356: Cochran (1977), sections 4.2 to 4.4 (from memory)."""
    expected = cases()["6-cochran-356"]["expected"]
    assert round(simple_random_n(0.5, 0.05, critical=2), 9) == expected["n0"] == 400
    assert math.ceil(simple_random_n(0.5, 0.05, critical=2, population=3200)) == expected["n"] == 356


def test_a_nursery_bed_of_430_needs_78():
    """E2: Cochran (1977), section 4.6, seedlings of a nursery bed (from memory)."""
    n0 = sample_size_of_means.percent_error_plots(19, math.sqrt(85.6), 0.10)
    assert math.ceil(n0) == 95
    assert (
        math.ceil(sample_size_of_means.percent_error_plots(19, math.sqrt(85.6), 0.10, population=430)) == 78
    )


def test_five_thousand_hectares_of_one_kind_need_29_plots():
    """E3: Pearson, Walker & Brown (2005), Sourcebook for LULUCF projects."""
    n = sample_size_of_means.percent_error_plots(101.6, 27.1, 0.10, population=5000 / 0.08)
    assert round(n, 1) == 28.4
    assert math.ceil(n) == 29


def test_three_strata_need_18_plots_shared_15_2_1():
    """E3b and E3c: the same sourcebook, which prints 18 and 15, 2, 1."""
    area = np.array([3400.0, 900.0, 700.0])
    n, parts = sample_size_of_means.cdm_plots(
        area / area.sum(), [26.2, 14.0, 8.2], 10.16, critical=2, population=5000 / 0.08
    )
    assert round(n, 1) == 17.9
    assert math.ceil(n) == 18
    assert parts.round(1).tolist() == [14.8, 2.1, 1.0]


def test_six_plots_of_an_appendix_need_45_and_not_the_5_it_prints():
    """E4: an appendix of a book on restoration prints 5 for these plots; its own formula gives 45."""
    plots = [90.57, 89.38, 56.07, 132.48, 52.32, 99.70]
    assert round(np.std(plots, ddof=1), 2) == 29.69
    n = sample_size_of_means.percent_error_plots(np.mean(plots), np.std(plots, ddof=1), 0.10, population=1000)
    assert round(n, 1) == 44.7
    assert math.ceil(n) == 45


def test_plots_of_twenty_at_a_correlation_of_a_tenth():
    """E5: Kish (1965); 245.9 trees alone, deff 2.90, 713 trees, 36 plots."""
    assert round(simple_random_n(0.8, 0.05), 1) == 245.9
    needed = plots_needed(0.8, 0.05, trees_per_plot=20, icc=0.10)
    assert needed.deff == pytest.approx(2.90)
    assert round(simple_random_n(0.8, 0.05, deff=needed.deff)) == 713
    assert needed.plots_z == 36
    assert needed.plots == 39  # Student's t: 2.0244 * sqrt(0.16 * 2.9 / 780) = 0.0494, and 38 give 0.0501


def test_students_t_of_nine_degrees():
    """E6: printed tables of Student's t."""
    assert round(float(student_t(9, 0.80)), 3) == 1.383
    assert round(float(student_t(9, 0.90)), 3) == 1.833


@pytest.mark.parametrize(
    ("acres", "plots"), [(4, 5), (8, 8), (30, 14), (5, 5), (10, 10), (10.5, 11), (5.5, 6)]
)
def test_fewest_plots_of_a_written_table(acres, plots):
    """E7: NRCS Technical Note 190-FOR-01 (2018), table 5; it leaves 5 to 6 acres open, one plot an acre here."""
    assert sample_size_of_means.fewest_plots(acres, sample_size_of_means.NRCS_CIRCULAR_ACRES) == plots


def test_a_rare_species_is_seen_in_fifty_trees_two_times_in_three():
    """X16: 1 - 0.98 ** 50, arithmetic."""
    assert sample_size.chance_seen(0.02, 50) == pytest.approx(0.636, abs=5e-4)


# --- plots --------------------------------------------------------------------------------------
@pytest.mark.parametrize("name", ids("6-plots-"))
def test_plots_needed_agree_with_an_exhaustive_search(name):
    asked, expected = cases()[name]["inputs"], cases()[name]["expected"]
    needed = plots_needed(
        asked["p"], asked["half_width"], trees_per_plot=asked["trees_per_plot"], icc=asked["icc"],
        level=asked["confidence"], block_plots=asked["N_plots"],
    )  # fmt: skip
    assert needed.deff == pytest.approx(expected["deff"])
    assert needed.plots == expected["plots_t_smallest"]
    assert needed.plots_z == expected["plots_z"]
    assert needed.half_width == pytest.approx(expected["half_width_at_plots_t"], rel=1e-9)


@pytest.mark.parametrize("name", ids("6-cdm-"))
def test_stocking_plots_agree_with_the_unfccc_tool(name):
    asked, expected = cases()[name]["inputs"], cases()[name]["expected"]
    n, parts = sample_size_of_means.cdm_plots(
        asked["w"], asked["s"], asked["E"], critical=asked["t"], population=asked["N"]
    )
    assert n == pytest.approx(expected["n_raw"], rel=1e-9)
    assert math.ceil(n) == expected["n"]
    assert parts == pytest.approx(expected["alloc_raw"], rel=1e-9)
    assert np.ceil(parts).tolist() == expected["alloc"]


def test_a_block_too_small_for_the_wish_is_counted_whole():
    needed = plots_needed(0.8, 0.02, trees_per_plot=20, icc=0.1, block_plots=6)
    assert (needed.plots, needed.half_width) == (6, 0.0)
    assert plots_needed(0.8, 0.02, trees_per_plot=20, icc=0.1, block_plots=1).plots == 1


def test_a_wish_that_no_number_of_plots_gives_is_refused():
    with pytest.raises(ValueError, match="wider"):
        plots_needed(0.5, 0.001, trees_per_plot=10, icc=0.5)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"survival": 1.0}, "survival"), ({"survival": 0.0}, "survival"), ({"half_width": 0}, "half_width"),
        ({"icc": 1.0}, "icc"), ({"icc": -0.1}, "icc"), ({"trees_per_plot": 0.5}, "trees_per_plot"),
        ({"survival": float("nan")}, "survival"), ({"trees_per_plot": float("nan")}, "trees_per_plot"),
    ],
)  # fmt: skip
def test_numbers_out_of_range_are_named(change, words):
    asked = {"survival": 0.8, "half_width": 0.1, "trees_per_plot": 20, "icc": 0.1} | change
    with pytest.raises(ValueError, match=words):
        plots_needed(asked.pop("survival"), asked.pop("half_width"), **asked)


# --- shares of the blocks -----------------------------------------------------------------------
def test_neyman_shares_agree_with_cochran_and_the_best_whole_numbers():
    case = cases()["6-neyman-30"]
    asked, expected = case["inputs"], case["expected"]
    found = allocation.allocate(asked["n"], sizes=asked["W"], spreads=asked["S"], rule="neyman")
    assert found.real == pytest.approx(expected["real"], rel=1e-8)
    assert list(found.plots) == expected["best_integer"]
    assert found.variance == pytest.approx(expected["variance_integer"], rel=1e-8)
    real = allocation.variance_of(found.real, asked["W"], asked["S"])
    assert real == pytest.approx(expected["variance_real"], rel=1e-8)


def test_shares_by_cost_agree_with_cochran():
    case = cases()["6-optcost-60"]
    asked, expected = case["inputs"], case["expected"]
    budget = float(np.dot(expected["real"], asked["cost"]))
    found = allocation.allocate(
        budget, sizes=asked["W"], spreads=asked["S"], costs=asked["cost"], rule="optimal_cost"
    )
    assert found.real == pytest.approx(expected["real"], rel=1e-9)
    assert np.array(found.real) / sum(found.real) == pytest.approx(expected["shares"], rel=1e-9)


def test_shares_of_a_budget_agree_with_cochran_and_no_whole_numbers_do_better():
    case = cases()["6-optcost-fixedC"]
    asked, expected = case["inputs"], case["expected"]
    found = allocation.allocate(
        asked["budget"], sizes=asked["W"], spreads=asked["S"], costs=asked["cost"], rule="optimal_cost"
    )
    assert found.real == pytest.approx(expected["alloc"], rel=1e-8)
    assert sum(found.real) == pytest.approx(expected["n"], rel=1e-8)
    affordable = [
        plots
        for plots in itertools.product(range(2, 40), range(2, 27), range(2, 34))
        if np.dot(plots, asked["cost"]) <= asked["budget"]
    ]
    best = min(allocation.variance_of(plots, asked["W"], asked["S"]) for plots in affordable)
    assert np.dot(found.plots, asked["cost"]) <= asked["budget"]
    assert found.variance == pytest.approx(best, rel=1e-12)


# --- what plots buy -----------------------------------------------------------------------------
SETTINGS = [(0.9, 20, 0.1, 0.8), (0.72, 18, 0.05, 0.8), (0.85, 12, 0.2, 0.8), (0.95, 15, 0.3, 0.9)]


@pytest.mark.parametrize("n_plots", [5, 12])
@pytest.mark.parametrize(("survival", "trees", "icc", "target"), SETTINGS)
def test_chances_agree_with_surveys_judged_by_the_real_figures(survival, trees, icc, target, n_plots):
    """Surveys of another generator and seed go through `round_estimates` and `judge`, one block each."""
    promised = what_plots_buy(
        [n_plots], survival=survival, trees_per_plot=trees, icc=icc, target=target, plots_per_person_day=6
    )[0]
    n_surveys, scale = 400, (1 - icc) / icc
    random = np.random.Generator(np.random.PCG64(815))
    alive = random.binomial(
        trees, random.beta(survival * scale, (1 - survival) * scale, (n_surveys, n_plots))
    )
    ends = judged_as_blocks(alive, trees, target)
    for code, chance in (
        ("meets_target", promised.chance_meets),
        ("falls_short", promised.chance_falls_short),
    ):
        error = math.sqrt(max(chance * (1 - chance), 0.002) * (1 / n_surveys + 1 / 2000))
        assert np.mean([end == code for end in ends]) == pytest.approx(chance, abs=3.5 * error)


def judged_as_blocks(alive, trees, target):
    """The outcome of each row of plots by the same functions a real round goes through."""
    n_surveys, n_plots = alive.shape
    block = np.repeat(np.arange(n_surveys), n_plots)
    table = CountTable.build(
        block=block, plot=np.arange(alive.size), species=np.zeros(alive.size, int),
        planted=np.full(alive.size, trees), alive=alive.ravel(), blocks=BlockFacts.build(n_surveys),
        labels={"project": ("P",), "block": tuple(str(number) for number in range(n_surveys))},
    )  # fmt: skip
    found = round_estimates(table, scopes=("block",))
    return [judge(row, None, target).code for row in found if row.measure == "survival" and row.is_headline]


@pytest.mark.parametrize(
    ("n_plots", "survival", "trees", "icc", "target"),
    [(30, *setting) for setting in (*SETTINGS, (0.82, 20, 0.01, 0.8))]
    + [(3, 0.9, 5, 0.1, 0.75), (2, 0.9, 8, 0.2, 0.6), (4, 0.1, 6, 0.1, 0.3)],
)
def test_each_made_up_survey_ends_as_the_real_figures_say(n_plots, survival, trees, icc, target):
    """With a few small plots the priors decide, too."""
    alive = made_up_surveys(n_plots, survival, trees, icc)[:150]
    ends = judged_as_blocks(alive, trees, target)
    found = judged(alive, Nodes.around(target, icc, trees), target, 0.90)
    assert found.meets == pytest.approx(np.mean([end == "meets_target" for end in ends]), abs=0.014)
    assert found.falls_short == pytest.approx(np.mean([end == "falls_short" for end in ends]), abs=0.014)


def test_more_plots_settle_more_often_and_take_longer():
    found = what_plots_buy(
        [20, 1, 5, 5, 40], survival=0.9, trees_per_plot=20, icc=0.1, target=0.8, plots_per_person_day=8
    )
    assert [row.plots for row in found] == [1, 5, 20, 40]
    assert (found[0].chance_settled, found[0].half_width) == (0.0, 1.0)
    assert [row.person_days for row in found] == [0.125, 0.625, 2.5, 5.0]
    settled = [row.chance_settled for row in found]
    assert settled == sorted(settled)
    assert settled[-1] > 0.99
    for row in found:
        assert row.chance_settled == pytest.approx(row.chance_meets + row.chance_falls_short)


def test_a_truth_on_the_target_is_called_met_no_oftener_than_the_level_allows():
    found = what_plots_buy(
        [8, 20, 40], survival=0.8, trees_per_plot=20, icc=0.1, target=0.8, plots_per_person_day=8
    )
    for row in found:
        assert 0.04 < row.chance_meets < 0.10
        assert 0.09 < row.chance_falls_short < 0.14  # the posterior leans to the careful side


def test_a_stricter_level_settles_less_often():
    asked = {"survival": 0.88, "trees_per_plot": 20, "icc": 0.1, "target": 0.8, "plots_per_person_day": 8}
    loose, strict = (what_plots_buy([15], decision_level=level, **asked)[0] for level in (0.80, 0.95))
    assert strict.chance_settled < loose.chance_settled - 0.1


def test_a_block_counted_whole_is_settled():
    found = what_plots_buy(
        [4, 9, 12],
        survival=0.9,
        trees_per_plot=20,
        icc=0.1,
        target=0.8,
        plots_per_person_day=8,
        block_plots=9,
    )
    assert [row.plots for row in found] == [4, 9]
    assert (found[1].chance_settled, found[1].half_width) == (1.0, 0.0)
    assert found[1].chance_meets > 0.95


@pytest.mark.parametrize(
    ("change", "words"),
    [({"target": 1.0}, "target"), ({"plots_per_person_day": 0}, "plots_per_person_day"), ({"icc": 1}, "icc")],
)
def test_what_plots_buy_names_numbers_out_of_range(change, words):
    asked = {
        "survival": 0.9, "trees_per_plot": 20, "icc": 0.1, "target": 0.8, "plots_per_person_day": 8,
    }  # fmt: skip
    with pytest.raises(ValueError, match=words):
        what_plots_buy([10], **(asked | change))
