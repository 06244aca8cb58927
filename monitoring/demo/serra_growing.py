"""From order to living tree in the first organisation: what was promised, looked at, planted, seen since. Invented."""

from dataclasses import dataclass
from datetime import date, time
from typing import Any

from monitoring.demo import serra_blocks as blocks
from monitoring.demo.serra_lots import (
    ARBUTUS,
    CHA,
    COLD_OAKS,
    CORK,
    HOLM,
    PINE,
    RASO,
    REPLACEMENT_OAKS,
    WARM_OAKS,
)
from monitoring.demo.serra_people import FIRE
from monitoring.demo.serra_sites import MOUNTAIN

# --- orders -------------------------------------------------------------------------------------
CONFIRMED_AFTER, CLOSED_AFTER = 8, 3  # days after ordering, and after the delivery
DAYS_LATE = {"FA-24": 12, "AU-24": 4}  # against the day promised; the others came on it
DELIVER_TO = "Forest house at the foot of the burnt slope"


@dataclass(frozen=True)
class OpenOrder:
    """An order under way; days are counted from the day of loading."""

    reference: str
    nursery: str
    ordered: int
    promised: int
    lines: tuple[tuple[str, str, int, int], ...]  # species, stock type, quantity, price
    nursery_reference: str = ""


PARTLY = OpenOrder(
    "O-26-FIRE", CHA, -210, 30, ((CORK, "container", 1000, 88), (ARBUTUS, "container", 300, 90)), "CH 2291",
)  # fmt: skip
LATE = OpenOrder("O-26-PINE", RASO, -200, -9, ((PINE, "container", 600, 38),), "MR-774")
CAME, CAME_NOTE = -5, "L 4417"
CAME_LOT, INSTEAD_LOT, SPLIT_LOT = "QS-26-A", "QR-26-A", "QS-26-A-b"
CAME_CORKS, STATED_CORKS, CAME_HOLMS, SPLIT_OFF = 396, 400, 280, 150

# --- hand-overs ---------------------------------------------------------------------------------
CHECKS: tuple[tuple[str, date, time, dict[str, Any]], ...] = (
    (
        WARM_OAKS, date(2024, 1, 12), time(10, 30),
        {"point": "arrival", "verdict": "accept", "root_condition": "moist", "counted": 4200},
    ),
    (
        WARM_OAKS, date(2024, 1, 21), time(7, 50),
        {
            "point": "crew", "verdict": "accept", "root_condition": "dry", "minutes_exposed": 35,
            "because": "The driest hundred were taken out; the crew was there and the ground had thawed.",
        },
    ),
    (
        COLD_OAKS, date(2024, 2, 5), time(15, 10),
        {"point": "arrival", "verdict": "accept", "root_condition": "moist", "box_temperature_c": 1.5, "counted": 4050},
    ),
    (
        COLD_OAKS, date(2024, 2, 6), time(8, 5),
        {"point": "crew", "verdict": "accept", "root_condition": "moist", "box_temperature_c": 2.0},
    ),
    (
        REPLACEMENT_OAKS, date(2026, 1, 20), time(14, 40),
        {"point": "arrival", "verdict": "accept", "root_condition": "moist", "box_temperature_c": 1.8},
    ),
)  # fmt: skip

# --- planting days ------------------------------------------------------------------------------
CLOSED_DAYS = (  # block, day; each takes in what was planted there that day
    (blocks.UPPER, date(2024, 1, 21)), (blocks.LOWER, date(2024, 1, 21)), (blocks.UPPER, date(2024, 2, 6)),
    (blocks.LOWER, date(2024, 2, 7)), (blocks.NORTH, date(2024, 2, 16)),
)  # fmt: skip
LOOKED: tuple[tuple[str, date, date, str, int, int, dict[str, int]], ...] = (
    # block, day planted, day looked, spot, trees looked at, planted as they should be, faults
    (blocks.UPPER, date(2024, 1, 21), date(2024, 1, 22), "third terrace", 30, 29, {"loose": 1}),
    (blocks.UPPER, date(2024, 1, 21), date(2024, 1, 22), "below the wall", 30, 28, {"too_shallow": 2}),
    (blocks.UPPER, date(2024, 2, 6), date(2024, 2, 8), "third terrace", 30, 29, {"loose": 1}),
    (blocks.NORTH, date(2024, 2, 16), date(2024, 2, 19), "first bend", 40, 33, {"too_shallow": 5, "loose": 3}),
)  # fmt: skip
COMING_BLOCK, COMING_IN_DAYS, COMING_PLANTED = blocks.EAST, 3, 200

# --- walks and what befell --------------------------------------------------------------------
AFTER_THE_FROST = (blocks.LOWER, blocks.FOLD, blocks.ACORNS, blocks.LANE)  # the hollow is still to be walked
FROST_SITE, FROST_DAYS_AGO, FROST_NOTE = MOUNTAIN, 6, "−9 °C at the chapel before sunrise"
WALKS: tuple[tuple[str, int, str, tuple[dict[str, Any], ...]], ...] = (  # block, days ago, note, signs
    (
        blocks.WEST, 9, "After the first rain; the hamlet was told the same evening.",
        (
            {"sign": "fence", "urgency": "now", "where": "Western edge, two posts down at the gully"},
            {"sign": "stock_in", "urgency": "week", "where": "Upper half", "note": "Fresh droppings of goats"},
            {"sign": "invaders", "urgency": "month", "where": "Along the track", "note": "Wattle, knee-high"},
        ),
    ),
    *((name, 3, "No shoot blackened, no tree lifted.", ()) for name in AFTER_THE_FROST),
)  # fmt: skip

# --- aftercare ----------------------------------------------------------------------------------
CARED_FOR, TAKEN_UP = blocks.UPPER, 3  # so many of the next lines of its schedule
PUT_OFF_DAYS, PUT_OFF_BECAUSE = 21, "The track is closed until the slide above it is cleared."

# --- who sees to what -----------------------------------------------------------------------------
LEAD_SEES_TO = ("plant_by", "round_due", "look_again")  # kinds of things to decide
PROJECT = FIRE
INSTEAD_OF_ARBUTUS = HOLM
