"""Workbooks (XLSX): their cells row by row, with bombs refused before anything is unpacked."""

from __future__ import annotations

import io
import re
import warnings
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from route3d.disk import read_bytes
from route3d.errors import InputError
from route3d.formats.exchange import LARGEST_FILE, bad_file
from route3d.formats.tables.points import MOST_ROWS, TableRow
from route3d.modelfile.fields import nearest

# Unpacked sizes, bytes: a sheet of 100,000 points has about 20 MB.
LARGEST_PART = 30_000_000
LARGEST_TOTAL = 90_000_000
# Sheets pack to a twentieth at most (measured); what packs far better was made to.
LARGEST_RATIO = 150
MOST_PARTS = 2_000
MOST_COLUMNS = 100
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f]")
_OLD_FORMAT = b"\xd0\xcf\x11\xe0"


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


def broken_workbook(path: Path, error: Exception) -> InputError:
    """The InputError of a file that the library cannot read."""
    reason = (str(error).strip().splitlines() or [type(error).__name__])[0][:120]
    return bad_file(path, f"cannot be read as a workbook: {reason}", "save it again as XLSX")


def refuse_bomb(
    data: bytes,
    path: Path,
    *,
    largest: int = LARGEST_PART,
    total: int = LARGEST_TOTAL,
    fix: str = "keep only the sheet with the points",
) -> None:
    """InputError by the directory of the archive, which unpacking does not go beyond."""
    if data.startswith(_OLD_FORMAT):
        raise bad_file(
            path, "is an old-format or encrypted workbook", "save it as XLSX without a password"
        )
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = archive.infolist()
            starts = {name: archive.open(name).read(4096) for name in _markup(parts)[:MOST_PARTS]}
    except (
        zipfile.BadZipFile,
        NotImplementedError,
        RuntimeError,
        EOFError,
        OSError,
        ValueError,
    ) as error:
        raise broken_workbook(path, error) from None
    except Exception as error:  # zlib.error and its kin
        raise broken_workbook(path, error) from None
    unpacked = sum(p.file_size for p in parts)
    part = max((p.file_size for p in parts), default=0)
    ratio = max(
        (p.file_size / max(p.compress_size, 1) for p in parts if p.file_size > 1_000_000), default=0
    )
    if len(parts) > MOST_PARTS or unpacked > total or part > largest or ratio > LARGEST_RATIO:
        said = f"unpacks to {unpacked / 1e6:,.0f} MB in {len(parts):,} parts, "
        said += f"{ratio:.0f} times its size"
        raise bad_file(path, said, fix)
    for name, start in starts.items():
        if b"<!DOCTYPE" in start or b"<!ENTITY" in start:
            raise bad_file(path, f"declares entities in {name}", "save it again as XLSX")


def _markup(parts: Sequence[zipfile.ZipInfo]) -> list[str]:
    return [p.filename for p in parts if p.filename.endswith((".xml", ".rels"))]


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


def put(sheet: Any, row: int, column: int, value: str | float) -> Any:
    """Write a cell and return it; text stays text, whatever it begins with or has in it."""
    if isinstance(value, str):
        value = _CONTROL.sub(lambda found: f"_x{ord(found[0]):04X}_", value)  # as the format has it
    cell = sheet.cell(row, column, value)
    if isinstance(value, str):
        cell.data_type = "s"
    return cell


def saved(book: Any) -> bytes:
    """The bytes of a workbook, the same for the same contents: its parts bear one fixed time."""
    from openpyxl.writer.excel import ExcelWriter

    book.properties.created = book.properties.modified = datetime(2000, 1, 1)
    made, fixed = io.BytesIO(), io.BytesIO()
    with zipfile.ZipFile(made, "w") as archive:
        ExcelWriter(book, archive).save()
    with zipfile.ZipFile(made) as parts, zipfile.ZipFile(fixed, "w") as archive:
        for part in parts.infolist():
            entry = zipfile.ZipInfo(part.filename, (2000, 1, 1, 0, 0, 0))
            archive.writestr(entry, parts.read(part), zipfile.ZIP_DEFLATED)
    return fixed.getvalue()
