"""A polyline of many short chords made arcs and straights again, by least squares."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from route3d.geometry.biarcs import off_bends
from route3d.geometry.fillet import STRAIGHT_TURN
from route3d.geometry.line_arc import LineArc, meetings
from route3d.geometry.scatter import scatter_of, straightened
from route3d.geometry.smooth_curves import Stretch, followed
from route3d.geometry.vectors import Floats, angle_between, norm, unit

# --- circles and lines fitted to points in space by least squares, many windows at once -----


@dataclass(frozen=True, eq=False, slots=True)
class Circles:
    """Fits to windows of points, arrays with one row each, lengths in m.

    ``off_circle`` and ``off_line`` are the largest distances of a window's points from its circle
    and from its line. ``normal`` is the unit axis; ``radius`` is infinite where points are in line.
    """

    center: Floats
    normal: Floats
    radius: Floats
    off_circle: Floats
    off_line: Floats


def fit_circles(windows: Floats) -> Circles:
    """The circle and the line nearest to each window of points, (k, m, 3) m with m >= 3.

    The plane is that of the two largest principal axes; in it the algebraic fit
    ``|p|² = 2 c·p + k`` (I. Kåsa 1976, "A circle fitting procedure and its error analysis", IEEE
    Trans. Instrum. Meas. 25; from memory) is solved by its normal equations about the mean. The
    algebraic fit draws noisy short arcs together by a little: good to find them, not to keep.

    Parameters
    ----------
    windows : ndarray, shape (k, m, 3)
        Points, m; m is at least 3.

    Returns
    -------
    Circles
        Circle and line of each window.
    """
    mean = windows.sum(axis=1) / windows.shape[1]
    local = windows - mean[:, None]
    _, axes = np.linalg.eigh(local.transpose(0, 2, 1) @ local)
    xyz = local @ axes  # third column along the line, first across the plane
    x, y, away = xyz[..., 2], xyz[..., 1], xyz[..., 0]
    center, radius = _plane_circles(x, y)
    bent = np.where(np.isfinite(radius), radius, 0.0)[:, None]
    ring = np.where(bent > 0, np.hypot(x - center[:, :1], y - center[:, 1:]) - bent, y)
    return Circles(
        mean + center[:, :1] * axes[..., 2] + center[:, 1:] * axes[..., 1],
        axes[..., 0],
        radius,
        np.hypot(ring, away).max(axis=1),
        np.hypot(y, away).max(axis=1),
    )


def _plane_circles(x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Centers (k, 2) and radii (k,) of circles near plane points about their mean.

    x and y are along principal axes, so that their mixed moment is 0 and the equations part.
    """
    xx, yy = x * x, y * y
    square = xx + yy
    sxx, syy = xx.sum(axis=1), yy.sum(axis=1)
    flat = syy <= 1e-24 * sxx
    cx = (square * x).sum(axis=1) / (2 * np.maximum(sxx, 1e-300))
    cy = np.where(flat, 0.0, (square * y).sum(axis=1) / (2 * np.where(flat, 1.0, syy)))
    radius = np.sqrt((sxx + syy) / x.shape[1] + cx * cx + cy * cy)
    return np.stack((cx, cy), axis=1), np.where(flat, np.inf, radius)


def off_chord(points: Floats) -> Floats:
    """Distance of each point from the segment between the first and the last, (n, 3) -> (n,) m.

    Parameters
    ----------
    points : ndarray, shape (n, 3)
        m

    Returns
    -------
    ndarray, shape (n,)
        m
    """
    chord = points[-1] - points[0]
    along = (points - points[0]) @ chord
    share = np.clip(along / max(float(chord @ chord), 1e-300), 0.0, 1.0)
    return norm(points - points[0] - share[:, None] * chord)


def corners(points: Floats, tolerance: float) -> list[int]:
    """Indices of the points that carry the shape of a polyline to ``tolerance`` m, ends included.

    D. Douglas and T. Peucker 1973, "Algorithms for the reduction of the number of points required
    to represent a digitized line or its caricature" (from memory).

    Parameters
    ----------
    points : ndarray, shape (n, 3)
        m
    tolerance : float
        m

    Returns
    -------
    list of int
        Increasing.
    """
    kept, todo = {0, len(points) - 1}, [(0, len(points) - 1)]
    while todo:
        first, last = todo.pop()
        if last - first < 2:
            continue
        away = off_chord(points[first : last + 1])
        middle = int(np.argmax(away))
        if away[middle] > tolerance:
            kept.add(first + middle)
            todo += [(first, first + middle), (first + middle, last)]
    return sorted(kept)


