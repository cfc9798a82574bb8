"""The checks a way to stand must pass: level floor, free rope, room to stand and to work in."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.vectors import Floats, norm
from route3d.planning.placement.site import (
    Flags,
    Ints,
    Shapes,
    Surroundings,
    mesh_floor,
    nearest,
    plan_shapes,
    rope_meets,
)
from route3d.planning.placement.stands import UNEVEN, Ground, StandingMachine, Ways

# People step over this much, m. Common practice, no source.
_STEP_OVER = 0.1
# Room the rope, grip and cable head take to each side, and what of the rope's first length lies in
# the mouth of the conduit, whose wall it may touch, m. No source.
_ROPE_ROOM = 0.05
_MOUTH = 0.3
# Half the width kept free for the drawbar, m. No source.
_DRAWBAR_ROOM = 0.1
# How far from the machine its gaps are measured, m.
LOOK = 2.0
# Standing against a wall is not standing in it: what rounding may make of "against", m.
_TOUCH = 1e-6
# Strips beside the machine and its rope reach this far into it, m: a wall right at its side is in
# the strip, one right at its front is in the rope.
_SEAM = 1e-3

Spans: TypeAlias = tuple[tuple[float, float], tuple[float, float]]
Failed: TypeAlias = dict[str, list[tuple[Ints, Ints]]]

# The sides of a machine, seen from behind it.
SIDES = ("left", "right", "rear")

# Owner numbers for what stands in the way: nothing, and something without a name.
_CLEAR, _UNNAMED = -2, -1


@dataclass(frozen=True, slots=True, eq=False)
class Fitted:
    """Ways that pass, the least ``gap`` (n,) m around each, and free ``sides`` (n, 3)."""

    ways: Ways
    gap: Floats
    sides: Flags

    @staticmethod
    def joined(parts: Sequence[Fitted]) -> Fitted:
        """The ways of all parts, in their order."""
        ways = Ways(*(np.concatenate([getattr(p.ways, f.name) for p in parts]) for f in _OF_WAYS))
        gap = np.concatenate([p.gap for p in parts])
        return Fitted(ways, gap, np.concatenate([p.sides for p in parts]))


_OF_WAYS = fields(Ways)


def fitted(
    site: Surroundings, stand: StandingMachine, ground: Ground, ways: Ways
) -> tuple[Fitted, Failed]:
    """The ways that pass floor, rope, machine, head room and clearance, and the failures."""
    failed: Failed = {}
    ways = _passing(ways, _unlevel(site, stand, ground, ways), "floor", failed)
    floors = np.round(ground.floor[ways.place] / UNEVEN)
    parts = [_fit_level(site, stand, ground, ways[floors == f], failed) for f in np.unique(floors)]
    if not parts:
        return Fitted(ways, np.empty(0), np.empty((0, 3), dtype=bool)), failed
    return Fitted.joined(parts), failed


def _passing(ways: Ways, owner: Ints, reason: str, failed: Failed) -> Ways:
    """The ways with nothing in the way; the others are noted as failed."""
    bad = owner != _CLEAR
    failed.setdefault(reason, []).append((ways.place[bad], owner[bad]))
    return ways[~bad]


def _unlevel(site: Surroundings, stand: StandingMachine, ground: Ground, ways: Ways) -> Ints:
    """Outside rooms, a corner of the feet off the height of their middle."""
    owner = np.full(len(ways.place), _CLEAR)
    check = np.flatnonzero((ground.room[ways.place] < 0) & ground.known[ways.place])
    corners = _footprint(stand, ways[check])[:, :, :2]
    floor = mesh_floor(site, corners.reshape(-1, 2), stand.level).reshape(-1, 4)
    middle = ground.floor[ways.place[check]]
    level = (np.abs(floor - middle[:, None]) <= UNEVEN).all(axis=1)  # nan is not level
    owner[check[~level]] = _UNNAMED
    return owner


def _footprint(
    stand: StandingMachine,
    ways: Ways,
    along: tuple[float, float] | None = None,
    across: tuple[float, float] | None = None,
) -> Floats:
    """Corners (n, 4, 2) of a rectangle in the machine's own lengths: to its rear, to its right."""
    length, width, _ = stand.envelope
    (a, b), (c, d) = along or (-length / 2, length / 2), across or (-width / 2, width / 2)
    box = np.array([[a, c], [b, c], [b, d], [a, d]])
    # seen from behind, looking along the front: right is the front turned clockwise
    axis = ways.axis[:, :2]
    right = np.stack((-axis[:, 1], axis[:, 0]), axis=1)
    steps = box[:, :1] * axis[:, None] + box[:, 1:] * right[:, None]
    corners: Floats = ways.feet[:, None, :2] + steps
    return corners


