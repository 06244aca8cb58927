"""Serra Clara Commons: people by role, seasons, projects, nurseries, money. All invented."""

from datetime import date

from monitoring.demo.shapes import BudgetPlan, PersonPlan, ProjectPlan

TERRACES, RIVER, FIRE, HEDGE = "Terraces to Oak", "River Edge", "After the Fire", "Schools' Hedge"

PEOPLE = (
    PersonPlan("serra_manager", "Planting manager", "manager", "manager@serra-clara.example"),
    PersonPlan("serra_lead", "Field lead, north", "field_lead", "lead@serra-clara.example"),
    PersonPlan(
        "serra_volunteer", "Volunteer, terraces group", "volunteer", "volunteer@serra-clara.example",
        (TERRACES, RIVER),
    ),
    PersonPlan(
        "serra_funder", "Funder, hill forests fund", "funder", "funder@serra-clara.example",
        (TERRACES, RIVER, FIRE),
    ),
    PersonPlan(
        "serra_school_funder", "Funder, schools programme", "funder", "schools@serra-clara.example", (HEDGE,)
    ),
    PersonPlan("serra_phone_one", "Volunteer with the blue phone", "phone"),
    PersonPlan("serra_phone_two", "Volunteer with the grey phone", "phone"),
)  # fmt: skip

SEASONS = (
    ("planting", "Winter 2023/24", date(2023, 11, 1), date(2024, 3, 31)),
    ("planting", "Winter 2024/25", date(2024, 11, 1), date(2025, 3, 31)),
    ("planting", "Winter 2025/26", date(2025, 11, 1), date(2026, 3, 31)),
    ("planting", "Winter 2026/27", date(2026, 11, 1), date(2027, 3, 31)),
    ("planting", "Winter 2027/28", date(2027, 11, 1), date(2028, 3, 31)),
    ("reporting", "Autumn 2024", date(2024, 9, 1), date(2024, 12, 31)),
    ("reporting", "Autumn 2025", date(2025, 9, 1), date(2025, 12, 31)),
    ("reporting", "Autumn 2026", date(2026, 9, 1), date(2026, 12, 31)),
)

PROJECTS = (
    ProjectPlan(
        TERRACES, "Bring oak and birch back to former rye terraces.", "Hill forests fund (invented)",
        "0.7500", 2, 18, 1100, 9_800_000,
    ),
    ProjectPlan(
        RIVER, "Shade the stream and hold its banks with alder, willow and ash.", "Hill forests fund (invented)",
        "0.7000", 2, 18, None, 6_400_000,
    ),
    ProjectPlan(
        FIRE, "Cover the slopes burnt in 2022 with cork oak, strawberry tree and pine.",
        "Hill forests fund (invented)", "0.6000", 2, 18, 700, 8_700_000,
    ),
    ProjectPlan(
        HEDGE, "Hedges and shade trees that pupils plant and look after. The first hedge was planted before "
        "the group began to count, so its baseline was rebuilt from the spots still visible.",
        "Schools programme (invented)", "0.8500", 1, 12, None, 2_100_000, has_baseline=False,
    ),
)  # fmt: skip

NURSERIES = (
    ("Alto das Giestas nursery", 10, "Bare-root stock, 90 minutes by lorry. No cold store."),
    ("Vale Pardo nursery", 16, "Bare-root stock, kept in its own cold store until delivery."),
    ("Monte Raso nursery", 26, "Container and balled stock."),
    ("Fonte Chã nursery", 30, "Container stock, peat-free."),
    ("Serra Clara seed shed", 4, "The group's own acorns and willow cuttings."),
)

BUDGET = (
    BudgetPlan(TERRACES, "Winter 2023/24", "Plants, planting crews and guards", 3_900_000, 4_048_000),
    BudgetPlan(TERRACES, "Winter 2024/25", "Plants, planting crews and guards", 3_300_000, 3_142_500),
    BudgetPlan(TERRACES, "Winter 2025/26", "Replacement planting, upper terraces", 420_000, 405_000),
    BudgetPlan(TERRACES, "Winter 2026/27", "Replacement planting, frost hollow", 700_000, 0),
    BudgetPlan(RIVER, "Winter 2023/24", "Plants and planting crews", 2_300_000, 2_261_000),
    BudgetPlan(RIVER, "Winter 2024/25", "Plants, stakes and planting crews", 2_900_000, 2_960_400),
    BudgetPlan(FIRE, "Winter 2023/24", "Plants, pits and planting crews", 3_600_000, 3_688_000),
    BudgetPlan(FIRE, "Winter 2024/25", "Plants, acorns and planting crews", 3_800_000, 3_655_800),
    BudgetPlan(FIRE, "Winter 2026/27", "Fencing against browsing", 900_000, 0, "protection"),
    BudgetPlan(HEDGE, "Winter 2024/25", "Hedge plants and square trees", 1_200_000, 1_164_000, "stock"),
)
