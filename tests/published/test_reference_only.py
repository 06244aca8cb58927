"""Keys of the computed cases for methods the product does not offer: the stored values are what statsmodels gives.

They keep the cases whole, so that a method taken up later finds its check; a new release of the library that
disagreed would be seen here.
"""

import numpy as np
import pytest
from lifelines.statistics import logrank_test
from numpy.testing import assert_allclose
from scipy import optimize, stats
from statsmodels.stats.contingency_tables import StratifiedTable
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.proportion import proportion_confint

from tests.published.checks import cases, ids


def mid_p_limits(x, n, level):
    """Limits at which the tail plus half the point probability is what is left on each side."""
    tail = (1 - level) / 2

    def beyond(p, upper):
        half = 0.5 * stats.binom.pmf(x, n, p)
        return (stats.binom.cdf(x - 1, n, p) if upper else stats.binom.sf(x, n, p)) + half - tail

    low = 0.0 if x == 0 else optimize.brentq(lambda p: beyond(p, upper=False), 1e-12, x / n)
    high = 1.0 if x == n else optimize.brentq(lambda p: beyond(p, upper=True), max(x / n, 1e-12), 1 - 1e-12)
    return [low, high]


@pytest.mark.parametrize("name", ids("4-binom-"))
def test_limits_of_a_share_that_the_product_leaves_out(name):
    given, expected = cases()[name]["inputs"], cases()[name]["expected"]
    x, n, level = given["x"], given["n"], given["level"]
    for key, method in (("wald", "normal"), ("agresti_coull", "agresti_coull")):
        assert_allclose(proportion_confint(x, n, 1 - level, method), expected[key], atol=1e-6, err_msg=key)
    assert_allclose(mid_p_limits(x, n, level), expected["mid_p"], atol=1e-6)


def test_homogeneity_of_odds_and_holm():
    given, expected = cases()["7-cmh-small"]["inputs"], cases()["7-cmh-small"]["expected"]
    table = StratifiedTable([np.array(each) for each in given["tables"]])
    found = table.test_equal_odds()
    assert_allclose(found.statistic, expected["homogeneity_breslow_day"], atol=1e-6)
    assert_allclose(found.pvalue, expected["homogeneity_p"], atol=1e-6)
    assert_allclose(table.test_null_odds(correction=True).statistic, expected["stat_corrected"], atol=1e-6)
    holm = cases()["7-bh-1995"]
    assert_allclose(
        multipletests(holm["inputs"]["p"], method="holm")[1], holm["expected"]["holm"], atol=1e-10
    )


@pytest.mark.parametrize("name", ids("4-KG-"))
def test_limits_on_effective_trees_that_the_product_leaves_out(name):
    """Wilson and Jeffreys on the effective number of trees, as the case's source reckons them."""
    given, expected = cases()[name]["inputs"], cases()[name]["expected"]
    n, x = expected["neff_deff_ge1"], given["p"] * expected["neff_deff_ge1"]
    tail = (1 - given["level"]) / 2
    z = stats.norm.ppf(1 - tail)  # the effective number already carries the degrees of freedom
    jeffreys = stats.beta.ppf([tail, 1 - tail], x + 0.5, n - x + 0.5)
    middle = (given["p"] + z**2 / 2 / n) / (1 + z**2 / n)
    reach = z / (1 + z**2 / n) * np.sqrt(given["p"] * (1 - given["p"]) / n + z**2 / 4 / n**2)
    assert_allclose(jeffreys, expected["jeffreys_neff_deff_ge1"], atol=1e-6)
    assert_allclose([middle - reach, middle + reach], expected["wilson_neff_deff_ge1"], atol=1e-6)


def test_every_case_of_survey_statistics_is_here():
    """Topics 1 to 9 and 13 whole: none is lost when the file is edited."""
    counts: dict[str, int] = {}
    for name in cases():
        topic = name.split("-")[0]
        counts[topic] = counts.get(topic, 0) + 1
    assert counts == {"1": 13, "2": 10, "3": 10, "4": 9, "5": 2, "6": 13, "7": 9, "8": 4, "9": 2, "13": 7}


def test_log_rank_of_the_leukaemia_arms():
    """H2, Freireich 1963 and Gehan 1965 (data from memory): 9 seen, 19.25 expected, chi-square 16.79.

    The product offers no log-rank test: it takes trees of one plot as independent.
    """
    treated = [6, 6, 6, 7, 10, 13, 16, 22, 23, 6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35]
    died = [1] * 9 + [0] * 12
    placebo = [1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23]
    found = logrank_test(treated, placebo, died, [1] * 21)
    assert_allclose(found.test_statistic, 16.79, atol=0.005)
    times = np.array(treated + placebo)
    events = np.array(died + [1] * 21, bool)
    first = np.arange(42) < 21
    expected = sum(
        (events & (times == t)).sum() * (first & (times >= t)).sum() / (times >= t).sum()
        for t in np.unique(times[events])
    )
    assert_allclose(expected, 19.25, atol=0.005)
