"""Routes that make a path: what does not fit is taken out or apart there, and told.

One bad place of a file must not cost the other routes, nor the rest of its own. A point given twice
is dropped; a bend too large for its legs becomes a sharp corner; a route that folds back on itself
goes on as its next part. Each is an ``Element``.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np

from route3d.errors import GeometryError
from route3d.formats.exchange import Element, ExchangeRoute, counted
from route3d.geometry.fillet import COINCIDENT, FOLD, STRAIGHT_TURN
from route3d.geometry.smooth_curves import FEWEST_IN_ROW, chord_points, implied_radii
from route3d.geometry.vectors import Floats, angle_between, norm, unit

# What is said of a corner for which the file gives no radius.
TURNS = "turns without a radius"
_PART = re.compile(r"( part \d+ of \d+)+$")


def sound_routes(
    routes: Sequence[ExchangeRoute],
) -> tuple[tuple[ExchangeRoute, ...], tuple[Element, ...], tuple[str, ...]]:
    """Routes of which each makes a path; elements for what was wrong; sentences on points dropped.

    A route of which no two points are apart is left out.
    """
    kept: list[ExchangeRoute] = []
    told: list[Element] = []
    said: list[str] = []
    for route in routes:
        once, dropped = _without_doubles(route)
        if dropped:
            said.append(f"{route.name}: {counted(dropped, 'repeated point')} dropped")
        if once is None:
            told.append(Element("", "route", "missing", "has no length", route.name))
            continue
        folds = np.flatnonzero(turns_of(once.points) > FOLD).tolist()
        for part in in_parts(once, folds):
            fits, lost = with_fitting_bends(part)
            kept.append(fits)
            told += lost
        for i in folds:
            reason = "the route folds back on itself; it goes on as its next part"
            told.append(corner_element(once, i, "broken", reason))
    return tuple(kept), tuple(told), tuple(said)


def turns_of(points: Floats) -> Floats:
    """The turn at each point, rad, 0 at the ends, and everywhere where two neighbors coincide."""
    result = np.zeros(len(points))
    legs = np.diff(points, axis=0)
    if (norm(legs) > 0).all():
        ways = unit(legs)
        result[1:-1] = angle_between(ways[:-1], ways[1:])
    return result


def whole_name(name: str) -> str:
    """The name of the run that a part is of: "F1" for "F1 part 1 of 2".

    >>> whole_name("F1 part 1 of 2"), whole_name("F1")
    ('F1', 'F1')
    """
    return _PART.sub("", name)


def in_parts(route: ExchangeRoute, at: Collection[int]) -> list[ExchangeRoute]:
    """The route cut at points that lie between its ends, each part named by its number.

    The points where it is cut are named "break 1" and so on, but those with names of their own.
    """
    last = len(route.points) - 1
    cuts = [0, *sorted({i for i in at if 0 < i < last}), last]
    if len(cuts) == 2:
        return [route]
    count = len(cuts) - 1
    names = list(route.names)
    for number, i in enumerate(cuts[1:-1], 1):
        names[i] = names[i] or f"break {number}"
    parts = []
    for number, (first, end) in enumerate(pairwise(cuts), 1):
        span = slice(first, end + 1)
        radii = route.radii[span].copy()
        radii[[0, -1]] = 0.0
        parts.append(
            replace(
                route,
                name=f"{route.name} part {number} of {count}",
                points=route.points[span],
                radii=radii,
                names=tuple(names[span]),
                access=route.access[span],
                conduit=route.conduits[first],
                changes=("", *route.changes[first + 1 : end + 1]),
                boxes=route.boxes[span],
                diameters=route.leg_diameters[first:end],
            )
        )
    return parts


def with_fitting_bends(
    route: ExchangeRoute, first: Collection[int] = ()
) -> tuple[ExchangeRoute, tuple[Element, ...]]:
    """The route with bends that do not fit made sharp corners, and those told.

    Of two bends without room between them the larger one goes, those ``first`` before others.
    """
    told: list[Element] = []
    while True:
        try:
            route.path()
        except GeometryError as error:
            bent = [i for i in error.vertices if route.radii[i] > 0]
            if not bent:
                raise
            half = np.tan(turns_of(route.points)[bent] / 2)
            worst = bent[int(np.argmax(route.radii[bent] * half + 1e9 * np.isin(bent, [*first])))]
            reason = (
                f"a bend of {route.radii[worst]:.4g} m does not fit: {error.problems[0].message}"
            )
            if error.largest_radius is not None:
                reason += f"; {error.problems[0].fix}"
            told.append(corner_element(route, worst, "sharp", reason))
            radii = route.radii.copy()
            radii[worst] = 0.0
            route = replace(route, radii=radii)
        else:
            return route, tuple(told)


def sharp_corners(route: ExchangeRoute) -> list[int]:
    """Indices of the points that turn without a radius and are no pull points.

    Short chords of a bend or a smooth curve are none: their radius is that of the curve.
    """
    turning = (turns_of(route.points) > STRAIGHT_TURN) & (route.radii == 0)
    if int(turning.sum()) >= FEWEST_IN_ROW:
        turning &= ~chord_points(route.points)
    return [int(i) for i in np.flatnonzero(turning) if not route.access[i]]


def with_implied_radii(route: ExchangeRoute) -> ExchangeRoute:
    """The route with radii at the chords of its smooth curves, which keep their points."""
    implied = implied_radii(route.points)
    open_ = (route.radii == 0) & np.array([not access for access in route.access])
    return replace(route, radii=np.where(open_, implied, route.radii))


def corner_element(route: ExchangeRoute, i: int, state: str, said: str) -> Element:
    """The element of one point of a route."""
    x, y, z = route.points[i].tolist()
    name = route.names[i] or f"point {i + 1}"
    return Element("", "corner", state, said, name, route.name, (x, y, z))


def _without_doubles(route: ExchangeRoute) -> tuple[ExchangeRoute | None, int]:
    """The route less points that repeat the one before; what is told of them stays with it."""
    apart = norm(np.diff(route.points, axis=0)) >= COINCIDENT
    if apart.all():
        return route, 0
    dropped = int((~apart).sum())
    keep: list[int] = [0]
    names, access = list(route.names), list(route.access)
    changes, boxes = list(route.changes), list(route.boxes)
    radii, conduits = route.radii.copy(), route.conduits
    for i, far in enumerate(apart.tolist(), 1):
        if far and float(norm(route.points[i] - route.points[keep[-1]])) >= COINCIDENT:
            keep.append(i)
            continue
        at = keep[-1]
        names[at], access[at] = names[at] or names[i], access[at] | access[i]
        boxes[at], changes[at] = boxes[at] or boxes[i], changes[i] or changes[at]
        radii[at] = max(radii[at], radii[i])
    if len(keep) < 2:
        return None, dropped
    sizes = route.leg_diameters
    last = len(sizes) - 1
    made = replace(
        route,
        points=route.points[keep],
        radii=np.array([0.0, *radii[keep[1:-1]], 0.0]),
        names=tuple(names[i] for i in keep),
        access=tuple(access[i] for i in keep),
        conduit=conduits[keep[1] - 1],
        changes=("", *(changes[i] for i in keep[1:])),
        boxes=tuple(boxes[i] for i in keep),
        diameters=tuple(sizes[min(i, last)] for i in keep[:-1]),
    )
    return made, dropped
