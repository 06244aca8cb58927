"""From the rows of a file to one count sheet per plot: whose rows they are, what they say together, what is amiss."""

from datetime import date
from typing import Any

from django.utils.translation import gettext as _

from monitoring.calc.count_table_file import CountFile
from monitoring.models import PlotBaseline, SurveyRound
from monitoring.selectors.upload_book import CellFault, RoundBook, listed
from monitoring.services.upload_rows import Columns, CountRow, Problem, read_row
from monitoring.services.upload_sheets import PlotSheet, Sheets


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
