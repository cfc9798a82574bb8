"""A run against conduits: those of other runs, its own where it comes back, the ducts of a bank."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from route3d.checks.bank import widest_duct
from route3d.checks.clearance import Met
from route3d.errors import GeometryError
from route3d.geometry.bank import bank_paths, duct_places
from route3d.geometry.box_places import box_places
from route3d.geometry.clearance import Flags, Ints, Tubes, itself, least_clearances, tubes_of
from route3d.geometry.fillet import pull_stations
from route3d.geometry.path import Path
from route3d.geometry.vectors import Floats, norm
from route3d.model.job import Job
from route3d.model.run import Run
from route3d.model.site import CONDUIT, Site
from route3d.planning.clearance.asked import asked_between
from route3d.planning.clearance.measured import Measured, limits, measured_from

OWN = "the run itself"


@dataclass(frozen=True, slots=True, eq=False)
class Ducts:
    """The ducts of the bank about ``run``, with their ``labels``: an item is one of their segments.

    ``first`` (n,) is the number of the first segment of each duct.
    """

    run: str
    paths: tuple[Path, ...]
    tubes: tuple[Tubes, ...]
    labels: tuple[str, ...]
    first: Ints

    def nearest(self, points: Floats, stations: Floats | None = None) -> tuple[Floats, Ints]:
        """Distance (k,) m of each point (k, 3) to the nearest duct, and which of its segments."""
        found = [tubes.nearest(points) for tubes in self.tubes]
        distances = np.array([distance for distance, _ in found])
        items = np.array([item for _, item in found]) + self.first[:, None]
        duct, each = distances.argmin(axis=0), np.arange(len(points))
        return distances[duct, each], items[duct, each]

    def to_items(self, points: Floats, items: Ints) -> Floats:
        """Distance (k,) m of each point (k, 3) to the wall of the segment given for it."""
        away = np.empty(len(points))
        owner = self._owner(items)
        for duct in np.unique(owner).tolist():
            mine = owner == duct
            away[mine] = self.tubes[duct].to_items(points[mine], items[mine] - self.first[duct])
        return away

    def named(self, items: Sequence[int]) -> list[str]:
        """The duct of each item."""
        return [self.labels[duct] for duct in self._owner(np.array(items, dtype=int)).tolist()]

    def _owner(self, items: Ints) -> Ints:
        owner: Ints = np.searchsorted(self.first, items, side="right") - 1
        return owner


def bank_ducts(job: Job, paths: Sequence[Path]) -> tuple[tuple[Ducts, ...], tuple[str, ...]]:
    """The ducts of every bank of a job with more than one; and the banks whose ducts have no path.

    ``paths`` are those of ``job.runs``.
    """
    found, blocked = [], []
    for bank in job.banks:
        index = next(i for i, run in enumerate(job.runs) if run.name == bank.run)
        run, path = job.runs[index], paths[index]
        try:
            ducts = bank_paths(path, bank, outer_diameter=widest_duct(run), route=run.route)
        except GeometryError:
            blocked.append(bank.run)
            continue
        tubes = tuple(tubes_of(duct, outer_radii(run)) for duct in ducts)
        labels = tuple(f"duct row {r}, column {c}" for r, c in duct_places(bank))
        first = np.cumsum([0, *(len(each.radii) for each in tubes[:-1])])
        found.append(Ducts(bank.run, tuple(ducts), tubes, labels, first))
    return tuple(found), tuple(blocked)


def outer_radii(run: Run) -> Floats:
    """Outer radius of the conduit on each leg of a run, m."""
    return np.array([c.outer_diameter / 2 for c in run.route.conduits])


def places(run: Run, path: Path, site: Site) -> list[tuple[Floats, float, float]]:
    """Ends and pull points of a run: point (3,), station m, and how far round it is free, m.

    That is as the ``site`` says, or as far as the box there reaches from the point if that is more.
    """
    vertices = run.route.vertices
    reach = {box.vertex: box.reach for box in box_places(run.route, site.floors)}
    at = (0, *run.route.pull_points, len(vertices) - 1)
    stations = [0.0, *pull_stations(run.route, path), path.length]
    return [
        (np.array(vertices[i].point), station, max(site.free_ends, reach.get(i, 0.0)))
        for i, station in zip(at, stations, strict=True)
    ]


def shared_zones(
    own: list[tuple[Floats, float, float]], other: list[tuple[Floats, float, float]]
) -> list[tuple[float, float]]:
    """Stations round those places of a run that lie within free reach of a place of another."""
    zones = []
    for point, station, reach in own:
        near = [max(reach, r) for p, _, r in other if norm(p - point) <= max(reach, r)]
        zones += [(station - r, station + r) for r in near[:1]]
    return zones


def _between(job: Job, name: str) -> Met:
    asked = asked_between(job.site, CONDUIT, CONDUIT)
    return Met(name, "run", asked.least, None, severity=asked.severity, source=asked.source)


def against_run(
    path: Path, radii: Floats, job: Job, other: int, tubes: Tubes, bounds: Floats, shared: Flags
) -> Measured:
    """A run against that of another number; ``shared`` (rows,) are true where both may meet."""
    met = _between(job, f"run {job.runs[other].name}")
    found = least_clearances(path, radii, tubes, bounds, limits(met.required))
    return measured_from(path, met, found, tubes, lambda items: [met.name] * len(items), ~shared)


def against_ducts(
    path: Path, radii: Floats, job: Job, ducts: Ducts, bounds: Floats, shared: Flags
) -> Measured:
    """A run against the ducts of a bank about another."""
    met = _between(job, f"bank of {ducts.run}")
    found = least_clearances(path, radii, ducts, bounds, limits(met.required))
    return measured_from(path, met, found, ducts, ducts.named, ~shared)


def from_itself(
    path: Path, radii: Floats, job: Job, tubes: Tubes, bounds: Floats, at_end: Flags
) -> Measured | None:
    """Where a run comes back to itself too near, but for its ends and pull points; None if nowhere.

    Elsewhere there is nothing to say of it: along itself a run is always near, so that its other
    rows have no such distance.
    """
    met = _between(job, OWN)
    target = itself(tubes, met.required)
    changes = np.flatnonzero(np.diff(at_end)) + 1  # a few long rows tell whether it is near at all
    rough = bounds[np.concatenate(([0], changes, [len(bounds) - 1]))]
    least = least_clearances(path, radii, target, rough, limits(met.required)).distance
    if not (least < max(limits(met.required)))[~at_end[np.concatenate(([0], changes))]].any():
        return None
    found = least_clearances(path, radii, target, bounds, limits(met.required))
    made = measured_from(path, met, found, target, lambda items: [OWN] * len(items), ~at_end)
    if not (made.met.clashes or made.met.short):
        return None
    return only_near(made)


def only_near(made: Measured) -> Measured:
    """Without the rows that are near to nothing: there is nothing to say of those."""
    near = made.found.distance < max(limits(made.met.required))
    away = np.where(near, made.found.distance, np.inf)
    return replace(made, found=replace(made.found, distance=away))
