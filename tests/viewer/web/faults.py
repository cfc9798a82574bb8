"""Jobs in which something is wrong, made of the demos."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from route3d.model import Job
from route3d.model.anchor import WorkPlatform
from route3d.modelfile.read import load
from route3d.planning.evaluate import evaluate
from route3d.planning.result import JobResult
from tests.viewer.conftest import MODELS


def changed(name: str, **of_run: object) -> JobResult:
    """A demo with another value of its run."""
    job = load(MODELS / f"{name}.toml")
    return solved(job, **of_run)


def solved(job: Job, **of_run: object) -> JobResult:
    run = replace(job.runs[0], **of_run)  # type: ignore[arg-type]
    return evaluate(replace(job, runs=(run,)))


@cache
def weak_adapter() -> JobResult:
    """The roof drop, braced by an adapter that holds half the load: only the plan finds it."""
    job = load(MODELS / "roof_drop.toml")
    platform = job.runs[0].anchor
    assert isinstance(platform, WorkPlatform) and platform.brace is not None
    adapters = tuple(
        replace(a, light_rating=900.0, locked_rating=1000.0) for a in platform.brace.adapters
    )
    anchor = replace(platform, brace=replace(platform.brace, adapters=adapters))
    return solved(job, anchor=anchor)


@cache
def rough(name: str, factor: float) -> JobResult:
    """A demo with so many times its friction."""
    job = load(MODELS / f"{name}.toml")
    route = job.runs[0].route
    conduits = tuple(replace(c, friction=c.friction * factor) for c in route.conduits)
    return solved(job, route=replace(route, conduits=conduits))
