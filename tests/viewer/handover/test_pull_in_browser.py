"""The pull on the hand-over page in a real browser: slider, gauge table, charts and play."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from route3d.modelfile.read import load
from route3d.planning.result import JobResult
from route3d.units import show
from tests.viewer.conftest import DEMOS, MODELS, Answered
from tests.viewer.handover.pages import (
    SIZES,
    boxes,
    choose,
    drawn,
    opened,
    picture,
    set_head,
    wait_until,
)
from viewer.gauge import NOT_TO_BE_MADE, gauge_of, plan_for_crew, rows_of
from viewer.handover import write_html
from viewer.playback import evenly, playback

pytestmark = pytest.mark.browser


# --- playback ----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", DEMOS)
def test_the_slider_shows_load_gear_and_clock_of_the_plan(
    browser: Any, written: dict[str, tuple[Path, JobResult]], name: str
) -> None:
    path, result = written[name]
    page = opened(browser, path, "phone")
    page.click("#tab-pull")
    candidate, units = result.runs[0].best, result.job.units
    plan = plan_for_crew(result.runs[0], candidate, result.job)
    assert plan is not None
    allowances = result.job.allowances
    film = playback(result.runs[0], candidate.planned, units, allowances, rows_of(plan))
    film = evenly(film, 9, units)
    for k in (0, 2, 5, 8):
        set_head(page, 125 * k)
        shown = page.inner_text("#pull-now").replace("\u00a0", " ")
        assert show(float(film.station[k]), "length", units) in shown
        for name, one in zip(("Now", "Next"), film.headlines(k, units), strict=False):
            assert f"{name}, " in shown
            for reading in (one.expected, one.caution, one.stop):
                assert reading in shown, (reading, shown)
        over = film.load[k] > film.least[k] * (1 + 1e-5)
        assert ("Set by" in shown) is bool(over)
    page.context.close()


@pytest.mark.parametrize("size", SIZES)
def test_the_foreman_finds_stop_load_and_readings_in_whole_words(
    browser: Any, written: dict[str, tuple[Path, JobResult]], size: str
) -> None:
    path, result = written["roof_drop"]
    plan = plan_for_crew(result.runs[0], result.runs[0].best, load(MODELS / "roof_drop.toml"))
    told = gauge_of(result.runs[0].best, plan, "SI")
    page = opened(browser, path, size)
    assert f"{told.head} {told.load}" in page.inner_text("#stop-load").replace("\u00a0", " ")
    assert told.load in page.inner_text(".facts").replace("\u00a0", " ")
    cells = page.locator("#stop-load ~ .wide-table table").first.locator("tbody tr").last
    texts = cells.locator("th, td").all_inner_texts()
    last = told.rows[-1]
    assert texts[0].split("\n") == [last.length, last.place]
    first = page.locator("#stop-load ~ .wide-table table").first.locator("tbody tr").first
    assert f"first move {told.rows[0].first}" in first.inner_text()
    assert texts[1:] == [last.gear, last.expected, last.caution, last.stop, last.breaks]
    for words in (told.gears[0], told.machine[0], told.link[0], told.time[-1]):
        assert words in page.inner_text("#answer").replace("\u00a0", " ")
    # numbers in one line: none is parted in its middle
    for cell in cells.locator("td").all()[1:4]:
        assert (
            cell.evaluate(
                "e => { const r = document.createRange(); r.selectNodeContents(e);"
                " return r.getClientRects().length; }"
            )
            == 1
        )


def test_no_readings_for_a_pull_that_is_not_to_be_made(
    browser: Any, written: dict[str, tuple[Path, JobResult]]
) -> None:
    page = opened(browser, written["yard_run"][0])
    assert page.locator("#stop-load").count() == 0
    assert NOT_TO_BE_MADE in page.inner_text("#answer")
    assert "Stop load" not in page.inner_text(".facts")


@pytest.mark.parametrize("size", SIZES)
def test_titles_of_charts_stay_in_the_frame(
    browser: Any, written: dict[str, tuple[Path, JobResult]], size: str
) -> None:
    page = opened(browser, written["roof_drop"][0], size)
    page.click("#tab-charts")
    panel = boxes(page, "#charts")[0]
    titles = page.locator("#charts text.title")
    assert titles.count() >= 3
    for i in range(titles.count()):
        box = titles.nth(i).bounding_box()
        assert panel[0] <= box["x"] and box["x"] + box["width"] <= panel[2]


def test_the_words_of_the_bar_alarm_only_where_the_limit_is_broken(
    browser: Any, written: dict[str, tuple[Path, JobResult]]
) -> None:
    page = opened(browser, written["yard_run"][0])
    colour = """() => [...document.querySelectorAll('#bar text')]
        .filter(t => t.textContent.startsWith('bar to')).map(t => getComputedStyle(t).fill)[0]"""
    usual = page.evaluate(colour)  # the tension keeps to its limit
    choose(page, "mode", "sidewall")
    assert page.evaluate(colour) != usual


def test_a_plan_that_ends_too_early_is_not_told(
    browser: Any, weak: Answered, tmp_path: Path
) -> None:
    """A machine too weak stops the plan: no gears, no clock, no place where the plan ends."""
    write_html(*weak, tmp_path / "weak.html")
    page = opened(browser, tmp_path / "weak.html")
    assert page.locator("#ending").count() == 0
    set_head(page, 1000)
    now = page.inner_text("#pull-now").replace("\u00a0", " ")
    assert "must not be made" in now and "Elapsed" not in now and "Gear" not in now
    page.context.close()


def test_the_gear_limit_changes_in_a_step(
    browser: Any, written: dict[str, tuple[Path, JobResult]]
) -> None:
    page = opened(browser, written["fine_yard"][0])
    path = page.locator("#pull-chart path.limit.gear").get_attribute("d")
    at = np.array(re.findall(r"[ML]([\d.]+) ([\d.]+)", path), dtype=float)
    change = np.diff(at, axis=0)
    upright = np.abs(change[:, 0]) < 0.06  # the path prints one digit
    gears = len({round(y) for y in at[:, 1]})
    assert gears == 1 or np.abs(change[upright, 1]).max() > 10
    page.context.close()


def test_cable_and_rope_have_colours_of_their_own(
    browser: Any, written: dict[str, tuple[Path, JobResult]]
) -> None:
    page = opened(browser, written["yard_run"][0])
    whole = picture(page)
    set_head(page, 500)
    half = picture(page)
    set_head(page, 0)
    none = picture(page)
    changed = [int((np.abs(a - whole).max(axis=2) > 25).sum()) for a in (half, none)]
    assert 300 < changed[0] < 0.85 * changed[1]
    page.context.close()


def test_play_runs_to_the_end_and_stops(
    browser: Any, written: dict[str, tuple[Path, JobResult]]
) -> None:
    page = opened(browser, written["roof_drop"][0])
    page.locator("#stage").focus()
    page.keyboard.press("Space")
    value = "Number(document.getElementById('head').value)"
    wait_until(page, f"{value} > 0 && {value} < 1000")
    page.keyboard.press("Space")
    wait_until(page, "document.getElementById('play').ariaLabel === 'Play the pull'")
    held = page.input_value("#head")
    for _ in range(10):  # frames in which a pull that goes on would move
        drawn(page)
    assert page.input_value("#head") == held
    set_head(page, 990)
    page.click("#play")
    wait_until(page, "document.getElementById('head').value === '1000'")
    # The button follows a frame after the head: waiting still fails where it never does.
    wait_until(page, "document.getElementById('play').ariaLabel === 'Play the pull'")
    assert page.said == []
    page.context.close()
