"""Whether a building mesh can stand where it was read: meshes in other units or frames are not."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from route3d.checks.finding import Finding
from route3d.geometry.fillet import route_path
from route3d.geometry.vectors import Floats, norm
from route3d.model.job import Job
from route3d.phrase import Phrase, say
from route3d.planning.placement.site import SiteMesh
from route3d.units import METERS

# All figures are our own judgment. Nothing that is drawn about a route is smaller than this, m.
_SMALLEST = 0.15
# What is smaller than this is rarely all of a file, m: a hall in another unit is. No other unit is
# advised that makes it so, and it is told where it was read so.
SMALL = 1.0
# Longer than this, or than 20 extents of the job, hardly any one file is, m. What is no shorter
# than SMALL and no longer has a likely size as it was read: then only a unit that is up to four
# times as long or as short (ft, yd and m) is advised. mm and cm would make a far hall a near box.
_LONGEST = (1000.0, 20.0)
_ALIKE = 4.0
# No building is higher, m; beside a short job none exceeds the second or five of its extents.
_HIGHEST = (1000.0, 200.0)
# No site is wider, m; beside a short job none is wider than the second or 300 of its extents.
_WIDEST = (20_000.0, 6_000.0)
# What is farther than so many extents of the job bears on no route; from the second on where
# another unit or the origin would bring it to the routes.
_FAR = (10.0, 3.0)
# The extent of the shortest job, m.
_SHORTEST = 20.0
# The units files come in, the commonest first.
_UNITS = ("mm", "m", "ft", "in", "cm", "us-ft", "yd", "km")
_SOURCE = "own judgment: extents and distance of a building"


@dataclass(frozen=True, slots=True, eq=False)
class MeshExtents:
    """Where a mesh lies: ``low``, ``high`` (3,) m, and ``distance`` m of its box from the routes.

    ``units`` are those it was read in. ``finding`` is a stop where it cannot stand there.
    """

    name: str
    units: str
    low: Floats
    high: Floats
    distance: float
    left_out: tuple[str, ...] = ()
    finding: Finding | None = None

    @property
    def judged(self) -> bool:
        """Whether routes may be measured against it."""
        return self.finding is None

    @property
    def small(self) -> bool:
        """Whether it is judged, but so small that its units should be verified."""
        return self.judged and float((self.high - self.low).max()) < SMALL


@dataclass(frozen=True, slots=True, eq=False)
class _Box:
    low: Floats
    high: Floats

    @property
    def extent(self) -> float:
        """The longest side, m."""
        return float((self.high - self.low).max())

    def distance(self, other: _Box) -> float:
        """From box to box, m."""
        gap = np.maximum(self.low - other.high, other.low - self.high)
        return float(norm(np.maximum(gap, 0.0)))


def mesh_extents(job: Job, meshes: Sequence[SiteMesh]) -> tuple[MeshExtents, ...]:
    """Where each mesh lies, and whether it can. Raises GeometryError for a route without a path."""
    paths = [route_path(run.route) for run in job.runs]
    points = np.vstack([p for path in paths for p in (path.starts, path.ends)])
    routes = _Box(points.min(axis=0), points.max(axis=0))
    return tuple(_extents(job, mesh, routes) for mesh in meshes)


def standing(job: Job, meshes: Sequence[SiteMesh]) -> tuple[SiteMesh, ...]:
    """Those of the meshes that can stand where they were read: machines are placed among them."""
    found = zip(meshes, mesh_extents(job, meshes), strict=True) if meshes else ()
    return tuple(mesh for mesh, where in found if where.judged)


def _extents(job: Job, mesh: SiteMesh, routes: _Box) -> MeshExtents:
    held = np.zeros(len(mesh.vertices), dtype=bool)
    held[mesh.faces.ravel()] = True
    used = mesh.vertices[held]
    if not len(used):
        zero = np.zeros(3)
        return MeshExtents(mesh.name, mesh.placed.units, zero, zero, 0.0, mesh.left_out)
    box = _Box(used.min(axis=0), used.max(axis=0))
    finding = _not_judged(job, mesh, box, routes)
    return MeshExtents(
        mesh.name,
        mesh.placed.units,
        box.low,
        box.high,
        box.distance(routes),
        mesh.left_out,
        finding,
    )


def _not_judged(job: Job, mesh: SiteMesh, box: _Box, routes: _Box) -> Finding | None:
    """A stop where a mesh is too small, too large or too far to be what it is taken for."""
    size = max(float(norm(routes.high - routes.low)), _SHORTEST)
    every = list(_fixes(job, mesh, box, routes, size))
    broken = _broken(box, routes, size, nearer=bool(every))
    if broken is None:
        return None
    what, figure, limit = broken
    fixes = [fix for fix, advisable in every if advisable]
    ratio = figure / limit if figure > limit else limit / max(figure, 1e-12)
    said = say(f"{what}: its units or frame appear wrong; ")
    return Finding(
        f"not judged: {mesh.name}",
        "stop",
        "site.context",
        figure,
        limit,
        "length",
        said + (fixes[0] if fixes else _general(job, mesh, box, routes, size)),
        _SOURCE,
        ratio=ratio,
    )


def _broken(
    box: _Box, routes: _Box, size: float, *, nearer: bool = False
) -> tuple[str, float, float] | None:
    """What is wrong with a box, its figure and the limit, m; None where nothing is."""
    high = _most_tall(size)
    wide = min(_WIDEST[0], max(_WIDEST[1], 300 * size))
    far = _FAR[1 if nearer else 0] * size
    tall = _tall(box)
    if box.extent < _SMALLEST - 1e-6:
        return "the mesh is too small", box.extent, _SMALLEST
    if tall > high:
        return "the mesh is too high", tall, high
    if box.extent > wide:
        return "the mesh is too wide", box.extent, wide
    if (distance := box.distance(routes)) > far:
        return "the mesh is too far from the routes", distance, far
    return None


def _tall(box: _Box) -> float:
    return float(box.high[2] - box.low[2])


def _most_tall(size: float) -> float:
    return min(_HIGHEST[0], max(_HIGHEST[1], 5 * size))


def _fixes(
    job: Job, mesh: SiteMesh, box: _Box, routes: _Box, size: float
) -> Iterator[tuple[Phrase, bool]]:
    """What would bring a mesh to the routes, the likeliest first; and whether it is advised."""
    origin = np.array(job.site.frame.shift)
    moves: list[tuple[str, Floats]] = [("", np.zeros(3))]
    if job.site.frame.origin is not None and not mesh.placed.on_grid:
        moves.append(("on_grid = true", -origin))
    elif job.site.frame.origin is not None:
        moves.append(("on_grid = false", origin))
    shift = np.array(mesh.placed.shift)
    found = []
    for rank, unit in enumerate((mesh.placed.units, *_UNITS)):
        factor = METERS.get(unit, mesh.placed.meters) / mesh.placed.meters
        if rank and math.isclose(factor, 1.0, rel_tol=1e-9):
            continue
        for words, move in moves:
            if not rank and not words:
                continue
            tried = _Box(*((side - shift) * factor + shift + move for side in (box.low, box.high)))
            away = tried.distance(routes)
            if away > size / 2 or _broken(tried, routes, size) is not None:
                continue
            said = [f'units = "{unit}"'] if rank else []
            fix = " with ".join([*said, *([words] if words else [])])
            unlike = abs(math.log(tried.extent / size))
            advisable = not rank or _advisable(box, tried, factor, size)
            found.append((away > 0, bool(rank) and bool(words), unlike, rank, fix, advisable))
    for *_, fix, advisable in sorted(found):
        yield say(f"{fix} would bring it to the routes: set it in site.context"), advisable


def _advisable(box: _Box, tried: _Box, factor: float, size: float) -> bool:
    """Whether another unit makes a mesh a likely size, and is not refuted by the size it has."""
    longest = max(_LONGEST[0], _LONGEST[1] * size)
    likely = SMALL <= box.extent <= longest and _tall(box) <= _most_tall(size)
    if likely and not 1 / _ALIKE < factor < _ALIKE:
        return False
    return tried.extent >= SMALL


def _general(job: Job, mesh: SiteMesh, box: _Box, routes: _Box, size: float) -> Phrase:
    """What to look at where no one remedy suggests itself, and its size in every unit."""
    return _look(job, box, routes, size) + _sizes(mesh, box)


def _sizes(mesh: SiteMesh, box: _Box) -> Phrase:
    """How long a mesh is as it was read, and in the other units of files."""
    read = mesh.placed
    units = [unit for unit in _UNITS[:5] if unit != read.units]
    lengths = [box.extent / read.meters * METERS[unit] for unit in units]
    others = ", ".join(f"{{}} in {unit}" for unit in units)
    values = [(v, "length" if v >= SMALL else "radius") for v in (box.extent, *lengths)]
    return say(f". Its longest side is {{}} in {read.units} as read; it would be {others}", *values)


def _look(job: Job, box: _Box, routes: _Box, size: float) -> Phrase:
    if job.site.frame.origin is None and box.distance(routes) > 100 * size:
        return say(
            "if its coordinates are those of a grid, give site.origin and set on_grid = true; "
            "remove it from site.context if it is right"
        )
    return say(
        "check its units, up, offset and on_grid in site.context; remove it there if it is right"
    )
