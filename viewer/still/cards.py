"""The cards of a picture: each label's words in a box beside its place, with a leader to it.

Where they do not all find room near their places they are tried with smaller letters and fewer
words. What must be told takes precedence: the ends, the worst place, whatever exceeds a limit.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from route3d.drawing.labels import Placed, PlacedLabels, covered, place_labels
from route3d.drawing.marks import Box, Line, Mark, Rect, Ring, Text
from route3d.drawing.text_width import Measure, wrapped
from route3d.geometry.vectors import Floats, norm
from viewer.camera import Camera
from viewer.scene.records import Label, Scene
from viewer.still.panels import LEAST
from viewer.theme import Theme

# Until all labels find a place near by: letters so much smaller, and of a bend all its lines, its
# name, its number; and where even what must be told finds none, the least of everything.
_ATTEMPTS = ((1.0, "lines"), (0.88, "lines"), (0.78, "lines"), (0.78, "name"), (0.78, "number"))
_LAST_ATTEMPTS = ((0.78, "number"), (0.78, "least"))
_FAR = 100.0  # a leader longer than this, at 1600 x 1000, leads the eye astray
_NAMED_WITHIN = 0.5  # of that for a conduit's name
_MOST_LABELS = 200  # more are not even tried: no frame holds them
_TIGHT = (460, 200)  # a frame below this, at 1600 x 1000, is a thumbnail
_HOPELESS = 12  # so many dropped labels are not saved by smaller letters alone ...
_CROWD = 30  # ... nor is it tried where there are so many
_WIDEST, _WIDEST_TIGHT = 0.6, 0.7  # a card takes at most so much of the frame's width
_TERSE = ((" · worst sidewall, over", ": over"), (" · worst sidewall", ": worst"))
_STRONG = ("feed", "machine")
_FLAGS = ("worst", "fault")

_Row = tuple[str, float, bool]
"""One row of a card: its words, their size in pixels and whether they are bold."""


@dataclass(frozen=True, slots=True, eq=False)
class Place:
    """Where cards may stand: in ``frame``, off the boxes ``keep`` (n, 4), beside ``route`` (k, 2).

    ``unit`` is the size of a pixel at 1600 x 1000.
    """

    frame: Rect
    keep: Floats
    route: Floats
    unit: float

    @property
    def tight(self) -> bool:
        """Whether the frame is a thumbnail."""
        return is_tight(self.frame, self.unit)


@dataclass(frozen=True, slots=True, eq=False)
class Cards:
    """The labels' ``placement`` and what draws them; a smaller ``score`` is a better picture."""

    placement: PlacedLabels
    items: tuple[Mark, ...]
    score: tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Trial:
    """One way to lay the labels out: the indices of those ``wanted``, the rows of each."""

    order: tuple[int, ...]
    rows: tuple[tuple[_Row, ...], ...]
    placement: PlacedLabels
    score: tuple[int, ...]


def is_tight(frame: Rect, unit: float) -> bool:
    """Whether a frame is a thumbnail, with room for the ends and what is worst alone."""
    wide, tall = frame[2] - frame[0], frame[3] - frame[1]
    return wide < _TIGHT[0] * unit or tall < _TIGHT[1] * unit


def must_be_told(label: Label) -> bool:
    """Whether a picture without this label misleads; of the bends that is the worst one."""
    return label.kind in (*_STRONG, *_FLAGS, "picked")


