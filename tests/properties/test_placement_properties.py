"""Where the machine can stand: second ways to the same answer."""

from __future__ import annotations

import math

import numpy as np
import shapely
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from route3d.model import Room
from route3d.planning.placement.rope_legs import PullEnd, pulling_end
from route3d.planning.placement.site import (
    SiteMesh,
    bars_meet,
    nearest,
    plan_shapes,
    surroundings,
)
from tests.support.places import (
    AHEAD,
    CLEAR,
    CORNER,
    HALL,
    LENGTH,
    LIMIT,
    LINE,
    WIDTH,
    block,
    box,
    hall,
    reasons,
    same_place,
    search,
    turned,
)


def test_the_places_are_those_that_plain_geometry_finds() -> None:
    """Every place of the grid once more, by shapely on whole rooms instead of shapes in a tree."""
    columns = (box(3, -1.8, 3.6, -0.6), box(5, 0.55, 6, 2))
    end = pulling_end((0, 0, LINE + 0.1), (1, 0, 0))
    found = search(hall(*columns), end, step=0.1, finer=1)
    solid = shapely.union_all([shapely.Polygon(c) for c in columns])
    # grown by what rounding makes of 0.1 added up: places may touch what is around them
    free = shapely.Polygon(HALL).difference(solid).buffer(1e-7)
    good = 0
    count = int((10 + LENGTH / 2) / 0.1)
    for i in range(-count, count + 1):
        for j in range(-count, count + 1):
            x, y = 0.1 * i, 0.1 * j
            front = x - LENGTH / 2
            if math.hypot(i, j) > count or front <= 0 or abs(y) > front:
                continue
            rope = math.sqrt(front**2 + y**2 + 0.1**2)
            swing = math.acos(front / rope)
            body = (front, y - WIDTH / 2, front + LENGTH, y + WIDTH / 2)
            beside = (
                (body[0], body[3], body[2], body[3] + CLEAR),
                (body[0], body[1] - CLEAR, body[2], body[1]),
            )
            way = shapely.LineString([(0.3, 0.3 * y / front), (front, y)]).buffer(0.05)
            fits = [
                free.covers(shapely.box(*body)),
                any(free.covers(shapely.box(*b)) for b in beside),
                free.covers(way) or front <= 0.3,
            ]
            good += swing <= LIMIT and rope <= 10 and all(fits)
    assert found.good == good
    assert good > 100


def meets_by_slicing(
    triangle: np.ndarray, box_axes: np.ndarray, low: np.ndarray, high: np.ndarray
) -> bool:
    """Cut the triangle by the six faces of a box: something is left where they meet (trimesh)."""
    mesh = trimesh.Trimesh(triangle @ box_axes.T, [(0, 1, 2)], process=False)
    for k in range(3):
        for point, normal in ((low, 1.0), (high, -1.0)):
            mesh = mesh.slice_plane(point, normal * np.eye(3)[k])
            if not len(mesh.faces):
                return False
    return bool(mesh.area > 0)


def test_plan_shapes_meet_a_prism_where_slicing_leaves_something() -> None:
    rng = np.random.default_rng(5)
    met = 0
    for _ in range(300):
        triangle = rng.normal(0, 1.2, (3, 3))
        if rng.random() < 0.2:
            triangle[2, :2] = triangle[:2, :2].mean(axis=0)  # upright
        half, angle = rng.uniform(0.2, 0.8, 3), rng.uniform(0, math.pi)
        c, s = math.cos(angle), math.sin(angle)
        axes = np.array([(c, s, 0), (-s, c, 0), (0, 0, 1)])
        plan = shapely.Polygon(
            np.array([(1, 1), (-1, 1), (-1, -1), (1, -1)]) * half[:2] @ axes[:2, :2]
        )
        site = surroundings((), [SiteMesh("t", triangle, np.array([(0, 1, 2)]))])
        shapes = plan_shapes(site, -half[2], half[2])
        distance, owner = nearest(shapes, np.array([plan]), 1e-9)
        truth = meets_by_slicing(triangle, axes, -half, half)
        assert (owner[0] == 0) == truth == (distance[0] <= 0)
        met += truth
    assert 75 < met < 225


