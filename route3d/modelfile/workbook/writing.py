"""The data of a model file as a job workbook: sheets to fill in, with notes and drop-downs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from route3d.errors import InputError, Problem
from route3d.modelfile.fields import brief
from route3d.modelfile.places import column_letters
from route3d.modelfile.toml_edits import toml_value
from route3d.modelfile.toml_positions import KeyPath, dotted
from route3d.modelfile.workbook.layout import (
    ITEM,
    JOB,
    LISTS,
    NAME,
    Column,
    Sheet,
    job_items,
    sheets,
)

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

# A cell holds so many characters (the file format).
LONGEST_TEXT = 32_767
# Rows below the table that the drop-downs reach, for rows to come.
SPARE_ROWS = 300
# Pairs of columns for cables of a run, where no run has more.
CABLE_PAIRS = 3
# A list written into the rule itself has at most so many characters (the file format).
_LONGEST_RULE = 250
_NARROWEST, _WIDEST, _SENTENCE, _ABOUT = 9.0, 34.0, 72.0, 90.0
_MAIN = ("Job", "Cables", "Conduits", "Runs", "Legs", "Points")
_BLUE, _PALE_BLUE, _GRAY, _AMBER = "FF1F4E79", "FFDDEBF7", "FFA6A6A6", "FFFFEB9C"


def workbook_of(data: Mapping[str, Any], *, title: str = "") -> bytes:
    """The workbook of a model file's data; the same data give the same bytes.

    Raises InputError for what no cell can hold.
    """
    from openpyxl import Workbook

    from route3d.formats.tables.workbook import saved

    system = str(data["units"])
    book = Workbook()
    book.remove(book.worksheets[0])
    book.properties.title = title or str(data.get("title", ""))
    lists = _Lists(book)
    _write_job(book.create_sheet(JOB), data, system, lists)
    for sheet in sheets():
        _write_sheet(book.create_sheet(sheet.name), sheet, data, system, lists)
    lists.write()
    return saved(book)


# --- the sheets ---------------------------------------------------------------------------------


def _write_job(page: Worksheet, data: Mapping[str, Any], system: str, lists: _Lists) -> None:
    from openpyxl.styles import Alignment, Font

    from route3d.formats.tables.workbook import put

    _head(page, ["item", "value", "about this item"], [True, True, False])
    for row, item in enumerate(job_items(), 2):
        label = put(page, row, 1, item.titled(system))
        label.font = Font(bold=item.required or item.path in (("title",), ("units",)))
        value = _at(data, item.path)
        if value is not None:
            _put(page, row, 2, _cell(item, value, item.path))
        about = put(page, row, 3, item.about)
        about.font, about.alignment = Font(color="FF595959"), Alignment(wrap_text=True)
        for cell in (label, page.cell(row, 2)):
            cell.alignment = Alignment(vertical="top", wrap_text=True)
        lists.limit(page, item, f"B{row}")
    for column, width in zip("ABC", (32.0, 30.0, _ABOUT), strict=True):
        page.column_dimensions[column].width = width
    _look(page, "A2")


def _write_sheet(
    page: Worksheet, sheet: Sheet, data: Mapping[str, Any], system: str, lists: _Lists
) -> None:
    rows = list(_rows(data, sheet))
    columns = _with_pairs(sheet, [table for _, _, table in rows])
    owner = Column(
        "", (), "text", "Which of them this row belongs to. Empty: that of the row above."
    )
    own = [replace(owner, header=header, required=True) for header in sheet.owners]
    if sheet.named:
        own[-1] = replace(own[-1], about=sheet.about or "Its name, by which other sheets name it.")
    for i, column in enumerate(own):
        if not (sheet.named and i == len(own) - 1):
            own[i] = replace(column, names=_OWNERS.get(column.header, column.header))
    every = [*own, *columns]
    _head(page, [c.titled(system) for c in every], [c.required for c in every])
    for i, column in enumerate(every, 1):
        _note(page, i, column, system)
    widths = [len(c.titled(system)) + 2.0 for c in every]
    if sheet.text:
        widths[-1] = _SENTENCE  # its rows are sentences, those to come too
    for row, (names, path, table) in enumerate(rows, 2):
        for i, name in enumerate(names, 1):
            _put(page, row, i, _text(name, path))
        for i, cell in _cells(columns, table, path, len(own) + 1):
            _put(page, row, i, cell)
            if isinstance(cell, str):
                widths[i - 1] = max(widths[i - 1], len(cell) + 2.0)
    last = len(rows) + 1 + SPARE_ROWS
    for i, (column, width) in enumerate(zip(every, widths, strict=True), 1):
        letters = column_letters(i)
        wide = _SENTENCE if sheet.text and column in columns else _WIDEST
        page.column_dimensions[letters].width = min(max(width, _NARROWEST), wide)
        if column.kind in ("text", "word", "words", "any", "cable"):
            # Text stays text: a spreadsheet would make a date of the trade size 3/4.
            page.column_dimensions[letters].number_format = "@"
            for row in range(2, len(rows) + 2):
                page.cell(row, i).number_format = "@"
        lists.limit(page, column, f"{letters}2:{letters}{last}")
        if column.path == ("example",):
            _color_examples(page, letters, f"A2:{column_letters(len(every))}{last}")
    _look(page, f"{column_letters(len(own) + 1 if own else 2)}2")


# The key of the tables that an owner is one of, where it is not its header.
_OWNERS = {"end": ""}


def _with_pairs(sheet: Sheet, tables: Sequence[Any]) -> list[Column]:
    """The columns with as many pairs for cables as a run needs."""
    counts = [len(t.get("cables", ())) for t in tables if isinstance(t, dict)]
    pairs = max([CABLE_PAIRS, *counts])
    columns: list[Column] = []
    for column in sheet.columns:
        if column.kind == "cable":
            both = [column, next(c for c in sheet.columns if c.kind == "number")]
            columns += both
            for number in range(2, pairs + 1):
                columns += [replace(c, header=f"{c.header} {number}", required=False) for c in both]
        elif column.kind != "number":
            columns.append(column)
    return columns


def _rows(data: Mapping[str, Any], sheet: Sheet) -> Iterator[tuple[list[str], KeyPath, Any]]:
    """Each table of a sheet, with the names of its owners, in the order of the model file."""
    for names, path, table in _below(data, sheet.path, [], ()):
        named = [n for n in names if n is not None]
        yield named, path, table


def _below(
    at: Any, path: KeyPath, names: list[str | None], so_far: KeyPath
) -> Iterator[tuple[list[str | None], KeyPath, Any]]:
    if not path:
        yield names, so_far, at
        return
    part, rest = path[0], path[1:]
    if part == NAME:
        for name, entry in at.items():
            yield from _below(entry, rest, [*names, name], (*so_far, name))
    elif part == ITEM:
        if not at and not rest:  # a list that is there and empty
            yield names, so_far, {"turn": "none"}
        for i, entry in enumerate(at):
            name = entry["name"] if rest else None
            yield from _below(entry, rest, [*names, name], (*so_far, i))
    elif isinstance(at, Mapping) and at.get(str(part)) is not None:
        value = at[str(part)]
        if not (rest == (ITEM,) and not value and part != "lead_off"):
            yield from _below(value, rest, names, (*so_far, part))


# --- values -------------------------------------------------------------------------------------


def _cells(
    columns: Sequence[Column], table: Any, path: KeyPath, start: int
) -> Iterator[tuple[int, str | int | float]]:
    """The cells of a row that hold anything, by their column."""
    cables = list(table.get("cables", {}).items()) if isinstance(table, dict) else []
    pairs = iter([part for pair in cables for part in pair])
    for i, column in enumerate(columns, start):
        paired = column.kind in ("cable", "number")
        value = next(pairs, None) if paired else _at(table, column.path)
        if value is not None:
            yield i, _cell(column, value, (*path, *column.path))


def _at(table: Any, path: KeyPath) -> Any:
    """What a table has at a key path. A value alone stands for one key of its table.

    That is the first; of the grade a list stands for the points, anything else for the level.
    """
    for before, part in zip(("", *path), path, strict=False):
        if isinstance(table, dict):
            table = table.get(part)
        elif before == "grade":
            short = "points" if isinstance(table, list) else "level"
            return table if part == short else None
        elif isinstance(table, list):
            table = table[part] if isinstance(part, int) and part < len(table) else None
        elif part not in ("value", "file"):
            return None
    return table


def _cell(column: Column, value: Any, path: KeyPath) -> str | int | float:
    """A value as a cell holds it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if column.kind == "words" and isinstance(value, list):
        plain = all(isinstance(w, str) and w and not set(w) & set(",;[") for w in value)
        plain &= not any(w != w.strip() for w in value if isinstance(w, str))
        return _text(", ".join(value) if plain else toml_value(value), path)
    if isinstance(value, int | float):
        return value
    return _text(value if isinstance(value, str) else toml_value(value), path)


