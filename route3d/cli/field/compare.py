"""``route3d field compare``: a log against the plan, and what explains the difference."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

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
from route3d.cli.field.log_options import (
    DecimalOption,
    FeedOption,
    LogFile,
    MapOption,
    SheetOption,
    TareOption,
    log_asked,
)
from route3d.errors import InputError, Problem


def compare(
    model: ModelFile,
    log_file: LogFile,
    run: RunOption = None,
    feed: FeedOption = None,
    column: MapOption = None,
    decimal: DecimalOption = None,
    tare: TareOption = None,
    sheet: SheetOption = None,
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

    Exit code 1 if a reading is at or above Stop, counted or not, or if the plan itself must not be
    pulled.

    Example: route3d field compare models/riser_duct_bank.toml pull.csv --svg pull.svg
    """
    from route3d.drawing.field_compare import compare_png, compare_svg
    from route3d.field.compare import compare_log
    from route3d.field.log.pulled_run import pulled_run
    from route3d.report.field_compare import compare_data, compare_report

    refuse_suffix("--svg", svg, ".svg")
    refuse_suffix("--png", png, ".png")
    job = read_job(model)
    system = system_of(job, units)
    read = log_asked(
        log_file,
        job,
        run=run,
        feed=feed,
        column=column,
        decimal=decimal,
        tare=tare,
        sheet=sheet,
        units=units,
    )
    plan = pulled_run(job, read.run, read.feed).plan
    if plan is None:
        said = f"run {read.run!r} has no plan to compare with: it needs a rope and a machine"
        raise InputError(Problem(said, where=f"run {read.run}", fix="see: route3d plan"))
    found = compare_log(plan, job, read)
    if json:
        write_json(compare_data(job, found))
    else:
        show(compare_report(job, found, system))
    if svg is not None:
        save(svg, compare_svg(job, found, system))
    if png is not None:
        save(png, compare_png(job, found, system))
    raise exit_code(found.stops)