def label_cards(
    scene: Scene,
    camera: Camera,
    place: Place,
    theme: Theme,
    measure: Measure,
    orders: Sequence[Sequence[int]] = (),
) -> Cards:
    """The labels of a scene as cards; ``orders`` are orders to try them in, that given if none."""
    every = range(len(scene.labels))
    wanted = [_wanted(scene, order, place.tight) for order in orders or (every,)]
    if not wanted[0]:
        return Cards(PlacedLabels((), tuple(every)), (), (0,))
    best: _Trial | None = None
    for order in wanted:
        best = _best(scene, camera, place, measure, order, _ATTEMPTS, best)
        if not any(best.score):
            break
    assert best is not None
    musts = sorted(wanted[-1], key=lambda i: not must_be_told(scene.labels[i]))
    alone = [i for i in musts if must_be_told(scene.labels[i])]
    if any(best.score[:2]):  # those first
        best = _best(scene, camera, place, measure, musts, _LAST_ATTEMPTS, best)
    if best.score[0]:  # and at last those alone
        best = _best(scene, camera, place, measure, alone, _LAST_ATTEMPTS, best)
    shown = tuple(replace(p, index=best.order[p.index]) for p in best.placement.placed)
    items: list[Mark] = []
    for placed in shown:
        items += _leader(scene.labels[placed.index], placed, place.unit, theme)
    for placed, at in zip(shown, best.placement.placed, strict=True):
        label = scene.labels[placed.index]
        items += _card(label, placed.box, best.rows[at.index], place.unit, theme, measure)
    left_out = sorted(set(every) - {p.index for p in shown})
    if left_out and not place.tight:
        items.append(_count(len(left_out), _count_box(place), place.unit, theme))
    return Cards(PlacedLabels(shown, tuple(left_out)), tuple(items), best.score)


def _best(
    scene: Scene,
    camera: Camera,
    place: Place,
    measure: Measure,
    wanted: Sequence[int],
    attempts: Sequence[tuple[float, str]],
    best: _Trial | None,
) -> _Trial:
    """The best of ``best`` and of all ``attempts`` in one order."""
    labels = [scene.labels[i] for i in wanted]
    anchors = camera.project(np.array([label.xyz for label in labels]))
    clear = np.array([_clearance(label, scene, camera) for label in labels])
    must = np.array([must_be_told(label) for label in labels])
    reach = np.array([_reach(label, _FAR * place.unit) for label in labels])
    obstacles = place.keep if place.tight else np.vstack((place.keep, _count_box(place)))
    frame, far = place.frame, _FAR * place.unit
    crowded = len(wanted) > _CROWD
    tried = ((max(place.unit * shrink, LEAST * 0.9), told) for shrink, told in attempts)
    for letters, told in dict.fromkeys(tried):
        if crowded and told == "lines":
            continue
        rows = tuple(_rows(label, told, place, letters, measure) for label in labels)
        sizes = np.array([_size(r, letters, measure) for r in rows])
        placement = place_labels(
            anchors,
            sizes,
            frame,
            obstacles=obstacles,
            avoid=place.route,
            keep_off=clear,
            must=must,
            reach=reach,
        )
        placement = _off_the_route(placement, labels, place)
        unwanted = len(scene.labels) - len(wanted)
        lost, astray, *rest = _score(placement, labels, place, far, unwanted)
        score = (lost, astray, int(told == "least"), *rest)
        if best is None or score < best.score:
            best = _Trial(tuple(wanted), rows, placement, score)
        if not any(score):
            break
        crowded = crowded or len(placement.dropped) > _HOPELESS
    assert best is not None
    return best


def _score(
    placement: PlacedLabels, labels: Sequence[Label], place: Place, far: float, unwanted: int
) -> tuple[int, ...]:
    """What must be told and is not, or from afar; what else is not; route under cards."""
    must = [must_be_told(label) for label in labels]
    boxes = np.array([p.box for p in placement.placed]).reshape(-1, 4)
    over = int(covered(boxes, place.route, 0.0).sum()) if place.tight else 0
    return (
        sum(must[i] for i in placement.dropped),
        sum(must[p.index] and math.dist(p.anchor, p.elbow) > far for p in placement.placed)
        + _swapped(placement, labels),
        len(placement.dropped) + (0 if place.tight else unwanted),
        over,
    )


def _swapped(placement: PlacedLabels, labels: Sequence[Label]) -> int:
    """1 where the ends are named each on the other's side."""
    ends = sorted(
        (p.anchor[0], p.box[0] + p.box[2])
        for p in placement.placed
        if labels[p.index].kind in _STRONG
    )
    return int(len(ends) == 2 and ends[0][1] > ends[1][1] and ends[1][0] - ends[0][0] > 1.0)


