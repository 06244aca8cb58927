"""Which things can be compared at all: those linked through shared blocks."""

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from monitoring.estimators.table import Ints


def connected_groups(item: Ints, stratum: Ints, n_items: int) -> Ints:
    """Group number of each thing: 1, 2, … where it is linked to a peer, 0 where it stands alone.

    Parameters
    ----------
    item, stratum : (n_rows,) codes of a thing and of a block in which it was counted.

    References
    ----------
    Connectedness of a two-way layout: Searle (1987), Linear Models for Unbalanced Data (from memory).

    Examples
    --------
    >>> connected_groups(np.array([0, 1, 2]), np.array([5, 5, 8]), 4).tolist()
    [1, 1, 0, 0]
    """
    if not item.size:
        return np.zeros(n_items, np.int64)
    size = n_items + int(stratum.max()) + 1
    links = coo_array((np.ones(item.size), (item, n_items + stratum)), shape=(size, size))
    _, component = connected_components(links, directed=False)
    component, members = component[:n_items], np.bincount(component[:n_items], minlength=size)
    linked = members[component] > 1
    numbers = {
        label: position + 1 for position, label in enumerate(dict.fromkeys(component[linked].tolist()))
    }
    return np.array([numbers.get(label, 0) for label in component.tolist()], np.int64)
