"""The rows of a table of survey points made routes; what is wrong is told by row and column."""

from __future__ import annotations

import math
import re
from array import array
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from route3d.errors import InputError, Problem, UnitError
from route3d.formats.exchange import (
    Box,
    ExchangeRoute,
    ImportedRoutes,
    ReadOptions,
    bad_file,
    counted,
    meters_per_unit,
    placed,
)
from route3d.geometry.fillet import COINCIDENT
from route3d.geometry.vectors import norm
from route3d.modelfile.fields import brief, nearest
from route3d.units import METERS, parse

# --- the rows of a table of survey points made routes; what is wrong is told by row and column

Cell = object
MOST_PROBLEMS = 20
# No vault is larger than this, m; a box in wrong units is.
LARGEST_BOX = 100.0
# More are a scan, not a survey; they would take longer than a person waits.
MOST_ROWS = 300_000
# Totals, dates and names below the points of a table.
MOST_FOOTER = 8
_NUMBER = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_COMMA = re.compile(r"[+-]?(?:\d+(?:,\d*)?|,\d+)(?:[eE][+-]?\d+)?", re.ASCII)
_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}", re.ASCII)
_TIMES = re.compile(r"\s*[x×*]\s*|\s+", re.I)
_ACCESS = ("reel", "machine")


@dataclass(frozen=True, slots=True)
class TableRow:
    """One row of a table: its ``line`` in the file, from 1, and its cells, None where empty.

    ``full`` where empty cells at its end are among them, so that a short row is a broken one.
    """

    line: int
    cells: tuple[Cell, ...]
    full: bool = False


@dataclass(eq=False, slots=True)
class _RunRows:
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


class _RowNotes:
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
    rows: Iterable[TableRow],
    columns: Columns,
    path: Path,
    options: ReadOptions,
    name: str,
    blank: str,
) -> ImportedRoutes:
    """The routes of the rows under a header, in the order in which their runs first appear."""
    notes = _RowNotes(path, columns, blank)
    runs: dict[str, _RunRows] = {}
    order: list[str] = []
    current = name
    wanted = max((i for i, header in enumerate(columns.headers, 1) if header), default=0)
    for row in rows:
        if row.cells.count(None) == len(row.cells):
            continue
        _refuse_width(row, columns, wanted, notes)
        current = _run_name(row, columns, current, notes)
        if current not in runs:
            runs[current] = _RunRows(current)
        if not order or order[-1] != current:
            order.append(current)
        _add(row, columns, runs[current], options, notes)
    if notes.comma and notes.point:
        (line, comma), (other, point) = notes.comma, notes.point
        said = f"mixes decimal marks: {comma!r} in row {line} and {point!r} in row {other}"
        raise bad_file(
            path, said, "use a decimal point everywhere, or a decimal comma everywhere", line
        )
    if notes.problems:
        raise InputError(notes.problems)
    if not runs:
        raise bad_file(path, "has a header and no points", "check that this is the right file")
    return _reading(list(runs.values()), order, columns, path, options, notes)


def _refuse_width(row: TableRow, columns: Columns, wanted: int, notes: _RowNotes) -> None:
    if any(cell is not None for cell in row.cells[len(columns.headers) :]):
        said = f"row {row.line} has {len(row.cells)} cells under {len(columns.headers)} headers"
        fix = (
            "use a decimal point instead of a decimal comma, and put text with separators in quotes"
        )
        notes.problems.append(Problem(said, fix=fix, file=str(notes.path), line=row.line))
        raise InputError(notes.problems)
    if row.full and len(row.cells) < wanted:
        notes.short.append(row.line)


def _cell(row: TableRow, columns: Columns, kind: str) -> Cell:
    index = columns.at.get(kind)
    return row.cells[index] if index is not None and index < len(row.cells) else None


def _text(cell: Cell) -> str:
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return "" if cell is None else " ".join(str(cell).split())


def _run_name(row: TableRow, columns: Columns, current: str, notes: _RowNotes) -> str:
    if "run" not in columns.at:
        return current
    if named := _text(_cell(row, columns, "run")):
        return named
    notes.continued += 1
    return current


