"""Round tubes along a centerline: rings of points that do not twist, joined to closed surfaces."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.path import ARC, CORNER, Path
from route3d.geometry.vectors import Floats, unit


def tubes(
    path: Path, radius: float | Floats, *, chord_tolerance: float, sides: int = 32
) -> tuple[tuple[Floats, NDArray[np.int64]], ...]:
    """Closed tubes of ``radius`` m as ``(vertices (n, 3) m, triangles (m, 3))``, faces outward.

    ``radius`` may be one for each segment. One tube, and one more after every corner, where the
    conduit stops and starts, and wherever the radius is another. The rings have
    ``sides`` points on the true circle; along bends the chords stay within ``chord_tolerance`` m.

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    radius : float or ndarray, shape (n,)
        m
    chord_tolerance : float
        m
    sides : int
        Points of a ring.

    Returns
    -------
    tuple of (ndarray, ndarray)
        Vertices (n, 3) in m and triangles (m, 3).
    """
    radii = np.broadcast_to(np.asarray(radius, dtype=np.float64), (len(path),))
    pipe = np.flatnonzero(path.kind != CORNER)
    new = np.flatnonzero((np.diff(pipe) > 1) | (np.diff(radii[pipe]) != 0)) + 1
    return tuple(
        _tube(path, range(int(s[0]), int(s[-1]) + 1), float(radii[s[0]]), chord_tolerance, sides)
        for s in np.split(pipe, new)
        if len(s)
    )


def _tube(
    path: Path, segments: range, radius: float, chord_tolerance: float, sides: int
) -> tuple[Floats, NDArray[np.int64]]:
    angle = np.arange(sides) * (2 * np.pi / sides)
    circle = radius * np.column_stack((np.cos(angle), np.sin(angle)))
    side = _square_to(path.tangents[segments[0]])
    rings = [_ring(path.starts[segments[0]], path.tangents[segments[0]], side, circle)]
    for i in segments:
        for center, tangent, side in _stops(path, i, side, chord_tolerance):  # noqa: B020
            rings.append(_ring(center, tangent, side, circle))
    caps = np.array([path.starts[segments[0]], path.ends[segments[-1]]])
    return np.vstack((*rings, caps)), _triangles(len(rings), sides)


def _square_to(tangent: Floats) -> Floats:
    across = np.eye(3)[int(np.argmin(np.abs(tangent)))]
    side: Floats = unit(across - (across @ tangent) * tangent)
    return side


def _ring(center: Floats, tangent: Floats, side: Floats, circle: Floats) -> Floats:
    ring: Floats = center + circle[:, :1] * side + circle[:, 1:] * np.cross(tangent, side)
    return ring


def _stops(
    path: Path, i: int, side: Floats, chord_tolerance: float
) -> list[tuple[Floats, Floats, Floats]]:
    """Center, tangent and carried side at the stops after the start of one segment.

    Within an arc the side turns with the tangent about the axis of the bend: no twist at all.
    """
    t, n = path.tangents[i], path.normals[i]
    if path.kind[i] != ARC:
        return [(path.ends[i], t, side)]
    radius, turn = float(path.radii[i]), float(path.angles[i])
    step = 2 * np.arccos(max(1 - chord_tolerance / radius, np.cos(np.pi / 8)))
    angles = np.linspace(0.0, turn, max(2, int(np.ceil(turn / step))) + 1)[1:]
    axis = np.cross(t, n)
    along, inward, across = side @ t, side @ n, side @ axis
    stops = []
    for a in angles.tolist():
        ahead = np.cos(a) * t + np.sin(a) * n
        centerward = np.cos(a) * n - np.sin(a) * t
        center = path.starts[i] + radius * (np.sin(a) * t + 2 * np.sin(a / 2) ** 2 * n)
        stops.append((center, ahead, along * ahead + inward * centerward + across * axis))
    return stops


def _triangles(rings: int, sides: int) -> NDArray[np.int64]:
    i, j = (a.ravel() for a in np.meshgrid(np.arange(rings - 1), np.arange(sides), indexing="ij"))
    a, b = i * sides + j, i * sides + (j + 1) % sides
    walls = np.vstack(
        (np.column_stack((a, b, b + sides)), np.column_stack((a, b + sides, a + sides)))
    )
    rim = np.arange(sides)
    after = (rim + 1) % sides
    last = (rings - 1) * sides
    start, end = rings * sides, rings * sides + 1
    first_cap = np.column_stack((np.full(sides, start), after, rim))
    last_cap = np.column_stack((np.full(sides, end), last + rim, last + after))
    faces: NDArray[np.int64] = np.vstack((walls, first_cap, last_cap))
    return faces
