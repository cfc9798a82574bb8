"""Curves of IFC as pieces of a centerline, in the lengths of the file."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np

from route3d.formats.exchange import ARC_TOLERANCE, JOIN_TOLERANCE, counted
from route3d.formats.ifc.placement import (
    UnusableError,
    axis_placement,
    direction3,
    evenly,
    finite,
    point3,
)
from route3d.geometry.biarcs import ParametricCurve, bends_along
from route3d.geometry.fillet import COINCIDENT, STRAIGHT_TURN, fillet
from route3d.geometry.join import (
    DrawnPiece,
    arc_piece,
    arc_through,
    joined,
    straight_piece,
)
from route3d.geometry.path import ARC, Path
from route3d.geometry.vectors import Floats, angle_between, frozen, norm, unit

_DEEPEST = 20
_MOST_PARTS = 100_000
_MOST_POLES = 5_000
_FULL = 2 * math.pi


@dataclass(frozen=True, slots=True)
class Measures:
    """The units of a model: ``angle`` rad and ``meters`` in its own.

    An arc is within ``tolerance`` m of what it stands for; ends ``joining`` m apart are one.
    """

    angle: float = 1.0
    meters: float = 1.0
    tolerance: float = ARC_TOLERANCE
    joining: float = JOIN_TOLERANCE

    @property
    def fit(self) -> float:
        """The tolerance of an arc in lengths of the file."""
        return self.tolerance / self.meters

    def length(self, value: float) -> str:
        """A length of the file in words, in m."""
        return f"{value * self.meters:.4g} m"

    def small(self, value: float) -> str:
        """A small length of the file in words, in mm."""
        return f"{max(value * self.meters * 1000, 1e-4):.2g} mm"


@dataclass(frozen=True, slots=True, eq=False)
class Centerline:
    """A piece, the diameter it is swept with (lengths of the file; None for a bare curve).

    ``guesses`` say what was taken for granted, for the report.
    """

    piece: DrawnPiece
    diameter: float | None = None
    guesses: tuple[str, ...] = ()

    def moved(self, matrix: Floats, measures: Measures) -> Centerline:
        """The same under a matrix; where that scales unevenly, arcs are fitted anew."""
        if not evenly(matrix):
            return self._squeezed(matrix, measures)
        scale = float(np.cbrt(abs(np.linalg.det(matrix[:3, :3]))))
        points = finite(_under(matrix, self.piece.points))
        diameter = None if self.diameter is None else self.diameter * scale
        piece = replace(self.piece, points=frozen(points), radii=frozen(self.piece.radii * scale))
        return replace(self, piece=piece, diameter=diameter)

    def _squeezed(self, matrix: Floats, measures: Measures) -> Centerline:
        points, radii = self.piece.points, self.piece.radii
        guesses: list[str] = []
        if not radii.any():
            points = _under(matrix, points)
        else:
            path = _path(self.piece)
            parts: list[Floats] = [points[:1]]
            sizes: list[Floats] = [np.zeros(1)]
            off = 0.0
            for i in range(len(path)):
                if path.kind[i] == ARC:
                    low, high = (float(s) for s in path.stations[i : i + 2])
                    made = bends_along(_mapped_arc(path, matrix), low, high, measures.fit)
                    parts.append(made.vertices)
                    sizes.append(made.radii)
                    off = max(off, made.off)
                parts.append(_under(matrix, path.ends[i][None]))
                sizes.append(np.zeros(1))
            parts[0] = _under(matrix, parts[0])
            points, radii = np.vstack(parts), np.concatenate(sizes)
            guesses.append(f"scaled arcs taken as arcs, within {measures.small(off)}")
        piece = replace(self.piece, points=frozen(finite(points)), radii=frozen(radii))
        diameter = None
        if self.diameter is not None:
            diameter = _squeezed_diameter(self.diameter, self.piece, matrix)
            if diameter is None:
                guesses.append("an oval section: no diameter")
        return Centerline(piece, diameter, (*self.guesses, *guesses))


def _under(matrix: Floats, points: Floats) -> Floats:
    moved: Floats = points @ matrix[:3, :3].T + matrix[:3, 3]
    return moved


def _squeezed_diameter(diameter: float, piece: DrawnPiece, matrix: Floats) -> float | None:
    """That of a straight round bar under a matrix; None where it becomes oval, or is bent."""
    legs = np.diff(piece.points, axis=0)
    along = legs[0] / norm(legs[0])
    if piece.radii.any() or (norm(np.cross(legs, along)) > 1e-9 * norm(legs)).any():
        return None
    helper = np.eye(3)[int(np.argmin(np.abs(along)))]
    u = unit(np.cross(along, helper))
    spread = matrix[:3, :3] @ np.array([u, np.cross(along, u)]).T * diameter / 2
    return round_across(spread.T, matrix[:3, :3] @ along)


def round_across(half: Floats, along: Floats) -> float | None:
    """The diameter of a section by two of its half axes (2, 3), seen along; None where oval."""
    axis = unit(along)
    u, v = half - (half @ axis)[:, None] * axis
    size = float(u @ u + v @ v) / 2
    even = abs(float(u @ u - v @ v)) <= 1e-6 * size and abs(float(u @ v)) <= 1e-6 * size
    return 2 * math.sqrt(size) if even else None


def _path(piece: DrawnPiece) -> Path:
    """The piece as straights and arcs."""
    return fillet(piece.points, piece.radii, corners=set(range(len(piece.points))))


def _mapped_arc(path: Path, matrix: Floats) -> ParametricCurve:
    def points(at: Floats) -> Floats:
        return _under(matrix, np.array([path.point(float(s)) for s in at]))

    return ParametricCurve(points, lambda at, other: _tangent(points, at, other))


def _tangent(points: Callable[[Floats], Floats], at: float, other: float) -> Floats:
    """The unit tangent at one end by differences of second order, in the sense of the curve."""
    step = (other - at) * 1e-4
    a, b, c = points(np.array((at, at + step, at + 2 * step)))
    slope = unit((4 * b - 3 * a - c) * math.copysign(1.0, step))
    return np.asarray(slope)


# --- curves ------------------------------------------------------------------------------------


def centerline(curve: Any, measures: Measures, depth: int = 0) -> Centerline:
    """A bounded IfcCurve as one piece of straights and arcs."""
    kind = curve.is_a()
    maker = _CURVES.get(kind)
    if maker is None or depth > _DEEPEST:
        raise UnusableError(f"a curve of {kind}")
    made: Centerline = maker(curve, measures, depth)
    return made


def _polyline(curve: Any, measures: Measures, depth: int) -> Centerline:
    return through(np.array([point3(p) for p in curve.Points]), measures)


def through(points: Floats, measures: Measures, fillet_radius: float = 0.0) -> Centerline:
    """A polyline, repeated points dropped; corners rounded with a radius where one is given."""
    if len(points) < 2:
        raise UnusableError("a curve of one point")
    keep = np.concatenate(([True], norm(np.diff(points, axis=0)) * measures.meters >= COINCIDENT))
    dropped = int((~keep).sum())
    points = points[keep]
    if len(points) < 2:
        raise UnusableError("a curve of one point")
    radii = np.zeros(len(points))
    if fillet_radius > 0 and len(points) > 2:
        directions = unit(np.diff(points, axis=0))
        turning = angle_between(directions[:-1], directions[1:]) > STRAIGHT_TURN
        radii[1:-1] = np.where(turning, fillet_radius, 0.0)
    said = (f"{counted(dropped, 'repeated point')} dropped",) if dropped else ()
    return Centerline(DrawnPiece(frozen(points), frozen(radii)), guesses=said)


def _indexed(curve: Any, measures: Measures, depth: int) -> Centerline:
    points = _listed_points(curve)
    if not curve.Segments:
        return through(points, measures)
    if len(curve.Segments) > _MOST_PARTS:
        raise UnusableError("too many segments")
    return _behind([_indexed_part(points, part, measures) for part in curve.Segments], measures)


def _listed_points(curve: Any) -> Floats:
    rows = [(*(float(c) for c in row), 0.0)[:3] for row in curve.Points.CoordList]
    if not rows or min(len(row) for row in rows) < 3:
        raise UnusableError("a point without its coordinates")
    return finite(np.array(rows))


def _indexed_part(points: Floats, part: Any, measures: Measures) -> Centerline:
    index = np.array(part[0]) - 1
    if index.min() < 0 or index.max() >= len(points) or len(index) < 2:
        raise UnusableError("a curve with points that do not exist")
    if part.is_a("IfcArcIndex"):
        return Centerline(arc_through(*points[index]))
    return through(points[index], measures)


def _composite(curve: Any, measures: Measures, depth: int) -> Centerline:
    parts = []
    for segment in curve.Segments:
        if not segment.is_a("IfcCompositeCurveSegment"):
            raise UnusableError(f"a curve of {segment.is_a()}")
        part = centerline(segment.ParentCurve, measures, depth + 1)
        if not segment.SameSense:
            part = replace(part, piece=part.piece.reversed())
        parts.append(part)
    return _behind(parts, measures)


def _behind(parts: Sequence[Centerline], measures: Measures) -> Centerline:
    """Parts in order as one; what is drawn against their order is turned, gaps are closed."""
    if not parts:
        raise UnusableError("a curve without segments")
    guesses = [guess for part in parts for guess in part.guesses]
    pieces = [part.piece for part in parts]
    turned = 0
    for i in range(len(pieces)):
        end = pieces[i - 1].points[-1] if i else None
        here = pieces[i]
        if end is None:
            after = pieces[1].points[[0, -1]] if len(pieces) > 1 else here.points[[-1, -1]]
            away = [float(norm(after - here.points[k]).min()) for k in (0, -1)]
            wrong = away[0] * measures.meters <= measures.joining < away[1] * measures.meters
        else:
            away = [float(norm(here.points[k] - end)) for k in (0, -1)]
            wrong = away[1] * measures.meters <= measures.joining < away[0] * measures.meters
        if wrong:
            pieces[i] = here.reversed()
            turned += 1
    whole: list[DrawnPiece] = []
    gaps = []
    for piece in pieces:
        if whole:
            gap = float(norm(piece.points[0] - whole[-1].points[-1]))
            if gap * measures.meters > measures.joining:
                whole.append(straight_piece(whole[-1].points[-1], piece.points[0]))
                gaps.append(gap)
        whole.append(piece)
    if turned:
        guesses.append(f"{counted(turned, 'segment')} of its curve turned round")
    if gaps:
        largest = measures.small(max(gaps))
        guesses.append(f"{counted(len(gaps), 'gap')} in its curve closed, up to {largest}")
    return Centerline(joined(whole), guesses=tuple(dict.fromkeys(guesses)))


def _trimmed(curve: Any, measures: Measures, depth: int) -> Centerline:
    basis = curve.BasisCurve
    if basis.is_a("IfcLine"):
        ends = [_on_line(basis, trim) for trim in (curve.Trim1, curve.Trim2)]
        return through(np.array(ends if curve.SenseAgreement else ends[::-1]), measures)
    if basis.is_a("IfcPolyline"):
        return _cut(basis, curve, measures)
    if not basis.is_a("IfcConic") or basis.is_a() not in ("IfcCircle", "IfcEllipse"):
        raise UnusableError(f"a curve of {basis.is_a()}")
    matrix = axis_placement(basis.Position)
    if basis.is_a("IfcCircle"):
        size = np.array((float(basis.Radius), float(basis.Radius)))
    else:
        size = np.array((float(basis.SemiAxis1), float(basis.SemiAxis2)))
    first, last = (
        _on_conic(matrix, size, trim, measures.angle) for trim in (curve.Trim1, curve.Trim2)
    )
    turn = (last - first) % _FULL if curve.SenseAgreement else -((first - last) % _FULL)
    if size[0] == size[1]:
        rim = np.array((math.cos(first), math.sin(first), 0.0)) * size[0]
        start = matrix[:3, :3] @ rim + matrix[:3, 3]
        return Centerline(arc_about(matrix[:3, 3], start, matrix[:3, 2], turn))
    if not 0 < abs(turn) < _FULL - 1e-9 or size.min() <= 0:
        raise UnusableError("a full turn or none")

    def points(at: Floats) -> Floats:
        a = first + math.copysign(1.0, turn) * at
        flat = np.column_stack((size[0] * np.cos(a), size[1] * np.sin(a), np.zeros(len(a))))
        return _under(matrix, flat)

    return fitted(points, [0.0, abs(turn)], measures, "an ellipse")


def _cut(basis: Any, curve: Any, measures: Measures) -> Centerline:
    """A polyline between two parameters, one for each leg."""
    values = []
    for trim in (curve.Trim1, curve.Trim2):
        numbers = [end.wrappedValue for end in trim if not end.is_a("IfcCartesianPoint")]
        if not numbers:
            raise UnusableError("a polyline trimmed by points")
        values.append(float(numbers[0]))
    whole = _polyline(basis, measures, 0)
    spans = leg_spans(np.array([point3(p) for p in basis.Points]))
    piece = between(whole.piece, spans, *sorted(values))
    back = (values[0] > values[1]) == bool(curve.SenseAgreement)
    return replace(whole, piece=piece.reversed() if back else piece)


def _on_line(line: Any, trim: Any) -> Floats:
    for end in trim:
        if end.is_a("IfcCartesianPoint"):
            return point3(end)
    along = direction3(line.Dir.Orientation, (1.0, 0.0, 0.0)) * float(line.Dir.Magnitude)
    return finite(point3(line.Pnt) + along * float(trim[0].wrappedValue))


def _on_conic(matrix: Floats, size: Floats, trim: Any, angle: float) -> float:
    """The parameter of an end, rad."""
    for end in trim:
        if not end.is_a("IfcCartesianPoint"):
            return float(end.wrappedValue) * angle
    local = (matrix[:3, :3].T @ (point3(trim[0]) - matrix[:3, 3]))[:2] / size
    return math.atan2(local[1], local[0])


def arc_about(center: Floats, start: Floats, axis: Floats, turn: float) -> DrawnPiece:
    """An arc that turns less than once, either way."""
    if turn < 0:
        axis, turn = -axis, -turn
    if not 0 < turn < _FULL - 1e-9 or float(norm(start - center)) == 0:
        raise UnusableError("a full turn or none")
    return arc_piece(center, start, axis, turn)


# --- smooth curves: arcs within the tolerance --------------------------------------------------


def fitted(
    points: Callable[[Floats], Floats], breaks: Sequence[float], measures: Measures, what: str
) -> Centerline:
    """A curve by its parameter as arcs; it is smooth between the ``breaks``."""
    curve = ParametricCurve(points, lambda at, other: _tangent(points, at, other))
    rows: list[Floats] = [points(np.array(breaks[:1]))]
    sizes: list[Floats] = [np.zeros(1)]
    off = 0.0
    for low, high in pairwise(breaks):
        made = bends_along(curve, low, high, measures.fit)
        rows += [made.vertices, points(np.array([high]))]
        sizes += [made.radii, np.zeros(1)]
        off = max(off, made.off)
    whole, radii = finite(np.vstack(rows)), np.concatenate(sizes)
    bends = counted(int((radii > 0).sum()), "arc")
    said = f"{what} taken as {bends}, within {measures.small(off)}"
    return Centerline(DrawnPiece(frozen(whole), frozen(radii)), guesses=(said,))


def _spline(curve: Any, measures: Measures, depth: int) -> Centerline:
    """A B-spline by de Boor's basis (C. de Boor 1972, "On calculating with B-splines"; from
    memory), rational where it has weights.
    """
    degree = int(curve.Degree)
    poles = np.array([point3(p) for p in curve.ControlPointsList])
    count = len(poles)
    if degree == 1:
        return through(poles, measures)
    if not 1 < degree < count <= _MOST_POLES or degree > 12:
        raise UnusableError("a spline of no usable degree")
    if hasattr(curve, "KnotMultiplicities"):
        often = [int(n) for n in curve.KnotMultiplicities]
        distinct = [float(k) for k in curve.Knots]
    else:  # clamped and even; a Bezier curve has pieces of its own between its knots
        inner_often = degree if "Bezier" in curve.is_a() else 1
        spans = (count - 1 - degree) // inner_often + 1
        distinct = list(map(float, range(spans + 1)))
        often = [degree + 1, *[inner_often] * (spans - 1), degree + 1]
    if len(often) != len(distinct) or sum(often) != count + degree + 1:
        raise UnusableError("a spline whose knots do not fit its points")
    knots = finite(np.repeat(distinct, often))
    if (np.diff(knots) < 0).any():
        raise UnusableError("a spline whose knots go back")
    weights = np.ones(count)
    if getattr(curve, "WeightsData", None):
        weights = finite(np.array([float(w) for w in curve.WeightsData]))
        if len(weights) != count or (weights <= 0).any():
            raise UnusableError("a spline with weights that are not positive")
    low, high = float(knots[degree]), float(knots[count])

    def points(at: Floats) -> Floats:
        basis = _basis(knots, degree, count, np.clip(at, low, high)) * weights
        found: Floats = basis @ poles / basis.sum(axis=1)[:, None]
        return found

    inner = [float(k) for k in dict.fromkeys(knots.tolist()) if low < k < high]
    return fitted(points, [low, *inner, high], measures, "a spline")


def _basis(knots: Floats, degree: int, count: int, at: Floats) -> Floats:
    span = np.clip(np.searchsorted(knots, at, side="right") - 1, degree, count - 1)
    basis = np.zeros((len(at), len(knots) - 1))
    basis[np.arange(len(at)), span] = 1.0
    for k in range(1, degree + 1):
        n = len(knots) - 1 - k
        width, after = knots[k:-1] - knots[:n], knots[k + 1 :] - knots[1 : n + 1]
        up = (at[:, None] - knots[:n]) / np.where(width > 0, width, 1.0) * (width > 0)
        down = (knots[k + 1 :] - at[:, None]) / np.where(after > 0, after, 1.0) * (after > 0)
        basis = up * basis[:, :n] + down * basis[:, 1 : n + 1]
    return basis[:, :count]


# --- a part of a directrix ---------------------------------------------------------------------


def leg_spans(points: Floats) -> list[tuple[float, float]]:
    """The length and the parameter of each leg of a polyline, which is 1."""
    return [(float(size), 1.0) for size in norm(np.diff(points, axis=0))]


def parameter_spans(curve: Any, measures: Measures) -> list[tuple[float, float]] | None:
    """The lengths of the parts of a curve and how far its parameter goes in each; None if unsure.

    A leg of a polyline counts 1, a line its length by its vector, a circle its angle in the unit
    of the file; a composite curve the sum of its segments (ISO 16739-1, IfcCompositeCurve).
    """
    if curve.is_a("IfcPolyline"):
        return leg_spans(np.array([point3(p) for p in curve.Points]))
    if curve.is_a("IfcIndexedPolyCurve"):
        straight = not curve.Segments or all(s.is_a("IfcLineIndex") for s in curve.Segments)
        return leg_spans(centerline(curve, measures).piece.points) if straight else None
    if curve.is_a("IfcTrimmedCurve"):
        length = float(_path(centerline(curve, measures).piece).length)
        if curve.BasisCurve.is_a("IfcLine"):
            return [(length, length / float(curve.BasisCurve.Dir.Magnitude))]
        if curve.BasisCurve.is_a() == "IfcCircle":
            return [(length, length / float(curve.BasisCurve.Radius) / measures.angle)]
        return None
    if curve.is_a("IfcCompositeCurve"):
        spans: list[tuple[float, float]] = []
        for segment in curve.Segments:
            part = parameter_spans(segment.ParentCurve, measures)
            if part is None:
                return None
            spans += part if segment.SameSense else part[::-1]
        return spans
    return None


def between(
    piece: DrawnPiece, spans: Sequence[tuple[float, float]], start: float, end: float
) -> DrawnPiece:
    """The part of a piece between two parameters."""
    lengths = np.concatenate(([0.0], np.cumsum([length for length, _ in spans])))
    values = np.concatenate(([0.0], np.cumsum([value for _, value in spans])))
    slack = 1e-9 * max(1.0, float(values[-1]))
    if not -slack <= start < end <= values[-1] + slack:
        raise UnusableError(f"trimmed from {start:g} to {end:g} of {values[-1]:g}")
    low, high = np.interp((start, end), values, lengths)
    path = _path(piece)
    parts = []
    for i in range(len(path)):
        a, b = max(low, float(path.stations[i])), min(high, float(path.stations[i + 1]))
        if b - a <= 1e-12 * path.length:
            continue
        ends = [path.point(float(s)) for s in (a, (a + b) / 2, b)]
        arc = path.kind[i] == ARC
        parts.append(arc_through(*ends) if arc else straight_piece(ends[0], ends[2]))
    return joined(parts)


_CURVES = {
    "IfcPolyline": _polyline,
    "IfcIndexedPolyCurve": _indexed,
    "IfcCompositeCurve": _composite,
    "Ifc2DCompositeCurve": _composite,
    "IfcTrimmedCurve": _trimmed,
    "IfcBSplineCurveWithKnots": _spline,
    "IfcRationalBSplineCurveWithKnots": _spline,
    "IfcBezierCurve": _spline,
    "IfcRationalBezierCurve": _spline,
    "IfcBSplineCurve": _spline,
}
