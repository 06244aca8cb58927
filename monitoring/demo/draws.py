"""Random draws of the demo: one stream per plot, so that nothing else moves when one plot changes."""

import hashlib

import numpy as np
from scipy.special import betaincinv

ICC = 0.1  # correlation of the fates of two trees of one plot; trees of a plot live and die together


def stream(seed: int, *names: str) -> np.random.Generator:
    """Return the random stream of one thing, whatever was drawn before for others."""
    digest = hashlib.sha256("\x1f".join(names).encode()).digest()
    return np.random.default_rng([seed, int.from_bytes(digest[:8], "big")])


def plot_share(mean: float, quantile: float, icc: float = ICC) -> float:
    """Return the share alive in a plot at a quantile of the plots' beta distribution.

    Parameters
    ----------
    mean : float
        Share alive over all plots, 0 to 1.
    quantile : float
        Where this plot lies among all plots, 0 to 1; one number for all species of a plot.
    icc : float
        Intra-plot correlation; 0 gives the mean everywhere.

    Returns
    -------
    float

    Examples
    --------
    >>> plot_share(1.0, 0.3), plot_share(0.6, 0.3, icc=0.0)
    (1.0, 0.6)
    >>> round(plot_share(0.5, 0.5), 6)
    0.5
    """
    if icc == 0.0 or mean <= 0.0 or mean >= 1.0:
        return mean
    weight = 1.0 / icc - 1.0
    return float(betaincinv(mean * weight, (1.0 - mean) * weight, quantile))


def some_of(rng: np.random.Generator, number: int, share: float) -> int:
    """Draw how many of a number, each with the same chance."""
    return int(rng.binomial(number, min(max(share, 0.0), 1.0)))


def split(rng: np.random.Generator, number: int, shares: dict[str, float]) -> dict[str, int]:
    """Draw how a number falls into named shares (their sum at most 1); names with none are left out."""
    names = sorted(shares)
    rest = max(0.0, 1.0 - sum(shares.values()))
    drawn = rng.multinomial(number, [*(shares[name] for name in names), rest])
    return {name: int(count) for name, count in zip(names, drawn, strict=False) if count}
