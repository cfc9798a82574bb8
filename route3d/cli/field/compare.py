"""``route3d field compare``: a log against the plan, and what explains the difference."""

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


def compare(
    model: ModelFile,
    log: Annotated[
        Path, typer.Argument(metavar="LOG", help="Log of the pull.", show_default=False)
    ],
    run: RunOption = None,
    feed: Annotated[
        str | None,
        option("END", "The cable was fed from the end of this name. Default: as the log says."),
    ] = None,
    columns: Annotated[
        list[str] | None,
        option(
            "NAME=COLUMN",
            'Column of the log, such as "load=Channel 2 [kN]". Repeatable.',
            flag="--map",
        ),
    ] = None,
    tare: Annotated[
        str | None,
        option("FORCE", "What the gauge reads without a load. Default: as the log shows."),
    ] = None,
    svg: Annotated[Path | None, option("FILE.svg", "Draw the chart as SVG.")] = None,
    png: Annotated[Path | None, option("FILE.png", "Draw the chart as a picture.")] = None,
    json: JsonOption = False,
    units: UnitsOption = None,
) -> None:
    """Readings of a pull against its plan.

    For every footage: the reading, what the plan expects, the band, Caution and Stop. Measured less
    expected by bend, conduit and straight. Where the readings depart from the plan, and what
    explains it, most likely first: friction of a conduit or bend, a snag, brake or reel, an offset
    of the gauge, pulsing, an event. Causes that the log cannot tell apart are listed together.

    Common practice, own method: docs, "Readings against the plan". It never replaces the limiter,
    the operator, or the word that stops the pull.

    Exit code 1 if a reading passed Stop, or if the plan itself must not be pulled.

    Example: route3d field compare models/riser_duct_bank.toml pull.csv --svg pull.svg
    """
    from route3d.drawing.field_compare import compare_png, compare_svg
    from route3d.field.compare import compare_log
    from route3d.field.log.pulled_run import pulled_run
    from route3d.field.log.read import read_log
    from route3d.report.field_compare import compare_data, compare_report
    from route3d.units import amount

    refuse_suffix("--svg", svg, ".svg")
    refuse_suffix("--png", png, ".png")
    job = read_job(model)
    known = None if tare is None else amount(tare, "force", "--tare")
    read = read_log(log, job, run=run, feed=feed, mapping=columns or (), tare=known)
    plan = pulled_run(job, read.run, read.feed).of_plan
    found = compare_log(plan, job, read)
    system = system_of(job, units)
    if json:
        write_json(compare_data(job, found))
    else:
        show(compare_report(job, found, system))
    if svg is not None:
        save(svg, compare_svg(job, found, system))
    if png is not None:
        save(png, compare_png(job, found, system))
    raise exit_code(found.stops)
