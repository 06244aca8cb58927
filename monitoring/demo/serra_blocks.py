"""Serra Clara Commons: fifteen blocks, what was planted in each, and the share that truly lives."""

from datetime import date

from monitoring.demo.ground import patch
from monitoring.demo.serra_lots import (
    ALDER,
    ARBUTUS,
    ASH,
    BIRCH,
    COLD_OAKS,
    CORK,
    EASY_OAKS,
    GAP_LOT,
    HAWTHORN,
    HAZEL,
    HOLM,
    NETTLE_TREE,
    OAK,
    PINE,
    REPLACEMENT_OAKS,
    ROWAN,
    SLOE,
    WARM_OAKS,
    WILLOW,
)  # fmt: skip
from monitoring.demo.serra_people import FIRE, HEDGE, RIVER, TERRACES
from monitoring.demo.serra_sites import HILLSIDE, MOUNTAIN, STREAM
from monitoring.demo.shapes import BlockPlan, Planting, Regeneration

UPPER, LOWER, FROST = "Upper terraces", "Lower terraces", "Frost hollow"
FOLD, ACORNS = "Sheltered fold", "Acorn strip"
NORTH, SOUTH, MEADOW = "North bank strip", "South bank strip", "Ash meadow"
EAST, WEST, RIDGE, ORCHARD = "East burnt slope", "West burnt slope", "Stony ridge", "Old orchard"
LANE, WEIR, SQUARE = "Lane hedge", "Weir hedge", "Square trees"

THREE, TWO = ("2024", "2025", "2026"), ("2025", "2026")


def on(year: int, month: int, day: int, quantity: int) -> tuple[date, int]:
    """Return one planting day."""
    return date(year, month, day), quantity


def alive(*shares: float) -> dict[str, float]:
    """Return true shares alive, the last of them in autumn 2026."""
    return dict(zip(THREE[-len(shares) :], shares, strict=True))


TERRACE_BLOCKS = (
    BlockPlan(
        UPPER, MOUNTAIN, TERRACES, patch(80, 470, 250, 150), plots=12, radius_m=6.31, rounds=THREE,
        aspect_note="south-east, former rye terraces", hazards="Loose dry-stone walls.",
        plantings=(
            Planting(OAK, (on(2024, 1, 21, 2100),), alive(0.48, 0.43, 0.41), WARM_OAKS, "bare_root"),
            Planting(OAK, (on(2024, 2, 6, 2100),), alive(0.88, 0.84, 0.82), COLD_OAKS, "bare_root"),
            Planting(BIRCH, (on(2024, 1, 23, 1800),), alive(0.88, 0.85, 0.83), "BC-23", "bare_root"),
            Planting(
                OAK, (on(2026, 1, 21, 900),), alive(0.87), REPLACEMENT_OAKS, "bare_root", replaces=WARM_OAKS
            ),
        ),
    ),
    BlockPlan(
        LOWER, MOUNTAIN, TERRACES, patch(80, 270, 245, 143), plots=12, radius_m=6.31, rounds=THREE,
        aspect_note="south-east, deeper soil",
        plantings=(
            Planting(OAK, (on(2024, 1, 21, 2000),), alive(0.52, 0.46, 0.44), WARM_OAKS, "bare_root"),
            Planting(OAK, (on(2024, 2, 7, 1900),), alive(0.90, 0.86, 0.84), COLD_OAKS, "bare_root"),
            Planting(
                BIRCH, (on(2024, 1, 24, 1700),), alive(0.91, 0.89, 0.87), "BC-23", "bare_root",
                thinned=(date(2026, 3, 10), 0.35), height_cm=(50, 55),
            ),
        ),
    ),
    BlockPlan(
        FROST, MOUNTAIN, TERRACES, patch(80, 60, 210, 125), plots=10, radius_m=6.31, rounds=TWO,
        drawn_by="balanced", spares=2,
        aspect_note="flat bottom, cold air gathers", hazards="Boggy after rain.",
        plantings=(
            Planting(
                OAK, (on(2024, 11, 19, 1200), on(2024, 11, 20, 1000)), alive(0.60, 0.52), "QP-24-C", "container",
                losses={"frost_blackened": 0.75, "none_seen": 0.15},
            ),
            Planting(
                ROWAN, (on(2024, 11, 21, 1000),), alive(0.72, 0.66), "SA-24", "container",
                losses={"frost_blackened": 0.6, "none_seen": 0.25},
            ),
            Planting(
                BIRCH, (on(2024, 12, 6, 1000),), alive(0.78, 0.72), "BC-24", "bare_root",
                losses={"frost_blackened": 0.5, "none_seen": 0.3},
            ),
        ),
    ),
    BlockPlan(
        FOLD, MOUNTAIN, TERRACES, patch(400, 470, 200, 120), plots=10, radius_m=6.31, rounds=TWO,
        aspect_note="sheltered, deep soil, the easiest ground of the site",
        plantings=(
            Planting(
                OAK, (on(2024, 11, 26, 2000), on(2024, 11, 27, 1800)), alive(0.985, 0.975), EASY_OAKS, "container"
            ),
        ),
    ),
    BlockPlan(
        ACORNS, MOUNTAIN, TERRACES, patch(400, 270, 300, 60), plots=10, radius_m=6.91, rounds=TWO,
        row_spacing_m=3.0, aspect_note="thin turf, ripped along the contour",
        plantings=(
            Planting(
                OAK, (on(2024, 11, 14, 2400),), alive(0.62, 0.52), "QP-24-ACORN", "direct_seed", seedlings=0.8,
                losses={"pulled": 0.3, "bitten": 0.2, "none_seen": 0.4}, height_cm=(4, 9),
            ),
        ),
    ),
)  # fmt: skip

