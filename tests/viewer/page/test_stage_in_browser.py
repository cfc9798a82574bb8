"""The pull played, scale and north, the profile, and a server that has gone, in a real browser."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from route3d.planning.progress import progress
from route3d.units import show
from viewer.page.session import open_session, planned

from .conftest import MODELS, WAIT, Served, opened, serving

pytestmark = pytest.mark.browser

UTILS = "window.trame.utils.route3d"


def pulled(seen: Any, share: float) -> str:
    """Move the head; the figures below the picture."""
    seen.page.wait_for_selector("#pull", timeout=WAIT)
    seen.page.evaluate(f"{UTILS}.pullTo({share})")
    return str(seen.becomes("#now", "Head at"))


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
            load = float(np.interp(at, moving.pulled, moving.load))
            near = {show(load * f, "force", "US") for f in (1 - 1e-5, 1.0, 1 + 1e-5)}
            assert any(text in words for text in near), (near, words)
            assert "OVER" not in words and "high" in words
        trail = seen.state("trail")
        assert len(trail["cable"].split()) > 2 and len(trail["rope"].split()) >= 2
        seen.page.evaluate(f"{UTILS}.pullTo(100)")
        seen.becomes("#now", "Whole cable in")
        assert seen.state("trail") is None
        assert seen.errors == []


def test_a_pull_beyond_its_stop_load_says_what_breaks(browser: Any) -> None:
    with serving(MODELS / "yard_run.toml") as served, opened(browser, served.url) as seen:
        assert "OVER" not in pulled(seen, 50.0)
        words = seen.becomes("#now", "Head at") if pulled(seen, 95.0) else ""
        assert "OVER" in words and "sidewall pressure" in words
        assert seen.page.locator("#now .r3-stop").count() == 2  # the load, and its limit
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
        assert "Head at" in seen.becomes("#now", "Head at")
        assert seen.errors == []


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
        words = seen.becomes("#unrolled", "Elevation")
        assert "Sidewall pressure" in words and "Machine load" in words
        seen.page.get_by_role("button", name="Corner").click()
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
        assert "fed from roof switchroom" in seen.text("#bends-fed")
        row = seen.becomes("#bend-row-1", r"30 in.*91\.0 ft")
        assert "90.0°" in row
        assert seen.errors == []


def test_the_other_end_looked_at_is_amber_with_its_own_cautions(
    browser: Any, riser: Served
) -> None:
    with opened(browser, riser.url) as seen:
        seen.page.get_by_role("button", name="vault V1", exact=True).click()
        seen.becomes("#what-if", "vault V1 asked for")
        seen.page.click("#tab-foreman")
        assert "reel brake, roof switchroom" not in seen.text("#cautions")
        seen.page.click("#tab-engineer")
        seen.page.click("#reset")
        seen.page.wait_for_selector("#what-if", state="detached", timeout=WAIT)
        seen.page.click("#tab-foreman")
        assert "reel brake, roof switchroom" in seen.text("#cautions")


def test_a_server_that_has_gone_leaves_its_last_figures_and_says_so(browser: Any) -> None:
    with serving(MODELS / "riser_duct_bank.toml") as served, opened(browser, served.url) as seen:
        figure = seen.text("#fact-peak-tension")
        served.interrupt()
        assert "route3d serve" in seen.becomes("#ended", "has stopped")
        assert seen.text("#fact-peak-tension") == figure


def test_what_cannot_be_taken_names_its_field(browser: Any, riser: Served) -> None:
    with opened(browser, riser.url) as seen:
        seen.field("friction:duct", "99")
        words = seen.becomes("#message", "99")
        assert "Friction in duct" in words and "2" in words  # the most that is taken
        seen.field("friction:duct", "0.2501")
        assert "0.25 → 0.2501" in seen.becomes("#what-if", "Friction")
        seen.page.click("#reset")
        seen.page.wait_for_selector("#what-if", state="detached", timeout=WAIT)
