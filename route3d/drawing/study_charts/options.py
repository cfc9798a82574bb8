"""Options of a run against each other: utilization over cost, crew time and set-ups."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from route3d.drawing.axes import Axes, tick_step
from route3d.drawing.charts import PRINT, grid_marks
from route3d.drawing.labels import Manner, PlacedLabels, place_labels
from route3d.drawing.marks import Box, Line, Mark, Rect, Ring, Text, spaced, written
from route3d.drawing.picture import Picture
from route3d.drawing.study_charts.sheet import (
    LEFT,
    NEAR,
    RIGHT,
    SMALL,
    TEXT,
    WIDE,
    cut,
    stacked,
    titled,
    width,
)
from route3d.geometry.vectors import Floats
from route3d.model.examples import example_banner
from route3d.model.job import Job
from route3d.study.options.outcome import AS_MODELED, Option, Options
from route3d.units import convert, show, unit_label

_HIGH, _TOP = 290.0, 84.0  # px: of a panel, and over the panels
_GAP = 62.0  # between panels, with the figures of the next one
_DOT, _CROSS = 5.0, 5.0
_FIGURE = 62.0  # px for a figure under a panel
_LINE, _CHARACTERS = 18.0, 26  # of the table: a row; of a name in a panel
_NAME, _SAID = 250.0, 290.0  # px: room for a name in the list, and where the rest begins
MANY, LISTED = 15, 20
"""Of more options than this not all are named in the panels; so many are in the list."""
_NEAR_POINT = 32.0  # px: no number that may be left out stands farther from its point
_NUMBERS = 5  # of points on each other, told one by one
# Utilizations farther up than this would press the others flat: they stand at the upper edge.
_HIGHEST = 2.5
_MANNER = Manner(
    3.0,
    (7.0, 10.0, 15.0, 22.0, 32.0, 45.0, 60.0),
    12,
    cover=12.0,
    anchor=60.0,
    passed=40.0,
    anchor_reach=8.0,
)


@dataclass(frozen=True, slots=True)
class _Panel:
    """Utilization over one measure: what its axis says, and the measure of an option."""

    label: str
    value: Callable[[Option], float | None]
    whole: bool = False


def pareto_chart(options: Options, system: str = "SI") -> Picture:
    """A panel for each measure that is known, and the list of options with their numbers.

    Of more than ``MANY`` options only the best trade-offs and the run as modeled have their names
    in the panels, and the others of the list their numbers, where there is room. The list has the
    first ``LISTED`` and these. A combination to which one of its options adds nothing
    is left out. ``system`` is that of all printing; nothing here has a unit that depends on it but
    the time.
    """
    asked = [o for o in options.options if not o.same_as]
    shown = [o for o in asked if not o.error]
    listed = [
        o
        for n, o in enumerate(asked)
        if n < LISTED or (o.efficient and o.passes) or o.name == AS_MODELED
    ]
    labels = _labels(asked, listed)
    panels = [p for p in _measures(options, system) if any(p.value(o) is not None for o in shown)]
    title = f"Options: {options.title}, run {options.run}" if options.title else "Options"
    marks: list[Mark] = [titled(title), *_key(44.0)]
    wide = (WIDE - LEFT - RIGHT - _GAP * (len(panels) - 1)) / max(len(panels), 1)
    highest = _utilization_span(shown)
    for i, panel in enumerate(panels):
        left = LEFT + i * (wide + _GAP)
        rect = (left, _TOP, left + wide, _TOP + _HIGH)
        marks += _drawn(panel, shown, labels, rect, highest)
    foot = _TOP + _HIGH + 62 if panels else _TOP - 20
    for option in listed:
        rows = list(_listed(labels[id(option)].number, option, options.currency, foot))
        marks += rows
        foot = max(mark.at[1] for mark in rows) + _LINE
    if more := len(asked) - len(listed):
        words = f"Not listed: {more} more options."
        marks.append(written(LEFT + 28, foot, words, SMALL, PRINT["ink"]))
        foot += _LINE
    return Picture(marks, (WIDE, int(foot)), title)


@dataclass(frozen=True, slots=True)
class _Label:
    """What stands beside the point of an option: its number, and its ``name`` or none.

    A ``free`` one is left out where there is no room.
    """

    number: int
    name: str = ""
    shown: bool = True
    free: bool = False


def _labels(asked: Sequence[Option], listed: Sequence[Option]) -> dict[int, _Label]:
    """The label of each option, by its id."""
    many, known = len(asked) > MANY, {id(o) for o in listed}
    found = {}
    for number, option in enumerate(asked, 1):
        named = not many or (option.efficient and option.passes) or option.name == AS_MODELED
        short = len(option.name) <= _CHARACTERS
        shown = not many or id(option) in known
        name = option.name if named and short else ""
        found[id(option)] = _Label(number, name, shown, free=not named)
    return found


def options_picture(job: Job, answers: Sequence[Options], system: str) -> Picture:
    """The options of all runs of a job on one sheet."""
    each = [pareto_chart(options, system) for options in answers]
    return stacked(each, f"Options: {job.title}", example_banner(job.examples))


def _measures(options: Options, system: str) -> tuple[_Panel, ...]:
    hours = convert(1.0, "crew time", system)
    cost = f"cost, {options.currency}" if options.currency else "cost"
    return (
        _Panel(cost, lambda o: o.cost),
        _Panel(
            f"crew time, {unit_label('crew time', system)}",
            lambda o: None if o.crew_time is None else o.crew_time * hours,
        ),
        _Panel("set-ups", lambda o: float(o.setups), whole=True),
    )


def _key(y: float) -> Iterator[Mark]:
    """What the points and the line mean."""
    x = LEFT
    for said, efficient, fails in (
        ("best trade-off: what is better in one is worse in another", True, False),
        ("other", False, False),
        ("do not pull", False, True),
    ):
        yield from _point((x + _DOT, y), efficient=efficient, fails=fails)
        yield written(x + 18, y + 4, said, SMALL, PRINT["ink"])
        x += 44 + width(said)
    yield Line(((x, y), (x + 28, y)), PRINT["series"], 1.5)
    yield written(x + 34, y + 4, "lowest utilization up to here", SMALL, PRINT["ink"])


def _utilization_span(options: Sequence[Option]) -> float:
    """The upper end of the axes of utilization, %."""
    found = [o.utilization for o in options if math.isfinite(o.utilization)]
    most = max([0.01, *found])
    most = 100 * (most if most < NEAR else min(max(1.0, most), _HIGHEST))
    step = tick_step(most * 1.05, 5)
    return step * math.ceil(most * 1.05 / step)


# --- a panel -------------------------------------------------------------------------------------


def _drawn(
    panel: _Panel,
    options: Sequence[Option],
    labels: dict[int, _Label],
    rect: Rect,
    highest: float,
) -> Iterator[Mark]:
    known = [(x, o) for o in options if (x := panel.value(o)) is not None]
    xs = np.array([x for x, _ in known])
    axes = Axes(rect, _span(xs, whole=panel.whole), (0.0, highest))
    left, top, right, foot = rect
    yield written(left, top - 10, "utilization, %", SMALL, PRINT["ink"], bold=True)
    columns = int((right - left) / _FIGURE)
    if panel.whole:
        columns = min(columns, max(1, int(axes.x[1] - axes.x[0])))
    yield from grid_marks(axes, columns=columns)
    yield written((left + right) / 2, foot + 36, panel.label, TEXT, PRINT["ink"], "middle")
    limit = max(axes.down(100.0), top)
    if highest > 100:
        yield Line(((left, limit), (right, limit)), PRINT["limit"], 1.5, "7 4")
    ys = np.array([100 * o.utilization for _, o in known])
    far = ~(ys <= highest)
    at = axes.place(xs, np.where(far, highest, ys))
    line = _front(at, [o.efficient and not o.stops for _, o in known])
    if len(line) > 1:
        yield Line(line, PRINT["series"], 1.5)
    for place, (_, option) in zip(at.tolist(), known, strict=True):
        fails = bool(option.stops)
        yield from _point(tuple(place), efficient=option.efficient, fails=fails)
    above = {
        i: f", {show(known[i][1].utilization, 'percent', 'SI')}"
        for i in np.flatnonzero(far).tolist()
    }
    told = [labels[id(o)] for _, o in known]
    short = [f"{each.number}{above.get(i, '')}" for i, each in enumerate(told)]
    words = [
        f"{each.number}: {each.name}{above.get(i, '')}" if each.name else short[i]
        for i, each in enumerate(told)
    ]
    # Names first: where room is short, numbers go without.
    order = sorted((i for i, t in enumerate(told) if t.shown), key=lambda i: told[i].free)
    across = np.array([(left, limit), (right, limit)])
    if order:
        kept = [not t.free for t in told]
        yield from _named(at, order, words, short, kept, (line, across), rect)


def _span(xs: Floats, *, whole: bool) -> tuple[float, float]:
    """The axis of a measure, with room at both ends for points."""
    low, high = float(xs.min()), float(xs.max())
    if whole:
        return max(low - 1, 0.0) if low > 0 else -0.5, high + 1
    room = max(0.12 * (high - low), 0.02 * abs(high), 1e-9)
    return max(low - room, 0.0) if low >= 0 else low - room, high + room


def _front(at: Floats, counts: Sequence[bool]) -> Floats:
    """The step line (k, 2) px through points (n, 2) that nothing left of them lies below."""
    corners: list[tuple[float, float]] = []
    chosen = sorted(p for p, yes in zip(at.tolist(), counts, strict=True) if yes)
    lowest = -math.inf  # y counts down
    for x, y in sorted(chosen, key=lambda p: (p[0], -p[1])):
        if y <= lowest:
            continue
        if corners:
            corners.append((x, lowest))
        corners.append((x, y))
        lowest = y
    return np.array(corners).reshape(-1, 2)


def _point(at: tuple[float, float], *, efficient: bool, fails: bool) -> Iterator[Mark]:
    x, y = at
    if not fails:
        fill = PRINT["series"] if efficient else PRINT["ground"]
        yield Ring((x, y), _DOT, PRINT["series"], 1.5, fill)
        return
    yield Ring((x, y), _DOT, PRINT["limit"], 1.3, PRINT["ground"])
    for slope in (-1, 1):
        ends = ((x - _CROSS, y - slope * _CROSS), (x + _CROSS, y + slope * _CROSS))
        yield Line(ends, PRINT["limit"], 1.3)


def _named(
    at: Floats,
    order: Sequence[int],
    words: Sequence[str],
    short: Sequence[str],
    kept: Sequence[bool],
    lines: Sequence[Floats],
    rect: Rect,
) -> Iterator[Mark]:
    """Names beside the points of ``order``; all by number alone where one name has no room.

    What is not ``kept`` is left out where there is no room near its point.
    """
    groups = [[order[i] for i in group] for group in _together(at[list(order)])]
    places = np.array([at[g[0]] for g in groups])
    must = [any(kept[i] for i in group) for group in groups]
    reach = np.where(must, math.inf, _NEAR_POINT)
    rings = np.hstack((at - _DOT, at + _DOT))
    for told in (words, short):
        names = [_joined([told[i] for i in group]) for group in groups]
        found = _placed(places, names, rings, reach, lines, rect)
        if not any(must[i] for i in found.dropped):
            break
    for each in found.placed:
        left, _, right, foot = each.box
        anchor, elbow = np.array(each.anchor), np.array(each.elbow)
        away = float(np.hypot(*(elbow - anchor)))
        if away > _DOT + 8:
            start = anchor + (elbow - anchor) * (_DOT + 1) / away
            yield Line((tuple(start), tuple(elbow)), PRINT["faint"], 0.8)
        yield Box(each.box, PRINT["ground"])
        yield written(
            (left + right) / 2, foot - 4, names[each.index], SMALL, PRINT["ink"], "middle"
        )


def _joined(words: Sequence[str]) -> str:
    """The labels of points that lie on each other; of many the first."""
    more = len(words) - _NUMBERS
    return ", ".join(words[:_NUMBERS]) + (f" and {more} more" if more > 0 else "")


def _together(at: Floats) -> list[list[int]]:
    """Points that lie on each other, as one."""
    groups: list[list[int]] = []
    for i, place in enumerate(at):
        for group in groups:
            if np.abs(at[group[0]] - place).max() < 2.0:
                group.append(i)
                break
        else:
            groups.append([i])
    return groups


def _placed(
    places: Floats,
    names: Sequence[str],
    rings: Floats,
    reach: Floats,
    lines: Sequence[Floats],
    rect: Rect,
) -> PlacedLabels:
    left, top, right, foot = rect
    sizes = np.array([(width(name) + 4, SMALL + 4) for name in names])
    return place_labels(
        places,
        sizes,
        (left + 2, top + 2, right + 12, foot - 2),
        obstacles=rings,
        avoid=np.vstack([spaced(each, 4.0) for each in lines if len(each) > 1]),
        keep_off=np.full(len(places), _DOT),
        reach=reach,
        manner=_MANNER,
    )


# --- the list ------------------------------------------------------------------------------------


def _listed(number: int, option: Option, currency: str, y: float) -> Iterator[Text]:
    """One option in words: number, name, utilization, set-ups, and why it must not be pulled.

    In two rows where the name or the rest has no room in one.
    """
    ink = PRINT["limit" if option.stops or option.error else "ink"]
    bold = option.efficient and not option.stops and not option.error
    yield written(LEFT + 18, y, str(number), SMALL, PRINT["ink"], "right", bold=bold)
    told, room = _told(option, currency), WIDE - RIGHT - LEFT
    name = cut(option.name, room - 28, bold=bold)
    yield written(LEFT + 28, y, name, SMALL, PRINT["ink"], bold=bold)
    if width(name, bold=bold) <= _NAME and width(told) <= room - _SAID:
        yield written(LEFT + _SAID, y, told, SMALL, ink)
    else:
        yield written(LEFT + 44, y + _LINE, cut(told, room - 44), SMALL, ink)


def _told(option: Option, currency: str) -> str:
    if option.error:
        return f"not solved: {option.error}"
    words = [f"{show(option.utilization, 'percent', 'SI')} of {option.governing}"]
    words.append(f"feed {option.feed}")
    words.append(f"{option.setups} set-up{'s' * (option.setups != 1)}")
    if option.crew_time is not None:
        words.append(show(option.crew_time, "crew time", "SI"))
    if option.cost is not None:
        words.append(f"{option.cost:,.0f} {currency}".strip())
    if option.stops:
        words.append("do not pull" + (f": {option.stops[0]}" if option.utilization <= 1 else ""))
    return ", ".join(words)
