"""What a crew lifts beside the screen, and how deep things go; the screen warns and never clears."""

import pytest

from projects.calc import day_loads, planting_depth
from projects.calc.day_loads import BELOW_SCREEN, MACHINE_ONLY, Sizes, cells_within, loads, widest_ball_cm
from projects.calc.stock_handling import root_ball_kg, tray_kg
from projects.crew_day_words import DEPTHS, LOADS
from projects.models import StockType


def test_a_tray_from_the_ground_is_above_the_screen_until_it_holds_fewer():
    """Revised NIOSH equation, Waters et al. (1993), from memory: 9.2 kg; a tray of 50 × 300 mL by arithmetic: 15 kg."""
    (tray,) = loads(["container"])
    assert (round(tray.screen_kg, 1), tray.highest_kg, tray.verdict) == (9.2, 15.0, MACHINE_ONLY)
    most = cells_within(tray.screen_kg, 300)
    assert tray_kg(most, 300) <= tray.screen_kg < tray_kg(most + 1, 300)
    assert loads(["container"], Sizes(cells=most))[0].verdict == BELOW_SCREEN


def test_a_root_ball_is_judged_by_the_upper_end_of_its_band():
    widest = widest_ball_cm(9.2)
    assert root_ball_kg(widest)[2] == pytest.approx(9.2)
    between = Sizes(ball_cm=widest * 1.05)
    (ball,) = loads(["balled_burlapped"], between)
    assert ball.lowest_kg < ball.screen_kg < ball.highest_kg
    assert ball.verdict == MACHINE_ONLY


def test_the_heaviest_load_comes_first_and_each_kind_once():
    found = loads(["bare_root", "cutting", "balled_burlapped", "container"])
    assert [load.kind for load in found] == ["ball", "tray", "bundle"]
    assert loads(["unheard of"]) == []


def test_every_stock_type_has_a_load_and_a_depth_with_a_source():
    for each in StockType.values:
        assert day_loads.CARRIED_AS[each] in LOADS
        assert DEPTHS[each] and all(note.words and note.source for note in DEPTHS[each])


@pytest.mark.parametrize("wrong", [{"cells": 0}, {"plant_g": 0}, {"ball_cm": -1}, {"sack_kg": float("nan")}])
def test_a_load_without_mass_is_refused(wrong):
    with pytest.raises(ValueError, match=r"above 0|more than nothing"):
        loads(["container", "bare_root", "balled_burlapped", "direct_seed"], Sizes(**wrong))


def test_depths_in_numbers_are_those_in_words():
    """Common practice throughout."""
    assert planting_depth.seed_depth_mm(10) == (20, 30)
    assert planting_depth.cutting_below_cm(30) == pytest.approx(20)
    assert planting_depth.pit_width_cm(50) == (100, 150)
    told = {each: " ".join(str(note.words) for note in DEPTHS[each]) for each in DEPTHS}
    assert f"up to {planting_depth.COLLAR_BELOW_CM[1]:g} cm below" in told["bare_root"]
    low, high = planting_depth.PLUG_COVER_CM
    assert f"{low:g} to {high:g} cm" in told["container"]
    assert "Two thirds" in told["cutting"] and pytest.approx(2 / 3) == planting_depth.CUTTING_SHARE
    for wrong in (0, float("inf")):
        with pytest.raises(ValueError, match="above 0"):
            planting_depth.seed_depth_mm(wrong)
