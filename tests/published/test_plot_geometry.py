"""Plots on the ground against handbooks and arithmetic (check rows A1 to A11, X3, X6, X13)."""

import math

import pytest

from monitoring.estimators import plot_geometry as geometry
from monitoring.estimators.stocking import stocking_estimates
from monitoring.estimators.stocking_table import StockingTable
from tests.published.rows import checks

SQUARE_METRES_PER_ACRE = 43_560 * 0.3048**2
FOOT_M = 0.3048


@checks("A1", "A2", "A3", "A4", "A5")
@pytest.mark.parametrize(
    ("radius_m", "area_m2", "multiplier"),
    [
        (3.99, 50.01, 199.94),  # A1: British Columbia silviculture surveys, "x 200" (figures from memory)
        (5.64, 99.93, 100.07),  # A2: common practice, the "0.01 ha plot"
        (8.00, 201.06, 49.74),  # A3: the 8 m plot of Teagasc, Irish state advisory service
        (5.00, 78.54, 127.32),  # A4: the 5 m circle of Elliott et al.
        (11.28, 399.7, 25.02),  # A5: common practice, 400 m2
        (17.84, 999.9, 10.00),  # A5: common practice, 0.1 ha
    ],
)
def test_radius_area_and_multiplier_agree(radius_m, area_m2, multiplier):
    area = geometry.circle_area_m2(radius_m)
    assert area == pytest.approx(area_m2, abs=0.06)
    assert geometry.per_ha_multiplier(area) == pytest.approx(multiplier, abs=0.005)
    assert geometry.circle_radius_m(area) == pytest.approx(radius_m, rel=1e-12)


@checks("A3")
@pytest.mark.parametrize(
    ("density_per_ha", "printed", "exact"), [(2500, 50, 50.27), (3100, 62, 62.33), (3300, 66, 66.35)]
)
def test_trees_in_an_eight_metre_plot(density_per_ha, printed, exact):
    """A3: Teagasc, table of its page on replanting."""
    trees = geometry.expected_trees(density_per_ha, geometry.circle_area_m2(8))
    assert trees == pytest.approx(exact, abs=0.005)
    assert round(trees) == printed


@checks("A4")
def test_a_five_metre_circle_at_3100_holds_24():
    """A4: Elliott et al.; arithmetic."""
    trees = geometry.expected_trees(3100, geometry.circle_area_m2(5))
    assert trees == pytest.approx(24.3, abs=0.05)
    assert geometry.radius_for(trees, 3100) == pytest.approx(5.0)


@checks("X13")
def test_what_natural_seedlings_leave_to_plant():
    """X13: 9.4 seedlings a 5 m circle against 3,100; arithmetic."""
    area = geometry.circle_area_m2(5)
    assert round(geometry.to_plant_per_ha(3100, 9.4, area)) == 1903
    assert geometry.to_plant_per_ha(1000, 9.4, area) == 0.0


@checks("A6")
@pytest.mark.parametrize(
    ("acre_part", "radius_ft"),
    [(1000, 3.72), (300, 6.80), (100, 11.78), (50, 16.65), (20, 26.33), (10, 37.24), (5, 52.66)],
)
def test_circles_that_are_parts_of_an_acre(acre_part, radius_ft):
    """A6: standard table; arithmetic."""
    radius_m = geometry.circle_radius_m(SQUARE_METRES_PER_ACRE / acre_part)
    assert radius_m / FOOT_M == pytest.approx(radius_ft, abs=0.005)


@checks("A7")
@pytest.mark.parametrize(
    ("acre_part", "slopes", "printed_ft"),
    [
        (300, (50,), 7.2),
        (100, (40, 42), 12.2),
        (10, (27, 30), 38.0),
        (5, (45, 47), 55.2),
        (5, (48, 49), 55.5),
    ],
)
def test_a_circle_laid_on_the_slope_is_wider_by_the_root_of_the_secant(acre_part, slopes, printed_ft):
    """A7: r times the root of the secant, computed; the table prints one radius for a span of slopes."""
    radius_m = geometry.circle_radius_m(SQUARE_METRES_PER_ACRE / acre_part)
    middle = sum(slopes) / len(slopes)
    assert round(geometry.radius_on_slope_m(radius_m, middle) / FOOT_M + 1e-9, 1) == printed_ft
    for slope in slopes:
        trap_ft = geometry.on_slope_m(radius_m, slope) / FOOT_M  # r times the secant: too wide for a circle
        assert trap_ft > printed_ft + 0.2
        laid_m2 = geometry.circle_area_m2(geometry.radius_on_slope_m(radius_m, slope))
        assert laid_m2 / geometry.slope_secant(slope) == pytest.approx(geometry.circle_area_m2(radius_m))


