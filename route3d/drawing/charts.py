"""Charts as marks: legible in black and white, in any theme.

Values come in display units; the labels name them. The same input gives the same marks.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from route3d.drawing.axes import Axes, above, steeper, thinned, tick_step, ticks
from route3d.drawing.labels import LabelRoom, apart
from route3d.drawing.marks import Bools, Box, Line, Mark, Ring, Shape, stretches, written
from route3d.geometry.vectors import Floats

ChartTheme = Mapping[str, str]
"""Colors by what they are for: those of ``PRINT``."""
Size = tuple[int, int]
Limit = tuple[float, str]
"""A value in display units and its name."""
Place = tuple[float, str]
"""A station in display units and the name of what is there."""
Band = tuple[float, float, str]
"""A stretch from one station to another and its short name, such as a bend's number."""

PRINT: ChartTheme = MappingProxyType(
    {
        "ground": "#ffffff",
        "ink": "#111111",
        "faint": "#555555",
        "line": "#d0d0d0",
        "band": "#ececec",
        "between": "#d7e3f1",
        "inner": "#9fbfe0",
        "series": "#0b5cad",
        "second": "#7a3e9d",
        "limit": "#b3370f",
    }
)
_LEFT, _RIGHT, _BOTTOM, _GAP = 64.0, 16.0, 46.0, 34.0
_TEXT, _SMALL, _WIDE = 13.0, 12.0, 0.6  # a letter is about 0.6 of its height wide
# A limit farther up than this many peaks would press the curve flat: it is named instead.
_FAR = 2.5
_TRIED = 9  # places along a panel
_STROKES = 9  # lines that stand for the area of a band
_OVER, _UNDER, _BESIDE = 14.0, 6.0, 6.0  # px about the foot of a line of words that stay free
_DOT = 2.4  # px, radius of a point
_EDGE = 0.06  # of the height kept free over and under a curve that does not start from zero


@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """One line of a panel: ``x``, ``y`` (n,); NaN parts it. ``dash`` as in SVG, empty for solid."""

    name: str
    x: Floats
    y: Floats
    color: str = "series"
    dash: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Dots:
    """Points of a panel: ``x``, ``y`` (n,), and which are ``hollow`` (n,)."""

    name: str
    x: Floats
    y: Floats
    hollow: Bools
    color: str = "ink"


@dataclass(frozen=True, slots=True, eq=False)
class Between:
    """What lies between ``low`` and ``high`` (n,) over ``x`` (n,), shaded; NaN parts it.

    With a ``name`` it stands in the key of its panel.
    """

    x: Floats
    low: Floats
    high: Floats
    color: str = "between"
    name: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Panel:
    """One pair of axes; ``limit`` is level, ``share`` its part of the height.

    ``level`` is a height that is always in the panel, such as that of grade, with its name. A panel
    ``to_scale`` has heights in the unit of the stations, and its label says how much larger they
    are drawn. ``between`` is under the curves, ``dots`` over them. The panel ends at ``most`` where
    no value can lie higher.
    """

    label: str
    curves: tuple[Curve, ...]
    limit: Limit | None = None
    share: float = 1.0
    from_zero: bool = True
    level: Limit | None = None
    to_scale: bool = False
    between: tuple[Between, ...] = ()
    dots: tuple[Dots, ...] = ()
    most: float = math.inf


@dataclass(frozen=True, slots=True, eq=False)
class Chart:
    """Panels one below the other on one axis of stations ``x_label``.

    ``bends`` are shaded and numbered, ``places`` named along the top.
    """

    panels: tuple[Panel, ...]
    x_label: str = "station"
    title: str = ""
    bends: Sequence[Band] = ()
    places: Sequence[Place] = ()


