"""A whole pull plan for every stage of a way to split a run."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from route3d.errors import InputError, Problem
from route3d.model.allowances import Allowances
from route3d.model.job import Job
from route3d.model.run import Run
from route3d.planning.placement.site import SiteMesh
from route3d.planning.pull_plan.feeding import Draw
from route3d.planning.pull_plan.plan import Plan, StagePlace, make_plan
from route3d.planning.result import evaluate_run
from route3d.planning.splitting.timing import best_splits
from route3d.planning.splitting.ways import SplitPlan, SplitSearch, stage_run
from route3d.units import render


def way_plans(
    run: Run,
    job: Job,
    number: int,
    *,
    step: Callable[[float], float],
    meshes: Sequence[SiteMesh] = (),
) -> tuple[Plan, ...]:
    """The plans of the stages of way ``number`` (from 1), in the order of the work.

    ``step`` gives the distance of gauge rows for a length, m. A stage that must not be made stops
    them all. Raises InputError for a run without pull points, or a way that there is not.
    """
    search = _search(run, job, number)
    way = search.plans[number - 1]
    plans = []
    for i, stage in enumerate(way.stages):
        result = evaluate_run(stage_run(run, stage), job.practice)
        plans.append(
            make_plan(
                result,
                job,
                step=step(result.path.length),
                meshes=meshes,
                feed=len(result.run.route.vertices) - 1 if stage.reverse else 0,
                draw=stage_draw(way, i, job.allowances),
                place=StagePlace(run, way, number, len(search.plans), stage, i + 1),
            )
        )
    stopped = tuple(i for i, plan in enumerate(plans, 1) if plan.stops)
    return tuple(
        replace(plan, place=plan.place and replace(plan.place, stopped_by=stopped))
        for plan in plans
    )


def stage_draw(way: SplitPlan, index: int, allowances: Allowances) -> Draw:
    """What stage ``index`` (from 0) of a way draws out, and what it leaves at its feed.

    A length of cable that is fed back the other way later stays at the feed until then, its own
    pulling end included. Cable from figure eights goes on without an end: nothing is left of it.
    """
    stage = way.stages[index]
    if not stage.reel:
        return Draw(stage.laid, 0.0, off_reel=False)
    feeds_back = (
        later.cable_length + allowances.pull_slack
        for before, later in zip(way.stages[index:], way.stages[index + 1 :], strict=False)
        if later.cable == stage.cable and before.pull != later.feed
    )
    return Draw(stage.laid, next(feeds_back, allowances.feed_slack), off_reel=True)


def _search(run: Run, job: Job, number: int) -> SplitSearch:
    def wrong(said: str, fix: str) -> InputError:
        file = str(job.path) if job.path else ""
        return InputError(Problem(said, where="--way", fix=fix, file=file))

    if not run.route.pull_points:
        raise wrong(
            f"run {run.name!r} has no pull points: it cannot be split",
            'omit --way, or add access = ["reel", "machine"] to a point without a bend',
        )
    search = best_splits(run, job.practice, job.allowances)
    count = len(search.plans)
    if not count:
        raise wrong(
            f"no way to split run {run.name!r} was found", render(search.why_none, job.units)
        )
    if not 1 <= number <= count:
        ways = "1 way" if count == 1 else f"{count} ways"
        raise wrong(
            f"{number}: no such way; {ways} found to split run {run.name!r}",
            "type 1" if count == 1 else f"enter a number from 1 to {count}",
        )
    return search
