"""Plan and side view of one end of a pull, in paper mm at one round scale.

Both views stand over each other: what is ahead of the conduit end is as far to the right in one as
in the other. Labels find their places first; the hatching of where nobody stands is left out under
them, so that words stay readable in black and white.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal

import numpy as np

from route3d.drawing.labels import LabelRoom, Manner, Wish
from route3d.drawing.marks import Mark, Point, Rect, Ring, Shape, along, inset, lengths
from route3d.drawing.plan_profile.layout import Scale
from route3d.drawing.plan_profile.linework import MEDIUM, SMALL, THIN, letters, ruled, stroke
from route3d.drawing.plan_profile.plan import GHOST_DASH
from route3d.drawing.plan_profile.profile import spread
from route3d.drawing.text_width import fitted, text_width, wrapped
from route3d.geometry.vectors import Floats
from route3d.model.anchor import Vehicle
from route3d.phrase import Phrase, literal, say
from route3d.planning.rigging.danger_zones import VIEWS
from route3d.planning.rigging.layout import Body, RiggingLayout, Wheel
from route3d.planning.rigging.operator_place import STANDING

Words = Callable[[Phrase], str]
"""What turns a phrase into the text on the paper; another language is another function."""
ViewName = Literal["plan", "side"]

CONDUIT, ROPE, CABLE, SHEAVES = "Conduit", "Rope", "Cable and head", "Sheaves"
FORCES, MACHINE, ANCHOR, OPERATOR = "Forces", "Machine and reels", "Anchor", "Operator"
NOBODY, ROOM, DIMENSIONS, LABELS = "Nobody here", "Room and floor", "Dimensions", "Labels"
LAYERS = {
    CONDUIT: 50, ROPE: 50, CABLE: 70, SHEAVES: 35, FORCES: 70, MACHINE: 50, ANCHOR: 35,
    OPERATOR: 35, NOBODY: 18, ROOM: 70, DIMENSIONS: 18, LABELS: 18,
}  # fmt: skip
"""Layers of the views with their line width, 1/100 mm."""
LINE_OF_PULL = "5 1.2 1 1.2"

BIG, LOUD = 4.4, 2.8
"""Heights of capitals of what must be read at arm's length, and of what comes next, mm."""
_NOBODY_SIZES = (4.4, 3.8, 3.2, 2.7)
_TRIED = 200  # places of NOBODY HERE in each size
HEAD_ROOM = 6.0  # of a view, for its title, mm
_ROW = 12.0  # of the dimensions below the plan, mm
_COLUMN = 31.0  # of the heights beside the side view, mm
_ACROSS, _DOWN = 8.0, 6.5  # free about what is drawn, mm
_WHOLE = 1.51  # a closed room is shown whole where the scale gets no smaller than by this
_ARROW = 15.0  # length of a force that lies in the view, mm
_LEAST_ARROW = 4.0
_THINNEST = 1.0  # a conduit is drawn no thinner, mm
_PERSON = 1.75
_TAGS = Manner(
    1.2, (0.0, 2.0, 4.5, 8.0, 12.0, 17.0, 23.0, 30.0, 38.0), 30, cover=6.0, obstacle=20.0,
    beside=1.0, turn=2.0,
)  # fmt: skip


@dataclass(frozen=True, slots=True, eq=False)
class ViewFrame:
    """From ahead, aside and up (m) to paper: ``mm`` in a meter, the conduit end at ``origin``.

    ``box`` is the room of the view.
    """

    name: ViewName
    mm: float
    origin: Point
    box: Rect

    def flat(self, points: Floats) -> Floats:
        """Points (n, 3) as seen in the view, (n, 2) m."""
        return np.asarray(points)[..., VIEWS[self.name]]

    def on(self, flat: Floats | Sequence[Sequence[float]]) -> Floats:
        """Where points (n, 2) m of the view stand, (n, 2) mm."""
        return np.asarray(self.origin) + self.mm * np.asarray(flat) * [1.0, -1.0]

    def __call__(self, points: Floats) -> Floats:
        """Where points (n, 3) m stand, (n, 2) mm."""
        return self.on(self.flat(points))


@dataclass(frozen=True, slots=True, eq=False)
class _Tag:
    """Words for a place (mm): large ones bold; ``must`` is placed even over lines."""

    at: Point
    lines: tuple[str, ...]
    size: float = SMALL
    bold: bool = False
    clear: float = 1.0
    prefer: float | None = None


