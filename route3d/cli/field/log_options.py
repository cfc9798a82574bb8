"""What the commands share that read a log: their options, and the log read as asked."""

from __future__ import annotations

import sys
from enum import StrEnum
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from route3d.cli.common import Units, option, system_of
from route3d.errors import InputError, Problem, UnitError

if TYPE_CHECKING:
    from route3d.field.readings import PullLog
    from route3d.model.job import Job

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


def log_asked(
    log_file: Path,
    job: Job,
    *,
    run: str | None,
    feed: str | None,
    column: list[str] | None,
    decimal: Decimal | None,
    tare: str | None,
    sheet: str | None,
    units: Units | None,
    standard_input: bool = True,
) -> PullLog:
    """The log of a file as the options say; of standard input for "-", where that may be read."""
    from route3d.field.log.read import read_log

    return read_log(
        log_file,
        job,
        run=run,
        feed=feed,
        mapping=column or (),
        units=None if units is None else units.value,
        decimal=None if decimal is None else decimal.value,
        tare=force_of(tare, system_of(job, units), "--tare"),
        sheet=sheet,
        data=sys.stdin.buffer.read() if standard_input and str(log_file) == "-" else None,
    )


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
