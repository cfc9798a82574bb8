"""The pull played, scale and north, the profile, and a server that has gone, in a real browser."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from route3d.planning.pull_plan.gauge import GaugeRow
from route3d.planning.pull_plan.progress import progress
from route3d.units import show
from tests.viewer.page.jobs import weak_adapter, weak_machine, without
from viewer.page.session import open_session, planned

from .conftest import MODELS, WAIT, Served, opened, serving

pytestmark = pytest.mark.browser

UTILS = "window.trame.utils.route3d"


def pulled(seen: Any, share: float) -> str:
    """Move the head; the figures below the picture."""
    seen.page.wait_for_selector("#pull", timeout=WAIT)
    seen.page.evaluate(f"{UTILS}.pullTo({share})")
    return str(seen.becomes("#now", "Head at"))


def readings(row: GaugeRow) -> set[str]:
    """Expected, caution and stop of one row of the gauge table, either way where just between."""
    three = (row.expected, row.caution, row.stop)
    return {
        " / ".join(show(load * f, "force", "US") for load in three)
        for f in (1 - 1e-6, 1.0, 1 + 1e-6)
    }


def test_the_figures_of_the_pull_are_those_of_the_plan(browser: Any, riser: Served) -> None:
    session, plan = planned(open_session(riser.model))
    assert plan is not None
    pull, allowances = session.shown.pull, session.job.allowances
    moving = progress(pull, allowances)
    assert moving is not None
    with opened(browser, riser.url) as seen:
        for share in (0.0, 40.0, 85.0):
            words = pulled(seen, share)
            at = share / 100 * float(moving.pulled[-1])
            now = max(i for i, row in enumerate(plan.gauge) if row.pulled <= at + 1e-6)
            for row in plan.gauge[now : now + 2]:
                assert any(text in words for text in readings(row)), (readings(row), words)
            assert "OVER" not in words and "high" in words
        trail = seen.state("trail")
        assert len(trail["cable"].split()) > 2 and len(trail["rope"].split()) >= 2
        seen.page.evaluate(f"{UTILS}.pullTo(100)")
        last = seen.becomes("#now", "Whole cable in")
        assert any(text in last for text in readings(plan.gauge[-1]))
        assert "Now, " in last and "Next, " not in last and "min:s" in last
        assert seen.state("trail") is None
        assert seen.errors == []


def test_a_pull_that_must_not_be_made_has_no_readings(browser: Any) -> None:
    """Its load alone, and what the machine can pull: neither stop load nor gear nor clock."""
    with serving(MODELS / "yard_run.toml") as served, opened(browser, served.url) as seen:
        words = pulled(seen, 95.0)
        assert "Machine load" in words and "Pull of the machine" in words
        assert not any(said in words for said in ("OVER", "stop", "Gear", "min:s"))
        assert seen.errors == []


def test_a_pull_beyond_what_the_machine_can_pull_says_so(browser: Any, tmp_path: Path) -> None:
    with serving(weak_machine(tmp_path)) as served, opened(browser, served.url) as seen:
        assert "OVER" not in pulled(seen, 10.0)
        seen.page.evaluate(f"{UTILS}.pullTo(95)")
        assert "Pull of the machine" in seen.becomes("#now", "OVER")
        seen.counts("#now .r3-stop", 2)  # the load, and its limit
        assert seen.state("loads")["over"].startswith("M")
        seen.page.locator("#loads path.r3-line-over").wait_for(state="attached", timeout=WAIT)
        assert seen.errors == []


def test_the_pull_plays_to_its_end_by_key(browser: Any, riser: Served) -> None:
    with opened(browser, riser.url) as seen:
        pulled(seen, 93.0)
        seen.page.locator("#play").focus()
        seen.page.keyboard.press("Enter")
        seen.page.wait_for_function("window.trame.state.get('playing') === false", timeout=WAIT)
        seen.becomes("#now", "Whole cable in")
        slider = seen.page.locator("#pull").get_by_role("slider")
        slider.focus()
        seen.page.keyboard.press("Home")
        begin = seen.becomes("#now", "Head at station 332.9 ft")
        seen.page.keyboard.press("ArrowRight")
        seen.becomes("#now", f"^(?!{re.escape(begin)})Cable in")
        assert seen.errors == []


@pytest.mark.parametrize("size", [(1400, 900), (390, 844)])
def test_the_slider_is_the_axis_of_the_load_above_it(
    browser: Any, riser: Served, size: tuple[int, int]
) -> None:
    """The mark in the drawing stands over the thumb, at both ends and between."""
    with opened(browser, riser.url, size) as seen:
        for share in (0, 35, 100):
            seen.page.evaluate(f"{UTILS}.pullTo({share})")
            seen.page.wait_for_function(
                "() => { const at = q => { const b = document.querySelector(q)"
                ".getBoundingClientRect(); return b.x + b.width / 2 };"
                " return Math.abs(at('#loads .r3-mark') - at('#pull .v-slider-thumb')) < 2.5 }",
                timeout=WAIT,
            )
        thumb = seen.page.locator("#pull .v-slider__container").bounding_box()
        assert thumb["height"] >= 43.5
        seen.has("#loads", "stay below 3,500 lbf is above")


def test_scale_and_north_follow_the_camera(browser: Any, riser: Served) -> None:
    """On the plan north is up, and the bar is as long as it says."""
    with opened(browser, riser.url) as seen:
        seen.page.wait_for_function("window.trame.state.get('cue')", timeout=WAIT)
        before = seen.page.evaluate("JSON.stringify(window.trame.state.get('cue'))")
        seen.page.get_by_role("button", name="Plan", exact=True).click()
        seen.page.wait_for_function(
            "c => JSON.stringify(window.trame.state.get('cue')) !== c", arg=before, timeout=WAIT
        )
        cue = seen.state("cue")
        number, unit = cue["words"].split()
        assert unit == "ft" and cue["north"] is not None
        bar = cue["path"].split(" M")[0]
        start, end = float(bar.split()[0][1:]), float(bar.split(" H")[1].split()[0])
        metres = float(number.replace(",", "")) * 0.3048
        ends = seen.page.evaluate(f"[[0, 0, 0], [{metres}, 0, 0]].map({UTILS}.project)")
        assert end - start == pytest.approx(ends[1][0] - ends[0][0], abs=0.5)
        seen.page.click("button[aria-label='SI units']")
        seen.page.wait_for_function(
            "window.trame.state.get('cue').words.endsWith(' m')", timeout=WAIT
        )
        assert seen.errors == []


def test_the_profile_lies_over_the_picture_and_goes_again(browser: Any, riser: Served) -> None:
    with opened(browser, riser.url) as seen:
        seen.page.wait_for_selector("#pull", timeout=WAIT)
        seen.page.get_by_role("button", name="Profile").click()
        words = seen.becomes("#unrolled", "Elevation, ft")
        assert "Sidewall pressure, lbf/ft" in words and "Cable tension, lbf" in words
        drawn = seen.state("unrolled")
        seen.page.click("button[aria-label='SI units']")
        seen.becomes("#unrolled", "Elevation, m")
        seen.page.click("button[aria-label='US units']")
        seen.becomes("#unrolled", "Elevation, ft")
        seen.field("friction:duct", "0.5")  # what it shows changes: it is drawn again
        seen.page.wait_for_function(
            "d => window.trame.state.get('unrolled') !== d", arg=drawn, timeout=WAIT
        )
        seen.page.click("#reset")
        seen.page.wait_for_selector("#what-if", state="detached", timeout=WAIT)
        seen.page.get_by_role("button", name="Isometric").click()
        seen.page.wait_for_selector("#unrolled", state="detached", timeout=WAIT)
        assert seen.errors == []


@pytest.mark.parametrize("size", [(1024, 768), (390, 844)])
def test_the_job_and_run_are_named_at_every_size(
    browser: Any, riser: Served, size: tuple[int, int]
) -> None:
    with opened(browser, riser.url, size) as seen:
        for tab in ("engineer", "detailer", "foreman"):
            seen.page.click(f"#tab-{tab}")
            seen.page.get_by_text(
                "Ferry terminal: berth 2 charging feeder · run F1"
            ).first.wait_for(timeout=WAIT)


def test_the_detailer_sees_what_each_bend_has_left(browser: Any, riser: Served) -> None:
    with opened(browser, riser.url) as seen:
        seen.page.click("#tab-detailer")
        seen.has("#bends-fed", "fed from roof switchroom")
        row = seen.becomes("#bend-row-1", r"30 in.*91\.0 ft")
        assert "90.0°" in row
        assert seen.errors == []


def test_the_other_end_looked_at_is_amber_with_its_own_cautions(
    browser: Any, riser: Served
) -> None:
    with opened(browser, riser.url) as seen:
        seen.page.get_by_role("button", name="vault V1", exact=True).click()
        seen.becomes("#headline", "Not the way chosen")
        assert "r3-caution" in seen.page.get_attribute("#headline", "class")
        seen.has("#findings h2", "feeding from vault V1")
        assert "reel brake, vault V1" in seen.text("#findings")  # its own, not the other end's
        seen.page.click("#tab-detailer")
        assert "fed from vault V1" in seen.becomes("#bends-fed", "vault V1")
        seen.page.click("#tab-foreman")
        assert "r3-caution" in seen.page.get_attribute("#order", "class")
        seen.has("#order", "do not pull")
        assert "reel brake, roof switchroom" not in seen.text("#cautions")
        seen.page.click("#tab-engineer")
        seen.page.click("#reset")
        # the banner stays as long as the figures of the edit
        seen.page.wait_for_selector("#what-if", state="detached", timeout=WAIT)
        assert "r3-go" in seen.page.get_attribute("#headline", "class")
        seen.page.click("#tab-foreman")
        assert "reel brake, roof switchroom" in seen.becomes("#cautions", "reel brake")


def test_a_server_that_has_gone_leaves_its_last_figures_and_says_so(browser: Any) -> None:
    with serving(MODELS / "riser_duct_bank.toml") as served, opened(browser, served.url) as seen:
        figure = seen.text("#fact-peak-tension")
        served.interrupt()
        assert "route3d serve riser_duct_bank.toml" in seen.becomes("#ended", "has stopped")
        assert seen.text("#fact-peak-tension") == figure


def test_what_cannot_be_taken_names_its_field(browser: Any, riser: Served) -> None:
    with opened(browser, riser.url) as seen:
        seen.field("friction:duct", "99")
        words = seen.becomes("#message", "99")
        assert "Friction in duct" in words and "allowed is 0 to 2" in words
        seen.field("reel", "-3")
        words = seen.becomes("#message", "-3")
        assert "Reel tension" in words and 'allowed is 0 lbf to 2,248,089 lbf, or "auto"' in words
        seen.field("friction:duct", "0.2501")
        assert "0.25 → 0.2501" in seen.becomes("#what-if", "Friction")
        seen.page.click("#reset")
        seen.page.wait_for_selector("#what-if", state="detached", timeout=WAIT)


def test_what_only_the_plan_stops_is_red_on_every_tab(browser: Any, tmp_path: Path) -> None:
    with serving(weak_adapter(tmp_path)) as served, opened(browser, served.url) as seen:
        assert "adapter" in seen.becomes("#headline", "Do not pull yet")
        flags = [t for t in seen.state("tags") if t["alarm"]]
        assert len(flags) == 1 and "adapter" in " ".join(flags[0]["lines"])
        seen.page.locator(".r3-tag.alarm").wait_for(timeout=WAIT)
        seen.page.click("#tab-foreman")
        assert "r3-stop" in seen.page.get_attribute("#order", "class")
        seen.has("#why-not", "adapter")
        assert seen.page.locator("#stop-load").count() == 0
        assert seen.errors == []


def test_without_a_machine_there_is_no_stop_load_and_no_green(browser: Any, tmp_path: Path) -> None:
    with serving(without(tmp_path, "machine")) as served, opened(browser, served.url) as seen:
        seen.has("#now", "no machine named")
        assert "machine" not in {s["name"] for s in seen.state("solids")}
        seen.page.click("#tab-foreman")
        seen.has("#order", "no machine is named")
        assert "r3-caution" in seen.page.get_attribute("#order", "class")
        assert "machine stands" not in seen.text(".r3-ends")
        seen.has("#lacking", "No machine is named")
        assert seen.page.locator("#stop-load").count() == 0
        assert seen.errors == []


def test_on_a_phone_the_bends_name_themselves_and_say_that_there_is_more(browser: Any) -> None:
    model = MODELS / "yard_run.toml"
    with serving(model) as served, opened(browser, served.url, (390, 844)) as seen:
        seen.page.click("#tab-detailer")
        seen.becomes("tr[id^=bend-row]", "stop")
        table = seen.page.locator("#bends .v-table__wrapper")
        right = table.evaluate("e => e.getBoundingClientRect().right")
        for k in range(1, 5):  # bend, verdict, share of limit, sidewall pressure
            cell = seen.page.locator(f"#bend-row-1 td:nth-child({k})").bounding_box()
            assert cell["x"] + cell["width"] <= right + 1, k
        seen.has("#bends-fed", "scroll sideways")
        assert "linear-gradient" in table.evaluate("e => getComputedStyle(e).backgroundImage")
        table.evaluate("e => { e.scrollLeft = 300 }")
        left = "e => e.getBoundingClientRect().left"
        number = seen.page.locator("#bend-row-1 td:first-child")
        assert abs(number.evaluate(left) - table.evaluate(left)) < 2  # it stays in sight
