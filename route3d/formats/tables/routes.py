"""Routes from and to tables of survey points: CSV and XLSX, one row for each point."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import chain, islice
from pathlib import Path

from route3d.disk import read_bytes, read_text, write_bytes_atomic, write_text_atomic
from route3d.errors import InputError, Problem
from route3d.formats.exchange import (
    LARGEST_FILE,
    ExchangeRoute,
    ImportedRoutes,
    ReadOptions,
    bad_file,
    counted,
    refuse_empty,
    tidy,
)
from route3d.formats.tables.points import (
    MOST_ROWS,
    Columns,
    MissingColumns,
    TableRow,
    column_numbers,
    find_columns,
    is_footer,
    numbered_columns,
    routes_of_rows,
    without_footer,
)
from route3d.model.site import GRID, Frame
from route3d.spreadsheet import as_given, harmless
from route3d.units import METERS, system_of

SEPARATORS = (",", ";", "\t", "|")
# A header stands within so many rows; titles may stand above it.
HEADER_WITHIN = 20


# --- in ----------------------------------------------------------------------------------------


def read_csv(path: Path, options: ReadOptions) -> ImportedRoutes:
    """Read survey points from CSV text, separated by comma, semicolon, tab or bar.

    A header row names the columns (``table_columns``), or ``options.columns`` numbers them; a file
    without header may be separated by spaces. Decimals have a point, or a comma where no cells are
    separated by it. Raises InputError with row and column of what cannot be read.
    """
    text, encoding, sure = _survey_text(path)
    if "\x00" in text:
        raise bad_file(path, "is not text: it contains null characters", "save it as UTF-8 CSV")
    numbered = column_numbers(options)
    separator = _separator(text, path, spaces=bool(numbered))
    if separator == " ":
        rows = _spaced_rows(text, max(numbered.values()))
    else:
        rows = _csv_rows(text, separator, path)
    reading = read_table(rows, path, options, path.stem, decimal_comma=separator != ",")
    used, guessed = list(reading.used), list(reading.guessed)
    if encoding:
        (used if sure else guessed).append(f"text read as {encoding}")
    if not text.endswith(("\n", "\r")):
        note = "the last row is taken as complete, although the file has no final line end"
        guessed.append(note)
    return replace(reading, used=tuple(used), guessed=tuple(guessed))


def _survey_text(path: Path) -> tuple[str, str, bool]:
    """The text of a table, its encoding where it is not UTF-8, and whether that is certain.

    Survey programs on Windows write cp1252 or UTF-16, the latter with a mark at its start or not.
    """
    data = read_bytes(path, limit=LARGEST_FILE)
    marks = {b"\xff\xfe": "utf-16-le", b"\xfe\xff": "utf-16-be"}
    if marked := marks.get(data[:2]):
        return _decoded(data[2:], marked, path), "UTF-16", True
    head = data[:4096]
    zeros = head[1::2].count(0), head[0::2].count(0)
    if max(zeros) > len(head) // 4 and min(zeros) == 0:  # Latin text has a zero in each pair
        kind = "utf-16-le" if zeros[0] else "utf-16-be"
        return _decoded(data, kind, path), "UTF-16 (it has no byte order mark)", False
    try:
        return data.decode("utf-8-sig"), "", True
    except UnicodeDecodeError as error:
        try:
            text = data.decode("cp1252")
        except UnicodeDecodeError:
            read_text(path, limit=LARGEST_FILE)  # says what is wrong, with its line
            raise
        line = data[: error.start].count(b"\n") + 1
        odd = data[error.start : error.start + 1].decode("cp1252")
        return text, f"Windows text (cp1252): it is not UTF-8, first {odd!r} on line {line}", False


def _decoded(data: bytes, encoding: str, path: Path) -> str:
    try:
        return data.decode(encoding)
    except UnicodeDecodeError:
        raise bad_file(path, "is not whole UTF-16 text", "save it as UTF-8 CSV") from None


def read_xlsx(path: Path, options: ReadOptions) -> ImportedRoutes:
    """Read survey points from the sheets of an XLSX workbook that have columns x, y and z.

    ``options.layers`` names the sheets wanted. Raises InputError as ``read_csv``, and for what
    only looks like a workbook.
    """
    from route3d.formats.tables.workbook import open_sheets

    readings, passed, wrong = [], [], []
    with open_sheets(path, options.layers) as sheets:
        for sheet in sheets:
            try:
                name = path.stem if len(sheets) == 1 else sheet.name
                readings.append(read_table(sheet.rows(), path, options, name, sheet.blank))
            except NoHeader as error:
                passed.append(f"sheet {sheet.name!r}: {error.problems[0].message}")
                wrong.append(error)
    if not readings and wrong:
        raise wrong[0]
    refuse_empty(readings, path, "sheet")
    return ImportedRoutes(
        tuple(chain.from_iterable(r.routes for r in readings)),
        tuple(chain.from_iterable(r.used for r in readings)),
        (*chain.from_iterable(r.ignored for r in readings), *passed),
        tuple(chain.from_iterable(r.guessed for r in readings)),
        readings[0].meters,
        named=any(r.named for r in readings),
    )


class NoHeader(InputError):
    """No row names the columns: another sheet may."""


def read_table(
    rows: Iterable[TableRow],
    path: Path,
    options: ReadOptions,
    name: str,
    blank: str = "is empty",
    *,
    decimal_comma: bool = False,
) -> ImportedRoutes:
    """The routes of a table given row by row; ``blank`` says why a cell may hold nothing."""
    rest = iter(rows)
    head = list(islice(rest, HEADER_WITHIN))
    if not head:
        raise NoHeader(
            Problem("has no rows", fix="check that this is the right file", file=str(path))
        )
    if column_numbers(options):
        columns, at = numbered_columns(head, options, path, decimal_comma=decimal_comma)
        table, what = chain(head[at:], rest), "points"
    else:
        columns, at = _header(head, options, path, decimal_comma)
        table, what = chain(head[at + 1 :], rest), "header"
    below: list[TableRow] = []
    points = without_footer(_refuse_more(table, path), columns, below)
    reading = routes_of_rows(points, columns, path, options, name, blank)
    ignored = [f"{counted(at, 'row')} above the {what}"] if at else []
    if below:
        words = " ".join(str(c) for c in below[0].cells if c is not None)[:40]
        said = f"{counted(len(below), 'row')} below the points, from row {below[0].line}"
        ignored.append(f"{said}: {words!r}")
    return replace(reading, ignored=(*ignored, *reading.ignored))


def _header(
    head: Sequence[TableRow], options: ReadOptions, path: Path, decimal_comma: bool
) -> tuple[Columns, int]:
    """The columns by the first row that names them all; else InputError by that nearest to it."""
    nearest: MissingColumns | None = None
    for at, row in enumerate(head):
        try:
            return find_columns(row, options, path, decimal_comma=decimal_comma), at
        except MissingColumns as error:
            if nearest is None or error.missing < nearest.missing:
                nearest = error
    assert nearest is not None  # head has at least one row
    raise NoHeader(nearest.problems)


def _refuse_more(rows: Iterable[TableRow], path: Path) -> Iterator[TableRow]:
    for number, row in enumerate(rows):
        if number >= MOST_ROWS:
            raise bad_file(path, f"has more than {MOST_ROWS:,} rows", "thin out the points")
        yield row


def _csv_rows(text: str, separator: str, path: Path) -> Iterator[TableRow]:
    lines = io.StringIO(text, newline="")
    reader = csv.reader(lines, delimiter=separator, strict=True)
    wide = 0
    try:
        for cells in reader:
            if "".join(cells).strip():
                _refuse_cut(text, reader.line_num, len(cells), wide, path)
                wide = max(wide, len(cells))
                given = [as_given(c.strip()) or None for c in cells]
                yield TableRow(reader.line_num, tuple(given), full=True)
    except csv.Error as error:
        raise bad_file(path, f"is not CSV: {error}", "check its quotes", reader.line_num) from None


def _refuse_cut(text: str, line: int, cells: int, wide: int, path: Path) -> None:
    """InputError for a last row that stops before its end: the rest of the file is missing too."""
    if cells >= wide or text.endswith(("\n", "\r")):
        return
    every = text.splitlines()
    if line == len(every) and not is_footer(every[-1:]):
        said = f"ends in the middle of a row: {cells} of {wide} cells, no line end"
        raise bad_file(path, said, "get the complete file, or finish the row", line)


def _spaced_rows(text: str, columns: int) -> Iterator[TableRow]:
    """Rows separated by spaces; the last column takes the rest of the line."""
    for number, line in enumerate(text.splitlines(), 1):
        if line.strip():
            yield TableRow(number, tuple(line.split(None, columns - 1)))


def _separator(text: str, path: Path, *, spaces: bool = False) -> str:
    """The separator of the first row that has any; InputError where two may be.

    With ``spaces`` a space where no row has one of the others.
    """
    for text_line in islice(text.splitlines(), HEADER_WITHIN):
        counts = {s: _outside_quotes(text_line).count(s) for s in SEPARATORS}
        found = [s for s in SEPARATORS if counts[s] >= 2]
        if len(found) > 1:
            shown = " and ".join(repr(s) for s in found)
            raise bad_file(path, f"delimiter unclear: {shown}", "use one of them in the header")
        if found:
            return found[0]
    return " " if spaces else ","


def _outside_quotes(line: str) -> str:
    return "".join(line.split('"')[::2])


# --- out ---------------------------------------------------------------------------------------


def _radius_unit(unit: str) -> str:
    """The unit of radii and boxes beside coordinates in ``unit``."""
    return "in" if system_of(unit) == "US" else unit


def _head(unit: str) -> list[str]:
    length, radius = unit, _radius_unit(unit)
    places = [f"{axis} ({length})" for axis in "xyz"]
    return ["run", "name", *places, f"radius ({radius})", "access", "conduit", f"box ({radius})"]


def _table(routes: Sequence[ExchangeRoute], unit: str) -> Iterator[list[str | float | None]]:
    length, radius = (METERS[u] for u in (unit, _radius_unit(unit)))
    for route in routes:
        legs = (*route.conduits, route.conduits[-1])
        for i, (point, bend) in enumerate(zip(route.points, route.radii, strict=True)):
            at = [float(tidy(float(c) / length)) for c in point]
            reach = " ".join(sorted(route.access[i], reverse=True))
            bent = float(tidy(float(bend) / radius)) if bend else None
            sides = " x ".join(tidy(side / radius) for side in route.boxes[i] or ())
            yield [route.name, route.names[i], *at, bent, reach, legs[i], sides]


def write_csv(routes: Sequence[ExchangeRoute], path: Path, unit: str, frame: Frame = GRID) -> None:
    """Write the points of routes as CSV in the ``unit``; beside feet, radii are in in."""
    lines = io.StringIO()
    writer = csv.writer(lines, lineterminator="\n")
    writer.writerow(_head(unit))
    for row in _table(routes, unit):
        writer.writerow([_csv_cell(c) for c in row])
    write_text_atomic(path, lines.getvalue())


def _csv_cell(cell: str | float | None) -> str | float:
    if isinstance(cell, float):
        return tidy(cell)
    return harmless(cell or "")


def write_xlsx(routes: Sequence[ExchangeRoute], path: Path, unit: str, frame: Frame = GRID) -> None:
    """Write the points of routes as a workbook of one sheet, in the units of ``write_csv``."""
    from route3d.formats.tables.workbook import workbook_bytes

    write_bytes_atomic(path, workbook_bytes(_head(unit), _table(routes, unit)))
