"""What to check before each stage of a pull: brake, limiter, and the reading of the first move.

A stage goes from one start from rest to the next: start of the pull, gear change, planned stop.
Common practice, no source.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from route3d.model.machine import Gear
from route3d.planning.margins import BrakeWindow
from route3d.planning.pull_plan.gauge import GaugeRow


@dataclass(frozen=True, slots=True)
class AcceptanceStage:
    """One stage, which begins with ``pulled`` m of cable in; loads at the machine in N.

    ``limiter`` is the lowest stop of the stage, ``largest`` the largest reading expected in it once
    the cable moves. ``first_move`` is expected at its start, where ``first_stop`` is the stop:
    that of the first move, or of the moving cable over its first 3 m where that is lower.
    ``stalls`` is what the stage's gear pulls at most. ``readable`` is false where the gauge does
    not read true in it.
    """

    pulled: float
    kind: str
    place: str
    gear: Gear | None
    limiter: float
    largest: float
    first_move: float
    first_stop: float
    stalls: float
    readable: bool

    @property
    def trips(self) -> bool:
        """True where a limiter at the lowest stop ends the planned pull."""
        return self.largest > self.limiter

    @property
    def trips_at_start(self) -> bool:
        """True where it would end the planned first move."""
        return self.first_move > self.limiter

    @property
    def starts(self) -> bool:
        """False where the machine cannot make the planned first move in this gear."""
        return self.first_move <= self.stalls * (1 + 1e-9)


@dataclass(frozen=True, slots=True)
class Acceptance:
    """The ``stages``, and the reel tension within which each is pulled, N.

    ``limiter`` N is the lowest stop of the whole pull, infinite where none is known.
    """

    stages: tuple[AcceptanceStage, ...]
    window: BrakeWindow
    limiter: float

    @property
    def one_setting(self) -> bool:
        """True where the limiter can stay at the lowest stop of all from start to end."""
        most = max((max(s.largest, s.first_move) for s in self.stages), default=0.0)
        return most <= self.limiter

    def set_point(self, stage: AcceptanceStage) -> float:
        """Where the limiter is set for a stage once the cable moves, N."""
        return self.limiter if self.one_setting else stage.limiter

    def limiter_at_start(self, stage: AcceptanceStage) -> float:
        """Where the limiter is set for the first move of a stage, N."""
        return stage.first_stop if stage.trips_at_start else self.set_point(stage)

    def first_most(self, stage: AcceptanceStage) -> tuple[float, str]:
        """The most that the first move of a stage can or may read, N, and what holds it there.

        "stop" is that of the first move, "limiter" the machine's as it is set for this start, and
        "stall" what the gear pulls.
        """
        limiter = self.limiter_at_start(stage)
        held = ((stage.first_stop, "stop"), (limiter, "limiter"), (stage.stalls, "stall"))
        return min(held, key=lambda one: one[0])


def acceptance(rows: Sequence[GaugeRow], window: BrakeWindow) -> Acceptance:
    """The stages of a gauge table, as far as a gear holds."""
    geared = [row for row in rows if row.gear is not None]
    used = geared or list(rows)
    starts = [i for i, row in enumerate(used) if row.first_move is not None]
    stages = []
    for first, after in zip(starts, [*starts[1:], len(used)], strict=False):
        # Before the next start the cable is still moving where that row stands.
        here, row = used[first : after + 1], used[first]
        stages.append(
            AcceptanceStage(
                pulled=row.pulled,
                kind=row.kind,
                place=row.place,
                gear=row.gear,
                limiter=min(r.stop for r in here),
                largest=max(r.expected for r in here),
                first_move=row.first_move or 0.0,
                first_stop=math.inf if row.first_stop is None else row.first_stop,
                stalls=row.stalls,
                readable=row.readable,
            )
        )
    return Acceptance(tuple(stages), window, min((r.stop for r in used), default=math.inf))
