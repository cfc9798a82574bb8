"""Everything flat about a picture: where the words, the colour bar and the labels go."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from route3d.geometry.vectors import Floats, norm
from viewer.bar import bar_items, bar_width
from viewer.camera import Camera, View, camera_for
from viewer.cues import cue_items, cue_size
from viewer.labels import Placement, place_labels
from viewer.overlay import Box, Item, Line, Measure, Overlay, Rect, Ring, Text, wrapped
from viewer.scene_data import Fact, Label, Scene
from viewer.theme import Theme

# Sizes at 1600 x 1000; smaller frames shrink them to what can still be read.
_FULL = (1600, 1000)
_LEAST, _MOST = 0.66, 4.0
SMALLEST = (480, 360)
_LABEL_SHRINK = (1.0, 0.88, 0.78)
_STRONG = ("feed", "machine")


@dataclass(frozen=True, slots=True, eq=False)
class Layout:
    """The camera, the overlay and the labels' ``placement``, in the order of ``Scene.labels``."""

    camera: Camera
    overlay: Overlay
    placement: Placement


def arrange(
    scene: Scene, view: View, size: tuple[int, int], theme: Theme, measure: Measure
) -> Layout:
    """Lay out a picture of ``size`` pixels; ValueError below 480 x 360."""
    if size[0] < SMALLEST[0] or size[1] < SMALLEST[1]:
        raise ValueError(f"a picture of {size[0]} x {size[1]} is below {SMALLEST[0]} x 360 pixels")
    unit = float(np.clip(min(size[0] / _FULL[0], size[1] / _FULL[1]), _LEAST, _MOST))
    head, top = _head(scene, size, unit, theme, measure)
    foot, bottom = _foot(scene, size, unit, theme, measure)
    margin = 24 * unit
    right = size[0] - margin - bar_width(scene.scale, scene.units, unit, measure)
    frame = (margin, top, right - 12 * unit, bottom)
    pad_x = min(60 * unit, 0.06 * (frame[2] - frame[0]))
    pad_y = min(64 * unit, 0.13 * (frame[3] - frame[1]))
    room = (frame[0] + pad_x, frame[1] + pad_y, frame[2] - pad_x, frame[3] - pad_y)
    camera = camera_for(scene, view, size, room)
    bar_room = (right, top, size[0] - margin, bottom)
    bar = bar_items(scene.scale, scene.units, bar_room, unit, theme, measure)
    route = _route_pixels(scene, camera)
    corner = _free_corner(frame, cue_size(unit), route)
    cues = cue_items(scene, camera, corner, unit, theme, measure)
    placement, labels = _labels(scene, camera, frame, corner, route, unit, theme, measure)
    side = Box((frame[2], top, size[0], bottom + 8 * unit), theme.ground)
    return Layout(camera, (side, *labels, *head, *foot, *bar, *cues), placement)


# --- head and foot -----------------------------------------------------------------------------


def _head(
    scene: Scene, size: tuple[int, int], unit: float, theme: Theme, measure: Measure
) -> tuple[list[Item], float]:
    """Title, what to do, and why; and where the next thing may begin."""
    margin, y = 24 * unit, 20 * unit
    width = size[0] - 2 * margin
    loud = theme.alarm if scene.alarm else theme.ink
    texts: list[Item] = []
    for text, letters, bold, colour in (
        (scene.title, 17 * unit, False, theme.faint),
        (scene.headline, 38 * unit, True, loud),
        (scene.sentence, 18 * unit, False, theme.ink),
    ):
        for line in wrapped(text, width, letters, bold, measure):
            tall = measure(line, letters, bold)[1]
            texts.append(Text((margin, y + tall / 2), line, letters, colour, bold))
            y += tall
        y += 3 * unit
    band = Box((0.0, 0.0, size[0], y + 4 * unit), theme.ground)
    return [band, *texts], y + 8 * unit


def _foot(
    scene: Scene, size: tuple[int, int], unit: float, theme: Theme, measure: Measure
) -> tuple[list[Item], float]:
    """The figures in columns over the notes; and where what lies above must end."""
    margin = 24 * unit
    width = size[0] - 2 * margin
    notes = [
        line for note in scene.notes for line in wrapped(note, width, 14 * unit, False, measure)
    ]
    note_tall = measure("x", 14 * unit, False)[1]
    rows = _fact_rows(scene, width, unit, measure)
    fact_tall = 70 * unit
    top = size[1] - 14 * unit - len(notes) * note_tall - 8 * unit - len(rows) * fact_tall
    items: list[Item] = [
        Box((0.0, top, size[0], size[1]), theme.ground),
        Line(((margin, top), (size[0] - margin, top)), theme.line, 1.0),
    ]
    for r, row in enumerate(rows):
        y = top + r * fact_tall
        for fact, x in row:
            colour = theme.alarm if fact.alarm else theme.ink
            name = fact.name + (" · OVER LIMIT" if fact.alarm else "")
            items += [
                Text((x, y + 15 * unit), name, 13 * unit, colour if fact.alarm else theme.faint),
                Text((x, y + 36 * unit), fact.value, 21 * unit, colour, True),
                Text((x, y + 57 * unit), fact.note, 14 * unit, theme.faint),
            ]
    y = top + len(rows) * fact_tall + 8 * unit
    for k, line in enumerate(notes):
        items.append(Text((margin, y + (k + 0.5) * note_tall), line, 14 * unit, theme.faint))
    return items, top - 8 * unit


