"""The least radius that passes, solved again: it passes, and a little less does not."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

import route3d
from route3d.model.practice import Practice
from route3d.planning.remedies import bend_margins as module
from route3d.planning.remedies.bend_margins import bend_margins
from route3d.planning.remedies.edits import BendRadius, carried_out
from route3d.planning.result import RunResult, evaluate_run
from tests.support.jobs import along, cable, conduit, run
from tests.support.routes import Go, Turn, vertices

MODELS = Path(route3d.__file__).parents[1] / "models"
PRACTICE = Practice()


def answered(*pieces: Go | Turn, friction: float = 0.3, **more: float) -> RunResult:
    route = along(vertices(list(pieces)), conduit(friction=friction))
    return evaluate_run(run(route, cable(**more)), PRACTICE)


def passes(result: RunResult, vertex: int, radius: float) -> bool:
    (changed,) = carried_out(result.run, [BendRadius(vertex, radius)])
    return module.passes(changed, result.practice)


def test_the_least_radius_of_a_failing_bend() -> None:
    """The yard run on purpose breaks the limit at its first bend, fed from the berth."""
    job = route3d.load(MODELS / "yard_run.toml")
    result = evaluate_run(job.runs[0], job.practice)
    first, second, third = bend_margins(result)
    assert first.passing_radius is not None
    assert passes(result, 1, first.passing_radius)
    assert not passes(result, 1, first.passing_radius * 0.997)  # found to a thousandth
    # The second is loaded enough to ask for more than the rules; the last passes down to what cable
    # and conduit ask for.
    assert second.passing_radius is not None and second.passing_radius > 30 * 0.0254
    assert third.passing_radius == pytest.approx(30 * 0.0254)


def test_a_bend_that_passes_can_be_as_tight_as_its_pressure_allows() -> None:
    result = answered(Go(150), Turn(90, 2.0), Go(10), sidewall_limit=900.0, bend_multiple=3.0)
    (margin,) = bend_margins(result)
    assert result.decision.choice is not None and margin.passing_radius is not None
    assert 3 * 0.04 < margin.passing_radius < 2.0
    assert passes(result, 1, margin.passing_radius)
    assert not passes(result, 1, margin.passing_radius * 0.997)


def test_the_rules_are_a_floor() -> None:
    (margin,) = bend_margins(answered(Go(5), Turn(90, 2.0), Go(5), bend_multiple=20.0))
    assert margin.passing_radius == pytest.approx(20 * 0.04, rel=1e-12)


def test_no_radius_helps() -> None:
    result = answered(Go(900), Turn(90, 2.0), Go(900), sidewall_limit=30.0)
    (margin,) = bend_margins(result)
    assert result.decision.choice is None
    assert margin.passing_radius is not None and math.isnan(margin.passing_radius)


def test_room_and_the_largest_radius_that_fits() -> None:
    """A quarter bend takes its radius off both legs; 3 m are left on the shorter one."""
    (margin,) = bend_margins(answered(Go(5), Turn(90, 2.0), Go(3)))
    assert margin.room == pytest.approx(3, rel=1e-12)
    assert margin.largest_radius == pytest.approx(5, rel=1e-8)
    result = answered(Go(5), Turn(90, 2.0), Go(3))
    assert passes(result, 1, margin.largest_radius)
    assert not passes(result, 1, margin.largest_radius * 1.0001)


def test_a_long_run_is_solved_again_at_its_worst_bends_only() -> None:
    pieces = [
        Go(3),
        *(p for _ in range(20) for p in (Turn(20, 1), Go(3), Turn(20, 1, "right"), Go(3))),
    ]
    result = answered(*pieces, friction=0.1)
    margins = bend_margins(result, most=120)  # three solutions at 40 bends
    looked = [m.number for m in margins if m.passing_radius is not None]
    pull = result.best.pull
    peaks = pull.profile.sidewall[pull.worst_rows[result.path.kind == 1]]
    assert 0 < len(looked) <= 3
    assert set(looked) <= {int(i) + 1 for i in peaks.argsort()[-3:]}


@pytest.mark.parametrize("passes", [True, False])
def test_no_bend_is_tighter_than_half_the_bore(passes: bool) -> None:
    """The cable asks for 40 mm, but within 65 mm on the centerline a bore of 130 has no inner wall.

    So it is with a run that passes, and with one that another bend stops, judged by itself.
    """
    strong = {"bend_multiple": 1.0, "sidewall_limit": 1e6 if passes else 300.0}
    pieces = [Go(2), Turn(90, 1.0), Go(60), Turn(90, 0.9), Go(2)]
    result = answered(*pieces, friction=0.2, max_tension=1e6, **strong)
    assert (result.decision.choice is not None) is passes
    first = min(bend_margins(result), key=lambda m: m.passing_radius or math.inf)
    assert first.passing_radius is not None and 0.065 < first.passing_radius
    if passes:
        assert first.passing_radius == pytest.approx(0.065, rel=0.02)


@pytest.mark.parametrize(("room", "fits"), [(0.15, False), (0.25, True)])
def test_a_bend_without_room_for_the_radius_of_its_cable_has_none_that_passes(
    room: float, fits: bool
) -> None:
    """15 x 40 mm are 0.6 m; a quarter turn of 0.4 m grows by the straight left on a leg."""
    (margin,) = bend_margins(answered(Go(room), Turn(90, 0.4), Go(5), bend_multiple=15.0))
    assert margin.largest_radius == pytest.approx(0.4 + room)
    assert margin.passing_radius == pytest.approx(0.6 if fits else math.nan, nan_ok=True)
