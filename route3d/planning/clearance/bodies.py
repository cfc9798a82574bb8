"""What is built beside conduits: the concrete of banks and pull boxes; and all bodies measured.

A body is measured against meshes, and against other bodies, as a chain of blocks; a conduit is
measured against it like against anything else. What belongs together is not held against itself:
the concrete and the boxes of one run, and bodies of two runs where both end in one place, for as
far as conduits are free there.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from route3d.checks.clearance import Met, NearPlace
from route3d.geometry.blocks import Blocks, Pieces, Triangles, box_block, joined, pieces
from route3d.geometry.blocks import swept_blocks as swept
from route3d.geometry.box_places import box_places
from route3d.geometry.clearance import Flags, Ints, least_clearances
from route3d.geometry.closed_bodies import windings
from route3d.geometry.encasement import folded
from route3d.geometry.grade import Grade
from route3d.geometry.path import Path
from route3d.geometry.rmf_frames import frames
from route3d.geometry.vectors import Floats, norm
from route3d.model.job import Bank, Job
from route3d.model.run import Run
from route3d.model.site import BOX, CONCRETE, CONDUIT, MACHINE, REEL, VEHICLE, Site
from route3d.planning.bank import parts_of
from route3d.planning.clearance.asked import asked_between
from route3d.planning.clearance.conduits import places
from route3d.planning.clearance.measured import Measured, limits, measured_from
from route3d.planning.clearance.meshes import Meshes, met_of

Place = tuple[Floats, float, float]
"""Point (3,), station m, and how far round it others may touch that end there, m."""

EQUIPMENT = (MACHINE, VEHICLE, REEL)
"""What stands there for a pull only: two of them never meet."""
_SEVERAL = {
    CONCRETE: "concrete of banks",
    BOX: "boxes",
    MACHINE: "machines",
    VEHICLE: "vehicles",
    REEL: "reels",
}
_NEXT = 1e-6  # blocks whose stations agree to this follow each other, m


@dataclass(frozen=True, slots=True, eq=False)
class Built:
    """A body of a run by ``kind`` and ``name``, such as "box V1", with the ``places`` it is at.

    ``assumed`` is true where its place or size is not given but taken for the drawing.
    """

    kind: str
    name: str
    run: str
    blocks: Blocks
    places: tuple[Place, ...]
    assumed: bool = False

    @property
    def station(self) -> float:
        """Where it begins on its run, m."""
        return float(self.blocks.spans[0, 0])


@dataclass(frozen=True, slots=True, eq=False)
class Equipment:
    """What stands at the ends of the pulls; ``unplaced`` says of each run why nothing does."""

    bodies: tuple[Built, ...] = ()
    unplaced: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Group:
    """Bodies of one kind measured together; an item is one of their blocks."""

    bodies: tuple[Built, ...]
    blocks: Blocks
    owner: Ints

    @property
    def name(self) -> str:
        """What reports call it."""
        if len(self.bodies) == 1:
            return self.bodies[0].name
        return _SEVERAL[self.bodies[0].kind]

    def named(self, items: Sequence[int]) -> list[str]:
        """The body of each item."""
        return [self.bodies[k].name for k in self.owner[np.asarray(items, dtype=int)].tolist()]


def group(bodies: Sequence[Built]) -> Group:
    """Bodies of one kind together."""
    owner = np.repeat(np.arange(len(bodies)), [len(b.blocks) for b in bodies])
    return Group(tuple(bodies), joined([b.blocks for b in bodies]), owner)


def grouped(bodies: Sequence[Built]) -> list[Group]:
    """Bodies by their kind, and by whether their place is given."""
    kinds: dict[tuple[str, bool], list[Built]] = {}
    for body in bodies:
        kinds.setdefault((body.kind, body.assumed), []).append(body)
    return [group(found) for found in kinds.values()]


# --- what there is -------------------------------------------------------------------------------


def concrete_of(bank: Bank, run: Run, path: Path, site: Site, grade: Grade) -> Built | None:
    """The concrete of a bank; None where it has none, or would fold over in a bend.

    Where the ground is not known it is there all the same: what is built there may be in it.
    """
    starts = frames(path)
    parts = parts_of(bank, run, path, starts, grade, unknown=True)
    if bank.cover == 0 or any(folded(p.path, p.section, frames(p.path, p.frame)) for p in parts):
        return None
    found = [swept(p.path, p.frame, p.section.corners, p.start) for p in parts]
    own = tuple(places(run, path, site))
    return Built(CONCRETE, f"concrete of bank {run.name}", run.name, joined(found), own)


def boxes_of(run: Run, path: Path, site: Site) -> tuple[Built, ...]:
    """The boxes of a run's points, where `box_places` has them."""
    vertices = (0, *run.route.pull_points, len(run.route.vertices) - 1)
    at = dict(zip(vertices, places(run, path, site), strict=True))
    found = []
    for box in box_places(run.route, site.floors):
        place = at[box.vertex]
        block = box_block(box.middle, box.axes, box.size, place[1])
        name = f"box {run.route.label(box.vertex)}"
        found.append(Built(BOX, name, run.name, block, (place,)))
    return tuple(found)


