"""The rope phase on random routes: cable to the head and rope from there, against DOP853.

COMPUTED, not published: the law of docs/theory.md section 2 integrated piecewise by the independent
solver of ``tests.support.oracle``, first with the cable's weight and friction, then with the
rope's.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from route3d.mechanics.pull import Pull, solve_pull
from route3d.model import LeadOff, Practice, Run, Sheave
from tests.support import jobs
from tests.support.jobs import along, cable, conduit
from tests.support.march import ahead, behind, march
from tests.support.routes import Go, Turn, vertices

# docs/theory.md section 15, of the largest load: the cable's half and the rope's are within it
# together.
ASKED = 1e-8
# The oracle solves a whole route some 30 times a second: this many heads of each route.
HEADS = 6


def random_run(rng: np.random.Generator) -> tuple[Run, float, bool]:
    """Two to four bends in any planes, a cable and rope of any trade size; with its friction."""
    pieces: list[Go | Turn] = []
    for _ in range(rng.integers(2, 5)):
        side = rng.choice(["left", "right", "up", "down", "any"])
        way = rng.normal(size=3) if side == "any" else str(side)
        pieces += [Go(rng.uniform(1.0, 90.0)), Turn(rng.uniform(5, 100), rng.uniform(0.5, 12), way)]
    pieces.append(Go(rng.uniform(1.0, 90.0)))
    heading = rng.normal(size=3) * (1.0, 1.0, 0.3)
    friction = float(rng.uniform(0.05, 0.6))
    line = jobs.rope(float(rng.uniform(0.5, 12.0)), float(rng.uniform(0.0, 0.5)))
    one = jobs.run(
        along(vertices(pieces, heading), conduit(friction=friction)),
        cable(weight=float(rng.uniform(5.0, 150.0))),
        rope=line,
        # Slack, braked, or held hard: all three go on to the rope.
        reel_tension=[None, 0.0, float(rng.uniform(100, 5000))][rng.integers(3)],
    )
    return one, friction, bool(rng.integers(2))


def machine_load(pull: Pull, friction: float, station: float) -> float:
    """Cable to the head and rope on to the machine, by the independent solver."""
    rope, (feed, end) = pull.run.rope, (0.0, pull.path.length)
    assert rope is not None
    if pull.reverse:
        feed, end = end, feed
    tension = pull.reel_tension
    if station != feed:
        part = behind(pull.path, station, pull.reverse) if station != end else pull.path
        k = [friction * pull.fits[0].weight_factor] * len(part)
        tension = march(part, pull.run.cables.weight, k, tension, pull.reverse)[-1]
    if station != end:
        part = ahead(pull.path, station, pull.reverse) if station != feed else pull.path
        tension = march(part, rope.weight, [rope.friction] * len(part), tension, pull.reverse)[-1]
    return tension


@pytest.mark.parametrize("seed", range(16))
def test_machine_load_on_a_random_route(seed: int) -> None:
    rng = np.random.default_rng(seed)
    one, friction, reverse = random_run(rng)
    pull = solve_pull(one, Practice(), reverse=reverse)
    assert pull.heads is not None and pull.machine_loads is not None
    looked = np.linspace(0, len(pull.heads) - 1, HEADS).round().astype(int)
    expected = [machine_load(pull, friction, float(pull.heads[i])) for i in looked]
    largest = max(float(pull.machine_loads.max()), pull.peak_tension)
    assert pull.machine_loads[looked] == pytest.approx(expected, rel=0, abs=ASKED * largest)


def test_the_lead_off_multiplies_what_leaves_the_conduit() -> None:
    """Capstan law over the conduit end, then a sheave that passes on 0.95 of what it takes out."""
    rng = np.random.default_rng(99)
    one, friction, reverse = random_run(rng)
    turns = (LeadOff(0.7), LeadOff(1.5, Sheave("s", 0.3, 1e5, 0.95)))
    turned = jobs.run(
        one.route, one.cables.items, rope=jobs.rope(2.0, 0.2), reel_tension=800.0, lead_off=turns
    )
    pull = solve_pull(turned, Practice(), reverse=reverse)
    assert pull.heads is not None and pull.machine_loads is not None
    for i in (0, len(pull.heads) // 2, -1):
        leaving = machine_load(pull, friction, float(pull.heads[i]))
        expected = leaving * math.exp(0.2 * 0.7) / 0.95
        assert pull.machine_loads[i] == pytest.approx(expected, rel=ASKED)
