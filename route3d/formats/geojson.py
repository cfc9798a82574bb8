"""Routes from and to GeoJSON: lines in degrees (RFC 7946), or on a projected or local grid."""

from __future__ import annotations

import json
import math
import re
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np

from route3d.disk import read_text, write_text_atomic
from route3d.errors import InputError
from route3d.formats.exchange import (
    MOST_POINTS,
    Box,
    Element,
    ExchangeRoute,
    ImportedRoutes,
    ReadOptions,
    bad_file,
    counted,
    placed,
    refuse_empty,
    without_doubles,
)
from route3d.geometry.join import Chain, DrawnPiece, chain
from route3d.geometry.tangent_plane import TangentPlane, plane_of, to_degrees, to_plane
from route3d.geometry.utm import AXIS, Zone, scale, to_grid, zone_at, zone_of
from route3d.geometry.vectors import Floats, norm
from route3d.model.site import GRID, Frame
from route3d.modelfile.fields import brief, nearest
from route3d.units import FARTHEST, METERS

# As Python objects, JSON takes ten times its room.
LARGEST_JSON = 24_000_000
# More lines than this are the rest of the map.
MOST_LINES = 2_000
ACCESS = frozenset(("reel", "machine"))
# A job wider than this (degrees) is no job: most likely the numbers are no degrees.
WIDEST = 0.5
# About so many m are in a degree of latitude: to tell one position from two.
METERS_OF_DEGREE = 1e5
# A file farther from the anchor of a job than this (m) is of another site.
FAR_FROM_ANCHOR = 1e5
# A note longer than this is no remark but data.
LONGEST_NOTE = 500
_AREAS = ("Polygon", "MultiPolygon")
# What names a feature, in this order, where --map says nothing; then the id of the feature.
NAMES = ("name", "Name", "NAME", "id", "ID")
# Properties that ``write_geojson`` writes.
_OWN = ("name", "conduit", "radii_m", "names", "access", "conduits", "boxes_m", "notes")


@dataclass(frozen=True, eq=False, slots=True)
class _Feature:
    """The lines of a feature or of a bare geometry, its properties and what identifies it."""

    lines: tuple[Any, ...]
    properties: dict[str, Any]
    given: str
    kind: str


@dataclass(frozen=True, eq=False, slots=True)
class _Drawn:
    """A feature with its name and ``lines`` as in the file; ``flat`` of them have no altitude."""

    feature: _Feature
    name: str
    lines: list[Floats]
    flat: int


@dataclass(eq=False, slots=True)
class _Found:
    """The features of a file that hold lines, and what else there is, counted."""

    features: list[_Feature] = field(default_factory=list)
    others: Counter[str] = field(default_factory=Counter)

    @property
    def lines(self) -> int:
        """How many lines all features hold."""
        return sum(len(each.lines) for each in self.features)


@dataclass(eq=False, slots=True)
class _Report:
    """What there is to say, gathered feature by feature."""

    used: list[str] = field(default_factory=list)
    ignored: list[str] = field(default_factory=list)
    guessed: list[str] = field(default_factory=list)
    elements: list[Element] = field(default_factory=list)
    noted: dict[str, None] = field(default_factory=dict)
    doubles: int = 0
    crs: str = ""
    level: float = 0.0


