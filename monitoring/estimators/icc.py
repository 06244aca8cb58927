"""Intra-plot correlation pooled over blocks by moments."""

from dataclasses import dataclass

import numpy as np

from monitoring.estimators.strata import PlotTotals
from monitoring.estimators.sums import summed
from monitoring.estimators.table import Floats


@dataclass(frozen=True, slots=True)
class PooledIcc:
    """One correlation for all blocks, and what it makes of each.

    Attributes
    ----------
    icc : float, kept within 0..0.9.
    df : plots holding trees minus blocks.
    deff : (n_domains,) design effect of each block.
    """

    icc: float
    df: int
    deff: Floats


def pooled_icc(totals: PlotTotals, n_domains: int) -> PooledIcc:
    """Moment estimate of the correlation within plots, shared by every block with two plots or more.

    Notes
    -----
    rho = [Σ_h n/(n−1) Σ e² − Σ_h pqM] / Σ_h pqM(m* − 1), clipped to 0..0.9, m* = Σm²/Σm.
    """
    alive, trees = totals.alive.astype(float), totals.trees.astype(float)

    def total(values: Floats) -> Floats:
        return summed(totals.domain, values, n_domains)

    whole, plots = total(trees), total(np.ones_like(trees))
    usable = plots >= 2
    safe = np.where(whole > 0, whole, 1)
    share, mean_plot = total(alive) / safe, total(trees**2) / safe
    squares = total((alive - share[totals.domain] * trees) ** 2)
    spread = np.where(usable, plots / np.maximum(plots - 1, 1) * squares, 0).sum()
    binomial = np.where(usable, share * (1 - share) * whole, 0)
    scale = (binomial * (mean_plot - 1)).sum()
    icc = float(np.clip((spread - binomial.sum()) / scale, 0, 0.9)) if scale > 0 else 0.0
    df = int((plots - 1)[usable].sum())
    return PooledIcc(icc, df, 1 + np.maximum(mean_plot - 1, 0) * icc)
