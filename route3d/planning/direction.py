"""Which end feeds."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property

from route3d.checks.finding import Finding, in_words, worst_first
from route3d.checks.limits import NO_BRAKE, Utilization, limit_name, utilization
from route3d.checks.restart import check_restart
from route3d.checks.run import check_pull
from route3d.mechanics.pull import Pull, at_friction
from route3d.model.allowances import Allowances
from route3d.model.run import Run
from route3d.phrase import Phrase, literal, say
from route3d.planning.margins import (
    BrakeWindow,
    FrictionMargin,
    as_ordered,
    brake_findings,
    brake_window,
    brake_words,
    friction_margin,
    must_hold,
    share_at_least_brake,
    with_auto_brake,
)
from route3d.planning.pull_plan.head_history import history
from route3d.units import show

# Two utilizations this close are a tie: friction is not known to one part in a hundred.
_TIE = 0.01


@dataclass(frozen=True, eq=False)
class Candidate:
    """One direction with its checks: ``barred`` says why an end cannot serve, empty if it can.

    What is costly is worked out when first asked for: the ``findings``, the pull ``restarted``
    after a stop anywhere, the friction ``margin`` and the brake ``window``. ``stops_only`` leaves
    out of the findings what can never stop a pull: the restart, and the brake where nothing must be
    held.
    """

    pull: Pull
    utilization: Utilization
    barred: Phrase
    allowances: Allowances = field(default_factory=Allowances)
    stops_only: bool = False

    @cached_property
    def findings(self) -> tuple[Finding, ...]:
        """What the checks of limits, restart and brake found."""
        found = list(check_pull(self.pull))
        if not self.stops_only:
            found += check_restart(self.pull, self.restarted)
        if not self.stops_only or must_hold(self.pull):
            found += brake_findings(self.pull, self.window)
        return tuple(found)

    def name(self, limit: str) -> str:
        """What people call a limit of this pull, such as that of ``utilization.governing``."""
        return limit_name(limit, self.pull.run, self.pull.practice)

    @property
    def breaks(self) -> tuple[Finding, ...]:
        """The findings that stop this pull, worst first."""
        return tuple(f for f in worst_first(self.findings) if f.severity == "stop")

    @property
    def passes(self) -> bool:
        """True where nothing stops this pull."""
        return not self.breaks and not self.barred

    @cached_property
    def planned(self) -> Pull:
        """The pull that is planned: the reels held at the low end of the window or above."""
        return as_ordered(self.pull)

    @cached_property
    def restarted(self) -> Pull:
        """The same pull at static friction."""
        return at_friction(self.pull, self.pull.practice.restart)

    @property
    def restart(self) -> float:
        """Load (N) on the machine at the worst place to start again after a stop."""
        return self.restarted.machine_least

    @cached_property
    def restart_utilization(self) -> Utilization:
        """Share of each limit that a restart takes at its worst place."""
        return utilization(self.restarted)

    @cached_property
    def margin(self) -> FrictionMargin:
        """How far friction may be from the plan."""
        return friction_margin(self.pull)

    @cached_property
    def window(self) -> BrakeWindow:
        """What the reels may be held with."""
        return brake_window(self.pull, self._planned_starts)

    @cached_property
    def least_brake_share(self) -> float:
        """Share of the limits with the reels held as lightly as they may be; above 1 with none."""
        return share_at_least_brake(self.pull, self._planned_starts)

    def _planned_starts(self) -> tuple[float, ...]:
        """Where the pull starts from rest by plan, m of cable in."""
        course, machine = history(self.planned), self.pull.run.machine
        if course is None or machine is None:
            return (0.0,)
        from route3d.planning.pull_plan.schedule import (
            pace,  # with gears and stops, where there is a machine
        )

        return pace(self.planned, course, machine, self.allowances).starts


def candidate(
    pull: Pull, allowances: Allowances | None = None, *, stops_only: bool = False
) -> Candidate:
    """One direction, to be checked: limits, restart, brake and access.

    Where the file leaves the reel tension to the program it is what the crew is told to hold.
    ``stops_only`` is for those who ask many times.
    """
    allowances = Allowances() if allowances is None else allowances
    pull = with_auto_brake(pull)
    return Candidate(pull, utilization(pull), barred(pull), allowances, stops_only)


@dataclass(frozen=True, eq=False)
class Decision:
    """``choice`` is the candidate to use, None if neither end is acceptable; ``why`` in words."""

    choice: Candidate | None
    candidates: tuple[Candidate, Candidate]

    @cached_property
    def why(self) -> Phrase:
        """The reason, in sentences."""
        return self.why_with(None)

    def why_with(self, window: BrakeWindow | None) -> Phrase:
        """The same with the brake window of a plan, which may be narrower, in place of ours."""
        if self.choice is None:
            first, second = self.candidates
            return (
                say("Not acceptable from either end: ")
                + _trouble(first)
                + say("; ")
                + _trouble(second)
                + say(".")
            )
        return _why(*_ranked(*self.candidates), window)


def barred(pull: Pull) -> Phrase:
    """Why the ends of a pull cannot serve: no room for the reel, or for the machine."""
    vertices = pull.run.route.vertices
    reasons = []
    if "reel" not in vertices[pull.feed].access:
        reasons.append(f"{pull.feed_name} has no reel access")
    if "machine" not in vertices[pull.pull].access:
        reasons.append(f"{pull.pull_name} has no machine access")
    return say(literal(" and ".join(reasons)))


def no_access(run: Run, candidates: Iterable[Candidate]) -> tuple[Finding, ...]:
    """A stop where neither direction has the access it needs: without it nothing can start."""
    both = tuple(candidates)
    if not all(c.barred for c in both):
        return ()
    ways = [f"{_wanted(c.pull)} to feed from {literal(c.pull.feed_name)}" for c in both]
    fix = say("provide access for " + ", or for ".join(ways))
    given = "access given in the route"
    return (in_words("access", "stop", run.name, fix, given),)


def _wanted(pull: Pull) -> str:
    """What must find room at which end before a pull can go this way."""
    vertices = pull.run.route.vertices
    ends = ((pull.feed, "reel", pull.feed_name), (pull.pull, "machine", pull.pull_name))
    missing = [f"the {what} at {name}" for i, what, name in ends if what not in vertices[i].access]
    return literal(" and ".join(missing))


def choose(first: Candidate, second: Candidate) -> Decision:
    """Pick the feed end.

    An end without reel or machine access is ruled out, and so is a direction that exceeds a limit;
    then a direction that can be started again anywhere goes before one that cannot, and the lower
    utilization decides. Where that is a tie within 1 %, the end that needs the lighter brake is
    taken, then the larger friction margin.
    """
    better = _ranked(first, second)[0]
    return Decision(better if better.passes else None, (first, second))


def _ranked(first: Candidate, second: Candidate) -> tuple[Candidate, Candidate]:
    """Both, the better one first."""
    if first.passes != second.passes:
        return (first, second) if first.passes else (second, first)
    if first.passes and _restarts(first) != _restarts(second):
        return (first, second) if _restarts(first) else (second, first)
    if not _tied(first, second):
        lower = first.utilization.peak < second.utilization.peak
        return (first, second) if lower else (second, first)
    if first.passes:
        brakes = first.window.at_least, second.window.at_least
        if abs(brakes[0] - brakes[1]) > NO_BRAKE:
            return (first, second) if brakes[0] < brakes[1] else (second, first)
        margins = _factor(first), _factor(second)
        if abs(margins[0] - margins[1]) > _TIE * max(margins):
            return (first, second) if margins[0] > margins[1] else (second, first)
    lower = first.pull.peak_tension <= second.pull.peak_tension
    return (first, second) if lower else (second, first)


def _restarts(candidate: Candidate) -> bool:
    return candidate.restart_utilization.peak <= 1.0 + 1e-9


def _tied(first: Candidate, second: Candidate) -> bool:
    a, b = first.utilization.peak, second.utilization.peak
    return abs(a - b) <= _TIE * max(a, b)


def _factor(candidate: Candidate) -> float:
    return candidate.margin.factor or 0.0


# --- words ----------------------------------------------------------------------------------------


def _why(better: Candidate, other: Candidate, window: BrakeWindow | None) -> Phrase:
    """Utilization, restart, friction margin and brake of the better end, beside the other."""
    ends = [better] if other.barred or other.breaks else [better, other]
    text = say("")
    if len(ends) == 2 and _tied(better, other):
        text += say("Either end works: the two are within 1% of each other. ")
    text += _utilization(better, other, ends) + _restart(better, other, ends)
    text += _margin(better, other, ends) + _brake(window or better.window)
    if other.barred:
        return text + say(" The other end is ruled out: ") + other.barred + say(".")
    if other.breaks:
        return text + say(" The other end ") + _break(other) + say(".")
    return text


def _utilization(better: Candidate, other: Candidate, ends: list[Candidate]) -> Phrase:
    use, against = better.utilization, other.utilization
    name, other_name = (literal(c.name(c.utilization.governing)) for c in (better, other))
    if len(ends) == 1:
        return say(f"Highest utilization: {name}, {{}}.", (use.peak, "percent"))
    fine = _alike(use.peak, against.peak, "percent")
    quantity = "fine percent" if fine else "percent"
    beside = "" if name == other_name else f"{other_name}, "
    return say(
        f"Highest utilization: {name}, {{}} (other end: {beside}{{}}).",
        (use.peak, quantity),
        (against.peak, quantity),
    )


def _restart(better: Candidate, other: Candidate, ends: list[Candidate]) -> Phrase:
    """A restart is named where it exceeds a limit, of either end."""
    if not _restarts(better):
        use = better.restart_utilization
        return say(
            f" A restart after a stop would raise {literal(better.name(use.governing))} to "
            "{}: stop only where the plan allows.",
            (use.peak, "percent"),
        )
    if len(ends) == 2 and not _restarts(other):
        use = other.restart_utilization
        return say(
            " A restart is possible anywhere; from the other end a restart would raise "
            f"{literal(other.name(use.governing))} to {{}}.",
            (use.peak, "percent"),
        )
    return say("")


def _margin(better: Candidate, other: Candidate, ends: list[Candidate]) -> Phrase:
    """The friction margin, with the coefficients it stands for."""
    factor = better.margin.factor
    if factor is None or math.isinf(factor):
        return say("")
    conduits = dict.fromkeys(better.pull.run.route.conduits)
    at = ", ".join(f"{{}} in {literal(c.label)}" for c in conduits)
    figures = tuple((c.friction * factor, "ratio") for c in conduits)
    text = say(
        f" Friction can rise to {{}} times the planned value ({at})", (factor, "ratio"), *figures
    )
    against = other.margin.factor
    if len(ends) == 2 and against is not None and math.isfinite(against):
        quantity = "factor" if _alike(factor, against, "ratio") else "ratio"
        text = say(
            f" Friction can rise to {{}} times the planned value ({at}; other end: {{}} times)",
            (factor, quantity),
            *figures,
            (against, quantity),
        )
    text += say(f"; limit reached first: {literal(better.name(better.margin.limit))}.")
    if any(c.fall_decides for c in conduits):
        text += say(" The friction it falls to rises along.")
    return text


def _brake(window: BrakeWindow) -> Phrase:
    if not window.holds:
        return say("")
    return say(" ") + brake_words(window) + say(".")


def _alike(a: float, b: float, quantity: str) -> bool:
    """True where two figures that differ would be printed alike."""
    return a != b and show(a, quantity, "SI") == show(b, quantity, "SI")


def _label(candidate: Candidate) -> Phrase:
    return say(f"feed from {literal(candidate.pull.feed_name)}")


def _trouble(candidate: Candidate) -> Phrase:
    if candidate.barred:
        return _label(candidate) + say(" is ruled out: ") + candidate.barred
    return _label(candidate) + say(" ") + _break(candidate)


def _break(candidate: Candidate) -> Phrase:
    """The limit exceeded most, with both numbers; a stop without a number by its name."""
    worst = candidate.breaks[0]
    if math.isnan(worst.limit):
        return say(f"fails: {literal(worst.rule)} at ") + worst.place
    if worst.no_setting:
        return say(f"fails {literal(worst.rule)}: ") + worst.compared
    if worst.beyond:
        return say(f"exceeds the {literal(worst.rule)} limit: ") + worst.compared
    if worst.demand > worst.limit:
        return say(f"exceeds the {literal(worst.rule)} limit ({{}}; limit {{}})", *worst.figures)
    return say(f"is below the {literal(worst.rule)} minimum ({{}}; minimum {{}})", *worst.figures)
