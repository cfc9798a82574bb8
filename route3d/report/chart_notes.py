"""Where a chart's curve is above a limit, and where words beside it meet no curve."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from route3d.geometry.vectors import Floats

Rect = tuple[float, float, float, float]
"""Left, top, right, bottom in px; y counts down."""

_TRIED = 9  # places along a panel
_OVER, _UNDER, _BESIDE = 14.0, 6.0, 6.0  # px about the foot of a line of words that stay free


def above(x: Floats, y: Floats, limit: float) -> tuple[Floats, Floats]:
    """The parts of a line (n,) above ``limit``, cut where it crosses; NaN between them."""
    i = np.flatnonzero((y[:-1] - limit) * (y[1:] - limit) < 0)
    share = (limit - y[i]) / (y[i + 1] - y[i])
    at = np.insert(x, i + 1, x[i] + share * (x[i + 1] - x[i]))
    value = np.insert(y, i + 1, limit)
    return at, np.where(value >= limit, value, np.nan)


def free_starts(
    curves: Sequence[tuple[Floats, Floats]], panel: Rect, wide: float, y: float
) -> list[float]:
    """Where words ``wide`` px long with their foot at ``y`` may begin in a panel, left to right.

    ``curves`` are pixels (n,) and (n,), in order of x or against it. None where the words would
    leave the panel.
    """
    left, top, right, bottom = panel
    rows = (y - _OVER, y + _UNDER)
    if rows[0] < top - _OVER / 2 or rows[1] > bottom:
        return []
    last = max(right - wide - _BESIDE, left + _BESIDE)
    starts = np.linspace(left + _BESIDE, last, _TRIED).tolist()
    return [
        x
        for x in starts
        if not any(_meets(c, (x - _BESIDE, rows[0], x + wide + _BESIDE, rows[1])) for c in curves)
    ]


def _meets(curve: tuple[Floats, Floats], rect: Rect) -> bool:
    left, top, right, bottom = rect
    x, y = (c[::-1] if curve[0][0] > curve[0][-1] else c for c in curve)
    ends = np.interp([left, right], x, y)
    inside = np.concatenate((ends, y[(x > left) & (x < right)]))
    inside = inside[np.isfinite(inside)]
    return bool(inside.size and inside.max() > top and inside.min() < bottom)
