"""A served page and a browser to look at it with."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from threading import Timer
from typing import Any

import pytest

from tests.viewer.conftest import CHROMIUM

MODELS = Path(__file__).parents[3] / "models"
FLAGS = (
    *("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
)
WAIT = 45_000  # ms; a page is ready in two seconds on a quiet machine of two cores


@dataclass
class Served:
    """A running ``route3d serve``: its process, and where it is to be found."""

    process: subprocess.Popen[str]
    url: str
    model: Path

    @property
    def port(self) -> int:
        match = re.search(r":(\d+)/", self.url)
        assert match, self.url
        return int(match[1])

    def interrupt(self) -> int:
        self.process.send_signal(signal.SIGINT)
        return self.process.wait(15)


@contextmanager
def serving(model: Path, *options: str) -> Iterator[Served]:
    """Serve a model in a process of its own, as a person does."""
    command = [sys.executable, "-m", "route3d", "serve", str(model), "--no-browser", *options]
    env = {**os.environ, "PYTHONUNBUFFERED": "1"}
    process = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=env
    )
    late = Timer(60, process.kill)
    late.start()
    try:
        assert process.stdout and process.stderr
        line = process.stdout.readline()
        match = re.search(r"http://\S+", line)
        if match is None:
            process.wait(10)
            pytest.fail(f"not served: {line}{process.stderr.read()}")
        late.cancel()
        yield Served(process, match[0], model)
    finally:
        late.cancel()
        if process.poll() is None:
            process.kill()
        process.communicate()


@pytest.fixture(scope="module")
def browser(playwright: Any) -> Iterator[Any]:
    chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
    yield chromium
    chromium.close()


@pytest.fixture(scope="module")
def riser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """The demo job, served from a copy that a test may write to."""
    model = tmp_path_factory.mktemp("page") / "riser.toml"
    model.write_bytes((MODELS / "riser_duct_bank.toml").read_bytes())
    with serving(model) as served:
        yield served


MORE = """
[machine.winch]
gears    = [{ line_pull = 1500, speed = 40 }]
envelope = [3, 2, 3]

[machine."capstan on the apron"]
gears    = [{ line_pull = 900, speed = 60 }, { line_pull = 6000, speed = 12 }]
envelope = [4, 3, 4]

"""


def three_runs() -> str:
    """Three runs and three machines: F1 and F2 pass, F3 is far too long and names no machine."""
    text = (MODELS / "riser_duct_bank.toml").read_text()
    start, end = text.index("[[run]]"), text.index("[[bank]]")
    run = text[start:end]
    second = (
        run.replace('"F1"', '"F2"')
        .replace("[180, 95", "[180, 120")
        .replace("[195, 95", "[195, 120")
    )
    third = run.replace('"F1"', '"F3"').replace("at = [0, 0, -5]", "at = [-8000, 0, -5]")
    third = "".join(t for t in third.splitlines(True) if not t.startswith("machine "))
    return "\n".join((text[:start] + MORE + text[start:], second, third))


@pytest.fixture(scope="module")
def three(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A job of three runs, served from a file that a test may write to."""
    model = tmp_path_factory.mktemp("page") / "three.toml"
    model.write_text(three_runs())
    with serving(model) as served:
        yield served


@dataclass
class Watched:
    """A page and what it complained of, and every address it asked for."""

    page: Any
    errors: list[str]
    requests: list[str]

    def text(self, selector: str) -> str:
        return str(self.page.inner_text(selector, timeout=WAIT))

    def becomes(self, selector: str, pattern: str) -> str:
        """Wait until the text of an element matches."""
        self.page.wait_for_function(
            "([s, p]) => { const e = document.querySelector(s);"
            " return e && new RegExp(p, 's').test(e.innerText) }",
            arg=[selector, pattern],
            timeout=WAIT,
            polling=20,
        )
        return self.text(selector)

    def has(self, selector: str, words: str) -> None:
        """Wait until the text of an element holds these words."""
        self.becomes(selector, re.escape(words))

    def shows(self, selector: str, text: str) -> None:
        """Wait until the text of an element is this."""
        self.becomes(selector, f"^{re.escape(text)}$")

    def state(self, key: str) -> Any:
        return self.page.evaluate("k => window.trame.state.get(k)", key)

    def settled(self) -> None:
        """Wait until all of the run has come and nothing in the picture moves any more.

        The plan comes last and its section makes the picture smaller: until then a place in the
        picture is not where it was read.
        """
        self.page.wait_for_function(
            "() => { const s = window.trame.state, v = document.getElementById('view3d');"
            " const b = v && v.getBoundingClientRect();"
            " if (!s.get('film') || !s.get('tags').length || !b) return false;"
            " const now = JSON.stringify([s.get('tags'), s.get('title'), b.width, b.height]);"
            " if (window.lastSeen !== now) { window.lastSeen = now;"
            " window.since = performance.now(); }"
            " return performance.now() - window.since > 300 }",
            timeout=WAIT,
            polling=50,
        )

    def counts(self, selector: str, number: int) -> None:
        """Wait until so many elements match."""
        self.page.wait_for_function(
            "([s, n]) => document.querySelectorAll(s).length === n",
            arg=[selector, number],
            timeout=WAIT,
        )

    def choose(self, run: str) -> None:
        """Take a run from the list, as a person does."""
        self.page.locator(".v-select", has=self.page.locator("#runs")).click()
        self.take(run)
        shown = "n => window.trame.state.get('title').endsWith('run ' + n)"
        self.page.wait_for_function(shown, arg=run, timeout=WAIT)
        self.settled()

    def take(self, option: str) -> None:
        """Click an option of the list that is opening, once it is open.

        Until then a list takes no click, and Playwright scrolls the page to look for a place where
        it does. The list follows the page: it moves between press and release of the button, and
        a click that begins on one option and ends on another chooses none.
        """
        self.page.wait_for_function(
            "() => { const e = document.querySelector('.v-overlay--active .v-overlay__content');"
            " return e && e.style.pointerEvents !== 'none' && e.style.visibility !== 'hidden'"
            " && !e.getAnimations({ subtree: true }).length"
            " && !/-(enter|leave)-/.test(e.className) }",
            timeout=WAIT,
        )
        self.page.get_by_role("option", name=option).click()

    def repainted(self, before: bytes) -> bytes:
        """Wait until the 3D view looks otherwise than ``before``, and give what it looks like."""
        late = time.monotonic() + WAIT / 1000
        while (now := bytes(self.page.locator("#view3d").screenshot())) == before:
            assert time.monotonic() < late, "the picture stays as it was"
            self.page.wait_for_timeout(50)
        return now

    def field(self, key: str, text: str) -> None:
        field = self.page.locator(f"[id='field-{key}']")
        field.fill(text)
        field.press("Enter")


@contextmanager
def opened(browser: Any, url: str, size: tuple[int, int] = (1400, 900)) -> Iterator[Watched]:
    """A page in a context of its own, ready when all of its run has come."""
    context = browser.new_context(viewport={"width": size[0], "height": size[1]})
    page = context.new_page()
    watched = Watched(page, [], [])
    page.on("console", lambda m: watched.errors.append(m.text) if m.type == "error" else None)
    page.on("pageerror", lambda e: watched.errors.append(str(e)))
    page.on("request", lambda r: watched.requests.append(r.url))
    page.on("websocket", lambda w: watched.requests.append(w.url))
    try:
        page.goto(url)
        page.wait_for_selector("#headline", timeout=WAIT)
        watched.settled()
        yield watched
    finally:
        context.close()
