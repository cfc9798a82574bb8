"""A search tree over the triangles of building meshes: how far is a point from the nearest?

The triangles are halved at the median of their longest extent until each lot is small, and each lot
has a search of its own, VTK's static cell locator, which comes with pyvista. One locator over the
whole would have boxes of one size, too large for a fine piece of plant in a wide site: a point
beside it took 10 to 60 ms instead of 0.1. Of the others measured on a million triangles, trimesh
with rtree takes 100 times as long for each point, and fcl as long to build as all else together.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.vectors import Floats, norm

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]

# A triangle lower than this share of its longest side is the line that side makes: the search
# passes by triangles without area.
_FLAT = 1e-12
_LOT = 1000  # triangles of one locator
_SAMPLE = 1000
_BLOCK = 32  # points taken together
_FAR = 1e12  # m: farther than anything


@dataclass(frozen=True, eq=False)
class Lot:
    """A few neighboring ``triangles`` (n, 3, 3) m of all, by the ``numbers`` (n,) they have there.

    Its search is made when it is first asked for: a route passes by most of a wide site.
    """

    triangles: Floats
    numbers: Ints

    @cached_property
    def _built(self) -> tuple[Ints, Any, Any]:
        return _searched(self.triangles, self.numbers)

    @property
    def items(self) -> Ints:
        """The numbers of the triangles in the order of the cells of the search."""
        return self._built[0]

    @property
    def locator(self) -> Any:
        """VTK's search."""
        return self._built[1]


@dataclass(frozen=True, slots=True, eq=False)
class MeshTree:
    """Triangles (n, 3, 3) m in ``lots``, boxed by ``low`` and ``high`` (lots, 3) m.

    An item is the number of a triangle.
    """

    triangles: Floats
    lots: tuple[Lot, ...]
    low: Floats
    high: Floats

    def nearest(self, points: Floats, stations: Floats | None = None) -> tuple[Floats, Ints]:
        """Distance (k,) m of each of the points (k, 3) to the nearest triangle, and which."""
        distance, items = np.empty(len(points)), np.empty(len(points), dtype=np.int64)
        search = _Search()
        for start in range(0, len(points), _BLOCK):
            block = points[start : start + _BLOCK]
            near, least = self._may_be_nearest(block)
            lots = [self.lots[k] for k in near]
            orders, rows = np.argsort(least, axis=1).tolist(), least.tolist()
            for i, point in enumerate(block.tolist()):
                found = search.nearest(point, lots, orders[i], rows[i])
                distance[start + i], items[start + i] = found
        return distance, items

    def _may_be_nearest(self, points: Floats) -> tuple[list[int], Floats]:
        """The lots that may hold what is nearest to any of the points, and how far their boxes are.

        Every side of a box is touched, so that something is no farther than its far corner.
        """
        middle = points.mean(axis=0)
        size = float(norm(points - middle).max())
        most = norm(np.maximum(middle - self.low, self.high - middle)).min() + size
        off = norm(np.maximum(np.maximum(self.low - middle, middle - self.high), 0.0))
        lots = np.flatnonzero(off - size <= most)
        low, high, at = self.low[lots], self.high[lots], points[:, None]
        return lots.tolist(), norm(np.maximum(np.maximum(low - at, at - high), 0.0))

    def to_items(self, points: Floats, items: Ints) -> Floats:
        """Distance (k,) m of each point (k, 3) to the triangle given for it."""
        return point_to_triangle(points, self.triangles[items])

    def within(self, low: Floats, high: Floats) -> Ints:
        """The triangles whose boxes meet the box from ``low`` to ``high`` (3,) m."""
        lots = np.flatnonzero(((self.low <= high) & (self.high >= low)).all(axis=1))
        if not len(lots):
            return np.empty(0, dtype=np.int64)
        items = np.concatenate([self.lots[k].numbers for k in lots.tolist()])
        corners = self.triangles[items]
        least, most = corners.min(axis=1), corners.max(axis=1)
        met: Ints = items[((least <= high) & (most >= low)).all(axis=1)]
        return met

    def along(self, start: Floats, end: Floats) -> Ints:
        """The triangles that a line from ``start`` to ``end`` may meet: all it does, and more."""
        from vtkmodules.vtkCommonCore import vtkIdList

        found, items = vtkIdList(), [np.empty(0, dtype=np.int64)]
        for k in np.flatnonzero(_line_meets(start, end, self.low, self.high)).tolist():
            lot = self.lots[k]
            lot.locator.FindCellsAlongLine(start.tolist(), end.tolist(), 0.0, found)
            cells = [found.GetId(i) for i in range(found.GetNumberOfIds())]
            items.append(lot.items[np.array(cells, dtype=np.int64)])
        unique: Ints = np.unique(np.concatenate(items))
        return unique


