"""Offsets of ducts: against shapely in the plane, against sampling and another frame elsewhere."""

from __future__ import annotations

import re

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.spatial.transform import Rotation

from route3d.errors import GeometryError
from route3d.geometry import Path, fillet
from route3d.geometry.bank import bank_paths, duct_offsets, duct_places
from route3d.geometry.path import ARC, CORNER, STRAIGHT
from route3d.geometry.rmf_frames import frames, frames_at, level_frame
from route3d.mechanics.pull import solve_pull
from route3d.model import Bank, Practice
from tests.support import jobs
from tests.support.routes import Go, Turn, route, vertices

Array = NDArray[np.float64]

PLANE = [Go(6), Turn(90, 2.0, "left"), Go(3), Turn(50, 1.5, "right"), Turn(30, 2.5, "left"), Go(5)]
OBLIQUE = [
    *(Go(4), Turn(70, 2.0, (0.3, 1.0, 0.8)), Go(2), Turn(110, 1.6, (1.0, -0.4, 0.5))),
    *(Turn(35, 3.0, (0.0, 0.2, 1.0)), Go(3), Turn(90, 1.5, (-1.0, 0.3, 0.1)), Go(2)),
]


def bank(rows: int = 2, columns: int = 3, across: float = 0.2, between: float = 0.25) -> Bank:
    return Bank("F1", rows, columns, (across, between), 0.08)


def on_ducts(path: Path, duct: Path, each: int = 40) -> tuple[Array, Array]:
    """Stations of the centerline and of a duct at the same places, where both have all segments."""
    assert list(path.kind) == list(duct.kind)
    share = np.linspace(0, 1, each)
    pairs = [(p.stations[:-1, None] + share * p.lengths[:, None]).ravel() for p in (path, duct)]
    return pairs[0], pairs[1]


def closed(path: Path) -> float:
    return float(np.abs(path.ends[:-1] - path.starts[1:]).max())


def same(one: Path, two: Path) -> None:
    assert list(one.kind) == list(two.kind)
    np.testing.assert_allclose(one.lengths, two.lengths, rtol=0, atol=1e-9)
    np.testing.assert_allclose(one.starts, two.starts, rtol=0, atol=1e-9)
    np.testing.assert_allclose(one.angles, two.angles, rtol=0, atol=1e-12)


# --- where the ducts are --------------------------------------------------------------------------


def test_rows_count_from_the_top_and_columns_from_the_left() -> None:
    assert duct_places(bank()) == ((1, 1), (1, 2), (1, 3), (2, 1), (2, 2), (2, 3))
    offsets = duct_offsets(bank())
    np.testing.assert_allclose(offsets[0], (-0.2, 0.125))
    np.testing.assert_allclose(offsets[-1], (0.2, -0.125))
    np.testing.assert_allclose(offsets.mean(axis=0), 0, atol=1e-15)  # the run is the middle
    straight = bank_paths(route(Go(10)), bank())
    np.testing.assert_allclose(straight[0].starts[0], (0, 0.2, 0.125))  # heading +x, left is +y


def test_the_middle_of_an_odd_bank_is_the_run_itself() -> None:
    path = route(*OBLIQUE)
    same(bank_paths(path, bank(3, 3))[4], path)


# --- against other geometry -----------------------------------------------------------------------


@pytest.mark.parametrize("column", [0, 1, 2, 3])
def test_in_the_plane_a_duct_is_the_offset_curve_of_shapely(column: int) -> None:
    path = route(*PLANE)
    duct = bank_paths(path, bank(1, 4, 0.3))[column]
    fine = path.point(path.sample(1e-7))
    left = -float(duct_offsets(bank(1, 4, 0.3))[column][0])
    curve = shapely.LineString(fine[:, :2]).offset_curve(left, join_style="mitre")
    points = duct.point(np.linspace(0, duct.length, 500))
    away = [curve.distance(shapely.Point(p)) for p in points]
    # GEOS is given chords (within 2e-7 m) and thins them out again; up to 3e-6 m seen.
    assert max(away) < 1e-5
    assert duct.length == pytest.approx(curve.length, abs=1e-5)
    np.testing.assert_allclose(points[:, 2], 0, atol=1e-12)


