"""Joints keep clear of bends, marks are where the bend is, supports are close enough."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from route3d.geometry.sticks import cut_pieces, marks_of, support_count


def joints(*arcs: tuple[float, float], end: float = 10.0, straight: float = 0.1) -> list[float]:
    return [p.end for p in cut_pieces(0, end, arcs, 3.0, straight)]


def test_a_straight_is_cut_from_whole_sticks() -> None:
    assert joints() == [3, 6, 9, 10]
    assert cut_pieces(5, 5, (), 3, 0) == ()


def test_a_joint_in_a_bend_moves_back_before_it() -> None:
    assert joints((2.8, 3.4)) == pytest.approx([2.7, 5.7, 8.7, 10])


def test_a_joint_clear_of_a_bend_stays() -> None:
    assert joints((2.0, 2.9)) == [3, 6, 9, 10]
    assert joints((3.1, 4.0)) == [3, 6, 9, 10]


def test_a_joint_moves_before_every_bend_it_would_come_too_near_to() -> None:
    assert joints((2.3, 2.75), (2.85, 3.4)) == pytest.approx([2.2, 5.2, 8.2, 10])


def test_a_bend_longer_than_a_stick_runs_over_several() -> None:
    arcs = [(1.0, 8.0)]
    pieces = cut_pieces(0, 10, arcs, 3.0, 0.1)
    marks = marks_of(pieces, *arcs[0])
    assert [p.end for p in pieces] == pytest.approx([0.9, 3.9, 6.9, 9.9, 10])
    assert (marks.piece, marks.over) == (1, 2)
    assert (marks.start, marks.end) == pytest.approx((0.1, 1.1))


GAPS = st.lists(st.tuples(st.floats(0.01, 8), st.floats(0.05, 5)), max_size=8)


@settings(deadline=None)  # a busy machine
@given(GAPS, st.floats(1.0, 6.0), st.floats(0.0, 0.2))
def test_pieces_fill_the_stretch_and_marks_stand_at_the_bends(
    gaps: list[tuple[float, float]], stick: float, straight: float
) -> None:
    at, arcs = 1.0, []
    for gap, length in gaps:
        arcs.append((at + gap, at + gap + length))
        at += gap + length
    end = at + 0.5
    pieces = cut_pieces(1.0, end, arcs, stick, straight)
    assert pieces[0].start == 1.0 and pieces[-1].end == end
    assert all(a.end == b.start for a, b in itertools.pairwise(pieces))
    assert all(0 < p.length <= stick + 1e-9 for p in pieces)
    for first, last in arcs:
        marks = marks_of(pieces, first, last)
        a, b = pieces[marks.piece], pieces[marks.piece + marks.over]
        assert a.start + marks.start == pytest.approx(first, abs=1e-9)
        assert b.start + marks.end == pytest.approx(last, abs=1e-9)
        assert -1e-9 <= marks.start and marks.end <= b.length + 1e-6
        if last - first + 2 * straight < stick and not marks.over:
            continue
        # Only a bend with too little straight around it, or too long a one, runs over a joint.
        if marks.over:
            crowded = any(
                other != (first, last) and min(abs(other[0] - last), abs(first - other[1])) < stick
                for other in arcs
            )
            assert last - first + 2 * straight >= stick or crowded or first - 1.0 <= straight + 1e-6


def test_supports_by_hand() -> None:
    """EMT, 10 ft apart and within 3 ft of a box: 26 ft takes 3, a foot more takes 4."""
    assert support_count([(26, 10, 3)]) == 3
    assert support_count([(27, 10, 3)]) == 4
    assert support_count([(5, 10, 3)]) == 1  # one in the middle is near enough to both boxes
    assert support_count([(6.1, 10, 3)]) == 2


@settings(deadline=None)  # a busy machine
@given(
    st.lists(st.tuples(st.floats(0.1, 60), st.floats(1, 6), st.just(0.9)), min_size=1, max_size=4)
)
def test_supports_are_enough_and_not_wasted(parts: list[tuple[float, float, float]]) -> None:
    total = sum(p[0] for p in parts)
    count = support_count(parts)
    widest, closest = max(p[1] for p in parts), min(p[1] for p in parts)
    inner = max(total - 2 * 0.9, 0.0)
    assert math.ceil(inner / widest - 1e-6) + 1 <= count + 1e-9
    assert count <= math.ceil(inner / closest + 1e-6) + 1 + len(parts)


def test_the_stick_before_a_bend_that_is_cut_short_is_told() -> None:
    """Sticks of 3 m; the bend from 5.5 to 6.5 m lies over the joint at 6: the second is cut at 5.4.

    The third begins there, and the bend starts 0.1 m along it.
    """
    pieces = cut_pieces(0.0, 12.0, [(5.5, 6.5)], 3.0, 0.1)
    marks = marks_of(pieces, 5.5, 6.5, 3.0)
    assert (marks.piece, marks.start, marks.cut) == (2, pytest.approx(0.1), pytest.approx(2.4))
    assert marks_of(pieces, 7.0, 7.5, 3.0).cut == pytest.approx(2.4)  # on the same stick
    assert marks_of(cut_pieces(0.0, 12.0, [], 3.0, 0.1), 4.0, 4.5, 3.0).cut is None


def test_a_joint_between_close_bends_has_the_most_straight_there_is() -> None:
    """Bends at 0.5-1.4, 1.8-2.3 and 2.5-2.9 m, sticks of 3 m, 0.6 m wanted: nowhere so much.

    Between the first two lie 0.4 m of straight, between the last two 0.2: the joint is in the
    middle of the longer, at 1.6 m.
    """
    arcs = [(0.5, 1.4), (1.8, 2.3), (2.5, 2.9)]
    first, *_ = cut_pieces(0.0, 6.0, arcs, 3.0, 0.6)
    assert first.end == pytest.approx(1.6)
