"""The soft cable law (docs/theory.md section 2), written as it stands and solved another way.

Nothing here is shared with ``route3d.mechanics``: the law is written with vectors, the solver is
scipy's DOP853 (Dormand and Prince, order 8; Hairer, Norsett and Wanner, "Solving Ordinary
Differential Equations I", section II.5; from memory) at a relative tolerance of 1e-12, restarted
at every joint and wherever the cable goes slack or comes taut again.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from typing import NamedTuple

from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from route3d.geometry import Path

Vector = tuple[float, float, float]
# A cable at rest whose rate is below this share of its weight is level up to rounding: it stays.
ROUNDING = 1e-14


class Piece(NamedTuple):
    """A segment in pulling order: ``frame(s)`` gives unit tangent and normal, s from its start."""

    length: float
    curvature: float
    frame: Callable[[float], tuple[Vector, Vector]]


def pieces(path: Path, reverse: bool = False) -> Iterator[Piece]:
    """The segments of a path; a reversed pull runs each from its end, its tangent turned about."""
    order = range(len(path))
    for i in reversed(order) if reverse else order:
        t0, n0 = tuple(path.tangents[i].tolist()), tuple(path.normals[i].tolist())
        length, angle = float(path.lengths[i]), float(path.angles[i])
        yield Piece(length, angle / length, _frame(t0, n0, length, angle, reverse))


def _frame(
    t0: Vector, n0: Vector, length: float, angle: float, reverse: bool
) -> Callable[[float], tuple[Vector, Vector]]:
    sign = -1.0 if reverse else 1.0

    def frame(s: float) -> tuple[Vector, Vector]:
        theta = angle * ((length - s) if reverse else s) / length
        c, d = math.cos(theta), math.sin(theta)
        t = (
            sign * (c * t0[0] + d * n0[0]),
            sign * (c * t0[1] + d * n0[1]),
            sign * (c * t0[2] + d * n0[2]),
        )
        n = (c * n0[0] - d * t0[0], c * n0[1] - d * t0[1], c * n0[2] - d * t0[2])
        return t, n

    return frame


def law(tension: float, t: Vector, n: Vector, curvature: float, w: float, k: float) -> float:
    """dT/ds = w (z·t) + K |T κ n - w z⊥|, z⊥ = z - (z·t) t, component by component."""
    zt = t[2]
    qx = tension * curvature * n[0] - w * (0.0 - zt * t[0])
    qy = tension * curvature * n[1] - w * (0.0 - zt * t[1])
    qz = tension * curvature * n[2] - w * (1.0 - zt * t[2])
    return w * zt + k * math.sqrt(qx * qx + qy * qy + qz * qz)


def tensions(
    path: Path, w: float, k: float, start: float, reverse: bool = False, slack: bool = True
) -> list[float]:
    """Tension at every joint in pulling order. ``slack=False`` lets the tension fall below zero."""
    result = [start]
    for piece in pieces(path, reverse):
        result.append(_through(piece, w, k, result[-1], slack))
    return result


def _through(piece: Piece, w: float, k: float, tension: float, slack: bool) -> float:
    at = 0.0
    # A cable that dips below zero is below zero where it would pick up tension again: a step must
    # end there, or a dip inside one step goes unseen. An arc below 180 degrees has one such place.
    bottom = _taut_again(piece, _going_slack(piece, w, k), w, k)
    while at < piece.length:
        if slack and tension <= 0.0 and resting(piece, at, w, k) <= ROUNDING * w:
            tension, at = 0.0, _taut_again(piece, at, w, k)
            continue
        end = bottom if at < bottom else piece.length
        at, tension = _taut(piece, (at, end), w, k, tension, slack)
    return tension


def _going_slack(piece: Piece, w: float, k: float, parts: int = 60) -> float:
    """A place where a cable without tension would go slack, or the end of the piece."""
    for i in range(parts):
        at = piece.length * i / parts
        if resting(piece, at, w, k) < 0.0:
            return at
    return piece.length


def _taut(
    piece: Piece, span: tuple[float, float], w: float, k: float, tension: float, slack: bool
) -> tuple[float, float]:
    """On from ``span[0]`` to where the cable goes slack, or to ``span[1]``.

    Restarts where the cable leaves one wall for the other: in a vertical plane |q| has a kink
    there, which the error estimate of a Runge-Kutta method may step across unseen.
    """

    def rate(s: float, tension: list[float]) -> list[float]:
        return [law(tension[0], *piece.frame(s), piece.curvature, w, k)]

    def zero(s: float, tension: list[float]) -> float:
        return tension[0]

    def wall(s: float, tension: list[float]) -> float:
        return tension[0] * piece.curvature - w * piece.frame(s)[1][2]

    zero.terminal, zero.direction = slack, -1.0  # type: ignore[attr-defined]
    side = math.copysign(1.0, wall(span[0], [tension]))
    restarts = 4 if piece.curvature else 0  # a bend has two crossings; rounding may add some
    at, end = span
    while at < end:
        wall.terminal, wall.direction = restarts > 0, -side  # type: ignore[attr-defined]
        restarts -= 1
        solution = solve_ivp(
            rate,
            (at, end),
            [tension],
            method="DOP853",
            rtol=1e-12,
            atol=1e-14 * w * piece.length,
            max_step=piece.length / 8,
            events=(zero, wall),
        )
        assert solution.success
        at, tension, side = float(solution.t[-1]), float(solution.y[0, -1]), -side
        if slack and solution.t_events[0].size:
            return at, 0.0
    return end, tension


def resting(piece: Piece, s: float, w: float, k: float) -> float:
    """Rate at which a cable without tension would pick it up at ``s``."""
    return law(0.0, *piece.frame(s), piece.curvature, w, k)


def _taut_again(piece: Piece, at: float, w: float, k: float, parts: int = 400) -> float:
    """The first place after ``at`` where a cable without tension picks some up."""
    before = at
    for i in range(1, parts + 1) if at < piece.length else ():
        here = at + (piece.length - at) * i / parts
        if resting(piece, here, w, k) > ROUNDING * w:
            root = brentq(
                lambda s: resting(piece, s, w, k) - ROUNDING * w, before, here, xtol=1e-15
            )
            # A little past the root; the tension missed is the square of that step.
            return min(float(root) + 1e-12 * piece.length, here)
        before = here
    return piece.length
