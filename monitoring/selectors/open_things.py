"""What is open about a round's counts, laid on the rows of its table: cases, uncertain origins, plots not counted."""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from django.db.models import Q, Sum

from monitoring.estimators.bounds import OpenThings
from monitoring.estimators.table import COUNTED, TREE, Ints
from monitoring.models import (
    CASES_OF_FIGURES,
    BaselineSource,
    Case,
    CountLine,
    PlotBaseline,
    RoundPlot,
    RoundStatus,
    Visit,
)
from monitoring.selectors.round_counts import RoundCounts
from projects.models import Unit

Numbers = list[int]  # alive, not found, not assessed


def open_things(counts: RoundCounts, block_id: int | None = None) -> OpenThings:
    """Read what is open about a round, or about one block of it, in a fixed number of queries."""
    ranges, uncertain = open_ranges(counts, block_id), uncertain_lines(counts, block_id)
    rows = rows_of_lines(counts, [*(one["baselines"] for one in ranges), *(lines for lines, _n in uncertain)])
    found = with_ranges(OpenThings.none(counts.table), counts, ranges, rows)
    column = np.zeros_like(counts.table.alive)
    for lines, number in uncertain:
        if held := rows.of(lines):
            column[held[0]] += number
    found = found.with_uncertain(column)
    missed = list(plots_missed(counts, block_id))
    return found.with_missing(
        [plot.block for plot in missed], [plot.planted for plot in missed], [plot.weight for plot in missed]
    )


# --- cases ----------------------------------------------------------------------------------
def open_ranges(counts: RoundCounts, block_id: int | None) -> list[dict[str, Any]]:
    """The ranges that open cases of plots in the sample leave, in the order of the cases' identities."""
    entering = {visit.plot_id for visit in counts.visits}
    cases = Case.objects.filter(round=counts.survey_round, settled_seq__isnull=True)
    cases = cases.exclude(kind__in=CASES_OF_FIGURES).order_by("uid")
    if block_id is not None:
        cases = cases.filter(plot__block_id=block_id)
    told = [facts for plot_id, facts in cases.values_list("plot_id", "facts") if plot_id in entering]
    return [one for facts in told for one in facts.get("ranges", ())]


@dataclass(frozen=True, slots=True)
class Rows:
    """Rows of the table by the baseline line they count."""

    of_line: Mapping[str, int]

    def of(self, lines: Iterable[str]) -> list[int]:
        """The rows some baseline lines are counted in, in their order, each once."""
        return sorted({self.of_line[line] for line in lines if line in self.of_line})


def rows_of_lines(counts: RoundCounts, named: Iterable[Sequence[str]]) -> Rows:
    """Find the rows that count some baselines; a row of several is found by the first of them."""
    wanted = {line for lines in named for line in lines}
    if not wanted:
        return Rows({})
    current = PlotBaseline.objects.filter(
        organisation_id=counts.survey_round.organisation_id, line__in=wanted, is_current=True
    )
    pks = {int(pk): str(line) for line, pk in current.values_list("line", "id")}
    held = np.flatnonzero(np.isin(counts.source, list(pks)))
    return Rows({pks[int(counts.source[row])]: int(row) for row in held})


def with_ranges(
    things: OpenThings, counts: RoundCounts, ranges: Iterable[Mapping[str, Any]], rows: Rows
) -> OpenThings:
    """Lay ranges on rows: of several about one row the lowest low and the highest high."""
    low: dict[int, Numbers] = {}
    high: dict[int, Numbers] = {}
    planted = np.maximum(counts.table.planted - counts.table.removed, 0)
    for one in ranges:
        held = rows.of(one["baselines"])
        rooms = [int(planted[row]) for row in held]
        for row, room, down, up in zip(
            held, rooms, spread(one["low"], rooms), spread(one["high"], rooms), strict=True
        ):
            low[row] = min(low.get(row, down), down, key=lambda numbers: living(numbers, room))
            high[row] = max(high.get(row, up), up, key=lambda numbers: living(numbers, room))
    index = sorted(low)
    return things.with_cases(index, [low[row] for row in index], [high[row] for row in index])


