"""The ground at any place, beside scipy's own interpolation, and where a path lies below it."""

from __future__ import annotations

import time

import numpy as np
import pytest
from scipy.interpolate import LinearNDInterpolator

from route3d.geometry.bank_slices import stretches_below
from route3d.geometry.encasement import ground_stations, stretches_outside
from route3d.geometry.fillet import fillet
from route3d.geometry.grade import Grade, grade_through
from route3d.geometry.vectors import Floats

RNG = np.random.default_rng(14)


def tent() -> Grade:
    """A ridge along y = 0 at 2 m that falls to 0 at y = 10 and y = -10; x from 0 to 40."""
    corners = np.array(
        [(x, y, z) for x in (0.0, 40.0) for y, z in ((-10.0, 0.0), (0.0, 2.0), (10.0, 0.0))]
    )
    faces = np.array([(0, 1, 3), (3, 1, 4), (1, 2, 4), (4, 2, 5)])
    return Grade(triangles=corners[faces], given=True, name="tent")


@pytest.mark.parametrize("moved", [(0.0, 0.0, 0.0), (512_345.0, 6_110_000.0, 30.0)])
def test_the_surface_through_points_is_that_of_an_independent_interpolation(
    moved: tuple[float, float, float],
) -> None:
    points = np.column_stack((RNG.uniform(0, 300, (900, 2)), RNG.uniform(0, 9, 900)))
    places = RNG.uniform(-20, 320, (1000, 2))
    other = LinearNDInterpolator(points[:, :2], points[:, 2])(places)
    ours = grade_through(points + moved).at(places + np.array(moved)[:2]) - moved[2]
    np.testing.assert_allclose(ours, other, atol=1e-6)  # not a number outside, in both
    np.testing.assert_allclose(
        grade_through(points + moved).at(points + moved), points[:, 2] + moved[2]
    )


@pytest.mark.scale
def test_many_places_on_two_hundred_thousand_triangles_take_seconds() -> None:
    side = np.arange(317.0)
    x, y = (a.ravel() for a in np.meshgrid(side, side))
    grade = grade_through(np.column_stack((x, y + 1e-3 * x, np.sin(x / 9))))
    assert len(grade.triangles) > 199_000
    start = time.process_time()
    grade.at(RNG.uniform(1, 300, (100_000, 2)))
    assert time.process_time() - start < 5.0


def test_the_highest_of_several_counts_and_walls_count_for_nothing() -> None:
    floor = np.array([(0, 0, 0), (9, 0, 0), (0, 9, 0)], dtype=float)
    wall = np.array([(2, 2, 0), (4, 2, 0), (3, 2, 50)], dtype=float)
    grade = Grade(triangles=np.stack((floor, floor + [0, 0, 1.5], wall)), given=True)
    np.testing.assert_array_equal(grade.at(np.array([(3, 2), (1, 1), (9, 9)])), [1.5, 1.5, np.nan])


def test_points_that_make_no_surface_are_refused() -> None:
    with pytest.raises(ValueError, match="on one line"):
        grade_through(np.array([(0, 0, 0), (1, 1, 0), (2, 2, 5.0)]))
    with pytest.raises(ValueError, match="two elevations at x 1, y 1"):
        grade_through(np.array([(0, 0, 0), (1, 1, 0), (1, 1, 5.0), (4, 0, 0)]))


def below(path: object, grade: Grade) -> Floats:
    return np.array(stretches_below(path, grade)).reshape(-1, 2)  # type: ignore[arg-type]


def test_a_level_path_under_a_ridge_by_hand() -> None:
    """At z = 0.5 the ridge stands over y = -7.5 to 7.5; the surface begins at y = -10."""
    path = fillet([(20, -15, 0.5), (20, 15, 0.5)], [0, 0])
    np.testing.assert_allclose(below(path, tent()), [(7.5, 22.5)], atol=1e-9)
    outside = np.array(stretches_outside(path, tent()))
    np.testing.assert_allclose(outside, [(0, 5), (25, 30)], atol=1e-9)
    # both rims, the diagonal of each side, the ridge, and both ends
    np.testing.assert_allclose(ground_stations(path, tent()), [0, 5, 10, 15, 20, 25, 30])


def test_a_bend_below_a_slope_against_sampling() -> None:
    path = fillet([(5, -9, 0.3), (35, -2, 0.3), (12, 9, 1.4)], [0, 6, 0])
    stations = np.linspace(0, path.length, 40_001)
    points = path.point(stations)
    inside = np.zeros(len(stations), dtype=bool)
    for start, end in below(path, tent()):
        inside |= (stations >= start) & (stations <= end)
    depth = tent().at(points) - points[:, 2]
    clear = np.abs(depth) > 2e-4  # bends are cut between steps of 2.5 degrees
    np.testing.assert_array_equal(inside[clear], (depth > 0)[clear])
