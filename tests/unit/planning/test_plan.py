"""The plan as a whole: its parts agree, and it stops where it must."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from route3d.errors import InputError
from route3d.files.model_file import load
from route3d.model import Job, WorkPlatform
from route3d.planning import evaluate
from route3d.planning.chain import governing
from route3d.planning.plan import Plan, make_plan

MODELS = Path(__file__).parents[3] / "models"


def planned(name: str, feed: int | None = None) -> Plan:
    return of_job(load(MODELS / f"{name}.toml"), feed)


def of_job(job: Job, feed: int | None = None) -> Plan:
    (result,) = evaluate(job, with_changes=False).runs
    return make_plan(result, job, step=15.0, feed=feed)


@pytest.mark.parametrize("name", ["riser_duct_bank", "roof_drop", "yard_run"])
def test_the_parts_of_a_plan_agree(name: str) -> None:
    plan = planned(name)
    course, gears = plan.history, plan.gears
    assert plan.peak >= course.load.max()
    assert course.load[-1] == pytest.approx(plan.gauge[-1].expected, rel=1e-6)
    assert gears.spans[0].start == 0.0
    assert gears.spans[-1].end == pytest.approx(plan.pull.path.length)
    assert plan.crew.pulling == pytest.approx(sum(s.time for s in gears.spans))
    weakest = governing(plan.links)
    assert weakest is not None
    assert all(weakest.ratio >= link.ratio for link in plan.links if link.rating)
    assert plan.feeding.cable_length > plan.pull.path.length
    assert plan.supplies.rope is not None
    assert plan.supplies.rope.length > plan.pull.path.length
    assert plan.placement.best and plan.placement.good > 0


def test_only_the_run_that_breaks_a_limit_stops() -> None:
    assert planned("yard_run").stops
    assert not planned("riser_duct_bank").stops and not planned("roof_drop").stops


def test_the_chosen_end_is_planned_unless_another_is_asked_for() -> None:
    plan = planned("riser_duct_bank")
    assert plan.pull.feed == plan.result.best.pull.feed
    other = planned("riser_duct_bank", feed=plan.pull.pull)
    assert other.pull.feed == plan.pull.pull and not other.stops


def test_an_end_without_access_stops_the_plan() -> None:
    plan = planned("roof_drop")
    assert planned("roof_drop", feed=plan.pull.pull).stops


def test_lubricant_stops_count_for_peak_and_clock() -> None:
    job = load(MODELS / "yard_run.toml")
    without = of_job(replace(job, allowances=replace(job.allowances, lubricant_interval=None)))
    with_stops = of_job(job)
    assert with_stops.peak > 1.3 * without.peak  # a stop near the end starts against more
    assert with_stops.crew.lubricant_stops == 5 * job.allowances.lubricant_stop
    assert without.crew.lubricant_stops == 0


def test_a_platform_without_a_brace_stops_the_plan() -> None:
    job = load(MODELS / "roof_drop.toml")
    bare = replace(job.runs[0], anchor=WorkPlatform("bare"))
    plan = of_job(replace(job, runs=(bare,)))
    assert plan.stops
    assert any("only braced" in f.source for f in plan.findings if f.severity == "stop")


def test_a_room_without_a_place_stops_the_plan() -> None:
    job = load(MODELS / "riser_duct_bank.toml")
    (room,) = job.site.rooms
    low = replace(room, ceiling=room.floor + 1.0)  # lower than the machine
    plan = of_job(replace(job, site=replace(job.site, rooms=(low,))))
    (finding,) = [f for f in plan.findings if f.rule == "place for the machine"]
    assert finding.severity == "stop" and plan.stops and not plan.placement.best


def test_a_weak_swivel_stops_the_plan_and_governs() -> None:
    job = load(MODELS / "riser_duct_bank.toml")
    run = job.runs[0]
    assert run.rigging is not None
    weak = replace(run, rigging=replace(run.rigging, swivel_rating=1000.0))
    plan = of_job(replace(job, runs=(weak,)))
    assert plan.stops and plan.findings[0].rule == "load path: swivel"
    (swivel,) = [link for link in plan.links if link.name == "swivel"]
    assert governing(plan.links) is swivel
    assert plan.gauge[-1].limit == "head fitting" and plan.gauge[-1].stop < plan.gauge[-1].expected


def test_a_small_feed_sheave_stops_and_a_small_lead_off_sheave_cautions() -> None:
    job = load(MODELS / "yard_run.toml")
    run = job.runs[0]
    assert run.reel is not None
    small = replace(run, reel=replace(run.reel, sheave_radius=0.1))
    found = {f.rule: f.severity for f in of_job(replace(job, runs=(small,))).findings}
    assert found["radius of feed-in sheave"] == "stop"
    assert found["radius of sheave pit"] == "caution"


@pytest.mark.parametrize("part", ["rope", "machine"])
def test_without_rope_or_machine_there_is_no_plan(part: str) -> None:
    job = load(MODELS / "riser_duct_bank.toml")
    bare = replace(job.runs[0], **{part: None})  # type: ignore[arg-type]
    with pytest.raises(InputError, match=f"names no {part}"):
        of_job(replace(job, runs=(bare,)))
