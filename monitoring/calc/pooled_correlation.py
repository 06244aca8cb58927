"""The intra-plot correlation a project has shown so far, from the design effects of its blocks."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

ASSUMED = 0.1  # common practice, until a project's own is known
LEAST_DF = 10  # plots less blocks below which a project's own is too uncertain to plan by (common practice)
MOST = 0.9


@dataclass(frozen=True, slots=True)
class Correlation:
    """A correlation to plan with.

    Attributes
    ----------
    value : float, 0..0.9.
    df : plots less blocks it rests on; 0 where it is assumed.
    """

    value: float
    df: int

    @property
    def is_own(self) -> bool:
        return self.df > 0


def correlation_of(deff: ArrayLike, n_plots: ArrayLike, n_trees: ArrayLike) -> Correlation:
    """Pool the correlation within plots over blocks, each weighed by its plots less one.

    Parameters
    ----------
    deff : (n_blocks,) design effect of survival, NaN where it is not known.
    n_plots, n_trees : (n_blocks,) plots and trees each rests on.

    Returns
    -------
    Correlation
        The assumed one where fewer than ten plots beyond the first of each block are known.

    Notes
    -----
    deff = 1 + (m − 1) ρ with m trees a plot, so ρ = Σ (n − 1)(deff − 1) / Σ (n − 1)(m − 1), kept within 0..0.9
    (Kish 1965, Survey Sampling; from memory).

    Examples
    --------
    >>> correlation_of([2.9, 2.9], [8, 8], [160, 160])
    Correlation(value=0.1, df=14)
    >>> correlation_of([2.9], [4], [80]).is_own
    False
    """
    deffs, plots, trees = (np.asarray(column, float) for column in (deff, n_plots, n_trees))
    usable = np.isfinite(deffs) & (plots >= 2) & (trees > plots)
    df = plots[usable] - 1
    room = (df * (trees[usable] / plots[usable] - 1)).sum()
    if df.sum() < LEAST_DF or room <= 0:
        return Correlation(ASSUMED, 0)
    pooled = float((df * (deffs[usable] - 1)).sum() / room)
    return Correlation(round(min(max(pooled, 0.0), MOST), 3), int(df.sum()))
