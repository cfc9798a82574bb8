"""What stands at one end of a pull: a record in meters, ready to be drawn to scale.

All places are in the frame of the conduit end: ahead along the level direction in which the cable
comes out (or from which it comes in), aside to the left of it, and up. What the model file does not
give is marked as not known: it is drawn dashed and said, and no figure of it is printed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np

from route3d.checks.limits import NO_BRAKE
from route3d.errors import GeometryError
from route3d.geometry.fillet import fillet
from route3d.geometry.path import ARC, Path
from route3d.geometry.vectors import Floats, frozen, norm, unit
from route3d.mechanics.lead_off import turn_loads
from route3d.mechanics.pull import Pull
from route3d.model.anchor import ConduitBrace, FloorBolts, Vehicle, WorkPlatform
from route3d.model.job import Job
from route3d.model.rigging import HEAD_LENGTH, LeadOff
from route3d.model.room import Polygon, Room
from route3d.phrase import Phrase, literal, say
from route3d.planning.margins import brake_words
from route3d.planning.placement.rope_legs import PullEnd, pull_end, pulling_end, rope_lines
from route3d.planning.placement.search import Placement
from route3d.planning.placement.site import rooms_at
from route3d.planning.pull_plan.feeding import held_at_rest
from route3d.planning.pull_plan.load_path import pulling_conduit
from route3d.planning.pull_plan.plan import Plan
from route3d.planning.pull_plan.sheaves import SheaveForce
from route3d.planning.rigging.danger_zones import (
    BESIDE,
    CONE,
    DangerZone,
    rope_zones,
    under_load,
    zone_of,
)
from route3d.planning.rigging.operator_place import place_beside

End = Literal["machine", "feed"]
BodyKind = Literal["machine", "platform", "vehicle", "reel", "figure eights"]

# Conduit shown behind its end, m.
_STUB = 1.5
# A groove of a larger radius is a quadrant of rollers and no whole wheel, m (own judgement).
LARGEST_WHEEL = 0.75
# Sizes and distances of what the file gives none of: it must be drawn somewhere, dashed, and no
# figure of it is ever printed, m.
_NO_SIZE = (1.0, 0.7, 1.0)
_NO_LEG = 2.0
_LEVEL = 0.1  # rad: legs are level alike
_NO_VEHICLE = 1.6
_NO_REEL = 1.4
_NO_WIDTH = 0.8
_CHORD = 0.004  # m, of arcs
_MANY_REELS = 6  # drawn side by side


@dataclass(frozen=True, slots=True, eq=False)
class Body:
    """An upright prism: ``outline`` (n, 2) m in plan from ``low`` to ``high`` m.

    ``sized`` is false where its size is not given, ``placed`` where its place is not: then it is
    drawn dashed.
    """

    kind: BodyKind
    outline: Floats
    low: float
    high: float
    sized: bool = True
    placed: bool = True


@dataclass(frozen=True, slots=True, eq=False)
class Wheel:
    """A sheave: the groove's ``contact`` (n, 3) m with the rope and its ``circle`` (k, 3) m.

    ``pin`` (3,) is where its force acts: the axle of a wheel, the middle of a quadrant of rollers,
    which has no ``circle``. ``corner`` (3,) is where the ropes would meet, which a crew measures
    to. ``force`` N pulls it in ``direction`` (3,); None where that is not known. ``turn`` rad and
    ``radius`` m are None where not given.
    """

    name: str
    corner: Floats
    contact: Floats
    circle: Floats
    pin: Floats
    radius: float
    turn: float | None
    force: float | None
    direction: Floats | None
    held_by: str = ""
    placed: bool = True


@dataclass(frozen=True, slots=True, eq=False)
class Entry:
    """One thing of the drawing in words: a ``title`` and what the crew must know of it."""

    title: Phrase
    lines: tuple[Phrase, ...]


@dataclass(frozen=True, slots=True, eq=False)
class RiggingLayout:
    """One end of one pull, in the frame of its conduit end, m and N.

    ``conduit`` (n, 3) is the last of the conduit, up to its end at the origin; ``rope`` (n, 3) the
    rope from there to the machine, and at the feed end the cable from there to the reel; ``cable``
    and ``head`` (n, 3) the part of that line that cable and head take when they are drawn out.
    ``line_of_pull`` (2, 3) goes on from the end of the rope through the machine to what holds it.
    ``braces`` and ``bolts`` (n, 3) hold the machine. ``turn`` is the angle of ahead from east, rad;
    ``level`` m the elevation of the conduit end. ``floor`` m is that of the machine below the
    origin, None where not known. ``rooms`` and ``obstacles`` are outlines in the frame.
    ``operator`` (2,) is None where no place is clear of the ``zones``. ``known`` is false where the
    rope's way is not known.
    """

    end: End
    plan: Plan
    place: str
    turn: float
    level: float
    conduit: Floats
    conduit_diameter: float
    rope: Floats
    cable: Floats
    head: Floats
    known: bool
    wheels: tuple[Wheel, ...]
    bodies: tuple[Body, ...]
    line_of_pull: Floats
    braces: tuple[Floats, ...]
    bolts: Floats
    rooms: tuple[Room, ...]
    floor: float | None
    operator: Floats | None
    zones: tuple[DangerZone, ...]
    entries: tuple[Entry, ...]

    def body(self, kind: BodyKind) -> Body | None:
        """The first body of a kind."""
        return next((b for b in self.bodies if b.kind == kind), None)

    @property
    def closed_rooms(self) -> tuple[Room, ...]:
        """Rooms with a ceiling: their walls stop a broken rope, and nobody stands outside them."""
        return tuple(r for r in self.rooms if r.ceiling is not None)


def rigging_layouts(plan: Plan, job: Job) -> tuple[RiggingLayout, RiggingLayout]:
    """Machine end and feed end of a plan.

    ValueError for a pull that must not be made: nobody may rig for it.
    """
    if plan.stops:
        raise ValueError(f"run {plan.result.run.name}: this pull must not be made")
    return machine_layout(plan), feed_layout(plan, job)


@dataclass(frozen=True, slots=True, eq=False)
class _Frame:
    """From the grid to ahead, aside and up of a conduit end."""

    point: Floats
    out: Floats

    def __call__(self, points: Floats | Sequence[Sequence[float]]) -> Floats:
        rel = np.asarray(points, dtype=np.float64) - self.point
        return np.stack(
            (
                rel[..., :2] @ self.out,
                rel[..., :2] @ np.array([-self.out[1], self.out[0]]),
                rel[..., 2],
            ),
            axis=-1,
        )

    def way(self, direction: Floats) -> Floats:
        """A direction (3,)."""
        return self(direction + self.point)

    def outline(self, corners: Polygon) -> Polygon:
        """A polygon of the plan grid."""
        flat = self([(*corner, 0.0) for corner in corners])
        return tuple((float(x), float(y)) for x, y in flat[:, :2])

    def room(self, room: Room) -> Room:
        """A room with its heights from the conduit end."""
        z = float(self.point[2])
        return replace(
            room,
            outline=self.outline(room.outline),
            floor=room.floor - z,
            ceiling=None if room.ceiling is None else room.ceiling - z,
            obstacles=tuple(self.outline(o) for o in room.obstacles),
        )

    @staticmethod
    def of(end: PullEnd) -> _Frame:
        flat = end.outward[:2] if np.hypot(*end.outward[:2]) > 0.1 else end.heading[:2]
        return _Frame(end.point, flat / np.hypot(*flat))


# --- the machine end -----------------------------------------------------------------------------


def machine_layout(plan: Plan) -> RiggingLayout:
    """The end the machine pulls from."""
    pull, run = plan.pull, plan.pull.run
    end = pull_end(pull)
    frame = _Frame.of(end)
    spot = plan.placement.best[0] if plan.placement.best else None
    if spot is not None and not _has_room(run.lead_off, np.array(spot.rope)):
        spot = None  # a location that was not checked, with no room for its sheaves
    corners = frame(np.array(spot.rope)) if spot else _guessed(plan, end, frame)
    line, wheels = _lead_off(plan, corners, frame, known=spot is not None)
    bodies = _machine_bodies(plan, spot, frame, corners)
    machine = bodies[0]
    out = min(plan.reach, line.length)
    drawn = max(out - run.head_length, 0.0)
    floor = None if spot is None or spot.floor is None else spot.floor - float(end.point[2])
    rooms = tuple(frame.room(room) for room in plan.rooms)
    zones = [*rope_zones(corners, float(norm(np.diff(corners, axis=0)).sum()))]
    if floor is not None:
        zones += under_load(corners, floor)
    vehicle = next((b for b in bodies if b.kind == "vehicle"), None)
    if vehicle is not None:
        zones.append(_between(machine, vehicle))
    rope = line.point(line.sample(_CHORD))
    layout = RiggingLayout(
        end="machine",
        plan=plan,
        place=pull.pull_name,
        turn=math.atan2(frame.out[1], frame.out[0]),
        level=float(end.point[2]),
        conduit=frame(_last_of(pull.path if not pull.reverse else pull.path.reversed())),
        conduit_diameter=pulling_conduit(pull).outer_diameter,
        rope=frozen(rope),
        cable=frozen(_part(line, 0.0, drawn)),
        head=frozen(_part(line, drawn, out)),
        known=spot is not None,
        wheels=wheels,
        bodies=bodies,
        line_of_pull=_line_of_pull(machine, vehicle, corners),
        braces=_braces(plan, machine, corners),
        bolts=_bolts(plan, machine),
        rooms=rooms,
        floor=floor,
        operator=_operator(machine, bodies[1:], zones, rooms, spot.sides if spot else ()),
        zones=tuple(zones),
        entries=(),
    )
    return replace(layout, entries=tuple(_machine_entries(layout, spot)))


def _has_room(lead_off: Sequence[LeadOff], corners: Floats) -> bool:
    """Whether every leg of a rope through ``corners`` (n, 3) m is as long as its sheaves need."""
    radii = [turn.sheave.radius if turn.sheave else 0.0 for turn in lead_off]
    tangent = [r * math.tan(t.turn / 2) for r, t in zip(radii, lead_off, strict=True)]
    need = np.add([0.0, *tangent], [*tangent, 0.0])
    turned = [True, *(turn.sheave is not None for turn in lead_off)]
    legs = norm(np.diff(corners, axis=0))
    return bool(((legs >= need - 1e-6) & ((legs > 1e-6) | ~np.array(turned))).all())


def _guessed(plan: Plan, end: PullEnd, frame: _Frame) -> Floats:
    """A rope (n, 3) for the drawing where no machine location is known: turned upward first."""
    run = plan.pull.run
    lines = rope_lines(end, run.lead_off, math.pi / 2)
    if not lines:
        return np.vstack((np.zeros(3), _NO_LEG * frame.way(end.outward)))
    level = min(abs(float(line.directions[-1, 2])) for line in lines)
    upward = max(
        (line for line in lines if abs(float(line.directions[-1, 2])) < level + _LEVEL),
        key=lambda line: (
            round(float(line.directions[:, 2].sum()), 1),
            round(float(line.directions[-1] @ end.heading), 1),
        ),
    )
    corners = [np.zeros(3)]
    for direction, least, free in zip(upward.directions, upward.least, upward.free, strict=True):
        leg = least + _NO_LEG if free else 0.0
        corners.append(corners[-1] + leg * frame.way(direction))
    return np.array(corners)


def _lead_off(
    plan: Plan, corners: Floats, frame: _Frame, *, known: bool
) -> tuple[Path, tuple[Wheel, ...]]:
    """The rope's line from the conduit end to the machine, and its sheaves."""
    run = plan.pull.run
    friction = run.rope.friction if run.rope else 0.0
    factor = math.prod(t.after / t.before for t in turn_loads(run.lead_off, friction, 1.0))
    loads = turn_loads(run.lead_off, friction, plan.peak / factor)
    directions = iter(_of_lead_off(plan))
    radii = np.zeros(len(corners))
    for i, turn in enumerate(run.lead_off, 1):
        radii[i] = turn.sheave.radius if turn.sheave else 0.0
    line = _rounded(corners, radii)
    wheels = []
    for i, load in enumerate(loads, 1):
        if (sheave := load.turn.sheave) is None:
            continue
        force = next(directions)
        contact = _arc_at(line, corners[i])
        way = frame.way(force.direction) if known and force.direction is not None else None
        wheels.append(
            _wheel(sheave.name, corners, i, contact, sheave.radius, load.turn.turn, known)
        )
        wheels[-1] = replace(wheels[-1], force=force.force, direction=way, held_by=sheave.held_by)
    return line, tuple(wheels)


