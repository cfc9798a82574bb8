"""Off-screen once for all picture tests; a plotter left open fails the test that left it."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from route3d.files.model_file import load
from route3d.mechanics.pull import with_friction
from route3d.model import Job
from route3d.planning.evaluate import RunResult, evaluate_run

MODELS = Path(__file__).parents[2] / "models"
DEMOS = ("riser_duct_bank", "roof_drop", "yard_run")

Answered = tuple[RunResult, Job]


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
    return evaluate_run(run, job.practice, with_changes=False), job


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


@pytest.fixture(scope="session", params=DEMOS)
def demo(request: pytest.FixtureRequest) -> Answered:
    return answer(request.param)
