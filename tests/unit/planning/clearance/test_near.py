"""Meshes in other units or frames are not judged; what would bring them to the routes is said."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from route3d.model.job import Job
from route3d.model.site import Frame, Site
from route3d.planning.clearance.near import mesh_extents
from route3d.planning.placement.site import Placed, SiteMesh
from route3d.units import METERS, render
from tests.support import jobs
from tests.support.jobs import at, lay
from tests.support.places import block

Point = tuple[float, float, float]
GRID = (512_345.0, 6_110_000.0, 3.0)
HALL: tuple[Point, Point] = ((0, 0, 0), (30, 20, 6))


def job(origin: Point | None = None) -> Job:
    """A run of 40 m in a hall of 30 m."""
    run = jobs.run(lay(at((0, 5, 1)), at((40, 5, 1)), conduits=jobs.conduit()))
    return Job("job", runs=(run,), site=Site(frame=Frame(origin)))


def read_as(meant: str, units: str, corners: tuple[Point, Point], placed: Placed) -> SiteMesh:
    """A block whose coordinates are in one unit, read in another, then moved."""
    mesh = block("hall.stl", *corners)
    shift = np.array(placed.shift)
    vertices = mesh.vertices * METERS[units] / METERS[meant] + shift
    return replace(
        mesh, vertices=vertices, placed=replace(placed, units=units, meters=METERS[units])
    )


@pytest.mark.parametrize(
    ("meant", "units", "corners"),
    [
        ("mm", "m", HALL),
        ("m", "mm", HALL),
        ("in", "m", HALL),
        ("cm", "m", HALL),
        ("mm", "ft", HALL),
        ("mm", "m", ((20, 4, 0), (20.3, 4.3, 3))),  # one column
        ("mm", "m", ((0, 4, 2), (12, 4.2, 2.2))),  # one pipe
        ("ft", "m", ((110, 4, 0), (115, 9, 3))),  # where 3.28 times the distance is far enough
    ],
)
def test_other_units_are_named(meant: str, units: str, corners: tuple[Point, Point]) -> None:
    (found,) = mesh_extents(job(), [read_as(meant, units, corners, Placed())])
    assert found.finding is not None and found.finding.severity == "stop"
    said = render(found.finding.fix, "SI")
    assert (f'units = "{meant}" would bring it' in said) == (meant != "ft")
    assert ("it would be" in said) == (meant == "ft")


def test_no_unit_is_advised_that_makes_a_likely_mesh_a_small_one() -> None:
    """A hall of 10 m, 5 km off: in cm it would be a box of 100 mm beside the routes."""
    far = read_as("m", "m", ((5010, 1, -3), (5020, 4, 0)), Placed())
    (found,) = mesh_extents(job(), [far])
    assert found.finding is not None
    said = render(found.finding.fix, "SI")
    assert "would bring it" not in said
    assert "10.00 m in m as read" in said and "3.05 m in ft" in said
    (read_so,) = mesh_extents(job(), [read_as("m", "cm", ((5010, 1, -3), (5020, 4, 0)), Placed())])
    assert not read_so.judged
    (small,) = mesh_extents(job(), [read_as("m", "m", ((9, 4, 0), (9.3, 4.3, 0.3)), Placed())])
    assert small.judged and small.small


@pytest.mark.parametrize(
    ("origin", "at_place", "on_grid", "said"),
    [
        (GRID, GRID, False, "on_grid = true would bring it"),
        (GRID, tuple(-np.array(GRID)), True, "on_grid = false would bring it"),
        (None, GRID, False, "give site.origin and set on_grid = true"),
    ],
)
def test_another_frame_is_named(
    origin: Point | None, at_place: Point, on_grid: bool, said: str
) -> None:
    mesh = read_as("m", "m", HALL, Placed(shift=(0, 0, 0), on_grid=on_grid))
    mesh = replace(mesh, vertices=mesh.vertices + np.array(at_place))
    if on_grid:
        mesh = replace(mesh, placed=replace(mesh.placed, shift=at_place))
    (found,) = mesh_extents(job(origin), [mesh])
    assert found.finding is not None and said in render(found.finding.fix, "SI")


@pytest.mark.parametrize(
    "corners",
    [
        HALL,
        ((10, 4.8, 0.9), (10.15, 4.95, 1.05)),  # a valve
        ((90, 0, 0), (140, 40, 12)),  # the hall next door
        ((-1500, -1500, -20), (1500, 1500, 60)),  # the ground of a whole site
        ((0, 0, 0), (40, 40, 180)),  # a tower
    ],
)
def test_what_can_stand_there_is_judged(corners: tuple[Point, Point]) -> None:
    (found,) = mesh_extents(job(), [read_as("m", "m", corners, Placed())])
    assert found.judged
    np.testing.assert_allclose((found.low, found.high), corners)
