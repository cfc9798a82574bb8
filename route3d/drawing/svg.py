"""Marks as SVG: the same marks give the same bytes."""

from __future__ import annotations

from collections.abc import Iterable
from xml.sax.saxutils import escape

import numpy as np

from route3d.directions import isolated
from route3d.drawing.marks import (
    HATCHES,
    Box,
    Line,
    Mark,
    Points,
    Ring,
    Shape,
    Strip,
    Text,
    stretches,
)

_FONT = "font-family=\"'DejaVu Sans','Helvetica Neue',Arial,sans-serif\""
_ANCHORS = {"left": "start", "middle": "middle", "right": "end"}
_MIDDLE = 0.35  # of the size: the base line below mid-height
_GROUND = '<rect width="{0}" height="{0}" fill="#fff"/>'
_PATTERNS = {
    "wall": (
        5,
        ' patternTransform="rotate(45)"',
        '<path d="M0 0V5" stroke="#555" stroke-width="1.4"/>',
    ),
    "dots": (5, "", '<circle cx="2.5" cy="2.5" r=".8" fill="#777"/>'),
    "lines": (4, "", '<path d="M0 2H4" stroke="#888" stroke-width=".8"/>'),
    "grid": (5, "", '<path d="M0 0H5M0 0V5" stroke="#888" stroke-width=".8"/>'),
    "concrete": (
        18,
        "",
        '<path d="M3 6l3-4 3 4zM12 15l2-3 3 2z" fill="none" stroke="#999" stroke-width=".7"/>'
        '<circle cx="13" cy="4" r=".8" fill="#999"/><circle cx="5" cy="12" r=".8" fill="#999"/>'
        '<circle cx="9" cy="16" r=".6" fill="#999"/>',
    ),
    # of drawings in mm: what lies under it stays visible
    "nobody": (
        2.2,
        ' patternTransform="rotate(45)"',
        '<path d="M1.1 0V2.2" stroke="#000" stroke-width=".16"/>',
    ),
}  # fmt: skip


def document(
    marks: Iterable[Mark],
    size: tuple[float, float],
    *,
    title: str = "",
    ground: str = "#ffffff",
    unit: str = "",
) -> str:
    """A whole drawing ``size`` wide and high, in pixels or in ``unit``."""
    wide, high = (f"{side:g}" for side in size)
    drawn = list(filter(None, map(element, marks)))
    hatches = [_pattern(name) for name in HATCHES if any(f"url(#{name})" in d for d in drawn)]
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}" '
        f'width="{wide}{unit}" height="{high}{unit}" {_FONT} role="img">',
        f"<title>{escape(isolated(title))}</title>" if title else "",
        f"<defs>{''.join(hatches)}</defs>" if hatches else "",
        f'<rect width="{wide}" height="{high}" fill="{ground}"/>',
    ]
    return "\n".join([*filter(None, parts), *drawn, "</svg>\n"])


def _pattern(name: str) -> str:
    side, look, content = _PATTERNS[name]
    ground = "" if name == "nobody" else _GROUND.format(side)
    return (
        f'<pattern id="{name}" width="{side}" height="{side}" patternUnits="userSpaceOnUse"{look}>'
        f"{ground}{content}</pattern>"
    )


def element(mark: Mark) -> str:
    """One mark; empty where it shows nothing."""
    match mark:
        case Text():
            return _text(mark)
        case Line(points, color, width, dash):
            dashes = f' stroke-dasharray="{dash}"' if dash else ""
            look = f'stroke="{color}" stroke-width="{width:g}"{dashes}'
            if len(points) == 2 and not isinstance(points, np.ndarray):
                (x1, y1), (x2, y2) = points
                ends = f'x1="{number(x1)}" y1="{number(y1)}" x2="{number(x2)}" y2="{number(y2)}"'
                return f"<line {ends} {look}/>"
            array = np.asarray(points, dtype=np.float64)
            return "\n".join(
                f'<polyline points="{_points(array[rows])}" fill="none" {look} '
                'stroke-linejoin="round"/>'
                for rows in stretches(np.isfinite(array[:, 0] + array[:, 1]))
            )
        case Box((left, top, right, bottom), fill, edge, width, corner):
            sides = f'width="{number(right - left)}" height="{number(bottom - top)}"'
            round_ = f' rx="{corner:g}"' if corner else ""
            place = f'x="{number(left)}" y="{number(top)}" {sides}{round_}'
            return f"<rect {place} {_face(fill, edge, width)}/>"
        case Ring((x, y), radius, edge, width, fill):
            place = f'cx="{number(x)}" cy="{number(y)}" r="{number(radius)}"'
            return f"<circle {place} {_face(fill, edge, width)}/>"
        case Shape(points, fill, edge, width, holes):
            face = _face(fill, edge, width)
            if not holes:
                return f'<polygon points="{_points(points)}" {face}/>'
            loops = "".join(f"M{_points(loop).replace(' ', 'L')}Z" for loop in (points, *holes))
            return f'<path d="{loops}" fill-rule="evenodd" {face}/>'
        case Strip():
            raise ValueError("a strip of colors is for pictures, not for SVG")


def _face(fill: str, edge: str, width: float) -> str:
    fill = f"url(#{fill})" if fill in HATCHES else fill or "none"
    return f'fill="{fill}"' + (f' stroke="{edge}" stroke-width="{width:g}"' if edge else "")


def _points(points: Points) -> str:
    return " ".join(f"{number(x)},{number(y)}" for x, y in points)


def _text(mark: Text) -> str:
    if not mark.text:
        return ""
    look = f'font-size="{mark.size:.4g}" text-anchor="{_ANCHORS[mark.align]}" fill="{mark.color}"'
    look += ' font-weight="bold"' if mark.bold else ""
    # Keeps letters clear of the lines behind them.
    look += f' stroke="{mark.back}" stroke-width="4" paint-order="stroke"' if mark.back else ""
    look += ' xml:space="preserve"' if mark.text != mark.text.strip() else ""
    x, y = mark.at[0], mark.at[1] + (0.0 if mark.base else _MIDDLE * mark.size)
    words = escape(isolated(mark.text))
    if not mark.upright:
        return f'<text x="{number(x)}" y="{number(y)}" {look}>{words}</text>'
    turn = f'transform="translate({number(x)} {number(y)}) rotate(-90)"'
    return f'<g {turn}><text x="0.00" y="0.00" {look}>{words}</text></g>'


def number(value: float) -> str:
    """A coordinate with two decimals and no minus zero: drawings must not differ by rounding."""
    return f"{round(float(value), 2) + 0.0:.2f}"
