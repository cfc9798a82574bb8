"""The clearance of every run of a job, from building meshes and from the other runs."""

from __future__ import annotations

from collections.abc import Callable, Container, Sequence
from dataclasses import dataclass, replace

import numpy as np

from route3d.checks.clearance import TOUCH, Met, Place, check_met
from route3d.checks.finding import Finding, worst_first
from route3d.geometry.clearance import (
    END_TOLERANCE,
    Clearances,
    Flags,
    Ints,
    Stretch,
    Target,
    least_clearances,
    stretches_within,
)
from route3d.geometry.clearance_tree import MeshTree, mesh_tree
from route3d.geometry.clearance_tubes import Tubes, tubes_of
from route3d.geometry.closed_bodies import Inside, closed_faces, stretches_inside
from route3d.geometry.path import Path
from route3d.geometry.route_path import route_path
from route3d.geometry.vectors import Floats, norm
from route3d.model.job import Job, Surround
from route3d.model.route import Vertex
from route3d.model.run import Run
from route3d.planning.placement_site import SiteMesh

_SAME = 1e-6  # bounds of rows nearer than this are one, m
UNNAMED = "the building"


@dataclass(frozen=True, slots=True, eq=False)
class Meshes:
    """The meshes of one class: ``name``, what they ask for, and the search over all of them.

    ``names`` holds what an ``owner`` number stands for, ``owner`` (n,) and ``closed`` (n,) that of
    each triangle and whether its part closes round a space. ``solid`` as in ``Surround``.
    """

    name: str
    required: float
    solid: bool | None
    tree: MeshTree
    names: tuple[str, ...]
    owner: Ints
    closed: Flags


@dataclass(frozen=True, slots=True)
class Row:
    """One length of a run: what it is nearest to, measured by what that asks for.

    Stations ``start`` to ``end``, the least clearance ``distance`` m at ``station``, from ``what``
    of ``against``, which asks for ``required`` m. ``verdict`` is "ok", "close", "clash", or "end"
    where it is not judged: at an end or pull point.
    """

    start: float
    end: float
    station: float
    distance: float
    against: str
    what: str
    required: float
    verdict: str


@dataclass(frozen=True, slots=True, eq=False)
class RunClearance:
    """A run against everything: ``met`` by thing, ``rows`` along the run, findings worst first."""

    run: Run
    path: Path
    met: tuple[Met, ...]
    rows: tuple[Row, ...]
    findings: tuple[Finding, ...]

    @property
    def stops(self) -> bool:
        """True where the run clashes, or is nearer to something than that asks for."""
        return any(f.severity == "stop" for f in self.findings)


@dataclass(frozen=True, slots=True, eq=False)
class ClearanceResult:
    """The answer for a job: ``every`` m one row; ``open_meshes`` by name have no inside.

    ``triangles`` is how many there are in all.
    """

    job: Job
    runs: tuple[RunClearance, ...]
    every: float
    triangles: int
    open_meshes: tuple[str, ...]

    @property
    def stops(self) -> bool:
        """True where a run clashes, or is nearer to something than that asks for."""
        return any(run.stops for run in self.runs)

    @property
    def nothing(self) -> bool:
        """True where there is nothing to measure against."""
        return not any(run.met for run in self.runs)


def evaluate_clearance(
    job: Job,
    meshes: Sequence[SiteMesh],
    every: float = 1.0,
    names: Container[str] | None = None,
) -> ClearanceResult:
    """Measure every run, or those of the ``names``, in rows of ``every`` m.

    ``meshes`` are those of ``job.site.context`` in its order. Raises GeometryError where a route
    has no path.
    """
    around = gather(job.site.surrounds, meshes)
    paths = [route_path(run.route) for run in job.runs]
    tubes = [tubes_of(p, outer_radii(r)) for p, r in zip(paths, job.runs, strict=True)]
    runs = tuple(
        _run(job, i, paths, tubes, around, every)
        for i, run in enumerate(job.runs)
        if names is None or run.name in names
    )
    loose = [n for m in around for k, n in enumerate(m.names) if not m.closed[m.owner == k].all()]
    return ClearanceResult(job, runs, every, sum(len(m.faces) for m in meshes), tuple(loose))


