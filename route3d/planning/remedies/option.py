"""A change that may help: what to do, as words and edits, what it takes, what comes of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from route3d.checks.finding import Finding
from route3d.errors import InputError
from route3d.geometry.route_path import route_path
from route3d.geometry.schedule import ScheduledBend, bend_schedule
from route3d.mechanics.pull import run_fits
from route3d.model.practice import Practice
from route3d.model.run import Run
from route3d.phrase import Phrase
from route3d.planning.remedies.aim import Taken, both
from route3d.planning.remedies.edits import Edit, carried_out
from route3d.planning.remedies.judge import Task, Verdict
from route3d.planning.remedies.remedy import Cost

# What a figure of a remedy is rounded to, on its safe side, in each system: an inch or 10 mm of
# bend radius, what ratings come in, a readable distance.
_STEPS = {
    "radius": {"US": 0.0254, "SI": 0.01},
    "force": {"US": 100 * 4.4482216152605, "SI": 500.0},
    "length": {"US": 0.1524, "SI": 0.1},
    "mass": {"US": 100 * 0.45359237, "SI": 50.0},
}


@dataclass(frozen=True, eq=False)
class State:
    """A run that something stops, what stops it, and what it is judged by."""

    run: Run
    verdict: Verdict
    task: Task

    @property
    def practice(self) -> Practice:
        """The conventions the job is worked by."""
        return self.task.job.practice

    @cached_property
    def rules(self) -> frozenset[str]:
        """The rules that stop the run."""
        return frozenset(f.rule for f in self.verdict.stops)

    @cached_property
    def taken(self) -> tuple[Taken, ...]:
        """What the directions that access allows take, the easier first."""
        found = [t for t in both(self.run, self.practice, self.task.aim) if t is not None]
        return tuple(sorted(found, key=lambda t: t.share))

    @cached_property
    def bends(self) -> tuple[ScheduledBend, ...]:
        """The bends of the run."""
        return bend_schedule(self.verdict.results[0].path)

    def stopped_by(self, *rules: str) -> tuple[Finding, ...]:
        """The stops of some rules."""
        return tuple(f for f in self.verdict.stops if f.rule in rules)

    def step(self, quantity: str) -> float:
        """What a figure of a quantity is rounded to, SI."""
        return _STEPS[quantity][self.task.job.units]

    def up(self, value: float, quantity: str) -> float:
        """A figure rounded up to its step."""
        return math.ceil(value / self.step(quantity) - 1e-6) * self.step(quantity)


@dataclass(frozen=True, eq=False)
class Option:
    """One change: ``kind``, ``what`` to do, its ``edits`` and its ``cost``, and the ``runs`` of it.

    ``share`` is that of the aim in the better direction, the worst of several runs, worked quickly;
    ``of_limits`` the same without the stated margin. Both are infinite where nothing can be pulled.
    """

    kind: str
    what: Phrase
    edits: tuple[Edit, ...]
    cost: Cost
    runs: tuple[Run, ...]
    share: float
    of_limits: float


def option(
    state: State, kind: str, what: Phrase, edits: Sequence[Edit], cost: tuple[int, float, float]
) -> Option | None:
    """The option carried out and worked quickly; None where it makes no route or does not fit."""
    try:
        runs = carried_out(state.run, edits)
        for run in runs:
            run_fits(run)
            route_path(run.route)
    except InputError:
        return None
    worst, limits = 0.0, 0.0
    for run in runs:
        found = [t for t in both(run, state.practice, state.task.aim) if t is not None]
        worst = max(worst, min((t.share for t in found), default=math.inf))
        limits = max(limits, min((t.of_limits for t in found), default=math.inf))
    return Option(kind, what, tuple(edits), Cost(*cost), runs, worst, limits)