def _of_lead_off(plan: Plan) -> list[SheaveForce]:
    count = sum(turn.sheave is not None for turn in plan.pull.run.lead_off)
    return list(plan.sheaves[:count])


def _rounded(corners: Floats, radii: Floats) -> Path:
    """The line through corners, rounded where the sheaves have room."""
    apart = np.concatenate(([True], norm(np.diff(corners, axis=0)) > 1e-6))
    points, wanted = corners[apart], radii[apart]
    every = range(len(points))
    try:
        return fillet(points, wanted, corners=every)
    except GeometryError:  # a place that was not checked may leave a sheave too little room
        return fillet(points, np.zeros(len(points)), corners=every)


def _arc_at(line: Path, corner: Floats) -> Floats:
    """The arc (n, 3) of a line nearest to a corner; the corner alone where it was not rounded."""
    arcs = np.flatnonzero(line.kind == ARC)
    if not len(arcs):
        return corner[None]
    stations = (line.stations[arcs] + line.stations[arcs + 1]) / 2
    nearest = int(np.argmin(norm(line.point(stations) - corner)))
    i = arcs[nearest]
    return line.point(np.linspace(line.stations[i], line.stations[i + 1], 33))


def _wheel(
    name: str,
    corners: Floats,
    i: int,
    contact: Floats,
    radius: float,
    turn: float | None,
    placed: bool,
) -> Wheel:
    before, after = unit(corners[i - 1] - corners[i]), unit(corners[i + 1] - corners[i])
    inward = before + after
    middle = contact[len(contact) // 2]
    circle, pin = np.empty((0, 3)), middle
    if radius <= LARGEST_WHEEL and norm(inward) > 1e-9:
        pin = middle + radius * unit(inward)
        u, v = -unit(inward), unit(after - before)
        angle = np.linspace(0, 2 * math.pi, 49)[:, None]
        circle = pin + radius * (np.cos(angle) * u + np.sin(angle) * v)
    return Wheel(name, corners[i], contact, circle, pin, radius, turn, None, None, placed=placed)


def _machine_bodies(
    plan: Plan, spot: Placement | None, frame: _Frame, corners: Floats
) -> tuple[Body, ...]:
    """The machine, then what stands under or behind it."""
    machine, anchor = plan.machine, plan.pull.run.anchor
    size = machine.envelope or _NO_SIZE
    if spot is None:
        toward = unit((corners[-1] - corners[-2]) * [1.0, 1.0, 0.0] + [1e-12, 0.0, 0.0])[:2]
        middle = corners[-1, :2] + toward * size[0] / 2
        low = float(corners[-1, 2]) - (machine.line_height or size[2] / 2)
        front = -toward
    else:
        feet = frame(np.array(spot.position))
        middle, low = feet[:2], float(feet[2])
        front = frame.way(np.array([math.cos(spot.yaw), math.sin(spot.yaw), 0.0]))[:2]
    sized, placed = machine.envelope is not None, spot is not None
    found = [
        Body("machine", box(middle, front, size[0], size[1]), low, low + size[2], sized, placed)
    ]
    if isinstance(anchor, WorkPlatform):
        floor = None if spot is None or spot.floor is None else spot.floor - float(frame.point[2])
        known = floor is not None
        foot = floor if floor is not None else low - _NO_SIZE[2]
        if foot < low - 1e-3:
            outline = box(middle, front, size[0] + 0.4, size[1] + 0.4)
            found.append(Body("platform", outline, foot, low, False, known))
    if isinstance(anchor, Vehicle):
        sized = anchor.length is not None and anchor.width is not None
        length, width = anchor.length or _NO_VEHICLE, anchor.width or max(size[1], _NO_WIDTH)
        behind = size[0] / 2 + anchor.drawbar + length / 2
        outline = box(middle - behind * front, front, length, width)
        found.append(Body("vehicle", outline, low, low + max(size[2], 1.0), sized, placed))
    return tuple(found)


def box(middle: Floats, front: Floats, length: float, width: float) -> Floats:
    """A rectangle (4, 2): front left, front right, rear right, rear left, seen from behind it."""
    left = np.array([-front[1], front[0]])
    signs = ((1, 1), (1, -1), (-1, -1), (-1, 1))
    return np.array([middle + a * front * length / 2 + b * left * width / 2 for a, b in signs])


def _between(machine: Body, vehicle: Body) -> DangerZone:
    """Between a machine and the vehicle it is hitched to."""
    low = min(machine.low, vehicle.low)
    edges = (*machine.outline[2:], *vehicle.outline[:2])
    return zone_of("between", [(np.array([*p, low + 0.5]), None, 0.05) for p in edges])


def _line_of_pull(machine: Body, vehicle: Body | None, corners: Floats) -> Floats:
    """From where the rope enters the machine through it, to what holds it (2, 3)."""
    front, rear = machine.outline[:2].mean(axis=0), machine.outline[2:].mean(axis=0)
    last = rear + 0.3 * unit(rear - front)
    if vehicle is not None:
        last = vehicle.outline[:2].mean(axis=0)
    height = corners[-1, 2]
    start = np.array([*front, height])
    return np.vstack((start, [*last, height]))


def _braces(plan: Plan, machine: Body, corners: Floats) -> tuple[Floats, ...]:
    """Struts from the conduit end to the machine's front, (2, 3) each."""
    anchor = plan.pull.run.anchor
    brace = anchor.brace if isinstance(anchor, WorkPlatform) else anchor
    if not isinstance(brace, ConduitBrace):
        return ()
    height = corners[-1, 2]
    return tuple(
        np.vstack((np.zeros(3), [*(0.6 * corner + 0.4 * other), height]))
        for corner, other in (machine.outline[:2], machine.outline[1::-1])
    )


def _bolts(plan: Plan, machine: Body) -> Floats:
    """The bolts (n, 3): their pattern about the middle of the feet, as its loads are worked out."""
    anchor = plan.pull.run.anchor
    if not isinstance(anchor, FloorBolts):
        return np.empty((0, 3))
    at = np.array(anchor.bolts, dtype=np.float64)
    front = unit(machine.outline[:2].mean(axis=0) - machine.outline[2:].mean(axis=0))
    left = np.array([-front[1], front[0]])
    along = at[:, 0] - at[:, 0].mean()
    places = machine.outline.mean(axis=0) + along[:, None] * front + at[:, 1, None] * left
    return np.column_stack((places, np.full(len(at), machine.low)))


def _operator(
    machine: Body,
    others: Sequence[Body],
    zones: Sequence[DangerZone],
    rooms: Sequence[Room],
    sides: Sequence[str],
) -> Floats | None:
    blocked: list[Polygon | Floats] = [b.outline for b in others]
    blocked += [o for r in rooms for o in r.obstacles]
    walls = [room.outline for room in rooms if room.ceiling is not None]
    return place_beside(machine.outline, zones, blocked, walls, sides)


# --- the feed end --------------------------------------------------------------------------------


def feed_layout(plan: Plan, job: Job) -> RiggingLayout:
    """The end the cable is fed in from: reels or figure eights, feed sheave and brake."""
    pull, run, fed = plan.pull, plan.pull.run, plan.feeding
    path = pull.path.reversed() if not pull.reverse else pull.path
    along = np.stack((path.tangents, path.end_tangents), axis=1).reshape(-1, 3)
    level = along[np.hypot(along[:, 0], along[:, 1]) > 0.1]
    heading = level[-1] if len(level) else np.array([1.0, 0.0, 0.0])
    end = pulling_end(path.ends[-1], path.end_tangents[-1], heading)
    frame = _Frame.of(end)
    rooms_there = rooms_at(end.point, job.site.rooms)
    rooms = tuple(frame.room(room) for room in rooms_there)
    floor = max((r.floor for r in rooms if r.floor <= 0.0), default=None)
    outward = frame.way(end.outward)
    reel = run.reel
    diameter = (reel.diameter if reel else None) or _NO_REEL
    width = (reel.width if reel else None) or _NO_WIDTH
    sized = reel is not None and reel.diameter is not None and reel.width is not None
    wheels, corners, line, toward = _feed_line(plan, outward, diameter, floor)
    drum = line.ends[-1] + diameter / 2 * toward
    count = min((reel.count if reel else None) or run.cables.count, _MANY_REELS)
    if fed.off_reel:
        bodies = tuple(
            Body(
                "reel",
                box(
                    np.add(drum[:2], (0.0, (i - (count - 1) / 2) * 1.25 * width)),
                    np.array([-1.0, 0.0]),
                    diameter,
                    width,
                ),
                float(drum[2]) - diameter / 2,
                float(drum[2]) + diameter / 2,
                sized,
                False,
            )
            for i in range(count)
        )
    else:
        low = float(line.ends[-1][2]) if floor is None else floor
        pile = box(np.add(line.ends[-1][:2], (1.2, 0.0)), np.array([-1.0, 0.0]), 2.4, 1.6)
        bodies = (Body("figure eights", pile, low, low + 0.3, False, False),)
    zones = _feed_zones(corners, bodies, floor)
    around = np.vstack([b.outline for b in bodies])
    (x, y), (right, back) = around.min(axis=0), around.max(axis=0)
    all_round = np.array([(x, y), (x, back), (right, back), (right, y)])
    operator = place_beside(all_round[[0, 1, 2, 3]], zones, (), ())
    conduit = run.route.conduits[-1 if pull.reverse else 0]
    layout = RiggingLayout(
        end="feed",
        plan=plan,
        place=pull.feed_name,
        turn=math.atan2(frame.out[1], frame.out[0]),
        level=float(end.point[2]),
        conduit=frame(_last_of(path)),
        conduit_diameter=conduit.outer_diameter,
        rope=np.empty((0, 3)),
        cable=frozen(line.point(line.sample(_CHORD))),
        head=np.empty((0, 3)),
        known=False,
        wheels=wheels,
        bodies=bodies,
        line_of_pull=np.empty((0, 3)),
        braces=(),
        bolts=np.empty((0, 3)),
        rooms=rooms,
        floor=floor,
        operator=operator,
        zones=zones,
        entries=(),
    )
    return replace(layout, entries=tuple(_feed_entries(layout)))


def _feed_line(
    plan: Plan, outward: Floats, diameter: float, floor: float | None
) -> tuple[tuple[Wheel, ...], Floats, Path, Floats]:
    """Feed sheave, corners and line of the cable from the conduit end, and the way to the axle.

    A level cable is turned upward, a plumb one to the level; where it is not turned and the floor
    is known, it comes down from the top of a reel that stands there.
    """
    pull, reel = plan.pull, plan.pull.run.reel
    away = 1.3 * diameter
    radius = reel.sheave_radius if reel else None
    turn = reel.feed_turn if reel else 0.0
    ahead, up = np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0])
    steep = abs(float(outward[2])) > math.sqrt(0.5)
    toward = ahead if steep else up
    side = unit(toward - (toward @ outward) * outward)
    if not turn:
        stop = outward * (away + (radius or 0.0))
        if floor is not None and not steep:
            stop = np.array([stop[0], stop[1], floor + diameter])
        corners = np.vstack((np.zeros(3), stop))
        axle = ahead if steep else -up
        wheels: tuple[Wheel, ...] = ()
        if radius is not None:
            wheels = (_under_the_cable(radius, outward, axle),)
        return wheels, corners, _rounded(corners, np.zeros(2)), axle
    groove = radius or 0.0
    turned = math.cos(turn) * outward + math.sin(turn) * side
    first = outward * (groove * math.tan(min(turn, 2.6) / 2) + 0.25)
    last = first + turned * (groove * math.tan(min(turn, 2.6) / 2) + away)
    corners = np.vstack((np.zeros(3), first, last))
    line = _rounded(corners, np.array([0.0, groove, 0.0]))
    wheel = _wheel("feed sheave", corners, 1, _arc_at(line, first), groove, turn, False)
    force = 2 * pull.start_tension * math.sin(turn / 2)
    before, after = unit(corners[0] - first), unit(last - first)
    wheel = replace(wheel, force=force, direction=unit(before + after), placed=False)
    axle = unit(np.cross(np.cross(outward, side), turned))
    axle = axle if axle[0] >= 0 and abs(axle[0]) > 0.1 else -axle
    if abs(turned[2]) < 0.5:
        axle = -up
    return (wheel,), corners, line, axle


