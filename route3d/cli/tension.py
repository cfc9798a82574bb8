"""``route3d tension``: both directions of every run."""

from __future__ import annotations

from dataclasses import replace
from enum import StrEnum
from typing import TYPE_CHECKING, Annotated

import typer

from route3d.cli.common import (
    JsonOption,
    ModelFile,
    RunOption,
    UnitsOption,
    answered,
    exit_code,
    read_job,
    show,
    system_of,
    write,
)

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
    run: RunOption = None,
    method: Annotated[
        Method | None,
        typer.Option(
            case_sensitive=False,
            show_default=False,
            help="exact: friction, bend and weight together. handbook: bends multiply tension by "
            "e to the friction times the angle, as by hand. both: side by side. Left out: as the "
            "model file says.",
        ),
    ] = None,
    profile: Annotated[
        bool,
        typer.Option(
            "--profile",
            help="Also list tension and sidewall pressure straight by straight and bend by bend.",
        ),
    ] = False,
    json: JsonOption = False,
    units: UnitsOption = None,
) -> None:
    """How hard is the pull, which end feeds, and what governs?

    For every run: pulling tension, sidewall pressure, reel brake and machine load from both ends
    side by side, the share each takes of its limit, which end to feed from and why. Where something
    stops the run also what would make it pass, cheapest first, each solved again. Sidewall pressure
    is how hard a cable is pressed against the wall of a bend, per length.

    Exit code 1 where something stops the pull.

    Example: route3d tension models/riser_duct_bank.toml --method both
    """
    job = read_job(model, run)
    result, handbook = _solved(job, method)
    if json:
        from route3d.report.json_result import dumps, tension_data

        write(dumps(tension_data(result, handbook)))
    else:
        from route3d.report.tension import tension_report

        show(tension_report(result, system_of(job, units), handbook=handbook, profile=profile))
    raise exit_code(result.stops)


def _solved(job: Job, method: Method | None) -> tuple[JobResult, JobResult | None]:
    if method is None:
        return answered(job), None
    if method is not Method.BOTH:
        return answered(_worked_by(job, method)), None
    from route3d.planning.evaluate import evaluate

    handbook = evaluate(_worked_by(job, Method.HANDBOOK), with_remedies=False)
    return answered(_worked_by(job, Method.EXACT)), handbook


def _worked_by(job: Job, method: Method) -> Job:
    return replace(job, practice=replace(job.practice, bend_form=_BEND_FORM[method]))
