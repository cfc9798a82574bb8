"""Options that few jobs ask for: steel elbows, the guide at the feed, legs that may lean."""

from __future__ import annotations

from dataclasses import replace

import pytest

from route3d.geometry.fillet import route_path
from route3d.model.conduit import stock_conduit
from route3d.model.job import Job
from route3d.model.rigging import Reel
from route3d.model.run import Run
from route3d.planning.remedies.aim import Aim, share_of
from route3d.planning.remedies.edits import (
    BendRadius,
    MovedPoint,
    NewPullPoint,
    OtherElbows,
    Tackle,
    carried_out,
)
from route3d.planning.remedies.field_work import field_options
from route3d.planning.remedies.judge import Task, verdict
from route3d.planning.remedies.option import FailingRun, Option
from route3d.planning.remedies.route_work import route_options
from route3d.planning.result import evaluate_run
from route3d.standards.conduits import conduit_size
from route3d.standards.friction import friction_range
from route3d.standards.rules import rule_set
from route3d.units import render
from tests.support.jobs import along, cable, conduit, run
from tests.support.routes import Go, Turn, vertices

PIECES = [Go(60), Turn(90, 1.2), Go(30), Turn(90, 1.2, "right"), Go(30)]


def state_of(wanted: Run, **practice: object) -> FailingRun:
    job = Job("options", "US", (wanted,))
    job = replace(job, practice=replace(job.practice, **practice))  # type: ignore[arg-type]
    task = Task(job, Aim(job.practice.margin))
    result = evaluate_run(wanted, job.practice)
    return FailingRun(wanted, verdict((result,), task), task, wanted)


def of_kind(state: FailingRun, kind: str) -> list[Option]:
    found = [*field_options(state), *route_options(state)]
    return [o for o in found if o is not None and o.kind == kind]


def test_steel_elbows_where_a_publication_gives_them_less_friction() -> None:
    """PVC jacket, lubricated: 0.35 in metal (median of the published figures), 0.5 as given."""
    size = conduit_size("PVC-40", "5")
    assert size.outer_diameter is not None
    duct = stock_conduit("duct", size, rule_set("NFPA 70"), outer=size.outer_diameter, friction=0.5)
    route = along(vertices(PIECES), duct)
    state = state_of(run(route, cable(jacket="PVC", sidewall_limit=1200.0)))
    (elbows,) = of_kind(state, "elbows")
    (edit,) = elbows.edits
    assert isinstance(edit, OtherElbows) and edit.vertices == (1, 2)
    published = friction_range("PVC", "RMC", True).typical
    assert edit.conduit.stock_type == "RMC" and edit.conduit.friction == pytest.approx(published)
    assert elbows.share < state.taken[0].share
    (made,) = elbows.runs
    path, given = route_path(made.route), route_path(route)
    assert path.length == pytest.approx(given.length, abs=1e-3)
    in_steel = [made.route.conduits[leg].name == "duct elbow" for leg in path.leg]
    arcs = [bool(kind == 1) for kind in path.kind]
    assert all(steel for steel, arc in zip(in_steel, arcs, strict=True) if arc)
    steel_length = sum(
        float(length) for length, steel in zip(path.lengths, in_steel, strict=True) if steel
    )
    arc_length = sum(float(x) for x, arc in zip(path.lengths, arcs, strict=True) if arc)
    assert arc_length < steel_length < arc_length + 0.5  # the straights stay as they are


def test_a_guide_that_turns_more_freely() -> None:
    """A guide of 60 % at the feed makes 2/3 more of what the reels take."""
    reel = Reel("berth", drag_force=1500.0, count=1, feed_turn=1.57, feed_efficiency=0.6)
    route = along(vertices([Go(20), Turn(90, 1.2), Go(20)]), conduit(friction=0.2))
    pressure = evaluate_run(run(route, cable(), reel=reel), Job("x", "US", ()).practice)
    limit = pressure.best.pull.peak_sidewall / 1.05
    state = state_of(run(route, cable(sidewall_limit=limit), reel=reel))
    (guide,) = of_kind(state, "feed guide")
    (edit,) = guide.edits
    assert isinstance(edit, Tackle) and edit.key == "feed_efficiency"
    assert 0.6 < edit.value <= 0.97 and guide.share <= 1.0
    (worse,) = carried_out(state.run, [replace(edit, value=edit.value - 0.01)])
    assert share_of(worse, state.practice, state.task.aim) > 1.0
    assert render(guide.what, "US").startswith("Use a cable feed guide with an efficiency of")


@pytest.mark.parametrize("may_lean", [False, True])
def test_a_level_leg_slopes_only_where_that_is_allowed(may_lean: bool) -> None:
    """Level legs: without leave every point moves in their plane."""
    route = along(vertices(PIECES), conduit(friction=0.35))
    pull = evaluate_run(run(route, cable()), Job("x", "US", ()).practice).best.pull
    limited = run(route, cable(sidewall_limit=pull.peak_sidewall / 1.0))
    state = state_of(limited, may_lean=may_lean)
    for moved in of_kind(state, "move"):
        for edit in moved.edits:
            assert isinstance(edit, MovedPoint)
            level = edit.to[2] == pytest.approx(route.vertices[edit.vertex].point[2], abs=1e-6)
            assert level or may_lean


def test_a_vertex_keeps_its_number_whatever_was_added_or_moved_before_it() -> None:
    state = state_of(run(along(vertices(PIECES), conduit()), cable()))
    (x, y, z), (_, after, *_rest) = state.run.route.vertices[2].point, state.run.route.vertices
    middle = tuple((a + b) / 2 for a, b in zip(after.point, (x, y, z), strict=True))
    edits = [
        MovedPoint(2, (x + 1.0, y, z)),
        BendRadius(2, 2.0),
        NewPullPoint(1, (middle[0], middle[1], middle[2]), "new pull point 1"),
    ]
    (changed,) = carried_out(state.run, edits)
    later = FailingRun(changed, state.verdict, state.task, state.given)
    assert [later.label(k) for k in range(5)] == [
        "A",
        "point 2",
        "new pull point 1",
        "point 3",
        "B",
    ]
    assert later.radius_given(3) == state.run.route.vertices[2].bend == 1.2
