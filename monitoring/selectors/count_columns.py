"""From baselines, lines and removals of the visits that enter to one row per plot × baseline line.

Columns still hold row ids of species and cohorts; `round_counts` turns them into codes.
"""

from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby

import numpy as np

from monitoring.estimators.table import COUNTED, REBUILT, Ints
from monitoring.models import PlotStatus
from monitoring.selectors.count_rows import COUNT_COLUMNS, UNIT_CODES, CountingVisit, LooseLine

Columns = dict[str, Ints]
FACTS = ("species", "cohort", "planted", "unit", "rebuilt", "removed")
NAMES = ("visit", "baseline", *FACTS, *COUNT_COLUMNS)  # baseline: a row id of what the row counts, −1 none


def count_columns(
    visits: Sequence[CountingVisit],
    baselines: Columns,
    lines: Columns,
    removed: Mapping[int, int],
    loose: Sequence[LooseLine],
) -> Columns:
    """Stack what baselines, loose lines and empty plots give; each column (n_rows,), in `NAMES`."""
    entering = np.array(sorted(visit.id for visit in visits), dtype=np.int64)
    inside = np.isin(baselines["visit"], entering)
    counted = per_baseline({name: column[inside] for name, column in baselines.items()}, lines, removed)
    known = set(entering.tolist())
    loose = [line for line in loose if line.visit_id in known]
    parts = [seen(counted, visits, loose), *([loose_columns(loose, counted)] if loose else [])]
    held = np.concatenate([part["visit"] for part in parts])
    parts.append(empty_columns(np.setdiff1d(entering, held)))
    return {name: np.concatenate([part[name] for part in parts]) for name in NAMES}


def per_baseline(baselines: Columns, lines: Columns, removed: Mapping[int, int]) -> Columns:
    """One row per baseline: a baseline that two lines of a sheet name is planted once and counted twice."""
    order = np.argsort(baselines["baseline"], kind="stable")
    one = {name: column[order] for name, column in baselines.items()}
    size = one["baseline"].size
    where = np.searchsorted(one["baseline"], lines["baseline"])
    known = np.flatnonzero(where < size)
    same = [one[name][where[known]] == lines[name][known] for name in ("baseline", "visit")]
    held = known[same[0] & same[1]]  # a line counts in the plot of its own visit only
    where = where[held]
    for name in COUNT_COLUMNS:
        one[name] = np.bincount(where, lines[name][held], size).astype(np.int64)
    one["counted"] = (np.bincount(where, minlength=size) > 0).astype(np.int64)
    one["removed"] = np.zeros_like(one["baseline"])
    for pk, trees in removed.items():  # few: found by their place, baselines being in order
        place = np.searchsorted(one["baseline"], pk)
        if place < size and one["baseline"][place] == pk:
            one["removed"][place] = trees
    return one


def seen(one: Columns, visits: Sequence[CountingVisit], loose: Sequence[LooseLine]) -> Columns:
    """Give baselines without a line of their own what the visit says of them.

    In a destroyed plot nothing lives. In a counted plot a baseline that existed on the day and is named by no
    line counts as not found; one named beside others stands in the row of its loose lines, counts and all.
    """
    destroyed = np.isin(one["visit"], [v.id for v in visits if v.status == PlotStatus.DESTROYED])
    named = sorted({pk for line in loose for pk in line.baselines})
    apart = np.isin(one["baseline"], named) & ~destroyed
    silent = (one["counted"] == 0) & ~destroyed
    left = np.maximum(one["planted"] - one["removed"], 0)
    told = {name: np.where(destroyed, 0, one[name]) for name in COUNT_COLUMNS}
    told["not_found"] = np.where(silent, left, told["not_found"])
    keep = ((one["counted"] > 0) | (one["in_time"] > 0)) & ~apart
    return {name: (one | told)[name][keep] for name in NAMES}


def loose_columns(loose: Sequence[LooseLine], baselines: Columns) -> Columns:
    """Rows of lines that name several baselines (their planted trees together) or none (planted 0)."""
    told = np.stack([baselines[name] for name in (*FACTS, *COUNT_COLUMNS)], axis=1).tolist()
    known = dict(zip(baselines["baseline"].tolist(), told, strict=True))
    groups = [(lines, [pk for pk in sorted(named) if pk in known]) for lines, named in joined(loose)]
    rows = [loose_row(lines, pks, [known[pk] for pk in pks]) for lines, pks in groups]
    columns = np.array(rows, dtype=np.int64).reshape(len(rows), len(NAMES)).T
    return dict(zip(NAMES, columns, strict=True))


def joined(loose: Sequence[LooseLine]) -> list[tuple[list[LooseLine], set[int]]]:
    """Put lines that share a baseline together, so that it is planted once, with all baselines they name."""
    groups: list[tuple[list[LooseLine], set[int]]] = []
    for _visit, lines in groupby(loose, lambda line: line.visit_id):
        groups += joined_in_visit(lines)
    return groups


def joined_in_visit(lines: Iterable[LooseLine]) -> list[tuple[list[LooseLine], set[int]]]:
    groups: list[tuple[list[LooseLine], set[int]]] = []
    for line in lines:
        touching = [group for group in groups if group[1] & set(line.baselines)]
        together = [*(row for group in touching for row in group[0]), line]
        groups = [group for group in groups if group not in touching]
        groups.append((together, set(line.baselines).union(*(group[1] for group in touching))))
    return groups


def loose_row(
    lines: Sequence[LooseLine], pks: Sequence[int], named: Sequence[Sequence[int]]
) -> tuple[int, ...]:
    """One row; its cohort is known only if every baseline it names has the same.

    Lines that name one of these baselines alone are counted in it.
    """
    facts = [dict(zip((*FACTS, *COUNT_COLUMNS), row, strict=True)) for row in named]
    cohorts = {fact["cohort"] for fact in facts}
    first = lines[0]
    return (
        first.visit_id, min(pks, default=-1), first.species_id, cohorts.pop() if len(cohorts) == 1 else -1,
        sum(fact["planted"] for fact in facts), UNIT_CODES[first.unit],
        REBUILT if any(fact["rebuilt"] == REBUILT for fact in facts) else COUNTED,
        sum(fact["removed"] for fact in facts),
        *(
            sum(line.counts[n] for line in lines) + sum(fact[name] for fact in facts)
            for n, name in enumerate(COUNT_COLUMNS)
        ),
    )  # fmt: skip


def empty_columns(visits: Ints) -> Columns:
    """Rows of visited plots that hold nothing: they stay in the sample as zeros."""
    columns = {name: np.zeros_like(visits) for name in NAMES}
    nothing = visits * 0 - 1
    return columns | {"visit": visits, "baseline": nothing, "species": nothing, "cohort": nothing}
