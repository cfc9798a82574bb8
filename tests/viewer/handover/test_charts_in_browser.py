"""The charts of the hand-over page say what they show: bends, ends, axes with units, limits."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from route3d.planning.result import JobResult
from tests.viewer.conftest import DEMOS
from tests.viewer.handover.pages import SIZES, choose, opened

pytestmark = pytest.mark.browser

_TEXTS = """s => [...document.querySelectorAll(s + ' text')].map(e => {
    const r = e.getBoundingClientRect();
    return [e.textContent, r.left, r.top, r.right, r.bottom, e.getAttribute('class') || '']; })"""


def texts(page: Any, chart: str) -> list[tuple[str, float, float, float, float, str]]:
    return [(str(t[0]), *t[1:]) for t in page.evaluate(_TEXTS, chart)]


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("name", DEMOS)
def test_every_chart_names_its_ends_bends_and_axes(
    browser: Any, written: dict[str, tuple[Path, JobResult]], name: str, size: str
) -> None:
    path, result = written[name]
    page = opened(browser, path, size)
    pull = result.runs[0].best.pull
    units = {"US": ("ft", "lbf"), "SI": ("m", "kN")}[result.job.units]
    page.click("#tab-charts")
    charts = ["#elevation", "#tension-chart", "#sidewall-chart", "#pull-chart"]
    for chart in charts:
        if chart == "#pull-chart" and size == "phone":
            page.click("#tab-pull")
        found = texts(page, chart)
        feed, end = (next(t for t in found if t[0].startswith(w)) for w in ("feed:", "pull:"))
        assert feed[1] < end[1] and feed[3] <= end[1]  # the feed on the left, whichever end it is
        assert pull.feed_name[:5] in feed[0] and pull.pull_name[:5] in end[0]
        assert any(t[0].startswith("station") and f"({units[0]})" in t[0] for t in found)
        at = {t[0].removeprefix("bend "): t[1] for t in found if "bend-number" in t[5]}
        assert set(at) == {"1", "2", "3"}
        assert sorted(at, key=at.__getitem__, reverse=pull.reverse) == ["1", "2", "3"]
        if chart in ("#tension-chart", "#pull-chart"):
            assert any(f"({units[1]})" in t[0] for t in found)
    page.context.close()


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("name", DEMOS)
def test_no_words_of_a_chart_stand_on_others_or_leave_it(
    browser: Any, written: dict[str, tuple[Path, JobResult]], name: str, size: str
) -> None:
    page = opened(browser, written[name][0], size)
    for feed in ("0", "1"):
        choose(page, "feed", feed)
        page.click("#tab-charts")
        for chart in ("#elevation", "#tension-chart", "#sidewall-chart", "#pull-chart"):
            if chart == "#pull-chart" and size == "phone":
                page.click("#tab-pull")
            box = page.locator(chart).bounding_box()
            found = texts(page, chart)
            for i, (words, left, top, right, bottom, _) in enumerate(found):
                assert left >= box["x"] - 1 and right <= box["x"] + box["width"] + 1, words
                for other in found[:i]:
                    # the box of a letter is taller than its ink
                    apart = right <= other[1] or other[3] <= left
                    apart = apart or bottom - 4 <= other[2] or other[4] - 4 <= top
                    assert apart, (words, other[0])
    page.context.close()


def test_both_limits_are_drawn_and_named(
    browser: Any, written: dict[str, tuple[Path, JobResult]]
) -> None:
    page = opened(browser, written["fine_yard"][0])
    words = {
        re.split(" [0-9]", t[0].replace("\u00a0", " "))[0]
        for t in texts(page, "#pull-chart")
        if "limit-text" in t[5]
    }
    assert words == {"machine stalls", "stop load"}
    dash = "s => getComputedStyle(document.querySelector(s)).strokeDasharray"
    assert page.evaluate(dash, "#pull-chart path.limit.stop") == "none"
    assert page.evaluate(dash, "#pull-chart path.limit.gear") != "none"
    page.context.close()


def test_a_pull_that_must_not_be_made_draws_no_stop_load(
    browser: Any, written: dict[str, tuple[Path, JobResult]]
) -> None:
    page = opened(browser, written["yard_run"][0])
    words = [t[0] for t in texts(page, "#pull-chart") if "limit-text" in t[5]]
    assert not any("stop load" in text for text in words)
    assert page.locator("#pull-chart path.limit.stop").count() == 0
    page.context.close()


def test_limits_far_above_the_load_are_told_with_their_figure(
    browser: Any, written: dict[str, tuple[Path, JobResult]]
) -> None:
    page = opened(browser, written["roof_drop"][0])
    words = {t[0].replace("\u00a0", " ") for t in texts(page, "#pull-chart") if "limit" in t[5]}
    assert {text.split(" kN")[1] for text in words} == {": above"}
    assert {re.split(" [0-9]", text)[0] for text in words} == {"stop load", "machine stalls"}
    page.context.close()