def read_geojson(path: Path, options: ReadOptions) -> ImportedRoutes:
    """Read every line feature of a GeoJSON file as a route.

    The parts of a MultiLineString are joined where they meet. A feature is named by the property of
    ``options.columns["name"]``, else by ``NAMES`` or its id; other properties are notes. Degrees
    become m on the grid ``options.crs`` where that is a UTM zone or a tangent plane, else in the
    plane that touches WGS 84 at ``options.origin`` or the first point, with the altitude as z. A
    ``crs`` member or ``options.units`` says that the coordinates are projected. Raises InputError
    where the file is no GeoJSON, holds no line, or is wider than a job; a feature that cannot be
    read is told as an element, and the others are read.
    """
    data = _parsed(path)
    _refuse_columns(options, path)
    found, report = _Found(), _Report()
    for number, item in enumerate(_features(data, path), 1):
        _gather(item, number, found, options, report, path)
    if not found.features and report.elements:
        raise bad_file(path, f"has no line: {report.elements[0].said}", "correct its features")
    refuse_empty(found.features, path, "line")
    names = _names(found.features, options, path)
    meters = _grid(data, options, path)
    drawn = list(_drawn(found.features, names, meters, options, report, path))
    raw = [each.lines for each in drawn]
    if meters is None:
        lines = _from_degrees(raw, options, report, path)
    else:
        lines = [[options.local(a, meters) for a in each] for each in raw]
        report.used.append("coordinates are on a projected or local grid")
    routes: list[ExchangeRoute] = []
    for each, parts in zip(drawn, lines, strict=True):
        try:
            routes += _routes(each.feature, each.name, parts, options, report, path)
        except InputError as error:
            if len(drawn) == 1:
                raise
            _tell_missing(each.feature, each.name, error, report)
        else:
            _tell_flat(each, parts, report)
    if flat := sum(each.flat for each in drawn):
        report.guessed.append(f"z is 0 for {counted(flat, 'line')} without altitude")
    if report.doubles:
        said = f"{counted(report.doubles, 'point')} at the same position as the point before"
        report.ignored.append(said)
    if report.noted:
        report.used.append(f"properties kept as notes: {', '.join(report.noted)}")
    return ImportedRoutes(
        tuple(routes),
        (counted(sum(len(each.lines) for each in drawn), "line"), *report.used),
        (*(counted(n, kind) for kind, n in sorted(found.others.items())), *report.ignored),
        tuple(report.guessed),
        meters,
        named=any(_name_in(each, options) for each in found.features),
        origin=(0.0, 0.0, report.level),
        crs=report.crs if meters is None else _crs_name(data),
        elements=tuple(report.elements),
    )


def _refuse_columns(options: ReadOptions, path: Path) -> None:
    if other := [kind for kind in options.columns if kind not in ("name", "conduit")]:
        fix = "use --map name=PROPERTY or conduit=PROPERTY"
        raise bad_file(path, f"has no column for {other[0]}: it is GeoJSON", fix)


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


def _gather(
    item: Any, number: int, found: _Found, options: ReadOptions, report: _Report, path: Path
) -> None:
    """Add the lines of a feature or of a bare geometry, with its properties.

    Areas and features without geometry are told: they may be meant as lines.
    """
    if not isinstance(item, dict):
        said = f"not read: {brief(item)} is no feature"
        report.elements.append(Element(f"feature {number}", "feature", "missing", said))
        return
    properties, given = item.get("properties"), item.get("id")
    own = _Feature((), properties if isinstance(properties, dict) else {}, _text(given), "")
    name = _name_in(own, options)
    handle = own.given or name or f"feature {number}"
    todo = [item.get("geometry") if item.get("type") == "Feature" else item]
    lines: list[Any] = []
    kinds: list[str] = []
    while todo:
        geometry = todo.pop()
        geometry = geometry if isinstance(geometry, dict) else {}
        kind = geometry.get("type")
        if kind == "GeometryCollection" and isinstance(geometry.get("geometries"), list):
            todo += reversed(geometry["geometries"])
        elif kind in ("LineString", "MultiLineString"):
            parts = geometry.get("coordinates")
            parts = [parts] if kind == "LineString" else parts
            if not isinstance(parts, list):
                said = "not read: it has no coordinates"
                report.elements.append(Element(handle, str(kind), "missing", said, name))
                continue
            if found.lines + len(lines) + len(parts) > MOST_LINES:
                said = f"has more than {MOST_LINES:,} lines: this is a map, not a set of routes"
                raise bad_file(path, said, "save only the routes to a separate file")
            lines += parts
            kinds.append(str(kind))
        else:
            other = kind if isinstance(kind, str) else "feature without geometry"
            found.others[other] += 1
            if kind not in ("Point", "MultiPoint"):
                said = "it is an area, no line" if kind in _AREAS else "it has no line"
                told = str(kind) if kind in _AREAS else "feature"
                report.elements.append(Element(handle, told, "missing", f"not read: {said}", name))
    if lines:
        found.features.append(replace(own, lines=tuple(lines), kind=kinds[0]))


def _text(value: Any) -> str:
    """A property that can name something, as text; "" for what cannot."""
    good = isinstance(value, str | int | float) and not isinstance(value, bool)
    return " ".join(str(value).split())[:100] if good else ""


