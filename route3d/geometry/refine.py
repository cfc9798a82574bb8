"""Points where tangents meet and bend radii, fitted to the points of a polyline by least squares.

Each bend is a half-line in, an arc and a half-line out, and each point of the polyline counts to
one bend. A bend moves the points of its own and of its two neighbors only, so bends three apart
are fitted at the same time, in arrays (Gauss-Newton within a bend, Gauss-Seidel among them).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.vectors import Floats, norm

MOST_SWEEPS = 30
# A sweep that lowers the sum of squares by less than this share is the last.
GAIN = 1e-2
# Step of the differences, m: the square root of rounding for lengths of about a meter.
STEP = 1e-7
# Below this (m, root mean square) nothing is left to gain: no file is so exact.
EXACT = 1e-8


@dataclass(frozen=True, eq=False, slots=True)
class Chain:
    """``points`` (m, 3) and ``radii`` (m,) in m; ``source`` (m,) the polyline point each is, or -1.

    For each of the n points of the polyline: ``zone`` the vertex of the bend it counts to and
    ``owner`` the number of its arc, -1 where it counts to none.
    """

    points: Floats
    radii: Floats
    source: NDArray[np.int64]
    zone: NDArray[np.int64]
    owner: NDArray[np.int64]


def zone_residuals(chain: Chain, p: Floats) -> Floats:
    """How far each polyline point is off its bend, (n, 2) m: in the plane of the bend, across it.

    Points that count to no bend are 0 off.
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


def refined(chain: Chain, p: Floats) -> Chain:
    """The chain with its bends moved so that the squares of the residuals are least."""
    best, best_sum = chain, float((zone_residuals(chain, p) ** 2).sum())
    current = chain
    for _ in range(MOST_SWEEPS):
        if best_sum <= EXACT**2 * len(p):
            break
        for colour in range(3):
            current = _swept(current, p, colour)
        total = float((zone_residuals(current, p) ** 2).sum())
        if not total < best_sum * (1 - GAIN):
            return current if total < best_sum else best
        best, best_sum = current, total
    return best


def _swept(chain: Chain, p: Floats, colour: int) -> Chain:
    """One Gauss-Newton step of every third bend."""
    vertex = np.arange(len(chain.points))
    moving = (vertex % 3 == colour) & (chain.radii > 0)
    if not moving.any():
        return chain
    nearest = (
        chain.zone + (colour - chain.zone + 1) % 3 - 1
    )  # the moving vertex of a zone or beside
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


def _nudged(chain: Chain, moving: NDArray[np.bool_], parameter: int, by: float) -> Chain:
    if parameter == 3:
        return replace(chain, radii=chain.radii + by * moving)
    points = chain.points.copy()
    points[moving, parameter] += by
    return replace(chain, points=points)
