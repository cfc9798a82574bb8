"""DXF entities as pieces of a route: what can be used, by layer, and a count of what cannot."""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from route3d.errors import GeometryError, InputError
from route3d.formats.drawn_routes import LostFitting, WrittenVertex
from route3d.formats.exchange import Element, ReadOptions, bad_file, without_doubles
from route3d.geometry.biarcs import ParametricCurve, bends_along, off_bends
from route3d.geometry.fillet import COINCIDENT
from route3d.geometry.join import DrawnPiece, arc_piece, bulged_piece, joined, straight_piece
from route3d.geometry.loose_ends import elbow_between
from route3d.geometry.vectors import Floats, frozen, norm, unit
from route3d.units import FARTHEST

if TYPE_CHECKING:
    from ezdxf.entities.dxfentity import DXFEntity

APP = "ROUTE3D"
# Blocks hold blocks: a few lines of file can stand for billions of entities.
MOST_OPENED = 20_000
MOST_POINTS = 200_000
DEEPEST_BLOCK = 16
_ARC_POINTS = 5  # an arc of a polyline takes as long as so many of its points
_CURVE_POINTS = 200  # and a spline or an ellipse, for each of its smooth pieces
# Entities that may hold a conduit or an elbow of one, but no line along its middle.
SOLIDS = {
    *("3DSOLID", "BODY", "REGION", "SURFACE", "PLANESURFACE", "EXTRUDEDSURFACE"),
    *("REVOLVEDSURFACE", "LOFTEDSURFACE", "SWEPTSURFACE", "NURBSURFACE", "MESH", "3DFACE"),
}


class UnusableError(Exception):
    """Why an entity gives no piece of a route, in words that follow its name."""


@dataclass(slots=True)
class DrawingContents:
    """What one drawing holds, filled entity by entity.

    ``pieces`` are by layer in the order of the file, ``handles`` those of their entities; ``lost``
    are the entities that may be parts of a route and give no piece. ``types`` counts what pieces
    were made of, ``ignored`` what was left and ``hidden`` what cannot be seen, all by ``(layer,
    type)`` or reason; ``opened`` counts block references. ``closed`` are the curves without an end.
    """

    path: Path
    meters: float
    options: ReadOptions
    states: dict[str, str] = field(default_factory=dict)
    pieces: dict[str, list[DrawnPiece]] = field(default_factory=dict)
    handles: dict[str, list[str]] = field(default_factory=dict)
    lost: dict[str, list[LostFitting]] = field(default_factory=dict)
    types: Counter[tuple[str, str]] = field(default_factory=Counter)
    ignored: Counter[tuple[str, str]] = field(default_factory=Counter)
    hidden: Counter[tuple[str, str]] = field(default_factory=Counter)
    marks: list[WrittenVertex] = field(default_factory=list)
    closed: list[Element] = field(default_factory=list)
    opened: Counter[str] = field(default_factory=Counter)
    inside: int = 0
    points: int = 0

    def placed(self, points: Iterable[Any]) -> Floats:
        """Points of the file as (n, 3) m; UnusableError for numbers that are no place."""
        raw = np.array([(p[0], p[1], p[2]) for p in points], dtype=np.float64).reshape(-1, 3)
        if not (np.abs(raw) * self.meters <= FARTHEST).all():  # also where not a number
            raise UnusableError("has a coordinate that is not finite")
        self.count(len(raw))
        return self.options.local(raw, self.meters)

    def count(self, points: int) -> None:
        """Count points toward the limit; InputError beyond it."""
        self.points += points
        if self.points > MOST_POINTS:
            raise bad_file(
                self.path,
                f"is too large to read: more than {MOST_POINTS:,} points",
                "save only the route layers to a separate file",
            )

    def hides(self, layer: str) -> str:
        """Why what is on a layer cannot be seen, "" where it can, or is wanted all the same."""
        asked = {name.casefold() for name in self.options.layers}
        if self.options.all_layers or layer.casefold() in asked:
            return ""
        return self.states.get(layer.casefold(), "")


