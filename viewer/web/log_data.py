"""What the page needs to take a log of a pull, beside the gauge table in ``film_data``; all SI."""

from __future__ import annotations

import base64
import gzip
import json
from typing import Any

import numpy as np

from route3d.checks.limits import NO_BRAKE
from route3d.errors import InputError
from route3d.field.response import response_tables
from route3d.language import ENGLISH, Translation
from route3d.planning.pull_plan.feeding import held_at_rest
from route3d.planning.pull_plan.plan import Plan
from route3d.planning.pull_plan.progress import gear_name
from route3d.report.band_card import departure_answers
from route3d.report.read_aloud import lines_aloud
from route3d.units import SYSTEMS, show_marked
from viewer.web.film_data import numbers
from viewer.web.session import Session

Data = dict[str, Any]


def log_data(session: Session, n: int) -> Data:
    """Gears, brake and restarts of one direction.

    ``length`` m is the cable in when the head arrives, ``gears`` are names with rated line pull N
    and whether the gauge is accurate in it, weakest first. Of a plan that may be pulled, ``brake``
    is the least and the most the reels may be held with, N summed, null where not known, and
    ``restarts`` say in which gear a pull that stopped by accident may start again from ``start`` to
    ``end`` m of cable in, gear "" for not at all, with the first move N and the ``most`` N that any
    limit lets it be. ``holds`` are what the reels hold at every stop, what the brake is eased to
    before the cable moves, and what the machine holds, "" for nothing. ``aloud`` are the lines to
    read aloud, and ``offPlan`` what to do at a departure of each kind, in the words of both systems
    and in the language of the session.
    """
    pull, plan = session.result.candidates[n].planned, session.plan(n)
    machine = session.run.machine
    told: Data = {
        "length": pull.path.length,
        "gears": [],
        "brake": None,
        "restarts": [],
        "holds": {u: ["", "", ""] for u in SYSTEMS},
        "aloud": [],
        "offPlan": {},
    }
    if machine is not None:
        gears = sorted(machine.gears, key=lambda gear: (gear.line_pull, -gear.speed))
        told["gears"] = [[gear_name(gear, machine), gear.line_pull, gear.gauge] for gear in gears]
    if plan is not None and not session.halted(n):
        told["brake"] = numbers(np.array([plan.brake.at_least, plan.brake.at_most]))
        told["restarts"] = [
            {
                "start": one.start,
                "end": one.end,
                "gear": "" if one.gear is None else gear_name(one.gear, plan.machine),
                "firstMove": numbers(np.array([one.first_move]))[0],
                "most": numbers(np.array([one.most]))[0],
            }
            for one in plan.accidents
        ]
        told["holds"] = {u: _holds(plan, u) for u in SYSTEMS}
        told["aloud"] = [
            {"pulled": line.pulled, **{u: line.said(u, session.told) for u in SYSTEMS}}
            for line in lines_aloud(plan)
        ]
        told["offPlan"] = {u: session.told.of_data(departure_answers(plan, u)) for u in SYSTEMS}
    return told


def _holds(plan: Plan, system: str) -> list[str]:
    window, (reels, machine) = plan.feeding.window, held_at_rest(plan.pull)
    if window is None or reels <= NO_BRAKE:  # figure eights, fed by hand, have no brake
        reels = 0.0
    ease = window.at_most if window is not None and 0 < window.at_most < reels else 0.0
    shown = ((reels, "force+"), (ease, "force-"), (machine, "force+"))
    return [show_marked(load, way, system) if load > 0 else "" for load, way in shown]


def log_words(told: Translation, direction: Data) -> dict[str, str]:
    """Texts of ``direction_data`` that the log shows, by their English; empty in English.

    The page keeps them in English for its other tabs, and a log names gears as the file does.
    """
    if told.language == ENGLISH:
        return {}
    rows = (direction["playback"] or {"rows": []})["rows"]
    words = [text for one in direction["words"].values() for text in _header(one)]
    texts = {*words, *(row["place"] for row in rows), *(g[0] for g in direction["log"]["gears"])}
    return {text: told.of(text) for text in sorted(texts - {""})}


def _header(words: Data) -> tuple[str, str]:
    return words["headline"], (words["crew"] or {}).get("order", "")


def forecast_data(session: Session, n: int) -> str:
    """The response tables that the page forecasts by, packed: some 44 kB for a usual run.

    Empty but for the chosen direction as the file gives it. The gauge table, which the page has, is
    not among them.
    """
    plan, chosen = session.plan(n), session.result.decision.choice
    if (
        plan is None
        or session.edits
        or session.halted(n)
        or session.result.candidates[n] is not chosen
    ):
        return ""
    try:
        tables = response_tables(plan, session.job.allowances.gauge_step)
    except InputError:  # a conduit without friction: readings are judged all the same
        return ""
    tables.pop("gauge")
    text = json.dumps(tables, separators=(",", ":"))
    return base64.b64encode(gzip.compress(text.encode(), 9, mtime=0)).decode("ascii")
