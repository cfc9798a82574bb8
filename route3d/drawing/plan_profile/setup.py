"""What all sheets of a run share: scale, layout, and the stretches it is cut into.

A run is drawn at one round scale; a long one is cut into stretches, each on its own sheet with
match lines.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from route3d.drawing.axes import multiples
from route3d.drawing.marks import Rect
from route3d.drawing.plan_profile.course import DrawnRun, Event, course_of
from route3d.drawing.plan_profile.in_duct import InDuct, in_duct
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
from route3d.drawing.plan_profile.surroundings import (
    NOTHING,
    DrawnBox,
    Pieces,
    Surroundings,
    boxes_of,
    pieces_of,
)
from route3d.errors import InputError, Problem
from route3d.geometry.encasement import ground_line
from route3d.geometry.fillet import route_path
from route3d.geometry.path import Path
from route3d.geometry.vectors import Floats
from route3d.model.job import Job
from route3d.model.run import Run
from route3d.units import show

# Around the route in plan and profile there is room for labels.
_PLAN_ROOM, _PROFILE_ROOM = 16.0, 9.5
# Shares of the height that the profile may take: the least that will do leaves the plan most.
_SHARES = tuple(k / 100 for k in range(24, 80, 2))
# And of the width, beside the plan.
_WIDTHS = (0.3, 0.4, 0.5, 0.6, 0.7)
_LOWEST_PROFILE, _NARROWEST_PROFILE = 40.0, 64.0  # mm
_EXAGGERATIONS = (10, 5, 2)
MOST_SHEETS = 60
"""A run that would take more is refused."""
_STATION_GAP = 18.0  # at least so far apart are round stations, mm
_SPACING = 1.5  # of the samples along the route, mm
_NEAR_GROUND = 8.0  # m of the run within which the ground is shown whole
_WINDOW = 2.0  # of the sides of a sheet: how much of a run is looked at first
_CHORD = 0.02  # mm that chords of the route may leave it


@dataclass(frozen=True, slots=True)
class SheetSpan:
    """What one sheet shows: stations ``start`` to ``end`` (m), the plan turned by ``turn`` rad."""

    start: float
    end: float
    turn: float


@dataclass(frozen=True, slots=True)
class Cut:
    """A section across the run at a ``station`` m, looking along it; its letter and sheet.

    ``half`` m is half the width of what it cuts on the plan, ``down`` and ``up`` m below and above
    the run what it cuts on the profile, ``shift`` m how far from its station along the run.
    """

    letter: str
    station: float
    half: float
    down: float
    up: float
    shift: float = 0.0
    sheet: int = 0

    @property
    def bubble(self) -> str:
        """Letter and number of the sheet it is on."""
        return f"{self.letter}/{self.sheet}"


@dataclass(frozen=True, slots=True)
class Detail:
    """A stretch drawn larger on another sheet, from the "plan" or the "profile"."""

    view: str
    start: float
    end: float
    letter: str = ""
    sheet: int = 0

    @property
    def bubble(self) -> str:
        """Letter and number of the sheet it is on."""
        return f"{self.letter}/{self.sheet}"

    def holds(self, start: float, end: float) -> bool:
        """Whether all of a stretch is in it."""
        return self.start - 1e-6 <= start and end <= self.end + 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class Setup:
    """What all sheets of a run share.

    ``before`` sheets of the set come before its own, ``total`` are in the set. ``pieces`` are what
    is drawn around the run, ``cuts`` and ``details`` what is taken from it to other sheets. Where
    it ``breaks_out`` details, what has no room in a view is left to one.
    """

    job: Job
    course: DrawnRun
    system: str
    paper: str
    scale: Scale
    layout: SheetLayout
    exaggeration: int
    interval: float
    stretches: tuple[SheetSpan, ...]
    boxes: tuple[DrawnBox, ...] = ()
    around: Surroundings = NOTHING
    duct: InDuct | None = None
    pieces: Pieces = field(default_factory=Pieces)
    before: int = 0
    total: int = 0
    draft: bool = False
    cuts: tuple[Cut, ...] = ()
    details: tuple[Detail, ...] = ()
    breaks_out: bool = False

    def elevation(self, z: float) -> str:
        """An elevation of the model in words, as it is on the grid of the site."""
        return show(z + self.job.site.frame.shift[2], "length", self.system)

    def in_set(self, number: int) -> int:
        """The number in the set of a sheet of this run."""
        return self.before + number


def set_up(
    job: Job,
    run: Run,
    system: str,
    *,
    paper: str,
    scale: Scale | None = None,
    most: int = MOST_SHEETS,
    around: Surroundings = NOTHING,
) -> Setup:
    """Scale, layout and stretches of a run on at most so many sheets."""
    found = _fitted(job, run, system, paper, scale, most, around)
    pieces = pieces_of(job, found.course, around)
    duct = in_duct(job, run.name)
    return replace(found, pieces=pieces, duct=duct, total=len(found.stretches))


def _fitted(
    job: Job,
    run: Run,
    system: str,
    paper: str,
    scale: Scale | None,
    most: int,
    around: Surroundings,
) -> Setup:
    path = route_path(run.route)
    single, several = ((), (scale,)) if scale else round_scales(system)
    ground = _ground(path, around)

    def best(tried: Scale, most: int) -> Setup | None:
        setups = _setups(job, run, path, system, paper, tried, around, ground, most=most)
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


def _ground(path: Path, around: Surroundings) -> Callable[[Floats], Floats]:
    """Elevation of the ground at stations of a path, NaN where none is drawn."""
    if around.grade is None:
        return lambda stations: np.full(len(stations), np.nan)
    places, heights = ground_line(path, around.grade)
    return lambda stations: np.interp(stations, places, heights)


def _too_long(scale: Scale, system: str, most: int) -> InputError:
    said = f"at {scale.words(system)} the run would need more than {most} sheets"
    fix = "use a smaller scale, such as --scale 1:5000, or larger paper (--paper)"
    return InputError(Problem(said, where="--scale", fix=fix))


def _setups(
    job: Job,
    run: Run,
    path: Path,
    system: str,
    paper: str,
    scale: Scale,
    around: Surroundings,
    ground: Callable[[Floats], Floats],
    *,
    most: int,
) -> Iterator[Setup]:
    """The ways to draw a run at a scale, of at most ``most`` sheets."""
    size = PAPERS[paper]
    if path.length * scale.mm > most * sum(size):
        return
    course = course_of(run, path, system, _SPACING / scale.mm, _CHORD / scale.mm, ground)
    interval = round_step(_STATION_GAP / scale.mm, system)
    boxes = tuple(boxes_of(job, course))
    buried = bool((course.ground > course.points[:, 2]).any())
    for layout in _layouts(*size, cover=buried):
        bare = Setup(job, course, system, paper, scale, layout, 1, interval, (), boxes, around)
        setup = _cut(bare, most)
        if setup.stretches:
            yield _exaggerated(setup)
            if len(setup.stretches) == 1:
                return


def _layouts(width: float, height: float, *, cover: bool) -> Iterator[SheetLayout]:
    """Ways to lay out a sheet: the profile below, then beside the plan."""
    for share in _SHARES:
        layout = SheetLayout(width, height, share, cover=cover)
        if _height(layout.profile) >= _LOWEST_PROFILE:
            yield layout
    for share in _WIDTHS:
        layout = SheetLayout(width, height, share, beside=True, cover=cover)
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
        if len(boxes_in(taller, 0.0, math.inf)) < len(boxes_in(setup, 0.0, math.inf)):
            continue  # a box would not be whole
        rises = [float(np.ptp(heights_of(taller, s.start, s.end))) for s in taller.stretches]
        if rises and max(rises) * mm * times <= room:
            return taller
    return setup


def boxes_in(setup: Setup, start: float, end: float) -> list[DrawnBox]:
    """The boxes of the run between two stations for which a sheet has room at all."""
    (a, b, c, d), mm = setup.layout.plan, setup.scale.mm
    side = min(c - a, d - b) - 2 * _PLAN_ROOM
    high = _height(setup.layout.profile) - 2 * _PROFILE_ROOM
    return [
        box
        for box in setup.boxes
        if start - 1e-6 <= box.station <= end + 1e-6
        and max(box.size[:2]) * mm <= side
        and box.size[2] * mm * setup.exaggeration <= high
    ]


def box_heights(setup: Setup, start: float, end: float) -> Floats:
    """Elevations of floor and top of the boxes in the profile, m."""
    boxes = boxes_in(setup, start, end)
    return np.array([z for b in boxes for z in (b.low, b.low + b.size[2])])


def heights_of(setup: Setup, start: float, end: float) -> Floats:
    """Elevations of a profile from ``start`` to ``end``: the run, its boxes, the ground near it."""
    course = setup.course
    inside = (course.stations >= start) & (course.stations <= end)
    run, ground = course.points[inside, 2], course.ground[inside]
    near = np.abs(ground - run) <= _NEAR_GROUND
    ends = course.path.point(np.array([start, end]))[:, 2]
    return np.concatenate((ends, run, ground[near], box_heights(setup, start, end)))


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
    layout, end = setup.layout, setup.course.path.length
    most = start + _WINDOW * (layout.width + layout.height) / setup.scale.mm
    if most < end:  # hardly a run winds so much that more of it is on one sheet
        found = _reach(setup, start, most)
        if found[0] < most:
            return found
    return _reach(setup, start, end)


def _reach(setup: Setup, start: float, most: float) -> tuple[float, float]:
    """The same of the run up to ``most``, which comes back where all of it fits."""
    course, layout, mm = setup.course, setup.layout, setup.scale.mm
    first = int(np.searchsorted(course.stations, start, side="right"))
    last = int(np.searchsorted(course.stations, most, side="left")) + 1
    stations = np.concatenate(([start], course.stations[first:last]))
    points = np.vstack((course.path.point(start), course.points[first:last]))
    level = np.interp(stations, course.stations, course.level)
    at, places, gone = _with_boxes(setup, stations, points, level)
    left, top, right, bottom = layout.profile
    fits = _spread(gone) * mm <= right - left - 2 * PAD + 1e-9
    rise = _spread(places[:, 2]) * mm * setup.exaggeration
    fits &= rise <= bottom - top - 2 * _PROFILE_ROOM
    fits &= at <= _full_table(course.marks, start, layout.capacity) + 1e-9
    left, top, right, bottom = layout.plan
    room = right - left - 2 * _PLAN_ROOM, bottom - top - 2 * _PLAN_ROOM
    best = (start, 0.0)
    for turn in _turns(course, start):
        x, y = turned(places, turn)
        inside = fits & (_spread(x) * mm <= room[0]) & (_spread(y) * mm <= room[1])
        reach = float(stations[-1])
        if not inside.all():
            full = float(at[int(np.argmin(inside))])
            reach = float(stations[max(int(np.searchsorted(stations, full)) - 1, 0)])
        # North up where turning the plan does not gain a tenth.
        if reach - start > 1.1 * (best[0] - start) or (reach > best[0] and not best[1]):
            best = reach, turn
    if best[0] <= start:
        return float(stations[1]), 0.0
    return best[0], _rightwards(points, stations <= best[0], best[1])


def _with_boxes(
    setup: Setup, stations: Floats, points: Floats, level: Floats
) -> tuple[Floats, Floats, Floats]:
    """Stations, points and distances gone in plan, and among them those of the boxes' corners."""
    boxes = boxes_in(setup, float(stations[0]), float(stations[-1]))
    if not boxes:
        return stations, points, level
    at, places, gone = [stations], [points], [level]
    for box in boxes:
        plan, side = box.plan.points, box.profile.points
        count = min(len(plan), len(side))
        at.append(np.full(count, box.station))
        places.append(np.column_stack((plan[:count], side[:count, 1])))
        gone.append(side[:count, 0])
    order = np.argsort(np.concatenate(at), kind="stable")
    return np.concatenate(at)[order], np.vstack(places)[order], np.concatenate(gone)[order]


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


def in_span(setup: Setup, start: float, end: float) -> tuple[Event, ...]:
    """What is flagged and starts between two stations, both included."""
    return tuple(m for m in setup.course.marks if start - 1e-6 <= m.station <= end + 1e-6)


def on_sheet(setup: Setup, number: int) -> tuple[Event, ...]:
    """What is flagged on a sheet: what starts in its stretch."""
    stretch = setup.stretches[number - 1]
    last = number == len(setup.stretches)
    return tuple(
        m
        for m in setup.course.marks
        if stretch.start <= m.station and (m.station < stretch.end or last)
    )
