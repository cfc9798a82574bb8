"""The live page as people use it, in a real browser against a real server."""

from __future__ import annotations

import re
import socket
import urllib.error
import urllib.request
from pathlib import Path
from typing import Any

import pytest

from route3d.modelfile.read import load
from route3d.planning.result import evaluate_run
from route3d.units import show
from viewer.gauge import gauge_of
from viewer.page import publish
from viewer.page.session import edited, open_session, planned, solved

from .conftest import MODELS, WAIT, Served, opened, serving

pytestmark = pytest.mark.browser

TABS = ("engineer", "detailer", "foreman")
SIZES = [(1024, 768), (390, 844)]
_OF_TAB = {"engineer": "#findings", "detailer": "#bends", "foreman": "#cautions"}


def test_it_loads_without_a_complaint_or_a_request_to_elsewhere(
    browser: Any, riser: Served
) -> None:
    with opened(browser, riser.url) as seen:
        for tab in TABS:
            seen.page.click(f"#tab-{tab}")
            seen.page.locator(_OF_TAB[tab]).wait_for(timeout=WAIT)
        seen.page.click("[aria-label='dark colors']")
        seen.page.click("button[aria-label='SI units']")
        seen.page.click("#tab-engineer")
        seen.becomes("#fact-peak-tension", "kN")
        assert seen.errors == []
        here = re.compile(rf"(http|ws)://127\.0\.0\.1:{riser.port}/|data:|blob:")
        assert [r for r in seen.requests if not here.match(r)] == []
        assert any(r.startswith("ws://") for r in seen.requests)


def test_the_figures_are_those_of_the_program(browser: Any, riser: Served) -> None:
    job = load(riser.model)
    best = evaluate_run(job.runs[0], job.practice).best.pull
    with opened(browser, riser.url) as seen:
        seen.shows("#fact-peak-tension", show(best.peak_tension, "force", "US"))
        seen.shows("#fact-peak-sidewall", show(best.peak_sidewall, "sidewall", "US"))
        seen.page.click("#tab-foreman")
        seen.shows("#crew-feed", best.feed_name)
        seen.shows("#crew-machine", best.pull_name)


def test_an_edit_changes_numbers_decision_colours_and_their_range(
    browser: Any, riser: Served
) -> None:
    with opened(browser, riser.url) as seen:
        before = seen.text("#fact-peak-tension")
        colours, legend = seen.state("colours"), seen.text("#legend")
        picture = seen.page.locator("#view3d").screenshot()
        seen.field("friction:duct", "0.5")
        seen.becomes("#fact-peak-tension", f"^(?!{re.escape(before)}$)")
        assert seen.state("colours") != colours
        assert seen.text("#legend") != legend  # never a stale range
        seen.has("#what-if", "0.25 → 0.50")
        seen.repainted(picture)
        seen.page.click("#reset")
        seen.shows("#fact-peak-tension", before)
        assert seen.page.locator("#what-if").count() == 0
        assert seen.errors == []


def test_a_bad_edit_says_why_and_changes_nothing(browser: Any, riser: Served) -> None:
    with opened(browser, riser.url) as seen, opened(browser, riser.url) as other:
        before = seen.text("#fact-peak-tension")
        seen.field("friction:duct", "-0.2")
        assert "below the minimum of 0" in seen.becomes("#message", "limit")
        seen.field("friction:duct", "plenty")
        assert "not a number" in seen.becomes("#message", "plenty")
        assert seen.text("#fact-peak-tension") == before
        assert other.page.locator("#message").count() == 0  # nobody else is bothered


def test_the_feed_end_can_be_asked_for_and_left_to_the_program(browser: Any, riser: Served) -> None:
    with opened(browser, riser.url) as seen:
        before = seen.text("#headline")
        seen.page.click("#feed-0")
        assert "Not the way chosen" in seen.becomes("#headline", f"^(?!{re.escape(before)})")
        seen.has("#what-if", "asked for")
        seen.page.click("#feed-best")
        seen.shows("#headline", before)
        seen.page.wait_for_selector("#what-if", state="detached", timeout=WAIT)
        assert seen.errors == []


def test_keys_alone_will_do(browser: Any, riser: Served) -> None:
    with opened(browser, riser.url) as seen:
        page = seen.page
        page.locator("#form").get_by_role("slider").first.focus()
        page.keyboard.press("ArrowRight")
        seen.becomes("#what-if", "0.25 → 0.26")
        page.locator("#reset").focus()
        page.keyboard.press("Enter")
        page.wait_for_selector("#what-if", state="detached", timeout=WAIT)
        page.locator("#tab-detailer").focus()
        page.keyboard.press("Enter")
        page.locator("#bend-row-2").focus()
        page.keyboard.press("Enter")
        assert seen.becomes("#bend-head", "Bend 2")
        unnamed = page.evaluate(
            "[...document.querySelectorAll('button, input, [role=slider], [role=tab]')]"
            ".filter(e => e.offsetParent && !(e.innerText || e.ariaLabel || "
            "(e.labels && e.labels.length) || e.getAttribute('aria-labelledby') || "
            "e.getAttribute('aria-label'))).map(e => e.outerHTML.slice(0, 120))"
        )
        assert unnamed == []


