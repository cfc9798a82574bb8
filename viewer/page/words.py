"""What the page says, as plain data in one system of units; no widget and no browser in here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from route3d.checks.finding import SEVERITIES, Finding
from route3d.checks.limits import Utilisation
from route3d.planning.direction import Candidate
from route3d.planning.pull_plan.plan import Plan
from route3d.planning.remedies.bend_margins import BendMargin
from route3d.planning.result import RunResult
from route3d.planning.shop import shop_sheet
from route3d.report.bends import MADE, BendLine, BendRow, bend_lines
from route3d.report.bends import bend_rows as schedule_rows
from route3d.report.remedies import RemedyList, list_data, remedy_list
from route3d.report.words import (
    limit_of,
    machine_peak_station,
    measured,
    peak_sidewall_place,
    peak_tension_place,
    rules_line,
    sentence,
    where_of,
)
from route3d.units import render, show, show_marked, unit_label
from viewer.gauge import is_quick
from viewer.page.edits import Field, edit_fields
from viewer.page.session import Session
from viewer.scene_data import Scene
from viewer.verdict import findings_of

Data = dict[str, Any]

_SHARES = ("conductor", "grip", "sidewall", "rope", "machine")
# Findings shown; more would only be scrolled past.
_MOST_FINDINGS = 40
_TO_COME = "…"
_LOOKING = "Looking for what would make it pass…"
_TOO_LARGE = (
    "The run is too large to look for what would make it pass while you edit. To list it: "
    "route3d tension MODEL"
)


# --- engineer ----------------------------------------------------------------------------------


def summary(session: Session, scene: Scene, plan: Plan | None = None) -> Data:
    """Decision, figures, both directions, and findings of the direction on show and its plan."""
    result, units = session.result, scene.units
    found = findings_of(result, session.shown, plan)
    shown = [f for f in found if f.severity in ("stop", "caution", "note")]
    other = result.decision.choice not in (None, session.shown)
    return {
        "headline": scene.headline,
        "sentence": scene.sentence,
        "tone": "stop" if scene.alarm else "caution" if other else "go",
        "facts": [
            {"name": f.name, "value": f.value, "note": f.note, "alarm": f.alarm}
            for f in scene.facts
        ],
        "heads": ["", *(f"feed {c.pull.feed_name}" for c in result.candidates)],
        "rows": _directions(result, units),
        "findings": [_finding(f, units) for f in shown[:_MOST_FINDINGS]],
        "more": max(len(shown) - _MOST_FINDINGS, 0),
        "of": f"feeding from {session.shown.pull.feed_name}",
        "passed": f"{sum(f.severity == 'ok' for f in found)} of {len(found)} checks passed",
        "notes": [*scene.notes, rules_line(result.practice)],
    }


def _directions(result: RunResult, units: str) -> list[Data]:
    """Rows of a name and a cell for each direction; what stops one is an alarm."""
    columns = [_direction(c, result, units) for c in result.candidates]
    alarms = [_alarms(c) for c in result.candidates]
    heads = (*_LOADS, *(f"of {result.best.name(limit)} limit" for limit in _SHARES))
    rows = zip(heads, zip(*columns, strict=True), zip(*alarms, strict=True), strict=True)
    return [
        {"name": name, "cells": [{"text": t, "alarm": a} for t, a in zip(texts, over, strict=True)]}
        for name, texts, over in rows
    ]


_LOADS = ("verdict", "peak tension", "peak sidewall", "machine peak, moving", "reel tension")


def _direction(candidate: Candidate, result: RunResult, units: str) -> list[str]:
    pull = candidate.pull
    load, head = pull.machine_peak, machine_peak_station(pull)
    machine = "no rope given"
    if load is not None and head is not None:
        at = show(head, "length", units)
        machine = f"{show(load, 'force', units)}, head at {at}"
    where = peak_sidewall_place(pull, units)
    sidewall = f"{show(pull.peak_sidewall, 'sidewall', units)} in {where}" if where else "no bends"
    return [
        _verdict(candidate, result, units),
        f"{show(pull.peak_tension, 'force', units)} at {peak_tension_place(pull, units)}",
        sidewall,
        machine,
        show_marked(pull.reel_tension, "force+", units),
        *_shares(candidate.utilisation, units),
    ]


def _alarms(candidate: Candidate) -> list[bool]:
    """Which of the cells of a direction say what stops it."""
    stopped = bool(candidate.barred or candidate.breaks)
    shares = dict(candidate.utilisation.items())
    over = [(shares[name] or 0.0) > 1 + 1e-9 for name in _SHARES]
    return [stopped, *[False] * (len(_LOADS) - 1), *over]


def _shares(use: Utilisation, units: str) -> list[str]:
    shares = dict(use.items())
    return [
        "none given" if (s := shares[name]) is None else show(s, "percent", units)
        for name in _SHARES
    ]


def _verdict(candidate: Candidate, result: RunResult, units: str) -> str:
    if candidate.barred:
        return f"ruled out: {render(candidate.barred, units)}"
    if candidate.breaks:
        return "STOP: " + ", ".join(dict.fromkeys(f.rule for f in candidate.breaks))
    return "chosen" if candidate is result.decision.choice else "within limits"


def _finding(finding: Finding, units: str) -> Data:
    return {
        "severity": finding.severity,
        "rule": finding.rule,
        "where": where_of(finding, units),
        "measured": measured(finding, units),
        "limit": limit_of(finding, units),
        "fix": sentence(render(finding.fix, units)),
        "source": finding.source,
    }


def help_words(session: Session, units: str) -> Data:
    """What would make the run pass, cheapest first, or that it is still to come; else empty."""
    result = session.result
    told = remedy_list(result, units, edited=session.run != session.given)
    if result.advice is None and session.fails:
        told = RemedyList(foot=_LOOKING if is_quick(session.shown) else _TOO_LARGE)
    return list_data(told)


def field_data(session: Session, units: str) -> list[Data]:
    """What can be edited, with its text and unit; bends apart, they are found by their number."""
    fields = edit_fields(session.given, session.run)
    none = () if session.machines else ("machine",)
    return [_field(f, units) for f in fields if not f.key.startswith("bend:") and f.key not in none]


def bend_field_data(session: Session, units: str) -> list[Data]:
    """The radius field of every bend, in the order of their numbers."""
    fields = edit_fields(session.given, session.run)
    return [_field(f, units) for f in fields if f.key.startswith("bend:")]


def _field(field: Field, units: str) -> Data:
    unit = unit_label(field.quantity, units) if field.quantity else ""
    text = field.text(units)
    return {
        "key": field.key,
        "label": field.label,
        "text": text,
        "unit": unit,
        "edited": field.edited,
    }


def edit_words(session: Session, units: str) -> list[Data]:
    """Every edit in words, for the banner that says this is not what the file holds."""
    found = [
        {"key": f.key, "text": f.change(units)}
        for f in edit_fields(session.given, session.run)
        if f.key in session.edits
    ]
    if session.feed is not None:
        name = session.given.route.label(session.feed)
        found.append({"key": "feed", "text": f"Feed end: {name} asked for"})
    return found


def end_choices(session: Session) -> list[Data]:
    """The feed ends one can ask for."""
    last = len(session.given.route.vertices) - 1
    ends = [{"value": str(v), "title": session.given.route.label(v)} for v in (0, last)]
    return [{"value": "best", "title": "best end"}, *ends]


# --- detailer ----------------------------------------------------------------------------------


def bend_rows(session: Session, units: str, margins: Sequence[BendMargin] = ()) -> list[Data]:
    """The bend schedule of the direction on show, failing bends first, then by number."""
    run = replace(session.result, decision=replace(session.result.decision, choice=session.shown))
    rows = (
        [_full_row(row, units) for row in _made(run, margins)]
        if margins
        else [_bend_row(line, line.verdict, units) for line in bend_lines(run)]
    )
    return sorted(rows, key=lambda r: (r["rank"], r["number"]))


def _made(run: RunResult, margins: Sequence[BendMargin]) -> tuple[BendRow, ...]:
    return schedule_rows(run, margins, shop_sheet(run.run.route, run.path, run.practice))


def _full_row(row: BendRow, units: str) -> Data:
    """A bend with how it is made, what it has left, and what to do about it."""
    return {
        **_bend_row(row.line, row.verdict, units),
        "passes": _passes(row.margin, units),
        "fits": show(row.margin.largest_radius, "length", units),
        "made": MADE[row.made.elbow],
        "todo": [
            {"severity": f.severity, "title": f.rule, "text": sentence(render(f.fix, units))}
            for f in row.findings
            if f.severity != "ok"
        ],
    }


def _bend_row(line: BendLine, verdict: str, units: str) -> Data:
    bend = line.bend
    severity = verdict.partition(":")[0]
    return {
        "number": bend.number,
        "rank": SEVERITIES.index(severity) if severity in SEVERITIES else 0,
        "severity": severity,
        "verdict": verdict,
        "at": line.at,
        "station": show(bend.station, "length", units),
        "angle": show(bend.angle, "angle", units),
        "radius": show(bend.radius, "radius", units),
        "least": show(line.least_radius, "radius", units) if line.least_radius else "-",
        "plane": bend.plane,
        "roll": show(bend.roll, "angle", units),
        **dict.fromkeys(("passes", "fits", "made"), _TO_COME),
        "todo": [],
        "before": show(bend.straight_before, "length", units),
        "after": show(bend.straight_after, "length", units),
        "setback": show(bend.setback, "radius", units),
        "arc": show(bend.arc_length, "length", units),
        "gain": show(bend.gain, "radius", units),
        "conduit": line.conduit,
        "sidewall": show(line.sidewall, "sidewall", units),
        "share": show(line.sidewall_share, "percent", units),
    }


def _passes(margin: BendMargin, units: str) -> str:
    radius = margin.passing_radius
    if radius is None:
        return "not tried"
    return "none" if np.isnan(radius) else show_marked(radius, "radius+", units)
