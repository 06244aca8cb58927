"""How many plots: for a wished half-width, and for a settled outcome.

One order throughout: the design effect first, then the finite-population correction. Trees of a plot share
their fate in part, so a plot of m trees with intra-plot correlation `icc` is worth m / (1 + (m − 1) icc) trees.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from monitoring.estimators.intervals import student_t
from monitoring.estimators.plot_chances import chances
from monitoring.estimators.table import Floats

MOST_PLOTS = 5000
FEWEST_PLOTS = 2  # below two plots nothing says how much plots differ


@dataclass(frozen=True, slots=True)
class PlotsNeeded:
    """Plots for a wished half-width.

    Attributes
    ----------
    plots : smallest number whose Student-t half-width is not above the wish. [plots]
    half_width : the half-width it gives. [share]
    deff : design effect 1 + (m − 1) icc.
    plots_z : the number by the normal approximation, which is a little too small. [plots]
    """

    plots: int
    half_width: float
    deff: float
    plots_z: int


def design_effect(trees_per_plot: ArrayLike, icc: float) -> Floats:
    """How much more the variance is than with independent trees, 1 + (m − 1) icc.

    References
    ----------
    Kish (1965), Survey Sampling, section 5.4 (from memory).

    Examples
    --------
    >>> round(float(design_effect(20, 0.10)), 6)
    2.9
    """
    return 1 + np.maximum(np.asarray(trees_per_plot, float) - 1, 0) * icc


def simple_random_n(
    survival: float, half_width: float, *, critical: float = 1.959963984540054, deff: float = 1.0,
    population: float | None = None,
) -> float:  # fmt: skip
    """Trees needed before rounding up: n₀ = critical² p q deff / d², then n₀ / (1 + (n₀ − 1) / N).

    Parameters
    ----------
    survival, half_width : shares.
    critical : normal or t value of the confidence wished (2 in many handbooks).
    deff : design effect, applied before the finite-population correction.
    population : trees in all; None for no correction.

    References
    ----------
    Cochran (1977), Sampling Techniques, 3rd ed., sections 4.2 to 4.4.

    Examples
    --------
    >>> round(simple_random_n(0.5, 0.05, critical=2)), math.ceil(
    ...     simple_random_n(0.5, 0.05, critical=2, population=3200))
    (400, 356)
    """
    _check_share(survival, half_width)
    n = critical**2 * survival * (1 - survival) * deff / half_width**2
    return n if population is None else n / (1 + (n - 1) / population)


def half_widths(
    plots: ArrayLike,
    survival: float,
    *,
    trees_per_plot: float,
    icc: float,
    level: float = 0.95,
    block_plots: int | None = None,
) -> Floats:
    """Student-t half-width that numbers of plots give; infinite below two plots, 0 where all are counted.

    half-width = t(k − 1) √((1 − k/N) p q deff / (k m))

    Examples
    --------
    >>> half_widths([10, 26], 0.85, trees_per_plot=20, icc=0.1, block_plots=150).round(4).tolist()
    [0.094, 0.0499]
    """
    k = np.asarray(plots, float)
    deff = design_effect(trees_per_plot, icc)
    left = np.ones_like(k) if block_plots is None else np.clip(1 - k / block_plots, 0, 1)
    variance = left * survival * (1 - survival) * deff / (np.maximum(k, 1) * trees_per_plot)
    critical = np.where(k >= FEWEST_PLOTS, student_t(np.maximum(k - 1, 1), level), np.inf)
    return np.where(left > 0, critical * np.sqrt(np.where(left > 0, variance, 1)), 0.0)


def chance_seen(share: float, n_trees: int) -> float:
    """Chance that at least one of some trees is of a species that makes up a share of the planting.

    Trees that stand together are alike, so in plots the chance is smaller.

    Examples
    --------
    >>> round(chance_seen(0.02, 50), 3)
    0.636
    """
    if not 0 <= share <= 1 or n_trees < 0:
        raise ValueError("share must lie in 0..1 and n_trees must not be below 0.")
    return 1 - (1 - share) ** n_trees


def plots_needed(
    survival: float,
    half_width: float,
    *,
    trees_per_plot: float,
    icc: float,
    level: float = 0.95,
    block_plots: int | None = None,
) -> PlotsNeeded:
    """Smallest number of plots whose half-width is not above the wish.

    Parameters
    ----------
    survival : expected survival, between 0 and 1; 0.5 is the most demanding. [share]
    half_width : wished half-width of the interval. [share]
    trees_per_plot : planted trees in a plot, at least 1. [trees]
    icc : intra-plot correlation, 0..1.
    level : two-sided confidence.
    block_plots : plots the block could hold; None for no finite-population correction.

    Raises
    ------
    ValueError
        If survival, half_width, icc or trees_per_plot lie outside their range, or not even `MOST_PLOTS` plots
        would do.

    Notes
    -----
    Every number from 2 upwards is tried, because repeating n = t(n − 1)² … until it stands still can stop one
    plot off. A block smaller than that is counted whole.

    References
    ----------
    Cochran (1977), Sampling Techniques, 3rd ed., chapter 4; Kish (1965) for the design effect.

    Examples
    --------
    >>> plots_needed(0.85, 0.05, trees_per_plot=20, icc=0.1, block_plots=150).plots
    26
    """
    _check_share(survival, half_width)
    _check_plot(trees_per_plot, icc)
    most = MOST_PLOTS if block_plots is None else max(1, block_plots)
    candidates = np.arange(1, most + 1)
    widths = half_widths(
        candidates, survival, trees_per_plot=trees_per_plot, icc=icc, level=level, block_plots=block_plots
    )
    enough = np.flatnonzero(widths <= half_width)
    if not enough.size:
        raise ValueError(f"not even {MOST_PLOTS} plots give that half-width; wish for a wider one.")
    deff = float(design_effect(trees_per_plot, icc))
    z = float(special.ndtri((1 + level) / 2))
    raw = simple_random_n(survival, half_width, critical=z, deff=deff) / trees_per_plot
    raw = raw if block_plots is None else raw / (1 + raw / block_plots)
    return PlotsNeeded(int(candidates[enough[0]]), float(widths[enough[0]]), deff, math.ceil(raw - 1e-9))


@dataclass(frozen=True, slots=True)
class PlotsBuy:
    """What a number of plots buys.

    Attributes
    ----------
    plots : plots counted.
    half_width : half-width of the two-sided interval, at most 1, which says nothing. [share]
    chance_meets, chance_falls_short : how often such a survey ends so. [share of surveys]
    chance_settled : the two together.
    person_days : plots over plots a person counts in a day. [days]
    """

    plots: int
    half_width: float
    chance_settled: float
    chance_meets: float
    chance_falls_short: float
    person_days: float


def what_plots_buy(
    plots: ArrayLike,
    *,
    survival: float,
    trees_per_plot: float,
    icc: float,
    target: float,
    level: float = 0.95,
    decision_level: float = 0.90,
    block_plots: int | None = None,
    plots_per_person_day: float,
) -> tuple[PlotsBuy, ...]:
    """Half-width, chance of a settled outcome and work for several numbers of plots.

    Parameters
    ----------
    plots : (n,) numbers of plots to compare; those above `block_plots` are left out.
    survival, icc : what is taken for true.
    trees_per_plot : planted trees in a plot, rounded for the chances. [trees]
    target : survival asked for, between 0 and 1. [share]
    level : two-sided confidence of the half-width.
    decision_level : one-sided confidence of the limits that are held against the target.
    block_plots : plots the block could hold; None for no finite-population correction.
    plots_per_person_day : above 0.

    Raises
    ------
    ValueError
        If a number lies outside its range.

    Notes
    -----
    The chances come from surveys made up with a fixed seed (`plot_chances`) and judged like real ones, every tree
    found; they have a standard error of about one point. They leave the finite-population correction out, as the
    posterior does; a block counted whole is judged by the share it shows. One plot settles nothing.

    Examples
    --------
    >>> few, many = what_plots_buy(
    ...     [6, 24], survival=0.9, trees_per_plot=20, icc=0.1, target=0.8, plots_per_person_day=6)
    >>> few.chance_settled < 0.6 < 0.9 < many.chance_settled, many.person_days
    (True, 4.0)
    """
    _check_share(survival, 0.5)
    _check_plot(trees_per_plot, icc)
    if not 0 < target < 1:
        raise ValueError("target must lie between 0 and 1.")
    if not plots_per_person_day > 0:
        raise ValueError("plots_per_person_day must be above 0.")
    asked = sorted(
        {int(k) for k in np.atleast_1d(plots) if k >= 1 and (block_plots is None or k <= block_plots)}
    )
    if not asked:
        return ()
    widths = half_widths(
        asked, survival, trees_per_plot=trees_per_plot, icc=icc, level=level, block_plots=block_plots
    )
    n_trees = max(1, round(trees_per_plot))
    ends = chances(tuple(asked), survival, n_trees, icc, target, decision_level, block_plots)
    return tuple(
        PlotsBuy(
            k,
            min(1.0, float(width)),
            e.meets + e.falls_short,
            e.meets,
            e.falls_short,
            k / plots_per_person_day,
        )
        for k, width, e in zip(asked, widths, ends, strict=True)
    )


def _check_share(survival: float, half_width: float) -> None:
    if not 0 < survival < 1:
        raise ValueError("survival must lie between 0 and 1.")
    if not 0 < half_width < 1:
        raise ValueError("half_width must lie between 0 and 1.")


def _check_plot(trees_per_plot: float, icc: float) -> None:
    if not trees_per_plot >= 1:
        raise ValueError("trees_per_plot must be at least 1.")
    if not 0 <= icc < 1:
        raise ValueError("icc must lie between 0 and 1.")
