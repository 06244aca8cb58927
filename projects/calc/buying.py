"""From whom to buy a number of plants of one kind: the cheapest first, as far as there are any."""

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Seller:
    """What one seller asks and has.

    Attributes
    ----------
    price_minor : of one plant. [minor units]
    there_are : plants to be had; None: as many as are asked for. [plants]
    fewest : the least that is sold. [plants]
    """

    price_minor: int
    there_are: int | None = None
    fewest: int = 0


@dataclass(frozen=True, slots=True)
class Bought:
    """What to buy of each seller, in the order given, and what is not to be had of any.

    Attributes
    ----------
    quantities : plants of each seller, at least its fewest. [plants]
    missing : plants nobody has. [plants]
    surplus : plants bought beyond what was wanted, for a seller's fewest. [plants]
    """

    quantities: tuple[int, ...]
    missing: int
    surplus: int


def buy(wanted: int, sellers: Sequence[Seller]) -> Bought:
    """Share an order among sellers of one currency.

    Every set of sellers is tried (there are few): the one that leaves the fewest plants missing, then costs least.
    Within a set each gives its fewest and the rest comes from the cheapest.

    Raises
    ------
    ValueError
        If the number wanted is negative or there are more than twelve sellers.

    Examples
    --------
    >>> buy(700, [Seller(62, 500, 100), Seller(74, 9000, 500)])
    Bought(quantities=(200, 500), missing=0, surplus=0)
    >>> buy(20, [Seller(62, 500, 100)])
    Bought(quantities=(100,), missing=0, surplus=80)
    """
    if wanted < 0 or len(sellers) > 12:
        raise ValueError("ask for a number of plants from at most twelve sellers.")
    best: tuple[tuple[int, int, int, int], tuple[int, ...]] | None = None
    for chosen in range(2 ** len(sellers)):
        quantities = _from(wanted, sellers, chosen)
        total = sum(quantities)
        cost = sum(n * each.price_minor for n, each in zip(quantities, sellers, strict=True))
        rank = (max(wanted - total, 0), cost, total, chosen.bit_count())
        if best is None or rank < best[0]:
            best = rank, quantities
    quantities = best[1] if best else ()
    return Bought(quantities, max(wanted - sum(quantities), 0), max(sum(quantities) - wanted, 0))


def _from(wanted: int, sellers: Sequence[Seller], chosen: int) -> tuple[int, ...]:
    taken = [0] * len(sellers)
    own = [n for n in range(len(sellers)) if chosen >> n & 1]
    for n in own:
        taken[n] = max(sellers[n].fewest, 0)
    left = wanted - sum(taken)
    for n in sorted(own, key=lambda n: (sellers[n].price_minor, n)):
        most = sellers[n].there_are
        more = max(left if most is None else min(left, most - taken[n]), 0)
        taken[n] += more
        left -= more
    return tuple(taken)
