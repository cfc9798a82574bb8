"""Points along a smooth curve that is no circle, followed by arcs that meet without a corner.

A curve is smooth where the curvature from point to point changes slowly: the vector
κ = (u2 - u1) / ((l1 + l2) / 2) of two chords with unit vectors u and lengths l. There a tangent is
known at each point, that of the circle through it and both neighbors (u1 / l1 + u2 / l2, exact on a
circle), and a biarc leads from one point to any other (``route3d.geometry.biarcs``). Each goes as
far as it stays within the tolerance of the points between. All limits are our own judgment.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.biarcs import Bends, biarc
from route3d.geometry.vectors import Floats, angle_between, norm, unit

# A chord that turns more than this from the one before is at a corner.
MOST_FACET_TURN = np.radians(32)
# Curvature changes by at most this share of the largest of a few points on both sides.
CHANGE, BESIDE = 0.4, 4
# Fewer points in a row than this may turn alike by chance: bends of a route of straights do.
FEWEST_IN_ROW = 6
# A tangent is that of the straight beside it where they differ by less than the turns of the curve,
# and always where they differ by less than this.
SNAP = np.radians(0.5)
# Points of which the distance from a biarc is taken first, before that of all.
_MOST_LOOKED = 65
# Points from which a tangent is fitted by least squares.
_MANY = 12


@dataclass(frozen=True, slots=True, eq=False)
class Stretch:
    """Points of a polyline between two found arcs or ends: numbers of its ``carriers``, in order.

    ``before`` and ``after`` (3,) m are the vertices of the bends that lead to its first point and
    from its last one, None at the ends of the polyline.
    """

    carriers: Sequence[int]
    before: Floats | None = None
    after: Floats | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Followed:
    """Vertices (k, 3) m of a stretch but its ends, their ``radii`` m, and the ``source`` of each:
    the number of the point it is, -1 where it is that of a bend. ``smooth`` says whether there was
    a smooth curve to follow.
    """

    points: Floats
    radii: Floats
    source: NDArray[np.int64]
    smooth: bool


def smooth_points(points: Floats) -> NDArray[np.bool_]:
    """Which points (n, 3) m of a polyline lie within a smooth curve, (n,); never the ends.

    Parameters
    ----------
    points : ndarray, shape (n, 3)
        m, neighbors apart.

    Returns
    -------
    ndarray of bool, shape (n,)
    """
    found = np.zeros(len(points), dtype=bool)
    if len(points) < FEWEST_IN_ROW + 2:
        return found
    legs = np.diff(points, axis=0)
    length = norm(legs)
    ways = legs / length[:, None]
    turn = angle_between(ways[:-1], ways[1:])
    curvature = np.diff(ways, axis=0) / ((length[:-1] + length[1:]) / 2)[:, None]
    padded = np.pad(norm(curvature), BESIDE)
    beside = np.lib.stride_tricks.sliding_window_view(padded, 2 * BESIDE + 1).max(axis=1)
    change = norm(np.diff(curvature, axis=0))
    soft = turn <= MOST_FACET_TURN
    alike = change <= CHANGE * np.maximum(beside[:-1], beside[1:])
    alike &= soft[:-1] & soft[1:] & (np.maximum(turn[:-1], turn[1:]) > 0)
    edges = np.flatnonzero(np.diff(np.concatenate(([False], alike, [False])).astype(np.int8)))
    for first, last in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        if last - first + 1 >= FEWEST_IN_ROW:
            found[first + 1 : last + 2] = True
    return found


def chord_points(points: Floats) -> NDArray[np.bool_]:
    """Which points (n, 3) m stand between short chords of a bend or a smooth curve, (n,).

    Also those where a straight leads into it, which turn no more than the next ones.

    Parameters
    ----------
    points : ndarray, shape (n, 3)
        m, neighbors apart.

    Returns
    -------
    ndarray of bool, shape (n,)
    """
    found = smooth_points(points)
    if not found.any():
        return found
    ways = unit(np.diff(points, axis=0))
    turn = np.zeros(len(points))
    turn[1:-1] = angle_between(ways[:-1], ways[1:])
    inside = found.copy()
    for here, next_ in ((slice(1, -1), slice(2, None)), (slice(1, -1), slice(None, -2))):
        found[here] |= inside[next_] & (turn[here] <= 1.05 * turn[next_])
    return found


def implied_radii(points: Floats) -> Floats:
    """Radii (n,) m for the points of smooth curves: each bend reaches half-way to its neighbors.

    Parameters
    ----------
    points : ndarray, shape (n, 3)
        m, neighbors apart.

    Returns
    -------
    ndarray, shape (n,)
        m, 0 at all other points.
    """
    radii = np.zeros(len(points))
    inside = np.flatnonzero(chord_points(points))
    if inside.size:
        legs = np.diff(points, axis=0)
        length = norm(legs)
        ways = legs / length[:, None]
        turn = angle_between(ways[inside - 1], ways[inside])
        room = np.minimum(length[inside - 1], length[inside]) / 2
        radii[inside] = np.where(turn > 1e-9, room / np.tan(np.maximum(turn, 1e-9) / 2), 0.0)
    return radii


def followed(p: Floats, stretch: Stretch, tolerance: float) -> Followed | None:
    """A stretch of a polyline with its smooth curves made arcs; all other carriers stay corners.

    Parameters
    ----------
    p : ndarray, shape (n, 3)
        All points of the polyline, m.
    stretch : Stretch
        Which of them carry its shape there.
    tolerance : float
        m

    Returns
    -------
    Followed or None
        None where a smooth curve cannot be followed within the tolerance.
    """
    at = np.array(stretch.carriers)
    q = p[at]
    spans = _spans(smooth_points(q))
    if stretch.before is None:
        spans = _to_the_end(q[::-1], [(len(q) - 1 - b, len(q) - 1 - a) for a, b in spans[::-1]])
        spans = [(len(q) - 1 - b, len(q) - 1 - a) for a, b in spans[::-1]]
    if stretch.after is None:
        spans = _to_the_end(q, spans)
    if not spans:
        return Followed(q[1:-1], np.zeros(len(q) - 2), at[1:-1], smooth=False)
    tangents = _tangents(p, at)
    points: list[Floats] = []
    radii: list[float] = []
    source: list[int] = []
    done = 0
    for first, last in spans:
        for i in range(max(done, 1), first):
            points.append(q[i])
            radii.append(0.0)
            source.append(int(at[i]))
        came = points[-1] if points else stretch.before if first == 0 else q[0]
        start, corner = _start(q, tangents, first, last, came if came is not q[first] else None)
        if corner and first > 0 and (not source or source[-1] != at[first]):
            points.append(q[first])
            radii.append(0.0)
            source.append(int(at[first]))
        goes = q[last + 1] if last + 1 < len(q) else stretch.after
        end, corner = _start(q[::-1], -tangents[::-1], len(q) - 1 - last, len(q) - 1 - first, goes)
        tangents[first], tangents[last] = start, -end
        bends = _bends(p, at, q, tangents, (first, last), tolerance)
        if bends is None:
            return None
        for made in bends:
            points += list(made.vertices)
            radii += made.radii.tolist()
            source += [-1] * len(made.radii)
        done = last + 1
        if corner and last + 1 < len(q):
            points.append(q[last])
            radii.append(0.0)
            source.append(int(at[last]))
    for i in range(max(done, 1), len(q) - 1):
        points.append(q[i])
        radii.append(0.0)
        source.append(int(at[i]))
    return Followed(
        np.reshape(points, (-1, 3)),
        np.array(radii),
        np.array(source, dtype=np.int64),
        bool(spans),
    )


def _spans(smooth: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last carrier of each smooth curve, those beside its inner ones."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], smooth, [False])).astype(np.int8)))
    return [
        (first - 1, last)
        for first, last in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True)
    ]


def _to_the_end(q: Floats, spans: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """The spans, the last one to the end of the polyline where one chord of the curve is left."""
    if not spans or spans[-1][1] != len(q) - 2:
        return spans
    legs = np.diff(q[-4:], axis=0)
    turn = angle_between(unit(legs[-2]), unit(legs[-1]))
    if turn > MOST_FACET_TURN or norm(legs[-1]) > 2 * norm(legs[:-1]).max():
        return spans
    return [*spans[:-1], (spans[-1][0], len(q) - 1)]


def _tangents(p: Floats, at: NDArray[np.int64]) -> Floats:
    """Unit tangents (n, 3) at the carriers ``at``.

    By the circle through each and both neighbors; where there are many points between these, by
    the cubic nearest to them, which noise of single points does not turn.
    """
    q = p[at]
    legs = np.diff(q, axis=0)
    by_length = legs / np.einsum("ij,ij->i", legs, legs)[:, None]
    result = np.empty_like(q)
    result[1:-1] = by_length[:-1] + by_length[1:]
    result[0], result[-1] = legs[0], legs[-1]
    for i in range(1, len(at) - 1):
        first, last = int(at[i - 1]), int(at[i + 1])
        if last - first + 1 >= _MANY:
            near = p[first : last + 1]
            along = np.concatenate(([0.0], np.cumsum(norm(np.diff(near, axis=0)))))
            along -= along[at[i] - first]
            along /= float(np.abs(along).max())
            powers = along[:, None] ** np.arange(4)
            result[i] = np.linalg.lstsq(powers, near, rcond=None)[0][1]
    size = norm(result)[:, None]
    tangents: Floats = np.where(size > 0, result / np.maximum(size, 1e-300), 0.0)
    return tangents


def _start(
    q: Floats, tangents: Floats, first: int, last: int, before: Floats | None
) -> tuple[Floats, bool]:
    """The direction in which a smooth curve starts, and whether there is a corner.

    That of the circle through its first points, but of what leads there where they are alike.
    """
    chord = unit(q[first + 1] - q[first])
    inner = tangents[first + 1]
    own: Floats = unit(2 * float(inner @ chord) * chord - inner)  # mirrored at the chord
    if before is None or float(norm(q[first] - before)) < 1e-9:
        return own, False
    came: Floats = unit(q[first] - before)
    ways = unit(np.diff(q[first : min(first + 4, last + 1)], axis=0))
    turn = float(angle_between(ways[:-1], ways[1:]).max()) if len(ways) > 1 else 0.0
    corner = float(angle_between(came, own)) > max(turn, SNAP)
    return (own, True) if corner else (came, False)


def _bends(
    p: Floats,
    at: NDArray[np.int64],
    q: Floats,
    tangents: Floats,
    span: tuple[int, int],
    tolerance: float,
) -> list[Bends] | None:
    """The bends from the first carrier of a span to the last, each biarc as long as it may be."""
    i, last = span
    found: list[Bends] = []

    def made(j: int) -> Bends | None:
        inside = p[at[i] : at[j] + 1]
        some = np.linspace(0, len(inside) - 1, min(len(inside), _MOST_LOOKED)).astype(np.int64)
        bends = biarc(inside[some], tangents[i], tangents[j])
        if bends is not None and bends.off <= tolerance and len(some) < len(inside):
            bends = biarc(inside, tangents[i], tangents[j])
        return bends if bends is not None and bends.off <= tolerance else None

    while i < last:
        good, step = i + 1, 1
        best = made(good)
        if best is None:
            return None
        bad = last + 1
        while good < last:
            trial = min(good + step, last)
            if (longer := made(trial)) is None:
                bad = trial
                break
            good, best, step = trial, longer, step * 2
        while bad - good > 1:
            middle = (good + bad) // 2
            if (longer := made(middle)) is None:
                bad = middle
            else:
                good, best = middle, longer
        found.append(best)
        i = good
    return found
