"""Changes to a route to try: vertices moved, pull points added."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from route3d.geometry.path import STRAIGHT, Path
from route3d.model.route import Route, Vertex
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
# A pull point keeps this clear of a bend, so that a box finds room (common practice, no source).
CLEAR = 1.0  # m
_NEW = "new pull point"


# --- pull points ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class NewPoint:
    """A place for a pull point: its station (m), the leg it is on, and where it is, m."""

    station: float
    leg: int
    point: tuple[float, float, float]


def places(path: Path, *, middles_only: bool = False) -> list[NewPoint]:
    """Places for a pull point on the straights of a path, in order.

    In the middle of each straight that has room for a box, and on a long one near both ends too.
    """
    found: list[NewPoint] = []
    for i in np.flatnonzero((path.kind == STRAIGHT) & (path.lengths >= 2 * CLEAR)):
        start, length = float(path.stations[i]), float(path.lengths[i])
        stations = [start + length / 2]
        if length >= 6 * CLEAR and not middles_only:
            stations = [start + CLEAR, *stations, start + length - CLEAR]
        for station in stations:
            x, y, z = path.point(station).tolist()
            found.append(NewPoint(station, int(path.leg[i]), (x, y, z)))
    return found


def thinned(points: Sequence[NewPoint], most: int) -> list[NewPoint]:
    """At most so many of the places, evenly taken."""
    if len(points) <= most:
        return list(points)
    return [points[math.floor(k * len(points) / most)] for k in range(most)]


def with_points(run: Run, points: Sequence[NewPoint]) -> tuple[Run, tuple[int, ...]]:
    """The run with pull points added, and their vertex numbers in it; splices are left out."""
    vertices, conduits = list(run.route.vertices), list(run.route.conduits)
    ordered = sorted(points, key=lambda p: p.station)
    named = sum(v.name.startswith(_NEW) for v in vertices)
    for number, new in reversed(list(enumerate(ordered, named + 1))):
        access = frozenset({"reel", "machine"})
        vertices.insert(new.leg + 1, Vertex(new.point, f"{_NEW} {number}", access=access))
        conduits.insert(new.leg, conduits[new.leg])
    numbers = tuple(new.leg + 1 + shift for shift, new in enumerate(ordered))
    route = Route(tuple(vertices), tuple(conduits))
    return replace(run, route=route, splices=frozenset()), numbers
