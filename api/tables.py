"""Tables as CSV (RFC 4180, UTF-8) that a spreadsheet opens without running anything, and as Table Schema."""

import csv
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from monitoring.calc import spreadsheet_cells
from monitoring.selectors.counts_file import Column


class Echo:
    """A file that gives back what is written to it."""

    def write(self, text: str) -> str:
        """Return the text."""
        return text


def csv_lines(columns: Sequence[Column], rows: Iterable[Sequence[Any]]) -> Iterator[str]:
    """Yield the header and then each row as a line, without holding the table in memory."""
    writer = csv.writer(Echo())
    yield writer.writerow([column.name for column in columns])
    for row in rows:
        yield writer.writerow([harmless(cell) for cell in row])


def harmless(cell: Any) -> Any:
    """Return a cell that no spreadsheet takes for a formula: such a text gets an apostrophe before it.

    A text that begins with an apostrophe gets one too, so that taking one away always gives the text back.

    >>> harmless("=1+1"), harmless("oak"), harmless(-3)
    ("'=1+1", 'oak', -3)
    """
    return spreadsheet_cells.harmless(cell) if isinstance(cell, str) else cell


def table_schema(columns: Sequence[Column]) -> dict[str, Any]:
    """Describe the columns by Table Schema 1.0 (Frictionless)."""
    return {
        "$schema": "https://specs.frictionlessdata.io/schemas/table-schema.json",
        "fields": [
            {
                "name": column.name,
                "type": column.type,
                "description": str(column.description),
                "constraints": {"required": column.required},
            }
            for column in columns
        ],
        "missingValues": [""],
    }
