"""Order sizes, not found and stocking against outside values."""

import math

import numpy as np
import pytest

from monitoring.estimators.betabinomial import at_least
from monitoring.estimators.replacement import (
    ReplacementSurvival,
    expected_need,
    order_quantity,
    smallest_planting,
)
from monitoring.estimators.round_estimates import round_estimates
from monitoring.estimators.stocking import stocking_estimates
from monitoring.estimators.stocking_table import StockingTable
from monitoring.estimators.table import CountTable
from tests.published.checks import cases, ids
from tests.published.rows import checks


@pytest.mark.parametrize("name", ids("9-"))
def test_smallest_planting_equals_scipy_betabinom(name):
    case = cases()[name]
    given, expected = case["inputs"], case["expected"]
    survival = ReplacementSurvival(given["alpha"], given["beta"])
    number, chance = smallest_planting(given["target"], given["current"], survival, given["confidence"])
    assert number == expected["N"]
    assert chance == pytest.approx(expected["prob_at_N"], abs=case["tolerance"])
    if expected["prob_at_N_minus_1"] is not None:
        before = at_least(given["target"] - given["current"], number - 1, given["alpha"], given["beta"])
        assert before == pytest.approx(expected["prob_at_N_minus_1"], abs=case["tolerance"])


@checks("L4", "L5")
def test_orders_with_95_percent_assurance():
    """L4, L5, computed with scipy: 1,406 when survival is known to be .80, 1,642 when it is Beta(24, 6)."""
    assert smallest_planting(1100, 0, ReplacementSurvival(0.8, math.inf), 0.95)[0] == 1406
    assert smallest_planting(1100, 0, ReplacementSurvival(24, 6), 0.95)[0] == 1642


@checks("L1", "L2")
def test_orders_by_expectation():
    """L1, L2, arithmetic: 1,100 at .80 with 3 % culled and 2 % lost; a gap of 280 at .75."""
    assert order_quantity(1100, 0.80, cull=0.03, handling_loss=0.02) == 1447
    assert math.floor(expected_need(1400, 1120, 0.75)) == 373


def not_found_table(alive, dead, not_found):
    """The same counts in ten like plots."""
    planted = alive + dead + not_found
    parts = {"alive": alive, "dead_stem": dead, "not_found": not_found, "planted": planted}
    assert all(value % 10 == 0 for value in parts.values())
    return CountTable.build(
        block=[0] * 10, plot=range(10), **{name: [value // 10] * 10 for name, value in parts.items()}
    )


def headline(table, measure):
    rows = round_estimates(table, scopes=("block",))
    return next(row for row in rows if row.is_headline and row.measure == measure)


def test_not_found_trees_give_both_bounds():
    """Computed by hand (Manski bounds): 160 alive, 20 dead, 20 unresolved give .80 to .90."""
    table = not_found_table(160, 20, 20)
    assert headline(table, "survival").value == pytest.approx(0.80)
    assert headline(table, "survival_if_found").value == pytest.approx(0.90)


def test_the_truth_lies_between_the_two_bounds_when_finding_is_imperfect():
    """Detection rates of Lahoreau et al. 2004: truth .85 shows .748 alive and 14.6 % not found."""
    alive, dead = 0.85 * 0.88, 0.15 * 0.71
    assert (round(alive, 3), round(1 - alive - dead, 4)) == (0.748, 0.1455)
    table = not_found_table(7480, 1060, 1460)
    low, high = headline(table, "survival"), headline(table, "survival_if_found")
    assert low.value == pytest.approx(0.748)
    assert low.value < 0.85 < high.value
    assert alive / (alive + dead) == pytest.approx(0.875, abs=5e-4)  # dropping them would say this


def test_stocking_of_ten_plots():
    """Counts by hand under a British Columbia rule: 1,020/ha, 1,000 capped at 6, SE 75.7, 90 % limit 915."""
    table = StockingTable.build(
        block=[0] * 10, area_ha=[1 / 200] * 10, planted=[5, 6, 4, 7, 5, 3, 6, 5, 4, 6], natural=[0] * 10,
        net_area_ha=[12.0], target_per_ha=[1200.0],
    )  # fmt: skip
    rows = {(row.scope, row.measure): row for row in stocking_estimates(table)}
    found = rows["block", "stocking"]
    assert (found.value, found.se) == pytest.approx((1020, 75.7), abs=0.05)
    assert found.lower_decision == pytest.approx(915, abs=0.5)
    assert rows["block", "stocking_capped"].value == pytest.approx(1000)
    assert rows["project", "stocking"].value == found.value
    assert np.isclose(rows["block", "plots_stocked"].value, 0.4)
