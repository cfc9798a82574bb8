"""The bend schedule as tables for a terminal, and as CSV: its lines, columns and sections."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from rich.console import Group, RenderableType

from route3d.checks.bends import turn_as_judged
from route3d.checks.finding import SEVERITIES, Finding, worst_first
from route3d.checks.limits import sidewall_limit
from route3d.geometry.bend_schedule import ScheduledBend
from route3d.geometry.elbows import has_elbow_table
from route3d.geometry.fillet import route_schedule
from route3d.geometry.offsets_saddles import OffsetOrSaddle
from route3d.geometry.sticks import Marks
from route3d.geometry.turns import Turn, compass, degrees, direction, roll_sense, turns
from route3d.geometry.vectors import Floats
from route3d.model.job import Job
from route3d.planning.reactions import BendReaction, bend_reactions
from route3d.planning.remedies.bend_margins import (
    BendMargin,
    bend_findings,
    bend_margins,
    rule_radius,
)
from route3d.planning.result import JobResult, RunResult
from route3d.planning.shop import (
    HELD,
    PullSection,
    Shop,
    ShopBend,
    ShopPiece,
    shop_findings,
    shop_sheet,
)
from route3d.report.columns import Column, Row, Value, column_table, columns_csv, filled
from route3d.report.layout import heading, paragraph, severity_style
from route3d.report.remedies import advice_report
from route3d.report.words import limit_of, measured, rules_line
from route3d.units import render, show, tape

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
    outer_diameter: float
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
        outer_diameter=route.conduits[bend.leg].outer_diameter,
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
    """One bend of the schedule with its turn, its fabrication, its margins and its reaction.

    ``verdict`` is that of the line, or what the shop says against it; ``findings`` are those of
    both, worst first. ``reaction`` is None where it was not asked for.
    """

    line: BendLine
    made: ShopBend
    margin: BendMargin
    verdict: str
    findings: tuple[Finding, ...]
    turn: Turn
    reaction: BendReaction | None = None
    north: float = 0.0

    @property
    def back(self) -> float | None:
        """The mark at the back of a field bend of 90°, m: the stub that is measured to it.

        The outside of the conduit lies half its diameter beyond the corner of the centerline.
        """
        marks = self.made.marks
        if marks is None or abs(self.line.bend.angle - math.pi / 2) > _SQUARE:
            return None
        return marks.start + self.line.bend.setback + self.line.outer_diameter / 2


@dataclass(frozen=True, slots=True)
class FigureRow:
    """An offset or a saddle with the labels of its bends."""

    figure: OffsetOrSaddle
    first: str
    last: str


@dataclass(frozen=True, slots=True)
class PieceRow:
    """One piece, or several alike that follow each other: ``first`` to ``last`` of them."""

    first: ShopPiece
    last: ShopPiece
    count: int
    bends: str

    @property
    def label(self) -> str:
        """Of the piece, or of the first and the last."""
        if self.count == 1:
            return self.first.label
        return f"{self.first.label} to {self.last.label}"


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
PIECES_MADE = {"elbow": "factory elbow", "bent": "field bent", "straight": "straight"}
# Bends this close to 90° are measured to their back (common practice, no source).
_SQUARE = math.radians(1.0)

LABEL: Column[BendRow] = Column("label", lambda r: r.made.label)
NUMBER: Column[BendRow] = Column("bend", lambda r: r.line.bend.number)
_AT: Column[BendRow] = Column("at", lambda r: r.line.at)
_TURN: Column[BendRow] = Column("turn", lambda r: r.turn.words)
_HEADING: Column[BendRow] = Column("heading", lambda r: r.turn.heading)
_PIECE: Column[BendRow] = Column("piece", lambda r: r.made.piece)
_SENSE: Column[BendRow] = Column("roll sense", lambda r: roll_sense(r.line.bend.roll) or None)
_MADE_AS: Column[BendRow] = Column("bend\ntype", lambda r: MADE[r.made.elbow])
_CONDUIT: Column[BendRow] = Column("conduit", lambda r: r.line.conduit)

TURNS: tuple[Column[BendRow], ...] = (
    LABEL,
    _AT,
    Column("station", lambda r: r.line.bend.station, "tape"),
    Column("straight\nbefore", lambda r: r.line.bend.straight_before, "tape"),
    _TURN,
    _HEADING,
    Column("roll", lambda r: _roll_words(r.line.bend.roll)),
)
ROLLS: tuple[Column[BendRow], ...] = (
    Column("roll", lambda r: r.line.bend.roll, "angle"),
    _SENSE,
)
SHAPES: tuple[Column[BendRow], ...] = (
    LABEL,
    Column("angle", lambda r: r.line.bend.angle, "angle"),
    Column("radius", lambda r: r.line.bend.radius, "tape"),
    Column("plane", lambda r: r.line.bend.plane),
    Column("set-back", lambda r: r.line.bend.setback, "tape"),
    Column("arc\nlength", lambda r: r.line.bend.arc_length, "tape"),
    Column("gain", lambda r: r.line.bend.gain, "tape"),
    _MADE_AS,
    _CONDUIT,
)
PASSING: tuple[Column[BendRow], ...] = (
    LABEL,
    Column("min.\nradius", lambda r: r.line.least_radius, "tape", "+"),
    Column("min. radius\nto pass", lambda r: _passing(r.margin), "tape", "+"),
    Column("max. radius\nthat fits", lambda r: r.margin.largest_radius, "tape", "-"),
    Column("sidewall", lambda r: r.line.sidewall, "sidewall"),
    Column("of limit", lambda r: r.line.sidewall_share, "percent"),
    Column("verdict", lambda r: r.verdict),
)
MARKS: tuple[Column[BendRow], ...] = (
    LABEL,
    _PIECE,
    Column("stick", lambda r: r.made.stick),
    Column("previous stick\ncut to", lambda r: _of_marks(r, "cut"), "tape"),
    Column("mark at\nstart", lambda r: _of_marks(r, "start"), "tape"),
    Column("mark at\ncenter", lambda r: _of_marks(r, "center"), "tape"),
    Column("mark at\nend", lambda r: _of_marks(r, "end"), "tape"),
    Column("on", lambda r: _last_stick(r.made)),
    Column("back\nof 90°", lambda r: r.back, "tape"),
    Column("dog-leg", lambda r: r.made.dog_leg, "angle"),
)
FIGURES: tuple[Column[FigureRow], ...] = (
    Column("figure", lambda r: r.figure.kind),
    Column("from", lambda r: r.first),
    Column("to", lambda r: r.last),
    Column("angle", lambda r: r.figure.angle, "angle"),
    Column("height", lambda r: r.figure.height, "tape"),
    Column("to crown", lambda r: r.figure.crown, "tape"),
    Column("multiplier", lambda r: r.figure.multiplier, "factor"),
    Column("travel", lambda r: r.figure.travel, "tape"),
    Column("over\nthe top", lambda r: r.figure.over, "tape"),
)
FIGURE_MARKS: tuple[Column[FigureRow], ...] = (
    *FIGURES[:3],
    Column("starts\n1 to 2", lambda r: _between(r.figure, 0), "tape"),
    Column("starts\n2 to 3", lambda r: _between(r.figure, 1), "tape"),
    Column("starts\n3 to 4", lambda r: _between(r.figure, 2), "tape"),
    Column("shrink to\ncenter mark", lambda r: r.figure.shrink_to_center, "tape"),
    Column("shrink,\nwhole", lambda r: r.figure.shrink, "tape"),
)
REACTIONS: tuple[Column[BendRow], ...] = (
    LABEL,
    Column("tension", lambda r: _of_reaction(r, "tension"), "force"),
    Column("tension of", lambda r: _pulling(r.reaction)),
    Column("fed from", lambda r: _of_reaction(r, "feed")),
    Column("reaction", lambda r: _of_reaction(r, "force"), "force"),
    Column("toward", lambda r: _toward(r)),
    Column("tension\nat Stop", lambda r: _of_reaction(r, "stop_tension"), "force"),
    Column("reaction\nat Stop", lambda r: _of_reaction(r, "stop_force"), "force"),
)
PIECES: tuple[Column[PieceRow], ...] = (
    Column("piece", lambda r: r.label),
    Column("number", lambda r: r.count, "count"),
    Column("kind", lambda r: PIECES_MADE[r.first.kind]),
    Column("length\neach", lambda r: r.first.length, "tape"),
    Column("cut from\na stick", lambda r: "yes" if r.first.cut else None),
    Column("from\nstation", lambda r: r.first.start, "tape"),
    Column("conduit", lambda r: r.first.conduit.label),
    Column("bends", lambda r: r.bends),
)
SECTIONS: tuple[Column[SectionRow], ...] = (
    Column("from", lambda r: r.first),
    Column("to", lambda r: r.last),
    Column("length", lambda r: r.section.length, "tape"),
    Column("bends", lambda r: len(r.section.bends), "count"),
    Column("total\nbend", lambda r: r.section.turn, "angle"),
    Column("limit", lambda r: r.section.turn_limit, "angle"),
    Column("verdict", lambda r: r.verdict),
    Column("elbows", lambda r: r.section.elbows, "count"),
    Column("sticks", lambda r: r.section.sticks, "count"),
    Column("joints", lambda r: r.section.joints, "count"),
    Column("supports", lambda r: r.section.supports, "count"),
)
# Those of the CSV: all lengths in one unit, that of a tape.
_PLAIN: tuple[Column[BendRow], ...] = (
    NUMBER,
    _AT,
    Column("station", lambda r: r.line.bend.station, "tape"),
    Column("straight before", lambda r: r.line.bend.straight_before, "tape"),
    Column("angle", lambda r: r.line.bend.angle, "angle"),
    Column("radius", lambda r: r.line.bend.radius, "tape"),
    Column("plane", lambda r: r.line.bend.plane),
    ROLLS[0],
    Column("set-back", lambda r: r.line.bend.setback, "tape"),
    Column("arc length", lambda r: r.line.bend.arc_length, "tape"),
    Column("gain", lambda r: r.line.bend.gain, "tape"),
    _CONDUIT,
    _MADE_AS,
    Column("min. radius", lambda r: r.line.least_radius, "tape"),
    Column("min. radius to pass", lambda r: _passing(r.margin), "tape"),
    Column("max. radius that fits", lambda r: r.margin.largest_radius, "tape"),
    Column("sidewall", lambda r: r.line.sidewall, "sidewall"),
    Column("of limit", lambda r: r.line.sidewall_share, "percent"),
    Column("verdict", lambda r: r.verdict),
    Column("stick", lambda r: r.made.stick),
    Column("previous stick cut to", lambda r: _of_marks(r, "cut"), "tape"),
    Column("mark at start", lambda r: _of_marks(r, "start"), "tape"),
    Column("mark at end", lambda r: _of_marks(r, "end"), "tape"),
    Column("on", lambda r: _last_stick(r.made)),
    Column("figure", lambda r: _figure(r.made.figure)),
    Column("height", lambda r: _of_figure(r, "height"), "tape"),
    Column("multiplier", lambda r: _of_figure(r, "multiplier"), "factor"),
    Column("travel", lambda r: _of_figure(r, "travel"), "tape"),
    Column("shrink, whole", lambda r: _of_figure(r, "shrink"), "tape"),
    Column("dog-leg", lambda r: r.made.dog_leg, "angle"),
    LABEL,
    _PIECE,
    _TURN,
    _HEADING,
    _SENSE,
    Column("mark at center", lambda r: _of_marks(r, "center"), "tape"),
    Column("back of 90°", lambda r: r.back, "tape"),
    Column("height to crown", lambda r: _of_figure(r, "crown"), "tape"),
    Column("over the top", lambda r: _of_figure(r, "over"), "tape"),
    Column("starts 1 to 2", lambda r: _between(r.made.figure, 0), "tape"),
    Column("starts 2 to 3", lambda r: _between(r.made.figure, 1), "tape"),
    Column("starts 3 to 4", lambda r: _between(r.made.figure, 2), "tape"),
    Column("shrink to center mark", lambda r: _of_figure(r, "shrink_to_center"), "tape"),
    *REACTIONS[1:],
)


def tape_columns(
    columns: Sequence[Column[Row]], system: str, titles: Sequence[str]
) -> tuple[Column[Row], ...]:
    """Columns of text for the lengths of these titles: each as it is read off a tape."""
    chosen = (c for c in columns if c.title.replace("\n", " ") in titles)
    return tuple(_taped(c, system) for c in chosen)


def with_tape(columns: Sequence[Column[Row]], system: str) -> tuple[Column[Row], ...]:
    """The columns, each length followed by its text as it is read off a tape.

    Not in millimeters: there the number is what a tape reads.
    """
    found: list[Column[Row]] = []
    for column in columns:
        found.append(column)
        if column.quantity == "tape" and system == "US":
            found.append(_taped(column, system))
    return tuple(found)


def _taped(column: Column[Row], system: str) -> Column[Row]:
    def text(row: Row) -> Value:
        said = column.cell(row, system)
        return None if said == "-" else said

    title = column.title.replace("\n", " ")
    return Column(f"{title}, tape", text)


# Lengths somebody measures off with a tape.
TAPED = ("station", "radius", "set-back", "arc length", "gain")
TAPED_MARKS = (
    "previous stick cut to",
    "mark at start",
    "mark at center",
    "mark at end",
    "back of 90°",
)


def way_words(way: Floats, north: float = 0.0) -> str:
    """A direction for the crew: ``NE``, ``S, 45° up``, ``straight down``."""
    found = direction(way, north)
    if found.plumb:
        return f"straight {found.words}"
    level = compass(found.bearing)
    rise = degrees(abs(found.climb))
    return level if rise == "0" else f"{level}, {rise}° {'up' if found.climb > 0 else 'down'}"


def _roll_words(roll: float) -> Value:
    sense = roll_sense(roll)
    return f"{degrees(abs(roll))}° {sense}" if "clockwise" in sense else sense or None


def _passing(margin: BendMargin) -> Value:
    radius = margin.passing_radius
    return "none" if radius is not None and math.isnan(radius) else radius


def _of_marks(row: BendRow, name: str) -> float | None:
    """A number of the marks of a bend."""
    marks: Marks | None = row.made.marks
    value: float | None = None if marks is None else getattr(marks, name)
    return value


def _of_reaction(row: BendRow, name: str) -> Value:
    """A number or a name of the reaction of a bend."""
    if row.reaction is None:
        return None
    value: Value = getattr(row.reaction, name)
    return value


def _pulling(reaction: BendReaction | None) -> Value:
    if reaction is None:
        return None
    return "rope" if reaction.of_rope else "cables"


def _toward(row: BendRow) -> Value:
    return None if row.reaction is None else way_words(row.reaction.way, row.north)


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


def _between(figure: OffsetOrSaddle | None, k: int) -> float | None:
    """From the start mark of its bend ``k``, counted from 0, to the next one."""
    return figure.spacings[k] if figure and k < len(figure.spacings) else None


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
    """The bend schedule of one run, complete: its bends, pieces, and what lies between pull points.

    ``planned_feed`` names the end that the Stop of the reactions is fed from; "" without one.
    """

    run: RunResult
    rows: tuple[BendRow, ...]
    sections: tuple[SectionRow, ...]
    shop: Shop
    planned_feed: str = ""

    @property
    def figures(self) -> tuple[FigureRow, ...]:
        """The offsets and saddles in order."""
        label = {row.line.bend.number: row.made.label for row in self.rows}
        found = dict.fromkeys(r.made.figure for r in self.rows if r.made.figure is not None)
        return tuple(FigureRow(f, label[f.first], label[f.last]) for f in found)

    @property
    def pieces(self) -> tuple[PieceRow, ...]:
        """Every piece in route order, one row each."""
        label = {row.line.bend.number: row.made.label for row in self.rows}
        return tuple(
            PieceRow(p, p, 1, ", ".join(label[n] for n in p.bends)) for p in self.shop.pieces
        )

    @property
    def merged_pieces(self) -> tuple[PieceRow, ...]:
        """The same with straights of one length that follow each other in one row."""
        found: list[PieceRow] = []
        for row in self.pieces:
            last = found[-1] if found else None
            if last is not None and _alike(last.last, row.first):
                found[-1] = replace(last, last=row.first, count=last.count + 1)
            else:
                found.append(row)
        return tuple(found)

    @property
    def stops(self) -> bool:
        """True where a bend exceeds a limit, or too many degrees lie between two pull points."""
        return breaks_degrees(self.run) or any(r.verdict.startswith("stop") for r in self.rows)


def _alike(a: ShopPiece, b: ShopPiece) -> bool:
    """True where two pieces are straights of one length, conduit and kind."""
    straight = a.kind == b.kind == "straight" and a.conduit is b.conduit
    return straight and abs(a.length - b.length) < 1e-6


def bend_sheets(result: JobResult, stick: float | None = None) -> tuple[BendSheet, ...]:
    """The schedules of a job; ``stick`` m is the length of a stick in place of the table's."""
    return tuple(_sheet(run, result.job, stick) for run in result.runs)


