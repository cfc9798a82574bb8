"""Too much turn between two pull points: where further ones would have to be."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

from route3d.checks.finding import Finding
from route3d.model.run import Run
from route3d.phrase import Phrase, literal, say
from route3d.planning.result import RunResult
from route3d.planning.splitting.new_points import NewPoint, new_points_for_turn, with_points
from route3d.planning.suggestion import Subject, mended, suggestion

_DEGREES = "degrees between pull points"
# More new pull points than this are only counted in words; their stations are in the numbers.
_MOST_NAMED = 4


def turns_too_much(result: RunResult) -> list[Finding]:
    """The stretches between pull points that turn too much."""
    return [f for f in result.run_findings if f.rule == _DEGREES and f.severity == "stop"]


def share_turn(result: RunResult, finding: Finding) -> Subject:
    """New pull points that share out the turn of one stretch."""
    what = say(
        f"{literal(finding.where)}: {{}} of bends between pull points, at most {{}}",
        (finding.demand, "angle"),
        (finding.limit, "angle"),
    )
    route = result.run.route
    points = (0, *route.pull_points, len(route.vertices) - 1)
    for first, last in pairwise(points):
        if f"{route.label(first)} to {route.label(last)}" != finding.where:
            continue
        found = new_points_for_turn(result.path, first, last, finding.limit)
        if found is None:
            continue
        changed, _ = with_points(result.run, found[0])
        tried = mended(changed, result, _DEGREES)
        if tried is None:
            continue
        text = say("add ") + place_words(result.run, found[0]) + _shared(found[1])
        stations = tuple(p.station for p in found[0])
        made = suggestion("pull point", text, 10.0 * len(stations), tried, stations=stations)
        return Subject(what, (made,), say(""), ())
    none = say("none found: no straight between the bends has room for a pull point")
    return Subject(what, (), none, ())


def _shared(turns: Sequence[float]) -> Phrase:
    """The turn of each part, or the largest where there are many."""
    if len(turns) > _MOST_NAMED:
        return say(" ({} of bends at most in each part)", (max(turns), "angle"))
    return say(f" ({' + '.join(['{}'] * len(turns))} of bends)", *((t, "angle") for t in turns))


def place_words(run: Run, points: Sequence[NewPoint]) -> Phrase:
    """Where pull points go: by station, and by the vertex before."""
    few = points if len(points) <= _MOST_NAMED else points[:1]
    many = f"{len(points):,} pull points, the first at "
    text = say("a pull point at " if len(points) == 1 else "pull points at ")
    text = text if few is points else say(many)
    for k, new in enumerate(few):
        if k:
            text += say(" and at ")
        before, after = (literal(run.route.label(v)) for v in (new.leg, new.leg + 1))
        corner = run.route.vertices[new.leg].point
        text += say(
            f"station {{}}, {{}} from {before} toward {after}",
            (new.station, "length"),
            (math.dist(corner, new.point), "length"),
        )
    return text
