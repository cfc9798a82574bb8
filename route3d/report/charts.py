"""Line charts as SVG text: along the route, through the pull, and in elevation.

Plain arrays and words in display units come in, so that no chart knows a unit. Legible in black
and white: lines differ by dash, what exceeds its limit is drawn twice as thick, and every limit
carries its name. The same input gives the same bytes.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from xml.sax.saxutils import escape

import numpy as np

from route3d.geometry.vectors import Floats
from route3d.report.chart_box import ChartBox, above, free_starts
from route3d.report.svg import line, number, polyline, text
from route3d.report.ticks import steeper, thinned, tick_step, ticks

Size = tuple[int, int]
ChartTheme = Mapping[str, str]
Limit = tuple[float, str]
"""A limit and its words, such as ``(500.0, "limit 500 lbf/ft")``."""
Place = tuple[float, str]
"""A station and the name of what is there."""
Band = tuple[float, float, str]
"""A stretch from one station to another and its short name, such as a bend's number."""

PRINT: ChartTheme = MappingProxyType(
    {
        "ground": "#ffffff",
        "ink": "#111111",
        "faint": "#555555",
        "line": "#d0d0d0",
        "band": "#ececec",
        "series": "#0b5cad",
        "second": "#7a3e9d",
        "limit": "#b3370f",
    }
)
_FONT = "font-family=\"'DejaVu Sans','Helvetica Neue',Arial,sans-serif\""
_LEFT, _RIGHT, _BOTTOM, _GAP = 64.0, 16.0, 46.0, 34.0
_TEXT, _SMALL, _WIDE = 13.0, 12.0, 0.6  # a letter is about 0.6 of its height wide
# A limit farther up than this many peaks would press the curve flat: it is named instead.
_FAR = 2.5
_EDGE = 0.06  # of the height kept free over and under a curve that does not start from zero


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """One line of a panel: ``x``, ``y`` (n,); NaN parts it. ``dash`` as in SVG, empty for solid."""

    name: str
    x: Floats
    y: Floats
    colour: str = "series"
    dash: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class _Panel:
    """One pair of axes; ``limit`` is level, ``share`` its part of the height.

    ``level`` is a height that is always in the panel, such as that of grade, with its name.
    """

    label: str
    curves: tuple[Curve, ...]
    limit: Limit | None = None
    share: float = 1.0
    from_zero: bool = True
    level: Limit | None = None


# --- the charts --------------------------------------------------------------------------------


def profile_chart(
    station: Floats,
    tension: Floats,
    sidewall: Floats,
    *,
    title: str = "",
    x_label: str = "station",
    tension_label: str = "tension",
    sidewall_label: str = "sidewall pressure",
    tension_limit: Limit | None = None,
    sidewall_limit: Limit | None = None,
    bends: Sequence[Band] = (),
    places: Sequence[Place] = (),
    cursor: Place | None = None,
    size: Size = (720, 440),
    theme: ChartTheme = PRINT,
) -> str:
    """Tension above, sidewall pressure below, against station; arrays (n,) in display units."""
    panels = (
        _Panel(tension_label, (Curve("", station, tension),), tension_limit, 0.55),
        _Panel(sidewall_label, (Curve("", station, sidewall, "second"),), sidewall_limit, 0.45),
    )
    return _sheet(panels, title, x_label, bends, places, cursor, size, theme)


def history_chart(
    head: Floats,
    load: Floats,
    *,
    title: str = "",
    x_label: str = "station of the cable head",
    load_label: str = "machine load",
    limit: Limit | None = None,
    more: Sequence[Curve] = (),
    bends: Sequence[Band] = (),
    places: Sequence[Place] = (),
    cursor: Place | None = None,
    size: Size = (720, 300),
    theme: ChartTheme = PRINT,
) -> str:
    """Machine load against the place of the head; ``more`` holds lines such as the gear's limit."""
    panel = _Panel(load_label, (Curve("machine load" if more else "", head, load), *more), limit)
    return _sheet((panel,), title, x_label, bends, places, cursor, size, theme)


