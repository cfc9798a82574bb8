"""The upright color bar with its numbers, peak and limit, or the legend of its categories."""

from __future__ import annotations

from route3d.drawing.axes import ticks
from route3d.drawing.marks import Box, Line, Mark, Rect, Shape, Strip, Text
from route3d.drawing.text_width import Measure, wrapped
from route3d.units import convert, unit_label
from viewer.scene.records import ColorScale
from viewer.scene.scale import MOST_PERCENT, shown
from viewer.theme import OVER_LIMIT, Theme, category_color, color_table

_MOST_TICKS = 6
_WIDTH = 26.0
_PAD = 15.0
_SWATCH, _BESIDE = 18.0, 10.0
_LETTERS, _SMALL = 15.0, 13.0


def _words(scale: ColorScale, units: str) -> tuple[str, str, str]:
    """Unit under the title, the mark of the peak, the mark at the head of the bar."""
    unit = unit_label(scale.quantity, units)
    return unit, f"peak {_shown(scale.peak, scale, units)}", _head(scale, units)


def _shown(value: float, scale: ColorScale, units: str) -> str:
    text = shown(value, scale.limit, scale.quantity, units)
    if scale.quantity != "percent" or text.startswith(">"):
        return text
    return f"{value:,.0f} x" if value >= MOST_PERCENT else text


def _head(scale: ColorScale, units: str) -> str:
    return "limit" if scale.full >= scale.limit else _shown(scale.full, scale, units)


def bar_width(scale: ColorScale, units: str, unit: float, measure: Measure) -> float:
    """Pixels the bar takes with all its words."""
    if scale.categories:
        return _legend_width(scale, unit, measure)
    _, peak, head = _words(scale, units)
    figures = [words for _, words in ticks(_span(scale, units), _MOST_TICKS)]
    small = [measure(t, 14 * unit, True)[0] for t in (*figures, peak, head)]
    title = max(measure(word, 16 * unit, True)[0] for word in scale.title.split())
    return max(max(small) + (_WIDTH + _PAD) * unit, title, 120 * unit)


def _span(scale: ColorScale, units: str) -> tuple[float, float]:
    """The figures at foot and head of the bar."""
    return 0.0, convert(scale.full, scale.quantity, units)


def bar_items(
    scale: ColorScale, units: str, room: Rect, unit: float, theme: Theme, measure: Measure
) -> list[Mark]:
    """The bar in ``room``; where the limit is exceeded a cap of its own color stands on top.

    A scale of categories takes a legend instead.
    """
    if scale.categories:
        return _legend_items(scale, room, unit, theme, measure)
    named, peak, _ = _words(scale, units)
    items: list[Mark] = []
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
    table = tuple((int(r), int(g), int(b)) for r, g, b in color_table(theme))
    items.append(Strip(rect, table))
    return items + _marks(scale, units, rect, unit, theme, peak)


def _cap(x: float, top: float, unit: float, theme: Theme, peak: str) -> list[Mark]:
    box = (x, top, x + _WIDTH * unit, top + 28 * unit)
    text = Text((box[2] + _PAD * unit, top + 14 * unit), peak, 14 * unit, theme.alarm, True)
    return [Box(box, OVER_LIMIT), text]


def _marks(
    scale: ColorScale, units: str, rect: Rect, unit: float, theme: Theme, peak: str
) -> list[Mark]:
    """Ticks, and over them the limit and the peak; a tick under a mark is omitted."""
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
    items: list[Mark] = []
    for y, text, color in marks:
        items.append(Text((x, y), text, 14 * unit, color, True))
    if not scale.broken:
        y = height(scale.peak)
        tip = ((right + 1 * unit, y), (right + 10 * unit, y - 6 * unit))
        items.append(Shape((*tip, (right + 10 * unit, y + 6 * unit)), theme.ink))
    if scale.full >= scale.limit * (1 - 1e-12):
        y = height(scale.limit)
        items.append(Line(((left - 4 * unit, y), (right + 8 * unit, y)), theme.alarm, 3 * unit))
    span = _span(scale, units)
    for value, text in ticks(span, _MOST_TICKS):
        y = float(bottom - value / span[1] * (bottom - top))
        items.append(Line(((right, y), (right + 5 * unit, y)), theme.faint, 1.2 * unit))
        if all(abs(y - mark[0]) > 0.9 * line for mark in marks):
            items.append(Text((x, y), text, 14 * unit, theme.ink))
    return items


# --- categories ---------------------------------------------------------------------------------


def _legend_width(scale: ColorScale, unit: float, measure: Measure) -> float:
    """Pixels the legend takes; what is longer than a name wraps."""
    names = [measure(lines[0], _LETTERS * unit, True)[0] for lines in scale.categories]
    details = [measure(line, _SMALL * unit, False)[0] for c in scale.categories for line in c[1:]]
    widest = min(max(names + details) + 2, 220 * unit) + (_SWATCH + _BESIDE) * unit
    return max(widest, measure(scale.title, 16 * unit, True)[0], 150 * unit)


def _legend_items(
    scale: ColorScale, room: Rect, unit: float, theme: Theme, measure: Measure
) -> list[Mark]:
    """The legend in ``room``; categories without room are counted at its foot."""
    y = room[1] + 4 * unit
    title_tall = measure(scale.title, 16 * unit, True)[1]
    items: list[Mark] = [
        Text((room[0], y + title_tall / 2), scale.title, 16 * unit, theme.ink, True)
    ]
    y += title_tall + 8 * unit
    for index, lines in enumerate(scale.categories):
        entry, below = _entry(index, lines, (room[0], y, room[2], room[3]), unit, theme, measure)
        last = index == len(scale.categories) - 1
        if below > room[3] - (0 if last else 24 * unit):
            more = f"+{len(scale.categories) - index} more"
            return [*items, Text((room[0], y + 10 * unit), more, 14 * unit, theme.faint, True)]
        items += entry
        y = below + 10 * unit
    return items


def _entry(
    index: int, lines: tuple[str, ...], room: Rect, unit: float, theme: Theme, measure: Measure
) -> tuple[list[Mark], float]:
    """One category from the top of ``room`` down, and where it ends."""
    left, y = room[0] + (_SWATCH + _BESIDE) * unit, room[1]
    color = "#{:02x}{:02x}{:02x}".format(*category_color(index))
    swatch = (room[0], y + 2 * unit, room[0] + _SWATCH * unit, y + (2 + _SWATCH) * unit)
    items: list[Mark] = [Box(swatch, color, theme.line, 1.0, 3 * unit)]
    for k, line in enumerate(lines):
        size = (_SMALL if k else _LETTERS) * unit
        for part in wrapped(line, room[2] - left, size, k == 0, measure):
            tall = measure(part, size, k == 0)[1]
            items.append(Text((left, y + tall / 2), part, size, theme.ink, k == 0))
            y += tall
    return items, y
