"""The log of a pull, typed by a finger on a phone without a network: answered, kept, handed on."""

from __future__ import annotations

import csv
import io
import json
import re
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from route3d.field.log.read import read_log
from route3d.language import names_of
from route3d.modelfile.read import load
from route3d.planning.result import JobResult
from tests.viewer.conftest import MODELS
from tests.viewer.web.browser.pages import SIZES, boxes, drawn, said, violations, wait_until

pytestmark = pytest.mark.browser

Written = dict[str, tuple[Path, JobResult]]
Typing = Callable[..., "Phone"]

_SCREENS = SIZES | {"small": (360, 640)}

# A clock that a test can set, a store that it can fill, and an ear for sounds.
_HOOKS = """
// without the 3D picture, which no phone shows beside the log, a page opens four times as fast
const context = HTMLCanvasElement.prototype.getContext;
HTMLCanvasElement.prototype.getContext = function (kind, ...more) {
  return kind === "2d" ? context.call(this, kind, ...more) : null;
};
const [now, mono] = [Date.now, performance.now.bind(performance)];
const later = () => Number(localStorage.later || 0);
Date.now = () => now() + Number(localStorage.ahead || 0) + later();
performance.now = () => mono() + later();
const put = IDBObjectStore.prototype.put;
IDBObjectStore.prototype.put = function (...given) {
  if (window.full) throw new DOMException("no room", "QuotaExceededError");
  return put.apply(this, given);
};
window.heard = [];
const start = OscillatorNode.prototype.start;
OscillatorNode.prototype.start = function (at) {
  window.heard.push([this.type, this.frequency.value]); return start.call(this, at);
};
"""


class Phone:
    """A page with the log open, in a browser that knows nothing yet."""

    def __init__(self, context: Any, path: Path) -> None:
        self.context, self.path = context, path
        self.page = self.opened()

    def opened(self) -> Any:
        page = self.context.new_page()
        page.faults = []
        page.on("pageerror", lambda error: page.faults.append(str(error)))
        page.goto(f"{self.path.as_uri()}#tab=log")
        page.wait_for_selector("#log-enter")
        return page

    def again(self) -> None:
        """Reloaded, as after a lock or a battery."""
        self.page.reload()
        self.page.wait_for_selector("#log-enter")
        drawn(self.page)

    def keys(self, field: str, text: str) -> None:
        """Digits tapped one by one, by a finger that is always right."""
        script = "(e, keys) => keys.forEach(k => e.querySelector(`.k${k}`).click())"
        self.page.locator(f"#pad-{field}").evaluate(script, list(text.replace(".", "d")))

    def everything(self) -> str:
        """All that is to be read once the forecast has come, times left out."""
        self.page.wait_for_selector("#log-forecast")
        text = ""
        while text != (now := re.sub(r"\d+:\d\d(:\d\d)?", "", said(self.page, "body"))):
            text = now
            self.page.wait_for_timeout(600)
        return text

    def reading(self, cable: str, load: str) -> str:
        """What is answered to a reading, a minute after what was before."""
        self.page.evaluate("localStorage.later = Number(localStorage.later || 0) + 60e3")
        self.keys("cable", cable)
        self.keys("reading", load)
        return self.tap("enter")

    def tap(self, key: str) -> str:
        self.page.locator(f"#log-{key}").evaluate("e => e.click()")
        drawn(self.page)
        return self.said()

    def said(self) -> str:
        return said(self.page, "#log-answer").replace("\n\n", "\n").lstrip("✓▲▼◆?")

    def kept(self, what: str) -> None:
        """So many entries, beside what the page has noted of departures itself."""
        count, _, words = what.partition(" ")
        notes = "[...document.querySelectorAll('#log-entries tr:not(.gone) th small')]"
        noted = f"{notes}.filter(e => e.textContent.startsWith('Load ')).length"
        kept = "document.getElementById('log-kept').textContent"
        wait_until(self.page, f"{kept} === `${{{count} + {noted}}} {words}`")

    def saved(self, button: str) -> str:
        """The text of a file that is exported."""
        with self.page.expect_download() as waiting:
            self.page.click(button)
        return Path(waiting.value.path()).read_text("utf-8")

    def take(self, name: str, text: str) -> str:
        """What is said of an imported file."""
        file = {"name": name, "mimeType": "text/plain", "buffer": text.encode()}
        self.page.set_input_files("#import-log", files=[file])
        self.page.wait_for_selector("#log-imported")
        drawn(self.page)
        drawn(self.page)
        return said(self.page, "#log-imported")

    def heard(self) -> list[Any]:
        """The sounds since it was asked last."""
        sounds: list[Any] = self.page.evaluate("window.heard.splice(0)")
        return sounds