@checks("A7")
def test_the_trap_of_the_whole_secant_is_named():
    """A7: 1/300 acre at 50 %: 7.60 ft by the secant, where 7.2 is right."""
    radius_m = geometry.circle_radius_m(SQUARE_METRES_PER_ACRE / 300)
    assert geometry.on_slope_m(radius_m, 50) / FOOT_M == pytest.approx(7.60, abs=0.005)
    assert geometry.radius_on_slope_m(radius_m, 50) / FOOT_M == pytest.approx(7.19, abs=0.005)


@checks("A8")
def test_distances_up_the_slope_and_on_the_map():
    """A8: 3.99 m on the map at 40 %; arithmetic."""
    assert geometry.on_slope_m(3.99, 40) == pytest.approx(4.297, abs=5e-4)
    assert geometry.radius_on_slope_m(3.99, 40) == pytest.approx(4.141, abs=5e-4)
    assert geometry.horizontal_m(geometry.on_slope_m(3.99, 40), 40) == pytest.approx(3.99)
    assert geometry.radius_on_slope_m(3.99, 0) == 3.99


@checks("A9")
def test_a_slope_left_out_takes_a_tenth_off_the_density():
    """A9: 50 % slope; arithmetic."""
    assert geometry.density_factor_of_slope(50) == pytest.approx(0.894, abs=5e-4)


@checks("A10")
def test_a_rectangle_of_ten_by_twenty_five():
    """A10: Friday, Drilling & Garrity (1999), Imperata grassland rehabilitation, appendix F."""
    assert geometry.per_ha_multiplier(10 * 25) == 40


@checks("X3")
def test_a_tape_five_per_cent_long_adds_ten_to_the_density():
    """X3: arithmetic."""
    assert geometry.density_factor_of_radius(0.05) == pytest.approx(1.1025)


@checks("A11", "X6")
def test_ten_plots_of_a_stocking_survey_with_and_without_a_cap():
    """A11 and X6: cap and lower limit as in British Columbia surveys (from memory), counts made up."""
    counts = [5, 6, 4, 7, 5, 3, 6, 5, 4, 6]
    table = StockingTable.build(
        block=[0] * 10, area_ha=[1 / 200] * 10, planted=counts, natural=[0] * 10, net_area_ha=[12.0],
        target_per_ha=[1200.0], labels={"project": ("P",), "block": ("A",)},
    )  # fmt: skip
    found = {row.measure: row for row in stocking_estimates(table) if row.scope == "block"}
    assert found["stocking"].value == pytest.approx(1020)
    assert found["stocking_capped"].value == pytest.approx(1000)
    assert found["stocking"].se == pytest.approx(75.7, abs=0.05)
    assert found["stocking"].lower_decision == pytest.approx(915, abs=0.5)


def test_a_row_stands_for_half_a_spacing_at_each_end_and_side():
    assert geometry.row_length_m(20, 1.5) == 30.0
    assert geometry.row_area_m2(20, 1.5, 2.0) == 60.0
    assert geometry.expected_trees(10_000 / 3.0, geometry.row_area_m2(20, 1.5, 2.0)) == pytest.approx(20)


def test_plots_that_cover_a_block():
    assert geometry.plots_a_block_holds(1.0, 100.0) == 100
    assert geometry.plots_a_block_holds(0.001, 100.0) == 1


@pytest.mark.parametrize(
    ("density_per_ha", "area_ha", "radius_m", "shape"),
    [
        (2500, 4.0, 5.64, "circle"),  # 25 trees a circle
        (801, 4.0, 5.6420, "circle"),  # 8.01
        (799, 4.0, 5.6419, "row"),  # 7.99
        (300, 0.33, 5.64, "whole_block"),  # 99 trees in all
        (300, 0.34, 5.64, "row"),  # 102
        (2500, 0.04, 5.64, "whole_block"),
    ],
)
def test_the_shape_follows_the_trees_a_circle_would_hold(density_per_ha, area_ha, radius_m, shape):
    advice = geometry.shape_advice(density_per_ha, area_ha, radius_m)
    assert advice.shape == shape
    assert advice.trees_in_circle == pytest.approx(density_per_ha * math.pi * radius_m**2 / 10_000)
    assert geometry.expected_trees(
        density_per_ha, geometry.circle_area_m2(advice.radius_for_twenty_m)
    ) == pytest.approx(20)


@pytest.mark.parametrize("bad", [0, -1, float("nan"), float("inf")])
def test_lengths_that_are_none_are_refused(bad):
    with pytest.raises(ValueError, match="radius_m"):
        geometry.circle_area_m2(bad)
    with pytest.raises(ValueError, match="area_m2"):
        geometry.per_ha_multiplier(bad)
    with pytest.raises(ValueError, match="density_per_ha"):
        geometry.radius_for(20, bad)


@pytest.mark.parametrize("bad", [-1, float("nan"), float("inf")])
def test_slopes_that_are_none_are_refused(bad):
    with pytest.raises(ValueError, match="slope_percent"):
        geometry.radius_on_slope_m(5, bad)