def _sheet(run: RunResult, job: Job, stick: float | None) -> BendSheet:
    route = run.run.route
    shop = shop_sheet(route, run.path, run.practice, stick, run.run.name)
    reactions = bend_reactions(run, route_schedule(route, run.path), job)
    rows = bend_rows(run, bend_margins(run), shop, job.site.frame.north, reactions)
    sections = (SectionRow(s, route.label(s.first), route.label(s.last)) for s in shop.sections)
    at_stop = any(r.stop_tension is not None for r in reactions)
    feed = run.best.pull.feed_name if at_stop else ""
    return BendSheet(run, rows, tuple(sections), shop, feed)


def bend_rows(
    run: RunResult,
    margins: Sequence[BendMargin],
    shop: Shop,
    north: float = 0.0,
    reactions: Sequence[BendReaction] = (),
) -> tuple[BendRow, ...]:
    """The bends of one run with turns, fabrication, margins and reactions, in route order.

    ``north`` rad is its direction on the plan, clockwise from +y.
    """
    found = bend_findings(run)
    lines = bend_lines(run)
    turned = turns(run.path, [line.bend for line in lines], north)
    held: Sequence[BendReaction | None] = reactions or [None] * len(lines)
    rows = []
    for line, made, margin, turn, reaction in zip(
        lines, shop.bends, margins, turned, held, strict=True
    ):
        asked = shop_findings(run.run.route, line.bend, made, margin.room)
        worse = line.verdict if line.verdict != "ok" else verdict_of(asked)
        both = worst_first((*found.get(line.bend.number, ()), *asked))
        rows.append(BendRow(line, made, margin, worse, both, turn, reaction, north))
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
    rows = [row for sheet in sheets for row in sheet.rows]
    words = [tape_words(system), _turn_words(result.job.site.frame.north), _layout_words()]
    if any(r.made.elbow == "field" for r in rows):
        words.append(field_words())
    if any(r.reaction for r in rows):
        words.append(reaction_words())
    rules = paragraph(rules_line(result.job.practice), style="dim")
    return Group(*parts, paragraph(" ".join(words), style="dim", before=1), rules)


