"""Pictures of a spread of the inputs: fans, probability by footage, what matters most."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from route3d.checks.limits import Rated, limit_name
from route3d.drawing.axes import Axes, ticks
from route3d.drawing.charts import (
    PRINT,
    Band,
    Between,
    Chart,
    Curve,
    Limit,
    Panel,
    Place,
    chart_marks,
)
from route3d.drawing.marks import Box, Line, Mark, Ring, inset, moved, written
from route3d.drawing.picture import Picture
from route3d.drawing.route_places import named_points, numbered_bends
from route3d.drawing.study_charts.sheet import (
    HEAD,
    LEFT,
    NEAR,
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
from route3d.geometry.vectors import Floats
from route3d.model.examples import example_banner
from route3d.model.job import Job
from route3d.model.practice import Practice
from route3d.model.run import Run
from route3d.study.spread.outcome import EndSpread, Importance, Spread
from route3d.units import convert, show, unit_label

_TENSION, _SIDEWALL, _GAUGE, _REACHED = 560, 560, 300, 320  # px, heights
_BOX = 0.008  # of the length of the route: half of the box of one bend
_SHADES = ("between", "inner")  # from the widest band
_DASHES = ("", "8 4")  # of the end of the plan, and of the other
_ROW, _BAR, _END = 24.0, 11.0, 4.0  # px: of a row, of its bar, and the radius of its rings
_TOP, _FOOT = 26.0, 44.0  # px over the rows of one end, and under them
_NAMES, _FIGURES, _INDEX = 300.0, 52.0, 96.0  # px: names, a figure beside a bar, the last column


@dataclass(frozen=True, slots=True)
class SpreadPictures:
    """Tension, sidewall pressure, load at the machine, probability by cable in, what matters most.

    There is no ``gauge`` without a rope, and no ``sidewall`` without bends or with very many.
    """

    tension: Picture
    sidewall: Picture | None
    gauge: Picture | None
    reached: Picture
    importance: Picture

    @property
    def each(self) -> tuple[Picture, ...]:
        """All there are, in order."""
        found = (self.tension, self.sidewall, self.gauge, self.reached, self.importance)
        return tuple(picture for picture in found if picture is not None)


@dataclass(frozen=True, slots=True)
class _Route:
    """The axis of a run: its length, bends and points, and the tension and machine limits."""

    run: Run
    practice: Practice
    system: str
    wide: int
    length: float
    bends: Sequence[Band]
    points: Sequence[Place]

    @classmethod
    def of(cls, run: Run, practice: Practice, system: str, wide: int) -> _Route:
        path = route_path(run.route)
        length = convert(path.length, "length", system)
        points = named_points(run.route, path, system)
        return cls(run, practice, system, wide, length, numbered_bends(path, system), points)

    def axis(self, words: str, quantity: str) -> str:
        return f"{words}, {unit_label(quantity, self.system)}"

    def values(self, values: Floats, quantity: str) -> Floats:
        return np.asarray(values, dtype=np.float64) * convert(1.0, quantity, self.system)

    def rated(self, end: EndSpread) -> tuple[Run, Rated]:
        """The run as equipped for one end, and its limits."""
        last = len(self.run.route.vertices) - 1
        run = self.run.pulled(*((last, 0) if end.reverse else (0, last)))
        return run, Rated.of(run, self.practice)

    def limit(self, end: EndSpread, names: Sequence[str], quantity: str = "force") -> Limit | None:
        """The least of some limits in display units, with its name."""
        run, rated = self.rated(end)
        known = [(getattr(rated, name), name) for name in names]
        found = [(value, name) for value, name in known if value is not None]
        if not found:
            return None
        value, name = min(found)
        words = f"limit {show(value, quantity, self.system)}"
        if self.wide == WIDE:
            words += f", {limit_name(name, run, self.practice)}"
        return convert(value, quantity, self.system), words


def spread_charts(
    spread: Spread, practice: Practice, system: str, wide: int = WIDE
) -> SpreadPictures:
    """The pictures of a spread, ``wide`` px; the end of the plan comes first in each."""
    route = _Route.of(spread.run, practice, system, wide)
    order = (spread.planned, 1 - spread.planned)
    ends = [spread.ends[n] for n in order]
    tension = _tension(spread, ends, route)
    return SpreadPictures(
        warned(tension, spread.run.name, wide) if spread.stops else tension,
        _sidewall(spread, ends, route),
        _gauge(spread, ends, route),
        _reached(spread, ends, route),
        _importance(spread, ends, wide),
    )


def spread_picture(job: Job, spreads: Sequence[Spread], system: str) -> Picture:
    """The pictures of all runs of a job on one sheet."""
    each = (p for s in spreads for p in spread_charts(s, job.practice, system).each)
    return stacked([*each], f"Spread: {job.title}", example_banner(job.examples))


def _told(words: str, spread: Spread, wide: int) -> str:
    """The title of a picture; a narrow one stands where the run is named already."""
    more = f": run {spread.run.name}, {spread.count:,} scenarios" if wide == WIDE else ""
    return words + more


def _fan(
    x: Floats, rows: Floats, percentiles: Sequence[float], *, named: bool
) -> tuple[tuple[Between, ...], tuple[Curve, ...]]:
    """Bands between the percentiles that belong together, and the one in the middle.

    ``rows`` (p, n) over ``x`` (n,).
    """
    last, bands = len(percentiles) - 1, []
    for i in range(len(percentiles) // 2):
        name = f"{percentiles[i]:g} to {percentiles[last - i]:g}%" if named else ""
        color = _SHADES[min(i, len(_SHADES) - 1)]
        bands.append(Between(x, rows[i], rows[last - i], color, name))
    middle = rows[len(percentiles) // 2]
    return tuple(bands), (Curve("median" if named else "", x, middle),)


# --- along the route -----------------------------------------------------------------------------


def _tension(spread: Spread, ends: Sequence[EndSpread], route: _Route) -> Picture:
    """The fan of each end over the stations of the route."""
    panels = []
    for number, end in enumerate(ends):
        pulled = route.values(end.pulled, "length")
        order = slice(None, None, -1 if end.reverse else 1)
        station = (route.length - pulled if end.reverse else pulled)[order]
        rows = route.values(end.tension, "force")[:, order]
        bands, curves = _fan(station, rows, spread.percentiles, named=number == 0)
        way = "to the left" if end.reverse else "to the right"
        panels.append(
            Panel(
                route.axis(f"{_fed(number, end, route.wide)}, pull {way}", "force"),
                curves,
                route.limit(end, ("conductor", "grip")),
                between=bands,
            )
        )
    title = _told("Cable tension with all cable in", spread, route.wide)
    x_label = route.axis("station along the route", "length")
    chart = Chart(tuple(panels), x_label, title, route.bends, route.points)
    size = (route.wide, _TENSION)
    return Picture(chart_marks(chart, size), size, title)


def _fed(number: int, end: EndSpread, wide: int) -> str:
    room = 240 if wide == WIDE else 130
    feed = f"feed {cut(end.feed, room, TEXT, bold=True)}"
    if not end.barred:
        return feed + (" (planned)" if number == 0 else "")
    why = f"ruled out: {end.barred}" if wide == WIDE else "ruled out"
    return f"{feed}, {cut(why, 560, TEXT, bold=True)}"


def _sidewall(spread: Spread, ends: Sequence[EndSpread], route: _Route) -> Picture | None:
    """Sidewall pressure in each bend: a box from end to end percentile, its median a line."""
    panels = []
    for number, end in enumerate(ends):
        if end.sidewall is None or not end.bends:
            return None
        middles = route.values(np.array([at for _, at in end.bends]), "length")
        rows = route.values(end.sidewall, "sidewall")
        bands: list[Between] = []
        lines: list[Curve] = []
        for i, x in enumerate(_widened(middles, route.length)):
            level = np.repeat(rows[:, [i]], 2, axis=1)
            boxes, line = _fan(x, level, spread.percentiles, named=number == i == 0)
            bands += boxes
            lines += line
        frame = Curve("", np.array([0.0, route.length]), np.zeros(2), "ink")
        panels.append(
            Panel(
                route.axis(_fed(number, end, route.wide), "sidewall"),
                (*lines, frame),
                route.limit(end, ("sidewall",), "sidewall"),
                between=tuple(bands),
            )
        )
    title = _told("Sidewall pressure in each bend", spread, route.wide)
    x_label = route.axis("station along the route", "length")
    chart = Chart(tuple(panels), x_label, title, route.bends, route.points)
    size = (route.wide, _SIDEWALL)
    return Picture(chart_marks(chart, size), size, title)


def _widened(middles: Floats, length: float) -> Floats:
    """Start and end of the box of each bend, (b, 2): wide enough to see, and none meets another."""
    apart = float(np.min(np.diff(np.sort(middles)), initial=math.inf))
    half = min(_BOX * length, 0.4 * apart)
    inside = np.clip(middles, half, length - half)
    return np.column_stack((inside - half, inside + half))


def _gauge(spread: Spread, ends: Sequence[EndSpread], route: _Route) -> Picture | None:
    """The fan of the load at the machine over the cable in, each end with its own bends."""
    title = _told("Load at the machine by cable in", spread, route.wide)
    marks: list[Mark] = []
    top = 0
    for number, end in enumerate(ends):
        if end.gauge is None:
            return None
        heads, rows = route.values(end.heads, "length"), route.values(end.gauge, "force")
        bands, curves = _fan(heads, rows, spread.percentiles, named=number == 0)
        panel = Panel(
            route.axis(_fed(number, end, route.wide), "force"),
            curves,
            route.limit(end, ("machine", "rope")),
            between=bands,
        )
        bends, points = route.bends, route.points
        if end.reverse:
            bends = [(route.length - b, route.length - a, name) for a, b, name in bends]
            points = [(route.length - at, name) for at, name in points]
        x_label = route.axis("cable in", "length")
        chart = Chart((panel,), x_label, "" if number else title, bends, points)
        marks += chart_marks(chart, (route.wide, _GAUGE), top=float(top))
        top += _GAUGE
    return Picture(marks, (route.wide, top), title)


def _reached(spread: Spread, ends: Sequence[EndSpread], route: _Route) -> Picture:
    """How likely some limit has been reached by the time the head is there.

    An end that is ruled out is named, and not drawn: it is no choice.
    """
    curves = []
    open_ = [end for end in ends if not end.barred] or list(ends)
    for end, dash in zip(open_, _DASHES, strict=False):
        name = f"feed {cut(end.feed, 220)}, in all {chance(1.0 - end.passes)}"
        name = name if route.wide == WIDE else cut(end.feed, 110)
        x = route.values(end.heads, "length")
        curves.append(Curve(name, x, end.reached_by * 100, "second" if dash else "series", dash))
    title = _told("Probability that a limit has been reached", spread, route.wide)
    label = "probability, %"
    if len(open_) == 1:
        (other,) = (end for end in ends if end.barred)
        label += f", {curves[0].name}; {other.feed} ruled out: {other.barred}"
        label = cut(label, route.wide - LEFT - RIGHT, TEXT, bold=True)
    panel = Panel(label, tuple(curves), most=100.0)
    chart = Chart((panel,), route.axis("cable in", "length"), title)
    size = (route.wide, _REACHED)
    return Picture(chart_marks(chart, size), size, title)


def chance(probability: float) -> str:
    """A probability in words: as percent, never rounded to none or to certain."""
    percent = probability * 100
    if percent in (0.0, 100.0):
        return f"{percent:.0f}%"
    if percent < 0.1:
        return "less than 0.1%"
    if percent > 99.9:
        return "more than 99.9%"
    return f"{percent:.1f}%" if percent < 10 or percent > 90 else f"{percent:.0f}%"


# --- what matters most ---------------------------------------------------------------------------


def _importance(spread: Spread, ends: Sequence[EndSpread], wide: int) -> Picture:
    """A tornado for each end: utilization with one input low and high, the others as usual."""
    title = _told("What matters most, one input at a time", spread, wide)
    low, high = f"{spread.percentiles[0]:g}", f"{spread.percentiles[-1]:g}"
    marks: list[Mark] = [titled(title, wide)]
    words = f"input at its {low}th percentile", f"at its {high}th; all others at their medians"
    start = x = LEFT if wide == WIDE else RIGHT
    if wide < WIDE:
        words = words[0], f"at its {high}th"
    for said, fill in zip(words, (PRINT["ground"], PRINT["ink"]), strict=True):
        marks.append(Ring((x + _END, 38.0), _END, PRINT["ink"], 1.3, fill))
        marks.append(written(x + 14, 42, said, SMALL, PRINT["faint"]))
        x += 34 + width(said)
    top = HEAD + 22
    for number, end in enumerate(ends):
        bars, high_ = _tornado(end, number, (start, wide), correlated=spread.correlated)
        marks += [moved(mark, (0.0, top)) for mark in bars]
        top += high_
    return Picture(marks, (wide, int(top)), title)


def _tornado(
    end: EndSpread, number: int, sides: tuple[float, int], *, correlated: bool
) -> tuple[list[Mark], float]:
    """The bars of one end, the longest first, and the height they take."""
    start, wide = sides
    inputs = sorted(end.importance, key=lambda i: (-abs(i.high - i.low), i.name))
    foot = _TOP + _ROW * max(len(inputs), 1)
    head, index = (
        f"utilization, {_fed(number, end, wide)}",
        "effect (delta)" if correlated else "share explained",
    )
    marks: list[Mark] = [
        written(start, 6, head, TEXT, PRINT["ink"], bold=True),
        written(wide - RIGHT, 6, index, SMALL, PRINT["faint"], "right"),
    ]
    if not inputs:
        none = written(start, _TOP + 16, "no input has a spread", SMALL, PRINT["faint"])
        return [*marks, none], foot + _FOOT
    axes, limited = _bar_axes(inputs, foot, sides)
    marks += _ruled(axes, limited=limited)
    for row, each in enumerate(inputs):
        marks += _bar(each, axes, _TOP + _ROW * (row + 0.5), sides=sides, correlated=correlated)
    return marks, foot + _FOOT


def _bar_axes(
    inputs: Sequence[Importance], foot: float, sides: tuple[float, int]
) -> tuple[Axes, bool]:
    """The axis of the bars in % with room for figures, and whether it reaches the limit."""
    values = 100 * np.array([[i.low, i.high] for i in inputs])
    low, high = float(values.min()), float(values.max())
    limited = high >= 100 * NEAR
    if limited:
        low, high = min(low, 100.0), max(high, 100.0)
    if high - low < 1.0:  # %: bars of no length
        low, high = low - 1.0, high + 1.0
    start, wide = sides
    left = start + min(_NAMES, 0.3 * wide)
    right = wide - RIGHT - min(_INDEX, 0.1 * wide)
    beside = (high - low) * _FIGURES / (right - left - 2 * _FIGURES)
    return Axes((left, _TOP, right, foot), (low - beside, high + beside), (0.0, 1.0)), limited


def _ruled(axes: Axes, *, limited: bool) -> list[Mark]:
    """Lines at round shares, and that of the limit."""
    left, top, right, foot = axes.rect
    marks: list[Mark] = []
    for value, words in ticks(axes.x, 8 if axes.size[0] > 500 else 3):
        x = axes.across(value)
        if value < 0:
            continue
        marks.append(Line(((x, top), (x, foot)), PRINT["line"], 0.8))
        marks.append(written(x, foot + 16, f"{words}%", SMALL, PRINT["faint"], "middle"))
    marks.append(Line(((left, foot), (right, foot)), PRINT["ink"], 1.0))
    if limited:
        x = axes.across(100.0)
        marks.append(Line(((x, top - 6), (x, foot)), PRINT["limit"], 1.5, "7 4"))
        marks.append(written(x, top - 10, "limit", SMALL, PRINT["limit"], "middle"))
    return marks


def _bar(
    each: Importance, axes: Axes, y: float, *, sides: tuple[float, int], correlated: bool
) -> list[Mark]:
    """One input: its name, the bar between its two rings with their figures, its index."""
    low, high = axes.across(100 * each.low), axes.across(100 * each.high)
    left, right = min(low, high), max(low, high)
    name = cut(each.name, axes.rect[0] - sides[0] - 10)
    marks: list[Mark] = [
        written(axes.rect[0] - 10, y + 4, name, SMALL, PRINT["ink"], "right"),
        Box((left, y - _BAR / 2, right, y + _BAR / 2), PRINT["inner"]),
        Ring((low, y), _END, PRINT["ink"], 1.3, PRINT["ground"]),
        Ring((high, y), _END, PRINT["ink"], 1.3, PRINT["ink"]),
    ]
    least, most = min(each.low, each.high), max(each.low, each.high)
    for figure in (
        written(left - 9, y + 4, show(least, "percent", "SI"), SMALL, PRINT["ink"], "right"),
        written(right + 9, y + 4, show(most, "percent", "SI"), SMALL, PRINT["ink"]),
    ):
        marks += [Box(inset(figure.box, -1.5), PRINT["ground"]), figure]
    index = each.first if correlated else each.total
    words = "-" if index is None else f"{max(index, 0.0):.2f}"
    return [*marks, written(sides[1] - RIGHT, y + 4, words, SMALL, PRINT["ink"], "right")]
