"""A new job begun on the page of a server without a file, to its first answer."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from route3d.modelfile.read import load
from tests.viewer.web.browser.pages import Pages, resized, violations
from tests.viewer.web.browser.watched import WAIT, Watched
from tests.viewer.web.served import serving

pytestmark = pytest.mark.browser

ROUTE = """start pad at 0, 0, -3 heading east
200 ft
offset 4 ft left at 30 degrees
150 ft
up 90 at 36 in
60 ft in riser
end mezzanine"""


def test_the_form_leads_to_an_answer(start: Callable[..., Pages], tmp_path: Path) -> None:
    with serving(tmp_path / "job.toml", new=True, folder=tmp_path) as served:
        browser = start()
        page = browser.take("desk", "light", bypass_csp=True)
        watched = Watched(page)
        page.goto(served.url)
        page.fill(
            "#answer-cable", "500 kcmill xhhw"
        )  # misspelled; the route is checked all the same
        page.wait_for_selector(
            "#ask-cable .found button:has-text('600 V XHHW-2 copper 500 kcmil')", timeout=WAIT
        )
        watched.has("#answer-route-told", "transformer pad to switchboard")
        page.fill("#answer-cable", "15 kV 350 kcmil copper")
        watched.has("#answer-cable-told", "Choose one of these")
        page.click("#ask-cable .found button:has-text('15 kV') >> nth=0")
        watched.has("#answer-cable-told", "diameter")
        page.fill("#answer-route", ROUTE)
        watched.has("#answer-route-told", "there is no conduit 'riser'")
        assert not page.locator("#begin:enabled").count()
        page.fill("#answer-conduit", "PVC-40 5 then RMC 5")
        watched.has("#answer-route-told", "pad to mezzanine")
        assert violations(page) == []
        resized(page, "phone", "dark")
        assert violations(page) == []
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
        page.fill("#file-name", "feeder")
        page.click("#begin")
        page.wait_for_selector("#tab-route", timeout=WAIT)
        watched.settled()
        watched.has("#title", "Pad to mezzanine")
        watched.has("#examples", "EXAMPLE VALUES")
        assert load(tmp_path / "feeder.toml").runs[0].cables.items[0][0].about.startswith("15 kV")
        assert not watched.errors
