"""Counts typed at a desk. They enter the same log as a phone's, but what is odd is refused with its reason,
since the person who could mend it is sitting there."""

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from monitoring.calc.revision_tree import leaves_of
from monitoring.models import BaselineSource, PlotBaseline, SurveyRound, SurvivalPlot, Visit
from monitoring.services.plot_records import revision_of
from projects.access import Actor
from projects.errors import Refusal
from projects.identifiers import uuid7
from projects.models import Cohort, Unit
from projects.services import log
from species.models import Species

REFUSED_AT_THE_DESK = frozenset(
    {
        "over_baseline",
        "sum_open",
        "future_date",
        "before_planting",
        "late",
        "contradicts_earlier",
        "second_root",
    }
)


def flag_words() -> dict[str, tuple[str, str]]:
    """Return for each flag the field at fault and what to do."""
    return {
        "over_baseline": (
            "alive",
            _("More are alive than were planted. Count again, or correct the baseline of the plot first."),
        ),
        "sum_open": (
            "not_found",
            _("The line does not add up to what was planted. Leave “not found” empty to take the remainder."),
        ),
        "future_date": ("observed_on", _("The date lies in the future. Write the day the plot was visited.")),
        "before_planting": ("observed_on", _("The date lies before the trees were planted. Check the year.")),
        "late": (
            "observed_on",
            _("The date lies after the round closed. Check the date, or move the round's closing day."),
        ),
        "contradicts_earlier": (
            "alive",
            _("More are alive than could be after the visit before. Tick “resprout” where they came again."),
        ),
        "second_root": (
            "plot",
            _("This plot was counted in this round already. Correct that visit instead of adding a second."),
        ),
    }


@dataclass(frozen=True)
class EntryFault:
    """Why an entry was not taken: the place in the record and what to do."""

    pointer: str
    detail: str
    code: str = ""


class EntryRefused(Refusal):
    """A record typed or uploaded by a person who can mend it; nothing of it was stored."""

    code = "entry_refused"

    def __init__(self, faults: Sequence[EntryFault]) -> None:
        super().__init__(" ".join(fault.detail for fault in faults), field=faults[0].pointer)
        self.faults = tuple(faults)


@dataclass(frozen=True)
class Entry:
    """One visit to enter: the body as `visit/1` names its parts, and who saw it."""

    body: dict[str, Any]
    id: UUID
    personal: dict[str, Any]


def new_entry(body: dict[str, Any], *, id: UUID | None = None, note: str = "") -> Entry:
    """Return an entry for a new visit or revision; a root's id is its visit."""
    personal = {"note": note} if note else {}
    return Entry(body=body, id=id or UUID(str(body["visit"])), personal=personal)


def correction_of(head: Visit | None) -> tuple[UUID, UUID, list[str]]:
    """Return (visit, id, parents) for what follows a head, or for a first visit where there is none.

    A correction at the desk ends a fork: it follows every revision that nobody corrected yet.
    """
    if head is None:
        root = uuid7()
        return root, root, []
    rows = Visit.objects.filter(organisation_id=head.organisation_id, root=head.root).order_by("uid")
    revisions = [revision_of(row) for row in rows]
    leaves = leaves_of(head.root, revisions)
    return head.root, uuid7(), [str(head.uid), *(str(leaf) for leaf in leaves if leaf != head.uid)]


def item_of(entry: Entry) -> log.Item:
    """Return the record as it enters the log."""
    text = json.dumps(entry.body, ensure_ascii=False, default=str)
    return log.Item(
        id=entry.id,
        kind="visit",
        schema="visit/1",
        sha256=hashlib.sha256(text.encode()).hexdigest(),
        body=text,
        personal=json.dumps(entry.personal, ensure_ascii=False) if entry.personal else "",
    )


@transaction.atomic
def enter(
    *, actor: Actor, entry: Entry, source: str = "desk", tolerate: frozenset[str] = frozenset()
) -> log.Outcome:
    """Store one entry, or raise `EntryRefused` and store nothing.

    `tolerate` names flags that the person saw and confirmed.
    """
    actor.require("visit.add")
    (outcome,) = log.append_items(actor, [item_of(entry)], source=source)
    faults = faults_of(outcome, tolerate)
    if faults:
        raise EntryRefused(faults)
    return outcome


def faults_of(outcome: log.Outcome, tolerate: frozenset[str] = frozenset()) -> list[EntryFault]:
    """Return why an outcome is not good enough at a desk; empty when it is."""
    if outcome.outcome in (log.REJECTED, log.REUSED):
        return [EntryFault(fault.pointer, fault.detail, outcome.code) for fault in outcome.faults]
    if outcome.outcome == log.RETRY:
        return [
            EntryFault("", _("The database was busy. Press the button again; nothing was stored."), "retry")
        ]
    words = flag_words()
    refused = [flag for flag in outcome.flags if flag in REFUSED_AT_THE_DESK and flag not in tolerate]
    return [EntryFault(words[flag][0], words[flag][1], flag) for flag in refused]


# --- whole records ---------------------------------------------------------------------------
def visit_record(
    *,
    plot: SurvivalPlot,
    survey_round: SurveyRound | None,
    observed_on: date,
    lines: Sequence[dict[str, Any]] = (),
    head: Visit | None = None,
    status: str = "counted",
    reason: str = "",
    **parts: Any,
) -> Entry:
    """Return the entry of a survival visit, correcting `head` where there is one."""
    root, id_, parents = correction_of(head)
    body = {
        "visit": str(root),
        "parents": parents,
        "plot": str(plot.uid),
        "round": str(survey_round.uid) if survey_round else None,
        "purpose": "survival" if survey_round else "baseline",
        "observed_on": observed_on.isoformat(),
        "captured_at": timezone.now().isoformat(),
        "clock_offset_ms": None,
        "status": status,
        "reason": reason,
        "lines": list(lines),
    }
    note = parts.pop("note", "")
    return new_entry({**body, **parts}, id=id_, note=note)


@transaction.atomic
def set_baseline(
    *,
    actor: Actor,
    plot: SurvivalPlot,
    species: Species,
    planted: int | None,
    counted_on: date,
    cohort: Cohort | None = None,
    line: UUID | None = None,
    source: str = BaselineSource.AT_PLANTING,
    unit: str = Unit.TREE,
) -> UUID:
    """Record how many were planted in a plot, through the log; return the baseline's line.

    Give `line` to revise a baseline: visits that name it are settled against the new figure. The latest day
    stands, so an earlier one is refused.
    """
    actor.require("plot.edit")
    uid = line or uuid7()
    row = {
        "uid": str(uid),
        "species": species.slug,
        "cohort": str(cohort.uid) if cohort else None,
        "planted": planted,
        "unit": unit,
        "source": source,
        "counted_on": counted_on.isoformat(),
    }
    entry = visit_record(plot=plot, survey_round=None, observed_on=counted_on, baselines=[row])
    outcome = enter(actor=actor, entry=entry)
    ours = PlotBaseline.objects.filter(organisation=actor.organisation, line=uid, is_current=True)
    if not ours.filter(submission_seq=outcome.seq).exists():
        raise Refusal(
            _(
                "This baseline was counted again on a later day, and the latest stands. Write that day or later."
            ),
            field="counted_on",
        )
    return uid
