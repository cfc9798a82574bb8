"""The flat panels of the window that no still has: the keys, and the slider of the cable head."""

from __future__ import annotations

from viewer.fonts import measure as measured
from viewer.history import figure_items, key_items
from viewer.overlay import Box, Item, Measure, Text
from viewer.panels import Panels
from viewer.playback import Playback
from viewer.theme import Theme
from viewer.window_state import KEY_OF_RUNS, KEYS, State

STRIP = 120.0
"""Height at 1600 x 1000 that the window keeps for the slider and the figures of the pull."""

_SLIDER_AT = 26.0
_LETTERS = 14.0


def help_card(
    panels: Panels, theme: Theme, measure: Measure, *, several: bool = False
) -> tuple[Box, *tuple[Item, ...]]:
    """All keys, in the upper left corner of the frame; its ground comes first.

    ``several`` runs have a key to go from one to the next.
    """
    keys = (*KEYS[:-2], KEY_OF_RUNS, *KEYS[-2:]) if several else KEYS
    unit, (left, top, _, bottom) = panels.unit, panels.frame
    size = _LETTERS * unit
    line = measure("x", size, False)[1]
    count = max(1, min(len(keys), int((bottom - top - 30 * unit) / line)))
    columns = -(-len(keys) // count)
    count = -(-len(keys) // columns)
    key_wide = max(measure(k, size, True)[0] for k, _ in keys) + 12 * unit
    wide = key_wide + max(measure(w, size, False)[0] for _, w in keys) + 20 * unit
    right = left + columns * wide + 10 * unit
    box = Box(
        (left, top, right, top + count * line + 12 * unit), theme.card, theme.line, 1.0, 5 * unit
    )
    items: list[Item] = []
    for k, (key, words) in enumerate(keys):
        column, row = divmod(k, count)
        x, y = left + 10 * unit + column * wide, top + 6 * unit + (row + 0.5) * line
        items.append(Text((x, y), key, size, theme.ink, True))
        items.append(Text((x + key_wide, y), words, size, theme.ink))
    return (box, *items)


def slider_ends(
    panels: Panels, size: tuple[int, int]
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Both ends of the slider as shares of the window, from its bottom left."""
    left, top, right, _ = panels.strip
    y = 1 - (top + _SLIDER_AT * panels.unit) / size[1]
    return (
        ((left + 0.3 * (right - left)) / size[0], y),
        ((right - 30 * panels.unit) / size[0], y),
    )


def strip_items(
    state: State,
    frames: Playback,
    at: int,
    size: tuple[int, int],
    unit: float,
    theme: Theme,
) -> tuple[Item, ...]:
    """Words beside the slider and the figures under it, from the top left of the strip."""
    margin = 24 * unit
    middle = _SLIDER_AT * unit
    items: list[Item] = []
    if state.pulled is None:
        words = "Whole cable: drag to pull it in"
        items.append(Text((margin, middle), words, 14 * unit, theme.ink, True))
    else:
        items.append(Text((margin, middle), "Cable head", 14 * unit, theme.ink, True))
        beside = margin + measured("Cable head", 14 * unit, True)[0] + 22 * unit
        items += key_items((beside, middle), theme, unit, measured)
    row = (margin, 60 * unit, size[0] - margin, size[1] - 4 * unit)
    return (*items, *figure_items(frames, at, state.units, row, theme, unit, measured))
