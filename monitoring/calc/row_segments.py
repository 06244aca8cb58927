"""A row of planting spots as a list of runs of consecutive spots, of which some are drawn."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Segment:
    """A run of spots, first and last counted in, numbered from 1 at the start of the row."""

    first: int
    last: int

    @property
    def spots(self) -> int:
        return self.last - self.first + 1


def segments_of(spots: int, spots_per_plot: int) -> list[Segment]:
    """Cut a row into runs of so many spots; what is left over joins the last run.

    Parameters
    ----------
    spots : planting spots in the row, at least 1.
    spots_per_plot : spots a plot should hold, at least 1.

    Returns
    -------
    list of Segment
        Together they hold every spot once, so every spot has a chance to be drawn.

    Raises
    ------
    ValueError
        If a number is below 1.

    Examples
    --------
    >>> segments_of(45, 20)
    [Segment(first=1, last=20), Segment(first=21, last=45)]
    """
    if spots < 1 or spots_per_plot < 1:
        raise ValueError("a row has at least one spot, and so has a plot.")
    number = max(spots // spots_per_plot, 1)
    ends = [each * spots_per_plot for each in range(1, number)] + [spots]
    starts = [1, *(end + 1 for end in ends[:-1])]
    return [Segment(first, last) for first, last in zip(starts, ends, strict=True)]