def _add(
    row: TableRow, columns: Columns, run: _RunRows, options: ReadOptions, notes: _RowNotes
) -> None:
    for axis, kind in enumerate(("x", "y", "z")):
        number = _number(row, columns, kind, notes)
        run.values.append(
            (number - options.origin[axis]) * columns.meters[kind] - options.shift[axis]
        )
    radius = 0.0
    if _cell(row, columns, "radius") is not None:
        radius = _number(row, columns, "radius", notes) * columns.meters["radius"]
        if radius < 0:
            said = f"the radius {brief(_cell(row, columns, 'radius'))} is negative"
            notes.wrong(row.line, "radius", said, "remove it")
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


def _number(row: TableRow, columns: Columns, kind: str, notes: _RowNotes) -> float:
    """The number in a cell; 0, and a problem noted, where there is none."""
    cell = _cell(row, columns, kind)
    number = _read_number(cell, row, columns, notes)
    if math.isfinite(number):
        return number
    if isinstance(cell, str) and _FEET_AND_INCHES.search(cell):
        with suppress(UnitError):
            meters = parse(cell.strip(), "length", "US")
            notes.feet = notes.feet or (row.line, cell.strip())
            return meters / columns.meters[kind]
    if cell is None:
        notes.wrong(row.line, kind, notes.blank, "fill it in, or delete the row")
    elif isinstance(cell, str) and "," in cell and "." in cell:
        fix = "write it without thousands separators"
        notes.wrong(row.line, kind, f"{brief(cell)} contains both points and commas", fix)
    elif isinstance(cell, str) and "," in cell:
        fix = "write a decimal point and no thousands separator"
        notes.wrong(row.line, kind, f"{brief(cell)} contains a comma", fix)
    else:
        notes.wrong(row.line, kind, f"{brief(cell)} is not a number", "write a plain number")
    return 0.0


def _read_number(cell: Cell, row: TableRow, columns: Columns, notes: _RowNotes) -> float:
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


def _box(row: TableRow, columns: Columns, notes: _RowNotes) -> Box | None:
    """The three sizes of a pull box in a cell such as ``1.2 x 0.6 x 0.6``."""
    cell = _cell(row, columns, "box")
    if cell is None:
        return None
    sides = [_read_number(part, row, columns, notes) for part in _TIMES.split(str(cell).strip())]
    meters = columns.meters["box"]
    if len(sides) != 3 or not all(0 < side * meters < LARGEST_BOX for side in sides):
        fix = "write length x width x height, such as 1.2 x 0.6 x 0.6"
        notes.wrong(row.line, "box", f"{brief(cell)} is not a box size", fix)
        return None
    return sides[0] * meters, sides[1] * meters, sides[2] * meters


def _access(row: TableRow, columns: Columns, notes: _RowNotes) -> frozenset[str]:
    if "access" not in columns.at:
        return frozenset()
    words = re.findall(r"[^\s,;+/]+", _text(_cell(row, columns, "access")).lower())
    for word in words:
        if word not in _ACCESS:
            notes.wrong(
                row.line, "access", f"{brief(word)} is not an access type", "write reel or machine"
            )
    return frozenset(words)


# --- runs to routes ----------------------------------------------------------------------------


def _reading(
    runs: list[_RunRows],
    order: list[str],
    columns: Columns,
    path: Path,
    options: ReadOptions,
    notes: _RowNotes,
) -> ImportedRoutes:
    ignored = [f"column {h!r}" for h in columns.unused[:25]]
    if len(columns.unused) > 25:
        ignored.append(f"{len(columns.unused) - 25} more columns")
    routes = []
    guessed: list[str] = []
    for run in runs:
        route, lost = _route(run, path, options, guessed)
        routes.append(route)
        ignored += lost
    as_columns = ", ".join(f"{kind} = {columns.headers[i]!r}" for kind, i in columns.at.items())
    total = sum(len(run.lines) for run in runs)
    used = [f"{counted(total, 'row')} in {counted(len(runs), 'run')}; columns {as_columns}"]
    if notes.comma:
        line, comma = notes.comma
        point = comma.replace(",", ".")
        said = f"commas in numbers read as decimal: {comma!r} in row {line} is {point}"
        (used if notes.clear else guessed).append(said)
    if notes.feet:
        line, text = notes.feet
        used.append(f"feet and inches read by their marks, such as {text} in row {line}")
    if notes.short:
        few = f"{counted(len(notes.short), 'row')} with fewer cells than headers"
        guessed.append(f"{few}: missing cells taken as empty, first row {notes.short[0]}")
    if notes.continued:
        guessed.append(
            f"{counted(notes.continued, 'row')} without a run name assigned to the run of the row "
            "above"
        )
    if len(order) > len(runs):
        guessed.append("separated rows of the same run were joined, in file order")
    meters = columns.meters["x"]
    return ImportedRoutes(
        tuple(routes),
        tuple(used),
        tuple(ignored),
        tuple(guessed),
        meters,
        named="run" in columns.at,
    )


