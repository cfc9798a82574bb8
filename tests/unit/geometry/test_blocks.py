"""Boxes, concrete and triangles: closed forms, and distances by another way."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import linprog, nnls

from route3d.geometry.blocks import (
    Blocks,
    Triangles,
    box_block,
    pieces,
    swept_blocks,
    upright_block,
)
from route3d.geometry.fillet import fillet
from route3d.geometry.mesh_tree import mesh_tree
from route3d.geometry.rmf_frames import level_frame
from route3d.geometry.vectors import Floats

FAR = np.array([512_000.0, 4_600_000.0, 12.0])
"""A site on a grid: kilometers from 0."""


def turned(rng: np.random.Generator) -> Floats:
    q, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    return q if np.linalg.det(q) < 0 else q[[1, 0, 2]]  # along, right and up are left-handed


def box(rng: np.random.Generator, middle: Floats) -> Blocks:
    return box_block(middle, turned(rng), rng.uniform(0.2, 3.0, 3))


def hulls_apart(a: Floats, b: Floats) -> float:
    """Distance of two hulls by non-negative least squares over the shares of their corners."""
    heavy = 1e4
    rows = np.vstack((np.hstack((a.T, -b.T)), np.zeros((2, len(a) + len(b)))))
    rows[3, : len(a)] = rows[4, len(a) :] = heavy
    shares, _ = nnls(rows, np.array([0, 0, 0, heavy, heavy]), maxiter=2000)
    one, two = shares[: len(a)], shares[len(a) :]
    return float(np.linalg.norm(one / one.sum() @ a - two / two.sum() @ b))


def inscribed(bodies: list[Blocks]) -> float:
    """How deep a point can lie in all sides of some boxes, by a linear program."""
    rows, bounds = [], []
    for body in bodies:
        for k in range(6):
            n = body.normals[0, k]
            rows.append([*n, 1.0])
            bounds.append((body.corners[0] @ n).max())
    found = linprog([0, 0, 0, -1], A_ub=rows, b_ub=bounds, bounds=[(None, None)] * 4)
    return float(-found.fun)


def test_two_boxes_are_as_far_apart_or_overlap_as_other_ways_have_it() -> None:
    rng = np.random.default_rng(1)
    met = 0
    for _ in range(60):
        one, two = box(rng, np.zeros(3)), box(rng, rng.uniform(-2.5, 2.5, 3))
        (distance,), points = two.apart(one, np.array([0]))
        depth = inscribed([one, two])
        if depth > 0:
            met += 1
            assert distance == pytest.approx(-2 * depth, abs=1e-7)
        else:
            assert distance == pytest.approx(hulls_apart(one.corners[0], two.corners[0]), abs=1e-5)
            near = [float(b.nearest(points)[0][0]) for b in (one, two)]
            assert near == pytest.approx([distance / 2] * 2, abs=1e-9)
    assert 10 < met < 50


def test_a_box_and_triangles_are_as_far_apart_as_another_way_has_it() -> None:
    rng = np.random.default_rng(2)
    for _ in range(60):
        one = box(rng, np.zeros(3))
        corners = rng.uniform(-3, 3, (3, 3)) + rng.uniform(-2, 2, 3)
        target = Triangles(mesh_tree(corners, np.array([[0, 1, 2]])))
        (distance,), _ = target.apart(one, np.array([0]))
        away = hulls_apart(one.corners[0], corners)
        assert max(distance, 0.0) == pytest.approx(away, abs=1e-5)
        (shifted,), _ = Triangles(mesh_tree(corners + FAR, np.array([[0, 1, 2]]))).apart(
            Blocks(one.corners + FAR, one.spans, one.open, one.normals), np.array([0])
        )
        assert shifted == pytest.approx(distance, abs=5e-9)


def test_a_plane_that_cuts_into_a_box_is_as_deep_as_it_goes_in() -> None:
    """A wall 0.1 m within the side of a box 2 m wide; and one through its middle."""
    axes = np.array([(1.0, 0, 0), (0, -1, 0), (0, 0, 1)])
    one = box_block(np.zeros(3), axes, (2.0, 2.0, 2.0))
    for x, depth in ((0.9, 0.1), (0.0, 1.0), (-0.75, 0.25)):
        wall = np.array([(x, -50.0, -50.0), (x, 80.0, -50.0), (x, 0.0, 90.0)])
        (found,), _ = Triangles(mesh_tree(wall, np.array([[0, 1, 2]]))).apart(one, np.array([0]))
        assert found == pytest.approx(-depth, abs=1e-9)


def test_points_about_a_box_and_an_upright_prism() -> None:
    axes = np.array([(1.0, 0, 0), (0, -1, 0), (0, 0, 1)])
    outline = np.array([(-1.0, -0.5), (1.0, -0.5), (1.0, 0.5), (-1.0, 0.5)])
    points = np.array([(0, 0, 0), (0.9, 0, 0), (2, 0, 0), (2, 1.5, 0), (2, 1.5, 3.5)], dtype=float)
    expected = [-0.5, -0.1, 1.0, math.sqrt(2), math.sqrt(1 + 1 + 9)]
    for body in (
        box_block(np.zeros(3), axes, (2.0, 1.0, 1.0)),
        upright_block(outline, -0.5, 0.5),
        upright_block(outline[::-1], -0.5, 0.5),
    ):
        assert body.nearest(points)[0] == pytest.approx(expected)
        assert (
            np.einsum("fj,fj->f", body.normals[0], body.corners[0, [0, 6, 0, 1, 2, 3]]) > 0
        ).all()


def test_concrete_in_a_bend_is_as_far_as_its_true_arc() -> None:
    """A section 0.6 m by 0.4 m about a bend of 2 m: its outside at 2.3 m, its inside at 1.7 m."""
    path = fillet([(-10, 0, 0), (0, 0, 0), (0, 10, 0)], [0, 2, 0])
    section = np.array([(-0.3, -0.2), (0.3, -0.2), (0.3, 0.2), (-0.3, 0.2)])
    body = swept_blocks(path, level_frame(path), section, 5.0)
    assert body.spans[0, 0] == 5.0 and body.spans[-1, 1] == pytest.approx(5.0 + path.length)
    assert not body.open[0, 0] and not body.open[-1, 1] and body.open[1:, 0].all()
    center, away = np.array([-2.0, 2.0, 0.0]), np.array([math.cos(0.3), -math.sin(0.3), 0.0])
    points = center + np.array([1.0, 1.65, 1.8, 2.0, 2.35, 4.0])[:, None] * away
    distance, _ = body.nearest(points)
    assert distance == pytest.approx([0.7, 0.05, -0.1, -0.2, 0.05, 1.7], abs=1e-4)


def test_the_stretch_of_a_bank_under_a_beam_and_far_things() -> None:
    """A beam 1 m wide, 0.1 m over the concrete: near it for 1 m and what 0.2 m reach aside."""
    path = fillet([(0, 0, 0), (60, 0, 0)], [0, 0])
    section = np.array([(-0.3, -0.2), (0.3, -0.2), (0.3, 0.2), (-0.3, 0.2)])
    beam = box_block(np.array([20.5, 0, 0.8]), -np.eye(3), (1.0, 9.0, 1.0))
    for shift in (np.zeros(3), FAR):
        moved = fillet(np.array([(0, 0, 0), (60, 0, 0)]) + shift, [0, 0])
        body = swept_blocks(moved, level_frame(path), section)
        other = Blocks(beam.corners + shift, beam.spans, beam.open, beam.normals)
        found = pieces(body, other, 0.2)
        near = found.distance < 0.2
        assert found.distance.min() == pytest.approx(0.1, abs=1e-8)
        start, end = found.blocks.spans[near, 0].min(), found.blocks.spans[near, 1].max()
        reach = math.sqrt(0.2**2 - 0.1**2)
        assert (start, end) == pytest.approx((20 - reach, 21 + reach), abs=0.05)
        far = Blocks(other.corners + (0, 700.0, 0), other.spans, other.open, other.normals)
        assert pieces(body, far, 0.2).distance.min() == pytest.approx(
            math.hypot(700 - 4.5 - 0.3, 0.1), abs=1e-6
        )
