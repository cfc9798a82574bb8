"""The charts of the page say what they show: bends, ends, axes with units, limits."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from route3d.checks.limits import sidewall_limit
from route3d.planning.result import JobResult
from route3d.units import show
from tests.viewer.conftest import DEMOS
from tests.viewer.web.browser.pages import boxes, choose, drawn, opened, said, tab
from viewer.scene.scale import tension_limit

pytestmark = pytest.mark.browser

Written = dict[str, tuple[Path, JobResult]]

EACH = tuple(zip(DEMOS, ("desk", "tablet", "phone"), strict=True))
CHARTS = ("#elevation-chart", "#tension-chart", "#sidewall-chart", "#pull-chart")
# What is written on a canvas is not in the document: it is listened to as it is drawn.
_LISTEN = """(() => {
    window.written = [];
    const draw = CanvasRenderingContext2D.prototype.fillText;
    CanvasRenderingContext2D.prototype.fillText = function (words, x, y, ...more) {
        const m = this.getTransform(), p = new DOMPoint(x, y).matrixTransform(m);
        const w = this.measureText(words), s = devicePixelRatio;
        const left = p.x - { center: 0.5, right: 1, end: 1 }[this.textAlign] * w.width || p.x;
        window.written.push([this.canvas, words, left / s, p.y / s, w.width / s]);
        return draw.call(this, words, x, y, ...more);
    };
})()"""
_WRITTEN = """chart => { const canvas = document.querySelector(chart + ' canvas');
    return window.written.filter(w => w[0] === canvas).map(w => w.slice(1)); }"""


def shown(page: Any, chart: str) -> None:
    tab(page, "pull" if chart == "#pull-chart" else "charts")


@pytest.mark.parametrize(("name", "size"), EACH)
def test_every_chart_names_its_ends_bends_and_axes(
    browser: Any, written: Written, name: str, size: str
) -> None:
    path, result = written[name]
    page = opened(browser, path, size, script=_LISTEN)
    pull = result.runs[0].best.pull
    length, force = {"US": ("ft", "lbf"), "SI": ("m", "kN")}[result.job.units]
    for chart in CHARTS:
        shown(page, chart)
        feed, end = page.locator(f"{chart} .foot b").all()
        assert feed.inner_text() == f"feed: {pull.feed_name}"
        assert end.inner_text() == f"pull: {pull.pull_name}"
        assert feed.bounding_box()["x"] < end.bounding_box()["x"]
        axis = page.inner_text(f"{chart} .foot span")
        assert axis.startswith("station") and f"({length})" in axis
        title = page.inner_text(f"{chart} figcaption b")
        assert (f"({force})" in title) == (chart in ("#tension-chart", "#pull-chart"))
        words = page.evaluate(_WRITTEN, chart)
        # the numbers of bends stand above the plot, those of the axes beside and below it
        top = min(w[2] for w in words)
        at = {w[0].removeprefix("bend "): w[1] for w in words if w[2] < top + 2}
        assert set(at) == {"1", "2", "3"}
        # the feed on the left, whichever end it is
        assert sorted(at, key=at.__getitem__, reverse=pull.reverse) == ["1", "2", "3"]


@pytest.mark.parametrize(("name", "size"), EACH)
def test_no_words_of_a_chart_stand_on_others_or_leave_it(
    browser: Any, written: Written, name: str, size: str
) -> None:
    page = opened(browser, written[name][0], size)
    for feed in ("0", "1"):
        choose(page, "feed", feed)
        for chart in CHARTS:
            shown(page, chart)
            ((left, top, right, bottom),) = boxes(page, chart)
            parts = boxes(page, f"{chart} :is(figcaption > *, .plot, .foot > *)")
            for i, box in enumerate(parts):
                assert box[0] >= left - 1 and box[2] <= right + 1
                assert box[1] >= top - 1 and box[3] <= bottom + 1
                for other in parts[:i]:
                    apart = box[2] <= other[0] + 1 or other[2] <= box[0] + 1
                    assert apart or box[3] <= other[1] + 1 or other[3] <= box[1] + 1


def keys(page: Any, chart: str) -> list[tuple[str, str, bool]]:
    """The named limits of a chart: words, kind, and whether it is drawn."""
    return [
        (
            key.inner_text().replace("\u00a0", " "),
            str(key.get_attribute("class")),
            key.locator("i").count() == 1,
        )
        for key in page.locator(f"{chart} .key").all()
    ]


def test_both_limits_are_drawn_and_named(browser: Any, written: Written) -> None:
    page = opened(browser, written["fine_yard"][0])
    tab(page, "pull")
    found = keys(page, "#pull-chart")
    assert [kind.split()[-1] for _, kind, _ in found] == ["stop", "gear", "caution"]
    assert all(drawn_too for *_, drawn_too in found)
    assert found[0][0].startswith("stop load") and found[1][0].startswith("machine stalls")


def test_a_pull_that_must_not_be_made_draws_no_stop_load(browser: Any, written: Written) -> None:
    page = opened(browser, written["yard_run"][0])
    tab(page, "pull")
    assert not any("stop" in words for words, *_ in keys(page, "#pull-chart"))


def test_limits_far_above_the_load_are_told_with_their_figure(
    browser: Any, written: Written
) -> None:
    page = opened(browser, written["roof_drop"][0])
    tab(page, "pull")
    found = [key for key in keys(page, "#pull-chart") if "caution" not in key[1]]
    assert len(found) == 2 and not any(drawn_too for *_, drawn_too in found)
    for words, *_ in found:
        assert re.search(r"\d kN: above the chart$", words)


@pytest.mark.parametrize("size", ["desk", "phone"])
def test_a_chart_is_read_by_pointer_and_by_key(browser: Any, written: Written, size: str) -> None:
    path, result = written["riser_duct_bank"]
    page = opened(browser, path, size)
    pull = result.runs[0].best.pull
    tab(page, "charts")
    plot = page.locator("#tension-chart .plot")
    plot.scroll_into_view_if_needed()
    box = page.locator("#tension-chart .u-over").bounding_box()
    assert pull.reverse  # so that the left is the far end of the route
    page.mouse.click(box["x"] + 0.25 * box["width"], box["y"] + 40)
    drawn(page)
    told = said(page, "#tension-chart .told")
    station = float(told.split(" ft")[0]) * 0.3048
    assert station == pytest.approx(0.75 * pull.path.length, abs=0.02 * pull.path.length)
    at = float(np.interp(station, pull.profile.station[::-1], pull.profile.tension[::-1]))
    number = float(told.split(": ")[1].split(" ")[0].replace(",", "")) * 4.4482216
    assert number == pytest.approx(at, rel=0.01)
    plot.focus()
    page.keyboard.press("ArrowRight")
    drawn(page)
    later = said(page, "#tension-chart .told")
    assert float(later.split(" ft")[0]) * 0.3048 < station  # to the right is toward the pull
    assert plot.get_attribute("aria-valuetext").replace("\u00a0", " ") == later


def test_a_tap_in_the_pull_chart_moves_the_head(browser: Any, written: Written) -> None:
    page = opened(browser, written["riser_duct_bank"][0], "phone")
    tab(page, "pull")
    page.locator("#pull-chart .u-over").scroll_into_view_if_needed()
    box = page.locator("#pull-chart .u-over").bounding_box()
    page.touchscreen.tap(box["x"] + 0.5 * box["width"], box["y"] + 30)
    drawn(page)
    assert int(page.input_value("#head")) == pytest.approx(500, abs=20)


def test_the_limits_are_those_of_the_run(browser: Any, written: Written) -> None:
    path, result = written["yard_run"]
    page = opened(browser, path)
    tab(page, "charts")
    run = result.runs[0]
    told = [keys(page, chart)[0][0] for chart in ("#tension-chart", "#sidewall-chart")]
    assert told == [
        f"limit {show(tension_limit(run.best.pull), 'force', 'US')}",
        f"limit {show(sidewall_limit(run.run).value, 'sidewall', 'US')}",
    ]
