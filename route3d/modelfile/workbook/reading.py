"""A job workbook to the data of a model file, with the cell of every value."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from route3d.errors import InputError, Problem, UnitError
from route3d.modelfile.fields import brief, nearest
from route3d.modelfile.places import Cell, Place, column_letters, problem_at, told
from route3d.modelfile.toml_positions import Document, KeyPath, refuse_reversing
from route3d.modelfile.workbook.cells import BadCell, SheetCells
from route3d.modelfile.workbook.layout import (
    ITEM,
    JOB,
    LISTS,
    NAME,
    SHEETS,
    Column,
    Sheet,
    folded,
    header_and_unit,
    job_items,
    sheets,
)
from route3d.units import SYSTEMS, parse

# So many are corrected at one go.
MOST_PROBLEMS = 200
# Tables inside a cell: longer ones nobody reads there.
LONGEST_LIST = 32_767
_PLAIN = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?")
_YES = {"yes": True, "true": True, "no": False, "false": False}
_PAIR = re.compile(r"(cable|number)(?: (\d{1,3}))?")
# Nobody heads a column of values with these; more begin with "#".
_REMARKS = ("notes", "note", "remarks", "about this item")
_NOT_SAID = 'or begin its name with "#" to keep remarks there'


def is_job_workbook(path: Path) -> bool:
    """Whether a file is a workbook with the sheets of a job, and no table of survey points."""
    if path.suffix.lower() != ".xlsx":
        return False
    from route3d.formats.tables.workbook import open_sheets

    with open_sheets(path) as found:
        names = {folded(sheet.name) for sheet in found}
    return {"runs", "conduits"} <= names or {"job", "runs"} <= names


def document_of(given: Sequence[SheetCells], name: str) -> Document:
    """The data of a job workbook by the cells of its sheets; ``name`` is used in messages.

    Raises InputError with the cell of everything that cannot be read.
    """
    reading = _Reading(name)
    by_name: dict[str, SheetCells] = {}
    known = {folded(sheet.name): sheet for sheet in sheets()}
    titles = [JOB, *(sheet.name for sheet in sheets())]
    for cells in given:
        plain = folded(cells.name)
        if plain == folded(LISTS) or plain.startswith("#"):
            continue
        if plain in by_name:
            said = f"two sheets are named {by_name[plain].name}"
            reading.wrong(Cell(1, 1, cells.name, cells.number), said, "delete or rename one")
        elif plain in known or plain == folded(JOB):
            by_name[plain] = cells
            reading.notes += _hidden(cells)
        elif cells.cells:
            fix = f"{nearest(cells.name, titles)}; {_NOT_SAID}".removeprefix("; ")
            reading.wrong(Cell(1, 1, cells.name, cells.number), "unknown sheet", fix)
    if not by_name:
        fix = "`route3d new --workbook FILE.xlsx` writes one; `route3d convert` reads survey points"
        raise InputError(Problem("is not a job workbook: it has none of its sheets", "", fix, name))
    job = by_name.get(folded(JOB), SheetCells(JOB, 0))
    reading.job(job)
    for depth in range(2, 8):  # what is owned after its owners
        for plain, sheet in known.items():
            if len(sheet.path) == depth and plain in by_name:
                reading.sheet(sheet, by_name[plain])
    reading.tell_orphans(by_name.keys())
    if reading.problems:
        raise InputError(reading.in_order())
    for top in {sheet.path[0] for sheet in sheets()} | {"units"}:
        reading.values.setdefault((top,), Cell(1, 1, job.name, job.number))
    document = Document(reading.data, reading.values, reading.keys, tuple(reading.notes))
    refuse_reversing(document, name)
    return document


def _hidden(cells: SheetCells) -> list[str]:
    said = [f"sheet {cells.name} is hidden and was read"] if cells.hidden else []
    if cells.hidden_rows:
        rows = ", ".join(map(str, cells.hidden_rows[:5])) + (
            ", ..." if len(cells.hidden_rows) > 5 else ""
        )
        said.append(f"sheet {cells.name}: hidden rows were read: {rows}")
    if cells.hidden_columns:
        said.append(
            f"sheet {cells.name}: hidden columns were read: {', '.join(cells.hidden_columns[:5])}"
        )
    return said


@dataclass(frozen=True, slots=True)
class _Head:
    """A column of a sheet and the unit of its header, "" for that of the job."""

    column: Column
    unit: str
    pair: int = 0


@dataclass(slots=True)
class _Reading:
    """The data so far, the cell of each value, and what is wrong."""

    name: str
    data: dict[str, Any] = field(default_factory=dict)
    values: dict[KeyPath, Place] = field(default_factory=dict)
    keys: dict[KeyPath, Place] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)
    problems: list[tuple[Cell, Problem]] = field(default_factory=list)
    # Rows that belong to nothing: of what kind and name on which sheet, the cells, and what exists.
    orphans: dict[tuple[str, str, str], tuple[list[Cell], list[str]]] = field(default_factory=dict)

    @property
    def system(self) -> str:
        """The units of bare numbers; those of an unknown word are its own problem."""
        units = self.data.get("units")
        return units if units in SYSTEMS else "SI"

    def wrong(self, cell: Cell, message: str, fix: str = "", where: str = "") -> None:
        self.problems.append((cell, problem_at(cell, message, where, fix, self.name)))
        if len(self.problems) >= MOST_PROBLEMS:
            raise InputError(self.in_order())

    def in_order(self) -> list[Problem]:
        """The problems by sheet, row and column."""
        self.problems.sort(key=lambda p: (p[0].number, *p[0]))
        return list(dict.fromkeys(problem for _, problem in self.problems))

    # --- the sheet Job --------------------------------------------------------------------------

    def job(self, cells: SheetCells) -> None:
        """The items of the sheet Job: what it is in column A, its value in column B."""
        items = {folded(item.header): item for item in job_items()}
        first: dict[str, Cell] = {}
        given: list[tuple[_Head, Cell, object]] = []
        for row, values in cells.rows().items():
            label, value = values.get(1), values.get(2)
            cell = Cell(row, 1, cells.name, cells.number)
            if isinstance(label, BadCell):
                self.wrong(cell, label.message, label.fix)
                continue
            text, unit = header_and_unit(str(label or ""))
            if text.startswith("#") or (text, value) == ("item", "value"):
                continue
            if value is None and text not in items:
                continue  # a heading
            item = items.get(text)
            if item is None:
                said = f"unknown item {brief(label)}" if label is not None else "no item here"
                near = nearest(text, items) if label is not None else "enter the item in column A"
                self.wrong(cell, said, near)
                continue
            if text in first:
                self.wrong(cell, f"duplicate item, first in cell A{first[text][0]}", "remove one")
                continue
            first[text] = cell
            at = Cell(row, 2, cells.name, cells.number)
            self.values[item.path] = at
            for end in range(1, len(item.path)):
                self.values.setdefault(item.path[:end], at)
            if value is None:
                continue
            if item.path == ("units",):
                self.data["units"] = self.value(value, _Head(item, ""), at)
                continue
            given.append((_Head(item, unit), at, value))
        for head, at, value in given:
            unit = self.unit(head.column, head.unit, Cell(at[0], 1, at.sheet, at.number))
            read = self.value(value, _Head(head.column, unit), at)
            if read is not None:
                _put(self.data, head.column.path, read)

    # --- the other sheets -----------------------------------------------------------------------

    def sheet(self, sheet: Sheet, cells: SheetCells) -> None:
        """The tables of one sheet, a row each."""
        rows = cells.rows()
        if not rows:
            return
        top, headers = next(iter(rows.items()))
        self.values.setdefault(tuple(sheet.path[:1]), Cell(top, 1, cells.name, cells.number))
        owners, heads = self.heads(sheet, headers, cells, top)
        if owners is None:
            return
        above: list[str] | None = []
        for row in list(rows)[1:]:
            above = self.row(sheet, cells, row, rows[row], owners, heads, above)

    def heads(
        self, sheet: Sheet, headers: Mapping[int, object], cells: SheetCells, top: int
    ) -> tuple[list[int] | None, dict[int, _Head]]:
        """The columns of the owners, and those of the values; no owners where one is missing."""
        own = {folded(header): header for header in sheet.owners}
        known = {folded(column.header): column for column in sheet.columns}
        found: dict[str, int] = {}
        heads: dict[int, _Head] = {}
        for at, header in headers.items():
            cell = Cell(top, at, cells.name, cells.number)
            if isinstance(header, BadCell):
                self.wrong(cell, header.message, header.fix)
                continue
            text, unit = header_and_unit(str(header))
            if str(header).startswith("#") or text in _REMARKS:
                continue
            pair = _PAIR.fullmatch(text) if {"cable", "number"} <= known.keys() else None
            if text not in known and text not in own and pair is None:
                fix = f"{nearest(text, [*own, *known])}; {_NOT_SAID}".removeprefix("; ")
                self.wrong(cell, f"unknown column {brief(header)}", fix)
            elif text in found:
                first = column_letters(found[text])
                self.wrong(cell, f"duplicate column, first in {first}{top}", "remove one")
            else:
                found[text] = at
                if text in own:
                    continue
                column = known[pair[1]] if pair else known[text]
                number = int(pair[2] or 1) if pair else 0
                heads[at] = _Head(column, self.unit(column, unit, cell), number)
        missing = [header for plain, header in own.items() if plain not in found]
        for header in missing:
            cell = Cell(top, 1, cells.name, cells.number)
            self.wrong(cell, f"there is no column {brief(header)}", "add it to the header row")
        return None if missing else [found[plain] for plain in own], heads

    def unit(self, column: Column, unit: str, cell: Cell) -> str:
        """The unit of a header where it is not that of the job; what is wrong with it is told."""
        own = column.unit(self.system)
        if not unit or unit == own:
            return ""
        for quantity in (column.quantity, column.other_quantity):
            if column.kind == "quantity" and quantity:
                try:
                    parse(f"1 {unit}", quantity, self.system)
                except UnitError:
                    continue
                return unit
        said = f"{brief(unit)} is not a unit of {column.header}"
        self.wrong(
            cell, said, f"write {column.header} ({own})" if own else f"write {column.header}"
        )
        return ""

    def row(
        self,
        sheet: Sheet,
        cells: SheetCells,
        row: int,
        values: Mapping[int, object],
        owners: Sequence[int],
        heads: Mapping[int, _Head],
        above: list[str] | None,
    ) -> list[str] | None:
        """One row of a sheet; the owners it has, which the next row takes where it names none.

        None where the cell that names them cannot be read, which is told once.
        """

        def cell(column: int) -> Cell:
            return Cell(row, column, cells.name, cells.number)

        if not any(c in heads or c in owners for c in values):
            return above  # remarks only
        names = []
        text = Column("name", (), "text")
        for i, column in enumerate(owners):
            inherits = not (sheet.named and i == len(owners) - 1)
            given = values.get(column)
            name = None if given is None else self.value(given, _Head(text, ""), cell(column))
            if given is None and inherits and above is None:
                return None
            if given is None and inherits and above and i < len(above):
                name = above[i]
            if name is None:
                if given is not None and inherits:
                    return None
                if given is None:
                    header = sheet.owners[i]
                    self.wrong(cell(column), f"{header} is missing", "fill it in, or clear the row")
                return above
            names.append(str(name))
        if not any(c in heads for c in values) and not sheet.named:
            return names  # a name filled down below the table
        self.add(sheet, names, values, heads, cell, owners)
        return names if not sheet.named else names[:-1]

    def add(
        self,
        sheet: Sheet,
        names: Sequence[str],
        values: Mapping[int, object],
        heads: Mapping[int, _Head],
        cell: Any,
        owners: Sequence[int],
    ) -> None:
        """Put the table of a row where it belongs."""
        holder, path = self.holder(sheet, names, cell, owners)
        if holder is None:
            return
        first = cell(owners[-1] if sheet.named else min(heads, default=1))
        if sheet.named:
            name = names[-1]
            if name in holder:
                place = self.values.get((*path, name))
                at = f"{column_letters(place[1])}{place[0]}" if place else "above"
                self.wrong(first, f"two rows are named {brief(name)}, the first in {at}", "rename")
                return
            path = (*path, name)
        else:
            path = (*path, len(holder))
        words = [v.lower() for c, v in values.items() if c in heads and isinstance(v, str)]
        if words == ["none"] and sheet.key == "lead_off":
            return  # an empty list, which is there now
        self.values[path] = first
        table = self.table(path, values, heads, cell)
        if sheet.text:
            holder.append(table.get("", ""))
        elif sheet.named:
            holder[names[-1]] = table
        else:
            holder.append(table)

    def holder(
        self, sheet: Sheet, names: Sequence[str], cell: Any, owners: Sequence[int]
    ) -> tuple[Any, KeyPath]:
        """The dictionary or list that the tables of a sheet go into, and its key path."""
        at: Any = self.data
        path: KeyPath = ()
        left = list(names)
        *inner, last = sheet.path
        for i, part in enumerate(inner):
            if part in (NAME, ITEM):
                name = left.pop(0)
                key = _number_of(at, name) if part == ITEM else (name if name in at else None)
                if key is None:
                    kind = sheet.owners[len(names) - len(left) - 1]
                    column = owners[len(names) - len(left) - 1]
                    known = list(at) if part == NAME else [str(entry.get("name")) for entry in at]
                    found, _ = self.orphans.setdefault((kind, sheet.name, name), ([], known))
                    found.append(cell(column))
                    return None, ()
                at, path = at[key], (*path, key)
                continue
            following = inner[i + 1] if i + 1 < len(inner) else last
            at = at.setdefault(part, [] if following == ITEM else {})
            path = (*path, part)
            if not isinstance(at, dict | list):  # a value of this name stands in another sheet
                self.wrong(cell(owners[0] if owners else 1), f"{part} is given twice", "remove one")
                return None, ()
        return at, path

    def tell_orphans(self, given: Collection[str]) -> None:
        """Rows that belong to nothing, once for each name; the cause alone where one is known."""
        for kind in dict.fromkeys(kind for kind, _, _ in self.orphans):
            ours = {key: value for key, value in self.orphans.items() if key[0] == kind}
            where = SHEETS.get("ends" if kind == "end" else kind, kind)
            if folded(where) not in given:
                cells, _ = next(iter(ours.values()))
                fix = f"add it, with a row for each {kind}"
                self.wrong(cells[0], f"belongs to a {kind}, and there is no sheet {where}", fix)
                continue
            entries = self.data.get(kind) if kind == "run" else None
            if self.tell_repeated(kind, entries if isinstance(entries, list) else []):
                continue
            for (_, _, name), (cells, known) in ours.items():
                rows = "" if len(cells) == 1 else f" ({len(cells):,} rows)"
                fix = nearest(name, list(dict.fromkeys(known))) or f"add it to the sheet {where}"
                self.wrong(cells[0], f"there is no {kind} {brief(name)}{rows}", fix)

    def tell_repeated(self, kind: str, entries: Sequence[Mapping[str, Any]]) -> bool:
        """Tell the entries that bear the name of an earlier one; whether there are any."""
        first: dict[object, int] = {}
        found = False
        for i, name in enumerate(entry.get("name") for entry in entries):
            at, was = (self.values.get((kind, n, "name")) for n in (i, first.setdefault(name, i)))
            if name is not None and at is not was and isinstance(at, Cell):
                said = f"two {kind}s are named {brief(name)}, the first{told(was)}"
                self.wrong(at, said, f"give each {kind} a unique name")
                found = True
        return found

    def table(
        self, path: KeyPath, values: Mapping[int, object], heads: Mapping[int, _Head], cell: Any
    ) -> dict[str, Any]:
        """The values of a row as a table, each with its cell kept."""
        table: dict[str, Any] = {}
        pairs: dict[int, dict[str, tuple[Cell, Any]]] = {}
        for column, head in heads.items():
            at, given = cell(column), values.get(column)
            where = (*path, *head.column.path)
            for end in range(len(path) + 1, len(where) + 1):
                self.values.setdefault(where[:end], at)
            if given is None:
                continue
            self.values[where] = at
            read = self.value(given, head, at)
            if read is None:
                continue
            if head.pair:
                pairs.setdefault(head.pair, {})[head.column.kind] = at, read
            elif not head.column.path:
                table[""] = read
            else:
                _put(table, head.column.path, read)
        self.short_lists(table, path, heads, cell)
        for number, pair in sorted(pairs.items()):
            self.pair(table, path, number, pair)
        for key, inner in table.items():
            if isinstance(inner, dict) and list(inner) == ["value"]:
                table[key] = inner["value"]
        return table

    def pair(
        self, table: dict[str, Any], path: KeyPath, number: int, pair: dict[str, tuple[Cell, Any]]
    ) -> None:
        """The number of one cable."""
        what = "" if number == 1 else f" {number}"
        if len(pair) < 2:
            ((there, (at, _)),) = pair.items()
            missing = "number" if there == "cable" else "cable"
            self.wrong(at, f"{there}{what} without {missing}{what}", "fill in both")
            return
        at, name = pair["cable"]
        cables = table.setdefault("cables", {})
        if name in cables:
            self.wrong(at, f"cable {brief(name)} is given twice", "add the numbers, in one of them")
        self.values[(*path, "cables", name)], cables[name] = pair["number"]
        self.keys[(*path, "cables", name)] = at

    def short_lists(
        self, table: dict[str, Any], path: KeyPath, heads: Mapping[int, _Head], cell: Any
    ) -> None:
        """The parts of lists of fixed length in order; a part that is missing is told."""
        parts: dict[str, list[tuple[int, _Head]]] = {}
        for column, head in heads.items():
            if isinstance(head.column.path[-1:] and head.column.path[-1], int):
                parts.setdefault(str(head.column.path[-2]), []).append((column, head))
        for key, columns in parts.items():
            given = table.get(key)
            if not isinstance(given, dict):
                continue
            for column, head in columns:
                if head.column.path[-1] not in given and not self.told(cell(column)):
                    said = f"{head.column.header} is missing"
                    self.wrong(cell(column), said, "fill it in")
            table[key] = [given[i] for i in sorted(given)]

    def told(self, cell: Cell) -> bool:
        """Whether a problem with a cell is known already."""
        return any(c == cell and c.number == cell.number for c, _ in self.problems)

    # --- one value ------------------------------------------------------------------------------

    def value(self, given: object, head: _Head, at: Cell) -> Any:
        """What a cell holds, as a model file would; None, and a problem noted, where nothing."""
        column = head.column
        if isinstance(given, BadCell):
            self.wrong(at, given.message, given.fix)
            return None
        if isinstance(given, date | datetime | time | timedelta):
            if isinstance(given, date) and column.header.endswith("date"):
                return given.isoformat()[:10]
            fix = "format the cell as text and type the value again: a spreadsheet makes 3/4 a date"
            self.wrong(at, f"contains a date or time, {given}", fix)
            return None
        if column.kind == "yes":
            word = given.lower() if isinstance(given, str) else given
            if isinstance(word, bool):
                return word
            if isinstance(word, str) and word in _YES:
                return _YES[word]
            self.wrong(at, f"{brief(given)} is neither yes nor no", "write yes or no")
            return None
        if isinstance(given, bool):
            self.wrong(at, f"{str(given).upper()} is no {column.header}", "correct the cell")
            return None
        return _read(column, given, head.unit, self, at)


def _read(column: Column, given: object, unit: str, reading: _Reading, at: Cell) -> Any:
    """A number or a text as the kind of column asks for it."""
    if isinstance(given, float) and given.is_integer() and abs(given) < 1e15:
        given = int(given)
    if column.kind == "quantity":
        plain = isinstance(given, str) and _PLAIN.fullmatch(given)
        if unit and (plain or isinstance(given, int | float)):
            return f"{given} {unit}"
        own = column.unit(reading.system)
        return f"{given} {own}" if plain and own else given
    if column.kind in ("text", "cable", "word"):
        return str(given)
    if column.kind in ("count", "number") and isinstance(given, str) and given.isdecimal():
        return int(given) if len(given) < 10 else given
    if column.kind == "words":
        text = str(given)
        if text.startswith("["):
            return _listed(text, reading, at)
        by = r"[\s,;+/]+" if column.words else r"\s*[,;]\s*"
        return [word for word in re.split(by, text) if word]
    if column.kind == "any" and isinstance(given, str) and given[:1] in "[{":
        return _listed(given, reading, at)
    return given


def _listed(text: str, reading: _Reading, at: Cell) -> Any:
    """A list or a table in a cell, written as in a model file."""
    said = "is not a list as a model file has it"
    try:
        read = tomllib.loads(f"v = {text}") if len(text) <= LONGEST_LIST else {}
    except (ValueError, RecursionError) as error:
        read, said = {}, f"{said}: {str(error).partition(' (at')[0][:80].lower()}"
    if list(read) != ["v"]:
        reading.wrong(at, said, "write it in brackets, such as [[0, 14], [500, 12]]")
        return None
    return read["v"]


def _number_of(entries: list[dict[str, Any]], name: str) -> int | None:
    return next((i for i, entry in enumerate(entries) if entry.get("name") == name), None)


def _put(table: dict[str, Any], path: KeyPath, value: Any) -> None:
    """A value at a key path; parts of a list stand by their number until it is whole."""
    *inner, last = path
    at: Any = table
    for key in inner:
        at = at.setdefault(key, {})
    at[last] = value