def _rectangle(
    stand: StandingMachine, ways: Ways, *spans: tuple[float, float], less: float = _TOUCH
) -> NDArray[Any]:
    import shapely

    spans = tuple((a + less, b - less) for a, b in spans)
    shapes: NDArray[Any] = shapely.polygons(_footprint(stand, ways, *spans))
    return shapes


def _fit_level(
    site: Surroundings, stand: StandingMachine, ground: Ground, ways: Ways, failed: Failed
) -> Fitted:
    """The ways on one floor that pass."""
    floor = float(ground.floor[ways.place].max())
    length, width, height = stand.envelope
    whole = ((-length / 2, length / 2), (-width / 2, width / 2))
    top = floor + stand.rules.lift + height
    near = site.near(ways.feet, length + width + max(stand.clearance, LOOK))

    def in_the_way(low: float, high: float) -> Ints:
        return _hits(*apart(plan_shapes(near, low, high), stand, ways, *whole))

    ways = _passing(ways, _rope_hits(site, stand, ground, ways), "rope", failed)
    ways = _passing(ways, in_the_way(floor + UNEVEN, top), "machine", failed)
    ways = _passing(ways, _low_ceiling(site, stand, ground, ways), "head room", failed)
    ways = _passing(ways, in_the_way(top, top + stand.rules.headroom), "head room", failed)
    belt = plan_shapes(near, floor + _STEP_OVER, floor + stand.rules.standing)
    sides, owner = _sides(stand, ways, belt)
    free = sides[:, :2].any(axis=1)
    ways, sides = _passing(ways, np.where(free, _CLEAR, owner), "clearance", failed), sides[free]
    kept = _vehicle_hits(site, stand, ground, ways)
    sides = sides[kept == _CLEAR]
    ways = _passing(ways, kept, "vehicle", failed)
    gap, _ = apart(belt, stand, ways, *whole, less=0.0, limit=LOOK)
    return Fitted(ways, gap, sides)


def apart(
    shapes: Shapes,
    stand: StandingMachine,
    ways: Ways,
    *spans: tuple[float, float],
    less: float = _TOUCH,
    limit: float = _TOUCH / 2,
) -> tuple[Floats, Ints]:
    """Distance and owner of the nearest shape to a rectangle of each machine, within ``limit``.

    Ways that differ in their rope alone are asked once.
    """
    stands = np.column_stack((ways.place, np.round(ways.axis[:, :2], 9)))
    _, first, back = np.unique(stands, axis=0, return_index=True, return_inverse=True)
    distance, owner = nearest(shapes, _rectangle(stand, ways[first], *spans, less=less), limit)
    return distance[back.ravel()], owner[back.ravel()]


def _hits(distance: Floats, owner: Ints) -> Ints:
    return np.where(distance <= 0.0, owner, _CLEAR)


def _low_ceiling(site: Surroundings, stand: StandingMachine, ground: Ground, ways: Ways) -> Ints:
    """Ceiling of a room too low for the machine with its head room, or for people beside it."""
    room = ground.room[ways.place]
    above = ways.feet[:, 2] + stand.envelope[2] + stand.rules.headroom
    need = np.maximum(above, ground.floor[ways.place] + stand.rules.standing)
    return np.where(need > _ceilings(site)[room] + _TOUCH, _ceiling_owners(site)[room], _CLEAR)


def _ceilings(site: Surroundings) -> Floats:
    """Ceiling of each room, and of none at the end: index -1 is the open sky."""
    heights = [math.inf if r.ceiling is None else r.ceiling for r in site.rooms]
    return np.array([*heights, math.inf])


def _ceiling_owners(site: Surroundings) -> Ints:
    return np.array([*(2 * i + 1 for i in range(len(site.rooms))), _CLEAR])


def vehicle_spans(
    stand: StandingMachine, vehicle: tuple[float, float, float]
) -> tuple[Spans, Spans]:
    """Drawbar and vehicle, each a span to the rear of the machine's middle and one to its right.

    ``vehicle`` the drawbar, length and width, m.
    """
    drawbar, length, width = vehicle
    rear = stand.envelope[0] / 2
    return (
        ((rear - _SEAM, rear + drawbar + _SEAM), (-_DRAWBAR_ROOM, _DRAWBAR_ROOM)),
        ((rear + drawbar, rear + drawbar + length), (-width / 2, width / 2)),
    )


