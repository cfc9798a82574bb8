"""Routes as VTK polylines with stations (VTP, XML): written to be read back exactly."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from collections.abc import Iterable, Sequence
from itertools import pairwise
from pathlib import Path
from xml.sax.saxutils import quoteattr

import numpy as np

from route3d.disk import MEGABYTE, declares_entities, read_bytes, write_text_atomic
from route3d.formats.drawn_routes import Layer, assembled
from route3d.formats.exchange import (
    METRES,
    ExchangeRoute,
    ImportedRoutes,
    ReadOptions,
    bad_file,
    counted,
    placed,
    without_doubles,
)
from route3d.geometry.join import DrawnPiece
from route3d.geometry.vectors import Floats, frozen

# Chords along bends stay this close to the arc, m.
CHORD_TOLERANCE = 1e-3
_UNIT = "route3d_metres_per_unit"
_TEXTS = ("run_names", "conduits", "vertex_names", "vertex_access", "vertex_conduits")
# Numbers in text take ten times their bytes on the way in, and elements far more.
_LARGEST_VTP = 16 * MEGABYTE
_MOST_ELEMENTS = 10_000


# --- out ---------------------------------------------------------------------------------------


def write_vtp(routes: Sequence[ExchangeRoute], path: Path, system: str) -> None:
    """Write each run as one polyline in the feet or meters of ``system``, in VTK XML as text.

    Point data: ``station`` and ``run``. Field data: vertices, radii, names, access, outer
    diameters and the unit, from which ``read_vtp`` makes the routes again, to the last digit of
    the unit. Raises InputError where a route has no path or the file cannot be written.
    """
    write_text_atomic(path, vtp_text(routes, system))


def vtp_text(routes: Sequence[ExchangeRoute], system: str) -> str:
    """The text of that file."""
    metres = METRES["ft" if system == "US" else "m"]
    paths = [route.path() for route in routes]
    stations = [path.sample(CHORD_TOLERANCE) for path in paths]
    points = np.vstack([p.point(s) for p, s in zip(paths, stations, strict=True)]) / metres
    counts = [len(s) for s in stations]
    run = np.repeat(np.arange(len(routes)), counts)
    lines = [
        '<?xml version="1.0"?>',
        '<VTKFile type="PolyData" version="1.0" byte_order="LittleEndian" header_type="UInt64">',
        "<PolyData>",
        "<FieldData>",
        *_fields(routes, metres),
        "</FieldData>",
        f'<Piece NumberOfPoints="{len(points)}" NumberOfVerts="0" NumberOfLines="{len(routes)}"'
        ' NumberOfStrips="0" NumberOfPolys="0">',
        '<PointData Scalars="station">',
        _floats("station", np.concatenate(stations) / metres),
        _integers("run", run.tolist()),
        "</PointData>",
        "<Points>",
        _floats("Points", points),
        "</Points>",
        "<Lines>",
        _integers("connectivity", range(len(points))),
        _integers("offsets", np.cumsum(counts).tolist()),
        "</Lines>",
        "</Piece>",
        "</PolyData>",
        "</VTKFile>",
    ]
    return "\n".join(lines) + "\n"


def _fields(routes: Sequence[ExchangeRoute], metres: float) -> Iterable[str]:
    names = [name for route in routes for name in route.names]
    access = [" ".join(sorted(there)) for route in routes for there in route.access]
    diameters = [np.nan if r.outer_diameter is None else r.outer_diameter for r in routes]
    yield _floats(_UNIT, np.array([metres]), field=True)
    yield _floats("vertices", np.vstack([r.points for r in routes]) / metres, field=True)
    yield _floats("radii", np.concatenate([r.radii for r in routes]) / metres, field=True)
    yield _floats("outer_diameters", np.array(diameters) / metres, field=True)
    yield _integers("vertices_of_run", [len(r.points) for r in routes], field=True)
    yield _texts("run_names", [route.name for route in routes])
    yield _texts("conduits", [route.conduit for route in routes])
    yield _texts("vertex_names", names)
    yield _texts("vertex_access", access)
    yield _texts("vertex_conduits", [name for route in routes for name in route.changes])
    boxes = [box or (np.nan,) * 3 for route in routes for box in route.boxes]
    yield _floats("vertex_boxes", np.array(boxes) / metres, field=True)


def _floats(name: str, values: Floats, *, field: bool = False) -> str:
    """Numbers with the digits that give them back exactly."""
    rows = np.atleast_2d(values.T).T
    size = f' NumberOfComponents="{rows.shape[1]}"'
    count = f' NumberOfTuples="{len(rows)}"' if field else ""
    body = "\n".join(" ".join(map(repr, row)) for row in rows.tolist())
    return (
        f'<DataArray type="Float64" Name={quoteattr(name)}{size}{count} format="ascii">\n'
        f"{body}\n</DataArray>"
    )


def _integers(name: str, values: Iterable[int], *, field: bool = False) -> str:
    numbers = list(values)
    count = f' NumberOfTuples="{len(numbers)}"' if field else ""
    body = " ".join(map(str, numbers))
    return (
        f'<DataArray type="Int64" Name={quoteattr(name)}{count} format="ascii">{body}</DataArray>'
    )


def _texts(name: str, texts: Sequence[str]) -> str:
    """Texts as VTK has them in XML: the bytes of each one as numbers, ended by 0."""
    codes = " ".join(str(b) for text in texts for b in (*text.replace("\0", "").encode(), 0))
    return (
        f'<Array type="String" Name={quoteattr(name)} NumberOfTuples="{len(texts)}"'
        f' format="ascii">{codes}</Array>'
    )


# --- in ----------------------------------------------------------------------------------------


def read_vtp(path: Path, options: ReadOptions) -> ImportedRoutes:
    """Read the routes of a VTP file: those route3d wrote exactly, else the polylines as chains.

    Raises InputError for files that are broken, or not in text form, or hold no line; and for a
    file of others without a unit asked for, as VTP has none.
    """
    root = _root(path)
    arrays = {a.get("Name", ""): a for a in root.iterfind("./PolyData/FieldData/*")}
    if _UNIT in arrays and not options.layers:
        return _own(arrays, path, options)
    return _polylines(root, path, options)


def _root(path: Path) -> ElementTree.Element:
    data = read_bytes(path, limit=_LARGEST_VTP)
    if declares_entities(data):
        raise bad_file(path, "declares its own XML entities", "export it again")
    if b"<AppendedData" in data or b'format="binary"' in data:
        raise bad_file(path, "stores its numbers in binary form", "save it as text (ASCII)")
    if data.count(b"<") > _MOST_ELEMENTS:
        raise bad_file(path, "is too large to read: more than 10,000 elements", "export less of it")
    try:
        root = ElementTree.fromstring(data)
    except (ElementTree.ParseError, ValueError, LookupError) as error:
        raise bad_file(path, f"is not complete XML: {error}", "export it again") from None
    if root.tag != "VTKFile" or root.get("type") != "PolyData":
        raise bad_file(path, "is not a VTK PolyData file", "check that this is the right file")
    return root


def _numbers(array: ElementTree.Element | None, path: Path, name: str) -> Floats:
    if array is None:
        raise bad_file(path, f"has no array {name}", "export it again")
    try:
        return np.array((array.text or "").split(), dtype=np.float64)
    except ValueError as error:
        raise bad_file(path, f"has no numbers in {name}: {error}", "export it again") from None


def _own(
    arrays: dict[str, ElementTree.Element], path: Path, options: ReadOptions
) -> ImportedRoutes:
    def numbers(name: str) -> Floats:
        return _numbers(arrays.get(name), path, name)

    counts, own = numbers("vertices_of_run"), numbers(_UNIT)
    radii, raw, diameters = numbers("radii"), numbers("vertices"), numbers("outer_diameters")
    boxes = numbers("vertex_boxes")
    texts = {name: _strings(numbers(name)) for name in _TEXTS}
    runs, total = len(counts), len(radii)
    whole = (counts >= 2).all() and (counts <= total).all() and (counts == np.floor(counts)).all()
    sizes = (len(diameters), len(texts["run_names"]), len(texts["conduits"]))
    per_vertex = (len(boxes) // 3, *(len(texts[name]) for name in _TEXTS if "vertex" in name))
    if (
        not (runs and whole and counts.sum() == total)
        or set(sizes) != {runs}
        or set(per_vertex) != {total}
        or {len(raw), len(boxes)} != {3 * total}
        or (boxes <= 0).any()  # not where not a number: there is no box
        or not (np.isfinite(radii) & (radii >= 0)).all()
        or not (len(own) == 1 and 0 < own[0] < 1e6)
    ):
        raise bad_file(path, "has arrays that do not match", "export it again")
    metres = METRES[options.units] if options.units else float(own[0])
    points = placed(raw.reshape(-1, 3), metres, options, path)
    return ImportedRoutes(
        tuple(
            _cut(
                points,
                radii * metres,
                counts.astype(int),
                diameters * metres,
                boxes * metres,
                texts,
            )
        ),
        (f"lengths in units of {metres:g} m", f"{counted(runs, 'route')} written by route3d"),
        metres=metres,
    )


def _cut(
    points: Floats,
    radii: Floats,
    counts: Floats,
    diameters: Floats,
    sizes: Floats,
    texts: dict[str, list[str]],
) -> Iterable[ExchangeRoute]:
    first = 0
    boxes = [(a, b, c) if a + b + c > 0 else None for a, b, c in sizes.reshape(-1, 3).tolist()]
    for number, count in enumerate(counts.tolist()):
        part = slice(first, first + count)
        first += count
        yield ExchangeRoute(
            texts["run_names"][number],
            points[part],
            radii[part],
            tuple(texts["vertex_names"][part]),
            texts["conduits"][number],
            float(diameters[number]) if np.isfinite(diameters[number]) else None,
            tuple(frozenset(there.split()) for there in texts["vertex_access"][part]),
            tuple(texts["vertex_conduits"][part]),
            tuple(boxes[part]),
        )


def _strings(codes: Floats) -> list[str]:
    whole = codes[(codes >= 0) & (codes < 256)].astype(np.uint8).tobytes()
    return [part.decode(errors="replace") for part in whole.split(b"\0")[:-1]]


def _polylines(root: ElementTree.Element, path: Path, options: ReadOptions) -> ImportedRoutes:
    if options.units is None:
        raise bad_file(path, "does not say its unit of length", "use --units m, ft, mm or in")
    if options.layers:
        raise bad_file(path, "has no layers", "omit --layer")
    pieces: list[DrawnPiece] = []
    left: list[str] = []
    for part in root.iterfind("./PolyData/Piece"):
        raw = _numbers(part.find("./Points/DataArray"), path, "Points")
        if len(raw) % 3:
            raise bad_file(path, "has a point without its coordinates", "export it again")
        points = placed(raw, METRES[options.units], options, path)
        pieces += _lines(part, points, path)
        counts = {kind: part.get(f"NumberOf{kind}", "0") for kind in ("Verts", "Strips", "Polys")}
        left.extend(f"{count} {kind.lower()}" for kind, count in counts.items() if count != "0")
    if not pieces:
        raise bad_file(path, "has no line", "check that this is the right file")
    made = assembled([Layer(path.stem, tuple(pieces))], options, path)
    used = (
        f"lengths in {options.units}, as requested",
        counted(len(pieces), "polyline"),
        *made.used,
    )
    ignored = (*left, *made.ignored)
    return ImportedRoutes(made.routes, used, ignored, made.guessed, METRES[options.units])


def _lines(part: ElementTree.Element, points: Floats, path: Path) -> Iterable[DrawnPiece]:
    held = {a.get("Name"): a for a in part.iterfind("./Lines/DataArray")}
    if not held:
        return
    order = _numbers(held.get("connectivity"), path, "connectivity")
    ends = _numbers(held.get("offsets"), path, "offsets")
    inside = ((order >= 0) & (order < len(points))).all() and (ends >= 0).all()
    if not (inside and (ends <= len(order)).all()):
        raise bad_file(path, "has a line through points that do not exist", "export it again")
    stops = np.concatenate(([0], ends)).astype(int)
    for first, last in pairwise(stops.tolist()):
        line, _ = without_doubles(points[order[first:last].astype(int)])
        if len(line) > 1:
            yield DrawnPiece(frozen(line), frozen(np.zeros(len(line))))