def spread(numbers: Sequence[int], rooms: Sequence[int]) -> list[Numbers]:
    """Put what is said of several rows together into each, as many as were planted there.

    >>> spread([25, 3, 0], [20, 10])
    [[20, 0, 0], [5, 3, 0]]
    """
    left, found = list(numbers), []
    for room in rooms:
        taken = []
        for place, number in enumerate(left):
            part = min(number, room)
            taken.append(part)
            left[place], room = number - part, room - part
        found.append(taken)
    return found


def living(numbers: Sequence[int], planted: int) -> float:
    """Share alive of the trees assessed; nothing assessed is no share, and neither low nor high."""
    assessed = planted - numbers[2]
    return numbers[0] / assessed if assessed > 0 else 0.5


# --- origins --------------------------------------------------------------------------------
def uncertain_lines(counts: RoundCounts, block_id: int | None) -> list[tuple[list[str], int]]:
    """Baselines with living trees that may be natural seedlings, and how many of them."""
    lines = CountLine.objects.filter(
        visit__round=counts.survey_round, visit__is_counting=True, origin_uncertain__gt=0
    )
    if block_id is not None:
        lines = lines.filter(visit__plot__block_id=block_id)
    return list(lines.order_by("visit_id", "position").values_list("baseline_lines", "origin_uncertain"))


# --- plots not counted ----------------------------------------------------------------------
@dataclass(frozen=True, slots=True)
class Missed:
    """A plot of the sample without a count: the code of its block, trees planted in it, its weight."""

    block: int
    planted: int
    weight: float


def plots_missed(counts: RoundCounts, block_id: int | None) -> Iterator[Missed]:
    """Plots that could not be counted and, once the round is closed, those nobody reported.

    A plot whose baseline is unknown is taken to hold as many trees as the plots of its block do on average.
    """
    plots = [(v.plot_uid, v.plot_id, v.block_id, v.plot_weight) for v in counts.missing]
    if counts.survey_round.status == RoundStatus.CLOSED:
        plots += unreported(counts, block_id)
    codes = {block.id: code for code, block in enumerate(counts.blocks)}
    known, usual = planted_in([plot_id for _uid, plot_id, *_ in plots], counts), planted_per_plot(counts)
    for _uid, plot_id, block, weight in sorted(plots, key=lambda plot: plot[0]):
        planted = known.get(plot_id, int(usual[codes[block]]) if block in codes else 0)
        if block in codes and planted:
            yield Missed(codes[block], planted, weight or 1.0)


def unreported(counts: RoundCounts, block_id: int | None) -> list[tuple[Any, int, int, float | None]]:
    """Plots the round wanted and nobody said anything about."""
    told = Visit.objects.filter(round=counts.survey_round, is_counting=True).values("plot_id")
    rows = RoundPlot.objects.filter(round=counts.survey_round).exclude(plot_id__in=told)
    if block_id is not None:
        rows = rows.filter(plot__block_id=block_id)
    return list(rows.values_list("plot__uid", "plot_id", "plot__block_id", "plot__plot_weight"))


def planted_in(plot_ids: Collection[int], counts: RoundCounts) -> dict[int, int]:
    """Trees planted in some plots by their counted baselines; plots without any are left out."""
    if not plot_ids:
        return {}
    in_time = Q(counted_on__isnull=True) | Q(counted_on__lte=counts.survey_round.closes_on)
    rows = PlotBaseline.objects.filter(
        in_time, plot_id__in=plot_ids, is_current=True, unit=Unit.TREE, planted__isnull=False
    ).exclude(source=BaselineSource.VISIBLE_SPOTS)
    return dict(rows.order_by().values("plot_id").annotate(n=Sum("planted")).values_list("plot_id", "n"))


def planted_per_plot(counts: RoundCounts) -> Ints:
    """Trees planted in a counted plot of each block on average, rounded; 0 where none was counted."""
    table = counts.table
    trees = (table.unit == TREE) & (table.baseline == COUNTED)
    planted = np.bincount(table.block, np.where(trees, table.planted, 0), table.n_blocks)
    pairs = np.unique(np.stack([table.block, table.plot], axis=1), axis=0)
    plots = np.bincount(pairs[:, 0], minlength=table.n_blocks)
    return np.rint(planted / np.maximum(plots, 1)).astype(np.int64)
