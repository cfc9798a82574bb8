"""Axes of a flat chart: from values to pixels, and the numbers beside them."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from route3d.geometry.vectors import Floats
from viewer.bar import ticks
from viewer.overlay import Rect


@dataclass(frozen=True, slots=True)
class Axes:
    """One panel: ``rect`` on the picture, ``x`` and ``y`` the values at its sides, SI."""

    rect: Rect
    x: tuple[float, float]
    y: tuple[float, float]

    def place(self, x: Floats, y: Floats) -> Floats:
        """Pixels of points, (n,) and (n,) to (n, 2)."""
        left, top, right, bottom = self.rect
        across = (x - self.x[0]) / (self.x[1] - self.x[0])
        up = (y - self.y[0]) / (self.y[1] - self.y[0])
        return np.column_stack((left + across * (right - left), bottom - up * (bottom - top)))


def round_between(low: float, high: float, most: int) -> list[float]:
    """Round numbers from ``low`` to ``high``, about ``most`` of them."""
    steps = ticks(high - low, most)
    step = steps[1] if len(steps) > 1 else high - low
    first = math.ceil(low / step - 1e-9)
    return [k * step + 0.0 for k in range(first, math.floor(high / step + 1e-9) + 1)]


_DEEP = 3.0
"""m; grade is shown beside a route that is no farther from it (common practice, no source)."""


def with_grade(low: float, high: float) -> tuple[float, float]:
    """Elevations widened to grade at 0 m, where it is near or no farther than the route rises."""
    off = max(low, -high, 0.0)
    if off > max(_DEEP, high - low):
        return low, high
    return min(low, 0.0), max(high, 0.0)


def tick_words(value: float) -> str:
    """A number beside an axis, without a power of ten where a person would write none."""
    if abs(value) >= 1e12:
        return f"{value:.3g}"
    if abs(value) >= 1e6:
        return f"{value / 1e6:,.4g}M"
    return f"{value:,.0f}" if abs(value) >= 1e4 else f"{value:,.4g}"


def thin(pixels: Floats) -> Floats:
    """Without points that are less than half a pixel from the last one kept."""
    keep = [0]
    for i in range(1, len(pixels)):
        if abs(pixels[i] - pixels[keep[-1]]).max() >= 0.5:
            keep.append(i)
    if keep[-1] != len(pixels) - 1:
        keep.append(len(pixels) - 1)
    return np.asarray(pixels[keep])
