"""Routes as LandXML 1.2: an alignment with its profile, or a plan feature where a route is steep.

A horizontal bend is a curve of the plan and a vertical one a circular curve of the profile, both
exact. The plan of an oblique bend is part of an ellipse, which LandXML does not have: chords stand
for it, in plan and profile. An alignment has one level at each station, so a route with a vertical
leg is none: its line in space is a plan feature. Elements and attributes are from memory.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path as FilePath
from xml.etree.ElementTree import Element, SubElement, indent, tostring

import numpy as np

from route3d.disk import write_text_atomic
from route3d.formats.exchange import ExchangeRoute, counted
from route3d.geometry.path import ARC, CORNER, STRAIGHT, Path
from route3d.geometry.vectors import Floats, norm
from route3d.model.site import GRID, Frame
from route3d.units import METERS

NAMESPACE = "http://www.landxml.org/schema/LandXML-1.2"
# The code of the features that hold what LandXML has no place for, and the labels in them.
CODE, POINT, DIAMETER = "route3d", "point", "outer_diameter_m"
# Chords of an oblique bend stay this close to it, m, and turn at most so much, rad, so that a
# reader takes them for a bend.
CHORD, CHORD_TURN = 1e-3, math.radians(4)
# A leg steeper than 10 to 1 has a profile that nobody can read: own judgment.
STEEPEST = 10.0
# A bend this near to a horizontal or a vertical plane (m) lies in it.
_PLANE = 1e-7
# Grades that differ by less are one grade.
_ONE_GRADE = 1e-12
# Feet as LandXML names them (impLinear).
_FEET = {"ft": "foot", "us-ft": "USSurveyFoot"}
_STAMP = {"date": "2000-01-01", "time": "00:00:00"}  # not the hour of writing: the same bytes
_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def write_landxml(
    routes: Sequence[ExchangeRoute], path: FilePath, unit: str, frame: Frame = GRID
) -> None:
    """Write routes as LandXML 1.2 in the ``unit``, m or feet, northing before easting.

    A route without a vertical leg is an Alignment with a ProfAlign, another one a PlanFeature in
    space. What is told of its points stands beside it as a Feature, where ``read_landxml`` finds
    it. ``CoordinateSystem`` is the grid of ``frame``. Raises InputError where a route has no path.
    """
    root = Element("LandXML", {"xmlns": NAMESPACE, "version": "1.2", **_STAMP})
    _units(root, unit)
    if frame.crs:
        code = re.search(r"EPSG:+(?:\d*:)?(\d+)$", frame.crs)
        known = {"epsgCode": str(code[1])} if code else {}
        SubElement(root, "CoordinateSystem", {"name": _xml(frame.crs), **known})
    SubElement(root, "Project", name="routes")
    SubElement(root, "Application", name="route3d")
    scale = 1 / METERS[unit]
    paths = [route.path() for route in routes]
    pairs = list(zip(routes, paths, strict=True))
    if flat := [pair for pair in pairs if not _steep(pair[1])]:
        held = SubElement(root, "Alignments")
        for route, line in flat:
            _alignment(held, route, line, scale)
    if steep := [pair for pair in pairs if _steep(pair[1])]:
        held = SubElement(root, "PlanFeatures")
        for route, line in steep:
            _plan_feature(held, route, line, scale)
    indent(root, " ")
    text = '<?xml version="1.0" encoding="UTF-8"?>\n' + tostring(root, encoding="unicode") + "\n"
    write_text_atomic(path, text)


def chords_said(routes: Sequence[ExchangeRoute]) -> Iterator[str]:
    """In sentences, which routes are not written exactly, or not as an alignment."""
    for route in routes:
        path = route.path()
        oblique = sum(_plane_of(path, i) == "" for i in range(len(path)))
        within = f"by chords within {CHORD * 1000:g} mm"
        if _steep(path):
            curved = sum(_plane_of(path, i) in ("", "vertical") for i in range(len(path)))
            said = "has vertical legs: written as a plan feature in space, not as an alignment"
            drawn = f"; {counted(curved, 'bend')} {within}" if curved else ""
            yield f"{route.name} {said}{drawn}"
        elif oblique:
            yield f"{route.name}: {counted(oblique, 'oblique bend')} written {within}"


# --- frame -------------------------------------------------------------------------------------


def _units(root: Element, unit: str) -> None:
    units = SubElement(root, "Units")
    if unit != "m":
        SubElement(
            units,
            "Imperial",
            areaUnit="squareFoot",
            linearUnit=_FEET[unit],
            volumeUnit="cubicFeet",
            temperatureUnit="fahrenheit",
            pressureUnit="inchHG",
        )
        return
    SubElement(
        units,
        "Metric",
        areaUnit="squareMeter",
        linearUnit="meter",
        volumeUnit="cubicMeter",
        temperatureUnit="celsius",
        pressureUnit="HPA",
    )


def _xml(text: str) -> str:
    """Text that XML can hold; its control marks are replaced."""
    return _NOT_XML.sub("\ufffd", text)


def _number(value: float) -> str:
    return repr(float(value) + 0.0)


def _place(point: Floats, scale: float) -> str:
    """Northing, easting and, where the point has it, elevation."""
    order = point[[1, 0, *range(2, len(point))]]
    return " ".join(_number(c * scale) for c in order.tolist())


# --- which bends -------------------------------------------------------------------------------


def _plane_of(path: Path, i: int) -> str:
    """The plane of a bend, "horizontal" or "vertical", "" for an oblique one; "-" for no bend."""
    if path.kind[i] != ARC:
        return "-"
    axis = np.cross(path.tangents[i], path.normals[i])
    radius = float(path.radii[i])
    if radius * float(np.hypot(axis[0], axis[1])) < _PLANE:
        return "horizontal"
    return "vertical" if radius * abs(float(axis[2])) < _PLANE else ""


def _steep(path: Path) -> bool:
    """Whether the route is anywhere steeper than ``STEEPEST``, or turns over."""
    share = np.linspace(0.0, 1.0, 17)
    angles = path.angles[:, None] * np.where((path.kind == ARC)[:, None], share, 0.0)
    along = (
        np.cos(angles)[..., None] * path.tangents[:, None]
        + np.sin(angles)[..., None] * path.normals[:, None]
    )[path.kind != CORNER]
    flat = np.hypot(along[..., 0], along[..., 1])
    return bool((np.abs(along[..., 2]) > STEEPEST * flat).any())


def _chord_points(path: Path, i: int) -> Floats:
    """Points (n, 3) along a bend, both ends included, chords within ``CHORD`` of it."""
    angle, radius = float(path.angles[i]), float(path.radii[i])
    step = min(CHORD_TURN, 2 * math.acos(max(1 - CHORD / radius, 0.0)))
    theta = np.linspace(0.0, angle, max(math.ceil(angle / step), 4) + 1)[:, None]
    aside = 2 * np.sin(theta / 2) ** 2
    points: Floats = path.starts[i] + radius * (
        np.sin(theta) * path.tangents[i] + aside * path.normals[i]
    )
    points[-1] = path.ends[i]
    return points


# --- alignment ---------------------------------------------------------------------------------


@dataclass(eq=False, slots=True)
class _Profile:
    """Points of vertical intersection: station, level and radius (m, 0 for none), in order."""

    rows: list[tuple[float, float, float]] = field(default_factory=list)

    def add(self, station: float, level: float, radius: float = 0.0) -> None:
        """One more point; a point where nothing was added since the last is the same."""
        if self.rows and radius == 0.0 and station <= self.rows[-1][0]:
            return
        self.rows.append((station, level, radius))

    def breaks(self) -> list[tuple[float, float, float]]:
        """The rows without those between one grade and the same."""
        kept = self.rows[:1]
        for row, after in zip(self.rows[1:-1], self.rows[2:], strict=True):
            (x0, z0, _), (x1, z1, radius), (x2, z2, _) = kept[-1], row, after
            change = (z2 - z1) / (x2 - x1) - (z1 - z0) / (x1 - x0)
            if radius > 0 or abs(change) > _ONE_GRADE:
                kept.append(row)
        return [*kept, self.rows[-1]]


def _alignment(held: Element, route: ExchangeRoute, path: Path, scale: float) -> None:
    """An Alignment: plan, profile and what is told of the points."""
    line = SubElement(held, "Alignment", name=_xml(route.name))
    plan = SubElement(line, "CoordGeom")
    profile = _Profile()
    station = 0.0
    profile.add(station, float(path.starts[0, 2]))
    for i in range(len(path)):
        if path.kind[i] == CORNER:
            continue
        first, last = path.starts[i], path.ends[i]
        plane = _plane_of(path, i)
        if plane == "vertical":
            setback = float(path.radii[i]) * math.tan(float(path.angles[i]) / 2)
            vertex = first + setback * path.tangents[i]
            at = station + float(norm(vertex[:2] - first[:2]))
            profile.add(at, float(vertex[2]), float(path.radii[i]))
        else:
            profile.add(station, float(first[2]))
        if plane == "horizontal":
            station += _curve(plan, path, i, scale)
        elif plane == "":
            points = _chord_points(path, i)
            steps = np.cumsum(norm(np.diff(points[:, :2], axis=0)))
            _irregular(plan, points[:, :2], scale)
            for step, point in zip(steps[:-1].tolist(), points[1:-1], strict=True):
                profile.add(station + step, float(point[2]))
            station += float(steps[-1])
        else:
            station += _line(plan, first[:2], last[:2], scale)
        if plane != "vertical":
            profile.add(station, float(last[2]))
    profile.add(station, float(path.ends[-1, 2]))
    line.set("length", _number(station * scale))
    line.set("staStart", "0.0")
    _written_profile(line, route.name, profile, scale)
    _told(line, route, scale)


def _line(plan: Element, first: Floats, last: Floats, scale: float) -> float:
    """A Line; its length in plan, m."""
    length = float(norm(last[:2] - first[:2]))
    made = SubElement(plan, "Line", length=_number(length * scale))
    SubElement(made, "Start").text = _place(first, scale)
    SubElement(made, "End").text = _place(last, scale)
    return length


def _curve(plan: Element, path: Path, i: int, scale: float, levels: bool = False) -> float:
    """A Curve of a horizontal bend; its length, m."""
    count = 3 if levels else 2
    radius, length = float(path.radii[i]), float(path.lengths[i])
    left = float(np.cross(path.tangents[i], path.normals[i])[2]) > 0
    made = SubElement(
        plan,
        "Curve",
        rot="ccw" if left else "cw",
        crvType="arc",
        radius=_number(radius * scale),
        length=_number(length * scale),
    )
    center = path.starts[i] + radius * path.normals[i]
    SubElement(made, "Start").text = _place(path.starts[i, :count], scale)
    SubElement(made, "Center").text = _place(center[:2], scale)
    SubElement(made, "End").text = _place(path.ends[i, :count], scale)
    return length


def _irregular(plan: Element, points: Floats, scale: float) -> None:
    """An IrregularLine through points (n, 2) or (n, 3) m."""
    made = SubElement(plan, "IrregularLine")
    SubElement(made, "Start").text = _place(points[0], scale)
    SubElement(made, "End").text = _place(points[-1], scale)
    rows = " ".join(_place(point, scale) for point in points)
    SubElement(made, f"PntList{points.shape[1]}D").text = rows


def _written_profile(line: Element, name: str, profile: _Profile, scale: float) -> None:
    held = SubElement(SubElement(line, "Profile", name=_xml(name)), "ProfAlign", name=_xml(name))
    rows = profile.breaks()
    for i, (station, level, radius) in enumerate(rows):
        text = f"{_number(station * scale)} {_number(level * scale)}"
        if radius == 0.0:
            SubElement(held, "PVI").text = text
            continue
        grades = [
            math.atan2(b[1] - a[1], b[0] - a[0])
            for a, b in ((rows[i - 1], rows[i]), (rows[i], rows[i + 1]))
        ]
        length = radius * abs(math.sin(grades[1]) - math.sin(grades[0]))  # in plan, as a ParaCurve
        made = SubElement(
            held, "CircCurve", length=_number(length * scale), radius=_number(radius * scale)
        )
        made.text = text


# --- plan feature ------------------------------------------------------------------------------


def _plan_feature(held: Element, route: ExchangeRoute, path: Path, scale: float) -> None:
    """A PlanFeature in space: lines and curves with elevations, other bends by chords."""
    feature = SubElement(held, "PlanFeature", name=_xml(route.name))
    line = SubElement(feature, "CoordGeom")
    for i in range(len(path)):
        if path.kind[i] == STRAIGHT:
            _line(line, path.starts[i], path.ends[i], scale)
        elif path.kind[i] == ARC and _plane_of(path, i) == "horizontal":
            _curve(line, path, i, scale, levels=True)
        elif path.kind[i] == ARC:
            _irregular(line, _chord_points(path, i), scale)
    _told(feature, route, scale)


# --- what is told of points --------------------------------------------------------------------


def _told(held: Element, route: ExchangeRoute, scale: float) -> None:
    """A Feature with names, access, conduits and boxes of points, lengths of boxes in m."""
    feature = SubElement(held, "Feature", code=CODE)
    for i in route.told:
        said = {
            "at": [c * scale for c in route.points[i, [1, 0, 2]].tolist()],
            "name": route.names[i],
            "access": " ".join(sorted(route.access[i], reverse=True)),
            "conduit": route.changes[i] if i else route.conduit,
            "box_m": None if route.boxes[i] is None else list(route.boxes[i] or ()),
        }
        value = json.dumps(said, ensure_ascii=True)
        SubElement(feature, "Property", label=POINT, value=value)
    sizes = set(route.leg_diameters)
    if len(sizes) == 1 and (size := sizes.pop()) is not None:
        SubElement(feature, "Property", label=DIAMETER, value=_number(size))
