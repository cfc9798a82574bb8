"""Ways to split a run by their own gears and stops, against every way there is."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from route3d.checks.limits import utilization
from route3d.geometry.fillet import route_path, sub_route
from route3d.mechanics.pull import at_friction, run_fits, solve_pull
from route3d.model import Allowances, Gear, Job, Machine, Practice, Reel, Run
from route3d.modelfile.read import load
from route3d.planning.pull_plan.plan import make_plan
from route3d.planning.result import evaluate_run
from route3d.planning.splitting import timing
from route3d.planning.splitting.section_pulls import section_pulls
from route3d.planning.splitting.timing import best_splits
from route3d.planning.splitting.ways import SplitPlan, Stage
from route3d.units import render, show
from tests.support import jobs
from tests.support.jobs import BOTH, at, conduit, hills, lay
from tests.support.one_gear import one_gear_splits

MODELS = Path(__file__).parents[4] / "models"


def yard() -> Job:
    return load(MODELS / "yard_run.toml")


def stage_time(job: Job, run: Run, feed: int, pull: int, tension: float, length: float) -> float:
    """By a plan of that part of the run alone; cable beyond it at the last gear's speed."""
    first, last = sorted((feed, pull))
    part = replace(run, route=sub_route(run.route, first, last), reel_tension=tension)
    end = 0 if feed < pull else last - first
    plan = make_plan(evaluate_run(part, job.practice), job, step=30.0, feed=end)
    assert not any("gear" in f.rule and f.severity == "stop" for f in plan.findings)
    beyond = length - solve_pull(part, job.practice, reverse=feed > pull).path.length
    speed = plan.pace.gears.spans[-1].gear.speed_at(float(plan.pace.history.load[-1]))
    return plan.pace.crew.total - plan.pace.crew.setup + max(beyond, 0.0) / speed


def by_hand(job: Job, way: SplitPlan) -> float:
    """Set-ups, figure eights and splices by the allowances, every stage by a plan of its own."""
    allowances, run = job.allowances, job.runs[0]
    laid = sum(not stage.reel for stage in way.stages)
    work = way.setups * allowances.setup_time + laid * allowances.figure_eight_time
    work += len(way.splices) * allowances.splice_time
    return work + sum(
        stage_time(job, run, s.feed, s.pull, s.reel_tension, s.cable_length) for s in way.stages
    )


def can_be_gripped_again(job: Job, way: SplitPlan) -> bool:
    """Whether every section cable is drawn on through starts again with its conduit full."""
    for stage in way.stages:
        first, last = sorted((stage.feed, stage.pull))
        route = sub_route(job.runs[0].route, first, last)
        part = replace(job.runs[0], route=route, reel_tension=stage.reel_tension)
        pull = solve_pull(part, job.practice, reverse=stage.feed > stage.pull)
        rest = at_friction(pull, job.practice.restart)
        if stage.cable_length > pull.path.length + 1 and utilization(rest).peak > 1:
            return False
    return True


def _stages(way: SplitPlan) -> list[tuple[int, int]]:
    return [(stage.feed, stage.pull) for stage in way.stages]


def test_the_best_are_the_best_of_every_way_timed_by_a_plan_of_each_stage() -> None:
    job = yard()
    every = one_gear_splits(job.runs[0], job.practice, job.allowances, best=500).plans
    fewest = min(w.setups for w in every)
    short = [w for w in every if w.setups == fewest]
    able = [w for w in short if can_be_gripped_again(job, w)]
    assert len(able) < len(short)  # one way draws on through a section that cannot restart
    timed = sorted(by_hand(job, w) for w in able)
    assert len(timed) > 3
    found = best_splits(job.runs[0], job.practice, job.allowances)
    assert [w.time for w in found.plans] == pytest.approx(timed[:3], abs=0.01)
    assert {w.setups for w in found.plans} == {fewest}
    assert not found.notes
    one_gear = one_gear_splits(job.runs[0], job.practice, job.allowances).plans
    assert [_stages(w) for w in one_gear] != [_stages(w) for w in found.plans]


