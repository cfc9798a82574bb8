"""The columns of the bend schedule, for the terminal, CSV and the workbook alike."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Generic, TypeAlias, TypeVar

from rich.console import RenderableType
from rich.text import Text

from route3d.geometry.figures import Figure
from route3d.geometry.sticks import Marks
from route3d.phrase import say
from route3d.planning.bend_margins import BendMargin
from route3d.planning.shop import PullSection, ShopBend
from route3d.report.bend_lines import BendLine, section_verdict
from route3d.report.layout import severity_style, table
from route3d.units import convert, render, show, unit_label

Value: TypeAlias = float | str | None
Row = TypeVar("Row")


@dataclass(frozen=True, slots=True)
class BendRow:
    """One bend of the schedule with how it is made and what it has left.

    ``verdict`` is that of the line, or what the shop says against it.
    """

    line: BendLine
    made: ShopBend
    margin: BendMargin
    verdict: str


@dataclass(frozen=True, slots=True)
class SectionRow:
    """The conduit between two pull points, with their names."""

    section: PullSection
    first: str
    last: str

    @property
    def verdict(self) -> str:
        """Of the sum of its bends."""
        return section_verdict(self.section)


@dataclass(frozen=True, slots=True)
class Column(Generic[Row]):
    """One column: ``quantity`` of its numbers, None where it is text.

    A value of None or NaN is an empty cell. With ``up`` a number is rounded up when printed.
    """

    title: str
    value: Callable[[Row], Value]
    quantity: str | None = None
    up: bool = False

    def cell(self, row: Row, system: str) -> str:
        """The value as text with its unit."""
        value = self.value(row)
        if value is None or (isinstance(value, float) and math.isnan(value)):
            return "-"
        if isinstance(value, str) or self.quantity is None:
            return str(value)
        if self.up:
            return render(say("{}", (value, f"{self.quantity}+")), system)
        return show(value, self.quantity, system)

    def number(self, row: Row, system: str) -> Value:
        """The value as a plain number in the unit of the heading, or text; None where empty."""
        value = self.value(row)
        if value is None or isinstance(value, str) or self.quantity is None:
            return value
        return convert(value, self.quantity, system) if math.isfinite(value) else None

    def head(self, system: str) -> str:
        """The title on one line with its unit."""
        title = self.title.replace("\n", " ")
        unit = unit_label(self.quantity, system) if self.quantity else ""
        return f"{title} ({unit})" if unit else title


MADE: dict[str, str] = {
    "standard": "standard elbow",
    "sweep": "sweep elbow",
    "field": "field bend",
}
NUMBER: Column[BendRow] = Column("bend", lambda r: r.line.bend.number)
LAYOUT: tuple[Column[BendRow], ...] = (
    Column("at", lambda r: r.line.at),
    Column("station", lambda r: r.line.bend.station, "length"),
    Column("straight\nbefore", lambda r: r.line.bend.straight_before, "length"),
    Column("angle", lambda r: r.line.bend.angle, "angle"),
    Column("radius", lambda r: r.line.bend.radius, "radius"),
    Column("plane", lambda r: r.line.bend.plane),
    Column("roll", lambda r: r.line.bend.roll, "angle"),
    Column("set-back", lambda r: r.line.bend.setback, "radius"),
    Column("arc\nlength", lambda r: r.line.bend.arc_length, "radius"),
    Column("gain", lambda r: r.line.bend.gain, "radius"),
)
LIMITS: tuple[Column[BendRow], ...] = (
    Column("conduit", lambda r: r.line.conduit),
    Column("made as", lambda r: MADE[r.made.elbow]),
    Column("least\nradius", lambda r: r.line.least_radius, "radius", up=True),
    Column("passes\nfrom", lambda r: _passing(r.margin), "radius", up=True),
    Column("fits\nup to", lambda r: r.margin.largest_radius, "length"),
    Column("sidewall", lambda r: r.line.sidewall, "sidewall"),
    Column("of limit", lambda r: r.line.sidewall_share, "percent"),
    Column("verdict", lambda r: r.verdict),
)
FIELD: tuple[Column[BendRow], ...] = (
    Column("stick", lambda r: r.made.stick),
    Column("mark at\nstart", lambda r: _mark(r.made.marks, "start"), "radius"),
    Column("mark at\nend", lambda r: _mark(r.made.marks, "end"), "radius"),
    Column("on", lambda r: _last_stick(r.made)),
    Column("figure", lambda r: _figure(r.made.figure)),
    Column("height", lambda r: _of_figure(r, "height"), "radius"),
    Column("multiplier", lambda r: _of_figure(r, "multiplier"), "factor"),
    Column("travel", lambda r: _of_figure(r, "travel"), "radius"),
    Column("shrink", lambda r: _of_figure(r, "shrink"), "radius"),
    Column("dog-leg", lambda r: r.made.dog_leg, "angle"),
)
SECTIONS: tuple[Column[SectionRow], ...] = (
    Column("from", lambda r: r.first),
    Column("to", lambda r: r.last),
    Column("length", lambda r: r.section.length, "length"),
    Column("bends", lambda r: len(r.section.bends), "count"),
    Column("turn", lambda r: r.section.turn, "angle"),
    Column("limit", lambda r: r.section.turn_limit, "angle"),
    Column("verdict", lambda r: r.verdict),
    Column("elbows", lambda r: r.section.elbows, "count"),
    Column("sticks", lambda r: r.section.sticks, "count"),
    Column("joints", lambda r: r.section.joints, "count"),
    Column("supports", lambda r: r.section.supports, "count"),
)


def _passing(margin: BendMargin) -> Value:
    radius = margin.passing_radius
    return "none" if radius is not None and math.isnan(radius) else radius


def _mark(marks: Marks | None, end: str) -> Value:
    """The mark at one end of the arc."""
    return None if marks is None else float(getattr(marks, end))


def _last_stick(made: ShopBend) -> Value:
    """The stick the end mark is on, where the bend runs over a joint."""
    if made.stick is None or made.marks is None or not made.marks.over:
        return None
    return made.stick + made.marks.over


def _figure(figure: Figure | None) -> Value:
    return None if figure is None else f"{figure.kind} {figure.first}-{figure.last}"


def _of_figure(row: BendRow, name: str) -> Value:
    """A number of the figure a bend belongs to."""
    figure = row.made.figure
    return None if figure is None else float(getattr(figure, name))


def column_table(
    rows: Sequence[Row], columns: Sequence[Column[Row]], system: str
) -> RenderableType:
    """A table for a terminal, severities in their colours."""
    cells = [[_styled(column.cell(row, system)) for column in columns] for row in rows]
    numbers = {i for i, column in enumerate(columns) if column.quantity is not None}
    return table([column.title for column in columns], cells, numbers=numbers)


def _styled(text: str) -> Text:
    return Text(text, style=severity_style(text.partition(":")[0]))


def filled(rows: Sequence[Row], columns: Sequence[Column[Row]]) -> list[Column[Row]]:
    """The columns that hold anything in these rows."""

    def holds(value: Value) -> bool:
        return value is not None and not (isinstance(value, float) and math.isnan(value))

    return [c for c in columns if any(holds(c.value(row)) for row in rows)]
