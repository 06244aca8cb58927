"""Observers and trees not found against printed numbers, exact arithmetic and another package."""

import numpy as np
import pytest

from monitoring.estimators import observers
from monitoring.estimators.round_estimates import round_estimates
from tests.published.checks import cases, one_block_table


def test_kappa_of_two_observers():
    """Cohen (1960): 70 both alive, 20 both dead, 5 and 5 told differently; kappa .733."""
    found = observers.kappa([[70, 5], [5, 20]])
    assert round(found.value, 3) == 0.733
    assert (found.n, found.agreed) == (100, 90)


@pytest.mark.parametrize(
    "table", [[[70, 5], [5, 20]], [[40, 9], [3, 18]], [[30, 4, 1], [2, 12, 5], [0, 6, 9]], [[1, 7], [8, 2]]]
)
def test_kappa_and_its_error_agree_with_statsmodels(table):
    inter_rater = pytest.importorskip("statsmodels.stats.inter_rater")
    other = inter_rater.cohens_kappa(np.array(table))
    found = observers.kappa(table)
    assert found.value == pytest.approx(other.kappa, abs=1e-11)
    assert found.se == pytest.approx(other.std_kappa, abs=1e-11)
    assert found.lower == pytest.approx(max(other.kappa_low, -1), abs=1e-7)
    assert found.upper == pytest.approx(min(other.kappa_upp, 1), abs=1e-7)


def test_living_trees_from_two_searches():
    """Chapman: 60 found first, 55 second, 50 by both; 65.98 living (computed)."""
    found = observers.detection(60, 55, 50)
    assert round(found.living, 2) == 65.98
    assert found.first.value == pytest.approx(50 / 55)
    assert found.second.value == pytest.approx(50 / 60)
    assert found.first_of_either.value == pytest.approx(60 / 65)
    # Seber's variance by hand: 61·56·10·5 / (51²·52)
    assert found.living_upper - found.living == pytest.approx(
        1.959964 * (61 * 56 * 10 * 5 / (51**2 * 52)) ** 0.5
    )
    assert found.living_lower == 65  # never fewer than were seen


def test_a_share_corrected_for_wrong_statuses():
    """Rogan & Gladen (1978): apparent .30, sensitivity .90, specificity .95; .294 (computed)."""
    assert round(observers.rogan_gladen(0.30, 0.90, 0.95).value, 3) == 0.294


def test_two_habits_with_trees_not_found():
    """Detection .88 and .71 of Lahoreau et al. (2004); survival .85 reads as .748 or .875, 14.6 % not found."""
    read = observers.conventions(0.85, 0.88, 0.71)
    assert round(read.not_found_is_dead, 3) == 0.748
    assert round(read.not_found_is_dropped, 3) == 0.875
    assert read.share_not_found == pytest.approx(0.1455)  # printed rounded up, 14.6 %


def test_bounds_for_trees_not_found():
    """Case 8-notfound-bounds: 150 alive, 38 dead, 12 not found of 200; .75 to .81, and .798 if dropped."""
    case = cases()["8-notfound-bounds"]
    given, expected = case["inputs"], case["expected"]
    table = one_block_table([given["alive"] // 2] * 2, [given["planted"] // 2] * 2)
    table.not_found[:] = given["not_found"] // 2
    rows = {row.measure: row.value for row in round_estimates(table, scopes=("block",)) if row.is_headline}
    assert rows["survival"] == pytest.approx(expected["lower_nf_dead"], abs=case["tolerance"])
    assert rows["survival_if_found"] == pytest.approx(expected["upper_nf_alive"], abs=case["tolerance"])
    dropped = given["alive"] / (given["planted"] - given["not_found"])
    assert dropped == pytest.approx(expected["excluded"], abs=case["tolerance"])


def test_manski_bounds():
    """Manski (2003): 160 alive, 20 dead, 20 unresolved; .80 to .90, and .889 if dropped (computed)."""
    table = one_block_table([80, 80], [100, 100])
    table.not_found[:] = 10
    rows = {row.measure: row.value for row in round_estimates(table, scopes=("block",)) if row.is_headline}
    assert (rows["survival"], rows["survival_if_found"]) == (0.8, 0.9)
    assert round(160 / 180, 3) == 0.889 and rows["survival"] < 160 / 180 < rows["survival_if_found"]


def test_limits_of_agreement_by_hand():
    """Differences 2, 0, −1, 1: mean .5, s 1.290994, t(3) 3.182446; ± 3.182446·1.290994·√1.25 (computed)."""
    found = observers.agreement([14, 18, 9, 16], [12, 18, 10, 15])
    assert found.sd == pytest.approx(1.2909944487)
    assert found.upper - found.mean == pytest.approx(3.1824463053 * 1.2909944487 * 1.25**0.5)
    assert found.mean_upper - found.mean == pytest.approx(3.1824463053 * 1.2909944487 / 2)
