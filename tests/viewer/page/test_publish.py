"""What is sent to the browsers: complete, plain, in both systems, and no more than is needed."""

from __future__ import annotations

import base64
import json
from pathlib import Path

import numpy as np
import pytest

from route3d.errors import GeometryError
from route3d.phrase import say
from route3d.planning.margins import brake_label, brake_setting, brake_words
from route3d.planning.remedies.bend_margins import bend_margins
from route3d.units import render, show
from tests.viewer.page.jobs import weak_adapter, without
from viewer.gauge import gauge_of
from viewer.page import crew, publish
from viewer.page.drawing import choose_rings
from viewer.page.session import (
    Session,
    edited,
    open_session,
    planned,
    preview,
    solved,
    sought_for,
)
from viewer.page.thinning import kept_rows
from viewer.theme import OVER_LIMIT, rgb
from viewer.verdict import may_be_pulled

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
        **publish.plan_values(*planned(session)),
        **publish.help_values(session),
    }


def test_the_detailer_is_told_what_the_shop_asks_and_what_to_do() -> None:
    """The conduit changes at the bend of the demo: nothing straight of it is left to bend it by."""
    session = open_session(MODELS / "roof_drop.toml")
    early = publish.bend_values(session)["bends"]["SI"]
    rows = publish.bend_values(session, bend_margins(session.result))["bends"]["SI"]
    assert {row["made"] for row in early} == {"…"} and not any(row["todo"] for row in early)
    assert (rows[0]["number"], rows[0]["made"]) == (3, "field bend")
    assert rows[0]["verdict"] == "caution: straight for the bender"
    (todo,) = rows[0]["todo"]
    assert todo["severity"] == "caution" and "at least 0.142 m of straight" in todo["text"]
    assert [row["todo"] for row in rows[1:]] == [[], []]


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
    assert crew.crew_sheet(session, publish.scene_of(session, "US"))["go"]
    other = str(next(c.pull.feed for c in session.result.candidates if c is not session.shown))
    asked = solved(edited(session, "feed", other, "US"))
    sheet = crew.crew_sheet(asked, publish.scene_of(asked, "US"))
    assert not sheet["go"] and "do not pull" in sheet["order"] and sheet["tone"] == "caution"
    told = publish.result_values(asked)["sheet"]["US"]
    assert "Not the way chosen" in told["headline"] and told["tone"] == "caution"
    assert told["of"] == f"feeding from {asked.shown.pull.feed_name}"
    told_brake = next(f for f in told["findings"] if f["rule"] == "reel brake")
    assert told_brake["where"].startswith(asked.shown.pull.feed_name)  # its own, not the other's
    before = publish.result_values(session)["sheet"]["US"]
    assert before["tone"] == "go" and "reel brake" in {f["rule"] for f in before["findings"]}
    fed = publish.bend_values(asked)["bends"]["US"], publish.bend_values(session)["bends"]["US"]
    assert [b["sidewall"] for b in fed[0]] != [b["sidewall"] for b in fed[1]]
    peak = show(asked.shown.pull.peak_sidewall, "sidewall", "US")
    assert peak in [b["sidewall"] for b in fed[0]]


def test_a_pull_that_fails_gives_no_go() -> None:
    session = open_session(MODELS / "yard_run.toml")
    sheet = crew.crew_sheet(session, publish.scene_of(session, "US"))
    assert not sheet["go"] and sheet["tone"] == "stop"
    assert any(c["severity"] == "stop" for c in sheet["cautions"])


def test_the_foreman_reads_what_the_hand_over_page_says() -> None:
    session, plan = planned(open_session(MODELS / "roof_drop.toml"))
    assert plan is not None
    words, told = crew.plan_words(session.shown, plan, "SI"), gauge_of(session.shown, plan, "SI")
    assert (words["load"], words["text"], words["gears"]) == (
        *(told.load, told.text),
        list(told.gears),
    )
    assert [row["stop"] for row in words["rows"]] == [row.stop for row in told.rows]
    assert words["machine"] and words["link"] and words["time"]


def test_the_chart_of_the_crew_has_caution_and_stop_of_the_plan() -> None:
    session, plan = planned(open_session(MODELS / "riser_duct_bank.toml"))
    drawn = crew.plan_charts(session.shown.pull, plan, "US")["wide"]
    assert ">caution<" in drawn and ">stop<" in drawn
    bare = crew.plan_charts(session.shown.pull, None, "US")["wide"]
    assert ">stop<" not in bare


def test_no_plan_is_told_of_a_pull_that_is_not_to_be_made() -> None:
    """The pull can be played with its load; nobody is given readings, gears or a place."""
    session, plan = planned(open_session(MODELS / "yard_run.toml"))
    assert plan is not None and session.place is None
    assert not may_be_pulled(session.result, session.shown, plan)
    values = publish.plan_values(session, plan)
    assert values["stop"]["US"]["load"] == "-" and not values["stop"]["US"]["rows"]
    film = values["film"]
    assert film["load"][-1] < film["limit"][-1] and film["governs"][-1] == "the machine"
    assert film["gears"] == [] and not film["stops"]


