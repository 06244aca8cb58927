"""A piece of ground as polygons in a plane: points on it with equal chance, and how much of a circle lies on it.

Coordinates are metres in any plane of true area. A polygon is an outer ring and its holes.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from monitoring.estimators.table import Floats

MOST_PAIRS = 1_000_000  # of points and edges held at once
Rings = Sequence[Sequence[ArrayLike]]  # polygons of rings of (x, y)


@dataclass(frozen=True, slots=True)
class Ground:
    """Polygons cut into trapezoids with level sides.

    Attributes
    ----------
    edges : (n_edges, 4) x, y of the start and of the end; the ground lies to the left of every edge. [m]
    low, high : (n_trapezoids,) y of the level sides. [m]
    left, right : (n_trapezoids, 2) x of the slanted sides at `low` and at `high`. [m]
    area_m2 : area, holes taken out. [m2]
    outlines : outer ring of each polygon, (n_corners, 2). [m]
    """

    edges: Floats
    low: Floats
    high: Floats
    left: Floats
    right: Floats
    area_m2: float
    outlines: tuple[Floats, ...]

    @classmethod
    def of(cls, polygons: Rings) -> "Ground":
        """Ground of polygons that do not overlap, rings closed or open, either way round.

        A side that two polygons share from corner to corner is no border.

        Raises
        ------
        ValueError
            If nothing is left of the ground.

        Examples
        --------
        >>> square = [[0, 0], [2, 0], [2, 2], [0, 2]]
        >>> hole = [[0.5, 0.5], [1.5, 0.5], [1.5, 1.5], [0.5, 1.5]]
        >>> Ground.of([[square, hole]]).area_m2
        3.0
        """
        rings = [(ring, place > 0) for polygon in polygons for place, ring in enumerate(polygon)]
        edges = _without_shared(np.concatenate([_ring_edges(ring, hole=hole) for ring, hole in rings]))
        low, high, left, right = _trapezoids(edges)
        area = float(np.cumsum(_areas(low, high, left, right))[-1]) if low.size else 0.0
        if not area > 0:
            raise ValueError("the ground has no area.")
        outlines = tuple(np.asarray(polygon[0], float) for polygon in polygons)
        return cls(edges, low, high, left, right, area, outlines)

    def at(self, u: Floats, v: Floats) -> Floats:
        """Points of the ground for uniform numbers, (n, 2): every part of equal area equally likely. [m]"""
        cumulative = np.cumsum(_areas(self.low, self.high, self.left, self.right))
        asked = u * cumulative[-1]
        which = np.minimum(np.searchsorted(cumulative, asked, side="right"), cumulative.size - 1)
        before = np.where(which > 0, cumulative[which - 1], 0.0)
        inside = np.clip((asked - before) / (cumulative[which] - before), 0, 1)
        width = self.right[which] - self.left[which]
        share = _height_share(width[:, 0], width[:, 1], inside)
        y = self.low[which] + share * (self.high[which] - self.low[which])
        left = self.left[which, 0] + share * (self.left[which, 1] - self.left[which, 0])
        right = self.right[which, 0] + share * (self.right[which, 1] - self.right[which, 0])
        return np.stack([left + v * (right - left), y], axis=1)

    def holds(self, points: Floats) -> NDArray[np.bool_]:
        """Which points lie on the ground, (n,)."""
        return self._chunked(points, self._crossings) % 2 == 1

    def distance_to_border_m(self, points: Floats) -> Floats:
        """Distance of each point to the nearest edge, of a hole too, (n,). [m]"""
        return np.sqrt(self._chunked(points, self._squared_distances))

    def share_of_circles(self, points: Floats, radius_m: float) -> Floats:
        """Share of a circle about each point that lies on the ground, exactly, (n,).

        The area common to a circle and a polygon is summed edge by edge: a triangle with the centre where the edge
        runs inside the circle, a sector where it runs outside.
        """

        def areas(some: Floats) -> Floats:
            start = self.edges[None, :, :2] - some[:, None, :]
            end = self.edges[None, :, 2:] - some[:, None, :]
            return np.asarray(_circle_edge_areas(start, end, radius_m).sum(axis=1))

        return np.clip(self._chunked(points, areas) / (np.pi * radius_m**2), 0, 1)

    def _chunked(self, points: Floats, answer: Callable[[Floats], Floats]) -> Floats:
        """Ask for some points at a time, since every point meets every edge."""
        n = max(1, MOST_PAIRS // len(self.edges))
        return np.concatenate([answer(points[at : at + n]) for at in range(0, max(len(points), 1), n)])

    def _crossings(self, points: Floats) -> Floats:
        x0, y0, x1, y1 = self.edges.T
        x, y = points[:, :1], points[:, 1:]
        crosses = (y0 <= y) != (y1 <= y)
        with np.errstate(divide="ignore", invalid="ignore"):
            at = x0 + (y - y0) / (y1 - y0) * (x1 - x0)
        return np.asarray((crosses & (x < at)).sum(axis=1))

    def _squared_distances(self, points: Floats) -> Floats:
        x0, y0, x1, y1 = self.edges.T
        dx, dy = x1 - x0, y1 - y0
        px, py = points[:, :1] - x0, points[:, 1:] - y0
        along = np.clip((px * dx + py * dy) / (dx * dx + dy * dy), 0, 1)
        return np.asarray(((px - along * dx) ** 2 + (py - along * dy) ** 2).min(axis=1))


def _ring_edges(ring: ArrayLike, *, hole: bool) -> Floats:
    corners = np.asarray(ring, float)
    if (corners[0] == corners[-1]).all():
        corners = corners[:-1]
    following = np.roll(corners, -1, axis=0)
    centred, next_centred = corners - corners[0], following - corners[0]
    twice = float((centred[:, 0] * next_centred[:, 1] - next_centred[:, 0] * centred[:, 1]).sum())
    edges = np.concatenate([corners, following], axis=1)
    edges = edges[(corners != following).any(axis=1)]
    return edges if (twice > 0) != hole else edges[::-1, [2, 3, 0, 1]]


def _without_shared(edges: Floats) -> Floats:
    """Leave out each edge that another polygon runs along the other way."""
    known = {tuple(edge) for edge in edges.tolist()}
    kept = [(x1, y1, x0, y0) not in known for x0, y0, x1, y1 in edges.tolist()]
    return edges[np.array(kept, bool)]


def _trapezoids(edges: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Cut at the height of every corner; between two heights no edge begins, ends or meets another."""
    heights = np.unique(edges[:, 1])
    bottom, top = np.minimum(edges[:, 1], edges[:, 3]), np.maximum(edges[:, 1], edges[:, 3])
    parts = []
    for low, high in pairwise(heights):
        crossing = edges[(bottom <= low) & (top >= high)]
        sides = np.stack([_x_at(crossing, low), _x_at(crossing, high)], axis=1)
        sides = sides[np.argsort(sides.sum(axis=1), kind="stable")]
        left, right = sides[0::2], sides[1::2]
        parts.append((np.full(len(left), low), np.full(len(left), high), left, right))
    if not parts:
        return np.empty(0), np.empty(0), np.empty((0, 2)), np.empty((0, 2))
    low, high, left, right = (np.concatenate(column) for column in zip(*parts, strict=True))
    return low, high, left, right


