"""What lies flat on the picture, as plain records in pixels: texts, lines, boxes.

Every surface can draw these few shapes, so that a still, a window and a page carry the same
words at the same places. Pixels count from the top left; ``size`` is the letter height in pixels.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

Point = tuple[float, float]
Rect = tuple[float, float, float, float]

Measure = Callable[[str, float, bool], tuple[float, float]]
"""Width and line height in pixels of a text, given its size and whether it is bold."""


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text; ``at`` its left, middle or right end, at mid-height of the line."""

    at: Point
    text: str
    size: float
    colour: str
    bold: bool = False
    align: Literal["left", "middle", "right"] = "left"


@dataclass(frozen=True, slots=True)
class Line:
    """A line through ``points``."""

    points: tuple[Point, ...]
    colour: str
    width: float


@dataclass(frozen=True, slots=True)
class Box:
    """A filled box with rounded corners; no edge where ``edge`` is empty."""

    rect: Rect
    fill: str
    edge: str = ""
    width: float = 0.0
    corner: float = 0.0


@dataclass(frozen=True, slots=True)
class Shape:
    """A filled polygon."""

    points: tuple[Point, ...]
    fill: str


@dataclass(frozen=True, slots=True)
class Ring:
    """A circle, filled where ``fill`` is given."""

    at: Point
    radius: float
    edge: str
    width: float
    fill: str = ""


@dataclass(frozen=True, slots=True)
class Strip:
    """Colors stacked from the foot of ``rect`` to its head."""

    rect: Rect
    colours: tuple[tuple[int, int, int], ...]


Item = Text | Line | Box | Shape | Ring | Strip
Overlay = tuple[Item, ...]


def wrapped(text: str, width: float, size: float, bold: bool, measure: Measure) -> list[str]:
    """The lines of a text broken at plain spaces, each at most ``width`` pixels wide.

    The lines are as even as their least number allows. A single word wider than that is cut into
    pieces; nothing is left out.
    """
    lines = _filled(text, width, size, bold, measure)
    low, high = width / max(len(lines), 1), width
    for _ in range(8 if len(lines) > 1 else 0):
        middle = (low + high) / 2
        evener = _filled(text, middle, size, bold, measure)
        low, high = (low, middle) if len(evener) <= len(lines) else (middle, high)
    return _filled(text, high, size, bold, measure)


def _filled(text: str, width: float, size: float, bold: bool, measure: Measure) -> list[str]:
    lines: list[str] = []
    for word in (w for w in text.split(" ") if w):
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and measure(joined, size, bold)[0] <= width:
            lines[-1] = joined
        else:
            lines += _pieces(word, width, size, bold, measure)
    return lines


def _pieces(word: str, width: float, size: float, bold: bool, measure: Measure) -> list[str]:
    """The word, in as many pieces as it must be cut into."""
    pieces = []
    while len(word) > 1 and measure(word, size, bold)[0] > width:
        fits = (k for k in range(len(word) - 1, 0, -1) if measure(word[:k], size, bold)[0] <= width)
        cut = next(fits, 1)
        pieces.append(word[:cut])
        word = word[cut:]
    return [*pieces, word]
