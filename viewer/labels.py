"""Where labels go on the picture: numpy and pixels only, no renderer.

Labels are placed one by one, the most needed first. Each tries places around its anchor, nearest
first, then, where these are taken or cover the route, a grid over the whole frame; a place is
possible where the label stays in the frame, meets no other label, no obstacle and no leader line,
and its own leader line crosses no label and no other leader. Among the possible places the
cheapest wins: near, and off the route. A label without a possible place is dropped and counted.
The same input gives the same places.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.vectors import Floats, norm

Rects = NDArray[np.float64]
"""Boxes (n, 4): left, top, right, bottom in pixels; y counts down."""

_GAP = 6.0
_RINGS = (16.0, 26.0, 40.0, 60.0, 85.0, 115.0, 150.0, 190.0, 240.0, 300.0)
_DIRECTIONS = 24
_GRID = 28
# Covering one marked pixel place of the route costs as much as so many pixels of leader.
_COVER_COST = 20.0
# Covering the anchor of another label, by the box or by its leader, costs as much as so many
# pixels of leader.
_ANCHOR_COST = 120.0
_CROSS_COST = 500.0  # of each card or leader crossed, where that is allowed
_ANCHOR_REACH = 12.0
_ANCHORS = 60  # of the most needed labels; a frame holds few more
# After so many labels of the lowest ranks in a row found no room, the frame is full.
_GIVE_UP = 25


@dataclass(frozen=True, slots=True)
class Placed:
    """Label ``index`` of those asked for at ``box``, leader from ``anchor`` to ``elbow``."""

    index: int
    box: tuple[float, float, float, float]
    anchor: tuple[float, float]
    elbow: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Placement:
    """The labels placed, in the order asked for, and the indices of those dropped."""

    placed: tuple[Placed, ...]
    dropped: tuple[int, ...]


def place_labels(
    anchors: Floats,
    sizes: Floats,
    frame: tuple[float, float, float, float],
    *,
    obstacles: Rects | None = None,
    avoid: Floats | None = None,
    keep_off: Floats | None = None,
    must: NDArray[np.bool_] | None = None,
    reach: Floats | None = None,
) -> Placement:
    """Places for labels of ``sizes`` (n, 2) about ``anchors`` (n, 2), most needed first.

    ``frame`` and ``obstacles`` (m, 4) are left, top, right, bottom, never overlapped; ``avoid``
    (k, 2) are points of the route, covered only where nothing else is possible; ``keep_off`` (n,)
    is the least distance from anchor to box. Where a label of ``must`` (n,) finds no place else,
    its leader may cross others and run under their boxes; no box ever lies over another. No leader
    is longer than its ``reach`` (n,): a label that has to go further is dropped. A label
    whose anchor lies outside the frame may still be placed; its leader then leaves the frame.
    """
    boxes = np.empty((0, 4)) if obstacles is None else np.asarray(obstacles, dtype=np.float64)
    route = np.empty((0, 2)) if avoid is None else avoid
    near = np.zeros(len(anchors)) if keep_off is None else keep_off
    longest = np.full(len(anchors), np.inf) if reach is None else reach
    leaders = np.empty((0, 4))
    taken = boxes
    placed: list[Placed] = []
    dropped: list[int] = []
    missed, most_needed = 0, range(min(len(anchors), _ANCHORS + 1))
    for i, (anchor, size) in enumerate(zip(anchors, sizes, strict=True)):
        best = None
        if missed < _GIVE_UP:
            others = anchors[[k for k in most_needed if k != i]]
            scene = (frame, taken, boxes, leaders, route, others, float(near[i]), float(longest[i]))
            best = _best(anchor, size, *scene)
            if best is None and must is not None and must[i]:
                best = _best(anchor, size, *scene, strict=False)
        if best is None:
            dropped.append(i)
            missed += 1
            continue
        missed = 0
        box, elbow = best
        taken = np.vstack((taken, box))
        leaders = np.vstack((leaders, [*anchor, *elbow]))
        placed.append(Placed(i, _four(box), (float(anchor[0]), float(anchor[1])), _two(elbow)))
    return Placement(tuple(placed), tuple(dropped))


def _four(box: Floats) -> tuple[float, float, float, float]:
    return float(box[0]), float(box[1]), float(box[2]), float(box[3])


def _two(point: Floats) -> tuple[float, float]:
    return float(point[0]), float(point[1])


def _best(
    anchor: Floats,
    size: Floats,
    frame: tuple[float, float, float, float],
    taken: Rects,
    obstacles: Rects,
    leaders: Rects,
    route: Floats,
    others: Floats,
    near: float,
    reach: float,
    *,
    strict: bool = True,
) -> tuple[Floats, Floats] | None:
    """Cheapest possible box and the point on it where its leader ends.

    Unless ``strict`` leaders may cross, at a price.
    """
    found: tuple[float, Floats, Floats] | None = None
    for boxes in (_around(anchor, size, near), _over(frame, size)):
        elbows = np.clip(anchor, boxes[:, :2], boxes[:, 2:])
        fine = _inside(boxes, frame) & ~_meet(boxes, taken).any(axis=1)
        fine &= norm(elbows - anchor) <= reach
        boxes, elbows = boxes[fine], elbows[fine]
        own = np.column_stack((np.broadcast_to(anchor, elbows.shape), elbows))
        crossed = _hits(own, taken[len(obstacles) :]).sum(axis=1)
        crossed += _hits(leaders, boxes).sum(axis=0) + _cross(own, leaders).sum(axis=1)
        clear = crossed == 0 if strict else np.ones(len(crossed), dtype=bool)
        if not clear.any():
            continue
        boxes, elbows, own = boxes[clear], elbows[clear], own[clear]
        over = covered(boxes, route, _GAP)
        cost = _CROSS_COST * crossed[clear] + norm(elbows - anchor) + _COVER_COST * over
        cost += _ANCHOR_COST * covered(boxes, others, _ANCHOR_REACH)
        cost += _ANCHOR_COST * _passed(own, others, _ANCHOR_REACH)
        cost += 2 * _COVER_COST * _hits(own, obstacles).sum(axis=1)
        at = int(np.argmin(np.round(cost, 6)))
        if found is None or cost[at] < found[0]:
            found = float(cost[at]), boxes[at], elbows[at]
        if not over[at]:
            break
    return None if found is None else found[1:]


def _around(anchor: Floats, size: Floats, near: float) -> Rects:
    """Boxes on rings about the anchor, touching the ring from outside."""
    angle = np.arange(_DIRECTIONS) * (2 * np.pi / _DIRECTIONS) + np.pi / _DIRECTIONS
    ring = near + np.array(_RINGS)
    ring = ring[:, None]
    x = (anchor[0] + ring * np.cos(angle)).ravel()
    y = (anchor[1] + ring * np.sin(angle)).ravel()
    # the box hangs off the ring on the side away from the anchor
    left = x - size[0] * (0.5 - 0.5 * np.tile(_side(np.cos(angle)), len(_RINGS)))
    top = y - size[1] * (0.5 - 0.5 * np.tile(_side(np.sin(angle)), len(_RINGS)))
    return np.column_stack((left, top, left + size[0], top + size[1]))


def _side(component: Floats) -> Floats:
    """-1, 1 where a direction clearly points to one side, in between where it does not."""
    side: Floats = np.clip(component * 1.6, -1.0, 1.0)
    return side


def _over(frame: tuple[float, float, float, float], size: Floats) -> Rects:
    """Boxes all over the frame."""
    left = np.linspace(frame[0], max(frame[0], frame[2] - size[0]), _GRID)
    top = np.linspace(frame[1], max(frame[1], frame[3] - size[1]), _GRID)
    x, y = (a.ravel() for a in np.meshgrid(left, top))
    return np.column_stack((x, y, x + size[0], y + size[1]))


def _inside(boxes: Rects, frame: tuple[float, float, float, float]) -> NDArray[np.bool_]:
    left, top, right, bottom = boxes.T
    across = (left >= frame[0] - 1e-9) & (right <= frame[2] + 1e-9)
    return np.asarray(across & (top >= frame[1] - 1e-9) & (bottom <= frame[3] + 1e-9))


def _meet(boxes: Rects, others: Rects) -> NDArray[np.bool_]:
    """Which boxes come within the gap of which others, (n, m)."""
    left, top, right, bottom = boxes.T[..., None]
    before, over, after, under = others.T  # axis by axis: numpy is slow along an axis of two
    across = (left < after + _GAP) & (right > before - _GAP)
    return np.asarray(across & (top < under + _GAP) & (bottom > over - _GAP))


def covered(boxes: Rects, points: Floats, reach: float) -> Floats:
    """How many points each box covers or comes within ``reach`` of, (n,)."""
    left, top, right, bottom = boxes.T[..., None]
    x, y = points.T
    across = (x >= left - reach) & (x <= right + reach)
    inside = across & (y >= top - reach) & (y <= bottom + reach)
    return np.asarray(np.count_nonzero(inside, axis=1), dtype=np.float64)


def _passed(lines: Rects, points: Floats, reach: float) -> Floats:
    """How many points each line piece (n, 4) comes within ``reach`` of, (n,)."""
    start, way = lines[:, None, :2], (lines[:, 2:] - lines[:, :2])[:, None]
    to_point = points[None] - start
    length = np.maximum((way * way).sum(axis=-1), 1e-12)
    share = np.clip((to_point * way).sum(axis=-1) / length, 0.0, 1.0)
    return np.asarray((norm(to_point - share[..., None] * way) < reach).sum(axis=1), np.float64)


def _hits(lines: Rects, boxes: Rects) -> NDArray[np.bool_]:
    """Which line pieces (n, 4) cross which boxes (m, 4), widened by half the gap, (n, m).

    A piece crosses where the slabs of both axes leave it a common stretch (from memory: the slab
    method of Kay and Kajiya, 1986).
    """
    way = lines[:, 2:] - lines[:, :2]
    way = np.where(np.abs(way) < 1e-12, 1e-12, way)
    enter, leave = np.zeros((len(lines), len(boxes))), np.ones((len(lines), len(boxes)))
    for axis in (0, 1):
        start, along = lines[:, axis, None], way[:, axis, None]
        low = (boxes[:, axis] - _GAP / 2 - start) / along
        high = (boxes[:, axis + 2] + _GAP / 2 - start) / along
        enter = np.maximum(enter, np.minimum(low, high))
        leave = np.minimum(leave, np.maximum(low, high))
    return np.asarray(enter < leave)


def _cross(lines: Rects, others: Rects) -> NDArray[np.bool_]:
    """Which line pieces (n, 4) cross which others (m, 4), (n, m)."""
    a, b = lines[:, None, :2], lines[:, None, 2:]
    c, d = others[None, :, :2], others[None, :, 2:]
    parted = _turn(a, b, c) * _turn(a, b, d) < 0
    return np.asarray(parted & (_turn(c, d, a) * _turn(c, d, b) < 0))


def _turn(a: Floats, b: Floats, c: Floats) -> Floats:
    """Twice the signed area of the triangles a, b, c."""
    area: Floats = (b[..., 0] - a[..., 0]) * (c[..., 1] - a[..., 1]) - (b[..., 1] - a[..., 1]) * (
        c[..., 0] - a[..., 0]
    )
    return area