def gather(
    sheet: DrawingContents, entities: Iterable[DXFEntity], wanted: Callable[[str], bool]
) -> None:
    """Put entities into the sheet; blocks are opened, layers not ``wanted`` only counted."""
    for entity, layer, handle in _opened(sheet, entities, "0", "", 0):
        kind = entity.dxftype()
        mark = _mark(sheet, entity) if kind == "POINT" else None
        if mark is not None:
            sheet.marks.append(mark)
        elif not wanted(layer):
            sheet.ignored[layer, kind] += 1
        elif hidden := _unseen(sheet, entity, layer):
            sheet.hidden[layer, hidden] += 1
        elif kind in SOLIDS:
            _lose(sheet, entity, layer, handle, "no centerline", kind)
        elif kind == "CIRCLE":
            _close(sheet, entity, layer, handle, CLOSED)
        elif (maker := _MAKERS.get(kind)) is None:
            sheet.ignored[layer, kind] += 1
        else:
            _put(sheet, entity, layer, handle, maker)


Maker = Callable[[DrawingContents, Any], "DrawnPiece | str"]


def _put(sheet: DrawingContents, entity: Any, layer: str, handle: str, maker: Maker) -> None:
    """The piece of an entity; one that is broken is left out and told."""
    kind = entity.dxftype()
    try:
        made = maker(sheet, entity)
    except InputError:
        raise
    except UnusableError as reason:
        _lose(sheet, entity, layer, handle, str(reason), f"{kind} ({reason})")
    except (ArithmeticError, AttributeError, GeometryError, TypeError, ValueError) as error:
        said = " ".join(str(error).split())[:100]
        _lose(sheet, entity, layer, handle, f"is broken: {said}", f"{kind} (broken)")
    else:
        if isinstance(made, str):
            if made == CLOSED:
                _close(sheet, entity, layer, handle, made)
            elif made == "mesh":
                _lose(sheet, entity, layer, handle, "no centerline", f"{kind} (mesh)")
            else:
                sheet.ignored[layer, f"{kind} ({made})"] += 1
            return
        sheet.pieces.setdefault(layer, []).append(made)
        sheet.handles.setdefault(layer, []).append(handle)
        sheet.types[layer, kind] += 1


CLOSED = "closed: a route must have two ends"


def _close(sheet: DrawingContents, entity: Any, layer: str, handle: str, said: str) -> None:
    """Tell of a curve without an end; its name in the table is that of its layer."""
    kind = entity.dxftype()
    sheet.ignored[layer, f"{kind} ({said})"] += 1
    try:
        center = entity.ocs().to_wcs(entity.dxf.center) if kind == "CIRCLE" else None
        x, y, z = sheet.placed([center or _corners(entity)[0]])[0].tolist()
        at = (x, y, z)
    except InputError:
        raise
    except Exception:  # no place, or none that is a number
        at = None
    sheet.closed.append(Element(handle, kind, "missing", said, layer, at=at))


def _lose(
    sheet: DrawingContents, entity: Any, layer: str, handle: str, said: str, counted_as: str
) -> None:
    """Tell of an entity that may be part of a route and gives no piece."""
    sheet.ignored[layer, counted_as] += 1
    try:
        points = sheet.placed(_corners(entity))
    except InputError:
        raise
    except Exception:  # a broken body raises whatever the damage hits first
        points = np.empty((0, 3))
    lost = LostFitting(handle, entity.dxftype(), said, frozen(points), layer)
    sheet.lost.setdefault(layer, []).append(lost)


def _corners(entity: Any) -> list[Any]:
    """Points of an entity that is no line, in the units of the file; none where it tells none."""
    kind = entity.dxftype()
    if kind == "MESH":
        return list(entity.vertices)
    if kind == "ELLIPSE":
        return [entity.start_point]
    if kind in ("SPLINE", "HELIX"):
        return list(entity.construction_tool().control_points)
    if kind == "3DFACE":
        return list(entity.wcs_vertices())
    if kind == "POLYLINE":
        return [v.dxf.location for v in entity.vertices]
    if kind in SOLIDS:
        from ezdxf.acis.dxf import load_dxf
        from ezdxf.acis.mesh import vertices_from_body

        return [v for body in load_dxf(entity) for v in vertices_from_body(body)]
    return []


def _unseen(sheet: DrawingContents, entity: Any, layer: str) -> str:
    """Why an entity cannot be seen, "" where it can."""
    if entity.dxf.get("invisible", 0) and not sheet.options.all_layers:
        return "invisible"
    return sheet.hides(layer)


