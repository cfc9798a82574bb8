"""Drawings that others made: planes, directions, gaps, loops, branches, blocks, units, damage."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
from ezdxf.math import OCS, UCS, Matrix44, Vec3

from route3d.errors import InputError
from route3d.formats.catalog import read_routes, written_said
from route3d.formats.dxf.reading import read_dxf
from route3d.formats.dxf.writing import write_dxf
from route3d.formats.exchange import ExchangeRoute, ReadOptions
from tests.support.drawings import CONDUIT, LINE, PLANES, elbow, elbow_vertices, read
from tests.support.wild_routes import wild_route

# Drawings hold some 16 digits; angles in degrees and turned planes cost a few of them.
CLOSE = 1e-9


@pytest.mark.parametrize("plane", PLANES)
def test_lines_and_arcs_of_any_plane_make_one_route(plane: str, tmp_path: Path) -> None:
    ucs = PLANES[plane]
    reading = read(lambda s: elbow(s, ucs), tmp_path)
    (route,) = reading.routes
    assert route.name == "CONDUIT"
    assert route.points == pytest.approx(np.array([tuple(p) for p in elbow_vertices(ucs)]))
    assert route.radii == pytest.approx([0, 2, 0], abs=CLOSE)
    assert "route CONDUIT: 3 pieces joined, 1 bend drawn as an arc, 1 piece reversed" in (
        reading.used
    )


@pytest.mark.parametrize("extrusion", [(0, 0, 1), (0, 0, -1), (1, 0, 0), (0.3, -0.4, 0.5)])
@pytest.mark.parametrize("old", [False, True])
def test_polylines_with_bulges_and_elevation(
    extrusion: tuple[float, float, float], old: bool, tmp_path: Path
) -> None:
    quarter = math.tan(math.pi / 8)
    rows = [(0, 0, 0.0), (10, 0, quarter), (12, 2, 0.0), (12, 7, 0.0)]
    attributes = {"layer": "F1", "extrusion": Vec3(extrusion).normalize()}

    def draw(space: Any) -> None:
        if old:
            line = space.add_polyline2d(rows, format="xyb", dxfattribs=attributes)
            line.dxf.elevation = (0, 0, 3.5)
        else:
            space.add_lwpolyline(rows, format="xyb", dxfattribs=attributes).dxf.elevation = 3.5

    (route,) = read(draw, tmp_path).routes
    ocs = OCS(extrusion)
    expected = [tuple(ocs.to_wcs(Vec3(x, y, 3.5))) for x, y in ((0, 0), (12, 0), (12, 7))]
    assert route.points == pytest.approx(np.array(expected))
    assert route.radii == pytest.approx([0, 2, 0], abs=CLOSE)


def test_arcs_drawn_by_hand_are_those_of_the_written_route(tmp_path: Path) -> None:
    """Our own path, drawn by ezdxf's constructor of arcs from two points and a radius."""
    whole = wild_route(4).path()

    def draw(space: Any) -> None:
        for i in range(len(whole)):
            start, end = Vec3(whole.starts[i]), Vec3(whole.ends[i])
            if whole.kind[i] == 0:
                space.add_line(end, start)
                continue
            normal = Vec3(np.cross(whole.tangents[i], whole.normals[i]))
            ocs = OCS(normal)
            arc = ezdxf.math.ConstructionArc.from_2p_angle(
                ocs.from_wcs(start).vec2, ocs.from_wcs(end).vec2, math.degrees(whole.angles[i])
            )
            arc.add_to_layout(space, dxfattribs={"extrusion": normal}).dxf.center = (
                arc.center.vec3 + (0, 0, ocs.from_wcs(start).z)
            )

    (route,) = read(draw, tmp_path).routes
    again = route.path().reversed()  # all lines were drawn backwards; arcs have no direction
    assert again.length == pytest.approx(whole.length, abs=CLOSE)
    share = np.linspace(0, 1, 200)
    drawn = again.point(share * again.length)
    assert drawn == pytest.approx(whole.point(share * whole.length), abs=CLOSE)


def test_gaps_within_the_tolerance_are_closed_and_said(tmp_path: Path) -> None:
    reading = read(lambda s: elbow(s, UCS(), gap=4e-4), tmp_path)
    (route,) = reading.routes
    assert route.path().length == pytest.approx(10 + math.pi + 5, abs=2e-3)
    assert any("gaps up to 0.4 mm closed" in said for said in reading.used)
    parted = read(
        lambda s: elbow(s, UCS(), gap=4e-4), tmp_path, options=ReadOptions(tolerance=1e-4)
    )
    assert [r.name for r in parted.routes] == [f"CONDUIT part {k} of 3" for k in (1, 2, 3)]
    assert "CONDUIT: in 3 parts, because of gaps" in parted.guessed
    assert [e.state for e in parted.elements] == ["broken"] * 2
    said = "gap of 0.4 mm, above the tolerance of 0.1 mm; use --tolerance"
    assert {e.said for e in parted.elements} == {said}


