"""The quick lines of a job against those of its full answer and plan."""

from __future__ import annotations

from pathlib import Path

import pytest

from route3d.api import evaluate, lines, standing_meshes, summarized
from route3d.modelfile.read import loads
from route3d.planning.summary import plan_of, summarize
from tests.support.failing_jobs import random_job

MODELS = Path(__file__).parents[3] / "models"
TEXTS = [(MODELS / f"{name}.toml").read_text() for name in ("roof_drop", "riser_duct_bank")]
# Some pass, some are stopped by their checks, one by its plan alone.
TEXTS += [TEXTS[1].replace("bolt_tension = 3000", "bolt_tension = 100")]
# Friction that falls above a contact load, and decides.
FALLS = '{ value = 0.35, above = "60 lbf/ft", then = 0.15, test_report = "T-1" }'
TEXTS += [TEXTS[1].replace("friction   = 0.35", f"friction = {FALLS}")]
JOBS = [loads(text, folder=MODELS) for text in (*TEXTS, *map(random_job, (1, 16, 19, 23)))]


@pytest.mark.parametrize("job", JOBS)
def test_the_quick_lines_are_those_of_the_full_plan(job) -> None:  # type: ignore[no-untyped-def]
    answer, meshes = evaluate(job, with_remedies=False), standing_meshes(job)
    full = tuple(summarize(run, plan_of(run, answer, meshes)) for run in answer.runs)
    assert lines(job) == summarized(answer) == full


def test_the_jobs_above_are_of_every_kind() -> None:
    found = [(evaluate(job, with_remedies=False).stops, lines(job)[0].stops) for job in JOBS]
    assert {(False, False), (True, True), (False, True)} <= set(found)
