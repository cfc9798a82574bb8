"""The legend of a scale of categories: a square of color and its words for each."""

from __future__ import annotations

from viewer.overlay import Box, Item, Measure, Rect, Text, wrapped
from viewer.scene_data import ColourScale
from viewer.theme import Theme, category_colour

_SWATCH, _PAD = 18.0, 10.0
_LETTERS, _SMALL = 15.0, 13.0


def legend_width(scale: ColourScale, unit: float, measure: Measure) -> float:
    """Pixels the legend takes; what is longer than a name wraps."""
    names = [measure(lines[0], _LETTERS * unit, True)[0] for lines in scale.categories]
    details = [measure(line, _SMALL * unit, False)[0] for c in scale.categories for line in c[1:]]
    widest = min(max(names + details) + 2, 220 * unit) + (_SWATCH + _PAD) * unit
    return max(widest, measure(scale.title, 16 * unit, True)[0], 150 * unit)


def legend_items(
    scale: ColourScale, room: Rect, unit: float, theme: Theme, measure: Measure
) -> list[Item]:
    """The legend in ``room``; categories without room are counted at its foot."""
    y = room[1] + 4 * unit
    title_tall = measure(scale.title, 16 * unit, True)[1]
    items: list[Item] = [
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
) -> tuple[list[Item], float]:
    """One category from the top of ``room`` down, and where it ends."""
    left, y = room[0] + (_SWATCH + _PAD) * unit, room[1]
    colour = "#{:02x}{:02x}{:02x}".format(*category_colour(index))
    swatch = (room[0], y + 2 * unit, room[0] + _SWATCH * unit, y + (2 + _SWATCH) * unit)
    items: list[Item] = [Box(swatch, colour, theme.line, 1.0, 3 * unit)]
    for k, line in enumerate(lines):
        size = (_SMALL if k else _LETTERS) * unit
        for part in wrapped(line, room[2] - left, size, k == 0, measure):
            tall = measure(part, size, k == 0)[1]
            items.append(Text((left, y + tall / 2), part, size, theme.ink, k == 0))
            y += tall
    return items, y
