"""Bends found again in faceted polylines, against the arcs they were made from."""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from route3d.geometry import fillet
from route3d.geometry.clearance import tubes_of
from route3d.geometry.recognize import Recognized, recognize
from route3d.geometry.vectors import Floats, norm

Made = tuple[Floats, Floats]


def route(seed: int, bends: int, radii: tuple[float, float] = (0.6, 3.0)) -> Made:
    """Points and radii of a route with so many bends of 35 to 90 degrees in random planes."""
    rng = np.random.default_rng(seed)
    points, direction, bend = [np.zeros(3)], np.array([1.0, 0, 0]), [0.0]
    for _ in range(bends):
        points.append(points[-1] + direction * rng.uniform(8, 20))
        bend.append(rng.uniform(*radii))
        while True:
            other = rng.normal(size=3)
            other /= norm(other)
            if 0.0 < other @ direction < 0.8:
                break
        direction = other
    points.append(points[-1] + direction * 7)
    turned, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    return np.array(points) @ turned.T, np.array([*bend, 0.0])


def by_chords(made: Made, tolerance: float) -> Floats:
    path = fillet(*made)
    return path.point(path.sample(tolerance))


def by_steps(made: Made, step: float) -> Floats:
    path = fillet(*made)
    stations = np.append(np.arange(0.0, path.length - step / 2, step), path.length)
    return path.point(stations)


def off(found: Recognized, made: Made) -> tuple[float, float]:
    """How far points and radii are from those they were made from, m."""
    assert found.points.shape == made[0].shape
    return float(norm(found.points - made[0]).max()), float(np.abs(found.radii - made[1]).max())


@given(st.integers(0, 10_000), st.integers(1, 6))
@settings(max_examples=60, deadline=None)
def test_exact_chords_give_the_bends_they_are_of(seed: int, bends: int) -> None:
    made = route(seed, bends)
    found = recognize(by_chords(made, 1e-3))
    assert found.arcs == bends
    place, radius = off(found, made)
    # Rounding of a few hundred operations on lengths of 100 m, magnified by chords of 0.1 m.
    assert place < 1e-9
    assert radius < 1e-8
    assert found.residual < 1e-9


@pytest.mark.parametrize("seed", range(5))
def test_points_at_even_steps_miss_the_tangent_points_and_still_give_the_bends(seed: int) -> None:
    made = route(seed, 8)
    found = recognize(by_steps(made, 0.1))
    place, radius = off(found, made)
    assert place < 1e-6  # the least squares end where a sweep gains less than a hundredth
    assert radius < 1e-5


@pytest.mark.parametrize("seed", range(5))
def test_millimeters_of_noise_are_averaged_out(seed: int) -> None:
    made = route(seed, 6, (1.5, 3.0))
    points = by_steps(made, 0.05)
    noise = np.random.default_rng(seed).normal(scale=5e-4, size=points.shape)
    found = recognize(points + noise, 5e-3)
    place, radius = off(found, made)
    # 0.5 mm on each of 30 to 90 points of a bend: set-backs and radii come out within millimeters
    # (of the radius, R(1/cos(φ/2) - 1) is what the points feel, a fifth of it or less).
    assert place < 5e-3
    assert radius < 1e-2
    assert found.residual < np.abs(norm(noise)).max() * 1.5


def test_coordinates_printed_to_a_millimeter_are_found_within_their_rounding() -> None:
    made = route(3, 6)
    found = recognize(by_chords(made, 1e-3).round(3))
    place, _ = off(found, made)
    assert place < 3e-3
    assert found.residual < 1.5e-3  # half a millimeter in each axis is 0.87 mm


def test_the_residual_is_what_the_farthest_point_is_off() -> None:
    made = route(11, 4)
    points = by_steps(made, 0.05)
    points = points + np.random.default_rng(1).normal(scale=5e-4, size=points.shape)
    found = recognize(points)
    path = fillet(found.points, found.radii)
    fine = path.point(np.linspace(0, path.length, 400_000))
    measured = max(
        float(norm(fine[i : i + 20_000, None] - q).min()) for q, i in _near(fine, points)
    )
    assert found.residual == pytest.approx(measured, rel=0.02)


def _near(fine: Floats, points: Floats) -> list[tuple[Floats, int]]:
    """Each point with where to look for it, in a fine sampling of the same length."""
    along = np.linspace(0, len(fine) - 1, len(points)).astype(int)
    return [(q, max(0, i - 10_000)) for q, i in zip(points, along, strict=True)]


def test_an_s_of_two_arcs_that_touch() -> None:
    setback = 2 * np.tan(np.radians(45) / 2)
    c = np.cos(np.pi / 4)
    points = np.array([[0, 0, 0], [5, 0, 0], [5 + 2 * setback * c, 2 * setback * c, 0]])
    points = np.vstack((points, points[2] + [5, 0, 0]))
    made = (points, np.array([0.0, 2, 2, 0]))
    found = recognize(by_chords(made, 1e-4))
    place, radius = off(found, made)
    assert place < 1e-9
    assert radius < 1e-8