def test_table_and_picture_select_each_other(browser: Any, riser: Served) -> None:
    with opened(browser, riser.url) as seen:
        page = seen.page
        page.click("#tab-detailer")
        page.click("#bend-row-3")
        assert seen.becomes("#bend-head", "Bend 3")
        page.wait_for_function(
            "window.trame.state.get('tags').some(t => t.picked && t.bend === 3)", timeout=WAIT
        )
        place = page.evaluate("window.trame.state.get('tags').find(t => t.bend === 1)")
        box = page.locator("#view3d").bounding_box()
        page.mouse.click(box["x"] + place["px"], box["y"] + place["py"])
        assert seen.becomes("#bend-head", "Bend 1")
        assert page.locator("tr.r3-picked").get_attribute("id") == "bend-row-1"
        assert "Station" in seen.becomes("#probe", "Station")


def test_a_tap_reads_its_place_and_follows_edits_and_units(browser: Any, riser: Served) -> None:
    """In the middle of a straight, a little beside it as a finger is, far from any sample."""
    session = open_session(riser.model)
    path, station = session.shown.pull.path, 27.0
    with opened(browser, riser.url) as seen:
        page = seen.page
        x, y = page.evaluate(
            "([line, at]) => { const i = line.findIndex((p) => p[3] > at), [p, q] = [line[i - 1],"
            " line[i]], s = (at - p[3]) / (q[3] - p[3]); return window.trame.utils.route3d"
            ".project(p.map((v, k) => v + s * (q[k] - v))) }",
            [seen.state("line"), station],
        )
        box = page.locator("#view3d").bounding_box()
        page.mouse.click(box["x"] + x + 7, box["y"] + y + 7)
        words = seen.becomes("#probe", "Station")
        read = float(re.search(r"Station ([\d.]+) ft", words)[1]) * 0.3048  # type: ignore[index]
        assert read == pytest.approx(station, abs=2.0)  # ten pixels of about 0.15 m
        assert path.length > 100
        assert "of limit 7,500 lbf" in words
        page.click("button[aria-label='SI units']")
        metres = re.search(r"Station ([\d.]+) m", seen.becomes("#probe", "kN"))
        assert metres and float(metres[1]) == pytest.approx(read, abs=0.02)  # printed to 0.1 ft
        before = seen.text("#probe")
        seen.field("friction:duct", "0.5")
        after = seen.becomes("#probe", f"^(?!{re.escape(before)}$)Station")
        assert after.split(" · ")[0] == before.split(" · ")[0]
        page.click("#reset")
        seen.shows("#probe", before)
        page.mouse.move(box["x"] + x, box["y"] + y)
        page.mouse.down()
        page.mouse.move(box["x"] + x + 60, box["y"] + y, steps=4)
        page.mouse.up()  # turning the picture is no tap
        page.wait_for_timeout(200)
        assert seen.text("#probe") == before
        assert seen.errors == []


def test_arrows_go_from_row_to_row_of_the_bends(browser: Any, riser: Served) -> None:
    with opened(browser, riser.url) as seen:
        seen.page.click("#tab-detailer")
        seen.page.locator("#bend-row-1").focus()
        for key, row in (("ArrowDown", 2), ("ArrowDown", 3), ("ArrowUp", 2)):
            seen.page.keyboard.press(key)
            assert seen.page.evaluate("document.activeElement.id") == f"bend-row-{row}"
        seen.page.keyboard.press("Enter")
        assert seen.becomes("#bend-head", "Bend 2")


def test_failing_bends_come_first(browser: Any) -> None:
    with serving(MODELS / "yard_run.toml") as served, opened(browser, served.url) as seen:
        seen.page.click("#tab-detailer")
        assert seen.becomes("tr[id^=bend-row]", "stop")
        seen.page.click("#tab-engineer")
        seen.counts("#directions td.r3-stop", 4)  # verdict, share; twice
        assert "NOTHING BOUGHT" in seen.becomes("#help", "What would make it pass.*Then stage 1")
        numbers = seen.page.locator("#help .r3-number").all_inner_texts()
        assert numbers == [str(n) for n in range(1, len(numbers) + 1)]
        seen.page.click("#tab-foreman")
        seen.becomes("#order", "Do not pull")
        seen.becomes("#why-not", "What would make it pass.*Then stage 1")
        assert seen.page.locator("#crew-help .r3-number").all_inner_texts() == numbers
        assert seen.page.locator("#stop-load").count() == 0
        assert seen.errors == []