# Codes of characters in texts (DXF reference, "Character codes"), as people write them in names.
_SIGNS = {"c": "Ø", "d": "°", "p": "±", "%": "%", "u": "", "o": "", "k": ""}


def plain_name(text: str) -> str:
    r"""A name as it is read on the drawing: without \U+ and %% escapes and MTEXT codes."""
    from ezdxf.lldxf.encoding import decode_dxf_unicode
    from ezdxf.tools.text import fast_plain_mtext

    if "\\U+" in text:
        text = decode_dxf_unicode(text)
    if "\\" in text:
        text = str(fast_plain_mtext(text))
    text = re.sub(r"%%([0-9]{3})", lambda m: chr(int(m[1])), text)
    text = re.sub("%%([cdpuok%])", lambda m: _SIGNS[m[1].lower()], text, flags=re.IGNORECASE)
    return " ".join(text.split())


# --- blocks ------------------------------------------------------------------------------------


def _opened(
    sheet: DrawingContents, entities: Iterable[DXFEntity], outer: str, handle: str, depth: int
) -> Iterator[tuple[DXFEntity, str, str]]:
    """Every entity with its layer and handle; block references give way to what they hold.

    Entities on layer 0 of a block lie on the layer of its reference (DXF reference, BLOCKS), and
    have the handle of the outermost one.
    """
    for entity in entities:
        sheet.inside += depth > 0
        if sheet.inside > MOST_OPENED:
            raise bad_file(
                sheet.path,
                f"is too large to read: its blocks have more than {MOST_OPENED:,} entities",
                "save only the route layers to a separate file",
            )
        own = str(entity.dxf.get("layer", "0"))
        layer = outer if depth and own == "0" else own
        known_as = handle if depth else str(entity.dxf.get("handle") or "")
        if entity.dxftype() == "INSERT":
            yield from _inside(sheet, entity, layer, known_as, depth)
        else:
            yield entity, layer, known_as


def _inside(
    sheet: DrawingContents, insert: Any, layer: str, handle: str, depth: int
) -> Iterator[tuple[DXFEntity, str, str]]:
    """What a block reference holds; one on a frozen layer hides all of it, one off only its own."""
    hidden = _unseen(sheet, insert, layer)
    if hidden and hidden != "off":
        sheet.hidden[layer, hidden] += 1
        return
    block = insert.block()
    if block is None or block.block.is_xref or depth >= DEEPEST_BLOCK:
        reason = "its block is not in the file"
        if depth >= DEEPEST_BLOCK:
            reason = "nested too deeply"
        elif block is not None:
            file = str(block.block.dxf.get("xref_path", "")) or insert.dxf.name
            reason = f"external reference {file}: not opened"
        sheet.ignored[layer, f"INSERT ({reason})"] += 1
        return
    sheet.opened[layer] += 1

    def skipped(entity: DXFEntity, reason: str) -> None:
        sheet.ignored[layer, f"{entity.dxftype()} (in a block: {reason})"] += 1

    for single in insert.multi_insert() if insert.mcount > 1 else (insert,):
        inside = single.virtual_entities(skipped_entity_callback=skipped)
        yield from _opened(sheet, inside, layer, handle, depth + 1)


# --- entities ----------------------------------------------------------------------------------


def _line(sheet: DrawingContents, entity: Any) -> DrawnPiece | str:
    start, end = sheet.placed((entity.dxf.start, entity.dxf.end))
    if float(np.abs(end - start).max()) < COINCIDENT:
        return "without length"
    return straight_piece(start, end)


def _arc(sheet: DrawingContents, entity: Any) -> DrawnPiece | str:
    radius, first, last = (
        float(entity.dxf.get(key)) for key in ("radius", "start_angle", "end_angle")
    )
    if not (math.isfinite(first) and math.isfinite(last) and 0 < radius * sheet.meters < FARTHEST):
        raise UnusableError(f"has the radius {radius:g}, from {first:g}° to {last:g}°")
    turn = math.radians((last - first) % 360.0) or 2 * math.pi
    ocs = entity.ocs()
    center = ocs.to_wcs(entity.dxf.center)
    rim = ocs.to_wcs(entity.dxf.center + _spoke(entity, radius, math.radians(first)))
    middle, start = sheet.placed((center, rim))
    if float(np.abs(middle - start).max()) * turn < COINCIDENT:
        return "without length"
    # always drawn against the clock: that says nothing of the way the route runs
    return replace(arc_piece(middle, start, _axis(ocs), turn), directed=False)


