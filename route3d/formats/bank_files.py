"""A duct bank for other people's models: concrete and ducts as IFC, DXF, GLB or STL.

The concrete is one closed body for each stretch with ducts of one size, its duct openings left out;
the ducts are conduits of true size. Both stop at the walls of pull boxes in the line.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path as FilePath
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from route3d.disk import write_bytes_atomic, write_text_atomic
from route3d.errors import InputError, Problem
from route3d.formats.exchange import ExchangeRoute
from route3d.formats.solids import frame_record, place_in, refuse_rounding, stl_bytes, write_sidecar
from route3d.geometry.duct_pieces import boxes_in_line, within_boxes
from route3d.geometry.encasement import part_of, rings, solid
from route3d.geometry.path import ARC, STRAIGHT, Path
from route3d.geometry.rmf_frames import frames
from route3d.geometry.tubes import tubes
from route3d.geometry.vectors import Floats
from route3d.model.examples import BANNER, example_banner
from route3d.model.route import Route
from route3d.model.site import Frame
from route3d.planning.bank import BankResult, EncasedPart, parts_of
from route3d.units import METERS

if TYPE_CHECKING:
    import trimesh

# Chords of ducts along bends stay this close to the arc, m.
_CHORD = 1e-3
_SHORTEST = 1e-6
WRITABLE = (".ifc", ".dxf", ".glb", ".stl")


@dataclass(frozen=True, eq=False, slots=True)
class BankBody:
    """One body of concrete: ``mesh`` m, and the ``volume`` m³ of the concrete it stands for."""

    part: EncasedPart
    mesh: trimesh.Trimesh
    volume: float


@dataclass(frozen=True, eq=False, slots=True)
class DuctLine:
    """A stretch of one duct outside of pull boxes: its ``name``, and its ``path``."""

    name: str
    path: Path


@dataclass(frozen=True, eq=False, slots=True)
class BankModel:
    """What of a bank is written: its ``name``, concrete and ducts, and a ``note`` about them."""

    name: str
    result: BankResult
    bodies: tuple[BankBody, ...]
    ducts: tuple[DuctLine, ...]
    note: str = ""

    def diameters(self, path: Path) -> Floats:
        """The outer diameter of each segment of the path of a duct, (n,) m."""
        sizes = np.array([c.outer_diameter for c in self.result.run.route.conduits])
        found: Floats = sizes[path.leg]
        return found


def bank_model(
    result: BankResult, *, filled: bool = False, examples: Sequence[str] = ()
) -> BankModel:
    """Concrete and ducts of a bank; ``filled`` without openings for the ducts.

    ``examples`` are the tables of the job whose values nobody has confirmed. Raises GeometryError
    where the concrete would fold over in a bend, and InputError where a bank without concrete has
    no duct with a path.
    """
    name = f"{result.run.name} duct bank" + (f", {BANNER}" if examples else "")
    bodies = tuple(_bodies(result, filled)) if result.bank.cover > 0 else ()
    ducts = tuple(_duct_lines(result))
    if not bodies and not ducts:
        fix = "reduce the duct spacing, or use a larger bend radius"
        raise InputError(Problem("no duct of the bank has a path", where="bank", fix=fix))
    return BankModel(name, result, bodies, ducts, example_banner(examples))


def _bodies(result: BankResult, filled: bool) -> Iterator[BankBody]:
    parts = parts_of(result.bank, result.run, result.center, result.starts, result.grade)
    for part in parts:
        area = part.section.whole if filled else part.section.area
        mesh = solid(part.path, part.section, start=part.frame, ducts=not filled)
        yield BankBody(part, mesh, area * part.path.length)


def _duct_lines(result: BankResult) -> Iterator[DuctLine]:
    boxes = boxes_in_line(result.run.route, result.center)
    for duct in result.ducts:
        if duct.result is None:
            continue
        path, run = duct.result.path, result.bank.run_in(duct.row, duct.column)
        inside = within_boxes(result.center, boxes, path)
        edges = [0.0, *(s for pair in inside for s in pair), path.length]
        name = f"{result.run.name} duct {duct.row}-{duct.column}" + (f" ({run})" if run else "")
        spans = [(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a > _SHORTEST]
        for number, (a, b) in enumerate(spans, 1):
            more = f" part {number}" if len(spans) > 1 else ""
            yield DuctLine(name + more, part_of(path, a, b))


def duct_route(line: DuctLine, route: Route) -> ExchangeRoute:
    """The line of a duct as points and radii; names and conduits are those of its run's route."""
    path = line.path
    points, radii, names, legs = [path.starts[0]], [0.0], [""], [int(path.leg[0])]
    for i in range(len(path)):
        bent = path.kind[i] != STRAIGHT
        if not bent and (i == 0 or path.kind[i - 1] != STRAIGHT):
            continue
        setback = path.radii[i] * np.tan(path.angles[i] / 2) if path.kind[i] == ARC else 0.0
        points.append(path.starts[i] + setback * path.tangents[i])
        radii.append(float(path.radii[i]) if path.kind[i] == ARC else 0.0)
        names.append(route.vertices[int(path.vertex[i])].name if bent else "")
        legs.append(int(path.leg[i]))
    points.append(path.ends[-1])
    conduits = [route.conduits[leg] for leg in legs]
    labels = [c.name for c in conduits]
    changes = [now if now != before else "" for before, now in pairwise(labels)]
    return ExchangeRoute(
        line.name,
        np.array(points),
        np.array([*radii, 0.0]),
        (*names, ""),
        labels[0],
        conduits[0].outer_diameter,
        changes=("", *changes, ""),
        diameters=tuple(c.outer_diameter for c in conduits),
    )


def write_bank(model: BankModel, path: FilePath, system: str, frame: Frame) -> None:
    """Write a bank in the format of the ending of ``path``, in the lengths of ``system``.

    DXF has the origin of the ``frame`` put back. The others stay on the coordinates of the model;
    the frame is beside them, and GLB is in meters. Raises InputError where the file cannot be
    written.
    """
    kind = path.suffix.lower()
    if kind == ".ifc":
        from route3d.formats.ifc.bank import bank_ifc_text

        write_text_atomic(path, bank_ifc_text(model, system))
    elif kind == ".dxf":
        write_text_atomic(path, bank_dxf_text(model, system, np.array(frame.shift)))
    elif kind == ".glb":
        write_bytes_atomic(path, _glb(model, frame))
    else:
        write_bytes_atomic(path, _stl(model, path, system))
        write_sidecar(path, frame)


# --- DXF -----------------------------------------------------------------------------------------


def bank_dxf_text(model: BankModel, system: str, shift: Floats) -> str:
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

    doc, scale = new_drawing(system), 1 / METERS["ft" if system == "US" else "m"]
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
        draw_centerline(Pen(space, ducts, ducts, scale, 1.0, system), _moved(duct.path, shift))
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


def _stl(model: BankModel, path: FilePath, system: str) -> bytes:
    import trimesh

    meters = METERS["ft" if system == "US" else "m"]
    found: Sequence[Any] = [
        trimesh.Trimesh(vertices / meters, faces, process=False)
        for _, vertices, faces in _surfaces(model)
    ]
    farthest = max(float(np.abs(mesh.vertices).max()) for mesh in found)
    refuse_rounding(farthest, meters, path, "write .glb, or use a local origin")
    whole: Any = trimesh.util.concatenate(list(found))
    return stl_bytes(whole, model.name)
