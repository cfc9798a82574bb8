"""The path of a route: its vertices filleted, its pull points allowed to turn sharply."""

from __future__ import annotations

from route3d.geometry.fillet import fillet
from route3d.geometry.path import Path
from route3d.model.route import Route


def route_path(route: Route) -> Path:
    """The centreline of a whole route as one Path; ``path.leg`` indexes ``route.conduits``.

    Raises GeometryError with the vertices at fault.
    """
    return fillet(
        [v.point for v in route.vertices],
        [v.bend for v in route.vertices],
        names=[v.name for v in route.vertices],
        corners=route.pull_points,
    )


def sub_route(route: Route, first: int, last: int) -> Route:
    """The part of a route from vertex ``first`` to vertex ``last``, both pull points or ends."""
    return Route(route.vertices[first : last + 1], route.conduits[first:last])
