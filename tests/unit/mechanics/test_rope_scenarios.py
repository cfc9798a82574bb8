"""Many heads and many frictions at once, against the pulls solved one by one."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from route3d.mechanics.pull import Pull, at_friction, solve_pull
from route3d.mechanics.rope_scenarios import head_track
from route3d.model import LeadOff, Practice, Run, Sheave
from tests.support import jobs
from tests.support.jobs import along, at, cable, conduit, lay
from tests.support.routes import Go, Turn, vertices

TURNS = (LeadOff(0.5), LeadOff(1.5, Sheave("s", 0.3, 1e5, 0.95)))
# Both sides are within 1e-8 of the law; slack leaves 1e-6 N of rounding.
SAME = dict(rel=2e-8, abs=1e-5)
AHEAD = (1.0, 0.0, 0.0)  # the way out of a vertical leg
OVER_THE_TOP = [
    *(Go(10), Turn(90, 1.0, "up"), Go(30), Turn(90, 1.0, AHEAD), Go(5)),
    *(Turn(90, 1.0, "down"), Go(30), Turn(90, 1.0, AHEAD), Go(5), Turn(90, 1.0), Go(5)),
]


def corner() -> Run:
    """A turn of no length at a pull point, and two conduits."""
    route = lay(
        at((0, 0, 0), ends="reel machine"),
        at((40, 0, 2), 2.0),
        at((40, 30, 0), ends="reel machine"),
        at((70, 30, -9), 2.0),
        at((70, 60, 0), ends="reel machine"),
        conduits=[conduit(friction=0.2)] * 2 + [conduit(friction=0.35)] * 2,
    )
    return jobs.run(route, [(cable(), 3)], rope=jobs.rope(3.0, 0.15), lead_off=TURNS)


def falling() -> Run:
    """As ``corner``, with friction that falls in both conduits by a test report."""
    run = corner()
    conduits = [
        replace(c, friction_above=load, friction_then=0.5 * c.friction, friction_report="T-1")
        for c, load in zip(run.route.conduits, (120.0, 900.0, 400.0, 700.0), strict=True)
    ]
    return replace(run, route=replace(run.route, conduits=tuple(conduits)))


def over() -> Run:
    shape = vertices(OVER_THE_TOP)
    return jobs.run(along(shape, conduit(friction=0.25)), rope=jobs.rope(), lead_off=TURNS)


def behind(pull: Pull, i: int) -> tuple[float, float]:
    """Largest tension and sidewall pressure of the cable with its head at look ``i``."""
    heads = pull.heads
    assert heads is not None and len(heads) == len(pull.profile.station) // 2 + 1
    rows = slice(0, 2 * i)
    tension = pull.profile.tension[rows].max(initial=pull.reel_tension)
    return tension, pull.profile.sidewall[rows].max(initial=0.0)


@pytest.mark.parametrize("practice", [Practice(), Practice("straights", bend_form="capstan")])
@pytest.mark.parametrize("reverse", [False, True])
@pytest.mark.parametrize("job", [corner, over, falling])
def test_every_head_and_factor_is_the_pull_at_that_friction(job, reverse, practice) -> None:  # type: ignore[no-untyped-def]
    pull = solve_pull(job(), practice, reverse=reverse)
    assert pull.heads is not None
    twice = np.flatnonzero(np.diff(pull.heads) == 0)  # before the turn of no length
    looked = np.setdiff1d(np.arange(len(pull.heads)), twice)
    factors = np.array([0.0, 0.5, 1.0, 1.7])
    found = head_track(pull, pull.heads[looked]).loads(np.tile(factors, (len(looked), 1)))
    for j, factor in enumerate(factors):
        one = at_friction(pull, factor)
        cables, walls = zip(*(behind(one, i) for i in looked), strict=True)
        assert found.machine[:, j] == pytest.approx(one.machine_loads[looked], **SAME)
        assert found.cable[:, j] == pytest.approx(np.array(cables), **SAME)
        assert found.sidewall[:, j] == pytest.approx(np.array(walls), **SAME)


def test_heads_may_stand_anywhere() -> None:
    pull = solve_pull(corner(), Practice())
    heads = np.array([0.0, 3.3, 41.7, 77.7, pull.path.length])
    found = head_track(pull, heads).loads(np.ones((5, 1))).machine[:, 0]
    # Looks are 10 m apart and 7.5 degrees: between two the load is nearly straight.
    assert found == pytest.approx(np.interp(heads, pull.heads, pull.machine_loads), rel=2e-3)


def test_each_head_may_have_a_friction_of_its_own() -> None:
    pull = solve_pull(over(), Practice())
    heads = np.array([5.0, 50.0, 80.0])
    track = head_track(pull, heads)
    factors = np.array([[0.3], [1.0], [2.0]])
    apart = track.loads(factors).machine[:, 0]
    together = track.loads(np.tile(factors.T, (3, 1))).machine
    assert apart == pytest.approx(together.diagonal(), rel=1e-9)


def test_the_rope_is_tightest_at_the_top_of_what_it_hangs_from() -> None:
    """No friction, 40 m up and 40 m down: 2 N/m of rope hang on both sides of the top."""
    up_and_down = along(([[0, 0, 0], [10, 0, 40], [20, 0, 0]], [0, 1.0, 0]), conduit(friction=0.0))
    run = jobs.run(up_and_down, rope=jobs.rope(2.0, 0.0), reel_tension=500.0)
    pull = solve_pull(run, Practice())
    found = head_track(pull, np.array([0.0])).loads(np.ones((1, 1)))
    top = float(pull.path.point(np.linspace(0, pull.path.length, 4001))[:, 2].max())
    assert found.machine[0, 0] == pytest.approx(500.0)
    # Seen every 7.5 degrees: at most w R (1 - cos 3.75 degrees) = 0.004 N short of the top.
    assert found.rope[0, 0] == pytest.approx(500.0 + 2.0 * top, abs=0.01)


def test_friction_beyond_measure_stays_a_number() -> None:
    zigzag = [p for i in range(60) for p in (Go(3), Turn(90, 1, "left" if i % 2 else "right"))]
    run = jobs.run(
        along(vertices([*zigzag, Go(3)]), conduit(friction=0.02)), rope=jobs.rope(2, 0.02)
    )
    pull = solve_pull(run, Practice())
    found = head_track(pull, np.array([0.0, 10.0, 200.0])).loads(np.full((3, 1), 64.0))
    assert np.isfinite(found.machine).all() and (found.machine <= 1e12).all()
    assert found.cable[2, 0] == found.rope[0, 0] == 1e12


def test_without_a_rope_there_is_no_head_to_follow() -> None:
    pull = solve_pull(replace(over(), rope=None), Practice())
    with pytest.raises(ValueError, match="rope"):
        head_track(pull, np.array([0.0]))
