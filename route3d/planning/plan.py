"""The pull plan: everything the crew needs to know of one pull, in one record."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from route3d.checks.finding import Finding, worst_first
from route3d.errors import InputError, Problem
from route3d.mechanics.pull import Pull
from route3d.model.allowances import Allowances
from route3d.model.anchor import ConduitBrace, WorkPlatform
from route3d.model.job import Job
from route3d.model.machine import Machine
from route3d.model.run import Run
from route3d.phrase import Phrase, literal, say
from route3d.planning.chain import Link, SheaveRadius, load_path, sheave_radii
from route3d.planning.clock import CrewTime, crew_time, lubricant_places
from route3d.planning.direction import Candidate
from route3d.planning.evaluate import RunResult
from route3d.planning.feeding import Feeding, feeding
from route3d.planning.gauge import GaugeRow, gauge_table
from route3d.planning.gears import GearPlan, plan_gears
from route3d.planning.history import History, history
from route3d.planning.holding import Holding, holding
from route3d.planning.placement import PlacementSearch, place_machine
from route3d.planning.placement_rope import pull_end
from route3d.planning.placement_site import SiteMesh, surroundings
from route3d.planning.placement_stand import PlaceRules
from route3d.planning.plan_findings import (
    gear_findings,
    link_findings,
    place_findings,
    radius_findings,
)
from route3d.planning.splits import SplitSearch, search_splits
from route3d.planning.supplies import Supplies, supplies

# Rope between conduit end and a machine braced against it, and how high a platform goes, m
# (common practice, no source).
_BRACED = (0.0, 1.5)
_HIGHEST_PLATFORM = 10.0


@dataclass(frozen=True, eq=False)
class Plan:
    """One run planned for one direction.

    ``peak`` N is the largest load planned at the machine: while it runs, at the start, and after
    every planned stop. ``findings`` are those of the plan itself, worst first; those of the run
    stand in ``result``.
    """

    result: RunResult
    candidate: Candidate
    machine: Machine
    allowances: Allowances
    history: History
    gears: GearPlan
    gauge: tuple[GaugeRow, ...]
    crew: CrewTime
    peak: float
    held: Holding
    links: tuple[Link, ...]
    radii: tuple[SheaveRadius, ...]
    feeding: Feeding
    supplies: Supplies
    placement: PlacementSearch
    splits: SplitSearch | None
    findings: tuple[Finding, ...]

    @property
    def pull(self) -> Pull:
        """The pull that is planned."""
        return self.candidate.pull

    @property
    def stops(self) -> bool:
        """True where something must change before the crew mobilises."""
        return (
            bool(self.candidate.breaks)
            or bool(self.candidate.barred)
            or any(f.severity == "stop" for f in (*self.result.run_findings, *self.findings))
        )


def make_plan(
    result: RunResult,
    job: Job,
    *,
    step: float,
    meshes: Sequence[SiteMesh] = (),
    feed: int | None = None,
) -> Plan:
    """Plan one run, fed from vertex ``feed`` or from the end the decision chose.

    Where neither end will do, the end of the lower utilisation is planned and the plan says stop.
    ``step`` m of cable between the rows of the gauge table. Raises InputError for a run without
    the rope and machine a plan is about.
    """
    candidate = _candidate(result, feed)
    pull, machine = candidate.pull, result.run.machine
    course = history(pull)
    if machine is None or course is None:
        what = "machine" if machine is None else "rope"
        said = f"run {result.run.name!r} names no {what}, and a pull plan needs one"
        raise InputError(Problem(said, where=f"run {result.run.name}", fix=f"name a {what}"))
    allowances = job.allowances
    stops = lubricant_places(pull.path.length, allowances)
    gears = plan_gears(course, machine, allowances, stops)
    peak = _planned_peak(course, gears, stops)
    conduit = result.run.route.conduits[0 if pull.reverse else -1]
    held = holding(result.run, conduit, peak)
    links, radii = load_path(pull, held, peak), sheave_radii(pull)
    placement = machine_search(pull, machine, job, meshes)
    points = result.run.route.pull_points
    splits = search_splits(result.run, job.practice, allowances) if points else None
    return Plan(
        result=result,
        candidate=candidate,
        machine=machine,
        allowances=allowances,
        history=course,
        gears=gears,
        gauge=gauge_table(
            pull,
            gears,
            allowances,
            step,
            head_rating=_rating_of(links[1:3]),
            line_rating=_line_rating(links, peak),
        ),
        crew=crew_time(gears, pull.path.length, allowances),
        peak=peak,
        held=held,
        links=links,
        radii=radii,
        feeding=feeding(pull, allowances),
        supplies=supplies(pull, allowances),
        placement=placement,
        splits=splits,
        findings=worst_first(
            (
                *gear_findings(gears, pull, peak),
                *link_findings(links, pull),
                *radius_findings(radii, pull),
                *place_findings(placement, pull),
            )
        ),
    )


def _candidate(result: RunResult, feed: int | None) -> Candidate:
    if feed is None:
        return result.best
    return next(c for c in result.candidates if c.pull.feed == feed)


def machine_search(
    pull: Pull, machine: Machine, job: Job, meshes: Sequence[SiteMesh] = ()
) -> PlacementSearch:
    """Where ``machine`` can stand at the pulling end of a pull."""
    return place_machine(
        pull_end(pull),
        machine,
        surroundings(job.site.rooms, meshes),
        job.allowances,
        lead_off=pull.run.lead_off,
        rules=_place_rules(pull.run),
    )


def _place_rules(run: Run) -> PlaceRules:
    """A brace holds the machine close to the conduit; a work platform may lift it."""
    if isinstance(run.anchor, ConduitBrace):
        return PlaceRules(reach=_BRACED)
    if isinstance(run.anchor, WorkPlatform):
        return PlaceRules(reach=_BRACED, lift=_HIGHEST_PLATFORM)
    return PlaceRules()


def _planned_peak(course: History, gears: GearPlan, stops: Sequence[float]) -> float:
    """Largest load while running, at the start, and at every planned stop, N."""
    starts = np.interp(stops, course.pulled, course.restart).tolist() if len(stops) else []
    changes = [change.restart_load for change in gears.changes]
    loads = [course.load.max(), course.restart[0], *changes, *starts]
    return float(max(loads))


def _rating_of(links: Sequence[Link]) -> float:
    """The least rating of the fittings at the head, N; infinite where none is given."""
    return min((link.rating for link in links if link.rating is not None), default=math.inf)


def _line_rating(links: Sequence[Link], peak: float) -> float:
    """The machine load (N) that brings the weakest fitting of the line to its rating."""
    rated = [link for link in links[3:] if link.rating is not None and link.load > 0]
    return min((peak * (link.rating or 0.0) / link.load for link in rated), default=math.inf)


def machine_place(plan: Plan) -> Phrase:
    """Where the machine stands and what holds it, in one sentence."""
    where = literal(plan.pull.pull_name)
    return say(f"machine at {where}, {plan.held.kind}; ") + plan.placement.why
