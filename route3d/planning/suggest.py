"""What to change where bends or pulls fail: larger radii, moved vertices, added pull points.

Every suggestion has been carried out and the run solved again with it, both ways.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from route3d.geometry.schedule import bend_schedule
from route3d.phrase import Phrase, say
from route3d.planning.bend_margins import Tries
from route3d.planning.result import RunResult
from route3d.planning.suggest_bends import many_more, mend_radius, tight_bends
from route3d.planning.suggest_pull import mend_pull
from route3d.planning.suggest_turn import share_turn, turns_too_much
from route3d.planning.suggestion import Subject, again, outcome

# Runs solved again to mend a pull, times the bends of the run; never fewer than the least.
_MOST_SOLVED, _MOST_TRIES, _LEAST_TRIES = 4000, 240, 2
# Tight bends looked at, and stretches that turn too much.
_MOST_SUBJECTS = 12
# With more new pull points than this a run is no longer mended by one thing after another.
_MOST_POINTS = 12


@dataclass(frozen=True, slots=True)
class Suggestions:
    """``subjects`` in the order to mend them: each is solved with the first choices before it.

    ``together`` says what comes of all first choices; empty where nothing fails.
    """

    subjects: tuple[Subject, ...]
    together: Phrase


def suggest(result: RunResult) -> Suggestions:
    """What to change so that every bend and the pull pass: bends first, then turns, then the pull.

    Bounded: a vertex moves 8 m and not half a leg at most, a radius grows tenfold, and on a run of
    many bends fewer changes are tried, which is said.
    """
    bends = max(len(bend_schedule(result.path)), 1)
    tries = Tries(max(_LEAST_TRIES, min(_MOST_TRIES, _MOST_SOLVED // bends)))
    subjects: list[Subject] = []
    tight = [b.number for b, _ in tight_bends(result)]
    for number in tight[:_MOST_SUBJECTS]:
        still = [(b, f) for b, f in tight_bends(result) if b.number == number]
        for bend, broken in still:
            subjects.append(mend_radius(result, bend, broken))
            result = _applied(result, subjects[-1])
    if len(tight) > _MOST_SUBJECTS:
        subjects.append(many_more(tight[_MOST_SUBJECTS:]))
    for finding in turns_too_much(result)[:_MOST_SUBJECTS]:
        subjects.append(share_turn(result, finding))
        result = _applied(result, subjects[-1])
    if result.decision.choice is None:
        subjects.append(mend_pull(result, tries))
        result = _applied(result, subjects[-1])
    return Suggestions(tuple(subjects), _together(result, subjects))


def _applied(result: RunResult, subject: Subject) -> RunResult:
    """The run with the first choice of a subject, unless that makes many runs of it."""
    if not subject.suggestions or len(subject.suggestions[0].feeds) > 1:
        return result
    if len(subject.suggestions[0].stations) > _MOST_POINTS:
        return result
    return again(subject.suggestions[0].changed, result) or result


def _together(result: RunResult, subjects: Sequence[Subject]) -> Phrase:
    """What comes of all first choices."""
    if not subjects:
        return say("")
    if not all(s.suggestions for s in subjects):
        return say("what was found does not mend everything")
    if any(len(s.suggestions[0].stations) > _MOST_POINTS for s in subjects[:-1]):
        return say("each was solved by itself: so many pull points make several runs of this one")
    pulls = len(subjects[-1].suggestions[0].feeds)
    if pulls > 1:
        return say(f"with the first of each the run passes in {pulls} pulls")
    return say("with the first of each the run passes: ") + outcome(result.best)
