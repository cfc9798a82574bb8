"""The crew's part of a plan: gears, machine location, gauge readings, and when to stop.

The live page and the hand-over page show the same words and figures as ``route3d plan``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from route3d.drawing.axes import length_step
from route3d.drawing.charts import Curve
from route3d.geometry.vectors import Floats
from route3d.model.job import Job
from route3d.planning.direction import Candidate
from route3d.planning.placement.search import PlacementSearch
from route3d.planning.placement.site import SiteMesh
from route3d.planning.pull_plan.gauge import MOST_BENDS, GaugeRow
from route3d.planning.pull_plan.plan import Plan, make_plan
from route3d.planning.pull_plan.progress import Progress
from route3d.planning.result import RunResult
from route3d.report.plan_blocks import (
    acceptance_block,
    accident_words,
    accidents_block,
    gauge_block,
    gears_block,
    limit_of_plan,
    machine_block,
    stop_words,
)
from route3d.report.plan_steps import steps
from route3d.report.plan_tackle import chain_block
from route3d.units import convert, render, show, unit_label

_READINGS = 8
# Of the way between two places: so much farther on a load that crosses its limit is surely over.
_HAIR = 1e-4
# So near (m) to the place of a row it is that place.
_AT_ROW = 1e-6
# More rows than these are omitted, the weightiest kept: a crew reads them off a phone.
_MOST_ROWS = 24
# Along more segments than these the table takes seconds: a surface that has to answer at once does
# without it, and the others ask for fewer rows.
_QUICK, _FEW_BENDS = 400, 6
STOP_WORDS, GEAR_WORDS = "stop load", "gear limit"
"""Names of the two limit lines in a machine load chart, on every surface."""
NOT_TO_BE_MADE = "This pull must not be made: no gauge readings, stop load, gears or steps."
"""Shown instead of the readings of a pull that a finding stops."""


@dataclass(frozen=True, slots=True)
class GaugeReading:
    """One row of numbers without units, in the units of ``Gauge.heads``.

    ``place`` is the location of the head, ``first`` the reading at a planned start there;
    ``usable`` is false where the gauge is not accurate.
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


@dataclass(frozen=True, slots=True)
class Headline:
    """The readings of one place, all of one row of the gauge table; loads with their unit."""

    length: str
    place: str
    expected: str
    caution: str
    stop: str

    @property
    def readings(self) -> str:
        """The three in a sentence."""
        return f"expected {self.expected}, caution {self.caution}, stop {self.stop}"

    @property
    def short(self) -> str:
        """The three as figures, in that order, with one unit."""
        bare = (_bare(text) for text in (self.expected, self.caution))
        return " / ".join((*bare, self.stop))


@dataclass(frozen=True, slots=True)
class Gauge:
    """Gauge readings and instructions for the crew of one pull, in display units.

    ``load`` is the lowest stop load of the table, "-" where there is none, ``head`` its name, and
    ``text`` the reason.
    ``largest`` is the largest expected reading with its place;
    ``headline`` has the readings of the start and of the next place, each of one row.
    ``checks`` are the acceptance checks before each stage, with the limiter's set point.
    ``heads`` name the columns of ``rows`` but the place, with their units. ``gears``, ``time``,
    ``machine`` and ``link`` are sentences on gears and changes, the crew's time, the machine
    location and anchorage, and the weakest link; ``cautions`` are those of the plan;
    ``accidents`` is what to do after an unplanned stop.
    """

    load: str
    text: str
    head: str = "Stop load on the gauge"
    largest: str = ""
    heads: tuple[str, ...] = ()
    rows: tuple[GaugeReading, ...] = ()
    headline: tuple[Headline, ...] = ()
    checks: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    holds: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    gears: tuple[str, ...] = ()
    time: tuple[str, ...] = ()
    machine: tuple[str, ...] = ()
    link: tuple[str, ...] = ()
    accidents: tuple[str, ...] = ()

    @property
    def notes(self) -> tuple[str, ...]:
        """The remarks and the hold points."""
        return (*self.remarks, *(f"HOLD: {text}" for text in self.holds))


def plan_for_crew(
    result: RunResult,
    candidate: Candidate,
    job: Job,
    *,
    meshes: Sequence[SiteMesh] = (),
    placement: PlacementSearch | None = None,
    patient: bool = False,
) -> Plan | None:
    """The plan of one direction of a run; None where there is none: see ``why_none``.

    With ``patient`` a very long run has one too, which takes a few seconds.
    """
    if why_none(candidate, patient=patient):
        return None
    return make_plan(
        result,
        job,
        step=length_step(result.path.length, _READINGS, job.units),
        meshes=meshes,
        feed=candidate.pull.feed,
        placement=placement,
        most_bends=MOST_BENDS if is_quick(candidate) else _FEW_BENDS,
    )


