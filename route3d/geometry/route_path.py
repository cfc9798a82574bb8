"""The path of a route: its vertices filleted, its pull points allowed to turn sharply."""

from __future__ import annotations

import numpy as np

from route3d.geometry.fillet import fillet
from route3d.geometry.path import Path
from route3d.geometry.schedule import ScheduledBend, bend_schedule
from route3d.model.route import Route


def route_path(route: Route) -> Path:
    """The centerline of a whole route as one Path; ``path.leg`` indexes ``route.conduits``.

    Raises GeometryError with the vertices at fault.
    """
    return fillet(
        [v.point for v in route.vertices],
        [v.bend for v in route.vertices],
        names=[v.name for v in route.vertices],
        corners=route.pull_points,
    )


def pull_stations(route: Route, path: Path) -> tuple[float, ...]:
    """Stations (m) of the pull points between the ends of a route with this ``path``."""
    first = np.searchsorted(path.leg, route.pull_points)
    return tuple(path.stations[first].tolist())


def route_schedule(route: Route, path: Path) -> tuple[ScheduledBend, ...]:
    """The bends of a route; straights reach to its pull points."""
    return bend_schedule(path, pull_stations(route, path))


def sub_route(route: Route, first: int, last: int) -> Route:
    """The part of a route from vertex ``first`` to vertex ``last``, both pull points or ends."""
    return Route(route.vertices[first : last + 1], route.conduits[first:last])
