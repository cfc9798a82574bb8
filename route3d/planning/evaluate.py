"""The story of a job: every run answered, and where something stops it, what would make it pass."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from route3d.model.job import Job
from route3d.planning.placement_site import SiteMesh
from route3d.planning.remedies.search import advise
from route3d.planning.result import JobResult, RunResult, evaluate_run


def evaluate(job: Job, *, with_remedies: bool = True, meshes: Sequence[SiteMesh] = ()) -> JobResult:
    """Answer every run of a job; ``with_remedies`` also looks for what would make it pass.

    ``meshes`` are the buildings a plan looks for room among.
    """
    results = (evaluate_run(run, job.practice, allowances=job.allowances) for run in job.runs)
    return JobResult(
        job, tuple(with_advice(r, job, meshes) if with_remedies else r for r in results)
    )


def with_advice(
    result: RunResult, job: Job, meshes: Sequence[SiteMesh] = (), *, planned: bool = False
) -> RunResult:
    """The answer with what would make the run pass; as it is where nothing stops it.

    ``planned`` says that the plan stops it, though the answer does not.
    """
    if not (result.stops or planned):
        return result
    return replace(result, advice=advise(result, job, meshes))
