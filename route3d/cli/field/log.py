"""``route3d field log``: a log of a pull as it is read, with every decision."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

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
    LogFile,
    MapOption,
    SheetOption,
    TareOption,
    log_asked,
)
from route3d.errors import InputError, Problem


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
    from route3d.report.field_log import log_csv, log_data, log_report

    refuse_suffix("--csv", csv, ".csv")
    if csv is not None and csv.exists() and log_file.exists() and csv.samefile(log_file):
        said = "is the log itself. Not overwritten"
        raise InputError(Problem(said, "--csv", "choose another name", str(csv)))
    job = read_job(model)
    system = system_of(job, units)
    found = log_asked(
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
    if csv is not None:
        save(csv, log_csv(found, job, system))
    if json:
        write_json(log_data(found, job))
    else:
        show(log_report(found, job, system))
