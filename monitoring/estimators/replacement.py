"""How many trees to plant so that enough live at the check age, expected and assured."""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from monitoring.estimators import rows
from monitoring.estimators.betabinomial import at_least, fit, tail_probabilities
from monitoring.estimators.rows import EstimateRow
from monitoring.estimators.table import Floats

NONE_NEEDED = "none_needed"
OUT_OF_REACH = "assurance_out_of_reach"
MOST_TREES = 2_000_000
GRID = 60  # equally likely values that stand for what is not known about the trees alive today


@dataclass(frozen=True, slots=True)
class ReplacementSurvival:
    """Survival of the trees to be planted: Beta(alpha, beta), from the same stock or an editable prior."""

    alpha: float
    beta: float

    @property
    def mean(self) -> float:
        """Expected survival."""
        return self.alpha if math.isinf(self.beta) else self.alpha / (self.alpha + self.beta)


@dataclass(frozen=True, slots=True)
class Need:
    """What to plant.

    Attributes
    ----------
    living, living_lower, living_upper : trees alive today with two-sided limits.
    living_at_check : of those, expected alive at the check age.
    target : living trees wanted at the check age.
    replacement_survival : expected survival of what is planted.
    n_expected : trees that make up the shortfall on average: about as often too few as enough.
    n_assured : smallest number that reaches the target with the wanted assurance.
    n_assured_if_known : the same if the trees alive today were known exactly; the difference is what more
        plots could save.
    probability : chance of reaching the target with `n_assured`.
    status, reason : `ok`, `none_needed` or `not_estimable` with the reason.
    """

    target: int
    living: float | None = None
    living_lower: float | None = None
    living_upper: float | None = None
    living_at_check: float | None = None
    replacement_survival: float | None = None
    n_expected: int | None = None
    n_assured: int | None = None
    n_assured_if_known: int | None = None
    probability: float | None = None
    assurance: float = 0.9
    status: str = rows.OK
    reason: str = ""


def expected_need(target: float, living: float, survival: float) -> float:
    """Trees that close the gap on average.

    >>> round(expected_need(1400, 1120, 0.75), 1)
    373.3
    """
    return max(target - living, 0.0) / survival


def order_quantity(target: int, survival: float, cull: float = 0.0, handling_loss: float = 0.0) -> int:
    """Plants to order so that `target` live on average after culls and losses on the way.

    >>> order_quantity(1100, 0.80, cull=0.03, handling_loss=0.02)
    1447
    """
    return math.ceil(target / (survival * (1 - cull) * (1 - handling_loss)))


def smallest_planting(
    target: int, living: int, survival: ReplacementSurvival, assurance: float = 0.9
) -> tuple[int, float]:
    """Smallest number planted with P(living + survivors ≥ target) ≥ assurance, and that probability.

    Exact beta-binomial (binomial where `survival.beta` is infinite).

    >>> smallest_planting(1600, 1402, ReplacementSurvival(45, 9))[0]
    260
    """
    gap = target - living
    return _smallest(
        lambda n: at_least(gap, n, survival.alpha, survival.beta), max(gap, 0), survival.mean, assurance
    )


def _smallest(
    chance: Callable[[int], float], gap: float, survival: float, assurance: float
) -> tuple[int, float]:
    """Double, then halve: the chance never falls with the number planted."""
    low, high = -1, max(math.ceil(gap / survival), 0)
    while chance(high) < assurance:
        low, high = high, max(2 * high, 16)
        if high > MOST_TREES:
            raise OverflowError(OUT_OF_REACH)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if chance(middle) >= assurance else (middle, high)
    return high, chance(high)


