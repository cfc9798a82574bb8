"""What all benchmarks share."""

from __future__ import annotations

import gc
from collections.abc import Iterator

import pytest


@pytest.fixture(autouse=True)
def _clean_heap() -> Iterator[None]:
    """What earlier tests left in memory is not looked through again while one is timed."""
    gc.collect()
    gc.freeze()
    yield
    gc.unfreeze()
