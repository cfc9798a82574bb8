"""The plan of a sheet: centerline, bends, points, risers, round stations, level dimensions."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from route3d.drawing.axes import multiples
from route3d.drawing.labels import LabelRoom
from route3d.drawing.marks import BLACK, Line, Mark, Rect, Ring, inset
from route3d.drawing.plan_profile.course import Event, GradeStretch, bend_middles
from route3d.drawing.plan_profile.flags import SHEET, DrawnView, Flag, take_line
from route3d.drawing.plan_profile.layout import PlanView
from route3d.drawing.plan_profile.linework import (
    MEDIUM,
    SMALL,
    THICK,
    interrupted,
    letters,
    ruled,
    stroke,
)
from route3d.drawing.plan_profile.setup import Setup, SheetSpan, on_sheet
from route3d.geometry.vectors import Floats
from route3d.units import convert, show

MATCH_DASH = "6 1.2 1 1.2"
GHOST_DASH = "1.6 1.2"
GROUND_DASH = "3 1"
NORTH = 9.0  # half the room of the north arrow
_SHORTEST_DIMENSION = 24.0  # of what is dimensioned in plan, mm
_OFFSET = (9.0, -9.0, 12.0, -12.0, 16.0, -16.0, 20.0, -20.0)
_TICK = 1.5  # half a station tick
_SHORT = 26.0  # longest line of a label cut short, mm
STEEP = 0.5  # level part of the tangent below which stations are left to the profile


@dataclass(slots=True, kw_only=True)
class _PlanView(DrawnView):
    """A plan being drawn."""

    view: PlanView

    def flag(self, flag: Flag, *, optional: bool = False) -> None:
        """Place a flag, in short where there is no room for all of it."""
        said = " ".join((flag.bubble, *flag.lines)).strip()
        self.add(flag, None if optional else said, _SHORT)

    def ring(self, x: float, y: float, radius: float, layer: str) -> None:
        """A sign that labels keep off."""
        self.marks.append(Ring((x, y), radius, BLACK, MEDIUM, layer=layer))
        half = 0.75 * radius  # leaders end outside
        self.room.take_sign((x - half, y - half, x + half, y + half))

    def at(self, station: float) -> Floats:
        """Position of a station, (2,) mm."""
        points = self.setup.course.path.point(np.array([station]))
        spot: Floats = self.view(points)[0]
        return spot

    def along(self, station: float) -> tuple[Floats, float]:
        """The way the route runs on paper at a station, (2,), and its level part (0 to 1)."""
        t = self.setup.course.path.tangent(min(max(station, 0.0), self.setup.course.path.length))
        level = math.hypot(t[0], t[1])
        step = self.view(np.array([t[:2], [0.0, 0.0]]))
        way = step[0] - step[1]
        return way / max(float(np.hypot(*way)), 1e-12), level


def plan_marks(setup: Setup, number: int, view: PlanView) -> tuple[list[Mark], list[str]]:
    """The marks of the plan, and which labels found no free place."""
    room = LabelRoom(inset(setup.layout.plan, 1.0), SHEET)
    plan = _PlanView(setup=setup, number=number, room=room, view=view)
    right, top = setup.layout.plan[2], setup.layout.plan[1]
    plan.room.take((right - 2 * NORTH, top, right, top + 2 * NORTH))  # the north arrow
    _line(plan)
    flagged = on_sheet(setup, number)
    _signs(plan, flagged)
    risers = _risers(plan)
    _match_lines(plan, number)
    _points(plan, flagged)
    _dimensions(plan)
    _bends(plan, flagged)
    _riser_labels(plan, risers)
    _stations(plan)
    return plan.marks, plan.left_out


def _line(plan: _PlanView) -> None:
    """The centerline of the stretch, thick; what goes on beyond it, thin and dashed."""
    course, stretch = plan.setup.course, plan.stretch
    points = plan.view(course.path.point(course.between(stretch.start, stretch.end)))
    for start, end in ((0.0, stretch.start), (stretch.end, course.path.length)):
        if end > start:
            beyond = _clipped(plan.view(course.path.point(course.between(start, end))), plan)
            take_line(plan.room, beyond)
            plan.marks.append(ruled(beyond, MEDIUM, GHOST_DASH, "CENTERLINE"))
    plan.marks.append(ruled(points, THICK, "", "CENTERLINE"))
    take_line(plan.room, points)


def _clipped(points: Floats, plan: _PlanView) -> Floats:
    """Points of a line, NaN where they are outside the plan."""
    left, top, right, bottom = inset(plan.setup.layout.plan, 0.5)
    inside = (points[:, 0] > left) & (points[:, 0] < right)
    inside &= (points[:, 1] > top) & (points[:, 1] < bottom)
    return np.where(inside[:, None], points, np.nan)


def _signs(plan: _PlanView, flagged: tuple[Event, ...]) -> None:
    """Ends and pull points as squares, plain points as crosses, bend ends as ticks."""
    for event in flagged:
        if event.is_bend:
            for station in (event.station, event.end):
                if station <= plan.stretch.end + 1e-9:
                    _tick(plan, station, 1.1, "BENDS")
            continue
        x, y = plan.at(event.station)
        half = 1.6 if event.access else 0.9
        box = (x - half, y - half, x + half, y + half)
        corners = ((-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1))
        outline = [(x + half * a, y + half * b) for a, b in corners]
        plan.marks.append(stroke(*outline, width=MEDIUM, layer="PULL-POINTS"))
        if event.access:
            cross = ((x - half, y - half), (x + half, y + half))
            plan.marks.append(stroke(*cross, width=MEDIUM, layer="PULL-POINTS"))
        plan.room.take_sign(box)


def _tick(plan: _PlanView, station: float, half: float, layer: str) -> None:
    """A short line across the route."""
    way, level = plan.along(station)
    if level < STEEP:
        return
    spot, across = plan.at(station), np.array([-way[1], way[0]])
    ends = np.array([spot - half * across, spot + half * across])
    plan.marks.append(ruled(ends, 0.25, "", layer))


def _match_lines(plan: _PlanView, number: int) -> None:
    """Where the sheets join: a line across the route that names the sheet beyond."""
    last = len(plan.setup.stretches)
    for station, other in ((plan.stretch.start, number - 1), (plan.stretch.end, number + 1)):
        if not 1 <= other <= last:
            continue
        spot, (way, level) = plan.at(station), plan.along(station)
        lines = ("MATCH LINE", f"sta {_station(plan, station)}", f"see sheet {other}")
        if level < STEEP:  # cut in a riser: a point in plan
            x, y = float(spot[0]), float(spot[1])
            plan.ring(x, y, 2.4, "MATCH-LINES")
            plan.flag(Flag(x, y, lines, layer="MATCH-LINES", near=2.5))
            continue
        across = np.array([-way[1], way[0]])
        ends = np.array([spot - 9 * across, spot + 9 * across])
        plan.marks.append(ruled(ends, MEDIUM, MATCH_DASH, "MATCH-LINES"))
        take_line(plan.room, ends)
        x, y = ends[0]
        plan.flag(Flag(x, y, lines, layer="MATCH-LINES", leader=False))


def _station(plan: _PlanView, station: float) -> str:
    return show(station, "length", plan.setup.system)


def _points(plan: _PlanView, flagged: tuple[Event, ...]) -> None:
    for event in flagged:
        if event.is_bend:
            continue
        x, y = plan.at(event.station)
        lines = [event.name or ("pull point" if event.access else "point")]
        lines += [event.box] if event.box else []
        lines.append(f"sta {_station(plan, event.station)}")
        if event.angle > 1e-4:
            lines.append(f"{show(event.angle, 'angle', plan.setup.system)} turn")
        sign = 2.9 if event.access else 1.9  # half the diagonal of its square
        away, either = _away(plan, event)
        words = tuple(lines)
        label = Flag(x, y, words, event.mark, True, "PULL-POINTS", near=sign)
        plan.flag(replace(label, prefer=away, either=either))


def _away(plan: _PlanView, event: Event) -> tuple[float | None, bool]:
    """The angle at which the label of a point stands best: beyond an end, else beside the route."""
    way, level = plan.along(event.station)
    if level < STEEP:
        return None, False
    ahead = math.atan2(-way[1], way[0])  # paper y runs down
    if event.station <= 0:
        return ahead + math.pi, False
    if event.station >= plan.setup.course.path.length:
        return ahead, False
    return ahead + math.pi / 2, True


def _bends(plan: _PlanView, flagged: tuple[Event, ...]) -> None:
    """Each bend with number, radius and angle; only its number where there is no room for more."""
    middles, system = bend_middles(plan.setup.course.path), plan.setup.system
    for event in flagged:
        if not event.is_bend:
            continue
        x, y = plan.at(min(middles[event.mark], plan.stretch.end))
        angle = show(event.angle, "angle", system)
        lies = "" if event.lies == "horiz." else f", {event.lies}"
        lines = (f"R {show(event.radius, 'radius', system)}", f"{angle}{lies}")
        outward = _outward(plan, middles[event.mark])
        label = Flag(x, y, lines, event.mark, layer="BENDS", near=0.6, prefer=outward)
        plan.flag(label)


def _outward(plan: _PlanView, station: float) -> float | None:
    """The angle away from a bend's center on paper, counterclockwise; None for a vertical bend."""
    normal = plan.setup.course.path.normal(station)
    if math.hypot(normal[0], normal[1]) < STEEP:
        return None
    ends = plan.view(np.array([-normal[:2], [0.0, 0.0]]))
    return math.atan2(ends[1, 1] - ends[0, 1], ends[0, 0] - ends[1, 0])


