"""The concrete: its section against shapely, its volume against trimesh and by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest

from route3d.errors import GeometryError
from route3d.geometry import Path, fillet
from route3d.geometry.bank import bank_paths
from route3d.geometry.bank_slices import stretches_below
from route3d.geometry.encasement import (
    STEP,
    ConcreteSection,
    mesh_volume,
    part_of,
    section,
    solid,
)
from route3d.geometry.grade import Grade
from route3d.geometry.path import ARC
from route3d.geometry.rmf_frames import frames, frames_at
from route3d.model import Bank
from tests.support.routes import Go, Turn, route

BANK = Bank("F1", 2, 3, (0.2, 0.25), 0.08)
SHAPE = section(BANK, 0.14)
OBLIQUE = [
    *(Go(4), Turn(70, 2.0, (0.3, 1.0, 0.8)), Go(2), Turn(110, 1.6, (1.0, -0.4, 0.5))),
    *(Turn(35, 3.0, (0.0, 0.2, 1.0)), Go(3)),
]


def cornered() -> Path:
    return fillet([(0, 0, 0), (5, 0, 0), (5, 5, 1)], [0, 0, 0], corners=(1,))


# --- section -------------------------------------------------------------------------------------


def test_the_section_by_hand() -> None:
    # Two spacings of 200, a duct of 140 and twice 80 across; one of 250 up.
    assert (SHAPE.width, SHAPE.height) == pytest.approx((0.70, 0.55))
    assert SHAPE.area == pytest.approx(0.70 * 0.55 - 6 * math.pi * 0.07**2, rel=1e-14)


@pytest.mark.parametrize("sides", [8, 32, 64])
def test_the_polygon_of_shapely_has_the_area_of_the_section(sides: int) -> None:
    polygon = SHAPE.polygon(sides=sides)
    assert polygon.is_valid
    assert polygon.area == pytest.approx(SHAPE.area, rel=1e-12)
    assert SHAPE.polygon(ducts=False).area == pytest.approx(SHAPE.whole, rel=1e-12)
    np.testing.assert_allclose(polygon.centroid.coords[0], 0, atol=1e-12)


def test_shapely_buffers_come_to_the_same_area() -> None:
    import shapely

    ducts = shapely.union_all(shapely.points(SHAPE.ducts).tolist()).buffer(0.07, quad_segs=512)
    box = shapely.box(-0.35, -0.275, 0.35, 0.275)
    # Inscribed polygons of 2048 sides lack 1.6e-6 of a circle.
    assert box.difference(ducts).area == pytest.approx(SHAPE.area, rel=1e-5)


# --- volume --------------------------------------------------------------------------------------


@pytest.mark.parametrize("ducts", [True, False])
@pytest.mark.parametrize(
    "path",
    [
        route(Go(7)),
        route(Go(2), Turn(90, 1.5), Go(2)),
        route(Go(2), Turn(90, 1.5, "up"), Go(2)),
        route(Go(2), Turn(170, 1.5, (0, 1, 1)), Go(2)),
        route(Turn(90, 1.5, "left"), Turn(90, 1.5, "right")),
        route(*OBLIQUE),
        cornered(),
    ],
    ids=["straight", "level", "upright", "u-turn", "s", "oblique", "corner"],
)
def test_the_solid_is_watertight_and_of_the_analytic_volume(path: Path, ducts: bool) -> None:
    mesh = solid(path, SHAPE, ducts=ducts)
    area = SHAPE.area if ducts else SHAPE.whole
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.is_volume
    assert mesh.body_count == 1
    assert mesh.volume == pytest.approx(mesh_volume(path, area), rel=1e-10)
    # Pappus: A L, of which flat faces leave out at most θ²/6 in bends.
    lacking = 1 - mesh.volume / (area * path.length)
    assert -1e-10 <= lacking <= STEP**2 / 6
    assert mesh.euler_number == (2 - 2 * len(SHAPE.ducts) if ducts else 2)


@pytest.mark.parametrize("degrees", [10.0, 5.0, 2.5, 1.0])
def test_what_flat_faces_leave_out_goes_with_the_square_of_the_step(degrees: float) -> None:
    path, step = route(Turn(90, 1.5, (0, 1, 1))), math.radians(degrees)
    lacking = 1 - solid(path, SHAPE, step=step).volume / (SHAPE.area * path.length)
    assert lacking == pytest.approx(1 - math.sin(step) / step, rel=1e-6)


def test_faces_look_outward() -> None:
    mesh = solid(route(*OBLIQUE), SHAPE)
    assert mesh.volume > 0
    first = mesh.triangles_center[:, 0].argmin()  # the cap at the start of a route along +x
    np.testing.assert_allclose(mesh.face_normals[first], (-1, 0, 0), atol=1e-9)


def test_the_ducts_of_the_solid_lie_where_the_ducts_are() -> None:
    path = route(*OBLIQUE)
    mesh = solid(path, SHAPE, step=math.radians(1))
    for duct in bank_paths(path, BANK)[::5]:
        points = duct.point(np.linspace(0, duct.length, 60))
        away = np.linalg.norm(points[:, None] - mesh.vertices, axis=2).min(axis=1)
        wall = 0.07 * math.sqrt(2 * math.pi / 32 / math.sin(2 * math.pi / 32))
        assert away.min() == pytest.approx(wall, abs=1e-9)


def test_the_frame_given_is_the_frame_taken() -> None:
    path = route(Go(3))
    mesh = solid(path, SHAPE, start=np.array([(0.0, 0, 1), (0, 1, 0)]))
    np.testing.assert_allclose(mesh.extents, (3, 0.55, 0.70), atol=1e-12)
    assert mesh.volume == pytest.approx(SHAPE.area * 3)


def test_concrete_that_reaches_over_the_center_of_a_bend_is_refused() -> None:
    solid(route(Go(2), Turn(90, 0.351), Go(2)), SHAPE)
    with pytest.raises(GeometryError, match="extends past the center of bend 1"):
        solid(route(Go(2), Turn(90, 0.35), Go(2)), SHAPE)
    with pytest.raises(GeometryError, match="the turn at a pull point"):
        short = fillet([(0, 0, 0), (0.3, 0, 0), (0.3, 5, 0)], [0, 0, 0], corners=(1,))
        solid(short, SHAPE)


# --- where it lies -------------------------------------------------------------------------------


@pytest.mark.parametrize("level", [-0.5, 0.0, 0.3, 1.0, 2.2, 4.0])
def test_stretches_below_against_sampling(level: float) -> None:
    hills = [Turn(60, 2, "up"), Go(1), Turn(120, 1.5, "down"), Go(2), Turn(90, 1, "up"), Go(3)]
    path = route(Go(2), *hills, Turn(80, 1.2, (1, 1, 1)), Go(1))
    found = stretches_below(path, Grade(level))
    stations = np.linspace(0, path.length, 20001)
    inside = np.zeros(len(stations), dtype=bool)
    for start, end in found:
        inside |= (stations >= start) & (stations <= end)
    z = path.point(stations)[:, 2]
    clear = np.abs(z - level) > 1e-6  # on the level itself either answer will do
    np.testing.assert_array_equal(inside[clear], (z < level)[clear])
    for station in (s for pair in found for s in pair if 0 < s < path.length):
        assert path.point(station)[2] == pytest.approx(level, abs=1e-9)


def test_a_corner_below_does_not_part_a_stretch() -> None:
    path = cornered()
    assert stretches_below(path, Grade(2.0)) == ((0.0, path.length),)


def test_part_of_a_path_is_that_stretch_of_it() -> None:
    path = route(*OBLIQUE)
    start, end = 3.1, path.length - 2.2
    part = part_of(path, start, end)
    assert part.length == pytest.approx(end - start, abs=1e-12)
    along = np.linspace(0, part.length, 50)
    np.testing.assert_allclose(part.point(along), path.point(start + along), atol=1e-12)
    assert (part.kind == ARC).sum() == 3


def test_parts_laid_end_to_end_make_the_whole() -> None:
    path, cut = route(*OBLIQUE), 5.0
    starts = frames(path)
    pieces = [
        solid(part_of(path, a, b), SHAPE, start=frames_at(path, np.array([a]), starts)[0])
        for a, b in ((0.0, cut), (cut, path.length))
    ]
    whole = SHAPE.area * path.length
    assert sum(p.volume for p in pieces) == pytest.approx(whole, rel=STEP**2 / 6)
    # The end of the one is the start of the other, point by point.
    points = 4 + 6 * 32
    np.testing.assert_allclose(pieces[0].vertices[-points:], pieces[1].vertices[:points], atol=1e-9)


def test_a_section_with_thinner_ducts_keeps_the_box() -> None:
    thin = section(BANK, 0.14, 0.1)
    assert (thin.width, thin.height) == (SHAPE.width, SHAPE.height)
    assert isinstance(thin, ConcreteSection)
    assert thin.area - SHAPE.area == pytest.approx(6 * math.pi / 4 * (0.14**2 - 0.1**2))
