"""Every remedy of random failing jobs is written into the model file, and checked and planned anew.

A sample of them in the suite; all, and three hundred more, with ``-m many``.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from route3d.errors import InputError
from route3d.model.job import Job
from route3d.modelfile.edits import edited_model
from route3d.modelfile.read import loads
from route3d.planning.evaluate import evaluate, with_advice
from route3d.planning.pull_plan.plan import make_plan
from route3d.planning.remedies.remedy import Advice, Remedy
from route3d.planning.result import RunResult
from tests.support.failing_jobs import random_job

HERE = Path("random.toml")


def stops_of(result: RunResult, job: Job) -> set[tuple[str, str]]:
    """Rule and place of every stop of ``check`` and ``plan``."""
    plan = make_plan(result, job, step=max(result.path.length / 8, 1.0))
    findings = (*result.findings, *plan.findings)
    return {(f.rule, f.where) for f in findings if f.severity == "stop"}


def advised(seed: int) -> tuple[str, Job, Advice] | None:
    """A random job with its advice; None where it is no job, or nothing stops it."""
    text = random_job(seed)
    try:
        job = loads(text, str(HERE), Path())
    except InputError:
        return None
    (result,) = evaluate(job, with_remedies=False).runs
    if not stops_of(result, job):
        return None
    advice = with_advice(result, job).advice
    assert advice is not None
    return text, job, advice


def check_remedy(remedy: Remedy, text: str, job: Job, advice: Advice) -> None:
    """Written, read again, checked and planned: exactly the stops it named, and its figures."""
    run = job.runs[0]
    written = edited_model(text, job, run.name, remedy.edits)
    again = loads(written, str(HERE), Path())
    assert "# as measured" in written  # comments are kept
    assert len(again.runs) == len(remedy.runs)
    results = evaluate(again, with_remedies=False).runs
    found = set[tuple[str, str]]().union(*(stops_of(r, again) for r in results))
    assert found == {(f.rule, f.where) for f in remedy.still_stops}
    share = max(r.best.utilization.peak for r in results)
    assert share == pytest.approx(remedy.utilization, rel=1e-6)
    if remedy.reaches:
        assert share <= advice.margin * (1 + 1e-9)
        for result in results:
            factor = result.best.margin.factor
            assert factor is not None and factor >= advice.friction_margin * (1 - 1e-9)


def check_job(seed: int) -> None:
    found = advised(seed)
    if found is None:
        pytest.skip("nothing stops it")
    text, job, advice = found
    assert advice
    keys = [r.cost.key for r in advice.remedies]
    if not advice.why_none:
        assert advice.remedies and keys == sorted(keys)
        assert all(r.reaches for r in advice.remedies)
    for remedy in advice.remedies:
        check_remedy(remedy, text, job, advice)


@pytest.mark.parametrize("seed", range(44))
def test_every_remedy_does_what_it_says(seed: int) -> None:
    check_job(seed)


def test_thirty_of_them_are_stopped() -> None:
    stopped = 0
    for seed in range(44):
        try:
            job = loads(random_job(seed), str(HERE), Path())
        except InputError:
            continue
        (result,) = evaluate(job, with_remedies=False).runs
        stopped += bool(stops_of(result, job))
    assert stopped >= 30


@pytest.mark.many
@pytest.mark.parametrize("seed", range(1000, 1400))
def test_every_remedy_of_three_hundred_jobs_does_what_it_says(seed: int) -> None:
    check_job(seed)
