"""Where the readings of a table begin, and what stands above them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from route3d.errors import InputError
from route3d.field.log.mapping import (
    Asked,
    Columns,
    find_columns,
    no_columns,
    numbered_columns,
    units_row,
)
from route3d.field.log.numbers import read_number
from route3d.field.log.tables import LogLine

HEADER_WITHIN = 60
"""A header stands within so many rows; what a recorder writes of itself may stand above it."""


@dataclass(frozen=True, slots=True)
class TableStart:
    """The columns of a table, and how many rows of it stand above its readings.

    ``above`` of those are above the header; ``texts`` is what they say by their first cell.
    """

    columns: Columns
    rows: int
    above: int
    texts: dict[str, str]


def table_start(
    lines: Sequence[LogLine], asked: Sequence[Asked], units: str | None, file: str
) -> TableStart:
    """Where readings begin in these rows, none of them empty.

    InputError where no row names the columns, or where a column may be two things; the fix is the
    ``--map`` to type.
    """
    first, doubtful = None, None
    best: tuple[int, LogLine, Columns] | None = None
    for number, line in enumerate(lines[:HEADER_WITHIN]):
        if sum(cell is not None for cell in line.cells) < 2:
            continue
        try:
            columns = find_columns(line, asked, units, file)
        except InputError as error:
            doubtful = doubtful or (number, error)
            continue
        if columns.enough and not (asked and _holds_numbers(line, columns)):
            first = (number, columns)
            break
        if best is None or len(columns.at) > best[0]:
            best = (len(columns.at), line, columns)
    if first is None:
        widest = max(lines, key=lambda line: len(line.cells), default=None)
        numbered = None if widest is None else numbered_columns(widest, asked, units, file)
        if numbered is not None and numbered.enough:
            return TableStart(numbered, 0, 0, {})
        if doubtful is not None:
            raise doubtful[1]
        raise no_columns(best and best[1], best and best[2], file)
    number, columns = first
    rows = number + 1
    if rows < len(lines) and (units_of := units_row(lines[rows], columns)) is not None:
        columns = replace(columns, factors={**columns.factors, **units_of})
        rows += 1
    return TableStart(columns, rows, number, _texts(lines[:number]))


def _holds_numbers(line: LogLine, columns: Columns) -> bool:
    """Whether a row is no header but the first reading of a table without one."""
    cells = [line.cells[columns.at[kind]] for kind in ("load", "pulled") if kind in columns.at]
    return all(not read_number(cell, "").trouble for cell in cells)


def _texts(above: Sequence[LogLine]) -> dict[str, str]:
    """What is written above a header: name and value side by side, or in one cell with a colon."""
    found = {}
    for line in above:
        cells = [str(cell) for cell in line.cells if cell is not None]
        if len(cells) == 1 and ":" in cells[0]:
            cells = [part.strip() for part in cells[0].split(":", 1)]
        if len(cells) >= 2:
            found[cells[0].strip().rstrip(":").lower()] = cells[1]
    return found
