"""Doubts a field lead should settle: opened from flags, closed by decisions, rebuilt from both."""

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID, uuid4

from django.db import transaction
from django.utils.translation import gettext as _

from monitoring.models import CASES_OF_FIGURES, Case, CaseKind, SurvivalPlot, Visit
from monitoring.services import case_ranges
from monitoring.services.column_updates import write_columns
from monitoring.services.plot_records import Place, PlotRecord, place_of
from projects.access import Actor
from projects.errors import Refusal
from projects.identifiers import derived_uid
from projects.models import Decision
from projects.services import chain, log

ACCEPT, DISCARD, USE = "accept", "discard", "use"
DECISION = "case.settled"
OF_SHEETS = tuple(kind for kind in CaseKind.values if kind not in CASES_OF_FIGURES)
Doubt = tuple[str, Any]  # a kind, and the visit it is about or, for two counts of one plot, the place


@dataclass
class Decided:
    """What leads decided about some plots. A decision about a visit follows it to another plot or round."""

    by_doubt: dict[Doubt, tuple[int, dict[str, Any]]] = field(default_factory=dict)
    chosen_root: dict[Place, UUID] = field(default_factory=dict)
    discarded: set[UUID] = field(default_factory=set)


def case_uid(kind: str, plot: SurvivalPlot, round_uid: UUID | None, root: UUID) -> UUID:
    """Return the identity of a doubt, the same whenever it is opened again."""
    return derived_uid("case", kind, plot.uid, round_uid or "", root)


def doubt_of(kind: str, visit: Visit) -> Doubt:
    return (kind, place_of(visit) if kind == CaseKind.SECOND_ROOT else visit.root)


def uid_of(kind: str, visit: Visit) -> UUID:
    """Return the identity of a doubt about a visit, or about its plot in its round."""
    root = visit.plot.uid if kind == CaseKind.SECOND_ROOT else visit.root
    return case_uid(kind, visit.plot, visit.round.uid if visit.round else None, root)


def possible_cases(record: PlotRecord) -> dict[UUID, Doubt]:
    """Return every case these visits could ever have opened."""
    visits = {(visit.root, place_of(visit)): visit for visit in record.visits}
    return {uid_of(kind, v): doubt_of(kind, v) for v in visits.values() for kind in OF_SHEETS}


def decided(record: PlotRecord) -> Decided:
    """Read the decisions about the doubts of some plots; the latest about each stands."""
    known, result = possible_cases(record), Decided()
    rows = Decision.objects.filter(
        organisation_id=record.organisation_id, kind=DECISION, subject_uid__in=list(known)
    )
    for row in rows.order_by("seq"):
        result.by_doubt[known[row.subject_uid]] = (row.seq, json.loads(row.body))
    for (kind, subject), (_seq, body) in result.by_doubt.items():
        if kind == CaseKind.SECOND_ROOT and body.get("as") == USE:
            result.chosen_root[subject] = UUID(body["root"])
        elif body.get("as") == DISCARD:
            result.discarded.add(subject)
    return result


def bring_up_to_date(record: PlotRecord, known: Decided) -> set[Place]:
    """Open, settle and drop cases so that they match flags and decisions; return where any changed."""
    wanted = {case.uid: case for case in wanted_cases(record, known)}
    rows = Case.objects.filter(plot_id__in=record.plots).exclude(kind__in=CASES_OF_FIGURES)
    stored = {case.uid: case for case in rows}
    gone = [case for uid, case in stored.items() if uid not in wanted]
    new = [case for uid, case in wanted.items() if uid not in stored]
    changed = [case for uid, case in wanted.items() if uid in stored and says(case) != says(stored[uid])]
    for case in changed:
        case.pk = stored[case.uid].pk
    if gone:
        Case.objects.filter(pk__in=[case.pk for case in gone]).delete()
    Case.objects.bulk_create(new)
    write_columns(changed, ["facts", "settled_seq", "settled_as"])
    return {(case.plot_id, case.round_id) for case in (*gone, *new, *changed)}


def says(case: Case) -> tuple[Any, ...]:
    return case.facts, case.settled_seq, case.settled_as


