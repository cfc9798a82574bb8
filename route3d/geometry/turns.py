"""Each bend in the words of the trade: left, right, up or down, and the headings in and out.

The words are those of the legs (docs/legs.md): left and right change the heading and keep the
climb, up and down change the climb, and out of a plumb leg a bend turns to a heading. Whoever turns
by them bend after bend walks the route.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from route3d.geometry.bend_schedule import LEVEL, ScheduledBend
from route3d.geometry.path import Path
from route3d.geometry.vectors import Floats

# A leg this close to plumb has no heading worth a figure: its plan is 1 in 110 of its rise (own
# judgment).
PLUMB = math.radians(0.5)
_DECIMALS = 1  # of degrees in words
_STEP = math.radians(0.5 * 10.0**-_DECIMALS)  # what is less is not written
_POINTS = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")


@dataclass(frozen=True, slots=True)
class Direction:
    """Where a leg goes: ``bearing`` rad clockwise from north, NaN where plumb; ``climb`` rad."""

    bearing: float
    climb: float

    @property
    def plumb(self) -> bool:
        """True where it goes straight up or down."""
        return math.isnan(self.bearing)

    @property
    def words(self) -> str:
        """Such as ``N``, ``N30.5°E``, ``SW rising 30°``, ``up``; a climb of 3° or less is left out.

        Drainage slopes are not headings; the words of the turns have them.
        """
        if self.plumb:
            return "up" if self.climb > 0 else "down"
        return compass(self.bearing) + (_slope(self.climb) if abs(self.climb) > LEVEL else "")


@dataclass(frozen=True, slots=True)
class Turn:
    """How a bend turns from ``before`` to ``after``, rad.

    ``around`` is the change of heading, right positive, and ``up`` that of the climb; ``around`` is
    NaN where a leg is plumb. A bend in an upright plane that goes past plumb has all its angle in
    ``up``.
    """

    before: Direction
    after: Direction
    around: float
    up: float

    @property
    def past_plumb(self) -> bool:
        """True where it comes back over its head."""
        return abs(self.before.climb + self.up) > math.pi / 2 + 1e-9

    @property
    def words(self) -> str:
        """Such as ``right 90``, ``left 45 and up 30``, ``up 120 past plumb``, ``turn to NE``."""
        if self.before.plumb:
            slope = _slope(self.after.climb) if abs(self.after.climb) >= _STEP else ""
            return f"turn to {compass(self.after.bearing)}{slope}"
        parts = [
            f"{sides[value < 0]} {degrees(abs(value))}"
            for value, sides in ((self.around, ("right", "left")), (self.up, ("up", "down")))
            if abs(value) >= _STEP  # not of NaN
        ]
        said = " and ".join(parts) or "less than 0.1°"
        return said + (" past plumb" if self.past_plumb else "")

    @property
    def heading(self) -> str:
        """The headings before and after: ``N to E``, ``N`` where it stays, ``E to up``."""
        before, after = self.before.words, self.after.words
        return before if before == after else f"{before} to {after}"


def turns(path: Path, bends: Sequence[ScheduledBend], north: float = 0.0) -> tuple[Turn, ...]:
    """How each bend turns.

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    bends : sequence of ScheduledBend
        From `bend_schedule`.
    north : float
        Direction of north on the plan, rad clockwise from +y.

    Returns
    -------
    tuple of Turn
        One for each bend.
    """
    out = path.end_tangents
    return tuple(
        turn_between(direction(path.tangents[b.segment], north), direction(out[b.segment], north))
        for b in bends
    )


def direction(way: Floats, north: float = 0.0) -> Direction:
    """The direction of a unit vector.

    Parameters
    ----------
    way : ndarray, shape (3,)
        Unit vector.
    north : float
        Direction of north on the plan, rad clockwise from +y.

    Returns
    -------
    Direction
        rad
    """
    x, y, z = (float(c) for c in way)
    level = math.hypot(x, y)
    if level < math.sin(PLUMB):
        return Direction(math.nan, math.copysign(math.pi / 2, z))
    return Direction((math.atan2(x, y) - north) % math.tau, math.atan2(z, level))


def turn_between(before: Direction, after: Direction) -> Turn:
    """The turn from one direction to another.

    Parameters
    ----------
    before, after : Direction
        rad

    Returns
    -------
    Turn
        rad
    """
    up = after.climb - before.climb
    if before.plumb or after.plumb:
        return Turn(before, after, math.nan, up)
    around = (after.bearing - before.bearing + math.pi) % math.tau - math.pi
    if math.pi - abs(around) < _STEP:  # over its head: the shorter way is the bend
        over = math.pi - after.climb - before.climb
        return Turn(before, after, 0.0, over if over <= math.pi else over - math.tau)
    return Turn(before, after, around, up)


def compass(bearing: float) -> str:
    """A bearing (rad clockwise from north) as one of the eight points, or by its quadrant.

    Parameters
    ----------
    bearing : float
        rad

    Returns
    -------
    str
        ``NE``, ``N30.5°E``.
    """
    tenths = round(math.degrees(bearing) * 10**_DECIMALS) % (360 * 10**_DECIMALS)
    turned = tenths / 10**_DECIMALS
    if turned % 45 == 0:
        return _POINTS[int(turned // 45)]
    toward = "E" if turned < 180 else "W"
    from_north = min(turned, 360 - turned)
    start, angle = ("N", from_north) if from_north < 90 else ("S", 180 - from_north)
    return f"{start}{_plain(angle)}°{toward}"


def degrees(angle: float) -> str:
    """An angle (rad) in degrees without a zero that says nothing: ``90``, ``22.5``.

    Parameters
    ----------
    angle : float
        rad

    Returns
    -------
    str
    """
    return _plain(math.degrees(angle))


def _plain(number: float) -> str:
    return f"{number:.{_DECIMALS}f}".removesuffix(".0")


def _slope(climb: float) -> str:
    return f" {'rising' if climb > 0 else 'falling'} {degrees(abs(climb))}°"


def roll_sense(roll: float) -> str:
    """Which way the plane of a bend is turned from that of the bend before.

    Parameters
    ----------
    roll : float
        Of `ScheduledBend`, rad.

    Returns
    -------
    str
        "same side" (goes on round), "opposite side" (bends back), else "clockwise" or
        "counterclockwise", looking along the route; empty for NaN.
    """
    if math.isnan(roll):
        return ""
    if abs(roll) < _STEP:
        return "same side"
    if math.pi - abs(roll) < _STEP:
        return "opposite side"
    return "clockwise" if roll > 0 else "counterclockwise"


def middle_ways(path: Path, bends: Sequence[ScheduledBend]) -> Floats:
    """Unit vectors toward the inside of bends, along the bisector of their legs, (b, 3).

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    bends : sequence of ScheduledBend
        From `bend_schedule`.

    Returns
    -------
    ndarray, shape (b, 3)
    """
    at = np.array([b.segment for b in bends], dtype=np.int64)
    half = path.angles[at, None] / 2
    ways: Floats = -np.sin(half) * path.tangents[at] + np.cos(half) * path.normals[at]
    return ways
