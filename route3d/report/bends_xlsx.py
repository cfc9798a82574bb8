"""The bend schedule as a workbook: one sheet a run, numbers as numbers, ready to print."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

from route3d.formats.tables.workbook import put, saved
from route3d.model.examples import example_banner
from route3d.model.job import Job
from route3d.planning.result import JobResult
from route3d.report.bends import FIELD, LAYOUT, LIMITS, NUMBER, SECTIONS, BendSheet
from route3d.report.columns import filled
from route3d.report.columns_xlsx import SheetTables
from route3d.units import show

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

# The head of the bends stands here on every sheet, under the title and the run.
_HEAD = 3
# A sheet's name has at most 31 characters and none of these (the file format).
_BARRED = re.compile(r"[\[\]:*?/\\\x00-\x1f]")
_LONGEST = 31
_IN_HEADER = 4  # tables named in the header of a page, which holds 255 characters


def bends_xlsx(result: JobResult, sheets: Sequence[BendSheet], system: str) -> bytes:
    """The schedules of a job as an XLSX file; the same job gives the same bytes."""
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.worksheets[0])
    book.properties.title = result.job.title
    for name, sheet in zip(sheet_names([s.run.run.name for s in sheets]), sheets, strict=True):
        _write_sheet(book.create_sheet(name), result.job, sheet, system)
    return saved(book)


def sheet_names(runs: Sequence[str]) -> list[str]:
    """A name for each run that a workbook takes: short, plain, and no two alike."""
    names: list[str] = []
    for run in runs:
        plain = _BARRED.sub(" ", run).strip(" '") or "run"
        if plain.lower() == "history":  # the format keeps this one for itself
            plain = "run " + plain
        name, number = plain[:_LONGEST], 1
        while name.lower() in (n.lower() for n in names):
            number += 1
            end = f" ({number})"
            name = plain[: _LONGEST - len(end)] + end
        names.append(name)
    return names


def _write_sheet(page: Worksheet, job: Job, sheet: BendSheet, system: str) -> None:
    from openpyxl.styles import Font

    run, bold = sheet.run, Font(bold=True)
    put(page, 1, 1, job.title).font = bold
    if banner := example_banner(job.examples):
        put(page, 1, 1, f"{banner}. {job.title}").font = Font(bold=True, color="C00000")
        page.oddHeader.center.text = example_banner(job.examples, _IN_HEADER).replace("&", "&&")
    about = f"Run {run.run.name}: {show(run.path.length, 'length', system)} long, "
    about += f"{show(run.path.turn, 'angle', system)} of bends; sidewall pressure when feeding "
    put(page, 2, 1, about + f"from {run.best.pull.feed_name}")
    columns = (NUMBER, *LAYOUT, *LIMITS, *filled(sheet.rows, FIELD))
    tables = SheetTables(page, system)
    below = tables.write(_HEAD, sheet.rows, columns)
    put(page, below + 1, 1, "Between pull points").font = bold
    tables.write(below + 2, sheet.sections, SECTIONS)
    tables.set_out(_HEAD, frozen=f"C{_HEAD + 1}")
