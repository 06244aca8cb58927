"""The evening of a planting day: what became of each lot, entered all at once; and taken back the same way."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import time
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from projects import clocks, history
from projects.access import Actor
from projects.errors import Refusal
from projects.models import CrewDay, CrewDayLot, CrewDayState, LotMovement, MovementKind, Season
from projects.services import editing, movements, planting, reminders
from projects.services.crew_days import held_open, remembered

# Under these keys `CrewDay.readings` names the movements of lots that closing made, as {uid: the box it was typed in}.
MOVEMENTS, TAKEN_BACK = "movements", "taken_back"
NUMBERS = ("planted", "culled", "damaged", "lost")


@dataclass(frozen=True)
class LotEvening:
    """What became of one lot that day; `damaged` was brought back unfit to plant. [plants]"""

    row_id: int
    planted: int = 0
    culled: int = 0
    damaged: int = 0
    lost: int = 0
    taken: int | None = None

    @property
    def accounted(self) -> int:
        return self.planted + self.culled + self.damaged + self.lost


@transaction.atomic
def close_day(
    *,
    actor: Actor,
    crew_day: CrewDay,
    lots: Sequence[LotEvening],
    back: Mapping[int, time | None] | None = None,
    clean_tools: bool | None = None,
    season: Season | None = None,
) -> CrewDay:
    """Close a day: its planting days, what else became of its lots and who was back when, in one transaction.

    `back` is {id of a row of `people`: when}. A form posted twice finds the day closed and makes nothing twice.
    """
    held = held_open(actor, crew_day)
    editing.ours(actor, season)
    rows = {row.pk: row for row in held.lots.select_related("lot__species", "replaces")}
    _check_evening(held, rows, lots)
    made: dict[str, str] = {}
    with reminders.at_the_end(actor.organisation):
        for told in lots:
            _enter(actor, held, rows[told.row_id], told, season, made)
    for pk, back_at in (back or {}).items():
        held.people.filter(pk=pk).update(back_at=back_at)
    held.state, held.closed_at, held.clean_tools = CrewDayState.CLOSED, timezone.now(), clean_tools
    held.readings = {**held.readings, MOVEMENTS: made}
    held.save(update_fields=["state", "closed_at", "clean_tools", "readings"])
    totals = {name: [None, sum(getattr(told, name) for told in lots)] for name in NUMBERS}
    history.record(actor, "crew_day.closed", held, change=totals)
    return remembered(held)


def _check_evening(day: CrewDay, rows: Mapping[int, CrewDayLot], lots: Sequence[LotEvening]) -> None:
    if day.day > clocks.today_at(day.block.site):
        raise Refusal(_("This day has not come yet; enter what has been planted."), code="future")
    if {told.row_id for told in lots} != set(rows) or len(lots) != len(rows):
        raise Refusal(
            _("The lots of this day changed meanwhile. Look at them again, then close the day."),
            code="changed",
        )
    for told in lots:
        _check_numbers(rows[told.row_id], told)
    if not any(told.accounted for told in lots):
        raise Refusal(
            _("Nothing was planted and nothing was lost: call the day off, with why."), code="empty"
        )
    if day.state == CrewDayState.NO_GO and any(told.planted for told in lots):
        raise Refusal(
            _(
                "This morning's answer was not to plant. Decide on it again, with why, before closing the day."
            ),
            code="no_go",
        )


def _check_numbers(row: CrewDayLot, told: LotEvening) -> None:
    for name in NUMBERS:
        if getattr(told, name) < 0:
            raise Refusal(_("A number of plants is 0 or more."), field=f"{name}_{row.pk}")
    if told.taken is not None and told.accounted > told.taken:
        raise Refusal(
            _(
                "%(out)s plants of %(lot)s are told of, but only %(taken)s were taken out. One of the numbers is wrong."
            )
            % {"out": told.accounted, "lot": row.lot.code, "taken": told.taken},
            field=f"taken_{row.pk}",
        )


def _enter(
    actor: Actor, day: CrewDay, row: CrewDayLot, told: LotEvening, season: Season | None, made: dict[str, str]
) -> None:
    """Enter one lot: what was planted, and what is neither planted nor back in store."""
    if row.taken != told.taken:
        CrewDayLot.objects.filter(pk=row.pk).update(taken=told.taken)
    if told.planted:
        _said_of(
            row, "planted", planting.plant, actor=actor, block=day.block, lot=row.lot, planted_on=day.day,
            quantity=told.planted, season=season, replaces=row.replaces, crew=day.crew, crew_day=day,
            mark=row.mark, mark_note=row.mark_note,
        )  # fmt: skip
    left = (
        ("culled", MovementKind.CULLED, told.culled, _("culled on the planting day")),
        ("damaged", MovementKind.CULLED, told.damaged, _("brought back damaged from the planting day")),
        ("lost", MovementKind.LOST, told.lost, _("lost on the planting day")),
    )
    for name, kind, quantity, note in left:
        if quantity:
            moved = _said_of(
                row, name, movements.move, actor=actor, lot=row.lot, kind=kind, quantity=quantity,
                moved_on=day.day, note=note,
            )  # fmt: skip
            made[str(moved.uid)] = name


def _said_of(row: CrewDayLot, name: str, service: Callable[..., Any], **values: Any) -> Any:
    """Run a service; what it refuses is said of this lot's box, but for the season, which has its own."""
    try:
        return service(**values)
    except Refusal as refusal:
        if refusal.field == "season":
            raise
        words = _("%(lot)s: %(what)s") % {"lot": row.lot.code, "what": refusal.message}
        raise Refusal(words, field=f"{name}_{row.pk}", code=refusal.code) from refusal


