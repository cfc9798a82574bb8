"""The pulls to put in days: their hours by the pull plans, and the place of their machine."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from route3d.errors import InputError
from route3d.geometry.vectors import Floats
from route3d.model.job import Job
from route3d.model.schedule import Schedule
from route3d.phrase import Phrase, literal, say
from route3d.planning.pull_plan.plan import Plan, coarse_step
from route3d.planning.result import JobResult, RunResult
from route3d.planning.splitting.stage_plans import way_plans
from route3d.planning.summary import plan_of, summarize

if TYPE_CHECKING:
    from route3d.planning.placement.site import SiteMesh

FAR_APART = 30.0
"""m; places of one name that are farther apart are told (own judgment)."""


@dataclass(frozen=True, slots=True)
class PullWork:
    """One pull: where its machine stands and how long it takes, in s.

    ``setup`` is that of the plan; ``work`` is feeding and pulling with gear changes and lubricant
    stops, the figure eights before it and the splices after it. ``place`` numbers the places of
    machines. ``after`` is the number of the pull that must be over before, None for none.
    """

    run: str
    stage: str
    feed: str
    pull: str
    machine: str
    reel: str
    place: int
    setup: float
    work: float
    after: int | None = None

    @property
    def name(self) -> str:
        """The run, and the stage where it is pulled in several."""
        return f"{self.run}, {self.stage}" if self.stage else self.run


@dataclass(frozen=True, slots=True)
class Works:
    """The ``pulls`` of a job, the ``places`` by name, what has no time, and what to know."""

    pulls: tuple[PullWork, ...]
    places: tuple[str, ...] = ()
    unplaced: tuple[tuple[str, str], ...] = ()
    notes: tuple[Phrase, ...] = ()


@dataclass(frozen=True, slots=True)
class _Timed:
    """A plan and the time of its pull beside set-up, s; ``chained`` to the stage before."""

    plan: Plan
    stage: str
    work: float
    chained: bool = False


def works_of(result: JobResult, schedule: Schedule, meshes: Sequence[SiteMesh] = ()) -> Works:
    """The pulls of a job with their hours; runs that must not be pulled are ``unplaced``.

    A run is pulled whole, or in the stages of the way to split it that the schedule names. Raises
    InputError for a way that there is not.
    """
    timed: list[_Timed] = []
    unplaced: list[tuple[str, str]] = []
    for run in result.runs:
        way = schedule.ways.get(run.run.name)
        why, found = (
            _whole(run, result, meshes) if way is None else _stages(run, result, way, meshes)
        )
        if why:
            unplaced.append((run.run.name, why))
        timed += found
    places, names, notes = _places([t.plan for t in timed], schedule.same_place)
    pulls = [
        PullWork(
            run=_run_name(t.plan),
            stage=t.stage,
            feed=t.plan.pull.feed_name,
            pull=t.plan.pull.pull_name,
            machine=t.plan.machine.name,
            reel="" if t.plan.pull.run.reel is None else t.plan.pull.run.reel.name,
            place=place,
            setup=t.plan.pace.crew.setup,
            work=t.work,
            after=i - 1 if t.chained else None,
        )
        for i, (t, place) in enumerate(zip(timed, places, strict=True))
    ]
    return Works(tuple(pulls), names, tuple(unplaced), notes)


def _run_name(plan: Plan) -> str:
    return plan.pull.run.name if plan.place is None else plan.place.whole.name


def _whole(
    run: RunResult, result: JobResult, meshes: Sequence[SiteMesh]
) -> tuple[str, list[_Timed]]:
    """Why a run has no time, or its one pull."""
    plan = plan_of(run, result, meshes)
    if plan is None:
        lacking = "rope" if run.run.rope is None else "machine"
        return f"the run names no {lacking}: it has no plan and no hours", []
    if plan.stops:
        more = ""
        if plan.splits is not None and plan.splits.plans:
            name = run.run.name
            more = (
                f'; it can be split: ways = {{ "{name}" = 1 }} in the crews file pulls it in stages'
            )
        return f"must not be pulled: {_reasons(run, plan)}{more}", []
    return "", [_Timed(plan, "", plan.pace.crew.total - plan.pace.crew.setup)]


def _reasons(run: RunResult, plan: Plan) -> str:
    return summarize(run, plan).verdict.removeprefix("do not pull: ")


def _stages(
    run: RunResult, result: JobResult, way: int, meshes: Sequence[SiteMesh]
) -> tuple[str, list[_Timed]]:
    """Why a run has no time, or the pulls of the stages of a way."""
    if run.run.rope is None or run.run.machine is None:
        return _whole(run, result, meshes)
    try:
        plans = way_plans(run.run, result.job, way, step=coarse_step, meshes=meshes)
    except InputError as error:
        why = error.problems[0].message.removeprefix(f"{way}: ")
        return f"way {way}: {why}", []
    for plan in plans:
        if plan.stops:
            why = _reasons(plan.result, plan) if plan.reasons else "another stage must not be made"
            return f"way {way} must not be pulled: {why}", []
    return "", list(_timed(plans, result.job))


def _timed(plans: Sequence[Plan], job: Job) -> Iterator[_Timed]:
    """The stages in order, with their figure eights and splices.

    Cable fed from figure eights is laid down and set up before its stage, and a splice is made once
    both lengths are in (common practice, no source).
    """
    allowances = job.allowances
    stages = [plan.place.stage for plan in plans if plan.place is not None]
    last = {stage.cable: i for i, stage in enumerate(stages)}
    for i, (plan, stage) in enumerate(zip(plans, stages, strict=True)):
        work = plan.pace.crew.total - plan.pace.crew.setup
        if not stage.reel:
            work += allowances.figure_eight_time
        if stage.cable > 1 and last[stage.cable] == i:
            work += allowances.splice_time
        yield _Timed(plan, f"stage {i + 1} of {len(plans)}", work, chained=i > 0)


# --- places ---------------------------------------------------------------------------------------


def _places(
    plans: Sequence[Plan], same_place: float
) -> tuple[list[int], tuple[str, ...], tuple[Phrase, ...]]:
    """The place of each machine, the name of each place, and what to know of them.

    Points of one name are one place. Others are at the first place that has its first point within
    ``same_place`` m: measured from there, places do not grow from point to point.
    """
    names: list[str] = []
    firsts: list[Floats] = []
    by_name: dict[str, int] = {}
    found: list[int] = []
    notes: dict[str, Phrase] = {}
    for plan in plans:
        vertex = plan.pull.run.route.vertices[plan.pull.pull]
        point, name = np.asarray(vertex.point, dtype=float), vertex.name or ""
        place = by_name.get(name) if name else None
        if place is None:
            near = [i for i, p in enumerate(firsts) if np.linalg.norm(point - p) <= same_place]
            place = near[0] if near else len(names)
        elif np.linalg.norm(point - firsts[place]) > max(FAR_APART, 2 * same_place):
            notes[name] = say(
                "Points named "
                + literal(name)
                + " of different runs are {} apart and taken as one place. If they are two places, "
                "rename one.",
                (float(np.linalg.norm(point - firsts[place])), "length"),
            )
        if place == len(names):
            names.append(name or plan.pull.pull_name)
            firsts.append(point)
        if name:
            by_name.setdefault(name, place)
        found.append(place)
    return found, tuple(names), tuple(notes.values())
