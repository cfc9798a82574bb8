"""Circles and lines fitted to points in space by least squares, many windows at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from route3d.geometry.vectors import Floats, norm


@dataclass(frozen=True, eq=False, slots=True)
class Circles:
    """Fits to windows of points, arrays with one row each, lengths in m.

    ``off_circle`` and ``off_line`` are the largest distances of a window's points from its circle
    and from its line. ``normal`` is the unit axis; ``radius`` is infinite where points are in line.
    """

    centre: Floats
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
    """
    mean = windows.sum(axis=1) / windows.shape[1]
    local = windows - mean[:, None]
    _, axes = np.linalg.eigh(local.transpose(0, 2, 1) @ local)
    xyz = local @ axes  # third column along the line, first across the plane
    x, y, away = xyz[..., 2], xyz[..., 1], xyz[..., 0]
    centre, radius = _plane_circles(x, y)
    bent = np.where(np.isfinite(radius), radius, 0.0)[:, None]
    ring = np.where(bent > 0, np.hypot(x - centre[:, :1], y - centre[:, 1:]) - bent, y)
    return Circles(
        mean + centre[:, :1] * axes[..., 2] + centre[:, 1:] * axes[..., 1],
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
    """Distance of each point from the segment between the first and the last, (n, 3) -> (n,) m."""
    chord = points[-1] - points[0]
    along = (points - points[0]) @ chord
    share = np.clip(along / max(float(chord @ chord), 1e-300), 0.0, 1.0)
    return norm(points - points[0] - share[:, None] * chord)


def corners(points: Floats, tolerance: float) -> list[int]:
    """Indices of the points that carry the shape of a polyline to ``tolerance`` m, ends included.

    D. Douglas and T. Peucker 1973, "Algorithms for the reduction of the number of points required
    to represent a digitized line or its caricature" (from memory).
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
