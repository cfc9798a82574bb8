"""The profile along the route, unrolled: elevation, tension and sidewall pressure over station."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from route3d.geometry.vectors import Floats, frozen, norm
from route3d.units import convert, show, unit_label
from viewer.axes import Axes, round_between, thin, tick_words
from viewer.camera import Camera
from viewer.labels import Placement
from viewer.layout import Layout, label_items
from viewer.meshes import scale_colours
from viewer.moving import nearest_station
from viewer.overlay import Item, Line, Measure, Rect, Shape, Text
from viewer.panels import COMPACT, Panels, panels_for
from viewer.reading import reading
from viewer.scene_data import Label, Scene
from viewer.theme import Theme

_NOTE = "The route unrolled: stations along the conduit, not across the plan"
_SHARES = (0.48, 0.26, 0.26)
# Free height over and under the elevation line, where its labels go: at most so much at
# 1600 x 1000, and at most so much of the panel.
_ABOVE, _BELOW = (80.0, 0.32), (92.0, 0.36)
_LEAST_RISE = 1.0  # m; a flatter route is not drawn steeper than one of this rise
_GAP = 30.0
_QUANTITIES = ("length", "force", "sidewall")
_FEW = 60  # labels; with more the ends cannot wait
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
    elevation, tension, sidewall = panes
    if picked is not None:
        scene = replace(scene, labels=(reading(scene, picked), *scene.labels))
    anchors = _stations(scene)
    if picked is not None:
        anchors[0] = picked
    bends = [(s, label) for s, label in zip(anchors, scene.labels, strict=False) if _bend(label)]
    items = [
        *_bend_lines(bends, panes, theme, panels.unit),
        *_panel(elevation, 0, scene, theme, panels.unit, measure),
        *_grade(elevation, theme, panels.unit, measure),
        *_route(elevation, scene, theme, panels.unit),
        *_ways(elevation, scene, theme, panels.unit),
        *_panel(tension, 1, scene, theme, panels.unit, measure),
        *_panel(sidewall, 2, scene, theme, panels.unit, measure),
        *_curve(tension, scene, 0, theme, panels.unit),
        *_curve(sidewall, scene, 1, theme, panels.unit),
        *_station_axis(sidewall, scene, theme, panels.unit),
    ]
    keep = np.array([_grade_box(elevation, panels.unit, measure)])
    placement, cards = _cards(scene, anchors, elevation, keep, panels, size, theme, measure)
    return Layout(_flat(size), (*items, *cards, *panels.items[1:]), placement)


def unrolled_axes(
    scene: Scene, size: tuple[int, int], theme: Theme, measure: Measure, strip: float, left: float
) -> tuple[Scene, Panels, tuple[Axes, Axes, Axes]]:
    """The scene in its words for this view, its frame, and the panels from the top."""
    scene = replace(scene, notes=(_NOTE, *scene.notes[1:2]))
    if size[1] < COMPACT:
        scene = replace(scene, facts=())
    panels = panels_for(scene, size, theme, measure, strip=strip)
    panels = replace(panels, frame=(max(panels.frame[0], left), *panels.frame[1:]))
    return scene, panels, _axes(scene, panels)


def _axes(scene: Scene, panels: Panels) -> tuple[Axes, Axes, Axes]:
    left, top, right, bottom = panels.frame
    unit = panels.unit
    left, right, bottom = left + 62 * unit, right - 14 * unit, bottom - 44 * unit
    top += 26 * unit
    x = (0.0, max(float(t.station[-1]) for t in scene.tubes))
    room = bottom - top - 2 * _GAP * unit
    heights = _elevations(scene, _SHARES[0] * room, unit)
    spans = (heights, *(_values_span(scene, k) for k in (0, 1)))
    found, y = [], top
    for share, span in zip(_SHARES, spans, strict=True):
        found.append(Axes((left, y, right, y + share * room), x, span))
        y += share * room + _GAP * unit
    return found[0], found[1], found[2]


def _elevations(scene: Scene, tall: float, unit: float) -> tuple[float, float]:
    """Elevations at the foot and head of a panel ``tall`` pixels high: room for labels."""
    z = np.concatenate([t.points[:, 2] for t in scene.tubes]) + scene.origin[2]
    low, high = float(z.min()), float(z.max())
    rise = max(high - low, _LEAST_RISE)
    above, below = (min(most * unit, share * tall) for most, share in (_ABOVE, _BELOW))
    per_pixel = rise / (tall - above - below)
    spare = (rise - (high - low)) / 2
    return low - spare - below * per_pixel, high + spare + above * per_pixel


def _values_span(scene: Scene, which: int) -> tuple[float, float]:
    """From zero to the limit where it is near, else to the peak, and a little more."""
    peak = max(float(_series(t, which).max(initial=0.0)) for t in scene.tubes)
    limit = scene.limits[which]
    near = limit if limit <= 4 * peak else 0.0
    return 0.0, 1.12 * max(peak, near, 1e-3)


def _series(tube: object, which: int) -> Floats:
    values: Floats = getattr(tube, ("tension", "sidewall")[which])
    return values


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
    panels: Panels,
    size: tuple[int, int],
    theme: Theme,
    measure: Measure,
) -> tuple[Placement, list[Item]]:
    """The labels of the scene beside the elevation, placed as on any other picture.

    The ends come last where there is room for them after the bends: their words are wide and would
    push the numbers of the bends beside them off their places.
    """
    heights = np.interp(anchors, *_elevation(scene))
    pixels = axes.place(anchors, heights)
    flat = tuple(
        replace(label, xyz=frozen([*at, 0.0]))
        for label, at in zip(scene.labels, pixels, strict=False)
    )
    route = axes.place(*_spaced(scene, axes))
    labels = flat + scene.labels[len(flat) :]
    solids = tuple(replace(s, size=(0.0, 0.0, 0.0)) for s in scene.solids)
    given = list(range(len(labels)))
    ends = [i for i in given if labels[i].kind in ("feed", "machine")]
    last = [i for i in given if i not in ends] + ends
    for order in (last, given) if len(labels) <= _FEW else (given,):
        here = replace(scene, labels=tuple(labels[i] for i in order), solids=solids)
        placement, items = label_items(
            here, _flat(size), axes.rect, keep, route, panels.unit, theme, measure
        )
        dropped = {order[i] for i in placement.dropped}
        if not dropped & set(ends):
            break
    placed = tuple(replace(p, index=order[p.index]) for p in placement.placed)
    return Placement(placed, tuple(sorted(dropped))), items


def _flat(size: tuple[int, int]) -> Camera:
    """The camera that takes x, y of a point as its pixels."""
    middle = frozen([size[0] / 2, size[1] / 2, 0.0])
    axes = (frozen([1.0, 0.0, 0.0]), frozen([0.0, -1.0, 0.0]), frozen([0.0, 0.0, -1.0]))
    return Camera(*axes, middle, 1.0, size)


def _elevation(scene: Scene) -> tuple[Floats, Floats]:
    station = np.concatenate([t.station for t in scene.tubes])
    z = np.concatenate([t.points[:, 2] for t in scene.tubes]) + scene.origin[2]
    return station, z


def _spaced(scene: Scene, axes: Axes) -> tuple[Floats, Floats]:
    """Points of the elevation line every few pixels; a shaft is upright and has its own."""
    pixels = axes.place(*_elevation(scene))
    along = np.concatenate(([0.0], np.cumsum(norm(np.diff(pixels, axis=0)))))
    index = np.interp(np.arange(0.0, along[-1] + 8.0, 8.0), along, np.arange(len(along)))
    station, z = _elevation(scene)
    rows = np.arange(len(station))
    return np.interp(index, rows, station), np.interp(index, rows, z)


# --- panels ------------------------------------------------------------------------------------


def _titles(scene: Scene, axes: Axes, which: int) -> tuple[str, ...]:
    """The title of a panel, longest first."""
    unit = unit_label(_QUANTITIES[which], scene.units)
    if which == 1:
        return (f"Tension, {unit}",)
    if which == 2:
        return f"Sidewall pressure of the worst cable, {unit}", f"Sidewall, {unit}"
    left, top, right, bottom = axes.rect
    times = ((bottom - top) / (axes.y[1] - axes.y[0])) / ((right - left) / axes.x[1])
    drawn = f"x {times:.1f}" if times >= 1 else f"x {times:.2f}"
    return (
        f"Elevation, {unit} (drawn {drawn} against station)",
        f"Elevation, {unit} (x {times:.2g})",
    )


def _limits(scene: Scene, axes: Axes, which: int) -> tuple[str, ...]:
    """The words of a limit, longest first."""
    words = f"limit {show(scene.limits[which], _QUANTITIES[which + 1], scene.units)}"
    return (words,) if scene.limits[which] <= axes.y[1] else (f"{words}, above", words, "")


def _panel(
    axes: Axes, which: int, scene: Scene, theme: Theme, unit: float, measure: Measure
) -> list[Item]:
    """Frame, title, words of the limit, grid and numbers of one panel."""
    left, top, right, bottom = axes.rect
    titles = _titles(scene, axes, which)
    limits = _limits(scene, axes, which - 1) if which else ("",)

    def fits(title: str, limit: str) -> bool:
        wide = measure(title, 14 * unit, True)[0] + measure(limit, 13 * unit, True)[0]
        return wide + 14 * unit <= right - left

    pairs = [(t, w) for w in limits for t in titles]
    title, limit = next((p for p in pairs if fits(*p)), (titles[-1], ""))
    items: list[Item] = [
        Text((left, top - 13 * unit), title, 14 * unit, theme.ink, True),
        Text((right, top - 13 * unit), limit, 13 * unit, theme.alarm, True, "right"),
    ]
    quantity = _QUANTITIES[which]
    low, high = (convert(v, quantity, scene.units) for v in axes.y)
    for value in round_between(low, high, int(max(2, min(5, (bottom - top) / (26 * unit))))):
        y = bottom - (value - low) / (high - low) * (bottom - top)
        items.append(Line(((left, y), (right, y)), theme.grid, 1.0))
        words = tick_words(value)
        at = (left - 8 * unit, y)
        items.append(Text(at, words, 13 * unit, theme.faint, False, "right"))
    return [*items, Line(((left, top), (left, bottom), (right, bottom)), theme.line, 1.2 * unit)]


def _station_axis(axes: Axes, scene: Scene, theme: Theme, unit: float) -> list[Item]:
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


def _grade(axes: Axes, theme: Theme, unit: float, measure: Measure) -> list[Item]:
    """The height of grade, dashed, where it is in the panel."""
    if not axes.y[0] < 0 < axes.y[1]:
        return []
    (left, y), (right, _) = axes.place(np.array(axes.x), np.zeros(2))
    box = _grade_box(axes, unit, measure)
    items: list[Item] = [
        Line(((x, y), (min(x + 8 * unit, box[0]), y)), theme.faint, 1.2 * unit)
        for x in map(float, np.arange(left, box[0], 14 * unit))
    ]
    return [*items, Text((float(right), y), "grade", 13 * unit, theme.faint, False, "right")]


def _grade_box(axes: Axes, unit: float, measure: Measure) -> Rect:
    """Where the word stands at the right end of the line; nowhere where grade is not shown."""
    if not axes.y[0] < 0 < axes.y[1]:
        return -1.0, -1.0, 0.0, 0.0
    right, y = map(float, axes.place(np.array(axes.x), np.zeros(2))[1])
    wide, tall = measure("grade", 13 * unit, False)
    return right - wide - 6 * unit, y - tall / 2, right, y + tall / 2


def _route(axes: Axes, scene: Scene, theme: Theme, unit: float) -> list[Item]:
    """The elevation line in the colours of the scale."""
    items: list[Item] = []
    for tube in scene.tubes:
        pixels = axes.place(tube.station, tube.points[:, 2] + scene.origin[2])
        line = tuple((float(x), float(y)) for x, y in thin(pixels))
        items.append(Line(line, theme.ink, 9 * unit))
    for tube in scene.tubes:
        items += _coloured(
            axes,
            tube.station,
            tube.points[:, 2] + scene.origin[2],
            scene.values(tube),
            scene,
            theme,
            unit,
        )
    return items


def _ways(axes: Axes, scene: Scene, theme: Theme, unit: float) -> list[Item]:
    """Which way the cable goes, on the straights that carry an arrow in the other views."""
    points = np.vstack([t.points for t in scene.tubes])
    feed, pull = (nearest_station(scene, points, s.mouth)[0] for s in scene.solids[:2])
    step = (1.0 if pull > feed else -1.0) * 1e-3 * axes.x[1]
    found: list[Item] = []
    most = max(1, int((axes.rect[2] - axes.rect[0]) / (150 * unit)))
    for arrow in scene.arrows[:most]:
        at = nearest_station(scene, points, arrow.at)[0] + np.array([-step, step])
        back, fore = axes.place(at, np.interp(at, *_elevation(scene)))
        along = (fore - back) / float(norm(fore - back)) * 12 * unit
        across = np.array([-along[1], along[0]]) * 0.85
        middle = (back + fore) / 2
        corners = (middle + along, middle - along + across, middle - along - across)
        found.append(Shape(tuple((float(x), float(y)) for x, y in corners), theme.ink))
    return found


def _coloured(
    axes: Axes,
    station: Floats,
    z: Floats,
    values: Floats,
    scene: Scene,
    theme: Theme,
    unit: float,
) -> list[Item]:
    """Short pieces of one colour each, by the value in their middle."""
    pixels = axes.place(station, z)
    along = np.concatenate(([0.0], np.cumsum(np.maximum(norm(np.diff(pixels, axis=0)), 1e-6))))
    at = np.unique(np.concatenate((np.arange(0.0, along[-1], 5.0), along[[-1]])))
    x, y = (np.interp(at, along, pixels[:, k]) for k in (0, 1))
    middle = np.interp((at[1:] + at[:-1]) / 2, along, values)
    shades = scale_colours(scene.scale, middle, theme)
    return [
        Line(
            ((float(x[i]), float(y[i])), (float(x[i + 1]), float(y[i + 1]))),
            "#{:02x}{:02x}{:02x}".format(*(int(c) for c in shades[i])),
            6.5 * unit,
        )
        for i in range(len(middle))
    ]


def _curve(axes: Axes, scene: Scene, which: int, theme: Theme, unit: float) -> list[Item]:
    """A value along the route and its limit; what is above the limit in the colour of alarm."""
    limit = scene.limits[which]
    items: list[Item] = []
    station = np.concatenate([tube.station for tube in scene.tubes])
    values = np.concatenate([_series(tube, which) for tube in scene.tubes])
    pixels = thin(axes.place(station, values))
    items.append(Line(tuple((float(x), float(y)) for x, y in pixels), theme.ink, 2.2 * unit))
    if limit > axes.y[1]:
        return items
    left, _, right, _ = axes.rect
    y = float(axes.place(np.zeros(1), np.array([limit]))[0, 1])
    items.append(Line(((left, y), (right, y)), theme.alarm, 2 * unit))
    for tube in scene.tubes:
        over = np.flatnonzero(_series(tube, which) > limit * (1 + 1e-9))
        for part in np.split(over, np.flatnonzero(np.diff(over) > 1) + 1):
            if len(part):
                pixels = thin(axes.place(tube.station[part], _series(tube, which)[part]))
                line = tuple((float(x), float(y)) for x, y in pixels)
                items.append(Line(line, theme.alarm, 4 * unit))
    return items


def _bend_lines(
    bends: list[tuple[float, Label]], axes: tuple[Axes, ...], theme: Theme, unit: float
) -> list[Item]:
    """An upright hair line through the panels at every bend, in alarm where it breaks its limit.

    None where they would run together.
    """
    width = axes[0].rect[2] - axes[0].rect[0]
    if len(bends) > width / (12 * unit):
        return []
    items: list[Item] = []
    for station, label in sorted(bends, key=lambda b: b[0]):
        x = float(axes[0].place(np.array([station]), np.zeros(1))[0, 0])
        colour = theme.alarm if label.alarm else theme.grid
        items += [Line(((x, a.rect[1]), (x, a.rect[3])), colour, 1.4 * unit) for a in axes]
    return items
