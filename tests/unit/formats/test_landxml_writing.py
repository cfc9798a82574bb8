"""LandXML out: read back by our reader and by a parser of the test's own, to 1e-6 m."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest

import route3d
from route3d.formats.catalog import read_routes, write_routes
from route3d.formats.exchange import ExchangeRoute, ReadOptions, routes_of
from route3d.formats.landxml.writing import chords_said, write_landxml
from route3d.model.site import Frame
from tests.support.routes import Vector
from tests.support.wild_routes import wild_route

DEMOS = sorted((Path(route3d.__file__).parents[1] / "models").glob("*.toml"))
NS = "{http://www.landxml.org/schema/LandXML-1.2}"
UNITS = {"meter": 1.0, "foot": 0.3048}


# --- the second parser: lines, curves and points of vertical intersection by their definitions ---


@dataclass(frozen=True, slots=True)
class Drawn:
    """A curve of an XML file: its length (m), and the place at a distance along it."""

    length: float
    at: Callable[[float], Vector]


def numbers(text: str | None) -> Vector:
    return np.array([float(word) for word in (text or "").split()])


def plan_pieces(geometry: ElementTree.Element, unit: float) -> list[Drawn]:
    """The pieces of a CoordGeom: east, north and, where given, the elevation."""
    return [piece for element in geometry for piece in plan_piece(element, unit)]


def place(element: ElementTree.Element, name: str, unit: float) -> Vector:
    values = numbers(element.findtext(NS + name)) * unit
    return values[[1, 0, *range(2, len(values))]]


def plan_piece(element: ElementTree.Element, unit: float) -> list[Drawn]:
    start, end = place(element, "Start", unit), place(element, "End", unit)
    if element.tag == NS + "Line":
        return [line(start, end)]
    if element.tag == NS + "Curve":
        center = place(element, "Center", unit)
        radius = float(element.attrib["radius"]) * unit
        sign = {"ccw": 1, "cw": -1}[element.attrib["rot"]]
        u, v = start[:2] - center, end[:2] - center
        assert [math.hypot(*u), math.hypot(*v)] == pytest.approx([radius] * 2, abs=1e-7)
        first = math.atan2(u[1], u[0])
        turn = (math.atan2(v[1], v[0]) - first) * sign % (2 * math.pi)

        def along(s: float) -> Vector:
            a = first + sign * s / radius
            flat = center + radius * np.array([math.cos(a), math.sin(a)])
            up = start[2:] + (end[2:] - start[2:]) * (s / (radius * turn))
            return np.concatenate((flat, up))

        assert float(element.attrib["length"]) * unit == pytest.approx(radius * turn, abs=1e-7)
        return [Drawn(radius * turn, along)]
    assert element.tag == NS + "IrregularLine"
    held = element[-1]
    size = int(held.tag[-2])
    rows = numbers(held.text).reshape(-1, size) * unit
    points = rows[:, [1, 0, *range(2, size)]]
    assert np.array_equal(points[0], start)
    assert np.array_equal(points[-1], end)
    return [line(a, b) for a, b in pairwise(points)]


def line(start: Vector, end: Vector) -> Drawn:
    length = float(np.linalg.norm(end[:2] - start[:2])) or float(np.linalg.norm(end - start))
    return Drawn(length, lambda s: start + (end - start) * (s / length))


def levels(profile: ElementTree.Element, unit: float) -> Callable[[float], float]:
    """The level at a station: straight grades, and circles tangent to both of theirs."""
    rows = [(*(numbers(e.text) * unit), float(e.get("radius", 0)) * unit) for e in profile]
    curves = [each for each in zip(rows, rows[1:], rows[2:], strict=False) if each[1][2]]
    xs, zs = [r[0] for r in rows], [r[1] for r in rows]

    def level(station: float) -> float:
        for (x0, z0, _), (x1, z1, r), (x2, z2, _) in curves:
            a, b = math.atan2(z1 - z0, x1 - x0), math.atan2(z2 - z1, x2 - x1)
            setback = r * math.tan(abs(b - a) / 2)
            low, high = x1 - setback * math.cos(a), x1 + setback * math.cos(b)
            if low <= station <= high:
                up = 1 if b > a else -1
                x = low - up * r * math.sin(a)
                z = z1 - setback * math.sin(a) + up * r * math.cos(a)
                return z - up * math.sqrt(r * r - (station - x) ** 2)
        return float(np.interp(station, xs, zs))

    return level


def unit_of(root: ElementTree.Element) -> float:
    (system,) = root.find(NS + "Units") or ()
    return UNITS[system.attrib["linearUnit"]]


def in_space(held: ElementTree.Element, unit: float) -> list[tuple[float, Vector]]:
    """Stations (m) and places of an alignment or a plan feature, 9 along each of its pieces."""
    pieces = plan_pieces(held.find(NS + "CoordGeom") or held, unit)
    profile = held.find(f"{NS}Profile/{NS}ProfAlign")
    level = None if profile is None else levels(profile, unit)
    found, station = [], float(held.get("staStart", 0))
    for piece in pieces:
        for share in np.linspace(0, 1, 9).tolist():
            at = piece.at(share * piece.length)
            there = station + share * piece.length
            found.append((there, at if level is None else np.append(at, level(there))))
        station += piece.length
    if level is not None:
        assert float(held.attrib["length"]) * unit == pytest.approx(station, abs=1e-7)
    return found


# --- routes -------------------------------------------------------------------------------------


def route(*rows: tuple[float, float, float, float], **more: object) -> ExchangeRoute:
    table = np.array(rows)
    return ExchangeRoute("F1", table[:, :3], table[:, 3], **more)  # type: ignore[arg-type]


REACH = frozenset({"reel", "machine"})
PLAIN = route(
    (0, 0, -1.5, 0), (30, 0, -1.5, 4), (30, 40, -1.5, 0), (30, 60, -1.5, 6), (30, 80, 4, 3),
    (30, 95, 4, 2.5), (10, 95, 4, 0),
    names=("vault V1", "", "", "V2", "", "", "", "switchroom")[:2]
    + ("V2", "", "", "", "switchroom"),
    access=(REACH, frozenset(), REACH, frozenset(), frozenset(), frozenset(), REACH),
    boxes=(None, None, (1.2, 0.9, 0.6), None, None, None, None),
    conduit="duct", changes=("", "", "riser", "", "", "", ""), outer_diameter=0.141,
)  # fmt: skip
SLOPED = route((0, 0, 0, 0), (50, 0, -0.5, 3), (50, 40, -0.9, 0))
RISER = route((0, 0, -1.5, 0), (30, 0, -1.5, 1.2), (30, 25, -1.5, 1.2), (30, 25, 12, 0))


def measured(path: route3d.Path, points: Vector) -> tuple[Vector, Vector]:
    """The distance (m) of points from a path, and the station in plan of the place nearest.

    Of a straight by its foot, of an arc by the angle about its center; the plan of a vertical arc
    is as long as it reaches, that of a horizontal one as the arc.
    """
    least, stations = np.full(len(points), np.inf), np.zeros(len(points))
    before = 0.0
    for i in range(len(path)):
        t, n, radius = path.tangents[i], path.normals[i], float(path.radii[i])
        from_start = points - path.starts[i]
        x, y = from_start @ t, from_start @ n
        if path.kind[i] == 1:
            angle = np.clip(np.arctan2(x, radius - y), 0, float(path.angles[i]))[:, None]
            foot = radius * (np.sin(angle) * t + (1 - np.cos(angle)) * n)
            far = radius * float(path.angles[i])
        else:
            foot = np.clip(x, 0, float(path.lengths[i]))[:, None] * t
            far = float(np.hypot(*(path.ends[i] - path.starts[i])[:2]))
        level = path.kind[i] == 1 and abs(np.cross(t, n)[2]) > 0.5
        along = radius * angle[:, 0] if level else np.hypot(*foot.T[:2])
        far = far if level else float(np.hypot(*(path.ends[i] - path.starts[i])[:2]))
        away = np.linalg.norm(from_start - foot, axis=1)
        nearer = away < least
        least = np.where(nearer, away, least)
        stations = np.where(nearer, before + along, stations)
        before += far
    return least, stations


@pytest.mark.parametrize("system", ["US", "SI"])
def test_an_alignment_is_the_route_at_every_station(system: str, tmp_path: Path) -> None:
    """Horizontal and vertical bends exactly: plan, profile and stations by a second parser."""
    file = tmp_path / "a.xml"
    write_landxml([PLAIN], file, system)
    assert list(chords_said([PLAIN])) == []
    root = ElementTree.parse(file).getroot()
    (alignment,) = root.iter(NS + "Alignment")
    found = in_space(alignment, unit_of(root))
    away, stations = measured(PLAIN.path(), np.array([at for _, at in found]))
    assert away.max() < 1e-6
    assert stations == pytest.approx([station for station, _ in found], abs=1e-6)
    assert found[0][1] == pytest.approx(PLAIN.points[0], abs=1e-9)
    assert found[-1][1] == pytest.approx(PLAIN.points[-1], abs=1e-9)


def near(path: route3d.Path, points: list[Vector]) -> float:
    """The largest distance of points from a path, m."""
    return float(measured(path, np.array(points))[0].max())


@pytest.mark.parametrize(
    ("before", "kind", "within", "said"),
    [
        (PLAIN, "Alignment", 1e-6, ""),
        (SLOPED, "Alignment", 1e-3, "F1: 1 oblique bend written by chords within 1 mm"),
        (RISER, "PlanFeature", 1e-3, "F1 has vertical legs: written as a plan feature in space"),
    ],
    ids=["plain", "sloped", "riser"],
)
def test_both_readers_find_the_route(
    before: ExchangeRoute, kind: str, within: float, said: str, tmp_path: Path
) -> None:
    file = tmp_path / "a.xml"
    write_landxml([before], file, "SI")
    root = ElementTree.parse(file).getroot()
    (held,) = root.iter(NS + kind)
    assert near(before.path(), [at for _, at in in_space(held, 1.0)]) < within
    assert " ".join(chords_said([before])).startswith(said)
    (after,) = read_routes(file, ReadOptions()).routes
    assert after.points == pytest.approx(before.points, abs=1e-6)
    assert after.radii == pytest.approx(before.radii, abs=1e-5)
    assert (after.names, after.access, after.boxes) == (before.names, before.access, before.boxes)
    assert (after.conduits, after.outer_diameter) == (before.conduits, before.outer_diameter)


@pytest.mark.parametrize("system", ["US", "SI"])
@pytest.mark.parametrize("model", DEMOS, ids=lambda p: p.stem)
def test_a_demo_comes_back(model: Path, system: str, tmp_path: Path) -> None:
    file = tmp_path / "a.landxml"
    routes = routes_of(route3d.load(model))
    write_routes(routes, file, system)
    root = ElementTree.parse(file).getroot()
    held = [*root.iter(NS + "Alignment"), *root.iter(NS + "PlanFeature")]
    by_name = {e.attrib["name"]: e for e in held}
    for before, after in zip(routes, read_routes(file, ReadOptions()).routes, strict=True):
        drawn = [at for _, at in in_space(by_name[before.name], unit_of(root))]
        assert near(before.path(), drawn) < 1e-3
        assert after.points == pytest.approx(before.points, abs=1e-6)
        assert after.radii == pytest.approx(before.radii, abs=1e-5)
        assert (after.names, after.access) == (before.names, before.access)
        assert (after.conduits, after.boxes) == (before.conduits, before.boxes)


@pytest.mark.parametrize("seed", range(3))
def test_a_wild_route_in_survey_coordinates_is_within_a_millimeter(
    seed: int, tmp_path: Path
) -> None:
    before = wild_route(seed, survey=True)
    file = tmp_path / "a.xml"
    write_landxml([before], file, "US" if seed % 2 else "SI")
    root = ElementTree.parse(file).getroot()
    (held,) = [*root.iter(NS + "Alignment"), *root.iter(NS + "PlanFeature")]
    assert near(before.path(), [at for _, at in in_space(held, unit_of(root))]) < 1.001e-3
    (after,) = read_routes(file, ReadOptions(near=False, recognize=False)).routes
    assert near(before.path(), list(after.points)) < 1e-6


def test_the_grid_is_named_and_the_bytes_are_the_same(tmp_path: Path) -> None:
    files = [tmp_path / f"{n}.xml" for n in "ab"]
    for file in files:
        write_landxml([PLAIN], file, "SI", Frame(crs="EPSG:32610"))
    assert files[0].read_bytes() == files[1].read_bytes()
    system = ElementTree.parse(files[0]).getroot().find(NS + "CoordinateSystem")
    assert system is not None
    assert system.attrib == {"name": "EPSG:32610", "epsgCode": "32610"}
    assert read_routes(files[0], ReadOptions()).crs == "EPSG:32610"


def test_points_told_by_another_program_do_no_harm(tmp_path: Path) -> None:
    file = tmp_path / "a.xml"
    write_landxml([PLAIN], file, "SI")
    root = ElementTree.parse(file).getroot()
    for n, told in enumerate(root.iter(NS + "Property")):
        bad = ["[1]", "{", json.dumps({"at": [1, 2], "box_m": None}), "-1"]
        told.set("value", bad[n % 4])
    ElementTree.ElementTree(root).write(file)
    (after,) = read_routes(file, ReadOptions()).routes
    assert after.path().length == pytest.approx(PLAIN.path().length, abs=1e-6)
    assert not any(after.access)
