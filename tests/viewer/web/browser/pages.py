"""A page opened from disk or from a server, and what a test asks of it."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import numpy as np
import pytest

FLAGS = (
    *("--headless", "--no-sandbox", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"),
    *("--no-first-run", "--disable-background-networking"),
    *("--disable-component-update", "--disable-sync"),
    # the 3D picture needs the software renderer, the page about it is drawn sooner without
    "--disable-gpu-compositing",
)
# What that way of drawing has the driver say of itself, whatever the page.
_OF_THE_DRIVER = "GPU stall due to ReadPixels"
SIZES = {"phone": (390, 844), "tablet": (820, 1180), "desk": (1440, 900)}
TABS = ("answer", "log", "pull", "bends", "whatif", "charts", "view")
AXE = Path(__file__).parent / "axe" / "axe.min.js"
READY = "performance.getEntriesByName('first picture').length > 0"
_PATIENCE = 900  # times 50 ms

Opened = Any
"""A playwright page; ``asked`` and ``said`` hold its requests and its console messages."""


class Pages:
    """A browser whose pages are used again: to make one costs as much as a dozen clicks on it."""

    def __init__(self, browser: Any) -> None:
        self.browser = browser
        self.resting: dict[str, list[Opened]] = {}
        self.taken: dict[Opened, str] = {}

    def take(self, size: str, scheme: str, script: str = "", **more: Any) -> Opened:
        """An empty page of that size; ``script`` runs in it before all others."""
        kind = repr((script, sorted(more.items())))
        if self.resting.get(kind):
            page = self.resting[kind].pop()
        else:
            page = self.browser.new_context(**more).new_page()
            if script:
                page.context.add_init_script(script)
            page.on("request", lambda r: page.asked.append(r.url))
            page.on("websocket", lambda w: page.asked.append(w.url))
            page.on("console", lambda m: _heard(page, m))
            page.on("pageerror", lambda e: page.said.append(f"error: {e}"))
        self.taken[page] = kind
        resized(page, size, scheme)
        page.asked, page.said = [], []
        return page

    def leave(self, page: Opened) -> None:
        """Have a page forget what was done with it, for the next; one that cannot is closed."""
        from playwright.sync_api import Error

        kind = self.taken.pop(page)
        try:
            page.evaluate(_FORGET)
            page.mouse.move(0, 0)
            page.goto("about:blank")
            page.context.clear_cookies()
        except Error:
            page.context.close()
        else:
            self.resting.setdefault(kind, []).append(page)

    def rest(self) -> None:
        """Leave every page that a test has opened."""
        for page in list(self.taken):
            self.leave(page)


def _heard(page: Opened, message: Any) -> None:
    if _OF_THE_DRIVER not in message.text:
        page.said.append(f"{message.type}: {message.text}")


# Nothing is kept from here on, so that nothing of this page is there when the next one opens.
_FORGET = "sessionStorage.clear(), Object.assign(Storage.prototype, { setItem() {} }), 0"


def opened(
    browser: Pages, path: Path | str, size: str = "desk", scheme: str = "light", **more: Any
) -> Opened:
    page = browser.take(size, scheme, has_touch=size != "desk", **more)
    page.goto(path if isinstance(path, str) else path.as_uri())
    wait_until(page, READY)
    drawn(page)
    return page


def resized(page: Opened, size: str, scheme: str) -> None:
    """The same page on another device."""
    width, height = SIZES[size]
    page.set_viewport_size({"width": width, "height": height})
    page.emulate_media(color_scheme=scheme)


def wait_until(page: Opened, script: str) -> None:
    """Ask until it is so; the page's own rules let nobody evaluate text from inside it."""
    for _ in range(_PATIENCE):
        if page.evaluate(script):
            return
        page.wait_for_timeout(50)
    pytest.fail(f"never so: {script}")


def drawn(page: Opened) -> None:
    """Wait until what was asked for before is drawn: the page draws in the next frame."""
    page.evaluate("new Promise(r => requestAnimationFrame(() => requestAnimationFrame(() => r())))")


def boxes(page: Opened, selector: str) -> list[tuple[float, float, float, float]]:
    """Rectangles of what is seen of a selector."""
    script = """s => [...document.querySelectorAll(s)]
        .filter(e => e.offsetParent !== null && getComputedStyle(e).visibility !== 'hidden')
        .map(e => e.getBoundingClientRect()).map(r => [r.left, r.top, r.right, r.bottom])"""
    return [(r[0], r[1], r[2], r[3]) for r in page.evaluate(script, selector)]


def overlap(a: tuple[float, ...], b: tuple[float, ...]) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def picture(page: Opened) -> np.ndarray[Any, np.dtype[np.int64]]:
    from PIL import Image

    drawn(page)
    shot = page.locator("#canvas").screenshot()
    return np.asarray(Image.open(io.BytesIO(shot)).convert("RGB")).astype(np.int64)


def choose(page: Opened, element: str, value: str) -> None:
    page.select_option(f"#{element}", value)
    drawn(page)


def tab(page: Opened, name: str) -> None:
    page.click(f"#tab-{name}")
    drawn(page)


def said(page: Opened, selector: str) -> str:
    """The text of an element, with plain blanks."""
    return str(page.inner_text(selector)).replace("\u00a0", " ")


def color_by(page: Opened, mode: str) -> None:
    """From the View tab, where it is at every size."""
    tab(page, "view")
    choose(page, "mode", mode)


def violations(page: Opened) -> list[Any]:
    """What axe-core finds wrong; the page has to be opened with ``bypass_csp``."""
    if not page.evaluate("typeof axe === 'object'"):
        page.evaluate(AXE.read_text("utf-8"))
    script = """async () => (await axe.run({ resultTypes: ["violations"] }))
        .violations.map(v =>
        [v.id, v.help, v.nodes.slice(0, 3).map(n => n.target.join(' '))])"""
    found: list[Any] = page.evaluate(script)
    return found


def set_head(page: Opened, thousandths: int) -> None:
    script = "(e, v) => { e.value = v; e.dispatchEvent(new Event('input')); }"
    page.locator("#head").evaluate(script, thousandths)
    drawn(page)
