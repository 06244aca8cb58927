"""Count lines beside their baselines: the remainder, what is odd, and what the visit before makes possible.

Lines that share a baseline are taken together, so that it is planted once and its remainder is told once.
"""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from monitoring.calc.sheet_checks import LineFacts, remainder
from monitoring.models import CountLine, PlotBaseline, PlotStatus, Visit
from monitoring.services.plot_records import PlotRecord
from projects.models import Unit


@dataclass(frozen=True)
class LineGroup:
    """Lines of one sheet that share baselines, usually a single line."""

    lines: tuple[CountLine, ...]
    named: frozenset[str]


@dataclass(frozen=True)
class Left:
    """How many trees of some baselines a visit left possibly alive, those removed by then among them.

    `dead_spots` are the tagged spots last seen dead, by this visit or one before.
    """

    named: frozenset[str]
    number: int
    dead_spots: frozenset[str] = frozenset()


ALIVE, DEAD = ("alive",), ("dead_stem", "empty_spot")
Memory = dict[str, Left]  # baseline line -> what the latest count left


def groups_of(lines: Iterable[CountLine]) -> list[LineGroup]:
    """Put lines that share a baseline together; the order of the sheet is kept."""
    groups: list[LineGroup] = []
    for line in lines:
        named = frozenset(line.baseline_lines)
        touching = [group for group in groups if group.named & named]
        together = (*(row for group in touching for row in group.lines), line)
        merged = LineGroup(together, named.union(*(group.named for group in touching)))
        groups = [group for group in groups if group not in touching] + [merged]
    return groups


def facts_of_group(record: PlotRecord, visit: Visit, group: LineGroup, memory: Memory) -> LineFacts:
    """Return lines beside their baselines, the removals and the visit before."""
    known = known_baselines(record, visit, group.named)
    stated = [line.not_found_stated for line in group.lines if line.not_found_stated is not None]
    all_stated = len(stated) == len(group.lines)
    days = [record.planted_on[row.cohort_id] for row in known if row.cohort_id in record.planted_on]
    return LineFacts(
        planted=planted_in(known) if len(known) == len(group.named) else None,
        alive=sum(line.alive for line in group.lines),
        dead_stem=sum(line.dead_stem for line in group.lines),
        empty_spot=sum(line.empty_spot for line in group.lines),
        not_found=sum(stated) if all_stated else None,
        also_not_found=0 if all_stated else sum(stated),
        not_assessed=sum(line.not_assessed for line in group.lines),
        resprout=sum(line.resprout for line in group.lines),
        removed=removed_by(record, visit, {row.line for row in known}),
        earlier_possible=earlier_possible(record, visit, group.named, memory),
        planted_on=min(days) if days else None,
        revived=len(spots_seen(group, ALIVE) & dead_spots(group.named, memory)),
    )


def known_baselines(record: PlotRecord, visit: Visit, named: Iterable[str]) -> list[PlotBaseline]:
    """Return the current baselines among those named that belong to the visit's own plot."""
    found = (record.baselines.get(UUID(uid)) for uid in sorted(named))
    return [row for row in found if row is not None and row.plot_id == visit.plot_id]


def planted_in(known: Sequence[PlotBaseline]) -> int | None:
    """Return how many were planted by some baselines together; None without one, or if one is unknown."""
    planted = [row.planted for row in known]
    return sum(planted) if planted and None not in planted else None  # type: ignore[arg-type]


def removed_by(record: PlotRecord, visit: Visit, lines: set[UUID], day: date | None = None) -> int:
    """Return the living trees taken out of these baselines on purpose by the day of the visit."""
    last = day or visit.observed_on
    return sum(
        removal.alive_removed
        for removal in record.removals
        if removal.is_counted
        and removal.plot_id == visit.plot_id
        and removal.baseline_line in lines
        and removal.removed_on <= last
    )


