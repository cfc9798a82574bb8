"""Reactions of bends against statics by hand, and the march from Stop against the march to it."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

import route3d
from route3d.checks.limits import conductor_limit
from route3d.geometry.fillet import route_schedule
from route3d.model import Practice
from route3d.planning.evaluate import evaluate
from route3d.planning.reactions import bend_reactions, stop_tensions, tensions_at
from route3d.planning.result import RunResult, evaluate_run
from tests.support.jobs import along, cable, conduit, run
from tests.support.routes import Go, Turn, vertices

MODELS = Path(route3d.__file__).parents[1] / "models"


def test_two_tensions_at_a_level_right_angle() -> None:
    """Without friction and weight to speak of the tension is that of the reel everywhere: 1000 N.

    The bend from +x to +y has its inside at northwest; 2 T sin 45° = 1414.2 N, and at 60° 1000 N.
    """
    for degrees, force in ((90, 1000 * math.sqrt(2)), (60, 1000.0)):
        shape = vertices([Go(5), Turn(degrees, 1.0), Go(5)])
        light = cable(weight=1e-9)
        one = run(along(shape, conduit(friction=1e-9)), light, reel_tension=1000.0)
        result = evaluate_run(one, Practice())
        (found,) = bend_reactions(result, route_schedule(result.run.route, result.path))
        assert found.force == pytest.approx(force, rel=1e-6)
        away = math.radians(90 + degrees / 2)  # from east, counterclockwise
        assert found.way == pytest.approx([math.cos(away), math.sin(away), 0], abs=1e-12)
        assert (found.of_rope, found.stop_force) == (False, None)


def test_the_larger_direction_and_the_capstan() -> None:
    """20 N/m at μ 0.3 over 40 m is 240 N; a level bend of 90° gives e^(0.3 π/2) = 1.602 at least.

    Fed from the far end only 6 N come before the bend: the larger direction is told.
    """
    shape = vertices([Go(40), Turn(90, 1.0), Go(1)])
    result = evaluate_run(run(along(shape, conduit()), cable(weight=20.0)), Practice())
    (found,) = bend_reactions(result, route_schedule(result.run.route, result.path))
    assert found.feed == "A"
    assert 240 * math.exp(0.3 * math.pi / 2) < found.tension < 1.01 * 241 * 1.602 + 2
    assert found.force == pytest.approx(math.sqrt(2) * found.tension)


@pytest.fixture(scope="module")
def riser() -> tuple[RunResult, route3d.Job]:
    job = route3d.load(MODELS / "riser_duct_bank.toml")
    return evaluate(job, with_remedies=False).runs[0], job


def test_a_reading_carried_back_is_what_the_pull_had_in_its_bends(
    riser: tuple[RunResult, route3d.Job],
) -> None:
    """The expected readings themselves, at each head: cable behind it, rope before it."""
    result, _ = riser
    pull = result.best.planned
    assert pull.rope_phase is not None
    bends = route_schedule(result.run.route, result.path)
    found = tensions_at(pull, pull.rope_phase.heads, pull.rope_phase.loads)
    rope = {b.vertex: b.tension for b in pull.rope_phase.in_bends()}
    for bend in bends:
        cable_in = pull.profile.tension[pull.profile.segment == bend.segment].max()
        assert found[bend.vertex] == pytest.approx(
            max(cable_in, rope.get(bend.vertex, 0)), rel=1e-6
        )


def test_at_stop_a_bend_has_more_than_planned_and_less_than_what_breaks_it(
    riser: tuple[RunResult, route3d.Job],
) -> None:
    result, job = riser
    bends = route_schedule(result.run.route, result.path)
    stop = stop_tensions(result, bends, job)
    assert stop is not None
    pull = result.best.planned
    planned = [pull.profile.tension[pull.profile.segment == b.segment].max() for b in bends]
    assert np.all(stop > planned)
    run = pull.run
    assert run.rope is not None
    weakest = max(conductor_limit(run, job.practice).value, run.rope.rated_load)
    assert np.all(stop <= weakest * (1 + 1e-9))
    forces = bend_reactions(result, bends, job)
    assert [f.stop_force for f in forces] == pytest.approx(
        [2 * t * math.sin(b.angle / 2) for t, b in zip(stop, bends, strict=True)]
    )


def test_no_stop_for_a_pull_that_must_not_be_made() -> None:
    job = route3d.load(MODELS / "yard_run.toml")
    result = evaluate(job, with_remedies=False).runs[0]
    assert stop_tensions(result, route_schedule(result.run.route, result.path), job) is None
