"""The farthest value of one input that passes: stepped to, then closed in on by root finding.

What decides is what decides anywhere: the checks of the run and of the direction. Loads are not
monotone in every input (a longer fall carries itself, a tighter bend makes a run longer), so values
are looked at in steps from the planned one, and the first of them that fails is closed in on.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property

from route3d.checks.finding import Finding, in_words, worst_first
from route3d.checks.run import check_pull, check_run
from route3d.errors import InputError
from route3d.geometry.fillet import route_path
from route3d.mechanics.arrangement import FitError
from route3d.mechanics.pull import run_fits, solve_pull
from route3d.model.allowances import Allowances
from route3d.model.practice import Practice
from route3d.model.run import Run
from route3d.phrase import literal, say
from route3d.planning.direction import Candidate, candidate
from route3d.planning.margins import must_hold
from route3d.planning.roots import FINE, bracketed
from route3d.study.limits.inputs import StudiedInput
from route3d.study.limits.outcome import FarthestValue

_JAM, _WINDOW = "jam ratio", "brake window"
# A value that passes is below its limit, if by ever so little, and one that fails above it.
_A_LITTLE = 1e-12
# Two ways to find one window agree to a few times what a root is found to.
_MOST_STEPS = 8


@dataclass(frozen=True, eq=False)
class Verdict:
    """What is found of a run pulled in one direction, access left out.

    ``jams`` says that a jam ratio of concern stops it too. ``found`` holds all that is found but
    the brake, which takes the most work and is looked at where all else passes.
    """

    found: tuple[Finding, ...]
    candidate: Candidate | None
    jams: bool = False

    @cached_property
    def stops(self) -> tuple[Finding, ...]:
        """What stops it, worst first."""
        before = tuple(f for f in self.found if self._stops(f))
        if before or self.candidate is None or not must_hold(self.candidate.pull):
            return worst_first(before)
        brake = self.candidate.findings if self._brake_share > 1.0 or self._rated else ()
        return worst_first(tuple(f for f in brake if self._stops(f)))

    @property
    def passes(self) -> bool:
        """True where nothing stops it."""
        return not self.stops

    @cached_property
    def in_full(self) -> tuple[Finding, ...]:
        """The same with the brake window found whole."""
        brake = () if self.candidate is None else self.candidate.findings
        return self.stops or worst_first(tuple(f for f in brake if self._stops(f)))

    @cached_property
    def _brake_share(self) -> float:
        """Share of the limits at the lightest brake; of a window just empty a little above 1."""
        try:
            return 0.0 if self.candidate is None else self.candidate.least_brake_share
        except OverflowError:  # so much is a blockage
            return math.inf

    @property
    def _rated(self) -> bool:
        """Whether the reels have brakes whose rating may stop the pull."""
        reel = None if self.candidate is None else self.candidate.pull.run.reel
        return reel is not None and (reel.brake_force, reel.brake_torque) != (None, None)

    def _stops(self, finding: Finding) -> bool:
        if finding.severity == "stop":
            return True
        return self.jams and finding.rule == _JAM and finding.severity == "caution"

    def excess(self, rule: str) -> float:
        """Above zero where it fails; how much by the logarithm of the share of the ``rule``."""
        if rule == _WINDOW:
            shares = [0.0 if self.candidate is None else self._brake_share]
        else:
            shares = [f.ratio for f in self.found if f.rule == rule]
        most = max((s for s in shares if s > 0 and math.isfinite(s)), default=0.0)
        if self.passes:
            return min(math.log(most), -_A_LITTLE) if most else -1.0
        return max(math.log(most), _A_LITTLE) if most else 1.0


@dataclass(frozen=True, eq=False)
class Judge:
    """What a changed run is judged by: practice and allowances of the job, and the direction."""

    practice: Practice
    allowances: Allowances
    reverse: bool

    def verdict(self, run: Run, *, jams: bool = False) -> Verdict:
        """The verdict of the checks that decide; a run that cannot be solved fails."""
        try:
            path, fits = route_path(run.route), run_fits(run)
            pull = solve_pull(run, self.practice, reverse=self.reverse, path=path, fits=fits)
        except InputError as error:
            rule = "fit" if isinstance(error, FitError) else "no solution"
            said = say(literal(error.problems[0].message))
            return Verdict((in_words(rule, "stop", run.name, said, "geometry"),), None)
        made = candidate(pull, self.allowances, stops_only=True)
        found = (*check_run(run, self.practice, path, fits), *check_pull(made.pull))
        return Verdict(found, made, jams)


def farthest_value(asked: StudiedInput, judge: Judge) -> FarthestValue:
    """How far one input may go; where the plan itself fails, the value nearest to it that passes.

    The value passes, and the value ``beyond``, next to it, does not: both are solved in full.
    """
    known: dict[float, Verdict] = {}
    jams = asked.jams and _free_of_jams(asked, judge)

    def at(value: float) -> Verdict:
        if value not in known:
            known[value] = judge.verdict(asked.changed(value), jams=jams)
        return known[value]

    start = asked.harder[0] if math.isnan(asked.planned) else asked.planned
    fails = not at(start).passes
    last = start
    for value in asked.easier if fails else asked.harder:
        if at(value).passes == fails:
            inside, outside = (value, last) if fails else (last, value)
            return _between(asked, at, inside, outside)
        last = value
    if fails:
        return _found(asked, None, last, at(last))
    return _found(asked, math.inf if asked.at_most else 0.0, math.nan, None)


def _free_of_jams(asked: StudiedInput, judge: Judge) -> bool:
    """Whether the planned cables do not jam: where they may, the plan has accepted that."""
    found = judge.verdict(asked.changed(asked.planned)).found
    return not any(f.rule == _JAM and f.severity == "caution" for f in found)


def _between(
    asked: StudiedInput, at: Callable[[float], Verdict], inside: float, outside: float
) -> FarthestValue:
    """The last value that passes between one that does and one that does not."""
    way = math.copysign(1.0, outside - inside)
    rule = at(outside).stops[0].rule

    def excess(x: float) -> float:
        return at(way * x).excess(rule)

    places = ((way * x, excess(way * x)) for x in (inside, outside))
    last, beyond = bracketed(excess, *places)
    # The ends of a brake window are known to what a root is: the last word has the window itself.
    step = FINE * max(abs(last), 1e-6)
    for _ in range(_MOST_STEPS):
        if not at(way * last).in_full:
            break
        last, beyond, step = last - step, last, 2.0 * step
    return _found(asked, way * last, way * beyond, at(way * beyond))


def _found(
    asked: StudiedInput, farthest: float | None, beyond: float, failed: Verdict | None
) -> FarthestValue:
    first = None if failed is None else failed.in_full[0]
    return FarthestValue(
        input=asked.kind,
        name=asked.name,
        quantity=asked.quantity,
        planned=asked.planned,
        farthest=farthest,
        first="" if first is None else first.rule,
        where="" if first is None else first.where,
        at_most=asked.at_most,
        station=None if first is None else first.station,
        beyond=beyond,
        special=asked.special,
    )
