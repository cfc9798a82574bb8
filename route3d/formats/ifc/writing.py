"""Routes as an IFC4 model: conduit segments and bends as swept disks along straights and arcs."""

from __future__ import annotations

import importlib
import math
import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path as FilePath
from typing import Any

import numpy as np

from route3d.disk import write_text_atomic
from route3d.formats.exchange import ExchangeRoute
from route3d.formats.ifc.files import BOX_SIDES, PSET, ifcopenshell
from route3d.geometry.path import ARC, CORNER, Path
from route3d.geometry.vectors import Floats
from route3d.model.site import GRID, Frame
from route3d.units import METERS

# Namespace of our identities: the same routes give the same file.
_NAMESPACE = uuid.UUID("8a3c1c1e-6f0e-4d7c-9d5e-1b0f7c2a9e55")
_STAMP = "2000-01-01T00:00:00"  # not the hour of writing, for the same reason


@dataclass(slots=True)
class _Book:
    """The model being written: ``make`` adds an entity, ``scale`` is file lengths in a meter."""

    model: Any
    scale: float
    roots: int = 0
    products: list[Any] = field(default_factory=list)

    def make(self, kind: str, *values: Any, **named: Any) -> Any:
        """A new entity."""
        return self.model.create_entity(kind, *values, **named)

    def root(self, kind: str, **named: Any) -> Any:
        """A new entity with an identity, the same at every writing."""
        self.roots += 1
        guid = importlib.import_module("ifcopenshell.guid")
        name = f"{self.roots} {kind} {named.get('Name', '')}"
        return self.make(kind, guid.compress(uuid.uuid5(_NAMESPACE, name).hex), **named)

    def point(self, point: Iterable[float]) -> Any:
        """An IfcCartesianPoint, of a point in m."""
        return self.make("IfcCartesianPoint", tuple(float(c) * self.scale for c in point))


def write_ifc(
    routes: Sequence[ExchangeRoute], path: FilePath, system: str, frame: Frame = GRID
) -> None:
    """Write an IFC4 model in the feet or meters of ``system``; needs ifcopenshell.

    Every run is an IfcDistributionSystem of IfcCableCarrierSegment (straights) and
    IfcCableCarrierFitting (bends), each with its axis, a swept disk of the outer diameter where
    that is known, and its length, stations, radius and angle as properties. Raises InputError
    where a route has no path or the file cannot be written.
    """
    write_text_atomic(path, ifc_text(routes, system))


def ifc_text(routes: Sequence[ExchangeRoute], system: str) -> str:
    """The text of that model; the same routes give the same text."""
    model = ifcopenshell().file(schema="IFC4")
    model.header.file_name.time_stamp = _STAMP
    book = _Book(model, 1 / METERS["ft" if system == "US" else "m"])
    project, contexts = _project(book, system)
    site = _site(book, project)
    for route in routes:
        _system(book, route, site, contexts)
    place = site.ObjectPlacement
    for product in book.products:
        product.ObjectPlacement = book.make("IfcLocalPlacement", place, _axes(book))
    if book.products:
        book.root(
            "IfcRelContainedInSpatialStructure",
            RelatedElements=book.products,
            RelatingStructure=site,
        )
    return str(model.to_string())


# --- the frame ---------------------------------------------------------------------------------


def _axes(book: _Book) -> Any:
    return book.make("IfcAxis2Placement3D", book.point((0, 0, 0)))


def _project(book: _Book, system: str) -> tuple[Any, dict[str, Any]]:
    whole = book.make("IfcGeometricRepresentationContext", None, "Model", 3, 1e-6, _axes(book))
    parts = {
        name: book.make(
            "IfcGeometricRepresentationSubContext",
            ContextIdentifier=name,
            ContextType="Model",
            ParentContext=whole,
            TargetView=view,
        )
        for name, view in (("Axis", "GRAPH_VIEW"), ("Body", "MODEL_VIEW"))
    }
    units = book.make("IfcUnitAssignment", (_length(book, system), _angle(book)))
    project = book.root(
        "IfcProject", Name="routes", RepresentationContexts=(whole,), UnitsInContext=units
    )
    return project, parts