@pytest.fixture
def typing(browser: Any, written: Written) -> Iterator[Typing]:
    contexts = []

    def begin(name: str, size: str = "phone", **more: Any) -> Phone:
        width, height = _SCREENS[size]
        screen = {"viewport": {"width": width, "height": height}, "has_touch": True}
        context = browser.browser.new_context(**screen, timezone_id="America/Boise", **more)
        contexts.append(context)
        context.add_init_script(_HOOKS)
        context.set_offline(True)
        return Phone(context, written[name][0])

    yield begin
    for context in contexts:
        context.close()


def test_a_pull_typed_with_a_reload_and_a_clock_change_is_the_record_of_paper(
    typing: Typing, tmp_path: Path
) -> None:
    phone = typing("riser_duct_bank")
    page = phone.page
    assert page.evaluate("scrollX") == 0 and phone.heard() == []
    keypads = boxes(page, ".keypad button")
    assert len(keypads) == 24
    assert min(min(right - left, bottom - top) for left, top, right, bottom in keypads) >= 60
    entry = boxes(page, "#log-entry")[0]
    assert entry[1] >= 0 and entry[3] <= SIZES["phone"][1]  # one entry without scrolling

    page.click("#log-run")
    drawn(page)
    assert "Pull started" in phone.said()
    phone.heard()
    page.evaluate("localStorage.later = 60e3")
    for key in ("cable .k1", "cable .k2", "reading .k4", "reading .kd"):  # taps that may miss
        page.click(f"#pad-{key}")
    page.click("#log-enter")
    drawn(page)
    assert phone.said().startswith("ON PLAN\n400 lbf at 12.0 ft: ")
    calm = phone.heard()
    phone.keys("cable", "9")  # Undo takes what is typed and no entry
    assert phone.tap("undo").startswith("Cleared\n")
    phone.kept("2 kept")
    phone.heard()
    phone.keys("cable", "3")  # half of a number
    phone.kept("2 kept")
    phone.again()
    assert "ON PLAN" in phone.said() and page.input_value("#log-cable-typed") == "3"
    assert "ABOVE CAUTION\nSlow down, call.\n1,500 lbf at 30.0 ft" in phone.reading("0", "1500")
    page.evaluate("localStorage.ahead = -3600e3")
    page.wait_for_selector("#log-clock-set")
    assert "set back by 1:00:00" in said(page, "#log-clock-set")
    slow = phone.heard()
    stopped = phone.reading("35", "4600")
    assert stopped.startswith("STOP\nStop the pull now.\n4,600 lbf at 35.0 ft: ")
    assert "above Stop" in stopped
    alarm = phone.heard()
    assert phone.tap("undo").startswith("Undone\nReading 4,600 lbf, 35.0 ft in")
    assert len({json.dumps(sounds) for sounds in (calm, slow, alarm)}) == 3
    assert phone.reading("35", "460").startswith("ON PLAN")
    page.click("#mute")
    phone.heard()
    phone.reading("60", "450")
    assert phone.heard() == []
    phone.keys("cable", "62")
    phone.tap("gear")
    page.click("#log-actions button:has-text('low')")
    phone.tap("brake")
    phone.keys("brake", "200")
    assert "Brake 200 lbf" in phone.tap("enter")
    page.fill("#log-note", '=rope over the edge, "held"')
    page.click("#keep-note")
    stopped = phone.tap("run")
    assert "Start again in gear high. First move up to 1,700 lbf." in stopped
    assert "Cable hangs: hold at least 259 lbf at the reels." in stopped
    phone.kept("9 kept")

    # another tab of the same page: neither erases what the other wrote
    other = Phone(phone.context, phone.path)
    other.reading("70", "500")
    other.kept("10 kept")
    page.evaluate("dispatchEvent(new Event('focus'))")
    phone.kept("10 kept")

    table = list(csv.reader(io.StringIO(phone.saved("#export-csv"))))
    assert ",".join(table[0]) == "time,kind,cable in (ft),reading (lbf),gear,brake (lbf),note"
    typed = [row[1:] for row in table[1:] if not row[6].startswith("Load ")]
    assert typed == [
        ["start", "0", "", "", "", ""],
        ["reading", "12", "400", "", "", ""],
        ["reading", "30", "1500", "", "", ""],
        ["reading", "35", "460", "", "", ""],
        ["reading", "60", "450", "", "", ""],
        ["gear", "62", "", "low", "", ""],
        ["brake", "62", "", "", "200", ""],
        ["note", "62", "", "", "", '\'=rope over the edge, "held"'],
        ["stop", "62", "", "", "", ""],
        ["reading", "70", "500", "low", "", ""],
    ]
    text = phone.saved("#export-json")
    file = json.loads(text)
    # without what the page notes of departures itself
    file["entries"] = [e for e in file["entries"] if not e["note"].startswith("Load ")]
    clock = [entry["clock_s"] for entry in file["entries"]]
    assert clock == sorted(clock) and clock[0] == 0 and 360 < clock[-1] < 600
    hours = [entry["at"][:13] for entry in file["entries"]]
    assert hours[3] < hours[1] and file["started"].endswith(("-06:00", "-07:00"))
    assert [entry["load_N"] for entry in file["undone"]] == [pytest.approx(4600 * 4.4482216152605)]
    assert (file["run"], file["feed"], file["units"]) == ("F1", "roof switchroom", "US")
    assert page.faults == []

    # the same pull written down on paper and typed into a table by hand
    rows = [("0:00", *row) for row in typed]
    paper = tmp_path / "paper.csv"
    lines = [",".join(table[0]).replace("time,", "")]
    lines += [
        ",".join(f'"{cell.replace(chr(34), 2 * chr(34))}"' for cell in row[1:]) for row in rows
    ]
    paper.write_text("\n".join(lines) + "\n", encoding="utf-8")
    own = tmp_path / "phone.json"
    own.write_text(json.dumps(file), encoding="utf-8")
    job = load(MODELS / "riser_duct_bank.toml")
    one, two = (read_log(path, job, run="F1") for path in (own, paper))
    assert one.run == "F1" and one.feed == "roof switchroom"
    np.testing.assert_allclose(one.pulled, two.pulled, atol=1e-6)
    np.testing.assert_allclose(one.load, two.load, atol=1e-3)
    assert one.gear == two.gear and one.used.tolist() == two.used.tolist()
    assert [(e.kind, e.words) for e in one.events] == [(e.kind, e.words) for e in two.events]


