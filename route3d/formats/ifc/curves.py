"""Curves and swept solids of IFC as pieces of a centerline, in the lengths of the file."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from route3d.formats.ifc.placement import (
    UnusableError,
    axis_placement,
    direction3,
    finite,
    mapping,
    point3,
)
from route3d.geometry.join import DrawnPiece, arc_piece, arc_through, joined, straight_piece
from route3d.geometry.vectors import Floats, frozen, norm

_DEEPEST = 20
_MOST_PARTS = 100_000
_FULL = 2 * math.pi


@dataclass(frozen=True, slots=True, eq=False)
class Centerline:
    """A piece, the diameter it is swept with (lengths of the file; None for a bare curve).

    ``guess`` says what was taken for granted, for the report.
    """

    piece: DrawnPiece
    diameter: float | None = None
    guess: str = ""


def moved(found: Centerline, matrix: Floats) -> Centerline:
    """The same under a matrix of even scale."""
    scale = float(np.cbrt(abs(np.linalg.det(matrix[:3, :3]))))
    points = finite(found.piece.points @ matrix[:3, :3].T + matrix[:3, 3])
    diameter = None if found.diameter is None else found.diameter * scale
    return Centerline(
        DrawnPiece(frozen(points), frozen(found.piece.radii * scale)), diameter, found.guess
    )


# --- solids ------------------------------------------------------------------------------------


def centerlines(item: Any, angle: float, depth: int = 0) -> Iterator[Centerline]:
    """The centerline of each part of an IfcRepresentationItem; ``angle`` rad in the file's unit.

    Raises UnusableError for what is not swept along straights and arcs.
    """
    if depth > _DEEPEST:
        raise UnusableError("circular maps")
    if item.is_a("IfcMappedItem"):
        matrix = mapping(item)
        for part in item.MappingSource.MappedRepresentation.Items:
            yield from (moved(found, matrix) for found in centerlines(part, angle, depth + 1))
    elif item.is_a("IfcBooleanResult"):
        for found in centerlines(item.FirstOperand, angle, depth + 1):
            yield Centerline(found.piece, found.diameter, "solids taken without their cuts")
    elif item.is_a("IfcCurve"):
        yield Centerline(curve_piece(item, angle))
    else:
        yield _solid(item, angle)


def _solid(item: Any, angle: float) -> Centerline:
    if item.is_a("IfcSweptDiskSolid"):
        trimmed = item.StartParam is not None or item.EndParam is not None
        guess = "swept disks taken along the full directrix" if trimmed else ""
        return Centerline(curve_piece(item.Directrix, angle), 2 * float(item.Radius), guess)
    if item.is_a("IfcExtrudedAreaSolid"):
        return _placed(item, _extruded(item))
    if item.is_a("IfcRevolvedAreaSolid"):
        return _placed(item, _revolved(item, angle))
    raise UnusableError(f"a body of {item.is_a()}")


def _placed(item: Any, found: Centerline) -> Centerline:
    return found if item.Position is None else moved(found, axis_placement(item.Position))


def _extruded(item: Any) -> Centerline:
    start, diameter, guess = _profile(item.SweptArea)
    along = direction3(item.ExtrudedDirection, (0.0, 0.0, 1.0)) * float(item.Depth)
    return Centerline(straight_piece(start, start + finite(along)), diameter, guess)


def _revolved(item: Any, angle: float) -> Centerline:
    start, diameter, guess = _profile(item.SweptArea)
    axis = direction3(item.Axis.Axis, (0.0, 0.0, 1.0))
    foot = point3(item.Axis.Location)
    center = foot + ((start - foot) @ axis) * axis
    turn = float(item.Angle) * angle
    return Centerline(_turned(center, start, axis, turn), diameter, guess)


def _turned(center: Floats, start: Floats, axis: Floats, turn: float) -> DrawnPiece:
    if turn < 0:
        axis, turn = -axis, -turn
    if not 0 < turn < _FULL - 1e-9 or float(norm(start - center)) == 0:
        raise UnusableError("a full turn or none")
    return arc_piece(center, start, axis, turn)


def _profile(area: Any) -> tuple[Floats, float | None, str]:
    """Center of a profile in its plane, its diameter where it is round, and what was guessed."""
    if area.is_a("IfcParameterizedProfileDef"):
        center = np.zeros(3) if area.Position is None else axis_placement(area.Position)[:3, 3]
        radius = getattr(area, "Radius", None) if area.is_a("IfcCircleProfileDef") else None
        return center, None if radius is None else 2 * float(radius), ""
    if not area.is_a("IfcArbitraryClosedProfileDef"):
        raise UnusableError(f"a profile of {area.is_a()}")
    outline = area.OuterCurve
    if outline.is_a("IfcCircle"):
        return axis_placement(outline.Position)[:3, 3], 2 * float(outline.Radius), ""
    points = curve_piece(outline, 1.0).points
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    return middle, None, "the middle of a free-form profile taken as its center"


# --- curves ------------------------------------------------------------------------------------


def curve_piece(curve: Any, angle: float, depth: int = 0) -> DrawnPiece:
    """A bounded IfcCurve of straights and arcs as one piece, (n, 3)."""
    kind = curve.is_a()
    maker = _CURVES.get(kind)
    if maker is None or depth > _DEEPEST:
        raise UnusableError(f"a curve of {kind}")
    piece: DrawnPiece = maker(curve, angle, depth)
    return piece


def _polyline(curve: Any, angle: float, depth: int) -> DrawnPiece:
    return _through(np.array([point3(p) for p in curve.Points]))


def _through(points: Floats) -> DrawnPiece:
    if len(points) < 2:
        raise UnusableError("a curve of one point")
    return DrawnPiece(frozen(points), frozen(np.zeros(len(points))))


def _indexed(curve: Any, angle: float, depth: int) -> DrawnPiece:
    rows = [(*(float(c) for c in row), 0.0)[:3] for row in curve.Points.CoordList]
    if not rows or min(len(row) for row in rows) < 3:
        raise UnusableError("a point without its coordinates")
    points = finite(np.array(rows))
    if not curve.Segments:
        return _through(points)
    if len(curve.Segments) > _MOST_PARTS:
        raise UnusableError("too many segments")
    return joined([_indexed_part(points, part) for part in curve.Segments])


def _indexed_part(points: Floats, part: Any) -> DrawnPiece:
    index = np.array(part[0]) - 1
    if index.min() < 0 or index.max() >= len(points) or len(index) < 2:
        raise UnusableError("a curve with points that do not exist")
    if part.is_a("IfcArcIndex"):
        return arc_through(*points[index])
    return _through(points[index])


def _composite(curve: Any, angle: float, depth: int) -> DrawnPiece:
    parts = []
    for segment in curve.Segments:
        if not segment.is_a("IfcCompositeCurveSegment"):
            raise UnusableError(f"a curve of {segment.is_a()}")
        part = curve_piece(segment.ParentCurve, angle, depth + 1)
        parts.append(part if segment.SameSense else part.reversed())
    return joined(parts)


def _trimmed(curve: Any, angle: float, depth: int) -> DrawnPiece:
    basis = curve.BasisCurve
    if basis.is_a("IfcLine"):
        ends = [_on_line(basis, trim) for trim in (curve.Trim1, curve.Trim2)]
        return straight_piece(*(ends if curve.SenseAgreement else ends[::-1]))
    if not basis.is_a("IfcCircle"):
        raise UnusableError(f"a curve of {basis.is_a()}")
    matrix = axis_placement(basis.Position)
    first, last = (_on_circle(matrix, trim, angle) for trim in (curve.Trim1, curve.Trim2))
    turn = (last - first) % _FULL if curve.SenseAgreement else -((first - last) % _FULL)
    rim = np.array((math.cos(first), math.sin(first), 0.0)) * float(basis.Radius)
    return _turned(matrix[:3, 3], matrix[:3, :3] @ rim + matrix[:3, 3], matrix[:3, 2], turn)


def _on_line(line: Any, trim: Any) -> Floats:
    for end in trim:
        if end.is_a("IfcCartesianPoint"):
            return point3(end)
    along = direction3(line.Dir.Orientation, (1.0, 0.0, 0.0)) * float(line.Dir.Magnitude)
    return finite(point3(line.Pnt) + along * float(trim[0].wrappedValue))


def _on_circle(matrix: Floats, trim: Any, angle: float) -> float:
    """The angle of an end about the center, rad."""
    for end in trim:
        if not end.is_a("IfcCartesianPoint"):
            return float(end.wrappedValue) * angle
    local = matrix[:3, :3].T @ (point3(trim[0]) - matrix[:3, 3])
    return math.atan2(local[1], local[0])


_CURVES = {
    "IfcPolyline": _polyline,
    "IfcIndexedPolyCurve": _indexed,
    "IfcCompositeCurve": _composite,
    "IfcTrimmedCurve": _trimmed,
}
