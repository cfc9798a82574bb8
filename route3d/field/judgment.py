"""What one reading means: on plan, far below it, above caution, or Stop; by the gauge table."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from route3d.geometry.vectors import Floats
from route3d.planning.pull_plan.gauge import GaugeRow

Verdict = Literal["on plan", "low", "caution", "first move", "stop"]
LOW_SHARE, LOW_STEPS = 0.5, 3.0
"""Below this share of the lowest expected reading, and more than so many marks of the dial below
it, something has let go (own judgment)."""
# A place this close (m) behind a row of the table is at it: a footage counter is no finer.
_AT_ROW = 1e-6


@dataclass(frozen=True, slots=True)
class Judgment:
    """A reading held against the table: ``expected``, ``caution`` and ``stop`` N there.

    ``margin`` N is the room left to Stop, below 0 beyond it; ``low`` N the lowest that is expected
    within the brake window. ``gear`` is the one planned here, and ``accurate`` whether the gauge
    reads true in it.
    """

    state: Verdict
    margin: float
    expected: float
    caution: float
    stop: float
    gear: str
    accurate: bool
    low: float

    def held_to(self, load: float, stop: float, step: float) -> Judgment:
        """The reading of ``load`` N with a lower ``stop`` N, and far below the plan if it is.

        ``step`` N lies between the marks of the dial.
        """
        caution, hair = min(self.caution, stop), 1e-6 * step
        state: Verdict = "on plan"
        if load >= stop - hair:
            state = "stop"
        elif load > caution + hair:
            state = "caution"
        elif load < LOW_SHARE * self.low and self.low - load > LOW_STEPS * step:
            state = "low"
        return replace(self, state=state, margin=stop - load, caution=caution, stop=stop)

    def first_move(self, load: float, most: float, step: float) -> Judgment:
        """The reading in a first move, which may take up to ``most`` N, though never Stop."""
        most = min(max(self.caution, most), self.stop)
        over: Verdict = "first move" if load > most + 1e-6 * step else "on plan"
        state = over if self.state in ("caution", "on plan") else self.state
        return replace(self, state=state, caution=most)


@dataclass(frozen=True, eq=False)
class Limits:
    """The gauge table between its rows: the lower Stop of two neighbors, and straight lines else.

    All (n,): ``pulled`` m of cable in, ``expected``, ``caution`` and ``stop`` N, and ``light``, the
    lowest that is expected as a share of it.
    """

    pulled: Floats
    expected: Floats
    caution: Floats
    stop: Floats
    light: Floats
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
            light=np.array([min(1.0, r.expected_low / max(r.expected, 1e-9)) for r in rows]),
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
        expected = float(np.interp(pulled, self.pulled, self.expected))
        return Judgment(
            state=state,
            margin=stop - load,
            expected=expected,
            caution=caution,
            stop=stop,
            gear=self.gears[row],
            accurate=self.accurate[row],
            low=expected * float(self.light[row]),
        )
