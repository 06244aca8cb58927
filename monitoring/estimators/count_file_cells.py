"""From the text of a file of counts to its columns of cells, each distinct text kept once.

A file of a million lines holds few distinct texts, so every later step reads each text once and works on
integer codes.
"""

import csv
import io
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from monitoring.estimators import count_columns as columns
from monitoring.estimators.count_columns import Problem, column_name
from monitoring.estimators.table import Ints

LINES_AT_ONCE = 50_000
DELIMITERS = ",;\t"


class CountFileError(ValueError):
    """The file cannot be used; `problems` names line, column and code of each fault."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(sorted(problems, key=_place))
        super().__init__(f"{len(self.problems)} problems in the file of counts")


def _place(problem: Problem) -> tuple[int, int]:
    known = columns.KNOWN
    return problem.line, known.index(problem.column) if problem.column in known else -1


@dataclass(slots=True)
class Reading:
    """Faults and warnings gathered on the way."""

    problems: list[Problem] = field(default_factory=list)
    warnings: list[Problem] = field(default_factory=list)

    def fault(self, line: int, column: str, code: str, value: str = "") -> None:
        self.problems.append(Problem(int(line), column, code, value))

    def warn(self, line: int, column: str, code: str, value: str = "") -> None:
        self.warnings.append(Problem(int(line), column, code, value))

    def stop_on_faults(self) -> None:
        if self.problems:
            raise CountFileError(self.problems)


@dataclass(frozen=True, slots=True)
class Cells:
    """One column: `texts` without repetition or outer blanks, and the `codes` of each line `(n_lines,)`."""

    codes: Ints
    texts: tuple[str, ...]

    @property
    def empty(self) -> NDArray[np.bool_]:
        """Lines with nothing in this column."""
        return np.array([text == "" for text in self.texts], bool)[self.codes]


@dataclass(frozen=True, slots=True)
class Sheet:
    """The cells of a file by the name of their column; columns it does not have hold empty cells.

    Attributes
    ----------
    given : the known columns that stand in the file.
    number : `(n_lines,)`, the line of the file on which each row of cells begins, the heading being line 1.
    cells : the cells of every known column.
    """

    given: frozenset[str]
    number: Ints
    cells: dict[str, Cells]


def read_sheet(content: str | bytes, reading: Reading) -> Sheet:
    """Part a text into columns; commas, semicolons or tabs part the cells, whichever the heading uses.

    >>> sheet = read_sheet("block;plot;species;planted;alive\\nA;1;oak;3;2\\n\\nA;2;oak;3;3\\n", Reading())
    >>> sheet.number.tolist(), sheet.cells["plot"].texts, sheet.cells["planted"].codes.tolist()
    ([2, 4], ('1', '2'), [0, 0])
    """
    rows = _rows(_text(content, reading), reading)
    heading = next(rows, None)
    if heading is None:
        reading.fault(0, "", columns.EMPTY_FILE)
        reading.stop_on_faults()
        raise AssertionError  # not reached: the line above raises
    header = _header(*heading, reading)
    distinct = [_numbering() for _ in header]
    parts: list[list[Ints]] = [[] for _ in header]
    numbers: list[int] = []
    while chunk := list(islice(rows, LINES_AT_ONCE)):
        numbers += [number for number, _row in chunk]
        for place, texts in enumerate(zip(*_even(chunk, len(header), reading), strict=True)):
            codes = map(distinct[place].__getitem__, texts)
            parts[place].append(np.fromiter(codes, np.int64, len(texts)))
    number = np.array(numbers, np.int64)
    found = {name: _cells(distinct[place], parts[place]) for place, name in enumerate(header) if name}
    nothing = Cells(np.zeros(number.size, np.int64), ("",))
    cells = {name: found.get(name, nothing) for name in columns.KNOWN}
    return Sheet(frozenset(found) & frozenset(columns.KNOWN), number, cells)


def _numbering() -> dict[str, int]:
    """A dictionary that numbers each new text it is asked for."""
    numbers: defaultdict[str, int] = defaultdict()
    numbers.default_factory = numbers.__len__
    return numbers


def _cells(distinct: dict[str, int], parts: list[Ints]) -> Cells:
    """Texts that differ only in outer blanks become one."""
    stripped: dict[str, int] = {}
    same = np.array([stripped.setdefault(text.strip(), len(stripped)) for text in distinct], np.int64)
    codes = np.concatenate(parts) if parts else np.zeros(0, np.int64)
    return Cells(same[codes] if same.size else codes, tuple(stripped))


def _text(content: str | bytes, reading: Reading) -> str:
    if isinstance(content, str):
        return content
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        reading.fault(content[: error.start].count(b"\n") + 1, "", columns.UNREADABLE)
        reading.stop_on_faults()
        raise


def _rows(text: str, reading: Reading) -> Iterator[tuple[int, list[str]]]:
    """Rows that hold anything, each with the line on which it begins."""
    text = text.removeprefix("\ufeff")
    heading = text.lstrip("\r\n").partition("\n")[0]
    delimiter = max(DELIMITERS, key=heading.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    before = 0
    try:
        for row in reader:
            if row and (row[0].strip() or "".join(row).strip()):
                yield before + 1, row
            before = reader.line_num
    except csv.Error:
        reading.fault(before + 1, "", columns.BAD_QUOTES)
        reading.stop_on_faults()


def _even(chunk: list[tuple[int, list[str]]], width: int, reading: Reading) -> Iterator[list[str]]:
    """Rows of one width; missing cells at the end are empty, and a filled cell beyond the heading is a fault."""
    for number, row in chunk:
        if len(row) == width:
            yield row
            continue
        beyond = [(place, cell) for place, cell in enumerate(row, 1) if place > width and cell.strip()]
        if beyond:
            reading.fault(number, str(beyond[0][0]), columns.TOO_MANY_CELLS, beyond[0][1])
        yield row[:width] + [""] * (width - len(row))


def _header(number: int, row: list[str], reading: Reading) -> list[str]:
    header = [column_name(heading) for heading in row]
    for name in columns.REQUIRED:
        if name not in header:
            reading.fault(number, name, columns.COLUMN_MISSING)
    for position, name in enumerate(header):
        if name and name in header[:position]:
            reading.fault(number, name, columns.COLUMN_TWICE)
        elif name and name not in (*columns.KNOWN, *columns.NOT_READ):
            reading.warn(number, name, columns.COLUMN_IGNORED)
    reading.stop_on_faults()
    return header
