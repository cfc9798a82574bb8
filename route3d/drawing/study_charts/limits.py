"""Limits along the route: how much of each is taken where, and the least radius of each bend."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from route3d.drawing.axes import Axes, above, tick_step, ticks
from route3d.drawing.charts import PRINT, Band, Place
from route3d.drawing.labels import apart
from route3d.drawing.marks import Box, Line, Mark, Rect, Ring, Text, stretches, written
from route3d.drawing.picture import Picture
from route3d.drawing.route_places import named_points, numbered_bends
from route3d.drawing.study_charts.sheet import (
    RIGHT,
    SMALL,
    TEXT,
    WIDE,
    cut,
    stacked,
    titled,
    warned,
    width,
)
from route3d.geometry.fillet import route_path
from route3d.geometry.path import ARC, Path
from route3d.geometry.vectors import Floats
from route3d.model.examples import example_banner
from route3d.model.job import Job
from route3d.study.limits.outcome import EndLimits, FarthestValue, Limits
from route3d.units import convert, render, show, unit_label

STEPS = (0.1, 0.25, 0.5, 0.75, 0.9, 1.0)
"""Shares of a limit at which the shade changes; above the last the limit is broken."""
# From light to dark, so that a copy without color keeps their order; the last is hatched too.
SHADES = ("#ffffff", "#e9f0f8", "#c9dbee", "#98bbde", "#5b8fc7", "#24538f", PRINT["limit"])
_NAMES, _LARGEST = 178.0, 66.0  # px: beside the map, names and the largest shares
_ROW, _BETWEEN = 20.0, 5.0
_RADII = 120.0  # px, height of the panel of radii
_HATCH, _LEAST = 7.0, 2.0  # px between lines of a hatch; no broken limit is narrower than the other
_SWATCH = 26.0
_DOT = 4.0


def limits_chart(limits: Limits, system: str, wide: int = WIDE) -> Picture:
    """The limit map of both ends, that of the plan first, with the radii of the bends."""
    title = f"Share of each limit along the route: run {limits.run.name}"
    left, right = min(_NAMES, 0.3 * wide), wide - _LARGEST
    start = left if wide == WIDE else RIGHT
    key, top = _key(start, wide)
    marks: list[Mark] = [titled(title, wide), *key]
    path = route_path(limits.run.route)
    far = convert(1.0, "length", system)
    bends = numbered_bends(path, system)
    points = named_points(limits.run.route, path, system)
    x = (0.0, path.length * far)
    for number in (limits.planned, 1 - limits.planned):
        end = limits.ends[number]
        way = "to the left" if end.reverse else "to the right"
        planned = " (planned)" if number == limits.planned else ""
        head = f"feed {cut(end.feed, 260, TEXT, bold=True)}{planned}, pull {way}"
        if end.barred:
            head += f", ruled out: {render(end.barred, system)}"
        head = cut(head, wide - start - RIGHT, TEXT, bold=True)
        marks.append(written(start, top + 12, head, TEXT, PRINT["ink"], bold=True))
        marks.append(written(right + 10, top + 48, "largest", SMALL, PRINT["faint"]))
        rows = top + 56
        foot = rows + (_ROW + _BETWEEN) * len(end.shares) - _BETWEEN
        axes = Axes((left, rows, right, foot), x, (0.0, 1.0))
        radii = _radii(limits, end, path, system)
        beside = wide == WIDE
        below = foot + (30 if beside else 48) if radii else foot
        lowest = below + _RADII if radii else foot
        marks += _along(axes, bends, points, lowest)
        for row, (limit, shares) in enumerate(end.shares):
            at = rows + row * (_ROW + _BETWEEN)
            box = Axes((left, at, right, at + _ROW), x, (0.0, 1.0))
            marks += _row(limit, end.stations * far, shares, box)
        if radii:
            panel = Axes((left, below, right, lowest), x, _radius_span(radii))
            marks += _radius_panel(radii, panel, unit_label("radius", system), beside=beside)
        marks += _stations(Axes((left, rows, right, lowest), x, (0.0, 1.0)))
        words = f"station along the route, {unit_label('length', system)}"
        middle = (left + right) / 2
        marks.append(written(middle, lowest + 34, words, TEXT, PRINT["ink"], "middle"))
        top = lowest + 54
    picture = Picture(marks, (wide, int(top)), title)
    return warned(picture, limits.run.name, wide) if limits.stops else picture


def limits_picture(job: Job, found: Sequence[Limits], system: str) -> Picture:
    """The limit maps of all runs of a job on one sheet."""
    each = [limits_chart(limits, system) for limits in found]
    return stacked(each, f"Limits: {job.title}", example_banner(job.examples))


def _key(left: float, wide: int) -> tuple[list[Mark], float]:
    """The steps of the shades in as many rows as they take, and what begins below them."""
    edges = [f"{100 * step:.0f}" for step in STEPS]
    words = [f"up to {edges[0]}%", *(f"to {edge}%" for edge in edges[1:]), "above the limit"]
    marks: list[Mark] = []
    x, y = left, 42.0
    for step, said in enumerate(words):
        if x + _SWATCH + 6 + width(said) > wide - RIGHT:
            x, y = left, y + 18
        marks += _shade((x, y, x + _SWATCH, y + 12), step)
        marks.append(Box((x, y, x + _SWATCH, y + 12), "", PRINT["faint"], 0.8))
        marks.append(written(x + _SWATCH + 6, y + 10, said, SMALL, PRINT["ink"]))
        x += _SWATCH + width(said) + 24
    return marks, y + 22


# --- the map -------------------------------------------------------------------------------------


def _along(axes: Axes, bends: Sequence[Band], points: Sequence[Place], foot: float) -> list[Mark]:
    """Bends as shaded stretches with numbers, ends and pull points by name, over the rows."""
    (left, top, right, _), marks = axes.rect, list[Mark]()
    names: list[Text] = []
    for start, end, name in bends:
        a = axes.across(start)
        b = max(axes.across(end), a + _LEAST)
        marks.append(Box((a, top - 4, b, foot), PRINT["band"]))
        names.append(written((a + b) / 2, top - 8, name, SMALL, PRINT["faint"], "middle"))
    lines = [(axes.across(at), axes.across(at)) for at, _ in points]
    marks += _kept(names, 4, lines)
    names = []
    for at, name in sorted(points, key=lambda p: min(p[0] - axes.x[0], axes.x[1] - p[0])):
        x, words = axes.across(at), cut(name, 200)
        half = width(words) / 2
        middle = min(max(x, left + half - 40), right - half + 40)
        marks.append(Line(((x, top - 20), (x, foot)), PRINT["faint"], 1.0))
        names.append(written(middle, top - 24, words, SMALL, PRINT["ink"], "middle"))
    return marks + _kept(names, 10)


def _kept(
    names: Sequence[Text], gap: float, taken: Sequence[tuple[float, float]] = ()
) -> list[Mark]:
    """The names that have room beside each other and beside what is ``taken``."""
    spans = [*taken, *((n.box[0], n.box[2]) for n in names)]
    return [names[i - len(taken)] for i in apart(spans, gap) if i >= len(taken)]


def _row(name: str, stations: Floats, shares: Floats, box: Axes) -> Iterator[Mark]:
    """One limit: shaded by share, each step over the one below it; its largest at the right."""
    left, top, right, foot = box.rect
    order = slice(None, None, -1 if stations[0] > stations[-1] else 1)
    x, y = np.asarray(stations[order]), np.asarray(shares[order])
    yield Box(box.rect, SHADES[0])
    for step, share in enumerate(STEPS, 1):
        at, value = above(x, y, share * (1 + 1e-9))
        for rows in stretches(np.isfinite(value)):
            a, b = box.across(float(at[rows][0])), box.across(float(at[rows][-1]))
            if b - a < _LEAST:
                a, b = (a + b - _LEAST) / 2, (a + b + _LEAST) / 2
            yield from _shade((max(a, left), top, min(b, right), foot), step)
    yield Box(box.rect, "", PRINT["faint"], 0.8)
    words = cut(name, left - 24)
    yield written(left - 10, foot - 6, words, SMALL, PRINT["ink"], "right")
    most = float(np.max(y, initial=0.0))
    color = PRINT["limit" if most > 1 else "ink"]
    figure = show(most, "percent", "SI")
    yield written(right + 10, foot - 6, figure, SMALL, color, bold=most > 1)


def _shade(rect: Rect, step: int) -> Iterator[Mark]:
    """A stretch in the shade of its step; above the limit with slanted lines over it."""
    left, top, right, foot = rect
    yield Box(rect, SHADES[step])
    if step < len(STEPS):
        return
    high = foot - top
    first = math.ceil((left - high) / _HATCH)
    for i in range(first, math.floor(right / _HATCH) + 1):
        a, b = max(i * _HATCH, left), min(i * _HATCH + high, right)
        if b > a:
            down = ((a, foot - (a - i * _HATCH)), (b, foot - (b - i * _HATCH)))
            yield Line(down, "#ffffff", 1.2)


def _stations(axes: Axes) -> Iterator[Mark]:
    """Round stations below the map."""
    left, _, right, foot = axes.rect
    yield Line(((left, foot), (right, foot)), PRINT["ink"], 1.0)
    for value, words in ticks(axes.x, 8 if axes.size[0] > 500 else 4):
        x = axes.across(value)
        yield Line(((x, foot), (x, foot + 4)), PRINT["ink"], 1.0)
        yield written(x, foot + 17, words, SMALL, PRINT["faint"], "middle")


# --- the radii -----------------------------------------------------------------------------------

_Radius = tuple[float, float, float | None]
"""Station of the middle of a bend, its planned radius and the least that passes, as shown."""


def _radii(limits: Limits, end: EndLimits, path: Path, system: str) -> list[_Radius]:
    """The bends whose least radius is known."""
    arcs = np.flatnonzero(path.kind == ARC)
    middles = (path.stations[arcs] + path.stations[arcs + 1]) / 2
    route = limits.run.route
    at = {
        route.bend_label(number, int(path.vertex[arc])): convert(float(middle), "length", system)
        for number, (arc, middle) in enumerate(zip(arcs, middles, strict=True), 1)
    }

    def shown(value: FarthestValue) -> _Radius:
        planned = convert(value.planned, value.quantity, system)
        least = value.farthest
        return (
            at[value.name],
            planned,
            None if least is None else convert(least, value.quantity, system),
        )

    return [shown(v) for v in end.values if v.input == "bend radius" and v.name in at]


def _radius_span(radii: Sequence[_Radius]) -> tuple[float, float]:
    known = [r for _, planned, least in radii for r in (planned, least) if r is not None]
    most = 1.05 * max(r for r in known if math.isfinite(r))
    step = tick_step(most, 4)
    return 0.0, step * math.ceil(most / step)


def _radius_panel(
    radii: Sequence[_Radius], axes: Axes, unit: str, *, beside: bool
) -> Iterator[Mark]:
    """Of each bend the planned radius, and the least that passes; red where that is more."""
    left, top, right, _ = axes.rect
    ink = PRINT["ink"]
    head = f"bend radius, {unit}"
    yield written(left, top - (8 if beside else 26), head, TEXT, ink, bold=True)
    x = right if beside else right + _LARGEST - RIGHT
    none = "no radius here helps" if beside else "none here helps"
    told = {none: "", "least that passes": PRINT["ground"], "planned": ink}
    if all(least is not None for _, _, least in radii):
        del told[none]
    for said, fill in told.items():
        x -= width(said)
        yield written(x, top - 8, said, SMALL, ink)
        if fill:
            yield Ring((x - 10, top - 12), _DOT, ink, 1.3, fill)
        else:
            yield from _cross((x - 12, top - 12), 5.0)
        x -= 36
    for value, words in ticks(axes.y, 4):
        y = axes.down(value)
        yield Line(((left, y), (right, y)), PRINT["line"], 0.8)
        yield written(left - 7, y + 4, words, SMALL, PRINT["faint"], "right")
    for at, planned, least in radii:
        x, y = axes.across(at), axes.down(planned)
        if least is None:
            yield from _cross((x, y), 9.0)
        elif math.isfinite(least):
            color = PRINT["limit" if least > planned else "series"]
            yield Line(((x, y), (x, axes.down(least))), color, 2.4)
            yield Ring((x, axes.down(least)), _DOT, ink, 1.3, PRINT["ground"])
        yield Ring((x, y), _DOT, ink, 1.3, ink)


def _cross(at: tuple[float, float], reach: float) -> Iterator[Mark]:
    (x, y), r = at, reach
    for slope in (-1, 1):
        ends = ((x - r, y - slope * r), (x + r, y + slope * r))
        yield Line(ends, PRINT["limit"], 1.8)