def test_a_store_that_is_full_or_off_is_said_and_nothing_is_lost(typing: Typing) -> None:
    phone = typing("riser_duct_bank")
    phone.page.evaluate("window.full = true")
    assert "NO START LOGGED\nTap Log start." in phone.reading("12", "400")
    phone.page.wait_for_selector("#log-trouble")
    words = said(phone.page, "#log-trouble")
    assert "NOT KEPT ON THIS DEVICE." in words and "store of this browser is full" in words
    assert "Entries on this page only: 1. Export them now" in words
    assert json.loads(phone.saved("#export-now"))["entries"][0]["pulled_m"] == 12 * 0.3048
    phone.page.evaluate("window.full = false")
    phone.reading("20", "500")
    phone.page.wait_for_selector("#log-trouble", state="detached")
    phone.again()
    phone.kept("2 kept")
    phone.context.add_init_script(
        "Object.defineProperty(window, 'indexedDB', { get() { throw new Error('off'); } })"
    )
    phone.again()
    assert "switched off or blocked" in said(phone.page, "#log-trouble")
    phone.tap("run")
    assert "ON PLAN" in phone.reading("32", "500")
    assert phone.page.faults == []


def test_files_merge_without_doubling_and_those_of_another_run_are_refused(typing: Typing) -> None:
    phone = typing("riser_duct_bank")
    phone.tap("run")
    phone.reading("12", "400")
    phone.reading("30", "700")
    phone.tap("undo")
    phone.kept("2 kept")
    text, table = phone.saved("#export-json"), phone.saved("#export-csv")
    fresh = typing("riser_duct_bank")
    assert "Entries added: 2. Here already: 0." in fresh.take("log.json", text)
    assert "Entries added: 0. Here already: 2." in fresh.take("log.json", text)
    assert "does not say which run" in fresh.take("log.csv", table)
    assert "Entries added: 0. Here already: 2." in fresh.take("log.csv", table)
    again = json.loads(fresh.saved("#export-json"))
    assert again["entries"] == json.loads(text)["entries"]
    assert again["undone"] == json.loads(text)["undone"]
    for change, words in (
        ({"run": "F9"}, "Not imported: this file is of run F9. This log is of run F1."),
        ({"title": "another"}, "this file is of another job, another"),
        ({"feed": "vault V1"}, "the cable is fed from vault V1"),
        ({"mark": "0"}, "made with another plan of this run"),
        ({"entries": [{"kind": "pull"}]}, "Entry 1: the kind must be reading"),
        ({"route3d_pull_log": 2}, "This file is no pull log of this page."),
    ):
        assert words in fresh.take("log.json", json.dumps(json.loads(text) | change))
    assert "it is no JSON" in fresh.take("log.json", text[:-20])
    assert "Line 3: a figure is not a number." in fresh.take(
        "x.csv", table.replace("12,400", "12,4OO")
    )
    fresh.kept("2 kept")
    assert fresh.page.faults == []


