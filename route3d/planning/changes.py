"""Where neither end will do: single changes to the route or the pull that make it pass.

Every change is found by solving the run again with it, never by scaling a result.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from itertools import combinations, pairwise

import numpy as np

from route3d.errors import InputError
from route3d.geometry.path import ARC, Path
from route3d.geometry.route_path import route_path, sub_route
from route3d.geometry.schedule import largest_radius, leg_rooms
from route3d.mechanics.pull import run_fits, solve_pull, with_friction
from route3d.model.practice import Practice
from route3d.model.run import Run
from route3d.phrase import Phrase, literal, say
from route3d.planning.direction import Candidate, candidate, choose

# Bisection of a radius stops at this share of it.
_FINE = 0.001
# Radii are printed to 0.1 in or 1 mm: half a step more, so that the printed radius passes too.
_PRINTED = 1.3e-3
# Below a fifth of the given friction no lubricant brings it (common practice, no source).
_LEAST_FRICTION = 20  # percent
_LARGEST_RADIUS_FACTOR = 10.0
# Splits are tried with up to this many set-ups; a full search is the plan's work.
_MOST_SPLITS = 3
# A larger radius is tried at no more bends than this, and at fewer on a route of very many bends:
# every try solves the whole run, and a bend that is not among the worst rarely is what breaks it.
_MOST_BENDS = 12
_MOST_BENDS_SOLVED = 600


@dataclass(frozen=True, slots=True)
class Change:
    """One change that makes the run pass, in words; ``cost`` orders them, cheapest first."""

    kind: str
    text: Phrase
    cost: float


def passing_directions(run: Run, practice: Practice) -> tuple[bool, ...]:
    """The directions (False: with the route) in which the run breaks no limit and has access."""
    return tuple(c.pull.reverse for c in _candidates(run, practice) if c.passes)


def _candidates(run: Run, practice: Practice) -> tuple[Candidate, Candidate]:
    fits, path = run_fits(run), route_path(run.route)

    def one(reverse: bool) -> Candidate:
        pull = solve_pull(run, practice, reverse=reverse, path=path, fits=fits)
        return candidate(pull, stops_only=True)

    return one(False), one(True)


def changes(run: Run, practice: Practice) -> tuple[Change, ...]:
    """Single changes after which the run passes, cheapest first.

    Cheapest means: another attachment or brake, then a little less friction, then a split at a
    pull point that is there anyway, then room made at an end, then one larger bend, then much less
    friction (common practice, no source).
    """
    found = [
        *_eyes(run, practice),
        *_brake(run, practice),
        *_friction(run, practice),
        *_splits(run, practice),
        *_access(run, practice),
        *_radii(run, practice),
    ]
    return tuple(sorted(found, key=lambda c: c.cost))


def _passes(run: Run, practice: Practice) -> bool:
    return _solved(run, practice) is not None


def _solved(run: Run, practice: Practice) -> Candidate | None:
    """The direction a run that passes is pulled in, decided as for the run as given."""
    try:
        return choose(*_candidates(run, practice)).choice
    except InputError:  # the change makes no path, or no end to the tension
        return None


def _change(
    kind: str, text: Phrase, cost: float, changed: Run, practice: Practice
) -> Iterator[Change]:
    """The change with which end then feeds and what governs; nothing where it does not pass."""
    solved = _solved(changed, practice)
    if solved is not None:
        feed = say(f"; then feed from {literal(solved.pull.feed_name)} (governing: ")
        yield Change(kind, text + feed + _governing(solved) + say(")"), cost)


def _governing(solved: Candidate) -> Phrase:
    use = solved.utilisation
    return say(f"{literal(solved.name(use.governing))}, {{}}", (use.peak, "percent"))


def _eyes(run: Run, practice: Practice) -> Iterator[Change]:
    """Pulling eyes on the conductors in place of a basket grip."""
    if run.attach == "basket grip":
        text = say("pull on pulling eyes instead of a basket grip")
        yield from _change("attach", text, 0.0, replace(run, attach="pulling eyes"), practice)


def _brake(run: Run, practice: Practice) -> Iterator[Change]:
    """The reel held as lightly as the route allows, in place of the tension given."""
    if run.reel_tension is not None:
        text = say('hold the reel only as the route asks (reel_tension = "auto")')
        yield from _change("brake", text, 0.0, replace(run, reel_tension=None), practice)


def _friction(run: Run, practice: Practice) -> Iterator[Change]:
    def at(percent: int) -> bool:
        return _passes(with_friction(run, percent / 100, rope_too=False), practice)

    if not at(_LEAST_FRICTION):
        return
    factor = _largest_passing(at, _LEAST_FRICTION, 100) / 100
    worst = max(c.friction for c in run.route.conduits) * factor
    worst = np.floor(1000 * worst + 1e-9) / 1000  # as it is printed, on the safe side
    small = factor > 0.8
    text = say(
        "bring friction down to {} of the figures given (a coefficient of {} where it is "
        "highest): more or better lubricant",
        (factor, "percent"),
        (worst, "factor"),
    )
    cost = 1.0 - factor if small else 30.0 - factor
    yield from _change("friction", text, cost, with_friction(run, factor, rope_too=False), practice)


def _largest_passing(ok: Callable[[int], bool], low: int, high: int) -> int:
    """Largest whole percent that passes, as it is printed; ``low`` passes, ``high`` does not."""
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if ok(middle) else (low, middle)
    return low


def _splits(run: Run, practice: Practice) -> Iterator[Change]:
    """The fewest pull points at which the run can be cut so that every section passes."""
    points = run.route.pull_points
    ends = (0, len(run.route.vertices) - 1)
    known: dict[tuple[int, int], Candidate | None] = {}

    def section(span: tuple[int, int]) -> Candidate | None:
        if span not in known:
            part = replace(run, route=sub_route(run.route, *span))
            known[span] = _solved(part, practice)
        return known[span]

    for count in range(1, min(len(points), _MOST_SPLITS) + 1):
        for cut in combinations(points, count):
            spans = tuple(pairwise((ends[0], *cut, ends[1])))
            if all(section(span) for span in spans):
                names = literal(" and ".join(run.route.label(i) for i in cut))
                text = say(f"split the run at {names}: {count + 1} pulls, each within its limits")
                for solved in filter(None, map(section, spans)):
                    text += say("; ") + _section(solved)
                if run.machine is not None and run.rope is not None:
                    text += say("; route3d plan MODEL numbers the ways, and --way N plans way N")
                yield Change("split", text, 10.0 * count)
                return


def _section(solved: Candidate) -> Phrase:
    """One pull of a split run: its ends, what governs, what machine and reel must hold."""
    pull = solved.pull
    feed, end = literal(pull.feed_name), literal(pull.pull_name)
    machine = "machine peak, moving, {}" if pull.machine_peak is not None else "machine at least {}"
    loads = say(
        f", {machine}, reel brake {{}})",
        (pull.machine_least, "force"),
        (pull.reel_tension, "force+"),
    )
    return say(f"feed from {feed}, pull at {end} (governing: ") + _governing(solved) + loads


def _access(run: Run, practice: Practice) -> Iterator[Change]:
    """Room for the reel at one end and for the machine at the other, where that is missing."""
    last = len(run.route.vertices) - 1
    for feed, pull in ((0, last), (last, 0)):
        wanted = ((feed, "reel"), (pull, "machine"))
        missing = [(i, what) for i, what in wanted if what not in run.route.vertices[i].access]
        if missing:
            where = [f"the {what} at {literal(run.route.label(i))}" for i, what in missing]
            cost = 15.0 + len(missing)
            opened = _with_access(run, missing)
            text = say("make room for " + " and for ".join(where))
            yield from _change("access", text, cost, opened, practice)


def _with_access(run: Run, missing: Iterable[tuple[int, str]]) -> Run:
    vertices = list(run.route.vertices)
    for i, what in missing:
        vertices[i] = replace(vertices[i], access=vertices[i].access | {what})
    return replace(run, route=replace(run.route, vertices=tuple(vertices)))


def _radii(run: Run, practice: Practice) -> Iterator[Change]:
    """The least radius that makes the run pass, at each single one of the worst bends."""
    path = route_path(run.route)
    numbers = {int(k): number for number, k in enumerate(np.flatnonzero(path.kind == ARC), 1)}
    for segment in _worst_bends(run, practice, path):
        number, vertex = numbers[segment], int(path.vertex[segment])
        radius = _least_radius(run, practice, path, vertex)
        if radius is None:
            continue
        given = run.route.vertices[vertex].bend
        safe = literal(run.route.bend_label(number, vertex))
        text = say(f"make {safe} {{}} instead of {{}}", (radius, "radius"), (given, "radius"))
        cost = 20.0 + radius / given / 10
        yield from _change("radius", text, cost, with_radius(run, vertex, radius), practice)


def _worst_bends(run: Run, practice: Practice, path: Path) -> list[int]:
    """Segments of the bends of highest sidewall pressure, taken in turn from both directions.

    In route order: all of them on a short run, twelve on one of up to fifty bends, then fewer.
    """
    arcs = np.flatnonzero(path.kind == ARC)
    most = max(1, min(_MOST_BENDS, _MOST_BENDS_SOLVED // max(len(arcs), 1)))
    if len(arcs) <= most:
        return [int(i) for i in arcs]
    fits, ranked = run_fits(run), []
    for reverse in (False, True):
        pull = solve_pull(run, practice, reverse=reverse, path=path, fits=fits)
        peaks = pull.profile.sidewall[pull.worst_rows]
        ranked.append(arcs[np.argsort(-peaks[arcs], kind="stable")])
    in_turn = dict.fromkeys(int(i) for i in np.column_stack(ranked).ravel())
    return sorted(list(in_turn)[:most])


def _least_radius(run: Run, practice: Practice, path: Path, vertex: int) -> float | None:
    given = run.route.vertices[vertex].bend
    bend = int(np.flatnonzero(path.vertex == vertex)[0])

    def at(radius: float) -> bool:
        return _passes(with_radius(run, vertex, radius), practice)

    largest = min(largest_radius(path, bend, leg_rooms(path)), given * _LARGEST_RADIUS_FACTOR)
    if largest <= given or not at(largest):
        return None
    low, high = given, largest
    while high - low > _FINE * high:
        middle = (low + high) / 2
        low, high = (low, middle) if at(middle) else (middle, high)
    return min(high + _PRINTED, largest)


def with_radius(run: Run, vertex: int, radius: float) -> Run:
    """The run with another bend radius at one vertex."""
    vertices = list(run.route.vertices)
    vertices[vertex] = replace(vertices[vertex], bend=radius)
    return replace(run, route=replace(run.route, vertices=tuple(vertices)))