def test_a_half_turn_is_two_bends() -> None:
    t = np.linspace(0, np.pi, 33)
    bow = np.column_stack((2 * np.sin(t), 2 - 2 * np.cos(t), np.zeros_like(t)))
    points = np.vstack(([[-5, 0, 0]], bow, [[-5, 4, 0]]))
    found = recognize(points)
    path = fillet(found.points, found.radii)
    assert found.arcs == 1
    assert path.length == pytest.approx(10 + 2 * np.pi, abs=1e-8)
    assert path.turn == pytest.approx(np.pi, abs=1e-9)


def test_a_spiral_is_a_few_arcs_and_not_many() -> None:
    s = np.linspace(0, 10, 201)
    heading = s**2 / 40
    steps = np.column_stack((np.cos(heading), np.sin(heading), 0 * s)) * 0.05
    points = np.vstack(([-8.0, 0, 0], np.cumsum(steps, axis=0)))
    found = recognize(points, 5e-3)
    assert 2 <= found.arcs <= 12
    assert found.residual <= 5e-3


# --- what has no arcs --------------------------------------------------------------------------


def _zigzag(n: int) -> Floats:
    k = np.arange(n)
    return np.column_stack((k * 2.0, (k % 2) * 1.5, k * 0.1))


def _walk(n: int) -> Floats:
    return np.random.default_rng(5).normal(size=(n, 3)).cumsum(axis=0)


@pytest.mark.parametrize(
    "points",
    [
        np.array([[0.0, 0, 0], [1, 0, 0]]),
        np.array([[0.0, 0, 0], [4, 0, 0], [4, 3, 0], [0, 3, 0], [0, 0, 1e-3]]),  # on one circle
        np.column_stack((np.arange(50.0), np.zeros(50), np.zeros(50))),
        _zigzag(60),
        _walk(300),
    ],
    ids=["two points", "rectangle", "straight", "zigzag", "random"],
)
def test_a_polyline_without_arcs_stays_as_it_is(points: Floats) -> None:
    found = recognize(points)
    assert found.arcs == 0
    assert np.array_equal(found.points, points)
    assert not found.radii.any()
    assert np.array_equal(found.source, np.arange(len(points)))


def test_corners_beside_a_bend_stay() -> None:
    made = route(2, 1)
    bend = by_chords(made, 1e-3)
    rng = np.random.default_rng(8)
    corner = bend[-1] + [3.0, 1, 0]
    points = np.vstack(
        (bend, corner, corner + [0.0, 0, 2], corner + rng.normal(size=3) + [5, 0, 0])
    )
    found = recognize(points)
    assert found.arcs == 1
    assert found.source.tolist()[-4:] == [len(bend) - 1 + k for k in range(4)]
    assert np.array_equal(found.points[-4:], points[-4:])


def test_marked_points_on_a_straight_stay_points() -> None:
    made = route(4, 2)
    points = by_steps(made, 0.1)
    keep = np.zeros(len(points), dtype=bool)
    keep[[20, len(points) - 15]] = True
    found = recognize(points, keep=keep)
    assert set(np.flatnonzero(keep)) <= set(found.source.tolist())
    for index in np.flatnonzero(keep):
        where = found.source.tolist().index(index)
        assert norm(found.points[where] - points[index]) < 1e-5
    fillet(found.points, found.radii)


def test_a_marked_point_within_a_bend_is_not_kept() -> None:
    made = route(4, 1)
    path = fillet(*made)
    points = by_chords(made, 1e-3)
    middle = path.point(path.stations[1] + path.lengths[1] / 2)
    keep = norm(points - middle) == norm(points - middle).min()
    assert int(np.flatnonzero(keep)[0]) not in recognize(points, keep=keep).source


@pytest.mark.parametrize(("turn", "arcs"), [(20, 1), (40, 0)])
def test_chords_that_turn_far_are_corners(turn: float, arcs: int) -> None:
    """Five points on one circle: chords of 20 degrees are a bend, of 40 degrees a polygon."""
    t = np.radians(turn) * np.arange(6)
    found = recognize(np.column_stack((3 * np.sin(t), 3 - 3 * np.cos(t), 0 * t)))
    assert found.arcs == arcs


@pytest.mark.scale
@pytest.mark.parametrize("cut", [lambda m: by_chords(m, 1e-3), lambda m: by_steps(m, 0.09)])
def test_a_hundred_thousand_points_take_seconds(cut: Callable[[Made], Floats]) -> None:
    made = route(1, 6000 if cut(route(1, 10)).shape[0] < 300 else 700)
    points = cut(made)
    assert len(points) > 80_000
    began = time.perf_counter()
    found = recognize(points)
    assert time.perf_counter() - began < 60  # 5 to 12 s on a quiet core
    assert found.arcs == len(made[0]) - 2