def _run_report(sheet: BendSheet, system: str) -> list[RenderableType]:
    run, rows = sheet.run, sheet.rows
    total = f"{tape(run.path.length, system)} long, "
    total += f"{show(run.path.turn, 'angle', system)} total bend"
    head = [
        paragraph(f"Run {run.run.name}: {total}", style="bold", before=1),
        *(paragraph(line, style=severity_style("stop")) for line in stop_lines(sheet, system)),
    ]
    between = [
        paragraph("Between pull points:", before=1),
        column_table(sheet.sections, filled(sheet.sections, SECTIONS), system),
        paragraph("Pieces:", before=1),
        column_table(sheet.merged_pieces, filled(sheet.merged_pieces, PIECES), system),
        *_sources(sheet),
    ]
    if not rows:
        return [*head, paragraph("No bends."), *between, *advice_report(run, system)]
    last = rows[-1]
    after = tape(last.line.bend.straight_after, system)
    limits = f"Limits, and sidewall pressure with feed from {run.best.pull.feed_name}:"
    return [
        *head,
        column_table(rows, filled(rows, TURNS), system),
        paragraph(f"Straight after {last.made.label}: {after}"),
        paragraph("Layout:", before=1),
        column_table(rows, SHAPES, system),
        paragraph(limits, before=1),
        column_table(rows, filled(rows, PASSING), system),
        *_not_solved(rows),
        *_field_report(sheet, system),
        *_reaction_report(sheet, system),
        *between,
        *advice_report(run, system),
    ]


