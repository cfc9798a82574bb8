"""The bend schedule as a workbook: numbers as numbers, in one unit of length, ready to print.

A sheet for each run lays out its bends; others have the marks of its field bends, the limits and
reactions of all, and its pieces.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING

from route3d.formats.tables.workbook import put, saved
from route3d.model.examples import example_banner
from route3d.model.job import Job
from route3d.planning.result import JobResult
from route3d.report.bends import (
    FIGURES,
    LABEL,
    MARKS,
    NUMBER,
    PASSING,
    PIECES,
    REACTIONS,
    ROLLS,
    SECTIONS,
    SHAPES,
    TAPED_MARKS,
    TURNS,
    BendSheet,
    reaction_words,
    tape_columns,
    tape_words,
)
from route3d.report.columns import filled
from route3d.report.columns_xlsx import SheetTables
from route3d.units import show, tape

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
    wanted = [
        name[: _LONGEST - len(part)] + part
        for name in (s.run.run.name for s in sheets)
        for part in _SHEETS
    ]
    names = iter(sheet_names(wanted))
    for sheet in sheets:
        for write in _SHEETS.values():
            name = next(names)
            if write is _write_marks and not any(row.made.marks for row in sheet.rows):
                continue
            page = book.create_sheet(name)
            _write_head(page, result.job, sheet, system)
            write(page, sheet, system)
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


def _write_head(page: Worksheet, job: Job, sheet: BendSheet, system: str) -> None:
    from openpyxl.styles import Font

    run = sheet.run
    put(page, 1, 1, job.title).font = Font(bold=True)
    if banner := example_banner(job.examples):
        put(page, 1, 1, f"{banner}. {job.title}").font = Font(bold=True, color="C00000")
        page.oddHeader.center.text = example_banner(job.examples, _IN_HEADER).replace("&", "&&")
    about = f"Run {run.run.name}: {tape(run.path.length, system)} long, "
    about += f"{show(run.path.turn, 'angle', system)} of bends; sidewall pressure when feeding "
    about += f"from {run.best.pull.feed_name}"
    if sheet.planned_feed:
        about += f"; Stop by the plan, fed from {sheet.planned_feed}"
    put(page, 2, 1, about)


def _write_bends(page: Worksheet, sheet: BendSheet, system: str) -> None:
    """Turns and layout of every bend; below them the pull points."""
    from openpyxl.styles import Font

    columns = (LABEL, NUMBER, *TURNS[1:6], *ROLLS, *SHAPES[1:7])
    tables = SheetTables(page, system)
    below = tables.write(_HEAD, sheet.rows, columns)
    put(page, below + 1, 1, "Between pull points").font = Font(bold=True)
    below = tables.write(below + 2, sheet.sections, SECTIONS)
    put(page, below + 1, 1, tape_words(system))
    tables.set_out(_HEAD, frozen=f"C{_HEAD + 1}")


def _write_marks(page: Worksheet, sheet: BendSheet, system: str) -> None:
    """The marks of the field bends, as numbers and off a tape; below them offsets and saddles."""
    from openpyxl.styles import Font

    rows = [row for row in sheet.rows if row.made.marks is not None]
    said = tape_columns(MARKS, system, TAPED_MARKS)
    columns = filled(rows, (LABEL, NUMBER, TURNS[4], *MARKS[1:], *said))
    tables = SheetTables(page, system)
    below = tables.write(_HEAD, rows, columns)
    if sheet.figures:
        put(page, below + 1, 1, "Offsets and saddles").font = Font(bold=True)
        tables.write(below + 2, sheet.figures, filled(sheet.figures, FIGURES))
    tables.set_out(_HEAD, frozen=f"C{_HEAD + 1}")


def _write_limits(page: Worksheet, sheet: BendSheet, system: str) -> None:
    """What each bend asks for and how it is loaded."""
    made = (c for c in SHAPES if c.title in ("angle", "radius", "conduit", "bend\ntype"))
    columns = (LABEL, NUMBER, *made, *PASSING[1:], *filled(sheet.rows, REACTIONS[1:]))
    tables = SheetTables(page, system)
    below = tables.write(_HEAD, sheet.rows, columns)
    put(page, below + 1, 1, reaction_words())
    tables.set_out(_HEAD, frozen=f"C{_HEAD + 1}")


def _write_pieces(page: Worksheet, sheet: BendSheet, system: str) -> None:
    """Every piece of conduit, one row each."""
    tables = SheetTables(page, system)
    said = tape_columns(PIECES, system, ("length each",))
    columns = [c for c in (*PIECES, *said) if c.title != "number"]
    tables.write(_HEAD, sheet.pieces, columns)
    tables.set_out(_HEAD, frozen=f"B{_HEAD + 1}")


# The sheets of a run by what follows its name.
_SHEETS = {
    "": _write_bends,
    " marks": _write_marks,
    " limits": _write_limits,
    " pieces": _write_pieces,
}
