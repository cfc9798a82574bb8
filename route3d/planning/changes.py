"""Where neither end will do: single changes to the route or the pull that make it pass.

Every change is found by solving the run again with it, never by scaling a result.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import combinations, pairwise

import numpy as np

from route3d.checks.run import check_pull
from route3d.errors import InputError
from route3d.geometry.path import ARC, STRAIGHT, Path
from route3d.geometry.route_path import route_path, sub_route
from route3d.mechanics.pull import Pull, run_fits, solve_pull, with_friction
from route3d.model.practice import Practice
from route3d.model.run import Run
from route3d.phrase import Phrase, literal, say

# Bisection of a radius stops at this share of it.
_FINE = 0.01
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
    fits = run_fits(run)
    path = route_path(run.route)
    return tuple(
        reverse
        for reverse in (False, True)
        if _serves(pull := solve_pull(run, practice, reverse=reverse, path=path, fits=fits))
        and not any(f.severity == "stop" for f in check_pull(pull))
    )


def _serves(pull: Pull) -> bool:
    vertices = pull.run.route.vertices
    return "reel" in vertices[pull.feed].access and "machine" in vertices[pull.pull].access


def changes(run: Run, practice: Practice) -> tuple[Change, ...]:
    """Single changes after which the run passes, cheapest first.

    Cheapest means: another attachment or brake, then a little less friction, then a split at a
    pull point that is there anyway, then one larger bend, then much less friction (common
    practice, no source).
    """
    found = [
        *_eyes(run, practice),
        *_brake(run, practice),
        *_friction(run, practice),
        *_splits(run, practice),
        *_radii(run, practice),
    ]
    return tuple(sorted(found, key=lambda c: c.cost))


def _passes(run: Run, practice: Practice) -> bool:
    try:
        return bool(passing_directions(run, practice))
    except InputError:  # the change makes no path, or no end to the tension
        return False


def _eyes(run: Run, practice: Practice) -> Iterator[Change]:
    """Pulling eyes on the conductors in place of a basket grip."""
    if run.attach == "basket grip" and _passes(replace(run, attach="pulling eyes"), practice):
        yield Change("attach", say("pull on pulling eyes instead of a basket grip"), 0.0)


def _brake(run: Run, practice: Practice) -> Iterator[Change]:
    """The reel held as lightly as the route allows, in place of the tension given."""
    if run.reel_tension is not None and _passes(replace(run, reel_tension=None), practice):
        text = say('hold the reel only as the route asks (reel_tension = "auto")')
        yield Change("brake", text, 0.0)


def _friction(run: Run, practice: Practice) -> Iterator[Change]:
    def at(percent: int) -> bool:
        return _passes(with_friction(run, percent / 100), practice)

    if not at(_LEAST_FRICTION):
        return
    factor = _largest_passing(at, _LEAST_FRICTION, 100) / 100
    worst = max(c.friction for c in run.route.conduits) * factor
    worst = np.floor(100 * worst + 1e-9) / 100  # as it is printed, on the safe side
    small = factor > 0.8
    yield Change(
        "friction",
        say(
            "bring friction down to {} of the figures given (a coefficient of {} where it is "
            "highest): more or better lubricant",
            (factor, "percent"),
            (worst, "ratio"),
        ),
        1.0 - factor if small else 30.0 - factor,
    )


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
    known: dict[tuple[int, int], bool] = {}

    def section(span: tuple[int, int]) -> bool:
        if span not in known:
            part = replace(run, route=sub_route(run.route, *span))
            known[span] = _passes(part, practice)
        return known[span]

    for count in range(1, min(len(points), _MOST_SPLITS) + 1):
        for cut in combinations(points, count):
            if all(section(span) for span in pairwise((ends[0], *cut, ends[1]))):
                names = " and ".join(run.route.label(i) for i in cut)
                safe = literal(names)
                text = say(f"split the run at {safe}: {count + 1} pulls, each within its limits")
                yield Change("split", text, 10.0 * count)
                return


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
        yield Change(
            "radius",
            say(f"make {safe} {{}} instead of {{}}", (radius, "radius"), (given, "radius")),
            20.0 + radius / given / 10,
        )


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

    def at(radius: float) -> bool:
        return _passes(with_radius(run, vertex, radius), practice)

    largest = min(_largest_that_fits(path, vertex), given * _LARGEST_RADIUS_FACTOR)
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


def _largest_that_fits(path: Path, vertex: int) -> float:
    """The largest radius at a bend that leaves room for its neighbours, m."""
    bend = int(np.flatnonzero(path.vertex == vertex)[0])
    half = float(np.tan(path.angles[bend] / 2))
    straight = path.kind == STRAIGHT
    room = min(path.lengths[straight & (path.leg == leg)].sum() for leg in (vertex - 1, vertex))
    return (float(path.radii[bend]) + float(room) / half) * (1 - 1e-9)
