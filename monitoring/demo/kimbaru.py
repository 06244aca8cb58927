"""Kimbaru Ridge Growers: one site in the highlands, one block and one list of farm holdings. All invented."""

from datetime import date

from monitoring.demo.ground import patch
from monitoring.demo.shapes import (
    BlockPlan,
    BudgetPlan,
    Farm,
    Lot,
    OrganisationPlan,
    PersonPlan,
    Planting,
    ProjectPlan,
    Regeneration,
    RoundPlan,
    SitePlan,
    WindowPlan,
)  # fmt: skip

PROJECT, SITE = "Ridge and Farms", "Kimbaru ridge"
RIDGE_TOP, FARMS = "Ridge top", "Farms below the ridge"
LONG_2025, SHORT_2025, LONG_2027 = "Long rains 2025", "Short rains 2025", "Long rains 2027"
COMMUNITY, SCHOOL = "Kimbaru community nursery", "Ridge school nursery"
CHERRY, JUNIPER, PODO = "prunus-africana", "juniperus-procera", "podocarpus-latifolius"
VITEX, CROTON = "vitex-keniensis", "croton-megalocarpus"
DRY = {"none_seen": 0.6, "smothered": 0.2}
BROWSED = {"bitten": 0.4, "none_seen": 0.3}
DRY_COUNT, LATE_COUNT = "2026a", "2026b"

PEOPLE = (
    PersonPlan("kimbaru_manager", "Planting manager", "manager", "manager@kimbaru.example"),
    PersonPlan("kimbaru_lead", "Field lead, ridge", "field_lead", "lead@kimbaru.example"),
    PersonPlan(
        "kimbaru_volunteer", "Volunteer, farm visits", "volunteer", "volunteer@kimbaru.example", (PROJECT,)
    ),
    PersonPlan("kimbaru_funder", "Funder, water tower fund", "funder", "funder@kimbaru.example", (PROJECT,)),
    PersonPlan("kimbaru_phone_one", "Volunteer with the green phone", "phone"),
    PersonPlan("kimbaru_phone_two", "Volunteer with the red phone", "phone"),
)

FARM_TREES = (
    (150, 60), (90, 40), (220, 100), (60, 30), (130, 80), (80, 40), (300, 120), (110, 50), (70, 30), (160, 90),
    (50, 20), (240, 110), (90, 60), (120, 40), (180, 70), (60, 40), (200, 90), (100, 50), (80, 30), (140, 60),
    (70, 50), (260, 100), (110, 40), (130, 50),
)  # fmt: skip


