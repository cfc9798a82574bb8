"""Clearance of a long route from a million triangles; ``pytest -s -m benchmarks``."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from time import process_time

import numpy as np
import pytest
import trimesh

from route3d.geometry import Path, fillet
from route3d.geometry.blocks import Triangles, pieces, swept_blocks
from route3d.geometry.clearance import least_clearances, stretches_within
from route3d.geometry.closed_bodies import closed_faces, stretches_inside
from route3d.geometry.mesh_tree import mesh_tree
from route3d.geometry.rmf_frames import level_frame
from tests.benchmarks.conftest import Timing

pytestmark = pytest.mark.benchmarks
LIMITS = (-1e-4, 0.15 - 1e-4)


def hall(rng: np.random.Generator) -> trimesh.Trimesh:
    """500 m of floor and wall in fine triangles, and plant on it: a little over a million."""
    parts = []
    for extents, center in (((500, 60, 0.3), (250, 0, -3)), ((500, 0.3, 20), (250, 20, 5))):
        box = trimesh.creation.box(extents=extents).apply_translation(center)
        for _ in range(7):
            box = box.subdivide()
        parts.append(box)
    while sum(len(p.faces) for p in parts) < 1_000_000:
        ball = trimesh.creation.icosphere(subdivisions=5, radius=rng.uniform(0.2, 1.5))
        place = rng.uniform((0, -15, 0), (500, 18, 10))
        parts.append(ball.apply_translation(place))
    return trimesh.util.concatenate(parts)


def route(beside_the_wall: bool) -> Path:
    x = np.arange(20, 490, 12)
    y = 19.7 + 0.1 * (np.arange(len(x)) % 2) if beside_the_wall else 6 * np.sin(x / 20)
    points = np.column_stack((x, y, 2 + 1.5 * np.sin(x / 35)))
    ends = [(0.0, y[0], 2.0)], [(500.0, y[-1], 2.0)]
    points = np.vstack((ends[0], points, ends[1]))
    return fillet(points, [0.0, *[1.2] * len(x), 0.0])


@pytest.mark.parametrize("beside_the_wall", [False, True])
def test_five_hundred_meters_in_a_million_triangles(
    beside_the_wall: bool, timed: Timing, yards: Callable[[float], float]
) -> None:
    """Every 0.1 m within 50 yards of one core, once the mesh is read."""
    mesh = hall(np.random.default_rng(0))
    vertices, faces = np.asarray(mesh.vertices), np.asarray(mesh.faces, dtype=np.int64)
    path = route(beside_the_wall)
    bounds = np.append(np.arange(0, path.length - 1e-9, 0.1), path.length)
    radii, rows = np.full(int(path.leg.max()) + 1, 0.07), np.ones(len(bounds) - 1, dtype=bool)
    owner = np.zeros(len(faces), dtype=np.int64)

    def work() -> str:
        marks = [process_time()]
        tree = mesh_tree(vertices, faces)
        marks.append(process_time())
        closed = closed_faces(vertices, faces)
        marks.append(process_time())
        found = least_clearances(path, radii, tree, bounds, LIMITS)
        marks.append(process_time())
        close = [s for limit in LIMITS for s in stretches_within(path, found, tree, limit, rows)]
        inside = stretches_inside(path, found.nodes, tree, closed, owner)
        marks.append(process_time())
        steps = ", ".join(f"{b - a:.2f}" for a, b in pairwise(marks))
        places = len(found.nodes.stations)
        met = f"{len(close)} close, {len(inside)} inside"
        return f"{places} places: tree, closed, rows, stretches {steps} s; {met}"

    assert len(rows) > 4900
    print(f"\n  {len(faces)} triangles, {len(rows)} rows, {work()}")
    assert yards(timed("clearance", work, 2, 0)) < 50


def test_the_concrete_of_five_hundred_meters_in_a_million_triangles(
    timed: Timing,
    yards: Callable[[float], float],
) -> None:
    """A bank along the route, exactly, within 30 yards of one core once the tree is made."""
    mesh = hall(np.random.default_rng(0))
    tree = mesh_tree(np.asarray(mesh.vertices), np.asarray(mesh.faces, dtype=np.int64))
    path = route(False)
    section = np.array([(-0.3, -0.2), (0.3, -0.2), (0.3, 0.2), (-0.3, 0.2)])

    def work() -> float:
        body = swept_blocks(path, level_frame(path), section)
        return float(pieces(body, Triangles(tree), LIMITS[1]).distance.min())

    least = work()
    used = timed("concrete", work, 3, 0)
    print(f"\n  least {least:.3f} m: {used:.2f} s")
    assert np.isfinite(least)
    assert yards(used) < 30
