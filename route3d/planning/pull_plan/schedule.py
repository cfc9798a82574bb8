"""How a pull goes on: its stops, gears and planned starts from rest, and the crew's time."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

from route3d.geometry.vectors import Floats
from route3d.mechanics.pull import Pull
from route3d.model.allowances import Allowances
from route3d.model.machine import Machine
from route3d.planning.pull_plan.gears import GearChange, GearPlan, plan_gears
from route3d.planning.pull_plan.head_history import HeadHistory
from route3d.planning.pull_plan.stops import (
    FirstMoves,
    Hanging,
    PlannedStops,
    first_moves,
    hanging_at,
    planned_stops,
)


@dataclass(frozen=True, slots=True)
class CrewTime:
    """How long the crew is on the run, every part in s.

    ``lubricant_stops`` and ``gear_changes`` are their times, not their number. ``strongest`` is the
    pulling as it would be in the strongest gear alone. Where the plan does not reach the end,
    pulling and changes are those up to where it stops.
    """

    setup: float
    pulling: float
    gear_changes: float
    lubricant_stops: float
    strongest: float

    @property
    def total(self) -> float:
        """All parts together, s."""
        return self.setup + self.pulling + self.gear_changes + self.lubricant_stops

    @staticmethod
    def of(gears: GearPlan, stops: int, allowances: Allowances) -> CrewTime:
        """The time of a gear plan and so many stops for lubricant, with what is allowed for."""
        return CrewTime(
            setup=allowances.setup_time,
            pulling=sum(span.time for span in gears.spans),
            gear_changes=len(gears.changes) * allowances.gear_change_time,
            lubricant_stops=stops * allowances.lubricant_stop,
            strongest=gears.slow_time,
        )


@dataclass(frozen=True, eq=False)
class Pace:
    """Planned ``stops`` for lubricant, the ``gears``, and the time of the ``crew``.

    ``starts`` m of cable in wherever the pull starts from rest. ``moves`` are the first moves
    from rest anywhere. ``machine`` and ``allowances`` are those it was planned with.
    """

    machine: Machine
    allowances: Allowances
    history: HeadHistory
    stops: PlannedStops
    gears: GearPlan
    crew: CrewTime
    starts: tuple[float, ...]
    moves: FirstMoves

    def drawn_on(self, beyond: float) -> Pace:
        """The same with ``beyond`` m of cable drawn on through the conduit once it is full.

        It is laid in figure eights: drawn at the speed of the last gear, gripped again and started
        from rest each time.
        """
        if beyond <= 0 or not self.gears.spans:
            return self
        end, load = float(self.history.pulled[-1]), float(self.history.load[-1])
        crew = replace(
            self.crew,
            pulling=self.crew.pulling + beyond / self.gears.spans[-1].gear.speed_at(load),
            strongest=self.crew.strongest + beyond / self.machine.strongest.speed_at(load),
        )
        return replace(self, crew=crew, starts=tuple(sorted({*self.starts, end})))

    @property
    def worst_start(self) -> tuple[float, float]:
        """The largest share of a limit at a planned start, and with how much cable in (m)."""
        return max((self.moves.at(place, self.moves.share), place) for place in self.starts)

    def most_at_starts(self, values: Floats) -> float:
        """The largest of one of the values of ``moves``, at the planned starts."""
        return max(self.moves.at(place, values) for place in self.starts)

    def hanging(self, pull: Pull) -> tuple[Hanging, ...]:
        """The planned stops at which cable hangs steeper than friction holds."""
        return tuple(hanging_at(pull, self.starts[1:]))

    @cached_property
    def unsafe_change(self) -> GearChange | None:
        """The first gear change that would save time, had it a safe place anywhere before it.

        None where none is missing. Found by the plan of a pull that could stop anywhere.
        """
        if self.gears.changes or len(self.machine.gears) == 1:
            return None
        free = plan_gears(self.history, self.machine, self.allowances)
        if free.overload is not None or not free.changes:
            return None
        first = free.changes[0]
        return first if self.moves.last_safe(0.0, first.pulled) is None else None


def pace(pull: Pull, course: HeadHistory, machine: Machine, allowances: Allowances) -> Pace:
    """The stops and gears of a pull, stops only where it is safe to stop."""
    moves = first_moves(pull, course)
    stops = planned_stops(pull.path.length, allowances, moves)
    gears = plan_gears(course, machine, allowances, stops.places, moves)
    changed = (change.pulled for change in gears.changes)
    return Pace(
        machine=machine,
        allowances=allowances,
        history=course,
        stops=stops,
        gears=gears,
        crew=CrewTime.of(gears, len(stops.stops), allowances),
        starts=tuple(sorted({0.0, *stops.places, *changed})),
        moves=moves,
    )
