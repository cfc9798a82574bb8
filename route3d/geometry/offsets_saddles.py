"""Bends that belong together: offsets and saddles in one plane, and the dog-leg between bends."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from route3d.geometry.bend_schedule import ScheduledBend
from route3d.geometry.path import Path
from route3d.geometry.vectors import Floats

# Bends out of one plane by less than this were meant to be in it (common practice, no source).
MEANT = math.radians(10.0)
# A twist too small to see or to feel in the pull (common practice, no source).
DOG_LEG = math.radians(1.0)
# Bends of an offset are set to the same mark of the bender: their turns agree to about a degree.
_SAME_ANGLE = math.radians(1.0)


@dataclass(frozen=True, slots=True)
class OffsetOrSaddle:
    """An "offset" of two bends or a "saddle" of three, by the numbers of its first and last bend.

    ``angle`` rad is that of the outer bends. ``height`` m is from the line before to the line
    after, of a saddle to the corner of its center bend. ``multiplier`` is 1/sin(angle): by it the
    height gives ``travel``, m from corner to corner along the slope. ``shrink`` m is what the
    figure takes off the advance of the conduit, arcs included.
    """

    kind: str
    first: int
    last: int
    angle: float
    height: float
    multiplier: float
    travel: float
    shrink: float


def dog_leg(bend: ScheduledBend) -> float:
    """How far a bend is twisted out of the plane of the one before it, rad.

    NaN where none comes before, or the two were not meant to be in one plane.

    Parameters
    ----------
    bend : ScheduledBend
        From `bend_schedule`.

    Returns
    -------
    float
        rad
    """
    off = min(abs(bend.roll), math.pi - abs(bend.roll))  # NaN stays NaN
    return off if off <= MEANT else math.nan


def figures(path: Path, bends: Sequence[ScheduledBend]) -> tuple[OffsetOrSaddle, ...]:
    """The offsets and saddles of a schedule in order; no bend belongs to two of them.

    With corners the advance shrinks by h tan(θ/2) for each slope of height h; the arcs are shorter
    than the corners by their gain, which gives so much back (plane trigonometry).

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    bends : sequence of ScheduledBend
        From `bend_schedule`.

    Returns
    -------
    tuple of Figure
        In order.
    """
    found: list[OffsetOrSaddle] = []
    k = 0
    while k < len(bends):
        count = 3 if _is_saddle(bends[k : k + 3]) else 2 if _is_offset(bends[k : k + 2]) else 0
        if count:
            found.append(_figure(path, bends[k : k + count]))
        k += count or 1
    return tuple(found)


def _is_offset(bends: Sequence[ScheduledBend]) -> bool:
    return len(bends) == 2 and _back(bends[1]) and _alike(bends[0].angle, bends[1].angle)


def _is_saddle(bends: Sequence[ScheduledBend]) -> bool:
    if len(bends) != 3 or not all(_back(b) for b in bends[1:]):
        return False
    outer = bends[0].angle
    return _alike(outer, bends[2].angle) and abs(2 * outer - bends[1].angle) <= 2 * _SAME_ANGLE


def _back(bend: ScheduledBend) -> bool:
    """Bent back against the bend before it, in one plane, by less than a quarter turn."""
    return math.pi - abs(bend.roll) <= MEANT


def _alike(a: float, b: float) -> bool:
    return abs(a - b) <= _SAME_ANGLE and max(a, b) < math.pi / 2 - _SAME_ANGLE


def _figure(path: Path, bends: Sequence[ScheduledBend]) -> OffsetOrSaddle:
    corners = np.array([_corner(path, b) for b in bends])
    ahead = path.tangents[bends[0].segment]
    slopes = np.diff(corners, axis=0)
    travel = float(np.linalg.norm(slopes, axis=1).sum())
    advance = float((corners[-1] - corners[0]) @ ahead)
    rise = slopes[0] - (slopes[0] @ ahead) * ahead
    return OffsetOrSaddle(
        kind="offset" if len(bends) == 2 else "saddle",
        first=bends[0].number,
        last=bends[-1].number,
        angle=bends[0].angle,
        height=float(np.linalg.norm(rise)),
        multiplier=1 / math.sin(bends[0].angle),
        travel=float(np.linalg.norm(slopes[0])),
        shrink=travel - advance - sum(b.gain for b in bends),
    )


def _corner(path: Path, bend: ScheduledBend) -> Floats:
    """Where the tangents of a bend meet, (3,) m."""
    corner: Floats = path.starts[bend.segment] + bend.setback * path.tangents[bend.segment]
    return corner
