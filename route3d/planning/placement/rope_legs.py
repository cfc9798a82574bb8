"""The rope between conduit end and machine: which ways it may turn, and its legs to a machine."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from route3d.geometry.vectors import Floats, angle_between, frozen, norm, unit
from route3d.mechanics.pull import Pull
from route3d.model.allowances import Allowances
from route3d.model.rigging import LeadOff
from route3d.model.run import Run

_UP = np.array([0.0, 0.0, 1.0])
# A direction whose level part is below this tells no heading (about 6 degrees off plumb).
_PLUMB = 0.1


@dataclass(frozen=True, slots=True, eq=False)
class PullEnd:
    """The conduit end the machine pulls from: ``point`` (3,) m, ``outward`` unit axis (3,).

    ``heading`` (3,) is the level unit direction in which the route came; where the axis is plumb
    the rope turns off along it or square to it.
    """

    point: Floats
    outward: Floats
    heading: Floats


@dataclass(frozen=True, slots=True, eq=False)
class RopeLine:
    """One choice of the turns: ``directions`` (k + 1, 3) of the legs, the last into the machine.

    ``least`` (k + 1,) m is the length each leg needs for the sheaves at its ends. ``free`` (k + 1,)
    is false for a leg of no length, where the rope turns without a sheave.
    """

    directions: Floats
    least: Floats
    free: tuple[bool, ...]

    @property
    def entry(self) -> Floats:
        """Level unit direction of the last leg, (3,)."""
        return unit(self.directions[-1] * [1.0, 1.0, 0.0])


@dataclass(frozen=True, slots=True, eq=False)
class Legs:
    """The rope to each of n machines: ``corners`` (n, k + 2, 3) m from conduit end to machine.

    ``swing`` (n,) rad is how far the last leg leaves the line of the conduit or last sheave;
    ``last`` (n, 3) its unit direction, back along the line where the leg has no length;
    ``fits`` (n,) is false where a leg is shorter than its sheaves need.
    """

    corners: Floats
    swing: Floats
    last: Floats
    fits: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]

    @property
    def lengths(self) -> Floats:
        """Length of the rope, corner to corner, (n,) m."""
        total: Floats = norm(np.diff(self.corners, axis=1)).sum(axis=1)
        return total


def pulling_end(
    point: ArrayLike, outward: ArrayLike, heading: ArrayLike = (1.0, 0.0, 0.0)
) -> PullEnd:
    """A PullEnd of directions of any length; ``heading`` counts only where the axis is plumb."""
    axis = unit(np.asarray(outward, dtype=np.float64))
    level = axis if math.hypot(axis[0], axis[1]) > _PLUMB else np.asarray(heading, np.float64)
    return PullEnd(frozen(point), frozen(axis), frozen(unit(level * [1.0, 1.0, 0.0])))


def pull_end(pull: Pull) -> PullEnd:
    """The pulling end of a solved pull, its axis out of the conduit."""
    path = pull.path.reversed() if pull.reverse else pull.path
    along = np.stack((path.tangents, path.end_tangents), axis=1).reshape(-1, 3)
    level = along[np.hypot(along[:, 0], along[:, 1]) > _PLUMB]
    heading = level[-1] if len(level) else np.array([1.0, 0.0, 0.0])
    return pulling_end(path.ends[-1], path.end_tangents[-1], heading)


def drawn_out(run: Run, allowances: Allowances) -> float:
    """How far the front of the head comes out of the conduit at the machine, m.

    The cable is drawn out ``pull_slack`` beyond the conduit, and the head is ahead of it.
    """
    return allowances.pull_slack + run.head_length


def rope_lines(
    end: PullEnd, lead_off: Sequence[LeadOff], lead_angle: float
) -> tuple[RopeLine, ...]:
    """Every way through the turns whose last leg is level to within ``lead_angle`` (rad).

    Each turn may go to four sides of the leg before it: left, right, upwards and downwards. The
    length a leg needs is the tangent length R tan(turn/2) of each sheave at its ends.
    """
    ways = [end.outward[None]]
    for turn in lead_off:
        ways = [np.vstack((way, d)) for way in ways for d in _turned(way[-1], end, turn.turn)]
    tangent = [_tangent_length(t) for t in lead_off]
    least = frozen(np.add([0.0, *tangent], [*tangent, 0.0]))
    free = (*(t.sheave is not None for t in lead_off), True)
    level = [w for w in ways if abs(math.asin(min(1.0, abs(w[-1, 2])))) <= lead_angle + 1e-9]
    return tuple(RopeLine(frozen(w), least, free) for w in level)


def _tangent_length(turn: LeadOff) -> float:
    if turn.sheave is None:
        return 0.0
    return turn.sheave.radius * math.tan(turn.turn / 2) if turn.turn < math.pi else math.inf


def _turned(direction: Floats, end: PullEnd, turn: float) -> Floats:
    """``direction`` turned to four sides, (4, 3)."""
    side = np.cross(_UP, direction)
    if norm(side) <= _PLUMB:
        side = end.heading - (end.heading @ direction) * direction
    side = unit(side)
    other = np.cross(direction, side)
    sides = np.stack((side, other, -side, -other))
    # a quarter turn is one: without the rounding of cos(pi/2)
    return np.asarray(np.round(math.cos(turn) * direction + math.sin(turn) * sides, 15))


def legs_to(line: RopeLine, start: Floats, heads: Floats) -> Legs:
    """Lay the rope from ``start`` (3,) to the machine heads (n, 3).

    Sheaves stand where they turn the rope closest to its nominal directions: leg lengths a solve
    Σ a_i d_i = head - start by least squares; where legs share a direction they share the way
    evenly, or as evenly as leaves every sheave its room.
    """
    free = np.array(line.free)
    columns = line.directions[free]
    lengths = (heads - start) @ np.linalg.pinv(columns)
    lengths = _roomy(lengths, columns, line.least[free])
    whole = np.zeros((len(heads), len(free)))
    whole[:, free] = lengths
    corners = np.empty((len(heads), len(free) + 1, 3))
    corners[:, 0], corners[:, -1] = start, heads
    for i, direction in enumerate(line.directions[:-1]):
        corners[:, i + 1] = corners[:, i] + whole[:, i, None] * direction
    last = corners[:, -1] - corners[:, -2]
    reach = norm(last)
    away = reach > 1e-6
    aim = np.where(away[:, None], last / np.where(away, reach, 1.0)[:, None], -line.directions[-1])
    swing = angle_between(aim, np.broadcast_to(line.directions[-1], aim.shape))
    fits = away & (whole[:, :-1] >= line.least[:-1] - 1e-9).all(axis=1)
    return Legs(corners, swing, aim, fits & (reach >= line.least[-1] - 1e-9))


def _roomy(lengths: Floats, columns: Floats, least: Floats) -> Floats:
    """Lengths shifted along what leaves their sum as it is, until each is at least ``least``."""
    _, sizes, vectors = np.linalg.svd(columns.T)
    rank = int((sizes > 1e-9).sum())
    for shift in vectors[rank:]:
        moves = np.abs(shift) > 1e-9
        bound = (least[moves] - lengths[:, moves]) / shift[moves]
        low = np.max(bound, axis=1, where=shift[moves] > 0, initial=-np.inf)
        high = np.min(bound, axis=1, where=shift[moves] < 0, initial=np.inf)
        lengths = lengths + np.where(low <= high, np.clip(0.0, low, high), 0.0)[:, None] * shift
    return lengths
