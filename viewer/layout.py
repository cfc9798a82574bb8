"""Everything flat about a picture: where the words, the colour bar and the labels go."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace

import numpy as np

from route3d.geometry.vectors import Floats, norm
from viewer.camera import Camera, View, camera_for
from viewer.cues import cue_items, cue_size
from viewer.labels import Placement, place_labels
from viewer.overlay import Box, Item, Line, Measure, Overlay, Rect, Ring, Text
from viewer.panels import LEAST, Panels, panels_for
from viewer.scene_data import Label, Scene
from viewer.theme import Theme

# Until all labels find a place near by: letters so much smaller, and of a bend all its lines, its
# name, its number.
_ATTEMPTS = ((1.0, "lines"), (0.88, "lines"), (0.78, "lines"), (0.78, "name"), (0.78, "number"))
_FAR = 130.0  # a leader longer than this, at 1600 x 1000, leads the eye astray
_MOST_LABELS = 200  # more are not even tried: no frame holds them
_TIGHT = (460, 200)  # a frame below this, at 1600 x 1000, is a thumbnail
_HOPELESS = 30  # so many dropped labels are not saved by smaller letters
_STRONG = ("feed", "machine")
_FLAGS = ("worst", "fault")


@dataclass(frozen=True, slots=True, eq=False)
class Layout:
    """The camera, the overlay and the labels' ``placement``, in the order of ``Scene.labels``."""

    camera: Camera
    overlay: Overlay
    placement: Placement


def arrange(
    scene: Scene, view: View, size: tuple[int, int], theme: Theme, measure: Measure
) -> Layout:
    """Lay out a picture of ``size`` pixels; ValueError below 400 x 300."""
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
    route = _route_pixels(scene, camera)
    brief = is_tight(frame, unit)
    corner = _free_corner(frame, cue_size(unit, brief=brief), route, free)
    inside = (route >= np.array(corner[:2])).all(axis=1) & (route <= np.array(corner[2:])).all(
        axis=1
    )
    over_route = brief and bool(inside.any())  # a thumbnail has no room for them
    cues = () if over_route else cue_items(scene, camera, corner, unit, theme, brief=brief)
    if not labels:
        nothing = Placement((), tuple(range(len(scene.labels))))
        return Layout(camera, (*panels.items, *cues), nothing)
    keep = np.array([box for box in (None if over_route else corner, free) if box is not None])
    keep = keep.reshape(-1, 4)
    placement, cards = label_items(scene, camera, frame, keep, route, unit, theme, measure)
    side, *rest = panels.items
    return Layout(camera, (side, *cards, *rest, *cues), placement)


# --- labels ------------------------------------------------------------------------------------


def label_items(
    scene: Scene,
    camera: Camera,
    frame: Rect,
    keep: Floats,
    route: Floats,
    unit: float,
    theme: Theme,
    measure: Measure,
) -> tuple[Placement, list[Item]]:
    """The labels of a scene in ``frame``, off the boxes ``keep`` (n, 4) and the points ``route``.

    They are drawn smaller, and bends at last by number alone, where that saves one from being
    dropped or from standing far off.
    """
    tight = is_tight(frame, unit)
    chosen = _wanted(scene, tight)
    if not chosen:
        return Placement((), tuple(range(len(scene.labels)))), []
    wanted = [label for _, label in chosen]
    anchors = camera.project(np.array([label.xyz for label in wanted]))
    clear = np.array([_clearance(label, scene, camera) for label in wanted])
    count_size = (150 * unit, 24 * unit)
    count_box = (frame[0], frame[3] - count_size[1], frame[0] + count_size[0], frame[3])
    if any(not _apart(_rect(box), count_box) for box in keep):
        count_box = (frame[2] - count_size[0], count_box[1], frame[2], count_box[3])
    best: tuple[tuple[int, int], Placement, list[Label], float] | None = None
    attempts = ((max(unit * shrink, LEAST * 0.9), told) for shrink, told in _ATTEMPTS)
    for letters, told in dict.fromkeys(attempts):
        tried = [_brief(label, told, crowded=len(wanted) > _HOPELESS) for label in wanted]
        sizes = np.array([_label_size(label, letters, measure) for label in tried])
        placement = place_labels(
            anchors,
            sizes,
            frame,
            obstacles=np.vstack((keep, count_box)),
            avoid=route,
            keep_off=clear,
        )
        placement = _without_strays(placement, tried, _FAR * unit)
        score = (len(placement.dropped), _far(placement, tried, _FAR * unit))
        if best is None or score < best[0]:
            best = score, placement, tried, letters
        if not any(score) or len(placement.dropped) > _HOPELESS:
            break
    assert best is not None
    _, placement, wanted, letters = best
    items: list[Item] = []
    for placed in placement.placed:
        items += _leader(wanted[placed.index], placed.anchor, placed.elbow, unit, theme)
    for placed in placement.placed:
        items += _card(wanted[placed.index], placed.box, letters, theme, measure)
    shown = tuple(replace(p, index=chosen[p.index][0]) for p in placement.placed)
    left_out = set(range(len(scene.labels))) - {p.index for p in shown}
    if left_out and not tight:
        items.append(_count(len(left_out), count_box, unit, theme))
    return Placement(shown, tuple(sorted(left_out))), items


