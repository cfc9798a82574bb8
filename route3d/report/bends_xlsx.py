"""The bend schedule as a workbook: one sheet a run, numbers as numbers, ready to print."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

from route3d.formats.tables.workbook import put, saved
from route3d.model.examples import example_banner
from route3d.model.job import Job
from route3d.planning.result import JobResult
from route3d.quantities import QUANTITIES
from route3d.report.bends import FIELD, LAYOUT, LIMITS, NUMBER, SECTIONS, BendSheet
from route3d.report.columns import Column, Row, filled
from route3d.units import show

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

# The head of the bends stands here on every sheet, under the title and the run.
_HEAD = 3
_WIDEST = 30
_COLORS = {"stop": "C00000", "caution": "9C5700"}
_PAPER = {"US": 1, "SI": 9}  # letter and A4, by the numbers of the file format
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
    from openpyxl.utils import get_column_letter

    run, bold = sheet.run, Font(bold=True)
    put(page, 1, 1, job.title).font = bold
    if banner := example_banner(job.examples):
        put(page, 1, 1, f"{banner}. {job.title}").font = Font(bold=True, color=_COLORS["stop"])
        page.oddHeader.center.text = example_banner(job.examples, _IN_HEADER).replace("&", "&&")
    about = f"Run {run.run.name}: {show(run.path.length, 'length', system)} long, "
    about += f"{show(run.path.turn, 'angle', system)} of bends; sidewall pressure when feeding "
    put(page, 2, 1, about + f"from {run.best.pull.feed_name}")
    columns = (NUMBER, *LAYOUT, *LIMITS, *filled(sheet.rows, FIELD))
    tables = _BendTables(page, system)
    below = tables.write(_HEAD, sheet.rows, columns)
    put(page, below + 1, 1, "Between pull points").font = bold
    tables.write(below + 2, sheet.sections, SECTIONS)
    for column, width in enumerate(tables.widths, 1):
        page.column_dimensions[get_column_letter(column)].width = width
    page.freeze_panes = f"C{_HEAD + 1}"
    page.print_title_rows = f"{_HEAD}:{_HEAD}"
    page.page_setup.orientation = "landscape"
    page.page_setup.paperSize = _PAPER[system]
    page.sheet_properties.pageSetUpPr.fitToPage = True
    page.page_setup.fitToHeight = 0  # as many pages as it takes, each as wide as the table
    page.oddFooter.left.text, page.oddFooter.center.text = "&F", "&A"
    page.oddFooter.right.text = "Page &P of &N"


class _BendTables:
    """The tables of one sheet and the widths its columns have come to need."""

    def __init__(self, page: Worksheet, system: str) -> None:
        self.page, self.system = page, system
        self.widths: list[float] = []

    def write(self, top: int, rows: Sequence[Row], columns: Sequence[Column[Row]]) -> int:
        """Write a table and return the first row below it."""
        from openpyxl.styles import Alignment, Border, Font, Side

        look = (
            Font(bold=True),
            Alignment(wrap_text=True, vertical="top"),
            Border(bottom=Side("thin")),
        )
        for k, column in enumerate(columns, 1):
            text = column.head(self.system)
            head = put(self.page, top, k, text)
            head.font, head.alignment, head.border = look
            self._widen(k, max(map(len, text.split())) + 1)
            for i, row in enumerate(rows, top + 1):
                self._cell(i, k, column, row)
        return top + 1 + len(rows)

    def _cell(self, i: int, k: int, column: Column[Row], row: Row) -> None:
        from openpyxl.styles import Font

        value = column.number(row, self.system)
        if value is None:
            return
        cell = put(self.page, i, k, value)
        if isinstance(value, str):
            word = value.partition(":")[0]
            if word in _COLORS:
                cell.font = Font(bold=word == "stop", color=_COLORS[word])
            self._widen(k, len(value) + 1)
        else:  # with the decimals this quantity is printed with
            places = QUANTITIES[column.quantity or "count"].decimals[self.system]
            cell.number_format = "#,##0" + ("." + "0" * places if places else "")

    def _widen(self, k: int, width: float) -> None:
        self.widths += [8.0] * (k - len(self.widths))
        self.widths[k - 1] = min(max(self.widths[k - 1], width), _WIDEST)
