"""No cheaper remedy than the one listed: small cases counted out on a grid, judged in full."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import product

import numpy as np
import pytest

import route3d
from route3d.geometry.fillet import route_path
from route3d.model.job import Job
from route3d.model.practice import Practice
from route3d.model.run import Run
from route3d.planning.evaluate import evaluate
from route3d.planning.remedies.aim import Aim
from route3d.planning.remedies.edits import (
    BendRadius,
    Edit,
    MovedPoint,
    NewPullPoint,
    OtherFriction,
    SplitInStages,
    Tackle,
    carried_out,
)
from route3d.planning.remedies.judge import Task, judged
from route3d.planning.remedies.remedy import Remedy
from route3d.planning.result import evaluate_run
from tests.support.broken_jobs import MODELS, broken_job
from tests.support.jobs import LBF, along, cable, conduit, run
from tests.support.routes import Go, Turn, vertices

INCH, FOOT = 0.0254, 0.3048


def advised(job: Job) -> dict[str, Remedy]:
    """The first remedy of each kind."""
    (result,) = evaluate(job).runs
    assert result.advice is not None
    return {r.kind: r for r in reversed(result.advice.remedies)}


def reaches(job: Job, edits: Sequence[Edit]) -> bool:
    task = Task(job, Aim(job.practice.margin))
    found = judged(carried_out(job.runs[0], edits), task)
    return found is not None and found.reaches(task.aim)


def one_bend(share: float) -> Job:
    """150 m, a quarter bend, 130 m; the sidewall pressure takes ``share`` of its limit."""
    route = along(vertices([Go(150), Turn(90, 1.2), Go(130)]), conduit(friction=0.3))
    free = run(route, cable(sidewall_limit=1e9, max_tension=1e6))
    pressure = evaluate_run(free, Practice()).best.pull.peak_sidewall
    limited = cable(sidewall_limit=pressure / share, max_tension=1e6)
    return Job("one bend", "US", (run(route, limited),))


@pytest.mark.parametrize("share", [1.02, 1.2, 1.5])
def test_no_smaller_radius_on_the_grid_reaches_the_margin(share: float) -> None:
    job = one_bend(share)
    (edit,) = advised(job)["radius"].edits
    assert isinstance(edit, BendRadius)
    inches = round(edit.radius / INCH)
    assert edit.radius == pytest.approx(inches * INCH)
    grid = [k * INCH for k in range(round(1.2 / INCH) + 1, inches + 1)]
    passing = [r for r in grid if reaches(job, [BendRadius(1, r)])]
    assert passing[0] == pytest.approx(edit.radius)


@pytest.mark.parametrize("share", [1.02, 1.2, 1.5])
def test_no_higher_friction_on_the_grid_reaches_the_margin(share: float) -> None:
    job = one_bend(share)
    (edit,) = advised(job)["friction"].edits
    assert isinstance(edit, OtherFriction)
    grid = [k / 100 for k in range(10, 30)]
    passing = [mu for mu in grid if reaches(job, [OtherFriction("duct", mu, None, None)])]
    assert passing[-1] == pytest.approx(edit.friction)


def test_no_weaker_rope_reaches_the_margin() -> None:
    job = broken_job("rope")
    (edit,) = advised(job)["rope"].edits
    assert isinstance(edit, Tackle)
    grid = [k * 100 * LBF for k in range(7, round(edit.value / LBF / 100) + 1)]
    passing = [x for x in grid if reaches(job, [replace(edit, value=x)])]
    assert passing[0] == pytest.approx(edit.value)


def test_no_fewer_set_ups_reach_the_margin_on_the_yard_run() -> None:
    """Both single cuts reach it in two set-ups; the whole run in one does not."""
    job = route3d.load(MODELS / "yard_run.toml")
    split = advised(job)["split"]
    (edit,) = split.edits
    assert isinstance(edit, SplitInStages) and len(edit.stages) == 2
    assert not reaches(job, [])
    assert split.reaches and reaches(job, [edit])


def test_no_single_new_pull_point_on_a_grid_does_what_two_are_asked_for() -> None:
    """A run with four bends in a row: one new point is enough, or none on the grid is."""
    pieces = [Go(60), Turn(90, 1.2), Go(60), Turn(90, 1.2, "right"), Go(60), Turn(90, 1.2), Go(60)]
    route = along(vertices(pieces), conduit(friction=0.35))
    job = Job("four legs", "US", (run(route, cable(sidewall_limit=1100.0)),))
    remedy = advised(job)["pull point"]
    asked = sum(isinstance(e, NewPullPoint) for e in remedy.edits)
    assert remedy.reaches
    path = route_path(route)
    alone = []
    for station in np.arange(2.0, path.length - 2.0, 4.0):
        index = int(path.locate(np.array([station]))[0][0])
        if path.kind[index] != 0:
            continue
        x, y, z = path.point(float(station)).tolist()
        (tried,) = carried_out(job.runs[0], [NewPullPoint(int(path.leg[index]), (x, y, z), "new")])
        alone.append(_splits(job, tried, int(path.leg[index]) + 1))
    assert any(alone) is (asked == 1)


def _splits(job: Job, tried: Run, cut: int) -> bool:
    """Whether both parts reach the margin, pulled either way."""
    from route3d.geometry.fillet import sub_route

    task = Task(job, Aim(job.practice.margin))
    parts = [
        replace(tried, route=sub_route(tried.route, a, b))
        for a, b in ((0, cut), (cut, len(tried.route.vertices) - 1))
    ]
    found = judged(parts, task)
    return found is not None and found.reaches(task.aim)


def test_no_shorter_move_makes_room() -> None:
    """The riser's top bend has no room for its radius: half a foot of the riser is the least."""
    job = broken_job("no room")
    edits = advised(job)["move"].edits
    moves = [e for e in edits if isinstance(e, MovedPoint)]
    vertices_given = job.runs[0].route.vertices
    distance = max(np.linalg.norm(np.subtract(m.to, vertices_given[m.vertex].point)) for m in moves)
    step = 0.5 * FOOT
    assert distance == pytest.approx(round(distance / step) * step, abs=1e-3)
    radius = [e for e in edits if isinstance(e, BendRadius)]
    shorter = [0.25 * k * FOOT for k in range(1, round(distance / step) * 2 - 1)]
    for far, (axis, sign) in product(shorter, product(range(2), (1, -1))):
        moved = [
            MovedPoint(
                m.vertex,
                tuple(np.array(vertices_given[m.vertex].point) + sign * far * np.eye(3)[axis]),
            )
            for m in moves
        ]
        assert not reaches(job, [*radius, *moved])


def test_what_only_just_keeps_a_limit_does_not_reach_the_margin() -> None:
    job = one_bend(0.95)
    verdict = judged([job.runs[0]], Task(job, Aim(0.9)))
    assert verdict is not None and not verdict.stops
    assert verdict.utilization == pytest.approx(0.95)
    assert not verdict.reaches(Aim(0.9, 1.0)) and verdict.reaches(Aim(0.96, 1.0))
    assert not verdict.reaches(Aim(0.96, 1.5))