def stop_lines(sheet: BendSheet, system: str) -> list[str]:
    """What stops a run, the worst place of each rule, before anybody bends by its marks."""
    stops: dict[str, list[Finding]] = {}
    for finding in worst_first(sheet.run.findings):
        if finding.severity == "stop":
            stops.setdefault(finding.rule, []).append(finding)
    lines = []
    for rule, (first, *more) in stops.items():
        line = f"Stop: {rule}, {render(first.place, system)}: {measured(first, system)}"
        if (limit := limit_of(first, system)) != "-":
            line += f", limit {limit}"
        lines.append(line + (f"; and at {len(more):,} more" if more else "") + ".")
    if lines:
        what = "Remedies follow the tables. " if advice_report(sheet.run, system) else ""
        lines.append(
            f"{what}Marks and pieces below are of the route as it is: do not bend by them."
        )
    return lines


def _not_solved(rows: Sequence[BendRow]) -> list[RenderableType]:
    """How many radii were not looked for, where the route is too long for all."""
    left = sum(r.margin.passing_radius is None for r in rows)
    if not left:
        return []
    text = f"The minimum radius to pass was not calculated for {left:,} of {len(rows):,} bends, "
    return [paragraph(text + "those with the lowest utilization, because the run is long")]


def _field_report(sheet: BendSheet, system: str) -> list[RenderableType]:
    rows = [r for r in sheet.rows if r.made.marks is not None]
    parts: list[RenderableType] = []
    if rows:
        head = "Field bends, marks from the end of the piece that comes first on the route:"
        parts += [paragraph(head, before=1), column_table(rows, filled(rows, MARKS), system)]
    parts += [
        paragraph(line, style=severity_style("caution")) for line in held_lines(sheet, system)
    ]
    for name, columns in (
        ("Offsets and saddles:", FIGURES),
        ("Offsets and saddles, between their start marks, and shrink:", FIGURE_MARKS),
    ):
        if sheet.figures:
            shown = filled(sheet.figures, columns)
            parts += [paragraph(name, before=1), column_table(sheet.figures, shown, system)]
    return parts


