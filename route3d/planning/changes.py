"""Where neither end will do: single changes to the route or the pull that make it pass.

Every change is found by solving the run again with it, never by scaling a result.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import combinations, pairwise

import numpy as np

from route3d.checks.run import check_pull
from route3d.errors import GeometryError
from route3d.geometry.path import ARC
from route3d.geometry.route_path import route_path, sub_route
from route3d.mechanics.pull import Pull, run_fits, solve_pull, with_friction
from route3d.model.practice import Practice
from route3d.model.run import Run
from route3d.phrase import Phrase, say

# Bisection stops at this share: a radius to 1 %, a friction to 1 %.
_FINE = 0.01
# Below a fifth of the given friction no lubricant brings it (common practice, no source).
_LEAST_FRICTION = 0.2
_LARGEST_RADIUS_FACTOR = 10.0
# Splits are tried with up to this many set-ups; a full search is the plan's work.
_MOST_SPLITS = 3


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

    Cheapest means: a little less friction, then a split at a pull point that is there anyway, then
    one larger bend, then much less friction (common practice, no source).
    """
    found = [*_friction(run, practice), *_splits(run, practice), *_radii(run, practice)]
    return tuple(sorted(found, key=lambda c: c.cost))


def _passes(run: Run, practice: Practice) -> bool:
    try:
        return bool(passing_directions(run, practice))
    except GeometryError:
        return False


def _friction(run: Run, practice: Practice) -> Iterator[Change]:
    def at(factor: float) -> bool:
        return _passes(with_friction(run, factor), practice)

    if not at(_LEAST_FRICTION):
        return
    factor = _largest_passing(at, _LEAST_FRICTION, 1.0)
    worst = max(c.friction for c in run.route.conduits) * factor
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


def _largest_passing(ok: Callable[[float], bool], low: float, high: float) -> float:
    """Largest value that passes, to one percent; ``low`` passes and ``high`` does not."""
    while high - low > _FINE * high:
        middle = (low + high) / 2
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
                safe = names.replace("{", "{{").replace("}", "}}")
                text = say(f"split the run at {safe}: {count + 1} pulls, each within its limits")
                yield Change("split", text, 10.0 * count)
                return


def _radii(run: Run, practice: Practice) -> Iterator[Change]:
    """The least radius at each single bend that makes the run pass."""
    path = route_path(run.route)
    for number, segment in enumerate(np.flatnonzero(path.kind == ARC), start=1):
        vertex = int(path.vertex[segment])
        radius = _least_radius(run, practice, vertex)
        if radius is None:
            continue
        given = run.route.vertices[vertex].bend
        name = run.route.vertices[vertex].name
        at = f"bend {number}" + (f" at {name}" if name else "")
        safe = at.replace("{", "{{").replace("}", "}}")
        yield Change(
            "radius",
            say(f"make {safe} {{}} instead of {{}}", (radius, "radius"), (given, "radius")),
            20.0 + radius / given / 10,
        )


def _least_radius(run: Run, practice: Practice, vertex: int) -> float | None:
    given = run.route.vertices[vertex].bend

    def at(radius: float) -> bool:
        return _passes(with_radius(run, vertex, radius), practice)

    high = _largest_that_fits(run, vertex, given * _LARGEST_RADIUS_FACTOR)
    if high <= given or not at(high):
        return None
    low = given
    while high - low > _FINE * high:
        middle = (low + high) / 2
        low, high = (low, middle) if at(middle) else (middle, high)
    return high


def with_radius(run: Run, vertex: int, radius: float) -> Run:
    """The run with another bend radius at one vertex."""
    vertices = list(run.route.vertices)
    vertices[vertex] = replace(vertices[vertex], bend=radius)
    return replace(run, route=replace(run.route, vertices=tuple(vertices)))


def _largest_that_fits(run: Run, vertex: int, wanted: float) -> float:
    """``wanted``, or the largest radius at this vertex that leaves room for its neighbours."""
    for _ in range(3):
        try:
            route_path(with_radius(run, vertex, wanted).route)
        except GeometryError as error:
            if error.largest_radius is None or vertex not in error.vertices:
                return 0.0
            wanted = min(wanted, error.largest_radius) * (1 - 1e-9)
        else:
            return wanted
    return 0.0
