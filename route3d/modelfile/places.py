"""Where a value stands in a model file: a line of text, or a cell of a workbook."""

from __future__ import annotations

from collections.abc import Iterator

from route3d.errors import Problem

Place = tuple[int, int]
"""Line and column, both counted from 1, the column in characters; of a workbook row and column."""


class Cell(tuple[int, int]):
    """The Place of a cell: its row and column, both from 1, and the sheet it is on.

    ``number`` is that of the sheet in the workbook, from 0.
    """

    sheet: str
    number: int

    def __new__(cls, row: int, column: int, sheet: str, number: int) -> Cell:
        """A cell by its row and column, from 1, and its sheet."""
        cell = super().__new__(cls, (row, column))
        cell.sheet, cell.number = sheet, number
        return cell

    def __str__(self) -> str:
        """As a spreadsheet shows it: ``sheet Runs, cell D7``."""
        return f"sheet {self.sheet}, cell {column_letters(self[1])}{self[0]}"


class Elsewhere(tuple[int, int]):
    """The Place of a value that came into a model from another ``file``: its line and column.

    ``key`` is the key it has there.
    """

    file: str
    key: str

    def __new__(cls, line: int, column: int, file: str, key: str) -> Elsewhere:
        """A place by its line and column, from 1, its file, and its key in it."""
        place = super().__new__(cls, (line, column))
        place.file, place.key = file, key
        return place


def shifted(place: Place, count: int) -> Place:
    """The place so many characters inside of what stands at another."""
    if not count or isinstance(place, Cell):
        return place
    line, column = place[0], place[1] + count
    if isinstance(place, Elsewhere):
        return Elsewhere(line, column, place.file, place.key)
    return line, column


def column_letters(column: int) -> str:
    """The letters of a column of a sheet, from 1.

    >>> column_letters(1), column_letters(28)
    ('A', 'AB')
    """
    return "".join(reversed(list(_letters(column))))


def _letters(column: int) -> Iterator[str]:
    while column:
        column, rest = divmod(column - 1, 26)
        yield chr(ord("A") + rest)


def problem_at(place: Place | None, message: str, where: str, fix: str, file: str) -> Problem:
    """A Problem with the line and column of a place, or with the sheet and cell."""
    if isinstance(place, Cell):
        return Problem(message, where, fix, file, cell=str(place))
    if isinstance(place, Elsewhere):
        where, file = place.key, place.file
    line, column = place or (None, None)
    return Problem(message, where, fix, file, line, column)


def told(place: Place | None) -> str:
    """A place inside a sentence: `` on line 3``, `` in cell D7``, or nothing."""
    if isinstance(place, Cell):
        return f" in cell {column_letters(place[1])}{place[0]}"
    return f" on line {place[0]}" if place else ""