@pytest.mark.parametrize("number", range(6))
def test_everywhere_the_duct_keeps_its_distance_and_runs_parallel(number: int) -> None:
    path = route(*OBLIQUE)
    duct, offset = bank_paths(path, bank())[number], duct_offsets(bank())[number]
    mine, its = on_ducts(path, duct)
    gap = duct.point(its) - path.point(mine)
    np.testing.assert_allclose(np.linalg.norm(gap, axis=1), np.hypot(*offset), rtol=0, atol=1e-9)
    np.testing.assert_allclose(duct.tangent(its), path.tangent(mine), rtol=0, atol=1e-9)
    np.testing.assert_allclose(np.einsum("ij,ij->i", gap, path.tangent(mine)), 0, atol=1e-9)
    assert closed(duct) < 1e-12


@pytest.mark.parametrize("number", range(6))
def test_no_sample_of_the_centerline_comes_nearer(number: int) -> None:
    path = route(*OBLIQUE)
    duct, offset = bank_paths(path, bank())[number], duct_offsets(bank())[number]
    line = path.point(np.linspace(0, path.length, 4000))
    points = duct.point(np.linspace(0, duct.length, 300))
    nearest = np.linalg.norm(points[:, None] - line, axis=2).min(axis=1)
    # A sample lies within 3 mm of the nearest place, which adds (3 mm)²/(2 x 0.1 m) at the most.
    np.testing.assert_allclose(nearest, np.hypot(*offset), rtol=0, atol=5e-5)


def double_reflection(points: Array, tangents: Array, first: Array) -> Array:
    """The rotation-minimizing frame by double reflection.

    Wang, Jüttler, Zheng and Liu, "Computation of rotation minimizing frames",
    ACM TOG 27, 2008; from memory.
    """
    frame = [first]
    for i in range(len(points) - 1):
        v = points[i + 1] - points[i]
        c = v @ v
        r = frame[-1] - 2 / c * (v @ frame[-1]) * v
        t = tangents[i] - 2 / c * (v @ tangents[i]) * v
        w = tangents[i + 1] - t
        frame.append(r - 2 / max(w @ w, 1e-300) * (w @ r) * w)
    return np.array(frame)


def test_the_frame_is_the_one_that_turns_least() -> None:
    path = route(*OBLIQUE)
    stations = np.linspace(0, path.length, 8000)
    starts = frames(path)
    ours = frames_at(path, stations, starts)
    other = double_reflection(path.point(stations), path.tangent(stations), starts[0, 0])
    # Double reflection errs by the fourth power of the step in each of its steps.
    np.testing.assert_allclose(ours[:, 0], other, rtol=0, atol=1e-6)
    squares = np.einsum("kai,kbi->kab", ours, ours)
    np.testing.assert_allclose(squares, np.broadcast_to(np.eye(2), squares.shape), atol=1e-12)


def test_an_arc_stays_an_arc_about_the_same_axis() -> None:
    path = route(*OBLIQUE)
    for duct in bank_paths(path, bank()):
        for i in np.flatnonzero(path.kind == ARC):
            axes = [np.cross(p.tangents[i], p.normals[i]) for p in (path, duct)]
            centers = [p.starts[i] + p.radii[i] * p.normals[i] for p in (path, duct)]
            np.testing.assert_allclose(axes[0], axes[1], atol=1e-12)
            np.testing.assert_allclose(np.cross(centers[1] - centers[0], axes[0]), 0, atol=1e-12)


# --- properties -----------------------------------------------------------------------------------


@st.composite
def routes(draw: st.DrawFn) -> Path:
    """Routes of one to four bends in any plane, wide enough for the bank of these tests."""
    pieces: list[Go | Turn] = [Go(draw(st.floats(0.5, 8)))]
    side = st.floats(-1, 1)
    for _ in range(draw(st.integers(1, 4))):
        way = np.array([draw(side), draw(side), draw(side)])
        way = way + np.array([0.0, 0.0, 2.0]) * (np.linalg.norm(way) < 0.3)
        if np.linalg.norm(np.cross(way, _heading(pieces))) < 0.1:
            way = np.roll(way, 1) + np.array([0.0, 1.3, 0.0])
        if np.linalg.norm(np.cross(way, _heading(pieces))) < 0.1:
            continue
        turn = Turn(draw(st.floats(5, 120)), draw(st.floats(0.8, 4)), way)
        pieces += [turn, Go(draw(st.floats(0.5, 8)))]
    return route(*pieces)