@dataclass(slots=True)
class _View:
    """A view being drawn: what is in it, and what its labels took."""

    layout: RiggingLayout
    frame: ViewFrame
    words: Words
    room: LabelRoom
    marks: list[Mark] = field(default_factory=list)
    tags: list[_Tag] = field(default_factory=list)
    solid: list[Floats] = field(default_factory=list)
    boxes: list[Rect] = field(default_factory=list)

    def line(
        self, points: Floats, width: float, layer: str, dash: str = "", *, keep: bool = True
    ) -> None:
        """A line through points (n, 3) m, cut at the edge of the view."""
        if len(points) < 2:
            return
        for part in _clipped(self.frame(points), self.frame.box):
            self.marks.append(ruled(part, width, dash, layer))
            if keep:
                self.room.take_line(part, 0.8)

    def area(
        self, corners: Floats, layer: str, width: float, dash: str = "", fill: str = "#ffffff"
    ) -> None:
        """A white area with an edge, its corners (n, 2) mm; nothing hatched shows through."""
        self.solid.append(corners)
        ring = np.vstack((corners, corners[:1]))
        if dash:
            self.marks.append(Shape(corners, fill, layer=layer))
            self.marks.append(ruled(ring, width, dash, layer))
        else:
            self.marks.append(Shape(corners, fill, "#000000", width, layer=layer))
        self.room.take_line(ring, 0.8)


# --- scale ---------------------------------------------------------------------------------------


def scales(system: str) -> tuple[Scale, ...]:
    """Round scales from large to small: feet to the inch, or those of a metric ruler."""
    if system == "US":
        return tuple(Scale(12.0 * n) for n in (1, 2, 3, 4, 5, 6, 8, 10, 15, 20, 30, 40, 60, 100))
    return tuple(Scale(float(n)) for n in (10, 20, 25, 50, 75, 100, 150, 200, 250, 500, 1000))


def view_frames(
    layout: RiggingLayout, box: Rect, system: str, scale: Scale | None = None
) -> tuple[Scale, ViewFrame, ViewFrame] | None:
    """Scale, plan over side view in a box (mm): the largest round scale at which all has room.

    A closed room is shown whole where that does not take a much smaller scale. None where ``scale``
    has no room.
    """
    if scale is not None:
        return _frames(layout, box, scale, whole=False)
    fitting = (f for s in scales(system) if (f := _frames(layout, box, s, whole=False)))
    large = next(fitting)
    for one in scales(system):
        if one.ratio <= _WHOLE * large[0].ratio and (
            found := _frames(layout, box, one, whole=True)
        ):
            return found
    return large


def _frames(
    layout: RiggingLayout, box: Rect, scale: Scale, *, whole: bool
) -> tuple[Scale, ViewFrame, ViewFrame] | None:
    low, high = _extent(layout, whole=whole)
    size = (high - low) * scale.mm
    left, top, right, bottom = box
    across = right - left - _COLUMN - 2 * _ACROSS - size[0]
    spare = bottom - top - 2 * (HEAD_ROOM + 2 * _DOWN) - _ROW - size[1] - size[2]
    if across < 0 or spare < 0:
        return None
    x = left + _COLUMN + _ACROSS + across / 2 - low[0] * scale.mm
    middle = top + HEAD_ROOM + 2 * _DOWN + _ROW + size[1] + spare / 2
    plan_y = top + HEAD_ROOM + _DOWN + spare / 4 + high[1] * scale.mm
    side_y = middle + HEAD_ROOM + _DOWN + spare / 4 + high[2] * scale.mm
    return (
        scale,
        ViewFrame("plan", scale.mm, (x, plan_y), (left, top, right, middle)),
        ViewFrame("side", scale.mm, (x, side_y), (left, middle, right, bottom)),
    )


def _extent(layout: RiggingLayout, *, whole: bool) -> tuple[Floats, Floats]:
    """The corners (3,) m of a box round what must be seen; the ``whole`` of closed rooms too."""
    parts = [layout.conduit[-2:], layout.rope, layout.cable, layout.head, layout.line_of_pull]
    parts += [w.circle for w in layout.wheels] + [w.contact for w in layout.wheels]
    for body in layout.bodies:
        parts += [np.column_stack((body.outline, np.full(len(body.outline), z)))
                  for z in (body.low, body.high)]  # fmt: skip
    if layout.operator is not None:
        foot = _foot(layout)
        parts += [np.array([[*(layout.operator + a), foot + z] for a in (-STANDING, STANDING)
                            for z in (0.0, _PERSON)])]  # fmt: skip
    parts.append(np.array([[-0.7, 0.0, 0.0], [0.0, 0.0, _ground(layout)]]))
    for room in layout.closed_rooms if whole else ():
        top = room.ceiling if room.ceiling is not None else room.floor
        parts += [np.array([[*c, z] for c in room.outline for z in (room.floor, top)])]
    points = np.vstack([p for p in parts if len(p)])
    return points.min(axis=0), points.max(axis=0)


def _ground(layout: RiggingLayout) -> float:
    """The floor, or where the lowest thing stands."""
    return layout.floor if layout.floor is not None else min(b.low for b in layout.bodies)


def _foot(layout: RiggingLayout) -> float:
    """What the operator stands on."""
    return _ground(layout)


# --- views ---------------------------------------------------------------------------------------


