"""The pulls of a job put in days: hours of the pull plans, crews and dates of a schedule."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

from route3d.model.schedule import Outage, Schedule
from route3d.planning.result import JobResult
from route3d.study.day_plan.case import (
    Case,
    Task,
    case_of,
    hours_words,
    minute_of,
    moment_of,
    ready_at,
    shift_bounds,
    windows_of,
)
from route3d.study.day_plan.order import Order, Placed, best_order, one_by_one
from route3d.study.day_plan.outcome import DayPlan, PlacedPull
from route3d.study.day_plan.work import PullWork, Works, works_of

if TYPE_CHECKING:
    from route3d.planning.placement.site import SiteMesh

SECONDS = 20.0
"""Default time for the solver, s."""
_FORTNIGHT, _MOST_DAYS = 14, 3000
_MINUTE = 60.0


def day_plan(
    result: JobResult,
    schedule: Schedule,
    *,
    seconds: float = SECONDS,
    meshes: Sequence[SiteMesh] = (),
    told: Callable[[str], None] = lambda _: None,
) -> DayPlan:
    """Which pull on which day, by which crew, with which machine.

    The finish is as early as possible; of plans with that finish the one with fewest set-ups and
    moves is taken. The same input gives the same plan.

    Parameters
    ----------
    result : JobResult
        The job, answered; its pulls take the hours of their pull plans.
    schedule : Schedule
        Crews, machines, outages, deliveries.
    seconds : float
        About the time the solver may take.
    meshes : sequence of SiteMesh
        The building, for where machines can stand.
    told : callable
        Hears what is being done.

    Returns
    -------
    DayPlan
        With the runs that have no place, each with the reason.

    Raises
    ------
    InputError
        For a way to split a run that there is not.
    ModuleNotFoundError
        Where OR-Tools is not installed.
    """
    told("the hours of the pulls")
    return planned(works_of(result, schedule, meshes), schedule, seconds, told)


def planned(
    works: Works,
    schedule: Schedule,
    seconds: float = SECONDS,
    told: Callable[[str], None] = lambda _: None,
) -> DayPlan:
    """The day plan of pulls with known hours."""
    case, why = _fitting(works.pulls, schedule)
    kept = [i for i in range(len(works.pulls)) if i not in why]
    pulls = _renumbered(works.pulls, kept)
    order = best_order(case, seconds, told) if pulls else Order((), 0, True, True)
    left = {kept[i] for i in range(len(pulls))} - {kept[p.task] for p in order.placed}
    why |= {i: _crowded_out(works.pulls[i], schedule) for i in left}
    placed = _placed(order, pulls, case, works, schedule)
    return DayPlan(
        pulls=placed,
        days=len({p.day for p in placed}),
        value=_MINUTE * case.working(order.finish),
        bound=_MINUTE * case.working(order.bound),
        best=order.best,
        solver=_solver(),
        unplaced=(*works.unplaced, *((works.pulls[i].name, why[i]) for i in sorted(why))),
        fewest=order.fewest,
        earliest=moment_of(order.bound, schedule) if placed else None,
        notes=works.notes,
    )


def _solver() -> str:
    from importlib.metadata import version

    return f"CP-SAT of OR-Tools {version('ortools')}"


def _renumbered(pulls: Sequence[PullWork], kept: Sequence[int]) -> list[PullWork]:
    """The pulls kept, those they come after by their new numbers."""
    new = {old: i for i, old in enumerate(kept)}
    return [
        replace(p, after=None if p.after is None else new[p.after])
        for p in (pulls[i] for i in kept)
    ]


# --- what cannot be placed ------------------------------------------------------------------------


def _fitting(pulls: Sequence[PullWork], schedule: Schedule) -> tuple[Case, dict[int, str]]:
    """The case of the pulls that have an opening, and why each other one has none.

    As many days are looked at as a plan made one pull after another needs.
    """
    first = datetime.combine(schedule.start, datetime.min.time())
    dates = [
        *(o.end for o in schedule.outages),
        *(d.at for d in schedule.deliveries),
        *(datetime.combine(c.start, datetime.min.time()) for c in schedule.crews),
    ]
    days = max(((moment - first).days for moment in dates), default=0) + _FORTNIGHT
    while True:
        case = case_of(pulls, schedule, days)
        why: dict[int, str] = {}
        for i, pull in enumerate(pulls):
            if reason := _no_opening(i, pull, case, schedule):
                why[i] = reason
            elif pull.after in why:
                why[i] = "the stage before it has no place"
        kept = [i for i in range(len(pulls)) if i not in why]
        small = case_of(_renumbered(pulls, kept), schedule, days)
        order = sorted(
            range(len(kept)), key=lambda i: (small.tasks[i].place, not _fits(small.tasks[i]), i)
        )
        late = {kept[i] for i in order} - {kept[p.task] for p in one_by_one(small, order)}
        bound_to_dates = all(windows_of(pulls[i], schedule)[0] for i in late)
        if bound_to_dates or days > _MOST_DAYS:
            return small, why
        days *= 2


def _no_opening(i: int, pull: PullWork, case: Case, schedule: Schedule) -> str:
    """Why a pull by itself has no place; "" where it has one."""
    task = case.tasks[i]
    crews = [c for c, crew in enumerate(schedule.crews) if pull.machine in crew.machines]
    if not crews:
        return f"no crew has machine {pull.machine}"
    beside = (t for t in case.tasks if (t.place, t.machine) == (task.place, task.machine))
    if _fits(task) or (_fits(task, stands=True) and any(map(_fits, beside))):
        return ""
    needed = task.setup + task.work
    shifts = [shift_bounds(schedule.crews[c], schedule.start) for c in crews]
    longest = max(int((b - a).total_seconds() // 60) for a, b in shifts)
    if needed > longest:
        return (
            f"takes {hours_words(needed)} with its set-up; the longest shift of its crews has "
            f"{hours_words(longest)}, and no pull goes on past the end of a shift"
        )
    inside, outside = windows_of(pull, schedule)
    what = " and ".join(f'"{o.name}"' for o in inside or outside)
    _, delivery = ready_at(pull, schedule)
    if inside:
        late = f', with delivery "{delivery}"' if delivery else ""
        kind = "window" if len(inside) == 1 else "windows"
        where = f"inside {kind} {what}{late}"
    else:
        where = f"outside {what or 'its windows'}"
    return f"needs {hours_words(needed)} in a shift {where}; there is no such time"


def _fits(task: Task, stands: bool = False) -> bool:
    """Whether an opening takes a pull, with the short set-up where the machine ``stands`` there."""
    needed = task.work + (task.again if stands else task.setup)
    return any(o.end - o.start >= needed for openings in task.openings for o in openings)


def _crowded_out(pull: PullWork, schedule: Schedule) -> str:
    """Why a pull that could stand alone has no place beside the others."""
    inside, _ = windows_of(pull, schedule)
    if inside:
        names = " and ".join(f'"{o.name}"' for o in inside)
        moves = " and their moves" if schedule.move else ""
        return f"no time is left for it inside {names} beside the pulls that are placed{moves}"
    if pull.after is not None:
        return "the stage before it has no place, or leaves it no time"
    return "no time was found for it beside the pulls that are placed"


# --- the plan in words and dates ------------------------------------------------------------------


def _placed(
    order: Order, pulls: Sequence[PullWork], case: Case, works: Works, schedule: Schedule
) -> tuple[PlacedPull, ...]:
    binding = _Binding(order, pulls, case, schedule)
    found = []
    for p in order.placed:
        pull, crew = pulls[p.task], schedule.crews[p.crew]
        found.append(
            PlacedPull(
                run=pull.run,
                stage=pull.stage,
                feed=pull.feed,
                pull=pull.pull,
                crew=crew.name,
                machine=binding.machine(p),
                start=moment_of(p.start, schedule),
                end=moment_of(p.end, schedule),
                move=_MINUTE * p.move,
                setup=_MINUTE * p.setup,
                work=_MINUTE * case.tasks[p.task].work,
                reused=p.reused,
                waits_for=binding.waits_for(p),
                place=works.places[pull.place] if works.places else pull.pull,
                day=moment_of(_shift_start(p, case), schedule).date(),
            )
        )
    return tuple(found)


def _shift_start(p: Placed, case: Case) -> int:
    """The minute in which the shift of a placed pull begins."""
    return max(start for start, _ in case.shifts[p.crew] if start <= p.start)


class _Binding:
    """What the pulls of an order wait for."""

    def __init__(
        self, order: Order, pulls: Sequence[PullWork], case: Case, schedule: Schedule
    ) -> None:
        self.pulls, self.case, self.schedule = pulls, case, schedule
        self.placed = {p.task: p for p in order.placed}

    def machine(self, p: Placed) -> str:
        """The machine of a pull, with its number where there are several."""
        unit = self.case.units[p.unit]
        several = self.schedule.counts.get(unit.machine, 1) > 1
        return f"{unit.machine} {unit.number}" if several else unit.machine

    def waits_for(self, p: Placed) -> str:
        """What set-up waits for last while the crew is free; else the window it is in, or ""."""
        pull, schedule = self.pulls[p.task], self.schedule
        start = p.start + p.move
        before = [q.end for q in self.placed.values() if q.crew == p.crew and q.end <= p.start]
        free = max(before, default=self.case.shifts[p.crew][0][0]) + p.move
        ready, delivery = ready_at(pull, schedule)
        found = [(ready, f"delivery {delivery}"), *self._machine(p)]
        inside, outside = windows_of(pull, schedule)
        inside = [outage for outage in inside if _reaches(outage, start, schedule)]
        found += [(minute_of(o.start, schedule), f"window {o.name}") for o in inside]
        found += [
            (over, f"end of {outage.name}")
            for outage in outside
            if (over := minute_of(outage.end, schedule)) <= start
        ]
        if pull.after is not None:
            found.append((self.placed[pull.after].end, self.pulls[pull.after].name))
        when, what = max(found)
        return what if when > free else f"window {inside[0].name}" if inside else ""

    def _machine(self, p: Placed) -> Iterator[tuple[int, str]]:
        """When the machine is there from another crew, if that is in the shift of this one."""
        used = [q for q in self.placed.values() if q.unit == p.unit and q.end < p.end]
        last = max(used, key=lambda q: q.end, default=None)
        if last is None or last.crew == p.crew or last.end <= _shift_start(p, self.case):
            return
        away = self.pulls[last.task].place != self.pulls[p.task].place
        crew = self.schedule.crews[last.crew].name
        yield last.end + p.move * away, f"{self.machine(p)} from crew {crew}"


def _reaches(outage: Outage, minute: int, schedule: Schedule) -> bool:
    return minute_of(outage.start, schedule) <= minute < minute_of(outage.end, schedule)
