"""Clearances of the runs, as tables for a terminal, as CSV and as plain data."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from rich.console import Group, RenderableType
from rich.text import Text

from route3d.checks.clearance import Met, NearPlace
from route3d.checks.finding import Finding, worst_first
from route3d.planning.clearance.issues import issues
from route3d.planning.clearance.job import (
    BodyClearance,
    ClearanceResult,
    ClearanceRow,
    NotJudged,
    RunClearance,
)
from route3d.report.clearance_issues import (
    NOT_JUDGED,
    NOTHING,
    bodies_report,
    clear,
    issues_data,
    left_out,
    met_verdict,
    verdict_part,
)
from route3d.report.columns import Column, column_table, columns_csv
from route3d.report.findings import findings_table, site_parts
from route3d.report.json_result import finding_data, job_data, meshes_data
from route3d.report.layout import heading, paragraph, severity_style, table
from route3d.report.words import rules_line
from route3d.units import render, show

Data = dict[str, Any]

_TIGHTEST = 10  # rows shown where not all are asked for
_MOST_FINDINGS = 20
_BY_DUCTS = "Measured at the ducts of its bank."
_SEVERITY = {
    NOT_JUDGED: "stop",
    "clash": "stop",
    "close": "stop",
    "inside?": "caution",
    "end": "note",
    "ok": "ok",
}


_COLUMNS: tuple[Column[ClearanceRow], ...] = (
    Column("from", lambda r: r.start, "length"),
    Column("to", lambda r: r.end, "length"),
    Column("clearance", lambda r: r.distance, "diameter"),
    Column("at station", lambda r: r.station, "length"),
    Column("nearest", lambda r: r.what),
    Column("class", lambda r: r.against),
    Column("required", lambda r: r.required, "diameter"),
    Column("verdict", lambda r: r.verdict),
)
_WHY: Column[ClearanceRow] = Column("why", lambda r: r.why)


# --- terminal ------------------------------------------------------------------------------------


def clearance_report(result: ClearanceResult, system: str, *, all_rows: bool) -> RenderableType:
    """The clearances of a job for a terminal; ``all_rows`` for every row, not the tightest."""
    parts: list[RenderableType] = [heading(result.job)]
    parts += site_parts(result.site, system)
    if result.nothing:
        foot = paragraph(rules_line(result.job.practice), style="dim")
        return Group(*parts, paragraph(NOTHING, before=1), foot)
    for run in result.runs:
        ducts = [d for d in result.ducts if d.run is run.run]
        if not run.met and not ducts:
            continue  # the only meshes there are were not judged
        parts += _run_report(run, system, clear(result), all_rows=all_rows)
        if ducts:
            parts += _ducts_report(ducts, system, clear(result))
    parts += bodies_report(result, system)
    notes = (paragraph(t, style="dim", before=int(not i)) for i, t in _notes(result, system))
    foot = paragraph(rules_line(result.job.practice), style="dim")
    return Group(*parts, *notes, foot, verdict_part(result, issues(result)))


def _notes(result: ClearanceResult, system: str) -> list[tuple[int, str]]:
    job = result.job
    said = [
        "Clearance: from the outside of the conduit to the surface of the mesh or the "
        "outside of the other conduit; negative where they overlap. Measured on the true "
        "centerline, bends as arcs.",
        f"Within {show(job.site.free_ends, 'length', system)} of an end or pull point, or "
        "inside the box there, a conduit may touch a mesh, and runs that meet there may "
        "touch each other: verdict 'end', reported as a note (site.clearance_free_ends).",
        "A run is also measured against itself, between points at least 1.6 (π/2) times the "
        "required center distance apart along the run; closer together, no bend with a "
        "radius of at least half that distance can be too close. A run with a duct bank is "
        "measured at its ducts, with their own stations; its centerline stands for nothing.",
    ]
    if result.bodies:
        said.append(
            "Concrete, boxes and equipment are bodies with plane sides. Not held against each "
            "other: what belongs to one run, what meets at an end or pull point of two runs, and "
            "machines, vehicles and reels, which stand there one pull at a time. Boxes are "
            "upright and centered on their pull point; at an end of a run they stand beyond it. "
            "Equipment stands where the plan places it and "
            "is measured from 50 mm above the floor; a place or size that is not given makes a "
            "clash a caution."
        )
    said += left_out(result, system)
    if any(m.inside and m.solid is None for one in result.all for m in one.met):
        said.append(
            "Verdict 'inside?': inside a closed surface. Set solid in the model file: true "
            "for material (a clash), false for air."
        )
    if job.site.support_room:
        room = show(job.site.support_room, "diameter", system)
        said.append(f"Required around conduits for their supports: {room} (site.support_room).")
    if len(job.runs) == 1 or not job.site.between_runs:
        return list(enumerate(said))
    asked = show(job.site.between_runs, "diameter", system)
    said.append(f"Required between runs: {asked} (site.clearance_between_runs).")
    return list(enumerate(said))


def _run_report(
    run: RunClearance, system: str, clear: str, *, all_rows: bool
) -> list[RenderableType]:
    conduits = ", ".join(dict.fromkeys(c.label for c in run.run.route.conduits))
    text = f"Run {run.run.name}: {show(run.path.length, 'length', system)} of {conduits}"
    if not run.met:  # nothing but its ducts can be met
        return [paragraph(text, style="bold", before=1), paragraph(_BY_DUCTS)]
    parts: list[RenderableType] = [
        paragraph(text, style="bold", before=1),
        _met_table(run.met, system),
        *_clashes(run, system),
        *_findings(run.findings, system, f"Conduit of run {run.run.name}: {clear}."),
    ]
    rows = run.rows if all_rows else tightest(run)
    which = "All segments of the run:" if all_rows else f"The {len(rows)} tightest segments:"
    return [
        *parts,
        paragraph(which, before=1),
        column_table(rows, _COLUMNS, system, lambda text: _SEVERITY.get(text, "")),
    ]


def _ducts_report(ducts: Sequence[RunClearance], system: str, clear: str) -> list[RenderableType]:
    """The ducts of one bank, each against the meshes of every class and the other runs."""
    heads = ("duct", "against", "required", "min.\nclearance", "at\nstation", "nearest", "verdict")
    rows = [[duct.duct, *_met_row(met, system)] for duct in ducts for met in duct.met]
    text = f"Ducts of the bank of run {ducts[0].run.name}:"
    found = worst_first(tuple(f for duct in ducts for f in duct.findings))
    return [
        paragraph(text, style="bold", before=1),
        table(heads, rows, numbers=(2, 3, 4)),
        *_findings(found, system, f"Ducts of the bank of run {ducts[0].run.name}: {clear}."),
    ]


def tightest(run: RunClearance) -> tuple[ClearanceRow, ...]:
    """The rows with the least margin that count, in the order of the run."""
    counted = [row for row in run.rows if row.verdict != "end"]
    first = sorted(counted, key=lambda r: (r.distance - r.required, r.start))[:_TIGHTEST]
    return tuple(sorted(first, key=lambda r: r.start))


def _met_table(met: Sequence[Met], system: str) -> RenderableType:
    heads = ("against", "required", "min.\nclearance", "at\nstation", "nearest", "verdict")
    return table(heads, [_met_row(m, system) for m in met], numbers=(1, 2, 3))


def _met_row(met: Met, system: str) -> list[str | Text]:
    required = show(met.required, "diameter", system)
    if met.nearest is None:
        return [met.name, required, "-", "-", "-", _styled("end")]
    n = met.nearest
    figures = show(n.distance, "diameter", system), show(n.station, "length", system)
    return [met.name, required, *figures, n.what[0], _styled(met_verdict(met))]


def _clashes(run: RunClearance, system: str) -> list[RenderableType]:
    clashes = [(met, place) for met in run.met for place in met.clashes]
    if not clashes:
        return []
    heads = ("clash with", "from", "to", "deepest at", "depth", "what")
    rows = [
        [
            met.name,
            *(show(s, "length", system) for s in (place.start, place.end, place.station)),
            show(place.depth, "diameter", system),
            ", ".join(place.what),
        ]
        for met, place in sorted(clashes, key=lambda pair: pair[1].start)[:_MOST_FINDINGS]
    ]
    parts: list[RenderableType] = [table(heads, rows, numbers=(1, 2, 3, 4))]
    if len(clashes) > _MOST_FINDINGS:
        parts.append(paragraph(f"and {len(clashes) - _MOST_FINDINGS} more clashes (--json)."))
    return [paragraph("Clashes along the run:", before=1), *parts]


def _findings(findings: Sequence[Finding], system: str, clear: str) -> list[RenderableType]:
    found = [f for f in findings if f.severity != "ok"]
    if not found:
        return [paragraph(clear, before=1)]
    parts = findings_table(found[:_MOST_FINDINGS], system)
    if len(found) > _MOST_FINDINGS:
        parts.append(paragraph(f"and {len(found) - _MOST_FINDINGS} more (--json lists them)."))
    return parts


def _styled(text: str) -> Text:
    return Text(text, style=severity_style(_SEVERITY.get(text, "")))


# --- files ---------------------------------------------------------------------------------------


def clearance_csv(result: ClearanceResult, system: str) -> str:
    """Every row of every run and duct as CSV: units in the heading, plain numbers below."""
    named = [(run.run.name, run.rows) for run in result.runs]
    named += [(f"{duct.run.name}, {duct.duct}", duct.rows) for duct in result.ducts]
    named += [(one.run, (_empty(one, system),)) for one in result.not_judged]
    return columns_csv(result.job, named, (*_COLUMNS, _WHY), system)


def _empty(one: NotJudged, system: str) -> ClearanceRow:
    """What was not judged as a row of the CSV: without figures."""
    nan = math.nan
    why = render(one.why, system)
    return ClearanceRow(nan, nan, nan, nan, "", one.name, nan, NOT_JUDGED, why)


def clearance_data(result: ClearanceResult) -> Data:
    """Every run, thing and row in SI."""
    return {
        **job_data(result.job),
        "every_m": result.every,
        "triangles": result.triangles,
        "open_meshes": list(result.open_meshes),
        "blocked_banks": list(result.blocked_banks),
        "free_ends_m": result.job.site.free_ends,
        "nothing_to_measure_against": result.nothing,
        "meshes": meshes_data(result.site),
        "runs": [_run_data(run) for run in result.runs],
        "ducts": [{"duct": duct.duct, **_run_data(duct)} for duct in result.ducts],
        "bodies": [_body_data(body) for body in result.bodies],
        "folded_banks": list(result.folded_banks),
        "equipment_not_placed": [{"run": name, "why": why} for name, why in result.unplaced],
        "ground_unknown": [
            {"bank": name, "stations_m": [list(span) for span in spans]}
            for name, spans in result.unknown
        ],
        "not_judged": [
            {"name": one.name, "run": one.run, "why": render(one.why, "SI")}
            for one in result.not_judged
        ],
        "stops": result.stops,
        "issues": issues_data(issues(result), result.job),
    }


def _body_data(one: BodyClearance) -> Data:
    return {
        "name": one.body.name,
        "kind": one.body.kind,
        "run": one.body.run,
        "place_given": not one.body.assumed,
        "against": [_met_data(met) for met in one.met],
        "findings": [finding_data(f) for f in one.findings if f.severity != "ok"],
    }


def _run_data(run: RunClearance) -> Data:
    return {
        "name": run.run.name,
        "length_m": run.path.length,
        "against": [_met_data(met) for met in run.met],
        "rows": [_row_data(row) for row in run.rows],
        "findings": [finding_data(f) for f in run.findings if f.severity != "ok"],
    }


def _met_data(met: Met) -> Data:
    return {
        "name": met.name,
        "kind": met.kind,
        "required_m": met.required,
        "verdict": met_verdict(met),
        "least": None if met.nearest is None else _place_data(met.nearest),
        "clashes": [_place_data(p) for p in met.clashes],
        "close": [_place_data(p) for p in met.short],
        "at_ends": [_place_data(p) for p in met.at_ends],
        "inside": [_place_data(p) for p in met.inside],
        "solid": met.solid,
    }


def _place_data(place: NearPlace) -> Data:
    return {
        "from_m": place.start,
        "to_m": place.end,
        "station_m": place.station,
        "clearance_m": place.distance,
        "depth_m": place.depth,
        "what": list(place.what),
        "xyz_m": None if place.point is None else list(place.point),
    }


def _row_data(row: ClearanceRow) -> Data:
    return {
        "from_m": row.start,
        "to_m": row.end,
        "station_m": row.station,
        "clearance_m": row.distance,
        "what": row.what,
        "class": row.against,
        "required_m": row.required,
        "verdict": row.verdict,
    }