def _vehicle_hits(site: Surroundings, stand: StandingMachine, ground: Ground, ways: Ways) -> Ints:
    """What stands where the drawbar or the vehicle behind the machine is to be, or no floor there.

    Its height is not given: at least that of people is kept free.
    """
    owner = np.full(len(ways.place), _CLEAR)
    if stand.rules.vehicle is None or not len(owner):
        return owner
    bar, body = vehicle_spans(stand, stand.rules.vehicle)
    check = np.flatnonzero((ground.room[ways.place] < 0) & ground.known[ways.place])
    corners = _footprint(stand, ways[check], *body)
    floor = mesh_floor(site, corners.reshape(-1, 2), stand.level).reshape(-1, 4)
    level = (np.abs(floor - ground.floor[ways.place[check]][:, None]) <= UNEVEN).all(axis=1)
    owner[check[~level]] = _UNNAMED
    low = float(ground.floor[ways.place].max())
    near = site.near(ways.feet, stand.envelope[0] + sum(stand.rules.vehicle))
    high = low + max(stand.envelope[2], stand.rules.standing)
    shapes = plan_shapes(near, low + UNEVEN, high)
    for spans in (bar, body):
        owner = np.maximum(owner, _hits(*apart(shapes, stand, ways, *spans)))
    return owner


def _sides(stand: StandingMachine, ways: Ways, belt: Shapes) -> tuple[Flags, Ints]:
    """Which of left, right and rear are free for people, (n, 3), and what is beside it.

    At least one whole side must be: the operator stands beside the machine, out of the rope's line.
    """
    clear, (length, width, _) = stand.clearance, stand.envelope
    if not clear:
        return np.ones((len(ways.place), 3), dtype=bool), np.full(len(ways.place), _CLEAR)
    whole = (-length / 2, length / 2), (-width / 2, width / 2)
    beside, behind = width / 2 - _SEAM, length / 2 - _SEAM
    strips = (
        (whole[0], (-width / 2 - clear, -beside)),
        (whole[0], (beside, width / 2 + clear)),
        ((behind, length / 2 + clear), whole[1]),
    )
    hits = [_hits(*apart(belt, stand, ways, *s)) for s in strips]
    return np.stack(hits, axis=1) == _CLEAR, np.maximum(hits[0], hits[1])


def _rope_hits(site: Surroundings, stand: StandingMachine, ground: Ground, ways: Ways) -> Ints:
    """What the rope meets on its way from the mouth of the conduit: ceiling, wall or mesh."""
    import shapely

    room = ground.room[ways.place]
    corners = _from_mouth(ways.corners)
    high = corners[:, :, 2].max(axis=1, initial=-math.inf) > _ceilings(site)[room]
    owner = np.where(high, _ceiling_owners(site)[room], _CLEAR)
    floor = float(ground.floor[ways.place].max())
    walls = plan_shapes(site.without_meshes, floor + UNEVEN, floor + stand.envelope[2])
    lines = shapely.linestrings(corners[:, :, :2])
    bands = shapely.buffer(lines, _ROPE_ROOM - _TOUCH, cap_style="flat", join_style="mitre")
    met = _hits(*nearest(walls, bands, _TOUCH / 2))
    owner = np.maximum(owner, met)
    starts, ends = corners[:, :-1].reshape(-1, 3), corners[:, 1:].reshape(-1, 3)
    real = np.flatnonzero(norm(ends - starts) > _TOUCH)
    leg = np.full(len(starts), -1)
    leg[real] = rope_meets(site, starts[real], ends[real], _ROPE_ROOM)
    met = leg.reshape(len(owner), -1).max(axis=1)
    return np.where(met >= 0, np.maximum(met, owner), owner)


def _from_mouth(corners: Floats) -> Floats:
    """The rope without its first length, in the mouth of the conduit, and a seam into the machine.

    A machine right behind a wall touches nothing; its rope comes through the wall.
    """
    legs = np.diff(corners, axis=1)
    long = norm(legs)
    corners = corners.copy()
    corners[:, -1] += legs[:, -1] * (_SEAM / np.maximum(long[:, -1:], _SEAM))
    first = np.argmax(long > _TOUCH, axis=1)
    rows = np.arange(len(corners))
    length = np.maximum(long[rows, first], _TOUCH)
    start = corners[rows, first] + legs[rows, first] * np.minimum(_MOUTH / length, 1.0)[:, None]
    left = np.arange(corners.shape[1]) <= first[:, None]
    return np.where(left[:, :, None], start[:, None], corners)
