"""The rows that a file holds for one plot, as one visit: what stands in its way, and the record it becomes."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import Any
from uuid import UUID, uuid5

from monitoring.calc.count_headings import COUNTS
from monitoring.models import CountLine, SurveyRound, SurvivalPlot, Visit
from monitoring.services import entries
from monitoring.services.upload_rows import CountRow, Problem


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
    pairs = [(sheet, row) for sheet in sheets for row in sheet.rows if row.is_filled_in]
    for sheet, row in sorted(pairs, key=lambda pair: pair[1].line)[:most]:
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
