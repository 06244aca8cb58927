"""Records of the log in words a lead can follow: which plot and day a record is about, read from its bytes."""

import json
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any
from uuid import UUID

from django.utils.dateparse import parse_date

from monitoring import access
from monitoring.models import SurvivalPlot
from projects.access import Actor
from projects.services.log import UNSTORABLE


@dataclass(frozen=True)
class About:
    """What a record says it is about; any part may be missing."""

    plot: SurvivalPlot | None = None
    observed_on: Any = None


def read(body: str) -> Any:
    """Return what a record's text holds, or None where it cannot be read."""
    try:
        return json.loads(body)
    except (ValueError, RecursionError):
        return None


def about(actor: Actor, bodies: Iterable[str]) -> list[About]:
    """Say for each record which plot (that the actor may see) and day it names; one query for all."""
    held = [found if isinstance(found := read(body), dict) else {} for body in bodies]
    uids = {uid for row in held if (uid := as_uid(row.get("plot")))}
    plots = {row.uid: row for row in access.visible_plots(actor).filter(uid__in=uids).select_related("block")}
    return [About(plots.get(as_uid(row.get("plot"))), as_day(row.get("observed_on"))) for row in held]


def as_uid(value: Any) -> UUID | None:
    try:
        return UUID(value) if isinstance(value, str) else None
    except ValueError:
        return None


def as_day(value: Any) -> Any:
    try:
        return parse_date(value) if isinstance(value, str) else None
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