def _brief(label: Label, told: str, *, crowded: bool) -> Label:
    """A bend by its name or number alone; what else there is to say stands in the tables.

    So does what holds the machine.
    """
    if label.kind == "machine" and (crowded or told != "lines"):
        return replace(label, lines=label.lines[:3])
    if label.kind != "bend" or told == "lines":
        return label
    number = re.search(r"\d+", label.lines[0])
    short = number[0] if told == "number" and number else label.lines[0]
    return replace(label, lines=(short,))


def _far(placement: Placement, labels: list[Label], far: float) -> int:
    """How many bends have their number so far off that the eye takes it for another's."""
    return sum(
        labels[p.index].kind == "bend" and math.dist(p.anchor, p.elbow) > far
        for p in placement.placed
    )


def _without_strays(placement: Placement, labels: list[Label], far: float) -> Placement:
    """Without the conduit names that stand far off: any other place of the conduit says the same.

    They count as dropped.
    """
    strays = tuple(
        p.index
        for p in placement.placed
        if labels[p.index].kind == "conduit" and math.dist(p.anchor, p.elbow) > far
    )
    kept = tuple(p for p in placement.placed if p.index not in strays)
    return Placement(kept, tuple(sorted((*placement.dropped, *strays))))


def is_tight(frame: Rect, unit: float) -> bool:
    """Whether a frame is a thumbnail, with room for the ends and the worst place alone."""
    wide, tall = frame[2] - frame[0], frame[3] - frame[1]
    return wide < _TIGHT[0] * unit or tall < _TIGHT[1] * unit


def _wanted(scene: Scene, tight: bool) -> list[tuple[int, Label]]:
    """The labels to try, with their numbers; in a thumbnail one line of each that matters most."""
    if not tight:
        return list(enumerate(scene.labels[:_MOST_LABELS]))
    line = {"worst": 0, "fault": 0, "feed": 1, "machine": 1}
    return [
        (i, replace(label, lines=(_terse(label.lines[line[label.kind]]),)))
        for i, label in enumerate(scene.labels)
        if label.kind in line
    ]


def _terse(line: str) -> str:
    return line.replace(" · worst sidewall, over limit", ": over limit")


def _count(dropped: int, box: Rect, unit: float, theme: Theme) -> Text:
    text = f"+{dropped} more label" + ("s" if dropped > 1 else "")
    return Text((box[0], (box[1] + box[3]) / 2), text, 15 * unit, theme.faint, True)


def _clearance(label: Label, scene: Scene, camera: Camera) -> float:
    """Pixels from the anchor that a label keeps off, so as not to cover its own solid."""
    if label.kind not in _STRONG:
        return 0.0
    solid = scene.solids[_STRONG.index(label.kind)]  # the reel, then machine or stake
    return 0.5 * float(norm(np.array(solid.size))) / camera.scale