def _name_in(feature: _Feature, options: ReadOptions) -> str:
    """The name that a feature gives itself, "" where it gives none."""
    given = options.columns.get("name")
    keys = NAMES if given is None else (given, *NAMES)
    texts = (_text(feature.properties.get(key)) for key in keys)
    return next((text for text in texts if text), feature.given)


def _names(features: Sequence[_Feature], options: ReadOptions, path: Path) -> list[str]:
    """The names of all features, numbered where they have none.

    Raises InputError where no feature has a property that ``options.columns`` names.
    """
    for kind, given in options.columns.items():
        if not any(given in each.properties for each in features):
            there = dict.fromkeys(key for each in features for key in each.properties)
            fix = nearest(given, list(there)) or f"properties: {', '.join(there) or 'none'}"
            raise bad_file(path, f"has no feature with the property {given!r} for {kind}", fix)
    return [_name_in(f, options) or f"{path.stem} {n}" for n, f in enumerate(features, 1)]


def _drawn(
    features: Sequence[_Feature],
    names: Sequence[str],
    meters: float | None,
    options: ReadOptions,
    report: _Report,
    path: Path,
) -> Iterator[_Drawn]:
    """The features with numbers as coordinates; the others are told. InputError without any."""
    errors: list[InputError] = []
    for feature, name in zip(features, names, strict=True):
        try:
            arrays = [_coordinates(line, path) for line in feature.lines]
            for points, _ in arrays:
                if meters is not None:
                    placed(points, meters, options, path)  # refuses what is on no Earth
                _refuse_point(points * (meters or METERS_OF_DEGREE), path)
        except InputError as error:
            errors.append(error)
            _tell_missing(feature, name, error, report)
            continue
        flat = sum(not deep for _, deep in arrays)
        yield _Drawn(feature, name, [points for points, _ in arrays], flat)
    if len(errors) == len(features):
        raise errors[0]


def _refuse_point(points: Floats, path: Path) -> None:
    """InputError for a line of one position."""
    if len(without_doubles(points)[0]) < 2:
        raise bad_file(path, "has a line with one position only", "a line requires two points")


def _tell_missing(feature: _Feature, name: str, error: InputError, report: _Report) -> None:
    said = "not read: " + "; ".join(p.message for p in error.problems)
    report.elements.append(Element(feature.given or name, feature.kind, "missing", said, name))


def _tell_flat(drawn: _Drawn, parts: Sequence[Floats], report: _Report) -> None:
    if drawn.flat:
        x, y, z = parts[0][0].tolist()
        feature, name = drawn.feature, drawn.name
        said = "no altitude: z is 0"
        told = Element(feature.given or name, feature.kind, "guessed", said, name, name, (x, y, z))
        report.elements.append(told)


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


def _routes(
    feature: _Feature,
    name: str,
    parts: Sequence[Floats],
    options: ReadOptions,
    report: _Report,
    path: Path,
) -> list[ExchangeRoute]:
    """The routes of a feature: one, or one for each part where its parts do not meet."""
    if len(parts) == 1:
        made = [_written(feature, name, parts[0]) or _plain(name, parts[0], report, path)]
    else:
        made = _joined(feature, name, parts, options, report, path)
    notes = _notes(feature, options, report)
    given = options.columns.get("conduit")
    conduit = _text(feature.properties.get(given)) if given else ""
    return [replace(r, notes=notes, conduit=conduit or r.conduit) for r in made]


def _plain(name: str, points: Floats, report: _Report, path: Path) -> ExchangeRoute:
    kept, doubles = without_doubles(points)
    if len(kept) < 2:
        raise bad_file(
            path, f"has the line {name!r} with one position only", "a line requires two points"
        )
    report.doubles += doubles
    return ExchangeRoute(name, kept, np.zeros(len(kept)))


def _written(feature: _Feature, name: str, points: Floats) -> ExchangeRoute | None:
    """The route with the radii and names of points that route3d wrote beside it, if it did."""
    properties, count = feature.properties, len(points)
    radii, conduit = properties.get("radii_m"), properties.get("conduit")
    if not (isinstance(radii, list) and len(radii) == count and all(map(_is_number, radii))):
        return None
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
    )


