"""The empty form for a crew's written numbers: the rows of the gauge table, to be read back."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator

from route3d.formats.tables.workbook import put, saved
from route3d.model.examples import example_banner
from route3d.model.job import Job
from route3d.planning.pull_plan.plan import Plan
from route3d.spreadsheet import harmless
from route3d.units import convert, unit_label

_WIDTHS = (12, 34, 10, 14, 14, 12, 40)
_PAPER = {"US": 1, "SI": 9}  # letter and A4, by the numbers of the file format


def form_rows(plan: Plan, job: Job, system: str) -> Iterator[list[str | float]]:
    """The lines above the table, its header, and a row for each of the gauge table."""
    banner = example_banner(job.examples)
    length, force = unit_label("length", system), "lbf" if system == "US" else "N"
    if banner:
        yield [banner]
    yield ["run", plan.pull.run.name]
    yield ["feed", plan.pull.feed_name]
    yield ["date", ""]
    yield [
        f"cable in ({length})",
        "place",
        "gear",
        f"expected ({force})",
        f"reading ({force})",
        "time",
        "note",
    ]
    for row in plan.gauge:
        newtons = row.first_move if row.first_move is not None else row.expected
        load = convert(newtons, "force", "US") if system == "US" else newtons
        what = "first move: " if row.first_move is not None else ""
        yield [
            round(convert(row.pulled, "length", system), 1),
            what + row.place,
            "" if row.gear is None else row.gear.name,
            float(round(load)),
            "",
            "",
            "",
        ]


def form_csv(plan: Plan, job: Job, system: str) -> str:
    """The form as CSV."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    for row in form_rows(plan, job, system):
        writer.writerow([harmless(c) if isinstance(c, str) else f"{c:.10g}" for c in row])
    return out.getvalue()


def form_xlsx(plan: Plan, job: Job, system: str) -> bytes:
    """The form as a workbook of one sheet, to print and to type into; same bytes twice."""
    from openpyxl import Workbook
    from openpyxl.styles import Alignment, Border, Font, Side
    from openpyxl.utils import get_column_letter

    book = Workbook()
    sheet = book.worksheets[0]
    sheet.title = "readings"
    rows = list(form_rows(plan, job, system))
    head = next(i for i, row in enumerate(rows, 1) if len(row) > 2)
    line = Side("thin")
    for number, row in enumerate(rows, 1):
        for column, value in enumerate(row, 1):
            cell = put(sheet, number, column, value) if value != "" else sheet.cell(number, column)
            if number >= head:
                cell.border = Border(left=line, right=line, top=line, bottom=line)
            if number == head:
                cell.font, cell.alignment = Font(bold=True), Alignment(wrap_text=True)
            elif number > head and column in (2, 7):
                cell.alignment = Alignment(wrap_text=True, vertical="center")
        if number > head:
            sheet.row_dimensions[number].height = 24.0  # room to write
    for column, width in enumerate(_WIDTHS, 1):
        sheet.column_dimensions[get_column_letter(column)].width = width
    sheet.freeze_panes = f"A{head + 1}"
    sheet.print_title_rows = f"{head}:{head}"
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.paperSize = _PAPER[system]
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.page_setup.fitToHeight = 0
    sheet.oddFooter.left.text, sheet.oddFooter.right.text = "&F", "Page &P of &N"
    return saved(book)
