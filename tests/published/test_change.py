"""Change between two rounds against R and against printed rates; the source of each case is in the data file."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from monitoring.estimators import intervals
from monitoring.estimators.change import Changes, TwoRounds, TwoSamples, changes, yearly
from tests.published.checks import cases


def one_block(trees, alive, seen=None) -> Changes:
    """Change of one block; `trees` and `alive` hold both rounds, `seen` which plots each visited."""
    seen = np.ones((len(trees[0]), 2), bool) if seen is None else np.stack(seen, axis=1)
    trees, alive = np.stack(trees, axis=1) * seen.astype(float), np.stack(alive, axis=1) * seen.astype(float)
    zeros = np.zeros(len(trees), int)
    two = TwoRounds(zeros, zeros, alive, trees, np.ones_like(trees), seen, alive[:, 0], alive[:, 1])
    sample = TwoSamples(seen.sum(axis=0)[None], np.zeros((1, 2)), np.array([seen.all(axis=1).sum()]))
    return changes(two, sample, 1, whole=True)


@pytest.fixture
def pairs():
    case = cases()["5-P2"]
    given = case["inputs"]
    found = one_block((given["x1"], given["x2"]), (given["y1"], given["y2"]))
    return found, case["expected"], case["tolerance"]


def test_same_plots_equal_r_survey_contrast(pairs):
    found, expected, within = pairs
    got = {
        "p1": found.share[0, 0], "se1": found.share_se[0, 0], "p2": found.share[0, 1], "se2": found.share_se[0, 1],
        "diff": found.difference[0], "se_diff_paired": found.se[0], "se_diff_indep": found.se_independent[0],
        "interval_survival": found.interval.value[0], "se_interval_survival": found.interval.se[0],
        "logratio": found.log_ratio[0], "se_logratio": found.se_log_ratio[0], "df": found.df[0],
        "cov": found.covariance[0], "corr": found.covariance[0] / found.share_se[0].prod(),
    }  # fmt: skip
    assert set(expected) - set(got) == {"ci_diff_paired_t11", "ci_diff_if_independent_t22"}
    for name, value in got.items():
        assert value == pytest.approx(expected[name], abs=within), name


def test_limits_of_a_paired_change_equal_r(pairs):
    found, expected, within = pairs
    half = intervals.student_t(found.df, 0.95) * found.se
    limits = np.ravel([found.difference - half, found.difference + half])
    assert_allclose(limits, expected["ci_diff_paired_t11"], atol=within)
    apart = intervals.student_t(22, 0.95) * found.se_independent
    limits = np.ravel([found.difference - apart, found.difference + apart])
    assert_allclose(limits, expected["ci_diff_if_independent_t22"], atol=within)


def test_partly_the_same_plots_take_their_covariance_from_the_common_ones():
    case = cases()["5-partial-overlap"]
    given, expected = case["inputs"], case["expected"]
    plots = np.arange(len(given["x"]))
    seen = [np.isin(plots, given["round1_plots"]), np.isin(plots, given["round2_plots"])]
    found = one_block((given["x"], given["x"]), (given["y1"], given["y2"]), seen)
    assert found.n_common[0] == expected["n_common"]
    assert found.df[0] == 7  # the smaller round less one
    got = (*found.share[0], found.difference[0], *found.share_se[0] ** 2, found.covariance[0], found.se[0])
    names = ("p1", "p2", "diff", "v1", "v2", "cov_common", "se")
    assert_allclose(got, [expected[name] for name in names], atol=case["tolerance"])


def test_rounds_without_a_common_plot_are_independent():
    """Welch's degrees of freedom (Welch 1947, Biometrika 34:28), worked out by hand from the two variances."""
    given = cases()["5-P2"]["inputs"]
    n = len(given["x1"])
    trees = ([*given["x1"], *[0] * n], [*[0] * n, *given["x2"]])
    alive = ([*given["y1"], *[0] * n], [*[0] * n, *given["y2"]])
    first = np.arange(2 * n) < n
    found, expected = one_block(trees, alive, [first, ~first]), cases()["5-P2"]["expected"]
    assert found.se[0] == pytest.approx(expected["se_diff_indep"], abs=1e-8)
    v = np.array([expected["se1"], expected["se2"]]) ** 2
    assert found.df[0] == pytest.approx(v.sum() ** 2 / (v**2 / (n - 1)).sum(), rel=1e-6)
    assert np.isnan(found.interval.value[0])


def test_blocks_are_strata_whose_paired_variances_add_up():
    """Case 5-P2 twice, as two blocks of one weight: the variance halves and the degrees of freedom double."""
    given, expected = cases()["5-P2"]["inputs"], cases()["5-P2"]["expected"]
    trees = np.stack([given["x1"] * 2, given["x2"] * 2], axis=1).astype(float)
    alive = np.stack([given["y1"] * 2, given["y2"] * 2], axis=1).astype(float)
    block, seen = np.repeat([0, 1], 12), np.ones((24, 2), bool)
    two = TwoRounds(
        np.zeros(24, int), block, alive, trees, np.full((24, 2), 30.0), seen, alive[:, 0], alive[:, 1]
    )
    found = changes(two, TwoSamples(np.full((2, 2), 12), np.zeros((2, 2)), np.full(2, 12)), 1, whole=True)
    assert found.difference[0] == pytest.approx(expected["diff"], abs=1e-10)
    assert found.se[0] == pytest.approx(expected["se_diff_paired"] / math.sqrt(2), abs=1e-8)
    assert found.df[0] == pytest.approx(22)
    assert found.interval.se[0] == pytest.approx(expected["se_interval_survival"] / math.sqrt(2), abs=1e-8)


@pytest.mark.parametrize(
    ("survival", "years", "expected", "within"),
    [
        (61 / 206, 23 / 12, 0.530, 5e-4),  # X5: Sheil, Burslem & Alder (1995) formula
        (
            (1 - 0.44) / (1 - 0.18),
            4,
            0.909,
            5e-4,
        ),  # H5: Banin et al. (2023): 18 % dead in year 1, 44 % by year 5
        (1 - 0.18, 12, 1 - 0.0164, 5e-5),  # H6: 18 % a year is 1.64 % a month
    ],
)
def test_yearly_rates_equal_printed_ones(survival, years, expected, within):
    assert yearly(survival, years) == pytest.approx(expected, abs=within)


def test_hazards_between_rounds_equal_worked_ones():
    """H7: 100 living, 80 after 6 months, 72 after 14: hazards .0372 and .0132 a month (worked by hand)."""
    monthly = yearly([80 / 100, 72 / 80], [6, 8])
    assert_allclose(-np.log(monthly), [0.0372, 0.0132], atol=5e-5)
