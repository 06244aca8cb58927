"""Nurseries: where plants are raised, and how long they take to come."""

from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from projects import countries
from projects.access import Actor
from projects.errors import Refusal
from projects.models import Nursery
from projects.services import archiving, editing

FIELDS = ("name", "country_code", "lead_time_weeks", "contact", "notes")
MOST_WEEKS = 520


@transaction.atomic
def make_nursery(*, actor: Actor, **values: Any) -> Nursery:
    """Add a nursery."""
    actor.require("nursery.edit")
    return editing.make(actor, Nursery(**_checked(values)), "nursery.made")


@transaction.atomic
def edit_nursery(*, actor: Actor, nursery: Nursery, version: str = "", **values: Any) -> Nursery:
    """Change a nursery."""
    actor.require("nursery.edit")
    editing.ours(actor, nursery)
    return editing.change(actor, nursery, _checked(values), "nursery.edited", version=version)


def _checked(values: dict[str, Any]) -> dict[str, Any]:
    values = {name: value for name, value in values.items() if name in FIELDS}
    code = values.get("country_code")
    if code and code not in countries.names():
        raise Refusal(_("Choose the country; its code is two letters, such as PT."), field="country_code")
    weeks = values.get("lead_time_weeks")
    if weeks is not None and weeks > MOST_WEEKS:
        raise Refusal(_("That is more than ten years; write weeks, not days."), field="lead_time_weeks")
    return values


@transaction.atomic
def archive_nursery(*, actor: Actor, nursery: Nursery, reason: str = "") -> Nursery:
    """Put a nursery away; its lots stay."""
    actor.require("nursery.edit")
    return archiving.put_away(actor=actor, row=nursery, verb="nursery", reason=reason)


@transaction.atomic
def restore_nursery(*, actor: Actor, nursery: Nursery) -> Nursery:
    """Bring a nursery back."""
    actor.require("nursery.edit")
    return archiving.bring_back(actor=actor, row=nursery, verb="nursery")
