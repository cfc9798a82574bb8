"""The rows of a log file, whatever program wrote it: text of any encoding and separator, XLSX."""

from __future__ import annotations

import csv
import io
import re
import warnings
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from route3d.disk import broken_workbook, read_bytes, refuse_bomb
from route3d.errors import InputError, Problem
from route3d.field.log.decisions import Decisions
from route3d.spreadsheet import as_given

# Eight hours at 10 Hz are 288,000 rows and about 20 MB of text.
LARGEST_FILE = 200_000_000
LARGEST_SHEET = 300_000_000
MOST_ROWS = 3_000_000
MOST_COLUMNS = 200
# Where two separators split the rows alike, the first: a comma may be a decimal mark.
SEPARATORS = ("\t", ";", "|", ",")
_LOOKED_AT = 100
# Files that begin so are pictures, documents, archives, data bases, programs: no text, and no log.
_NO_TEXT = (
    *(b"\x89PNG", b"\xff\xd8\xff", b"GIF8", b"%PDF", b"PK\x03\x04", b"\x1f\x8b", b"SQLite"),
    *(b"\xd0\xcf\x11\xe0", b"\x7fELF", b"7z\xbc\xaf"),
)
_HEAD = 4096
# A note of several lines in quotes goes on for so many; beyond, a quote was left open.
_LONGEST_NOTE = 20
LINE_END = re.compile(r"\r\n|\n|\r")
_MARKS = {b"\xef\xbb\xbf": "utf-8", b"\xff\xfe": "utf-16-le", b"\xfe\xff": "utf-16-be"}


@dataclass(frozen=True, slots=True)
class LogLine:
    """A row of a log: its ``line`` in the file, from 1, and its cells, None where empty.

    ``last`` is its last line where a quoted note makes it run over several, else 0.
    """

    line: int
    cells: tuple[object, ...]
    last: int = 0

    @property
    def empty(self) -> bool:
        """Whether nothing is written in it."""
        return all(cell is None for cell in self.cells)


def encoding_of(head: bytes) -> tuple[str, int]:
    """The encoding a text begins to show, "" for UTF-8 or Windows text, and the bytes of its mark.

    UTF-16 without a mark shows by its zeros: Latin text has one in each pair of bytes.
    """
    for mark, name in _MARKS.items():
        if head.startswith(mark):
            return name, len(mark)
    odd, even = head[1::2].count(0), head[0::2].count(0)
    if max(odd, even) > len(head) // 4 and min(odd, even) == 0:
        return ("utf-16-le" if odd else "utf-16-be"), 0
    return "", 0


def decoded(line: bytes) -> tuple[str, bool]:
    """A piece of text in UTF-8, else in Windows text (cp1252), and whether it was the latter."""
    try:
        return line.decode("utf-8"), False
    except UnicodeDecodeError:
        return line.decode("cp1252", errors="replace"), True


