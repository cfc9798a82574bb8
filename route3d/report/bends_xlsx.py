"""The bend schedule as a workbook: numbers as numbers, in one unit of length, ready to print.

A sheet for each run has all its tables, one below the other: bends, layout, limits, marks of field
bends, offsets and saddles, reactions, pull points and pieces.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, TypeAlias

from route3d.formats.tables.workbook import put, saved
from route3d.model.examples import example_banner
from route3d.model.job import Job
from route3d.planning.result import JobResult
from route3d.report.bends import (
    FIGURE_MARKS,
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
    TURNS,
    BendSheet,
    field_words,
    held_lines,
    reaction_words,
    stop_lines,
    tape_words,
    with_tape,
)
from route3d.report.columns import Column, filled
from route3d.report.columns_xlsx import SheetTables
from route3d.units import show, tape

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

# The title and the run stand in the rows down to here.
_HEAD = 2
_Table: TypeAlias = tuple[str, Sequence[Any], Sequence[Column[Any]]]
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
    names = sheet_names([sheet.run.run.name for sheet in sheets])
    for sheet, name in zip(sheets, names, strict=True):
        _write_run(book.create_sheet(name), result.job, sheet, system)
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


def _write_run(page: Worksheet, job: Job, sheet: BendSheet, system: str) -> None:
    from openpyxl.styles import Font

    top = _write_head(page, job, sheet, system)
    tables = SheetTables(page, system)
    for name, rows, columns in _tables(sheet, system):
        put(page, top + 1, 1, name).font = Font(bold=True)
        top = tables.write(top + 2, rows, columns)
    top += 1
    for text in _notes(sheet, system):
        top = tables.note(top, text)
    tables.set_out(_HEAD, frozen=f"B{_HEAD + 1}")


def _write_head(page: Worksheet, job: Job, sheet: BendSheet, system: str) -> int:
    """Title, run, and what stops it; the first row below them."""
    from openpyxl.styles import Font

    run = sheet.run
    put(page, 1, 1, job.title).font = Font(bold=True)
    if banner := example_banner(job.examples):
        put(page, 1, 1, f"{banner}. {job.title}").font = Font(bold=True, color="C00000")
        page.oddHeader.center.text = example_banner(job.examples, _IN_HEADER).replace("&", "&&")
    about = f"Run {run.run.name}: {tape(run.path.length, system)} long, "
    put(page, _HEAD, 1, about + f"{show(run.path.turn, 'angle', system)} of bends")
    top = _HEAD + 1
    for line in stop_lines(sheet, system):
        put(page, top, 1, line).font = Font(bold=True, color="C00000")
        top += 1
    return top


def _tables(sheet: BendSheet, system: str) -> list[_Table]:
    """The tables of a run in order, those that hold anything."""
    rows, figures = sheet.rows, sheet.figures
    marked = [row for row in rows if row.made.marks is not None]
    feed = f"feed from {sheet.run.best.pull.feed_name}"
    stop = f"; at Stop: by the plan, fed from {sheet.planned_feed}" if sheet.planned_feed else ""
    wanted: list[_Table] = [
        ("Bends", rows, (LABEL, NUMBER, *TURNS[1:6], *ROLLS)),
        ("Layout", rows, SHAPES),
        (f"Limits, and sidewall pressure with {feed}", rows, PASSING),
        ("Field bends, marks from the end of the piece that comes first", marked, MARKS),
        ("Offsets and saddles", figures, FIGURES),
        ("Offsets and saddles, between their start marks, and shrink", figures, FIGURE_MARKS),
        (f"Reaction of the pull{stop}", rows, REACTIONS),
        ("Between pull points", sheet.sections, SECTIONS),
        ("Pieces", sheet.pieces, [c for c in PIECES if c.title != "number"]),
    ]
    found: list[_Table] = []
    for name, of, columns in wanted:
        shown = filled(of, columns)
        if len(shown) > 1:  # more than the label
            found.append((name, of, with_tape(shown, system)))
    return found


def _notes(sheet: BendSheet, system: str) -> list[str]:
    """What the tables say, below them."""
    inches = "Each length is given in inches with decimals, and beside it as read off a tape. "
    notes = [*held_lines(sheet, system), (inches if system == "US" else "") + tape_words(system)]
    if any(row.made.marks for row in sheet.rows):
        notes.append(field_words())
    if any(row.reaction for row in sheet.rows):
        notes.append(reaction_words())
    return notes
