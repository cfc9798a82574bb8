"""The flat panels of the window that no still has: keys, stops, slider, and the pull under it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from route3d.drawing.marks import Box, Mark, Rect, Text
from route3d.drawing.pixels import measure as measured
from route3d.drawing.text_width import Measure, wrapped
from viewer.load_chart import (
    CHART_ROOM,
    FIGURE_ROW,
    LoadChart,
    figure_items,
    key_items,
    load_chart,
    load_chart_items,
    now_items,
)
from viewer.playback import Playback
from viewer.still.panels import Panels
from viewer.theme import Theme
from viewer.window.state import KEY_OF_RUNS, KEYS, WindowState

# --- the slider of the cable head -----------------------------------------------------------

HANDLE = 0.02
"""Width of the handle as a share of the window's."""


def add_slider(
    plotter: Any,
    ends: tuple[tuple[float, float], tuple[float, float]],
    theme: Theme,
    slid: Callable[[float], None],
) -> Any:
    """A slider from 0 to 100 % between two ends, as shares of the window; its widget."""
    slider = plotter.add_slider_widget(
        slid,
        (0.0, 100.0),
        value=100.0,
        pointa=ends[0],
        pointb=ends[1],
        title="",
        fmt="%.0f %%",
        color=theme.ink,
        style="modern",
        interaction_event="always",
    )
    slider.KeyPressActivationOff()  # VTK would hide it on the key i
    look = slider.GetRepresentation()
    look.ShowSliderLabelOff()
    look.SetTubeWidth(0.008)
    look.SetSliderWidth(0.03)
    look.SetSliderLength(HANDLE)
    return slider


# --- the flat panels of the window that no still has: keys, stops, and the pull under its slider

STRIP, _LOW_STRIP = 216.0, 120.0
"""Height at 1600 x 1000 that the window keeps for the pull; with the chart, and without it."""
_ROOM_FOR_CHART = 600  # pixels of height; a lower window needs them for the route

_SLIDER_AT, _SLIDER_FROM = 26.0, 0.3
_LETTERS = 14.0
_WIDE = 330.0  # of the list of stops where no keys stand over it


def strip_height(size: tuple[int, int], *, profile: bool = False) -> float:
    """The height of the strip in a window of a size, at 1600 x 1000.

    The ``profile`` has charts of its own, and needs the room for them.
    """
    return STRIP if size[1] >= _ROOM_FOR_CHART and not profile else _LOW_STRIP


# --- cards -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class CornerCards:
    """The cards in the upper left corner of the frame: ``items`` and the ``rect`` they take."""

    rect: Rect
    items: tuple[Mark, ...]


def cards(
    panels: Panels, theme: Theme, measure: Measure, keys: bool, several: bool, stops: Sequence[str]
) -> CornerCards | None:
    """The keys if they are asked for, and under them what stops the pull; None for neither."""
    found: list[CornerCards] = []
    left, top, _, bottom = panels.frame
    if keys:
        box, *items = help_card(panels, theme, measure, several=several)
        found.append(CornerCards(box.rect, (box, *items)))
        top = box.rect[3] + 8 * panels.unit
    if stops:
        right = found[0].rect[2] if found else left + _WIDE * panels.unit
        found.append(_stop_card((left, top, right, bottom), stops, panels.unit, theme, measure))
    if not found:
        return None
    rects = [card.rect for card in found]
    rect = (left, panels.frame[1], max(r[2] for r in rects), rects[-1][3])
    return CornerCards(rect, tuple(item for card in found for item in card.items))


