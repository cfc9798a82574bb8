"""The columns of the bend schedule, for the terminal, CSV and the workbook alike."""

from __future__ import annotations

import math
from dataclasses import dataclass

from route3d.checks.finding import Finding
from route3d.geometry.figures import Figure
from route3d.geometry.sticks import Marks
from route3d.planning.bend_margins import BendMargin
from route3d.planning.shop import PullSection, ShopBend
from route3d.report.bend_lines import BendLine, section_verdict
from route3d.report.columns import Column, Value


@dataclass(frozen=True, slots=True)
class BendRow:
    """One bend of the schedule with how it is made and what it has left.

    ``verdict`` is that of the line, or what the shop says against it; ``findings`` are those of
    both, worst first.
    """

    line: BendLine
    made: ShopBend
    margin: BendMargin
    verdict: str
    findings: tuple[Finding, ...]


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
    Column(
        "one before\ncut to", lambda r: None if r.made.marks is None else r.made.marks.cut, "radius"
    ),
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
