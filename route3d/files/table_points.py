"""The rows of a table of survey points made routes; what is wrong is told by row and column."""

from __future__ import annotations

import math
import re
from array import array
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from route3d.errors import InputError, Problem, UnitError
from route3d.files.exchange import (
    Box,
    ExchangeRoute,
    Reading,
    ReadOptions,
    bad_file,
    counted,
    placed,
)
from route3d.files.fields import brief
from route3d.geometry.fillet import COINCIDENT
from route3d.geometry.vectors import norm
from route3d.units import parse

if TYPE_CHECKING:
    from route3d.files.table_columns import Columns

Cell = object
MOST_PROBLEMS = 20
# No vault is larger than this, m; a box in wrong units is.
LARGEST_BOX = 100.0
# More are a scan, not a survey; they would take longer than a person waits.
MOST_ROWS = 300_000
_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_COMMA = re.compile(r"[+-]?(?:\d+(?:,\d*)?|,\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}", re.ASCII)
_TIMES = re.compile(r"\s*[x×*]\s*|\s+", re.I)
_ACCESS = ("reel", "machine")


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a table: its ``line`` in the file, from 1, and its cells, None where empty.

    ``full`` where empty cells at its end are among them, so that a short row is a broken one.
    """

    line: int
    cells: tuple[Cell, ...]
    full: bool = False


@dataclass(eq=False, slots=True)
class _Run:
    """The points of one run as they come in."""

    name: str
    values: array[float] = field(default_factory=lambda: array("d"))  # x, y, z, radius in m
    lines: array[int] = field(default_factory=lambda: array("l"))
    names: list[str] = field(default_factory=list)
    access: list[frozenset[str]] = field(default_factory=list)
    changes: list[str] = field(default_factory=list)
    boxes: list[Box | None] = field(default_factory=list)
    start: str = ""  # the conduit of the first row, and that of the row before
    conduit: str = ""


class _Notes:
    """What is found wrong or doubtful on the way through the rows."""

    def __init__(self, path: Path, columns: Columns, blank: str) -> None:
        self.path, self.columns, self.blank = path, columns, blank
        self.problems: list[Problem] = []
        self.continued = 0
        self.short: list[int] = []
        self.comma: tuple[int, str] | None = None  # the first number with a decimal comma
        self.feet: tuple[int, str] | None = None  # the first length in feet and inches
        self.point: tuple[int, str] | None = None
        self.clear = False  # whether some comma can be no mark of thousands

    def wrong(self, line: int, kind: str, message: str, fix: str) -> None:
        header = self.columns.headers[self.columns.at[kind]]
        where = f"row {line}, column {header!r}"
        self.problems.append(Problem(message, where, fix, str(self.path), line))
        if len(self.problems) >= MOST_PROBLEMS:
            raise InputError(self.problems)


def routes_of_rows(
    rows: Iterable[Row],
    columns: Columns,
    path: Path,
    options: ReadOptions,
    name: str,
    blank: str,
) -> Reading:
    """The routes of the rows under a header, in the order in which their runs first appear."""
    notes = _Notes(path, columns, blank)
    runs: dict[str, _Run] = {}
    order: list[str] = []
    current = name
    wanted = max((i for i, header in enumerate(columns.headers, 1) if header), default=0)
    for row in rows:
        if row.cells.count(None) == len(row.cells):
            continue
        _refuse_width(row, columns, wanted, notes)
        current = _run_name(row, columns, current, notes)
        if current not in runs:
            runs[current] = _Run(current)
        if not order or order[-1] != current:
            order.append(current)
        _add(row, columns, runs[current], options, notes)
    if notes.comma and notes.point:
        (line, comma), (other, point) = notes.comma, notes.point
        said = f"has {comma!r} in row {line} and {point!r} in row {other}"
        raise bad_file(path, said, "write all decimals with a point, or all with a comma", line)
    if notes.problems:
        raise InputError(notes.problems)
    if not runs:
        raise bad_file(path, "has a header and no points", "is it the right file?")
    return _reading(list(runs.values()), order, columns, path, options, notes)


def _refuse_width(row: Row, columns: Columns, wanted: int, notes: _Notes) -> None:
    if any(cell is not None for cell in row.cells[len(columns.headers) :]):
        said = f"row {row.line} has {len(row.cells)} cells under {len(columns.headers)} headers"
        fix = "a decimal comma? write a decimal point, and text with separators in quotes"
        notes.problems.append(Problem(said, fix=fix, file=str(notes.path), line=row.line))
        raise InputError(notes.problems)
    if row.full and len(row.cells) < wanted:
        notes.short.append(row.line)


def _cell(row: Row, columns: Columns, kind: str) -> Cell:
    index = columns.at.get(kind)
    return row.cells[index] if index is not None and index < len(row.cells) else None


def _text(cell: Cell) -> str:
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return "" if cell is None else " ".join(str(cell).split())


def _run_name(row: Row, columns: Columns, current: str, notes: _Notes) -> str:
    if "run" not in columns.at:
        return current
    if named := _text(_cell(row, columns, "run")):
        return named
    notes.continued += 1
    return current


def _add(row: Row, columns: Columns, run: _Run, options: ReadOptions, notes: _Notes) -> None:
    for axis, kind in enumerate(("x", "y", "z")):
        number = _number(row, columns, kind, notes)
        run.values.append((number - options.origin[axis]) * columns.metres[kind])
    radius = 0.0
    if _cell(row, columns, "radius") is not None:
        radius = _number(row, columns, "radius", notes) * columns.metres["radius"]
        if radius < 0:
            said = f"the radius {brief(_cell(row, columns, 'radius'))} is negative"
            notes.wrong(row.line, "radius", said, "leave it out")
    run.values.append(radius)
    run.lines.append(row.line)
    run.names.append(_text(_cell(row, columns, "name")))
    run.access.append(_access(row, columns, notes))
    conduit = _text(_cell(row, columns, "conduit"))
    begins = len(run.lines) == 1
    run.start = conduit if begins else run.start
    run.changes.append("" if begins or conduit == run.conduit else conduit)
    run.conduit = conduit or run.conduit
    run.boxes.append(_box(row, columns, notes))


# Marks of feet or inches say the unit, whatever the header says.
_FEET_AND_INCHES = re.compile(r"""\d\s*['"]""")


def _number(row: Row, columns: Columns, kind: str, notes: _Notes) -> float:
    """The number in a cell; 0, and a problem noted, where there is none."""
    cell = _cell(row, columns, kind)
    number = _read_number(cell, row, columns, notes)
    if math.isfinite(number):
        return number
    if isinstance(cell, str) and _FEET_AND_INCHES.search(cell):
        with suppress(UnitError):
            metres = parse(cell.strip(), "length", "US")
            notes.feet = notes.feet or (row.line, cell.strip())
            return metres / columns.metres[kind]
    if cell is None:
        notes.wrong(row.line, kind, notes.blank, "fill it in, or take the row out")
    elif isinstance(cell, str) and "," in cell and "." in cell:
        fix = "write it without the marks between thousands"
        notes.wrong(row.line, kind, f"{brief(cell)} has both points and commas", fix)
    elif isinstance(cell, str) and "," in cell:
        fix = "write a decimal point and no thousands separator"
        notes.wrong(row.line, kind, f"{brief(cell)} has a comma", fix)
    else:
        notes.wrong(row.line, kind, f"{brief(cell)} is not a number", "write a plain number")
    return 0.0


def _read_number(cell: Cell, row: Row, columns: Columns, notes: _Notes) -> float:
    """The number that a cell is; not a number where it is none."""
    if isinstance(cell, int | float) and not isinstance(cell, bool):
        return float(cell)
    text = cell.strip().replace("−", "-") if isinstance(cell, str) else ""
    if _NUMBER.fullmatch(text):
        if "." in text:
            notes.point = notes.point or (row.line, text)
        return float(text)
    if columns.decimal_comma and _COMMA.fullmatch(text):
        notes.comma = notes.comma or (row.line, text)
        notes.clear |= _THOUSANDS.fullmatch(text) is None
        return float(text.replace(",", "."))
    return math.nan


def _box(row: Row, columns: Columns, notes: _Notes) -> Box | None:
    """The three sizes of a pull box in a cell such as ``1.2 x 0.6 x 0.6``."""
    cell = _cell(row, columns, "box")
    if cell is None:
        return None
    sides = [_read_number(part, row, columns, notes) for part in _TIMES.split(str(cell).strip())]
    metres = columns.metres["box"]
    if len(sides) != 3 or not all(0 < side * metres < LARGEST_BOX for side in sides):
        fix = "write length x width x height, such as 1.2 x 0.6 x 0.6"
        notes.wrong(row.line, "box", f"{brief(cell)} is no box", fix)
        return None
    return sides[0] * metres, sides[1] * metres, sides[2] * metres


def _access(row: Row, columns: Columns, notes: _Notes) -> frozenset[str]:
    if "access" not in columns.at:
        return frozenset()
    words = re.findall(r"[^\s,;+/]+", _text(_cell(row, columns, "access")).lower())
    for word in words:
        if word not in _ACCESS:
            notes.wrong(row.line, "access", f"{brief(word)} is no access", "write reel or machine")
    return frozenset(words)


# --- runs to routes ----------------------------------------------------------------------------


def _reading(
    runs: list[_Run],
    order: list[str],
    columns: Columns,
    path: Path,
    options: ReadOptions,
    notes: _Notes,
) -> Reading:
    ignored = [f"column {h!r}" for h in columns.unused[:25]]
    if len(columns.unused) > 25:
        ignored.append(f"{len(columns.unused) - 25} more columns")
    routes = []
    for run in runs:
        route, lost = _route(run, path, options)
        routes.append(route)
        ignored += lost
    as_columns = ", ".join(f"{kind} = {columns.headers[i]!r}" for kind, i in columns.at.items())
    total = sum(len(run.lines) for run in runs)
    used = [f"{counted(total, 'row')} in {counted(len(runs), 'run')}; columns {as_columns}"]
    guessed: list[str] = []
    if notes.comma:
        line, comma = notes.comma
        point = comma.replace(",", ".")
        said = f"commas in numbers are decimal: {comma!r} in row {line} is {point}"
        (used if notes.clear else guessed).append(said)
    if notes.feet:
        line, text = notes.feet
        used.append(f"feet and inches by their marks, such as {text} in row {line}")
    if notes.short:
        few = f"{counted(len(notes.short), 'row')} with fewer cells than headers"
        guessed.append(f"{few}: the rest taken as empty, first row {notes.short[0]}")
    if notes.continued:
        guessed.append(f"{counted(notes.continued, 'row')} without a run go with the row above")
    if len(order) > len(runs):
        guessed.append("rows of a run that stand apart were put together, in their order")
    metres = columns.metres["x"]
    return Reading(tuple(routes), tuple(used), tuple(ignored), tuple(guessed), metres)


def _route(run: _Run, path: Path, options: ReadOptions) -> tuple[ExchangeRoute, list[str]]:
    table = np.array(run.values).reshape(-1, 4)
    points = placed(table[:, :3], 1.0, ReadOptions(), path)  # already m, from the origin asked for
    again = np.zeros(len(points), dtype=bool)
    again[1:] = norm(np.diff(points, axis=0)) < COINCIDENT
    ignored = []
    if again.any():
        first = run.lines[int(np.flatnonzero(again)[0])]
        what = counted(int(again.sum()), "row")
        ignored.append(f"{what} of {run.name} at the place of the row before, first row {first}")
    keep = np.flatnonzero(~again)
    if len(keep) < 2:
        raise bad_file(
            path, f"has only one point of run {run.name!r}", "a route needs two", run.lines[0]
        )
    gone = [bool(run.changes[i] or run.boxes[i]) for i in np.flatnonzero(again).tolist()]
    if any(gone):
        ignored.append(f"{counted(sum(gone), 'pull box', 'pull boxes')} or conduits in those rows")
    route = ExchangeRoute(
        run.name,
        points[keep],
        table[keep, 3],
        tuple(run.names[i] for i in keep),
        run.start,
        None,
        tuple(run.access[i] for i in keep),
        ("", *(run.changes[i] for i in keep[1:])),
        tuple(run.boxes[i] for i in keep),
    )
    return route, ignored
