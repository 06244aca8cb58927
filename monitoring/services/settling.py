"""Settle plots: which revisions stand, which visit counts, what is odd, which doubts are open.

Everything here is worked out afresh from the rows of the plot, so the order of arrival never matters.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any
from uuid import UUID

from monitoring.calc.revision_tree import contest
from monitoring.calc.sheet_checks import LineFacts, VisitFacts, visit_flags
from monitoring.models import CountLine, PlotBaseline, PlotStatus, Purpose, SurvivalPlot, Visit
from monitoring.services import cases, dirty, sheet_lines
from monitoring.services.column_updates import write_columns
from monitoring.services.plot_records import Place, PlotRecord, place_of, read_record, revision_of
from monitoring.services.sheet_lines import Memory

SETTLED = ("depth", "is_head", "is_counting", "flags", "n_flags")


@dataclass(frozen=True)
class Settled:
    """What a settling came to."""

    record: PlotRecord
    touched: frozenset[Place]  # plots and rounds whose figures may have changed

    def visit(self, uid: UUID) -> Visit:
        """Return one of the visits by its id."""
        return next(visit for visit in self.record.visits if visit.uid == uid)


def settle_plot(plot: SurvivalPlot) -> Settled:
    """Bring heads, baselines, counting visits, remainders, flags and cases up to date."""
    record = read_record(plot)
    before = {visit.pk: settled_values(visit) for visit in record.visits}
    decided = cases.decided(record)
    place_revisions(record, decided)
    moved = {*settle_baselines(record, decided), *count_removals(record, decided)}
    lines = check_lines(record)
    visits = [visit for visit in record.visits if settled_values(visit) != before[visit.pk]]
    save(visits, lines)
    doubts = cases.bring_up_to_date(record, decided)
    return Settled(record, frozenset({*doubts, *touched(record, visits, lines, moved)}))


def settled_values(visit: Visit) -> tuple[Any, ...]:
    return tuple(getattr(visit, name) for name in SETTLED)


# --- standing -------------------------------------------------------------------------------
def place_revisions(record: PlotRecord, decided: cases.Decided) -> None:
    """Find the head of each visit, wherever it stands, and the counting visit of each plot and round."""
    claims: dict[Place, list[Visit]] = defaultdict(list)
    for visit in record.visits:
        visit.depth = record.forest.depth[visit.uid]
        visit.is_head = record.forest.heads[visit.root] == visit.uid
        visit.is_counting = False
        if visit.is_head and visit.purpose == Purpose.SURVIVAL:
            claims[place_of(visit)].append(visit)
    for place, heads in claims.items():
        found = contest(
            [revision_of(visit) for visit in heads],
            chosen_root=decided.chosen_root.get(place),
            discarded=decided.discarded,
        )
        record.contests[place] = found
        for visit in heads:
            visit.is_counting = found.counting == visit.uid


def standing_visits(record: PlotRecord, decided: cases.Decided) -> Iterable[Visit]:
    """Return the heads that no lead put aside: what they say of baselines and removals holds."""
    return (v for v in record.visits if v.is_head and v.root not in decided.discarded)


def settle_baselines(record: PlotRecord, decided: cases.Decided) -> set[int]:
    """Make the latest standing word on each baseline the current one; return the plots where that changed.

    Latest by the day it was counted on, then by the identity of the revision that says so.
    """
    standing = {visit.submission_seq: visit.uid for visit in standing_visits(record, decided)}
    latest: dict[UUID, tuple[tuple[date, int], PlotBaseline]] = {}
    for claim in record.claims:
        if claim.submission_seq is not None and claim.submission_seq not in standing:
            continue
        said_by = standing[claim.submission_seq].int if claim.submission_seq is not None else -1
        rank = (claim.counted_on or date.min, said_by)
        if claim.line not in latest or rank > latest[claim.line][0]:
            latest[claim.line] = (rank, claim)
    record.baselines = {line: claim for line, (_rank, claim) in latest.items()}
    return make_current(record.claims, {claim.pk for claim in record.baselines.values()})


def make_current(claims: Sequence[PlotBaseline], current: set[int]) -> set[int]:
    """Write which revisions are current, the old ones first, since a baseline has one at a time."""
    changed = [row for row in claims if row.is_current != (row.pk in current)]
    for is_current in (False, True):
        ids = [row.pk for row in changed if (row.pk in current) is is_current]
        if ids:
            PlotBaseline.objects.filter(pk__in=ids).update(is_current=is_current)
    for row in changed:
        row.is_current = row.pk in current
    return {row.plot_id for row in changed}


def count_removals(record: PlotRecord, decided: cases.Decided) -> set[int]:
    """Count each removal once and return the plots where that changed.

    Of standing visits only; where two tell of one baseline and day, the one that tells of more.
    """
    standing = {visit.pk: visit.uid for visit in standing_visits(record, decided)}
    told: dict[tuple[int, UUID, date], dict[int, int]] = defaultdict(lambda: defaultdict(int))
    for row in record.removals:
        if row.visit_id in standing:
            told[row.plot_id, row.baseline_line, row.removed_on][row.visit_id] += row.alive_removed
    best = {key: max(by, key=lambda pk: (by[pk], standing[pk])) for key, by in told.items()}
    changed = []
    for row in record.removals:
        counted = best.get((row.plot_id, row.baseline_line, row.removed_on)) == row.visit_id
        if row.is_counted != counted:
            row.is_counted = counted
            changed.append(row)
    write_columns(changed, ["is_counted"])
    return {row.plot_id for row in changed}


# --- lines and flags ------------------------------------------------------------------------
def check_lines(record: PlotRecord) -> list[CountLine]:
    """Resolve lines and flag what is odd about each standing visit; return the lines that changed."""
    changed: list[CountLine] = []
    before: dict[int, list[tuple[int | None, Memory]]] = defaultdict(list)  # by plot, in order of the days
    for visit in record.visits:
        groups = sheet_lines.groups_of(record.lines[visit.pk])
        memory = memory_before(before[visit.plot_id], visit.round_id)
        facts = [sheet_lines.facts_of_group(record, visit, group, memory) for group in groups]
        for group, fact in zip(groups, facts, strict=True):
            changed += sheet_lines.resolve(record, visit, group, fact)
            record.facts |= {line.pk: fact for line in group.lines}
        visit.flags = flags_of(record, visit, facts) if visit.is_head else []
        visit.n_flags = len(visit.flags)
        if visit.is_counting:
            latest = before[visit.plot_id][-1][1] if before[visit.plot_id] else {}
            before[visit.plot_id].append((visit.round_id, sheet_lines.remembered(record, visit, latest)))
    return changed


def memory_before(known: Sequence[tuple[int | None, Memory]], round_id: int | None) -> Memory:
    """Return what the counts before left, but for the round's own: two counts of one round are rivals."""
    return next((memory for other, memory in reversed(known) if other != round_id), {})