def refuse_binary(head: bytes, file: str) -> None:
    """InputError where the first bytes of a file are not those of a text."""
    begin = head[:_HEAD]
    if begin.startswith(_NO_TEXT):
        controls = len(begin)
    else:
        text = decoded(begin)[0] if not encoding_of(begin)[0].startswith("utf-16") else ""
        controls = sum(c < " " and c not in "\x00\t\n\v\f\r" for c in text)
    if controls > max(2, len(begin) // 50):
        fix = "name a log: CSV, or the log of the page"
        raise InputError(Problem("is not text, so it is no log", fix=fix, file=file))


def log_text(data: bytes, decisions: Decisions) -> str:
    """The text of a file, its encoding told where it is not UTF-8."""
    name, mark = encoding_of(data[:4096])
    if name.startswith("utf-16"):
        text = data[mark:].decode(name, errors="replace")
        decisions.note("encoding", "The text was read as UTF-16.")
    else:
        text, windows = decoded(data[mark:])
        if windows:
            decisions.note("encoding", "The text is not UTF-8; it was read as Windows text.")
    return text


def text_lines(text: str, separator: str) -> Iterator[LogLine]:
    """The rows of separated text; a quoted note may run over several lines."""
    lines = LINE_END.split(text)
    if lines and not lines[-1]:
        lines.pop()
    number = 0
    while number < len(lines):
        first, whole = number, lines[number]
        if whole.count('"') % 2 and _opens_quote(whole, separator):
            for last in range(first + 1, min(first + _LONGEST_NOTE, len(lines))):
                joined = "\n".join(lines[first : last + 1])
                if joined.count('"') % 2 == 0:
                    whole, number = joined, last
                    break
        yield LogLine(first + 1, cells_of(whole, separator), number + 1 if number > first else 0)
        number += 1


def _opens_quote(line: str, separator: str) -> bool:
    """Whether a quote begins a cell: one within a cell may be of inches."""
    return line.startswith('"') or f'{separator}"' in line


def cells_of(line: str, separator: str) -> tuple[object, ...]:
    """The cells of one row of text, None where empty."""
    if '"' in line:
        try:
            cells = next(csv.reader(io.StringIO(line, newline=""), delimiter=separator), [])
        except csv.Error:  # a cell longer than any note
            cells = line.split(separator)
    else:
        cells = line.split(separator)
    return tuple(as_given(" ".join(cell.split())) or None for cell in cells[:MOST_COLUMNS])


def separator_of(lines: Sequence[str]) -> str:
    """What separates the cells of these lines: what splits most of them alike."""
    used = [line for line in lines[:_LOOKED_AT] if line.strip()]
    best, most = SEPARATORS[-1], 0
    for separator in SEPARATORS:
        widths = Counter(len(cells_of(line, separator)) for line in used if separator in line)
        alike = max(widths.values(), default=0)
        if alike > most:
            best, most = separator, alike
    return best


def sheet_lines(data: bytes, path: Path, sheet: str | None) -> tuple[list[LogLine], str]:
    """The rows of the named sheet of a workbook, of the first one by default, and its name.

    InputError for what is no workbook, is packed like a bomb, or has no such sheet.
    """
    import openpyxl

    refuse_bomb(
        data, path, largest=LARGEST_SHEET, total=LARGEST_SHEET, fix="keep only the log's sheet"
    )
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # about styles and extensions that are not read here
        try:
            book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
            names = [s.title for s in book.worksheets]
            if sheet is not None and sheet not in names:
                fix = f"its sheets: {', '.join(names[:20])}"
                raise InputError(Problem(f"has no sheet {sheet!r}", "--sheet", fix, str(path)))
            page = book[sheet] if sheet is not None else book.worksheets[0]
            page.reset_dimensions()  # the file may claim any size
            rows = page.iter_rows(max_col=MOST_COLUMNS, values_only=True)
            lines = [LogLine(i, _sheet_cells(cells)) for i, cells in zip(_rows(path), rows)]  # noqa: B905
            return lines, page.title
        except (InputError, ModuleNotFoundError):
            raise
        except Exception as error:  # each layer under openpyxl has errors of its own
            raise broken_workbook(path, error) from None


def _rows(path: Path) -> Iterator[int]:
    yield from range(1, MOST_ROWS + 1)
    said = f"has more than {MOST_ROWS:,} rows"
    raise InputError(Problem(said, fix="delete the empty rows", file=str(path)))


def _sheet_cells(cells: Sequence[object]) -> tuple[object, ...]:
    """Cells up to the last that is not empty; blank text counts as empty."""
    clean = [as_given(" ".join(c.split())) or None if isinstance(c, str) else c for c in cells]
    while clean and clean[-1] is None:
        clean.pop()
    return tuple(clean)


def log_bytes(path: Path, given: bytes | None = None) -> bytes:
    """The bytes of a log, as given or of the file; InputError where it is too large or empty."""
    data = read_bytes(path, limit=LARGEST_FILE) if given is None else given
    if not data.strip(b"\x00\r\n\t ;,\xef\xbb\xbf\xff\xfe"):
        fix = "check that this is the right file"
        raise InputError(Problem("is empty", fix=fix, file=str(path)))
    if not is_workbook(data) and _binary(data[:4096]):
        said, fix = "is neither text nor a workbook", "export the log as CSV, XLSX or JSON"
        raise InputError(Problem(said, fix=fix, file=str(path)))
    return data


_TEXT_CONTROLS = b"\t\n\v\f\r\x1a\x1b"
_MOST_CONTROLS = 0.05  # share of a text; null characters alone may pad a text cut short


def _binary(head: bytes) -> bool:
    """Whether a file begins with bytes that no text has, UTF-16 apart."""
    if encoding_of(head)[0]:
        return False
    head = head.strip(b"\x00")
    controls = sum(byte < 0x20 and byte not in _TEXT_CONTROLS for byte in head)
    return controls > _MOST_CONTROLS * len(head)


def is_workbook(data: bytes) -> bool:
    """Whether bytes begin as those of an archive or of an older workbook."""
    return data.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0"))
