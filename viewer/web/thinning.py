"""Fewer rows of a long series, chosen so that no peak is lost."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.vectors import Floats


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