class _Search:
    """One search after another; it keeps the places into which VTK writes what it finds."""

    __slots__ = ("_cell", "_number", "_part", "_place", "_square")

    def __init__(self) -> None:
        from vtkmodules.vtkCommonCore import reference
        from vtkmodules.vtkCommonDataModel import vtkGenericCell

        self._place, self._cell = [0.0, 0.0, 0.0], vtkGenericCell()
        self._number: Any = reference(0)
        self._part: Any = reference(0)
        self._square: Any = reference(0.0)

    def nearest(
        self, point: list[float], lots: list[Lot], order: list[int], least: list[float]
    ) -> tuple[float, int]:
        """Distance and item of the nearest triangle; ``least`` is how far off each lot begins."""
        best, item, square = _FAR, -1, self._square
        for k in order:
            if least[k] > best:
                break
            lot = lots[k]
            within = lot.locator.FindClosestPointWithinRadius
            if within(point, best, self._place, self._cell, self._number, self._part, square):
                off = math.sqrt(square.get())
                if off < best:
                    best, item = off, int(lot.items[self._number.get()])
        return best, item


def _line_meets(start: Floats, end: Floats, low: Floats, high: Floats) -> Flags:
    """Whether a line passes through each of the boxes, by its part within each pair of sides."""
    step = end - start
    step = np.where(step == 0, 1e-300, step)
    one, other = (low - start) / step, (high - start) / step
    into = np.maximum(np.minimum(one, other).max(axis=1), 0.0)
    out = np.minimum(np.maximum(one, other).min(axis=1), 1.0)
    meets: Flags = into <= out + 1e-9
    return meets


# --- building ------------------------------------------------------------------------------------


def mesh_tree(vertices: Floats, faces: Ints) -> MeshTree:
    """The tree of a mesh: ``vertices`` (n, 3) m, ``faces`` (m, 3) with m at least 1.

    Parameters
    ----------
    vertices : ndarray, shape (n, 3)
        m
    faces : ndarray of int, shape (m, 3)
        Vertex numbers.

    Returns
    -------
    MeshTree
        The tree.
    """
    triangles = vertices[faces]
    a, b, c = triangles[:, 0], triangles[:, 1], triangles[:, 2]
    low, high = np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)
    groups = list(_halving(np.ascontiguousarray((low + high).T / 2), np.arange(len(faces))))
    order = np.concatenate(groups)
    firsts = np.cumsum([0, *(len(g) for g in groups[:-1])])
    together = triangles[order]
    parts = np.split(together, firsts[1:])
    return MeshTree(
        triangles,
        tuple(Lot(part, g) for part, g in zip(parts, groups, strict=True)),
        np.minimum.reduceat(low[order], firsts),
        np.maximum.reduceat(high[order], firsts),
    )


