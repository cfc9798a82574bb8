"""The pull in progress: machine load against station with its limits, gear and clock."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from route3d.drawing.axes import Axes, figures_along, figures_up
from route3d.drawing.labels import apart
from route3d.drawing.marks import Box, Line, Mark, Rect, Ring, Text, stretches, thin
from route3d.drawing.text_width import Measure, fitting
from route3d.geometry.vectors import Floats
from route3d.units import convert, show, unit_label
from viewer.gauge import GEAR_WORDS, STOP_WORDS
from viewer.playback import NAMES, Playback, clock, clock_unit
from viewer.theme import Theme

MACHINE_WORDS = "machine line pull"
"""Name of the limit line for a pull that must not be made: it has no gears."""
UNKNOWN_YET = "Gear limit (no stop load yet)"

CHART_ROOM = (66.0, 40.0, 10.0, 44.0)
"""What the words round a chart take at 1600 x 1000: left, above, right, below."""

_MOST_BANDS = 60  # more bends than this would be a gray field
_SAMPLE = 30.0  # length of a line in the key
# A limit beyond this many peaks would press the curve flat: it is named instead.
_FAR = 4.0


@dataclass(frozen=True, slots=True, eq=False)
class LimitLine:
    """A limit line: ``values`` (m,) N, dashed or not."""

    words: str
    values: Floats
    dashed: bool


@dataclass(frozen=True, slots=True, eq=False)
class LoadChart:
    """A chart of the whole pull in ``axes``, the feed on the left: ``values`` (m,) N.

    ``bounds`` are the limit lines, the governing one first.
    """

    frames: Playback
    units: str
    axes: Axes
    values: Floats
    bounds: tuple[LimitLine, ...]
    title: str

    @property
    def over(self) -> NDArray[np.bool_]:
        """Where the values exceed the governing limit, (m,)."""
        return np.asarray(self.values > self.bounds[0].values * (1 + 1e-9))


def load_chart(frames: Playback, units: str, limit: float, rect: Rect) -> LoadChart:
    """The chart of a pull in ``rect``; without a rope that of the tension of the head.

    ``limit`` N is that of the cable's tension, for a pull without a rope.
    """
    known = bool(np.isfinite(frames.load).all())
    values = frames.load if known else frames.head_tension
    bounds = _bounds(frames) if known else (LimitLine("limit", np.full(len(values), limit), False),)
    peak = float(values.max(initial=0.0))
    limits = np.concatenate([b.values for b in bounds])
    shown = limits[np.isfinite(limits) & (limits <= _FAR * peak)]
    top = 1.15 * max(peak, float(shown.max(initial=0.0)), 1e-3)
    name = "Machine load" if known else "Tension at the head"
    title = f"{name}, {unit_label('force', units)}"
    x = (frames.length, 0.0) if frames.reverse else (0.0, frames.length)
    return LoadChart(frames, units, Axes(rect, x, (0.0, top)), values, bounds, title)


def _bounds(frames: Playback) -> tuple[LimitLine, ...]:
    gear = LimitLine(GEAR_WORDS if frames.gear_words else MACHINE_WORDS, frames.limit, True)
    return (LimitLine(STOP_WORDS, frames.stop, False), gear) if frames.stop_known else (gear,)


# --- the fixed part -----------------------------------------------------------------------------


def load_chart_items(chart: LoadChart, theme: Theme, unit: float, measure: Measure) -> list[Mark]:
    """The fixed part of the chart: frame, numbers, bends, ends, the whole course, the limits."""
    left, top, right, bottom = chart.axes.rect
    force, most = convert(1.0, "force", chart.units), int((bottom - top) / (30 * unit))
    items = _bends(chart, theme, unit, measure)
    items += figures_up(chart.axes, force, max(2, min(4, most)), 13 * unit, theme.grid, theme.faint)
    items += [*_stations(chart, theme, unit, measure), *_head(chart, theme, unit, measure)]
    items += _lines(chart, chart.values, theme.faint, 2 * unit)
    items += _over(chart, theme, 3 * unit, len(chart.values))
    for bound in reversed(chart.bounds):
        items += _lines(chart, bound.values, theme.alarm, 2 * unit, _dash(bound, unit))
    return [*items, Line(((left, top), (left, bottom), (right, bottom)), theme.line, unit)]


def _dash(bound: LimitLine, unit: float) -> str:
    return f"{7 * unit:g} {5 * unit:g}" if bound.dashed else ""


def _stations(chart: LoadChart, theme: Theme, unit: float, measure: Measure) -> Iterator[Mark]:
    """Numbers below the axis, under them what they are between the names of both ends."""
    left, _, right, bottom = chart.axes.rect
    length, frames = convert(1.0, "length", chart.units), chart.frames
    yield from figures_along(chart.axes, length, 13 * unit, 12 * unit, theme.faint)
    y, third = bottom + 31 * unit, (right - left) / 3 - 10 * unit
    name = f"station of the cable head, {unit_label('length', chart.units)}"
    ends = (f"feed: {frames.feed}", f"pull: {frames.pull}")
    feed, pull = (fitting(words, third, 13 * unit, True, measure) for words in ends)
    yield Text((left, y), ends[0], feed, theme.ink, True)
    yield Text((right, y), ends[1], pull, theme.ink, True, "right")
    size = fitting(name, third, 13 * unit, False, measure)
    yield Text(((left + right) / 2, y), name, size, theme.faint, False, "middle")


def _bends(chart: LoadChart, theme: Theme, unit: float, measure: Measure) -> list[Mark]:
    """Bends as bands, numbered above where there is room."""
    bends = chart.frames.bends
    if not 0 < len(bends) <= _MOST_BANDS:
        return []
    _, top, _, bottom = chart.axes.rect
    items: list[Mark] = []
    ends = chart.axes.across(bends)
    for a, b in np.sort(ends).tolist():
        middle, half = (a + b) / 2, max((b - a) / 2, unit)
        items.append(Box((middle - half, top, middle + half, bottom), theme.grid))
    middles = ends.mean(axis=1).tolist()
    at, size = top - 9 * unit, 12 * unit
    long = _numbers("bend ", middles, at, size, theme, measure)
    if len(long) < len(bends):
        long = _numbers("", middles, at, size, theme, measure)
    return [*items, *long]


def _numbers(
    before: str, middles: list[float], y: float, size: float, theme: Theme, measure: Measure
) -> list[Text]:
    """The numbers of bends over their middles, those omitted that would run into another."""
    order = sorted(range(len(middles)), key=middles.__getitem__)
    words = [f"{before}{number + 1}" for number in order]
    halves = [measure(word, size, False)[0] / 2 for word in words]
    spans = [(middles[k] - half, middles[k] + half) for k, half in zip(order, halves, strict=True)]
    return [
        Text((middles[order[i]], y), words[i], size, theme.faint, False, "middle")
        for i in apart(spans, 6.0)
    ]


def _head(chart: LoadChart, theme: Theme, unit: float, measure: Measure) -> Iterator[Mark]:
    """The title, and at the right the key of the lines; a line above the chart is named there."""
    left, top, right, _ = chart.axes.rect
    y, size = top - 28 * unit, 13 * unit
    yield Text((left, y), chart.title, 14 * unit, theme.ink, True)
    begin = left + measure(chart.title, 14 * unit, True)[0] + 20 * unit
    keys = [(b, _named(chart, b)) for b in chart.bounds if np.isfinite(b.values).any()]
    samples = sum(_SAMPLE + 6 for b, _ in keys if _seen(chart, b)) * unit + 20 * unit * len(keys)
    words = "".join(w for _, w in keys)
    size = fitting(words, right - begin - samples, size, True, measure)
    x = right
    for bound, text in reversed(keys):
        yield Text((x, y), text, size, theme.alarm, True, "right")
        x -= measure(text, size, True)[0] + 6 * unit
        if _seen(chart, bound):
            ends = ((x - _SAMPLE * unit, y), (x, y))
            yield Line(ends, theme.alarm, 2 * unit, _dash(bound, unit))
            x -= _SAMPLE * unit
        x -= 14 * unit


def _seen(chart: LoadChart, bound: LimitLine) -> bool:
    return bool((bound.values <= chart.axes.y[1]).any())


def _named(chart: LoadChart, bound: LimitLine) -> str:
    if _seen(chart, bound):
        return bound.words
    lowest = show(float(np.nanmin(bound.values)), "force", chart.units)
    return f"{bound.words} {lowest}, above chart"


# --- lines -------------------------------------------------------------------------------------


def _lines(
    chart: LoadChart, values: Floats, color: str, width: float, dash: str = ""
) -> Iterator[Line]:
    """The course of some values as far as they are in the chart, cut off at its head."""
    top = chart.axes.y[1]
    inside = np.asarray(values <= top)
    near = inside.copy()  # with the place before and after, so that a step to what is above is seen
    near[1:] |= inside[:-1]
    near[:-1] |= inside[1:]
    for rows in _stretches(near & np.isfinite(values)):
        capped = np.minimum(values[rows], top)
        yield Line(thin(chart.axes.place(chart.frames.station[rows], capped)), color, width, dash)


def _stretches(wanted: NDArray[np.bool_]) -> list[slice]:
    """The runs of two or more true values."""
    return [rows for rows in stretches(wanted) if rows.stop - rows.start > 1]


def _over(chart: LoadChart, theme: Theme, width: float, until: int) -> Iterator[Line]:
    """The course in red where it is above the line to stay below, up to a frame."""
    for rows in _stretches(chart.over[:until]):
        pixels = chart.axes.place(chart.frames.station[rows], chart.values[rows])
        yield Line(thin(pixels), theme.alarm, width)


# --- what moves --------------------------------------------------------------------------------


def now_items(chart: LoadChart, pulled: float, theme: Theme, unit: float) -> list[Mark]:
    """What moves: the course up to ``pulled`` m of cable, and the head on it."""
    whole = chart.frames
    done = int(np.searchsorted(whole.pulled, pulled, side="right"))
    value = float(np.interp(pulled, whole.pulled, chart.values))
    station = float(np.interp(pulled, whole.pulled, whole.station))
    course = chart.axes.place(
        np.append(whole.station[:done], station), np.append(chart.values[:done], value)
    )
    over = bool(chart.over[min(done, len(whole)) - 1])
    color = theme.alarm if over else theme.ink
    place = (float(course[-1, 0]), float(course[-1, 1]))
    items: list[Mark] = []
    if done > 1:
        items.append(Line(thin(course), theme.ink, 3.5 * unit))
        items += _over(chart, theme, 4.5 * unit, done)
    top, bottom = chart.axes.rect[1], chart.axes.rect[3]
    items.append(Line(((place[0], top), (place[0], bottom)), theme.line, 1.2 * unit))
    return [*items, Ring(place, 6.5 * unit, theme.ground, 1.5 * unit, color)]


# --- figures -----------------------------------------------------------------------------------


def figures(frames: Playback, at: int, units: str) -> tuple[tuple[str, str, bool], ...]:
    """Name and value of each figure for a head location, and whether it exceeds its limit."""
    load, limit, least = (float(x[at]) for x in (frames.load, frames.limit, frames.least))
    over = bool(frames.over[at])
    found = [
        ("Cable in", show(float(frames.pulled[at]), "length", units), False),
        ("Tension at the head", show(float(frames.head_tension[at]), "force", units), False),
    ]
    told = frames.headlines(at, units)
    found += [
        (f"{name.capitalize()}, {one.length} in: expected / caution / stop", one.short, False)
        for name, one in zip(NAMES, told, strict=False)
    ]
    if math.isfinite(load) and not told:
        name = "Machine load: OVER" if over else "Machine load"
        found.append((name, show(load, "force", units), over))
    if math.isfinite(limit) and not frames.gear_words:
        found.append((MACHINE_WORDS.capitalize(), show(least, "force", units), over))
    elif math.isfinite(limit):
        gear = int(frames.gear[at])
        words = "none strong enough" if gear < 0 else frames.gear_words[gear]
        elapsed = float(frames.elapsed[at])
        if not told:
            found.append((UNKNOWN_YET, show(least, "force", units), over))
        elif over:
            found.append(("Machine load: OVER", frames.governs(at), True))
        found += [
            ("Gear" if gear >= 0 else "Gear: plan ended", words, gear < 0),
            (f"Elapsed, {clock_unit(elapsed)}", clock(elapsed), False),
        ]
    else:
        found.append((f"Stop load: {frames.lacking}", "not known", False))
    return tuple(found)


def figure_items(
    frames: Playback,
    at: int,
    units: str,
    room: Rect,
    theme: Theme,
    unit: float,
    measure: Measure,
    columns: int = 0,
) -> list[Mark]:
    """The figures in ``columns`` of equal width, so that none jumps as they change; 0: one row."""
    found = figures(frames, at, units)
    # the readings and what lacks for them are the longest of the names
    wide = [1.0] * columns or [1.6 if name.startswith(_LONG) else 1.0 for name, *_ in found]
    ends = np.cumsum([0.0, *wide]) * (room[2] - room[0]) / sum(wide)
    items: list[Mark] = []
    for k, (name, value, over) in enumerate(found):
        row, column = divmod(k, len(wide))
        x, y = room[0] + float(ends[column]), room[1] + row * FIGURE_ROW * unit
        width = float(ends[column + 1] - ends[column]) - 10 * unit
        color = theme.alarm if over else theme.ink
        size = fitting(value, width, 21 * unit, True, measure)
        name, small = shortened(name, width, 14 * unit, over, measure)
        named = theme.alarm if over else theme.faint
        items.append(Text((x, y + 12 * unit), name, small, named, over))
        items.append(Text((x, y + 34 * unit), value, size, color, True))
    return items


_LONG = ("Stop load", "Now", "Next")
LEAST_LETTERS = 8.5
"""Pixels below which nobody reads a name."""

FIGURE_ROW = 50.0
"""Height of a row of figures at 1600 x 1000."""


def shortened(
    text: str, width: float, size: float, bold: bool, measure: Measure
) -> tuple[str, float]:
    """The text at a letter height that can be read, its end cut off where it does not fit."""
    size = max(fitting(text, width, size, bold, measure), min(size, LEAST_LETTERS))
    kept = text
    while len(kept) > 4 and measure(kept, size, bold)[0] > width:
        kept = kept[:-2].rstrip(" …") + "…"
    return kept, size


def key_items(at: tuple[float, float], theme: Theme, unit: float, measure: Measure) -> list[Mark]:
    """Which color is cable and which is rope."""
    items: list[Mark] = []
    x, y = at
    for color, words, tall in ((theme.feed, "cable", 8.0), (theme.machine, "rope", 3.6)):
        half = tall * unit / 2
        items.append(Box((x, y - half, x + 30 * unit, y + half), color))
        items.append(Text((x + 37 * unit, y), words, 14 * unit, theme.ink))
        x += 37 * unit + measure(words, 14 * unit, False)[0] + 20 * unit
    return items
