"""Whether Stop was passed: the one rule for every log, whatever its readings are used for besides.

Stop always applies: before the start, at a standstill, over a first move and while moving. A
reading at Stop counts as passed. Doubtful readings are told apart and are not let off: only one
that nothing around it bears out, a spike, is told without an alarm. Own judgment, on the safe side.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from route3d.field.log.cleaning import COUNTS_ANYWAY
from route3d.field.readings import PullLog
from route3d.geometry.vectors import Floats
from route3d.mechanics.rope_scenarios import head_track
from route3d.planning.pull_plan.plan import Plan
from route3d.planning.pull_plan.stop_reading import stop_readings

FROM_REST = frozenset({"before the start", "at standstill", "first move"})
"""Flags with which the cable starts from rest: the Stop of a first move holds too, if lower."""
SURE = FROM_REST | COUNTS_ANYWAY | {
    "saturated", "duplicate", "out of order", "speed not a number", "brake not a number",
}  # fmt: skip
"""Flags that leave load and place true. What a saturated gauge shows is the least there was."""
UNBELIEVED = frozenset({"spike"})
"""Flags with which a reading above Stop is told, and is no alarm."""
_AT_END = 1.0  # m of cable in beyond the end of the route that are still the end
_EXACT = 1 - 1e-9


@dataclass(frozen=True, eq=False)
class AgainstStop:
    """The readings of a log against Stop, all (n,).

    ``stop`` N is what each is held against: that of its place, the lower of it and of that of a
    first move from rest; the highest of the run where the place is not known, so that a reading
    above it is above Stop wherever it was. ``placed`` is whether the place is known. ``passed``
    are readings at or above it that are sure, ``doubtful`` those that are not, and ``spikes`` those
    that are not believed.
    """

    stop: Floats
    placed: NDArray[np.bool_]
    passed: NDArray[np.bool_]
    doubtful: NDArray[np.bool_]
    spikes: NDArray[np.bool_]

    @property
    def alarm(self) -> bool:
        """Whether Stop was passed, or may have been."""
        return bool(self.passed.any() or self.doubtful.any())


def on_route(plan: Plan, log: PullLog) -> NDArray[np.bool_]:
    """Which readings (n,) have a cable in that is on the route."""
    length = plan.pull.path.length
    return np.isfinite(log.pulled) & (log.pulled >= 0.0) & (log.pulled <= length + _AT_END)


def sure(log: PullLog) -> NDArray[np.bool_]:
    """Which readings (n,) have nothing that makes load or place doubtful."""
    return np.array([SURE.issuperset(flags) for flags in log.flags], dtype=bool)


def against_stop(plan: Plan, log: PullLog, stop: Floats) -> AgainstStop:
    """The readings of ``log`` against ``stop`` (n,) N, that of each place; NaN where not known."""
    placed = np.isfinite(log.pulled) & ~np.isnan(stop)
    highest = max((row.stop for row in plan.gauge), default=math.inf)
    held = np.where(placed, stop, highest)
    rest = np.array([not FROM_REST.isdisjoint(flags) for flags in log.flags], dtype=bool) & placed
    if rest.any():
        held[rest] = np.minimum(held[rest], _first_move_stops(plan, log.pulled[rest]))
    over = log.load - log.tare >= held * _EXACT  # never where nothing was read
    spikes = np.array([not UNBELIEVED.isdisjoint(flags) for flags in log.flags], dtype=bool)
    believed = sure(log) & placed
    return AgainstStop(
        held, placed, over & believed, over & ~believed & ~spikes, over & ~believed & spikes
    )


def _first_move_stops(plan: Plan, pulled: Floats) -> Floats:
    """The Stop of a first move with ``pulled`` (n,) m of cable in, N."""
    length = plan.pull.path.length
    places, back = np.unique(np.clip(pulled, 0.0, length), return_inverse=True)
    found = stop_readings(
        head_track(plan.pull, length - places if plan.pull.reverse else places),
        head_rating=plan.head_rating,
        line_rating=plan.line_limit[0],
    )
    return np.array([stops.first_move.reading for stops in found])[back]
