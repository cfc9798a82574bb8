"""``route3d study limits``: how far each input may go before a limit is reached."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from route3d.cli.common import (
    JsonOption,
    ModelFile,
    RunsOption,
    UnitsOption,
    exit_code,
    option,
    progress_bar,
    read_job,
    refuse_suffix,
    save,
    show,
    system_of,
    typed_as,
    write_json,
)
from route3d.cli.study.picture_options import (
    PngOption,
    SvgOption,
    refuse_picture_suffixes,
    save_pictures,
)


def limits(
    model: ModelFile,
    run: RunsOption = None,
    inputs: Annotated[
        list[str] | None,
        option(
            "NAME",
            "Only this input: friction, straight, radius, diameter, weight, machine or rope. "
            "Repeatable.",
            flag="--input",
        ),
    ] = None,
    csv: Annotated[Path | None, option("FILE.csv", "Write the table as CSV.")] = None,
    xlsx: Annotated[Path | None, option("FILE.xlsx", "Write the table as a workbook.")] = None,
    svg: SvgOption = None,
    png: PngOption = None,
    json: JsonOption = False,
    units: UnitsOption = None,
) -> None:
    """How far each input may go before a limit is reached, from each end.

    Largest friction, longest straight, smallest radius of each bend, largest cable, heaviest set,
    smallest machine and rope that still pass. One input is changed at a time, all others stay as
    planned. Every value is found by solving the run again with the checks of route3d check: it
    passes, and the next value beyond it does not. The limit reached first stands beside it.

    If a run must not be pulled as modeled, the table shows what one input alone would have to be.

    Exit code 1 if a run must not be pulled as modeled, 2 for bad input.

    Example: route3d study limits models/riser_duct_bank.toml
    """
    from route3d.drawing.study_charts.limits import limits_picture
    from route3d.report.study_limits import limits_csv, limits_data, limits_report, limits_xlsx
    from route3d.study.limits.inputs import kinds_named
    from route3d.study.limits.study import job_limits

    refuse_suffix("--csv", csv, ".csv")
    refuse_picture_suffixes(svg, png)
    refuse_suffix("--xlsx", xlsx, ".xlsx")
    with typed_as(inputs="--input"):
        kinds = kinds_named(inputs)
    job = read_job(model, run)
    system = system_of(job, units)
    with progress_bar("solving") as progress:
        found = job_limits(job, kinds, progress)
    if csv is not None:
        save(csv, limits_csv(job, found, system))
    if xlsx is not None:
        save(xlsx, limits_xlsx(job, found, system))
    save_pictures(svg, png, lambda: limits_picture(job, found, system))
    if json:
        write_json(limits_data(job, found))
    else:
        show(limits_report(job, found, system))
    raise exit_code(any(each.stops for each in found))
