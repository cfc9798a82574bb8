"""What a drawing is made of: plain records in pixels or paper mm, x to the right and y down.

Every back end draws these few marks, so that one drawing looks the same wherever it goes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from route3d.drawing.text_width import CAPITAL, text_width
from route3d.geometry.vectors import Floats

Bools = NDArray[np.bool_]
Point = tuple[float, float]
Rect = tuple[float, float, float, float]
"""Left, top, right, bottom."""
Points = Floats | Sequence[Point]
Align = Literal["left", "middle", "right"]

BLACK = "#000000"
HATCHES = ("wall", "dots", "lines", "grid", "concrete", "nobody")
"""Fills that are no color, for black and white. SVG has them all, DXF the last."""
# Of the size: how far letters reach below the base line; round letters stand out above a little.
_DESCENT, _LIFT = 0.33 * CAPITAL, 1.08 * CAPITAL


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text; ``at`` its left, middle or right end, at mid-height of the line.

    ``size`` is that of the font. With ``base`` the place is on the base line; an ``upright`` text
    reads upwards, turned to the left; ``back`` outlines the letters in the color of the ground.
    """

    at: Point
    text: str
    size: float
    color: str = BLACK
    bold: bool = False
    align: Align = "left"
    base: bool = False
    upright: bool = False
    back: str = ""
    layer: str = "TEXT"

    @property
    def height(self) -> float:
        """Of the capitals."""
        return self.size * CAPITAL

    @property
    def box(self) -> Rect:
        """The room it takes; it must stand on a base line."""
        width = text_width(self.text, self.height, bold=self.bold)
        before = {"left": 0.0, "middle": 0.5, "right": 1.0}[self.align] * width
        (x, y), up, down = self.at, _LIFT * self.size, _DESCENT * self.size
        if self.upright:
            return (x - up, y - width + before, x + down, y + before)
        return (x - before, y - up, x - before + width, y + down)


@dataclass(frozen=True, slots=True)
class Line:
    """A line through ``points``, broken at NaN; ``dash`` as in SVG, empty for solid."""

    points: Points
    color: str = BLACK
    width: float = 1.0
    dash: str = ""
    layer: str = "FRAME"


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
    """A polygon, filled where ``fill`` is given; ``holes`` are loops left open in it."""

    points: Points
    fill: str
    edge: str = ""
    width: float = 0.0
    holes: tuple[Points, ...] = ()
    layer: str = "FRAME"


@dataclass(frozen=True, slots=True)
class Ring:
    """A circle, filled where ``fill`` is given; no edge where ``edge`` is empty."""

    at: Point
    radius: float
    edge: str
    width: float
    fill: str = ""
    layer: str = "BENDS"


@dataclass(frozen=True, slots=True)
class Strip:
    """Colors stacked from the foot of ``rect`` to its head."""

    rect: Rect
    colors: tuple[tuple[int, int, int], ...]


Mark = Text | Line | Box | Shape | Ring | Strip
Marks = tuple[Mark, ...]


def written(
    x: float,
    y: float,
    text: str,
    size: float,
    color: str = BLACK,
    align: Align = "left",
    *,
    bold: bool = False,
    back: str = "",
) -> Text:
    """A text on its base line."""
    return Text((x, y), text, size, color, bold, align, base=True, back=back)


def arrow(
    start: Point, end: Point, color: str, width: float = 0.9, *, both: bool = False
) -> list[Mark]:
    """A line with a slim tip at its end, or at both."""
    found: list[Mark] = [Line((start, end), color, width)]
    for tip, tail in ((end, start), (start, end)) if both else ((end, start),):
        found.append(
            Shape(_turned(_TIP, tip, math.atan2(tip[1] - tail[1], tip[0] - tail[0])), color)
        )
    return found


_TIP = ((0.0, 0.0), (-9.0, -2.7), (-9.0, 2.7))


def wedge(at: Point, angle: float, color: str, edge: str) -> Shape:
    """An arrow head on a line, pointing along ``angle``, rad from the right clockwise."""
    return Shape(_turned(((9.0, 0.0), (-5.0, 5.5), (-5.0, -5.5)), at, angle), color, edge, 1.5)


def _turned(corners: Sequence[Point], at: Point, angle: float) -> tuple[Point, ...]:
    cos, sin = math.cos(angle), math.sin(angle)
    return tuple((at[0] + a * cos - b * sin, at[1] + a * sin + b * cos) for a, b in corners)


def moved(mark: Mark, by: Point) -> Mark:
    """A mark somewhere else."""
    step = np.array(by)
    match mark:
        case Line():
            return replace(mark, points=np.asarray(mark.points) + step)
        case Shape():
            holes = tuple(np.asarray(hole) + step for hole in mark.holes)
            return replace(mark, points=np.asarray(mark.points) + step, holes=holes)
        case Box() | Strip():
            left, top, right, bottom = mark.rect
            return replace(mark, rect=(left + by[0], top + by[1], right + by[0], bottom + by[1]))
        case Text() | Ring():
            return replace(mark, at=(mark.at[0] + by[0], mark.at[1] + by[1]))


def inset(box: Rect, by: float) -> Rect:
    """A box smaller by ``by`` on every side; larger for a negative one."""
    return (box[0] + by, box[1] + by, box[2] - by, box[3] - by)


def overlap(a: Rect, b: Rect) -> bool:
    """True where two boxes share more than an edge."""
    return bool(
        min(a[2], b[2]) - max(a[0], b[0]) > 1e-9 and min(a[3], b[3]) - max(a[1], b[1]) > 1e-9
    )


def stretches(wanted: Bools) -> list[slice]:
    """The unbroken runs of true values."""
    edges = np.diff(np.concatenate(([0], np.asarray(wanted, dtype=int), [0])))
    starts, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
    return [slice(int(a), int(b)) for a, b in zip(starts, ends, strict=True)]


def along(points: Floats, at: Floats) -> Floats:
    """Places (m, 2) at distances ``at`` (m,) from the start of a line (n, 2)."""
    walked = lengths(points)
    return np.column_stack([np.interp(at, walked, points[:, k]) for k in (0, 1)])


def lengths(points: Floats) -> Floats:
    """How far along a line each of its points (n, 2) is, (n,)."""
    return np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))))


def spaced(points: Floats, gap: float) -> Floats:
    """Places at most ``gap`` apart along a line (n, 2), its ends included; rows of NaN part it."""
    parts = []
    for rows in stretches(np.isfinite(points[:, 0])):
        part = points[rows]
        total = float(lengths(part)[-1])
        parts.append(along(part, np.linspace(0.0, total, int(total / gap) + 2)))
    return np.vstack(parts) if parts else np.zeros((0, 2))


def thin(points: Floats) -> Floats:
    """Without points that are less than half a unit from the last one kept."""
    keep = [0]
    for i in range(1, len(points)):
        if abs(points[i] - points[keep[-1]]).max() >= 0.5:
            keep.append(i)
    if keep[-1] != len(points) - 1:
        keep.append(len(points) - 1)
    return np.asarray(points[keep])