# --- conduits against bodies ---------------------------------------------------------------------


def against_bodies(
    path: Path, radii: Floats, job: Job, others: Group, bounds: Floats, shared: Flags
) -> Measured:
    """A conduit against bodies of one kind; ``shared`` (rows,) are true where both may meet."""
    first = others.bodies[0]
    asked = asked_between(job.site, CONDUIT, first.kind)
    met = Met(
        others.name,
        first.kind,
        asked.least,
        None,
        severity=asked.severity,
        source=asked.source,
        assumed=first.assumed,
    )
    found = least_clearances(path, radii, others.blocks, bounds, limits(met.required))
    return measured_from(path, met, found, others.blocks, others.named, ~shared)


def against_conduit(
    body: Built,
    path: Path,
    radii: Floats,
    job: Job,
    run: Run,
    shared: Sequence[tuple[float, float]],
) -> Met:
    """A body against the conduit of a run that is not itself asked for."""
    edges = [e for zone in shared for e in zone if 0 < e < path.length]
    bounds = np.unique([0.0, *edges, path.length])
    middles = (bounds[:-1] + bounds[1:]) / 2
    free = np.array([any(a < m < b for a, b in shared) for m in middles.tolist()])
    met = against_bodies(path, radii, job, group((body,)), bounds, free).met

    def at_body(place: NearPlace) -> NearPlace:
        point = path.point(np.array([place.station]))
        _, item = body.blocks.nearest(point)
        station = body.blocks.station(point[0], int(item[0]))
        where = (float(point[0, 0]), float(point[0, 1]), float(point[0, 2]))
        named = (f"run {run.name}",)
        return NearPlace(station, station, station, place.distance, place.gap, named, where)

    return replace(
        met,
        name=f"run {run.name}",
        kind="run",
        subject=body.kind,
        nearest=None if met.nearest is None else at_body(met.nearest),
        clashes=tuple(map(at_body, met.clashes)),
        short=tuple(map(at_body, met.short)),
        at_ends=tuple(map(at_body, met.at_ends)),
    )


# --- bodies against meshes and bodies ------------------------------------------------------------


def body_in_meshes(body: Built, meshes: Meshes, job: Job) -> Met:
    """A body against the meshes of one class."""
    met = replace(met_of(meshes, job.site, body.kind), assumed=body.assumed)
    target = Triangles(meshes.tree)
    zones = _ends(body) if body.kind == CONCRETE else []
    found = pieces(body.blocks, target, max(limits(met.required)), zones)

    def owners(items: Sequence[int]) -> list[str]:
        return [meshes.names[meshes.owner[i]] for i in items]

    inside = _within(found, meshes) if meshes.surround.solid is not False else []
    if meshes.surround.solid and inside:
        distance, item = found.distance.copy(), found.item.copy()
        near = list(found.near)
        for i, owner in inside:
            gap, _ = target.nearest(found.blocks.middles[i : i + 1])
            distance[i], item[i] = -float(gap[0]), int(np.argmax(meshes.owner == owner))
            near[i] = np.array([item[i]])
        points = found.points.copy()
        points[[i for i, _ in inside]] = found.blocks.middles[[i for i, _ in inside]]
        found = replace(found, distance=distance, item=item, points=points, near=tuple(near))
        return _met(met, found, owners, zones)
    met = _met(met, found, owners, zones)
    return replace(met, inside=_inside_places(found, inside, meshes, zones))


def _within(found: Pieces, meshes: Meshes) -> list[tuple[int, int]]:
    """Pieces that lie within closed meshes, each with the owner of the mesh.

    Pieces that follow each other without meeting a surface are all on one side of it.
    """
    clear = found.distance >= 0
    starts = [
        i
        for i in range(len(clear))
        if clear[i] and (i == 0 or not clear[i - 1] or not _follows(found.blocks, i))
    ]
    if not starts or not meshes.closed.any():
        return []
    middles = found.blocks.middles[starts]
    wound = windings(middles, meshes.tree, meshes.closed, meshes.owner) != 0
    result = []
    for start, owners in zip(starts, wound, strict=True):
        for owner in np.flatnonzero(owners).tolist():
            i = start
            while i < len(clear) and clear[i] and (i == start or _follows(found.blocks, i)):
                result.append((i, owner))
                i += 1
    return sorted(result)


def _follows(body: Blocks, i: int) -> bool:
    """Whether a block goes on where the one before it ends."""
    return bool(abs(body.spans[i, 0] - body.spans[i - 1, 1]) < _NEXT)


