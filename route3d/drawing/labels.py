"""Where labels go on any drawing: numpy alone, in the unit of the drawing.

Labels are placed one by one, the most needed first. Each tries places on rings around its anchor,
then, where these are taken or cover the route, a grid over the whole frame; a place is possible
where the label stays in the frame, meets no other label and no obstacle, and its leader line
crosses no label and no other leader. Among the possible places the cheapest wins: near, on the
preferred side, off the route. A label without a possible place is dropped and counted. The same
input gives the same places.

The browser has the same placer; ``tests/shared/label_cases.json`` holds both to the same places.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from route3d.drawing.marks import Rect, spaced
from route3d.geometry.vectors import Floats, norm

Bools = NDArray[np.bool_]
Rects = NDArray[np.float64]
"""Boxes (n, 4): left, top, right, bottom; y counts down."""

_DIRECTIONS = 24
_ANCHORS = 60  # of the most needed labels; a frame holds few more
# After so many labels of the lowest ranks in a row found no room, the frame is full.
_GIVE_UP = 25
_CROSSING = 6  # places of another line that a leader comes near where it crosses it


@dataclass(frozen=True, slots=True)
class Manner:
    """How labels of a kind of drawing are placed; a cost is worth so much length of leader.

    ``gap`` stays free between boxes, half of it beside a leader; ``rings`` are distances of places
    from the anchor, ``grid`` the places each way over the frame. ``cover`` is the cost of each
    marked place of the route that a label covers, infinite for never; ``beside`` that of each one
    its leader comes near, and it may not run along the route then; ``obstacle`` that of each one
    the leader runs over; ``anchor`` and
    ``passed`` of covering the anchor of another label and of a leader that passes it within
    ``anchor_reach``; ``cross`` of each label or leader crossed, where that is allowed; ``turn`` of
    a place square to the preferred side. ``roams``: the grid is tried too where the best of the
    rings covers the route. A leader may come near ``crossing`` places of the route: 6 are those of
    one crossing, 0 for a leader that never crosses it.
    """

    gap: float
    rings: tuple[float, ...]
    grid: int
    cover: float
    anchor: float = 0.0
    passed: float = 0.0
    anchor_reach: float = 0.0
    obstacle: float = 0.0
    cross: float = 500.0
    beside: float = 0.0
    turn: float = 0.0
    roams: bool = True
    crossing: int = 6


PICTURE = Manner(
    6.0,
    (16.0, 26.0, 40.0, 60.0, 85.0, 115.0, 150.0, 190.0, 240.0, 300.0),
    28,
    cover=20.0,
    anchor=120.0,
    passed=120.0,
    anchor_reach=12.0,
    obstacle=40.0,
)
"""In pixels, of pictures of a scene: the route may be covered where nothing else is possible."""


@dataclass(frozen=True, slots=True)
class Wish:
    """A label of ``size`` for a place ``anchor``.

    It keeps ``near`` off its anchor, and its leader is at most ``reach`` long. ``prefer`` is the
    angle (rad, counterclockwise from the right) at which it stands best, ``either`` on both sides
    alike. Its leader ends ``sign`` before the anchor and comes from the middle of a head ``head``
    wide at the end of the box that is nearer to the anchor, else from the nearest edge; without a
    ``leader`` there is none to keep off.
    """

    anchor: tuple[float, float]
    size: tuple[float, float]
    near: float = 0.0
    reach: float = math.inf
    prefer: float | None = None
    either: bool = False
    sign: float = 0.0
    head: float = 0.0
    leader: bool = True


@dataclass(frozen=True, slots=True)
class Placed:
    """Label ``index`` of those asked for at ``box``, leader from ``anchor`` to ``elbow``."""

    index: int
    box: Rect
    anchor: tuple[float, float]
    elbow: tuple[float, float]


@dataclass(frozen=True, slots=True)
class PlacedLabels:
    """The labels placed, in the order asked for, and the indices of those dropped."""

    placed: tuple[Placed, ...]
    dropped: tuple[int, ...]


@dataclass(slots=True)
class LabelRoom:
    """A frame being filled: what is taken in it, as boxes, places of the route and leaders.

    Nothing is laid over ``obstacles`` and ``labels`` (n, 4); a leader may run over an obstacle at a
    price. ``route`` (k, 2) are places close together along what labels should not cover;
    ``leaders`` (n, 4) go from their anchor to their label, ``course`` (n, 4) are the pieces of the
    route. ``lines`` (k, 2) are places along other lines, which labels do not cover and leaders may
    cross.
    """

    frame: Rect
    manner: Manner = PICTURE
    obstacles: Rects = field(default_factory=lambda: np.empty((0, 4)))
    route: Floats = field(default_factory=lambda: np.empty((0, 2)))
    labels: Rects = field(default_factory=lambda: np.empty((0, 4)))
    leaders: Rects = field(default_factory=lambda: np.empty((0, 4)))
    lines: Floats = field(default_factory=lambda: np.empty((0, 2)))
    course: Rects = field(default_factory=lambda: np.empty((0, 4)))

    def find(
        self, wish: Wish, others: Floats | None = None, *, strict: bool = True
    ) -> tuple[Rect, tuple[float, float]] | None:
        """The cheapest possible box of a label, and the point on it where its leader ends.

        ``others`` (n, 2) are the anchors of other labels. Unless ``strict`` leaders may cross, at
        a price.
        """
        found: tuple[float, Rect, tuple[float, float]] | None = None
        for boxes in _spots(wish, self.frame, self.manner):
            best = self._cheapest(boxes, wish, others, strict)
            if best is None:
                continue
            cost, box, elbow, over = best
            if found is None or cost < found[0]:
                found = cost, box, elbow
            if not (over and self.manner.roams):
                break
        return None if found is None else found[1:]

    def _cheapest(
        self, boxes: Rects, wish: Wish, others: Floats | None, strict: bool
    ) -> tuple[float, Rect, tuple[float, float], bool] | None:
        """The cheapest of some boxes (n, 4): cost, itself, elbow, if on the route."""
        manner, anchor = self.manner, np.array(wish.anchor)
        boxes = boxes[_inside(boxes, self.frame)]
        elbows = _elbows(boxes, wish)
        fine = norm(elbows - anchor) <= wish.reach
        boxes, elbows = boxes[fine], elbows[fine]
        fine = np.ones(len(boxes), dtype=np.bool_)
        for taken in (self.labels, self.obstacles):
            fine &= ~_meet(boxes, taken, manner.gap).any(axis=1)
        boxes, elbows = boxes[fine], elbows[fine]
        over = covered(boxes, self.route, manner.gap)
        if len(self.lines):
            over += covered(boxes, self.lines, manner.gap / 2)
        if math.isinf(manner.cover):
            fine = over == 0
            boxes, elbows, over = boxes[fine], elbows[fine], over[fine]
        if not len(boxes):
            return None
        own = _leaders(elbows, wish)
        crossed = _hits(own, self.labels, manner.gap).sum(axis=1)
        crossed += _hits(self.leaders, boxes, manner.gap).sum(axis=0)
        crossed += _cross(own, self.leaders).sum(axis=1)
        if wish.head:
            crossed += _hit(own, _words(boxes, wish), 0.0)
        if strict:
            fine = crossed == 0
            boxes, elbows, over, own = boxes[fine], elbows[fine], over[fine], own[fine]
            crossed = crossed[fine]
        grazed = np.zeros(len(own))
        if manner.beside:
            away = self.route[norm(self.route - anchor) > wish.sign + 1.5 * manner.gap]
            grazed = _passed(own, away, manner.gap)
        fine = np.asarray((crossed == 0) & (grazed <= manner.crossing))
        if not manner.crossing and len(self.course):
            over_route = _cross(own, self.course).sum(axis=1)
            fine &= over_route == 0
            crossed = crossed + over_route
        if manner.beside and len(self.lines):
            other = _passed(own, self.lines, manner.gap / 2)
            fine &= other <= _CROSSING
            grazed += other
        if strict:
            boxes, elbows, over, own = boxes[fine], elbows[fine], over[fine], own[fine]
            crossed, grazed = crossed[fine], grazed[fine]
        if not len(boxes):
            return None
        cost = norm(elbows - anchor) + manner.cross * crossed
        if math.isfinite(manner.cover):
            cost += manner.cover * over
        if others is not None and len(others):
            cost += manner.anchor * covered(boxes, others, manner.anchor_reach)
            cost += manner.passed * _passed(own, others, manner.anchor_reach)
        far = self.obstacles[~_holds(self.obstacles, anchor)]
        cost += manner.obstacle * _hits(own, far, manner.gap).sum(axis=1)
        cost += manner.beside * grazed
        if wish.prefer is not None:
            middles = elbows if wish.head else (boxes[:, :2] + boxes[:, 2:]) / 2
            cost += manner.turn * _aside(middles - anchor, wish)
        at = int(np.argmin(np.round(cost, 6)))
        box = tuple(boxes[at].tolist())
        return float(cost[at]), box, tuple(elbows[at].tolist()), bool(over[at])

    def take(self, box: Rect, leader: Floats | None = None) -> None:
        """Let nothing more be laid over a box and its leader (2, 2)."""
        self.labels = np.vstack((self.labels, box))
        if leader is not None:
            self.leaders = np.vstack((self.leaders, leader.ravel()))

    def take_sign(self, box: Rect) -> None:
        """Let nothing more be laid over a box; leaders may run over it."""
        self.obstacles = np.vstack((self.obstacles, box))

    def take_line(self, points: Floats, spacing: float) -> None:
        """Keep labels off a line through points (n, 2), sampled every ``spacing``."""
        self.route = np.vstack((self.route, spaced(points, spacing)))
        pieces = np.hstack((points[:-1], points[1:]))
        self.course = np.vstack((self.course, pieces[np.isfinite(pieces).all(axis=1)]))

    def take_other(self, points: Floats, spacing: float) -> None:
        """Keep labels, but not leaders, off a line through points (n, 2)."""
        self.lines = np.vstack((self.lines, spaced(points, spacing)))

    def beside(self, line: Floats, reach: float) -> bool:
        """Whether a straight line (2, 2) comes nearer than ``reach`` to the route.

        Or runs along another line taken; it may cross one.
        """
        route = bool(_passed(line.reshape(1, 4), self.route, reach)[0])
        return route or bool(_passed(line.reshape(1, 4), self.lines, reach / 3)[0] > _CROSSING)

    def crossed(self, line: Floats) -> bool:
        """Whether a straight line (2, 2) runs over a label or an obstacle."""
        boxes = np.vstack((self.labels, self.obstacles))
        return bool(_hits(line.reshape(1, 4), boxes, 0.0).any())

    def free(self, box: Rect) -> bool:
        """Whether a box lies in the frame, over nothing that is taken and off the route."""
        boxes = np.array([box])
        taken = np.vstack((self.labels, self.obstacles))
        clear = _inside(boxes, self.frame) & ~_meet(boxes, taken, 0.0).any(axis=1)
        lines = np.vstack((self.route, self.lines))
        return bool(clear[0] and not covered(boxes, lines, 0.0)[0])


def place_labels(
    anchors: Floats,
    sizes: Floats,
    frame: Rect,
    *,
    obstacles: Rects | None = None,
    avoid: Floats | None = None,
    keep_off: Floats | None = None,
    must: Bools | None = None,
    reach: Floats | None = None,
    manner: Manner = PICTURE,
) -> PlacedLabels:
    """Places for labels of ``sizes`` (n, 2) about ``anchors`` (n, 2), most needed first.

    ``frame`` and ``obstacles`` (m, 4) are left, top, right, bottom, never overlapped; ``avoid``
    (k, 2) are points of the route; ``keep_off`` (n,) is the least distance from anchor to box.
    Where a label of ``must`` (n,) finds no place else, its leader may cross others and run under
    their boxes; no box ever lies over another. No leader is longer than its ``reach`` (n,): a label
    that has to go further is dropped. A label whose anchor lies outside the frame may still be
    placed; its leader then leaves the frame.
    """
    room = LabelRoom(frame, manner)
    room.obstacles = room.obstacles if obstacles is None else np.asarray(obstacles, dtype=float)
    room.route = room.route if avoid is None else avoid
    near = np.zeros(len(anchors)) if keep_off is None else keep_off
    longest = np.full(len(anchors), np.inf) if reach is None else reach
    placed: list[Placed] = []
    dropped: list[int] = []
    missed = 0
    for i, (anchor, size) in enumerate(zip(anchors.tolist(), sizes.tolist(), strict=True)):
        best = None
        if missed < _GIVE_UP:
            wish = Wish(tuple(anchor), tuple(size), float(near[i]), float(longest[i]))
            others = np.delete(anchors[: _ANCHORS + 1], i, axis=0) if i <= _ANCHORS else anchors
            best = room.find(wish, others[:_ANCHORS])
            if best is None and must is not None and must[i]:
                best = room.find(wish, others[:_ANCHORS], strict=False)
        if best is None:
            dropped.append(i)
            missed += 1
            continue
        missed = 0
        room.take(best[0], np.array([wish.anchor, best[1]]))
        placed.append(Placed(i, best[0], wish.anchor, best[1]))
    return PlacedLabels(tuple(placed), tuple(dropped))


def apart(spans: Sequence[tuple[float, float]], gap: float) -> list[int]:
    """Which of some stretches along one line to keep, so that ``gap`` is between any two.

    Those given first take precedence.
    """
    kept: list[int] = []
    for i, (start, end) in enumerate(spans):
        if all(start >= spans[k][1] + gap or end <= spans[k][0] - gap for k in kept):
            kept.append(i)
    return kept


# --- places to try -----------------------------------------------------------------------------


def _spots(wish: Wish, frame: Rect, manner: Manner) -> Iterator[Rects]:
    """Boxes on rings about the anchor, touching the ring from outside; then all over the frame."""
    (x, y), (wide, high) = wish.anchor, wish.size
    angle = (np.arange(_DIRECTIONS) + 0.5) * (2 * np.pi / _DIRECTIONS)
    if wish.prefer is not None:  # the preferred side and its opposite are among them
        angle = np.arange(_DIRECTIONS) * (2 * np.pi / _DIRECTIONS) - wish.prefer
    ring = wish.near + np.array(manner.rings)[:, None]
    across, down = np.cos(angle), np.sin(angle)
    # the box hangs off the ring on the side away from the anchor
    left = (x + ring * across - wide * (0.5 - 0.5 * _side(across))).ravel()
    top = (y + ring * down - high * (0.5 - 0.5 * _side(down))).ravel()
    yield np.column_stack((left, top, left + wide, top + high))
    spread = np.linspace(0.0, 1.0, manner.grid)
    left = np.repeat(frame[0] + spread * max(frame[2] - frame[0] - wide, 0.0), manner.grid)
    top = np.tile(frame[1] + spread * max(frame[3] - frame[1] - high, 0.0), manner.grid)
    yield np.column_stack((left, top, left + wide, top + high))


def _side(component: Floats) -> Floats:
    """-1, 1 where a direction clearly points to one side, in between where it does not."""
    side: Floats = np.clip(component * 1.6, -1.0, 1.0)
    return side


def _elbows(boxes: Rects, wish: Wish) -> Floats:
    """Where leaders end on boxes (n, 4), (n, 2)."""
    if not wish.head:
        return np.asarray(np.clip(wish.anchor, boxes[:, :2], boxes[:, 2:]))
    half = wish.head / 2
    x = np.where(_before(boxes, wish), boxes[:, 2] - half, boxes[:, 0] + half)
    return np.column_stack((x, (boxes[:, 1] + boxes[:, 3]) / 2))


def _before(boxes: Rects, wish: Wish) -> Bools:
    """Which boxes stand left of their anchor: their head is at their right end."""
    return np.asarray((boxes[:, 0] + boxes[:, 2]) / 2 < wish.anchor[0] - 1e-6)


def _words(boxes: Rects, wish: Wish) -> Rects:
    """The parts of boxes beside their heads."""
    before = _before(boxes, wish)
    left = np.where(before, boxes[:, 0], boxes[:, 0] + wish.head)
    right = np.where(before, boxes[:, 2] - wish.head, boxes[:, 2])
    return np.column_stack((left, boxes[:, 1], right, boxes[:, 3]))


def _leaders(elbows: Floats, wish: Wish) -> Rects:
    """Leaders (n, 4) from where the sign at the anchor ends; of no length where there is none."""
    if not wish.leader:
        return np.hstack((elbows, elbows))
    anchor = np.array(wish.anchor)
    away = elbows - anchor
    share = np.minimum(wish.sign / np.maximum(norm(away), 1e-12), 1.0)
    return np.hstack((anchor + share[:, None] * away, elbows))


def _aside(way: Floats, wish: Wish) -> Floats:
    """How far directions (n, 2) are off the preferred one: 0 on it, 1 square to it."""
    assert wish.prefer is not None
    toward = np.array([math.cos(wish.prefer), -math.sin(wish.prefer)])
    along = way @ toward / np.maximum(norm(way), 1e-12)
    return np.asarray(1.0 - (abs(along) if wish.either else along))


# --- what is in the way ------------------------------------------------------------------------


def _inside(boxes: Rects, frame: Rect) -> Bools:
    left, top, right, bottom = boxes.T
    across = (left >= frame[0] - 1e-9) & (right <= frame[2] + 1e-9)
    return np.asarray(across & (top >= frame[1] - 1e-9) & (bottom <= frame[3] + 1e-9))


def _holds(boxes: Rects, point: Floats) -> Bools:
    """Which boxes a point lies in."""
    return np.asarray(((boxes[:, :2] <= point) & (boxes[:, 2:] >= point)).all(axis=1))


def _meet(boxes: Rects, others: Rects, gap: float) -> Bools:
    """Which boxes come within the gap of which others, (n, m)."""
    left, top, right, bottom = boxes.T[..., None]
    before, over, after, under = others.T  # axis by axis: numpy is slow along an axis of two
    across = (left < after + gap) & (right > before - gap)
    return np.asarray(across & (top < under + gap) & (bottom > over - gap))


def covered(boxes: Rects, points: Floats, reach: float) -> Floats:
    """How many points each box covers or comes within ``reach`` of, (n,)."""
    if not len(boxes) or not len(points):
        return np.zeros(len(boxes))
    low, high = boxes[:, :2].min(axis=0) - reach, boxes[:, 2:].max(axis=0) + reach
    x, y = points.T
    near = (x >= low[0]) & (x <= high[0]) & (y >= low[1]) & (y <= high[1])
    x, y = x[near], y[near]
    left, top, right, bottom = boxes.T[..., None]
    across = (x >= left - reach) & (x <= right + reach)
    inside = across & (y >= top - reach) & (y <= bottom + reach)
    return np.asarray(np.count_nonzero(inside, axis=1), dtype=np.float64)


def _passed(lines: Rects, points: Floats, reach: float) -> Floats:
    """How many points each line piece (n, 4) comes within ``reach`` of, (n,)."""
    if not len(lines) or not len(points):
        return np.zeros(len(lines))
    ends = lines.reshape(-1, 2)
    low, high = ends.min(axis=0) - reach, ends.max(axis=0) + reach
    x, y = points.T
    near = (x >= low[0]) & (x <= high[0]) & (y >= low[1]) & (y <= high[1])
    (x, y), (a, b, c, d) = (x[near], y[near]), lines.T[..., None]
    along, down = c - a, d - b
    length = np.maximum(along * along + down * down, 1e-12)
    share = np.clip(((x - a) * along + (y - b) * down) / length, 0.0, 1.0)
    away = np.hypot(x - a - share * along, y - b - share * down)
    return np.asarray((away < reach).sum(axis=1), np.float64)


def _hits(lines: Rects, boxes: Rects, gap: float) -> Bools:
    """Which line pieces (n, 4) cross which boxes (m, 4), widened by half the gap, (n, m)."""
    return _hit(lines[:, None], boxes[None], gap)


def _hit(lines: Rects, boxes: Rects, gap: float) -> Bools:
    """Whether line pieces (..., 4) cross boxes (..., 4), widened by half the gap.

    A piece crosses where the slabs of both axes leave it a common stretch (from memory: the slab
    method of Kay and Kajiya, 1986).
    """
    enter, leave = np.zeros(()), np.ones(())
    for axis in (0, 1):
        start = lines[..., axis]
        way = lines[..., axis + 2] - start
        way = np.where(np.abs(way) < 1e-12, 1e-12, way)
        low = (boxes[..., axis] - gap / 2 - start) / way
        high = (boxes[..., axis + 2] + gap / 2 - start) / way
        enter = np.maximum(enter, np.minimum(low, high))
        leave = np.minimum(leave, np.maximum(low, high))
    return np.asarray(enter < leave)


def _cross(lines: Rects, others: Rects) -> Bools:
    """Which line pieces (n, 4) cross which others (m, 4), (n, m)."""
    a, b = lines[:, None, :2], lines[:, None, 2:]
    c, d = others[None, :, :2], others[None, :, 2:]
    apart_by_first = _turn(a, b, c) * _turn(a, b, d) < 0
    return np.asarray(apart_by_first & (_turn(c, d, a) * _turn(c, d, b) < 0))


def _turn(a: Floats, b: Floats, c: Floats) -> Floats:
    """Twice the signed area of the triangles a, b, c."""
    area: Floats = (b[..., 0] - a[..., 0]) * (c[..., 1] - a[..., 1]) - (b[..., 1] - a[..., 1]) * (
        c[..., 0] - a[..., 0]
    )
    return area
