"""Friction that falls above a contact load, solved another way: DOP853 with events.

The law is that of ``tests/support/oracle.py``, written with vectors. The solver stops wherever the
contact load passes the threshold. Where both sides lead back to it, the load is held there: its
rate, (q·n) κ (T' + w t_z)/|q|, must be zero, so T' = -w t_z, until the friction that this takes
leaves the range between the two coefficients (Filippov, "Differential Equations with Discontinuous
Righthand Sides", chapter 2; from memory). Nothing is shared with ``route3d.mechanics``.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

from scipy.integrate import solve_ivp

from tests.support.oracle import Piece


class Falling(NamedTuple):
    """Effective friction ``low`` up to ``above`` N/m of contact load, ``high`` beyond it."""

    low: float
    high: float
    above: float


class Through(NamedTuple):
    """Tension at the end, and what happened on the way: "low", "high", "held", "slack"."""

    tension: float
    modes: tuple[str, ...]


def through(piece: Piece, w: float, law: Falling, tension: float) -> Through:
    """One bend, from its start; ``tension`` must not lie on the threshold there."""
    bend = _Bend(piece, w, law)
    at, mode, modes = 0.0, "low" if bend.load(0.0, tension) <= law.above else "high", []
    for _ in range(60):
        if tension <= 0.0 and bend.resting(at) <= 0.0:
            mode = "slack"
        if not modes or modes[-1] != mode:
            modes.append(mode)
        before = at
        at, tension, mode = bend.on(mode, at, tension)
        if at == before and mode in ("low", "high"):  # it has just left the threshold
            k, step = law.low if mode == "low" else law.high, 1e-9 * piece.length
            at, tension = at + step, tension + step * bend.rate(at, tension, k)
        if at >= piece.length:
            return Through(tension, tuple(modes))
    raise AssertionError("the events do not come to an end")


class _Bend:
    def __init__(self, piece: Piece, w: float, law: Falling) -> None:
        self.piece, self.w, self.law = piece, w, law
        t, n = piece.frame(0.0)
        upright = abs(t[0] * n[1] - t[1] * n[0]) < 1e-9
        self.restarts = 6 if upright else 0  # as in oracle.py; rounding may add some

    def q(self, s: float, tension: float) -> tuple[list[float], float, float]:
        """The contact load as a vector, its part along the normal, and t_z."""
        t, n = self.piece.frame(s)
        z = (0.0, 0.0, 1.0)
        pull = tension * self.piece.curvature
        q = [pull * n[i] - self.w * (z[i] - t[2] * t[i]) for i in range(3)]
        return q, sum(a * b for a, b in zip(q, n, strict=True)), t[2]

    def load(self, s: float, tension: float) -> float:
        return math.sqrt(sum(a * a for a in self.q(s, tension)[0]))

    def rate(self, s: float, tension: float, k: float) -> float:
        q, _, tz = self.q(s, tension)
        return self.w * tz + k * math.sqrt(sum(a * a for a in q))

    def resting(self, s: float) -> float:
        k = self.law.low if self.load(s, 0.0) <= self.law.above else self.law.high
        return self.rate(s, 0.0, k)

    def on(self, mode: str, at: float, tension: float) -> tuple[float, float, str]:
        """On to where the mode ends: place, tension there, and the next mode."""
        if mode == "slack":
            return self._slack(at)
        if mode == "held":
            return self._held(at, tension)
        k = self.law.low if mode == "low" else self.law.high

        def border(s: float, y: list[float]) -> float:
            return self.load(s, y[0]) - self.law.above

        def zero(s: float, y: list[float]) -> float:
            return y[0]

        border.terminal, border.direction = True, 1.0 if mode == "low" else -1.0  # type: ignore[attr-defined]

        def wall(s: float, y: list[float]) -> float:  # in a vertical plane |q| has a kink there
            return self.q(s, y[0])[1]

        zero.terminal, zero.direction = True, -1.0  # type: ignore[attr-defined]
        wall.terminal = self.restarts > 0  # type: ignore[attr-defined]
        self.restarts -= 1
        wall.direction = -math.copysign(1.0, wall(at, [tension]))  # type: ignore[attr-defined]
        end, tension, events = self._solve(
            lambda s, y: [self.rate(s, y[0], k)], at, tension, (border, zero, wall)
        )
        if events[1]:
            return end, 0.0, mode if end < self.piece.length else "slack"
        return end, tension, self._next(end, tension) if events[0] else mode

    def _next(self, s: float, tension: float) -> str:
        _, along, tz = self.q(s, tension)
        side = math.copysign(1.0, along)
        low, high = (
            side * (2.0 * self.w * tz + k * self.law.above) for k in (self.law.low, self.law.high)
        )
        return "high" if low > 0 and high > 0 else "low" if low < 0 and high < 0 else "held"

    def _held(self, at: float, tension: float) -> tuple[float, float, str]:
        def leaves(k: float) -> Callable[[float, list[float]], float]:
            def event(s: float, y: list[float]) -> float:
                return -2.0 * self.w * self.q(s, y[0])[2] / self.law.above - k

            event.terminal = True  # type: ignore[attr-defined]
            return event

        end, tension, events = self._solve(
            lambda s, y: [-self.w * self.q(s, y[0])[2]],
            at,
            tension,
            (leaves(self.law.low), leaves(self.law.high)),
        )
        return end, tension, "low" if events[0] else "high"

    def _slack(self, at: float, parts: int = 20_000) -> tuple[float, float, str]:
        step = self.piece.length / parts
        while at < self.piece.length and self.resting(at) <= 0.0:
            at += step
        low, high = at - step, at
        for _ in range(60 if at < self.piece.length else 0):
            middle = (low + high) / 2
            low, high = (middle, high) if self.resting(middle) <= 0.0 else (low, middle)
        at = min(high, self.piece.length)
        return at, 0.0, "low" if self.load(at, 0.0) <= self.law.above else "high"

    def _solve(
        self,
        rate: Callable[[float, list[float]], list[float]],
        at: float,
        tension: float,
        events: tuple[Callable[[float, list[float]], float], ...],
    ) -> tuple[float, float, list[bool]]:
        solution = solve_ivp(
            rate,
            (at, self.piece.length),
            [tension],
            method="DOP853",
            rtol=1e-12,
            atol=1e-14 * self.w / max(self.piece.curvature, 1e-9),
            max_step=self.piece.length / 120,
            events=events,
        )
        assert solution.success
        hit = [bool(found.size) for found in solution.t_events]
        return float(solution.t[-1]), float(solution.y[0, -1]), hit
