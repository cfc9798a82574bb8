"""What all sheets of a run share: scale, layout, and the stretches it is cut into.

A run is drawn at one round scale; a long one is cut into stretches, each on its own sheet with
match lines.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from route3d.drawing.axes import multiples
from route3d.drawing.marks import Rect
from route3d.drawing.plan_profile.course import DrawnRun, Event, course_of
from route3d.drawing.plan_profile.layout import (
    PAD,
    PAPERS,
    TABLE,
    Scale,
    SheetLayout,
    round_scales,
    round_step,
    turned,
)
from route3d.errors import InputError, Problem
from route3d.geometry.fillet import route_path
from route3d.geometry.grade import Grade
from route3d.geometry.path import Path
from route3d.geometry.vectors import Floats
from route3d.model.job import Job
from route3d.model.run import Run

# Around the route in plan and profile there is room for labels.
_PLAN_ROOM, _PROFILE_ROOM = 16.0, 9.5
# Shares of the height that the profile may take: the least that will do leaves the plan most.
_SHARES = tuple(k / 100 for k in range(24, 80, 4))
# And of the width, beside the plan.
_WIDTHS = (0.3, 0.4, 0.5, 0.6, 0.7)
_LOWEST_PROFILE, _NARROWEST_PROFILE = 40.0, 64.0  # mm
_EXAGGERATIONS = (10, 5, 2)
MOST_SHEETS = 60
"""A run that would take more is refused."""
_STATION_GAP = 18.0  # at least so far apart are round stations, mm
_SPACING = 1.5  # of the samples along the route, mm
_CHORD = 0.02  # mm that chords of the route may leave it


@dataclass(frozen=True, slots=True)
class SheetSpan:
    """What one sheet shows: stations ``start`` to ``end`` (m), the plan turned by ``turn`` rad."""

    start: float
    end: float
    turn: float


@dataclass(frozen=True, slots=True, eq=False)
class Setup:
    """What all sheets of a run share."""

    job: Job
    course: DrawnRun
    system: str
    paper: str
    scale: Scale
    layout: SheetLayout
    exaggeration: int
    interval: float
    stretches: tuple[SheetSpan, ...]
    grade: Grade = field(default_factory=Grade)


def set_up(
    job: Job,
    run: Run,
    system: str,
    *,
    paper: str,
    scale: Scale | None = None,
    most: int = MOST_SHEETS,
) -> Setup:
    """Scale, layout and stretches of a run on at most so many sheets."""
    path = route_path(run.route)
    single, several = ((), (scale,)) if scale else round_scales(system)

    def best(tried: Scale, most: int) -> Setup | None:
        setups = _setups(job, run, path, system, paper, tried, most=most)
        return min(setups, key=lambda s: len(s.stretches), default=None)

    for tried in single:
        if found := best(tried, 1):
            return found
    found = next((setup for tried in several if (setup := best(tried, most))), None)
    if found is None:
        raise _too_long(several[-1], system, most)
    for tried in reversed(single):
        if tried.ratio < found.scale.ratio:  # larger, as long as it takes no more sheets
            larger = best(tried, len(found.stretches))
            if larger is None:
                break
            found = larger
    return found


def _too_long(scale: Scale, system: str, most: int) -> InputError:
    said = f"at {scale.words(system)} the run would need more than {most} sheets"
    fix = "use a smaller scale, such as --scale 1:5000, or larger paper (--paper)"
    return InputError(Problem(said, where="--scale", fix=fix))


def _setups(
    job: Job, run: Run, path: Path, system: str, paper: str, scale: Scale, *, most: int
) -> Iterator[Setup]:
    """The ways to draw a run at a scale, of at most ``most`` sheets."""
    size = PAPERS[paper]
    if path.length * scale.mm > most * sum(size):
        return
    course = course_of(run, path, system, _SPACING / scale.mm, _CHORD / scale.mm)
    interval = round_step(_STATION_GAP / scale.mm, system)
    for layout in _layouts(*size):
        setup = _cut(Setup(job, course, system, paper, scale, layout, 1, interval, ()), most)
        if setup.stretches:
            yield _exaggerated(setup)
            if len(setup.stretches) == 1:
                return


def _layouts(width: float, height: float) -> Iterator[SheetLayout]:
    """Ways to lay out a sheet: the profile below, then beside the plan."""
    for share in _SHARES:
        layout = SheetLayout(width, height, share)
        if _height(layout.profile) >= _LOWEST_PROFILE:
            yield layout
    for share in _WIDTHS:
        layout = SheetLayout(width, height, share, beside=True)
        if _width(layout.profile) >= _NARROWEST_PROFILE and _width(layout.table) >= TABLE:
            yield layout


def _exaggerated(setup: Setup) -> Setup:
    """The setup with heights drawn taller.

    As often as keeps a flat run well inside every sheet and takes no more sheets.
    """
    course, mm = setup.course, setup.scale.mm
    room = 0.6 * (_height(setup.layout.profile) - 2 * _PROFILE_ROOM)
    for times in _EXAGGERATIONS if np.ptp(course.points[:, 2]) * mm >= 1e-6 else ():
        taller = _cut(replace(setup, exaggeration=times), len(setup.stretches))
        spans = (course.between(s.start, s.end) for s in taller.stretches)
        rises = [np.ptp(course.path.point(stations)[:, 2]) for stations in spans]
        if rises and max(rises) * mm * times <= room:
            return taller
    return setup


def _height(box: Rect) -> float:
    return box[3] - box[1]


def _width(box: Rect) -> float:
    return box[2] - box[0]


# --- cutting -----------------------------------------------------------------------------------


def _cut(setup: Setup, most: int) -> Setup:
    """The run cut to what fits a sheet each, the sheets about equally full; none for too many."""
    found = _greedy(setup, math.inf, most)
    count = len(found)
    for slack in (1.0, 1.05, 1.1, 1.2) if count > 1 else ():
        even = _greedy(setup, setup.course.path.length / count * slack, count)
        if len(even) == count:
            return replace(setup, stretches=even)
    return replace(setup, stretches=found)


def _greedy(setup: Setup, longest: float, most: int) -> tuple[SheetSpan, ...]:
    start, end = 0.0, setup.course.path.length
    found: list[SheetSpan] = []
    while start < end:
        if len(found) == most:
            return ()
        reach, turn = _farthest(setup, start)
        reach = min(reach, start + longest)
        stop = end if reach >= end - 1e-9 else _good_cut(setup, start, reach)
        found.append(SheetSpan(start, stop, turn))
        start = stop
    return tuple(found)


def _farthest(setup: Setup, start: float) -> tuple[float, float]:
    """The station up to which a sheet from ``start`` can reach, and the turn of its plan."""
    course, layout, mm = setup.course, setup.layout, setup.scale.mm
    first = int(np.searchsorted(course.stations, start, side="right"))
    stations = np.concatenate(([start], course.stations[first:]))
    points = np.vstack((course.path.point(start), course.points[first:]))
    left, top, right, bottom = layout.profile
    level = np.interp(stations, course.stations, course.level)
    fits = (level - level[0]) * mm <= right - left - 2 * PAD + 1e-9
    rise = _spread(points[:, 2]) * mm * setup.exaggeration
    fits &= rise <= bottom - top - 2 * _PROFILE_ROOM
    fits &= stations <= _full_table(course.marks, start, layout.capacity) + 1e-9
    left, top, right, bottom = layout.plan
    room = right - left - 2 * _PLAN_ROOM, bottom - top - 2 * _PLAN_ROOM
    best = (start, 0.0)
    for turn in _turns(course, start):
        x, y = turned(points, turn)
        inside = fits & (_spread(x) * mm <= room[0]) & (_spread(y) * mm <= room[1])
        count = len(inside) if inside.all() else int(np.argmin(inside))
        reach = float(stations[max(count - 1, 0)])
        # North up where turning the plan does not gain a tenth.
        if reach - start > 1.1 * (best[0] - start) or (reach > best[0] and not best[1]):
            best = reach, turn
    if best[0] <= start:
        return float(stations[1]), 0.0
    return best[0], _rightwards(points, stations <= best[0], best[1])


def _rightwards(points: Floats, shown: NDArray[np.bool_], turn: float) -> float:
    """A turned plan the way round that the run goes to the right; north up stays."""
    x, _ = turned(points[shown], turn)
    return turn + math.pi if turn and x[-1] < x[0] - 1e-6 else turn


def _spread(values: Floats) -> Floats:
    """The range of the values so far."""
    return np.maximum.accumulate(values) - np.minimum.accumulate(values)


def _turns(course: DrawnRun, start: float) -> list[float]:
    """Ways to turn the plan: north up, a quarter turn, along the start, along the chord."""
    ahead = course.path.tangent(start)
    chord = course.path.point(course.path.length) - course.path.point(start)
    along = [-math.atan2(v[1], v[0]) for v in (ahead, chord) if math.hypot(v[0], v[1]) > 1e-6]
    return [0.0, math.pi / 2, *along]


def _full_table(marks: Sequence[Event], start: float, capacity: int) -> float:
    """The station before which the table beside the plan is full; infinite where it never is."""
    rows, before = 0, math.inf
    for mark in marks:
        if mark.station < start:
            continue
        rows += table_rows(mark)
        if rows > capacity:  # the end of the run is on the sheet of what comes before it
            return mark.station if mark is not marks[-1] else before
        before = mark.station
    return math.inf


def table_rows(mark: Event) -> int:
    """How many rows a mark takes in the table."""
    return 2 if mark.words else 1


def _good_cut(setup: Setup, start: float, reach: float) -> float:
    """A round station short of ``reach`` and clear of bends and points, where there is one."""
    clear = 5.0 / setup.scale.mm
    least = start + 0.45 * (reach - start)
    for step in (setup.interval, setup.interval / 5):
        for at in reversed(multiples(step, least, reach)):
            if not any(m.station - clear < at < m.end + clear for m in setup.course.marks):
                return at
    return reach


def on_sheet(setup: Setup, number: int) -> tuple[Event, ...]:
    """What is flagged on a sheet: what starts in its stretch."""
    stretch = setup.stretches[number - 1]
    last = number == len(setup.stretches)
    return tuple(
        m
        for m in setup.course.marks
        if stretch.start <= m.station and (m.station < stretch.end or last)
    )
