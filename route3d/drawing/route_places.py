"""What stands along a route on the axis of a chart: bends by number, points by name."""

from __future__ import annotations

import numpy as np

from route3d.drawing.charts import Band, Place
from route3d.geometry.fillet import pull_stations
from route3d.geometry.path import ARC, Path
from route3d.model.route import Route
from route3d.units import convert

# Numbers beside each other in a chart of a usual width; more bends than this go without.
_MOST_BANDS = 60


def numbered_bends(path: Path, units: str) -> tuple[Band, ...]:
    """The bends from the first of the route, by number; none where there are too many to number."""
    arcs = np.flatnonzero(path.kind == ARC)
    if len(arcs) > _MOST_BANDS:
        return ()
    ends = np.column_stack((path.stations[arcs], path.stations[arcs + 1]))
    ends = ends * convert(1.0, "length", units)
    return tuple((float(a), float(b), str(n)) for n, (a, b) in enumerate(ends, start=1))


def named_points(
    route: Route, path: Path, units: str, *, feed: int | None = None, pull: int | None = None
) -> tuple[Place, ...]:
    """The ends of a route and the pull points between them, in order.

    The end that feeds and the one that pulls are called so, where they are given.
    """
    words = {feed: "feed: ", pull: "pull: "}
    vertices = (0, *route.pull_points, len(route.vertices) - 1)
    stations = (0.0, *pull_stations(route, path), path.length)
    return tuple(
        (convert(station, "length", units), words.get(vertex, "") + route.label(vertex))
        for vertex, station in zip(vertices, stations, strict=True)
    )
