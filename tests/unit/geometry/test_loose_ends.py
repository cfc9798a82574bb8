"""Elbows rebuilt between loose straights, against the bends that were taken out."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from route3d.geometry.join import DrawnPiece, straight_piece
from route3d.geometry.loose_ends import EVEN, elbow_between, gaps_between
from route3d.geometry.vectors import Floats, norm


def straights(
    seed: int, turn: float, radius: float, longer: float = 0.0
) -> tuple[list[DrawnPiece], Floats]:
    """Two straights of a bend in any plane, drawn any way round, and the vertex of the bend."""
    rng = np.random.default_rng(seed)
    axes, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    setback = radius * np.tan(turn / 2)
    way = np.array([np.cos(turn), np.sin(turn), 0.0])
    ends = [
        (np.array([-9.0, 0, 0]), np.array([-setback - longer, 0, 0])),
        (way * setback, way * 12),
    ]
    at = rng.uniform(-100, 100, 3)
    pieces = [straight_piece(at + axes @ a, at + axes @ b) for a, b in ends]
    pieces = [p.reversed() if rng.random() < 0.5 else p for p in pieces]
    return pieces, at


@given(st.integers(0, 10_000), st.floats(0.1, 2.4), st.floats(0.2, 1.0))
@settings(max_examples=60, deadline=None)
def test_a_bend_taken_out_is_found_again(seed: int, turn: float, radius: float) -> None:
    pieces, vertex = straights(seed, turn, radius)
    (gap,) = gaps_between(pieces, [], 1e-3)
    if gap.size <= 0.05:
        assert (gap.kind, gap.bridge) == ("near", None)
        return
    assert gap.bridge is not None
    assert gap.radius == pytest.approx(radius, rel=1e-6)
    assert gap.bridge.points[1] == pytest.approx(vertex, abs=1e-6)
    for end in gap.bridge.points[[0, -1]]:
        assert min(float(norm(p.points - end).min()) for p in pieces) == 0.0


@pytest.mark.parametrize(
    ("longer", "kind"), [(0.9 * EVEN, "elbow"), (0.3, "uneven"), (1.5, None), (5.0, None)]
)
def test_set_backs_say_what_a_gap_is(longer: float, kind: str | None) -> None:
    pieces, _ = straights(7, np.pi / 2, 1.0, longer)
    found = gaps_between(pieces, [], 1e-3)
    assert [gap.kind for gap in found] == ([kind] if kind else [])
    assert all((gap.bridge is not None) == (kind == "elbow") for gap in found)
    # longer set-backs are of one run in a larger conduit
    (wide,) = gaps_between(straights(7, np.pi / 2, 5.0)[0], [], 1e-3, diameter=0.3)
    assert wide.radius == pytest.approx(5.0)
    (far,) = gaps_between(straights(7, np.pi / 2, 5.0)[0], [], 1e-3)
    assert (far.kind, far.bridge) == ("far", None)
    assert gaps_between(straights(7, np.pi / 2, 9.1)[0], [], 1e-3) == ()  # three times the reach


def test_a_fitting_that_touches_both_ends_joins_them_and_one_that_touches_three_does_not() -> None:
    pieces, vertex = straights(3, np.pi / 2, 1.0, 0.8)
    corners = np.vstack([vertex, *(p.points for p in pieces)])
    near = corners[norm(corners - vertex) < 3]
    (gap,) = gaps_between(pieces, [], 1e-3, fittings=[near])
    assert (gap.kind, gap.fitting) == ("touched", 0)
    assert gap.radius == pytest.approx(1.0)
    third = straight_piece(vertex + [0.1, 0.1, 0.1], vertex + [8.0, 7.0, 9.0])
    found = gaps_between([*pieces, third], [], 1e-3, fittings=[near])
    assert not any(gap.kind == "touched" for gap in found)


def test_straights_that_pass_each_other_have_no_elbow() -> None:
    x, y = np.array([1.0, 0, 0]), np.array([0.0, -1, 0])
    start = np.zeros(3)
    assert elbow_between(start, x, np.array([1.0, 1.0, 2e-3]), y, 1e-3) is None
    assert elbow_between(start, x, np.array([1.0, 1.0, 0.5e-3]), y, 1e-3) is not None
    assert elbow_between(start, x, np.array([-1.0, 1.0, 0]), y, 1e-3) is None  # behind