def _heading(pieces: list[Go | Turn]) -> Array:
    points, _ = vertices(pieces)
    last = points[-1] - points[-2]
    return np.asarray(last / np.linalg.norm(last))


def moved(path: Path, turn: Array, by: Array) -> Path:
    return Path(
        kind=path.kind,
        lengths=path.lengths,
        angles=path.angles,
        starts=path.starts @ turn.T + by,
        tangents=path.tangents @ turn.T,
        normals=path.normals @ turn.T,
        vertex=path.vertex,
        leg=path.leg,
    )


@settings(max_examples=60, deadline=None)
@given(routes(), st.tuples(*[st.floats(-3, 3)] * 3), st.tuples(*[st.floats(-50, 50)] * 3))
def test_turning_the_whole_bank_changes_nothing(
    path: Path, angles: tuple[float, ...], by: tuple[float, ...]
) -> None:
    turn, shift = Rotation.from_euler("xyz", angles).as_matrix(), np.array(by)
    start = level_frame(path)
    there = bank_paths(moved(path, turn, shift), bank(), start=start @ turn.T)
    for one, two in zip(bank_paths(path, bank(), start=start), there, strict=True):
        same(moved(one, turn, shift), two)


@settings(max_examples=60, deadline=None)
@given(routes())
def test_the_reversed_route_has_the_reversed_ducts(path: Path) -> None:
    starts = frames(path)
    end = frames_at(path, np.array([path.length]), starts)[0]
    # Looking back right is left; up is up.
    back = bank_paths(path.reversed(), bank(), start=end * np.array([[-1.0], [1.0]]))
    places = duct_places(bank())
    for (row, column), duct in zip(places, bank_paths(path, bank()), strict=True):
        same(duct.reversed(), back[places.index((row, 4 - column))])


def test_the_level_frame_looks_the_same_from_both_ends() -> None:
    path = route(*OBLIQUE)
    start = level_frame(path.reversed())
    end = frames_at(path, np.array([path.length]), frames(path))[0]
    np.testing.assert_allclose(start, end * np.array([[-1.0], [1.0]]), atol=1e-12)


@pytest.mark.parametrize("heading", [(0, 0, 1), (0, 0, -1), (0.6, 0.0, 0.8), (1, 2, 0)])
def test_the_level_frame_is_square_to_the_route(heading: tuple[float, ...]) -> None:
    path = route(Go(3), heading=heading)
    right, up = level_frame(path)
    np.testing.assert_allclose([right @ up, right @ path.tangents[0]], 0, atol=1e-12)
    np.testing.assert_allclose(np.cross(right, path.tangents[0]), up, atol=1e-12)
    assert right[2] == pytest.approx(0, abs=1e-12)


# --- pull points that turn ------------------------------------------------------------------------


def cornered(turn: float = 90.0) -> Path:
    a = np.radians(turn)
    points = [(0, 0, 0), (5, 0, 0), (5 + 5 * np.cos(a), 5 * np.sin(a), 0)]
    return fillet(points, [0, 0, 0], corners=(1,))


@pytest.mark.parametrize("turn", [20.0, 90.0, 120.0])
def test_at_a_pull_point_that_turns_the_ducts_meet_in_a_mitre(turn: float) -> None:
    path = cornered(turn)
    for duct, (right, up) in zip(bank_paths(path, bank()), duct_offsets(bank()), strict=True):
        assert list(duct.kind) == [STRAIGHT, CORNER, STRAIGHT]
        assert list(duct.vertex) == [-1, 1, -1]
        assert list(duct.leg) == list(path.leg)
        assert closed(duct) < 1e-12
        line = shapely.LineString(path.point(path.stations)[[0, 1, -1], :2])
        curve = line.offset_curve(-right, join_style="mitre", mitre_limit=50)
        assert duct.length == pytest.approx(curve.length, abs=1e-9)
        np.testing.assert_allclose(duct.starts[:, 2], up)


