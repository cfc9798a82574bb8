"""Planned stops for lubricant, put where the first movement after them breaks no limit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from route3d.checks.limits import conductor_limit, grip_limit, sidewall_limit
from route3d.geometry.vectors import Floats
from route3d.mechanics.pull import Pull
from route3d.model.allowances import Allowances
from route3d.planning.clock import lubricant_places
from route3d.planning.history import History


@dataclass(frozen=True, slots=True)
class PlannedStop:
    """A stop with ``pulled`` m of cable in; ``wanted`` m is where the interval would put it.

    ``restart`` N is the machine's load at the first movement, ``tension`` N the cable's largest.
    """

    pulled: float
    wanted: float
    restart: float
    tension: float


@dataclass(frozen=True, slots=True)
class PlannedStops:
    """The ``stops`` in order, and the wanted places (m) that are ``left_out``.

    They are left out where a first movement breaks a limit all the way back to the stop before.
    """

    stops: tuple[PlannedStop, ...] = ()
    left_out: tuple[float, ...] = ()

    @property
    def places(self) -> tuple[float, ...]:
        """Cable in the conduit at each stop, m."""
        return tuple(stop.pulled for stop in self.stops)


def restart_shares(pull: Pull, course: History) -> Floats:
    """Largest share of any limit that a first movement takes with the head at each place, (m,)."""
    run = pull.run
    cable = max(1 / conductor_limit(run, pull.practice).value, 1 / grip_limit(run).value)
    shares = [
        course.restart_tension * cable,
        course.restart_sidewall / sidewall_limit(run).value,
    ]
    if run.rope is not None:
        shares.append(course.restart / run.rope.rated_load)
    if run.machine is not None:
        shares.append(course.restart / run.machine.available_pull)
    most: Floats = np.max(shares, axis=0)
    return most


def planned_stops(
    pull: Pull, course: History, allowances: Allowances, first_moves: Floats
) -> PlannedStops:
    """Every stop the lubricant asks for, each moved back to where a first movement passes.

    ``first_moves`` (m,) are the ``restart_shares``. Common practice, no source.
    """
    stops: list[PlannedStop] = []
    left_out: list[float] = []
    before = 0.0
    for wanted in lubricant_places(pull.path.length, allowances):
        place = _place(course, first_moves, before, wanted)
        if place is None:
            left_out.append(wanted)
            continue
        loads = (
            np.interp(place, course.pulled, y) for y in (course.restart, course.restart_tension)
        )
        stops.append(PlannedStop(place, wanted, *map(float, loads)))
        before = place
    return PlannedStops(tuple(stops), tuple(left_out))


def _place(course: History, share: Floats, before: float, wanted: float) -> float | None:
    """The last place up to ``wanted`` and beyond ``before`` where a first movement passes."""
    if float(np.interp(wanted, course.pulled, share)) <= 1.0:
        return wanted
    good = (course.pulled > before) & (course.pulled < wanted) & (share <= 1.0)
    return float(course.pulled[good][-1]) if good.any() else None