def view_marks(
    layout: RiggingLayout, frame: ViewFrame, words: Words
) -> tuple[list[Mark], list[str]]:
    """The marks of one view, and the labels it had no room for."""
    left, top, right, bottom = frame.box
    inner = (left + 1.0, top + HEAD_ROOM, right - 1.0, bottom - 1.0)
    inner = (inner[0], inner[1], inner[2], inner[3] - _ROW) if frame.name == "plan" else inner
    inner = (inner[0] + _COLUMN, *inner[1:]) if frame.name == "side" else inner
    frame = replace(frame, box=inner)
    view = _View(layout, frame, words, LabelRoom(inset(inner, 0.5), _TAGS))
    _rooms(view)
    _line_of_pull(view)
    _bodies(view)
    _conduit(view)
    _rope(view)
    for wheel in layout.wheels:
        _wheel(view, wheel)
    _operator(view)
    (_distances if frame.name == "plan" else _heights)(view, (left, top, right, bottom))
    zones = _zone_area(view)
    for piece in _polygons(zones):
        view.room.take_line(np.array(piece.exterior.coords), 2.0)
    missing = list(_labels(view, zones))
    return [*_hatching(view, zones), *view.marks], missing


def _rooms(view: _View) -> None:
    for room in view.layout.rooms:
        if view.frame.name == "plan":
            ring = np.array([*room.outline, room.outline[0]])
            view_ring = np.column_stack((ring, np.zeros(len(ring))))
            view.line(view_ring, 0.7, ROOM)
            for obstacle in room.obstacles:
                _obstacle(view, view.frame.on(obstacle))
            continue
        for start, end in _section(room.outline):
            low = np.array([[start, 0.0, room.floor], [end, 0.0, room.floor]])
            view.line(low, 0.7, ROOM)
            if room.ceiling is None:
                continue
            high = np.add(low, [0.0, 0.0, room.ceiling - room.floor])
            view.line(high, 0.7, ROOM)
            for k in (0, 1):
                view.line(np.array([low[k], high[k]]), 0.7, ROOM)
    layout, frame = view.layout, view.frame
    if frame.name == "side":
        level = layout.level + _ground(layout)
        if layout.floor is None and layout.end == "machine":
            span = _extent(layout, whole=False)
            at = np.array([[span[0][0] - 0.3, 0, 0], [span[1][0] + 0.3, 0, 0]])
            view.line(np.add(at, [0, 0, _ground(layout)]), MEDIUM, ROOM, GHOST_DASH)
            said = say("floor level not given")
            if layout.known:
                said = say("floor level not given; assumed at elev. {}", (level, "length"))
        elif layout.floor is not None:
            said = say("floor elev. {}", (level, "length"))
        else:
            return
        x = _clamped(frame.on([[_extent(layout, whole=False)[0][0], _ground(layout)]])[0], frame)
        view.tags.append(_Tag(x, (view.words(said),), clear=0.6, prefer=-math.pi / 2))


def _obstacle(view: _View, corners: Floats) -> None:
    import shapely

    for piece in _polygons(shapely.Polygon(corners).intersection(shapely.box(*view.frame.box))):
        edge = np.array(piece.exterior.coords)[:-1]
        view.area(edge, ROOM, MEDIUM, fill="#d4d4d4")


def _section(outline: Sequence[Sequence[float]]) -> list[tuple[float, float]]:
    """From where to where the line of the conduit runs through a room, m ahead."""
    import shapely

    shape = shapely.Polygon(outline)
    (left, _, right, _) = shape.bounds
    cut = shape.intersection(shapely.LineString([(left - 1, 0.0), (right + 1, 0.0)]))
    spans = [part.bounds for part in shapely.get_parts(cut) if part.length > 1e-6]
    return [(b[0], b[2]) for b in spans] or [(left, right)]


def _line_of_pull(view: _View) -> None:
    line = view.layout.line_of_pull
    if len(line):
        view.line(line, MEDIUM, ANCHOR, LINE_OF_PULL, keep=False)
    for brace in view.layout.braces:
        view.line(brace, 0.9, ANCHOR)


def _anchor_tag(view: _View) -> None:
    """What holds the machine where it is no body of its own."""
    layout, anchor = view.layout, view.layout.plan.pull.run.anchor
    if layout.end == "feed" or isinstance(anchor, Vehicle):
        return
    if layout.braces:
        place = layout.braces[0].mean(axis=0)
        said = say("brace")
    elif len(layout.bolts):
        place = layout.bolts[0]
        said = say("anchor bolts")
    else:
        place = layout.line_of_pull[-1]
        said = say("anchor not given")
    at = _clamped(view.frame(place[None])[0], view.frame)
    view.tags.append(_Tag(at, (view.words(said),), clear=1.2))


_TITLES = {
    "machine": "MACHINE",
    "platform": "WORK PLATFORM",
    "vehicle": "VEHICLE",
    "reel": "REEL",
    "figure eights": "FIGURE EIGHTS",
}


