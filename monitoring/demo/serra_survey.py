"""Serra Clara Commons as a whole: rounds, what happened in single plots, windows; and the plan that joins them."""

from datetime import date

from monitoring.demo import serra_blocks as blocks
from monitoring.demo.serra_lots import LOTS, OAK
from monitoring.demo.serra_offers import OFFERS
from monitoring.demo.serra_people import (
    BUDGET,
    FIRE,
    HEDGE,
    NURSERIES,
    PEOPLE,
    PROJECTS,
    RIVER,
    SEASONS,
    TERRACES,
)
from monitoring.demo.serra_sites import SITES
from monitoring.demo.shapes import CausePlan, OrganisationPlan, RoundPlan, Special, WindowPlan


def autumn(
    project: str, year: int, opens: tuple[int, int], closes: tuple[int, int], *,
    is_open: bool = False, waiting_plots: tuple[tuple[str, str], ...] = (),
) -> RoundPlan:  # fmt: skip
    """Return the round of a project in one autumn."""
    return RoundPlan(
        str(year), project, f"{project}, autumn {year}", f"Autumn {year}", date(year, *opens), date(year, *closes),
        is_open, waiting_plots,
    )  # fmt: skip


ROUNDS = (
    autumn(TERRACES, 2024, (10, 1), (11, 15)),
    autumn(TERRACES, 2025, (10, 1), (11, 15)),
    autumn(
        TERRACES, 2026, (10, 12), (12, 4), is_open=True,
        waiting_plots=((blocks.FROST, "FH-09"), (blocks.FROST, "FH-10"), (blocks.ACORNS, "AS-10")),
    ),
    autumn(RIVER, 2024, (9, 16), (10, 18)),
    autumn(RIVER, 2025, (9, 15), (10, 17)),
    autumn(RIVER, 2026, (9, 14), (10, 16)),
    autumn(FIRE, 2024, (10, 7), (11, 22)),
    autumn(FIRE, 2025, (10, 6), (11, 21)),
    autumn(FIRE, 2026, (10, 19), (12, 4), is_open=True, waiting_plots=((blocks.RIDGE, "SR-12"),)),
    autumn(HEDGE, 2025, (10, 6), (10, 31)),
    autumn(HEDGE, 2026, (10, 5), (10, 30)),
)  # fmt: skip

SPECIALS = (
    Special("destroyed", blocks.SOUTH, "SB-07", "2026", reason="slid"),
    Special("missing", blocks.SOUTH, "SB-11", "2026", reason="not_reached"),
    Special("second_count", blocks.LOWER, "LT-04", "2026"),
    Special(
        "second_count",
        blocks.FROST,
        "FH-03",
        "2025",
        settled="Both crews went back: the first count is right.",
    ),
    Special("over_baseline", blocks.WEST, "WB-06", "2026"),
    Special("correction", blocks.UPPER, "UT-02", "2025"),
)

CAUSES = (
    CausePlan(
        f"{TERRACES}, autumn 2026", blocks.FROST, "frost", share="0.7",
        note="Five nights below −4 °C in late April; only the flat bottom turned black.",
    ),
    CausePlan(
        f"{TERRACES}, autumn 2026", blocks.UPPER, "stock_condition", species=OAK,
        note="The lot that stood 11 days uncooled; the cold-stored oaks beside it live.",
    ),
    CausePlan(
        f"{FIRE}, autumn 2026", blocks.WEST, "browsing", share="0.8",
        note="Goats of the common walk in from the west; droppings in every plot.",
    ),
    CausePlan(
        f"{RIVER}, autumn 2026", blocks.NORTH, "flooding", share="0.6",
        note="The strip stood under water for three weeks in March.",
    ),
)  # fmt: skip

DORMANT = "plants are dormant from here on"
BUDS = "buds swell and the soil dries"
RAIN = "the soil is moist to a spade's depth"
HEAT = "roots need eight weeks before the first heat"

WINDOWS = (
    WindowPlan(blocks.UPPER, "bare_root", date(2026, 11, 20), date(2027, 3, 5), DORMANT, BUDS),
    WindowPlan(blocks.LOWER, "bare_root", date(2026, 11, 20), date(2027, 3, 5), DORMANT, BUDS),
    WindowPlan(
        blocks.FROST,
        "bare_root",
        date(2027, 2, 15),
        date(2027, 3, 25),
        "frost heave lifts young plants",
        BUDS,
    ),
    WindowPlan(
        blocks.FROST, "container", date(2027, 3, 1), date(2027, 3, 31), "frost heave lifts young plants", BUDS
    ),
    WindowPlan(
        blocks.NORTH, "bare_root", date(2027, 2, 22), date(2027, 3, 15), "floods have mostly passed", BUDS
    ),
    WindowPlan(
        blocks.NORTH, "cutting", date(2027, 1, 18), date(2027, 3, 5), "floods have mostly passed", BUDS
    ),
    WindowPlan(
        blocks.SOUTH, "container", date(2027, 1, 25), date(2027, 3, 19), "floods have mostly passed", BUDS
    ),
    WindowPlan(blocks.EAST, "container", date(2026, 11, 10), date(2027, 2, 12), RAIN, HEAT),
    WindowPlan(
        blocks.WEST, "container", date(2027, 1, 15), date(2027, 2, 26), "the fence stands from here on", HEAT
    ),
    WindowPlan(blocks.ORCHARD, "container", date(2026, 11, 10), date(2027, 2, 12), RAIN, HEAT),
    WindowPlan(blocks.LANE, "bare_root", date(2026, 12, 1), date(2027, 3, 5), DORMANT, BUDS),
)

SERRA = OrganisationPlan(
    slug="serra-clara", name="Serra Clara Commons", time_zone="Europe/Lisbon", currency="EUR",
    emergency_contact="Demo only, no real number: ask the manager", people=PEOPLE, seasons=SEASONS,
    projects=PROJECTS, sites=SITES, nurseries=NURSERIES, lots=LOTS, blocks=blocks.BLOCKS, rounds=ROUNDS,
    specials=SPECIALS, budget=BUDGET, windows=WINDOWS, causes=CAUSES, offers=OFFERS,
)  # fmt: skip
