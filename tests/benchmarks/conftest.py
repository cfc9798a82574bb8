"""What all benchmarks share."""

from __future__ import annotations

import gc
import math
from collections.abc import Callable, Iterator
from time import process_time

import numpy as np
import pytest


@pytest.fixture(autouse=True)
def _clean_heap() -> Iterator[None]:
    """What earlier tests left in memory is not looked through again while one is timed."""
    gc.collect()
    gc.freeze()
    yield
    gc.unfreeze()


def _yard() -> float:
    """Processor time (s) of a fixed amount of plain Python and of numpy, half and half."""
    start, total = process_time(), 0.0
    for i in range(400_000):
        total += math.sqrt(i) - 1e-9 * i
    values = np.linspace(0.0, 1.0, 100_000)
    for _ in range(400):
        values = np.sqrt(values * values + 1e-9)
    return process_time() - start


@pytest.fixture
def yards() -> Iterator[Callable[[float], float]]:
    """Turns seconds into yards: what this machine takes for a fixed work, just before.

    A yard is about a tenth of a second on the machine these limits were set on, so that the same
    limit holds on a slower one, or while others work beside it.
    """
    yard = min(_yard() for _ in range(5))
    print(f"\n  a yard is {yard:.3f} s", end="")
    yield lambda seconds: seconds / yard
