"""The bend schedule as tables for a terminal, and as CSV."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rich.console import Group, RenderableType

from route3d.checks.finding import worst_first
from route3d.geometry.elbows import has_elbow_table
from route3d.planning.bend_margins import BendMargin, bend_findings, bend_margins
from route3d.planning.result import JobResult, RunResult
from route3d.planning.shop import Shop, shop_sheet
from route3d.planning.shop_findings import shop_findings
from route3d.report.bend_columns import FIELD, LAYOUT, LIMITS, NUMBER, SECTIONS, BendRow, SectionRow
from route3d.report.bend_lines import BendLine, bend_lines, verdict_of
from route3d.report.columns import column_table, columns_csv, filled
from route3d.report.layout import heading, paragraph
from route3d.report.remedies import advice_report
from route3d.report.words import rules_line
from route3d.units import show

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
        """True where a bend breaks a limit, or too many degrees lie between two pull points."""
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
    """The bends of one run with how each is made and what it has left, all in the run's order."""
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
    parts: list[RenderableType] = [heading(result.job.title)]
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
    total += f"{show(run.path.turn, 'angle', system)} of bends in all"
    head = paragraph(f"Run {run.run.name}: {total}", style="bold", before=1)
    between = [
        paragraph("Between pull points:", before=1),
        column_table(sheet.sections, filled(sheet.sections, SECTIONS), system),
        *_sources(sheet),
    ]
    if not rows:
        return [head, paragraph("No bends."), *between, *advice_report(run, system)]
    last = rows[-1].line.bend
    after = f"then {show(last.straight_after, 'length', system)} straight after bend {last.number}"
    limits = f"Limits, and sidewall pressure when feeding from {run.best.pull.feed_name}:"
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
    text = f"the least radius that passes was not looked for at {left:,} of {len(rows):,} bends, "
    return [paragraph(text + "those that take the least of their limits: the run is long")]


def _field_report(sheet: BendSheet, system: str) -> list[RenderableType]:
    rows = [r for r in sheet.rows if r.made.elbow == "field"]
    columns = filled(rows, FIELD)
    if not columns:
        return []
    head = paragraph("Field bends, marks from the end of the stick that comes first:", before=1)
    return [head, column_table(rows, (NUMBER, *columns), system)]


def _sources(sheet: BendSheet) -> list[RenderableType]:
    """Where the counts come from, and for which conduits no table gives them."""
    conduits = tuple(dict.fromkeys(sheet.run.run.route.conduits))
    parts = list(sheet.shop.sources)
    for lacking, what in (
        ([c.label for c in conduits if not has_elbow_table(c)], "no table of factory elbows"),
        (sheet.shop.no_stick, "no length of a stick (give --stick)"),
    ):
        if lacking:
            parts.append(f"{what} for {', '.join(lacking)}")
    text = "; ".join(parts)
    return [paragraph(text[:1].upper() + text[1:] + ".", style="dim")] if parts else []


def _layout_words() -> str:
    return (
        "Roll: turn of the plane from that of the bend before, clockwise looking along the route; "
        "180° bends back. Set-back: from the point where the tangents meet to either end of the "
        "bend. Gain: what the bend is shorter than going to that point and on. Least radius: of "
        "cable and conduit. Passes from: the least radius of this one bend with which the run, "
        "solved again both ways, still passes. Fits up to: the largest radius the straights leave "
        "room for. Sticks: each stretch between elbows begins with a whole one, offcuts are not "
        "used again; supports: where the conduit is exposed. Stations, set-back and radius are on "
        "the centerline."
    )


def _field_words() -> str:
    return (
        " Marks: where the arc starts and ends on the conduit laid out straight; take off what the "
        "shoe of the bender takes up. Travel: from corner to corner of the figure, its height "
        "times the multiplier. Shrink: what the figure takes off the advance, arcs included. "
        "Dog-leg: twist between two bends meant to be in one plane."
    )


# --- CSV -----------------------------------------------------------------------------------------


def bends_csv(result: JobResult, system: str, sheets: Sequence[BendSheet] | None = None) -> str:
    """The bend schedules of a job as CSV: units in the heading, plain numbers below."""
    columns = (NUMBER, *LAYOUT, *LIMITS, *FIELD)
    shown = bend_sheets(result) if sheets is None else sheets
    return columns_csv(((sheet.run.run.name, sheet.rows) for sheet in shown), columns, system)
