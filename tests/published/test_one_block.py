"""One block against R, samplics, statsmodels and quadrature; the source of each case is in the data file."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from monitoring.estimators import intervals
from monitoring.estimators.icc import pooled_icc
from monitoring.estimators.posterior import posterior_quantiles
from monitoring.estimators.round_estimates import round_estimates
from monitoring.estimators.strata import PlotTotals
from tests.published.checks import cases, ids, one_block, one_block_table


def block_row(table, method):
    return next(
        row
        for row in round_estimates(table, scopes=("block",))
        if row.measure == "survival" and row.method == method
    )


@pytest.mark.parametrize("name", ids("1-", ending="point-se"))
def test_point_standard_error_and_design_effect_equal_r_survey(name):
    case = cases()[name]
    given, expected = case["inputs"], case["expected"]
    found = one_block(given["alive"], given["total"], given["N_plots"])
    assert_allclose(found.value, expected["p"], atol=case["tolerance"])
    assert_allclose(found.se, expected["se"], atol=case["tolerance"])
    assert_allclose(found.deff, expected["deff_replace"], atol=1e-8)
    assert found.df_design == expected["df"]


@pytest.mark.parametrize("name", ids("1-", ending="point-se"))
def test_leaving_out_each_plot_in_turn_gives_the_jackknife_of_r_survey(name):
    case = cases()[name]
    given, expected = case["inputs"], case["expected"]
    alive, total, n = given["alive"], given["total"], len(given["alive"])
    kept = [[k for k in range(n) if k != left_out] for left_out in range(n)]
    shares = [one_block([alive[k] for k in ks], [total[k] for k in ks]).value[0] for ks in kept]
    fraction = n / given["N_plots"] if given["N_plots"] else 0.0
    variance = (1 - fraction) * (n - 1) / n * np.sum((shares - np.mean(shares)) ** 2)
    assert_allclose(np.sqrt(variance), expected["se_jk1"], atol=1e-9)
    if expected["deff_wor"] is not None:  # against trees drawn without replacement
        found = one_block(alive, total, given["N_plots"])
        assert_allclose(found.deff / (1 - fraction), expected["deff_wor"], atol=1e-8)


@pytest.mark.parametrize("name", ids("1-", ending="point-se"))
def test_the_row_of_a_block_carries_the_figures_of_r_survey(name):
    case = cases()[name]
    given, expected = case["inputs"], case["expected"]
    row = block_row(one_block_table(given["alive"], given["total"], given["N_plots"]), "ratio_logit_t")
    assert row.value == pytest.approx(expected["p"], abs=case["tolerance"])
    assert row.se == pytest.approx(expected["se"], abs=case["tolerance"])
    assert row.deff == pytest.approx(expected["deff_replace"], abs=1e-8)


@pytest.mark.parametrize("name", [*ids("1-", ending="-ci"), "1-api-ell0"])
def test_logit_t_limits_equal_r_svyciprop_xlogit(name):
    case = cases()[name]
    given, expected = case["inputs"], case["expected"]
    found = one_block(given["alive"], given["total"], given["N_plots"])
    limits = intervals.logit_t(found.value, found.se, found.df_design, given["level"])
    assert_allclose(np.ravel(limits), expected["xlogit"], atol=case["tolerance"])
    beta = intervals.korn_graubard(
        found.value, found.se, found.n_trees, found.df_design, given["level"], cap=False
    )
    assert_allclose(np.ravel(beta), expected["beta"], atol=case["tolerance"])


def test_one_block_equals_samplics():
    case = cases()["1-A1-samplics"]
    row = block_row(one_block_table(case["inputs"]["alive"], case["inputs"]["total"]), "ratio_logit_t")
    found = [row.value, row.se, row.lower, row.upper]
    assert_allclose(found, [case["expected"][k] for k in ("p", "se", "lci", "uci")], atol=case["tolerance"])


@pytest.mark.parametrize("name", ids("1-", ending="ci"))
def test_other_limits_of_r_follow_from_our_figure_error_and_degrees_of_freedom(name):
    """R survey, svyciprop: `mean` (plain t) and `asin` (arcsine t).

    Neither is offered, since they fall short near 0 and 100 %; they are reckoned here from our figure,
    standard error and degrees of freedom by their textbook formulae.
    """
    case = cases()[name]
    given, expected = case["inputs"], case["expected"]
    found = one_block(given["alive"], given["total"], given["N_plots"])
    p, se, df = float(found.value[0]), float(found.se[0]), expected["df"]
    t = float(intervals.student_t(df, given["level"]))
    assert_allclose([p - t * se, p + t * se], expected["mean"], atol=case["tolerance"])
    angle, half = np.arcsin(np.sqrt(p)), t * se / (2 * np.sqrt(p * (1 - p)))
    assert_allclose(np.sin([angle - half, angle + half]) ** 2, expected["asin"], atol=case["tolerance"])


@pytest.mark.parametrize("name", ids("13-bb-bayes"))
def test_the_posterior_equals_fine_quadrature(name):
    case = cases()[name]
    alive, total = case["inputs"]["alive"], case["inputs"]["total"]
    found = posterior_quantiles([0] * len(alive), alive, total, 1, [0.025, 0.975, 0.5]).quantiles[0]
    expected = [*case["expected"]["ci"], case["expected"]["median"]]
    assert_allclose(found, expected, atol=case["tolerance"])
    assert_allclose(found, expected, atol=5e-4)  # what our grid reaches; the stated tolerance is wider


@pytest.mark.parametrize("name", ids("13-wilson"))
def test_pooled_correlation_wilson_limits_equal_statsmodels(name):
    case = cases()[name]
    blocks, expected = case["inputs"]["blocks"], case["expected"]
    alive = np.concatenate([block["alive"] for block in blocks])
    total = np.concatenate([block["total"] for block in blocks])
    code = np.repeat(np.arange(len(blocks)), [len(block["alive"]) for block in blocks])
    found = pooled_icc(PlotTotals(code, code, alive, total, np.ones(code.size)), len(blocks))
    trees = np.bincount(code, total)
    share = np.bincount(code, alive) / trees
    lower, upper = intervals.wilson_pooled_icc(share, trees, found.deff, found.df, case["inputs"]["level"])
    assert found.icc == pytest.approx(expected["rho"], abs=case["tolerance"])
    assert found.df == expected["df"]
    assert_allclose(found.deff, [block["deff"] for block in expected["blocks"]], atol=case["tolerance"])
    limits = np.stack([lower, upper], axis=1)
    assert_allclose(limits, [block["ci"] for block in expected["blocks"]], atol=case["tolerance"])


def test_lohr_seedlings_come_out_as_printed():
    """Lohr, Sampling: Design and Analysis, 3rd ed. 2021, Example 4.5: ten plots, 1992 and 1994."""
    planted = [1, 0, 8, 2, 76, 60, 25, 2, 1, 31]
    alive = [0, 0, 1, 2, 10, 15, 3, 2, 1, 27]
    row = block_row(one_block_table(alive, planted), "ratio_logit_t")
    assert row.value == pytest.approx(0.2961, abs=5e-5)
    assert row.se == pytest.approx(0.115, abs=5e-4)
    assert row.deff == pytest.approx(13.1, abs=0.05)
    assert (row.n_plots, row.n_trees) == (10, 206)
    half = intervals.student_t(9, 0.95) * row.se
    assert (row.value - half, row.value + half) == pytest.approx((0.035, 0.557), abs=5e-4)
    headline = block_row(one_block_table(alive, planted), "beta_binomial_posterior")
    assert headline.is_headline
    assert headline.value == row.value


def test_cochran_households_give_a_design_effect_of_2_64():
    """Cochran, Sampling Techniques, 3rd ed. 1977, Table 3.5: 30 households, 104 persons.

    The counts are recalled from memory; they reproduce the printed variances.
    """
    persons = [5, 6, 3, 3, 2, 3, 3, 3, 4, 4, 3, 2, 7, 4, 3, 5, 4, 4, 3, 3, 4, 3, 3, 1, 2, 4, 3, 4, 2, 4]
    doctor = [5, 0, 2, 3, 0, 0, 0, 0, 0, 0, 0, 0, 0, 4, 1, 2, 0, 0, 1, 3, 2, 0, 0, 0, 2, 2, 0, 2, 0, 1]
    assert (sum(persons), sum(doctor)) == (104, 30)
    found = one_block(doctor, persons)
    assert_allclose(found.value, 0.2885, atol=5e-5)
    assert_allclose(found.se**2, 0.00520, atol=5e-5)
    binomial = found.value * (1 - found.value) / 104
    assert_allclose(binomial, 0.00197, atol=5e-6)
    assert_allclose(found.se**2 / binomial, 2.64, atol=0.02)


WEIL_CONTROL = [(13, 13), (12, 12), (9, 9), (9, 9), (8, 8), (8, 8), (12, 13), (11, 12), (9, 10), (9, 10),
                (8, 9), (11, 13), (4, 5), (5, 7), (7, 10), (7, 10)]  # fmt: skip
WEIL_TREATED = [(12, 12), (11, 11), (10, 10), (9, 9), (10, 11), (9, 10), (9, 10), (8, 9), (8, 9), (4, 5),
                (7, 9), (4, 7), (5, 10), (3, 6), (3, 10), (0, 7)]  # fmt: skip


@pytest.mark.parametrize(
    ("litters", "share", "deff"), [(WEIL_CONTROL, 0.899, 1.23), (WEIL_TREATED, 0.772, 3.95)]
)
def test_weil_litters_give_the_design_effects_of_rao_and_scott(litters, share, deff):
    """Rao & Scott 1992, Biometrics 48:577, on the litters of Weil 1970 (data from memory)."""
    found = one_block([alive for alive, _ in litters], [size for _, size in litters])
    assert_allclose(found.value, share, atol=5e-4)
    binomial = found.value * (1 - found.value) / found.n_trees
    assert_allclose(found.se**2 / binomial, deff, atol=0.005)
