"""A pull that must not be made: no surface gives what a crew acts on, all say what is wrong."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from io import BytesIO, StringIO
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader
from rich.console import Console

from route3d.mechanics.pull import with_friction
from route3d.model import Job
from route3d.modelfile.read import load
from route3d.planning.evaluate import evaluate
from route3d.planning.pull_plan.plan import Plan, make_plan
from route3d.planning.pull_plan.progress import gear_name
from route3d.report.plan import plan_report
from route3d.report.plan_blocks import ACCIDENTS, GAUGE
from route3d.report.plan_json import plan_data
from route3d.report.plan_steps import NO_STEPS, steps
from route3d.report.sheet import phone_page, sheet_data, sheet_pdf
from route3d.units import show

MODELS = Path(__file__).parents[3] / "models"


def by_checks() -> Job:
    """Sidewall pressure beyond its limit in either direction."""
    return load(MODELS / "yard_run.toml")


def by_plan() -> Job:
    """The checks of the run pass; a swivel of 1,000 N is only in the plan's load path."""
    job = load(MODELS / "riser_duct_bank.toml")
    run = job.runs[0]
    assert run.machine is not None
    weak = replace(run.machine, boom_rating=1000.0)
    return replace(job, runs=(replace(run, machine=weak),))


@pytest.fixture(params=[by_checks, by_plan], scope="module")
def stopped(request: pytest.FixtureRequest) -> tuple[Job, Plan]:
    job = request.param()
    (result,) = evaluate(job).runs
    plan = make_plan(result, job, step=15.0)
    assert plan.stops and plan.reasons and plan.gauge and plan.accidents
    return job, plan


def texts(job: Job, plan: Plan) -> Iterator[str]:
    """The plan as the terminal, the PDF and the page for a phone give it."""
    console = Console(width=400, record=True, file=StringIO())
    console.print(plan_report(job, [plan], "US"))
    yield console.export_text()
    pdf = PdfReader(BytesIO(sheet_pdf(job, [plan], "US")))
    yield " ".join(page.extract_text() for page in pdf.pages)
    yield re.sub("<[^>]*>", " ", phone_page(job, [plan], "US"))


def test_no_surface_in_words_gives_gears_gauge_place_or_steps(stopped: tuple[Job, Plan]) -> None:
    job, plan = stopped
    kept = {
        show(plan.peak, "force", "US"),
        show(float(plan.pace.history.load.max()), "force", "US"),
    }
    kept |= {show(x.load, "force", "US") for x in plan.links if x.quantity == "force"}
    kept |= {show(plan.pull.reel_tension, "force", "US")}
    # What is wrong is said with its figure, a reading above its stop too.
    kept |= {show(f.demand, "force", "US") for f in plan.reasons if f.quantity == "force"}
    readings = {show(row.expected, "force", "US") for row in plan.gauge} - kept
    stops = {show(row.stop, "force", "US") for row in plan.gauge}
    stops -= {show(x.rating or 0.0, "force", "US") for x in plan.links} | kept
    names = {f" in {gear_name(gear, plan.machine)}" for gear in plan.machine.gears}
    for text in texts(job, plan):
        flat = re.sub(r"\s+", " ", text)
        for title in (GAUGE, ACCIDENTS, "Gears and time", "Center of machine base", "Crew time"):
            assert title not in flat
        for step in (
            "Take up the slack",
            "HOLD Lock out and tag",
            "Lubricate:",
            "do not restart; call",
        ):
            assert step not in flat
        assert not [r for r in readings if f" {r} " in flat]
        assert not [n for n in names if n in flat]
        assert "STOP. Do not pull" in flat and NO_STEPS in flat
        assert "Remedies, " in flat or "What helps" in flat


def test_no_steps_and_no_sketch_of_the_place(stopped: tuple[Job, Plan]) -> None:
    job, plan = stopped
    assert steps(plan, "US") == () and sheet_data(job, plan, "US")["stand"] == ""


def test_json_marks_it_and_leaves_out_what_a_crew_would_act_on(stopped: tuple[Job, Plan]) -> None:
    job, plan = stopped
    (run,) = plan_data(job, [plan])["runs"]
    assert next(iter(run)) == "must_not_be_pulled" and run["must_not_be_pulled"] is True
    assert [r["rule"] for r in run["reasons"]] == [f.rule for f in plan.reasons]
    for name in ("place", "gears", "crew_time_s", "safe_to_stop_m"):
        assert run[name] is None
    for name in ("gauge", "accidental_stops", "planned_stops", "hanging_at_stops", "steps"):
        assert run[name] == []
    assert run["peak_N"] == plan.peak and run["load_path"]


def test_a_pull_that_may_be_made_has_all_of_it() -> None:
    job = load(MODELS / "riser_duct_bank.toml")
    (result,) = evaluate(job).runs
    plan = make_plan(result, job, step=15.0)
    run: dict[str, Any] = plan_data(job, [plan])["runs"][0]
    assert not run["must_not_be_pulled"] and run["reasons"] == []
    assert all(run[name] for name in ("place", "gears", "gauge", "accidental_stops", "steps"))
    for text in texts(job, plan):
        assert GAUGE in text and ACCIDENTS in text


def test_a_peak_counts_the_first_moves(stopped: tuple[Job, Plan]) -> None:
    _, plan = stopped
    starts = [0.0, *plan.pace.stops.places, *(c.pulled for c in plan.pace.gears.changes)]
    moves = [plan.pace.moves.load_at(at) for at in starts]
    assert plan.peak == pytest.approx(max(*moves, float(plan.pace.history.load.max())))


@pytest.mark.parametrize("friction", [0.5, 1.0, 2.0, 4.0])
@pytest.mark.parametrize("name", ["riser_duct_bank", "yard_run", "roof_drop"])
def test_a_reading_above_its_stop_is_on_no_surface(name: str, friction: float) -> None:
    """Such a plan must not be made, so no table has a row of it: 'stop' is never below 'expected'.

    The gauge's own check says so of every row, and the plan stops by any stop.
    """
    job = load(MODELS / f"{name}.toml")
    run = replace(with_friction(job.runs[0], friction), rope=job.runs[0].rope)
    (result,) = evaluate(replace(job, runs=(run,)), with_remedies=False).runs
    for candidate in result.candidates:
        plan = make_plan(result, job, step=15.0, feed=candidate.pull.feed)
        exceeded = [row for row in plan.gauge if row.exceeded]
        assert plan.stops or not exceeded