RIVER_BLOCKS = (
    BlockPlan(
        NORTH, STREAM, RIVER, patch(60, 200, 600, 20, 3), plots=10, shape="row", spots=20, rounds=THREE,
        pattern="row", row_spacing_m=2.0, in_row_spacing_m=1.5, hazards="Undercut bank.",
        regeneration=(Regeneration(ALDER, 7.0, 3.0, TWO), Regeneration(ASH, 2.5, 0.5, TWO)),
        origin_uncertain=0.04,
        plantings=(
            Planting(
                ALDER, (on(2024, 2, 16, 1600),), alive(0.62, 0.55, 0.52), "AL-23", "bare_root",
                losses={"flooded": 0.6, "none_seen": 0.3},
            ),
            Planting(
                WILLOW, (on(2024, 2, 17, 1200),), alive(0.72, 0.66, 0.64), "SS-23", "cutting",
                losses={"flooded": 0.5, "none_seen": 0.3}, height_cm=(40, 60),
            ),
            Planting(
                ASH, (on(2024, 2, 15, 1200),), alive(0.66, 0.61, 0.58), "FA-23", "bare_root",
                losses={"flooded": 0.5, "smothered": 0.2},
            ),
        ),
    ),
    BlockPlan(
        SOUTH, STREAM, RIVER, patch(60, 120, 540, 20, 3), plots=12, shape="row", spots=20, rounds=TWO,
        pattern="row", row_spacing_m=2.0, in_row_spacing_m=1.5, hazards="Slope above the strip is moving.",
        plantings=(
            Planting(
                ALDER, (on(2025, 2, 11, 2000),), alive(0.86, 0.82), "AL-24", "container", overlooked=0.18,
                losses={"smothered": 0.5, "none_seen": 0.3},
            ),
            Planting(
                ASH, (on(2025, 2, 12, 1600),), alive(0.84, 0.80), "FA-24", "bare_root", overlooked=0.18,
                losses={"smothered": 0.5, "none_seen": 0.3},
            ),
        ),
    ),
    BlockPlan(
        MEADOW, STREAM, RIVER, patch(750, 60, 230, 110), plots=12, radius_m=6.91, rounds=TWO,
        row_spacing_m=2.9, in_row_spacing_m=2.9, target_stocking_per_ha=1000, bare_plots=0.34,
        aspect_note="wet meadow; crews left the reed beds out", pattern="irregular",
        plantings=(
            Planting(ASH, (on(2025, 2, 13, 2100),), alive(0.95, 0.93), "FA-24", "bare_root"),
            Planting(HAWTHORN, (on(2025, 2, 18, 900),), alive(0.94, 0.92), "CM-24", "bare_root"),
        ),
    ),
)  # fmt: skip

DRY = {"none_seen": 0.7, "other": 0.1}

