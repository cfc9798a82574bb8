"""Columns of a table, said once for terminal, CSV and workbook."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Generic, TypeAlias, TypeVar

from rich.console import RenderableType
from rich.text import Text

from route3d.model.examples import BANNER, example_names
from route3d.model.job import Job
from route3d.report.layout import severity_style, table
from route3d.spreadsheet import harmless
from route3d.units import convert, show_marked, unit_label

Value: TypeAlias = float | str | date | None
Row = TypeVar("Row")


@dataclass(frozen=True, slots=True)
class Column(Generic[Row]):
    """One column: ``quantity`` of its numbers, None where it is text.

    A value of None or NaN is an empty cell. A number is rounded up when printed with ``toward``
    "+", down with "-". A length of the quantity "tape" is printed as it is read off a tape. A date,
    and a moment of the minute, is one in a workbook and ISO 8601 elsewhere.
    """

    title: str
    value: Callable[[Row], Value]
    quantity: str | None = None
    toward: str = ""

    def cell(self, row: Row, system: str) -> str:
        """The value as text with its unit."""
        value = self.value(row)
        if value is None or (isinstance(value, float) and math.isnan(value)):
            return "-"
        if isinstance(value, date):
            return _dated(value)
        if isinstance(value, str) or self.quantity is None:
            return str(value)
        return show_marked(value, f"{self.quantity}{self.toward}", system)

    def number(self, row: Row, system: str) -> Value:
        """The value as a plain number in the unit of the heading, text or date; None if empty."""
        value = self.value(row)
        if value is None or isinstance(value, str | date) or self.quantity is None:
            return value
        return convert(value, self.quantity, system) if math.isfinite(value) else None

    def head(self, system: str) -> str:
        """The title on one line with its unit."""
        title = self.title.replace("\n", " ")
        unit = unit_label(self.quantity, system) if self.quantity else ""
        return f"{title} ({unit})" if unit else title


def severity_of(text: str) -> str:
    """The severity a cell begins with, as in ``stop: sidewall pressure``."""
    return text.partition(":")[0]


def column_table(
    rows: Iterable[Row],
    columns: Sequence[Column[Row]],
    system: str,
    severity: Callable[[str], str] = severity_of,
) -> RenderableType:
    """A table for a terminal; a cell has the color of the ``severity`` its text stands for."""

    def styled(text: str) -> Text:
        return Text(text, style=severity_style(severity(text)))

    cells = [[styled(column.cell(row, system)) for column in columns] for row in rows]
    numbers = {i for i, column in enumerate(columns) if column.quantity is not None}
    return table([column.title for column in columns], cells, numbers=numbers)


def filled(rows: Sequence[Row], columns: Sequence[Column[Row]]) -> list[Column[Row]]:
    """The columns that hold anything in these rows."""

    def holds(value: Value) -> bool:
        return value is not None and not (isinstance(value, float) and math.isnan(value))

    return [c for c in columns if any(holds(c.value(row)) for row in rows)]


def columns_csv(
    job: Job,
    groups: Iterable[tuple[str, Iterable[Row]]],
    columns: Sequence[Column[Row]],
    system: str,
) -> str:
    """CSV of the rows of each named run: units in the heading, plain numbers below.

    Where values of the job are examples a last column says so in every row.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    unconfirmed = [harmless(example_names(job.examples))] if job.examples else []
    heads = (column.head(system) for column in columns)
    writer.writerow(["run", *heads, *(BANNER for _ in unconfirmed)])
    for run, rows in groups:
        for row in rows:
            cells = (_plain(column.number(row, system)) for column in columns)
            writer.writerow([harmless(run), *cells, *unconfirmed])
    return out.getvalue()


def rows_csv(rows: Iterable[Row], columns: Sequence[Column[Row]], system: str) -> Iterator[str]:
    """CSV of rows, a line at a time: units in the heading, plain numbers below."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")

    def line(cells: Iterable[str]) -> str:
        out.seek(0)
        out.truncate()
        writer.writerow(cells)
        return out.getvalue()

    yield line(column.head(system) for column in columns)
    for row in rows:
        yield line(_plain(column.number(row, system)) for column in columns)


def _dated(value: date) -> str:
    return f"{value:%Y-%m-%d %H:%M}" if isinstance(value, datetime) else f"{value:%Y-%m-%d}"


def _plain(value: Value) -> str:
    if isinstance(value, date):
        return _dated(value)
    if value is None or isinstance(value, str):
        return harmless(value or "")
    return f"{round(value, 4) + 0.0:.10g}"
