"""A way to split a run, timed like a whole plan: every stage by its own gears and stops."""

from __future__ import annotations

from dataclasses import replace

from route3d.geometry.route_path import sub_route
from route3d.mechanics.pull import solve_pull
from route3d.model.allowances import Allowances
from route3d.model.practice import Practice
from route3d.model.run import Run
from route3d.planning.clock import crew_time
from route3d.planning.gears import plan_gears
from route3d.planning.history import history
from route3d.planning.splits import SplitPlan, Stage
from route3d.planning.stops import planned_stops


def timed_plan(run: Run, practice: Practice, allowances: Allowances, way: SplitPlan) -> SplitPlan:
    """The same way with the time of each stage by its gear plan and its lubricant stops.

    Cable drawn through beyond the stage's own conduit, to be laid down and fed on, is timed at the
    speed of the last gear. A stage without rope or machine, or that no gear pulls, stays as it is.
    """
    stages = tuple(_timed(run, practice, allowances, stage) for stage in way.stages)
    more = sum(
        (new.time or 0.0) - (old.time or 0.0) for new, old in zip(stages, way.stages, strict=True)
    )
    return replace(way, stages=stages, time=way.time + more)


def _timed(run: Run, practice: Practice, allowances: Allowances, stage: Stage) -> Stage:
    first, last = sorted((stage.feed, stage.pull))
    part = replace(run, route=sub_route(run.route, first, last), reel_tension=stage.reel_tension)
    pull = solve_pull(part, practice, reverse=stage.feed > stage.pull)
    course = history(pull)
    if course is None or run.machine is None:
        return stage
    stops = planned_stops(pull, course, allowances)
    gears = plan_gears(course, run.machine, allowances, stops.places)
    if gears.overload is not None or not gears.spans:
        return stage
    spent = crew_time(gears, pull.path.length, allowances, len(stops.stops))
    final = gears.spans[-1].gear
    beyond = max(stage.cable_length - pull.path.length, 0.0)
    beyond_time = beyond / final.speed_at(float(course.load[-1]))
    return replace(stage, time=spent.total - spent.setup + beyond_time)