def _bodies(view: _View) -> None:
    frame = view.frame
    order = {"platform": 0, "vehicle": 1}
    for body in sorted(view.layout.bodies, key=lambda b: order.get(b.kind, 2)):
        dash = "" if body.sized and body.placed else GHOST_DASH
        layer = ANCHOR if body.kind in ("vehicle", "platform") else MACHINE
        corners = _seen(body, frame)
        if body.kind == "reel" and frame.name == "side":
            _drum(view, body)
            continue
        view.area(corners, layer, 0.5, dash)
        if body.kind in ("machine", "vehicle"):
            low, high = corners.min(axis=0).tolist(), corners.max(axis=0).tolist()
            view.room.take_sign((low[0], low[1], high[0], high[1]))
        if body.kind == "machine" and frame.name == "plan":
            middle = frame.on(body.outline.mean(axis=0)[None])[0]
            for way in ((2.0, 0.0), (0.0, 2.0)):
                view.marks.append(
                    stroke(middle - way, middle + way, width=MEDIUM, layer=DIMENSIONS)
                )
        if body.kind == "figure eights" and frame.name == "plan":
            _eight(view, body)
    _line_of_pull(view)  # seen through the machine
    _anchor_tag(view)
    for bolt in view.layout.bolts if frame.name == "plan" else ():
        x, y = frame(bolt[None])[0].tolist()
        view.marks.append(Ring((x, y), 0.9, "#000000", MEDIUM, "#000000", layer=ANCHOR))
    for body in view.layout.bodies:
        if body.kind == "reel" and body is not view.layout.bodies[0]:
            continue
        _name(view, body)


def _seen(body: Body, frame: ViewFrame) -> Floats:
    """The outline (n, 2) mm of a prism in a view."""
    if frame.name == "plan":
        return frame.on(body.outline)
    near, far = body.outline[:, 0].min(), body.outline[:, 0].max()
    return frame.on([(near, body.low), (far, body.low), (far, body.high), (near, body.high)])


def _drum(view: _View, body: Body) -> None:
    """A reel from the side."""
    middle = np.array([body.outline[:, 0].mean(), 0.0, (body.low + body.high) / 2])
    radius = (body.high - body.low) / 2
    angle = np.linspace(0, 2 * math.pi, 49)[:-1]
    rim = view.frame.on(middle[[0, 2]] + radius * np.column_stack((np.cos(angle), np.sin(angle))))
    view.area(rim, MACHINE, 0.5, GHOST_DASH)
    x, y = view.frame(middle[None])[0].tolist()
    view.marks.append(Ring((x, y), 1.0, "#000000", MEDIUM, layer=MACHINE))


def _eight(view: _View, body: Body) -> None:
    t = np.linspace(0, 2 * math.pi, 97)
    low, high = body.outline.min(axis=0), body.outline.max(axis=0)
    loops = np.column_stack((np.sin(t), np.sin(t) * np.cos(t) * 1.6))
    points = (low + high) / 2 + loops * (high - low) / 2.3
    view.marks.append(ruled(view.frame.on(points), MEDIUM, "", CABLE))


def _name(view: _View, body: Body) -> None:
    """The name of a body, inside it where it fits."""
    layout, corners = view.layout, _seen(body, view.frame)
    low, high = corners.min(axis=0), corners.max(axis=0)
    lines = [view.words(say(_TITLES[body.kind]))]
    anchor = layout.plan.pull.run.anchor
    if body.kind == "vehicle" and anchor is not None:
        lines = [view.words(say(literal(anchor.name.upper())))]
        lines += [] if body.sized else [view.words(say("size not given"))]
    big = BIG if body.kind in ("machine", "reel") else LOUD
    if body.kind == "machine" and not (body.sized and body.placed):
        lines.append(view.words(say("size not given" if not body.sized else "place not given")))
    if body.kind in ("reel", "figure eights"):
        lines.append(view.words(say("place not given")))
    if body.kind == "reel" and not body.sized:
        lines.append(view.words(say("size not given")))
    at = (float(low[0] + high[0]) / 2, float(low[1] + high[1]) / 2)
    half = float(min(high - low)) / 2
    edge = float(low[1])
    up = math.pi / 2
    view.tags.append(_Tag((at[0], edge + min(1.0, half)), tuple(lines), big, True, 1.4, up))


def _conduit(view: _View) -> None:
    import shapely

    layout, frame = view.layout, view.frame
    flat = frame(layout.conduit)
    half = max(layout.conduit_diameter * frame.mm, _THINNEST) / 2
    if np.ptp(flat, axis=0).max() < 2 * half:
        x, y = flat[-1].tolist()
        view.solid.append(np.array(shapely.Point(x, y).buffer(half).exterior.coords))
        view.marks.append(Ring((x, y), half, "#000000", MEDIUM, "#ffffff", layer=CONDUIT))
    else:
        tube = shapely.LineString(flat).buffer(half, cap_style="flat", join_style="mitre")
        for piece in _polygons(tube.intersection(shapely.box(*frame.box))):
            view.area(np.array(piece.exterior.coords)[:-1], CONDUIT, 0.5)
        for part in _clipped(flat, frame.box):
            view.marks.append(ruled(part, THIN, LINE_OF_PULL, CONDUIT))
    end = tuple(flat[-1].tolist())
    feed = layout.end == "feed"
    lines = (view.words(say("FEED" if feed else "CONDUIT END")),)
    place = _clamped(flat[-1], frame)
    del end
    view.tags.append(_Tag(place, lines, BIG if feed else LOUD, True, half + 0.8, 0.75 * math.pi))


