"""Jobs side by side: what differs in their input, and what that does to every result."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, TypeAlias

from route3d.checks.finding import Finding
from route3d.model.examples import MOST_NAMED, example_banner
from route3d.model.job import Job
from route3d.planning.direction import Candidate
from route3d.planning.evaluate import evaluate
from route3d.planning.inputs import InputDifference, differences
from route3d.planning.margins import BrakeWindow
from route3d.planning.pull_plan.plan import Plan
from route3d.planning.result import RunResult
from route3d.planning.summary import RunSummary, plan_of, summarize

if TYPE_CHECKING:
    from route3d.planning.placement.site import SiteMesh

FigureValue: TypeAlias = float | str | None
# Figures this close are the same but for rounding.
_SAME = 1e-9


@dataclass(frozen=True, eq=False)
class ComparedAnswer:
    """One run of one job, answered, and planned where it names a rope and a machine."""

    result: RunResult
    plan: Plan | None

    @property
    def candidate(self) -> Candidate:
        """The direction compared: the planned one, else the better end."""
        return self.result.best if self.plan is None else self.plan.candidate

    @property
    def window(self) -> BrakeWindow:
        """What the reels may be held with."""
        return self.candidate.window if self.plan is None else self.plan.brake

    @cached_property
    def summary(self) -> RunSummary:
        """The line of the run in a summary."""
        return summarize(self.result, self.plan)

    @property
    def findings(self) -> tuple[Finding, ...]:
        """All findings but those that passed, worst first."""
        found = self.result.findings_of(self.candidate)
        if self.plan is not None:
            found = self.plan.all_findings
        return tuple(f for f in found if f.severity != "ok")


@dataclass(frozen=True, slots=True)
class Figure:
    """One result that is compared; ``quantity`` is "" for words. ``key`` ends in its SI unit."""

    key: str
    words: str
    quantity: str
    value: Callable[[ComparedAnswer], FigureValue]


def _share(limit: str) -> Callable[[ComparedAnswer], FigureValue]:
    return lambda a: dict(a.candidate.utilization.items())[limit]


def _margin(answer: ComparedAnswer) -> FigureValue:
    factor = answer.summary.margin
    if factor is None:
        return "none"
    return "no limit" if math.isinf(factor) else factor


def _braked(value: Callable[[BrakeWindow], float]) -> Callable[[ComparedAnswer], FigureValue]:
    return lambda a: value(a.window)


LIMITS = {
    "conductor": "conductor tension",
    "grip": "grip or pulling eyes",
    "sidewall": "sidewall pressure",
    "rope": "rope load",
    "machine": "machine line pull",
}
"""The load limits by their key in the results, and in words."""
FIGURES: tuple[Figure, ...] = (
    Figure("verdict", "verdict", "", lambda a: a.summary.verdict),
    Figure("feed", "feed from", "", lambda a: a.summary.feed),
    Figure("length_m", "length", "length", lambda a: a.summary.length),
    Figure("turn_rad", "total bend", "angle", lambda a: a.summary.turn),
    Figure("fill", "fill", "percent", lambda a: a.result.governing_fit.fill),
    Figure("reel_tension_N", "reel tension", "force+", lambda a: a.candidate.pull.reel_tension),
    Figure("end_tension_N", "end tension", "force", lambda a: a.candidate.pull.end_tension),
    Figure("peak_tension_N", "peak tension", "force", lambda a: a.candidate.pull.peak_tension),
    Figure(
        "peak_sidewall_N_per_m",
        "peak sidewall",
        "sidewall",
        lambda a: a.candidate.pull.peak_sidewall,
    ),
    Figure(
        "machine_peak_N",
        "machine peak, moving",
        "force",
        lambda a: a.candidate.pull.machine_peak,
    ),
    Figure(
        "peak_N",
        "machine peak, with first moves",
        "force",
        lambda a: None if a.plan is None else a.plan.peak,
    ),
    Figure("governing", "governing", "", lambda a: a.summary.governing),
    Figure("utilization", "highest utilization", "percent", lambda a: a.summary.utilization),
    *(Figure(f"utilization_{x}", f"  {w}", "percent", _share(x)) for x, w in LIMITS.items()),
    Figure("friction_margin", "friction margin", "ratio", _margin),
    Figure("brake_at_least_N", "brake, at least", "force+", _braked(lambda w: w.at_least)),
    Figure("brake_at_most_N", "brake, at most", "force-", _braked(lambda w: w.at_most)),
    Figure("crew_time_s", "crew time", "crew time", lambda a: a.summary.crew_time),
)


@dataclass(frozen=True, slots=True)
class ComparedFigure:
    """One figure with its value in each job; None where it has none, or the run is missing."""

    figure: Figure
    values: tuple[FigureValue, ...]

    @property
    def differs(self) -> bool:
        """True where any job has another value than the first."""
        return any(not _same(self.values[0], value) for value in self.values[1:])

    def change(self, index: int) -> float | None:
        """The change against the first job as a share of its value; None where there is none."""
        first, value = self.values[0], self.values[index]
        if not isinstance(first, float) or not isinstance(value, float) or _same(first, value):
            return None
        return None if first == 0 else value / first - 1.0


def _same(a: FigureValue, b: FigureValue) -> bool:
    if isinstance(a, float) and isinstance(b, float):
        return math.isclose(a, b, rel_tol=_SAME, abs_tol=1e-9)
    return a == b


@dataclass(frozen=True, eq=False)
class ComparedRun:
    """A run of one name in every job; None where a job has no run of that name."""

    name: str
    answers: tuple[ComparedAnswer | None, ...]

    @cached_property
    def figures(self) -> tuple[ComparedFigure, ...]:
        """Every result that any job has."""
        found = (
            ComparedFigure(f, tuple(None if a is None else f.value(a) for a in self.answers))
            for f in FIGURES
        )
        return tuple(f for f in found if any(value is not None for value in f.values))

    @property
    def differs(self) -> bool:
        """True where a job lacks the run, a figure differs, or a finding came or went."""
        if None in self.answers or any(f.differs for f in self.figures):
            return True
        return any(self.gained(i) or self.lost(i) for i in range(1, len(self.answers)))

    @property
    def matched(self) -> bool:
        """True where more than one job has the run."""
        return sum(answer is not None for answer in self.answers) > 1

    def gained(self, index: int) -> tuple[Finding, ...]:
        """Findings of job ``index`` that the first job does not have."""
        return self._only(index, 0)

    def lost(self, index: int) -> tuple[Finding, ...]:
        """Findings of the first job that job ``index`` does not have."""
        return self._only(0, index)

    def _only(self, here: int, there: int) -> tuple[Finding, ...]:
        ours, theirs = self.answers[here], self.answers[there]
        if ours is None or theirs is None:
            return ()
        known = {(f.severity, f.rule, f.where) for f in theirs.findings}
        return tuple(f for f in ours.findings if (f.severity, f.rule, f.where) not in known)


@dataclass(frozen=True, eq=False)
class Comparison:
    """Jobs by their ``labels``, the first is what the others are compared with."""

    labels: tuple[str, ...]
    jobs: tuple[Job, ...]
    inputs: tuple[InputDifference, ...]
    runs: tuple[ComparedRun, ...]

    @property
    def banners(self) -> tuple[str, ...]:
        """For each job with values nobody has confirmed, which they are."""
        named = zip(self.labels, self.jobs, strict=True)
        return tuple(
            f"{example_banner(job.examples, MOST_NAMED)} ({label})"
            for label, job in named
            if job.examples
        )

    @property
    def stops(self) -> bool:
        """True where a run of any job but the first must not be pulled."""
        later = (answer for run in self.runs for answer in run.answers[1:])
        return any(answer is not None and answer.summary.stops for answer in later)


def compare(
    jobs: Sequence[tuple[str, Job]], meshes: Sequence[Sequence[SiteMesh]] = ()
) -> Comparison:
    """Labeled jobs answered and put side by side; ``meshes`` are the buildings of each.

    Runs are matched by name.
    """
    answered: list[dict[str, ComparedAnswer]] = []
    for number, (_, job) in enumerate(jobs):
        result = evaluate(job, with_remedies=False)
        around = meshes[number] if meshes else ()
        answered.append(
            {r.run.name: ComparedAnswer(r, plan_of(r, result, around)) for r in result.runs}
        )
    names = dict.fromkeys(name for found in answered for name in found)
    return Comparison(
        labels=tuple(label for label, _ in jobs),
        jobs=tuple(job for _, job in jobs),
        inputs=differences([job for _, job in jobs]),
        runs=tuple(ComparedRun(name, tuple(a.get(name) for a in answered)) for name in names),
    )
