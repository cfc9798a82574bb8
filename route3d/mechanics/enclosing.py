"""The smallest circle round a set of circles."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Disc = tuple[float, float, float]


def enclosing_circle(centres: Floats, diameters: Sequence[float]) -> tuple[Floats, float]:
    """Center (2,) and diameter (m) of the smallest circle round all the cables, exact."""
    discs = [(float(x), float(y), d / 2) for (x, y), d in zip(centres, diameters, strict=True)]
    basis = [max(discs, key=lambda c: c[2])]
    x, y, r = basis[0]
    for _ in range(10 * len(discs)):  # each round grows the circle; a few rounds do
        far = max(discs, key=lambda c: math.hypot(c[0] - x, c[1] - y) + c[2])
        if math.hypot(far[0] - x, far[1] - y) + far[2] <= r * (1 + 1e-12):
            break
        x, y, r, basis = _smallest_round([*basis, far])
    return np.array([x, y]), 2 * r


def _smallest_round(discs: list[Disc]) -> tuple[float, float, float, list[Disc]]:
    """Smallest circle round up to four circles: the one of their one, two or three outermost."""
    best: tuple[float, float, float, list[Disc]] | None = None
    for count in (1, 2, 3):
        for group in combinations(discs, count):
            for x, y, r in _tangent_round(group):
                holds = all(math.hypot(a - x, b - y) + q <= r * (1 + 1e-11) for a, b, q in discs)
                if holds and (best is None or r < best[2]):
                    best = (x, y, r, list(group))
    if best is None:  # some three of the circles always decide
        raise ArithmeticError("no circle round the circles: coordinates not finite?")
    return best


def _tangent_round(group: tuple[Disc, ...]) -> list[Disc]:
    """Circles that touch one, two or three circles from outside, all of them held within."""
    x1, y1, r1 = group[0]
    if len(group) == 1:
        return [group[0]]
    if len(group) == 2:
        x2, y2, r2 = group[1]
        apart = math.hypot(x2 - x1, y2 - y1)
        if apart <= abs(r1 - r2):
            return []
        r = (apart + r1 + r2) / 2
        t = (r - r1) / apart
        return [(x1 + t * (x2 - x1), y1 + t * (y2 - y1), r)]
    # |p - ci| = R - ri; differences of the squares are linear in p and R.
    (a, b), (e, f) = [(2 * (x - x1), 2 * (y - y1)) for x, y, _ in group[1:]]
    det = a * f - b * e
    if abs(det) < 1e-18:
        return []
    k = [x * x - x1 * x1 + y * y - y1 * y1 - r * r + r1 * r1 for x, y, r in group[1:]]
    m = [2 * (r - r1) for _, _, r in group[1:]]
    px, qx = (k[0] * f - k[1] * b) / det, (m[0] * f - m[1] * b) / det
    py, qy = (a * k[1] - e * k[0]) / det, (a * m[1] - e * m[0]) / det
    dx, dy = px - x1, py - y1
    A, B, C = qx * qx + qy * qy - 1, dx * qx + dy * qy + r1, dx * dx + dy * dy - r1 * r1
    roots = _roots(A, B, C)
    return [(px + qx * R, py + qy * R, R) for R in roots if min(r for *_, r in group) <= R]


def _roots(A: float, B: float, C: float) -> list[float]:
    """Real roots of ``A R² + 2 B R + C = 0``."""
    if abs(A) < 1e-15:
        return [-C / (2 * B)] if B else []
    disc = B * B - A * C
    if disc < 0:
        return []
    return [(-B - math.sqrt(disc)) / A, (-B + math.sqrt(disc)) / A]
