"""Line charts as SVG text: along the route, through the pull, and in elevation.

Plain arrays and words in display units come in, so that no chart knows a unit. Legible in black
and white: lines differ by dash, what exceeds its limit is drawn twice as thick, and every limit
carries its name. The same input gives the same bytes.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from types import MappingProxyType
from xml.sax.saxutils import escape

import numpy as np

from route3d.geometry.vectors import Floats

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
    """One pair of axes; ``limit`` is level, ``share`` its part of the height."""

    label: str
    curves: tuple[Curve, ...]
    limit: Limit | None = None
    share: float = 1.0
    from_zero: bool = True


@dataclass(frozen=True, slots=True)
class _Box:
    """Where a panel stands, px, and the values at its edges."""

    left: float
    top: float
    width: float
    height: float
    x: tuple[float, float]
    y: tuple[float, float]

    def px(self, value: float) -> float:
        return self.left + self.width * (value - self.x[0]) / (self.x[1] - self.x[0])

    def py(self, value: float) -> float:
        return self.top + self.height * (1 - (value - self.y[0]) / (self.y[1] - self.y[0]))


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
    bends: Sequence[Band] = (),
    places: Sequence[Place] = (),
    cursor: Place | None = None,
    size: Size = (720, 440),
    theme: ChartTheme = PRINT,
) -> str:
    """The unrolled route: elevation (n,) above, a value (m,) at stations ``along`` below."""
    panels = (
        _Panel(elevation_label, (Curve("", station, elevation, "ink"),), None, 0.45, False),
        _Panel(value_label, (Curve("", along, value),), limit, 0.55),
    )
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
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" '
        f'width="{width}" height="{height}" {_FONT} font-size="{_TEXT:g}" '
        f'fill="{theme["ink"]}" role="img">',
        f"<title>{escape(title or panels[0].label)}</title>",
        f'<rect width="{width}" height="{height}" fill="{theme["ground"]}"/>',
        _text(_LEFT, 22, title, theme["ink"], size=15, bold=True),
        *_bands(boxes, bends, theme),
        *_places(boxes, places, theme),
    ]
    for panel, box in zip(panels, boxes, strict=True):
        parts += _panel(panel, box, theme, last=box is boxes[-1])
    if cursor is not None:
        parts += _cursor(boxes, cursor, theme)
    middle = boxes[-1].left + boxes[-1].width / 2
    parts.append(_text(middle, height - 8, x_label, theme["ink"], anchor="middle"))
    return "\n".join(p for p in [*parts, "</svg>"] if p) + "\n"


def _boxes(
    panels: Sequence[_Panel], titled: bool, placed: bool, numbered: bool, size: Size
) -> list[_Box]:
    """Where each panel stands: one below the other on the same x axis."""
    xs = np.concatenate([c.x for p in panels for c in p.curves])
    low, high = float(np.min(xs)), float(np.max(xs))
    span = (low, high if high > low else low + 1.0)
    top = 12.0 + 20 * titled + 20 * placed + 14 * numbered + 18
    room = size[1] - _BOTTOM - top - _GAP * (len(panels) - 1)
    total, boxes = sum(p.share for p in panels), []
    for panel in panels:
        height = room * panel.share / total
        width = size[0] - _LEFT - _RIGHT
        boxes.append(_Box(_LEFT, top, width, height, span, _y_span(panel)))
        top += height + _GAP
    return boxes


def _y_span(panel: _Panel) -> tuple[float, float]:
    ys = np.concatenate([c.y[np.isfinite(c.y)] for c in panel.curves])
    low, high = (float(ys.min()), float(ys.max())) if ys.size else (0.0, 1.0)
    if panel.limit is not None and panel.limit[0] <= _FAR * high:
        high = max(high, panel.limit[0] * 1.02)
    low = min(low, 0.0) if panel.from_zero else low
    if high - low <= 1e-12 * max(abs(high), 1.0):
        high, low = (high + 1.0, low) if panel.from_zero else (high + 1.0, low - 1.0)
    step = tick_step(high - low, 5)
    top = math.ceil(high / step * (1 + 1e-9)) * step
    return math.floor(low / step + 1e-9) * step, top


def _panel(panel: _Panel, box: _Box, theme: ChartTheme, *, last: bool) -> list[str]:
    parts = [_text(box.left, box.top - 8, panel.label, theme["ink"], bold=True)]
    parts += _grid(box, theme, last=last)
    far = panel.limit is not None and panel.limit[0] > box.y[1]
    if panel.limit is not None and not far:
        y = box.py(panel.limit[0])
        parts.append(_line(box.left, y, box.left + box.width, y, theme["limit"], 1.5, "7 4"))
    for curve in panel.curves:
        parts += _curve(curve, panel, box, theme)
    if panel.limit is not None:
        # The words stand on the axis side where the curve is lowest: most curves rise to one end.
        words = panel.limit[1] + (", above this chart" if far else "")
        y = box.top + 14 if far else box.py(panel.limit[0]) - 5
        parts.append(_text(box.left + 6, y, words, theme["limit"], back=theme["ground"]))
    named = [c for c in panel.curves if c.name]
    parts += _key(named, box, theme) if len(named) > 1 else []
    return parts


def _grid(box: _Box, theme: ChartTheme, *, last: bool) -> list[str]:
    parts = []
    for value, text in ticks(box.y, max(2, min(5, int(box.height / 34)))):
        y = box.py(value)
        parts.append(_line(box.left, y, box.left + box.width, y, theme["line"], 0.8))
        parts.append(_text(box.left - 7, y + 4, text, theme["faint"], size=_SMALL, anchor="end"))
    for value, text in ticks(box.x, max(2, int(box.width / 95))):
        x = box.px(value)
        parts.append(_line(x, box.top, x, box.top + box.height, theme["line"], 0.8))
        if last:
            y = box.top + box.height + 17
            parts.append(_text(x, y, text, theme["faint"], size=_SMALL, anchor="middle"))
    foot = box.top + box.height
    parts.append(_line(box.left, foot, box.left + box.width, foot, theme["ink"], 1))
    parts.append(_line(box.left, box.top, box.left, foot, theme["ink"], 1))
    return parts


def _curve(curve: Curve, panel: _Panel, box: _Box, theme: ChartTheme) -> list[str]:
    x, y = thinned(curve.x, curve.y, int(box.width))
    colour = theme[curve.colour]
    parts = [_polyline(x, y, box, colour, 1.8, curve.dash)]
    if panel.limit is not None and not curve.dash:
        over = np.where(y > panel.limit[0] * (1 + 1e-9), y, np.nan)
        if np.isfinite(over).any():
            parts.append(_polyline(*_above(x, y, panel.limit[0]), box, theme["limit"], 3.6, ""))
    return parts


def _above(x: Floats, y: Floats, limit: float) -> tuple[Floats, Floats]:
    """The parts of a line above ``limit``, cut where it crosses; NaN between them."""
    i = np.flatnonzero((y[:-1] - limit) * (y[1:] - limit) < 0)
    share = (limit - y[i]) / (y[i + 1] - y[i])
    at = np.insert(x, i + 1, x[i] + share * (x[i + 1] - x[i]))
    value = np.insert(y, i + 1, limit)
    return at, np.where(value >= limit, value, np.nan)


def _key(curves: Sequence[Curve], box: _Box, theme: ChartTheme) -> list[str]:
    """Names of several curves, at the right above the panel."""
    parts, right = [], box.left + box.width
    for curve in reversed(curves):
        start = right - _WIDE * _SMALL * len(curve.name)
        parts.append(_text(start, box.top - 8, curve.name, theme["ink"], size=_SMALL))
        y = box.top - 12
        parts.append(_line(start - 32, y, start - 6, y, theme[curve.colour], 1.8, curve.dash))
        right = start - 44
    return parts


def _bands(boxes: Sequence[_Box], bends: Sequence[Band], theme: ChartTheme) -> list[str]:
    """Bends as shaded stretches, with their numbers above where there is room."""
    parts, taken = [], -math.inf
    for start, end, name in sorted(bends):
        left, right = boxes[0].px(start), boxes[0].px(end)
        wide = max(right - left, 2.0)
        parts += [
            f'<rect x="{_n(left)}" y="{_n(box.top)}" width="{_n(wide)}" '
            f'height="{_n(box.height)}" fill="{theme["band"]}"/>'
            for box in boxes
        ]
        half = _WIDE * _SMALL * len(name) / 2
        middle = left + wide / 2
        if name and middle - half > taken + 4:
            y = boxes[0].top - 24
            parts.append(_text(middle, y, name, theme["faint"], size=_SMALL, anchor="middle"))
            taken = middle + half
    return parts


def _places(boxes: Sequence[_Box], places: Sequence[Place], theme: ChartTheme) -> list[str]:
    """Names along the top, the ends first; what would run into another is left out."""
    parts: list[str] = []
    spans: list[tuple[float, float]] = []
    low, high = boxes[0].x
    y = boxes[0].top - 40
    for at, name in sorted(places, key=lambda p: min(p[0] - low, high - p[0])):
        x, half = boxes[0].px(at), _WIDE * _SMALL * len(name) / 2
        middle = min(max(x, _LEFT + half - 20), boxes[0].left + boxes[0].width - half + 10)
        parts.append(_line(x, boxes[0].top, x, boxes[-1].top + boxes[-1].height, theme["faint"], 1))
        if any(middle - half < b + 8 and middle + half > a - 8 for a, b in spans):
            continue
        spans.append((middle - half, middle + half))
        parts.append(_text(middle, y, name, theme["ink"], size=_SMALL, anchor="middle"))
    return parts


def _cursor(boxes: Sequence[_Box], cursor: Place, theme: ChartTheme) -> list[str]:
    x, foot = boxes[0].px(cursor[0]), boxes[-1].top + boxes[-1].height
    side = "end" if x > boxes[0].left + boxes[0].width / 2 else "start"
    shift = -6 if side == "end" else 6
    return [
        _line(x, boxes[0].top - 4, x, foot, theme["ink"], 2),
        _text(x + shift, foot - 8, cursor[1], theme["ink"], anchor=side, back=theme["ground"]),
    ]


# --- numbers -----------------------------------------------------------------------------------


def tick_step(span: float, most: int) -> float:
    """The least of 1, 2, 2.5, 5, 10, ... that cuts ``span`` into at most ``most``."""
    power = 10.0 ** math.floor(math.log10(span / most))
    return min(m * power for m in (1, 2, 2.5, 5, 10) if m * power * most >= span * (1 - 1e-9))


def ticks(span: tuple[float, float], most: int) -> list[tuple[float, str]]:
    """Round values within ``span`` and their text, thousands parted by commas."""
    low, high = span
    step = tick_step(high - low, most)
    places = max(0, -math.floor(math.log10(step) + 1e-9))
    places += 0 if float(f"{step:.{places}f}") == step or places > 9 else 1
    first = math.ceil(low / step - 1e-9)
    count = math.floor(high / step + 1e-9) - first + 1
    values = [(first + i) * step for i in range(count)]
    return [(v, f"{v + 0.0:,.{places}f}") for v in values]


def thinned(x: Floats, y: Floats, columns: int) -> tuple[Floats, Floats]:
    """A long line with the least and largest ``y`` of each of ``columns`` stretches, in order."""
    if len(x) <= 4 * columns:
        return x, y
    cuts = np.unique(np.linspace(0, len(x), columns + 1).astype(int))
    keep = {0, len(x) - 1}
    for a, b in pairwise(cuts):
        keep |= {int(a + np.argmin(y[a:b])), int(a + np.argmax(y[a:b]))}
    rows = np.array(sorted(keep))
    return x[rows], y[rows]


# --- SVG ---------------------------------------------------------------------------------------


def _polyline(x: Floats, y: Floats, box: _Box, colour: str, width: float, dash: str) -> str:
    parts = []
    for rows in _unbroken(np.isfinite(y)):
        points = " ".join(
            f"{_n(box.px(a))},{_n(box.py(b))}" for a, b in zip(x[rows], y[rows], strict=True)
        )
        dashes = f' stroke-dasharray="{dash}"' if dash else ""
        parts.append(
            f'<polyline points="{points}" fill="none" stroke="{colour}" stroke-width="{width:g}" '
            f'stroke-linejoin="round"{dashes}/>'
        )
    return "\n".join(parts)


def _unbroken(known: Iterable[bool]) -> list[slice]:
    edges = np.diff(np.concatenate(([0], np.asarray(known, dtype=int), [0])))
    starts, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
    return [slice(int(a), int(b)) for a, b in zip(starts, ends, strict=True)]


def _n(value: float) -> str:
    """A coordinate with two decimals and no minus zero: charts must not differ by rounding."""
    return f"{round(float(value), 2) + 0.0:.2f}"


def _line(
    x1: float, y1: float, x2: float, y2: float, colour: str, width: float, dash: str = ""
) -> str:
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    ends = f'x1="{_n(x1)}" y1="{_n(y1)}" x2="{_n(x2)}" y2="{_n(y2)}"'
    return f'<line {ends} stroke="{colour}" stroke-width="{width:g}"{dashes}/>'


def _text(
    x: float,
    y: float,
    text: str,
    colour: str,
    *,
    size: float = _TEXT,
    anchor: str = "start",
    bold: bool = False,
    back: str = "",
) -> str:
    if not text:
        return ""
    look = f'font-size="{size:g}" text-anchor="{anchor}" fill="{colour}"'
    look += ' font-weight="bold"' if bold else ""
    # An outline in the colour of the ground keeps letters clear of the lines behind them.
    look += f' stroke="{back}" stroke-width="4" paint-order="stroke"' if back else ""
    return f'<text x="{_n(x)}" y="{_n(y)}" {look}>{escape(text)}</text>'
