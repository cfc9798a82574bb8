"""Lines and arcs of a drawing made points and radii: ``fillet`` gives the chain again."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from route3d.geometry import fillet
from route3d.geometry.line_arc import LineArc, arc, line, vertices

X, Y, Z = np.eye(3)


def test_a_line_and_its_tangent_arc_share_no_point() -> None:
    bend = arc(np.array([10.0, 2, 0]), np.array([10.0, 0, 0]), Z, math.pi / 2)
    points, radii = vertices([line(np.zeros(3), np.array([10.0, 0, 0])), bend])
    assert points == pytest.approx(np.array([[0, 0, 0], [12, 0, 0], [12, 2, 0]]), abs=1e-12)
    assert radii == pytest.approx([0, 2, 0], abs=1e-12)


@pytest.mark.parametrize("degrees", [30, 119, 121, 180, 270, 350])
def test_an_arc_of_any_turn_keeps_its_length_and_middle(degrees: float) -> None:
    angle = math.radians(degrees)
    axis = np.array([1.0, 2, 2]) / 3
    start = 1.5 * np.array([2.0, 1, -2]) / 3  # across the axis
    piece = arc(np.zeros(3), start, axis, angle)
    points, radii = vertices([piece])
    path = fillet(points, radii)
    assert path.length == pytest.approx(1.5 * angle, rel=1e-12)
    half = arc(np.zeros(3), start, axis, angle / 2)
    assert path.point(path.length / 2) == pytest.approx(half.end, abs=1e-12)
    assert path.point(path.length) == pytest.approx(piece.end, abs=1e-12)


def test_two_arcs_that_touch_make_an_s() -> None:
    one = arc(np.array([0.0, 1, 0]), np.zeros(3), Z, 1.0)
    turned = 2 * one.end - np.array([0.0, 1, 0])  # the center on the other side
    points, radii = vertices([one, arc(turned, one.end, -Z, 1.0)])
    path = fillet(points, radii)
    assert path.length == pytest.approx(2.0, rel=1e-12)
    assert path.end_tangents[-1] == pytest.approx(X, abs=1e-12)


def test_a_joint_that_turns_sharply_stays_a_point() -> None:
    bend = arc(np.array([1.0, 0, 0]), np.zeros(3), Z, math.pi / 2)  # starts along -y
    points, radii = vertices([line(np.array([-5.0, 0, 0]), np.zeros(3)), bend])
    assert [0.0, 0.0, 0.0] in points.tolist()
    assert radii[1] == 0


def test_a_reversed_piece_runs_back() -> None:
    piece = arc(np.array([1.0, 2, 3]), np.array([1.0, 2, 5]), X, 0.7)
    back = piece.reversed()
    assert back.start == pytest.approx(piece.end)
    assert back.end_tangent == pytest.approx(-piece.tangent, abs=1e-15)
    points, radii = vertices([back])
    path = fillet(points, radii)
    assert path.point(path.length) == pytest.approx(piece.start, abs=1e-12)


def test_a_joint_of_two_lines_is_kept_even_where_it_does_not_turn() -> None:
    steps = [np.array([k, 0.0, 0]) for k in range(4)]
    pieces: list[LineArc] = [line(a, b) for a, b in pairwise(steps)]
    assert len(vertices(pieces)[0]) == 4
