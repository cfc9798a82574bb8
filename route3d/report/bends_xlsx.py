"""The bend schedule as a workbook: one sheet a run, numbers as numbers, ready to print."""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING, Any

from route3d.planning.result import JobResult
from route3d.quantities import QUANTITIES
from route3d.report.bends import FIELD, LAYOUT, LIMITS, NUMBER, SECTIONS, BendSheet
from route3d.report.columns import Column, Row, filled
from route3d.units import show

if TYPE_CHECKING:
    from xlsxwriter.workbook import Workbook
    from xlsxwriter.worksheet import Worksheet

# The head of the bends stands here on every sheet, under the title and the run.
_HEAD = 2
_WIDEST = 30
_COLOURS = {"stop": "#C00000", "caution": "#9C5700"}
_PAPER = {"US": 1, "SI": 9}  # letter and A4, by the numbers of the file format
# A sheet's name has at most 31 characters and none of these (the file format).
_BARRED = re.compile(r"[\[\]:*?/\\\x00-\x1f]")
_LONGEST = 31


def bends_xlsx(result: JobResult, sheets: Sequence[BendSheet], system: str) -> bytes:
    """The schedules of a job as an XLSX file; the same job gives the same bytes."""
    import xlsxwriter

    held = io.BytesIO()
    book = xlsxwriter.Workbook(held, {"in_memory": True, "nan_inf_to_errors": False})
    book.set_properties({"title": result.job.title, "created": datetime(2000, 1, 1)})
    for name, sheet in zip(sheet_names([s.run.run.name for s in sheets]), sheets, strict=True):
        _write_sheet(book, book.add_worksheet(name), result.job.title, sheet, system)
    book.close()
    return held.getvalue()


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


def _write_sheet(
    book: Workbook, page: Worksheet, title: str, sheet: BendSheet, system: str
) -> None:
    run = sheet.run
    bold = book.add_format({"bold": True})
    page.write_string(0, 0, title, bold)
    about = f"Run {run.run.name}: {show(run.path.length, 'length', system)} long, "
    about += f"{show(run.path.turn, 'angle', system)} of bends; sidewall pressure when feeding "
    page.write_string(1, 0, about + f"from {run.best.pull.feed_name}")
    columns = (NUMBER, *LAYOUT, *LIMITS, *filled(sheet.rows, FIELD))
    formats = _Formats(book, system)
    below = formats.write(page, _HEAD, sheet.rows, columns)
    page.write_string(below + 1, 0, "Between pull points", bold)
    formats.write(page, below + 2, sheet.sections, SECTIONS)
    for column, width in enumerate(formats.widths):
        page.set_column(column, column, width)
    page.freeze_panes(_HEAD + 1, 2)
    page.repeat_rows(_HEAD)
    page.set_landscape()
    page.set_paper(_PAPER[system])
    page.fit_to_pages(1, 0)
    page.set_footer("&L&F&C&A&RPage &P of &N")


class _Formats:
    """The formats of one sheet and the widths its columns have come to need."""

    def __init__(self, book: Workbook, system: str) -> None:
        self.system = system
        self.widths: list[float] = []
        self._book = book
        self._head = book.add_format(
            {"bold": True, "text_wrap": True, "bottom": 1, "valign": "top"}
        )
        self._numbers: dict[str, Any] = {}
        self._severities = {
            word: book.add_format({"bold": word == "stop", "font_color": colour})
            for word, colour in _COLOURS.items()
        }

    def write(
        self, page: Worksheet, top: int, rows: Sequence[Row], columns: Sequence[Column[Row]]
    ) -> int:
        """Write a table and return the first row below it."""
        for k, column in enumerate(columns):
            head = column.head(self.system)
            page.write_string(top, k, head, self._head)
            self._widen(k, max(map(len, head.split())) + 1)
            for i, row in enumerate(rows, top + 1):
                self._cell(page, i, k, column, row)
        return top + 1 + len(rows)

    def _cell(self, page: Worksheet, i: int, k: int, column: Column[Row], row: Row) -> None:
        value = column.number(row, self.system)
        if isinstance(value, str):
            style = self._severities.get(value.partition(":")[0])
            page.write_string(i, k, value, style)  # never a formula, whatever it begins with
            self._widen(k, len(value) + 1)
        elif value is not None:
            page.write_number(i, k, value, self._number(column.quantity or "count"))

    def _number(self, quantity: str) -> Any:
        """The format with the decimals this quantity is printed with."""
        if quantity not in self._numbers:
            places = QUANTITIES[quantity].decimals[self.system]
            pattern = "#,##0" + ("." + "0" * places if places else "")
            self._numbers[quantity] = self._book.add_format({"num_format": pattern})
        return self._numbers[quantity]

    def _widen(self, k: int, width: float) -> None:
        self.widths += [8.0] * (k + 1 - len(self.widths))
        self.widths[k] = min(max(self.widths[k], width), _WIDEST)
