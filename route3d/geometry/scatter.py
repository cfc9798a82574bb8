"""Points that scatter about a line, as a survey by satellite has them, and the straights they are.

What a point is off the chord of its neighbors turns over from point to point where it is chance
(neighbors correlate by -2/3), and not along a bend or a curve. All limits are our own judgment.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from route3d.geometry.vectors import Floats, norm, unit

# Fewer points turn over by chance; chance has this share of them turn over, 0.73 on average.
FEWEST_SCATTERED, TURNING_OVER = 20, 0.62
# Points farther off their neighbors than this (m) are corners, and so are those that are farther
# off than this many times the middle one.
MOST_SCATTER, CORNER = 0.5, 5.0
# Of points in a row this many are on average within the tolerance of their line, and each of them
# within so many times that: a single point says little of the line.
IN_A_ROW, SINGLE = 5, 2.0
# Straights of fewer points than this on average are the scatter, drawn again.
POINTS_OF_A_STRAIGHT = 10
# Parts of the tolerance to which lines are fitted, first to last.
_SHARES = (1.0, 0.9, 0.75, 0.5)
# Tolerances that are proposed, m.
_ROUND = (0.005, 0.01, 0.02, 0.05, 0.1, 0.15, 0.2, 0.3, 0.5, 1.0, 2.0)


@dataclass(frozen=True, slots=True, eq=False)
class Straightened:
    """The ``points`` (k, 3) m of a polyline, the ``source`` (k,) they are nearest to, and how far
    (m) the farthest point is off it (``residual``).
    """

    points: Floats
    source: tuple[int, ...]
    residual: float


def scatter_of(points: Floats) -> float:
    """By how much (m, root mean square across the line) points (n, 3) m scatter; 0 where none does.

    Parameters
    ----------
    points : ndarray, shape (n, 3)
        m, neighbors apart.

    Returns
    -------
    float
        m
    """
    if len(points) < FEWEST_SCATTERED + 2:
        return 0.0
    length = norm(np.diff(points, axis=0))
    share = length[1:] / (length[:-1] + length[1:])
    off = points[1:-1] - share[:, None] * points[:-2] - (1 - share)[:, None] * points[2:]
    size = norm(off)
    middle = float(np.median(size))
    if not 0 < middle <= MOST_SCATTER:
        return 0.0
    usual = size <= CORNER * middle
    pairs = usual[:-1] & usual[1:]
    over = np.einsum("ij,ij->i", off[:-1], off[1:])[pairs] < 0
    if over.size < FEWEST_SCATTERED or over.mean() < TURNING_OVER:
        return 0.0
    # of three places that scatter alike, one and half of two: (1 + share² + (1 - share)²) σ²
    parts = 1 + share[usual] ** 2 + (1 - share[usual]) ** 2
    return float(np.sqrt((size[usual] ** 2 / parts).mean()))


def straightened(p: Floats, tolerance: float) -> Straightened | None:
    """Straights by least squares along points (n, 3) m, each as long as it may be.

    No five points in a row are on average farther off than ``tolerance`` m, and no single one
    farther than twice that. None where the straights are too short to be more than scatter.

    Parameters
    ----------
    p : ndarray, shape (n, 3)
        m
    tolerance : float
        m

    Returns
    -------
    Straightened or None
    """
    for share in _SHARES:
        stops = _merged(p, _settled(p, _greedy(p, share * tolerance)), share * tolerance)
        if (len(stops) - 1) * POINTS_OF_A_STRAIGHT > len(p):
            return None
        points = _vertices(p, stops)
        residual = _off(p, points)
        if residual <= SINGLE * tolerance and (norm(np.diff(points, axis=0)) > 1e-6).all():
            near = [int(np.argmin(norm(p - at))) for at in points[1:-1]]
            return Straightened(points, (0, *near, len(p) - 1), residual)
    return None


def fitting_tolerance(p: Floats) -> float | None:
    """The least of some round tolerances with which points are few straights.

    The next larger one would not save more of them.

    Parameters
    ----------
    p : ndarray, shape (n, 3)
        Points, m.

    Returns
    -------
    float or None
        m; None where none makes straights of them.
    """
    before: tuple[float, int] | None = None
    for tolerance in _ROUND:
        made = straightened(p, tolerance)
        if before is not None and made is not None and len(made.points) == before[1]:
            return before[0]
        before = None if made is None else (tolerance, len(made.points))
    return None


def _line(p: Floats) -> tuple[Floats, Floats]:
    """Middle and direction of the line nearest to points by least squares, first to last."""
    middle = p.mean(axis=0)
    local = p - middle
    _, axes = np.linalg.eigh(local.T @ local)
    way = axes[:, 2]
    return middle, way if float((p[-1] - p[0]) @ way) >= 0 else -way


def _off_line(p: Floats, middle: Floats, way: Floats) -> Floats:
    local = p - middle
    return np.asarray(local - (local @ way)[:, None] * way)


def _fits(p: Floats, tolerance: float) -> bool:
    off = _off_line(p, *_line(p))
    if float(norm(off).max()) > SINGLE * tolerance:
        return False
    row = min(IN_A_ROW, len(p))
    total = np.cumsum(np.vstack((np.zeros(3), off)), axis=0)
    return bool(norm(total[row:] - total[:-row]).max() <= row * tolerance)


def _greedy(p: Floats, tolerance: float) -> list[int]:
    """First points of straights, each as long as it fits; the number of points at the end."""
    stops, last = [0], len(p)
    while stops[-1] < last:
        start = stops[-1]
        good, step = min(start + 2, last), 2
        while good < last and _fits(p[start : min(good + step, last)], tolerance):
            good, step = min(good + step, last), step * 2
        bad = min(good + step, last + 1)
        while bad - good > 1:
            middle = (good + bad) // 2
            fits = _fits(p[start:middle], tolerance)
            good, bad = (middle, bad) if fits else (good, middle)
        stops.append(good)
    if len(stops) > 2 and stops[-1] - stops[-2] < 2:
        stops[-2] -= 1
    return stops


def _settled(p: Floats, stops: list[int]) -> list[int]:
    """The stops moved to where the points change from one line to the next."""
    stops = list(stops)
    for _ in range(4):
        before = list(stops)
        for i in range(1, len(stops) - 1):
            first, at, last = stops[i - 1], stops[i], stops[i + 1]
            one = norm(_off_line(p[first:last], *_line(p[first:at]))) ** 2
            two = norm(_off_line(p[first:last], *_line(p[at:last]))) ** 2
            total = np.cumsum(one)[:-1] + (two.sum() - np.cumsum(two)[:-1])
            low, high = 1, len(total) - 1  # two points for each line
            if high > low:
                stops[i] = first + 1 + low + int(np.argmin(total[low:high]))
        if stops == before:
            break
    return stops


def _merged(p: Floats, stops: list[int], tolerance: float) -> list[int]:
    """The stops without which the points are still in line."""
    kept = list(stops)
    i = 1
    while i < len(kept) - 1:
        if _fits(p[kept[i - 1] : kept[i + 1]], tolerance):
            del kept[i]
        else:
            i += 1
    return _settled(p, kept)


def _vertices(p: Floats, stops: list[int]) -> Floats:
    """Where each line meets the next, with the feet of both ends."""
    lines = [_line(p[a:b]) for a, b in pairwise(stops)]
    points = [_foot(p[0], *lines[0])]
    for at, one, two in zip(stops[1:-1], lines[:-1], lines[1:], strict=True):
        points.append(_met(p[at - 1 : at + 1].mean(axis=0), one, two))
    return np.array([*points, _foot(p[-1], *lines[-1])])


def _foot(at: Floats, middle: Floats, way: Floats) -> Floats:
    return np.asarray(middle + float((at - middle) @ way) * way)


def _met(at: Floats, one: tuple[Floats, Floats], two: tuple[Floats, Floats]) -> Floats:
    """The middle between two lines where they are nearest; beside ``at`` where they are as one."""
    across = np.cross(one[1], two[1])
    size = float(across @ across)
    if size > np.sin(np.radians(2)) ** 2:
        gap = two[0] - one[0]
        a = float(np.cross(gap, two[1]) @ across) / size
        b = float(np.cross(gap, one[1]) @ across) / size
        return np.asarray((one[0] + a * one[1] + two[0] + b * two[1]) / 2)
    return np.asarray((_foot(at, *one) + _foot(at, *two)) / 2)


def _off(p: Floats, points: Floats) -> float:
    """How far the farthest point is off a polyline, m."""
    off = np.full(len(p), np.inf)
    for start, end in pairwise(points):
        leg = end - start
        size = float(norm(leg))
        along = np.clip((p - start) @ unit(leg), 0.0, size) if size > 0 else np.zeros(len(p))
        foot = start + along[:, None] * (leg / max(size, 1e-300))
        np.minimum(off, norm(p - foot), out=off)
    return float(off.max())
