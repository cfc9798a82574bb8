"""What a page is told: complete, plain, in both systems, and no more than is needed."""

from __future__ import annotations

import base64
import gzip
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from route3d.drawing.axes import kept_rows
from route3d.modelfile.read import load
from route3d.phrase import say
from route3d.planning.margins import brake_label, brake_setting, brake_words
from route3d.planning.pull_plan.plan import Plan
from route3d.units import SYSTEMS, render, show
from tests.viewer.conftest import findings_on
from tests.viewer.web.jobs import weak_adapter, without
from viewer.gauge import gauge_of, rows_of
from viewer.theme import category_color
from viewer.verdict import may_be_pulled
from viewer.web import page_data
from viewer.web.handover import as_json
from viewer.web.session import (
    Session,
    answered,
    handed_over,
    margined,
    planned,
    preview,
    surroundings_of,
)

MODELS = Path(__file__).parents[3] / "models"


def opened(model: Path, edits: dict[str, Any] | None = None) -> Session:
    job = load(model)
    return answered(job, job.runs[0], edits or {}, surroundings_of(job))


def best_of(session: Session, *, late: bool = True) -> tuple[dict[str, Any], Plan | None]:
    """The data of the better direction, once planned, and its plan."""
    ready = planned(session, session.best) if late else session
    return page_data.direction_data(ready, ready.best), ready.plan(ready.best)


@pytest.fixture(scope="module", params=["riser_duct_bank", "roof_drop", "yard_run"])
def session(request: pytest.FixtureRequest) -> Session:
    return opened(MODELS / f"{request.param}.toml")


@pytest.fixture(scope="module")
def whole(session: Session) -> Session:
    """All that is known of a demo with nobody waiting."""
    return handed_over(session.result, session.job, session.surroundings)


@pytest.fixture(scope="module")
def riser() -> Session:
    return opened(MODELS / "riser_duct_bank.toml")


def row_of(bends: dict[str, Any], number: int) -> dict[str, str]:
    at = bends["number"].index(number)
    return dict(zip(bends["heads"], bends["rows"][at], strict=True))


def test_the_detailer_is_told_what_the_shop_asks_and_what_to_do() -> None:
    """The conduit changes at the bend of the demo: nothing straight of it is left to bend it by."""
    session = opened(MODELS / "roof_drop.toml")
    early = page_data.answer_data(session)["directions"][session.best]["words"]["SI"]["bends"]
    assert {row_of(early, n)["Bend type"] for n in early["number"]} == {"…"}
    assert not any(early["todo"])
    late = page_data.margin_data(margined(session))["directions"][session.best]
    bends = late["words"]["SI"]["bends"]
    assert bends["number"][0] == 3
    first = row_of(bends, 3)
    assert first["Bend type"] == "field bend" and first["Bend"].endswith("-B03")
    assert first["Verdict"] == "caution: straight for the bender"
    ((severity, rule, text),) = bends["todo"][0]
    assert severity == "caution" and rule == "straight for the bender"
    assert "at least 0.212 m straight" in text
    assert bends["todo"][1:] == [[], []]


def test_it_is_plain_data_without_nan(whole: Session) -> None:
    data = page_data.run_data(whole, runs=1)
    again = json.loads(as_json(data))
    assert again.keys() == data.keys()
    # by its tokens: packed tables may hold these letters
    json.loads(json.dumps(again), parse_constant=pytest.fail)


def test_the_parts_of_a_live_page_make_what_is_handed_over(
    session: Session, whole: Session
) -> None:
    """Merged as the browser merges them; only where the edits would be there is a difference."""
    merged: dict[str, Any] = {"directions": [{}, {}]}
    units = "SI"
    merge(merged, page_data.answer_data(session, (units,)))
    merge(merged, page_data.word_data(session, ("US",)))
    assert all(d["pending"] for d in merged["directions"])
    late = session
    for n in (session.best, 1 - session.best):
        late = planned(late, n, patient=n == session.best)
        merge(merged, page_data.plan_data(late, n))
    merge(merged, page_data.geometry_data(late, 1))
    late = margined(late)
    merge(merged, page_data.margin_data(late))
    if whole.result.advice is not None:
        late = replace(late, result=whole.result)
        merge(merged, page_data.advice_data(late))
    assert json.loads(as_json(merged)) == json.loads(as_json(page_data.run_data(whole, 1)))


