"""Results as plain data for machines: SI numbers, text for people in SI, null for "none".

The keys are those of docs/python.md; nothing in here depends on the display units, so
the same input gives the same bytes.
"""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import asdict
from typing import Any, TypeAlias

from route3d.checks.finding import Finding
from route3d.geometry.path import KIND_NAMES
from route3d.mechanics.fit import Fit
from route3d.mechanics.pull import Peaks, Profile
from route3d.mechanics.sharing import tension_shares
from route3d.model.job import Job
from route3d.model.practice import Practice
from route3d.planning.clearance.near import MeshExtents
from route3d.planning.direction import Candidate
from route3d.planning.result import JobResult, RunResult
from route3d.planning.shop import all_findings
from route3d.report.remedies import remedies_data
from route3d.report.table_values import origins_data
from route3d.report.words import (
    conduit_fits,
    limit_of,
    measured,
    peak_sidewall_place,
    peak_tension_place,
)
from route3d.units import render

Data: TypeAlias = dict[str, Any]


def dumps(data: Any) -> str:
    """JSON text ending in a line break; a number that is not finite becomes null."""
    return json.dumps(_plain(data), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(entry) for key, entry in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(entry) for entry in value]
    if isinstance(value, float):
        return value + 0.0 if math.isfinite(value) else None  # + 0.0: no minus zero
    return value


def job_data(job: Job) -> Data:
    """What the answer of every command begins with: title, rules, tables marked as examples."""
    return {
        "title": job.title,
        "rules": rules_data(job.practice),
        "examples": list(job.examples),
    }


def rules_data(practice: Practice) -> Data:
    """The rules of a job, their edition (null for none), and whether they are assumed."""
    rules = practice.rule_set
    return {
        "name": rules.name,
        "edition": rules.edition or None,
        "assumed": practice.rules_assumed,
    }


# --- tension -----------------------------------------------------------------------------------


def tension_data(result: JobResult, handbook: JobResult | None = None) -> Data:
    """Both directions of every run; with ``handbook`` also its figures by that method."""
    runs = [_run(run) for run in result.runs]
    if handbook is not None:
        for run, other in zip(runs, handbook.runs, strict=True):
            run["handbook"] = {
                key: value
                for key, value in _run(other).items()
                if key in ("method", "pulls", "decision", "findings")
            }
    return {
        **job_data(result.job),
        "not_judged": not_judged_data(result.site),
        "runs": runs,
        "origins": origins_data(result.job.origins),
    }


def not_judged_data(site: Sequence[MeshExtents]) -> list[Data]:
    """The findings of the meshes that are left out when machines are placed."""
    return [finding_data(mesh.finding) for mesh in site if mesh.finding is not None]


def meshes_data(site: Sequence[MeshExtents]) -> list[Data]:
    """Where each building mesh lies, m, and why one is not judged."""
    return [
        {
            "name": mesh.name,
            "units": mesh.units,
            "low_m": mesh.low.tolist(),
            "high_m": mesh.high.tolist(),
            "from_routes_m": mesh.distance,
            "left_out": list(mesh.left_out),
            "judged": mesh.judged,
            "finding": None if mesh.finding is None else finding_data(mesh.finding),
        }
        for mesh in site
    ]


def _run(run: RunResult) -> Data:
    return {
        "name": run.run.name,
        "cables": {cable.name: count for cable, count in run.run.cables.items},
        "shares": [
            {"cable": s.cable.name, "rides": s.rides, "share": s.share, "by": s.rule}
            for s in tension_shares(run.run.cables, run.run.attach, run.practice.tension_sharing)
        ],
        "method": run.practice.method,
        "length_m": run.path.length,
        "turn_deg": math.degrees(run.path.turn),
        "fit": _fit(run.governing_fit),
        "fits": [{"conduit": conduit.name, **_fit(fit)} for conduit, fit in conduit_fits(run)],
        "pulls": [_pull(candidate) for candidate in run.candidates],
        **falling_data(run),
        "decision": _decision(run),
        "remedies": remedies_data(run.advice),
        "findings": [finding_data(f) for f in run.findings if f.severity != "ok"],
        "practice": asdict(run.practice),
    }


def falling_data(run: RunResult) -> Data:
    """Friction that falls above a contact load, and the results with and without; else nothing."""
    falls = [c for c in dict.fromkeys(run.run.route.conduits) if c.friction_then is not None]
    if not falls:
        return {}
    conduits = [
        {
            "conduit": c.name,
            "friction": c.friction,
            "above_N_per_m": c.friction_above,
            "then": c.friction_then,
            "source": c.friction_source or None,
            "test_report": c.friction_report or None,
            "decides": c.fall_decides and run.practice.method == "exact",
        }
        for c in falls
    ]
    pulls = [
        {
            "feed": pull.feed_name,
            "constant": _loads(both.constant),
            "by_pressure": _loads(both.by_pressure),
            "as_decided": _loads(pull.peaks),
        }
        for pull in (candidate.pull for candidate in run.candidates)
        if (both := pull.by_both_frictions) is not None
    ]
    return {"falling_friction": {"conduits": conduits, "pulls": pulls}}


def _loads(peaks: Peaks) -> Data:
    return {
        "end_tension_N": peaks.tension_at_end,
        "peak_tension_N": peaks.tension,
        "peak_sidewall_N_per_m": peaks.sidewall,
        "machine_peak_N": peaks.machine,
    }