def _numbered_apart(names: list[str], run: str, guessed: list[str]) -> tuple[str, ...]:
    """Names of points with a number after each that repeats an earlier one; told in ``guessed``."""
    taken, made, first = {*names}, list[str](), ""
    count = 0
    seen: set[str] = set()
    for name in names:
        new, number = name, 1
        while name and new in seen | ((taken - {name}) if number > 1 else set()):
            number += 1
            new = f"{name} {number}"
        if new != name:
            count += 1
            first = first or f"{name!r} became {new!r}"
        seen.add(new)
        made.append(new)
    if count:
        guessed.append(f"{run}: {counted(count, 'repeated name')} of points numbered: {first}")
    return tuple(made)


def _route(
    run: _RunRows, path: Path, options: ReadOptions, guessed: list[str]
) -> tuple[ExchangeRoute, list[str]]:
    table = np.array(run.values).reshape(-1, 4)
    points = placed(table[:, :3], 1.0, ReadOptions(), path)  # already m, from the origin asked for
    again = np.zeros(len(points), dtype=bool)
    again[1:] = norm(np.diff(points, axis=0)) < COINCIDENT
    ignored = []
    if again.any():
        first = run.lines[int(np.flatnonzero(again)[0])]
        what = counted(int(again.sum()), "row")
        ignored.append(
            f"{what} of {run.name} at the same position as the row before, first row {first}"
        )
    keep = np.flatnonzero(~again)
    if len(keep) < 2:
        raise bad_file(
            path, f"has only one point of run {run.name!r}", "a route requires two", run.lines[0]
        )
    gone = [bool(run.changes[i] or run.boxes[i]) for i in np.flatnonzero(again).tolist()]
    if any(gone):
        ignored.append(f"{counted(sum(gone), 'pull box', 'pull boxes')} or conduits in those rows")
    route = ExchangeRoute(
        run.name,
        points[keep],
        table[keep, 3],
        _numbered_apart([run.names[i] for i in keep], run.name, guessed),
        run.start,
        None,
        tuple(run.access[i] for i in keep),
        ("", *(run.changes[i] for i in keep[1:])),
        tuple(run.boxes[i] for i in keep),
    )
    return route, ignored


# --- which column of a table is x, y, z, radius and the rest, by the names people give them -

# Headers in lower case, without unit; the first match is not preferred: two of a kind are asked.
NAMES: dict[str, tuple[str, ...]] = {
    "x": ("x", "easting", "eastings", "east", "e"),
    "y": ("y", "northing", "northings", "north", "n"),
    "z": ("z", "level", "elevation", "elev", "height", "altitude", "reduced level", "rl"),
    "radius": ("radius", "bend radius", "bend", "bend r", "r"),
    "name": ("name", "point", "point name", "vertex", "label"),
    "run": ("run", "run name", "route", "feeder", "alignment"),
    "access": ("access",),
    "conduit": ("conduit",),
    "box": ("box", "pull box"),
}
# Headers of the names of points where there is none of the others.
DESCRIPTIONS = ("description", "desc")
NEEDED = ("x", "y", "z")
LENGTHS = (*NEEDED, "radius", "box")
_UNITS = {
    **{u: u for u in METERS},
    **dict.fromkeys(("metre", "metres", "meter", "meters"), "m"),
    **dict.fromkeys(("foot", "feet"), "ft"),
    **dict.fromkeys(("inch", "inches"), "in"),
    **dict.fromkeys(("usft", "ftus", "us ft", "us survey ft", "us survey feet"), "us-ft"),
}
_HEADER = re.compile(
    r"(?P<name>.*?)\s*(?:\((?P<a>[^()]*)\)|\[(?P<b>[^\[\]]*)\]|_(?P<c>m|mm|ft|in))?"
)


@dataclass(frozen=True, slots=True)
class Columns:
    """Where each kind of value stands: ``at`` index by kind; ``meters`` in its unit by kind.

    ``headers`` are all headers of the table as given; ``unused`` those that are not read.
    ``decimal_comma`` says whether a comma in a number can be one, as it does not separate cells.
    """

    at: Mapping[str, int]
    meters: Mapping[str, float]
    headers: tuple[str, ...]
    unused: tuple[str, ...]
    line: int
    decimal_comma: bool = False


