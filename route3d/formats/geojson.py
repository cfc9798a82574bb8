"""Routes from and to GeoJSON: lines in degrees (RFC 7946), or on a projected or local grid."""

from __future__ import annotations

import json
import math
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from route3d.disk import read_text, write_text_atomic
from route3d.formats.exchange import (
    MOST_POINTS,
    Box,
    ExchangeRoute,
    ImportedRoutes,
    ReadOptions,
    bad_file,
    counted,
    placed,
    refuse_empty,
    without_doubles,
)
from route3d.geometry.vectors import Floats
from route3d.model.site import GRID, Frame
from route3d.modelfile.fields import brief
from route3d.units import METERS

# As Python objects, JSON takes ten times its room.
LARGEST_JSON = 24_000_000
# WGS 84: semi-major axis, m, and flattening (NGA.STND.0036, table 3.1; from memory).
AXIS, FLATTENING = 6_378_137.0, 1 / 298.257223563
# More lines than this are the rest of the map.
MOST_LINES = 2_000
ACCESS = frozenset(("reel", "machine"))
# A job wider than this (degrees) is no job: most likely the numbers are no degrees.
WIDEST = 0.5


@dataclass(eq=False, slots=True)
class _Found:
    """The lines of a file with the properties beside them, and what else there is, counted."""

    lines: list[tuple[list[Any], dict[str, Any]]] = field(default_factory=list)
    others: Counter[str] = field(default_factory=Counter)


def read_geojson(path: Path, options: ReadOptions) -> ImportedRoutes:
    """Read every LineString of a GeoJSON file as a route, named by its property ``name``.

    Degrees become m east and north in the plane that touches WGS 84 at the first point, with the
    altitude as z. A ``crs`` member or ``options.units`` says that the coordinates are projected.
    Raises InputError where the file is no GeoJSON, holds no line, or is wider than a job.
    """
    data = _parsed(path)
    found = _Found()
    for item in _features(data, path):
        _gather(item, found, path)
    refuse_empty(found.lines, path, "line")
    arrays = [_coordinates(line, path) for line, _ in found.lines]
    meters = _grid(data, options, path)
    flat = sum(1 for _, deep in arrays if not deep)
    guessed = [f"z is 0 for {counted(flat, 'line')} without altitude"] if flat else []
    if meters is None:
        every = np.vstack([a for a, _ in arrays])
        _refuse_no_degrees(every, path)
        points = [east_north(a, every[0]) for a, _ in arrays]
        guessed.append(_projection_note(points, every[0]))
        used = ["coordinates are degrees east and north (WGS 84)"]
    else:
        points = [placed(a, meters, options, path) for a, _ in arrays]
        used = ["coordinates are on a projected or local grid"]
    routes: list[ExchangeRoute] = []
    doubles = 0
    for at, (_, properties) in zip(points, found.lines, strict=True):
        route, dropped = _route(at, properties, len(routes), path)
        routes.append(route)
        doubles += dropped
    used.insert(0, counted(len(routes), "line"))
    ignored = [counted(n, kind) for kind, n in sorted(found.others.items())]
    if doubles:
        ignored.append(f"{counted(doubles, 'point')} at the same position as the point before")
    named = any(isinstance(properties.get("name"), str | int) for _, properties in found.lines)
    return ImportedRoutes(
        tuple(routes), tuple(used), tuple(ignored), tuple(guessed), meters, named=named
    )


def _parsed(path: Path) -> dict[str, Any]:
    text = read_text(path, limit=LARGEST_JSON)

    def refuse(word: str) -> float:
        raise bad_file(
            path, f"contains {word}, which is not a JSON number", "use finite coordinates"
        )

    try:
        data = json.loads(text, parse_constant=refuse)
    except RecursionError:
        raise bad_file(path, "is nested too deeply", "check that the file is GeoJSON") from None
    except json.JSONDecodeError as error:
        said = f"is not JSON: {error.msg.lower()}"
        raise bad_file(path, said, "export it again", error.lineno) from None
    except ValueError:  # Python's limit on the digits of an integer
        raise bad_file(
            path, "contains a number with thousands of digits", "export it again"
        ) from None
    if not isinstance(data, dict):
        raise bad_file(
            path, "is JSON, but not a GeoJSON object", "check that this is the right file"
        )
    return data


def _features(data: dict[str, Any], path: Path) -> Iterator[dict[str, Any]]:
    if data.get("type") != "FeatureCollection":
        yield data
        return
    features = data.get("features")
    if not isinstance(features, list):
        raise bad_file(path, "is a FeatureCollection without features", "export it again")
    yield from features