def resolve(record: PlotRecord, visit: Visit, group: LineGroup, facts: LineFacts) -> list[CountLine]:
    """Fill in baseline, planted and the remainder of each line; return the lines that changed."""
    open_lines = [line for line in group.lines if line.not_found_stated is None]
    changed = []
    for line in group.lines:
        known = known_baselines(record, visit, line.baseline_lines)
        named = len(line.baseline_lines)
        left = remainder(facts) if open_lines and line is open_lines[-1] else line.not_found_stated or 0
        values = (
            known[0].pk if len(known) == named == 1 else None,
            planted_in(known) if len(known) == named else None,
            left,
        )
        if (line.baseline_id, line.planted, line.not_found) != values:
            line.baseline_id, line.planted, line.not_found = values
            changed.append(line)
    return changed


def misnamed(record: PlotRecord, visit: Visit, lines: Iterable[CountLine]) -> bool:
    """Say whether a line or removal names a baseline the plot has not, or one of other plants."""
    for line in lines:
        known = known_baselines(record, visit, line.baseline_lines)
        if sum(same_plants(row, line) for row in known) < len(line.baseline_lines):
            return True
    removed = {str(row.baseline_line) for row in record.removals if row.visit_id == visit.pk}
    return len(known_baselines(record, visit, removed)) < len(removed)


def same_plants(row: PlotBaseline, line: CountLine) -> bool:
    """Say whether a line counts what its baseline planted: the species, and trees apart from seed."""
    return row.species_id == line.species_id and (row.unit == Unit.TREE) == (line.unit == Unit.TREE)


# --- the visit before -----------------------------------------------------------------------
def earlier_possible(record: PlotRecord, visit: Visit, named: frozenset[str], memory: Memory) -> int | None:
    """Return how many trees of some baselines may still live after the visit before; None if it cannot say.

    Trees removed on purpose since then are gone. Lines without a baseline may grow by natural regeneration.
    """
    if not named or not named <= memory.keys():
        return None
    left = {memory[uid] for uid in named}
    lines = {UUID(uid) for part in left for uid in part.named}
    return max(0, sum(part.number for part in left) - removed_by(record, visit, lines))


def remembered(record: PlotRecord, visit: Visit, memory: Memory) -> Memory:
    """Return what is known after a counting visit of what may still live."""
    if visit.status == PlotStatus.MISSING:
        return memory
    if visit.status == PlotStatus.DESTROYED:
        gone = [uid for uid, row in record.baselines.items() if stood_before(row, visit)]
        return memory | {str(uid): left_of(record, visit, frozenset({str(uid)}), 0) for uid in gone}
    found = dict(memory)
    for group in groups_of(record.lines[visit.pk]):
        number = sum(line.alive + line.not_found + line.not_assessed for line in group.lines)
        dead = dead_spots(group.named, memory) - spots_seen(group, ALIVE) | spots_seen(group, DEAD)
        found |= dict.fromkeys(group.named, left_of(record, visit, group.named, number, dead))
    return found


def spots_seen(group: LineGroup, statuses: Collection[str]) -> frozenset[str]:
    """Return the tagged spots that lines record with one of some statuses."""
    return frozenset(
        str(spot["spot"]) for line in group.lines for spot in line.spots if spot["status"] in statuses
    )


def dead_spots(named: Iterable[str], memory: Memory) -> frozenset[str]:
    """Return the spots of some baselines that were last seen dead."""
    return frozenset().union(*(memory[uid].dead_spots for uid in named if uid in memory))


def left_of(
    record: PlotRecord, visit: Visit, named: frozenset[str], number: int, dead: frozenset[str] = frozenset()
) -> Left:
    return Left(named, number + removed_by(record, visit, {UUID(uid) for uid in named}), dead)


def stood_before(row: PlotBaseline, visit: Visit) -> bool:
    """Say whether a baseline of the plot is older than the day it was found destroyed."""
    return row.plot_id == visit.plot_id and (row.counted_on is None or row.counted_on < visit.observed_on)