def _stop_card(
    room: Rect, stops: Sequence[str], unit: float, theme: Theme, measure: Measure
) -> CornerCards:
    """Each stop in red, as many as there is height for; and the number of the others."""
    left, top, right, bottom = room
    size = _LETTERS * unit
    line = measure("x", size, False)[1]
    most = max(1, int((bottom - top - 12 * unit) / line) - 1)
    texts = [(f"STOP: {len(stops)} checks fail" if len(stops) > 1 else "STOP", True)]
    shown = 0
    for stop in stops:
        rows = wrapped(f"· {stop}", right - left - 20 * unit, size, False, measure)
        spare = most - len(texts) + 1 - (shown + 1 < len(stops))
        if shown and len(rows) > spare:
            break
        texts += [(row, False) for row in rows]
        shown += 1
    if shown < len(stops):
        texts.append((f"and {len(stops) - shown} more", False))
    rect = (left, top, right, top + len(texts) * line + 12 * unit)
    box = Box(rect, theme.card, theme.alarm, 2 * unit, 5 * unit)
    x, y = left + 10 * unit, top + 6 * unit
    words = (
        Text((x, y + (k + 0.5) * line), text, size, theme.alarm, bold)
        for k, (text, bold) in enumerate(texts)
    )
    return CornerCards(rect, (box, *words))


def help_card(
    panels: Panels, theme: Theme, measure: Measure, *, several: bool = False
) -> tuple[Box, *tuple[Mark, ...]]:
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
    items: list[Mark] = []
    for k, (key, words) in enumerate(keys):
        column, row = divmod(k, count)
        x, y = left + 10 * unit + column * wide, top + 6 * unit + (row + 0.5) * line
        items.append(Text((x, y), key, size, theme.ink, True))
        items.append(Text((x + key_wide, y), words, size, theme.ink))
    return (box, *items)


# --- the pull ----------------------------------------------------------------------------------


def slider_ends(
    panels: Panels, size: tuple[int, int]
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Both ends of the slider as shares of the window, from its bottom left."""
    left, top, right, _ = panels.strip
    y = 1 - (top + _SLIDER_AT * panels.unit) / size[1]
    return (
        ((left + _SLIDER_FROM * (right - left)) / size[0], y),
        ((right - 30 * panels.unit) / size[0], y),
    )


@dataclass(frozen=True, slots=True, eq=False)
class StripChart:
    """The chart under the slider and its fixed part."""

    chart: LoadChart
    items: tuple[Mark, ...]


def strip_chart(
    whole: Playback, panels: Panels, size: tuple[int, int], units: str, limit: float, theme: Theme
) -> StripChart | None:
    """The course of a pull, the feed under the left end of the slider; None in a low strip."""
    unit = panels.unit
    if panels.strip[3] - panels.strip[1] < (STRIP - 1) * unit:
        return None
    _, above, _, below = (side * unit for side in CHART_ROOM)
    begin, end = (x * size[0] for x, _ in slider_ends(panels, size))
    inset = HANDLE / 2 * size[0]  # the middle of the handle stands over the head on the curve
    high = panels.strip[3] - panels.strip[1]
    rect = (begin + inset, 42 * unit + above, end - inset, high - below)
    chart = load_chart(whole, units, limit, rect)
    return StripChart(chart, tuple(load_chart_items(chart, theme, unit, measured)))


def strip_items(
    state: WindowState,
    frames: Playback,
    at: int,
    size: tuple[int, int],
    unit: float,
    theme: Theme,
    drawn: StripChart | None = None,
) -> tuple[Mark, ...]:
    """Words beside the slider, the figures, and the chart; from the top left of the strip."""
    margin = 24 * unit
    middle = _SLIDER_AT * unit
    items: list[Mark] = []
    if state.pulled is None:
        words = "Whole cable: drag to pull it in"
        items.append(Text((margin, middle), words, 14 * unit, theme.ink, True))
    else:
        items.append(Text((margin, middle), "Cable head", 14 * unit, theme.ink, True))
        beside = margin + measured("Cable head", 14 * unit, True)[0] + 22 * unit
        items += key_items((beside, middle), theme, unit, measured)
    right, columns = size[0] - margin, 0
    if drawn is not None:
        right, columns = margin + (_SLIDER_FROM - 0.04) * (size[0] - 2 * margin), 2
        pulled = float(frames.pulled[at])
        items += [*drawn.items, *now_items(drawn.chart, pulled, theme, unit)]
    row = (margin, 54 * unit, right, 54 * unit + 3 * FIGURE_ROW * unit)
    found = figure_items(frames, at, state.units, row, theme, unit, measured, columns)
    return (*items, *found)
