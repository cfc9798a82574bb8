"""The worst of many lines, found with one line, against all of them carried one by one."""

from __future__ import annotations

import numpy as np
import pytest

from route3d.geometry import Path, fillet
from route3d.mechanics.pull import solve_pull
from route3d.mechanics.tension import carry
from route3d.mechanics.worst_line import carry_worst
from route3d.model import Practice
from tests.support import jobs
from tests.support.jobs import along, cable, conduit
from tests.support.routes import Go, Turn, vertices

AHEAD = (1.0, 0.0, 0.0)
OVER_THE_TOP = [
    *(Go(10), Turn(90, 1.0, "up"), Go(30), Turn(90, 1.0, AHEAD), Go(5)),
    *(Turn(90, 1.0, "down"), Go(30), Turn(90, 1.0, AHEAD), Go(5), Turn(90, 1.0), Go(5)),
]


def wild(rng: np.random.Generator) -> Path:
    """Twelve bends every way up: steep falls, on which a light line goes slack, among them."""
    points, t = [np.zeros(3)], np.array([1.0, 0.0, 0.0])
    for _ in range(13):
        points.append(points[-1] + t * rng.uniform(8, 30))
        aside = np.cross(t, rng.normal(size=3))
        angle = rng.uniform(0.1, 1.5)
        t = np.cos(angle) * t + np.sin(angle) * aside / np.linalg.norm(aside)
    return fillet(points, [0.0, *rng.uniform(0.5, 2.0, 12), 0.0])


@pytest.mark.parametrize("seed", range(25))
def test_it_is_the_largest_of_all_lines(seed: int) -> None:
    rng = np.random.default_rng(seed)
    path = wild(rng)
    nodes = np.sort(rng.choice(len(path) + 1, size=9, replace=False))
    tensions = rng.uniform(0.0, 400.0, 9) * rng.integers(0, 2, 9)
    weight, friction = rng.uniform(1.0, 10.0), rng.uniform(0.0, 0.4)
    loads = carry(path, weight, friction, tensions, nodes)
    found = carry_worst(path, weight, friction, tensions, nodes)
    # Both kernels are held to 1e-8 of the exact solution; 1e-6 N is slack to rounding.
    assert found.tension == pytest.approx(loads.max(), rel=1e-8, abs=1e-6)
    assert loads[found.line] == pytest.approx(loads.max(), rel=1e-8, abs=1e-6)


@pytest.mark.parametrize("reverse", [False, True])
def test_the_peak_of_a_pull_is_that_of_its_loads(reverse: bool) -> None:
    """Over the top the peak comes before the head arrives."""
    route = along(vertices(OVER_THE_TOP), conduit(friction=0.25))
    run = jobs.run(route, cable(), rope=jobs.rope(1.0, 0.2))
    pull = solve_pull(run, Practice(), reverse=reverse)
    assert pull.machine_loads is not None and pull.heads is not None
    assert pull.machine_peak == pytest.approx(pull.machine_loads.max(), rel=1e-12)
    assert pull.machine_peak_head == pull.heads[int(np.argmax(pull.machine_loads))]
    assert pull.machine_peak > 1.1 * pull.end_tension


def test_a_line_that_starts_at_the_end_is_where_it_stays() -> None:
    path = fillet([[0, 0, 0], [10, 0, 0]], [0, 0])
    found = carry_worst(path, 2.0, 0.5, np.array([1.0, 300.0]), np.array([0, 1]))
    assert found == (1, 300.0, [1.0, 300.0])
    found = carry_worst(path, 2.0, 0.5, np.array([1.0, 3.0]), np.array([0, 1]))
    assert found.line == 0 and found.tension == pytest.approx(1.0 + 0.5 * 2.0 * 10, rel=1e-12)
