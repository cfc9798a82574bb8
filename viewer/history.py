"""The pull as it goes on: machine load against station with its limit, gear and clock."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from route3d.geometry.vectors import Floats
from route3d.units import convert, show, unit_label
from viewer.axes import Axes, round_between, thin, tick_words
from viewer.gauge import LEAST_WORDS
from viewer.overlay import Box, Item, Line, Measure, Rect, Ring, Text
from viewer.playback import Playback, clock, clock_unit
from viewer.theme import Theme


@dataclass(frozen=True, slots=True, eq=False)
class History:
    """A chart of the whole pull in ``axes``: ``values`` (m,) and ``limit`` (m,) N at each frame.

    ``limit`` is the load to stay below: that of the gear, or the stop load where it is lower.
    """

    frames: Playback
    units: str
    axes: Axes
    values: Floats
    limit: Floats
    title: str


def history(frames: Playback, units: str, limit: float, rect: Rect) -> History:
    """The chart of a pull in ``rect``; without a rope that of the tension of the head.

    ``limit`` N is that of the cable's tension, for a pull without a rope.
    """
    known = bool(np.isfinite(frames.load).all())
    values = frames.load if known else frames.head_tension
    limits = frames.least if known else np.full(len(values), limit)
    peak = float(values.max(initial=0.0))
    shown = limits[np.isfinite(limits) & (limits <= 4 * peak)]
    top = 1.15 * max(peak, float(shown.max(initial=0.0)), 1e-3)
    name = "Machine load" if known else "Tension of the cable head"
    title = f"{name}, {unit_label('force', units)}"
    axes = Axes(rect, (0.0, frames.length), (0.0, top))
    return History(frames, units, axes, values, limits, title)


def history_items(chart: History, theme: Theme, unit: float) -> list[Item]:
    """What of the chart stands still: frame, numbers, the whole course, the limit."""
    left, top, right, bottom = chart.axes.rect
    items: list[Item] = [Text((left, top - 13 * unit), chart.title, 14 * unit, theme.ink, True)]
    high = convert(chart.axes.y[1], "force", chart.units)
    for value in round_between(0.0, high, int(max(2, min(4, (bottom - top) / (30 * unit))))):
        y = bottom - value / high * (bottom - top)
        items.append(Line(((left, y), (right, y)), theme.grid, 1.0))
        at = (left - 8 * unit, y)
        items.append(Text(at, tick_words(value), 13 * unit, theme.faint, False, "right"))
    items += _stations(chart, theme, unit)
    items.append(_line(chart, chart.values, theme.faint, 1.6 * unit))
    items += (_line(chart, chart.values, theme.alarm, 3 * unit, rows) for rows in _over(chart))
    return [*items, *_limit(chart, theme, unit)]


def _stations(chart: History, theme: Theme, unit: float) -> list[Item]:
    left, top, right, bottom = chart.axes.rect
    full = convert(chart.axes.x[1], "length", chart.units)
    items: list[Item] = [Line(((left, top), (left, bottom), (right, bottom)), theme.line, unit)]
    for value in round_between(0.0, full, 8 if right - left > 500 else 4):
        x = left + value / full * (right - left)
        words = tick_words(value)
        items.append(Text((x, bottom + 13 * unit), words, 13 * unit, theme.faint, False, "middle"))
    name = f"Station of the cable head, {unit_label('length', chart.units)}"
    return [*items, Text((right, top - 13 * unit), name, 13 * unit, theme.faint, False, "right")]


def _over(chart: History) -> Iterator[slice]:
    """The stretches of frames whose load is above the one to stay below."""
    above = np.concatenate(([False], chart.values > chart.limit * (1 + 1e-9), [False]))
    ends = np.flatnonzero(np.diff(above.astype(int)))
    for first, last in zip(ends[::2].tolist(), ends[1::2].tolist(), strict=True):
        if last - first > 1:
            yield slice(first, last)


def _line(
    chart: History, values: Floats, colour: str, width: float, rows: slice = slice(None)
) -> Line:
    pixels = thin(chart.axes.place(chart.frames.station[rows], values[rows]))
    return Line(tuple((float(x), float(y)) for x, y in pixels), colour, width)


def _limit(chart: History, theme: Theme, unit: float) -> list[Item]:
    """The load to stay below, and what it is; the course in red where it is above."""
    left, top, right, _ = chart.axes.rect
    near = chart.limit <= chart.axes.y[1]
    if not near.any():
        known = chart.limit[np.isfinite(chart.limit)]
        if not known.size:
            return []
        words = f"limit {show(float(known.max()), 'force', chart.units)}, above"
        middle = ((left + right) / 2, top - 13 * unit)
        return [Text(middle, words, 13 * unit, theme.alarm, True, "middle")]
    pixels = chart.axes.place(chart.frames.station, np.minimum(chart.limit, chart.axes.y[1]))
    line = tuple((float(x), float(y)) for x, y in thin(pixels))
    told = np.isfinite(chart.frames.stop).any()
    words = "limit of the gear in use" if chart.frames.gear_words else "limit"
    words = LEAST_WORDS if told else words
    middle = ((left + right) / 2, top - 13 * unit)
    return [
        Line(line, theme.alarm, 2 * unit),
        Text(middle, words, 13 * unit, theme.alarm, True, "middle"),
    ]


def now_items(chart: History, pulled: float, theme: Theme, unit: float) -> list[Item]:
    """What moves: the course up to ``pulled`` m of cable, and the head on it."""
    whole = chart.frames
    done = int(np.searchsorted(whole.pulled, pulled, side="right"))
    value = float(np.interp(pulled, whole.pulled, chart.values))
    station = float(np.interp(pulled, whole.pulled, whole.station))
    course = chart.axes.place(
        np.append(whole.station[:done], station), np.append(chart.values[:done], value)
    )
    over = value > float(chart.limit[min(done, len(whole)) - 1]) * (1 + 1e-9)
    colour = theme.alarm if over else theme.ink
    place = (float(course[-1, 0]), float(course[-1, 1]))
    items: list[Item] = []
    if done > 1:
        line = tuple((float(x), float(y)) for x, y in thin(course))
        items.append(Line(line, theme.ink, 3 * unit))
    top, bottom = chart.axes.rect[1], chart.axes.rect[3]
    items.append(Line(((place[0], top), (place[0], bottom)), theme.line, 1.2 * unit))
    return [*items, Ring(place, 6 * unit, theme.ground, 1.5 * unit, colour)]


# --- figures -----------------------------------------------------------------------------------


def figures(frames: Playback, at: int, units: str) -> tuple[tuple[str, str, bool], ...]:
    """Name and value of what a crew would ask with the head at a place, and whether it is over."""
    load, limit, least = (float(x[at]) for x in (frames.load, frames.limit, frames.least))
    over = load > least * (1 + 1e-9)
    found = [
        ("Cable pulled", show(float(frames.pulled[at]), "length", units), False),
        ("Tension at the head", show(float(frames.head_tension[at]), "force", units), False),
    ]
    if math.isfinite(load):
        name = "Machine load: OVER" if over else "Machine load"
        found.append((name, show(load, "force", units), over))
    if math.isfinite(limit):
        gear = int(frames.gear[at])
        words = "none holds" if gear < 0 else frames.gear_words[gear]
        elapsed = float(frames.elapsed[at])
        found += [
            ("Gear" if gear >= 0 else "Gear: the plan has ended", words, gear < 0),
            (f"Limit: {frames.governs(at)}", show(least, "force", units), over),
            (f"Elapsed, {clock_unit(elapsed)}", clock(elapsed), False),
        ]
    return tuple(found)


def figure_items(
    frames: Playback,
    at: int,
    units: str,
    room: Rect,
    theme: Theme,
    unit: float,
    measure: Measure,
) -> list[Item]:
    """The figures in columns of equal width, so that none jumps as they change."""
    found = figures(frames, at, units)
    step = (room[2] - room[0]) / max(len(found), 1)
    y = room[1]
    items: list[Item] = []
    for k, (name, value, over) in enumerate(found):
        x, colour = room[0] + k * step, theme.alarm if over else theme.ink
        size = fitting(value, step - 10 * unit, 21 * unit, True, measure)
        small = fitting(name, step - 10 * unit, 13 * unit, False, measure)
        items.append(Text((x, y + 12 * unit), name, small, theme.faint))
        items.append(Text((x, y + 34 * unit), value, size, colour, True))
    return items


def fitting(text: str, width: float, size: float, bold: bool, measure: Measure) -> float:
    """The letter height up to ``size`` at which a text fits; never below six pixels."""
    wide = measure(text, size, bold)[0]
    return size if wide <= width else max(6.0, size * width / wide - 0.5)


def key_items(at: tuple[float, float], theme: Theme, unit: float, measure: Measure) -> list[Item]:
    """Which colour is cable and which is rope."""
    items: list[Item] = []
    x, y = at
    for colour, words, tall in ((theme.feed, "cable", 8.0), (theme.machine, "rope", 3.6)):
        half = tall * unit / 2
        items.append(Box((x, y - half, x + 30 * unit, y + half), colour))
        items.append(Text((x + 37 * unit, y), words, 14 * unit, theme.ink))
        x += 37 * unit + measure(words, 14 * unit, False)[0] + 20 * unit
    return items
