"""The building of an IFC model as triangles, each element by its name and storey."""

from __future__ import annotations

import importlib
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from route3d.formats.exchange import bad_file
from route3d.formats.ifc.files import length_unit, opened
from route3d.formats.ifc.map_grid import map_matrix
from route3d.geometry.vectors import Floats
from route3d.planning.placement.site import MeshPart

# What encloses no material of a building: air, holes, lines and points.
_NO_BODIES = (
    *("IfcFeatureElement", "IfcSpatialElement", "IfcSpatialStructureElement", "IfcPort"),
    *(
        "IfcVirtualElement",
        "IfcAnnotation",
        "IfcGrid",
        "IfcStructuralItem",
        "IfcPositioningElement",
    ),
)
# Conduit and cable: the routes are those of the job, not those of the model.
_CARRIERS = ("IfcCableCarrier", "IfcCableSegment", "IfcCableFitting")
_FLOW = ("IfcFlowSegment", "IfcFlowFitting")
# Sides of a round body: its faces lie within 0.06 % of the radius.
_SEGMENTS = 96
# The library's quick kernel for plain bodies (0.6 ms each), the thorough one for the others (4 ms).
_KERNEL = "hybrid-cgal-simple-opencascade"


@dataclass(frozen=True, slots=True, eq=False)
class Building:
    """Points (n, 3) m, on the map grid where ``matrix`` (4, 4) says how the model lies on it.

    ``faces`` (m, 3) are of the ``parts`` that ``owner`` (m,) numbers; ``flow`` are the numbers of
    pipe and duct segments and fittings. ``left_out`` says what of the model is not among them.
    """

    vertices: Floats
    faces: NDArray[np.int64]
    parts: tuple[MeshPart, ...]
    owner: NDArray[np.int64]
    flow: frozenset[int]
    meters: float
    matrix: Floats | None
    left_out: tuple[str, ...]


def read_building(path: Path, meters: float | None = None) -> Building:
    """The bodies of all elements of an IFC file but its conduits, openings and spaces.

    ``meters`` are those in one unit of the file where it is not what the file says. Needs
    ifcopenshell. Raises InputError for files that are broken, too large, or hold no body.
    """
    model = opened(path)
    own = length_unit(model, path)
    wanted, out = _wanted(model)
    if not wanted:
        raise bad_file(path, "has no element with a body", "export the building with its bodies")
    try:
        found = dict(_bodies(model, wanted))
    except RuntimeError as error:  # what the library's kernel stumbles over
        reason = " ".join(str(error).split())[:150]
        raise bad_file(
            path, f"has bodies that cannot be read: {reason}", "export it again"
        ) from None
    if not found:
        raise bad_file(path, "has no body that can be read", "export the building with its bodies")
    elements = [e for e in wanted if e.id() in found]
    if lost := [e for e in wanted if e.id() not in found]:
        names = ", ".join(part_of(e).name for e in lost[:5])
        out.append(f"without a body that can be read ({len(lost):,}): {names}")
    points, faces, owner, before = [], [], [], 0
    for number, element in enumerate(elements):
        corners, sides = found[element.id()]
        points.append(corners)
        faces.append(sides + before)
        owner.append(np.full(len(sides), number))
        before += len(corners)
    size = meters or own
    matrix = map_matrix(model, size)
    vertices = np.vstack(points) * (size / own)
    if matrix is not None:
        vertices = vertices @ matrix[:3, :3].T + matrix[:3, 3]
    return Building(
        vertices,
        np.vstack(faces),
        tuple(part_of(e) for e in elements),
        np.concatenate(owner),
        frozenset(i for i, e in enumerate(elements) if any(e.is_a(kind) for kind in _FLOW)),
        size,
        matrix,
        tuple(out),
    )


def _wanted(model: Any) -> tuple[list[Any], list[str]]:
    """The elements that stand in the way, and in words what is left out."""
    wanted, out = [], Counter[str]()
    for element in model.by_type("IfcProduct"):
        if element.Representation is None:
            continue
        if any(_is(element, kind) for kind in _NO_BODIES):
            out[_kind(element)] += 1
        elif _type_name(element).startswith(_CARRIERS):
            out["cable carrier or cable"] += 1
        else:
            wanted.append(element)
    return wanted, [f"{kind} ({n:,})" for kind, n in sorted(out.items())]


def _is(element: Any, kind: str) -> bool:
    try:
        return bool(element.is_a(kind))
    except RuntimeError:  # a class that the schema of the file does not know
        return False


def _type_name(element: Any) -> str:
    """The class of an element; a bare segment of IFC2X3 has that of its type."""
    if element.is_a() not in _FLOW:
        return str(element.is_a())
    kind = importlib.import_module("ifcopenshell.util.element").get_type(element)
    return str(kind.is_a() if kind is not None else element.is_a())


def _bodies(
    model: Any, wanted: list[Any]
) -> Iterator[tuple[int, tuple[Floats, NDArray[np.int64]]]]:
    """Points (n, 3) m and triangles of each element by its number in the file, in world axes."""
    geom = importlib.import_module("ifcopenshell.geom")
    settings = geom.settings()
    settings.set("use-world-coords", True)
    settings.set("circle-segments", _SEGMENTS)
    bodies = geom.iterator(settings, model, 1, include=wanted, geometry_library=_KERNEL)
    if not bodies.initialize():
        return
    while True:
        shape = bodies.get()
        points = np.array(shape.geometry.verts, dtype=np.float64).reshape(-1, 3)
        faces = np.array(shape.geometry.faces, dtype=np.int64).reshape(-1, 3)
        if len(faces):
            yield int(shape.id), (points, faces)
        if not bodies.next():
            return


def part_of(element: Any) -> MeshPart:
    """An element as reports name it: its kind and name, GlobalId and storey."""
    named = " ".join((element.Name or "").split()) or str(element.GlobalId)
    holder = importlib.import_module("ifcopenshell.util.element").get_container(
        element, ifc_class="IfcBuildingStorey"
    )
    storey = " ".join((holder.Name or "").split()) if holder is not None else ""
    return MeshPart(f"{_kind(element)} {named}", str(element.GlobalId), storey)


def _kind(element: Any) -> str:
    """The class of an element in words: ``IfcWallStandardCase`` is a wall."""
    bare = re.sub(r"^Ifc|StandardCase$|ElementedCase$", "", element.is_a())
    if bare == "BuildingElementProxy":
        return "element"
    return re.sub(r"(?<=[a-z])(?=[A-Z])", " ", bare).lower()
