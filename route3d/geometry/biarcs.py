"""Bends that follow a smooth curve in space within a tolerance: one arc where it does, else two.

Between two points with given directions there is one arc only where both lie alike to the chord.
Two arcs that meet smoothly always do it (a biarc): with tangents of one length d at both ends and
2d between their far ends::

    |v - d (t0 + t1)| = 2d,   v from the first point to the last

A piece that two arcs do not follow closely enough is halved.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from route3d.geometry.vectors import Floats, angle_between, norm, unit

# Stations looked at in each piece: arcs and curve part ways slowly.
_LOOKED = 33
_MOST_HALVINGS = 12
# Ends of both tangents nearer than this share of the chord are one point: the arc is one.
_SAME = 1e-7
_MOST_TURN = np.radians(150)  # one bend turns less than this, or its vertex is far away


@dataclass(frozen=True, slots=True)
class ParametricCurve:
    """A curve by its parameter: ``points`` (k,) -> (k, 3) m; ``direction`` the unit tangent (3,)
    at one, taken from the side of the second, which is another one of the same piece.
    """

    points: Callable[[Floats], Floats]
    direction: Callable[[float, float], Floats]


@dataclass(frozen=True, slots=True, eq=False)
class Bends:
    """Vertices (k, 3) m with their radii (k,) m, and ``off`` m, the most they are off the curve."""

    vertices: Floats
    radii: Floats
    off: float


def bends_along(curve: ParametricCurve, low: float, high: float, tolerance: float) -> Bends:
    """The bends of a smooth piece of a curve, each within ``tolerance`` m of it as looked at.

    They start and end in its ends, along its directions; a straight piece has none.

    Parameters
    ----------
    curve : Curve
        The curve, asked by its own parameter.
    low, high : float
        Ends of the piece on that parameter.
    tolerance : float
        m

    Returns
    -------
    Bends
        Vertices and radii of the bends.
    """
    return _bends(curve, low, high, tolerance, _MOST_HALVINGS)


def _bends(
    curve: ParametricCurve, low: float, high: float, tolerance: float, halvings: int
) -> Bends:
    points = curve.points(np.linspace(low, high, _LOOKED))
    t0, t1 = curve.direction(low, high), curve.direction(high, low)
    made = biarc(points, t0, t1)
    if halvings and (made is None or made.off > tolerance):
        middle = (low + high) / 2
        parts = [
            _bends(curve, *span, tolerance, halvings - 1)
            for span in ((low, middle), (middle, high))
        ]
        return Bends(
            np.vstack([p.vertices for p in parts]),
            np.concatenate([p.radii for p in parts]),
            max(p.off for p in parts),
        )
    return made or Bends(np.empty((0, 3)), np.empty(0), 0.0)


def biarc(points: Floats, t0: Floats, t1: Floats) -> Bends | None:
    """One or two bends from the first point to the last, along unit tangents at both.

    Parameters
    ----------
    points : ndarray, shape (k, 3)
        Points of the curve, m, of which the greatest distance is taken.
    t0, t1 : ndarray, shape (3,)
        Unit tangents at the first and the last.

    Returns
    -------
    Bends or None
        None where the piece turns too far.
    """
    start, end = points[0], points[-1]
    v = end - start
    chord, along = float(norm(v)), float(v @ (t0 + t1))
    if chord == 0.0 or along <= 0.0:
        return None
    turn = float(angle_between(t0, t1))
    if turn < 1e-9 and chord * 2 - along < 1e-12 * chord:
        return Bends(np.empty((0, 3)), np.empty(0), 0.0)
    lead = chord**2 / along
    one = np.array([start + lead * t0, end - lead * t1])
    if norm(one[1] - one[0]) <= _SAME * chord:
        if turn > _MOST_TURN:
            return None
        vertices = one.mean(axis=0, keepdims=True)
    else:
        flat = 2 * float(t0 @ t1) - 2  # |t0 + t1|² - 4
        lead = chord**2 / (along + float(np.sqrt(along**2 - flat * chord**2)))
        vertices = np.array([start + lead * t0, end - lead * t1])
    corners = np.vstack((start, vertices, end))
    directions = unit(np.diff(corners, axis=0))
    turns = angle_between(directions[:-1], directions[1:])
    if (turns > _MOST_TURN).any():
        return None
    straight = turns < 1e-9
    radii = np.where(straight, 0.0, lead / np.tan(np.where(straight, 1.0, turns) / 2))
    return Bends(vertices[~straight], radii[~straight], off_bends(points, corners, radii))


def off_bends(points: Floats, corners: Floats, radii: Floats) -> float:
    """How far points (k, 3) m are from the path of these corners and the radii between, at most.

    Parameters
    ----------
    points : ndarray, shape (k, 3)
        m
    corners : ndarray, shape (n, 3)
        Vertices with both ends, m.
    radii : ndarray, shape (n - 2,)
        Of the vertices between, m.

    Returns
    -------
    float
        m
    """
    from route3d.geometry.clearance import tubes_of
    from route3d.geometry.fillet import fillet

    line = fillet(corners, [0.0, *radii, 0.0], corners=set(range(len(corners))))
    away, _ = tubes_of(line, np.zeros(len(corners))).nearest(points)
    return float(away.max())
