"""The page handed over, from disk in a real browser, at the sizes of a phone, a tablet and a desk.

Needs Debian's chromium (``apt-get install chromium``) and playwright of the test extra; without
them every test here is skipped and says so.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from route3d.drawing.study_charts.sheet import NARROW
from route3d.modelfile.read import load
from route3d.planning.evaluate import evaluate
from route3d.planning.result import JobResult
from route3d.units import show
from tests.support.study_records import sensitivity_of
from tests.viewer.conftest import MODELS
from tests.viewer.web.browser.pages import (
    SIZES,
    TABS,
    boxes,
    choose,
    color_by,
    drawn,
    opened,
    overlap,
    picture,
    said,
    set_head,
    tab,
    violations,
    wait_until,
)
from tests.viewer.web.test_handover import NASTY, nasty
from viewer.web.handover import write_html

pytestmark = pytest.mark.browser

Written = dict[str, tuple[Path, JobResult]]


# --- opening -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "size", "scheme"),
    [
        *(("riser_duct_bank", size, scheme) for size in SIZES for scheme in ("light", "dark")),
        ("yard_run", "phone", "dark"),
        ("roof_drop", "desk", "dark"),
    ],
)
def test_opens_from_disk_quietly_with_nothing_on_top_of_anything(
    browser: Any, written: Written, name: str, size: str, scheme: str
) -> None:
    page = opened(browser, written[name][0], size, scheme)
    assert page.asked == [written[name][0].as_uri()]
    assert page.said == []
    labels = boxes(page, ".label")
    assert len(labels) >= 4
    (stage,) = boxes(page, "#stage")
    furniture = [b for s in ("#bar", "#cue", "#views") for b in boxes(page, s)]
    for i, label in enumerate(labels):
        assert label[0] >= stage[0] and label[1] >= stage[1]
        assert label[2] <= stage[2] and label[3] <= stage[3]
        assert not any(overlap(label, other) for other in [*labels[:i], *furniture])
    ground = page.evaluate("getComputedStyle(document.body).backgroundColor")
    brightness = sum(map(int, ground[4:-1].split(",")))
    assert brightness > 600 if scheme == "light" else brightness < 150


@pytest.mark.parametrize(
    ("name", "size"),
    [
        ("yard_run", "phone"),
        ("riser_duct_bank", "phone"),
        ("yard_run", "tablet"),
        ("roof_drop", "desk"),
    ],
)
def test_no_tab_scrolls_sideways_and_all_is_large_enough_for_a_finger(
    browser: Any, written: Written, name: str, size: str
) -> None:
    """WCAG 2.5.5: nothing to touch is smaller than 44 px."""
    page = opened(browser, written[name][0], size)
    width = SIZES[size][0]
    for each in TABS:
        tab(page, each)
        assert page.evaluate("document.documentElement.scrollWidth") <= width, each
        touched = "button, select, input:not([type=checkbox]), label.check, tr[tabindex], summary"
        for left, top, right, bottom in boxes(page, touched):
            assert bottom - top >= 43.5 and right - left >= 43.5, each
        if size == "desk":
            assert page.evaluate("document.documentElement.scrollHeight") <= SIZES[size][1]
    for left, _, right, _ in boxes(page, "[role=tab]"):
        assert left >= 0 and right <= width  # all are in sight


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(
    ("name", "size"),
    [("riser_duct_bank", "phone"), ("riser_duct_bank", "tablet"), ("yard_run", "desk")],
)
def test_axe_finds_nothing_wrong_on_any_tab(
    browser: Any, written: Written, name: str, size: str, scheme: str
) -> None:
    page = opened(browser, written[name][0], size, scheme, bypass_csp=True)
    for each in TABS:
        tab(page, each)
        if each == "bends":
            page.click("tr[id^=bend-row]")
        assert violations(page) == [], each


def test_a_phone_may_zoom_and_reads_large_type(browser: Any, written: Written) -> None:
    page = opened(browser, written["riser_duct_bank"][0], "phone")
    content = page.get_attribute("meta[name=viewport]", "content")
    assert "user-scalable" not in content and "maximum-scale" not in content
    size = "s => parseFloat(getComputedStyle(document.querySelector(s)).fontSize)"
    assert page.evaluate(size, "#expected-now b") >= 36
    assert page.evaluate(size, "#sentence") >= 18 and page.evaluate(size, "#readings td") >= 17
    columns = [b[0] for b in boxes(page, "#answer .card")]
    assert max(columns) - min(columns) < 1  # one below the other


def test_the_theme_follows_the_device_until_one_is_chosen(browser: Any, written: Written) -> None:
    page = opened(browser, written["riser_duct_bank"][0])
    shown = "document.documentElement.dataset.theme"
    assert page.evaluate(shown) == "light"
    page.emulate_media(color_scheme="dark")
    wait_until(page, f"{shown} === 'dark'")
    tab(page, "view")
    choose(page, "theme", "light")
    assert page.evaluate(shown) == "light"
    assert page.evaluate("document.documentElement.style.colorScheme") == "light"


def test_labels_stay_apart_while_the_route_turns(browser: Any, written: Written) -> None:
    page = opened(browser, written["yard_run"][0], "tablet")
    page.locator("#stage").focus()
    for _ in range(12):
        page.keyboard.press("ArrowRight")
        page.keyboard.press("ArrowUp")
        drawn(page)
        labels = boxes(page, ".label")
        assert not any(overlap(a, b) for i, a in enumerate(labels) for b in labels[:i])
    assert labels


# Every call that draws triangles or lines.
_COUNT = """(() => {
    window.calls = 0;
    const kind = WebGL2RenderingContext.prototype;
    for (const name of ["drawElements", "drawArrays"]) {
        const draw = kind[name];
        kind[name] = function (...all) { window.calls += 1; return draw.apply(this, all); };
    }
})()"""


def test_the_picture_is_drawn_only_when_it_is_another(browser: Any, written: Written) -> None:
    page = opened(browser, written["riser_duct_bank"][0], script=_COUNT)

    def calls() -> int:
        for _ in range(3):
            drawn(page)
        page.wait_for_timeout(300)  # what a turned picture does once it rests
        return int(page.evaluate("window.calls"))

    begun = calls()
    assert begun > 0
    for each in (*TABS, "answer"):
        tab(page, each)
    choose(page, "feed", page.input_value("#feed"))
    assert calls() == begun
    page.locator("#stage").focus()
    page.keyboard.press("ArrowRight")
    turned = calls()
    assert turned > begun
    page.emulate_media(color_scheme="dark")
    assert (dark := calls()) > turned
    page.set_viewport_size({"width": 1200, "height": 800})
    assert (smaller := calls()) > dark
    set_head(page, 400)
    assert (under_way := calls()) > smaller
    color_by(page, "sidewall")
    assert calls() > under_way


# --- what can be changed -----------------------------------------------------------------------


def test_feed_end_colors_and_units_change_words_and_picture(browser: Any, written: Written) -> None:
    path, result = written["riser_duct_bank"]
    page = opened(browser, path)
    run = result.runs[0]
    chosen = run.best
    assert said(page, "h1") == (
        f"Feed from {chosen.pull.feed_name}, pull at {chosen.pull.pull_name}"
    )
    before = picture(page)
    other = next(i for i, c in enumerate(run.candidates) if c is not chosen)
    choose(page, "feed", str(other))
    pull = run.candidates[other].planned
    assert "Not the chosen direction" in said(page, "h1") and page.is_visible("#other-way")
    assert show(pull.peak_sidewall, "sidewall", "US") in said(page, "#answer")
    now = picture(page)  # a longer headline may leave less room for it
    assert now.shape != before.shape or np.abs(now - before).max() > 20
    choose(page, "colors", "sidewall")
    assert "lbf/ft" in said(page, "#bar")
    choose(page, "units", "SI")
    text = said(page, "#answer")
    assert show(pull.peak_tension, "force", "SI") in text and "lbf" not in text
    assert "N/m" in said(page, "#bar") and "lbf" not in said(page, "#labels")
    assert page.said == []


def test_conduits_have_colors_of_their_own_with_a_key(browser: Any, written: Written) -> None:
    page = opened(browser, written["riser_duct_bank"][0])
    before = picture(page)
    color_by(page, "conduit")
    assert "PVC-40 5" in said(page, "#bar") and "RMC 5" in said(page, "#bar")
    assert np.abs(picture(page) - before).max() > 40
    assert page.said == []


def test_a_picture_out_of_sight_is_made_anew_when_it_is_seen(
    browser: Any, written: Written
) -> None:
    """On a phone some tabs hide it: what changes meanwhile cannot be measured."""
    page = opened(browser, written["riser_duct_bank"][0], "phone")
    tab(page, "charts")
    choose(page, "units", "SI")
    choose(page, "feed", "0")
    tab(page, "answer")
    page.wait_for_timeout(300)
    labels = boxes(page, ".label")
    assert len(labels) >= 4
    assert not any(overlap(a, b) for i, a in enumerate(labels) for b in labels[:i])
    ticks = boxes(page, "#bar text")
    assert max(right for _, _, right, _ in ticks) > 150  # as wide as its place


def test_layers_and_views(browser: Any, written: Written) -> None:
    page = opened(browser, written["riser_duct_bank"][0])
    tab(page, "view")
    before = picture(page)
    page.uncheck("input[name='duct bank']")
    assert np.abs(picture(page) - before).max() > 20
    page.uncheck("input[name='labels']")
    drawn(page)
    assert boxes(page, ".label") == []
    for name in ("plan", "side", "isometric"):
        page.click(f"#views button[data-view='{name}']")
        drawn(page)
        assert page.get_attribute(f"#views button[data-view='{name}']", "aria-pressed") == "true"


@pytest.mark.parametrize("size", ["desk", "phone"])
def test_reload_and_back_keep_tab_units_theme_and_feed_end(
    browser: Any, written: Written, size: str
) -> None:
    page = opened(browser, written["riser_duct_bank"][0], size)
    choose(page, "units", "SI")
    choose(page, "feed", "0")
    tab(page, "view")
    choose(page, "theme", "dark")
    tab(page, "charts")

    def kept() -> list[Any]:
        return [
            page.get_attribute("#tab-charts", "aria-selected"),
            page.input_value("#units"),
            page.input_value("#feed"),
            page.evaluate("document.documentElement.dataset.theme"),
        ]

    expected = ["true", "SI", "0", "dark"]
    assert kept() == expected
    page.reload()
    wait_until(page, "document.querySelector('#tab-charts') !== null")
    assert kept() == expected
    page.goto("about:blank")
    page.go_back()
    wait_until(page, "document.querySelector('#tab-charts') !== null")
    assert kept() == expected


def test_tabs_go_by_key_and_name_their_panels(browser: Any, written: Written) -> None:
    page = opened(browser, written["riser_duct_bank"][0])
    page.locator("#tab-answer").focus()
    for name in TABS[1:]:
        page.keyboard.press("ArrowRight")
        drawn(page)
        assert page.evaluate("document.activeElement.id") == f"tab-{name}"
        panel = page.locator("[role=tabpanel]")
        assert panel.get_attribute("id") == name
        assert panel.get_attribute("aria-labelledby") == f"tab-{name}"


def test_what_cannot_be_changed_is_told_as_assumptions(browser: Any, written: Written) -> None:
    page = opened(browser, written["riser_duct_bank"][0])
    assert page.inner_text("#tab-whatif") == "Assumptions"
    tab(page, "whatif")
    words = said(page, "#assumptions")
    for value in ("Friction in duct (PVC-40 5)", "0.25", "Reel tension", "auto", "puller", "48 in"):
        assert value in words
    assert page.locator("#whatif input, #whatif select, #whatif button").count() == 0
    assert "within limits" in said(page, "#directions") and "chosen" in said(page, "#directions")


# --- reading and picking -----------------------------------------------------------------------


@pytest.mark.parametrize("size", ["desk", "phone"])
def test_a_tap_on_the_route_reads_what_was_worked_out(
    browser: Any, written: Written, size: str
) -> None:
    """The worst bend's dot lies mid-bend: its reading is the pull's own tension there."""
    path, result = written["riser_duct_bank"]
    page = opened(browser, path, size)
    run = result.runs[0]
    segment = 3  # the second bend of straight, bend, straight, bend, ...
    middle = (run.path.stations[segment] + run.path.stations[segment + 1]) / 2
    circles = page.evaluate(
        "[...document.querySelectorAll('#leaders circle')]"
        ".map(c => [c.cx, c.cy].map(v => v.baseVal.value))"
    )
    (stage,) = boxes(page, "#stage")
    readings = []
    for x, y in circles:
        at = (stage[0] + x, stage[1] + y)
        (page.touchscreen.tap if size == "phone" else page.mouse.click)(*at)
        drawn(page)
        if page.locator("#reading").count():
            readings.append(said(page, "#reading-text"))
            page.click("#reading-close")
            drawn(page)
    (bend,) = [r for r in readings if "Bend 2" in r]
    assert "R 48 in, 90.0°" in bend
    station = float(bend.split("Station ")[1].split(" ft")[0]) * 0.3048
    assert abs(station - middle) < 1.0  # a finger is not finer
    pull = run.best.pull
    way = -1 if pull.reverse else 1
    tension = np.interp(station, pull.profile.station[::way], pull.profile.tension[::way])
    told = float(bend.split("Tension ")[1].split(" lbf")[0].replace(",", "")) * 4.4482216152605
    # the station is told to 0.1 ft, the tension to 1 lbf
    slope = np.abs(np.gradient(pull.profile.tension[::way][::2], pull.profile.station[::way][::2]))
    assert abs(told - tension) <= 0.5 * 4.45 + 0.06 * 0.3048 * float(slope.max()) + 1e-5 * tension
    assert "of 7,500 lbf" in bend and "of 500 lbf/ft" in bend


def test_a_tap_beside_the_route_closes_the_reading(browser: Any, written: Written) -> None:
    page = opened(browser, written["riser_duct_bank"][0])
    page.locator("#stage").focus()
    page.keyboard.press(".")
    drawn(page)
    assert page.is_visible("#reading")
    (stage,) = boxes(page, "#stage")
    page.mouse.click(stage[0] + 500, stage[3] - 30)
    wait_until(page, "document.getElementById('reading') === null")


@pytest.mark.parametrize("size", SIZES)
def test_table_and_picture_pick_each_others_bend(browser: Any, written: Written, size: str) -> None:
    page = opened(browser, written["riser_duct_bank"][0], size)
    tab(page, "bends")
    ring = (
        "[...document.querySelectorAll('#leaders circle.bend')]"
        ".map(c => [c.cx, c.cy].map(v => v.baseVal.value))"
    )
    found = {}
    for number in (3, 1):
        page.click(f"#bend-row-{number}")
        drawn(page)
        assert said(page, "#bend-head").startswith(f"Bend {number}:")
        ((x, y),) = page.evaluate(ring)
        found[number] = (x, y)
        assert page.get_attribute("tr.picked", "id") == f"bend-row-{number}"
    page.evaluate("scrollTo(0, 0)")
    drawn(page)
    (stage,) = boxes(page, "#stage")
    at = (stage[0] + found[3][0], stage[1] + found[3][1])
    (page.mouse.click if size == "desk" else page.touchscreen.tap)(*at)
    drawn(page)
    assert said(page, "#bend-head").startswith("Bend 3:")
    assert page.get_attribute("tr.picked", "id") == "bend-row-3"


def test_arrows_go_from_row_to_row_of_the_bends(browser: Any, written: Written) -> None:
    page = opened(browser, written["riser_duct_bank"][0])
    tab(page, "bends")
    page.locator("#bend-row-1").focus()
    for key, row in (("ArrowDown", 2), ("ArrowDown", 3), ("ArrowUp", 2)):
        page.keyboard.press(key)
        wait_until(page, f"document.activeElement.id === 'bend-row-{row}'")
    page.keyboard.press("Enter")
    drawn(page)
    assert said(page, "#bend-head").startswith("Bend 2")


def test_failing_bends_come_first_and_name_themselves_on_a_phone(
    browser: Any, written: Written
) -> None:
    page = opened(browser, written["yard_run"][0], "phone")
    tab(page, "bends")
    first = page.locator("tr[id^=bend-row]").first
    assert "stop" in first.inner_text()
    right = page.locator(".schedule").evaluate("e => e.getBoundingClientRect().right")
    for k in range(1, 5):  # bend, verdict, share of limit, sidewall pressure
        cell = first.locator(f":nth-child({k})").first.bounding_box()
        assert cell["x"] + cell["width"] <= right + 1, k
    assert "Scroll sideways" in said(page, "#bends-fed")
    table = page.locator(".schedule")
    table.evaluate("e => { e.scrollLeft = 300 }")
    left = "e => e.getBoundingClientRect().left"
    number = first.locator("th").first
    assert abs(number.evaluate(left) - table.evaluate(left)) < 2  # it stays in sight


def test_a_finding_shows_its_place_on_the_route(browser: Any, written: Written) -> None:
    page = opened(browser, written["yard_run"][0])
    page.locator(".finding button").first.click()
    drawn(page)
    assert "Station" in said(page, "#reading-text")
    assert page.locator("#leaders circle.picked").count() == 1


# --- what else may come ------------------------------------------------------------------------


def test_hostile_names_are_shown_as_they_are(browser: Any, tmp_path: Path) -> None:
    result = nasty()
    path = tmp_path / "nasty.html"
    write_html(result, result.job, path)
    for size in ("phone", "desk"):
        page = opened(browser, path, size)
        for each in TABS:
            tab(page, each)
        tab(page, "answer")
        assert page.said == [] and len(page.asked) == 1
        assert page.evaluate("window.hacked") is None
        assert NASTY in page.evaluate("document.getElementById('title').textContent")
        assert page.evaluate("document.querySelectorAll('#title *, h1 *').length") == 0
        assert "码头一号" in page.inner_text("h1")
        assert page.evaluate("document.documentElement.scrollWidth") <= SIZES[size][0]


def test_the_page_lets_no_text_become_script_or_style(browser: Any, written: Written) -> None:
    page = opened(browser, written["roof_drop"][0])
    policy = page.get_attribute("meta[http-equiv='Content-Security-Policy']", "content")
    assert "unsafe" not in policy and "default-src 'none'" in policy
    page.evaluate(
        "document.body.append(Object.assign(document.createElement('script'),"
        "{ textContent: 'window.hacked = 1' }))"
    )
    assert page.evaluate("window.hacked") is None


def test_a_job_of_two_runs_has_a_selector(browser: Any, tmp_path: Path) -> None:
    one, other = (load(MODELS / f"{n}.toml") for n in ("riser_duct_bank", "roof_drop"))
    job = replace(one, runs=(*one.runs, *other.runs))
    write_html(evaluate(job), job, tmp_path / "two.html")
    page = opened(browser, tmp_path / "two.html", "phone")
    assert "roof switchroom" in page.inner_text("h1")
    choose(page, "run", "1")
    assert page.inner_text("h1") == "Feed from roof, pull at basement switchroom"
    assert len(boxes(page, ".label")) >= 4 and page.said == []
    page.reload()
    wait_until(page, "document.querySelector('h1') !== null")
    assert page.inner_text("h1") == "Feed from roof, pull at basement switchroom"


def test_without_3d_the_answer_and_the_drawings_still_show(
    start: Callable[..., Any], written: Written
) -> None:
    blind = start("--disable-3d-apis")
    for size in ("phone", "desk"):
        page = opened(blind, written["yard_run"][0], size)
        assert "cannot show 3D" in page.inner_text("#flat .message")
        for drawing in ("#flat-plan svg", "#flat-elevation canvas"):
            ((left, _, right, _),) = boxes(page, drawing)
            assert right - left > 200
        assert said(page, "h1").startswith("Do not pull yet")
        choose(page, "feed", "0")
        for each in TABS:
            tab(page, each)
        assert page.said == []


@pytest.mark.scale
def test_twenty_kilometers_with_two_thousand_bends_stay_usable(
    browser: Any, tmp_path: Path
) -> None:
    """First picture within 5 s, a change within 1 s."""
    points = [(10.0 * i / 2**0.5, 10.0 * (i % 2) / 2**0.5, -2.0) for i in range(2002)]
    job = load(MODELS / "roof_drop.toml")
    from route3d.model import Route, Vertex

    ends = frozenset({"reel", "machine"})
    vertices = [Vertex(p, bend=2.0) for p in points]
    vertices[0] = Vertex(points[0], name="A", access=ends)
    vertices[-1] = Vertex(points[-1], name="B", access=ends)
    conduit = replace(job.runs[0].route.conduits[0], friction=0.0005)
    route = Route(tuple(vertices), (conduit,) * 2001)
    rope = job.runs[0].rope
    assert rope is not None
    light = replace(rope, friction=0.0005)
    job = replace(job, runs=(replace(job.runs[0], route=route, rope=light),))
    path = tmp_path / "long.html"
    write_html(evaluate(job, with_remedies=False), job, path)
    page = opened(browser, path)
    assert page.evaluate("performance.getEntriesByName('first picture')[0].startTime") < 5000
    took = page.evaluate(
        """async () => { const s = document.getElementById('colors'); s.value = 'sidewall';
        const t = performance.now(); s.dispatchEvent(new Event('change'));
        await new Promise(r => requestAnimationFrame(() => requestAnimationFrame(r)));
        return performance.now() - t; }"""
    )
    assert took < 1000
    tab(page, "pull")
    assert "expected / caution / stop" in said(page, "#pull-now")  # of the way decided upon
    tab(page, "bends")
    assert page.locator("tr[id^=bend-row]").count() < 60  # only the rows in sight
    page.locator(".schedule").evaluate("e => { e.scrollTop = 44 * 1500 }")
    wait_until(page, "document.querySelector('tr[aria-rowindex=\"1502\"]') !== null")
    assert page.said == []


# --- sensitivity -------------------------------------------------------------------------------


def test_sensitivity_reads_on_a_phone_in_both_systems_of_units(
    browser: Any, written: Written, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    job, (_, result) = load(MODELS / "riser_duct_bank.toml"), written["riser_duct_bank"]
    made = sensitivity_of(job.runs[0], 14)
    monkeypatch.setattr("route3d.api.sensitivities", lambda job: (made,))
    write_html(result, job, tmp_path / "page.html", sensitivity=True)
    page = opened(browser, tmp_path / "page.html", "phone")
    tab(page, "charts")
    assert page.evaluate("document.documentElement.scrollWidth") <= SIZES["phone"][0]
    page.click("#to-sensitivity")
    assert (
        page.evaluate("document.querySelector('#sensitivity h2').getBoundingClientRect().top") < 200
    )
    wide = page.evaluate(
        "[...document.querySelectorAll('.study-picture')].map(i => [i.naturalWidth, i.width])"
    )
    assert len(wide) == 6
    assert all(drawn_ == NARROW and shown > 0.6 * NARROW for drawn_, shown in wide)
    assert "lbf" in page.evaluate("document.querySelector('.study-picture').src")
    choose(page, "units", "SI")
    assert "kN" in page.evaluate("document.querySelector('.study-picture').src")
