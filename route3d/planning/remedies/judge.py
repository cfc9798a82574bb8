"""The judge of remedies: runs answered and planned anew, with everything that still stops them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from route3d.checks.finding import Finding, worst_first
from route3d.errors import InputError
from route3d.model.job import Job
from route3d.model.run import Run
from route3d.planning.placement.search import PlacementSearch, machine_search, place_key
from route3d.planning.placement.site import SiteMesh
from route3d.planning.pull_plan.plan import plan_stops
from route3d.planning.remedies.aim import Aim
from route3d.planning.result import RunResult, evaluate_run

_SHOWN = 1 + 1e-9


@dataclass(frozen=True, eq=False)
class Task:
    """What every remedy of one run is judged by: the job, its meshes, and what is aimed at.

    ``places`` keeps where the machine can stand, which few changes touch.
    """

    job: Job
    aim: Aim
    meshes: Sequence[SiteMesh] = ()
    places: dict[object, PlacementSearch] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class Verdict:
    """Runs judged: their ``results``, and what stops them in check and plan, worst first.

    ``planned`` is true where every run names the rope and the machine a plan is about.
    """

    results: tuple[RunResult, ...]
    stops: tuple[Finding, ...]
    planned: bool

    @property
    def worst(self) -> RunResult:
        """The run whose pull takes most of a limit."""
        return max(self.results, key=lambda r: r.best.utilization.peak)

    @property
    def utilization(self) -> float:
        """The largest share of a limit in any pull."""
        return self.worst.best.utilization.peak

    @property
    def restart(self) -> float:
        """The largest share of a limit that a restart anywhere takes in any pull."""
        return self._restarted.best.restart_utilization.peak

    @property
    def restart_limit(self) -> str:
        """The limit that it takes so much of."""
        best = self._restarted.best
        return best.name(best.restart_utilization.governing)

    @property
    def _restarted(self) -> RunResult:
        return max(self.results, key=lambda r: r.best.restart_utilization.peak)

    @property
    def friction_margin(self) -> float | None:
        """The smallest friction margin of any pull; None where a limit is exceeded without any."""
        factors = [r.best.margin.factor for r in self.results]
        known = [f for f in factors if f is not None]
        return min(known) if len(known) == len(factors) else None

    def stops_but(self, rules: frozenset[str]) -> tuple[Finding, ...]:
        """What stops the runs, some rules left out."""
        return tuple(f for f in self.stops if f.rule not in rules)

    def reaches(self, aim: Aim, *, but: frozenset[str] = frozenset()) -> bool:
        """True where nothing stops the runs, some rules left out, and the margin is kept."""
        if self.stops_but(but) or self.utilization > aim.margin * _SHOWN:
            return False
        factor = self.friction_margin
        return factor is not None and factor * _SHOWN >= aim.friction


def judged(runs: Sequence[Run], task: Task) -> Verdict | None:
    """The verdict on some runs; None where one makes no path, or its cables do not fit.

    Whether anything stops them is certain; of several stops some may be missing (``in_full``).
    """
    try:
        results = tuple(
            evaluate_run(run, task.job.practice, allowances=task.job.allowances, stops_only=True)
            for run in runs
        )
        return verdict(results, task)
    except InputError:
        return None


def in_full(found: Verdict, task: Task) -> Verdict:
    """The same verdict with every stop named."""
    return found if not found.stops else verdict(found.results, task, every=True)


def verdict(results: Sequence[RunResult], task: Task, *, every: bool = False) -> Verdict:
    """The verdict on runs that are answered already."""
    stops: list[Finding] = []
    planned = True
    for result in results:
        stops += [f for f in result.findings if f.severity == "stop"]
        run = result.best.pull.run
        if run.rope is None or run.machine is None:
            planned = False
            continue
        stops += _of_plan(result, task, every)
    return Verdict(tuple(results), worst_first(tuple(stops)), planned)


def _of_plan(result: RunResult, task: Task, every: bool) -> tuple[Finding, ...]:
    """What only the plan stops: gears, load path, sheaves, readings, place of the machine."""
    pull = result.best.pull
    machine, key = pull.run.machine, place_key(pull, task.job.allowances)
    assert machine is not None
    if key not in task.places:
        task.places[key] = machine_search(pull, machine, task.job, task.meshes)
    return plan_stops(result, task.job, placement=task.places[key], every=every)
