"""IFC models that others made: units, turned placements, axes, bodies, maps, ports, damage."""

from __future__ import annotations

import importlib
import math
from pathlib import Path
from typing import Any

import ifcopenshell
import ifcopenshell.api.owner
import ifcopenshell.api.owner.settings
import ifcopenshell.api.system
import ifcopenshell.api.unit
import ifcopenshell.util.shape_builder
import numpy as np
import pytest

from route3d.errors import InputError
from route3d.formats.exchange import ReadOptions
from route3d.formats.ifc.reading import read_ifc
from tests.corpus import ifc_files
from tests.support.plant import CORNERS, Plant, moved, three_axes, turned

CLOSE = 1e-9


@pytest.mark.parametrize("schema", ["IFC4", "IFC4X3"])
def test_axes_in_turned_placements_and_millimeters(schema: str, tmp_path: Path) -> None:
    plant = Plant.new(schema)
    storey = turned(30, (0, 0, 1), (100_000, 50_000, 3000))
    plant.place(plant.storey, storey)
    matrix = storey @ turned(50, (1, 1, 0.2), (7000, -2000, 500))
    plant.system("feeder F1", *three_axes(plant, matrix))
    reading = plant.read(tmp_path)
    (route,) = reading.routes
    assert route.name == "feeder F1"
    expected = moved(matrix)
    flip = np.linalg.norm(route.points[0] - expected[0]) > 1
    assert route.points[:: -1 if flip else 1] == pytest.approx(expected, abs=CLOSE)
    assert route.radii == pytest.approx([0, 2, 0], abs=CLOSE)
    assert "lengths in mm, by the project units" in reading.used
    assert "system feeder F1: 2 IfcCableCarrierSegment, 1 IfcCableCarrierFitting" in reading.used


def test_an_element_is_placed_relative_to_its_storey(tmp_path: Path) -> None:
    """By hand: the storey 3 m up and turned 90°, the segment 2 m along the storey's x."""
    plant = Plant.new()
    place = plant.make("IfcLocalPlacement", None, plant.axes(0, 0, 3000, z=(0, 0, 1), x=(0, 1, 0)))
    inner = plant.make("IfcLocalPlacement", place, plant.axes(2000, 0, 0))
    segment = plant.element("IfcPipeSegment", {"Axis": [plant.polyline((0, 0, 0), (5000, 0, 0))]})
    segment.ObjectPlacement = inner
    (route,) = plant.read(tmp_path).routes
    assert route.points == pytest.approx(np.array([(0, 2, 3), (0, 7, 3)]))


def test_a_reference_direction_that_leans_counts_by_its_part_across(tmp_path: Path) -> None:
    # ISO 16739-1, IfcBuildAxes: x is the reference less its part along z
    plant = Plant.new()
    segment = plant.element("IfcPipeSegment", {"Axis": [plant.polyline((0, 0, 0), (5000, 0, 0))]})
    segment.ObjectPlacement = plant.make(
        "IfcLocalPlacement", None, plant.axes(0, 0, 0, z=(0, 0, 2), x=(3, 0, 4))
    )
    assert plant.read(tmp_path).routes[0].points[1] == pytest.approx([5, 0, 0])


# --- axis curves -------------------------------------------------------------------------------


def composite(plant: Plant, degrees: bool, backwards: bool) -> Any:
    """The same route as lines and a trimmed circle, by parameters or by points."""
    circle = plant.make("IfcCircle", plant.axes(10_000, 2000, 0), 2000.0)
    ends = (270.0, 360.0) if degrees else (1.5 * math.pi, 2 * math.pi)
    trims = [[plant.make("IfcParameterValue", end)] for end in ends]
    if backwards:
        trims = [[plant.point(10_000, 0, 0)], [plant.point(12_000, 2000, 0)]]
    arc = plant.make("IfcTrimmedCurve", circle, *trims, True, "PARAMETER")
    line = plant.make(
        "IfcLine", plant.point(0, 0, 0), plant.make("IfcVector", plant.direction(1, 0, 0), 1.0)
    )
    first = plant.make(
        "IfcTrimmedCurve", line, [plant.make("IfcParameterValue", 0.0)],
        [plant.make("IfcParameterValue", 10_000.0)], True, "PARAMETER",
    )  # fmt: skip
    last = plant.polyline((12_000, 7000, 0), (12_000, 2000, 0))
    parts = [(first, True), (arc, True), (last, False)]
    return plant.make(
        "IfcCompositeCurve",
        [plant.make("IfcCompositeCurveSegment", "CONTINUOUS", s, c) for c, s in parts],
        False,
    )


