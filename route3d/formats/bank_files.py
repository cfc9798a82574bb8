"""A duct bank for other people's models: concrete and ducts as IFC, DXF, GLB or STL."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from pathlib import Path as FilePath
from typing import Any

import numpy as np
from numpy.typing import NDArray

from route3d.disk import write_bytes_atomic, write_text_atomic
from route3d.formats.bank_model import BankModel
from route3d.formats.solids import (
    frame_record,
    place_in,
    refuse_rounding,
    stl_bytes,
    write_sidecar,
)
from route3d.geometry.encasement import rings, solid
from route3d.geometry.path import Path
from route3d.geometry.rmf_frames import frames
from route3d.geometry.tubes import tubes
from route3d.geometry.vectors import Floats
from route3d.model.site import Frame
from route3d.units import METERS

# Chords of ducts along bends stay this close to the arc, m.
_CHORD = 1e-3


def write_bank(model: BankModel, path: FilePath, unit: str, frame: Frame) -> None:
    """Write a bank in the format of the ending of ``path``, in the ``unit``, a key of ``METERS``.

    DXF has the origin of the ``frame`` put back. The others stay on the coordinates of the model;
    the frame is beside them, and GLB is in meters. Raises InputError where the file cannot be
    written.
    """
    kind = path.suffix.lower()
    if kind == ".ifc":
        from route3d.formats.ifc.bank import bank_ifc_text

        write_text_atomic(path, bank_ifc_text(model, unit, frame))
    elif kind == ".dxf":
        write_text_atomic(path, bank_dxf_text(model, unit, np.array(frame.shift)))
    elif kind == ".glb":
        write_bytes_atomic(path, _glb(model, frame))
    else:
        write_bytes_atomic(path, _stl(model, path, unit))
        write_sidecar(path, frame)


# --- DXF -----------------------------------------------------------------------------------------


def bank_dxf_text(model: BankModel, unit: str, shift: Floats) -> str:
    """The text of a drawing; the same bank gives the same text.

    The edges of the concrete are 3D polylines on one layer, its faces a mesh on another (the plain
    box: ducts are lines of their own), and each duct has its centerline on a third.
    """
    from route3d.drawing.dxf import (
        Pen,
        draw_centerline,
        new_drawing,
        new_layer,
        plain_text,
        vector,
        without_the_hour,
    )

    doc, scale = new_drawing(unit), 1 / METERS[unit]
    taken = {layer.dxf.name.casefold() for layer in doc.layers}
    outline, faces, ducts = (
        new_layer(f"{model.name}{end}", taken) for end in ("", " solid", " ducts")
    )
    for layer, color in ((outline, 1), (faces, 8), (ducts, 5)):
        doc.layers.add(layer, color=color)
    space = doc.modelspace()
    for body in model.bodies:
        part = body.part
        around = rings(part.path, frames(part.path, part.frame), part.section.corners)
        _edges(space, (around + shift) * scale, outline)
        box = solid(part.path, part.section, start=part.frame, ducts=False)
        _mesh(space, (box.vertices + shift) * scale, box.faces, faces)
    for duct in model.ducts:
        draw_centerline(Pen(space, ducts, ducts, scale, 1.0, unit), _moved(duct.path, shift))
    if model.note:
        text = space.add_text(plain_text(model.note), dxfattribs={"layer": outline})
        text.set_placement(vector((model.result.center.starts[0] + shift) * scale))
    out = io.StringIO()
    with without_the_hour():
        doc.write(out)
    return out.getvalue()


def _moved(path: Path, by: Floats) -> Path:
    names = ("kind", "lengths", "angles", "starts", "tangents", "normals", "vertex", "leg")
    parts: dict[str, Any] = {name: getattr(path, name) for name in names}
    return Path(**{**parts, "starts": path.starts + by})


def _edges(space: Any, around: Floats, layer: str) -> None:
    """The four edges along a body, (k, 4, 3), and its square ends."""
    look = {"layer": layer}
    for k in range(4):
        space.add_polyline3d(around[:, k].tolist(), dxfattribs=look)
    for end in (around[0], around[-1]):
        space.add_polyline3d(end.tolist(), close=True, dxfattribs=look)


def _mesh(space: Any, vertices: Floats, faces: NDArray[np.int64], layer: str) -> None:
    mesh = space.add_mesh(dxfattribs={"layer": layer})
    with mesh.edit_data() as data:
        data.vertices = vertices.tolist()
        data.faces = faces.tolist()


# --- meshes --------------------------------------------------------------------------------------


def _surfaces(model: BankModel) -> Iterator[tuple[str, Floats, NDArray[np.int64]]]:
    """Every closed surface with its name: the concrete, then the ducts."""
    for number, body in enumerate(model.bodies, 1):
        more = f" part {number}" if number > 1 else ""
        yield model.name + more, np.asarray(body.mesh.vertices), body.mesh.faces
    for duct in model.ducts:
        radii = model.diameters(duct.path) / 2
        for number, (vertices, faces) in enumerate(
            tubes(duct.path, radii, chord_tolerance=_CHORD), 1
        ):
            yield f"{duct.name} tube {number}" if number > 1 else duct.name, vertices, faces


def _glb(model: BankModel, frame: Frame) -> bytes:
    import trimesh

    note = {"note": model.note} if model.note else {}
    scene: Any = trimesh.Scene(metadata=frame_record(frame) | note)
    for name, vertices, faces in _surfaces(model):
        place_in(scene, name, vertices, faces, np.round(vertices.mean(axis=0)))
    return bytes(scene.export(file_type="glb"))


def _stl(model: BankModel, path: FilePath, unit: str) -> bytes:
    import trimesh

    meters = METERS[unit]
    found: Sequence[Any] = [
        trimesh.Trimesh(vertices / meters, faces, process=False)
        for _, vertices, faces in _surfaces(model)
    ]
    farthest = max(float(np.abs(mesh.vertices).max()) for mesh in found)
    refuse_rounding(farthest, meters, path, "write .glb, or use a local origin")
    whole: Any = trimesh.util.concatenate(list(found))
    return stl_bytes(whole, model.name)
