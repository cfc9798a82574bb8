"""Routes as meshes of conduits of true size, for other people's models: GLB and STL."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from route3d.disk import write_bytes_atomic
from route3d.errors import InputError, Problem
from route3d.formats.exchange import ExchangeRoute
from route3d.formats.solids import frame_record, place_in, refuse_rounding, write_sidecar
from route3d.geometry.tubes import tubes
from route3d.geometry.vectors import Floats
from route3d.model.site import GRID, Frame
from route3d.units import METERS

# Chords along bends stay this close to the arc, m: finer than a conduit is bent in the field.
CHORD_TOLERANCE = 1e-3

Surface = tuple[Floats, NDArray[np.int64]]


def write_glb(routes: Sequence[ExchangeRoute], path: Path, unit: str, frame: Frame = GRID) -> None:
    """Write each run as a closed tube of true outer diameter, named after it, in a GLB file.

    Where the conduit stops, or one of another size starts, there is one more.
    In meters with y up, whatever the ``unit``: glTF has it so. Points are single precision, and
    therefore from the middle of their run; the place of the run is a double. Raises InputError
    where a route has no path or no outer diameter, or the file cannot be written.
    """
    import trimesh

    scene: Any = trimesh.Scene(metadata=frame_record(frame))
    for route in routes:
        middle = np.round(route.points.mean(axis=0))
        for number, (vertices, faces) in enumerate(_surfaces(route), 1):
            name = route.name if number == 1 else f"{route.name} part {number}"
            place_in(scene, name, vertices, faces, middle)
    write_bytes_atomic(path, bytes(scene.export(file_type="glb")))


def write_stl(routes: Sequence[ExchangeRoute], path: Path, unit: str, frame: Frame = GRID) -> None:
    """Write the closed tubes of all runs as one binary STL file, z up, in the ``unit``.

    STL names no unit; route3d reads such a file in the lengths of the job. Raises
    InputError as ``write_glb``, and where coordinates are too large for single precision.
    """
    meters = METERS[unit]
    meshes = [_mesh(v / meters, f) for route in routes for v, f in _surfaces(route)]
    farthest = max(float(np.abs(mesh.vertices).max()) for mesh in meshes)
    refuse_rounding(farthest, meters, path, "write GLB, or subtract an origin first")
    import trimesh

    whole: Any = trimesh.util.concatenate(meshes)
    write_bytes_atomic(path, bytes(whole.export(file_type="stl")))
    write_sidecar(path, frame)


def _surfaces(route: ExchangeRoute) -> Iterator[Surface]:
    path = route.path()
    of_legs = route.leg_diameters
    diameters = [of_legs[leg] for leg in path.leg]
    known = [d for d in diameters if d is not None]
    if len(known) < len(diameters):
        raise InputError(
            Problem(
                f"the outer diameter of route {route.name} is not known; required for a mesh",
                fix="enter the conduit of the route",
            )
        )
    yield from tubes(path, np.array(known) / 2, chord_tolerance=CHORD_TOLERANCE)


def _mesh(vertices: Floats, faces: NDArray[np.int64]) -> Any:
    import trimesh

    return trimesh.Trimesh(vertices, faces, process=False)