def test_loops_and_branches_are_told_with_their_place(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        space.add_lwpolyline([(50, 50), (60, 50), (60, 60)], close=True)
        space.add_line((0, 0), (10, 0))
        space.add_line((10, 0), (20, 0))
        space.add_line((10, 0), (10, 9))

    reading = read(draw, tmp_path)
    assert [r.name for r in reading.routes] == ["0 1", "0 2", "0 3"]
    assert any("closed loop of 1 piece at (50.00, 50.00, 0.00) m" in s for s in reading.ignored)
    assert any("more than two pieces meet at (10.00, 0.00, 0.00) m" in s for s in reading.guessed)


def test_a_drawing_of_loops_alone_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="has no route: layer 0: closed loop"):
        read(lambda s: s.add_lwpolyline([(0, 0), (9, 0), (9, 9)], close=True), tmp_path)


def test_a_faceted_polyline_becomes_arcs_again_and_says_how_well(tmp_path: Path) -> None:
    angles = np.linspace(0, np.pi / 2, 25)
    bend = np.column_stack((10 + 3 * np.sin(angles), 3 - 3 * np.cos(angles), 0 * angles))
    points = [(0, 0, 0), *map(tuple, bend), (13, 20, 0)]
    plain = read(lambda s: s.add_polyline3d(points), tmp_path)
    assert len(plain.routes[0].points) == 27
    reading = read_routes(tmp_path / "drawing.dxf", ReadOptions())
    (route,) = reading.routes
    assert route.radii == pytest.approx([0, 3, 0], abs=1e-6)  # a least squares fit
    assert any("1 bend recognized in 27 points; max" in said for said in reading.used)