def outer_radii(run: Run) -> Floats:
    """Outer radius of the conduit on each leg of a run, m."""
    return np.array([c.outer_diameter / 2 for c in run.route.conduits])


def gather(surrounds: Sequence[Surround], meshes: Sequence[SiteMesh]) -> tuple[Meshes, ...]:
    """Meshes by class: one search over all that ask for the same."""
    groups: dict[Surround, list[SiteMesh]] = {}
    for surround, mesh in zip(surrounds, meshes, strict=True):
        groups.setdefault(surround, []).append(mesh)
    return tuple(_gathered(surround, group) for surround, group in groups.items())


def _gathered(surround: Surround, meshes: list[SiteMesh]) -> Meshes:
    before = np.cumsum([0, *(len(m.vertices) for m in meshes[:-1])])
    vertices = np.vstack([m.vertices for m in meshes])
    faces = np.vstack([m.faces + n for m, n in zip(meshes, before, strict=True)])
    owner = np.repeat(np.arange(len(meshes)), [len(m.faces) for m in meshes])
    name = surround.kind or UNNAMED
    if not surround.kind and surround.clearance:
        name = ", ".join(m.name for m in meshes)
    names = tuple(m.name for m in meshes)
    closed = closed_faces(vertices, faces)
    tree = mesh_tree(vertices, faces)
    return Meshes(name, surround.clearance, surround.solid, tree, names, owner, closed)


# --- one run -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, eq=False)
class _Measured:
    """A run measured against one thing; ``what`` (rows,) and ``free`` (rows,) where it counts."""

    met: Met
    found: Clearances
    what: tuple[str, ...]
    free: Flags


def _run(
    job: Job,
    index: int,
    paths: Sequence[Path],
    tubes: Sequence[Tubes],
    around: Sequence[Meshes],
    every: float,
) -> RunClearance:
    run, path = job.runs[index], paths[index]
    own = places(run, path, job.site.free_ends)
    zones = [[(s - reach, s + reach) for _, s, reach in own]] if around else []
    others = [i for i in range(len(job.runs)) if i != index]
    for i in others:
        zones += [_shared(own, places(job.runs[i], paths[i], job.site.free_ends))]
    bounds = _bounds(path.length, every, [edge for zone in zones for pair in zone for edge in pair])
    radii = outer_radii(run)
    measured = [
        *(_against_meshes(path, radii, m, bounds, _in_zones(bounds, zones[0])) for m in around),
        *(
            _against_run(path, radii, job, i, tubes[i], bounds, _in_zones(bounds, zone))
            for i, zone in zip(others, zones[len(zones) - len(others) :], strict=True)
        ),
    ]
    met = tuple(m.met for m in measured)
    findings = worst_first(tuple(f for m in met for f in check_met(m)))
    return RunClearance(run, path, met, _rows(bounds, measured), findings)


def places(run: Run, path: Path, free: float) -> list[tuple[Floats, float, float]]:
    """Ends and pull points of a run: point (3,), station m, and how far round it is free, m.

    That is ``free``, or half the diagonal of the box there where that is more.
    """
    vertices = run.route.vertices
    at = (0, *run.route.pull_points, len(vertices) - 1)
    stations = [*path.stations[np.searchsorted(path.leg, at[:-1])].tolist(), path.length]
    return [
        (np.array(vertices[i].point), station, max(free, _half_box(vertices[i])))
        for i, station in zip(at, stations, strict=True)
    ]


def _half_box(vertex: Vertex) -> float:
    return float(norm(np.array(vertex.box))) / 2 if vertex.box is not None else 0.0