# --- stretches of a polyline's points that lie on circles: the bends in a chain of short chords
# Windows of points near one circle are looked for at a tight tolerance before a loose one, and
# grown both ways. The tight ones find the exact ends of drawn bends; the loose ones, those with
# noise.

# Fewer points are on some circle by chance: three always are, four are at every rectangle.
FEWEST = 5
# Chords that turn more than this at a point are corners; a 90 degree elbow of four chords passes.
MOST_FACET_TURN = np.radians(32)
# An arc is one where a straight would miss its points by this many tolerances.
BEND = 3.0
# At a tight tolerance an arc must end sharply: the next point lies this much farther off.
SHARP_END = 10.0
# Share of the shortest windows that is near a circle at the level of the noise.
MANY = 0.02
# Longest window that starts an arc; longer arcs grow from it.
LONGEST_WINDOW = 513
# Below this (m) all is rounding.
TIGHTEST = 1e-7


@dataclass(eq=False, slots=True)
class FoundArc:
    """An arc found in the points ``first`` to ``last``, both on it."""

    first: int
    last: int
    strict: bool = False  # it ends sharply: no part of a curve that is no circle
    cautious: set[str] = field(default_factory=set)  # sides whose nearest gap point is a corner


def find_arcs(p: Floats, tolerance: float) -> list[FoundArc]:
    """Stretches of points that lie on circles, in order; neighbors may share their end point.

    Parameters
    ----------
    p : ndarray, shape (n, 3)
        Points of a polyline, m.
    tolerance : float
        Greatest distance of a point from its circle, m.

    Returns
    -------
    list of FoundArc
        In order along the polyline.
    """
    free = np.ones(len(p) - 1, dtype=bool)  # chords not yet part of an arc
    free[_corner_chords(p)] = False
    windows = _windows(p, free)
    found: list[FoundArc] = []
    for level in _levels(tolerance, windows):
        strict = level < tolerance
        for width, starts, fit in windows:
            taken = np.concatenate(([0], np.cumsum(~free)))
            good = starts[
                (fit.off_circle <= level)
                & (fit.off_line > BEND * level)
                & (taken[starts + width - 1] == taken[starts])
            ]
            for start, end in _seeds(p, good, width, level, strict):
                if not free[start:end].all():
                    continue
                first, last = _grown(p, free, start, end, level)
                if last - first + 1 >= FEWEST and (
                    not strict or _sharp(p, first, last, free, level)
                ):
                    free[first:last] = False
                    found.append(FoundArc(first, last, strict))
    return _merged(p, sorted(found, key=lambda a: a.first), tolerance)