def _text(text: str, path: KeyPath) -> str:
    if len(text) > LONGEST_TEXT:
        said = f"is too long for a cell of a workbook: {len(text):,} characters"
        raise InputError(Problem(said, dotted(path), "keep this job as .toml"))
    if text != " ".join(text.splitlines()).strip():
        said = f"{brief(text)} begins or ends with a space, which a workbook does not keep"
        raise InputError(Problem(said, dotted(path), "remove the space"))
    return text


def _put(page: Worksheet, row: int, column: int, value: str | int | float) -> None:
    from route3d.formats.tables.workbook import put

    put(page, row, column, value)


# --- looks --------------------------------------------------------------------------------------


def _head(page: Worksheet, headers: Sequence[str], needed: Sequence[bool]) -> None:
    from openpyxl.styles import Alignment, Border, Font, PatternFill, Side

    from route3d.formats.tables.workbook import put

    for i, (header, must) in enumerate(zip(headers, needed, strict=True), 1):
        cell = put(page, 1, i, header)
        cell.font = Font(bold=True, color="FFFFFFFF" if must else "FF000000")
        cell.fill = PatternFill("solid", fgColor=_BLUE if must else _PALE_BLUE)
        cell.alignment = Alignment(wrap_text=True, vertical="top")
        cell.border = Border(bottom=Side("thin"))