def _shared(
    own: list[tuple[Floats, float, float]], other: list[tuple[Floats, float, float]]
) -> list[tuple[float, float]]:
    """Stations round those places of a run that lie within free reach of a place of another."""
    zones = []
    for point, station, reach in own:
        near = [max(reach, r) for p, _, r in other if norm(p - point) <= max(reach, r)]
        zones += [(station - r, station + r) for r in near[:1]]
    return zones


def _bounds(length: float, every: float, edges: Sequence[float]) -> Floats:
    """Stations between rows: every ``every`` m, and at the ``edges`` that lie on the run."""
    count = max(1, int(np.ceil(length / every - 1e-9)))
    even = np.append(np.arange(count) * every, length)
    inner = np.array([e for e in edges if 0 < e < length])
    extra = inner[np.abs(inner[:, None] - even).min(axis=1, initial=np.inf) > _SAME]
    bounds = np.unique(np.concatenate((even, extra)))
    return bounds[np.concatenate(([True], np.diff(bounds) > _SAME))]


def _in_zones(bounds: Floats, zones: Sequence[tuple[float, float]]) -> Flags:
    """Which rows lie in one of the zones."""
    middles = (bounds[:-1] + bounds[1:]) / 2
    inside = np.zeros(len(middles), dtype=bool)
    for start, end in zones:
        inside |= (middles > start) & (middles < end)
    return inside


def _against_meshes(
    path: Path, radii: Floats, meshes: Meshes, bounds: Floats, at_end: Flags
) -> _Measured:
    found = least_clearances(path, radii, meshes.tree, bounds, _limits(meshes.required))
    met = Met(meshes.name, False, meshes.required, None, solid=meshes.solid)

    def named(items: Sequence[int]) -> list[str]:
        return [meshes.names[meshes.owner[i]] for i in items]

    if meshes.solid is False:
        return _measured(path, met, found, meshes.tree, named, ~at_end)
    inside = stretches_inside(path, found.nodes, meshes.tree, meshes.closed, meshes.owner)
    buried = (_inside_place(path, radii, s, meshes.names) for s in inside)
    counts = tuple(p for p in buried if not _all_in(p, bounds, at_end))
    if meshes.solid:
        found = _in_solids(path, radii, found, counts)
    measured = _measured(path, met, found, meshes.tree, named, ~at_end)
    met = measured.met
    if meshes.solid:
        counts = tuple(_with_faces(p, met.clashes) for p in counts)
        faces = (c for c in met.clashes if not any(_meet(c, p) for p in counts))
        clashes = tuple(sorted((*faces, *counts), key=lambda p: p.start))
        met = replace(met, clashes=clashes, short=_apart(met.short, counts))
    return replace(measured, met=replace(met, inside=counts))


def _in_solids(path: Path, radii: Floats, found: Clearances, inside: Sequence[Place]) -> Clearances:
    """Rows whose nearest place lies in solid material: as far in as the surface is away."""
    if not inside:
        return found
    radius = radii[path.leg[path.locate(found.station)[0]]]
    within = np.zeros(len(found.station), dtype=bool)
    for place in inside:
        within |= (found.station >= place.start) & (found.station <= place.end)
    distance = np.where(within, -(found.distance + 2 * radius), found.distance)
    return replace(found, distance=distance)


def _with_faces(place: Place, faces: Sequence[Place]) -> Place:
    """A stretch in solid material with the surfaces it goes in and out through."""
    through = [f for f in faces if _meet(f, place)]
    start = min([place.start, *(f.start for f in through)])
    end = max([place.end, *(f.end for f in through)])
    return replace(place, start=start, end=end)


def _apart(places: Sequence[Place], others: Sequence[Place]) -> tuple[Place, ...]:
    return tuple(p for p in places if not any(_meet(p, other) for other in others))


def _meet(one: Place, other: Place) -> bool:
    """Whether two stretches of one run meet, and are of the same thing."""
    overlap = one.start <= other.end + END_TOLERANCE and other.start <= one.end + END_TOLERANCE
    return overlap and bool(set(one.what) & set(other.what))


