"""A live page in a browser: what it says, and waiting for what it will say."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import pytest

from tests.viewer.web.browser.pages import Pages, drawn, tab, wait_until

WAIT = 45_000  # ms; an answer takes a tenth of a second on a quiet machine


@dataclass
class Watched:
    """A page, what it complained of, every address it asked for, and what it was told."""

    page: Any

    @property
    def errors(self) -> list[str]:
        return [told for told in self.page.said if told.startswith("error: ")]

    @property
    def requests(self) -> list[str]:
        return list(self.page.asked)

    def text(self, selector: str) -> str:
        return str(self.page.inner_text(selector, timeout=WAIT)).replace("\u00a0", " ")

    def becomes(self, selector: str, pattern: str) -> str:
        """Wait until the text of an element matches."""
        waited = 0
        while waited < WAIT:
            if self.page.locator(selector).count():
                text = self.text(selector)
                if re.search(pattern, text, re.DOTALL):
                    return text
            self.page.wait_for_timeout(40)
            waited += 40
        pytest.fail(f"{selector} never matches {pattern}: {self.text(selector)}")

    def has(self, selector: str, words: str) -> None:
        self.becomes(selector, re.escape(words))

    def shows(self, selector: str, text: str) -> None:
        self.becomes(selector, f"^{re.escape(text)}$")

    def gone(self, selector: str) -> None:
        self.page.wait_for_selector(selector, state="detached", timeout=WAIT)

    def settled(self) -> None:
        """Wait until picture, plan and bends of the run have come."""
        wait_until(
            self.page,
            "Boolean(document.querySelector('#play:enabled') && document.querySelector('#cue svg')"
            " && !document.querySelector('#coming'))",
        )
        drawn(self.page)

    def tab(self, name: str) -> None:
        tab(self.page, name)

    def field(self, key: str, text: str, press: str = "Enter") -> None:
        field = self.page.locator(f"[id='field-{key}']")
        field.fill(text)
        if press:
            field.press(press)

    def peak(self) -> str:
        self.tab("answer")
        return self.text("#fact-peak-tension b")

    def reset(self) -> None:
        self.page.click("#reset-here")
        self.gone("#what-if")


@contextmanager
def opened(
    browser: Pages, url: str, size: str = "desk", scheme: str = "light", **more: Any
) -> Iterator[Watched]:
    """A page with nothing in it of another, ready when all of its run has come."""
    page = browser.take(size, scheme, **more)
    watched = Watched(page)
    try:
        page.goto(url)
        page.wait_for_selector("h1", timeout=WAIT)
        watched.settled()
        yield watched
    finally:
        browser.leave(page)
