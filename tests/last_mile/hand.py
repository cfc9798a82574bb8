"""The berth 6 feeder worked by hand statics and a march of its own, in lbf and ft.

Nothing of the product is used. Along the cable dT/ds = w tz + f |T k - w z'|: w the weight, tz the
rise, k the curvature vector and z' the part of the vertical across the cable (equilibrium of a
length ds; f is friction times the weight correction factor). The rope ahead of the head obeys the
same law with its own weight and friction.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from functools import cache
from itertools import pairwise

import numpy as np

DIAMETER, BORE = 1.387 / 12, 5.073 / 12  # ft; bore of RMC 5: NFPA 70 Chapter 9 Table 4
WEIGHT = 3 * 1.795  # lbf/ft
# cradled: 1 + 4/3 (d/(D - d))^2, and the middle cable presses (3w - 2)/3 T/R (ICEA-based guides)
OMEGA = 1 + 4 / 3 * (DIAMETER / (BORE - DIAMETER)) ** 2
PRESS = (3 * OMEGA - 2) / 3
FRICTION, LOW, HIGH, RESTART = 0.2, 0.15, 0.22, 1.3
ROPE_WEIGHT, ROPE_FRICTION = 0.16, 0.15
RADIUS = 5.0
FEED = 1 / 0.96  # efficiency of the feed-in sheave
LEAD_OFF = 1 / 0.95  # and of the sheave before the machine
SIDEWALL = 500.0  # lbf/ft
FIRST_FEET = 3 / 0.3048

# straight of so many feet, or the direction a bend turns into
_X, _Y, _DOWN = np.array([1.0, 0, 0]), np.array([0, 1.0, 0]), np.array([0, 0, -1.0])
_ARC = RADIUS * math.pi / 2
PIECES: tuple[tuple[float, np.ndarray, np.ndarray | None], ...] = (
    (20.0, _X, None),
    (_ARC, _X, _DOWN),
    (30.0, _DOWN, None),
    (_ARC, _DOWN, _X),
    (590.0, _X, None),  # through vault V6
    (_ARC, _X, _Y),
    (295.0, _Y, None),
)
ENDS = np.concatenate(([0.0], np.cumsum([p[0] for p in PIECES])))
LENGTH = float(ENDS[-1])
VAULT = float(ENDS[4]) + 295.0
BENDS = tuple((float(ENDS[i]), float(ENDS[i + 1])) for i in (1, 3, 5))
STOPS = (150.0, 300.0, 450.0, 600.0, 750.0, 900.0)


def _pieces(start: float, end: float) -> Iterator[tuple[float, float, int]]:
    for i, (a, b) in enumerate(pairwise(ENDS.tolist())):
        low, high = max(start, a), min(end, b)
        if high > low:
            yield low, high, i


def march(tension: float, weight: float, friction: float, start: float, end: float) -> float:
    """Tension with ``tension`` at ``start`` ft, carried on to ``end``; Runge-Kutta in the bends."""
    return walk(tension, weight, friction, start, end)[-1]


def walk(tension: float, weight: float, friction: float, start: float, end: float) -> list[float]:
    """The same at every place looked at on the way."""
    found = [tension]
    for low, high, i in _pieces(start, end):
        length, t0, t1 = PIECES[i]
        z0 = float(t0[2])
        if t1 is None:
            rise = weight * z0 + friction * weight * math.sqrt(1 - z0**2)
            found.append(found[-1] + rise * (high - low))
            continue
        steps = max(2, round(60 * (high - low) / length))
        z1 = float(t1[2])
        h, begin = (high - low) / steps, (low - float(ENDS[i])) / RADIUS
        for n in range(steps):
            angle, t = begin + n * h / RADIUS, found[-1]
            k1 = _slope(t, angle, z0, z1, weight, friction)
            k2 = _slope(t + h / 2 * k1, angle + h / 2 / RADIUS, z0, z1, weight, friction)
            k3 = _slope(t + h / 2 * k2, angle + h / 2 / RADIUS, z0, z1, weight, friction)
            k4 = _slope(t + h * k3, angle + h / RADIUS, z0, z1, weight, friction)
            found.append(t + h / 6 * (k1 + 2 * k2 + 2 * k3 + k4))
    return found


def _slope(t: float, angle: float, z0: float, z1: float, weight: float, friction: float) -> float:
    """dT/ds in a bend whose ends rise by ``z0`` and ``z1``, along and across the cable."""
    c, s = math.cos(angle), math.sin(angle)
    rise, inward = c * z0 + s * z1, -s * z0 + c * z1
    level = math.sqrt(max(0.0, 1 - rise**2 - inward**2))
    return weight * rise + friction * math.hypot(t / RADIUS - weight * inward, weight * level)


def cable(reel: float, head: float, times: float = 1.0, friction: float = FRICTION) -> float:
    """Tension at the head, the reels held with ``reel`` in all."""
    return march(reel * FEED, WEIGHT, friction * OMEGA * times, 0.0, head)


def most_of_cable(reel: float, head: float, times: float = 1.0) -> float:
    """The largest tension anywhere between reels and head."""
    return max(walk(reel * FEED, WEIGHT, FRICTION * OMEGA * times, 0.0, head))


def at_machine(tension: float, head: float, times: float = 1.0) -> float:
    """What the machine pulls with ``tension`` at the head: rope, then the lead-off sheave."""
    return march(tension, ROPE_WEIGHT, ROPE_FRICTION * times, head, LENGTH) * LEAD_OFF


def reading(reel: float, head: float, times: float = 1.0) -> float:
    return at_machine(cable(reel, head, times), head, times)


def over_first_feet(value: Callable[[float], float], head: float) -> float:
    """The largest of a value over the first 3 m of a movement from rest.

    In a straight it goes straight from one end to the other.
    """
    last = min(LENGTH, head + FIRST_FEET)
    steps = 20 if any(a < last and b > head for a, b in BENDS) else 1
    return max(value(head + (last - head) * k / steps) for k in range(steps + 1))


def first_move(reel: float, head: float) -> float:
    return over_first_feet(lambda at: reading(reel, at, RESTART), head)


def root(grows: Callable[[float], float], low: float, high: float) -> float:
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (low, middle) if grows(middle) > 0 else (middle, high)
    return (low + high) / 2


def least(friction: float) -> float:
    """What the reels must hold so that the whole cable stays taut, the feed-in sheave free."""
    return root(lambda t: min(walk(t, WEIGHT, friction * OMEGA, 0.0, LENGTH)), 0.0, 1000.0)


def shares(reel: float, times: float, friction: float, rope: float) -> dict[str, float]:
    """The largest share of each limit with the head anywhere, the cable moving."""
    f = friction * OMEGA * times
    ends = [0.0, *(x for bend in BENDS for x in bend), LENGTH]
    at_head = {0.0: reel * FEED}
    for a, b in pairwise(ends):
        at_head[b] = march(at_head[a], WEIGHT, f, a, b)
    load = max(
        march(t, ROPE_WEIGHT, ROPE_FRICTION * rope, x, LENGTH) * LEAD_OFF
        for x, t in at_head.items()
    )
    return {
        "eyes": max(at_head.values()) / 7500,
        "sidewall pressure": max(at_head[x] for bend in BENDS for x in bend)
        * PRESS
        / (RADIUS - BORE / 2)
        / SIDEWALL,
        "machine": load / (6500 * 0.95),
        "rope": load / 9000,
    }


def most() -> float:
    """The largest reel tension that holds every limit, friction high or at a restart anywhere."""

    def over(reel: float) -> float:
        high = shares(reel, 1.0, HIGH, 1.2).values()
        restart = shares(reel, RESTART, FRICTION, RESTART).values()
        return max(*high, *restart) - 1.0

    return root(over, 0.0, 5000.0)


def friction_margin(reel: float) -> tuple[float, str]:
    """The multiplier of all friction at which the first limit is reached, and which."""
    factor = root(lambda k: max(shares(reel, k, FRICTION, k).values()) - 1.0, 0.1, 10.0)
    found = shares(reel, factor, FRICTION, factor)
    return factor, max(found, key=lambda name: found[name])


@cache
def stop(head: float, times: float = 1.0) -> float:
    """The lowest reading at which cable behind the head, head, rope or line is at its limit."""
    # eyes at their swivel, rope, boom; what the machine can pull, 6,175, the brace bears anyway
    found = [at_machine(7500.0, head, times), 9000.0]
    found.append(12000.0 / (2 * math.sin(math.pi / 4)))
    limits = [(0.0, SIDEWALL * 2.0 / PRESS)]  # the feed-in sheave, 24 in
    limits += [
        (at, SIDEWALL * (RADIUS - BORE / 2) / PRESS)
        for a, b in BENDS
        for at in (*(a + (b - a) * k / 8 for k in range(9)), head)
        if a <= at <= b + 1e-6
    ]
    for at, limit in limits:
        if at <= head + 1e-6:
            there = march(limit, WEIGHT, FRICTION * OMEGA * times, at, head)
            found.append(at_machine(there, head, times))
    return min(found)
