"""Who may open what of: walk-throughs, signs seen on them, what befell a site."""

from datetime import date
from typing import Any

from projects.models import Sighting, SiteEvent, Walk
from tests.access.letters import ML

POLICY: dict[tuple[str, str], str] = {
    ("projects:walk_list", "GET"): ML,
    ("projects:walk_detail", "GET"): ML,
    ("projects:walk_void", "POST"): ML,
    ("projects:walk_new", "GET"): ML,
    ("projects:walk_new", "POST"): ML,
    ("projects:walk_nothing", "POST"): ML,
    ("projects:site_event_new", "GET"): ML,
    ("projects:site_event_new", "POST"): ML,
    ("projects:site_event_void", "POST"): ML,
}


def more(world: Any, text: str) -> None:
    """Add a walk with a sign, and something that befell the site."""
    here = {"organisation": world.org}
    world.walk = Walk.objects.create(**here, block=world.block, walked_on=date(2024, 3, 1), note=text)
    world.sighting = Sighting.objects.create(**here, walk=world.walk, sign="fence", where=text, note=text)
    world.site_event = SiteEvent.objects.create(
        **here, site=world.site, kind="storm", happened_on=date(2024, 4, 1), note=text
    )


def rows(world: Any) -> dict[str, Any]:
    """Return {full url name: row its uid names} where the noun of the name does not tell."""
    return {
        "projects:walk_new": world.block,
        "projects:walk_nothing": world.block,
        "projects:site_event_new": world.site,
    }


def nouns(world: Any) -> dict[str, Any]:
    """Return {noun of a url name: row}."""
    return {"walk": world.walk, "sighting": world.sighting, "site_event": world.site_event}