def _joined(
    feature: _Feature,
    name: str,
    parts: Sequence[Floats],
    options: ReadOptions,
    report: _Report,
    path: Path,
) -> list[ExchangeRoute]:
    """The parts of a feature joined where they meet; more than one route where they do not."""
    plain = [_plain(name, points, report, path) for points in parts]
    found = chain([DrawnPiece(r.points, r.radii) for r in plain], options.tolerance)
    for loop in found.loops:
        said = f"{name}: closed loop of {counted(len(loop), 'part')}; a route must have two ends"
        report.ignored.append(said)
    if found.doubles:
        report.ignored.append(f"{name}: {counted(len(found.doubles), 'part')} drawn twice")
    if found.short:
        said = f"{counted(len(found.short), 'part')} shorter than the joining tolerance"
        report.ignored.append(f"{name}: {said}")
    if not found.chains:
        raise bad_file(path, f"has no open line in {name!r}", "draw it with two ends")
    if len(found.chains) == 1:
        gap = found.chains[0].gap
        closed = f", gaps up to {gap * 1000:.2g} mm closed" if gap > 1e-9 else ""
        report.used.append(f"{name}: {counted(len(parts), 'part')} joined{closed}")
        return [ExchangeRoute(name, found.chains[0].points, found.chains[0].radii)]
    said, at = _apart(found.chains)
    report.guessed.append(f"{name}: {said}; each part is taken as a run")
    handle = feature.given or name
    report.elements.append(Element(handle, feature.kind, "broken", said, name, name, at))
    return [
        ExchangeRoute(f"{name} {number}", one.points, one.radii)
        for number, one in enumerate(found.chains, 1)
    ]


def _apart(chains: Sequence[Chain]) -> tuple[str, tuple[float, float, float]]:
    """Why chains are not one: a branch, or the smallest gap between their ends; and where."""
    said = f"in {len(chains)} parts"
    if branches := [at for one in chains for at in one.ends_at]:
        x, y, z = branches[0].tolist()
        return f"{said}: more than two meet at ({x:.2f}, {y:.2f}, {z:.2f}) m", (x, y, z)
    ends = [
        (float(norm(a - b)), (a + b) / 2)
        for one, two in combinations(chains, 2)
        for a in one.points[[0, -1]]
        for b in two.points[[0, -1]]
    ]
    gap, middle = min(ends, key=lambda end: end[0])
    x, y, z = middle.tolist()
    where = f"at ({x:.2f}, {y:.2f}, {z:.2f}) m"
    return f"{said}: smallest gap {gap * 1000:.4g} mm {where}; --tolerance joins larger ones", (
        x,
        y,
        z,
    )


def _notes(feature: _Feature, options: ReadOptions, report: _Report) -> tuple[str, ...]:
    """The properties that are nothing else as ``key: value``, and the notes written before."""
    taken = set(options.columns.values())
    named = next((k for k in NAMES if _text(feature.properties.get(k))), "")
    taken |= {named} if "name" not in options.columns else set()
    if "radii_m" in feature.properties:
        taken |= set(_OWN)
    written = feature.properties.get("notes") if "radii_m" in feature.properties else None
    notes = [_one_line(str(note)) for note in written] if isinstance(written, list) else []
    for key, value in feature.properties.items():
        if key in taken or value is None:
            continue
        note = f"{_one_line(key)}: {_value(value)}"
        if len(note) > LONGEST_NOTE:
            report.ignored.append(f"property {brief(key)} of {len(note):,} characters")
            continue
        notes.append(note)
        report.noted[brief(key)] = None
    return tuple(notes)


def _one_line(text: str) -> str:
    return text if text.isprintable() else json.dumps(text)


def _value(value: Any) -> str:
    """A value as text on one line that ``_parsed_value`` takes for the same value."""
    if isinstance(value, str) and value.isprintable() and _parsed_value(value) == value:
        return value
    return json.dumps(value)


def _parsed_value(text: str) -> Any:
    try:
        return json.loads(text)
    except (ValueError, RecursionError):
        return text


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

# Grids in m by their codes: UTM on WGS 84, ETRS89 and NAD83 (from memory).
_IN_METERS = re.compile(r"EPSG:+(\d*:)?(32[67]\d\d|258[23]\d|269[012]\d)$")
_DEGREES = re.compile(r"CRS84|EPSG:+(\d*:)?4326$")