def _spoke(entity: Any, radius: float, angle: float) -> Any:
    from ezdxf.math import Vec3

    return Vec3(radius * math.cos(angle), radius * math.sin(angle), 0.0)


def _axis(ocs: Any) -> Floats:
    return frozen(tuple(ocs.uz))


def _light_polyline(sheet: DrawingContents, entity: Any) -> DrawnPiece | str:
    rows = [(x, y, bulge) for x, y, bulge in entity.get_points("xyb")]
    return _flat(sheet, entity, rows, float(entity.dxf.elevation), bool(entity.closed))


def _polyline(sheet: DrawingContents, entity: Any) -> DrawnPiece | str:
    if entity.is_polygon_mesh or entity.is_poly_face_mesh:
        return "mesh"
    # control points of a fitted curve (vertex flag 16) are not on it
    on = [v for v in entity.vertices if not v.dxf.flags & 16]
    if entity.is_3d_polyline:
        rows = [v.dxf.location for v in on]
        return _through(sheet, entity, rows + rows[:1] * bool(entity.is_closed))
    flat = [(v.dxf.location[0], v.dxf.location[1], v.dxf.get("bulge", 0.0)) for v in on]
    return _flat(sheet, entity, flat, float(entity.dxf.elevation[2]), bool(entity.is_closed))


def _through(sheet: DrawingContents, entity: Any, rows: list[Any]) -> DrawnPiece | str:
    """A polyline of straights; points that repeat the one before say nothing."""
    if len(rows) < 2:
        return "of one point"
    points, _ = without_doubles(sheet.placed(rows))
    return (
        DrawnPiece(frozen(points), frozen(np.zeros(len(points))))
        if len(points) > 1
        else "of one point"
    )


def _flat(
    sheet: DrawingContents,
    entity: Any,
    rows: list[tuple[float, float, float]],
    elevation: float,
    closed: bool,
) -> DrawnPiece | str:
    rows = rows + rows[:1] * closed
    bulges = np.array([bulge for _, _, bulge in rows[:-1]])
    if not np.isfinite(bulges).all():
        raise UnusableError("has a bulge that is not a number")
    ocs = entity.ocs()
    world = [ocs.to_wcs((x, y, elevation)) for x, y, _ in rows]
    if not bulges.any():
        return _through(sheet, entity, world)
    sheet.count((_ARC_POINTS - 1) * len(rows))
    points = sheet.placed(world)
    keep = np.append(np.abs(np.diff(points, axis=0)).max(axis=1) >= COINCIDENT, True)
    if keep.sum() < 2:
        return "of one point"
    return bulged_piece(points[keep], bulges[keep[:-1]], _axis(ocs))


# --- curves ------------------------------------------------------------------------------------


def _ellipse(sheet: DrawingContents, entity: Any) -> DrawnPiece | str:
    """A part of an ellipse: an arc where it is round, else arcs within the tolerance."""
    center, axis, normal = (np.array(tuple(v)) for v in _axes(entity))
    low, high = float(entity.dxf.start_param), float(entity.dxf.end_param)
    turn = (high - low) % (2 * math.pi) or 2 * math.pi
    ratio = float(entity.dxf.ratio)
    if not (np.isfinite([low, high, ratio]).all() and float(norm(axis)) > 0 and abs(ratio) > 0):
        raise UnusableError("has no size")
    if turn > 2 * math.pi - 1e-9:
        return CLOSED
    across = ratio * np.cross(unit(normal), axis)
    if abs(abs(ratio) - 1) < 1e-9:
        rim = center + math.cos(low) * axis + math.sin(low) * across
        middle, start = sheet.placed((center, rim))
        spin = unit(normal) * (1 if ratio > 0 else -1)
        return replace(arc_piece(middle, start, spin, turn), directed=False)

    def raw(t: Floats) -> Floats:
        at: Floats = center + np.cos(t)[..., None] * axis + np.sin(t)[..., None] * across
        return at

    def slope(t: float, other: float) -> Floats:
        del other
        way: Floats = unit(-math.sin(t) * axis + math.cos(t) * across)
        return way

    piece = _curve(sheet, raw, slope, np.array([low, low + turn]))
    return piece if isinstance(piece, str) else replace(piece, directed=False)


