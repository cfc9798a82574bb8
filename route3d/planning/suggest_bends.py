"""Bends that are too tight for cable or conduit: the radius they need, and the room for it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from route3d.checks.finding import Finding
from route3d.errors import InputError
from route3d.geometry.route_path import route_path
from route3d.geometry.schedule import LEVEL, ScheduledBend, bend_schedule, largest_radius, leg_rooms
from route3d.model.run import Run
from route3d.phrase import Phrase, literal, say
from route3d.planning.bend_margins import (
    RADIUS_RULES,
    bend_findings,
    rule_radius,
)
from route3d.planning.changes import with_radius
from route3d.planning.result import RunResult
from route3d.planning.route_changes import FARTHEST, Way, least_move, moved, ways
from route3d.planning.suggestion import Subject, Suggestion, mended, ranked, suggestion

# Of all the ways to make room the shortest are given.
_MOST_MOVES = 3


def tight_bends(result: RunResult) -> list[tuple[ScheduledBend, list[Finding]]]:
    """The bends too tight for cable or conduit, with what they break."""
    found = bend_findings(result)
    broken = {
        number: [f for f in findings if f.rule in RADIUS_RULES and f.severity == "stop"]
        for number, findings in found.items()
    }
    return [(b, broken[b.number]) for b in bend_schedule(result.path) if broken.get(b.number)]


def many_more(numbers: Sequence[int]) -> Subject:
    """The bends past the number looked at."""
    what = say(f"{len(numbers):,} more bends break a least radius, from bend {numbers[0]} on")
    return Subject(what, (), say("mend the bends above first, then ask again"), ())


def mend_radius(result: RunResult, bend: ScheduledBend, broken: list[Finding]) -> Subject:
    """What gives one bend the radius it lacks: a larger one where it fits, else room for it."""
    label = literal(result.run.route.bend_label(bend.number, bend.vertex))
    worst = max(broken, key=lambda f: f.ratio)
    what = say(
        f"{label}: {worst.rule} {{}}, least {{}}",
        (worst.demand, "radius"),
        (worst.limit, "radius+"),
    )
    needed = _needed(result, bend)
    found = [*_radius_as_needed(result, bend, label, needed, worst.rule)]
    if not found:
        moves = ranked(_room_made(result, bend, label, needed[0], worst.rule))
        found = [*moves[:_MOST_MOVES]]
    why = say("") if found else _no_room(result, bend, needed[0])
    return Subject(what, ranked(found), why, ())


def _needed(result: RunResult, bend: ScheduledBend) -> tuple[float, ...]:
    """Radii that satisfy cable and conduit, smallest first: as a factory elbow, and bent, m."""
    findings = bend_findings(result)[bend.number]
    cable = rule_radius(bend, [f for f in findings if f.rule == "cable bend radius"])
    bent = rule_radius(bend, findings)
    elbow = result.run.route.conduits[bend.leg].elbow_radius
    if elbow is not None and elbow < bent:
        return tuple(dict.fromkeys((max(elbow, cable), bent)))
    return (bent,)


def _radius_as_needed(
    result: RunResult, bend: ScheduledBend, label: str, needed: Sequence[float], rule: str
) -> Iterator[Suggestion]:
    """The bend with the least radius for a factory elbow, and for a field bend."""
    for radius in needed:
        tried = mended(with_radius(result.run, bend.vertex, radius), result, rule)
        if tried is None:
            continue
        factory = radius < needed[-1]
        made = " as a factory elbow" if factory else ""
        text = say(
            f"make {label} {{}}{made} instead of {{}}",
            (radius, "radius+"),
            (bend.radius, "radius"),
        )
        extra = radius / needed[-1]
        yield suggestion("radius", text, extra, tried, vertex=bend.vertex, radius=radius)


def _room_made(
    result: RunResult, bend: ScheduledBend, label: str, radius: float, rule: str
) -> Iterator[Suggestion]:
    """The radius needed, with the vertex of the bend or of a neighbor moved to give it room."""
    larger = with_radius(result.run, bend.vertex, radius)
    for vertex in (bend.vertex, bend.vertex - 1, bend.vertex + 1):
        if not result.run.route.vertices[vertex].bend:
            continue
        for way in ways(result.run.route, vertex):
            distance = least_move(way, lambda d, v=vertex, w=way: _has_path(larger, v, w, d))  # type: ignore[misc]
            if distance is None:
                continue
            tried = mended(moved(larger, vertex, way, distance), result, rule)
            if tried is None:
                continue
            text = say(f"make {label} {{}}", (radius, "radius+")) + say(" and ")
            text += move_words(result.run, vertex, way, distance)
            yield moved_to(text, distance, tried, vertex, radius)


def _has_path(run: Run, vertex: int, way: Way, distance: float) -> bool:
    try:
        route_path(moved(run, vertex, way, distance).route)
    except InputError:
        return False
    return True


def moved_to(
    text: Phrase, distance: float, tried: RunResult, vertex: int, radius: float | None = None
) -> Suggestion:
    """The suggestion of a vertex moved, already solved."""
    to = tried.run.route.vertices[vertex].point
    return suggestion("move", text, distance, tried, vertex=vertex, radius=radius, to=to)


def move_words(run: Run, vertex: int, way: Way, distance: float) -> Phrase:
    """Which way a vertex moves, how far, and where to."""
    label = literal(run.route.label(vertex))
    x, y, z = moved(run, vertex, way, distance).route.vertices[vertex].point
    text = say(
        f"move {label} by {{}} {literal(way.words)}, to {{}}, {{}}, {{}}",
        *((v, "length") for v in (distance, x, y, z)),
    )
    return text + _leaning(run, moved(run, vertex, way, distance), vertex)


def _leaning(run: Run, after: Run, vertex: int) -> Phrase:
    """The legs at a moved vertex that were plumb or level and then are not."""
    text = say("")
    for a, b in ((vertex - 1, vertex), (vertex, vertex + 1)):
        was, is_ = (_rise(each, a, b) for each in (run, after))
        label = run.route.label
        leg = f"the leg from {literal(label(a))} to {literal(label(b))}"
        plumb = math.pi / 2
        if was > plumb - LEVEL and is_ <= plumb - LEVEL:
            text += say(f"; {leg}, plumb now, then leans by {{}}", (plumb - is_, "angle"))
        elif was < LEVEL <= is_:
            text += say(f"; {leg}, level now, then slopes by {{}}", (is_, "angle"))
    return text


def _rise(run: Run, a: int, b: int) -> float:
    """Angle between a leg and the level, rad, 0 to a right angle."""
    start, end = (np.array(run.route.vertices[i].point) for i in (a, b))
    along = end - start
    return math.atan2(abs(float(along[2])), float(np.hypot(along[0], along[1])))


def _no_room(result: RunResult, bend: ScheduledBend, radius: float) -> Phrase:
    fits = largest_radius(result.path, bend.segment, leg_rooms(result.path))
    return say(
        "none found: {} is needed, {} fits, and no vertex beside it moved by up to {} helps",
        (radius, "radius+"),
        (fits, "radius"),
        (FARTHEST, "length"),
    )
