"""Two rounds of one project laid over each other: one set of codes, and only what both rounds hold.

Trees are compared with themselves only. A line enters if its block, species and cohort were counted in both
rounds; what one round alone holds is blanked, but its plots stay in the sample as visited.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from monitoring.estimators.domains import in_sample
from monitoring.estimators.sums import distinct
from monitoring.estimators.table import COUNTED, DIMENSIONS, TREE, BlockFacts, CountTable, Floats, Ints

BLANKED = ("species", "cohort", "lot", "stock_type", "nursery")
COUNTS = ("planted", "alive", "dead_stem", "empty_spot", "not_found", "not_assessed", "removed")


@dataclass(frozen=True, slots=True)
class Occasion:
    """One round as a change is taken from it.

    Attributes
    ----------
    table : its counts, with labels for every dimension that is compared.
    plots : name of each plot code.
    day : (n_plots,) day number of the visit. [days]
    age_days : (n_rows,) age of the line's cohort at the visit, NaN unknown. [days]
    cohort_planted : (n_cohorts,) trees planted of each cohort code by the ledger, −1 unknown. [trees]
    """

    table: CountTable
    plots: tuple[str, ...]
    day: Ints
    age_days: Floats
    cohort_planted: Ints


@dataclass(frozen=True, slots=True)
class Pair:
    """Two rounds under one set of codes, the earlier first; empty tables where they share no block.

    Attributes
    ----------
    tables : both counts, with the same labels and the same domains.
    age_days : (n_rows,) of each table, as in `Occasion`.
    day : (n_plots, 2) day of the visit, −1 where the plot was not visited in that round.
    plots : names of the plot codes.
    left_out : (n_blocks,) the block holds trees that one of the rounds did not count.
    blocks_left_out : a block was counted in one of the rounds only.
    """

    tables: tuple[CountTable, CountTable]
    age_days: tuple[Floats, Floats]
    day: Ints
    plots: tuple[str, ...]
    left_out: NDArray[np.bool_]
    blocks_left_out: bool

    @property
    def seen(self) -> NDArray[np.bool_]:
        """(n_plots, 2) whether the plot was visited."""
        return self.day >= 0

    @property
    def twice(self) -> NDArray[np.bool_]:
        """(n_plots,) whether the plot was visited in both rounds."""
        return self.seen[:, 0] & self.seen[:, 1]


def paired(earlier: Occasion, later: Occasion) -> Pair:
    """Lay two rounds over each other; a plot nobody knows the planted trees of is no part of either."""
    blocks = _common_blocks(earlier.table, later.table)
    every = [
        _in_blocks(one.table.labels.get("block", ()), one.table, blocks) & in_sample(one.table)
        for one in (earlier, later)
    ]
    labels = {
        name: _union(name, earlier.table, later.table) for name in (*DIMENSIONS, "site") if name != "block"
    } | {"block": blocks, "project": later.table.labels.get("project", ("project",))}
    plots = tuple(
        sorted(
            {earlier.plots[code] for code in np.unique(earlier.table.plot[every[0]]).tolist()}
            | {later.plots[code] for code in np.unique(later.table.plot[every[1]]).tolist()}
        )
    )
    columns = [
        _recoded(occasion, rows, labels, plots)
        for occasion, rows in zip((earlier, later), every, strict=True)
    ]
    shared = _shared(columns[0], columns[1])
    left_out = np.zeros(len(blocks), bool)
    for one, keep in zip(columns, shared, strict=True):
        left_out[one["block"][~keep & _counts(one)]] = True
    facts = [_facts(occasion.table, columns, shared, labels, later) for occasion in (earlier, later)]
    built = [_table(one, keep, fact, labels) for one, keep, fact in zip(columns, shared, facts, strict=True)]
    return Pair(
        tables=(built[0][0], built[1][0]),
        age_days=(built[0][1], built[1][1]),
        day=_days(earlier, later, plots, every),
        plots=plots,
        left_out=left_out,
        blocks_left_out=_n_blocks(earlier.table) > len(blocks) or _n_blocks(later.table) > len(blocks),
    )


def _n_blocks(table: CountTable) -> int:
    return np.unique(table.block).size


def _common_blocks(earlier: CountTable, later: CountTable) -> tuple[str, ...]:
    """Names of the blocks in which both rounds visited plots, in order."""
    names = [
        {table.label("block", code) for code in np.unique(table.block).tolist()} for table in (earlier, later)
    ]
    return tuple(sorted(names[0] & names[1]))


def _in_blocks(names: tuple[str, ...], table: CountTable, blocks: tuple[str, ...]) -> NDArray[np.bool_]:
    wanted = np.array([table.label("block", code) in blocks for code in range(table.n_blocks)], bool)
    return wanted[table.block]


def _union(name: str, earlier: CountTable, later: CountTable) -> tuple[str, ...]:
    return tuple(sorted({*earlier.labels.get(name, ()), *later.labels.get(name, ())}))


def _recoded(
    occasion: Occasion, rows: NDArray[np.bool_], labels: dict[str, tuple[str, ...]], plots: tuple[str, ...]
) -> dict[str, NDArray]:
    """Columns of the rows that enter, under the common codes."""
    table = occasion.table
    columns: dict[str, NDArray] = {
        name: getattr(table, name)[rows] for name in (*COUNTS, "unit", "baseline", "flagged")
    }
    for name in DIMENSIONS:
        old = table.labels.get(name) or tuple(str(code) for code in range(table.n_blocks))
        columns[name] = translated(getattr(table, name)[rows], old, labels[name])
    columns["plot"] = translated(table.plot[rows], occasion.plots, plots)
    columns["plot_weight"], columns["age_days"] = table.plot_weight[rows], occasion.age_days[rows]
    return columns


def translated(codes: Ints, old: tuple[str, ...], new: tuple[str, ...]) -> Ints:
    place = {name: code for code, name in enumerate(new)}
    lookup = np.array([place.get(name, -1) for name in old] + [-1], dtype=np.int64)
    return lookup[np.where((codes >= 0) & (codes < len(old)), codes, len(old))]


def _counts(columns: dict[str, NDArray]) -> NDArray[np.bool_]:
    """Lines that can enter a survival figure."""
    return (columns["unit"] == TREE) & (columns["baseline"] == COUNTED) & (columns["planted"] > 0)


def _shared(one: dict[str, NDArray], two: dict[str, NDArray]) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Lines of each round whose block, species and cohort stand in the other too."""
    width = 2 + max(int(side[name].max(initial=0)) for side in (one, two) for name in ("species", "cohort"))
    keys = [(side["block"] * width + side["species"] + 1) * width + side["cohort"] + 1 for side in (one, two)]
    held = [np.unique(key[_counts(side)]) for key, side in zip(keys, (one, two), strict=True)]
    both = np.intersect1d(held[0], held[1])
    return _counts(one) & np.isin(keys[0], both), _counts(two) & np.isin(keys[1], both)


