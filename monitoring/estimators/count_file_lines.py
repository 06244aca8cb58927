"""The typed values of a file of counts, line by line, and every cell that cannot be read."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitoring.estimators import count_columns as columns
from monitoring.estimators.count_columns import BadCell
from monitoring.estimators.count_file_cells import Cells, Reading, Sheet
from monitoring.estimators.sums import DENSE, distinct
from monitoring.estimators.table import Floats, Ints

NAMED = ("block", "plot")  # every line needs them


@dataclass(frozen=True, slots=True)
class Lines:
    """The lines of a file that can be used; every array `(n_lines,)`.

    Attributes
    ----------
    number : line of the file.
    codes : by column of names, codes in the sorted order of the names, −1 where empty; `plot_in_block`
        numbers the plots of all blocks and rounds.
    labels : the names of each code.
    counts : by column, whole numbers (−1 empty; days: 0 empty).
    numbers : `net_area_ha` and the facts of plots; NaN empty.
    given : the columns that stand in the file.
    """

    number: Ints
    codes: Mapping[str, Ints]
    labels: Mapping[str, tuple[str, ...]]
    counts: Mapping[str, Ints]
    numbers: Mapping[str, Floats]
    given: frozenset[str]

    def only(self, chosen: NDArray[np.bool_] | Ints) -> "Lines":
        """Some of the lines, with the same codes."""
        return Lines(
            self.number[chosen],
            {name: column[chosen] for name, column in self.codes.items()},
            self.labels,
            {name: column[chosen] for name, column in self.counts.items()},
            {name: column[chosen] for name, column in self.numbers.items()},
            self.given,
        )


def combined(parts: list[Ints]) -> Ints:
    """Number the distinct combinations of some columns of codes from 0, in their sorted order.

    >>> combined([np.array([1, 0, 1]), np.array([5, 5, 5])]).tolist()
    [1, 0, 1]
    """
    key = np.zeros(parts[0].size, np.int64)
    for part in parts:
        low = int(part.min(initial=0))
        width = int(part.max(initial=0)) - low + 1
        if int(key.max(initial=0)) * width > DENSE:
            key = distinct(key)[1].astype(np.int64)
        key = key * width + (part - low)
    return distinct(key)[1].astype(np.int64)


def first_places(codes: Ints) -> Ints:
    """The place at which each code from 0 first stands; −1 for a code that does not.

    >>> first_places(np.array([2, 0, 2])).tolist()
    [1, -1, 0]
    """
    first = np.full(int(codes.max(initial=-1)) + 1, -1)
    first[codes[::-1]] = np.arange(codes.size - 1, -1, -1)
    return first


def read_lines(sheet: Sheet, reading: Reading) -> Lines:
    """Read every cell, tell the bad ones, and keep the lines without a fault."""
    good = np.ones(sheet.number.size, bool)
    numbers: dict[str, NDArray] = {}
    for name, read in columns.READERS.items():
        cells = sheet.cells[name]
        values, faults = _read(cells, read)
        numbers[name] = values[cells.codes] if cells.codes.size else values[:0]
        _tell(sheet, name, cells, faults, good, reading)
    _needed(sheet, numbers, good, reading)
    coded = {name: _names(sheet.cells[name]) for name in columns.NAMES}
    floats = ("net_area_ha", *columns.PLOT_FACTS)
    whole = {
        name: column.astype(np.int64) for name, column in numbers.items() if name not in floats
    }  # fmt: skip
    codes = {name: codes[good] for name, (codes, _labels) in coded.items()}
    return Lines(
        sheet.number[good],
        codes | {"plot_in_block": combined([codes["block"], codes["plot"]])},
        {name: labels for name, (_codes, labels) in coded.items()},
        {name: column[good] for name, column in whole.items()},
        {name: numbers[name][good] for name in floats},
        sheet.given,
    )


def _read(cells: Cells, read: columns.Reader) -> tuple[Floats, dict[int, str]]:
    """The value of each distinct text, and the faults by its code."""
    values, faults = np.zeros(max(len(cells.texts), 1)), {}
    for code, text in enumerate(cells.texts):
        try:
            values[code] = read(text)
        except BadCell as bad:
            faults[code] = str(bad)
    return values, faults


def _tell(
    sheet: Sheet,
    name: str,
    cells: Cells,
    faults: Mapping[int, str],
    good: NDArray[np.bool_],
    reading: Reading,
) -> None:
    for code, fault in faults.items():
        bad = cells.codes == code
        good[bad] = False
        for number in sheet.number[bad]:
            reading.fault(number, name, fault, cells.texts[code])


def _needed(sheet: Sheet, numbers: Mapping[str, NDArray], good: NDArray[np.bool_], reading: Reading) -> None:
    """Names and counts no line may leave out; a plot without a count needs none."""
    counted = numbers["status"] == columns.PLOT_COUNTED
    based = (numbers["baseline"] != columns.NO_BASELINE) & (numbers["status"] != columns.PLOT_MISSING)
    for name in NAMED:
        _left_out(sheet, name, sheet.cells[name].empty, columns.NAME_MISSING, good, reading)
    for name, wanted in (("planted", based), ("alive", counted)):
        left_out = (numbers[name] < 0) & wanted & sheet.cells[name].empty
        _left_out(sheet, name, left_out, columns.NOT_A_COUNT, good, reading)
    living = np.maximum(numbers["planted"], 0) + np.maximum(numbers["alive"], 0) > 0
    nameless = good & living & sheet.cells["species"].empty
    _left_out(sheet, "species", nameless, columns.NAME_MISSING, good, reading)


def _left_out(
    sheet: Sheet,
    name: str,
    where: NDArray[np.bool_],
    code: str,
    good: NDArray[np.bool_],
    reading: Reading,
) -> None:
    for number in sheet.number[where]:
        reading.fault(number, name, code)
    good[where] = False


def _names(cells: Cells) -> tuple[Ints, tuple[str, ...]]:
    labels = tuple(sorted(text for text in cells.texts if text))
    rank = {label: code for code, label in enumerate(labels)}
    codes = np.array([rank.get(text, -1) for text in cells.texts], np.int64)
    return codes[cells.codes], labels
