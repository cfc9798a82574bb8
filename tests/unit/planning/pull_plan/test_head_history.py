"""The pull through time: every column against the pull it comes from, or by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from route3d.mechanics.pull import solve_pull, with_friction
from route3d.model import LeadOff, Practice, Run, Sheave
from route3d.planning.pull_plan.head_history import history
from tests.support.jobs import along, at, cable, conduit, lay, rope, run

PRACTICE = Practice()
POINTS = [[0, 0, 0], [60, 0, 0], [60, 80, 0], [60, 80, 20], [70, 80, 20]]


def bent(**more: object) -> Run:
    return run(along((POINTS, [0, 1.2, 1.5, 1.2, 0]), conduit(friction=0.25)), rope=rope(), **more)


@pytest.mark.parametrize("reverse", [False, True])
def test_columns_are_those_of_the_pull(reverse: bool) -> None:
    pull = solve_pull(bent(), PRACTICE, reverse=reverse)
    found = history(pull)
    assert found is not None and pull.heads is not None
    assert found.station == pytest.approx(pull.heads)
    assert found.load == pytest.approx(pull.machine_loads)
    assert found.pulled[0] == 0.0 and found.pulled[-1] == pytest.approx(pull.path.length)
    assert (np.diff(found.pulled) > 0).all()
    assert found.head_tension[0] == pull.reel_tension
    assert found.head_tension[-1] == pull.end_tension == found.load[-1]
    assert found.sidewall[0] == 0.0 and found.sidewall[-1] == pull.peak_sidewall


@pytest.mark.parametrize("reverse", [False, True])
def test_sidewall_is_the_worst_behind_the_head(reverse: bool) -> None:
    pull = solve_pull(bent(), PRACTICE, reverse=reverse)
    found = history(pull)
    assert found is not None
    rows = np.abs(pull.profile.station - found.station[0])
    for pulled, pressure in zip(found.pulled[1:], found.sidewall[1:], strict=True):
        # The row at the head itself counts on this side of it only: the even rows begin a piece.
        behind = rows <= pulled
        behind[::2] &= rows[::2] < pulled
        assert pressure == pull.profile.sidewall[behind].max()


def test_restart_is_the_same_pull_at_static_friction_and_the_same_brake() -> None:
    drop = along(([[0, 0, 40], [20, 0, 0], [60, 0, 0]], [0, 1.5, 0]), conduit(friction=0.2))
    pull = solve_pull(run(drop, rope=rope()), PRACTICE)
    found = history(pull)
    static = with_friction(replace(pull.run, reel_tension=pull.reel_tension), PRACTICE.restart)
    assert pull.reel_tension > 100.0
    assert found is not None
    assert found.restart == pytest.approx(solve_pull(static, PRACTICE).machine_loads)
    assert (found.restart >= found.load).all()


def test_on_a_level_straight_every_column_is_known() -> None:
    """T = mu w s behind the head and the rope's mu w (L - s) ahead; a restart is 1.3 times it."""
    level = along(([[0, 0, 0], [200, 0, 0]], [0, 0]), conduit(friction=0.3))
    pull = solve_pull(run(level, cable(weight=25.0), rope=rope(2.0, 0.2)), PRACTICE)
    found = history(pull)
    assert found is not None
    head = 0.3 * 25.0 * found.pulled
    assert found.head_tension == pytest.approx(head)
    assert found.load == pytest.approx(head + 0.2 * 2.0 * (200 - found.pulled))
    assert found.restart == pytest.approx(1.3 * found.load)
    assert (found.sidewall == 0).all()


def test_the_lead_off_is_in_running_and_restart_loads() -> None:
    turns = (LeadOff(1.5, Sheave("s", 0.3, 1e5, 0.9)),)
    straight, turned = (history(solve_pull(bent(lead_off=t), PRACTICE)) for t in ((), turns))
    assert straight is not None and turned is not None
    assert turned.load == pytest.approx(straight.load / 0.9)
    assert turned.restart == pytest.approx(straight.restart / 0.9)
    assert turned.head_tension == pytest.approx(straight.head_tension)


def test_a_turn_at_a_pull_point_is_two_heads_at_one_place() -> None:
    route = lay(
        at((0, 0, 0), ends="reel machine"),
        at((40, 0, 0), 2.0),
        at((40, 30, 0), ends="reel machine"),
        at((70, 30, 0), 2.0),
        at((70, 60, 0), ends="reel machine"),
        conduits=conduit(friction=0.25),
    )
    pull = solve_pull(run(route, rope=rope()), PRACTICE)
    found = history(pull)
    assert found is not None
    assert (np.diff(found.pulled) == 0).sum() == 1  # before and after the turn
    assert (np.diff(found.sidewall) >= 0).all()
    assert found.sidewall[-1] == pull.peak_sidewall


def test_no_rope_no_history() -> None:
    assert history(solve_pull(replace(bent(), rope=None), PRACTICE)) is None


def test_what_is_kept_cannot_be_written_over() -> None:
    found = history(solve_pull(bent(), PRACTICE))
    assert found is not None
    with pytest.raises(ValueError, match="read-only"):
        found.load[0] = 1.0
