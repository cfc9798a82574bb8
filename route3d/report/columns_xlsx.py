"""Tables of columns as sheets of a workbook: numbers as numbers, headed with units, to print."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from itertools import chain, islice
from typing import IO, TYPE_CHECKING, Any

from route3d.errors import InputError, Problem
from route3d.formats.tables.workbook import put, save_to, saved, text_into
from route3d.quantities import QUANTITIES
from route3d.report.columns import Column, Row

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

_WIDEST = 30
_LINE = 15.0  # points, of a line of text
_COLORS = {"stop": "C00000", "do not pull": "C00000", "caution": "9C5700"}
_BOLD = ("stop", "do not pull")
_FOR_WIDTHS = 1000
_MOST_ROWS = 1_048_576  # of a sheet, by the file format
_PAPER = {"US": 1, "SI": 9}  # letter and A4, by the numbers of the file format


def rows_xlsx(
    title: str,
    tables: Sequence[tuple[str, Sequence[Any], Sequence[Column[Any]]]],
    system: str,
) -> bytes:
    """A workbook with a sheet for each table: its name, rows and columns; same bytes twice."""
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.worksheets[0])
    book.properties.title = title
    for name, rows, columns in tables:
        page = book.create_sheet(name)
        sheet = SheetTables(page, system)
        sheet.write(1, rows, columns)
        sheet.set_out(1, frozen="B2")
    return saved(book)


def write_rows_xlsx(
    file: IO[bytes],
    title: str,
    name: str,
    rows: Iterable[Row],
    columns: Sequence[Column[Row]],
    system: str,
) -> None:
    """A workbook of one table, row by row: any number of rows takes the memory of a few.

    The widths are those of the first rows. Raises InputError for more rows than a sheet holds.
    """
    from openpyxl import Workbook
    from openpyxl.cell import WriteOnlyCell

    book = Workbook(write_only=True)
    book.properties.title = title
    page = book.create_sheet(name)
    sheet = SheetTables(page, system)
    left = iter(rows)
    first = list(islice(left, _FOR_WIDTHS))
    heads = []
    for k, column in enumerate(columns, 1):
        heads.append(_headed(WriteOnlyCell(page), column.head(system)))
        sheet.widen_to_words(k, column.head(system))
        for row in first:
            value = column.number(row, system)
            if isinstance(value, str):
                sheet.widen(k, len(value) + 1)
    sheet.set_out(1, frozen="B2")
    page.append(heads)
    makers = [_CellMaker(page, column, system) for column in columns]
    for count, row in enumerate(chain(first, left), 2):
        if count > _MOST_ROWS:
            said = f"more than {_MOST_ROWS - 1:,} rows do not fit in a sheet"
            raise InputError(Problem(said, "--xlsx", "use --csv"))
        page.append([make(row) for make in makers])
    save_to(file, book)


class _CellMaker:
    """The cells of one column of a sheet written row by row, one for each look."""

    def __init__(self, page: Any, column: Column[Any], system: str) -> None:
        from openpyxl.cell import WriteOnlyCell
        from openpyxl.styles import Font

        self._column, self._system = column, system
        self._number, self._text = WriteOnlyCell(page), WriteOnlyCell(page)
        self._date = WriteOnlyCell(page)
        self._number.number_format = number_format(column, system)
        self._marked = {word: WriteOnlyCell(page) for word in _COLORS}
        for word, cell in self._marked.items():
            cell.font = Font(bold=word in _BOLD, color=_COLORS[word])

    def __call__(self, row: Any) -> Any:
        value = self._column.number(row, self._system)
        if value is None or value == "":
            return None
        if isinstance(value, date):
            self._date.value = value
            self._date.number_format = date_format(value)
            return self._date
        if not isinstance(value, str):
            self._number.value = value
            return self._number
        return text_into(self._marked.get(value.partition(":")[0], self._text), value)


class SheetTables:
    """The tables of one sheet and the widths its columns have come to need."""

    def __init__(self, page: Worksheet, system: str) -> None:
        self.page, self.system = page, system
        self.widths: list[float] = []

    def write(self, top: int, rows: Sequence[Row], columns: Sequence[Column[Row]]) -> int:
        """Write a table and return the first row below it."""
        for k, column in enumerate(columns, 1):
            text = column.head(self.system)
            _headed(self.page.cell(top, k), text)
            self.widen_to_words(k, text)
            for i, row in enumerate(rows, top + 1):
                self._cell(i, k, column, row)
        return top + 1 + len(rows)

    def note(self, top: int, text: str) -> int:
        """Write a text across all columns, wrapped, and return the row below it."""
        from openpyxl.styles import Alignment

        put(self.page, top, 1, text).alignment = Alignment(wrap_text=True, vertical="top")
        if len(self.widths) > 1:
            self.page.merge_cells(
                start_row=top, end_row=top, start_column=1, end_column=len(self.widths)
            )
        lines = math.ceil(len(text) / (0.9 * sum(self.widths)))
        self.page.row_dimensions[top].height = _LINE * lines
        return top + 1

    def set_out(self, head: int, frozen: str) -> None:
        """Column widths and the page; the rows up to ``head`` repeat on every printed one.

        What is above and left of the cell ``frozen`` stays in view.
        """
        from openpyxl.utils import get_column_letter

        page = self.page
        for column, width in enumerate(self.widths, 1):
            page.column_dimensions[get_column_letter(column)].width = width
        page.freeze_panes = frozen
        page.print_title_rows = f"1:{head}"
        page.page_setup.orientation = "landscape"
        page.page_setup.paperSize = _PAPER[self.system]
        page.sheet_properties.pageSetUpPr.fitToPage = True
        page.page_setup.fitToHeight = 0  # as many pages as it takes, each as wide as the table
        page.oddFooter.left.text, page.oddFooter.center.text = "&F", "&A"
        page.oddFooter.right.text = "Page &P of &N"

    def _cell(self, i: int, k: int, column: Column[Row], row: Row) -> None:
        from openpyxl.styles import Font

        value = column.number(row, self.system)
        if value is None:
            return
        cell = put(self.page, i, k, value)
        if isinstance(value, str):
            word = value.partition(":")[0]
            if word in _COLORS:
                cell.font = Font(bold=word in _BOLD, color=_COLORS[word])
            self.widen(k, len(value) + 1)
        elif isinstance(value, date):
            cell.number_format = date_format(value)
            self.widen(k, len(cell.number_format) + 2)
        else:  # with the decimals this quantity is printed with
            cell.number_format = number_format(column, self.system)

    def widen_to_words(self, k: int, head: str) -> None:
        """Room for the longest word of a heading."""
        self.widen(k, max(map(len, head.split())) + 1)

    def widen(self, k: int, width: float) -> None:
        """Room for so many characters in a column, up to a limit."""
        self.widths += [8.0] * (k - len(self.widths))
        self.widths[k - 1] = min(max(self.widths[k - 1], width), _WIDEST)


def number_format(column: Column[Any], system: str) -> str:
    """The format of the numbers of a column: as many decimals as it is printed with."""
    places = QUANTITIES[column.quantity or "count"].decimals[system]
    return "#,##0" + ("." + "0" * places if places else "")


def date_format(value: date) -> str:
    """The format of a date, or of a moment: the same in every country."""
    return "yyyy-mm-dd hh:mm" if isinstance(value, datetime) else "yyyy-mm-dd"


def _headed(cell: Any, text: str) -> Any:
    from openpyxl.styles import Alignment, Border, Font, Side

    cell.font, cell.border = Font(bold=True), Border(bottom=Side("thin"))
    cell.alignment = Alignment(wrap_text=True, vertical="top")
    return text_into(cell, text)
