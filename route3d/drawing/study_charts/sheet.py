"""What the pictures of the studies share: their width, their letters, one below the other."""

from __future__ import annotations

import math
from collections.abc import Sequence

from route3d.drawing.charts import PRINT
from route3d.drawing.marks import Mark, moved, written
from route3d.drawing.picture import Picture
from route3d.drawing.text_width import CAPITAL, fitted, text_width

WIDE, NARROW = 1000, 480
"""Of a picture on paper, and beside others or on a phone, px."""
LEFT, RIGHT = 64.0, 16.0  # px, as in a chart
HEAD = 46.0  # of a picture: its title and what is free under it
TEXT, SMALL, TITLE = 13.0, 12.0, 15.0
NEAR = 0.4
"""A limit is drawn where something reaches this share of it: farther off it presses all flat."""
_BANNER, _WARNING, _BETWEEN = 26, 22, 18


def width(text: str, size: float = SMALL, *, bold: bool = False) -> float:
    """Of a text whose font has ``size``; never too little."""
    return text_width(text, size * CAPITAL, bold=bold)


def cut(text: str, room: float, size: float = SMALL, *, bold: bool = False) -> str:
    """A text cut to ``room`` px."""
    return fitted(text, size * CAPITAL, room, bold=bold)


def titled(title: str, wide: int = WIDE) -> Mark:
    """The title of a picture, in letters that fit into its width."""
    left = LEFT if wide == WIDE else RIGHT
    most = width(title, TITLE, bold=True)
    size = min(TITLE, math.floor(10 * TITLE * (wide - left - RIGHT) / max(most, 1.0)) / 10)
    words = cut(title, wide - left - RIGHT, max(size, SMALL), bold=True)
    return written(left, 22, words, max(size, SMALL), PRINT["ink"], bold=True)


def warned(picture: Picture, run: str, wide: int = WIDE) -> Picture:
    """A picture under the sentence that its run must not be pulled."""
    left = LEFT if wide == WIDE else RIGHT
    words = f"Run {run} must not be pulled as planned: see route3d check."
    words = cut(words, wide - left - RIGHT, TEXT, bold=True)
    marks = [moved(mark, (0.0, float(_WARNING))) for mark in picture.marks]
    told = written(left, 20, words, TEXT, PRINT["limit"], bold=True)
    high = picture.size[1] + _WARNING
    return Picture([told, *marks], (picture.size[0], high), picture.title)


def stacked(pictures: Sequence[Picture], title: str, banner: str = "") -> Picture:
    """Pictures one below the other, under a ``banner`` where values are examples."""
    marks: list[Mark] = []
    top = 0
    if banner:
        words = cut(banner, WIDE - 40, TEXT, bold=True)
        marks.append(written(20, 20, words, TEXT, PRINT["limit"], bold=True))
        top = _BANNER
    for picture in pictures:
        marks += [moved(mark, (0.0, float(top))) for mark in picture.marks]
        top += picture.size[1] + _BETWEEN
    return Picture(marks, (WIDE, top - _BETWEEN), title)
