"""A run against building meshes: by class, and where it lies in what is closed or solid."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from route3d.checks.clearance import RUN, Met, NearPlace
from route3d.geometry.clearance import (
    END_TOLERANCE,
    Clearances,
    Flags,
    Ints,
    Nodes,
    least_clearances,
)
from route3d.geometry.closed_bodies import Inside, closed_faces, stretches_inside
from route3d.geometry.mesh_tree import MeshTree, mesh_tree
from route3d.geometry.path import Path
from route3d.geometry.vectors import Floats
from route3d.model.site import CONDUIT, Site, Surround
from route3d.planning.clearance.asked import asked_of_mesh, named
from route3d.planning.clearance.measured import Measured, limits, measured_from
from route3d.planning.placement.site import MeshPart, SiteMesh

# Places looked at along a stretch in a body, beside those that the search itself came by.
_LOOKS = 257
UNNAMED = "the building"


@dataclass(frozen=True, slots=True, eq=False)
class Meshes:
    """The meshes of one class: ``name``, what they are, and the search over all of them.

    ``names`` holds what an ``owner`` number stands for, ``owner`` (n,) and ``closed`` (n,) that of
    each triangle and whether its part closes round a space. ``handles`` and ``storeys`` are those
    of elements of an IFC model, empty for other meshes.
    """

    name: str
    surround: Surround
    tree: MeshTree
    names: tuple[str, ...]
    owner: Ints
    closed: Flags
    handles: tuple[str, ...] = ()
    storeys: tuple[str, ...] = ()


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
    first = np.cumsum([0, *(len(m.labels) for m in meshes[:-1])])
    owner = np.concatenate([m.owners + n for m, n in zip(meshes, first, strict=True)])
    name = surround.kind or UNNAMED
    if not surround.kind and surround.clearance:
        name = ", ".join(m.name for m in meshes)
    names = tuple(label for m in meshes for label in m.labels)
    closed = closed_faces(vertices, faces)
    tree = mesh_tree(vertices, faces)
    parts = [part for m in meshes for part in m.parts or (MeshPart(m.name),)]
    handles, storeys = tuple(p.handle for p in parts), tuple(p.storey for p in parts)
    return Meshes(name, surround, tree, names, owner, closed, handles, storeys)


def met_of(meshes: Meshes, site: Site, kind: str) -> Met:
    """What a ``kind`` of our own things is to keep from the meshes of a class; nothing met yet."""
    asked = named(asked_of_mesh(site, kind, meshes.surround), meshes.name)
    return Met(
        meshes.name,
        "mesh",
        asked.least,
        None,
        solid=meshes.surround.solid,
        subject=RUN if kind == CONDUIT else kind,
        severity=asked.severity,
        source=asked.source,
    )


def against_meshes(
    path: Path, radii: Floats, site: Site, meshes: Meshes, bounds: Floats, at_end: Flags
) -> Measured:
    """A run against the meshes of one class; what lies in solid ones is a clash from end to end."""
    met = met_of(meshes, site, CONDUIT)
    found = least_clearances(path, radii, meshes.tree, bounds, limits(met.required))

    def owners(items: Sequence[int]) -> list[str]:
        return [meshes.names[meshes.owner[i]] for i in items]

    if met.solid is False:
        return measured_from(path, met, found, meshes.tree, owners, ~at_end)
    inside = stretches_inside(path, found.nodes, meshes.tree, meshes.closed, meshes.owner)
    looks = [_look(path, radii, found.nodes, s, meshes) for s in inside]
    looks = [look for look in looks if not _all_in(look.place, bounds, at_end)]
    counts = tuple(look.place for look in looks)
    if met.solid:
        found = _in_solids(path, radii, found, looks, bounds)
    measured = measured_from(path, met, found, meshes.tree, owners, ~at_end)
    met = measured.met
    if met.solid:
        counts = tuple(_with_faces(p, met.clashes) for p in counts)
        faces = (c for c in met.clashes if not any(_meet(c, p) for p in counts))
        clashes = tuple(sorted((*faces, *counts), key=lambda p: p.start))
        met = replace(met, clashes=clashes, short=_apart(met.short, counts))
    return replace(measured, met=replace(met, inside=counts))


class _Look(NamedTuple):
    """A stretch in a body: its place, and how far in the line is, ``gaps`` m at ``stations`` m."""

    place: NearPlace
    stations: Floats
    gaps: Floats


def _look(path: Path, radii: Floats, nodes: Nodes, inside: Inside, meshes: Meshes) -> _Look:
    """A stretch looked at closely; its place is where it is deepest."""
    within = (nodes.stations >= inside.start) & (nodes.stations <= inside.end)
    more = np.linspace(inside.start, inside.end, _LOOKS)
    gaps = np.concatenate((nodes.gaps[within], meshes.tree.nearest(path.point(more))[0]))
    stations = np.concatenate((nodes.stations[within], more))
    best = int(gaps.argmax())
    station, depth = float(stations[best]), float(gaps[best])
    # the conduit's own radius goes to the depth of its centerline
    deep = depth + float(radii[path.leg[path.locate(station)[0]]])
    span = (inside.start, inside.end, station)
    return _Look(NearPlace(*span, -deep, depth, (meshes.names[inside.owner],)), stations, gaps)


def _in_solids(
    path: Path, radii: Floats, found: Clearances, looks: Sequence[_Look], bounds: Floats
) -> Clearances:
    """Rows that lie in solid material: as far in as the conduit is there, at its deepest."""
    if not looks:
        return found
    at = np.concatenate([look.stations for look in looks])
    gaps = np.concatenate([look.gaps for look in looks])
    rows = np.clip(np.searchsorted(bounds, at, side="right") - 1, 0, len(bounds) - 2)
    rising = np.argsort(gaps, kind="stable")  # of those of one row the deepest is kept
    deepest = np.full(len(bounds) - 1, -1)
    deepest[rows[rising]] = rising
    held = deepest >= 0
    station, gap = at[deepest[held]], gaps[deepest[held]]
    radius = radii[path.leg[path.locate(station)[0]]]
    distance, stations, distances = found.distance.copy(), found.station.copy(), found.gap.copy()
    distance[held], stations[held], distances[held] = -(gap + radius), station, gap
    return replace(found, distance=distance, station=stations, gap=distances)


def _with_faces(place: NearPlace, faces: Sequence[NearPlace]) -> NearPlace:
    """A stretch in solid material with the surfaces it goes in and out through."""
    through = [f for f in faces if _meet(f, place)]
    start = min([place.start, *(f.start for f in through)])
    end = max([place.end, *(f.end for f in through)])
    return replace(place, start=start, end=end)


def _apart(places: Sequence[NearPlace], others: Sequence[NearPlace]) -> tuple[NearPlace, ...]:
    return tuple(p for p in places if not any(_meet(p, other) for other in others))


def _meet(one: NearPlace, other: NearPlace) -> bool:
    """Whether two stretches of one run meet, and are of the same thing."""
    overlap = one.start <= other.end + END_TOLERANCE and other.start <= one.end + END_TOLERANCE
    return overlap and bool(set(one.what) & set(other.what))


def _all_in(place: NearPlace, bounds: Floats, rows: Flags) -> bool:
    """Whether a place lies within those of the rows that are true."""
    met = (bounds[1:] > place.start + END_TOLERANCE) & (bounds[:-1] < place.end - END_TOLERANCE)
    return bool(rows[met].all())
