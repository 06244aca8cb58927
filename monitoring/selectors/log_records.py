"""Records of the log in words a lead can follow: what and which day a record is about, read from its bytes."""

import json
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.utils.dateparse import parse_date

from monitoring import access
from monitoring.models import SurvivalPlot
from projects.access import Actor, visible_blocks, visible_care_tasks, visible_lots
from projects.services.log import UNSTORABLE

DAYS = ("observed_on", "walked_on", "done_on", "checked_at", "recorded_at")
SUBJECTS: dict[str, Callable[[Actor], QuerySet[Any]]] = {
    "lot": visible_lots,
    "block": visible_blocks,
    "task": visible_care_tasks,
}


@dataclass(frozen=True)
class About:
    """What a record says it is about; any part may be missing."""

    plot: SurvivalPlot | None = None
    observed_on: Any = None
    subject: Any = None  # the lot, block or care task a record of field work names
    is_field_work: bool = False


def read(body: str) -> Any:
    """Return what a record's text holds, or None where it cannot be read."""
    try:
        return json.loads(body)
    except (ValueError, RecursionError):
        return None


def about(actor: Actor, bodies: Iterable[str]) -> list[About]:
    """Say for each record what (that the actor may see) and which day it names; one query for each kind of thing."""
    held = [found if isinstance(found := read(body), dict) else {} for body in bodies]
    uids = {uid for row in held if (uid := as_uid(row.get("plot")))}
    plots = {row.uid: row for row in access.visible_plots(actor).filter(uid__in=uids).select_related("block")}
    subjects = field_subjects(actor, held)
    return [
        About(
            plot=plots.get(as_uid(row.get("plot"))),
            observed_on=next((day for key in DAYS if (day := as_day(row.get(key)))), None),
            subject=next((found for key in SUBJECTS if (found := subjects.get(as_uid(row.get(key))))), None),
            is_field_work="plot" not in row and any(key in row for key in SUBJECTS),
        )
        for row in held
    ]


def field_subjects(actor: Actor, held: list[dict[str, Any]]) -> dict[UUID | None, Any]:
    """Return the lots, blocks and care tasks that records of field work name, those the actor may see."""
    found: dict[UUID | None, Any] = {}
    for key, visible in SUBJECTS.items():
        uids = {uid for row in held if "plot" not in row and (uid := as_uid(row.get(key)))}
        if uids:
            found |= {row.uid: row for row in visible(actor).filter(uid__in=uids)}
    return found


def as_uid(value: Any) -> UUID | None:
    try:
        return UUID(value) if isinstance(value, str) else None
    except ValueError:
        return None


def as_day(value: Any) -> Any:
    try:
        return parse_date(value[:10]) if isinstance(value, str) else None
    except ValueError:  # a day no calendar has
        return None


def pretty(body: str) -> str:
    """Return a record's text laid out to be read; what is not JSON is returned as it came."""
    found = read(body)
    if found is None:
        return body
    try:
        text = json.dumps(found, indent=2, ensure_ascii=False)
    except (ValueError, RecursionError):
        return body
    return UNSTORABLE.sub("\ufffd", text)