def _under_the_cable(radius: float, outward: Floats, axle: Floats) -> Wheel:
    """A feed sheave of which no turn is given: the cable lies on it at the conduit end."""
    touch = outward * (min(radius, LARGEST_WHEEL) + 0.1)
    axle = touch + radius * unit(axle - (axle @ outward) * outward)
    whole = radius <= LARGEST_WHEEL
    half = math.pi if whole else math.pi / 4
    angle = np.linspace(-half, half, 49)[:, None]
    u, v = unit(touch - axle), outward
    arc = axle + radius * (np.cos(angle) * u + np.sin(angle) * v)
    circle, contact = (arc, touch[None]) if whole else (np.empty((0, 3)), arc)
    pin = axle if whole else touch
    return Wheel("feed sheave", touch, contact, circle, pin, radius, None, None, None, placed=False)


def _feed_zones(
    corners: Floats, bodies: Sequence[Body], floor: float | None
) -> tuple[DangerZone, ...]:
    """The cable's line from the reels into the conduit, the bight, and under what is overhead."""
    fronts = [np.array([*p, corners[-1, 2]]) for b in bodies for p in b.outline[:2]]
    zones = [zone_of("line", [(p, None, BESIDE) for p in (a, b)]) for a, b in pairwise(corners)]
    zones.append(zone_of("line", [(p, None, BESIDE) for p in (corners[-2], *fronts)]))
    if len(corners) > 2:
        zones.append(zone_of("bight", [(p, None, BESIDE) for p in corners[:3]]))
    if floor is not None:
        zones += under_load(corners, floor)
    return tuple(zones)