def _inside_places(
    found: Pieces,
    inside: Sequence[tuple[int, int]],
    meshes: Meshes,
    zones: Sequence[tuple[float, float]],
) -> tuple[NearPlace, ...]:
    """Where a body lies in what may be solid or air: one place for each mesh."""
    places: dict[int, NearPlace] = {}
    for i, owner in inside:
        start, end = found.blocks.spans[i].tolist()
        if any(a < (start + end) / 2 < b for a, b in zones):
            continue
        gap = float(meshes.tree.nearest(found.blocks.middles[i : i + 1])[0][0])
        new = _place(found, i, start, end, -gap, (meshes.names[owner],))
        old = places.get(owner)
        if old is not None:
            deeper = min(old, new, key=lambda p: p.distance)
            new = replace(deeper, start=old.start, end=end)
        places[owner] = new
    return tuple(places.values())


def body_and_bodies(
    body: Built, others: Group, job: Job, zones: Sequence[tuple[float, float]]
) -> Met:
    """A body against others of one kind; in the ``zones`` of its stations both may meet."""
    first = others.bodies[0]
    asked = asked_between(job.site, body.kind, first.kind)
    met = Met(
        others.name,
        first.kind,
        asked.least,
        None,
        subject=body.kind,
        severity=asked.severity,
        source=asked.source,
        assumed=body.assumed or first.assumed,
    )
    found = pieces(body.blocks, others.blocks, max(limits(met.required)), zones)
    return _met(met, found, others.named, zones)


def turned_round(met: Met, body: Built, other: Built) -> Met:
    """What ``other`` found of a ``body``, said of the body: places are where the body is."""

    def place(found: NearPlace) -> NearPlace:
        return replace(
            found, start=body.station, end=body.station, station=body.station, what=(other.name,)
        )

    return replace(
        met,
        name=other.name,
        kind=other.kind,
        subject=body.kind,
        nearest=None if met.nearest is None else place(met.nearest),
        clashes=tuple(map(place, met.clashes)),
        short=tuple(map(place, met.short)),
        at_ends=tuple(map(place, met.at_ends)),
    )


def _met(
    met: Met,
    found: Pieces,
    named: Callable[[Sequence[int]], list[str]],
    zones: Sequence[tuple[float, float]],
) -> Met:
    """What a body comes to: its nearest place, clashes, and what is too close."""
    touch, enough = limits(met.required)
    middle = found.blocks.spans.mean(axis=1)
    free = np.array([not any(a < m < b for a, b in zones) for m in middle.tolist()])
    counted = np.where(free, found.distance, np.inf)
    nearest = None
    if free.any() and np.isfinite(counted).any():
        i = int(counted.argmin())
        start, end = found.blocks.spans[i].tolist()
        what = tuple(named([int(found.item[i])]))
        nearest = _place(found, i, start, end, float(counted[i]), what)

    def near(limit: float, rows: Flags) -> tuple[NearPlace, ...]:
        return _stretches(found, limit, rows, named)

    short = near(enough, free) if met.required else ()
    return replace(
        met,
        nearest=nearest,
        clashes=near(touch, free),
        short=tuple(p for p in short if p.distance >= touch),
        at_ends=near(max(touch, enough), ~free),
    )


def _stretches(
    found: Pieces, limit: float, rows: Flags, named: Callable[[Sequence[int]], list[str]]
) -> tuple[NearPlace, ...]:
    """Pieces nearer than the limit that follow each other, as one place each."""
    close = (found.distance < limit) & rows
    result: list[list[int]] = []
    for i in np.flatnonzero(close).tolist():
        if result and result[-1][-1] == i - 1 and _follows(found.blocks, i):
            result[-1].append(i)
        else:
            result.append([i])
    return tuple(_stretch(found, run, limit, named) for run in result)


def _stretch(
    found: Pieces, run: Sequence[int], limit: float, named: Callable[[Sequence[int]], list[str]]
) -> NearPlace:
    best = min(run, key=lambda i: float(found.distance[i]))
    items = dict.fromkeys([int(found.item[best]), *(int(k) for i in run for k in found.near[i])])
    what = tuple(dict.fromkeys(named(list(items))))
    start, end = float(found.blocks.spans[run[0], 0]), float(found.blocks.spans[run[-1], 1])
    return _place(found, best, start, end, float(found.distance[best]), what)


def _place(
    found: Pieces, i: int, start: float, end: float, distance: float, what: tuple[str, ...]
) -> NearPlace:
    x, y, z = found.points[i].tolist()
    if math.isnan(x):
        x, y, z = found.blocks.middles[i].tolist()
    station = float(found.blocks.spans[i].mean())
    return NearPlace(start, end, station, distance, max(distance, 0.0), what, (x, y, z))


def _ends(body: Built) -> list[tuple[float, float]]:
    """Stations round its own ends and pull points."""
    return [(s - reach, s + reach) for _, s, reach in body.places]


def meet_at_a_place(one: Built, other: Built) -> bool:
    """Whether two bodies are at places of their runs that are one."""
    return any(
        float(norm(p - q)) <= max(r, s) for p, _, r in one.places for q, _, s in other.places
    )
