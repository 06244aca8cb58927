"""A plan as a workbook: one header row a sheet with units, numbers as numbers, and no cell that computes."""

import io
from collections.abc import Iterable, Sequence
from datetime import date
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import override
from openpyxl import Workbook
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE, Cell
from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter

from projects.documents.workbook_sheets import Sheet, sheets_of

STARTS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r")
WIDEST = 60


def workbook(content: dict[str, Any]) -> bytes:
    """Return the workbook of a plan's content."""
    with override(content["language"]):
        book = Workbook()
        book.remove(book.active)
        book.properties.title = content["project"]["name"]
        book.properties.creator = content["organisation"]
        sheets = sheets_of(content)
        for sheet in [*sheets, columns_sheet(sheets)]:
            write(book, sheet)
        file = io.BytesIO()
        book.save(file)
        return file.getvalue()


def columns_sheet(sheets: Iterable[Sheet]) -> Sheet:
    """The dictionary of columns: what each holds and in which unit."""
    rows = [
        [sheet.title, head.title, head.unit, head.means] for sheet in sheets for head in sheet.columns
    ]  # fmt: skip
    return Sheet.of(
        _("Columns"),
        [(_("Sheet"), "", ""), (_("Column"), "", ""), (_("Unit"), "", ""), (_("What it holds"), "", "")],
        rows,
    )


def write(book: Workbook, sheet: Sheet) -> None:
    page = book.create_sheet(sheet.title[:31])
    for number, head in enumerate(sheet.columns, 1):
        cell = page.cell(row=1, column=number)
        put(cell, f"{head.title} [{head.unit}]" if head.unit else head.title)
        cell.font, cell.alignment = Font(bold=True), Alignment(wrap_text=True, vertical="top")
    for down, row in enumerate(sheet.rows, 2):
        for number, value in enumerate(row, 1):
            put(page.cell(row=down, column=number), value)
    page.freeze_panes = "A2"
    for number, width in enumerate(widths(sheet), 1):
        page.column_dimensions[get_column_letter(number)].width = width


def put(cell: Cell, value: Any) -> None:
    """Set a value; text stays text whatever it begins with."""
    if value is None or isinstance(value, int | float | date):
        cell.value = value
        return
    text = ILLEGAL_CHARACTERS_RE.sub("", str(value))
    cell.value = text
    cell.data_type = "s"
    if text.startswith(STARTS_A_FORMULA):
        cell.quotePrefix = True


def widths(sheet: Sheet) -> Sequence[float]:
    """Wide enough for most of what stands in a column."""
    found = []
    for number, head in enumerate(sheet.columns):
        longest = max((len(str(row[number])) for row in sheet.rows if row[number] is not None), default=0)
        found.append(float(min(max(longest, len(head.title) + len(head.unit) + 3, 8) + 2, WIDEST)))
    return found
