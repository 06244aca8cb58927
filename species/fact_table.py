"""The reference as one long table: a row for each fact, as a file that people edit and bring back.

The columns are described for machines by a Table Schema (the open standard of that name, version 1).
"""

import csv
import io
import re
from collections.abc import Iterable, Iterator
from dataclasses import astuple, dataclass
from typing import Any

from django.utils.translation import gettext as _

from species.calc.cells import as_meant, harmless, is_formula
from species.models import Basis, RangeStatus
from species.traits import CATALOGUE

STATUS = "status"  # the trait that says where a species belongs
SHARED, OWN = "shared", "own"
COLUMNS = ("species", "scientific_name", "trait", "place", "value", "unit", "source", "basis", "whose")
NEEDED = ("trait", "value", "source", "whose")
MOST_BYTES = 4 * 2**20
MOST_ROWS = 20_000
MOST_CELL = 400
CONTROL = re.compile("[\x00-\x08\x0b-\x1f\x7f]")
NUMBER = re.compile(r"-?[0-9]+(\.[0-9]+)?")


@dataclass(frozen=True, slots=True)
class FactRow:
    """One fact as the file writes it; `place` is a country, or country/region, and only of a status."""

    species: str
    scientific_name: str
    trait: str
    place: str
    value: str
    unit: str
    source: str
    basis: str
    whose: str


@dataclass(frozen=True, slots=True)
class Problem:
    """What is wrong where, and what to do. Line 0 is the whole file."""

    line: int
    column: str
    words: str


class BadTable(ValueError):
    """The file cannot be taken apart."""

    def __init__(self, problem: Problem) -> None:
        super().__init__(problem.words)
        self.problem = problem


