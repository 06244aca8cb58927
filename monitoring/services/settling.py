"""Settle one plot: which revisions stand, which visit counts, what is odd, which doubts are open.

Everything here is worked out afresh from the rows of the plot, so the order of arrival never matters.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db.models import Min

from monitoring.calc.revision_tree import Revision, Standing, standing
from monitoring.calc.sheet_checks import LineFacts, VisitFacts, remainder, visit_flags
from monitoring.models import (
    CountLine,
    PlotBaseline,
    PlotStatus,
    Purpose,
    Removal,
    RoundPlot,
    SurveyRound,
    SurvivalPlot,
    Visit,
)
from monitoring.services import cases
from projects.models import PlantingDay, Submission


@dataclass
class PlotRecord:
    """All rows of one plot, read once."""

    plot: SurvivalPlot
    visits: list[Visit]
    lines: dict[int, list[CountLine]]
    baselines: dict[UUID, PlotBaseline]
    planted_on: dict[int, date]  # cohort id -> first planting day
    removals: list[Removal]
    on_rounds: set[int]
    received_on: dict[int, date]  # submission number -> local date of arrival
    standings: dict[int | None, Standing] = field(default_factory=dict)


def settle_plot(plot: SurvivalPlot) -> None:
    """Bring heads, counting visits, remainders, flags and cases of one plot up to date."""
    settle_baselines(plot)
    record = read_plot(plot)
    decided = cases.decided(record.plot, record.visits)
    place_revisions(record, decided)
    count_removals(record)
    check_lines(record)
    save_visits(record)
    cases.bring_up_to_date(record.plot, record.visits, record.standings, decided)


# --- baselines ------------------------------------------------------------------------------
def settle_baselines(plot: SurvivalPlot) -> None:
    """Make the revision with the latest (counted_on, number) of each baseline line the current one."""
    latest: dict[UUID, PlotBaseline] = {}
    rows = list(PlotBaseline.objects.filter(plot=plot).order_by("counted_on", "revision"))
    for row in sorted(rows, key=lambda r: (r.counted_on or date.min, r.revision)):
        latest[row.line] = row
    current = {row.pk for row in latest.values()}
    stale = [row.pk for row in rows if row.is_current and row.pk not in current]
    PlotBaseline.objects.filter(pk__in=stale).update(is_current=False)
    PlotBaseline.objects.filter(pk__in=current, is_current=False).update(is_current=True)


# --- reading --------------------------------------------------------------------------------
def read_plot(plot: SurvivalPlot) -> PlotRecord:
    """Read everything the settling of a plot needs, in a fixed number of queries."""
    visits = list(Visit.objects.filter(plot=plot).select_related("round").order_by("observed_on", "uid"))
    lines: dict[int, list[CountLine]] = defaultdict(list)
    for line in CountLine.objects.filter(visit__plot=plot).order_by("visit_id", "position"):
        lines[line.visit_id].append(line)
    baselines = {row.line: row for row in PlotBaseline.objects.filter(plot=plot, is_current=True)}
    return PlotRecord(
        plot=plot,
        visits=visits,
        lines=lines,
        baselines=baselines,
        planted_on=first_planting_days(row.cohort_id for row in baselines.values()),
        removals=list(Removal.objects.filter(plot=plot).order_by("removed_on", "uid")),
        on_rounds=set(RoundPlot.objects.filter(plot=plot).values_list("round_id", flat=True)),
        received_on=arrival_days(plot, visits),
    )


def first_planting_days(cohort_ids: Iterable[int | None]) -> dict[int, date]:
    """Return the first day each cohort was planted on."""
    ids = {pk for pk in cohort_ids if pk is not None}
    rows = PlantingDay.objects.filter(cohort_id__in=ids, voided_at__isnull=True)
    return dict(
        rows.order_by()
        .values("cohort_id")
        .annotate(first=Min("planted_on"))
        .values_list("cohort_id", "first")
    )


def arrival_days(plot: SurvivalPlot, visits: Sequence[Visit]) -> dict[int, date]:
    """Return the local date on which each submission arrived."""
    zone = ZoneInfo(plot.block.site.time_zone)
    rows = Submission.objects.filter(
        organisation_id=plot.organisation_id, seq__in=[visit.submission_seq for visit in visits]
    ).values_list("seq", "received_at")
    return {seq: received.astimezone(zone).date() for seq, received in rows}


# --- standing -------------------------------------------------------------------------------
def place_revisions(record: PlotRecord, decided: cases.Decided) -> None:
    """Find heads and the counting visit of each round of the plot."""
    groups: dict[int | None, list[Visit]] = defaultdict(list)
    for visit in record.visits:
        groups[visit.round_id].append(visit)
    for round_id, visits in groups.items():
        found = standing(
            [revision_of(visit) for visit in visits],
            chosen_root=decided.chosen_root.get(round_id),
            discarded=decided.discarded.get(round_id, ()),
        )
        record.standings[round_id] = found
        for visit in visits:
            visit.depth = found.depth[visit.uid]
            visit.is_head = found.heads[visit.root] == visit.uid
            visit.is_counting = visit.purpose == Purpose.SURVIVAL and found.counting == visit.uid


def revision_of(visit: Visit) -> Revision:
    return Revision(
        id=visit.uid,
        root=visit.root,
        parents=tuple(UUID(parent) for parent in visit.parents),
        observed_on=visit.observed_on,
        is_missing=visit.status == PlotStatus.MISSING,
    )


def count_removals(record: PlotRecord) -> None:
    """Count each removal once: of a standing visit, and the largest number told for one baseline and day."""
    heads = {visit.pk for visit in record.visits if visit.is_head}
    best: dict[tuple[UUID, date], Removal] = {}
    for removal in record.removals:
        key = (removal.baseline_line, removal.removed_on)
        if removal.visit_id in heads and (key not in best or removal.alive_removed > best[key].alive_removed):
            best[key] = removal
    counted = {removal.pk for removal in best.values()}
    changed = [removal for removal in record.removals if removal.is_counted != (removal.pk in counted)]
    for removal in changed:
        removal.is_counted = removal.pk in counted
    Removal.objects.bulk_update(changed, ["is_counted"])


# --- lines and flags ------------------------------------------------------------------------
def check_lines(record: PlotRecord) -> None:
    """Resolve each line against its baseline and flag what is odd about each standing visit."""
    possible: dict[str, int] = {}  # baseline lines of a row -> how many may still have been alive
    changed: list[CountLine] = []
    for visit in record.visits:
        facts = [line_facts(record, visit, line, possible) for line in record.lines[visit.pk]]
        changed += [
            line
            for line, fact in zip(record.lines[visit.pk], facts, strict=True)
            if resolve(record, line, fact)
        ]
        visit.flags = flags_of(record, visit, facts) if visit.is_head else []
        visit.n_flags = len(visit.flags)
        if visit.is_counting:
            remember(possible, record, visit)
    CountLine.objects.bulk_update(changed, ["baseline", "planted", "not_found"], batch_size=500)


def line_facts(record: PlotRecord, visit: Visit, line: CountLine, possible: dict[str, int]) -> LineFacts:
    """Return one line beside its baseline, removals and the visit before."""
    known = known_baselines(record, line)
    planted = [row.planted for row in known]
    whole = bool(known) and None not in planted and len(known) == len(line.baseline_lines)
    days = [record.planted_on[row.cohort_id] for row in known if row.cohort_id in record.planted_on]
    return LineFacts(
        planted=sum(n for n in planted if n is not None) if whole else None,
        alive=line.alive,
        dead_stem=line.dead_stem,
        empty_spot=line.empty_spot,
        not_found=line.not_found_stated,
        not_assessed=line.not_assessed,
        resprout=line.resprout,
        removed=removed_by(record, known, visit.observed_on),
        earlier_possible=possible.get(row_key(line)),
        planted_on=min(days) if days else None,
    )


def known_baselines(record: PlotRecord, line: CountLine) -> list[PlotBaseline]:
    """Return the current baselines of a row that belong to this plot."""
    found = (record.baselines.get(UUID(uid)) for uid in line.baseline_lines)
    return [row for row in found if row is not None]


def row_key(line: CountLine) -> str:
    return ":".join(sorted(line.baseline_lines)) or f"species {line.species_id}"


def removed_by(record: PlotRecord, known: Sequence[PlotBaseline], day: date) -> int:
    """Return the living trees taken out of these baselines on purpose by a day."""
    lines = {row.line for row in known}
    return sum(
        removal.alive_removed
        for removal in record.removals
        if removal.is_counted and removal.baseline_line in lines and removal.removed_on <= day
    )


def resolve(record: PlotRecord, line: CountLine, fact: LineFacts) -> bool:
    """Fill in baseline, planted and the remainder; say whether the row changed."""
    known = known_baselines(record, line)
    baseline_id = known[0].pk if len(known) == 1 and len(line.baseline_lines) == 1 else None
    values = (baseline_id, fact.planted, remainder(fact))
    if (line.baseline_id, line.planted, line.not_found) == values:
        return False
    line.baseline_id, line.planted, line.not_found = values
    return True


def flags_of(record: PlotRecord, visit: Visit, facts: Sequence[LineFacts]) -> list[str]:
    """Return the flags of a standing visit: of its sheet, and of its place among the others."""
    survey_round: SurveyRound | None = visit.round
    flags = visit_flags(
        VisitFacts(
            observed_on=visit.observed_on,
            received_on=record.received_on.get(visit.submission_seq, visit.observed_on),
            closes_on=survey_round.closes_on if survey_round else None,
            clock_offset_ms=visit.clock_offset_ms,
            on_round=survey_round is None or visit.round_id in record.on_rounds,
        ),
        facts,
    )
    found = record.standings[visit.round_id]
    here = {
        "unknown_baseline": any(
            len(known_baselines(record, line)) < len(line.baseline_lines) for line in record.lines[visit.pk]
        ),
        "second_root": visit.purpose == Purpose.SURVIVAL and visit.root in found.rivals,
        "forked": visit.root in found.forked,
        "orphan": visit.uid in found.orphans,
    }
    return sorted({*flags, *(name for name, present in here.items() if present)})


def remember(possible: dict[str, int], record: PlotRecord, visit: Visit) -> None:
    """Keep what a counting visit left possibly alive, for the visit after it."""
    if visit.status == PlotStatus.MISSING:
        return
    if visit.status == PlotStatus.DESTROYED:
        possible.update(dict.fromkeys(possible, 0))
        possible.update({str(uid): 0 for uid in record.baselines})
    for line in record.lines[visit.pk]:
        possible[row_key(line)] = line.alive + line.not_found + line.not_assessed


# --- saving ---------------------------------------------------------------------------------
def save_visits(record: PlotRecord) -> None:
    """Write what changed; the visit that stops counting goes first, since only one may count."""
    fields = ["depth", "is_head", "is_counting", "flags", "n_flags"]
    stored: dict[int, dict[str, Any]] = {
        row["id"]: row for row in Visit.objects.filter(plot=record.plot).values("id", *fields)
    }
    changed = [v for v in record.visits if any(getattr(v, name) != stored[v.pk][name] for name in fields)]
    for visit in sorted(changed, key=lambda v: v.is_counting):
        visit.save(update_fields=fields)