def elevation_panels(
    station: Floats,
    elevation: Floats,
    label: str,
    grade: tuple[Floats, Floats] | None,
    below: Panel,
) -> tuple[Panel, ...]:
    """The unrolled route: elevation (n,) over another panel.

    ``grade`` is the ground by stations and elevations (k,), None where it is not shown.
    """
    curves, level = [Curve("", station, elevation, "ink")], None
    if grade is not None and np.ptp(grade[1]) == 0:
        level = (float(grade[1][0]), "grade")
    elif grade is not None:
        curves = [Curve("route", station, elevation, "ink"), Curve("grade", *grade, "faint", "8 5")]
    return (
        Panel(label, tuple(curves), None, 0.45, False, level, to_scale=True),
        replace(below, share=0.55),
    )


def chart_marks(
    chart: Chart, size: Size, theme: ChartTheme = PRINT, *, top: float = 0.0
) -> list[Mark]:
    """The marks of a chart that begins at ``top`` px."""
    boxes = _boxes(chart, size, top)
    head = boxes[0].rect[1] - _key_row(chart.panels[0], boxes[0])
    middle = (boxes[0].rect[0] + boxes[0].rect[2]) / 2
    letters = _title_size(chart.title, size[0])
    marks: list[Mark] = [
        written(_LEFT, top + 22, chart.title, letters, theme["ink"], bold=True),
        *_bands(boxes, chart.bends, head, theme),
        *(
            mark
            for panel, box in zip(chart.panels, boxes, strict=True)
            for band in panel.between
            for mark in _shaded(band, box, theme)
        ),
        *_places(boxes, chart.places, head, theme),
    ]
    for panel, box in zip(chart.panels, boxes, strict=True):
        marks += _panel(panel, box, theme, last=box is boxes[-1])
    foot = top + size[1] - 8
    return [*marks, written(middle, foot, chart.x_label, _TEXT, theme["ink"], "middle")]


def _title_size(title: str, width: int) -> float:
    """Letters in which a bold title still fits, px."""
    room = (width - _LEFT - _RIGHT) / (1.15 * _WIDE * max(len(title), 1))
    return min(15.0, round(room, 1))


def _boxes(chart: Chart, size: Size, top: float) -> list[Axes]:
    """Position of each panel: one below the other on the same x axis."""
    panels, right, foot = chart.panels, size[0] - _RIGHT, top + size[1] - _BOTTOM
    xs = np.concatenate([c.x for p in panels for c in p.curves])
    low, high = float(np.min(xs)), float(np.max(xs))
    span = (low, high if high > low else low + 1.0)
    top += 30.0 + 20 * bool(chart.title) + 20 * bool(chart.places) + 14 * bool(chart.bends)
    top += _key_row(panels[0], Axes((_LEFT, 0, right, 0), span, span))
    room, boxes = foot - top - _GAP * (len(panels) - 1), []
    for panel in panels:
        height = room * panel.share / sum(p.share for p in panels)
        boxes.append(Axes((_LEFT, top, right, top + height), span, _y_span(panel)))
        top += height + _GAP
    return boxes


def _key_row(panel: Panel, box: Axes) -> float:
    """Height of a row of its own for the key, where it has no room beside the panel's name."""
    named = _named(panel)
    if len(named) < 2:
        return 0.0
    key = sum(_WIDE * _SMALL * len(c.name) + 44 for c in named)
    fits = key + _WIDE * _TEXT * len(panel.label) + 12 <= box.size[0]
    return 0.0 if fits else 18.0


def _named(panel: Panel) -> list[Curve | Between]:
    """What stands in the key, from the left."""
    each: list[Curve | Between] = [*panel.between, *panel.curves]
    return [one for one in each if one.name]


def _y_span(panel: Panel) -> tuple[float, float]:
    each = [c.y for c in panel.curves] + [d.y for d in panel.dots]
    each += [y for b in panel.between for y in (b.low, b.high)]
    ys = np.concatenate([y[np.isfinite(y)] for y in each])
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
    return math.floor(low / step + 1e-9) * step, min(top, panel.most)


