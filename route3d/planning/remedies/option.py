"""A change that may help: what to do, as words and edits, what it takes, what comes of it."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from route3d.checks.finding import Finding
from route3d.errors import InputError
from route3d.geometry.bend_schedule import ScheduledBend, bend_schedule
from route3d.geometry.fillet import route_path
from route3d.mechanics.pull import run_fits
from route3d.model.practice import Practice
from route3d.model.run import Run
from route3d.phrase import Phrase, say
from route3d.planning.remedies.aim import Taken, both, share_of
from route3d.planning.remedies.edits import BendRadius, Edit, carried_out
from route3d.planning.remedies.judge import Task, Verdict
from route3d.planning.remedies.remedy import Cost
from route3d.units import parse

# What a figure of a remedy is rounded to, on its safe side, in the units of a model file: an inch
# or 10 mm of bend radius, what ratings come in, a readable distance.
_STEPS: dict[str, dict[str, float]] = {
    "radius": {"US": 1, "SI": 10},
    "force": {"US": 100, "SI": 500},
    "length": {"US": 0.5, "SI": 0.1},
    "mass": {"US": 100, "SI": 50},
}


@dataclass(frozen=True, eq=False)
class FailingRun:
    """A run that something stops, what stops it, and what it is judged by.

    ``given`` is the run before any change.
    """

    run: Run
    verdict: Verdict
    task: Task
    given: Run

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
        return tuple(sorted(both(self.run, self.practice, self.task.aim), key=lambda t: t.share))

    @property
    def within(self) -> bool:
        """True where the pull keeps the aim already, as far as it is worked quickly.

        Then nothing tells how much less friction or how large a radius would be needed.
        """
        return bool(self.taken) and self.taken[0].share <= 1.0

    @cached_property
    def bends(self) -> tuple[ScheduledBend, ...]:
        """The bends of the run."""
        return bend_schedule(self.verdict.results[0].path)

    def radius_given(self, vertex: int) -> float:
        """The bend radius at a vertex before any change, m."""
        number = self._numbers[vertex]
        was = 0.0 if number is None else self.given.route.vertices[number].bend
        return was or self.run.route.vertices[vertex].bend

    def stopped_by(self, *rules: str) -> tuple[Finding, ...]:
        """The stops of some rules."""
        return tuple(f for f in self.verdict.stops if f.rule in rules)

    def share(self, edits: Iterable[Edit]) -> float:
        """Share of the aim, in the better direction, that the run takes with ``edits``."""
        (run,) = carried_out(self.run, edits)
        return share_of(run, self.practice, self.task.aim)

    def step(self, quantity: str) -> float:
        """What a figure of a quantity is rounded to, SI."""
        system = self.task.job.units
        return parse(_STEPS[quantity][system], quantity, system)

    def up(self, value: float, quantity: str) -> float:
        """A figure rounded up to its step, a small one to a tenth of it."""
        step = self.step(quantity)
        step = step / 10 if value < 5 * step and quantity != "radius" else step
        return math.ceil(value / step - 1e-6) * step

    def label(self, vertex: int) -> str:
        """The name of a vertex, or its number in the route as it was given."""
        number = self._numbers[vertex]
        if number is not None:
            return self.given.route.label(number)
        name = self.run.route.vertices[vertex].name
        return name or f"the end of the elbow at {self.label(vertex - 1)}"

    @cached_property
    def _numbers(self) -> tuple[int | None, ...]:
        """The number of each vertex before any change; None for one that was added.

        What is added does not bend and stands where nothing was; the others keep their order.
        """
        known = {v.point for v in self.given.route.vertices}
        count, numbers = 0, []
        for vertex in self.run.route.vertices:
            added = not vertex.bend and vertex.point not in known
            numbers.append(None if added else count)
            count += not added
        return tuple(numbers)


@dataclass(frozen=True, eq=False)
class Option:
    """Changes carried out one after the other, each with its words: of one ``kind``, or a pair.

    ``cost`` is that of all, and ``runs`` come of them.
    ``share`` is that of the aim in the better direction, the worst of several runs, worked quickly;
    ``of_limits`` the same without the stated margin. Both are infinite where nothing can be pulled.
    """

    kind: str
    parts: tuple[tuple[Phrase, tuple[Edit, ...]], ...]
    cost: Cost
    runs: tuple[Run, ...]
    share: float
    of_limits: float

    @property
    def hard(self) -> bool:
        """True for what is seldom reached: much less friction than planned."""
        return self.kind == "friction" and self.cost.effort > 0

    @property
    def edits(self) -> tuple[Edit, ...]:
        """All edits, in the order they are carried out."""
        return tuple(edit for _, edits in self.parts for edit in edits)

    @property
    def what(self) -> Phrase:
        """What to do, in one sentence."""
        first, *rest = (words for words, _ in self.parts)
        for words in rest:
            first += say("; and ") + lower(words)
        return first

    def then(self, second: Option) -> Option:
        """Both as one option; one that makes several runs comes last.

        A radius that the second changes once more is said once.
        """
        again = {e.vertex for e in second.edits if isinstance(e, BendRadius)}
        parts = tuple(
            (words, edits)
            for words, edits in self.parts
            if not all(isinstance(e, BendRadius) and e.vertex in again for e in edits)
        )
        cost = self.cost.plus(second.cost)
        joined = (*parts, *second.parts)
        kind = second.kind if len(joined) == 1 else "pair"
        return replace(second, kind=kind, parts=joined, cost=cost)


def lower(words: Phrase) -> Phrase:
    """The same words inside a sentence."""
    return Phrase(words.template[:1].lower() + words.template[1:], words.values)


def option(
    state: FailingRun,
    kind: str,
    what: Phrase,
    edits: Sequence[Edit],
    cost: tuple[int, float, float],
) -> Option | None:
    """The option carried out and worked quickly; None where it makes no route or does not fit."""
    try:
        runs = carried_out(state.run, edits)
        for run in runs:
            run_fits(run)
            route_path(run.route)
    except InputError:
        return None
    directions = [both(run, state.practice, state.task.aim) for run in runs]
    share = max(min((t.share for t in found), default=math.inf) for found in directions)
    limits = max(min((t.of_limits for t in found), default=math.inf) for found in directions)
    rank, effort, amount = cost
    parts = ((what, tuple(edits)),)
    return Option(kind, parts, Cost((rank,), effort, amount), runs, share, limits)
