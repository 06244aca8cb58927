"""Quantiles from a density tabulated at even steps of the logit."""

import numpy as np
from numpy.typing import NDArray
from scipy import special

from monitoring.estimators.table import Floats


def invert(logit: Floats, density: Floats, wanted: Floats) -> Floats:
    """Quantiles as shares: Hermite-corrected trapezoids up the density, its cumulative inverted within the cell.

    Parameters
    ----------
    logit : (n_nodes,) nodes of all densities, or (n, n_nodes) of each.
    density : (n, n_nodes).
    wanted : (n_probabilities,)

    Returns
    -------
    (n, n_probabilities) array
    """
    nodes = np.broadcast_to(logit, density.shape)
    step = nodes[:, 1] - nodes[:, 0]
    slope = np.gradient(density, axis=1)
    pieces = (density[:, 1:] + density[:, :-1]) / 2 - (slope[:, 1:] - slope[:, :-1]) / 12
    cumulative = np.concatenate(
        [np.zeros((len(density), 1)), np.cumsum(np.maximum(pieces, 0), axis=1)], axis=1
    )
    cumulative /= cumulative[:, -1:]
    out, rows = np.empty((len(density), wanted.size)), np.arange(len(density))
    for column, probability in enumerate(wanted):
        cell = np.clip((cumulative <= probability).sum(axis=1) - 1, 0, nodes.shape[1] - 2)
        out[:, column] = nodes[rows, cell] + step * _fraction(density, cumulative, cell, probability)
    return special.expit(out)


def _fraction(density: Floats, cumulative: Floats, cell: NDArray[np.intp], probability: float) -> Floats:
    """Where in its cell the quantile lies (0..1), the density taken as linear within the cell."""
    rows = np.arange(len(cell))
    left, right = density[rows, cell], density[rows, cell + 1]
    start, mass = cumulative[rows, cell], cumulative[rows, cell + 1] - cumulative[rows, cell]
    share = np.where(mass > 0, (probability - start) / np.where(mass > 0, mass, 1), 0.5)
    height = left + right
    left = np.where(height > 0, left / np.where(height > 0, height, 1), 0.5)
    bend = 1 - 2 * left  # density across the cell: 2·left + 2·bend·t, with mass 1
    root = np.sqrt(np.maximum(left**2 + bend * share, 0))
    return np.clip(share / np.where(left + root > 0, left + root, 1), 0, 1)
