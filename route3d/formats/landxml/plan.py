"""The plan of a LandXML alignment: its geometry elements as points along it, sampled by chord."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from xml.etree.ElementTree import Element

import numpy as np

from route3d.formats.exchange import MOST_POINTS, ReadOptions, bad_file
from route3d.geometry.vectors import (
    Floats,
)  # Curves get a point at least every so many rad of their turn, so that bends are found again.
from route3d.modelfile.fields import brief
from route3d.units import FARTHEST

STEP = math.radians(4)
# A drawn curve may miss its own end by rounding of what the file prints, as a share of its radius.
MISFIT = 1e-4


@dataclass(eq=False, slots=True)
class AlignmentPlan:
    """Points (n, 2) east, north in m at their ``stations`` (n,) m, with ``levels`` where given.

    Between points on a curve the plan follows the arc, not the chord: ``centers`` (n - 1, 2) is
    not a number on straight parts. On spirals it follows the ``headings`` (n - 1, 2) rad at both
    points, not numbers elsewhere. ``joints`` (k,) m are the stations where elements meet, and
    ``steps`` m the largest difference in level there.
    """

    points: Floats
    stations: Floats
    levels: Floats
    centers: Floats
    headings: Floats
    joints: Floats
    has_levels: bool
    kinds: Counter[str]
    ignored: list[str] = field(default_factory=list)
    guessed: list[str] = field(default_factory=list)
    steps: float = 0.0

    @property
    def curved(self) -> tuple[Floats, Floats]:
        """Stations (k,) m at which curves and spirals of the plan start, and end."""
        bent = np.isfinite(self.centers[:, 0]) | np.isfinite(self.headings[:, 0])
        edges = np.diff(np.concatenate(([False], bent, [False])).astype(int))
        return self.stations[np.flatnonzero(edges == 1)], self.stations[np.flatnonzero(edges == -1)]

    def heading(self, station: float, other: float) -> Floats:
        """The unit direction (2,) at a station, as it is on the side of another."""
        if other > station:
            i = int(np.searchsorted(self.stations, station, "right")) - 1
        else:
            i = int(np.searchsorted(self.stations, station, "left")) - 1
        i = min(max(i, 0), len(self.centers) - 1)
        a, b, c = self.points[i], self.points[i + 1], self.centers[i]
        if np.isfinite(c[0]):
            spoke = self.at(np.array([station]))[0] - c
            left = (a[0] - c[0]) * (b[1] - c[1]) - (a[1] - c[1]) * (b[0] - c[0]) > 0
            across = np.array([-spoke[1], spoke[0]]) * (1 if left else -1)
        elif np.isfinite(self.headings[i, 0]):
            share = (station - self.stations[i]) / (self.stations[i + 1] - self.stations[i])
            first, last = self.headings[i]
            angle = first + share * (last - first)
            across = np.array([math.cos(angle), math.sin(angle)])
        else:
            across = b - a
        direction: Floats = across / np.hypot(*across)
        return direction

    def at(self, stations: Floats) -> Floats:
        """Points (m, 2) m at stations within the plan."""
        i = np.clip(np.searchsorted(self.stations, stations, "right") - 1, 0, len(self.centers) - 1)
        length = self.stations[i + 1] - self.stations[i]
        share = ((stations - self.stations[i]) / np.where(length > 0, length, 1.0))[:, None]
        a, b, c = self.points[i], self.points[i + 1], self.centers[i]
        line = a + share * (b - a)
        u, v = a - c, b - c
        angle = np.arctan2(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0], (u * v).sum(axis=1))[:, None]
        turned = u * np.cos(share * angle) + np.column_stack((-u[:, 1], u[:, 0])) * np.sin(
            share * angle
        )
        first, last = self.headings[i].T
        over = (stations - self.stations[i])[:, None] * (1 - share)
        ahead = np.column_stack((np.cos(first), np.sin(first)))
        back = np.column_stack((np.cos(last), np.sin(last)))
        # Hermite's cubic, by its distance from the chord
        step = (b - a) / np.where(length > 0, length, 1.0)[:, None]
        spiral = line + over * ((1 - share) * (ahead - step) - share * (back - step))
        smooth = np.where(np.isfinite(first)[:, None], spiral, line)
        return np.where(np.isfinite(c), c + turned, smooth)


def local(element: Element) -> str:
    """The name of an element without its namespace."""
    return element.tag.rsplit("}", 1)[-1] if isinstance(element.tag, str) else ""


def points_by_name(root: Element) -> dict[str, str]:
    """The texts of the CgPoints of a file by name, for elements that refer to them."""
    return {
        name: e.text or ""
        for e in root.iter()
        if local(e) == "CgPoint" and (name := e.get("name")) is not None
    }


@dataclass(eq=False, slots=True)
class _Walk:
    """What is known while the elements of one alignment are read, lengths in m."""

    named: Mapping[str, str]
    meters: float
    tolerance: float
    path: Path
    name: str
    kind: str
    points: list[Floats] = field(default_factory=list)
    centers: list[Floats] = field(default_factory=list)
    lengths: list[float] = field(default_factory=list)
    headings: list[tuple[float, float]] = field(default_factory=list)
    joints: list[int] = field(default_factory=list)
    levels: list[float] = field(default_factory=list)
    steps: float = 0.0

    def wrong(self, message: str, fix: str = "export it again") -> Exception:
        return bad_file(self.path, f"has the {self.kind} {self.name!r}, {message}", fix)

    def number(self, text: str | None, what: str) -> float:
        """A length of the file in m."""
        try:
            value = float(text if text is not None else "")
        except ValueError:
            value = math.nan
        if not abs(value) * self.meters <= FARTHEST:  # also where it is no number
            raise self.wrong(f"where {what} is {brief(text)}", "enter a number")
        return value * self.meters

    def point(self, element: Element, kind: str) -> tuple[Floats, float]:
        """East, north (m) and level of a child point; the file has north first."""
        for child in element:
            if local(child) == kind:
                text = child.text or ""
                reference = child.get("pntRef")
                if not text.strip() and reference is not None:
                    text = self.named.get(reference, "")
                return self.place(text.split(), f"{local(element)}/{kind}")
        raise self.wrong(f"where a {local(element)} has no {kind}")

    def place(self, words: list[str], what: str) -> tuple[Floats, float]:
        if len(words) not in (2, 3):
            raise self.wrong(
                f"where {what} is {brief(' '.join(words))}", "enter northing, easting, elevation"
            )
        values = [self.number(w, what) for w in words]
        return np.array([values[1], values[0]]), values[2] if len(values) == 3 else math.nan

    def go(self, start: Floats, level: float) -> None:
        """Begin an element where the last one ended; InputError where it does not."""
        if not self.points:
            self.points.append(start)
            self.levels.append(level)
            return
        gap = float(np.hypot(*(start - self.points[-1])))
        if gap > self.tolerance:
            message = f"where an element starts {gap:.4g} m from the end of the one before"
            raise self.wrong(message, "close the gap, or use a larger --tolerance")
        if math.isfinite(level) and math.isfinite(self.levels[-1]):
            self.steps = max(self.steps, abs(level - self.levels[-1]))

    def add(
        self,
        point: Floats,
        length: float,
        center: Floats | None,
        level: float,
        headings: tuple[float, float] = (math.nan, math.nan),
    ) -> None:
        """One more point, ``length`` m along from the last; on an arc where there is a center."""
        if len(self.points) > MOST_POINTS:
            raise self.wrong(f"of more than {MOST_POINTS:,} points")
        self.points.append(point)
        self.lengths.append(length)
        self.centers.append(np.full(2, np.nan) if center is None else center)
        self.headings.append(headings)
        self.levels.append(level)


def plan_of(
    alignment: Element,
    named: Mapping[str, str],
    meters: float,
    options: ReadOptions,
    path: Path,
    name: str,
) -> AlignmentPlan:
    """The plan of an alignment, east and north in m; InputError where its elements do not join."""
    kind = "plan feature" if local(alignment) == "PlanFeature" else "alignment"
    walk = _Walk(named, meters, options.tolerance, path, name, kind)
    kinds: Counter[str] = Counter()
    ignored: list[str] = []
    guessed: list[str] = []
    for geometry in alignment:
        if local(geometry) == "CoordGeom":
            for element in geometry:
                _element(walk, element, kinds, ignored, guessed)
        elif local(geometry) in ("CrossSects", "Superelevation", "Cant"):
            ignored.append(f"its {local(geometry)}")
        elif local(geometry) == "StaEquation":
            guessed.append("station equation: profile stations taken as continuous")
    if len(walk.points) < 2:
        raise walk.wrong("which has no geometry")
    start = walk.number(alignment.get("staStart", "0"), "staStart")
    stations = start + np.concatenate(([0.0], np.cumsum(walk.lengths)))
    levels = np.array(walk.levels)
    has_levels = bool(np.isfinite(levels).all())
    if np.isfinite(levels).any() and not has_levels:
        ignored.append("elevations of its points: some are missing")
    zeros = np.zeros(len(levels))
    return AlignmentPlan(
        np.array(walk.points),
        stations,
        levels if has_levels else zeros,
        np.array(walk.centers),
        np.array(walk.headings),
        stations[[0, *walk.joints]],
        has_levels,
        kinds,
        ignored,
        guessed,
        walk.steps,
    )


def _element(
    walk: _Walk, element: Element, kinds: Counter[str], ignored: list[str], guessed: list[str]
) -> None:
    kind = local(element)
    if kind == "Line":
        start, level = walk.point(element, "Start")
        end, after = walk.point(element, "End")
        walk.go(start, level)
        walk.add(end, float(np.hypot(*(end - walk.points[-1]))), None, after)
    elif kind == "Curve":
        _curve(walk, element)
    elif kind == "Spiral":
        _spiral(walk, element)
    elif kind == "IrregularLine":
        _irregular(walk, element)
    elif kind in ("Feature", ""):
        return
    else:
        raise walk.wrong(f"which has a {kind}", "only lines, curves and spirals are read")
    kinds[kind] += 1
    walk.joints.append(len(walk.lengths))


def _curve(walk: _Walk, element: Element) -> None:
    start, level = walk.point(element, "Start")
    center, _ = walk.point(element, "Center")
    end, after = walk.point(element, "End")
    rotation = element.get("rot", "")
    if rotation not in ("cw", "ccw"):
        raise walk.wrong(f"where a Curve turns {brief(rotation)}", 'use rot="cw" or "ccw"')
    sign = 1.0 if rotation == "ccw" else -1.0
    walk.go(start, level)
    u, v = start - center, end - center
    radius, other = float(np.hypot(*u)), float(np.hypot(*v))
    if radius < 1e-6 or abs(radius - other) > max(walk.tolerance, MISFIT * radius):
        message = f"where a Curve starts {radius:.4f} m and ends {other:.4f} m from its center"
        raise walk.wrong(message)
    angle = math.atan2(u[0] * v[1] - u[1] * v[0], float(u @ v)) * sign % (2 * math.pi)
    count = max(8, math.ceil(angle / STEP))
    base = math.atan2(u[1], u[0])
    for k in range(1, count + 1):
        share = k / count
        at = base + sign * angle * share
        ring = radius + (other - radius) * share
        point = end if k == count else center + ring * np.array([math.cos(at), math.sin(at)])
        height = level + (after - level) * share
        walk.add(point, radius * angle / count, center, height)


def _irregular(walk: _Walk, element: Element) -> None:
    for child in element:
        if local(child) in ("PntList2D", "PntList3D"):
            size = 3 if local(child) == "PntList3D" else 2
            words = (child.text or "").split()
            if len(words) % size or len(words) < 2 * size:
                raise walk.wrong(f"where a {local(child)} has {len(words)} numbers")
            if len(words) > size * MOST_POINTS:
                raise walk.wrong(f"of more than {MOST_POINTS:,} points")
            places = [
                walk.place(words[i : i + size], local(child)) for i in range(0, len(words), size)
            ]
            walk.go(*places[0])
            for point, level in places[1:]:
                walk.add(point, float(np.hypot(*(point - walk.points[-1]))), None, level)
            return
    raise walk.wrong("where an IrregularLine has no list of points")


def _spiral(walk: _Walk, element: Element) -> None:
    """A clothoid from its start, direction, length and end curvatures; it must meet its end."""
    start, level = walk.point(element, "Start")
    meeting, _ = walk.point(element, "PI")
    end, after = walk.point(element, "End")
    length = walk.number(element.get("length"), "the length of a Spiral")
    sign = {"ccw": 1.0, "cw": -1.0}.get(element.get("rot", ""))
    if sign is None or length <= 0:
        raise walk.wrong("where a Spiral has no length or turns neither cw nor ccw")
    first, last = (_curvature(walk, element.get(k)) * sign for k in ("radiusStart", "radiusEnd"))
    walk.go(start, level)
    heading = math.atan2(*(meeting - start)[::-1])
    turn = abs(first + last) / 2 * length
    count = max(64, math.ceil(4 * turn / STEP))  # closer: each of its short arcs needs points
    points = clothoid(start, heading, first, last, length, count)
    miss = float(np.hypot(*(points[-1] - end)))
    if miss > max(walk.tolerance, MISFIT * length):
        kind = element.get("spiType", "clothoid")
        message = f"where a Spiral ({kind}), read as a clothoid, misses its end by {miss:.4g} m"
        raise walk.wrong(message, "draw it as a line of short chords")
    share = np.arange(count + 1) / count
    angles = (heading + length * (first * share + (last - first) * share**2 / 2)).tolist()
    for k in range(1, count + 1):
        height = level + (after - level) * k / count
        place = end if k == count else points[k]
        walk.add(place, length / count, None, height, (angles[k - 1], angles[k]))


def _curvature(walk: _Walk, text: str | None) -> float:
    """1/m from a radius that may be ``INF``."""
    if text is None or text.strip().upper() in ("INF", "INFINITY", "+INF"):
        return 0.0
    radius = walk.number(text, "the radius of a Spiral")
    if radius <= 0:
        raise walk.wrong(f"where a Spiral has the radius {radius:g} m")
    return 1 / radius


def clothoid(
    start: Floats, heading: float, first: float, last: float, length: float, count: int
) -> Floats:
    """Points (count + 1, 2) m, evenly along a curve whose curvature runs from first to last, 1/m.

    The integral of the heading by Gauss's rule of four points in each of the parts.
    """
    nodes, weights = np.polynomial.legendre.leggauss(4)
    step = length / count
    s = step * (np.arange(count)[:, None] + (nodes + 1) / 2)
    angle = heading + first * s + (last - first) * s * s / (2 * length)
    parts = np.stack((np.cos(angle) @ weights, np.sin(angle) @ weights), axis=1) * step / 2
    points: Floats = start + np.vstack(([0.0, 0.0], np.cumsum(parts, axis=0)))
    return points
