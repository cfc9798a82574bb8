"""Lines and letters of a sheet, in paper mm, all black.

Those of a plan and profile take their widths and dashes from their layers at the end
(``drawing.layers.styled``).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np

from route3d.drawing.marks import BLACK, Align, Line, Rect, Text
from route3d.drawing.text_width import CAPITAL, fitted, text_width
from route3d.geometry.vectors import Floats

# Line widths, mm (ISO 128 row 0.18, 0.35, 0.7; from memory).
THIN, MEDIUM, THICK = 0.18, 0.35, 0.7
# Heights of capital letters, mm (ISO 3098 has 1.8, 2.5, 3.5; from memory).
SMALL, PLAIN, LARGE = 2.0, 2.3, 3.5


def letters(
    x: float,
    y: float,
    text: str,
    height: float = SMALL,
    align: Align = "left",
    *,
    upright: bool = False,
    bold: bool = False,
    layer: str = "TEXT",
) -> Text:
    """One line of text on its base line; ``upright`` reads upwards, turned to the left."""
    return Text((x, y), text, height / CAPITAL, BLACK, bold, align, True, upright, layer=layer)


def snug(
    x: float,
    y: float,
    text: str,
    width: float,
    height: float = SMALL,
    *,
    bold: bool = False,
    layer: str = "TEXT",
) -> Text:
    """One line of text no wider than ``width``: smaller where it has to be, cut off below SMALL."""
    wide = text_width(text, height, bold=bold)
    size = max(height * min(1.0, 0.995 * width / max(wide, 1e-9)), SMALL)
    return letters(x, y, fitted(text, size, width, bold=bold), size, bold=bold, layer=layer)


def ruled(points: Floats, width: float = THIN, dash: str = "", layer: str = "FRAME") -> Line:
    """A line through places (n, 2)."""
    return Line(points, BLACK, width, dash, layer)


def stroke(*points: Sequence[float], width: float = THIN, dash: str = "", layer: str) -> Line:
    """A line through a few places."""
    return ruled(np.array(points, dtype=float), width, dash, layer)


def frame(box: Rect, width: float = THIN, layer: str = "FRAME") -> Line:
    """The outline of a box."""
    left, top, right, bottom = box
    corners = ((left, top), (right, top), (right, bottom), (left, bottom), (left, top))
    return stroke(*corners, width=width, layer=layer)


def clipped(points: Floats, box: Rect) -> list[Floats]:
    """What is in a box of a line (n, 2)."""
    import shapely

    inside = shapely.intersection(shapely.LineString(points), shapely.box(*box))
    merged = shapely.line_merge(inside) if inside.geom_type == "MultiLineString" else inside
    parts = (p for p in shapely.get_parts(merged) if p.geom_type == "LineString" and p.length)
    return [np.asarray(part.coords) for part in parts]


def areas(points: Floats, holes: Sequence[Floats], box: Rect) -> list[tuple[Floats, list[Floats]]]:
    """What is in a box of an area (n, 2) with holes: outlines with their holes."""
    import shapely

    shape = shapely.Polygon(points, holes)
    shape = shape if shape.is_valid else shapely.make_valid(shape)
    parts = shapely.get_parts(shapely.intersection(shape, shapely.box(*box)))
    return [
        (np.asarray(p.exterior.coords), [np.asarray(r.coords) for r in p.interiors])
        for p in parts
        if p.geom_type == "Polygon" and p.area > 0
    ]


def interrupted(line: Line, boxes: Iterable[Rect]) -> list[Line]:
    """A straight line without what lies in the boxes, so that words on it stay readable."""
    start, end = np.asarray(line.points[0]), np.asarray(line.points[-1])
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
        ruled(np.array([start + a * step, start + b * step]), line.width, line.dash, line.layer)
        for a, b in pieces
    ]


def _inside(start: Floats, end: Floats, box: Rect) -> tuple[float, float] | None:
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