def held_lines(sheet: BendSheet, system: str) -> list[str]:
    """The bends too near to the end of their piece to be made, each with its piece."""
    return [
        f"Caution, piece {row.made.piece}: {row.made.label} has {tape(found.demand, system)} "
        f"straight to the end of the piece, at least {tape(found.limit, system, toward='+')}."
        for row in sheet.rows
        for found in row.findings
        if found.rule == HELD and found.severity != "ok"
    ]


def _reaction_report(sheet: BendSheet, system: str) -> list[RenderableType]:
    columns = filled(sheet.rows, REACTIONS)
    if len(columns) == 1:
        return []
    head = "Reaction of the pull on each exposed bend, 2 T sin(angle/2)"
    if sheet.planned_feed:
        head += f"; at Stop: by the plan, fed from {sheet.planned_feed}"
    return [paragraph(head + ":", before=1), column_table(sheet.rows, columns, system)]


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


def tape_words(system: str) -> str:
    """How lengths are rounded."""
    if system == "US":
        near = "Lengths are in feet, inches and sixteenths, to the nearest 1/16 in"
    else:
        near = "Lengths are in millimeters, to the nearest one"
    return (
        f"{near}; minimum radii are rounded up, maximum radii down. Each is rounded from the exact "
        "length, so rounding does not add up from mark to mark."
    )


