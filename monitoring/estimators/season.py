"""Season totals for a funder: living trees counted two ways, and whether the two agree."""

import math
from dataclasses import dataclass

from monitoring.estimators import rows
from monitoring.estimators.rows import EstimateRow, rounded


@dataclass(frozen=True, slots=True)
class Total:
    """Living trees with two-sided limits at `level`. [trees]"""

    value: float
    lower: float
    upper: float
    level: float


@dataclass(frozen=True, slots=True)
class SeasonTotals:
    """Living trees of a season.

    Attributes
    ----------
    from_ledger : trees planted by the ledger × survival; None where survival is not estimable.
    from_area : net area × planted stocking; None where stocking is not estimable.
    disagree : the two differ by more than their intervals allow, which opens a case.
    """

    from_ledger: Total | None
    from_area: Total | None
    disagree: bool


def season_totals(
    planted: float, survival: EstimateRow | None, net_area_ha: float, stocking_planted: EstimateRow | None
) -> SeasonTotals:
    """Living planted trees by both routes.

    Parameters
    ----------
    planted : trees planted by the ledger in the blocks the survival row covers, those removed on purpose
        left out. [trees]
    survival : headline survival, not found counting as not alive.
    net_area_ha : net area of the blocks the stocking row covers. [ha]
    stocking_planted : living planted trees per hectare.

    Notes
    -----
    They disagree when the difference exceeds the root of the summed squares of the half-widths.

    Examples
    --------
    >>> s = EstimateRow("project", "P", "survival", "m", 0.95, value=0.8, lower=0.7, upper=0.9)
    >>> d = EstimateRow("project", "P", "stocking_planted", "m", 0.95, value=500.0, lower=450.0, upper=550.0)
    >>> totals = season_totals(1000, s, 1.0, d)
    >>> totals.from_ledger.value, totals.from_area.value, totals.disagree
    (800.0, 500.0, True)
    """
    ledger, area = _scaled(survival, planted), _scaled(stocking_planted, net_area_ha)
    return SeasonTotals(ledger, area, ledger is not None and area is not None and _disagree(ledger, area))


def _scaled(row: EstimateRow | None, factor: float) -> Total | None:
    if row is None or row.status != rows.OK or row.value is None or not math.isfinite(factor):
        return None
    if row.lower is None or row.upper is None:
        return None
    figures = [rounded(figure * factor) or 0.0 for figure in (row.value, row.lower, row.upper)]
    return Total(figures[0], figures[1], figures[2], row.level)


def _disagree(one: Total, other: Total) -> bool:
    low, high = (one, other) if one.value <= other.value else (other, one)
    return high.value - low.value > math.hypot(low.upper - low.value, high.value - high.lower)
