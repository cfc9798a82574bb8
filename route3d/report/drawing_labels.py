"""Labels beside what they name, with a leader, where nothing else stands."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.vectors import Floats
from route3d.report.drawing_marks import (
    SMALL,
    THIN,
    Box,
    Mark,
    Ring,
    Stroke,
    Words,
    fitted,
    frame,
    text_width,
)

Bools = NDArray[np.bool_]

BUBBLE = 2.9  # radius of the ring round the number of a bend, mm
_LINE = 1.62  # from base line to base line, in heights of capitals
_CLEAR = 0.9  # free on all sides of a label, mm
_WIDEST = 52.0
_DISTANCES = (0.8, 3.0, 5.5, 9.0, 13.0, 18.0, 24.0, 31.0, 39.0)
_DIRECTIONS = tuple(math.radians(a) for a in range(0, 360, 15))
_CROSSING = 4
# A number finds its place farther out than words do, and its leader may cross anything.
_FAR_STEP, _FAR_DIRECTIONS, _FARTHEST = 6.0, 48, 600.0
_DENSE = 0.6  # between places along what labels keep clear of, mm


@dataclass(slots=True)
class Free:
    """What is taken already inside ``bounds``: boxes of words, places along lines, leaders."""

    bounds: Box
    boxes: list[Box] = field(default_factory=list)
    lines: Floats = field(default_factory=lambda: np.zeros((0, 2)))
    leaders: list[Floats] = field(default_factory=list)

    def take_line(self, points: Floats) -> None:
        """Keep labels off a line through points (n, 2)."""
        self.lines = np.vstack((self.lines, dense(points)))

    def _lines_near(self, low: Floats, high: Floats) -> Floats:
        """The places along lines between two corners."""
        return self.lines[((self.lines > low) & (self.lines < high)).all(axis=1)]

    def clear(self, boxes: Floats) -> Bools:
        """Which of the boxes (m, 4) are free, as (m,) of bool."""
        free: Bools = (boxes[:, 0] >= self.bounds[0]) & (boxes[:, 1] >= self.bounds[1])
        free &= (boxes[:, 2] <= self.bounds[2]) & (boxes[:, 3] <= self.bounds[3])
        if self.boxes:
            taken = np.array(self.boxes)
            wide = np.minimum(boxes[:, None, 2], taken[None, :, 2])
            wide = wide - np.maximum(boxes[:, None, 0], taken[None, :, 0])
            high = np.minimum(boxes[:, None, 3], taken[None, :, 3])
            high = high - np.maximum(boxes[:, None, 1], taken[None, :, 1])
            free &= ~((wide > 0) & (high > 0)).any(axis=1)
        near = self._lines_near(boxes[:, :2].min(axis=0), boxes[:, 2:].max(axis=0))
        return free & ~_holds(boxes, near)

    def near_line(self, line: Floats, gap: float) -> bool:
        """True where a line through points (n, 2) comes nearer than ``gap`` to another line."""
        return self.on_lines(dense(line), gap) > 0

    def on_lines(self, points: Floats, gap: float) -> int:
        """How many of the points (n, 2) lie nearer than ``gap`` to a line."""
        if not len(points):
            return 0
        near = self._lines_near(points.min(axis=0) - gap, points.max(axis=0) + gap)
        away = points[:, None, :] - near[None, :, :]
        return int((np.einsum("ijk,ijk->ij", away, away) < gap * gap).any(axis=1).sum())

    def crossed(self, line: Floats) -> bool:
        """True where a line through points (n, 2) runs over words."""
        return bool(self.boxes) and bool(_holds(np.array(self.boxes), dense(line)).any())


def _cross(a: Floats, b: Floats) -> bool:
    """Whether two pieces of line (2, 2) cross."""

    def sides(line: Floats, points: Floats) -> float:
        along, away = line[1] - line[0], points - line[0]
        first, second = along[0] * away[:, 1] - along[1] * away[:, 0]
        return float(first * second)

    return sides(a, b) < 0 and sides(b, a) < 0


def _holds(boxes: Floats, points: Floats) -> Bools:
    """Which boxes (m, 4) hold one of the points (n, 2)."""
    x, y = points[:, 0], points[:, 1]
    inside = (x > boxes[:, 0, None]) & (x < boxes[:, 2, None])
    inside &= (y > boxes[:, 1, None]) & (y < boxes[:, 3, None])
    held: Bools = np.any(inside, axis=1)
    return held


def dense(points: Floats) -> Floats:
    """Places close together along a line through points (n, 2); rows of NaN part it."""
    steps = np.hypot(*np.diff(points, axis=0).T)
    steps = np.where(np.isfinite(steps), steps, 0.0)
    along = np.concatenate(([0.0], np.cumsum(steps)))
    at = np.linspace(0.0, along[-1], int(along[-1] / _DENSE) + 2)
    good: Bools = np.isfinite(points[:, 0])
    if not good.all():
        return np.vstack([dense(part) for part in _parts(points, good)] or [np.zeros((0, 2))])
    return np.column_stack([np.interp(at, along, points[:, k]) for k in (0, 1)])


def _parts(points: Floats, good: Bools) -> list[Floats]:
    cuts = np.flatnonzero(np.diff(np.concatenate(([0], good.astype(int), [0]))))
    return [points[a:b] for a, b in zip(cuts[::2], cuts[1::2], strict=True)]


@dataclass(frozen=True, slots=True)
class Label:
    """Words for a place; ``bubble`` is a number in a ring before them, a letter in a square.

    ``first`` and ``reach`` are how near and far (mm) from the place it may stand, ``near`` half the
    size of the sign there; ``prefer`` is the angle (rad) on which it stands best, ``either`` on
    both sides alike.
    """

    x: float
    y: float
    lines: tuple[str, ...]
    bubble: str = ""
    square: bool = False
    layer: str = "TEXT"
    reach: float = 40.0
    near: float = 0.5
    leader: bool = True
    height: float = SMALL
    first: float = 2.0
    prefer: float | None = None
    either: bool = False


def place(label: Label, free: Free) -> list[Mark] | None:
    """The label where it is free, nearest first; None where there is no free place."""
    centres = _candidates(label, *_size(label, _lines(label))[:2])
    return _placed(label, free, centres, (0, _CROSSING))


def place_anywhere(label: Label, free: Free) -> list[Mark] | None:
    """The number of a label alone, as near as can be: its leader may run over lines and words.

    None only where no place of the view is free.
    """
    alone = replace(label, lines=())
    near, far = _candidates(alone, *_size(alone, ())[:2]), _far(alone, free)
    found = _placed(alone, free, near, (0, _CROSSING, math.inf))
    return found or _placed(alone, free, far, (_CROSSING, math.inf, None))


def _lines(label: Label) -> tuple[str, ...]:
    return tuple(fitted(line, label.height, _WIDEST) for line in label.lines)


def _placed(
    label: Label, free: Free, centres: Floats, limits: Sequence[float | None]
) -> list[Mark] | None:
    """The label at the first of the ``centres`` (m, 2) where it may stand.

    ``limits`` are tried in turn: how many places of its leader may lie on lines; None: on words.
    """
    lines = _lines(label)
    wide, high, tab = _size(label, lines)
    half = np.array([wide / 2 + _CLEAR, high / 2 + _CLEAR])
    boxes = np.hstack((centres - half, centres + half))
    good = np.flatnonzero(free.clear(boxes)).tolist()
    tries = [(i, hits) for hits in limits for i in good]
    for i, hits in tries:
        x, y = float(centres[i, 0]), float(centres[i, 1])
        box = (x - wide / 2, y - high / 2, x + wide / 2, y + high / 2)
        leader = _leader(label, box)
        barred = leader is not None and hits is not None
        if barred and not _may_stand(label, leader, box, tab, free, hits):  # type: ignore[arg-type]
            continue
        free.boxes.append((boxes[i, 0], boxes[i, 1], boxes[i, 2], boxes[i, 3]))
        if leader is not None:
            free.take_line(leader)
            free.leaders.append(leader)
        return _drawn(label, lines, box, tab, leader)
    return None


def _may_stand(label: Label, leader: Floats, box: Box, tab: float, free: Free, hits: float) -> bool:
    """True where a leader runs over no words, not its own, along no line, and over no other leader.

    ``hits`` is how many of its places may lie on other lines: to cross one takes a few.
    """
    if free.crossed(leader):
        return False
    if math.isfinite(hits) and any(_cross(leader, other) for other in free.leaders):
        return False
    words = (box[0], box[1], box[2] - tab, box[3]) if _behind(label, box) else (
        box[0] + tab, box[1], box[2], box[3]
    )  # fmt: skip
    points = dense(leader)
    if label.bubble and label.lines and _holds(np.array([words]), points).any():
        return False
    far = points[np.hypot(*(points - [label.x, label.y]).T) > label.near + 1.5]
    return free.on_lines(far, _DENSE) <= hits


def _size(label: Label, lines: Sequence[str]) -> tuple[float, float, float]:
    """Width and height of a label, and how far its words stand behind its bubble."""
    high = max(len(lines) * _LINE * label.height, 0.1)
    wide = max((text_width(line, label.height) for line in lines), default=0.0)
    if not label.bubble:
        return wide, high, 0.0
    tab = 2 * _half_bubble(label) + (0.9 if lines else 0.0)
    return wide + tab, max(high, 2 * BUBBLE), tab


def _half_bubble(label: Label) -> float:
    return max(BUBBLE, text_width(label.bubble, SMALL, bold=True) / 2 + 0.8)


def _far(label: Label, free: Free) -> Floats:
    """Centers of places all over the view, (m, 2), nearest first."""
    left, top, right, bottom = free.bounds
    reach = min(math.hypot(right - left, bottom - top), _FARTHEST)
    away = np.arange(_FAR_STEP, reach, _FAR_STEP)[:, None]
    angles = 2 * math.pi * np.arange(_FAR_DIRECTIONS) / _FAR_DIRECTIONS
    return np.column_stack(
        (
            (label.x + away * np.cos(angles)).ravel(),
            (label.y - away * np.sin(angles)).ravel(),
        )
    )


def _candidates(label: Label, wide: float, high: float) -> Floats:
    """Centers of the places to try (m, 2), the best first."""
    found = []
    for away in (d for d in _DISTANCES if label.first <= d <= label.reach):
        for angle in _ordered(label):
            cos, sin = math.cos(angle), math.sin(angle)
            # the nearest point of the box lies `away` from the place
            x = label.x + cos * (away + label.near) + _sign(cos) * wide / 2
            y = label.y - sin * (away + label.near) - _sign(sin) * high / 2
            found.append((x, y))
    return np.array(found)


def _ordered(label: Label) -> list[float]:
    if label.prefer is None:
        return list(_DIRECTIONS)

    def off(angle: float) -> float:
        along = math.cos(angle - (label.prefer or 0.0))
        return -round(abs(along) if label.either else along, 6)

    return sorted(_DIRECTIONS, key=off)


def _sign(value: float) -> float:
    return 0.0 if abs(value) < 1e-9 else math.copysign(1.0, value)


def _leader(label: Label, box: Box) -> Floats | None:
    """From the label's edge to the sign; None where it stands right beside it."""
    if not label.leader:
        return None
    if label.bubble:
        half = _half_bubble(label)
        side = box[2] - half if _behind(label, box) else box[0] + half
        centre = np.array([side, (box[1] + box[3]) / 2])
    else:
        centre = np.clip([label.x, label.y], box[:2], box[2:])
    goal = np.array([label.x, label.y])
    away = goal - centre
    distance = float(np.hypot(away[0], away[1]))
    from_edge = (half if label.bubble else 0.3) if distance else 0.0
    if distance - from_edge - label.near < 0.4:
        return None
    step = away / distance
    return np.array([centre + from_edge * step, goal - label.near * step])