def test_what_cannot_be_true_is_asked_once_more_and_then_recorded(typing: Typing) -> None:
    phone = typing("riser_duct_bank")
    asked = phone.reading("900", "400")
    assert (
        "CHECK THE ENTRY\nCable in 900.0 ft is more than the length of the route, 332.9 ft."
        in asked
    )
    phone.kept("0 kept")
    assert "400 lbf at 900.0 ft" in phone.tap("enter")
    assert "Cable in 20.0 ft is less than before, 900.0 ft." in phone.reading("20", "500")
    phone.tap("enter")
    assert (
        "Reading 9,000 lbf is more than the machine can pull in gear low, 7,500 lbf."
        in phone.reading("30", "9000")
    )
    assert phone.tap("enter").startswith("STOP")
    phone.kept("3 kept")
    phone.keys("cable", "4")
    phone.tap("enter")  # on to the reading
    assert "NOT RECORDED YET\nType the reading." in phone.tap("enter")
    phone.tap("run")  # less than before: asked first
    assert "Start again in gear" in phone.tap("run")


def test_a_pull_that_must_not_be_made_is_recorded_only(typing: Typing) -> None:
    phone = typing("yard_run")
    assert "must not be made as planned. This log records only." in said(
        phone.page, "#log-records-only"
    )
    assert phone.reading("10", "790").startswith("RECORDED ONLY")
    assert phone.page.locator("#log-plan, #log-ahead").count() == 0
    phone.kept("1 kept")
    # a gauge that is not accurate is not judged but for Stop
    yard = typing("fine_yard")
    assert "The gauge is not accurate in this gear." in yard.reading("200", "790")
    assert yard.reading("210", "7000").startswith("STOP")


def test_the_forecast_follows_the_readings_and_says_what_it_is_not(typing: Typing) -> None:
    phone = typing("riser_duct_bank", "tablet")
    phone.tap("run")
    for cable, force in (("20", "1200"), ("40", "1300"), ("60", "1100"), ("100", "2300")):
        phone.reading(cable, force)
    phone.page.wait_for_selector("#log-forecast")
    wait_until(phone.page, "document.querySelector('#log-forecast .stop') !== null")
    words = said(phone.page, "#log-forecast")
    assert "Stop" in words and "safe place to stop" in words and "Highest reading ahead" in words
    assert "never replaces the limiter, the operator or the word that stops the pull" in words


_STATES = {
    "light": (("12", "400", "plan"), ("35", "4600", "stop")),
    "dark": (("30", "1500", "caution"), ("20", "1", "ask")),
}


# Words of an English sentence that no Spanish one has.
_ENGLISH = {"the", "of", "is", "at", "in", "for", "up", "stop", "reading", "call", "gear", "and"}
_FIGURES = re.compile(r"\d[\d,.]*\d|\d")


def test_in_spanish_the_log_says_the_same_figures_and_no_english(typing: Typing) -> None:
    pages = []
    for name in ("riser_duct_bank", "riser_duct_bank es"):
        phone = typing(name)
        texts = [phone.tap("run")]
        for cable, force in (("12", "400"), ("30", "1500"), ("35", "4600"), ("900", "400")):
            texts.append(phone.reading(cable, force))
        texts += [phone.tap("undo"), phone.tap("brake"), phone.tap("run"), phone.everything()]
        assert phone.page.faults == []
        pages.append(texts)
    english, spanish = pages
    figures = [[Counter(_FIGURES.findall(text)) for text in texts] for texts in pages]
    assert figures[0] == figures[1]
    assert phone.page.evaluate("document.documentElement.lang") == "es"
    assert phone.page.evaluate("document.documentElement.scrollWidth") <= SIZES["phone"][0]
    names = sorted(names_of(load(MODELS / "riser_duct_bank.toml")), key=len, reverse=True)
    for here, there in zip(english, spanish, strict=True):
        for name in names:
            there = there.replace(name, "")
        assert _ENGLISH.isdisjoint(re.findall(r"[a-záéíóúñ]+", there.lower())), there
        assert not _ENGLISH.isdisjoint(
            re.findall("[a-z]+", here.lower())
        )  # so the words would tell


