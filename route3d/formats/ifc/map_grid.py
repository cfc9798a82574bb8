"""The map grid of an IFC model: IfcMapConversion and its kin as one matrix in meters."""

from __future__ import annotations

import importlib
import math
from typing import Any

import numpy as np

from route3d.formats.ifc.placement import axis_placement
from route3d.geometry.vectors import Floats

# Own judgment: a scale between a site and its map is nearer to 1 than this. Known factors of
# projection and height are within 0.002 of it, an unit within none.
_NEAR_ONE = 0.05
# Names of IFC2X3's property set for a map unit.
_NAMED_UNITS = {"METRE": 1.0, "METER": 1.0, "FOOT": 0.3048, "US SURVEY FOOT": 1200 / 3937}


def map_matrix(model: Any, meters: float) -> Floats | None:
    """Grid coordinates from those of the model, both in m, as a matrix (4, 4) for columns.

    Eastings, northings and height are in the unit of the map, that of the project where it names
    none (``meters`` each). ``Scale`` takes one unit to the other; where a file leaves it at 1 and
    its units differ, the units alone count, for no site is a thousandth of its map. None where the
    model has no map conversion.

    References
    ----------
    ISO 16739-1, IfcMapConversion, IfcMapConversionScaled, IfcRigidOperation; for IFC2X3 the
    property set ePSet_MapConversion of the project or site (user guide for geo-referencing in IFC).
    """
    found = _of_property_set(model) if model.schema == "IFC2X3" else _of_operation(model)
    if found is None:
        return None
    place, turn, scale, factors, unit = found
    unit = unit or meters
    ratio = scale * unit / meters
    if abs(ratio - 1) > _NEAR_ONE and abs(scale - 1) <= _NEAR_ONE:
        ratio = scale
    cos, sin = math.cos(turn), math.sin(turn)
    matrix = np.eye(4)
    matrix[:3, :3] = np.array([[cos, -sin, 0], [sin, cos, 0], [0, 0, 1]]) * factors * ratio
    matrix[:3, 3] = np.array(place) * unit
    return matrix @ np.linalg.inv(_world(model, meters))


_Found = tuple[tuple[float, float, float], float, float, Floats, float | None]
"""Place and angle (rad) of the model on the map, scale, factors (3,), meters of the map's unit."""


def _of_operation(model: Any) -> _Found | None:
    operations = model.by_type("IfcCoordinateOperation")
    if not operations:
        return None
    # The one of the model's bodies before that of a plan.
    one = min(operations, key=lambda o: getattr(o.SourceCRS, "ContextType", None) != "Model")
    unit = _unit(getattr(one.TargetCRS, "MapUnit", None))
    if one.is_a("IfcRigidOperation"):
        first, second = (float(c.wrappedValue) for c in (one.FirstCoordinate, one.SecondCoordinate))
        return (first, second, float(one.Height or 0)), 0.0, 1.0, np.ones(3), unit
    if not one.is_a("IfcMapConversion"):
        return None
    factors = np.array(
        [float(getattr(one, name, None) or 1.0) for name in ("FactorX", "FactorY", "FactorZ")]
    )
    place = float(one.Eastings), float(one.Northings), float(one.OrthogonalHeight or 0)
    turn = _angle(one.XAxisAbscissa, one.XAxisOrdinate)
    return place, turn, float(one.Scale or 1.0), factors, unit


def _of_property_set(model: Any) -> _Found | None:
    read = importlib.import_module("ifcopenshell.util.element").get_psets
    for owner in (*model.by_type("IfcProject"), *model.by_type("IfcSite")):
        sets = {name.lower(): values for name, values in read(owner).items()}
        if (said := sets.get("epset_mapconversion")) is None:
            continue
        crs = sets.get("epset_projectedcrs", {})
        place = (
            float(said.get("Eastings") or 0),
            float(said.get("Northings") or 0),
            float(said.get("OrthogonalHeight") or 0),
        )
        turn = _angle(said.get("XAxisAbscissa"), said.get("XAxisOrdinate"))
        unit = _NAMED_UNITS.get(str(crs.get("MapUnit") or "").upper())
        return place, turn, float(said.get("Scale") or 1.0), np.ones(3), unit
    return None


def _angle(abscissa: Any, ordinate: Any) -> float:
    """The angle (rad) of the model's x axis on the map; 0 where it is not given."""
    return math.atan2(float(ordinate or 0), float(abscissa or 0)) if abscissa or ordinate else 0.0


def _unit(entity: Any) -> float | None:
    if entity is None:
        return None
    try:
        size = float(importlib.import_module("ifcopenshell.util.unit").get_unit_scale(entity))
    except Exception:  # a unit that the library does not know
        return None
    return size if size > 0 else None


def _world(model: Any, meters: float) -> Floats:
    """The world coordinate system of the model's bodies in m; the identity where none is given."""
    contexts = model.by_type("IfcGeometricRepresentationContext", include_subtypes=False)
    for context in sorted(contexts, key=lambda c: c.ContextType != "Model"):
        if context.WorldCoordinateSystem is not None:
            placed = axis_placement(context.WorldCoordinateSystem)
            placed[:3, 3] *= meters
            return placed
    return np.eye(4)
