"""The live page without a browser: what-ifs, shares, files, and the list of what would help."""

from __future__ import annotations

import asyncio
import json
import os
import secrets
import time
from collections.abc import Awaitable, Callable
from functools import cache
from pathlib import Path
from threading import Event
from typing import Any

import pytest

from route3d.model.job import Job
from route3d.modelfile.read import load
from route3d.modelfile.toml_positions import read_toml
from route3d.modelfile.workbook.writing import workbook_of
from route3d.planning.evaluate import evaluate
from route3d.report.remedies import list_data, remedy_list
from route3d.report.sensitivity import Sensitivity
from tests.support.study_records import bent_run, sensitivity_of
from tests.viewer.web.jobs import MODELS, weak_adapter
from tests.viewer.web.served import merge, three_runs
from viewer.web import live as module
from viewer.web import page_data
from viewer.web.live import Browser, Live, hear, leave, live_of, watch
from viewer.web.session import Session, advised
from viewer.web.stamps import stamp_of

RISER, YARD = MODELS / "riser_duct_bank.toml", MODELS / "yard_run.toml"
WAIT = 60.0


@pytest.fixture
def file(tmp_path: Path) -> Path:
    copy = tmp_path / "job.toml"
    copy.write_bytes(RISER.read_bytes())
    return copy


