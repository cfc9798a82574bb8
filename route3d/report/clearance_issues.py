"""Clearance of bodies, and clashes as one numbered list by zone: tables, CSV and plain data."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from rich.console import Group, RenderableType
from rich.text import Text

from route3d.checks.clearance import Met
from route3d.checks.finding import worst_first
from route3d.model.job import Job
from route3d.planning.clearance.issues import CLASH, CLOSE, INSIDE, Issue, by_zone, on_grid
from route3d.planning.clearance.job import BodyClearance, ClearanceResult, NotJudged
from route3d.report.columns import Column, columns_csv
from route3d.report.findings import findings_table, site_parts
from route3d.report.layout import heading, paragraph, severity_style, table
from route3d.report.words import rules_line
from route3d.units import render, show

Data = dict[str, Any]

_MOST_FINDINGS = _MOST_ROWS = 20
_MOST_NAMED = 8  # open meshes and elements
_FAR = 100.0  # m: bodies that nothing comes near to are not told one by one

NOTHING = (
    "Nothing to measure against: the model file has no building meshes (site.context) and no "
    "other run, and the run does not come too close to itself."
)
NOT_JUDGED = "not judged"

# --- the verdict ---------------------------------------------------------------------------------


def verdict_part(result: ClearanceResult, found: Sequence[Issue]) -> RenderableType:
    """One line for all of it: what stops, what is a caution, and what was not judged."""
    stops = [i for i in found if i.severity == "stop"]
    cautions = [i for i in found if i.severity != "stop"]
    said = []
    if stops:
        said.append(f"{_plural(len(stops), 'stop')} ({_counted(stops)})")
    if cautions:
        said.append(f"{_plural(len(cautions), 'caution')} ({_counted(cautions)})")
    text = "Verdict: " + (", ".join(said) or clear(result))
    if not_judged := result.not_judged:
        text += f". Not judged: {', '.join(one.name for one in not_judged)}"
    severity = "stop" if result.stops else "caution" if cautions else "ok"
    return paragraph(Text(f"{text}.", style=f"bold {severity_style(severity)}"), before=1)


def clear(result: ClearanceResult) -> str:
    """What is said where nothing is too near."""
    if result.not_judged:
        return "nothing is too near of what was judged"
    return "no clash, all required clearances are met"


def _counted(found: Sequence[Issue]) -> str:
    """How many clash, are too close and may be in material."""
    counts = {v: sum(i.verdict == v for i in found) for v in (CLASH, CLOSE, INSIDE)}
    said = [
        _plural(counts[CLASH], "clash", "es") if counts[CLASH] else "",
        f"{counts[CLOSE]} too close" if counts[CLOSE] else "",
        f"{counts[INSIDE]} inside what may be solid" if counts[INSIDE] else "",
    ]
    return ", ".join(text for text in said if text)


def _plural(count: int, word: str, ending: str = "s") -> str:
    return f"{count} {word}{ending if count != 1 else ''}"


def left_out(result: ClearanceResult, system: str) -> list[str]:
    """Sentences on what was not judged, not checked, or taken for the want of better."""
    said = [
        f"Not judged: {one.name}: {render(one.why, system)}."
        for one in result.not_judged
        if one.run
    ]
    for name, spans in result.unknown:
        where = ", ".join(
            f"{show(a, 'length', system)} to {show(b, 'length', system)}" for a, b in spans
        )
        said.append(
            f"Outside the surface of site.grade the ground is not known: concrete of bank {name} "
            f"is measured all the same at {where}."
        )
    if result.open_meshes:
        names = ", ".join(result.open_meshes[:_MOST_NAMED])
        more = len(result.open_meshes) - _MOST_NAMED
        also = f" and {more} more (--json)" if more > 0 else ""
        said.append(f"Not watertight, 'inside' not checked: {names}{also}.")
    return said


# --- bodies --------------------------------------------------------------------------------------


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
    else:
        parts.append(paragraph(f"Concrete, boxes and equipment: {clear(result)}.", before=1))
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
        _with_severity(met),
    ]


def _with_severity(met: Met) -> str:
    """The verdict of a body, and that it is no more than a caution."""
    verdict = met_verdict(met)
    soft = met.assumed or (verdict == CLOSE and met.severity == "caution")
    return f"{verdict} (caution)" if soft and verdict in (CLASH, CLOSE) else verdict


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
    parts: list[RenderableType] = [heading(job), *site_parts(result.site, system)]
    foot = paragraph(rules_line(job.practice), style="dim")
    if result.nothing:
        return Group(*parts, paragraph(NOTHING, before=1), foot)
    for zone, own in by_zone(found, job):
        text = f"{zone}: {_counted(own)}"
        parts += [
            paragraph(text[0].upper() + text[1:], style="bold", before=1),
            _issues_table(own, job, system),
        ]
    notes = [_COORDINATES[job.site.frame.origin is not None]] if found else []
    notes += left_out(result, system)
    shown = (paragraph(t, style="dim", before=int(not i)) for i, t in enumerate(notes))
    return Group(*parts, *shown, foot, verdict_part(result, found))


_COORDINATES = {
    False: "Coordinates: those of the model file. Negative clearance: the depth of the overlap.",
    True: "Coordinates: those of the model file, then those of the grid (site.origin added). "
    "Negative clearance: the depth of the overlap.",
}


def _issues_table(found: Sequence[Issue], job: Job, system: str) -> RenderableType:
    heads = ["no.", "severity", "what", "against", "station", "clearance", "required", "x, y, z"]
    grid = job.site.frame.origin is not None
    if grid:
        heads.append("grid x, y, z")
    rows = []
    for issue in found:
        row: list[str | Text] = [
            str(issue.number),
            Text(_severity(issue), style=severity_style(issue.severity)),
            issue.one,
            issue.other,
            show(issue.station, "length", system),
            show(issue.distance, "diameter", system),
            show(issue.required, "diameter", system) if issue.required else "-",
            _triple(issue.point, system),
        ]
        rows.append([*row, _triple(on_grid(job, issue.point), system)] if grid else row)
    return table(heads, rows, numbers=(0, 4, 5, 6))


def _severity(issue: Issue) -> str:
    """The severity, and why it is no more than that."""
    return f"{issue.severity}: {issue.why}" if issue.why else issue.severity


def _triple(point: Sequence[float], system: str) -> str:
    """Three lines, for they are read one by one."""
    return "\n".join(show(v, "length", system) for v in point)


_COLUMNS: tuple[Column[Issue], ...] = (
    Column("number", lambda i: float(i.number) if i.number else None, "count"),
    Column("zone", lambda i: i.zone),
    Column("what", lambda i: i.one),
    Column("against", lambda i: i.other),
    Column("verdict", lambda i: i.verdict),
    Column("severity", lambda i: i.severity),
    Column("station", lambda i: i.station, "length"),
    Column("clearance", lambda i: i.distance, "diameter"),
    Column("required", lambda i: i.required, "diameter"),
    Column("x", lambda i: i.point[0], "length"),
    Column("y", lambda i: i.point[1], "length"),
    Column("z", lambda i: i.point[2], "length"),
    Column("why", lambda i: i.why),
)


def issues_csv(result: ClearanceResult, found: Sequence[Issue], system: str) -> str:
    """Every issue as CSV in the order of their numbers, then what was not judged."""
    rows = [(issue.run, (issue,)) for issue in found]
    rows += [(one.run, (_empty(one, system),)) for one in result.not_judged]
    return columns_csv(result.job, rows, _COLUMNS, system)


def _empty(one: NotJudged, system: str) -> Issue:
    """What was not judged as a row of the CSV: without figures."""
    nan = math.nan
    return Issue(
        number=0,
        zone="",
        run=one.run,
        one=one.name,
        other="",
        severity="stop",
        verdict=NOT_JUDGED,
        start=nan,
        end=nan,
        station=nan,
        point=(nan, nan, nan),
        distance=nan,
        required=nan,
        why=render(one.why, system),
    )


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
            "verdict": issue.verdict,
            "severity": issue.severity,
            "why": issue.why,
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