def test_of_the_yard_only_the_stages_of_the_best_ways_are_solved(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    job, solved = yard(), []
    whole = timing._Work.pace
    monkeypatch.setattr(timing._Work, "pace", lambda w, s: solved.append(s) or whole(w, s))
    found = best_splits(job.runs[0], job.practice, job.allowances)
    wanted = {(s.feed, s.pull, s.reel) for way in found.plans for s in way.stages}
    assert {(s.feed, s.pull, s.reel) for s in solved} == wanted
    assert len(solved) == len(wanted) == 5


GEARED = Machine("puller", (Gear(4e3, 0.5), Gear(9e3, 0.3, speeds=((0.0, 0.4), (9e3, 0.3)))))


@pytest.mark.parametrize("interval", [None, 12.0])
@pytest.mark.parametrize("limit", [2500.0, 9000.0])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_no_stage_is_faster_than_its_bound(seed: int, limit: float, interval: float | None) -> None:
    """Every section timed by its own gears and stops, alone and with 7 m drawn on through it."""
    route = hills(np.random.default_rng([seed, 11]), 4, 3.0)
    run = jobs.run(
        route,
        [(jobs.cable(sidewall_limit=limit), 3)],
        rope=jobs.rope(),
        machine=GEARED,
        reel=Reel("reel", drag_force=20.0),
    )
    allowances = Allowances(lubricant_interval=interval, lubricant_stop=60.0)
    path = route_path(route)
    sections = section_pulls(run, Practice(), path=path, from_rest=True)
    work = timing._Work(run, Practice(), allowances, sections, path, run_fits(run))
    bound, tight = work.bound(), 0
    for (a, b, reel), pull in sections.pulls.items():
        own = abs(sections.stations[a] - sections.stations[b])
        for laid in (0.0, 7.0):
            length = own + laid
            stage = Stage(
                1, pull.feed, pull.pull, reel, 0, "", 0, pull.reel_tension, length, laid, 0
            )
            time, least = timing._time(work.pace(stage).drawn_on(laid)), bound(pull, length)
            if time is not None:
                assert least is not None and least <= time * (1 + 1e-9)
                tight += least > 0.98 * time
    assert tight > 5


def test_with_an_aim_every_stage_keeps_to_it() -> None:
    """70 % of the sidewall limit: fed from V1 the rest takes 64 %, and 73 % off the reel."""
    job = yard()
    for aim, most in ((0.7, 3), (0.62, 1)):
        found = best_splits(job.runs[0], job.practice, job.allowances, aim=aim)
        assert 0 < len(found.plans) <= 3
        assert all(s.utilization <= aim for way in found.plans for s in way.stages)
        every = best_splits(job.runs[0], job.practice, job.allowances, best=40).plans
        kept = [w for w in every if w.utilization <= aim and w.setups == found.plans[0].setups]
        assert [w.stages for w in found.plans[:most]] == [w.stages for w in kept[:most]]
    assert not best_splits(job.runs[0], job.practice, job.allowances, aim=0.1).plans


def test_the_words_give_the_time_of_the_gears() -> None:
    job = yard()
    for way in best_splits(job.runs[0], job.practice, job.allowances).plans:
        assert show(way.time, "time", "SI") in render(way.text, "SI")


def heavy_rope(pull_share: float) -> Run:
    """A level run of 400 m whose rope drags more than its cable; the machine is that much of it."""
    route = lay(
        *(at((100.0 * k, 0, 0), name=f"P{k}", ends=BOTH) for k in range(5)),
        conduits=conduit(friction=0.25),
    )
    run = jobs.run(route, rope=jobs.rope(weight=300.0, friction=0.25), machine=jobs.machine(1e9))
    peak = solve_pull(run, Practice()).machine_peak
    assert peak is not None
    return replace(run, machine=jobs.machine(pull_share * peak))


def test_a_way_whose_first_movement_the_machine_cannot_make_is_left_out() -> None:
    """Moving, the rope takes 1 of 1.1; at rest friction is 1.3 times, and half the rope 0.65."""
    run = heavy_rope(1.1)
    assert utilization(solve_pull(run, Practice())).peak < 1
    found = best_splits(run, Practice(), Allowances(gear_margin=0.0))
    assert {w.setups for w in found.plans} == {2}
    assert {s.feed for w in found.plans[:1] for s in w.stages} == {2}  # fed from the middle
    assert not found.why_none


def test_where_no_way_can_be_started_that_is_said() -> None:
    """A quarter of the rope takes 0.25 of 0.27 moving, and 0.325 from rest."""
    run = heavy_rope(0.27)
    with_few = replace(run, route=sub_route(run.route, 0, 1))
    assert utilization(solve_pull(with_few, Practice())).peak < 1
    found = best_splits(with_few, Practice(), Allowances(gear_margin=0.0))
    assert not found.plans
    assert "cannot be started" in render(found.why_none, "SI")


def test_too_many_ways_to_prove_are_owned_up_to(monkeypatch: pytest.MonkeyPatch) -> None:
    job = yard()
    proven = best_splits(job.runs[0], job.practice, job.allowances)
    monkeypatch.setattr(timing, "_LOOKS", 0)
    found = best_splits(job.runs[0], job.practice, job.allowances)
    (note,) = found.notes
    assert "another way with the same number of set-ups may be faster" in render(note, "SI")
    assert [w.time for w in found.plans] == sorted(w.time for w in found.plans)
    assert found.plans[0].time >= proven.plans[0].time


@pytest.mark.parametrize("missing", ["machine", "rope"])
def test_without_a_machine_or_rope_no_stage_is_timed_by_gears(missing: str) -> None:
    job = yard()
    bare = replace(job.runs[0], **{missing: None})
    found = best_splits(bare, job.practice, job.allowances)
    same = one_gear_splits(replace(bare, machine=None), job.practice, job.allowances)
    assert found.plans and found.plans == same.plans
