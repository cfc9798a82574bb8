"""``route3d bends``: the bend schedule, and its remedies where it fails."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from route3d.cli.common import (
    JsonOption,
    ModelFile,
    PaperOption,
    RunOption,
    UnitsOption,
    exit_code,
    message,
    option,
    paper_size,
    read_job,
    refuse_suffix,
    save,
    show,
    system_of,
    write_json,
)
from route3d.errors import InputError, Problem, UnitError

if TYPE_CHECKING:
    from route3d.model.job import Job
    from route3d.report.bends import BendSheet

_STRIPS, _LABELS = "strip drawings", "labels"
# Sticks shorter or longer than these are a slip of the pen: 10 ft, 20 ft, 3 m and 6 m are made.
_STICKS = (0.9, 30.0)  # m


def bends(
    model: ModelFile,
    run: RunOption = None,
    stick: Annotated[
        str | None,
        option(
            "LENGTH", 'Length of a stick of conduit, such as "20 ft". Default: from the tables.'
        ),
    ] = None,
    csv: Annotated[Path | None, option("FILE.csv", "Write the schedule as CSV.")] = None,
    xlsx: Annotated[
        Path | None, option("FILE.xlsx", "Write all tables as a workbook, one sheet per run.")
    ] = None,
    strips: Annotated[
        Path | None,
        option("FILE.pdf|.svg", "Write strip drawings: each bent piece laid flat with its marks."),
    ] = None,
    labels: Annotated[
        Path | None, option("FILE.pdf|.svg", "Write a sheet of labels, one for every piece.")
    ] = None,
    paper: PaperOption = None,
    json: JsonOption = False,
    units: UnitsOption = None,
) -> None:
    """Bend schedule.

    For every bend: its label, station, turn (left, right, up, down), the headings before and after,
    roll, layout (angle, radius, set-back, arc length, gain), the minimum radius of cable and
    conduit, the minimum radius with which the run passes, the maximum radius that fits, the
    sidewall pressure when fed from the better end, and the reaction of the pull. For field bends
    the marks on the stick, offsets and saddles, dog-legs; between pull points the total bend,
    sticks, joints and supports; every piece with its label. If the run must not be pulled, remedies
    follow.

    Lengths are in feet, inches and sixteenths, or in millimeters.

    Exit code 1 if a bend exceeds a limit.

    Example: route3d bends models/riser_duct_bank.toml --xlsx bends.xlsx
    """
    from route3d.api import answered
    from route3d.report.bends import bend_sheets, bends_csv, bends_report

    refuse_suffix("--csv", csv, ".csv")
    refuse_suffix("--xlsx", xlsx, ".xlsx")
    refuse_suffix("--strips", strips, ".pdf", ".svg")
    refuse_suffix("--labels", labels, ".pdf", ".svg")
    job = read_job(model, run)
    system = system_of(job, units)
    result = answered(job)
    sheets = bend_sheets(result, _stick(stick, system))
    if csv is not None:
        save(csv, bends_csv(result, system, sheets))
    if xlsx is not None:
        from route3d.report.bends_xlsx import bends_xlsx

        save(xlsx, bends_xlsx(result, sheets, system))
    for file, made in ((strips, _STRIPS), (labels, _LABELS)):
        if file is not None:
            _draw(file, made, job, sheets, system, paper_size(paper, system))
    if json:
        from route3d.report.bends_json import bends_data

        write_json(bends_data(result, sheets))
    else:
        show(bends_report(result, system, sheets))
    raise exit_code(any(sheet.stops for sheet in sheets))


def _draw(
    file: Path,
    what: str,
    job: Job,
    sheets: Sequence[BendSheet],
    system: str,
    paper: str,
) -> None:
    """Write strips or labels: pages of a PDF, or FILE.svg, or FILE-1.svg and so on."""
    from route3d.report.bend_strips import label_sheets, sheet_svg, sheets_pdf, strip_sheets

    made = (strip_sheets if what == _STRIPS else label_sheets)(job, sheets, system, paper=paper)
    if not made:
        message(f"no {what} written: there are no bends")
        return
    if file.suffix.lower() == ".pdf":
        save(file, sheets_pdf(made, job.title))
        return
    for i, sheet in enumerate(made, 1):
        name = file.name if len(made) == 1 else f"{file.stem}-{i}{file.suffix}"
        save(file.with_name(name), sheet_svg(sheet))


def _stick(text: str | None, system: str) -> float | None:
    """The length of a stick that was asked for, m; InputError where it is none."""
    if text is None:
        return None
    from route3d.units import parse

    try:
        length = parse(_number(text), "length", system)
    except UnitError as error:
        raise InputError(Problem(str(error), where="--stick")) from None
    if not _STICKS[0] <= length <= _STICKS[1]:
        span = "3 ft to 98 ft" if system == "US" else "0.9 m to 30 m"
        raise InputError(
            Problem(
                f"{text!r} is not a stick length",
                where="--stick",
                fix=f"such as 10 ft or 3 m; allowed: {span}",
            )
        )
    return length


def _number(text: str) -> float | str:
    """A bare number as a number, which is in the units shown; else the text with its unit."""
    try:
        return float(text)
    except ValueError:
        return text
