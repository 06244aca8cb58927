"""Lines of a file of counts that contradict each other or themselves."""

import numpy as np
from numpy.typing import NDArray

from monitoring.estimators import count_columns as columns
from monitoring.estimators.count_file_cells import Reading
from monitoring.estimators.count_file_lines import Lines, combined, first_places
from monitoring.estimators.count_file_rounds import Rounds, same_line
from monitoring.estimators.table import TREE, Ints

SEEN = ("alive", "dead", "dead_stem", "empty_spot", "natural")


def check(lines: Lines, rounds: Rounds, reading: Reading) -> None:
    """Tell every contradiction, each at the later of the lines concerned."""
    block, plot = lines.codes["block"], lines.codes["plot_in_block"]
    _lines_twice(lines, combined([rounds.code, same_line(lines)]), reading)
    of_block, of_plot = combined([rounds.code, block]), combined([rounds.code, plot])
    for name in (*columns.BLOCK_FACTS, "census", "site"):
        _must_agree(lines, of_block, name, columns.DIFFERS_IN_BLOCK, reading)
    for name in columns.PLOT_FACTS:
        _must_agree(lines, of_plot, name, columns.DIFFERS_IN_PLOT, reading)
    _must_agree(lines, of_plot, "status", columns.DIFFERS_IN_PLOT, reading)
    _block_plots(lines, of_block, of_plot, reading)
    _block_planted(lines, of_block, reading)
    _statuses(lines, reading)


def _lines_twice(lines: Lines, key: Ints, reading: Reading) -> None:
    again = np.ones(key.size, bool)
    again[first_places(key)] = False
    for place in np.flatnonzero(again).tolist():
        reading.fault(lines.number[place], "plot", columns.LINE_TWICE, _name(lines, "plot", place))


def _must_agree(lines: Lines, group: Ints, name: str, code: str, reading: Reading) -> None:
    """A fact of a block or plot may be left out on some lines but not contradict itself."""
    values, told = value_and_told(lines, name)
    places = np.flatnonzero(told)
    first = places[first_places(group[places])[group[places]]]
    for place in places[values[places] != values[first]].tolist():
        reading.fault(lines.number[place], name, code, _written(lines, name, place))


def value_and_told(lines: Lines, name: str) -> tuple[NDArray, NDArray[np.bool_]]:
    """The values of a column and where it says anything."""
    if name in lines.codes:
        return lines.codes[name], lines.codes[name] >= 0
    if name in lines.numbers:
        return lines.numbers[name], np.isfinite(lines.numbers[name])
    return lines.counts[name], lines.counts[name] >= 0


def _written(lines: Lines, name: str, place: int) -> str:
    if name in lines.codes:
        return _name(lines, name, place)
    values = lines.numbers if name in lines.numbers else lines.counts
    words = {"census": ("no", "yes"), "status": tuple(columns.STATUSES)[1:]}.get(name)
    return words[int(values[name][place])] if words else f"{values[name][place]:g}"


def _name(lines: Lines, name: str, place: int) -> str:
    return lines.labels[name][lines.codes[name][place]]


def _block_plots(lines: Lines, of_block: Ints, of_plot: Ints, reading: Reading) -> None:
    counted = lines.counts["status"] != columns.PLOT_MISSING
    first = first_places(of_plot[counted])
    visited = np.bincount(of_block[counted][first[first >= 0]], minlength=int(of_block.max(initial=0)) + 1)
    held = lines.counts["block_plots"]
    few = (held >= 0) & (held < visited[of_block])
    _at_first_line(lines, of_block, few, "block_plots", columns.FEWER_THAN_VISITED, reading.fault)


def _block_planted(lines: Lines, of_block: Ints, reading: Reading) -> None:
    trees = np.where(lines.counts["unit"] == TREE, np.maximum(lines.counts["planted"], 0), 0)
    in_plots = np.bincount(of_block, trees, int(of_block.max(initial=0)) + 1)
    planted = lines.counts["block_planted"]
    few = (planted >= 0) & (planted < in_plots[of_block]) & (lines.counts["unit"] == TREE)
    _at_first_line(lines, of_block, few, "block_planted", columns.FEWER_THAN_IN_PLOTS, reading.warn)


def _at_first_line(lines: Lines, group: Ints, where: NDArray[np.bool_], name: str, code: str, tell) -> None:
    """Tell once for a group, at the first line that states the fact."""
    places = np.flatnonzero(where)
    first = first_places(group[places])
    for place in np.sort(places[first[first >= 0]]).tolist():
        tell(lines.number[place], name, code, str(lines.counts[name][place]))


def _statuses(lines: Lines, reading: Reading) -> None:
    counts, status = lines.counts, lines.counts["status"]
    seen = np.maximum(np.stack([counts[name] for name in SEEN]), 0).sum(axis=0)
    for name, code, wrong in (
        ("alive", columns.ALIVE_WHERE_DESTROYED, (status == columns.PLOT_DESTROYED) & (counts["alive"] > 0)),
        ("status", columns.COUNTED_WHERE_MISSING, (status == columns.PLOT_MISSING) & (seen > 0)),
        (
            "origin_uncertain",
            columns.MORE_UNCERTAIN_THAN_ALIVE,
            counts["origin_uncertain"] > np.maximum(counts["alive"], 0),
        ),
        (
            "observed_on",
            columns.OBSERVED_BEFORE_PLANTED,
            (counts["observed_on"] > 0) & (counts["observed_on"] < counts["planted_on"]),
        ),
    ):
        for place in np.flatnonzero(wrong):
            reading.fault(lines.number[place], name, code, str(counts[name][place]))
