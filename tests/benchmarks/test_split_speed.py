"""Thirty pull points, every plan; run with ``pytest -s -m benchmarks`` on a quiet machine."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from route3d.model import Allowances, Gear, Practice, Route, Run
from route3d.planning.splitting.timing import best_splits
from tests.benchmarks.conftest import Timing
from tests.support import jobs
from tests.support.jobs import BOTH, at, cable, conduit, lay

pytestmark = pytest.mark.benchmarks
POINTS = 30
MOST = 10.0  # yards, about a second


def long_route(bends: int, rise: float, fall: float, friction: float) -> Route:
    """A staircase of 15 to 40 m legs, hilly (``rise`` m a leg) or falling, splices anywhere."""
    rng = np.random.default_rng(1)
    place, vertices = np.zeros(3), [at((0, 0, 0), name="P0", ends=BOTH)]
    for leg in range((POINTS + 1) * (bends + 1)):
        step = rng.uniform(15, 40)
        place = place + [step * (leg % 2), step * (1 - leg % 2), rng.normal() * rise - fall]
        point = (leg + 1) % (bends + 1) == 0
        name = f"P{(leg + 1) // (bends + 1)}"
        vertices.append(
            at(place.tolist(), name=name, ends=BOTH) if point else at(place.tolist(), 1.2)
        )
    return lay(*vertices, conduits=conduit(friction=friction))


def job(route: Route, strong: float) -> Run:
    run = jobs.run(
        route,
        [(cable(area=strong * 240e-6, sidewall_limit=strong * 7000.0), 3)],
        rope=jobs.rope(rated_load=strong * 40e3),
        machine=jobs.machine(strong * 30e3),
    )
    return replace(run, splices=frozenset(route.pull_points))


CASES = {
    "level, hard": (long_route(2, 0.0, 0.0, 0.25), 1.0),
    "hilly, hard": (long_route(2, 2.0, 0.0, 0.25), 1.0),
    "hilly and slippery": (long_route(2, 2.0, 0.0, 0.02), 1e3),
    "falling all the way": (long_route(2, 0.0, 15.0, 0.05), 1e3),
}


@pytest.mark.parametrize("gears", [1, 2])
@pytest.mark.parametrize("case", CASES)
def test_thirty_pull_points(
    case: str, gears: int, timed: Timing, yards: Callable[[float], float]
) -> None:
    route, strong = CASES[case]
    run = job(route, strong)
    assert run.machine is not None
    low = run.machine.gears[0]
    more = (Gear(0.4 * low.line_pull, 3 * low.speed),) if gears == 2 else ()
    run = replace(run, machine=replace(run.machine, gears=(low, *more)))
    found = best_splits(run, Practice(), Allowances())
    spent = timed("split", lambda: best_splits(run, Practice(), Allowances()), 3, 0)
    setups = [plan.setups for plan in found.plans]
    words = f"{case}, {gears} gears: {found.solved} pulls, set-ups {setups}"
    print(f"\n  {words}, {len(found.notes)} notes, {spent:.2f} s", end="")
    assert len(route.pull_points) == POINTS
    assert len(found.plans) == 3
    assert yards(spent) <= MOST
