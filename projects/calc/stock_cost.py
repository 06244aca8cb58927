"""What one living tree costs, with the limits that its survival puts on it."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class LivingCost:
    """Cost of one tree alive at the check, in the unit of the price: expected, least, most (None: no limit)."""

    expected: float | None
    least: float | None
    most: float | None


def cost_per_living(spent_on_each: float, survival: float, low: float, high: float) -> LivingCost:
    """Cost of one living tree from what one planted tree costs and the share that lives.

    The price is fixed; only survival is uncertain. What is expected is the price over the mean share (total money
    over total living), not the mean of the quotients.

    Parameters
    ----------
    spent_on_each : money for each tree planted: stock and planting.
    survival, low, high : share alive at the check and its limits, 0..1.

    Raises
    ------
    ValueError
        If money is negative or the shares are not in order within 0..1.

    Examples
    --------
    >>> round(cost_per_living(5.00, 0.60, 0.5, 0.7).expected, 2)
    8.33
    >>> cost_per_living(6.0, 0.5, 0.0, 0.75)
    LivingCost(expected=12.0, least=8.0, most=None)
    """
    if spent_on_each < 0 or not 0 <= low <= survival <= high <= 1:
        raise ValueError("money must not be negative; shares must be in order between 0 and 1.")
    return LivingCost(*(spent_on_each / share if share > 0 else None for share in (survival, high, low)))
