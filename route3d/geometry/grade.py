"""The ground surface: its elevation at any place of the plan."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.vectors import Floats, frozen

# Places this close (m) outside a triangle still count as on it: rounding at shared edges.
_EDGE = 1e-9


@dataclass(frozen=True, eq=False)
class Grade:
    """Triangles (n, 3, 3) m of a surface with one elevation at each place; none: ``level`` m.

    ``given`` is false where the ground is only assumed to be at ``level``. ``name`` is what reports
    call it.
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

    def at(self, places: Floats) -> Floats:
        """Elevation z (k,) m at places (k, 2 or 3) m; NaN outside the surface.

        Where triangles lie over one another the highest counts.
        """
        xy = np.asarray(places, dtype=np.float64)[..., :2].reshape(-1, 2)
        if self.is_level:
            return np.full(len(xy), self.level)
        found = np.full(len(xy), np.nan)
        for place, item in zip(*self._beside(xy), strict=True):
            z = _on_triangles(self.triangles[item], xy[place])
            if np.isfinite(z).any():
                found[place] = np.nanmax(z)
        return found

    def _beside(self, xy: Floats) -> tuple[list[int], list[NDArray[np.int64]]]:
        """Numbers of the places near the surface, and of the triangles that may be under each."""
        import shapely

        pairs = self._tree.query(shapely.points(xy), predicate=None)
        order = np.argsort(pairs[0], kind="stable")
        places, items = pairs[0][order], pairs[1][order]
        each, starts = np.unique(places, return_index=True)
        return each.tolist(), list(np.split(items, starts[1:])) if len(each) else []

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
        Points of the ground, m.
    name : str
        What reports call it.

    Returns
    -------
    Grade

    Raises
    ------
    ValueError
        Where the points lie on one line of the plan.
    """
    import shapely

    points = np.asarray(points, dtype=np.float64)
    made = shapely.get_parts(shapely.delaunay_triangles(shapely.multipoints(points[:, :2])))
    if not len(made):
        raise ValueError(f"{len(points)} points on one line make no surface")
    corners = shapely.get_coordinates(made).reshape(-1, 4, 2)[:, :3]
    nearest = (
        np.abs(corners[:, :, None, :] - points[None, None, :, :2]).sum(axis=-1).argmin(axis=-1)
    )
    return Grade(triangles=points[nearest], given=True, name=name)


def _on_triangles(triangles: Floats, place: Floats) -> Floats:
    """Elevation (n,) of each triangle over a place (2,), NaN where it does not lie under it."""
    a, b, c = (triangles[:, i, :2] for i in range(3))
    det = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (c[:, 0] - a[:, 0]) * (b[:, 1] - a[:, 1])
    flat = np.abs(det) < 1e-30
    det = np.where(flat, 1.0, det)
    px, py = place[0] - a[:, 0], place[1] - a[:, 1]
    v = (px * (c[:, 1] - a[:, 1]) - (c[:, 0] - a[:, 0]) * py) / det
    w = ((b[:, 0] - a[:, 0]) * py - px * (b[:, 1] - a[:, 1])) / det
    inside = (v >= -_EDGE) & (w >= -_EDGE) & (v + w <= 1 + _EDGE) & ~flat
    z = triangles[:, 0, 2] * (1 - v - w) + triangles[:, 1, 2] * v + triangles[:, 2, 2] * w
    return np.where(inside, z, np.nan)
