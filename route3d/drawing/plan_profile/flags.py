"""Labels of a sheet: words beside what they name, a number in a ring or a letter in a square."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from route3d.drawing.labels import LabelRoom, Manner, Wish
from route3d.drawing.layers import LAYERS
from route3d.drawing.marks import BLACK, Align, Mark, Rect, Ring
from route3d.drawing.plan_profile.course import Event, GradeStretch
from route3d.drawing.plan_profile.linework import SMALL, THIN, frame, letters, ruled, stroke
from route3d.drawing.plan_profile.setup import Detail, Setup, SheetSpan
from route3d.drawing.text_width import fitted, plain, text_width, wrapped
from route3d.geometry.vectors import Floats

CALLOUT = 3.9  # radius of the ring round a letter over the number of a sheet, mm
BUBBLE = 2.9  # radius of the ring round the number of a bend, mm
_LINE = 1.62  # from base line to base line, in heights of capitals
_WIDEST, _NARROW = 52.0, 26.0  # lines of a label, mm; where there is less room
_MOST_LINES = 5
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
    crossing=0,
)
"""In mm: no label covers a line, leaders run along none, and none crosses the route."""


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
        if "/" in self.bubble:
            return CALLOUT
        return max(BUBBLE, text_width(self.bubble, SMALL, bold=True) / 2 + 0.8)


def _high(label: Flag) -> float:
    """Half the height of the ring or square, 0 without one."""
    if not label.bubble or not (label.square or label.half > CALLOUT):
        return label.half
    return BUBBLE


@dataclass(slots=True)
class DrawnView:
    """A view being drawn in a ``box`` of a sheet: what is ``flagged``, its marks so far.

    ``left_out`` is what does not fit; ``unplaced`` the stretches whose labels or dimensions do
    not. ``told`` are the starts of the straights whose length it gives, ``untold`` the starts of
    those in it that some view must tell, and from where to where they are in this one. A view drawn
    ``close`` is a detail, which leaves nothing to others.
    """

    setup: Setup
    span: SheetSpan
    box: Rect
    flagged: tuple[Event, ...]
    room: LabelRoom
    close: bool = False
    marks: list[Mark] = field(default_factory=list)
    left_out: list[str] = field(default_factory=list)
    unplaced: list[tuple[float, float]] = field(default_factory=list)
    told: set[float] = field(default_factory=set)
    untold: list[tuple[float, float, float]] = field(default_factory=list)

    @property
    def breaks_out(self) -> bool:
        """Whether what has no room is left to a detail."""
        return self.setup.breaks_out and not self.close

    def details(self, view: str) -> list[Detail]:
        """The details taken from this view."""
        if self.close:
            return []
        return [
            d
            for d in self.setup.details
            if d.view == view and d.start < self.span.end and d.end > self.span.start
        ]

    def inside(self, station: float) -> float:
        """A station kept within the view."""
        return min(max(station, self.span.start), self.span.end)

    def straights(self) -> Iterator[tuple[GradeStretch, float, float]]:
        """The straights in the view, and from where to where they are in it."""
        for straight in self.setup.course.straights:
            start, end = self.inside(straight.start), self.inside(straight.end)
            if end - start > 1e-6:
                yield straight, start, end

    def add(self, flag: Flag, missing: str | None, stretch: tuple[float, float] | None) -> bool:
        """Place a flag, its words in narrow lines where they have no room else.

        What has no room is left to a detail of its ``stretch``; where there are no details, at
        least its number is placed, and what is omitted noted as ``missing``: of a number alone the
        table says the rest. True where all of it is placed.
        """
        narrow = replace(flag, lines=broken(flag.lines, _NARROW))
        placed = place(flag, self.room) or place(narrow, self.room)
        if placed is None and stretch is not None:
            self.unplaced.append((self.inside(stretch[0]), self.inside(stretch[1])))
        whole = placed is not None
        if placed is None and flag.bubble:
            placed = place_alone(flag, self.room, strict=self.breaks_out)
        self.marks += placed or []
        if placed is None and missing is not None and not (self.breaks_out and stretch):
            self.left_out.append(missing)
        return whole


def broken(lines: Iterable[str], width: float) -> tuple[str, ...]:
    """Lines broken to a width, mm; what is longer than some lines ends in an ellipsis."""

    def measure(text: str, size: float, bold: bool) -> tuple[float, float]:
        return text_width(text, size, bold=bold), size

    found: list[str] = []
    for line in lines:
        parts = wrapped(plain(line), width, SMALL, False, measure)
        if len(parts) > _MOST_LINES:
            parts = [*parts[: _MOST_LINES - 1], " ".join(parts[_MOST_LINES - 1 :])]
        found += [fitted(part, SMALL, width) for part in parts]
    return tuple(found)


def take_line(room: LabelRoom, points: Floats) -> None:
    """Keep labels and leaders off a line through points (n, 2)."""
    room.take_line(points, _DENSE)


def take_other(room: LabelRoom, points: Floats) -> None:
    """Keep labels off a line through points (n, 2) that leaders may cross."""
    room.take_other(points, _DENSE)


def place(label: Flag, room: LabelRoom, *, strict: bool = True) -> list[Mark] | None:
    """The label where it is free, nearest first; None where there is no free place.

    Unless ``strict`` its leader may run over lines, words and other leaders.
    """
    label = replace(label, lines=broken(label.lines, _WIDEST))
    high = max(
        len(label.lines) * _LINE * SMALL,
        0.1,
        2 * _high(label),
    )
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


def place_alone(label: Flag, room: LabelRoom, *, strict: bool = False) -> list[Mark] | None:
    """The number of a label alone, as near as can be.

    Unless ``strict`` its leader may run over lines and words where it must, and None is only
    returned where no place of the view is free.
    """
    alone = replace(label, lines=(), reach=label.reach if strict else math.inf)
    return place(alone, room) or (None if strict else place(alone, room, strict=False))


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
        solid = not LAYERS[label.layer].dash
        marks.append(ruled(leader, THIN, "", label.layer if solid else "TEXT"))
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
    """A number in a ring, words in a square, or a letter over the number of a sheet in a ring."""
    if "/" in mark:
        letter, _, sheet = mark.partition("/")
        return [
            Ring((x, y), CALLOUT, BLACK, 0.25, layer=layer),
            stroke((x - CALLOUT, y), (x + CALLOUT, y), layer=layer),
            letters(x, y - 0.75, letter, SMALL, "middle", bold=True, layer=layer),
            letters(x, y + 0.75 + SMALL, sheet, SMALL, "middle", layer=layer),
        ]
    half = max(BUBBLE, text_width(mark, SMALL, bold=True) / 2 + 0.8)
    words = letters(x, y + SMALL / 2, mark, SMALL, "middle", bold=True, layer=layer)
    if square or half > CALLOUT:
        high = BUBBLE if not square else BUBBLE * 0.9
        return [frame((x - half, y - high, x + half, y + high), 0.25, layer), words]
    return [Ring((x, y), half, BLACK, 0.25, layer=layer), words]
