"""Workbooks (XLSX): their cells row by row, with bombs refused before anything is unpacked."""

from __future__ import annotations

import io
import re
import shutil
import tempfile
import warnings
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import IO, Any

from route3d.disk import broken_workbook, read_bytes, refuse_bomb
from route3d.errors import InputError
from route3d.formats.exchange import LARGEST_FILE, bad_file
from route3d.formats.tables.points import MOST_ROWS, TableRow
from route3d.modelfile.fields import nearest

MOST_COLUMNS = 100
_IN_MEMORY = 8_000_000  # bytes of a workbook that is being made
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f]")


@dataclass(frozen=True, slots=True)
class WorkbookSheet:
    """One sheet of an open workbook; ``blank`` says what an empty cell may be."""

    name: str
    sheet: Any
    path: Path
    blank: str = "is empty, merged with another cell, or a formula without a saved value"

    def rows(self) -> Iterator[TableRow]:
        """The rows that hold anything; InputError where the sheet is broken."""
        try:
            self.sheet.reset_dimensions()  # the file may claim any size
            for line, cells in enumerate(
                self.sheet.iter_rows(max_col=MOST_COLUMNS, values_only=True), 1
            ):
                if line > MOST_ROWS:
                    raise bad_file(
                        self.path,
                        f"has a row {line:,} in {self.name!r}",
                        "check that the file is intact",
                    )
                if any(c is not None for c in cells):
                    yield TableRow(line, _trimmed(cells))
        except InputError:
            raise
        except Exception as error:  # each layer under openpyxl has errors of its own
            raise broken_workbook(self.path, error) from None


def _trimmed(cells: Sequence[object]) -> tuple[object, ...]:
    """Cells up to the last that is not empty; blank text counts as empty."""
    end = len(cells)
    while end and cells[end - 1] is None:  # rows come padded to the widest
        end -= 1
    clean = [None if isinstance(c, str) and not c.strip() else c for c in cells[:end]]
    while clean and clean[-1] is None:
        clean.pop()
    return tuple(clean)


@contextmanager
def open_sheets(path: Path, wanted: Sequence[str] = ()) -> Iterator[list[WorkbookSheet]]:
    """The sheets of a workbook, or those of the names wanted.

    Raises InputError for what is no workbook, is packed like a bomb, or lacks a sheet wanted.
    """
    import openpyxl

    data = read_bytes(path, limit=LARGEST_FILE)
    refuse_bomb(data, path)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # about styles and extensions that are not read here
        try:
            book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        except Exception as error:
            raise broken_workbook(path, error) from None
        try:
            names = [s.title for s in book.worksheets]
            for name in wanted:
                if name not in names:
                    raise bad_file(path, f"has no sheet {name!r}", nearest(name, names))
            yield [
                WorkbookSheet(s.title, s, path)
                for s in book.worksheets
                if not wanted or s.title in wanted
            ]
        finally:
            book.close()


def workbook_bytes(head: Sequence[str], rows: Iterable[Sequence[str | float | None]]) -> bytes:
    """A workbook of one sheet: a bold header that stays in view, texts, and numbers in full."""
    from openpyxl import Workbook
    from openpyxl.styles import Font

    book = Workbook()
    sheet = book.worksheets[0]
    sheet.title, sheet.freeze_panes = "route", "A2"
    for number, row in enumerate((head, *rows), 1):
        for column, value in enumerate(row, 1):
            if value is not None:
                put(sheet, number, column, value)
    for cell in sheet[1]:
        cell.font = Font(bold=True)
    return saved(book)


def put(sheet: Any, row: int, column: int, value: str | float | date) -> Any:
    """Write a cell and return it; text stays text, whatever it begins with or has in it."""
    if isinstance(value, str):
        return text_into(sheet.cell(row, column), value)
    return sheet.cell(row, column, value)


def text_into(cell: Any, text: str) -> Any:
    """The cell with a text, whatever that begins with or has in it."""
    cell.value = _CONTROL.sub(lambda found: f"_x{ord(found[0]):04X}_", text)  # as the format has it
    cell.data_type = "s"
    return cell


def saved(book: Any) -> bytes:
    """The bytes of a workbook, the same for the same contents: its parts bear one fixed time."""
    fixed = io.BytesIO()
    save_to(fixed, book)
    return fixed.getvalue()


def save_to(file: IO[bytes], book: Any) -> None:
    """Write a workbook as ``saved`` makes it, piece by piece."""
    from openpyxl.writer.excel import ExcelWriter

    book.properties.created = book.properties.modified = datetime(2000, 1, 1)
    with tempfile.SpooledTemporaryFile(_IN_MEMORY) as made:
        with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
            ExcelWriter(book, archive).save()
        with zipfile.ZipFile(made) as parts, zipfile.ZipFile(file, "w") as archive:
            for part in parts.infolist():
                entry = zipfile.ZipInfo(part.filename, (2000, 1, 1, 0, 0, 0))
                entry.compress_type, entry.file_size = zipfile.ZIP_DEFLATED, part.file_size
                with parts.open(part) as source, archive.open(entry, "w") as target:
                    shutil.copyfileobj(source, target, 1 << 20)
