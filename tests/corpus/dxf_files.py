"""Drawings written by ezdxf alone: curves, loose straights, solids, layers, blocks, names."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
from ezdxf.acis import api as acis
from ezdxf.math import BSpline, ConstructionArc, Matrix44, Vec3
from ezdxf.render import forms

from route3d.formats.catalog import sharp_corners
from route3d.formats.exchange import ExchangeRoute, ImportedRoutes, ReadOptions
from tests.corpus.case import Case

Draw = Callable[[Any], None]
Check = Callable[[ImportedRoutes], None]
TOLERANCE = 5e-3  # of arcs, as read


def case(
    name: str, draw: Draw, check: Check, *, damage: bytes = b"", options: ReadOptions | None = None
) -> Case:
    """A drawing in meters; ``damage`` is cut out of its text."""

    def write(path: Path) -> None:
        doc = ezdxf.new("R2010")
        doc.header["$INSUNITS"] = 6
        draw(doc.modelspace())
        assert not doc.audit().has_errors
        doc.saveas(path)
        if damage:
            data = path.read_bytes()
            at = data.rindex(damage)
            path.write_bytes(data[:at] + data[at + len(damage) :])

    return Case(name, ".dxf", write, check, options or ReadOptions())


def on(layer: str = "F1") -> dict[str, Any]:
    return {"layer": layer}


def two_straights(space: Any, setback: float = 1.0, other: float | None = None) -> None:
    """10 m along x and 8 m along y, whose corner (10, 0, 0) is left open."""
    space.add_line((0, 0), (10 - setback, 0), dxfattribs=on())
    space.add_line((10, setback if other is None else other), (10, 8), dxfattribs=on())


def the_one(reading: ImportedRoutes) -> ExchangeRoute:
    (route,) = reading.routes
    assert not sharp_corners(route)
    return route


def states(reading: ImportedRoutes) -> list[tuple[str, str]]:
    return sorted((e.kind, e.state) for e in reading.elements)


def elbow_check(radius: float, kind: str) -> Check:
    def check(reading: ImportedRoutes) -> None:
        route = the_one(reading)
        assert route.points == pytest.approx(np.array([(0, 0, 0), (10, 0, 0), (10, 8, 0)]))
        assert route.radii == pytest.approx([0, radius, 0])
        assert states(reading) == [(kind, "guessed")]
        assert f"elbow of radius {radius:g} m rebuilt" in reading.elements[0].said
        assert reading.elements[0].run == "F1"

    return check


# --- elbows that are no lines --------------------------------------------------------------------


def box(at: tuple[float, float, float], size: float) -> Any:
    return forms.cube(center=True).scale_uniform(size).translate(*at)


def solid_elbow(space: Any) -> None:
    two_straights(space)
    solid = space.add_3dsolid(dxfattribs=on())
    acis.export_dxf(solid, [acis.body_from_mesh(box((9.5, 0.5, 0), 1.1))])


def mesh_elbow(space: Any) -> None:
    two_straights(space, 0.6)
    box((9.7, 0.3, 0), 0.7).render_mesh(space, dxfattribs=on())


def faces_elbow(space: Any) -> None:
    """An elbow of 3DFACEs whose legs are not the same: the rest of the longer one is straight."""
    two_straights(space, 0.6, 0.9)
    box((9.6, 0.4, 0), 1.1).render_3dfaces(space, dxfattribs=on())


def check_faces(reading: ImportedRoutes) -> None:
    assert the_one(reading).radii == pytest.approx([0, 0.6, 0])
    assert the_one(reading).path().length == pytest.approx(18 - 1.2 + 0.3 * np.pi)
    assert ("3DFACE", "guessed") in states(reading)


def coupling(space: Any) -> None:
    space.add_line((0, 0), (4, 0), dxfattribs=on())
    space.add_line((4.2, 0), (9, 0), dxfattribs=on())
    box((4.1, 0, 0), 0.22).render_mesh(space, dxfattribs=on())


def check_coupling(reading: ImportedRoutes) -> None:
    assert the_one(reading).path().length == pytest.approx(9)
    assert states(reading) == [("MESH", "guessed")]
    assert "gap of 200 mm between two straights in line" in reading.elements[0].said


def quarter() -> ConstructionArc:
    return ConstructionArc((9, 1), 1, 270, 360)


def spline_elbow(space: Any) -> None:
    two_straights(space)
    space.add_spline(dxfattribs=on()).apply_construction_tool(BSpline.from_arc(quarter()))


def check_quarter(reading: ImportedRoutes) -> None:
    assert the_one(reading).points[1] == pytest.approx([10, 0, 0], abs=1e-6)
    assert the_one(reading).radii == pytest.approx([0, 1, 0], abs=1e-6)
    assert reading.elements == ()


def round_ellipse(space: Any) -> None:
    two_straights(space)
    space.add_ellipse((9, 1), (0, -1), 1.0, 0.0, np.pi / 2, dxfattribs=on())


def bank_of_elbows(space: Any) -> None:
    """Three conduits side by side, their elbows about one center left out."""
    for k in range(3):
        y, x = 0.2 * k, 10 - 0.2 * k
        space.add_line((0, y), (9, y), dxfattribs=on())
        space.add_line((x, 1), (x, 8), dxfattribs=on())


def check_bank(reading: ImportedRoutes) -> None:
    assert sorted(float(r.radii.max()) for r in reading.routes) == pytest.approx([0.6, 0.8, 1.0])
    assert all(len(r.points) == 3 for r in reading.routes)
    assert states(reading) == [("gap", "guessed")] * 3


def elbow_in_space(space: Any) -> None:
    turn = Matrix44.axis_rotate((1, 2, 3), 0.8) @ Matrix44.translate(50, 60, 7)
    for start, end in (((0, 0), (9.4, 0)), ((10, 8), (10, 0.6))):
        space.add_line(start, end, dxfattribs=on()).transform(turn)


def check_in_space(reading: ImportedRoutes) -> None:
    turn = Matrix44.axis_rotate((1, 2, 3), 0.8) @ Matrix44.translate(50, 60, 7)
    corner = turn.transform(Vec3(10, 0))
    assert the_one(reading).points[1] == pytest.approx(np.array(tuple(corner)), abs=1e-9)
    assert the_one(reading).radii.max() == pytest.approx(0.6)


# --- gaps that stay ------------------------------------------------------------------------------


def in_parts(count: int, said: str) -> Check:
    def check(reading: ImportedRoutes) -> None:
        names = [f"F1 part {k} of {count}" for k in range(1, count + 1)]
        assert [r.name for r in reading.routes] == names
        assert {e.state for e in reading.elements} == {"broken"}
        assert any(said in e.said for e in reading.elements)
        assert reading.elements[0].handle
        ends = [name for r in reading.routes for name in r.names if name]
        assert set(ends) == {f"break {k}" for k in range(1, count)}

    return check


def small_gap(space: Any) -> None:
    space.add_line((0, 0), (5, 0), dxfattribs=on())
    space.add_line((5.0014, 0), (9, 0), dxfattribs=on())


def either_way(space: Any) -> None:
    space.add_line((0, 0), (9, 0), dxfattribs=on())
    for side in (1, -1):
        space.add_line((10, side), (10, 8 * side), dxfattribs=on())


def runs_of_their_own(space: Any) -> None:
    """Parallel, past each other at another level, and far away: nothing to join."""
    space.add_line((0, 0), (9, 0), dxfattribs=on())
    space.add_line((0, 0.19), (9, 0.19), dxfattribs=on())
    space.add_line((10, 1, 2), (10, 8, 2), dxfattribs=on())
    space.add_line((0, 20), (9, 20), dxfattribs=on())
    space.add_line((14, 25), (14, 33), dxfattribs=on())


def check_own(reading: ImportedRoutes) -> None:
    assert [r.name for r in reading.routes] == [f"F1 {k}" for k in range(1, 6)]
    (far,) = reading.elements  # the last two lead on to (14, 20), 5 m from both
    assert far.state == "guessed" and "separate runs" in far.said
    assert far.at == pytest.approx((11.5, 22.5, 0))


# --- curves --------------------------------------------------------------------------------------


def helix(space: Any) -> None:
    space.add_helix(radius=2, pitch=0.5, turns=1.5, dxfattribs=on())


def check_helix(reading: ImportedRoutes) -> None:
    # 1.5 turns of 2π·2 m along, 0.5 m up each; ezdxf's spline of it is some millimeters off
    length = 1.5 * np.hypot(2 * np.pi * 2, 0.5)
    assert the_one(reading).path().length == pytest.approx(length, rel=1e-3)


def stretched_arc(space: Any) -> None:
    block = space.doc.blocks.new("SWEEP")
    block.add_arc((0, 0), 1, 0, 90)
    space.add_blockref("SWEEP", (0, 0), dxfattribs={**on(), "xscale": 5, "yscale": 2})


def ellipse_length(a: float, b: float, share: float) -> float:
    """Of that share of an ellipse, by the sum of chords of a millionth of it."""
    t = np.linspace(0, 2 * np.pi * share, 1_000_001)
    return float(np.hypot(np.diff(a * np.cos(t)), np.diff(b * np.sin(t))).sum())


def check_ellipse(reading: ImportedRoutes) -> None:
    route = the_one(reading)
    assert route.path().length == pytest.approx(ellipse_length(5, 2, 0.25), abs=2 * TOLERANCE)
    path = route.path()
    x, y, _ = path.point(np.linspace(0, path.length, 500)).T
    angle = np.arctan2(y / 2, x / 5)  # the nearest point is no farther than that of this parameter
    away = np.hypot(x - 5 * np.cos(angle), y - 2 * np.sin(angle))
    assert away.max() < 3 * TOLERANCE


def stretched_polyline(space: Any) -> None:
    block = space.doc.blocks.new("BOW")
    block.add_lwpolyline([(0, 0, 0), (4, 0, np.tan(np.pi / 8)), (5, 1, 0), (5, 6, 0)], format="xyb")
    space.add_blockref("BOW", (0, 0), dxfattribs={**on(), "yscale": 2})


def check_stretched_polyline(reading: ImportedRoutes) -> None:
    curved = ellipse_length(1, 2, 0.25)
    assert the_one(reading).path().length == pytest.approx(4 + curved + 10, abs=2 * TOLERANCE)


def kinked_spline(space: Any) -> None:
    line = space.add_spline(dxfattribs=on())
    line.set_open_uniform([(0, 0), (6, 0), (6, 4), (9, 4)], degree=1)


def check_kinked(reading: ImportedRoutes) -> None:
    (route,) = reading.routes
    assert route.points == pytest.approx(np.array([(0, 0, 0), (6, 0, 0), (6, 4, 0), (9, 4, 0)]))
    assert states(reading) == [("corner", "sharp")] * 2


def sine(count: int) -> Draw:
    def draw(space: Any) -> None:
        x = np.linspace(0, 40, count)
        space.add_polyline3d(np.column_stack((x, np.sin(x / 3), 0 * x)), dxfattribs=on())

    return draw


def check_sine(reading: ImportedRoutes) -> None:
    x = np.linspace(0, 40, 1_000_001)
    length = float(np.hypot(np.diff(x), np.diff(np.sin(x / 3))).sum())
    assert the_one(reading).path().length == pytest.approx(length, abs=4 * TOLERANCE)
    assert reading.elements == ()
    said = " | ".join((*reading.used, *reading.ignored, *reading.guessed))
    assert "followed by" in said and "without a corner" in said and "not searched" not in said


# --- layers, names, blocks, damage ---------------------------------------------------------------


def hidden_layers(space: Any) -> None:
    for y, name in enumerate(("F1", "OFF", "FROZEN", "GHOST")):
        space.doc.layers.add(name)
        space.add_line((0, y), (9, y), dxfattribs=on(name))
    space.doc.layers.get("OFF").off()
    space.doc.layers.get("FROZEN").freeze()
    space[-1].dxf.invisible = 1
    block = space.doc.blocks.new("PIT")
    block.add_line((20, 0), (29, 0), dxfattribs=on("F1"))
    space.add_blockref("PIT", (0, 0), dxfattribs=on("FROZEN"))


def check_hidden(reading: ImportedRoutes) -> None:
    assert [r.name for r in reading.routes] == ["F1"]
    assert reading.ignored[:3] == (
        "layer FROZEN (frozen): 2 entities; --all-layers reads them",
        "layer GHOST: 1 invisible entity; --all-layers reads them",
        "layer OFF (off): 1 entity; --all-layers reads them",
    )


def check_all(reading: ImportedRoutes) -> None:
    names = ["F1 1", "F1 2", "FROZEN", "GHOST", "OFF"]
    assert sorted(r.name for r in reading.routes) == names


def check_asked(reading: ImportedRoutes) -> None:
    assert [r.name for r in reading.routes] == ["OFF"]


def names(space: Any) -> None:
    for y, name in enumerate((r"Caf\U+00e9 %%c110", "F1 %%d%%p", "F3")):
        space.doc.layers.add(name)
        space.add_line((0, y), (9, y), dxfattribs=on(name))


def check_names(reading: ImportedRoutes) -> None:
    assert [r.name for r in reading.routes] == ["Café Ø110", "F1 °±", "F3"]


def mirrored_blocks(space: Any) -> None:
    """An elbow in a block in a block, mirrored by each, and stood up by its plane."""
    inner = space.doc.blocks.new("ELBOW")
    inner.add_lwpolyline([(0, 0, 0), (3, 0, np.tan(np.pi / 8)), (4, 1, 0), (4, 5, 0)], format="xyb")
    outer = space.doc.blocks.new("OUTER")
    outer.add_blockref("ELBOW", (1, 0), dxfattribs={"xscale": -1})
    space.add_blockref("OUTER", (0, 0), dxfattribs={**on(), "yscale": -1, "extrusion": (0, -1, 0)})


def check_mirrored(reading: ImportedRoutes) -> None:
    # by hand: x -> 1 - x, then y -> -y; the plane of normal (0, -1, 0) has x along (1, 0, 0)
    # (arbitrary axis algorithm) and y along (0, 0, 1)
    expected = [(1, 0, 0), (-3, 0, 0), (-3, 0, -5)]
    assert the_one(reading).points == pytest.approx(np.array(expected))
    assert the_one(reading).radii == pytest.approx([0, 1, 0])


def wall_polyline(space: Any) -> None:
    rows = [(0, 0, 0), (3, 0, -np.tan(np.pi / 8)), (4, -1, 0), (4, -5, 0)]
    plane = {**on(), "extrusion": (0, 0, -1), "elevation": -2.5}
    space.add_lwpolyline(rows, format="xyb", dxfattribs=plane)


def check_wall(reading: ImportedRoutes) -> None:
    expected = [(0, 0, 2.5), (-4, 0, 2.5), (-4, -5, 2.5)]  # x turns over, z too
    assert the_one(reading).points == pytest.approx(np.array(expected))
    assert the_one(reading).radii == pytest.approx([0, 1, 0])


def references(space: Any) -> None:
    space.add_line((0, 0), (9, 0), dxfattribs=on())
    space.doc.add_xref_def("site_plan.dwg", "SITE")
    space.add_blockref("SITE", (0, 0), dxfattribs=on("XREF"))
    space.doc.layout("Layout1").add_line((0, 0), (1, 1))
    box((50, 50, 0), 2).render_mesh(space, dxfattribs=on())
    space.add_3dface([(60, 60), (61, 60), (61, 61)], dxfattribs=on("STEEL"))


def check_references(reading: ImportedRoutes) -> None:
    said = " | ".join(reading.ignored)
    assert "layer XREF: 1 INSERT (external reference site_plan.dwg: not opened)" in said
    assert "sheet Layout1: 1 entity, not in model space" in said
    assert "layer STEEL: 1 3DFACE (3DFACE: a solid or surface has no centerline" in said
    (lost,) = reading.elements  # that of a layer with routes alone
    assert (lost.kind, lost.state, lost.at) == ("MESH", "missing", pytest.approx((50, 50, 0)))


def check_repaired(reading: ImportedRoutes) -> None:
    assert the_one(reading).path().length == pytest.approx(9)
    assert any("the file was repaired" in said for said in reading.guessed)


def one_line(space: Any) -> None:
    space.add_line((0, 0), (9, 0), dxfattribs=on())


def circle(space: Any) -> None:
    one_line(space)
    space.add_circle((3, 4, 5), 2, dxfattribs=on("RING"))


def check_circle(reading: ImportedRoutes) -> None:
    (ring,) = reading.elements
    assert (ring.kind, ring.state, ring.name) == ("CIRCLE", "missing", "RING")
    assert ring.said == "closed: a route must have two ends" and ring.handle
    assert ring.at == pytest.approx((3, 4, 5))


def skew_straights(space: Any) -> None:
    """The second straight 4 mm above the first, which would meet but for that."""
    space.add_line((0, 0), (9.4, 0), dxfattribs=on())
    space.add_line((10, 0.6, 0.004), (10, 5, 0.004), dxfattribs=on())


def check_far(reading: ImportedRoutes) -> None:
    assert [r.name for r in reading.routes] == ["F1 1", "F1 2"]
    (far,) = reading.elements
    assert (far.kind, far.state) == ("gap", "guessed")
    # the hypotenuse of two set-backs of 4.6 m
    assert "gap of 6.505 m" in far.said and "separate runs" in far.said


def bad_number() -> Case:
    """Two lines, of which one has a word for a coordinate."""

    def write(path: Path) -> None:
        doc = ezdxf.new("R2010")
        doc.header["$INSUNITS"] = 6
        one_line(doc.modelspace())
        doc.modelspace().add_line((7.25, 0), (7, 8), dxfattribs=on("BAD"))
        doc.saveas(path)
        data = path.read_bytes()
        assert data.count(b"7.25") == 1
        path.write_bytes(data.replace(b"7.25", b"abc"))

    def check(reading: ImportedRoutes) -> None:
        the_one(reading)
        (bad,) = reading.elements
        assert (bad.kind, bad.state, bad.name) == ("LINE", "missing", "BAD")
        assert bad.said == "has a coordinate that is not finite" and bad.handle

    return Case("a word for a coordinate", ".dxf", write, check)


CASES = [
    case("a circle", circle, check_circle),
    case("straights that pass each other", skew_straights,
         in_parts(2, "the axes pass 4 mm apart and do not meet")),
    case("straights far from their corner", lambda s: two_straights(s, 4.6), check_far),
    bad_number(),
    case("elbow drawn as a solid", solid_elbow, elbow_check(1.0, "3DSOLID")),
    case("elbow drawn as a mesh", mesh_elbow, elbow_check(0.6, "MESH")),
    case("elbow of faces with legs", faces_elbow, check_faces),
    case("elbow left out", two_straights, elbow_check(1.0, "gap")),
    case("elbow left out in space", elbow_in_space, check_in_space),
    case("three elbows left out side by side", bank_of_elbows, check_bank),
    case("coupling drawn as a mesh", coupling, check_coupling),
    case("elbow drawn as a spline", spline_elbow, check_quarter),
    case("elbow drawn as a round ellipse", round_ellipse, check_quarter),
    case(
        "corner with other set-backs", lambda s: two_straights(s, 1.0, 1.5),
        in_parts(2, "the set-backs of its elbow differ too much"),
    ),
    case(
        "gap above the tolerance", small_gap,
        in_parts(2, "gap of 1.4 mm, above the tolerance of 1 mm; use --tolerance"),
    ),
    case("two straights would do", either_way, in_parts(3, "more than one straight would do")),
    case("runs of their own", runs_of_their_own, check_own),
    case("helix", helix, check_helix),
    case("arc in a stretched block", stretched_arc, check_ellipse),
    case("bulge in a stretched block", stretched_polyline, check_stretched_polyline),
    case("spline with kinks", kinked_spline, check_kinked),
    case("sine of 2,000 points", sine(2000), check_sine),
    case("sine of 150 points", sine(150), check_sine),
    case("hidden layers", hidden_layers, check_hidden),
    case("all layers", hidden_layers, check_all, options=ReadOptions(all_layers=True)),
    case("hidden, by name", hidden_layers, check_asked, options=ReadOptions(layers=("OFF",))),
    case("escapes in names", names, check_names),
    case("blocks mirrored twice in a plane", mirrored_blocks, check_mirrored),
    case("bulges seen from below", wall_polyline, check_wall),
    case("references, sheets and solids", references, check_references),
    case("section without its end", one_line, check_repaired, damage=b"  0\nENDSEC\n"),
]  # fmt: skip
