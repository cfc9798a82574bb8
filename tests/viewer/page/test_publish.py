"""What is sent to the browsers: complete, plain, in both systems, and no more than is needed."""

from __future__ import annotations

import base64
import json
from pathlib import Path

import numpy as np
import pytest

from route3d.errors import GeometryError
from route3d.planning.stop_load import stop_load
from viewer.page import crew, publish
from viewer.page.drawing import choose_rings
from viewer.page.session import Session, edited, open_session, preview, solved
from viewer.page.thinning import kept_rows
from viewer.theme import OVER_LIMIT, rgb

MODELS = Path(__file__).parents[3] / "models"


@pytest.fixture(scope="module", params=["riser_duct_bank", "roof_drop", "yard_run"])
def session(request: pytest.FixtureRequest) -> Session:
    return open_session(MODELS / f"{request.param}.toml")


def unpacked(data: dict[str, object]) -> np.ndarray:
    return np.frombuffer(base64.b64decode(str(data["bvals"])), dtype=str(data["dtype"]))


def everything(session: Session) -> dict[str, object]:
    return {
        **publish.file_data(session),
        **publish.field_values(session),
        **publish.result_values(session),
        **publish.geometry_values(session, ()),
        **publish.bend_values(session),
        **publish.stop_values(session, stop_load(session.shown.pull)),
        **publish.help_values(()),
    }


def test_a_radius_that_does_not_fit_is_told_in_the_units_of_the_field() -> None:
    """The end is 15 ft from the vertex, so that a right angle has room for 15 ft of radius."""
    session = open_session(MODELS / "riser_duct_bank.toml")
    with pytest.raises(GeometryError) as refused:
        edited(session, "bend:3", "900", "US")
    words = publish.edit_problem(refused.value, "US")
    most = float(words.split(": ")[1].split(" in")[0])
    assert 179.8 <= most <= 180.0


def test_it_is_plain_data_without_nan(session: Session) -> None:
    json.dumps(everything(session), allow_nan=False)


def test_colours_belong_to_the_mesh(session: Session) -> None:
    result, shape = publish.result_values(session), publish.geometry_values(session, ())
    points = unpacked(shape["tube"]["mesh"]["points"]).size // 3
    assert [c["name"] for c in result["colours"]] == [
        "tension",
        "sidewall",
        "utilisation",
        "conduit",
    ]
    for colours in result["colours"]:
        assert unpacked(colours["values"]).size == 3 * points
    faces = unpacked(shape["tube"]["mesh"]["polys"]).reshape(-1, 5)
    assert (faces[:, 0] == 4).all() and faces[:, 1:].max() == points - 1


def test_what_breaks_its_limit_is_vermilion_and_nothing_else_is(session: Session) -> None:
    values = publish.result_values(session)
    sidewall = next(c for c in values["colours"] if c["name"] == "sidewall")
    shades = unpacked(sidewall["values"]).reshape(-1, 3)
    red = (shades == np.array(rgb(OVER_LIMIT), dtype=np.uint8)).all(axis=1).any()
    broken = session.shown.utilisation.sidewall > 1
    assert red == broken
    assert bool(values["legend"]["US"]["sidewall"]["over"]) == broken


def test_failing_bends_first_then_by_number(session: Session) -> None:
    rows = publish.bend_values(session)["bends"]["SI"]
    ranks = [row["rank"] for row in rows]
    assert ranks == sorted(ranks)
    for rank in set(ranks):
        numbers = [row["number"] for row in rows if row["rank"] == rank]
        assert numbers == sorted(numbers)


def test_friction_leaves_the_mesh_alone_and_a_radius_does_not(session: Session) -> None:
    name = session.given.route.conduits[0].name
    rough = solved(edited(session, f"friction:{name}", "0.3", "US"))
    if rough.shown.pull.feed == session.shown.pull.feed:
        assert publish.geometry_key(rough) == publish.geometry_key(session)
    bend = next(i for i, v in enumerate(session.given.route.vertices) if v.bend)
    wide = solved(edited(session, f"bend:{bend}", "1.3 m", "US"))
    assert publish.geometry_key(wide) != publish.geometry_key(session)


def test_a_preview_has_the_colours_of_the_answer(session: Session) -> None:
    name = session.given.route.conduits[0].name
    wanted = edited(session, f"friction:{name}", "0.3", "US")
    before = publish.scene_of(session, "SI")
    quick = publish.preview_values(before, preview(wanted))
    full = solved(wanted)
    if full.shown.pull.feed == session.shown.pull.feed:
        assert quick["colours"] == publish.result_values(full)["colours"]
        assert quick["legend"] == publish.result_values(full)["legend"]


def test_a_feed_end_not_decided_upon_is_no_order_to_pull() -> None:
    session = open_session(MODELS / "riser_duct_bank.toml")
    assert crew.crew_sheet(session.result, session.shown, "US")["go"]
    other = str(next(c.pull.feed for c in session.result.candidates if c is not session.shown))
    asked = solved(edited(session, "feed", other, "US"))
    sheet = crew.crew_sheet(asked.result, asked.shown, "US")
    assert not sheet["go"] and "do not pull" in sheet["order"]
    assert "Not the way chosen" in publish.result_values(asked)["sheet"]["US"]["headline"]


def test_a_pull_that_fails_gives_no_go() -> None:
    session = open_session(MODELS / "yard_run.toml")
    sheet = crew.crew_sheet(session.result, session.shown, "US")
    assert not sheet["go"]
    assert any(c["severity"] == "stop" for c in sheet["cautions"])


def test_readings_end_with_the_whole_length_and_the_peak_of_the_plan() -> None:
    session = open_session(MODELS / "roof_drop.toml")
    pull = session.shown.pull
    stop = stop_load(pull)
    assert stop is not None
    words = crew.stop_words(pull, stop, "SI")
    marks = [float(row["in"].split()[0]) for row in words["rows"]]
    assert marks == sorted(marks) and len(marks) >= 5
    assert marks[-1] == round(pull.path.length)
    for row in words["rows"]:  # before a limit breaks the gauge shows more than is expected
        assert float(row["stop"].split()[0]) >= float(row["expected"].split()[0]) - 0.05


def test_a_stop_reading_is_rounded_down_to_what_a_gauge_shows() -> None:
    session = open_session(MODELS / "riser_duct_bank.toml")
    pull = session.shown.pull
    stop = stop_load(pull)
    assert stop is not None
    shown = float(crew.stop_words(pull, stop, "US")["load"].split()[0].replace(",", ""))
    assert shown % 10 == 0
    assert 0 <= stop.load / 4.4482216152605 - shown < 10


def test_very_long_runs_are_thinned_but_keep_their_peaks() -> None:
    values = np.zeros(50_000)
    values[31_337] = 9.0
    rows = kept_rows(values, 1000)
    assert len(rows) <= 1002
    assert 31_337 in rows and rows[0] == 0 and rows[-1] == 49_999
    assert (np.diff(rows) > 0).all()


def test_a_usual_run_is_drawn_with_every_sample(session: Session) -> None:
    tubes = publish.scene_of(session, "SI").tubes
    assert [len(r) for r in choose_rings(tubes).rows] == [len(t.station) for t in tubes]
