"""The route as a line drawing in parallel projection, clear in black and white.

No 3D renderer is needed, so that a sheet can be made anywhere.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from route3d.drawing import svg
from route3d.drawing.axes import round_down
from route3d.drawing.charts import PRINT
from route3d.drawing.labels import LabelRoom, Manner, Wish
from route3d.drawing.marks import (
    Box,
    Line,
    Mark,
    Points,
    Rect,
    Ring,
    Text,
    along,
    lengths,
    wedge,
    written,
)
from route3d.drawing.text_width import CAPITAL, text_width
from route3d.geometry.path import ARC, Path
from route3d.geometry.vectors import Floats
from route3d.mechanics.pull import Pull
from route3d.units import convert, show

_SIZE = (760, 420)
_MARGIN = 74.0
_ELEVATION = math.radians(28.0)
_AZIMUTHS = np.radians(np.arange(0, 360, 15))
# A chord of an arc may leave it by this share of the drawing (px would need the scale first).
_CHORD = 5e-4
_SMALL, _TEXT, _LINE = 11.0, 13.0, 16.0
# Bends closer than this to another (px) share one number tag, such as 3-5.
_TOGETHER = 17.0
_DENSE = 4.0  # px between places of the route that tags keep off
_FAR = 22.0  # px from its sign a tag takes a leader
_TAGS = Manner(
    3.0, (4.0, 10.0, 22.0, 44.0, 70.0, 100.0), 24, cover=50.0, obstacle=40.0, beside=1.0, turn=6.0
)
_INK, _GROUND, _FAINT, _LINES = (PRINT[name] for name in ("ink", "ground", "faint", "line"))


@dataclass(frozen=True, slots=True)
class _Tag:
    """Words that belong to a place of the drawing, px; the first is placed first."""

    at: tuple[float, float]
    lines: tuple[str, ...]
    bold: bool = False
    clear: float = 10.0  # half the size of the sign that stands there


def route_sketch(pull: Pull, system: str, *, size: tuple[int, int] = _SIZE) -> str:
    """SVG of the route with feed end, machine, bends, pull points, the worst bend, north and scale.

    Parallel projection from the side that shows the legs longest; heights are to scale.
    """
    points = _centerline(pull.path)
    view = _best_view(points)
    drawing = _Drawing.of(points, view, size)
    room = LabelRoom((2.0, 2.0, size[0] - 2.0, size[1] - 2.0), _TAGS)
    for taken in ((0, size[1] - 34, size[0], size[1]), (size[0] - 62, 10, size[0] - 10, 84)):
        room.take_sign((*map(float, taken),))  # type: ignore[arg-type]
    room.take_line(drawing.at(points), _DENSE)
    marks = [
        *_drops(pull.path, drawing, float(points[:, 2].min())),
        *_run(points, drawing, pull.reverse),
        *_bends(pull, drawing, room),
        *_ends(pull, drawing, room),
        *_north(view, size),
        *_scale(drawing, system, size),
        *_key(pull, size),
    ]
    return svg.document(marks, size)


# --- projection --------------------------------------------------------------------------------


def _centerline(path: Path) -> Floats:
    """Points on the centerline, close enough for the drawing, (n, 3) m."""
    size = float(np.ptp(np.vstack((path.starts, path.ends)), axis=0).max())
    points: Floats = path.point(path.sample(max(_CHORD * size, 1e-6)))
    return points


def _axes(azimuth: float) -> tuple[Floats, Floats]:
    """The directions to the right and up in the picture, seen from ``azimuth`` (from +x, rad)."""
    right = np.array([-math.sin(azimuth), math.cos(azimuth), 0.0])
    sin, cos = math.sin(_ELEVATION), math.cos(_ELEVATION)
    up = np.array([-sin * math.cos(azimuth), -sin * math.sin(azimuth), cos])
    return right, up


def _best_view(points: Floats) -> float:
    """The azimuth from which the shortest-looking piece of the route looks longest."""
    steps = np.diff(points, axis=0)
    lengths = np.linalg.norm(steps, axis=1)
    keep = lengths > 0.02 * lengths.sum() if (lengths > 0.02 * lengths.sum()).any() else lengths > 0
    steps, lengths = steps[keep], lengths[keep]

    def score(azimuth: float) -> float:
        right, up = _axes(azimuth)
        seen = np.hypot(steps @ right, steps @ up) / lengths
        spread = np.ptp(points @ right) * np.ptp(points @ up)
        return float(seen.min() + 0.3 * seen.mean() + 0.1 * spread / max(lengths.sum() ** 2, 1e-9))

    return float(max(_AZIMUTHS, key=score))


@dataclass(frozen=True, slots=True, eq=False)
class _Drawing:
    """From meters to px."""

    right: Floats
    up: Floats
    scale: float
    left: float
    top: float

    @classmethod
    def of(cls, points: Floats, view: float, size: tuple[int, int]) -> _Drawing:
        """The projection that fills the drawing with the route."""
        right, up = _axes(view)
        x, y = points @ right, points @ up
        room = size[0] - 2 * _MARGIN, size[1] - 2 * _MARGIN
        scale = min(room[0] / max(np.ptp(x), 1e-9), room[1] / max(np.ptp(y), 1e-9))
        left = size[0] / 2 - scale * (x.max() + x.min()) / 2
        top = size[1] / 2 + scale * (y.max() + y.min()) / 2
        return cls(right, up, float(scale), float(left), float(top))

    def at(self, points: Floats) -> Floats:
        """Where points (n, 3) stand, (n, 2) px."""
        x = self.left + self.scale * (points @ self.right)
        return np.column_stack((x, self.top - self.scale * (points @ self.up)))


# --- what is drawn -----------------------------------------------------------------------------


def _drops(path: Path, drawing: _Drawing, low: float) -> list[Mark]:
    """Thin lines from the joints down to the level of the lowest point: they show the heights."""
    corners = np.vstack((path.starts[:1], path.ends[-1:], path.starts[path.kind == ARC]))
    feet, shadow = corners.copy(), np.vstack((path.starts, path.ends[-1:]))
    feet[:, 2] = shadow[:, 2] = low
    pairs = np.stack((drawing.at(corners), drawing.at(feet)), axis=1)
    tall = pairs[abs(pairs[:, 0, 1] - pairs[:, 1, 1]) > 4]
    return [_dashed(drawing.at(shadow)), *map(_dashed, tall)]


def _dashed(points: Points) -> Line:
    return Line(points, _LINES, 1.0, "2 3")


def _run(points: Floats, drawing: _Drawing, reverse: bool) -> list[Mark]:
    """The conduit, with arrows in the direction of the pull."""
    on = drawing.at(points)
    marks: list[Mark] = [Line(on, _INK, 3.2)]
    walked = lengths(on)
    for share in (0.28, 0.72):
        at = share * walked[-1]
        i = min(int(np.searchsorted(walked, at)), len(on) - 1)
        step = (on[i] - on[i - 1]) * (-1 if reverse else 1)
        x, y = along(on, np.array([at]))[0].tolist()
        marks.append(wedge((x, y), math.atan2(step[1], step[0]), _INK, _GROUND))
    return marks


def _bends(pull: Pull, drawing: _Drawing, room: LabelRoom) -> list[Mark]:
    """Bends numbered in circles, those on top of each other together; the worst one thick."""
    path = pull.path
    arcs = np.flatnonzero(path.kind == ARC)
    if not len(arcs):
        return []
    on = drawing.at(path.point((path.stations[arcs] + path.stations[arcs + 1]) / 2))
    worst = int(np.argmax(pull.profile.sidewall[pull.worst_rows[arcs]]))
    marks: list[Mark] = []
    for group in _close_together(on):
        x, y = on[group].mean(axis=0).tolist()
        name = str(group[0] + 1) if len(group) == 1 else f"{group[0] + 1}-{group[-1] + 1}"
        half = 9.0 + (len(name) - 1) * 3.2
        box = (x - half, y - 9, x + half, y + 9)
        marks.append(Box(box, _GROUND, _INK, 3.0 if worst in group else 1.2, 9.0))
        marks.append(written(x, y + 4, name, _SMALL, _INK, "middle", bold=True))
        room.take_sign(box)
    return marks


def _close_together(on: Floats) -> list[list[int]]:
    """Neighbors along the route whose tags would overlap, as groups of their numbers."""
    groups = [[0]]
    for i in range(1, len(on)):
        near = np.hypot(*(on[i] - on[groups[-1]].mean(axis=0))) < _TOGETHER
        if near:
            groups[-1].append(i)
        else:
            groups.append([i])
    return groups


def _ends(pull: Pull, drawing: _Drawing, room: LabelRoom) -> list[Mark]:
    """Reel at the feed end, machine at the other, pull points between; each with its name."""
    route = pull.run.route
    on = drawing.at(np.array([v.point for v in route.vertices])).tolist()
    feed, machine = tuple(on[pull.feed]), tuple(on[pull.pull])
    marks: list[Mark] = [
        Ring(feed, 12, _INK, 2.0, _GROUND),
        Ring(feed, 4, _INK, 2.0, _INK),
        Box(_about(machine, 12), _INK),
        Ring(machine, 6, "", 0, _GROUND),
    ]
    tags = [
        _Tag(feed, ("FEED", pull.feed_name), True, 15.0),
        _Tag(machine, ("MACHINE", pull.pull_name), True, 15.0),
    ]
    for i in route.pull_points:
        marks.append(Box(_about(on[i], 6), _GROUND, _INK, 2.0))
        tags.append(_Tag(tuple(on[i]), (route.label(i),), False, 9.0))
    for tag in tags:
        room.take_sign(_about(tag.at, tag.clear))
    return marks + [mark for tag in tags for mark in _placed(tag, room)]


def _about(at: tuple[float, float], half: float) -> Rect:
    return (at[0] - half, at[1] - half, at[0] + half, at[1] + half)


def _placed(tag: _Tag, room: LabelRoom) -> list[Mark]:
    """A tag where it covers least, with a leader where it stands away from its place."""
    wide = max(text_width(words, _TEXT * CAPITAL, bold=tag.bold) for words in tag.lines) + 4
    wish = Wish(
        tag.at, (wide, len(tag.lines) * _LINE), tag.clear, prefer=math.pi / 2, either=True,
        sign=tag.clear,
    )  # fmt: skip
    found = room.find(wish) or room.find(wish, strict=False)
    if found is None:
        return []
    box, elbow = found
    leader = np.array([tag.at, elbow])
    room.take(box, leader)
    marks: list[Mark] = []
    if math.dist(tag.at, elbow) > tag.clear + _FAR:
        marks.append(Line(leader, _FAINT, 0.8))
    for i, words in enumerate(tag.lines):
        y = box[1] + (i + 1) * _LINE - 4
        x, bold = (box[0] + box[2]) / 2, tag.bold and i == 0
        marks.append(written(x, y, words, _TEXT, _INK, "middle", bold=bold, back=_GROUND))
    return marks


def _north(view: float, size: tuple[int, int]) -> list[Mark]:
    """Plan north (+y) as it lies in the picture."""
    right, up = _axes(view)
    way = np.array([right[1], -up[1]])
    way = way / max(float(np.hypot(*way)), 1e-9)
    middle = np.array([size[0] - 40.0, 44.0])
    (x, y), tip, name = middle.tolist(), (middle + 22 * way).tolist(), (middle - 14 * way).tolist()
    return [
        Line(((x, y), tip), _INK, 2.0),
        wedge(tuple(tip), math.atan2(way[1], way[0]), _INK, _GROUND),
        Text(tuple(name), "N", _TEXT, _INK, True, "middle"),
    ]


def _scale(drawing: _Drawing, system: str, size: tuple[int, int]) -> list[Mark]:
    """A bar of a round length, true along the picture's level."""
    unit = convert(1.0, "length", system)
    length = round_down(120.0 * unit / drawing.scale) / unit
    x, y = 24.0, size[1] - 20.0
    end = x + length * drawing.scale
    bar = ((x, y - 4), (x, y + 4), (x, y), (end, y), (end, y - 4), (end, y + 4))
    words = show(length, "length", system, decimals=0)
    return [Line(bar, _INK, 2.0), written(end + 8, y + 4, words, _SMALL, _INK)]


def _key(pull: Pull, size: tuple[int, int]) -> list[Mark]:
    """What the numbers and the thick ring mean."""
    if not (pull.path.kind == ARC).any():
        return []
    words = (
        "oblique view; scale bar applies across the picture; numbers: bends; "
        "thick ring: worst sidewall"
    )
    return [written(size[0] - 16, size[1] - 16, words, _SMALL, _FAINT, "right")]
