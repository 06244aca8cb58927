"""How far a species serves what a project is for: the weight of the purposes it answers, of all their weight."""

from collections.abc import Collection, Mapping


def serves(uses: Collection[str] | None, weights: Mapping[str, float]) -> float | None:
    """Share of a project's purposes that a species serves, by weight.

    Parameters
    ----------
    uses : what the species is good for (words of the trait `uses`, no unit); None when nobody has told us.
    weights : purpose → weight, above 0, no unit; only their proportions matter. May be empty.

    Returns
    -------
    float or None
        Σ weights of the purposes it serves / Σ weights, 0..1. None is “unknown”, never 0 or 1: the uses are not
        known, or the project has no purposes.

    Raises
    ------
    ValueError
        If a weight is not above 0 or not finite.

    Notes
    -----
    A plain weighted share, common practice in choosing among options by several aims; no source beyond that. It
    says whether a species serves a purpose, not how well.

    Examples
    --------
    >>> serves({"fruit", "honey", "soil"}, {"fruit": 6, "soil": 3, "timber": 3})
    0.75
    >>> serves(set(), {"fruit": 6}), serves(None, {"fruit": 6}), serves({"fruit"}, {})
    (0.0, None, None)
    """
    if any(not 0 < weight < float("inf") for weight in weights.values()):
        raise ValueError("a weight of a purpose must be above 0.")
    if uses is None or not weights:
        return None
    served = sum(weight for purpose, weight in weights.items() if purpose in uses)
    return float(served / sum(weights.values()))
