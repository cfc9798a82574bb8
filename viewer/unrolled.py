"""The profile along the route, unrolled: elevation, tension and sidewall pressure over station."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from route3d.geometry.vectors import Floats, frozen, norm
from viewer.axes import Axes, with_grade
from viewer.camera import Camera
from viewer.cards import Cards, Place, label_cards
from viewer.layout import ROUTE_STEP, Layout
from viewer.overlay import Item, Measure
from viewer.panels import COMPACT, Panels, panels_for
from viewer.reading import reading
from viewer.scene_data import Label, Scene
from viewer.theme import Theme
from viewer.unrolled_panels import (
    bend_lines,
    curve_items,
    grade_box,
    grade_items,
    heights,
    panel_items,
    route_items,
    series,
    station_axis,
    way_items,
)

_NOTE = "The route unrolled: stations along the conduit, not across the plan"
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
    items: list[Item] = [
        *bend_lines(bends, panes, theme, unit),
        *panel_items(elevation, 0, scene, theme, unit, measure),
        *grade_items(elevation, theme, unit, measure),
        *route_items(elevation, scene, theme, unit),
        *way_items(elevation, scene, theme, unit),
    ]
    for which, axes in values:
        items += panel_items(axes, which, scene, theme, unit, measure)
        items += curve_items(axes, scene, which, theme, unit)
    items += station_axis(panes[-1], scene, theme, unit)
    keep = np.array([grade_box(elevation, unit, measure)])
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
    z = heights(scene)[1]
    low, high = with_grade(float(z.min()), float(z.max()))
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
    return max(float(series(t, which).max(initial=0.0)) for t in scene.tubes)


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
    pixels = axes.place(anchors, np.interp(anchors, *heights(scene)))
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
    place = Place(
        axes.rect, keep, axes.place(*_spaced(scene, axes, ROUTE_STEP * max(1.0, unit))), unit
    )
    return label_cards(here, _flat(size), place, theme, measure, orders)


def _flat(size: tuple[int, int]) -> Camera:
    """The camera that takes x, y of a point as its pixels."""
    middle = frozen([size[0] / 2, size[1] / 2, 0.0])
    axes = (frozen([1.0, 0.0, 0.0]), frozen([0.0, -1.0, 0.0]), frozen([0.0, 0.0, -1.0]))
    return Camera(*axes, middle, 1.0, size)


def _spaced(scene: Scene, axes: Axes, step: float) -> tuple[Floats, Floats]:
    """Points of the elevation line every ``step`` pixels; a shaft is upright and has its own."""
    pixels = axes.place(*heights(scene))
    along = np.concatenate(([0.0], np.cumsum(norm(np.diff(pixels, axis=0)))))
    index = np.interp(np.arange(0.0, along[-1] + step, step), along, np.arange(len(along)))
    station, z = heights(scene)
    rows = np.arange(len(station))
    return np.interp(index, rows, station), np.interp(index, rows, z)
