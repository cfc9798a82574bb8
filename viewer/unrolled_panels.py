"""The panels of the unrolled route: what is drawn in each, no label among it."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np

from route3d.geometry.vectors import Floats, norm
from route3d.report.ticks import steeper
from route3d.units import convert, show, unit_label
from viewer.axes import Axes, round_between, thin, tick_words
from viewer.meshes import scale_colours
from viewer.moving import nearest_station
from viewer.overlay import Item, Line, Measure, Rect, Shape, Text
from viewer.scene_data import Label, Scene, Tube
from viewer.theme import Theme

QUANTITIES = ("length", "force", "sidewall")
"""Of elevation, tension and sidewall pressure: the panels of the full picture from the top."""

_FEW_ALARMS = 4  # more lines in alarm would hide the curves they run through
_PIECE = 5.0  # px of route in one color
_MITRE = 0.5  # the least cosine that parts a joint: sharper ones are cut off


def series(tube: Tube, which: int) -> Floats:
    """Tension or sidewall pressure along a tube, for panel 1 or 2."""
    return tube.tension if which == 1 else tube.sidewall


def heights(scene: Scene) -> tuple[Floats, Floats]:
    """Stations and elevations along the whole route, m."""
    station = np.concatenate([t.station for t in scene.tubes])
    z = np.concatenate([t.points[:, 2] for t in scene.tubes]) + scene.origin[2]
    return station, z


# --- frames ------------------------------------------------------------------------------------


def _titles(scene: Scene, axes: Axes, which: int) -> tuple[str, ...]:
    """The title of a panel, longest first."""
    unit = unit_label(QUANTITIES[which], scene.units)
    if which == 1:
        return (f"Tension, {unit}",)
    if which == 2:
        return f"Sidewall pressure of the worst cable, {unit}", f"Sidewall, {unit}"
    left, top, right, bottom = axes.rect
    times = ((bottom - top) / (axes.y[1] - axes.y[0])) / ((right - left) / axes.x[1])
    drawn = steeper(times)
    return f"Elevation, {unit} (heights drawn {drawn})", f"Elevation, {unit} ({drawn})"


def _limits(scene: Scene, axes: Axes, which: int) -> tuple[str, ...]:
    """The words of a limit, longest first."""
    limit = scene.limits[which - 1]
    words = f"limit {show(limit, QUANTITIES[which], scene.units)}"
    return (words,) if limit <= axes.y[1] else (f"{words}, above", words, "")


def panel_items(
    axes: Axes, which: int, scene: Scene, theme: Theme, unit: float, measure: Measure
) -> list[Item]:
    """Frame, title, words of the limit, grid and numbers of one panel."""
    left, top, right, bottom = axes.rect
    titles = _titles(scene, axes, which)
    limits = _limits(scene, axes, which) if which else ("",)

    def fits(title: str, limit: str) -> bool:
        wide = measure(title, 14 * unit, True)[0] + measure(limit, 13 * unit, True)[0]
        return wide + 14 * unit <= right - left

    pairs = [(t, w) for w in limits for t in titles]
    title, limit = next((p for p in pairs if fits(*p)), (titles[-1], ""))
    items: list[Item] = [
        Text((left, top - 13 * unit), title, 14 * unit, theme.ink, True),
        Text((right, top - 13 * unit), limit, 13 * unit, theme.alarm, True, "right"),
    ]
    low, high = (convert(v, QUANTITIES[which], scene.units) for v in axes.y)
    for value in round_between(low, high, int(max(2, min(5, (bottom - top) / (26 * unit))))):
        y = bottom - (value - low) / (high - low) * (bottom - top)
        items.append(Line(((left, y), (right, y)), theme.grid, 1.0))
        at = (left - 8 * unit, y)
        items.append(Text(at, tick_words(value), 13 * unit, theme.faint, False, "right"))
    return [*items, Line(((left, top), (left, bottom), (right, bottom)), theme.line, 1.2 * unit)]


def station_axis(axes: Axes, scene: Scene, theme: Theme, unit: float) -> list[Item]:
    """Numbers and name of the stations under a panel."""
    left, _, right, bottom = axes.rect
    full = convert(axes.x[1], "length", scene.units)
    items: list[Item] = []
    for value in round_between(0.0, full, 8 if right - left > 500 else 4):
        x = left + value / full * (right - left)
        items.append(Line(((x, bottom), (x, bottom + 6 * unit)), theme.line, 1.2 * unit))
        words = tick_words(value)
        items.append(Text((x, bottom + 15 * unit), words, 13 * unit, theme.faint, False, "middle"))
    name = f"Station along the route, {unit_label('length', scene.units)}"
    middle = ((left + right) / 2, bottom + 34 * unit)
    return [*items, Text(middle, name, 14 * unit, theme.ink, False, "middle")]


def bend_lines(
    bends: list[tuple[float, Label]], axes: Sequence[Axes], theme: Theme, unit: float
) -> list[Item]:
    """An upright hair line through the panels at every bend, in alarm where it breaks its limit.

    None where they would run together, none in alarm where that would be most of what is seen.
    """
    width = axes[0].rect[2] - axes[0].rect[0]
    if len(bends) > width / (12 * unit):
        return []
    few = sum(label.alarm for _, label in bends) <= _FEW_ALARMS
    items: list[Item] = []
    for station, label in sorted(bends, key=lambda b: b[0]):
        x = float(axes[0].place(np.array([station]), np.zeros(1))[0, 0])
        colour = theme.alarm if label.alarm and few else theme.grid
        items += [Line(((x, a.rect[1]), (x, a.rect[3])), colour, 1.2 * unit) for a in axes]
    return items


# --- grade and route ---------------------------------------------------------------------------


def grade_items(axes: Axes, theme: Theme, unit: float, measure: Measure) -> list[Item]:
    """The height of grade, dashed, where it is in the panel."""
    if not axes.y[0] < 0 < axes.y[1]:
        return []
    (left, y), (right, _) = axes.place(np.array(axes.x), np.zeros(2))
    box = grade_box(axes, unit, measure)
    items: list[Item] = [
        Line(((x, y), (min(x + 8 * unit, box[0]), y)), theme.faint, 1.2 * unit)
        for x in map(float, np.arange(left, box[0], 14 * unit))
    ]
    return [*items, Text((float(right), y), "grade", 13 * unit, theme.faint, False, "right")]


def grade_box(axes: Axes, unit: float, measure: Measure) -> Rect:
    """Where the word stands at the right end of the line; nowhere where grade is not shown."""
    if not axes.y[0] < 0 < axes.y[1]:
        return -1.0, -1.0, 0.0, 0.0
    right, y = map(float, axes.place(np.array(axes.x), np.zeros(2))[1])
    wide, tall = measure("grade", 13 * unit, False)
    return right - wide - 6 * unit, y - tall / 2, right, y + tall / 2


def route_items(axes: Axes, scene: Scene, theme: Theme, unit: float) -> list[Item]:
    """The elevation line in the colors of the scale, with an edge in ink."""
    items: list[Item] = []
    for tube in scene.tubes:
        pixels = axes.place(tube.station, tube.points[:, 2] + scene.origin[2])
        line = tuple((float(x), float(y)) for x, y in thin(pixels))
        items.append(Line(line, theme.ink, 9 * unit))
    for tube in scene.tubes:
        items += _coloured(axes, tube, scene, theme, unit)
    return items


def _coloured(axes: Axes, tube: Tube, scene: Scene, theme: Theme, unit: float) -> list[Item]:
    """A ribbon in pieces of one color each, by the value in their middle.

    Pieces share their corners: nothing shows between them, on a slope as little as on the level.
    """
    pixels = axes.place(tube.station, tube.points[:, 2] + scene.origin[2])
    along = np.concatenate(([0.0], np.cumsum(np.maximum(norm(np.diff(pixels, axis=0)), 1e-6))))
    at = np.unique(np.concatenate((np.arange(0.0, along[-1], _PIECE), along)))
    at = np.append(at[np.unique(np.floor(at[:-1]), return_index=True)[1]], along[-1])
    line = np.column_stack([np.interp(at, along, pixels[:, k]) for k in (0, 1)])
    keep = np.concatenate(([True], norm(np.diff(line, axis=0)) > 1e-3))
    at, line = at[keep], line[keep]
    if len(line) < 2:
        return []
    middle = np.interp((at[1:] + at[:-1]) / 2, along, scene.values(tube))
    shades = scale_colours(scene.scale, middle, theme)
    one, other = _edges(line, 3.25 * unit)
    return [
        Shape(
            tuple((float(x), float(y)) for x, y in (one[i], one[i + 1], other[i + 1], other[i])),
            "#{:02x}{:02x}{:02x}".format(*(int(c) for c in shades[i])),
        )
        for i in range(len(middle))
    ]


def _edges(line: Floats, half: float) -> tuple[Floats, Floats]:
    """Both edges of a ribbon ``half`` px to each side of a line (n, 2)."""
    step = np.diff(line, axis=0)
    step = step / norm(step)[:, None]
    before, after = np.vstack((step[:1], step)), np.vstack((step, step[-1:]))
    mean = before + after
    size = norm(mean)
    mean = np.where(size[:, None] > 1e-6, mean / np.maximum(size, 1e-6)[:, None], after)
    stretch = half / np.maximum(np.einsum("ij,ij->i", mean, after), _MITRE)
    aside = np.column_stack((-mean[:, 1], mean[:, 0])) * stretch[:, None]
    return line + aside, line - aside


def way_items(axes: Axes, scene: Scene, theme: Theme, unit: float) -> list[Item]:
    """Which way the cable goes, on the straights that carry an arrow in the other views."""
    points = np.vstack([t.points for t in scene.tubes])
    feed, pull = (nearest_station(scene, points, s.mouth)[0] for s in scene.solids[:2])
    step = (1.0 if pull > feed else -1.0) * 1e-3 * axes.x[1]
    found: list[Item] = []
    most = max(1, int((axes.rect[2] - axes.rect[0]) / (150 * unit)))
    for arrow in scene.arrows[:most]:
        at = nearest_station(scene, points, arrow.at)[0] + np.array([-step, step])
        back, fore = axes.place(at, np.interp(at, *heights(scene)))
        along = (fore - back) / float(norm(fore - back)) * 12 * unit
        across = np.array([-along[1], along[0]]) * 0.85
        middle = (back + fore) / 2
        corners = (middle + along, middle - along + across, middle - along - across)
        found.append(Shape(tuple((float(x), float(y)) for x, y in corners), theme.ink))
    return found


# --- curves ------------------------------------------------------------------------------------


def curve_items(axes: Axes, scene: Scene, which: int, theme: Theme, unit: float) -> list[Item]:
    """A value along the route and its limit; what is above the limit in the color of alarm."""
    limit = scene.limits[which - 1]
    station = np.concatenate([tube.station for tube in scene.tubes])
    values = np.concatenate([series(tube, which) for tube in scene.tubes])
    items: list[Item] = [_line(axes, station, values, theme.ink, 2.2 * unit)]
    if limit > axes.y[1]:
        return items
    left, _, right, _ = axes.rect
    y = float(axes.place(np.zeros(1), np.array([limit]))[0, 1])
    items.append(Line(((left, y), (right, y)), theme.alarm, 1.6 * unit))
    over = values > limit * (1 + 1e-9)
    runs = itertools.groupby(range(len(values)), key=lambda i: bool(over[i]))
    parts = [list(rows) for above, rows in runs if above]
    return items + [
        _line(axes, station[part], values[part], theme.alarm, 4 * unit) for part in parts
    ]


def _line(axes: Axes, station: Floats, values: Floats, colour: str, width: float) -> Line:
    pixels = thin(axes.place(station, values))
    return Line(tuple((float(x), float(y)) for x, y in pixels), colour, width)
