"""Axes of a flat chart: from values to places, round numbers beside them, room for words."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from route3d.drawing.marks import Line, Mark, Rect, Text
from route3d.geometry.vectors import Floats
from route3d.units import convert

Value = TypeVar("Value", float, Floats)

_MILLION = 1e6
_DEEP = 3.0
"""m; grade is shown beside a route that is no farther from it (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Axes:
    """One panel: ``rect`` on the drawing, ``x`` and ``y`` the values at its sides."""

    rect: Rect
    x: tuple[float, float]
    y: tuple[float, float]

    @property
    def size(self) -> tuple[float, float]:
        """Width and height."""
        return self.rect[2] - self.rect[0], self.rect[3] - self.rect[1]

    def across(self, x: Value) -> Value:
        """Position of a value of x."""
        return self.rect[0] + self.size[0] * (x - self.x[0]) / (self.x[1] - self.x[0])

    def down(self, y: Value) -> Value:
        """Position of a value of y."""
        return self.rect[3] - self.size[1] * (y - self.y[0]) / (self.y[1] - self.y[0])

    def place(self, x: Floats, y: Floats) -> Floats:
        """Positions of points, (n,) and (n,) to (n, 2)."""
        return np.column_stack((self.across(x), self.down(y)))

    @property
    def steepness(self) -> float:
        """How many times larger y is drawn than x."""
        wide, high = self.size
        return (high / (self.y[1] - self.y[0])) / (wide / (self.x[1] - self.x[0]))


# --- round numbers -----------------------------------------------------------------------------


def round_up(value: float, digits: Sequence[float] = (1, 2, 2.5, 5, 10)) -> float:
    """The least of the round ``digits``, times any power of ten, that is no less than a value."""
    power = 10.0 ** math.floor(math.log10(value))
    return float(min(m * power for m in digits if m * power >= value * (1 - 1e-9)))


def round_down(value: float) -> float:
    """The largest 1, 2, 5, 10, ... that is not more than ``value``."""
    power = 10.0 ** math.floor(math.log10(value))
    return float(max(m * power for m in (1, 2, 5) if m * power <= value * (1 + 1e-9)))


def tick_step(span: float, most: int) -> float:
    """The least of 1, 2, 2.5, 5, 10, ... that cuts ``span`` into at most ``most``."""
    return round_up(span / most)


def length_step(length: float, most: int, system: str) -> float:
    """A round length (m) on the tape of ``system`` that cuts ``length`` into at most ``most``."""
    unit = convert(1.0, "length", system)
    return tick_step(length * unit, most) / unit


def multiples(step: float, low: float, high: float) -> list[float]:
    """The multiples of ``step`` from ``low`` to ``high``, ends included."""
    first, last = math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9)
    return [i * step + 0.0 for i in range(first, last + 1)]


def ticks(span: tuple[float, float], most: int) -> list[tuple[float, str]]:
    """Round values within ``span`` and their text, thousands separated by commas, millions as M."""
    low, high = span
    step = tick_step(high - low, most)
    places = max(0, -math.floor(math.log10(step) + 1e-9))
    places += 0 if float(f"{step:.{places}f}") == step or places > 9 else 1
    values, largest = multiples(step, low, high), max(abs(low), abs(high))
    if largest >= _MILLION**2:
        return [(v, f"{v:.3g}") for v in values]
    if largest >= _MILLION:
        return [(v, f"{v / _MILLION:,.6g}M" if v else "0") for v in values]
    return [(v, f"{v:,.{places}f}") for v in values]


def steeper(times: float) -> str:
    """How many times heights are drawn larger than lengths: ``x 38``, ``x 2.4``, ``x 0.16``."""
    return f"x {times:,.{0 if times >= 10 else 1 if times >= 1 else 2}f}"


def with_grade(low: float, high: float, ground: Floats) -> tuple[float, float]:
    """Elevations widened to the ``ground`` (n,) m, where it is near.

    Or no farther than the route rises. What of the ground is not known is not a number.
    """
    known = ground[np.isfinite(ground)]
    if not len(known):
        return low, high
    least, most = float(known.min()), float(known.max())
    off = max(low - most, least - high, 0.0)
    if off > max(_DEEP, high - low):
        return low, high
    return min(low, least), max(high, most)


def figures_up(
    axes: Axes, factor: float, most: int, size: float, line: str, color: str
) -> Iterator[Mark]:
    """A level line at every round value of y, its figure at the left.

    ``factor`` takes values to the unit shown; letters are ``size`` px.
    """
    left, _, right, _ = axes.rect
    for value, words in ticks((axes.y[0] * factor, axes.y[1] * factor), most):
        y = axes.down(value / factor)
        yield Line(((left, y), (right, y)), line, 1.0)
        yield Text((left - 0.6 * size, y), words, size, color, False, "right")


def figures_along(axes: Axes, factor: float, size: float, gap: float, color: str) -> Iterator[Text]:
    """Round values of x, ``gap`` px below the axis; it may run either way."""
    low, high = sorted(axes.x)
    for value, words in ticks((low * factor, high * factor), 8 if axes.size[0] > 500 else 4):
        at = (axes.across(value / factor), axes.rect[3] + gap)
        yield Text(at, words, size, color, False, "middle")


# --- curves ------------------------------------------------------------------------------------


def thinned(x: Floats, y: Floats, columns: int) -> tuple[Floats, Floats]:
    """A long line with the least and largest ``y`` of each of ``columns`` stretches, in order."""
    if len(x) <= 4 * columns:
        return x, y
    rows = kept_rows(y, 2 * columns)
    return x[rows], y[rows]


def kept_rows(values: Floats, most: int) -> NDArray[np.int64]:
    """At most about ``most`` rows in order: the ends, and low and high of equal stretches."""
    count = len(values)
    if count <= most:
        return np.arange(count)
    cuts = np.unique(np.linspace(0, count, max(most // 2, 1) + 1).astype(np.int64))
    keep = {0, count - 1}
    for a, b in pairwise(cuts):
        keep |= {int(a + np.argmin(values[a:b])), int(a + np.argmax(values[a:b]))}
    return np.array(sorted(keep), dtype=np.int64)


def above(x: Floats, y: Floats, limit: float) -> tuple[Floats, Floats]:
    """The parts of a line (n,) above ``limit``, cut where it crosses; NaN between them."""
    i = np.flatnonzero((y[:-1] - limit) * (y[1:] - limit) < 0)
    share = (limit - y[i]) / (y[i + 1] - y[i])
    at = np.insert(x, i + 1, x[i] + share * (x[i + 1] - x[i]))
    value = np.insert(y, i + 1, limit)
    return at, np.where(value >= limit, value, np.nan)
