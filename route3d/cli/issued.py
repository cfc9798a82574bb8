"""``route3d issued``: whether an issued document is still that of the job."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from route3d.cli.common import (
    JsonOption,
    ModelFile,
    UnitsOption,
    exit_code,
    read_job,
    show,
    system_of,
    write_json,
)


def issued(
    file: Annotated[
        Path,
        typer.Argument(
            metavar="FILE.pdf",
            help="Report or crew's sheet, as route3d wrote it.",
            show_default=False,
        ),
    ],
    model: ModelFile,
    json: JsonOption = False,
    units: UnitsOption = None,
) -> None:
    """Check whether an issued report or sheet is current.

    Compares the figures in the PDF with the model file, and lists what changed: figure as issued,
    figure now. A change of comments or layout of the file is none.

    Exit code 1 if superseded, 2 if the PDF was changed or was not issued by route3d.

    Example: route3d issued F1-calculation.pdf models/riser_duct_bank.toml
    """
    from route3d.report.issue import read_issue
    from route3d.report.issued import issued_data, issued_report

    issue = read_issue(file)
    job = read_job(model)
    system = system_of(job, units)
    told = issued_data(issue, job, "SI" if json else system)
    if json:
        write_json(told)
    else:
        show(issued_report(file.name, told))
    raise exit_code(not told["current"])