def test_layers_choose_runs_and_the_rest_is_counted(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        for y, layer in enumerate(("F1", "F2", "WALLS")):
            space.add_line((0, y), (30, y), dxfattribs={"layer": layer})
        space.add_line((0, 40), (9, 40), dxfattribs={"layer": "WALLS"})

    reading = read(draw, tmp_path, options=ReadOptions(layers=("f2", "F1")))
    assert [r.name for r in reading.routes] == ["F1", "F2"]
    assert "layer WALLS: 2 LINE, not a requested layer" in reading.ignored
    with pytest.raises(InputError, match=r"has no layer F9.*layers: F1, F2, WALLS"):
        read(draw, tmp_path, options=ReadOptions(layers=("F9",)))


def test_what_is_not_used_is_counted_by_type_and_layer(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        space.add_line((0, 0), (10, 0), dxfattribs=CONDUIT)
        for _ in range(3):
            space.add_3dface([(0, 50), (1, 50), (1, 51)], dxfattribs=CONDUIT)
        space.add_ellipse((0, 0), (5, 0), 0.5, dxfattribs=CONDUIT)
        space.add_text("pit", dxfattribs={"layer": "NOTES"})
        space.add_circle((0, 0), 2, dxfattribs={"layer": "NOTES"})
        space.add_line((5, 5), (5, 5), dxfattribs=CONDUIT)
        space.doc.layout("Layout1").add_line((0, 0), (1, 1))

    said = " | ".join(read(draw, tmp_path).ignored)
    assert (
        "layer CONDUIT: 3 3DFACE, 1 ELLIPSE (closed: a route must have two ends), 1 LINE (" in said
    )
    assert "3DFACE: a solid or surface has no centerline: draw lines and arcs" in said
    assert "layer NOTES: 1 CIRCLE (closed: a route must have two ends), 1 TEXT" in said
    assert "sheet Layout1: 1 entity, not in model space" in said


def test_blocks_are_opened_where_they_stand(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        block = space.doc.blocks.new("ELBOW")
        elbow(block, UCS())
        for entity in block:
            entity.dxf.layer = "0"  # takes the layer of the reference
        outer = space.doc.blocks.new("OUTER")
        outer.add_blockref("ELBOW", (1, 0, 0), dxfattribs={"rotation": 30})
        space.add_blockref(
            "OUTER", (100, 50, 3),
            dxfattribs={"layer": "F1", "xscale": 2, "yscale": 2, "zscale": 2},
        )  # fmt: skip
        space.add_blockref("ELBOW", (0, 0), dxfattribs={"layer": "F2", "xscale": 2})

    reading = read(draw, tmp_path)
    route = next(r for r in reading.routes if r.name == "F1")
    turn = Matrix44.z_rotate(math.radians(30))
    places = [Vec3(p) for p in ((0, 0), (12, 0), (12, 7))]
    expected = [tuple(Vec3(100, 50, 3) + 2 * (Vec3(1, 0) + turn.transform(p))) for p in places]
    assert route.points == pytest.approx(np.array(expected))
    assert route.radii == pytest.approx([0, 4, 0], abs=CLOSE)
    assert any("layer F1: 2 LINE, 1 ARC, 2 block references opened" in s for s in reading.used)
    # one direction stretched: the arc is an ellipse now, which arcs follow
    stretched = next(r for r in reading.routes if r.name == "F2")
    assert stretched.points[[0, -1]] == pytest.approx(np.array([(0, 0, 0), (24, 7, 0)]))
    assert any("layer F2: 2 LINE, 1 ELLIPSE, 1 block reference opened" in s for s in reading.used)


def test_a_reference_to_nothing_is_reported(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        space.add_line((0, 0), (10, 0))
        space.add_blockref("NOWHERE", (0, 0))

    said = read(draw, tmp_path).ignored
    assert any("1 INSERT (its block is not in the file)" in s for s in said)


# --- units and places --------------------------------------------------------------------------


# Meters in a unit by its number in $INSUNITS (DXF reference, HEADER); all exact by definition.
INSUNITS = {1: 0.0254, 2: 0.3048, 4: 0.001, 5: 0.01, 6: 1.0, 21: 1200 / 3937}


@pytest.mark.parametrize("number", INSUNITS)
def test_lengths_are_those_of_the_file(number: int, tmp_path: Path) -> None:
    size = INSUNITS[number]
    length = 40 / size
    (route,) = read(lambda s: s.add_line((0, 0), (0, length)), tmp_path, units=number).routes
    assert route.points[1] == pytest.approx([0, 40, 0])


def test_units_asked_for_go_first_and_the_difference_is_said(tmp_path: Path) -> None:
    reading = read(
        lambda s: s.add_line((0, 0), (0, 100)), tmp_path, options=ReadOptions(units="ft")
    )
    assert reading.routes[0].points[1, 1] == pytest.approx(30.48)
    assert "lengths in ft as requested, although $INSUNITS of the file is m" in reading.guessed


def test_no_unit_is_no_guess(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        space.add_line((0, 0), (0, 100))

    with pytest.raises(InputError, match="does not say its unit of length; use --units"):
        read(draw, tmp_path, units=0)
    with pytest.raises(InputError, match=r"has the unit \$INSUNITS 8"):
        read(draw, tmp_path, units=8)
    bare = tmp_path / "bare.dxf"
    bare.write_text(LINE)  # no header at all: ezdxf alone takes that for meters
    with pytest.raises(InputError, match="does not say its unit of length"):
        read_dxf(bare, ReadOptions())


@pytest.mark.parametrize(("length", "unit"), [(0.18, "0.18 m"), (182_000.0, "1.82e")])
def test_lengths_no_run_has_are_wrong_units(length: float, unit: str, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=f"units appear wrong: the longest route.*{unit}"):
        read(lambda s: s.add_line((0, 0), (length, 0)), tmp_path)


def test_the_origin_is_taken_off_in_the_units_of_the_file(tmp_path: Path) -> None:
    reading = read(
        lambda s: s.add_line((512345, 4567890, 30), (512345, 4567990, 30)), tmp_path, units=2,
        options=ReadOptions(origin=(512345, 4567890, 20)),
    )  # fmt: skip
    expected = np.array([(0, 0, 10), (0, 100, 10)]) * 0.3048
    assert reading.routes[0].points == pytest.approx(expected)


def test_labels_lie_apart_and_those_left_out_are_told(tmp_path: Path) -> None:
    """As a viewer draws them: no text of a winding line on another, nor on that of a riser."""
    x = np.arange(120.0)
    waves = np.column_stack((2 * x, np.where(x % 2 < 1, 0.0, 2.0), 0 * x))
    radii = np.concatenate(([0.0], np.full(118, 0.5), [0.0]))
    riser = np.array([(0, 90, 0), (90, 90, 0), (90, 90, 12), (200, 90, 12)], dtype=float)
    routes = [ExchangeRoute("W", waves, radii), ExchangeRoute("R", riser, np.array([0, 1, 1, 0]))]
    file = tmp_path / "w.dxf"
    write_dxf(routes, file, "SI")
    texts = list(ezdxf.readfile(file).modelspace().query("TEXT"))
    boxes = []
    for text in texts:
        (left, low, _), high = text.dxf.insert, text.dxf.height
        boxes.append((left, low, left + 0.6 * high * len(text.dxf.text), low + high))
    for i, (a, b, c, d) in enumerate(boxes):
        for e, f, g, h in boxes[:i]:
            assert c <= e or g <= a or d <= f or h <= b
    bends = [t for t in texts if t.dxf.text.startswith("bend ")]
    (said,) = written_said(routes, file, "SI")
    assert said == f"{120 - len(bends)} labels of bends left out: too close to others to be read"
    assert {"bend 1", "bend 2"} <= {
        t.dxf.text.partition(":")[0] for t in bends if t.dxf.layer == "R labels"
    }
