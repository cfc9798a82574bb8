"""The stop load: the machine load of the pull in which friction has just brought a limit."""

from __future__ import annotations

from dataclasses import replace

import pytest

from route3d.checks.limits import conductor_limit, utilisation
from route3d.mechanics.pull import solve_pull, with_friction
from route3d.model import Practice
from route3d.planning.stop_load import stop_load
from tests.support.jobs import along, cable, conduit, machine, rope, run

PRACTICE = Practice()
# The factor is found to 1e-3 from below, and tension grows no faster than e^(3 K phi) here.
CLOSE = 5e-3


def level(length: float = 200.0, **more: object):  # type: ignore[no-untyped-def]
    """A level straight: T = mu w L, and rope ahead of the head only while it is on the way."""
    route = along(([[0, 0, 0], [length, 0, 0]], [0, 0]), conduit(friction=0.3))
    return run(route, cable(weight=25.0, area=40e-6), rope=rope(), machine=machine(), **more)


def test_on_a_level_straight_it_is_the_conductor_limit_itself() -> None:
    """The head's tension at the end is the machine's load, and 0.3 x 25 x 200 N is 1500 N."""
    pull = solve_pull(level(), PRACTICE)
    limit = conductor_limit(pull.run, PRACTICE).value
    found = stop_load(pull)
    assert found is not None
    assert pull.end_tension == pytest.approx(1500.0, rel=1e-9)
    assert found.limit == "conductor"
    assert limit * (1 - CLOSE) < found.load <= limit
    assert found.factor == pytest.approx(limit / 1500.0, rel=2e-3)


def test_a_weaker_machine_is_what_stops_first() -> None:
    pull = solve_pull(replace(level(), machine=machine(line_pull=1600.0)), PRACTICE)
    found = stop_load(pull)
    assert found is not None
    assert (found.limit, found.factor > 1) == ("machine", True)
    assert 1600.0 * (1 - CLOSE) < found.load <= 1600.0


def test_where_the_plan_breaks_a_limit_it_is_below_the_planned_load() -> None:
    pull = solve_pull(replace(level(), machine=machine(line_pull=1000.0)), PRACTICE)
    found = stop_load(pull)
    assert found is not None
    assert found.factor < 1
    assert 1000.0 * (1 - CLOSE) < found.load <= 1000.0


@pytest.mark.parametrize("reverse", [False, True])
def test_no_limit_is_broken_at_it_and_one_is_just_above(reverse: bool) -> None:
    points = [[0, 0, 0], [60, 0, 0], [60, 80, 0], [60, 80, 20], [70, 80, 20]]
    bends = along((points, [0, 1.2, 1.5, 1.2, 0]), conduit(friction=0.25))
    pull = solve_pull(run(bends, rope=rope(), machine=machine()), PRACTICE, reverse=reverse)
    found = stop_load(pull)
    assert found is not None
    held = replace(pull.run, reel_tension=pull.reel_tension)

    def share(factor: float) -> float:
        again = solve_pull(with_friction(held, factor), PRACTICE, reverse=reverse)
        return utilisation(again).peak

    assert share(found.factor) <= 1
    assert share(found.factor * 1.002) > 1  # found to one part in a thousand
    assert found.loads.max() == pytest.approx(found.load)
    assert found.heads.shape == found.loads.shape


def test_the_reel_is_held_as_planned() -> None:
    """A steep drop needs a brake. More friction would need less of it, but the crew cannot know."""
    route = along(([[0, 0, 40], [20, 0, 0]], [0, 0]), conduit(friction=0.2))
    pull = solve_pull(run(route, rope=rope(), machine=machine(line_pull=1200.0)), PRACTICE)
    found = stop_load(pull)
    assert found is not None
    less_brake = solve_pull(with_friction(pull.run, found.factor), PRACTICE)
    assert less_brake.reel_tension < pull.reel_tension
    held = replace(pull.run, reel_tension=pull.reel_tension)
    again = solve_pull(with_friction(held, found.factor), PRACTICE)
    assert again.machine_peak == pytest.approx(found.load)
    assert less_brake.machine_peak < 0.99 * found.load


def test_straight_up_friction_does_nothing_and_there_is_no_stop_load() -> None:
    route = along(([[0, 0, 0], [0, 0, 30]], [0, 0]), conduit(friction=0.3))
    pull = solve_pull(run(route, rope=rope(), machine=machine()), PRACTICE)
    assert stop_load(pull) is None


def test_a_limit_broken_without_any_friction_gives_none() -> None:
    route = along(([[0, 0, 0], [0, 0, 30]], [0, 0]), conduit(friction=0.3))
    pull = solve_pull(run(route, rope=rope(), machine=machine(line_pull=500.0)), PRACTICE)
    assert pull.machine_peak == pytest.approx(750.0, rel=0.2)  # 25 N/m of cable, or the rope's
    assert stop_load(pull) is None


def test_without_a_rope_the_gauge_cannot_be_foretold() -> None:
    assert stop_load(solve_pull(replace(level(), rope=None), PRACTICE)) is None
