"""What the coverage study counts: limits that held the truth, their width, outcomes that were wrong."""

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from deploy.benchmarks._coverage_worlds import Floats
from monitoring.estimators import rows

OFFERED = (rows.POSTERIOR, rows.RATIO_LOGIT_T, rows.STRATIFIED_LOGIT_T)  # by the product, not for contrast
NOMINAL = 0.95
FAR_BELOW = 0.93
Z = 1.959964


@dataclass(frozen=True, slots=True)
class Counted:
    """One method at one cell; shares of the surveys.

    Attributes
    ----------
    grid, form, blocks, plots, icc, survival : the cell; `survival` is the true share alive.
    covered, overstated, understated : truth inside the interval; below it (survival looked better than it was);
        above it.
    width : mean width; relative_width : that over 2 × 1.96 × the standard deviation of the estimates.
    meets_decision, short_decision, meets_claim, short_claim : a target equal to the truth called met, or missed,
        at the level of decisions and of claims.
    """

    grid: str
    form: str
    blocks: int
    plots: int
    icc: float
    survival: float
    method: str
    surveys: int
    covered: float
    overstated: float
    understated: float
    width: float
    relative_width: float
    meets_decision: float
    short_decision: float
    meets_claim: float
    short_claim: float


def counted(
    limits: Floats, value: Floats, truth: float, method: str, grid: str, cell: Any, shown: float
) -> Counted:
    """Count one method's limits, (surveys, 6), against the truth."""
    lower, upper, lower_decision, upper_decision, lower_claim, upper_claim = limits.T
    over, under = lower > truth, upper < truth
    width = float((upper - lower).mean())
    return Counted(
        grid=grid, form=cell.form, blocks=getattr(cell, "blocks", 1), plots=cell.plots, icc=cell.icc,
        survival=round(shown, 6), method=method, surveys=len(limits),
        covered=float((~over & ~under).mean()), overstated=float(over.mean()), understated=float(under.mean()),
        width=width, relative_width=width / (2 * Z * float(value.std())),
        meets_decision=float((lower_decision >= truth).mean()),
        short_decision=float((upper_decision < truth).mean()),
        meets_claim=float((lower_claim >= truth).mean()), short_claim=float((upper_claim < truth).mean()),
    )  # fmt: skip


def summary(cells: Sequence[Counted]) -> dict[str, Any]:
    """One method over the cells of one grid, every cell counting alike."""
    covered = np.array([cell.covered for cell in cells])
    worst = min(cells, key=lambda cell: cell.covered)
    return {
        "method": cells[0].method,
        "mean": mean(covered),
        "worst": float(covered.min()),
        "best": float(covered.max()),
        "mean_error": mean(np.abs(covered - NOMINAL)),
        "far_below": mean(covered < FAR_BELOW),
        "relative_width": mean(cell.relative_width for cell in cells),
        "overstated": mean(cell.overstated for cell in cells),
        "understated": mean(cell.understated for cell in cells),
        "worst_at": place(worst),
        "below": [
            place(cell) | {"covered": cell.covered}
            for cell in cells
            if cell.method in OFFERED and cell.covered < NOMINAL - 3 * error(cell)
        ],
        "outcomes": {name: worst_and_mean(cells, name) for name in WRONG},
    }


WRONG = ("meets_decision", "short_decision", "meets_claim", "short_claim")


def worst_and_mean(cells: Sequence[Any], name: str) -> dict[str, float]:
    found = [getattr(cell, name) for cell in cells]
    return {"mean": mean(found), "worst": max(found)}


def place(cell: Counted) -> dict[str, Any]:
    """Where a cell stands in its grid."""
    return {name: getattr(cell, name) for name in ("form", "blocks", "plots", "icc", "survival")}


def error(cell: Counted) -> float:
    """Monte-Carlo standard error of a share near the level aimed at."""
    return float(np.sqrt(NOMINAL * (1 - NOMINAL) / cell.surveys))


def mean(values: Iterable[float]) -> float:
    return float(np.mean(list(values)))


def by_method(cells: Iterable[Counted]) -> dict[str, list[Counted]]:
    """Cells of each method, in the order in which methods come."""
    found: dict[str, list[Counted]] = {}
    for cell in cells:
        found.setdefault(cell.method, []).append(cell)
    return found


# --- looks ----------------------------------------------------------------------------------
@dataclass(frozen=True, slots=True)
class Looked:
    """How often a target equal to the truth was called met or missed, under one rule of looking, at one cell.

    Attributes
    ----------
    rule : `one` look; `two`, the second only where the first settled nothing; `two_split`, the level split.
    plots : plots of the first look; as many are added for the second.
    """

    rule: str
    plots: int
    icc: float
    survival: float
    surveys: int
    meets_decision: float
    short_decision: float
    meets_claim: float
    short_claim: float


# One-sided levels stand in the six limits as (lower, upper): two-sided 95 %, decision 90 %, claim 95 %. Half the
# error of a decision (10 %) is that of a claim (5 %), and half the error of a claim that of each two-sided end.
ENDS = {"decision": (2, 3), "claim": (4, 5), "half_decision": (4, 5), "half_claim": (0, 1)}


def looked(first: Floats, both: Floats, truth: float, cell: Any) -> list[Looked]:
    """Count the three rules from the limits of the first look and of both together; each (surveys, 6)."""
    found = []
    for rule, looks, half in (
        ("one", [first], ""),
        ("two", [first, both], ""),
        ("two_split", [first, both], "half_"),
    ):
        wrong: dict[str, float] = {}
        for level in ("decision", "claim"):
            meets, short = settled(looks, truth, *ENDS[half + level])
            wrong |= {f"meets_{level}": float(meets.mean()), f"short_{level}": float(short.mean())}
        found.append(Looked(rule, cell.plots, cell.icc, cell.survival, len(first), **wrong))
    return found


def settled(looks: Sequence[Floats], target: float, low: int, high: int) -> tuple[Any, Any]:
    """Whether the looks, taken in turn until one settles it, call the target met or missed; each (surveys,)."""
    meets = np.zeros(len(looks[0]), bool)
    short = meets.copy()
    for limits in looks:
        still = ~meets & ~short
        meets |= still & (limits[:, low] >= target)
        short |= still & (limits[:, high] < target)
    return meets, short


def looks_summary(cells: Sequence[Looked]) -> list[dict[str, Any]]:
    """Mean and worst of each rule over its cells."""
    rules = dict.fromkeys(cell.rule for cell in cells)
    return [
        {"rule": rule, "outcomes": {name: worst_and_mean(of, name) for name in WRONG}}
        for rule in rules
        if (of := [cell for cell in cells if cell.rule == rule])
    ]


def as_rows(cells: Iterable[Counted]) -> list[dict[str, Any]]:
    """Cells as rows of a table, shares to five places."""
    return [
        {name: round(entry, 5) if isinstance(entry, float) else entry for name, entry in asdict(cell).items()}
        for cell in cells
    ]
