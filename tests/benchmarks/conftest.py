"""What all benchmarks share."""

from __future__ import annotations

import gc
import math
from collections.abc import Callable, Iterator
from pathlib import Path
from time import process_time
from typing import Any, Protocol

import numpy as np
import pytest

from route3d.docs.benchmarks import FIGURES

HERE = Path(__file__).parent


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Time of this process, where a test asks for no other clock: others work beside it."""
    for item in items:
        if item.path.is_relative_to(HERE) and item.get_closest_marker("benchmark") is None:
            item.add_marker(pytest.mark.benchmark(timer=process_time))


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


class Timing(Protocol):
    """See :func:`timed`."""

    def __call__(
        self,
        figure: str,
        work: Callable[[], object],
        rounds: int = 5,
        warmup: int = 1,
        note: Callable[[float], str] | None = None,
    ) -> float:
        """The least seconds of some ``rounds`` of a work."""
        ...


@pytest.fixture
def timed(benchmark: Any, yards: Callable[[float], float]) -> Timing:
    """Times a work and keeps it as the figure of that name; ``note`` goes into the table."""

    def least(
        figure: str,
        work: Callable[[], object],
        rounds: int = 5,
        warmup: int = 1,
        note: Callable[[float], str] | None = None,
    ) -> float:
        assert figure in FIGURES
        benchmark.pedantic(work, rounds=rounds, warmup_rounds=warmup)
        if benchmark.stats is None:
            pytest.skip("nothing is timed in several processes: leave out -n")
        taken: float = benchmark.stats.stats.min
        benchmark.extra_info.update(figure=figure, yards=round(yards(taken), 5))
        if note is not None:
            benchmark.extra_info["note"] = note(taken)
        return taken

    return least
