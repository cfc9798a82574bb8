"""What picture, window and browser tests share.

A plotter left open fails the test that left it. Playwright is started anew for each module: it
cannot be started twice at once, and while it runs nothing else can run an event loop.
"""

from __future__ import annotations

import shutil
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from route3d.mechanics.pull import with_friction
from route3d.model import Job
from route3d.model.allowances import Allowances
from route3d.modelfile.read import load
from route3d.planning.result import RunResult, evaluate_run
from tests.support.model_text import FERRY
from tests.viewer.odd_jobs import TACKLE

MODELS = Path(__file__).parents[2] / "models"
# What the demo jobs allow; none gives its own but the yard run, for its lubricant stops.
ALLOW = Allowances()
DEMOS = ("riser_duct_bank", "roof_drop", "yard_run")

Answered = tuple[RunResult, Job]

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or ""


@pytest.fixture(scope="module")
def playwright() -> Iterator[Any]:
    """Playwright's own object; skips loudly where it or Chromium is missing."""
    if not CHROMIUM:
        pytest.skip("NO BROWSER: pages are not tested. Get one: apt-get install chromium")
    api = pytest.importorskip(
        "playwright.sync_api", reason="NO PLAYWRIGHT: pip install 'route3d[test]'"
    )
    with api.sync_playwright() as started:
        yield started


@pytest.fixture(autouse=True)
def no_plotter_left_open() -> Iterator[None]:
    yield
    if "pyvista.plotting" in sys.modules:
        from pyvista.plotting.plotter import _ALL_PLOTTERS, close_all

        left = [p for p in _ALL_PLOTTERS.values() if not p._closed]
        close_all()
        assert not left, f"{len(left)} plotters were left open"


def answer(name: str, friction: float = 1.0) -> Answered:
    job = load(MODELS / f"{name}.toml")
    run = with_friction(job.runs[0], friction) if friction != 1.0 else job.runs[0]
    job = replace(job, runs=(run, *job.runs[1:]))
    return evaluate_run(run, job.practice), job


@pytest.fixture(scope="session")
def riser() -> Answered:
    return answer("riser_duct_bank")


@pytest.fixture(scope="session")
def drop() -> Answered:
    return answer("roof_drop")


@pytest.fixture(scope="session")
def drop_rough() -> Answered:
    """The roof drop at 1.6 times its friction."""
    return answer("roof_drop", 1.6)


@pytest.fixture(scope="session")
def riser_rough() -> Answered:
    """The riser and duct bank at 1.3 times its friction."""
    return answer("riser_duct_bank", 1.3)


@pytest.fixture(scope="session")
def yard() -> Answered:
    return answer("yard_run")


def slippery(answered: Answered) -> Answered:
    """The same run at 0.7 times its friction: the yard run is then a pull that may be made."""
    job = answered[1]
    run = with_friction(job.runs[0], 0.7)
    job = replace(job, runs=(run,))
    return evaluate_run(run, job.practice), job


@pytest.fixture(scope="session")
def fine_yard(yard: Answered) -> Answered:
    """The yard run as a pull that may be made."""
    return slippery(yard)


@pytest.fixture(scope="session")
def weak(yard: Answered) -> Answered:
    """The yard run with a puller of half the pull: no gear holds to the end."""
    job = yard[1]
    run = job.runs[0]
    assert run.machine is not None
    gears = tuple(replace(g, line_pull=g.line_pull / 2) for g in run.machine.gears)
    run = replace(run, machine=replace(run.machine, gears=gears))
    job = replace(job, runs=(run,))
    return evaluate_run(run, job.practice), job


_CORNERS = (
    *((55, 0, -1.5, 2), (60, 8, -1.5, 3), (110, 20, -1.6, 3), (160, 14, -1.6, 3)),
    *((210, 22, -1.7, 3), (260, 15, -1.7, 3), (310, 20, -1.8, 3), (360, 12, -1.8, 3)),
    *((420, 20, -1.8, 3), (500, 20, -2.4, 3), (530, 40, -2.4, 3)),
    *((590, 40, -2.4, 2), (590, 40, 24, 2)),
)
_FEEDER = (
    'title = "Ferry terminal: shed roof charging feeder"\n'
    + FERRY
    + """\
friction = 0.15
TACKLE
[[run]]
name = "F7"
cables = { phase = 3 }
attach = "pulling eyes"
rope = "line"
machine = "puller"
route = [
  { at = [0, 0, -1.5], name = "substation vault", access = ["reel", "machine"], conduit = "duct" },
  CORNERS
  { at = [600, 40, 24], name = "berth 5 charger", access = ["reel", "machine"] },
]
"""
)


@pytest.fixture(scope="session")
def feeder(tmp_path_factory: pytest.TempPathFactory) -> Answered:
    """A long flat run of thirteen bends that ends in a riser; too many degrees stop it."""
    corners = (f"{{ at = [{x}, {y}, {z}], bend = {r} }}," for x, y, z, r in _CORNERS)
    path = tmp_path_factory.mktemp("feeder") / "feeder.toml"
    text = _FEEDER.replace("CORNERS", " ".join(corners)).replace("TACKLE", TACKLE)
    path.write_text(text, encoding="utf-8")
    job = load(path)
    return evaluate_run(job.runs[0], job.practice), job


@pytest.fixture(scope="session", params=DEMOS)
def demo(request: pytest.FixtureRequest) -> Answered:
    return answer(request.param)


def findings_on(words: dict[str, Any]) -> list[dict[str, Any]]:
    """The findings handed over to a page, each by the heads of their table."""
    table = words["findings"]
    return [dict(zip(table["heads"], row, strict=True)) for row in table["rows"]]