def _gather(item: Any, found: _Found, path: Path) -> None:
    """Add the lines in a feature or geometry; its own properties go with each."""
    if not isinstance(item, dict):
        raise bad_file(path, f"has the feature {brief(item)}", "export it again")
    properties = item.get("properties")
    todo = [item.get("geometry") if item.get("type") == "Feature" else item]
    while todo:
        geometry = todo.pop()
        geometry = geometry if isinstance(geometry, dict) else {}
        kind = geometry.get("type")
        if kind == "GeometryCollection" and isinstance(geometry.get("geometries"), list):
            todo += reversed(geometry["geometries"])
        elif kind in ("LineString", "MultiLineString"):
            lines = geometry.get("coordinates")
            lines = [lines] if kind == "LineString" else lines
            if not isinstance(lines, list):
                raise bad_file(path, f"has a {kind} without coordinates", "export it again")
            if len(found.lines) + len(lines) > MOST_LINES:
                said = f"has more than {MOST_LINES:,} lines: this is a map, not a set of routes"
                raise bad_file(path, said, "save only the routes to a separate file")
            own = properties if isinstance(properties, dict) else {}
            found.lines += [(line, own) for line in lines]
        else:
            found.others[kind if isinstance(kind, str) else "feature without geometry"] += 1


def _coordinates(line: Any, path: Path) -> tuple[Floats, bool]:
    """The points of a line, (n, 3), and whether they have a third number."""
    if not isinstance(line, list) or len(line) < 2:
        raise bad_file(
            path, f"has a line of the points {brief(line)}", "a line requires two points"
        )
    if len(line) > MOST_POINTS:
        raise bad_file(path, f"has a line of {len(line):,} points", f"maximum {MOST_POINTS:,}")
    deep = all(isinstance(p, list) and len(p) >= 3 for p in line)
    rows = np.zeros((len(line), 3))
    for i, point in enumerate(line):
        if not isinstance(point, list) or len(point) < 2 or not all(map(_is_number, point[:3])):
            raise bad_file(path, f"has the position {brief(point)}", "enter two or three numbers")
        try:
            rows[i, : 3 if deep else 2] = point[: 3 if deep else 2]
        except OverflowError:
            raise bad_file(path, "has a number out of range", "export it again") from None
    if not np.isfinite(rows).all():
        raise bad_file(path, "has a coordinate that is not finite", "export it again")
    return rows, deep


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _route(
    points: Floats, properties: dict[str, Any], number: int, path: Path
) -> tuple[ExchangeRoute, int]:
    """The route of a line; radii and names of points where route3d wrote them beside it."""
    given = properties.get("name")
    name = str(given)[:100] if isinstance(given, str | int) else f"{path.stem} {number + 1}"
    count = len(points)
    radii, conduit = properties.get("radii_m"), properties.get("conduit")
    if isinstance(radii, list) and len(radii) == count and all(map(_is_number, radii)):
        access = _texts(properties.get("access"), count)
        return ExchangeRoute(
            name,
            points,
            np.array(radii, dtype=np.float64),
            _texts(properties.get("names"), count),
            conduit if isinstance(conduit, str) else "",
            None,
            tuple(frozenset(a.split()) & ACCESS for a in access),
            _texts(properties.get("conduits"), count),
            _boxes(properties.get("boxes_m"), count),
        ), 0
    kept, doubles = without_doubles(points)
    if len(kept) < 2:
        raise bad_file(
            path, f"has the line {name!r} with one position only", "a line requires two points"
        )
    return ExchangeRoute(name, kept, np.zeros(len(kept))), doubles


def _texts(value: Any, count: int) -> tuple[str, ...]:
    """A list of so many texts; none for anything else."""
    good = isinstance(value, list) and len(value) == count
    return tuple(value) if good and all(isinstance(v, str) for v in value) else ()


def _boxes(value: Any, count: int) -> tuple[Box | None, ...]:
    """A list of so many boxes, each three sizes above 0 or null; none for anything else."""
    if not isinstance(value, list) or len(value) != count:
        return ()
    return tuple(
        (float(box[0]), float(box[1]), float(box[2]))
        if isinstance(box, list) and len(box) == 3 and all(_is_number(b) and b > 0 for b in box)
        else None
        for box in value
    )


# --- which coordinates -------------------------------------------------------------------------


