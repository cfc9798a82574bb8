"""The best ways to split a run, each stage timed like a whole plan: by its own gears and stops."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from route3d.geometry.fillet import route_path
from route3d.geometry.path import CORNER, Path
from route3d.mechanics.fit import Fit
from route3d.mechanics.pull import run_fits, solve_pull
from route3d.model.allowances import Allowances
from route3d.model.machine import Gear, Machine
from route3d.model.practice import Practice
from route3d.model.run import Run
from route3d.phrase import say
from route3d.planning.pull_plan.gears import available_pulls
from route3d.planning.pull_plan.head_history import history
from route3d.planning.pull_plan.schedule import Pace, pace
from route3d.planning.pull_plan.stops import fewest_stops
from route3d.planning.splitting.section_pulls import SectionPull, Sections, section_pulls
from route3d.planning.splitting.ways import (
    SplitPlan,
    SplitSearch,
    Stage,
    StageTime,
    best_plans,
    fastest_gear,
    search_of,
    stage_run,
)

# Times the search looks again before it says that its answer is not proven.
_LOOKS = 8
# Sections and whole solutions agree to 2e-8: a bound leaves this room.
_ROUNDING = 1e-7


_Key = tuple[int, int, float, float]


def best_splits(
    run: Run, practice: Practice, allowances: Allowances, *, best: int = 3, aim: float = 1.0
) -> SplitSearch:
    """The ``best`` ways: fewest set-ups, then least time by gears and stops, then utilization.

    A stage is timed when it first stands in one of the best ways; until then it is given a time
    that nothing can beat. Where all stages of the best ways are timed, no other way is better (a
    search by bounds: A. H. Land and A. G. Doig, Econometrica 28, 1960, 497-520; from memory). A
    long run with many gears may have more ways than are timed: then a note says so. A stage that
    no gear starts and pulls, or whose planned first moves exceed a limit, is in no way, nor is
    one that takes more than the share ``aim`` of a limit while it moves. Raises as ``solve_pull``.
    """
    timed = run.machine is not None and run.rope is not None
    path, fits = route_path(run.route), run_fits(run)
    sections = section_pulls(run, practice, path=path, fits=fits, from_rest=timed)
    if not timed:
        plans = best_plans(run, sections, allowances, None, best, aim)
        return search_of(run, sections, plans, aim)
    work = _Work(run, practice, allowances, sections, path, fits)
    times: dict[_Key, float | None] = {}
    paces: dict[tuple[int, int, float], Pace] = {}

    def ways(otherwise: StageTime) -> tuple[SplitPlan, ...]:
        def time(pull: SectionPull, length: float) -> float | None:
            key = (pull.feed, pull.pull, pull.reel_tension, length)
            return times[key] if key in times else otherwise(pull, length)

        return best_plans(run, sections, allowances, time, best, aim)

    def all_timed(plans: Sequence[SplitPlan]) -> bool:
        """Whether all were timed already; those that were not are now."""
        new = {_key(stage): stage for plan in plans for stage in plan.stages}
        new = {key: stage for key, stage in new.items() if key not in times}
        for key, stage in new.items():
            if key[:3] not in paces:
                paces[key[:3]] = work.pace(stage)
            times[key] = _time(paces[key[:3]].drawn_on(stage.laid))
        return not new

    def guess(pull: SectionPull, length: float) -> float | None:
        return fastest_gear(work.machine(pull), allowances)(pull, length)

    bound = work.bound()
    for _ in range(_LOOKS):
        if all_timed(plans := ways(bound)):
            return search_of(run, sections, plans, aim)
    # Too many ways to prove it: good ones by their time in one gear a stage, until all are timed.
    while not all_timed(plans := ways(guess)):
        pass
    found = search_of(run, sections, plans, aim)
    note = say(
        f"only {len(times)} stages were timed with gears and stops: another way with the same "
        "number of set-ups may be faster"
    )
    return replace(found, notes=(*found.notes, note))


def _key(stage: Stage) -> _Key:
    return stage.feed, stage.pull, stage.reel_tension, stage.cable_length


def _time(going: Pace) -> float | None:
    """Pulling, gear changes and lubricant stops of one stage, s; None where it cannot be done."""
    gears = going.gears
    if gears.overload is not None or not gears.spans or going.worst_start[0] > 1 + 1e-9:
        return None
    return going.crew.total - going.crew.setup


@dataclass(frozen=True, eq=False)
class _Work:
    """What the stages of a run are timed by."""

    run: Run
    practice: Practice
    allowances: Allowances
    sections: Sections
    path: Path
    fits: tuple[Fit, ...]

    def machine(self, pull: SectionPull) -> Machine:
        """The machine that stands where a section is pulled to."""
        machine = self.run.pulled(pull.feed, pull.pull).machine
        assert machine is not None  # the run has one, and an end may only have another
        return machine

    def pace(self, stage: Stage) -> Pace:
        """The stops and gears of a stage that draws no more cable than its conduit takes."""
        part = replace(stage_run(self.run, stage), reel_tension=stage.reel_tension)
        first, last = sorted((stage.feed, stage.pull))
        fits = self.fits[first:last]
        pull = solve_pull(part, self.practice, reverse=stage.reverse, fits=fits)
        course = history(pull)
        assert course is not None and part.machine is not None
        return pace(pull, course, part.machine, self.allowances)

    def bound(self) -> StageTime:
        """A time of a stage that no plan of it beats; None where none gets it done."""
        known: dict[tuple[int, int, float], _Bound] = {}

        def time(pull: SectionPull, length: float) -> float | None:
            key = (pull.feed, pull.pull, pull.reel_tension)
            if key not in known:
                known[key] = self._bound(pull)
            return known[key].time(length)

        return time

    def _bound(self, pull: SectionPull) -> _Bound:
        machine, allowances = self.machine(pull), self.allowances
        first, last = sorted((pull.feed, pull.pull))
        a, b = (self.sections.stations[self.sections.points.index(v)] for v in (first, last))
        pulls = available_pulls(machine.gears, machine.efficiency, allowances.gear_margin)[1]
        holding = [
            _fastest(gear)
            for gear, most in zip(machine.gears, pulls.tolist(), strict=True)
            if pull.load <= most * (1 + _ROUNDING)
        ]
        stops = 0
        if allowances.lubricant_interval is not None:
            part = self.run.pulled(pull.feed, pull.pull)
            light = (pull.light or 0.0) - _ROUNDING
            path = _between(self.path, first, last)
            stops = fewest_stops(part, path, pull.feed > pull.pull, light, allowances)
        return _Bound(
            own=b - a,
            drawn_on=(pull.rested or 0.0) <= 1 + _ROUNDING,
            holding=max(holding, default=None),
            fastest=max(map(_fastest, machine.gears)),
            change=allowances.gear_change_time,
            stops=stops * allowances.lubricant_stop,
        )


def _between(path: Path, first: int, last: int) -> Path:
    """The part of a path between two pull points or ends, without the turns those make."""
    corner = (path.kind == CORNER) & (path.vertex == first)
    inside = np.flatnonzero((path.leg >= first) & (path.leg < last) & ~corner)
    return path.part(int(inside[0]), int(inside[-1]) + 1)


class _Bound(NamedTuple):
    """What no plan of a section beats.

    The ``own`` length of its conduit, m, and whether cable may be ``drawn_on`` beyond that: gripped
    again with the conduit full. The best speed of a gear ``holding`` the largest load and of the
    ``fastest`` gear, m/s; the times of a gear ``change`` and of all ``stops`` for lubricant, s.
    """

    own: float
    drawn_on: bool
    holding: float | None
    fastest: float
    change: float
    stops: float

    def time(self, length: float) -> float | None:
        """All in one gear that holds throughout, or in the fastest with a change."""
        if self.holding is None or (length > self.own + _ROUNDING and not self.drawn_on):
            return None
        return min(length / self.holding, length / self.fastest + self.change) + self.stops


def _fastest(gear: Gear) -> float:
    """Best speed of a gear under any load, m/s."""
    return max((speed for _, speed in gear.speeds), default=gear.speed)
