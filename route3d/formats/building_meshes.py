"""Reads building meshes (GLB, glTF, STL, OBJ, PLY) as points in the plan grid of a job."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from route3d.errors import InputError, Problem
from route3d.geometry.vectors import Floats, frozen
from route3d.model.job import Job
from route3d.planning.placement.site import SiteMesh
from route3d.units import parse

if TYPE_CHECKING:
    import trimesh

FORMATS = (".glb", ".gltf", ".stl", ".obj", ".ply")
# glTF 2.0 (ISO/IEC 12113:2022) section 3.4: +Y is up and the unit is the meter. Turns such points
# (as columns) to z up.
Y_UP = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])


@dataclass(frozen=True, slots=True, eq=False)
class Mesh:
    """Triangles ``faces`` (m, 3) over ``vertices`` (n, 3) in m, z up."""

    vertices: Floats
    faces: NDArray[np.int64]


Buildings = tuple[tuple[Path, Mesh], ...]


def read_mesh(path: Path, units: str, *, where: str = "site.context") -> Mesh:
    """Read one mesh file, all its parts placed, in float64.

    glTF is in meters with y up, by its standard. STL, OBJ and PLY name no unit: like any bare
    number of the job they are read in the lengths of its ``units``, feet or meters, z up. Raises
    InputError for a file that is missing, broken or without triangles.
    """
    kind = path.suffix.lower()
    if kind not in FORMATS:
        raise _bad(path, where, f"is not a readable mesh file ({kind or 'no extension'})")
    if not path.is_file():
        raise _bad(path, where, "not found", "enter the path relative to the model file")
    vertices, faces = _loaded(path, where)
    if not len(faces):
        raise _bad(path, where, "has no triangles", "export the building as a surface mesh")
    if not np.isfinite(vertices).all() or faces.min() < 0 or faces.max() >= len(vertices):
        raise _bad(path, where, "has invalid points or triangles")
    if kind in (".glb", ".gltf"):
        return Mesh(frozen(vertices @ Y_UP.T), faces)
    return Mesh(frozen(vertices * parse(1.0, "length", units)), faces)


def read_buildings(job: Job) -> Buildings:
    """The job's building meshes by their files, every unreadable file in one InputError."""
    found: list[tuple[Path, Mesh]] = []
    problems: list[Problem] = []
    for path in job.site.context:
        try:
            found.append((path, read_mesh(path, job.units)))
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
    return tuple(found)


def site_meshes(given: Buildings) -> tuple[SiteMesh, ...]:
    """The same buildings as the plan looks at them for a place of the machine."""
    return tuple(SiteMesh(path.stem, mesh.vertices, mesh.faces) for path, mesh in given)


def _loaded(path: Path, where: str) -> tuple[Floats, NDArray[np.int64]]:
    """Points and triangles of all parts in their places."""
    import trimesh

    if not path.stat().st_size:
        raise _bad(path, where, "is an empty file", "export it again")
    try:
        # unprocessed: a reader that tidies up drops what is wrong without a word
        scene = trimesh.load_scene(path, process=False)
        parts = list(_placed(scene))
    except Exception as error:  # each reader raises errors of its own kind
        reason = str(error).strip().splitlines()
        said = f"cannot be read: {reason[0][:120]}" if reason else "cannot be read"
        raise _bad(path, where, said, "export it again") from None
    if not parts:
        return np.empty((0, 3)), np.empty((0, 3), dtype=np.int64)
    counts = [len(vertices) for vertices, _ in parts]
    before = np.cumsum([0, *counts[:-1]])
    vertices = np.vstack([vertices for vertices, _ in parts])
    faces = np.vstack([faces + n for (_, faces), n in zip(parts, before, strict=True)])
    broken = any(f.min() < 0 or f.max() >= n for (_, f), n in zip(parts, counts, strict=True))
    if broken or not np.isfinite(vertices).all():
        return vertices, np.full_like(faces, -1) if broken else faces  # refused by the caller
    return _merged(vertices, faces, np.repeat(np.arange(len(parts)), counts))


_Part = tuple[Floats, NDArray[np.int64]]


def _placed(scene: trimesh.Scene) -> Iterator[_Part]:
    """Points and triangles of each part in its place; copying whole parts takes ten times as long.

    A part that a transform mirrors has its triangles turned, so that they keep facing outwards.
    """
    import trimesh

    for node in scene.graph.nodes_geometry:
        place, name = scene.graph[node]
        part = scene.geometry[name]
        if not isinstance(part, trimesh.Trimesh) or not len(part.faces):
            continue
        faces = np.asarray(part.faces, dtype=np.int64)
        turn = np.asarray(place[:3, :3], dtype=np.float64)
        points = np.asarray(part.vertices, dtype=np.float64) @ turn.T + place[:3, 3]
        yield points, faces[:, ::-1] if np.linalg.det(turn) < 0 else faces


_SAME = 1e-8
"""Points of one part that agree to this, in the unit of the file, are one (trimesh's default)."""


def _merged(points: Floats, faces: NDArray[np.int64], part: NDArray[np.int64]) -> _Part:
    """Points that coincide within their part made one, points without triangles omitted."""
    used = np.unique(faces)
    keys = (*np.round(points[used] / _SAME).T, part[used])
    order = np.lexsort(keys)
    other = np.any([np.diff(key[order]) != 0 for key in keys], axis=0)
    new = np.empty(len(points), dtype=np.int64)
    new[used[order]] = np.concatenate(([0], np.cumsum(other)))
    return points[used[order[np.concatenate(([True], other))]]], new[faces]


def _bad(path: Path, where: str, message: str, fix: str = "") -> InputError:
    formats = "use a GLB, glTF, STL, OBJ or PLY file"
    return InputError(Problem(f"the mesh {message}", where, fix or formats, str(path)))
