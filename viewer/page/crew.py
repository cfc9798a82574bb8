"""What the foreman reads in the vault: what to do, gears, gauge readings, stop load, cautions."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import Any

import numpy as np

from route3d.checks.finding import Finding
from route3d.drawing.charts import Curve
from route3d.geometry.vectors import Floats
from route3d.mechanics.pull import Pull
from route3d.planning.direction import Candidate
from route3d.planning.margins import brake_words
from route3d.planning.pull_plan.gauge import GaugeRow
from route3d.planning.pull_plan.plan import Plan
from route3d.planning.result import RunResult
from route3d.report.words import CAUTIONS, rules_line, sentence, where_of
from route3d.units import convert, render, show
from viewer.gauge import gauge_of, why_none
from viewer.page.charts import NARROW, WIDE, history
from viewer.page.session import Session
from viewer.scene_data import Scene
from viewer.verdict import findings_of, may_be_pulled

Data = dict[str, Any]

_MOST_CAUTIONS = 12  # more would not be read in a vault


def crew_sheet(
    session: Session, scene: Scene, plan: Plan | None = None, *, pending: bool = False
) -> Data:
    """All but the words of the plan, see ``plan_words``.

    While its plan is ``pending`` nobody is told to pull: the plan may stop what the checks pass.
    """
    result, shown, units = session.result, session.shown, scene.units
    pull = shown.planned
    go = may_be_pulled(result, shown, plan)
    lacking = why_none(shown, patient=True) if go else ""
    order, tone = _order(shown, lacking, pending=pending) if go else _no_go(result, shown)
    return {
        "go": go,
        "order": order,
        "tone": tone,
        "other": result.decision.choice not in (None, shown),
        "lacking": lacking,
        "feed": pull.feed_name,
        "pull": pull.pull_name,
        "why": scene.sentence,
        "cables": f"{pull.run.cables.describe()} on {pull.run.attach}",
        "length": show(pull.path.length, "length", units),
        "brake": _brake(shown, units),
        "machine": _machine(pull, plan if go else None, units),
        "cautions": _cautions(findings_of(result, shown, plan), rules_line(result.practice), units),
    }


def _order(shown: Candidate, lacking: str, *, pending: bool) -> tuple[str, str]:
    """What to do where nothing stops the pull, and the tone it is said in."""
    if lacking:
        what = "rope" if shown.pull.run.rope is None else "machine"
        return f"Feed end decided, but no {what} is named", "caution"
    return ("The plan is being worked out", "caution") if pending else ("Pull as planned", "go")


def _no_go(result: RunResult, shown: Candidate) -> tuple[str, str]:
    if result.decision.choice not in (None, shown):
        return "Not the way decided upon: do not pull", "caution" if shown.passes else "stop"
    return "Do not pull yet", "stop"


def _brake(shown: Candidate, units: str) -> str:
    return render(brake_words(shown.window), units)


def _machine(pull: Pull, plan: Plan | None, units: str) -> Data:
    """The machine, and the largest load planned at it once there is a plan that may be pulled."""
    machine, load = pull.run.machine, None if plan is None else plan.peak
    return {
        "name": "no machine named" if machine is None else machine.name,
        "named": machine is not None,
        "place": pull.pull_name,
        "peak": "-" if load is None else show(load, "force", units),
    }


def _cautions(findings: Sequence[Finding], rules: str, units: str) -> list[Data]:
    """Stops and cautions of this pull and its plan, then what holds for every pull."""
    found = [
        {
            "severity": f.severity,
            "title": f"{f.rule}, {where_of(f, units)}",
            "text": sentence(render(f.fix, units)),
        }
        for f in findings
        if f.severity in ("stop", "caution")
    ][:_MOST_CAUTIONS]
    return [
        *found,
        *({"severity": "note", "title": "", "text": text} for text in (rules, *CAUTIONS)),
    ]


# --- the plan ----------------------------------------------------------------------------------


def pending(words: str) -> Data:
    """What stands in place of the plan's words until they are known."""
    names = ("rows", "checks", "notes", "holds", "gears", "time", "machine", "link", "accidents")
    lists = dict.fromkeys(names, ())
    return {"load": "…", "head": "Stop load", "text": words, "largest": "", "heads": (), **lists}


def plan_words(shown: Candidate, plan: Plan | None, units: str) -> Data:
    """Gears, machine, stop load and the table of readings."""
    told = gauge_of(shown, plan, units)
    return {
        "load": told.load,
        "head": told.head,
        "text": told.text,
        "largest": told.largest,
        "heads": list(told.heads),
        "rows": [
            {
                "in": row.length,
                "place": row.place,
                "gear": row.gear,
                "expected": row.expected,
                "first": row.first,
                "caution": row.caution,
                "stop": row.stop,
                "breaks": row.breaks,
                "usable": row.usable,
            }
            for row in told.rows
        ],
        "checks": list(told.checks),
        "notes": list(told.remarks),
        "holds": list(told.holds),
        "gears": list(told.gears),
        "time": list(told.time),
        "machine": list(told.machine),
        "link": list(told.link),
        "accidents": list(told.accidents),
    }


def plan_charts(pull: Pull, plan: Plan | None, units: str) -> Data:
    """The history with the caution and stop loads of the table beside it, wide and narrow."""
    more: tuple[Curve, ...] = ()
    if plan is not None and not plan.stops:
        caution = _curve(plan, units, "caution")
        more = (
            Curve("caution", *caution, "second", "3 4"),
            Curve("stop", *_curve(plan, units, "stop"), "limit", "7 4"),
        )
    return {
        name: history(pull, units, (size[0], 300), more)
        for name, size in (("wide", WIDE), ("narrow", NARROW))
    }


def _curve(plan: Plan, units: str, column: str) -> tuple[Floats, Floats]:
    """A column of the table over the station of the head; parted where the gear changes.

    What stands between the last row in one gear and the first in the next is not known.
    """
    x: list[float] = []
    y: list[float] = []
    for _, rows in groupby(plan.gauge, key=lambda row: row.gear):
        for row in rows:
            x.append(row.station)
            y.append(_load(row, column))
        x.append(x[-1])
        y.append(np.nan)
    return (
        np.array(x) * convert(1.0, "length", units),
        np.array(y) * convert(1.0, "force", units),
    )


def _load(row: GaugeRow, column: str) -> float:
    return row.caution if column == "caution" else row.stop
