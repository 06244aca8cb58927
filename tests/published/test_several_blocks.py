"""Several blocks, domains and edges against R; the source of each case is in the data file."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from monitoring.estimators import intervals
from monitoring.estimators.round_estimates import round_estimates
from monitoring.estimators.rows import EstimateSettings
from monitoring.estimators.strata import LonelyBlockError, PlotTotals, Sample, ratio_estimates
from monitoring.estimators.table import BlockFacts, CountTable
from tests.published.checks import cases, ids, one_block, one_block_table, strata_ratio, strata_table

ROWS = cases()["2-B1-data"]["inputs"]["rows"]
DOMAINS = [name for name in ids("2-B1") if not name.endswith(("separate", "data"))]


def domain_rows(species):
    return [row | {"in_domain": int(species in (None, row["species"]))} for row in ROWS]


@pytest.mark.parametrize("name", DOMAINS)
def test_domains_over_strata_equal_r_survey(name):
    case = cases()[name]
    given, expected = case["inputs"], case["expected"]
    whole = given["species"] is None
    found = strata_ratio(domain_rows(given["species"]), given["N_plots"], fpc=given["fpc"], whole=whole)
    assert_allclose(found.value, expected["p"], atol=case["tolerance"])
    assert_allclose(found.se, expected["se"], atol=case["tolerance"])
    assert_allclose(found.deff, expected["deff_replace"], atol=1e-6)
    assert_allclose(found.df_satterthwaite, expected["df_satterthwaite"], atol=1e-6)
    assert found.df_design == expected["df_domain"]
    limits = intervals.logit_t(found.value, found.se, found.df_design)
    assert_allclose(np.ravel(limits), expected["ci"]["xlogit"], atol=case["tolerance"])


@pytest.mark.parametrize("name", DOMAINS)
def test_korn_graubard_limits_over_strata_equal_r_svyciprop_beta(name):
    case = cases()[name]
    given, expected = case["inputs"], case["expected"]
    whole = given["species"] is None
    found = strata_ratio(domain_rows(given["species"]), given["N_plots"], fpc=given["fpc"], whole=whole)
    trees = sum(row["total"] for row in ROWS if given["species"] in (None, row["species"]))
    df = expected["df_domain"]
    limits = intervals.korn_graubard(found.value, found.se, trees, df, given["level"], cap=False)
    assert_allclose(np.ravel(limits), expected["ci"]["beta"], atol=case["tolerance"])


@pytest.mark.parametrize("name", DOMAINS)
def test_rows_of_species_and_project_equal_r_survey(name):
    case = cases()[name]
    given, expected = case["inputs"], case["expected"]
    settings = EstimateSettings(finite_population=given["fpc"])
    scope, key = ("species", given["species"]) if given["species"] else ("project", "P")
    rows = round_estimates(strata_table(ROWS, given["N_plots"]), settings, scopes=(scope,))
    methods = {row.method: row for row in rows if row.key == key and row.measure == "survival"}
    assert methods["stratified_logit_t"].is_headline
    leading, df = methods["stratified_logit_t"], expected["df_satterthwaite"]
    limits = np.ravel(intervals.logit_t(expected["p"], expected["se"], df))
    assert (leading.lower, leading.upper) == pytest.approx(limits, abs=1e-6)
    row = methods["stratified_logit_t_design_df"]
    assert (row.value, row.se) == pytest.approx((expected["p"], expected["se"]), abs=case["tolerance"])
    assert (row.lower, row.upper) == pytest.approx(expected["ci"]["xlogit"], abs=case["tolerance"])


@pytest.mark.parametrize("name", ids("2-B1", ending="separate"))
def test_living_trees_summed_over_blocks_equal_r_separate_ratio(name):
    case = cases()[name]
    plots, total, variance = case["inputs"]["N_plots"], 0.0, 0.0
    for stratum, held in plots.items():
        sums: dict[str, list[int]] = {}
        for row in (row for row in ROWS if row["stratum"] == stratum):
            counts = sums.setdefault(row["plot"], [0, 0])
            counts[0], counts[1] = counts[0] + row["alive"], counts[1] + row["total"]
        alive, trees = zip(*sums.values(), strict=True)
        found = one_block(alive, trees, held if case["inputs"]["fpc"] else None)
        planted = held / len(sums) * sum(trees)
        total += float(found.value[0]) * planted
        variance += (float(found.se[0]) * planted) ** 2
    assert total == pytest.approx(case["expected"]["total_alive"], abs=1e-6)
    assert variance**0.5 == pytest.approx(case["expected"]["se_total"], abs=1e-6)


def test_satterthwaite_degrees_of_freedom_equal_r_welch():
    case = cases()["2-satterthwaite-welch"]
    values = case["inputs"]["stratum_plot_values"]
    sizes = np.array([len(stratum) for stratum in values])
    block = np.repeat([0, 1], sizes)
    totals = PlotTotals(block * 0, block, np.concatenate(values), np.ones(block.size), 1 / sizes[block])
    found = ratio_estimates(totals, Sample(sizes, np.zeros(2)), 1, whole=True)
    assert_allclose(found.df_satterthwaite, case["expected"]["df"], atol=case["tolerance"])
    assert_allclose(2 * found.se, case["expected"]["se"], atol=case["tolerance"])  # sum of two means


@pytest.mark.parametrize("name", [n for n in ids("3-lonely") if n != "3-lonely-fail"])
def test_a_block_with_one_plot_is_handled_as_r_does(name):
    case = cases()[name]
    given, expected = case["inputs"], case["expected"]
    found = strata_ratio(given["rows"], given["N_plots"], fpc=given["fpc"], lonely=given["lonely_psu"])
    assert_allclose(found.value, expected["p"], atol=case["tolerance"])
    assert_allclose(found.se, expected["se"], atol=case["tolerance"])
    limits = intervals.logit_t(found.value, found.se, expected["df"])
    assert_allclose(np.ravel(limits), expected["ci"]["xlogit"], atol=case["tolerance"])
    assert found.df_design == expected["df"]


def test_a_block_with_one_plot_is_refused_under_the_rule_fail():
    rows = cases()["3-lonely-fail"]["inputs"]["rows"]
    with pytest.raises(LonelyBlockError):
        strata_ratio(rows, {"A": 50, "B": 12, "C": 30}, fpc=False, lonely="fail")


def test_a_block_with_one_plot_widens_the_project_and_says_so():
    case = cases()["3-lonely-adjust-fpc"]
    table = strata_table(case["inputs"]["rows"], case["inputs"]["N_plots"])
    rows = round_estimates(table, scopes=("project", "block"))
    project = next(row for row in rows if row.scope == "project" and row.is_headline)
    assert project.se == pytest.approx(case["expected"]["se"], abs=case["tolerance"])
    assert "lonely_block" in project.reason
    lonely = next(row for row in rows if row.scope == "block" and row.key == "B")
    assert (lonely.status, lonely.reason, lonely.value) == ("not_estimable", "one_plot", None)


def test_a_block_at_100_percent_still_adds_variance():
    case = cases()["3-stratum-100pct"]
    given, expected = case["inputs"], case["expected"]
    found = strata_ratio(given["rows"], given["N_plots"], fpc=given["fpc"])
    assert_allclose(found.value, expected["p"], atol=case["tolerance"])
    assert_allclose(found.se, expected["se"], atol=case["tolerance"])
    assert_allclose(found.df_satterthwaite, expected["df_satterthwaite"], atol=1e-8)
    limits = intervals.logit_t(found.value, found.se, expected["df"])
    assert_allclose(np.ravel(limits), expected["xlogit"], atol=1e-8)


def test_a_species_absent_from_a_block_is_not_estimable_there():
    expected = cases()["3-domain-absent-stratum"]["expected"]
    plots = cases()["2-B1-fpc-rowan"]["inputs"]["N_plots"]
    rows = round_estimates(strata_table(ROWS, plots), scopes=("species", "block_species"))
    rowan = next(row for row in rows if row.key == "rowan" and row.is_headline)
    assert rowan.value == pytest.approx(expected["p"], abs=1e-9)
    assert not [row for row in rows if row.key == "C:rowan" and row.status == "ok"]


def test_all_alive_keeps_an_honest_lower_limit():
    case = cases()["3-all-alive"]
    given, rule = case["inputs"], case["expected"]["rule_neff_icc01"]
    rows = round_estimates(one_block_table(given["alive"], given["total"]), scopes=("block",))
    logit = next(row for row in rows if row.method == "ratio_logit_t")
    assert logit.value == 1 and logit.upper == 1
    assert logit.lower == pytest.approx(rule["clopper_pearson_lower"], abs=case["tolerance"])
    headline = next(row for row in rows if row.is_headline)
    assert headline.upper == 1
    assert 0.8 < headline.lower < 0.9


def test_all_dead_keeps_an_honest_upper_limit():
    given = cases()["3-all-dead"]["inputs"]
    rows = round_estimates(one_block_table(given["alive"], given["total"]), scopes=("block",))
    survival = [row for row in rows if row.measure == "survival"]
    assert len(survival) == 3
    for row in survival:
        assert row.value == row.lower == 0
        assert 0.03 < row.upper < 0.5


def test_one_plot_is_not_estimable():
    case = cases()["3-single-plot"]
    given = case["inputs"]
    rows = round_estimates(one_block_table(given["alive"], given["total"]))
    assert {row.status for row in rows} == {"not_estimable"}
    assert {row.value for row in rows} == {None}
    assert (rows[0].n_alive, rows[0].n_trees) == (17, 20)
    assumed = intervals.edge_limits(17 / 20, intervals.edge_trees(20, 20))
    assert_allclose(np.ravel(assumed), case["expected"]["assumed_icc_01_cp"], atol=case["tolerance"])


def test_two_blocks_weighted_by_trees_planted():
    """Computed by hand: A 8, 9, 7, 10 of 10 (9,600 planted), B 3/8, 5/9, 4/8 (4,400 planted).

    The standard error .0474 with 3.8 degrees of freedom takes residuals about each block's own ratio; the
    headline takes them about the pooled ratio, as R does with plots as weights.
    """
    table = CountTable.build(
        block=[0] * 4 + [1] * 3, plot=range(7), planted=[10] * 4 + [8, 9, 8], alive=[8, 9, 7, 10, 3, 5, 4],
        blocks=BlockFacts.build(2, planted=[9600, 4400]), labels={"block": ("A", "B"), "project": ("P",)},
    )  # fmt: skip
    every = round_estimates(table)
    rows = {(row.scope, row.key): row for row in every if row.is_headline}
    project = rows["project", "P"]
    separate = next(row for row in every if row.method == "stratified_separate_ratio")
    assert rows["block", "A"].value == pytest.approx(0.85)
    assert rows["block", "B"].value == pytest.approx(0.48)
    assert project.value == pytest.approx(0.7337, abs=5e-5)
    assert separate.value == project.value
    assert separate.se == pytest.approx(0.0474, abs=5e-5)
    in_a, in_b = (
        np.array([8, 9, 7, 10]) - 0.7337142857 * 10,
        np.array([3, 5, 4]) - 0.7337142857 * np.array([8, 9, 8]),
    )
    pooled = 240**2 * 4 * in_a.var(ddof=1) + 176**2 * 3 * in_b.var(ddof=1)
    assert project.se == pytest.approx(pooled**0.5 / 14000, abs=1e-9)
    totals = PlotTotals(
        np.zeros(7, int), np.array([0] * 4 + [1] * 3), table.alive, table.planted,
        np.array([240.0] * 4 + [176.0] * 3),
    )  # fmt: skip
    found = ratio_estimates(
        totals, Sample(np.array([4, 3]), np.zeros(2)), 1, whole=True, about_own_block=True
    )
    assert_allclose(found.df_satterthwaite, 3.8, atol=0.05)