@pytest.mark.parametrize("size", SIZES, ids=["tablet", "phone"])
def test_tablet_and_phone(browser: Any, riser: Served, size: tuple[int, int]) -> None:
    """No sideways scrolling, and nothing to touch is smaller than a finger (44 px, WCAG 2.5.5)."""
    with opened(browser, riser.url, size) as seen:
        for tab in TABS:
            seen.page.click(f"#tab-{tab}")
            seen.page.locator(_OF_TAB[tab]).wait_for(timeout=WAIT)
            width = seen.page.evaluate("document.documentElement.scrollWidth")
            assert width <= size[0], tab
            small = seen.page.evaluate(
                "[...document.querySelectorAll("
                "'button, .v-field, [role=tab], tr[tabindex]')]"
                ".filter(e => e.offsetParent).map(e => [e.getBoundingClientRect(), e])"
                ".filter(([r]) => r.height < 43.5 || r.width < 43.5)"
                ".map(([r, e]) => [e.innerText, e.id, e.className, r.width, r.height])"
            )
            assert small == [], tab
        letters = seen.page.evaluate(
            "parseFloat(getComputedStyle(document.querySelector('#stop-load')).fontSize)"
        )
        assert letters >= 36
        seen.has("#stop-load", "lbf")
        assert seen.page.locator("#readings tbody tr").count() >= 5
        assert seen.errors == []


def test_two_browsers_show_one_job(browser: Any, riser: Served) -> None:
    """Edits are shared; the tab and the units stay with each browser."""
    session = solved(edited(open_session(riser.model), "friction:duct", "0.45", "US"))
    load = session.shown.planned.machine_peak
    assert load is not None
    again, plan = planned(session)
    now = gauge_of(again.shown, plan, "SI").rows[0]
    with opened(browser, riser.url) as one, opened(browser, riser.url, (390, 844)) as two:
        two.page.click("#tab-foreman")
        two.page.click("button[aria-label='SI units']")
        two.becomes("#expected-load", "kN")
        one.field("friction:duct", "0.45")
        one.becomes("#fact-peak-machine-load", f"^{show(load, 'force', 'US')}$")
        two.becomes("#expected-load", f"Expected {now.expected}, caution {now.caution} kN")
        assert "What if" in two.becomes("#order", "What if")
        assert one.page.locator("#decision").count() == 1  # still on its own tab
        both = "s => JSON.stringify(window.trame.state.get('sheet')) === s"
        one.settled()
        sheet = one.page.evaluate("JSON.stringify(window.trame.state.get('sheet'))")
        two.page.wait_for_function(both, arg=sheet, timeout=WAIT)
        one.page.click("#reset")
        two.becomes("#order", "Pull as planned")
        assert one.errors == two.errors == []


def test_a_broken_file_keeps_the_last_good_result_until_repaired(
    browser: Any, riser: Served
) -> None:
    good = riser.model.read_text()
    number = next(i for i, t in enumerate(good.splitlines(), 1) if t.startswith("friction"))
    with opened(browser, riser.url) as seen:
        before = seen.text("#fact-peak-tension")
        try:
            riser.model.write_text(re.sub(r"friction   = 0\.25.*", "friction   = -3", good))
            assert f"line {number}:" in seen.becomes("#problems", "friction")
            assert seen.text("#fact-peak-tension") == before
            riser.model.write_text(good.replace("friction   = 0.25", "friction   = 0.30"))
            seen.page.wait_for_selector("#problems", state="detached", timeout=WAIT)
            seen.becomes("#fact-peak-tension", f"^(?!{re.escape(before)}$)")
        finally:
            riser.model.write_text(good)
        seen.shows("#fact-peak-tension", before)
        assert seen.errors == []


def test_interrupt_ends_it_cleanly_and_frees_the_port(browser: Any) -> None:
    with serving(MODELS / "roof_drop.toml") as served:
        port = served.port
        with opened(browser, served.url):
            assert served.interrupt() == 0
        assert served.process.stderr is not None
        assert "Traceback" not in served.process.stderr.read()
    with socket.socket() as again:
        again.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        again.bind(("127.0.0.1", port))


def test_a_token_is_asked_on_page_and_websocket(browser: Any) -> None:
    with serving(MODELS / "roof_drop.toml", "--token", "crew-4711-blue") as served:
        bare = f"http://127.0.0.1:{served.port}/"
        for path in ("", "index.html", "ws", "assets/", "?token=wrong-4711"):
            assert _status(bare + path) == 401
        assert _websocket_status(served.port, cookie="") == 401
        assert _websocket_status(served.port, cookie="route3d_token=nope") == 401
        assert _websocket_status(served.port, cookie="route3d_token=crew-4711-blue") == 101
        with opened(browser, served.url) as seen:
            assert "token" not in seen.page.url
            assert seen.text("#headline")
            assert seen.errors == []


