"""The upright color bar with its numbers, and the marks of peak and limit beside it."""

from __future__ import annotations

import math

from route3d.units import convert, unit_label
from viewer.legend import legend_items, legend_width
from viewer.overlay import Box, Item, Line, Measure, Rect, Shape, Strip, Text, wrapped
from viewer.scale import MOST_PERCENT, shown
from viewer.scene_data import ColourScale
from viewer.theme import OVER_LIMIT, Theme, colour_table

_MOST_TICKS = 6
_WIDTH = 26.0
_PAD = 15.0


def ticks(full: float, most: int = _MOST_TICKS) -> tuple[float, ...]:
    """Round numbers from 0 to ``full``, in the unit shown, at most ``most`` steps."""
    need = full / most
    power = 10.0 ** math.floor(math.log10(need))
    step = min(m * power for m in (1, 2, 2.5, 5, 10) if m * power >= need * (1 - 1e-9))
    return tuple(float(step * k) for k in range(math.floor(full / step * (1 + 1e-9)) + 1))


def _words(scale: ColourScale, units: str) -> tuple[str, str, str]:
    """Unit under the title, the mark of the peak, the mark at the head of the bar."""
    unit = unit_label(scale.quantity, units)
    return unit, f"peak {_shown(scale.peak, scale, units)}", _head(scale, units)


def _shown(value: float, scale: ColourScale, units: str) -> str:
    text = shown(value, scale.limit, scale.quantity, units)
    if scale.quantity != "percent" or text.startswith(">"):
        return text
    return f"{value:,.0f} x" if value >= MOST_PERCENT else text.replace("%", " %")


def _head(scale: ColourScale, units: str) -> str:
    return "limit" if scale.full >= scale.limit else _shown(scale.full, scale, units)


def bar_width(scale: ColourScale, units: str, unit: float, measure: Measure) -> float:
    """Pixels the bar takes with all its words."""
    if scale.categories:
        return legend_width(scale, unit, measure)
    _, peak, head = _words(scale, units)
    small = [measure(t, 14 * unit, True)[0] for t in (*_tick_texts(scale, units), peak, head)]
    title = max(measure(word, 16 * unit, True)[0] for word in scale.title.split())
    return max(max(small) + (_WIDTH + _PAD) * unit, title, 120 * unit)


def _tick_texts(scale: ColourScale, units: str) -> list[str]:
    marks = ticks(convert(scale.full, scale.quantity, units))
    places = next(
        p for p in range(9) if all(abs(t - round(t, p)) < 1e-9 * marks[-1] for t in marks)
    )
    return [f"{t:,.{places}f}" for t in marks]


def bar_items(
    scale: ColourScale, units: str, room: Rect, unit: float, theme: Theme, measure: Measure
) -> list[Item]:
    """The bar in ``room``; where the limit is broken a cap of its own color stands on top.

    A scale of categories takes a legend instead.
    """
    if scale.categories:
        return legend_items(scale, room, unit, theme, measure)
    named, peak, _ = _words(scale, units)
    items: list[Item] = []
    y = room[1] + 4 * unit
    title = wrapped(scale.title, room[2] - room[0], 16 * unit, True, measure)
    for line, bold in [(t, True) for t in title] + [(named, False)]:
        tall = measure(line, 16 * unit, bold)[1]
        items.append(Text((room[0], y + tall / 2), line, 16 * unit, theme.ink, bold))
        y += tall
    bar_top, bottom = y + 14 * unit, room[3] - 10 * unit
    if scale.broken:
        items += _cap(room[0], bar_top, unit, theme, peak)
        bar_top += 34 * unit
    rect = (room[0], bar_top, room[0] + _WIDTH * unit, bottom)
    table = tuple((int(r), int(g), int(b)) for r, g, b in colour_table(theme))
    items.append(Strip(rect, table))
    return items + _marks(scale, units, rect, unit, theme, peak)


def _cap(x: float, top: float, unit: float, theme: Theme, peak: str) -> list[Item]:
    box = (x, top, x + _WIDTH * unit, top + 28 * unit)
    text = Text((box[2] + _PAD * unit, top + 14 * unit), peak, 14 * unit, theme.alarm, True)
    return [Box(box, OVER_LIMIT), text]


def _marks(
    scale: ColourScale, units: str, rect: Rect, unit: float, theme: Theme, peak: str
) -> list[Item]:
    """Ticks, and over them the limit and the peak; a tick under a mark is left out."""
    left, top, right, bottom = rect
    x = right + _PAD * unit

    def height(value: float) -> float:
        return float(bottom - value / scale.full * (bottom - top))

    marks = []
    if scale.full >= scale.limit * (1 - 1e-12):
        marks.append((height(scale.limit), "limit", theme.alarm))
    if not scale.broken:
        marks.append((height(scale.peak), peak, theme.ink))
    line = 20 * unit
    if len(marks) == 2 and abs(marks[0][0] - marks[1][0]) < line:
        marks[1] = (marks[0][0] + line, *marks[1][1:])
    items: list[Item] = []
    for y, text, colour in marks:
        items.append(Text((x, y), text, 14 * unit, colour, True))
    if not scale.broken:
        y = height(scale.peak)
        tip = ((right + 1 * unit, y), (right + 10 * unit, y - 6 * unit))
        items.append(Shape((*tip, (right + 10 * unit, y + 6 * unit)), theme.ink))
    if scale.full >= scale.limit * (1 - 1e-12):
        y = height(scale.limit)
        items.append(Line(((left - 4 * unit, y), (right + 8 * unit, y)), theme.alarm, 3 * unit))
    full = convert(scale.full, scale.quantity, units)
    for value, text in zip(ticks(full), _tick_texts(scale, units), strict=True):
        y = float(bottom - value / full * (bottom - top))
        items.append(Line(((right, y), (right + 5 * unit, y)), theme.faint, 1.2 * unit))
        if all(abs(y - mark[0]) > 0.9 * line for mark in marks):
            items.append(Text((x, y), text, 14 * unit, theme.ink))
    return items