def _grid(data: dict[str, Any], options: ReadOptions, path: Path) -> float | None:
    """Meters per unit of a projected or local grid; None for degrees."""
    if options.units:
        return METERS[options.units]
    crs = data.get("crs")
    if crs is None:
        own = data.get("units")
        return METERS.get(own) if "crs" in data and isinstance(own, str) else None
    properties = crs.get("properties") if isinstance(crs, dict) else None
    name = properties.get("name") if isinstance(properties, dict) else None
    if not isinstance(name, str):
        raise bad_file(path, f"has the crs {brief(crs)}", "use --units for a projected grid")
    if re.search(r"CRS84|EPSG:+(\d*:)?4326$", name):
        return None
    if re.search(r"EPSG:+(\d*:)?32[67]\d\d$", name):  # UTM zones are in m
        return 1.0
    fix = "use --units m or ft, the unit of that grid"
    raise bad_file(path, f"is on the grid {brief(name)}, whose unit is not known", fix)


def _refuse_no_degrees(every: Floats, path: Path) -> None:
    if (np.abs(every[:, 0]) > 180).any() or (np.abs(every[:, 1]) > 90).any():
        fix = "use --units for a projected grid"
        if (np.abs(every[:, 0]) <= 90).all() and (np.abs(every[:, 1]) <= 180).all():
            fix = "GeoJSON has longitude first: check the order"
        raise bad_file(path, "has coordinates that are not degrees", fix)
    span = np.ptp(every[:, :2], axis=0)
    if (span > WIDEST).any():
        said = f"spans {span[0]:.4g} by {span[1]:.4g} degrees, too large for a conduit route"
        raise bad_file(path, said, "if the coordinates are m or ft, use --units")


def east_north(degrees: Floats, origin: Floats) -> Floats:
    """Degrees east and north and altitude m, (n, 3), as m east and north of ``origin``, and z.

    East and north are those of the plane that touches the ellipsoid at the origin
    (geodetic to geocentric to topocentric: OGP Guidance Note 7-2, sections 2.2.1 and 2.2.2; from
    memory); z stays the altitude, as levels are used in a building.
    """
    away = _geocentric(degrees) - _geocentric(np.array([[origin[0], origin[1], 0.0]]))
    lon, lat = np.radians(origin[:2])
    east = np.array([-np.sin(lon), np.cos(lon), 0.0])
    north = np.array([-np.sin(lat) * np.cos(lon), -np.sin(lat) * np.sin(lon), np.cos(lat)])
    return np.stack((away @ east, away @ north, degrees[:, 2]), axis=1)


def _geocentric(degrees: Floats) -> Floats:
    lon, lat = np.radians(degrees[:, 0]), np.radians(degrees[:, 1])
    square = FLATTENING * (2 - FLATTENING)
    normal = AXIS / np.sqrt(1 - square * np.sin(lat) ** 2)
    out = (normal + degrees[:, 2]) * np.cos(lat)
    up = (normal * (1 - square) + degrees[:, 2]) * np.sin(lat)
    return np.stack((out * np.cos(lon), out * np.sin(lon), up), axis=1)


def _projection_note(points: Sequence[Floats], origin: Floats) -> str:
    """Where the plane touches, and how far a distance in it may be off."""
    every = np.vstack(points)
    reach = float(np.hypot(every[:, 0], every[:, 1]).max())
    high = float(np.abs(every[:, 2]).max())
    error = reach**3 / (2 * AXIS**2) + high * reach / AXIS  # tilt of the ground, lean of verticals
    said = f"m east and north of {origin[0]:.7f}, {origin[1]:.7f} (plane touching WGS 84 there)"
    return f"{said}; positions within {math.ceil(error * 1e4) / 10:g} mm by the Earth's curvature"


# --- out ---------------------------------------------------------------------------------------


def write_geojson(
    routes: Sequence[ExchangeRoute], path: Path, system: str, frame: Frame = GRID
) -> None:
    """Write the points of routes as lines on the grid of the job, US in ft, SI in m.

    The grid has no place on Earth, so ``crs`` is null (GeoJSON 2008, section 3) and ``units`` says
    the unit; radii (m), names and access of the points stand in the properties.
    """
    unit = "ft" if system == "US" else "m"
    features = [
        {
            "type": "Feature",
            "properties": {
                "name": route.name,
                "conduit": route.conduit,
                "radii_m": route.radii.tolist(),
                "names": list(route.names),
                "access": [" ".join(sorted(a, reverse=True)) for a in route.access],
                "conduits": list(route.changes),
                "boxes_m": [None if box is None else list(box) for box in route.boxes],
            },
            "geometry": {
                "type": "LineString",
                "coordinates": (route.points / METERS[unit]).tolist(),
            },
        }
        for route in routes
    ]
    whole = {"type": "FeatureCollection", "crs": None, "units": unit, "features": features}
    write_text_atomic(path, json.dumps(whole, ensure_ascii=False, indent=1, allow_nan=False) + "\n")
