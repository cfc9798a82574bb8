"""Loose ends of drawn straights, and the elbow that leads from one to the next.

An elbow that a file holds as a solid, or not at all, leaves a gap between two straights. Where
both, led on, meet in one point, the arc that is tangent to both is known: its set-backs a and b
from that point are the same, and its radius is a / tan(φ/2).

Which loose ends belong together is our own judgment::

    touched    one fitting without a centerline reaches both ends
    near       the ends are at most NEAR apart and not side by side
    elbow      both straights meet within the tolerance, with the same set-back of at most ``reach``
    in line    one straight leads on into the other over at most ``reach``
    uneven     they meet, but one set-back is up to UNEVEN times the other
    skew       they pass within PASSING or one diameter of each other, but do not meet
    far        elbow or in line beyond ``reach``, up to FAR times that

An elbow is rebuilt where a fitting touches both ends, and where the set-backs are the same and no
other straight would do as well; a gap in line where a fitting touches both ends. All other pairs
are one run in parts, but those that are far: each end has one such neighbor only, and they stay
separate runs. Ends that are none of these belong to runs of their own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.join import DrawnPiece, straight_piece
from route3d.geometry.vectors import Floats, angle_between, frozen, norm

# A gap up to this (m) is one of the drawing and never an elbow.
NEAR = 0.05
# Longest set-back, and gap in line, bridged or told: m, and outer diameters where known.
REACH, REACH_DIAMETERS = 3.0, 20.0
# Set-backs of one elbow differ by at most this share; above this ratio they are of no bend.
EVEN, UNEVEN = 0.02, 2.0
# Axes that pass each other by more than this (m), and than one outer diameter, belong to two runs.
PASSING = 0.02
# Ends that lead on to each other are told up to this many times the reach.
FAR = 3.0
# Turns of a rebuilt elbow; below the first the straights are in line.
LEAST_TURN, MOST_TURN = np.radians(1.0), np.radians(150.0)
# Another straight would do as well where its gap is at most this many times as long.
AS_WELL = 1.25
# A fitting reaches an end within this (m) of the box around it.
TOUCH = 0.1
# More pairs of near ends than this are no runs of conduit: none is looked at.
_MOST_PAIRS = 3_000_000

Kind = Literal["touched", "near", "elbow", "in line", "uneven", "skew", "far"]


@dataclass(frozen=True, slots=True, eq=False)
class Elbow:
    """The ``piece`` between two ends, its ``radius`` m, and the set-back m of each end."""

    piece: DrawnPiece
    radius: float
    setbacks: tuple[float, float]


@dataclass(frozen=True, slots=True, eq=False)
class Gap:
    """Two loose ends of one run: the numbers of their ``pieces``, and ``size`` m from end to end.

    ``at`` (3,) m is the middle. ``bridge`` is the piece between them, None where they stay apart,
    and ``radius`` m that of its bend, 0 where it is straight. ``apart`` m is by how much axes that
    are skew pass each other. ``fitting`` is the number of the one
    that touches both, None where none does.
    """

    pieces: tuple[int, int]
    size: float
    at: Floats
    kind: Kind
    bridge: DrawnPiece | None = None
    radius: float = 0.0
    fitting: int | None = None
    doubtful: bool = False
    apart: float = 0.0


def elbow_between(
    first: Floats, ahead: Floats, last: Floats, back: Floats, tolerance: float
) -> Elbow | None:
    """The elbow between two ends, (3,) m each, from which straights lead on along unit vectors.

    Where the set-backs differ the smaller one is taken, and the rest stays straight. None where
    the straights do not meet ahead within ``tolerance`` m, or turn by less than 1° or more than
    150°.

    Parameters
    ----------
    first, last : ndarray, shape (3,)
        The two ends, m.
    ahead, back : ndarray, shape (3,)
        Unit vectors in which the straights lead on, each out of its own end.
    tolerance : float
        Greatest distance between the two axes where they meet, m.

    Returns
    -------
    Elbow or None
    """
    a, b, apart = (float(v) for v in _meeting(first, ahead, last, back))
    turn = float(np.pi - angle_between(ahead, back))
    if not (min(a, b) > 0 and apart <= tolerance and LEAST_TURN <= turn <= MOST_TURN):
        return None
    vertex = (first + a * ahead + last + b * back) / 2
    radius = min(a, b) / float(np.tan(turn / 2))
    piece = DrawnPiece(frozen([first, vertex, last]), frozen([0.0, radius, 0.0]))
    return Elbow(piece, radius, (a, b))


def _meeting(first: Floats, ahead: Floats, last: Floats, back: Floats) -> tuple[Floats, ...]:
    """How far (m) two lines lead on to where they are nearest, and how far apart they are there."""
    across = np.cross(ahead, back)
    size = np.maximum(np.einsum("...i,...i->...", across, across), 1e-300)
    gap = last - first
    a = np.einsum("...i,...i->...", np.cross(gap, back), across) / size
    b = np.einsum("...i,...i->...", np.cross(gap, ahead), across) / size
    apart = norm(first + a[..., None] * ahead - last - b[..., None] * back)
    return a, b, apart


# --- which ends belong together -----------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class _Pairs:
    """Pairs of ends (n,): their numbers, kind by rank, distance m, set-backs m, fitting or -1."""

    i: NDArray[np.int64]
    j: NDArray[np.int64]
    rank: NDArray[np.int64]
    size: Floats
    fitting: NDArray[np.int64]
    apart: Floats


_KINDS: tuple[Kind, ...] = ("touched", "near", "elbow", "in line", "uneven", "skew")


def gaps_between(
    pieces: Sequence[DrawnPiece],
    closed: Sequence[Floats],
    tolerance: float,
    *,
    diameter: float | None = None,
    fittings: Sequence[Floats] = (),
) -> tuple[Gap, ...]:
    """The gaps between the loose ends of pieces, each end in one at most but where it is doubtful.

    Parameters
    ----------
    pieces : sequence of DrawnPiece
        Chains as far as they are joined.
    closed : sequence of ndarray, shape (3,)
        Places (m) of ends that are not loose: branches.
    tolerance : float
        m
    diameter : float, optional
        Outer diameter, m.
    fittings : sequence of ndarray, shape (k, 3)
        Points (m) of each fitting without a centerline; none where its place is not known.

    Returns
    -------
    tuple of Gap
        In the order of their pieces.
    """
    ends, outward, owner = _loose(pieces, closed, tolerance)
    if len(ends) < 2:
        return ()
    reach = max(REACH, REACH_DIAMETERS * (diameter or 0.0))
    passing = max(PASSING, diameter or 0.0)
    pairs = _candidates(ends, outward, owner, tolerance, reach, passing, fittings)
    free = np.ones(len(ends), dtype=bool)
    groups = list(range(len(pieces)))
    found: list[Gap] = []
    for n in np.lexsort((pairs.size, pairs.rank)).tolist():
        i, j = int(pairs.i[n]), int(pairs.j[n])
        if not (free[i] and free[j]):
            continue
        one, two = _root(groups, int(owner[i])), _root(groups, int(owner[j]))
        if one == two:  # a ring has no end to pull from
            continue
        kind = _KINDS[int(pairs.rank[n])]
        same = _as_good(pairs, n, free) if kind == "elbow" else []
        fitting = int(pairs.fitting[n])
        gap = Gap(
            (int(owner[i]), int(owner[j])),
            float(pairs.size[n]),
            (ends[i] + ends[j]) / 2,
            kind,
            fitting=fitting if fitting >= 0 else None,
            doubtful=bool(same),
            apart=float(pairs.apart[n]) if kind == "skew" else 0.0,
        )
        found.append(gap if same else _bridged(gap, ends, outward, i, j, tolerance))
        for other in same:
            a, b = int(pairs.i[other]), int(pairs.j[other])
            middle, size = (ends[a] + ends[b]) / 2, float(pairs.size[other])
            numbers = (int(owner[a]), int(owner[b]))
            found.append(Gap(numbers, size, middle, kind, doubtful=True))
        taken = [n, *same]
        free[pairs.i[taken]] = free[pairs.j[taken]] = False
        groups[one] = two
    groups = [_root(groups, i) for i in range(len(groups))]
    found += _far(ends[free], outward[free], owner[free], groups, tolerance, reach)
    return tuple(sorted(found, key=lambda gap: gap.pieces))


def _far(
    ends: Floats,
    outward: Floats,
    owner: NDArray[np.int64],
    groups: list[int],
    tolerance: float,
    reach: float,
) -> list[Gap]:
    """Pairs of loose ends that lead on to each other farther than ``reach`` m, and to no other."""
    i, j = _near_pairs(ends, 2 * FAR * reach)
    a, b, miss = _meeting(ends[i], outward[i], ends[j], outward[j])
    small, large = np.minimum(a, b), np.maximum(a, b)
    turn = np.pi - angle_between(outward[i], outward[j])
    size = norm(ends[j] - ends[i])
    elbow = (turn >= LEAST_TURN) & (turn <= MOST_TURN) & (small > 0) & (miss <= tolerance)
    elbow &= (large <= FAR * reach) & (large - small <= np.maximum(tolerance, EVEN * large))
    forward = np.einsum("ij,ij->i", ends[j] - ends[i], outward[i])
    aside = norm(ends[j] - ends[i] - forward[:, None] * outward[i])
    in_line = (turn < LEAST_TURN) & (forward > 0) & (aside <= tolerance) & (size <= FAR * reach)
    run = np.array(groups)[owner]
    kept = (elbow | in_line) & (run[i] != run[j])
    i, j, size = i[kept], j[kept], size[kept]
    often = np.bincount(np.concatenate((i, j)), minlength=len(ends))
    return [
        Gap((int(owner[m]), int(owner[n])), float(s), (ends[m] + ends[n]) / 2, "far")
        for m, n, s in zip(i.tolist(), j.tolist(), size.tolist(), strict=True)
        if often[m] == often[n] == 1
    ]


def _root(groups: list[int], i: int) -> int:
    while groups[i] != i:
        groups[i] = groups[groups[i]]
        i = groups[i]
    return i


def _loose(
    pieces: Sequence[DrawnPiece], closed: Sequence[Floats], tolerance: float
) -> tuple[Floats, Floats, NDArray[np.int64]]:
    """Loose ends (n, 3) m, unit vectors that lead on (n, 3), and the piece of each (n,)."""
    ends, outward, owner = [], [], []
    for number, piece in enumerate(pieces):
        for before, end in ((1, 0), (-2, -1)):
            leg = piece.points[end] - piece.points[before]
            size = float(norm(leg))
            if size > 0:
                ends.append(piece.points[end])
                outward.append(leg / size)
                owner.append(number)
    at, ways = np.reshape(ends, (-1, 3)), np.reshape(outward, (-1, 3))
    loose = np.ones(len(at), dtype=bool)
    for place in closed:
        loose &= norm(at - place) > tolerance
    return at[loose], ways[loose], np.array(owner, dtype=np.int64)[loose]


def _candidates(
    ends: Floats,
    outward: Floats,
    owner: NDArray[np.int64],
    tolerance: float,
    reach: float,
    passing: float,
    fittings: Sequence[Floats],
) -> _Pairs:
    i, j = _near_pairs(ends, 2 * reach)
    apart = owner[i] != owner[j]
    i, j = i[apart], j[apart]
    ahead, back = outward[i], outward[j]
    size = norm(ends[j] - ends[i])
    turn = np.pi - angle_between(ahead, back)
    a, b, miss = _meeting(ends[i], ahead, ends[j], back)
    small, large = np.minimum(a, b), np.maximum(a, b)
    meets = (turn >= LEAST_TURN) & (turn <= MOST_TURN) & (small > 0) & (large <= reach)
    skew = meets & (miss <= passing) & (large <= UNEVEN * small)
    meets &= miss <= tolerance
    forward = np.einsum("ij,ij->i", ends[j] - ends[i], ahead)
    aside = norm(ends[j] - ends[i] - forward[:, None] * ahead)
    in_line = (turn < LEAST_TURN) & (forward > 0) & (aside <= tolerance) & (size <= reach)
    fitting, alone = _touching(ends, i, j, fittings)
    even = meets & (large - small <= np.maximum(tolerance, EVEN * large))
    # a turn of 120° at most: ducts side by side end at the same place and lead the same way
    near = (size <= NEAR) & (turn <= np.radians(120))
    tests = (alone, near, even, in_line, meets & (large <= UNEVEN * small), skew)
    rank = np.select(tests, np.arange(len(tests)), -1)
    kept = rank >= 0
    return _Pairs(i[kept], j[kept], rank[kept], size[kept], fitting[kept], miss[kept])


def _near_pairs(ends: Floats, most: float) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Numbers of all ends within ``most`` m of each other, each pair once."""
    order = np.argsort(ends[:, 0], kind="stable")
    x = ends[order, 0]
    stop = np.searchsorted(x, x + most, side="right")
    counts = stop - np.arange(len(x)) - 1
    if counts.sum() > _MOST_PAIRS:
        return np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64)
    one = np.repeat(np.arange(len(x)), counts)
    two = one + 1 + np.arange(len(one)) - np.repeat(np.cumsum(counts) - counts, counts)
    i, j = order[one], order[two]
    close = norm(ends[i] - ends[j]) <= most
    return np.minimum(i, j)[close], np.maximum(i, j)[close]


