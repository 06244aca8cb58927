"""A file of counts as rows of text: which kind of file it is, and how a CSV is taken apart.

Nothing is guessed about what the columns mean; `count_headings` does that. Cells stay as they were written.
"""

import csv
import io
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import islice

MOST_ROWS = 20_000
MOST_COLUMNS = 200
MOST_CELL = 4_000  # characters; longer ones are an unclosed quote more often than a note

# Why a file cannot be read.
EMPTY, NO_HEADING, HEADING_TWICE, ONE_COLUMN = "empty", "no_heading", "heading_twice", "one_column"
NOT_A_TABLE, UNCLOSED_QUOTE, TOO_MANY_ROWS = "not_a_table", "unclosed_quote", "too_many_rows"
TOO_MANY_COLUMNS, NO_ROWS = "too_many_columns", "no_rows"
PROTECTED, DAMAGED, OTHER_SPREADSHEET, UNPACKS_TOO_LARGE = (
    "protected", "damaged", "other_spreadsheet", "unpacks_too_large",
)  # fmt: skip

CONTROL = re.compile("[\x00-\x08\x0e-\x1f\x7f]")
SEPARATOR_NOTE = re.compile(r"sep=(.)\r?\n", re.IGNORECASE)
OLD_OFFICE, ZIP = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", b"PK\x03\x04"
BYTE_MARKS = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))


class Unreadable(Exception):
    """The file is not a table of counts that can be read: a code, and what the message names."""

    def __init__(self, code: str, **facts: str | int) -> None:
        super().__init__(code)
        self.code, self.facts = code, facts


@dataclass(frozen=True)
class FileRow:
    """One row below the heading; `line` is where it begins in the file, 1 being the heading."""

    line: int
    cells: tuple[str, ...]

    @property
    def is_blank(self) -> bool:
        """Say whether nothing is written in the row."""
        return not any(self.cells)


@dataclass(frozen=True)
class CountFile:
    """Headings and the rows below them; every row has as many cells as there are headings, or more."""

    columns: tuple[str, ...]
    rows: tuple[FileRow, ...] = field(default_factory=tuple)

    def samples(self, column: int, most: int = 3) -> list[str]:
        """Return the first different values of a column."""
        found = dict.fromkeys(row.cells[column] for row in self.rows if row.cells[column])
        return list(found)[:most]


def kind_of(content: bytes) -> str:
    """Return what the first bytes say a file is: ``csv`` or ``xlsx``; raise `Unreadable` for what is neither.

    >>> kind_of(b"plot,species,alive"), kind_of(ZIP + b"...")
    ('csv', 'xlsx')
    """
    if not content.strip():
        raise Unreadable(EMPTY)
    if content.startswith(OLD_OFFICE):
        raise Unreadable(PROTECTED)
    return "xlsx" if content.startswith(ZIP) else "csv"


def read_csv(content: bytes, *, first: int | None = None) -> CountFile:
    """Read a CSV in any usual encoding and with any usual separator; only the `first` rows where asked.

    UTF-8 and UTF-16 with their byte marks, UTF-8 without, else Windows-1252. The separator is the one of
    comma, semicolon and tab that the heading line holds most of.

    >>> file = read_csv("parcela;espécie;vivas\\nN1;Quercus robur;14".encode("cp1252"))
    >>> file.columns, file.rows[0].line, file.rows[0].cells
    (('parcela', 'espécie', 'vivas'), 2, ('N1', 'Quercus robur', '14'))
    """
    text = text_of(content)
    note = SEPARATOR_NOTE.match(text)
    separator = note[1] if note else separator_of(text)
    start = note.end() if note else 0
    return table_of(csv_rows(text[start:], separator, first_line=2 if note else 1), first=first)


def text_of(content: bytes) -> str:
    """Return the text of a file, or raise `Unreadable` where it holds none."""
    encoding = next((name for mark, name in BYTE_MARKS if content.startswith(mark)), "")
    for name in [encoding] if encoding else ["utf-8", "cp1252"]:
        try:
            text = content.decode(name)
        except UnicodeDecodeError:
            continue
        if CONTROL.search(text):
            break
        return text
    raise Unreadable(NOT_A_TABLE)


def separator_of(text: str) -> str:
    """Return the sign that separates cells, judged by the first line that is not blank.

    >>> separator_of('"a,b,c";d\\n1,2;3')
    ';'
    """
    first = next((line for line in text.splitlines() if line.strip()), "")
    outside = re.sub(r'"[^"]*"', "", first)
    return max(",;\t", key=outside.count)


def csv_rows(text: str, separator: str, first_line: int = 1) -> Iterator[FileRow]:
    """Yield the rows of a CSV text with the line each begins on."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    begins = first_line
    try:
        for cells in reader:
            yield FileRow(begins, tuple(cell.strip() for cell in cells))
            begins = first_line + reader.line_num
    except csv.Error as error:
        raise Unreadable(UNCLOSED_QUOTE, line=begins) from error


def table_of(rows: Iterable[FileRow], *, first: int | None = None) -> CountFile:
    """Take the first row that is not blank as headings and the others as rows; blank rows are left out."""
    filled = (row for row in rows if not row.is_blank)
    top = next(filled, None)
    if top is None:
        raise Unreadable(EMPTY)
    columns = headings(top)
    kept: list[FileRow] = []
    for row in islice(filled, first):
        if len(kept) == MOST_ROWS:
            raise Unreadable(TOO_MANY_ROWS, most=MOST_ROWS)
        if any(len(cell) > MOST_CELL for cell in row.cells):
            raise Unreadable(UNCLOSED_QUOTE, line=row.line)
        kept.append(FileRow(row.line, row.cells + ("",) * (len(columns) - len(row.cells))))
    if not kept:
        raise Unreadable(NO_ROWS)
    return CountFile(columns, tuple(kept))


def headings(row: FileRow) -> tuple[str, ...]:
    """Return the headings of the first row, or raise `Unreadable` where it is none."""
    names = list(row.cells)
    while names and not names[-1]:
        names.pop()
    if len(names) > MOST_COLUMNS:
        raise Unreadable(TOO_MANY_COLUMNS, most=MOST_COLUMNS)
    if all(not any(sign.isalpha() for sign in name) for name in names):
        raise Unreadable(NO_HEADING)
    if len(names) == 1:
        raise Unreadable(ONE_COLUMN)
    twice = first_repeated(names)
    if twice:
        raise Unreadable(HEADING_TWICE, heading=twice)
    return tuple(name[:80] for name in names)


def first_repeated(names: Sequence[str]) -> str:
    """Return the first heading that stands twice, empty when none does; headings left empty may repeat.

    >>> first_repeated(["plot", "Alive", "", "alive ", ""])
    'alive '
    """
    seen: set[str] = set()
    for name in names:
        key = name.strip().casefold()
        if key and key in seen:
            return name
        seen.add(key)
    return ""
