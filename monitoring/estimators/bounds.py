"""Best and worst resolution of everything that is still open, by the estimator that makes the headline.

Each bound is the headline over a table in which the open things are decided one way: every bound therefore
has limits of its own, and with nothing open all of them are the headline.

>>> from monitoring.estimators.table import BlockFacts, CountTable
>>> table = CountTable.build(
...     block=[0, 0, 0], plot=[0, 1, 2], planted=[20, 20, 20], alive=[18, 17, 20], not_found=[0, 1, 0],
...     labels={"project": ("p",), "block": ("North",)}, blocks=BlockFacts.build(1, planted=[2400]))
>>> doubtful = OpenThings.none(table).with_cases([2], low=[[0, 0, 0]], high=[[20, 0, 0]])
>>> missed = doubtful.with_missing(block=[0], planted=[20])
>>> for row in bound_estimates(table, missed, scopes=("block",)):
...     print(row.measure, round(row.value, 4))
survival_worst_case 0.4375
survival_best_case 0.95
survival_cases_low 0.5833
survival_cases_high 0.9167
survival_missing_dead 0.6875
survival_missing_alive 0.9375
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from monitoring.estimators import rows
from monitoring.estimators.domains import in_sample
from monitoring.estimators.measures import WHOLE_SCOPES
from monitoring.estimators.round_estimates import round_estimates
from monitoring.estimators.rows import EstimateRow, EstimateSettings
from monitoring.estimators.sums import distinct, summed
from monitoring.estimators.table import COUNTED, TREE, CountTable, Floats, Ints

ALL = (rows.SURVIVAL_WORST_CASE, rows.SURVIVAL_BEST_CASE)
OF_CASES = (rows.SURVIVAL_CASES_LOW, rows.SURVIVAL_CASES_HIGH)
OF_MISSING = (rows.SURVIVAL_MISSING_DEAD, rows.SURVIVAL_MISSING_ALIVE)
BOUND_MEASURES = (*ALL, *OF_CASES, *OF_MISSING, rows.SURVIVAL_UNCERTAIN_NATURAL)


@dataclass(frozen=True, slots=True)
class OpenThings:
    """What is open about a table of counts.

    Attributes
    ----------
    row : `(n_open,)` rows of the table with an open case.
    low, high : `(n_open, 3)` alive, not found and not assessed at the lowest and the highest reading. [trees]
    uncertain : `(n_rows,)` of those alive, how many may be natural seedlings. [trees]
    missing_block, missing_planted : `(n_missing,)` block and trees planted of each plot not counted.
    missing_weight : `(n_missing,)` expansion weight of the plot within its block.
    """

    row: Ints
    low: Ints
    high: Ints
    uncertain: Ints
    missing_block: Ints
    missing_planted: Ints
    missing_weight: Floats

    @classmethod
    def none(cls, table: CountTable) -> "OpenThings":
        """Nothing open."""
        empty, triples = np.empty(0, np.int64), np.empty((0, 3), np.int64)
        return cls(empty, triples, triples, np.zeros_like(table.alive), empty, empty, np.empty(0))

    def with_cases(self, row: ArrayLike, low: ArrayLike, high: ArrayLike) -> "OpenThings":
        """The same with open cases on some rows."""
        index = np.asarray(row, np.int64)
        triples = [np.asarray(one, np.int64).reshape(index.size, 3) for one in (low, high)]
        return replace(self, row=index, low=triples[0], high=triples[1])

    def with_uncertain(self, uncertain: ArrayLike) -> "OpenThings":
        """The same with trees that may be natural seedlings."""
        return replace(self, uncertain=np.asarray(uncertain, np.int64))

    def with_missing(
        self, block: ArrayLike, planted: ArrayLike, weight: ArrayLike | None = None
    ) -> "OpenThings":
        """The same with plots that were not counted."""
        where = np.asarray(block, np.int64)
        weights = np.ones(where.size) if weight is None else np.asarray(weight, float)
        return replace(
            self,
            missing_block=where,
            missing_planted=np.asarray(planted, np.int64),
            missing_weight=weights,
        )


@dataclass(frozen=True, slots=True)
class Decided:
    """One way to decide what is open; `None` leaves a thing as the headline has it."""

    measure: str
    cases: str | None = None  # "low" or "high"
    not_found_alive: bool = False
    missing_alive: bool | None = None
    uncertain_natural: bool = False


WAYS = (
    Decided(rows.SURVIVAL_WORST_CASE, "low", missing_alive=False, uncertain_natural=True),
    Decided(rows.SURVIVAL_BEST_CASE, "high", not_found_alive=True, missing_alive=True),
    Decided(rows.SURVIVAL_CASES_LOW, "low"),
    Decided(rows.SURVIVAL_CASES_HIGH, "high"),
    Decided(rows.SURVIVAL_MISSING_DEAD, missing_alive=False),
    Decided(rows.SURVIVAL_MISSING_ALIVE, missing_alive=True),
    Decided(rows.SURVIVAL_UNCERTAIN_NATURAL, uncertain_natural=True),
)


def bound_estimates(
    table: CountTable,
    things: OpenThings,
    settings: EstimateSettings | None = None,
    *,
    scopes: Iterable[str] = WHOLE_SCOPES,
) -> tuple[EstimateRow, ...]:
    """Bounds of survival for every project, site and block with something open beside trees not found.

    Where only trees were not found, the headline and survival if found are the bounds already.

    Parameters
    ----------
    table : counts of one round.
    things : what is open.
    settings : levels and conventions, those of the headline.
    scopes : a subset of `WHOLE_SCOPES`.

    Returns
    -------
    tuple of EstimateRow
        One headline row a domain and bound: worst and best for all that is open together, then cases, plots not
        counted and trees of uncertain origin each alone, where there are any. What is not estimable is left out.

    Notes
    -----
    A plot not counted enters with the trees planted in it, none or all of them living: limits that hold
    whatever became of it (Manski 2003). Its block keeps its weight.
    """
    open_in = _open_blocks(table, things)
    every = open_in["cases"] | open_in["missing"] | open_in["uncertain"]
    asked = {name: open_in["cases"] for name in OF_CASES} | {name: open_in["missing"] for name in OF_MISSING}
    asked[rows.SURVIVAL_UNCERTAIN_NATURAL] = open_in["uncertain"]
    found: list[EstimateRow] = []
    for way in WAYS:
        touched = asked.get(way.measure, every)
        if touched.any():
            keys = _keys(table, touched)
            estimated = round_estimates(decided_table(table, things, way), settings, scopes=tuple(scopes))
            found += [
                replace(row, measure=way.measure)
                for row in estimated
                if row.is_headline and row.measure == rows.SURVIVAL and row.status == rows.OK
                if row.key in keys[row.scope]
            ]
    return tuple(found)


def decided_table(table: CountTable, things: OpenThings, way: Decided) -> CountTable:
    """The planted trees of the table summed to plots, with what is open decided one way."""
    alive, trees = _decided_lines(table, things, way)
    inside = in_sample(table)
    plots, where = distinct(table.plot[inside])
    block, weight = np.zeros(plots.size, np.int64), np.ones(plots.size)
    block[where], weight[where] = table.block[inside], table.plot_weight[inside]
    enters = _enters(table)
    sums = [
        summed(where, np.where(enters, column, 0)[inside], plots.size)
        for column in (table.planted, alive, trees)
    ]
    planted, living, base = (column.astype(np.int64) for column in sums)
    extra = things.missing_block.size if way.missing_alive is not None else 0
    more = things.missing_planted[:extra]
    return CountTable.build(
        block=np.append(block, things.missing_block[:extra]),
        plot=np.append(plots, table.plot.max(initial=-1) + 1 + np.arange(extra)),
        planted=np.append(planted, more),
        alive=np.append(living, more * bool(way.missing_alive)),
        not_assessed=np.append(planted - base, np.zeros_like(more)),
        plot_weight=np.append(weight, things.missing_weight[:extra]),
        blocks=table.blocks,
        labels=table.labels,
    )


def _decided_lines(table: CountTable, things: OpenThings, way: Decided) -> tuple[Ints, Ints]:
    """Living and assessed trees of each row, `0 <= alive <= trees`."""
    alive, not_found, not_assessed = (
        column.copy() for column in (table.alive, table.not_found, table.not_assessed)
    )
    if way.cases is not None:
        chosen = things.low if way.cases == "low" else things.high
        for column, values in zip((alive, not_found, not_assessed), chosen.T, strict=True):
            column[things.row] = values
    trees = np.maximum(table.planted - not_assessed - table.removed, 0)
    alive = np.minimum(alive, trees)
    if way.uncertain_natural:
        alive = np.maximum(alive - things.uncertain, 0)
    if way.not_found_alive:
        alive = np.minimum(alive + not_found, trees)
    return alive, trees


def _enters(table: CountTable) -> NDArray[np.bool_]:
    return (table.unit == TREE) & (table.baseline == COUNTED)


def _open_blocks(table: CountTable, things: OpenThings) -> dict[str, NDArray[np.bool_]]:
    """Which blocks have open cases, plots not counted and trees of uncertain origin; each `(n_blocks,)`."""
    doubtful = things.row[_enters(table)[things.row]]
    uncertain = _enters(table) & (things.uncertain > 0)
    return {
        "cases": np.bincount(table.block[doubtful], minlength=table.n_blocks) > 0,
        "missing": np.bincount(things.missing_block, minlength=table.n_blocks) > 0,
        "uncertain": np.bincount(table.block[uncertain], minlength=table.n_blocks) > 0,
    }


def _keys(table: CountTable, blocks: NDArray[np.bool_]) -> dict[str, set[str]]:
    """Keys of the projects, sites and blocks that some blocks belong to."""
    codes = np.flatnonzero(blocks)
    names = table.labels.get("project", ())
    sites = table.blocks.site[codes]
    return {
        "project": {names[0] if names else "project"},
        "site": {table.label("site", int(code)) for code in sites if code >= 0},
        "block": {table.label("block", int(code)) for code in codes},
    }