def _panel(panel: Panel, box: Axes, theme: ChartTheme, *, last: bool) -> list[Mark]:
    left, top, right, _ = box.rect
    told = f" (vertical scale {steeper(box.steepness)})" if panel.to_scale else ""
    head = top - 8 - _key_row(panel, box)
    marks: list[Mark] = [
        written(left, head, panel.label + told, _TEXT, theme["ink"], bold=True),
        *grid_marks(box, theme, figures=last),
    ]
    if panel.level is not None:
        y = box.down(panel.level[0])
        marks.append(Line(((left, y), (right, y)), theme["faint"], 1.0, "8 5"))
        free = [
            (x, at) for at in (y - 5, y + 14) for x in _free(panel.level[1], at, panel, box)[-1:]
        ]
        marks += [written(*at, panel.level[1], _SMALL, theme["faint"]) for at in free[:1]]
    if panel.limit is not None and panel.limit[0] <= box.y[1]:
        y = box.down(panel.limit[0])
        marks.append(Line(((left, y), (right, y)), theme["limit"], 1.5, "7 4"))
    for curve in panel.curves:
        x, y_values = thinned(curve.x, curve.y, int(box.size[0]))
        marks.append(Line(box.place(x, y_values), theme[curve.color], 1.8, curve.dash))
        limit = math.inf if panel.limit is None or curve.dash else panel.limit[0]
        if (y_values > limit * (1 + 1e-9)).any():
            marks.append(Line(box.place(*above(x, y_values, limit)), theme["limit"], 3.6))
    for dots in panel.dots:
        marks += _dotted(dots, box, theme)
    marks += _limit_words(panel, box, theme)
    named = _named(panel)
    return marks + (_key(named, box, theme) if len(named) > 1 else [])


def _shaded(band: Between, box: Axes, theme: ChartTheme) -> Iterator[Mark]:
    """What lies between two lines, in one shape for each unbroken stretch."""
    for rows in stretches(np.isfinite(band.low) & np.isfinite(band.high)):
        there = box.place(band.x[rows], band.high[rows])
        back = box.place(band.x[rows], band.low[rows])[::-1]
        yield Shape(np.vstack((there, back)), theme[band.color])


def _dotted(dots: Dots, box: Axes, theme: ChartTheme) -> Iterator[Mark]:
    """Each point as a ring; hollow ones show the ground."""
    color = theme[dots.color]
    shown = np.isfinite(dots.x) & np.isfinite(dots.y)
    for (x, y), hollow in zip(
        box.place(dots.x, dots.y)[shown].tolist(), dots.hollow[shown].tolist(), strict=True
    ):
        yield Ring((x, y), _DOT, color, 1.1, theme["ground"] if hollow else color)


def _limit_words(panel: Panel, box: Axes, theme: ChartTheme) -> list[Mark]:
    """The name of the limit: at its line where no curve is, else at the right above the panel."""
    if panel.limit is None:
        return []
    far, (left, top, right, _) = panel.limit[0] > box.y[1], box.rect
    told = [panel.limit[1] + w for w in ((", above this chart", ", above chart") if far else ("",))]
    line, color, back = box.down(panel.limit[0]), theme["limit"], theme["ground"]
    over = line - 5 if line - 5 - _TEXT >= top or not panel.between else line + 15
    y = top + 14 if far else over
    for words in told:
        for x in _free(words, y, panel, box)[:1]:
            return [written(x, y, words, _TEXT, color, back=back)]
    for words in told if len(_named(panel)) < 2 else []:
        if right - _WIDE * _TEXT * (len(panel.label) + len(words)) - 16 >= left:
            return [written(right, top - 8, words, _TEXT, color, "right")]
    return [written(left + 6, y, told[-1], _TEXT, color, back=back)]


