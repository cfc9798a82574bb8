"""The course of a run as it is drawn, and what is flagged along it in the order of the route."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from route3d.geometry.bend_schedule import ScheduledBend, bend_labels, bend_schedule
from route3d.geometry.path import ARC, CORNER, Path
from route3d.geometry.vectors import Floats
from route3d.model.route import Route
from route3d.model.run import Run
from route3d.units import show

# Steeper than this a straight is a riser: in plan it is hardly more than a point.
RISER = math.radians(75)
_PLUMB = 1e-3  # m in plan: no longer a leg is a point there


@dataclass(frozen=True, slots=True)
class Event:
    """One place of the run; m and rad.

    ``mark`` is B and the number of a bend, P and that of a point; ``station`` where it starts and
    ``end`` where it ends; ``elevation`` that of the vertex, for a bend where its tangents meet;
    ``straight`` the straight length up to it; ``lies`` the plane of a bend; ``words`` its name, box
    and the conduit that starts here, empty where there is nothing to say.
    """

    mark: str
    station: float
    end: float
    elevation: float
    straight: float
    angle: float = 0.0
    radius: float = 0.0
    lies: str = ""
    name: str = ""
    box: str = ""
    conduit: str = ""
    access: bool = False

    @property
    def is_bend(self) -> bool:
        """True for a bend, False for a point."""
        return self.radius > 0

    @property
    def words(self) -> str:
        """Name, box and conduit, as far as there are any."""
        conduit = f"{self.conduit} starts here" if self.conduit else ""
        return ", ".join(filter(None, (self.name, self.box, conduit)))


def events(run: Run, path: Path, system: str) -> tuple[Event, ...]:
    """Everything that is flagged along a run."""
    found: list[Event] = []
    last = 0.0
    for event in _events(run.route, path, system):
        found.append(replace(event, straight=max(event.station - last, 0.0)))
        last = event.end
    return tuple(found)


def _events(route: Route, path: Path, system: str) -> Iterator[Event]:
    scheduled = bend_schedule(path)
    names = bend_labels(len(scheduled))
    bends = {bend.vertex: (mark, bend) for mark, bend in zip(names, scheduled, strict=True)}
    corners = {int(path.vertex[i]): i for i in np.flatnonzero(path.kind == CORNER)}
    stations = path.vertex_stations(len(route.vertices)).tolist()
    points, last = 0, len(route.vertices) - 1
    for i, vertex in enumerate(route.vertices):
        conduit = _new_conduit(route, i)
        if i in bends:
            yield _bend(*bends[i], vertex.point[2], vertex.name, conduit)
            continue
        if not (i in (0, last) or vertex.name or vertex.is_pull_point or conduit):
            continue
        corner = corners.get(i)
        at = stations[i]
        angle = float(path.angles[corner]) if corner is not None else 0.0
        box = "" if vertex.box is None else _box(vertex.box, system)
        name, access = vertex.name, bool(vertex.access)
        mark = f"P{points + 1}"
        yield Event(mark, at, at, vertex.point[2], 0, angle, 0, "", name, box, conduit, access)
        points += 1


def _bend(mark: str, bend: ScheduledBend, elevation: float, name: str, conduit: str) -> Event:
    return Event(
        mark=mark,
        station=bend.station,
        end=bend.station + bend.arc_length,
        elevation=elevation,
        straight=0.0,
        angle=bend.angle,
        radius=bend.radius,
        lies="horiz." if bend.plane == "horizontal" else bend.plane,
        name=name,
        conduit=conduit,
    )


def _new_conduit(route: Route, i: int) -> str:
    """The conduit that starts at a vertex, empty where the one before goes on."""
    if i >= len(route.conduits) or (i and route.conduits[i].label == route.conduits[i - 1].label):
        return ""
    return route.conduits[i].label


def _box(box: tuple[float, float, float], system: str) -> str:
    *sides, last = (show(side, "length", system) for side in box)
    return "box " + " × ".join([*(side.split()[0] for side in sides), last])


def letters(number: int) -> str:
    """A, B, ... Z, AA, AB, ... for 0, 1, ..."""
    text = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        text = chr(65 + rest) + text
    return text


@dataclass(frozen=True, slots=True)
class GradeStretch:
    """A straight between bends and corners: stations and its rise, m; ``level`` its plan length."""

    start: float
    end: float
    rise: float
    level: float

    @property
    def length(self) -> float:
        """Length along the conduit, m."""
        return self.end - self.start

    @property
    def is_riser(self) -> bool:
        """True where it is drawn as a riser."""
        return abs(self.rise) > math.sin(RISER) * self.length

    @property
    def way(self) -> str:
        """Up or down along the route."""
        return "up" if self.rise > 0 else "down"

    @property
    def grade(self) -> str:
        """Rise over level length in percent, in degrees where steep."""
        if self.level < 1e-4 * self.length:
            return "plumb"
        share = 100 * self.rise / self.level
        if abs(share) >= 100:
            return f"{math.degrees(math.atan2(self.rise, self.level)):+.1f}°"
        return f"{share:+.2f}%" if abs(share) >= 0.005 else "level"


def _straights(path: Path, marks: tuple[Event, ...]) -> tuple[GradeStretch, ...]:
    """The straights between what is flagged, each as one piece."""
    found = []
    for before, after in pairwise(marks):
        if after.station - before.end > 1e-6:
            step = path.point(after.station) - path.point(before.end)
            level = float(np.hypot(step[0], step[1]))
            found.append(GradeStretch(before.end, after.station, float(step[2]), level))
    return tuple(found)


def bend_middles(path: Path) -> dict[str, float]:
    """The station of the middle of each bend by its mark."""
    arcs = np.flatnonzero(path.kind == ARC).tolist()
    middles = ((path.stations[i] + path.stations[i + 1]) / 2 for i in arcs)
    return dict(zip(bend_labels(len(arcs)), map(float, middles), strict=True))


@dataclass(frozen=True, slots=True, eq=False)
class Leg:
    """From one point where tangents meet, ``a`` (3,) m, to the next, ``b``.

    ``start`` and ``end`` m are its stations, at a bend those of the middle of its arc.
    """

    a: Floats
    b: Floats
    start: float
    end: float

    @property
    def level(self) -> float:
        """Length in plan, m."""
        return float(np.hypot(*(self.b - self.a)[:2]))

    @property
    def rise(self) -> float:
        """Of b over a, m."""
        return float(self.b[2] - self.a[2])

    @property
    def heading(self) -> float:
        """In plan, clockwise from the y axis, 0 to 2π rad."""
        way = self.b - self.a
        return math.atan2(float(way[0]), float(way[1])) % (2 * math.pi)

    @property
    def in_plan(self) -> bool:
        """Whether the plan has its dimension: all but plumb ones."""
        return self.level > _PLUMB

    @property
    def in_profile(self) -> bool:
        """Whether the profile has the dimension of its rise: of risers."""
        return abs(self.rise) > math.sin(RISER) * math.hypot(self.level, self.rise)

    def within(self, path: Path, start: float, end: float) -> tuple[Floats, bool]:
        """Its ends (2, 3) m between two stations, and whether that is all of it."""
        way = (self.b - self.a) / max(float(np.linalg.norm(self.b - self.a)), 1e-12)
        ends = []
        for at, point in ((self.start, self.a), (self.end, self.b)):
            inside = min(max(at, start), end)
            if inside != at:
                point = self.a + way * float(way @ (path.point(inside) - self.a))
            ends.append(point)
        return np.array(ends), start <= self.start + 1e-9 and self.end <= end + 1e-9


def legs_of(run: Run, path: Path) -> tuple[Leg, ...]:
    """The legs of a run."""
    stations = path.vertex_stations(len(run.route.vertices)).tolist()
    for row in np.flatnonzero(path.kind == ARC).tolist():
        middle = float(path.stations[row] + path.stations[row + 1]) / 2
        stations[int(path.vertex[row])] = middle
    points = [np.array(v.point) for v in run.route.vertices]
    return tuple(
        Leg(a, b, start, end)
        for (a, b), (start, end) in zip(pairwise(points), pairwise(stations), strict=True)
    )


@dataclass(frozen=True, slots=True, eq=False)
class DrawnRun:
    """The run as it is drawn: its path, places every few tenths along it, and what is flagged.

    ``level`` m is how far the run has gone in plan at each of the ``stations``, ``ground`` m the
    elevation of the ground there, NaN where none is drawn.
    """

    run: Run
    path: Path
    marks: tuple[Event, ...]
    straights: tuple[GradeStretch, ...]
    legs: tuple[Leg, ...]
    stations: Floats
    points: Floats
    level: Floats
    ground: Floats

    def between(self, start: float, end: float) -> Floats:
        """Stations from ``start`` to ``end``, both included."""
        inner = self.stations[(self.stations > start) & (self.stations < end)]
        return np.concatenate(([start], inner, [end]))


def course_of(
    run: Run,
    path: Path,
    system: str,
    spacing: float,
    sagitta: float,
    ground: Callable[[Floats], Floats],
) -> DrawnRun:
    """The course of a run, sampled every ``spacing`` m; chords stay within ``sagitta`` m.

    ``ground`` gives the elevation of the ground at stations (k,) m.
    """
    along = np.arange(0.0, path.length, spacing)
    stations = np.unique(np.concatenate((along, path.sample(sagitta), [path.length])))
    marks, points = events(run, path, system), path.point(stations)
    steps = np.hypot(*np.diff(points[:, :2], axis=0).T)
    level = np.concatenate(([0.0], np.cumsum(steps)))
    straights = _straights(path, marks)
    legs = legs_of(run, path)
    return DrawnRun(run, path, marks, straights, legs, stations, points, level, ground(stations))
