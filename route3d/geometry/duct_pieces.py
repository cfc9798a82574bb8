"""A duct as it is built: its straights and bends in order, and where pull boxes interrupt it."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from route3d.geometry.bend_schedule import bend_schedule
from route3d.geometry.box_places import box_places
from route3d.geometry.fillet import SHORTEST
from route3d.geometry.path import ARC, CORNER, STRAIGHT, Path
from route3d.geometry.vectors import Floats
from route3d.model.route import Route


@dataclass(frozen=True, slots=True)
class DuctPiece:
    """One piece of a duct, ``number`` from 1 along it: a straight, or a bend with ``bend`` > 0.

    ``station`` (m) is that of its start on the duct, ``length`` m along it; ``leg`` is that of the
    route. ``radius`` m, ``angle`` rad and ``setback`` m are those of a bend, NaN of a straight.
    ``roll`` is the turn of the plane of the bend from that of the bend before, about the axis of
    the duct and clockwise looking along the route, -π < roll <= π; NaN where no bend comes before
    or a pull point lies between. ``from_top`` (0 to 2π rad) is where the center of the bend lies
    seen along the route, clockwise from the top of the bank: 0 above, π/2 to the right.
    """

    number: int
    station: float
    length: float
    leg: int
    bend: int = 0
    vertex: int = -1
    radius: float = math.nan
    angle: float = math.nan
    roll: float = math.nan
    from_top: float = math.nan
    setback: float = math.nan


def duct_pieces(path: Path, starts: Floats, stops: Sequence[float] = ()) -> tuple[DuctPiece, ...]:
    """The straights and bends of a duct in the order of the route; turns without length have none.

    Parameters
    ----------
    path : Path
        The line of the duct, n segments.
    starts : ndarray, shape (n, 2, 3)
        Right and up of the bank at the start of each segment, from `frames`.
    stops : sequence of float
        Stations of pull points in a straight, m.

    Returns
    -------
    tuple of DuctPiece
        Their lengths sum to that of the duct.

    References
    ----------
    docs/theory.md section 14.
    """
    bends = {bend.segment: bend for bend in bend_schedule(path, stops)}
    pieces: list[DuctPiece] = []
    for i in np.flatnonzero(path.kind != CORNER).tolist():
        station, length = float(path.stations[i]), float(path.lengths[i])
        number, leg = len(pieces) + 1, int(path.leg[i])
        if i not in bends:
            pieces.append(DuctPiece(number, station, length, leg))
            continue
        bend = bends[i]
        right, up = (float(v) for v in starts[i] @ path.normals[i])
        from_top = math.atan2(right, up) % (2 * math.pi)
        pieces.append(
            DuctPiece(
                number,
                station,
                length,
                leg,
                bend.number,
                bend.vertex,
                bend.radius,
                bend.angle,
                bend.roll,
                0.0 if from_top > 2 * math.pi - 1e-9 else from_top,
                bend.setback,
            )
        )
    return tuple(pieces)


# --- pull boxes in the line ----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class BoxInLine:
    """A pull box about a pull point between the ends: the run is inside from ``start`` to ``end``.

    Both are stations, m. ``size`` is its length along the pull, width and height, m.
    """

    vertex: int
    start: float
    end: float
    size: tuple[float, float, float]


def boxes_in_line(route: Route, path: Path) -> tuple[BoxInLine, ...]:
    """The boxes of the pull points between the ends of a run, each with its middle on the point.

    They lie as `box_places` has them. At an end of the run the box stands beyond it: no duct is
    inside. The run is taken to pass at half height, whatever floor a room gives.

    Parameters
    ----------
    route : Route
        With the boxes.
    path : Path
        The centerline, n segments.

    Returns
    -------
    tuple of BoxInLine
        In the order of the route.
    """
    stations = path.vertex_stations(len(route.vertices))
    found = []
    for box in box_places(route):
        if box.vertex in (0, len(route.vertices) - 1):
            continue
        at = float(stations[box.vertex])
        before, after = (_reach(box.axes, box.size, way) for way in _both_ways(path, at))
        start, end = max(at - before, 0.0), min(at + after, path.length)
        found.append(BoxInLine(box.vertex, start, end, box.size))
    return tuple(found)


def _both_ways(path: Path, station: float) -> tuple[Floats, Floats]:
    """The directions in which a path comes to a station and leaves it."""
    ends = np.flatnonzero((np.abs(path.stations[1:] - station) < SHORTEST) & (path.lengths > 0))
    leaving = path.tangent(station)
    arriving = path.end_tangents[ends[0]] if len(ends) else leaving
    begins = np.flatnonzero((np.abs(path.stations[:-1] - station) < SHORTEST) & (path.lengths > 0))
    return arriving, path.tangents[begins[0]] if len(begins) else leaving


def _reach(axes: Floats, box: tuple[float, float, float], way: Floats) -> float:
    """From the middle of a box to its wall along a direction, m."""
    along = np.abs(axes @ way)
    half = np.array(box) / 2
    return float(np.min(half[along > SHORTEST] / along[along > SHORTEST]))


def within_boxes(
    center: Path, boxes: Sequence[BoxInLine], duct: Path
) -> tuple[tuple[float, float], ...]:
    """Station pairs (m) of a duct inside of boxes in the line of its bank.

    Their walls are taken square to the run where it meets them.

    Parameters
    ----------
    center : Path
        The line of the run.
    boxes : sequence of BoxInLine
        From `boxes_in_line`.
    duct : Path
        The line of the duct.

    Returns
    -------
    tuple of (float, float)
        m
    """
    return tuple((_beside(center, duct, b.start), _beside(center, duct, b.end)) for b in boxes)


def _beside(center: Path, duct: Path, station: float) -> float:
    """The station at which a duct passes the plane across the run at a station."""
    point, along = center.point(station), center.tangent(station)
    straight = np.flatnonzero(duct.kind == STRAIGHT)
    ahead = (point - duct.starts[straight]) @ along
    same = duct.tangents[straight] @ along > 1 - 1e-9
    inside = same & (ahead > -SHORTEST) & (ahead < duct.lengths[straight] + SHORTEST)
    away = np.linalg.norm(
        duct.starts[straight] + ahead[:, None] * duct.tangents[straight] - point, axis=1
    )
    if inside.any():
        k = int(np.argmin(np.where(inside, away, np.inf)))
        return float(duct.stations[straight[k]] + np.clip(ahead[k], 0, duct.lengths[straight[k]]))
    # In a bend the duct keeps the share of the turn.
    index, into = center.locate(station)
    i = int(index)
    share = float(into) / (center.angles if center.kind[i] == ARC else center.lengths)[i]
    j = int(np.flatnonzero((duct.kind == center.kind[i]) & (duct.vertex == center.vertex[i]))[0])
    return float(duct.stations[j] + share * duct.lengths[j])


# --- spacers -------------------------------------------------------------------------------------

BESIDE = 0.6096
"""A spacer stands this far, m, from an end of the concrete and from a bend: 2 ft, own judgment."""


def spacer_stations(
    path: Path, stretches: Sequence[tuple[float, float]], interval: float
) -> tuple[float, ...]:
    """Stations of the spacers of a bank, m.

    On every straight one stands `BESIDE` from each of its ends (the end of the stretch or of a
    bend; half the interval where that is less), in its middle where it is too short for two.
    Between these they stand evenly, at most an interval apart, in bends too (own judgment).

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    stretches : sequence of (float, float)
        Station pairs with ducts to hold, m.
    interval : float
        Largest distance between two, m.

    Returns
    -------
    tuple of float
        Rising, m.
    """
    beside, found = min(BESIDE, interval / 2), []
    for start, end in stretches:
        fixed = _fixed(path, start, end, beside)
        for a, b in itertools.pairwise(fixed):
            count = max(math.ceil((b - a) / interval - 1e-9), 1)
            found += np.linspace(a, b, count + 1)[:-1].tolist()
        found += fixed[-1:]
    return tuple(found)


def _fixed(path: Path, start: float, end: float, beside: float) -> list[float]:
    """The spacers at the ends of the straights of a stretch."""
    fixed: list[float] = []
    arcs = np.flatnonzero(path.kind == ARC)
    bends = [(float(path.stations[i]), float(path.stations[i + 1])) for i in arcs]
    bends = [(max(a, start), min(b, end)) for a, b in bends if a < end and b > start]
    froms = [start, *(b for _, b in bends)]
    for a, b in zip(froms, [*(a for a, _ in bends), end], strict=True):
        if b - a > 2 * beside + SHORTEST:
            fixed += [a + beside, b - beside]
        elif b - a > SHORTEST:
            fixed.append((a + b) / 2)
    if end - start > 2 * beside:  # where a bend reaches to an end
        first, last = fixed[:1] or [end], fixed[-1:] or [start]
        fixed = [start + beside] * (first[0] > start + beside + SHORTEST) + fixed
        fixed += [end - beside] * (last[0] < end - beside - SHORTEST)
    return fixed or [(start + end) / 2]