def _fit(fit: Fit) -> Data:
    return {
        "arrangement": fit.arrangement,
        "weight_factor": fit.weight_factor,
        "fill": fit.fill,
        "jam_ratio": fit.jam_ratio,
        "jam_ratio_oval": fit.jam_ratio_oval,
        "clearance_m": fit.clearance,
        "sidewall_factor": fit.sidewall_factor,
        "sidewall_per_cable": fit.per_cable,
        "alternatives": [
            {
                "arrangement": way.arrangement,
                "weight_factor": way.weight_factor,
                "clearance_m": way.clearance,
                "sidewall_factor": way.sidewall_factor,
            }
            for way in fit.alternatives
        ],
    }


def _pull(candidate: Candidate) -> Data:
    pull = candidate.pull
    return {
        "feed": pull.feed_name,
        "pull": pull.pull_name,
        "serves": not candidate.barred,
        "ruled_out": render(candidate.barred, "SI") or None,
        "brake_N": pull.brake,
        "brake_window_N": [candidate.window.at_least, candidate.window.at_most],
        "reel_drag_N": candidate.window.drag,
        "brake_without_friction_N": pull.brake_without_friction,
        "restart_machine_peak_N": candidate.restart,
        "reel_tension_N": pull.reel_tension,
        "end_tension_N": pull.end_tension,
        "peak_tension_N": pull.peak_tension,
        "peak_tension_at": peak_tension_place(pull, "SI"),
        "peak_sidewall_N_per_m": pull.peak_sidewall,
        "peak_sidewall_on_centerline_N_per_m": pull.peak_sidewall_on_centerline,
        "peak_sidewall_at_inner_wall_N_per_m": pull.peak_sidewall_at_inner_wall,
        "peak_sidewall_at": peak_sidewall_place(pull, "SI") or None,
        "machine_peak_N": pull.machine_peak,
        "machine_peak_head_m": pull.machine_peak_head,
        "utilization": dict(candidate.utilization.items()),
        "governing": candidate.utilization.governing,
        "restart_utilization": dict(candidate.restart_utilization.items()),
        **_margins(candidate),
        "slack_m": [list(stretch) for stretch in pull.slack],
        "findings": [finding_data(f) for f in candidate.findings if f.severity != "ok"],
        "profile": _profile(pull.profile),
    }


def _margins(candidate: Candidate) -> Data:
    """Friction margins; null where a limit is exceeded without friction, or none is reached."""
    margin = candidate.margin
    bounded = margin.factor is None or math.isfinite(margin.factor)
    holds_from = margin.brake_holds_from
    return {
        "friction_margin": margin.factor if bounded else None,
        "friction_margin_limit": margin.limit if bounded else None,
        "restart_friction_margin": margin.at_restart if bounded else None,
        "brake_holds_from_friction": holds_from if math.isfinite(holds_from) else None,
    }


def _profile(profile: Profile) -> list[Data]:
    """One entry for both ends of every piece, in pulling order."""
    rows = zip(
        profile.station.tolist(),
        profile.xyz.tolist(),
        profile.kind.tolist(),
        profile.segment.tolist(),
        profile.tension.tolist(),
        profile.sidewall.tolist(),
        profile.contact.tolist(),
        strict=True,
    )
    return [
        {
            "station_m": station,
            "xyz_m": xyz,
            "kind": KIND_NAMES[kind],
            "segment": segment,
            "tension_N": tension,
            "sidewall_N_per_m": sidewall,
            "contact_N_per_m": contact,
        }
        for station, xyz, kind, segment, tension, sidewall, contact in rows
    ]


def _decision(run: RunResult) -> Data:
    choice = run.decision.choice
    return {
        "feed": None if choice is None else choice.pull.feed_name,
        "pull": None if choice is None else choice.pull.pull_name,
        "why": render(run.decision.why, "SI"),
    }


def finding_data(finding: Finding) -> Data:
    """One finding, in words and in numbers."""
    return {
        "severity": finding.severity,
        "rule": finding.rule,
        "where": render(finding.place, "SI"),
        "measured": measured(finding, "SI"),
        "limit": limit_of(finding, "SI"),
        "fix": render(finding.fix, "SI"),
        "source": finding.source,
        "station_m": finding.station,
        "quantity": finding.quantity,
        "demand": finding.demand,
        "limit_value": finding.limit,
        "ratio": finding.ratio,
    }


# --- check ---------------------------------------------------------------------------


def check_data(result: JobResult, *, passed: bool = False) -> Data:
    """The findings of every run, worst first; with ``passed`` those that passed too."""
    runs = [_checked(run, passed) for run in result.runs]
    return {
        **job_data(result.job),
        "meshes": meshes_data(result.site),
        "runs": runs,
        "origins": origins_data(result.job.origins),
    }


def _checked(run: RunResult, passed: bool) -> Data:
    findings = all_findings(run)
    return {
        "name": run.run.name,
        "stops": run.stops,
        "passed": sum(f.severity == "ok" for f in findings),
        **falling_data(run),
        "decision": _decision(run),
        "remedies": remedies_data(run.advice),
        "findings": [finding_data(f) for f in findings if passed or f.severity != "ok"],
        "practice": asdict(run.practice),
    }