def _free(words: str, y: float, panel: Panel, box: Axes) -> list[float]:
    """Where words with their foot at ``y`` may begin so that they meet no curve, left to right."""
    (left, top, right, bottom), wide = box.rect, _WIDE * _TEXT * len(words)
    room = LabelRoom((left, top - _OVER / 2, right, bottom))
    for curve in panel.curves:
        room.take_line(box.place(curve.x, curve.y), 2.0)
    for band in panel.between:
        for part in np.linspace(0.0, 1.0, _STROKES).tolist():
            room.take_line(box.place(band.x, band.low + part * (band.high - band.low)), 4.0)
    last = max(right - wide - _BESIDE, left + _BESIDE)
    starts = np.linspace(left + _BESIDE, last, _TRIED).tolist()
    over, under = y - _OVER, y + _UNDER
    return [x for x in starts if room.free((x - _BESIDE, over, x + wide + _BESIDE, under))]


def grid_marks(
    box: Axes, theme: ChartTheme = PRINT, *, figures: bool = True, columns: int = 0
) -> list[Mark]:
    """Lines at round values with their ``figures``; at most ``columns`` of x, as fit for none."""
    marks: list[Mark] = []
    (left, top, right, bottom), (wide, high) = box.rect, box.size
    for value, words in ticks(box.y, max(2, min(5, int(high / 34)))):
        y = box.down(value)
        marks.append(Line(((left, y), (right, y)), theme["line"], 0.8))
        marks.append(written(left - 7, y + 4, words, _SMALL, theme["faint"], "right"))
    for value, words in ticks(box.x, columns or max(2, int(wide / 95))):
        x = box.across(value)
        marks.append(Line(((x, top), (x, bottom)), theme["line"], 0.8))
        if figures:
            marks.append(written(x, bottom + 17, words, _SMALL, theme["faint"], "middle"))
    ends = ((left, top), (right, bottom))
    return [*marks, *(Line(((left, bottom), end), theme["ink"], 1.0) for end in ends)]


def _key(named: Sequence[Curve | Between], box: Axes, theme: ChartTheme) -> list[Mark]:
    """Names of several curves and shades, at the right above the panel."""
    marks: list[Mark] = []
    _, top, right, _ = box.rect
    for each in reversed(named):
        start, y, color = right - _WIDE * _SMALL * len(each.name), top - 12, theme[each.color]
        marks.append(written(start, top - 8, each.name, _SMALL, theme["ink"]))
        if isinstance(each, Between):
            marks.append(Box((start - 32, y - 5, start - 6, y + 5), color))
        else:
            marks.append(Line(((start - 32, y), (start - 6, y)), color, 1.8, each.dash))
        right = start - 44
    return marks


def _bands(
    boxes: Sequence[Axes], bends: Sequence[Band], head: float, theme: ChartTheme
) -> list[Mark]:
    """Bends as shaded stretches, with their numbers above where there is room."""
    marks: list[Mark] = []
    names, spans = [], []
    for start, end, name in sorted(bends):
        left = boxes[0].across(start)
        wide, half = max(boxes[0].across(end) - left, 2.0), _WIDE * _SMALL * len(name) / 2
        marks += [Box((left, b.rect[1], left + wide, b.rect[3]), theme["band"]) for b in boxes]
        middle = left + wide / 2
        names.append(written(middle, head - 24, name, _SMALL, theme["faint"], "middle"))
        spans.append((middle - half, middle + half))
    return marks + [names[i] for i in apart(spans, 4)]


def _places(
    boxes: Sequence[Axes], places: Sequence[Place], head: float, theme: ChartTheme
) -> list[Mark]:
    """Names along the top, the ends first; what would run into another is omitted."""
    marks: list[Mark] = []
    names, spans = [], []
    (low, high), (left, top, right, _) = boxes[0].x, boxes[0].rect
    for at, name in sorted(places, key=lambda p: min(p[0] - low, high - p[0])):
        x, half = boxes[0].across(at), _WIDE * _SMALL * len(name) / 2
        middle = min(max(x, left + half - 20), right - half + 10)
        marks.append(Line(((x, top), (x, boxes[-1].rect[3])), theme["faint"], 1.0))
        if name:
            names.append(written(middle, head - 40, name, _SMALL, theme["ink"], "middle"))
            spans.append((middle - half, middle + half))
    return marks + [names[i] for i in apart(spans, 8)]