def test_bars_meet_triangles_where_slicing_leaves_something() -> None:
    rng = np.random.default_rng(6)
    starts, ends = rng.normal(0, 1, (2, 400, 3))
    ends[::7, :2] = starts[::7, :2]  # upright bars
    ends[1::7, 2] = starts[1::7, 2]  # level bars
    triangles = rng.normal(0, 1, (400, 3, 3))
    found = bars_meet(starts, ends, 0.15, triangles)
    for a, b, t, says in zip(starts, ends, triangles, found, strict=True):
        along = (b - a) / np.linalg.norm(b - a)
        level = np.array([-along[1], along[0], 0.0])
        across = (
            np.array([1.0, 0, 0]) if np.hypot(*level[:2]) < 1e-9 else level / np.linalg.norm(level)
        )
        axes = np.array([along, across, np.cross(along, across)])
        reach = np.array([np.linalg.norm(b - a) / 2, 0.15, 0.15])
        assert says == meets_by_slicing(t - (a + b) / 2, axes, -reach, reach)
    assert 40 < found.sum() < 360


SPOT = st.tuples(st.integers(0, 15), st.integers(-9, 8), st.integers(1, 6), st.integers(1, 6))


@settings(max_examples=15, deadline=None)
@given(
    spots=st.lists(SPOT, max_size=4),
    direction=st.sampled_from([(1, 0, 0), (1, 0.05, 0), (0, 0, 1)]),
    aside=st.integers(-4, 4),
    bend=st.booleans(),
)
def test_turning_the_whole_site_turns_the_answer(
    spots: list[tuple[int, int, int, int]],
    direction: tuple[float, float, float],
    aside: int,
    bend: bool,
) -> None:
    boxes = [
        box(x / 2 + 0.53, y / 2 + 0.03, (x + w) / 2 + 0.53, (y + d) / 2 + 0.03)
        for x, y, w, d in spots
    ]
    room = hall(*boxes[::2])
    blocks = [block("block", (*b[0], 0.02), (*b[2], 1.7)) for b in boxes[1::2]]
    end = pulling_end((0.25, aside, LINE + 0.05), direction)
    lead_off = CORNER if bend else ()
    one = search(surroundings((room,), blocks), end, lead_off=lead_off, step=0.5)
    # the finer grid comes on top: it loses no place and worsens none
    coarse = search(surroundings((room,), blocks), end, lead_off=lead_off, step=0.5, finer=1)
    assert one.good >= coarse.good
    assert all(p.score <= q.score + 1e-9 for p, q in zip(one.best[:1], coarse.best, strict=False))

    swung = Room(
        room.name,
        tuple((-y, x) for x, y in room.outline),
        0.0,
        3.0,
        tuple(tuple((-y, x) for x, y in o) for o in room.obstacles),
    )
    swung_blocks = [
        SiteMesh(b.name, b.vertices @ [(0, 1, 0), (-1, 0, 0), (0, 0, 1)], b.faces) for b in blocks
    ]
    there = PullEnd(*(np.array(turned(v)) for v in (end.point, end.outward, end.heading)))
    other = search(surroundings((swung,), swung_blocks), there, lead_off=lead_off, step=0.5)
    assert (one.good, reasons(one)) == (other.good, reasons(other))
    for p, q in zip(one.best, other.best, strict=True):
        assert same_place(p, q)


def test_survey_coordinates_change_nothing() -> None:
    """The same room a plan grid away, where a double holds nanometers still."""
    away = np.array([512_345.0, 4_567_890.0, 31.0])
    obstacle = box(3, -1.4, 3.6, -0.3)
    solid = block("block", (5, 0.4, 0.1), (6, 2, 1.7))
    here = search(surroundings((hall(obstacle),), [solid]), lead_off=CORNER)

    def moved(polygon: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        return tuple((x + away[0], y + away[1]) for x, y in polygon)

    room = Room("hall", moved(HALL), away[2], 3.0 + away[2], (moved(obstacle),))
    block_there = SiteMesh("block", solid.vertices + away, solid.faces)
    end = pulling_end(AHEAD.point + away, AHEAD.outward)
    there = search(surroundings((room,), [block_there]), end, lead_off=CORNER)
    assert (there.good, reasons(there)) == (here.good, reasons(here))
    for p, q in zip(here.best, there.best, strict=True):
        np.testing.assert_allclose(np.subtract(q.position, away), p.position, atol=1e-6)
        assert math.isclose(p.score, q.score, abs_tol=1e-6)
