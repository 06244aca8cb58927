"""Looks at a lot where it changes hands: a person decides, and what the readings suggested is kept."""

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from projects import clocks, figures, handover_words, history
from projects.access import Actor
from projects.errors import Refusal
from projects.models import CheckVerdict, HandoverPoint, LotCheck, PaperKind, Person, RootCondition, StockLot
from projects.selectors.handovers import readings_of, suggestion_for
from projects.services import editing, papers, reminders

MOST_MEASURED = 500


@transaction.atomic
def add_check(
    *,
    actor: Actor,
    lot: StockLot,
    point: str,
    verdict: str,
    checked_at: datetime | None = None,
    photos: Iterable[Any] = (),
    **seen: Any,
) -> LotCheck:
    """Record a look at a lot from the desk; a verdict against what the figures suggest needs a reason.

    `seen` may hold counted, box_temperature_c, minutes_exposed, root_condition, sample_size, sample_bad,
    accept_up_to, heights_cm, collars_mm, because, note, checked_by.
    """
    actor.require("lot.edit")
    editing.ours(actor, lot, seen.get("checked_by"))
    checked_at = checked_at or timezone.now()
    _check_day(lot, point, checked_at)
    row = keep_check(actor=actor, lot=lot, point=point, verdict=verdict, checked_at=checked_at, **seen)
    for photo in photos:
        papers.attach(actor=actor, subject=row, upload=photo, kind=PaperKind.PHOTO)
    return row


@transaction.atomic
def keep_check(
    *,
    actor: Actor,
    lot: StockLot,
    point: str,
    verdict: str,
    checked_at: datetime,
    counted: int | None = None,
    box_temperature_c: float | None = None,
    minutes_exposed: int | None = None,
    root_condition: str = RootCondition.NOT_SEEN,
    sample_size: int | None = None,
    sample_bad: int | None = None,
    accept_up_to: int | None = None,
    heights_cm: Sequence[float] = (),
    collars_mm: Sequence[float] = (),
    because: str = "",
    note: str = "",
    checked_by: Person | None = None,
    submission: Any = None,
) -> LotCheck:
    """Keep a look as it was told, without asking for a verb: the field log has asked for the phone's right before.

    Odd days are kept, as a phone cannot be asked again; what no row can hold is refused.
    """
    editing.ours(actor, lot, checked_by, submission)
    row = LotCheck(
        lot=lot, point=point, verdict=verdict, checked_at=checked_at, checked_by=checked_by or actor.person,
        counted=counted, box_temperature_c=box_temperature_c, minutes_exposed=minutes_exposed,
        root_condition=root_condition, sample_size=sample_size, sample_bad=sample_bad, accept_up_to=accept_up_to,
        heights_cm=list(heights_cm), collars_mm=list(collars_mm), because=because.strip(), note=note,
        submission=submission,
    )  # fmt: skip
    _check_facts(row)
    suggested = suggestion_for(lot, readings_of(row))
    why = handover_words.because(suggested)
    if not row.because and suggested.verdict == verdict:
        row.because = why
    if not row.because and verdict != CheckVerdict.ACCEPT:
        raise Refusal(_("Say in a few words why it is held or rejected."), field="because")
    if not row.because and suggested.verdict not in ("", verdict):
        raise Refusal(
            _(
                "The readings suggest to %(verdict)s (%(why)s). Say in a few words why you accept all the same."
            )
            % {"verdict": CheckVerdict(suggested.verdict).label, "why": why},
            field="because",
            code="against_readings",
        )
    row.organisation = actor.organisation
    editing.well_formed(row)
    row.save(force_insert=True)
    history.record(
        actor, "lot_check.made", row,
        change={"verdict": [None, verdict], "suggested": [None, _told(suggested.verdict, why)]},
    )  # fmt: skip
    reminders.renew_lots(actor.organisation, [lot.pk])
    return row


@transaction.atomic
def void_check(*, actor: Actor, check: LotCheck, reason: str) -> LotCheck:
    """Take back a check entered by mistake; it stays on the page, struck out."""
    actor.require("lot.edit")
    editing.ours(actor, check)
    if not reason.strip():
        raise Refusal(_("Say in a few words why this is taken back."), field="reason")
    changed = LotCheck.objects.filter(pk=check.pk, voided_at__isnull=True).update(voided_at=timezone.now())
    if changed:
        history.record(actor, "lot_check.cancelled", check, reason=reason)
        reminders.renew_lots(actor.organisation, [check.lot_id])
    check.refresh_from_db()
    return check


def _told(verdict: str, why: str) -> str | None:
    return f"{verdict}: {why}" if verdict else None


def _check_day(lot: StockLot, point: str, checked_at: datetime) -> None:
    zone = clocks.zone(lot.organisation.time_zone)
    day = checked_at.astimezone(zone).date()
    if day > clocks.today_of(lot.organisation):
        raise Refusal(_("This day has not come yet; enter what has been looked at."), field="checked_at")
    if lot.lifted_on is not None and day < lot.lifted_on:
        raise Refusal(
            _("The lot was lifted on %(day)s, so it cannot have been looked at before.")
            % {"day": figures.day(lot.lifted_on)},
            field="checked_at",
        )
    if point != HandoverPoint.NURSERY and day < lot.received_on:
        raise Refusal(
            _("The lot came on %(day)s. A look before that was at the nursery.")
            % {"day": figures.day(lot.received_on)},
            field="checked_at",
        )


def _check_facts(row: LotCheck) -> None:
    if row.point not in HandoverPoint.values:
        raise Refusal(_("Choose where the lot changed hands."), field="point")
    if row.verdict not in CheckVerdict.values:
        raise Refusal(_("Choose: accept, hold or reject."), field="verdict")
    check_readings(row)


def check_readings(row: LotCheck) -> None:
    """Refuse readings that cannot be, such as more bad plants than were looked at."""
    if (row.sample_size is None) != (row.sample_bad is None):
        raise Refusal(
            _(
                "Write both: how many plants were looked at closely, and how many of them are not fit to plant."
            ),
            field="sample_bad" if row.sample_bad is None else "sample_size",
        )
    if row.sample_size == 0:
        raise Refusal(
            _("A sample holds at least one plant. Leave it empty if none was drawn."), field="sample_size"
        )
    if row.sample_size is not None and row.sample_bad is not None and row.sample_bad > row.sample_size:
        raise Refusal(
            _("No more plants are bad than were looked at. Check both numbers."), field="sample_bad"
        )
    if row.accept_up_to is not None and row.sample_size is not None and row.accept_up_to >= row.sample_size:
        raise Refusal(
            _(
                "A sample of %(number)s turns no lot down that is accepted with up to %(most)s. Check both numbers."
            )
            % {"number": figures.quantity(row.sample_size), "most": figures.quantity(row.accept_up_to)},
            field="accept_up_to",
        )
    if row.heights_cm and row.collars_mm and len(row.heights_cm) != len(row.collars_mm):
        raise Refusal(
            _(
                "There are %(heights)s heights and %(collars)s diameters. Write both for each plant, in the same order."
            )
            % {"heights": len(row.heights_cm), "collars": len(row.collars_mm)},
            field="collars_mm",
        )
    for name in ("heights_cm", "collars_mm"):
        measures = getattr(row, name)
        if len(measures) > MOST_MEASURED or not all(0 < one < 10_000 for one in measures):
            raise Refusal(_("Measures are numbers above 0, at most 500 of them."), field=name)
