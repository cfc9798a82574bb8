"""A solid as a mesh file, by the rules of ``mesh_routes``: GLB in metres, STL in feet or metres."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from route3d.errors import InputError, Problem
from route3d.files.exchange import METRES
from route3d.files.writing import write_bytes_atomic

if TYPE_CHECKING:
    import trimesh

# glTF 2.0 (ISO/IEC 12113:2022) section 3.4: +Y is up and the unit is the metre.
_TO_Y_UP = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]])
# Both formats hold single-precision numbers; rounding beyond this (m) would show.
_COARSEST = 1e-3


def write_solid(mesh: trimesh.Trimesh, path: Path, name: str, system: str) -> None:
    """Write a mesh (m, z up) as .glb, in metres with y up, or as .stl in the lengths of ``system``.

    GLB keeps its points from the middle of the solid and the place of that as a double. Raises
    InputError where the file cannot be written, or STL would round the coordinates by over 1 mm.
    """
    data = _glb(mesh, name) if path.suffix.lower() == ".glb" else _stl(mesh, path, system)
    write_bytes_atomic(path, data)


def _glb(mesh: trimesh.Trimesh, name: str) -> bytes:
    import trimesh

    middle = np.round(mesh.bounds.mean(axis=0))
    place = np.eye(4)
    place[:3, 3] = _TO_Y_UP @ middle
    turned = trimesh.Trimesh((mesh.vertices - middle) @ _TO_Y_UP.T, mesh.faces, process=False)
    scene: Any = trimesh.Scene()
    scene.add_geometry(turned, node_name=name, geom_name=name, transform=place)
    return bytes(scene.export(file_type="glb"))


def _stl(mesh: trimesh.Trimesh, path: Path, system: str) -> bytes:
    import trimesh

    metres = METRES["ft" if system == "US" else "m"]
    points = mesh.vertices / metres
    coarse = float(np.spacing(np.float32(np.abs(points).max()))) / 2 * metres
    if coarse > _COARSEST:
        said = f"STL would round these coordinates by {coarse * 1000:.0f} mm"
        fix = "write .glb, or give the route from an origin nearby"
        raise InputError(Problem(said, fix=fix, file=str(path)))
    scaled: Any = trimesh.Trimesh(points, mesh.faces, process=False)
    return bytes(scaled.export(file_type="stl"))
