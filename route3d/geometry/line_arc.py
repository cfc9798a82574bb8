"""From lines and arcs, as drawings hold them, to the points and radii of a route."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from route3d.geometry.fillet import COINCIDENT, STRAIGHT_TURN
from route3d.geometry.vectors import Floats, angle_between, norm, unit

# An arc is split so that each part turns at most this: tangents of a half turn never meet.
MOST_TURN = np.radians(120)


@dataclass(frozen=True, eq=False, slots=True)
class LineArc:
    """A line, or an arc of ``radius`` m: from ``start``, (3,) m, to ``end``.

    An arc leaves ``start`` along the unit ``tangent`` and turns by ``angle`` rad (0..2π) toward
    the unit ``normal``; a line has radius 0, and its tangent points to its end.
    """

    start: Floats
    end: Floats
    tangent: Floats
    normal: Floats
    radius: float = 0.0
    angle: float = 0.0

    @property
    def end_tangent(self) -> Floats:
        """Unit tangent at the end."""
        tangent: Floats = np.cos(self.angle) * self.tangent + np.sin(self.angle) * self.normal
        return tangent

    def reversed(self) -> LineArc:
        """The same piece walked from its end to its start."""
        c, s = np.cos(self.angle), np.sin(self.angle)
        normal = c * self.normal - s * self.tangent
        return LineArc(self.end, self.start, -self.end_tangent, normal, self.radius, self.angle)


def line(start: Floats, end: Floats) -> LineArc:
    """The straight piece between two points that are apart.

    Parameters
    ----------
    start, end : ndarray, shape (3,)
        m

    Returns
    -------
    Piece
        The line.
    """
    return LineArc(start, end, unit(end - start), np.zeros(3))


def arc(center: Floats, start: Floats, axis: Floats, angle: float) -> LineArc:
    """The arc from ``start`` about ``center`` by ``angle`` rad, right-handed about a unit axis.

    Parameters
    ----------
    center, start : ndarray, shape (3,)
        m
    axis : ndarray, shape (3,)
        Unit vector.
    angle : float
        rad

    Returns
    -------
    Piece
        The arc.
    """
    spoke = start - center
    radius = float(norm(spoke))
    outward = spoke / radius
    tangent = np.cross(axis, outward)
    end = center + radius * (np.cos(angle) * outward + np.sin(angle) * tangent)
    return LineArc(start, end, tangent, -outward, radius, angle)


def vertices(pieces: Sequence[LineArc]) -> tuple[Floats, Floats]:
    """Points (n, 3) and radii (n,) of a chain of pieces, each starting where the last one ends.

    A bend stands at the point where its tangents meet; a joint of two lines, and one where the
    chain turns sharply, is a point without radius. ``fillet`` of them gives the chain again.

    Parameters
    ----------
    pieces : sequence of Piece
        In order.

    Returns
    -------
    tuple of ndarray, shapes (n, 3) and (n,)
        m
    """
    points, radii = [pieces[0].start], [0.0]
    for before, piece in zip((None, *pieces), pieces, strict=False):
        if before is not None and not _smooth(before, piece):
            points.append(piece.start)
            radii.append(0.0)
        for meeting in meetings(piece):
            points.append(meeting)
            radii.append(piece.radius)
    points.append(pieces[-1].end)
    radii.append(0.0)
    return _distinct(np.array(points), np.array(radii))


def _smooth(before: LineArc, piece: LineArc) -> bool:
    """Whether a joint needs no point of its own: an arc runs on tangent from it or to it."""
    turn = float(angle_between(before.end_tangent, piece.tangent))
    return bool(before.radius or piece.radius) and turn <= STRAIGHT_TURN


def meetings(piece: LineArc) -> list[Floats]:
    """Where the tangents of the parts of an arc meet, each (3,) m; none for a line.

    Parameters
    ----------
    piece : Piece
        A line or an arc.

    Returns
    -------
    list of ndarray, shape (3,)
        m
    """
    if not piece.radius:
        return []
    count = int(np.ceil(piece.angle / MOST_TURN - 1e-9))
    step = piece.angle / count
    at = step * np.arange(count)[:, None]
    half = piece.radius * np.tan(step / 2)
    along = np.cos(at) * piece.tangent + np.sin(at) * piece.normal
    towards = piece.radius * (np.sin(at) * piece.tangent + 2 * np.sin(at / 2) ** 2 * piece.normal)
    return list(piece.start + towards + half * along)


def _distinct(points: Floats, radii: Floats) -> tuple[Floats, Floats]:
    """Without points on the one before: ends of a chain that starts or ends with nothing."""
    keep = np.ones(len(points), dtype=bool)
    keep[1:] = (norm(np.diff(points, axis=0)) >= COINCIDENT) | (radii[1:] > 0)
    return points[keep], radii[keep]
