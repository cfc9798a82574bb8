"""Loose straights and arcs, drawn in any order and direction, joined into filleted routes.

A ``DrawnPiece`` is already a route in small: points and bend radii as ``fillet`` takes them. An arc
is its two ends and the vertex where its end tangents meet. So turning a piece round is reading it
backwards, and joining two is putting one behind the other.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from route3d.errors import GeometryError
from route3d.geometry.fillet import COINCIDENT, STRAIGHT_TURN
from route3d.geometry.line_arc import arc, vertices
from route3d.geometry.vectors import Floats, angle_between, frozen, norm, unit

# Ends this near (m) are one point: rounding of survey coordinates, of files with six decimals.
MEETING = 2e-6
# Far more ends near each other than people draw: a tolerance as large as the drawing.
_MOST_STEPS, _MOST_PAIRS = 2_000, 500_000
_ASKEW = unit(np.array([0.53771, 0.67117, 0.51029]))


@dataclass(frozen=True, slots=True, eq=False)
class DrawnPiece:
    """One drawn piece: ``points`` (n, 3) m, ``radii`` (n,) m, 0 where there is no bend.

    ``directed`` is false where the way it was drawn is none of the drawer's choice.
    """

    points: Floats
    radii: Floats
    directed: bool = True

    @property
    def length(self) -> float:
        """Length along its points, m; no less than the length along its arcs."""
        return float(norm(np.diff(self.points, axis=0)).sum())

    def reversed(self) -> DrawnPiece:
        """The same piece from its end to its start."""
        return DrawnPiece(self.points[::-1], self.radii[::-1], self.directed)


@dataclass(frozen=True, slots=True, eq=False)
class Chain:
    """Pieces joined end to end, a route; ``pieces`` are their numbers in walking order.

    ``turned`` of them were drawn the other way; ``gap`` m is the largest gap closed; ``ends_at``
    are the places of its ends where further chains meet it.
    """

    points: Floats
    radii: Floats
    pieces: tuple[int, ...]
    turned: int
    gap: float
    ends_at: tuple[Floats, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Joined:
    """What became of the pieces: ``chains``, and the numbers of those left out, by reason."""

    chains: tuple[Chain, ...]
    loops: tuple[tuple[int, ...], ...]
    doubles: tuple[int, ...]
    short: tuple[int, ...]


# --- pieces ------------------------------------------------------------------------------------


def straight_piece(start: Floats, end: Floats) -> DrawnPiece:
    """A straight from ``start`` to ``end``, (3,) m each.

    Parameters
    ----------
    start, end : ndarray, shape (3,)
        m

    Returns
    -------
    Drawn
        The piece.
    """
    return DrawnPiece(frozen([start, end]), frozen([0.0, 0.0]))


def arc_piece(center: Floats, start: Floats, axis: Floats, turn: float) -> DrawnPiece:
    """The arc from ``start`` about ``center`` ((3,) m each) turning ``turn`` rad about ``axis``.

    ``axis`` is a unit vector across the plane of the arc, the turn right-handed about it.

    Parameters
    ----------
    center, start : ndarray, shape (3,)
        m
    axis : ndarray, shape (3,)
        Unit vector.
    turn : float
        rad

    Returns
    -------
    Drawn
        The piece.
    """
    points, radii = vertices([arc(center, start, axis, turn)])
    return DrawnPiece(frozen(points), frozen(radii))


def arc_through(start: Floats, middle: Floats, end: Floats) -> DrawnPiece:
    """The arc from ``start`` to ``end`` by way of ``middle``, (3,) m each; a straight if in line.

    The center by the two chords a, b from ``start``, with n = a x b:
    (|a|² b x n + |b|² n x a) / 2|n|² from ``start``, negated (circumcenter; from memory).

    Parameters
    ----------
    start, middle, end : ndarray, shape (3,)
        m

    Returns
    -------
    Drawn
        The piece.
    """
    a, b = middle - start, end - start
    normal = np.cross(a, b)
    size = float(normal @ normal)
    if size <= (1e-12 * float(a @ a) * float(b @ b)) or size == 0.0:
        return straight_piece(start, end)
    offset = (float(a @ a) * np.cross(b, normal) + float(b @ b) * np.cross(normal, a)) / (2 * size)
    center, axis = start + offset, unit(normal)
    spoke, last = -offset, end - center
    turn = float(np.arctan2(np.cross(spoke, last) @ axis, spoke @ last)) % (2 * np.pi)
    return arc_piece(center, start, axis, turn)


def bulged_piece(points: Floats, bulges: Floats, axis: Floats) -> DrawnPiece:
    """A polyline of arcs: ``points`` (n, 3) m, ``bulges`` (n - 1,) tan(φ/4) about ``axis``.

    The bulge of DXF: positive turns left seen against ``axis`` (DXF reference, LWPOLYLINE,
    group 42).

    Parameters
    ----------
    points : ndarray, shape (n, 3)
        m
    bulges : ndarray, shape (n - 1,)
        tan(φ/4) of each side.
    axis : ndarray, shape (3,)
        Unit vector.

    Returns
    -------
    Drawn
        The piece.
    """
    legs = zip(points[:-1], points[1:], bulges.tolist(), strict=True)
    return joined([_bulged(a, b, bulge, axis) for a, b, bulge in legs])


def _bulged(start: Floats, end: Floats, bulge: float, axis: Floats) -> DrawnPiece:
    chord = end - start
    if bulge == 0.0 or float(norm(chord)) == 0.0:
        return straight_piece(start, end)
    # from the middle of the chord, left of it, the center lies at c (1 - b²) / 4b
    left = np.cross(axis, chord)
    center = (start + end) / 2 + left * (1 - bulge * bulge) / (4 * bulge)
    turn = 4 * float(np.arctan(bulge))
    return arc_piece(center, start, axis if turn > 0 else -axis, abs(turn))


def joined(pieces: Sequence[DrawnPiece]) -> DrawnPiece:
    """Pieces in order as one; where two meet, one point half-way between their ends.

    Parameters
    ----------
    pieces : sequence of Drawn
        In order, each starting where the last ends.

    Returns
    -------
    Drawn
        The whole.
    """
    if len(pieces) == 1:
        return pieces[0]
    points = [pieces[0].points]
    radii = [pieces[0].radii]
    for piece in pieces[1:]:
        meeting = (points[-1][-1] + piece.points[0]) / 2
        points[-1] = np.vstack((points[-1][:-1], meeting))
        points.append(piece.points[1:])
        radii.append(piece.radii[1:])
    return DrawnPiece(np.vstack(points), np.concatenate(radii))


# --- chains ------------------------------------------------------------------------------------


def chain(pieces: Sequence[DrawnPiece], tolerance: float, keep: Floats | None = None) -> Joined:
    """Join pieces whose ends lie within ``tolerance`` m of each other.

    Ends that truly meet are joined first, so that pieces shorter than the tolerance keep their
    place; then the gaps are closed. What is shorter than the tolerance all told is left out, and
    so are second copies and closed loops, which have no end to pull from. Where three or more
    meet, every chain ends. A chain runs the way most of its length was drawn; chains come in the
    order of their first piece.

    Parameters
    ----------
    pieces : sequence of Drawn
        In any order and direction.
    tolerance : float
        m
    keep : ndarray, shape (k, 3), optional
        Places (m) of points that stay, though the line goes straight on there.

    Returns
    -------
    Chained
        The chains, and what was left out.
    """
    doubles = _doubles(pieces, tolerance)
    strands, loops = _walked(pieces, set(doubles), min(MEETING, tolerance))
    joined_up = [joined(_drawn(pieces, walk)) for walk in strands]
    short = {i for i, strand in enumerate(joined_up) if strand.length <= tolerance}
    walks, rings = _walked(joined_up, short, tolerance)
    nodes, at = _places(joined_up, short, tolerance)
    chains = tuple(
        _chain(
            pieces, _unrolled(walk, strands), _branches(joined_up, walk, nodes, at), tolerance, keep
        )
        for walk in walks
    )
    closed = [*loops, *(_unrolled(ring, strands) for ring in rings)]
    return Joined(
        chains,
        tuple(tuple(i for i, _ in ring) for ring in closed),
        tuple(doubles),
        tuple(sorted(i for strand in short for i, _ in strands[strand])),
    )


Walk = list[tuple[int, bool]]
"""Numbers of pieces in order, each with whether it is walked backwards."""


def _drawn(pieces: Sequence[DrawnPiece], walk: Walk) -> list[DrawnPiece]:
    return [pieces[i].reversed() if back else pieces[i] for i, back in walk]


def _unrolled(walk: Walk, strands: Sequence[Walk]) -> Walk:
    """A walk of strands as one of pieces."""
    steps: Walk = []
    for number, back in walk:
        strand = strands[number]
        steps += [(i, not way) for i, way in reversed(strand)] if back else strand
    return steps


def _places(
    pieces: Sequence[DrawnPiece], out: set[int], tolerance: float
) -> tuple[NDArray[np.int64], dict[int, list[int]]]:
    """The place where each piece starts and ends, and the pieces that meet at each place."""
    nodes = _nodes(pieces, tolerance)
    at: dict[int, list[int]] = {}
    for i in range(len(pieces)):
        if i not in out:
            for node in nodes[i]:
                at.setdefault(int(node), []).append(i)
    return nodes, at


def _nodes(pieces: Sequence[DrawnPiece], tolerance: float) -> NDArray[np.int64]:
    """The number of the place where each piece starts and ends, (n, 2)."""
    if not pieces:
        return np.empty((0, 2), dtype=np.int64)
    ends = np.array([p.points[[0, -1]] for p in pieces]).reshape(-1, 3)
    spots, spot = np.unique(ends, axis=0, return_inverse=True)
    parent = list(range(len(spots)))
    for i, j in _near_pairs(spots, tolerance):
        parent[_root(parent, i)] = _root(parent, j)
    roots = np.array([_root(parent, i) for i in range(len(spots))])
    nodes: NDArray[np.int64] = roots[spot.reshape(-1)].reshape(-1, 2)
    return nodes


def _near_pairs(spots: Floats, tolerance: float) -> Iterator[tuple[int, int]]:
    """All pairs of points within the tolerance, each once.

    Sorted along a direction that no drawing has, near points are few places apart.
    """
    along = (spots - spots.min(axis=0)) @ _ASKEW
    order = np.argsort(along)
    along, sorted_spots = along[order], spots[order]
    count = 0
    for step in range(1, len(spots)):
        near = np.flatnonzero(along[step:] - along[:-step] <= tolerance)
        if not near.size:
            return
        apart = norm(sorted_spots[near + step] - sorted_spots[near])
        hits = near[apart <= tolerance]
        count += len(hits)
        if step > _MOST_STEPS or count > _MOST_PAIRS:
            raise GeometryError(
                f"too many ends lie within {tolerance:g} m of each other",
                fix="use a smaller tolerance",
            )
        yield from zip(order[hits].tolist(), order[hits + step].tolist(), strict=True)


def _root(parent: list[int], i: int) -> int:
    while parent[i] != i:
        parent[i] = parent[parent[i]]
        i = parent[i]
    return i


def _doubles(pieces: Sequence[DrawnPiece], tolerance: float) -> list[int]:
    """Pieces drawn once more between the same two places, at the same distance all along."""
    first: dict[tuple[int, int], list[int]] = {}
    doubles = []
    for i, (a, b) in enumerate(_nodes(pieces, tolerance).tolist()):
        if pieces[i].length <= tolerance:
            continue  # its neighbors lie as near as its copies
        same = first.setdefault((min(a, b), max(a, b)), [])
        if any(_alike(pieces[i], pieces[j], tolerance) for j in same):
            doubles.append(i)
        else:
            same.append(i)
    return doubles


def _alike(a: DrawnPiece, b: DrawnPiece, tolerance: float) -> bool:
    if a.points.shape != b.points.shape:
        return False
    return any(
        bool((norm(a.points - c.points) <= tolerance).all())
        and bool((np.abs(a.radii - c.radii) <= tolerance).all())
        for c in (b, b.reversed())
    )


def _walked(
    pieces: Sequence[DrawnPiece], out: set[int], tolerance: float
) -> tuple[list[Walk], list[Walk]]:
    """Open walks from end to end, and closed ones; the pieces ``out`` are on none."""
    nodes, at = _places(pieces, out, tolerance)
    used = set(out)
    walks: list[Walk] = []
    rings: list[Walk] = []
    for i in range(len(pieces)):
        if i in used:
            continue
        walk = _walk_through(i, nodes, at)
        (walks if walk else rings).append(walk or _forward(i, False, nodes, at))
        used |= {j for j, _ in walk or rings[-1]}
    return walks, rings


def _walk_through(i: int, nodes: NDArray[np.int64], at: dict[int, list[int]]) -> Walk:
    """The whole open walk that piece ``i`` is part of, empty where it closes on itself."""
    ahead = _forward(i, False, nodes, at)
    j, back = ahead[-1]
    end = int(nodes[j][0 if back else 1])
    if len(at[end]) == 2 and (len(ahead) > 1 or nodes[i][0] == nodes[i][1]):
        return []  # came back to where it started
    return _forward(j, not back, nodes, at)


def _forward(i: int, back: bool, nodes: NDArray[np.int64], at: dict[int, list[int]]) -> Walk:
    """Steps from piece ``i`` on, until an end, a branch or the first piece again."""
    walk: Walk = [(i, back)]
    while True:
        last, back = walk[-1]
        node = int(nodes[last][0 if back else 1])
        onward = [j for j in at[node] if j != last]
        if len(at[node]) != 2 or len(onward) != 1 or onward[0] == i:
            return walk
        j = onward[0]
        walk.append((j, int(nodes[j][0]) != node))


def _runs_backwards(pieces: Sequence[DrawnPiece], walk: Walk) -> bool:
    """Whether most of its length was drawn the other way, undirected pieces asked last."""
    telling = [step for step in walk if pieces[step[0]].directed] or walk
    return sum(pieces[i].length * (1 if back else -1) for i, back in telling) > 0


def _branches(
    strands: Sequence[DrawnPiece], walk: Walk, nodes: NDArray[np.int64], at: dict[int, list[int]]
) -> tuple[Floats, ...]:
    """The ends of a walk where more than two strands meet."""
    (first, turned), (last, back) = walk[0], walk[-1]
    ends = ((first, -1 if turned else 0), (last, 0 if back else -1))
    return tuple(strands[i].points[k] for i, k in ends if len(at[int(nodes[i][k])]) > 2)


def _chain(
    pieces: Sequence[DrawnPiece],
    walk: Walk,
    ends_at: tuple[Floats, ...],
    tolerance: float,
    keep: Floats | None,
) -> Chain:
    if _runs_backwards(pieces, walk):
        walk = [(i, not back) for i, back in reversed(walk)]
    drawn = _drawn(pieces, walk)
    gaps = [float(norm(b.points[0] - a.points[-1])) for a, b in pairwise(drawn)]
    whole = smooth(joined(drawn), tolerance, keep)
    numbers = tuple(i for i, _ in walk)
    turned = sum(back for _, back in walk)
    return Chain(whole.points, whole.radii, numbers, turned, max(gaps, default=0.0), ends_at)


# --- tangent joints ----------------------------------------------------------------------------


def smooth(piece: DrawnPiece, tolerance: float, keep: Floats | None = None) -> DrawnPiece:
    """Drop the points where an arc meets a tangent, and let arcs that just overlap just fit.

    The joint of an arc and its tangent says nothing: the tangent leads on to the vertex. It goes
    where dropping it moves the line by no more than ``tolerance`` m. Rounded coordinates may
    leave two arcs too little room by up to the tolerance: their radii shrink by that much.

    Parameters
    ----------
    piece : Drawn
        A chain.
    tolerance : float
        m
    keep : ndarray, shape (k, 3), optional
        Places (m) of points that stay.

    Returns
    -------
    Drawn
        The same line with fewer points.
    """
    points, radii = piece.points, piece.radii
    stays = ~_idle(points, radii, tolerance)
    for place in () if keep is None else keep:
        stays |= norm(points - place) <= MEETING
    return seated(DrawnPiece(points[stays], radii[stays]), tolerance)


def _idle(points: Floats, radii: Floats, tolerance: float) -> NDArray[np.bool_]:
    """True at points without a bend, next to a bend, on the line from neighbor to neighbor."""
    idle = np.zeros(len(points), dtype=np.bool_)
    if len(points) < 3:
        return idle
    before, here, after = points[:-2], points[1:-1], points[2:]
    along = after - before
    size = np.maximum(norm(along), COINCIDENT)[:, None]
    off = norm(np.cross(here - before, along / size))
    ahead = np.einsum("ij,ij->i", here - before, after - here) >= -(tolerance**2)
    by_bend = (radii[:-2] > 0) | (radii[2:] > 0)
    idle[1:-1] = (radii[1:-1] == 0) & by_bend & (off <= tolerance) & ahead
    return idle


def seated(piece: DrawnPiece, tolerance: float) -> DrawnPiece:
    """The piece with radii that just fit, where two bends overlap by no more than a tolerance.

    Parameters
    ----------
    piece : DrawnPiece
        Points and radii.
    tolerance : float
        m

    Returns
    -------
    DrawnPiece
        The same points.
    """
    points, radii = piece.points, piece.radii
    if len(points) < 3:
        return piece
    legs = np.diff(points, axis=0)
    room = norm(legs)
    if (room == 0).any():
        return piece
    turns = np.zeros(len(points))
    turns[1:-1] = angle_between(unit(legs[:-1]), unit(legs[1:]))
    turns = np.where((turns > STRAIGHT_TURN) & (turns < np.pi - 1e-9), turns, 0.0)
    setback = radii * np.tan(turns / 2)
    needed = setback[:-1] + setback[1:]
    short = (needed > room) & (needed - room <= tolerance)
    share = np.where(short, room / np.where(short, needed, 1.0), 1.0)
    least = np.minimum(np.concatenate((share, [1.0])), np.concatenate(([1.0], share)))
    return DrawnPiece(points, radii * least)
