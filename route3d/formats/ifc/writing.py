"""Routes as an IFC4 model: conduit segments and bends as swept disks along straights and arcs."""

from __future__ import annotations

import importlib
import math
import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path as FilePath
from typing import Any

import numpy as np

from route3d.disk import write_text_atomic
from route3d.formats.exchange import ExchangeRoute
from route3d.formats.ifc.files import BOX_SIDES, PSET, ifcopenshell
from route3d.geometry.box_places import box_place
from route3d.geometry.path import ARC, CORNER, Path
from route3d.geometry.vectors import Floats, norm
from route3d.model.site import GRID, Frame
from route3d.units import METERS

# Namespace of our identities: the same routes give the same file.
_NAMESPACE = uuid.UUID("8a3c1c1e-6f0e-4d7c-9d5e-1b0f7c2a9e55")
_STAMP = "2000-01-01T00:00:00"  # not the hour of writing, for the same reason


# Property sets and quantities of the standard (names and members from memory; held to the templates
# that ifcopenshell ships by a test).
CONDUIT_SET = "Pset_CableCarrierSegmentTypeConduitSegment"
SEGMENT_SET = "Pset_CableCarrierSegmentTypeCommon"
FITTING_SET = "Pset_CableCarrierFittingTypeCommon"
BOX_SET = "Pset_JunctionBoxTypeCommon"
SEGMENT_QUANTITIES = "Qto_CableCarrierSegmentBaseQuantities"
# The name of a grid that the job does not name; IFC4 asks for one.
UNNAMED_GRID = "grid of the site"
# Names of the conversion based units (IfcConversionBasedUnit, from memory).
_FEET = {"ft": "FOOT", "us-ft": "US survey foot"}


@dataclass(slots=True)
class _Book:
    """The model being written: ``make`` adds an entity, ``scale`` is file lengths in a meter.

    ``held`` are the products with the z (m) of the lowest place of each.
    """

    model: Any
    scale: float
    roots: int = 0
    held: list[tuple[Any, float]] = field(default_factory=list)

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

    def direction(self, direction: Iterable[float]) -> Any:
        """An IfcDirection."""
        return self.make("IfcDirection", tuple(float(c) for c in direction))


@dataclass(frozen=True, slots=True)
class _Place:
    """Where the products of a model stand: its site, and the contexts of their shapes by name.

    ``floors`` (z, m) are those of rooms by their names.
    """

    site: Any
    contexts: dict[str, Any]
    floors: Mapping[str, float]


def write_ifc(
    routes: Sequence[ExchangeRoute],
    path: FilePath,
    unit: str,
    frame: Frame = GRID,
    levels: Mapping[str, float] | None = None,
    floors: Mapping[str, float] | None = None,
) -> None:
    """Write an IFC4 model in the ``unit``, m or feet; needs ifcopenshell.

    Every run is an IfcDistributionSystem of IfcCableCarrierSegment (straights) and
    IfcCableCarrierFitting (bends), each with its axis, a swept disk of the outer diameter where
    that is known, and its length, stations, radius and angle as properties. Pull points are
    IfcJunctionBox, with a body where their size is known; their ports are at the point, which at an
    end of the run is in the wall of the box. The ports of all are connected along the run.
    ``levels`` (z, m) are the storeys, each holding what lies between it and the next; without
    them, and below, the site holds it. ``floors`` (z, m) are those of rooms by their names, for the
    boxes of that name. Coordinates stay those of the model: the ``frame`` is an
    IfcMapConversion. Raises InputError where a route has no path or the file cannot be written.
    """
    write_text_atomic(path, ifc_text(routes, unit, frame, levels, floors))


def ifc_text(
    routes: Sequence[ExchangeRoute],
    unit: str,
    frame: Frame = GRID,
    levels: Mapping[str, float] | None = None,
    floors: Mapping[str, float] | None = None,
) -> str:
    """The text of that model; the same routes give the same text."""
    model = ifcopenshell().file(schema="IFC4")
    model.header.file_name.time_stamp = _STAMP
    book = _Book(model, 1 / METERS[unit])
    project, contexts = _project(book, unit, frame)
    place = _Place(_site(book, project), contexts, floors or {})
    for route in routes:
        _system(book, route, place)
    _contained(book, place.site, levels or {})
    return str(model.to_string())


