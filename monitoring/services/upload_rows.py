"""One row of an uploaded file, read cell by cell: what it says, and each cell that cannot be taken."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from datetime import date
from typing import Any

from django.utils.translation import gettext as _

from monitoring.calc.count_headings import COUNTS
from monitoring.calc.count_table_file import CountFile, FileRow
from monitoring.calc.spreadsheet_cells import as_meant, day, is_formula, whole_number
from monitoring.models import PlotBaseline
from monitoring.services.visit_body import MOST
from monitoring.upload_words import plot_status

FILLED_IN = (*COUNTS, "observed_on", "status", "reason", "note")  # one of these makes a row an entry


@dataclass(frozen=True)
class Problem:
    """Why a row is not taken: where it stands, what is written there, what to do."""

    line: int
    column: str
    value: str
    detail: str
    plot: str = ""

    def as_json(self) -> dict[str, Any]:
        """Return it as the upload keeps it."""
        return asdict(self)


@dataclass(frozen=True)
class Columns:
    """Which column of the file holds which meaning, and what the headings are."""

    headings: tuple[str, ...]
    position: Mapping[str, int]

    def heading(self, meaning: str) -> str:
        """Return the heading over a meaning; empty where no column has it."""
        return self.headings[self.position[meaning]] if meaning in self.position else ""

    def has(self, meaning: str) -> bool:
        return meaning in self.position


def columns_of(file: CountFile, mapping: Mapping[str, int]) -> Columns:
    """Return the columns of a file as a person assigned them."""
    wide = len(file.columns)
    return Columns(file.columns, {name: n for name, n in mapping.items() if 0 <= n < wide})


@dataclass
class CountRow:
    """A row with what was read from it; `problems` says what could not be."""

    row: FileRow
    columns: Columns
    problems: list[Problem] = field(default_factory=list)
    counts: dict[str, int] = field(default_factory=dict)
    planted: int | None = None
    observed_on: date | None = None
    status: tuple[str, str] = ("counted", "")
    species_id: int | None = None
    species_slug: str = ""
    species_name: str = ""
    baselines: list[PlotBaseline] = field(default_factory=list)
    index: int | None = None  # its place among the lines of the visit

    @property
    def line(self) -> int:
        return self.row.line

    def raw(self, meaning: str) -> str:
        """Return a cell as it is written; empty where no column has the meaning."""
        position = self.columns.position.get(meaning)
        return self.row.cells[position] if position is not None else ""

    def text(self, meaning: str) -> str:
        """Return a cell as it is meant."""
        return as_meant(self.raw(meaning))

    def problem(self, meaning: str, detail: str) -> Problem:
        """Return a problem with one cell of the row."""
        return Problem(
            self.line, self.columns.heading(meaning), self.raw(meaning)[:60], detail, self.text("plot")[:40]
        )

    def fault(self, meaning: str, detail: str) -> None:
        """Note that a cell cannot be taken."""
        self.problems.append(self.problem(meaning, detail))

    @property
    def has_count_problem(self) -> bool:
        """Say whether a cell of counts could not be read, so that no 0 may be taken from it."""
        return any(
            self.raw(meaning) and meaning not in self.counts for meaning in COUNTS if meaning != "dead"
        )

    @property
    def is_filled_in(self) -> bool:
        """Say whether somebody entered anything; a line of the template left as it was is not."""
        return any(self.raw(meaning) for meaning in FILLED_IN)

    @property
    def is_empty_plot(self) -> bool:
        """Say whether the row only says that its plot was visited and holds nothing."""
        return not self.text("species") and not any(self.counts.values())


def read_row(row: FileRow, columns: Columns, day_for_all: date | None) -> CountRow:
    """Read the cells of a row that stand for themselves; plot and species need the round."""
    found = CountRow(row, columns)
    if any(row.cells[len(columns.headings) :]):
        found.problems.append(
            Problem(
                row.line, "", row.cells[len(columns.headings)][:60],
                _("This row has more cells than there are headings. Put texts with commas in quotes."),
            )
        )  # fmt: skip
    if not found.is_filled_in:
        return found
    formulas = [meaning for meaning in columns.position if is_formula(found.raw(meaning))]
    for meaning in formulas:
        found.fault(meaning, _("This cell holds a formula. Copy the column and paste it as values only."))
    for meaning in (*COUNTS, "planted"):
        if meaning not in formulas:
            read_count(found, meaning)
    read_dead(found)
    found.planted = found.counts.pop("planted", None)
    if "observed_on" not in formulas:
        read_day(found, day_for_all)
    read_status(found)
    return found


def read_count(row: CountRow, meaning: str) -> None:
    """Read one whole number; an empty cell says nothing."""
    text = row.text(meaning)
    if not text:
        return
    number = whole_number(text)
    if number is None:
        row.fault(meaning, _("Write a whole number in digits, such as 14."))
    elif number < 0:
        row.fault(meaning, _("A count cannot be below 0. Write 0 or more."))
    elif number > MOST:
        row.fault(meaning, _("No plot holds that many. Correct the number."))
    else:
        row.counts[meaning] = number


def read_dead(row: CountRow) -> None:
    """Keep a total of dead as dead stems, unless the row also splits it; then the two must agree."""
    dead = row.counts.pop("dead", None)
    split = [row.counts.get("dead_stem"), row.counts.get("empty_spot")]
    if dead is None:
        return
    if split == [None, None]:
        row.counts["dead_stem"] = dead
    elif dead != sum(n or 0 for n in split):
        row.fault("dead", _("The dead stems and empty spots of this row do not add up to its dead."))


def read_day(row: CountRow, day_for_all: date | None) -> None:
    """Read the day of the visit, or take the one given for the whole file."""
    text = row.text("observed_on")
    row.observed_on = day(text) if text else day_for_all
    if text and row.observed_on is None:
        row.fault("observed_on", _("Write the day as year-month-day, such as 2025-09-14."))


def read_status(row: CountRow) -> None:
    """Read what became of the plot; nothing written means it was counted."""
    status = plot_status(row.text("status"), row.text("reason"))
    if status is None:
        row.fault(
            "status" if row.raw("status") else "reason",
            _(
                "Write counted, unsafe, refused, not located, not reached, burnt, slid, built on, "
                "or destroyed; and a reason that fits it."
            ),
        )
        return
    row.status = status
    if status[0] != "counted" and any(row.counts.values()):
        row.fault("alive", _("A plot that was not counted carries no counts. Clear them, or the status."))