def _reach(label: Label, far: float) -> float:
    """The longest leader of a label; a longer one leads the eye to another place.

    What must be told may stand anywhere.
    """
    if must_be_told(label):
        return math.inf
    return far * (_NAMED_WITHIN if label.kind == "conduit" else 1.0)


def _off_the_route(placement: PlacedLabels, labels: Sequence[Label], place: Place) -> PlacedLabels:
    """Without cards on the route that should be dropped.

    Those are a conduit's name, which any other place of it says as well, and in a thumbnail
    whatever need not be told.
    """
    kept: list[Placed] = []
    dropped = list(placement.dropped)
    for placed in placement.placed:
        label = labels[placed.index]
        loose = label.kind == "conduit" or (place.tight and not must_be_told(label))
        if loose and covered(np.array([placed.box]), place.route, 0.0)[0]:
            dropped.append(placed.index)
        else:
            kept.append(placed)
    return PlacedLabels(tuple(kept), tuple(sorted(dropped)))


# --- words -------------------------------------------------------------------------------------


def _wanted(scene: Scene, order: Sequence[int], tight: bool) -> list[int]:
    """The labels to try; in a thumbnail only what must be told."""
    if not tight:
        return list(order[:_MOST_LABELS])
    loud = [i for i in order if scene.labels[i].alarm or must_be_told(scene.labels[i])]
    return loud[:_MOST_LABELS]


def least_words(label: Label) -> str:
    """The shortest text of a label: who stands there, or what is wrong."""
    line = _brief(label, "least", tight=True).lines[0]
    return {"feed": f"feed: {line}", "machine": f"pull: {line}"}.get(label.kind, line)


def _brief(label: Label, told: str, *, tight: bool) -> Label:
    """What is said of a label that has to be short; the rest stands in the tables."""
    lines = label.lines
    if (tight or told == "least") and label.kind not in ("picked", "bend"):
        line = lines[1 if label.kind in _STRONG else 0]
        for words, fewer in _TERSE:
            line = line.replace(words, fewer)
        if label.kind == "fault" and told != "lines":
            line = line.rpartition(": ")[0] or line  # without the figures
        return replace(label, lines=(line,))
    if label.kind == "bend" and tight:
        return replace(label, lines=(lines[0].replace(" · ", ": "),))
    if label.kind not in ("bend", "worst", "fault", "machine") or told == "lines":
        return label
    if label.kind == "machine":
        return replace(label, lines=lines[:3])
    if label.kind == "fault":
        more = (f"and {len(lines) - 1} more",) if len(lines) > 1 else ()
        return replace(label, lines=(lines[0], *more))
    if label.kind == "worst":
        return replace(label, lines=(lines[0], *lines[2:]))
    number = re.search(r"\d+", lines[0])
    if told == "name" or number is None:
        return replace(label, lines=(lines[0], *(lines[2:] if label.alarm else ())))
    return replace(label, lines=(f"{number[0]} over" if label.alarm else number[0],))


def _letters(label: Label, unit: float) -> list[tuple[float, bool]]:
    """Size and weight of each line of a label."""
    if label.kind in _STRONG:
        return [(16 * unit, True), (22 * unit, True)] + [(16 * unit, False)] * 8
    if label.kind in _FLAGS:
        return [(16 * unit, True)] + [(15 * unit, False)] * 8
    if label.kind in ("pull point", "bend", "picked"):
        return [(14 * unit, True)] + [(14 * unit, False)] * 8
    return [(14 * unit, False)] * 8


def _rows(
    label: Label, told: str, place: Place, letters: float, measure: Measure
) -> tuple[_Row, ...]:
    """The rows of a card, none wider than the frame can spare."""
    share = _WIDEST_TIGHT if place.tight else _WIDEST
    most = share * (place.frame[2] - place.frame[0]) - 16 * letters
    short = _brief(label, told, tight=place.tight)
    found: list[_Row] = []
    for line, (size, bold) in zip(short.lines, _letters(label, letters), strict=False):
        found += [(row, size, bold) for row in wrapped(line, most, size, bold, measure)]
    return tuple(found)


