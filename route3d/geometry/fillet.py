"""From points and bend radii to a path: every corner rounded by the arc tangent to both legs."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from typing import SupportsIndex

import numpy as np
from numpy.typing import ArrayLike, NDArray

from route3d.errors import GeometryError
from route3d.geometry.bend_schedule import ScheduledBend, bend_schedule
from route3d.geometry.path import ARC, CORNER, STRAIGHT, Path
from route3d.geometry.vectors import Floats, angle_between, norm, unit
from route3d.model.route import Route

# Points closer than this coincide: a thousandth of a millimeter, far below any survey.
COINCIDENT = 1e-6
# Turns below this are straight: 0.01 degree moves a 100 m leg by 17 mm, less than a duct wanders.
STRAIGHT_TURN = np.radians(0.01)
# Turns within this of 180 degrees fold the conduit back on itself.
FOLD = np.radians(179.9)
# Tangents may overlap by rounding of survey coordinates, never by more.
OVERLAP = 1e-9
# Straights shorter than this are joints between two tangent bends.
SHORTEST = 1e-9


def fillet(
    points: ArrayLike,
    radii: ArrayLike,
    *,
    names: Sequence[str] | None = None,
    corners: Collection[int] = (),
) -> Path:
    """Round the corners of a polyline and return the Path of straights and arcs.

    ``points`` is (N, 3) in m; ``radii`` (N,) the centerline bend radius at each point in m, ends
    and straight-through points 0. ``names`` are used in messages. ``corners`` are the vertices
    that may turn without a radius (pull points).

    A bend of angle φ and radius R takes R tan(φ/2) off both legs.

    Parameters
    ----------
    points : array_like, shape (N, 3)
        Vertices, m.
    radii : array_like, shape (N,)
        Centerline bend radius at each vertex, m; 0 at ends and where the line goes straight
        on.
    names : sequence of str, length N, optional
        For messages.
    corners : collection of int
        Vertices that may turn without a radius (pull points).

    Returns
    -------
    Path
        Straights and tangent arcs, exact.

    Raises
    ------
    GeometryError
        Naming the vertices: for coincident points, a turn without a radius, a fold of 180
        degrees, and tangents that overlap, with the largest radius that fits.
    ValueError
        For arrays of other shapes.

    References
    ----------
    docs/theory.md section 14.
    """
    p = np.array(points, dtype=np.float64)
    r = np.array(radii, dtype=np.float64)
    if p.ndim != 2 or p.shape[1] != 3 or len(p) < 2 or r.shape != (len(p),):
        raise ValueError(
            f"points must be (N, 3) with N >= 2, and radii (N,), not {p.shape} and {r.shape}"
        )
    label = _Labels(names)
    _refuse_bad_numbers(p, r, label)
    legs = np.diff(p, axis=0)
    leg_lengths = norm(legs)
    _refuse_coincident(leg_lengths, label)
    directions = unit(legs)
    turns = np.zeros(len(p))
    turns[1:-1] = angle_between(directions[:-1], directions[1:])
    bent = _bent_vertices(turns, r, corners, label)
    setback = np.where(bent, r * np.tan(np.where(bent, turns, 0.0) / 2), 0.0)
    _refuse_overlap(leg_lengths, setback, turns, r, label)
    return _assemble(p, directions, leg_lengths, setback, turns, r, bent)


class _Labels:
    """Names of vertices for messages: the given name, else its number from 1."""

    def __init__(self, names: Sequence[str] | None) -> None:
        self._names = names

    def __call__(self, index: SupportsIndex) -> str:
        index = int(index)
        name = self._names[index] if self._names is not None else ""
        return name or f"point {index + 1}"


def _refuse_bad_numbers(p: Floats, r: Floats, label: _Labels) -> None:
    for i in np.flatnonzero(~np.isfinite(p).all(axis=1)):
        raise GeometryError(f"{label(i)} has a coordinate that is not finite", vertices=(int(i),))
    for i in np.flatnonzero(~np.isfinite(r) | (r < 0)):
        raise GeometryError(
            f"{label(i)} has the bend radius {r[i]:g} m",
            vertices=(int(i),),
            fix="enter a positive radius, or none for a straight",
        )


def _refuse_coincident(leg_lengths: Floats, label: _Labels) -> None:
    for i in np.flatnonzero(leg_lengths < COINCIDENT):
        raise GeometryError(
            f"{label(i)} and {label(i + 1)} are the same point",
            vertices=(int(i), int(i) + 1),
            fix="remove one of them",
        )


def _bent_vertices(
    turns: Floats, r: Floats, corners: Collection[int], label: _Labels
) -> NDArray[np.bool_]:
    turning = turns > STRAIGHT_TURN
    for i in np.flatnonzero(turns > FOLD):
        raise GeometryError(
            f"the route folds back on itself at {label(i)} (a turn of {np.degrees(turns[i]):.1f}°)",
            vertices=(int(i),),
            fix="add a point, so that the turn is made of two bends",
        )
    for i in np.flatnonzero(turning & (r == 0)):
        if i not in corners:
            raise GeometryError(
                f"{label(i)} turns {np.degrees(turns[i]):.1f}° without a bend radius",
                vertices=(int(i),),
                fix="enter its bend radius",
            )
    bent: NDArray[np.bool_] = turning & (r > 0)
    return bent


def _refuse_overlap(
    leg_lengths: Floats, setback: Floats, turns: Floats, r: Floats, label: _Labels
) -> None:
    """Name the leg that is short the most, and the largest radius that fits at its larger bend."""
    missing = setback[:-1] + setback[1:] - leg_lengths
    if not (missing > OVERLAP * np.maximum(1.0, leg_lengths)).any():
        return
    leg = int(np.argmax(missing))
    pair = (leg, leg + 1)
    worst = max(pair, key=lambda i: setback[i])
    other = pair[0] if worst == pair[1] else pair[1]
    largest: float | None
    room = leg_lengths[leg] - setback[other]
    needed = setback[leg] + setback[leg + 1]
    if room > 0:
        largest = float(room / np.tan(turns[worst] / 2))
        fix = f"the maximum radius that fits at {label(worst)} is {_millimeters(largest)} m"
    else:  # even without the larger bend the other one does not fit: shrink both alike
        largest = None
        a, b = (f"{_millimeters(r[i] * leg_lengths[leg] / needed)} m" for i in pair)
        fix = f"neither fits alone; {a} at {label(pair[0])} with {b} at {label(pair[1])} fits"
    said = f"the bends at {label(pair[0])} and {label(pair[1])} need {needed:.3f} m of straight "
    said += "between them"
    if setback[other] == 0:  # the end of the route, or a point that does not bend
        said = f"the bend at {label(worst)} needs {needed:.3f} m of straight to {label(other)}"
    raise GeometryError(
        f"{said}; available {leg_lengths[leg]:.3f} m",
        vertices=pair,
        largest_radius=largest,
        fix=fix,
    )


def _millimeters(radius: float) -> str:
    """A radius in m to the millimeter, never rounded up: what is printed must fit."""
    return f"{math.floor(radius * 1000) / 1000:.3f}"


def _assemble(
    p: Floats,
    directions: Floats,
    leg_lengths: Floats,
    setback: Floats,
    turns: Floats,
    r: Floats,
    bent: NDArray[np.bool_],
) -> Path:
    """Interleave leg straights and vertex bends: straight 0, bend 1, straight 1, bend 2, ..."""
    legs = len(leg_lengths)
    turning = (turns > STRAIGHT_TURN)[1:-1]
    arc = bent[1:-1]
    kind = np.full(2 * legs - 1, STRAIGHT, dtype=np.int8)
    kind[1::2] = np.where(arc, ARC, np.where(turning, CORNER, STRAIGHT))
    lengths = np.empty(2 * legs - 1)
    lengths[0::2] = np.maximum(leg_lengths - setback[:-1] - setback[1:], 0.0)
    lengths[1::2] = np.where(arc, (r * turns)[1:-1], 0.0)
    angles = np.zeros(2 * legs - 1)
    angles[1::2] = np.where(turning, turns[1:-1], 0.0)
    starts = np.empty((2 * legs - 1, 3))
    starts[0::2] = p[:-1] + setback[:-1, None] * directions
    starts[1::2] = p[1:-1] - setback[1:-1, None] * directions[:-1]
    tangents = np.empty((2 * legs - 1, 3))
    tangents[0::2] = directions
    tangents[1::2] = directions[:-1]
    normals = np.zeros((2 * legs - 1, 3))
    normals[1::2] = _normals(directions, turning)
    vertex = np.full(2 * legs - 1, -1)
    vertex[1::2] = np.where(turning, np.arange(1, legs), -1)
    leg = np.empty(2 * legs - 1, dtype=np.int64)
    leg[0::2] = np.arange(legs)
    leg[1::2] = np.arange(1, legs)
    keep = (lengths > SHORTEST) | (kind == CORNER)
    return Path(*(a[keep] for a in (kind, lengths, angles, starts, tangents, normals, vertex, leg)))


def _normals(directions: Floats, turning: NDArray[np.bool_]) -> Floats:
    """Unit normal at the start of each bend: the second direction less its part along the first.

    Taken by way of the difference b - a, which keeps its digits for small turns.
    """
    a, b = directions[:-1], directions[1:]
    difference = b - a
    across = difference - np.einsum("ij,ij->i", difference, a)[:, None] * a
    length = np.where(turning, norm(across), 1.0)[:, None]
    return np.where(turning[:, None], across / length, 0.0)


# --- the path of a route: its vertices filleted, its pull points allowed to turn sharply ----


def route_path(route: Route) -> Path:
    """The centerline of a whole route as one Path; ``path.leg`` indexes ``route.conduits``.

    Parameters
    ----------
    route : Route
        The route.

    Returns
    -------
    Path
        The centerline.

    Raises
    ------
    GeometryError
        As `fillet` does.
    """
    return fillet(
        [v.point for v in route.vertices],
        [v.bend for v in route.vertices],
        names=[v.name for v in route.vertices],
        corners=route.pull_points,
    )


def pull_stations(route: Route, path: Path) -> tuple[float, ...]:
    """Stations (m) of the pull points between the ends of a route with this ``path``.

    Parameters
    ----------
    route : Route
        The route.
    path : Path
        The centerline, n segments.

    Returns
    -------
    tuple of float
        m
    """
    first = np.searchsorted(path.leg, route.pull_points)
    return tuple(path.stations[first].tolist())


def route_schedule(route: Route, path: Path) -> tuple[ScheduledBend, ...]:
    """The bends of a route; straights reach to its pull points.

    Parameters
    ----------
    route : Route
        The route.
    path : Path
        The centerline, n segments.

    Returns
    -------
    tuple of ScheduledBend
        As `bend_schedule`.
    """
    return bend_schedule(path, pull_stations(route, path))


def sub_route(route: Route, first: int, last: int) -> Route:
    """The part of a route from vertex ``first`` to vertex ``last``, both pull points or ends.

    Parameters
    ----------
    route : Route
        The route.
    first, last : int
        Vertex numbers.

    Returns
    -------
    Route
        Vertices from first to last.
    """
    return Route(route.vertices[first : last + 1], route.conduits[first:last])
