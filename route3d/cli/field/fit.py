"""``route3d field fit``: friction, reel tension and tare found from logs of pulls."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from route3d.cli.common import (
    JsonOption,
    ModelFile,
    RunOption,
    UnitsOption,
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
    MapOption,
    SheetOption,
    TareOption,
    log_asked,
)
from route3d.errors import InputError, Problem


def fit(
    model: ModelFile,
    logs: Annotated[
        list[Path],
        typer.Argument(
            metavar="LOG...",
            help="Logs of pulls of this model: CSV, XLSX, the log of the page, or a filled-in "
            "form; - reads standard input.",
            show_default=False,
        ),
    ],
    run: RunOption = None,
    feed: FeedOption = None,
    column: MapOption = None,
    decimal: DecimalOption = None,
    tare: TareOption = None,
    sheet: SheetOption = None,
    profile: Annotated[
        list[str] | None,
        option(
            "NAME",
            'Profile likelihood of a conduit, "rope", "brake" or "tare". Repeatable.',
            flag="--profile",
        ),
    ] = None,
    svg: Annotated[Path | None, option("FILE.svg", "Draw readings, fit and plan as SVG.")] = None,
    json: JsonOption = False,
    units: UnitsOption = None,
) -> None:
    """Friction found from the readings of pulls.

    Fits the friction of each conduit, and of each lubricant if the logs name more than one, with
    the reel tension and the tare of each log, through the full pull model: rope, sheaves and gears
    included. Logs of one job share their friction. Intervals allow for readings that are correlated
    and rounded. What the logs cannot tell apart is reported and not answered.

    The model file is not changed.

    Example: route3d field fit models/riser_duct_bank.toml pull.csv
    """
    from route3d.field.fit import fit_logs
    from route3d.report.field_fit import fit_data, fit_report

    refuse_suffix("--svg", svg, ".svg")
    job = read_job(model)
    system = system_of(job, units)
    if len(set(map(str, logs))) < len(logs):
        said = "a log is given twice; its readings would count twice"
        raise InputError(Problem(said, where="LOG", fix="give every log once"))
    read = [
        log_asked(
            log,
            job,
            run=run,
            feed=feed,
            column=column,
            decimal=decimal,
            tare=tare,
            sheet=sheet,
            units=units,
        )
        for log in logs
    ]
    found = fit_logs(job, read)
    asked = [e for name in profile or () for e in found.named(name)]
    if json:
        write_json(fit_data(found, asked))
    else:
        show(fit_report(found, system, asked))
    if svg is not None:
        from route3d.drawing.field_fit import fit_svg

        save(svg, fit_svg(found, system))
