"""Clearance of bodies, and clashes as one numbered list by zone: tables, CSV and plain data."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rich.console import Group, RenderableType

from route3d.checks.clearance import Met
from route3d.checks.finding import worst_first
from route3d.model.job import Job
from route3d.planning.clearance.issues import Issue, by_zone, on_grid
from route3d.planning.clearance.job import BodyClearance, ClearanceResult
from route3d.report.columns import Column, columns_csv
from route3d.report.findings import findings_table
from route3d.report.layout import heading, paragraph, table
from route3d.report.words import rules_line
from route3d.units import show

Data = dict[str, Any]

_MOST_FINDINGS = _MOST_ROWS = 20
_FAR = 100.0  # m: bodies that nothing comes near to are not told one by one


def bodies_report(result: ClearanceResult, system: str) -> list[RenderableType]:
    """What is built beside conduits: a row for each body and what it is nearest to by kind."""
    every = [(body, met) for body in result.bodies for met in body.met if _told(met)]
    if not every:
        return []
    told = sorted(every, key=lambda pair: _margin(pair[1]))[:_MOST_ROWS]
    told.sort(key=every.index)
    heads = ("body", "against", "required", "min.\nclearance", "at\nstation", "nearest", "verdict")
    rows = [_row(body, met, system) for body, met in told]
    found = worst_first(tuple(f for body in result.bodies for f in body.findings))
    stops = [f for f in found if f.severity != "ok"]
    parts: list[RenderableType] = [
        paragraph("Concrete, boxes and equipment:", style="bold", before=1),
        table(heads, rows, numbers=(2, 3, 4)),
    ]
    if len(every) > len(told):
        parts.append(paragraph(f"and {len(every) - len(told)} with more to spare (--json)."))
    if stops:
        parts += findings_table(stops[:_MOST_FINDINGS], system)
    if len(stops) > _MOST_FINDINGS:
        parts.append(paragraph(f"and {len(stops) - _MOST_FINDINGS} more (--json lists them)."))
    return parts


def _told(met: Met) -> bool:
    return met.nearest is not None and met.nearest.distance < _FAR


def _margin(met: Met) -> float:
    assert met.nearest is not None
    return met.nearest.distance - met.required


def _row(body: BodyClearance, met: Met, system: str) -> list[str]:
    assert met.nearest is not None
    n = met.nearest
    return [
        body.body.name,
        met.name,
        show(met.required, "diameter", system),
        show(n.distance, "diameter", system),
        show(n.station, "length", system),
        n.what[0],
        met_verdict(met),
    ]


def met_verdict(met: Met) -> str:
    """The worst verdict anywhere on it: "clash", "close", "inside?", "ok", or "end"."""
    if met.clashes:
        return "clash"
    if met.short:
        return "close"
    if met.inside and met.solid is None:
        return "inside?"
    return "ok" if met.nearest is not None else "end"


# --- by zone -------------------------------------------------------------------------------------


def issues_report(result: ClearanceResult, found: Sequence[Issue], system: str) -> RenderableType:
    """Every clash and every place too close, zone by zone, with coordinates."""
    job = result.job
    parts: list[RenderableType] = [heading(job)]
    for zone, own in by_zone(found, job):
        clashes = sum(issue.clash for issue in own)
        text = f"{zone}: {clashes} clashes, {len(own) - clashes} too close"
        parts += [
            paragraph(text[0].upper() + text[1:], style="bold", before=1),
            _issues_table(own, job, system),
        ]
    if not found:
        parts.append(paragraph(_none(result), before=1))
    notes = [_COORDINATES[job.site.frame.origin is not None]]
    if result.not_judged:
        names = ", ".join(mesh.name for mesh in result.site if not mesh.judged)
        notes.append(f"Not judged: {names}. Run route3d clearance without --by for the reason.")
    shown = (paragraph(t, style="dim", before=int(not i)) for i, t in enumerate(notes))
    return Group(*parts, *shown, paragraph(rules_line(job.practice), style="dim"))


_COORDINATES = {
    False: "Coordinates: those of the model file. Negative clearance: the depth of the overlap.",
    True: "Coordinates: those of the model file, then those of the grid (site.origin added). "
    "Negative clearance: the depth of the overlap.",
}


def _none(result: ClearanceResult) -> str:
    if result.not_judged:
        return "No clash with what was judged."
    return "No clash. All required clearances are met."


def _issues_table(found: Sequence[Issue], job: Job, system: str) -> RenderableType:
    heads = ["no.", "what", "against", "station", "clearance", "required", "x, y, z"]
    grid = job.site.frame.origin is not None
    if grid:
        heads.append("grid x, y, z")
    rows = []
    for issue in found:
        row = [
            str(issue.number),
            issue.one,
            issue.other,
            show(issue.station, "length", system),
            show(issue.distance, "diameter", system),
            show(issue.required, "diameter", system) if issue.required else "-",
            _triple(issue.point, system),
        ]
        rows.append([*row, _triple(on_grid(job, issue.point), system)] if grid else row)
    return table(heads, rows, numbers=(0, 3, 4, 5))


def _triple(point: Sequence[float], system: str) -> str:
    """Three lines, for they are read one by one."""
    return "\n".join(show(v, "length", system) for v in point)


_COLUMNS: tuple[Column[Issue], ...] = (
    Column("number", lambda i: float(i.number), "count"),
    Column("zone", lambda i: i.zone),
    Column("what", lambda i: i.one),
    Column("against", lambda i: i.other),
    Column("verdict", lambda i: "clash" if i.clash else "close"),
    Column("severity", lambda i: i.severity),
    Column("station", lambda i: i.station, "length"),
    Column("clearance", lambda i: i.distance, "diameter"),
    Column("required", lambda i: i.required, "diameter"),
    Column("x", lambda i: i.point[0], "length"),
    Column("y", lambda i: i.point[1], "length"),
    Column("z", lambda i: i.point[2], "length"),
)


def issues_csv(result: ClearanceResult, found: Sequence[Issue], system: str) -> str:
    """Every issue as CSV, by the runs."""
    names = dict.fromkeys(issue.run for issue in found)
    rows = [(name, tuple(i for i in found if i.run == name)) for name in names]
    return columns_csv(result.job, rows, _COLUMNS, system)


# --- plain data ----------------------------------------------------------------------------------


def issues_data(found: Sequence[Issue], job: Job) -> list[Data]:
    """Every issue in SI."""
    return [
        {
            "number": issue.number,
            "zone": issue.zone,
            "run": issue.run,
            "what": issue.one,
            "against": issue.other,
            "verdict": "clash" if issue.clash else "close",
            "severity": issue.severity,
            "from_m": issue.start,
            "to_m": issue.end,
            "station_m": issue.station,
            "clearance_m": issue.distance,
            "required_m": issue.required,
            "xyz_m": list(issue.point),
            "grid_xyz_m": list(on_grid(job, issue.point)),
            "ifc_guids": list(issue.guids),
        }
        for issue in found
    ]