@pytest.mark.parametrize("degrees", [False, True])
@pytest.mark.parametrize("by_points", [False, True])
def test_composite_curves_of_trimmed_lines_and_circles(
    degrees: bool, by_points: bool, tmp_path: Path
) -> None:
    plant = Plant.new(degrees=degrees)
    plant.element("IfcDuctSegment", {"Axis": [composite(plant, degrees, by_points)]})
    (route,) = plant.read(tmp_path).routes
    assert route.points == pytest.approx(CORNERS, abs=CLOSE)
    assert route.radii == pytest.approx([0, 2, 0], abs=CLOSE)


def test_an_arc_against_the_sense_of_its_circle(tmp_path: Path) -> None:
    plant = Plant.new()
    circle = plant.make("IfcCircle", plant.axes(0, 0, 0), 2000.0)
    trims = [[plant.make("IfcParameterValue", v)] for v in (math.pi / 2, 0.0)]
    arc = plant.make("IfcTrimmedCurve", circle, *trims, False, "PARAMETER")
    plant.element("IfcPipeFitting", {"Axis": [arc]})
    (route,) = plant.read(tmp_path).routes
    assert route.points == pytest.approx(np.array([(0, 2, 0), (2, 2, 0), (2, 0, 0)]), abs=CLOSE)


# --- bodies ------------------------------------------------------------------------------------


def extruded(plant: Plant, length: float, position: Any = None) -> Any:
    return plant.make(
        "IfcExtrudedAreaSolid", plant.circle(70.65), position, plant.direction(0, 0, 1), length
    )


def test_swept_bodies_without_axes_and_their_diameter(tmp_path: Path) -> None:
    plant = Plant.new(degrees=True)
    along_x = plant.axes(0, 0, 0, z=(1, 0, 0), x=(0, 1, 0))
    plant.element("IfcCableCarrierSegment", {"Body": [extruded(plant, 10_000.0, along_x)]})
    # a quarter turn about an axis 2 m to the side of the profile, which lies across x
    axis = plant.make("IfcAxis1Placement", plant.point(2000, 0, 0), plant.direction(0, 1, 0))
    bend = plant.make(
        "IfcRevolvedAreaSolid", plant.circle(70.65),
        plant.axes(10_000, 0, 0, z=(1, 0, 0), x=(0, 1, 0)), axis, 90.0,
    )  # fmt: skip
    plant.element("IfcCableCarrierFitting", {"Body": [bend]})
    disk = plant.make(
        "IfcSweptDiskSolid", plant.polyline((12_000, 2000, 0), (12_000, 7000, 0)), 70.65
    )
    plant.element("IfcCableCarrierSegment", {"Body": [disk]})
    (route,) = plant.read(tmp_path).routes
    assert route.points == pytest.approx(CORNERS, abs=CLOSE)
    assert route.radii == pytest.approx([0, 2, 0], abs=CLOSE)
    assert route.outer_diameter == pytest.approx(0.1413)
    assert route.name == "model"


def test_the_library_puts_the_same_bodies_in_the_same_place(tmp_path: Path) -> None:
    """Maps with an origin of their own, even scale, mirrored: against ifcopenshell's geometry."""
    geometry = importlib.import_module("ifcopenshell.geom")
    plant = Plant.new(prefix=None)
    inner = plant.make(
        "IfcShapeRepresentation", plant.body, "Body", "SweptSolid", [extruded(plant, 3.0)]
    )
    inner.Items[0].SweptArea.Radius = 0.05
    source = plant.make(
        "IfcRepresentationMap", plant.axes(1, 2, 3, z=(0, 1, 0), x=(1, 0, 0)), inner
    )
    target = plant.make(
        "IfcCartesianTransformationOperator3D", plant.direction(0, 1, 0), plant.direction(1, 0, 0),
        plant.point(10, 20, 30), 2.0, plant.direction(0, 0, 1),
    )  # fmt: skip
    item = plant.make("IfcMappedItem", source, target)
    element = plant.element("IfcPipeSegment", {"Body": [item]}, turned(40, (1, 2, 3), (5, 6, 7)))
    (route,) = plant.read(tmp_path).routes
    settings = geometry.settings()
    settings.set("use-world-coords", True)
    shape = geometry.create_shape(settings, element)
    wall = np.array(shape.geometry.verts).reshape(-1, 3)
    along = (route.points[1] - route.points[0]) / 6.0
    assert np.linalg.norm(along) == pytest.approx(1)
    off = wall - route.points[0]
    share = off @ along
    assert sorted({round(float(s), 6) + 0.0 for s in share}) == pytest.approx([0, 6], abs=1e-5)
    assert np.linalg.norm(off - share[:, None] * along, axis=1) == pytest.approx(0.1, abs=1e-5)
    assert route.outer_diameter == pytest.approx(0.2)


