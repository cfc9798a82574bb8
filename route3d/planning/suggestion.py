"""One suggested change: what to do, what it costs, and what comes of it when solved again."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from route3d.errors import InputError
from route3d.model.run import Run
from route3d.phrase import Phrase, literal, say
from route3d.planning.direction import Candidate
from route3d.planning.result import RunResult, evaluate_run

# What one change takes, to put them in order: a pull point that is there, one larger bend, a vertex
# moved (and each meter), a new pull point (common practice, no source).
COST = {"split": 10.0, "radius": 20.0, "move": 24.0, "pull point": 40.0}


@dataclass(frozen=True, slots=True)
class Suggestion:
    """One change, solved: what to do in words, and in numbers as far as they apply.

    ``vertex`` is that of the run as given, with its new ``radius`` m or its new place ``to`` m;
    ``stations`` m are those of pull points to split at. ``feeds`` names the end that feeds each
    pull and ``utilisation`` is the largest share of a limit in any; ``changed`` is the run with it.
    """

    kind: str
    text: Phrase
    cost: float
    feeds: tuple[str, ...]
    utilisation: float
    changed: Run
    vertex: int | None = None
    radius: float | None = None
    to: tuple[float, float, float] | None = None
    stations: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Subject:
    """What fails, and what would mend it, cheapest first; ``why_none`` where nothing was found.

    ``notes`` says what kind of change was found not to help, and what was not tried.
    """

    what: Phrase
    suggestions: tuple[Suggestion, ...]
    why_none: Phrase
    notes: tuple[Phrase, ...]


def again(run: Run, result: RunResult) -> RunResult | None:
    """The run answered anew; None where the change makes no path, or no end to the tension."""
    try:
        return evaluate_run(run, result.practice)
    except InputError:
        return None


def mended(run: Run, result: RunResult, rule: str) -> RunResult | None:
    """The changed run, where one stop less of a rule is left, no other is new, and it still goes.

    Where the pull does not pass as it is, it need not pass yet.
    """
    tried = again(run, result)
    if tried is None or (result.decision.choice is not None and tried.decision.choice is None):
        return None
    before, after = _stops(result), _stops(tried)
    fewer = after[rule] < before[rule] and not any(after[r] > before[r] for r in after)
    return tried if fewer else None


def _stops(result: RunResult) -> Counter[str]:
    return Counter(f.rule for f in result.run_findings if f.severity == "stop")


def outcome(choice: Candidate) -> Phrase:
    """Which end feeds, and what governs."""
    use = choice.utilisation
    feed, name = literal(choice.pull.feed_name), literal(choice.name(use.governing))
    return say(f"feed from {feed} (governing: {name}, {{}})", (use.peak, "percent"))


def then(result: RunResult) -> Phrase:
    """The end of a suggestion: which end feeds with it."""
    choice = result.decision.choice
    return say("; then ") + outcome(choice) if choice else say("; the pull still fails")


def ranked(found: Iterable[Suggestion]) -> tuple[Suggestion, ...]:
    """Suggestions, cheapest first."""
    return tuple(sorted(found, key=lambda s: s.cost))


def suggestion(kind: str, text: Phrase, extra: float, result: RunResult, **more: Any) -> Suggestion:
    """One change to the whole run, with what comes of it; ``extra`` orders those of its kind."""
    choice = result.decision.choice
    return Suggestion(
        kind=kind,
        text=text + then(result),
        cost=COST[kind] + extra,
        feeds=(choice.pull.feed_name,) if choice else (),
        utilisation=result.best.utilisation.peak,
        changed=result.run,
        **more,
    )
