"""The route of a run: its vertices, which conduit each leg is, and the radius of every bend."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from route3d.errors import GeometryError
from route3d.model import Conduit, Route, Sheave, Vertex
from route3d.model.route import GivenLegs
from route3d.modelfile.fields import brief, nearest
from route3d.modelfile.problems import Collector
from route3d.modelfile.toml_positions import KeyPath
from route3d.units import show, show_marked

if TYPE_CHECKING:
    from route3d.geometry.legs import LegRoute
    from route3d.geometry.vectors import Floats
    from route3d.modelfile.entries import RunEntry, VertexEntry

# One short leg spoils the next ones too; more than this from one route helps nobody.
MOST_PATH_PROBLEMS = 20
# A sharper turn is a slip of a coordinate: no one bend of conduit comes near it.
SHARPEST = math.radians(175.0)


def build_route(
    entries: Sequence[VertexEntry],
    conduits: Mapping[str, Conduit],
    sheaves: Mapping[str, Sheave],
    path: KeyPath,
    report: Collector,
    by_legs: LegRoute | None = None,
) -> Route | None:
    """The Route at key path ``path``; None where a problem was reported.

    ``conduits`` and ``sheaves`` hold those that were read without a problem; unknown names are
    reported by ``route3d.modelfile.references``. With ``by_legs`` the path is that of the legs.
    """
    given, before = _GivenRoute(entries, path, report, by_legs), len(report.problems)
    legs = given.conduit_of_legs(conduits)
    turns = given.turns()
    given.check_boxes()
    if turns is None or any(leg is None for leg in legs):
        return None
    known = [leg for leg in legs if leg is not None]
    given.check_sheaves(turns)
    vertices = [
        replace(given.vertex(i, known, float(turns[i])), sheave=sheaves.get(entry.sheave or ""))
        for i, entry in enumerate(entries)
    ]
    if len(report.problems) > before:
        return None
    route = Route(tuple(vertices), tuple(known))
    _check_path(route, given)
    return route if len(report.problems) == before else None


def build_legs(
    entry: RunEntry,
    conduits: Mapping[str, Conduit],
    sheaves: Mapping[str, Sheave],
    declination: float,
    base: KeyPath,
    report: Collector,
) -> Route | None:
    """The Route that the legs of a run give; None where a problem was reported."""
    from route3d.geometry.leg_grammar import LegsError, shorten
    from route3d.geometry.legs import read_legs
    from route3d.modelfile.entries import VertexEntry

    texts, path = entry.legs or [], (*base, "legs")
    try:
        read = read_legs(texts, report.system, conduits=conduits, declination=declination)
    except LegsError as error:
        tables = report.document.data.get("conduit") or {}
        for fault in error.faults:
            if fault.conduit in tables:  # its table has the problem, which is told there
                continue
            before = texts[fault.leg][: fault.column - 1]
            plain = before.isprintable() and not {'"', "\\"} & {*before}
            inside = fault.column if plain else 0  # after the quote; an escape would shift it
            said = f'"{shorten(texts[fault.leg].strip())}"'
            message = fault.message.replace(f"leg {fault.leg + 1} ({said})", said, 1)
            report.add((*path, fault.leg), message, fault.fix, inside=inside)
        return None
    if entry.closes_to is not None:
        if read.closes_to not in (None, entry.closes_to):
            said = "the last leg gives another end than closes_to"
            report.add((*base, "closes_to"), said, "remove one of them")
        read = replace(read, closes_to=entry.closes_to)
    if not _names_known(read, path, report):
        return None
    entries = [
        VertexEntry.model_construct(
            at=tuple(point), bend=read.radii[i], name=read.names[i] or None,
            access=sorted(read.access[i]), conduit=read.conduits[i] or None,
            sheave=read.sheaves[i] or None, box=read.boxes[i],
        )
        for i, point in enumerate(read.points.tolist())
    ]  # fmt: skip
    route = build_route(entries, conduits, sheaves, path, report, read)
    if route is None:
        return None
    given = GivenLegs(tuple(texts), read.leg_of, declination, read.closing, read.straights)
    return replace(route, legs=given)


def _names_known(read: LegRoute, path: KeyPath, report: Collector) -> bool:
    """Whether conduits and sheaves of legs have a table, and no two points have one name."""
    before = len(report.problems)
    for kind, names in (("conduit", read.conduits), ("sheave", read.sheaves)):
        tables = report.document.data.get(kind)
        for i, name in enumerate(names):
            if name and name not in (tables or {}):
                fix = nearest(name, tables or ()) or f"add a table for it: this file has no {kind}"
                said = f"there is no {kind} {brief(name)}"
                report.add((*path, read.leg_of[i]), said, fix)
    first: dict[str, int] = {}
    for i, name in enumerate(read.names):
        if name and first.setdefault(name, i) != i:
            said = f"two points of the route are named {brief(name)}"
            report.add((*path, read.leg_of[i]), said, "give each point a unique name, or none")
    return len(report.problems) == before


@dataclass(frozen=True, slots=True, eq=False)
class _GivenRoute:
    """The points of a route as the file has them at key path ``path``; problems go to a report."""

    entries: Sequence[VertexEntry]
    path: KeyPath
    report: Collector
    by_legs: LegRoute | None = None

    def wrong(self, keys: KeyPath, message: str, fix: str, *, in_legs: str = "") -> None:
        """Report a problem at some keys of the route, or at the leg that gives the point."""
        if self.by_legs is not None:
            fix = in_legs or fix
        self.report.add(self.place(keys), message, fix)

    def place(self, keys: KeyPath) -> KeyPath:
        """Where the file has some keys of a point: in the point, or in its leg."""
        if self.by_legs is None:
            return *self.path, *keys
        return *self.path, self.by_legs.leg_of[keys[0]]  # type: ignore[index]

    def label(self, index: int) -> str:
        """What a point is called."""
        if self.by_legs is not None:
            number = f"leg {self.by_legs.leg_of[index] + 1}"
        else:
            number = f"point {index + 1}"
        return self.entries[index].name or number

    def conduit_of_legs(self, conduits: Mapping[str, Conduit]) -> list[Conduit | None]:
        """The conduit of each leg, None where its name stands for none that could be read."""
        if self.entries[0].conduit is None:
            in_legs = "add its name to the start, such as: heading north in duct"
            fix = 'add conduit = "..." there'
            self.wrong((0,), "the first point has no conduit", fix, in_legs=in_legs)
        last = len(self.entries) - 1
        if self.entries[last].conduit is not None:
            message = "a conduit at the last point: no straight or bend follows"
            self.wrong((last, "conduit"), message, "remove it")
        legs: list[Conduit | None] = []
        current: Conduit | None = None
        for entry in self.entries[:-1]:
            if entry.conduit is not None:
                current = conduits.get(entry.conduit)
            legs.append(current)
        return legs

    def turns(self) -> Floats | None:
        """The turn at each vertex, rad, 0 at the ends; None where two points coincide."""
        import numpy as np

        from route3d.geometry.fillet import COINCIDENT
        from route3d.geometry.vectors import angle_between, norm, unit

        legs = np.diff(np.array([entry.at for entry in self.entries]), axis=0)
        same = np.flatnonzero(norm(legs) < COINCIDENT)
        for i in same.tolist():
            message = f"{self.label(i + 1)} is the same point as {self.label(i)}"
            self.wrong((i + 1, "at"), message, "remove one of them")
        if same.size:
            return None
        turns = np.zeros(len(self.entries))
        directions = unit(legs)
        turns[1:-1] = angle_between(directions[:-1], directions[1:])
        folds = np.flatnonzero(turns > SHARPEST)
        for i in folds.tolist():
            angle = f"{math.degrees(turns[i]):.1f}°"
            message = f"the route turns back on itself at {self.label(i)} ({angle})"
            self.wrong((i, "at"), message, "add a point, so that the turn is made of two bends")
        return None if folds.size else turns

    def check_boxes(self) -> None:
        """A box stands at a pull point."""
        for i in range(1, len(self.entries) - 1):
            entry = self.entries[i]
            if entry.box is not None and (not entry.access or entry.bend is not None):
                self.wrong(
                    (i, "box"),
                    f"{self.label(i)} has a box but is not a pull point",
                    "add access and remove the bend, or remove the box",
                )

    def check_sheaves(self, turns: Floats) -> None:
        """A sheave guides the cables only at a pull point between the ends that turns."""
        for i, entry in enumerate(self.entries):
            if entry.sheave is None:
                continue
            inside = 0 < i < len(self.entries) - 1
            if inside and entry.access and entry.bend is None and not _is_straight(float(turns[i])):
                continue
            turns_not = inside and entry.access
            why = "does not turn" if turns_not else "is not a pull point between the ends"
            self.wrong(
                (i, "sheave"),
                f"{self.label(i)} has a sheave but {why}",
                "a sheave guides the cables around a pull point that turns: remove it here",
            )

    def vertex(self, index: int, legs: Sequence[Conduit], turn: float) -> Vertex:
        """A point with its bend."""
        entry = self.entries[index]
        is_end = index in (0, len(self.entries) - 1)
        bend, source = 0.0, "given"
        if entry.bend is not None:
            bend = entry.bend
            self.check_bend(index, turn)
        elif not (is_end or entry.access or _is_straight(turn)):
            bend, source = self.standard_elbow(index, legs[index], turn)
        if entry.bend is not None and self.by_legs is not None:
            source = self.by_legs.sources[index] or "given"
        place = self.report.document.values.get(self.place((index,)))
        return Vertex(
            point=entry.at,
            name=entry.name or "",
            bend=bend,
            bend_source=source,
            access=frozenset(entry.access),
            box=entry.box,
            line=place[0] if place else None,
        )

    def check_bend(self, index: int, turn: float) -> None:
        """A bend stands between two legs that turn."""
        where = self.label(index)
        if index in (0, len(self.entries) - 1):
            which = "first" if index == 0 else "last"
            message = f"bend at the {which} point, {where}: a bend needs a leg on both sides"
            self.wrong((index, "bend"), message, "remove it")
        elif _is_straight(turn):
            message = f"{where} has a bend but the route does not turn there"
            self.wrong((index, "bend"), message, "remove the bend, or check the points")

    def standard_elbow(self, index: int, conduit: Conduit, turn: float) -> tuple[float, str]:
        """Radius (m) and source of the elbow of the conduit from the point onward."""
        if conduit.elbow_radius is not None:
            return conduit.elbow_radius, conduit.elbow_source
        self.wrong(
            (index,),
            f"{self.label(index)} turns {math.degrees(turn):.1f}° without a bend radius, and the "
            f"tables have no standard elbow of {conduit.label}",
            "add bend = ... there",
            in_legs="give the radius there, such as: at 36 in",
        )
        return 0.0, ""


def _is_straight(turn: float) -> bool:
    from route3d.geometry.fillet import STRAIGHT_TURN

    return turn <= float(STRAIGHT_TURN)


# --- tangents that overlap ---------------------------------------------------------------------


def _check_path(route: Route, given: _GivenRoute) -> None:
    """Report every place where the bends do not fit: after each, both sides are tried again."""
    from route3d.geometry.fillet import route_path, sub_route

    last = len(route.vertices) - 1
    parts, budget = [(0, last)], MOST_PATH_PROBLEMS
    while parts and budget:
        first, end = parts.pop()
        try:
            route_path(sub_route(route, first, end))
        except GeometryError as error:
            budget -= 1
            at_fault = tuple(first + i for i in error.vertices)
            given.wrong(*_path_problem(route, error, at_fault, given))
            if len(at_fault) == 2:
                sides = ((first, at_fault[0]), (at_fault[1], end))
                parts += [side for side in sides if side[0] < side[1]]


def _path_problem(
    route: Route, error: GeometryError, at_fault: tuple[int, ...], given: _GivenRoute
) -> tuple[KeyPath, str, str]:
    """Keys, message and fix of bends that do not fit."""
    leg_of = given.by_legs.leg_of if given.by_legs is not None else ()
    tight = TightBends.of(route, at_fault, leg_of)
    if tight is None:
        problem = error.problems[0]
        return at_fault[:1], problem.message, problem.fix
    message, fix = tight.words(given.report.system)
    radius = show(route.vertices[tight.worst].bend, "radius", given.report.system)
    elbow = route.vertices[tight.worst].bend_source
    return (
        (tight.worst, "bend"),
        message,
        f"{fix}; given: {radius}" + ("" if elbow == "given" else f" by {elbow}"),
    )


@dataclass(frozen=True, slots=True)
class TightBends:
    """Two bends, at vertices ``a`` and ``b``, whose set-backs are longer than the straight between.

    ``takes`` m are the set-backs of all vertices and ``halves`` the tangents of half their turns.
    ``leg_of`` are the legs that give the vertices, for a run by legs: the bends of an offset or a
    saddle are of one leg and have one radius.
    """

    route: Route
    a: int
    b: int
    halves: tuple[float, ...]
    takes: tuple[float, ...]
    leg_of: tuple[int, ...] = ()

    @classmethod
    def of(
        cls, route: Route, vertices: tuple[int, ...], leg_of: tuple[int, ...] = ()
    ) -> TightBends | None:
        """None where the fault at some vertices of a route is another one."""
        import numpy as np

        from route3d.geometry.fillet import COINCIDENT
        from route3d.geometry.vectors import angle_between, unit

        if len(vertices) != 2:
            return None
        ways = unit(np.diff(np.array([v.point for v in route.vertices]), axis=0))
        halves = (0.0, *np.tan(angle_between(ways[:-1], ways[1:]) / 2).tolist(), 0.0)
        takes = tuple(v.bend * half for v, half in zip(route.vertices, halves, strict=True))
        a, b = vertices
        made = cls(route, a, b, halves, takes, leg_of)
        return made if COINCIDENT < made.straight(a) < takes[a] + takes[b] else None

    @property
    def worst(self) -> int:
        """The one that takes more."""
        return max((self.a, self.b), key=lambda i: self.takes[i])

    def straight(self, index: int) -> float:
        """From a vertex to the next, m."""
        ends = self.route.vertices[index].point, self.route.vertices[index + 1].point
        return math.dist(*ends)

    def label(self, index: int) -> str:
        """The name of a vertex, or its leg, or its number."""
        name = self.route.vertices[index].name
        return name or (f"leg {self.leg_of[index] + 1}" if self.leg_of else f"point {index + 1}")

    def words(self, system: str) -> tuple[str, str]:
        """What is wrong, and the radius that fits."""
        a, b, worst = self.a, self.b, self.worst
        one_leg = bool(self.leg_of) and self.leg_of[a] == self.leg_of[b]
        pair = f"at {self.label(a)} and {self.label(b)}"
        needed = show(self.takes[a] + self.takes[b], "length", system, decimals=2)
        there = show(self.straight(a), "length", system, decimals=2)
        message = (
            f"the bends {f'of leg {self.leg_of[a] + 1}' if one_leg else pair} need {needed} of "
            f"straight between them; available {there}"
        )
        other = b if worst == a else a
        if self.takes[other] == 0 and not one_leg:  # the end of the route, or no bend
            message = (
                f"the bend at {self.label(worst)} needs {needed} of straight to "
                f"{self.label(other)}; available {there}"
            )
        room = self.straight(a) - self.takes[other]
        if one_leg:
            largest = show_marked(self.one_radius(), "radius-", system)
            return message, f"maximum radius that fits all bends of the leg: {largest}"
        if room > 0:
            largest = show_marked(room / self.halves[worst], "radius-", system)
            return message, f"maximum radius that fits at {self.label(worst)}: {largest}"
        share = self.straight(a) / (self.takes[a] + self.takes[b])
        first, second = (
            show_marked(self.route.vertices[i].bend * share, "radius-", system) for i in (a, b)
        )
        return message, (
            f"neither fits alone; {first} at {self.label(a)} with {second} at {self.label(b)} fits"
        )

    def one_radius(self) -> float:
        """The largest radius that all bends of one leg can have, m.

        The slopes of a saddle of three bends become longer with it, for its crown stays: by
        tan(θ/2) / cos θ for each m.
        """
        bends = [i for i, leg in enumerate(self.leg_of) if leg == self.leg_of[self.a]]
        radius, half = self.route.vertices[self.a].bend, self.halves[bends[0]]
        turn = 2 * math.atan(half)
        longer = half / math.cos(turn) if len(bends) == 3 else 0.0
        fits = [
            (self.straight(i) - radius * longer) / (self.halves[i] + self.halves[i + 1] - longer)
            for i in bends[:-1]
        ]
        first, last = bends[0], bends[-1]
        outer = [
            (self.straight(first - 1) - self.takes[first - 1]) / self.halves[first],
            (self.straight(last) - self.takes[last + 1]) / self.halves[last]
            if self.halves[last]
            else 0.0,
        ]
        return min(*fits, *(radius for radius in outer if radius > 0), math.inf)
