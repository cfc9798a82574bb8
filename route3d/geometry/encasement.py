"""The concrete of a duct bank: its section, where it lies, and its solid as a mesh.

A section swept along a path square to it, with its centroid on the path, has the volume A x L:
Pappus' second theorem in bends (from memory), plain prisms elsewhere. A mesh of it in steps of θ
has flat faces, for two neighboring rings mirror each other; in a bend it holds

    sin θ / θ

of the true volume, exactly, and what it lacks is below θ²/6 of it. A circle of the section is
drawn as a polygon of the same area, so that the section itself lacks nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from route3d.errors import GeometryError
from route3d.geometry.bank import duct_offsets, room
from route3d.geometry.grade import Grade
from route3d.geometry.path import ARC, CORNER, Path
from route3d.geometry.rmf_frames import frames, frames_at
from route3d.geometry.vectors import Floats
from route3d.model.job import Bank

if TYPE_CHECKING:
    import trimesh
    from shapely import Polygon

# Sides of the polygon that stands for a duct.
_SIDES = 32
# The steps in a bend: 2.5 degrees leave the mesh of a bend 0.03 % short.
STEP = math.radians(2.5)
_SHORTEST = 1e-6


@dataclass(frozen=True, eq=False, slots=True)
class ConcreteSection:
    """The concrete across the route: ``width`` and ``height`` m about the centerline.

    ``ducts`` (m, 2) are the centers of the ducts, to the right and up, m; ``diameter`` m their
    outer diameter, which is left out of the concrete.
    """

    width: float
    height: float
    ducts: Floats
    diameter: float

    @property
    def area(self) -> float:
        """Area of the concrete without the ducts, m²."""
        return self.whole - len(self.ducts) * math.pi / 4 * self.diameter**2

    @property
    def whole(self) -> float:
        """Area of the box, ducts and all, m²."""
        return self.width * self.height

    @property
    def corners(self) -> Floats:
        """Corners of the box, (4, 2) m, counter-clockwise as seen along the route."""
        half = np.array([self.width, self.height]) / 2
        corners: Floats = half * np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)])
        return corners

    def polygon(self, *, ducts: bool = True, sides: int = _SIDES) -> Polygon:
        """The section as a polygon of the same area; without ``ducts`` it is the plain box."""
        import shapely

        return shapely.Polygon(self.corners, self._holes(sides) if ducts else [])

    def _holes(self, sides: int) -> Floats:
        """Polygons of the area of a duct, (m, sides, 2), clockwise."""
        turn = 2 * math.pi / sides
        radius = self.diameter / 2 * math.sqrt(turn / math.sin(turn))
        angle = -turn * np.arange(sides)
        circle = radius * np.column_stack((np.cos(angle), np.sin(angle)))
        holes: Floats = self.ducts[:, None] + circle
        return holes


def section(bank: Bank, widest: float, diameter: float | None = None) -> ConcreteSection:
    """The section of a bank whose box suits the ``widest`` duct; all lengths in m.

    ``diameter`` is that of the ducts where the section is taken, by default the widest.

    Parameters
    ----------
    bank : Bank
        Rows, columns, spacing and cover, m.
    widest : float
        Outer diameter of the widest duct, m.
    diameter : float, optional
        m. Default: the widest.

    Returns
    -------
    Section
        m
    """
    across, between = bank.spacing
    return ConcreteSection(
        (bank.columns - 1) * across + widest + 2 * bank.cover,
        (bank.rows - 1) * between + widest + 2 * bank.cover,
        duct_offsets(bank),
        widest if diameter is None else diameter,
    )


# --- where it lies -------------------------------------------------------------------------------


def stretches_outside(path: Path, grade: Grade) -> tuple[tuple[float, float], ...]:
    """Station pairs (m) of the stretches that lie outside the surface of the grade.

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    grade : Grade
        The ground, m.

    Returns
    -------
    tuple of (float, float)
        m
    """
    if grade.is_level:
        return ()
    fine = path.split(_cuts(path, grade))
    middle = fine.point((fine.stations[:-1] + fine.stations[1:]) / 2)
    return spans(fine, np.isnan(grade.at(middle)))


def ground_stations(path: Path, grade: Grade) -> Floats:
    """Stations (k,) m between which path and ground both run straight, the ends among them.

    Segments and, in bends, steps of ``STEP``; and where the plan passes an edge of the surface.

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    grade : Grade
        The ground, m.

    Returns
    -------
    ndarray, shape (k,)
        m
    """
    counts = _steps_in(path, STEP)
    steps = [
        start + length * np.arange(count) / count
        for start, length, count in zip(path.stations[:-1], path.lengths, counts, strict=True)
    ]
    stations = np.unique(np.concatenate((*steps, [path.length])))
    points = path.point(stations)
    line, share = grade.passed(points[:-1], points[1:])
    between = stations[line] + share * np.diff(stations)[line]
    every = np.unique(np.concatenate((stations, between)))
    return every[np.concatenate(([True], np.diff(every) > _SHORTEST))]


def ground_line(path: Path, grade: Grade) -> tuple[Floats, Floats]:
    """The ground over a path: stations (k,) m and elevations (k,) m, straight between them.

    Not a number outside the surface of the grade.

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    grade : Grade
        The ground, m.

    Returns
    -------
    tuple of ndarray
        Stations and elevations, m.
    """
    level = grade.is_level
    stations = np.array([0.0, path.length]) if level else ground_stations(path, grade)
    return stations, grade.at(path.point(stations))


def _cuts(path: Path, grade: Grade) -> Floats:
    """Stations at which a path passes the ground, or the rim of its surface."""
    stations = ground_stations(path, grade)
    if len(stations) < 2:
        return np.empty(0)
    # just inside of each piece: at an edge where the ground jumps it has two heights
    hair = np.minimum(1e-5, np.diff(stations) / 4)
    ends = path.point(np.concatenate((stations[:-1] + hair, stations[1:] - hair)))
    first, last = np.split(grade.at(ends) - ends[:, 2], 2)
    passes = first * last < 0
    share = first[passes] / (first - last)[passes]
    within = stations[:-1][passes] + share * np.diff(stations)[passes]
    changes = (np.isnan(first[1:]) != np.isnan(last[:-1])) | (first[1:] * last[:-1] < 0)
    return np.sort(np.concatenate((within, stations[1:-1][changes])))


def spans(path: Path, held: NDArray[np.bool_]) -> tuple[tuple[float, float], ...]:
    """Where the segments of a path that are held lie, neighbors together.

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    held : ndarray of bool, shape (n,)
        Which segments.

    Returns
    -------
    tuple of (float, float)
        Station pairs, m.
    """
    held = held & (path.kind != CORNER)
    # A corner has no length and no side of its own: it belongs to what is on both sides of it.
    inner = np.flatnonzero(path.kind == CORNER)
    inner = inner[(inner > 0) & (inner < len(path) - 1)]
    held[inner] = held[inner - 1] & held[inner + 1]
    edges = np.flatnonzero(np.diff(np.concatenate(([0], held.astype(int), [0]))))
    spans = path.stations[edges].reshape(-1, 2)
    return tuple((float(a), float(b)) for a, b in spans if b - a > _SHORTEST)


def part_of(path: Path, start: float, end: float) -> Path:
    """The stretch of a path between two stations, m; a corner at either end is left out.

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    start, end : float
        Stations, m.

    Returns
    -------
    Path
        The stretch.
    """
    fine = path.split([start, end])
    middle = (fine.stations[:-1] + fine.stations[1:]) / 2
    inside = np.flatnonzero((middle > start) & (middle < end))
    keep = slice(int(inside[0]), int(inside[-1]) + 1)
    names = ("kind", "lengths", "angles", "starts", "tangents", "normals", "vertex", "leg")
    return Path(**{name: getattr(fine, name)[keep] for name in names})


# --- the solid -----------------------------------------------------------------------------------


def solid(
    path: Path,
    shape: ConcreteSection,
    *,
    start: Floats | None = None,
    ducts: bool = True,
    step: float = STEP,
) -> trimesh.Trimesh:
    """The watertight mesh of a section swept along a path, m; z up.

    ``start`` (2, 3) is right and up at the start of the path, ``ducts`` leaves them open, ``step``
    (rad) is the most a bend turns from ring to ring. The volume is that of ``mesh_volume``.

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    shape : Section
        From `section`.
    start : ndarray, shape (2, 3), optional
        Right and up at the start. Default: `level_frame`.
    ducts : bool
        Leave the ducts open.
    step : float
        Largest turn from ring to ring, rad.

    Returns
    -------
    trimesh.Trimesh
        m, z up.

    Raises
    ------
    GeometryError
        Where the box is wider than a bend or the straights beside a turn allow.
    """
    import trimesh

    starts = frames(path, start)
    if (fold := folded(path, shape, starts)) is not None:
        raise fold
    outline = shape.polygon(ducts=ducts)
    loops = [np.asarray(r.coords)[:-1] for r in (outline.exterior, *outline.interiors)]
    flat = np.concatenate(loops)
    around = rings(path, starts, flat, step)
    cap = _cap(outline, flat)
    sides = _sides([len(loop) for loop in loops], len(around))
    last = (len(around) - 1) * len(flat)
    # The section is seen along the route: that side of it faces out at the start only.
    faces = np.concatenate((cap, sides, cap[:, ::-1] + last))
    return trimesh.Trimesh(around.reshape(-1, 3), faces, process=False)


def mesh_volume(path: Path, area: float, step: float = STEP) -> float:
    """Volume (m³) that a mesh of ``solid`` has: A L, and sin θ / θ of it in bends.

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    area : float
        Of the section, m².
    step : float
        As for `solid`, rad.

    Returns
    -------
    float
        m³
    """
    arc = path.kind == ARC
    theta = path.angles / _steps_in(path, step)
    share = np.where(arc, np.sinc(theta / np.pi), 1.0)
    return float(area * (path.lengths * share).sum())


def _steps_in(path: Path, step: float) -> NDArray[np.int64]:
    count = np.where(path.kind == ARC, np.ceil(path.angles / step - 1e-9), 1)
    return np.maximum(count, 1).astype(np.int64)


def folded(path: Path, shape: ConcreteSection, starts: Floats) -> GeometryError | None:
    """What is wrong with a box whose corner passes the axis of a bend: it turns inside out.

    ``starts`` (n, 3, 3) is the frame of each segment, from ``frames``. None where nothing folds.

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    shape : Section
        From `section`.
    starts : ndarray, shape (n, 2, 3)
        Right and up at the start of each segment, from `frames`.

    Returns
    -------
    GeometryError or None
    """
    space = room(path, starts)
    left = space.left(shape.corners) - np.where(space.arc, _SHORTEST, 0.0)
    if not left.size or left.min() >= 0:
        return None
    which = int(np.argmin(left.min(axis=0)))
    segment = int(space.segment[which])
    number = int(np.count_nonzero(path.kind[: segment + 1] == ARC))
    place = f"bend {number}" if space.arc[which] else "the turn at a pull point"
    return GeometryError(
        f"the concrete, {shape.width:.3f} m by {shape.height:.3f} m, extends past the center "
        f"of {place}; available {space.size[which]:.3f} m",
        vertices=tuple(int(v) for v in path.vertex[segment : segment + 1] if v >= 0),
        fix="use a larger bend radius, or reduce the duct spacing",
    )


def rings(path: Path, starts: Floats, flat: Floats, step: float = STEP) -> Floats:
    """The points of the section at every place where the mesh has a ring, (k, p, 3) m.

    Parameters
    ----------
    path : Path
        The centerline, n segments.
    starts : ndarray, shape (n, 2, 3)
        Right and up at the start of each segment, from `frames`.
    flat : ndarray, shape (p, 2)
        Points of the section to the right and up, m.
    step : float
        Largest turn from ring to ring, rad.

    Returns
    -------
    ndarray, shape (k, p, 3)
        m
    """
    solid_part = np.flatnonzero(path.kind != CORNER)
    counts = _steps_in(path, step)[solid_part]
    owner = np.repeat(solid_part, counts)
    within = np.arange(len(owner)) - np.repeat(np.cumsum(counts) - counts, counts)
    share = within / np.repeat(counts, counts)
    stations = np.append(path.stations[owner] + path.lengths[owner] * share, path.length)
    tangent = path.tangent(stations)
    behind = tangent.copy()
    first = np.flatnonzero(within == 0)
    behind[first[1:]] = path.end_tangents[solid_part[:-1]]
    beside = np.einsum("pf,kfi->kpi", flat, frames_at(path, stations, starts))
    # Where the tangent jumps the ring lies in the plane that halves the turn.
    slant = -np.einsum("kpi,ki->kp", beside, behind)
    slant /= 1.0 + np.einsum("ki,ki->k", behind, tangent)[:, None]
    around: Floats = path.point(stations)[:, None] + beside + slant[..., None] * tangent[:, None]
    return around


def _cap(outline: Polygon, flat: Floats) -> NDArray[np.int64]:
    """Triangles of the section between its own points, (t, 3), counter-clockwise."""
    import shapely

    number = {(float(x), float(y)): i for i, (x, y) in enumerate(flat)}
    parts = shapely.get_parts(shapely.constrained_delaunay_triangles(outline))
    points = shapely.get_coordinates(shapely.get_exterior_ring(parts)).reshape(-1, 4, 2)[:, :3]
    faces = np.array([[number[float(x), float(y)] for x, y in p] for p in points])
    a, b, c = np.moveaxis(points, 1, 0)
    clockwise = _turns_right(a, b, c)
    return np.where(clockwise[:, None], faces[:, ::-1], faces)


def _turns_right(a: Floats, b: Floats, c: Floats) -> NDArray[np.bool_]:
    u, v = b - a, c - a
    right: NDArray[np.bool_] = u[:, 0] * v[:, 1] < u[:, 1] * v[:, 0]
    return right


def _sides(loops: list[int], rings: int) -> NDArray[np.int64]:
    """Triangles between neighboring rings of loops of so many points, (t, 3), facing outward."""
    first = np.cumsum([0, *loops[:-1]])
    a = np.arange(sum(loops))
    b = np.concatenate(
        [start + (np.arange(n) + 1) % n for start, n in zip(first, loops, strict=True)]
    )
    one = np.concatenate(
        (np.column_stack((a, a + len(a), b + len(a))), np.column_stack((a, b + len(a), b)))
    )
    steps = len(a) * np.arange(rings - 1)
    faces: NDArray[np.int64] = (steps[:, None, None] + one).reshape(-1, 3)
    return faces
