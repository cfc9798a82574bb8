"""The bend schedule: every bend of a path with the figures it is laid out and bent by."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from route3d.geometry.path import ARC, STRAIGHT, Path
from route3d.geometry.vectors import Floats

# A bend whose plane is within this of level or upright is laid out as such: drainage slopes and
# plumb lines are not held closer (common practice, no source).
LEVEL = math.radians(3)
# Half a turn less rounding is half a turn, whichever way.
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class ScheduledBend:
    """One bend, numbered from 1 along the route; lengths in m, ``angle`` in rad.

    ``segment``, ``vertex`` and ``leg`` are its numbers in the path and the route; ``station`` is
    that of its start. ``roll`` is the turn of its plane from that of the bend before, about the
    straight between and clockwise looking along the route, -π < roll <= π: 0 goes on round, π bends
    back. NaN where no bend comes before, or a pull point lies between. ``setback`` is from the
    point where the tangents meet to either end of the arc; ``gain`` is what the arc is shorter than
    those two tangents. ``straight_before`` and ``straight_after`` reach to the neighboring bend,
    pull point or end of the run.
    """

    number: int
    segment: int
    vertex: int
    leg: int
    station: float
    angle: float
    radius: float
    plane: str
    roll: float
    setback: float
    arc_length: float
    gain: float
    straight_before: float
    straight_after: float


def bend_labels(count: int, run: str = "") -> list[str]:
    """Names of the bends of a run such as F1-B03, with as many digits for all.

    Parameters
    ----------
    count : int
        How many bends there are.
    run : str
        Name of the run. Default: labels without it, such as B03.

    Returns
    -------
    list of str
        In the order of the route.
    """
    head, digits = f"{run}-" if run else "", max(2, len(str(count)))
    return [f"{head}B{number:0{digits}}" for number in range(1, count + 1)]


def bend_schedule(path: Path, stops: Sequence[float] = ()) -> tuple[ScheduledBend, ...]:
    """The bends of a path in the order of the route; at ``stops`` (stations, m) conduit ends.

    Those are pull points in a straight; turning ones the path knows itself. Set-back is R tan(φ/2),
    arc length R φ, gain 2 R tan(φ/2) - R φ (plane trigonometry).

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    stops : sequence of float
        Stations of pull points in a straight, m.

    Returns
    -------
    tuple of ScheduledBend
        In the order of the route.

    References
    ----------
    docs/theory.md section 14.
    """
    turns = [int(i) for i in np.flatnonzero(path.kind != STRAIGHT)]
    before = [0.0, *(float(path.stations[i + 1]) for i in turns)]
    after = [*(float(path.stations[i]) for i in turns), path.length]
    rolls = _rolls(path, turns)
    bends: list[ScheduledBend] = []
    for k, i in enumerate(turns):
        if path.kind[i] == ARC:
            start, end = after[k], before[k + 1]
            last = max((s for s in stops if before[k] < s <= start), default=before[k])
            next_ = min((s for s in stops if end <= s < after[k + 1]), default=after[k + 1])
            roll = math.nan if last > before[k] else rolls[k]
            bends.append(_bend(path, i, len(bends) + 1, roll, start - last, next_ - end))
    return tuple(bends)


def _rolls(path: Path, turns: list[int]) -> list[float]:
    """The roll of each turn from the one before it, NaN where either is no bend, rad.

    The angle between the normals, which both stand square to the straight between.
    """
    at = np.array(turns, dtype=np.int64)
    rolls = np.full(len(at), np.nan)
    if len(at) > 1:
        old, new, along = path.end_normals[at[:-1]], path.normals[at[1:]], path.tangents[at[1:]]
        sine = np.einsum("ij,ij->i", along, np.cross(old, new))
        angle = np.arctan2(sine, np.einsum("ij,ij->i", old, new))
        angle[angle < -np.pi + _ROUNDING] = np.pi
        both = (path.kind[at[:-1]] == ARC) & (path.kind[at[1:]] == ARC)
        rolls[1:] = np.where(both, angle + 0.0, np.nan)
    return [float(r) for r in rolls]


def _bend(
    path: Path, i: int, number: int, roll: float, before: float, after: float
) -> ScheduledBend:
    radius, angle, length = float(path.radii[i]), float(path.angles[i]), float(path.lengths[i])
    setback = radius * math.tan(angle / 2)
    return ScheduledBend(
        number=number,
        segment=i,
        vertex=int(path.vertex[i]),
        leg=int(path.leg[i]),
        station=float(path.stations[i]),
        angle=angle,
        radius=radius,
        plane=_plane(path, i),
        roll=roll,
        setback=setback,
        arc_length=length,
        gain=2 * setback - length,
        straight_before=max(before, 0.0),
        straight_after=max(after, 0.0),
    )


def leg_rooms(path: Path) -> Floats:
    """The straight left on each leg of the route, (legs,) m.

    Parameters
    ----------
    path : Path
        The centerline, n segments.

    Returns
    -------
    ndarray, shape (legs,)
        m
    """
    straight = path.kind == STRAIGHT
    count = int(path.leg.max()) + 1
    rooms = np.bincount(path.leg[straight], path.lengths[straight], minlength=count)
    return np.asarray(rooms, dtype=np.float64)


def largest_radius(path: Path, segment: int, rooms: Floats) -> float:
    """The largest radius of a bend that leaves room for its neighbors, m.

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    segment : int
        Number of the bend's segment.
    rooms : ndarray, shape (legs,)
        From `leg_rooms`, m.

    Returns
    -------
    float
        m
    """
    vertex = int(path.vertex[segment])
    room = float(min(rooms[vertex - 1], rooms[vertex]))
    half = math.tan(float(path.angles[segment]) / 2)
    return (float(path.radii[segment]) + room / half) * (1 - 1e-9)


def _plane(path: Path, i: int) -> str:
    """How the plane of the bend lies: horizontal, vertical or oblique."""
    t, n = path.tangents[i], path.normals[i]
    axis_z = abs(float(t[0] * n[1] - t[1] * n[0]))  # np.cross would take most of the time
    if axis_z >= math.cos(LEVEL):
        return "horizontal"
    return "vertical" if axis_z <= math.sin(LEVEL) else "oblique"
