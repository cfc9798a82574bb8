"""The run that a log is of: where it ends, its gears and gauge, and what the plan expects."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from route3d.errors import InputError, Problem
from route3d.field.expected import expected_load
from route3d.geometry.vectors import Floats
from route3d.mechanics.pull import Pull
from route3d.model.job import Job
from route3d.model.run import Run
from route3d.planning.evaluate import evaluate
from route3d.planning.pull_plan.plan import Plan, make_plan

# Places at which the expected load is worked out for judging readings, and gauge rows of the plan.
_PLACES = 400
_ROWS = 8
# A rope winds up no faster than this, m/s, whatever the machine (our judgment).
_FASTEST = 2.0
# A machine stalls before so many times the rated pull of its strongest gear (our judgment).
_ABOVE_RATED = 1.5


@dataclass(frozen=True, eq=False)
class PulledRun:
    """One direction of one run, as a log needs it.

    ``plan`` is None for a run without rope or machine. ``length`` m of cable in at the end,
    ``step`` N between marks of the dial, ``fastest`` m/s the line may run. Make it once for several
    logs of one pull: the loads are worked out when they are first asked for.
    """

    job: Job
    run: Run
    pull: Pull
    plan: Plan | None
    length: float
    step: float
    fastest: float

    @cached_property
    def planned(self) -> tuple[Floats, Floats]:
        """Places (n,) m of cable in and the loads planned there (n,) N; empty if not known."""
        nothing = np.empty(0), np.empty(0)
        if self.plan is None:
            return nothing
        places = np.linspace(0.0, self.length, _PLACES)
        try:
            return places, expected_load(self.pull, places).loads()[:, 0]
        except InputError:  # a conduit without friction
            return nothing

    @cached_property
    def most_load(self) -> float:
        """What no reading of a machine that pulls can pass, N; infinite where it is not known."""
        gears = () if self.run.machine is None else self.run.machine.gears
        return _ABOVE_RATED * max((gear.line_pull for gear in gears), default=math.inf)

    @property
    def system(self) -> str:
        """The units of the job."""
        return self.job.units

    def expected(self, pulled: float) -> float:
        """The planned load with ``pulled`` m of cable in, N; NaN where none is expected."""
        places, loads = self.planned
        return float(np.interp(pulled, places, loads)) if len(places) else math.nan

    def planned_range(self, start: float, end: float) -> float:
        """By how much the planned load changes between two places, N; NaN where unknown."""
        places, loads = self.planned
        if not len(places):
            return math.nan
        inside = loads[(places > start) & (places < end)]
        both = [self.expected(start), self.expected(end), *inside.tolist()]
        return float(max(both) - min(both))

    def gear_at(self, pulled: float) -> str:
        """The name of the planned gear, "" where none is known."""
        if self.plan is None or math.isnan(pulled):
            return ""
        gear = self.plan.pace.gears.gear_at(min(max(pulled, 0.0), self.length))
        return gear.name if gear is not None else ""

    def gear_named(self, text: str) -> str | None:
        """The machine's gear of that name, or number in its list; None where it has none."""
        gears = [] if self.run.machine is None else list(self.run.machine.gears)
        for gear in gears:
            if gear.name.casefold() == text.casefold():
                return gear.name
        words = text.casefold().removeprefix("gear").strip()
        for gear in gears:
            if words and gear.name.casefold() == words:
                return gear.name
        if words.isdecimal() and 1 <= int(words) <= len(gears):
            return gears[int(words) - 1].name
        return None

    def gauge_true(self, gear: str) -> bool:
        """Whether the machine's gauge reads true in the gear of that name; true where unknown."""
        gears = () if self.run.machine is None else self.run.machine.gears
        return all(g.gauge for g in gears if g.name == gear)


def pulled_run(
    job: Job, run: str | None, feed: str | None, plan: Plan | PulledRun | None = None
) -> PulledRun:
    """The run of that name fed from that end: the only run, and the end of the plan, by default.

    InputError where the job has several runs and none is named, or for a name not known.
    """
    if isinstance(plan, PulledRun):
        return plan
    if plan is not None:
        return of_plan(job, plan)
    chosen = _run(job, run)
    result = evaluate(replace(job, runs=(chosen,)), with_remedies=False).runs[0]
    vertex = None
    if feed:
        ends = {c.pull.feed_name: c.pull.feed for c in result.candidates}
        if feed not in ends:
            said = f"run {chosen.name!r} has no end named {feed!r}"
            raise InputError(Problem(said, "--feed", f"its ends: {', '.join(ends)}"))
        vertex = ends[feed]
    if chosen.rope is not None and chosen.machine is not None:
        step = max(result.path.length / _ROWS, 1.0)
        return of_plan(job, make_plan(result, job, step=step, feed=vertex))
    candidate = next((c for c in result.candidates if c.pull.feed == vertex), result.best)
    pull = candidate.pull
    return PulledRun(
        job,
        pull.run,
        pull,
        None,
        pull.path.length,
        job.allowances.gauge_step,
        _FASTEST,
    )


def of_plan(job: Job, plan: Plan) -> PulledRun:
    """The run of a plan that is made already."""
    pull = plan.pull
    speeds = [v for gear in plan.machine.gears for v in (gear.speed, *(s for _, s in gear.speeds))]
    return PulledRun(
        job,
        pull.run,
        pull,
        plan,
        pull.path.length,
        job.allowances.gauge_step,
        max(3.0 * max(speeds), 0.2),
    )


def _run(job: Job, name: str | None) -> Run:
    names = [run.name for run in job.runs]
    if name is None and len(job.runs) == 1:
        return job.runs[0]
    if name in names:
        return job.runs[names.index(name)]
    said = "the model has more than one run" if name is None else f"no run is named {name!r}"
    raise InputError(Problem(said, "--run", f"name one: {_few(names)}"))


def _few(names: Sequence[str]) -> str:
    return ", ".join(names[:20])
