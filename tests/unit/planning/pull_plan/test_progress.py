"""The pull through time: against the gear plan it is made of."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import route3d
from route3d.mechanics.pull import Pull
from route3d.model.allowances import Allowances
from route3d.model.machine import Gear, Machine
from route3d.planning.pull_plan.head_history import history
from route3d.planning.pull_plan.progress import Progress, gear_name, progress
from route3d.planning.pull_plan.schedule import pace

MODELS = Path(__file__).parents[4] / "models"


def pulls(name: str) -> tuple[tuple[Pull, ...], Allowances]:
    job = route3d.load(MODELS / f"{name}.toml")
    result = route3d.evaluate(job, with_remedies=False).runs[0]
    return tuple(c.pull for c in result.candidates), job.allowances


@pytest.fixture(scope="module")
def yard() -> tuple[tuple[Pull, ...], Allowances]:
    return pulls("yard_run")


def moved(pull: Pull, allowances: Allowances, machine: Machine | None = None) -> Progress:
    if machine is not None:
        pull = replace(pull, run=replace(pull.run, machine=machine))
    found = progress(pull, allowances)
    assert found is not None
    return found


def test_gears_and_clock_are_those_of_the_plan(yard) -> None:
    """Each span in its gear, its time over its length; every stop stands twice, with its time."""
    pull, allowances = yard[0][1], yard[1]
    run = pull.run
    course = history(pull)
    going = pace(pull, course, run.machine, allowances)
    plan, rests = going.gears, going.stops.places
    assert len(rests) > 1, "the yard run stops for lubricant"
    found = moved(pull, allowances)
    assert plan.changes, "the yard run changes gear"
    for span in plan.spans:
        inside = (found.pulled >= span.start) & (found.pulled < span.end - 1e-6)
        rows = np.flatnonzero(inside)[1:]  # the first is the place before the change
        assert {found.gears[g] for g in found.gear[rows]} == {span.gear}
    for change in plan.changes:
        before, after = np.flatnonzero(np.abs(found.pulled - change.pulled) < 1e-9)
        waited = found.elapsed[after] - found.elapsed[before]
        both = allowances.lubricant_stop * (change.pulled in rests)
        assert waited == pytest.approx(allowances.gear_change_time + both)
        assert found.station[before] == pytest.approx(change.station)
    changed = [change.pulled for change in plan.changes]
    for rest in set(rests) - set(changed):
        before, after = np.flatnonzero(np.abs(found.pulled - rest) < 1e-9)
        waited = found.elapsed[after] - found.elapsed[before]
        assert waited == pytest.approx(allowances.lubricant_stop)
        assert found.gear[before] == found.gear[after]
    # one clock: that of the crew without its set-up
    assert found.elapsed[-1] == pytest.approx(going.crew.total - going.crew.setup)
    assert (np.diff(found.elapsed) >= 0).all()


def test_load_is_that_of_the_pull_and_the_heads_are_kept(yard) -> None:
    pull, allowances = yard[0][1], yard[1]
    found = moved(pull, allowances)
    assert set(pull.heads.tolist()) <= set(found.station.tolist())
    at = np.interp(found.pulled, np.abs(pull.heads - pull.heads[0]), pull.machine_loads)
    np.testing.assert_allclose(found.load, at, rtol=1e-12)


def test_the_limit_is_what_of_the_gear_reaches_the_rope(yard) -> None:
    pull, allowances = yard[0][1], yard[1]
    # lubricant stops are places to change at: without them the change is where the gear ends
    allowances = replace(allowances, lubricant_interval=None)
    whole = moved(pull, allowances)
    machine = replace(pull.run.machine, efficiency=0.8)
    weak = moved(pull, allowances, machine)
    low, high = sorted(g.line_pull for g in machine.gears)
    assert set(weak.limit.tolist()) == {0.8 * low, 0.8 * high}
    assert (weak.load <= weak.limit * (1 + 1e-9)).all()
    assert len(weak.plan.changes) == 1
    assert weak.plan.changes[0].pulled < whole.plan.changes[0].pulled  # the fast gear ends sooner


def test_a_speed_that_falls_with_load_stretches_the_clock() -> None:
    """2 m/s without load and 1 m/s at 40 kN, straight: the time is the integral of ds / v."""
    (pull, _), allowances = pulls("riser_duct_bank")
    gear = Gear(40e3, 1.0, "only", ((0.0, 2.0), (40e3, 1.0)))
    found = moved(pull, allowances, replace(pull.run.machine, gears=(gear,)))
    fine = np.linspace(0.0, found.pulled[-1], 20_001)
    load = np.interp(fine, np.abs(pull.heads - pull.heads[0]), pull.machine_loads)
    expected = float(np.trapezoid(1 / (2.0 - load / 40e3), fine))
    # the plan reads speed at four places of an interval: far better than one per cent
    assert found.elapsed[-1] == pytest.approx(expected, rel=1e-3)


def test_an_overload_ends_gear_and_clock(yard) -> None:
    """With half the pull the strong gear fails before the cable is in."""
    pull, allowances = yard[0][1], yard[1]
    gears = tuple(replace(g, line_pull=g.line_pull / 2) for g in pull.run.machine.gears)
    found = moved(pull, allowances, replace(pull.run.machine, gears=gears))
    over = found.plan.overload
    assert over is not None
    beyond = found.pulled >= over.pulled - 1e-9
    assert (found.gear[beyond] == -1).all() and (found.gear[~beyond] >= 0).all()
    assert np.isfinite(found.elapsed[~beyond]).all()
    past = found.pulled > over.pulled + 1e-9
    assert past.any() and np.isnan(found.elapsed[past]).all()


def test_a_machine_that_cannot_start_has_no_gear_at_all() -> None:
    (pull, _), allowances = pulls("riser_duct_bank")
    machine = replace(pull.run.machine, gears=(Gear(1.0, 0.1),))
    found = moved(pull, allowances, machine)
    assert (found.gear == -1).all()
    assert found.elapsed[0] == 0.0 and np.isnan(found.elapsed[1:]).all()


def test_gears_go_by_their_names_or_their_numbers_by_pull() -> None:
    machine = Machine("m", (Gear(9.0, 1.0), Gear(3.0, 2.0), Gear(5.0, 2.0, "crawl")))
    names = [gear_name(gear, machine) for gear in (*machine.gears, None)]
    assert names == ["gear 3 of 3", "gear 1 of 3", "crawl", "none strong enough"]


def test_no_rope_or_no_machine_no_progress(yard) -> None:
    pull, allowances = yard[0][0], yard[1]
    assert progress(replace(pull, rope_phase=None), allowances) is None
    assert progress(replace(pull, run=replace(pull.run, machine=None)), allowances) is None
