"""A pull that fails both ways: split it, enlarge one bend, or move one vertex."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from route3d.geometry.schedule import ScheduledBend, bend_schedule, largest_radius, leg_rooms
from route3d.phrase import Phrase, literal, say
from route3d.planning.bend_margins import Tries, least_passing
from route3d.planning.changes import with_radius
from route3d.planning.result import RunResult, evaluate_run
from route3d.planning.route_changes import FARTHEST, Way, least_move, moved, ways
from route3d.planning.suggest_bends import move_words, moved_to
from route3d.planning.suggest_points import MOST_NEW, Split, splits
from route3d.planning.suggest_turn import place_words
from route3d.planning.suggestion import (
    COST,
    Subject,
    Suggestion,
    outcome,
    ranked,
    suggestion,
)

# Bends enlarged, and vertices moved, one at a time: those of the highest sidewall pressure.
_MOST_ENLARGED = 6
_MOST_MOVED = 4
_LARGEST_RADIUS_FACTOR = 10.0


def mend_pull(result: RunResult, tries: Tries) -> Subject:
    """What makes a pull pass that fails both ways; half of the ``tries`` go to the radii."""
    what = say("the pull: ") + result.decision.why
    if all(c.barred for c in result.candidates):
        none = say("none here: an end must give room for the reel and the other for the machine")
        return Subject(what, (), none, ())
    found = [_split(result, s) for s in splits(result.run, result.practice, result.path)]
    bends, half = _worst_bends(result), tries.left // 2
    enlarged = moved_on = 0
    for bend in bends[:_MOST_ENLARGED]:
        if tries.left > half:
            found += _enlarged(result, bend, tries)
            enlarged += 1
    for bend in bends[:_MOST_MOVED]:
        if tries.left > 0:
            found += _moves(result, bend, tries)
            moved_on += 1
    none = say("") if found else say("none found")
    return Subject(what, ranked(found), none, _notes(found, len(bends), enlarged, moved_on))


def _notes(found: list[Suggestion], bends: int, enlarged: int, moved_on: int) -> tuple[Phrase, ...]:
    """Kinds of change that do not help, and those left untried."""
    kinds = {s.kind for s in found}
    notes = []
    if not kinds & {"split", "pull point"}:
        notes.append(say(f"no split at up to {MOST_NEW} pull points, there or added, passes"))
    for done, kind, what, most in (
        (enlarged, "radius", "larger bend", say("ten times its radius and what fits")),
        (moved_on, "move", "vertex moved", say("{}", (FARTHEST, "length"))),
    ):
        if done and kind not in kinds:
            notes.append(say(f"no single {what} by up to ") + most + say(f" passes ({done} tried)"))
        if done < bends:
            left = f"not tried: a {what} at {bends - done:,} of {bends:,} bends, "
            notes.append(say(left + "those of lower sidewall pressure"))
    return tuple(notes)


def _worst_bends(result: RunResult) -> list[ScheduledBend]:
    """The bends by sidewall pressure, taken in turn from both directions."""
    bends = bend_schedule(result.path)
    if not bends:
        return []
    segments = np.array([b.segment for b in bends])
    orders = []
    for candidate in result.candidates:
        pull = candidate.pull
        peaks = pull.profile.sidewall[pull.worst_rows[segments]]
        orders.append(np.argsort(-peaks, kind="stable"))
    return [bends[k] for k in dict.fromkeys(np.column_stack(orders).ravel().tolist())]


def _split(result: RunResult, split: Split) -> Suggestion:
    """The run cut in several pulls, at points it has or at new ones."""
    route = split.run.route
    if split.new:
        text = say("add ") + place_words(result.run, split.new)
        if len(split.cuts) > len(split.new):
            text += say(f" and split at {len(split.cuts) - len(split.new)} more that are there")
        kind, cost = "pull point", COST["pull point"] + 10.0 * (len(split.new) - 1)
    else:
        text = say("split at " + literal(" and ".join(route.label(c) for c in split.cuts)))
        kind, cost = "split", COST["split"] * len(split.cuts)
    text += say(f": {len(split.pulls)} pulls, each within its limits")
    for choice in split.pulls:
        text += say("; ") + outcome(choice)
    return Suggestion(
        kind=kind,
        text=text,
        cost=cost,
        feeds=tuple(c.pull.feed_name for c in split.pulls),
        utilisation=max(c.utilisation.peak for c in split.pulls),
        changed=split.run,
        stations=_stations(result, split),
    )


def _stations(result: RunResult, split: Split) -> tuple[float, ...]:
    """The stations of the cuts: what each part is long, added up."""
    lengths = [c.pull.path.length for c in split.pulls]
    return tuple(float(s) for s in np.cumsum(lengths)[:-1])


def _enlarged(result: RunResult, bend: ScheduledBend, tries: Tries) -> Iterator[Suggestion]:
    """One bend of the least radius with which the run passes."""

    def passes(radius: float) -> bool:
        return tries.passes(result, with_radius(result.run, bend.vertex, radius))

    fits = largest_radius(result.path, bend.segment, leg_rooms(result.path))
    most = min(fits, bend.radius * _LARGEST_RADIUS_FACTOR)
    if most <= bend.radius or not passes(most):
        return
    radius = least_passing(passes, bend.radius, bend.radius, most)
    changed = with_radius(result.run, bend.vertex, radius)
    tried = evaluate_run(changed, result.practice)
    label = literal(result.run.route.bend_label(bend.number, bend.vertex))
    text = say(f"make {label} {{}} instead of {{}}", (radius, "radius+"), (bend.radius, "radius"))
    extra = radius / bend.radius / 10
    yield suggestion("radius", text, extra, tried, vertex=bend.vertex, radius=radius)


def _moves(result: RunResult, bend: ScheduledBend, tries: Tries) -> Iterator[Suggestion]:
    """The vertex of one bend moved the least that makes the run pass, the shortest way."""
    shortest: tuple[float, Way] | None = None
    for way in ways(result.run.route, bend.vertex):
        if tries.left <= 0:
            break

        def passes(distance: float, way: Way = way) -> bool:
            return tries.passes(result, moved(result.run, bend.vertex, way, distance))

        distance = least_move(way, passes)
        shorter = shortest is None or (distance or 0.0) < shortest[0]
        # It must pass as it is printed too, a little farther than it was found.
        if distance is not None and shorter and passes(distance):
            shortest = distance, way
    if shortest is None:
        return
    distance, way = shortest
    changed = moved(result.run, bend.vertex, way, distance)
    tried = evaluate_run(changed, result.practice)
    text = move_words(result.run, bend.vertex, way, distance)
    yield moved_to(text, distance, tried, bend.vertex)
