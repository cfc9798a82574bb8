"""Labels of a sheet: words beside what they name, a number in a ring or a letter in a square."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from route3d.drawing.labels import LabelRoom, Manner, Wish
from route3d.drawing.marks import BLACK, Align, Mark, Rect, Ring
from route3d.drawing.plan_profile.course import GradeStretch
from route3d.drawing.plan_profile.linework import SMALL, THIN, frame, letters, ruled
from route3d.drawing.plan_profile.setup import Setup, SheetSpan
from route3d.drawing.text_width import fitted, text_width
from route3d.geometry.vectors import Floats

BUBBLE = 2.9  # radius of the ring round the number of a bend, mm
_LINE = 1.62  # from base line to base line, in heights of capitals
_WIDEST = 52.0
_DENSE = 0.6  # between places along what labels keep clear of, mm
_SHORTEST = 0.4  # of a leader that is drawn
SHEET = Manner(
    1.2,
    (0.0, 2.5, 6.0, 10.0, 15.0, 21.0, 28.0, 36.0),
    36,
    cover=math.inf,
    obstacle=20.0,
    beside=2.0,
    turn=3.0,
)
"""In mm: no label covers a line, and leaders run along none."""


@dataclass(frozen=True, slots=True)
class Flag:
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
    first: float = 3.0
    prefer: float | None = None
    either: bool = False

    @property
    def half(self) -> float:
        """Half the width of the ring or square, 0 without one."""
        if not self.bubble:
            return 0.0
        return max(BUBBLE, text_width(self.bubble, SMALL, bold=True) / 2 + 0.8)


@dataclass(slots=True)
class DrawnView:
    """A view of sheet ``number`` being drawn: its marks so far, and what found no room."""

    setup: Setup
    number: int
    room: LabelRoom
    marks: list[Mark] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)

    @property
    def stretch(self) -> SheetSpan:
        """The stations of the sheet."""
        return self.setup.stretches[self.number - 1]

    def inside(self, station: float) -> float:
        """A station kept within the sheet."""
        return min(max(station, self.stretch.start), self.stretch.end)

    def straights(self) -> Iterator[tuple[GradeStretch, float, float]]:
        """The straights on the sheet, and from where to where they are on it."""
        for straight in self.setup.course.straights:
            start, end = self.inside(straight.start), self.inside(straight.end)
            if end - start > 1e-6:
                yield straight, start, end

    def add(self, flag: Flag, missing: str | None, short: float = _WIDEST) -> None:
        """Place a flag, its words cut to ``short`` mm where all have no room, at least its number.

        What is omitted is noted as ``missing``: of a number alone the table says the rest.
        """
        cut = replace(flag, lines=tuple(fitted(line, SMALL, short) for line in flag.lines))
        placed = place(flag, self.room) or place(cut, self.room)
        if placed is None and flag.bubble:
            placed = place_anywhere(flag, self.room)
        self.marks += placed or []
        if placed is None and missing is not None:
            self.left_out.append(missing)


def take_line(room: LabelRoom, points: Floats) -> None:
    """Keep labels off a line through points (n, 2)."""
    room.take_line(points, _DENSE)


def place(label: Flag, room: LabelRoom, *, strict: bool = True) -> list[Mark] | None:
    """The label where it is free, nearest first; None where there is no free place.

    Unless ``strict`` its leader may run over lines, words and other leaders.
    """
    label = replace(label, lines=tuple(fitted(line, SMALL, _WIDEST) for line in label.lines))
    high = max(len(label.lines) * _LINE * SMALL, 0.1, 2 * BUBBLE * bool(label.bubble))
    wide = max((text_width(line, SMALL) for line in label.lines), default=0.0)
    wish = Wish(
        (label.x, label.y),
        (wide + _tab(label), high),
        label.near + label.first,
        label.reach + label.half,
        label.prefer,
        label.either,
        label.near,
        2 * label.half,
        label.leader,
    )
    found = room.find(wish, strict=strict)
    if found is None:
        return None
    box, elbow = found
    leader = _leader(label, np.array(elbow)) if label.leader else None
    room.take(box, leader)
    return _drawn(label, box, leader)


def place_anywhere(label: Flag, room: LabelRoom) -> list[Mark] | None:
    """The number of a label alone, as near as can be: its leader may run over lines and words.

    None only where no place of the view is free.
    """
    alone = replace(label, lines=(), reach=math.inf)
    return place(alone, room) or place(alone, room, strict=False)


def _tab(label: Flag) -> float:
    """How far the words of a label stand behind its ring."""
    return 2 * label.half + (0.9 if label.bubble and label.lines else 0.0)


def _leader(label: Flag, elbow: Floats) -> Floats | None:
    """From the edge of a label to its sign, (2, 2); None where it stands right beside it."""
    goal = np.array([label.x, label.y])
    distance = float(np.hypot(*(goal - elbow)))
    edge = label.half or min(0.3, distance)
    if distance - edge - label.near < _SHORTEST:
        return None
    step = (goal - elbow) / distance
    return np.array([elbow + edge * step, goal - label.near * step])


def _drawn(label: Flag, box: Rect, leader: Floats | None) -> list[Mark]:
    marks: list[Mark] = []
    if leader is not None:
        marks.append(ruled(leader, THIN, "", label.layer))
    middle = (box[1] + box[3]) / 2
    before = bool(label.bubble) and (box[0] + box[2]) / 2 < label.x - 1e-6
    if label.bubble:
        x = box[2] - label.half if before else box[0] + label.half
        marks += bubble(x, middle, label.bubble, label.square, label.layer)
    top = middle - len(label.lines) * _LINE * SMALL / 2
    align: Align = "right" if before else "left"
    x = box[2] - _tab(label) if before else box[0] + _tab(label)
    for i, line in enumerate(label.lines):
        base = top + (i + 1) * _LINE * SMALL - 0.4 * SMALL
        marks.append(letters(x, base, line, SMALL, align, layer=label.layer))
    return marks


def bubble(x: float, y: float, mark: str, square: bool, layer: str) -> list[Mark]:
    """A number in a ring, or a letter in a square."""
    half = max(BUBBLE, text_width(mark, SMALL, bold=True) / 2 + 0.8)
    words = letters(x, y + SMALL / 2, mark, SMALL, "middle", bold=True, layer=layer)
    if square or half > BUBBLE:
        high = BUBBLE if not square else BUBBLE * 0.9
        return [frame((x - half, y - high, x + half, y + high), 0.25, layer), words]
    return [Ring((x, y), BUBBLE, BLACK, 0.25, layer=layer), words]
