"""Everything flat about a picture: where the words, the color bar and the labels go."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from route3d.drawing.labels import PlacedLabels
from route3d.drawing.marks import Marks, Rect, spaced
from route3d.drawing.text_width import Measure
from route3d.geometry.vectors import Floats
from viewer.camera import Camera, View, camera_for
from viewer.scene.records import Scene
from viewer.still.cards import Cards, Place, apart, is_tight, label_cards
from viewer.still.cues import cue_items, cue_size
from viewer.still.panels import Panels, panels_for
from viewer.theme import Theme

ROUTE_STEP = 8.0
"""Pixels, at 1600 x 1000 or less, between two points of the route that cards keep off."""


@dataclass(frozen=True, slots=True, eq=False)
class Layout:
    """The camera, the overlay and the labels' ``placement``, in the order of ``Scene.labels``."""

    camera: Camera
    overlay: Marks
    placement: PlacedLabels


def arrange(
    scene: Scene, view: View, size: tuple[int, int], theme: Theme, measure: Measure
) -> Layout:
    """Lay out a picture of ``size`` pixels; ValueError where it is too small."""
    panels = panels_for(scene, size, theme, measure)
    camera = camera_for(scene, view, size, panels.room, panels.frame)
    return arrange_with(scene, camera, panels, theme, measure)


def arrange_with(
    scene: Scene,
    camera: Camera,
    panels: Panels,
    theme: Theme,
    measure: Measure,
    *,
    free: Rect | None = None,
    labels: bool = True,
) -> Layout:
    """The same about any camera: labels keep off ``free``; without ``labels`` none is placed."""
    unit, frame = panels.unit, panels.frame
    route = _route_pixels(scene, camera, ROUTE_STEP * max(1.0, unit))
    brief = is_tight(frame, unit)
    taken = [] if free is None else [free]
    corner = _free_corner(frame, cue_size(unit, brief=brief), route, free)
    cues = tuple(cue_items(scene, camera, corner, unit, theme, brief=brief))
    crossed = ((route >= corner[:2]) & (route <= corner[2:])).all(axis=1).any()
    with_cues = not (brief and crossed)  # a thumbnail has no room for them then
    side, *rest = panels.items
    if not labels:
        nothing = PlacedLabels((), tuple(range(len(scene.labels))))
        return Layout(camera, (*panels.items, *(cues if with_cues else ())), nothing)

    def cards(keep: list[Rect]) -> Cards:
        place = Place(frame, np.array(keep).reshape(-1, 4), route, unit)
        return label_cards(scene, camera, place, theme, measure)

    found = cards([*taken, corner] if with_cues else taken)
    if brief and with_cues and any(found.score):  # labels go before scale and north
        bare = cards(taken)
        if bare.score < found.score:
            found, with_cues = bare, False
    cues = cues if with_cues else ()
    return Layout(camera, (side, *found.items, *rest, *cues), found.placement)


# --- what the labels keep clear of -------------------------------------------------------------


def _route_pixels(scene: Scene, camera: Camera, step: float) -> Floats:
    """Points every ``step`` pixels along all tubes, and over reel and machine, (n, 2)."""
    found = [spaced(camera.project(tube.points), step) for tube in scene.tubes]
    fractions = np.linspace(-0.5, 0.5, 5)
    for solid in scene.solids:
        mesh = np.array([(a, b, c + 0.5) for a in fractions for b in fractions for c in fractions])
        across = np.cross([0.0, 0.0, 1.0], solid.along)
        axes = np.vstack((solid.along, across, [0.0, 0.0, 1.0])) * np.array(solid.size)[:, None]
        found.append(camera.project(solid.base + mesh @ axes))
    return np.vstack(found)


def _free_corner(
    frame: Rect, size: tuple[float, float], route: Floats, taken: Rect | None = None
) -> Rect:
    """The corner of the frame where the least of the route lies, bottom left where equal."""
    left, right = (frame[0], frame[0] + size[0]), (frame[2] - size[0], frame[2])
    low, high = (frame[3] - size[1], frame[3]), (frame[1], frame[1] + size[1])
    corners = [(x[0], y[0], x[1], y[1]) for y in (low, high) for x in (left, right)]

    def covered(box: Rect) -> int:
        inside = (route >= np.array(box[:2]) - 20) & (route <= np.array(box[2:]) + 20)
        clash = taken is not None and not apart(box, taken)
        return int(inside.all(axis=1).sum()) + (1_000_000 if clash else 0)

    return min(corners, key=covered)
