"""Values computed or printed outside this project, read from `data/`; each names its source."""

import json
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from monitoring.estimators.strata import PlotTotals, RatioEstimates, Sample, ratio_estimates
from monitoring.estimators.table import BlockFacts, CountTable

DATA = Path(__file__).parent / "data" / "estimator_checks.json"


@lru_cache(maxsize=1)
def cases() -> dict[str, dict[str, Any]]:
    """Every case by its id."""
    return {case["id"]: case for case in json.loads(DATA.read_text(encoding="utf-8"))["cases"]}


def ids(*prefixes: str, ending: str = "") -> list[str]:
    """Ids of the cases that begin and end so."""
    return [name for name in cases() if name.startswith(prefixes) and name.endswith(ending)]


def one_block(alive: list[int], total: list[int], plots: int | None = None) -> RatioEstimates:
    """Ratio estimate of one block with an optional finite-population correction."""
    zeros, n = np.zeros(len(alive), int), len(alive)
    totals = PlotTotals(zeros, zeros, np.array(alive), np.array(total), np.ones(n))
    fraction = n / plots if plots else 0.0
    return ratio_estimates(totals, Sample(np.array([n]), np.array([fraction])), 1, whole=True)


def one_block_table(alive: list[int], planted: list[int], plots: int | None = None) -> CountTable:
    """The same block as a table of counts."""
    facts = BlockFacts.build(1, planted=[10 * sum(planted)], plots=[plots or -1])
    return CountTable.build(
        block=[0] * len(alive), plot=range(len(alive)), species=[0] * len(alive), planted=planted, alive=alive,
        blocks=facts, labels={"block": ("A",), "species": ("oak",), "project": ("P",)},
    )  # fmt: skip


def strata_table(rows: list[dict[str, Any]], plots: dict[str, int]) -> CountTable:
    """Rows of stratum, plot, species, alive and total as a table weighted by plots of the block."""
    blocks, species = sorted(plots), sorted({row.get("species", "tree") for row in rows})
    names = sorted({row["plot"] for row in rows})
    return CountTable.build(
        block=[blocks.index(row["stratum"]) for row in rows],
        plot=[names.index(row["plot"]) for row in rows],
        species=[species.index(row.get("species", "tree")) for row in rows],
        planted=[row["total"] for row in rows],
        alive=[row["alive"] for row in rows],
        blocks=BlockFacts.build(len(blocks), plots=[plots[name] for name in blocks]),
        labels={"block": tuple(blocks), "species": tuple(species), "project": ("P",)},
    )


def strata_ratio(
    rows: list[dict[str, Any]],
    plots: dict[str, int],
    *,
    fpc: bool,
    lonely: str = "adjust",
    whole: bool = True,
) -> RatioEstimates:
    """Combined ratio over strata with weights N/n, straight from the estimator."""
    names, strata = sorted({row["plot"] for row in rows}), sorted(plots)
    stratum = np.zeros(len(names), int)
    alive, trees = np.zeros(len(names), int), np.zeros(len(names), int)
    for row in rows:
        plot = names.index(row["plot"])
        stratum[plot] = strata.index(row["stratum"])
        alive[plot] += row["alive"] * row.get("in_domain", 1)
        trees[plot] += row["total"] * row.get("in_domain", 1)
    visited = np.bincount(stratum, minlength=len(strata))
    held = np.array([plots[name] for name in strata])
    keep = (trees > 0) | whole
    totals = PlotTotals(
        np.zeros(keep.sum(), int), stratum[keep], alive[keep], trees[keep], (held / visited)[stratum[keep]]
    )
    fraction = visited / held if fpc else np.zeros(len(strata))
    return ratio_estimates(totals, Sample(visited, fraction), 1, whole=whole, lonely=lonely)
