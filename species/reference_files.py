"""The five files of the reference table: where they lie, their columns, and reading them row by row."""

import csv
from dataclasses import dataclass
from pathlib import Path

from django.utils.translation import gettext as _

from species.errors import ReferenceDataError

DATA_FOLDER = Path(__file__).resolve().parent / "data"


@dataclass(frozen=True, slots=True)
class ReferenceFile:
    """One file: its name, its columns in order, and the columns that tell two rows apart."""

    name: str
    columns: tuple[str, ...]
    key: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Row:
    """One row as read: the file, the line an editor shows, and the cells by column."""

    file: str
    line: int
    cells: dict[str, str]

    def refusal(self, column: str, reason: str) -> ReferenceDataError:
        """Return the error that names this row and a column."""
        return ReferenceDataError(file=self.file, line=self.line, column=column, reason=reason)


SPECIES = ReferenceFile(
    "species.csv",
    ("slug", "scientific_name", "authority", "genus", "family", "growth_form", "is_nitrogen_fixer",
     "shade_class", "superseded_by", "source"),
    ("slug",),
)  # fmt: skip
NAMES = ReferenceFile(
    "species_names.csv", ("species", "language", "name", "is_main", "source"), ("species", "language", "name")
)
SYNONYMS = ReferenceFile(
    "species_synonyms.csv", ("species", "scientific_name", "source"), ("species", "scientific_name")
)
TRAITS = ReferenceFile(
    "species_traits.csv",
    ("species", "trait", "value_number", "value_text", "unit", "source", "basis"),
    ("species", "trait"),
)
RANGES = ReferenceFile(
    "range_status.csv",
    ("species", "country_code", "region", "status", "source"),
    ("species", "country_code", "region"),
)
FILES = (SPECIES, NAMES, SYNONYMS, TRAITS, RANGES)


def read_rows(folder: Path, file: ReferenceFile) -> list[Row]:
    """Read one file, refusing wrong headings, ragged rows and rows given twice."""
    path = folder / file.name
    try:
        with path.open(newline="", encoding="utf-8") as lines:
            rows = _parse(csv.reader(lines, strict=True), file)
    except FileNotFoundError as missing:
        reason = _("the file is missing from the data folder.")
        raise ReferenceDataError(file=file.name, line=1, column=file.columns[0], reason=reason) from missing
    except UnicodeDecodeError as wrong:
        line = path.read_bytes()[: wrong.start].count(b"\n") + 1
        reason = _("the text is not UTF-8; save the file as UTF-8.")
        raise ReferenceDataError(file=file.name, line=line, column=file.columns[0], reason=reason) from wrong
    _refuse_doubles(rows, file.key)
    return rows


def _parse(reader, file: ReferenceFile) -> list[Row]:
    try:
        _check_heading(next(reader, []), file)
        return [_row(cells, reader.line_num, file) for cells in reader if cells]
    except csv.Error as broken:
        reason = _("the row cannot be read (%(detail)s); check its quotation marks.") % {"detail": broken}
        raise ReferenceDataError(
            file=file.name, line=reader.line_num, column=file.columns[0], reason=reason
        ) from broken


def _check_heading(heading: list[str], file: ReferenceFile) -> None:
    for found, wanted in zip(heading + [""] * len(file.columns), file.columns, strict=False):
        if found != wanted:
            reason = _("the heading must be “%(wanted)s”, not “%(found)s”.") % {
                "wanted": wanted,
                "found": found,
            }
            raise ReferenceDataError(file=file.name, line=1, column=wanted, reason=reason)
    if len(heading) > len(file.columns):
        extra = heading[len(file.columns)]
        raise ReferenceDataError(file=file.name, line=1, column=extra, reason=_("this column is not known."))


def _row(cells: list[str], line: int, file: ReferenceFile) -> Row:
    if len(cells) != len(file.columns):
        column = file.columns[min(len(cells), len(file.columns) - 1)]
        reason = _("the row has %(found)d cells where the heading has %(wanted)d.")
        raise ReferenceDataError(
            file=file.name, line=line, column=column,
            reason=reason % {"found": len(cells), "wanted": len(file.columns)},
        )  # fmt: skip
    return Row(file.name, line, dict(zip(file.columns, (cell.strip() for cell in cells), strict=True)))


def _refuse_doubles(rows: list[Row], key: tuple[str, ...]) -> None:
    seen: dict[tuple[str, ...], int] = {}
    for row in rows:
        value = tuple(row.cells[column] for column in key)
        if value in seen:
            raise row.refusal(key[-1], _("already given on line %(line)d.") % {"line": seen[value]})
        seen[value] = row.line
