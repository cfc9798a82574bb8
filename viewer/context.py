"""Building meshes about a route, made light enough to draw."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from route3d.errors import InputError, Problem
from route3d.files.mesh import Mesh, read_mesh
from route3d.geometry.vectors import Floats, frozen
from route3d.model.job import Job
from viewer.scene_data import ContextMesh

# What a still picture on a machine without a graphics card draws in well under a second.
_MOST_FACES = 120_000
_FINEST = 1 / 1024


def context_meshes(job: Job, origin: Floats) -> tuple[ContextMesh, ...]:
    """The job's building meshes from ``origin`` (3,), every unreadable file in one InputError."""
    found: list[ContextMesh] = []
    problems: list[Problem] = []
    for path in job.site.context:
        try:
            found.append(_shown(path, read_mesh(path, job.units), origin))
        except InputError as error:
            problems += error.problems
    if problems:
        raise InputError(problems)
    return tuple(found)


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
