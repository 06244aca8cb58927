"""Plots drawn on the ground and from a list: equal chance, spread, spares, and the same points for ever."""

import json
import math
import time
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from shapely import Point, Polygon

from monitoring.calc import plot_drawing
from monitoring.calc.plot_drawing import draw_points
from monitoring.estimators.draw_numbers import DUELS, POINTS, DrawNumbers
from monitoring.estimators.list_draw import draw_from_list, inclusion_chances
from monitoring.estimators.local_pivotal import local_pivotal, pivotal, voronoi_balance
from monitoring.estimators.planar_ground import Ground
from projects.calc.geometry import geodesic_area_m2, holds_point
from projects.calc.local_plane import plane_ground

METHODS = ("random", "systematic", "balanced")
SQUARE = [[10.0, 50.0], [10.004, 50.0], [10.004, 50.003], [10.0, 50.003], [10.0, 50.0]]
HOLE = [[10.001, 50.001], [10.002, 50.001], [10.002, 50.002], [10.001, 50.002], [10.001, 50.001]]
L_SHAPE = [[0, 0], [4, 0], [4, 1], [1, 1], [1, 3], [0, 3], [0, 0]]
UNIT_CELLS = [(0, 0, 1, 1), (1, 0, 2, 1), (2, 0, 3, 1), (3, 0, 4, 1), (0, 1, 1, 2), (0, 2, 1, 3)]
GROUNDS = {
    "field with a pond": {"type": "Polygon", "coordinates": [SQUARE, HOLE]},
    "two pieces": {
        "type": "MultiPolygon",
        "coordinates": [
            [[[36.8, -1.2], [36.803, -1.2], [36.8, -1.198], [36.8, -1.2]]],
            [[[36.81, -1.2], [36.813, -1.2], [36.813, -1.199], [36.81, -1.199], [36.81, -1.2]]],
        ],
    },
    "island on the 180th meridian": {
        "type": "MultiPolygon",
        "coordinates": [
            [[[179.996, -17], [180, -17], [180, -16.996], [179.996, -16.996], [179.996, -17]]],
            [[[-180, -17], [-179.998, -17], [-179.998, -16.996], [-180, -16.996], [-180, -17]]],
        ],
    },
}
FOREVER = Path(__file__).parent / "data" / "drawn_points.json"


def places(drawing):
    return [[point.latitude, point.longitude] for point in drawing.points]


