"""Walks through planted ground between rounds: signs with where and how soon, never counts.

Nothing here enters an estimate. A sign that wants doing opens one care task; a walk on which nothing was seen is
a full answer too.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from projects import clocks, figures, history, walk_words
from projects.access import Actor
from projects.calc.walks_due import task_for_sign
from projects.errors import Refusal
from projects.models import Block, CareTask, Paper, PaperKind, Sighting, Sign, Submission, Urgency, Walk
from projects.services import care, editing, papers, reminders

MOST_SIGNS = 50


@dataclass(frozen=True)
class SeenSign:
    """One sign as somebody saw it.

    `photos` are sha256 digests of pictures that are stored already or arrive later; `uploads` are files as a form
    sends them.
    """

    sign: str
    urgency: str = Urgency.MONTH
    where: str = ""
    latitude: float | None = None
    longitude: float | None = None
    note: str = ""
    photos: Sequence[str] = ()
    uploads: Sequence[Any] = ()


@transaction.atomic
def record_walk(
    *,
    actor: Actor,
    block: Block,
    walked_on: date,
    sightings: Sequence[SeenSign] = (),
    note: str = "",
    submission: Submission | None = None,
) -> Walk:
    """Record a walk with any number of signs; without any, nothing was seen.

    A sign that is more than noted opens a care task. A walk is told once: the same submission, or the very same
    words of the same person about the same day, a second time returns the first.
    """
    if submission is None:  # the log lets in whoever may walk with a phone
        actor.require("walk.edit")
    editing.ours(actor, block, submission)
    if submission is not None and (told := Walk.objects.filter(submission=submission).first()):
        return told
    _check(block, walked_on, sightings)
    editing.held(block)  # two taps make one walk
    if submission is None and (same := _same(actor, block, walked_on, sightings, note)):
        return same
    walk = Walk(
        block=block, walked_on=walked_on, walked_by=actor.person, note=note.strip(), submission=submission
    )
    editing.make(actor, walk, "walk.recorded")
    for seen in sightings:
        _keep(actor, walk, seen)
    reminders.renew_walks(actor.organisation)
    return walk


@transaction.atomic
def void_walk(*, actor: Actor, walk: Walk, reason: str) -> Walk:
    """Take back a walk entered by mistake; tasks it opened that nobody did yet are dropped with it."""
    actor.require("walk.edit")
    editing.ours(actor, walk)
    if not reason.strip():
        raise Refusal(_("Say in a few words why this is taken back."), field="reason")
    changed = Walk.objects.filter(pk=walk.pk, voided_at__isnull=True).update(voided_at=timezone.now())
    if changed:
        history.record(actor, "walk.cancelled", walk, reason=reason)
        still_open = CareTask.objects.filter(
            sightings__walk=walk, done_on__isnull=True, dropped_at__isnull=True
        )
        for task in still_open.order_by("id"):
            care.drop_task(actor=actor, task=task, because=_("The walk that asked for it was taken back."))
        reminders.renew_walks(actor.organisation)
    walk.refresh_from_db()
    return walk


def _same(
    actor: Actor, block: Block, walked_on: date, sightings: Sequence[SeenSign], note: str
) -> Walk | None:
    """A walk that says the very same, if there is one."""
    told = [_words(seen) for seen in sightings]
    rows = Walk.objects.filter(
        block=block, walked_on=walked_on, walked_by=actor.person, note=note.strip(), voided_at__isnull=True
    )
    for walk in rows.prefetch_related("sightings"):
        if [_words(seen) for seen in walk.sightings.all()] == told:
            return walk
    return None


def _words(seen: SeenSign | Sighting) -> tuple[Any, ...]:
    return (seen.sign, seen.urgency, seen.where.strip(), seen.latitude, seen.longitude, seen.note.strip())


def _keep(actor: Actor, walk: Walk, seen: SeenSign) -> Sighting:
    row = Sighting(
        organisation=actor.organisation, walk=walk, sign=seen.sign, urgency=seen.urgency, where=seen.where.strip(),
        latitude=seen.latitude, longitude=seen.longitude, note=seen.note.strip(),
    )  # fmt: skip
    editing.well_formed(row)
    row.save(force_insert=True)
    row.task = _task(actor, row)
    if row.task is not None:
        row.save(update_fields=["task"])
    for sha256 in dict.fromkeys(seen.photos):
        Paper.objects.create(
            organisation=actor.organisation, kind=PaperKind.PHOTO, sha256=sha256, sighting=row
        )
    for upload in seen.uploads:
        papers.attach(actor=actor, subject=row, upload=upload, kind=PaperKind.PHOTO)
    return row


def _task(actor: Actor, seen: Sighting) -> CareTask | None:
    walk = seen.walk
    asked = task_for_sign(seen.sign, seen.urgency, walk.walked_on)
    if asked is None:
        return None
    return care.open_for_cause(
        block=walk.block, kind=asked.kind, what=walk_words.sign_task(seen.sign, seen.where), actor=actor,
        source_key=f"sighting:{seen.uid}", rule="sighting", due_from=asked.due_from, due_by=asked.due_by,
        why=walk_words.seen_words(figures.day(walk.walked_on), seen.note), source=_("seen on a walk"),
    )  # fmt: skip


def _check(block: Block, walked_on: date, sightings: Sequence[SeenSign]) -> None:
    if walked_on > clocks.today_at(block.site):
        raise Refusal(
            _("This day has not come yet; enter a walk that was made."), field="walked_on", code="future"
        )
    if len(sightings) > MOST_SIGNS:
        raise Refusal(_("Write at most %(n)s signs of one walk.") % {"n": MOST_SIGNS}, field="sightings")
    for seen in sightings:
        if seen.sign not in Sign.values:
            raise Refusal(_("Choose what was seen."), field="sign")
        if seen.urgency not in Urgency.values:
            raise Refusal(_("Choose how soon something should be done."), field="urgency")
        if (seen.latitude is None) != (seen.longitude is None):
            raise Refusal(_("A place needs both its latitude and its longitude."), field="latitude")
