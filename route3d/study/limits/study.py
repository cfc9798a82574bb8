"""The limits of a job: every input of every run, one at a time, from each end."""

from __future__ import annotations

from collections.abc import Callable, Collection

from route3d.checks.falling_friction import decided_by
from route3d.checks.limits import Rated
from route3d.mechanics.pull import Peaks, with_fall
from route3d.model.job import Job
from route3d.model.run import Run
from route3d.planning.direction import Candidate
from route3d.planning.result import RunResult, evaluate_run
from route3d.study.limits.inputs import FRICTION, INPUTS, studied_inputs
from route3d.study.limits.outcome import (
    ByBoth,
    EndLimits,
    FarthestValue,
    FrictionLimits,
    Limits,
)
from route3d.study.limits.search import Judge, farthest_value
from route3d.study.limits.shares import limit_shares
from route3d.study.limits.stock import Shelf, with_choices

Progress = Callable[[int, int], None]


def job_limits(
    job: Job,
    kinds: Collection[str] = tuple(INPUTS.values()),
    progress: Progress | None = None,
) -> tuple[Limits, ...]:
    """The limits of every run; ``kinds`` are the inputs to look at, as in `FarthestValue`.

    ``progress`` is told after each value how many of how many are found.
    """
    shelf = Shelf.of(job)
    results = [_answer(run, job) for run in job.runs]
    whole = sum(
        1
        for result in results
        for reverse in (False, True)
        for _ in studied_inputs(result.run, job.practice, result.path, reverse, kinds)
    )
    done = 0

    def one_more() -> None:
        nonlocal done
        done += 1
        if progress is not None:
            progress(done, whole)

    return tuple(_run_limits(result, job, shelf, kinds, one_more) for result in results)


def _answer(run: Run, job: Job) -> RunResult:
    return evaluate_run(run, job.practice, allowances=job.allowances, stops_only=True)


def _run_limits(
    result: RunResult, job: Job, shelf: Shelf, kinds: Collection[str], one_more: Callable[[], None]
) -> Limits:
    first, second = (
        _end_limits(result, each, job, shelf, kinds, one_more) for each in result.candidates
    )
    planned = result.candidates.index(result.best)
    return Limits(result.run, (first, second), planned, result.stops)


def _end_limits(
    result: RunResult,
    planned: Candidate,
    job: Job,
    shelf: Shelf,
    kinds: Collection[str],
    one_more: Callable[[], None],
) -> EndLimits:
    run, pull = result.run, planned.pull
    judge = Judge(job.practice, job.allowances, pull.reverse)
    values: list[FarthestValue] = []
    for asked in studied_inputs(run, job.practice, result.path, pull.reverse, kinds):
        found = farthest_value(asked, judge)
        if asked.kind in ("machine", "rope"):
            found = with_choices(found, run, judge, shelf)
        values.append(found)
        one_more()
    return EndLimits(
        feed=pull.feed_name,
        pull=pull.pull_name,
        reverse=pull.reverse,
        values=tuple(values),
        stations=pull.profile.station,
        shares=limit_shares(pull),
        passes=judge.verdict(run).passes,
        barred=planned.barred,
        by_both=_by_both(run, planned, judge, kinds),
    )


def _by_both(run: Run, planned: Candidate, judge: Judge, kinds: Collection[str]) -> ByBoth | None:
    """Utilization and largest friction by constant friction and by pressure."""
    pull = planned.pull
    both = pull.by_both_frictions
    if both is None:
        return None
    rated = Rated.of(pull.run, pull.practice)

    def limits(peaks: Peaks, falls: bool) -> FrictionLimits:
        farthest = None
        if FRICTION in kinds:
            asked = studied_inputs(
                with_fall(run, falls), judge.practice, pull.path, pull.reverse, (FRICTION,)
            )
            farthest = farthest_value(next(asked), judge)
        return FrictionLimits(rated.utilization(peaks).peak, farthest)

    return ByBoth(limits(both.constant, False), limits(both.by_pressure, True), decided_by(pull))
