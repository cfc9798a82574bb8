"""The reel end by hand: lengths of cable, what it weighs, what its brakes hold."""

from __future__ import annotations

import math

import pytest

from route3d.checks.limits import check_slack
from route3d.mechanics.feed import reel_drag
from route3d.mechanics.pull import Pull, solve_pull
from route3d.model import Allowances, Practice, Reel
from route3d.planning.margins import BrakeWindow, brake_findings
from route3d.planning.pull_plan.feeding import Draw, eased, feeding
from route3d.planning.pull_plan.findings import reel_findings
from route3d.units import render
from tests.support.jobs import along, cable, conduit, run

ALLOWANCES = Allowances(feed_slack=3.0, pull_slack=2.0)


def pulled(
    points: list[list[float]], count: int = 1, friction: float = 0.3, **more: object
) -> Pull:
    duct = conduit(friction=friction, friction_low=friction, friction_high=friction)
    route = along((points, [0.0] * len(points)), duct)
    return solve_pull(run(route, [(cable(), count)], **more), Practice())


LEVEL = [[0.0, 0, 0], [100, 0, 0]]


def test_cable_for_the_run_and_for_both_ends() -> None:
    """100 m of run, 3 m at the reel and 2 m beyond the conduit: 105 m each, 315 m of three."""
    found = feeding(pulled(LEVEL, 3, reel_tension=0.0), ALLOWANCES)
    assert found.cable_length == pytest.approx(105.0)
    assert found.total_length == pytest.approx(315.0)
    assert (found.pulled_out, found.left_over) == (2.0, 3.0)
    none = feeding(pulled(LEVEL, reel_tension=0.0), Allowances(feed_slack=0.0, pull_slack=0.0))
    assert none.cable_length == pytest.approx(100.0)


def test_mass_is_that_of_the_whole_set() -> None:
    """Three cables of 25 N/m are 7.648 kg/m; 105 m of them are 803.0 kg."""
    found = feeding(pulled(LEVEL, 3, reel_tension=0.0), ALLOWANCES)
    assert found.set_mass == pytest.approx(803.03, abs=0.005)


@pytest.mark.parametrize(("diameter", "moment"), [(2.4, 1800.0), (1.2, 900.0), (None, None)])
def test_the_brakes_hold_the_tension_at_the_radius_of_a_full_reel(
    diameter: float | None, moment: float | None
) -> None:
    """1,500 N on half of 2.4 m are 1,800 Nm."""
    reel = Reel("drum", diameter=diameter)
    found = feeding(pulled(LEVEL, reel_tension=1500.0, reel=reel), ALLOWANCES)
    assert found.tension == 1500.0
    assert found.moment == (None if moment is None else pytest.approx(moment))


def test_without_a_reel_there_is_no_moment_and_no_reel_mass() -> None:
    found = feeding(pulled(LEVEL, reel_tension=1500.0), ALLOWANCES)
    assert found.moment is None and found.reel_mass is None


# --- brake or none -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("needed", "braked"), [(0.0, False), (0.99, False), (1.01, True), (250.0, True)]
)
def test_less_than_a_newton_is_no_brake(needed: float, braked: bool) -> None:
    """A slope of 100 m at friction 0.3 holds a cable of 25 N/m down to a fall of 30 m.

    Every meter more asks for 25 N (statics). The range of friction is closed here.
    """
    pull = pulled([[0, 0, 0], [100, 0, -(30 + needed / 25)]])
    assert pull.brake == pytest.approx(needed, abs=1e-6)
    found = feeding(pull, ALLOWANCES)
    assert found.window is not None and found.window.holds is braked
    words = " ".join(render(note, "SI") for note in found.notes)
    assert ("Test the brakes" in words and "Brake the reels: at least" in words) is braked
    assert ("Brake lightly to prevent overrun" in words) is not braked
    rules = {f.rule: f.severity for f in brake_findings(pull, found.window)}
    assert rules["reel brake"] == ("caution" if braked else "note")