def merge(into: Any, data: dict[str, Any]) -> None:
    """As the page merges."""
    for key, value in data.items():
        if key == "directions" and isinstance(into.get(key), list):
            for one, other in zip(into[key], value, strict=True):
                merge(one, other)
        elif isinstance(value, dict) and isinstance(into.get(key), dict):
            merge(into[key], value)
        else:
            into[key] = value


def test_colors_belong_to_the_mesh(session: Session) -> None:
    """As many as the tubes of the file have rings, and the same numbers."""
    colors = page_data.answer_data(session, colors=True)["colors"]
    assert list(colors) == ["tension", "sidewall", "utilization"]
    found = glb_values(page_data.geometry_data(session, 1)["glb"])
    for name, both in colors.items():
        for n, values in enumerate(both):
            key = f"_{name.upper()}_{n}"
            np.testing.assert_array_equal(np.array(values, dtype=np.float32), found[key])


def glb_values(text: str) -> dict[str, np.ndarray]:
    """The numbers of each ring of all tubes, by the name of their attribute."""
    glb = gzip.decompress(base64.b64decode(text))
    size = int.from_bytes(glb[12:16], "little")
    head, body = json.loads(glb[20 : 20 + size]), glb[28 + size :]
    found: dict[str, list[np.ndarray]] = {}
    for mesh in head["meshes"]:
        sides = (mesh.get("extras") or {}).get("sides")
        for name, accessor in mesh["primitives"][0]["attributes"].items():
            if sides is None or not name.startswith("_"):
                continue
            entry = head["accessors"][accessor]
            view = head["bufferViews"][entry["bufferView"]]
            start = view.get("byteOffset", 0) + entry.get("byteOffset", 0)
            values = np.frombuffer(body, dtype="<f4", count=entry["count"], offset=start)
            found.setdefault(name, []).append(values[::sides])
    return {name: np.concatenate(parts) for name, parts in found.items()}


def test_failing_bends_first_then_by_number(session: Session) -> None:
    for direction in page_data.answer_data(session)["directions"]:
        bends = direction["words"]["SI"]["bends"]
        ranks = [["stop", "caution", "note", "ok"].index(s) for s in bends["severity"]]
        assert ranks == sorted(ranks)
        for rank in set(ranks):
            numbers = [n for n, r in zip(bends["number"], ranks, strict=True) if r == rank]
            assert numbers == sorted(numbers)
        assert all(len(row) == len(bends["heads"]) for row in bends["rows"])


def test_the_places_of_the_bends_lie_on_the_route(riser: Session) -> None:
    shape = page_data.geometry_data(riser, 1)
    for place in shape["bendPlaces"]:
        point = riser.result.path.point(place["station"]) - np.array(shape["origin"])
        np.testing.assert_allclose(place["xyz"], point, atol=1e-3)
    assert [p["number"] for p in shape["bendPlaces"]] == [1, 2, 3]
    bands = page_data.answer_data(riser)["bands"]
    for (start, end, number), place in zip(bands, shape["bendPlaces"], strict=True):
        assert start < place["station"] < end and number == str(place["number"])


def test_charts_have_tension_sidewall_and_elevation_with_their_peaks(session: Session) -> None:
    path = session.result.path
    for n, direction in enumerate(page_data.answer_data(session)["directions"]):
        pull = session.result.candidates[n].planned
        profile = {k: np.array(v) for k, v in direction["profile"].items()}
        assert len({len(v) for v in profile.values()}) == 1
        assert (np.diff(profile["station"]) >= 0).all()
        assert profile["tension"].max() == pytest.approx(pull.peak_tension, rel=1e-5)
        assert profile["sidewall"].max() == pytest.approx(pull.peak_sidewall, rel=1e-5)
        height = path.point(np.clip(profile["station"], 0, path.length))[:, 2]
        np.testing.assert_allclose(profile["elevation"], height, atol=1e-4)


def test_a_preview_has_the_colors_of_the_answer(session: Session) -> None:
    job, name = session.job, session.given.route.conduits[0].name
    edits = {f"friction:{name}": 0.3}
    pulls = [preview(job, session.given, edits, reverse=r) for r in (False, True)]
    quick = page_data.preview_data(session, pulls)
    full = answered(job, session.given, edits, session.surroundings)
    answer = page_data.answer_data(full, colors=True)
    assert quick["colors"] == answer["colors"]
    for n in (0, 1):
        for units in SYSTEMS:
            one, other = (x["directions"][n]["words"][units]["scales"] for x in (quick, answer))
            assert one == other


