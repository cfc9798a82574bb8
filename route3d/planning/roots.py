"""Where something that is exceeded on one side of a value begins to be: root finding for limits.

Only the sign of the function needs to be right; where it is smooth as well, few steps are taken.
"""

from __future__ import annotations

import math
from collections.abc import Callable

# Roots are found to this share, to which the solution itself is known; printed figures have three
# digits.
FINE = 1e-8


def last_below(
    grows: Callable[[float], float],
    at_none: float,
    high: float,
    times: float,
    most: float = math.inf,
) -> float:
    """Where a function that is ``at_none``, zero or less, at 0 passes zero; inf beyond ``most``.

    It is looked for up to ``high`` first, then ``times`` as far each time. Where that takes a
    tension past the range of floats before anything is reached, nothing is: so much is a blockage.
    """
    low = 0.0
    try:
        while (at_high := grows(high)) <= 0.0:
            low, high, at_none = high, times * high, at_high
            if high > most:
                return math.inf
    except OverflowError:
        return math.inf
    return bracketed(grows, (low, at_none), (high, at_high))[0]


def bracketed(
    grows: Callable[[float], float], low: tuple[float, float], high: tuple[float, float]
) -> tuple[float, float]:
    """Two places next to each other between which a function passes zero: not above, and above.

    ``low`` and ``high`` are two places, each with its value there: zero or less, and above zero.
    What comes back differs by ``FINE`` of the place, unless the function is exactly zero at one.

    Inverse quadratic steps where they are safe, else bisection (T. R. Chandrupatla, Advances in
    Engineering Software 28, 1997, from memory).
    """
    (b, fb), (a, fa) = low, high
    below, above, t = b, a, 0.5
    while True:  # the bracket shrinks with every step, and by half where one does not move
        x = a + t * (b - a)
        fx = grows(x)
        if fx <= 0:
            below = max(below, x)
        else:
            above = min(above, x)
        if (fx > 0) == (fa > 0):
            c, fc = a, fa
        else:
            c, fc, b, fb = b, fb, a, fa
        a, fa = x, fx
        best = a if abs(fa) < abs(fb) else b
        tolerance = FINE * max(abs(best), 1e-6) / max(abs(b - a), 1e-300)
        if tolerance > 0.5 or fa == 0.0:
            break
        t = 0.5
        if fb not in (fa, fc) and fa != fc:
            xi, phi = (a - b) / (c - b), (fa - fb) / (fc - fb)
            if 1.0 - math.sqrt(1.0 - xi) < phi < math.sqrt(xi):
                t = fa / (fb - fa) * fc / (fb - fc)
                t += (c - a) / (b - a) * fa / (fc - fa) * fb / (fc - fb)
        t = min(max(t, tolerance), 1.0 - tolerance)
    return below, above