# --- lines ---------------------------------------------------------------------------------------


def _last_of(path: Path) -> Floats:
    """The last of a conduit up to its end, (n, 3) m."""
    return _part(path, max(path.length - _STUB, 0.0), path.length)


def _part(line: Path, start: float, end: float) -> Floats:
    """A line from one station to another, (n, 3) m; empty where they are the same."""
    if end - start < 1e-6:
        return np.empty((0, 3))
    inner = line.sample(_CHORD)
    inner = inner[(inner > start) & (inner < end)]
    return line.point(np.concatenate(([start], inner, [end])))


# --- words ---------------------------------------------------------------------------------------

_NOT_GIVEN = say("not given")


def _machine_entries(layout: RiggingLayout, spot: Placement | None) -> list[Entry]:
    plan, run = layout.plan, layout.plan.pull.run
    length = "length"
    found = [Entry(say("CONDUIT END"), (_elevation(layout), *_above_floor(layout)))]
    drawn = max(plan.reach - run.head_length, 0.0)
    head = [
        say("{} long, front drawn out to {} along the rope", (run.head_length, length),
            (plan.reach, length)),
    ]  # fmt: skip
    if run.head_assumed:
        head.append(say("length not given: {} assumed", (HEAD_LENGTH, length)))
    if spot is not None and (lacks := spot.lacks(plan.reach)):
        head.append(say("rope too short for that by {}", (lacks, "length+")))
    elif drawn > 0:
        head.append(say("cable drawn out behind it: {}", (drawn, length)))
    found.append(Entry(say("HEAD"), tuple(head)))
    found += [_wheel_entry(layout, wheel) for wheel in layout.wheels]
    found.append(_machine_entry(layout, spot))
    found.append(_anchor_entry(layout))
    found.append(_operator_entry(layout))
    if run.rope is not None:
        rope = [say("largest planned load at the machine {}", (plan.peak, "force+"))]
        if spot is not None:
            rope.append(say("{} of rope, conduit end to machine", (spot.distance, length)))
        found.append(Entry(say("ROPE " + literal(run.rope.name)), tuple(rope)))
    found.append(_zone_entry(layout))
    return found


