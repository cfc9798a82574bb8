"""Building meshes: four formats say the same building, and what is wrong with a file is told."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import trimesh

from route3d.errors import InputError
from route3d.formats.building_meshes import read_mesh
from route3d.model.site import Frame, Placing

FOOT = 0.3048  # exact by definition
EAST, NORTH = 512_345.0, 4_567_890.0  # survey coordinates, m


def house() -> trimesh.Trimesh:
    """A box 10 x 6 x 4, its foot at z = 2, so that no axis can be taken for another."""
    box = trimesh.creation.box((10.0, 6.0, 4.0))
    box.apply_translation((5.0, 3.0, 4.0))
    return box


@pytest.mark.parametrize("kind", ["stl", "obj", "ply"])
@pytest.mark.parametrize(
    ("units", "size"), [("m", 1.0), ("ft", FOOT), ("us-ft", 1200 / 3937), ("mm", 0.001)]
)
def test_a_format_without_units_takes_those_given(
    kind: str, units: str, size: float, tmp_path: Path
) -> None:
    path = tmp_path / f"house.{kind}"
    house().export(path)
    with pytest.raises(InputError, match="has no unit of length"):
        read_mesh(path)
    mesh = read_mesh(path, Placing(units))
    assert len(mesh.faces) == 12
    # float32 in STL and text in OBJ keep seven digits
    np.testing.assert_allclose(mesh.vertices.min(axis=0), np.array([0, 0, 2]) * size, atol=1e-6)
    np.testing.assert_allclose(mesh.vertices.max(axis=0), np.array([10, 6, 6]) * size, atol=1e-6)


def test_gltf_is_meters_and_y_up(tmp_path: Path) -> None:
    """Of glTF 2.0 (ISO/IEC 12113:2022) section 3.4: meters, +Y up, right-handed."""
    standing = house()
    # x east, y up, z south: what a writer that follows the standard makes of z up
    standing.vertices = standing.vertices[:, [0, 2, 1]] * [1, 1, -1]
    path = tmp_path / "house.glb"
    standing.export(path)
    mesh = read_mesh(path)
    np.testing.assert_allclose(mesh.vertices.min(axis=0), [0, 0, 2], atol=1e-6)
    np.testing.assert_allclose(mesh.vertices.max(axis=0), [10, 6, 6], atol=1e-6)
    solid = trimesh.Trimesh(mesh.vertices, mesh.faces, process=False)
    assert solid.volume == pytest.approx(240.0, rel=1e-6)  # turned, not mirrored


def test_a_mesh_is_scaled_turned_moved_and_brought_from_its_grid(tmp_path: Path) -> None:
    """By hand: (1, 2, 3) mm with y up is (1, -3, 2) mm; then the offset, then the origin."""
    path = tmp_path / "one.obj"
    path.write_text("v 1000 2000 3000\nv 2000 2000 3000\nv 1000 2000 4000\nf 1 2 3\n")
    placing = Placing("mm", (EAST, NORTH, 5.0), "y", on_grid=True)
    frame = Frame((EAST - 10, NORTH - 20, 1.0))
    (corner, *_) = read_mesh(path, placing, frame).vertices
    np.testing.assert_allclose(corner, (11, 17, 6), atol=1e-8)
    (corner, *_) = read_mesh(path, replace(placing, on_grid=False), frame).vertices
    np.testing.assert_allclose(corner, (EAST + 1, NORTH - 3, 7), atol=1e-8)


def test_parts_stand_where_the_file_puts_them(tmp_path: Path) -> None:
    scene = trimesh.Scene()
    scene.add_geometry(trimesh.creation.box((1, 1, 1)))
    scene.add_geometry(
        trimesh.creation.box((1, 1, 1)),
        transform=trimesh.transformations.translation_matrix([9, 0, 0]),
    )
    path = tmp_path / "two.glb"
    scene.export(path)
    mesh = read_mesh(path, Placing("m"))
    assert len(mesh.faces) == 24
    assert float(np.ptp(mesh.vertices[:, 0])) == pytest.approx(10.0)


def test_survey_coordinates_stay_in_float64(tmp_path: Path) -> None:
    far = house()
    far.apply_translation((EAST, NORTH, 0.0))
    path = tmp_path / "far.obj"  # text, so that the file itself loses nothing
    far.export(path, digits=9)
    mesh = read_mesh(path, Placing("m"))
    # in float32 the northing would be rounded to 0.5 m
    np.testing.assert_allclose(mesh.vertices.min(axis=0), [EAST, NORTH, 2], atol=1e-6)


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("missing.stl", None, "not found"),
        ("house.dwg", b"x", "not a readable mesh file (.dwg)"),
        ("broken.glb", b"glTF but not really", "cannot be read"),
        ("empty.obj", b"# nothing\n", "triangles"),
        (
            "points.ply",
            b"ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\n"
            b"property float y\nproperty float z\nend_header\n0 0 0\n",
            "triangles",
        ),
    ],
)
def test_a_bad_file_is_the_users_to_mend(
    name: str, content: bytes | None, said: str, tmp_path: Path
) -> None:
    path = tmp_path / name
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(InputError) as error:
        read_mesh(path, Placing("m"))
    (problem,) = error.value.problems
    assert said in problem.message or said in str(problem)
    assert problem.file == str(path) and problem.fix and problem.where == "site.context"


def test_a_mesh_with_a_hole_in_its_numbers_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "nan.obj"
    path.write_text("v 0 0 0\nv 1 0 0\nv nan 1 0\nf 1 2 3\n")
    with pytest.raises(InputError, match="invalid points"):
        read_mesh(path, Placing("m"))


@pytest.mark.parametrize("kind", ["glb", "stl", "ply", "obj"])
def test_an_empty_file_says_that_it_is(tmp_path: Path, kind: str) -> None:
    file = tmp_path / f"site.{kind}"
    file.write_bytes(b"")
    with pytest.raises(InputError, match="the mesh is an empty file"):
        read_mesh(file, Placing("m"))


def test_many_parts_are_read_as_they_were_one_by_one(tmp_path: Path) -> None:
    """Trimesh's own copies of the parts, placed and merged one by one, are the judge."""
    scene, ball = trimesh.Scene(), trimesh.creation.icosphere(1)
    for i in range(300):
        place = trimesh.transformations.rotation_matrix(0.1 * i, (1, 2, 3), (4, 5, 6))
        place[:3, :3] *= -1.0 if i % 3 == 0 else 1.0 + i / 100  # each third is mirrored
        scene.add_geometry(ball, transform=place)
    path = tmp_path / "many.glb"
    scene.export(path)
    parts = trimesh.load_scene(path, process=False).dump()
    for part in parts:
        part.merge_vertices(merge_tex=True, merge_norm=True)
    mesh = read_mesh(path, Placing("m"))
    wanted = np.vstack([np.asarray(p.vertices)[p.faces] for p in parts])
    wanted = np.stack((wanted[..., 0], -wanted[..., 2], wanted[..., 1]), axis=-1)
    np.testing.assert_allclose(mesh.vertices[mesh.faces], wanted, atol=1e-12)
    assert len(mesh.vertices) == sum(len(p.vertices) for p in parts)