def _turn_words(north: float) -> str:
    given = f"{degrees(north % math.tau)}° clockwise from +y" if north else "+y of the grid"
    return (
        "Turn: seen along the route; left and right change the heading, up and down the climb. "
        f"Heading: before and after the bend, from north ({given}); a leg within 0.5° of plumb is "
        "up or down."
    )


def _layout_words() -> str:
    return (
        "Roll: rotation of the bend plane from the previous bend, looking along "
        "the route; opposite side: it bends back. Set-back: from the intersection of the tangents "
        "to either end of the bend. Gain: length saved by the arc compared with the two "
        "tangents. Min. radius: of cable and conduit. Min. radius to pass: the smallest "
        "radius of this one bend with which the run, solved again in both directions, still "
        "passes. Max. radius that fits: the largest radius the adjacent straights allow. "
        "Pieces: each length between elbows starts with a whole stick, offcuts are not "
        "reused. Supports: for exposed conduit. Stations, set-back and radius are on the "
        "centerline."
    )


def field_words() -> str:
    """What the marks and figures of field bends are."""
    return (
        "Marks: start, center and end of the arc on the straight conduit. Back of 90°: the stub "
        "measured to the back of the bend; for a hand bender set its arrow there less its "
        "take-up. Travel: from corner to corner of the first slope, its height times the "
        "multiplier. Starts: from one start mark to the next on the straight conduit: corner to "
        "corner less the set-backs of both bends, and the arc of the first; of an offset the "
        "travel less the gain of a bend. Shrink: loss of advance, arcs included; to the center "
        "mark of a saddle (of four bends: to its top), and of the whole figure. To crown: height "
        "of the top of the center bend. Dog-leg: twist between two bends meant to lie in one plane."
    )


def reaction_words() -> str:
    """What the reactions are, and what they are not."""
    return (
        "Reaction: resultant of two tensions T at the angle of the bend, toward its inside "
        "(statics; Beer & Johnston, from memory). T: the larger of both ends of the bend and of "
        "the directions with access, of cables or rope. At Stop: while the machine reads Stop. "
        "Friction along the conduit, weight and shocks are not included; loads of a restart only "
        "as far as Stop covers them. The straps beside a bend share its reaction. The engineer of "
        "record sizes the supports."
    )


# --- CSV -----------------------------------------------------------------------------------------


def bends_csv(result: JobResult, system: str, sheets: Sequence[BendSheet] | None = None) -> str:
    """The bend schedules of a job as CSV: units in the heading, plain numbers below.

    The lengths of layout and marks stand there once more as they are read off a tape.
    """
    taped = tape_columns(SHAPES + TURNS, system, TAPED), tape_columns(MARKS, system, TAPED_MARKS)
    columns = (*_PLAIN, *taped[0], *taped[1])
    shown = bend_sheets(result) if sheets is None else sheets
    groups = ((sheet.run.run.name, sheet.rows) for sheet in shown)
    return columns_csv(result.job, groups, columns, system)
