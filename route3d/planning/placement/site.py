"""What stands around a conduit end: floors, and what a machine, its people and its rope may meet.

A machine on its feet, and the room people need beside it, are upright prisms. Such a prism meets a
triangle exactly where its plan meets the plan of the part of the triangle between its two heights;
so these questions are asked of plan shapes in an STR tree (shapely), which also gives distances.
A surface that closes round the whole machine is met by the rope, which comes from outside of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from route3d.geometry.vectors import Floats, frozen, norm
from route3d.model.room import Room

Flags = NDArray[np.bool_]
Ints = NDArray[np.int64]

# Pairs of rope leg and triangle looked at together: bounds the memory to some 100 MB.
_CHUNK = 200_000
# A room whose outline stays farther off than this from the conduit end is another room, m.
_NEXT_TO = 1.0


@dataclass(frozen=True, slots=True)
class MeshPart:
    """One element of a building: its ``name``, such as "column C3", GlobalId and storey."""

    name: str
    handle: str = ""
    storey: str = ""

    @property
    def label(self) -> str:
        """Name and storey."""
        return f"{self.name}, {self.storey}" if self.storey else self.name


@dataclass(frozen=True, slots=True)
class Placed:
    """How a mesh came to its place: in ``units`` of so many ``meters``, then moved by ``shift``.

    ``shift`` m holds offset, map and origin together; ``on_grid`` where the origin was subtracted.
    """

    units: str = "m"
    meters: float = 1.0
    shift: tuple[float, float, float] = (0.0, 0.0, 0.0)
    on_grid: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class SiteMesh:
    """A building mesh by name: ``vertices`` (n, 3) m, z up, and ``faces`` (m, 3).

    Where its elements are known, ``owner`` (m,) is the number in ``parts`` of each triangle;
    ``left_out`` says what of its file is not among them. ``placed`` says how it came here.
    """

    name: str
    vertices: Floats
    faces: Ints
    parts: tuple[MeshPart, ...] = ()
    owner: Ints = field(default_factory=lambda: np.empty(0, dtype=np.int64))
    left_out: tuple[str, ...] = ()
    placed: Placed = field(default_factory=Placed)

    @property
    def labels(self) -> tuple[str, ...]:
        """What each owner number stands for: the elements by the name of the mesh, or the mesh."""
        return tuple(f"{self.name}: {part.label}" for part in self.parts) or (self.name,)

    @property
    def owners(self) -> Ints:
        """The number in ``labels`` of each triangle (m,)."""
        return self.owner if self.parts else np.zeros(len(self.faces), dtype=np.int64)


@dataclass(frozen=True, slots=True, eq=False)
class Surroundings:
    """Rooms, and the triangles (n, 3, 3) m of all meshes with the ``owner`` (n,) of each.

    ``low`` and ``high`` (n, 3) m bound each triangle. ``names`` holds what an owner number stands
    for: wall and ceiling of each room, then the meshes, then the obstacles of the rooms, so that
    of two things in the same place the higher number is the better answer.
    """

    rooms: tuple[Room, ...]
    names: tuple[str, ...]
    triangles: Floats
    low: Floats
    high: Floats
    owner: Ints

    @property
    def empty(self) -> bool:
        """True where nothing is known about the site."""
        return not self.rooms and not len(self.triangles)

    @property
    def without_meshes(self) -> Surroundings:
        """The rooms alone."""
        return self.only(np.empty(0, dtype=np.int64))

    def only(self, keep: Flags | Ints) -> Surroundings:
        """The same site with some of its triangles."""
        parts = (self.triangles[keep], self.low[keep], self.high[keep], self.owner[keep])
        return Surroundings(self.rooms, self.names, *parts)

    def near(self, points: Floats, reach: float) -> Surroundings:
        """The same site with the triangles whose boxes come within ``reach`` m of the points'.

        There must be at least one point.
        """
        (x, y), (right, back) = points[:, :2].min(axis=0) - reach, points[:, :2].max(axis=0) + reach
        keep = (self.low[:, 0] <= right) & (self.high[:, 0] >= x)
        return self.only(keep & (self.low[:, 1] <= back) & (self.high[:, 1] >= y))

    def between(self, low: float, high: float) -> Surroundings:
        """The same site with the triangles that reach into the heights ``low`` to ``high`` m."""
        return self.only((self.high[:, 2] > low) & (self.low[:, 2] < high))


@dataclass(frozen=True, slots=True, eq=False)
class Shapes:
    """Plan shapes in two trees, rooms and meshes, and the owner (n,) of each shape."""

    rooms: Any
    room_owner: Ints
    meshes: Any
    mesh_owner: Ints


def surroundings(rooms: Sequence[Room] = (), meshes: Sequence[SiteMesh] = ()) -> Surroundings:
    """Rooms and meshes together, ready to be searched."""
    names = [f"the {part} of {room.name}" for room in rooms for part in ("wall", "ceiling")]
    owners = []
    for mesh in meshes:
        owners.append(len(names) + mesh.owners)
        names += mesh.labels
    owner = np.concatenate(owners) if owners else np.empty(0, dtype=np.int64)
    names += [f"obstacle {i} in {r.name}" for r in rooms for i in range(1, len(r.obstacles) + 1)]
    parts = [np.asarray(m.vertices, dtype=np.float64)[m.faces] for m in meshes if len(m.faces)]
    triangles = frozen(np.concatenate(parts) if parts else np.empty((0, 3, 3)))
    a, b, c = np.moveaxis(triangles, 1, 0)
    low, high = np.minimum(np.minimum(a, b), c), np.maximum(np.maximum(a, b), c)
    return Surroundings(tuple(rooms), tuple(names), triangles, low, high, owner)


def rooms_at(point: ArrayLike, rooms: Sequence[Room]) -> tuple[Room, ...]:
    """The rooms that a conduit end ``point`` (3,) m opens into or ends just outside of."""
    return tuple(r for r in rooms if _gap(point, np.array(r.outline)) <= _NEXT_TO)


def site_near(
    point: ArrayLike, rooms: Sequence[Room], meshes: Sequence[SiteMesh], reach: float
) -> Surroundings:
    """What stands at a conduit end ``point`` (3,) m: its rooms, and meshes within ``reach`` m."""
    near = [m for m in meshes if len(m.vertices) and _gap(point, m.vertices) <= reach]
    return surroundings(rooms_at(point, rooms), near)


def _gap(point: ArrayLike, corners: ArrayLike) -> float:
    """Distance in plan from a point to the box round some corners, m."""
    at, plan = np.asarray(point)[:2], np.asarray(corners)[:, :2]
    beyond = np.maximum(plan.min(axis=0) - at, at - plan.max(axis=0))
    return float(np.hypot(*np.maximum(beyond, 0.0)))


# --- floors --------------------------------------------------------------------------------------


def room_at(rooms: Sequence[Room], places: Floats, level: float) -> Ints:
    """Number of the room each place (n, 2) lies in, -1 for none.

    Of rooms above each other it is the highest with its floor at or below ``level`` m, else the
    lowest.
    """
    import shapely

    found = np.full(len(places), -1)
    below = sorted((r.floor, i) for i, r in enumerate(rooms) if r.floor <= level)
    above = sorted(((r.floor, i) for i, r in enumerate(rooms) if r.floor > level), reverse=True)
    for _, i in above + below:  # the later ones win
        outline = shapely.Polygon(rooms[i].outline)
        shapely.prepare(outline)
        found[shapely.covers(outline, shapely.points(places))] = i
    return found


def mesh_floor(site: Surroundings, places: Floats, level: float) -> Floats:
    """Height of the highest surface at or below ``level`` at each place (n, 2), NaN for none."""
    import shapely

    floor = np.full(len(places), np.nan)
    if not len(places):
        return floor
    level += 1e-6  # a floor just there is there, whatever the rounding
    site = site.near(places, 0.0).between(-np.inf, level)
    a, b, c = np.moveaxis(site.triangles, 1, 0)
    normal = np.cross(b - a, c - a)
    flat = np.abs(normal[:, 2]) > 1e-9 * norm(normal)  # an upright triangle carries nobody
    if not flat.any():
        return floor
    a, normal = a[flat], normal[flat]
    tree = shapely.STRtree(_polygons(site.triangles[flat, :, :2]))
    place, which = tree.query(shapely.points(places), predicate="intersects")
    away = np.einsum("ij,ij->i", normal[which, :2], places[place] - a[which, :2])
    height = a[which, 2] - away / normal[which, 2]
    fits = height <= level
    np.fmax.at(floor, place[fits], height[fits])
    return floor


def _polygons(corners: Floats) -> NDArray[Any]:
    """Polygons from (n, k, 2) corners."""
    import shapely

    shapes: NDArray[Any] = shapely.polygons(np.concatenate((corners, corners[:, :1]), axis=1))
    return shapes


# --- upright prisms ------------------------------------------------------------------------------


def plan_shapes(site: Surroundings, low: float, high: float) -> Shapes:
    """The plan of everything between the heights ``low`` and ``high`` m: walls, obstacles, meshes.

    Walls are the outline of all rooms that reach into these heights, taken together: rooms that
    overlap are open to each other. Ceilings are no shapes.
    """
    import shapely

    shapes, owner = _room_shapes(site, low, high)
    here = site.between(low, high)
    whole = (here.low[:, 2] >= low) & (here.high[:, 2] <= high)
    plans = np.empty(len(whole), dtype=object)
    plans[whole] = _whole_plans(here.triangles[whole])
    plans[~whole] = _cut_plans(here.triangles[~whole], low, high)
    owners = np.array(owner, dtype=np.int64)
    return Shapes(shapely.STRtree(shapes), owners, shapely.STRtree(plans), here.owner)


def _room_shapes(site: Surroundings, low: float, high: float) -> tuple[list[Any], list[int]]:
    import shapely

    outlines: list[Any] = []
    walls: list[int] = []
    shapes: list[Any] = []
    owner: list[int] = []
    number = len(site.names) - sum(len(r.obstacles) for r in site.rooms)
    for i, room in enumerate(site.rooms):
        if room.floor < high and (room.ceiling is None or room.ceiling > low):
            outlines.append(shapely.Polygon(room.outline))
            walls.append(2 * i)
            shapes += [shapely.Polygon(o) for o in room.obstacles]
            owner += range(number, number + len(room.obstacles))
        number += len(room.obstacles)
    for piece in shapely.get_parts(shapely.boundary(shapely.union_all(outlines))):
        ends = shapely.get_coordinates(piece)
        for side in shapely.linestrings(np.stack((ends[:-1], ends[1:]), axis=1)):
            middle = side.interpolate(0.5, normalized=True)
            shapes.append(side)
            owner.append(walls[int(np.argmin(shapely.distance(outlines, middle)))])
    return shapes, owner


def _whole_plans(triangles: Floats) -> NDArray[Any]:
    """Plans of whole triangles; upright ones are lines, for a polygon needs an area."""
    import shapely

    flat = triangles[:, :, :2]
    (ux, uy), (vx, vy) = (flat[:, 1] - flat[:, 0]).T, (flat[:, 2] - flat[:, 0]).T
    area = np.abs(ux * vy - uy * vx)
    size = np.maximum.reduce([ux**2 + uy**2, vx**2 + vy**2, (ux - vx) ** 2 + (uy - vy) ** 2])
    upright = area <= 1e-9 * size
    shapes = np.empty(len(flat), dtype=object)
    shapes[~upright] = _polygons(flat[~upright])
    rings = np.concatenate((flat[upright], flat[upright, :1]), axis=1)
    shapes[upright] = shapely.linestrings(rings)
    return shapes


def _cut_plans(triangles: Floats, low: float, high: float) -> NDArray[Any]:
    """Plans of the part of each triangle between two heights.

    The part is convex, so its plan is the hull of its corners: those of the triangle that lie
    between the heights, and the points where its sides cross them.
    """
    import shapely

    if not len(triangles):
        return np.empty(0, dtype=object)
    z = triangles[:, :, 2]
    points, there = [triangles], [(z >= low) & (z <= high)]
    ends = np.roll(triangles, -1, axis=1)
    for height in (low, high):
        rise = ends[:, :, 2] - z
        crosses = (z - height) * (ends[:, :, 2] - height) < 0
        share = np.where(crosses, (height - z) / np.where(crosses, rise, 1.0), 0.0)
        points.append(triangles + share[..., None] * (ends - triangles))
        there.append(crosses)
    flat, known = np.concatenate(points, axis=1)[:, :, :2], np.concatenate(there, axis=1)
    rows = np.repeat(np.arange(len(triangles)), known.sum(axis=1))
    shapes: NDArray[Any] = shapely.convex_hull(shapely.multipoints(flat[known], indices=rows))
    return shapes


def nearest(shapes: Shapes, plans: NDArray[Any], limit: float) -> tuple[Floats, Ints]:
    """Distance (n,) m from each plan to the nearest shape, and its owner; inf and -1 for none.

    Shapes farther away than ``limit`` m count for none. Of several as near the last owner counts;
    of the triangles as near, one.
    """
    away, owner = _nearest(shapes.rooms, shapes.room_owner, plans, limit, every=True)
    mesh_away, mesh_owner = _nearest(shapes.meshes, shapes.mesh_owner, plans, limit, every=False)
    owner = np.where(mesh_away < away, mesh_owner, owner)
    owner = np.where(mesh_away == away, np.maximum(owner, mesh_owner), owner)
    return np.minimum(away, mesh_away), owner


def _nearest(
    tree: Any, owners: Ints, plans: NDArray[Any], limit: float, *, every: bool
) -> tuple[Floats, Ints]:
    distance, owner = np.full(len(plans), np.inf), np.full(len(plans), -1)
    if len(owners) and len(plans):
        (at, which), found = tree.query_nearest(
            plans, max_distance=limit, return_distance=True, all_matches=every
        )
        distance[at] = found
        np.maximum.at(owner, at, owners[which])
    return distance, owner


# --- the rope ------------------------------------------------------------------------------------


def rope_meets(site: Surroundings, starts: Floats, ends: Floats, room: float) -> Ints:
    """Owner of a triangle that each rope leg (n, 3) to (n, 3) meets, -1 for none.

    The leg is a bar with ``room`` m to each side; there must be one, and its ends must differ.
    """
    import shapely

    owner = np.full(len(starts), -1)
    low, high = np.minimum(starts, ends) - 2 * room, np.maximum(starts, ends) + 2 * room
    site = site.near(np.vstack((low, high)), 0.0).between(low[:, 2].min(), high[:, 2].max())
    tree = shapely.STRtree(shapely.box(*site.low[:, :2].T, *site.high[:, :2].T))
    lines = shapely.linestrings(np.stack((starts, ends), axis=1)[:, :, :2])
    leg, which = tree.query(lines, predicate="dwithin", distance=1.5 * room)
    level = (site.high[which, 2] >= low[leg, 2]) & (site.low[which, 2] <= high[leg, 2])
    leg, which = leg[level], which[level]
    for first in range(0, len(leg), _CHUNK):
        part = slice(first, first + _CHUNK)
        hit = bars_meet(starts[leg[part]], ends[leg[part]], room, site.triangles[which[part]])
        np.maximum.at(owner, leg[part][hit], site.owner[which[part][hit]])
    return owner


def bars_meet(starts: Floats, ends: Floats, half: float, triangles: Floats) -> Flags:
    """Whether the bar from each start to its end, ``half`` m to each side, meets its triangle.

    Two convex bodies are apart where some axis separates them: for a box and a triangle one of
    three box axes, the triangle's normal, and nine products of box axes and sides (separating
    axis theorem; T. Akenine-Möller, "Fast 3D Triangle-Box Overlap Testing", from memory). Bodies
    that only touch do not meet.
    """
    along = ends - starts
    length = norm(along)
    axes = _frame(along / length[:, None])
    halves = np.stack((length / 2, np.full_like(length, half), np.full_like(length, half)), axis=1)
    local = np.einsum("nvk,nak->nva", triangles - ((starts + ends) / 2)[:, None], axes)
    sides = np.roll(local, -1, axis=1) - local
    meets = np.ones(len(starts), dtype=bool)
    unit_axes = np.eye(3)
    tests = [np.broadcast_to(e, (len(starts), 3)) for e in unit_axes]
    tests.append(np.cross(sides[:, 0], sides[:, 1]))
    tests += [np.cross(e, sides[:, i]) for e in unit_axes for i in range(3)]
    for axis in tests:
        a, b, c = np.einsum("nvk,nk->vn", local, axis)
        reach = np.einsum("nk,nk->n", halves, np.abs(axis))
        # an axis of no length separates nothing: 0 >= 0 must not count
        slack = 1e-12 * (1.0 + reach)
        apart = (np.minimum(np.minimum(a, b), c) >= reach - slack) | (
            np.maximum(np.maximum(a, b), c) <= slack - reach
        )
        meets &= ~(apart & (norm(axis) > 1e-12))
    return meets


def _frame(along: Floats) -> Floats:
    """Axes (n, 3, 3) of bars with unit directions (n, 3), level across where there is a level."""
    across = np.stack((-along[:, 1], along[:, 0], np.zeros(len(along))), axis=1)
    plumb = norm(across) < 1e-9
    across[plumb] = [1.0, 0.0, 0.0]
    across /= norm(across)[:, None]
    return np.stack((along, across, np.cross(along, across)), axis=1)