@pytest.fixture(autouse=True)
def no_rest(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody drags a slider here."""
    monkeypatch.setattr(module, "_REST", 0.0)
    monkeypatch.setattr(module, "POLL", 0.02)


def change(file: Path, old: str, new: str) -> None:
    text = file.read_text()
    assert old in text
    file.write_text(text.replace(old, new))
    state = file.stat()  # a clock of coarse steps must not hide it
    os.utime(file, ns=(state.st_atime_ns, state.st_mtime_ns + 1_000_000))


class Page:
    """A browser of a live file: what it was sent, and what its page shows."""

    def __init__(self, live: Live, role: Any = "engineer") -> None:
        self.live, self.browser = live, Browser(role, self.told)
        self.client, self.seq = secrets.token_hex(16), 0
        self.heard: list[dict[str, Any]] = []
        self.data: dict[str, Any] = {}

    def told(self, text: str) -> None:
        found = json.loads(text)
        self.heard.append(found)
        if found["type"] == "page":
            self.data = found["data"]
        if found["type"] == "run":
            merge(self.data["runs"][found["run"]], json.loads(text)["data"])

    async def send(self, kind: str, **values: Any) -> int:
        self.seq += 1
        numbered = {} if kind in ("hello", "open", "ping") else {"seq": self.seq}
        await hear(self.live, self.browser, json.dumps({"type": kind, **numbered, **values}))
        return self.seq

    async def hello(self, **values: Any) -> None:
        await self.send("hello", client=self.client, **values)
        await self.rest()

    async def edit(self, key: str, text: str, units: str = "US", run: int = 0) -> int:
        return await self.send("edit", run=run, key=key, text=text, units=units)

    async def route(self, action: str, point: int, **values: Any) -> int:
        more = {"units": "US", **values}
        return await self.send("route", run=0, action=action, point=point, **more)

    async def until(self, seen: Callable[[], object]) -> None:
        late = time.monotonic() + WAIT
        while not seen():
            assert time.monotonic() < late, self.heard[-3:]
            await asyncio.sleep(0.005)

    async def rest(self) -> None:
        """Until nothing more is being worked out for anybody."""
        await self.until(lambda: not self.live.tasks)

    def last(self, kind: str) -> dict[str, Any]:
        return next(m for m in reversed(self.heard) if m["type"] == kind)

    @property
    def run(self) -> dict[str, Any]:
        found: dict[str, Any] = self.data["runs"][self.browser.run]
        return found

    @property
    def state(self) -> dict[str, Any]:
        return self.last("state")

    @property
    def words(self) -> dict[str, Any]:
        found: dict[str, Any] = self.run["directions"][self.run["best"]]["words"]["US"]
        return found

    @property
    def figures(self) -> dict[str, str]:
        return {name: value for name, value, *_ in self.words["facts"]}

    @property
    def refused(self) -> list[str]:
        return [m["reason"] for m in self.heard if m["type"] == "refused"]


@cache
def looked_at(text: str) -> Live:
    """The riser as a server has it once somebody has looked at it, of its file's ``text``."""
    live = opened(RISER, anew=True)
    assert RISER.read_text() == text

    async def look() -> None:
        await Page(live).hello()
        await Page(live).hello()  # what is sent once the plans are known

    asyncio.run(asyncio.wait_for(look(), WAIT))
    return live


def opened(file: Path, *, anew: bool = False) -> Live:
    """A file that is served; with ``anew`` nobody has looked at it, so that nothing is known."""
    text = "" if file.suffix == ".xlsx" else file.read_text()
    if anew or text != RISER.read_text():
        return live_of(file, load(file), stamp_of(file), None, None)
    before = looked_at(text)
    live = live_of(file, before.job, stamp_of(file), None, None)
    live.answers.update(before.answers)
    live.parts.update(before.parts)
    live.took.update(before.took)
    return live


def play(file: Path, story: Callable[[Live], Awaitable[None]], *, anew: bool = False) -> None:
    live = opened(file, anew=anew)

    async def run() -> None:
        watching = asyncio.create_task(watch(live))
        try:
            await story(live)
        finally:
            watching.cancel()

    asyncio.run(run())


# --- questions and answers ---------------------------------------------------------------------


def test_the_page_comes_first_then_the_answer_then_the_plan() -> None:
    async def story(live: Live) -> None:
        page = Page(live)
        await page.hello()
        kinds = [(m["type"], m.get("part")) for m in page.heard if m["type"] != "state"]
        assert kinds[:2] == [("page", None), ("problems", None)]
        parts = [part for kind, part in kinds if kind == "run"]
        assert parts[:3] == ["answer", "answer", "geometry"] and parts.count("plan") >= 3
        (answer,) = evaluate(load(RISER), with_remedies=False).runs
        assert page.words["headline"] == f"Feed from {answer.best.pull.feed_name}, pull at " + (
            answer.best.pull.pull_name
        )
        assert [d["pending"] for d in page.run["directions"]] == [False, False]
        first = next(m for m in page.heard if m.get("part") == "answer")
        assert [d["pending"] for d in first["data"]["directions"]] == [True, True]

    play(RISER, story, anew=True)


def test_an_answer_never_shows_the_plan_of_another_question() -> None:
    async def story(live: Live) -> None:
        page = Page(live)
        await page.hello()
        assert page.words["gauge"]["rows"]
        seq = await page.edit("friction:duct", "0.3")
        await page.until(lambda: page.heard[-1].get("part") == "answer")
        for direction in page.run["directions"]:
            assert direction["pending"] and direction["playback"] is None
            assert direction["words"]["US"]["gauge"] is None
        await page.rest()
        assert page.words["gauge"]["rows"] and page.last("run")["seq"] == seq

    play(RISER, story)


def test_meshes_come_again_only_where_they_changed() -> None:
    async def story(live: Live) -> None:
        page = Page(live)
        await page.hello()
        before = len(page.heard)
        await page.edit("friction:duct", "0.26")
        await page.rest()
        fresh = page.heard[before:]
        assert "geometry" not in {m.get("part") for m in fresh}
        answer = next(m for m in fresh if m.get("part") == "answer")
        rings = len(answer["data"]["colors"]["tension"][0])
        assert rings and {len(v) for b in answer["data"]["colors"].values() for v in b} == {rings}
        before = len(page.heard)
        await page.edit("bend:1", "50")
        await page.rest()
        fresh = page.heard[before:]
        answer = next(m for m in fresh if m.get("part") == "answer")
        assert "colors" not in answer["data"]
        assert [m.get("part") for m in fresh].count("geometry") == 1
        assert page.run["colors"] is None  # those of the new file hold
        before = len(page.heard)
        await page.edit("friction:duct", "0.5")  # the machine stands elsewhere: not the tubes
        await page.rest()
        first, *_ = [m for m in page.heard[before:] if m["type"] == "run"]
        assert first["part"] == "answer" and first["data"]["colors"]

    play(RISER, story)


def test_a_browser_that_comes_later_is_told_what_is_known(monkeypatch: pytest.MonkeyPatch) -> None:
    async def story(live: Live) -> None:
        first = Page(live)
        await first.hello()
        again = Page(live)  # in between the plan has come: its words are made once more
        await again.hello()
        for name in ("answer_data", "word_data", "geometry_data", "plan_data", "margin_data"):
            monkeypatch.setattr(page_data, name, lambda *_, **__: pytest.fail("made again"))
        for name in ("planned", "margined", "answered"):
            monkeypatch.setattr(module, name, lambda *_: pytest.fail("worked out again"))
        late = Page(live)
        await late.hello()
        parts = [m["part"] for m in late.heard if m["type"] == "run"]
        assert parts == ["answer", "answer", "geometry"]
        assert late.data == first.data == again.data
        assert {m["seq"] for m in late.heard if m["type"] == "run"} == {0}

    play(RISER, story, anew=True)


def test_only_the_newest_question_is_answered() -> None:
    async def story(live: Live) -> None:
        page = Page(live)
        await page.hello()
        for text in ("0.31", "0.32", "0.33", "0.34", "0.35"):
            seq = await page.edit("friction:duct", text)
        await page.rest()
        plans = {m["seq"] for m in page.heard if m.get("part") == "plan" and m["seq"]}
        assert plans == {seq}
        assert [f["text"] for f in page.run["fields"]["US"] if f["edited"]] == ["0.35"]

    play(RISER, story)


def test_the_units_of_the_browser_come_first() -> None:
    async def story(live: Live) -> None:
        page = Page(live)
        await page.hello(units="SI")
        first, second = [m["data"] for m in page.heard if m.get("part") == "answer"][:2]
        assert [list(d["words"]) for d in first["directions"]] == [["SI"], ["SI"]]
        assert [list(d["words"]) for d in second["directions"]] == [["US"], ["US"]]

    play(RISER, story, anew=True)


def test_a_run_that_takes_long_shows_its_colors_first(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "_SLOW", 0.0)

    async def story(live: Live) -> None:
        page = Page(live)
        await page.hello()
        before = len(page.heard)
        await page.edit("friction:duct", "0.3")
        await page.rest()
        early, full, _ = [m for m in page.heard[before:] if m.get("part") == "answer"]
        assert "peak tension" in early["data"]["working"]["US"]
        assert early["data"]["colors"] == full["data"]["colors"]
        assert full["data"]["working"] is None
        before = len(page.heard)
        await page.edit("bend:1", "50")  # another route: its meshes are not there yet
        await page.rest()
        assert len([m for m in page.heard[before:] if m.get("part") == "answer"]) == 2

    play(RISER, story)


# --- edits of one's own ------------------------------------------------------------------------


def test_every_browser_has_its_own_what_if() -> None:
    async def story(live: Live) -> None:
        one, other = Page(live), Page(live)
        await one.hello()
        await other.hello()
        calm, heard = other.figures, len(other.heard)
        await one.edit("friction:duct", "0.4")
        await one.rest()
        assert one.figures != calm and one.state["edits"]["US"]
        assert len(other.heard) == heard and other.figures == calm
        await other.edit("friction:riser", "0.5")
        await other.rest()
        assert list(one.state["whatif"]) == ["friction:duct"]
        assert list(other.state["whatif"]) == ["friction:riser"]

    play(RISER, story)


def test_undo_redo_and_back_to_the_file() -> None:
    async def story(live: Live) -> None:
        page = Page(live)
        await page.hello()
        given = page.figures
        await page.edit("friction:duct", "0.3")
        await page.edit("friction:riser", "0.5")
        await page.rest()
        both = page.figures
        assert len(page.state["edits"]["US"]) == 2 and page.state["canUndo"]
        await page.send("undo", run=0)
        await page.rest()
        assert page.state["edits"]["US"] == ["Friction in duct (PVC-40 5): 0.25 → 0.30"]
        assert page.state["canRedo"]
        await page.send("redo", run=0)
        await page.rest()
        assert page.figures == both and not page.state["canRedo"]
        await page.send("reset", run=0)
        await page.rest()
        assert page.figures == given and page.state["edits"]["US"] == []
        await page.send("undo", run=0)  # even that can be taken back
        await page.rest()
        assert page.figures == both
        await page.edit("friction:duct", "0.25")  # the value of the file is no edit
        await page.rest()
        assert list(page.state["whatif"]) == ["friction:riser"]

    play(RISER, story)


def test_variants_stand_side_by_side() -> None:
    async def story(live: Live) -> None:
        page = Page(live)
        await page.hello()
        await page.send("variant", run=0, action="keep", name="as drawn")
        await page.edit("friction:duct", "0.5")
        await page.send("variant", run=0, action="keep", name="<b>rough</b>")
        await page.rest()
        given, rough = page.state["variants"]
        assert (given["name"], rough["name"]) == ("as drawn", "<b>rough</b>")
        assert given["edits"]["US"] == [] and "0.50" in rough["edits"]["US"][0]
        assert (
            dict(map(tuple, rough["summary"]["US"]))["Peak tension"] == page.figures["Peak tension"]
        )
        assert given["summary"] != rough["summary"]
        await page.send("variant", run=0, action="use", id=given["id"])
        await page.rest()
        assert page.state["whatif"] == {}
        assert (
            dict(map(tuple, given["summary"]["US"]))["Peak tension"] == page.figures["Peak tension"]
        )
        await page.send("variant", run=0, action="drop", id=rough["id"])
        await page.rest()
        assert [v["id"] for v in page.state["variants"]] == [given["id"]]
        await page.send("variant", run=0, action="use", id="99")
        assert page.refused == ["there is no such variant"]

    play(RISER, story)


def test_what_is_shared_is_offered_to_the_others_and_taken_only_by_who_takes_it() -> None:
    async def story(live: Live) -> None:
        one, other, third = Page(live), Page(live), Page(live)
        for page in (one, other, third):
            await page.hello()
        await one.edit("friction:duct", "0.4")
        await one.send("share", run=0)
        await one.rest()
        (offer,) = other.state["shared"]
        assert offer["name"] == one.state["name"] != other.state["name"]
        assert offer["edits"]["SI"] == ["Friction in duct (PVC-40 5): 0.25 → 0.40"]
        assert one.state["shared"] == [] and other.state["whatif"] == {}
        await one.edit("friction:duct", "0.6")  # what is offered stays as it was
        await other.send("take", run=0, id=offer["id"])
        await other.rest()
        assert other.state["whatif"] == {"friction:duct": "0.4"} and third.state["whatif"] == {}
        assert other.state["canUndo"]
        await one.send("reset", run=0)
        await one.send("share", run=0)  # nothing changed: nothing offered any more
        await one.rest()
        assert third.state["shared"] == []
        await third.send("take", run=0, id=offer["id"])
        assert third.refused == ["this what-if is no longer shared"]

    play(RISER, story)


@pytest.mark.parametrize(
    ("key", "text", "said"),
    [
        ("friction:duct", "wet", "Friction in duct (PVC-40 5), 'wet': "),
        ("friction:duct", "30", "allowed: "),
        ("bend:3", "900", "maximum that fits: "),
        ("machine", "none such", "no machine is named 'none such'"),
        ("title", "x", "cannot be edited"),
        ("bend:9", "48", "the run has no bend 9"),
    ],
)
def test_what_makes_no_sense_is_refused_to_who_asked_and_changes_nothing(
    key: str, text: str, said: str
) -> None:
    async def story(live: Live) -> None:
        page, other = Page(live), Page(live)
        await page.hello()
        await other.hello()
        before, heard = json.dumps(page.data), len(other.heard)
        seq = await page.edit(key, text)
        await page.rest()
        refusal = page.last("refused")
        assert said in refusal["reason"] and (refusal["seq"], refusal["key"]) == (seq, key)
        assert json.dumps(page.data) == before and len(other.heard) == heard

    play(RISER, story)


def test_a_radius_that_does_not_fit_is_told_in_the_units_of_the_field() -> None:
    """The end is 15 ft from the vertex, so that a right angle has room for 15 ft of radius."""

    async def story(live: Live) -> None:
        page = Page(live)
        await page.hello()
        await page.edit("bend:3", "900")
        most = float(page.refused[0].split("that fits: ")[1].split(" in")[0])
        assert 179.8 <= most <= 180.0

    play(RISER, story)


def test_who_comes_back_finds_what_was_left_and_another_server_takes_what_is_brought() -> None:
    async def story(live: Live) -> None:
        page = Page(live)
        await page.hello()
        await page.edit("friction:duct", "0.4")
        await page.edit("bend:1", "47.3")
        await page.send("variant", run=0, action="keep", name="mine")
        await page.rest()
        kept = {"F1": page.state["whatif"]}
        leave(live, page.browser)
        again = Page(live)
        again.client = page.client
        await again.hello()
        assert again.state["canUndo"] and again.state["variants"][0]["name"] == "mine"
        assert again.figures == page.figures
        twin = Page(live)  # the same page opened twice: the first keeps its own
        twin.client = page.client
        await twin.hello(whatif=kept)
        await twin.edit("friction:duct", "0.5")
        await twin.rest()
        assert again.state["whatif"]["friction:duct"] == "0.4"
        other = opened(RISER)
        fresh = Page(other)
        await fresh.hello(whatif=kept)
        await fresh.until(lambda: not other.tasks)
        assert fresh.state["whatif"] == kept["F1"] and fresh.figures == page.figures
        bad = Page(other)
        await bad.hello(whatif={"F1": {"friction:duct": "<script>"}, "F9": {"reel": "1"}})
        await bad.until(lambda: not other.tasks)
        assert bad.state["whatif"] == {} and "dropped" in bad.last("problems")["notice"]

    play(RISER, story)


def test_the_link_of_the_crew_changes_nothing() -> None:
    async def story(live: Live) -> None:
        crew = Page(live, "crew")
        await crew.hello(whatif={"F1": {"friction:duct": "0.9"}})
        given = crew.figures
        assert crew.data["role"] == "crew" and not any(
            f["edited"] for f in crew.run["fields"]["US"]
        )
        await crew.edit("friction:duct", "0.9")
        for kind in ("reset", "undo", "redo", "share"):
            await crew.send(kind, run=0)
        await crew.send("variant", run=0, action="keep", name="x")
        await crew.send("take", run=0, id="1")
        await crew.send("save", run=0, name="x.toml")
        await crew.route("delete", 1)
        await crew.send("legs", run=0, lines=["120 ft"], units="US")
        await crew.send("compare", run=0, units="US", file="x.toml")
        await crew.rest()
        assert "route" not in crew.run
        assert len(crew.refused) == 11 and all("link is read-only" in r for r in crew.refused)
        assert crew.figures == given and "state" not in {m["type"] for m in crew.heard}
        await crew.send("open", run=0)
        await crew.send("ping", at=7)
        assert crew.last("pong")["at"] == 7

    play(RISER, story)


# --- asked for beside the run ------------------------------------------------------------------


def test_what_is_behind_a_figure_is_told_with_the_numbers_of_the_what_if() -> None:
    async def story(live: Live) -> None:
        page, crew = Page(live), Page(live, "crew")
        await page.hello()
        await crew.hello()
        await page.edit("friction:duct", "0.4")
        await page.rest()
        rules = {fact[4] for fact in page.words["facts"]} - {None}
        rules |= {dict(zip(page.words["findings"]["heads"], row, strict=True))["rule"]
                  for row in page.words["findings"]["rows"]}  # fmt: skip
        assert {"sidewall pressure", "conductor tension"} < rules
        for rule in rules:
            await page.send("explain", run=0, rule=rule, units="US")
            await page.rest()
            told = page.last("explained")["data"]
            assert told["rule"] == rule and told["source"] and told["text"]
            assert all("<math" in f["mathml"] and "typst" not in f for f in told["formulas"])
        await page.send("explain", run=0, rule="sidewall pressure", units="US")
        await crew.send("explain", run=0, rule="sidewall pressure", units="US")
        await page.rest()
        worked = [str(each.last("explained")["data"]["worked"]) for each in (page, crew)]
        assert worked[0] != worked[1] and "lbf/ft" in worked[0]
        await page.send("explain", run=0, rule="sidewal presure", units="US")
        await page.rest()
        assert "did you mean 'sidewall pressure" in page.refused[-1]

    play(RISER, story)


def test_a_what_if_a_variant_and_another_file_are_compared_with_the_file(file: Path) -> None:
    async def story(live: Live) -> None:
        page = Page(live)
        other = file.with_name("other.toml")
        other.write_text(file.read_text().replace("friction   = 0.25", "friction   = 0.40"))
        await page.hello()
        assert page.data["files"] == ["other.toml"]
        await page.send("compare", run=0, units="US")
        await page.rest()
        assert "nothing has been changed" in page.refused[-1]
        await page.edit("friction:duct", "0.4")
        await page.send("variant", run=0, action="keep", name="rough")
        await page.send("compare", run=0, units="US")
        await page.rest()
        told = page.last("compared")["data"]
        assert told["labels"] == ["model file", "what-if"]
        assert [i["shown"] for i in told["inputs"] if "friction" in i["key"]] == [["0.25", "0.40"]]
        figures = {f["key"]: f for f in told["runs"][0]["figures"]}
        assert figures["peak_tension_N"]["differs"] and not figures["length_m"]["differs"]
        assert figures["peak_tension_N"]["shown"][1] in page.figures["Peak tension"]
        was, now = figures["utilization"]["values"]
        points = figures["utilization"]["change_words"][1]
        assert points == f"{100 * (now - was):+.0f} points"
        assert told["picture"].startswith("data:image/svg+xml;base64,")
        await page.send("undo", run=0)
        for against in ({"variant": "1"}, {"file": "other.toml"}):
            await page.send("compare", run=0, units="US", **against)
            await page.rest()
            again = page.last("compared")["data"]
            assert again["labels"][1] in ("rough", "other.toml")
            values = {f["key"]: f["values"] for f in again["runs"][0]["figures"]}
            assert values["peak_tension_N"] == pytest.approx(figures["peak_tension_N"]["values"])
        for name in ("../job.toml", "/etc/passwd", "there is none.toml"):
            count = len(page.refused)
            await page.send("compare", run=0, units="US", file=name)
            await page.rest()
            assert len(page.refused) == count + 1 and str(file.parent) not in page.refused[-1]

    play(file, story)


def test_sensitivity_is_that_of_the_what_if(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[Job] = []

    def invented(job: Job) -> tuple[Sensitivity, ...]:
        asked.append(job)
        if len(asked) == 2:
            raise ModuleNotFoundError("no package SALib", name="SALib")
        return (sensitivity_of(bent_run(3)),)

    monkeypatch.setattr("route3d.api.sensitivities", invented)

    async def story(live: Live) -> None:
        page = Page(live)
        await page.hello()
        await page.edit("friction:duct", "0.4")
        await page.send("sensitivity", run=0)
        await page.rest()
        data = page.last("studied")["data"]
        assert data["edits"]["US"] and data["edits"]["US"] == data["edits"]["SI"]
        assert asked[-1].runs[0].route.conduits[0].friction == 0.4
        for units, word in (("US", "lbf"), ("SI", "kN")):
            parts = data["parts"][units]
            kinds = {part["kind"] for part in parts}
            assert kinds == {"heading", "words", "table", "figures"}
            drawn = [item["svg"] for p in parts if p["kind"] == "figures" for item in p["items"]]
            assert len(drawn) == 6 and word in drawn[0]
        await page.send("sensitivity", run=0)
        await page.rest()
        assert "pip install 'route3d[study]'" in page.refused[-1]
        crew = Page(live, "crew")
        await crew.hello()
        await crew.send("sensitivity", run=0)
        assert "read-only" in crew.refused[-1]

    play(file, story)


# --- the model file ----------------------------------------------------------------------------


def test_a_what_if_is_saved_to_a_new_file_with_every_comment(file: Path) -> None:
    async def story(live: Live) -> None:
        page = Page(live)
        await page.hello()
        await page.edit("friction:duct", "0.31")
        await page.edit("bend:1", "50.5")
        await page.edit("speed:1", "12")
        await page.edit("line_pull:0", "3600")
        await page.edit("reel", "180")
        await page.rest()
        seq = await page.send("save", run=0, name="what if.toml")
        assert (page.last("saved")["file"], page.last("saved")["seq"]) == ("what if.toml", seq)
        out = file.with_name("what if.toml")
        (answer,) = evaluate(load(out), with_remedies=False).runs
        now = live.known((0, frozenset(page.browser.what_if.edits.items())))
        assert now is not None
        pulls = [(c.pull.peak_tension, c.pull.peak_sidewall) for c in answer.candidates]
        wanted = [(c.pull.peak_tension, c.pull.peak_sidewall) for c in now.result.candidates]
        assert pulls == [pytest.approx(pair, rel=1e-9) for pair in wanted]
        assert now.run.machine is not None
        wanted_speeds = [pytest.approx(g.speed) for g in now.run.machine.gears]
        assert [g.speed for g in load(out).machines[0].gears] == wanted_speeds
        comments = [t.partition("#")[2] for t in file.read_text().splitlines() if "#" in t]
        kept = [t.partition("#")[2] for t in out.read_text().splitlines() if "#" in t]
        assert comments == kept
        text, model = out.read_text(), file.read_text()
        await page.send("save", run=0, name="what if.toml")
        await page.send("save", run=0, name="job.toml")
        assert all("already exists" in r for r in page.refused) and len(page.refused) == 2
        assert (out.read_text(), file.read_text()) == (text, model)

    play(file, story)


def test_a_point_that_is_dragged_changes_the_figures_and_is_one_step_back() -> None:
    async def story(live: Live) -> None:
        page = Page(live)
        await page.hello()
        given, places = page.figures, [p["at"] for p in page.run["route"]["points"]]
        for x in ("190", "200", "210"):
            await page.route("move", 1, at=[x, "", ""], gesture="1")
            await page.route("move", 2, at=[x, "", ""], gesture="1")
        await page.rest()
        texts = [p["text"]["US"][:3] for p in page.run["route"]["points"]]
        assert texts[1:3] == [["210", "0", "-6"], ["210", "95", "-6"]]
        assert page.figures != given and page.run["length"] > 0
        assert page.run["edits"]["US"] == ["Route: point 2 to point 3 moved 30.00 ft"]
        await page.send("undo", run=0)
        await page.rest()
        assert [p["at"] for p in page.run["route"]["points"]] == places
        assert page.figures == given and not page.state["canUndo"]
        await page.send("redo", run=0)
        await page.rest()
        assert page.run["route"]["points"][1]["text"]["US"][0] == "210"

    play(RISER, story)


def test_a_point_that_makes_no_route_is_refused_and_all_stays_as_it_was() -> None:
    async def story(live: Live) -> None:
        page = Page(live)
        await page.hello()
        await page.route("insert", 0)
        await page.rest()
        shown, state = page.run["route"], page.state["whatif"]
        for action, point, more, words in (
            ("move", 2, {"at": ["2", "", ""]}, "turns back"),
            ("move", 1, {"at": ["179", "", ""]}, ""),
            ("move", 2, {"at": ["x", "", ""]}, "not a number"),
            ("move", 2, {"at": ["1000000", "", ""]}, "allowed"),
            ("move", 2, {}, "three coordinates"),
            ("bend", 2, {"text": "9 kN"}, ""),
            ("bend", 2, {"text": "100 ft"}, "maximum radius that fits at point 3: 1,080 in"),
            ("length", 0, {"text": "0"}, "greater than 0"),
            ("delete", 77, {}, "no point 78"),
        ):
            before = len(page.refused)
            await page.route(action, point, **more)
            await page.rest()
            if words:
                assert len(page.refused) == before + 1 and words in page.refused[-1]
                assert " m " not in page.refused[-1]  # in the units on show
        await page.route("move", 1, at=["90", "0", "-5.5"])
        await page.rest()
        assert page.run["route"] == shown and page.state["whatif"] == state

    play(RISER, story)


def test_legs_are_answered_at_once_or_said_to_be_wrong_at_their_line() -> None:
    async def story(live: Live) -> None:
        page = Page(live)
        await page.hello()
        lines, given = page.run["route"]["legs"]["lines"], page.figures
        for length in ("15", "150", "150 ft"):
            typed = [lines[0], length, *lines[2:]]
            await page.send("legs", run=0, lines=typed, units="US", gesture="7")
        await page.rest()
        assert page.run["route"]["legs"]["lines"] == typed and page.figures != given
        await page.send("legs", run=0, lines=[*typed[:2], "rigth 90"], units="US", gesture="7")
        fault = page.last("legs")["faults"][0]
        assert fault["leg"] == 2 and "rigth" in fault["message"] and "right" in fault["fix"]
        await page.rest()
        assert page.run["route"]["legs"]["lines"] == typed and not page.refused
        again = Page(live)  # what was typed outlives a reload
        await again.hello(whatif={"F1": page.state["whatif"]})
        assert again.run["route"] == page.run["route"]
        await page.send("undo", run=0)
        await page.rest()
        assert page.run["route"]["legs"]["lines"] == lines and page.figures == given

    play(RISER, story)


def test_an_edited_route_is_saved_into_the_model_and_the_page_goes_on_from_there(
    file: Path,
) -> None:
    async def story(live: Live) -> None:
        page, other = Page(live), Page(live)
        await page.hello()
        await other.hello()
        text = file.read_text()
        await page.send("save", run=0, name="", into=True)
        assert "nothing has been changed" in page.refused[-1]
        await page.route("length", 0, text="150", rest=True)
        await other.route("move", 1, at=["181", "", ""])
        await page.rest()
        figures = page.figures
        await page.send("save", run=0, name="", into=True)
        assert page.last("saved")["file"] == "job.toml"
        await page.until(lambda: not page.run["edits"]["US"] and not other.run["edits"]["US"])
        await page.rest()
        assert page.figures == figures and page.state["whatif"] == {}
        assert "another route now" in other.last("problems")["notice"]
        assert file.with_name("job.toml.bak").read_text() == text
        made = [line.partition("#")[2] for line in file.read_text().splitlines() if "#" in line]
        assert made == [line.partition("#")[2] for line in text.splitlines() if "#" in line]
        assert load(file).runs[0].route.vertices[0] == load(RISER).runs[0].route.vertices[0]

    play(file, story)


def test_a_model_that_is_being_changed_is_not_written_over(
    file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    # No look at the file comes between its change and the save: the page does not know of it yet.
    monkeypatch.setattr("viewer.web.live.POLL", 60.0)

    async def story(live: Live) -> None:
        page = Page(live)
        await page.hello()
        await page.route("delete", 1)
        await page.rest()
        change(file, "friction   = 0.25", "friction   = 0.26")
        text = file.read_text()
        await page.send("save", run=0, name="", into=True)
        assert "is being changed" in page.refused[-1] and file.read_text() == text

    play(file, story)


@pytest.mark.parametrize(
    "name",
    ["", "x", "x.txt", "../x.toml", "/tmp/x.toml", "a/b.toml", "..toml", "a\\b.toml", ".x.toml",
     "x.toml ~", "C:x.toml", "x" * 99 + ".toml"],
)  # fmt: skip
def test_a_file_is_saved_beside_the_model_or_not_at_all(file: Path, name: str) -> None:
    async def story(live: Live) -> None:
        page = Page(live)
        await page.hello()
        await page.send("save", run=0, name=name)
        assert "not a model file name" in page.refused[0]
        assert [p.name for p in file.parent.iterdir()] == ["job.toml"]

    play(file, story)


def test_a_file_saved_anew_is_read_and_the_edits_are_kept(file: Path) -> None:
    async def story(live: Live) -> None:
        page = Page(live)
        await page.hello()
        await page.edit("friction:riser", "0.5")
        await page.rest()
        before = page.figures
        change(file, "friction   = 0.25", "friction   = 0.3")
        await page.until(lambda: page.figures != before)
        await page.rest()
        fields = {f["key"]: f["text"] for f in page.run["fields"]["US"]}
        assert (fields["friction:duct"], fields["friction:riser"]) == ("0.3", "0.5")
        assert page.state["edits"]["US"] == [
            "Friction in riser (STEEL-PIPE-40 5): 0.35 → 0.50"
        ] or ("0.50" in page.state["edits"]["US"][0])

    play(file, story)


def test_a_broken_file_keeps_everything_but_says_where(file: Path) -> None:
    async def story(live: Live) -> None:
        page = Page(live)
        await page.hello()
        before = page.figures
        change(file, "friction   = 0.25", "friction   = -1")
        await page.until(lambda: page.last("problems")["problems"])
        assert page.last("problems")["problems"][0].startswith("line ")
        assert page.figures == before
        late = Page(live)  # who comes now is told too
        await late.hello()
        assert late.last("problems")["problems"] and late.figures == before
        await page.edit("friction:riser", "0.5")  # and it can still be worked with
        await page.rest()
        assert page.figures != before
        change(file, "friction   = -1", "friction   = 0.3")
        await page.until(lambda: not page.last("problems")["problems"])
        await page.rest()
        assert page.state["edits"]["US"]
        assert {f["key"]: f["text"] for f in page.run["fields"]["US"]}["friction:duct"] == "0.3"

    play(file, story)


def test_a_workbook_is_followed_as_it_is_saved_and_a_what_if_of_it_is_saved_as_text(
    tmp_path: Path,
) -> None:
    text = RISER.read_text()
    book = tmp_path / "job.xlsx"

    def save(model: str) -> None:
        book.write_bytes(workbook_of(read_toml(model).data))

    async def story(live: Live) -> None:
        page = Page(live)
        await page.hello()
        await page.edit("friction:riser", "0.5")
        await page.rest()
        await page.send("save", run=0, name="what if.toml")
        assert page.last("saved")["file"] == "what if.toml"
        riser = load(tmp_path / "what if.toml").runs[0].route.conduits[-1]
        assert riser.friction == pytest.approx(0.5)
        before = page.figures
        save(text.replace("friction   = 0.25", "friction   = -1"))
        await page.until(lambda: page.last("problems")["problems"])
        assert page.last("problems")["problems"][0].startswith("sheet Conduits, cell ")
        assert page.figures == before
        save(text.replace("friction   = 0.25", "friction   = 0.3"))
        await page.until(lambda: not page.last("problems")["problems"])
        await page.rest()
        fields = {f["key"]: f["text"] for f in page.run["fields"]["US"]}
        assert (fields["friction:duct"], fields["friction:riser"]) == ("0.3", "0.5")

    save(text)
    play(book, story)


def test_edits_that_no_longer_fit_are_dropped_and_said_so(file: Path) -> None:
    async def story(live: Live) -> None:
        page = Page(live)
        await page.hello()
        await page.edit("friction:riser", "0.5")
        await page.send("variant", run=0, action="keep", name="rough")
        await page.rest()
        text = file.read_text().replace('"riser"', '"pipe"')
        file.write_text(text.replace("[conduit.riser]", "[conduit.pipe]"))
        await page.until(lambda: "dropped" in page.last("problems")["notice"])
        await page.rest()
        assert page.state["whatif"] == {} and page.state["variants"] == []

    play(file, story)


def test_runs_come_and_go_with_the_file(file: Path) -> None:
    async def story(live: Live) -> None:
        page = Page(live)
        await page.hello()
        before = page.figures
        file.write_text(three_runs())
        await page.until(lambda: len(page.data["runs"]) == 3)
        await page.rest()
        assert [r["name"] for r in page.data["runs"]] == ["F1", "F2", "F3"]
        assert page.data["runs"][1]["stub"] and page.data["runs"][1]["ends"]
        await page.send("open", run=1)
        await page.rest()
        assert page.run["name"] == "F2" and not page.run["directions"][0]["pending"]
        await page.edit("friction:duct", "0.4", run=1)
        await page.rest()
        assert page.state["run"] == 1 and page.state["edits"]["US"]
        await page.send("open", run=0)
        await page.rest()
        assert page.figures == before and page.state["whatif"] == {}
        await page.send("open", run=9)
        assert page.refused == ["there is no such run"]
        file.write_text(file.read_text().replace('"F1"', '"G1"'))
        await page.until(lambda: page.last("problems")["problems"])
        assert "no run 'F1'" in page.last("problems")["problems"][0]
        assert [r["name"] for r in page.data["runs"]] == ["F1", "F2", "F3", "G1"]

    play(file, story)


# --- what would make it pass -------------------------------------------------------------------


def remedies(page: Page) -> dict[str, Any]:
    found: dict[str, Any] = page.words["remedies"]
    return found


def test_an_edit_that_makes_the_run_fail_shows_the_list_and_one_that_passes_none() -> None:
    async def story(live: Live) -> None:
        page = Page(live)
        await page.hello()
        assert remedies(page)["groups"] == [] and remedies(page)["foot"] == ""
        await page.edit("friction:duct", "0.9")
        await page.until(lambda: remedies(page)["foot"])
        assert "Searching for" in remedies(page)["foot"]  # while it is made
        await page.rest()
        told = remedies(page)
        assert told["title"] and told["groups"][0]["lines"][0]["number"] == 1
        assert told["command"] == "" and "as edited here" in told["foot"]
        await page.send("reset", run=0)
        await page.rest()
        assert remedies(page)["groups"] == [] and remedies(page)["foot"] == ""

    play(RISER, story)


def test_the_list_is_that_of_the_commands_and_is_made_once(monkeypatch: pytest.MonkeyPatch) -> None:
    (answer,) = evaluate(load(YARD)).runs
    expected = json.loads(json.dumps(list_data(remedy_list(answer, "US"))))
    searched: list[Session] = []

    def counted(session: Session) -> Session:
        searched.append(session)
        return advised(session)

    monkeypatch.setattr(module, "advised", counted)

    async def story(live: Live) -> None:
        for _ in range(2):
            page = Page(live)
            await page.hello()
            for direction in page.run["directions"]:
                assert direction["words"]["US"]["remedies"] == expected

    play(YARD, story)
    assert len(searched) == 1


def test_a_run_that_only_its_plan_stops_has_its_list(tmp_path: Path) -> None:
    async def story(live: Live) -> None:
        page = Page(live)
        await page.hello()
        assert remedies(page)["groups"] and page.words["gauge"] is None

    play(weak_adapter(tmp_path), story)


def test_an_edit_is_answered_while_a_list_is_made_and_that_list_is_never_shown(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Nor are lists made that nobody asks for any more: they would slow down the newest."""
    hold, searched = Event(), []

    def slow(session: Session) -> Session:
        searched.append(session.edits["friction:duct"])
        assert hold.wait(WAIT)
        return advised(session)

    monkeypatch.setattr(module, "advised", slow)

    async def story(live: Live) -> None:
        page = Page(live)
        await page.hello()
        await page.edit("friction:duct", "0.9")
        await page.until(lambda: searched)
        for text in ("0.8", "0.7"):  # each answered, with the first list still being made
            seq = await page.edit("friction:duct", text)
            await page.until(lambda s=seq: page.last("run")["seq"] == s)
            assert "Searching for" in remedies(page)["foot"] and not remedies(page)["groups"]
        hold.set()
        await page.rest()
        assert searched == [0.9, 0.7]
        assert len([m for m in page.heard if m.get("part") == "advice"]) == 1

    play(RISER, story)


def test_a_run_too_large_to_search_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    for place in ("viewer.web.session.is_quick", "viewer.web.page_data.is_quick"):
        monkeypatch.setattr(place, lambda _: False)
    monkeypatch.setattr(module, "advised", lambda _: pytest.fail("searched all the same"))

    async def story(live: Live) -> None:
        page = Page(live)
        await page.hello()
        assert "too large" in remedies(page)["foot"] and remedies(page)["groups"] == []

    play(YARD, story)


def test_the_merging_of_this_test_is_that_of_the_parts() -> None:
    into = {"a": {"x": 1, "y": 2}, "directions": [{"w": {"US": 1}}, {}], "l": [1]}
    merge(into, {"a": {"y": 3}, "directions": [{"w": {"SI": 2}}, {"k": 1}], "l": []})
    assert into == {
        "a": {"x": 1, "y": 3},
        "directions": [{"w": {"US": 1, "SI": 2}}, {"k": 1}],
        "l": [],
    }
    assert page_data.MODES[-1] == "conduit"
