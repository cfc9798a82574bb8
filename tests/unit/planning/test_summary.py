"""The line of a run is that of its whole plan, though mostly less of it is worked out."""

from __future__ import annotations

from pathlib import Path

import pytest

from route3d.errors import InputError
from route3d.model.job import Job
from route3d.modelfile.read import loads
from route3d.planning.evaluate import evaluate
from route3d.planning.pull_plan.plan import make_plan, passing_loads
from route3d.planning.summary import summaries, summarize
from tests.support.broken_jobs import BROKEN, broken_job
from tests.support.failing_jobs import random_job
from tests.support.many_jobs import feeder


def check_job(job: Job) -> tuple[int, int]:
    """How many of its runs pass, and of how many the whole plan was not needed."""
    result = evaluate(job, with_remedies=False)
    passed = quick = 0
    for run, line in zip(result.runs, summaries(result), strict=True):
        plan = make_plan(run, job, step=max(run.path.length / 8, 1.0))
        assert line == summarize(run, plan)
        passed += not line.stops
        quick += passing_loads(run, job) is not None
    return passed, quick


def random_jobs(first: int, last: int) -> list[Job]:
    """Jobs most of which something stops, and the same with a higher sidewall limit."""
    found = []
    for seed in range(first, last):
        text = random_job(seed)
        for one in (text, text.replace("sidewall_limit = ", "sidewall_limit = 9")):
            try:
                found.append(loads(one, "random.toml", Path()))
            except InputError:
                continue
    return found


def test_a_line_is_that_of_the_whole_plan() -> None:
    jobs = [*random_jobs(0, 5), *map(broken_job, BROKEN[:3]), *map(loads, map(feeder, (1, 60, 83)))]
    passed, quick = map(sum, zip(*map(check_job, jobs), strict=True))
    assert passed >= quick >= 3


@pytest.mark.many
def test_the_lines_of_hundreds_of_jobs_are_those_of_their_plans() -> None:
    jobs = [*random_jobs(0, 250), *map(broken_job, BROKEN)]
    passed, quick = map(sum, zip(*map(check_job, jobs), strict=True))
    assert passed >= quick >= 60
