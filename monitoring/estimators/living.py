"""Trees alive without planting, at the check: how many, with everything that is not known about them."""

from dataclasses import dataclass

import numpy as np
from scipy import special

from monitoring.estimators import rows
from monitoring.estimators.betabinomial import probabilities
from monitoring.estimators.carrying import LossRate, share_carried
from monitoring.estimators.planting_survival import ReplacementSurvival
from monitoring.estimators.planting_tails import Survivors, together
from monitoring.estimators.rows import EstimateRow
from monitoring.estimators.table import Floats

GRID = 60  # equally likely values that stand for what is not known about the trees alive today
SURE = 1e-9


@dataclass(frozen=True, slots=True)
class Carry:
    """How today's living are carried to the check.

    Attributes
    ----------
    age_days, check_days : their age now (None unknown) and at the check. [days]
    rate : losses after the first year.
    correlation : of the fates of two trees of a block in the time to come, as plantings were seen to differ;
        what a good or a bad season adds.
    """

    age_days: float | None = None
    check_days: float = 0.0
    rate: LossRate | None = None
    correlation: float = 0.0


def survival_values(row: EstimateRow) -> Floats:
    """Equally likely values of a survival: a Beta with the mean and the spread of the estimate.

    One value for a census.

    Raises
    ------
    ValueError
        If the row is not estimable.
    """
    if row.status != rows.OK or row.value is None or row.lower is None or row.upper is None:
        raise ValueError("there is no estimate to draw the survival from.")
    if row.method == rows.CENSUS:
        return np.array([row.value])
    mean = float(np.clip(row.value, 0.005, 0.995))
    spread = max((row.upper - row.lower) / (2 * special.ndtri((1 + row.level) / 2)), 1e-4)
    size = max(mean * (1 - mean) / spread**2 - 1, 1.0)
    middles = (np.arange(GRID) + 0.5) / GRID
    return special.betaincinv(mean * size, (1 - mean) * size, middles)


def living_at_check(values: Floats, planted: float, carry: Carry) -> Floats:
    """Probabilities of the number alive at the check, for equally likely values of survival now.

    Parameters
    ----------
    values : (n_values,) share alive now.
    planted : trees planted. [trees]

    Returns
    -------
    (most + 1,) probabilities of 0, 1, 2, … trees.

    Notes
    -----
    Of the trees alive now those alive at the check are beta-binomial: mean by `share_carried`, correlation as
    given. Trees and shares are whole numbers of trees, halves rounded down.

    Examples
    --------
    >>> living_at_check(np.array([0.5]), 4, Carry()).tolist()
    [0.0, 0.0, 1.0]
    """
    alive = np.ceil(values * planted - 0.5).astype(int)
    kept = share_carried(values, carry.age_days, carry.check_days, carry.rate)
    found = np.zeros(int(alive.max(initial=0)) + 1)
    for number, share in zip(alive.tolist(), kept.tolist(), strict=True):
        found[: number + 1] += _of(number, share, carry.correlation) / values.size
    return found


def _of(number: int, share: float, correlation: float) -> Floats:
    """Probabilities of how many of `number` trees are left when each is with chance `share`."""
    if share >= 1 - SURE or share <= SURE or number == 0:
        sure = np.zeros(number + 1)
        sure[number if share > 0.5 else 0] = 1.0
        return sure
    if correlation <= SURE:
        return probabilities(number, share, np.inf)
    size = 1 / correlation - 1
    return probabilities(number, share * size, (1 - share) * size)


def with_replanted(living: Floats, replanted: int, survival: ReplacementSurvival) -> Floats:
    """Add what lives of trees planted since the count."""
    if replanted <= 0:
        return living
    return together(living, Survivors(survival).probabilities(replanted))


def expected(living: Floats) -> float:
    """Mean of a number of trees given by its probabilities."""
    return float((np.arange(living.size) * living).sum())


def between(living: Floats, level: float) -> tuple[int, int]:
    """Equal-tailed limits of a number of trees given by its probabilities."""
    upto = np.cumsum(living)
    low, high = np.searchsorted(upto, [(1 - level) / 2 + 1e-12, (1 + level) / 2 - 1e-12])
    return int(low), int(min(high, living.size - 1))
