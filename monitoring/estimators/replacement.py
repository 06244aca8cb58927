"""How many trees to plant so that enough live at the check age, expected and assured."""

import math
from dataclasses import dataclass

import numpy as np

from monitoring.estimators import living as trees
from monitoring.estimators import rows
from monitoring.estimators.living import Carry, living_at_check, survival_values, with_replanted
from monitoring.estimators.planting_survival import ReplacementSurvival
from monitoring.estimators.planting_tails import OUT_OF_REACH, Survivors, chance_of, smallest
from monitoring.estimators.rows import EstimateRow
from monitoring.estimators.table import Floats

NONE_NEEDED = "none_needed"
NOTHING_TO_COME = Carry()  # the check is today


@dataclass(frozen=True, slots=True)
class Need:
    """What to plant.

    Attributes
    ----------
    target : living trees wanted at the check age.
    living, living_lower, living_upper : trees alive today with two-sided limits.
    living_at_check, check_lower, check_upper : alive at the check age if nothing is planted, expected and with
        limits that carry the sampling, the deaths to come and trees planted since the count.
    chance_without : chance of reaching the target if nothing is planted.
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
    check_lower: int | None = None
    check_upper: int | None = None
    chance_without: float | None = None
    replacement_survival: float | None = None
    n_expected: int | None = None
    n_assured: int | None = None
    n_assured_if_known: int | None = None
    probability: float | None = None
    assurance: float = 0.9
    status: str = rows.OK
    reason: str = ""


@dataclass(frozen=True, slots=True)
class Standing:
    """What stands in a block and what of it lives at the check.

    Attributes
    ----------
    survival_now : headline survival of the trees planted, with its limits.
    planted : trees planted by the ledger, without those removed on purpose. [trees]
    carry : how today's living are carried to the check.
    replanted, replanted_survival : trees planted since the count, and what is expected of them.
    """

    survival_now: EstimateRow
    planted: float
    carry: Carry = NOTHING_TO_COME
    replanted: int = 0
    replanted_survival: ReplacementSurvival | None = None

    def at_check(self) -> Floats:
        """Probabilities of the number alive at the check if nothing is planted."""
        return self._with(survival_values(self.survival_now))

    def at_check_if_known(self) -> Floats:
        """The same if the number alive today were known exactly."""
        return self._with(np.array([float(self.survival_now.value or 0.0)]))

    def _with(self, values: Floats) -> Floats:
        found = living_at_check(values, self.planted, self.carry)
        survival = self.replanted_survival
        return found if survival is None else with_replanted(found, self.replanted, survival)


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


def cost_per_living_tree(price: float, survival: float) -> float:
    """What one tree alive at the check costs, in the unit of the price.

    >>> round(cost_per_living_tree(5.00, 0.60), 2), round(cost_per_living_tree(7.00, 0.90), 2)
    (8.33, 7.78)
    """
    return price / survival


def smallest_planting(
    target: int, living: int, survival: ReplacementSurvival, assurance: float = 0.9
) -> tuple[int, float]:
    """Smallest number planted with P(living + survivors ≥ target) ≥ assurance, and that probability.

    Exact beta-binomial, or a mixture of several (binomial where `survival.beta` is infinite).

    Raises
    ------
    OverflowError
        If no sensible number gives the assurance.

    Examples
    --------
    >>> smallest_planting(1600, 1402, ReplacementSurvival(45, 9))[0]
    260
    """
    gap = max(target - living, 0)
    chance = chance_of(gap, np.ones(1), Survivors(survival))
    return smallest(chance, gap / survival.mean, assurance)


def replacement_need(
    standing: Standing,
    target: int,
    replacements: ReplacementSurvival,
    *,
    assurance: float = 0.9,
    level: float = 0.95,
) -> Need:
    """What a block (or a species in it) needs planted to reach its target at the check age.

    Parameters
    ----------
    standing : what is there now.
    target : living trees wanted at the check age. [trees]
    replacements : survival expected of what is planted, to the check age.
    assurance : wanted chance of reaching the target.
    level : two-sided confidence of the limits at the check.

    Notes
    -----
    The number alive at the check and the survivors of the planting are independent, each with its exact
    probabilities; a season that is bad for both is not in the assurance.
    """
    now = standing.survival_now
    if now.status != rows.OK or now.value is None:
        return Need(target, assurance=assurance, status=rows.NOT_ESTIMABLE, reason=now.reason)
    later, survivors = standing.at_check(), Survivors(replacements)
    mean = trees.expected(later)
    expected = expected_need(target, mean, replacements.mean)
    try:
        chance = chance_of(target, later, survivors)
        assured, reached = smallest(chance, expected, assurance)
        known = chance_of(target, standing.at_check_if_known(), survivors)
        if_known, _chance = smallest(known, expected, assurance)
    except OverflowError:
        return Need(target, assurance=assurance, status=rows.NOT_ESTIMABLE, reason=OUT_OF_REACH)
    low, high = trees.between(later, level)
    return Need(
        target=target,
        living=rows.rounded(now.value * standing.planted),
        living_lower=rows.rounded((now.lower or 0.0) * standing.planted),
        living_upper=rows.rounded((now.upper or 0.0) * standing.planted),
        living_at_check=rows.rounded(mean),
        check_lower=low,
        check_upper=high,
        chance_without=rows.rounded(chance(0)),
        replacement_survival=rows.rounded(replacements.mean),
        n_expected=math.ceil(expected - 1e-9),
        n_assured=assured,
        n_assured_if_known=if_known,
        probability=rows.rounded(reached),
        assurance=assurance,
        status=rows.OK if assured else NONE_NEEDED,
    )
