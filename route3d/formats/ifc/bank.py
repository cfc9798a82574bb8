"""A duct bank as an IFC4 model: its ducts as conduits, its concrete as a closed triangulated body.

IFC4 has no class for the concrete of a duct bank: it is an IfcBuildingElementProxy whose ObjectType
is "duct bank", an element assembly with its ducts. The ducts are written as any other run.
"""

from __future__ import annotations

import importlib
import uuid
from typing import TYPE_CHECKING, Any

import numpy as np

from route3d.formats.bank_model import BankModel, duct_route
from route3d.formats.ifc.files import ifcopenshell
from route3d.formats.ifc.writing import ifc_text
from route3d.model.site import GRID, Frame
from route3d.units import METERS

if TYPE_CHECKING:
    import trimesh

_NAMESPACE = uuid.UUID("2f0f4e0b-6a0b-4a55-9b1c-0c9f5a7d3e21")
_STAMP = "2000-01-01T00:00:00"


def bank_ifc_text(model: BankModel, unit: str, frame: Frame = GRID) -> str:
    """The text of the model in the ``unit``, a key of ``METERS``; the same bank, the same text.

    Coordinates stay those of the job: the ``frame`` is an IfcMapConversion.
    """
    routes = [duct_route(duct, model.result.run.route) for duct in model.ducts]
    held = ifcopenshell().file.from_string(ifc_text(routes, unit, frame))
    held.header.file_name.time_stamp = _STAMP
    writer = _Writer(held, 1 / METERS[unit], model.name)
    writer.add(model)
    return str(held.to_string())


class _Writer:
    """Adds the concrete to a model that holds the ducts."""

    def __init__(self, model: Any, scale: float, name: str) -> None:
        self.model, self.scale, self.name = model, scale, name
        self.roots = 0

    def make(self, kind: str, *values: Any, **named: Any) -> Any:
        return self.model.create_entity(kind, *values, **named)

    def root(self, kind: str, **named: Any) -> Any:
        """A new entity with an identity, the same at every writing."""
        self.roots += 1
        guid = importlib.import_module("ifcopenshell.guid")
        made = uuid.uuid5(_NAMESPACE, f"{self.roots} {kind} {self.name}")
        return self.make(kind, guid.compress(made.hex), **named)

    def add(self, model: BankModel) -> None:
        """The concrete with its quantities, in the place of the site."""
        if not model.bodies:
            return
        site = self.model.by_type("IfcSite")[0]
        body = next(
            c
            for c in self.model.by_type("IfcGeometricRepresentationSubContext")
            if c.ContextIdentifier == "Body"
        )
        items = [self._faces(b.mesh) for b in model.bodies]
        shape = self.make("IfcShapeRepresentation", body, "Body", "Tessellation", items)
        proxy = self.root(
            "IfcBuildingElementProxy",
            Name=model.name,
            Description=model.note or None,
            ObjectType="duct bank",
            ObjectPlacement=self.make("IfcLocalPlacement", site.ObjectPlacement, self._axes()),
            Representation=self.make("IfcProductDefinitionShape", None, None, [shape]),
            PredefinedType="USERDEFINED",
        )
        self._hold(site, proxy)
        self._quantities(model, proxy)
        self._facts(model, proxy)
        concrete = self.make("IfcMaterial", "concrete")
        self.root("IfcRelAssociatesMaterial", RelatedObjects=[proxy], RelatingMaterial=concrete)
        group = self.root("IfcGroup", Name=model.name)
        ducts = self.model.by_type("IfcDistributionSystem")
        self.root("IfcRelAssignsToGroup", RelatedObjects=[proxy, *ducts], RelatingGroup=group)

    def _axes(self) -> Any:
        origin = self.make("IfcCartesianPoint", (0.0, 0.0, 0.0))
        return self.make("IfcAxis2Placement3D", origin)

    def _faces(self, mesh: trimesh.Trimesh) -> Any:
        points = (np.asarray(mesh.vertices) * self.scale).tolist()
        held = self.make("IfcCartesianPointList3D", points)
        return self.make("IfcTriangulatedFaceSet", held, None, True, (mesh.faces + 1).tolist())

    def _hold(self, site: Any, proxy: Any) -> None:
        """Beside what the site holds already."""
        for relation in self.model.by_type("IfcRelContainedInSpatialStructure"):
            if relation.RelatingStructure == site:
                relation.RelatedElements = [*relation.RelatedElements, proxy]
                return
        self.root(
            "IfcRelContainedInSpatialStructure", RelatedElements=[proxy], RelatingStructure=site
        )

    def _quantities(self, model: BankModel, proxy: Any) -> None:
        """The volume without the ducts, in m³ whatever the lengths of the model."""
        unit = self.make("IfcSIUnit", UnitType="VOLUMEUNIT", Name="CUBIC_METRE")
        volume = sum(b.volume for b in model.bodies)
        held = self.root(
            "IfcElementQuantity",
            Name="Qto_BuildingElementProxyQuantities",
            Quantities=[self.make("IfcQuantityVolume", "NetVolume", None, unit, volume)],
        )
        self._define(proxy, held)

    def _facts(self, model: BankModel, proxy: Any) -> None:
        bank = model.result.bank
        facts = [
            self._single("Rows", "IfcInteger", bank.rows),
            self._single("Columns", "IfcInteger", bank.columns),
            *(
                self._single(name, "IfcLengthMeasure", value * self.scale)
                for name, value in (
                    ("SpacingAcross", bank.spacing[0]),
                    ("SpacingBetweenRows", bank.spacing[1]),
                    ("Cover", bank.cover),
                    ("Width", model.result.section.width),
                    ("Height", model.result.section.height),
                )
            ),
        ]
        held = self.root("IfcPropertySet", Name="Route3d_DuctBank", HasProperties=facts)
        self._define(proxy, held)

    def _single(self, name: str, kind: str, value: Any) -> Any:
        return self.make("IfcPropertySingleValue", name, None, self.make(kind, value))

    def _define(self, proxy: Any, held: Any) -> None:
        self.root(
            "IfcRelDefinesByProperties", RelatedObjects=[proxy], RelatingPropertyDefinition=held
        )
