"""DXF entities as pieces of a route: what can be used, by layer, and a count of what cannot."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from route3d.formats.drawn_routes import WrittenVertex
from route3d.formats.exchange import ReadOptions, bad_file, without_doubles
from route3d.geometry.fillet import COINCIDENT
from route3d.geometry.join import DrawnPiece, arc_piece, bulged_piece, straight_piece
from route3d.geometry.vectors import Floats, frozen
from route3d.units import FARTHEST

if TYPE_CHECKING:
    from ezdxf.entities.dxfentity import DXFEntity

APP = "ROUTE3D"
# Blocks hold blocks: a few lines of file can stand for billions of entities.
MOST_OPENED = 20_000
MOST_POINTS = 200_000
DEEPEST_BLOCK = 16
_ARC_POINTS = 5  # an arc of a polyline takes as long as so many of its points


@dataclass(slots=True)
class DrawingContents:
    """What one drawing holds, filled entity by entity.

    ``pieces`` are by layer in the order of the file; ``types`` counts what they were made of,
    ``ignored`` what was left, both by ``(layer, type)``; ``opened`` counts block references.
    """

    path: Path
    meters: float
    options: ReadOptions
    pieces: dict[str, list[DrawnPiece]] = field(default_factory=dict)
    types: Counter[tuple[str, str]] = field(default_factory=Counter)
    ignored: Counter[tuple[str, str]] = field(default_factory=Counter)
    marks: list[WrittenVertex] = field(default_factory=list)
    opened: Counter[str] = field(default_factory=Counter)
    inside: int = 0
    points: int = 0

    def placed(self, points: Iterable[Any], entity: DXFEntity) -> Floats:
        """Points of the file as (n, 3) m; InputError for numbers that are no place."""
        raw = np.array([(p[0], p[1], p[2]) for p in points], dtype=np.float64)
        if not (np.abs(raw) * self.meters <= FARTHEST).all():  # also where not a number
            raise self.bad(entity, "has a coordinate that is not finite", "use finite coordinates")
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

    def bad(self, entity: DXFEntity, message: str, fix: str) -> Exception:
        """The InputError of one entity."""
        handle = f" {entity.dxf.handle}" if entity.dxf.handle else ""
        layer = entity.dxf.get("layer", "0")
        return bad_file(self.path, f"{entity.dxftype()}{handle} on layer {layer} {message}", fix)


def gather(
    sheet: DrawingContents, entities: Iterable[DXFEntity], wanted: Callable[[str], bool]
) -> None:
    """Put entities into the sheet; blocks are opened, layers not ``wanted`` only counted."""
    for entity, layer in _opened(sheet, entities, "0", 0):
        kind = entity.dxftype()
        maker = _MAKERS.get(kind)
        if mark := _mark(sheet, entity):
            sheet.marks.append(mark)
        elif maker is None or not wanted(layer):
            sheet.ignored[layer, kind] += 1
        else:
            _put(sheet, entity, layer, maker)


Maker = Callable[[DrawingContents, Any], "DrawnPiece | str"]


def _put(sheet: DrawingContents, entity: DXFEntity, layer: str, maker: Maker) -> None:
    made = maker(sheet, entity)
    if isinstance(made, str):
        sheet.ignored[layer, f"{entity.dxftype()} ({made})"] += 1
        return
    sheet.pieces.setdefault(layer, []).append(made)
    sheet.types[layer, entity.dxftype()] += 1


# --- blocks ------------------------------------------------------------------------------------


def _opened(
    sheet: DrawingContents, entities: Iterable[DXFEntity], outer: str, depth: int
) -> Iterator[tuple[DXFEntity, str]]:
    """Every entity with its layer; block references give way to what is in their block.

    Entities on layer 0 of a block lie on the layer of its reference (DXF reference, BLOCKS).
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
        if entity.dxftype() == "INSERT":
            yield from _inside(sheet, entity, layer, depth)
        else:
            yield entity, layer


def _inside(
    sheet: DrawingContents, insert: Any, layer: str, depth: int
) -> Iterator[tuple[DXFEntity, str]]:
    block = insert.block()
    if block is None or block.block.is_xref or depth >= DEEPEST_BLOCK:
        reason = "nested too deeply" if depth >= DEEPEST_BLOCK else "its block is not in the file"
        sheet.ignored[layer, f"INSERT ({reason})"] += 1
        return
    sheet.opened[layer] += 1

    def skipped(entity: DXFEntity, reason: str) -> None:
        sheet.ignored[layer, f"{entity.dxftype()} (in a block: {reason})"] += 1

    for single in insert.multi_insert() if insert.mcount > 1 else (insert,):
        inside = single.virtual_entities(skipped_entity_callback=skipped)
        yield from _opened(sheet, inside, layer, depth + 1)


# --- entities ----------------------------------------------------------------------------------


def _line(sheet: DrawingContents, entity: Any) -> DrawnPiece | str:
    start, end = sheet.placed((entity.dxf.start, entity.dxf.end), entity)
    if float(np.abs(end - start).max()) < COINCIDENT:
        return "without length"
    return straight_piece(start, end)


def _arc(sheet: DrawingContents, entity: Any) -> DrawnPiece | str:
    radius, first, last = (
        float(entity.dxf.get(key)) for key in ("radius", "start_angle", "end_angle")
    )
    if not (math.isfinite(first) and math.isfinite(last) and 0 < radius * sheet.meters < FARTHEST):
        raise sheet.bad(
            entity, f"has the radius {radius:g}, from {first:g}° to {last:g}°", "draw it again"
        )
    turn = math.radians((last - first) % 360.0) or 2 * math.pi
    ocs = entity.ocs()
    center = ocs.to_wcs(entity.dxf.center)
    rim = ocs.to_wcs(entity.dxf.center + _spoke(entity, radius, math.radians(first)))
    middle, start = sheet.placed((center, rim), entity)
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
    points, _ = without_doubles(sheet.placed(rows, entity))
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
        raise sheet.bad(entity, "has a bulge that is not a number", "draw it again")
    ocs = entity.ocs()
    world = [ocs.to_wcs((x, y, elevation)) for x, y, _ in rows]
    if not bulges.any():
        return _through(sheet, entity, world)
    sheet.count((_ARC_POINTS - 1) * len(rows))
    points = sheet.placed(world, entity)
    keep = np.append(np.abs(np.diff(points, axis=0)).max(axis=1) >= COINCIDENT, True)
    if keep.sum() < 2:
        return "of one point"
    return bulged_piece(points[keep], bulges[keep[:-1]], _axis(ocs))


_MAKERS: dict[str, Maker] = {
    "LINE": _line,
    "ARC": _arc,
    "LWPOLYLINE": _light_polyline,
    "POLYLINE": _polyline,
}


def _mark(sheet: DrawingContents, entity: Any) -> WrittenVertex | None:
    if entity.dxftype() != "POINT" or not entity.has_xdata(APP):
        return None
    texts = [str(tag.value) for tag in entity.get_xdata(APP) if tag.code == 1000]
    sizes = [float(tag.value) for tag in entity.get_xdata(APP) if tag.code == 1040]
    if len(texts) not in (4, 5) or texts[0] != "vertex":
        return None
    (point,) = sheet.placed((entity.dxf.location,), entity)
    good = len(sizes) == 3 and all(0 < size < FARTHEST for size in sizes)
    box = (sizes[0], sizes[1], sizes[2]) if good else None
    change = texts[4] if len(texts) == 5 else ""
    return WrittenVertex(point, texts[1], texts[2], frozenset(texts[3].split()), change, box)
