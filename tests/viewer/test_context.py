"""Buildings about a route: shifted before they lose digits, thinned, never hiding the route."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh

from route3d.errors import InputError
from route3d.model import Job, Site
from route3d.model.site import Placing
from route3d.planning.result import RunResult
from viewer.meshes import context_parts, scene_parts, through_walls
from viewer.scene.build import build_scene
from viewer.scene.context import thinned
from viewer.theme import LIGHT

Answered = tuple[RunResult, Job]


def with_building(job: Job, mesh: trimesh.Trimesh, path: Path) -> Job:
    mesh.export(path)
    return replace(job, site=Site((path,), placings=(Placing("ft"),)))


def test_a_building_stands_beside_the_route(riser: Answered, tmp_path: Path) -> None:
    result, job = riser
    box = trimesh.creation.box((30.0, 20.0, 40.0))
    box.apply_translation((200.0, 100.0, 20.0))  # ft, as the job's other lengths
    scene = build_scene(result, with_building(job, box, tmp_path / "hall.stl"))
    (hall,) = scene.context
    low = hall.vertices.min(axis=0) + scene.origin
    np.testing.assert_allclose(low, np.array([185.0, 90.0, 0.0]) * 0.3048, atol=1e-5)
    assert any("hall.stl" in note and "simplified" not in note for note in scene.notes)
    assert [p.name for p in context_parts(scene, LIGHT)] == ["context", "context edges"]
    assert all(p.opacity < 1 for p in context_parts(scene, LIGHT))


def test_a_run_is_drawn_once_more_over_the_walls_before_it(riser: Answered, tmp_path: Path) -> None:
    result, job = riser
    box = trimesh.creation.box((30.0, 20.0, 40.0)).apply_translation((200.0, 100.0, 20.0))
    scene = build_scene(result, with_building(job, box, tmp_path / "hall.stl"))
    parts = scene_parts(scene, LIGHT)
    over = through_walls(parts)[len(parts) :]
    assert {p.name for p in over} == {"tube", "arrow"} and all(p.over for p in over)
    bare = scene_parts(build_scene(*riser), LIGHT)
    assert through_walls(bare) == bare


def test_a_building_nowhere_near_moves_nothing(riser: Answered, tmp_path: Path) -> None:
    result, job = riser
    far = trimesh.creation.box((10.0, 10.0, 10.0))
    far.apply_translation((1e5, 1e5, 0.0))
    scene = build_scene(result, with_building(job, far, tmp_path / "far.stl"))
    np.testing.assert_array_equal(scene.origin, build_scene(result, job).origin)


def test_a_huge_mesh_is_thinned_and_said_to_be(riser: Answered, tmp_path: Path) -> None:
    result, job = riser
    ball = trimesh.creation.icosphere(subdivisions=7, radius=20.0)  # 327 680 triangles
    scene = build_scene(result, with_building(job, ball, tmp_path / "ball.stl"))
    (shown,) = scene.context
    assert 1000 < len(shown.faces) <= 120_000 and shown.given == 327_680
    away = np.linalg.norm(shown.vertices + scene.origin, axis=1)
    # no point moves farther than a cell, here 40 ft / 1024 times two or four
    assert np.abs(away / 0.3048 - 20.0).max() < 40.0 / 1024 * 4 * np.sqrt(3)
    assert any("(simplified)" in note for note in scene.notes)


def test_thinning_keeps_what_is_small_enough() -> None:
    box = trimesh.creation.box((1.0, 2.0, 3.0))
    vertices, faces = np.asarray(box.vertices), np.asarray(box.faces)
    same, kept = thinned(vertices, faces, 12)
    assert same is vertices and kept is faces


def test_all_missing_buildings_are_told_at_once(riser: Answered, tmp_path: Path) -> None:
    result, job = riser
    gone = (tmp_path / "gone.stl", tmp_path / "lost.glb")
    with pytest.raises(InputError) as error:
        build_scene(result, replace(job, site=Site(gone)))
    assert [p.file for p in error.value.problems] == [str(path) for path in gone]
