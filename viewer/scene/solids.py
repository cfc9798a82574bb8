"""Reel, machine, pull boxes and arrows: where they stand and how large they are drawn.

The reel is in line with the conduit end, its foot at the invert; so is a machine for which no
location was found. Both are drawn to scale, times the exaggeration of the whole picture.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from route3d.geometry.box_places import box_place
from route3d.geometry.path import STRAIGHT, Path
from route3d.geometry.vectors import Floats, angle_between, frozen, norm, unit
from route3d.mechanics.pull import Pull
from route3d.model.rigging import LeadOff
from route3d.planning.placement.search import Placement
from viewer.scene.records import Arrow, Encasement, Solid, Tube, Wheel

# A reel's drum is at least 20 cable diameters, its coil fills 0.7 of its room, and its width is
# 0.6 of its flange (common practice, no source): the model file does not describe the reel.
_DRUM = 20.0
_COIL_FILL = 0.7
_REEL_WIDTH = 0.6
# A machine without an envelope: about a capstan puller on a frame (common practice, no source).
_ENVELOPE = (1.2, 0.8, 1.2)
# The stake at the pulling end of a run that names no machine.
_STAKE = (0.25, 0.25, 1.2)
# A pull box without dimensions: a man must stand in it (common practice, no source).
_BOX = (2.5, 1.8, 2.0)
_MOST_ARROWS = 6
_FEWEST_ARROWS = 2  # where every straight is short: the way the cable goes is always shown
# Length and radius of an arrow in tube radii: its tip lies inside the tube, and what is seen of it
# must still run out to a point.
_ARROW = (8.0, 3.2)


def reel_flange(length: float, diameter: float) -> float:
    """Flange diameter, m, of a reel that holds ``length`` m of a cable of ``diameter`` m.

    The coil (F² - D²) π/4 · 0.6 F · 0.7 holds the cable's L d² π/4, with D = 20 d; by bisection.
    """
    drum = _DRUM * diameter
    need = length * diameter**2
    low, high = drum * 1.1, drum * 1.1 + 10 * math.cbrt(need)
    for _ in range(60):
        middle = (low + high) / 2
        holds = (middle**2 - drum**2) * _REEL_WIDTH * middle * _COIL_FILL >= need
        low, high = (low, middle) if holds else (middle, high)
    return high


def end_solids(
    pull: Pull, exaggeration: float, origin: Floats, place: Placement | None = None
) -> tuple[Solid, Solid]:
    """The reel behind the feed end and the machine beyond the pulling end, at its ``place``.

    A run that names no machine has a stake there.
    """
    path, n = pull.path, exaggeration
    flange = reel_flange(path.length, pull.run.cables.largest.diameter)
    machine = pull.run.machine
    envelope = (machine.envelope if machine else _STAKE) or _ENVELOPE
    feed, out = (path.length, 0.0) if pull.reverse else (0.0, path.length)
    forward = _pull_directions(path, reverse=pull.reverse)
    invert = pull.run.route.conduits[0 if not pull.reverse else -1].outer_diameter / 2 * n
    reel = Solid(
        "reel",
        frozen(_foot(path, feed, origin, invert) - forward[0] * flange * n * 0.9),
        frozen(forward[0]),
        (flange * n, flange * _REEL_WIDTH * n, flange * n),
        frozen(path.point(feed) - origin),
    )
    if place is not None:
        return reel, placed_machine(pull, place, n, origin)
    winch = Solid(
        "machine" if machine else "end",
        frozen(_foot(path, out, origin, invert) + forward[1] * envelope[0] * n * 0.9),
        frozen(forward[1]),
        (envelope[0] * n, envelope[1] * n, envelope[2] * n),
        frozen(path.point(out) - origin),
    )
    return reel, winch


def _foot(path: Path, station: float, origin: Floats, invert: float) -> Floats:
    foot: Floats = path.point(station) - origin - np.array([0.0, 0.0, invert])
    return foot


def _pull_directions(path: Path, *, reverse: bool) -> tuple[Floats, Floats]:
    """Horizontal directions of the pull at the feed and at the pulling end, unit (3,)."""
    tangents = np.vstack((path.tangents, path.end_tangents[-1:]))
    level = tangents * np.array([1.0, 1.0, 0.0])
    flat = np.flatnonzero(norm(level) > 1e-3)  # a shaft has no direction in plan
    if not flat.size:
        east = np.array([1.0, 0.0, 0.0])
        return east, east
    first, last = unit(level[flat[0]]), unit(level[flat[-1]])
    return (-last, -first) if reverse else (first, last)


def box_factor(pull: Pull, exaggeration: float) -> float:
    """How many times their size pull boxes are drawn: they must not grow over the route.

    At most eight times the radius of the drawn conduit, never less than their true size.
    """
    route = pull.run.route
    inner = [route.vertices[i].box or _BOX for i in route.pull_points]
    ends = [v.box for v in (route.vertices[0], route.vertices[-1]) if v.box is not None]
    longest = max((max(size) for size in (*inner, *ends)), default=1.0)
    radius = max(c.outer_diameter for c in route.conduits) / 2 * exaggeration
    return min(max(1.0, 8 * radius / longest), exaggeration)


def box_solids(
    pull: Pull, factor: float, origin: Floats, floors: Mapping[str, float] | None = None
) -> tuple[Solid, ...]:
    """The boxes of a run, and one at every pull point between the ends, by `box_place`."""
    route = pull.run.route
    points = np.array([v.point for v in route.vertices])
    found = []
    for i, vertex in enumerate(route.vertices):
        size = vertex.box or (_BOX if i in route.pull_points else None)
        if size is None:
            continue
        length, width, height = size
        drawn = length * factor, width * factor, height * factor
        box = box_place(points, i, drawn, (floors or {}).get(vertex.name))
        foot = box.middle - origin - np.array([0.0, 0.0, box.extents[2] / 2])
        mouth = box.point - origin
        found.append(Solid("box", frozen(foot), box.heading, box.extents, frozen(mouth)))
    return tuple(found)


def arrows(pull: Pull, all_tubes: tuple[Tube, ...], origin: Floats) -> tuple[Arrow, ...]:
    """Cones on the longest straights, pointing where the cable goes; on some if all are short."""
    path = pull.path
    radius = max(t.radius for t in all_tubes)
    straight = np.flatnonzero(path.kind == STRAIGHT)
    longest = straight[np.argsort(-path.lengths[straight], kind="stable")][:_MOST_ARROWS]
    roomy = longest[path.lengths[longest] > 14 * radius]
    longest = roomy if len(roomy) else longest[:_FEWEST_ARROWS]
    sign = -1.0 if pull.reverse else 1.0
    middles = (path.stations[longest] + path.stations[longest + 1]) / 2
    return tuple(
        Arrow(frozen(at - origin), frozen(sign * path.tangents[i]), *(s * radius for s in _ARROW))
        for i, at in zip(longest, path.point(middles), strict=True)
    )


def encasement(
    points: Floats, size: tuple[float, float], bends: tuple[tuple[Floats, float, float], ...]
) -> Encasement:
    """A duct bank's concrete along ``points`` (n, 3), ``size`` width and height as drawn, m.

    ``bends`` gives the point where the straights of a bend meet, its radius and half its angle:
    where the drawn box is too wide for the radius the bend is drawn mitred, or it would turn
    inside out.
    """
    half = math.hypot(*size) / 2
    for corner, radius, half_angle in bends:
        if radius < half:
            reach = radius * math.tan(half_angle) * (1 + 1e-6)
            near = norm(points - corner) <= reach
            if near.any():
                at = int(np.flatnonzero(near)[0])
                points = np.insert(points[~near], at, corner, axis=0)
    return Encasement(frozen(points), *size)


# --- the machine where the plan places it, with its rope from the conduit end over the sheaves
# A drawn machine is larger than a true one, so that it can be seen. It stands on its true floor
# and faces its rope as planned; its distance from the conduit end grows with it, up to a length of
# the machine as drawn.

LINE = 0.736
"""Height of the rope line of a drawn machine, over its own height: the top of its drum."""

# The largest wheel beside an enlarged machine, over its height: a wheel must not outgrow it.
_WHEEL = 0.2
_SHARE = 0.4  # of the shorter leg beside a corner that a wheel may take
_ARC = math.radians(12)  # between two points of the rope round a wheel


def placed_machine(pull: Pull, place: Placement, exaggeration: float, origin: Floats) -> Solid:
    """The machine of a pull at its place; it must give an envelope, or none was sought."""
    machine = pull.run.machine
    assert machine is not None and machine.envelope is not None
    n = exaggeration
    corners, feet = np.array(place.rope) - origin, np.array(place.position) - origin
    length, width, height = (side * n for side in machine.envelope)
    spread = spread_of(place, machine.envelope[0], n)
    line = _heights(corners[:, 2], float(feet[2]), LINE * height)
    drawn = np.column_stack((corners[0, :2] + spread * (corners[:, :2] - corners[0, :2]), line))
    middle = drawn[-1, :2] + n * (feet[:2] - corners[-1, :2])
    rope, wheels = round_wheels(drawn, pull.run.lead_off, n, _WHEEL * height if n > 1 else math.inf)
    return Solid(
        "machine",
        frozen([*middle, feet[2]]),
        frozen([-math.cos(place.yaw), -math.sin(place.yaw), 0.0]),
        (length, width, height),
        frozen(corners[0]),
        frozen(rope),
        wheels,
    )


def spread_of(place: Placement, length: float, exaggeration: float) -> float:
    """How many times its true distance a machine ``length`` m long is drawn from its conduit."""
    corners = np.array(place.rope)
    gap = float(norm(corners[-1, :2] - corners[0, :2]))
    return min(exaggeration, max(1.0, exaggeration * length / max(gap, 1e-9)))


def _heights(z: Floats, feet: float, line: float) -> Floats:
    """Heights of the rope's corners: what lies above the feet is drawn with the machine."""
    true = float(z[-1]) - feet
    grown = feet + (z - feet) * (line / true if true > 0 else 1.0)
    heights = np.where(z > feet, grown, z)
    heights[0], heights[-1] = z[0], feet + line
    return heights


