"""GeoJSON and LandXML as survey and civil programs write them, made by json and xml.etree."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest

from route3d.formats.exchange import ImportedRoutes, ReadOptions
from tests.corpus.case import Case

REACH = frozenset({"reel", "machine"})


def length(reading: ImportedRoutes, number: int = 0) -> float:
    """The developed length of a route, m."""
    return reading.routes[number].path().length


# --- GeoJSON ------------------------------------------------------------------------------------


def features(*held: dict[str, Any], **more: Any) -> Callable[[Path], None]:
    def write(file: Path) -> None:
        whole = {"type": "FeatureCollection", **more, "features": list(held)}
        file.write_text(json.dumps(whole), encoding="utf-8")

    return write


def feature(kind: str, coordinates: Any, **properties: Any) -> dict[str, Any]:
    geometry = {"type": kind, "coordinates": coordinates}
    return {"type": "Feature", "properties": properties, "geometry": geometry}


def named_crs(name: str) -> dict[str, Any]:
    return {"crs": {"type": "name", "properties": {"name": name}}}


GRID = "urn:ogc:def:crs:EPSG::32610"


def one_route_of_three_parts(reading: ImportedRoutes) -> None:
    (route,) = reading.routes
    assert (route.name, reading.crs) == ("FEED-3", "EPSG:32610")
    assert {e.state for e in reading.elements} == {"sharp"}  # corners, for it has no radii
    assert length(reading) == pytest.approx(70 + 35 + 20, abs=1e-3)  # gap closed half-way
    assert route.notes == ("owner: port", "duct_mm: 103")


def three_parts_and_a_gap(reading: ImportedRoutes) -> None:
    assert [round(length(reading, i)) for i in range(2)] == [40, 30]
    element, *flat = reading.elements
    assert (element.state, element.name) == ("broken", "F2")
    assert {e.said for e in flat} == {"no altitude: z is 0"}
    assert "smallest gap 250 mm" in element.said


def a_spur(reading: ImportedRoutes) -> None:
    assert len(reading.routes) == 3
    assert "more than two meet" in reading.elements[0].said


def degrees(reading: ImportedRoutes) -> None:
    """0.001 degrees of the equator of WGS 84: 6378137 π/180000 = 111.3195 m."""
    assert length(reading) == pytest.approx(6378137 * math.pi / 180_000, abs=1e-4)
    assert reading.routes[0].name == "7"


def by_tag(reading: ImportedRoutes) -> None:
    assert [r.name for r in reading.routes] == ["EV-1", "EV-2", "EV-2 2"]
    assert reading.routes[0].conduit == "PVC 4"


def a_bend_of_chords(reading: ImportedRoutes) -> None:
    assert reading.routes[0].radii == pytest.approx([0, 3.0, 0], abs=1e-6)


BEND = [[10 + 3 * math.sin(a), 3 - 3 * math.cos(a), 1.0]
        for a in (math.radians(5 * k) for k in range(19))]  # fmt: skip

GEOJSON = [
    Case(
        "parts of one feature in any order and direction on a UTM grid",
        ".geojson",
        features(
            feature(
                "MultiLineString",
                [
                    [[549070, 5272000, 2], [549070, 5272035, 2]],
                    [[549000, 5272000, 2], [549070, 5272000.0005, 2]],
                    [[549090, 5272035, 2], [549070, 5272035, 2]],
                ],
                id="FEED-3",
                owner="port",
                duct_mm=103,
            ),
            **named_crs(GRID),
        ),
        one_route_of_three_parts,
    ),
    Case(
        "parts that do not meet",
        ".geojson",
        features(
            feature("MultiLineString", [[[0, 0], [40, 0]], [[40.25, 0], [70.25, 0]]], name="F2")
        ),
        three_parts_and_a_gap,
        ReadOptions(units="m"),
    ),
    Case(
        "parts with a spur",
        ".json",
        features(
            feature(
                "MultiLineString",
                [[[0, 0], [40, 0]], [[40, 0], [70, 0]], [[40, 0], [40, 9]]],
                name="F3",
            )
        ),
        a_spur,
        ReadOptions(units="m"),
    ),
    Case(
        "degrees by RFC 7946 with the id of the feature as its name",
        ".geojson",
        features({**feature("LineString", [[9, 0, 0], [9.001, 0, 0]]), "id": 7}),
        degrees,
    ),
    Case(
        "features named by another property, conduit too",
        ".geojson",
        features(
            *(
                feature("LineString", [[0, y], [30, y]], name="duct", tag=tag, size="PVC 4")
                for y, tag in enumerate(("EV-1", "EV-2", "EV-2"))
            )
        ),
        by_tag,
        ReadOptions(units="ft", columns={"name": "tag", "conduit": "size"}),
    ),
    Case(
        "a bend of chords in a collection of geometries",
        ".geojson",
        features(
            {
                "type": "Feature",
                "properties": None,
                "geometry": {
                    "type": "GeometryCollection",
                    "geometries": [
                        {"type": "Point", "coordinates": [0, 0]},
                        {
                            "type": "LineString",
                            "coordinates": [[0, 0, 1.0], *BEND, [13, 20, 1.0]],
                        },
                    ],
                },
            },
            **named_crs("EPSG:25832"),
        ),
        a_bend_of_chords,
    ),
]

# --- LandXML ------------------------------------------------------------------------------------

Node = tuple[str, dict[str, str], str | list[Any]]


def node(tag: str, held: str | list[Any] = "", **attributes: str) -> Node:
    return tag, attributes, held


def landxml(*held: Node, unit: str = "meter", **units: str) -> Callable[[Path], None]:
    def build(parent: ElementTree.Element, one: Node) -> None:
        tag, attributes, inside = one
        made = ElementTree.SubElement(parent, tag, attributes)
        if isinstance(inside, str):
            made.text = inside
        else:
            for each in inside:
                build(made, each)

    def write(file: Path) -> None:
        root = ElementTree.Element(
            "LandXML", xmlns="http://www.landxml.org/schema/LandXML-1.2", version="1.2"
        )
        system = "Imperial" if unit in ("foot", "USSurveyFoot") else "Metric"
        build(root, node("Units", [node(system, linearUnit=unit, **units)]))
        for one in held:
            build(root, one)
        ElementTree.ElementTree(root).write(file, encoding="utf-8", xml_declaration=True)

    return write


def struct(name: str, place: str, *inside: Node, **attributes: str) -> Node:
    return node("Struct", [node("Center", place), *inside], name=name, **attributes)


def pipe(name: str, start: str, end: str, *inside: Node) -> Node:
    return node("Pipe", list(inside), name=name, refStart=start, refEnd=end)


def invert(name: str, level: float) -> Node:
    return node("Invert", elev=str(level), refPipe=name, flowDir="both")


def network(structs: list[Node], pipes: list[Node], name: str = "berth 2") -> Node:
    held = [node("Structs", structs), node("Pipes", pipes)]
    return node("PipeNetworks", [node("PipeNetwork", held, name=name, pipeNetType="other")])


ROUND = node("CircPipe", diameter="0.2", thickness="0.01")

CHAIN = network(
    [
        struct("V1", "0 0", node("CircStruct", diameter="1.5"), invert("P1", 7.9),
               elevRim="10", elevSump="7.5"),
        struct("V2", "0 40", node("RectStruct", length="2.4", width="1.2", lengthDir="90"),
               invert("P1", 7.7), invert("P2", 7.7), elevRim="10", elevSump="7.5"),
        struct("V3", "30 40", node("OutletStruct"), invert("P2", 7.4)),
    ],
    [pipe("P1", "V1", "V2", ROUND), pipe("P2", "V2", "V3", ROUND)],
)  # fmt: skip


def two_legs(reading: ImportedRoutes) -> None:
    """Axes 0.1 m over the inverts; 40 m falling 0.2 m and 30 m falling 0.3 m."""
    (route,) = reading.routes
    assert route.name == "berth 2"
    assert route.points == pytest.approx(np.array([[0, 0, 8.0], [40, 0, 7.8], [40, 30, 7.5]]))
    assert route.names == ("V1", "V2", "V3")
    assert route.access == (REACH,) * 3
    assert route.boxes == (
        pytest.approx((1.5, 1.5, 2.5)), pytest.approx((2.4, 1.2, 2.5)), None,
    )  # fmt: skip
    assert route.diameters == pytest.approx((0.22, 0.22))
    assert length(reading) == pytest.approx(math.hypot(40, 0.2) + math.hypot(30, 0.3))
    assert reading.elements == ()


MILLIMETERS = network(
    [
        struct("V1", "0 0", node("CircStruct", diameter="1.5"), invert("P1", 7.9),
               elevRim="10", elevSump="7.5"),
        struct("V2", "0 40", invert("P1", 7.7), invert("P2", 4.775)),
        struct("V3", "30 40", invert("P2", 4.475)),
    ],
    [
        pipe("P1", "V1", "V2", node("CircPipe", diameter="150", thickness="5")),
        pipe("P2", "V2", "V3", node("CircPipe", diameter="6000", thickness="5")),
    ],
)  # fmt: skip


def in_millimeters(reading: ImportedRoutes) -> None:
    """150 + 2 * 5 mm over all; a vault of 1.5 mm and a pipe of 6.01 m are told."""
    (route,) = reading.routes
    assert route.diameters == pytest.approx((0.16, 6.01))
    told = {e.handle: e.said for e in reading.elements if "check" in e.said}
    assert told["P2"] == "its outer diameter is 6.01 m, no conduit: check diameterUnit"
    assert told["V1"] == "it is 1.5 mm across, no vault: check diameterUnit"
    assert told.keys() == {"P2", "V1"}


def plain(name: str, place: str, *levels: tuple[str, float]) -> Node:
    return struct(name, place, *(invert(*level) for level in levels))


BRANCH = network(
    [
        plain("A", "0 0", ("P1", 1)),
        plain("B", "0 20", ("P1", 1), ("P2", 1), ("P3", 1)),
        plain("C", "0 50", ("P2", 1)),
        plain("D", "9 20", ("P3", 1)),
    ],
    [pipe(n, a, b, ROUND) for n, a, b in (("P1", "A", "B"), ("P2", "B", "C"), ("P3", "D", "B"))],
)


def three_runs(reading: ImportedRoutes) -> None:
    names = ["berth 2: A to B", "berth 2: B to C", "berth 2: D to B"]
    assert [r.name for r in reading.routes] == names
    assert [length(reading, i) for i in range(3)] == pytest.approx([20, 30, 9])
    (element,) = reading.elements
    assert (element.handle, element.kind, element.at) == ("B", "Struct", (20.0, 0.0, 0.0))
    assert "branch: 3 pipes meet ('P1', 'P2', 'P3')" in element.said


LACKING = network(
    [
        plain("A", "0 0", ("P1", 1)),
        plain("B", "0 20", ("P1", 1.04), ("P2", 1)),
        plain("C", "0 50"),
        struct("D", "0 80", node("CircStruct", diameter="1.2"), invert("P4", 1), elevRim="3"),
        struct("E", "0 99", elevSump="0.5"),
    ],
    [
        pipe("P1", "A", "B", ROUND),
        pipe("P2", "B", "C", node("CircPipe", diameter="0.2")),
        pipe("P3", "C", "nowhere", ROUND),
        pipe("P4", "D", "E", node("RectPipe", height="0.3", width="0.4")),
    ],
)


def what_is_missing(reading: ImportedRoutes) -> None:
    assert [r.name for r in reading.routes] == ["berth 2: A to B", "berth 2: D to E"]
    told = {(e.handle, e.state): e.said for e in reading.elements}
    assert told["P2", "missing"] == "left out: no invert at 'C', and none to take for it"
    assert told["P3", "missing"] == "left out: no structure 'nowhere'"
    assert [e.said for e in reading.elements if e.handle == "P4"] == [
        "no diameter (RectPipe); its axis is taken at half its height",
        "no invert at 'E': the sump is taken",
    ]
    assert told["D", "guessed"] == "no sump: the height of its box ends at the lowest invert"
    assert reading.routes[1].points[:, 2] == pytest.approx([1.15, 0.65])


def a_step(reading: ImportedRoutes) -> None:
    assert len(reading.routes) == 1
    assert reading.routes[0].points[1, 2] == pytest.approx(1.115)
    assert "pipes enter at 1.100 and 1.130 m" in reading.elements[0].said


def a_drop(reading: ImportedRoutes) -> None:
    assert len(reading.routes) == 2
    assert (reading.elements[0].handle, reading.elements[0].state) == ("B", "broken")
    assert "0.800 m apart in level" in reading.elements[0].said


def stepped(up: float) -> Callable[[Path], None]:
    return landxml(
        network(
            [
                plain("A", "0 0", ("P1", 1)),
                plain("B", "0 20", ("P1", 1), ("P2", 1 + up)),
                plain("C", "0 50", ("P2", 1 + up)),
            ],
            [pipe("P1", "A", "B", ROUND), pipe("P2", "B", "C", ROUND)],
        )
    )


def quarter(reading: ImportedRoutes) -> None:
    """A quarter of a circle of 20 m between two structures, level."""
    assert length(reading) == pytest.approx(20 * math.pi / 2, abs=1e-6)
    assert reading.routes[0].radii[1] == pytest.approx(20, abs=1e-6)


def feet_and_inches(reading: ImportedRoutes) -> None:
    assert reading.routes[0].outer_diameter == pytest.approx(0.0254 * 6)
    assert length(reading) == pytest.approx(100 * 1200 / 3937)


def plan_features(reading: ImportedRoutes) -> None:
    assert [r.name for r in reading.routes] == ["bank axis", "stub"]
    assert length(reading) == pytest.approx(25 + 12)
    assert reading.routes[0].points[-1] == pytest.approx([25, 0, 12])
    assert reading.ignored == ("2 elements Parcels", "plan feature 'fence': a closed line")


def line(*places: str) -> list[Node]:
    pairs = pairwise(places)
    return [node("Line", [node("Start", a), node("End", b)]) for a, b in pairs]


def plan_feature(name: str, *places: str) -> Node:
    return node("PlanFeature", [node("CoordGeom", line(*places))], name=name)


def others_read(reading: ImportedRoutes) -> None:
    assert [r.name for r in reading.routes] == ["good"]
    (element,) = [e for e in reading.elements if e.state != "guessed"]
    assert (element.handle, element.state) == ("bad", "missing")
    assert "starts 5 m from the end of the one before" in element.said


def alignment(name: str, geometry: list[Node], *more: Node) -> Node:
    return node("Alignment", [node("CoordGeom", geometry), *more], name=name, staStart="0")


def profiled(reading: ImportedRoutes) -> None:
    """Level, up 1 in 10 by a circle of 200 m at station 50, over 100 m."""
    assert reading.crs == "EPSG:2926"
    angle = math.atan(0.1)
    setback = 200 * math.tan(angle / 2)
    expected = 50 - setback + 200 * angle + math.hypot(50, 5) - setback
    assert length(reading) == pytest.approx(expected, abs=1e-5)


CURVED = node(
    "Profile",
    [node("ProfAlign", [
        node("PVI", "0 3"), node("CircCurve", "50 3", length="20", radius="200"),
        node("PVI", "100 8"),
    ], name="invert")],
)  # fmt: skip

LANDXML = [
    Case("a network with boxes, falls and an outlet", ".xml", landxml(CHAIN), two_legs),
    Case(
        "a network with walls in millimeters and sizes that are none",
        ".xml",
        landxml(MILLIMETERS, diameterUnit="millimeter"),
        in_millimeters,
    ),
    Case("a network that branches", ".xml", landxml(BRANCH), three_runs),
    Case("a network that lacks half of it", ".xml", landxml(LACKING), what_is_missing),
    Case("inverts 30 mm apart in a structure", ".xml", stepped(0.03), a_step),
    Case("a drop of 0.8 m in a structure", ".landxml", stepped(0.8), a_drop),
    Case(
        "a curved pipe",
        ".xml",
        landxml(
            network(
                [plain("A", "0 0", ("P", 1)), plain("B", "20 20", ("P", 1))],
                [pipe("P", "A", "B", ROUND, node("Center", "20 0"))],
            )
        ),
        quarter,
    ),
    Case(
        "survey feet with diameters in inches",
        ".xml",
        landxml(
            network(
                [plain("A", "0 0", ("P", 1)), plain("B", "100 0", ("P", 1))],
                [pipe("P", "A", "B", node("CircPipe", diameter="6"))],
            ),
            unit="USSurveyFoot",
            diameterUnit="inch",
        ),
        feet_and_inches,
    ),
    Case(
        "plan features with a riser, a fence and parcels",
        ".xml",
        landxml(
            node("Parcels"),
            node("Parcels"),
            node(
                "PlanFeatures",
                [
                    plan_feature("bank axis", "0 0 0", "0 25 0", "0 25 12"),
                    plan_feature("fence", "0 0 0", "0 9 0", "9 9 0", "0 0 0"),
                ],
            ),
            node("PlanFeatures", [plan_feature("stub", "3 0 1", "3 8 1")]),
        ),
        plan_features,
    ),
    Case(
        "one alignment that does not join beside a good one",
        ".xml",
        landxml(
            node(
                "Alignments",
                [
                    alignment("bad", [*line("0 0", "0 9"), *line("5 9", "5 20")]),
                    alignment("good", line("0 0", "0 9")),
                ],
            )
        ),
        others_read,
    ),
    Case(
        "an alignment with a circular curve in its profile on a named grid",
        ".xml",
        landxml(
            node("CoordinateSystem", name="state plane", epsgCode="2926"),
            node("Alignments", [alignment("F1", line("0 0", "0 100"), CURVED)]),
        ),
        profiled,
    ),
]

CASES = [*GEOJSON, *LANDXML]