def _member(data: dict[str, Any], path: Path) -> str:
    """The name in the ``crs`` member, "" where there is none."""
    crs = data.get("crs")
    if crs is None:
        return ""
    properties = crs.get("properties") if isinstance(crs, dict) else None
    name = properties.get("name") if isinstance(properties, dict) else None
    if not isinstance(name, str):
        raise bad_file(path, f"has the crs {brief(crs)}", "use --units for a projected grid")
    return name


def _grid(data: dict[str, Any], options: ReadOptions, path: Path) -> float | None:
    """Meters per unit of a projected or local grid; None for degrees."""
    if options.units:
        return METERS[options.units]
    name, own = _member(data, path), data.get("units")
    if _IN_METERS.search(name):
        return 1.0
    if _DEGREES.search(name):
        return None
    if "crs" in data and isinstance(own, str) and own in METERS:
        return METERS[own]
    if not name:
        return None
    fix = "use --units m, ft or us-ft, the unit of that grid"
    raise bad_file(path, f"is on the grid {brief(name)}, whose unit is not known", fix)


def _crs_name(data: dict[str, Any]) -> str:
    """The grid of the coordinates, as a job names it: ``EPSG:32610``."""
    crs = data.get("crs")
    name = str(crs["properties"]["name"]) if isinstance(crs, dict) and "properties" in crs else ""
    code = re.search(r"EPSG:+(?:\d*:)?(\d+)$", name)
    return f"EPSG:{code[1]}" if code else name


def _from_degrees(
    raw: Sequence[Sequence[Floats]], options: ReadOptions, report: _Report, path: Path
) -> list[list[Floats]]:
    """Lines in degrees as those of the job, m; how is told in the report."""
    every = np.vstack([a for each in raw for a in each])
    _refuse_no_degrees(every, path)
    report.used.append("coordinates are degrees east and north (WGS 84)")
    anchor = plane_of(options.crs)
    if (options.crs or any(options.shift)) and any(options.origin):
        said = "is in degrees, and the job has a site of its own"
        raise bad_file(path, said, "omit --origin: the file is brought to the place of the job")
    if anchor is None and (options.crs or any(options.shift)):
        zone = _zone_of_job(options, every, path)
        report.guessed.append(_zone_note(options.crs, zone, every))
        report.crs = options.crs
        return [[options.local(to_grid(a, zone), 1.0) for a in each] for each in raw]
    at = np.array(options.origin) if any(options.origin) else np.array([*every[0, :2], 0.0])
    _refuse_no_degrees(np.vstack((every, at)), path)
    plane = anchor or TangentPlane(float(at[0]), float(at[1]))
    report.crs, report.level = plane.name, 0.0 if anchor else float(at[2])
    lines = [[to_plane(a, plane) for a in each] for each in raw]
    flat = [a for each in lines for a in each]
    if (away := float(np.abs(np.vstack(flat)[:, :2]).max())) > FAR_FROM_ANCHOR:
        said = f"lies {away / 1000:,.0f} km from the anchor of the job, {plane.name}"
        raise bad_file(path, said, "check that the file is of this site")
    (report.used if anchor else report.guessed).append(_projection_note(flat, plane))
    down = options.shift if anchor else (0.0, 0.0, report.level)
    return [[a - np.array(down) for a in each] for each in lines]


def _zone_of_job(options: ReadOptions, every: Floats, path: Path) -> Zone:
    """The UTM zone that the job lies in; InputError where its grid is another or not known."""
    zone = zone_of(options.crs)
    if zone is None:
        grid = f"the grid {options.crs!r}" if options.crs else "a grid with no name"
        fix = f"project the file to that grid first; if it is UTM, name it: {zone_at(every[0])}"
        raise bad_file(path, f"is in degrees, and the job is on {grid}", f"{fix} in site.crs")
    return zone


def _zone_note(crs: str, zone: Zone, every: Floats) -> str:
    k = scale(every[:1], zone)
    return (
        f"degrees projected to {crs} (UTM): lengths there are {abs(k - 1) * 1e5:.1f} mm in 100 m "
        f"{'longer' if k > 1 else 'shorter'} than on the ground at sea level"
    )


