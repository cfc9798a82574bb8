"""``route3d tension``: both directions of every run."""

from __future__ import annotations

from dataclasses import replace
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from route3d.cli.common import (
    JsonOption,
    ModelFile,
    RunsOption,
    UnitsOption,
    detailed,
    exit_code,
    message,
    option,
    read_job,
    refuse_suffix,
    show,
    system_of,
    write_json,
)
from route3d.errors import InputError, Problem

if TYPE_CHECKING:
    from route3d.model.job import Job
    from route3d.planning.result import JobResult


class Method(StrEnum):
    """How bends are worked; ``both`` shows the two side by side."""

    EXACT = "exact"
    HANDBOOK = "handbook"
    BOTH = "both"


_BEND_FORM = {Method.EXACT: "full", Method.HANDBOOK: "capstan"}


def tension(
    model: ModelFile,
    run: RunsOption = None,
    method: Annotated[
        Method | None,
        option(
            None,
            "exact: friction, bend and weight together. handbook: bends multiply tension by "
            "e to the friction times the angle, as by hand. both: side by side. Default: as in "
            "the model file.",
            case_sensitive=False,
        ),
    ] = None,
    profile: Annotated[
        bool,
        typer.Option(
            "--profile",
            help="Also list tension and sidewall pressure at each straight and bend.",
        ),
    ] = False,
    every: Annotated[bool, typer.Option("--all", help="Show every run in full.")] = False,
    apply: Annotated[
        tuple[int, Path] | None,
        option(
            "N OUT",
            "Write the model with remedy N of the report to the file OUT (.toml), for the "
            "first run that does not pass, or the one named with --run.",
        ),
    ] = None,
    json: JsonOption = False,
    units: UnitsOption = None,
) -> None:
    """Tension and sidewall pressure from both ends, and which end to feed from.

    For every run: pulling tension, sidewall pressure, reel brake and machine load from both ends
    side by side, the utilization of each limit, which end to feed from and why. If the run must not
    be pulled, remedies follow, least effort first, each solved again. Sidewall pressure is how hard
    a cable is pressed against the wall of a bend, per length.

    With more than one run a summary table comes first, then the runs that must not be pulled.
    --run and --all show others.

    Exit code 1 if the pull exceeds a limit, or a building mesh is not judged.

    Example: route3d tension models/riser_duct_bank.toml --method both
    """
    if apply is not None:
        refuse_suffix("--apply", apply[1], ".toml")
    from route3d.api import summarized

    job = read_job(model, run)
    result, handbook = _solved(job, method)
    summary = summarized(result) if len(job.runs) > 1 else ()
    if apply is not None:
        _write_remedy(result, model, *apply)
    if json:
        from route3d.report.json_result import tension_data

        write_json(tension_data(result, handbook))
    else:
        from route3d.report.summary import summary_parts
        from route3d.report.tension import tension_report

        system, shown, beside = system_of(job, units), result, handbook
        names = detailed(summary, run, every)
        if summary:
            shown, beside = result.only(names), handbook and handbook.only(names)
        above = summary_parts(summary, system, names)
        show(tension_report(shown, system, handbook=beside, profile=profile, above=above))
    raise exit_code(result.stops or any(r.stops for r in summary))


def _solved(job: Job, method: Method | None) -> tuple[JobResult, JobResult | None]:
    from route3d.api import answered

    if method is None:
        return answered(job), None
    if method is not Method.BOTH:
        return answered(_worked_by(job, method)), None
    from route3d.planning.evaluate import evaluate

    handbook = evaluate(_worked_by(job, Method.HANDBOOK), with_remedies=False)
    return answered(_worked_by(job, Method.EXACT)), handbook


def _write_remedy(result: JobResult, model: Path, number: int, out: Path) -> None:
    """The model with one remedy carried out, as a file of its own; InputError where there is none.

    It is a remedy of the first run that check or plan stops.
    """
    from route3d.api import standing_meshes
    from route3d.modelfile.edits import write_edited
    from route3d.planning.evaluate import with_advice
    from route3d.units import render

    job, meshes = result.job, standing_meshes(result.job)
    runs = (r if r.advice is not None else with_advice(r, job, meshes) for r in result.runs)
    stopped = next((r for r in runs if r.advice), None)
    if stopped is None or stopped.advice is None:
        which = f"run {result.runs[0].run.name}" if len(result.runs) == 1 else "any run"
        said = f"no remedy to carry out: nothing stops {which}"
        raise InputError(Problem(said, "--apply", "leave it out", str(model)))
    name, remedies = stopped.run.name, stopped.advice.remedies
    if not 1 <= number <= len(remedies):
        numbers = f"choose one from 1 to {len(remedies)}" if remedies else "see the report"
        said = f"run {name} has no remedy {number}"
        raise InputError(Problem(said, "--apply", numbers, str(model)))
    chosen = remedies[number - 1]
    write_edited(model, out, job, name, chosen.edits, render(chosen.what, job.units))
    left = ", ".join(dict.fromkeys(f.rule for f in chosen.still_stops))
    still = f" (still stopped by: {left})" if left else ""
    message(
        f"wrote {out}: remedy {number} of run {name}{still}; check it with: route3d check {out}"
    )


def _worked_by(job: Job, method: Method) -> Job:
    return replace(job, practice=replace(job.practice, bend_form=_BEND_FORM[method]))