def _note(page: Worksheet, column: int, given: Column, system: str) -> None:
    """What a column is, as a note on its header."""
    from openpyxl.comments import Comment

    about = given.about + (" Required." if given.required else "")
    if given.other_quantity:
        about += f" A number alone is in {given.unit(system)}; what is in another unit carries it."
    if about.strip():
        note = Comment(about.strip(), "route3d", width=320)
        note.height = 30 + 18 * (len(about) // 42 + 1)
        page.cell(1, column).comment = note


def _color_examples(page: Worksheet, letters: str, cells: str) -> None:
    """Rows marked as examples stand out until the mark is cleared."""
    from openpyxl.formatting.rule import FormulaRule
    from openpyxl.styles import PatternFill

    fill = PatternFill("solid", bgColor=_AMBER)
    page.conditional_formatting.add(cells, FormulaRule([f'${letters}2="yes"'], fill=fill))


def _look(page: Worksheet, corner: str) -> None:
    page.freeze_panes = corner
    page.row_dimensions[1].height = 32
    page.sheet_properties.tabColor = _BLUE if page.title in _MAIN else _GRAY
    page.page_setup.orientation = "landscape"
    page.sheet_properties.pageSetUpPr.fitToPage = True
    page.page_setup.fitToHeight = 0
    page.print_title_rows = "1:1"


# --- drop-downs ---------------------------------------------------------------------------------


def _title(page: Worksheet) -> str:
    return f"{page.title.lower()}: stock"


class _Lists:
    """The drop-downs, and the last sheet with the lists of those that are long."""

    def __init__(self, book: Workbook) -> None:
        self.book = book
        self.lists: dict[tuple[str, ...], str] = {}
        self.heads: list[tuple[str, tuple[str, ...]]] = []

    def limit(self, page: Worksheet, column: Column, cells: str) -> None:
        """A drop-down on cells: of words, of yes and no, or of the names of another sheet."""
        if column.kind == "yes":
            self._rule(page, cells, '"yes,no"', strict=True)
        elif column.kind == "word" and column.words is not None:
            self._rule(page, cells, self._listed(column.header, tuple(column.words())), strict=True)
        elif column.kind == "words" and column.words is not None:
            words = tuple(column.words())
            both = (*words, ", ".join(words)) if len(words) < 4 else words
            self._rule(page, cells, self._listed(column.header, both), strict=False)
        elif column.words is not None:
            self._rule(page, cells, self._listed(_title(page), tuple(column.words())), strict=False)
        elif column.names:
            self._rule(page, cells, _names(column.names), strict=False)
        elif column.path[-1:] == ("trade_size",):
            self._rule(page, cells, self._listed("trade size", _trade_sizes()), strict=False)

    def _listed(self, header: str, words: tuple[str, ...]) -> str:
        """The formula of a list: the words themselves, or their place on the sheet of lists."""
        text = ",".join(words)
        if len(text) <= _LONGEST_RULE and not any("," in w or '"' in w for w in words):
            return f'"{text}"'
        if words not in self.lists:
            self.heads.append((header, words))
            letters = column_letters(len(self.heads))
            self.lists[words] = f"{LISTS}!${letters}$2:${letters}${len(words) + 1}"
        return self.lists[words]

    def _rule(self, page: Worksheet, cells: str, formula: str, *, strict: bool) -> None:
        from openpyxl.worksheet.datavalidation import DataValidation

        rule = DataValidation(type="list", formula1=formula, allow_blank=True)
        rule.showErrorMessage = strict
        rule.errorTitle, rule.error = "Not in the list", "Choose one of the list."
        page.add_data_validation(rule)
        rule.add(cells)

    def write(self) -> None:
        """The sheet of lists; it is not read."""
        if not self.heads:
            return
        page = self.book.create_sheet(LISTS)
        _head(page, [head for head, _ in self.heads], [False] * len(self.heads))
        for i, (head, words) in enumerate(self.heads, 1):
            for row, word in enumerate(words, 2):
                _put(page, row, i, word)
            width = max(map(len, (head, *words))) + 2.0
            page.column_dimensions[column_letters(i)].width = min(width, 60.0)
        _look(page, "A2")


def _names(kind: str) -> str:
    """The formula of the names on the sheet of the tables of a kind."""
    sheet = next(s for s in sheets() if s.path[0] == kind and len(s.path) == 2)
    return f"'{sheet.name}'!$A$2:$A${1 + SPARE_ROWS}"


def _trade_sizes() -> tuple[str, ...]:
    """Every trade size of the tables, in order."""
    from route3d.standards.conduits import TYPES, trade_sizes

    sizes: Iterable[str] = (size for kind in TYPES for size in trade_sizes(kind))
    return tuple(dict.fromkeys(sizes))