def _facts(
    table: CountTable,
    columns: list[dict[str, NDArray]],
    shared: tuple[NDArray[np.bool_], NDArray[np.bool_]],
    labels: dict[str, tuple[str, ...]],
    later: Occasion,
) -> BlockFacts:
    """Facts of the common blocks as one round knows them; both weigh by the trees they share."""
    codes = [_code_of(table, name) for name in labels["block"]]
    sites = table.labels.get("site") or tuple(str(code) for code in range(table.n_blocks))
    facts = table.blocks
    return BlockFacts(
        planted=_planted(columns[1], shared[1], labels, later),
        planted_spots=np.full(len(codes), -1),
        plots=facts.plots[codes],
        net_area_ha=facts.net_area_ha[codes],
        is_census=facts.is_census[codes],
        site=translated(facts.site[codes], sites, labels["site"]),
    )


def _code_of(table: CountTable, name: str) -> int:
    names = table.labels.get("block") or tuple(str(code) for code in range(table.n_blocks))
    return names.index(name)


def _planted(
    columns: dict[str, NDArray],
    shared: NDArray[np.bool_],
    labels: dict[str, tuple[str, ...]],
    later: Occasion,
) -> Ints:
    """Trees planted of the shared cohorts of each block; its whole ledger where a line has no single cohort."""
    old = later.table.labels.get("cohort", ())
    ledger = dict(zip(old, later.cohort_planted.tolist(), strict=True))
    of_cohort = np.array([ledger.get(name, -1) for name in labels["cohort"]] + [-1], dtype=np.int64)
    width = len(labels["cohort"]) + 1
    pairs, _ = distinct(columns["block"][shared] * width + columns["cohort"][shared] % width)
    block, planted = pairs // width, of_cohort[pairs % width]
    n_blocks = len(labels["block"])
    total = np.bincount(block, np.maximum(planted, 0), n_blocks).astype(np.int64)
    unknown = np.bincount(block, planted < 0, n_blocks) > 0
    whole = later.table.blocks.planted[[_code_of(later.table, name) for name in labels["block"]]]
    return np.where(unknown, whole, np.where(total > 0, total, -1))


def _table(
    columns: dict[str, NDArray],
    keep: NDArray[np.bool_],
    facts: BlockFacts,
    labels: dict[str, tuple[str, ...]],
) -> tuple[CountTable, Floats]:
    """The counts of one round with what is not shared blanked, and their ages in the same order."""
    blanked = dict(columns)
    for name in (*COUNTS, "flagged", "unit", "baseline"):
        blanked[name] = np.where(keep, columns[name], 0)
    for name in BLANKED:
        blanked[name] = np.where(keep, columns[name], -1)
    age = np.where(keep, columns["age_days"], np.nan)
    order = np.lexsort(
        [
            *(blanked[name] for name in (*COUNTS, "lot", "cohort")),
            blanked["species"],
            blanked["plot"],
            blanked["block"],
        ]
    )
    del blanked["age_days"]
    ready = {name: column[order] for name, column in blanked.items()}
    return CountTable.build(**ready, blocks=facts, labels=labels), age[order]


def _days(
    earlier: Occasion, later: Occasion, plots: tuple[str, ...], every: Sequence[NDArray[np.bool_]]
) -> Ints:
    """Day of the visit to each plot in each round; −1 where it has no row in that round."""
    found = np.full((len(plots), 2), -1, dtype=np.int64)
    place = {name: code for code, name in enumerate(plots)}
    for t, (occasion, rows) in enumerate(zip((earlier, later), every, strict=True)):
        for code in np.unique(occasion.table.plot[rows]).tolist():
            found[place[occasion.plots[code]], t] = occasion.day[code]
    return found
