"""Every stage of a way to split, against that section solved by itself and lengths by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from route3d.errors import InputError
from route3d.geometry.fillet import sub_route
from route3d.mechanics.pull import Pull, solve_pull
from route3d.model import EndSetup, Gear, Job
from route3d.modelfile.read import load
from route3d.planning.pull_plan.plan import Plan
from route3d.planning.splitting.stage_plans import stage_draw, way_plans
from route3d.planning.splitting.ways import SplitPlan, Stage
from route3d.report.plan_steps import steps
from tests.support.jobs import FOOT, LBF

MODELS = Path(__file__).parents[4] / "models"

# Lengths of the yard run by hand, ft: straights less 2 x 4 ft of tangent, and a quarter of a circle
# of 4 ft; the first and the last straight climb 1 ft.
QUARTER = math.pi / 2 * 4 - 8
FIRST = math.hypot(350, 1) + 200 + QUARTER
SECOND = 220 + 270 + QUARTER
THIRD = 280 + math.hypot(220, 1) + QUARTER


def yard() -> Job:
    return load(MODELS / "yard_run.toml")


def planned(job: Job, number: int) -> tuple[Plan, ...]:
    return way_plans(job.runs[0], job, number, step=lambda length: 30.0)


@pytest.fixture(scope="module")
def ways() -> tuple[Job, list[tuple[Plan, ...]]]:
    job = yard()
    return job, [planned(job, number) for number in (1, 2, 3)]


def way_of(ways: list[tuple[Plan, ...]], *stages: tuple[int, int]) -> tuple[Plan, ...]:
    """The way with these stages, by the vertices of feed and pull."""
    by_stages = {tuple((p.place.stage.feed, p.place.stage.pull) for p in w): w for w in ways}
    return by_stages[stages]


def alone(job: Job, plan: Plan) -> Pull:
    """The section of a stage as a run of its own, fed with the tension the way says."""
    run, stage = job.runs[0], plan.place.stage
    first, last = sorted((stage.feed, stage.pull))
    part = replace(run, route=sub_route(run.route, first, last), reel_tension=stage.reel_tension)
    return solve_pull(part, job.practice, reverse=stage.feed > stage.pull)


def test_loads_gears_and_gauge_are_those_of_each_section_solved_by_itself(ways) -> None:
    job, found = ways
    for plans in found:
        for plan in plans:
            pull, stage = alone(job, plan), plan.place.stage
            pulled = np.abs(pull.heads - pull.heads[0])
            assert (plan.pull.feed_name, plan.pull.pull_name) == (pull.feed_name, pull.pull_name)
            assert plan.pace.history.load.max() == pytest.approx(pull.machine_peak, rel=1e-9)
            assert stage.peak_load == pytest.approx(pull.machine_peak, rel=1e-9)
            assert plan.pull.peak_tension == pytest.approx(pull.peak_tension, rel=1e-9)
            for row in plan.gauge:
                # straight lines between heads: bends curve them by less than a part in a thousand
                by_itself = np.interp(row.pulled, pulled, pull.machine_loads)
                assert row.expected == pytest.approx(by_itself, rel=1e-3)
            assert plan.gauge[-1].expected == pytest.approx(pull.machine_loads[-1], rel=1e-9)
            for span in plan.pace.gears.spans:
                on = (pulled >= span.start - 1e-9) & (pulled <= span.end + 1e-9)
                most = 0.9 * span.gear.line_pull  # the margin of a tenth
                assert pull.machine_loads[on].max() <= most * (1 + 1e-9)


def test_gears_of_the_way_that_lays_cable_at_the_first_vault(ways) -> None:
    """4,000 lbf less a tenth hold all of either stage: 1,564 and 2,920 lbf at the most, moving."""
    for plan in way_of(ways[1], (0, 2), (2, 6)):
        assert plan.pace.history.load.max() < 0.9 * 4000 * LBF
        assert [s.gear.name for s in plan.pace.gears.spans] == ["high"]


def test_a_way_changes_gear_where_its_stage_asks_for_it(ways) -> None:
    """A high gear of 12 kN less a tenth holds all of the short stage.

    Not all of the long one: there it is left where it still holds, at a place safe to stop.
    """
    job, _ = ways
    run = job.runs[0]
    high, *others = run.machine.gears
    weak = replace(run.machine, gears=(replace(high, line_pull=12e3, speeds=()), *others))
    weaker = replace(job, runs=(replace(run, machine=weak),))
    first, second = way_of([planned(weaker, n) for n in (1, 2, 3)], (0, 2), (2, 6))
    assert [s.gear.name for s in first.pace.gears.spans] == ["high"]
    assert [s.gear.name for s in second.pace.gears.spans] == ["high", "low"]
    (change,) = second.pace.gears.changes
    pull = alone(weaker, second)
    pulled = np.abs(pull.heads - pull.heads[0])
    loads = np.asarray(pull.machine_loads)
    assert loads[pulled <= change.pulled].max() <= 0.9 * 12e3 < loads.max()
    assert second.pace.moves.is_safe(np.array([change.pulled])).all()


def test_cable_by_hand_laid_at_the_first_vault_and_fed_on(ways) -> None:
    job, found = ways
    first, second = way_of(found, (0, 2), (2, 6))
    slack, left = job.allowances.pull_slack, job.allowances.feed_slack
    rest = (SECOND + THIRD) * FOOT
    assert first.feeding.pulled_out == pytest.approx(rest + slack)
    assert first.feeding.left_over == left
    assert first.feeding.cable_length == pytest.approx(FIRST * FOOT + rest + slack + left)
    assert first.feeding.off_reel and not second.feeding.off_reel
    assert second.feeding.cable_length == pytest.approx(first.feeding.pulled_out)
    assert (second.feeding.pulled_out, second.feeding.left_over) == (slack, 0.0)
    assert second.feeding.total_length == pytest.approx(3 * (rest + slack))
    # figure eights are fed by hand: nothing brakes them and nothing drags
    reel = second.pull.run.reel
    assert second.feeding.tension == 0.0 and second.feeding.window is None
    assert (reel.name, reel.drag_force, reel.mass) == ("figure eights", 0.0, None)
    assert second.feeding.moment is None and second.feeding.reel_mass is None
    tail = job.allowances.rope_tail
    assert first.supplies.rope.length == pytest.approx(FIRST * FOOT + tail)
    assert second.supplies.rope.length == pytest.approx(rest + tail)
    assert [x.length for x in first.supplies.lubricant] == pytest.approx([FIRST * FOOT])
    assert [x.length for x in second.supplies.lubricant] == pytest.approx(
        [SECOND * FOOT, THIRD * FOOT]
    )


def test_cable_by_hand_fed_from_the_first_vault_both_ways(ways) -> None:
    job, found = ways
    first, second = way_of(found, (2, 0), (2, 6))
    slack = job.allowances.pull_slack
    rest = (SECOND + THIRD) * FOOT
    assert first.feeding.pulled_out == slack
    assert first.feeding.left_over == pytest.approx(rest + slack)
    assert first.feeding.cable_length == pytest.approx(FIRST * FOOT + rest + 2 * slack)
    assert second.feeding.cable_length == pytest.approx(rest + slack)
    assert second.feeding.left_over == 0.0


def test_gripping_again_is_a_planned_start_with_the_conduit_full(ways) -> None:
    """The machine starts the whole section from rest for every length drawn out beyond it."""
    found = ways[1]
    first, _ = way_of(found, (0, 2), (2, 6))
    rested = float(first.pace.history.restart[-1])
    assert first.peak == pytest.approx(rested) and rested > first.pace.history.load.max()
    assert first.gauge[-1].first_move == pytest.approx(rested, rel=1e-9)
    backward, _ = way_of(found, (2, 0), (2, 6))
    assert backward.gauge[-1].first_move is None


def test_crew_times_of_the_stages_make_the_time_of_the_way(ways) -> None:
    job, found = ways
    for plans in found:
        way = plans[0].place.way
        eights = sum(not p.place.stage.reel for p in plans) * job.allowances.figure_eight_time
        joints = len(way.splices) * job.allowances.splice_time
        total = sum(p.pace.crew.total for p in plans) + eights + joints
        assert total == pytest.approx(way.time, abs=0.01)  # the search counts milliseconds


def test_steps_say_what_is_drawn_out_and_what_comes_next(ways) -> None:
    first, second = way_of(ways[1], (0, 2), (2, 6))
    long = f"{(SECOND + THIRD) + 3 / FOOT:.1f} ft"
    said = " ".join(text for text, _ in steps(first, "US"))
    assert f"Pull {long} of each cable out at pull vault V1" in said
    assert "Continue with stage 2: pull vault V1 to berth 4 charger." in said
    said = " ".join(text for text, _ in steps(second, "US"))
    assert f"turn over the figure eights ({long} of each cable)" in said
    assert "Reels at" not in said and "Continue with" not in said


def test_the_equipment_of_each_end_is_that_of_its_stage() -> None:
    """A small machine at the substation pulls the stage that ends there, and only that one."""
    job = yard()
    run = job.runs[0]
    small = replace(run.machine, name="small", gears=(Gear(12e3, 0.2, "only"),))
    run = replace(run, ends=(EndSetup("substation", machine=small),))
    job = replace(job, runs=(run,))
    found = [planned(job, n) for n in (1, 2, 3)]
    to_substation = [p for plans in found for p in plans if p.place.stage.pull == 0]
    elsewhere = [p for plans in found for p in plans if p.place.stage.pull != 0]
    assert to_substation and elsewhere
    assert {p.machine.name for p in to_substation} == {"small"}
    assert {p.machine.name for p in elsewhere} == {"puller"}
    for plan in to_substation:
        assert plan.peak <= 12e3
        assert [s.gear.name for s in plan.pace.gears.spans] == ["only"]


def test_one_stage_that_stops_stops_the_way(ways) -> None:
    """A boom that holds the first stage and not the second: no stage gives steps."""
    job, _ = ways
    run = job.runs[0]
    weak = replace(run.machine, boom_rating=10e3)
    plans = planned(replace(job, runs=(replace(run, machine=weak),)), 1)
    assert all(p.stops for p in plans)
    (stage,) = {p.place.stopped_by for p in plans}
    assert stage == (2,)
    assert not any(steps(p, "US") for p in plans)


def test_what_stays_at_a_feed_that_two_lengths_share() -> None:
    """A splice between: the first length keeps its make-up, and so does the second."""

    def stage(cable: int, feed: int, pull: int, reel: bool, length: float, laid: float) -> Stage:
        return Stage(cable, feed, pull, reel, 0.5, "sidewall", 1.0, 0.0, length, laid, 1.0)

    stages = (
        stage(1, 0, 2, True, 90.0, 40.0),
        stage(1, 2, 4, False, 40.0, 0.0),
        stage(2, 4, 6, True, 30.0, 0.0),
    )
    way = SplitPlan(stages, (4,), 3, 1.0, 0.5, "", None)  # type: ignore[arg-type]
    allowances = yard().allowances
    draws = [stage_draw(way, i, allowances) for i in range(3)]
    assert [d.laid for d in draws] == [40.0, 0.0, 0.0]
    assert [d.kept for d in draws] == [allowances.feed_slack, 0.0, allowances.feed_slack]
    assert [d.off_reel for d in draws] == [True, False, True]


@pytest.mark.parametrize("number", [0, 4, -1])
def test_a_way_that_there_is_not(number: int) -> None:
    job = yard()
    with pytest.raises(InputError) as raised:
        planned(job, number)
    assert "3 ways found to split run 'Y1'" in str(raised.value)
    assert "a number from 1 to 3" in str(raised.value)


def test_a_run_without_pull_points_has_no_ways() -> None:
    job = load(MODELS / "riser_duct_bank.toml")
    with pytest.raises(InputError, match="no pull points"):
        planned(job, 1)


def test_the_time_in_the_strongest_gear_counts_what_is_drawn_out_too(ways) -> None:
    """Both times by one clock: pulled in the strongest gear alone they are the same."""
    _, found = ways
    drawn = [p for plans in found for p in plans if p.place.stage.laid > 0]
    assert drawn
    for plan in (p for plans in found for p in plans):
        strong = max(plan.machine.gears, key=lambda g: g.line_pull)
        laid = plan.place.stage.laid
        assert plan.pace.crew.strongest == pytest.approx(
            plan.pace.gears.slow_time + laid / strong.speed
        )
        if {s.gear for s in plan.pace.gears.spans} == {strong}:
            assert plan.pace.crew.strongest == pytest.approx(plan.pace.crew.pulling)
        assert plan.pace.crew.strongest >= plan.pace.crew.pulling * (1 - 1e-9)


def test_where_no_way_passes_the_error_says_why() -> None:
    """A cable that takes no sidewall pressure to speak of goes through no bend, in any parts."""
    job = yard()
    run = job.runs[0]
    frail = tuple((replace(c, sidewall_limit=1.0), n) for c, n in run.cables.items)
    weak = replace(run, cables=replace(run.cables, items=frail))
    with pytest.raises(InputError, match="no way to split run") as caught:
        planned(replace(job, runs=(weak,)), 1)
    (problem,) = caught.value.problems
    assert problem.where == "--way" and "sidewall" in problem.fix