def test_a_corner_against_a_bend_gets_a_straight_outside_and_no_room_inside() -> None:
    # The bend ends at x = 5, where the route turns without a bend: no straight between.
    points, radii = [(0, 0, 0), (4, 0, 0), (5, 1, 0), (5, 6, 0)], [0, 0, 0, 0]
    bend = np.tan(np.radians(22.5))
    radii[1] = np.sqrt(2) / bend
    path = fillet(points, radii, corners=(2,))
    assert list(path.kind) == [STRAIGHT, ARC, CORNER, STRAIGHT]
    single = Bank("F1", 1, 1, (0.2, 0.2), 0.1)
    same(bank_paths(path, single)[0], path)
    with pytest.raises(GeometryError, match=r"of straight at the turn"):
        bank_paths(path, bank())


def test_a_vertex_taken_for_straight_leaves_no_gap() -> None:
    # 0.005 degrees: below what is a bend, and not nothing.
    path = fillet([(0, 0, 0), (50, 0, 0), (100, 50 * np.radians(0.005), 0)], [0, 0, 0])
    for duct in bank_paths(path, bank()):
        assert closed(duct) < 1e-9


# --- what does not fit ----------------------------------------------------------------------------


def test_too_tight_a_bend_is_named_with_the_spacing_that_fits() -> None:
    path = route(Go(4), Turn(90, 2.0), Go(3), Turn(90, 0.5, "right"), Go(4))
    with pytest.raises(GeometryError) as caught:
        bank_paths(path, bank(1, 3, 0.6))
    said = str(caught.value)
    assert "row 1, column 3" in said  # the second bend turns right
    assert "bend 2" in said
    assert "-0.1 m" in said
    assert "maximum column spacing that fits is 0.499 m" in said
    assert "a bend radius of at least 0.601 m is required" in said  # 0.6 m and a hair, rounded up
    assert caught.value.vertices == (2,)


def test_the_largest_spacing_fits_and_more_does_not() -> None:
    path = route(*OBLIQUE)
    with pytest.raises(GeometryError, match="column spacing") as caught:
        bank_paths(path, bank(across=1e3))
    found = re.search(r"maximum column spacing that fits is ([\d.]+) m", str(caught.value))
    assert found is not None
    most = float(found[1])  # rounded down to 1 mm
    bank_paths(path, bank(across=most))
    with pytest.raises(GeometryError, match="column spacing"):
        bank_paths(path, bank(across=(most + 0.001) * 1.001))


def test_rows_are_blamed_where_columns_are_not() -> None:
    path = route(Go(4), Turn(90, 0.5, "up"), Go(4))
    with pytest.raises(GeometryError, match=r"maximum row spacing that fits is 0\.999 m"):
        bank_paths(path, bank(between=1.2))
    bank_paths(path, bank())


def test_a_duct_needs_half_its_own_width() -> None:
    path = route(Go(4), Turn(90, 0.5), Go(4))
    bank_paths(path, bank(1, 3, 0.45))
    with pytest.raises(GeometryError, match=r"its own width requires 0\.07 m"):
        bank_paths(path, bank(1, 3, 0.45), outer_diameter=0.14)


# --- solved like any run --------------------------------------------------------------------------


def test_a_pull_runs_along_every_duct() -> None:
    # Without weight tension is that of the reel times e^(mu phi) wherever the duct lies (capstan),
    # and sidewall pressure goes with 1/R of the inner wall.
    shape = vertices([Go(10), Turn(90, 1.0), Go(10)])
    run = jobs.run(jobs.along(shape, jobs.conduit()), jobs.cable(weight=1e-9), reel_tension=1000.0)
    path = fillet(*shape)
    for duct, (right, _) in zip(bank_paths(path, bank()), duct_offsets(bank()), strict=True):
        pull = solve_pull(run, Practice(), path=duct)
        leaving = 1000 * np.exp(0.3 * np.pi / 2)
        assert pull.end_tension == pytest.approx(leaving, rel=1e-6)
        inner = 1.0 + right - run.route.conduits[0].inner_diameter / 2
        assert pull.peak_sidewall == pytest.approx(leaving / inner, rel=1e-6)
