"""One invented site assessed before its first planting: what the visit found, who agreed, what was answered for."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from monitoring.demo.serra_sites import HILLSIDE

SITE, VISITED_ON = HILLSIDE, date(2023, 9, 12)

STEPS: dict[str, dict[str, Any]] = {
    "land": {
        "visited_on": VISITED_ON,
        "land_use_history": "Almond terraces until about 1975, then goats. Burnt in 2022.",
        "present_vegetation": "Rock rose and gorse up to the knee, bare schist on the ridge.",
        "competing_vegetation": "Rock rose comes back thick within two years; wattle below the southern edge.",
        "existing_species": "Strawberry tree and a few cork oaks sprouting from the stump; single pines.",
        "seed_source_m": 420.0,
        "seed_source_note": "Unburnt cork oaks beside the chapel path",
    },
    "shape": {
        "aspect": "SW", "slope_percent": 34.0, "light": "full_sun",
        "hazards": "Burnt trunks may fall. Old terrace walls give way. No water on the slope.",
    },
    "circles": {"wanted_regenerants_per_ha": 800, "shortfall_is_costly": "no", "held_back": "yes"},
    "stops": {
        "native_grassland": "no", "peat": "no", "wetland": "no", "protected_habitat": "yes",
        "services_checked": "yes", "plant_health_notice": "no",
    },
}  # fmt: skip

SAMPLES: tuple[dict[str, Any], ...] = (
    {
        "label": "S1", "texture": "coarse", "ph": 5.4, "organic_matter_percent": 2.1, "depth_cm": 45.0,
        "drainage": "free",
    },
    {
        "label": "S2", "texture": "coarse", "ph": 5.1, "organic_matter_percent": 1.4, "depth_cm": 30.0,
        "drainage": "free",
    },
    {
        "label": "S3", "texture": "medium", "ph": 5.8, "organic_matter_percent": 3.0, "depth_cm": 70.0,
        "drainage": "moderate",
    },
)  # fmt: skip

CIRCLE_RADIUS_M = 5.0
CIRCLES = (3, 0, 6, 2, 9, 1, 4, 5)  # young natural trees in each, along one line

OVERRIDES = {
    "protected_habitat": (
        "The old terrace walls are protected. No pit nearer than 2 m to a wall; the heritage office was asked and "
        "agreed in writing."
    )
}


@dataclass(frozen=True)
class Agreed:
    """One right, agreement or permit; `days_left` from the day the demo is loaded."""

    kind: str
    with_whom: str
    what: str
    given_on: date
    reference: str = ""
    caretaker: str = ""
    benefits: str = ""
    days_left: int | None = None


AGREEMENTS = (
    Agreed("tenure", "Commons assembly", "Common land, managed by the assembly.", date(2001, 5, 12)),
    Agreed(
        "community", "Upper hamlet", "No goats on the burnt slopes for eight years.", date(2023, 6, 3),
        caretaker="The hamlet's work day each May",
        benefits="Fruit of the strawberry trees, stands for hives on the ridge, and cork one day",
    ),
    Agreed(
        "permit", "District forest office", "Planting after fire on up to 30 ha.", date(2023, 8, 21),
        reference="Demo 23/118", days_left=60,
    ),
)  # fmt: skip
