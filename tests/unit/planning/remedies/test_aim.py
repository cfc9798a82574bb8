"""The quick share a remedy is sought with, against the full solution; and the search itself."""

from __future__ import annotations

import math
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from route3d.errors import InputError
from route3d.mechanics.pull import at_friction, solve_pull
from route3d.modelfile.read import loads
from route3d.planning.direction import candidate
from route3d.planning.remedies.aim import Aim, least, taken
from tests.support.failing_jobs import random_job

AIM = Aim(0.9, 1.1)


@pytest.mark.parametrize("seed", range(12))
def test_the_quick_loads_are_those_of_the_full_solution(seed: int) -> None:
    """At joints of whole bends and straights, so never more, and hardly less."""
    try:
        job = loads(random_job(seed), "random.toml", Path())
    except InputError:
        pytest.skip("no route")
    run = job.runs[0]
    for reverse in (False, True):
        quick = taken(run, job.practice, AIM, reverse=reverse)
        if quick is None:
            continue
        full = candidate(solve_pull(run, job.practice, reverse=reverse)).planned
        for factor, loads_found in ((1.0, quick.planned), (AIM.friction, quick.raised)):
            exact = (full if factor == 1.0 else at_friction(full, factor)).peaks
            for low, high in zip(loads_found, exact, strict=True):
                assert low <= high * (1 + 1e-6)
                assert low == pytest.approx(high, rel=0.02)


def test_the_share_is_that_of_the_aim() -> None:
    job = loads(random_job(6), "random.toml", Path())
    quick = taken(job.runs[0], job.practice, AIM, reverse=False)
    assert quick is not None
    planned, raised = (quick.rated.utilization(p) for p in (quick.planned, quick.raised))
    assert quick.share == pytest.approx(max(planned.peak / 0.9, raised.peak))
    assert quick.of_limits == pytest.approx(planned.peak)
    assert quick.share_of("rope") == pytest.approx(max(planned.rope / 0.9, raised.rope))  # type: ignore[operator, type-var]


@settings(deadline=None)
@given(
    at=st.floats(0.02, 9.7),
    steep=st.floats(0.1, 30.0),
    step=st.sampled_from([0.01, 0.05, 0.3]),
)
def test_the_least_figure_on_a_grid_is_found(at: float, steep: float, step: float) -> None:
    """A share that falls through 1 somewhere: the first grid point past it, as counted out."""

    def share(x: float) -> float:
        return math.exp(-steep * (x - at))

    found = least(share, 0.0, 10.0, step)
    grid = [k * step for k in range(1, math.floor(10.0 / step + 1e-9) + 1)]
    assert found == next((x for x in grid if share(x) <= 1.0), None)


def test_a_share_that_is_infinite_on_one_side_is_searched_too() -> None:
    assert least(lambda x: math.inf if x < 3.3 else 0.5, 0.0, 8.0, 0.5) == pytest.approx(3.5)
    assert least(lambda x: 0.5, 0.0, 8.0, 0.5) == pytest.approx(0.5)
    assert least(lambda x: 2.0, 0.0, 8.0, 0.5) is None
    assert least(lambda x: 0.5, 3.0, 3.0, 0.5) is None
