"""Which file formats routes are read from and written to, by the ending of the file name."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial
from importlib import import_module
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, cast

import numpy as np
from numpy.typing import NDArray

from route3d.directions import mark_in
from route3d.errors import GeometryError, InputError, Problem
from route3d.formats.drawn_routes import refuse_wrong_units
from route3d.formats.exchange import (
    Element,
    ExchangeRoute,
    ImportedRoutes,
    ReadOptions,
    bad_file,
    counted,
    refuse_empty,
    routes_of,
    said_together,
    tidy,
    unique_names,
    unit_name,
)
from route3d.formats.solids import sidecar
from route3d.formats.sound_routes import TURNS, corner_element, sharp_corners, sound_routes
from route3d.geometry.tangent_plane import plane_of
from route3d.geometry.vectors import Floats
from route3d.model.job import Job
from route3d.model.site import GRID, Frame
from route3d.modelfile.fields import brief
from route3d.units import METERS

if TYPE_CHECKING:
    from route3d.geometry.recognize import Recognized

Ints = NDArray[np.int64]
Reader = Callable[[Path, ReadOptions], ImportedRoutes]
Writer = Callable[[Sequence[ExchangeRoute], Path, str, Frame], None]

# Imported on first use: none of them should slow down the others.
_READERS = {
    **dict.fromkeys((".csv", ".txt", ".pts", ".xyz"), ("tables.routes", "read_csv")),
    ".xlsx": ("tables.routes", "read_xlsx"),
    ".geojson": ("geojson", "read_geojson"),
    ".json": ("geojson", "read_geojson"),
    ".xml": ("landxml.reading", "read_landxml"),
    ".landxml": ("landxml.reading", "read_landxml"),
    ".dxf": ("dxf.reading", "read_dxf"),
    ".ifc": ("ifc.reading", "read_ifc"),
}
_WRITERS = {
    ".csv": ("tables.routes", "write_csv"),
    ".xlsx": ("tables.routes", "write_xlsx"),
    ".geojson": ("geojson", "write_geojson"),
    ".dxf": ("dxf.writing", "write_dxf"),
    ".ifc": ("ifc.writing", "write_ifc"),
    ".xml": ("landxml.writing", "write_landxml"),
    ".landxml": ("landxml.writing", "write_landxml"),
    ".glb": ("conduit_meshes", "write_glb"),
    ".stl": ("conduit_meshes", "write_stl"),
}
_NO_LAYERS = (".csv", ".txt", ".pts", ".xyz", ".geojson", ".json", ".toml")
# Files of these keep the coordinates of the model: single precision has no room for those of a
# grid (GLB, STL), and IFC has a place of its own for the origin.
LOCAL = (".glb", ".stl", ".ifc")
# Of these the first are in degrees where the job is, and the others name the grid of the job.
_DEGREES = (".geojson", ".json")
_NAMES_GRID = (".glb", ".stl", ".ifc", ".xml", ".landxml")
READABLE = (*_READERS, ".toml")
WRITABLE = (*_WRITERS, ".toml")

# A model file holds coordinates up to this, m; grids of whole countries are larger.
FAR = 1e5
# The origin taken off far coordinates is a multiple of this, m or feet as the file has them: easy
# to read and to add again.
ROUND = 1000.0
MOST_ROUTES = 2_000
FAR_NOTE = "coordinates are far from 0"
SHARP = "kept as sharp corners; use --bend to give them a radius"


def read_routes(path: Path, options: ReadOptions) -> ImportedRoutes:
    """The routes of a file of any format in ``READABLE``, in m, near the origin, bends recognized.

    Raises InputError where the file cannot be read or its points make no route.
    """
    model = is_model(path)
    if options.layers and (model or path.suffix.lower() in _NO_LAYERS):
        fix = "omit --layer; --run selects runs"
        raise bad_file(path, f"has no layers, but {options.layers[0]!r} was requested", fix)
    if options.classes and (model or path.suffix.lower() != ".ifc"):
        fix = "omit --class; it chooses elements of an IFC model"
        raise bad_file(path, f"has no classes, but {options.classes[0]!r} was requested", fix)
    reading = _reader(path)(path, options)
    refuse_empty(reading.routes, path, "route")
    _refuse_reversing(reading.routes, path)
    if len(reading.routes) > MOST_ROUTES:
        said = f"has {len(reading.routes):,} routes; the maximum is {MOST_ROUTES:,}"
        raise bad_file(path, said, "split the file; for a drawing or workbook, select with --layer")
    reading = _named_apart(reading)
    if not model:
        refuse_wrong_units(reading.routes, path)
    if not model:
        reading = _on_frame(reading, options, path)
    reading = _sound(reading)
    refuse_empty(reading.routes, path, "route with a length")
    if options.recognize:
        reading = _with_arcs(reading, options.arc_tolerance)
    return with_corners_told(reading)


def write_routes(
    routes: Sequence[ExchangeRoute],
    path: Path,
    unit: str,
    frame: Frame = GRID,
    levels: Mapping[str, float] | None = None,
    floors: Mapping[str, float] | None = None,
) -> None:
    """Write routes to a file of any format in ``WRITABLE`` but a model file; InputError else.

    ``unit`` is that of its coordinates: "m", "ft" or "us-ft". GLB is in meters always.
    Routes are on the coordinates of the model; the origin of the ``frame`` is put back, but in the
    formats of ``LOCAL``, which say it beside the coordinates. ``levels`` (z, m) are the storeys of
    an IFC model, ``floors`` (z, m) the floors of rooms by name, on which its boxes stand.
    """
    writer = cast(Writer, _function(_WRITERS, path, WRITABLE, "written"))
    if path.suffix.lower() not in LOCAL:
        shift = np.array(frame.shift)
        routes = [replace(route, points=route.points + shift) for route in routes]
    if path.suffix.lower() == ".ifc":
        writer = partial(cast(Callable[..., None], writer), levels=levels, floors=floors)
    writer(routes, path, unit, frame)


def levels_of(job: Job) -> dict[str, float]:
    """The floors (z, m) of the rooms of a job, each by the names of the rooms on it."""
    floors: dict[float, list[str]] = {}
    for room in job.site.rooms:
        floors.setdefault(room.floor, []).append(room.name)
    return {", ".join(names): floor for floor, names in floors.items()}


def not_held(routes: Sequence[ExchangeRoute], path: Path) -> tuple[str, ...]:
    """In sentences, what of the routes the format of ``path`` cannot carry."""
    kind = path.suffix.lower()
    lost: list[str] = []
    if kind in (".glb", ".stl"):
        names = sum(bool(n or a) for r in routes for n, a in zip(r.names, r.access, strict=True))
        boxes = sum(box is not None for route in routes for box in route.boxes)
        lost += [f"{counted(names, 'name')} and pull points of the routes"] if names else []
        lost += [counted(boxes, "pull box", "pull boxes")] if boxes else []
    if kind not in (".geojson", ".json"):
        notes = sum(len(route.notes) for route in routes)
        lost += [counted(notes, "note")] if notes else []
    return tuple(f"{text} (not supported by {kind[1:].upper()})" for text in lost)


def written_said(
    routes: Sequence[ExchangeRoute], path: Path, unit: str, frame: Frame = GRID
) -> tuple[str, ...]:
    """In sentences, where a file that ``write_routes`` makes departs from format or route."""
    kind = path.suffix.lower()
    if kind == ".geojson":
        from route3d.formats.geojson import departure

        return (departure(frame, unit),)
    if kind == ".stl":
        return (f"coordinates in {unit}: STL names no unit",)
    if kind == ".dxf":
        from route3d.formats.dxf.writing import labels_left_out

        left = labels_left_out(routes, unit)
        said = f"{counted(left, 'label')} of bends left out: too close to others to be read"
        return (said,) if left else ()
    if kind in (".xml", ".landxml"):
        from route3d.formats.landxml.writing import chords_said

        return tuple(chords_said(routes))
    return ()


def frame_said(path: Path, frame: Frame) -> tuple[str, ...]:
    """In sentences, what became of the origin and the plane of the site in a file of this kind."""
    kind, origin = path.suffix.lower(), frame.shift
    if plane_of(frame.crs) and kind in _DEGREES:
        return ()
    planes: tuple[str, ...] = ()
    if plane_of(frame.crs):
        held = "" if kind in _NAMES_GRID else f", which {kind[1:].upper()} does not name"
        planes = (f"coordinates are east and north on the {frame.crs}{held}",)
    return (*planes, *_origin_said(path, origin))


def _origin_said(path: Path, origin: Sequence[float]) -> tuple[str, ...]:
    if not any(origin):
        return ()
    said = ", ".join(f"{axis} {tidy(c)} m" for axis, c in zip("xyz", origin, strict=True))
    kind = path.suffix.lower()
    if kind not in LOCAL:
        return (f"coordinates of the grid: the origin of the site, {said}, is added",)
    held = {".glb": "its extras", ".stl": sidecar(path).name, ".ifc": "its map conversion"}[kind]
    return (f"coordinates of the model: the origin of the site, {said}, is in {held}",)


def left_behind(job: Job) -> tuple[str, ...]:
    """In sentences, what a file of routes does not hold of a model."""
    lost = [f"the duct bank of {bank.run!r} (`route3d bank MODEL -o`)" for bank in job.banks]
    if job.site.context:
        lost.append(counted(len(job.site.context), "building mesh", "building meshes"))
    return (*lost, "cables, equipment, practice and plan (not part of a route file)")


def is_model(path: Path) -> bool:
    """Whether a file is a model file: TOML, or a workbook with the sheets of a job."""
    from route3d.modelfile.workbook.reading import is_job_workbook

    return path.suffix.lower() == ".toml" or is_job_workbook(path)


def _reader(path: Path) -> Reader:
    if is_model(path):
        return _read_model
    return cast(Reader, _function(_READERS, path, READABLE, "read"))


def _function(
    table: dict[str, tuple[str, str]], path: Path, known: Sequence[str], done: str
) -> object:
    place = table.get(path.suffix.lower())
    if place is None:
        said = f"has the extension {path.suffix!r}, which is not {done}"
        raise InputError(Problem(said, fix=f"supported: {', '.join(known)}", file=str(path)))
    return getattr(import_module(f"route3d.formats.{place[0]}"), place[1])


def _read_model(path: Path, options: ReadOptions) -> ImportedRoutes:
    from route3d.modelfile.read import load

    job = load(path)
    said = (f"{counted(len(job.runs), 'run')} of the model file",)
    frame, routes = job.site.frame, routes_of(job)
    if frame.origin is None or not any(options.shift):
        return ImportedRoutes(routes, said, origin=frame.shift, crs=frame.crs)
    between = np.array(frame.origin) - np.array(options.shift)  # from one job into another
    routes = tuple(replace(route, points=route.points + between) for route in routes)
    return ImportedRoutes(routes, said, origin=options.shift, crs=frame.crs)


def _refuse_reversing(routes: Sequence[ExchangeRoute], path: Path) -> None:
    """InputError for names with marks that turn the figures beside them, with the line if any."""
    problems = []
    for number, route in enumerate(routes, 1):
        fields = [("name", route.name), *((f"conduit {c!r}", c) for c in route.conduits)]
        fields += [(f"name of point {i}", name) for i, name in enumerate(route.names, 1)]
        for field, text in fields:
            if mark := mark_in(text):
                said = (
                    f"{brief(text)} contains the control mark {mark}, which can reorder the "
                    "digits next to it"
                )
                where, fix = (
                    f"route {number}, {field}",
                    "remove it in the program that wrote the file",
                )
                line = _line_of(text, path)
                problems.append(Problem(said, where=where, fix=fix, file=str(path), line=line))
    if problems:
        raise InputError(problems)


def _line_of(text: str, path: Path) -> int | None:
    """The line of a file of text that holds these words; None for others, or where escaped."""
    data = path.read_bytes()
    at = data.find(text.encode()) if b"\0" not in data[:4096] else -1
    return data.count(b"\n", 0, at) + 1 if at >= 0 else None


# --- what is done to every reading --------------------------------------------------------------


def _named_apart(reading: ImportedRoutes) -> ImportedRoutes:
    names = unique_names(r.name for r in reading.routes)
    routes = tuple(replace(r, name=n) for r, n in zip(reading.routes, names, strict=True))
    return renamed(reading, routes)


def renamed(reading: ImportedRoutes, routes: tuple[ExchangeRoute, ...]) -> ImportedRoutes:
    """A reading with its routes under other names, in the same order, which elements have too."""
    pairs = zip(reading.routes, routes, strict=True)
    names = {old.name: new.name for old, new in pairs if old.name != new.name}
    elements = tuple(replace(e, run=names.get(e.run, e.run)) for e in reading.elements)
    return replace(reading, routes=routes, elements=elements)


def _sound(reading: ImportedRoutes) -> ImportedRoutes:
    """What was read, of routes that make a path alone."""
    routes, elements, dropped = sound_routes(reading.routes)
    return replace(
        reading,
        routes=routes,
        ignored=(*reading.ignored, *dropped),
        elements=(*reading.elements, *elements),
    )


def _on_frame(reading: ImportedRoutes, options: ReadOptions, path: Path) -> ImportedRoutes:
    """What was read with the origin that was taken off, that of the job or one found for it.

    Raises InputError where file and job name two grids that are known.
    """
    if reading.crs != options.crs and all(
        crs.startswith("EPSG:") or plane_of(crs) for crs in (reading.crs, options.crs)
    ):
        said = f"is on the grid {reading.crs}, and the job is on {options.crs}"
        fix = "degrees" if plane_of(options.crs) else options.crs
        raise bad_file(path, said, f"project it to {fix} first")
    if any(options.shift):
        _refuse_far(reading, options, path)
        return replace(reading, origin=options.shift)
    if options.near:
        return _near_origin(reading)
    if not any(options.origin) or reading.meters is None:  # in degrees it is no place on a grid
        return reading
    x, y, z = (c * (reading.meters or 1.0) for c in options.origin)
    return replace(reading, origin=(x, y, z))


def _refuse_far(reading: ImportedRoutes, options: ReadOptions, path: Path) -> None:
    """InputError where the routes cannot be of the site with this origin."""
    every = np.vstack([r.points for r in reading.routes])
    away = float(np.abs(every).max())
    if away > FAR:
        origin = ", ".join(f"{c:,.3f} m" for c in options.shift)
        raise bad_file(
            path,
            f"lies {away / 1000:,.0f} km from the origin of the site ({origin})",
            "check grid and units; if its coordinates are those of the model, use --origin 0,0,0",
        )


def _near_origin(reading: ImportedRoutes) -> ImportedRoutes:
    """Coordinates of a far grid taken back to near its points, and told."""
    every = np.vstack([r.points for r in reading.routes])
    far = np.abs(every).max(axis=0) > FAR
    if not far.any():
        return reading
    name = unit_name(reading.meters)
    meters = METERS[name] if name in ("ft", "us-ft") else 1.0  # the others are round in meters too
    whole = np.where(far, np.floor(every.min(axis=0) / (ROUND * meters) + 1e-9) * ROUND, 0.0)
    routes = tuple(replace(r, points=r.points - whole * meters) for r in reading.routes)
    unit_said = name if meters != 1.0 else "m"
    pairs = zip("xyz", whole, strict=True)
    moved = ", ".join(f"{axis} {o:.0f} {unit_said}" for axis, o in pairs if o) + " subtracted"
    note = f"{FAR_NOTE}: {moved} from all and kept as the origin of the site"
    x, y, z = (whole * meters + reading.origin).tolist()
    return replace(
        reading,
        routes=routes,
        guessed=(*reading.guessed, note),
        moved=moved,
        origin=(x, y, z),
        elements=tuple(_shifted(e, (x, y, z)) for e in reading.elements),
    )


def _shifted(element: Element, origin: tuple[float, float, float]) -> Element:
    if element.at is None:
        return element
    x, y, z = (c - o for c, o in zip(element.at, origin, strict=True))
    return replace(element, at=(x, y, z))


def _with_arcs(reading: ImportedRoutes, tolerance: float) -> ImportedRoutes:
    from route3d.geometry.recognize import MOST_POINTS

    routes, used, ignored = [], [], []
    left = MOST_POINTS  # of all routes together: nobody waits longer
    for route in reading.routes:
        count = len(route.points)
        if count > left:
            routes.append(route)
            said = f"{route.name}: bends not searched in {count:,} points"
            ignored.append(f"{said}; the maximum of a file is {MOST_POINTS:,}")
        else:
            made, sentence, lost = _recognized(route, tolerance)
            left -= count
            routes.append(made)
            used += sentence
            ignored += lost
    return replace(
        reading,
        routes=tuple(routes),
        used=(*reading.used, *used),
        ignored=(*reading.ignored, *ignored),
    )


def _recognized(
    route: ExchangeRoute, tolerance: float
) -> tuple[ExchangeRoute, list[str], list[str]]:
    """The route with its faceted bends made arcs, and what to say of it.

    Where it has bends already, the chords between them are looked at.
    """
    from route3d.geometry.recognize import FEWEST, recognize

    count = len(route.points)
    marked = np.zeros(count, dtype=bool)
    marked[[i for i in route.told if route.names[i] or route.access[i]]] = True
    marked[[i for i in route.told if route.changes[i] or route.boxes[i]]] = True
    stops = [0, *np.flatnonzero(route.radii > 0).tolist(), count - 1]
    stops = sorted(set(stops))
    found: list[tuple[int, Recognized]] = []
    points: list[Floats] = [route.points[:1]]
    radii: list[Floats] = [route.radii[:1]]
    numbers: list[Ints] = [np.zeros(1, dtype=np.int64)]
    for first, last in pairwise(stops):
        span = slice(first, last + 1)
        if last - first + 1 >= FEWEST:
            made = recognize(route.points[span], tolerance, keep=marked[span])
        else:
            made = None
        straight = made is not None and made.scatter > 0 and len(stops) == 2
        if made is not None and (made.arcs or straight):
            found.append((last - first + 1, made))
            points.append(made.points[1:-1])
            radii.append(made.radii[1:-1])
            inner = made.source[1:-1]
            numbers.append(np.where(inner < 0, -1, inner + first))
        else:
            points.append(route.points[first + 1 : last])
            radii.append(route.radii[first + 1 : last])
            numbers.append(np.arange(first + 1, last))
        points.append(route.points[last : last + 1])
        radii.append(route.radii[last : last + 1])
        numbers.append(np.array([last]))
    if not found:
        return route, [], []
    if found[0][1].scatter:  # the ends scatter too
        points[0], points[-1] = found[0][1].points[:1], found[0][1].points[-1:]
    source, sizes = np.concatenate(numbers).tolist(), route.leg_diameters
    made_of = replace(
        route,
        points=np.vstack(points),
        radii=np.concatenate(radii),
        names=tuple("" if i < 0 else route.names[i] for i in source),
        access=tuple(frozenset() if i < 0 else route.access[i] for i in source),
        changes=tuple("" if i < 0 else route.changes[i] for i in source),
        boxes=tuple(None if i < 0 else route.boxes[i] for i in source),
        diameters=tuple(sizes[i] for i in np.maximum.accumulate(source[:-1]).tolist()),
    )
    if len(stops) > 2:
        try:
            made_of.path()
        except GeometryError:  # bends beside those that were there already
            return route, [], []
    said = [_arcs_said(route.name, each, size, tolerance) for size, each in found]
    lost = [route.names[i] or str(i + 1) for i in np.flatnonzero(marked) if i not in set(source)]
    names = ", ".join(map(repr, lost[:5])) + (", ..." if len(lost) > 5 else "")
    gone = f"{route.name}: {counted(len(lost), 'name')} of points within bends ({names})"
    return made_of, said, [gone] if lost else []


def _arcs_said(name: str, found: Recognized, count: int, tolerance: float) -> str:
    """In words, what was made of so many points."""
    bends = counted(found.arcs, "bend")
    deviation = f"maximum deviation {max(found.residual, 1e-7) * 1000:.4g} mm"
    if found.scatter:
        deviation += " of a single point" if found.residual > tolerance else ""
        return (
            f"{name}: {count:,} points that scatter by about {_rounded(found.scatter)} "
            f"straightened to {counted(len(found.points), 'point')}; {deviation}"
        )
    if found.smooth:
        return (
            f"{name}: smooth curve in {count:,} points followed by {bends} without a corner "
            f"between them; {deviation}"
        )
    return f"{name}: {bends} recognized in {count:,} points; {deviation}"


def _rounded(size: float) -> str:
    """A length of the size of a scatter: ``45 mm``."""
    return f"{size * 1000:.2g} mm"


def _scattered(route: ExchangeRoute, sharp: Sequence[int]) -> Element | None:
    """The element of a route whose corners are scatter, None where they are not."""
    from route3d.geometry.scatter import FEWEST_SCATTERED, fitting_tolerance, scatter_of

    if len(sharp) < FEWEST_SCATTERED or not (size := scatter_of(route.points)):
        return None
    limit = fitting_tolerance(route.points)
    fix = f"straighten with --tolerance {limit * 1000:g}mm" if limit else "survey it again"
    said = f"points scatter by about {_rounded(size)}, so that {len(sharp):,} turns are of no bend"
    x, y, z = route.points[sharp[0]].tolist()
    return Element("", SCATTER, "sharp", f"{said}: {fix}", "", route.name, (x, y, z))


SCATTER = "points"


def with_corners_told(reading: ImportedRoutes) -> ImportedRoutes:
    """What was read with an element for each corner without a radius, and a sentence on them.

    What is told already of a corner stays.
    """
    known = {(e.run, e.name) for e in reading.elements if e.state == "sharp"}
    elements, guessed, noisy = list(reading.elements), [], []
    for route in reading.routes:
        sharp = sharp_corners(route)
        if (noise := _scattered(route, sharp)) is not None:
            elements.insert(0, noise)
            noisy.append(f"{route.name}: {noise.said}")
            continue
        if sharp:
            first = route.names[sharp[0]] or f"point {sharp[0] + 1}"
            said = f"{counted(len(sharp), 'turn')} without a radius, first at {first}"
            guessed.append(f"{route.name}: {said}: {SHARP}")
        for i in sharp:
            corner = corner_element(route, i, "sharp", TURNS)
            if (corner.run, corner.name) not in known:
                elements.append(corner)
    told = said_together(guessed)
    guesses = (*noisy, *reading.guessed, *told)
    return replace(reading, guessed=guesses, elements=tuple(elements))
