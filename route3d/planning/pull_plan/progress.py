"""The pull through time by its gear plan: load, gear and clock as the cable head moves on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.vectors import Floats, distinct, frozen
from route3d.mechanics.pull import Pull
from route3d.model.allowances import Allowances
from route3d.model.machine import Gear, Machine
from route3d.planning.pull_plan.gears import GearPlan, GearSpan
from route3d.planning.pull_plan.head_history import HeadHistory, history
from route3d.planning.pull_plan.schedule import pace

# Places this close (m) are one: they differ by rounding alone.
_SAME = 1e-9


@dataclass(frozen=True, eq=False)
class Progress:
    """What holds with the head at each of ``m`` places, in pulling order.

    ``station`` m as the route counts; ``pulled`` m of cable in the conduit; ``load`` N on the
    machine while it runs; ``head_tension`` N; ``sidewall`` N/m, the largest so far. ``gears``
    weakest first; ``gear`` (m,) the one from there on, -1 where none holds. ``elapsed`` (m,) s of
    pulling, gear changes and lubricant stops, as the crew's clock goes without its set-up; NaN once
    no gear holds. A place where the pull rests stands twice, before and after.
    """

    station: Floats
    pulled: Floats
    load: Floats
    head_tension: Floats
    sidewall: Floats
    machine: Machine
    gears: tuple[Gear, ...]
    gear: NDArray[np.int64]
    elapsed: Floats
    plan: GearPlan

    @property
    def limit(self) -> Floats:
        """What of its rated pull the gear in use brings to the rope, (m,) N.

        That of the strongest where none holds.
        """
        rated = np.array([g.line_pull for g in self.gears]) * self.machine.efficiency
        return np.where(self.gear < 0, rated.max(), rated[self.gear])

    @property
    def names(self) -> tuple[str, ...]:
        """What the crew calls each of ``gears``."""
        return tuple(gear_name(gear, self.machine) for gear in self.gears)


def gear_name(gear: Gear | None, machine: Machine) -> str:
    """What the crew calls a gear: its name, or its number by line pull."""
    if gear is None:
        return "none strong enough"
    order = sorted(machine.gears, key=lambda g: g.line_pull)
    return gear.name or f"gear {order.index(gear) + 1} of {len(order)}"


def progress(pull: Pull, allowances: Allowances) -> Progress | None:
    """The pull through time in the gears of its plan; None without a rope or a machine."""
    machine, course = pull.run.machine, history(pull)
    if machine is None or course is None:
        return None
    going = pace(pull, course, machine, allowances)
    return along_plan(course, going.gears, machine, going.stops.places, allowances.lubricant_stop)


def along_plan(
    course: HeadHistory,
    plan: GearPlan,
    machine: Machine,
    stops: Sequence[float] = (),
    each: float = 0.0,
) -> Progress:
    """The pull through time by a gear plan made of the same ``course``.

    ``stops`` are the places (m of cable in) of its lubricant stops, of ``each`` s.
    """
    gears = tuple(sorted(machine.gears, key=lambda g: g.line_pull))
    pulled = _places(course, plan, stops)
    changed = _rows_at(pulled, [change.pulled for change in plan.changes])
    stopped = _rows_at(pulled, stops)
    twice = np.union1d(changed, stopped)
    rows = np.sort(np.concatenate((np.arange(len(pulled)), twice)))
    second = np.concatenate(([False], np.diff(rows) == 0))
    gear, elapsed = _gears_and_clock(
        course, plan, pulled[rows], second & np.isin(rows, changed), gears
    )
    elapsed = elapsed + each * np.cumsum(second & np.isin(rows, stopped))
    names = ("station", "load", "head_tension", "sidewall")
    station, load, tension, sidewall = (
        frozen(np.interp(pulled[rows], course.pulled, getattr(course, name))) for name in names
    )
    return Progress(
        station=station,
        pulled=frozen(pulled[rows]),
        load=load,
        head_tension=tension,
        sidewall=sidewall,
        machine=machine,
        gears=gears,
        gear=gear,
        elapsed=frozen(elapsed),
        plan=plan,
    )


def _rows_at(pulled: Floats, places: Sequence[float]) -> NDArray[np.int64]:
    """The rows of ``pulled`` at some of its places."""
    return np.array([np.argmin(np.abs(pulled - at)) for at in places], dtype=np.int64)


def _places(course: HeadHistory, plan: GearPlan, stops: Sequence[float]) -> Floats:
    """The heads of the course and, where none is there already, ends of spans and stops."""
    ends = [at for span in plan.spans for at in (span.start, span.end)]
    ends += stops
    if plan.overload is not None:
        ends.append(plan.overload.pulled)
    new = [at for at in ends if np.abs(course.pulled - at).min() > _SAME]
    found: Floats = distinct(np.concatenate((course.pulled, new)))
    return found


def _gears_and_clock(
    course: HeadHistory,
    plan: GearPlan,
    pulled: Floats,
    second: NDArray[np.bool_],
    gears: tuple[Gear, ...],
) -> tuple[NDArray[np.int64], Floats]:
    """Gear from each place on and time until there; ``second`` marks those after a change."""
    gear = np.full(len(pulled), -1)
    elapsed = np.full(len(pulled), np.nan)
    elapsed[0] = 0.0
    change = plan.time - sum(span.time for span in plan.spans)
    each = change / max(len(plan.changes), 1)
    after, clock = np.flatnonzero(second), 0.0
    for number, span in enumerate(plan.spans):
        first = int(after[number - 1]) if number else 0
        last = int(np.searchsorted(pulled, span.end - _SAME))
        gear[first : last + 1] = gears.index(span.gear)
        elapsed[first : last + 1] = clock + _times(course, span, pulled[first : last + 1])
        clock += span.time + each
    if plan.overload is not None:
        gear[pulled >= plan.overload.pulled - _SAME] = -1
    return gear, elapsed


def _times(course: HeadHistory, span: GearSpan, pulled: Floats) -> Floats:
    """Time since the start of a span, s: by the speed at the middle of each step.

    So scaled that the whole of it takes the time planned.
    """
    middles = np.interp((pulled[:-1] + pulled[1:]) / 2, course.pulled, course.load)
    speed = np.array([span.gear.speed_at(load) for load in middles.tolist()])
    times = np.concatenate(([0.0], np.cumsum(np.diff(pulled) / speed)))
    return times * (span.time / times[-1]) if times[-1] > 0 else times
