"""How a pull goes on: its stops, its gears, and every start from rest that is planned."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from route3d.geometry.vectors import Floats
from route3d.mechanics.pull import Pull
from route3d.model.allowances import Allowances
from route3d.model.machine import Machine
from route3d.planning.clock import CrewTime, crew_time
from route3d.planning.gears import GearPlan, plan_gears
from route3d.planning.history import History
from route3d.planning.stops import PlannedStops, planned_stops, restart_shares


@dataclass(frozen=True, eq=False)
class Pace:
    """Planned ``stops`` for lubricant, the ``gears``, and the time of the ``crew``.

    ``starts`` m of cable in wherever the pull starts from rest. ``first_moves`` (m,) is the largest
    share of a limit that a first movement takes with the head at each place of the history.
    """

    history: History
    stops: PlannedStops
    gears: GearPlan
    crew: CrewTime
    starts: tuple[float, ...]
    first_moves: Floats

    @property
    def worst_start(self) -> tuple[float, float]:
        """The largest share of a limit at a planned start, and with how much cable in (m)."""
        return max((self.at(place, self.first_moves), place) for place in self.starts)

    def most_at_starts(self, values: Floats) -> float:
        """The largest of what the history holds for a first movement, at the planned starts."""
        return max(self.at(place, values) for place in self.starts)

    def at(self, place: float, values: Floats) -> float:
        """One of the history's values with ``place`` m of cable in."""
        return float(np.interp(place, self.history.pulled, values))


def pace(
    pull: Pull, course: History, machine: Machine, allowances: Allowances, *, beyond: float = 0.0
) -> Pace:
    """The stops and gears of a pull, none where a first movement would break a limit.

    ``beyond`` m of cable are drawn on through the conduit once it is full, to be laid in figure
    eights: at the speed of the last gear, gripped again and started from rest each time.
    """
    shares = restart_shares(pull, course)
    stops = planned_stops(pull, course, allowances, shares)
    gears = plan_gears(course, machine, allowances, stops.places, shares)
    crew = crew_time(gears, pull.path.length, allowances, len(stops.stops))
    again: tuple[float, ...] = ()
    if beyond > 0 and gears.spans:
        again = (float(course.pulled[-1]),)
        speed = gears.spans[-1].gear.speed_at(float(course.load[-1]))
        crew = replace(crew, pulling=crew.pulling + beyond / speed)
    changed = (change.pulled for change in gears.changes)
    return Pace(
        history=course,
        stops=stops,
        gears=gears,
        crew=crew,
        starts=tuple(sorted({0.0, *stops.places, *changed, *again})),
        first_moves=shares,
    )
