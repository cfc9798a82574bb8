"""``route3d study options``: other ways to build or pull a job, solved and ranked."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from route3d.cli.common import (
    BAD_INPUT,
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
    whole_number,
    write_json,
)
from route3d.cli.study.picture_options import (
    PngOption,
    SvgOption,
    refuse_picture_suffixes,
    save_pictures,
)
from route3d.errors import InputError, Problem


def options(
    model: ModelFile,
    options_file: Annotated[
        Path | None,
        typer.Argument(
            metavar="FILE",
            help="Options file (.toml): options, costs, stretches without a vault.",
            show_default=False,
        ),
    ] = None,
    vaults: Annotated[
        int | None,
        option(
            "N",
            "Add options of 1 to N new vaults, placed by route3d; 10 at most.",
            parser=whole_number(1, 10),
        ),
    ] = None,
    not_between: Annotated[
        list[str] | None,
        option("'A to B'", "No new vault from A to B: stations or points. Repeatable."),
    ] = None,
    vault_length: Annotated[
        str | None,
        option("LENGTH", "Length of a new vault along the route. Default: that of FILE, or 1 m."),
    ] = None,
    combine: Annotated[
        bool, typer.Option("--combine", help="Solve combinations of the options too.")
    ] = False,
    by: Annotated[
        str, option("WHAT", "Rank by utilization, time, cost or setups. Default: utilization.")
    ] = "utilization",
    run: RunsOption = None,
    csv: Annotated[Path | None, option("FILE.csv", "Write the table as CSV.")] = None,
    xlsx: Annotated[Path | None, option("FILE.xlsx", "Write the table as a workbook.")] = None,
    svg: SvgOption = None,
    png: PngOption = None,
    json: JsonOption = False,
    units: UnitsOption = None,
) -> None:
    """Options of a job, ranked: conduit, bends, vaults, lubricant, machine, set of cables.

    Every option of FILE, and the job as modeled, is solved as check and plan solve it: utilization,
    friction margin, set-ups, crew time, cost by the costs in FILE, verdict. Those that pass come
    first. An asterisk marks the best trade-offs: what is better in one figure is worse in
    another. The places of new vaults are found so that the hardest part of the run
    takes as little of a limit as can be.

    No cost is assumed: without costs in FILE there are none in the table.

    Exit code 1 if no option of some run passes, 2 for bad input: an option that could not be read
    or solved too, while the others are solved all the same.

    Example: route3d study options models/yard_run.toml models/options/yard_run.toml --by cost
    """
    from route3d.api import options as studied
    from route3d.drawing.study_charts.options import options_picture
    from route3d.report.study_options import options_csv, options_data, options_xlsx

    refuse_suffix("--csv", csv, ".csv")
    refuse_suffix("--xlsx", xlsx, ".xlsx")
    refuse_picture_suffixes(svg, png)
    job = read_job(model, run)
    system = system_of(job, units)
    named = {
        "file": "FILE",
        "by": "--by",
        "vaults": "--vaults",
        "combine": "--combine",
        "vault_length": "--vault-length",
        "not_between": "--not-between",
    }
    with typed_as(**named), progress_bar("solving options") as step:
        found = studied(
            job,
            options_file,
            vaults=vaults,
            not_between=[_stretch(text) for text in not_between or ()],
            vault_length=vault_length,
            combine=combine,
            by=by,
            progress=step,
        )
    if csv is not None:
        save(csv, options_csv(found.job, found.answers, system))
    if xlsx is not None:
        save(xlsx, options_xlsx(found.job, found.answers, system))
    save_pictures(svg, png, lambda: options_picture(found.job, found.answers, system))
    if json:
        write_json(options_data(found.job, found.answers))
    else:
        show(found.report(system))
    if found.errors:
        raise typer.Exit(BAD_INPUT)
    raise exit_code(found.stops)


def _stretch(text: str) -> tuple[str, str]:
    """Both ends of a stretch typed as "A to B"."""
    start, *end = text.split(" to ")
    if len(end) != 1 or not start.strip() or not end[0].strip():
        fix = 'enter both ends, as "100 ft to vault V1"; or [[no_vault]] in the options file'
        raise InputError(Problem(f"{text!r} is no stretch", "--not-between", fix))
    return start.strip(), end[0].strip()
