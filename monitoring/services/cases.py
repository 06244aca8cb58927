"""Doubts a field lead should settle: opened from flags, closed by decisions, rebuilt from both."""

import json
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID, uuid4

from django.utils.translation import gettext as _

from monitoring.calc.revision_tree import Standing
from monitoring.models import Case, CaseKind, SurvivalPlot, Visit
from projects.access import Actor
from projects.errors import Refusal
from projects.identifiers import derived_uid
from projects.models import Decision
from projects.services import log

ACCEPT, DISCARD, USE = "accept", "discard", "use"
DECISION = "case.settled"


@dataclass
class Decided:
    """What leads decided about one plot, by round."""

    by_case: dict[UUID, tuple[int, dict[str, Any]]] = field(default_factory=dict)
    chosen_root: dict[int | None, UUID] = field(default_factory=dict)
    discarded: dict[int | None, set[UUID]] = field(default_factory=lambda: defaultdict(set))


def case_uid(kind: str, plot: SurvivalPlot, round_uid: UUID | None, root: UUID) -> UUID:
    """Return the identity of a doubt, the same whenever it is opened again."""
    return derived_uid("case", kind, plot.uid, round_uid or "", root)


def possible_cases(plot: SurvivalPlot, visits: Sequence[Visit]) -> dict[UUID, tuple[str, int | None, UUID]]:
    """Return every case these visits could open: uid -> (kind, round id, visit root)."""
    found = {}
    for visit in visits:
        round_uid = visit.round.uid if visit.round else None
        for kind in CaseKind.values:
            root = plot.uid if kind == CaseKind.SECOND_ROOT else visit.root
            found[case_uid(kind, plot, round_uid, root)] = (kind, visit.round_id, root)
    return found


def decided(plot: SurvivalPlot, visits: Sequence[Visit]) -> Decided:
    """Read the decisions about the doubts of one plot; the latest about each stands."""
    known, result = possible_cases(plot, visits), Decided()
    rows = Decision.objects.filter(
        organisation_id=plot.organisation_id, kind=DECISION, subject_uid__in=list(known)
    ).order_by("seq")
    for row in rows:
        result.by_case[row.subject_uid] = (row.seq, json.loads(row.body))
    for uid, (_seq, body) in result.by_case.items():
        kind, round_id, root = known[uid]
        if kind == CaseKind.SECOND_ROOT and body.get("as") == USE:
            result.chosen_root[round_id] = UUID(body["root"])
        elif body.get("as") == DISCARD:
            result.discarded[round_id].add(root)
    return result


def bring_up_to_date(
    plot: SurvivalPlot, visits: Sequence[Visit], standings: dict[int | None, Standing], known: Decided
) -> None:
    """Open, settle and drop cases so that they match the flags and decisions of a plot."""
    wanted = {case.uid: case for case in wanted_cases(plot, visits, standings, known)}
    stored = {case.uid: case for case in Case.objects.filter(plot=plot)}
    Case.objects.filter(pk__in=[case.pk for uid, case in stored.items() if uid not in wanted]).delete()
    Case.objects.bulk_create([case for uid, case in wanted.items() if uid not in stored])
    changed = []
    for uid, case in wanted.items():
        old = stored.get(uid)
        if old and (old.facts, old.settled_seq, old.settled_as) != (
            case.facts,
            case.settled_seq,
            case.settled_as,
        ):
            case.pk = old.pk
            changed.append(case)
    Case.objects.bulk_update(changed, ["facts", "settled_seq", "settled_as"])


def wanted_cases(
    plot: SurvivalPlot, visits: Sequence[Visit], standings: dict[int | None, Standing], known: Decided
) -> Iterable[Case]:
    """Yield one case per flag of the visits that count or compete to count."""
    seen = set()
    for visit in visits:
        found = standings[visit.round_id]
        barred = visit.root in known.discarded.get(visit.round_id, ())
        if not visit.is_head or not (
            visit.is_counting or visit.root in found.rivals or barred or visit.round is None
        ):
            continue
        for flag in visit.flags or (cases_of_barred(visit, known) if barred else ()):
            root = plot.uid if flag == CaseKind.SECOND_ROOT else visit.root
            uid = case_uid(flag, plot, visit.round.uid if visit.round else None, root)
            if uid not in seen:
                seen.add(uid)
                yield built(uid, flag, plot, visit, root, found, known)


def cases_of_barred(visit: Visit, known: Decided) -> Iterable[str]:
    """A discarded visit keeps the cases that were decided, even when a flag has gone."""
    round_uid = visit.round.uid if visit.round else None
    return [k for k in CaseKind.values if case_uid(k, visit.plot, round_uid, visit.root) in known.by_case]


def built(
    uid: UUID, kind: str, plot: SurvivalPlot, visit: Visit, root: UUID, found: Standing, known: Decided
) -> Case:
    """Return a case with its facts and, where a decision covers it, how it was settled."""
    rivals = sorted(str(rival) for rival in found.rivals)
    seq, body = known.by_case.get(uid, (None, {}))
    covered = kind != CaseKind.SECOND_ROOT or set(rivals) <= set(body.get("roots", []))
    return Case(
        uid=uid, organisation_id=plot.organisation_id, kind=kind, round_id=visit.round_id, plot=plot,
        visit_root=root, facts={"rivals": rivals} if kind == CaseKind.SECOND_ROOT else {},
        settled_seq=seq if covered else None, settled_as=body.get("as", "") if covered else "",
    )  # fmt: skip


def choices(case: Case) -> list[tuple[str, str]]:
    """Return the ways a case can be settled: (value, words)."""
    if case.kind == CaseKind.SECOND_ROOT:
        return [(f"{USE}:{root}", _("Use this count")) for root in case.facts.get("rivals", [])]
    keep = _("Keep the count; what is above the baseline stays capped")
    words = keep if case.kind == CaseKind.OVER_BASELINE else _("Keep the count as it is")
    return [(ACCEPT, words), (DISCARD, _("Do not use this visit"))]


def settle_case(*, actor: Actor, case: Case, choice: str, reason: str) -> Decision:
    """Append a lead's decision about a case; the plot is settled again at once."""
    actor.require("case.settle")
    if choice not in dict(choices(case)):
        raise Refusal(_("Choose one of the ways to settle this case."), field="choice")
    if not reason.strip():
        raise Refusal(_("Write in a few words why, so that others can follow the decision."), field="reason")
    verdict, _sep, root = choice.partition(":")
    body = {"as": verdict, "reason": reason.strip()[:300]}
    if root:
        body |= {"root": root, "roots": case.facts.get("rivals", [])}
    text = json.dumps(body, ensure_ascii=False, sort_keys=True)
    return log.decide(actor, client_id=uuid4(), kind=DECISION, subject_uid=case.uid, body=text)
