"""The pieces monitoring adds to pages of projects."""

from monitoring.selectors import as_planted, cost_of_living, ways
from monitoring.selectors import panels as readers
from monitoring.selectors.trace_links import link_of
from projects.panels import Panel, register

PANELS = {
    "home": Panel("monitoring/_panel_home.html", readers.of_home, "result.view"),
    "site": Panel("monitoring/_panel_site.html", readers.of_site, "result.view"),
    "block": Panel("monitoring/_panel_block.html", readers.of_block, "result.view"),
    "project": Panel("monitoring/_panel_project.html", readers.of_project, "result.view"),
    "money": Panel("monitoring/_panel_money.html", cost_of_living.of_project, "result.view"),
    "lot": Panel("monitoring/_panel_lot.html", readers.of_lot, "performance.view"),
    "nursery": Panel("monitoring/_panel_nursery.html", readers.of_nursery, "performance.view"),
    "cohort": Panel("monitoring/_panel_cohort.html", readers.of_cohort, "result.view"),
}

TRACED = {"order": "order", "delivery": "delivery", "crew_day": "crew_day", "planting_day": "day"}


def register_panels() -> None:
    """Tell the pages of projects which pieces to show."""
    register("home", Panel("monitoring/_panel_home_ways.html", ways.of_home, "home.view"))
    for page, panel in PANELS.items():
        register(page, panel)
    register("block", Panel("monitoring/_panel_as_planted.html", as_planted.of_block, "planting.view"))
    for page, noun in TRACED.items():
        register(page, Panel("monitoring/_panel_where_from.html", link_of(noun), "trace.view"))