def _risers(plan: _PlanView) -> list[tuple[GradeStretch, float, float]]:
    """Steep straights, in plan hardly more than a point, as a ring; each with its place."""
    found = []
    for straight, start, end in plan.straights():
        if straight.is_riser:
            x, y = plan.at((start + end) / 2).tolist()
            plan.ring(x, y, 1.5, "CENTERLINE")
            found.append((straight, x, y))
    return found


def _riser_labels(plan: _PlanView, risers: list[tuple[GradeStretch, float, float]]) -> None:
    for straight, x, y in risers:
        length = show(straight.length, "length", plan.setup.system)
        lines = (f"riser {straight.way}", f"{length} straight")
        plan.flag(Flag(x, y, lines, layer="DIMENSIONS", near=2.9))


def _dimensions(plan: _PlanView) -> None:
    """Level lengths between the points where tangents meet, beside the route."""
    points = [v.point for v in plan.setup.course.run.route.vertices]
    for (a, b), owner in level_dimensions(plan.setup, plan.stretch):
        ends = plan.view(np.array([points[a], points[b]]))
        if float(np.hypot(*(ends[1] - ends[0]))) < _SHORTEST_DIMENSION:
            continue
        ways = [(offset, inner) for inner in (False, True) for offset in _OFFSET]
        if not any(_dimension(plan, ends, *way, owner) for way in ways):
            plan.left_out.append(f"horizontal length {show(owner, 'length', plan.setup.system)}")