# --- the frame ---------------------------------------------------------------------------------


def _axes(book: _Book, at: Iterable[float] = (0.0, 0.0, 0.0)) -> Any:
    return book.make("IfcAxis2Placement3D", book.point(at))


def _project(book: _Book, unit: str, frame: Frame) -> tuple[Any, dict[str, Any]]:
    north = None
    if frame.north:
        north = book.direction((math.sin(frame.north), math.cos(frame.north)))
    whole = book.make(
        "IfcGeometricRepresentationContext", None, "Model", 3, 1e-6, _axes(book), north
    )
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
    units = book.make("IfcUnitAssignment", (_length(book, unit), _angle(book)))
    project = book.root(
        "IfcProject", Name="routes", RepresentationContexts=(whole,), UnitsInContext=units
    )
    if frame.origin is not None or frame.crs:
        grid = book.make("IfcProjectedCRS", Name=_label(frame.crs or UNNAMED_GRID))
        x, y, z = (c * book.scale for c in frame.shift)  # no map unit: that of the project
        book.make("IfcMapConversion", whole, grid, x, y, z, 1.0, 0.0, 1.0)
    return project, parts


def _length(book: _Book, unit: str) -> Any:
    meter = book.make("IfcSIUnit", UnitType="LENGTHUNIT", Name="METRE")
    if unit == "m":
        return meter
    foot = book.make("IfcMeasureWithUnit", book.make("IfcLengthMeasure", METERS[unit]), meter)
    size = book.make("IfcDimensionalExponents", 1, 0, 0, 0, 0, 0, 0)
    return book.make("IfcConversionBasedUnit", size, "LENGTHUNIT", _FEET[unit], foot)


def _angle(book: _Book) -> Any:
    return book.make("IfcSIUnit", UnitType="PLANEANGLEUNIT", Name="RADIAN")


def _site(book: _Book, project: Any) -> Any:
    place = book.make("IfcLocalPlacement", None, _axes(book))
    site = book.root("IfcSite", Name="site", ObjectPlacement=place, CompositionType="ELEMENT")
    book.root("IfcRelAggregates", RelatingObject=project, RelatedObjects=(site,))
    return site


def _contained(book: _Book, site: Any, levels: Mapping[str, float]) -> None:
    """Every product in the storey whose level is the next below it, else in the site."""
    floors = sorted(levels.items(), key=lambda level: level[1])
    numbers = np.searchsorted([z for _, z in floors], [z + _ON_FLOOR for _, z in book.held])
    groups: dict[int, list[Any]] = {}
    for (product, _), number in zip(book.held, numbers.tolist(), strict=True):
        groups.setdefault(number - 1, []).append(product)
    storeys = _storeys(book, site, floors) if floors else []
    for number, products in sorted(groups.items()):
        book.root(
            "IfcRelContainedInSpatialStructure",
            RelatedElements=products,
            RelatingStructure=site if number < 0 else storeys[number],
        )


# What lies so little (m) below a floor stands on it: own judgment.
_ON_FLOOR = 0.05


def _storeys(book: _Book, site: Any, floors: Sequence[tuple[str, float]]) -> list[Any]:
    whole = book.make("IfcLocalPlacement", site.ObjectPlacement, _axes(book))
    building = book.root(
        "IfcBuilding", Name="building", ObjectPlacement=whole, CompositionType="ELEMENT"
    )
    book.root("IfcRelAggregates", RelatingObject=site, RelatedObjects=(building,))
    storeys = [
        book.root(
            "IfcBuildingStorey",
            Name=_label(name),
            ObjectPlacement=book.make("IfcLocalPlacement", whole, _axes(book, (0.0, 0.0, z))),
            CompositionType="ELEMENT",
            Elevation=z * book.scale,
        )
        for name, z in floors
    ]
    book.root("IfcRelAggregates", RelatingObject=building, RelatedObjects=storeys)
    return storeys


# --- one run -----------------------------------------------------------------------------------


