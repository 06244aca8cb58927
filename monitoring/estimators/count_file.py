"""Reads a plain file of counts into a `CountTable`, or says everything that is wrong with it at once.

Columns: `block, plot, species, planted, alive` and any of `dead` (or `dead_stem, empty_spot`), `not_found`,
`not_assessed`, `removed`, `unit`, `cohort`, `lot`, `stock_type`, `nursery`, `site`, `observed_on`,
`plot_weight`, `block_planted`, `block_planted_spots`, `block_plots`, `census`. One file is one round.

>>> lines = ["block,plot,species,planted,alive,dead", "A,1,oak,10,8,1", "A,2,oak,9,9,0", "A,3,,0,0,0"]
>>> counts = read_counts("\\n".join(lines))
>>> counts.table.not_found.tolist(), counts.table.planted.tolist()
([1, 0, 0], [10, 9, 0])
"""

import csv
import io
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from monitoring.estimators import count_columns as columns
from monitoring.estimators.count_columns import BadCell, Problem, column_name
from monitoring.estimators.count_file_table import complete, table_of
from monitoring.estimators.table import TREE, CountTable

Line = dict[str, Any]


class CountFileError(ValueError):
    """The file cannot be used; `problems` names line, column and code of each fault."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__(f"{len(self.problems)} problems in the file of counts")


@dataclass(frozen=True, slots=True)
class CountFile:
    """The counts of a file and what its reader should be told without being stopped."""

    table: CountTable
    warnings: tuple[Problem, ...]


@dataclass(slots=True)
class _Reading:
    """Faults and warnings gathered on the way."""

    problems: list[Problem] = field(default_factory=list)
    warnings: list[Problem] = field(default_factory=list)

    def fault(self, line: int, column: str, code: str, value: str = "") -> None:
        self.problems.append(Problem(line, column, code, value))

    def warn(self, line: int, column: str, code: str, value: str = "") -> None:
        self.warnings.append(Problem(line, column, code, value))

    def stop_on_faults(self) -> None:
        if self.problems:
            raise CountFileError(self.problems)


def read_counts(content: str | bytes) -> CountFile:
    """Parse the text of a file of counts.

    Raises
    ------
    CountFileError
        With every fault found: missing columns first, else all bad cells, repeated lines and contradictions.
    """
    reading = _Reading()
    rows = _cells(_text(content, reading), reading)
    header = _header(rows, reading)
    lines = [_line(number, row, header, reading) for number, row in rows[1:] if any(c.strip() for c in row)]
    if not lines:
        reading.fault(0, "", columns.EMPTY_FILE)
    _check_lines([line for line in lines if line], reading)
    reading.stop_on_faults()
    for line in lines:
        complete(line, set(header), reading.warn)
    if not {"dead", "dead_stem", "empty_spot", "not_found"} & set(header):
        reading.warn(0, "dead", columns.NOT_ALIVE_TAKEN_AS_DEAD)
    return CountFile(table_of(lines), tuple(reading.warnings))


def _text(content: str | bytes, reading: _Reading) -> str:
    if isinstance(content, str):
        return content
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        reading.fault(0, "", columns.UNREADABLE)
        reading.stop_on_faults()
        raise


def _cells(text: str, reading: _Reading) -> list[tuple[int, list[str]]]:
    """Rows with their line numbers; commas, semicolons or tabs part the cells, whichever the header uses."""
    heading = text.lstrip("\ufeff").split("\n", 1)[0]
    delimiter = max(",;\t", key=heading.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    try:
        rows = [(reader.line_num, row) for row in reader]
    except csv.Error:
        reading.fault(reader.line_num, "", columns.UNREADABLE)
        reading.stop_on_faults()
    if not rows:
        reading.fault(0, "", columns.EMPTY_FILE)
        reading.stop_on_faults()
    return rows


def _header(rows: list[tuple[int, list[str]]], reading: _Reading) -> list[str]:
    header = [column_name(heading) for heading in rows[0][1]]
    for name in columns.REQUIRED:
        if name not in header:
            reading.fault(1, name, columns.COLUMN_MISSING)
    for position, name in enumerate(header):
        if name in header[:position]:
            reading.fault(1, name, columns.COLUMN_TWICE)
        elif name and name not in columns.KNOWN:
            reading.warn(1, name, columns.COLUMN_IGNORED)
    reading.stop_on_faults()
    return header


def _line(number: int, row: list[str], header: list[str], reading: _Reading) -> Line:
    """The typed cells of one row; an empty dictionary when one of them cannot be read."""
    if any(cell.strip() for cell in row[len(header) :]):
        reading.fault(number, "", columns.TOO_MANY_CELLS)
        return {}
    cells = dict(zip(header, (cell.strip() for cell in row), strict=False))
    line: Line = {"line": number}
    before = len(reading.problems)
    for name in columns.KNOWN:
        try:
            line[name] = _value(name, cells.get(name, ""))
        except BadCell as bad:
            reading.fault(number, name, str(bad), cells.get(name, ""))
    if len(reading.problems) == before and line["planted"] + line["alive"] > 0 and not line["species"]:
        reading.fault(number, "species", columns.NAME_MISSING)
    return line if len(reading.problems) == before else {}


def _value(name: str, text: str) -> Any:
    if name in columns.NAMES:
        if not text and name in ("block", "plot"):
            raise BadCell(columns.NAME_MISSING)
        return text
    if name in columns.COUNTS + columns.BLOCK_FACTS:
        needed = name in ("planted", "alive")
        return columns.read_count(text) if text or needed else None
    readers = {
        "unit": columns.read_unit,
        "plot_weight": columns.read_weight,
        "observed_on": columns.read_date,
        "census": columns.read_yes_no,
    }
    return readers[name](text)


def _check_lines(lines: list[Line], reading: _Reading) -> None:
    seen: set[tuple[Any, ...]] = set()
    blocks: dict[tuple[str, str], Any] = {}
    plots: dict[tuple[str, str], float] = {}
    for line in lines:
        key = tuple(line[name] for name in ("block", "plot", "species", "cohort", "lot", "unit"))
        if key in seen:
            reading.fault(line["line"], "plot", columns.LINE_TWICE, line["plot"])
        seen.add(key)
        for name in (*columns.BLOCK_FACTS, "census", "site"):
            _must_agree(blocks, (line["block"], name), line, name, columns.DIFFERS_IN_BLOCK, reading)
        _must_agree(
            plots, (line["block"], line["plot"]), line, "plot_weight", columns.DIFFERS_IN_PLOT, reading
        )
    _check_block_plots(lines, blocks, reading)
    _check_block_planted(lines, blocks, reading)


def _must_agree(
    known: dict[tuple[str, str], Any],
    key: tuple[str, str],
    line: Line,
    name: str,
    code: str,
    reading: _Reading,
) -> None:
    """A fact of a block or plot may be left out on some lines but not contradict itself."""
    value = line[name]
    if value in (None, ""):
        return
    if known.setdefault(key, value) != value:
        reading.fault(line["line"], name, code, str(value))


def _check_block_plots(lines: list[Line], blocks: Mapping[tuple[str, str], Any], reading: _Reading) -> None:
    visited: dict[str, set[str]] = {}
    for line in lines:
        visited.setdefault(line["block"], set()).add(line["plot"])
    for block, plots in visited.items():
        held = blocks.get((block, "block_plots"))
        if held is not None and held < len(plots):
            first = next(line["line"] for line in lines if line["block"] == block)
            reading.fault(first, "block_plots", columns.FEWER_THAN_VISITED, str(held))


def _check_block_planted(lines: list[Line], blocks: Mapping[tuple[str, str], Any], reading: _Reading) -> None:
    in_plots: dict[str, int] = {}
    for line in lines:
        if line["unit"] == TREE:
            in_plots[line["block"]] = in_plots.get(line["block"], 0) + line["planted"]
    for block, trees in in_plots.items():
        planted = blocks.get((block, "block_planted"))
        if planted is not None and planted < trees:
            first = next(line["line"] for line in lines if line["block"] == block)
            reading.warn(first, "block_planted", columns.FEWER_THAN_IN_PLOTS, str(planted))
