"""The pull plan: everything the crew needs to know of one pull, in one record."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from route3d.checks.classes import temperature_gaps
from route3d.checks.finding import Finding, worst_first
from route3d.errors import InputError, Problem
from route3d.geometry.vectors import frozen
from route3d.mechanics.pull import Pull
from route3d.model.allowances import Allowances
from route3d.model.job import Job
from route3d.model.machine import Machine
from route3d.model.room import Room
from route3d.model.run import Run
from route3d.phrase import Phrase, literal, say
from route3d.planning.direction import Candidate
from route3d.planning.margins import BrakeWindow, brake_findings, must_hold
from route3d.planning.placement.rope_legs import drawn_out
from route3d.planning.placement.search import PlacementSearch, machine_search
from route3d.planning.placement.site import SiteMesh, rooms_at
from route3d.planning.pull_plan.acceptance import Acceptance, acceptance
from route3d.planning.pull_plan.feeding import Draw, Feeding, feeding
from route3d.planning.pull_plan.findings import (
    gauge_findings,
    gear_findings,
    hanging_findings,
    least_load_findings,
    link_findings,
    place_findings,
    radius_findings,
    raised_findings,
    reel_findings,
    start_findings,
    swivel_findings,
    unrated_findings,
)
from route3d.planning.pull_plan.gauge import (
    MOST_BENDS,
    GaugeRow,
    gauge_table,
    reading_findings,
    window_findings,
    within_stops,
    within_window,
)
from route3d.planning.pull_plan.head_history import history
from route3d.planning.pull_plan.holding import Holding, holding, holds_up_to
from route3d.planning.pull_plan.load_path import (
    STALLING,
    Link,
    SheaveRadius,
    load_path,
    passed_factor,
    pulling_conduit,
    sheave_radii,
)
from route3d.planning.pull_plan.restarts import (
    AccidentalStop,
    FirstMoveStops,
    accidental_stops,
    restartable,
)
from route3d.planning.pull_plan.schedule import Pace, pace
from route3d.planning.pull_plan.sheaves import (
    SheaveForce,
    head_length_findings,
    sheave_findings,
    sheave_forces,
)
from route3d.planning.pull_plan.stops import Hanging
from route3d.planning.pull_plan.supplies import Supplies, supplies
from route3d.planning.result import RunResult
from route3d.planning.splitting.timing import best_splits
from route3d.planning.splitting.ways import SplitPlan, SplitSearch, Stage

# What stops a plan without any load beyond a limit.
_NO_LOADS = frozenset({"machine location"})
# Steps of the gauge table of a plan whose readings nobody asks for.
_COARSE_STEPS = 8


@dataclass(frozen=True, eq=False)
class StagePlace:
    """The place of a plan among the stages of a way to split ``whole``, all counted from 1.

    ``stopped_by`` are the stages of the way that must not be made, and with them the whole way.
    """

    whole: Run
    way: SplitPlan
    number: int
    ways: int
    stage: Stage
    index: int
    stopped_by: tuple[int, ...] = ()

    @property
    def count(self) -> int:
        """The number of stages of the way."""
        return len(self.way.stages)

    @property
    def name(self) -> str:
        """Such as "way 1, stage 1 of 2"."""
        return f"way {self.number}, stage {self.index} of {self.count}"


@dataclass(frozen=True, eq=False)
class PlannedLoads:
    """One direction of a run, how it goes on, and what that loads: a plan without its readings.

    ``pull`` is what is planned, its reels held as ordered; nobody brakes figure eights. ``peak`` N
    is the largest load planned at the machine: while it runs, and at the first move at the start
    and after every planned stop. ``line_limit`` is the machine load at which the first fitting
    between conduit end and anchor is at its rating, and which. ``sheaves`` are the forces on their
    fastenings; ``reach`` m is how far the head is drawn out.
    """

    result: RunResult
    candidate: Candidate
    pull: Pull
    machine: Machine
    pace: Pace
    peak: float
    held: Holding
    links: tuple[Link, ...]
    line_limit: tuple[float, str]
    radii: tuple[SheaveRadius, ...]
    sheaves: tuple[SheaveForce, ...]
    placement: PlacementSearch
    reach: float

    @property
    def head_rating(self) -> float:
        """The least rating at the head, as a tension at the conduit end, N; infinite for none."""
        return _head_rating(self.links, passed_factor(self.pull.run, self.reach))


@dataclass(frozen=True, eq=False)
class Plan(PlannedLoads):
    """One run planned for one direction.

    ``hanging`` are the planned stops at which cable hangs, and ``accidents`` what to do after a
    stop that nobody planned. ``acceptance`` is what to check before each stage, ``rooms`` are those
    of the site at the pulling end. ``findings`` are those of the plan itself, worst first; those of
    the run stand in ``result``. ``place`` is set for a stage of a way to split.
    """

    gauge: tuple[GaugeRow, ...]
    acceptance: Acceptance
    hanging: tuple[Hanging, ...]
    accidents: tuple[AccidentalStop, ...]
    feeding: Feeding
    supplies: Supplies
    rooms: tuple[Room, ...]
    splits: SplitSearch | None
    findings: tuple[Finding, ...]
    place: StagePlace | None = None

    @cached_property
    def all_findings(self) -> tuple[Finding, ...]:
        """What was found about the run and this direction, with what the plan itself found."""
        of_run, own = self.result.run_findings, self.candidate.findings
        if self.brake != self.candidate.window:
            held = {f.rule: f for f in brake_findings(self.pull, self.brake)}
            own = tuple(held.get(f.rule, f) for f in own)
        return worst_first((*self.findings, *of_run, *own))

    @property
    def brake(self) -> BrakeWindow:
        """What the reels are held with: no more than the stop readings allow."""
        return self.feeding.window or self.candidate.window

    @property
    def why(self) -> Phrase:
        """The reason for the feed end; with the brake of this plan where that end is planned."""
        decision = self.result.decision
        return decision.why_with(self.brake if decision.choice is self.candidate else None)

    @property
    def reasons(self) -> tuple[Finding, ...]:
        """What stops this pull, worst first; empty where it may be made."""
        return tuple(f for f in self.all_findings if f.severity == "stop")

    @property
    def stops(self) -> bool:
        """True where this pull must not be made: something must change before the crew mobilizes.

        Every surface asks this. Then none gives gears, gauge readings, a machine location,
        what to do after a stop, or steps: only what is wrong, and what would help.
        """
        of_way = self.place is not None and bool(self.place.stopped_by)
        return bool(self.reasons) or bool(self.candidate.barred) or of_way


def make_plan(
    result: RunResult,
    job: Job,
    *,
    step: float,
    meshes: Sequence[SiteMesh] = (),
    feed: int | None = None,
    placement: PlacementSearch | None = None,
    most_bends: int = MOST_BENDS,
    draw: Draw | None = None,
    place: StagePlace | None = None,
    after_stops: bool = True,
) -> Plan:
    """Plan one run, fed from vertex ``feed`` or from the end the decision chose.

    Where neither end is acceptable, the end of the lower utilization is planned, and it stops.
    ``step`` m of cable between the rows of the gauge table, of which at most ``most_bends`` bends
    have some; ``placement`` where the machine can stand, if that has been searched already;
    ``draw`` and ``place`` where the run is one stage of a split. Without ``after_stops`` it does
    not say what to do after a stop nobody planned, which takes a third of the time and changes
    neither findings nor times. Raises InputError for a run
    without the rope and machine a plan is about.
    """
    loads = _loads(result, job, feed=feed, draw=draw, placement=placement, meshes=meshes)
    whole = place is None and bool(result.run.route.pull_points)
    splits = best_splits(result.run, job.practice, job.allowances) if whole else None
    return _plan_of(loads, job, step, most_bends, draw, place, splits, after_stops)


def _plan_of(
    loads: PlannedLoads,
    job: Job,
    step: float,
    most_bends: int = MOST_BENDS,
    draw: Draw | None = None,
    place: StagePlace | None = None,
    splits: SplitSearch | None = None,
    after_stops: bool = True,
) -> Plan:
    """The plan of what is loaded so; as ``make_plan``."""
    pull, going, window = loads.pull, loads.pace, loads.candidate.window
    gears, allowances = going.gears, job.allowances
    readings = gauge_table(
        pull,
        gears,
        allowances,
        step,
        stops=going.stops.places,
        head_rating=loads.head_rating,
        line_rating=loads.line_limit[0],
        most_bends=most_bends,
        window=window,
        drawn_on=draw is not None and draw.laid > 0,
    )
    readings, narrowed = within_stops(readings, pull, window)
    readings = _over_the_first_feet(readings, loads)
    readings = within_window(readings, narrowed)
    off_reel = draw is None or draw.off_reel
    reel_end = feeding(pull, allowances, draw, narrowed if off_reel else None)
    hanging = going.hanging(pull)
    checks = acceptance(readings, narrowed)
    accidents = _accidents(loads, allowances, readings, checks) if after_stops else ()
    # no place to stop is safe where nobody may start again
    moves = replace(going.moves, safe=frozen(restartable(going.moves.safe, accidents)))
    return Plan(
        **{**vars(loads), "pace": replace(going, moves=moves)},
        gauge=readings,
        acceptance=checks,
        hanging=hanging,
        accidents=accidents,
        feeding=reel_end,
        supplies=supplies(pull, allowances, [(at, going.moves.load_at(at)) for at in going.starts]),
        rooms=rooms_at(pull.run.route.vertices[pull.pull].point, job.site.rooms),
        splits=splits,
        findings=worst_first(
            (
                *gear_findings(gears, pull, loads.machine, loads.peak),
                *least_load_findings(going.history, pull, loads.machine),
                *start_findings(pull, going),
                *hanging_findings(pull, hanging),
                *gauge_findings(gears, pull),
                *reading_findings(readings, pull),
                *window_findings(pull, window, narrowed),
                *raised_findings(loads.candidate.pull, pull),
                *link_findings(loads.links, pull),
                *unrated_findings(loads.links, pull),
                *radius_findings(loads.radii, pull),
                *sheave_findings(loads.sheaves),
                *head_length_findings(pull),
                *swivel_findings(pull, loads.reach),
                *reel_findings(reel_end, pull),
                *place_findings(loads.placement, pull, loads.reach),
                *temperature_gaps(pull.run, pull.practice),
            )
        ),
        place=place,
    )


def _loads(
    result: RunResult,
    job: Job,
    *,
    feed: int | None = None,
    draw: Draw | None = None,
    placement: PlacementSearch | None = None,
    meshes: Sequence[SiteMesh] = (),
) -> PlannedLoads:
    candidate = _candidate(result, feed)
    off_reel = draw is None or draw.off_reel
    pull = candidate.planned if off_reel else candidate.pull
    run = pull.run  # equipped for this direction
    machine = run.machine
    course = history(pull)
    if machine is None or course is None:
        what = "machine" if machine is None else "rope"
        said = f"run {run.name!r} has no {what}; a pull plan requires one"
        raise InputError(Problem(said, where=f"run {run.name}", fix=f"assign a {what}"))
    beyond = 0.0 if draw is None else draw.laid
    going = pace(pull, course, machine, job.allowances).drawn_on(beyond)
    peak = max(float(course.load.max()), going.most_at_starts(going.moves.load))
    tension = max(pull.peak_tension, going.most_at_starts(going.moves.tension))
    conduit = pulling_conduit(pull)
    held = holding(run, conduit, peak)
    reach = drawn_out(run, job.allowances)
    links = load_path(pull, held, peak, tension, reach)
    holds = holds_up_to(run, conduit, machine.available_pull, peak)
    if placement is None:
        placement = machine_search(pull, machine, job, meshes)
    return PlannedLoads(
        result=result,
        candidate=candidate,
        pull=pull,
        machine=machine,
        pace=going,
        peak=peak,
        held=held,
        links=links,
        line_limit=_line_limit(links, held, peak, holds),
        radii=sheave_radii(pull, reach),
        sheaves=sheave_forces(pull, peak, placement),
        placement=placement,
        reach=reach,
    )


def plan_stops(
    result: RunResult,
    job: Job,
    *,
    placement: PlacementSearch | None = None,
    every: bool = False,
) -> tuple[Finding, ...]:
    """What stops a plan of one run: the stops among ``make_plan(...).findings``.

    The gauge table is left out where it stops nothing: as long as every limit, link and sheave is
    kept no reading is above its stop, and where nothing must be held back no stop leaves less than
    the brake takes. Where something else stops the plan the table is asked too if ``every`` stop
    is wanted. Raises as ``make_plan``.
    """
    loads = _loads(result, job, placement=placement)
    stops = _stops_of(loads)
    kept = loads.candidate.passes and not any(f.rule not in _NO_LOADS for f in stops)
    asked = must_hold(loads.candidate.pull) if kept and not stops else every and not kept
    if not asked:
        return stops
    plan = _plan_of(loads, job, coarse_step(result.path.length), after_stops=False)
    return tuple(f for f in plan.findings if f.severity == "stop")


def coarse_step(length: float) -> float:
    """Step, m, of the gauge table of a plan whose readings nobody asks for; ``length`` m of run."""
    return max(length / _COARSE_STEPS, 1.0)


def passing_loads(
    result: RunResult, job: Job, *, meshes: Sequence[SiteMesh] = ()
) -> PlannedLoads | None:
    """How a run that nothing stops goes on, and what that loads: its plan without the gauge table.

    None where something stops the run, and where only the table can tell whether it does; see
    ``plan_stops``. A third of the time of a plan. Raises as ``make_plan``.
    """
    candidate = result.best
    stopped = any(f.severity == "stop" for f in (*result.run_findings, *candidate.findings))
    if stopped or not candidate.passes or must_hold(candidate.pull):
        return None
    loads = _loads(result, job, meshes=meshes)
    return None if _stops_of(loads) else loads


def _stops_of(loads: PlannedLoads) -> tuple[Finding, ...]:
    """What stops a plan as far as that is known without its gauge table."""
    pull = loads.pull
    found = (
        *gear_findings(loads.pace.gears, pull, loads.machine, loads.peak),
        *start_findings(pull, loads.pace),
        *link_findings(loads.links, pull),
        *radius_findings(loads.radii, pull),
        *sheave_findings(loads.sheaves),
        *place_findings(loads.placement, pull, loads.reach),
    )
    return tuple(f for f in found if f.severity == "stop")


def _over_the_first_feet(rows: Sequence[GaugeRow], loads: PlannedLoads) -> tuple[GaugeRow, ...]:
    """The rows with their first moves taken over all the way that friction at rest may hold."""
    starts = [row.pulled for row in rows if row.first_move is not None]
    if not starts:
        return tuple(rows)
    stops = FirstMoveStops.at(
        loads.pull, starts, head_rating=loads.head_rating, line_rating=loads.line_limit[0]
    )

    def over(row: GaugeRow) -> GaugeRow:
        if row.first_move is None or row.first_stop is None:
            return row
        return replace(
            row,
            first_move=max(row.first_move, loads.pace.moves.load_at(row.pulled)),
            first_stop=min(row.first_stop, stops.least(row.pulled, row.pulled)),
        )

    return tuple(over(row) for row in rows)


def _accidents(
    loads: PlannedLoads, allowances: Allowances, rows: Sequence[GaugeRow], checks: Acceptance
) -> tuple[AccidentalStop, ...]:
    """What to do after an unplanned stop; stretches end where it is no longer safe to stop, too.

    The steps of the table are left out, so that every surface has the same stretches; of a route
    of very many bends only those in the table are looked at.
    """
    moves, line = loads.pace.moves, loads.line_limit[0]
    marks = [row.pulled for row in rows if row.kind != "step"]
    edges = moves.safe.ravel() if len(moves.safe) <= MOST_BENDS else moves.safe[:0].ravel()
    ends = np.concatenate((marks, edges))
    stops = FirstMoveStops.everywhere(
        loads.pull, ends, head_rating=loads.head_rating, line_rating=line
    )
    return accidental_stops(
        loads.pull,
        loads.machine,
        allowances,
        moves,
        loads.pace.gears,
        stops.pulled,
        line,
        stops,
        checks.limiter if checks.one_setting else math.inf,
    )


def _candidate(result: RunResult, feed: int | None) -> Candidate:
    if feed is None:
        return result.best
    return next(c for c in result.candidates if c.pull.feed == feed)


def _head_rating(links: Sequence[Link], factor: float) -> float:
    """The least rating at the head, as a tension at the conduit end, N; infinite for none given.

    Past a sheave conductors and head carry ``factor`` times that tension.
    """
    parts = ("cable", "head") if factor > 1.0 else ("head",)
    at_head = [x.rating for x in links if x.part in parts and x.rating is not None]
    return min(at_head, default=math.inf) / factor


def _line_limit(
    links: Sequence[Link], held: Holding, peak: float, holds: tuple[float, str]
) -> tuple[float, str]:
    """The machine load (N) that brings the weakest fitting of the line to its rating, and its name.

    ``holds`` is that of what holds the machine. What the machine itself can pull is no limit that
    protects the line: it stalls there.
    """
    names = {*(hold.name for hold in held.holds), STALLING}
    line = [link for link in links if link.part == "line" and link.name not in names]
    rated = [
        (peak * link.rating / link.load, link.name)
        for link in line
        if link.rating is not None and link.load > 0
    ]
    return min((*rated, holds), default=(math.inf, ""))


def machine_place(plan: Plan) -> Phrase:
    """Where the machine stands and what holds it, in one sentence."""
    where = literal(plan.pull.pull_name)
    return say(f"machine at {where}, {plan.held.kind}; ") + plan.placement.why