# --- the same for ever --------------------------------------------------------------------------
def philox_by_hand(seed, purpose, count):
    """Philox4x64-10 in whole numbers, after Salmon et al. (2011); counters run from 1."""
    full = 2**64
    found = []
    for block in range(1, count // 4 + 2):
        c, k = [block, 0, 0, 0], [seed, purpose]
        for _ in range(10):
            high0, low0 = divmod(0xD2E7470EE14C6C93 * c[0], full)
            high1, low1 = divmod(0xCA5A826395121157 * c[2], full)
            c = [high1 ^ c[1] ^ k[0], low1, high0 ^ c[3] ^ k[1], low0]
            k = [(k[0] + 0x9E3779B97F4A7C15) % full, (k[1] + 0xBB67AE8584CAA73B) % full]
        found += c
    return found[:count]


@pytest.mark.parametrize(("seed", "purpose"), [(0, 1), (20260614, 3), (2**63 - 1, 5)])
def test_the_random_numbers_are_those_of_the_published_generator(seed, purpose):
    by_hand = [number / 2**53 for number in (raw >> 11 for raw in philox_by_hand(seed, purpose, 11))]
    assert DrawNumbers(seed, purpose).uniform(11).tolist() == by_hand


def test_numbers_of_one_seed_do_not_depend_on_how_many_are_asked_for_at_once():
    numbers = DrawNumbers(5, POINTS)
    apart = [*numbers.uniform(3), numbers.one(), *numbers.uniform(5)]
    assert apart == DrawNumbers(5, POINTS).uniform(9).tolist()
    assert apart != DrawNumbers(5, DUELS).uniform(9).tolist()


def asked_for_ever():
    """Every kind of draw whose points are kept in `data/drawn_points.json`."""
    for name, frame in GROUNDS.items():
        for method in METHODS:
            for border in ("clip", "buffer"):
                asked = {"method": method, "n": 6, "n_spares": 2, "seed": 20260614, "plot_radius_m": 5.64}
                yield f"{name}, {method}, {border}", frame, {**asked, "border_rule": border, "buffer_m": 12.0}


@pytest.mark.parametrize(("name", "frame", "asked"), list(asked_for_ever()))
def test_a_draw_gives_the_points_it_gave_when_it_was_first_made(name, frame, asked):
    """Points as drawn on 2026-11-25 by rules "1": should this fail, old draws can no longer be made again."""
    kept = json.loads(FOREVER.read_text(encoding="utf-8"))[name]
    found = draw_points(frame, **asked)
    assert found.code_version == kept["code_version"] == "1"
    assert found.frame_sha256 == kept["frame_sha256"]
    assert places(found) == kept["points"]
    assert [point.share_inside for point in found.points] == pytest.approx(kept["share_inside"], abs=2e-6)


def test_another_seed_gives_other_points():
    frame = GROUNDS["field with a pond"]
    for method in METHODS:
        one, other = (draw_points(frame, method=method, n=4, seed=seed, plot_radius_m=5) for seed in (1, 2))
        assert not {tuple(place) for place in places(one)} & {tuple(place) for place in places(other)}


def test_a_ground_is_known_again_after_being_stored():
    frame = GROUNDS["field with a pond"]
    stored = json.loads(json.dumps({"coordinates": frame["coordinates"], "type": frame["type"]}))
    whole = {"type": "Polygon", "coordinates": [[[0, 0], [1, 0], [1, 1], [0, 0]]]}
    pointed = {"type": "Polygon", "coordinates": [[[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 0.0]]]}
    asked = {"method": "random", "n": 1, "seed": 1, "plot_radius_m": None}
    assert draw_points(frame, **asked) == draw_points(stored, **asked)
    assert draw_points(whole, **asked) == draw_points(pointed, **asked)


# --- where points fall --------------------------------------------------------------------------
def test_random_points_fall_evenly_over_six_equal_cells():
    """Case 11-uniformity: 6,000 points on an L, chi-square over its unit cells (5 df) and its centroid.

    Source: the property itself; shapely's rejection sampling gave chi-square 1.72.
    """
    ground = Ground.of([[L_SHAPE]])
    points = ground.at(*DrawNumbers(20260614, POINTS).uniform(12_000).reshape(2, 6000))
    assert ground.area_m2 == 6.0
    assert chi_square(points, UNIT_CELLS) < 25.7448319591
    away = (points.mean(axis=0) - [1.5, 1.0]) / [0.0153357977594, 0.0106559949468]
    assert (np.abs(away) < 4).all()


def chi_square(points, cells):
    x, y = np.asarray(points).T
    counts = np.array(
        [((x >= x0) & (x < x1) & (y >= y0) & (y < y1)).sum() for x0, y0, x1, y1 in cells], dtype=float
    )
    assert counts.sum() == len(points)
    expected = len(points) / len(cells)
    return float(((counts - expected) ** 2 / expected).sum())


@pytest.mark.parametrize("n", [1, 3, 7])
@pytest.mark.parametrize("method", METHODS)
def test_every_place_has_the_same_chance_under_every_method(method, n):
    """24 quarter cells of an L, some in its tips and some inside; limit of chance 1 in 10,000 for 23 df."""
    cells = [
        (x / 2, y / 2, x / 2 + 0.5, y / 2 + 0.5)
        for x in range(8)
        for y in range(6)
        if holds_point({"type": "Polygon", "coordinates": [L_SHAPE]}, x / 2 + 0.25, y / 2 + 0.25)
    ]
    assert len(cells) == 24
    draws = 300 if method == "balanced" else 4000
    assert chi_square(many_draws(L_SHAPE, method, n, 0, max(draws // n, 100)), cells) < 56.5


def many_draws(ring, method, n, n_spares, draws, buffer_m=0.0):
    """Points of many seeds on a small ground in the plane."""
    field = plot_drawing._Field.of(Ground.of([[ring]]), 0, buffer_m)
    fields = (replace(field, seed=seed) for seed in range(draws))
    return np.concatenate([plot_drawing.METHODS[method](field, n, n_spares) for field in fields])


@pytest.mark.parametrize("method", METHODS)
def test_plots_with_their_first_spares_have_the_same_chance_everywhere(method):
    """The first three of two plots and two spares, over the six unit cells of an L; 5 df, 1 in 10,000."""
    draws = 150 if method == "balanced" else 2000
    points = many_draws(L_SHAPE, method, 2, 2, draws).reshape(draws, 4, 2)[:, :3].reshape(-1, 2)
    assert chi_square(points, UNIT_CELLS) < 25.8
    spare = many_draws(L_SHAPE, method, 2, 2, draws).reshape(draws, 4, 2)[:, 2]
    assert chi_square(spare, UNIT_CELLS) < 25.8


def test_points_fall_evenly_on_slanted_ground():
    """A triangle in four bands of equal height: 7, 5, 3 and 1 sixteenths; 3 df, 1 in 10,000."""
    ground = Ground.of([[[[0, 0], [4, 0], [0, 4]]]])
    points = ground.at(*DrawNumbers(3, POINTS).uniform(8000).reshape(2, 4000))
    counts = np.bincount(points[:, 1].astype(int), minlength=4)
    expected = 4000 * np.array([7, 5, 3, 1]) / 16
    assert ((counts - expected) ** 2 / expected).sum() < 21.1
    leans = points[:, 0] / (4 - points[:, 1])
    assert np.bincount((leans * 4).astype(int), minlength=4) == pytest.approx(1000, abs=110)


@pytest.mark.parametrize("n", [1, 2])
def test_a_small_island_far_off_has_its_share_of_a_systematic_draw(n):
    """A tenth of the ground lies apart, where a grid that reaches it mostly holds more points than usual."""
    ground = Ground.of([[[[0, 0], [9, 0], [9, 9], [0, 9]]], [[[100, 0], [103, 0], [103, 3], [100, 3]]]])
    field = plot_drawing._Field.of(ground, 0, 0.0)
    draws = [plot_drawing.METHODS["systematic"](replace(field, seed=seed), n, 0) for seed in range(3000)]
    off = np.array([(points[:, 0] > 50).mean() for points in draws])
    assert off.mean() == pytest.approx(0.1, abs=3.9 * off.std() / math.sqrt(3000))


def test_a_grid_lies_at_any_angle():
    field = plot_drawing._Field.of(Ground.of([[[[0, 0], [300, 0], [300, 300], [0, 300]]]]), 0, 0.0)
    angles = []
    for seed in range(40):
        points = plot_drawing.METHODS["systematic"](replace(field, seed=seed), 30, 0)
        along = points[1] - points[0]
        angles.append(math.atan2(along[1], along[0]) % (math.pi / 2) / (math.pi / 2))
    assert min(angles) < 0.15 < 0.85 < max(angles)
    assert 0.35 < np.mean(angles) < 0.65


def test_the_points_of_a_random_draw_do_not_change_with_the_number_of_spares():
    frame = GROUNDS["two pieces"]
    asked = {"method": "random", "seed": 9, "plot_radius_m": None}
    assert places(draw_points(frame, n=5, n_spares=4, **asked)) == places(draw_points(frame, n=9, **asked))


@pytest.mark.parametrize("name", GROUNDS)
@pytest.mark.parametrize("method", METHODS)
def test_points_fall_on_every_piece_and_in_no_hole(name, method):
    drawing = draw_points(GROUNDS[name], method=method, n=60, n_spares=5, seed=4, plot_radius_m=3)
    assert [point.order for point in drawing.points] == list(range(1, 66))
    assert [point.spare for point in drawing.points] == [False] * 60 + [True] * 5
    on_piece = pieces_hit(GROUNDS[name], drawing)
    assert sum(on_piece) == 65
    assert min(on_piece) > 0


def pieces_hit(frame, drawing):
    polygons = frame["coordinates"] if frame["type"] == "MultiPolygon" else [frame["coordinates"]]
    return [
        sum(
            holds_point({"type": "Polygon", "coordinates": rings}, p.longitude, p.latitude)
            for p in drawing.points
        )
        for rings in polygons
    ]


@pytest.mark.parametrize("name", GROUNDS)
def test_the_plane_keeps_the_area(name):
    ground = Ground.of(plane_ground(GROUNDS[name]).polygons)
    assert ground.area_m2 == pytest.approx(geodesic_area_m2(GROUNDS[name]), rel=2e-6)


def test_a_ring_that_crosses_the_180th_meridian_covers_the_same_places_as_two_pieces():
    ring = [[179.996, -17], [-179.998, -17], [-179.998, -16.996], [179.996, -16.996], [179.996, -17]]
    two = GROUNDS["island on the 180th meridian"]
    ground = Ground.of(plane_ground({"type": "Polygon", "coordinates": [ring]}).polygons)
    assert ground.area_m2 == pytest.approx(geodesic_area_m2(two), rel=2e-6)
    drawing = draw_points(
        {"type": "Polygon", "coordinates": [ring]}, method="random", n=40, seed=3, plot_radius_m=5
    )
    assert sum(pieces_hit(two, drawing)) == 40
    assert all(-180 <= point.longitude <= 180 for point in drawing.points)


def test_the_cut_at_the_180th_meridian_is_no_border():
    plane = plane_ground(GROUNDS["island on the 180th meridian"])
    ground = Ground.of(plane.polygons)
    assert len(ground.edges) == 6
    on_the_cut = np.array([[float(plane.polygons[0][0][1, 0]), 0.0]])
    assert ground.distance_to_border_m(on_the_cut)[0] > 200
    assert ground.share_of_circles(on_the_cut, 50.0)[0] == pytest.approx(1.0)


# --- the border ---------------------------------------------------------------------------------
def test_the_share_of_a_circle_on_the_ground_is_exact():
    outer, hole = [[0, 0], [60, 0], [70, 40], [35, 20], [0, 50]], [[10, 10], [20, 12], [12, 20]]
    ground, shape = Ground.of([[outer, hole]]), Polygon(outer, [hole])
    luck = DrawNumbers(1, POINTS).uniform(80).reshape(2, 40)
    points = ground.at(*luck)
    for radius in (0.5, 8.0, 45.0, 500.0):
        drawn = [Point(*point).buffer(radius, quad_segs=1000) for point in points]
        expected = [circle.intersection(shape).area / circle.area for circle in drawn]
        assert ground.share_of_circles(points, radius) == pytest.approx(expected, abs=2e-6)


def test_the_share_of_a_circle_at_an_edge_and_a_corner():
    ground = Ground.of([[[[0, 0], [100, 0], [100, 100], [0, 100]]]])
    centres = np.array([[50.0, 50.0], [50.0, 0.0], [0.0, 0.0], [50.0, 5.0]])
    segment = (
        0.5 + math.asin(0.5) / math.pi + 0.5 * math.sqrt(0.75) / math.pi
    )  # a chord half a radius off centre
    assert ground.share_of_circles(centres, 10) == pytest.approx([1.0, 0.5, 0.25, segment])


def test_a_buffer_keeps_centres_off_every_border_and_says_what_it_leaves_out():
    frame = GROUNDS["field with a pond"]
    plane = plane_ground(frame)
    shape = Polygon(plane.polygons[0][0], plane.polygons[0][1:])
    for method in METHODS:
        drawing = draw_points(
            frame,
            method=method,
            n=80,
            n_spares=8,
            seed=12,
            plot_radius_m=15.0,
            border_rule="buffer",
            buffer_m=15.0,
        )
        assert len(drawing.points) == 88
        assert all(point.share_inside == pytest.approx(1.0) for point in drawing.points)
        assert drawing.share_not_covered == pytest.approx(1 - shape.buffer(-15).area / shape.area, abs=2e-4)
    clipped = draw_points(frame, method="random", n=80, seed=12, plot_radius_m=15.0)
    assert clipped.share_not_covered == 0.0
    assert min(point.share_inside for point in clipped.points) < 0.9


def test_within_the_buffer_every_place_has_the_same_chance():
    """A field of 8 by 4 with 1 left out at its border, over 12 cells; 11 df, 1 in 10,000."""
    cells = [(1 + x, 1 + y, 2 + x, 2 + y) for x in range(6) for y in range(2)]
    for method, draws in (("random", 800), ("systematic", 800), ("balanced", 80)):
        points = many_draws([[0, 0], [8, 0], [8, 4], [0, 4]], method, 3, 0, draws, buffer_m=1.0)
        assert chi_square(points, cells) < 37.4


def test_a_buffer_that_leaves_nothing_is_refused():
    with pytest.raises(ValueError, match="buffer_m leaves next to nothing"):
        draw_points(
            GROUNDS["two pieces"],
            method="random",
            n=3,
            seed=1,
            plot_radius_m=5,
            border_rule="buffer",
            buffer_m=90,
        )


# --- spread -------------------------------------------------------------------------------------
def test_the_local_pivotal_method_spreads_better_than_chance():
    ground = Ground.of([[L_SHAPE]])
    cloud = ground.at(*DrawNumbers(77, POINTS).uniform(800).reshape(2, 400))
    chances = np.full(400, 16 / 400)
    spread = [
        voronoi_balance(local_pivotal(chances, cloud, DrawNumbers(s, DUELS)), chances, cloud)
        for s in range(40)
    ]
    chance = [voronoi_balance(pivotal(chances, DrawNumbers(s, DUELS)), chances, cloud) for s in range(40)]
    assert np.mean(spread) < 0.5 * np.mean(chance)


@pytest.mark.parametrize(("method", "times"), [("systematic", 0.5), ("balanced", 0.5)])
def test_spread_draws_with_their_first_spares_lie_better_than_random_ones(method, times):
    ground = Ground.of([[L_SHAPE]])
    cloud = ground.at(*DrawNumbers(78, POINTS).uniform(2000).reshape(2, 1000))

    def balance(how, n_kept):
        found = []
        for seed in range(40):
            points = plot_drawing.METHODS[how](plot_drawing._Field.of(ground, seed, 0.0), 14, 2)[:n_kept]
            nearest = ((cloud[:, None] - points[None]) ** 2).sum(axis=2).argmin(axis=1)
            found.append(((np.bincount(nearest, minlength=n_kept) * n_kept / 1000 - 1) ** 2).mean())
        return np.mean(found)

    assert balance(method, 14) < times * balance("random", 14)
    assert balance(method, 15) < 0.75 * balance("random", 15)


def test_a_systematic_draw_is_a_square_grid_with_few_gaps():
    ground = Ground.of([[[[0, 0], [400, 0], [400, 300], [0, 300]]]])
    points = plot_drawing.METHODS["systematic"](plot_drawing._Field.of(ground, 8, 0.0), 40, 0)
    spacing = math.sqrt(400 * 300 / 44)
    apart = np.sqrt(((points[:, None] - points[None]) ** 2).sum(axis=2))
    np.fill_diagonal(apart, np.inf)
    assert apart.min() == pytest.approx(spacing)
    assert (np.abs(apart.min(axis=1) - spacing) < 1e-6).mean() > 0.9


@pytest.mark.parametrize("ring", [L_SHAPE, [[0, 0], [300, 1], [300, 4], [0, 3]], [[0, 0], [9, 0], [0, 0.2]]])
def test_a_systematic_draw_has_exactly_the_number_asked_for(ring):
    ground = Ground.of([[ring]])
    for n in range(1, 30):
        points = plot_drawing.METHODS["systematic"](plot_drawing._Field.of(ground, n, 0.0), n, 3)
        assert len(points) == n + 3
        assert ground.holds(points).all()
        assert len(np.unique(points, axis=0)) == n + 3


# --- samples with given chances -----------------------------------------------------------------
@pytest.mark.parametrize("local", [True, False])
def test_each_unit_is_drawn_with_its_chance(local):
    chances = np.array([0.1, 0.9, 0.5, 0.5, 1.0, 0.0, 0.3, 0.7])
    where = np.array([[0, 0], [0, 1], [5, 5], [5, 6], [2, 2], [9, 9], [9, 8], [1, 1]], float)
    draws, times = 3000, np.zeros(8)
    for seed in range(draws):
        numbers = DrawNumbers(seed, DUELS)
        drawn = local_pivotal(chances, where, numbers) if local else pivotal(chances, numbers)
        assert drawn.size == 4
        times[drawn] += 1
    error = np.sqrt(chances * (1 - chances) / draws)
    assert (np.abs(times / draws - chances) <= 4 * error).all()


def test_neighbours_are_seldom_drawn_together():
    where = np.array([[0, 0], [0, 1], [50, 0], [50, 1]], float)
    drawn = [local_pivotal(np.full(4, 0.5), where, DrawNumbers(seed, DUELS)) for seed in range(200)]
    assert all({int(unit) // 2 for unit in units} == {0, 1} for units in drawn)


def test_chances_that_are_none_are_refused():
    with pytest.raises(ValueError, match="whole number"):
        pivotal([0.5, 0.4], DrawNumbers(1, DUELS))
    with pytest.raises(ValueError, match="whole number"):
        local_pivotal([1.5, 0.5], [[0, 0], [1, 1]], DrawNumbers(1, DUELS))


# --- lists --------------------------------------------------------------------------------------
def test_a_list_is_drawn_with_equal_chance_or_by_size():
    sizes = np.array([5, 40, 12, 200, 30, 30, 8, 75], float)
    for chosen in (None, sizes):
        draws = [draw_from_list(8, 3, seed, sizes=chosen) for seed in range(1500)]
        chances = np.array(draws[0].chances)
        assert chances.sum() == pytest.approx(3)
        times = np.bincount([unit for draw in draws for unit in draw.units], minlength=8)
        error = np.sqrt(chances * (1 - chances) / len(draws))
        assert (np.abs(times / len(draws) - chances) <= 4 * error + 1e-12).all()
    assert chances[3] == 1.0
    assert chances[1] / chances[0] == pytest.approx(8)


def test_weights_of_a_draw_by_size_give_back_the_whole():
    sizes = np.array([5, 40, 12, 60, 30, 30, 8, 75], float)
    living = np.array([4, 20, 12, 33, 25, 10, 8, 60], float)
    draws = [draw_from_list(8, 3, seed, sizes=sizes) for seed in range(2000)]
    totals = np.array([np.dot(draw.weights, living[list(draw.units)]) for draw in draws])
    assert totals.mean() == pytest.approx(living.sum(), abs=4 * totals.std() / math.sqrt(2000))
    for draw in draws[:50]:
        assert draw.weights == pytest.approx([1 / draw.chances[unit] for unit in draw.units])


@pytest.mark.parametrize("sizes", [None, [5, 40, 12, 200, 30, 30, 8, 75]])
def test_units_with_their_first_spare_are_a_draw_of_one_more(sizes):
    draws = [draw_from_list(8, 2, seed, sizes=sizes, n_spares=2) for seed in range(1500)]
    chances = inclusion_chances(np.ones(8) if sizes is None else np.array(sizes, float), 3)
    times = np.bincount([unit for draw in draws for unit in (*draw.units, draw.spares[0])], minlength=8)
    error = np.sqrt(chances * (1 - chances) / len(draws))
    assert (np.abs(times / len(draws) - chances) <= 4 * error + 1e-12).all()
    assert all(len({*draw.units, *draw.spares}) == 4 for draw in draws)


def test_a_list_drawn_whole_takes_everybody():
    draw = draw_from_list(4, 4, 1)
    assert (draw.units, draw.spares, draw.weights) == ((0, 1, 2, 3), (), (1.0, 1.0, 1.0, 1.0))


def test_a_list_keeps_its_draw_for_ever():
    """Drawn on 2026-11-25 by rules "1"."""
    assert [
        draw_from_list(30, 5, 20260614, n_spares=2).units,
        draw_from_list(30, 5, 20260614, n_spares=2).spares,
        draw_from_list(12, 4, 20260614, sizes=range(1, 13), n_spares=1).units,
        draw_from_list(12, 4, 20260614, sizes=range(1, 13), n_spares=1).spares,
    ] == LIST_FOR_EVER


LIST_FOR_EVER = [(3, 6, 15, 17, 21), (25, 0), (3, 8, 10, 11), (9,)]


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"n_units": 3, "n": 4}, "fewer units"), ({"n_units": 3, "n": 2, "n_spares": 2}, "fewer units"),
        ({"n_units": 3, "n": 0}, "fewer units"), ({"n_units": 3, "n": 1, "sizes": [1, 0, 1]}, "sizes"),
        ({"n_units": 3, "n": 1, "sizes": [1, 1]}, "sizes"), ({"n_units": 3, "n": 1, "seed": -1}, "seed"),
    ],
)  # fmt: skip
def test_a_list_that_cannot_be_drawn_is_refused(asked, words):
    with pytest.raises(ValueError, match=words):
        draw_from_list(**({"seed": 1} | asked))


# --- refusals and time --------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"method": "by_eye"}, "method"), ({"n": 0}, "plots"), ({"n": 990, "n_spares": 20}, "plots"),
        ({"n_spares": -1}, "plots"), ({"seed": -1}, "seed"), ({"seed": 2**63}, "seed"),
        ({"plot_radius_m": -5}, "plot_radius_m"), ({"border_rule": "mirror"}, "border_rule"),
        ({"border_rule": "buffer", "buffer_m": 0}, "buffer_m"),
    ],
)  # fmt: skip
def test_a_draw_that_cannot_be_made_is_refused_in_words(change, words):
    asked = {"method": "random", "n": 3, "seed": 1, "plot_radius_m": 5.64} | change
    with pytest.raises(ValueError, match=words):
        draw_points(GROUNDS["two pieces"], **asked)


