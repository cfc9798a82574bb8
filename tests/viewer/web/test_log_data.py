"""What the page is given to take a log of a pull: gears, restarts, lines, tables; and its words."""

from __future__ import annotations

import base64
import gzip
import json
import math
import re
from dataclasses import replace
from pathlib import Path

import pytest

import viewer.web
from route3d.field.response import response_tables
from route3d.modelfile.read import load
from route3d.planning.pull_plan.feeding import held_at_rest
from route3d.report.issue import issue_of
from route3d.report.translated import translation_for
from tests.viewer.conftest import MODELS, Answered
from viewer.web.log_data import forecast_data, log_data
from viewer.web.page_data import direction_data, frame_data
from viewer.web.session import BuildingsShown, Session, handed_over

APP = Path(viewer.web.__file__).parent / "app"
_CALL = re.compile(r"(?<![\w.$])t\(\s*(\S)")
_SENTENCE = re.compile(r'(?<![\w.$])t\("((?:[^"\\]|\\.)*)"')


@pytest.fixture(scope="module")
def session(riser: Answered) -> Session:
    return handed_over(riser[0], riser[1], BuildingsShown())


def test_the_chosen_direction_travels_with_its_tables(session: Session) -> None:
    best = session.best
    plan = session.plan(best)
    assert plan is not None
    packed = forecast_data(session, best)
    tables = json.loads(gzip.decompress(base64.b64decode(packed)))
    whole = json.loads(json.dumps(response_tables(plan, session.job.allowances.gauge_step)))
    assert tables == {key: value for key, value in whole.items() if key != "gauge"}
    assert len(packed) < 60_000
    assert forecast_data(session, 1 - best) == ""
    assert forecast_data(replace(session, edits={"friction.duct": 0.3}), best) == ""


def test_the_log_of_a_session_in_spanish_has_spanish_lines_and_its_own_names(
    riser: Answered,
) -> None:
    result, job = riser
    told = translation_for(job, [], "es")
    session = handed_over(result, job, BuildingsShown(), told)
    data = direction_data(session, session.best)["log"]
    assert data["aloud"][0]["US"].startswith("Arranque.")
    assert data["offPlan"]["SI"]["jump"][1].startswith("Haga: pare de inmediato.")
    assert [name for name, _, _ in data["gears"]] == ["high", "low"]  # as the log's file names them
    assert data["said"]["Pull as planned"] == "Jale como está planeado"
    assert data["said"]["start of bend 3"].replace("\u00a0", " ") == "inicio de curva 3"
    assert told.missing == set()
    assert frame_data(job, "US", "auto", "es")["catalog"]["ON PLAN"] == "EN PLAN"
    assert frame_data(job, "US", "auto")["catalog"] == {}


def test_gears_restarts_and_lines_are_those_of_the_plan(session: Session) -> None:
    told, plan = log_data(session, session.best), session.plan(session.best)
    assert plan is not None
    assert [(name, round(pull), true) for name, pull, true in told["gears"]] == [
        ("high", round(3500 * 4.4482216152605), True),
        ("low", round(7500 * 4.4482216152605), True),
    ]
    assert told["length"] == plan.pull.path.length
    assert told["brake"] == pytest.approx([plan.brake.at_least, plan.brake.at_most])
    assert [one["start"] for one in told["restarts"]] == [one.start for one in plan.accidents]
    for one, stop in zip(told["restarts"], plan.accidents, strict=True):
        assert one["most"] == pytest.approx(stop.most, abs=0.01)
    reels = f"{math.ceil(held_at_rest(plan.pull)[0] / 4.4482216152605)} lbf"
    assert told["holds"]["US"] == [reels, "", ""] and told["holds"]["SI"][0]
    assert told["aloud"][0]["US"].startswith("Start.") and told["aloud"][-1]["SI"]


def test_a_pull_that_must_not_be_made_has_gears_alone(yard: Answered) -> None:
    session = handed_over(yard[0], yard[1], BuildingsShown())
    told = log_data(session, session.best)
    assert told["gears"] and not told["restarts"] and not told["aloud"] and told["brake"] is None
    assert forecast_data(session, session.best) == ""


def test_the_mark_of_a_log_is_that_of_the_sheet() -> None:
    job = load(MODELS / "riser_duct_bank.toml")
    assert frame_data(job, "US", "auto")["mark"] == issue_of(job, "sheet", "SI").short


def test_every_word_of_the_log_can_be_translated() -> None:
    """Sentences are literals, so that a catalog can be held against them."""
    names = ("log.js", "log_state.js", "pull_log.js")
    texts = {name: (APP / name).read_text("utf-8") for name in names}
    for name, text in texts.items():
        assert set(_CALL.findall(text)) == {'"'}, name
    sentences = {found for text in texts.values() for found in _SENTENCE.findall(text)}
    assert len(sentences) > 100
    # words between tags or in attributes that a person reads would be shown in English only
    bare = re.findall(r">\s*([A-Z][a-z]+[^<>${}`]*)<", texts["log.js"])
    assert bare == []
    assert re.findall(r'(?:aria-label|placeholder|title)="', texts["log.js"]) == []
