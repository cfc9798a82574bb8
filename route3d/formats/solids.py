"""A surface in a mesh file: GLB in meters with y up, STL in feet or meters with z up."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from route3d.disk import write_bytes_atomic, write_text_atomic
from route3d.errors import InputError, Problem
from route3d.formats.building_meshes import Y_UP
from route3d.geometry.vectors import Floats
from route3d.model.site import GRID, Frame
from route3d.units import METERS

if TYPE_CHECKING:
    import trimesh

# Both formats hold single-precision numbers; rounding beyond this (m) would show.
_COARSEST = 1e-3
_STL_HEAD = 80  # bytes of free text, which must not begin with "solid"


def sidecar(path: Path) -> Path:
    """The file beside a mesh that holds the frame of its coordinates."""
    return path.with_name(path.name + ".frame.json")


def frame_record(frame: Frame) -> dict[str, Any]:
    """What extras and sidecars say of a frame, m and degrees; empty where it says nothing."""
    if frame.origin is None and not frame.crs:
        return {}
    return {
        "origin_m": list(frame.shift),
        "crs": frame.crs,
        "north_deg_from_y": math.degrees(frame.north),
    }


def write_sidecar(path: Path, frame: Frame) -> None:
    """Write the frame beside a mesh file whose format has no place for it; nothing without one."""
    if record := frame_record(frame):
        write_text_atomic(sidecar(path), json.dumps(record, indent=2) + "\n")


def write_solid(
    mesh: trimesh.Trimesh, path: Path, name: str, unit: str, frame: Frame = GRID
) -> None:
    """Write a mesh (m, z up) as .glb, in meters with y up, or as .stl in the ``unit``.

    Both stay on the coordinates of the model, with the ``frame`` in the extras of the scene (GLB)
    or in a sidecar (STL).

    GLB keeps its points from the middle of the solid and the place of that as a double. Raises
    InputError where the file cannot be written, or STL would round the coordinates by over 1 mm.
    """
    if path.suffix.lower() == ".glb":
        write_bytes_atomic(path, _glb(mesh, name, frame))
        return
    write_bytes_atomic(path, _stl(mesh, path, name, unit))
    write_sidecar(path, frame)


def _glb(mesh: trimesh.Trimesh, name: str, frame: Frame) -> bytes:
    import trimesh

    scene: Any = trimesh.Scene(metadata=frame_record(frame))
    middle = np.round(mesh.bounds.mean(axis=0))
    place_in(scene, name, np.asarray(mesh.vertices), mesh.faces, middle)
    return bytes(scene.export(file_type="glb"))


def place_in(
    scene: Any, name: str, vertices: Floats, faces: NDArray[np.int64], middle: Floats
) -> None:
    """Add a surface (m, z up) to a trimesh scene as glTF has it: y up, its points from ``middle``.

    Points are single precision there, the place of the middle is a double.
    """
    import trimesh

    place = np.eye(4)
    place[:3, 3] = Y_UP.T @ middle
    mesh = trimesh.Trimesh((vertices - middle) @ Y_UP, faces, process=False)
    scene.add_geometry(mesh, node_name=name, geom_name=name, transform=place)


def _stl(mesh: trimesh.Trimesh, path: Path, name: str, unit: str) -> bytes:
    import trimesh

    meters = METERS[unit]
    points = mesh.vertices / meters
    fix = "write .glb, or use a local origin"
    refuse_rounding(float(np.abs(points).max()), meters, path, fix)
    return stl_bytes(trimesh.Trimesh(points, mesh.faces, process=False), name)


def stl_bytes(mesh: trimesh.Trimesh, name: str) -> bytes:
    """A mesh as binary STL with its name in the free text at its head."""
    exported: Any = mesh
    head = f"route3d: {name}".encode("ascii", "replace")[:_STL_HEAD].ljust(_STL_HEAD, b"\0")
    return head + bytes(exported.export(file_type="stl"))[_STL_HEAD:]


def refuse_rounding(farthest: float, meters: float, path: Path, fix: str) -> None:
    """InputError where single precision rounds a coordinate of so many units by over 1 mm.

    ``meters`` is the unit of the file.
    """
    coarse = float(np.spacing(np.float32(farthest))) / 2 * meters
    if coarse > _COARSEST:
        said = f"STL would round these coordinates by {coarse * 1000:.0f} mm"
        raise InputError(Problem(said, fix=fix, file=str(path)))
