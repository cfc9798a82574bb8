"""The cells of a workbook as plain values, each cell that cannot be read with the reason."""

from __future__ import annotations

import io
import warnings
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

from route3d.disk import MEGABYTE, broken_workbook, refuse_bomb
from route3d.errors import InputError, Problem
from route3d.modelfile.places import column_letters

# Unpacked sizes, bytes: 20,000 points have about 8 MB, and a cell in memory takes far more.
LARGEST_PART = 15 * MEGABYTE
LARGEST_TOTAL = 25 * MEGABYTE
# A point in each row and room for remarks; far cells are a slip or an attack.
MOST_ROWS = 50_000
MOST_COLUMNS = 300


@dataclass(frozen=True, slots=True)
class BadCell:
    """A cell whose value cannot be taken: what is wrong with it, and the fix."""

    message: str
    fix: str


@dataclass(frozen=True, slots=True)
class SheetCells:
    """One sheet: its name, its number in the workbook, and its cells that hold anything.

    ``cells`` are by row and column, from 1. ``hidden`` says whether the sheet is, and
    ``hidden_rows`` and ``hidden_columns`` which of those with values are.
    """

    name: str
    number: int
    cells: dict[tuple[int, int], object] = field(default_factory=dict)
    hidden: bool = False
    hidden_rows: tuple[int, ...] = ()
    hidden_columns: tuple[str, ...] = ()

    def rows(self) -> dict[int, dict[int, object]]:
        """The cells by row, then by column, in order."""
        found: dict[int, dict[int, object]] = {}
        for row, column in sorted(self.cells):
            found.setdefault(row, {})[column] = self.cells[row, column]
        return found


def cells_of(data: bytes, path: Path) -> tuple[SheetCells, ...]:
    """The sheets of a workbook by its bytes; ``path`` is used in messages.

    Raises InputError for what is no XLSX workbook, is too large, or is packed like a bomb.
    """
    refuse_bomb(data, path, largest=LARGEST_PART, total=LARGEST_TOTAL, fix="split the job")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # about styles and extensions that are not read here
            return _read(data, path)
    except (InputError, ModuleNotFoundError):  # the extra that reads workbooks is not installed
        raise
    except Exception as error:  # each layer under openpyxl has errors of its own
        raise broken_workbook(path, error) from None


def _read(data: bytes, path: Path) -> tuple[SheetCells, ...]:
    import openpyxl

    def opened(*, values: bool) -> Any:
        # Read-only: a whole reading makes a cell of every cell in a merge, however large.
        return openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=values)

    book, found = opened(values=False), []
    results: Any = None
    for number, sheet in enumerate(book.worksheets):
        raw = dict(_filled(sheet, path))
        formulas = [place for place, (_, kind) in raw.items() if kind == "f"]
        if formulas and results is None:
            results = opened(values=True)
        saved = dict(_filled(results.worksheets[number], path)) if formulas else {}
        look = _look(data, sheet)
        cells: dict[tuple[int, int], object] = {}
        for place, (value, kind) in raw.items():
            if kind == "f":
                value, kind = saved.get(place, (_UNSAVED, ""))
            if kind == "e":
                value = BadCell(f"contains the error {value}", "correct the cell")
            if merge := look.merges.get(place):
                fix = "unmerge the cells and fill in each of them"
                value = BadCell(f"is merged with other cells ({merge})", fix)
            if isinstance(value, str):
                value = " ".join(value.splitlines()).strip() or None
            if value is not None:
                cells[place] = value
        rows, columns = {row for row, _ in cells}, {column for _, column in cells}
        hidden = sheet.sheet_state != "visible"
        rows &= look.hidden_rows
        columns &= look.hidden_columns
        letters = tuple(column_letters(c) for c in sorted(columns))
        found.append(SheetCells(sheet.title, number, cells, hidden, tuple(sorted(rows)), letters))
    return tuple(found)


_UNSAVED = BadCell(
    "contains a formula without a saved value",
    "open the workbook in a spreadsheet program and save it, or enter the value",
)


def _filled(sheet: Any, path: Path) -> Iterator[tuple[tuple[int, int], tuple[object, str]]]:
    """The cells that hold anything, by row and column: value and type as openpyxl tells it."""
    sheet.reset_dimensions()  # the file may claim any size
    for cells in sheet.iter_rows():
        for cell in cells:
            if cell.value is None:
                continue
            if cell.row > MOST_ROWS or cell.column > MOST_COLUMNS:
                said = f"has a value in {column_letters(cell.column)}{cell.row}, beyond row "
                said += f"{MOST_ROWS:,} or column {column_letters(MOST_COLUMNS)}"
                fix = "delete the cells outside the table"
                place = f"sheet {sheet.title}"
                raise InputError(Problem(said, fix=fix, file=str(path), cell=place))
            yield (cell.row, cell.column), (cell.value, cell.data_type)


# --- what a read-only reading leaves out ---------------------------------------------------------


@dataclass(slots=True)
class _Look:
    """The top left cells of merges, and the rows and columns that are hidden."""

    merges: dict[tuple[int, int], str] = field(default_factory=dict)
    hidden_rows: set[int] = field(default_factory=set)
    hidden_columns: set[int] = field(default_factory=set)


def _look(data: bytes, sheet: Any) -> _Look:
    from openpyxl.utils.cell import range_boundaries

    look, row = _Look(), 0
    with zipfile.ZipFile(io.BytesIO(data)) as archive, archive.open(sheet._worksheet_path) as part:
        for event, node in ElementTree.iterparse(part, ("start", "end")):
            tag, marks = node.tag.rpartition("}")[2], node.attrib
            hidden = marks.get("hidden") in ("1", "true")
            if event == "end":
                node.clear()
            elif tag == "row":
                row = int(marks.get("r") or row + 1)
                look.hidden_rows |= {row} if hidden else set()
            elif tag == "col" and hidden:
                first, last = int(marks["min"]), min(int(marks["max"]), MOST_COLUMNS)
                look.hidden_columns.update(range(first, last + 1))
            elif tag == "mergeCell" and ":" in marks["ref"]:
                left, top, _, _ = range_boundaries(marks["ref"])
                look.merges[top, left] = marks["ref"]
    return look
