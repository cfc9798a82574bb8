"""An IFC building beside a route: its elements by name, in the frame of the job, by hand values."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

pytest.importorskip("ifcopenshell")

import ifcopenshell.api.feature
import ifcopenshell.api.spatial
import ifcopenshell.util.schema

from route3d.planning.clearance.job import ClearanceResult
from tests.support.clearance_jobs import clearance_of, run_text, write_job
from tests.support.plant import Plant, turned

# The run lies along x at y = 5 m, z = 1 m; its conduit is 140 mm wide.
RUN = run_text("F1", [(0, 5, 1), (40, 5, 1)])
SITE = '[site]\ncontext = [{ file = "hall.ifc", solid = true }]\n'
GRID = (512_345.0, 6_110_000.0, 3.0)


def block(plant: Plant, kind: str, name: str, low: Sequence[float], size: Sequence[float]) -> Any:
    """An element that is an upright block, mm."""
    profile = plant.make("IfcRectangleProfileDef", "AREA", None, None, *map(float, size[:2]))
    body = plant.make(
        "IfcExtrudedAreaSolid", profile, plant.axes(0, 0, 0), plant.direction(0, 0, 1), size[2]
    )
    middle = (low[0] + size[0] / 2, low[1] + size[1] / 2, low[2])
    place = turned(0, (0, 0, 1), middle)
    element = plant.element("IfcColumn", {"Body": [body]}, place)
    element.Representation.Representations[0].RepresentationType = "SweptSolid"
    element.Name = name
    if kind == "IfcSpace":  # part of the storey, not contained in it
        ifcopenshell.api.spatial.unassign_container(plant.model, products=[element])
    return ifcopenshell.util.schema.reassign_class(plant.model, element, kind)


def hall() -> Plant:
    """A hall in mm: a column 30 mm inside the conduit, a wall with an opening for it, a pipe."""
    plant = Plant.new()
    block(plant, "IfcColumn", "C3", (20e3, 5040, 0), (300, 300, 3e3))
    wall = block(plant, "IfcWall", "W1", (30e3, 0, 0), (200, 10e3, 3e3))
    hole = block(plant, "IfcOpeningElement", "O1", (29e3, 4800, 800), (2e3, 400, 400))
    ifcopenshell.api.feature.add_feature(plant.model, feature=hole, element=wall)
    block(plant, "IfcSpace", "S1", (0, 0, 0), (40e3, 10e3, 3e3))
    block(plant, "IfcCableCarrierSegment", "F1-1", (0, 4930, 930), (40e3, 140, 140))
    block(plant, "IfcFlowSegment", "F1-2", (0, 4951, 951), (40e3, 98, 98))  # on the run itself
    block(plant, "IfcPipeSegment", "P1", (10e3, 0, 1120), (50, 10e3, 50))  # 50 mm over the conduit
    return plant


def answer(plant: Plant, folder: Path, site: str = SITE) -> ClearanceResult:
    plant.model.write(str(folder / "hall.ifc"))
    return clearance_of(write_job(folder, RUN, site))


def on_the_map(plant: Plant) -> Plant:
    """The same model turned by 90 degrees on a grid in meters."""
    whole = next(c for c in plant.model.by_type("IfcGeometricRepresentationContext", False))
    unit = plant.make("IfcSIUnit", None, "LENGTHUNIT", None, "METRE")
    grid = plant.make("IfcProjectedCRS", "EPSG:32632", None, None, None, None, None, unit)
    plant.make("IfcMapConversion", whole, grid, *GRID, 0.0, 1.0, 0.001)
    return plant


def test_elements_are_named_and_only_what_stands_in_the_way_is_met(tmp_path: Path) -> None:
    result = answer(hall(), tmp_path)
    (clash,) = result.runs[0].met[0].clashes
    assert clash.what == ("hall.ifc: column C3, deck",)
    assert clash.depth == pytest.approx(0.030, abs=1e-6)
    rows = result.runs[0].rows
    # 50 mm over the conduit; the wall's opening is 400 mm wide, 70 mm of each 200 mm is conduit
    for name, clear in (("pipe segment P1", 0.050), ("wall W1", 0.130)):
        near = min(row.distance for row in rows if row.what == f"hall.ifc: {name}, deck")
        assert near == pytest.approx(clear, abs=1e-6)
    (where,) = result.site
    assert where.units == "mm" and where.judged
    assert where.left_out == (
        "cable carrier or cable (1)",
        "opening element (1)",
        "space (1)",
        "segment or fitting of the job's own runs (1)",
    )


def test_a_map_and_the_origin_of_the_job_bring_it_to_the_routes(tmp_path: Path) -> None:
    """Turned by 90 degrees about the origin the column stands at x = -5.04 to -5.34 m, y = 20 m."""
    site = SITE.replace("[site]\n", f"[site]\norigin = {list(GRID)}\n")
    result = answer(on_the_map(hall()), tmp_path, site)
    (where,) = result.site
    np.testing.assert_allclose(where.low, (-10, 0, 0), atol=1e-6)
    np.testing.assert_allclose(where.high, (0, 40, 3), atol=1e-6)
    moved = answer(on_the_map(hall()), tmp_path, SITE)
    assert [one.name for one in moved.not_judged] == ["mesh hall.ifc"] and moved.stops
