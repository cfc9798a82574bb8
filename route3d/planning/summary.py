"""A whole job on one line a run: what is pulled, how hard, how long it takes, and the verdict."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from route3d.planning.evaluate import evaluate
from route3d.planning.pull_plan.plan import (
    Plan,
    PlannedLoads,
    coarse_step,
    make_plan,
    passing_loads,
)
from route3d.planning.result import JobResult, RunResult

if TYPE_CHECKING:
    from route3d.checks.finding import Finding
    from route3d.model.job import Job
    from route3d.planning.placement.site import SiteMesh

# A verdict names so many of the limits that stop a run; the details of the run have all.
_MOST_REASONS = 1


@dataclass(frozen=True, slots=True)
class RunSummary:
    """One run of a job, in SI.

    ``feed`` is the end it is fed from and ``pull`` the other: those of its plan, or those with the
    lower utilization where neither is acceptable. ``utilization`` is the share of the limit named
    ``governing`` with the cable moving, ``margin`` the friction margin: None where a limit is
    exceeded without any friction, infinite where no friction reaches one. ``crew_time`` s is that
    of the plan, None for a run that must not be pulled or names no rope or machine. ``reasons`` are
    the rules of the findings that stop it, worst first. ``planned`` says whether rope and machine
    were checked: they are not where the run names none.
    """

    name: str
    cables: str
    length: float
    turn: float
    feed: str
    pull: str
    governing: str
    utilization: float
    margin: float | None
    crew_time: float | None
    reasons: tuple[str, ...]
    planned: bool

    @property
    def stops(self) -> bool:
        """True where this run must not be pulled."""
        return bool(self.reasons)

    @property
    def verdict(self) -> str:
        """``pull``, or ``do not pull`` with the worst of what stops it."""
        if not self.reasons:
            return "pull"
        more = len(self.reasons) - _MOST_REASONS
        left = f" and {more} more" if more > 0 else ""
        return f"do not pull: {', '.join(self.reasons[:_MOST_REASONS])}{left}"


def summarize(result: RunResult, plan: Plan | PlannedLoads | None = None) -> RunSummary:
    """The line of one run; without a ``plan`` its checks alone give the verdict, and no time.

    ``plan`` may be the loads of one that nothing stops.
    """
    candidate = result.best if plan is None else plan.candidate
    found: Iterable[Finding] = ()
    if plan is None:
        found = result.findings_of(candidate)
    elif isinstance(plan, Plan):
        found = plan.reasons
    reasons = dict.fromkeys(f.rule for f in found if f.severity == "stop")
    if candidate.barred:
        reasons |= {"access": None}
    stops = isinstance(plan, Plan) and plan.stops if plan is not None else result.stops
    return RunSummary(
        name=result.run.name,
        cables=result.run.cables.describe(),
        length=result.path.length,
        turn=result.path.turn,
        feed=candidate.pull.feed_name,
        pull=candidate.pull.pull_name,
        governing=candidate.name(candidate.utilization.governing),
        utilization=candidate.utilization.peak,
        margin=candidate.margin.factor,
        crew_time=None if plan is None or stops else plan.pace.crew.total,
        reasons=tuple(reasons) if stops else (),
        planned=plan is not None,
    )


def plan_of(result: RunResult, result_of: JobResult, meshes: Sequence[SiteMesh]) -> Plan | None:
    """The plan of a run fed from the better end; None where it names no rope or machine."""
    if result.run.rope is None or result.run.machine is None:
        return None
    step = coarse_step(result.path.length)
    return make_plan(result, result_of.job, step=step, meshes=meshes, after_stops=False)


def summaries(result: JobResult, meshes: Sequence[SiteMesh] = ()) -> tuple[RunSummary, ...]:
    """A line for every run of a job, each planned where it names a rope and a machine."""
    return tuple(summarize(run, _verdict_of(run, result, meshes)) for run in result.runs)


def lines(job: Job, meshes: Sequence[SiteMesh] = ()) -> tuple[RunSummary, ...]:
    """``summaries`` of a job straight from its model, for those who ask nothing else of it.

    What can never stop a pull is left out of the evaluation of a run that passes.
    """
    quick = evaluate(job, with_remedies=False, stops_only=True)
    runs = tuple(_in_full(run, job) if run.stops else run for run in quick.runs)
    return summaries(replace(quick, runs=runs), meshes)


def _in_full(result: RunResult, job: Job) -> RunResult:
    return evaluate(replace(job, runs=(result.run,)), with_remedies=False).runs[0]


def _verdict_of(
    result: RunResult, result_of: JobResult, meshes: Sequence[SiteMesh]
) -> Plan | PlannedLoads | None:
    """What a line needs of the plan: all of it only where that may stop the run."""
    if result.run.rope is None or result.run.machine is None:
        return None
    loads = passing_loads(result, result_of.job, meshes=meshes)
    return plan_of(result, result_of, meshes) if loads is None else loads


def worst_first(runs: Iterable[RunSummary]) -> tuple[RunSummary, ...]:
    """Runs that must not be pulled, then by utilization; equal ones keep their order."""
    return tuple(sorted(runs, key=rank))


def rank(run: RunSummary) -> tuple[bool, float]:
    """What a run is sorted by, the worst first."""
    share = run.utilization
    # Shares that differ by rounding alone leave the runs in the order of the file.
    return not run.stops, -round(share, 4) if math.isfinite(share) else -math.inf
