"""The plan of a sheet: the run with what stands around it; bends, points, dimensions."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np

from route3d.drawing.axes import multiples
from route3d.drawing.labels import LabelRoom
from route3d.drawing.layers import LINE_TYPES
from route3d.drawing.marks import (
    BLACK,
    Line,
    Mark,
    Rect,
    Ring,
    Shape,
    along,
    inset,
    lengths,
    spaced,
)
from route3d.drawing.plan_profile.course import Event, GradeStretch, Leg, bend_middles
from route3d.drawing.plan_profile.flags import (
    CALLOUT,
    SHEET,
    DrawnView,
    Flag,
    bubble,
    place,
    take_line,
    take_other,
)
from route3d.drawing.plan_profile.layout import PlanView
from route3d.drawing.plan_profile.linework import (
    MEDIUM,
    SMALL,
    areas,
    clipped,
    interrupted,
    letters,
    ruled,
    stroke,
)
from route3d.drawing.plan_profile.setup import Cut, Setup, SheetSpan, in_span, on_sheet
from route3d.drawing.plan_profile.surroundings import Piece
from route3d.drawing.text_width import text_width
from route3d.geometry.vectors import Floats
from route3d.units import convert, show

GHOST_DASH = LINE_TYPES["BEYOND"]
NORTH = 9.0  # half the room of the north arrow
_SHORTEST_DIMENSION = 24.0  # with its words within its dimension line, mm
_SHORTEST_MEASURED = 2.5  # with its words beside its dimension line, mm
_LONG = 60.0  # dimensions of longer legs have their place before the labels of points, mm
_NEAR_OFFSET = (6.0, -6.0, 9.0, -9.0, 12.0, -12.0)
_OFFSET = (9.0, -9.0, 12.0, -12.0, 16.0, -16.0, 20.0, -20.0, 25.0, -25.0)
_TICK = 1.5  # half a station tick
STEEP = 0.5  # level part of the tangent below which stations are left to the profile
_KEPT_OFF = ("BANK", "BOXES", "OTHER-RUNS")  # lines of these no label covers
_MOST_LINES = 40  # nor those of buildings, where they are no more
_CUT_TAIL = 4.0  # of a section mark, mm
_APART = 3.0  # other runs nearer to one another than this lie together, mm
_NAME_REACH = 30.0  # of the leader to a name of what stands around, mm


@dataclass(slots=True, kw_only=True)
class _PlanView(DrawnView):
    """A plan being drawn; ``parts`` are the lines of what stands around that have a name."""

    view: PlanView
    parts: list[tuple[Piece, list[Floats]]] = field(default_factory=list)

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


def plan_marks(setup: Setup, number: int, view: PlanView) -> DrawnView:
    """The plan of a sheet, drawn."""
    box = setup.layout.plan
    room = LabelRoom(inset(box, 1.0), SHEET)
    span, flagged = setup.stretches[number - 1], on_sheet(setup, number)
    plan = _PlanView(setup=setup, span=span, box=box, flagged=flagged, room=room, view=view)
    _pieces(plan)
    _line(plan)
    _north(plan)
    _callouts(plan)
    _signs(plan)
    risers = _risers(plan)
    _match_lines(plan, number)
    cuts = _cuts(plan, setup.cuts)
    _dimensions(plan, _LONG)
    _points(plan)
    _dimensions(plan, 0.0, _LONG)
    section_letters(plan, cuts)
    _bends(plan)
    _riser_labels(plan, risers)
    _stations(plan)
    _names(plan)
    return plan


def plan_detail(setup: Setup, span: SheetSpan, view: PlanView, box: Rect) -> DrawnView:
    """A stretch in plan, drawn larger: every straight with its length, every bend in words."""
    room = LabelRoom(inset(box, 0.8), SHEET)
    flagged = in_span(setup, span.start, span.end)
    plan = _PlanView(
        setup=setup, span=span, box=box, flagged=flagged, room=room, close=True, view=view
    )
    _pieces(plan)
    _line(plan)
    _signs(plan)
    for straight, x, y in _risers(plan):
        riser = (f"riser {straight.way}", show(straight.length, "length", setup.system))
        flag = Flag(x, y, riser, layer="DIMENSIONS", near=2.9)
        plan.add(flag, riser[0], (straight.start, straight.end))
    _points(plan)
    _dimensions(plan)
    _bends(plan)
    for straight, start, end in plan.straights():
        if straight.is_riser or end - start < straight.length - 1e-6:
            continue
        middle = (start + end) / 2
        (x, y), (way, _) = plan.at(middle).tolist(), plan.along(middle)
        square = math.atan2(-way[0], -way[1])
        words = (f"straight {show(straight.length, 'length', setup.system)}",)
        flag = Flag(x, y, words, layer="DIMENSIONS", near=0.6, prefer=square, either=True)
        plan.add(flag, words[0], (straight.start, straight.end))
    return plan


# --- what stands around --------------------------------------------------------------------------


def _pieces(plan: _PlanView) -> None:
    """Buildings, banks, boxes and other runs, as far as they are in the view."""
    window = inset(plan.box, 0.4)
    for piece in plan.setup.pieces.plan:
        points = plan.view(piece.points)
        if (points.max(axis=0) < window[:2]).any() or (points.min(axis=0) > window[2:]).any():
            continue
        if piece.filled:
            for outline, holes in areas(points, [plan.view(h) for h in piece.loops], window):
                shape = Shape(outline, BLACK, holes=tuple(holes), layer=f"{piece.layer}-FILL")
                plan.marks.append(shape)
        parts = [
            p for loop in (points, *map(plan.view, piece.loops)) for p in clipped(loop, window)
        ]
        plan.marks += [ruled(part, layer=piece.layer) for part in parts]
        if parts:
            plan.parts.append((piece, parts))
        few = piece.layer != "CONTEXT" or len(plan.setup.pieces.plan) <= _MOST_LINES
        if piece.layer in (*_KEPT_OFF, "CONTEXT") and few:
            for part in parts:
                take_other(plan.room, part)


def _names(plan: _PlanView) -> None:
    """The names of what stands around, where there is room."""
    named = {event.name for event in plan.flagged}  # the pull point of a vault names its room
    runs = []
    for piece, parts in plan.parts:
        if not piece.name or (piece.name in named and not piece.filled):
            continue
        if piece.layer == "OTHER-RUNS":
            runs.append((piece.name.removeprefix("run "), parts))
            continue
        longest = max(parts, key=lambda p: float(lengths(p)[-1]))
        for share in (0.5, 0.25, 0.75, 0.1, 0.9):
            x, y = along(longest, np.array([share * float(lengths(longest)[-1])]))[0].tolist()
            if placed := place_name(plan, piece.name, x, y, _NAME_REACH):
                plan.marks += placed
                break
    _run_names(plan, runs)


def _run_names(plan: _PlanView, runs: Sequence[tuple[str, list[Floats]]]) -> None:
    """The name of each other run where it lies by itself; one label for those that lie together."""
    import shapely

    lines = [shapely.MultiLineString(parts) for _, parts in runs]
    own = shapely.LineString(plan.view(plan.setup.course.points))
    together: list[int] = []
    for i, (name, parts) in enumerate(runs):
        others = shapely.union_all([own, *lines[:i], *lines[i + 1 :]])
        spots = np.vstack([spaced(part, _APART) for part in parts])
        away = shapely.distance(shapely.points(spots), others)
        alone = spots[away > _APART]
        if not len(alone):
            together.append(i)
            continue
        far = alone[np.argsort(-away[away > _APART], kind="stable")]
        _name_at(plan, f"run {name}", far)
    while together:
        group = [together.pop(0)]
        for i in tuple(together):
            if shapely.distance(lines[group[0]], lines[i]) < _APART:
                together.remove(i)
                group.append(i)
        names = ", ".join(runs[i][0] for i in group)
        words = f"run {names}" if len(group) == 1 else f"runs {names} together"
        longest = max(runs[group[0]][1], key=lambda p: float(lengths(p)[-1]))
        _name_at(plan, words, spaced(longest, _APART)[::-1])


def _name_at(plan: _PlanView, words: str, spots: Floats) -> None:
    """A name at the first of some places (n, 2) that has room; a few are tried."""
    for x, y in spots[:: max(len(spots) // 5, 1)].tolist():
        if placed := place_name(plan, words, x, y, _NAME_REACH):
            plan.marks += placed
            return


def place_name(view: DrawnView, name: str, x: float, y: float, reach: float) -> list[Mark] | None:
    """A name right beside what it names, or with a leader to it."""
    beside = Flag(x, y, (name,), layer="NAMES", first=1.0, near=0.0, reach=2.5, leader=False)
    led = Flag(x, y, (name,), layer="NAMES", first=4.0, near=0.0, reach=reach)
    return place(beside, view.room) or place(led, view.room)


def _callouts(plan: _PlanView) -> None:
    """A ring or a frame round each stretch that is drawn larger elsewhere, with its letter."""
    for detail in plan.details("plan"):
        start, end = plan.inside(detail.start), plan.inside(detail.end)
        points = plan.view(plan.setup.course.path.point(plan.setup.course.between(start, end)))
        box = about(points, plan.box)
        plan.marks.append(rounded(box))
        place_callout(plan, detail.bubble, box)


def place_callout(view: DrawnView, words: str, box: Rect) -> None:
    """The letter of a callout beside its frame, and nothing over the frame."""
    left, top, right, bottom = box
    corners = ((left, top), (right, top), (right, bottom), (left, bottom), (left, top))
    for a, b in pairwise(corners):
        take_other(view.room, np.array([a, b]))
    middles = [((a[0] + b[0]) / 2, (a[1] + b[1]) / 2) for a, b in pairwise(corners)]
    flags = [Flag(x, y, (), words, layer="CALLOUTS", near=0.0, first=1.5) for x, y in middles]
    found = (place(flag, view.room, strict=how) for how in (True, False) for flag in flags)
    view.marks += next(filter(None, found), [])


def about(points: Floats, window: Rect) -> Rect:
    """A frame about places (n, 2), within a window."""
    low, high = points.min(axis=0) - 2.5, points.max(axis=0) + 2.5
    inner = inset(window, 0.8)
    return (
        max(float(low[0]), inner[0]),
        max(float(low[1]), inner[1]),
        min(float(high[0]), inner[2]),
        min(float(high[1]), inner[3]),
    )


def rounded(box: Rect) -> Line:
    """A frame with round corners."""
    r = min(2.0, (box[2] - box[0]) / 2, (box[3] - box[1]) / 2)
    corners = (
        (box[2] - r, box[1] + r, -90), (box[2] - r, box[3] - r, 0),
        (box[0] + r, box[3] - r, 90), (box[0] + r, box[1] + r, 180),
    )  # fmt: skip
    points = [
        (x + r * math.cos(math.radians(a)), y + r * math.sin(math.radians(a)))
        for x, y, first in corners
        for a in range(first, first + 91, 15)
    ]
    return ruled(np.array([*points, points[0]]), layer="CALLOUTS")


def _cuts(plan: _PlanView, cuts: Sequence[Cut]) -> list[SectionMark]:
    """Where sections are taken: strokes across the run, arrows the way one looks."""
    found = []
    for cut in cuts:
        if plan.span.start <= cut.station <= plan.span.end:
            spot, (way, _) = plan.at(cut.station), plan.along(cut.station)
            half = cut.half * plan.view.mm + 1.2
            spot = spot + cut.shift * plan.view.mm * way
            found.append(section_mark(plan, spot, way, (half, half), cut.bubble))
    return found


@dataclass(frozen=True, slots=True, eq=False)
class SectionMark:
    """A section mark that has no letter yet: its words, where they may stand, and its ends."""

    words: str
    spots: tuple[tuple[float, float], ...]
    ends: tuple[tuple[float, float], ...]


def section_mark(
    view: DrawnView, spot: Floats, way: Floats, near: tuple[float, float], words: str
) -> SectionMark:
    """A stroke on both sides of a place, with arrows along ``way``.

    The strokes begin ``near`` mm to the left and to the right of the place, as one looks.
    """
    left = np.array([way[1], -way[0]])
    sides = ((left, near[0]), (-left, near[1]))
    spots, anchors = [], []
    for across, first in sides:
        ends = np.array([spot + first * across, spot + (first + _CUT_TAIL) * across])
        tip = ends[1] + 2.6 * way
        if not _holds(inset(view.box, 1.0), np.array([*ends, tip])):
            continue
        view.marks.append(ruled(np.array([*ends, tip]), layer="SECTION-MARKS"))
        head = np.array([tip, tip - 2.0 * way + 0.9 * across, tip - 2.0 * way - 0.9 * across])
        view.marks.append(Shape(head, BLACK, layer="SECTION-MARKS"))
        take_other(view.room, np.array([*ends, tip]))
        spots += [(0, ends[1] + (CALLOUT + 1.4) * across)]
        spots += [(1, ends[1] - (CALLOUT + 1.4) * way + k * across) for k in (0, 3)]
        anchors.append((float(ends[1][0]), float(ends[1][1])))
        low, high = np.minimum(ends[1], tip) - 0.9, np.maximum(ends[1], tip) + 0.9
        view.room.take_sign((float(low[0]), float(low[1]), float(high[0]), float(high[1])))
    best = [middle.tolist() for _, middle in sorted(spots, key=lambda s: s[0])]
    far = tuple(anchors) or ((float(spot[0]), float(spot[1])),)
    return SectionMark(words, tuple((x, y) for x, y in best), far)


def _holds(box: Rect, points: Floats) -> bool:
    """Whether all of some places (n, 2) are in a box."""
    return bool(((points >= box[:2]) & (points <= box[2:])).all())


def section_letters(view: DrawnView, found: Sequence[SectionMark]) -> None:
    """The letters of section marks, each where there is room."""
    for mark in found:
        for x, y in mark.spots:
            reach = CALLOUT + 0.4
            box = (x - reach, y - reach, x + reach, y + reach)
            if view.room.free(box):
                view.marks += bubble(x, y, mark.words, False, "SECTION-MARKS")
                view.room.take(box)
                break
        else:
            flags = [
                Flag(*at, (), mark.words, layer="SECTION-MARKS", first=1.0) for at in mark.ends
            ]
            tried = (place(f, view.room, strict=how) for how in (True, False) for f in flags)
            view.marks += next(filter(None, tried), [])


# --- the run -------------------------------------------------------------------------------------


def _line(plan: _PlanView) -> None:
    """The centerline of the stretch, thick; what goes on beyond it, thin and dashed."""
    course, span = plan.setup.course, plan.span
    points = plan.view(course.path.point(course.between(span.start, span.end)))
    for start, end in ((0.0, span.start), (span.end, course.path.length)):
        if end > start:
            beyond = plan.view(course.path.point(course.between(start, end)))
            for part in clipped(beyond, inset(plan.box, 0.5)):
                take_line(plan.room, part)
                plan.marks.append(ruled(part, layer="BEYOND"))
    plan.marks.append(ruled(points, layer="CENTERLINE"))
    take_line(plan.room, points)


def _signs(plan: _PlanView) -> None:
    """Ends and pull points as squares, plain points as crosses, bend ends as ticks."""
    for event in plan.flagged:
        if event.is_bend:
            for station in (event.station, event.end):
                if station <= plan.span.end + 1e-9:
                    _tick(plan, station, 1.1, "BENDS")
            continue
        x, y = plan.at(event.station)
        half = 1.6 if event.access else 0.9
        box = (x - half, y - half, x + half, y + half)
        corners = ((-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1))
        outline = [(x + half * a, y + half * b) for a, b in corners]
        plan.marks.append(stroke(*outline, layer="PULL-POINTS"))
        if event.access:
            cross = ((x - half, y - half), (x + half, y + half))
            plan.marks.append(stroke(*cross, layer="PULL-POINTS"))
        plan.room.take_sign(box)


def _tick(plan: _PlanView, station: float, half: float, layer: str) -> None:
    """A short line across the route."""
    way, level = plan.along(station)
    if level < STEEP:
        return
    spot, across = plan.at(station), np.array([-way[1], way[0]])
    ends = np.array([spot - half * across, spot + half * across])
    plan.marks.append(ruled(ends, layer=layer))


def _match_lines(plan: _PlanView, number: int) -> None:
    """Where the sheets join: a line across the route that names the sheet beyond."""
    last = len(plan.setup.stretches)
    for station, other in ((plan.span.start, number - 1), (plan.span.end, number + 1)):
        if not 1 <= other <= last:
            continue
        spot, (way, level) = plan.at(station), plan.along(station)
        sheet = plan.setup.in_set(other)
        lines = ("MATCH LINE", f"sta {_station(plan, station)}", f"see sheet {sheet}")
        if level < STEEP:  # cut in a riser: a point in plan
            x, y = float(spot[0]), float(spot[1])
            plan.ring(x, y, 2.4, "MATCH-LINES")
            plan.add(Flag(x, y, lines, layer="MATCH-LINES", near=2.5), " ".join(lines), None)
            continue
        across = np.array([-way[1], way[0]])
        ends = np.array([spot - 9 * across, spot + 9 * across])
        plan.marks.append(ruled(ends, layer="MATCH-LINES"))
        take_line(plan.room, ends)
        x, y = ends[0]
        plan.add(Flag(x, y, lines, layer="MATCH-LINES", leader=False), " ".join(lines), None)


def _station(plan: _PlanView, station: float) -> str:
    return show(station, "length", plan.setup.system)


def _points(plan: _PlanView) -> None:
    for event in plan.flagged:
        if event.is_bend or _in_detail(plan, event):
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
        label = replace(label, prefer=away, either=either)
        plan.add(label, f"{event.mark} {event.name}".strip(), (event.station, event.end))


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


def _in_detail(plan: _PlanView, event: Event) -> bool:
    return any(d.holds(event.station, plan.inside(event.end)) for d in plan.details("plan"))


def _bends(plan: _PlanView) -> None:
    """Each bend with number, radius and angle; only its number where there is no room for more."""
    middles, system = bend_middles(plan.setup.course.path), plan.setup.system
    for event in plan.flagged:
        if not event.is_bend or _in_detail(plan, event):
            continue
        x, y = plan.at(min(middles[event.mark], plan.span.end))
        angle = show(event.angle, "angle", system)
        lies = "" if event.lies == "horiz." else f", {event.lies}"
        lines = (f"R {show(event.radius, 'radius', system)}", f"{angle}{lies}")
        outward = _outward(plan, middles[event.mark])
        label = Flag(x, y, lines, event.mark, layer="BENDS", near=0.6, prefer=outward)
        plan.add(label, f"{event.mark} {' '.join(lines)}", (event.station, event.end))


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
        lines = (f"riser {straight.way}", f"{length} straight", *_turned_in(plan, straight))
        plan.add(Flag(x, y, lines, layer="DIMENSIONS", near=2.9), None, None)  # in the profile, too


def _turned_in(plan: _PlanView, straight: GradeStretch) -> tuple[str, ...]:
    """What the run turns in plan from before a plumb riser to behind it."""
    legs, middle = plan.setup.course.legs, (straight.start + straight.end) / 2
    at = next((i for i, leg in enumerate(legs) if leg.start <= middle <= leg.end), 0)
    if not 0 < at < len(legs) - 1 or legs[at].in_plan:
        return ()
    before, after = legs[at - 1], legs[at + 1]
    if not (before.in_plan and after.in_plan):
        return ()
    turn = abs((after.heading - before.heading + math.pi) % (2 * math.pi) - math.pi)
    return (f"{show(turn, 'angle', plan.setup.system)} in plan",) if turn > 1e-4 else ()


def legs_shown(view: DrawnView) -> list[Leg]:
    """The legs whose dimension a view has: most of them is on its sheet, or its detail.

    On a sheet those are left out that are all in a detail taken from it.
    """
    setup, span = view.setup, view.span
    found = []
    for leg in setup.course.legs:
        if view.close:
            inside = span.start - 1e-6 <= leg.start and leg.end <= span.end + 1e-6
            middle = span.start <= (leg.start + leg.end) / 2 <= span.end
            part = leg.start <= span.start and span.end <= leg.end
            if inside or (middle and part):
                found.append(leg)
            continue
        shares = [min(leg.end, s.end) - max(leg.start, s.start) for s in setup.stretches]
        if setup.stretches[shares.index(max(shares))] is span:
            found.append(leg)
    return found


def _dimensions(plan: _PlanView, least: float = 0.0, most: float = math.inf) -> None:
    """Level lengths between the points where tangents meet, beside the route.

    Of legs at least ``least`` and less than ``most`` long on paper, mm.
    """
    details = plan.details("plan")
    for leg in legs_shown(plan):
        if leg.in_plan and not any(d.holds(leg.start, leg.end) for d in details):
            ends, whole = leg.within(plan.setup.course.path, plan.span.start, plan.span.end)
            line = plan.view(ends)
            if least <= float(np.hypot(*(line[1] - line[0]))) < most:
                x, y = plan.at(plan.inside((leg.start + leg.end) / 2)).tolist()
                dimension(plan, leg, line, (x, y), leg.level, whole=whole)


def dimension(
    view: DrawnView,
    leg: Leg,
    ends: Floats,
    spot: tuple[float, float],
    length: float,
    *,
    whole: bool,
) -> None:
    """The dimension of a leg between ``ends`` (2, 2) mm: a line beside it, else words alone.

    Those have their leader to ``spot`` on the route.

    Of a leg that goes on beyond the view the length is that of the whole leg, and called so.
    """
    figure = show(length, "length", view.setup.system)
    words = figure if whole else f"{figure} whole leg"
    size, wide = float(np.hypot(*(ends[1] - ends[0]))), text_width(words, SMALL)
    ways: list[tuple[float, bool, float | None]] = []
    if size >= max(wide + 5.0, _SHORTEST_DIMENSION):
        shares = (0.5, 0.35, 0.65, 0.2, 0.8) if size > 3 * wide else (0.5,)
        ways += [(offset, inner, share) for inner in (False, True) for share in shares
                 for offset in _OFFSET]  # fmt: skip
    if size >= _SHORTEST_MEASURED:
        ways += [(offset, inner, None) for inner in (False, True) for offset in _NEAR_OFFSET]
    if any(_dimension(view, ends, words, *way) for way in ways):
        return
    x, y = spot
    square = math.atan2(-(ends[1] - ends[0])[0], -(ends[1] - ends[0])[1])
    flag = Flag(x, y, (f"leg {words}",), layer="DIMENSIONS", prefer=square, either=True)
    view.add(flag, f"leg of {figure}", (leg.start, leg.end))


def _dimension(
    view: DrawnView, ends: Floats, words: str, offset: float, inner: bool, share: float | None
) -> bool:
    """Draw a dimension at an offset from its leg; False where something is in its way.

    An ``inner`` one may end on the leg of a corner it lies inside of. Its words stand in its line,
    at a ``share`` of it, or beyond it.
    """
    way = (ends[1] - ends[0]) / np.hypot(*(ends[1] - ends[0]))
    across = np.array([way[1], -way[0]])
    line = ends + offset * across
    middle = line[0] + (0.5 if share is None else share) * (line[1] - line[0])
    if share is None:
        half = np.array([text_width(words, SMALL) / 2, SMALL / 2])
        away = float(np.abs(across) @ half) + 1.8
        middle = middle + math.copysign(away, offset) * across
    text = letters(
        float(middle[0]), float(middle[1]) + SMALL / 2, words, align="middle", layer="DIMENSIONS"
    )
    box = text.box
    bounds = view.room.frame
    if (line.min(axis=0) < bounds[:2]).any() or (line.max(axis=0) > bounds[2:]).any():
        return False
    if not view.room.free(inset(box, -0.7)) or view.room.crossed(line):
        return False
    shorter = min(4.0, float(np.hypot(*(ends[1] - ends[0]))) / 3)
    if view.room.beside(line + np.outer((shorter, -shorter), way) if inner else line, 3.0):
        return False
    legs = [np.array([ends[k] + math.copysign(3.0, offset) * across,
                      line[k] + math.copysign(1.2, offset) * across]) for k in (0, 1)]  # fmt: skip
    if any(view.room.crossed(leg) or not _holds(bounds, leg) for leg in legs):
        return False
    view.marks += [ruled(leg, layer="DIMENSIONS") for leg in legs]
    view.marks += interrupted(ruled(line, layer="DIMENSIONS"), [inset(box, -0.6)])
    view.marks += [_slash(spot, way) for spot in line]
    view.marks.append(text)
    for part in (line, *legs):
        take_other(view.room, part)
    view.room.take(inset(box, -0.3))
    return True


def _slash(spot: Floats, way: Floats) -> Line:
    """The oblique stroke at the end of a dimension line."""
    turned = np.array([way[0] - way[1], way[0] + way[1]]) / math.sqrt(2)
    return ruled(np.array([spot - 1.2 * turned, spot + 1.2 * turned]), layer="DIMENSION-ENDS")


def _stations(plan: _PlanView) -> None:
    """A tick at every round station, and its number where there is room."""
    span, system = plan.span, plan.setup.system
    points = [e.station for e in plan.setup.course.marks if not e.is_bend]
    points += [s.end for s in plan.setup.stretches]
    for station in multiples(plan.setup.interval, span.start, span.end):
        station = plan.inside(station)
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
        plan.add(label, None, None)


def _north(plan: _PlanView) -> None:
    """The north arrow in the first corner of the plan that is free."""
    left, top, right, bottom = plan.box
    side = 2 * NORTH
    corners = [
        (x, y, x + side, y + side) for y in (top, bottom - side) for x in (right - side, left)
    ]
    box = next((c for c in corners if plan.room.free(inset(c, 1.0))), corners[0])
    north = plan.setup.job.site.frame.north
    plan.marks += north_arrow((box[0], box[1], box[2], box[3]), plan.view.turn, north)
    plan.room.take(box)


def station_words(station: float, system: str) -> str:
    """A round station as its number alone."""
    return f"{round(convert(station, 'length', system), 6):,.10g}"


def north_arrow(plan: Rect, turn: float, north: float = 0.0) -> list[Mark]:
    """North, rad clockwise from the y axis, as it lies in the plan turned by ``turn``."""
    x, y = plan[2] - NORTH, plan[1] + NORTH
    up = np.array([math.sin(north - turn), -math.cos(north - turn)])
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
