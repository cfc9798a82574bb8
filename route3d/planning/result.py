"""The answer for one run: both directions solved and checked, and the decision."""

from __future__ import annotations

from collections.abc import Container, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from route3d.checks.falling_friction import check_falling_friction
from route3d.checks.finding import Finding, worst_first
from route3d.checks.run import check_run
from route3d.geometry.fillet import route_path
from route3d.geometry.path import Path
from route3d.mechanics.fit import Fit
from route3d.mechanics.pull import Pull, run_fits, solve_pull
from route3d.model.allowances import Allowances
from route3d.model.job import Job
from route3d.model.practice import Practice
from route3d.model.run import Run
from route3d.planning.direction import Candidate, Decision, candidate, choose, no_access

if TYPE_CHECKING:
    from route3d.planning.clearance.near import MeshExtents
    from route3d.planning.remedies.remedy import Advice

# They go with every result, on paper and on screen.
CAUTIONS = (
    "This is a planning aid. The cable maker's instructions, the local code and a licensed "
    "engineer or electrician take precedence over these results.",
    "A loaded rope can break and whip back: keep everyone out of its line and out of the "
    "bight at sheaves.",
)


@dataclass(frozen=True, eq=False)
class RunResult:
    """One run, answered: both ``candidates`` (with the route, against it), the decision, findings.

    ``findings`` holds what is true of the run and, with it, of the chosen direction, or of both
    where neither passes; worst first, "ok" ones last. ``advice`` is None until it is asked for.
    """

    run: Run
    practice: Practice
    path: Path
    fits: tuple[Fit, ...]
    candidates: tuple[Candidate, Candidate]
    decision: Decision
    run_findings: tuple[Finding, ...]
    findings: tuple[Finding, ...]
    advice: Advice | None = None

    @property
    def stops(self) -> bool:
        """True where something must change before the crew mobilizes."""
        return self.decision.choice is None or any(f.severity == "stop" for f in self.findings)

    @property
    def governing_fit(self) -> Fit:
        """The fit of the tightest conduit."""
        return max(self.fits, key=lambda f: f.fill)

    @property
    def best(self) -> Candidate:
        """The chosen direction, else the one with the lower utilization."""
        return self.decision.choice or min(self.candidates, key=lambda c: c.utilization.peak)

    def findings_of(self, candidate: Candidate) -> tuple[Finding, ...]:
        """What is true of the run and of one direction, whichever is chosen; worst first."""
        access = tuple(f for f in self.findings if f.rule == "access")
        return worst_first((*access, *self.run_findings, *candidate.findings))


@dataclass(frozen=True, eq=False)
class JobResult:
    """A job and the result of each of its runs; ``site`` is where its meshes lie, if looked at."""

    job: Job
    runs: tuple[RunResult, ...]
    site: tuple[MeshExtents, ...] = field(default=(), kw_only=True)

    @property
    def stops(self) -> bool:
        """True where any run has a stop finding, or a building mesh could not be judged."""
        return any(r.stops for r in self.runs) or bool(self.not_judged)

    @property
    def not_judged(self) -> tuple[Finding, ...]:
        """The meshes that cannot stand where they were read."""
        return tuple(mesh.finding for mesh in self.site if mesh.finding is not None)

    def only(self, names: Container[str]) -> JobResult:
        """The answers of the runs of these names."""
        return replace(self, runs=tuple(r for r in self.runs if r.run.name in names))


def evaluate_run(
    run: Run,
    practice: Practice,
    *,
    known: Pull | None = None,
    path: Path | None = None,
    allowances: Allowances | None = None,
    stops_only: bool = False,
    examples: Sequence[str] = (),
    in_workbook: bool = False,
) -> RunResult:
    """Answer one run; ``known`` is one direction of just this run and practice, solved before.

    ``path`` stands in for that of the route, as the line of one duct of a bank does.
    ``examples`` are the tables of the model file that nobody has confirmed,
    ``in_workbook`` whether its tables are sheets.
    ``stops_only`` leaves out of the findings what can never stop a pull, for those who ask often.
    """
    path = route_path(run.route) if path is None else path
    fits = run_fits(run)

    def solved(reverse: bool) -> Pull:
        if known is not None and known.run is run and known.reverse == reverse:
            return known
        return solve_pull(run, practice, reverse=reverse, path=path, fits=fits)

    candidates = tuple(
        candidate(solved(reverse), allowances, stops_only=stops_only) for reverse in (False, True)
    )
    first, second = candidates
    decision = choose(first, second)
    of_run = check_run(run, practice, path, fits, examples, in_workbook=in_workbook)
    if not stops_only:
        of_run += check_falling_friction(run, practice, [c.pull for c in candidates])
    chosen = [decision.choice] if decision.choice else [c for c in candidates if not c.barred]
    of_pulls = tuple(f for c in chosen or candidates for f in _told_apart(c, decision))
    return RunResult(
        run=run,
        practice=practice,
        path=path,
        fits=fits,
        candidates=(first, second),
        decision=decision,
        run_findings=of_run,
        findings=worst_first((*no_access(run, candidates), *of_run, *of_pulls)),
    )


def _told_apart(candidate: Candidate, decision: Decision) -> tuple[Finding, ...]:
    """Findings of one direction; where both are listed each place says which end feeds."""
    if decision.choice:
        return candidate.findings
    fed = f", fed from {candidate.pull.feed_name}"
    return tuple(replace(f, where=f.where + fed) for f in candidate.findings)
