"""The story of a job: every run answered, and where something stops it, what would make it pass."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from route3d.model.job import Job
from route3d.planning.result import JobResult, RunResult, evaluate_run

if TYPE_CHECKING:
    from route3d.planning.placement.site import SiteMesh


def evaluate(
    job: Job,
    *,
    with_remedies: bool = True,
    meshes: Sequence[SiteMesh] = (),
    stops_only: bool = False,
) -> JobResult:
    """Answer every run of a job; ``with_remedies`` also looks for what would make it pass.

    ``meshes`` are the buildings a plan looks for room among. ``stops_only`` leaves out of the
    findings what can never stop a pull.
    """
    answers = (
        evaluate_run(
            run,
            job.practice,
            allowances=job.allowances,
            stops_only=stops_only,
            examples=job.examples,
            in_workbook=job.in_workbook,
        )
        for run in job.runs
    )
    result = JobResult(job, tuple(answers))
    return advised(result, meshes) if with_remedies else result


def advised(result: JobResult, meshes: Sequence[SiteMesh] = ()) -> JobResult:
    """The answers with what would make each run pass that something stops."""
    runs = (with_advice(r, result.job, meshes) if r.stops else r for r in result.runs)
    return replace(result, runs=tuple(runs))


def with_advice(result: RunResult, job: Job, meshes: Sequence[SiteMesh] = ()) -> RunResult:
    """One answer with what would make the run pass; empty where neither check nor plan stops it."""
    from route3d.planning.remedies.search import advise  # with all of planning, mostly not needed

    return replace(result, advice=advise(result, job, meshes))
