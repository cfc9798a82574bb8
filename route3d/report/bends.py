"""The bend schedule as a table, and as CSV for a spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from rich.console import Group, RenderableType
from rich.text import Text

from route3d.checks.finding import SEVERITIES, Finding
from route3d.checks.limits import sidewall_limit
from route3d.geometry.schedule import ScheduledBend, bend_schedule
from route3d.planning.evaluate import JobResult, RunResult
from route3d.report.layout import heading, paragraph, severity_style, table
from route3d.units import convert, show, unit_label

_DEGREES = "degrees between pull points"
_RADIUS_RULES = ("cable bend radius", "conduit bend radius")


@dataclass(frozen=True, slots=True)
class BendLine:
    """One bend with its place, conduit and limits; SI.

    ``least_radius`` is the largest of the radii that the cable and the conduit ask for, on the
    centreline. ``sidewall`` is the largest pressure in the bend in the direction reported, and
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
    at = _findings_by_bend(run)
    return tuple(
        _line(run, bend, at.get(f"bend {bend.number}", [])) for bend in bend_schedule(run.path)
    )


def _line(run: RunResult, bend: ScheduledBend, findings: list[Finding]) -> BendLine:
    route, pull = run.run.route, run.best.pull
    radii = [f for f in findings if f.rule in _RADIUS_RULES]
    sidewall = float(pull.profile.sidewall[pull.worst_rows[bend.segment]])
    return BendLine(
        bend=bend,
        at=route.label(bend.vertex),
        conduit=route.conduits[bend.leg].label,
        # A check on the inside radius is brought back to the centreline.
        least_radius=max((bend.radius - f.demand + f.limit for f in radii), default=0.0),
        sidewall=sidewall,
        sidewall_share=sidewall / sidewall_limit(run.run).value,
        verdict=_verdict(findings),
    )


def _findings_by_bend(run: RunResult) -> dict[str, list[Finding]]:
    """The findings on radius and sidewall pressure of each bend, by its number."""
    found: dict[str, list[Finding]] = {}
    for finding in (*run.run_findings, *run.best.findings):
        if finding.rule in (*_RADIUS_RULES, "sidewall pressure"):
            found.setdefault(finding.where.split(" at ")[0], []).append(finding)
    return found


def _verdict(findings: list[Finding]) -> str:
    worst = min(findings, key=lambda f: SEVERITIES.index(f.severity), default=None)
    if worst is None or worst.severity == "ok":
        return "ok"
    return f"{worst.severity}: {worst.rule}"


@dataclass(frozen=True, slots=True)
class _Column:
    """A column of the schedule: ``quantity`` of its number, None where it is text."""

    title: str
    value: Callable[[BendLine], float | str]
    quantity: str | None = None

    def cell(self, line: BendLine, system: str) -> str:
        """The value as text with its unit."""
        value = self.value(line)
        if isinstance(value, str) or self.quantity is None:
            return str(value)
        return show(value, self.quantity, system)


_NUMBER = _Column("bend", lambda b: str(b.bend.number))
_LAYOUT = (
    _Column("at", lambda b: b.at),
    _Column("station", lambda b: b.bend.station, "length"),
    _Column("straight\nbefore", lambda b: b.bend.straight_before, "length"),
    _Column("angle", lambda b: b.bend.angle, "angle"),
    _Column("radius", lambda b: b.bend.radius, "radius"),
    _Column("set-back", lambda b: b.bend.setback, "radius"),
    _Column("arc\nlength", lambda b: b.bend.arc_length, "length"),
    _Column("gain", lambda b: b.bend.gain, "radius"),
    _Column("plane", lambda b: b.bend.plane),
)
_LIMITS = (
    _Column("conduit", lambda b: b.conduit),
    _Column("least\nradius", lambda b: b.least_radius, "radius"),
    _Column("sidewall", lambda b: b.sidewall, "sidewall"),
    _Column("of limit", lambda b: b.sidewall_share, "percent"),
    _Column("verdict", lambda b: b.verdict),
)


def bends_report(result: JobResult, system: str) -> RenderableType:
    """The bend schedules of a job for a terminal."""
    parts: list[RenderableType] = [heading(result.job.title)]
    for run in result.runs:
        parts += _run_report(run, system)
    words = "Set-back: from the point where the tangents meet to either end of the bend. Gain: what"
    words += " the bend is shorter than going to that point and on. Stations, set-back and radius"
    words += " are on the centreline."
    return Group(*parts, paragraph(words, style="dim", before=1))


def _run_report(run: RunResult, system: str) -> list[RenderableType]:
    lines, pull = bend_lines(run), run.best.pull
    total = f"{show(run.path.length, 'length', system)} long, "
    total += f"{show(run.path.turn, 'angle', system)} of bends in all"
    head = paragraph(f"Run {run.run.name}: {total}", style="bold", before=1)
    if not lines:
        return [head, paragraph("No bends.")]
    last = lines[-1].bend
    after = f"then {show(last.straight_after, 'length', system)} straight after bend {last.number}"
    degrees = [paragraph(_degrees(f, system)) for f in run.run_findings if f.rule == _DEGREES]
    limits = f"Limits, and sidewall pressure when feeding from {pull.feed_name}:"
    return [
        head,
        _table(lines, _LAYOUT, system),
        paragraph(after),
        *degrees,
        paragraph(limits, before=1),
        _table(lines, _LIMITS, system),
    ]


def breaks_degrees(run: RunResult) -> bool:
    """True where too many degrees lie between two pull points."""
    return any(f.rule == _DEGREES and f.severity == "stop" for f in run.run_findings)


def _degrees(finding: Finding, system: str) -> Text:
    """One stretch between pull points: its sum of bends, the limit and the verdict."""
    text = (
        f"{finding.where}: {show(finding.demand, 'angle', system)} of bends between pull points, "
    )
    text += f"limit {show(finding.limit, 'angle', system)}: {finding.severity}"
    return Text(text, style=severity_style(finding.severity))


def _table(lines: Sequence[BendLine], columns: Sequence[_Column], system: str) -> RenderableType:
    columns = (_NUMBER, *columns)
    rows = [[_styled(column.cell(line, system)) for column in columns] for line in lines]
    numbers = [i for i, column in enumerate(columns) if column.quantity is not None]
    return table([column.title for column in columns], rows, numbers=numbers)


def _styled(text: str) -> Text:
    return Text(text, style=severity_style(text.split(":")[0]))


def bends_csv(result: JobResult, system: str) -> str:
    """The bend schedules of a job as CSV: units in the heading, plain numbers below."""
    columns = (_NUMBER, *_LAYOUT, *_LIMITS)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["run", *(_title(column, system) for column in columns)])
    for run in result.runs:
        for line in bend_lines(run):
            writer.writerow([run.run.name, *(_value(c, line, system) for c in columns)])
    return out.getvalue()


def _title(column: _Column, system: str) -> str:
    title = column.title.replace("\n", " ")
    unit = unit_label(column.quantity, system) if column.quantity else ""
    return f"{title} ({unit})" if unit else title


def _value(column: _Column, line: BendLine, system: str) -> str:
    value = column.value(line)
    if isinstance(value, str) or column.quantity is None:
        return str(value)
    return f"{round(convert(value, column.quantity, system), 4):.10g}"
