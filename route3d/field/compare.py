"""A log against the plan: each reading, each place, where it departs, and what explains it.

Expected, caution and stop are those of the gauge table, worked out at each reading's own footage.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from route3d.errors import InputError, Problem
from route3d.field.causes import (
    Cause,
    CauseKind,
    Explanation,
    bend_stretches,
    conduit_stretches,
    explain,
    trial_of,
)
from route3d.field.departures import (
    Departure,
    detect,
    detector,
    nearly_nothing,
    usual_noise,
)
from route3d.field.expected import expected_load
from route3d.field.noise import Noise
from route3d.field.other_end import other_end
from route3d.field.readings import PullLog
from route3d.field.stop_passed import AgainstStop, against_stop, on_route
from route3d.geometry.vectors import Floats
from route3d.model.job import Job
from route3d.planning.pull_plan.gauge import GaugeBand, gauge_band
from route3d.planning.pull_plan.plan import Plan

FEWEST = 4
"""Readings that can be compared with a plan; fewer say nothing."""
MOST = 300
"""Readings that causes are weighed by, evenly spread: more of them say little new."""
_LOOKED = 4000  # readings that departures are looked for in
_BAND = 600  # places that the band is worked out at; between them it is taken straight


@dataclass(frozen=True, slots=True)
class PlaceResidual:
    """Readings with the head in one "bend", "conduit" or "straight", from ``start`` to ``end`` m.

    ``count`` of them; their ``mean`` less expected, the ``largest`` of either sign, and how much it
    ``grew`` across the place, all N; NaN where too few readings say.
    """

    kind: str
    name: str
    start: float
    end: float
    count: int
    mean: float
    largest: float
    grew: float


@dataclass(frozen=True, eq=False)
class Comparison:
    """A log against its plan, n readings in the order of the log.

    ``band`` is what the gauge should read at each, NaN beyond the run; ``measured`` (n,) N with the
    tare off; ``compared`` (n,) true where a reading counts. ``explained`` (n,) N is what the causes
    of ``explanations`` make of the plan. ``noise`` is what they leave. ``other_end`` is the
    end that the log fits far better, "" for none.
    """

    plan: Plan
    log: PullLog
    band: GaugeBand
    measured: Floats
    compared: NDArray[np.bool_]
    explained: Floats
    places: tuple[PlaceResidual, ...]
    departures: tuple[Departure, ...]
    explanations: tuple[Explanation, ...]
    noise: Noise
    step: float
    held: AgainstStop
    other_end: str = ""

    @property
    def residual(self) -> Floats:
        """Measured less expected, (n,) N."""
        return np.asarray(self.measured - self.band.expected)

    @property
    def above_stop(self) -> NDArray[np.int64]:
        """The readings at or above Stop that are sure, compared or not."""
        return np.flatnonzero(self.held.passed)

    @property
    def flagged_above_stop(self) -> NDArray[np.int64]:
        """The doubtful readings at or above Stop; they are told, and an alarm too."""
        return np.flatnonzero(self.held.doubtful)

    @property
    def above_caution(self) -> NDArray[np.int64]:
        """The readings above Caution that count."""
        return np.flatnonzero(self.compared & (self.measured > self.band.caution * (1 + 1e-9)))

    @property
    def stops(self) -> bool:
        """True where a reading passed Stop or may have, or the plan must not be pulled."""
        return self.held.alarm or self.plan.stops


def compare_log(plan: Plan, job: Job, log: PullLog) -> Comparison:
    """``log`` against ``plan``; InputError where too few of its readings can be compared."""
    pull, step = plan.pull, job.allowances.gauge_step
    length = pull.path.length
    measured = np.asarray(log.load - log.tare)
    inside = on_route(plan, log)
    compared = log.used & inside & np.isfinite(measured)
    if int(compared.sum()) < FEWEST:
        count = int(compared.sum())
        said = f"only {count} reading{'s' if count != 1 else ''} can be compared with the plan"
        fix = "see why the others do not count: route3d field log"
        raise InputError(Problem(said, where=log.name, fix=fix))
    band = band_at(plan, job, np.where(inside, np.clip(log.pulled, 0.0, length), np.nan))
    departures = detect(detector(pull, step), _thinned(log, compared, _LOOKED))
    kept = compared & ~nearly_nothing(measured, band.expected, step)
    rows = _every(np.flatnonzero(kept), MOST)
    explanations: tuple[Explanation, ...] = ()
    explained, noise = np.full(len(log), np.nan), usual_noise(step)
    if len(rows) >= FEWEST:
        at = np.clip(log.pulled[rows], 0.0, length)
        jumps = [d.start for d in departures if d.kind == "jump"]
        trial = trial_of(
            pull, at, measured[rows], step, log.events, jumps, tared=was_tared(log, step)
        )
        explanations, made, noise = explain(trial, noise)
        explained[rows] = made
    seen = {cause.kind for found in explanations for cause in found.causes}
    called = [d for d in departures if d.kind == "drop"]
    called += [d for d in departures if d.kind == "pulsing" and "pulsing" not in seen][:1]
    return Comparison(
        plan,
        log,
        band,
        measured,
        compared,
        explained,
        tuple(_places(plan, log, measured - band.expected, compared)),
        departures,
        (*map(_called, called), *explanations),
        noise,
        step,
        against_stop(plan, log, band.stop),
        other_end(job, pull, log.pulled[compared], measured[compared]),
    )


def was_tared(log: PullLog, step: float) -> bool:
    """True where the gauge was read at rest before the start, and its tare is what it read."""
    rest = np.array(["before the start" in flags for flags in log.flags], dtype=bool)
    loads = log.load[rest & np.isfinite(log.load)]
    known = len(loads) >= _RESTED and abs(float(np.median(loads)) - log.tare) <= 0.5 * step
    return bool(known)


_RESTED = 2  # readings at rest that make a tare


def band_at(plan: Plan, job: Job, pulled: Floats) -> GaugeBand:
    """The gauge's band at each of ``pulled`` (n,) m, NaN where there is none.

    At every footage itself where there are at most so many, else closely between.
    """
    known = np.unique(pulled[np.isfinite(pulled)])
    if len(known) > _BAND:
        joints = np.abs(plan.pull.path.stations - plan.pull.course.stations[0])
        known = np.unique(np.concatenate((np.linspace(known[0], known[-1], _BAND), joints)))
        known = known[np.append(True, np.diff(known) > 1e-3)]
    found = gauge_band(
        plan.pull,
        known,
        job.allowances,
        plan.brake,
        head_rating=plan.head_rating,
        line_rating=plan.line_limit[0],
    )

    def at(values: Floats) -> Floats:
        shown = np.interp(np.nan_to_num(pulled), known, values)
        return np.where(np.isfinite(pulled), shown, np.nan)

    near = np.searchsorted(known, np.nan_to_num(pulled)).clip(0, len(known) - 1)
    limit = tuple(found.limit[i] for i in near.tolist())
    return GaugeBand(
        pulled,
        at(found.expected),
        at(found.low),
        at(found.high),
        at(found.caution),
        at(found.stop),
        limit,
    )


def _every(rows: NDArray[np.int64], most: int) -> NDArray[np.int64]:
    if len(rows) <= most:
        return rows
    return rows[np.unique(np.linspace(0, len(rows) - 1, most).round().astype(np.int64))]


def _thinned(log: PullLog, compared: NDArray[np.bool_], most: int) -> PullLog:
    """The log with only the readings compared in use, and of those at most so many."""
    used = np.zeros(len(log), dtype=bool)
    used[_every(np.flatnonzero(compared), most)] = True
    return PullLog(
        log.name, log.pulled, log.load, log.time, log.gear, used, log.flags, log.row.copy(),
        log.events, tare=log.tare,
    )  # fmt: skip


def _called(found: Departure) -> Explanation:
    """What was called during the pull and needs no cause but itself."""
    kind: CauseKind = "drop" if found.kind == "drop" else "pulsing"
    size = found.size
    cause = Cause(kind, "", found.start, found.end, size, math.nan, math.nan, size, 1.0)
    return Explanation((cause,), found.evidence)


_NEAR_END = 3.0  # m, over which the residual at either end of a place is averaged


def _places(
    plan: Plan, log: PullLog, residual: Floats, compared: NDArray[np.bool_]
) -> list[PlaceResidual]:
    """Residuals with the head in each conduit, bend and straight, in pulling order."""
    pull = plan.pull
    length = pull.path.length
    bends = [(name, start, end) for name, start, end, _ in bend_stretches(pull)]
    edges = [0.0, *(x for _, start, end in bends for x in (start, end)), length]
    straights = [
        ("", start, end)
        for start, end in zip(edges[::2], edges[1::2], strict=True)
        if end - start > 0.1
    ]
    conduits = conduit_stretches(expected_load(pull, np.array([0.0, length])))
    stretches = [
        *(("conduit", *each) for each in conduits),
        *sorted(
            [("bend", *each) for each in bends] + [("straight", *each) for each in straights],
            key=lambda each: each[2],
        ),
    ]
    at = np.where(compared, log.pulled, np.nan)
    return [_place(at, residual, *each) for each in stretches]


def _place(
    at: Floats, residual: Floats, kind: str, name: str, start: float, end: float
) -> PlaceResidual:
    inside = residual[(at >= start) & (at <= end)]
    before = residual[(at >= start - _NEAR_END) & (at < start)]
    if start < _NEAR_END:
        before = residual[(at >= start) & (at < start + _NEAR_END)]
    after = residual[(at > end - 0.1) & (at <= end + _NEAR_END)]
    grew = float(after.mean() - before.mean()) if len(before) and len(after) else math.nan
    if not len(inside):
        return PlaceResidual(kind, name, start, end, 0, math.nan, math.nan, grew)
    largest = float(inside[int(np.argmax(np.abs(inside)))])
    return PlaceResidual(kind, name, start, end, len(inside), float(inside.mean()), largest, grew)
