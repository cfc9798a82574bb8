"""What a sheet is made of: strokes, rings and words in paper mm, x to the right and y down."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from route3d.geometry.vectors import Floats

# Line widths, mm (ISO 128 row 0.18, 0.35, 0.7; from memory).
THIN, MEDIUM, THICK = 0.18, 0.35, 0.7
# Heights of capital letters, mm (ISO 3098 has 1.8, 2.5, 3.5; from memory).
SMALL, PLAIN, LARGE = 2.0, 2.3, 3.5
CAPITAL = 0.729  # of the font size, in DejaVu Sans
_DESCENT = 0.33  # below the base line, of the height of capitals
_LIFT = 1.08  # above it: round letters stand out a little


def _thousandths(text: str) -> tuple[int, ...]:
    return tuple(map(int, text.split()))


# Advance widths of DejaVu Sans and its bold, in 1/1000 of the font size, from the space (32) to the
# tilde (126), rounded up; the other fonts a viewer may take are narrower.
_ADVANCES = _thousandths(
    "318 401 460 838 637 951 780 275 391 391 500 838 318 361 318 337 637 637 637 637 637 637 "
    "637 637 637 637 337 337 838 838 838 531 1000 685 687 699 771 632 576 775 752 295 295 656 "
    "558 863 749 788 604 788 695 635 611 732 685 989 686 611 686 391 337 391 838 500 500 613 "
    "635 550 635 616 353 635 634 278 278 580 278 975 634 612 635 635 412 521 393 634 592 818 "
    "592 592 525 637 337 637 838 "
)
_BOLD_ADVANCES = _thousandths(
    "349 457 521 838 696 1002 873 307 458 458 523 838 380 416 380 366 696 696 696 696 696 696 "
    "696 696 696 696 400 400 838 838 838 581 1000 774 763 734 831 684 684 821 837 373 373 775 "
    "638 996 837 851 733 851 771 721 683 813 774 1104 771 725 726 458 366 458 838 500 500 675 "
    "716 593 716 679 436 716 712 343 343 666 343 1042 712 688 716 716 494 596 479 712 652 924 "
    "646 652 583 712 366 712 838 "
)
_OTHER = 1100  # hardly a letter of other scripts is wider

Box = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True, eq=False)
class Stroke:
    """A line through ``points`` (n, 2)."""

    points: Floats
    width: float = THIN
    dash: str = ""
    layer: str = "FRAME"


@dataclass(frozen=True, slots=True)
class Ring:
    """A circle."""

    x: float
    y: float
    radius: float
    width: float = THIN
    layer: str = "BENDS"


@dataclass(frozen=True, slots=True)
class Words:
    """One line of text on its base line; ``upright`` reads upwards, turned to the left."""

    x: float
    y: float
    text: str
    height: float = SMALL
    anchor: str = "start"
    upright: bool = False
    bold: bool = False
    layer: str = "TEXT"

    @property
    def box(self) -> Box:
        """The room it takes: left, top, right, bottom."""
        width = text_width(self.text, self.height, bold=self.bold)
        before = {"start": 0.0, "middle": 0.5, "end": 1.0}[self.anchor] * width
        up, down = _LIFT * self.height, _DESCENT * self.height
        if self.upright:
            return (self.x - up, self.y - width + before, self.x + down, self.y + before)
        return (self.x - before, self.y - up, self.x - before + width, self.y + down)


Mark = Stroke | Ring | Words


def plain(text: str) -> str:
    """What people typed as one line of printable characters."""
    return "".join(c if c.isprintable() else "?" for c in " ".join(text.split()))


@lru_cache(1 << 15)  # sheets are laid out by trial
def text_width(text: str, height: float, *, bold: bool = False) -> float:
    """Width of a line of text whose capitals are ``height`` high, mm; never too little."""
    advances = _BOLD_ADVANCES if bold else _ADVANCES
    total = sum(advances[ord(c) - 32] if " " <= c <= "~" else _OTHER for c in text)
    return total / 1000 * height / CAPITAL


def fitted(text: str, height: float, width: float, *, bold: bool = False) -> str:
    """The text cut to ``width`` mm, an ellipsis at its end where something is left out."""
    text = plain(text)
    if text_width(text, height, bold=bold) <= width:
        return text
    low, high = 0, len(text)
    while low < high:
        middle = (low + high + 1) // 2
        fits = text_width(text[:middle].rstrip() + "…", height, bold=bold) <= width
        low, high = (middle, high) if fits else (low, middle - 1)
    return text[:low].rstrip() + "…" if low else ""


def stroke(*points: Sequence[float], width: float = THIN, dash: str = "", layer: str) -> Stroke:
    """A line through a few places."""
    return Stroke(np.array(points, dtype=float), width, dash, layer)


def frame(box: Box, width: float = THIN, layer: str = "FRAME") -> Stroke:
    """The outline of a box."""
    left, top, right, bottom = box
    corners = ((left, top), (right, top), (right, bottom), (left, bottom), (left, top))
    return stroke(*corners, width=width, layer=layer)


def inset(box: Box, by: float) -> Box:
    """A box smaller by ``by`` on every side; larger for a negative one."""
    return (box[0] + by, box[1] + by, box[2] - by, box[3] - by)


def parted(line: Stroke, boxes: Iterable[Box]) -> list[Stroke]:
    """A straight stroke without what lies in the boxes, so that words on it stay readable."""
    start, end = line.points[0], line.points[-1]
    gaps = sorted(gap for box in boxes if (gap := _inside(start, end, box)))
    left, pieces = 0.0, []
    for first, last in gaps:
        if first > left:
            pieces.append((left, first))
        left = max(left, last)
    if left < 1:
        pieces.append((left, 1.0))
    step = end - start
    return [
        Stroke(np.array([start + a * step, start + b * step]), line.width, line.dash, line.layer)
        for a, b in pieces
    ]


def _inside(start: Floats, end: Floats, box: Box) -> tuple[float, float] | None:
    """The shares of a straight line between which it is in a box (Liang and Barsky)."""
    first, last = 0.0, 1.0
    for k in (0, 1):
        low, high, at = box[k], box[k + 2], float(start[k])
        step = float(end[k]) - at
        if abs(step) < 1e-12:
            if not low < at < high:
                return None
            continue
        a, b = sorted(((low - at) / step, (high - at) / step))
        first, last = max(first, a), min(last, b)
    return (first, last) if first < last else None


def overlap(a: Box, b: Box) -> bool:
    """True where two boxes share more than an edge."""
    return bool(
        min(a[2], b[2]) - max(a[0], b[0]) > 1e-9 and min(a[3], b[3]) - max(a[1], b[1]) > 1e-9
    )