def wanted_cases(record: PlotRecord, known: Decided) -> Iterator[Case]:
    """Yield one case per doubt about the visits that count, compete to count, or were put aside."""
    seen: set[UUID] = set()
    for visit in record.visits:
        barred = visit.root in known.discarded
        competes = visit.is_counting or visit.root in record.contest_of(visit).rivals
        if not visit.is_head or not (competes or barred or visit.round is None):
            continue
        for kind in sorted({*visit.flags, *(decided_kinds(visit, known) if barred else ())}):
            uid = uid_of(kind, visit)
            if uid not in seen:
                seen.add(uid)
                yield built(uid, kind, visit, record, known)


def decided_kinds(visit: Visit, known: Decided) -> Iterator[str]:
    """A visit put aside keeps the cases that were decided, even when a flag has gone: how else to take it back?"""
    return (kind for kind in OF_SHEETS if (kind, visit.root) in known.by_doubt)


def built(uid: UUID, kind: str, visit: Visit, record: PlotRecord, known: Decided) -> Case:
    """Return a case with its facts and, where a decision covers them, how it was settled.

    A decision covers what the lead saw: these rivals, or this revision. After a correction the case is open
    again; a visit put aside stays so until a lead says otherwise.
    """
    is_contest = kind == CaseKind.SECOND_ROOT
    rivals = sorted(str(rival) for rival in record.contest_of(visit).rivals)
    seq, body = known.by_doubt.get(doubt_of(kind, visit), (None, {}))
    covered = (
        set(rivals) <= set(body.get("roots", []))
        if is_contest
        else body.get("head") in (None, str(visit.uid))
    )
    facts: dict[str, Any] = {"rivals": rivals} if is_contest else {"head": str(visit.uid)}
    if ranges := case_ranges.ranges_of(record, visit, kind):
        facts["ranges"] = ranges
    return Case(
        uid=uid, organisation_id=record.organisation_id, kind=kind, round_id=visit.round_id, plot=visit.plot,
        visit_root=visit.plot.uid if is_contest else visit.root,
        facts=facts,
        settled_seq=seq if covered else None, settled_as=body.get("as", "") if covered else "",
    )  # fmt: skip


def choices(case: Case) -> list[tuple[str, str]]:
    """Return the ways a case can be settled: (value, words)."""
    if case.kind == CaseKind.SECOND_ROOT:
        return [(f"{USE}:{root}", _("Use this count")) for root in case.facts.get("rivals", [])]
    if case.kind == CaseKind.OUTLIER:
        return [(ACCEPT, _("The count is right; the plot stays in the figures as it does now"))]
    if case.kind == CaseKind.TOTALS_DISAGREE:
        return [(ACCEPT, _("The reason is known; leave the figures as they are"))]
    keep = _("Keep the count; what is above the baseline stays capped")
    words = keep if case.kind == CaseKind.OVER_BASELINE else _("Keep the count as it is")
    return [(ACCEPT, words), (DISCARD, _("Do not use this visit"))]


@transaction.atomic
def settle_case(*, actor: Actor, case: Case, choice: str, reason: str) -> Decision:
    """Append a lead's decision about a case as it was shown; the plot is settled again at once."""
    actor.require("case.settle")
    chain.locked_head(actor.organisation)
    now = Case.objects.filter(organisation=actor.organisation, uid=case.uid).first()
    if now is None or now.facts != case.facts:
        raise Refusal(
            _("A correction arrived in the meantime. Look at the visits again, then decide."),
            field="choice",
            code="case_changed",
        )
    if choice not in dict(choices(case)):
        raise Refusal(_("Choose one of the ways to settle this case."), field="choice")
    if not reason.strip():
        raise Refusal(_("Write in a few words why, so that others can follow the decision."), field="reason")
    text = json.dumps(verdict(case, choice, reason.strip()[:300]), ensure_ascii=False, sort_keys=True)
    return log.decide(actor, client_id=uuid4(), kind=DECISION, subject_uid=case.uid, body=text)


def verdict(case: Case, choice: str, reason: str) -> dict[str, Any]:
    """Return a decision with what the lead saw when taking it."""
    word, _sep, root = choice.partition(":")
    seen = {"root": root, "roots": case.facts.get("rivals", [])} if root else {"head": case.facts.get("head")}
    plot = {"plot": str(case.plot.uid)} if case.plot else {}
    return {"as": word, "reason": reason, **plot, **seen}
