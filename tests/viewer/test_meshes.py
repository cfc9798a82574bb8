"""Meshes against closed forms: no renderer is needed to make them."""

from __future__ import annotations

import numpy as np
import pytest

from route3d.model import Job
from route3d.planning.result import RunResult
from viewer.meshes import bank_mesh, frames, grade_meshes, scene_parts, tube_mesh
from viewer.scene.build import build_scene
from viewer.scene.records import Encasement
from viewer.theme import LIGHT, colors

Answered = tuple[RunResult, Job]


def test_frames_stay_square_and_do_not_twist() -> None:
    angle = np.linspace(0, np.pi / 2, 40)
    tangents = np.column_stack((np.cos(angle), np.sin(angle), np.zeros(40)))
    first, second = frames(tangents)
    for a, b in ((first, tangents), (second, tangents), (first, second)):
        np.testing.assert_allclose(np.einsum("ij,ij->i", a, b), 0.0, atol=1e-12)
    # in a plane bend the part of the frame across the plane must not turn at all
    np.testing.assert_allclose(first[:, 2], first[0, 2], atol=1e-12)


def test_tube_points_are_one_radius_off_the_centerline(demo: Answered) -> None:
    scene = build_scene(*demo)
    for tube in scene.tubes:
        mesh = tube_mesh(tube, scene, LIGHT)
        rings = np.asarray(mesh.points)[: 24 * len(tube.points)].reshape(-1, 24, 3)
        away = np.linalg.norm(rings - tube.points[:, None], axis=2)
        np.testing.assert_allclose(away, tube.radius, rtol=1e-6)  # VTK keeps float32 or float64
        values = np.asarray(mesh.point_data["values"])[: 24 * len(tube.points)].reshape(-1, 24)
        np.testing.assert_array_equal(values[:, 0], tube.tension)
        shades = np.asarray(mesh.point_data["rgb"])[: 24 * len(tube.points) : 24]
        scale = scene.scale
        np.testing.assert_array_equal(shades, colors(tube.tension, scale.full, scale.limit, LIGHT))


def test_straight_bank_has_the_volume_of_a_box_and_faces_outward() -> None:
    points = np.array([[0.0, 0, 0], [5, 0, 0], [10, 0, 0]])
    mesh = bank_mesh(Encasement(points, 2.0, 3.0))
    # by the divergence theorem: positive only where all faces look outward
    assert mesh.triangulate().volume == pytest.approx(60.0, rel=1e-6)
    normals = mesh.compute_normals(cell_normals=True, point_normals=False, consistent_normals=False)
    outward = np.asarray(normals.cell_centers().points) - [5.0, 0, 0]
    assert (np.einsum("ij,ij->i", outward, np.asarray(normals["Normals"])) > 0).all()


def test_mitred_bank_keeps_its_width() -> None:
    """Two legs of 10 m about a square corner: the mitre neither gains nor loses concrete."""
    points = np.array([[0.0, 0, 0], [10, 0, 0], [10, 10, 0]])
    mesh = bank_mesh(Encasement(points, 2.0, 3.0))
    assert mesh.triangulate().volume == pytest.approx(2 * 3 * 20, rel=1e-6)


def test_grade_is_drawn_where_the_grid_is(riser: Answered) -> None:
    scene = build_scene(*riser)
    lines, plane = grade_meshes(scene.grade)
    for mesh in (lines, plane):
        found = (np.asarray(mesh.points)[:, :2] + scene.origin[:2]) / scene.grade.spacing
        np.testing.assert_allclose(found, np.rint(found), atol=1e-4)  # float32
    cells = len(scene.grade.cells)
    assert plane.area == pytest.approx(cells * scene.grade.spacing**2, rel=1e-5)


def test_every_kind_of_part_is_there(riser: Answered, yard: Answered) -> None:
    names = {p.name for p in scene_parts(build_scene(*riser), LIGHT)}
    assert {"tube", "reel", "reel coil", "machine", "capstan", "arrow", "grade", "bank"} <= names
    assert "box" in {p.name for p in scene_parts(build_scene(*yard), LIGHT)}