def _seeds(
    p: Floats, starts: NDArray[np.int64], width: int, level: float, strict: bool
) -> Iterator[tuple[int, int]]:
    """First and last points to grow arcs from, for windows near a circle.

    Of windows in a row the whole row, where it is on one circle; else first that in its middle,
    which lies within the arc where those at its ends reach past it; then the others, but where
    the search is strict: there a row is an arc or a spiral.
    """
    step = max(1, width // 8)
    cuts = np.flatnonzero(np.diff(starts) > step) + 1
    for row in np.split(starts, cuts) if starts.size else ():
        first, last = int(row[0]), int(row[-1]) + width - 1
        if len(row) == 1 or _on_circle(p[first : last + 1], level):
            yield first, last
            continue
        middle = int(row[len(row) // 2])
        yield middle, middle + width - 1
        for start in () if strict else row.tolist():
            yield start, start + width - 1


def _levels(tolerance: float, windows: Sequence[_Windows]) -> list[float]:
    """Tolerances from the noise of the points up to the one asked for, by tens.

    Below the noise a few windows are near a circle by chance; at it, many are.
    """
    off = windows[0][2].off_circle if windows else np.empty(0)
    levels: list[float] = []
    level = TIGHTEST
    while level < tolerance:
        if levels or (off <= level).sum() >= MANY * len(off):
            levels.append(level)
        level *= 10
    return [*levels, tolerance]


def _merged(p: Floats, arcs: list[FoundArc], tolerance: float) -> list[FoundArc]:
    """Neighbors that together are on one circle made one: noise cut them."""
    whole: list[FoundArc] = []
    for arc in arcs:
        joined = _joined(p, whole[-1], arc, tolerance) if whole else None
        if joined is None:
            whole.append(arc)
        else:
            whole[-1] = joined
    return whole


def _joined(p: Floats, one: FoundArc, two: FoundArc, tolerance: float) -> FoundArc | None:
    """The arc that both are parts of, if the stretch from middle to middle is clearly bent so.

    Their outer ends may reach past the bend, and must not count.
    """
    first, last = (one.first + one.last) // 2, (two.first + two.last + 1) // 2
    if last - first + 1 < FEWEST or not _on_circle(p[first : last + 1], tolerance):
        return None
    if fit_circles(p[None, first : last + 1]).off_line[0] <= BEND * tolerance:
        return None
    free = np.zeros(len(p) - 1, dtype=bool)
    free[one.first : two.last] = True
    start, end = _grown(p, free, first, last, tolerance)
    covers = start <= (one.first + first) // 2 and end >= (two.last + last) // 2
    return FoundArc(start, end) if covers else None  # else two bends of one tangent, or a spiral


def _corner_chords(p: Floats) -> NDArray[np.int64]:
    """Chords with a corner at both ends: they can be of no arc."""
    directions = unit(np.diff(p, axis=0))
    sharp = np.ones(len(p), dtype=bool)
    sharp[1:-1] = angle_between(directions[:-1], directions[1:]) > MOST_FACET_TURN
    return np.flatnonzero(sharp[:-1] & sharp[1:])


_Windows = tuple[int, NDArray[np.int64], Circles]


def _windows(p: Floats, free: NDArray[np.bool_]) -> list[_Windows]:
    """For each width the starts of windows that may be part of an arc, and their fits."""
    widths = [w for w in (2**k + 1 for k in range(2, 10)) if w <= min(len(p), LONGEST_WINDOW)]
    steady = _steady(p)
    result = []
    for width in widths:
        starts = np.arange(0, len(p) - width + 1, max(1, width // 8))
        blocked = np.concatenate(([0], np.cumsum(~(free & steady))))
        starts = starts[blocked[starts + width - 1] == blocked[starts]]
        if not starts.size:
            break
        result.append((width, starts, _fits(p, starts, width)))
    return result


def _fits(p: Floats, starts: NDArray[np.int64], width: int) -> Circles:
    """The fits of all windows, in blocks that keep the memory small."""
    block = max(1, 400_000 // width)
    parts = [
        fit_circles(p[starts[i : i + block, None] + np.arange(width)])
        for i in range(0, len(starts), block)
    ]
    names = ("center", "normal", "radius", "off_circle", "off_line")
    return Circles(*(np.concatenate([getattr(part, n) for part in parts]) for n in names))


def _steady(p: Floats) -> NDArray[np.bool_]:
    """Chords that no point turns away from sharply, at their start; noise does not turn so far."""
    directions = unit(np.diff(p, axis=0))
    steady = np.ones(len(directions), dtype=bool)
    steady[1:] = angle_between(directions[:-1], directions[1:]) < np.pi / 2
    return steady


def _grown(
    p: Floats, free: NDArray[np.bool_], first: int, last: int, level: float
) -> tuple[int, int]:
    """The longest stretch about a window that stays on one circle, over free chords."""
    taken = np.flatnonzero(~free[last:])
    end = last + int(taken[0]) if taken.size else len(p) - 1
    last = _farthest(lambda i: _on_circle(p[first : i + 1], level), last, end)
    taken = np.flatnonzero(~free[:first])
    end = int(taken[-1]) + 1 if taken.size else 0
    first = -_farthest(lambda i: _on_circle(p[-i : last + 1], level), -first, -end)
    return first, last


def _farthest(holds: Callable[[int], bool], start: int, end: int) -> int:
    """The last number from ``start`` to ``end`` up to which ``holds`` is true: by doubling."""
    good, step = start, 1
    while good < end and holds(min(good + step, end)):
        good, step = min(good + step, end), step * 2
    bad = min(good + step, end + 1)
    while bad - good > 1:
        middle = (good + bad) // 2
        good, bad = (middle, bad) if holds(middle) else (good, middle)
    return good


def _on_circle(p: Floats, level: float) -> bool:
    fit = fit_circles(p[None])
    if not fit.off_circle[0] <= level:
        return False
    steps = steps_about(p, fit)
    noise = 4 * level / max(float(fit.radius[0]), level)  # close points may seem to step back
    total = float(steps.sum())
    forward = steps * np.sign(total)
    return bool(
        abs(total) < 2 * np.pi * 0.98
        and (forward > -noise).all()
        and (forward <= MOST_FACET_TURN + noise).all()
    )


def steps_about(p: Floats, fit: Circles) -> Floats:
    """Angles about the center from each point to the next, rad, right-handed about the axis.

    Parameters
    ----------
    p : ndarray, shape (k, n, 3)
        Points, m.
    fit : Circles
        The circle of each window.

    Returns
    -------
    ndarray, shape (k, n - 1)
        rad
    """
    spokes = p - fit.center[0]
    cross = np.cross(spokes[:-1], spokes[1:]) @ fit.normal[0]
    dot = np.einsum("ij,ij->i", spokes[:-1], spokes[1:])
    steps: Floats = np.arctan2(cross, dot)
    return steps


def _sharp(p: Floats, first: int, last: int, free: NDArray[np.bool_], level: float) -> bool:
    """Whether the points beyond both ends are clearly off the circle: no spiral cut in pieces."""
    fit = fit_circles(p[None, first : last + 1])
    inside = max(float(fit.off_circle[0]), level)
    for beyond, chord in ((first - 1, first - 1), (last + 1, last)):
        if 0 <= beyond < len(p) and free[chord]:
            spoke = p[beyond] - fit.center[0]
            height = float(spoke @ fit.normal[0])
            ring = float(np.hypot(norm(spoke - height * fit.normal[0]) - fit.radius[0], height))
            if ring < SHARP_END * inside:
                return False
    return True


# --- points where tangents meet and bend radii, fitted to the points of a polyline by least squar
# Each bend is a half-line in, an arc and a half-line out, and each point of the polyline counts to
# one bend. A bend moves the points of its own and of its two neighbors only, so bends three apart
# are fitted at the same time, in arrays (Gauss-Newton within a bend, Gauss-Seidel among them).

MOST_SWEEPS = 30
# A sweep that lowers the sum of squares by less than this share is the last.
GAIN = 1e-2
# Step of the differences, m: the square root of rounding for lengths of about a meter.
STEP = 1e-7
# Below this (m, root mean square) nothing is left to gain: no file is so exact.
EXACT = 1e-8


@dataclass(frozen=True, eq=False, slots=True)
class FittedRoute:
    """``points`` (m, 3) and ``radii`` (m,) in m; ``source`` (m,) the polyline point each is, or -1.

    For each of the n points of the polyline: ``zone`` the vertex of the bend it counts to and
    ``owner`` the number of its arc, -1 where it counts to none.
    """

    points: Floats
    radii: Floats
    source: NDArray[np.int64]
    zone: NDArray[np.int64]
    owner: NDArray[np.int64]


def zone_residuals(chain: FittedRoute, p: Floats) -> Floats:
    """How far each polyline point is off its bend, (n, 2) m: in the plane of the bend, across it.

    Points that count to no bend are 0 off.

    Parameters
    ----------
    chain : Chain
        Bends and the points that belong to each.
    p : ndarray, shape (n, 3)
        Points of the polyline, m.

    Returns
    -------
    ndarray, shape (n, 2)
        m
    """
    directions = np.diff(chain.points, axis=0)
    directions = directions / np.maximum(norm(directions), 1e-300)[:, None]
    j = np.maximum(chain.zone, 1)
    a, b = directions[j - 1], directions[np.minimum(j, len(directions) - 1)]
    cos = np.einsum("ij,ij->i", a, b)
    side = b - cos[:, None] * a
    sin = np.maximum(norm(side), 1e-12)
    n = side / sin[:, None]
    m = np.cross(a, n)
    radius = chain.radii[j]
    setback = radius * sin / np.maximum(1 + cos, 1e-9)  # R tan(φ/2)
    w = p - chain.points[j]
    x, y, across = (np.einsum("ij,ij->i", w, axis) for axis in (a, n, m))
    x = x + setback  # from the start of the arc
    beyond = x * cos + y * sin - (setback * cos + setback)  # past its end, along b
    ring = np.hypot(x, y - radius) - radius
    out = (x - setback) * sin - y * cos  # off the second half-line
    inside = np.where(x <= 0, -y, np.where(beyond >= 0, out, ring))
    off = np.stack((inside, across), axis=1)
    off[chain.zone < 0] = 0.0
    return off


def refined(chain: FittedRoute, p: Floats) -> FittedRoute:
    """The chain with its bends moved so that the squares of the residuals are least.

    Parameters
    ----------
    chain : Chain
        Bends and the points that belong to each.
    p : ndarray, shape (n, 3)
        Points of the polyline, m.

    Returns
    -------
    Chain
        The same bends, moved.
    """
    best, best_sum = chain, float((zone_residuals(chain, p) ** 2).sum())
    current = chain
    for _ in range(MOST_SWEEPS):
        if best_sum <= EXACT**2 * len(p):
            break
        for color in range(3):
            current = _swept(current, p, color)
        total = float((zone_residuals(current, p) ** 2).sum())
        if not total < best_sum * (1 - GAIN):
            return current if total < best_sum else best
        best, best_sum = current, total
    return best


def _swept(chain: FittedRoute, p: Floats, color: int) -> FittedRoute:
    """One Gauss-Newton step of every third bend."""
    vertex = np.arange(len(chain.points))
    moving = (vertex % 3 == color) & (chain.radii > 0)
    if not moving.any():
        return chain
    nearest = chain.zone + (color - chain.zone + 1) % 3 - 1  # the moving vertex of a zone or beside
    counted = (chain.zone >= 0) & moving[np.clip(nearest, 0, len(vertex) - 1)]
    if not counted.any():
        return chain
    part, q = replace(chain, zone=chain.zone[counted]), p[counted]
    base = zone_residuals(part, q)
    slopes = np.stack(
        [(zone_residuals(_nudged(part, moving, k, STEP), q) - base) / STEP for k in range(4)], -1
    )
    row = nearest[counted]  # in order, as the points are
    first = np.flatnonzero(np.diff(row, prepend=-1))
    normal = np.zeros((len(vertex), 4, 4))
    right = np.zeros((len(vertex), 4))
    squares = slopes.transpose(0, 2, 1) @ slopes
    normal[row[first]] = np.add.reduceat(squares, first)
    right[row[first]] = np.add.reduceat(np.einsum("nci,nc->ni", slopes, base), first)
    trace = np.trace(normal, axis1=1, axis2=2)
    normal += (1e-9 * trace + 1e-30)[:, None, None] * np.eye(4)  # directions that move no point
    step = np.linalg.solve(normal, right[..., None])[..., 0]
    step[~moving] = 0.0
    limit = np.abs(step).max(axis=1) / np.maximum(0.2 * chain.radii, 1e-12)  # no leap
    step /= np.maximum(limit, 1.0)[:, None]
    return replace(chain, points=chain.points - step[:, :3], radii=chain.radii - step[:, 3])


def _nudged(
    chain: FittedRoute, moving: NDArray[np.bool_], parameter: int, by: float
) -> FittedRoute:
    if parameter == 3:
        return replace(chain, radii=chain.radii + by * moving)
    points = chain.points.copy()
    points[moving, parameter] += by
    return replace(chain, points=points)


# --- a polyline of many short chords made arcs and straights again, by least squares --------
# Curves that are no circles are followed by arcs where their points change smoothly
# (``route3d.geometry.smooth_curves``).
# First arcs are found (``route3d.geometry.recognize``). Then the points where the tangents meet
# and the radii are fitted to all points at once (``route3d.geometry.recognize``), and what does not
# come within the tolerance keeps its chords.

# One part in so many of a straight, at each end, may still be points of the bend there.
SHARE_AT_END = 8
# Points looked at together for what carries the shape of a curve.
BLOCK = 500
# A carrier goes where the line stays within so many times what they were found by.
SPARED = 1.5
# So many joints of arcs that touch are those of a curve, found in pieces.
SPIRAL = 3
# What carries the shape of a smooth curve is looked for within these shares of the tolerance.
FINER = (0.5, 0.25, 0.125, 0.03)
# More points than this take longer than a person waits.
MOST_POINTS = 120_000


@dataclass(frozen=True, eq=False, slots=True)
class Recognized:
    """``points`` (n, 3) m and ``radii`` (n,) m for ``fillet``; ``source`` (n,) the index of the
    polyline's point each of them is, -1 for the new ones; ``arcs`` their number; ``residual`` (m)
    the largest distance of a point of the polyline from what was made of it. ``smooth`` says
    whether some of the arcs follow a curve that is no circle; ``scatter`` (m) is by how much the
    points scatter that were made straights, 0 where none were.
    """

    points: Floats
    radii: Floats
    source: NDArray[np.int64]
    arcs: int
    residual: float
    smooth: bool = False
    scatter: float = 0.0


def recognize(
    points: ArrayLike, tolerance: float = 5e-3, *, keep: ArrayLike | None = None
) -> Recognized:
    """Arcs and straights of a polyline, (n, 3) m, in any plane; each point within ``tolerance`` m.

    ``keep`` (n,) marks points to stay as points of their own wherever they lie on a straight.
    Points that scatter become straights where that takes fewer points than arcs do. Any other
    polyline without arcs comes back as it is.

    Parameters
    ----------
    points : array_like, shape (n, 3)
        m
    tolerance : float
        m
    keep : array_like of bool, shape (n,), optional
        Points to keep.

    Returns
    -------
    Recognized
        Vertices and radii, and how far the farthest point is off.
    """
    p = np.array(points, dtype=np.float64)
    marked = np.zeros(len(p), dtype=bool) if keep is None else np.array(keep, dtype=bool)
    same = Recognized(p, np.zeros(len(p)), np.arange(len(p)), 0, 0.0)
    if not FEWEST <= len(p) <= MOST_POINTS:
        return same
    found = _of_no_scatter(p, tolerance, marked, same)
    scatter = scatter_of(p) if found is same or _facets(found) else 0.0
    if scatter == 0 or (made := straightened(p, tolerance)) is None:
        return found
    if len(made.points) >= len(found.points):
        return found
    none = np.full(len(p), -1)
    chain = FittedRoute(made.points, np.zeros(len(made.points)), np.array(made.source), none, none)
    rows = _with_marked(chain, chain.radii, p, marked)
    return Recognized(*rows, 0, made.residual, scatter=scatter)


def _of_no_scatter(
    p: Floats, tolerance: float, marked: NDArray[np.bool_], same: Recognized
) -> Recognized:
    """Arcs and straights of a polyline; ``same`` where it has no arc."""
    arcs = find_arcs(p, tolerance)
    fixed = [arc for arc in arcs if arc.strict]
    curve = _along_curves(p, fixed, tolerance, marked) if _is_spiral(arcs) else None
    if curve is not None and not _sharp_count(curve):
        return curve
    best = _fitted(p, list(arcs), tolerance, marked)
    if best is not None and not _facets(best):
        return best
    if curve is None:
        curve = _along_curves(p, fixed, tolerance, marked)
    if curve is not None and (best is None or _sharp_count(curve) < _sharp_count(best)):
        return curve
    return same if best is None else best


def _fitted(
    p: Floats, arcs: list[FoundArc], tolerance: float, marked: NDArray[np.bool_]
) -> Recognized | None:
    """Those of the arcs that all fit together; None where none does."""
    while arcs:
        result, off = _attempt(p, arcs, marked, tolerance)
        if result is not None:
            return result
        arcs = _doubtful(arcs, off, tolerance)
    return None


def _is_spiral(arcs: list[FoundArc]) -> bool:
    """Whether arcs that end where the next one starts follow a curve that is no circle."""
    touching = [a.last >= b.first and not (a.strict and b.strict) for a, b in pairwise(arcs)]
    return sum(touching) >= SPIRAL


def _turns(points: Floats) -> Floats:
    ways = unit(np.diff(points, axis=0))
    return angle_between(ways[:-1], ways[1:])


def _sharp_count(found: Recognized) -> int:
    """How many of its points turn without a radius."""
    return int(((_turns(found.points) > STRAIGHT_TURN) & (found.radii[1:-1] == 0)).sum())


def _soft(found: Recognized) -> NDArray[np.bool_]:
    """Which of its inner points turn without a radius, but no more than chords of a curve do."""
    turn = _turns(found.points)
    open_ = found.radii[1:-1] == 0
    soft: NDArray[np.bool_] = open_ & (turn > STRAIGHT_TURN) & (turn <= MOST_FACET_TURN)
    return soft


def _facets(found: Recognized) -> bool:
    """Whether chords of a curve are left among its points: corners that turn little, in a row."""
    soft = _soft(found)
    return bool((soft[:-1] & soft[1:]).any())


# --- smooth curves ---------------------------------------------------------------------------


def _along_curves(
    p: Floats, fixed: list[FoundArc], tolerance: float, marked: NDArray[np.bool_]
) -> Recognized | None:
    """The polyline with its smooth curves followed by arcs, the ``fixed`` ones where that does.

    None where it has no smooth curve, or none that can be followed.
    """
    best: Recognized | None = None
    # noise may put a few points on a circle sharply: the last try is without any
    for arcs in (fixed, [])[: 2 if fixed else 1]:
        for share in FINER:
            made = _followed(p, arcs, share * tolerance, tolerance, marked)
            if made is not None and (best is None or _sharp_count(made) < _sharp_count(best)):
                best = made
            if best is not None and not _soft(best).any():
                return best
    return best


def _carriers(p: Floats, tolerance: float) -> list[int]:
    """As ``corners``, but those without which the line is nearly as close.

    Block by block, since the time for a long zigzag grows with its square. Two carriers close to
    each other, or at the end of a block, say more of the noise than of the curve.
    """
    stops = [*range(0, len(p) - 1, BLOCK), len(p) - 1]
    every = [0]
    for first, last in pairwise(stops):
        every += [first + i for i in corners(p[first : last + 1], tolerance)[1:]]
    kept = [every[0]]
    for here, after in pairwise(every[1:]):
        if off_chord(p[kept[-1] : after + 1]).max() > SPARED * tolerance:
            kept.append(here)
    return [*kept, every[-1]]


def _followed(
    p: Floats, fixed: list[FoundArc], finer: float, tolerance: float, marked: NDArray[np.bool_]
) -> Recognized | None:
    circles = [_piece(p[arc.first : arc.last + 1]) for arc in fixed]
    bends = [meetings(circle) for circle in circles]
    points, radii, source = [p[0]], [0.0], [0]
    smooth = False
    for number in range(len(fixed) + 1):
        first = fixed[number - 1].last if number else 0
        last = fixed[number].first if number < len(fixed) else len(p) - 1
        if last > first:
            stretch = Stretch(
                [first + i for i in _carriers(p[first : last + 1], finer)],
                bends[number - 1][-1] if number else None,
                bends[number][0] if number < len(fixed) else None,
            )
            made = followed(p, stretch, tolerance)
            if made is None:
                return None
            smooth |= made.smooth
            points += list(made.points)
            radii += made.radii.tolist()
            source += made.source.tolist()
        if number < len(fixed):
            points += bends[number]
            radii += [circles[number].radius] * len(bends[number])
            source += [-1] * len(bends[number])
    if not smooth:
        return None
    none = np.full(len(p), -1)
    ends = (np.array([*points, p[-1]]), np.array([*radii, 0.0]), np.array([*source, len(p) - 1]))
    chain = FittedRoute(*ends, none, none)
    fitting, _ = _fitting_radii(chain)
    residual = off_bends(p, chain.points, fitting[1:-1])
    if residual > tolerance:
        return None
    made_of = _with_marked(chain, fitting, p, marked)
    return Recognized(*made_of, int((fitting > 0).sum()), residual, smooth=True)


# --- from arcs to points and radii -------------------------------------------------------------


def _attempt(
    p: Floats, arcs: list[FoundArc], marked: NDArray[np.bool_], tolerance: float
) -> tuple[Recognized | None, Floats]:
    """The chain of these arcs fitted to the points; and how far each arc's points are off it."""
    chain, off_gap = _chain(p, arcs, tolerance)
    chain = refined(chain, p)
    off = np.zeros(len(p))
    zoned = chain.zone >= 0
    off[zoned] = norm(zone_residuals(chain, p))[zoned]
    worst = np.zeros(len(arcs))
    np.maximum.at(worst, chain.owner[zoned], off[zoned])
    if (worst > tolerance).any():
        return None, worst
    radii, moved = _fitting_radii(chain)
    np.maximum.at(worst, chain.owner[zoned], (off + moved[chain.zone])[zoned])
    if (worst > tolerance).any():
        return None, worst
    points, radii, source = _with_marked(chain, radii, p, marked)
    residual = max(float(worst.max(initial=0.0)), off_gap)
    return Recognized(points, radii, source, len(arcs), residual), worst


def _doubtful(arcs: list[FoundArc], off: Floats, tolerance: float) -> list[FoundArc]:
    """The arcs to try next: those that are off take corners beside them, and then are no arcs."""
    left = []
    for arc, worst in zip(arcs, off.tolist(), strict=True):
        if worst <= tolerance:
            left.append(arc)
        elif not arc.cautious:
            arc.cautious |= {"before", "after"}
            left.append(arc)
    return left


def _chain(p: Floats, arcs: list[FoundArc], tolerance: float) -> tuple[FittedRoute, float]:
    """The points and radii to start from, and to which bend each point of the polyline counts."""
    points: list[Floats] = [p[0]]
    radii: list[float] = [0.0]
    source: list[int] = [0]
    zone = np.full(len(p), -1)
    owner = np.full(len(p), -1)
    off_gap = 0.0
    end = 0
    for number, arc in enumerate([*arcs, None]):
        start = len(p) - 1 if arc is None else arc.first
        before = arcs[number - 1] if number else None
        inner, away = _gap_corners(p, end, start, before, arc, tolerance)
        off_gap = max(off_gap, away)
        stops = [*inner, start] if inner else [start + 1 if arc is None else (end + start) // 2 + 1]
        if before is not None:  # the gap up to its first corner, or its middle, is the last bend's
            zone[end + 1 : stops[0]], owner[end + 1 : stops[0]] = len(points) - 1, number - 1
        for i in inner:
            points.append(p[i])
            radii.append(0.0)
            source.append(i)
        if arc is None:
            break
        begin = inner[-1] + 1 if inner else (stops[0] if before is not None else 1)
        owner[begin : arc.last + 1] = number
        piece = _piece(p[arc.first : arc.last + 1])
        bends = meetings(piece)
        share = (np.arange(arc.last - arc.first + 1) * len(bends)) // (arc.last - arc.first + 1)
        zone[begin : arc.first] = len(points)
        zone[arc.first : arc.last + 1] = len(points) + share
        points += bends
        radii += [piece.radius] * len(bends)
        source += [-1] * len(bends)
        end = arc.last
    points.append(p[-1])
    radii.append(0.0)
    source.append(len(p) - 1)
    chain = FittedRoute(np.array(points), np.array(radii), np.array(source), zone, owner)
    return chain, off_gap


def _gap_corners(
    p: Floats,
    end: int,
    start: int,
    before: FoundArc | None,
    after: FoundArc | None,
    tolerance: float,
) -> tuple[list[int], float]:
    """The corners strictly between two arcs, and how far the other points are off their chords.

    The points next to an arc are no corners at first: a chord across the tangent point hides it,
    and noise may have ended the arc a little early.
    """
    reach = 1 + (start - end) // SHARE_AT_END
    low = end + (reach if before is not None and "after" not in before.cautious else 0)
    high = start - (reach if after is not None and "before" not in after.cautious else 0)
    if high - low < 2:
        return [], 0.0
    if len(corners(p[low : high + 1], 2 * tolerance)) == 2:  # its ends are as noisy as the rest
        return [], 0.0
    inner = [low + i for i in corners(p[low : high + 1], tolerance)]
    away = max(float(off_chord(p[a : b + 1]).max()) for a, b in pairwise(inner))
    return [i for i in inner[1:-1] if end < i < start], away if len(inner) > 2 else 0.0


def _piece(p: Floats) -> LineArc:
    """The arc of a stretch of points, from the first to the last."""
    fit = fit_circles(p[None])
    center, normal, radius = fit.center[0], fit.normal[0], float(fit.radius[0])
    angle = float(steps_about(p, fit).sum())
    axis = normal * np.sign(angle)
    spokes = []
    for point in (p[0], p[-1]):
        spoke = point - center
        spokes.append(unit(spoke - (spoke @ axis) * axis))
    start, end = (center + radius * s for s in spokes)
    return LineArc(start, end, np.cross(axis, spokes[0]), -spokes[0], radius, abs(angle))


def _fitting_radii(chain: FittedRoute) -> tuple[Floats, Floats]:
    """Radii less what two bends on one leg overlap by, and how far (m) that moves each bend.

    It is rounding where they touch. Elsewhere they are no two bends, which the distance shows.
    """
    legs = np.diff(chain.points, axis=0)
    length = norm(legs)
    directions = legs / length[:, None]
    turns = np.zeros(len(chain.points))
    turns[1:-1] = angle_between(directions[:-1], directions[1:])
    setback = chain.radii * np.tan(turns / 2)
    need = setback[:-1] + setback[1:]
    share = np.where(need > length, length / np.where(need > 0, need, 1.0), 1.0)
    factor = np.minimum(np.append(share, 1.0), np.insert(share, 0, 1.0))
    bent = turns > STRAIGHT_TURN
    radii = np.where(bent, chain.radii * factor, 0.0)
    moved = np.where(bent, (chain.radii - radii) * (1 / np.cos(turns / 2) - 1), 0.0)
    return radii, moved


def _with_marked(
    chain: FittedRoute, radii: Floats, p: Floats, marked: NDArray[np.bool_]
) -> tuple[Floats, Floats, NDArray[np.int64]]:
    """The chain with the marked points that lie on its straights put in, moved onto them."""
    from route3d.geometry.fillet import fillet

    wanted = np.setdiff1d(np.flatnonzero(marked), chain.source)
    if not wanted.size:
        return chain.points, radii, chain.source
    corner = set(np.flatnonzero(radii == 0).tolist())
    path = fillet(chain.points, radii, corners=corner)
    points, bends, source = list(chain.points), list(radii), list(chain.source)
    straight = np.flatnonzero(path.kind == 0)
    for index in wanted[::-1].tolist():
        along = np.einsum("ij,ij->i", p[index] - path.starts[straight], path.tangents[straight])
        foot = path.starts[straight] + along[:, None] * path.tangents[straight]
        inside = (along > 1e-6) & (along < path.lengths[straight] - 1e-6)
        distance = np.where(inside, norm(foot - p[index]), np.inf)
        nearest = int(np.argmin(distance))
        if distance[nearest] <= np.inf and inside[nearest]:
            _put(points, bends, source, int(path.leg[straight[nearest]]), foot[nearest], index)
    return np.array(points), np.array(bends), np.array(source)


def _put(
    points: list[Floats], radii: list[float], source: list[int], leg: int, at: Floats, index: int
) -> None:
    points.insert(leg + 1, at)
    radii.insert(leg + 1, 0.0)
    source.insert(leg + 1, index)