@dataclass(slots=True)
class _RunElements:
    """The elements of one run by what is told of them, and the last port along it."""

    segments: dict[tuple[str, float | None], list[Any]] = field(default_factory=dict)
    bends: dict[tuple[str, float | None], list[Any]] = field(default_factory=dict)
    boxes: list[Any] = field(default_factory=list)
    ports: dict[int, tuple[Any, list[Any]]] = field(default_factory=dict)
    last: Any = None

    @property
    def all(self) -> list[Any]:
        """Segments, then bends, then boxes."""
        groups = (*self.segments.values(), *self.bends.values(), self.boxes)
        return [element for group in groups for element in group]


def _system(book: _Book, route: ExchangeRoute, place: _Place) -> None:
    path = route.path()
    run = _RunElements()
    conduits, sizes = route.conduits, route.leg_diameters
    if route.boxes[0] is not None:
        _box(book, route, path, 0, run, place)
    before, bends = 0, 0
    for i in range(len(path)):
        leg = int(path.leg[i])
        for vertex in range(before + 1, leg + 1):
            if path.kind[i] != ARC and (route.access[vertex] or route.boxes[vertex] is not None):
                _box(book, route, path, vertex, run, place)
        before = leg
        if path.kind[i] == CORNER:
            continue  # the conduit stops and starts there: nothing to draw
        arc = path.kind[i] == ARC
        bends += arc
        made = _element(book, route, path, i, bends, sizes[leg], place)
        _connected(book, run, made, (path.starts[i], -path.tangents[i]))
        _leaving(book, run, made, (path.ends[i], path.end_tangents[i]))
        (run.bends if arc else run.segments).setdefault((conduits[leg], sizes[leg]), []).append(
            made
        )
    last = len(route.points) - 1
    if route.boxes[last] is not None:
        _box(book, route, path, last, run, place)
    for element, ports in run.ports.values():
        book.root("IfcRelNests", RelatingObject=element, RelatedObjects=ports)
    group = book.root("IfcDistributionSystem", Name=route.name, PredefinedType="ELECTRICAL")
    book.root("IfcRelAssignsToGroup", RelatedObjects=run.all, RelatingGroup=group)
    book.root("IfcRelServicesBuildings", RelatingSystem=group, RelatedBuildings=(place.site,))
    for name in dict.fromkeys(conduits):
        straight, bent = (
            [e for (held, _), group in parts.items() if held == name for e in group]
            for parts in (run.segments, run.bends)
        )
        _typed(book, "IfcCableCarrierSegmentType", "CONDUITSEGMENT", name, straight)
        _typed(book, "IfcCableCarrierFittingType", "BEND", name, bent)
    _standard_sets(book, run)
    _properties(book, (group,), PSET, _route_facts(book, route))


def _port(
    book: _Book, run: _RunElements, element: Any, name: str, at: tuple[Floats, Floats]
) -> Any:
    """A port of an element at a place (m), its z axis leading away from the element."""
    point, away = at
    side = np.cross(away, np.eye(3)[int(np.argmin(np.abs(away)))])
    spot = book.make(
        "IfcAxis2Placement3D", book.point(point), book.direction(away), book.direction(side)
    )
    whole = element.ObjectPlacement.PlacementRelTo
    port = book.root(
        "IfcDistributionPort",
        Name=name,
        ObjectPlacement=book.make("IfcLocalPlacement", whole, spot),
        FlowDirection="SOURCEANDSINK",
        PredefinedType="CABLECARRIER",
        SystemType="ELECTRICAL",
    )
    run.ports.setdefault(element.id(), (element, []))[1].append(port)
    return port


def _connected(book: _Book, run: _RunElements, element: Any, at: tuple[Floats, Floats]) -> None:
    """The port where the run enters an element, connected to the one it comes from."""
    port = _port(book, run, element, "start", at)
    if run.last is not None:
        book.root("IfcRelConnectsPorts", RelatingPort=run.last, RelatedPort=port)


def _leaving(book: _Book, run: _RunElements, element: Any, at: tuple[Floats, Floats]) -> None:
    run.last = _port(book, run, element, "end", at)


