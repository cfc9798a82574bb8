"""Least clearances against closed forms, and against brute force of another kind."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.optimize import lsq_linear, minimize_scalar
from scipy.spatial.transform import Rotation

from route3d.geometry import Path, fillet
from route3d.geometry.clearance import (
    END_TOLERANCE,
    OVERLAP_TOLERANCE,
    TOLERANCE,
    Clearances,
    Target,
    empty_balls,
    least_clearances,
    stretches_within,
    tubes_of,
)
from route3d.geometry.mesh_tree import MeshTree, mesh_tree, point_to_triangle
from route3d.geometry.path import ARC

Floats = NDArray[np.float64]
# Foot of the true least distance; rounding at the size of the scene, some 100 m, and the 1e-9 m of
# station that the golden section stops at.
EXACT = 1e-9
RADIUS = 0.0706
seeds = st.integers(0, 2**32 - 1)


def rows_of(path: Path, every: float = 1.0) -> Floats:
    return np.append(np.arange(0.0, path.length - 1e-6, every), path.length)


def measure(
    path: Path, target: Target, *, radius: float = RADIUS, every: float = 1.0, limit: float = 0.0
) -> Clearances:
    legs = int(path.leg.max()) + 1
    return least_clearances(path, np.full(legs, radius), target, rows_of(path, every), (limit,))


def tree(mesh: trimesh.Trimesh) -> MeshTree:
    return mesh_tree(np.asarray(mesh.vertices), np.asarray(mesh.faces, dtype=np.int64))


def plane(size: float = 400.0, cells: int = 1) -> trimesh.Trimesh:
    """The square z = 0, in 2 * 4 ** (cells - 1) triangles."""
    s = size / 2
    mesh = trimesh.Trimesh([[-s, -s, 0], [s, -s, 0], [s, s, 0], [-s, s, 0]], [[0, 1, 2], [0, 2, 3]])
    for _ in range(cells - 1):
        mesh = mesh.subdivide()
    return mesh


def moved(mesh: trimesh.Trimesh, turn: Rotation, by: Floats) -> trimesh.Trimesh:
    return trimesh.Trimesh(turn.apply(mesh.vertices) + by, mesh.faces, process=False)


def a_route(
    rng: np.random.Generator, low: float = 0.5, high: float = 6.0
) -> tuple[Floats, list[float]]:
    n = int(rng.integers(3, 7))
    points = np.column_stack(
        (np.cumsum(rng.uniform(6, 12, n)), rng.uniform(-6, 6, n), rng.uniform(low, high, n))
    )
    return points, [0.0, *rng.uniform(0.3, 1.2, n - 2).tolist(), 0.0]


def lowest(path: Path, start: float, end: float) -> float:
    """The least z between two stations in closed form: ends, joints, and the bottoms of arcs."""
    stations = [start, end, *(s for s in path.stations.tolist() if start < s < end)]
    for i in np.flatnonzero(path.kind == ARC).tolist():
        # z' = cos θ tz + sin θ nz = 0
        bottom = math.atan2(-path.tangents[i, 2], path.normals[i, 2])
        for theta in (bottom, bottom + math.pi, bottom + 2 * math.pi):
            s = path.stations[i] + theta * path.radii[i]
            if 0 <= theta <= path.angles[i] and start < s < end:
                stations.append(s)
    return float(path.point(np.array(stations))[:, 2].min())


# --- planes, boxes, cylinders, balls -------------------------------------------------------------


@settings(max_examples=40, deadline=None)
@given(seeds)
def test_a_route_over_a_plane_turned_in_space(seed: int) -> None:
    """Every meter, arcs as arcs: their lowest points are between the samples."""
    rng = np.random.default_rng(seed)
    points, radii = a_route(rng)
    flat = fillet(points, radii)
    turn, by = Rotation.random(rng=rng), rng.uniform(-100, 100, 3)
    target = tree(moved(plane(cells=int(rng.integers(1, 5))), turn, by))
    path = fillet(turn.apply(points) + by, radii)
    found = measure(path, target)
    bounds = rows_of(flat)
    wanted = [lowest(flat, a, b) - RADIUS for a, b in pairwise(bounds.tolist())]
    assert found.distance == pytest.approx(wanted, abs=EXACT)


def test_the_bottom_of_a_bend_is_not_a_chord_of_it() -> None:
    path = fillet([(-5, 0, 5.3), (0, 0, 0.37), (5, 0, 4.1)], [0, 1.3, 0])
    center = path.starts[1] + 1.3 * path.normals[1]
    found = measure(path, tree(plane()), every=100.0)
    assert found.distance[0] == pytest.approx(center[2] - 1.3 - RADIUS, abs=EXACT)
    # what a sample at every tenth of a meter would have said
    sampled = path.point(np.append(np.arange(0, path.length, 0.1), path.length))[:, 2].min()
    assert sampled - RADIUS > found.distance[0] + 1e-5


@settings(max_examples=40, deadline=None)
@given(seeds)
def test_points_about_a_box(seed: int) -> None:
    """Outside of a box: the length of what sticks out past each face (textbook)."""
    rng = np.random.default_rng(seed)
    half = rng.uniform(0.5, 4, 3)
    turn, by = Rotation.random(rng=rng), rng.uniform(-100, 100, 3)
    target = tree(moved(trimesh.creation.box(extents=2 * half), turn, by))
    points = rng.uniform(-10, 10, (50, 3))
    wanted = np.linalg.norm(np.maximum(np.abs(points) - half, 0), axis=1)
    out = wanted > 0
    distance, _ = target.nearest(turn.apply(points) + by)
    assert distance[out] == pytest.approx(wanted[out], abs=1e-12 * 100)  # rounding at 100 m
    inner = (half - np.abs(points[~out])).min(axis=1)
    assert distance[~out] == pytest.approx(inner, abs=1e-12 * 100)


@settings(max_examples=10, deadline=None)
@given(seeds)
def test_a_straight_run_past_a_column(seed: int) -> None:
    """A cylinder of 180 sides: its true distance, to within the sagitta R (1 - cos(π/n))."""
    rng = np.random.default_rng(seed)
    r, sides = rng.uniform(0.2, 1.5), 180
    column = trimesh.creation.cylinder(radius=r, height=100.0, sections=sides)
    turn, by = Rotation.random(rng=rng), rng.uniform(-100, 100, 3)
    start, end = np.array([-20, rng.uniform(2, 4), -3.0]), np.array([20, rng.uniform(2, 4), 5.0])
    d = end - start
    flat = abs(d[1] * start[0] - d[0] * start[1]) / math.hypot(d[0], d[1])  # line past the axis
    path = fillet(turn.apply([start, end]) + by, [0, 0])
    found = measure(path, tree(moved(column, turn, by)))
    sagitta = r * (1 - math.cos(math.pi / sides))
    assert -EXACT <= found.distance.min() - (flat - r - RADIUS) <= sagitta + EXACT


def test_bends_round_a_ball() -> None:
    """A quarter bend about the center of a ball keeps R - r everywhere, to the sagitta."""
    ball = trimesh.creation.icosphere(subdivisions=6, radius=1.0)
    edge = float(ball.edges_unique_length.max())
    sagitta = 1 - math.sqrt(1 - edge**2 / 3)  # circumradius of an equilateral triangle: a / √3
    path = fillet([(2, -5, 0), (2, 2, 0), (-5, 2, 0)], [0, 2.0, 0])
    found = measure(path, tree(ball), every=0.1)
    on_arc = (found.station > 5.01) & (found.station < 5 + math.pi - 0.01)
    assert on_arc.sum() > 25
    off = found.distance[on_arc] - (1.0 - RADIUS)
    assert off.min() >= -EXACT and off.max() <= sagitta + 1e-12


# --- tubes ---------------------------------------------------------------------------------------


@settings(max_examples=60, deadline=None)
@given(seeds)
def test_two_skew_conduits(seed: int) -> None:
    """Crossing lines: |(b - a)·(u × v)| / |u × v|, less both outer radii."""
    rng = np.random.default_rng(seed)
    u, v = Rotation.random(2, rng=rng).apply([1.0, 0, 0])
    square = np.cross(u, v)
    if np.linalg.norm(square) < 0.05:
        return
    gap = rng.uniform(0.0, 3.0)
    p = rng.uniform(-100, 100, 3)
    q = p + gap * square / np.linalg.norm(square)
    one, other = (fillet([c - 60 * d, c + 50 * d], [0, 0]) for c, d in ((p, u), (q, v)))
    found = measure(one, tubes_of(other, np.array([0.1])))
    assert found.distance.min() == pytest.approx(gap - RADIUS - 0.1, abs=EXACT)
    row = int(found.distance.argmin())
    # f = √(gap² + x² sin²): a station is only as sharp as the root of the rounding of f
    assert found.station[row] == pytest.approx(60.0, abs=1e-5)


@settings(max_examples=30, deadline=None)
@given(seeds)
def test_parallel_conduits_through_bends(seed: int) -> None:
    """The same bend on a common center: the spacing less both radii, on every meter."""
    rng = np.random.default_rng(seed)
    spacing, angle = rng.uniform(0.05, 0.5), rng.uniform(0.3, 2.0)
    turn, by = Rotation.random(rng=rng), rng.uniform(-100, 100, 3)

    def line(radius: float) -> Path:
        back = radius * math.tan(angle / 2)
        corner = np.array([0.0, radius, 0.0])
        meet = corner + [back, 0, 0]
        away = meet + (back + 10) * np.array([math.cos(angle), -math.sin(angle), 0])
        return fillet(turn.apply([corner - [10, 0, 0], meet, away]) + by, [0, radius, 0])

    inner, outer = line(2.0), line(2.0 + spacing)
    found = measure(inner, tubes_of(outer, np.array([0.05, 0.05])))
    # at the far ends both stop square to the line, so the nearest point is level with them
    assert found.distance == pytest.approx(
        np.full(len(found.distance), spacing - RADIUS - 0.05), abs=1e-9
    )


@settings(max_examples=60, deadline=None)
@given(seeds)
def test_the_distance_to_an_arc_is_that_of_a_search_along_it(seed: int) -> None:
    rng = np.random.default_rng(seed)
    path = fillet(*a_route(rng))
    point = rng.uniform((-5, -10, -5), (70, 10, 10), (1, 3))
    distance, _ = tubes_of(path, np.zeros(len(path) + 1)).nearest(point)
    stations = np.linspace(0, path.length, 4001)
    off = np.linalg.norm(path.point(stations) - point, axis=1)
    best = int(off.argmin())
    span = stations[max(best - 1, 0)], stations[min(best + 1, 4000)]
    finer = minimize_scalar(
        lambda s: float(np.linalg.norm(path.point(np.array([s]))[0] - point[0])),
        bounds=span, method="bounded", options={"xatol": 1e-12},
    )  # fmt: skip
    assert distance[0] == pytest.approx(min(finer.fun, off.min()), abs=1e-9)


def test_many_segments_are_searched_by_block_with_the_same_answer() -> None:
    rng = np.random.default_rng(5)
    points = np.cumsum(rng.normal(size=(400, 3)) * 3, axis=0)
    tubes = tubes_of(
        fillet(points, np.zeros(400), corners=range(1, 399)), rng.uniform(0.01, 0.5, 399)
    )
    asked = rng.normal(size=(300, 3)) * 40
    distance, items = tubes.nearest(asked)
    segments = range(len(tubes.path))
    every = np.array([tubes.to_items(asked, np.full(300, i)) for i in segments])
    assert distance == pytest.approx(every.min(axis=0), abs=0)
    assert (every[items, np.arange(300)] == distance).all()


def test_the_radius_follows_the_conduit_of_the_leg() -> None:
    path = fillet([(0, 0, 1), (5, 0, 1), (10, 0, 1)], [0, 0, 0])
    found = least_clearances(path, np.array([0.05, 0.2]), tree(plane()), np.arange(0, 10.5, 2.5))
    assert found.distance == pytest.approx([0.95, 0.95, 0.8, 0.8], abs=EXACT)


# --- brute force ---------------------------------------------------------------------------------


def by_least_squares(point: Floats, triangle: Floats) -> float:
    """Distance to a triangle as a bounded least squares problem: a method of another kind."""
    a, b, c = triangle
    # p ≈ a + u (b - a) + v ((c - a) over what u leaves): the triangle as u ≥ 0, v ≥ 0, u + v ≤ 1
    best = math.inf
    for p, q, r in ((a, b, c), (b, c, a), (c, a, b)):
        matrix = np.column_stack((q - p, r - p))
        both = lsq_linear(matrix, point - p, (0, np.inf), tol=1e-14)
        if both.x.sum() <= 1:
            best = min(best, float(np.linalg.norm(matrix @ both.x - (point - p))))
        side = lsq_linear(matrix[:, :1], point - p, (0, 1), tol=1e-14)
        best = min(best, float(np.linalg.norm(matrix[:, :1] @ side.x - (point - p))))
    return best


def test_point_to_triangle_is_the_least_squares_distance() -> None:
    rng = np.random.default_rng(2)
    triangles, points = rng.normal(size=(150, 3, 3)), rng.normal(size=(150, 3)) * 2
    wanted = [by_least_squares(p, t) for p, t in zip(points, triangles, strict=True)]
    assert point_to_triangle(points, triangles) == pytest.approx(wanted, abs=1e-7)  # lsq's own


def soup(rng: np.random.Generator, kind: str) -> Floats:
    a, d, e = rng.normal(size=(3, 200, 3))
    if kind == "slivers":
        return np.stack((a, a + d, a + 0.4 * d + 1e-7 * e), axis=1)
    if kind == "without area":
        return np.stack((a, a + d, a + 0.4 * d), axis=1)
    if kind == "points":
        return np.stack((a, a, a), axis=1)
    return np.stack((a, a + d, a + e), axis=1)


@pytest.mark.parametrize("kind", ["triangles", "slivers", "without area", "points", "mixed"])
def test_the_tree_is_brute_force(kind: str) -> None:
    rng = np.random.default_rng(3)
    kinds = ["triangles", "without area", "points"] if kind == "mixed" else [kind]
    triangles = rng.permutation(np.vstack([soup(rng, k) for k in kinds]))
    faces = np.arange(3 * len(triangles), dtype=np.int64).reshape(-1, 3)
    target = mesh_tree(triangles.reshape(-1, 3), faces)
    points = rng.normal(size=(200, 3)) * 2
    every = np.array(
        [point_to_triangle(np.broadcast_to(p, (len(triangles), 3)), triangles) for p in points]
    )
    distance, items = target.nearest(points)
    assert distance == pytest.approx(every.min(axis=1), abs=1e-9)
    assert every[np.arange(200), items] == pytest.approx(distance, abs=1e-9)


@settings(max_examples=15, deadline=None)
@given(seeds)
def test_no_meter_of_a_soup_has_a_nearer_place(seed: int) -> None:
    """Every row against 200 samples for each: never nearer than promised, and never made up."""
    rng = np.random.default_rng(seed)
    points, radii = a_route(rng)
    path = fillet(points, radii)
    centers = rng.uniform((0, -8, -2), (60, 8, 8), (150, 3))
    triangles = centers[:, None] + rng.normal(size=(150, 3, 3)) * rng.uniform(0.05, 2)
    faces = np.arange(450, dtype=np.int64).reshape(-1, 3)
    target = mesh_tree(triangles.reshape(-1, 3), faces)
    found = measure(path, target, limit=0.3)
    bounds = rows_of(path)
    shares = np.linspace(0, 1, 201)
    stations = bounds[:-1, None] + np.diff(bounds)[:, None] * shares
    dense = target.nearest(path.point(stations.ravel()))[0].reshape(stations.shape).min(axis=1)
    dense -= RADIUS
    slack = np.where(dense < 0, OVERLAP_TOLERANCE, np.maximum(TOLERANCE, 1e-3 * dense))
    assert (found.distance <= dense + slack).all()
    real, _ = target.nearest(path.point(found.station))
    assert found.distance == pytest.approx(real - RADIUS, abs=EXACT)
    assert (found.station >= bounds[:-1]).all() and (found.station <= bounds[1:]).all()


@given(
    st.floats(0.01, 10), st.floats(0.01, 10), st.floats(0.01, 10), st.floats(0, 1), seeds
)  # fmt: skip
def test_the_bound_of_empty_balls_holds(
    a: float, b: float, c: float, share: float, seed: int
) -> None:
    """Any point outside both balls is no nearer to a place on the chord than the bound."""
    if abs(a - b) > c:  # no distance changes faster than its point moves
        return
    bound = empty_balls(np.array([a]), np.array([b]), np.array([c]))[0]
    rng = np.random.default_rng(seed)
    things = rng.uniform(-10, 20, (400, 2))
    outside = (np.hypot(*things.T) >= a) & (np.hypot(things[:, 0] - c, things[:, 1]) >= b)
    place = np.hypot(things[outside, 0] - share * c, things[outside, 1])
    assert place.min(initial=math.inf) >= bound - 1e-12


# --- stretches -----------------------------------------------------------------------------------


def test_a_stretch_that_is_too_close_has_its_ends() -> None:
    """Down to a plane and up again: below the limit exactly where z is."""
    path = fillet([(0, 0, 1), (10, 0, 0.05), (20, 0, 1)], [0, 0, 0], corners=(1,))
    target = tree(plane())
    found = measure(path, target, limit=0.2, every=0.7)
    rows = np.ones(len(found.distance), dtype=bool)
    (close,) = stretches_within(path, found, target, 0.2, rows)
    slope = 0.95 / path.stations[1]
    reach = (0.2 + RADIUS - 0.05) / slope
    middle = path.stations[1]
    assert close.start == pytest.approx(middle - reach, abs=END_TOLERANCE)
    assert close.end == pytest.approx(middle + reach, abs=END_TOLERANCE)
    assert close.station == pytest.approx(middle) and close.distance == pytest.approx(0.05 - RADIUS)
    (clash,) = stretches_within(path, found, target, 0.0, rows)
    assert close.start < clash.start < middle < clash.end < close.end


def test_things_thinner_than_any_step_are_found() -> None:
    """Ten wires of 2 mm across a run, looked at in rows of 20 m."""
    wires = [
        trimesh.creation.box(extents=(0.002, 4, 0.002)).apply_translation((x, 0, 0.3))
        for x in np.linspace(3.13, 91.7, 10)
    ]
    path = fillet([(0, 0, 0), (100, 0, 0)], [0, 0])
    target = tree(trimesh.util.concatenate(wires))
    found = measure(path, target, every=20.0, limit=0.25)
    close = stretches_within(path, found, target, 0.25, np.ones(5, dtype=bool))
    at = [s.station for s in close]
    assert at == pytest.approx(np.linspace(3.13, 91.7, 10).tolist(), abs=0.0011)  # half a wire
    assert [s.distance for s in close] == pytest.approx([0.299 - RADIUS] * 10, abs=EXACT)


def test_rows_left_out_split_a_stretch() -> None:
    path = fillet([(0, 0, 0.05), (10, 0, 0.05)], [0, 0])
    target = tree(plane())
    found = measure(path, target)
    rows = np.ones(10, dtype=bool)
    rows[4] = False
    spans = [(s.start, s.end) for s in stretches_within(path, found, target, 0.0, rows)]
    assert spans == [(0.0, 4.0), (5.0, 10.0)]