def _rope(view: _View) -> None:
    layout, frame = view.layout, view.frame
    dash = "" if layout.known else GHOST_DASH
    view.line(layout.rope, 0.5, ROPE, dash)
    view.line(layout.cable, 1.2 if layout.known else 0.8, CABLE, dash)
    if layout.end == "machine" and len(layout.rope) > 1:
        _pull_sign(view)
    if len(layout.head) > 1:
        _head(view, dash)
    for body in layout.bodies if layout.end == "feed" else ():
        if body.kind != "reel":
            continue
        top = np.array([*body.outline.mean(axis=0), layout.cable[-1, 2]])
        begin = layout.wheels[0].corner if layout.wheels else layout.cable[0]
        view.line(np.array([begin, top]), MEDIUM, CABLE, dash, keep=False)
    if layout.end == "feed" and len(layout.cable) > 1:
        on = frame(layout.cable)
        middle = along(on, lengths(on)[-1:] / 2)[0]
        said = (view.words(say("cable")),)
        view.tags.append(_Tag(_clamped(middle, frame), said, clear=1.0))


def _pull_sign(view: _View) -> None:
    """A tip on the last of the rope, toward the machine."""
    on = view.frame(view.layout.rope)
    way = on[-1] - on[-2]
    if np.hypot(*way) > 0.5:
        x, y = (on[-1] - 0.5 * way / np.hypot(*way)).tolist()
        view.marks.append(_tip((x, y), math.atan2(way[1], way[0]), 3.4, ROPE))


