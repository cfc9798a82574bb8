"""Bends that belong together: offsets and saddles in one plane, and the dog-leg between bends."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from route3d.geometry.bend_schedule import ScheduledBend
from route3d.geometry.path import Path
from route3d.geometry.vectors import Floats

# Bends out of one plane by less than this were meant to be in it (common practice, no source).
MEANT = math.radians(10.0)
# A twist too small to see or to feel in the pull (common practice, no source).
DOG_LEG = math.radians(1.0)
# The top of a saddle is bent in the stick of its bends; with more between, there are two offsets
# (common practice, no source).
_OVER = 3.048
# Two heights are the same where nobody sees a difference on a tape (own judgment).
_SAME_HEIGHT = 0.003
# Bends of an offset are set to the same mark of the bender: their turns agree to about a degree.
_SAME_ANGLE = math.radians(1.0)


@dataclass(frozen=True, slots=True)
class OffsetOrSaddle:
    """An "offset" of two bends, a "saddle" of three, or a "4-bend saddle".

    ``first`` and ``last`` are the numbers of its bends. ``angle`` rad is that of the outer bends.
    ``height`` m is from the line before to the line after, of a saddle to the corner of its center
    bend or to the line over the top. ``multiplier`` is 1/sin(angle): by it the height gives
    ``travel``, m from corner to corner along the first slope. ``shrink`` m is what the whole figure
    takes off the advance of the conduit, arcs included; ``shrink_to_center`` m is that up to the
    center mark of a saddle of three, or to the top of a saddle of four, and NaN of an offset.
    ``spacings`` m are from the start of each arc to that of the next, on the straight conduit:
    corner to corner, less the set-backs of both bends, and the arc of the first. ``crown`` m is the
    height of the top of the center bend of three on the centerline, ``over`` m is from corner to
    corner over the top of a saddle of four; NaN for others.
    """

    kind: str
    first: int
    last: int
    angle: float
    height: float
    multiplier: float
    travel: float
    shrink: float
    spacings: tuple[float, ...]
    shrink_to_center: float = math.nan
    crown: float = math.nan
    over: float = math.nan


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
    tuple of OffsetOrSaddle
        In order.

    References
    ----------
    docs/theory.md section 14.
    """
    found: list[OffsetOrSaddle] = []
    k = 0
    while k < len(bends):
        count = _count(path, bends[k : k + 4])
        if count:
            found.append(_figure(path, bends[k : k + count]))
        k += count or 1
    return tuple(found)


def _count(path: Path, bends: Sequence[ScheduledBend]) -> int:
    """How many of some bends that follow each other make a figure; 0 where the first has none."""
    if _is_saddle(bends[:3]):
        return 3
    if not _is_offset(bends[:2]):
        return 0
    return 4 if _is_long_saddle(path, bends) else 2


def _is_long_saddle(path: Path, bends: Sequence[ScheduledBend]) -> bool:
    """An offset, a short way over the top, and the same offset back to the first line."""
    if len(bends) != 4 or not _is_offset(bends[2:]) or bends[2].straight_before > _OVER:
        return False
    if not abs(bends[2].roll) <= MEANT or not _alike(bends[1].angle, bends[2].angle):
        return False
    ahead = path.tangents[bends[0].segment]
    line = _corner(path, bends[3]) - _corner(path, bends[0])
    return float(np.linalg.norm(line - (line @ ahead) * ahead)) <= _SAME_HEIGHT


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
    along = np.linalg.norm(slopes, axis=1)
    advance = float((corners[-1] - corners[0]) @ ahead)
    height = float(np.linalg.norm(slopes[0] - (slopes[0] @ ahead) * ahead))
    angle, count = bends[0].angle, len(bends)
    below = bends[1].radius * (1 / math.cos(bends[1].angle / 2) - 1)
    # Of the center bend of three the first half lies before its mark, and so does half its gain.
    gained = bends[0].gain + bends[1].gain / (2 if count == 3 else 1)
    to_center = float(along[0] - slopes[0] @ ahead) - gained
    return OffsetOrSaddle(
        kind={2: "offset", 3: "saddle", 4: "4-bend saddle"}[count],
        first=bends[0].number,
        last=bends[-1].number,
        angle=angle,
        height=height,
        multiplier=1 / math.sin(angle),
        travel=float(along[0]),
        shrink=float(along.sum()) - advance - sum(b.gain for b in bends),
        spacings=tuple(b.station - a.station for a, b in pairwise(bends)),
        shrink_to_center=to_center if count > 2 else math.nan,
        crown=height - below if count == 3 else math.nan,
        over=float(along[1]) if count == 4 else math.nan,
    )


def _corner(path: Path, bend: ScheduledBend) -> Floats:
    """Where the tangents of a bend meet, (3,) m."""
    corner: Floats = path.starts[bend.segment] + bend.setback * path.tangents[bend.segment]
    return corner
