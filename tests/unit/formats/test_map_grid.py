"""The map grid of IFC models, beside the library's own conversion of coordinates."""

from __future__ import annotations

import importlib

import numpy as np
import pytest

from route3d.formats.ifc.map_grid import map_matrix
from tests.support.plant import Plant

pytest.importorskip("ifcopenshell")
GRID = (512345.0, 4567890.0, 3.0)
TURNED = (0.8, 0.6)


def a_model(*, scale: float | None = 0.001, meters: bool = True) -> Plant:
    """A plant in mm on a grid, turned by atan2(0.6, 0.8)."""
    plant = Plant.new()
    whole = next(c for c in plant.model.by_type("IfcGeometricRepresentationContext", False))
    unit = plant.make("IfcSIUnit", None, "LENGTHUNIT", None, "METRE") if meters else None
    grid = plant.make("IfcProjectedCRS", "EPSG:32632", None, None, None, None, None, unit)
    plant.make("IfcMapConversion", whole, grid, *GRID, *TURNED, scale)
    return plant


def test_places_are_where_the_library_puts_them() -> None:
    model = a_model().model
    there = importlib.import_module("ifcopenshell.util.geolocation").auto_xyz2enh
    matrix = map_matrix(model, 0.001)
    assert matrix is not None
    for place in np.random.default_rng(1).uniform(-9e4, 9e4, (20, 3)):
        ours = (matrix @ (*place / 1000, 1.0))[:3]
        assert ours == pytest.approx(there(model, *map(float, place)), abs=1e-6)


@pytest.mark.parametrize("scale", [None, 1.0])
def test_a_scale_left_at_one_makes_no_site_of_a_thousand_times(scale: float | None) -> None:
    matrix = map_matrix(a_model(scale=scale).model, 0.001)
    assert matrix is not None
    assert matrix[:2, 0] == pytest.approx(TURNED)
    assert matrix[:3, 3] == pytest.approx(GRID)


def test_a_map_without_unit_is_in_that_of_the_project() -> None:
    matrix = map_matrix(a_model(scale=0.9996, meters=False).model, 0.001)
    assert matrix is not None
    assert matrix[:3, 3] == pytest.approx(np.array(GRID) / 1000)
    assert matrix[:2, 0] == pytest.approx(0.9996 * np.array(TURNED))


def test_a_model_without_a_map_has_no_grid() -> None:
    assert map_matrix(Plant.new().model, 0.001) is None
