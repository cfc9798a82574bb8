"""Records of past pulls as plain data, with what a library asks of them; and the demo pulls.

``python -m tests.support.past_pulls`` writes the demo log and library in models/pulls anew.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from route3d import load
from route3d.api import plan
from route3d.field.details import Details
from route3d.field.expected import expected_load
from route3d.field.fit import fit_logs
from route3d.field.library import append
from route3d.field.log.read import read_log
from route3d.field.record import record_data, record_of
from route3d.model.job import Job

FOOT, LBF = 0.3048, 4.4482216152605


def past_pull(
    number: int, friction: float = 0.2, *, lines: list[dict[str, Any]] | None = None, **changes: Any
) -> dict[str, Any]:
    """Record ``number``; its one conduit has ``friction``, known to a tenth, or as in ``lines``."""
    line = {
        "kind": "friction",
        "name": "duct",
        "jacket": "PE",
        "conduit": "PVC",
        "value": friction,
        "low": friction * 0.9,
        "high": friction * 1.1,
        "known": True,
        "why": "",
    }
    return {
        "title": "Ferry terminal: berth 2 charging feeder",
        "units": "US",
        "run": f"F{number}",
        "feed": "vault V1",
        "pull": "roof switchroom",
        "stop_passed": False,
        "peak": {"load_N": 9000.0},
        "day": f"2026-03-{number % 28 + 1:02d}",
        "bank": "",
        "lubricant": {"product": "water-based gel"},
        "temperature_K": 288.15,
        "friction": [line] if lines is None else lines,
        "sha256": {"readings": f"{number:064x}"},
    } | changes


# --- the demo of the documents: models/pulls ------------------------------------------------------

_DEMOS = Path("models/pulls")
_MODEL = Path("models/riser_duct_bank.toml")
# Berth, day, friction of duct and riser, air temperature in degF: invented.
_PULLS = (
    ("berth 1", "2026-03-03", 0.24, 0.33, 46),
    ("berth 3", "2026-03-17", 0.22, 0.36, 50),
    ("berth 4", "2026-04-08", 0.29, 0.31, 57),
    ("berth 5", "2026-05-12", 0.26, 0.38, 66),
    ("berth 6", "2026-06-02", 0.21, 0.34, 71),
    ("berth 6", "2026-06-02", 0.23, 0.35, 71),
)


def _page_log(job: Job, day: str, frictions: Sequence[float], seed: int) -> dict[str, Any]:
    """A log as the page keeps it: every 6 ft, read to 25 lbf, with a stop at 202 ft."""
    pull = plan(job, feed="roof switchroom").plans[0].pull
    at = np.arange(10.0, pull.path.length / FOOT, 6.0)
    by_name = dict(zip(("duct", "riser"), frictions, strict=True))
    expected = expected_load(pull, at * FOOT)
    loads = expected.loads(np.array([by_name[name] for name in expected.conduits]))[:, 0] / LBF
    noise = np.random.default_rng(seed).normal(0.0, 15.0, len(at))
    entries: list[dict[str, Any]] = []
    clock = 0.0

    def add(kind: str, cable: float | None, **more: Any) -> None:
        when = datetime.fromisoformat(f"{day}T07:30:00-05:00") + timedelta(seconds=clock)
        entry = {"kind": kind, "at": when.isoformat(), "clock_s": clock, "load_N": None}
        entry |= {"pulled_m": None if cable is None else round(cable * FOOT, 4)}
        entries.append(entry | {"gear": "", "brake_N": None, "note": ""} | more)

    add("gear", 0.0, gear="high")
    add("brake", 0.0, brake_N=200 * LBF)
    add("lubricant", 0.0, note="water-based gel")
    add("start", 0.0)
    for cable, reading in zip(at.tolist(), (loads + noise).tolist(), strict=True):
        clock += 14.0
        add("reading", cable, load_N=round(round(reading / 25) * 25 * LBF, 3), gear="high")
        if cable == 202.0:
            add("stop", cable, note="radio check")
            clock += 180.0
            add("start", cable)
    clock += 14.0
    add("stop", pull.path.length / FOOT)
    return {
        "route3d_pull_log": 1,
        "title": job.title,
        "run": "F1",
        "feed": "roof switchroom",
        "units": "US",
        "gauge_step_N": 25 * LBF,
        "mark": "",
        "started": entries[0]["at"],
        "entries": entries,
        "undone": [],
    }


def write_demos() -> None:
    """Write models/pulls anew: one log, and a library of six pulls before it."""
    library = _DEMOS / "past_pulls.sqlite"
    library.unlink(missing_ok=True)
    job = load(_MODEL)
    for number, (berth, day, duct, riser, warmth) in enumerate(_PULLS):
        own = replace(job, title=f"Ferry {berth}", banks=())
        log = _DEMOS / f"{number}.json"
        log.write_text(json.dumps(_page_log(own, day, (duct, riser), number)), encoding="utf-8")
        read = read_log(log, own)
        made = plan(own, feed=read.feed).plans[0]
        details = Details(jacket="PVC", cable_temperature=(warmth + 459.67) * 5 / 9)
        hashes = (file_hash(_MODEL), "", file_hash(log), "")
        found = fit_logs(own, [read]).estimates
        append(
            library, record_data(record_of(own, made, read, details, hashes=hashes, friction=found))
        )
        log.unlink()
    log = _page_log(job, "2026-09-15", (0.25, 0.36), 9)
    (_DEMOS / "F1.json").write_text(json.dumps(log, indent=1) + "\n", encoding="utf-8")


def file_hash(path: Path) -> str:
    """SHA-256 of a file."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


if __name__ == "__main__":
    write_demos()