def round_wheels(
    corners: Floats, turns: tuple[LeadOff, ...], exaggeration: float, largest: float = math.inf
) -> tuple[Floats, tuple[Wheel, ...]]:
    """The rope (n, 3) laid round a wheel at every corner that has a sheave, and the wheels.

    No wheel is drawn larger than ``largest`` m.
    """
    rope, wheels = [corners[:1]], []
    for corner, turn in zip(range(1, len(corners) - 1), turns, strict=False):
        before, at, after = corners[corner - 1 : corner + 2]
        legs = norm(at - before), norm(after - at)
        if turn.sheave is None or min(legs) <= 1e-9:
            rope.append(at[None])
            continue
        into, out = unit(at - before), unit(after - at)
        half = float(angle_between(into, out)) / 2
        if half < 1e-3:
            rope.append(at[None])
            continue
        most = _SHARE * float(min(legs)) / math.tan(half)
        radius = min(turn.sheave.radius * exaggeration, most, largest)
        hub = at + unit(out - into) * radius / math.cos(half)
        axis = unit(np.cross(into, out))
        start = np.cross(into, axis)
        if float(start @ (at - hub)) < 0:
            start = -start
        turned = np.linspace(0.0, 2 * half, max(2, math.ceil(2 * half / _ARC) + 1))[:, None]
        rope.append(hub + radius * (np.cos(turned) * start + np.sin(turned) * into))
        wheels.append(Wheel(frozen(hub), frozen(axis), radius))
    rope.append(corners[-1:])
    points = np.vstack(rope)
    apart = np.concatenate(([True], norm(np.diff(points, axis=0)) > 1e-9))
    return points[apart], tuple(wheels)
