"""The day plan as numbers: pulls, shifts and openings in whole minutes from the first midnight."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from itertools import count
from typing import NamedTuple

from route3d.model.schedule import Crew, Outage, Schedule
from route3d.study.day_plan.work import PullWork

MINUTE = 60.0
_DAY = 24 * 60
_A_HAIR = 1e-9


class Opening(NamedTuple):
    """Where set-up and pull may lie: minutes of one shift, with its number and start."""

    shift: int
    begins: int
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Task:
    """One pull in whole minutes, every part rounded up.

    ``again`` is the set-up where the machine stands there already. ``openings`` are those with each
    crew, none where it may not pull it. ``after`` is the task that must be over before.
    """

    place: int
    machine: str
    setup: int
    again: int
    work: int
    openings: tuple[tuple[Opening, ...], ...]
    after: int | None = None


@dataclass(frozen=True, slots=True)
class Unit:
    """One machine on site and the crews, by number, that may pull with it."""

    machine: str
    number: int
    crews: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Case:
    """What the solver is given. ``shifts`` are those of each crew, ``move`` is in minutes.

    A machine of which there are as many as crews that use it has a unit for each of these: then
    nobody waits for it. Of others every crew may use every unit. The crew that uses a unit next
    brings it from where it was used last, whoever used it: that takes a move of its shift.
    """

    tasks: tuple[Task, ...]
    shifts: tuple[tuple[tuple[int, int], ...], ...]
    units: tuple[Unit, ...]
    move: int

    def units_for(self, task: int, crew: int) -> list[int]:
        """The units with which a crew may pull a task."""
        machine = self.tasks[task].machine
        return [u for u, x in enumerate(self.units) if x.machine == machine and crew in x.crews]

    def working(self, until: int) -> int:
        """Minutes from the beginning to ``until`` in which any crew works."""
        total, covered = 0, 0
        for start, end in sorted(s for shifts in self.shifts for s in shifts):
            start, end = max(start, covered), min(end, until)
            if end > start:
                total, covered = total + end - start, end
        return total

    def own_way(self, unit: int) -> bool:
        """Whether a unit need not go where a crew goes: others, or another unit, come between."""
        crews = self.units[unit].crews
        return len(crews) > 1 or any(
            crews[0] in x.crews for u, x in enumerate(self.units) if u != unit
        )

    def least_load(self, tasks: Sequence[Task], beginnings: int) -> int:
        """Minutes of crews that no plan of these tasks does without.

        The pulls themselves, one set-up of each machine at each place, and the moves to all places
        but so many at which crews and units have their ``beginnings``.
        """
        groups: dict[tuple[int, str], list[int]] = {}
        for task in tasks:
            groups.setdefault((task.place, task.machine), []).append(task.setup - task.again)
        places = len({task.place for task in tasks})
        load = sum(task.work + task.again for task in tasks) + sum(map(min, groups.values()))
        return load + self.move * max(places - beginnings, 0)

    @property
    def least_finish(self) -> int:
        """No plan finishes before this minute: the time of all crews, of each machine, of a pull.

        A bound of its own, worked out without the solver.
        """
        crews = list(range(len(self.shifts)))
        least = self._least_end(self.tasks, crews, len(crews), min(len(crews), len(self.units)))
        for machine in {task.machine for task in self.tasks}:
            units = [unit for unit in self.units if unit.machine == machine]
            crews = sorted({crew for unit in units for crew in unit.crews})
            tasks = [task for task in self.tasks if task.machine == machine]
            least = max(least, self._least_end(tasks, crews, len(units), len(units)))
        for task in self.tasks:
            took = task.again + task.work
            ends = (o.start + took for one in task.openings for o in one if o.end - o.start >= took)
            least = max(least, min(ends, default=0))
        return least

    def _least_end(
        self, tasks: Sequence[Task], crews: Sequence[int], at_once: int, beginnings: int
    ) -> int:
        """When so many crews, ``at_once`` of them working, have done what no plan does without."""
        left = self.least_load(tasks, beginnings)
        shifts = [shift for crew in crews for shift in self.shifts[crew]]
        edges = sorted([(a, 1) for a, _ in shifts] + [(b, -1) for _, b in shifts])
        on, before = 0, 0
        for minute, step in edges:
            busy = min(on, at_once)
            if busy and left <= busy * (minute - before):
                return before + math.ceil(left / busy)
            left -= busy * (minute - before)
            on, before = on + step, minute
        return before


def minutes(seconds: float) -> int:
    """Seconds as whole minutes, rounded up; rounding errors of seconds are none."""
    return math.ceil(seconds / MINUTE - _A_HAIR)


def hours_words(count: float) -> str:
    """Minutes as a crew says them: ``45 min``, ``2 h``, ``1 h 20 min``."""
    hours, rest = divmod(round(count), 60)
    parts = ((hours, "h"), (rest, "min"))
    return " ".join(f"{n} {unit}" for n, unit in parts if n) or "0 min"


def minute_of(moment: datetime, schedule: Schedule) -> int:
    """The minute of a moment from midnight before the first day."""
    return int((moment - datetime.combine(schedule.start, time())).total_seconds() // 60)


def moment_of(minute: int, schedule: Schedule) -> datetime:
    """The moment of a minute."""
    return datetime.combine(schedule.start, time()) + timedelta(minutes=minute)


def shift_bounds(crew: Crew, day: date) -> tuple[datetime, datetime]:
    """The shift of a crew that begins on a day."""
    start, end = (datetime.combine(day, t) for t in crew.hours)
    return start, end if end > start else end + timedelta(days=1)


def shifts_of(crew: Crew, schedule: Schedule) -> Iterator[tuple[int, int]]:
    """The shifts of a crew without end, in minutes."""
    for n in count():
        day = schedule.start + timedelta(days=n)
        if day >= crew.start and day.weekday() in crew.days and day not in crew.off:
            start, end = shift_bounds(crew, day)
            yield minute_of(start, schedule), minute_of(end, schedule)


def ready_at(pull: PullWork, schedule: Schedule) -> tuple[int, str]:
    """The minute from which the cable of a pull is there, and the name of its last delivery."""
    found = [
        (minute_of(d.at, schedule), d.name)
        for d in schedule.deliveries
        if pull.run in d.runs or (d.reel and d.reel == pull.reel)
    ]
    return max(found, default=(0, ""))


def windows_of(pull: PullWork, schedule: Schedule) -> tuple[list[Outage], list[Outage]]:
    """The windows a pull must be in, and those it must not touch, by their start."""
    mine = sorted((o for o in schedule.outages if pull.run in o.runs), key=lambda o: o.start)
    return [o for o in mine if o.inside], [o for o in mine if not o.inside]


def openings_of(
    pull: PullWork, schedule: Schedule, shifts: Sequence[tuple[int, int]]
) -> list[Opening]:
    """Where a pull may lie within shifts: in its windows, out of the others, once delivered."""
    ready, _ = ready_at(pull, schedule)
    inside, outside = windows_of(pull, schedule)
    wanted = _joined([_span(o, schedule) for o in inside]) if inside else None
    found = []
    for number, (start, end) in enumerate(shifts):
        parts = [(max(start, ready), end)]
        if wanted is not None:
            parts = [(max(a, c), min(b, d)) for a, b in parts for c, d in wanted]
        for outage in outside:
            c, d = _span(outage, schedule)
            parts = [p for a, b in parts for p in ((a, min(b, c)), (max(a, d), b))]
        found += [Opening(number, start, a, b) for a, b in sorted(parts) if b > a]
    return found


def _span(outage: Outage, schedule: Schedule) -> tuple[int, int]:
    return minute_of(outage.start, schedule), minute_of(outage.end, schedule)


def _joined(spans: Iterable[tuple[int, int]]) -> list[tuple[int, int]]:
    """Spans in order, those that touch made one."""
    found: list[tuple[int, int]] = []
    for a, b in sorted(spans):
        if found and a <= found[-1][1]:
            found[-1] = found[-1][0], max(b, found[-1][1])
        else:
            found.append((a, b))
    return found


def units_of(schedule: Schedule, machines: Iterable[str]) -> tuple[Unit, ...]:
    """The machines on site that the pulls need."""
    found = []
    for machine in dict.fromkeys(machines):
        crews = tuple(c for c, crew in enumerate(schedule.crews) if machine in crew.machines)
        many = schedule.counts.get(machine, 1)
        if many >= len(crews):
            found += [Unit(machine, n, (crew,)) for n, crew in enumerate(crews, 1)]
        else:
            found += [Unit(machine, n, crews) for n in range(1, many + 1)]
    return tuple(found)


def case_of(pulls: Sequence[PullWork], schedule: Schedule, days: int) -> Case:
    """The case of pulls within the first ``days`` days."""
    last = days * _DAY
    shifts = []
    for crew in schedule.crews:
        within: list[tuple[int, int]] = []
        for shift in shifts_of(crew, schedule):
            if shift[0] >= last:
                break
            within.append(shift)
        shifts.append(tuple(within))
    again = minutes(schedule.setup_again)
    tasks = tuple(
        Task(
            pull.place,
            pull.machine,
            minutes(pull.setup),
            min(again, minutes(pull.setup)),
            minutes(pull.work),
            tuple(
                tuple(openings_of(pull, schedule, own)) if pull.machine in crew.machines else ()
                for crew, own in zip(schedule.crews, shifts, strict=True)
            ),
            pull.after,
        )
        for pull in pulls
    )
    units = units_of(schedule, (pull.machine for pull in pulls))
    return Case(tasks, tuple(shifts), units, minutes(schedule.move))
