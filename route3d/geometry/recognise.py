"""A polyline of many short chords made arcs and straights again, by least squares.

First arcs are found (``route3d.geometry.arc_search``). Then the points where the tangents meet
and the radii are fitted to all points at once (``route3d.geometry.refine``), and what does not
come within the tolerance keeps its chords.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from route3d.geometry.arc_search import FEWEST, FoundArc, find_arcs, steps_about
from route3d.geometry.circles import corners, fit_circles, off_chord
from route3d.geometry.fillet import STRAIGHT_TURN
from route3d.geometry.pieces import Piece, meetings
from route3d.geometry.refine import Chain, refined, zone_residuals
from route3d.geometry.vectors import Floats, angle_between, norm, unit

# One part in so many of a straight, at each end, may still be points of the bend there.
SHARE_AT_END = 8
# Where arcs do not fit together (a spiral), shorter ones of these shares of the tolerance may.
FINER = (0.25, 0.06)
MOST_TRIED_AGAIN = 20_000
# More points than this take longer than a person waits.
MOST_POINTS = 120_000


@dataclass(frozen=True, eq=False, slots=True)
class Recognised:
    """``points`` (n, 3) m and ``radii`` (n,) m for ``fillet``; ``source`` (n,) the index of the
    polyline's point each of them is, -1 for the new ones; ``arcs`` their number; ``residual`` (m)
    the largest distance of a point of the polyline from what was made of it.
    """

    points: Floats
    radii: Floats
    source: NDArray[np.int64]
    arcs: int
    residual: float


def recognise(
    points: ArrayLike, tolerance: float = 5e-3, *, keep: ArrayLike | None = None
) -> Recognised:
    """Arcs and straights of a polyline, (n, 3) m, in any plane; each point within ``tolerance`` m.

    ``keep`` (n,) marks points to stay as points of their own wherever they lie on a straight.
    A polyline without arcs comes back as it is.
    """
    p = np.array(points, dtype=np.float64)
    marked = np.zeros(len(p), dtype=bool) if keep is None else np.array(keep, dtype=bool)
    same = Recognised(p, np.zeros(len(p)), np.arange(len(p)), 0, 0.0)
    if not FEWEST <= len(p) <= MOST_POINTS:
        return same
    best, dropped = _fitted(p, tolerance, tolerance, marked)
    for part in FINER if dropped and len(p) <= MOST_TRIED_AGAIN else ():
        other, _ = _fitted(p, part * tolerance, tolerance, marked)
        if other is not None and (best is None or len(other.points) < len(best.points)):
            best = other
    return same if best is None else best


def _fitted(
    p: Floats, search: float, tolerance: float, marked: NDArray[np.bool_]
) -> tuple[Recognised | None, bool]:
    """The arcs found at the tolerance ``search`` that all fit, and whether some did not."""
    arcs = find_arcs(p, search)
    found = len(arcs)
    while arcs:
        result, off = _attempt(p, arcs, marked, tolerance)
        if result is not None:
            return result, len(arcs) < found
        arcs = _doubtful(arcs, off, tolerance)
    return None, found > 0


# --- from arcs to points and radii -------------------------------------------------------------


def _attempt(
    p: Floats, arcs: list[FoundArc], marked: NDArray[np.bool_], tolerance: float
) -> tuple[Recognised | None, Floats]:
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
    return Recognised(points, radii, source, len(arcs), residual), worst


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


def _chain(p: Floats, arcs: list[FoundArc], tolerance: float) -> tuple[Chain, float]:
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
    chain = Chain(np.array(points), np.array(radii), np.array(source), zone, owner)
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


def _piece(p: Floats) -> Piece:
    """The arc of a stretch of points, from the first to the last."""
    fit = fit_circles(p[None])
    centre, normal, radius = fit.centre[0], fit.normal[0], float(fit.radius[0])
    angle = float(steps_about(p, fit).sum())
    axis = normal * np.sign(angle)
    spokes = []
    for point in (p[0], p[-1]):
        spoke = point - centre
        spokes.append(unit(spoke - (spoke @ axis) * axis))
    start, end = (centre + radius * s for s in spokes)
    return Piece(start, end, np.cross(axis, spokes[0]), -spokes[0], radius, abs(angle))


def _fitting_radii(chain: Chain) -> tuple[Floats, Floats]:
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
    chain: Chain, radii: Floats, p: Floats, marked: NDArray[np.bool_]
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
