"""How long the crew is on the run: set-up, pulling, gear changes and lubricant stops."""

from __future__ import annotations

from dataclasses import dataclass

from route3d.model.allowances import Allowances
from route3d.planning.pull_plan.gears import GearPlan
from route3d.planning.pull_plan.stops import lubricant_places


@dataclass(frozen=True, slots=True)
class CrewTime:
    """Every part in s. ``lubricant_stops`` and ``gear_changes`` are their times, not their number.

    ``strongest`` is the pulling as it would be in the strongest gear alone.

    Where the plan does not reach the end, pulling and changes are those up to where it stops.
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


def crew_time(
    gear_plan: GearPlan, length: float, allowances: Allowances, stops: int | None = None
) -> CrewTime:
    """The time of one pull of ``length`` m by a gear plan, with the allowances for the rest.

    ``stops`` is the number of lubricant stops, that of the interval where left out.
    """
    count = len(lubricant_places(length, allowances)) if stops is None else stops
    return CrewTime(
        setup=allowances.setup_time,
        pulling=sum(span.time for span in gear_plan.spans),
        gear_changes=len(gear_plan.changes) * allowances.gear_change_time,
        lubricant_stops=count * allowances.lubricant_stop,
        strongest=gear_plan.slow_time,
    )