def find_columns(
    row: TableRow, options: ReadOptions, path: Path, *, decimal_comma: bool = False
) -> Columns:
    """The columns by their header row, or by ``options.columns``.

    Raises InputError "names no column ..." where x, y or z is missing, and for a header given
    twice or a unit not known.
    """
    headers = tuple("" if c is None else " ".join(str(c).split()) for c in row.cells)
    named = [_name_and_unit(h) for h in headers]
    at = {}
    for kind in NAMES:
        if (index := _column(kind, headers, named, options, path, row.line)) is not None:
            at[kind] = index
    if missing := [kind for kind in NEEDED if kind not in at]:
        raise _missing(missing, headers, path, row.line)
    own = {
        kind: _unit(headers[at[kind]], named[at[kind]][1], path) for kind in LENGTHS if kind in at
    }
    if "name" not in at and "name" not in options.columns:
        described = [i for i, (name, _) in enumerate(named) if name in DESCRIPTIONS]
        if len(described) == 1 and described[0] not in at.values():
            at["name"] = described[0]
    unused = tuple(h for i, h in enumerate(headers) if h and i not in at.values())
    meters = _meters(own, headers, at, options, path)
    return Columns(at, meters, headers, unused, row.line, decimal_comma)


# --- tables without a header: columns by number ---------------------------------------------------


def column_numbers(options: ReadOptions) -> dict[str, int]:
    """The numbers of columns, from 1, where ``options.columns`` gives numbers and no headers."""
    given = options.columns
    if not all(kind in given and given[kind].isdecimal() for kind in NEEDED):
        return {}
    return {kind: int(number) for kind, number in given.items() if number.isdecimal()}


def numbered_columns(
    head: Sequence[TableRow], options: ReadOptions, path: Path, *, decimal_comma: bool = False
) -> tuple[Columns, int]:
    """The columns of a table without header, and how many rows of ``head`` are above its points.

    Raises InputError where a number is outside the table, or is given twice.
    """
    numbers = column_numbers(options)
    wide = max(len(row.cells) for row in head)
    for kind, number in options.columns.items():
        if not number.isdecimal():
            raise bad_file(path, f"--map gives numbers and the header {number!r}", "use numbers")
        if not 1 <= int(number) <= wide:
            said = f"has no column {number} for {kind}: it has {counted(wide, 'column')}"
            raise bad_file(path, said, "count the columns from 1")
    if len(set(numbers.values())) < len(numbers):
        raise bad_file(path, "one column is requested twice", "give each its own number")
    at = {kind: number - 1 for kind, number in numbers.items()}
    headers = tuple(f"column {i}" for i in range(1, wide + 1))
    common = meters_per_unit(options, None, path)
    unused = tuple(h for i, h in enumerate(headers) if i not in at.values())
    meters = dict.fromkeys((kind for kind in LENGTHS if kind in at), common)
    columns = Columns(at, meters, headers, unused, 0, decimal_comma)
    start = next((i for i, row in enumerate(head) if _numbers_in(row, columns)), 0)
    return columns, start


_FOOTER = re.compile(
    r"\W*(end|eof|totals?|sum|count|average|mean|minimum|maximum|number of points)\b", re.I
)


def is_footer(texts: Iterable[object]) -> bool:
    """Whether the first text of a row is a word that ends tables."""
    first = next((t for t in texts if t is not None), None)
    return isinstance(first, str) and _FOOTER.match(first) is not None


def _numbers_in(row: TableRow, columns: Columns) -> int:
    """How many of x, y and z are numbers in a row."""
    cells = (_cell(row, columns, kind) for kind in NEEDED)
    return sum(isinstance(c, int | float) or _looks_like_number(c) for c in cells)


def _looks_like_number(cell: Cell) -> bool:
    return isinstance(cell, str) and any(c.isdigit() for c in cell)


