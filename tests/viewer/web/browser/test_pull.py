"""The pull on the page in a real browser: slider, gauge readings, charts and play."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from route3d.modelfile.read import load
from route3d.planning.result import JobResult
from route3d.units import show
from tests.viewer.conftest import DEMOS, MODELS, Answered
from tests.viewer.web.browser.pages import (
    SIZES,
    choose,
    drawn,
    opened,
    picture,
    said,
    set_head,
    tab,
    wait_until,
)
from viewer.gauge import NOT_TO_BE_MADE, gauge_of, plan_for_crew, rows_of
from viewer.playback import evenly, playback
from viewer.web.handover import write_html

pytestmark = pytest.mark.browser

Written = dict[str, tuple[Path, JobResult]]


# --- playback ----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", DEMOS)
def test_the_slider_shows_load_gear_and_clock_of_the_plan(
    browser: Any, written: Written, name: str
) -> None:
    path, result = written[name]
    page = opened(browser, path, "phone")
    tab(page, "pull")
    candidate, units = result.runs[0].best, result.job.units
    plan = plan_for_crew(result.runs[0], candidate, result.job)
    assert plan is not None
    allowances = result.job.allowances
    film = playback(result.runs[0], candidate.planned, units, allowances, rows_of(plan))
    film = evenly(film, 9, units)
    for k in (0, 2, 5, 8):
        set_head(page, 125 * k)
        shown = said(page, "#pull-now")
        assert show(float(film.station[k]), "length", units) in shown
        for head, one in zip(("Now", "Next"), film.headlines(k, units), strict=False):
            assert f"{head}, " in shown
            for reading in (one.expected, one.caution, one.stop):
                assert reading in shown, (reading, shown)
        over = film.load[k] > film.least[k] * (1 + 1e-5)
        assert ("OVER" in shown) is bool(over)


@pytest.mark.parametrize("size", SIZES)
def test_the_foreman_finds_stop_load_and_readings_in_whole_words(
    browser: Any, written: Written, size: str
) -> None:
    path, result = written["roof_drop"]
    plan = plan_for_crew(result.runs[0], result.runs[0].best, load(MODELS / "roof_drop.toml"))
    told = gauge_of(result.runs[0].best, plan, "SI")
    page = opened(browser, path, size)
    assert f"{told.head} {told.load}" in said(page, "#stop-load")
    assert told.load in said(page, "#facts")
    rows = page.locator("#readings tbody tr")
    texts = [t.replace("\u00a0", " ") for t in rows.last.locator("th, td").all_inner_texts()]
    last = told.rows[-1]
    assert texts[0].split("\n") == [last.length, last.place]
    assert f"first move {told.rows[0].first}" in rows.first.inner_text().replace("\u00a0", " ")
    assert texts[1:] == [last.gear, last.expected, last.caution, last.stop, last.breaks]
    answer = said(page, "#answer")
    for words in (told.gears[0], told.machine[0], told.link[0], told.time[-1], told.checks[0]):
        assert words in answer
    # numbers in one line: none is parted in its middle
    for cell in rows.last.locator("td").all()[1:4]:
        assert (
            cell.evaluate(
                "e => { const r = document.createRange(); r.selectNodeContents(e);"
                " return r.getClientRects().length; }"
            )
            == 1
        )


def test_the_crew_steps_from_place_to_place(browser: Any, written: Written) -> None:
    path, result = written["riser_duct_bank"]
    plan = plan_for_crew(result.runs[0], result.runs[0].best, result.job)
    rows = gauge_of(result.runs[0].best, plan, "US").rows
    page = opened(browser, path, "phone")
    for row in rows[:3]:
        assert said(page, "#expected-now") == f"Expected {row.expected} lbf"
        assert said(page, "#stop-now") == f"Caution {row.caution} lbf. Stop {row.stop} lbf."
        assert f"{row.length} ft of cable in" in said(page, "#cable-in")
        assert said(page, "#readings tr.now th").startswith(row.length)
        page.click("#next-place")
        drawn(page)
    page.click("text=Back")
    drawn(page)
    assert f"Stop {rows[2].stop} lbf" in said(page, "#stop-now")
    # the slider is where the gauge is read, and the other way round
    share = page.evaluate("document.getElementById('head').value / 1000")
    length = rows_of(plan)[-1].pulled
    assert share * length == pytest.approx(rows_of(plan)[2].pulled, abs=length / 900)
    page.evaluate("document.getElementById('pull-bar').style.display = 'flex'")
    set_head(page, 0)
    assert said(page, "#cable-in").startswith("At the start: 0 ft of cable in")
    set_head(page, 1000)
    assert f"Expected {rows[-1].expected}" in said(page, "#expected-now")


def test_no_readings_for_a_pull_that_is_not_to_be_made(browser: Any, written: Written) -> None:
    page = opened(browser, written["yard_run"][0])
    assert page.locator("#stop-load, #stop-now, #readings, #gears").count() == 0
    assert NOT_TO_BE_MADE in said(page, "#answer")
    assert "Stop load" not in said(page, "#facts")
    tab(page, "pull")
    words = said(page, "#pull-now")
    assert "Machine load" in words and "Machine line pull" in words
    assert not any(told in words for told in ("OVER", "Gear\n", "min:s"))


def test_the_words_of_the_bar_alarm_only_where_the_limit_is_exceeded(
    browser: Any, written: Written
) -> None:
    page = opened(browser, written["yard_run"][0])
    color = """() => [...document.querySelectorAll('#bar text')]
        .filter(t => t.textContent.startsWith('full scale'))
        .map(t => getComputedStyle(t).fill)[0]"""
    usual = page.evaluate(color)  # the tension keeps to its limit
    assert usual is not None
    choose(page, "colors", "sidewall")
    assert page.evaluate(color) not in (usual, None)


def test_a_plan_that_ends_too_early_is_not_told(
    browser: Any, weak: Answered, tmp_path: Path
) -> None:
    """A machine too weak stops the plan: no gears, no clock, no place where the plan ends."""
    write_html(*weak, tmp_path / "weak.html")
    page = opened(browser, tmp_path / "weak.html")
    assert page.locator("#ending").count() == 0
    tab(page, "pull")
    set_head(page, 1000)
    now = said(page, "#pull-now")
    assert "must not be made" in now and "Elapsed" not in now and "Gear\n" not in now


def test_cable_and_rope_have_colors_of_their_own(browser: Any, written: Written) -> None:
    page = opened(browser, written["yard_run"][0])
    whole = picture(page)
    set_head(page, 500)
    half = picture(page)
    set_head(page, 0)
    none = picture(page)
    changed = [int((np.abs(a - whole).max(axis=2) > 25).sum()) for a in (half, none)]
    assert 300 < changed[0] < 0.85 * changed[1]


def test_play_runs_to_the_end_and_stops(browser: Any, written: Written) -> None:
    page = opened(browser, written["roof_drop"][0])
    page.locator("#stage").focus()
    page.keyboard.press("Space")
    value = "Number(document.getElementById('head').value)"
    stopped = "document.getElementById('play').ariaLabel === 'Play the pull'"
    wait_until(page, f"{value} > 0 && {value} < 1000")
    page.keyboard.press("Space")
    wait_until(page, stopped)
    held = page.input_value("#head")
    for _ in range(10):  # frames in which a pull that goes on would move
        drawn(page)
    assert page.input_value("#head") == held
    set_head(page, 990)
    page.click("#play")
    wait_until(page, "document.getElementById('head').value === '1000'")
    # The button follows a frame after the head: waiting still fails where it never does.
    wait_until(page, stopped)
    assert page.said == []


def test_the_slider_goes_by_key_and_says_where_it_is(browser: Any, written: Written) -> None:
    page = opened(browser, written["riser_duct_bank"][0])
    page.locator("#head").focus()
    page.keyboard.press("Home")
    drawn(page)
    said_first = page.get_attribute("#head", "aria-valuetext")
    assert said_first.replace("\u00a0", " ").startswith("332.9 ft")  # fed from the far end
    page.keyboard.press("ArrowRight")
    drawn(page)
    assert page.get_attribute("#head", "aria-valuetext") != said_first


# --- scale and north ---------------------------------------------------------------------------


def test_scale_and_north_follow_the_camera(browser: Any, written: Written) -> None:
    page = opened(browser, written["riser_duct_bank"][0])
    cue = "document.querySelector('#cue').innerHTML"
    before = page.evaluate(cue)
    page.click("#views button[data-view=plan]")
    drawn(page)
    assert page.evaluate(cue) != before
    x1, y1, x2, y2 = page.evaluate(
        "(() => { const l = document.querySelector('#cue line');"
        " return ['x1', 'y1', 'x2', 'y2'].map(k => l[k].baseVal.value) })()"
    )
    assert abs(x1 - x2) < 0.1 and y2 < y1  # north is up
    # the bar is as long as it says: measured between two bends whose places are known
    path = written["riser_duct_bank"][1].runs[0].path
    tab(page, "bends")
    rings, places = [], []
    for number, segment in ((1, 1), (2, 3)):
        page.click(f"#bend-row-{number}")
        drawn(page)
        rings.append(
            page.evaluate(
                "[...document.querySelectorAll('#leaders circle.bend')]"
                ".map(c => [c.cx, c.cy].map(v => v.baseVal.value))[0]"
            )
        )
        middle = (path.stations[segment] + path.stations[segment + 1]) / 2
        places.append(path.point(middle)[:2])
    pixels = float(np.hypot(*np.subtract(*rings)))
    meters = float(np.hypot(*np.subtract(*places)))
    for units, unit, size in (("US", "ft", 0.3048), ("SI", "m", 1.0)):
        choose(page, "units", units)
        number, name = page.locator("#cue text").last.text_content().split(" ")
        bar = page.evaluate("document.querySelector('#cue path[fill=none]').getBBox().width")
        assert name == unit
        told = float(number.replace(",", "")) * size
        assert bar / told == pytest.approx(pixels / meters, rel=0.02)
