"""Who may open what of: who sees to what, the weekly letter, calendar addresses."""

from typing import Any

from projects.models import CalendarFeed
from tests.access.letters import ALL, M

POLICY: dict[tuple[str, str], str] = {
    ("projects:reminder_assign", "POST"): M,
    ("projects:telling", "GET"): ALL,
    ("projects:letter_choose", "POST"): ALL,
    ("projects:calendar_feed_new", "POST"): ALL,
    ("projects:calendar_feed_revoke", "POST"): M,  # the manager's own: to everybody else it is not there
}


def more(world: Any, text: str) -> None:
    """Add a calendar address of the manager; `text` is found on every page that shows it."""
    world.calendar_feed = CalendarFeed.objects.create(
        organisation=world.org,
        membership=world.members["manager"],
        token_hash=f"{text}-hash",
        label=f"{text} phone",
    )


def rows(world: Any) -> dict[str, Any]:
    """Return {full url name: row its uid names} where the noun of the name does not tell."""
    return {}


def nouns(world: Any) -> dict[str, Any]:
    """Return {noun of a url name: row}."""
    return {"calendar_feed": world.calendar_feed}
