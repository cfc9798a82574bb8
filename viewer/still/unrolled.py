"""The profile along the route, unrolled: elevation, tension and sidewall pressure over station."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from route3d.drawing.axes import Axes, figures_along, figures_up, steeper, with_grade
from route3d.drawing.marks import Bools, Line, Mark, Rect, Shape, Text, spaced, stretches, thin
from route3d.drawing.text_width import Measure
from route3d.geometry.vectors import Floats, frozen, norm
from route3d.units import convert, show, unit_label
from viewer.camera import Camera
from viewer.meshes import scale_colors
from viewer.moving import nearest_station
from viewer.scene.reading import reading
from viewer.scene.records import Label, Scene, Tube
from viewer.still.cards import Cards, Place, label_cards
from viewer.still.layout import ROUTE_STEP, Layout
from viewer.still.panels import COMPACT, Panels, panels_for
from viewer.theme import Theme

QUANTITIES = ("length", "force", "sidewall")
"""Of elevation, tension and sidewall pressure: the panels of the full picture from the top."""

_FEW_ALARMS = 4  # more lines in alarm would hide the curves they run through
_PIECE = 5.0  # px of route in one color
_MITRE = 0.5  # the least cosine that parts a joint: sharper ones are cut off
_NOTE = "Profile unrolled along the conduit: stations are not plan distances"
_SHARES = ((1.0,), (0.62, 0.38), (0.48, 0.26, 0.26))  # of the height, by how many stand below
# Free height over and under the elevation line, where its labels go: at most so much at
# 1600 x 1000, and at most so much of the panel.
_ABOVE, _BELOW = (80.0, 0.32), (92.0, 0.36)
_LEAST_RISE = 1.0  # m; a flatter route is not drawn steeper than one of this rise
_GAP = 30.0
_FOR_THREE, _FOR_TWO = 380.0, 340.0  # heights at 1600 x 1000 that so many panels need
_STEEPEST = 0.35  # of the width: the route is drawn no higher, however tall the picture
_FEW = 30  # labels; with more the ends cannot wait
_HOPELESS = 400  # so many bends side by side tell nothing by a number each


def arrange_unrolled(
    scene: Scene,
    size: tuple[int, int],
    theme: Theme,
    measure: Measure,
    *,
    strip: float = 0.0,
    left: float = 0.0,
    picked: float | None = None,
) -> Layout:
    """Lay out the unrolled route with a card at ``picked`` m; ``strip`` and ``left`` stay free."""
    scene, panels, panes = unrolled_axes(scene, size, theme, measure, strip, left)
    elevation, values = panes[0], list(zip(_shown(scene, panels), panes[1:], strict=True))
    if picked is not None:
        scene = replace(scene, labels=(reading(scene, picked), *scene.labels))
    anchors = _stations(scene)
    if picked is not None:
        anchors[0] = picked
    bends = [(s, label) for s, label in zip(anchors, scene.labels, strict=False) if _bend(label)]
    unit = panels.unit
    items: list[Mark] = [
        *_bend_lines(bends, panes, theme, unit),
        *_panel_items(elevation, 0, scene, theme, unit, measure),
        *_grade_items(elevation, scene, theme, unit, measure),
        *_route_items(elevation, scene, theme, unit),
        *_way_items(elevation, scene, theme, unit),
    ]
    for which, axes in values:
        items += _panel_items(axes, which, scene, theme, unit, measure)
        items += _curve_items(axes, scene, which, theme, unit)
    items += _station_axis(panes[-1], scene, theme, unit)
    keep = np.array([_grade_box(elevation, scene, unit, measure)])
    cards = _cards(scene, anchors, elevation, keep, unit, size, theme, measure)
    return Layout(_flat(size), (*items, *cards.items, *panels.items[1:]), cards.placement)


def unrolled_axes(
    scene: Scene, size: tuple[int, int], theme: Theme, measure: Measure, strip: float, left: float
) -> tuple[Scene, Panels, tuple[Axes, ...]]:
    """The scene in its words for this view, its frame, and the panels from the top.

    A low picture has room for elevation and one more, what is nearer to its limit, or for none.
    """
    scene = replace(scene, notes=(_NOTE, *scene.notes[1:2]))
    if size[1] < COMPACT:
        scene = replace(scene, facts=())
    panels = panels_for(scene, size, theme, measure, strip=strip)
    panels = replace(panels, frame=(max(panels.frame[0], left), *panels.frame[1:]))
    return scene, panels, _axes(scene, panels, _shown(scene, panels))


def _shown(scene: Scene, panels: Panels) -> tuple[int, ...]:
    """The panels under the elevation: 1 is tension, 2 sidewall pressure."""
    tall = (panels.frame[3] - panels.frame[1]) / panels.unit
    if tall >= _FOR_THREE:
        return 1, 2
    if tall < _FOR_TWO:
        return ()
    shares = [_peak(scene, which) / scene.limits[which - 1] for which in (1, 2)]
    return (2 if shares[1] > shares[0] else 1,)


def _axes(scene: Scene, panels: Panels, shown: tuple[int, ...]) -> tuple[Axes, ...]:
    left, top, right, bottom = panels.frame
    unit = panels.unit
    left, right, bottom = left + 62 * unit, right - 14 * unit, bottom - 44 * unit
    top += 26 * unit
    x = (0.0, max(float(t.station[-1]) for t in scene.tubes))
    shares = _SHARES[len(shown)]
    room = bottom - top - len(shown) * _GAP * unit
    elevations = _elevations(scene, shares[0] * room, right - left, unit)
    spans = (elevations, *(_values_span(scene, which) for which in shown))
    found, y = [], top
    for share, span in zip(shares, spans, strict=True):
        found.append(Axes((left, y, right, y + share * room), x, span))
        y += share * room + _GAP * unit
    return tuple(found)


def _elevations(scene: Scene, tall: float, wide: float, unit: float) -> tuple[float, float]:
    """Elevations at the foot and head of a panel of ``wide`` x ``tall`` pixels: room for labels."""
    z = _heights(scene)[1]
    low, high = with_grade(float(z.min()), float(z.max()), scene.ground.heights)
    rise = max(high - low, _LEAST_RISE)
    above, below = (min(most * unit, share * tall) for most, share in (_ABOVE, _BELOW))
    spare = max(0.0, tall - above - below - _STEEPEST * wide) / 2
    per_pixel = rise / (tall - above - below - 2 * spare)
    beyond = (rise - (high - low)) / 2
    below, above = (side + spare for side in (below, above))
    return low - beyond - below * per_pixel, high + beyond + above * per_pixel


def _values_span(scene: Scene, which: int) -> tuple[float, float]:
    """From zero to the limit where it is near, else to the peak, and a little more."""
    peak, limit = _peak(scene, which), scene.limits[which - 1]
    near = limit if limit <= 4 * peak or peak <= 0 else 0.0
    return 0.0, 1.12 * max(peak, near if math.isfinite(near) else 0.0, 1e-3)


def _peak(scene: Scene, which: int) -> float:
    return max(float(_series(t, which).max(initial=0.0)) for t in scene.tubes)


# --- labels ------------------------------------------------------------------------------------


def _bend(label: Label) -> bool:
    return label.kind in ("bend", "worst")


def _stations(scene: Scene) -> Floats:
    """Station of each of the first labels, of reel and machine that of their conduit end."""
    points = np.vstack([t.points for t in scene.tubes])
    station = np.concatenate([t.station for t in scene.tubes])
    found = []
    for label in scene.labels[:_HOPELESS]:
        at = label.xyz
        if label.kind in ("feed", "machine"):
            at = scene.solids[0 if label.kind == "feed" else 1].mouth
        found.append(float(station[int(np.argmin(norm(points - at)))]))
    return np.array(found)


def _cards(
    scene: Scene,
    anchors: Floats,
    axes: Axes,
    keep: Floats,
    unit: float,
    size: tuple[int, int],
    theme: Theme,
    measure: Measure,
) -> Cards:
    """The labels of the scene beside the elevation, placed as on any other picture.

    The ends come last where there is room for them after the bends: their words are wide and would
    push the numbers of the bends beside them off their places.
    """
    pixels = axes.place(anchors, np.interp(anchors, *_heights(scene)))
    flat = tuple(
        replace(label, xyz=frozen([*at, 0.0]))
        for label, at in zip(scene.labels, pixels, strict=False)
    )
    solids = tuple(replace(s, size=(0.0, 0.0, 0.0)) for s in scene.solids)
    here = replace(scene, labels=flat + scene.labels[len(flat) :], solids=solids)
    given = list(range(len(here.labels)))
    ends = [i for i in given if here.labels[i].kind in ("feed", "machine")]
    last = [i for i in given if i not in ends] + ends
    first = ends + [i for i in given if i not in ends]
    orders = (last, given, first) if len(given) <= _FEW else (given,)
    route = spaced(axes.place(*_heights(scene)), ROUTE_STEP * max(1.0, unit))
    place = Place(axes.rect, keep, route, unit)
    return label_cards(here, _flat(size), place, theme, measure, orders)


def _flat(size: tuple[int, int]) -> Camera:
    """The camera that takes x, y of a point as its pixels."""
    middle = frozen([size[0] / 2, size[1] / 2, 0.0])
    axes = (frozen([1.0, 0.0, 0.0]), frozen([0.0, -1.0, 0.0]), frozen([0.0, 0.0, -1.0]))
    return Camera(*axes, middle, 1.0, size)


# --- panels --------------------------------------------------------------------------------------


def _series(tube: Tube, which: int) -> Floats:
    """Tension or sidewall pressure along a tube, for panel 1 or 2."""
    return tube.tension if which == 1 else tube.sidewall


def _heights(scene: Scene) -> tuple[Floats, Floats]:
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
    drawn = steeper(axes.steepness)
    return f"Elevation, {unit} (vertical scale {drawn})", f"Elevation, {unit} ({drawn})"


def _limits(scene: Scene, axes: Axes, which: int) -> tuple[str, ...]:
    """The words of a limit, longest first."""
    limit = scene.limits[which - 1]
    words = f"limit {show(limit, QUANTITIES[which], scene.units)}"
    return (words,) if limit <= axes.y[1] else (f"{words}, above chart", words, "")


def _panel_items(
    axes: Axes, which: int, scene: Scene, theme: Theme, unit: float, measure: Measure
) -> list[Mark]:
    """Frame, title, words of the limit, grid and numbers of one panel."""
    left, top, right, bottom = axes.rect
    titles = _titles(scene, axes, which)
    limits = _limits(scene, axes, which) if which else ("",)

    def fits(title: str, limit: str) -> bool:
        wide = measure(title, 14 * unit, True)[0] + measure(limit, 13 * unit, True)[0]
        return wide + 14 * unit <= right - left

    pairs = [(t, w) for w in limits for t in titles]
    title, limit = next((p for p in pairs if fits(*p)), (titles[-1], ""))
    items: list[Mark] = [
        Text((left, top - 13 * unit), title, 14 * unit, theme.ink, True),
        Text((right, top - 13 * unit), limit, 13 * unit, theme.alarm, True, "right"),
    ]
    factor, most = convert(1.0, QUANTITIES[which], scene.units), (bottom - top) / (26 * unit)
    items += figures_up(axes, factor, int(max(2, min(5, most))), 13 * unit, theme.grid, theme.faint)
    return [*items, Line(((left, top), (left, bottom), (right, bottom)), theme.line, 1.2 * unit)]


def _station_axis(axes: Axes, scene: Scene, theme: Theme, unit: float) -> list[Mark]:
    """Numbers and name of the stations under a panel."""
    left, _, right, bottom = axes.rect
    length = convert(1.0, "length", scene.units)
    figures = list(figures_along(axes, length, 13 * unit, 15 * unit, theme.faint))
    items: list[Mark] = [
        Line(((text.at[0], bottom), (text.at[0], bottom + 6 * unit)), theme.line, 1.2 * unit)
        for text in figures
    ]
    name = f"Station along the route, {unit_label('length', scene.units)}"
    middle = ((left + right) / 2, bottom + 34 * unit)
    return [*items, *figures, Text(middle, name, 14 * unit, theme.ink, False, "middle")]


def _bend_lines(
    bends: list[tuple[float, Label]], axes: Sequence[Axes], theme: Theme, unit: float
) -> list[Mark]:
    """An upright hair line through the panels at every bend, in alarm where it exceeds its limit.

    None where they would run together, none in alarm where that would be most of what is seen.
    """
    width = axes[0].rect[2] - axes[0].rect[0]
    if len(bends) > width / (12 * unit):
        return []
    few = sum(label.alarm for _, label in bends) <= _FEW_ALARMS
    items: list[Mark] = []
    for station, label in sorted(bends, key=lambda b: b[0]):
        x = axes[0].across(station)
        color = theme.alarm if label.alarm and few else theme.grid
        items += [Line(((x, a.rect[1]), (x, a.rect[3])), color, 1.2 * unit) for a in axes]
    return items


# --- grade and route ---------------------------------------------------------------------------


def _grade_items(
    axes: Axes, scene: Scene, theme: Theme, unit: float, measure: Measure
) -> list[Mark]:
    """The ground over the route, dashed, where it is in the panel."""
    pixels, inside = _ground(axes, scene)
    box = _grade_box(axes, scene, unit, measure)
    if box[0] < 0:
        return []
    dash, y = f"{8 * unit:g} {6 * unit:g}", (box[1] + box[3]) / 2
    lines = (pixels[rows] for rows in stretches(inside) if rows.stop - rows.start > 1)
    return [
        *(Line(_cut_at(line, box[0]), theme.faint, 1.2 * unit, dash) for line in lines),
        Text((axes.rect[2], y), "grade", 13 * unit, theme.faint, False, "right"),
    ]


def _ground(axes: Axes, scene: Scene) -> tuple[Floats, Bools]:
    """The ground in pixels (n, 2), and which of its points are in the panel."""
    line = scene.ground
    inside = np.isfinite(line.heights) & (line.heights > axes.y[0]) & (line.heights < axes.y[1])
    return axes.place(line.stations, np.where(inside, line.heights, axes.y[0])), inside


def _cut_at(line: Floats, x: float) -> Floats:
    """A line that runs to the right, as far as ``x``."""
    if line[-1, 0] <= x:
        return line
    kept = line[line[:, 0] < x]
    return np.vstack((kept, (x, np.interp(x, line[:, 0], line[:, 1]))))


def _grade_box(axes: Axes, scene: Scene, unit: float, measure: Measure) -> Rect:
    """Where the word stands at the right end of the line; nowhere where grade is not shown."""
    pixels, inside = _ground(axes, scene)
    if not inside.any():
        return -1.0, -1.0, 0.0, 0.0
    right, y = axes.rect[2], float(pixels[inside][-1, 1])
    wide, tall = measure("grade", 13 * unit, False)
    return right - wide - 6 * unit, y - tall / 2, right, y + tall / 2


def _route_items(axes: Axes, scene: Scene, theme: Theme, unit: float) -> list[Mark]:
    """The elevation line in the colors of the scale, with an edge in ink."""
    items: list[Mark] = []
    for tube in scene.tubes:
        pixels = axes.place(tube.station, tube.points[:, 2] + scene.origin[2])
        items.append(Line(thin(pixels), theme.ink, 9 * unit))
    for tube in scene.tubes:
        items += _colored(axes, tube, scene, theme, unit)
    return items


def _colored(axes: Axes, tube: Tube, scene: Scene, theme: Theme, unit: float) -> list[Mark]:
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
    shades = scale_colors(scene.scale, middle, theme)
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


def _way_items(axes: Axes, scene: Scene, theme: Theme, unit: float) -> list[Mark]:
    """Which way the cable goes, on the straights that carry an arrow in the other views."""
    points = np.vstack([t.points for t in scene.tubes])
    feed, pull = (nearest_station(scene, points, s.mouth)[0] for s in scene.solids[:2])
    step = (1.0 if pull > feed else -1.0) * 1e-3 * axes.x[1]
    found: list[Mark] = []
    most = max(1, int((axes.rect[2] - axes.rect[0]) / (150 * unit)))
    for arrow in scene.arrows[:most]:
        at = nearest_station(scene, points, arrow.at)[0] + np.array([-step, step])
        back, fore = axes.place(at, np.interp(at, *_heights(scene)))
        along = (fore - back) / float(norm(fore - back)) * 12 * unit
        across = np.array([-along[1], along[0]]) * 0.85
        middle = (back + fore) / 2
        corners = (middle + along, middle - along + across, middle - along - across)
        found.append(Shape(tuple((float(x), float(y)) for x, y in corners), theme.ink))
    return found


# --- curves ------------------------------------------------------------------------------------


def _curve_items(axes: Axes, scene: Scene, which: int, theme: Theme, unit: float) -> list[Mark]:
    """A value along the route and its limit; what is above the limit in the color of alarm."""
    limit = scene.limits[which - 1]
    station = np.concatenate([tube.station for tube in scene.tubes])
    values = np.concatenate([_series(tube, which) for tube in scene.tubes])
    items: list[Mark] = [_line(axes, station, values, theme.ink, 2.2 * unit)]
    if limit > axes.y[1]:
        return items
    left, _, right, _ = axes.rect
    y = axes.down(limit)
    items.append(Line(((left, y), (right, y)), theme.alarm, 1.6 * unit))
    return items + [
        _line(axes, station[part], values[part], theme.alarm, 4 * unit)
        for part in stretches(values > limit * (1 + 1e-9))
    ]


def _line(axes: Axes, station: Floats, values: Floats, color: str, width: float) -> Line:
    return Line(thin(axes.place(station, values)), color, width)