def level_dimensions(setup: Setup, stretch: SheetSpan) -> list[tuple[tuple[int, int], float]]:
    """Pairs of vertices to dimension in plan whose leg lies all on the sheet; its length, m."""
    vertices = setup.course.run.route.vertices
    path = setup.course.path
    found = []
    for i in range(len(vertices) - 1):
        rows = np.flatnonzero(path.leg == i)
        if not rows.size:
            continue
        first, last = float(path.stations[rows[0]]), float(path.stations[rows[-1] + 1])
        if first < stretch.start - 1e-9 or last > stretch.end + 1e-9:
            continue
        a, b = vertices[i].point, vertices[i + 1].point
        found.append(((i, i + 1), math.hypot(b[0] - a[0], b[1] - a[1])))
    return found


def _dimension(plan: _PlanView, ends: Floats, offset: float, inner: bool, length: float) -> bool:
    """Draw a dimension at an offset from its leg; False where something is in its way.

    An ``inner`` one may end on the leg of a corner it lies inside of.
    """
    way = (ends[1] - ends[0]) / np.hypot(*(ends[1] - ends[0]))
    across = np.array([way[1], -way[0]])
    line = ends + offset * across
    words = show(length, "length", plan.setup.system)
    middle = line.mean(axis=0)
    text = letters(
        float(middle[0]), float(middle[1]) + SMALL / 2, words, align="middle", layer="DIMENSIONS"
    )
    box = text.box
    outer = np.array([[line[:, 0].min(), line[:, 1].min(), line[:, 0].max(), line[:, 1].max()]])
    bounds = plan.room.frame
    if outer[0, 0] < bounds[0] or outer[0, 1] < bounds[1]:
        return False
    if outer[0, 2] > bounds[2] or outer[0, 3] > bounds[3]:
        return False
    if not plan.room.free(inset(box, -0.7)) or plan.room.crossed(line):
        return False
    if plan.room.beside(line + np.outer((4.0, -4.0), way) if inner else line, 3.0):
        return False
    legs = [np.array([ends[k] + math.copysign(3.0, offset) * across,
                      line[k] + math.copysign(1.2, offset) * across]) for k in (0, 1)]  # fmt: skip
    if any(plan.room.crossed(leg) for leg in legs):
        return False
    plan.marks += [ruled(leg, layer="DIMENSIONS") for leg in legs]
    plan.marks += interrupted(ruled(line, layer="DIMENSIONS"), [inset(box, -0.6)])
    plan.marks += [_slash(spot, way) for spot in line]
    plan.marks.append(text)
    for part in (line, *legs):
        take_line(plan.room, part)
    plan.room.take(inset(box, -0.3))
    return True


