"""The page of jobs that fail, lack something or are extreme: words, flags and layout."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from route3d.modelfile.read import load
from route3d.planning.evaluate import evaluate
from route3d.planning.result import JobResult
from route3d.report.remedies import remedy_list
from tests.viewer.conftest import MODELS
from tests.viewer.web.browser.pages import (
    SIZES,
    boxes,
    opened,
    overlap,
    said,
    set_head,
    tab,
    violations,
)
from tests.viewer.web.faults import changed, rough, weak_adapter
from viewer.web.handover import write_html

pytestmark = pytest.mark.browser

# Text that is cut off: wider than the box it stands in.
_CUT = """s => [...document.querySelectorAll(s)].filter(e => e.offsetParent !== null
    && e.scrollWidth > e.clientWidth + 1).map(e => e.innerText)"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """For pages that are looked at in several sizes."""
    return tmp_path_factory.mktemp("faults")


def page_of(browser: Any, result: JobResult, path: Path, size: str = "desk", **more: Any) -> Any:
    if not path.exists():
        write_html(result, result.job, path, units=result.job.units)
    return opened(browser, path, size, **more)


@pytest.mark.parametrize("size", ["desk", "phone"])
def test_what_the_plan_alone_stops_is_not_told_to_be_pulled(
    browser: Any, folder: Path, size: str
) -> None:
    page = page_of(browser, weak_adapter(), folder / "weak.html", size, bypass_csp=True)
    assert "Do not pull yet: load path: locked adapter" in said(page, "h1")
    assert page.get_attribute("h1", "class") == "stop"
    assert page.locator("#warning").count() == 0  # no reading is told of a pull not to be made
    stops = page.locator(".finding.stop").all_inner_texts()
    assert any("locked adapter" in text for text in stops)
    assert page.locator("#stop-load, #stop-now, #readings").count() == 0
    assert violations(page) == []
    flags = page.locator(".label.fault.alarm").all_inner_texts()
    assert any("locked adapter" in text for text in flags)
    assert page.locator("#leaders circle.flag").count() == 1
    tab(page, "pull")
    assert "must not be made" in said(page, "#pull-now")


@cache
def yard() -> JobResult:
    return evaluate(load(MODELS / "yard_run.toml"))


@pytest.mark.parametrize("size", ["desk", "phone"])
def test_the_list_of_remedies_reads_by_number_and_cost_class(
    browser: Any, folder: Path, size: str
) -> None:
    result = yard()
    told = remedy_list(result.runs[0], "US")
    page = page_of(browser, result, folder / "yard.html", size)
    assert told.title in said(page, "#answer")
    numbers = page.locator(".remedies .number").all_inner_texts()
    assert numbers == [str(line.number) for line in told.lines]
    assert page.locator(".remedies h3").count() == len(told.groups)
    for line in told.lines:
        words = said(page, f".remedies li[value='{line.number}']")
        assert line.what in words and line.comes_of_it in words and line.caution in words
    assert said(page, "#answer code") == told.command
    # what to do stands out, what comes of it is smaller and lighter
    sizes, colors = (
        page.evaluate(
            "k => ['.what', '.small'].map(s => getComputedStyle("
            "document.querySelector('.remedies li ' + s))[k])",
            key,
        )
        for key in ("fontSize", "color")
    )
    assert float(sizes[0][:-2]) > float(sizes[1][:-2]) and colors[0] != colors[1]
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


@pytest.mark.parametrize("lacking", ["machine", "rope"])
def test_what_is_missing_for_a_stop_load_is_said(browser: Any, folder: Path, lacking: str) -> None:
    more = {"machine": None} if lacking == "machine" else {"machine": None, "rope": None}
    page = page_of(
        browser, changed("roof_drop", anchor=None, **more), folder / f"no_{lacking}.html"
    )
    answer = said(page, "#answer")
    assert "Stop load -" not in answer and "Stop load not known" in answer
    assert f"No {lacking} given" in said(page, "#stop-load")
    assert "not known" in said(page, "#facts")
    assert f"no {lacking} given" in said(page, "#order")
    assert page.get_attribute("#order", "class") == "caution"
    tab(page, "pull")
    now = said(page, "#pull-now")
    assert "No stop load" in now and f"no {lacking} given" in now.lower()


@pytest.mark.parametrize("size", SIZES)
def test_huge_figures_break_no_layout(browser: Any, folder: Path, size: str) -> None:
    page = page_of(browser, rough("yard_run", 7.6), folder / "huge.html", size)
    assert page.evaluate("document.documentElement.scrollWidth") <= SIZES[size][0]
    labels = boxes(page, ".label")
    assert not any(overlap(a, b) for i, a in enumerate(labels) for b in labels[:i])
    assert page.evaluate(_CUT, ".fact, .fact b, .label, .finding, h1, h2") == []
    # a figure and its unit in one line
    lines = """() => [...document.querySelectorAll('.fact b')].map(e => {
        const r = document.createRange(); r.selectNodeContents(e);
        return new Set([...r.getClientRects()].map(c => c.top)).size; })"""
    assert set(page.evaluate(lines)) == {1}


@pytest.mark.parametrize(
    ("name", "size"), [("yard_run", "desk"), ("riser_duct_bank", "phone"), ("yard_run", "phone")]
)
def test_no_reading_of_the_pull_is_cut_off(
    browser: Any, written: dict[str, tuple[Path, JobResult]], name: str, size: str
) -> None:
    page = opened(browser, written[name][0], size)
    tab(page, "pull")
    for thousandths in (0, 400, 900, 1000):
        set_head(page, thousandths)
        assert page.evaluate(_CUT, "#pull-now dt, #pull-now dd, #pull-short") == []


def test_the_run_can_be_read_in_its_selector_on_a_phone(browser: Any, folder: Path) -> None:
    job = load(MODELS / "roof_drop.toml")
    names = ("Feeder to berth 1, north group", "Feeder to berth 1, south group")
    job = replace(job, runs=tuple(replace(job.runs[0], name=n) for n in names))
    page = page_of(browser, evaluate(job), folder / "two.html", "phone")
    measure = """([s, words]) => { const e = document.querySelector(s), c = getComputedStyle(e);
        const pen = document.createElement('canvas').getContext('2d');
        pen.font = `${c.fontWeight} ${c.fontSize} ${c.fontFamily}`;
        return pen.measureText(words).width; }"""
    arrow = 34  # what a browser draws at the right of a selector, and its padding
    for selector, words in (("#run", names[0]), ("#units", "US"), ("#feed", "roof (chosen)")):
        ((left, _, right, _),) = boxes(page, selector)
        assert right - left - arrow >= page.evaluate(measure, [selector, words]), selector