def test_an_edit_keeps_the_place_of_the_machine_unless_it_bears_on_it() -> None:
    session, _ = planned(open_session(MODELS / "riser_duct_bank.toml"))
    assert session.place is not None
    before = publish.geometry_key(session)
    rough = solved(edited(session, "friction:duct", "0.3", "US"))
    assert rough.place is session.place and publish.geometry_key(rough) == before
    faster = solved(edited(session, "speed:0", "20", "US"))
    assert faster.place is session.place
    other = str(next(c.pull.feed for c in session.result.candidates if c is not session.shown))
    turned = solved(edited(session, "feed", other, "US"))
    assert turned.place is None and sought_for(turned) != sought_for(session)


def test_the_machine_is_sent_again_where_it_is_found_to_stand() -> None:
    fresh = open_session(MODELS / "riser_duct_bank.toml")
    session, _ = planned(fresh)
    assert publish.geometry_key(fresh) != publish.geometry_key(session)
    before, after = publish.geometry_values(fresh, ()), publish.geometry_values(session, ())
    assert before["corners"] != after["corners"] and before["tube"] == after["tube"]
    names = [solid["name"] for solid in after["solids"]]
    assert "room edges" in names


def test_a_brake_is_within_the_window_on_every_surface(session: Session) -> None:
    """The same window in the foreman's words, picture and facts."""
    values, window = publish.result_values(session), session.shown.window
    for units in ("US", "SI"):
        setting = render(brake_setting(window), units)
        told = values["crew"][units]["brake"]
        assert told == render(brake_words(window), units)
        ends = (say("{}", (window.at_least, "force+")), say("{}", (window.at_most, "force-")))
        shown = ends if window.holds else ends[1:] if window.at_most > 0 else ()
        assert all(render(end, units) in told and render(end, units) in setting for end in shown)
        facts = {f["name"]: f["value"] for f in values["sheet"][units]["facts"]}
        assert facts["Reel brake"] == setting
        label = next(x for x in values["labels"][units] if x["kind"] == "feed")
        assert render(brake_label(window), units) in label["lines"]


def test_nobody_is_told_to_pull_before_the_plan_is_known() -> None:
    session, plan = planned(open_session(MODELS / "roof_drop.toml"))
    early = publish.result_values(session)["crew"]["SI"]
    assert early["tone"] == "caution" and "being worked out" in early["order"]
    late = publish.plan_values(session, plan)["crew"]["SI"]
    assert (late["order"], late["tone"]) == ("Pull as planned", "go")


def test_what_only_the_plan_stops_is_not_to_be_pulled(tmp_path: Path) -> None:
    """An adapter of half the load: no check of the run knows it."""
    session, plan = planned(open_session(weak_adapter(tmp_path)))
    assert not session.result.stops
    values = publish.plan_values(session, plan)
    told, sheet = values["crew"]["SI"], values["sheet"]["SI"]
    assert not told["go"] and (told["order"], told["tone"]) == ("Do not pull yet", "stop")
    assert "adapter" in told["why"] and "adapter" in sheet["headline"]
    assert sheet["tone"] == "stop" and values["stop"]["SI"]["load"] == "-"
    flags = [x for x in values["labels"]["SI"] if x["kind"] == "fault"]
    assert len(flags) == 1 and flags[0]["alarm"] and "adapter" in flags[0]["lines"][0]


@pytest.mark.parametrize("lacking", ["machine", "rope"])
def test_without_a_machine_or_a_rope_nobody_is_told_to_pull(tmp_path: Path, lacking: str) -> None:
    session, plan = planned(open_session(without(tmp_path, lacking)))
    assert plan is None
    values = publish.plan_values(session, plan)
    told = values["crew"]["US"]
    assert told["tone"] == "caution" and f"no {lacking} is named" in told["order"]
    assert lacking in told["lacking"] and values["stop"]["US"]["load"] == "-"
    assert told["machine"]["named"] == (lacking != "machine")
    assert values["film"]["lacking"] == f"no {lacking} named"


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


def test_of_a_long_pull_what_takes_long_is_said_to_be_worked_out(
    session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Never the plan or the chart of the pull before it; of a usual pull, the plan alone waits."""
    usual = publish.result_values(session)
    assert "svg" in usual["charts"]["US"]["history"]["wide"]
    assert usual["stop"]["US"]["text"] == "Being worked out."
    monkeypatch.setattr(publish, "_LONG", 1)
    values = publish.result_values(session)
    for units in ("US", "SI"):
        assert values["stop"][units]["text"] == "Being worked out."
        assert not values["stop"][units]["rows"] and not values["crew_chart"][units]["wide"]
        charts = values["charts"][units]
        assert "Being worked out." in charts["history"]["narrow"]
        assert charts["profile"] == usual["charts"][units]["profile"]
    late = publish.plan_values(session, None)["charts"]
    for units in ("US", "SI"):
        assert late[units]["profile"] == usual["charts"][units]["profile"]
        geared = "limit of the gear" in late[units]["history"]["wide"]
        assert geared != session.result.stops  # no gears of a pull that must not be made
    assert values["sheet"] == usual["sheet"]


def test_a_pull_that_no_gear_can_make_has_no_gears_under_its_chart() -> None:
    session = open_session(MODELS / "yard_run.toml")
    weak = solved(edited(session, "line_pull:1", "4500", "US"))
    charts = publish.plan_values(weak, None)["charts"]["US"]
    assert charts["ending"] == "" and "limit of the gear" not in charts["history"]["wide"]
    assert publish.plan_values(session, None)["charts"]["US"]["ending"] == ""
