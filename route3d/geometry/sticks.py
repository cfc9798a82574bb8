"""Conduit cut from sticks: where the joints come, and the marks of each bend on its stick."""

from __future__ import annotations

import bisect
import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

# A remainder below this is rounding, not a piece of conduit.
_SMALLEST = 1e-6


@dataclass(frozen=True, slots=True)
class CutPiece:
    """One piece cut from one stick, by the stations (m) of its ends along the route."""

    start: float
    end: float

    @property
    def length(self) -> float:
        """Length to cut, m: along the centerline, so bends are in it as they are developed."""
        return self.end - self.start


@dataclass(frozen=True, slots=True)
class Marks:
    """Where a bend starts and ends, m from the end of its piece that comes first on the route.

    ``piece`` counts from 0. ``over`` is how many further pieces the bend runs on into; then
    ``end`` is measured on the last of them. ``rest`` m is what that piece has left behind the bend.
    ``cut`` m is the length of the piece before it where that is no whole stick, None else.
    """

    piece: int
    start: float
    end: float
    over: int
    rest: float
    cut: float | None = None

    @property
    def center(self) -> float | None:
        """The middle of the bend on its piece, m; None where it runs on over a joint."""
        return None if self.over else (self.start + self.end) / 2


def cut_pieces(
    start: float, end: float, arcs: Sequence[tuple[float, float]], stick: float, straight: float
) -> tuple[CutPiece, ...]:
    """Sticks laid end to end from station ``start`` to ``end``, each as long as it can be.

    No joint comes within ``straight`` m of one of the ``arcs`` (station pairs in order, m): the
    stick before is cut short. Where bends follow each other so closely that there is no such place,
    the joint has the most straight that is left between two of them. An arc that is longer than a
    stick is bent over several.

    Parameters
    ----------
    start, end : float
        Stations, m.
    arcs : sequence of (float, float)
        Stations of start and end of each bend, m.
    stick : float
        Length of a whole stick, m.
    straight : float
        Straight that a coupling or a bender needs beside a bend, m.

    Returns
    -------
    tuple of CutPiece
        In order.
    """
    pieces: list[CutPiece] = []
    at, k = start, 0
    while end - at > _SMALLEST:
        joint = at + stick
        while k < len(arcs) and arcs[k][1] + straight <= at:
            k += 1
        if joint < end:
            joint = _clear_of(arcs[k:], at, joint, straight)
        pieces.append(CutPiece(at, min(joint, end)))
        at = joint
    return tuple(pieces)


def _clear_of(
    arcs: Sequence[tuple[float, float]], at: float, joint: float, straight: float
) -> float:
    """The joint, or the nearest place further back that is clear of all bends.

    Where there is none, the place with the most straight to the bends on both sides.
    """
    clear = joint
    near = tuple(itertools.takewhile(lambda arc: arc[0] - straight < joint, arcs))
    for first, last in reversed(near):
        if clear < last + straight:
            clear = min(clear, first - straight)
    if clear > at + _SMALLEST:
        return clear
    most, best = _SMALLEST, joint
    for (_, low), (high, _) in itertools.pairwise((*near, (joint + straight, math.inf))):
        place = min((low + high) / 2, joint)
        if min(place - low, high - place) >= most and place > at + _SMALLEST:
            most, best = min(place - low, high - place), place
    return best


def marks_of(pieces: Sequence[CutPiece], first: float, last: float, stick: float = 0.0) -> Marks:
    """The marks of the bend between stations ``first`` and ``last``, m.

    ``stick`` m is the length of a whole one; left out, none before it counts as cut.

    Parameters
    ----------
    pieces : sequence of CutPiece
        From `cut_pieces`.
    first, last : float
        Stations, m.
    stick : float
        m; 0 where not known.

    Returns
    -------
    Marks
        Where the bend starts and ends on its stick, m.
    """
    a = _holding(pieces, first)
    b = a
    while b + 1 < len(pieces) and pieces[b].end < last - _SMALLEST:
        b += 1
    start, end = first - pieces[a].start, last - pieces[b].start
    before = pieces[a - 1].length if a else stick
    cut = before if before < stick - _SMALLEST else None
    return Marks(a, start, end, b - a, max(pieces[b].end - last, 0.0), cut)


def _holding(pieces: Sequence[CutPiece], station: float) -> int:
    after = bisect.bisect_right(pieces, station + _SMALLEST, key=lambda piece: piece.end)
    return min(after, len(pieces) - 1)


def support_count(parts: Sequence[tuple[float, float, float]]) -> int:
    """Supports of conduit between two boxes, with no two further apart than allowed.

    ``parts`` are, in order, (length m, greatest spacing m, greatest distance m to a box) of each
    stretch of one conduit. The first and the last stand at their distance from the boxes.

    Parameters
    ----------
    parts : sequence of (float, float, float)
        Length, largest spacing, largest distance to a box, m.

    Returns
    -------
    int
    """
    total = sum(length for length, _, _ in parts)
    at, last = min(parts[0][2], total / 2), max(total - parts[-1][2], total / 2)
    count = 1
    while last - at > _SMALLEST:
        at = min(at + _spacing(parts, at), last)
        count += 1
    return count


def _spacing(parts: Sequence[tuple[float, float, float]], at: float) -> float:
    """The spacing allowed from a place on: the least of the conduits it reaches over."""
    begin, allowed = 0.0, float("inf")
    for length, spacing, _ in parts:
        if begin + length > at and begin < at + allowed:
            allowed = min(allowed, spacing)
        begin += length
    return allowed