def _drawn(
    label: Label, lines: Sequence[str], box: Box, tab: float, leader: Floats | None
) -> list[Mark]:
    marks: list[Mark] = []
    if leader is not None:
        marks.append(Stroke(leader, THIN, "", label.layer))
    middle, behind = (box[1] + box[3]) / 2, _behind(label, box)
    if label.bubble:
        half = _half_bubble(label)
        x = box[2] - half if behind else box[0] + half
        marks += bubble(x, middle, label.bubble, label.square, label.layer)
    top = middle - len(lines) * _LINE * label.height / 2
    for i, line in enumerate(lines):
        base = top + (i + 1) * _LINE * label.height - 0.4 * label.height
        x, anchor = (box[2] - tab, "end") if behind else (box[0] + tab, "start")
        marks.append(Words(x, base, line, label.height, anchor, layer=label.layer))
    return marks


def _behind(label: Label, box: Box) -> bool:
    """True where the bubble stands behind the words: nearer to its place."""
    return bool(label.bubble) and (box[0] + box[2]) / 2 < label.x - 1e-6


def bubble(x: float, y: float, mark: str, square: bool, layer: str) -> list[Mark]:
    """A number in a ring, or a letter in a square."""
    half = max(BUBBLE, text_width(mark, SMALL, bold=True) / 2 + 0.8)
    words = Words(x, y + SMALL / 2, mark, SMALL, "middle", bold=True, layer=layer)
    if square or half > BUBBLE:
        high = BUBBLE if not square else BUBBLE * 0.9
        return [frame((x - half, y - high, x + half, y + high), 0.25, layer), words]
    return [Ring(x, y, BUBBLE, 0.25, layer), words]