def _against_run(
    path: Path, radii: Floats, job: Job, other: int, tubes: Tubes, bounds: Floats, shared: Flags
) -> _Measured:
    met = Met(f"run {job.runs[other].name}", True, job.site.between_runs, None)
    found = least_clearances(path, radii, tubes, bounds, _limits(met.required))
    return _measured(path, met, found, tubes, lambda items: [met.name] * len(items), ~shared)


def _limits(required: float) -> tuple[float, ...]:
    """The clearances below which there is a clash, and too little."""
    return (-TOUCH, required - TOUCH)


def _measured(
    path: Path,
    met: Met,
    found: Clearances,
    target: Target,
    named: Callable[[Sequence[int]], list[str]],
    free: Flags,
) -> _Measured:
    """What was found, where it counts (``free``) and where not; ``named`` names items."""

    def near(limit: float, rows: Flags) -> tuple[Place, ...]:
        stretches = stretches_within(path, found, target, limit, rows)
        return tuple(_place(s, tuple(dict.fromkeys(named(s.items)))) for s in stretches)

    touch, enough = _limits(met.required)
    short = near(enough, free) if met.required else ()
    met = replace(
        met,
        nearest=_nearest(found, named, free),
        clashes=near(touch, free),
        short=tuple(p for p in short if p.distance >= touch),
        at_ends=near(max(touch, enough), ~free),
    )
    return _Measured(met, found, tuple(named(found.item.tolist())), free)


def _nearest(
    found: Clearances, named: Callable[[Sequence[int]], list[str]], free: Flags
) -> Place | None:
    if not free.any():
        return None
    row = int(np.where(free, found.distance, np.inf).argmin())
    at, gap = float(found.station[row]), float(found.gap[row])
    return Place(at, at, at, float(found.distance[row]), gap, tuple(named([int(found.item[row])])))


def _place(stretch: Stretch, what: tuple[str, ...]) -> Place:
    s = stretch
    return Place(s.start, s.end, s.station, s.distance, s.gap, what)


def _inside_place(path: Path, radii: Floats, inside: Inside, names: Sequence[str]) -> Place:
    """The conduit's own radius goes to the depth of its centreline."""
    segment, _ = path.locate(inside.station)
    deep = inside.depth + float(radii[path.leg[segment]])
    span = (inside.start, inside.end, inside.station)
    return Place(*span, -deep, inside.depth, (names[inside.owner],))


def _all_in(place: Place, bounds: Floats, rows: Flags) -> bool:
    """Whether a place lies within those of the rows that are true."""
    met = (bounds[1:] > place.start + END_TOLERANCE) & (bounds[:-1] < place.end - END_TOLERANCE)
    return bool(rows[met].all())


# --- rows ----------------------------------------------------------------------------------------


def _rows(bounds: Floats, measured: Sequence[_Measured]) -> tuple[Row, ...]:
    """For each row the thing with the least margin, of those that count there."""
    if not measured:
        return ()
    margins = np.array([m.found.distance - m.met.required for m in measured])
    free = np.array([m.free for m in measured])
    judged = np.where(free, margins, np.inf)
    choice = np.where(free.any(axis=0), judged.argmin(axis=0), margins.argmin(axis=0))
    return tuple(_row(bounds, i, measured[k]) for i, k in enumerate(choice.tolist()))


def _row(bounds: Floats, i: int, measured: _Measured) -> Row:
    met, found = measured.met, measured.found
    distance = float(found.distance[i])
    return Row(
        start=float(bounds[i]),
        end=float(bounds[i + 1]),
        station=float(found.station[i]),
        distance=distance,
        against=met.name,
        what=measured.what[i],
        required=met.required,
        verdict=_verdict(distance, met.required) if measured.free[i] else "end",
    )


def _verdict(distance: float, required: float) -> str:
    touch, enough = _limits(required)
    if distance < touch:
        return "clash"
    return "close" if required and distance < enough else "ok"