def farms() -> tuple[Farm, ...]:
    """Return the list of holdings, strung along the foot of the ridge."""
    return tuple(
        Farm(
            f"Farm {n + 1:02d}",
            40.0 + (n % 8) * 140,
            30.0 + (n // 8) * 110,
            {"VK-25": vitex, "CR-25": croton},
        )
        for n, (vitex, croton) in enumerate(FARM_TREES)
    )


LOTS = (
    Lot("PA-25", COMMUNITY, CHERRY, "container", date(2025, 4, 2), 1500, unit_cost_minor=4500,
        movements=(("culled", 40, date(2025, 4, 9), "broken on the way"),), takes=((date(2025, 4, 10), 0, ""),)),
    Lot("JP-25", COMMUNITY, JUNIPER, "container", date(2025, 4, 2), 1200, unit_cost_minor=4000,
        takes=((date(2025, 4, 10), 0, ""),)),
    Lot("PL-25", SCHOOL, PODO, "container", date(2025, 4, 3), 820, unit_cost_minor=5000,
        movements=(("given_out", 20, date(2025, 4, 12), "to the school yard"),), takes=((date(2025, 4, 12), 0, ""),)),
    Lot("VK-25", COMMUNITY, VITEX, "container", date(2025, 10, 28), 3250, unit_cost_minor=3500,
        movements=(("culled", 50, date(2025, 11, 3), "too small"),), takes=((date(2025, 11, 20), 0, ""),)),
    Lot("CR-25", SCHOOL, CROTON, "container", date(2025, 10, 28), 1450, unit_cost_minor=2500,
        takes=((date(2025, 11, 20), 0, ""),)),
)  # fmt: skip


def given(lot: int) -> tuple[tuple[date, int], ...]:
    """Return how many trees of a lot all farms planted; each farm has a planting day of its own."""
    return ((date(2025, 11, 20), sum(pair[lot] for pair in FARM_TREES)),)


def both(dry_season: float, october: float) -> dict[str, float]:
    """Return the true shares alive at the two counts of the ridge."""
    return {DRY_COUNT: dry_season, LATE_COUNT: october}


BLOCKS = (
    BlockPlan(
        RIDGE_TOP, SITE, PROJECT, patch(80, 480, 210, 100), plots=10, radius_m=6.31, rounds=(DRY_COUNT, LATE_COUNT),
        aspect_note="mist belt, red loam", hazards="Buffalo paths cross the upper edge.",
        regeneration=(Regeneration("lantana-camara", 2.0, 0.5, (DRY_COUNT, LATE_COUNT)),),
        plantings=(
            Planting(CHERRY, ((date(2025, 4, 9), 1460),), both(0.84, 0.78), "PA-25", "container", losses=DRY),
            Planting(JUNIPER, ((date(2025, 4, 10), 1200),), both(0.76, 0.71), "JP-25", "container", losses=DRY),
            Planting(PODO, ((date(2025, 4, 11), 800),), both(0.9, 0.86), "PL-25", "container", losses=DRY),
        ),
    ),
    BlockPlan(
        FARMS, SITE, PROJECT, (), plots=10, shape="holding", rounds=(LATE_COUNT,), row_spacing_m=None,
        in_row_spacing_m=None, pattern="irregular", aspect_note="boundary rows and woodlots on farms", farms=farms(),
        plantings=(
            Planting(VITEX, given(0), {LATE_COUNT: 0.72}, "VK-25", "container", losses=BROWSED),
            Planting(CROTON, given(1), {LATE_COUNT: 0.81}, "CR-25", "container", losses=BROWSED),
        ),
    ),
)  # fmt: skip

KIMBARU = OrganisationPlan(
    slug="kimbaru", name="Kimbaru Ridge Growers", time_zone="Africa/Nairobi", currency="KES",
    emergency_contact="Demo only, no real number: ask the chair", people=PEOPLE,
    seasons=(
        ("planting", LONG_2025, date(2025, 3, 1), date(2025, 5, 31)),
        ("planting", SHORT_2025, date(2025, 10, 1), date(2025, 12, 31)),
        ("planting", LONG_2027, date(2027, 3, 1), date(2027, 5, 31)),
        ("reporting", "Dry season 2026", date(2026, 1, 1), date(2026, 3, 31)),
        ("reporting", "October 2026", date(2026, 9, 1), date(2026, 12, 31)),
    ),
    projects=(
        ProjectPlan(
            PROJECT, "Native trees on the ridge above the springs, and useful ones on the farms below.",
            "Water tower fund (invented)", "0.7000", 1, 12, None, 320_000_000,
        ),
    ),
    sites=(
        SitePlan(
            SITE, "KE", "Central highlands, invented", "Africa/Nairobi", -0.552, 36.741,
            ((0, 0), (600, -30), (1190, 10), (1210, 400), (1150, 640), (560, 660), (-20, 620)), 2150,
            "Ridge in the highlands with two rainy seasons; lantana along the paths.",
            "Four-wheel drive in the rains.", "Demo only, no real number: ridge post, channel 1",
            (62, 60, 118, 225, 158, 44, 38, 42, 40, 96, 168, 92),
            (8.4, 8.6, 9.6, 10.9, 10.6, 9.0, 8.2, 8.3, 8.5, 9.7, 10.1, 9.1),
            (22.4, 23.5, 23.6, 21.9, 20.5, 19.6, 18.9, 19.5, 21.8, 22.3, 20.9, 21.3),
        ),
    ),
    nurseries=((COMMUNITY, 12, "Raised in tubes by the members."), (SCHOOL, 12, "Raised by the tree club.")),
    lots=LOTS, blocks=BLOCKS,
    rounds=(
        RoundPlan(
            DRY_COUNT, PROJECT, "Ridge, dry season 2026", "Dry season 2026", date(2026, 2, 2), date(2026, 2, 27)
        ),
        RoundPlan(
            LATE_COUNT, PROJECT, "Ridge and farms, October 2026", "October 2026", date(2026, 9, 28), date(2026, 10, 30)
        ),
    ),
    specials=(),
    budget=(
        BudgetPlan(PROJECT, LONG_2025, "Seedlings and planting on the ridge", 140_000_00, 131_500_00),
        BudgetPlan(PROJECT, SHORT_2025, "Seedlings for farms", 160_000_00, 148_200_00),
        BudgetPlan(PROJECT, LONG_2027, "Replacement planting on farms", 60_000_00, 0),
    ),
    windows=(
        WindowPlan(
            RIDGE_TOP, "container", date(2027, 3, 22), date(2027, 5, 8),
            "rain has fallen on ten days in three weeks", "four weeks of rain must follow",
        ),
        WindowPlan(
            FARMS, "container", date(2027, 3, 22), date(2027, 5, 8),
            "rain has fallen on ten days in three weeks", "four weeks of rain must follow",
        ),
    ),
)  # fmt: skip