def _length(book: _Book, system: str) -> Any:
    meter = book.make("IfcSIUnit", UnitType="LENGTHUNIT", Name="METRE")
    if system == "SI":
        return meter
    foot = book.make("IfcMeasureWithUnit", book.make("IfcLengthMeasure", METERS["ft"]), meter)
    size = book.make("IfcDimensionalExponents", 1, 0, 0, 0, 0, 0, 0)
    return book.make("IfcConversionBasedUnit", size, "LENGTHUNIT", "FOOT", foot)


def _angle(book: _Book) -> Any:
    return book.make("IfcSIUnit", UnitType="PLANEANGLEUNIT", Name="RADIAN")


def _site(book: _Book, project: Any) -> Any:
    place = book.make("IfcLocalPlacement", None, _axes(book))
    site = book.root("IfcSite", Name="site", ObjectPlacement=place, CompositionType="ELEMENT")
    book.root("IfcRelAggregates", RelatingObject=project, RelatedObjects=(site,))
    return site


# --- one run -----------------------------------------------------------------------------------


def _system(book: _Book, route: ExchangeRoute, site: Any, contexts: dict[str, Any]) -> None:
    path = route.path()
    segments: list[Any] = []
    bends: list[Any] = []
    straight: dict[str, list[Any]] = {}
    bent: dict[str, list[Any]] = {}
    conduits, sizes = route.conduits, route.leg_diameters
    for i in range(len(path)):
        if path.kind[i] == CORNER:
            continue  # the conduit stops and starts there: nothing to draw
        arc, leg = path.kind[i] == ARC, path.leg[i]
        made = _element(book, route, path, i, len(bends) + 1, sizes[leg], contexts)
        (bends if arc else segments).append(made)
        (bent if arc else straight).setdefault(conduits[leg], []).append(made)
    group = book.root("IfcDistributionSystem", Name=route.name, PredefinedType="ELECTRICAL")
    book.root("IfcRelAssignsToGroup", RelatedObjects=segments + bends, RelatingGroup=group)
    book.root("IfcRelServicesBuildings", RelatingSystem=group, RelatedBuildings=(site,))
    for name in dict.fromkeys(conduits):
        _typed(book, "IfcCableCarrierSegmentType", "CONDUITSEGMENT", name, straight.get(name, []))
        _typed(book, "IfcCableCarrierFittingType", "BEND", name, bent.get(name, []))
    _properties(book, group, PSET, _route_facts(book, route))
    book.products += segments + bends


def _typed(book: _Book, kind: str, predefined: str, name: str, elements: list[Any]) -> None:
    if name and elements:
        given = book.root(kind, Name=name, PredefinedType=predefined)
        book.root("IfcRelDefinesByType", RelatedObjects=elements, RelatingType=given)


def _element(
    book: _Book,
    route: ExchangeRoute,
    path: Path,
    i: int,
    bend: int,
    diameter: float | None,
    contexts: dict[str, Any],
) -> Any:
    """A segment or a bend with its shape and its property set."""
    arc = path.kind[i] == ARC
    axis = _directrix(book, path, i)
    shapes = [book.make("IfcShapeRepresentation", contexts["Axis"], "Axis", "Curve3D", (axis,))]
    if diameter is not None:
        disk = book.make("IfcSweptDiskSolid", axis, diameter / 2 * book.scale)
        shapes.append(
            book.make(
                "IfcShapeRepresentation", contexts["Body"], "Body", "AdvancedSweptSolid", (disk,)
            )
        )
    vertex = int(path.vertex[i])
    name = (route.names[vertex] or f"bend {bend}") if arc else f"straight {i + 1}"
    element = book.root(
        "IfcCableCarrierFitting" if arc else "IfcCableCarrierSegment",
        Name=f"{route.name} {name}",
        Representation=book.make("IfcProductDefinitionShape", None, None, shapes),
        PredefinedType="BEND" if arc else "CONDUITSEGMENT",
    )
    _properties(book, element, "Route3d_Centerline", _element_facts(book, path, i))
    return element