def write_table(rows: Iterable[FactRow]) -> str:
    """Return the file. A text that a spreadsheet would compute gets an apostrophe before it; numbers stay numbers."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for row in rows:
        writer.writerow([cell if NUMBER.fullmatch(cell) else harmless(cell) for cell in astuple(row)])
    return out.getvalue()


def read_table(content: bytes) -> tuple[list[tuple[int, FactRow]], list[Problem]]:
    """Return the rows with their lines, and every cell that cannot be meant.

    UTF-8 with or without its byte mark; cells parted by commas, semicolons or tabs, whichever the heading uses;
    columns in any order.

    Raises
    ------
    BadTable
        If it is no table of these columns.
    """
    lines = csv_lines(text_of(content))
    _first, heading = next(lines, (1, []))
    position = columns_of(heading)
    rows: list[tuple[int, FactRow]] = []
    problems: list[Problem] = []
    read = 0
    for line, cells in lines:
        if not any(cells):
            continue
        read += 1
        if read > MOST_ROWS:
            raise BadTable(
                Problem(
                    line, "", _("The file holds more than %(most)s rows. Split it.") % {"most": MOST_ROWS}
                )
            )
        if len(cells) > len(heading) and any(cells[len(heading) :]):
            problems.append(
                Problem(
                    line,
                    "",
                    _(
                        "The row has more cells than there are headings. "
                        "Put a text that holds the separator into quotation marks."
                    ),
                )
            )
            continue
        raw = {name: cells[at] if at < len(cells) else "" for name, at in position.items()}
        problems += cell_problems(line, raw)
        rows.append((line, FactRow(**{name: as_meant(raw.get(name, "")) for name in COLUMNS})))
    if not rows and not problems:
        raise BadTable(Problem(0, "", _("The file holds headings but no rows below them.")))
    return rows, problems


def text_of(content: bytes) -> str:
    """The text of a file, or why it holds none."""
    if not content.strip():
        raise BadTable(Problem(0, "", _("The file is empty.")))
    if content.startswith(b"PK"):
        raise BadTable(
            Problem(0, "", _("This is a workbook. Save the sheet as CSV (UTF-8) and choose that file."))
        )
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as wrong:
        line = content[: wrong.start].count(b"\n") + 1
        raise BadTable(
            Problem(line, "", _("The text is not UTF-8. Save the sheet as CSV (UTF-8) and choose that file."))
        ) from wrong
    if CONTROL.search(text.replace("\r\n", "\n").replace("\r", "\n")):
        raise BadTable(
            Problem(0, "", _("This is not a table. Save the sheet as CSV (UTF-8) and choose that file."))
        )
    return text


def csv_lines(text: str) -> Iterator[tuple[int, list[str]]]:
    """Yield (line, cells); the line is where the row begins, the heading being line 1."""
    top = next((line for line in text.splitlines() if line.strip()), "")
    separator = max(",;\t", key=re.sub(r'"[^"]*"', "", top).count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    begins = 1
    try:
        for cells in reader:
            if cells:
                yield begins, [cell.strip() for cell in cells]
            begins = reader.line_num + 1
    except csv.Error as broken:
        words = _("From here on the file cannot be taken apart: a quotation mark opens and does not close.")
        raise BadTable(Problem(begins, "", words)) from broken


def columns_of(heading: list[str]) -> dict[str, int]:
    """Where each column stands; a heading that is missing, unknown or doubled is told."""
    position: dict[str, int] = {}
    for at, cell in enumerate(heading):
        name = cell.lower().replace(" ", "_")
        if name in position:
            raise BadTable(
                Problem(
                    1,
                    cell,
                    _("The heading “%(name)s” stands twice. Delete one of the columns.") % {"name": cell},
                )
            )
        if name in COLUMNS:
            position[name] = at
        elif name:
            words = _("“%(name)s” is no column of this table. Delete it; the columns are %(columns)s.")
            raise BadTable(Problem(1, cell, words % {"name": cell, "columns": ", ".join(COLUMNS)}))
    missing = [name for name in NEEDED if name not in position]
    if not {"species", "scientific_name"} & set(position):
        missing.insert(0, "species")
    if missing:
        words = _("The heading %(names)s is missing. Download the table to see how it begins.")
        raise BadTable(Problem(1, missing[0], words % {"names": ", ".join(missing)}))
    return position


def cell_problems(line: int, cells: dict[str, str]) -> Iterable[Problem]:
    """What is wrong with cells whatever they mean."""
    for name, cell in cells.items():
        if is_formula(cell):
            yield Problem(
                line, name, _("This cell holds a formula. Copy the column and paste it as values only.")
            )
        elif len(cell) > MOST_CELL:
            yield Problem(line, name, _("Write %(most)s characters at most.") % {"most": MOST_CELL})


def schema() -> dict[str, Any]:
    """The Table Schema of the file."""
    traits = [*CATALOGUE, STATUS]
    fields: dict[str, dict[str, Any]] = {
        "species": {"description": _("Permanent name of the species in this service.")},
        "scientific_name": {"description": _(
                "Scientific name; used to find the species where the column species is empty."
            )},
        "trait": {"constraints": {"required": True, "enum": traits}, "description": _("What the row is about.")},
        "place": {"description": _("Only for status: the country (ISO 3166-1, two capitals), or country/region.")},
        "value": {"description": value_words()},
        "unit": {"constraints": {"enum": sorted({kind.unit for kind in CATALOGUE.values() if kind.unit})},
                 "description": _("Unit of a number; empty for words.")},
        "source": {"constraints": {"maxLength": 400}, "description": _("Where the fact comes from.")},
        "basis": {"constraints": {"enum": list(Basis.values)}, 
            "description": _("What a value rests on; empty for status.")},
        "whose": {"constraints": {"required": True, "enum": [SHARED, OWN]},
                  "description": _("Of the shared reference, which is only read, or the organisation's own.")},
    }  # fmt: skip
    return {
        "$schema": "https://specs.frictionlessdata.io/schemas/table-schema.json",
        "fields": [{"name": name, "type": "string", **fields[name]} for name in COLUMNS],
        "missingValues": [""],
        "primaryKey": ["species", "trait", "place", "whose"],
    }


def value_words() -> str:
    """What may stand in the column value, trait by trait."""
    numbers = [
        f"{kind.key}: {kind.lowest:g}..{kind.highest:g} {kind.unit}"
        for kind in CATALOGUE.values() if kind.words is None
    ]  # fmt: skip
    words = [f"{kind.key}: {' '.join(kind.words)}" for kind in CATALOGUE.values() if kind.words is not None]
    words.append(f"{STATUS}: {' '.join(RangeStatus.Status.values)}")
    told = _(
        "A number with a decimal point, or one or more words with spaces between. Empty takes an own value back."
    )
    return f"{told} {'; '.join([*numbers, *words])}"