def without_footer(
    rows: Iterable[TableRow], columns: Columns, below: list[TableRow]
) -> Iterator[TableRow]:
    """The rows but those at the end that are no points; these go into ``below``.

    Such as a count or a mean in the language of the file: a word, and one number where x, y and z
    are wanted. A number in the word, or the name of a run, makes it a point that lacks the rest.

    Many of them, or a table of nothing else, are points that cannot be read.
    """
    points = 0
    runs: set[str] = set()
    for row in rows:
        numbers = _numbers_in(row, columns)
        flat = [_cell(row, columns, kind) for kind in ("x", "y")]
        word = next((c for c in row.cells if c is not None), None)
        worded = isinstance(word, str) and not any(c.isdigit() for c in word) and word not in runs
        total = numbers == 1 and None in flat and worded
        if numbers == 0 or total or (numbers < 3 and is_footer(row.cells)):
            if any(c is not None for c in row.cells):
                below.append(row)
            continue
        yield from below  # there are points after them: they are for the reader of rows to judge
        below.clear()
        points += 1
        runs.add(_text(_cell(row, columns, "run")))
        yield row
    if not points or len(below) > MOST_FOOTER:
        yield from below
        below.clear()


def _name_and_unit(header: str) -> tuple[str, str]:
    """Name in lower case and unit text of a header such as ``Easting [m]``."""
    match = _HEADER.fullmatch(header)
    if match is None:  # the pattern takes any text of one line
        return header.lower(), ""
    unit = match["a"] or match["b"] or match["c"] or ""
    return match["name"].replace("_", " ").strip(" .").lower(), unit.strip().lower()


def _column(
    kind: str,
    headers: tuple[str, ...],
    named: list[tuple[str, str]],
    options: ReadOptions,
    path: Path,
    line: int,
) -> int | None:
    wanted = options.columns.get(kind)
    if wanted is not None:
        folded = [h.lower() for h in headers]
        names = [name for name, _ in named]
        for known in (folded, names):
            if known.count(wanted.strip().lower()) == 1:
                return known.index(wanted.strip().lower())
        said = f"has no column {wanted!r}, requested as {kind}"
        fix = nearest(wanted, [h for h in headers if h])
        raise InputError(Problem(said, fix=fix, file=str(path), line=line))
    taken = {w.strip().lower() for w in options.columns.values()}
    found = [
        i
        for i, (name, _) in enumerate(named)
        if name in NAMES[kind] and headers[i].lower() not in taken and name not in taken
    ]
    if len(found) > 1:
        both = " and ".join(repr(headers[i]) for i in found)
        fix = f"select with --map {kind}={headers[found[0]]!r}"
        raise InputError(
            Problem(f"{both} could both be {kind}", fix=fix, file=str(path), line=line)
        )
    return found[0] if found else None


class MissingColumns(InputError):
    """A row that does not name all the columns needed; ``missing`` of them."""

    missing = 0


def _missing(missing: list[str], headers: tuple[str, ...], path: Path, line: int) -> InputError:
    shown = ", ".join(repr(h[:40]) for h in headers[:12] if h) or "nothing"
    said = f"has no column for {', '.join(missing)}; columns: {shown}"
    if {"lat", "latitude", "lon", "longitude"} & {h.lower() for h in headers}:
        fix = "degrees are not read from tables: use projected coordinates, or GeoJSON"
    else:
        fix = f"name the columns in the first row, or use --map {missing[0]}=HEADER"
        if not any(h[:1].isalpha() for h in headers[:4]):
            fix = "for a file without header use --order PNEZD or --map x=3,y=2,z=4,name=5"
    error = MissingColumns(Problem(said, fix=fix, file=str(path), line=line))
    error.missing = len(missing)
    return error


def _unit(header: str, unit: str, path: Path) -> str | None:
    """The unit a header gives, as a key of ``METERS``; None where it gives none."""
    if not unit:
        return None
    if unit in _UNITS:
        return _UNITS[unit]
    said = f"column {header!r} has the unit {unit!r}, which is not a known length unit"
    raise InputError(Problem(said, fix=f"known units: {', '.join(METERS)}", file=str(path)))


def _meters(
    own: dict[str, str | None],
    headers: tuple[str, ...],
    at: dict[str, int],
    options: ReadOptions,
    path: Path,
) -> dict[str, float]:
    """Meters per unit of each column of lengths; a column without unit has that of x."""
    for kind, unit in own.items():
        if unit and options.units and unit != options.units and kind in NEEDED:
            said = f"column {headers[at[kind]]!r} is in {unit}, but --units is {options.units}"
            raise InputError(Problem(said, fix="omit --units", file=str(path)))
    shared = next((unit for kind in NEEDED if (unit := own[kind])), None)
    common = meters_per_unit(options, shared, path)
    return {kind: METERS[unit] if unit else common for kind, unit in own.items()}