def _size(rows: tuple[_Row, ...], letters: float, measure: Measure) -> tuple[float, float]:
    spans = [measure(*row) for row in rows]
    return max(w for w, _ in spans) + 16 * letters, sum(h for _, h in spans) + 8 * letters


# --- shapes ------------------------------------------------------------------------------------


def _card(
    label: Label, box: Rect, rows: tuple[_Row, ...], unit: float, theme: Theme, measure: Measure
) -> list[Mark]:
    strong = label.kind in _STRONG
    fill = {"feed": theme.feed, "machine": theme.machine}.get(label.kind, theme.card)
    loud = theme.alarm if label.alarm else theme.line
    items: list[Mark] = [Box(box, fill, "" if strong else loud, 1.5, 5 * unit)]
    spans = [measure(*row) for row in rows]
    x = box[0] + (box[2] - box[0] - max(w for w, _ in spans)) / 2
    y = box[1] + (box[3] - box[1] - sum(h for _, h in spans)) / 2
    for k, ((line, size, bold), (_, tall)) in enumerate(zip(rows, spans, strict=True)):
        color = theme.on_solid if strong else theme.ink
        if label.alarm and (k == 0 or bold):
            color = theme.alarm
        items.append(Text((x, y + tall / 2), line, size, color, bold))
        y += tall
    return items


def _leader(label: Label, placed: Placed, unit: float, theme: Theme) -> list[Mark]:
    """A thin line from the place to its card: gray, so as not to look like a conduit."""
    dot = {"feed": theme.feed, "machine": theme.machine}.get(label.kind, theme.ink)
    color = theme.faint
    if label.alarm:
        dot = color = theme.alarm
    flag, anchor = label.kind in _FLAGS, placed.anchor
    start = _from_ring(anchor, placed.elbow, 15 * unit) if flag else anchor
    items: list[Mark] = [Line((start, placed.elbow), color, max(1.0, 1.3 * unit))]
    if flag:
        ring = theme.alarm if label.alarm else theme.ink
        return [*items, Ring(anchor, 15 * unit, ring, 3 * unit)]
    items.append(Ring(anchor, 3.5 * unit, theme.ground, 1.2 * unit, dot))
    return items


def _from_ring(
    anchor: tuple[float, float], elbow: tuple[float, float], radius: float
) -> tuple[float, float]:
    """Where a leader leaves the ring about its anchor; its end where that lies inside."""
    dx, dy = elbow[0] - anchor[0], elbow[1] - anchor[1]
    share = min(1.0, radius / max(math.hypot(dx, dy), 1e-9))
    return anchor[0] + share * dx, anchor[1] + share * dy


def _count_box(place: Place) -> Rect:
    """Where the number of labels omitted stands, off what is kept free."""
    frame, (wide, tall) = place.frame, (150 * place.unit, 24 * place.unit)
    left = (frame[0], frame[3] - tall, frame[0] + wide, frame[3])
    if any(not apart(tuple(box), left) for box in place.keep.tolist()):
        return (frame[2] - wide, frame[3] - tall, frame[2], frame[3])
    return left


def _count(dropped: int, box: Rect, unit: float, theme: Theme) -> Text:
    text = f"+{dropped} more label" + ("s" if dropped > 1 else "")
    return Text((box[0], (box[1] + box[3]) / 2), text, 15 * unit, theme.faint, True)


def _clearance(label: Label, scene: Scene, camera: Camera) -> float:
    """Pixels from the anchor that a label keeps off, so as not to cover its own solid."""
    if label.kind not in _STRONG:
        return 0.0
    solid = scene.solids[_STRONG.index(label.kind)]  # the reel, then machine or stake
    return 0.5 * float(norm(np.array(solid.size))) / camera.scale


def apart(a: Sequence[float], b: Sequence[float]) -> bool:
    """Whether two boxes have nothing in common."""
    return a[0] >= b[2] or b[0] >= a[2] or a[1] >= b[3] or b[1] >= a[3]