def _letters(label: Label, unit: float) -> list[tuple[float, bool]]:
    """Size and weight of each line of a label."""
    if label.kind in _STRONG:
        return [(16 * unit, True), (22 * unit, True)] + [(16 * unit, False)] * 8
    if label.kind in _FLAGS:
        return [(16 * unit, True)] + [(15 * unit, False)] * 8
    if label.kind in ("pull point", "bend"):
        return [(14 * unit, True)] + [(14 * unit, False)] * 8
    return [(14 * unit, False)] * 8


def _label_size(label: Label, unit: float, measure: Measure) -> tuple[float, float]:
    spans = [
        measure(line, size, bold)
        for line, (size, bold) in zip(label.lines, _letters(label, unit), strict=False)
    ]
    return max(w for w, _ in spans) + 16 * unit, sum(h for _, h in spans) + 8 * unit


def _card(label: Label, box: Rect, unit: float, theme: Theme, measure: Measure) -> list[Item]:
    strong = label.kind in _STRONG
    fill = {"feed": theme.feed, "machine": theme.machine}.get(label.kind, theme.card)
    loud = theme.alarm if label.alarm else theme.line
    items: list[Item] = [Box(box, fill, "" if strong else loud, 1.5, 5 * unit)]
    y = box[1] + 4 * unit
    for k, (line, (size, bold)) in enumerate(zip(label.lines, _letters(label, unit), strict=False)):
        tall = measure(line, size, bold)[1]
        colour = theme.on_solid if strong else theme.ink
        if label.alarm and k == 0:
            colour = theme.alarm
        items.append(Text((box[0] + 8 * unit, y + tall / 2), line, size, colour, bold))
        y += tall
    return items


def _leader(
    label: Label, anchor: tuple[float, float], elbow: tuple[float, float], unit: float, theme: Theme
) -> list[Item]:
    colour = {"feed": theme.feed, "machine": theme.machine}.get(label.kind, theme.ink)
    if label.alarm:
        colour = theme.alarm
    start = _from_ring(anchor, elbow, 15 * unit) if label.kind in _FLAGS else anchor
    items: list[Item] = [Line((start, elbow), colour, 1.6 * unit)]
    if label.kind in _FLAGS:
        return [*items, Ring(anchor, 15 * unit, colour, 3 * unit)]
    items.append(Ring(anchor, 3.5 * unit, theme.ground, 1.2 * unit, colour))
    return items


def _from_ring(
    anchor: tuple[float, float], elbow: tuple[float, float], radius: float
) -> tuple[float, float]:
    """Where a leader leaves the ring about its anchor; its end where that lies inside."""
    dx, dy = elbow[0] - anchor[0], elbow[1] - anchor[1]
    share = min(1.0, radius / max(float(np.hypot(dx, dy)), 1e-9))
    return anchor[0] + share * dx, anchor[1] + share * dy


# --- what the labels keep clear of -------------------------------------------------------------


def _route_pixels(scene: Scene, camera: Camera) -> Floats:
    """Points every few pixels along all tubes, and over reel and machine, (n, 2)."""
    found = []
    for tube in scene.tubes:
        pixels = camera.project(tube.points)
        along = np.concatenate(([0.0], np.cumsum(norm(np.diff(pixels, axis=0)))))
        at = np.arange(0.0, along[-1] + 8.0, 8.0)
        found.append(np.column_stack([np.interp(at, along, pixels[:, k]) for k in (0, 1)]))
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
        clash = taken is not None and not _apart(box, taken)
        return int(inside.all(axis=1).sum()) + (1_000_000 if clash else 0)

    return min(corners, key=covered)


def _rect(box: Floats) -> Rect:
    return float(box[0]), float(box[1]), float(box[2]), float(box[3])


def _apart(a: Rect, b: Rect) -> bool:
    return a[0] >= b[2] or b[0] >= a[2] or a[1] >= b[3] or b[1] >= a[3]
