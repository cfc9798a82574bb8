"""IFC models made with the library's own api, the way other people's software makes them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import ifcopenshell
import ifcopenshell.api.aggregate
import ifcopenshell.api.context
import ifcopenshell.api.geometry
import ifcopenshell.api.project
import ifcopenshell.api.root
import ifcopenshell.api.spatial
import ifcopenshell.api.system
import ifcopenshell.api.unit
import numpy as np

from route3d.formats.exchange import ImportedRoutes, ReadOptions
from route3d.formats.ifc.reading import read_ifc
from tests.support.routes import Vector


def turned(degrees: float, axis: Sequence[float], origin: Sequence[float]) -> Vector:
    """A placement as a matrix: turned about an axis, at an origin (Rodrigues' formula)."""
    x, y, z = np.array(axis) / np.linalg.norm(axis)
    k = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    a = math.radians(degrees)
    matrix = np.eye(4)
    matrix[:3, :3] += math.sin(a) * k + (1 - math.cos(a)) * k @ k
    matrix[:3, 3] = origin
    return matrix


@dataclass
class Plant:
    """A model made with the library's own api, in millimeters unless told otherwise."""

    model: Any
    body: Any
    axis: Any
    storey: Any

    @classmethod
    def new(
        cls, schema: str = "IFC4", prefix: str | None = "MILLI", degrees: bool = False
    ) -> Plant:
        api = ifcopenshell.api
        model = api.project.create_file(version=schema)
        project = api.root.create_entity(model, ifc_class="IfcProject", name="ferry terminal")
        unit = api.unit.add_si_unit(model, unit_type="LENGTHUNIT", prefix=prefix)
        angle = (
            api.unit.add_conversion_based_unit(model, name="degree")
            if degrees
            else api.unit.add_si_unit(model, unit_type="PLANEANGLEUNIT")
        )
        api.unit.assign_unit(model, units=[unit, angle])
        whole = api.context.add_context(model, context_type="Model")
        body, axis = (
            api.context.add_context(
                model, context_type="Model", context_identifier=name, target_view=view, parent=whole
            )
            for name, view in (("Body", "MODEL_VIEW"), ("Axis", "GRAPH_VIEW"))
        )
        site = api.root.create_entity(model, ifc_class="IfcSite", name="quay")
        storey = api.root.create_entity(model, ifc_class="IfcBuildingStorey", name="deck")
        api.aggregate.assign_object(model, relating_object=project, products=[site])
        api.aggregate.assign_object(model, relating_object=site, products=[storey])
        return cls(model, body, axis, storey)

    def make(self, kind: str, *values: Any, **named: Any) -> Any:
        return self.model.create_entity(kind, *values, **named)

    def place(self, product: Any, matrix: Vector) -> None:
        ifcopenshell.api.geometry.edit_object_placement(
            self.model,
            product=product,
            matrix=matrix.copy(),
            is_si=False,  # it scales its own
        )

    def element(self, kind: str, shapes: dict[str, list[Any]], matrix: Vector | None = None) -> Any:
        """An element of the storey with its items by the context they are in."""
        element = ifcopenshell.api.root.create_entity(self.model, ifc_class=kind)
        ifcopenshell.api.spatial.assign_container(
            self.model, relating_structure=self.storey, products=[element]
        )
        representations = [
            self.make("IfcShapeRepresentation", getattr(self, name.lower()), name, "Curve3D", items)
            for name, items in shapes.items()
        ]
        if representations:
            element.Representation = self.make(
                "IfcProductDefinitionShape", None, None, representations
            )
        self.place(element, np.eye(4) if matrix is None else matrix)
        return element

    def point(self, *xyz: float) -> Any:
        return self.make("IfcCartesianPoint", [float(c) for c in xyz])

    def direction(self, *xyz: float) -> Any:
        return self.make("IfcDirection", [float(c) for c in xyz])

    def axes(
        self, *xyz: float, z: Sequence[float] | None = None, x: Sequence[float] | None = None
    ) -> Any:
        return self.make(
            "IfcAxis2Placement3D",
            self.point(*xyz),
            None if z is None else self.direction(*z),
            None if x is None else self.direction(*x),
        )

    def polyline(self, *points: Sequence[float]) -> Any:
        return self.make("IfcPolyline", [self.point(*p) for p in points])

    def indexed(self, points: Sequence[Sequence[float]], *segments: tuple[int, ...]) -> Any:
        rows = [[float(c) for c in p] for p in points]
        parts = [self.make("IfcArcIndex" if len(s) == 3 else "IfcLineIndex", s) for s in segments]
        return self.make(
            "IfcIndexedPolyCurve", self.make("IfcCartesianPointList3D", rows), parts or None
        )

    def circle(self, radius: float) -> Any:
        return self.make("IfcCircleProfileDef", "AREA", None, None, radius)

    def system(self, name: str, *elements: Any) -> None:
        kind = "IfcSystem" if self.model.schema == "IFC2X3" else "IfcDistributionSystem"
        group = ifcopenshell.api.system.add_system(self.model, ifc_class=kind)
        group.Name = name
        ifcopenshell.api.system.assign_system(self.model, products=list(elements), system=group)

    def read(self, folder: Path, options: ReadOptions | None = None) -> ImportedRoutes:
        self.model.write(str(folder / "model.ifc"))
        return read_ifc(folder / "model.ifc", options or ReadOptions())


# A route in mm: 10 m along x, a bend of 2 m radius, 5 m along y.
S = math.sqrt(0.5)
CORNERS = np.array([(0, 0, 0), (12, 0, 0), (12, 7, 0)], dtype=float)
ARC = ((10_000, 0, 0), (10_000 + 2000 * S, 2000 - 2000 * S, 0), (12_000, 2000, 0))


def moved(matrix: Vector, points: Vector = CORNERS) -> Vector:
    """Points in m under a placement in mm."""
    placed: Vector = points @ matrix[:3, :3].T + matrix[:3, 3] / 1000
    return placed


def three_axes(plant: Plant, matrix: Vector) -> list[Any]:
    """Two straights and a bend with axis curves, each in a placement of its own."""
    a = plant.element(
        "IfcCableCarrierSegment", {"Axis": [plant.polyline((0, 0, 0), (10_000, 0, 0))]}, matrix
    )
    own = matrix @ turned(90, (0, 0, 1), (12_000, 0, 0))  # its x runs along y
    b = plant.element(
        "IfcCableCarrierSegment", {"Axis": [plant.polyline((2000, 0, 0), (7000, 0, 0))]}, own
    )
    c = plant.element("IfcCableCarrierFitting", {"Axis": [plant.indexed(ARC, (1, 2, 3))]}, matrix)
    return [a, b, c]
