"""How near a conduit comes to itself: every point against the rest of its own centerline.

Along the run it is always near itself, so a point counts only against what is farther from it,
measured along the centerline, than π/2 times the distance c that centers must keep. Nearer than
that no smooth run with bends of at least c/2 in radius can come closer than c: an arc of a curve
that bends no more than a circle spans at least the chord of that circle (Schur's comparison
theorem; from memory), and 2R sin(πc/4R) ≥ c wherever R ≥ c/2.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from route3d.geometry.clearance import Ints
from route3d.geometry.clearance_tubes import Tubes, point_to_segments
from route3d.geometry.path import ARC
from route3d.geometry.vectors import Floats, norm

SPARED = math.pi / 2
"""The share of the distance asked for, from center to center, that is spared along the run."""

# Pairs of point and segment worked on at once: bounds the memory.
_PAIRS = 200_000


@dataclass(frozen=True, slots=True, eq=False)
class Itself:
    """The conduit of a run, for points of its own centerline; an item is a segment.

    ``spared`` m along the run are left out on both sides of a point. Distances are exact up to
    ``most`` m; whatever is farther counts as that far.
    """

    tubes: Tubes
    spared: float
    most: float

    def nearest(self, points: Floats, stations: Floats | None = None) -> tuple[Floats, Ints]:
        """Distance (k,) m of points (k, 3) at their stations (k,) m, and the nearest segment."""
        if stations is None:
            raise ValueError("the distance of a run from itself needs the stations of its points")
        distance = np.full(len(points), self.most)
        items = np.zeros(len(points), dtype=np.int64)
        size = max(1, _PAIRS // len(self.tubes.radii))
        for i in range(0, len(points), size):
            part = slice(i, i + size)
            self._block(points[part], stations[part], distance[part], items[part])
        return distance, items

    def to_items(self, points: Floats, items: Ints) -> Floats:
        """Distance (k,) m of each point (k, 3) to the wall of the segment given for it."""
        return self.tubes.to_items(points, items)

    def _block(self, points: Floats, stations: Floats, distance: Floats, items: Ints) -> None:
        tubes = self.tubes
        apart = norm(points[:, None] - tubes.middles) - tubes.reach - tubes.radii
        k, i = np.nonzero(apart < self.most)
        low, high = tubes.path.stations[i], tubes.path.stations[i + 1]
        for start, end in (
            (low, np.minimum(high, stations[k] - self.spared)),
            (np.maximum(low, stations[k] + self.spared), high),
        ):
            there = end >= start
            pair, segment = k[there], i[there]
            off = self._to_parts(points[pair], segment, start[there], end[there])
            off -= tubes.radii[segment]
            order = np.argsort(-off, kind="stable")  # the nearest is written last
            pair, segment, off = pair[order], segment[order], off[order]
            closer = off < distance[pair]
            distance[pair[closer]] = off[closer]
            items[pair[closer]] = segment[closer]

    def _to_parts(self, points: Floats, segment: Ints, start: Floats, end: Floats) -> Floats:
        """Distance (m,) m of points (m, 3) to segments (m,) between two stations of each."""
        path = self.tubes.path
        off = points - path.starts[segment]
        along = np.einsum("ij,ij->i", off, path.tangents[segment])
        aside = np.einsum("ij,ij->i", off, path.normals[segment])
        arc = path.kind[segment] == ARC
        radius = np.where(arc, path.radii[segment], 1.0)
        angle = np.arctan2(along, radius - aside) % (2 * np.pi)
        foot = path.stations[segment] + np.where(arc, radius * angle, along)
        ends = np.minimum(norm(points - path.point(start)), norm(points - path.point(end)))
        whole = point_to_segments(path, points, segment)
        return np.where((foot >= start) & (foot <= end), whole, ends)


def itself(tubes: Tubes, required: float) -> Itself:
    """A run to be measured from itself, with the clearance ``required`` m asked for."""
    between = required + 2 * float(tubes.radii.max())
    spared = SPARED * between
    return Itself(tubes, spared, spared)