def _head(view: _View, dash: str) -> None:
    import shapely

    layout, frame = view.layout, view.frame
    flat = frame(layout.head)
    if np.hypot(*np.diff(flat, axis=0).T).sum() < 1.0:
        return
    body = shapely.LineString(flat).buffer(1.1, cap_style="flat")
    for piece in _polygons(body.intersection(shapely.box(*frame.box))):
        view.area(np.array(piece.exterior.coords)[:-1], CABLE, MEDIUM, dash)
    middle = tuple(flat[len(flat) // 2].tolist())
    x, y = flat[-1].tolist()
    view.marks.append(Ring((x, y), 1.2, "#000000", MEDIUM, "#ffffff", layer=CABLE))
    length = (layout.plan.pull.run.head_length, "length")
    lines = (view.words(say("HEAD")), view.words(say("{} long", length)))
    view.tags.append(_Tag(middle, lines, SMALL, True, 1.5))


def _wheel(view: _View, wheel: Wheel) -> None:
    frame = view.frame
    dash = "" if wheel.placed else GHOST_DASH
    if len(wheel.circle):
        rim = frame(wheel.circle)
        if np.ptp(rim, axis=0).min() < 0.8:  # seen from its edge
            low, high = rim.min(axis=0) - 0.5, rim.max(axis=0) + 0.5
            rim = np.array([low, (high[0], low[1]), high, (low[0], high[1])])
        view.area(rim[:-1] if len(rim) > 4 else rim, SHEAVES, MEDIUM, dash)
        x, y = frame(wheel.pin[None])[0].tolist()
        view.marks.append(Ring((x, y), 0.6, "#000000", MEDIUM, "#000000", layer=SHEAVES))
    if len(wheel.contact) > 1:
        view.line(wheel.contact, 1.4, SHEAVES, dash)
    at = _clamped(frame(wheel.pin[None])[0], frame)
    lines = [view.words(say("SHEAVE " + literal(wheel.name)))]
    if view.layout.end == "feed":
        lines = [view.words(say("FEED SHEAVE"))]
    if wheel.force is not None:
        lines.append(view.words(say("{}", (wheel.force, "force+"))))
        _force(view, wheel)
    if not wheel.placed:
        lines.append(view.words(say("place not given")))
    view.tags.append(_Tag(at, tuple(lines), SMALL, True, 1.6))


def _force(view: _View, wheel: Wheel) -> None:
    """The resultant of the two ropes on the fastening."""
    if wheel.direction is None:
        return
    frame = view.frame
    way = frame.flat(wheel.direction) * [1.0, -1.0] * _ARROW
    size = float(np.hypot(*way))
    if size < _LEAST_ARROW:
        return
    start = frame(wheel.pin[None])[0]
    end = start + way
    neck = end - 3.4 * way / size
    view.marks.append(ruled(np.array([start, neck]), 0.9, "", FORCES))
    view.marks.append(_tip((float(end[0]), float(end[1])), math.atan2(way[1], way[0]), 4.2, FORCES))
    view.room.take_line(np.array([start, end]), 0.8)


def _tip(at: Point, angle: float, size: float, layer: str) -> Shape:
    cos, sin = math.cos(angle), math.sin(angle)
    corners = ((0.0, 0.0), (-size, -0.32 * size), (-size, 0.32 * size))
    points = [(at[0] + a * cos - b * sin, at[1] + a * sin + b * cos) for a, b in corners]
    return Shape(points, "#000000", layer=layer)


def _operator(view: _View) -> None:
    layout, frame = view.layout, view.frame
    if layout.operator is None:
        return
    x, y = layout.operator.tolist()
    place = frame.on([[x, y if frame.name == "plan" else _foot(layout)]])[0]
    dash = "" if layout.known else GHOST_DASH
    if frame.name == "plan":
        angle = np.linspace(0, 2 * math.pi, 33)[:-1]
        ring = place + STANDING * frame.mm * np.column_stack((np.cos(angle), np.sin(angle)))
        view.area(ring, OPERATOR, 0.5, dash)
        view.marks.append(
            Ring(tuple(place.tolist()), 0.35 * STANDING * frame.mm, "#000000", MEDIUM, "#000000",
                 layer=OPERATOR)
        )  # fmt: skip
        at = tuple(place.tolist())
        clear = STANDING * frame.mm + 0.6
        view.room.take_sign((at[0] - clear, at[1] - clear, at[0] + clear, at[1] + clear))
    else:
        top = place - [0.0, _PERSON * frame.mm]
        high = float(place[1] - top[1])
        head, arm, step = 0.12 * frame.mm, 0.25 * frame.mm, 0.15 * frame.mm
        figure = (
            ((0.0, 2 * head), (0.0, 0.55 * high)),
            ((-step, high), (0.0, 0.55 * high), (step, high)),
            (
                (-arm, 2 * head + 0.9 * arm),
                (0.0, 2 * head + 0.3 * arm),
                (arm, 2 * head + 0.9 * arm),
            ),
        )
        for line in figure:
            view.marks.append(ruled(np.add(top, line), 0.5, "", OPERATOR))
        x, y = top.tolist()
        view.marks.append(Ring((x, y + head), head, "#000000", 0.5, "#ffffff", layer=OPERATOR))
        wide = 0.25 * frame.mm
        view.room.take_sign((x - wide, y, x + wide, float(place[1])))
        at, clear = tuple(top.tolist()), 1.0
    brakes = layout.end == "feed" and layout.plan.feeding.off_reel
    said = view.words(say("BRAKE" if brakes else "OPERATOR"))
    view.tags.append(_Tag(at, (said,), LOUD, True, clear))


# --- dimensions ----------------------------------------------------------------------------------


def _distances(view: _View, box: Rect) -> None:
    """A tape from the conduit end below the plan: sheaves, front and middle of the machine."""
    layout, frame = view.layout, view.frame
    if not layout.known:
        return
    wanted = [(0.0, say("conduit end"))]
    wanted += [(float(w.corner[0]), say(literal(w.name))) for w in layout.wheels]
    machine = layout.bodies[0]
    wanted.append((float(machine.outline[:2, 0].mean()), say("machine front")))
    wanted.append((float(machine.outline[:, 0].mean()), say("base center")))
    marks = [(at, ", ".join(names)) for at, names in _merged(wanted, view.words)]
    left, bottom = box[0], box[3]
    row = bottom - _ROW
    xs = frame.on([(ahead, 0.0) for ahead, _ in marks])[:, 0].tolist()
    gap = 2 + max(text_width(name, SMALL) for _, name in marks)
    span = (left + gap / 2, box[2] - gap / 2)
    if gap * (len(xs) - 1) > span[1] - span[0]:
        return
    places = spread(xs, gap, span)
    view.marks.append(stroke((left + 2, row), (box[2] - 2, row), layer=DIMENSIONS))
    for (ahead, name), x, at in zip(marks, xs, places, strict=True):
        view.marks.append(stroke((x, row - 2.2), (x, row), (at, row + 2.2), layer=DIMENSIONS))
        figure = view.words(say("{}", (ahead, "length")))
        base = row + 5.4
        view.marks.append(letters(at, base, figure, 2.3, "middle", bold=True, layer=DIMENSIONS))
        view.marks.append(letters(at, base + 3.6, name, SMALL, "middle", layer=DIMENSIONS))


def _heights(view: _View, box: Rect) -> None:
    """Heights over the floor beside the side view, or from the conduit end where none is known."""
    layout, frame = view.layout, view.frame
    wanted = [(0.0, say("conduit end"))]
    if layout.known:
        wanted += [(float(w.corner[2]), say(literal(w.name))) for w in layout.wheels]
        wanted.append((float(layout.line_of_pull[0, 2]), say("rope at machine")))
    zero = 0.0
    if layout.floor is not None:
        zero = layout.floor
        wanted.append((zero, say("floor")))
    merged = _merged(wanted, view.words)[::-1]
    marks = [(up, [line for name in names for line in _beside(name)]) for up, names in merged]
    ys = frame.on([(0.0, up) for up, _ in marks])[:, 1].tolist()
    gap, x = 3.8 + 3.0 * max(len(names) for _, names in marks), box[0] + 2.0
    top, bottom = box[1] + HEAD_ROOM + 8.0, box[3] - 4.0
    if gap * (len(ys) - 1) > bottom - top:
        return
    places = spread(ys, gap, (top, bottom))
    over = say("heights above floor") if layout.floor is not None else say("from conduit end")
    view.marks.append(
        letters(x, box[1] + HEAD_ROOM + 2.5, view.words(over), SMALL, layer=DIMENSIONS)
    )
    edge = box[0] + _COLUMN
    for (up, names), y, at in zip(marks, ys, places, strict=True):
        inner = edge - 3.0
        view.marks.append(stroke((inner, at), (edge, y), (edge + 3.0, y), layer=DIMENSIONS))
        figure = view.words(say("{}", (up - zero, "length")))
        view.marks.append(
            letters(inner - 1.0, at - 0.3, figure, 2.3, "right", bold=True, layer=DIMENSIONS)
        )
        for i, name in enumerate(names, 1):
            base = at + 3.0 * i
            view.marks.append(letters(inner - 1.0, base, name, SMALL, "right", layer=DIMENSIONS))


def _beside(name: str) -> list[str]:
    """A name beside a height, on two lines where it has to be."""
    room = _COLUMN - 6.0

    def measure(text: str, size: float, bold: bool) -> tuple[float, float]:
        return text_width(text, size, bold=bold), size

    lines = wrapped(name, room, SMALL, False, measure)
    return lines if len(lines) <= 2 else [fitted(name, SMALL, room)]


def _merged(
    wanted: Sequence[tuple[float, Phrase]], words: Words
) -> list[tuple[float, tuple[str, ...]]]:
    """Places in rising order; names of the same place (to a centimeter) together."""
    found: list[tuple[float, tuple[str, ...]]] = []
    for at, name in sorted(wanted, key=lambda one: one[0]):
        if found and at - found[-1][0] < 0.01:
            found[-1] = (found[-1][0], (*found[-1][1], words(name)))
        else:
            found.append((at, (words(name),)))
    return found


# --- where nobody stands -------------------------------------------------------------------------


def _zone_area(view: _View) -> Any:
    """All zones of a view as one shape, mm, cut at walls, floor, ceiling and the view's edge."""
    import shapely

    layout, frame = view.layout, view.frame
    area = shapely.union_all(
        [shapely.Polygon(frame.on(getattr(z, frame.name))) for z in layout.zones]
    )
    # a gap that no person fits into is no place to stand
    gap = STANDING * frame.mm
    area = area.buffer(gap, quad_segs=4).buffer(-gap, quad_segs=4).simplify(0.02)
    walls = []
    for room in layout.closed_rooms:
        if frame.name == "plan":
            walls.append(shapely.Polygon(frame.on(room.outline)))
        else:
            ahead = [x for x, _ in room.outline]
            (x0, y0), (x1, y1) = frame.on(
                [(min(ahead), room.floor), (max(ahead), room.ceiling or room.floor)]
            ).tolist()
            walls.append(shapely.box(x0, y1, x1, y0))
    if walls:
        area = area.intersection(shapely.union_all(walls))
    elif frame.name == "side" and layout.floor is not None:
        area = area.intersection(_above_floor(layout, frame))
    area = area.intersection(shapely.box(*frame.box))
    solid = [shapely.Polygon(corners).buffer(0) for corners in view.solid]
    return area.difference(shapely.union_all(solid)) if solid else area


def _above_floor(layout: RiggingLayout, frame: ViewFrame) -> Any:
    """Where somebody could stand in the side view: over the floor, or in the pit of the rope."""
    import shapely

    assert layout.floor is not None
    y = float(frame.on([(0.0, layout.floor)])[0, 1])
    open_air = shapely.box(-1e4, -1e4, 1e4, y)
    line = np.vstack((layout.rope, layout.cable))
    below = line[line[:, 2] < layout.floor, 0]
    if not len(below):
        return open_air
    (left, _), (right, _) = frame.on([(below.min(), 0.0), (below.max() + 0.5, 0.0)]).tolist()
    return open_air.union(shapely.box(left, y - 1.0, right, 1e4))


def _hatching(view: _View, zones: Any) -> Iterator[Mark]:
    """The hatching, left out under words."""
    import shapely

    taken = shapely.union_all([shapely.box(*inset(box, -0.6)) for box in view.boxes])
    for piece in _polygons(zones.difference(taken)):
        if piece.area < 0.5:
            continue
        outer = np.array(piece.exterior.coords)[:-1]
        holes = tuple(np.array(ring.coords)[:-1] for ring in piece.interiors)
        yield Shape(outer, "nobody", "", 0.18, holes, layer=NOBODY)
    for part in shapely.get_parts(shapely.boundary(zones).difference(taken)):
        if part.length > 0.5:
            yield ruled(np.array(part.coords), 0.25, "", NOBODY)


def _nobody(view: _View, zones: Any) -> bool:
    """NOBODY HERE, as large as fits the hatching; false where it fits nowhere."""
    import shapely

    text = view.words(say("NOBODY HERE"))
    shapely.prepare(zones)
    left, top, right, bottom = zones.bounds
    for size in _NOBODY_SIZES:
        half = np.array([text_width(text, size, bold=True) / 2 + 0.8, size / 2 + 0.8])
        if right - left < 2 * half[0] or bottom - top < 2 * half[1]:
            continue
        x = np.arange(left + half[0], right - half[0] + 1e-9, 2.0)
        y = np.arange(top + half[1], bottom - half[1] + 1e-9, 1.5)
        middles = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
        boxes = np.hstack((middles - half, middles + half))
        boxes = boxes[shapely.contains(zones, shapely.box(*boxes.T))]
        away = abs((boxes[:, [1, 0]] + boxes[:, [3, 2]]) / 2 - view.frame.origin[::-1])
        for i in np.argsort(away @ [1.0, 0.1], kind="stable")[:_TRIED]:
            box: Rect = tuple(boxes[i].tolist())
            if view.room.free(box):
                _say(view, box, (text,), size, bold=True)
                view.room.take(box)
                return True
    return False


# --- labels --------------------------------------------------------------------------------------


def _labels(view: _View, zones: Any) -> Iterator[str]:
    """Place the labels, loud ones first; those without room are given back."""
    if not zones.is_empty and not _nobody(view, zones):
        spot = zones.representative_point()
        text = view.words(say("NOBODY HERE"))
        view.tags.append(_Tag((spot.x, spot.y), (text,), _NOBODY_SIZES[1], True, 0.0))
    for tag in sorted(view.tags, key=lambda tag: -tag.size):
        if not _placed(view, tag):
            yield " ".join(tag.lines)


def _placed(view: _View, tag: _Tag) -> bool:
    wide = max(
        text_width(line, tag.size if i == 0 else SMALL, bold=tag.bold and i == 0)
        for i, line in enumerate(tag.lines)
    )
    high = _bases(tag.size, len(tag.lines))[-1] + 0.35 * SMALL
    wish = Wish(tag.at, (wide, high), tag.clear, prefer=tag.prefer, sign=tag.clear)
    found = view.room.find(wish) or view.room.find(wish, strict=False)
    if found is None:
        return False
    box, elbow = found
    leader = np.array([tag.at, elbow])
    view.room.take(box, leader)
    if math.dist(tag.at, elbow) > tag.clear + 2.6:
        view.marks.append(ruled(leader, THIN, "", LABELS))
        view.marks.append(Ring(tag.at, 0.45, "#000000", THIN, "#000000", layer=LABELS))
    _say(view, box, tag.lines, tag.size, bold=tag.bold)
    return True


def _say(view: _View, box: Rect, lines: Sequence[str], size: float, *, bold: bool) -> None:
    """Words in a box: the first line in its size, the others small."""
    middle = (box[0] + box[2]) / 2
    bases = [box[1] + base for base in _bases(size, len(lines))]
    if len(lines) == 1:
        bases = [(box[1] + box[3]) / 2 + size / 2]
    for i, (line, base) in enumerate(zip(lines, bases, strict=True)):
        height = size if i == 0 else SMALL
        mark = letters(middle, base, line, height, "middle", bold=bold and i == 0, layer=LABELS)
        view.marks.append(mark)
        view.boxes.append(mark.box)


def _bases(size: float, lines: int) -> list[float]:
    """Base lines of a label below its top: the first line in its size, the others small."""
    return [1.12 * size, *(1.48 * size + 1.1 * SMALL + 1.45 * SMALL * i for i in range(lines - 1))]


# --- shapes --------------------------------------------------------------------------------------


def _clamped(at: Floats, frame: ViewFrame) -> Point:
    """A place moved into the view."""
    left, top, right, bottom = inset(frame.box, 1.0)
    return (
        min(max(float(at[0]), left), right),
        min(max(float(at[1]), top), bottom),
    )


def _clipped(points: Floats, box: Rect) -> Iterable[Floats]:
    """The parts of a line (n, 2) inside a box."""
    import shapely

    if np.ptp(points, axis=0).max() < 1e-6:
        return
    for part in shapely.get_parts(shapely.LineString(points).intersection(shapely.box(*box))):
        if part.geom_type == "LineString" and part.length > 1e-6:
            yield np.array(part.coords)


def _polygons(shape: Any) -> Iterator[Any]:
    import shapely

    for part in shapely.get_parts(shape):
        if part.geom_type == "Polygon" and not part.is_empty:
            yield part
