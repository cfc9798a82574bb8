"""Pipe networks of LandXML: structures are pull points with boxes, pipes the legs between them.

Elements and attributes are those of LandXML 1.2, from memory.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from pathlib import Path
from xml.etree.ElementTree import Element

import numpy as np

from route3d.formats.exchange import (
    Box,
    ExchangeRoute,
    ReadOptions,
    counted,
    placed,
)
from route3d.formats.exchange import Element as Told
from route3d.formats.landxml.plan import local
from route3d.geometry.fillet import COINCIDENT
from route3d.geometry.vectors import Floats, norm
from route3d.modelfile.fields import brief
from route3d.units import FARTHEST

# Pipes that enter a structure further apart in level than this (m) are not one pull through it:
# own judgment, a cable in a box of usual height leads from one to the other.
ONE_LEVEL = 0.3
# Sizes beyond these (m) are in another unit than the file says: own judgment.
SMALLEST_PIPE, LARGEST_PIPE, SMALLEST_VAULT = 5e-3, 5.0, 0.1
# The ends of a curved pipe may differ by this share of the radius in distance from its center.
_MISFIT = 1e-3
_PULL_POINT = frozenset(("reel", "machine"))
_SHAPES = ("CircPipe", "RectPipe", "ElliPipe", "EggPipe", "Channel")


@dataclass(frozen=True, slots=True)
class Sizes:
    """Meters in the units of a file: of lengths, and of diameters, widths and heights of parts.

    The wall of a round pipe is in the unit of diameters too (from memory).
    """

    length: float
    diameter: float
    width: float
    height: float


@dataclass(eq=False, slots=True)
class NetworkRoutes:
    """The routes of one network, on the grid of the file in m, and what there is to say of it."""

    name: str
    routes: list[ExchangeRoute] = field(default_factory=list)
    used: list[str] = field(default_factory=list)
    guessed: list[str] = field(default_factory=list)
    elements: list[Told] = field(default_factory=list)


@dataclass(frozen=True, eq=False, slots=True)
class _Struct:
    """A structure: its place (2,) m, sizes, and the elevations of the inverts by pipe, m."""

    name: str
    at: Floats
    round: float | None
    sides: tuple[float, float] | None
    bearing: float | None
    rim: float | None
    sump: float | None
    chamber: bool
    inverts: Mapping[str, float]


@dataclass(frozen=True, eq=False, slots=True)
class _Pipe:
    """A pipe from structure to structure; the levels of its axis at both ends, lengths in m."""

    name: str
    ends: tuple[str, str]
    outer: float | None
    center: Floats | None
    levels: tuple[float, float]


def network_routes(
    network: Element,
    named: Mapping[str, str],
    sizes: Sizes,
    options: ReadOptions,
    path: Path,
    name: str,
) -> NetworkRoutes:
    """The routes through the connected pipes of a network; they end where more than two meet.

    The axis of a pipe lies half its inner height over its inverts. What is missing or guessed of a
    structure or pipe is told as an element; a pipe without a place is left out.
    """
    made = NetworkRoutes(name)
    reading = _Reading(made, named, sizes, options, path)
    structs = reading.structs(network)
    pipes = reading.pipes(network, structs)
    for walk in _walks(structs, pipes, reading):
        made.routes.append(reading.route(walk, structs))
    if len(made.routes) == 1:
        made.routes[0] = replace(made.routes[0], name=name)
    shapes = Counter(f"{p.outer * 1000:.4g} mm" for p in pipes if p.outer is not None)
    there = ", ".join(f"{n} of {size}" for size, n in shapes.most_common(8))
    said = f"{name}: {counted(len(structs), 'structure')}, {counted(len(pipes), 'pipe')}"
    made.used.append(f"{said}{f' ({there})' if there else ''}")
    return made


Walk = list[tuple[_Pipe, bool]]
"""Pipes in order, each with whether it is walked from its end to its start."""


@dataclass(eq=False, slots=True)
class _Reading:
    """What is known while a network is read."""

    made: NetworkRoutes
    named: Mapping[str, str]
    sizes: Sizes
    options: ReadOptions
    path: Path

    def tell(self, name: str, kind: str, state: str, said: str, at: Floats | None = None) -> None:
        """One more element that a reader must be told of."""
        place = None
        if at is not None:
            point = np.append(at, 0.0) if len(at) == 2 else at
            moved = placed(point / self.sizes.length, self.sizes.length, self.options, self.path)
            x, y, z = moved[0].tolist()
            place = (x, y, z)
        run = self.made.name
        self.made.elements.append(Told(name, kind, state, said, name, run, place))

    # --- structures

    def structs(self, network: Element) -> dict[str, _Struct]:
        """The structures by name; one without a place is told and left out."""
        found: dict[str, _Struct] = {}
        for element in network.iter():
            if local(element) != "Struct":
                continue
            name = element.get("name", "").strip()
            center = self._plan(_child(element, "Center"))
            if center is None or not name:
                said = "no Center of two numbers" if name else "no name"
                self.tell(name or "?", "Struct", "missing", said)
            elif name in found:
                self.tell(name, "Struct", "missing", "name used before", center)
            else:
                found[name] = self._struct(element, name, center)
        return found

    def _struct(self, element: Element, name: str, center: Floats) -> _Struct:
        sizes = self.sizes
        ring, box = _child(element, "CircStruct"), _child(element, "RectStruct")
        across = None if ring is None else _length(ring.get("diameter"), sizes.diameter)
        sides = None
        if box is not None:
            long, wide = (_length(box.get(key), sizes.width) for key in ("length", "width"))
            sides = (long, wide) if long and wide else None
        bearing = None if box is None else _length(box.get("lengthDir"), 1.0)
        inverts: dict[str, float] = {}
        for each in element:
            if local(each) == "Invert":
                level = _length(each.get("elev"), sizes.length)
                key = each.get("refPipe") or f"flow {each.get('flowDir', '')}"
                if level is None:
                    said = f"invert of {key!r} is {brief(each.get('elev'))}, no elevation"
                    self.tell(name, "Struct", "missing", said, center)
                else:
                    inverts[key] = level
        rim, sump = (_length(element.get(k), sizes.length) for k in ("elevRim", "elevSump"))
        return _Struct(
            name, center, across, sides, bearing, rim, sump,
            _child(element, "Connection") is None, inverts,
        )  # fmt: skip

    def _plan(self, element: Element | None) -> Floats | None:
        """East and north, m, of an element with northing and easting."""
        if element is None:
            return None
        text = (element.text or "").strip() or self.named.get(element.get("pntRef", ""), "")
        values = [_length(word, self.sizes.length) for word in text.split()[:2]]
        if len(values) < 2 or values[0] is None or values[1] is None:
            return None
        return np.array([values[1], values[0]])

    # --- pipes

    def pipes(self, network: Element, structs: Mapping[str, _Struct]) -> list[_Pipe]:
        """The pipes that have a place at both ends; the others are told and left out."""
        elements = [e for e in network.iter() if local(e) == "Pipe"]
        drawn_flat = not any(s.inverts or s.sump is not None for s in structs.values())
        if drawn_flat and elements:
            self.made.guessed.append(f"{self.made.name}: no inverts: pipes at z = 0")
        found = []
        for element in elements:
            name = element.get("name", "").strip() or "?"
            ends = element.get("refStart", "").strip(), element.get("refEnd", "").strip()
            if lost := [end for end in ends if end not in structs]:
                there = " and ".join(repr(end) for end in lost)
                self.tell(name, "Pipe", "missing", f"left out: no structure {there}")
                continue
            a, b = structs[ends[0]], structs[ends[1]]
            if float(norm(b.at - a.at)) < COINCIDENT:
                self.tell(name, "Pipe", "missing", "left out: no length in plan", a.at)
                continue
            outer, lift = self._shape(element, name, (a.at + b.at) / 2)
            first, last = (
                0.0 if drawn_flat else self._invert(struct, name, way)
                for struct, way in ((a, "out"), (b, "in"))
            )
            if first is None or last is None:
                where = ends[0] if first is None else ends[1]
                said = f"left out: no invert at {where!r}, and none to take for it"
                self.tell(name, "Pipe", "missing", said, (a.at + b.at) / 2)
                continue
            if drawn_flat:
                said = "no inverts: its inverts are taken at z = 0"
                self.tell(name, "Pipe", "guessed", said, (a.at + b.at) / 2)
            center = self._plan(_child(element, "Center"))
            lifted = first + lift, last + lift
            found.append(_Pipe(name, ends, outer, center, lifted))
        return found

    def _shape(self, element: Element, name: str, at: Floats) -> tuple[float | None, float]:
        """The outer diameter of a pipe, None where not round; and its axis over its invert, m."""
        shape = next((e for kind in _SHAPES if (e := _child(element, kind)) is not None), None)
        if shape is not None and local(shape) == "CircPipe":
            inner = _length(shape.get("diameter"), self.sizes.diameter)
            wall = _length(shape.get("thickness"), self.sizes.diameter)
            if inner and inner > 0:
                if not wall:
                    said = "no wall thickness: its diameter is taken for the outer one"
                    self.tell(name, "Pipe", "guessed", said, at)
                outer = inner + 2 * (wall or 0.0)
                if not SMALLEST_PIPE <= outer <= LARGEST_PIPE:
                    said = f"its outer diameter is {outer:.4g} m, no conduit: check diameterUnit"
                    self.tell(name, "Pipe", "guessed", said, at)
                return outer, inner / 2
        kind = "pipe shape" if shape is None else local(shape)
        high = None if shape is None else _length(shape.get("height"), self.sizes.height)
        said = f"no diameter ({kind}); its axis is taken {'at half its height' if high else ''}"
        self.tell(name, "Pipe", "guessed", said if high else f"{said}at its inverts", at)
        return None, (high or 0.0) / 2

    def _invert(self, struct: _Struct, pipe: str, way: str) -> float | None:
        """The invert of a pipe at a structure, m; that of another pipe or the sump, told."""
        for key in (pipe, f"flow {way}", "flow both"):
            if key in struct.inverts:
                return struct.inverts[key]
        if struct.inverts:
            other, level = min(struct.inverts.items(), key=lambda item: item[1])
            said = f"no invert at {struct.name!r}: that of {other!r} is taken"
        elif struct.sump is not None:
            level, said = struct.sump, f"no invert at {struct.name!r}: the sump is taken"
        else:
            return None
        self.tell(pipe, "Pipe", "guessed", said, np.append(struct.at, level))
        return level

    # --- routes

    def route(self, walk: Walk, structs: Mapping[str, _Struct]) -> ExchangeRoute:
        """The route along a walk of pipes, points in the frame of the job."""
        stops = [_end(*walk[0], first=True), *(_end(pipe, back) for pipe, back in walk)]
        ups = [_level(*walk[0], first=True)]
        for (pipe, back), (after, turned) in pairwise(walk):
            one, two = _level(pipe, back), _level(after, turned, first=True)
            ups.append((one + two) / 2)
            if abs(one - two) > 1e-6:
                said = f"pipes enter at {one:.3f} and {two:.3f} m: the middle is taken"
                at = np.append(structs[_end(pipe, back)].at, ups[-1])
                self.tell(_end(pipe, back), "Struct", "guessed", said, at)
        ups.append(_level(*walk[-1]))
        points: list[Floats] = []
        radii: list[float] = []
        names: list[str] = []
        sizes: list[float | None] = []
        for i, stop in enumerate(stops):
            points.append(np.append(structs[stop].at, ups[i]))
            radii.append(0.0)
            names.append(stop)
            if i == len(walk):
                break
            pipe = walk[i][0]
            sizes.append(pipe.outer)
            end = np.append(structs[stops[i + 1]].at, ups[i + 1])
            if pipe.center is not None and (bend := self._bend(pipe, points[-1], end)):
                points.append(bend[0])
                radii.append(bend[1])
                names.append("")
                sizes.append(pipe.outer)
        line = np.array(points)
        boxes = [self._box(structs[n], line, k) if n else None for k, n in enumerate(names)]
        return ExchangeRoute(
            f"{self.made.name}: {stops[0]} to {stops[-1]}",
            placed(line / self.sizes.length, self.sizes.length, self.options, self.path),
            np.array(radii),
            tuple(names),
            access=tuple(_access(structs, name) for name in names),
            boxes=tuple(boxes),
            diameters=tuple(sizes),
            outer_diameter=sizes[0],
        )

    def _bend(self, pipe: _Pipe, start: Floats, end: Floats) -> tuple[Floats, float] | None:
        """Vertex and radius of a curved pipe; None, and told, where it is no bend."""
        assert pipe.center is not None
        u, v = start[:2] - pipe.center, end[:2] - pipe.center
        radius, other = float(norm(u)), float(norm(v))
        chord = end - start
        flat = float(norm(chord[:2]))
        sine = flat / (radius + other)
        if abs(radius - other) > _MISFIT * radius or sine >= 1 - 1e-9:
            said = f"its center is {radius:.4g} and {other:.4g} m from its ends: read as straight"
            self.tell(pipe.name, "Pipe", "guessed", said, (start + end) / 2)
            return None
        half = math.asin(sine)
        away = (start[:2] + end[:2]) / 2 - pipe.center
        out = away / float(norm(away)) * (flat / 2 * math.tan(half))
        vertex = (start + end) / 2 + np.append(out, 0.0)
        setback = float(norm(vertex - start))
        one, two = (vertex - start) / setback, (end - vertex) / float(norm(end - vertex))
        turn = math.atan2(float(norm(np.cross(one, two))), float(one @ two))
        return vertex, setback / math.tan(turn / 2) * (1 - 1e-9)  # it just fits

    def _box(self, struct: _Struct, line: Floats, k: int) -> Box | None:
        """Length along the pull, width and height of a structure; None where one is not known."""
        if not struct.chamber or (struct.round is None and struct.sides is None):
            return None
        across = min(struct.sides) if struct.sides else struct.round or 0.0
        if across < SMALLEST_VAULT:
            key = "widthUnit" if struct.sides else "diameterUnit"
            said = f"it is {across * 1000:.4g} mm across, no vault: check {key}"
            self.tell(struct.name, "Struct", "guessed", said, line[k])
        floor = struct.sump
        if floor is None and struct.inverts:
            floor = min(struct.inverts.values())
            said = "no sump: the height of its box ends at the lowest invert"
            self.tell(struct.name, "Struct", "guessed", said, line[k])
        high = None if struct.rim is None or floor is None else struct.rim - floor
        if high is None or high <= 0:
            said = "its height is not known (rim, sump): its box is left out"
            self.tell(struct.name, "Struct", "guessed", said, line[k])
            return None
        if struct.sides is None:
            return struct.round or 0.0, struct.round or 0.0, high
        long, wide = struct.sides
        if struct.bearing is None:
            said = "no lengthDir: its length is taken along the pull"
            self.tell(struct.name, "Struct", "guessed", said, line[k])
            return long, wide, high
        along = line[min(k + 1, len(line) - 1), :2] - line[max(k - 1, 0), :2]
        bearing = math.radians(struct.bearing)
        share = abs(float(along @ np.array([math.sin(bearing), math.cos(bearing)])))
        aligned = share >= math.sqrt(0.5) * float(norm(along))
        return (long, wide, high) if aligned else (wide, long, high)


def _child(element: Element, kind: str) -> Element | None:
    return next((e for e in element if local(e) == kind), None)


def _length(text: str | None, meters: float) -> float | None:
    """A number of the file in m, None where it is none."""
    try:
        value = float(text if text is not None else "")
    except ValueError:
        return None
    return value * meters if abs(value) * meters <= FARTHEST else None


def _end(pipe: _Pipe, back: bool, first: bool = False) -> str:
    """The structure where a walked pipe ends, or starts."""
    return pipe.ends[0 if back != first else 1]


def _level(pipe: _Pipe, back: bool, first: bool = False) -> float:
    return pipe.levels[0 if back != first else 1]


def _access(structs: Mapping[str, _Struct], name: str) -> frozenset[str]:
    return _PULL_POINT if name and structs[name].chamber else frozenset()


# --- the network -------------------------------------------------------------------------------


def _walks(
    structs: Mapping[str, _Struct],
    pipes: Sequence[_Pipe],
    reading: _Reading,
) -> Iterator[Walk]:
    """Walks along all pipes, each as most of its pipes were drawn; told where they must end."""
    at: dict[str, list[int]] = {}
    for number, pipe in enumerate(pipes):
        for end in pipe.ends:
            at.setdefault(end, []).append(number)
    through = {}
    for name, here in at.items():
        through[name] = _goes_on(structs[name], [pipes[i] for i in here], reading)
    used: set[int] = set()
    for number in range(len(pipes)):
        if number in used:
            continue
        ahead = _onward(pipes, number, False, at, through)
        last, back = ahead[-1]
        walk = _onward(pipes, last, not back, at, through)
        used |= {i for i, _ in walk}
        if sum(1 if turned else -1 for _, turned in walk) > 0:
            walk = [(i, not turned) for i, turned in reversed(walk)]
        (one, turned), (last, back) = walk[0], walk[-1]
        first, end = _end(pipes[one], turned, first=True), _end(pipes[last], back)
        if first == end:
            said = f"closed ring: the run starts and ends at {first!r}"
            reading.tell(first, "Struct", "guessed", said, structs[first].at)
        yield [(pipes[i], turned) for i, turned in walk]


def _goes_on(struct: _Struct, here: Sequence[_Pipe], reading: _Reading) -> bool:
    """Whether a run goes on through a structure; told where it does not."""
    if len(here) > 2:
        names = ", ".join(repr(p.name) for p in here[:6])
        said = f"branch: {len(here)} pipes meet ({names}); each run ends here"
        reading.tell(struct.name, "Struct", "guessed", said, struct.at)
        return False
    if len(here) < 2:
        return False
    one, two = (p.levels[p.ends.index(struct.name)] for p in here)
    if abs(one - two) > ONE_LEVEL:
        said = f"pipes enter {abs(one - two):.3f} m apart in level: the run ends here"
        reading.tell(struct.name, "Struct", "broken", said, np.append(struct.at, max(one, two)))
        return False
    return True


def _onward(
    pipes: Sequence[_Pipe],
    number: int,
    back: bool,
    at: Mapping[str, list[int]],
    through: Mapping[str, bool],
) -> list[tuple[int, bool]]:
    """Steps from a pipe on, until a run ends or comes round."""
    walk = [(number, back)]
    while True:
        here, back = walk[-1]
        stop = _end(pipes[here], back)
        if not through[stop]:
            return walk
        onward = [i for i in at[stop] if i != here]
        if not onward or onward[0] == walk[0][0]:
            return walk
        after = onward[0]
        walk.append((after, pipes[after].ends[0] != stop))
