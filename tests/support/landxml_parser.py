"""A second reader of LandXML: lines, curves and points of vertical intersection by definition."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise
from xml.etree import ElementTree

import numpy as np
import pytest

from tests.support.routes import Vector

NS = "{http://www.landxml.org/schema/LandXML-1.2}"
UNITS = {"meter": 1.0, "foot": 0.3048}


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
