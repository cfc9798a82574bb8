"""Rows of a log as numbers in SI: what each cell says, and what of it cannot be read."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from route3d.errors import InputError, Problem, UnitError
from route3d.field.log.clock import NO_TIME, Family, TimeStyle, joined, read_time, time_style
from route3d.field.log.mapping import MEASURED, WORDS, Columns, unit_factor
from route3d.field.log.numbers import (
    Decimal,
    DoubtfulMarkError,
    Marks,
    column_mark,
    marks,
    read_number,
)
from route3d.field.log.tables import LogLine
from route3d.field.readings import EVENT_KINDS
from route3d.units import parse

NAN = math.nan
# What a flag is called where a cell of that kind holds something that is no number.
_BAD = {
    "pulled": "cable in not a number",
    "load": "reading not a number",
    "speed": "speed not a number",
    "brake": "brake not a number",
}
BAD_TIME = "time not readable"
OVER_RANGE = "saturated"
BEYOND = "beyond any gauge"
MOST = 1e7
"""No gauge, counter or brake shows more, N, m or m/s: a greater figure is flagged, and held here so
that it still counts as above every limit."""


def endless(cell: object) -> float:
    """The sign of a figure too large for a number, or written as infinite; 0 for anything else."""
    try:
        value = float(str(cell))
    except (ValueError, OverflowError):
        return 0.0
    return math.copysign(1.0, value) if math.isinf(value) else 0.0


@dataclass(frozen=True, slots=True)
class LogRow:
    """One row of a log in SI, NaN where nothing is written: ``line`` is its place in the file.

    ``time`` s on a clock of ``family``, whose moment is ``iso`` where it has a date. ``kind`` is
    that of an event, "" or "reading" for a reading. ``troubles`` are flags that the cells earn.
    """

    line: int
    time: float = NAN
    pulled: float = NAN
    load: float = NAN
    speed: float = NAN
    gear: str = ""
    brake: float = NAN
    note: str = ""
    kind: str = ""
    troubles: tuple[str, ...] = ()
    family: Family = ""
    iso: str = ""
    half_day: bool = False

    @property
    def tells(self) -> bool:
        """Whether it says what happened."""
        return self.kind in EVENT_KINDS or not self.reads

    @property
    def reads(self) -> bool:
        """Whether it stands for a reading, if only a broken or an empty one."""
        if self.kind in EVENT_KINDS:
            return not math.isnan(self.load)
        return self.measures or bool(set(self.troubles) - {BAD_TIME})

    @property
    def measures(self) -> bool:
        """Whether cable in, reading or speed is written in it."""
        return not (math.isnan(self.pulled) and math.isnan(self.load) and math.isnan(self.speed))

    @property
    def says_nothing(self) -> bool:
        """Whether it holds neither a number, an event nor a cell that should have been one."""
        named = self.kind in EVENT_KINDS or bool(self.note) or not math.isnan(self.brake)
        return not (self.reads or named or bool(self.gear))


@dataclass(frozen=True, slots=True)
class RowReader:
    """Reads the rows of one table by its columns, the decimal mark of each, and its times.

    ``family`` is the clock most of its times are on, "" before that is known.
    """

    columns: Columns
    decimals: dict[str, Decimal]
    style: TimeStyle
    file: str
    family: Family = ""

    def read(self, line: LogLine) -> LogRow:
        """One row; InputError where a number has no unit anywhere."""
        troubles: list[str] = []
        values = {kind: self._value(kind, line, troubles) for kind in MEASURED if self._has(kind)}
        clock = NO_TIME
        if self._has("time") or self._has("date"):
            cell = joined(self._cell("date", line), self._cell("time", line))
            clock = read_time(cell, self.style)
            if cell is not None and (
                not clock.family or (self.family and clock.family != self.family)
            ):
                clock = NO_TIME
                troubles.append(BAD_TIME)
        return LogRow(
            line.line,
            clock.seconds,
            values.get("pulled", NAN),
            values.get("load", NAN) * self.columns.sign,
            values.get("speed", NAN),
            self._text("gear", line),
            values.get("brake", NAN),
            self._text("note", line),
            self._text("kind", line).lower(),
            tuple(troubles),
            clock.family,
            clock.iso,
            clock.half,
        )

    def _has(self, kind: str) -> bool:
        return kind in self.columns.at

    def _cell(self, kind: str, line: LogLine) -> object:
        index = self.columns.at.get(kind)
        return line.cells[index] if index is not None and index < len(line.cells) else None

    def _text(self, kind: str, line: LogLine) -> str:
        cell = self._cell(kind, line)
        if isinstance(cell, float) and cell.is_integer():
            return str(int(cell))
        return "" if cell is None else " ".join(str(cell).split())

    def _value(self, kind: str, line: LogLine, troubles: list[str]) -> float:
        cell = self._cell(kind, line)
        number = read_number(cell, self.decimals[kind])
        if number.trouble == "bad" and kind == "load" and (sign := endless(cell)):
            troubles.append(BEYOND)
            return math.copysign(MOST, sign)
        if number.trouble == "over" and kind == "load":
            troubles.append(OVER_RANGE)
            return NAN
        if isinstance(cell, str) and ("'" in cell or '"' in cell) and kind == "pulled":
            try:
                value = parse(cell, "length", "US")
                return value if abs(value) <= MOST else math.copysign(MOST, value)
            except UnitError:
                troubles.append(_BAD[kind])
                return NAN
        if number.trouble in ("bad", "over"):
            troubles.append(_BAD[kind])
        if number.trouble:
            return NAN
        factor: float | None = self.columns.factors[kind]
        if number.unit:
            factor = unit_factor(kind, number.unit)
            if factor is None:
                troubles.append(_BAD[kind])
                return NAN
        if factor is None or math.isnan(factor):
            raise self._no_unit(kind, line, cell)
        value = number.value * factor
        if abs(value) <= MOST:
            return value
        if kind in ("speed", "brake"):
            troubles.append(_BAD[kind])
            return NAN
        if kind == "load":
            troubles.append(BEYOND)
        return math.copysign(MOST, value)  # cable in: beyond the route, or below 0

    def _no_unit(self, kind: str, line: LogLine, cell: object) -> InputError:
        header = self.columns.header(kind)
        name = "footage" if kind == "pulled" else kind
        sample = {"length": "ft", "force": "lbf", "speed": "ft/min"}[MEASURED[kind]]
        said = f"column {header!r} has no unit: {str(cell)!r} may be in US or SI units"
        fix = (
            f'add --units US or --units SI, or name it, such as --map "{name}={header} [{sample}]"'
        )
        return InputError(
            Problem(said, WORDS.get(kind, kind), fix, self.file, line.line, self.columns.at[kind])
        )


def row_reader(
    sample: Sequence[LogLine],
    columns: Columns,
    file: str,
    *,
    decimal: Decimal = "",
    month_first: bool = True,
) -> tuple[RowReader, list[str]]:
    """The reader of a table by its rows, or its first ones, and sentences on what it decided.

    ``decimal`` is the mark asked for, "" to find it. InputError where a comma may be one of
    decimals or of thousands.
    """
    said: list[str] = []
    shown = {
        kind: marks(line.cells[index] for line in sample if index < len(line.cells))
        for kind, index in columns.at.items()
        if kind in MEASURED or kind == "time"
    }
    decimals = {kind: _mark(kind, shown, columns, sample, file, decimal) for kind in shown}
    commas = [
        kind for kind, mark in decimals.items() if mark == "," and _comma(kind, columns, sample)
    ]
    if commas:
        names = ", ".join(repr(columns.header(kind)) for kind in commas)
        said.append(f"Commas are decimal commas in {names}.")
    for kind, seen in shown.items():
        if kind in MEASURED and decimals[kind] == "." and seen.comma:
            header = columns.header(kind)
            said.append(f"Commas are of thousands in {header!r}, such as {seen.comma}.")
    head = columns.header("time").lower() if "time" in columns.at else ""
    cells = [_joined_cell(line, columns) for line in sample]
    style, more = time_style(
        cells,
        columns.factors.get("time", NAN),
        "elapsed" in head,
        decimals.get("time", "."),
        month_first,
    )
    return RowReader(columns, decimals, style, file), [*said, *more]


def _comma(kind: str, columns: Columns, sample: Sequence[LogLine]) -> bool:
    """Whether a comma stands in a column at all: times may follow the mark of the others."""
    index = columns.at[kind]
    return any(index < len(x.cells) and "," in str(x.cells[index]) for x in sample)


def _joined_cell(line: LogLine, columns: Columns) -> object:
    def cell(kind: str) -> object:
        index = columns.at.get(kind)
        return line.cells[index] if index is not None and index < len(line.cells) else None

    return joined(cell("date"), cell("time"))


def _mark(
    kind: str,
    shown: dict[str, Marks],
    columns: Columns,
    sample: Sequence[LogLine],
    file: str,
    decimal: Decimal,
) -> Decimal:
    """The decimal mark of one column."""
    if decimal:
        return decimal
    rest = {seen.mark for other, seen in shown.items() if other != kind and seen.mark}
    others: Decimal = next(iter(rest)) if len(rest) == 1 else ""
    try:
        return column_mark(shown[kind], others)
    except DoubtfulMarkError as error:
        if kind == "time":
            return "."
        index = columns.at[kind]
        at = next(
            x.line
            for x in sample
            if index < len(x.cells) and error.text in "".join(str(x.cells[index]).split())
        )
        mark = "," if "," in error.text else "."
        said = f"column {columns.header(kind)!r}: {error.text!r} may be "
        said += f"{error.text.replace(mark, '.')} or {error.text.replace(mark, '')}"
        fix = "add --decimal point or --decimal comma"
        raise InputError(Problem(said, WORDS.get(kind, kind), fix, file, at, index + 1)) from None
