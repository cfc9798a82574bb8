"""The route as a line drawing in parallel projection: SVG that stays clear in black and white.

No 3D renderer is needed, so that a sheet can be made anywhere. The same input gives the same
bytes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from route3d.geometry.path import ARC, Path
from route3d.geometry.vectors import Floats
from route3d.mechanics.pull import Pull
from route3d.report.charts import PRINT
from route3d.report.svg import line, number, polyline, text
from route3d.units import convert, show

_SIZE = (760, 420)
_MARGIN = 74.0
_ELEVATION = math.radians(28.0)
_AZIMUTHS = np.radians(np.arange(0, 360, 15))
# A chord of an arc may leave it by this share of the drawing (px would need the scale first).
_CHORD = 5e-4
_SMALL, _TEXT = 11.0, 13.0
_LETTER = 0.6  # a letter is about 0.6 of its height wide
# Bends closer than this to another (px) share one number tag, such as 3-5.
_TOGETHER = 17.0


@dataclass(frozen=True, slots=True)
class _Tag:
    """Words that belong to a place of the drawing, px; the first is placed first."""

    x: float
    y: float
    lines: tuple[str, ...]
    bold: bool = False
    clear: float = 10.0  # half the size of the sign that stands there


def route_sketch(pull: Pull, system: str, *, size: tuple[int, int] = _SIZE) -> str:
    """SVG of the route with feed end, machine, bends, pull points, the worst bend, north and scale.

    Parallel projection from the side that shows the legs longest; heights are to scale.
    """
    points = _centreline(pull.path)
    view = _best_view(points)
    drawing = _Drawing.of(points, view, size)
    boxes: list[tuple[float, float, float, float]] = []
    body = [
        *_drops(pull.path, drawing, float(points[:, 2].min())),
        *_run(points, drawing, pull.reverse),
        *_bends(pull, drawing, boxes),
        *_ends(pull, drawing, size, boxes),
        _north(view, size),
        _scale(drawing, system, size),
        _key(pull, size),
    ]
    width, height = size
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" '
        f'width="{width}" height="{height}" '
        "font-family=\"'DejaVu Sans','Helvetica Neue',Arial,sans-serif\">"
    )
    ground = f'<rect width="{width}" height="{height}" fill="{PRINT["ground"]}"/>'
    return "\n".join([head, ground, *filter(None, body), "</svg>\n"])


# --- projection --------------------------------------------------------------------------------


def _centreline(path: Path) -> Floats:
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


def _drops(path: Path, drawing: _Drawing, low: float) -> list[str]:
    """Thin lines from the joints down to the level of the lowest point: they show the heights."""
    corners = np.vstack((path.starts[:1], path.ends[-1:], path.starts[path.kind == ARC]))
    feet = corners.copy()
    feet[:, 2] = low
    shadow = np.vstack((path.starts, path.ends[-1:]))
    shadow[:, 2] = low
    on_ground = drawing.at(shadow)
    parts = [polyline(on_ground[:, 0], on_ground[:, 1], PRINT["line"], 1.0, "2 3")]
    for top, foot in zip(drawing.at(corners), drawing.at(feet), strict=True):
        if abs(top[1] - foot[1]) > 4:
            parts.append(line(top[0], top[1], foot[0], foot[1], PRINT["line"], 1.0, "2 3"))
    return parts


def _run(points: Floats, drawing: _Drawing, reverse: bool) -> list[str]:
    """The conduit, with arrows in the direction of the pull."""
    on = drawing.at(points)
    parts = [polyline(on[:, 0], on[:, 1], PRINT["ink"], 3.2)]
    along = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(on, axis=0).T))))
    for share in (0.28, 0.72):
        x, y = (float(np.interp(share * along[-1], along, on[:, k])) for k in (0, 1))
        i = min(int(np.searchsorted(along, share * along[-1])), len(on) - 1)
        step = (on[i] - on[i - 1]) * (-1 if reverse else 1)
        parts.append(_arrow(x, y, math.atan2(step[1], step[0])))
    return parts


def _arrow(x: float, y: float, angle: float) -> str:
    corners = [(9.0, 0.0), (-5.0, 5.5), (-5.0, -5.5)]
    cos, sin = math.cos(angle), math.sin(angle)
    points = " ".join(
        f"{number(x + a * cos - b * sin)},{number(y + a * sin + b * cos)}" for a, b in corners
    )
    return (
        f'<polygon points="{points}" fill="{PRINT["ink"]}" stroke="{PRINT["ground"]}" '
        'stroke-width="1.5"/>'
    )


Box = tuple[float, float, float, float]


def _bends(pull: Pull, drawing: _Drawing, boxes: list[Box]) -> list[str]:
    """Bends numbered in circles, those on top of each other together; the worst one thick."""
    path = pull.path
    arcs = np.flatnonzero(path.kind == ARC)
    if not len(arcs):
        return []
    middles = path.point((path.stations[arcs] + path.stations[arcs + 1]) / 2)
    on = drawing.at(middles)
    worst = int(np.argmax(pull.profile.sidewall[pull.worst_rows[arcs]]))
    parts = []
    for group in _close_together(on):
        x, y = on[group].mean(axis=0)
        name = str(group[0] + 1) if len(group) == 1 else f"{group[0] + 1}-{group[-1] + 1}"
        half = 9.0 + (len(name) - 1) * 3.2
        thick = 3.0 if worst in group else 1.2
        parts.append(
            f'<rect x="{number(x - half)}" y="{number(y - 9)}" width="{number(2 * half)}" '
            f'height="18" rx="9" fill="{PRINT["ground"]}" stroke="{PRINT["ink"]}" '
            f'stroke-width="{thick:g}"/>'
        )
        parts.append(text(x, y + 4, name, PRINT["ink"], size=_SMALL, anchor="middle", bold=True))
        boxes.append((x - half - 2, y - 11, x + half + 2, y + 11))
    return parts


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


def _ends(pull: Pull, drawing: _Drawing, size: tuple[int, int], boxes: list[Box]) -> list[str]:
    """Reel at the feed end, machine at the other, pull points between; each with its name."""
    route = pull.run.route
    points = np.array([v.point for v in route.vertices])
    on = drawing.at(points)
    feed, machine = on[pull.feed], on[pull.pull]
    parts = [_reel(*feed), _machine(*machine)]
    tags = [
        _Tag(float(feed[0]), float(feed[1]), ("FEED", pull.feed_name), True, 15.0),
        _Tag(float(machine[0]), float(machine[1]), ("MACHINE", pull.pull_name), True, 15.0),
    ]
    for i in route.pull_points:
        x, y = on[i]
        parts.append(
            f'<rect x="{number(x - 6)}" y="{number(y - 6)}" width="12" height="12" '
            f'fill="{PRINT["ground"]}" stroke="{PRINT["ink"]}" stroke-width="2"/>'
        )
        tags.append(_Tag(x, y, (route.label(i),), False, 9.0))
    boxes += [(t.x - t.clear, t.y - t.clear, t.x + t.clear, t.y + t.clear) for t in tags]
    return parts + _placed(tags, boxes, _dense(drawing.at(_centreline(pull.path))), size)


def _dense(on: Floats) -> Floats:
    """Places every few px along a line."""
    along = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(on, axis=0).T))))
    at = np.linspace(0.0, along[-1], int(along[-1] / 4) + 2)
    return np.column_stack([np.interp(at, along, on[:, k]) for k in (0, 1)])


def _placed(
    tags: Sequence[_Tag], boxes: list[Box], route: Floats, size: tuple[int, int]
) -> list[str]:
    """Each tag on the side of its place where it covers least."""
    parts = []
    for tag in tags:
        width = max(len(words) for words in tag.lines) * _TEXT * _LETTER + 4
        height = len(tag.lines) * (_TEXT + 3)
        best = min(_sides(tag, width, height), key=lambda b: _covered(b, boxes, route, size))
        boxes.append(best)
        for i, words in enumerate(tag.lines):
            bold = tag.bold and i == 0
            parts.append(
                text(
                    (best[0] + best[2]) / 2,
                    best[1] + (i + 1) * (_TEXT + 3) - 4,
                    words,
                    PRINT["ink"],
                    size=_TEXT,
                    anchor="middle",
                    bold=bold,
                    back=PRINT["ground"],
                )
            )
    return parts


def _sides(tag: _Tag, width: float, height: float) -> list[Box]:
    found = []
    for away in (tag.clear + 4, tag.clear + 22, tag.clear + 44):
        for dx, dy in ((0, -1), (0, 1), (1, 0), (-1, 0), (1, -1), (-1, -1), (1, 1), (-1, 1)):
            x = tag.x + dx * (away + width / 2)
            y = tag.y + dy * (away + height / 2)
            found.append((x - width / 2, y - height / 2, x + width / 2, y + height / 2))
    return found


def _covered(box: Box, boxes: Sequence[Box], route: Floats, size: tuple[int, int]) -> float:
    """How much a tag would cover: other tags, the route, the edge of the sheet."""
    cost = 0.0
    for other in boxes:
        wide = min(box[2], other[2]) - max(box[0], other[0])
        high = min(box[3], other[3]) - max(box[1], other[1])
        cost += 10 * max(wide, 0) * max(high, 0)
    inside = (route[:, 0] > box[0]) & (route[:, 0] < box[2])
    inside &= (route[:, 1] > box[1]) & (route[:, 1] < box[3])
    cost += 200.0 * bool(inside.any())
    out = max(-box[0], 0) + max(-box[1], 0) + max(box[2] - size[0], 0) + max(box[3] - size[1], 0)
    return cost + 1e3 * out


def _reel(x: float, y: float) -> str:
    return "".join(
        f'<circle cx="{number(x)}" cy="{number(y)}" r="{r:g}" fill="{fill}" '
        f'stroke="{PRINT["ink"]}" stroke-width="2"/>'
        for r, fill in ((12, PRINT["ground"]), (4, PRINT["ink"]))
    )


def _machine(x: float, y: float) -> str:
    return (
        f'<rect x="{number(x - 12)}" y="{number(y - 12)}" width="24" height="24" '
        f'fill="{PRINT["ink"]}"/>'
        f'<circle cx="{number(x)}" cy="{number(y)}" r="6" fill="{PRINT["ground"]}"/>'
    )


def _north(view: float, size: tuple[int, int]) -> str:
    """Plan north (+y) as it lies in the picture."""
    right, up = _axes(view)
    direction = np.array([right[1], -up[1]])
    direction = direction / max(float(np.hypot(*direction)), 1e-9)
    x, y = size[0] - 40.0, 44.0
    tip = np.array([x, y]) + 22 * direction
    angle = math.atan2(direction[1], direction[0])
    shaft = line(x, y, tip[0], tip[1], PRINT["ink"], 2.0)
    name = np.array([x, y]) - 14 * direction
    return (
        shaft
        + _arrow(float(tip[0]), float(tip[1]), angle)
        + text(
            float(name[0]),
            float(name[1]) + 4,
            "N",
            PRINT["ink"],
            size=_TEXT,
            anchor="middle",
            bold=True,
        )
    )


def _scale(drawing: _Drawing, system: str, size: tuple[int, int]) -> str:
    """A bar of a round length, true along the picture's level."""
    per_unit = drawing.scale / convert(1.0, "length", system)
    wanted = 120.0 / per_unit
    step = 10.0 ** math.floor(math.log10(wanted))
    length = max(k * step for k in (1, 2, 5) if k * step <= wanted)
    px = length * per_unit
    x, y = 24.0, size[1] - 20.0
    words = show(length / convert(1.0, "length", system), "length", system, decimals=0)
    return (
        line(x, y, x + px, y, PRINT["ink"], 2.0)
        + line(x, y - 4, x, y + 4, PRINT["ink"], 2.0)
        + line(x + px, y - 4, x + px, y + 4, PRINT["ink"], 2.0)
        + text(x + px + 8, y + 4, words, PRINT["ink"], size=_SMALL)
    )


def _key(pull: Pull, size: tuple[int, int]) -> str:
    """What the numbers and the thick ring mean."""
    if not (pull.path.kind == ARC).any():
        return ""
    words = (
        "oblique view; the bar holds across the picture; numbers: bends; thick ring: worst sidewall"
    )
    return text(size[0] - 16, size[1] - 16, words, PRINT["faint"], size=_SMALL, anchor="end")
