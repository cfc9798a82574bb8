"""Logs of a pull of the ferry terminal's riser, as recorders and the page would write them."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

from route3d import load
from route3d.api import plan
from route3d.field.expected import expected_load
from route3d.field.log.pulled_run import PulledRun, of_plan
from route3d.model.job import Job
from route3d.planning.pull_plan.plan import Plan

MODEL = "models/riser_duct_bank.toml"
FOOT, POUND = 0.3048, 4.4482216152605


@cache
def job() -> Job:
    """The job of the riser, in US units; 332.9 ft, dial marks of 50 lbf."""
    return load(MODEL)


@cache
def riser_plan() -> Plan:
    """The plan of it."""
    return plan(job()).plans[0]


@cache
def riser_run() -> PulledRun:
    """The run of it, as logs need it."""
    return of_plan(job(), riser_plan())


@cache
def planned(step: float = 1.0) -> tuple[tuple[float, float], ...]:
    """Cable in (ft) every ``step`` ft from 0, and the planned reading there (lbf), not rounded."""
    length = riser_plan().pull.path.length / FOOT
    feet = [i * step for i in range(int(length / step) + 1)]
    loads = expected_load(riser_plan().pull, [f * FOOT for f in feet]).loads()[:, 0]
    return tuple((f, float(n) / POUND) for f, n in zip(feet, loads, strict=True))


@dataclass(frozen=True)
class Line:
    """One row of a recorder: time of day in s, ft, lbf, and what the recorder wrote instead."""

    time: float
    feet: float
    pounds: float
    gear: str = ""
    note: str = ""


def recorded(rest: int = 5, step: float = 1.0, seconds: float = 2.0) -> list[Line]:
    """A sound log: at rest with a tare of 10 lbf, then ``step`` ft every ``seconds`` to the end."""
    at = 7 * 3600.0
    rows = [Line(at + i * seconds, 0.0, 10.0) for i in range(rest)]
    start = at + rest * seconds
    wave = (0, 7, 13, 4, -6, -11, -3, 8)  # a gauge swings
    rows += [
        Line(start + i * seconds, feet, pounds + 10.0 + wave[i % 8])
        for i, (feet, pounds) in enumerate(planned(step)[1:])
    ]
    return rows


def clock(seconds: float) -> str:
    """hh:mm:ss of the day."""
    whole = int(seconds) % 86400
    return f"{whole // 3600:02}:{whole // 60 % 60:02}:{whole % 60:02}"


def text_of(rows: list[Line], separator: str = ",") -> str:
    """The log as text with a header."""
    head = separator.join(["Time", "Cable in (ft)", "Load (lbf)", "Gear", "Note"])
    lines = [
        separator.join([clock(r.time), f"{r.feet:.1f}", f"{r.pounds:.0f}", r.gear, r.note])
        for r in rows
    ]
    return "\n".join([head, *lines]) + "\n"


def written(path: Path, rows: list[Line]) -> Path:
    """The log as a file."""
    path.write_text(text_of(rows), encoding="utf-8")
    return path


def shifted(rows: list[Line], start: int, stop: int | None = None, **by: float) -> list[Line]:
    """The rows with time, feet or pounds moved from ``start`` to ``stop``."""
    moved = [
        replace(row, **{name: getattr(row, name) + amount for name, amount in by.items()})  # type: ignore[arg-type]
        for row in rows[start:stop]
    ]
    return [*rows[:start], *moved, *(rows[stop:] if stop is not None else [])]


def page_json(entries: list[dict[str, Any]], **more: Any) -> str:
    """The log of the page."""
    empty = {"gear": "", "brake_N": None, "note": "", "pulled_m": None, "load_N": None}
    data = {
        "route3d_pull_log": 1,
        "title": job().title,
        "run": "F1",
        "feed": "roof switchroom",
        "units": "US",
        "gauge_step_N": 50 * POUND,
        "mark": "",
        "started": "2026-03-02T07:00:00-05:00",
        "entries": [{**empty, **entry} for entry in entries],
        "undone": [],
        **more,
    }
    return json.dumps(data)