@transaction.atomic
def open_again(*, actor: Actor, crew_day: CrewDay, reason: str) -> CrewDay:
    """Open a day that was closed by mistake: what it entered is taken back. Or take up one that was called off."""
    actor.require("planting.edit")
    editing.ours(actor, crew_day)
    held: CrewDay = editing.held(crew_day)
    if held.state not in (CrewDayState.CLOSED, CrewDayState.CALLED_OFF):
        return held
    if not reason.strip():
        raise Refusal(_("Say in a few words why the day is opened again."), field="reason")
    with reminders.at_the_end(actor.organisation):
        for planted in held.planting_days.filter(voided_at__isnull=True).order_by("id"):
            planting.void_planting_day(actor=actor, day=planted, reason=reason)
        for movement in movements_of(held):
            movements.void_movement(actor=actor, movement=movement, reason=reason)
    was_decided = held.readings.get("verdict") is not None and held.state == CrewDayState.CLOSED
    held.state = CrewDayState.GO if was_decided else CrewDayState.PLANNED
    if not was_decided:
        held.decided_by, held.decided_at, held.decided_because = None, None, ""
    held.closed_at = None
    kept = {name: value for name, value in held.readings.items() if name != MOVEMENTS}
    held.readings = kept | {TAKEN_BACK: held.readings.get(MOVEMENTS, {})}
    held.save(update_fields=["state", "closed_at", "readings", "decided_by", "decided_at", "decided_because"])
    history.record(actor, "crew_day.reopened", held, reason=reason.strip())
    return remembered(held)


def movements_of(day: CrewDay) -> list[LotMovement]:
    """What closing a day entered besides planting days, as far as it still stands."""
    uids = [UUID(uid) for uid in day.readings.get(MOVEMENTS, {})]
    rows = LotMovement.objects.filter(organisation=day.organisation_id, uid__in=uids, voided_at__isnull=True)
    return list(rows.select_related("lot").order_by("id"))


def said_before(day: CrewDay) -> dict[str, int]:
    """What a closing that was taken back had said, by the name of its box, to begin again from."""
    row_of = dict(day.lots.values_list("lot_id", "pk"))
    undone = day.planting_days.filter(voided_at__isnull=False, lot__in=row_of).order_by("voided_at", "id")
    found = {f"planted_{row_of[row.lot_id]}": row.quantity for row in undone}
    box_of = {UUID(uid): box for uid, box in day.readings.get(TAKEN_BACK, {}).items()}
    moved = LotMovement.objects.filter(organisation=day.organisation_id, uid__in=box_of, lot__in=row_of)
    return found | {f"{box_of[row.uid]}_{row_of[row.lot_id]}": row.quantity for row in moved}