def _touching(
    ends: Floats, i: NDArray[np.int64], j: NDArray[np.int64], fittings: Sequence[Floats]
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """For each pair of ends the smallest fitting that reaches both, -1 where none does.

    And whether it reaches no other end: a tee does, and one of elbows side by side.
    """
    found, alone = np.full(len(i), -1), np.zeros(len(i), dtype=bool)
    least = np.full(len(i), np.inf)
    for number, points in enumerate(fittings):
        if not len(points):
            continue
        low, high = points.min(axis=0) - TOUCH, points.max(axis=0) + TOUCH
        size = float(norm(high - low))
        inside = ((ends >= low) & (ends <= high)).all(axis=1)
        both = inside[i] & inside[j] & (size < least)
        found[both], least[both], alone[both] = number, size, inside.sum() == 2
    return found, alone


def _as_good(pairs: _Pairs, n: int, free: NDArray[np.bool_]) -> list[int]:
    """Other elbows from one of the ends of pair ``n`` that would do as well."""
    i, j = pairs.i[n], pairs.j[n]
    shares = (pairs.i == i) | (pairs.j == i) | (pairs.i == j) | (pairs.j == j)
    alike = (pairs.rank == pairs.rank[n]) & (pairs.size <= AS_WELL * pairs.size[n])
    others = np.flatnonzero(shares & alike & free[pairs.i] & free[pairs.j])
    return [int(k) for k in others if k != n]


def _bridged(gap: Gap, ends: Floats, outward: Floats, i: int, j: int, tolerance: float) -> Gap:
    """The gap with the piece that closes it, where there is one."""
    if gap.kind == "elbow" or (gap.kind == "touched" and gap.size > NEAR):
        made = elbow_between(ends[i], outward[i], ends[j], outward[j], tolerance)
        if made is not None:
            return replace(gap, bridge=made.piece, radius=made.radius)
    forward = float((ends[j] - ends[i]) @ outward[i])
    aside = float(norm(ends[j] - ends[i] - forward * outward[i]))
    facing = float(outward[i] @ outward[j]) < -np.cos(LEAST_TURN)
    if gap.kind == "touched" and facing and forward > 0 and aside <= tolerance:
        return replace(gap, bridge=straight_piece(ends[i], ends[j]))
    return gap
