"""Which parts of a mesh close round a space, and which stretches of a line lie inside of one.

A part, triangles joined by common points, is closed where every edge is walked as often one way as
the other: then the winding number of a point, the sum of signed crossings of any ray from it, is
well defined, and is not zero inside. Parts that are open, or whose triangles do not agree on
which side is out, have no inside.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from route3d.geometry.clearance import Nodes
from route3d.geometry.mesh_tree import Flags, Ints, MeshTree
from route3d.geometry.path import Path
from route3d.geometry.vectors import Floats, norm, unit

# Rays that no building lines up with; where one grazes an edge the two others outvote it.
_RAYS = unit(
    np.array([[0.4339, 0.2718, 0.8589], [-0.6180, 0.7321, -0.2865], [0.1414, -0.9391, 0.3132]])
)
_TOUCHES = 1e-7  # a point this near to a surface is on it, not inside


@dataclass(frozen=True, slots=True)
class Inside:
    """Stations ``start`` to ``end`` m inside the body of ``owner``; ``depth`` m at ``station``.

    The depth is from the centerline to the nearest surface, the largest of the stations looked at.
    """

    start: float
    end: float
    station: float
    depth: float
    owner: int


def closed_faces(vertices: Floats, faces: Ints) -> Flags:
    """Which of the faces (m, 3) belong to closed parts.

    Parameters
    ----------
    vertices : ndarray, shape (n, 3)
        m
    faces : ndarray of int, shape (m, 3)
        Vertex numbers.

    Returns
    -------
    ndarray of bool, shape (m,)
        True where the part has no open edge.
    """
    a, b = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
    key = np.minimum(a, b) * np.int64(len(vertices)) + np.maximum(a, b)
    walked = np.sort(2 * key + (a < b))  # the way in the last bit: a plain sort is the fastest
    edge, way = walked >> 1, 2 * (walked & 1) - 1
    starts = np.flatnonzero(np.diff(edge, prepend=-1))
    balance = np.add.reduceat(way, starts)
    loose = edge[starts[balance != 0]] // len(vertices)
    if not len(loose):
        return np.ones(len(faces), dtype=bool)
    part = _parts(faces, len(vertices))
    closed: Flags = ~np.isin(part[faces[:, 0]], np.unique(part[loose]))
    return closed


def _parts(faces: Ints, count: int) -> Ints:
    """A number for each of ``count`` vertices, the same for those joined by faces."""
    label = np.arange(count)
    while True:
        lowest = label[faces].min(axis=1)
        joined = label.copy()
        for corner in range(3):  # the vertex, and whatever was joined to it before
            np.minimum.at(joined, label[faces[:, corner]], lowest)
            np.minimum.at(joined, faces[:, corner], lowest)
        while not np.array_equal(joined, shorter := joined[joined]):
            joined = shorter
        if np.array_equal(joined, label):
            return label
        label = joined


def windings(points: Floats, tree: MeshTree, closed: Flags, owner: Ints) -> Ints:
    """How often the closed parts of each owner wind round each point, (k, owners).

    Parameters
    ----------
    points : ndarray, shape (k, 3)
        m
    tree : MeshTree
        Of all owners.
    closed : ndarray of bool, shape (m,)
        From `closed_faces`.
    owner : ndarray of int, shape (m,)
        Whose each face is.

    Returns
    -------
    ndarray of int, shape (k, owners)
        0 outside.
    """
    count = int(owner.max()) + 1
    found = np.zeros((len(points), count), dtype=np.int64)
    if not closed.any():
        return found
    low, high = tree.triangles.min(axis=(0, 1)), tree.triangles.max(axis=(0, 1))
    reach = 2 * float(norm(high - low)) + 1.0
    for i in np.flatnonzero(((points > low) & (points < high)).all(axis=1)).tolist():
        votes = [_crossings(points[i], ray * reach, tree, closed, owner, count) for ray in _RAYS]
        found[i] = np.median(votes, axis=0)
    return found


def _crossings(
    point: Floats, ray: Floats, tree: MeshTree, closed: Flags, owner: Ints, count: int
) -> Floats:
    """Triangles crossed outwards less those crossed inwards, by owner."""
    items = tree.along(point, point + ray)
    items = items[closed[items]]
    a, b, c = (tree.triangles[items, k] - point for k in range(3))
    u, v, w = (np.einsum("ij,j->i", np.cross(p, q), ray) for p, q in ((a, b), (b, c), (c, a)))
    through = ((u > 0) & (v > 0) & (w > 0)).astype(int) - ((u < 0) & (v < 0) & (w < 0)).astype(int)
    ahead = np.einsum("ij,ij->i", a, np.cross(b, c)) * through > 0
    weights = through[ahead].astype(np.float64)
    bodies = owner[items[ahead]]
    return np.bincount(bodies, weights=weights, minlength=count).astype(np.float64)


def stretches_inside(
    path: Path, nodes: Nodes, tree: MeshTree, closed: Flags, owner: Ints
) -> tuple[Inside, ...]:
    """The stretches of a path that lie inside closed bodies, ``nodes`` measured from ``tree``.

    Two nodes whose empty balls meet are on the same side of every surface, so one of a chain of
    such nodes answers for all of it.

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    nodes : Nodes
        Distances along the path.
    tree : MeshTree
        Of all owners.
    closed : ndarray of bool, shape (m,)
        From `closed_faces`.
    owner : ndarray of int, shape (m,)
        Whose each face is.

    Returns
    -------
    tuple of Inside
        In the order of the path.
    """
    if not closed.any():
        return ()
    gaps = nodes.gaps
    points = path.point(nodes.stations)
    apart = norm(np.diff(points, axis=0)) >= gaps[:-1] + gaps[1:]
    starts = np.concatenate(([0], np.flatnonzero(apart) + 1))
    ends = np.append(starts[1:], len(gaps)) - 1
    chains = zip(starts.tolist(), ends.tolist(), strict=True)
    deepest = np.array([a + int(gaps[a : b + 1].argmax()) for a, b in chains])
    tested = gaps[deepest] > _TOUCHES
    within = windings(points[deepest[tested]], tree, closed, owner) != 0
    found = []
    for chain, owners in zip(np.flatnonzero(tested).tolist(), within, strict=True):
        node = int(deepest[chain])
        span = _span(nodes, int(starts[chain]), int(ends[chain]))
        place = (float(nodes.stations[node]), float(gaps[node]))
        found += [Inside(*span, *place, int(o)) for o in np.flatnonzero(owners)]
    return _joined(found)


def _span(nodes: Nodes, first: int, last: int) -> tuple[float, float]:
    """Where a chain of nodes meets the surfaces, at its nearest there, or its neighbors."""
    before, after = nodes.stations[max(first - 1, 0)], nodes.stations[(last + 1) % len(nodes.gaps)]
    start = max(before, nodes.stations[first] - nodes.gaps[first])
    end = nodes.stations[last] + nodes.gaps[last]
    return float(start), float(
        min(end, after) if last + 1 < len(nodes.gaps) else nodes.stations[last]
    )


def _joined(found: list[Inside]) -> tuple[Inside, ...]:
    """Stretches inside the same body that follow each other, as one."""
    result: list[Inside] = []
    for new in sorted(found, key=lambda s: (s.owner, s.start)):
        last = result[-1] if result else None
        if last is not None and last.owner == new.owner and new.start - last.end < 2e-2:
            deeper = max((last, new), key=lambda s: s.depth)
            result[-1] = Inside(last.start, new.end, deeper.station, deeper.depth, new.owner)
        else:
            result.append(new)
    return tuple(sorted(result, key=lambda s: s.start))
