"""Spacing and density against printed tables and arithmetic (check rows B1 to B12)."""

import pytest

from projects.calc import spacing
from tests.published.rows import checks


@checks("B1", "B2", "B3", "B4", "B5")
@pytest.mark.parametrize(
    ("row_m", "in_row_m", "per_ha"),
    [
        (2.0, 2.0, 2500),  # B1, arithmetic
        (2.5, 2.5, 1600),  # B2, arithmetic
        (3.0, 3.0, 1111),  # B3, arithmetic
        (1.8, 1.8, 3086),  # B4, printed as 3,100 by Chiang Mai University's forest restoration text
        (2.0, 3.0, 1667),  # B5, arithmetic
    ],
)
def test_square_and_rectangular_spacing_give_the_printed_density(row_m, in_row_m, per_ha):
    assert round(spacing.rectangular_per_ha(row_m, in_row_m)) == per_ha
    assert spacing.pattern_per_ha("square", row_m, in_row_m) == spacing.rectangular_per_ha(row_m, in_row_m)


@checks("B6", "B7", "B8")
def test_triangular_spacing_gives_15_47_percent_more_than_square():
    """B6 to B8, arithmetic."""
    assert round(spacing.triangular_per_ha(2.0)) == 2887
    assert round(spacing.triangular_per_ha(3.0)) == 1283
    ratio = spacing.triangular_per_ha(2.0) / spacing.rectangular_per_ha(2.0, 2.0)
    assert ratio == pytest.approx(1.1547, abs=5e-5)
    assert spacing.pattern_per_ha("triangle", None, 2.0) == spacing.triangular_per_ha(2.0)


@checks("B9")
@pytest.mark.parametrize(
    ("row_ft", "in_row_ft", "printed"),
    [
        (5, 5, 1742), (6, 6, 1210), (6, 8, 907), (7, 7, 889), (8, 8, 681), (8, 10, 544), (10, 10, 436),
        (10, 12, 363), (12, 12, 302), (14, 14, 222), (20, 20, 109), (30, 30, 48),
    ],
)  # fmt: skip
def test_spacing_in_feet_agrees_with_the_printed_table(row_ft, in_row_ft, printed):
    """B9: NRCS Michigan job sheet 612, which rounds some rows and cuts others (6 x 8 is 907.5)."""
    assert spacing.per_acre(row_ft, in_row_ft) == pytest.approx(printed, abs=0.75)


@checks("B10", "B11")
def test_density_per_acre_turns_into_per_hectare():
    """B10, B11: arithmetic on 300 and 230 trees per acre."""
    assert round(spacing.per_ha_of_acre(300)) == 741
    assert round(spacing.per_ha_of_acre(230)) == 568


@checks("B12")
def test_density_turns_back_into_square_spacing():
    """B12, arithmetic."""
    assert spacing.square_spacing_m(1100) == pytest.approx(3.015, abs=5e-4)


@pytest.mark.parametrize("bad", [0, -1, float("nan"), float("inf")])
def test_a_distance_that_is_no_distance_is_refused(bad):
    with pytest.raises(ValueError, match="above 0"):
        spacing.rectangular_per_ha(bad, 2.0)