def test_a_page_from_elsewhere_cannot_use_this_one(riser: Served) -> None:
    assert _websocket_status(riser.port, origin="http://elsewhere.example") == 403
    assert _websocket_status(riser.port, host="elsewhere.example") == 403
    assert _websocket_status(riser.port) == 101


def test_no_file_is_served_but_the_page_itself(riser: Served) -> None:
    name = riser.model.name
    for path in (name, f"..%2f{name}", "%2e%2e/%2e%2e/etc/passwd", "..%2f..%2f..%2fetc/passwd"):
        assert _status(f"http://127.0.0.1:{riser.port}/{path}") in (403, 404)


def _status(url: str) -> int:
    """The status of a plain request."""
    try:
        with urllib.request.urlopen(url, timeout=5) as answer:
            return int(answer.status)
    except urllib.error.HTTPError as error:
        error.close()
        return error.code


def _websocket_status(port: int, *, cookie: str = "", origin: str = "", host: str = "") -> int:
    """The status a websocket handshake is answered with."""
    lines = [
        "GET /ws HTTP/1.1",
        f"Host: {host or f'127.0.0.1:{port}'}",
        "Upgrade: websocket",
        "Connection: Upgrade",
        "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==",
        "Sec-WebSocket-Version: 13",
        *([f"Cookie: {cookie}"] if cookie else []),
        *([f"Origin: {origin}"] if origin else []),
    ]
    with socket.create_connection(("127.0.0.1", port), timeout=5) as link:
        link.sendall(("\r\n".join(lines) + "\r\n\r\n").encode())
        return int(link.recv(4096).split(b" ")[1])


def test_the_foreman_finds_gears_time_place_and_weakest_link(browser: Any, riser: Served) -> None:
    """The sentences of the plan; the machine is drawn in its vault once the place is found."""
    session, plan = planned(open_session(riser.model))
    told = gauge_of(session.shown, plan, "US")
    with opened(browser, riser.url) as seen:
        seen.page.click("#tab-foreman")
        assert told.gears[0] in seen.becomes("#gears", "up to")
        for words, place in ((told.time[-1], "#gears"), (told.link[0], "#held")):
            seen.has(place, words)
        seen.has("#held", "bolted to the floor")
        # the place now and the next one, each of one row; then the head has come to the next
        first, second, third = told.rows[:3]
        assert seen.becomes("#stop-load", f"^{first.stop} lbf$")
        seen.has("#expected-load", f"Expected {first.expected}, caution {first.caution} lbf")
        seen.has("#next-readings", f"expected {second.expected}, caution {second.caution}, stop")
        seen.page.click("text=Head is at the next place")
        assert seen.becomes("#stop-load", f"^{second.stop} lbf$")
        seen.has("#expected-load", f"Expected {second.expected}, caution {second.caution} lbf")
        seen.has("#next-readings", f"stop {third.stop} lbf")
        seen.has("#checks", told.checks[0])
        heads = seen.page.locator("#readings thead th").all_inner_texts()
        assert [h.lower() for h in heads] == list(told.heads)
        assert "room edges" in [s["name"] for s in seen.state("solids")]
        corners = publish.geometry_values(session, ())["corners"]
        assert seen.state("corners") == corners
        assert seen.errors == []


LONG = "puller on the apron of berth 2 with the long boom, hired from a terminal far away"


def test_a_long_name_of_a_machine_is_not_cut_in_its_box(browser: Any, tmp_path: Path) -> None:
    model = tmp_path / "long.toml"
    text = (MODELS / "riser_duct_bank.toml").read_text()
    text = text.replace("[machine.puller]", f'[machine."{LONG}"]')
    model.write_text(text.replace('"puller"', f'"{LONG}"'))
    with serving(model) as served, opened(browser, served.url) as seen:
        seen.page.wait_for_selector(".r3-tag.machine")
        wide = "e => [e.scrollWidth <= e.clientWidth + 1, e.getBoundingClientRect().right]"
        shown = seen.page.locator(".r3-tag.machine").inner_text()
        assert " ".join(shown.split()).startswith(LONG.upper())
        fits, right = seen.page.locator(".r3-tag.machine").evaluate(wide)
        frame = seen.page.locator("#view3d").evaluate("e => e.getBoundingClientRect().right")
        assert fits and right <= frame + 1
        chosen = seen.page.locator("#form .v-select__selection-text").first
        assert chosen.inner_text() == LONG
        assert chosen.evaluate("e => e.scrollWidth <= e.clientWidth + 1")
        seen.page.click("#tab-foreman")
        seen.has(".r3-ends", LONG)
