"""The bend schedule as tables for a terminal, and as CSV: its lines, columns and sections."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from rich.console import Group, RenderableType

from route3d.checks.bends import turn_as_judged
from route3d.checks.finding import SEVERITIES, Finding, worst_first
from route3d.checks.limits import sidewall_limit
from route3d.geometry.bend_schedule import ScheduledBend
from route3d.geometry.elbows import has_elbow_table
from route3d.geometry.fillet import route_schedule
from route3d.geometry.offsets_saddles import OffsetOrSaddle
from route3d.geometry.sticks import Marks
from route3d.planning.remedies.bend_margins import (
    BendMargin,
    bend_findings,
    bend_margins,
    rule_radius,
)
from route3d.planning.result import JobResult, RunResult
from route3d.planning.shop import PullSection, Shop, ShopBend, shop_findings, shop_sheet
from route3d.report.columns import Column, Value, column_table, columns_csv, filled
from route3d.report.layout import heading, paragraph
from route3d.report.remedies import advice_report
from route3d.report.words import rules_line
from route3d.units import show

# --- one bend after the other with its place, its limits and the pressure in it -------------


@dataclass(frozen=True, slots=True)
class BendLine:
    """One bend with its place, conduit and limits; SI.

    ``least_radius`` is the largest of the radii that the cable and the conduit ask for, on the
    centerline. ``sidewall`` is the largest pressure in the bend in the direction reported, and
    ``sidewall_share`` its share of the limit. ``verdict`` is "ok", or what is wrong.
    """

    bend: ScheduledBend
    at: str
    conduit: str
    least_radius: float
    sidewall: float
    sidewall_share: float
    verdict: str


def bend_lines(run: RunResult) -> tuple[BendLine, ...]:
    """The schedule of one run, with sidewall pressure for the direction it is best pulled in."""
    found, limit = bend_findings(run), sidewall_limit(run.run).value
    return tuple(
        _line(run, bend, found.get(bend.number, []), limit)
        for bend in route_schedule(run.run.route, run.path)
    )


def _line(run: RunResult, bend: ScheduledBend, findings: list[Finding], limit: float) -> BendLine:
    route, pull = run.run.route, run.best.pull
    sidewall = float(pull.profile.sidewall[pull.worst_rows[bend.segment]])
    return BendLine(
        bend=bend,
        at=route.label(bend.vertex),
        conduit=route.conduits[bend.leg].label,
        least_radius=rule_radius(bend, findings),
        sidewall=sidewall,
        sidewall_share=sidewall / limit,
        verdict=verdict_of(findings),
    )


def verdict_of(findings: Iterable[Finding]) -> str:
    """The worst of some findings in words: "ok", or what is wrong."""
    worst = min(findings, key=lambda f: SEVERITIES.index(f.severity), default=None)
    if worst is None or worst.severity == "ok":
        return "ok"
    return f"{worst.severity}: {worst.rule}"


def section_verdict(section: PullSection) -> str:
    """Whether the bends between two pull points exceed the total."""
    turn = turn_as_judged(section.turn, section.turn_limit)
    return "ok" if turn <= section.turn_limit * (1 + 1e-9) else "stop"


# --- the columns of the bend schedule, for the terminal, CSV and the workbook alike ---------


@dataclass(frozen=True, slots=True)
class BendRow:
    """One bend of the schedule with its fabrication and margins.

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
    Column("bend\ntype", lambda r: MADE[r.made.elbow]),
    Column("min.\nradius", lambda r: r.line.least_radius, "radius", up=True),
    Column("min. radius\nto pass", lambda r: _passing(r.margin), "radius", up=True),
    Column("max. radius\nthat fits", lambda r: r.margin.largest_radius, "length"),
    Column("sidewall", lambda r: r.line.sidewall, "sidewall"),
    Column("of limit", lambda r: r.line.sidewall_share, "percent"),
    Column("verdict", lambda r: r.verdict),
)
FIELD: tuple[Column[BendRow], ...] = (
    Column("stick", lambda r: r.made.stick),
    Column(
        "previous stick\ncut to",
        lambda r: None if r.made.marks is None else r.made.marks.cut,
        "radius",
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
    Column("total\nbend", lambda r: r.section.turn, "angle"),
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


def _figure(figure: OffsetOrSaddle | None) -> Value:
    return None if figure is None else f"{figure.kind} {figure.first}-{figure.last}"


def _of_figure(row: BendRow, name: str) -> Value:
    """A number of the figure a bend belongs to."""
    figure = row.made.figure
    return None if figure is None else float(getattr(figure, name))


# --- the bend schedule as tables for a terminal, and as CSV ---------------------------------

__all__ = [
    "BendLine",
    "BendSheet",
    "bend_lines",
    "bend_sheets",
    "bends_csv",
    "bends_report",
    "breaks_degrees",
]

_DEGREES = "degrees between pull points"


@dataclass(frozen=True, slots=True)
class BendSheet:
    """The bend schedule of one run, complete: its bends and what lies between pull points."""

    run: RunResult
    rows: tuple[BendRow, ...]
    sections: tuple[SectionRow, ...]
    shop: Shop

    @property
    def stops(self) -> bool:
        """True where a bend exceeds a limit, or too many degrees lie between two pull points."""
        return breaks_degrees(self.run) or any(r.verdict.startswith("stop") for r in self.rows)


def bend_sheets(result: JobResult, stick: float | None = None) -> tuple[BendSheet, ...]:
    """The schedules of a job; ``stick`` m is the length of a stick in place of the table's."""
    return tuple(_sheet(run, stick) for run in result.runs)


def _sheet(run: RunResult, stick: float | None) -> BendSheet:
    route = run.run.route
    shop = shop_sheet(route, run.path, run.practice, stick)
    rows = bend_rows(run, bend_margins(run), shop)
    sections = (SectionRow(s, route.label(s.first), route.label(s.last)) for s in shop.sections)
    return BendSheet(run, rows, tuple(sections), shop)


def bend_rows(run: RunResult, margins: Sequence[BendMargin], shop: Shop) -> tuple[BendRow, ...]:
    """The bends of one run with fabrication and margins, in route order."""
    found = bend_findings(run)
    rows = []
    for line, made, margin in zip(bend_lines(run), shop.bends, margins, strict=True):
        asked = shop_findings(run.run.route, line.bend, made, margin.room)
        worse = line.verdict if line.verdict != "ok" else verdict_of(asked)
        both = worst_first((*found.get(line.bend.number, ()), *asked))
        rows.append(BendRow(line, made, margin, worse, both))
    return tuple(rows)


def breaks_degrees(run: RunResult) -> bool:
    """True where too many degrees lie between two pull points."""
    return any(f.rule == _DEGREES and f.severity == "stop" for f in run.run_findings)


# --- terminal ------------------------------------------------------------------------------------


def bends_report(
    result: JobResult, system: str, sheets: Sequence[BendSheet] | None = None
) -> RenderableType:
    """The bend schedules of a job for a terminal."""
    sheets = bend_sheets(result) if sheets is None else sheets
    parts: list[RenderableType] = [heading(result.job)]
    for sheet in sheets:
        parts += _run_report(sheet, system)
    words = _layout_words()
    if any(r.made.elbow == "field" for s in sheets for r in s.rows):
        words += _field_words()
    rules = paragraph(rules_line(result.job.practice), style="dim")
    return Group(*parts, paragraph(words, style="dim", before=1), rules)


def _run_report(sheet: BendSheet, system: str) -> list[RenderableType]:
    run, rows = sheet.run, sheet.rows
    total = f"{show(run.path.length, 'length', system)} long, "
    total += f"{show(run.path.turn, 'angle', system)} total bend"
    head = paragraph(f"Run {run.run.name}: {total}", style="bold", before=1)
    between = [
        paragraph("Between pull points:", before=1),
        column_table(sheet.sections, filled(sheet.sections, SECTIONS), system),
        *_sources(sheet),
    ]
    if not rows:
        return [head, paragraph("No bends."), *between, *advice_report(run, system)]
    last = rows[-1].line.bend
    after = f"Straight after bend {last.number}: {show(last.straight_after, 'length', system)}"
    limits = f"Limits, and sidewall pressure with feed from {run.best.pull.feed_name}:"
    return [
        head,
        column_table(rows, (NUMBER, *filled(rows, LAYOUT)), system),
        paragraph(after),
        paragraph(limits, before=1),
        column_table(rows, (NUMBER, *filled(rows, LIMITS)), system),
        *_not_solved(rows),
        *_field_report(sheet, system),
        *between,
        *advice_report(run, system),
    ]


def _not_solved(rows: Sequence[BendRow]) -> list[RenderableType]:
    """How many radii were not looked for, where the route is too long for all."""
    left = sum(r.margin.passing_radius is None for r in rows)
    if not left:
        return []
    text = f"The minimum radius to pass was not calculated for {left:,} of {len(rows):,} bends, "
    return [paragraph(text + "those with the lowest utilization, because the run is long")]


def _field_report(sheet: BendSheet, system: str) -> list[RenderableType]:
    rows = [r for r in sheet.rows if r.made.elbow == "field"]
    columns = filled(rows, FIELD)
    if not columns:
        return []
    head = paragraph("Field bends, marks measured from the end of the first stick:", before=1)
    return [head, column_table(rows, (NUMBER, *columns), system)]


def _sources(sheet: BendSheet) -> list[RenderableType]:
    """Where the counts come from, and for which conduits no table gives them."""
    conduits = tuple(dict.fromkeys(sheet.run.run.route.conduits))
    parts = list(sheet.shop.sources)
    for lacking, what in (
        ([c.label for c in conduits if not has_elbow_table(c)], "no table of factory elbows"),
        (sheet.shop.no_stick, "no stick length (use --stick)"),
    ):
        if lacking:
            parts.append(f"{what} for {', '.join(lacking)}")
    text = "; ".join(parts)
    return [paragraph(text[:1].upper() + text[1:] + ".", style="dim")] if parts else []


def _layout_words() -> str:
    return (
        "Roll: rotation of the bend plane from the previous bend, clockwise looking along "
        "the route; 180° bends back. Set-back: from the intersection of the tangents to "
        "either end of the bend. Gain: length saved by the arc compared with the two "
        "tangents. Min. radius: of cable and conduit. Min. radius to pass: the smallest "
        "radius of this one bend with which the run, solved again in both directions, still "
        "passes. Max. radius that fits: the largest radius the adjacent straights allow. "
        "Sticks: each length between elbows starts with a whole stick, offcuts are not "
        "reused. Supports: for exposed conduit. Stations, set-back and radius are on the "
        "centerline."
    )


def _field_words() -> str:
    return (
        " Marks: start and end of the arc on the straight conduit; subtract the bender's "
        "take-up. Travel: from bend to bend of the offset or saddle, its height times the "
        "multiplier. Shrink: loss of advance, arcs included. Dog-leg: twist between two "
        "bends meant to lie in one plane."
    )


# --- CSV -----------------------------------------------------------------------------------------


def bends_csv(result: JobResult, system: str, sheets: Sequence[BendSheet] | None = None) -> str:
    """The bend schedules of a job as CSV: units in the heading, plain numbers below."""
    columns = (NUMBER, *LAYOUT, *LIMITS, *FIELD)
    shown = bend_sheets(result) if sheets is None else sheets
    groups = ((sheet.run.run.name, sheet.rows) for sheet in shown)
    return columns_csv(result.job, groups, columns, system)