def elevation_chart(
    station: Floats,
    elevation: Floats,
    along: Floats,
    value: Floats,
    *,
    title: str = "",
    x_label: str = "station",
    elevation_label: str = "elevation",
    value_label: str = "tension",
    limit: Limit | None = None,
    grade: float | None = None,
    bends: Sequence[Band] = (),
    places: Sequence[Place] = (),
    cursor: Place | None = None,
    size: Size = (720, 440),
    theme: ChartTheme = PRINT,
) -> str:
    """The unrolled route: elevation (n,) above, a value (m,) at stations ``along`` below.

    Heights and stations are in one unit; how much larger heights are drawn is said in the label.
    ``grade`` is the height of a line so named, None for none.
    """
    level = None if grade is None else (grade, "grade")
    curves = (Curve("", station, elevation, "ink"),)
    panels = (
        _Panel(elevation_label, curves, None, 0.45, False, level),
        _Panel(value_label, (Curve("", along, value),), limit, 0.55),
    )
    box = _boxes(panels, bool(title), bool(places), bool(bends), size)[0]
    times = (box.height / (box.y[1] - box.y[0])) / (box.width / (box.x[1] - box.x[0]))
    drawn = f"{elevation_label} (heights drawn {steeper(times)})"
    panels = (replace(panels[0], label=drawn), panels[1])
    return _sheet(panels, title, x_label, bends, places, cursor, size, theme)


# --- sheet and panels --------------------------------------------------------------------------


def _sheet(
    panels: Sequence[_Panel],
    title: str,
    x_label: str,
    bends: Sequence[Band],
    places: Sequence[Place],
    cursor: Place | None,
    size: Size,
    theme: ChartTheme,
) -> str:
    width, height = size
    boxes = _boxes(panels, bool(title), bool(places), bool(bends), size)
    above = boxes[0].top - _key_row(panels[0], size)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" '
        f'width="{width}" height="{height}" {_FONT} font-size="{_TEXT:g}" '
        f'fill="{theme["ink"]}" role="img">',
        f"<title>{escape(title or panels[0].label)}</title>",
        f'<rect width="{width}" height="{height}" fill="{theme["ground"]}"/>',
        text(_LEFT, 22, title, theme["ink"], size=_title_size(title, width), bold=True),
        *_bands(boxes, bends, above, theme),
        *_places(boxes, places, above, theme),
    ]
    for panel, box in zip(panels, boxes, strict=True):
        parts += _panel(panel, box, theme, last=box is boxes[-1])
    if cursor is not None:
        parts += _cursor(boxes, cursor, theme)
    middle = boxes[-1].left + boxes[-1].width / 2
    parts.append(text(middle, height - 8, x_label, theme["ink"], anchor="middle"))
    return "\n".join(p for p in [*parts, "</svg>"] if p) + "\n"


def _title_size(title: str, width: int) -> float:
    """Letters in which a bold title still fits, px."""
    room = (width - _LEFT - _RIGHT) / (1.15 * _WIDE * max(len(title), 1))
    return min(15.0, round(room, 1))


def _boxes(
    panels: Sequence[_Panel], titled: bool, placed: bool, numbered: bool, size: Size
) -> list[ChartBox]:
    """Where each panel stands: one below the other on the same x axis."""
    xs = np.concatenate([c.x for p in panels for c in p.curves])
    low, high = float(np.min(xs)), float(np.max(xs))
    span = (low, high if high > low else low + 1.0)
    top = 12.0 + 20 * titled + 20 * placed + 14 * numbered + 18 + _key_row(panels[0], size)
    room = size[1] - _BOTTOM - top - _GAP * (len(panels) - 1)
    total, boxes = sum(p.share for p in panels), []
    for panel in panels:
        height = room * panel.share / total
        width = size[0] - _LEFT - _RIGHT
        boxes.append(ChartBox(_LEFT, top, width, height, span, _y_span(panel)))
        top += height + _GAP
    return boxes


def _key_row(panel: _Panel, size: Size) -> float:
    """Height of a row of its own for the key, where it has no room beside the panel's name."""
    named = [c for c in panel.curves if c.name]
    if len(named) < 2:
        return 0.0
    key = sum(_WIDE * _SMALL * len(c.name) + 44 for c in named)
    fits = key + _WIDE * _TEXT * len(panel.label) + 12 <= size[0] - _LEFT - _RIGHT
    return 0.0 if fits else 18.0


