"""Reads what stands around a job (GLB, glTF, STL, OBJ, PLY, IFC) as points of its model."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from route3d.errors import InputError, Problem
from route3d.formats.exchange import unit_name
from route3d.geometry.fillet import route_path
from route3d.geometry.vectors import Floats, frozen
from route3d.model.job import Job
from route3d.model.site import GRID, Frame, Placing
from route3d.planning.placement.site import MeshPart, Placed, SiteMesh
from route3d.units import METERS

if TYPE_CHECKING:
    import trimesh

FORMATS = (".glb", ".gltf", ".stl", ".obj", ".ply", ".ifc")
# glTF 2.0 (ISO/IEC 12113:2022) section 3.4: +Y is up and the unit is the meter. Turns such points
# (as columns) to z up.
Y_UP = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])
_GLTF = (".glb", ".gltf")
# A pipe or duct segment of a model is the route itself where all its points lie within this share
# of the conduit's radius, and this many m, of the line of a run (own judgment: sockets).
_OWN = (1.25, 0.01)


@dataclass(frozen=True, slots=True, eq=False)
class Mesh:
    """Triangles ``faces`` (m, 3) over ``vertices`` (n, 3) in m, z up, and how they came there.

    Of a building by elements, ``owner`` (m,) is the number in ``parts`` of each triangle, ``flow``
    the numbers of its pipe and duct segments; ``left_out`` says what of the file is not here.
    """

    vertices: Floats
    faces: NDArray[np.int64]
    placed: Placed = field(default_factory=Placed)
    parts: tuple[MeshPart, ...] = ()
    owner: NDArray[np.int64] = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    flow: frozenset[int] = frozenset()
    left_out: tuple[str, ...] = ()


Buildings = tuple[tuple[Path, Mesh], ...]


def read_mesh(
    path: Path, placing: Placing | None = None, frame: Frame = GRID, *, where: str = "site.context"
) -> Mesh:
    """Read one mesh file, all its parts placed, in float64.

    glTF is in meters with y up, by its standard; an IFC model says its unit and its map. STL, OBJ
    and PLY name no unit: ``placing`` must. Coordinates on the grid, those of an IFC model with a
    map and of files said to be ``on_grid``, have the origin of the ``frame`` subtracted. Raises
    InputError for a file that is missing, broken or without triangles.
    """
    placing = placing or Placing()
    kind = path.suffix.lower()
    if kind not in FORMATS:
        raise _bad(path, where, f"is not a readable mesh file ({kind or 'no extension'})")
    if not path.is_file():
        raise _bad(path, where, "not found", "enter the path relative to the model file")
    if kind == ".ifc":
        return _building(path, placing, frame, where)
    if not placing.units and kind not in _GLTF:
        raise _bad(path, where, "has no unit of length", 'give its units, such as "mm"')
    vertices, faces = _loaded(path, where)
    if not len(faces):
        raise _bad(path, where, "has no triangles", "export the building as a surface mesh")
    if not np.isfinite(vertices).all() or faces.min() < 0 or faces.max() >= len(vertices):
        raise _bad(path, where, "has invalid points or triangles")
    units = placing.units or "m"
    up = placing.up or ("y" if kind in _GLTF else "z")
    turned = vertices @ Y_UP.T if up == "y" else vertices
    shift = _shift(placing, frame, on_grid=placing.on_grid)
    placed = Placed(units, METERS[units], _triple(shift), placing.on_grid)
    return Mesh(frozen(turned * METERS[units] + shift), faces, placed)


def _building(path: Path, placing: Placing, frame: Frame, where: str) -> Mesh:
    """An IFC model: on its map grid where it has one, else in its own coordinates."""
    from route3d.formats.ifc.building import read_building

    if placing.up == "y":
        raise _bad(path, where, "has z up by its standard", "remove its up")
    found = read_building(path, METERS[placing.units] if placing.units else None)
    on_grid = found.matrix is not None or placing.on_grid
    shift = _shift(placing, frame, on_grid=on_grid)
    moved = shift if found.matrix is None else shift + found.matrix[:3, 3]
    units = unit_name(found.meters) or f"{found.meters:g} m"
    placed = Placed(units, found.meters, _triple(moved), on_grid)
    return Mesh(
        frozen(found.vertices + shift),
        found.faces,
        placed,
        found.parts,
        found.owner,
        found.flow,
        found.left_out,
    )


def _shift(placing: Placing, frame: Frame, *, on_grid: bool) -> Floats:
    """What is added to coordinates in m, (3,)."""
    origin = np.array(frame.shift if on_grid else (0.0, 0.0, 0.0))
    moved: Floats = np.array(placing.offset) - origin
    return moved


def _triple(point: Floats) -> tuple[float, float, float]:
    x, y, z = point.tolist()
    return x, y, z


def read_buildings(job: Job) -> Buildings:
    """The job's building meshes by their files, every unreadable file in one InputError.

    Pipe and duct segments of an IFC model that are the job's own runs are left out.
    """
    found: list[tuple[Path, Mesh]] = []
    problems: list[Problem] = []
    site = job.site
    for i, path in enumerate(site.context):
        placing = site.placings[i] if i < len(site.placings) else Placing()
        try:
            mesh = read_mesh(path, placing, site.frame)
        except InputError as error:
            problems += error.problems
            continue
        found.append((path, _without_runs(mesh, job) if mesh.flow else mesh))
    if problems:
        raise InputError(problems)
    return tuple(found)


def _without_runs(mesh: Mesh, job: Job) -> Mesh:
    """A building without the segments that lie along the job's own runs."""
    from route3d.geometry.clearance import tubes_of

    share, more = _OWN
    runs = []
    for run in job.runs:
        radii = np.array([c.outer_diameter / 2 for c in run.route.conduits])
        if np.isfinite(radii).all():
            runs.append((tubes_of(route_path(run.route), radii), (share - 1) * radii.max() + more))
    order = np.argsort(mesh.owner, kind="stable")
    edges = np.searchsorted(mesh.owner[order], np.arange(len(mesh.parts) + 1))
    own = []
    for part in sorted(mesh.flow):
        points = mesh.vertices[np.unique(mesh.faces[order[edges[part] : edges[part + 1]]])]
        if any((tubes.nearest(points)[0] <= most).all() for tubes, most in runs):
            own.append(part)
    if not own:
        return mesh
    keep = ~np.isin(mesh.owner, own)
    return replace(
        mesh,
        faces=mesh.faces[keep],
        owner=mesh.owner[keep],
        left_out=(*mesh.left_out, f"segment or fitting of the job's own runs ({len(own):,})"),
    )


def site_meshes(given: Buildings) -> tuple[SiteMesh, ...]:
    """The same buildings as the plan looks at them for a place of the machine."""
    return tuple(
        SiteMesh(
            path.stem, mesh.vertices, mesh.faces, mesh.parts, mesh.owner, mesh.left_out, mesh.placed
        )
        for path, mesh in given
    )


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
    formats = "use a GLB, glTF, STL, OBJ, PLY or IFC file"
    return InputError(Problem(f"the mesh {message}", where, fix or formats, str(path)))
