"""Tubes are closed, of true diameter, and hold what a tube of polygons must."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from route3d.geometry.fillet import fillet
from route3d.geometry.tubes import tubes
from tests.support.wild_routes import wild_route

SIDES = 32
# A regular 32-gon in the circle it is drawn in: its share of the area (elementary geometry).
POLYGON = SIDES / (2 * np.pi) * np.sin(2 * np.pi / SIDES)


@pytest.mark.parametrize("seed", range(8))
def test_a_tube_is_closed_and_as_wide_as_said(seed: int) -> None:
    path = wild_route(seed).path()
    ((vertices, faces),) = tubes(path, 0.07, chord_tolerance=1e-4)
    mesh = trimesh.Trimesh(vertices, faces, process=False)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    rings = vertices[:-2].reshape(-1, SIDES, 3)
    assert np.linalg.norm(rings - rings.mean(axis=1, keepdims=True), axis=2) == pytest.approx(0.07)
    # Pappus: area times length of the center line; chords of 0.1 mm sagitta are that much short
    assert mesh.volume == pytest.approx(POLYGON * np.pi * 0.07**2 * path.length, rel=2e-3)


def test_rings_do_not_twist_along_a_bend_out_of_plane() -> None:
    path = wild_route(3).path()
    ((vertices, _),) = tubes(path, 0.07, chord_tolerance=1e-5)
    rings = vertices[:-2].reshape(-1, SIDES, 3)
    centers = rings.mean(axis=1)
    spokes = (rings - centers[:, None])[:, 0] / 0.07
    along = np.diff(centers, axis=0)
    along /= np.linalg.norm(along, axis=1)[:, None]
    # what a spoke changes by lies along the tube: across it there is no rotation
    change = np.diff(spokes, axis=0)
    twist = np.einsum("ij,ij->i", change, np.cross(along, spokes[:-1]))
    assert np.abs(twist).max() < 1e-3  # the mean of two tangents stands for the turning one


def test_a_corner_parts_the_tube() -> None:
    points = [(0, 0, 0), (10, 0, 0), (10, 10, 0)]
    path = fillet(points, [0, 0, 0], corners={1})
    parts = tubes(path, 0.05, chord_tolerance=1e-3)
    assert len(parts) == 2
    for vertices, faces in parts:
        volume = trimesh.Trimesh(vertices, faces, process=False).volume
        assert volume == pytest.approx(POLYGON * np.pi * 0.05**2 * 10)  # straight: exact


def test_another_radius_parts_the_tube_where_it_begins() -> None:
    points = [(0, 0, 0), (10, 0, 0), (10, 10, 0)]
    path = fillet(points, [0, 2, 0])
    parts = tubes(path, np.array([0.05, 0.05, 0.1]), chord_tolerance=1e-5)
    volumes = [trimesh.Trimesh(v, f, process=False).volume for v, f in parts]
    exact = np.pi * 0.05**2 * (8 + np.pi), np.pi * 0.1**2 * 8  # Pappus, for the bend
    assert volumes == pytest.approx([POLYGON * v for v in exact], rel=1e-4)
    assert len(tubes(path, np.full(3, 0.05), chord_tolerance=1e-3)) == 1
