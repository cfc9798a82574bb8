"""Plan and profile of a run on sheets: what is drawn where, in paper mm.

Plan above, profile below, or beside it for a tall run, both at one round scale; a long run is cut
into stretches, each on its own sheet with match lines. The profile is developed along the plan:
elevation against the distance gone in plan, so that slopes are true where heights are not
exaggerated and a riser stands upright. Against the station a plumb riser would lean at 45 degrees.
The table holds everything flagged on the sheet, and says what the views had no room for.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from route3d.errors import InputError, Problem
from route3d.geometry.fillet import route_path
from route3d.geometry.path import Path
from route3d.geometry.vectors import Floats
from route3d.model.job import Job
from route3d.model.run import Run
from route3d.report.drawing_events import Event, Piece, events, straights
from route3d.report.drawing_layout import PAD, TABLE, Layout, PlanView, ProfileView, turned
from route3d.report.drawing_marks import Box
from route3d.report.drawing_scale import PAPERS, Scale, multiples, round_scales, round_step

if TYPE_CHECKING:
    from route3d.report.drawing_marks import Mark

# Around the route in plan and profile there is room for labels.
_PLAN_ROOM, _PROFILE_ROOM = 16.0, 9.5
# Shares of the height that the profile may take: the least that will do leaves the plan most.
_SHARES = tuple(k / 100 for k in range(24, 80, 4))
# And of the width, beside the plan.
_WIDTHS = (0.3, 0.4, 0.5, 0.6, 0.7)
_LOWEST_PROFILE, _NARROWEST_PROFILE = 40.0, 64.0  # mm
_EXAGGERATIONS = (10, 5, 2)
_MOST_SHEETS = 60
_STATION_GAP = 18.0  # at least so far apart are round stations, mm
_SPACING = 1.5  # of the places looked at along the route, mm


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """The run as it is drawn: its path, places every few tenths along it, and what is flagged.

    ``level`` m is how far the run has gone in plan at each of the ``stations``.
    """

    run: Run
    path: Path
    marks: tuple[Event, ...]
    pieces: tuple[Piece, ...]
    stations: Floats
    points: Floats
    level: Floats

    def between(self, start: float, end: float) -> Floats:
        """Stations from ``start`` to ``end``, both included."""
        inner = self.stations[(self.stations > start) & (self.stations < end)]
        return np.concatenate(([start], inner, [end]))


@dataclass(frozen=True, slots=True)
class Stretch:
    """What one sheet shows: stations ``start`` to ``end`` (m), the plan turned by ``turn`` rad."""

    start: float
    end: float
    turn: float


@dataclass(frozen=True, slots=True, eq=False)
class Setup:
    """What all sheets of a run share."""

    job: Job
    course: Course
    system: str
    paper: str
    scale: Scale
    layout: Layout
    exaggeration: int
    interval: float
    stretches: tuple[Stretch, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """One finished sheet: its marks in drawing order, and the two views they belong to."""

    setup: Setup
    number: int
    plan: PlanView
    profile: ProfileView
    marks: tuple[Mark, ...]

    @property
    def stretch(self) -> Stretch:
        """The stations it shows."""
        return self.setup.stretches[self.number - 1]


def run_sheets(
    job: Job, run: Run, system: str, *, paper: str, scale: Scale | None = None
) -> tuple[Sheet, ...]:
    """The sheets of one run at ``scale``, or at the largest round one it fits a single sheet at.

    Raises InputError where the scale would need too many sheets.
    """
    from route3d.report.drawing_frame import frame_marks
    from route3d.report.drawing_plan import plan_marks
    from route3d.report.drawing_profile import profile_marks

    setup = set_up(job, run, system, paper=paper, scale=scale)
    sheets = []
    for number, stretch in enumerate(setup.stretches, 1):
        plan, profile = _plan_view(setup, stretch), _profile_view(setup, stretch)
        marks, left_out = plan_marks(setup, number, plan)
        more, also = profile_marks(setup, number, profile)
        outer = frame_marks(setup, number, plan, (*left_out, *also))
        sheets.append(Sheet(setup, number, plan, profile, (*outer, *marks, *more)))
    return tuple(sheets)


def set_up(job: Job, run: Run, system: str, *, paper: str, scale: Scale | None = None) -> Setup:
    """Scale, layout and stretches of a run."""
    path = route_path(run.route)
    single, several = ((), (scale,)) if scale else round_scales(system)

    def best(tried: Scale, most: int) -> Setup | None:
        setups = _setups(job, run, path, system, paper, tried, most=most)
        return min(setups, key=lambda s: len(s.stretches), default=None)

    for tried in single:
        if found := best(tried, 1):
            return found
    found = next((setup for tried in several if (setup := best(tried, _MOST_SHEETS))), None)
    if found is None:
        raise _too_long(several[-1], system)
    for tried in reversed(single):
        if tried.ratio < found.scale.ratio:  # larger, as long as it takes no more sheets
            larger = best(tried, len(found.stretches))
            if larger is None:
                break
            found = larger
    return found


def _too_long(scale: Scale, system: str) -> InputError:
    said = f"at {scale.words(system)} the run would take more than {_MOST_SHEETS} sheets"
    fix = "give a smaller scale with --scale, such as 1:5000, or a larger paper with --paper"
    return InputError(Problem(said, where="--scale", fix=fix))


def _setups(
    job: Job, run: Run, path: Path, system: str, paper: str, scale: Scale, *, most: int
) -> Iterator[Setup]:
    """The ways to draw a run at a scale, of at most ``most`` sheets."""
    size = PAPERS[paper]
    if path.length * scale.mm > most * sum(size):
        return
    course = _course(run, path, system, scale)
    interval = round_step(_STATION_GAP / scale.mm, system)
    for layout in _layouts(*size):
        stretches = _stretches(course, scale, layout, 1, interval, most)
        if stretches:
            times, stretches = _exaggerated(course, scale, layout, interval, stretches)
            yield Setup(job, course, system, paper, scale, layout, times, interval, stretches)
            if len(stretches) == 1:
                return


def _layouts(width: float, height: float) -> Iterator[Layout]:
    """Ways to lay out a sheet: the profile below, then beside the plan."""
    for share in _SHARES:
        layout = Layout(width, height, share)
        if _height(layout.profile) >= _LOWEST_PROFILE:
            yield layout
    for share in _WIDTHS:
        layout = Layout(width, height, share, beside=True)
        if _width(layout.profile) >= _NARROWEST_PROFILE and _width(layout.table) >= TABLE:
            yield layout


def _course(run: Run, path: Path, system: str, scale: Scale) -> Course:
    along = np.arange(0.0, path.length, _SPACING / scale.mm)
    # Chords stay within 0.02 mm on paper.
    stations = np.unique(np.concatenate((along, path.sample(0.02 / scale.mm), [path.length])))
    marks, points = events(run, path, system), path.point(stations)
    steps = np.hypot(*np.diff(points[:, :2], axis=0).T)
    level = np.concatenate(([0.0], np.cumsum(steps)))
    return Course(run, path, marks, straights(path, marks), stations, points, level)


def _exaggerated(
    course: Course,
    scale: Scale,
    layout: Layout,
    interval: float,
    stretches: tuple[Stretch, ...],
) -> tuple[int, tuple[Stretch, ...]]:
    """How many times heights are drawn taller, and the stretches then.

    As often as keeps a flat run well inside every sheet and takes no more sheets.
    """
    room = 0.6 * (_height(layout.profile) - 2 * _PROFILE_ROOM)
    count = len(stretches)
    for times in _EXAGGERATIONS if np.ptp(course.points[:, 2]) * scale.mm >= 1e-6 else ():
        cut = _stretches(course, scale, layout, times, interval, count)
        rises = (np.ptp(course.path.point(course.between(s.start, s.end))[:, 2]) for s in cut)
        if cut and max(rises) * scale.mm * times <= room:
            return times, cut
    return 1, stretches


def _height(box: Box) -> float:
    return box[3] - box[1]


def _width(box: Box) -> float:
    return box[2] - box[0]


# --- cutting -----------------------------------------------------------------------------------


def _stretches(
    course: Course, scale: Scale, layout: Layout, times: int, interval: float, most: int
) -> tuple[Stretch, ...]:
    """The run cut to what fits a sheet each, the sheets about equally full; empty for too many."""
    found = _greedy(course, scale, layout, times, interval, math.inf, most)
    count = len(found)
    for slack in (1.0, 1.05, 1.1, 1.2) if count > 1 else ():
        length = course.path.length / count * slack
        even = _greedy(course, scale, layout, times, interval, length, count)
        if len(even) == count:
            return even
    return found


def _greedy(
    course: Course,
    scale: Scale,
    layout: Layout,
    times: int,
    interval: float,
    longest: float,
    most: int,
) -> tuple[Stretch, ...]:
    start, end = 0.0, course.path.length
    found: list[Stretch] = []
    while start < end:
        if len(found) == most:
            return ()
        reach, turn = _farthest(course, start, scale, layout, times)
        reach = min(reach, start + longest)
        stop = end if reach >= end - 1e-9 else _good_cut(course, start, reach, scale, interval)
        found.append(Stretch(start, stop, turn))
        start = stop
    return tuple(found)


def _farthest(
    course: Course, start: float, scale: Scale, layout: Layout, times: int
) -> tuple[float, float]:
    """The station up to which a sheet from ``start`` can reach, and the turn of its plan."""
    first = int(np.searchsorted(course.stations, start, side="right"))
    stations = np.concatenate(([start], course.stations[first:]))
    points = np.vstack((course.path.point(start), course.points[first:]))
    left, top, right, bottom = layout.profile
    level = np.interp(stations, course.stations, course.level)
    fits = (level - level[0]) * scale.mm <= right - left - 2 * PAD + 1e-9
    rise = _spread(points[:, 2]) * scale.mm * times
    fits &= rise <= bottom - top - 2 * _PROFILE_ROOM
    fits &= stations <= _full_table(course.marks, start, layout.capacity) + 1e-9
    left, top, right, bottom = layout.plan
    room = right - left - 2 * _PLAN_ROOM, bottom - top - 2 * _PLAN_ROOM
    best = (start, 0.0)
    for turn in _turns(course, start):
        x, y = turned(points, turn)
        inside = fits & (_spread(x) * scale.mm <= room[0]) & (_spread(y) * scale.mm <= room[1])
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


def _turns(course: Course, start: float) -> list[float]:
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


def _good_cut(course: Course, start: float, reach: float, scale: Scale, interval: float) -> float:
    """A round station short of ``reach`` and clear of bends and points, where there is one."""
    clear = 5.0 / scale.mm
    least = start + 0.45 * (reach - start)
    for step in (interval, interval / 5):
        for at in reversed(multiples(step, least, reach)):
            if not any(m.station - clear < at < m.end + clear for m in course.marks):
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


# --- views -------------------------------------------------------------------------------------


def _plan_view(setup: Setup, stretch: Stretch) -> PlanView:
    """The stretch in the middle of the plan."""
    points = setup.course.path.point(setup.course.between(stretch.start, stretch.end))
    x, y = turned(points, stretch.turn)
    middle = (float(x.max() + x.min()) / 2, float(y.max() + y.min()) / 2)
    cos, sin = math.cos(stretch.turn), math.sin(stretch.turn)
    focus = (cos * middle[0] + sin * middle[1], -sin * middle[0] + cos * middle[1])
    left, top, right, bottom = setup.layout.plan
    at = ((left + right) / 2, (top + bottom) / 2)
    return PlanView(stretch.turn, setup.scale.mm, focus, at)


def _profile_view(setup: Setup, stretch: Stretch) -> ProfileView:
    """The stretch from the left of the profile, its heights in the middle."""
    points = setup.course.path.point(setup.course.between(stretch.start, stretch.end))
    left, top, _, bottom = setup.layout.profile
    per_metre = setup.scale.mm * setup.exaggeration
    middle = float(points[:, 2].max() + points[:, 2].min()) / 2
    low = middle - (bottom - top) / 2 / per_metre
    course, mm = setup.course, setup.scale.mm
    start = float(np.interp(stretch.start, course.stations, course.level))
    at = left + PAD
    return ProfileView(
        mm, setup.exaggeration, course.stations, course.level, start, low, at, bottom
    )
