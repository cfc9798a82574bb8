"""Offsets and saddles are told from other bends, and a twist from a turn that was meant."""

from __future__ import annotations

import math

import pytest

from route3d.geometry.bend_schedule import bend_schedule
from route3d.geometry.offsets_saddles import dog_leg, figures
from tests.support.routes import Go, Turn, route


def found(*pieces: Go | Turn) -> list[tuple[str, int, int]]:
    path = route(*pieces)
    return [(f.kind, f.first, f.last) for f in figures(path, bend_schedule(path))]


def test_an_offset_between_other_bends() -> None:
    bends = Turn(90, 1), Go(2), Turn(30, 1, "up"), Go(2), Turn(30, 1, "down"), Go(2), Turn(90, 1)
    assert found(Go(2), *bends, Go(2)) == [("offset", 2, 3)]


UP, DOWN = Turn(30, 1, "up"), Turn(30, 1, "down")


@pytest.mark.parametrize(
    ("top", "last", "kinds"),
    [
        (2.0, 2.0, [("4-bend saddle", 1, 4)]),
        (3.1, 2.0, [("offset", 1, 2), ("offset", 3, 4)]),  # more than a stick of 10 ft over the top
        (2.0, 2.1, [("offset", 1, 2), ("offset", 3, 4)]),  # 50 mm below the first line
    ],
)
def test_a_saddle_of_four_or_two_offsets(
    top: float, last: float, kinds: list[tuple[str, int, int]]
) -> None:
    assert found(Go(2), UP, Go(2), DOWN, Go(top), DOWN, Go(last), UP, Go(2)) == kinds
    on = (Go(2), UP, Go(2), DOWN, Go(top), UP, Go(last), DOWN, Go(2))  # twice up
    assert found(*on) == [("offset", 1, 2), ("offset", 3, 4)]


def test_the_figures_of_a_saddle_of_four_by_hand() -> None:
    """Bends of 0.5 m at 30°, 1 m of straight on the slopes, 0.6 m over the top."""
    up, down = Turn(30, 0.5, "up"), Turn(30, 0.5, "down")
    path = route(Go(2), up, Go(1), down, Go(0.6), down, Go(1), up, Go(2))
    (figure,) = figures(path, bend_schedule(path))
    setback, arc = 0.5 * math.tan(math.radians(15)), 0.5 * math.radians(30)
    assert figure.travel == pytest.approx(1 + 2 * setback, rel=1e-12)
    assert figure.height == pytest.approx((1 + 2 * setback) / 2, rel=1e-12)  # sin 30° is one half
    assert figure.over == pytest.approx(0.6 + 2 * setback, rel=1e-12)
    assert figure.spacings == pytest.approx([arc + 1, arc + 0.6, arc + 1], rel=1e-12)
    assert figure.shrink_to_center == pytest.approx(figure.shrink / 2, rel=1e-11)
    assert figure.shrink == pytest.approx(path.length - path.point(path.length)[0], rel=1e-11)
    assert math.isnan(figure.crown)


def test_the_crown_of_a_saddle_of_three_is_the_top_of_its_center_bend() -> None:
    outer = Turn(22.5, 0.3, "up")
    path = route(Go(2), outer, Go(0.4), Turn(45, 0.3, "down"), Go(0.4), outer, Go(2))
    (figure,) = figures(path, bend_schedule(path))
    highest = max(path.point(s)[2] for s in (path.length / 2, path.length / 2 + 1e-3))
    assert figure.crown == pytest.approx(highest, rel=1e-9)
    assert math.isnan(figure.over)


@pytest.mark.parametrize(
    ("first", "second"),
    [
        (Turn(30, 1), Turn(30, 1)),  # goes on round
        (Turn(30, 1), Turn(35, 1, "right")),  # does not come back to its heading
        (Turn(90, 1), Turn(90, 1, "right")),  # a step, not an offset: its multiplier says nothing
        (Turn(30, 1), Turn(30, 1, "up")),  # out of the plane
    ],
)
def test_what_is_no_offset(first: Turn, second: Turn) -> None:
    assert found(Go(2), first, Go(2), second, Go(2)) == []


def test_a_rolling_offset_has_its_true_height() -> None:
    """NOTE of bending_geometry: true height = sqrt(rise² + roll²), then as a plane offset."""
    side = (0.0, 3.0, 4.0)
    back = Turn(30, 0.2, (0.0, -3.0, -4.0))
    path = route(Go(2), Turn(30, 0.2, side), Go(1), back, Go(2))
    (figure,) = figures(path, bend_schedule(path))
    slope = 1 + 2 * 0.2 * math.tan(math.radians(15))
    assert figure.height == pytest.approx(slope * 0.5, rel=1e-12)  # sin 30° is one half
    ends = path.point([0.0, path.length])
    across = ends[1] - ends[0]
    assert figure.height == pytest.approx(math.hypot(across[1], across[2]), rel=1e-12)


def test_shrink_is_what_the_conduit_falls_short() -> None:
    """Independent of any formula: laid out straight the conduit is longer than it advances."""
    path = route(Go(2), Turn(25, 0.4, "up"), Go(1), Turn(25, 0.4, "down"), Go(3))
    (figure,) = figures(path, bend_schedule(path))
    advance = float(path.point(path.length)[0])
    assert figure.shrink == pytest.approx(path.length - advance, rel=1e-12)


@pytest.mark.parametrize(
    ("twist", "seen"), [(0.0, 0.0), (0.5, 0.5), (4.0, 4.0), (-9.0, 9.0), (11.0, None), (90.0, None)]
)
@pytest.mark.parametrize("way", [1, -1], ids=["goes on round", "bends back"])
def test_dog_leg(twist: float, seen: float | None, way: int) -> None:
    a = math.radians(twist)
    side = (0.0, way * math.cos(a), math.sin(a))
    # A short straight along +x between two bends: the first comes in from the plane z = 0.
    first = Turn(30, 1, "left")
    heading = (math.cos(math.radians(-30)), math.sin(math.radians(-30)), 0.0)
    path = route(Go(1), first, Go(1), Turn(30, 1, side), Go(1), heading=heading)
    twisted = dog_leg(bend_schedule(path)[1])
    if seen is None:
        assert math.isnan(twisted)
    else:
        assert math.degrees(twisted) == pytest.approx(seen, abs=1e-9)
