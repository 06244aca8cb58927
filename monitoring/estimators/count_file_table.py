"""Turns the checked lines of a round into what the estimators take."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitoring.estimators import count_columns as columns
from monitoring.estimators.count_file_cells import Reading
from monitoring.estimators.count_file_checks import value_and_told
from monitoring.estimators.count_file_lines import Lines
from monitoring.estimators.stocking_table import StockingTable, living_planted
from monitoring.estimators.sums import distinct
from monitoring.estimators.table import COUNTED, SEED_SPOT, TREE, BlockFacts, CountTable, Floats, Ints

DEAD = ("dead", "dead_stem", "empty_spot")
CODED = ("block", "species", "cohort", "lot", "stock_type", "nursery")
SQUARE_METRES_PER_HECTARE = 10_000.0

Counts = dict[str, Ints]


def complete(lines: Lines, reading: Reading) -> Counts:
    """The counts of each line with its remainder filled in; what does not close is flagged and told.

    The remainder is not found where dead was recorded, else dead. In a destroyed plot nothing lives and all
    is dead. Without a baseline nothing was planted.
    """
    told = {name: lines.counts[name] >= 0 for name in (*DEAD, "not_found")}
    counts = {name: np.maximum(lines.counts[name], 0) for name in columns.COUNTS}
    bare = lines.counts["baseline"] == columns.NO_BASELINE
    planted = counts["planted"] = np.where(bare, 0, counts["planted"])
    dead = counts["dead"] + counts["dead_stem"] + counts["empty_spot"]
    aside = counts["not_assessed"] + counts["removed"]
    rest = planted - counts["alive"] - dead - aside
    sees_dead = bool(set(DEAD) & lines.given)
    destroyed = lines.counts["status"] == columns.PLOT_DESTROYED
    left = np.where(destroyed | (not sees_dead), 0, np.maximum(rest, 0))
    counts["not_found"] = np.where(told["not_found"], counts["not_found"], left)
    counts["dead_stem"] += counts["dead"]
    told_dead = told["dead"] | told["dead_stem"] | told["empty_spot"]
    open_sum = ~bare & ~destroyed & ((rest < 0) | (told_dead & (rest != counts["not_found"])))
    counts["flagged"] = (open_sum | (lines.counts["flagged"] == 1)).astype(np.int64)
    _warn(lines, counts, ~bare & (counts["alive"] + aside > planted), open_sum, reading)
    return counts


def _warn(
    lines: Lines, counts: Counts, too_many: NDArray[np.bool_], open_sum: NDArray[np.bool_], reading: Reading
) -> None:
    for place in np.flatnonzero(too_many):
        alive = str(counts["alive"][place])
        reading.warn(lines.number[place], "alive", columns.MORE_ALIVE_THAN_PLANTED, alive)
    for place in np.flatnonzero(open_sum & ~too_many):
        reading.warn(lines.number[place], "not_found", columns.DOES_NOT_ADD_UP)
    if not {*DEAD, "not_found"} & lines.given:
        reading.warn(0, "dead", columns.NOT_ALIVE_TAKEN_AS_DEAD)


def table_of(lines: Lines, counts: Counts, facts: BlockFacts) -> CountTable:
    """The lines of one round as a table, codes in the sorted order of the names."""
    wanted = (
        "planted",
        "alive",
        "dead_stem",
        "empty_spot",
        "not_found",
        "not_assessed",
        "removed",
        "flagged",
    )
    labels = {name: lines.labels[name] for name in (*CODED, "site")}
    projects = lines.labels["project"]
    return CountTable.build(
        plot=lines.codes["plot_in_block"],
        plot_weight=_of_plots(lines, "plot_weight", 1.0)[lines.codes["plot_in_block"]],
        unit=lines.counts["unit"],
        baseline=np.where(lines.counts["baseline"] == columns.NO_BASELINE, 0, lines.counts["baseline"]),
        blocks=facts,
        labels=labels | {"project": projects if len(projects) == 1 else ("all",)},
        **{name: lines.codes[name] for name in CODED},
        **{name: counts[name] for name in wanted},
    )


def _of_plots(lines: Lines, name: str, unsaid: float) -> Floats:
    """One number of each plot, by its code, from whichever of its lines states it."""
    plot, values = lines.codes["plot_in_block"], lines.numbers[name]
    found = np.full(int(plot.max(initial=-1)) + 1, unsaid)
    stated = np.isfinite(values)
    found[plot[stated]] = values[stated]
    return found


@dataclass(frozen=True, slots=True)
class Facts:
    """What lines say of blocks as a whole: by column, the value of each block `(n_blocks,)`, NaN unsaid."""

    of: Mapping[str, Floats]

    @classmethod
    def stated(cls, lines: Lines) -> "Facts":
        """What some lines say; NaN where they contradict each other."""
        return cls({name: _stated(lines, name) for name in (*columns.BLOCK_FACTS, "site")})

    def or_else(self, others: "Facts") -> "Facts":
        """These, and where they are silent the others."""
        return Facts({name: np.where(np.isnan(own), others.of[name], own) for name, own in self.of.items()})

    def whole(self, name: str) -> Ints:
        """A column of whole numbers, −1 unsaid."""
        return np.where(np.isnan(self.of[name]), -1, self.of[name]).astype(np.int64)


def _stated(lines: Lines, name: str) -> Floats:
    values, told = value_and_told(lines, name)
    block, values = lines.codes["block"][told], values[told].astype(float)
    found = np.full(len(lines.labels["block"]), np.nan)
    found[block[::-1]] = values[::-1]
    found[block[found[block] != values]] = np.nan
    return found


def block_facts(lines: Lines, facts: Facts) -> BlockFacts:
    """Facts of the blocks of one round."""
    n_blocks, block = len(lines.labels["block"]), lines.codes["block"]
    spots, sown, census = (
        facts.whole("block_planted_spots"),
        np.zeros(n_blocks, bool),
        np.zeros(n_blocks, bool),
    )
    sown[block[lines.counts["unit"] == SEED_SPOT]] = True
    census[block[lines.counts["census"] == 1]] = True
    return BlockFacts.build(
        n_blocks,
        planted=facts.whole("block_planted"),
        planted_spots=np.where((spots < 0) & sown, facts.whole("block_planted"), spots),
        plots=facts.whole("block_plots"),
        net_area_ha=facts.of["net_area_ha"],
        is_census=census,
        site=facts.whole("site"),
    )


def missing_plots(lost: Lines, table: CountTable) -> tuple[Ints, Ints, Floats]:
    """Block, trees planted and weight of the plots that nobody could count, from their lines.

    Where the file does not say how many were planted, it is taken for the mean of the block's counted plots.
    """
    plots, where = distinct(lost.codes["plot_in_block"])
    block, told = np.zeros(plots.size, np.int64), np.zeros(plots.size, bool)
    block[where] = lost.codes["block"]
    trees = (lost.counts["unit"] == TREE) & (lost.counts["baseline"] == COUNTED)
    planted = np.bincount(where, np.where(trees, np.maximum(lost.counts["planted"], 0), 0), plots.size)
    told[where[lost.counts["planted"] >= 0]] = True
    expected = np.where(told, planted, _mean_planted(table)[block])
    weight = np.ones(plots.size)
    stated = np.isfinite(lost.numbers["plot_weight"])
    weight[where[stated]] = lost.numbers["plot_weight"][stated]
    return block, np.rint(expected).astype(np.int64), weight


def _mean_planted(table: CountTable) -> Floats:
    """Trees planted in a plot, the mean of each block."""
    enters = (table.unit == TREE) & (table.baseline == COUNTED)
    planted = np.bincount(table.block, np.where(enters, table.planted, 0), table.n_blocks)
    pairs, _where = distinct(table.plot * table.n_blocks + table.block)
    return planted / np.maximum(np.bincount(pairs % table.n_blocks, minlength=table.n_blocks), 1)


def stocking_of(
    lines: Lines, counts: Counts, table: CountTable, facts: Facts, reading: Reading
) -> StockingTable | None:
    """Plots of one round with their area, or None where no area is stated."""
    plots, where = distinct(lines.codes["plot_in_block"])
    block = np.zeros(plots.size, np.int64)
    block[where] = lines.codes["block"]
    area = _plot_areas(lines, plots, block, table)
    known = np.flatnonzero(np.isfinite(area))
    if not known.size:
        return None
    if known.size < area.size:
        reading.warn(0, "plot_area_m2", columns.AREA_UNKNOWN, str(area.size - known.size))
    target = facts.of["target_per_ha"]
    return StockingTable.build(
        block=block[known],
        area_ha=area[known] / SQUARE_METRES_PER_HECTARE,
        planted=np.bincount(where, living_planted(table), plots.size).astype(np.int64)[known],
        natural=np.bincount(where, counts["natural"], plots.size).astype(np.int64)[known],
        net_area_ha=table.blocks.net_area_ha,
        target_per_ha=np.where(target > 0, target, np.nan),
        plots=table.blocks.plots,
        is_census=table.blocks.is_census,
        without_area=np.bincount(block[np.isnan(area)], minlength=table.n_blocks),
        labels=table.labels,
    )


def _plot_areas(lines: Lines, plots: Ints, block: Ints, table: CountTable) -> Floats:
    """Areas as stated; the one plot of a census is the whole block."""
    area = _of_plots(lines, "plot_area_m2", np.nan)[plots]
    alone = np.bincount(block, minlength=table.n_blocks) == 1
    whole = (alone & table.blocks.is_census)[block] & np.isnan(area)
    return np.where(whole, table.blocks.net_area_ha[block] * SQUARE_METRES_PER_HECTARE, area)
