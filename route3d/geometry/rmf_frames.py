"""Right and up along a path, carried without twist: the rotation-minimizing frame.

On a straight the frame stays as it is, in a bend it turns with the tangent about the axis of the
bend. Carried so it is exact from segment to segment, with nothing to integrate.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.fillet import SHORTEST
from route3d.geometry.path import ARC, STRAIGHT, Path
from route3d.geometry.vectors import Floats, angle_between, norm, unit

# Tangents of neighbors that differ by less are the same but for rounding.
_SAME_WAY = 1e-9
# Steeper than 45 degrees nothing is level across.
STEEP = math.sin(math.radians(45))
_UP = np.array([0.0, 0.0, 1.0])


def level_frame(path: Path) -> Floats:
    """Right and up, (2, 3), at the start, so that rows are level on the longest straight.

    The longest in plan counts. Of a path that is upright throughout, right is along x.

    Parameters
    ----------
    path : Path
        The centerline, n segments.

    Returns
    -------
    ndarray, shape (2, 3)
        Unit vectors.
    """
    straight = path.kind == STRAIGHT
    plan = np.where(straight, path.lengths * norm(path.tangents * np.array([1.0, 1.0, 0.0])), 0.0)
    at = int(np.argmax(plan)) if plan.max() > SHORTEST else 0
    start = _across(path.tangents[0])
    carried = frames(path, start)[at]
    wanted = _across(path.tangents[at])
    roll = math.atan2(float(wanted[0] @ carried[1]), float(wanted[0] @ carried[0]))
    turned: Floats = np.array(
        [
            math.cos(roll) * start[0] + math.sin(roll) * start[1],
            math.cos(roll) * start[1] - math.sin(roll) * start[0],
        ]
    )
    return turned


def _across(tangent: Floats) -> Floats:
    """Right and up, (2, 3), of someone who looks along a tangent and stands upright."""
    side = np.cross(tangent, _UP)
    if norm(side) < _SAME_WAY:
        side = np.array([1.0, 0.0, 0.0])
        side = side - (side @ tangent) * tangent
    side = unit(side)
    return np.array([side, np.cross(side, tangent)])


def frames(path: Path, start: Floats | None = None) -> Floats:
    """Right and up at the start of every segment, (n, 2, 3), carried along without twist.

    ``start`` (2, 3) are those at the start of the path, by default ``level_frame``.

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    start : ndarray, shape (2, 3), optional
        Default: `level_frame`.

    Returns
    -------
    ndarray, shape (n, 2, 3)
        Unit vectors.
    """
    now = level_frame(path) if start is None else np.array(start, dtype=np.float64)
    ends, binormals = path.end_tangents, np.cross(path.tangents, path.normals)
    result = np.empty((len(path), 2, 3))
    for i in range(len(path)):
        if i:
            now = _leaned(now, ends[i - 1], path.tangents[i])
        result[i] = now
        if path.kind[i] != STRAIGHT:
            n, b = path.normals[i], binormals[i]
            now = np.outer(now @ n, path.end_normals[i]) + np.outer(now @ b, b)
    return result


def _leaned(frame: Floats, before: Floats, after: Floats) -> Floats:
    """A frame across ``before`` turned the shortest way to lie across ``after``."""
    share = (frame @ after) / (1.0 + before @ after)
    turned: Floats = unit(frame - share[:, None] * (before + after))
    return turned


def frames_at(path: Path, stations: Floats, starts: Floats) -> Floats:
    """Right and up at stations (k,), (k, 2, 3), from those at the ``starts`` of the segments.

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    stations : ndarray, shape (k,)
        m
    starts : ndarray, shape (n, 2, 3)
        Right and up at the start of each segment, from `frames`.

    Returns
    -------
    ndarray, shape (k, 2, 3)
        Unit vectors.
    """
    i = path.locate(stations)[0]
    frame = starts[i]
    arc = (path.kind[i] == ARC)[:, None, None]
    n, b = path.normals[i], np.cross(path.tangents[i], path.normals[i])
    turned = np.einsum("kfi,ki->kf", frame, n)[..., None] * path.normal(stations)[:, None]
    turned = turned + np.einsum("kfi,ki->kf", frame, b)[..., None] * b[:, None]
    return np.where(arc, turned, frame)


def rolls(path: Path, starts: Floats) -> Floats:
    """How far rows lie off level on each segment, (n,) rad; NaN in bends and where it is steep.

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    starts : ndarray, shape (n, 2, 3)
        Right and up at the start of each segment, from `frames`.

    Returns
    -------
    ndarray, shape (n,)
        rad
    """
    tilt = np.arctan2(starts[:, 0, 2], starts[:, 1, 2])
    flat = (path.kind == STRAIGHT) & (np.abs(path.tangents[:, 2]) <= STEEP)
    return np.where(flat, tilt, np.nan)


def end_frames(path: Path, starts: Floats) -> Floats:
    """Right and up at the end of every segment, (n, 2, 3), from those at the ``starts``.

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    starts : ndarray, shape (n, 2, 3)
        Right and up at the start of each segment, from `frames`.

    Returns
    -------
    ndarray, shape (n, 2, 3)
        Unit vectors.
    """
    n, b = path.normals, np.cross(path.tangents, path.normals)
    turned = np.einsum("nfi,ni->nf", starts, n)[..., None] * path.end_normals[:, None]
    turned = turned + np.einsum("nfi,ni->nf", starts, b)[..., None] * b[:, None]
    return np.where((path.kind == STRAIGHT)[:, None, None], starts, turned)


def kinked(path: Path) -> NDArray[np.bool_]:
    """True at joints, (n - 1,), where the tangent jumps: vertices taken for straight.

    Parameters
    ----------
    path : Path
        The centerline, n segments.

    Returns
    -------
    ndarray of bool, shape (n - 1,)
    """
    return angle_between(path.end_tangents[:-1], path.tangents[1:]) > _SAME_WAY
