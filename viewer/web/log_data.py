"""What the page needs to take a log of a pull, beside the gauge table in ``film_data``; all SI."""

from __future__ import annotations

import base64
import gzip
import json
from typing import Any

from route3d.errors import InputError
from route3d.field.response import response_tables
from route3d.planning.pull_plan.progress import gear_name
from viewer.web.session import Session

Data = dict[str, Any]


def log_data(session: Session, n: int) -> Data:
    """Gears, brake and restarts of one direction.

    ``length`` m is the cable in when the head arrives, ``gears`` are names with rated line pull N
    and whether the gauge is accurate in it, weakest first. Of a plan that may be pulled, ``brake``
    is the least and the most the reels may be held with, N summed, and ``restarts`` say in which
    gear a pull that stopped by accident may start again from ``start`` to ``end`` m of cable in,
    gear "" for not at all, with the first move N. ``forecast`` are the response tables that the
    page forecasts by, packed; empty but for the chosen direction as the file gives it.
    """
    pull, plan = session.result.candidates[n].planned, session.plan(n)
    machine = session.run.machine
    told: Data = {
        "length": pull.path.length,
        "gears": [],
        "brake": None,
        "restarts": [],
        "forecast": "",
    }
    if machine is not None:
        gears = sorted(machine.gears, key=lambda gear: (gear.line_pull, -gear.speed))
        told["gears"] = [[gear_name(gear, machine), gear.line_pull, gear.gauge] for gear in gears]
    if plan is not None and not session.halted(n):
        told["brake"] = [plan.brake.at_least, plan.brake.at_most]
        told["restarts"] = [
            {
                "start": one.start,
                "end": one.end,
                "gear": "" if one.gear is None else gear_name(one.gear, plan.machine),
                "firstMove": one.first_move,
            }
            for one in plan.accidents
        ]
        told["forecast"] = _forecast(session, n)
    return told


def _forecast(session: Session, n: int) -> str:
    """The response tables without the gauge table, which the page has; 44 kB for a usual run."""
    plan = session.plan(n)
    if (
        plan is None
        or session.edits
        or session.result.candidates[n] is not plan.result.decision.choice
    ):
        return ""
    try:
        tables = response_tables(plan, session.job.allowances.gauge_step)
    except InputError:  # a conduit without friction: the pull is judged all the same
        return ""
    tables.pop("gauge")
    text = json.dumps(tables, separators=(",", ":"))
    return base64.b64encode(gzip.compress(text.encode(), 9, mtime=0)).decode("ascii")
