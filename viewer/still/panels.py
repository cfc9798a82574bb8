"""The frame of a picture: headline and reason, figures at its foot, the color bar."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from route3d.drawing.marks import Box, Line, Mark, Rect, Text
from route3d.drawing.text_width import Measure, wrapped
from viewer.scene.records import Figure, Scene
from viewer.still.color_bar import bar_items, bar_width
from viewer.theme import Theme

# Sizes at 1600 x 1000; smaller frames shrink them to what can still be read.
_FULL = (1600, 1000)
LEAST, _MOST = 0.66, 4.0
SMALLEST = (360, 300)
# Below this height the reason and the notes but the first give way to the route.
COMPACT = 420


@dataclass(frozen=True, slots=True, eq=False)
class Panels:
    """``items``, the ground under the bar first; ``frame`` is for the route and its labels.

    ``room`` is the part of it that the route itself is fitted into, ``strip`` what was kept free
    between frame and foot, ``unit`` the size of a pixel at 1600 x 1000.
    """

    items: tuple[Mark, ...]
    frame: Rect
    room: Rect
    strip: Rect
    unit: float


def unit_of(size: tuple[int, int]) -> float:
    """How many times the sizes at 1600 x 1000 a picture takes."""
    return float(np.clip(min(size[0] / _FULL[0], size[1] / _FULL[1]), LEAST, _MOST))


def panels_for(
    scene: Scene,
    size: tuple[int, int],
    theme: Theme,
    measure: Measure,
    *,
    strip: float = 0.0,
    bar: bool = True,
) -> Panels:
    """The frame of a picture of ``size`` pixels; ValueError below 360 x 300.

    ``strip`` pixels, at 1600 x 1000, stay free above the foot; without ``bar`` there is none.
    """
    if size[0] < SMALLEST[0] or size[1] < SMALLEST[1]:
        least = " x ".join(map(str, SMALLEST))
        raise ValueError(f"size {size[0]} x {size[1]} is below the minimum of {least} pixels")
    unit = unit_of(size)
    head, top = head_items(scene, size, unit, theme, measure)
    foot, bottom = foot_items(scene, size, unit, theme, measure)
    margin = 24 * unit
    low, bottom = bottom, bottom - strip * unit
    right = size[0] - margin
    if bar:
        right -= bar_width(scene.scale, scene.units, unit, measure)
    frame = (margin, top, right - 12 * unit if bar else right, bottom)
    pad_x = min(60 * unit, 0.06 * (frame[2] - frame[0]))
    pad_y = min(64 * unit, 0.13 * (frame[3] - frame[1]))
    room = (frame[0] + pad_x, frame[1] + pad_y, frame[2] - pad_x, frame[3] - pad_y)
    side = Box((frame[2], top, size[0], low + 8 * unit), theme.ground)
    items: list[Mark] = [side, *head, *foot]
    if bar:
        bar_room = (right, top, size[0] - margin, bottom)
        items += bar_items(scene.scale, scene.units, bar_room, unit, theme, measure)
    below = (margin, bottom, size[0] - margin, low)
    if strip:
        items.insert(1, Box((0.0, bottom, size[0], low + 8 * unit), theme.ground))
    return Panels(tuple(items), frame, room, below, unit)


def head_items(
    scene: Scene, size: tuple[int, int], unit: float, theme: Theme, measure: Measure
) -> tuple[list[Mark], float]:
    """Banner, title, headline and reason; and the height at which the next part may begin."""
    margin, y = 24 * unit, 20 * unit
    width = size[0] - 2 * margin
    loud = theme.alarm if scene.alarm else theme.ink
    texts: list[Mark] = []
    small = size[1] < COMPACT
    parts = (
        *([(scene.banner, 17 * unit, True, theme.alarm)] if scene.banner else []),
        (scene.title, 17 * unit, False, theme.faint),
        (scene.headline, (26 if small else 38) * unit, True, loud),
        ("" if small else scene.sentence, 18 * unit, False, theme.ink),
    )
    for text, letters, bold, color in parts:
        for line in wrapped(text, width, letters, bold, measure):
            tall = measure(line, letters, bold)[1]
            texts.append(Text((margin, y + tall / 2), line, letters, color, bold))
            y += tall
        y += 3 * unit
    band = Box((0.0, 0.0, size[0], y + 4 * unit), theme.ground)
    return [band, *texts], y + 8 * unit


def foot_items(
    scene: Scene, size: tuple[int, int], unit: float, theme: Theme, measure: Measure
) -> tuple[list[Mark], float]:
    """The figures in columns over the notes; and where what lies above must end."""
    margin = 24 * unit
    width = size[0] - 2 * margin
    small = size[1] < COMPACT
    said = scene.notes[:1] if small else scene.notes
    notes = [line for note in said for line in wrapped(note, width, 14 * unit, False, measure)]
    note_tall = measure("x", 14 * unit, False)[1]
    rows = _fact_rows(scene, width, unit, measure)[: 1 if small else None] if scene.facts else []
    fact_tall = 70 * unit
    top = size[1] - 14 * unit - len(notes) * note_tall - 8 * unit - len(rows) * fact_tall
    items: list[Mark] = [
        Box((0.0, top, size[0], size[1]), theme.ground),
        Line(((margin, top), (size[0] - margin, top)), theme.line, 1.0),
    ]
    for r, row in enumerate(rows):
        y = top + r * fact_tall
        for fact, x in row:
            color = theme.alarm if fact.alarm else theme.ink
            name = fact.name + (" · OVER LIMIT" if fact.alarm else "")
            items += [
                Text((x, y + 15 * unit), name, 13 * unit, color if fact.alarm else theme.faint),
                Text((x, y + 36 * unit), fact.value, 21 * unit, color, True),
                Text((x, y + 57 * unit), fact.note, 14 * unit, theme.faint),
            ]
    y = top + len(rows) * fact_tall + 8 * unit
    for k, line in enumerate(notes):
        items.append(Text((margin, y + (k + 0.5) * note_tall), line, 14 * unit, theme.faint))
    return items, top - 8 * unit


def _fact_rows(
    scene: Scene, width: float, unit: float, measure: Measure
) -> list[list[tuple[Figure, float]]]:
    """Facts with the left edge of each, as many beside each other as there is room for."""
    widths = [_fact_width(f, unit, measure) for f in scene.facts]
    rows: list[list[int]] = [[]]
    for i in range(len(widths)):
        if rows[-1] and sum(widths[k] for k in (*rows[-1], i)) > width:
            rows.append([])
        rows[-1].append(i)
    placed = []
    for row in rows:
        spare = (width - sum(widths[i] for i in row)) / max(len(row), 1)
        x, line = 24 * unit, []
        for i in row:
            line.append((scene.facts[i], x))
            x += widths[i] + min(spare, 70 * unit)
        placed.append(line)
    return placed


def _fact_width(fact: Figure, unit: float, measure: Measure) -> float:
    name = fact.name + (" · OVER LIMIT" if fact.alarm else "")
    texts = ((name, 13, False), (fact.value, 21, True), (fact.note, 14, False))
    return max(measure(t, s * unit, b)[0] for t, s, b in texts) + 22 * unit