def _directrix(book: _Book, path: Path, i: int) -> Any:
    """The axis as an IfcIndexedPolyCurve of one straight, or of one arc by its middle."""
    stations = path.stations[i : i + 2]
    middle = [path.point(float(stations.mean()))] if path.kind[i] == ARC else []
    rows = [path.starts[i], *middle, path.ends[i]]
    points = [tuple((row * book.scale).tolist()) for row in rows]
    kind = "IfcArcIndex" if middle else "IfcLineIndex"
    index = book.make(kind, tuple(range(1, len(points) + 1)))
    return book.make(
        "IfcIndexedPolyCurve", book.make("IfcCartesianPointList3D", points), (index,), False
    )


# --- properties --------------------------------------------------------------------------------


def _properties(book: _Book, owner: Any, name: str, facts: Sequence[Any]) -> None:
    held = book.root("IfcPropertySet", Name=name, HasProperties=facts)
    book.root("IfcRelDefinesByProperties", RelatedObjects=(owner,), RelatingPropertyDefinition=held)


def _element_facts(book: _Book, path: Path, i: int) -> list[Any]:
    lengths = {
        "Length": path.lengths[i],
        "StationStart": path.stations[i],
        "StationEnd": path.stations[i + 1],
    }
    if path.kind[i] == ARC:
        lengths["Radius"] = path.radii[i]
    facts = [_measure(book, name, float(value)) for name, value in lengths.items()]
    if path.kind[i] == ARC:
        facts.append(_single(book, "Angle", "IfcPlaneAngleMeasure", float(path.angles[i])))
    return facts


def _route_facts(book: _Book, route: ExchangeRoute) -> list[Any]:
    """The vertices with what is told of them, so that ``read_ifc`` finds it again."""
    shown = list(route.told)
    points: Floats = np.asarray(route.points)[shown] * book.scale
    facts = [
        _list(book, axis, "IfcLengthMeasure", column.tolist())
        for axis, column in zip("XYZ", points.T, strict=True)
    ]
    facts.append(_list(book, "Names", "IfcLabel", [_label(route.names[i]) for i in shown]))
    access = [" ".join(sorted(route.access[i])) for i in shown]
    facts.append(_list(book, "Access", "IfcLabel", access))
    starting = [_label(route.changes[i] if i else route.conduit) for i in shown]
    facts.append(_list(book, "Conduits", "IfcLabel", starting))
    sizes = np.array([route.boxes[i] or (0, 0, 0) for i in shown]) * book.scale
    if sizes.any():
        for side, column in zip(BOX_SIDES, sizes.T, strict=True):
            facts.append(_list(book, side, "IfcLengthMeasure", column.tolist()))
    facts.append(_measure(book, "Length", float(route.path().length)))
    if route.outer_diameter is not None and math.isfinite(route.outer_diameter):
        size = route.outer_diameter * book.scale
        facts.append(_single(book, "OuterDiameter", "IfcPositiveLengthMeasure", size))
    return facts


def _label(text: str) -> str:
    """Text as an IfcLabel holds it: 255 letters (ISO 16739-1, IfcLabel)."""
    return text[:255]


def _measure(book: _Book, name: str, meters: float) -> Any:
    return _single(book, name, "IfcLengthMeasure", meters * book.scale)


def _single(book: _Book, name: str, kind: str, value: Any) -> Any:
    return book.make("IfcPropertySingleValue", name, None, book.make(kind, value))


def _list(book: _Book, name: str, kind: str, values: Sequence[Any]) -> Any:
    held = tuple(book.make(kind, value) for value in values)
    return book.make("IfcPropertyListValue", name, None, held)
