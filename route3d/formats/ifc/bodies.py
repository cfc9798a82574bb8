"""Solids and surfaces of IFC as straight bars, swept lines and faces, and the lines they run along.

A body is read in the axes of its map and moved with it before its axis is chosen: a map that
scales unevenly makes another side the longest, and a round section oval.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from route3d.formats.ifc.curves import (
    Centerline,
    Measures,
    arc_about,
    between,
    centerline,
    parameter_spans,
    round_across,
    through,
)
from route3d.formats.ifc.placement import (
    UnusableError,
    axis_placement,
    direction3,
    finite,
    mapping,
    point3,
)
from route3d.geometry.join import DrawnPiece, straight_piece
from route3d.geometry.vectors import Floats, frozen, norm, unit

_DEEPEST = 20
# A side is the length of a bar where the next one is shorter by this; a plate has no axis.
_LONGER = 1.25
# A profile this many times longer than its extrusion is the plan of a tray, drawn upwards.
_ACROSS = 2.0
# Share of the rectangle about a profile that it fills where it is one.
_FILLED = 0.9
# Vertices of a round section lie this near to its circle, as a share of the radius.
_ROUND = 0.02
# A body of fewer flats is a prism and not a coarse tube: at 12 they lie 3.4% of the radius inside
# the circle (own judgment).
_ROUND_FLATS = 12
# Share of the area of a prism whose faces lean: coordinates may be rounded to millimeters.
_LEANING = 1e-2
_MOST_WAYS = 40
_SAME_WAY = np.cos(np.radians(2))
_MOST_VERTICES = 200_000
# The outermost faces with this share of the surface are the tube; what is wider by more, its ends.
_BODY, _FLANGE = 0.25, 0.95


@dataclass(frozen=True, slots=True, eq=False)
class Swept:
    """A line that is swept by a disk, or drawn bare."""

    line: Centerline

    def moved(self, matrix: Floats, measures: Measures) -> Swept:
        """The same under a matrix."""
        return Swept(self.line.moved(matrix, measures))

    def lines(self, measures: Measures) -> list[Centerline]:
        """Its centerline."""
        return [self.line]

    def corners(self) -> Floats:
        """Points on its outside, (n, 3)."""
        points = self.line.piece.points
        radius = (self.line.diameter or 0.0) / 2
        legs = unit(np.diff(points, axis=0))
        reach = radius * np.sqrt(np.maximum(1 - legs**2, 0.0))
        ends = np.vstack((points[:-1] - reach, points[:-1] + reach))
        return np.vstack((ends, points[1:] - reach, points[1:] + reach))


@dataclass(frozen=True, slots=True, eq=False)
class Bar:
    """A profile swept straight: its ``center`` (3,) and half sides (3, 3), the last along it.

    ``kind`` is "round", "rectangle" (also any profile that fills one) or "free".
    """

    center: Floats
    half: Floats
    kind: str
    guesses: tuple[str, ...] = ()

    def moved(self, matrix: Floats, measures: Measures) -> Bar:
        """The same under a matrix."""
        center = finite(self.center @ matrix[:3, :3].T + matrix[:3, 3])
        return replace(self, center=center, half=finite(self.half @ matrix[:3, :3].T))

    def corners(self) -> Floats:
        """The eight corners of the box about it."""
        signs = np.array(np.meshgrid(*[(-1, 1)] * 3)).reshape(3, -1).T
        return np.asarray(self.center + signs @ self.half)

    def lines(self, measures: Measures) -> list[Centerline]:
        """Its centerline: along the sweep, or along the longest side of its profile."""
        sides = 2 * norm(self.half)
        along, guesses = 2, list(self.guesses)
        diameter = None
        if self.kind == "round":
            diameter = round_across(self.half[:2], self.half[2])
            if diameter is None:
                guesses.append("an oval section: no diameter")
        elif sides[2] < sides[:2].max():
            along, said = self._along(sides, measures)
            guesses.append(said)
        half = self.half[along]
        if float(norm(half)) == 0:
            raise UnusableError("a body without length")
        piece = straight_piece(self.center - half, self.center + half)
        return [Centerline(piece, diameter, tuple(guesses))]

    def _along(self, sides: Floats, measures: Measures) -> tuple[int, str]:
        longest = int(np.argmax(sides))
        beside = float(np.delete(sides, longest).max())
        size = " x ".join(f"{s * measures.meters:.4g}" for s in sides) + " m"
        if sides[longest] < _ACROSS * sides[2]:
            return 2, f"shorter along its sweep than its profile is wide ({size})"
        if self.kind == "free":
            raise UnusableError(f"no axis: a free-form plate of {size}")
        if sides[longest] < _LONGER * beside:
            raise UnusableError(f"no axis: a plate of {size}")
        length = measures.length(float(sides[longest]))
        depth = measures.length(float(sides[2]))
        return longest, f"swept across: its axis is its longest side, {length}, not {depth}"


@dataclass(frozen=True, slots=True, eq=False)
class Faces:
    """A surface: ``vertices`` (n, 3) and ``loops`` of their numbers; ``curved`` between them."""

    vertices: Floats
    loops: tuple[NDArray[np.int64], ...]
    curved: bool = False

    def moved(self, matrix: Floats, measures: Measures) -> Faces:
        """The same under a matrix."""
        moved = finite(self.vertices @ matrix[:3, :3].T + matrix[:3, 3])
        return Faces(moved, self.loops, self.curved)

    def corners(self) -> Floats:
        """Its vertices."""
        return self.vertices

    def lines(self, measures: Measures) -> list[Centerline]:
        """The axis of a tube or prism; UnusableError for other shapes."""
        if self.curved:
            raise UnusableError("no axis: curved faces that are not of one cylinder")
        return [_prism_axis(self.vertices, self.loops, measures)]


Body = Swept | Bar | Faces


def bodies(item: Any, measures: Measures, depth: int = 0) -> Iterator[Body]:
    """The bodies of a representation item; UnusableError where one gives no centerline."""
    if depth > _DEEPEST:
        raise UnusableError("circular maps")
    if item.is_a("IfcMappedItem"):
        matrix = mapping(item)
        for part in item.MappingSource.MappedRepresentation.Items:
            yield from (b.moved(matrix, measures) for b in bodies(part, measures, depth + 1))
    elif item.is_a("IfcBooleanResult"):
        for found in bodies(item.FirstOperand, measures, depth + 1):
            yield _with_guess(found, "solids taken without their cuts")
    elif item.is_a("IfcCsgSolid") or item.is_a("IfcCsgPrimitive3D"):
        yield from _csg(item, measures, depth)
    elif item.is_a("IfcGeometricSet"):
        for part in item.Elements:
            yield from bodies(part, measures, depth + 1)
    elif item.is_a("IfcCurve"):
        yield Swept(centerline(item, measures))
    else:
        yield _solid(item, measures)


def _with_guess(body: Body, said: str) -> Body:
    if isinstance(body, Bar):
        return replace(body, guesses=(*body.guesses, said))
    if isinstance(body, Swept):
        return Swept(replace(body.line, guesses=(*body.line.guesses, said)))
    return body


def _solid(item: Any, measures: Measures) -> Body:
    if item.is_a("IfcSweptDiskSolid"):
        return _swept_disk(item, measures)
    if item.is_a("IfcExtrudedAreaSolid"):
        return _placed(item, _extruded(item, measures), measures)
    if item.is_a("IfcRevolvedAreaSolid"):
        return _placed(item, _revolved(item, measures), measures)
    if item.is_a() in ("IfcFixedReferenceSweptAreaSolid", "IfcSurfaceCurveSweptAreaSolid"):
        return _placed(item, _along_directrix(item, measures), measures)
    if item.is_a("IfcAdvancedBrep"):
        return _advanced(item)
    if (found := _faces(item)) is not None:
        return found
    raise UnusableError(f"a body of {item.is_a()}")


def _placed(item: Any, found: Body, measures: Measures) -> Body:
    return found if item.Position is None else found.moved(axis_placement(item.Position), measures)


# --- swept -------------------------------------------------------------------------------------


def _swept_disk(item: Any, measures: Measures) -> Swept:
    directrix = item.Directrix
    radius = float(getattr(item, "FilletRadius", None) or 0.0)
    if radius and directrix.is_a("IfcPolyline"):
        points = np.array([point3(p) for p in directrix.Points])
        line = through(points, measures, radius)
    else:
        line = centerline(directrix, measures)
        if radius and not line.piece.radii.any():
            line = replace(through(line.piece.points, measures, radius), guesses=line.guesses)
    line = _trimmed(item, line, bool(radius), measures)
    return Swept(replace(line, diameter=2 * float(item.Radius)))


def _trimmed(item: Any, line: Centerline, rounded: bool, measures: Measures) -> Centerline:
    """The part of a directrix that is swept."""
    if item.StartParam is None and item.EndParam is None:
        return line
    spans = parameter_spans(item.Directrix, measures)
    said = "swept disks taken along the full directrix"
    if spans is None:
        return replace(line, guesses=(*line.guesses, said))
    start = 0.0 if item.StartParam is None else float(item.StartParam)
    total = sum(value for _, value in spans)
    end = total if item.EndParam is None else float(item.EndParam)
    if abs(start) < 1e-9 and abs(end - total) <= 1e-6 * total:
        return line
    if rounded or not 0 <= start < end <= total * (1 + 1e-6):
        limits = f"its trims {start:g} to {end:g} of {total:g} not used"
        return replace(line, guesses=(*line.guesses, said, limits))
    return replace(line, piece=between(line.piece, spans, start, end))


def _along_directrix(item: Any, measures: Measures) -> Swept:
    profile = _profile(item.SweptArea, measures)
    line = centerline(item.Directrix, measures)
    diameter = 2 * float(norm(profile.half[0])) if profile.kind == "round" else None
    off = float(norm(profile.center))
    said = (f"its directrix taken, {measures.small(off)} off its middle",) if off > 0 else ()
    return Swept(replace(line, diameter=diameter, guesses=(*line.guesses, *said)))


def _extruded(item: Any, measures: Measures) -> Bar:
    profile = _profile(item.SweptArea, measures)
    depth = float(item.Depth)
    if not 0 < depth < 1e12:
        raise UnusableError("a body without length")
    along = direction3(item.ExtrudedDirection, (0.0, 0.0, 1.0)) * depth / 2
    half = np.vstack((profile.half, along))
    return Bar(profile.center + along, half, profile.kind, profile.guesses)


def _revolved(item: Any, measures: Measures) -> Swept:
    profile = _profile(item.SweptArea, measures)
    start = profile.center
    axis = direction3(item.Axis.Axis, (0.0, 0.0, 1.0))
    foot = point3(item.Axis.Location)
    center = foot + ((start - foot) @ axis) * axis
    piece = arc_about(center, start, axis, float(item.Angle) * measures.angle)
    diameter = 2 * float(norm(profile.half[0])) if profile.kind == "round" else None
    return Swept(Centerline(piece, diameter, profile.guesses))


# --- profiles ----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class _Profile:
    """Center (3,) of a profile in its plane, its half sides (2, 3), and what kind it is."""

    center: Floats
    half: Floats
    kind: str
    guesses: tuple[str, ...] = ()


# The attributes that hold the width (x) and the height (y) of standard sections.
_SIDES = (
    ("XDim", "YDim"),
    ("FlangeWidth", "Depth"),
    ("Width", "Depth"),
    ("OverallWidth", "OverallDepth"),
    ("BottomFlangeWidth", "OverallDepth"),
    ("BottomXDim", "YDim"),
)


def _profile(area: Any, measures: Measures) -> _Profile:
    if area.is_a("IfcDerivedProfileDef"):
        return _derived(area, measures)
    if area.is_a("IfcParameterizedProfileDef"):
        matrix = np.eye(4) if area.Position is None else axis_placement(area.Position)
        if area.is_a("IfcCircleProfileDef"):
            size, kind = (float(area.Radius),) * 2, "round"
        elif area.is_a("IfcEllipseProfileDef"):
            size, kind = (float(area.SemiAxis1), float(area.SemiAxis2)), "round"
        else:
            size, kind = _half_sides(area)
        if min(size) <= 0:
            raise UnusableError("a profile without size")
        half = np.array(((size[0], 0, 0), (0, size[1], 0))) @ matrix[:3, :3].T
        return _Profile(matrix[:3, 3], half, kind)
    if not area.is_a("IfcArbitraryClosedProfileDef"):
        raise UnusableError(f"a profile of {area.is_a()}")
    return _outlined(area.OuterCurve, measures)


def _half_sides(area: Any) -> tuple[tuple[float, float], str]:
    rectangle = area.is_a("IfcRectangleProfileDef") or area.is_a("IfcTrapeziumProfileDef")
    for x, y in _SIDES:
        if hasattr(area, x) and hasattr(area, y):
            sides = float(getattr(area, x)) / 2, float(getattr(area, y)) / 2
            return sides, "rectangle" if rectangle else "free"
    if hasattr(area, "Depth"):
        return (float(area.Depth) / 2,) * 2, "free"
    raise UnusableError(f"a profile of {area.is_a()}")


def _derived(area: Any, measures: Measures) -> _Profile:
    parent = _profile(area.ParentProfile, measures)
    operator = getattr(area, "Operator", None)
    if area.is_a("IfcMirroredProfileDef") or operator is None:
        flip = np.diag((-1.0, 1.0, 1.0))
        return replace(parent, center=flip @ parent.center, half=parent.half @ flip)
    x = direction3(operator.Axis1, (1.0, 0.0, 0.0))
    y = np.cross((0.0, 0.0, 1.0), x)
    scale = 1.0 if operator.Scale is None else float(operator.Scale)
    second = getattr(operator, "Scale2", None)
    turn = np.column_stack((x * scale, y * (scale if second is None else float(second)), (0, 0, 1)))
    center = turn @ parent.center + point3(operator.LocalOrigin)
    return replace(parent, center=center, half=parent.half @ turn.T)


def _outlined(outline: Any, measures: Measures) -> _Profile:
    if outline.is_a("IfcCircle"):
        radius = float(outline.Radius)
        matrix = axis_placement(outline.Position)
        return _Profile(matrix[:3, 3], radius * matrix[:3, :2].T, "round")
    piece = centerline(outline, measures).piece
    points = piece.points[:, :2]
    low, high = points.min(axis=0), points.max(axis=0)
    sweep = _arcs_only(piece)
    if sweep is not None:
        return _Profile(np.array((*sweep[0], 0.0)), sweep[1] * np.eye(3)[:2], "round")
    hull = convex_hull(points)
    center, half, area = _least_rectangle(hull)
    x, y = points[:, 0], points[:, 1]
    own = abs(float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum())) / 2
    filled = area > 0 and own >= _FILLED * area
    said = "the middle of a free-form profile taken as its center"
    if not filled:  # its own axes are those it was drawn in
        center, half = (low + high) / 2, np.diag((high - low) / 2)
    flat = np.column_stack((half, np.zeros(2)))
    kind = "rectangle" if filled else "free"
    exact = filled and own >= (1 - 1e-6) * area
    return _Profile(np.array((*center, 0.0)), flat, kind, () if exact else (said,))


def _arcs_only(piece: DrawnPiece) -> tuple[Floats, float] | None:
    """Center and radius of an outline that is a circle in arcs."""
    radii = piece.radii[piece.radii > 0]
    if len(radii) < 2 or not np.allclose(radii, radii[0], rtol=1e-6):
        return None
    ends = piece.points[piece.radii == 0][:, :2]
    center = ends[:-1].mean(axis=0) if len(ends) > 2 else ends.mean(axis=0)
    even = np.allclose(norm(ends - center), radii[0], rtol=1e-6)
    return (center, float(radii[0])) if even and len(ends) > 2 else None


def convex_hull(points: Floats) -> Floats:
    """The corners of the convex hull of plane points (n, 2), in order (A. M. Andrew 1979, "Another
    efficient algorithm for convex hulls in two dimensions"; from memory).
    """
    rows = np.unique(points, axis=0).tolist()
    if len(rows) < 3:
        return np.array(rows)

    def chain(of: Sequence[list[float]]) -> list[list[float]]:
        made: list[list[float]] = []
        for p in of:
            while len(made) > 1:
                (ax, ay), (bx, by) = made[-2], made[-1]
                if (bx - ax) * (p[1] - ay) - (by - ay) * (p[0] - ax) > 0:
                    break
                made.pop()
            made.append(p)
        return made[:-1]

    return np.array(chain(rows) + chain(rows[::-1]))


def _least_rectangle(hull: Floats) -> tuple[Floats, Floats, float]:
    """Center (2,), half sides (2, 2) and area of the smallest rectangle about a hull."""
    best = None
    for edge in np.diff(np.vstack((hull, hull[:1])), axis=0):
        size = float(norm(edge))
        if size == 0:
            continue
        x = edge / size
        turn = np.array((x, (-x[1], x[0])))
        flat = hull @ turn.T
        low, high = flat.min(axis=0), flat.max(axis=0)
        area = float(np.prod(high - low))
        if best is None or area < best[2] * (1 - 1e-9):
            best = ((low + high) / 2 @ turn, turn * ((high - low) / 2)[:, None], area)
    if best is None:
        raise UnusableError("a profile of one point")
    return best


# --- faces -------------------------------------------------------------------------------------


def _faces(item: Any) -> Faces | None:
    """The faces of a faceted body or surface; None for other items."""
    if item.is_a() in (
        "IfcTriangulatedFaceSet",
        "IfcPolygonalFaceSet",
        "IfcTriangulatedIrregularNetwork",
    ):
        rows = finite(np.array([[float(c) for c in row] for row in item.Coordinates.CoordList]))
        if item.is_a("IfcPolygonalFaceSet"):
            loops = [np.array(face.CoordIndex) - 1 for face in item.Faces]
        else:
            loops = [np.array(face) - 1 for face in item.CoordIndex]
        if numbers := getattr(item, "PnIndex", None):
            loops = [np.array(numbers)[loop] - 1 for loop in loops]
        return Faces(rows, tuple(loops))
    shells: list[Any] = []
    if item.is_a("IfcFacetedBrep"):
        shells = [item.Outer]
    elif item.is_a("IfcShellBasedSurfaceModel"):
        shells = list(item.SbsmBoundary)
    elif item.is_a("IfcFaceBasedSurfaceModel"):
        shells = list(item.FbsmFaces)
    elif item.is_a("IfcConnectedFaceSet"):
        shells = [item]
    if not shells:
        return None
    return _of_shells(shells)


def _of_shells(shells: Sequence[Any]) -> Faces:
    """Faces by the points of their outer loops."""
    loops = []
    for shell in shells:
        for face in shell.CfsFaces:
            bounds = list(face.Bounds)
            outer = [b for b in bounds if b.is_a("IfcFaceOuterBound")] or bounds[:1]
            for bound in outer:
                if not bound.Bound.is_a("IfcPolyLoop"):
                    raise UnusableError(f"faces of {bound.Bound.is_a()}")
                loops.append(list(bound.Bound.Polygon))
    return _by_points(loops)


def _by_points(loops: Sequence[Sequence[Any]]) -> Faces:
    """Faces by their loops of IfcCartesianPoint, each point once."""
    number: dict[int, int] = {}
    places: list[Floats] = []
    for loop in loops:
        for point in loop:
            if int(point.id()) not in number:
                number[int(point.id())] = len(places)
                places.append(point3(point))
    if not places:
        raise UnusableError("no faces")
    rows = tuple(np.array([number[int(point.id())] for point in loop]) for loop in loops)
    return Faces(np.array(places), rows)


def _advanced(item: Any) -> Bar | Faces:
    """A body of curved faces: a bar where its curved faces are those of one cylinder."""
    faces = [face for face in item.Outer.CfsFaces if face.is_a("IfcFaceSurface")]
    shells = _of_edges(faces)
    round_ = [f.FaceSurface for f in faces if not f.FaceSurface.is_a("IfcPlane")]
    if not round_:
        return shells
    if not all(surface.is_a("IfcCylindricalSurface") for surface in round_):
        return replace(shells, curved=True)
    outer = max(round_, key=lambda surface: float(surface.Radius))
    matrix, radius = axis_placement(outer.Position), float(outer.Radius)
    for surface in round_:
        other = axis_placement(surface.Position)
        aside = np.cross(other[:3, 3] - matrix[:3, 3], matrix[:3, 2])
        leans = float(norm(np.cross(other[:3, 2], matrix[:3, 2])))
        if leans > 1e-6 or float(norm(aside)) > 1e-6 * radius:
            return replace(shells, curved=True)
    stations = (shells.vertices - matrix[:3, 3]) @ matrix[:3, 2]
    low, high = float(stations.min()), float(stations.max())
    center = matrix[:3, 3] + (low + high) / 2 * matrix[:3, 2]
    half = np.vstack((radius * matrix[:3, :2].T, (high - low) / 2 * matrix[:3, 2]))
    return Bar(center, half, "round")


def _of_edges(faces: Sequence[Any]) -> Faces:
    """Faces by the vertices of their edges."""
    loops = []
    for face in faces:
        for bound in face.Bounds:
            if not bound.Bound.is_a("IfcEdgeLoop"):
                continue
            loop = []
            for edge in bound.Bound.EdgeList:
                own = edge.EdgeElement
                loop.append((own.EdgeStart if edge.Orientation else own.EdgeEnd).VertexGeometry)
            loops.append(loop)
    return _by_points(loops)


def _csg(item: Any, measures: Measures, depth: int) -> Iterator[Body]:
    """A cylinder or block, or what is left of it: its cuts are not made."""
    root = item.TreeRootExpression if item.is_a("IfcCsgSolid") else item
    if root.is_a("IfcBooleanResult"):
        yield from bodies(root, measures, depth + 1)
        return
    matrix = axis_placement(root.Position)
    if root.is_a("IfcRightCircularCylinder"):
        size = np.diag((float(root.Radius), float(root.Radius), float(root.Height) / 2))
        yield Bar(np.array((0.0, 0.0, size[2, 2])), size, "round").moved(matrix, measures)
    elif root.is_a("IfcBlock"):
        sides = np.array((float(root.XLength), float(root.YLength), float(root.ZLength)))
        yield Bar(sides / 2, np.diag(sides / 2), "rectangle").moved(matrix, measures)
    else:
        raise UnusableError(f"a body of {root.is_a()}")


def _prism_axis(
    vertices: Floats, loops: Sequence[NDArray[np.int64]], measures: Measures
) -> Centerline:
    """The axis of a tube or prism: all its faces run along it or lie across it.

    Directions in which that may be so are those across two faces and those of the faces. A round
    section decides; else the longest direction, which must be clearly the longest.
    """
    count = len(vertices)
    if not 4 <= count <= _MOST_VERTICES or not loops:
        raise UnusableError("no axis: faces of no body")
    if any(loop.min() < 0 or loop.max() >= count for loop in loops if len(loop)):
        raise UnusableError("faces with points that do not exist")
    size = float(norm(np.ptp(vertices, axis=0)))
    vertices, base = vertices - vertices.mean(axis=0), vertices.mean(axis=0)
    normals, areas, middles = _face_normals(vertices, loops)
    if size == 0 or not areas.any():
        raise UnusableError("no axis: faces without area")
    ways = _directions(normals, areas)
    across = np.abs(normals @ ways.T)
    lean = np.minimum(across, np.sqrt(np.maximum(1 - across**2, 0.0)))
    upright = areas @ lean <= _LEANING * float(areas.sum())
    found = []
    for axis, sides in zip(ways[upright], across.T[upright] < 0.5, strict=True):
        if not sides.any():
            continue
        weighed = normals[sides] * areas[sides, None]
        _, axes = np.linalg.eigh(normals[sides].T @ weighed)
        best_axis = axes[:, 0] if abs(float(axes[:, 0] @ axis)) > _SAME_WAY else axis
        found.append(_Prism.of(vertices, best_axis, middles[sides], areas[sides]))
        if found[-1].diameter is not None:
            break
    if not found:
        raise UnusableError("no axis: its faces are those of no straight tube or prism")
    found.sort(key=lambda prism: (prism.diameter is None, -prism.length))
    best = found[0]
    if best.diameter is None:
        _refuse_plate(best, found, measures)
        said = "axis taken from its faces"
    else:
        inside = f"{best.flats} flats, {measures.small(best.off)} inside the circle"
        said = f"axis and diameter taken from its faces: {inside}"
        if best.flats < _ROUND_FLATS:
            wide = f"{best.diameter * measures.meters * 1000:.4g} mm across corners"
            said = f"axis taken from its faces: {inside}; no diameter taken, {wide}"
            best = replace(best, diameter=None)
    return Centerline(straight_piece(base + best.start, base + best.end), best.diameter, (said,))


def _refuse_plate(best: _Prism, found: Sequence[_Prism], measures: Measures) -> None:
    widest = max(best.sides)
    sides = sorted((best.length, *best.sides), reverse=True)
    size = " x ".join(f"{s * measures.meters:.4g}" for s in sides) + " m"
    longest = best.length >= (_LONGER if len(found) > 1 else 1.0) * widest
    if not longest and not (len(found) == 1 and best.length * _ACROSS > widest):
        raise UnusableError(f"no axis: a plate or block of {size}")


def _face_normals(
    points: Floats, loops: Sequence[NDArray[np.int64]]
) -> tuple[Floats, Floats, Floats]:
    """Unit normals (k, 3), areas (k,) and middles (k, 3) of faces (M. E. Newell's sum)."""
    lengths = np.array([len(loop) for loop in loops])
    flat = np.concatenate(loops)
    starts = np.concatenate(([0], np.cumsum(lengths)[:-1]))
    after = np.arange(len(flat)) + 1
    after[starts + lengths - 1] = starts
    corners = points[flat]
    cross = np.add.reduceat(np.cross(corners, corners[after]), starts, axis=0)
    sizes = norm(cross)
    normals = cross / np.where(sizes > 0, sizes, 1.0)[:, None]
    middles = np.add.reduceat(corners, starts, axis=0) / lengths[:, None]
    return normals, sizes / 2, middles


def _directions(normals: Floats, areas: Floats) -> Floats:
    """Unit directions in which a prism of these faces may run, (k, 3)."""
    distinct = _distinct(normals[np.argsort(-areas, kind="stable")])[:_MOST_WAYS]
    crossed = np.vstack([np.cross(one, distinct) for one in distinct[:3]])
    sizes = norm(crossed)
    apart = sizes > 1e-2
    return _distinct(np.vstack((crossed[apart] / sizes[apart, None], distinct)))


def _distinct(ways: Floats) -> Floats:
    """Unit vectors less those that another one before has, either way."""
    ways = ways[norm(ways) > 0.5]
    lead = ways[np.arange(len(ways)), np.argmax(np.abs(ways) > 1e-4, axis=1)]
    keys = np.round(ways * np.where(lead < 0, -1.0, 1.0)[:, None], 4) + 0.0
    _, first = np.unique(keys, axis=0, return_index=True)
    return np.asarray(ways[np.sort(first)])


@dataclass(frozen=True, slots=True, eq=False)
class _Prism:
    """A prism along one direction: ends (3,), the sides across it, its diameter where round."""

    start: Floats
    end: Floats
    sides: tuple[float, float]
    diameter: float | None
    off: float
    flats: int = 0

    @property
    def length(self) -> float:
        return float(norm(self.end - self.start))

    @classmethod
    def of(cls, vertices: Floats, axis: Floats, middles: Floats, areas: Floats) -> _Prism:
        helper = np.eye(3)[int(np.argmin(np.abs(axis)))]
        u = unit(np.cross(axis, helper))
        plane = np.array((u, np.cross(axis, u)))
        flat = vertices @ plane.T
        stations = vertices @ axis
        hull = convex_hull(flat)
        center, half, _ = _least_rectangle(hull)
        sides = (float(2 * norm(half[0])), float(2 * norm(half[1])))
        ring = _ring(hull)
        diameter, off, flats = None, 0.0, 0
        if ring is not None:
            center, radius, off = ring
            steps = norm(np.diff(hull, axis=0, append=hull[:1]))
            flats = int((steps > 1e-3 * radius).sum())  # a corner may be there twice
            off += radius * (1 - float(np.cos(np.pi / flats)))  # the middles of its flats
            # a flange is wider than the tube it stands on, and has less of a surface
            side = norm(middles @ plane.T - center)
            outwards = np.argsort(-side)
            share = np.cumsum(areas[outwards]) / areas.sum()
            body = float(side[outwards[int(np.searchsorted(share, _BODY))]])
            reach = norm(flat - center)
            least = float(reach[reach >= body * (1 - 1e-6)].min(initial=radius))
            diameter = 2 * (radius if least > _FLANGE * radius else least)
        place = center @ plane
        low, high = float(stations.min()), float(stations.max())
        return cls(place + low * axis, place + high * axis, sides, diameter, off, flats)


def _ring(hull: Floats) -> tuple[Floats, float, float] | None:
    """Center, radius and largest departure of a hull of points on a circle; None for others."""
    if len(hull) < 6:
        return None
    x, y = (hull - hull.mean(axis=0)).T
    terms = np.column_stack((2 * x, 2 * y, np.ones(len(x))))
    (a, b, c), *_ = np.linalg.lstsq(terms, x * x + y * y, rcond=None)
    radius = float(np.sqrt(max(c + a * a + b * b, 0.0)))
    center = hull.mean(axis=0) + np.array((a, b))
    reach = norm(hull - center)
    off = float(np.abs(reach - radius).max())
    angles = np.sort(np.arctan2(*(hull - center).T[::-1]))
    widest = float(np.diff(np.concatenate((angles, angles[:1] + 2 * np.pi))).max())
    if radius == 0 or off > _ROUND * radius or widest > np.radians(65):
        return None
    return center, radius, off


# --- a whole representation --------------------------------------------------------------------


def lines_of(found: Sequence[Body], measures: Measures) -> list[Centerline]:
    """The centerlines of all bodies of a representation; bodies side by side as one."""
    if not found:
        raise UnusableError("an empty representation")
    lines = [line for body in found for line in body.lines(measures)]
    return _as_one(found, lines, measures) if len(lines) > 1 else lines


def _as_one(found: Sequence[Body], lines: list[Centerline], measures: Measures) -> list[Centerline]:
    """Straights side by side along one stretch are one element, such as the walls of a tray."""
    first = lines[0].piece.points
    along = unit(first[-1] - first[0])
    spans = []
    for line in lines:
        points = line.piece.points
        legs = np.diff(points, axis=0)
        if line.piece.radii.any() or (norm(np.cross(legs, along)) > 1e-3 * norm(legs)).any():
            return lines
        stations = (points - first[0]) @ along
        spans.append((float(stations.min()), float(stations.max())))
    low, high = max(s[0] for s in spans), min(s[1] for s in spans)
    longest = max(b - a for a, b in spans)
    if high - low < longest / 2:
        return lines
    aside = next((b.half[0] for b in found if isinstance(b, Bar)), np.eye(3)[0])
    aside = aside - (aside @ along) * along
    if float(norm(aside)) < 1e-9 * float(norm(first[-1] - first[0])):
        aside = np.cross(along, np.eye(3)[int(np.argmin(np.abs(along)))])
    plane = np.array((unit(aside), np.cross(along, unit(aside))))
    flat = (np.vstack([body.corners() for body in found]) - first[0]) @ plane.T
    foot = first[0] + (flat.min(axis=0) + flat.max(axis=0)) / 2 @ plane
    ends = foot + np.outer((min(s[0] for s in spans), max(s[1] for s in spans)), along)
    apart = max(float(norm(np.cross(ln.piece.points[0] - foot, along))) for ln in lines)
    guesses = [g for line in lines for g in line.guesses]
    if apart * measures.meters > 1e-6:
        guesses.append(f"{len(lines)} bodies side by side taken as one")
    piece = DrawnPiece(frozen(ends), frozen(np.zeros(2)))
    largest = max((ln.diameter for ln in lines if ln.diameter is not None), default=None)
    return [Centerline(piece, largest, tuple(dict.fromkeys(guesses)))]
