"""``route3d bends``: the bend schedule."""

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
    read_job,
    refuse_suffix,
    show,
    system_of,
    told,
    write,
)


def bends(
    model: ModelFile,
    run: RunOption = None,
    csv: Annotated[
        Path | None,
        typer.Option(
            "--csv", metavar="FILE.csv", show_default=False, help="Write the schedule as CSV."
        ),
    ] = None,
    json: JsonOption = False,
    units: UnitsOption = None,
) -> None:
    """Which bends are there to make, and do they pass?

    The bend schedule of every run: where each bend starts, angle, radius and plane, the figures
    it is laid out by (set-back, arc length, gain), the least radius that cable and conduit allow,
    and the sidewall pressure in it when pulled the better way.

    Exit code 1 where the bend breaks a limit.

    Example: route3d bends models/riser_duct_bank.toml --csv bends.csv
    """
    from route3d.planning import evaluate
    from route3d.report.bends import bend_lines, bends_csv, bends_report, breaks_degrees

    refuse_suffix("--csv", csv, ".csv")
    job = read_job(model, run)
    result = evaluate(job, with_changes=False)
    system = system_of(job, units)
    if csv is not None:
        from route3d.files.writing import write_text_atomic

        write_text_atomic(csv, bends_csv(result, system))
        told(f"wrote {csv}")
    if json:
        from route3d.report.json_result import bends_data, dumps

        write(dumps(bends_data(result)))
    else:
        show(bends_report(result, system))
    broken = any(line.verdict.startswith("stop") for r in result.runs for line in bend_lines(r))
    raise exit_code(broken or any(breaks_degrees(r) for r in result.runs))
