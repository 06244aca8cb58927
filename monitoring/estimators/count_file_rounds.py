"""Which round each line of a file of counts belongs to."""

import re
from dataclasses import dataclass
from datetime import date

import numpy as np

from monitoring.estimators import count_columns as columns
from monitoring.estimators.count_file_cells import Reading
from monitoring.estimators.count_file_lines import Lines, combined
from monitoring.estimators.table import Ints

LINE_OF_A_PLOT = ("block", "plot", "species", "cohort", "lot")


@dataclass(frozen=True, slots=True)
class Rounds:
    """The rounds of a file in their order: `code` of each line `(n_lines,)`, and their names."""

    code: Ints
    names: tuple[str, ...]


def same_line(lines: Lines) -> Ints:
    """A number for each line of a plot's sheet, the same in every round."""
    return combined(
        [lines.codes[name] for name in LINE_OF_A_PLOT] + [lines.counts[name] for name in ("unit", "baseline")]
    )


def rounds_of(lines: Lines, reading: Reading) -> Rounds:
    """Rounds by their names where the file has them, else by day, else one without a name.

    Named rounds are in the order of their first days, or of their names where a round has no day. Without
    names a round begins on the day on which a line that the round already holds is counted again.
    """
    if "round" in lines.given:
        return _named(lines, reading)
    day = lines.counts["observed_on"]
    starts = _starts(day, same_line(lines))
    if len(starts) < 2:
        return Rounds(np.zeros(day.size, np.int64), ("",))
    for number in lines.number[day == 0]:
        reading.fault(number, "observed_on", columns.NO_DAY_FOR_ROUND)
    code = np.maximum(np.searchsorted(starts, day, side="right") - 1, 0)
    names = tuple(_span(day[(code == place) & (day > 0)]) for place in range(len(starts)))
    reading.warn(0, "observed_on", columns.ROUNDS_BY_DAY, ", ".join(names))
    return Rounds(code, names)


def _named(lines: Lines, reading: Reading) -> Rounds:
    code, labels = lines.codes["round"], lines.labels["round"]
    if not labels:
        return Rounds(np.zeros(code.size, np.int64), ("",))
    for number in lines.number[code < 0]:
        reading.fault(number, "round", columns.NAME_MISSING)
    day, first = lines.counts["observed_on"], np.full(len(labels), 2**40)
    dated = (day > 0) & (code >= 0)
    np.minimum.at(first, code[dated], day[dated])
    if (first < 2**40).all():
        order = sorted(range(len(labels)), key=lambda place: (first[place], _natural(labels[place])))
    else:
        order = sorted(range(len(labels)), key=lambda place: _natural(labels[place]))
    place_of = np.empty(len(labels), np.int64)
    place_of[order] = np.arange(len(labels))
    return Rounds(place_of[np.maximum(code, 0)], tuple(labels[place] for place in order))


def _natural(name: str) -> list[tuple[int, str]]:
    """Numbers within a name count as numbers.

    >>> sorted(["round 10", "round 9"], key=_natural)
    ['round 9', 'round 10']
    """
    return [
        (int(part), "") if part.isdecimal() else (-1, part) for part in re.split(r"(\d+)", name.casefold())
    ]


def _starts(day: Ints, line: Ints) -> list[int]:
    """The days on which rounds begin.

    >>> _starts(np.array([5, 6, 9, 9]), np.array([0, 1, 0, 1]))
    [5, 9]
    """
    order = np.argsort(day, kind="stable")
    order = order[day[order] > 0]
    edges = np.flatnonzero(np.diff(day[order], prepend=-1))
    held = np.zeros(int(line.max(initial=0)) + 1, bool)
    starts: list[int] = []
    for lines_of_day in np.split(order, edges[1:]) if order.size else []:
        counted = line[lines_of_day]
        if not starts or held[counted].any():
            starts.append(int(day[lines_of_day[0]]))
            held[:] = False
        held[counted] = True
    return starts


def _span(days: Ints) -> str:
    first, last = date.fromordinal(int(days.min())), date.fromordinal(int(days.max()))
    return str(first) if first == last else f"{first}/{last}"