def replacement_survival(row: EstimateRow) -> ReplacementSurvival:
    """Survival of the replacements as observed: a Beta with the mean and the spread of an estimate.

    Raises
    ------
    ValueError
        If the row is not estimable: take an editable prior instead.
    """
    if row.status != rows.OK or row.value is None or row.lower is None or row.upper is None:
        raise ValueError("there is no estimate to draw the survival of replacements from.")
    mean = float(np.clip(row.value, 0.005, 0.995))
    spread = max((row.upper - row.lower) / (2 * special.ndtri((1 + row.level) / 2)), 1e-4)
    size = max(mean * (1 - mean) / spread**2 - 1, 1.0)
    return ReplacementSurvival(mean * size, (1 - mean) * size)


def survival_of_groups(alive: ArrayLike, trees: ArrayLike) -> ReplacementSurvival:
    """Survival of a new planting like these: differences between past lots, blocks or seasons carried over.

    Parameters
    ----------
    alive, trees : (n_groups,) trees alive and planted in each past lot, block or season.

    Notes
    -----
    Groups that show no difference still count for no more than the trees that were seen.
    """
    found = fit(alive, trees)
    size = min(found.alpha + found.beta, float(np.sum(trees)))
    return ReplacementSurvival(found.mu * size, (1 - found.mu) * size)


def replacement_need(
    survival_now: EstimateRow,
    planted: float,
    target: int,
    replacements: ReplacementSurvival,
    *,
    survival_to_check: float = 1.0,
    assurance: float = 0.9,
) -> Need:
    """What a block (or a species in it) needs planted to reach its target at the check age.

    Parameters
    ----------
    survival_now : headline survival of the trees planted, with its limits.
    planted : trees planted by the ledger, without those removed on purpose. [trees]
    target : living trees wanted at the check age. [trees]
    replacements : survival expected of what is planted, to the check age.
    survival_to_check : share of today's living expected to live on to the check age.
    assurance : wanted chance of reaching the target.

    Notes
    -----
    What is not known about the living is carried by `GRID` equally likely values of a Beta with the mean and
    spread of the estimate, times `survival_to_check`; the survivors of the planting are exact beta-binomial.
    """
    if survival_now.status != rows.OK or survival_now.value is None:
        return Need(target, assurance=assurance, status=rows.NOT_ESTIMABLE, reason=survival_now.reason)
    living = survival_now.value * planted
    later = living * survival_to_check
    alive = _living_values(survival_now, planted) * survival_to_check
    try:
        assured, chance = _assured(target, alive, replacements, assurance)
        known, _ = _assured(target, np.array([later]), replacements, assurance)
    except OverflowError:
        return Need(target, assurance=assurance, status=rows.NOT_ESTIMABLE, reason=OUT_OF_REACH)
    return Need(
        target=target,
        living=rows.rounded(living),
        living_lower=rows.rounded((survival_now.lower or 0.0) * planted),
        living_upper=rows.rounded((survival_now.upper or 0.0) * planted),
        living_at_check=rows.rounded(later),
        replacement_survival=rows.rounded(replacements.mean),
        n_expected=math.ceil(expected_need(target, later, replacements.mean) - 1e-9),
        n_assured=assured,
        n_assured_if_known=known,
        probability=rows.rounded(chance),
        assurance=assurance,
        status=rows.OK if assured else NONE_NEEDED,
    )


def _living_values(row: EstimateRow, planted: float) -> Floats:
    """Equally likely numbers of trees alive today; one value for a census."""
    if row.method == rows.CENSUS:
        return np.array([float(row.value or 0.0) * planted])
    beta = replacement_survival(row)
    middles = (np.arange(GRID) + 0.5) / GRID
    return special.betaincinv(beta.alpha, beta.beta, middles) * planted


def _assured(
    target: int, alive: Floats, survival: ReplacementSurvival, assurance: float
) -> tuple[int, float]:
    gaps = np.maximum(np.ceil(target - alive - 1e-9), 0).astype(int)

    def chance(planted: int) -> float:
        tails = np.append(tail_probabilities(planted, survival.alpha, survival.beta), 0.0)
        return float(tails[np.minimum(gaps, planted + 1)].mean())

    return _smallest(chance, float(gaps.mean()), survival.mean, assurance)