# Cases of the corpus of one segment with a body.
BODIES = (
    "tray",
    "swept disk",
    "mapped by",
    "Ifc",
    "a stretched",
    "a box of",
    "curved",
    "the walls",
)


def test_the_library_finds_the_same_axes_in_bodies_of_all_kinds(tmp_path: Path) -> None:
    """Its triangles run from end to end of each axis, and lie at the radius from it."""
    geometry = importlib.import_module("ifcopenshell.geom")
    settings = geometry.settings()
    settings.set("use-world-coords", True)
    cases = [c for c in ifc_files.CASES if c.name.startswith(BODIES)]
    read, refused = 0, []
    for number, case in enumerate(cases):
        file = tmp_path / f"{number}.ifc"
        case.write(file)
        (route,) = read_ifc(file, case.options).routes
        model = ifcopenshell.open(str(file))  # held: its entities must not outlive it
        (element,) = model.by_type("IfcFlowSegment")
        try:
            shape = geometry.create_shape(settings, element)
        except RuntimeError:
            refused.append(case.name)
            continue
        read += 1
        wall = np.array(shape.geometry.verts).reshape(-1, 3)
        path, (start, end) = route.path(), route.points[[0, -1]]
        along = (end - start) / path.length
        stations = (wall - start) @ along
        ends = stations.min(), stations.max()
        assert ends == pytest.approx((0, path.length), abs=2e-5), case.name
        off = np.linalg.norm(np.cross(wall - start, along), axis=1)
        if route.outer_diameter is not None:
            assert off.max() == pytest.approx(route.outer_diameter / 2, abs=2e-5), case.name
        else:
            across = wall - start - np.outer(stations, along)
            middle = (across.min(axis=0) + across.max(axis=0)) / 2
            assert middle == pytest.approx(np.zeros(3), abs=2e-5), case.name
    assert read > 12 and len(refused) < 5, refused


def test_cut_bodies_and_free_profiles_are_used_and_said(tmp_path: Path) -> None:
    plant = Plant.new()
    square = plant.make(
        "IfcArbitraryClosedProfileDef", "AREA", None,
        plant.polyline((0, 0), (200, 0), (200, 100), (0, 100), (0, 0)),
    )  # fmt: skip
    duct = plant.make("IfcExtrudedAreaSolid", square, None, plant.direction(0, 0, 1), 9000.0)
    half = plant.make("IfcHalfSpaceSolid", plant.make("IfcPlane", plant.axes(0, 0, 8000)), False)
    cut = plant.make(
        "IfcBooleanClippingResult",
        "DIFFERENCE",
        duct,
        half,
    )
    plant.element("IfcDuctSegment", {"Body": [cut]})
    reading = plant.read(tmp_path)
    assert reading.routes[0].points == pytest.approx(np.array([(0.1, 0.05, 0), (0.1, 0.05, 9)]))
    assert "system model: solids taken without their cuts (1)" in reading.guessed


def faces(plant: Plant) -> Any:
    builder = ifcopenshell.util.shape_builder.ShapeBuilder(plant.model)
    return builder.mesh([(0, 0, 0), (9, 0, 0), (0, 9, 0)], [(0, 1, 2)])


def test_a_fitting_of_faces_is_bridged_from_port_to_port(tmp_path: Path) -> None:
    plant = Plant.new()
    straights = three_axes(plant, np.eye(4))[:2]
    plant.model.remove(plant.model.by_type("IfcCableCarrierFitting")[0])
    elbow = plant.element("IfcCableCarrierFitting", {"Body": [faces(plant)]})
    for place in ((10_000, 0, 0), (12_000, 2000, 0)):
        port = ifcopenshell.api.system.add_port(plant.model, element=elbow)
        plant.place(port, turned(0, (0, 0, 1), place))
    plant.system("F1", *straights, elbow)
    reading = plant.read(tmp_path)
    (route,) = reading.routes
    assert route.radii == pytest.approx([0, 2, 0], abs=1e-6)
    assert route.path().length == pytest.approx(10 + math.pi + 5)
    assert "system F1: fittings without axis drawn from port to port (1)" in reading.guessed


def test_elements_without_a_centerline_are_counted_with_their_reason(tmp_path: Path) -> None:
    plant = Plant.new()
    three_axes(plant, np.eye(4))
    plant.element("IfcCableCarrierFitting", {"Body": [faces(plant)]})
    plant.element("IfcCableCarrierFitting", {})
    plant.element("IfcWall", {})
    plant.element("IfcCableSegment", {"Axis": [plant.polyline((0, 0, 0), (10_000, 0, 0))]})
    reading = plant.read(tmp_path)
    said = " | ".join(reading.ignored)
    assert "1 element without a centerline: no axis: faces of no body" in said
    assert "1 element without a centerline: no geometry" in said
    assert "not of the classes read: 1 IfcCableSegment" in said
    assert "other elements: 1 IfcWall" in said
    assert [e.state for e in reading.elements] == ["broken", "missing"]
    assert len(reading.routes) == 1


