"""``route3d field log``: a log of a pull as it is read, with every decision."""

from __future__ import annotations

import sys
from enum import StrEnum
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
from route3d.errors import InputError, Problem, UnitError

LogFile = Annotated[
    Path,
    typer.Argument(
        metavar="LOG",
        help="Log of the pull: CSV, XLSX, the log of the page, or a filled-in form; - reads "
        "standard input.",
        show_default=False,
    ),
]
FeedOption = Annotated[
    str | None,
    option("END", "Feed end of the pull. Default: as in the log, else that of the plan."),
]
MapOption = Annotated[
    list[str] | None,
    option(
        "NAME=COLUMN",
        'Column of a value, such as "load=Channel 2 [kN]". Names: time, date, footage, speed, '
        "load, gear, brake, note. Repeatable.",
        flag="--map",
    ),
]
TareOption = Annotated[
    str | None,
    option("FORCE", 'Reading without a load, such as "20 lbf". Default: as read at rest.'),
]
SheetOption = Annotated[
    str | None, option("NAME", "Sheet of a workbook. Default: the first.", flag="--sheet")
]


class Decimal(StrEnum):
    """The decimal mark of the numbers of a log."""

    POINT = "point"
    COMMA = "comma"


DecimalOption = Annotated[
    Decimal | None,
    option(None, "Decimal mark, if the numbers do not show it.", case_sensitive=False),
]


def log(
    model: ModelFile,
    log_file: LogFile,
    run: RunOption = None,
    feed: FeedOption = None,
    column: MapOption = None,
    decimal: DecimalOption = None,
    tare: TareOption = None,
    sheet: SheetOption = None,
    csv: Annotated[
        Path | None,
        option("FILE.csv", "Write the clean record: every row, used or not, and why."),
    ] = None,
    json: JsonOption = False,
    units: UnitsOption = None,
) -> None:
    """Read a pull log and list flagged rows, with every decision.

    Reads a log of a load cell or recorder, the log of the page, or a form filled in by hand
    (route3d field form). Columns are found by their headers; --map names them where headers do not
    tell. --units also gives the units of numbers that have none.

    Readings that cannot be true are flagged, kept, and not used: at a standstill, on the first move
    from rest, in a gear whose gauge is not accurate, stuck, saturated, or with a cable in that does
    not fit. Clock jumps, a counter that was reset, rows out of order and the tare are decisions
    that are listed with their rows.

    Example: route3d field log models/riser_duct_bank.toml pull.csv --csv clean.csv
    """
    from route3d.field.log.read import read_log
    from route3d.report.field_log import log_csv, log_data, log_report

    refuse_suffix("--csv", csv, ".csv")
    if csv is not None and csv.exists() and log_file.exists() and csv.samefile(log_file):
        said = "is the log itself. Not overwritten"
        raise InputError(Problem(said, "--csv", "choose another name", str(csv)))
    job = read_job(model)
    system = system_of(job, units)
    found = read_log(
        log_file,
        job,
        run=run,
        feed=feed,
        mapping=column or (),
        units=None if units is None else units.value,
        decimal=None if decimal is None else decimal.value,
        tare=force_of(tare, system, "--tare"),
        sheet=sheet,
        data=sys.stdin.buffer.read() if str(log_file) == "-" else None,
    )
    if csv is not None:
        save(csv, log_csv(found, job, system))
    if json:
        write_json(log_data(found, job))
    else:
        show(log_report(found, job, system))


def force_of(text: str | None, system: str, where: str) -> float | None:
    """A force that was asked for, N; InputError where it is none."""
    if text is None:
        return None
    from route3d.units import parse

    try:
        number: float | str = float(text)
    except ValueError:
        number = text
    try:
        return parse(number, "force", system)
    except UnitError as error:
        raise InputError(Problem(str(error), where=where)) from None
