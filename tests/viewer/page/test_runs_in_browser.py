"""A file of several runs in a real browser: every run, every machine, one run for each browser."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from route3d.modelfile.read import load
from route3d.planning.result import evaluate_run
from route3d.units import show

from .conftest import WAIT, Served, opened, serving, three_runs

pytestmark = pytest.mark.browser


def peak(served: Served, run: str) -> str:
    job = load(served.model)
    best = evaluate_run(job.run(run), job.practice).best
    return show(best.pull.peak_tension, "force", "US")


def test_all_runs_are_there_without_naming_one(browser: Any, three: Served) -> None:
    with opened(browser, three.url) as seen:
        seen.has(".r3-runs", "3 in this file")
        for run in ("F3", "F2", "F1"):
            picture = seen.page.locator("#view3d").screenshot()
            seen.choose(run)
            seen.shows("#fact-peak-tension", peak(three, run))
            seen.repainted(picture)
        assert seen.errors == []


def test_each_browser_looks_at_its_own_run(browser: Any, three: Served) -> None:
    """A crew must not be given another run because somebody at a desk looks at one."""
    with opened(browser, three.url) as desk, opened(browser, three.url, (390, 844)) as crew:
        crew.page.click("#tab-foreman")
        desk.choose("F2")
        desk.field("friction:duct", "0.4")
        desk.becomes("#what-if", "0.25 → 0.40")
        desk.settled()
        crew.page.wait_for_timeout(500)  # for what must not come
        assert "run F1" in crew.text(".r3-crew")
        assert "Pull as planned" in crew.text("#order")
        crew.choose("F2")  # an edit of a run is shared by all who look at it
        assert "What if" in crew.becomes("#order", "What if")
        desk.page.click("#reset")
        crew.becomes("#order", "Pull as planned")
        assert desk.errors == crew.errors == []


def test_a_page_loaded_again_shows_the_run_it_showed(browser: Any, three: Served) -> None:
    with opened(browser, three.url) as seen:
        seen.choose("F2")
        assert seen.page.url.endswith("#F2")
        seen.page.reload()
        seen.page.wait_for_selector("#headline", timeout=WAIT)
        seen.settled()
        assert seen.state("title").endswith("run F2")
        seen.shows("#fact-peak-tension", peak(three, "F2"))


def test_any_machine_of_the_file_can_be_tried(browser: Any, three: Served) -> None:
    with opened(browser, three.url) as seen:
        seen.choose("F3")  # it names none
        before = seen.text("#directions")
        seen.page.locator("#form .v-select", has_text="Machine").click()
        last = seen.page.get_by_role("option", name="capstan on the apron")
        last.wait_for(timeout=WAIT)
        names = seen.page.get_by_role("option").all_inner_texts()
        assert names == ["puller", "winch", "capstan on the apron"]
        seen.take("capstan on the apron")
        assert "none named → capstan on the apron" in seen.becomes("#what-if", "capstan")
        assert "none given" in before
        seen.becomes("#directions", r"of machine line pull limit\s+[\d,]{3,}%")  # of 6,000 lbf
        seen.becomes(".r3-tag.machine", "CAPSTAN ON THE APRON")
        words = seen.page.locator(".r3-tag.machine").first
        assert "CAPSTAN ON THE APRON" in words.inner_text()
        cut = "e => e.scrollWidth > e.clientWidth"
        assert not words.evaluate(cut)
        seen.page.click("#reset")
        seen.page.wait_for_selector("#what-if", state="detached", timeout=WAIT)
        assert seen.errors == []


def test_the_crew_of_a_run_that_stops_is_told_why(browser: Any, three: Served) -> None:
    with opened(browser, three.url, (390, 844)) as seen:
        seen.choose("F3")
        seen.page.click("#tab-foreman")
        assert "Do not pull" in seen.becomes("#order", "Do not")
        seen.has("#why-not", "from either end")
        body = seen.text(".r3-crew")
        for words in ("runs free", "Stop load on the gauge", "reel stands"):
            assert words not in body
        width = seen.page.evaluate("document.documentElement.scrollWidth")
        assert width <= 390
        assert seen.errors == []


def test_a_run_that_is_renamed_and_one_that_is_new(browser: Any, tmp_path: Path) -> None:
    model = tmp_path / "job.toml"
    model.write_text(three_runs())
    with serving(model, "--run", "F2") as served, opened(browser, served.url) as seen:
        assert seen.state("title").endswith("run F2")  # --run is where it begins
        figure = seen.text("#fact-peak-tension")
        model.write_text(three_runs().replace('"F2"', '"F4"'))
        assert "no run is named 'F2'" in seen.becomes("#problems", "F2")
        assert seen.text("#fact-peak-tension") == figure  # the last good state stays
        seen.choose("F4")
        seen.counts("#problems", 0)
        seen.shows("#fact-peak-tension", figure)
        assert seen.errors == []


def test_a_run_opened_while_the_file_is_broken_says_so(browser: Any, tmp_path: Path) -> None:
    model = tmp_path / "job.toml"
    model.write_text(three_runs())
    with serving(model) as served, opened(browser, served.url) as seen:
        model.write_text(three_runs().replace("friction   = 0.25", "friction   = -3"))
        assert "line " in seen.becomes("#problems", "friction")
        seen.choose("F2")
        seen.has("#problems", "friction")
        model.write_text(three_runs())
        seen.page.wait_for_selector("#problems", state="detached", timeout=WAIT)
        assert seen.errors == []
