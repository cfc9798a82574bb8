"""What stands around a run on its drawings: ground, banks, boxes, other runs, buildings.

All in m: on the plan as it is, on the profile as distance gone in plan and elevation.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from route3d.drawing.plan_profile.course import DrawnRun
from route3d.errors import GeometryError
from route3d.geometry.box_places import BoxPlace, box_places
from route3d.geometry.fillet import route_path
from route3d.geometry.grade import Grade
from route3d.geometry.vectors import Floats, norm
from route3d.model.job import Bank, Job
from route3d.model.run import Run
from route3d.planning.bank_outline import ground_over_bank, plan_outlines, profile_lines

if TYPE_CHECKING:
    from shapely import Polygon

_MOST_TRIANGLES = 4000  # of a part whose shadow is found exactly; of a larger one the hull
_SLAB = 0.6  # a part no thicker (m) is a floor: its edge alone, where it is larger than _AREA
_AREA = 20.0  # m²
_SMALLEST = 1e-4  # a shadow of less is not drawn, m²
_CONVEX = 0.01  # share by which the shadow of a convex body may differ from its hull
_GRID = 400  # steps across a part of very many triangles
_FINE = 0.01  # m that outlines may leave the shadow of a mesh
_HULL = 0.1  # share of the hull's longest edges kept (shapely.concave_hull)
_CHORD = 0.01  # m


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """A line (k, 2) m on one layer, closed or open; ``loops`` are holes of a ``filled`` one."""

    layer: str
    points: Floats
    closed: bool = True
    filled: bool = False
    name: str = ""
    loops: tuple[Floats, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Surroundings:
    """The ground, where it is drawn, and the footprints of building meshes."""

    grade: Grade | None = None
    footprints: tuple[Piece, ...] = ()


NOTHING = Surroundings()


@dataclass(frozen=True, slots=True, eq=False)
class Pieces:
    """What is drawn around one run: on its ``plan`` and its ``profile``.

    ``top`` (k,) m is the highest of bank and conduit at the stations of the course; ``cover`` (k,)
    m what the ground is over it, the least over the width of a bank, NaN where it is not below.
    ``crossings`` are the station at which another run crosses on the plan, its elevation there, and
    its name.
    """

    plan: tuple[Piece, ...] = ()
    profile: tuple[Piece, ...] = ()
    top: Floats = field(default_factory=lambda: np.empty(0))
    cover: Floats = field(default_factory=lambda: np.empty(0))
    crossings: tuple[tuple[float, float, str], ...] = ()


def pieces_of(job: Job, course: DrawnRun, around: Surroundings) -> Pieces:
    """Everything drawn around a run."""
    run, banked = course.run, {bank.run: bank for bank in job.banks}
    grade = around.grade or Grade()
    top, ground = _conduit_top(course), course.ground
    plan, profile = [*around.footprints, *_rooms(job)], []
    crossings: list[tuple[float, float, str]] = []
    for other in job.runs:
        if bank := banked.get(other.name):
            plan += _bank(bank, other, grade)
        if other.name != run.name:
            piece, heights = _other(other)
            plan.append(piece)
            crossings += _crossings(course, piece, heights)
    if run.name in banked:
        for lines in _profile_lines(banked[run.name], run, grade):
            profile.append(Piece("BANK-PROFILE", lines.outline, name="duct bank"))
            inside = (course.stations >= lines.stations[0]) & (
                course.stations <= lines.stations[-1]
            )
            above = np.interp(course.stations[inside], lines.stations, lines.top[:, 1])
            top[inside] = np.maximum(top[inside], above)
        ground = np.fmin(ground, _least_ground(banked[run.name], run, grade, course))
    for box in boxes_of(job, course):
        plan.append(box.plan)
        profile.append(box.profile)
    cover = ground - top
    if np.isfinite(course.ground).any():
        line = np.column_stack((course.level, course.ground))
        profile.append(Piece("GROUND", line, closed=False, name=_ground_name(grade)))
    return Pieces(
        tuple(plan), tuple(profile), top, np.where(cover > 0, cover, np.nan), tuple(crossings)
    )


def _ground_name(grade: Grade) -> str:
    return "grade" if grade.given else "grade (assumed)"


def _conduit_top(course: DrawnRun) -> Floats:
    """Crown of the conduit at the stations of a course, (k,) m."""
    path, conduits = course.path, course.run.route.conduits
    segment = np.searchsorted(path.stations, course.stations, side="right") - 1
    segment = np.clip(segment, 0, len(path.leg) - 1)
    outer = np.array([c.outer_diameter for c in conduits])[path.leg[segment]]
    level = norm(path.tangent(course.stations)[:, :2])
    top: Floats = course.points[:, 2] + outer / 2 * level
    return top


# --- banks and other runs ------------------------------------------------------------------------


def _bank(bank: Bank, run: Run, grade: Grade) -> list[Piece]:
    name = f"duct bank {bank.rows} x {bank.columns}, run {run.name}"
    try:
        outlines = plan_outlines(bank, run, grade)
    except GeometryError:
        return []
    return [Piece("BANK", outline, name="" if i else name) for i, outline in enumerate(outlines)]


def _profile_lines(bank: Bank, run: Run, grade: Grade) -> list:  # type: ignore[type-arg]
    try:
        return profile_lines(bank, run, grade)
    except GeometryError:
        return []


def _least_ground(bank: Bank, run: Run, grade: Grade, course: DrawnRun) -> Floats:
    """The least ground over the width of the bank at the stations of a course, (k,) m.

    NaN where no ground is drawn over the run, or there is no bank.
    """
    try:
        over = ground_over_bank(bank, run, grade, course.stations)
    except GeometryError:
        return course.ground
    return np.where(np.isfinite(course.ground), over, np.nan)


def _other(run: Run) -> tuple[Piece, Floats]:
    """The plan of another run, and its elevations at the same places."""
    path = route_path(run.route)
    points = path.point(path.sample(_CHORD))
    return Piece("OTHER-RUNS", points[:, :2], closed=False, name=f"run {run.name}"), points[:, 2]


def _crossings(
    course: DrawnRun, other: Piece, heights: Floats
) -> Iterator[tuple[float, float, str]]:
    """Where another run crosses on the plan: station, its elevation, its name."""
    import shapely

    own = shapely.LineString(course.points[:, :2])
    line = shapely.LineString(other.points)
    met = shapely.intersection(own, line)
    gone = np.concatenate(([0.0], np.cumsum(norm(np.diff(other.points, axis=0)))))
    for point in shapely.get_parts(met):
        if point.geom_type == "Point":
            level = float(shapely.line_locate_point(own, point))
            station = float(np.interp(level, course.level, course.stations))
            z = float(np.interp(shapely.line_locate_point(line, point), gone, heights))
            yield station, z, other.name


# --- boxes ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class DrawnBox:
    """A pull box or vault true to size, on the plan and the profile, where ``place`` has it."""

    place: BoxPlace
    station: float
    name: str
    plan: Piece
    profile: Piece

    @property
    def size(self) -> tuple[float, float, float]:
        """Along the run on the plan, across it, and upright, m."""
        return self.place.extents

    @property
    def low(self) -> float:
        """Elevation of its floor, m."""
        return self.place.low

    @property
    def shift(self) -> float:
        """Of its middle from the station along the plan, m."""
        return float((self.place.middle - self.place.point) @ self.place.heading)


def boxes_of(job: Job, course: DrawnRun) -> list[DrawnBox]:
    """The boxes of a run."""
    route, found = course.run.route, []
    stations = course.path.vertex_stations(len(route.vertices)).tolist()
    for place in box_places(route, job.site.floors):
        station = stations[place.vertex]
        length, width, height = place.extents
        ahead = place.heading[:2]
        across = np.array([-ahead[1], ahead[0]])
        corners = [
            place.middle[:2] + a * length / 2 * ahead + b * width / 2 * across
            for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1))
        ]
        name = route.vertices[place.vertex].name
        plan = Piece("BOXES", np.array(corners))
        box = DrawnBox(place, station, name, plan, plan)
        at = float(np.interp(station, course.stations, course.level)) + box.shift
        left, right, low, high = at - length / 2, at + length / 2, box.low, box.low + height
        side = np.array([(left, low), (right, low), (right, high), (left, high), (left, low)])
        found.append(replace(box, profile=Piece("BOXES-PROFILE", side)))
    return found


# --- buildings -----------------------------------------------------------------------------------


def _rooms(job: Job) -> Iterator[Piece]:
    for room in job.site.rooms:
        for i, outline in enumerate((room.outline, *room.obstacles)):
            loop = np.array([*outline, outline[0]], dtype=np.float64)
            yield Piece("CONTEXT", loop, filled=i > 0, name="" if i else room.name)


Triangles = tuple[str, Floats, NDArray[np.int64]]


def footprints(meshes: Iterable[Triangles]) -> tuple[Piece, ...]:
    """The shadow on the plan of each connected part of meshes: name, points (n, 3) m, faces.

    Exact for parts of few triangles, of larger ones a hull that follows them. Thin wide parts,
    which are floors, have an edge alone.
    """
    import shapely

    found: list[Piece] = []
    for name, points, faces in meshes:
        shadows, highs = _shadows(points, faces)
        sizes = shapely.area(shadows)
        largest = int(np.argmax(sizes)) if len(sizes) else -1
        for i in np.flatnonzero(sizes > _SMALLEST).tolist():
            for polygon in shapely.get_parts(shadows[i]):
                if polygon.geom_type != "Polygon" or polygon.area < _SMALLEST:
                    continue
                floor = highs[i] <= _SLAB and polygon.area > _AREA
                rings = (np.asarray(ring.coords) for ring in polygon.interiors)
                holes = tuple(ring for ring in rings if _area(ring) > _SMALLEST)
                edge = np.asarray(polygon.exterior.coords)
                named = name if i == largest else ""
                found.append(Piece("CONTEXT", edge, True, not floor, named, holes))
    return tuple(sorted(found, key=lambda piece: -_area(piece.points)))


def _area(loop: Floats) -> float:
    x, y = loop.T
    return abs(float(np.dot(x[:-1], y[1:]) - np.dot(x[1:], y[:-1]))) / 2


def _shadows(points: Floats, faces: NDArray[np.int64]) -> tuple[NDArray[Any], Floats]:
    """The plan of each part that hangs together, as polygons, and how high each is (m).

    The shadow of a convex body is the hull of its points, and its area half that of the shadows of
    its triangles. Other parts are the union of those, or, of very many, a hull that follows them.
    """
    import shapely

    label = _connected(len(points), faces)
    order = np.argsort(label, kind="stable")
    _, starts, part = np.unique(label[order], return_index=True, return_inverse=True)
    faces = faces[order]
    flat = points[faces][:, :, :2]
    corners = shapely.multipoints(flat.reshape(-1, 2), indices=np.repeat(part, 3))
    shadows = shapely.convex_hull(corners)
    u, v = flat[:, 1] - flat[:, 0], flat[:, 2] - flat[:, 0]
    area = np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]) / 2
    half = np.add.reduceat(area, starts) / 2
    bent = np.abs(shapely.area(shadows) - half) > _CONVEX * np.maximum(half, _SMALLEST)
    ends = np.append(starts[1:], len(faces))
    for i in np.flatnonzero(bent).tolist():
        rows = slice(int(starts[i]), int(ends[i]))
        seen = flat[rows][area[rows] > 1e-9]
        if len(seen):
            shadows[i] = _union(seen)
    z = points[faces, 2]
    high = np.maximum.reduceat(z.max(axis=1), starts) - np.minimum.reduceat(z.min(axis=1), starts)
    return shadows, high


def _union(triangles: Floats) -> Polygon:
    """What triangles (n, 3, 2) cover together."""
    import shapely

    if len(triangles) > _MOST_TRIANGLES:
        points = triangles.reshape(-1, 2)
        step = max(float(np.ptp(points, axis=0).max()) / _GRID, _FINE)
        few = np.unique(np.round(points / step), axis=0) * step
        return shapely.concave_hull(shapely.multipoints(few), ratio=_HULL)
    whole = shapely.union_all(shapely.polygons(triangles), grid_size=1e-5)
    return shapely.simplify(whole, _FINE)


def _connected(count: int, faces: NDArray[np.int64]) -> NDArray[np.int64]:
    """The part that each triangle belongs to by the points it shares, (n,)."""
    label = np.arange(count)
    while True:
        corners = label[faces]
        least: NDArray[np.int64] = corners.min(axis=1)
        if (corners == least[:, None]).all():
            return least
        for corner in range(3):  # the roots of a triangle's corners hang on the least of them
            np.minimum.at(label, corners[:, corner], least)
        while (label[label] != label).any():
            label = label[label]