def facts_by_line(visit: Visit) -> list[LineFacts]:
    """Return for each line of a visit what it is held against, in the order of the sheet."""
    record = settle_plot(visit.plot).record
    return [record.facts[line.pk] for line in record.lines[visit.pk]]


def flags_of(record: PlotRecord, visit: Visit, facts: Sequence[LineFacts]) -> list[str]:
    """Return the flags of a standing visit: of its sheet, and of its place among the others."""
    on_round = visit.round is None or (visit.plot_id, visit.round_id) in record.on_rounds
    flags = visit_flags(
        VisitFacts(
            observed_on=visit.observed_on,
            received_on=record.received_on.get(visit.submission_seq, visit.observed_on),
            closes_on=visit.round.closes_on if visit.round else None,
            clock_offset_ms=visit.clock_offset_ms,
            on_round=on_round,
            is_counted=visit.status == PlotStatus.COUNTED,
        ),
        facts,
    )
    here = {
        "unknown_baseline": sheet_lines.misnamed(record, visit, record.lines[visit.pk]),
        "second_root": visit.purpose == Purpose.SURVIVAL and visit.root in record.contest_of(visit).rivals,
        "forked": visit.root in record.forest.forked,
        "orphan": visit.uid in record.forest.orphans,
    }
    return sorted({*flags, *(name for name, present in here.items() if present)})


# --- saving ---------------------------------------------------------------------------------
def save(visits: Sequence[Visit], lines: Sequence[CountLine]) -> None:
    """Write what changed; visits that stop counting go first, since only one may count."""
    write_columns(sorted(visits, key=lambda visit: visit.is_counting), SETTLED)
    write_columns(lines, ["baseline", "planted", "not_found"])


def touched(
    record: PlotRecord, visits: Iterable[Visit], lines: Iterable[CountLine], moved: set[int]
) -> set[Place]:
    """Return the plots and rounds of changed rows; every round of a plot whose baselines or removals changed."""
    lined = {line.visit_id for line in lines}
    places = {place_of(visit) for visit in visits}
    for visit in record.visits:
        if visit.is_counting and (visit.pk in lined or visit.plot_id in moved):
            places.add(place_of(visit))
    return places


def mark_touched(settled: Settled, *also: Place) -> None:
    """Put the rounds whose figures may have changed on the work list."""
    keys: list[dirty.Key] = []
    for plot_id, round_id in {*settled.touched, *also}:
        if round_id is not None:
            block = settled.record.plots[plot_id].block
            keys += dirty.keys_of_counts(round_id=round_id, block_id=block.pk, project_id=block.project_id)
    if keys:
        dirty.mark(settled.record.organisation_id, keys)
