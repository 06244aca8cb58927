"""Where plots go: points drawn on a block's ground, the same for the same seed for ever.

`DRAWING_VERSION` names the rules below and is stored with a draw. Rules that would give other points get another
version beside this one, so that old draws can be made again.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np
from numpy.typing import NDArray

from monitoring.estimators.draw_numbers import DUELS, GRID, POINTS, SPARES, DrawNumbers
from monitoring.estimators.local_pivotal import local_pivotal
from monitoring.estimators.planar_ground import Ground
from monitoring.estimators.table import Floats, Ints
from projects.calc.local_plane import plane_ground

DRAWING_VERSION = "1"
RANDOM, SYSTEMATIC, BALANCED = "random", "systematic", "balanced"
CLIP, BUFFER = "clip", "buffer"
MOST_POINTS = 1000
GRID_SURPLUS = 1.1  # grid points to a plot wished
FRAME_POINTS = 20  # points of the balanced frame to a plot wished
LEAST_FRAME = 400
MOST_FRAME = 8000
MOST_TRIES = 2000


@dataclass(frozen=True, slots=True)
class DrawnPoint:
    """A plot centre.

    Attributes
    ----------
    order : from 1, spares last.
    latitude, longitude : WGS 84, 7 decimals. [degrees]
    share_inside : share of the plot's circle that lies on the ground.
    spare : taken up only for a plot that cannot be reached, in order.
    """

    order: int
    latitude: float
    longitude: float
    share_inside: float
    spare: bool


@dataclass(frozen=True, slots=True)
class Drawing:
    """Drawn points and what they were drawn from.

    Attributes
    ----------
    points : plots in order, then spares.
    share_not_covered : share of the net area nearer to the border than the buffer, where no centre can fall.
    frame_sha256 : of the ground's coordinates.
    code_version : the rules they were drawn by.
    """

    points: tuple[DrawnPoint, ...]
    share_not_covered: float
    frame_sha256: str
    code_version: str


def draw_points(
    frame: dict[str, Any],
    *,
    method: str,
    n: int,
    n_spares: int = 0,
    seed: int,
    plot_radius_m: float | None,
    border_rule: str = CLIP,
    buffer_m: float = 0,
) -> Drawing:
    """Draw plot centres on a block's ground.

    Parameters
    ----------
    frame : GeoJSON Polygon or MultiPolygon of the net area; what is left out are holes. [degrees]
    method : `random`, `systematic` or `balanced`.
    n, n_spares : plots, and spare plots after them.
    seed : whole number from 0 to 2⁶³ − 1.
    plot_radius_m : radius of a circular plot, for `share_inside`; None or 0 for other shapes. [m]
    border_rule : `clip`: centres anywhere, plots cut at the border. `buffer`: no centre nearer to the border than
        `buffer_m`; the strip left out is not covered by the survey.
    buffer_m : above 0 under `buffer`. [m]

    Raises
    ------
    ValueError
        If a number or word lies outside its range, the ground is no valid polygon, or the buffer leaves nothing.

    Notes
    -----
    Every place of the ground (inside the buffer) has the same chance under each method.

    *random*: points one after another, so plots and any number of the first spares are a random sample.

    *systematic*: a square grid at a random angle with 1.1 points to a plot. It is laid through a random point of the
    ground or with a random start, evenly often, and kept with chance max(M, n) / (M + n), where M of its points lie
    on the ground; else laid again. That makes every grid as likely as max(M, n), so that with M above n, when points
    are left out at an even step along the rows walked to and fro, and with M below n, when random points fill up,
    every place has the same chance. Spares are random points.

    *balanced*: of a fine cloud of random points, n + spares are drawn by the local pivotal method; from these, one
    after another is left out by the same method to become the last, the last but one, … spare. So plots with any
    number of the first spares are a balanced sample.

    Clipping gives trees within a radius of the border a smaller chance to be counted than those inside.

    Examples
    --------
    >>> ring = [[10, 50], [10.004, 50], [10.004, 50.003], [10, 50.003], [10, 50]]
    >>> drawing = draw_points({"type": "Polygon", "coordinates": [ring]}, method="random", n=3, seed=7,
    ...     plot_radius_m=5.64)
    >>> len(drawing.points), drawing.points[0].spare, drawing.share_not_covered
    (3, False, 0.0)
    """
    _check(method, n, n_spares, plot_radius_m, border_rule, buffer_m)
    plane = plane_ground(frame)
    ground = Ground.of(plane.polygons)
    field = _Field.of(ground, seed, buffer_m if border_rule == BUFFER else 0.0)
    points = METHODS[method](field, n, n_spares)
    inside = ground.share_of_circles(points, plot_radius_m) if plot_radius_m else np.ones(len(points))
    return Drawing(
        points=tuple(
            DrawnPoint(place + 1, float(latitude), float(longitude), round(float(share), 6), place >= n)
            for place, ((longitude, latitude), share) in enumerate(
                zip(plane.to_map(points), inside, strict=True)
            )
        ),
        share_not_covered=round(plane.share_near_border(field.buffer_m), 6) if field.buffer_m else 0.0,
        frame_sha256=plane.sha256,
        code_version=DRAWING_VERSION,
    )


def _check(
    method: str, n: int, n_spares: int, radius_m: float | None, border_rule: str, buffer_m: float
) -> None:
    if method not in METHODS:
        raise ValueError(f"method must be one of {', '.join(METHODS)}.")
    if border_rule not in (CLIP, BUFFER):
        raise ValueError("border_rule must be clip or buffer.")
    if n < 1 or n_spares < 0 or n + n_spares > MOST_POINTS:
        raise ValueError(f"plots must be 1 or more, and {MOST_POINTS} at most with their spares.")
    if radius_m is not None and not 0 <= radius_m < math.inf:
        raise ValueError("plot_radius_m must not be below 0.")
    if border_rule == BUFFER and not 0 < buffer_m < math.inf:
        raise ValueError("buffer_m must be above 0.")


@dataclass(frozen=True, slots=True)
class _Field:
    """The ground that centres may fall on, and the seed they are drawn with."""

    ground: Ground
    seed: int
    buffer_m: float
    area_m2: float

    @classmethod
    def of(cls, ground: Ground, seed: int, buffer_m: float) -> "_Field":
        covered = 1.0
        if buffer_m:
            luck = DrawNumbers(0, POINTS).uniform(2 * 4000).reshape(2, -1)
            covered = float((ground.distance_to_border_m(ground.at(*luck)) >= buffer_m).mean())
            if covered < 0.005:
                raise ValueError("buffer_m leaves next to nothing of the ground.")
        return cls(ground, seed, buffer_m, ground.area_m2 * covered)

    def numbers(self, purpose: int) -> DrawNumbers:
        return DrawNumbers(self.seed, purpose)

    def points(self, numbers: DrawNumbers, n: int) -> Floats:
        """n points with equal chance; those too near to the border are drawn again."""
        found = np.empty((0, 2))
        for _ in range(MOST_TRIES):
            if len(found) >= n:
                break
            luck = numbers.uniform(2 * n).reshape(n, 2)
            more = self.ground.at(luck[:, 0], luck[:, 1])
            found = np.concatenate([found, more[self.is_off_border(more)]])
        if len(found) < n:
            raise ValueError("buffer_m leaves next to nothing of the ground.")
        return found[:n]

    def is_off_border(self, points: Floats) -> NDArray[np.bool_]:
        if not self.buffer_m:
            return np.ones(len(points), bool)
        return self.ground.distance_to_border_m(points) >= self.buffer_m

    def covers(self, points: Floats) -> NDArray[np.bool_]:
        return self.ground.holds(points) & self.is_off_border(points)


def _random(field: _Field, n: int, n_spares: int) -> Floats:
    return field.points(field.numbers(POINTS), n + n_spares)


def _systematic(field: _Field, n: int, n_spares: int) -> Floats:
    numbers = field.numbers(GRID)
    spacing = math.sqrt(field.area_m2 / (GRID_SURPLUS * n))
    for _ in range(MOST_TRIES):
        grid = _grid(field, numbers, spacing)
        if numbers.one() * (len(grid) + n) < max(len(grid), n):
            break
    if len(grid) >= n:
        chosen = grid[_even_steps(len(grid), n, numbers.one())]
        return np.concatenate([chosen, field.points(field.numbers(SPARES), n_spares)])
    return np.concatenate([grid, field.points(field.numbers(SPARES), n - len(grid) + n_spares)])


def _grid(field: _Field, numbers: DrawNumbers, spacing: float) -> Floats:
    """Points of one grid that may be plots, along its rows to and fro."""
    angle = numbers.one() * math.pi / 2
    turn = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
    if numbers.one() * (GRID_SURPLUS + 1) < GRID_SURPLUS:
        origin = turn @ field.points(numbers, 1)[0]
    else:
        origin = numbers.uniform(2) * spacing
    rows, columns = _steps(field.ground, turn, origin, spacing)
    to_and_fro = np.lexsort((np.where(rows % 2 == 0, columns, -columns), rows))
    steps = np.stack([columns, rows], axis=1)[to_and_fro]
    points = (origin + steps * spacing) @ turn
    return points[field.covers(points)]


def _steps(ground: Ground, turn: Floats, origin: Floats, spacing: float) -> tuple[Ints, Ints]:
    """Rows and columns of a turned grid that may meet the ground, each pair once."""
    found: set[tuple[int, int]] = set()
    for outline in ground.outlines:
        turned = (outline @ turn.T - origin) / spacing
        first, last = np.floor(turned.min(axis=0)).astype(int), np.ceil(turned.max(axis=0)).astype(int)
        found.update(product(range(first[1], last[1] + 1), range(first[0], last[0] + 1)))
    rows, columns = np.array(sorted(found), dtype=np.int64).T
    return rows, columns


def _even_steps(n_grid: int, n: int, luck: float) -> Ints:
    """n of n_grid places at an even step from a random start; each with chance n / n_grid."""
    step = n_grid / n
    return np.minimum(np.floor((luck + np.arange(n)) * step), n_grid - 1).astype(np.int64)


def _balanced(field: _Field, n: int, n_spares: int) -> Floats:
    wanted = n + n_spares
    n_frame = max(min(max(FRAME_POINTS * wanted, LEAST_FRAME), MOST_FRAME), 4 * wanted)
    cloud = field.points(field.numbers(POINTS), n_frame)
    numbers = field.numbers(DUELS)
    kept = local_pivotal(np.full(n_frame, wanted / n_frame), cloud, numbers)
    spares: list[int] = []
    while kept.size > n:
        fewer = kept[local_pivotal(np.full(kept.size, 1 - 1 / kept.size), cloud[kept], numbers)]
        spares.append(int(np.setdiff1d(kept, fewer)[0]))
        kept = fewer
    return cloud[[*kept, *reversed(spares)]]


METHODS: dict[str, Callable[[_Field, int, int], Floats]] = {
    RANDOM: _random,
    SYSTEMATIC: _systematic,
    BALANCED: _balanced,
}
