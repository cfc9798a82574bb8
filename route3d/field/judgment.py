"""What one reading means: on plan, above caution, or Stop; by the gauge table of a plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from route3d.geometry.vectors import Floats
from route3d.planning.pull_plan.gauge import GaugeRow

Verdict = Literal["on plan", "caution", "stop"]
# A place this close (m) behind a row of the table is at it: a footage counter is no finer.
_AT_ROW = 1e-6


@dataclass(frozen=True, slots=True)
class Judgment:
    """A reading held against the table: ``expected``, ``caution`` and ``stop`` N there.

    ``margin`` N is the room left to Stop, below 0 beyond it. ``gear`` is the one planned here, and
    ``accurate`` whether the gauge reads true in it.
    """

    state: Verdict
    margin: float
    expected: float
    caution: float
    stop: float
    gear: str
    accurate: bool


@dataclass(frozen=True, eq=False)
class Limits:
    """The gauge table between its rows: the lower Stop of two neighbors, and straight lines else.

    All (n,): ``pulled`` m of cable in, ``expected``, ``caution`` and ``stop`` N.
    """

    pulled: Floats
    expected: Floats
    caution: Floats
    stop: Floats
    gears: tuple[str, ...]
    accurate: tuple[bool, ...]

    @staticmethod
    def of(rows: Sequence[GaugeRow]) -> Limits:
        """The limits of a gauge table."""
        return Limits(
            pulled=np.array([row.pulled for row in rows]),
            expected=np.array([row.expected for row in rows]),
            caution=np.array([row.caution for row in rows]),
            stop=np.array([row.stop for row in rows]),
            gears=tuple(row.gear.name if row.gear else "" for row in rows),
            accurate=tuple(row.readable for row in rows),
        )

    def stops(self, places: Floats) -> Floats:
        """Stop with so much cable in (k,), N."""
        now = np.maximum(np.searchsorted(self.pulled, places + _AT_ROW, side="right") - 1, 0)
        after = np.minimum(now + 1, len(self.pulled) - 1)
        between = places > self.pulled[now] + _AT_ROW
        lower: Floats = np.minimum(self.stop[now], np.where(between, self.stop[after], np.inf))
        return lower

    def cautions(self, places: Floats) -> Floats:
        """Caution with so much cable in (k,), N; never above Stop."""
        caution: Floats = np.interp(places, self.pulled, self.caution)
        return np.minimum(caution, self.stops(places))

    def judge(self, pulled: float, load: float) -> Judgment:
        """A reading of ``load`` N with ``pulled`` m of cable in."""
        place = np.array([pulled])
        stop, caution = float(self.stops(place)[0]), float(self.cautions(place)[0])
        state: Verdict = "stop" if load >= stop else "caution" if load > caution else "on plan"
        row = max(int(np.searchsorted(self.pulled, pulled + _AT_ROW, side="right")) - 1, 0)
        return Judgment(
            state=state,
            margin=stop - load,
            expected=float(np.interp(pulled, self.pulled, self.expected)),
            caution=caution,
            stop=stop,
            gear=self.gears[row],
            accurate=self.accurate[row],
        )
