"""Changes to a route to try: vertices moved."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

import numpy as np

from route3d.geometry.vectors import Floats
from route3d.model.route import Route
from route3d.model.run import Run

# A vertex moved further than this, or by more than this share of a leg, makes another route
# (common practice, no source).
FARTHEST = 8.0  # m
_SHARE_OF_LEG = 0.45
# Moves are tried in these steps, then halved down to the last.
_STEPS = (1.0, 3.0, FARTHEST)
_FINE = 0.03
# The new place is printed to 0.1 ft or 1 cm: half a step in all three coordinates more, so that
# what is printed passes too.
_PRINTED = 0.03


@dataclass(frozen=True, slots=True)
class Way:
    """A way to move a vertex: in words, its unit vector, and the farthest to go, m."""

    words: str
    direction: tuple[float, float, float]
    farthest: float


def ways(route: Route, vertex: int) -> Iterator[Way]:
    """The ways a bend's vertex may be moved: along both legs, across the bend, up and down."""
    at = [np.array(route.vertices[i].point) for i in (vertex - 1, vertex, vertex + 1)]
    before, after = at[1] - at[0], at[2] - at[1]
    legs = float(np.linalg.norm(before)), float(np.linalg.norm(after))
    names = route.label(vertex - 1), route.label(vertex + 1)
    near = _SHARE_OF_LEG * min(legs)
    along, on = before / legs[0], after / legs[1]
    yield from (
        _way(f"toward {names[0]}", -along, _SHARE_OF_LEG * legs[0]),
        _way(f"away from {names[0]}", along, FARTHEST),
        _way(f"toward {names[1]}", on, _SHARE_OF_LEG * legs[1]),
        _way(f"away from {names[1]}", -on, FARTHEST),
        _way("to the inside of the bend", (on - along) / np.linalg.norm(on - along), near),
        _way("to the outside of the bend", (along - on) / np.linalg.norm(on - along), near),
    )
    for words, z in (("up", 1.0), ("down", -1.0)):
        if max(abs(along[2]), abs(on[2])) < 1 - 1e-6:  # else the ways along the legs are these
            yield _way(words, np.array([0.0, 0.0, z]), near)


def _way(words: str, direction: Floats, farthest: float) -> Way:
    x, y, z = direction.tolist()
    return Way(words, (x, y, z), min(farthest, FARTHEST))


def moved(run: Run, vertex: int, way: Way, distance: float) -> Run:
    """The run with one vertex moved by ``distance`` m."""
    vertices = list(run.route.vertices)
    x, y, z = (p + distance * d for p, d in zip(vertices[vertex].point, way.direction, strict=True))
    vertices[vertex] = replace(vertices[vertex], point=(x, y, z))
    return replace(run, route=replace(run.route, vertices=tuple(vertices)))


def least_move(way: Way, passes: Callable[[float], bool]) -> float | None:
    """The shortest move that passes, m, as it is printed; None where no step does."""
    low = 0.0
    for step in (*(s for s in _STEPS if s < way.farthest), way.farthest):
        if passes(step):
            high = step
            break
        low = step
    else:
        return None
    while high - low > _FINE:
        half = (low + high) / 2
        low, high = (low, half) if passes(half) else (half, high)
    return min(high + _PRINTED, way.farthest)