def must_not_be_pulled(result: RunResult, candidate: Candidate, plan: Plan | None) -> bool:
    """Whether a pull must not be made: as its plan says, or the checks where there is no plan."""
    if plan is not None:
        return plan.stops
    return not candidate.passes or any(f.severity == "stop" for f in result.run_findings)


def is_quick(candidate: Candidate) -> bool:
    """Whether the run is small enough for a plan without a noticeable wait."""
    return len(candidate.pull.path) <= _QUICK


def why_none(candidate: Candidate, *, patient: bool = False) -> str:
    """Why there is no plan; empty where there is one."""
    pull = candidate.pull
    if pull.run.rope is None:
        return "No rope given: gauge readings cannot be calculated."
    if pull.run.machine is None:
        return "No machine given: gears and gauge readings cannot be calculated."
    if not (patient or is_quick(candidate)):
        return "Too many bends for gauge readings here. To print them: route3d plan MODEL"
    return ""


def rows_of(plan: Plan | None) -> tuple[GaugeRow, ...]:
    """The gauge table of a plan, its limits by their names; empty without a plan.

    Empty too for a pull that must not be made.
    """
    if plan is None or plan.stops:
        return ()
    return tuple(replace(row, limit=limit_of_plan(row.limit, plan)) for row in plan.gauge)


def gauge_of(candidate: Candidate, plan: Plan | None, units: str) -> Gauge:
    """Readings and instructions for one direction; ``plan`` comes from ``plan_for_crew``."""
    if plan is None or plan.stops:
        return Gauge("-", (plan is None and why_none(candidate)) or NOT_TO_BE_MADE)
    load, text = _stop(plan, units)
    table = gauge_block(plan, units, _MOST_ROWS)
    gears = gears_block(plan, units)
    peak = int(plan.pace.history.load.argmax())
    largest = ""
    if plan.peak > plan.pace.history.load[peak] * (1 + 1e-9):
        largest = f"{show(plan.peak, 'force', units)} at a first move; while moving "
    largest += show(float(plan.pace.history.load[peak]), "force", units)
    largest += f" at {show(float(plan.pace.history.pulled[peak]), 'length', units)} of cable in"
    there = [r for r in plan.gauge if abs(r.pulled - float(plan.pace.history.pulled[peak])) < 0.1]
    if there:
        largest += f" (stop load there: {show(there[-1].stop, 'force', units)})"
    same = max(r.stop for r in plan.gauge) <= min(r.stop for r in plan.gauge) * (1 + 1e-9)
    return Gauge(
        load=load,
        text=text,
        head="Stop load on the gauge" if same else "Lowest stop load on the gauge",
        largest=largest,
        heads=_heads(units),
        rows=tuple(_reading(dict(zip(table.heads, row, strict=True))) for row in table.rows),
        headline=tuple(headline(row, units) for row in plan.gauge[:2]),
        checks=_checks(plan, units),
        remarks=(*table.notes, *_rare(candidate)),
        holds=tuple(text for text, hold in steps(plan, units) if hold),
        cautions=_cautions(plan, units),
        gears=(*(_span(row) for row in gears.rows), *gears.words),
        time=gears.notes,
        machine=machine_block(plan, units).words,
        link=chain_block(plan, units).words,
        accidents=(*accident_words(plan, units), *accidents_block(plan, units).notes),
    )


def _checks(plan: Plan, units: str) -> tuple[str, ...]:
    """The limiter, and the check before each stage, in sentences."""
    block = acceptance_block(plan, units)
    stages = (
        f"Before {before} ({at} of cable in): reels, total: {reels}; limiter: {limiter}; "
        f"first move: {expected} expected, at most {most}."
        for before, at, reels, limiter, expected, most in block.rows
    )
    return (*block.words, *stages, *block.notes)


def _rare(candidate: Candidate) -> tuple[str, ...]:
    """Rows omitted from the table of a very long run."""
    if is_quick(candidate):
        return ()
    return (
        f"Only the {_FEW_BENDS} bends with the highest sidewall pressure have rows here. Between "
        "two rows the lower Stop applies. To print more: route3d plan MODEL",
    )


def _cautions(plan: Plan, units: str) -> tuple[str, ...]:
    """Stops and cautions of the plan."""
    return tuple(
        f"Caution, {f.rule}: {render(f.fix, units)}."
        for f in plan.findings
        if f.severity in ("stop", "caution")
    )


def stop_loads(rows: Sequence[GaugeRow], pulled: Floats) -> tuple[Floats, tuple[str, ...]]:
    """Stop load (N) with so much cable in (m,), whatever the gear, and the limit reached first.

    Between two rows of the gauge table the lower of their stops; NaN and "" without rows. The gear
    limit is not a stop: the machine stalls there.
    """
    if not rows:
        return np.full(len(pulled), math.nan), ("",) * len(pulled)
    at, stop = np.array([r.pulled for r in rows]), np.array([r.stop for r in rows])
    now, after = now_and_next(rows, pulled)
    lower = np.where((stop[after] < stop[now]) & (pulled > at[now] + _AT_ROW), after, now)
    return stop[lower], tuple(rows[i].limit for i in lower.tolist())


