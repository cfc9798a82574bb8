"""The least distance from a conduit to what stands around it, to other conduits and to itself."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.path import ARC, Path
from route3d.geometry.vectors import Floats, norm

# --- how far a point is from another conduit: exact distance to a chain of straights and arcs
# To a straight, it is the distance to the nearest point between its ends. To an arc of radius R
# about the axis a, with the point at ``(ρ, h)`` off and along the axis, it is ``hypot(ρ - R, h)``
# where the point stands within the angle of the arc, else the distance to the nearer end. From it
# goes the outer radius of the conduit; the ends are rounded by that radius, where the true ones
# are cut flat.

Ints = NDArray[np.int64]

# Points taken together, and pairs of point and segment worked on at once: bounds the memory.
_BLOCK, _PAIRS = 64, 200_000


@dataclass(frozen=True, slots=True, eq=False)
class Tubes:
    """A centerline with the outer ``radii`` (n,) m of its segments; an item is a segment.

    Every segment lies within ``reach`` (n,) m of its ``middles`` (n, 3) m.
    """

    path: Path
    radii: Floats
    middles: Floats
    reach: Floats

    def nearest(self, points: Floats, stations: Floats | None = None) -> tuple[Floats, Ints]:
        """Distance (k,) m of each point (k, 3) to the nearest conduit wall, and its segment.

        Negative inside a conduit, down to minus its outer radius on the centerline.
        """
        if not len(points):
            return np.empty(0), np.empty(0, dtype=np.int64)
        blocks = [self._block(points[i : i + _BLOCK]) for i in range(0, len(points), _BLOCK)]
        return np.concatenate([d for d, _ in blocks]), np.concatenate([i for _, i in blocks])

    def to_items(self, points: Floats, items: Ints) -> Floats:
        """Distance (k,) m of each point (k, 3) to the wall of the segment given for it."""
        return point_to_segments(self.path, points, items) - self.radii[items]

    def _block(self, points: Floats) -> tuple[Floats, Ints]:
        kept = self._may_be_nearest(points)
        size = max(1, _PAIRS // len(kept))
        found = [self._pairs(points[i : i + size], kept) for i in range(0, len(points), size)]
        return np.concatenate([d for d, _ in found]), np.concatenate([i for _, i in found])

    def _may_be_nearest(self, points: Floats) -> Ints:
        """The segments whose least distance is no more than the greatest of another."""
        middle = points.mean(axis=0)
        size = norm(points - middle).max()
        off, spread = norm(self.middles - middle), size + self.reach
        most = np.min(off + spread - self.radii)
        return np.flatnonzero(off - spread - self.radii <= most + 1e-9)

    def _pairs(self, points: Floats, kept: Ints) -> tuple[Floats, Ints]:
        off = point_to_segments(self.path, points[:, None, :], kept[None, :]) - self.radii[kept]
        best = off.argmin(axis=1)
        return off[np.arange(len(points)), best], kept[best]


def tubes_of(path: Path, outer_radii: Floats) -> Tubes:
    """The conduit along a path; ``outer_radii`` m, one for each leg of the route.

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    outer_radii : ndarray, shape (legs,)
        m

    Returns
    -------
    Tubes
        The conduit as a target.
    """
    middles = (path.starts + path.ends) / 2
    bulge = np.where(path.kind == ARC, path.lengths / 2, 0.0)  # generous: no need to be close
    reach = norm(path.ends - path.starts) / 2 + bulge
    return Tubes(path, outer_radii[path.leg], middles, reach)


def point_to_segments(path: Path, points: Floats, segments: Ints) -> Floats:
    """Distance m between points (..., 3) and the segments of a path (...), broadcast together.

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    points : ndarray, shape (..., 3)
        m
    segments : ndarray of int, shape (...)
        Segment numbers.

    Returns
    -------
    ndarray, shape (...)
        m
    """
    i = segments
    off = points - path.starts[i]
    tangent, normal = path.tangents[i], path.normals[i]
    along = np.einsum("...j,...j->...", off, tangent)
    nearest = np.clip(along, 0.0, path.lengths[i])
    straight = norm(off - nearest[..., None] * tangent)
    if not (path.kind == ARC).any():
        return straight
    arc = path.kind[i] == ARC
    radius = np.where(arc, path.radii[i], 0.0)
    aside = np.einsum("...j,...j->...", off, normal)
    height = norm(off - along[..., None] * tangent - aside[..., None] * normal)
    outward = radius - aside
    angle = np.arctan2(along, outward) % (2 * np.pi)
    ends = np.minimum(norm(off), norm(points - path.ends[i]))
    round_ = np.hypot(np.hypot(along, outward) - radius, height)
    return np.where(arc, np.where(angle <= path.angles[i], round_, ends), straight)


# --- how near a conduit comes to itself: every point against the rest of its own centerline -
# Along the run it is always near itself, so a point counts only against what is farther from it,
# measured along the centerline, than π/2 times the distance c that centers must keep. Nearer than
# that no smooth run with bends of at least c/2 in radius can come closer than c: an arc of a curve
# that bends no more than a circle spans at least the chord of that circle (Schur's comparison
# theorem; from memory), and 2R sin(πc/4R) ≥ c wherever R ≥ c/2.

SPARED = math.pi / 2
"""The share of the distance asked for, from center to center, that is spared along the run."""


@dataclass(frozen=True, slots=True, eq=False)
class Itself:
    """The conduit of a run, for points of its own centerline; an item is a segment.

    ``spared`` m along the run are left out on both sides of a point. Distances are exact up to
    ``most`` m; whatever is farther counts as that far.
    """

    tubes: Tubes
    spared: float
    most: float

    def nearest(self, points: Floats, stations: Floats | None = None) -> tuple[Floats, Ints]:
        """Distance (k,) m of points (k, 3) at their stations (k,) m, and the nearest segment."""
        if stations is None:
            raise ValueError(
                "a run measured from itself needs the stations of its points, not None"
            )
        distance = np.full(len(points), self.most)
        items = np.zeros(len(points), dtype=np.int64)
        size = max(1, _PAIRS // len(self.tubes.radii))
        for i in range(0, len(points), size):
            part = slice(i, i + size)
            self._block(points[part], stations[part], distance[part], items[part])
        return distance, items

    def to_items(self, points: Floats, items: Ints) -> Floats:
        """Distance (k,) m of each point (k, 3) to the wall of the segment given for it."""
        return self.tubes.to_items(points, items)

    def _block(self, points: Floats, stations: Floats, distance: Floats, items: Ints) -> None:
        tubes = self.tubes
        apart = norm(points[:, None] - tubes.middles) - tubes.reach - tubes.radii
        k, i = np.nonzero(apart < self.most)
        low, high = tubes.path.stations[i], tubes.path.stations[i + 1]
        for start, end in (
            (low, np.minimum(high, stations[k] - self.spared)),
            (np.maximum(low, stations[k] + self.spared), high),
        ):
            there = end >= start
            pair, segment = k[there], i[there]
            off = self._to_parts(points[pair], segment, start[there], end[there])
            off -= tubes.radii[segment]
            order = np.argsort(-off, kind="stable")  # the nearest is written last
            pair, segment, off = pair[order], segment[order], off[order]
            closer = off < distance[pair]
            distance[pair[closer]] = off[closer]
            items[pair[closer]] = segment[closer]

    def _to_parts(self, points: Floats, segment: Ints, start: Floats, end: Floats) -> Floats:
        """Distance (m,) m of points (m, 3) to segments (m,) between two stations of each."""
        path = self.tubes.path
        off = points - path.starts[segment]
        along = np.einsum("ij,ij->i", off, path.tangents[segment])
        aside = np.einsum("ij,ij->i", off, path.normals[segment])
        arc = path.kind[segment] == ARC
        radius = np.where(arc, path.radii[segment], 1.0)
        angle = np.arctan2(along, radius - aside) % (2 * np.pi)
        foot = path.stations[segment] + np.where(arc, radius * angle, along)
        ends = np.minimum(norm(points - path.point(start)), norm(points - path.point(end)))
        whole = point_to_segments(path, points, segment)
        return np.where((foot >= start) & (foot <= end), whole, ends)


def itself(tubes: Tubes, required: float) -> Itself:
    """A run to be measured from itself, with the clearance ``required`` m asked for.

    Parameters
    ----------
    tubes : Tubes
        The conduit of the run.
    required : float
        m

    Returns
    -------
    Itself
        What is measured against.

    References
    ----------
    docs/theory.md section 14 (Schur's theorem).
    """
    between = required + 2 * float(tubes.radii.max())
    spared = SPARED * between
    return Itself(tubes, spared, spared)


# --- the least distance from a conduit to what stands around it, for every stretch of its route
# The distance f from a point of the centerline to the nearest thing changes by no more than the
# point moves, and the ball of radius f about the point is empty. So between two points a and b of
# the centerline, a chord c apart, nothing is nearer than the rim in which their two balls meet::
#
#     x = (c² + fa² - fb²) / 2c        f ≥ √(fa² - x²) - e,     0 ≤ x ≤ c
#
# (the nearer end itself for x outside of the chord), with e the height of the arc over its chord.
# Where that is less than the least found by more than the tolerance, the stretch is halved and
# looked at again: what is reported is at most the tolerance above the true least distance,
# wherever the samples happened to fall. The best place of each row is then brought to the foot of
# its own triangle or conduit segment, exactly, on the true centerline.

Flags = NDArray[np.bool_]

TOLERANCE = 1e-4
"""The most by which a least clearance may be too large, m; or a thousandth of it, if that is more.

Where conduits or surfaces overlap it is ``OVERLAP_TOLERANCE``.
"""
OVERLAP_TOLERANCE = 1e-3
END_TOLERANCE = 5e-3
"""The most by which the ends of a stretch that is too close may be off, m."""

_SHARE = 1e-3
_MOST_TURN = np.pi / 4  # arcs are cut to this before anything else
_GOLDEN = (5**0.5 - 1) / 2
_GOLDEN_STEPS = 45  # shrinks a meter to less than 1e-9 m
_ROUNDS, _GAIN = 4, 1e-12


class Target(Protocol):
    """What is measured against: distances from points, and the items they go to."""

    def nearest(self, points: Floats, stations: Floats | None = None) -> tuple[Floats, Ints]:
        """Distance (k,) m of each point (k, 3) to the nearest item, and the item.

        ``stations`` (k,) m are those of the points on the run that is measured.
        """

    def to_items(self, points: Floats, items: Ints) -> Floats:
        """Distance (k,) m of each point (k, 3) to the item given for it."""


@dataclass(frozen=True, slots=True, eq=False)
class Nodes:
    """A centerline looked at in ``k`` stations, and its ``k - 1`` intervals.

    ``stations`` (k,) m, ``gaps`` (k,) from the centerline, ``items`` (k,) nearest; ``rows`` and
    ``segments`` (k - 1,) that each interval lies in, and ``radii`` (k - 1,) m of the conduit there.
    """

    stations: Floats
    gaps: Floats
    items: Ints
    rows: Ints
    segments: Ints
    radii: Floats

    @property
    def lengths(self) -> Floats:
        """Length of each interval along the centerline, m."""
        return np.diff(self.stations)

    @property
    def ends(self) -> tuple[Floats, Floats]:
        """Clearance of the conduit's surface at the start and at the end of each interval, m."""
        return self.gaps[:-1] - self.radii, self.gaps[1:] - self.radii

    def with_new(self, at: Ints, stations: Floats, gaps: Floats, items: Ints) -> Nodes:
        """The same with one more node inside each of the intervals ``at``."""
        after = at + 1
        return Nodes(
            np.insert(self.stations, after, stations),
            np.insert(self.gaps, after, gaps),
            np.insert(self.items, after, items),
            np.insert(self.rows, after, self.rows[at]),
            np.insert(self.segments, after, self.segments[at]),
            np.insert(self.radii, after, self.radii[at]),
        )


@dataclass(frozen=True, slots=True, eq=False)
class Clearances:
    """The least clearance of each row of a route from one target.

    ``distance`` (n,) m from the conduit's surface, negative where it overlaps, at ``station`` (n,)
    m; ``item`` (n,) of the target there; ``gap`` (n,) m the same from the centerline, for a mesh 0
    where the centerline itself goes through. ``nodes`` is all that was looked at.
    """

    distance: Floats
    station: Floats
    item: Ints
    gap: Floats
    nodes: Nodes


@dataclass(frozen=True, slots=True)
class Stretch:
    """Stations ``start`` to ``end`` m that are too close; ``distance`` m the least, at ``station``.

    ``gap`` is that distance from the centerline. ``items`` are those nearest within the stretch,
    the one at ``station`` first.
    """

    start: float
    end: float
    station: float
    distance: float
    gap: float
    items: tuple[int, ...]


def least_clearances(
    path: Path,
    outer_radii: Floats,
    target: Target,
    bounds: Floats,
    limits: Sequence[float] = (),
) -> Clearances:
    """The least clearance between each two of the ``bounds`` (n + 1,), stations from 0 to the end.

    ``outer_radii`` m of the conduit, one for each leg of the route. Stretches nearer than any of
    the ``limits`` m are followed to their ends, to ``END_TOLERANCE``.

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    outer_radii : ndarray, shape (legs,)
        Outer radius of the conduit on each leg, m.
    target : Target
        What is measured against.
    bounds : ndarray, shape (n + 1,)
        Stations, m.
    limits : sequence of float
        Clearances to be followed to their ends, m.

    Returns
    -------
    Clearances
        The minimum of each row, m, and where it is.

    References
    ----------
    docs/theory.md section 14.
    """
    count = len(bounds) - 1
    nodes = _settled(path, _first_nodes(path, outer_radii, target, bounds), target, count, limits)
    return _least(_polished(path, nodes, target, count), count)


def _first_nodes(path: Path, outer_radii: Floats, target: Target, bounds: Floats) -> Nodes:
    inner = np.concatenate((path.stations, *_arc_cuts(path)))
    near = np.abs(bounds[np.clip(np.searchsorted(bounds, inner), 0, len(bounds) - 1)] - inner)
    before = np.abs(bounds[np.clip(np.searchsorted(bounds, inner) - 1, 0, None)] - inner)
    inner = inner[(np.minimum(near, before) > 1e-9) & (inner > bounds[0]) & (inner < bounds[-1])]
    stations = np.unique(np.concatenate((bounds, inner)))
    middles = (stations[:-1] + stations[1:]) / 2
    segments, _ = path.locate(middles)
    rows = np.clip(np.searchsorted(bounds, middles, side="right") - 1, 0, len(bounds) - 2)
    gaps, items = target.nearest(path.point(stations), stations)
    radii = outer_radii[path.leg[segments]]
    return Nodes(stations, gaps, items, rows, segments, radii)


def _arc_cuts(path: Path) -> list[Floats]:
    """Stations that cut arcs of more than an eighth of a circle."""
    wide = np.flatnonzero((path.kind == ARC) & (path.angles > _MOST_TURN))
    return [
        np.linspace(path.stations[i], path.stations[i + 1], int(path.angles[i] / _MOST_TURN) + 2)
        for i in wide.tolist()
    ]


# --- where to look again -------------------------------------------------------------------------


def _settled(
    path: Path, nodes: Nodes, target: Target, count: int, limits: Sequence[float]
) -> Nodes:
    """Looked at again, until no interval may hold a place that is much nearer than its row's."""
    while len(at := _unsettled(path, nodes, count, limits)):
        middles = (nodes.stations[at] + nodes.stations[at + 1]) / 2
        gaps, items = target.nearest(path.point(middles), middles)
        nodes = nodes.with_new(at, middles, gaps, items)
    return nodes


def _unsettled(path: Path, nodes: Nodes, count: int, limits: Sequence[float]) -> Ints:
    """The intervals that may hold a nearer place, or the end of a stretch that is too close."""
    best = _row_best(nodes, count)
    low, high = _bounds_within(path, nodes)
    near = np.maximum(TOLERANCE, _SHARE * best)
    slack = np.where(best < 0, OVERLAP_TOLERANCE, near)
    look = low < best - slack  # never where the interval counts in no row
    for limit in limits:
        edge = (best < limit) & (low < limit) & (high > limit)
        look |= edge & (nodes.lengths > END_TOLERANCE)
    return np.flatnonzero(look)


def _row_best(nodes: Nodes, count: int) -> Floats:
    """The least clearance of the row of each interval; minus infinity where that is none."""
    best, counted = np.full(count, np.inf), nodes.rows >= 0
    np.minimum.at(best, nodes.rows[counted], np.minimum(*nodes.ends)[counted])
    return np.where(counted, best[nodes.rows], -np.inf)


def _bounds_within(path: Path, nodes: Nodes) -> tuple[Floats, Floats]:
    """The least and the most that the clearance can be within each interval, m."""
    length, a, b = nodes.lengths, nodes.gaps[:-1], nodes.gaps[1:]
    radius = path.radii[nodes.segments]
    half = np.where(np.isfinite(radius), length / (2 * np.where(radius > 0, radius, 1.0)), 0.0)
    bent = half > 0
    chord = np.where(bent, 2 * np.where(bent, radius, 0.0) * np.sin(half), length)
    rise = np.where(bent, 2 * np.where(bent, radius, 0.0) * np.sin(half / 2) ** 2, 0.0)
    low = np.maximum((a + b - length) / 2, empty_balls(a, b, chord) - rise)
    return low - nodes.radii, (a + b + length) / 2 - nodes.radii


def empty_balls(a: Floats, b: Floats, chord: Floats) -> Floats:
    """The least distance to anything along a chord with empty balls ``a``, ``b`` m at its ends.

    Minus infinity where the balls do not meet.

    Parameters
    ----------
    a, b : ndarray
        Radii of the balls at both ends, m.
    chord : ndarray
        Length of the chord, m.

    Returns
    -------
    ndarray
        m
    """
    meet = (a > 0) & (b > 0) & (a + b > chord)
    x = (chord**2 + a**2 - b**2) / (2 * chord)
    rim = np.sqrt(np.maximum(a**2 - x**2, 0.0))
    least = np.where(x <= 0, a, np.where(x >= chord, b, rim))
    return np.where(meet, least, -np.inf)


# --- the exact foot ------------------------------------------------------------------------------


def _polished(path: Path, nodes: Nodes, target: Target, count: int) -> Nodes:
    """With a node at the least distance of each row from the item that is nearest there.

    Where another item turns out to be nearer there, once more from that one.
    """
    open_rows = np.ones(count, dtype=bool)
    for _ in range(_ROUNDS):
        starts, ends = nodes.ends
        least = np.minimum(starts, ends)
        lowest = (least <= _row_best(nodes, count)) & ~_level(path, nodes)
        at = np.flatnonzero(lowest & open_rows[nodes.rows])
        if not len(at):
            break
        items = np.where(starts[at] <= ends[at], nodes.items[at], nodes.items[at + 1])
        low, high = nodes.stations[at], nodes.stations[at + 1]
        station = _golden_section(path, target, items, low, high)
        gaps, items = target.nearest(path.point(station), station)
        better = gaps - nodes.radii[at] < least[at] - _GAIN
        better &= (station > low) & (station < high)
        if not better.any():
            break
        open_rows[:] = False
        open_rows[nodes.rows[at[better]]] = True
        nodes = nodes.with_new(at[better], station[better], gaps[better], items[better])
    return nodes


def _level(path: Path, nodes: Nodes) -> Flags:
    """The intervals that run level beside one item: three nodes of a straight as far from it.

    The distance from a convex item along a straight is convex, so that it is the same between.
    """
    same = (nodes.gaps[:-1] == nodes.gaps[1:]) & (nodes.items[:-1] == nodes.items[1:])
    same &= path.kind[nodes.segments] != ARC
    both = same[:-1] & same[1:] & (nodes.segments[:-1] == nodes.segments[1:])
    level = np.zeros(len(same), dtype=bool)
    level[:-1] |= both
    level[1:] |= both
    return level


def _golden_section(path: Path, target: Target, items: Ints, low: Floats, high: Floats) -> Floats:
    """The station (k,) m between ``low`` and ``high`` (k,) nearest to each of the items (k,).

    The distance along a straight to one triangle has a single low, and the intervals of arcs are
    short.
    """

    def gap(stations: Floats) -> Floats:
        return target.to_items(path.point(stations), items)

    left, right = high - _GOLDEN * (high - low), low + _GOLDEN * (high - low)
    at_left, at_right = gap(left), gap(right)
    for _ in range(_GOLDEN_STEPS):
        lower = at_left <= at_right
        low, high = np.where(lower, low, left), np.where(lower, right, high)
        inner = np.where(lower, high - _GOLDEN * (high - low), low + _GOLDEN * (high - low))
        at_inner = gap(inner)
        left, right = np.where(lower, inner, right), np.where(lower, left, inner)
        at_left, at_right = np.where(lower, at_inner, at_right), np.where(lower, at_left, at_inner)
    return (low + high) / 2


def _least(nodes: Nodes, count: int) -> Clearances:
    """The best node of each row, the first of equals."""
    starts, ends = nodes.ends
    values = np.concatenate((starts, ends))
    rows = np.concatenate((nodes.rows, nodes.rows))
    which = np.concatenate((np.arange(len(starts)), np.arange(1, len(ends) + 1)))
    order = np.lexsort((which, values, rows))
    first = order[np.searchsorted(rows[order], np.arange(count))]
    node = which[first]
    return Clearances(
        values[first], nodes.stations[node], nodes.items[node], nodes.gaps[node], nodes
    )


# --- stretches -----------------------------------------------------------------------------------


def stretches_within(
    path: Path, found: Clearances, target: Target, limit: float, rows: Flags
) -> tuple[Stretch, ...]:
    """The stretches nearer than ``limit`` m, in those of the ``rows`` (n,) that are true.

    ``found`` is what ``least_clearances`` found on ``path`` from ``target``, with ``limit`` among
    its limits. The least distance of each stretch is as sure as that of a row.

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    found : Clearances
        From `least_clearances`.
    target : Target
        What is measured against.
    limit : float
        m
    rows : ndarray of bool, shape (n,)
        Which rows are asked for.

    Returns
    -------
    tuple of Stretch
        In the order of the path.
    """
    nodes, count = _by_stretch(found.nodes, limit, rows)
    if not count:
        return ()
    nodes = _polished(path, _settled(path, nodes, target, count, ()), target, count)
    order = np.flatnonzero(nodes.rows >= 0)
    first = order[np.searchsorted(nodes.rows[order], np.arange(count))]
    last = order[np.searchsorted(nodes.rows[order], np.arange(count), side="right") - 1]
    pairs = zip(first.tolist(), last.tolist(), strict=True)
    return tuple(_stretch(nodes, limit, a, b) for a, b in pairs)


def _by_stretch(nodes: Nodes, limit: float, rows: Flags) -> tuple[Nodes, int]:
    """The same nodes with the number of its stretch as the row of each interval, -1 for none."""
    starts, ends = nodes.ends
    close = (np.minimum(starts, ends) < limit) & rows[nodes.rows]
    joined = (ends[:-1] < limit) & close[:-1] & close[1:]
    number = np.cumsum(close & ~np.concatenate(([False], joined))) - 1
    count = int(number[-1]) + 1
    return replace(nodes, rows=np.where(close, number, -1)), count


def _stretch(nodes: Nodes, limit: float, first: int, last: int) -> Stretch:
    starts, ends = (e[first : last + 1] for e in nodes.ends)
    values = np.concatenate((starts, ends))
    which = np.concatenate((np.arange(first, last + 1), np.arange(first + 1, last + 2)))
    best = int(values.argmin())
    node = int(which[best])
    items = dict.fromkeys([int(nodes.items[node]), *nodes.items[which[values < limit]].tolist()])
    return Stretch(
        _crossing(nodes, first, starts[0], ends[0], limit, nodes.stations[first]),
        _crossing(nodes, last, ends[-1], starts[-1], limit, nodes.stations[last + 1]),
        float(nodes.stations[node]),
        float(values[best]),
        float(nodes.gaps[node]),
        tuple(items),
    )


def _crossing(
    nodes: Nodes, i: int, outer: float, inner: float, limit: float, station: float
) -> float:
    """Where an interval that starts or ends outside of the limit comes within it."""
    if outer < limit:
        return float(station)
    other = nodes.stations[i] + nodes.stations[i + 1] - station
    share = (outer - limit) / (outer - inner) if outer > inner else 0.0
    return float(station + share * (other - station))