# --- systems, units, schemas -------------------------------------------------------------------


def test_systems_choose_runs(tmp_path: Path) -> None:
    plant = Plant.new()
    for y, name in enumerate(("F1", "F2")):
        line = plant.polyline((0, y * 1000, 0), (9000, y * 1000, 0))
        plant.system(name, plant.element("IfcCableCarrierSegment", {"Axis": [line]}))
    both = plant.read(tmp_path)
    assert [r.name for r in both.routes] == ["F1", "F2"]
    one = plant.read(tmp_path, ReadOptions(layers=("F2",)))
    assert [r.name for r in one.routes] == ["F2"]
    assert "system F1: 1 element, not a requested system" in one.ignored
    with pytest.raises(InputError, match=r"has no system F9.*systems: F1, F2"):
        plant.read(tmp_path, ReadOptions(layers=("F9",)))


def test_feet_of_a_conversion_based_unit(tmp_path: Path) -> None:
    plant = Plant.new()
    foot = ifcopenshell.api.unit.add_conversion_based_unit(plant.model, name="foot")
    ifcopenshell.api.unit.assign_unit(plant.model, units=[foot])
    plant.element("IfcPipeSegment", {"Axis": [plant.polyline((0, 0, 0), (100, 0, 0))]})
    reading = plant.read(tmp_path)
    assert reading.routes[0].points[1, 0] == pytest.approx(30.48)
    assert "lengths in ft, by the project units" in reading.used


def test_units_asked_for_go_first_and_no_unit_is_refused(tmp_path: Path) -> None:
    plant = Plant.new()
    three_axes(plant, np.eye(4))
    with pytest.raises(InputError, match="units appear wrong: the longest route"):
        plant.read(tmp_path, ReadOptions(units="km"))
    said = plant.read(tmp_path, ReadOptions(units="in")).guessed
    assert "lengths as requested, although the project unit is 0.001 m" in said
    plant.model.by_type("IfcProject")[0].UnitsInContext = None
    with pytest.raises(InputError, match="does not say its unit of length"):
        plant.read(tmp_path)


def an_owner(model: Any) -> Any:
    """The person that every element of IFC2X3 must have."""
    if not model.by_type("IfcPersonAndOrganization"):
        api = ifcopenshell.api.owner
        person = api.add_person(model, identification="x")
        firm = api.add_organisation(model, identification="x", name="x")
        api.add_person_and_organisation(model, person=person, organisation=firm)
        api.add_application(model)
    return model.by_type("IfcPersonAndOrganization")[0]


def test_ifc2x3_is_accepted(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ifcopenshell.api.owner.settings, "get_user", an_owner)
    plant = Plant.new("IFC2X3")
    segment = plant.element("IfcFlowSegment", {"Axis": [plant.polyline((0, 0, 0), (9000, 0, 0))]})
    plant.system("F1", segment)
    reading = plant.read(tmp_path)
    assert reading.routes[0].points == pytest.approx(np.array([(0, 0, 0), (9, 0, 0)]))
    assert "schema IFC2X3" in reading.used


@pytest.mark.parametrize(("near", "named"), [(True, True), (False, True), (False, False)])
def test_routes_lie_on_the_map_grid(near: bool, named: bool, tmp_path: Path) -> None:
    """By hand: x of the model is north of the map, its millimeters are the meters of the map.

    A file that does not name the unit of its map says it by its scale.
    """
    plant = Plant.new()
    three_axes(plant, np.eye(4))
    whole = next(c for c in plant.model.by_type("IfcGeometricRepresentationContext", False))
    meter = plant.make("IfcSIUnit", UnitType="LENGTHUNIT", Name="METRE")
    grid = plant.make("IfcProjectedCRS", "EPSG:32632", MapUnit=meter if named else None)
    place = (512_345.0, 4_567_890.0, 3.0)
    plant.make("IfcMapConversion", whole, grid, *place, 0.0, 1.0, 0.001)
    reading = plant.read(tmp_path, ReadOptions(near=near))
    expected = np.array(place) + np.column_stack((-CORNERS[:, 1], CORNERS[:, 0], CORNERS[:, 2]))
    assert reading.origin == (place if near else (0, 0, 0))
    assert reading.crs == "EPSG:32632"
    assert reading.routes[0].points + np.array(reading.origin) == pytest.approx(expected, abs=1e-6)
    assert reading.routes[0].radii == pytest.approx([0, 2, 0], abs=1e-6)
    shifted = plant.read(tmp_path, ReadOptions(shift=place))
    assert shifted.routes[0].points == pytest.approx(expected - np.array(place), abs=1e-6)