@pytest.mark.parametrize(
    "coordinates",
    [
        [[[[0, 0], [0.01, 0.01], [0.01, 0], [0, 0.01], [0, 0]]]],  # crosses itself
        [
            [[[0, 0], [0.01, 0], [0.01, 0.01], [0, 0]]],
            [[[0, 0], [0.01, 0], [0.01, 0.008], [0, 0]]],
        ],  # overlap
    ],
)
def test_ground_that_crosses_or_overlaps_itself_is_refused(coordinates):
    frame = {"type": "MultiPolygon", "coordinates": coordinates}
    with pytest.raises(ValueError, match="overlap or cross"):
        draw_points(frame, method="random", n=3, seed=1, plot_radius_m=5)


@pytest.mark.parametrize("border_rule", ["clip", "buffer"])
@pytest.mark.parametrize("method", METHODS)
def test_two_hundred_plots_on_a_winding_ground_are_drawn_within_a_second(method, border_rule):
    turns = np.linspace(0, 2 * math.pi, 500, endpoint=False)
    reach = 0.004 * (1 + 0.4 * np.sin(9 * turns))
    ring = np.round(np.stack([10 + reach * np.cos(turns), 50 + reach * np.sin(turns)], axis=1), 7).tolist()
    frame = {"type": "Polygon", "coordinates": [[*ring, ring[0]]]}
    began = time.process_time()
    drawing = draw_points(
        frame,
        method=method,
        n=200,
        n_spares=20,
        seed=5,
        plot_radius_m=5.64,
        border_rule=border_rule,
        buffer_m=5.64,
    )
    assert time.process_time() - began < 1.0
    assert len(drawing.points) == 220


def test_pieces_far_apart_are_drawn_quickly():
    """A grid over the extent of both would hold millions of points."""
    pieces = [[[[x, 50], [x + 0.002, 50], [x + 0.002, 50.001], [x, 50.001], [x, 50]]] for x in (10.0, 11.0)]
    began = time.process_time()
    drawing = draw_points(
        {"type": "MultiPolygon", "coordinates": pieces},
        method="systematic",
        n=200,
        seed=5,
        plot_radius_m=5.64,
    )
    assert time.process_time() - began < 1.0
    assert sorted(pieces_hit({"type": "MultiPolygon", "coordinates": pieces}, drawing)) == pytest.approx(
        [100, 100], abs=12
    )