def _halving(middles: Floats, group: Ints) -> Iterator[Ints]:
    """The group (n,) in lots of neighbors, by the middles (3, all) of all.

    A sample says which extent is the longest.
    """
    if len(group) <= _LOT:
        yield group
        return
    some = middles[:, group[:: len(group) // _SAMPLE + 1]]
    axis = int((some.max(axis=1) - some.min(axis=1)).argmax())
    order = np.argpartition(middles[axis, group], len(group) // 2)
    for half in (order[: len(group) // 2], order[len(group) // 2 :]):
        yield from _halving(middles, group[half])


def _searched(triangles: Floats, items: Ints) -> tuple[Ints, Any, Any]:
    """The items by their cells, the search, and the data it needs to keep."""
    from vtkmodules.util.numpy_support import numpy_to_vtk
    from vtkmodules.vtkCommonCore import vtkPoints
    from vtkmodules.vtkCommonDataModel import vtkPolyData, vtkStaticCellLocator

    flat = _flat(triangles[:, 0], triangles[:, 1], triangles[:, 2])
    lines = _longest_sides(triangles[flat]) if flat.any() else np.empty((0, 2, 3))
    corners = np.vstack((lines.reshape(-1, 3), triangles[~flat].reshape(-1, 3)))
    numbers = np.arange(len(corners), dtype=np.int64)
    points, data, locator = vtkPoints(), vtkPolyData(), vtkStaticCellLocator()
    points.SetData(numpy_to_vtk(corners, deep=1))  # type: ignore[no-untyped-call]
    data.SetPoints(points)
    data.SetLines(_cells(numbers[: 2 * len(lines)].reshape(-1, 2)))
    data.SetPolys(_cells(numbers[2 * len(lines) :].reshape(-1, 3)))
    locator.SetDataSet(data)
    locator.BuildLocator()
    return np.concatenate((items[flat], items[~flat])), locator, data  # lines come first


def _cells(corners: Ints) -> Any:
    from vtkmodules.util.numpy_support import numpy_to_vtkIdTypeArray
    from vtkmodules.vtkCommonDataModel import vtkCellArray

    cells = vtkCellArray()
    array = numpy_to_vtkIdTypeArray(corners.ravel(), deep=1)  # type: ignore[no-untyped-call]
    cells.SetData(corners.shape[1], array)
    return cells


def _flat(a: Floats, b: Floats, c: Floats) -> Flags:
    """Which triangles, by their corners (n, 3) each, have no area to speak of."""
    sides = np.maximum(np.maximum(_square(b - a), _square(c - b)), _square(a - c))
    flat: Flags = _square(np.cross(b - a, c - a)) <= (_FLAT * sides) ** 2
    return flat


def _square(v: Floats) -> Floats:
    squares: Floats = np.einsum("ij,ij->i", v, v)
    return squares


def _longest_sides(triangles: Floats) -> Floats:
    """Both ends (n, 2, 3) of the longest side of each triangle."""
    edges = np.roll(triangles, -1, axis=1) - triangles
    row, first = np.arange(len(triangles)), norm(edges).argmax(axis=1)
    return np.stack((triangles[row, first], triangles[row, (first + 1) % 3]), axis=1)


# --- exact distances -----------------------------------------------------------------------------


def point_to_triangle(points: Floats, triangles: Floats) -> Floats:
    """Distance (k,) m between points (k, 3) and triangles (k, 3, 3), flat ones too.

    Over the inside of a triangle it is the distance to its plane, elsewhere to its nearest side.

    Parameters
    ----------
    points : ndarray, shape (k, 3)
        m
    triangles : ndarray, shape (k, 3, 3)
        m

    Returns
    -------
    ndarray, shape (k,)
        m
    """
    a, b, c = triangles[:, 0], triangles[:, 1], triangles[:, 2]
    rim = np.minimum(_to_side(points, a, b), _to_side(points, b, c))
    rim = np.minimum(rim, _to_side(points, c, a))
    normal = np.cross(b - a, c - a)
    length = norm(normal)
    over = length > 0
    for start, end in ((a, b), (b, c), (c, a)):
        inward = np.cross(normal, end - start)
        over &= np.einsum("ij,ij->i", inward, points - start) >= 0
    height = np.abs(np.einsum("ij,ij->i", normal, points - a))
    height /= np.where(length > 0, length, 1.0)
    return np.where(over, height, rim)


def _to_side(points: Floats, start: Floats, end: Floats) -> Floats:
    side, off = end - start, points - start
    square = np.einsum("ij,ij->i", side, side)
    share = np.einsum("ij,ij->i", side, off) / np.where(square > 0, square, 1.0)
    return norm(off - np.clip(share, 0.0, 1.0)[:, None] * side)
