"""A browser, and the pages of the demos."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from route3d.mechanics.pull import with_friction
from route3d.modelfile.read import load
from route3d.planning.evaluate import evaluate
from route3d.planning.result import JobResult
from tests.viewer.conftest import CHROMIUM, MODELS
from tests.viewer.web.browser.pages import FLAGS, Pages
from viewer.web.handover import write_html


@pytest.fixture(scope="module")
def launched(playwright: Any) -> Iterator[Callable[..., Pages]]:
    """Chromium with more flags; one for a module of each kind."""
    started: dict[tuple[str, ...], Pages] = {}

    def launch(*flags: str) -> Pages:
        if flags not in started:
            browser = playwright.chromium.launch(executable_path=CHROMIUM, args=[*FLAGS, *flags])
            started[flags] = Pages(browser)
        return started[flags]

    yield launch
    for pages in started.values():
        pages.browser.close()


@pytest.fixture
def start(launched: Callable[..., Pages]) -> Iterator[Callable[..., Pages]]:
    """A browser with more flags, whose pages come back when the test is over."""
    used: list[Pages] = []

    def launch(*flags: str) -> Pages:
        used.append(launched(*flags))
        return used[-1]

    yield launch
    for pages in used:
        pages.rest()


@pytest.fixture
def browser(start: Callable[..., Pages]) -> Pages:
    return start()


class Written(dict[str, tuple[Path, JobResult]]):
    """Pages of the demos with what they show, each written when it is asked for first.

    "fine_yard": the yard run must not be pulled as it is; at half its friction it may be, with a
    gear change. "NAME es" has the log in Spanish.
    """

    def __init__(self, folder: Path) -> None:
        super().__init__()
        self.folder = folder

    def __missing__(self, name: str) -> tuple[Path, JobResult]:
        demo, _, language = name.partition(" ")
        job = load(MODELS / f"{'yard_run' if demo == 'fine_yard' else demo}.toml")
        if demo == "fine_yard":
            job = replace(job, runs=tuple(with_friction(run, 0.5) for run in job.runs))
        self[name] = found = self.folder / f"{name}.html", evaluate(job)
        write_html(found[1], job, found[0], units=job.units, language=language or "en")
        return found


@pytest.fixture(scope="session")
def written(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[Path, JobResult]]:
    return Written(tmp_path_factory.mktemp("pages"))