def _slash(spot: Floats, way: Floats) -> Line:
    """The oblique stroke at the end of a dimension line."""
    turned = np.array([way[0] - way[1], way[0] + way[1]]) / math.sqrt(2)
    return ruled(np.array([spot - 1.2 * turned, spot + 1.2 * turned]), MEDIUM, "", "DIMENSIONS")


def _stations(plan: _PlanView) -> None:
    """A tick at every round station, and its number where there is room."""
    stretch, system = plan.stretch, plan.setup.system
    points = [e.station for e in plan.setup.course.marks if not e.is_bend]
    points += [s.end for s in plan.setup.stretches]
    for station in multiples(plan.setup.interval, stretch.start, stretch.end):
        station = min(max(station, stretch.start), stretch.end)
        if plan.along(station)[1] < STEEP:
            continue
        _tick(plan, station, _TICK, "STATIONS")
        if any(abs(station - at) * plan.view.mm < 2.0 for at in points):
            continue  # the label of the point tells it
        way, _ = plan.along(station)
        across = math.atan2(-way[0], -way[1])  # paper y runs down
        x, y = plan.at(station)
        label = Flag(
            float(x),
            float(y),
            (station_words(station, system),),
            layer="STATIONS",
            first=0.8,
            reach=4.0,
            near=_TICK,
            leader=False,
            prefer=across,
            either=True,
        )
        plan.flag(label, optional=True)


def station_words(station: float, system: str) -> str:
    """A round station as its number alone."""
    return f"{round(convert(station, 'length', system), 6):,.10g}"


def north_arrow(plan: Rect, turn: float) -> list[Mark]:
    """Plan north, the +y of the grid, as it lies in the plan turned by ``turn``."""
    x, y = plan[2] - NORTH, plan[1] + NORTH
    up = np.array([-math.sin(turn), -math.cos(turn)])
    side = np.array([-up[1], up[0]])
    center = np.array([x, y])
    tip, tail = center + 3.2 * up, center - 6.2 * up
    head = np.array([tip, tip - 4.2 * up + 1.5 * side, tip - 4.2 * up - 1.5 * side, tip])
    letter = tip + 2.4 * up
    return [
        ruled(np.array([tail, tip]), MEDIUM, "", "FRAME"),
        ruled(head, MEDIUM, "", "FRAME"),
        letters(
            float(letter[0]), float(letter[1]) + 1.15, "N", 2.3, "middle", bold=True, layer="FRAME"
        ),
    ]