def _elevation(layout: RiggingLayout) -> Phrase:
    return say("centerline at elev. {}", (layout.level, "length"))


def _above_floor(layout: RiggingLayout) -> tuple[Phrase, ...]:
    if layout.floor is None:
        return (say("floor level not given"),)
    if layout.floor > 1e-3:
        return (say("{} below the floor", (layout.floor, "length")),)
    return (say("{} above the floor", (-layout.floor, "length")),)


def _wheel_entry(layout: RiggingLayout, wheel: Wheel) -> Entry:
    title = say("SHEAVE " + literal(wheel.name)) if layout.end == "machine" else say("FEED SHEAVE")
    lines = [say("groove radius {}", (wheel.radius, "radius")) if wheel.radius else
             say("radius not given")]  # fmt: skip
    if wheel.turn is None:
        lines.append(say("turn of the cable not given"))
    else:
        lines[0] += say(", turn {}", (wheel.turn, "angle"))
    if wheel.placed:
        ahead, aside, up = wheel.corner.tolist()
        way = "ahead" if ahead >= -1e-3 else "behind"
        where = say(f"rope corner {{}} {way}", (abs(ahead), "length"))
        if abs(aside) > 0.02:
            where += say(", {} " + ("left" if aside > 0 else "right"), (abs(aside), "length"))
        if abs(up) > 0.02:
            where += say(", {} " + ("above" if up > 0 else "below"), (abs(up), "length"))
        lines.append(where + say(" (from conduit end)"))
    elif wheel.turn is None or layout.end == "machine":
        lines.append(say("place not given"))
    else:
        lines.append(say("place and side of the turn not given: set on site"))
    if wheel.force is not None:
        lines.append(say("force on its fastening {}", (wheel.force, "force+")))
        forces = [f for f in layout.plan.sheaves if f.sheave.name == wheel.name]
        if layout.end == "machine" and forces:
            blind = replace(forces[0], direction=forces[0].direction if wheel.placed else None)
            lines.append(say("pulls ") + blind.words)
    if layout.end == "machine":
        lines.append(
            say("held by " + literal(wheel.held_by)) if wheel.held_by
            else say("held by: not given")
        )  # fmt: skip
    return Entry(title, tuple(lines))