def _box(
    book: _Book, route: ExchangeRoute, path: Path, vertex: int, run: _RunElements, place: _Place
) -> None:
    """The box of a pull point, where `box_place` has it; without a size a place alone."""
    point, size = route.points[vertex], route.boxes[vertex]
    stands = box_place(
        route.points, vertex, size or (0.0, 0.0, 0.0), place.floors.get(route.names[vertex])
    )
    middle = point if size is None else stands.middle
    legs = np.diff(route.points, axis=0)
    comes, goes = legs[max(vertex - 1, 0)], legs[min(vertex, len(legs) - 1)]
    spot = book.make(
        "IfcAxis2Placement3D",
        book.point(middle),
        book.direction((0.0, 0.0, 1.0)),
        book.direction(stands.heading),
    )
    shape = None
    if size is not None:
        long, wide, high = (side * book.scale for side in stands.extents)
        area = book.make("IfcRectangleProfileDef", "AREA", None, None, long, wide)
        base = _axes(book, (0.0, 0.0, -stands.extents[2] / 2))
        solid = book.make("IfcExtrudedAreaSolid", area, base, book.direction((0, 0, 1)), high)
        body = book.make(
            "IfcShapeRepresentation", place.contexts["Body"], "Body", "SweptSolid", (solid,)
        )
        shape = book.make("IfcProductDefinitionShape", None, None, (body,))
    box = book.root(
        "IfcJunctionBox",
        Name=_label(route.names[vertex] or f"{route.name} pull point {vertex + 1}"),
        ObjectPlacement=book.make("IfcLocalPlacement", place.site.ObjectPlacement, spot),
        Representation=shape,
        PredefinedType="POWER",
    )
    run.boxes.append(box)
    book.held.append((box, float(point[2]) if size is None else stands.low))
    if vertex > 0:
        _connected(book, run, box, (point, -comes / norm(comes)))
    if vertex < len(route.points) - 1:
        _leaving(book, run, box, (point, goes / norm(goes)))


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
    place: _Place,
) -> Any:
    """A segment or a bend with its shape and its property set."""
    arc = path.kind[i] == ARC
    axis = _directrix(book, path, i)
    contexts = place.contexts
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
        Name=_label(f"{route.name} {name}"),
        ObjectPlacement=book.make("IfcLocalPlacement", place.site.ObjectPlacement, _axes(book)),
        Representation=book.make("IfcProductDefinitionShape", None, None, shapes),
        PredefinedType="BEND" if arc else "CONDUITSEGMENT",
    )
    _properties(book, (element,), "Route3d_Centerline", _element_facts(book, path, i))
    if not arc:
        length = book.make("IfcQuantityLength", "Length", None, None, path.lengths[i] * book.scale)
        _defined(
            book,
            (element,),
            book.root("IfcElementQuantity", Name=SEGMENT_QUANTITIES, Quantities=(length,)),
        )
    book.held.append((element, float(min(path.starts[i, 2], path.ends[i, 2]))))
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


def _properties(book: _Book, owners: Sequence[Any], name: str, facts: Sequence[Any]) -> None:
    _defined(book, owners, book.root("IfcPropertySet", Name=name, HasProperties=facts))


def _defined(book: _Book, owners: Sequence[Any], held: Any) -> None:
    book.root("IfcRelDefinesByProperties", RelatedObjects=owners, RelatingPropertyDefinition=held)


def _standard_sets(book: _Book, run: _RunElements) -> None:
    """Property sets of the standard, each shared by the elements of which it says the same.

    Nominal width and height of a round conduit are its outer diameter: the standard has no other
    place for it (own reading).
    """
    for (conduit, size), segments in run.segments.items():
        facts = [_enumerated(book, "ConduitShapeType", "CIRCULAR")]
        if size is not None:
            facts = [
                _single(book, side, "IfcPositiveLengthMeasure", size * book.scale)
                for side in ("NominalWidth", "NominalHeight")
            ] + facts
        _properties(book, segments, CONDUIT_SET, facts)
        if conduit:
            _properties(book, segments, SEGMENT_SET, [_reference(book, conduit)])
    for (conduit, _), bends in run.bends.items():
        if conduit:
            _properties(book, bends, FITTING_SET, [_reference(book, conduit)])
    if run.boxes:
        _properties(book, run.boxes, BOX_SET, [_enumerated(book, "ShapeType", "RECTANGULAR")])


def _reference(book: _Book, name: str) -> Any:
    return _single(book, "Reference", "IfcIdentifier", _label(name))


def _enumerated(book: _Book, name: str, value: str) -> Any:
    held = (book.make("IfcLabel", value),)
    return book.make("IfcPropertyEnumeratedValue", name, None, held)


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
