"""The first sheet of an XLSX workbook as rows of text, read as a stream and within limits set beforehand."""

import io
import zipfile
from collections.abc import Iterator
from datetime import date, datetime
from typing import Any

from openpyxl import load_workbook

from monitoring.calc import count_table_file as table
from monitoring.calc.count_table_file import CountFile, FileRow, Unreadable

MOST_UNPACKED_BYTES = 64 * 1024 * 1024
MOST_PART_BYTES = 16 * 1024 * 1024  # of any part but a sheet, since those are read at once
MOST_PARTS = 500
MOST_SHEET_ROWS = 100_000  # blank ones included: a coloured column can reach to the last row a sheet has


def read_table(content: bytes, *, first: int | None = None) -> CountFile:
    """Read a CSV or XLSX file of counts, or only its `first` rows; raise `Unreadable` with the reason."""
    reader = read_workbook if table.kind_of(content) == "xlsx" else table.read_csv
    return reader(content, first=first)


def read_workbook(content: bytes, *, first: int | None = None) -> CountFile:
    """Read the first sheet of a workbook; raise `Unreadable` for anything that is not one."""
    check_package(content)
    try:
        book = load_workbook(io.BytesIO(content), read_only=True, data_only=False, keep_links=False)
        if not book.worksheets:
            raise Unreadable(table.EMPTY)
        return table.table_of(sheet_rows(book.worksheets[0]), first=first)
    except Unreadable:
        raise
    except Exception as error:  # a damaged workbook breaks the library in any place and with any error
        raise Unreadable(table.DAMAGED) from error


def check_package(content: bytes) -> None:
    """Refuse what is no workbook or would unpack to more than the machine should hold."""
    try:
        package = zipfile.ZipFile(io.BytesIO(content))
        parts = package.infolist()
        if len(parts) > MOST_PARTS or sum(part.file_size for part in parts) > MOST_UNPACKED_BYTES:
            raise Unreadable(table.UNPACKS_TOO_LARGE)
        names = {part.filename for part in parts}
        if "[Content_Types].xml" not in names or not any(name.startswith("xl/") for name in names):
            raise Unreadable(table.OTHER_SPREADSHEET)
        for part in parts:
            check_part(package, part)
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError, ValueError, OSError) as error:
        raise Unreadable(table.DAMAGED) from error


def check_part(package: zipfile.ZipFile, part: zipfile.ZipInfo) -> None:
    """Refuse a locked part, one too large to hold, and XML that declares entities (no workbook does)."""
    if part.flag_bits & 0x1:
        raise Unreadable(table.PROTECTED)
    if part.file_size > MOST_PART_BYTES and not part.filename.startswith("xl/worksheets/"):
        raise Unreadable(table.UNPACKS_TOO_LARGE)
    if part.filename.endswith((".xml", ".rels")):
        with package.open(part) as stream:
            if b"<!" in stream.read(2048).split(b"<!--")[0]:
                raise Unreadable(table.DAMAGED)


def sheet_rows(sheet: Any) -> Iterator[FileRow]:
    """Yield the rows of a sheet with their numbers."""
    wide = table.MOST_COLUMNS + 1
    for number, cells in enumerate(sheet.iter_rows(max_col=wide), start=1):
        if number > MOST_SHEET_ROWS:
            raise Unreadable(table.TOO_MANY_ROWS, most=table.MOST_ROWS)
        texts = [cell_text(cell) for cell in cells]
        while texts and not texts[-1]:
            texts.pop()
        yield FileRow(number, tuple(texts))


def cell_text(cell: Any) -> str:
    """Return a cell as one would have typed it; a formula keeps its equals sign, which refuses it later."""
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, datetime):
        return value.date().isoformat() if value.time() == datetime.min.time() else value.isoformat(" ")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    if cell.data_type == "f":
        return f"={str(getattr(value, 'text', value)).lstrip('=')}"
    return str(value).strip()
