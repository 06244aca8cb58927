"""Chances of reaching a number of trees with what stands and what is planted, exactly."""

from collections.abc import Callable

import numpy as np

from monitoring.estimators.planting_survival import ReplacementSurvival
from monitoring.estimators.table import Floats
from projects.calc import survivors
from projects.calc.survivors import OUT_OF_REACH, smallest, together

__all__ = ["OUT_OF_REACH", "Survivors", "chance_of", "smallest", "together"]


class Survivors(survivors.Survivors):
    """How many of n planted trees live, for any n, with the survival foreseen of a replacement."""

    def __init__(self, survival: ReplacementSurvival) -> None:
        super().__init__(*survival.parts())


def chance_of(target: int, living: Floats, survivors: Survivors) -> Callable[[int], float]:
    """Chance of reaching a target with n planted, as a function of n.

    Parameters
    ----------
    target : trees wanted.
    living : (n_living + 1,) probabilities of the number alive without planting.
    survivors : what of the planting lives.
    """
    enough = float(living[max(target, 0) :].sum())
    gaps = np.concatenate([[0.0], living[: max(target, 0)][::-1]])  # by how many are missing
    if living.size < target:
        gaps = np.concatenate([[0.0], np.zeros(target - living.size), living[::-1]])

    def chance(planted: int) -> float:
        reach = min(planted + 1, gaps.size)
        return enough + float((gaps[:reach] * survivors.at_least(planted)[:reach]).sum())

    return chance
