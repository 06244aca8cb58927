"""The lots a crew takes along on a planting day: how many are meant, what they replace, how they are marked."""

from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from projects import history, versions
from projects.access import Actor
from projects.errors import Refusal
from projects.models import Block, Cohort, CrewDay, CrewDayLot, Season, SeasonKind, StockLot, TreeMark
from projects.services import editing
from projects.services.crew_days import held_open
from projects.services.editing import ChangedMeanwhile
from projects.services.planting import ordered_to_replace


@transaction.atomic
def add_lot(
    *,
    actor: Actor,
    crew_day: CrewDay,
    lot: StockLot,
    planned: int,
    replaces: Cohort | None = None,
    mark: str = TreeMark.NONE,
    mark_note: str = "",
) -> CrewDayLot:
    """Put a lot on a day. One that came against an order for replacements here replaces what that order names."""
    held = held_open(actor, crew_day)
    editing.ours(actor, lot, replaces)
    _check_lot(held, lot)
    values = _checked(held, lot, planned=planned, replaces=replaces, mark=mark, mark_note=mark_note)
    row = CrewDayLot(organisation=actor.organisation, crew_day=held, lot=lot, **values)
    editing.well_formed(row)
    row.save(force_insert=True)
    history.record(actor, "crew_day.lot_added", held, change={"lot": [None, f"{lot.code}: {planned}"]})
    return row


@transaction.atomic
def change_lot(*, actor: Actor, row: CrewDayLot, version: str = "", **values: Any) -> CrewDayLot:
    """Change what is meant with a lot of an open day."""
    editing.ours(actor, row, values.get("replaces"))
    held = held_open(actor, row.crew_day)
    current: CrewDayLot = editing.held(row)
    names = ("planned", "replaces", "mark", "mark_note")
    if version and version != versions.token(current):
        raise ChangedMeanwhile(current, {name: getattr(current, name) for name in names})
    asked = {name: values.get(name, getattr(current, name)) for name in names}
    told = {}
    for name, value in _checked(held, current.lot, **asked).items():
        if getattr(current, name) != value:
            told[name] = [history.plain(getattr(current, name)), history.plain(value)]
            setattr(current, name, value)
    if told:
        editing.well_formed(current)
        current.save()
        history.record(actor, "crew_day.lot_changed", held, change=told, reason=current.lot.code)
    return current


@transaction.atomic
def take_lot_off(*, actor: Actor, row: CrewDayLot) -> None:
    """Take a lot off an open day."""
    editing.ours(actor, row)
    held = held_open(actor, row.crew_day)
    gone, _which = CrewDayLot.objects.filter(pk=row.pk, crew_day=held).delete()
    if gone:
        history.record(actor, "crew_day.lot_taken_off", held, change={"lot": [row.lot.code, None]})


def _check_lot(day: CrewDay, lot: StockLot) -> None:
    if lot.archived_at:
        raise Refusal(
            _("This lot is put away. Bring it back, or choose the lot that was planted."), field="lot"
        )
    if day.lots.filter(lot=lot).exists():
        raise Refusal(
            _("This lot is on the day already. Change its number there: one lot is taken along once."),
            field="lot",
            code="taken",
        )


def _checked(
    day: CrewDay, lot: StockLot, *, planned: int, replaces: Cohort | None, mark: str, mark_note: str
) -> dict[str, Any]:
    if planned is None or planned < 1:
        raise Refusal(_("Write how many are meant to be planted, at least 1."), field="planned")
    if replaces is not None and replaces.block_id != day.block_id:
        raise Refusal(_("A replacement stands in the block of what it replaces."), field="replaces")
    replaces = _one_thing(day, lot, replaces)
    if replaces is not None and mark in ("", TreeMark.NONE):
        raise Refusal(
            _(
                "These trees replace losses of %(other)s. Choose how they are marked, or nobody can tell them from"
                " the trees that stand already."
            )
            % {"other": replaces},
            field="mark",
        )
    return {
        "planned": planned,
        "replaces": replaces,
        "mark": mark or TreeMark.NONE,
        "mark_note": mark_note.strip(),
    }


def _one_thing(day: CrewDay, lot: StockLot, replaces: Cohort | None) -> Cohort | None:
    """What the lot replaces here. A lot in a block and season is a first planting or one replacement, never both."""
    standing = planting_of(day.block, lot, day)
    if standing is None:
        return replaces or ordered_to_replace(day.block, lot)
    if replaces is not None and standing.replaces_id != replaces.pk:
        raise Refusal(
            _("This lot already stands here this season, not as a replacement of that. Leave this empty."),
            field="replaces",
        )
    return standing.replaces


def planting_of(block: Block, lot: StockLot, day: CrewDay) -> Cohort | None:
    """The planting of a lot in a block that this day would add to, where its season is plain."""
    held = Season.objects.filter(
        organisation=day.organisation,
        kind=SeasonKind.PLANTING,
        starts_on__lte=day.day,
        ends_on__gte=day.day,
    )
    seasons = list(held[:2])
    if len(seasons) != 1:
        return None
    return Cohort.objects.filter(block=block, lot=lot, season=seasons[0]).first()