@pytest.mark.parametrize(("given", "severity"), [(250.0, ""), (245.0, "stop"), (200.0, "stop")])
def test_a_brake_that_is_given_is_held_against_what_is_needed(given: float, severity: str) -> None:
    """A fall of 40 m asks for 250 N; with 200 N the last fifth runs loose."""
    drop = [[0.0, 0, 0], [100, 0, -40]]
    found = check_slack(pulled(drop, reel_tension=given))
    assert [f.severity for f in found] == ([severity] if severity else [])
    for finding in found:
        assert finding.limit == pytest.approx(250.0)


# --- the reel's own mass -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("mass", "cautioned"),
    # 105 m of 25 N/m: 267.68 kg (2,625 N over 9.80665)
    [(267.7, False), (400.0, False), (267.6, True), (None, False)],
)
def test_a_full_reel_lighter_than_its_cable_is_cautioned(
    mass: float | None, cautioned: bool
) -> None:
    pull = pulled(LEVEL, reel_tension=0.0, reel=Reel("drum", mass=mass))
    found = list(reel_findings(feeding(pull, ALLOWANCES), pull))
    assert [f.severity for f in found] == (["caution"] if cautioned else [])
    for finding in found:
        assert (finding.demand, finding.limit) == pytest.approx((267.6, 267.676), abs=1e-3)
        assert finding.ratio == pytest.approx(267.676 / 267.6, abs=1e-5)


@pytest.mark.parametrize(("kept", "said"), [(0.0, False), (2.5, True)])
def test_what_is_kept_at_the_feed_of_a_stage_is_said_only_where_some_is(
    kept: float, said: bool
) -> None:
    """40 m are drawn on for the next stage and 2 m for make-up: 142 m of each, and what stays."""
    draw = Draw(40.0, kept, off_reel=True)
    found = feeding(pulled(LEVEL, reel_tension=0.0), ALLOWANCES, draw)
    assert found.cable_length == pytest.approx(142.0 + kept)
    words = [render(note, "SI") for note in found.notes]
    assert any("pull 42.00 m of each cable out" in w for w in words)
    assert [w for w in words if w.startswith("leave")] == [
        "leave 2.50 m of each cable at the feed"
    ] * said


@pytest.mark.parametrize(("count", "drag"), [(None, 450.0), (3, 450.0), (1, 150.0)])
def test_every_reel_takes_its_own_force_to_turn(count: int | None, drag: float) -> None:
    """150 N a reel: one for each of three cables where no number is given."""
    pull = pulled(LEVEL, 3, reel=Reel("reel", drag_force=150.0, count=count))
    assert reel_drag(pull.run) == pytest.approx(drag)
    window = feeding(pull, ALLOWANCES).window
    assert window is not None and window.drag == pytest.approx(drag)


@pytest.mark.parametrize(("planned", "held"), [(0.0, 1790.06), (1800.0, 1800.0)])
def test_the_brakes_hold_what_keeps_the_cable_taut_where_less_is_planned(
    planned: float, held: float
) -> None:
    """100 m down at 60 degrees: 25 (86.60 - 0.3 x 50) N run away, on 1.2 m of radius (statics)."""
    down = [[0.0, 0, 100 * math.sin(math.pi / 3)], [50, 0, 0]]
    pull = pulled(down, reel=Reel("reel", drag_force=0.0, diameter=2.4), reel_tension=planned)
    moment = feeding(pull, ALLOWANCES).moment
    assert moment == pytest.approx(1.2 * held, abs=0.01)


def test_a_brake_set_for_a_stop_is_eased_where_a_moving_cable_may_have_less() -> None:
    window = BrakeWindow(400.0, 660.0, 640.0, True, 50.0)
    told = render(eased(window, 660.0), "SI")
    assert told == "; ease the brake to at most 0.64 kN before the cable moves"
    assert render(eased(window, 640.0), "SI") == render(eased(None, 660.0), "SI") == ""