def _refuse_no_degrees(every: Floats, path: Path) -> None:
    if (np.abs(every[:, 0]) > 180).any() or (np.abs(every[:, 1]) > 90).any():
        fix = "use --units for a projected grid"
        if (np.abs(every[:, 0]) <= 90).all() and (np.abs(every[:, 1]) <= 180).all():
            fix = "GeoJSON has longitude first: check the order"
        raise bad_file(path, "has coordinates that are not degrees", fix)
    if (np.abs(every[:, 2]) > FARTHEST).any():
        raise bad_file(path, "has an altitude that is on no Earth", "altitudes are in m")
    span = np.ptp(every[:, :2], axis=0)
    if (span > WIDEST).any():
        said = f"spans {span[0]:.4g} by {span[1]:.4g} degrees, too large for a conduit route"
        raise bad_file(path, said, "if the coordinates are m or ft, use --units")


def _projection_note(points: Sequence[Floats], plane: TangentPlane) -> str:
    """Where the plane touches, and how far a distance in it may be off."""
    every = np.vstack(points)
    reach = float(np.hypot(every[:, 0], every[:, 1]).max())
    high = float(np.abs(every[:, 2]).max())
    error = reach**3 / (2 * AXIS**2) + high * reach / AXIS  # tilt of the ground, lean of verticals
    said = f"m east and north on the {plane.name}, the crs of the site"
    return f"{said}; positions within {math.ceil(error * 1e4) / 10:g} mm by the Earth's curvature"


# --- out ---------------------------------------------------------------------------------------


def departure(frame: Frame, unit: str) -> str:
    """In a sentence, how a file that ``write_geojson`` makes stands to RFC 7946."""
    if plane_of(frame.crs):
        return f"GeoJSON in degrees and altitudes in m, as RFC 7946 has them, by the {frame.crs}"
    unit = grid_unit(frame, unit)
    grid = f"{frame.crs} (member crs)" if frame.crs else "the grid of the job (crs is null)"
    said = f"GeoJSON in {unit} on {grid}; RFC 7946 has degrees only"
    if frame.crs and not _IN_METERS.search(frame.crs):
        return f"{said}. Check that {unit} is the unit of {frame.crs}"
    return said


def grid_unit(frame: Frame, unit: str) -> str:
    """The unit of the coordinates written: that of the grid where it is known, else ``unit``."""
    return "m" if _IN_METERS.search(frame.crs) else unit


def write_geojson(
    routes: Sequence[ExchangeRoute], path: Path, unit: str, frame: Frame = GRID
) -> None:
    """Write the points of routes as lines in degrees, or on the grid of the job in the ``unit``.

    In degrees (RFC 7946) where the grid of ``frame`` is a tangent plane. Else ``crs`` names the
    grid, in m where that is UTM; where it has no name ``crs`` is null (GeoJSON 2008, section 3).
    ``units`` says the unit and ``note`` that RFC 7946 has neither; radii (m), names and access of
    the points and notes stand in the properties. InputError for places beyond the horizon.
    """
    unit, plane = grid_unit(frame, unit), plane_of(frame.crs)
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
                **_properties(route.notes),
            },
            "geometry": {
                "type": "LineString",
                "coordinates": (
                    _degrees(route, plane, path) if plane else route.points / METERS[unit]
                ).tolist(),
            },
        }
        for route in routes
    ]
    named = {"type": "name", "properties": {"name": frame.crs}} if frame.crs else None
    grid = {"crs": named, "units": unit, "note": departure(frame, unit)}
    whole = {
        "type": "FeatureCollection",
        **({} if plane else grid),
        "features": features,
    }
    write_text_atomic(path, json.dumps(whole, ensure_ascii=False, indent=1, allow_nan=False) + "\n")


def _degrees(route: ExchangeRoute, plane: TangentPlane, path: Path) -> Floats:
    try:
        return to_degrees(route.points, plane)
    except ValueError as error:
        said = f"{route.name}: {error}: {plane.name}"
        raise bad_file(path, said, "correct site.crs or site.origin of the model") from None


def _properties(notes: Sequence[str]) -> dict[str, Any]:
    """Notes of the form ``key: value`` as the properties they were; the others as a list."""
    found: dict[str, Any] = {}
    left = []
    for note in notes:
        key, colon, value = note.partition(": ")
        if colon and key not in (*_OWN, *found):
            found[key] = _parsed_value(value)
        else:
            left.append(note)
    return {**found, **({"notes": left} if left else {})}
