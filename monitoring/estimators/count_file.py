"""Reads a plain file of counts into the tables of its rounds, or says everything that is wrong with it.

Columns: `block, plot, species, planted, alive` and any other of `count_columns.KNOWN`; a line is one plot ×
species (× cohort, lot, unit) of one round.

>>> lines = ["block,plot,species,planted,alive,dead", "A,1,oak,10,8,1", "A,2,oak,9,9,0", "A,3,,0,0,0"]
>>> (only,) = read_counts("\\n".join(lines)).rounds
>>> only.table.not_found.tolist(), only.table.planted.tolist()
([1, 0, 0], [10, 9, 0])
"""

from dataclasses import dataclass
from datetime import date

import numpy as np

from monitoring.estimators import count_columns as columns
from monitoring.estimators.bounds import OpenThings
from monitoring.estimators.count_columns import Problem
from monitoring.estimators.count_file_cells import CountFileError, Reading, read_sheet
from monitoring.estimators.count_file_checks import check
from monitoring.estimators.count_file_lines import Lines, first_places, read_lines
from monitoring.estimators.count_file_rounds import rounds_of
from monitoring.estimators.count_file_table import (
    Counts,
    Facts,
    block_facts,
    complete,
    missing_plots,
    stocking_of,
    table_of,
)
from monitoring.estimators.stocking_table import StockingTable
from monitoring.estimators.table import CountTable, Floats, Ints

__all__ = ["CountFile", "CountFileError", "FileRound", "read_counts"]


@dataclass(frozen=True, slots=True)
class FileRound:
    """One round of a file.

    Attributes
    ----------
    name : empty where the file holds a single round without a name.
    table : counts.
    things : what is open about them: plots that nobody could count, trees that may be natural.
    season : `(n_rows,)` code of the planting season of each row of `table`, −1 unknown.
    age_days : `(n_rows,)` from planting to the count, NaN unknown. [days]
    plots, day : name of each plot code, the same in all rounds, and the day number of its count in this
        one (0 unknown, −1 not counted).
    stocking : plots with their area; None where no area is stated.
    first_day, last_day : of the counts; None without a day.
    n_missing : plots that nobody could count.
    """

    name: str
    table: CountTable
    things: OpenThings
    season: Ints
    age_days: Floats
    plots: tuple[str, ...]
    day: Ints
    stocking: StockingTable | None
    first_day: date | None
    last_day: date | None
    n_missing: int


@dataclass(frozen=True, slots=True)
class CountFile:
    """The rounds of a file in their order, and what its reader should be told without being stopped."""

    rounds: tuple[FileRound, ...]
    warnings: tuple[Problem, ...]


def read_counts(content: str | bytes) -> CountFile:
    """Parse the text of a file of counts.

    Raises
    ------
    CountFileError
        With every fault found: missing columns first, else all bad cells, repeated lines and contradictions.
    """
    reading = Reading()
    sheet = read_sheet(content, reading)
    if not sheet.number.size:
        reading.fault(0, "", columns.EMPTY_FILE)
        reading.stop_on_faults()
    lines = read_lines(sheet, reading)
    rounds = rounds_of(lines, reading)
    check(lines, rounds, reading)
    reading.stop_on_faults()
    counts, facts = complete(lines, reading), Facts.stated(lines)
    _tell_caps(sheet.cells["natural"].texts, reading)
    parts = [
        _round(name, np.flatnonzero(rounds.code == place), lines, counts, facts, reading)
        for place, name in enumerate(rounds.names)
    ]
    return CountFile(tuple(parts), tuple(dict.fromkeys(reading.warnings)))


def _round(
    name: str, chosen: Ints, lines: Lines, counts: Counts, facts: Facts, reading: Reading
) -> FileRound:
    """One round; a fact of a block that it leaves out is taken from the other rounds where these agree."""
    missing = lines.counts["status"][chosen] == columns.PLOT_MISSING
    n_missing = np.unique(lines.codes["plot_in_block"][chosen[missing]]).size
    if n_missing:
        reading.warn(0, "status", columns.PLOTS_MISSING, str(n_missing))
    lost, chosen = lines.only(chosen[missing]), _in_table_order(lines, chosen[~missing])
    own, of_round = lines.only(chosen), {key: column[chosen] for key, column in counts.items()}
    facts = Facts.stated(own).or_else(facts)
    table = table_of(own, of_round, block_facts(own, facts))
    things = OpenThings.none(table).with_uncertain(np.minimum(of_round["origin_uncertain"], table.alive))
    days = own.counts["observed_on"][own.counts["observed_on"] > 0]
    dated = (own.counts["observed_on"] > 0) & (own.counts["planted_on"] > 0)
    return FileRound(
        name=name,
        table=table,
        things=things.with_missing(*missing_plots(lost, table)) if n_missing else things,
        season=own.codes["planting_season"],
        age_days=np.where(dated, own.counts["observed_on"] - own.counts["planted_on"], np.nan),
        plots=_plot_names(lines),
        day=_days_of_plots(lines, own),
        stocking=stocking_of(own, of_round, table, facts, reading),
        first_day=date.fromordinal(int(days.min())) if days.size else None,
        last_day=date.fromordinal(int(days.max())) if days.size else None,
        n_missing=n_missing,
    )


def _plot_names(lines: Lines) -> tuple[str, ...]:
    """Plots by their code, as `block / plot`, for two blocks may use one name."""
    first = first_places(lines.codes["plot_in_block"])
    block, plot = (lines.codes[name][first].tolist() for name in ("block", "plot"))
    names = lines.labels
    return tuple(f"{names['block'][b]} / {names['plot'][p]}" for b, p in zip(block, plot, strict=True))


def _days_of_plots(lines: Lines, own: Lines) -> Ints:
    found = np.full(int(lines.codes["plot_in_block"].max(initial=-1)) + 1, -1)
    np.maximum.at(found, own.codes["plot_in_block"], own.counts["observed_on"])
    return found


def _in_table_order(lines: Lines, chosen: Ints) -> Ints:
    """The order in which a `CountTable` keeps its rows, and beyond it one that no order of lines changes."""
    names = ("nursery", "stock_type", "lot", "cohort")
    keys = [lines.counts["baseline"], lines.counts["unit"], *(lines.codes[name] for name in names)]
    keys += [lines.codes[name] for name in ("species", "plot_in_block")]
    return chosen[np.lexsort([key[chosen] for key in keys])]


def _tell_caps(texts: tuple[str, ...], reading: Reading) -> None:
    if any(text.endswith("+") for text in texts):
        reading.warn(0, "natural", columns.STOPPED_AT_A_CAP)
