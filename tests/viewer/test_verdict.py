"""What only the plan finds stops the pull on every surface, and is flagged where it is."""

from __future__ import annotations

import numpy as np
import pytest

from route3d.phrase import say
from route3d.planning.pull_plan.plan import Plan
from route3d.planning.result import JobResult
from route3d.units import render
from tests.viewer.conftest import Answered, findings_on
from tests.viewer.web.faults import changed, weak_adapter
from viewer.gauge import plan_for_crew, rows_of
from viewer.scene.build import build_scene
from viewer.verdict import (
    findings_of,
    may_be_pulled,
    planned,
    planned_scene,
    stop_words,
    with_plan,
)
from viewer.web.page_data import page_data


@pytest.fixture(scope="module")
def adapter() -> tuple[JobResult, Plan]:
    result = weak_adapter()
    plan = plan_for_crew(result.runs[0], result.runs[0].best, result.job)
    assert plan is not None and plan.stops
    return result, plan


def test_a_plan_that_stops_takes_the_head_of_the_picture(adapter: tuple[JobResult, Plan]) -> None:
    result, plan = adapter
    run, best = result.runs[0], result.runs[0].best
    before = build_scene(run, result.job, units="SI")
    assert not before.alarm  # no check of the run stops it
    scene = with_plan(before, run, best, plan)
    # the adapter is at its limit below what the gauge would read: that too must not be pulled
    headline = "Do not pull yet: load path: locked adapter, stop reading"
    assert scene.alarm and scene.headline == headline
    assert "limit 1.00 kN" in scene.sentence
    assert "exceeded. Once that is fixed, feed from roof, pull at basement" in scene.sentence
    (flag,) = (label for label in scene.labels if label.kind == "fault")
    assert flag.alarm and "locked adapter" in flag.lines[0]
    assert flag.lines[1] == "Stop reading: exceeded"  # without any reading
    end = best.pull.path.point(0.0 if best.pull.reverse else best.pull.path.length)
    np.testing.assert_allclose(flag.xyz, end - scene.origin, atol=1e-6)
    assert not may_be_pulled(run, best, plan) and may_be_pulled(run, best, None)


def test_a_plan_without_stops_changes_nothing(drop: Answered) -> None:
    result, job = drop
    scene = build_scene(result, job)
    plan = plan_for_crew(result, result.best, job)
    after = with_plan(scene, result, result.best, plan)
    assert plan is not None and (after.headline, after.alarm) == (scene.headline, False)
    assert after.solids is scene.solids and after.notes == scene.notes
    names = [fact.name for fact in after.facts]
    assert "Peak machine load" in names and "Peak machine load, moving" not in names
    assert may_be_pulled(result, result.best, plan)
    assert stop_words(findings_of(result, result.best, plan), "SI") == ()


def test_each_stop_is_one_line_with_its_figures(yard: Answered) -> None:
    result, job = yard
    plan = plan_for_crew(result, result.best, job)
    lines = stop_words(findings_of(result, result.best, plan), "US")
    assert lines[0] == "sidewall pressure, bend 1: 729 lbf/ft; limit 500 lbf/ft"
    assert len(lines) == len(set(lines))


def test_the_limit_is_called_by_the_name_of_the_part(adapter: tuple[JobResult, Plan]) -> None:
    assert adapter[1].line_limit[1] == "locked adapter"
    assert rows_of(adapter[1]) == ()  # a pull that must not be made has no readings
    assert rows_of(None) == ()


def test_no_readings_are_handed_over_for_a_pull_the_plan_stops(
    adapter: tuple[JobResult, Plan],
) -> None:
    result, _ = adapter
    (run,) = page_data(result.runs, result.job, "SI", "auto")["runs"]
    shown = run["directions"][run["best"]]
    words = shown["words"]["SI"]
    assert shown["alarm"] and words["gauge"] is None
    assert words["headline"].startswith("Do not pull yet")
    assert words["warning"] == "" and words["gears"] == [] and words["ending"] == ""
    film = shown["playback"]
    assert not film["stops"] and set(film["gear"]) == {-1} and set(film["elapsed"]) == {None}
    assert film["limitWords"] == "Machine line pull"
    stops = [f["rule"] for f in findings_on(words) if f["severity"] == "stop"]
    assert stops == ["load path: locked adapter", "stop reading"]
    faults = [label for label in shown["labels"]["false"] if label["kind"] == "fault"]
    assert len(faults) == 1 and faults[0]["alarm"]


@pytest.mark.parametrize("lacking", ["machine", "rope"])
def test_what_is_missing_is_handed_over_in_words(lacking: str) -> None:
    more = {"machine": None} if lacking == "machine" else {"machine": None, "rope": None}
    result = changed("roof_drop", anchor=None, **more)
    (run,) = page_data(result.runs, result.job, "SI", "auto")["runs"]
    shown = run["directions"][run["best"]]
    told = shown["words"]["SI"]["gauge"]
    assert told["load"] == "-" and f"No {lacking} given" in told["text"]
    assert shown["playback"]["lacking"] == f"no {lacking} given"
    assert not shown["playback"]["stops"]


def test_one_maximum_brake_on_every_surface_of_a_plan(drop: Answered) -> None:
    """The stop readings of the roof drop narrow its brake window: none tells the wider one."""
    result, job = drop
    ready = planned(result, job)
    assert ready.plan is not None
    plan, wide = ready.plan, ready.candidate.window
    assert plan.brake.at_most < wide.at_most * 0.99
    narrow, told = (render(say("{}", (w.at_most, "force-")), "SI") for w in (plan.brake, wide))
    scene = planned_scene(result, job, ready, units="SI")
    said = [scene.sentence, *(f.value for f in scene.facts)]
    said += [line for label in scene.labels for line in label.lines]
    said += [render(f.fix, "SI") for f in findings_of(result, ready.candidate, plan)]
    said = [text.replace("\u00a0", " ") for text in said]
    assert [text for text in said if told in text] == [
        render(f.fix, "SI") for f in plan.findings if f.rule == "brake limited by stop reading"
    ]
    assert sum(narrow in text for text in said) >= 4