def _x_at(edges: Floats, y: Any) -> Floats:
    x0, y0, x1, y1 = edges.T
    return np.asarray(np.where(y == y0, x0, np.where(y == y1, x1, x0 + (y - y0) / (y1 - y0) * (x1 - x0))))


def _areas(low: Floats, high: Floats, left: Floats, right: Floats) -> Floats:
    return np.maximum((high - low) * (right - left).sum(axis=1) / 2, 0)


def _height_share(below: Floats, above: Floats, share: Floats) -> Floats:
    """How far up a trapezoid a share of its area reaches, widths below and above given."""
    root = np.sqrt(np.maximum(below**2 + share * (above**2 - below**2), 0))
    total = below + root
    return np.where(total > 0, share * (below + above) / np.where(total > 0, total, 1), 0.0)


def _circle_edge_areas(start: Floats, end: Floats, radius: float) -> Floats:
    """Signed area that the circle about the origin shares with the triangle of the origin and each edge."""
    way = end - start
    a = (way**2).sum(axis=-1)
    b = (start * way).sum(axis=-1)
    inside = b**2 - a * ((start**2).sum(axis=-1) - radius**2)
    root = np.sqrt(np.maximum(inside, 0))
    enter, leave = np.clip((-b - root) / a, 0, 1), np.clip((-b + root) / a, 0, 1)
    first, last = start + enter[..., None] * way, start + leave[..., None] * way
    sectors = (_angle(start, first) + _angle(last, end)) * radius**2 / 2
    return sectors + _cross(first, last) / 2


def _cross(p: Floats, q: Floats) -> Floats:
    return np.asarray(p[..., 0] * q[..., 1] - p[..., 1] * q[..., 0])


def _angle(p: Floats, q: Floats) -> Floats:
    return np.arctan2(_cross(p, q), (p * q).sum(axis=-1))