def _y_span(panel: _Panel) -> tuple[float, float]:
    ys = np.concatenate([c.y[np.isfinite(c.y)] for c in panel.curves])
    low, high = (float(ys.min()), float(ys.max())) if ys.size else (0.0, 1.0)
    if panel.level is not None:
        low, high = min(low, panel.level[0]), max(high, panel.level[0])
    if not panel.from_zero:  # a line along the edge of its panel is not seen
        low, high = low - _EDGE * (high - low), high + _EDGE * (high - low)
    if panel.limit is not None and panel.limit[0] <= _FAR * high:
        high = max(high, panel.limit[0] * 1.02)
    low = min(low, 0.0) if panel.from_zero else low
    if high - low <= 1e-12 * max(abs(high), 1.0):
        high, low = (high + 1.0, low) if panel.from_zero else (high + 1.0, low - 1.0)
    step = tick_step(high - low, 5)
    top = math.ceil(high / step * (1 + 1e-9)) * step
    return math.floor(low / step + 1e-9) * step, top


def _panel(panel: _Panel, box: ChartBox, theme: ChartTheme, *, last: bool) -> list[str]:
    row = _key_row(panel, (int(box.left + box.width + _RIGHT), 0))
    parts = [text(box.left, box.top - 8 - row, panel.label, theme["ink"], bold=True)]
    parts += _grid(box, theme, last=last)
    if panel.level is not None:
        parts += _level(panel.level, panel, box, theme)
    if panel.limit is not None and panel.limit[0] <= box.y[1]:
        y = box.py(panel.limit[0])
        parts.append(line(box.left, y, box.left + box.width, y, theme["limit"], 1.5, "7 4"))
    for curve in panel.curves:
        parts += _curve(curve, panel, box, theme)
    parts += _limit_words(panel, box, theme)
    named = [c for c in panel.curves if c.name]
    parts += _key(named, box, theme) if len(named) > 1 else []
    return parts


def _limit_words(panel: _Panel, box: ChartBox, theme: ChartTheme) -> list[str]:
    """The name of the limit: at its line where no curve is, else at the right above the panel."""
    if panel.limit is None:
        return []
    far, right = panel.limit[0] > box.y[1], box.left + box.width
    told = [panel.limit[1] + w for w in ((", above this chart", ", above") if far else ("",))]
    y = box.top + 14 if far else box.py(panel.limit[0]) - 5
    for words in told:
        for x in _free(words, y, panel, box)[:1]:
            return [text(x, y, words, theme["limit"], back=theme["ground"])]
    for words in told if sum(bool(c.name) for c in panel.curves) < 2 else []:
        if right - _WIDE * _TEXT * (len(panel.label) + len(words)) - 16 >= box.left:
            return [text(right, box.top - 8, words, theme["limit"], anchor="end")]
    return [text(box.left + 6, y, told[-1], theme["limit"], back=theme["ground"])]


def _level(level: Limit, panel: _Panel, box: ChartBox, theme: ChartTheme) -> list[str]:
    """A dashed line at a height, with its name where it is off the curve."""
    y = box.py(level[0])
    found = [line(box.left, y, box.left + box.width, y, theme["faint"], 1, "8 5")]
    free = [(x, at) for at in (y - 5, y + 14) for x in _free(level[1], at, panel, box)[-1:]]
    return found + [text(*at, level[1], theme["faint"], size=_SMALL) for at in free[:1]]


def _free(words: str, y: float, panel: _Panel, box: ChartBox) -> list[float]:
    rect = (box.left, box.top, box.left + box.width, box.top + box.height)
    curves = [(box.px(c.x), box.py(c.y)) for c in panel.curves]
    return free_starts(curves, rect, _WIDE * _TEXT * len(words), y)


