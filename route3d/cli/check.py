"""``route3d check``: every finding against the limits."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from route3d.cli.common import (
    JsonOption,
    ModelFile,
    RunOption,
    UnitsOption,
    exit_code,
    option,
    read_job,
    refuse_suffix,
    save,
    show,
    system_of,
    write_json,
)


def check(
    model: ModelFile,
    run: RunOption = None,
    passed: Annotated[bool, typer.Option("--all", help="List passed checks too.")] = False,
    section: Annotated[
        Path | None,
        option(
            "FILE.svg",
            "Draw the cables in the fullest conduit to scale, of all runs or of the one "
            "named with --run.",
        ),
    ] = None,
    json: JsonOption = False,
    units: UnitsOption = None,
) -> None:
    """Check a job against its limits.

    Fill, jamming, clearance, bend radii, degrees between pull points, risers, pull boxes, how the
    bends are made, and the loads of the pull. The worst finding comes first, each with the measured
    value, its limit, the fix and the source of the limit. "stop" must be fixed, "caution" needs
    care, "note" is for information. If the run must not be pulled, remedies follow.

    Exit code 1 if there is a stop.

    Example: route3d check models/yard_run.toml --section duct.svg
    """
    from route3d.api import answered

    refuse_suffix("--section", section, ".svg")
    job = read_job(model, run)
    result = answered(job)
    system = system_of(job, units)
    if section is not None:
        from route3d.drawing.section import section_of, tightest

        save(section, section_of(tightest(result.runs), system, job.examples))
    if json:
        from route3d.report.json_result import check_data

        write_json(check_data(result, passed=passed))
    else:
        from route3d.report.findings import check_report

        show(check_report(result, system, passed=passed))
    raise exit_code(result.stops)
