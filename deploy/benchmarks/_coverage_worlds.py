"""Made-up forests for the coverage study: how plots live and die, and what the share alive really is.

Trees of a plot share a chance of living, drawn anew for each plot, with the survival and the intra-plot
correlation of the cell as its mean and spread. Numbers in, numbers out; all chance comes from the generator given.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy import optimize, special

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Chance = np.random.Generator

WIPED_OUT = 0.04  # share of plots with nothing alive, in the form that has them


@dataclass(frozen=True, slots=True)
class Cell:
    """One point of a grid.

    Attributes
    ----------
    form : how plots behave, a key of `FORMS`.
    plots : plots drawn in the block.
    icc, survival : intra-plot correlation, and the share alive, over all plots there could be.
    """

    form: str
    plots: int
    icc: float
    survival: float


def draw(cell: Cell, surveys: int, rng: Chance) -> tuple[Ints, Ints]:
    """Trees alive and trees counted of many surveys of one block; each (surveys, plots)."""
    return FORMS[cell.form](cell.survival, cell.icc, (surveys, cell.plots), rng)


def truth(cell: Cell) -> float:
    """Trees alive of all trees, over every plot there could be.

    Where plots with more survivors hold more counted trees that is not the mean over plots.
    """
    if cell.form != "informative":
        return cell.survival
    p, second = cell.survival, cell.survival**2 + cell.icc * cell.survival * (1 - cell.survival)
    return (LEAST * p + MORE * second) / (LEAST + MORE * p)


def beta_chances(survival: float, icc: float, shape: tuple[int, ...], rng: Chance) -> Floats:
    """A chance of living for each plot: Beta with the mean and correlation asked for."""
    strength = (1 - icc) / icc
    return rng.beta(survival * strength, (1 - survival) * strength, size=shape)


def logit_normal_chances(survival: float, icc: float, shape: tuple[int, ...], rng: Chance) -> Floats:
    """A chance of living for each plot, normal on the logit scale, with the same mean and variance."""
    centre, spread = _logit_normal(survival, icc)
    return special.expit(centre + spread * rng.standard_normal(shape))


@lru_cache(maxsize=256)
def _logit_normal(survival: float, icc: float) -> tuple[float, float]:
    """Centre and spread on the logit scale that give a mean and a variance of icc × p (1 − p)."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(80)
    weights = weights / weights.sum()

    def miss(parameters: Floats) -> list[float]:
        chance = special.expit(parameters[0] + np.exp(parameters[1]) * nodes)
        mean = weights @ chance
        variance = weights @ (chance - mean) ** 2
        return [mean - survival, np.log(variance / (icc * survival * (1 - survival)))]

    start = [special.logit(survival), np.log(np.sqrt(icc / (survival * (1 - survival))))]
    found = optimize.root(miss, start, tol=1e-10)
    if not found.success:
        raise ArithmeticError(f"No logit-normal law with mean {survival} and correlation {icc}.")
    return float(found.x[0]), float(np.exp(found.x[1]))


# --- forms ----------------------------------------------------------------------------------
def usual(survival: float, icc: float, shape: tuple[int, ...], rng: Chance) -> tuple[Ints, Ints]:
    """15 to 25 trees a plot, beta-binomial."""
    return _counted(rng.integers(15, 26, size=shape), beta_chances(survival, icc, shape, rng), rng)


def wide(survival: float, icc: float, shape: tuple[int, ...], rng: Chance) -> tuple[Ints, Ints]:
    """5 to 60 trees a plot."""
    return _counted(rng.integers(5, 61, size=shape), beta_chances(survival, icc, shape, rng), rng)


def sparse(survival: float, icc: float, shape: tuple[int, ...], rng: Chance) -> tuple[Ints, Ints]:
    """2 to 6 trees a plot, as of one species among several."""
    return _counted(rng.integers(2, 7, size=shape), beta_chances(survival, icc, shape, rng), rng)


