"""Which end feeds."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from route3d.checks.finding import Finding
from route3d.checks.limits import Utilisation
from route3d.mechanics.pull import Pull
from route3d.model.run import Run
from route3d.phrase import Phrase, literal, say

# Two utilisations this close are the same: friction is not known to one part in two hundred.
_SAME = 0.005

_GOVERNING = {
    "conductor": "conductor tension",
    "grip": "the attachment",
    "sidewall": "sidewall pressure",
    "rope": "the rope",
    "machine": "the machine",
}


@dataclass(frozen=True, eq=False)
class Candidate:
    """One direction with its checks: ``barred`` says why an end cannot serve, empty if it can.

    ``restart`` is the machine's load (N) at the worst place to start again after a stop.
    """

    pull: Pull
    utilisation: Utilisation
    findings: tuple[Finding, ...]
    barred: Phrase
    restart: float = math.nan

    @property
    def breaks(self) -> tuple[Finding, ...]:
        """The findings that stop this pull."""
        return tuple(f for f in self.findings if f.severity == "stop")

    @property
    def passes(self) -> bool:
        """True where nothing stops this pull."""
        return not self.barred and not self.breaks


@dataclass(frozen=True, eq=False)
class Decision:
    """``choice`` is the candidate to use, None where neither end will do; ``why`` in words."""

    choice: Candidate | None
    why: Phrase


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
    fix = say("make room for " + ", or for ".join(ways))
    nan = math.nan
    given = "access as given in the route"
    return (Finding("access", "stop", run.name, nan, nan, "ratio", fix, given),)


def _wanted(pull: Pull) -> str:
    """What must find room at which end before a pull can go this way."""
    vertices = pull.run.route.vertices
    ends = ((pull.feed, "reel", pull.feed_name), (pull.pull, "machine", pull.pull_name))
    missing = [f"the {what} at {name}" for i, what, name in ends if what not in vertices[i].access]
    return literal(" and ".join(missing))


def choose(first: Candidate, second: Candidate) -> Decision:
    """Pick the feed end: lowest governing utilisation, then peak tension, of the ends that serve.

    An end without reel or machine access is ruled out, and said so; where both directions break a
    limit the answer is neither.
    """
    better, other = _ranked(first, second)
    if better.passes:
        return Decision(better, _why(better, other))
    return Decision(None, say("neither end: ") + _trouble(first) + say("; ") + _trouble(second))


def _ranked(first: Candidate, second: Candidate) -> tuple[Candidate, Candidate]:
    if first.passes != second.passes:
        return (first, second) if first.passes else (second, first)
    a, b = first.utilisation.peak, second.utilisation.peak
    if abs(a - b) > _SAME * max(a, b):
        return (first, second) if a < b else (second, first)
    lower = first.pull.peak_tension <= second.pull.peak_tension
    return (first, second) if lower else (second, first)


def _why(better: Candidate, other: Candidate) -> Phrase:
    """One sentence with both numbers and what governs."""
    head = _label(better) + say(" takes {} of its limit on ", (better.utilisation.peak, "percent"))
    head += say(_GOVERNING[better.utilisation.governing] + ", ")
    if other.barred:
        return head + say("and the other way is ruled out: ") + other.barred
    if other.breaks:
        return head + say("and the other way ") + _break(other)
    against = say("against {} on ", (other.utilisation.peak, "percent"))
    against += say(_GOVERNING[other.utilisation.governing])
    tensions = say(
        " the other way (peak tension {} against {})",
        (better.pull.peak_tension, "force"),
        (other.pull.peak_tension, "force"),
    )
    return head + against + tensions


def _label(candidate: Candidate) -> Phrase:
    return say(f"feeding from {literal(candidate.pull.feed_name)}")


def _trouble(candidate: Candidate) -> Phrase:
    if candidate.barred:
        return _label(candidate) + say(" is ruled out: ") + candidate.barred
    return _label(candidate) + say(" ") + _break(candidate)


def _break(candidate: Candidate) -> Phrase:
    """The limit broken worst, with both numbers."""
    worst = max(candidate.breaks, key=lambda f: f.ratio)
    return say(
        "breaks " + worst.rule + " ({} against {})",
        (worst.demand, worst.quantity),
        (worst.limit, worst.quantity),
    )
