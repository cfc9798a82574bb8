"""Job workbooks for tests: the cells of a model file's workbook, changed one by one."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from route3d.model.job import Job
from route3d.modelfile.read import job_of
from route3d.modelfile.toml_positions import read_toml
from route3d.modelfile.workbook.cells import SheetCells, cells_of
from route3d.modelfile.workbook.reading import document_of
from route3d.modelfile.workbook.writing import workbook_of
from tests.support.broken_jobs import MODELS

Grid = tuple[SheetCells, ...]
NAME = "job.xlsx"


def grid_of(text: str) -> Grid:
    """The cells of the workbook of a model file's text."""
    return cells_of(workbook_of(read_toml(text).data), Path(NAME))


def job_of_grid(grid: Iterable[SheetCells]) -> Job:
    """The job of a workbook by its cells; meshes are those of the demos."""
    return job_of(document_of(tuple(grid), NAME), NAME, MODELS)


def sheet_of(grid: Grid, name: str) -> SheetCells:
    """The sheet of that name."""
    return next(sheet for sheet in grid if sheet.name == name)


def place_of(grid: Grid, sheet: str, header: str, row: int) -> tuple[int, int]:
    """Row and column of a cell under the header that begins so, without its unit."""
    cells = sheet_of(grid, sheet).cells
    for (top, column), text in cells.items():
        if top == 1 and str(text).partition(" (")[0] == header:
            return row, column
    raise KeyError(header)


def with_cell(grid: Grid, sheet: str, header: str, row: int, value: object) -> Grid:
    """The same workbook with another value in a cell, none where it is None."""
    place = place_of(grid, sheet, header, row)
    cells = dict(sheet_of(grid, sheet).cells)
    cells.pop(place, None)
    if value is not None:
        cells[place] = value
    return tuple(replace(s, cells=cells) if s.name == sheet else s for s in grid)
