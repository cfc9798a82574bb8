"""The ground surface: its elevation at any place of the plan."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.vectors import Floats, frozen
from route3d.phrase import Phrase, literal, say

# Places this close (m) outside a triangle still count as on it: rounding at shared edges.
_EDGE = 1e-6
# A triangle narrower than this in plan, m, stands upright: those beside it say how high it is.
_UPRIGHT = 1e-9
# Places and triangles looked at together: bounds the memory to some 100 MB.
_CHUNK = 500_000


@dataclass(frozen=True, eq=False)
class Grade:
    """Triangles (n, 3, 3) m of a surface with one elevation at each place; none: ``level`` m.

    ``given`` is false where the ground is only assumed to be at ``level``. ``name`` is what a
    surface is called, such as the name of its file.
    """

    level: float = 0.0
    triangles: Floats = field(default_factory=lambda: np.empty((0, 3, 3)))
    given: bool = False
    name: str = ""

    def __post_init__(self) -> None:
        triangles = frozen(np.asarray(self.triangles, dtype=np.float64).reshape(-1, 3, 3))
        object.__setattr__(self, "triangles", triangles)

    @property
    def is_level(self) -> bool:
        """Whether the ground is one level everywhere."""
        return not len(self.triangles)

    @property
    def said(self) -> Phrase:
        """The ground in words, such as "grade at z = 1.50 m"."""
        if not self.is_level:
            return say(f"the grade surface {literal(self.name)}".rstrip())
        if self.given:
            return say("grade at z = {}", (self.level, "length"))
        return say("grade assumed at z = 0")

    def at(self, places: Floats) -> Floats:
        """Elevation z (k,) m at places (k, 2 or 3) m; NaN outside the surface.

        Where triangles lie over one another the highest counts.
        """
        xy = np.asarray(places, dtype=np.float64)[..., :2].reshape(-1, 2)
        if self.is_level:
            return np.full(len(xy), self.level)
        found = np.full(len(xy), -np.inf)
        place, item = self._pairs(xy)
        for first in range(0, len(place), _CHUNK):
            some = slice(first, first + _CHUNK)
            z = _over(self.triangles[item[some]], xy[place[some]])
            np.maximum.at(found, place[some], np.where(np.isnan(z), -np.inf, z))
        found[np.isneginf(found)] = np.nan
        return found

    def passed(self, start: Floats, end: Floats) -> tuple[NDArray[np.int64], Floats]:
        """Where lines from ``start`` to ``end`` (k, 2 or 3) m pass edges of triangles in plan.

        The numbers of the lines (n,), and the share of each line up to there (n,).
        """
        import shapely

        if self.is_level:
            return np.empty(0, dtype=np.int64), np.empty(0)
        a, b = (np.asarray(p, dtype=np.float64)[:, :2] for p in (start, end))
        lines = shapely.linestrings(np.stack((a, b), axis=1))
        line, item = self._tree.query(lines, predicate="intersects")
        corners = self.triangles[item, :, :2]
        along = (b - a)[line][:, None]
        edge = np.roll(corners, -1, axis=1) - corners
        gap = corners - a[line][:, None]
        det = along[..., 0] * edge[..., 1] - along[..., 1] * edge[..., 0]
        safe = np.where(det == 0, 1.0, det)
        share = (gap[..., 0] * edge[..., 1] - gap[..., 1] * edge[..., 0]) / safe
        at = (gap[..., 0] * along[..., 1] - gap[..., 1] * along[..., 0]) / safe
        met = (det != 0) & (share >= 0) & (share <= 1) & (at >= -1e-9) & (at <= 1 + 1e-9)
        return np.repeat(line[:, None], 3, axis=1)[met], share[met]

    def _pairs(self, xy: Floats) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Numbers of places and of the triangles whose boxes hold them, in pairs."""
        import shapely

        place, item = self._tree.query(shapely.points(xy))
        return place, item

    @cached_property
    def _tree(self) -> Any:
        import shapely

        low = self.triangles[:, :, :2].min(axis=1) - _EDGE
        high = self.triangles[:, :, :2].max(axis=1) + _EDGE
        return shapely.STRtree(shapely.box(low[:, 0], low[:, 1], high[:, 0], high[:, 1]))


def grade_through(points: Floats, *, name: str = "") -> Grade:
    """The surface through points, joined by the Delaunay triangles of their plan.

    Parameters
    ----------
    points : ndarray, shape (n, 3)
        m
    name : str
        What the surface is called.

    Returns
    -------
    Grade
        The ground; outside the hull of the points it is not known.

    Raises
    ------
    ValueError
        Where the points lie on one line of the plan, or two are over one another.
    """
    import shapely

    points = np.asarray(points, dtype=np.float64).reshape(-1, 3)
    number = {(x, y): i for i, (x, y, _) in enumerate(points.tolist())}
    over = points[[number[x, y] for x, y, _ in points.tolist()], 2] != points[:, 2]
    if over.any():
        x, y, _ = points[over][0].tolist()
        raise ValueError(f"two elevations at x {x:g}, y {y:g}")
    made = shapely.get_parts(shapely.delaunay_triangles(shapely.multipoints(points[:, :2])))
    if not len(made):
        raise ValueError(f"{len(points)} points on one line make no surface")
    corners = shapely.get_coordinates(made).reshape(-1, 4, 2)[:, :3].reshape(-1, 2)
    item = [number[x, y] for x, y in corners.tolist()]
    return Grade(triangles=points[item].reshape(-1, 3, 3), given=True, name=name)


def _over(triangles: Floats, places: Floats) -> Floats:
    """Elevation (n,) of each triangle (n, 3, 3) over its place (n, 2), NaN where not over it."""
    plan = triangles[:, :, :2]
    edge = np.roll(plan, -2, axis=1) - np.roll(plan, -1, axis=1)  # across from each corner
    gap = places[:, None] - np.roll(plan, -1, axis=1)
    area = edge[:, 0, 0] * edge[:, 1, 1] - edge[:, 0, 1] * edge[:, 1, 0]
    part = edge[..., 0] * gap[..., 1] - edge[..., 1] * gap[..., 0]
    length = np.hypot(edge[..., 0], edge[..., 1])
    upright = np.abs(area) <= _UPRIGHT * length.max(axis=1)
    side = np.where(area < 0, -1.0, 1.0)[:, None]
    inside = (part * side >= -_EDGE * length).all(axis=1) & ~upright
    # within the triangle's own heights, also where a place lies beside it by rounding
    share = np.clip(part * side, 0.0, None)
    total = share.sum(axis=1)
    z = (share * triangles[:, :, 2]).sum(axis=1) / np.where(total > 0, total, 1.0)
    return np.where(inside & (total > 0), z, np.nan)
