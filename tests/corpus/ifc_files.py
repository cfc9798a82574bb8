"""Structures that building models hold, written with ifcopenshell; lengths of each by hand in mm.

Each structure comes in several settings: schema, unit of length, and where the element is placed.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import ifcopenshell.api.owner
import ifcopenshell.api.owner.settings
import ifcopenshell.api.system
import ifcopenshell.api.unit
import ifcopenshell.guid
import numpy as np

from route3d.formats.exchange import ExchangeRoute, ImportedRoutes, ReadOptions
from tests.corpus.case import Case
from tests.support.plant import Plant, turned
from tests.support.routes import Vector

MM = {"mm": 1.0, "m": 1e-3, "ft": 1 / 304.8}
CLOSE = 1e-6  # m


@dataclass(frozen=True)
class Setting:
    """Schema and unit of a file, and the placement of what it holds, translation in mm."""

    schema: str = "IFC4"
    unit: str = "mm"
    place: Vector = field(default_factory=lambda: np.eye(4))

    def world(self, *points: Sequence[float]) -> Vector:
        """Points in mm of the structure as points of the model in m."""
        rows = np.array(points, dtype=float)
        moved: Vector = (rows @ self.place[:3, :3].T + self.place[:3, 3]) / 1000
        return moved


PLAIN = Setting()
TURNED = Setting("IFC4X3", "m", turned(37, (0, 0, 1), (120_000, -45_000, 3_000)))
TILTED = Setting("IFC4", "ft", turned(50, (1, 1, 0.2), (7_000, -2_000, 500)))
OLD = Setting("IFC2X3", "mm", turned(200, (0, 0.3, 1), (-900, 80_000, 12)))
# The same classes as IFC2X3 knows them; there the type says more.
_OLD = {
    "IfcCableCarrierSegment": "IfcFlowSegment",
    "IfcPipeSegment": "IfcFlowSegment",
    "IfcDuctSegment": "IfcFlowSegment",
    "IfcCableCarrierFitting": "IfcFlowFitting",
    "IfcPipeFitting": "IfcFlowFitting",
    "IfcValve": "IfcFlowController",
}


@dataclass
class Draft:
    """A file being written: lengths in mm, put down in the unit of the setting."""

    plant: Plant
    setting: Setting

    @classmethod
    def new(cls, setting: Setting) -> Draft:
        api = ifcopenshell.api.owner
        if setting.schema == "IFC2X3":
            api.settings.get_user = _user
        plant = Plant.new(setting.schema, "MILLI" if setting.unit == "mm" else None)
        if setting.unit == "ft":
            foot = ifcopenshell.api.unit.add_conversion_based_unit(plant.model, name="foot")
            ifcopenshell.api.unit.assign_unit(plant.model, units=[foot])
        return cls(plant, setting)

    def n(self, mm: float) -> float:
        return mm * MM[self.setting.unit]

    def points(self, rows: Sequence[Sequence[float]]) -> list[Any]:
        return [self.plant.point(*(self.n(c) for c in row)) for row in rows]

    def line(self, *rows: Sequence[float]) -> Any:
        return self.plant.make("IfcPolyline", self.points(rows))

    def put(self, kind: str, body: list[Any], name: str = "", axis: Any = None, **more: Any) -> Any:
        """An element with a body (and an axis) in the placement of the setting."""
        if self.setting.schema == "IFC2X3":
            kind = _OLD.get(kind, kind)
        place = self.setting.place.copy()
        place[:3, 3] *= MM[self.setting.unit]
        shapes = {"Body": body} if body else {}
        if axis is not None:
            shapes["Axis"] = [axis]
        element = self.plant.element(kind, shapes, place)
        element.Name = name or None
        for key, value in more.items():
            setattr(element, key, value)
        return element

    def rod(self, start: Sequence[float], end: Sequence[float], radius: float = 50) -> Any:
        """A round bar from point to point."""
        a, b = np.array(start, dtype=float), np.array(end, dtype=float)
        along = (b - a) / np.linalg.norm(b - a)
        aside = np.eye(3)[int(np.argmin(np.abs(along)))]
        make = self.plant.make
        return make(
            "IfcExtrudedAreaSolid",
            self.plant.circle(self.n(radius)),
            self.plant.axes(*(self.n(c) for c in a), z=along.tolist(), x=aside.tolist()),
            self.plant.direction(0, 0, 1),
            self.n(float(np.linalg.norm(b - a))),
        )

    def conduit(self, start: Sequence[float], end: Sequence[float], name: str = "") -> Any:
        """A conduit from point to point with a port at both ends."""
        return self.put("IfcCableCarrierSegment", [self.rod(start, end)], name)

    def port(self, element: Any, *at: float) -> Any:
        """A port of an element, the old way in IFC2X3."""
        port = ifcopenshell.api.system.add_port(self.plant.model, element=element)
        place = np.eye(4)
        place[:3, 3] = self.setting.world(at)[0] * 1000 * MM[self.setting.unit]
        self.plant.place(port, place)
        return port

    def connect(self, one: Any, other: Any, *at: float) -> None:
        """A pair of connected ports of two elements at a place."""
        ends = [self.port(each, *at) for each in (one, other)]
        self.plant.make(
            "IfcRelConnectsPorts", ifcopenshell.guid.new(), _owner(self.plant.model), None, None,
            *ends,
        )  # fmt: skip

    def mesh(self, rows: Vector, loops: Sequence[Sequence[int]], kind: str) -> Any:
        """Faces as an item of this entity."""
        make = self.plant.make
        if kind in ("IfcTriangulatedFaceSet", "IfcPolygonalFaceSet"):
            held = make("IfcCartesianPointList3D", [[self.n(c) for c in row] for row in rows])
            if kind == "IfcTriangulatedFaceSet":
                index = [[i + 1 for i in loop] for loop in loops]
                return make(kind, Coordinates=held, CoordIndex=index)
            faces = [make("IfcIndexedPolygonalFace", [i + 1 for i in loop]) for loop in loops]
            return make(kind, held, None, faces)
        points = self.points(rows.tolist())
        faces = []
        for loop in loops:
            bound = make("IfcPolyLoop", [points[i] for i in loop])
            faces.append(make("IfcFace", [make("IfcFaceOuterBound", bound, True)]))
        if kind == "IfcFacetedBrep":
            return make(kind, make("IfcClosedShell", faces))
        return make(kind, [make("IfcOpenShell", faces)])

    def mapped(self, item: Any, scales: Sequence[float]) -> Any:
        """An item through a map with a scale for each axis."""
        make = self.plant.make
        inner = make("IfcShapeRepresentation", self.plant.body, "Body", "SweptSolid", [item])
        source = make("IfcRepresentationMap", self.plant.axes(0, 0, 0), inner)
        target = make(
            "IfcCartesianTransformationOperator3DnonUniform", None, None,
            self.plant.point(0, 0, 0), scales[0], None, scales[1], scales[2],
        )  # fmt: skip
        return make("IfcMappedItem", source, target)

    def save(self, path: Path) -> None:
        self.plant.model.write(str(path))


def _user(model: Any) -> Any:
    return _person(model) if model.schema == "IFC2X3" else None


def _person(model: Any) -> Any:
    if not model.by_type("IfcPersonAndOrganization"):
        api = ifcopenshell.api.owner
        person = api.add_person(model, identification="x")
        firm = api.add_organisation(model, identification="x", name="x")
        api.add_person_and_organisation(model, person=person, organisation=firm)
        api.add_application(model)
    return model.by_type("IfcPersonAndOrganization")[0]


def _owner(model: Any) -> Any:
    return next(iter(model.by_type("IfcOwnerHistory")), None)


def written(setting: Setting, draw: Callable[[Draft], None]) -> Callable[[Path], None]:
    """A writer of a file of what ``draw`` puts down."""

    def write(path: Path) -> None:
        settings = ifcopenshell.api.owner.settings
        before = settings.get_user
        try:
            draft = Draft.new(setting)
            draw(draft)
        finally:
            settings.get_user = before
        draft.save(path)

    return write


# --- what a reading must say -------------------------------------------------------------------


def the_line(
    route: ExchangeRoute, points: Vector, radii: Sequence[float] = (), close: float = CLOSE
) -> None:
    """The route is these points (m), either way, with these radii."""
    wanted = np.array(radii or [0.0] * len(points))
    assert route.points.shape == points.shape, route.points
    back = np.linalg.norm(route.points[0] - points[0]) > np.linalg.norm(
        route.points[0] - points[-1]
    )
    step = -1 if back else 1
    assert np.abs(route.points[::step] - points).max() < close, route.points
    assert np.abs(route.radii[::step] - wanted).max() < CLOSE, route.radii


def said(reading: ImportedRoutes, *words: str) -> None:
    """All these words stand in the table of elements or in the report."""
    text = " | ".join([*(e.said for e in reading.elements), *reading.guessed, *reading.ignored])
    for word in words:
        assert word in text, text


def states(reading: ImportedRoutes) -> list[str]:
    return [e.state for e in reading.elements]


def length(route: ExchangeRoute) -> float:
    return float(route.path().length)


# --- 1: a tray whose plan is swept upwards -----------------------------------------------------


def tray(setting: Setting, long: float, wide: float, high: float, outlined: bool = False) -> Case:
    def draw(draft: Draft) -> None:
        plant, n = draft.plant, draft.n
        corner = [(0, 0), (long, 0), (long, wide), (0, wide), (0, 0)]
        if outlined and setting.schema != "IFC2X3":
            rows = [[n(c) for c in p] for p in corner]
            curve = plant.make("IfcIndexedPolyCurve", plant.make("IfcCartesianPointList2D", rows))
            area = plant.make("IfcArbitraryClosedProfileDef", "AREA", None, curve)
        elif outlined:
            area = plant.make("IfcArbitraryClosedProfileDef", "AREA", None, draft.line(*corner))
        else:
            middle = plant.make("IfcAxis2Placement2D", plant.point(n(long / 2), n(wide / 2)), None)
            area = plant.make("IfcRectangleProfileDef", "AREA", None, middle, n(long), n(wide))
        solid = plant.make(
            "IfcExtrudedAreaSolid", area, plant.axes(0, 0, 0), plant.direction(0, 0, 1), n(high)
        )
        draft.put("IfcCableCarrierSegment", [solid], "tray")

    def check(reading: ImportedRoutes) -> None:
        (route,) = reading.routes
        middle = ((0, wide / 2, high / 2), (long, wide / 2, high / 2))
        the_line(route, setting.world(*middle))
        assert route.outer_diameter is None
        said(reading, "swept across: its axis is its longest side")
        assert states(reading) == ["guessed"]

    outline = "outline" if outlined else "rectangle"
    name = f"tray {long:g} x {wide:g} x {high:g}, {outline}, {setting.schema} {setting.unit}"
    return Case(name, ".ifc", written(setting, draw), check)


def deck_plate(draft: Draft) -> None:
    """A plate of 7000 x 7000 x 100, which has no axis."""
    plant = draft.plant
    area = plant.make("IfcRectangleProfileDef", "AREA", None, None, 7000.0, 7000.0)
    solid = plant.make("IfcExtrudedAreaSolid", area, None, plant.direction(0, 0, 1), 100.0)
    draft.put("IfcCableCarrierSegment", [solid], "deck plate")


def plate() -> Case:
    """A plate beside a conduit: named in the table, and the conduit stays."""

    def draw(draft: Draft) -> None:
        deck_plate(draft)
        draft.conduit((0, 9000, 0), (5000, 9000, 0))

    def check(reading: ImportedRoutes) -> None:
        (route,) = reading.routes
        the_line(route, PLAIN.world((0, 9000, 0), (5000, 9000, 0)))
        (lost,) = reading.elements
        assert (lost.name, lost.state) == ("deck plate", "missing")
        said(reading, "no axis: a plate of 7 x 7 x 0.1 m")

    return Case("a plate beside a conduit", ".ifc", written(PLAIN, draw), check)


# --- 2 and 3: swept disks along polylines ------------------------------------------------------


def polygonal(setting: Setting, fillet: float) -> Case:
    corners = ((0, 0, 0), (5000, 0, 0), (5000, 4000, 0))

    def draw(draft: Draft) -> None:
        disk = draft.plant.make(
            "IfcSweptDiskSolidPolygonal", draft.line(*corners), draft.n(50),
            FilletRadius=draft.n(fillet),
        )  # fmt: skip
        draft.put("IfcPipeSegment", [disk])

    def check(reading: ImportedRoutes) -> None:
        (route,) = reading.routes
        the_line(route, setting.world(*corners), (0, fillet / 1000, 0))
        by_hand = (9000 - 2 * fillet + math.pi / 2 * fillet) / 1000
        assert abs(length(route) - by_hand) < 1e-6
        assert route.outer_diameter is not None and abs(route.outer_diameter - 0.1) < CLOSE

    name = f"swept disk, fillets of {fillet:g}, {setting.schema} {setting.unit}"
    return Case(name, ".ifc", written(setting, draw), check)


def repeated(setting: Setting) -> Case:
    corners = ((0, 0, 0), (5000, 0, 0), (5000, 0, 0), (5000, 4000, 0))

    def draw(draft: Draft) -> None:
        disk = draft.plant.make("IfcSweptDiskSolid", draft.line(*corners), draft.n(50))
        draft.put("IfcPipeSegment", [disk])

    def check(reading: ImportedRoutes) -> None:
        (route,) = reading.routes
        the_line(route, setting.world(corners[0], corners[1], corners[3]))
        said(reading, "1 repeated point dropped", "turns without a radius (90°)")
        assert states(reading) == ["guessed", "sharp"]

    name = f"a point twice, {setting.schema} {setting.unit}"
    return Case(name, ".ifc", written(setting, draw), check)


def part_of_a_directrix() -> Case:
    """From parameter 0.5 to 1.75: half of the first leg and three quarters of the second."""

    def draw(draft: Draft) -> None:
        line = draft.line((0, 0, 0), (6000, 0, 0), (6000, 4000, 0))
        disk = draft.plant.make("IfcSweptDiskSolid", line, 50.0, None, 0.5, 1.75)
        draft.put("IfcPipeSegment", [disk])

    def check(reading: ImportedRoutes) -> None:
        the_line(reading.routes[0], PLAIN.world((3000, 0, 0), (6000, 0, 0), (6000, 3000, 0)))

    return Case("a part of a directrix", ".ifc", written(PLAIN, draw), check)


# --- 4: maps that scale unevenly ---------------------------------------------------------------


def squeezed(setting: Setting, scales: Sequence[float]) -> Case:
    def draw(draft: Draft) -> None:
        draft.put("IfcPipeSegment", [draft.mapped(draft.rod((0, 0, 0), (0, 0, 1000)), scales)])

    def check(reading: ImportedRoutes) -> None:
        (route,) = reading.routes
        the_line(route, setting.world((0, 0, 0), (0, 0, 1000 * scales[2])))
        if scales[0] == scales[1]:
            assert route.outer_diameter is not None
            assert abs(route.outer_diameter - 0.1 * scales[0]) < CLOSE
        else:
            assert route.outer_diameter is None
            said(reading, "an oval section: no diameter")

    name = f"mapped by {scales}, {setting.schema} {setting.unit}"
    return Case(name, ".ifc", written(setting, draw), check)


# --- 5 and 6: prisms of faces ------------------------------------------------------------------


def ring(sides: int, radius: float) -> Vector:
    angles = 2 * np.pi * np.arange(sides) / sides
    return np.column_stack((np.cos(angles), np.sin(angles), np.zeros(sides))) * radius


def faceted(setting: Setting, kind: str, start: Sequence[float], end: Sequence[float],
            sides: int = 24, radius: float = 50) -> Case:  # fmt: skip
    """A prism between two points, its points shuffled."""

    def draw(draft: Draft) -> None:
        a, b = np.array(start, dtype=float), np.array(end, dtype=float)
        along = (b - a) / np.linalg.norm(b - a)
        u = np.cross(along, np.eye(3)[int(np.argmin(np.abs(along)))])
        u /= np.linalg.norm(u)
        flat = ring(sides, radius) @ np.array((u, np.cross(along, u), along))
        rows = np.vstack((a + flat, b + flat))
        after = [(i + 1) % sides for i in range(sides)]
        loops = [[i, after[i], sides + after[i], sides + i] for i in range(sides)]
        caps = [list(range(sides))[::-1], list(range(sides, 2 * sides))]
        if kind == "IfcTriangulatedFaceSet":
            quads = [[q[i] for i in t] for q in loops for t in ((0, 1, 2), (0, 2, 3))]
            fans = [[c[0], c[i], c[i + 1]] for c in caps for i in range(1, sides - 1)]
            loops = [*quads, *fans]
            assert len(loops) == 4 * sides - 4
        elif kind != "IfcShellBasedSurfaceModel":
            loops += caps
        order = np.random.default_rng(7).permutation(len(rows))
        place = np.argsort(order)
        loops = [[int(place[i]) for i in loop] for loop in loops]
        draft.put("IfcCableCarrierSegment", [draft.mesh(rows[order], loops, kind)])

    def check(reading: ImportedRoutes) -> None:
        (route,) = reading.routes
        the_line(route, setting.world(start, end))
        if sides < 12:
            assert route.outer_diameter is None
            said(reading, f"{sides} flats, ")
            said(reading, f"no diameter taken, {2 * radius} mm across corners")
            return
        assert route.outer_diameter is not None
        assert abs(route.outer_diameter - 2 * radius / 1000) < CLOSE
        said(reading, f"axis and diameter taken from its faces: {sides} flats, ")

    name = f"{kind} of {sides} sides, {setting.schema} {setting.unit}"
    return Case(name, ".ifc", written(setting, draw), check)


def stretched_shell(setting: Setting) -> Case:
    """16 sides without caps, 1450 long, mapped to 3900."""

    def draw(draft: Draft) -> None:
        flat = ring(16, 50)
        rows = np.vstack((flat, flat + (0, 0, 1450)))
        loops = [[i, (i + 1) % 16, 16 + (i + 1) % 16, 16 + i] for i in range(16)]
        shell = draft.mesh(rows, loops, "IfcShellBasedSurfaceModel")
        draft.put("IfcPipeSegment", [draft.mapped(shell, (1.0, 1.0, 3900 / 1450))])

    def check(reading: ImportedRoutes) -> None:
        the_line(reading.routes[0], setting.world((0, 0, 0), (0, 0, 3900)))
        assert abs((reading.routes[0].outer_diameter or 0) - 0.1) < CLOSE

    name = f"a stretched shell, {setting.schema} {setting.unit}"
    return Case(name, ".ifc", written(setting, draw), check)


def block(setting: Setting, sides: Sequence[float]) -> Case:
    """A box of six faces: the longest side is its axis."""

    def draw(draft: Draft) -> None:
        corners = np.array(np.meshgrid(*[(0, 1)] * 3, indexing="ij")).reshape(3, -1).T
        loops = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
        draft.put(
            "IfcDuctSegment", [draft.mesh(corners * np.array(sides), loops, "IfcFacetedBrep")]
        )

    def check(reading: ImportedRoutes) -> None:
        ends = np.array([sides, sides], dtype=float) / 2
        long = int(np.argmax(sides))
        ends[:, long] = (0, sides[long])
        the_line(reading.routes[0], setting.world(*ends))
        assert reading.routes[0].outer_diameter is None

    name = f"a box of faces {sides}, {setting.schema}"
    return Case(name, ".ifc", written(setting, draw), check)


def solid(
    name: str,
    draw: Callable[[Draft], Any],
    ends: Sequence[Sequence[float]],
    diameter: float | None,
    setting: Setting = PLAIN,
    close: float = CLOSE,
) -> Case:
    """A segment of one or more other solids, its axis and diameter in mm by hand."""

    def write(draft: Draft) -> None:
        found = draw(draft)
        draft.put("IfcPipeSegment", found if isinstance(found, list) else [found])

    def check(reading: ImportedRoutes) -> None:
        (route,) = reading.routes
        the_line(route, setting.world(*ends), close=close)
        if diameter is None:
            assert route.outer_diameter is None
        else:
            assert abs((route.outer_diameter or 0) - diameter / 1000) < close

    return Case(f"{name}, {setting.schema}", ".ifc", written(setting, write), check)


def csg_cylinder(draft: Draft) -> Any:
    make = draft.plant.make
    place = draft.plant.axes(*map(draft.n, (100, 200, 300)), z=(1, 0, 0), x=(0, 1, 0))
    return make("IfcCsgSolid", make("IfcRightCircularCylinder", place, draft.n(5000), draft.n(50)))


def advanced_cylinder(draft: Draft) -> Any:
    """A cylinder of radius 60 from z = 0 to 2500 as one curved and two flat faces."""
    plant, n = draft.plant, draft.n
    make = plant.make
    rims, seams = [], []
    for z in (0, 2500):
        vertex = make("IfcVertexPoint", plant.point(n(60), 0, n(z)))
        circle = make("IfcCircle", plant.axes(0, 0, n(z)), n(60))
        rims.append(make("IfcEdgeCurve", vertex, vertex, circle, True))
        seams.append(vertex)
    along = make(
        "IfcLine", seams[0].VertexGeometry, make("IfcVector", plant.direction(0, 0, 1), 1.0)
    )
    seam = make("IfcEdgeCurve", *seams, along, True)

    def face(surface: Any, *edges: tuple[Any, bool]) -> Any:
        loop = make(
            "IfcEdgeLoop", [make("IfcOrientedEdge", None, None, e, way) for e, way in edges]
        )
        return make("IfcAdvancedFace", [make("IfcFaceOuterBound", loop, True)], surface, True)

    round_ = make("IfcCylindricalSurface", plant.axes(0, 0, 0), n(60))
    flat = [make("IfcPlane", plant.axes(0, 0, n(z))) for z in (0, 2500)]
    faces = [
        face(round_, (rims[0], True), (seam, True), (rims[1], False), (seam, False)),
        face(flat[0], (rims[0], False)),
        face(flat[1], (rims[1], True)),
    ]
    return make("IfcAdvancedBrep", make("IfcClosedShell", faces))


def rounded_prism(draft: Draft) -> Any:
    """A prism along (2, 1, 2)/3 whose points are rounded to whole millimeters."""
    along = np.array((2, 1, 2)) / 3
    u = np.array((1, -2, 0)) / math.sqrt(5)
    flat = ring(24, 50) @ np.array((u, np.cross(along, u), along))
    rows = np.round(np.vstack((flat, flat + (2000, 1000, 2000))))
    loops = [[i, (i + 1) % 24, 24 + (i + 1) % 24, 24 + i] for i in range(24)]
    return draft.mesh(rows, [*loops, range(24), range(24, 48)], "IfcPolygonalFaceSet")


def flanged(draft: Draft) -> Any:
    """A tube of radius 50 with flanges of radius 90."""
    rings = ((0, 90), (20, 90), (20, 50), (3000, 50), (3000, 90), (3020, 90))
    rows = np.vstack([ring(24, r) + (0, 0, z) for z, r in rings])
    loops = [
        [k * 24 + i, k * 24 + (i + 1) % 24, k * 24 + 24 + (i + 1) % 24, k * 24 + 24 + i]
        for k in range(5)
        for i in range(24)
    ]
    return draft.mesh(rows, [*loops, range(24), range(120, 144)], "IfcFacetedBrep")


def walls_of_a_tray(draft: Draft) -> Any:
    """A bottom of 300 x 2 and two walls of 2 x 100, 3000 long along x."""
    plant, n = draft.plant, draft.n
    found = []
    for x, y, wide, high in ((0, -1, 300, 2), (-149, 50, 2, 100), (149, 50, 2, 100)):
        middle = plant.make("IfcAxis2Placement2D", plant.point(n(x), n(y)), None)
        area = plant.make("IfcRectangleProfileDef", "AREA", None, middle, n(wide), n(high))
        place = plant.axes(0, 0, 0, z=(1, 0, 0), x=(0, 1, 0))
        found.append(
            plant.make("IfcExtrudedAreaSolid", area, place, plant.direction(0, 0, 1), n(3000))
        )
    return found


def short_with_ports() -> Case:
    """A duct stub of 600 x 600 x 200, which could run any way: its ports say which."""

    def draw(draft: Draft) -> None:
        plant = draft.plant
        area = plant.make("IfcRectangleProfileDef", "AREA", None, None, 600.0, 600.0)
        body = plant.make("IfcExtrudedAreaSolid", area, None, plant.direction(0, 0, 1), 200.0)
        stub = draft.put("IfcDuctSegment", [body], "stub")
        draft.port(stub, -300, 0, 100)
        draft.port(stub, 300, 0, 100)

    def check(reading: ImportedRoutes) -> None:
        the_line(reading.routes[0], PLAIN.world((-300, 0, 100), (300, 0, 100)))
        said(reading, "drawn straight from port to port, 0.6 m")

    return Case("a stub whose ports say its axis", ".ifc", written(PLAIN, draw), check)


def two_elbows() -> Case:
    """Two bends of faces one behind the other: each rim says where the next begins."""

    def draw(draft: Draft) -> None:
        rows, loops = torus(500, 50, math.pi / 2)
        one, two = (
            draft.conduit((-3000, 0, 0), (0, 0, 0)),
            draft.conduit((1000, 1000, 0), (4000, 1000, 0)),
        )
        first = draft.put("IfcPipeFitting", [draft.mesh(rows, loops, "IfcFacetedBrep")])
        other = rows[:, [1, 0, 2]] + (500, 500, 0)
        second = draft.put("IfcPipeFitting", [draft.mesh(other, loops, "IfcFacetedBrep")])
        draft.connect(one, first, 0, 0, 0)
        draft.connect(first, second, 500, 500, 0)
        draft.connect(second, two, 1000, 1000, 0)

    def check(reading: ImportedRoutes) -> None:
        corners = PLAIN.world((-3000, 0, 0), (500, 0, 0), (500, 1000, 0), (4000, 1000, 0))
        the_line(reading.routes[0], corners, (0, 0.5, 0.5, 0))

    return Case("two elbows of faces in a row", ".ifc", written(PLAIN, draw), check)


# --- 7: elbows of faces ------------------------------------------------------------------------


def torus(radius: float, around: float, turn: float) -> tuple[Vector, list[list[int]]]:
    """Rows and faces of a bend about the z axis, from angle -90° on, center (0, radius, 0)."""
    steps, sides = 7, 12
    rows = []
    for k in range(steps):
        a = turn * k / (steps - 1)
        out = np.array((math.sin(a), -math.cos(a), 0.0))
        middle = np.array((0, radius, 0)) + radius * out
        for i in range(sides):
            b = 2 * math.pi * i / sides
            rows.append(middle + around * (math.cos(b) * out + math.sin(b) * np.array((0, 0, 1))))
    loops = []
    for k in range(steps - 1):
        for i in range(sides):
            j = (i + 1) % sides
            loops.append([k * sides + i, k * sides + j, (k + 1) * sides + j, (k + 1) * sides + i])
    loops += [list(range(sides))[::-1], list(range((steps - 1) * sides, steps * sides))]
    return np.array(rows), loops


def elbow(setting: Setting, setback: float, degrees: float, ports: bool) -> Case:
    """Two conduits along x and turned from it, and the bend between them as faces."""
    turn = math.radians(degrees)
    radius = setback / math.tan(turn / 2)
    way = np.array((math.cos(turn), math.sin(turn), 0.0))
    vertex = np.array((4000.0 + setback, 0, 0))
    after, end = vertex + setback * way, vertex + (setback + 3000) * way

    def draw(draft: Draft) -> None:
        one = draft.conduit((0, 0, 0), (4000, 0, 0))
        two = draft.conduit(after.tolist(), end.tolist())
        rows, loops = torus(radius, 50, turn)
        body = draft.mesh(rows + (4000, 0, 0), loops, "IfcFacetedBrep")
        bend = draft.put("IfcCableCarrierFitting", [body], "bend 1")
        if ports:
            draft.connect(one, bend, 4000, 0, 0)
            draft.connect(bend, two, *after.tolist())
        draft.plant.system("F1", one, two, bend)

    def check(reading: ImportedRoutes) -> None:
        (route,) = reading.routes
        the_line(route, setting.world((0, 0, 0), vertex, end), (0, radius / 1000, 0))
        (bent,) = reading.elements
        assert (bent.name, bent.state, bent.run) == ("bend 1", "guessed", "F1")
        said(reading, f"elbow of radius {radius / 1000:.4g} m")

    how = "ports" if ports else "no ports"
    name = f"elbow of faces {degrees:g}°, {how}, {setting.schema} {setting.unit}"
    return Case(name, ".ifc", written(setting, draw), check)


def no_elbow() -> Case:
    """A fitting without geometry between axes that pass each other: two parts, and said."""

    def draw(draft: Draft) -> None:
        one = draft.conduit((0, 0, 0), (4000, 0, 0))
        two = draft.conduit((4300, 300, 700), (4300, 3000, 700))
        rows, loops = torus(300, 50, math.pi / 2)
        body = draft.mesh(rows * (1, 1, 8) + (4000, 0, 0), loops, "IfcFacetedBrep")
        bend = draft.put("IfcCableCarrierFitting", [body], "odd bend")
        draft.plant.system("F1", one, two, bend)

    def check(reading: ImportedRoutes) -> None:
        assert len(reading.routes) == 2
        assert "broken" in states(reading)
        assert any(e.name == "odd bend" for e in reading.elements)

    return Case("an elbow whose axes pass each other", ".ifc", written(PLAIN, draw), check)


# --- 8 and 9: boxes, valves, tees --------------------------------------------------------------


def through_box(setting: Setting, kind: str, ports: bool = True) -> Case:
    """Conduit, a box of 400 x 300 x 200, conduit: one run of 8.4 m with a pull point."""

    def draw(draft: Draft) -> None:
        plant, n = draft.plant, draft.n
        segment = "IfcPipeSegment" if kind == "IfcValve" else "IfcCableCarrierSegment"
        one = draft.put(segment, [draft.rod((0, 0, 0), (5000, 0, 0))])
        two = draft.put(segment, [draft.rod((5400, 0, 0), (8400, 0, 0))])
        area = plant.make("IfcRectangleProfileDef", "AREA", None, None, n(400), n(300))
        solid = plant.make(
            "IfcExtrudedAreaSolid", area, plant.axes(n(5200), 0, n(-100)),
            plant.direction(0, 0, 1), n(200),
        )  # fmt: skip
        box = draft.put(kind, [solid], "PB-1")
        if ports:
            draft.connect(one, box, 5000, 0, 0)
            draft.connect(box, two, 5400, 0, 0)
        plant.system("F1", one, box, two)

    def check(reading: ImportedRoutes) -> None:
        (route,) = reading.routes
        the_line(route, setting.world((0, 0, 0), (5200, 0, 0), (8400, 0, 0)))
        assert route.names[1] == "PB-1" and route.access[1] == {"reel", "machine"}
        assert route.boxes[1] is not None
        assert np.abs(np.array(route.boxes[1]) - (0.4, 0.3, 0.2)).max() < CLOSE
        (box,) = reading.elements
        assert (box.name, box.state, box.run) == ("PB-1", "guessed", "F1")
        assert box.said == "taken as a pull point with reel and machine access"
        assert not any(box.kind in text for text in reading.ignored)

    how = "" if ports else ", no ports"
    name = f"through an {kind}{how}, {setting.schema} {setting.unit}"
    return Case(name, ".ifc", written(setting, draw), check)


def end_boxes() -> Case:
    """Boxes at both ends: drawn into the middle of one, and 60 mm short of the other."""

    def draw(draft: Draft) -> None:
        run = draft.put("IfcCableCarrierSegment", [draft.rod((300, 0, 0), (5940, 0, 0))])
        plant, boxes = draft.plant, []
        for name, x in (("PB-4", 300), ("PB-5", 6300)):
            area = plant.make("IfcRectangleProfileDef", "AREA", None, None, 600.0, 400.0)
            place = plant.axes(x, 0, -100)
            solid = plant.make("IfcExtrudedAreaSolid", area, place, plant.direction(0, 0, 1), 200.0)
            boxes.append(draft.put("IfcJunctionBox", [solid], name))
        draft.connect(boxes[0], run, 600, 0, 0)
        draft.connect(run, boxes[1], 6000, 0, 0)

    def check(reading: ImportedRoutes) -> None:
        (route,) = reading.routes
        the_line(route, PLAIN.world((600, 0, 0), (6000, 0, 0)))
        assert {frozenset(route.names)} == {frozenset({"PB-4", "PB-5"})}
        for box in route.boxes:
            assert box is not None
            assert np.abs(np.array(box) - (0.6, 0.4, 0.2)).max() < CLOSE
        assert states(reading) == ["guessed", "guessed"]
        said(reading, "the run ends at its port, drawn 300 mm off")
        said(reading, "the run ends at its port, drawn 60 mm off")

    return Case("boxes at both ends", ".ifc", written(PLAIN, draw), check)


def corner_box() -> Case:
    """A box where the run turns: a pull point at the corner, which is not sharp."""

    def draw(draft: Draft) -> None:
        one, two = (
            draft.conduit((0, 0, 0), (5000, 0, 0)),
            draft.conduit((5300, 300, 0), (5300, 4000, 0)),
        )
        plant = draft.plant
        area = plant.make("IfcRectangleProfileDef", "AREA", None, None, 600.0, 600.0)
        solid = plant.make(
            "IfcExtrudedAreaSolid", area, plant.axes(5300, 0, -200), plant.direction(0, 0, 1), 400.0
        )
        box = draft.put("IfcDistributionChamberElement", [solid], "PB-2")
        draft.connect(one, box, 5000, 0, 0)
        draft.connect(box, two, 5300, 300, 0)

    def check(reading: ImportedRoutes) -> None:
        (route,) = reading.routes
        the_line(route, PLAIN.world((0, 0, 0), (5300, 0, 0), (5300, 4000, 0)))
        assert route.names[1] == "PB-2" and route.boxes[1] is not None
        assert states(reading) == ["guessed"]
        said(reading, "taken as a pull point with reel and machine access; the run turns 90° there")

    return Case("a box at a corner", ".ifc", written(PLAIN, draw), check)


def offset_box() -> Case:
    """What enters a box 60 mm higher than it leaves meets in its middle, without a corner."""

    def draw(draft: Draft) -> None:
        one = draft.conduit((0, 0, 60), (5000, 0, 60))
        two = draft.conduit((5400, 0, 0), (9000, 0, 0))
        plant = draft.plant
        area = plant.make("IfcRectangleProfileDef", "AREA", None, None, 400.0, 300.0)
        place = plant.axes(5200, 0, -100)
        solid = plant.make("IfcExtrudedAreaSolid", area, place, plant.direction(0, 0, 1), 300.0)
        box = draft.put("IfcJunctionBox", [solid], "PB-3")
        draft.connect(one, box, 5000, 0, 60)
        draft.connect(box, two, 5400, 0, 0)

    def check(reading: ImportedRoutes) -> None:
        the_line(reading.routes[0], PLAIN.world((0, 0, 60), (5200, 0, 30), (9000, 0, 0)))
        assert states(reading) == ["guessed"]
        said(reading, "passes its middle by 30 mm: led to it")

    return Case("a box entered at two heights", ".ifc", written(PLAIN, draw), check)


def tee(setting: Setting, ports: bool) -> Case:
    """Three trays at a tee whose body is shown twice: three runs to its middle, no fourth."""
    arms = {"west": (-4000, 0, 0), "east": (5000, 0, 0), "north": (0, 3000, 0)}

    def draw(draft: Draft) -> None:
        plant = draft.plant
        solids = [draft.rod((-300, 0, 0), (300, 0, 0)), draft.rod((0, 0, 0), (0, 300, 0))]
        more = {} if setting.schema == "IFC2X3" else {"PredefinedType": "TEE"}
        middle = draft.put("IfcCableCarrierFitting", solids, "TEE-7", **more)
        again = plant.make(
            "IfcShapeRepresentation", plant.body, "Body", "SweptSolid",
            [draft.rod((-300, 0, 0), (300, 0, 0), 55)],
        )  # fmt: skip
        shape = middle.Representation
        shape.Representations = [*shape.Representations, again]
        segments = []
        for name, far in arms.items():
            way = np.array(far) / np.linalg.norm(far)
            near = (300 * way).tolist()
            segments.append(draft.conduit(far, near, name))
            if ports:
                draft.connect(segments[-1], middle, *near)
        plant.system("trays", *segments, middle)

    def check(reading: ImportedRoutes) -> None:
        assert len(reading.routes) == 3
        for route, far in zip(reading.routes, arms.values(), strict=True):
            ends = setting.world(far, (0, 0, 0))
            assert abs(length(route) - np.linalg.norm(far) / 1000) < CLOSE
            assert np.linalg.norm(route.points[[0, -1]] - ends[1], axis=1).min() < CLOSE
            assert "TEE-7" in (route.names[0], route.names[-1])
        (branch,) = reading.elements
        assert (branch.name, branch.kind, branch.state) == (
            "TEE-7",
            "IfcFlowFitting" if setting.schema == "IFC2X3" else "IfcCableCarrierFitting",
            "guessed",
        )

    how = "ports" if ports else "no ports"
    return Case(
        f"a tee, {how}, {setting.schema} {setting.unit}", ".ifc", written(setting, draw), check
    )


def at_ports(gap: float) -> Case:
    """Connected conduits drawn apart (or into each other) are one run, and the gap is named."""

    def draw(draft: Draft) -> None:
        one = draft.conduit((0, 0, 0), (5000, 0, 0), "A")
        two = draft.conduit((5000 + gap, 0, 0), (9000, 0, 0), "B")
        ends = [draft.port(one, 5000, 0, 0), draft.port(two, 5000 + gap, 0, 0)]
        draft.plant.make("IfcRelConnectsPorts", ifcopenshell.guid.new(), None, None, None, *ends)

    def check(reading: ImportedRoutes) -> None:
        (route,) = reading.routes
        assert abs(length(route) - 9.0) < CLOSE
        assert states(reading) == ["guessed"]
        size = f"{abs(gap):g} mm"
        said(reading, f"gap of {size} to B closed" if gap > 0 else f"overlaps B by {size}")

    return Case(f"{gap:g} mm between connected ports", ".ifc", written(PLAIN, draw), check)


def far_ports() -> Case:
    """Connected conduits 3 m apart: two runs, and the connection is broken."""

    def draw(draft: Draft) -> None:
        one = draft.conduit((0, 0, 0), (5000, 0, 0), "A")
        two = draft.conduit((8000, 2000, 0), (9000, 2000, 0), "B")
        ends = [draft.port(one, 5000, 0, 0), draft.port(two, 8000, 2000, 0)]
        draft.plant.make("IfcRelConnectsPorts", ifcopenshell.guid.new(), None, None, None, *ends)

    def check(reading: ImportedRoutes) -> None:
        assert len(reading.routes) == 2
        assert states(reading) == ["broken"]
        said(reading, "connected to B, but 3.606 m away from it")

    return Case("connected ports far apart", ".ifc", written(PLAIN, draw), check)


# --- 10: one corner that no radius fits --------------------------------------------------------


def one_bad_corner() -> Case:
    def draw(draft: Draft) -> None:
        for i in range(10):
            y = 1000 * i
            line = draft.line((0, y, 0), (5000, y, 0), (5000, y, 4000 if i != 6 else 400))
            disk = draft.plant.make("IfcSweptDiskSolidPolygonal", line, 50.0, FilletRadius=600.0)
            run = draft.put("IfcCableCarrierSegment", [disk], f"conduit {i}")
            draft.plant.system(f"F{i}", run)

    def check(reading: ImportedRoutes) -> None:
        assert [r.name for r in reading.routes] == [f"F{i}" for i in range(10)]
        radii = [float(r.radii[1]) for r in reading.routes]
        assert np.abs(np.delete(radii, 6) - 0.6).max() < CLOSE and radii[6] == 0
        (corner,) = reading.elements
        assert (corner.kind, corner.name, corner.state, corner.run) == (
            "IfcCableCarrierSegment", "point 2", "sharp", "F6",
        )  # fmt: skip
        assert len(corner.handle) == 22
        said(reading, "a bend of 0.6 m does not fit")

    return Case("one corner that no radius fits", ".ifc", written(PLAIN, draw), check)


# --- 11: files that break their schema ---------------------------------------------------------


def altered(name: str, change: Callable[[str], str], word: str) -> Case:
    """A conduit in a file of which the text is changed: it reads, and the change is told."""

    def write(path: Path) -> None:
        draft = Draft.new(PLAIN)
        plant = draft.plant
        run = draft.conduit((0, 0, 0), (5000, 0, 0))
        make = plant.make
        firm = make("IfcOrganization", None, "x")
        person = make("IfcPersonAndOrganization", make("IfcPerson", "a"), firm)
        program = make("IfcApplication", firm, "1", "n", "n")
        run.OwnerHistory = make(
            "IfcOwnerHistory", person, program, None, "ADDED", None, CreationDate=1
        )
        label = make("IfcPropertySingleValue", "color", None, make("IfcLabel", "gray"))
        held = make("IfcPropertySet", ifcopenshell.guid.new(), None, "Any", None, [label])
        make("IfcRelDefinesByProperties", ifcopenshell.guid.new(), None, None, None, [run], held)
        text = plant.model.to_string()
        assert change(text) != text
        path.write_text(change(text))

    def check(reading: ImportedRoutes) -> None:
        the_line(reading.routes[0], PLAIN.world((0, 0, 0), (5000, 0, 0)))
        assert any(word in line for line in reading.ignored), reading.ignored

    return Case(name, ".ifc", write, check)


def dangling(text: str) -> str:
    return re.sub(r"(IFCPROPERTYSET\([^;]*\((#\d+))\)\);", r"\1,#99999));", text)


def damaged_point() -> Case:
    """A point that is missing breaks the conduit it belongs to, and no other."""

    def write(path: Path) -> None:
        draft = Draft.new(PLAIN)
        axis = draft.line((0, 0, 0), (5000, 0, 0), (9000, 0, 0))
        draft.plant.system("F1", draft.put("IfcPipeSegment", [], "whole", axis))
        other = draft.line((0, 2000, 0), (5000, 2000, 0), (9000, 2000, 0))
        draft.plant.system("F2", draft.put("IfcPipeSegment", [], "torn", other))
        text = draft.plant.model.to_string()
        number = other.Points[1].id()
        path.write_text(re.sub(rf"(IFCPOLYLINE\([^;]*)#{number}\b", r"\1#99999", text))

    def check(reading: ImportedRoutes) -> None:
        assert [r.name for r in reading.routes] == ["F1"]
        assert [(e.name, e.state) for e in reading.elements] == [("torn", "missing")]
        said(reading, "damaged in the file")

    return Case("a missing point of one of two", ".ifc", write, check)


# --- 12: stubs, units, classes -----------------------------------------------------------------


def stub(size: float) -> Case:
    def draw(draft: Draft) -> None:
        draft.conduit((0, 0, 0), (0, size, 0))

    def check(reading: ImportedRoutes) -> None:
        assert abs(length(reading.routes[0]) - size / 1000) < CLOSE
        said(reading, "is only")

    return Case(f"a stub of {size:g} mm", ".ifc", written(PLAIN, draw), check)


def without_units() -> Case:
    def draw(draft: Draft) -> None:
        draft.conduit((0, 0, 0), (5000, 0, 0))
        draft.plant.model.by_type("IfcProject")[0].UnitsInContext = None

    def check(reading: ImportedRoutes) -> None:
        the_line(reading.routes[0], PLAIN.world((0, 0, 0), (5000, 0, 0)))
        said(reading, "the project has no unit of length")

    options = ReadOptions(units="mm")
    return Case("no unit, mm asked for", ".ifc", written(PLAIN, draw), check, options)


def classes(chosen: tuple[str, ...], expected: Sequence[tuple[float, float]]) -> Case:
    """A conduit with its elbow, a pipe and a cable in one system; (y in mm, length in m) chosen."""

    def draw(draft: Draft) -> None:
        put, half = draft.put, math.sqrt(0.5)
        arc = draft.plant.indexed(
            ((5000, 0, 0), (5000 + 1000 * half, 1000 - 1000 * half, 0), (6000, 1000, 0)),
            (1, 2, 3),
        )  # fmt: skip
        members = [
            put("IfcCableCarrierSegment", [draft.rod((0, 0, 0), (5000, 0, 0))],
                PredefinedType="CONDUITSEGMENT"),
            put("IfcCableCarrierFitting", [], axis=arc, PredefinedType="BEND"),
            put("IfcPipeSegment", [draft.rod((0, 2000, 0), (7000, 2000, 0))]),
            put("IfcCableSegment", [draft.rod((0, 4000, 0), (8000, 4000, 0))]),
            put("IfcCableCarrierSegment", [draft.rod((0, 6000, 0), (9000, 6000, 0))],
                PredefinedType="CABLETRAYSEGMENT"),
        ]  # fmt: skip
        draft.plant.system("mixed", *members)

    def check(reading: ImportedRoutes) -> None:
        found = sorted((float(r.points[:, 1].min()) * 1000, length(r)) for r in reading.routes)
        assert np.abs(np.array(found) - np.array(expected)).max() < 1e-6, found
        assert any("1 IfcCableCarrierSegment CONDUITSEGMENT" in line for line in reading.used)

    name = f"classes {', '.join(chosen) or 'all'}"
    return Case(name, ".ifc", written(PLAIN, draw), check, ReadOptions(classes=chosen))


# --- smooth curves -----------------------------------------------------------------------------


def curved(name: str, draw: Callable[[Draft], Any], by_hand: float, within: float) -> Case:
    """A bare axis of a smooth curve, its length by hand in m."""

    def check(reading: ImportedRoutes) -> None:
        (route,) = reading.routes
        assert abs(length(route) - by_hand) < within, length(route)
        assert "sharp" not in states(reading)
        said(reading, "taken as", "within")

    def write(draft: Draft) -> None:
        draft.put("IfcPipeSegment", [], axis=draw(draft))

    return Case(name, ".ifc", written(PLAIN, write), check)


def quarter_ellipse(draft: Draft) -> Any:
    plant = draft.plant
    ellipse = plant.make("IfcEllipse", plant.axes(0, 0, 0), 3000.0, 2000.0)
    ends = [[plant.make("IfcParameterValue", v)] for v in (0.0, math.pi / 2)]
    return plant.make("IfcTrimmedCurve", ellipse, *ends, True, "PARAMETER")


def parabola(draft: Draft) -> Any:
    """Y = x² / 4 m from x = 0 to 4 m, as a spline of degree 2."""
    poles = draft.points(((0, 0, 0), (2000, 0, 0), (4000, 4000, 0)))
    return draft.plant.make(
        "IfcBSplineCurveWithKnots", 2, poles, "UNSPECIFIED", False, False, [3, 3], [0.0, 1.0],
        "UNSPECIFIED",
    )  # fmt: skip


def squeezed_arc(draft: Draft) -> Any:
    """A quarter of a circle of 1 m, mapped by 3 and 2: the quarter of an ellipse."""
    half = 1000 * math.sqrt(0.5)
    arc = draft.plant.indexed(((1000, 0, 0), (half, half, 0), (0, 1000, 0)), (1, 2, 3))
    return draft.mapped(arc, (3.0, 2.0, 1.0))


def named_segments() -> Case:
    """Three conduits of no system, two of them end to end under one name."""

    def draw(draft: Draft) -> None:
        draft.conduit((0, 0, 0), (5000, 0, 0), "F1")
        draft.conduit((5000, 0, 0), (5000, 4000, 0), "F1")
        draft.conduit((0, 9000, 0), (5000, 9000, 0), "F2")

    def check(reading: ImportedRoutes) -> None:
        assert [r.name for r in reading.routes] == ["F1", "F2"]
        assert any("system" in g and "2 separate lines" in g for g in reading.guessed)

    return Case("runs named by their elements", ".ifc", written(PLAIN, draw), check)


def composite_with_a_gap() -> Case:
    def draw(draft: Draft) -> None:
        parts = [draft.line((0, 0, 0), (5000, 0, 0)), draft.line((5030, 0, 0), (9000, 0, 0))]
        segments = [
            draft.plant.make("IfcCompositeCurveSegment", "CONTINUOUS", True, p) for p in parts
        ]
        draft.put("IfcPipeSegment", [], axis=draft.plant.make("IfcCompositeCurve", segments, False))

    def check(reading: ImportedRoutes) -> None:
        assert abs(length(reading.routes[0]) - 9) < CLOSE
        said(reading, "1 gap in its curve closed, up to 30 mm")

    return Case("a composite curve with a gap", ".ifc", written(PLAIN, draw), check)


# the arc length of y = x²/4 from 0 to 4: sqrt(4 + 16)... by the closed form of the parabola
PARABOLA = 2 * math.sqrt(5) + math.asinh(2)
# Ramanujan 1914: perimeter of the ellipse 3 x 2, a quarter of it
ELLIPSE = math.pi / 4 * (15 - math.sqrt((9 + 2) * (3 + 6)))

CASES = [
    tray(PLAIN, 7000, 300, 100),
    tray(TURNED, 7000, 300, 100, outlined=True),
    tray(TILTED, 3000, 600, 60),
    tray(OLD, 5200, 450, 110, outlined=True),
    plate(),
    polygonal(PLAIN, 600),
    polygonal(Setting("IFC4X3", "ft", TILTED.place), 914.4),
    repeated(PLAIN),
    repeated(OLD),
    part_of_a_directrix(),
    squeezed(PLAIN, (1.0, 1.0, 4.0)),
    squeezed(TURNED, (0.5, 0.5, 2.5)),
    squeezed(PLAIN, (1.0, 2.0, 4.0)),
    faceted(PLAIN, "IfcTriangulatedFaceSet", (100, 200, 300), (14_000, 3_000, 4_000)),
    faceted(TILTED, "IfcTriangulatedFaceSet", (0, 0, 0), (0, 60, 20), 16),
    faceted(TURNED, "IfcPolygonalFaceSet", (0, 0, 0), (-2000, 900, -5000), 8, 110),
    faceted(OLD, "IfcFacetedBrep", (0, 0, 0), (800, 0, 0), 12, 75),
    faceted(OLD, "IfcShellBasedSurfaceModel", (5, 6, 7), (800, 400, 300), 16),
    stretched_shell(PLAIN),
    stretched_shell(OLD),
    block(TURNED, (300, 7000, 100)),
    solid("a cylinder of CSG", csg_cylinder, ((100, 200, 300), (5100, 200, 300)), 100),
    solid("curved faces", advanced_cylinder, ((0, 0, 0), (0, 0, 2500)), 120, TURNED),
    solid("a tube with flanges", flanged, ((0, 0, 0), (0, 0, 3020)), 100, TILTED),
    solid("the walls of a tray", walls_of_a_tray, ((0, 0, 49), (3000, 0, 49)), None, OLD),
    solid("whole millimeters", rounded_prism, ((0, 0, 0), (2000, 1000, 2000)), 100, close=1e-3),
    short_with_ports(),
    two_elbows(),
    elbow(PLAIN, 300, 90, ports=True),
    elbow(TILTED, 450, 45, ports=True),
    elbow(OLD, 300, 90, ports=True),
    elbow(PLAIN, 300, 90, ports=False),
    elbow(TURNED, 500, 60, ports=False),
    no_elbow(),
    through_box(PLAIN, "IfcJunctionBox"),
    through_box(TURNED, "IfcJunctionBox"),
    through_box(TURNED, "IfcValve"),
    through_box(OLD, "IfcValve"),
    through_box(TILTED, "IfcJunctionBox", ports=False),
    end_boxes(),
    corner_box(),
    offset_box(),
    tee(PLAIN, ports=True),
    tee(TILTED, ports=True),
    tee(OLD, ports=True),
    tee(TURNED, ports=False),
    at_ports(40),
    at_ports(-20),
    far_ports(),
    one_bad_corner(),
    altered("READWRITE", lambda t: t.replace(".ADDED.", ".READWRITE."), "READWRITE"),
    altered("a dangling reference", dangling, "#99999"),
    altered("IFC4X3", lambda t: t.replace("'IFC4'", "'IFC4X3'"), "schema IFC4X3 read as"),
    damaged_point(),
    stub(400),
    stub(60),
    without_units(),
    classes((), [(0, 5 + math.pi / 2), (2000, 7), (6000, 9)]),
    classes(("CONDUITSEGMENT",), [(0, 5 + math.pi / 2)]),
    classes(("IfcPipeSegment", "cabletraysegment"), [(2000, 7), (6000, 9)]),
    classes(("IfcCableSegment",), [(4000, 8)]),
    curved("a quarter of an ellipse", quarter_ellipse, ELLIPSE, 2e-3),
    curved("an arc scaled unevenly", squeezed_arc, ELLIPSE, 2e-3),
    curved("a spline", parabola, PARABOLA, 3e-3),
    composite_with_a_gap(),
    named_segments(),
]
