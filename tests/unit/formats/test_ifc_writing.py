"""IFC out, read by ifcopenshell alone: ports, systems, property sets, storeys, boxes, map grid."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import ifcopenshell
import ifcopenshell.util.element
import ifcopenshell.util.placement
import ifcopenshell.util.pset
import ifcopenshell.util.system
import ifcopenshell.util.unit
import ifcopenshell.validate
import numpy as np
import pytest

import route3d
from route3d.cli.main import main
from route3d.formats.catalog import read_routes
from route3d.formats.exchange import ExchangeRoute, ReadOptions, routes_of
from route3d.formats.ifc.files import PSET
from route3d.formats.ifc.writing import UNNAMED_GRID, write_ifc
from route3d.model.site import Frame
from tests.support.routes import Vector

MODELS = Path(route3d.__file__).parents[1] / "models"
DEMOS = sorted(MODELS.glob("*.toml"))
REACH = frozenset({"reel", "machine"})
NOTHING = frozenset[str]()
FRAME = Frame((512_000.0, 6_110_000.0, 2.5), "EPSG:25832", math.radians(3))
LEVELS = {"quay": 0.0, "mezzanine": 3.5}


def boxed() -> ExchangeRoute:
    """A vault at the start, a box where it goes straight on, one that turns, a bend up, a riser."""
    points = [(0, 0, 0), (9, 12, 0), (18, 24, 0), (18, 40, 0), (18, 40, 6)]
    return ExchangeRoute(
        "B1", np.array(points, dtype=float), np.array([0, 0, 0, 1.2, 0]),
        ("vault V1", "", "V2", "", "roof"), "duct", 0.11,
        (REACH, REACH, REACH, NOTHING, REACH), ("", "", "riser", "", ""),
        ((1.5, 1.2, 1.8), None, (2.4, 0.9, 0.6), None, None),
    )  # fmt: skip


def written(routes: Any, folder: Path, unit: str = "ft", **more: Any) -> Any:
    write_ifc(routes, folder / "a.ifc", unit, **more)
    return ifcopenshell.open(str(folder / "a.ifc"))


def unit_of(model: Any) -> float:
    return float(ifcopenshell.util.unit.calculate_unit_scale(model))


def spot(model: Any, product: Any) -> Vector:
    """Where a product is placed, m."""
    matrix = ifcopenshell.util.placement.get_local_placement(product.ObjectPlacement)
    place: Vector = matrix[:3, 3] * unit_of(model)
    return place


def along_ports(system: Any) -> Iterator[tuple[Any, Any, Any]]:
    """The connections from the element that nothing leads to: port, port, and the next element."""
    elements = ifcopenshell.util.system.get_system_elements(system)
    ports = {e: ifcopenshell.util.system.get_ports(e) for e in elements}
    (here,) = [e for e, held in ports.items() if not any(p.ConnectedFrom for p in held)]
    while True:
        ahead = [r for port in ports[here] for r in port.ConnectedTo]
        if not ahead:
            return
        (one,) = ahead
        here = ifcopenshell.util.system.get_port_element(one.RelatedPort)
        yield one.RelatingPort, one.RelatedPort, here


@pytest.mark.parametrize("model", [*DEMOS, None], ids=lambda p: p.stem if p else "boxes")
def test_ports_lead_along_the_run(model: Path | None, tmp_path: Path) -> None:
    routes = routes_of(route3d.load(model)) if model else (boxed(),)
    file = written(routes, tmp_path)
    for route in routes:
        (system,) = [s for s in file.by_type("IfcDistributionSystem") if s.Name == route.name]
        steps = list(along_ports(system))
        elements = ifcopenshell.util.system.get_system_elements(system)
        assert len(steps) == len(elements) - 1
        for leaves, enters, _ in steps:
            there = spot(file, leaves)
            assert there == pytest.approx(spot(file, enters), abs=1e-9)
            assert route3d_distance(route, there) < 1e-9
        boxes = [e for _, _, e in steps if e.is_a("IfcJunctionBox")]
        inner = range(1, len(route.points) - 1)
        wanted = [i for i in inner if route.access[i]]
        for box, i in zip(boxes, wanted, strict=True):
            assert spot(file, box) == pytest.approx(route.points[i], abs=1e-9)


def route3d_distance(route: ExchangeRoute, place: Vector) -> float:
    """The distance of a place from the ends of the segments of a route, m."""
    path = route.path()
    return float(np.linalg.norm(np.vstack((path.starts, path.ends)) - place, axis=1).min())


def test_property_sets_are_those_of_the_standard(tmp_path: Path) -> None:
    """Names, members, kinds and measures as in the templates that ifcopenshell ships."""
    file = written([boxed()], tmp_path)
    templates = ifcopenshell.util.pset.PsetQto("IFC4")
    seen = set()
    for relation in file.by_type("IfcRelDefinesByProperties"):
        held = relation.RelatingPropertyDefinition
        if held.Name.startswith("Route3d_"):
            continue
        seen.add(held.Name)
        template = templates.get_by_name(held.Name)
        applies, _, predefined = template.ApplicableEntity.partition("/")
        for element in relation.RelatedObjects:
            assert element.is_a(applies)
            assert predefined in ("", element.PredefinedType)
        members = {p.Name: p for p in template.HasPropertyTemplates}
        for one in getattr(held, "HasProperties", None) or held.Quantities:
            known = members[one.Name]
            if one.is_a("IfcPropertyEnumeratedValue"):
                allowed = [v.wrappedValue for v in known.Enumerators.EnumerationValues]
                assert [v.wrappedValue in allowed for v in one.EnumerationValues] == [True]
            elif one.is_a("IfcPropertySingleValue"):
                assert one.NominalValue.is_a() == known.PrimaryMeasureType
            else:
                assert (one.is_a(), known.TemplateType) == ("IfcQuantityLength", "Q_LENGTH")
    assert len(seen) == 5
    segment = next(e for e in file.by_type("IfcCableCarrierSegment"))
    sets = ifcopenshell.util.element.get_psets(segment)
    width = sets["Pset_CableCarrierSegmentTypeConduitSegment"]["NominalWidth"]
    assert width * 0.3048 == pytest.approx(0.11)
    assert sets["Pset_CableCarrierSegmentTypeCommon"]["Reference"] == "duct"
    length = sets["Qto_CableCarrierSegmentBaseQuantities"]["Length"]
    assert length * 0.3048 == pytest.approx(15)


def test_boxes_have_their_size_along_the_conduit(tmp_path: Path) -> None:
    geometry = pytest.importorskip("ifcopenshell.geom")
    file = written([boxed()], tmp_path, "m")
    by_name = {box.Name: box for box in file.by_type("IfcJunctionBox")}
    assert list(by_name) == ["vault V1", "B1 pull point 2", "V2"]
    assert by_name["B1 pull point 2"].Representation is None
    settings = geometry.settings()
    settings.set("use-world-coords", True)
    for name, middle, size in (
        ("vault V1", (-0.45, -0.6, 0), (1.5, 1.2, 1.8)),  # before the start by half its length
        ("V2", (18, 24, 0), (2.4, 0.9, 0.6)),
    ):
        shape = geometry.create_shape(settings, by_name[name])
        corners = np.array(shape.geometry.verts).reshape(-1, 3) - middle
        along = np.array([0.6, 0.8, 0.0])  # 9 to 12
        own = corners @ np.column_stack((along, (-0.8, 0.6, 0), (0, 0, 1)))
        assert own.max(axis=0) == pytest.approx(np.array(size) / 2)
        assert own.min(axis=0) == pytest.approx(-np.array(size) / 2)


@pytest.mark.parametrize("unit", ["ft", "m"])
def test_the_map_conversion_takes_the_model_to_its_grid(unit: str, tmp_path: Path) -> None:
    """IfcMapConversion as ISO 16739-1 has it: turned by its x axis, scaled, moved (from memory)."""
    file = written([boxed()], tmp_path, unit, frame=FRAME)
    (one,) = file.by_type("IfcMapConversion")
    assert (one.TargetCRS.Name, one.TargetCRS.MapUnit) == ("EPSG:25832", None)
    turn = math.atan2(one.XAxisOrdinate, one.XAxisAbscissa)
    unit = unit_of(file)
    box = next(b for b in file.by_type("IfcJunctionBox") if b.Name == "V2")
    x, y, z = spot(file, box) / unit
    east = one.Scale * (x * math.cos(turn) - y * math.sin(turn)) + one.Eastings
    north = one.Scale * (x * math.sin(turn) + y * math.cos(turn)) + one.Northings
    there = np.array([east, north, one.Scale * z + one.OrthogonalHeight]) * unit
    assert there == pytest.approx(np.array([512_018.0, 6_110_024.0, 2.5]), rel=0, abs=1e-8)
    (context,) = file.by_type("IfcGeometricRepresentationContext", include_subtypes=False)
    assert context.TrueNorth.DirectionRatios == pytest.approx(
        (math.sin(math.radians(3)), math.cos(math.radians(3)))
    )


@pytest.mark.parametrize("unit", ["ft", "m"])
def test_boxes_and_all_come_back(unit: str, tmp_path: Path) -> None:
    before = boxed()
    written([before], tmp_path, unit, levels=LEVELS)
    (after,) = read_routes(tmp_path / "a.ifc", ReadOptions()).routes
    assert after.points == pytest.approx(before.points, rel=0, abs=1e-9)
    assert after.radii == pytest.approx(before.radii, rel=0, abs=1e-9)
    assert (after.names, after.access) == (before.names, before.access)
    assert after.conduits == before.conduits
    for box, again in zip(before.boxes, after.boxes, strict=True):
        assert again == (None if box is None else pytest.approx(box, abs=1e-9))


def test_ends_at_boxes_are_found_by_ports_and_bodies_alone(tmp_path: Path) -> None:
    """As another program would have it: without our property set; the riser ends under a box."""
    boxes = ((1.5, 1.2, 1.8), (0.6, 0.5, 0.4), (2.4, 0.9, 0.6), None, (1.6, 1.1, 0.9))
    before = replace(boxed(), boxes=boxes)
    file = written([before], tmp_path, "m", floors={"vault V1": -1.5})
    ours = [s for s in file.by_type("IfcPropertySet") if s.Name == PSET]
    assert ours
    for held in ours:
        file.remove(held)
    file.write(str(tmp_path / "other.ifc"))
    for name in ("a.ifc", "other.ifc"):
        (after,) = read_routes(tmp_path / name, ReadOptions()).routes
        assert after.points == pytest.approx(before.points, rel=0, abs=1e-9)
        assert after.radii == pytest.approx(before.radii, rel=0, abs=1e-9)
        assert after.access == before.access
        assert [after.names[0], after.names[2], after.names[4]] == ["vault V1", "V2", "roof"]
        for box, again in zip(before.boxes, after.boxes, strict=True):
            assert again == (None if box is None else pytest.approx(box, abs=1e-9))


def test_no_frame_no_map(tmp_path: Path) -> None:
    file = written([boxed()], tmp_path)
    assert not file.by_type("IfcCoordinateOperation")
    (context,) = file.by_type("IfcGeometricRepresentationContext", include_subtypes=False)
    assert context.TrueNorth is None
    file = written([boxed()], tmp_path, frame=Frame((1.0, 2.0, 3.0)))
    assert file.by_type("IfcProjectedCRS")[0].Name == UNNAMED_GRID


def test_each_element_is_in_the_storey_it_stands_in(tmp_path: Path) -> None:
    """The route lies at 0 and rises to 6 m; the bodies of the boxes reach below the quay."""
    file = written([boxed()], tmp_path, "m", levels=LEVELS)
    assert [(s.Name, s.Elevation) for s in file.by_type("IfcBuildingStorey")] == list(
        LEVELS.items()
    )
    inside = {
        e.Name: ifcopenshell.util.element.get_container(e).Name
        for kind in ("IfcCableCarrierSegment", "IfcCableCarrierFitting", "IfcJunctionBox")
        for e in file.by_type(kind)
    }
    assert len(inside) == 8
    assert [n for n, where in inside.items() if where == "site"] == ["vault V1", "V2"]
    assert {where for n, where in inside.items() if n.startswith("B1")} == {"quay"}
    high = ExchangeRoute("H", np.array([[0, 0, 3.5], [9, 0, 3.5]]), np.zeros(2))
    file = written([high], tmp_path, "m", levels=LEVELS)
    (straight,) = file.by_type("IfcCableCarrierSegment")
    assert ifcopenshell.util.element.get_container(straight).Name == "mezzanine"


# the validator leaves its own rule files open
@pytest.mark.filterwarnings("ignore:unclosed file:ResourceWarning")
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_the_validator_finds_no_fault(tmp_path: Path) -> None:
    """All demos, boxes, storeys and a map grid, with the rules of the schema."""
    routes = [route for model in DEMOS for route in routes_of(route3d.load(model))]
    written([*routes, boxed()], tmp_path, frame=FRAME, levels=LEVELS)
    log = ifcopenshell.validate.json_logger()
    ifcopenshell.validate.validate(str(tmp_path / "a.ifc"), log, express_rules=True)
    assert log.statements == []


def test_the_floors_of_a_job_are_storeys(tmp_path: Path) -> None:
    model = tmp_path / "yard.toml"
    text = (MODELS / "yard_run.toml").read_text(encoding="utf-8")
    rooms = "".join(
        f'\n[[site.room]]\nname = "{name}"\noutline = [[0, 0], [9, 0], [9, 9]]\nfloor = {floor}\n'
        for name, floor in (("pit", -30), ("cellar", -30), ("hall", 5))
    )
    model.write_text(text + rooms)
    assert main(["convert", str(model), str(tmp_path / "y.ifc")]) == 0
    file = ifcopenshell.open(str(tmp_path / "y.ifc"))
    storeys = [(s.Name, round(s.Elevation, 6)) for s in file.by_type("IfcBuildingStorey")]
    assert storeys == [("pit, cellar", -30), ("substation yard", 0), ("hall", 5)]
