"""Routes by legs: the texts of a run to its exact points, and points to the legs that give them.

A route is walked from its start. What the walk knows is a bearing (degrees clockwise from north)
and a climb (degrees above level). Turns change them, and a length goes that way; a slope said with
a length holds until the next turn; offsets and saddles keep it. The writer walks with the reader's
own arithmetic, each leg from where the legs before it have led, so that rounding never adds up.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from typing import NoReturn

import numpy as np

from route3d.geometry.elbows import factory_elbow
from route3d.geometry.fillet import FOLD, STRAIGHT_TURN
from route3d.geometry.leg_grammar import (
    ANGLE_DECIMALS,
    FARTHEST,
    Heading,
    Leg,
    LegFault,
    LegsError,
    Point,
    Side,
    Slope,
    key_of,
    quoted,
    read_leg,
    shorten,
)
from route3d.geometry.vectors import Floats, angle_between, frozen, norm, unit
from route3d.model.conduit import Conduit
from route3d.model.route import Closing, Route, Vertex
from route3d.standards.tables import NotInTable
from route3d.units import parse

BOTH = frozenset({"reel", "machine"})
_VERTICAL = 90.0


@dataclass(frozen=True, slots=True, eq=False)
class LegRoute:
    """A route as its legs give it; most tuples have one entry for each of ``points`` (n, 3) m.

    ``radii`` m are None where none was said: the standard elbow, or no bend at all. ``sources`` say
    which standard elbow a radius is from, "" where it was typed. ``conduits`` name the one that
    begins at a point, "" where that before goes on. ``leg_of`` is the number of the leg (from 0) to
    name for a point; ``straights`` (n - 1) are those that give the straights. ``legs`` are the
    texts as read, ``closes_to`` m the known end, and ``lengths`` the legs that are a length:
    number, what each m more of it adds to the way, and m.
    """

    points: Floats
    radii: tuple[float | None, ...]
    sources: tuple[str, ...]
    names: tuple[str, ...]
    access: tuple[frozenset[str], ...]
    conduits: tuple[str, ...]
    boxes: tuple[Point | None, ...]
    sheaves: tuple[str, ...]
    leg_of: tuple[int, ...]
    straights: tuple[int, ...]
    legs: tuple[Leg, ...]
    closes_to: Point | None
    lengths: tuple[tuple[int, Point, float], ...]

    @property
    def echo(self) -> tuple[LegRow, ...]:
        """What was understood, leg by leg."""
        stops = [bool(a) and not r for a, r in zip(self.access, self.radii, strict=True)]
        return _rows(self.points, self.radii, stops)

    @property
    def closing(self) -> Closing | None:
        """How the legs miss the known end; None where none is given."""
        return None if self.closes_to is None else _closing(self, self.closes_to)


@dataclass(frozen=True, slots=True)
class LegRow:
    """One straight from ``start`` to ``end`` m, numbers of its points, and the turn before it.

    ``bearing`` degrees is None where it is vertical; ``pitch`` degrees; ``length`` m from corner
    to corner. ``turn`` degrees and ``radius`` m are those at its first point, ``total`` degrees all
    turns since the last pull point.
    """

    first: int
    start: Point
    end: Point
    bearing: float | None
    pitch: float
    length: float
    turn: float
    radius: float | None
    total: float


def read_legs(
    lines: Sequence[str],
    system: str,
    *,
    conduits: Mapping[str, Conduit] | None = None,
    declination: float = 0.0,
) -> LegRoute:
    """The route that legs give.

    Parameters
    ----------
    lines : sequence of str
        One leg each, the start first.
    system : {"US", "SI"}
        Units of bare numbers.
    conduits : mapping of str to Conduit, optional
        By name: needed for fittings by name, and without a radius for saddles of three bends and
        for lengths along the conduit beside a turn.
    declination : float
        What is added to every heading said to have it from grid north, degrees, east positive.

    Returns
    -------
    LegRoute
        In SI, exact.

    Raises
    ------
    LegsError
        An InputError with every fault: its leg, column, what was understood and what could follow.

    References
    ----------
    docs/legs.md.
    """
    faults: list[LegFault] = []
    legs: list[Leg] = []
    for number, text in enumerate(lines):
        try:
            legs.append(read_leg(text, number, system))
        except LegsError as error:
            faults += error.faults
    if faults:
        raise LegsError(faults)
    walk = _Walk(legs, declination)
    for number, leg in enumerate(legs):
        walk.step(number, leg)
    return walk.route(conduits or {})


# --- the walk ------------------------------------------------------------------------------------


def _sin_cos(degrees: float) -> tuple[float, float]:
    """Exact at every quarter turn."""
    quarter = round(degrees / 90.0)
    rest = math.radians(degrees - 90.0 * quarter)
    s, c = math.sin(rest), math.cos(rest)
    return ((s, c), (c, -s), (-s, -c), (-c, s))[quarter % 4]


def _going(bearing: float, level: float, rise: float) -> Point:
    """Steps x, y, z of so much level length in a bearing and so much rise."""
    s, c = _sin_cos(bearing)
    return level * s, level * c, rise


def _plus(a: Point, b: Point) -> Point:
    return a[0] + b[0], a[1] + b[1], a[2] + b[2]


def _turned(degrees: float) -> float:
    return round(degrees, ANGLE_DECIMALS)


@dataclass
class _Corner:
    """A point on the way, with what legs say of it; ``leg`` is the one to name for it."""

    leg: int
    turned: Leg | None = None
    name: str = ""
    access: frozenset[str] = frozenset()
    conduit: str = ""
    box: Point | None = None
    sheave: str = ""


@dataclass
class _Straight:
    """From one corner to the next: its unit ``direction`` and its ``step`` m.

    Of a length ``along`` the conduit and of a saddle of three bends, whose center bend is at corner
    ``crown``, the step is not known before the bends are. ``grows`` is what each m more of the
    length that was said adds to the step.
    """

    leg: int
    direction: Point
    step: Point | None
    length: float
    grows: Point = (0.0, 0.0, 0.0)
    crown: int | None = None


@dataclass
class _Walk:
    """Goes leg by leg; ``slope`` is level and rise of a unit of length, where one was said."""

    legs: Sequence[Leg]
    declination: float
    bearing: float = 0.0
    pitch: float = 0.0
    slope: tuple[float, float] | None = None
    start: Point = (0.0, 0.0, 0.0)
    closes_to: Point | None = None
    corners: list[_Corner] = field(default_factory=list)
    straights: list[_Straight] = field(default_factory=list)

    def fault(self, number: int, message: str, fix: str = "", conduit: str = "") -> NoReturn:
        text = shorten(self.legs[number].text.strip()) if self.legs else ""
        head = f'leg {number + 1} ("{text}"): ' if self.legs else ""
        raise LegsError([LegFault(number, 1, head + message, fix, head, conduit)])

    @property
    def vertical(self) -> bool:
        return abs(self.pitch) == _VERTICAL

    def step(self, number: int, leg: Leg) -> None:
        """One leg more."""
        if (leg.kind == "start") != (number == 0):
            if number:
                self.fault(number, "a second start", "leave it out, or begin another run with it")
            fix = "begin with: start NAME at 0, 0, 0 heading north"
            self.fault(number, "the first leg is not the start", fix)
        if number and self.legs[number - 1].kind == "end":
            self.fault(number, "a leg after the end", "move the end to the last leg")
        if leg.kind == "start":
            self.begin(number, leg)
        elif leg.kind == "length":
            self.go_length(number, leg)
        elif leg.kind == "turn":
            self.turn(number, leg)
        elif leg.kind in ("offset", "saddle", "kick"):
            self.shape(number, leg)
        else:
            self.place(number, leg)

    # Points.

    def begin(self, number: int, leg: Leg) -> None:
        assert leg.at is not None and leg.heading is not None  # the grammar holds it to both
        self.start = leg.at
        self.head_for(number, leg.heading, leg.slope)
        access = BOTH if leg.access is None else leg.access
        self.corners.append(_Corner(number, None, leg.name, access, leg.conduit or "", leg.box))

    def place(self, number: int, leg: Leg) -> None:
        """A point, a pull point or the end, where the walk is now."""
        corner = self.corners[-1]
        if len(self.corners) == 1:
            self.fault(number, "no length between the start and this point", "give the length")
        before = self.legs[corner.leg]
        if before.kind in ("point", "pull point"):
            fix = "give the length between them, or leave one out"
            self.fault(number, f"the same point as leg {corner.leg + 1}", fix)
        if leg.kind == "end":
            self.closes_to = leg.at
            if corner.turned is not None:
                fix = "give the length after the turn, or leave the turn out"
                self.fault(number, f"no length between leg {corner.leg + 1} and the end", fix)
        self.note(number, corner, leg)
        if leg.kind in ("pull point", "end") and leg.access is None:
            corner.access = BOTH
        if corner.turned is None:
            corner.leg = number

    def note(self, number: int, corner: _Corner, leg: Leg) -> None:
        """What a leg says beside its head, put at its corner."""
        for key in ("name", "access", "conduit", "box", "sheave"):
            value = getattr(leg, key)
            if value is None or value == "":
                continue
            given = getattr(corner, key)
            if given and given != value:
                self.fault(number, f"another {key} for the same point", "keep one of them")
            setattr(corner, key, value)

    # Turns.

    def head_for(self, number: int, heading: Heading, slope: Slope | None) -> None:
        """Point the walk in a heading, level where no slope is said."""
        if slope is not None and slope.rise is not None:
            fix = "give it as rising 5 degrees, rising 1 in 100 or rising 2%"
            self.fault(number, "a rise without a length is no slope", fix)
        if heading.bearing is None:
            if slope is not None:
                self.fault(number, "vertical and a slope exclude each other", "keep one of them")
            self.pitch = heading.pitch
        else:
            self.bearing = _turned(heading.bearing + self.declination) % 360.0
            grade = 0.0 if slope is None else slope.grade
            self.pitch = _turned(math.degrees(math.atan(grade)))
        self.slope = None

    def corner_to_turn(self, number: int, leg: Leg) -> _Corner:
        corner = self.corners[-1]
        if len(self.corners) == 1:
            fix = "give the start the new heading, or a length before the turn"
            self.fault(number, "a turn at the start", fix)
        if corner.turned is not None and self.legs[corner.leg].kind in ("offset", "saddle"):
            # Its last bend and this one follow each other back to back.
            self.add(_Straight(number, self.ahead(), None, 0.0))
            corner = self.corners[-1]
        elif corner.turned is not None:
            fix = "give the length between them, or one turn such as left 45 and up 30"
            self.fault(number, f"no length between this turn and leg {corner.leg + 1}", fix)
        self.note(number, corner, leg)
        corner.turned, corner.leg = leg, number
        if leg.kind not in ("offset", "saddle"):  # after these the way goes on as it went before
            self.slope = None
        return corner

    def turn(self, number: int, leg: Leg) -> None:
        self.corner_to_turn(number, leg)
        if leg.heading is not None:
            self.head_for(number, leg.heading, leg.slope)
        for side, angle in leg.turns:
            self.refuse_vertical(number, side)
            if side in ("left", "right"):
                to = self.bearing + (angle if side == "right" else -angle)
                self.bearing = _turned(to) % 360.0
        for side, angle in leg.turns:
            if side in ("up", "down"):
                self.climb(number, side, angle)
        if self.vertical and len(leg.turns) > 1:
            around, climb = sorted(leg.turns, key=lambda turned: turned[0] in ("up", "down"))
            lost, kept = (f"{side} {angle:g}" for side, angle in (around, climb))
            message = f"the turn ends vertical, where {lost} has no meaning"
            self.fault(number, message, f"{kept} alone; turn to a heading after it")

    def refuse_vertical(self, number: int, side: str) -> None:
        if self.vertical:
            fix = "turn to a heading, such as: turn to heading north at 36 in"
            going = "up" if self.pitch > 0 else "down"
            self.fault(number, f"the route goes straight {going} here: no {side}", fix)

    def climb(self, number: int, side: Side, angle: float) -> None:
        to = _turned(self.pitch + (angle if side == "up" else -angle))
        if abs(to) > _VERTICAL:
            room = _VERTICAL - (self.pitch if side == "up" else -self.pitch)
            slope = f"{abs(self.pitch):g}° {'up' if self.pitch > 0 else 'down'}"
            now = "level" if not self.pitch else slope
            message = f"{side} {angle:g} goes past vertical: the route goes {now} here"
            self.fault(number, message, f"{side} {room:g} is vertical")
        self.pitch = to

    # Lengths.

    def go_length(self, number: int, leg: Leg) -> None:
        corner = self.corners[-1]
        self.note(number, corner, leg)
        if self.vertical and (leg.slope is not None or leg.measured == "horizontal"):
            fix = "leave out the slope, or turn to a heading first"
            self.fault(number, "the route is vertical here", fix)
        if leg.slope is not None and leg.slope.rise is not None:
            level, rise = self.risen(number, leg, leg.slope.rise)
            length = math.hypot(level, rise)
            self.slope = level / length, rise / length
            more = 1.0 if leg.measured == "horizontal" else length / level
            self.go(number, (level, rise), length, (more, 0.0))
            return
        if leg.slope is not None:
            size = math.hypot(1.0, leg.slope.grade)
            self.slope = 1.0 / size, leg.slope.grade / size
        share = self.share
        if leg.measured == "horizontal":
            grade = share[1] / share[0]
            step = leg.length, leg.length * grade
            self.go(number, step, leg.length / share[0], (1.0, grade))
        else:
            step = leg.length * share[0], leg.length * share[1]
            self.go(number, step, leg.length, share, share, known=leg.measured != "along")

    def go(
        self,
        number: int,
        step: tuple[float, float],
        length: float,
        grows: tuple[float, float],
        share: tuple[float, float] | None = None,
        *,
        known: bool = True,
    ) -> None:
        """A straight in the bearing now, its steps and directions as level length and rise."""
        direction = share or (step[0] / length, step[1] / length)
        way, more = _going(self.bearing, *direction), _going(self.bearing, *grows)
        self.add(
            _Straight(number, way, _going(self.bearing, *step) if known else None, length, more)
        )

    def risen(self, number: int, leg: Leg, rise: float) -> tuple[float, float]:
        """Level length and rise of a leg that rises by so much."""
        if leg.measured == "along":
            fix = "give the slope as falling 1 in 100, 2% or 5 degrees"
            self.fault(number, "a length along the conduit with a rise from end to end", fix)
        if leg.measured == "horizontal":
            return leg.length, rise
        if abs(rise) >= leg.length:
            fix = "for a vertical leg turn up or down; or write horizontal after a level length"
            self.fault(number, "the leg rises as much as its length, or more", fix)
        return math.sqrt((leg.length - abs(rise)) * (leg.length + abs(rise))), rise

    def add(self, straight: _Straight) -> None:
        self.straights.append(straight)
        self.corners.append(_Corner(straight.leg))

    # Offsets, saddles and kicks: bends in the plane of the way ahead and of one across it.

    def shape(self, number: int, leg: Leg) -> None:
        corner = self.corner_to_turn(number, leg)
        ahead = self.ahead()
        across, rise = self.across(number, leg, ahead)
        s, c = _sin_cos(leg.angle)
        outward, inward = (
            tuple(c * a + sign * s * b for a, b in zip(ahead, across, strict=True))
            for sign in (1.0, -1.0)
        )
        travel = rise / s
        ways: list[tuple[Point, float]] = [(outward, travel)]  # type: ignore[list-item]
        crown = None
        if leg.kind == "saddle":
            if leg.across is not None:
                ways.append((ahead, leg.across))
            else:
                crown = len(self.corners)
            ways.append((inward, travel))  # type: ignore[arg-type]
        for direction, length in ways:
            step = (direction[0] * length, direction[1] * length, direction[2] * length)
            known = step if crown is None else None
            self.straights.append(_Straight(number, direction, known, length, crown=crown))
            self.corners.append(_Corner(number, turned=leg))
        if leg.kind == "kick":
            self.corners[-1].turned = None
            self.kick_on(leg, ways[0][0])
        corner.leg = number

    @property
    def share(self) -> tuple[float, float]:
        """Level length and rise of a unit of length ahead."""
        s, c = _sin_cos(self.pitch)
        return self.slope or (c, s)

    def ahead(self) -> Point:
        return _going(self.bearing, *self.share)

    def across(self, number: int, leg: Leg, ahead: Point) -> tuple[Point, float]:
        """The unit direction across the way ahead that a shape rises in, and by how much, m."""
        c, s = self.share
        sides = {
            "right": _going(self.bearing + 90.0, 1.0, 0.0),
            "up": _going(self.bearing, -s, c),
        }
        total = (0.0, 0.0, 0.0)
        for side, rise in leg.rises:
            if isinstance(side, Heading):
                if not self.vertical or side.bearing is None:
                    fix = "say left, right, up or down"
                    self.fault(number, "a heading is for an offset in a vertical run", fix)
                way, sign = _going(_turned(side.bearing + self.declination), 1.0, 0.0), 1.0
            else:
                self.refuse_vertical(number, side)
                way = sides["right" if side in ("left", "right") else "up"]
                sign = 1.0 if side in ("right", "up") else -1.0
            total = _plus(total, (sign * rise * way[0], sign * rise * way[1], sign * rise * way[2]))
        size = math.hypot(*total)
        return (total[0] / size, total[1] / size, total[2] / size), size

    def kick_on(self, leg: Leg, direction: Point) -> None:
        """After a kick the way goes on in its direction; level or straight ones stay exact."""
        side = leg.rises[0][0]
        if side in ("up", "down") and not isinstance(side, Heading):
            self.pitch = _turned(self.pitch + (leg.angle if side == "up" else -leg.angle))
        elif not self.pitch and not isinstance(side, Heading):
            to = self.bearing + (leg.angle if side == "right" else -leg.angle)
            self.bearing = _turned(to) % 360.0
        else:
            x, y, z = direction
            self.bearing = _turned(math.degrees(math.atan2(x, y))) % 360.0
            self.pitch = _turned(math.degrees(math.atan2(z, math.hypot(x, y))))

    # --- the route of it -------------------------------------------------------------------------

    def route(self, conduits: Mapping[str, Conduit]) -> LegRoute:
        """The whole walk as a LegRoute."""
        if not self.straights:
            self.fault(max(len(self.legs) - 1, 0), "the route has no length", "add one: 120 ft")
        if (last := self.corners[-1]).turned is not None:
            self.fault(last.leg, "no length after the last turn", "add the length after it")
        directions = np.array([s.direction for s in self.straights])
        turns = np.zeros(len(self.corners))
        turns[1:-1] = angle_between(directions[:-1], directions[1:])
        for i in np.flatnonzero(turns > FOLD).tolist():
            fix = "make the turn of two bends, with a length between them"
            self.fault(self.corners[i].leg, "the route turns back on itself", fix)
        radii, sources = self.bends(turns, conduits)
        points = self.points(turns, radii, conduits)
        lengths = tuple(
            (s.leg, s.grows, self.legs[s.leg].length)
            for s in self.straights
            if self.legs[s.leg].kind == "length"
        )
        corners = self.corners
        return LegRoute(
            frozen(points),
            tuple(radii),
            tuple(sources),
            tuple(c.name for c in corners),
            tuple(c.access for c in corners),
            tuple(c.conduit for c in corners),
            tuple(c.box for c in corners),
            tuple(c.sheave for c in corners),
            tuple(c.leg for c in corners),
            tuple(s.leg for s in self.straights),
            tuple(self.legs),
            self.closes_to,
            lengths,
        )

    def conduit_at(self) -> list[str]:
        """The name of the conduit from each corner on."""
        names, current = [], ""
        for corner in self.corners:
            current = corner.conduit or current
            names.append(current)
        return names

    def bends(
        self, turns: Floats, conduits: Mapping[str, Conduit]
    ) -> tuple[list[float | None], list[str]]:
        """Radius m and source of the bend at each corner, as far as legs say them."""
        names = self.conduit_at()
        radii: list[float | None] = []
        sources: list[str] = []
        for i, corner in enumerate(self.corners):
            radius, source = None, ""
            if (leg := corner.turned) is not None:
                radius = leg.radius
                if leg.fitting:
                    radius, source = self.fitting(leg, corner.leg, turns[i], names[i], conduits)
            radii.append(radius)
            sources.append(source)
        return radii, sources

    def fitting(
        self, leg: Leg, number: int, turn: float, name: str, conduits: Mapping[str, Conduit]
    ) -> tuple[float, str]:
        """Radius m and source of a fitting by name."""
        assert leg.fitting
        if name not in conduits:
            if name:
                near = get_close_matches(name, conduits, n=1)
                fix = f"did you mean {near[0]!r}?" if near else f"known: {', '.join(conduits)}"
                first = next(i for i, each in enumerate(self.legs) if each.conduit == name)
                said = f"there is no conduit {name!r}"
                self.fault(first, said, fix if conduits else "", conduit=name)
            fix = "name the conduit at the start, such as: heading north in duct"
            self.fault(number, f"{leg.fitting}: no conduit is given", fix)
        try:
            radius, source = factory_elbow(conduits[name], leg.fitting, float(turn), leg.radius)
        except NotInTable as error:
            fix = "for a field bend leave out the fitting and give the radius: at 36 in"
            self.fault(number, str(error), fix)
        # The radius of a sweep was chosen; that of a standard elbow goes with the conduit.
        return radius, source if leg.fitting == "elbow" else ""

    def points(
        self, turns: Floats, radii: Sequence[float | None], conduits: Mapping[str, Conduit]
    ) -> list[Point]:
        points, names = [self.start], self.conduit_at()
        # At a turn without a radius there is the standard elbow; at a pull point, a corner.
        radii = list(radii)
        for i, (corner, name) in enumerate(zip(self.corners, names, strict=True)):
            if radii[i] is None and name in conduits and not corner.access:
                radii[i] = conduits[name].elbow_radius
        for i, straight in enumerate(self.straights):
            step = straight.step
            if step is None:
                straight.length += self.by_bends(i, turns, radii, names)
                x, y, z = straight.direction
                step = x * straight.length, y * straight.length, z * straight.length
            points.append(_plus(points[-1], step))
            if max(map(abs, points[-1])) > FARTHEST:
                self.fault(straight.leg, "the route leaves the grid", "check the length")
        return points

    def by_bends(
        self, index: int, turns: Floats, radii: Sequence[float | None], names: Sequence[str]
    ) -> float:
        """What its bends add to a straight, m.

        To the straight conduit it is the set-back R tan(θ/2) of both. The crown of a saddle, where
        the rise is, lies R (1 / cos(θ/2) - 1) below the corner of its center bend.
        """
        straight, added = self.straights[index], 0.0
        if straight.crown is not None:
            half = math.radians(self.legs[straight.leg].angle)
            radius = self.known_radius(straight.crown, straight.leg, "the rise", radii, names)
            return radius * math.tan(half / 2) / math.cos(half)
        for k in (index, index + 1):
            at_corner = radii[k] is None and self.corners[k].access
            if turns[k] > STRAIGHT_TURN and not at_corner:
                what = "a length along the conduit"
                radius = self.known_radius(k, straight.leg, what, radii, names)
                added += radius * math.tan(float(turns[k]) / 2)
        return added

    def known_radius(
        self,
        index: int,
        number: int,
        what: str,
        radii: Sequence[float | None],
        names: Sequence[str],
    ) -> float:
        if (radius := radii[index]) is None:
            leg = self.corners[index].leg
            where = "radius" if leg == number else f"radius at leg {leg + 1}"
            give = "give it" if leg == number else "give it there"
            like = "at 36 in" if self.legs[leg].kind == "turn" else "radius 36 in"
            self.fault(number, f"{what} needs the {where}", f"{give}: {like}", names[index])
        return radius


# --- what was understood -------------------------------------------------------------------------


def leg_rows(route: Route) -> tuple[LegRow, ...]:
    """The straights of a route in the words of legs: heading, slope, length, bend, total bend.

    Parameters
    ----------
    route : Route
        The route.

    Returns
    -------
    tuple of LegRow
        One for each leg.
    """
    stops = [v.is_pull_point for v in route.vertices]
    points = np.array([v.point for v in route.vertices])
    return _rows(points, [v.bend or None for v in route.vertices], stops)


def _rows(
    points: Floats, radii: Sequence[float | None], stops: Sequence[bool]
) -> tuple[LegRow, ...]:
    legs = np.diff(points, axis=0)
    lengths = norm(legs)
    directions = unit(np.where(lengths[:, None] > 0, legs, 1.0))
    turns = np.degrees(angle_between(directions[:-1], directions[1:]))
    rows: list[LegRow] = []
    total = 0.0
    for i, (dx, dy, dz) in enumerate(legs.tolist()):
        turn = float(turns[i - 1]) if i else 0.0
        total = 0.0 if stops[i] else total + turn
        level = math.hypot(dx, dy)
        bearing = math.degrees(math.atan2(dx, dy)) % 360.0 if level > _LEAST else None
        start, end = tuple(points[i].tolist()), tuple(points[i + 1].tolist())
        pitch = math.degrees(math.atan2(dz, level))
        rows.append(LegRow(i, start, end, bearing, pitch, float(lengths[i]), turn, radii[i], total))
    return tuple(rows)


def _closing(route: LegRoute, known: Point) -> Closing:
    """The least change of the lengths, by squares: D d = e with the smallest sum of d²."""
    error = np.array(known) - route.points[-1]
    ways = np.array([grows for _, grows, _ in route.lengths]).reshape(-1, 3).T
    changes = np.linalg.pinv(ways, rcond=1e-9) @ error
    left = float(np.linalg.norm(error - ways @ changes))
    told = zip(route.lengths, changes.tolist(), strict=True)
    x, y, z = error.tolist()
    return Closing(
        (x, y, z),
        float(np.linalg.norm(error)),
        tuple((number, length, change) for (number, _, length), change in told),
        left,
    )


# --- points to legs ------------------------------------------------------------------------------

# Lengths in the file's unit and the decimals that hold them to less than 2e-10 m.
_UNITS = {"US": ("ft", "in", "in", 9), "SI": ("m", "m", "mm", 10)}
# Less level length than this is none, m: far from the origin floats hold it to a tenth at best.
_LEAST = 4e-10
# Sideways an end may be off by half of this, m: angles have the digits that hold it to that.
_SIDEWAYS = 4.6e-8 * math.radians(1.0)
# A slope is written by its length where few digits hit the point this closely, m: a bit more than
# half a step of the decimals above, so that what was written so is written so again.
_HITS = 2e-10
_FEW, _FEWER = 4, 3
# A value to a millionth of its unit stands for one with more digits this close to it, m. Rounding
# once, from the digits above, it comes out the same when it is read and written anew.
_ROUND, _NEAR = 6, 3.1e-10


def legs_of(
    route: Route, system: str, *, declination: float = 0.0, closes_to: Point | None = None
) -> tuple[str, ...]:
    """The legs that give a route, to 1e-9 m; read again and written anew they are the same.

    Parameters
    ----------
    route : Route
        Any route; a bend whose radius was not given is written without one.
    system : {"US", "SI"}
        Units to write: ft and in, or m.
    declination : float
        What readers add to every heading, degrees, east positive.
    closes_to : tuple of float, optional
        The known end, m, to be said with the last leg.

    Returns
    -------
    tuple of str
        One text for each leg, the start first.
    """
    return tuple(_Writer(route, system, declination).lines(closes_to))


def pull_point_leg(vertex: Vertex) -> str:
    """The leg of a pull point without a box or a sheave.

    Parameters
    ----------
    vertex : Vertex
        With its name and access.

    Returns
    -------
    str
        Such as ``pull point V2 for reel and machine``.
    """
    name = f" {quoted(vertex.name)}" if vertex.name else ""
    return f"pull point{name}{_access(vertex)}"


@dataclass
class _Going:
    """How the next leg is to be written: the way to turn to, and the text of its length."""

    bearing: float
    pitch: float
    text: str
    step: Point
    sloped: bool = False


@dataclass
class _Writer:
    """Walks a route by what the reader makes of the texts written so far."""

    route: Route
    system: str
    declination: float
    bearing: float = 0.0
    pitch: float = 0.0
    at: Point = (0.0, 0.0, 0.0)

    def lines(self, closes_to: Point | None) -> Iterator[str]:
        vertices, conduits = self.route.vertices, self.route.conduits
        first = vertices[0]
        spot = [self.rounded(c) for c in first.point]
        self.at = tuple(self.back(t) for t in spot)  # type: ignore[assignment]
        going = self.going(vertices[1].point, fresh=True)
        name = f" {quoted(first.name)}" if first.name else ""
        unit = _UNITS[self.system][0]
        yield (
            f"start{name} at {', '.join(spot)} {unit} heading {self.heading(going)}"
            f" in {key_of(conduits[0].name)}{_access(first)}{self.box(first)}"
        )
        yield self.move(going, "")
        for i in range(1, len(vertices) - 1):
            # After a bend a slope is said anew; straight on it would hold.
            was = None if vertices[i].bend else going
            going = self.going(vertices[i + 1].point, after=was)
            yield from self.corner(vertices[i], going)
            changed = conduits[i].name != conduits[i - 1].name
            yield self.move(going, f" in {key_of(conduits[i].name)}" if changed else "")
        last = vertices[-1]
        name = f" {quoted(last.name)}" if last.name else ""
        known = ", ".join(map(self.rounded, closes_to)) if closes_to is not None else ""
        at = f" at {known} {_UNITS[self.system][0]}" if known else ""
        yield f"end{name}{at}{_access(last)}{self.box(last)}"

    def move(self, going: _Going, onward: str) -> str:
        self.bearing, self.pitch, self.at = going.bearing, going.pitch, _plus(self.at, going.step)
        return going.text + onward

    # Numbers.

    def number(self, value: float, kind: str = "length", decimals: int | None = None) -> str:
        """A number in the unit written, without its unit."""
        unit = _UNITS[self.system][("length", "radius", "diameter").index(kind)]
        places = _UNITS[self.system][3] if decimals is None else decimals
        return _plain(value / parse(f"1 {unit}", kind, self.system), places)

    def rounded(self, value: float) -> str:
        """A length in the unit written: a round one where that is as good."""
        text = self.number(value)
        short = _plain(float(text), _ROUND)
        return short if abs(self.back(short) - self.back(text)) <= _NEAR else text

    def back(self, text: str) -> float:
        """The length that the reader makes of it, m."""
        return parse(f"{text} {_UNITS[self.system][0]}", "length", self.system)

    def said(self, text: str) -> str:
        return f"{text} {_UNITS[self.system][0]}"

    # Where next.

    def going(self, to: Point, *, fresh: bool = False, after: _Going | None = None) -> _Going:
        """The leg from where the walk is to a point."""
        dx, dy, dz = (b - a for a, b in zip(self.at, to, strict=True))
        level = self.rounded(math.hypot(dx, dy))
        rise = self.rounded(abs(dz))
        if self.back(level) <= _LEAST:
            up = _VERTICAL if dz > 0 else -_VERTICAL
            step = _going(self.bearing, *self.along(up, self.back(rise)))
            return _Going(self.bearing, up, self.said(rise), step)
        bearing = self.toward(dx, dy, self.back(level), fresh)
        same = after is not None and self.bearing == bearing and self.pitch == 0.0
        if float(rise) == 0.0:
            text = self.said(level) + (", level" if same and after and after.sloped else "")
            return _Going(bearing, 0.0, text, _going(bearing, self.back(level), 0.0))
        word = "up" if dz > 0 else "down"
        sloped = self.sloped(bearing, level, rise, word)
        if sloped.sloped or after is None:
            return sloped
        # Straight on after a slope that was said, its own climb would not be said anew.
        straight_on = after.sloped and bearing == self.bearing and sloped.pitch == self.pitch
        return self.horizontal(bearing, level, rise, word) if straight_on else sloped

    def toward(self, dx: float, dy: float, level: float, fresh: bool) -> float:
        """The bearing of a step, as turned to from the one before or said by itself."""
        exact = math.degrees(math.atan2(dx, dy))
        most = math.ceil(math.log10(level * math.radians(1.0) / _SIDEWAYS))
        places = min(max(most, -1), ANGLE_DECIMALS)
        if fresh or abs(self.pitch) == _VERTICAL:
            said = round((exact - self.declination) % 360.0, places)
            return _turned(_round(said, level) % 360.0 + self.declination) % 360.0
        turn = round((exact - self.bearing + 180.0) % 360.0 - 180.0, places)
        return _turned(self.bearing + _round(turn, level)) % 360.0

    def sloped(self, bearing: float, level: str, rise: str, word: str) -> _Going:
        """By its length and its climb, or its rise, where these have few digits; else by plan.

        All from the texts of level length and rise, so that what is read again is judged alike.
        """
        whole = self.horizontal(bearing, level, rise, word)
        flat, up = self.back(level), whole.step[2]
        short = self.number(math.hypot(flat, up), decimals=_FEW)
        along = self.back(short)
        pitch = round(math.degrees(math.atan2(up, flat)), _FEWER)
        other, high = self.along(pitch, along)
        if along and abs(other - flat) <= _HITS and abs(high - up) <= _HITS:
            return _Going(bearing, pitch, self.said(short), _going(bearing, other, high))
        if _decimals(rise) <= _FEWER and abs(up) < along:
            other = math.sqrt((along - abs(up)) * (along + abs(up)))
            if abs(other - flat) <= _HITS:
                text = f"{self.said(short)}, {word} {self.said(rise)}"
                return _Going(bearing, 0.0, text, _going(bearing, other, up), True)
        return whole

    def horizontal(self, bearing: float, level: str, rise: str, word: str) -> _Going:
        text = f"{self.said(level)} horizontal, {word} {self.said(rise)}"
        up = self.back(rise) if word == "up" else -self.back(rise)
        return _Going(bearing, 0.0, text, _going(bearing, self.back(level), up), True)

    @staticmethod
    def along(pitch: float, length: float) -> tuple[float, float]:
        s, c = _sin_cos(pitch)
        return length * c, length * s

    # Texts.

    def heading(self, going: _Going) -> str:
        if abs(going.pitch) == _VERTICAL:
            return "up" if going.pitch > 0 else "down"
        bearing = _turned(going.bearing - self.declination) % 360.0
        words = {0.0: "north", 90.0: "east", 180.0: "south", 270.0: "west"}
        said = words.get(bearing) or f"{_plain(bearing, ANGLE_DECIMALS)} degrees"
        return said + self.rising(going)

    def rising(self, going: _Going) -> str:
        if not going.pitch:
            return ""
        word = "rising" if going.pitch > 0 else "falling"
        return f" {word} {_plain(abs(going.pitch), ANGLE_DECIMALS)} degrees"

    def turn(self, going: _Going) -> str:
        """From the way the walk goes now to the next; empty where it is the same."""
        if abs(self.pitch) == _VERTICAL:
            same = going.pitch == self.pitch
            return "" if same else f"turn to heading {self.heading(going)}"
        parts = []
        around = _turned(180.0 - (self.bearing - going.bearing + 180.0) % 360.0)
        if around:
            side = "right" if around > 0 else "left"
            parts.append(f"{side} {_plain(abs(around), ANGLE_DECIMALS)}")
        climb = _turned(going.pitch - self.pitch)
        if climb:
            side = "up" if climb > 0 else "down"
            parts.append(f"{side} {_plain(abs(climb), ANGLE_DECIMALS)}")
        return " and ".join(parts)

    def corner(self, vertex: Vertex, going: _Going) -> Iterator[str]:
        """The point, its turn, and what there is beside it."""
        turn = self.turn(going)
        if vertex.bend:
            given = vertex.bend_source == "given"
            unit = _UNITS[self.system][1]
            at = f" at {self.number(vertex.bend, 'radius')} {unit}" if given else ""
            turn = f"{turn or 'bend'}{at}"
        beside = f"{_access(vertex) if vertex.access else ''}{self.box(vertex)}"
        if vertex.sheave is not None:
            beside += f", around sheave {key_of(vertex.sheave.name)}"
        name = quoted(vertex.name) if vertex.name else ""
        if not vertex.is_pull_point and turn:
            named = f", name {name}" if name else ""
            yield turn + named + (f",{beside}" if beside.startswith(" for") else beside)
            return
        if name or beside:
            kind = "pull point" if vertex.is_pull_point else "point"
            yield f"{kind}{' ' if name else ''}{name}{beside}"
        if turn:
            yield turn

    def box(self, vertex: Vertex) -> str:
        if vertex.box is None:
            return ""
        sides = " x ".join(self.number(side, "diameter") for side in vertex.box)
        return f", box {sides} {_UNITS[self.system][2]}"


def _plain(value: float, decimals: int) -> str:
    """A number in the fewest digits up to so many decimals."""
    text = f"{value:.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def _round(degrees: float, level: float) -> float:
    """The angle, or a round one where that is as good at the end of so much level length, m."""
    short = round(degrees, _ROUND)
    return short if math.radians(abs(short - degrees)) * level <= _NEAR else degrees


def _decimals(text: str) -> int:
    return len(text.partition(".")[2])


def _access(vertex: Vertex) -> str:
    said = [what for what in ("reel", "machine") if what in vertex.access]
    return f" for {' and '.join(said)}" if said else ", no access"
