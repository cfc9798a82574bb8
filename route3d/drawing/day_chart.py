"""The day plan as a picture: every day a band, in it a lane for each crew, time to the right.

Windows and deliveries of a day stand over its lanes. Move, set-up and pull are told apart without
color: white with an arrow, light, dark. Every pull has its run and vault over it; short ones on a
line of their own with a stroke down to the bar.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

from route3d.drawing import svg
from route3d.drawing.charts import PRINT
from route3d.drawing.marks import Box, Line, Mark, Rect, Shape, Text, arrow, written
from route3d.drawing.text_width import CAPITAL, fitted, text_width
from route3d.model.examples import MOST_NAMED, example_banner
from route3d.model.job import Job
from route3d.model.schedule import Crew, Delivery, Outage, Schedule
from route3d.study.day_plan.case import shift_bounds
from route3d.study.day_plan.outcome import DayPlan, PlacedPull
from route3d.study.day_plan.words import day_words, how_good

_WIDE, _LEFT, _RIGHT, _MARGIN = 1060.0, 224.0, 24.0, 20.0  # px
_TITLE, _TEXT, _SMALL = 17.0, 13.0, 11.0  # px, letters
_LANE, _BAR, _IDLE = 44.0, 18.0, 24.0  # px: a lane, its bar, a lane without pulls
_DATE = 96.0  # px, of a date and the space beside it
_NAME = 17.0  # px, a line of names over the bars
_STRIP, _GAP = 19.0, 14.0  # px: a line of windows, between days
_HATCH = 6.0  # px from line to line
_HOURS = 12.0  # more of them have a figure every two hours
_NAMED = 4  # runs of a window that are named
_TIMES = 2  # drawn so much larger, then brought to size
_SHIFT, _SETUP, _PULL = "#f4f4f4", "#c8c8c8", "#24384d"
_MINUTE = 60.0


@dataclass(frozen=True, slots=True)
class _Scale:
    """Hours after the midnight a day begins with, from ``first`` to ``last``, across the chart."""

    first: float
    last: float

    def at(self, hours: float) -> float:
        """Position of a time."""
        wide = _WIDE - _LEFT - _RIGHT
        return _LEFT + wide * (hours - self.first) / (self.last - self.first)

    def held(self, hours: float) -> float:
        """Position of a time, or the end of the chart where it lies beyond."""
        return self.at(min(max(hours, self.first), self.last))


def day_chart_svg(job: Job, plan: DayPlan, schedule: Schedule) -> str:
    """The chart as SVG; the same plan gives the same text."""
    marks, size = day_chart_marks(job, plan, schedule)
    return svg.document(marks, size, title=f"Day plan: {schedule.title or job.title}")


def day_chart_png(job: Job, plan: DayPlan, schedule: Schedule) -> bytes:
    """The same picture as pixels."""
    import io

    from PIL import Image

    from route3d.drawing.pixels import painted

    marks, (wide, high) = day_chart_marks(job, plan, schedule)
    ground = Image.new("RGB", (wide * _TIMES, high * _TIMES), PRINT["ground"])
    made = io.BytesIO()
    painted(ground, marks, _TIMES).save(made, "PNG")
    return made.getvalue()


def day_chart_marks(
    job: Job, plan: DayPlan, schedule: Schedule
) -> tuple[list[Mark], tuple[int, int]]:
    """The marks of the chart and its size, px."""
    marks: list[Mark] = []
    y = 28.0
    if banner := example_banner(job.examples, MOST_NAMED):
        words = _cut(banner, _TEXT, _WIDE - 2 * _MARGIN, bold=True)
        marks.append(written(_MARGIN, y, words, _TEXT, PRINT["limit"], bold=True))
        y += 24
    title = _cut(schedule.title or job.title, _TITLE, _WIDE - 2 * _MARGIN, bold=True)
    marks.append(written(_MARGIN, y, title, _TITLE, PRINT["ink"], bold=True))
    for sentence in how_good(plan):
        y += 19
        words = _cut(sentence, _TEXT, _WIDE - 2 * _MARGIN)
        marks.append(written(_MARGIN, y, words, _TEXT, PRINT["ink"]))
    if plan.unplaced:
        y += 19
        names = "Not in the plan: " + ", ".join(name for name, _ in plan.unplaced)
        words = _cut(names, _TEXT, _WIDE - 2 * _MARGIN, bold=True)
        marks.append(written(_MARGIN, y, words, _TEXT, PRINT["limit"], bold=True))
    y += 34
    if plan.pulls:
        made, y = _days(plan, schedule, y)
        marks += made
    marks += _legend(y, plan, schedule)
    # the name of a pull near the end of the hours may need more than the margin
    ends = [m.box[2] for m in marks if isinstance(m, Text) and m.align == "left" and m.base]
    return marks, (math.ceil(max(_WIDE, *(x + _MARGIN for x in ends))), int(y + 34))


def _days(plan: DayPlan, schedule: Schedule, top: float) -> tuple[list[Mark], float]:
    """All bands between two rows of hours, and where they end."""
    days = _shown_days(plan, schedule)
    scale = _scale(plan, schedule)
    behind: list[Mark] = []
    through: list[Mark] = []
    before: list[Mark] = list(_hours(scale, top - 8))
    y, last = top, None
    for day in days:
        if last is not None and (day - last).days > 1:
            before += _break(y - _GAP / 2)
        lanes, lines, front, y = _band(day, plan, schedule, scale, y)
        behind += lanes
        through += lines
        before += front
        y += _GAP
        last = day
    before += _hours(scale, y + 6)
    grid = [
        Line(((scale.at(hour), top), (scale.at(hour), y - _GAP)), PRINT["line"], 0.8)
        for hour in _ticks(scale)
    ]
    return [*behind, *grid, *through, *before], y + 30


def _shown_days(plan: DayPlan, schedule: Schedule) -> list[date]:
    """Days with a pull, and those up to the finish with a window or a delivery in a shift."""
    assert plan.finish is not None
    days = {p.day for p in plan.pulls}
    for n in range((max(days) - schedule.start).days + 1):
        day = schedule.start + timedelta(days=n)
        if _shifts(day, schedule) and (_windows(day, schedule) or _deliveries(day, schedule)):
            days.add(day)
    return sorted(days)


def _shifts(day: date, schedule: Schedule) -> list[tuple[Crew, datetime, datetime]]:
    """The crews that work on a day, with their shifts."""
    return [
        (crew, *shift_bounds(crew, day))
        for crew in schedule.crews
        if day >= crew.start and day.weekday() in crew.days and day not in crew.off
    ]


def _scale(plan: DayPlan, schedule: Schedule) -> _Scale:
    """Whole hours about the shifts of the crews that pull."""
    names = {p.crew for p in plan.pulls}
    crews = [crew for crew in schedule.crews if crew.name in names]
    bounds = [shift_bounds(crew, schedule.start) for crew in crews]
    first = min(_clock(schedule.start, start) for start, _ in bounds)
    last = max(_clock(schedule.start, end) for _, end in bounds)
    return _Scale(float(math.floor(first)), math.ceil(2 * last) / 2)


def _clock(day: date, moment: datetime) -> float:
    """Hours of a moment after midnight of a day."""
    return (moment - datetime.combine(day, time())).total_seconds() / 3600


def _ticks(scale: _Scale) -> Iterator[int]:
    step = 1 if scale.last - scale.first <= _HOURS else 2
    return (h for h in range(int(scale.first), math.floor(scale.last) + 1) if not (h % step))


def _hours(scale: _Scale, y: float) -> Iterator[Mark]:
    """The hours of the day in a row."""
    for hour in _ticks(scale):
        text = f"{hour % 24:02d}:00"
        yield written(scale.at(hour), y, text, _SMALL, PRINT["faint"], "middle")


def _break(y: float) -> Iterator[Mark]:
    """A dashed line where days are left out."""
    yield Line(((_MARGIN, y), (_WIDE - _RIGHT, y)), PRINT["faint"], 0.8, "2 4")


# --- one day --------------------------------------------------------------------------------------


def _band(
    day: date, plan: DayPlan, schedule: Schedule, scale: _Scale, top: float
) -> tuple[list[Mark], list[Mark], list[Mark], float]:
    """A day: its lanes, the lines through them, what lies before these, and where it ends."""
    behind: list[Mark] = []
    through: list[Mark] = []
    front: list[Mark] = []
    date_at = top + 15
    front.append(written(_MARGIN, date_at, day_words(datetime.combine(day, time())), _TEXT,
                         PRINT["ink"], bold=True))  # fmt: skip
    rows = _rows(day, schedule, scale)
    y = top + _STRIP * len(rows)
    marks_at = y
    for crew, start, end in _shifts(day, schedule):
        mine = [p for p in plan.pulls if p.crew == crew.name and p.day == day]
        left, right = (scale.held(_clock(day, t)) for t in (start, end))
        named = _names(mine, day, scale, right)
        rows_up = max((n.row for n in named), default=0)
        high = _LANE + _NAME * rows_up if mine else _IDLE
        if right > left:
            behind.append(Box((left, y, right, y + high - 4), _SHIFT))
        name = _cut(crew.name, _TEXT, _LEFT - _MARGIN - _DATE)
        front.append(written(_LEFT - 12, y + high / 2 + 3, name, _TEXT, PRINT["ink"], "right"))
        bars = y + _NAME * (rows_up + 1)
        for placed in mine:
            front += _bar(placed, day, scale, bars)
        for each in named:
            front += each.marks(bars)
        y += high
    y = max(y, top + 24)
    for k, row in enumerate(rows):
        for item in row:
            through += item.through(marks_at, y - 4)
            front += item.marks(top + k * _STRIP, marks_at)
    front.append(Line(((_MARGIN, top - 5), (_WIDE - _RIGHT, top - 5)), PRINT["line"], 1.0))
    return behind, through, front, y


def _bar(placed: PlacedPull, day: date, scale: _Scale, head: float) -> Iterator[Mark]:
    """A pull: move, set-up and pull one after another, from ``head`` down."""
    start, end = (scale.at(_clock(day, t)) for t in (placed.start, placed.end))
    minute = (end - start) / ((placed.end - placed.start).total_seconds() / _MINUTE)
    foot = head + _BAR
    moved = start + minute * placed.move / _MINUTE
    ready = moved + minute * placed.setup / _MINUTE
    if placed.move:
        middle = (head + foot) / 2
        yield Box((start, head, moved, foot), PRINT["ground"], PRINT["ink"], 1.0)
        if moved - start > 16:
            yield from arrow((start + 4, middle), (moved - 4, middle), PRINT["ink"], 1.0)
    if placed.setup:
        yield Box((moved, head, ready, foot), _SETUP, PRINT["ink"], 1.0)
    yield Box((ready, head, end, foot), _PULL, PRINT["ink"], 1.0)


@dataclass(frozen=True, slots=True)
class _Name:
    """The run and the vault of a pull, ``row`` lines over its bar, which begins at ``left`` px.

    Lines stay clear of it; the ground behind it is that of a shift up to ``shift`` px.
    """

    run: str
    place: str
    left: float
    row: int
    shift: float

    @property
    def right(self) -> float:
        """Where it ends."""
        return self.left + 8 + self._run_wide + text_width(self.place, _SMALL * CAPITAL)

    @property
    def _run_wide(self) -> float:
        return text_width(self.run, _TEXT * CAPITAL, bold=True)

    def marks(self, head: float) -> Iterator[Mark]:
        """The words over bars that begin at ``head``, and a line down to the bar."""
        base = head - 4 - _NAME * self.row
        inner = min(self.right, self.shift)
        yield Box((self.left, base - 12, inner, base + 3), _SHIFT)
        if self.right > inner:
            yield Box((inner, base - 12, self.right, base + 3), PRINT["ground"])
        if self.row:
            yield Line(((self.left, base - 10), (self.left, head)), PRINT["ink"], 1.0)
        yield written(self.left + 3, base, self.run, _TEXT, PRINT["ink"], bold=True)
        at = self.left + 8 + self._run_wide
        yield written(at, base, self.place, _SMALL, PRINT["faint"])


def _names(mine: Sequence[PlacedPull], day: date, scale: _Scale, end: float) -> list[_Name]:
    """The names of the pulls of a lane whose shift ends at ``end`` px.

    From right to left, each over all names it would touch: its line down passes to their left.
    """
    found: list[_Name] = []
    for placed in sorted(mine, key=lambda p: p.start, reverse=True):
        left = scale.at(_clock(day, placed.start))
        name = _Name(_short(placed), f"at {placed.pull}", left, 0, end)
        over = (other.row + 1 for other in found if other.left < name.right + 6)
        found.append(replace(name, row=max(over, default=0)))
    return found


def _short(placed: PlacedPull) -> str:
    """The run, and a stage as ``1/2``."""
    words = placed.stage.split()
    return f"{placed.run} {words[1]}/{words[3]}" if len(words) == 4 else placed.run


def _cut(text: str, size: float, width: float, *, bold: bool = False) -> str:
    return fitted(text, size * CAPITAL, max(width, 0.0), bold=bold)


# --- windows and deliveries -----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Strip:
    """A window or delivery over the lanes of a day, from ``left`` to ``right`` px.

    ``begins`` and ``ends`` say whether it does so in the chart. ``kind`` is "inside", "outside" or
    "delivery".
    """

    kind: str
    text: str
    left: float
    right: float
    begins: bool
    ends: bool

    @property
    def room(self) -> tuple[float, float]:
        """What it takes of its row, its words included."""
        wide = text_width(self.text, _SMALL * CAPITAL) + 12
        if self.kind == "delivery" and self.left + wide > _WIDE - _RIGHT:
            return self.left - wide, self.left + 6
        return self.left - 6, max(self.right, self.left + wide)

    def through(self, lanes: float, foot: float) -> Iterator[Mark]:
        """Where it begins and ends, through the lanes."""
        color = PRINT["faint"] if self.kind == "outside" else PRINT["ink"]
        dash = "" if self.kind == "delivery" else "4 3"
        for x, there in {self.left: self.begins, self.right: self.ends}.items():
            if there:
                yield Line(((x, lanes), (x, foot)), color, 1.2, dash)

    def marks(self, top: float, lanes: float) -> Iterator[Mark]:
        """The strip at ``top``, over the ``lanes``."""
        ink, faint = PRINT["ink"], PRINT["faint"]
        if self.kind == "delivery":
            tip = ((self.left - 5, top + 3), (self.left + 5, top + 3), (self.left, top + 12))
            yield Line(((self.left, top + 10), (self.left, lanes)), ink, 1.4)
            yield Shape(tip, ink)
            back = self.room[0] < self.left - 6
            at, align = (self.left - 8, "right") if back else (self.left + 8, "left")
            yield written(at, top + 12, self.text, _SMALL, ink, align)  # type: ignore[arg-type]
            return
        inside = self.kind == "inside"
        yield from _window_box((self.left, top, self.right, top + 16), inside)
        for there, x in ((self.begins, self.left), (self.ends, self.right)):
            if there:
                yield Line(((x, top + 16), (x, lanes)), ink if inside else faint, 1.2, "4 3")
        words = _cut(self.text, _SMALL, max(self.right - self.left, 0) - 8)
        if words and not inside:
            end = self.left + 8 + text_width(words, _SMALL * CAPITAL)
            yield Box((self.left + 2, top + 2, end, top + 14), PRINT["ground"])
        yield written(self.left + 5, top + 12, words, _SMALL, ink)


def _window_box(rect: Rect, inside: bool) -> Iterator[Mark]:
    """A window: white to pull in, hatched not to pull in."""
    left, top, right, foot = rect
    color = PRINT["ink"] if inside else PRINT["faint"]
    yield Box(rect, PRINT["ground"], color, 1.2)
    x = left + _HATCH - (foot - top)
    while x < right and not inside:
        # from the foot up to the right, cut at both ends of the box
        a, b = max(x, left), min(x + foot - top, right)
        if b > a:
            yield Line(((a, foot - (a - x)), (b, foot - (b - x))), color, 0.8)
        x += _HATCH


def _rows(day: date, schedule: Schedule, scale: _Scale) -> list[list[_Strip]]:
    """The strips of a day in as few rows as keep them apart."""
    strips = [_window(o, day, scale) for o in _windows(day, schedule)]
    strips = [s for s in strips if s.right > s.left]
    strips += [_delivery(d, day, scale) for d in _deliveries(day, schedule)]
    rows: list[list[_Strip]] = []
    for strip in sorted(strips, key=lambda s: s.room):
        for row in rows:
            if row[-1].room[1] + 6 <= strip.room[0]:
                row.append(strip)
                break
        else:
            rows.append([strip])
    return rows


def _windows(day: date, schedule: Schedule) -> list[Outage]:
    """The windows that touch a shift of a day."""
    shifts = _shifts(day, schedule)
    return [o for o in schedule.outages if any(o.start < b and o.end > a for _, a, b in shifts)]


def _deliveries(day: date, schedule: Schedule) -> list[Delivery]:
    return [d for d in schedule.deliveries if d.at.date() == day]


def _window(outage: Outage, day: date, scale: _Scale) -> _Strip:
    start, end = (_clock(day, t) for t in (outage.start, outage.end))
    runs = _listed(outage.runs)
    text = f"{outage.name}: {runs}" if outage.inside else f"{outage.name}: not {runs}"
    return _Strip(
        "inside" if outage.inside else "outside",
        text,
        scale.held(start),
        scale.held(end),
        start > scale.first,
        end < scale.last,
    )


def _delivery(delivery: Delivery, day: date, scale: _Scale) -> _Strip:
    at = scale.held(_clock(day, delivery.at))
    for_whom = _listed(delivery.runs) if delivery.runs else f"reel {delivery.reel}"
    return _Strip("delivery", f"{delivery.name}: {for_whom}", at, at, True, True)


def _listed(runs: Sequence[str]) -> str:
    more = len(runs) - _NAMED
    return ", ".join(runs[:_NAMED]) + (f" and {more} more" if more > 0 else "")


def _legend(y: float, plan: DayPlan, schedule: Schedule) -> Iterator[Mark]:
    """What the boxes mean; only what the chart has."""
    ink, x = PRINT["ink"], _MARGIN
    entries = [("set-up, short where the machine stands there already", _SETUP), ("pull", _PULL)]
    if any(p.move for p in plan.pulls):
        entries.insert(0, ("move", PRINT["ground"]))
    entries.append(("shift", _SHIFT))
    for words, fill in entries:
        yield Box((x, y, x + 26, y + 13), fill, ink if fill != _SHIFT else PRINT["line"], 1.0)
        if words == "move":
            yield from arrow((x + 3, y + 6.5), (x + 23, y + 6.5), ink, 1.0)
        yield written(x + 32, y + 11, words, _SMALL, ink)
        x += 32 + text_width(words, _SMALL * CAPITAL) + 24
    for kind, words, there in (
        ("inside", "window to pull in", any(o.inside for o in schedule.outages)),
        ("outside", "window not to pull in", any(not o.inside for o in schedule.outages)),
        ("delivery", "delivery", bool(schedule.deliveries)),
    ):
        if not there:
            continue
        if kind == "delivery":
            yield Shape(((x + 3, y + 2), (x + 13, y + 2), (x + 8, y + 11)), ink)
        else:
            yield from _window_box((x, y, x + 20, y + 13), kind == "inside")
        yield written(x + 26, y + 11, words, _SMALL, ink)
        x += 26 + text_width(words, _SMALL * CAPITAL) + 24
