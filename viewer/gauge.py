"""What the crew is told of a plan: gears, place, what the gauge should read and when to stop.

For every surface that a crew reads: the live page and the hand-over page say the same, in the words
and figures of the plan that ``route3d plan`` prints.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from route3d.geometry.vectors import Floats
from route3d.model.job import Job
from route3d.planning.direction import Candidate
from route3d.planning.evaluate import RunResult
from route3d.planning.gauge import GaugeRow
from route3d.planning.placement import PlacementSearch
from route3d.planning.placement_site import SiteMesh
from route3d.planning.plan import Plan, make_plan
from route3d.planning.progress import Progress
from route3d.report.charts import Curve
from route3d.report.plan_blocks import gauge_block, gears_block, machine_block
from route3d.report.plan_steps import steps
from route3d.report.plan_tackle import chain_block
from route3d.report.ticks import length_step
from route3d.units import convert, render, show, unit_label

_READINGS = 8
# More rows than these are left out, the weightiest kept: a crew reads them off a phone.
_MOST_ROWS = 24
# The table takes minutes for a run of thousands of bends: a row for each of their ends.
_MOST_SEGMENTS = 400
_BREAKS = {
    "conductor": "conductor tension",
    "grip": "the attachment",
    "sidewall": "sidewall pressure",
    "rope": "the rope",
    "machine": "the machine's line pull",
    "head fitting": "a fitting at the cable head",
    "line fitting": "a fitting of the rope",
}
LEAST_WORDS = "stop load or limit of the gear, the lower"
NOT_TO_BE_MADE = "No gauge readings and no stop load are given for a pull that is not to be made."
"""What stands in place of the readings of a pull that a finding stops."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One row of bare numbers, in the units of ``Gauge.heads``.

    ``place`` says where the head is, ``first`` what the gauge reads at a planned start there;
    ``usable`` is false where it does not read true.
    """

    length: str
    place: str
    gear: str
    expected: str
    caution: str
    stop: str
    breaks: str
    first: str = ""
    usable: bool = True
    over: bool = False


@dataclass(frozen=True, slots=True)
class Gauge:
    """What a crew is told of one pull, in display units.

    ``load`` is the least reading at which to stop anywhere in the table, "-" where none can be
    told, and ``text`` says why. ``largest`` is the largest expected reading with its place;
    ``heads`` name the columns of ``rows`` but the place, with their units. ``gears``, ``time``,
    ``machine`` and ``link`` are sentences on gears and changes, the crew's time, where the machine
    stands with what holds it, and the weakest link.
    """

    load: str
    text: str
    largest: str = ""
    heads: tuple[str, ...] = ()
    rows: tuple[Reading, ...] = ()
    notes: tuple[str, ...] = ()
    gears: tuple[str, ...] = ()
    time: tuple[str, ...] = ()
    machine: tuple[str, ...] = ()
    link: tuple[str, ...] = ()
    course: tuple[GaugeRow, ...] = field(default=(), repr=False)


def plan_for_crew(
    result: RunResult,
    candidate: Candidate,
    job: Job,
    *,
    meshes: Sequence[SiteMesh] = (),
    placement: PlacementSearch | None = None,
) -> Plan | None:
    """The plan of one direction of a run; None where the viewer makes none: see ``why_none``."""
    if why_none(candidate):
        return None
    step = length_step(result.path.length, _READINGS, job.units)
    feed = candidate.pull.feed
    return make_plan(result, job, step=step, meshes=meshes, feed=feed, placement=placement)


def why_none(candidate: Candidate) -> str:
    """Why there is no plan to tell; empty where there is one."""
    pull = candidate.pull
    if pull.run.rope is None:
        return "No rope is named: the gauge cannot be foretold."
    if pull.run.machine is None:
        return "No machine is named: neither gears nor readings can be planned."
    if len(pull.path) > _MOST_SEGMENTS:
        return "Too many bends for readings on this page: route3d plan prints them."
    return ""


def gauge_of(candidate: Candidate, plan: Plan | None, units: str) -> Gauge:
    """What to tell the crew of a direction; ``plan`` is what ``plan_for_crew`` gives for it."""
    if plan is None:
        return Gauge("-", why_none(candidate) or NOT_TO_BE_MADE)
    load, text = _stop(plan, units)
    table = gauge_block(plan, units, _MOST_ROWS)
    gears = gears_block(plan, units)
    peak = int(plan.history.load.argmax())
    largest = show(float(plan.history.load[peak]), "force", units)
    largest += f" with {show(float(plan.history.pulled[peak]), 'length', units)} of cable in"
    if plan.peak > plan.history.load[peak] * (1 + 1e-9):
        largest += f"; {show(plan.peak, 'force', units)} at a start"
    return Gauge(
        load=load,
        text=text,
        largest=largest,
        heads=_heads(units),
        rows=tuple(
            _reading(dict(zip(table.heads, row, strict=True)), i in table.heavy)
            for i, row in enumerate(table.rows)
        ),
        notes=(*table.notes, *_cautions(plan, units), *_holds(plan, units)),
        gears=(*(_span(row) for row in gears.rows), *gears.words),
        time=gears.notes,
        machine=machine_block(plan, units).words,
        link=chain_block(plan, units).words,
        course=plan.gauge,
    )


def _cautions(plan: Plan, units: str) -> tuple[str, ...]:
    """What the plan itself asks care for."""
    return tuple(
        f"Caution, {f.rule}: {render(f.fix, units)}."
        for f in plan.findings
        if f.severity in ("stop", "caution")
    )


def _holds(plan: Plan, units: str) -> tuple[str, ...]:
    """The points at which somebody says yes before the crew goes on."""
    return tuple(f"HOLD: {text}" for text, hold in steps(plan, units) if hold)


def stop_loads(rows: Sequence[GaugeRow], pulled: Floats) -> tuple[Floats, tuple[str, ...]]:
    """Stop load (N) with so much cable in (m,), and what breaks there first, in words.

    Straight between the rows of the gauge table; NaN and "" without rows.
    """
    if not rows:
        return np.full(len(pulled), math.nan), ("",) * len(pulled)
    at, stop = np.array([r.pulled for r in rows]), np.array([r.stop for r in rows])
    after = np.clip(np.searchsorted(at, pulled), 1, len(rows) - 1) if len(rows) > 1 else 0
    before = np.maximum(np.asarray(after) - 1, 0)
    named = np.where(stop[before] <= stop[after], before, after)
    words = (_BREAKS.get(rows[i].limit, rows[i].limit) for i in np.broadcast_to(named, len(pulled)))
    return np.interp(pulled, at, stop), tuple(words)


def limit_curve(moving: Progress, units: str, rows: Sequence[GaugeRow] = ()) -> Curve:
    """The load to stay below over the station of the head: that of the gear, or the stop load.

    The lower of the two where ``rows`` of a gauge table are given. Gears change in a step: the
    place stands twice in ``moving``.
    """
    head = moving.station * convert(1.0, "length", units)
    least = np.fmin(moving.limit, stop_loads(rows, moving.pulled)[0])
    limit = least * convert(1.0, "force", units)
    words = LEAST_WORDS if rows else "limit of the gear in use"
    return Curve(words, head, limit, "limit", "7 4")


def _heads(units: str) -> tuple[str, ...]:
    force = unit_label("force", units)
    return (
        f"cable in, {unit_label('length', units)}",
        "gear",
        *(f"{word}, {force}" for word in ("expect", "caution", "stop at")),
        "breaks first",
    )


def _reading(row: dict[str, str], over: bool) -> Reading:
    return Reading(
        length=_bare(row["cable in"]),
        place="" if row["head at"] == "-" else row["head at"],
        gear=row["gear"],
        expected=_bare(row["expected"]),
        caution=_bare(row["caution"]),
        stop=_bare(row["stop"]),
        breaks=row["first to break"],
        first="" if row["first move"] == "-" else _bare(row["first move"]),
        usable=row["gauge"] == "reads",
        over=over,
    )


def _bare(text: str) -> str:
    """A number without its unit."""
    return text.split(" ")[0]


def _span(row: tuple[str, ...]) -> str:
    start, end, gear, peak, available, speed, time = row
    return f"{start} to {end} in {gear}: up to {peak} of {available}, {speed}, {time}."


def _stop(plan: Plan, units: str) -> tuple[str, str]:
    """The least stop of the table, and what holds elsewhere; where room is least."""
    load = show(min(row.stop for row in plan.gauge), "force", units)
    most = show(max(row.stop for row in plan.gauge), "force", units)
    broken = [row for row in plan.gauge if row.stop < row.expected]
    if broken:
        what = _BREAKS.get(broken[0].limit, broken[0].limit)
        return load, f"The planned pull already breaks a limit: {what}. Do not pull."
    tight = max(plan.gauge, key=lambda row: row.expected / row.stop if row.stop else math.inf)
    at, expected, stop = (
        show(tight.pulled, "length", units),
        show(tight.expected, "force", units),
        show(tight.stop, "force", units),
    )
    rule = "Never above this reading; "
    if most != load:
        rule = f"The least of the table, whose largest is {most}: stop at that of each place; "
    return load, (
        f"{rule}least "
        f"room with {at} in: {expected} expected, stop at {stop}, where "
        f"{_BREAKS.get(tight.limit, tight.limit)} is at its limit."
    )
