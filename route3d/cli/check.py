"""``route3d check``: every finding against the limits."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from route3d.cli.common import (
    JsonOption,
    ModelFile,
    RunsOption,
    UnitsOption,
    detailed,
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
    run: RunsOption = None,
    passed: Annotated[
        bool, typer.Option("--all", help="List passed checks too, and every run.")
    ] = False,
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

    With more than one run a summary table comes first, then the runs that must not be pulled.
    --run and --all show others.

    Exit code 1 if there is a stop.

    Example: route3d check models/yard_run.toml --section duct.svg
    """
    from route3d.api import checked, summarized

    refuse_suffix("--section", section, ".svg")
    job = read_job(model, run)
    result = checked(job)
    summary = summarized(result) if len(job.runs) > 1 else ()
    system = system_of(job, units)
    if section is not None:
        from route3d.drawing.section import section_of, tightest

        save(section, section_of(tightest(result.runs), system, job.examples))
    if json:
        from route3d.report.json_result import check_data

        write_json(check_data(result, passed=passed))
    else:
        from route3d.report.findings import check_report
        from route3d.report.summary import summary_parts

        names = detailed(summary, run, passed)
        above = summary_parts(summary, system, names)
        shown = result.only(names) if summary else result
        show(check_report(shown, system, passed=passed, above=above))
    raise exit_code(result.stops or any(r.stops for r in summary))
