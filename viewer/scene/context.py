"""The surroundings of a route: building meshes made light enough to draw, and edges of rooms."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from route3d.formats.building_meshes import Buildings, Mesh
from route3d.geometry.vectors import Floats, frozen
from route3d.model.room import Room
from viewer.scene.records import ContextMesh, RoomEdges

# What a still picture on a machine without a graphics card draws in well under a second.
_MOST_FACES = 120_000
_FINEST = 1 / 1024


def context_meshes(given: Buildings, origin: Floats) -> tuple[ContextMesh, ...]:
    """Building meshes to draw, from ``origin`` (3,)."""
    return tuple(_shown(path, mesh, origin) for path, mesh in given)


def room_edges(room: Room, origin: Floats) -> RoomEdges:
    """The edges of a room from ``origin`` (3,); one open above shows its floor alone."""
    polygons = [np.array(p) for p in (room.outline, *room.obstacles)]
    floor = [_at_height(p, room.floor, origin) for p in polygons]
    if room.ceiling is None:
        return RoomEdges(room.name, tuple(floor), frozen(np.empty((0, 2, 3))))
    ceiling = [_at_height(p, room.ceiling, origin) for p in polygons]
    uprights = np.stack((np.vstack(floor), np.vstack(ceiling)), axis=1)
    return RoomEdges(room.name, (*floor, *ceiling), frozen(uprights))


def _at_height(polygon: Floats, z: float, origin: Floats) -> Floats:
    return frozen(np.column_stack((polygon, np.full(len(polygon), z))) - origin)


def _shown(path: Path, mesh: Mesh, origin: Floats) -> ContextMesh:
    points = mesh.vertices - origin  # in float64: nothing is lost before the shift
    vertices, faces = thinned(points, mesh.faces, _MOST_FACES)
    return ContextMesh(path.name, frozen(vertices), faces, len(mesh.faces))


def thinned(
    vertices: Floats, faces: NDArray[np.int64], most: int
) -> tuple[Floats, NDArray[np.int64]]:
    """At most ``most`` triangles: points that share a cell of a grid become one.

    The cells grow until it is enough, so no point moves by more than a cell. Good to look at,
    never to measure on.
    """
    cell = float(np.ptp(vertices, axis=0).max()) * _FINEST
    low = vertices.min(axis=0)
    found, left = vertices, faces
    while len(left) > most:
        key = np.floor((vertices - low) / cell).astype(np.int64)
        packed = (key[:, 0] << 42) | (key[:, 1] << 21) | key[:, 2]
        _, first, owner = np.unique(packed, return_index=True, return_inverse=True)
        found, left = vertices[first], owner[faces]
        a, b, c = left.T
        left = left[(a != b) & (b != c) & (c != a)]
        _, once = np.unique(np.sort(left, axis=1), axis=0, return_index=True)
        left = left[np.sort(once)]
        cell *= 2
    return found, left