def test_a_departure_is_answered_with_what_to_do_and_noted(typing: Typing) -> None:
    phone = typing("riser_duct_bank", "small")
    phone.tap("run")
    for cable in range(12, 60, 6):
        phone.keys("cable", str(cable))
        drawn(phone.page)
        expected = phone.page.locator("#log-expected b").inner_text().split()[0].replace(",", "")
        phone.keys("reading", expected)
        phone.tap("enter")
        assert phone.page.locator("#log-departures").count() == 0
    calm = phone.heard()
    asked = int(expected) + 800
    jumped = ""
    for cable in range(57, 75, 3):
        if "JUMP" in (jumped := phone.reading(str(cable), str(asked))):
            break
        phone.heard()
    loud = phone.heard()
    halt = r"JUMP \+[4-9]\d0 lbf\nSTOP AND CALL\. Do: stop at once\. Keep gear and limiter\."
    assert re.match(halt, jumped)
    assert phone.page.locator("#log-answer.said-halt").count() == 1
    assert len(loud) == 8 and len({tone for _, tone in loud}) == 2 and loud[0] not in calm
    entry = boxes(phone.page, "#log-entry")[0]
    assert entry[1] >= 0 and entry[3] <= _SCREENS["small"][1]  # one entry without scrolling
    told = said(phone.page, "#log-departures")
    assert (
        "Load jumps by +" in told and "May be: head caught" in told and "Decides: engineer" in told
    )
    entries = json.loads(phone.saved("#export-json"))["entries"]
    jumps = [e for e in entries if e["note"].startswith("Load jumps by +")]
    assert [note["kind"] for note in jumps] == ["note"]
    # the next reading says it again
    held = phone.reading(str(cable + 3), str(asked))
    assert re.match(halt, held) and "Load jumps by +" in held and phone.heard() == loud
    assert boxes(phone.page, "#log-entry")[0][3] <= _SCREENS["small"][1]
    phone.tap("undo")
    phone.again()
    assert "JUMP" in phone.said()
    entries = json.loads(phone.saved("#export-json"))["entries"]
    assert jumps == [e for e in entries if e["note"].startswith("Load jumps by +")]
    assert json.loads(phone.saved("#export-json"))["entries"] == entries
    assert f"Reading {asked:,} lbf" in phone.tap("undo")  # and its note with it
    left = json.loads(phone.saved("#export-json"))
    assert jumps[0] not in left["entries"] and jumps[0] in left["undone"]
    assert phone.page.faults == []


def test_a_log_goes_on_with_another_plan_and_a_new_one_begins_empty(typing: Typing) -> None:
    phone = typing("riser_duct_bank")
    phone.tap("run")
    phone.reading("12", "400")
    phone.kept("2 kept")
    before = json.loads(phone.saved("#export-json"))
    phone.page.click("#new-log")
    phone.kept("0 kept")
    phone.reading("20", "500")
    phone.kept("1 kept")
    assert phone.page.locator(".go-on").count() == 0  # the same plan: another pull
    assert said(phone.page, "#other-logs").count("Entries: 2.") == 1
    # the plan of this run has changed since
    data = phone.path.read_text("utf-8").replace(before["mark"], "0123456789ab")
    other = phone.path.with_name("changed.html")
    other.write_text(data, encoding="utf-8")
    phone.page.goto(f"{other.as_uri()}#tab=log")
    phone.page.wait_for_selector("#log-enter")
    phone.kept("0 kept")
    phone.page.locator("#other-logs li", has_text="Entries: 2.").locator(".go-on").click()
    phone.kept("3 kept")
    entries = json.loads(phone.saved("#export-json"))["entries"]
    assert entries[:2] == before["entries"]
    mark = before["mark"]
    assert entries[2]["note"] == f"Log continued: plan 0123456789ab, before plan {mark}."
    assert phone.page.faults == []


@pytest.mark.parametrize("scheme", _STATES)
def test_axe_finds_nothing_wrong_and_keys_are_enough(typing: Typing, scheme: str) -> None:
    phone = typing("riser_duct_bank", bypass_csp=True, color_scheme=scheme)
    phone.reading("4", "300")
    assert phone.page.locator(".said-still").count() == 1
    assert violations(phone.page) == []
    phone.tap("undo")
    phone.tap("run")
    for cable, force, state in _STATES[scheme]:
        phone.reading(cable, force)
        assert phone.page.locator(f".said-{state}").count() == 1
        assert violations(phone.page) == [], state
    phone.page.fill("#log-reading-typed", "")
    phone.page.fill("#log-cable-typed", "36")
    phone.page.keyboard.press("Enter")
    phone.page.keyboard.type("450")
    phone.page.keyboard.press("Enter")
    drawn(phone.page)
    assert "450 lbf at 36.0 ft" in phone.said()
    assert phone.page.get_by_role("button", name="5, Reading, lbf").count() == 1