def _machine_entry(layout: RiggingLayout, spot: Placement | None) -> Entry:
    machine = layout.plan.machine
    lines: list[Phrase] = []
    if machine.envelope is None:
        lines.append(say("size not given: drawn dashed"))
    else:
        values = [(v, "length") for v in machine.envelope]
        lines.append(say("length {}, width {}, height {}", *values))
    if spot is None:
        lines.append(say("place not given: set it on the rope line, level with the rope"))
        return Entry(say("MACHINE " + literal(machine.name)), tuple(lines))
    body = layout.bodies[0]
    ahead, aside = body.outline.mean(axis=0).tolist()
    way = "ahead of" if ahead >= 0 else "behind"
    where = say(f"center of its base {{}} {way} the conduit end", (abs(ahead), "length"))
    if abs(aside) > 0.02:
        where += say(", {} " + ("left" if aside > 0 else "right"), (abs(aside), "length"))
    lines.append(where + (say("") if abs(aside) > 0.02 else say(", on its line")))
    if machine.line_height is not None:
        lines.append(say("rope line {} above its base", (machine.line_height, "length")))
    else:
        lines.append(say("rope line not given: half its height used"))
    if layout.floor is None:
        lines.append(say("Floor level not given; assumed at elev. {}",
                         (body.low + layout.level, "length")))  # fmt: skip
    elif body.low - layout.floor > 1e-3:
        raised = (body.low - layout.floor, "length")
        lines.append(say("base {} above the floor, on the work platform", raised))
    return Entry(say("MACHINE " + literal(machine.name)), tuple(lines))


