"""Units drawn from a list: holdings, gardens, farms."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from monitoring.estimators.draw_numbers import LIST, DrawNumbers
from monitoring.estimators.local_pivotal import pivotal
from monitoring.estimators.table import Floats

MOST_UNITS = 1_000_000


@dataclass(frozen=True, slots=True)
class ListDraw:
    """Units drawn from a list.

    Attributes
    ----------
    units : (n,) places in the list, from 0, in rising order.
    spares : (n_spares,) places in the list, in the order in which they are taken up.
    chances : (n_units,) inclusion probability of every unit of the list among the `n`.
    weights : (n,) 1 / chance of the units drawn; what `plot_weight` is made of.
    """

    units: tuple[int, ...]
    spares: tuple[int, ...]
    chances: tuple[float, ...]
    weights: tuple[float, ...]


def draw_from_list(
    n_units: int, n: int, seed: int, *, sizes: ArrayLike | None = None, n_spares: int = 0
) -> ListDraw:
    """Draw n of a list, with equal chance or in proportion to size.

    Parameters
    ----------
    n_units : units of the list; keep the list in one order, since places in it are drawn.
    n, n_spares : units to draw, and spares after them.
    seed : whole number from 0 to 2⁶³ − 1.
    sizes : (n_units,) above 0, for instance trees received; None gives equal chance.

    Returns
    -------
    ListDraw

    Raises
    ------
    ValueError
        If the list is too short or a size is not above 0.

    Notes
    -----
    The pivotal method in random order: each unit is drawn with exactly its chance n · size / Σ size; units for
    which that passes 1 are certain and the rest share what is left. n + spares are drawn so, and one after another
    is then left out, with the chances that a draw of one less asks, to become the last, the last but one, … spare.

    Examples
    --------
    >>> draw = draw_from_list(5, 2, 11, sizes=[10, 10, 10, 10, 400])
    >>> 4 in draw.units, [round(chance, 3) for chance in draw.chances]
    (True, [0.25, 0.25, 0.25, 0.25, 1.0])
    """
    if not 1 <= n <= n + n_spares <= n_units <= MOST_UNITS:
        raise ValueError("the list holds fewer units than are to be drawn.")
    size = np.ones(n_units) if sizes is None else np.asarray(sizes, float)
    if size.shape != (n_units,) or not (size > 0).all() or not np.isfinite(size).all():
        raise ValueError("sizes must be above 0, one for each unit of the list.")
    numbers = DrawNumbers(seed, LIST)
    chances = inclusion_chances(size, n + n_spares)
    kept = pivotal(chances, numbers)
    spares: list[int] = []
    while kept.size > n:
        fewer_chances = inclusion_chances(size, kept.size - 1)
        fewer = kept[pivotal(np.minimum(fewer_chances[kept] / chances[kept], 1), numbers)]
        spares.append(int(np.setdiff1d(kept, fewer)[0]))
        kept, chances = fewer, fewer_chances
    return ListDraw(
        tuple(map(int, kept)),
        tuple(reversed(spares)),
        tuple(map(float, chances)),
        tuple(map(float, 1 / chances[kept])),
    )


def inclusion_chances(sizes: Floats, n: int) -> Floats:
    """Chances in proportion to size that add up to n, none above 1.

    Examples
    --------
    >>> inclusion_chances(np.array([1.0, 1.0, 2.0, 16.0]), 2).tolist()
    [0.25, 0.25, 0.5, 1.0]
    """
    certain = np.zeros(sizes.size, bool)
    while True:
        rest = sizes[~certain].sum()
        chances = np.where(certain, 1.0, sizes * (n - certain.sum()) / rest if rest > 0 else 1.0)
        above = (chances >= 1) & ~certain
        if not above.any():
            return chances
        certain |= above
