"""What an open case leaves undecided, as the lowest and highest reading of the baselines it touches."""

from collections.abc import Iterator
from typing import Any

from monitoring.calc.doubt_ranges import Named, Range, Reading, between, line_range
from monitoring.calc.revision_tree import leaves_of
from monitoring.models import BaselineSource, CaseKind, PlotBaseline, PlotStatus, Visit
from monitoring.services import sheet_lines
from monitoring.services.plot_records import PlotRecord, revision_of
from monitoring.services.sheet_lines import LineGroup
from projects.models import Unit

COUNTS = ("alive", "not_found", "not_assessed")
OF_LINES = (CaseKind.OVER_BASELINE, CaseKind.SUM_OPEN, CaseKind.CONTRADICTS)


def ranges_of(record: PlotRecord, visit: Visit, kind: str) -> list[dict[str, Any]]:
    """Return the ranges a case of a kind about a visit leaves open, in plain values."""
    if kind in OF_LINES:
        found = list(of_lines(record, visit, kind))
    elif kind in (CaseKind.SECOND_ROOT, CaseKind.FORKED):
        found = between([account_of(record, rival) for rival in rivals_of(record, visit, kind)])
    else:
        found = []
    return [
        {"baselines": sorted(one.baselines), "low": one.low.numbers, "high": one.high.numbers}
        for one in found
        if one.low != one.high
    ]


def rivals_of(record: PlotRecord, visit: Visit, kind: str) -> list[Visit]:
    """Return the counts a lead chooses from: of two people, or of two corrections of one visit."""
    if kind == CaseKind.SECOND_ROOT:
        rivals = set(record.contest_of(visit).rivals)
        return [other for other in record.visits if other.is_head and other.root in rivals]
    leaves = set(leaves_of(visit.root, (revision_of(other) for other in record.visits)))
    return [other for other in record.visits if other.uid in leaves and other.plot_id == visit.plot_id]


def of_lines(record: PlotRecord, visit: Visit, kind: str) -> Iterator[Range]:
    """Yield a range for each group of lines that a doubt of this kind is about."""
    for group in sheet_lines.groups_of(record.lines[visit.pk]):
        facts = record.facts[group.lines[0].pk]
        if not all(counted_trees(row) for row in sheet_lines.known_baselines(record, visit, group.named)):
            continue
        if visit.status != PlotStatus.COUNTED:
            account = reading_of(record, visit, group)
            if kind == CaseKind.SUM_OPEN and account is not None and account.alive:
                gone = Reading(account.planted, 0, 0, account.not_assessed)
                yield Range(group.named, gone, account)
        elif found := line_range(facts, sum(line.not_found for line in group.lines), {kind}):
            yield Range(group.named, *found)


def account_of(record: PlotRecord, visit: Visit) -> dict[Named, Reading]:
    """Return all that one visit says of the planted trees of its plot.

    A baseline no line names was not found; in a destroyed plot nothing lives.
    """
    told: dict[Named, Reading] = {}
    if visit.status == PlotStatus.COUNTED:
        for group in sheet_lines.groups_of(record.lines[visit.pk]):
            reading = reading_of(record, visit, group)
            if reading is not None:
                told[group.named] = reading
    named = {uid for key in told for uid in key}
    for uid, row in record.baselines.items():
        if str(uid) not in named and stands(row, visit) and counted_trees(row):
            told[frozenset({str(uid)})] = silent(record, visit, row)
    return told


def reading_of(record: PlotRecord, visit: Visit, group: LineGroup) -> Reading | None:
    """Return what lines say of the trees they name; None for seed, or without a planted number."""
    known = sheet_lines.known_baselines(record, visit, group.named)
    planted = sheet_lines.planted_in(known)
    if planted is None or len(known) < len(group.named) or not all(counted_trees(row) for row in known):
        return None
    removed = sheet_lines.removed_by(record, visit, {row.line for row in known})
    return Reading(
        max(planted - removed, 0),
        *(sum(getattr(line, name) for line in group.lines) for name in COUNTS),
    )


def silent(record: PlotRecord, visit: Visit, row: PlotBaseline) -> Reading:
    """Return what a visit that does not name a baseline says of it."""
    left = max((row.planted or 0) - sheet_lines.removed_by(record, visit, {row.line}), 0)
    return Reading(left, 0, left if visit.status == PlotStatus.COUNTED else 0, 0)


def stands(row: PlotBaseline, visit: Visit) -> bool:
    """Say whether a baseline of the plot existed on the day of the visit."""
    return row.plot_id == visit.plot_id and (row.counted_on is None or row.counted_on <= visit.observed_on)


def counted_trees(row: PlotBaseline) -> bool:
    """Say whether a baseline enters survival: planted trees, counted rather than rebuilt from what is left."""
    return row.unit == Unit.TREE and row.source != BaselineSource.VISIBLE_SPOTS