def _anchor_entry(layout: RiggingLayout) -> Entry:
    plan = layout.plan
    anchor = plan.pull.run.anchor
    if anchor is None:
        return Entry(say("ANCHOR"), (say("not given: it must hold {}", (plan.peak, "force+")),))
    lines = [say(plan.held.kind)]
    if isinstance(anchor, FloorBolts):
        at = np.array(anchor.bolts)
        along, across = np.ptp(at, axis=0).tolist()
        lines.append(
            say("{} bolts, {} along the pull by {} across; centered under the machine",
                (len(at), "count"), (along, "length"), (across, "length"))
        )  # fmt: skip
    if isinstance(anchor, Vehicle):
        if anchor.length is None or anchor.width is None:
            lines.append(say("size of the vehicle not given: drawn dashed"))
        else:
            lines.append(say("vehicle {} long, {} wide", (anchor.length, "length"),
                             (anchor.width, "length")))  # fmt: skip
        if anchor.drawbar:
            lines.append(say("drawbar {}", (anchor.drawbar, "length")))
        else:
            lines.append(say("length of the drawbar not given"))
    lines.append(say("machine pulls on it with {}", (plan.peak, "force+")))
    return Entry(say("ANCHOR " + literal(anchor.name)), tuple(lines))


def _operator_entry(layout: RiggingLayout) -> Entry:
    if layout.operator is not None:
        if layout.end == "feed":
            words = say("beside the reels, at the brake; not between reels and conduit")
            if not layout.plan.feeding.off_reel:
                words = say("beside the figure eights, never inside a loop")
            return Entry(say("OPERATOR"), (words,))
        if not layout.known:
            words = say("beside the machine, outside the hatched area; place not given")
            return Entry(say("OPERATOR"), (words,))
        ahead, aside = layout.operator.tolist()
        side = "left" if aside > 0 else "right"
        line = say(
            f"{{}} ahead of the conduit end, {{}} {side}", (ahead, "length"), (abs(aside), "length")
        )
        if ahead < 0:
            line = say(
                f"{{}} behind the conduit end, {{}} {side}",
                (-ahead, "length"),
                (abs(aside), "length"),
            )
        return Entry(say("OPERATOR"), (line,))
    return Entry(
        say("OPERATOR"),
        (
            say(
                "no place clear of the hatched area here: control the machine from outside "
                "it, or the person in charge decides"
            ),
        ),
    )