def logit_normal(survival: float, icc: float, shape: tuple[int, ...], rng: Chance) -> tuple[Ints, Ints]:
    """15 to 25 trees a plot, chances normal on the logit scale."""
    return _counted(rng.integers(15, 26, size=shape), logit_normal_chances(survival, icc, shape, rng), rng)


LEAST, MORE = 5, 20  # trees a plot holds at least, and at most beside them, in the informative form


def informative(survival: float, icc: float, shape: tuple[int, ...], rng: Chance) -> tuple[Ints, Ints]:
    """5 to 25 trees a plot, the more of them the better the plot."""
    chance = beta_chances(survival, icc, shape, rng)
    return _counted(LEAST + rng.binomial(MORE, chance), chance, rng)


def wiped_out(survival: float, icc: float, shape: tuple[int, ...], rng: Chance) -> tuple[Ints, Ints]:
    """4 % of plots hold nothing alive; the others so much more that the share alive is the one asked for."""
    chance = beta_chances(survival / (1 - WIPED_OUT), icc, shape, rng)
    chance[rng.random(shape) < WIPED_OUT] = 0.0
    return _counted(rng.integers(15, 26, size=shape), chance, rng)


def _counted(trees: Ints, chance: Floats, rng: Chance) -> tuple[Ints, Ints]:
    return rng.binomial(trees, chance), trees


FORMS: dict[str, Callable[[float, float, tuple[int, ...], Chance], tuple[Ints, Ints]]] = {
    "main": usual,
    "few": usual,
    "wide": wide,
    "sparse": sparse,
    "logit_normal": logit_normal,
    "informative": informative,
    "wiped_out": wiped_out,
}


# --- projects -------------------------------------------------------------------------------
@dataclass(frozen=True, slots=True)
class ProjectCell:
    """One point of the grid of projects.

    Attributes
    ----------
    form : `common` correlation; `uneven`, four times as large in every other block; `heavy`, the same, those
        blocks also planted with four times the trees; `logit_normal`; or `sparse`, 2 to 6 trees a plot.
    blocks, plots : blocks, and plots drawn in each.
    icc : correlation; survival : of the middle block, the others spread ± 0.6 about it on the logit scale.
    """

    form: str
    blocks: int
    plots: int
    icc: float
    survival: float

    @property
    def planted(self) -> Floats:
        """Trees planted in each block, in pairs of equal blocks, the largest with four times the smallest; (blocks,).

        In each pair one block has the smaller correlation of `uneven` and one the larger.
        """
        sizes = np.rint(np.geomspace(2_000, 8_000, self.blocks // 2))
        planted = np.repeat(np.concatenate([sizes[::2], sizes[1::2][::-1]]), 2)
        return np.where(self._clustered, 4, 1) * planted if self.form == "heavy" else planted

    @property
    def survivals(self) -> Floats:
        """Survival of each block; (blocks,)."""
        return special.expit(special.logit(self.survival) + np.linspace(-0.6, 0.6, self.blocks))

    @property
    def iccs(self) -> Floats:
        """Correlation of each block, on average the cell's; (blocks,)."""
        if self.form not in ("uneven", "heavy"):
            return np.full(self.blocks, self.icc)
        return self.icc * np.where(self._clustered, 1.6, 0.4)

    @property
    def _clustered(self) -> NDArray[np.bool_]:
        return np.arange(self.blocks) % 2 == 1

    @property
    def truth(self) -> float:
        """Share alive of all trees planted."""
        return float(self.planted @ self.survivals / self.planted.sum())


def draw_projects(cell: ProjectCell, projects: int, rng: Chance) -> tuple[Ints, Ints]:
    """Trees alive and trees counted of many projects; each (projects, blocks, plots)."""
    form = FORMS.get(cell.form, usual)
    blocks = [
        form(float(p), float(icc), (projects, cell.plots), rng)
        for p, icc in zip(cell.survivals, cell.iccs, strict=True)
    ]
    return np.stack([alive for alive, _ in blocks], axis=1), np.stack([trees for _, trees in blocks], axis=1)