def _grid(box: ChartBox, theme: ChartTheme, *, last: bool) -> list[str]:
    parts = []
    for value, words in ticks(box.y, max(2, min(5, int(box.height / 34)))):
        y = box.py(value)
        parts.append(line(box.left, y, box.left + box.width, y, theme["line"], 0.8))
        parts.append(text(box.left - 7, y + 4, words, theme["faint"], size=_SMALL, anchor="end"))
    for value, words in ticks(box.x, max(2, int(box.width / 95))):
        x = box.px(value)
        parts.append(line(x, box.top, x, box.top + box.height, theme["line"], 0.8))
        if last:
            y = box.top + box.height + 17
            parts.append(text(x, y, words, theme["faint"], size=_SMALL, anchor="middle"))
    foot = box.top + box.height
    parts.append(line(box.left, foot, box.left + box.width, foot, theme["ink"], 1))
    parts.append(line(box.left, box.top, box.left, foot, theme["ink"], 1))
    return parts


def _curve(curve: Curve, panel: _Panel, box: ChartBox, theme: ChartTheme) -> list[str]:
    x, y = thinned(curve.x, curve.y, int(box.width))
    colour = theme[curve.colour]
    parts = [polyline(box.px(x), box.py(y), colour, 1.8, curve.dash)]
    if panel.limit is not None and not curve.dash:
        over = np.where(y > panel.limit[0] * (1 + 1e-9), y, np.nan)
        if np.isfinite(over).any():
            at, value = above(x, y, panel.limit[0])
            parts.append(polyline(box.px(at), box.py(value), theme["limit"], 3.6))
    return parts


def _key(curves: Sequence[Curve], box: ChartBox, theme: ChartTheme) -> list[str]:
    """Names of several curves, at the right above the panel."""
    parts, right = [], box.left + box.width
    for curve in reversed(curves):
        start = right - _WIDE * _SMALL * len(curve.name)
        parts.append(text(start, box.top - 8, curve.name, theme["ink"], size=_SMALL))
        y = box.top - 12
        parts.append(line(start - 32, y, start - 6, y, theme[curve.colour], 1.8, curve.dash))
        right = start - 44
    return parts


def _bands(
    boxes: Sequence[ChartBox], bends: Sequence[Band], above: float, theme: ChartTheme
) -> list[str]:
    """Bends as shaded stretches, with their numbers above where there is room."""
    parts, taken = [], -math.inf
    for start, end, name in sorted(bends):
        left, right = boxes[0].px(start), boxes[0].px(end)
        wide = max(right - left, 2.0)
        parts += [
            f'<rect x="{number(left)}" y="{number(box.top)}" width="{number(wide)}" '
            f'height="{number(box.height)}" fill="{theme["band"]}"/>'
            for box in boxes
        ]
        half = _WIDE * _SMALL * len(name) / 2
        middle = left + wide / 2
        if name and middle - half > taken + 4:
            parts.append(
                text(middle, above - 24, name, theme["faint"], size=_SMALL, anchor="middle")
            )
            taken = middle + half
    return parts


def _places(
    boxes: Sequence[ChartBox], places: Sequence[Place], above: float, theme: ChartTheme
) -> list[str]:
    """Names along the top, the ends first; what would run into another is left out."""
    parts: list[str] = []
    spans: list[tuple[float, float]] = []
    low, high = boxes[0].x
    y = above - 40
    for at, name in sorted(places, key=lambda p: min(p[0] - low, high - p[0])):
        x, half = boxes[0].px(at), _WIDE * _SMALL * len(name) / 2
        middle = min(max(x, _LEFT + half - 20), boxes[0].left + boxes[0].width - half + 10)
        parts.append(line(x, boxes[0].top, x, boxes[-1].top + boxes[-1].height, theme["faint"], 1))
        if any(middle - half < b + 8 and middle + half > a - 8 for a, b in spans):
            continue
        spans.append((middle - half, middle + half))
        parts.append(text(middle, y, name, theme["ink"], size=_SMALL, anchor="middle"))
    return parts


def _cursor(boxes: Sequence[ChartBox], cursor: Place, theme: ChartTheme) -> list[str]:
    x, foot = boxes[0].px(cursor[0]), boxes[-1].top + boxes[-1].height
    side = "end" if x > boxes[0].left + boxes[0].width / 2 else "start"
    shift = -6 if side == "end" else 6
    return [
        line(x, boxes[0].top, x, foot, theme["ink"], 2),
        text(x + shift, foot - 8, cursor[1], theme["ink"], anchor=side, back=theme["ground"]),
    ]
