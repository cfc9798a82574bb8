"""The bend schedule against plane trigonometry done by hand."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from route3d.geometry import fillet
from route3d.geometry.bend_schedule import bend_schedule
from tests.support.routes import Go, Turn, route

# Sums and differences of a few lengths of some meters.
ROUNDING = 1e-12


def test_a_right_angle_of_two_meters() -> None:
    (bend,) = bend_schedule(fillet([(0, 0, 0), (10, 0, 0), (10, 7, 0)], [0, 2, 0]))
    assert (bend.number, bend.vertex, bend.plane) == (1, 1, "horizontal")
    assert bend.angle == pytest.approx(math.pi / 2, rel=ROUNDING)
    assert bend.setback == pytest.approx(2, rel=ROUNDING)
    assert bend.arc_length == pytest.approx(math.pi, rel=ROUNDING)
    assert bend.gain == pytest.approx(4 - math.pi, rel=ROUNDING)
    assert bend.station == bend.straight_before == pytest.approx(8, rel=ROUNDING)
    assert bend.straight_after == pytest.approx(5, rel=ROUNDING)


def test_sixty_degrees_has_the_setback_of_tan_thirty() -> None:
    corner = (5 + 5 * math.cos(math.radians(60)), 5 * math.sin(math.radians(60)), 0)
    (bend,) = bend_schedule(fillet([(0, 0, 0), (5, 0, 0), corner], [0, 3, 0]))
    assert bend.setback == pytest.approx(math.sqrt(3), rel=ROUNDING)  # 3 tan 30° = √3
    assert bend.gain == pytest.approx(2 * math.sqrt(3) - math.pi, rel=1e-11)


@pytest.mark.parametrize(
    ("last", "plane"),
    [
        ((10, 0, 8), "vertical"),
        ((10, 8, 0), "horizontal"),
        ((10, 8, 8), "oblique"),
        ((10, 8, 8 * math.tan(math.radians(2.9))), "horizontal"),
        ((10, 8, 8 * math.tan(math.radians(3.1))), "oblique"),
        ((10, 8 * math.tan(math.radians(2.9)), 8), "vertical"),
        ((10, 8 * math.tan(math.radians(3.1)), 8), "oblique"),
    ],
)
def test_planes(last: tuple[float, float, float], plane: str) -> None:
    (bend,) = bend_schedule(fillet([(0, 0, 0), (10, 0, 0), last], [0, 2, 0]))
    assert bend.plane == plane


def test_straights_are_counted_through_points_that_do_not_turn() -> None:
    points = [(0, 0, 0), (4, 0, 0), (10, 0, 0), (10, 9, 0), (20, 9, 0)]
    first, second = bend_schedule(fillet(points, [0, 0, 2, 2, 0]))
    assert [b.number for b in (first, second)] == [1, 2]
    assert [b.vertex for b in (first, second)] == [2, 3]
    straights = first.straight_before, first.straight_after, second.straight_after
    assert straights == pytest.approx((8, 5, 8), rel=ROUNDING)
    assert second.straight_before == first.straight_after


def test_a_turning_pull_point_ends_a_straight_and_is_no_bend() -> None:
    points = [(0, 0, 0), (6, 0, 0), (6, 9, 0), (20, 9, 0)]
    (bend,) = bend_schedule(fillet(points, [0, 0, 2, 0], corners=[1]))
    assert (bend.number, bend.vertex) == (1, 2)
    assert bend.straight_before == pytest.approx(7, rel=ROUNDING)


def test_a_straight_run_has_no_bends() -> None:
    assert bend_schedule(fillet([(0, 0, 0), (6, 0, 0)], [0, 0])) == ()


@pytest.mark.parametrize(
    ("second", "degrees"),
    [
        ("left", 0.0),  # goes on round
        ("right", 180.0),  # an offset
        ("up", 90.0),  # looking along +y after a left turn, up is clockwise from left
        ("down", -90.0),
    ],
)
def test_roll_from_the_bend_before(second: str, degrees: float) -> None:
    first, after = bend_schedule(route(Go(3), Turn(90, 1), Go(2), Turn(45, 1, second), Go(3)))
    assert math.isnan(first.roll)
    assert math.degrees(after.roll) == pytest.approx(degrees, abs=1e-9)


def test_roll_of_any_angle_is_clockwise_along_the_route() -> None:
    """After a left turn at +y the center of the second bend is turned from left toward up."""
    turn = math.radians(33)
    side = (-math.cos(turn), 0.0, math.sin(turn))
    path = route(Go(3), Turn(90, 1), Go(2), Turn(30, 1, side), Go(3))
    assert math.degrees(bend_schedule(path)[1].roll) == pytest.approx(33, abs=1e-9)


def test_half_a_turn_of_roll_has_one_sign_only() -> None:
    for z in (1e-13, -1e-13, 0.0):
        path = fillet([(0, 0, 0), (9, 0, 0), (9, 9, 0), (18, 9, z)], [0, 2, 2, 0])
        assert bend_schedule(path)[1].roll == pytest.approx(math.pi)


def test_a_turning_pull_point_takes_the_roll_away() -> None:
    points = [(0, 0, 0), (9, 0, 0), (9, 9, 0), (18, 9, 0), (18, 20, 0)]
    bends = bend_schedule(fillet(points, [0, 2, 0, 2, 0], corners=[2]))
    assert [math.isnan(b.roll) for b in bends] == [True, True]


def test_the_same_route_walked_back_has_the_same_rolls_in_turn() -> None:
    """A dihedral angle does not know which end one looks from."""
    path = route(Go(3), Turn(90, 1), Go(2), Turn(30, 1, (0, 1, 3)), Go(2), Turn(50, 1, "up"), Go(3))
    there = [b.roll for b in bend_schedule(path)[1:]]
    back = [b.roll for b in bend_schedule(path.reversed())[1:]]
    assert there[::-1] == pytest.approx(back, abs=1e-9)


STEPS = st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda v: math.hypot(*v) > 0.3)


@settings(deadline=None)
@given(st.lists(STEPS, min_size=3, max_size=6))
def test_turn_and_roll_are_those_of_the_corner_points(steps: list[tuple[float, ...]]) -> None:
    """Of oblique routes, from the points alone: angle and dihedral angle between the legs.

    The dihedral angle is atan2(|b| a·(b×c), (a×b)·(b×c)) of three legs in turn (IUPAC's torsion
    angle, from memory): 0 where the third goes on round, clockwise looking along the second.
    """
    legs = [10 * np.array(s) / math.hypot(*s) for s in steps]
    turns = [math.atan2(np.linalg.norm(np.cross(a, b)), a @ b) for a, b in pairwise(legs)]
    assume(all(0.05 < t < 2.0 for t in turns))  # 0.3 tan(t / 2) of each leg at either end
    points = np.cumsum([np.zeros(3), *legs], axis=0)
    bends = bend_schedule(fillet(points, [0, *[0.3] * len(turns), 0]))
    assert [b.angle for b in bends] == pytest.approx(turns, abs=1e-9)
    for bend, (a, b, c) in zip(bends[1:], zip(legs, legs[1:], legs[2:], strict=False), strict=True):
        first, second = np.cross(a, b), np.cross(b, c)
        roll = math.atan2(np.linalg.norm(b) * float(a @ second), float(first @ second))
        assert math.remainder(bend.roll - roll, 2 * math.pi) == pytest.approx(0, abs=1e-6)


def test_straights_end_at_a_pull_point_in_line() -> None:
    """A box 6 m along the straight of 14 m between the bends: 6 - 2 m before it, 8 - 2 m after."""
    points = [(0, 0, 0), (10, 0, 0), (10, 14, 0), (20, 14, 0)]
    path = fillet(points, [0, 2, 2, 0])
    box = float(path.stations[2]) + 4.0
    first, second = bend_schedule(path, [box])
    assert (first.straight_before, first.straight_after) == pytest.approx((8.0, 4.0))
    assert (second.straight_before, second.straight_after) == pytest.approx((6.0, 8.0))
    assert math.isnan(second.roll)
    whole = bend_schedule(path)
    assert whole[1].straight_before == pytest.approx(10.0) and not math.isnan(whole[1].roll)