def test_conduits_have_a_color_each(riser: Session) -> None:
    scale = page_data.answer_data(riser)["directions"][0]["words"]["US"]["scales"]["conduit"]
    assert len(scale["entries"]) == len({*riser.run.route.conduits})
    assert scale["entries"][1]["color"] == "#{:02x}{:02x}{:02x}".format(*category_color(1))


def test_a_feed_end_not_decided_upon_is_no_order_to_pull(riser: Session) -> None:
    both = page_data.answer_data(riser)["directions"]
    chosen, other = both[riser.best]["words"]["US"], both[1 - riser.best]["words"]["US"]
    assert chosen["crew"]["go"] and not other["crew"]["go"]
    assert "do not pull" in other["crew"]["order"] and other["crew"]["tone"] == "caution"
    assert "Not the chosen direction" in other["headline"]
    assert (chosen["tone"], other["tone"]) == ("go", "caution")
    brake = next(f for f in findings_on(other) if f["rule"] == "reel brake")
    assert brake["where"].startswith(both[1 - riser.best]["feed"])  # its own, not the other's
    assert "reel brake" in {f["rule"] for f in findings_on(chosen)}
    sidewall = [[r[3] for r in words["bends"]["rows"]] for words in (chosen, other)]
    assert sidewall[0] != sidewall[1]
    peak = riser.result.candidates[1 - riser.best].pull.peak_sidewall
    assert show(peak, "sidewall", "US") in sidewall[1]


def test_a_pull_that_fails_gives_no_go() -> None:
    session = opened(MODELS / "yard_run.toml")
    words, _ = best_of(session)
    sheet = words["words"]["US"]["crew"]
    assert not sheet["go"] and sheet["tone"] == "stop"
    assert any(c["severity"] == "stop" for c in sheet["cautions"])


def test_the_foreman_reads_what_the_plan_says() -> None:
    session = opened(MODELS / "roof_drop.toml")
    data, plan = best_of(session)
    words, told = data["words"]["SI"]["gauge"], gauge_of(session.result.best, plan, "SI")
    assert (words["load"], words["text"], words["gears"]) == (
        *(told.load, told.text),
        list(told.gears),
    )
    assert [row[4] for row in words["rows"]] == [row.stop for row in told.rows]
    assert words["first"] == [row.first for row in told.rows] and any(words["first"])
    assert words["holds"] == list(told.holds) and words["holds"]
    assert words["machine"] and words["link"] and words["time"]


def test_the_chart_of_the_crew_has_caution_and_stop_of_the_plan(riser: Session) -> None:
    data, plan = best_of(riser)
    assert plan is not None and data["playback"]["stops"]
    rows = [(r["caution"], r["stop"]) for r in data["playback"]["rows"]]
    np.testing.assert_allclose(rows, [(r.caution, r.stop) for r in rows_of(plan)], rtol=1e-6)


def test_no_plan_is_told_of_a_pull_that_is_not_to_be_made() -> None:
    """The pull can be played with its load; nobody is given readings, gears or a place."""
    session = opened(MODELS / "yard_run.toml")
    data, plan = best_of(session)
    assert plan is not None and not may_be_pulled(session.result, session.result.best, plan)
    assert data["words"]["US"]["gauge"] is None and data["words"]["US"]["gears"] == []
    film = data["playback"]
    assert film["load"][-1] < film["limit"][-1] and film["governs"][-1] == "machine line pull"
    assert not film["stops"]


def test_a_brake_is_within_the_window_on_every_surface(session: Session) -> None:
    """The same window in the foreman's words, picture and facts."""
    data, window = best_of(session, late=False)[0], session.result.best.window
    for units in SYSTEMS:
        setting, words = render(brake_setting(window), units), data["words"][units]
        told = words["crew"]["brake"]
        assert told == render(brake_words(window), units)
        ends = (say("{}", (window.at_least, "force+")), say("{}", (window.at_most, "force-")))
        shown = ends if window.holds else ends[1:] if window.at_most > 0 else ()
        assert all(render(end, units) in told and render(end, units) in setting for end in shown)
        facts = {name: value for name, value, *_ in words["facts"]}
        assert facts["Reel brake"] == setting
        label = next(x for x in data["labels"]["false"] if x["kind"] == "feed")
        assert render(brake_label(window), units) in label[units]


