"""Whatever is typed into a workbook, it is a job or problems that say which cell."""

from __future__ import annotations

import random
import re
from dataclasses import replace
from datetime import datetime, time
from pathlib import Path

import pytest

from route3d.errors import InputError
from route3d.model.job import Job
from route3d.modelfile.read import load
from route3d.modelfile.toml_positions import read_toml
from route3d.modelfile.workbook.cells import BadCell, SheetCells
from route3d.modelfile.workbook.writing import workbook_of
from tests.support.broken_jobs import MODELS
from tests.support.workbooks import NAME, Grid, grid_of, job_of_grid

TEXTS = [p.read_text(encoding="utf-8") for p in sorted(MODELS.glob("*.toml"))]
ODD = [
    None, "", 0, -1, 1, 2.5, 1e308, -1e-308, 10**20, True, False, "yes", "none", "auto", "x" * 600,
    "1,5", "1.5", "12 in", "5'-3 1/2\"", "5 kg", "nan", "inf", "½", "=1+1", "#REF!", "[",
    "[[1, 2]]",
    "{ a = 1 }", "[1, 2\nb = 3]", "a, b", ";", "duct", "phase", "Y1", "F1", "\u202eabc", "\u00a0",
    "name", "run", "x (m)", "x (furlong)", "cable 7", "number 2", "# note", "reel machine",
    "9" * 400,
    datetime(2026, 3, 4), time(7, 30), BadCell("contains the error #N/A", "correct the cell"),
    "practice: rules", "units", "SI", "US", "copper", "PVC-40", "3/4", "2-1/2",
]  # fmt: skip
_LOCATED = re.compile(r"sheet .+, cell [A-Z]{1,3}[1-9]\d*")


def mutated(grid: Grid, draw: random.Random) -> Grid:
    """One workbook with one to four changes of its cells, rows, columns and sheets."""
    sheets = list(grid)
    for _ in range(draw.randint(1, 4)):
        filled = [len(s.cells) + 1 for s in sheets]
        (at,) = draw.choices(range(len(sheets)), filled)
        sheet = sheets[at]
        cells = dict(sheet.cells)
        places = list(cells) or [(1, 1)]
        row, column = draw.choice(places)
        kind = draw.random()
        if kind < 0.5:
            cells[row, column] = draw.choice(ODD)
        elif kind < 0.6:
            cells[row + draw.randint(0, 2), column + draw.randint(0, 9)] = draw.choice(ODD)
        elif kind < 0.7:
            other = draw.choice(places)
            cells[row, column], cells[other] = cells.get(other), cells.get((row, column))
        elif kind < 0.78:
            cells = {p: v for p, v in cells.items() if p[0] != row}
        elif kind < 0.86:
            cells = {p: v for p, v in cells.items() if p[1] != column}
        elif kind < 0.92:
            cells |= {(r + 40, c): v for (r, c), v in cells.items() if r == row}
        elif kind < 0.95:
            sheets[at] = replace(sheet, name=draw.choice(["Runs", "runs ", "Pionts", "#x", "Job"]))
            continue
        elif kind < 0.98:
            sheets.pop(at)
            sheets = sheets or [SheetCells("Job", 0)]
            continue
        else:
            draw.shuffle(sheets)
            continue
        cells = {p: v for p, v in cells.items() if v is not None and v != ""}
        sheets[at] = replace(sheet, cells=cells)
    return tuple(sheets)


def check(grid: Grid) -> bool:
    """Whether it is a job; else every problem has a cell."""
    try:
        assert isinstance(job_of_grid(grid), Job)
    except InputError as error:
        assert error.problems
        for problem in error.problems:
            assert problem.message and problem.file == NAME
            whole = "is not a job workbook" in problem.message
            assert whole or _LOCATED.fullmatch(problem.cell), problem
        return False
    return True


def fuzz(cases: int, seed: int) -> None:
    draw = random.Random(seed)
    grids = [grid_of(text) for text in TEXTS]
    jobs = sum(check(mutated(draw.choice(grids), draw)) for _ in range(cases))
    assert 0.02 * cases < jobs < 0.9 * cases  # both kinds are met


def test_two_hundred_changed_workbooks() -> None:
    fuzz(200, seed=12)


@pytest.mark.many
def test_twenty_thousand_changed_workbooks() -> None:
    fuzz(20_000, seed=2026)


def test_bytes_changed_cut_and_doubled(tmp_path: Path) -> None:
    """The file itself: a workbook, or a refusal that names it."""
    draw, whole = random.Random(5), workbook_of(read_toml(TEXTS[0]).data)
    file = tmp_path / NAME
    refused = 0
    for _ in range(40):
        made = bytearray(whole)
        for _ in range(draw.randint(1, 6)):
            made[draw.randrange(len(made))] = draw.randrange(256)
        if draw.random() < 0.3:
            del made[draw.randrange(len(made)) :]
        file.write_bytes(bytes(made))
        try:
            load(file)
        except InputError as error:
            refused += 1
            assert all(p.file == str(file) and p.message for p in error.problems)
    assert refused > 10