def _fact_rows(
    scene: Scene, width: float, unit: float, measure: Measure
) -> list[list[tuple[Fact, float]]]:
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


def _fact_width(fact: Fact, unit: float, measure: Measure) -> float:
    name = fact.name + (" · OVER LIMIT" if fact.alarm else "")
    texts = ((name, 13, False), (fact.value, 21, True), (fact.note, 14, False))
    return max(measure(t, s * unit, b)[0] for t, s, b in texts) + 22 * unit


# --- labels ------------------------------------------------------------------------------------


def _labels(
    scene: Scene,
    camera: Camera,
    frame: Rect,
    corner: Rect,
    route: Floats,
    unit: float,
    theme: Theme,
    measure: Measure,
) -> tuple[Placement, list[Item]]:
    """Place all labels, in smaller letters where that saves one from being dropped."""
    anchors = camera.project(np.array([label.xyz for label in scene.labels]))
    clear = np.array([_clearance(label, scene, camera) for label in scene.labels])
    count_size = (150 * unit, 24 * unit)
    count_box = (frame[0], frame[3] - count_size[1], frame[0] + count_size[0], frame[3])
    if corner[0] < count_box[2] and corner[3] > count_box[1]:
        count_box = (frame[2] - count_size[0], count_box[1], frame[2], count_box[3])
    best: tuple[Placement, float] | None = None
    for shrink in _LABEL_SHRINK:
        letters = max(unit * shrink, _LEAST * 0.9)
        sizes = np.array([_label_size(label, letters, measure) for label in scene.labels])
        placement = place_labels(
            anchors,
            sizes,
            frame,
            obstacles=np.array([corner, count_box]),
            avoid=route,
            keep_off=clear,
        )
        if best is None or len(placement.dropped) < len(best[0].dropped):
            best = placement, letters
        if not placement.dropped or letters <= _LEAST * 0.9:
            break
    assert best is not None
    placement, letters = best
    items: list[Item] = []
    for placed in placement.placed:
        label = scene.labels[placed.index]
        items += _leader(label, placed.anchor, placed.elbow, unit, theme)
    for placed in placement.placed:
        items += _card(scene.labels[placed.index], placed.box, letters, theme, measure)
    if placement.dropped:
        items.append(_count(len(placement.dropped), count_box, unit, theme))
    return placement, items


def _count(dropped: int, box: Rect, unit: float, theme: Theme) -> Text:
    text = f"+{dropped} more label" + ("s" if dropped > 1 else "")
    return Text((box[0], (box[1] + box[3]) / 2), text, 15 * unit, theme.faint, True)


def _clearance(label: Label, scene: Scene, camera: Camera) -> float:
    """Pixels from the anchor that a label keeps off, so as not to cover its own solid."""
    if label.kind not in _STRONG:
        return 0.0
    solid = scene.solids[_STRONG.index(label.kind)]
    return 0.5 * float(norm(np.array(solid.size))) / camera.scale


def _letters(label: Label, unit: float) -> list[tuple[float, bool]]:
    """Size and weight of each line of a label."""
    if label.kind in _STRONG:
        return [(16 * unit, True), (22 * unit, True)] + [(16 * unit, False)] * 8
    if label.kind == "worst":
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
    start = _from_ring(anchor, elbow, 15 * unit) if label.kind == "worst" else anchor
    items: list[Item] = [Line((start, elbow), colour, 1.6 * unit)]
    if label.kind == "worst":
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


def _free_corner(frame: Rect, size: tuple[float, float], route: Floats) -> Rect:
    """The corner of the frame where the least of the route lies, bottom left where equal."""
    left, right = (frame[0], frame[0] + size[0]), (frame[2] - size[0], frame[2])
    low, high = (frame[3] - size[1], frame[3]), (frame[1], frame[1] + size[1])
    corners = [(x[0], y[0], x[1], y[1]) for y in (low, high) for x in (left, right)]

    def covered(box: Rect) -> int:
        inside = (route >= np.array(box[:2]) - 20) & (route <= np.array(box[2:]) + 20)
        return int(inside.all(axis=1).sum())

    return min(corners, key=covered)