FIRE_BLOCKS = (
    BlockPlan(
        EAST, HILLSIDE, FIRE, patch(560, 420, 280, 150), plots=12, radius_m=6.91, rounds=THREE, row_spacing_m=3.0,
        aspect_note="west-facing schist, pits ripped in 2023", hazards="Burnt trunks may fall.",
        plantings=(
            Planting(
                CORK, (on(2023, 11, 28, 1300), on(2023, 11, 29, 1100)), alive(0.42, 0.57, 0.55), "QS-23", "container",
                losses=DRY,
            ),
            Planting(ARBUTUS, (on(2023, 11, 30, 1700),), alive(0.72, 0.68, 0.66), GAP_LOT, "container", losses=DRY),
            Planting(PINE, (on(2023, 12, 5, 1500),), alive(0.76, 0.72, 0.70), "PP-23", "container", losses=DRY),
        ),
    ),
    BlockPlan(
        WEST, HILLSIDE, FIRE, patch(100, 420, 300, 130), plots=12, radius_m=6.91, rounds=TWO, row_spacing_m=3.0,
        aspect_note="open to the goats of the common",
        regeneration=(Regeneration("acacia-dealbata", 3.0, 1.5, TWO),),
        plantings=(
            Planting(
                CORK, (on(2024, 11, 21, 1600), on(2024, 11, 22, 1400)), alive(0.52, 0.42), "QS-24", "container",
                losses={"bitten": 0.75, "none_seen": 0.15},
            ),
            Planting(
                ARBUTUS, (on(2024, 11, 25, 2200),), alive(0.54, 0.43), "AU-24", "container",
                losses={"bitten": 0.7, "none_seen": 0.2},
            ),
        ),
    ),
    BlockPlan(
        RIDGE, HILLSIDE, FIRE, patch(100, 180, 300, 80), plots=12, radius_m=8.74, rounds=TWO,
        row_spacing_m=4.0, in_row_spacing_m=3.0, aspect_note="stony, no machine gets here",
        plantings=(
            Planting(
                HOLM, (on(2024, 12, 4, 2000),), alive(0.44, 0.36), "QR-24-ACORN", "direct_seed", seedlings=0.6,
                losses={"pulled": 0.5, "none_seen": 0.3}, height_cm=(3, 6),
            ),
        ),
    ),
    BlockPlan(
        ORCHARD, HILLSIDE, FIRE, patch(560, 180, 150, 90), plots=5, radius_m=6.91, rounds=TWO, row_spacing_m=3.0,
        aspect_note="old almond terraces",
        plantings=(
            Planting(CORK, (on(2024, 11, 23, 1000),), alive(0.76, 0.73), "QS-24", "container", losses=DRY),
            Planting(ARBUTUS, (on(2024, 11, 26, 800),), alive(0.76, 0.72), "AU-24", "container", losses=DRY),
        ),
    ),
)  # fmt: skip

HEDGE_BLOCKS = (
    BlockPlan(
        LANE, MOUNTAIN, HEDGE, patch(400, 120, 375, 4, 0.5), plots=10, shape="row", spots=20, rounds=TWO,
        pattern="row", row_spacing_m=1.0, in_row_spacing_m=1.0, loose_baselines=2,
        aspect_note="double row along the lane to the school",
        plantings=(
            Planting(
                HAWTHORN, (on(2024, 1, 27, 900),), alive(0.82, 0.80), stock_type="bare_root", baseline="visible_spots"
            ),
            Planting(
                SLOE, (on(2024, 1, 27, 600),), alive(0.84, 0.82), stock_type="bare_root", baseline="visible_spots"
            ),
        ),
    ),
    BlockPlan(
        WEIR, STREAM, HEDGE, patch(750, 220, 300, 4, 0.5), plots=8, shape="row", spots=20, rounds=TWO,
        pattern="row", row_spacing_m=1.0, in_row_spacing_m=1.0, aspect_note="double row above the weir",
        plantings=(
            Planting(HAWTHORN, (on(2025, 2, 19, 700),), alive(0.95, 0.94), "CM-24", "bare_root"),
            Planting(HAZEL, (on(2025, 2, 20, 500),), alive(0.94, 0.92), "CA-24", "container"),
        ),
    ),
    BlockPlan(
        SQUARE, STREAM, HEDGE, patch(1100, 80, 60, 40, 3), plots=1, shape="whole_block", rounds=TWO,
        row_spacing_m=8.0, in_row_spacing_m=8.0, aspect_note="large trees, planted one by one",
        plantings=(
            Planting(
                NETTLE_TREE, (on(2025, 1, 16, 20),), alive(0.98, 0.96), "CE-24-BB", "balled_burlapped",
                height_cm=(250, 5),
            ),
            Planting(
                ASH, (on(2025, 1, 16, 16),), alive(0.97, 0.94), "FA-24-BB", "balled_burlapped", height_cm=(280, 8)
            ),
        ),
    ),
)  # fmt: skip

BLOCKS = TERRACE_BLOCKS + RIVER_BLOCKS + FIRE_BLOCKS + HEDGE_BLOCKS
