"""Machine and reels stand where the plan has them, and conduits are measured against them."""

from __future__ import annotations

import io
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console, RenderableType

from route3d.geometry.vectors import Floats
from route3d.model.job import Job
from route3d.model.room import Room
from route3d.model.route import Route
from route3d.model.site import Site
from route3d.modelfile.read import load
from route3d.planning.clearance.bodies import Built, Equipment
from route3d.planning.clearance.equipment import equipment_in_place
from route3d.planning.clearance.issues import issues
from route3d.planning.clearance.job import ClearanceResult, evaluate_clearance
from route3d.planning.evaluate import evaluate
from route3d.planning.pull_plan.plan import make_plan
from route3d.report.clearance_issues import issues_report

MODELS = Path(__file__).parents[4] / "models"


def through(job: Job, place: Floats) -> Job:
    """The job with another run, plumb through a place."""
    first = job.runs[0]
    conduit = first.route.conduits[-1]
    ends = [(place + (0, 0, dz)).tolist() for dz in (-30.0, 30.0)]
    route = Route.of(ends, conduit=conduit, names=("foot", "head"))
    runs = (first, replace(first, name="X", route=route, ends=()))
    return replace(job, runs=runs, banks=(), site=Site())


def measured(job: Job, standing: Equipment, place: Floats) -> tuple[ClearanceResult, float]:
    other = through(job, place)
    radius = other.runs[1].route.conduits[0].outer_diameter / 2
    return evaluate_clearance(other, (), 1.0, frozenset(("X",)), standing), radius


def plain(report: RenderableType) -> str:
    out = io.StringIO()
    Console(file=out, width=10_000, color_system=None).print(report)
    return out.getvalue()


def of_kind(found: Equipment, kind: str) -> Built:
    return next(body for body in found.bodies if body.kind == kind)


def test_a_conduit_through_the_place_of_the_machine_is_a_clash() -> None:
    job = load(MODELS / "mezzanine.toml")
    x, y, z = job.runs[0].route.vertices[-1].point
    outline = tuple((x + a, y + b) for a, b in ((-12, -12), (12, -12), (12, 12), (-12, 12)))
    unknown = of_kind(equipment_in_place(job), "machine")
    assert unknown.assumed  # no floor is given
    job = replace(job, site=Site(rooms=(Room("mezzanine", outline, z - 1.0),)))
    standing = equipment_in_place(job)
    machine = of_kind(standing, "machine")
    plan = make_plan(evaluate(job, with_remedies=False).runs[0], job, step=50.0)
    place = plan.placement.best[0]
    assert plan.machine.envelope is not None and not machine.assumed
    length, width, height = plan.machine.envelope
    low, high = machine.blocks.bounds
    assert (low[2], high[2]) == pytest.approx(
        (place.position[2] + 0.05, place.position[2] + height)
    )
    ahead = np.array([math.cos(place.yaw), math.sin(place.yaw)])
    away = machine.blocks.corners[0, :, :2] - np.array(place.position[:2])
    assert np.abs(away @ ahead) == pytest.approx(length / 2)
    assert np.abs(away @ [-ahead[1], ahead[0]]) == pytest.approx(width / 2)

    result, radius = measured(job, standing, machine.blocks.middles[0])
    (run,) = result.runs
    found = next(m for m in run.met if m.kind == "machine")
    (clash,) = found.clashes
    assert clash.depth == pytest.approx(min(length, width, height - 0.05) / 2 + radius, abs=1e-3)
    assert result.stops
    aside = machine.blocks.middles[0] + (0, length + width, 0)
    assert not measured(job, standing, aside)[0].stops


def test_a_reel_whose_place_is_not_given_makes_a_caution() -> None:
    job = load(MODELS / "roof_drop.toml")
    standing = equipment_in_place(job)
    reel = of_kind(standing, "reel")
    assert reel.assumed and reel.station == 0.0
    given = job.runs[0].reel
    assert given is not None and given.diameter is not None
    low, high = reel.blocks.bounds
    assert high[2] - low[2] == pytest.approx(given.diameter - 0.05)
    result, _ = measured(job, standing, reel.blocks.middles[0])
    (run,) = result.runs
    clashes = [f for f in run.findings if f.rule.startswith("clash with")]
    assert clashes and {f.severity for f in clashes} == {"caution"}
    assert not result.stops
    told = plain(issues_report(result, issues(result), "SI"))
    assert "caution: place or size" in told and "Verdict: 1 caution (1 clash)." in told
    unplaced = replace(standing, unplaced=(("X", "the pull must not be made"),))
    result, _ = measured(job, unplaced, reel.blocks.middles[0])
    told = plain(issues_report(result, issues(result), "SI"))
    assert result.stops and "Not judged: equipment of run X." in told


def test_a_run_without_sizes_needs_no_plan() -> None:
    job = load(MODELS / "mezzanine.toml")
    run = job.runs[0]
    assert run.machine is not None
    bare = replace(run, machine=replace(run.machine, envelope=None), reel=None, ends=())
    assert equipment_in_place(replace(job, runs=(bare,))).bodies == ()
