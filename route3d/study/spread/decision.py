"""The friction at which the decision turns: where the other end would take less of its limits."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from route3d.geometry.vectors import Floats
from route3d.planning.roots import bracketed

LEAST, MOST = 0.1, 5.0
"""Multipliers on the median friction that are looked through: beyond is another conduit."""
_LOOKS = 161


def turning_friction(peaks: Callable[[Floats], Floats]) -> float | None:
    """The multiplier nearest to 1 at which both ends take the same share of their limits.

    ``peaks`` gives the largest share (2, k) of any limit from both ends at multipliers (k,) on the
    median friction of every conduit. None where the same end is better at all of them. Turns
    between two of the 161 multipliers looked at that turn back before the next are not seen.
    """
    looks = np.geomspace(LEAST, MOST, _LOOKS)
    apart = _apart(peaks(looks))
    at = np.flatnonzero(np.sign(apart[:-1]) * np.sign(apart[1:]) < 0)
    if not at.size:
        return None
    middles = np.abs(np.log(looks[at]) + np.log(looks[at + 1]))
    i = int(at[int(np.argmin(middles))])
    sign = math.copysign(1.0, apart[i + 1])

    def grows(multiplier: float) -> float:
        return sign * float(_apart(peaks(np.array([multiplier])))[0])

    low, high = float(looks[i]), float(looks[i + 1])
    ends = (low, sign * float(apart[i])), (high, sign * float(apart[i + 1]))
    return bracketed(grows, *ends)[0]


def _apart(peaks: Floats) -> Floats:
    """How much more the first end takes than the second, as a logarithm; 0 where neither ends."""
    with np.errstate(invalid="ignore"):
        apart = np.log(peaks[0]) - np.log(peaks[1])
    return np.asarray(np.nan_to_num(apart, nan=0.0))
