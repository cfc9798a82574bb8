"""What a printer gets: the answer, the tables and the charts, without controls, on white."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from route3d.planning.result import JobResult
from tests.viewer.web.browser.pages import boxes, choose, drawn, opened, said, tab

pytestmark = pytest.mark.browser

CONTROLS = "button, select, input[type=range], #tabs, #controls, #pull-bar, #views"


@pytest.mark.parametrize("name", ["riser_duct_bank", "yard_run"])
def test_paper_gets_answer_tables_and_charts_without_controls(
    browser: Any, written: dict[str, tuple[Path, JobResult]], name: str
) -> None:
    page = opened(browser, written[name][0], "desk", "dark")
    choose(page, "units", "SI")
    tab(page, "view")
    # as the printer sees it: at once, before another frame
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    assert boxes(page, CONTROLS) == []
    for part in ("answer", "bends", "whatif", "charts", "pull"):
        assert len(boxes(page, f"#print-{part}")) == 1, part
    assert said(page, "h1") in said(page, "#top")
    assert "Locations" in said(page, "#print-answer")
    assert page.locator("#print-bends tbody tr").count() == 3
    assert "Friction" in said(page, "#print-whatif")
    charts = boxes(page, ".printed .plot canvas")
    assert len(charts) == 4 and all(right - left > 600 for left, _, right, _ in charts)
    assert page.evaluate("document.documentElement.dataset.theme") == "light"
    image = page.get_attribute("#print-picture", "src")
    assert image.startswith("data:image/png") and len(image) > 5000
    ((left, top, right, bottom),) = boxes(page, "#stage")
    labels = boxes(page, ".label")
    assert len(labels) >= 3
    assert all(left <= b[0] and b[2] <= right and top <= b[1] and b[3] <= bottom for b in labels)
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    drawn(page)
    assert page.is_visible("#tab-view") and page.locator(".printed").count() == 0
    assert page.evaluate("document.documentElement.dataset.theme") == "dark"
    assert page.said == []


def test_printing_makes_a_document_of_several_sheets(
    browser: Any, written: dict[str, tuple[Path, JobResult]]
) -> None:
    page = opened(browser, written["riser_duct_bank"][0])
    sheets = page.pdf(format="Letter").count(b"/Type /Page\n")
    assert 4 <= sheets <= 9
    drawn(page)
    assert page.is_visible("#tab-answer")  # the page is as it was
