"""Bodies with plane sides: pull boxes, concrete, machines; how near they come to anything.

A body is a chain of convex blocks with six sides each. A box is one block, a straight of concrete
a few, and a bend is cut into wedges, so fine that its outermost edge lies within ``SAG`` of the
true arc. Two convex bodies that are apart are nearest at a corner and a side, or at two edges: all
such pairs are looked at, so that the distance is exact. Where they overlap, the overlap is the
largest t for which a point lies t deep in every side of both that is an outside of its body: twice
that t for two bodies, t for a body and a triangle, which has no thickness. It is a linear program
in a few variables, solved by looking at every corner of what is feasible.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Protocol

import numpy as np

from route3d.geometry.clearance import Ints
from route3d.geometry.encasement import rings
from route3d.geometry.mesh_tree import Flags, MeshTree
from route3d.geometry.path import ARC, CORNER, Path
from route3d.geometry.rmf_frames import frames
from route3d.geometry.vectors import Floats, norm, unit

SAG = 5e-5
"""The most by which a wedge of a bend falls short of the true arc, m: half of what counts."""
LONGEST = 4.0
"""Length of a block along a straight, m: short blocks are passed by sooner."""
ENDS = 0.05
"""The most by which the ends of a stretch of a body that is too close may be off, m."""

# Corners of a block: four round its start, counter-clockwise as seen along it, then its end.
FACES = np.array(
    [(0, 1, 2, 3), (7, 6, 5, 4), (0, 4, 5, 1), (1, 5, 6, 2), (2, 6, 7, 3), (3, 7, 4, 0)]
)
"""The sides of a block by the numbers of its corners, start and end first, seen from outside."""
_EDGES = np.array(
    [(0, 1), (1, 2), (2, 3), (3, 0), (4, 5), (5, 6), (6, 7), (7, 4), (0, 4), (1, 5), (2, 6), (3, 7)]
)
_TRIANGLE = np.array([(0, 1), (1, 2), (2, 0)]), np.array([(0, 1, 2)])
_BLOCK = _EDGES, FACES
_TINY = 1e-12
_NEXT = 1e-6  # m: a cut this near to an end is none
_FEASIBLE = 1e-9  # m
_PAIRS = 4000  # pairs of block and other body worked on at once: bounds the memory
_POINTS = 64


@dataclass(frozen=True, slots=True, eq=False)
class Blocks:
    """A body as blocks with ``corners`` (n, 8, 3) m; an item is a block.

    ``spans`` (n, 2) are the stations m of its start and end. ``open`` (n, 2) is true where a block
    goes on in another at its start or end: that side is no outside of the body. ``normals``
    (n, 6, 3) are unit and face outwards.
    """

    corners: Floats
    spans: Floats
    open: Flags
    normals: Floats

    def __len__(self) -> int:
        return len(self.corners)

    @property
    def middles(self) -> Floats:
        """Middle of each block, (n, 3) m."""
        middles: Floats = self.corners.mean(axis=1)
        return middles

    @property
    def reach(self) -> Floats:
        """How far each block reaches from its middle, (n,) m."""
        reach: Floats = norm(self.corners - self.middles[:, None]).max(axis=1)
        return reach

    @property
    def bounds(self) -> tuple[Floats, Floats]:
        """Lowest and highest coordinates of the body, (3,) m each."""
        return self.corners.min(axis=(0, 1)), self.corners.max(axis=(0, 1))

    def __getitem__(self, keep: Ints | Flags | slice) -> Blocks:
        return Blocks(self.corners[keep], self.spans[keep], self.open[keep], self.normals[keep])

    def nearest(self, points: Floats, stations: Floats | None = None) -> tuple[Floats, Ints]:
        """Distance (k,) m of each point (k, 3) to the body, negative inside, and the block."""
        distance, items = np.empty(len(points)), np.empty(len(points), dtype=np.int64)
        middles, reach = self.middles, self.reach
        for start in range(0, len(points), _POINTS):
            part = points[start : start + _POINTS]
            middle = part.mean(axis=0)
            size = float(norm(part - middle).max())
            off = norm(middles - middle)
            kept = np.flatnonzero(off - size - reach <= (off + size + reach).min() + 1e-9)
            found = self._signed(part[:, None], kept[None])
            best = found.argmin(axis=1)
            distance[start : start + len(part)] = found[np.arange(len(part)), best]
            items[start : start + len(part)] = kept[best]
        return distance, items

    def to_items(self, points: Floats, items: Ints) -> Floats:
        """Distance (k,) m of each point (k, 3) to the block given for it, negative inside."""
        return self._signed(points, items)

    def _signed(self, points: Floats, i: Ints) -> Floats:
        """Distance m of points (..., 3) to blocks (...), broadcast together."""
        corners, normals = self.corners[i], self.normals[i]
        first = corners[..., FACES[:, 0], :]
        height = np.einsum("...fj,...fj->...f", normals, points[..., None, :] - first)
        outside = np.where(self._inner(i), -np.inf, height).max(axis=-1)
        within = height.max(axis=-1) <= 0
        away = np.sqrt(_to_edges(points[..., None, :], corners[..., _EDGES, :]).min(axis=-1))
        over = _over_faces(points[..., None, :], corners[..., FACES, :], normals)
        faces = np.where(over, np.abs(height), np.inf).min(axis=-1)
        signed: Floats = np.where(within, outside, np.minimum(away, faces))
        return signed

    def _inner(self, i: Ints) -> Flags:
        """Which of the six sides of blocks (...) are no outside of the body, (..., 6)."""
        inner = np.zeros((*np.shape(i), 6), dtype=bool)
        inner[..., :2] = self.open[i]
        return inner

    def station(self, point: Floats, item: int) -> float:
        """The station m of a block beside a point (3,)."""
        first, last = self.corners[item, :4].mean(axis=0), self.corners[item, 4:].mean(axis=0)
        share = float(
            np.clip((point - first) @ (last - first) / ((last - first) @ (last - first)), 0, 1)
        )
        start, end = self.spans[item].tolist()
        return float(start + share * (end - start))

    def within(self, low: Floats, high: Floats) -> Ints:
        """The blocks that may meet the box from ``low`` to ``high`` (3,) m."""
        least, most = self.corners.min(axis=1), self.corners.max(axis=1)
        return np.flatnonzero(((least <= high) & (most >= low)).all(axis=1))

    def balls(self, items: Ints) -> tuple[Floats, Floats]:
        """Middles (k, 3) m and radii (k,) m of balls about the items."""
        return self.middles[items], self.reach[items]

    def apart(self, others: Blocks, items: Ints) -> tuple[Floats, Floats]:
        """Distance (k,) m of other blocks (k) from the items given, and where (k, 3)."""
        return _pairwise(others, self.corners[items], self[items])

    def cut_at(self, stations: Sequence[float]) -> Blocks:
        """Cut across at stations, m, where a block goes on both sides of them."""
        body = self
        for station in sorted(set(stations)):
            start, end = body.spans[:, 0], body.spans[:, 1]
            through = (start < station - _NEXT) & (end > station + _NEXT)
            if through.any():
                share = (station - start[through]) / (end[through] - start[through])
                parts = body[through].cut(share)
                body = joined([body[~through], parts])
                body = body[np.argsort(body.spans[:, 0], kind="stable")]
        return body

    def halved(self) -> Blocks:
        """Each block cut in two across its length."""
        return self.cut(np.full(len(self), 0.5))

    def cut(self, share: Floats) -> Blocks:
        """Each block cut in two at a share (n,) of its length."""
        first, last = self.corners[:, :4], self.corners[:, 4:]
        between = first + share[:, None, None] * (last - first)
        corners = np.stack(
            (
                np.concatenate((first, between), axis=1),
                np.concatenate((between, last), axis=1),
            ),
            axis=1,
        ).reshape(-1, 8, 3)
        start, end = self.spans[:, 0], self.spans[:, 1]
        cut = start + share * (end - start)
        ends = np.stack((start, cut, cut, end), axis=1)
        inner = np.ones(len(self), dtype=bool)
        goes_on = np.stack((self.open[:, 0], inner, inner, self.open[:, 1]), axis=1)
        return blocks(corners, ends.reshape(-1, 2), goes_on.reshape(-1, 2))


def blocks(corners: Floats, spans: Floats, open_ends: Flags) -> Blocks:
    """Blocks from their corners.

    Parameters
    ----------
    corners : ndarray, shape (n, 8, 3)
        Four round the start, counter-clockwise as seen along the block, then its end, m.
    spans : ndarray, shape (n, 2)
        Stations of start and end, m.
    open_ends : ndarray of bool, shape (n, 2)
        Whether the body goes on at the start and at the end.

    Returns
    -------
    Blocks
        One body.
    """
    quads = corners[:, FACES]
    normals = unit(np.cross(quads[:, :, 2] - quads[:, :, 0], quads[:, :, 3] - quads[:, :, 1]))
    return Blocks(corners, np.asarray(spans, dtype=np.float64), open_ends, normals)


def joined(bodies: Sequence[Blocks]) -> Blocks:
    """The blocks of several bodies as one, in their order.

    Parameters
    ----------
    bodies : sequence of Blocks
        At least one.

    Returns
    -------
    Blocks
        One body.
    """
    fields = ("corners", "spans", "open", "normals")
    return Blocks(*(np.concatenate([getattr(b, name) for b in bodies]) for name in fields))


def box_block(middle: Floats, axes: Floats, size: Sequence[float], station: float = 0.0) -> Blocks:
    """A box: ``axes`` (3, 3) unit along, right and up, ``size`` m along, across and up.

    Parameters
    ----------
    middle : ndarray, shape (3,)
        m
    axes : ndarray, shape (3, 3)
        Unit vectors along, right and up, in rows.
    size : sequence of float
        Length, width and height, m.
    station : float
        Where it stands along its run, m.

    Returns
    -------
    Blocks
        One block.
    """
    along, right, up = (axes[i] * size[i] / 2 for i in range(3))
    ring = np.array([-right - up, right - up, right + up, -right + up])
    corners = np.concatenate((middle - along + ring, middle + along + ring))
    none = np.zeros((1, 2), dtype=bool)
    return blocks(corners[None], np.array([[station, station]]), none)


def upright_block(outline: Floats, low: float, high: float, station: float = 0.0) -> Blocks:
    """An upright prism over a plan of four corners.

    Parameters
    ----------
    outline : ndarray, shape (4, 2)
        Corners of the plan, either way round, m.
    low, high : float
        Heights, m.
    station : float
        Where it stands along its run, m.

    Returns
    -------
    Blocks
        One block.
    """
    x, y = outline[:, 0], outline[:, 1]
    turn = float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))
    plan = outline[::-1] if turn > 0 else outline  # clockwise from above: so it goes seen upwards
    ring = [np.column_stack((plan, np.full(4, z))) for z in (low, high)]
    none = np.zeros((1, 2), dtype=bool)
    return blocks(np.concatenate(ring)[None], np.array([[station, station]]), none)


def swept_blocks(path: Path, frame: Floats, section: Floats, start: float = 0.0) -> Blocks:
    """A section of four corners swept along a path, in blocks and wedges.

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    frame : ndarray, shape (2, 3)
        Right and up at its start.
    section : ndarray, shape (4, 2)
        Corners to the right and up, counter-clockwise as seen along the path, m.
    start : float
        Station of the start of the path on its run, m.

    Returns
    -------
    Blocks
        In the order of the path.
    """
    fine = path.split(_cuts(path, float(norm(section).max())))
    around = rings(fine, frames(fine, frame), section, 2 * math.pi)
    real = fine.kind != CORNER
    stations = np.append(fine.stations[:-1][real], fine.length) + start
    corners = np.concatenate((around[:-1], around[1:]), axis=1)
    goes_on = np.ones((len(corners), 2), dtype=bool)
    goes_on[0, 0] = goes_on[-1, 1] = False
    return blocks(corners, np.column_stack((stations[:-1], stations[1:])), goes_on)


def _cuts(path: Path, reach: float) -> Floats:
    """Stations that cut straights to ``LONGEST``, and bends so that no chord sags by ``SAG``."""
    cuts = [np.empty(0)]
    for kind, start, length, radius in zip(
        path.kind, path.stations, path.lengths, path.radii, strict=False
    ):
        if kind == CORNER:
            continue
        longest = LONGEST
        if kind == ARC:  # the sag of a chord of the outer radius r over an angle a is r a² / 8
            longest = min(longest, radius * math.sqrt(8 * SAG / (radius + reach)))
        count = math.ceil(length / longest - 1e-9)
        cuts.append(start + length * np.arange(1, count) / max(count, 1))
    found: Floats = np.concatenate(cuts)
    return found


# --- what a body is measured against -------------------------------------------------------------


class Bodies(Protocol):
    """What a body is measured against, by items."""

    def nearest(self, points: Floats, stations: Floats | None = None) -> tuple[Floats, Ints]:
        """Distance (k,) m of each point (k, 3) to the nearest item, and the item."""

    def within(self, low: Floats, high: Floats) -> Ints:
        """The items that may meet a box, and more."""

    def balls(self, items: Ints) -> tuple[Floats, Floats]:
        """Middles (k, 3) m and radii (k,) m of balls about the items."""

    def apart(self, others: Blocks, items: Ints) -> tuple[Floats, Floats]:
        """Distance (k,) m of blocks (k) from the items given for them, and where (k, 3)."""


@dataclass(frozen=True, slots=True, eq=False)
class Triangles:
    """The triangles of building meshes as bodies without thickness."""

    tree: MeshTree

    def nearest(self, points: Floats, stations: Floats | None = None) -> tuple[Floats, Ints]:
        """Distance (k,) m of each point (k, 3) to the nearest triangle, and which."""
        return self.tree.nearest(points)

    def within(self, low: Floats, high: Floats) -> Ints:
        """The triangles that may meet a box."""
        return self.tree.within(low, high)

    def balls(self, items: Ints) -> tuple[Floats, Floats]:
        """Middles (k, 3) m and radii (k,) m of balls about the triangles."""
        corners = self.tree.triangles[items]
        middles = corners.mean(axis=1)
        return middles, norm(corners - middles[:, None]).max(axis=1)

    def apart(self, others: Blocks, items: Ints) -> tuple[Floats, Floats]:
        """Distance (k,) m of blocks (k) from the triangles given for them, and where (k, 3)."""
        return _pairwise(others, self.tree.triangles[items], None)


@dataclass(frozen=True, slots=True, eq=False)
class Pieces:
    """The ``blocks`` of a body in the order of its stations, with what each comes to.

    ``distance`` (n,) m from the nearest item, negative where they overlap, ``item`` (n,) and where
    ``points`` (n, 3); ``near`` are the items below the limit of each. What is farther than both the
    limit and the least of the whole body has no distance: inf, and item -1.
    """

    blocks: Blocks
    distance: Floats
    item: Ints
    points: Floats
    near: tuple[Ints, ...]

    @staticmethod
    def far(body: Blocks) -> Pieces:
        """Blocks that are too far to be measured."""
        none = np.empty(0, dtype=np.int64)
        away, item = np.full(len(body), np.inf), np.full(len(body), -1)
        return Pieces(body, away, item, np.full((len(body), 3), np.nan), (none,) * len(body))

    @staticmethod
    def of(parts: Sequence[Pieces]) -> Pieces:
        """Several together."""
        return Pieces(
            joined([p.blocks for p in parts]),
            np.concatenate([p.distance for p in parts]),
            np.concatenate([p.item for p in parts]),
            np.concatenate([p.points for p in parts]),
            tuple(near for p in parts for near in p.near),
        )

    def __getitem__(self, keep: Ints | Flags) -> Pieces:
        order = np.arange(len(self.distance))[keep]
        return Pieces(
            self.blocks[keep],
            self.distance[keep],
            self.item[keep],
            self.points[keep],
            tuple(self.near[i] for i in order.tolist()),
        )


def pieces(
    body: Blocks,
    others: Bodies,
    limit: float,
    zones: Sequence[tuple[float, float]] = (),
    shortest: float = ENDS,
) -> Pieces:
    """How near a body comes to others, along its stations.

    Blocks below ``limit`` m, and the one that is nearest outside of the zones, are halved until
    they are no longer than ``shortest`` m; their distances are exact at every length.

    Parameters
    ----------
    body : Blocks
        What is measured.
    others : Bodies
        What it is measured against.
    limit : float
        m
    zones : sequence of (float, float)
        Stations between which nothing counts as the nearest, m.
    shortest : float
        m

    Returns
    -------
    Pieces
        In the order of its stations.
    """
    body = body.cut_at([edge for zone in zones for edge in zone])
    gaps, _ = others.nearest(body.middles)
    cut = max(limit, float(np.where(_outside(body, zones), gaps, np.inf).min(initial=np.inf)), 0.0)
    cut = (cut if math.isfinite(cut) else max(limit, 0.0)) + 1e-9
    low, high = body.corners.min(axis=1) - cut, body.corners.max(axis=1) + cut
    none = np.empty(0, dtype=np.int64)
    close = (gaps - body.reach <= cut).tolist()
    items = [others.within(low[i], high[i]) if close[i] else none for i in range(len(body))]
    done: list[Pieces] = []
    least = math.inf
    while True:
        held = np.array([len(k) > 0 for k in items], dtype=bool)
        done.append(Pieces.far(body[~held]))
        body, items = body[held], [k for k in items if len(k)]
        if not items:
            break
        counted = _outside(body, zones)
        found, each, least = _measured(body, items, others, limit, counted, least)
        long = body.spans[:, 1] - body.spans[:, 0] > shortest
        nearest = counted & (found.distance <= least)
        split = long & ((found.distance < limit) | nearest)
        done.append(found[~split])
        keep = max(limit, least) + 1e-9
        body = body[split].halved()
        items = [
            kept for i in np.flatnonzero(split).tolist() for kept in [items[i][each[i] <= keep]] * 2
        ]
    every = Pieces.of(done)
    return every[np.argsort(every.blocks.spans[:, 0], kind="stable")]


def _outside(body: Blocks, zones: Sequence[tuple[float, float]]) -> Flags:
    """Which blocks have their middles outside of all zones."""
    middle = body.spans.mean(axis=1)
    outside = np.ones(len(middle), dtype=bool)
    for start, end in zones:
        outside &= ~((middle > start) & (middle < end))
    return outside


def _measured(
    body: Blocks,
    items: Sequence[Ints],
    others: Bodies,
    limit: float,
    counted: Flags,
    least: float,
) -> tuple[Pieces, list[Floats], float]:
    """Each block with the least of its items, the distances of all of them, and the least of all.

    Pairs are taken as their balls are near; those beyond the limit and the ``least`` of what is
    counted are left out, as infinitely far.
    """
    counts = np.array([len(each) for each in items])
    owner, flat = np.repeat(np.arange(len(items)), counts), np.concatenate(items)
    bound = _at_least(body, owner, *others.balls(flat))
    distance, points = np.full(len(flat), np.inf), np.full((len(flat), 3), np.nan)
    order = np.argsort(bound, kind="stable")
    for k in range(0, len(order), _PAIRS):
        part = order[k : k + _PAIRS]
        part = part[bound[part] <= max(limit, least)]
        if not len(part):
            break
        distance[part], points[part] = others.apart(body[owner[part]], flat[part])
        told = distance[part][counted[owner[part]]]
        least = min(least, float(told.min(initial=np.inf)))
    best = np.lexsort((distance, owner))[np.concatenate(([0], np.cumsum(counts)[:-1]))]
    each = np.split(distance, np.cumsum(counts)[:-1])
    near = tuple(k[d < limit] for k, d in zip(items, each, strict=True))
    item = np.where(np.isfinite(distance[best]), flat[best], -1)
    return Pieces(body, distance[best], item, points[best], near), each, least


def _at_least(body: Blocks, owner: Ints, centers: Floats, radii: Floats) -> Floats:
    """A lower bound of the distance of blocks (k) from things in balls: from a box about each."""
    first, last = body.corners[:, :4].mean(axis=1), body.corners[:, 4:].mean(axis=1)
    along = unit(last - first)
    side = body.corners[:, 1] - body.corners[:, 0]
    right = unit(side - np.einsum("ij,ij->i", side, along)[:, None] * along)
    axes = np.stack((along, right, np.cross(along, right)), axis=1)
    middle = body.middles
    local = np.einsum("nij,ncj->nci", axes, body.corners - middle[:, None])
    low, high = local.min(axis=1), local.max(axis=1)
    at = np.einsum("kij,kj->ki", axes[owner], centers - middle[owner])
    beyond = np.maximum(np.maximum(low[owner] - at, at - high[owner]), 0.0)
    bound: Floats = norm(beyond) - radii
    return bound


# --- two convex bodies ---------------------------------------------------------------------------


def _pairwise(body: Blocks, others: Floats, sides: Blocks | None) -> tuple[Floats, Floats]:
    """Distance (k,) m of blocks and others (k, c, 3), which are blocks or triangles; and where."""
    middle = body.middles  # all of it near 0, wherever the site lies
    own, other = body.corners - middle[:, None], others - middle[:, None]
    kind = _BLOCK if sides is not None else _TRIANGLE
    distance, points = _features(own, other, body.normals, kind)
    mixed = _not_apart(own, other, body, sides)
    if len(mixed):
        some = None if sides is None else sides[mixed]
        depth, inside = _overlap(own[mixed], other[mixed], body[mixed], some)
        met = depth > 0
        distance[mixed[met]], points[mixed[met]] = -depth[met], inside[met]
    return distance, points + middle


def _not_apart(own: Floats, other: Floats, body: Blocks, sides: Blocks | None) -> Ints:
    """The pairs that no side of either separates."""
    first = own[:, FACES[:, 0]]
    beyond = np.einsum("kfj,kcfj->kfc", body.normals, other[:, :, None] - first[:, None])
    apart = (beyond.min(axis=2) > 0).any(axis=1)
    if sides is not None:
        first = other[:, FACES[:, 0]]
        beyond = np.einsum("kfj,kcfj->kfc", sides.normals, own[:, :, None] - first[:, None])
        apart |= (beyond.min(axis=2) > 0).any(axis=1)
    else:
        a, b, c = np.moveaxis(other, 1, 0)
        height = np.einsum("kj,kcj->kc", np.cross(b - a, c - a), own - a[:, None])
        apart |= (height.min(axis=1) > 0) | (height.max(axis=1) < 0)
    return np.flatnonzero(~apart)


def _features(
    own: Floats, other: Floats, normals: Floats, kind: tuple[Ints, Ints]
) -> tuple[Floats, Floats]:
    """Least distance (k,) m of corners, edges and sides, and the middle between the two (k, 3)."""
    edges, faces = kind
    own_edges, other_edges = own[:, _EDGES], other[:, edges]
    found = [
        _corners_to_edges(own, other_edges),
        _corners_to_edges(other, own_edges),
        _edges_to_edges(own_edges, other_edges),
        _corners_to_faces(other, own[:, FACES], normals),
        _corners_to_faces(own, other[:, faces], _normals(other[:, faces])),
    ]
    rows = np.arange(len(own))
    distances, points = [], []
    for square, place in found:
        best = square.argmin(axis=1)
        distances.append(square[rows, best])
        points.append(place[rows, best])
    which = np.array(distances).argmin(axis=0)
    return np.sqrt(np.array(distances)[which, rows]), np.array(points)[which, rows]


def _normals(faces: Floats) -> Floats:
    """Unit normals (k, f, 3) of plane sides (k, f, c, 3)."""
    across = np.cross(faces[:, :, 1] - faces[:, :, 0], faces[:, :, -1] - faces[:, :, 0])
    length = norm(across)[..., None]
    normals: Floats = across / np.where(length > 0, length, 1.0)
    return normals


def _to_edges(points: Floats, edges: Floats) -> Floats:
    """Squared distance m² of points (..., 3) to edges (..., 2, 3), broadcast together."""
    along = edges[..., 1, :] - edges[..., 0, :]
    off = points - edges[..., 0, :]
    square = np.einsum("...j,...j->...", along, along)
    share = np.einsum("...j,...j->...", off, along) / np.where(square > 0, square, 1.0)
    rest = off - np.clip(share, 0.0, 1.0)[..., None] * along
    squares: Floats = np.einsum("...j,...j->...", rest, rest)
    return squares


def _corners_to_edges(corners: Floats, edges: Floats) -> tuple[Floats, Floats]:
    """Squares (k, c·e) and middles (k, c·e, 3) of corners (k, c, 3) and edges (k, e, 2, 3)."""
    along = edges[:, None, :, 1] - edges[:, None, :, 0]
    off = corners[:, :, None] - edges[:, None, :, 0]
    square = np.einsum("kcej,kcej->kce", along, along)
    share = np.einsum("kcej,kcej->kce", off, np.broadcast_to(along, off.shape))
    share = np.clip(share / np.where(square > 0, square, 1.0), 0.0, 1.0)
    rest = off - share[..., None] * along
    middle = corners[:, :, None] - rest / 2
    return _flat(np.einsum("kcej,kcej->kce", rest, rest)), middle.reshape(len(corners), -1, 3)


def _edges_to_edges(one: Floats, two: Floats) -> tuple[Floats, Floats]:
    """Squares (k, e·f) and middles of edges (k, e, 2, 3) and (k, f, 2, 3) that pass each other.

    Inf where the nearest of the two lines is an end of an edge: corners have that.
    """
    u, v = (one[:, :, 1] - one[:, :, 0])[:, :, None], (two[:, :, 1] - two[:, :, 0])[:, None]
    w = one[:, :, None, 0] - two[:, None, :, 0]
    uu, vv = np.einsum("...j,...j->...", u, u), np.einsum("...j,...j->...", v, v)
    uv = np.einsum("...j,...j->...", u, np.broadcast_to(v, w.shape))
    uw, vw = np.einsum("...j,...j->...", u, w), np.einsum("...j,...j->...", v, w)
    cross = uu * vv - uv * uv
    turned = cross > 1e-14 * uu * vv
    with np.errstate(divide="ignore", invalid="ignore"):
        s = np.where(turned, (uv * vw - vv * uw) / cross, -1.0)
        t = np.where(turned, (uu * vw - uv * uw) / cross, -1.0)
    passes = (s > 0) & (s < 1) & (t > 0) & (t < 1)
    s, t = np.where(passes, s, 0.0), np.where(passes, t, 0.0)
    rest = w + s[..., None] * u - t[..., None] * v
    square = np.where(passes, np.einsum("...j,...j->...", rest, rest), np.inf)
    middle = one[:, :, None, 0] + s[..., None] * u - rest / 2
    return _flat(square), middle.reshape(len(one), -1, 3)


def _corners_to_faces(corners: Floats, faces: Floats, normals: Floats) -> tuple[Floats, Floats]:
    """Squares (k, c·f) and middles of corners (k, c, 3) over sides (k, f, q, 3); inf beside."""
    height = np.einsum("kcfj,kfj->kcf", corners[:, :, None] - faces[:, None, :, 0], normals)
    over = _over_faces(corners[:, :, None], faces[:, None], normals[:, None])
    middle = corners[:, :, None] - height[..., None] * normals[:, None] / 2
    square = np.where(over, height * height, np.inf)
    return _flat(square), middle.reshape(len(corners), -1, 3)


def _over_faces(points: Floats, faces: Floats, normals: Floats) -> Flags:
    """Whether points (..., 3) lie over convex sides (..., q, 3) with unit normals (..., 3)."""
    over = np.ones(np.broadcast_shapes(points.shape[:-1], normals.shape[:-1]), dtype=bool)
    count = faces.shape[-2]
    for i in range(count):
        edge = faces[..., (i + 1) % count, :] - faces[..., i, :]
        inward = np.cross(normals, edge)
        over &= np.einsum("...j,...j->...", inward, points - faces[..., i, :]) >= 0
    sides: Flags = over & (np.einsum("...j,...j->...", normals, normals) > 0.5)
    return sides


def _flat(array: Floats) -> Floats:
    flat: Floats = array.reshape(len(array), -1)
    return flat


# --- where they overlap --------------------------------------------------------------------------


def _overlap(
    own: Floats, other: Floats, body: Blocks, sides: Blocks | None
) -> tuple[Floats, Floats]:
    """How far bodies that may meet overlap (k,) m, 0 or less where they do not; and where."""
    rows, bounds = _half_spaces(own, body)
    if sides is not None:
        more, least = _half_spaces(other, sides)
        rows, bounds = np.concatenate((rows, more), axis=1), np.concatenate((bounds, least), axis=1)
        best = _deepest(rows, bounds)
        return 2 * best[:, 3], best[:, :3]
    a, b, c = np.moveaxis(other, 1, 0)
    x = unit(b - a)
    square = (c - a) - np.einsum("kj,kj->k", c - a, x)[:, None] * x
    y = square / np.maximum(norm(square), _TINY)[:, None]
    plane = np.stack((x, y), axis=1)
    flat = np.einsum("kcj,kpj->kcp", other - a[:, None], plane)
    shrunk = np.concatenate(
        (np.einsum("krj,kpj->krp", rows[:, :, :3], plane), rows[:, :, 3:]), axis=2
    )
    bounds = bounds - np.einsum("krj,kj->kr", rows[:, :, :3], a)
    # a triangle that x and y turn to run counter-clockwise: inside is to the left of each edge
    edge = np.roll(flat, -1, axis=1) - flat
    out = np.stack((edge[:, :, 1], -edge[:, :, 0]), axis=2)
    out /= np.maximum(norm(out), _TINY)[:, :, None]
    rim = np.concatenate((out, np.zeros((len(out), 3, 1))), axis=2)
    rows = np.concatenate((shrunk, rim), axis=1)
    bounds = np.concatenate((bounds, np.einsum("kej,kej->ke", out, flat)), axis=1)
    best = _deepest(rows, bounds)
    return best[:, 2], a + np.einsum("kp,kpj->kj", best[:, :2], plane)


def _half_spaces(corners: Floats, body: Blocks) -> tuple[Floats, Floats]:
    """Sides as n·x + s t ≤ b: rows (k, 6, 4) of n and s, bounds (k, 6); s is 0 within a body."""
    bounds = np.einsum("kfj,kfj->kf", body.normals, corners[:, FACES[:, 0]])
    share = np.ones((len(corners), 6, 1))
    share[:, :2, 0] = ~body.open
    return np.concatenate((body.normals, share), axis=2), bounds


def _deepest(rows: Floats, bounds: Floats) -> Floats:
    """The feasible point (k, d) of rows (k, m, d) with the largest last coordinate; -inf for none.

    Every corner of what is feasible is where d of its bounds are reached.
    """
    pairs, count, size = rows.shape
    which = np.array(list(combinations(range(count), size)))
    best = np.full((pairs, size), -np.inf)
    step = max(1, 400_000 // len(which))
    for start in range(0, pairs, step):
        part = slice(start, start + step)
        left, right = rows[part][:, which], bounds[part][:, which]
        sound = np.abs(np.linalg.det(left)) > 1e-9
        left = np.where(sound[..., None, None], left, np.eye(size))
        corner = np.linalg.solve(left, right[..., None])[..., 0]
        over = np.einsum("kmd,kcd->kcm", rows[part], corner) - bounds[part][:, None]
        sound &= over.max(axis=2) <= _FEASIBLE
        depth = np.where(sound, corner[..., -1], -np.inf)
        first = depth.argmax(axis=1)
        each = np.arange(len(first))
        found = corner[each, first]
        found[~sound[each, first]] = -np.inf
        best[part] = found
    best[~np.isfinite(best).all(axis=1), :-1] = 0.0
    return best