@pytest.mark.parametrize(
    ("radius", "grade", "length"), [(5.0, 0.005, 4.0), (1.0, 0.02, 1.0), (20.0, 0.02, 1.0)]
)
def test_the_residual_is_that_of_the_bends_as_they_come_out(
    radius: float, grade: float, length: float
) -> None:
    """A level bend that runs into a flat vertical one: their tangents have no room as two bends."""
    end = 30 + radius * np.pi / 2
    s = np.concatenate(([0.0], np.linspace(30, end, 24), np.linspace(-0.5, 0.5, 25) * length + end))
    s = np.unique(np.append(s, end + 35))
    turn, rise = np.clip((s - 30) / radius, 0, np.pi / 2), np.clip(s - end + length / 2, 0, length)
    points = np.column_stack(
        (
            np.minimum(s, 30) + radius * np.sin(turn),
            radius * (1 - np.cos(turn)) + np.maximum(s - end, 0),
            grade * (rise**2 / (2 * length) + np.maximum(s - end - length / 2, 0)),
        )
    )
    found = recognize(points, 5e-3)
    corners = set(np.flatnonzero(found.radii == 0).tolist())
    line = fillet(found.points, found.radii, corners=corners)
    away, _ = tubes_of(line, np.zeros(len(found.points))).nearest(points)
    assert found.arcs and away.max() <= found.residual + 1e-6 <= 5e-3


# --- smooth curves that are no circles -----------------------------------------------------------


def wave(x: Floats) -> Floats:
    return np.column_stack((x, 2 * np.sin(x * np.pi / 10), 0 * x))


def ellipse(t: Floats) -> Floats:
    return np.column_stack((5 * np.cos(t), 2 * np.sin(t), 0 * t))


def helix(t: Floats) -> Floats:
    return np.column_stack((3 * np.cos(t), 3 * np.sin(t), 0.4 * t))


CURVES: dict[str, tuple[Callable[[Floats], Floats], float]] = {
    "sine": (wave, 60.0),
    "ellipse": (ellipse, 6.0),
    "helix": (helix, 15.0),
}


@pytest.mark.parametrize("name", CURVES)
@pytest.mark.parametrize(("count", "rounded"), [(200, 9), (1500, 9), (4000, 3)])
def test_a_smooth_curve_has_no_corner_and_its_length(name: str, count: int, rounded: int) -> None:
    """Its length by the chords of a million points; points rounded to a millimeter too."""
    curve, last = CURVES[name]
    points = curve(np.linspace(0, last, count)).round(rounded)
    found = recognize(points)
    turns = np.diff(found.points, axis=0)
    turns = turns / norm(turns)[:, None]
    turning = np.einsum("ij,ij->i", turns[:-1], turns[1:]) < np.cos(2e-4)
    assert not (turning & (found.radii[1:-1] == 0)).any()
    assert found.arcs < 130
    path = fillet(found.points, found.radii)
    assert tubes_of(path, np.zeros(len(found.points))).nearest(points)[0].max() <= 5e-3 + 1e-9
    assert found.residual <= 5e-3
    fine = curve(np.linspace(0, last, 1_000_001))
    assert path.length == pytest.approx(float(norm(np.diff(fine, axis=0)).sum()), abs=0.02)


def test_bends_beside_a_smooth_curve_stay_exact_and_corners_stay_corners() -> None:
    t = np.linspace(-np.pi / 2, 0, 25)
    bow = np.column_stack((10 + 2 * np.cos(t), 2 + 2 * np.sin(t), 0 * t))
    s = np.linspace(0, 40, 400)
    swing = np.column_stack((12 + np.sin(s / 6) ** 2, 10 + s, 0 * s))
    corner = np.array([[30.0, 52, 0], [30.0, 70, 0]])
    found = recognize(np.vstack(([[0.0, 0, 0]], bow, swing, corner)))
    assert found.smooth
    assert found.points[1] == pytest.approx([12, 0, 0], abs=1e-6)
    assert found.radii[1] == pytest.approx(2, abs=1e-6)
    sharp = [i for i in range(1, len(found.points) - 1) if found.radii[i] == 0]
    assert [found.points[i].tolist() for i in sharp[-1:]] == [[30.0, 52.0, 0.0]]
    fillet(found.points, found.radii, corners=set(np.flatnonzero(found.radii == 0).tolist()))


def test_bends_of_a_route_of_straights_are_no_smooth_curve() -> None:
    """Turns of one size the same way, but between legs of lengths of their own."""
    legs = np.array([9.0, 16, 7, 25, 11, 30, 8])
    heading = np.cumsum([0, *[np.radians(22.5)] * 6])
    steps = np.column_stack((legs * np.cos(heading), legs * np.sin(heading), 0 * legs))
    points = np.vstack((np.zeros(3), np.cumsum(steps, axis=0)))
    assert recognize(points).arcs == 0


@pytest.mark.scale
def test_twenty_thousand_points_of_a_sine_take_seconds() -> None:
    start = time.process_time()
    found = recognize(wave(np.linspace(0, 100, 20_000)))
    assert time.process_time() - start < 8
    assert found.smooth and found.arcs < 100