def test_nobody_is_told_to_pull_before_the_plan_is_known() -> None:
    session = opened(MODELS / "roof_drop.toml")
    data, _ = best_of(session, late=False)
    early = data["words"]["SI"]["crew"]
    assert early["tone"] == "caution" and "Calculating" in early["order"]
    assert data["pending"] and data["playback"] is None and data["words"]["SI"]["gauge"] is None
    data, _ = best_of(session)
    late = data["words"]["SI"]["crew"]
    assert (late["order"], late["tone"]) == ("Pull as planned", "go") and not data["pending"]


def test_what_only_the_plan_stops_is_not_to_be_pulled(tmp_path: Path) -> None:
    """An adapter of half the load: no check of the run knows it."""
    session = opened(weak_adapter(tmp_path))
    assert not session.result.stops
    late = planned(session, session.best)
    assert late.fails and not session.fails
    data = page_data.plan_data(late, late.best)["directions"][late.best]
    words = data["words"]["SI"]
    told = words["crew"]
    assert not told["go"] and (told["order"], told["tone"]) == ("Do not pull yet", "stop")
    assert "adapter" in told["why"] and "adapter" in words["headline"]
    assert words["tone"] == "stop" and words["gauge"] is None
    assert "Searching for" in words["remedies"]["foot"]
    flags = [x for x in data["labels"]["false"] if x["kind"] == "fault"]
    assert len(flags) == 1 and flags[0]["alarm"] and "adapter" in flags[0]["SI"][0]


@pytest.mark.parametrize("lacking", ["machine", "rope"])
def test_without_a_machine_or_a_rope_nobody_is_told_to_pull(tmp_path: Path, lacking: str) -> None:
    data, plan = best_of(opened(without(tmp_path, lacking)))
    assert plan is None
    words = data["words"]["US"]
    told = words["crew"]
    assert told["tone"] == "caution" and f"no {lacking} given" in told["order"]
    assert lacking in told["lacking"] and words["gauge"]["load"] == "-"
    assert told["machine"]["named"] == (lacking != "machine")
    assert data["playback"]["lacking"] == f"no {lacking} given"


def test_both_directions_stand_side_by_side(session: Session) -> None:
    compared = page_data.answer_data(session)["compare"]["US"]
    first, second = session.result.candidates
    assert compared["heads"] == [
        "",
        f"feed {first.pull.feed_name}",
        f"feed {second.pull.feed_name}",
    ]
    rows = {name: cells for name, *cells in compared["rows"]}
    for candidate, cell in zip((first, second), rows["peak tension"], strict=True):
        assert cell[0].startswith(show(candidate.pull.peak_tension, "force", "US"))
    alarms = [cell[1] for cell in rows["verdict"]]
    assert alarms == [bool(c.barred or c.breaks) for c in (first, second)]


def test_every_finding_is_told_once_and_those_passed_are_counted(session: Session) -> None:
    data, _ = best_of(session, late=False)
    words = data["words"]["US"]
    found = session.result.findings_of(session.result.best)
    assert len(findings_on(words)) == sum(f.severity != "ok" for f in found)
    passed = sum(f.severity == "ok" for f in found)
    assert words["passed"] == f"{passed} of {len(found)} checks passed"


def test_an_edit_is_said_and_its_field_marked(riser: Session) -> None:
    rough = answered(riser.job, riser.given, {"friction:duct": 0.4}, riser.surroundings)
    data = page_data.field_data(rough)
    assert data["edits"]["US"] == ["Friction in duct (PVC-40 5): 0.25 → 0.40"]
    marked = [f for f in data["fields"]["SI"] if f["edited"]]
    assert [(f["key"], f["text"], f["given"]) for f in marked] == [("friction:duct", "0.4", "0.25")]
    assert not any(f["edited"] for f in page_data.field_data(riser)["fields"]["US"])


def test_very_long_runs_are_thinned_but_keep_their_peaks() -> None:
    values = np.zeros(50_000)
    values[31_337] = 9.0
    rows = kept_rows(values, 1000)
    assert len(rows) <= 1002
    assert 31_337 in rows and rows[0] == 0 and rows[-1] == 49_999
    assert (np.diff(rows) > 0).all()