def _zone_entry(layout: RiggingLayout) -> Entry:
    kinds = {zone.kind for zone in layout.zones}
    if layout.end == "feed":
        lines = [say("the line of the cable, {} to each side", (BESIDE, "length"))]
    else:
        lines = [
            say(
                "the line of the rope, {} to each side, each side widening by {}",
                (BESIDE, "length"),
                (CONE, "angle"),
            )
        ]
    if "bight" in kinds:
        lines.append(say("inside the turn of each sheave (the bight)"))
    if "under" in kinds:
        lines.append(say("under the load"))
    if "between" in kinds:
        lines.append(say("between the machine and the vehicle"))
    lines.append(
        say("Keep out while the rope is loaded. Widths: common practice, from memory; no standard")
    )
    return Entry(say("NOBODY HERE (hatched)"), tuple(lines))


def _feed_entries(layout: RiggingLayout) -> list[Entry]:
    plan, reel, fed = layout.plan, layout.plan.pull.run.reel, layout.plan.feeding
    found = [Entry(say("CONDUIT END"), (_elevation(layout), *_above_floor(layout)))]
    found += [_wheel_entry(layout, wheel) for wheel in layout.wheels]
    if not layout.wheels:
        found.append(Entry(say("FEED SHEAVE"), (_NOT_GIVEN,)))
    if not fed.off_reel:
        found.append(
            Entry(
                say("FIGURE EIGHTS"),
                (say("no reel: feed by hand from the top"), say("place not given: set on site")),
            )
        )
    else:
        found += _reel_entries(plan.pull, layout)
        if fed.window is not None:
            reels, _ = held_at_rest(plan.pull)
            told = [brake_words(fed.window)]
            if reels > NO_BRAKE:  # the cable hangs
                told.append(say("At every stop hold at least {} at the reels", (reels, "force+")))
            found.append(Entry(say("BRAKE"), tuple(told)))
    cable = [
        say("{} of each cable", (fed.cable_length, "length")),
        say("tension into the conduit {} total", (plan.pull.start_tension, "force+")),
    ]
    if reel is None and fed.off_reel:
        cable.append(say("reel not given"))
    found.append(Entry(say("CABLE"), tuple(cable)))
    found.append(_operator_entry(layout))
    found.append(_zone_entry(layout))
    return found


def _reel_entries(pull: Pull, layout: RiggingLayout) -> list[Entry]:
    reel = pull.run.reel
    count = (reel.count if reel else None) or pull.run.cables.count
    lines = []
    if reel is not None and reel.diameter is not None and reel.width is not None:
        size = (reel.diameter, "radius"), (reel.width, "radius")
        lines.append(say("{} reels, {} diameter, {} wide", (count, "count"), *size))
    else:
        lines.append(say("{} reels, size not given: drawn dashed", (count, "count")))
    if reel is not None and reel.mass is not None:
        lines.append(say("each full reel {}", (reel.mass, "mass")))
    lines.append(say("distance from the conduit not given: set them in line with it"))
    lines.append(say("pay off the top of the reel"))
    return [Entry(say("REELS"), tuple(lines))]
