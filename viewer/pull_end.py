"""The machine where the plan places it, with its rope from the conduit end over the sheaves.

A drawn machine is larger than a true one, so that it can be seen. It stands on its true floor and
faces its rope as planned; its distance from the conduit end grows with it, up to a length of the
machine as drawn.
"""

from __future__ import annotations

import math

import numpy as np

from route3d.geometry.vectors import Floats, angle_between, frozen, norm, unit
from route3d.mechanics.pull import Pull
from route3d.model.rigging import LeadOff
from route3d.planning.placement.search import Placement
from viewer.scene_data import Solid, Wheel

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
