"""What one project of the demo plans next: what it is for, what people may gain, seed gathered, a draft to plant again.

Ranges and weights are invented; each says so where it is shown.
"""

from datetime import date
from typing import Any

from monitoring.demo import serra_blocks as blocks
from monitoring.demo.serra_lots import ARBUTUS, CORK, HOLM
from monitoring.demo.serra_people import FIRE
from monitoring.demo.serra_sites import HILLSIDE

PROJECT, SITE, BLOCK = FIRE, HILLSIDE, blocks.WEST
INVENTED = "invented for the demo; ask growers nearby"
PURPOSES = {"soil": 5, "wildlife": 3, "other_products": 2}
AGREED_WITH = "Upper hamlet"  # the agreement under which people gain

BENEFITS: tuple[dict[str, Any], ...] = (
    {
        "kind": "fruit", "species": ARBUTUS, "from_year": 7, "until_year": 30, "lowest": 1.0, "highest": 4.0,
        "unit": "kg a year", "per": "tree",
    },
    {
        "kind": "honey", "species": None, "from_year": 5, "until_year": 25, "lowest": 30.0, "highest": 120.0,
        "unit": "kg a year", "per": "whole",
    },
)  # fmt: skip

SEED_TREES = (  # label, metres east and north of the site's corner, note
    ("Chapel path 1", 880.0, 560.0, "Full crown, came through the fire"),
    ("Chapel path 2", 930.0, 620.0, ""),
    ("Chapel path 3", 940.0, 700.0, "Few acorns in 2024"),
)
RIPE = (10, 12)  # months
SEED_LOT: dict[str, Any] = {
    "seed_lot": "QS-25-CHAPEL", "collected_on": date(2025, 11, 8), "mother_trees": 3, "apart_m": 60.0,
    "weight_g": 18_500.0, "purity_share": 0.98, "germination_share": 0.8,
    "note": "Three mother trees are few: the acorns are kept for filling gaps only.",
}  # fmt: skip
SHARES_G = (9_000.0, 7_000.0, 2_500.0)

TITLE, SEASON = "Plant again behind the fence", "Winter 2027/28"
NOTE = "Nothing is planted before the fence stands; the goats took the last planting."
FREE_SPOTS = 1800
MIX = ((CORK, "container", 720, 88), (ARBUTUS, "container", 630, 90), (HOLM, "container", 450, 94))
DAY_RULES = "warm"
