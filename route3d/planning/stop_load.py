"""The machine load at which to stop: what the gauge reads when the first limit anywhere breaks.

The gauge cannot see what makes a pull hard; more friction than planned is the usual cause. So the
pull is solved again with every friction multiplied, until the first limit of any kind is reached.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from route3d.checks.limits import utilisation
from route3d.geometry.vectors import Floats
from route3d.mechanics.pull import Pull, at_friction

# Friction beyond this many times the planned one is a blockage, not friction.
_MOST = 64.0
# The factor is found to one part in a thousand, from below: friction is not known nearly as well.
_FINE = 1e-3
_MOST_SOLVES = 60


@dataclass(frozen=True, eq=False)
class StopLoad:
    """``load`` N is the largest machine load of the pull in which ``limit`` is just reached.

    ``factor`` is the friction over the planned one then, below 1 where the planned pull breaks a
    limit already. ``loads`` (m,) N is the machine load with the head at each of ``heads`` (m,) m.
    """

    load: float
    factor: float
    limit: str
    heads: Floats
    loads: Floats


def stop_load(pull: Pull) -> StopLoad | None:
    """The load at which this pull has to be stopped.

    None without a rope, where no friction up to 64 times the planned brings a limit, and where one
    is broken without any friction. The reel is held as planned all the while.
    """
    if pull.rope_phase is None:
        return None
    factor = _reached(lambda f: math.log(max(utilisation(at_friction(pull, f)).peak, 1e-12)))
    if factor is None:
        return None
    reached = at_friction(pull, factor)
    if reached.heads is None or reached.machine_loads is None:
        return None
    return StopLoad(
        load=float(reached.machine_loads.max()),
        factor=factor,
        limit=utilisation(reached).governing,
        heads=reached.heads,
        loads=reached.machine_loads,
    )


def _reached(excess: Callable[[float], float]) -> float | None:
    """The factor at which a rising ``excess`` crosses zero, from below; None where it does not.

    Tension grows about exponentially with friction, so its logarithm is nearly straight and false
    position (the Illinois rule, M. Dowell and P. Jarratt, BIT 11, 1971; from memory) needs few
    steps.
    """
    low, high = (0.0, 1.0) if excess(1.0) > 0 else (1.0, 2.0)
    below, above = excess(low), excess(high)
    while above <= 0:
        low, below, high = high, above, 2 * high
        if high > _MOST:
            return None
        above = excess(high)
    if below > 0:
        return None
    side = 0
    for _ in range(_MOST_SOLVES):
        if high - low <= _FINE * high:
            break
        # Aimed a little below the crossing by turns, so that both ends close in on it.
        middle = high - above * (high - low) / (above - below)
        middle = min(max(middle, low + 0.25 * _FINE * high), high - 0.25 * _FINE * high)
        value = excess(middle)
        if value > 0:
            below = below / 2 if side > 0 else below
            high, above, side = middle, value, 1
        else:
            above = above / 2 if side < 0 else above
            low, below, side = middle, value, -1
    return low
