"""From the rows of a file to one count sheet per plot, each with the reasons why it cannot go in."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import Any
from uuid import UUID, uuid5

from django.utils.translation import gettext as _

from monitoring.calc.count_headings import COUNTS
from monitoring.calc.count_table_file import CountFile
from monitoring.models import CountLine, PlotBaseline, SurveyRound, SurvivalPlot, Visit
from monitoring.selectors.upload_book import CellFault, RoundBook, listed
from monitoring.services import entries
from monitoring.services.upload_rows import Columns, CountRow, Problem, read_row


@dataclass
class PlotSheet:
    """The rows of one plot as one visit."""

    plot: SurvivalPlot
    rows: list[CountRow]
    earlier: Visit | None = None  # the visit that counts for the plot in this round already
    problems: list[Problem] = field(default_factory=list)
    observed_on: date | None = None
    status: tuple[str, str] = ("counted", "")

    @property
    def counted(self) -> list[CountRow]:
        """The rows that become lines of the visit, in their order."""
        return [row for row in self.rows if row.index is not None]

    @property
    def all_problems(self) -> list[Problem]:
        return [*(problem for row in self.rows for problem in row.problems), *self.problems]

    def sound_part(self) -> "PlotSheet | None":
        """Return the sheet without its faulty rows, so that what else is wrong can be told at once."""
        sound = [row for row in self.counted if not row.problems]
        if not sound or self.observed_on is None:
            return None
        rows = [replace(row, index=n) for n, row in enumerate(sound)]
        return replace(self, rows=rows, problems=[])

    @property
    def note(self) -> str:
        """Every different note of the rows."""
        return "\n".join(dict.fromkeys(text for row in self.rows if (text := row.text("note"))))

    def is_what_counts(self) -> bool:
        """Say whether the visit that counts already says the same as this sheet."""
        visit = self.earlier
        if (
            visit is None
            or (visit.status, visit.reason) != self.status
            or visit.observed_on != self.observed_on
        ):
            return False
        mine = {key_of(row): row.counts for row in self.counted}
        theirs = {frozenset(line.baseline_lines) or line.species_id: line for line in visit.lines.all()}
        return mine.keys() == theirs.keys() and all(
            says_the_same(mine[key], line) for key, line in theirs.items()
        )


def key_of(row: CountRow) -> Any:
    return frozenset(str(baseline.line) for baseline in row.baselines) or row.species_id


def says_the_same(counts: dict[str, int], line: CountLine) -> bool:
    """Compare the counts of a row with a stored line; a remainder written out is the same remainder."""
    if "not_found" in counts and counts["not_found"] != line.not_found:
        return False
    if "not_found" not in counts and line.not_found_stated is not None and line.planted is not None:
        seen = line.alive + line.dead_stem + line.empty_spot + line.not_assessed
        if line.not_found_stated != max(0, line.planted - seen):
            return False
    return all(
        counts.get(name, 0) == getattr(line, name) for name in COUNTS if name not in ("dead", "not_found")
    )


@dataclass
class Sheets:
    """A whole file as sheets: those to put in, and what stands in the way."""

    sheets: list[PlotSheet] = field(default_factory=list)
    stray: list[Problem] = field(default_factory=list)  # of rows whose plot is not known
    n_rows: int = 0
    n_plots_of_round: int = 0
    left_out: list[str] = field(default_factory=list)  # plots whose rows hold no entry


def sheets_of(
    file: CountFile, columns: Columns, survey_round: SurveyRound, day_for_all: date | None
) -> Sheets:
    """Group the rows of a file by plot and read each plot as one visit."""
    book = RoundBook(survey_round)
    found = Sheets(n_rows=len(file.rows), n_plots_of_round=len(book.plots))
    by_plot: dict[int, PlotSheet] = {}
    for file_row in file.rows:
        row = read_row(file_row, columns, day_for_all)
        try:
            plot = book.plot(row.text("site"), row.text("block"), row.text("plot"))
        except CellFault as fault:
            row.fault(fault.meaning, fault.detail)
            found.stray += row.problems
            continue
        sheet = by_plot.setdefault(plot.pk, PlotSheet(plot, [], book.visits.get(plot.pk)))
        sheet.rows.append(row)
    for sheet in by_plot.values():
        if not any(row.is_filled_in for row in sheet.rows) and not sheet.all_problems:
            found.left_out.append(sheet.plot.name)
            continue
        settle_sheet(sheet, book)
        found.sheets.append(sheet)
    if not found.sheets and not found.stray:
        found.stray.append(
            Problem(0, "", "", _("No row holds a count. Fill in the sheet and choose the new file."))
        )
    return found


def settle_sheet(sheet: PlotSheet, book: RoundBook) -> None:
    """Find the day, the status and the lines of one plot."""
    filled = [row for row in sheet.rows if row.is_filled_in]
    agree_on_day(sheet, filled)
    agree_on_status(sheet, filled)
    if sheet.status[0] != "counted":
        return
    for row in sheet.rows:
        read_line(sheet, row, book)
    number_lines(sheet)
    miss_nothing(sheet, book)


def agree_on_day(sheet: PlotSheet, rows: list[CountRow]) -> None:
    """Take the day that a row gives; a plot is visited on one day."""
    sheet.observed_on = next((row.observed_on for row in rows if row.observed_on), None)
    for row in rows:
        if row.observed_on not in (None, sheet.observed_on):
            row.fault(
                "observed_on",
                _("Another row of plot %(plot)s says %(day)s. One visit is one day; make them the same.")
                % {"plot": sheet.plot.name, "day": sheet.observed_on.isoformat()},
            )
    if sheet.observed_on is None and not sheet.all_problems:
        rows[0].fault("observed_on", _("Write the day of the visit, or one day for the whole file."))


def agree_on_status(sheet: PlotSheet, rows: list[CountRow]) -> None:
    """Take the status that a row names; rows of one plot may not name different ones."""
    named = [row for row in rows if row.raw("status") or row.raw("reason")]
    if not named:
        return
    sheet.status = named[0].status
    for row in named[1:]:
        if row.status != sheet.status:
            row.fault(
                "status",
                _("Another row of plot %(plot)s names another status. Make them the same.")
                % {"plot": sheet.plot.name},
            )
    if sheet.status[0] != "counted":
        for row in rows:
            if row not in named and any(row.counts.values()):
                row.fault(
                    "alive",
                    _(
                        "Another row says that plot %(plot)s was not counted. Clear the counts, or that status."
                    )
                    % {"plot": sheet.plot.name},
                )


def read_line(sheet: PlotSheet, row: CountRow, book: RoundBook) -> None:
    """Find what a row counts: its species, and the baselines it stands beside."""
    if row.is_empty_plot and row.is_filled_in and not row.has_count_problem:
        return
    if not row.text("species"):
        row.fault("species", _("Write the species of this row."))
        return
    try:
        species, row.baselines = book.planted(sheet.plot, row.text("species"), row.text("lot"))
    except CellFault as fault:
        row.fault(fault.meaning, fault.detail)
        return
    row.species_id, row.species_slug, row.species_name = species.pk, species.slug, species.scientific_name
    if "alive" not in row.counts and not row.raw("alive"):
        row.fault("alive", _("Write how many are alive, 0 if none."))
    compare_planted(sheet, row)


def compare_planted(sheet: PlotSheet, row: CountRow) -> None:
    """Refuse a row whose planted number is not that of the baseline: one of the two is wrong."""
    known = [baseline.planted for baseline in row.baselines]
    if row.planted is None or not known or None in known:
        return
    if row.planted != sum(n for n in known if n is not None):
        row.fault(
            "planted",
            _("The baseline of plot %(plot)s says %(planted)s. Correct the row, or the baseline first.")
            % {"plot": sheet.plot.name, "planted": sum(n for n in known if n is not None)},
        )


def number_lines(sheet: PlotSheet) -> None:
    """Give each row its place in the visit; what another row counted already is refused."""
    taken: dict[Any, int] = {}
    place = 0
    for row in sheet.rows:
        if not row.species_slug:
            continue
        keys: list[Any] = [baseline.line for baseline in row.baselines] or [row.species_slug]
        before = next((taken[key] for key in keys if key in taken), None)
        if before is not None:
            row.fault(
                "species",
                _(
                    "Line %(line)s already counts this species in plot %(plot)s. Keep one row, or name the lots."
                )
                % {"line": before, "plot": sheet.plot.name},
            )
            continue
        taken.update(dict.fromkeys(keys, row.line))
        row.index, place = place, place + 1


def miss_nothing(sheet: PlotSheet, book: RoundBook) -> None:
    """Refuse a counted plot whose rows say nothing about trees that were planted there."""
    if sheet.all_problems:
        return
    told_of = {baseline.line for row in sheet.counted for baseline in row.baselines}
    missing = [row for row in book.baselines[sheet.plot.pk] if due(row, sheet) and row.line not in told_of]
    if missing:
        names = listed(f"{row.species.scientific_name} ({row.planted})" for row in missing)
        sheet.problems.append(
            sheet.rows[0].problem(
                "species",
                _("Also planted in plot %(plot)s: %(names)s. Add a row for each; 0 alive if none lives.")
                % {"plot": sheet.plot.name, "names": names},
            )
        )


def due(row: PlotBaseline, sheet: PlotSheet) -> bool:
    """Say whether a baseline was there on the day of the visit and holds anything."""
    there = row.counted_on is None or sheet.observed_on is None or row.counted_on <= sheet.observed_on
    return there and bool(row.planted)


# --- as records -------------------------------------------------------------------------------
def visit_uid(upload_uid: UUID, plot: SurvivalPlot) -> UUID:
    """Return the id of the visit an upload makes for a plot: the same however often it is imported."""
    return uuid5(upload_uid, str(plot.uid))


def entry_of(
    sheet: PlotSheet, *, survey_round: SurveyRound, upload_uid: UUID, uploaded_at: datetime
) -> entries.Entry:
    """Return the record of a sheet. Its text depends on the upload alone, so sending it twice stores it once."""
    uid = visit_uid(upload_uid, sheet.plot)
    entry = entries.visit_record(
        plot=sheet.plot,
        survey_round=survey_round,
        observed_on=sheet.observed_on,
        lines=[line_of(row) for row in sheet.counted],
        status=sheet.status[0],
        reason=sheet.status[1],
        note=sheet.note[:2000],
        visit=str(uid),
        captured_at=uploaded_at.isoformat(),
    )
    return replace(entry, id=uid)


def line_of(row: CountRow) -> dict[str, Any]:
    """Return a row as `visit/1` writes a line."""
    return {
        "baselines": [str(baseline.line) for baseline in row.baselines],
        "species": row.species_slug,
        "unit": row.baselines[0].unit if row.baselines else "tree",
        **row.counts,
    }


def shown_rows(sheets: list[PlotSheet], most: int) -> Iterator[dict[str, Any]]:
    """Yield the first rows as they were understood, for the preview."""
    rows = ((sheet, row) for sheet in sheets for row in sheet.rows if row.is_filled_in)
    for _number, (sheet, row) in zip(range(most), rows, strict=False):
        known = [baseline.planted for baseline in row.baselines if baseline.planted is not None]
        yield {
            "line": row.line,
            "block": sheet.plot.block.name,
            "plot": sheet.plot.name,
            "species": row.species_name,
            "planted": sum(known) if known else None,
            "observed_on": sheet.observed_on.isoformat() if sheet.observed_on else "",
            "status": sheet.status[1] or sheet.status[0],
            **{name: row.counts.get(name) for name in COUNTS},
        }
