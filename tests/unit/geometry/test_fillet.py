"""From points and radii to a path, against constructions that share nothing with it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from route3d.errors import GeometryError
from route3d.geometry import Path, fillet
from route3d.geometry.path import ARC, CORNER, STRAIGHT
from route3d.geometry.vectors import angle_between
from tests.support.routes import Go, Turn, centerward, vertices

Vector = NDArray[np.float64]
# Coordinates of some hundred meters carry 1e-13 m of rounding each.
ROUNDING = 1e-9


def drawn(seed: int) -> tuple[list[Go | Turn], Vector]:
    rng = np.random.default_rng([5, seed])
    pieces: list[Go | Turn] = []
    for _ in range(5):
        pieces += [
            Go(float(rng.uniform(0, 40))),
            Turn(float(rng.uniform(0.5, 175)), float(rng.uniform(0.1, 8)), rng.normal(size=3)),
        ]
    return [*pieces, Go(3.0)], rng.normal(size=3)


@pytest.mark.parametrize("seed", range(20))
def test_lengths_angles_and_radii_are_those_it_was_made_of(seed: int) -> None:
    pieces, heading = drawn(seed)
    path = fillet(*vertices(pieces, heading))
    for i, piece in enumerate(pieces):
        if isinstance(piece, Go):
            assert path.kind[i] == STRAIGHT
            assert path.lengths[i] == pytest.approx(piece.length, abs=ROUNDING)
        else:
            angle = math.radians(piece.degrees)
            assert path.kind[i] == ARC
            assert path.angles[i] == pytest.approx(angle, abs=1e-12)
            assert path.lengths[i] == pytest.approx(piece.radius * angle, rel=1e-11)
            assert path.radii[i] == pytest.approx(piece.radius, rel=1e-11)
    assert path.turn == pytest.approx(
        sum(math.radians(p.degrees) for p in pieces if isinstance(p, Turn)), rel=1e-12
    )


@pytest.mark.parametrize("seed", range(20))
def test_it_starts_and_ends_on_the_end_points_and_never_breaks(seed: int) -> None:
    points, radii = vertices(*drawn(seed))
    path = fillet(points, radii)
    assert path.starts[0] == pytest.approx(points[0], abs=ROUNDING)
    assert path.ends[-1] == pytest.approx(points[-1], abs=ROUNDING)
    assert path.ends[:-1] == pytest.approx(path.starts[1:], abs=ROUNDING)
    assert path.end_tangents[:-1] == pytest.approx(path.tangents[1:], abs=1e-11)


@pytest.mark.parametrize("seed", range(10))
def test_each_arc_touches_both_legs_and_keeps_its_radius_from_one_center(seed: int) -> None:
    points, radii = vertices(*drawn(seed))
    path = fillet(points, radii)
    for i in np.flatnonzero(path.kind == ARC):
        v = path.vertex[i]
        center = path.starts[i] + path.radii[i] * path.normals[i]
        inside = path.point(np.linspace(path.stations[i], path.stations[i + 1], 9))
        assert np.linalg.norm(inside - center, axis=1) == pytest.approx(radii[v], rel=1e-9)
        for end, other in ((path.starts[i], points[v - 1]), (path.ends[i], points[v + 1])):
            leg = (other - points[v]) / np.linalg.norm(other - points[v])
            assert np.linalg.norm(np.cross(end - points[v], leg)) < ROUNDING  # on the leg
            assert abs((end - center) @ leg) < ROUNDING  # and square to the radius


@pytest.mark.parametrize("seed", range(5))
def test_positions_are_the_integral_of_the_tangent(seed: int) -> None:
    path = fillet(*vertices(*drawn(seed)))
    # Gauss-Legendre with 24 points on every segment: exact to rounding for an arc below 180°.
    x, weight = np.polynomial.legendre.leggauss(24)
    here = path.starts[0]
    for a, b in zip(path.stations[:-1], path.stations[1:], strict=True):
        at = a + (b - a) * (x + 1) / 2
        here = here + (b - a) / 2 * weight @ path.tangent(at)
        assert path.point(b) == pytest.approx(here, abs=ROUNDING)


def test_a_flat_route_against_shapely() -> None:
    """Rounding a corner is growing inwards and back: a buffer of the area inside the corner.

    The mitred polygon offset by -R and then by +R (round joins) has the fillets as its outline.
    """
    import shapely

    square = np.array([[0.0, 0, 0], [30, 0, 0], [30, 20, 0], [0, 20, 0], [0, 5, 0]])
    path = fillet(square, [0, 4.0, 4.0, 4.0, 0])
    area = shapely.box(0, 0, 30, 20)
    outline = area.buffer(-4.0, join_style="mitre").buffer(4.0, quad_segs=2000).exterior
    shared = path.point(np.linspace(4.0, path.length, 400))  # from where the first corner is over
    off = [outline.distance(shapely.Point(*p[:2])) for p in shared]
    # A chord of a circle of 8000 pieces lies 3e-7 m inside.
    assert max(off) < 1e-6
    assert path.length == pytest.approx(26 + 12 + 22 + 11 + 3 * 2 * math.pi, abs=1e-9)


def test_trimesh_sees_the_same_length_through_fine_points() -> None:
    import trimesh

    path = fillet(*vertices(*drawn(3)))
    points = path.point(path.sample(1e-6))
    polyline = trimesh.path.entities.Line(np.arange(len(points)))
    # A chord with sagitta e on radius R is short by 8e²/3c: far below 1e-6 of the length.
    assert polyline.length(points) == pytest.approx(path.length, rel=1e-6)


@pytest.mark.parametrize("angle", [1e-3, 1e-2, 1.0, 3.0, math.radians(179.89)])
def test_angles_keep_their_digits_near_straight_and_near_a_fold(angle: float) -> None:
    points = np.array([[-1.0, 0, 0], [0, 0, 0], [math.cos(angle), math.sin(angle), 0]])
    setback = math.tan(angle / 2)
    path = fillet(points, [0, 0.5 / setback, 0])
    assert path.angles.max() == pytest.approx(angle, rel=1e-12)


@pytest.mark.parametrize("angle", [1e-9, 1e-12, math.pi - 1e-9, math.pi - 1e-12])
def test_the_half_angle_form_where_arccos_fails(angle: float) -> None:
    a = np.array([1.0, 0, 0])
    b = np.array([math.cos(angle), math.sin(angle), 0])
    # cos and sin of the angle are rounded: 1e-16 across a turn near π, the same share near 0.
    assert float(angle_between(a, b)) == pytest.approx(angle, rel=1e-15 if angle > 1 else 1e-12)
    if angle < 1:
        assert math.acos(min(1.0, float(a @ b))) == 0.0  # what the plain form would give


def test_turns_below_a_hundredth_of_a_degree_are_straight() -> None:
    tiny = math.radians(0.009)
    points = [[0, 0, 0], [10, 0, 0], [10 + 10 * math.cos(tiny), 10 * math.sin(tiny), 0]]
    path = fillet(points, [0, 0, 0])
    assert (path.kind == STRAIGHT).all()
    assert path.turn == 0


def test_a_straight_through_point_needs_no_radius_and_a_given_one_is_not_used() -> None:
    for radius in (0.0, 5.0):
        path = fillet([[0, 0, 0], [10, 0, 0], [25, 0, 0]], [0, radius, 0])
        assert path.lengths.tolist() == [10.0, 15.0]
        assert path.leg.tolist() == [0, 1]


def test_a_pull_point_turns_without_length() -> None:
    path = fillet([[0, 0, 0], [10, 0, 0], [10, 10, 0]], [0, 0, 0], corners=(1,))
    assert path.kind.tolist() == [STRAIGHT, CORNER, STRAIGHT]
    assert path.lengths.tolist() == [10, 0, 10]
    assert path.turn == pytest.approx(math.pi / 2, rel=1e-15)


def test_two_bends_may_touch() -> None:
    points, radii = vertices([Go(5), Turn(90, 2), Turn(90, 2, "right"), Go(5)])
    path = fillet(points, radii)
    assert path.kind.tolist() == [STRAIGHT, ARC, ARC, STRAIGHT]


# --- what is refused ----------------------------------------------------------------------------

L_SHAPE = [[0.0, 0, 0], [10, 0, 0], [10, 10, 0]]


def refused(points: object, radii: object, **more: object) -> GeometryError:
    with pytest.raises(GeometryError) as caught:
        fillet(points, radii, **more)  # type: ignore[arg-type]
    return caught.value


def test_coincident_points_are_named() -> None:
    error = refused([[0, 0, 0], [5, 5, 5], [5, 5, 5 + 1e-7]], [0, 1, 0], names=["V1", "K", ""])
    assert error.vertices == (1, 2)
    assert "K and point 3 are the same point" in str(error)


def test_a_turn_without_a_radius() -> None:
    error = refused(L_SHAPE, [0, 0, 0])
    assert error.vertices == (1,)
    assert "point 2 turns 90.0° without a bend radius" in str(error)


@pytest.mark.parametrize("degrees", [179.95, 180.0])
def test_a_fold(degrees: float) -> None:
    turned = math.radians(degrees)
    last = [10 + 8 * math.cos(turned), 8 * math.sin(turned), 0]
    error = refused([[0, 0, 0], [10, 0, 0], last], [0, 1, 0])
    assert error.vertices == (1,)
    assert "folds back" in str(error)


@pytest.mark.parametrize("bad", [math.nan, math.inf])
def test_numbers_that_are_none(bad: float) -> None:
    assert refused([[0, 0, 0], [bad, 0, 0], [10, 10, 0]], [0, 1, 0]).vertices == (1,)
    assert refused(L_SHAPE, [0, bad, 0]).vertices == (1,)
    assert refused(L_SHAPE, [0, -1, 0]).vertices == (1,)


@pytest.mark.parametrize(
    ("points", "radii"),
    [(L_SHAPE, [0, 1]), ([[0, 0, 0]], [0]), ([[0, 0], [1, 1]], [0, 0]), ([], [])],
)
def test_shapes_that_are_a_programmers_mistake(points: object, radii: object) -> None:
    with pytest.raises(ValueError, match="points must be"):
        fillet(points, radii)  # type: ignore[arg-type]


OVERLAPS = {
    "end of the route": (L_SHAPE, [0, 12.0, 0]),
    "between two bends": ([[0.0, 0, 0], [10, 0, 0], [10, 6, 0], [30, 6, 0]], [0, 4.0, 3.0, 0]),
    "the second is the larger": ([[0.0, 0, 0], [20, 0, 0], [20, 6, 5], [50, 9, 5]], [0, 2, 9.0, 0]),
    "both legs too short": ([[0.0, 0, 0], [3, 0, 0], [3, 4, 0], [9, 4, 0]], [0, 3.5, 0.2, 0]),
}


@pytest.mark.parametrize("name", OVERLAPS)
def test_the_largest_radius_named_fits_and_a_thousandth_more_does_not(name: str) -> None:
    points, radii = OVERLAPS[name]
    error = refused(points, radii)
    assert error.largest_radius is not None
    a, b = error.vertices
    ends = f"of straight to point {a + 1}", f"point {a + 1} and point {b + 1}"
    assert ends[radii[a] > 0] in str(error)
    changed = next(i for i in error.vertices if f"fits at point {i + 1} is" in str(error))
    fits, too_large = list(radii), list(radii)
    fits[changed] = error.largest_radius
    too_large[changed] = 1.001 * error.largest_radius
    path = fillet(points, fits)
    assert isinstance(path, Path)
    assert refused(points, too_large).vertices == (a, b)
    # The radius as printed fits too: it is never rounded up.
    fits[changed] = float(str(error).rsplit(" is ", 1)[1].split()[0])
    fillet(points, fits)


def test_where_neither_bend_fits_alone_both_are_given_a_radius_that_fits() -> None:
    points, radii = [[0.0, 0, 0], [20, 0, 0], [20, 3, 0], [40, 3, 0]], [0, 5.0, 4.0, 0]
    error = refused(points, radii)
    assert error.largest_radius is None  # no radius at one of them alone will do
    words = str(error).split("alone; ")[1].split()
    fillet(points, [0, float(words[0]), float(words[6]), 0])
    assert (words[3:5], words[9:11]) == (["point", "2"], ["point", "3"])
    refused(points, [0, float(words[0]) * 1.001, float(words[6]) * 1.001, 0])


def test_overlap_by_rounding_of_coordinates_is_forgiven() -> None:
    third = 10 / 3
    path = fillet([[0, 0, 0], [third, 0, 0], [third, third, 0]], [0, third, 0])
    assert path.kind.tolist() == [ARC]


def test_normals_point_to_the_center_even_for_a_very_small_turn() -> None:
    small = math.radians(0.011)
    points, radii = vertices([Go(100), Turn(math.degrees(small), 50, (0.2, 1, 3)), Go(100)])
    path = fillet(points, radii)
    expected = centerward(np.array([1.0, 0, 0]), (0.2, 1, 3))
    # The turn is 2e-4 rad between legs of 100 m: the plane is known to 1e-13/2e-4.
    assert path.normals[1] == pytest.approx(expected, abs=1e-8)
