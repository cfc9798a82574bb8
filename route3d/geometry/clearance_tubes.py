"""How far a point is from another conduit: exact distance to a chain of straights and arcs.

To a straight, it is the distance to the nearest point between its ends. To an arc of radius R about
the axis a, with the point at ``(ρ, h)`` off and along the axis, it is ``hypot(ρ - R, h)`` where the
point stands within the angle of the arc, else the distance to the nearer end. From it goes the
outer radius of the conduit; the ends are rounded by that radius, where the true ones are cut flat.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.path import ARC, Path
from route3d.geometry.vectors import Floats, norm

Ints = NDArray[np.int64]

# Points taken together, and pairs of point and segment worked on at once: bounds the memory.
_BLOCK, _PAIRS = 64, 200_000


@dataclass(frozen=True, slots=True, eq=False)
class Tubes:
    """A centerline with the outer ``radii`` (n,) m of its segments; an item is a segment.

    Every segment lies within ``reach`` (n,) m of its ``middles`` (n, 3) m.
    """

    path: Path
    radii: Floats
    middles: Floats
    reach: Floats

    def nearest(self, points: Floats, stations: Floats | None = None) -> tuple[Floats, Ints]:
        """Distance (k,) m of each point (k, 3) to the nearest conduit wall, and its segment.

        Negative inside a conduit, down to minus its outer radius on the centerline.
        """
        if not len(points):
            return np.empty(0), np.empty(0, dtype=np.int64)
        blocks = [self._block(points[i : i + _BLOCK]) for i in range(0, len(points), _BLOCK)]
        return np.concatenate([d for d, _ in blocks]), np.concatenate([i for _, i in blocks])

    def to_items(self, points: Floats, items: Ints) -> Floats:
        """Distance (k,) m of each point (k, 3) to the wall of the segment given for it."""
        return point_to_segments(self.path, points, items) - self.radii[items]

    def _block(self, points: Floats) -> tuple[Floats, Ints]:
        kept = self._may_be_nearest(points)
        size = max(1, _PAIRS // len(kept))
        found = [self._pairs(points[i : i + size], kept) for i in range(0, len(points), size)]
        return np.concatenate([d for d, _ in found]), np.concatenate([i for _, i in found])

    def _may_be_nearest(self, points: Floats) -> Ints:
        """The segments whose least distance is no more than the greatest of another."""
        middle = points.mean(axis=0)
        size = norm(points - middle).max()
        off, spread = norm(self.middles - middle), size + self.reach
        most = np.min(off + spread - self.radii)
        return np.flatnonzero(off - spread - self.radii <= most + 1e-9)

    def _pairs(self, points: Floats, kept: Ints) -> tuple[Floats, Ints]:
        off = point_to_segments(self.path, points[:, None, :], kept[None, :]) - self.radii[kept]
        best = off.argmin(axis=1)
        return off[np.arange(len(points)), best], kept[best]


def tubes_of(path: Path, outer_radii: Floats) -> Tubes:
    """The conduit along a path; ``outer_radii`` m, one for each leg of the route."""
    middles = (path.starts + path.ends) / 2
    bulge = np.where(path.kind == ARC, path.lengths / 2, 0.0)  # generous: no need to be close
    reach = norm(path.ends - path.starts) / 2 + bulge
    return Tubes(path, outer_radii[path.leg], middles, reach)


def point_to_segments(path: Path, points: Floats, segments: Ints) -> Floats:
    """Distance m between points (..., 3) and the segments of a path (...), broadcast together."""
    i = segments
    off = points - path.starts[i]
    tangent, normal = path.tangents[i], path.normals[i]
    along = np.einsum("...j,...j->...", off, tangent)
    nearest = np.clip(along, 0.0, path.lengths[i])
    straight = norm(off - nearest[..., None] * tangent)
    if not (path.kind == ARC).any():
        return straight
    arc = path.kind[i] == ARC
    radius = np.where(arc, path.radii[i], 0.0)
    aside = np.einsum("...j,...j->...", off, normal)
    height = norm(off - along[..., None] * tangent - aside[..., None] * normal)
    outward = radius - aside
    angle = np.arctan2(along, outward) % (2 * np.pi)
    ends = np.minimum(norm(off), norm(points - path.ends[i]))
    round_ = np.hypot(np.hypot(along, outward) - radius, height)
    return np.where(arc, np.where(angle <= path.angles[i], round_, ends), straight)