def now_and_next(
    rows: Sequence[GaugeRow], pulled: Floats
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Numbers of the row of the place now and of the next one, with so much cable in (m,)."""
    at = np.array([r.pulled for r in rows])
    now = np.maximum(np.searchsorted(at, pulled + _AT_ROW, side="right") - 1, 0)
    return now, np.minimum(now + 1, len(rows) - 1)


def headline(row: GaugeRow, units: str) -> Headline:
    """The readings of one row."""
    return Headline(
        length=show(row.pulled, "length", units, decimals=0),
        place=row.place,
        expected=show(row.expected, "force", units),
        caution=show(row.caution, "force", units),
        stop=stop_words(row, units),
    )


@dataclass(frozen=True, slots=True, eq=False)
class Crossings:
    """Places in a series: a ``share`` of the way on from each of its numbers ``after``, (k,)."""

    after: NDArray[np.int64]
    share: Floats

    def into(self, values: Floats) -> Floats:
        """The values (m,) or (m, 3) with those at the places between them."""
        here, there = values[self.after], values[self.after + 1]
        share = self.share.reshape(-1, *[1] * (values.ndim - 1))
        return np.insert(values, self.after + 1, here + share * (there - here), axis=0)


def crossings(load: Floats, limit: Floats) -> Crossings:
    """Where straight lines through ``load`` and ``limit`` cross, a hair to where it is over."""
    above, over = load - limit, load > limit * (1 + 1e-9)
    i = np.flatnonzero(over[:-1] != over[1:])
    share = above[i] / (above[i] - above[i + 1])
    hair = np.where(over[i], -_HAIR, _HAIR)
    return Crossings(i, np.clip(share + hair, 0.0, 1.0))


def limit_curves(moving: Progress, units: str, rows: Sequence[GaugeRow] = ()) -> tuple[Curve, ...]:
    """The lines of a machine load chart: gear limit, stop load, and the load above its limit.

    The stop load only where ``rows`` of a gauge table are given. Gears change in a step: the place
    stands twice in ``moving``.
    """
    stop = stop_loads(rows, moving.pulled)[0]
    least = np.fmin(moving.limit, stop)
    at = crossings(moving.load, least)
    head = at.into(moving.station) * convert(1.0, "length", units)
    values = (moving.load, least, moving.limit, np.asarray(stop, dtype=np.float64))
    load, least, gear, stop = (at.into(y) for y in values)
    over = np.where(load > least * (1 + 1e-9), load, np.nan)
    force = convert(1.0, "force", units)
    lines = [Curve(GEAR_WORDS, head, gear * force, "limit", "2 4")]
    if rows:
        lines.append(Curve(STOP_WORDS, head, stop * force, "limit", "7 4"))
    if np.isfinite(over).any():
        lines.append(Curve("over the limit", head, over * force, "limit"))
    return tuple(lines)


def _heads(units: str) -> tuple[str, ...]:
    force = unit_label("force", units)
    return (
        f"cable in, {unit_label('length', units)}",
        "gear",
        *(f"{word}, {force}" for word in ("expected", "caution", "stop")),
        "limit reached first",
    )


def _reading(row: dict[str, str]) -> GaugeReading:
    return GaugeReading(
        length=_bare(row["cable in"]),
        place="" if row["head at"] == "-" else row["head at"],
        gear=row["gear"],
        expected=_bare(row["expected"]),
        caution=_bare(row["caution"]),
        stop=_bare(row["stop"]),
        breaks=row["limit reached first"],
        first="" if row["first move"] == "-" else _bare(row["first move"]),
        usable=row["gauge accurate"] == "yes",
    )


def _bare(text: str) -> str:
    """A number without its unit."""
    return text.split(" ")[0]


def _span(row: tuple[str, ...]) -> str:
    start, end, gear, peak, available, speed, time = row
    return (
        f"{start} to {end} in {gear}: peak load {peak} (machine stalls at {available}), "
        f"average speed {speed}, {time}."
    )


def _stop(plan: Plan, units: str) -> tuple[str, str]:
    """The lowest stop load of the table, and the row that comes closest to its own."""
    load = show(min(row.stop for row in plan.gauge), "force", units)
    most = show(max(row.stop for row in plan.gauge), "force", units)
    tight = max(rows_of(plan), key=lambda row: row.ratio)
    at, expected, stop = (
        show(tight.pulled, "length", units),
        show(tight.expected, "force", units),
        show(tight.stop, "force", units),
    )
    rule = "Never exceed this reading. "
    if most != load:
        rule = f"The stop load changes along the pull (up to {most}): use the row you are at. "
    return load, (
        f"{rule}Closest to its stop: at {at} of cable in, {expected} expected, stop at {stop} "
        f"({tight.limit})."
    )
