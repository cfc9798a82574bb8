"""Round values along an axis, and long lines made short without losing a peak."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from route3d.geometry.vectors import Floats
from route3d.units import convert

_MILLION = 1e6


def tick_step(span: float, most: int) -> float:
    """The least of 1, 2, 2.5, 5, 10, ... that cuts ``span`` into at most ``most``."""
    power = 10.0 ** math.floor(math.log10(span / most))
    return min(m * power for m in (1, 2, 2.5, 5, 10) if m * power * most >= span * (1 - 1e-9))


def length_step(length: float, most: int, system: str) -> float:
    """A round length (m) on the tape of ``system`` that cuts ``length`` into at most ``most``."""
    unit = convert(1.0, "length", system)
    return tick_step(length * unit, most) / unit


def ticks(span: tuple[float, float], most: int) -> list[tuple[float, str]]:
    """Round values within ``span`` and their text, thousands separated by commas, millions as M."""
    low, high = span
    step = tick_step(high - low, most)
    places = max(0, -math.floor(math.log10(step) + 1e-9))
    places += 0 if float(f"{step:.{places}f}") == step or places > 9 else 1
    first = math.ceil(low / step - 1e-9)
    count = math.floor(high / step + 1e-9) - first + 1
    values = [(first + i) * step for i in range(count)]
    if max(abs(low), abs(high)) >= _MILLION:
        return [(v, f"{v / _MILLION:,.6g}M" if v else "0") for v in values]
    return [(v, f"{v + 0.0:,.{places}f}") for v in values]


def steeper(times: float) -> str:
    """How many times heights are drawn larger than lengths: ``x 38``, ``x 2.4``, ``x 0.16``."""
    return f"x {times:,.{0 if times >= 10 else 1 if times >= 1 else 2}f}"


def thinned(x: Floats, y: Floats, columns: int) -> tuple[Floats, Floats]:
    """A long line with the least and largest ``y`` of each of ``columns`` stretches, in order."""
    if len(x) <= 4 * columns:
        return x, y
    cuts = np.unique(np.linspace(0, len(x), columns + 1).astype(int))
    keep = {0, len(x) - 1}
    for a, b in pairwise(cuts):
        keep |= {int(a + np.argmin(y[a:b])), int(a + np.argmax(y[a:b]))}
    rows = np.array(sorted(keep))
    return x[rows], y[rows]