def _axes(entity: Any) -> tuple[Any, Any, Any]:
    return entity.dxf.center, entity.dxf.major_axis, entity.dxf.extrusion


def _spline(sheet: DrawingContents, entity: Any) -> DrawnPiece | str:
    """A spline, also a helix: its smooth pieces as arcs within the tolerance."""
    if entity.closed:
        return CLOSED
    line = entity.construction_tool()
    sheet.placed(line.control_points)  # refuses numbers that are no place
    knots = np.array(line.knots())
    inner, times = np.unique(knots[line.order : -line.order], return_counts=True)
    first, last = float(knots[line.degree]), float(knots[-line.order])
    kinks = inner[(times >= line.degree) & (inner > first) & (inner < last)]
    stops = np.concatenate(([first], kinks, [last]))

    def raw(t: Floats) -> Floats:
        return np.array([tuple(p) for p in line.points(np.clip(t, first, last).tolist())])

    def slope(t: float, other: float) -> Floats:
        # a little inside of the piece: at a kink each side has its own direction
        for share in (1e-9, 1e-4):
            inside = min(max(t + share * (other - t), first), last)
            _, way = line.derivative(inside, 1)
            if way.magnitude > 1e-12:
                return np.array(tuple(way.normalize()))
        raise UnusableError("has a point without a direction")

    return _curve(sheet, raw, slope, stops)


def _curve(
    sheet: DrawingContents,
    raw: Callable[[Floats], Floats],
    slope: Callable[[float, float], Floats],
    stops: Floats,
) -> DrawnPiece | str:
    """A curve in the units of the file as arcs, smooth but at the parameters ``stops``."""
    sheet.count(_CURVE_POINTS * (len(stops) - 1))
    tolerance = sheet.options.arc_tolerance
    curve = ParametricCurve(lambda t: sheet.options.local(raw(t), sheet.meters), slope)
    ends = curve.points(stops)
    if len(stops) == 2 and float(norm(ends[1] - ends[0])) < COINCIDENT:
        return CLOSED
    pieces = []
    for i, (low, high) in enumerate(zip(stops[:-1].tolist(), stops[1:].tolist(), strict=True)):
        start, end = ends[i], ends[i + 1]
        if (arc := _one_arc(curve, low, high, tolerance)) is not None:
            pieces.append(arc)
            continue
        made = bends_along(curve, low, high, tolerance)
        points = np.vstack((start, made.vertices, end))
        pieces.append(DrawnPiece(frozen(points), frozen([0.0, *made.radii, 0.0])))
    return joined(pieces)


def _one_arc(
    curve: ParametricCurve, low: float, high: float, tolerance: float
) -> DrawnPiece | None:
    """The single arc that a smooth curve is within the tolerance, None where it is none."""
    points = curve.points(np.linspace(low, high, 33))
    t0, t1 = curve.direction(low, high), curve.direction(high, low)
    made = elbow_between(points[0], t0, points[-1], -t1, tolerance)
    if made is None or abs(made.setbacks[0] - made.setbacks[1]) > tolerance:
        return None
    piece = made.piece
    return piece if off_bends(points, piece.points, piece.radii[1:-1]) <= tolerance else None


_MAKERS: dict[str, Maker] = {
    "LINE": _line,
    "ARC": _arc,
    "LWPOLYLINE": _light_polyline,
    "POLYLINE": _polyline,
    "ELLIPSE": _ellipse,
    "SPLINE": _spline,
    "HELIX": _spline,
}


def _mark(sheet: DrawingContents, entity: Any) -> WrittenVertex | None:
    if not entity.has_xdata(APP):
        return None
    texts = [str(tag.value) for tag in entity.get_xdata(APP) if tag.code == 1000]
    sizes = [float(tag.value) for tag in entity.get_xdata(APP) if tag.code == 1040]
    if len(texts) not in (4, 5) or texts[0] != "vertex":
        return None
    try:
        (point,) = sheet.placed((entity.dxf.location,))
    except UnusableError:
        return None
    good = len(sizes) == 3 and all(0 < size < FARTHEST for size in sizes)
    box = (sizes[0], sizes[1], sizes[2]) if good else None
    change = texts[4] if len(texts) == 5 else ""
    return WrittenVertex(point, texts[1], texts[2], frozenset(texts[3].split()), change, box)
