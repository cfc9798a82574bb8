"""A pull that must not be made, on what is seen: page, hand-over page, film and picture."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from route3d.model import CableSet
from route3d.modelfile.read import load
from route3d.planning.evaluate import evaluate, with_advice
from route3d.planning.result import JobResult
from route3d.report.plan_blocks import plan_blocks
from route3d.report.remedies import list_data, remedy_list
from tests.viewer.web.faults import weak_adapter
from viewer.gauge import NOT_TO_BE_MADE, gauge_of, must_not_be_pulled, plan_for_crew, rows_of
from viewer.load_chart import figures
from viewer.playback import playback
from viewer.scene.build import build_scene
from viewer.verdict import with_plan
from viewer.web.page_data import advice_data, answer_data, direction_data, page_data
from viewer.web.session import Session, advised, answered, planned, surroundings_of

MODELS = Path(__file__).parents[2] / "models"


@pytest.fixture(scope="module")
def adapter() -> JobResult:
    """The checks pass; a part of the load path does not."""
    return weak_adapter()


def test_the_crew_is_told_nothing_to_act_on(adapter: JobResult) -> None:
    run = adapter.runs[0]
    plan = plan_for_crew(run, run.best, adapter.job)
    assert plan is not None and plan.stops and plan.gauge
    told = gauge_of(run.best, plan, "US")
    assert (told.load, told.text) == ("-", NOT_TO_BE_MADE)
    lists = (told.rows, told.gears, told.time, told.machine, told.link, told.accidents, told.holds)
    assert not any(lists)
    assert rows_of(plan) == ()


def test_the_film_has_no_gear_no_stop_and_no_clock(adapter: JobResult) -> None:
    run = adapter.runs[0]
    film = playback(run, run.best.pull, "US", adapter.job.allowances, made=False)
    assert film.gear_words == () and not film.stop_known and np.isnan(film.elapsed).all()
    assert film.ending == "" and not any("gear" in caption for caption in film.captions)
    names = [name for name, *_ in figures(film, 3, "US")]
    assert "Gear" not in names and not [n for n in names if n.startswith(("Stop load", "Elapsed"))]


def test_the_picture_shows_no_place_chosen_for_the_machine(adapter: JobResult) -> None:
    run = adapter.runs[0]
    plan = plan_for_crew(run, run.best, adapter.job)
    before = build_scene(run, adapter.job)
    after = with_plan(before, run, run.best, plan)
    placed, bare = (next(s for s in x.solids if s.kind == "machine") for x in (before, after))
    assert np.abs(placed.base - bare.base).max() > 0.01
    lines = next(label.lines for label in after.labels if label.kind == "machine")
    assert "IF PULLED HERE" in lines[0]


def test_the_hand_over_page_gives_no_readings_gears_or_place(adapter: JobResult) -> None:
    (run,) = page_data(adapter.runs, adapter.job, "US", "auto")["runs"]
    shown = run["directions"][run["best"]]
    for words in shown["words"].values():
        assert words["gauge"] is None and words["gears"] == [] and words["warning"] == ""
    assert set(shown["playback"]["gear"]) == {-1}
    assert "first move" not in json.dumps(shown)


def test_the_hand_over_page_tells_what_would_help_where_only_the_plan_stops(
    adapter: JobResult,
) -> None:
    result = adapter.runs[0]
    assert not result.stops and result.advice is None
    expected = with_advice(result, adapter.job)
    assert expected.advice
    (run,) = page_data(adapter.runs, adapter.job, "US", "auto")["runs"]
    for shown in run["directions"]:
        for units, words in shown["words"].items():
            assert words["remedies"] == list_data(remedy_list(expected, units))


def opened(name: str) -> Session:
    job = load(MODELS / f"{name}.toml")
    return answered(job, job.runs[0], {}, surroundings_of(job))


def test_pages_tell_the_list_that_the_commands_print() -> None:
    session = opened("yard_run")
    for direction in answer_data(session)["directions"]:
        for words in direction["words"].values():
            told = words["remedies"]
            assert told["foot"].startswith("Searching for") and not told["groups"]
    (answer,) = evaluate(session.job).runs
    told = advice_data(advised(session))["directions"][0]["words"]["US"]["remedies"]
    assert told == list_data(remedy_list(answer, "US")) and told["groups"]
    slick = replace(session, run=replace(session.run, attach="basket grip"))
    edited = advice_data(advised(slick))["directions"][0]["words"]["US"]["remedies"]
    assert "as edited here" in edited["foot"]
    (page,) = page_data((answer,), session.job, "US", "auto")["runs"]
    assert page["directions"][0]["words"]["US"]["remedies"] == told


def test_the_live_page_gives_none_either() -> None:
    session = opened("yard_run")
    best, session = session.best, planned(session, session.best)
    plan = session.plan(best)
    assert plan is not None and plan.stops and session.place(best) is None
    assert must_not_be_pulled(session.result, session.result.best, plan)
    data = direction_data(session, best)
    for words in data["words"].values():
        assert words["gauge"] is None and words["gears"] == [] and words["ending"] == ""
        assert words["crew"]["machine"]["peak"] == "-" and not words["crew"]["go"]
    assert set(data["playback"]["gear"]) == {-1} and not data["playback"]["stops"]


def test_a_pull_that_may_be_made_tells_the_crew_what_to_do_after_an_accident() -> None:
    session = opened("riser_duct_bank")
    best, session = session.best, planned(session, session.best)
    plan = session.plan(best)
    assert plan is not None and not plan.stops and session.place(best) is not None
    words = direction_data(session, best)["words"]["US"]
    told = words["gauge"]
    assert told["accidents"][0].startswith("Stopped with 0 ft to 333 ft of cable in: restart in")
    assert words["crew"]["machine"]["peak"] == "883 lbf" and told["largest"].startswith("883 lbf")


def test_an_empty_brake_window_names_no_setting_anywhere() -> None:
    """170 lbf keeps the cables taut; a cable that bears 139 lbf/ft allows less."""
    job = load(MODELS / "riser_duct_bank.toml")
    run = job.runs[0]
    cable = run.cables.items[0][0]
    weak = replace(cable, sidewall_limit=cable.sidewall_limit / 3.6)
    job = replace(job, runs=(replace(run, cables=CableSet(((weak, 3),))),))
    (result,) = evaluate(job, with_remedies=False).runs
    candidate = next(c for c in result.candidates if c.pull.reverse)
    assert candidate.window.empty and 0 < candidate.window.at_most
    assert "brake window" in {f.rule for f in candidate.breaks}
    plan = plan_for_crew(result, candidate, job)
    assert plan is not None and plan.stops
    for units in ("US", "SI"):
        scene = build_scene(result, job, feed=candidate.pull.feed, units=units, given=())
        (label,) = [x for x in scene.labels if x.kind == "feed"]
        assert "no brake setting" in label.lines
        fact = next(f for f in scene.facts if f.name == "Reel brake")
        assert (fact.value, fact.note) == (
            "no brake setting works",
            "minimum exceeds maximum",
        )
        blocks = plan_blocks(plan, units)
        whole = " ".join(text for b in blocks for text in (*b.words, *b.notes, *sum(b.rows, ())))
        assert "Brake the reels" not in whole and "light brake" not in whole.lower()
        assert "need at least" in whole
