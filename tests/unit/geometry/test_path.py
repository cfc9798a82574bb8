"""The path asked by station, against finite differences; immutability, splitting, reversing."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from numpy.typing import NDArray

from route3d.geometry import Arc, Corner, Path, Straight, fillet
from route3d.geometry.path import ARC, KIND_NAMES, STRAIGHT
from tests.support.routes import Go, Turn, route

# Coordinates of some hundred meters carry 1e-13 m of rounding each.
ROUNDING = 1e-9


def example() -> Path:
    return route(
        *(Go(12), Turn(70, 2.5, (0.3, 1, 0.4)), Go(7), Turn(140, 0.8, "down"), Go(30)),
        *(Turn(12, 40, "left"), Go(4)),
    )


def inner_stations(path: Path) -> NDArray[np.float64]:
    """Stations well inside the segments, where derivatives exist."""
    a, b = path.stations[:-1], path.stations[1:]
    return (a + (b - a) * np.array([[0.1], [0.37], [0.5], [0.92]])).ravel()


# --- by station ---------------------------------------------------------------------------------


def test_the_tangent_is_the_slope_of_the_point() -> None:
    path = example()
    s, h = inner_stations(path), 1e-5
    slope = (path.point(s + h) - path.point(s - h)) / (2 * h)
    # Central difference: h²/6R² = 3e-11, and 1e-14/1e-5 of rounding.
    assert path.tangent(s) == pytest.approx(slope, abs=1e-8)
    assert np.linalg.norm(path.tangent(s), axis=1) == pytest.approx(1.0, abs=1e-14)


def test_curvature_times_normal_is_the_slope_of_the_tangent() -> None:
    path = example()
    s, h = inner_stations(path), 1e-5
    slope = (path.tangent(s + h) - path.tangent(s - h)) / (2 * h)
    bent = path.curvature(s)[:, None] * path.normal(s)
    assert bent == pytest.approx(slope, abs=1e-8)


def test_the_normal_is_square_to_the_tangent_and_zero_on_straights() -> None:
    path = example()
    s = inner_stations(path)
    normal = path.normal(s)
    assert np.einsum("ij,ij->i", normal, path.tangent(s)) == pytest.approx(0.0, abs=1e-15)
    bent = path.curvature(s) > 0
    assert np.linalg.norm(normal[bent], axis=1) == pytest.approx(1.0, abs=1e-14)
    assert (normal[~bent] == 0).all()


def test_point_and_tangent_do_not_jump_at_joints() -> None:
    path, h = example(), 1e-12
    s = path.stations[1:-1]
    assert path.point(s - h) == pytest.approx(path.point(s + h), abs=ROUNDING)
    assert path.tangent(s - h) == pytest.approx(path.tangent(s + h), abs=1e-9)


def test_stations_of_any_shape() -> None:
    path = example()
    s = np.linspace(0, path.length, 12).reshape(3, 4)
    assert path.point(s).shape == path.tangent(s).shape == path.normal(s).shape == (3, 4, 3)
    assert path.curvature(s).shape == (3, 4)
    assert path.point(5.0).shape == (3,)
    assert path.point(s)[1, 2] == pytest.approx(path.point(float(s[1, 2])), abs=0)


def test_a_joint_belongs_to_the_segment_that_starts_there() -> None:
    path = example()
    index, into = path.locate(path.stations)
    assert index.tolist() == [*range(len(path)), len(path) - 1]
    assert into[:-1] == pytest.approx(0.0, abs=0)


def test_locate_tells_the_bend_angle() -> None:
    path = example()
    middle = (path.stations[1] + path.stations[2]) / 2
    index, angle = path.locate(middle)
    assert index == 1
    assert float(angle) == pytest.approx(math.radians(35), rel=1e-12)


@pytest.mark.parametrize("beyond", [-0.001, 0.001])
def test_a_station_off_the_path_is_refused(beyond: float) -> None:
    path = example()
    with pytest.raises(ValueError, match="outside 0"):
        path.point(beyond if beyond < 0 else path.length + beyond)
    path.point([-1e-12, path.length + 1e-12])  # rounding of a sum of lengths is none


def test_segments_read_one_by_one() -> None:
    path = fillet([[0, 0, 0], [10, 0, 0], [10, 10, 0], [10, 10, 5]], [0, 2, 0, 0], corners=(2,))
    a, b, c, d, e = path.segments
    assert a == Straight(0.0, 8.0, 0)
    assert isinstance(b, Arc)
    assert (b.radius, b.angle, b.vertex) == pytest.approx((2.0, math.pi / 2, 1))
    assert isinstance(c, Straight) and isinstance(e, Straight)
    assert isinstance(d, Corner)
    assert (d.vertex, d.length) == (2, 0.0)
    assert [KIND_NAMES[k] for k in path.kind] == [
        *("straight", "arc", "straight", "corner", "straight")
    ]


def test_radius_is_infinite_on_straights_and_zero_at_corners() -> None:
    path = fillet([[0, 0, 0], [10, 0, 0], [10, 10, 0]], [0, 0, 0], corners=(1,))
    assert path.radii.tolist() == [math.inf, 0.0, math.inf]


# --- sampling -----------------------------------------------------------------------------------


@pytest.mark.parametrize("tolerance", [0.3, 0.05, 1e-3, 1e-5])
def test_chords_stay_within_the_tolerance_and_waste_little(tolerance: float) -> None:
    path = example()
    s = path.sample(tolerance)
    assert set(np.round(path.stations, 9)) <= set(np.round(s, 9))
    worst = 0.0
    for a, b in pairwise(s):
        inside = path.point(np.linspace(a, b, 33))
        chord = (inside[-1] - inside[0]) / np.linalg.norm(inside[-1] - inside[0])
        off = inside - inside[0]
        off = off - (off @ chord)[:, None] * chord
        worst = max(worst, float(np.linalg.norm(off, axis=1).max()))
    assert worst <= tolerance * (1 + 1e-9)
    if tolerance < 0.1:  # a bend of 140° at R 0.8 has a sagitta to use up
        assert worst > tolerance / 5


def test_a_straight_is_sampled_by_its_ends() -> None:
    path = route(Go(1000.0))
    assert path.sample(1e-6).tolist() == [0.0, 1000.0]


# --- immutable ----------------------------------------------------------------------------------

ARRAYS = ("kind", "lengths", "angles", "starts", "tangents", "normals", "vertex", "leg")


@pytest.mark.parametrize(
    "name", [*ARRAYS, "stations", "radii", "end_tangents", "end_normals", "ends"]
)
def test_no_array_of_a_path_can_be_written(name: str) -> None:
    path = example()
    with pytest.raises(ValueError, match="read-only"):
        getattr(path, name)[0] = 0
    with pytest.raises(AttributeError):
        setattr(path, name, np.zeros(3))


def test_a_path_keeps_nothing_of_the_arrays_it_was_made_of() -> None:
    points, radii = np.array([[0.0, 0, 0], [10, 0, 0], [10, 10, 0]]), np.array([0.0, 2, 0])
    path = fillet(points, radii)
    length = path.length
    points[:], radii[:] = 7.0, 7.0
    assert path.length == length
    assert path.starts[0].tolist() == [0, 0, 0]


# --- split and reverse --------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(5))
def test_splitting_changes_no_point_and_no_direction(seed: int) -> None:
    path = example()
    cuts = np.random.default_rng(seed).uniform(0, path.length, 9)
    cut = path.split(cuts)
    assert len(cut) == len(path) + 9
    assert cut.length == pytest.approx(path.length, rel=1e-14)
    assert cut.turn == pytest.approx(path.turn, rel=1e-13)
    s = np.linspace(0, path.length, 301)[1:-1]
    assert cut.point(s) == pytest.approx(path.point(s), abs=ROUNDING)
    assert cut.tangent(s) == pytest.approx(path.tangent(s), abs=1e-12)
    assert cut.normal(s) == pytest.approx(path.normal(s), abs=1e-12)
    assert np.isin(np.round(cuts, 9), np.round(cut.stations, 9)).all()
    radii = cut.radii[cut.kind == ARC]
    assert sorted(set(np.round(radii, 9))) == [0.8, 2.5, 40.0]


def test_splitting_at_joints_or_outside_makes_no_joint() -> None:
    path = example()
    assert path.split(path.stations) is path
    assert path.split([]) is path
    assert path.split([path.stations[2] + 1e-10]) is path
    assert len(path.split([3.0, 3.0])) == len(path) + 1


def test_a_split_bend_still_belongs_to_its_vertex() -> None:
    path = example()
    cut = path.split([float(path.stations[1] + 0.5)])
    assert cut.vertex[1] == cut.vertex[2] == path.vertex[1]
    assert cut.leg[1] == cut.leg[2] == path.leg[1]


def test_reversed_walks_the_same_points_backwards() -> None:
    path = example()
    back = path.reversed()
    s = np.linspace(0.001, path.length - 0.001, 200)
    assert back.point(path.length - s) == pytest.approx(path.point(s), abs=ROUNDING)
    assert back.tangent(path.length - s) == pytest.approx(-path.tangent(s), abs=1e-11)
    assert back.normal(path.length - s) == pytest.approx(path.normal(s), abs=1e-11)
    assert back.kind.tolist() == path.kind[::-1].tolist()
    assert (back.kind[0], back.vertex[0]) == (STRAIGHT, -1)
