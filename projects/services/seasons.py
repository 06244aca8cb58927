"""Seasons: named spans of dates, one list for planting and one for reporting."""

from datetime import date
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from projects.access import Actor
from projects.errors import Refusal
from projects.models import Organisation, Season, SeasonKind
from projects.services import editing


@transaction.atomic
def make_season(*, actor: Actor, kind: str, label: str, starts_on: date, ends_on: date) -> Season:
    """Add a season."""
    actor.require("season.edit")
    _check_span(starts_on, ends_on)
    season = Season(kind=kind, label=label, starts_on=starts_on, ends_on=ends_on)
    with editing.refusing_duplicates("label", _taken(label)):
        return editing.make(actor, season, "season.made")


@transaction.atomic
def edit_season(*, actor: Actor, season: Season, version: str = "", **values: Any) -> Season:
    """Change a season's label or dates; its kind stays, since cohorts and rounds rest on it."""
    actor.require("season.edit")
    editing.ours(actor, season)
    values = {name: value for name, value in values.items() if name in ("label", "starts_on", "ends_on")}
    _check_span(values.get("starts_on", season.starts_on), values.get("ends_on", season.ends_on))
    with editing.refusing_duplicates("label", _taken(str(values.get("label", "")))):
        return editing.change(actor, season, values, "season.edited", version=version)


def _taken(label: str) -> str:
    return _("There already is a season called “%(label)s” of this kind.") % {"label": label}


def _check_span(starts_on: date, ends_on: date) -> None:
    if ends_on < starts_on:
        raise Refusal(_("A season ends on or after the day it starts."), field="ends_on")


def planting_season_on(organisation: Organisation, day: date) -> Season:
    """Return the one planting season that holds a day, or ask for it."""
    found = list(
        Season.objects.filter(
            organisation=organisation, kind=SeasonKind.PLANTING, starts_on__lte=day, ends_on__gte=day
        )[:2]
    )
    if len(found) == 1:
        return found[0]
    if found:
        raise Refusal(
            _("Several planting seasons hold this day; choose the one that is meant."), field="season"
        )
    raise Refusal(
        _("No planting season holds this day. Choose one, or ask a manager to add the season."),
        field="season",
    )
