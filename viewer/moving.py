"""The cable on its way: tubes that are cable behind the head and rope before it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.vectors import Floats, frozen, norm, unit
from viewer.meshes import tube_mesh
from viewer.scene.records import Scene, Tube
from viewer.theme import Theme, rgb

if TYPE_CHECKING:
    import pyvista as pv

# Where cable turns into rope is drawn to a three-hundredth of the route, under the marker.
_STEPS = 300
_MOST_SAMPLES = 12_000
# The rope is drawn thinner than the cable: seen without its color too.
_ROPE = 0.45
# The marker of the head, in tube radii.
_MARK = 2.2


@dataclass(frozen=True, slots=True, eq=False)
class MovingTube:
    """A tube's ``mesh`` with, for each of its points, ``center`` (n, 3), ``station`` and colors.

    The mesh is changed in place; ``values`` (n, 3) are its colors by the scale.
    """

    mesh: pv.PolyData
    points: Floats
    center: Floats
    station: Floats
    values: NDArray[np.uint8]


def moving_tubes(scene: Scene, theme: Theme) -> tuple[MovingTube, ...]:
    """The tubes of a scene, in the colors of its scale, fine enough to show where the head is."""
    length = max(float(t.station[-1]) for t in scene.tubes)
    return tuple(_moving(dense(t, length / _STEPS), scene, theme) for t in scene.tubes)


def _moving(tube: Tube, scene: Scene, theme: Theme) -> MovingTube:
    mesh = tube_mesh(tube, scene, theme)
    sides = (mesh.n_points - 2 * _cap(mesh, tube)) // len(tube.points)
    rows = np.concatenate(
        (
            np.repeat(np.arange(len(tube.points)), sides),
            np.zeros(sides, dtype=int),
            np.full(sides, len(tube.points) - 1),
        )
    )
    return MovingTube(
        mesh,
        np.array(mesh.points, dtype=np.float64),
        tube.points[rows],
        tube.station[rows],
        np.array(mesh.point_data["rgb"]),
    )


def _cap(mesh: pv.PolyData, tube: Tube) -> int:
    """Points of one end cap: a ring, as all along the tube."""
    return int(mesh.n_points) // (len(tube.points) + 2)


def dense(tube: Tube, spacing: float) -> Tube:
    """The tube with more samples, at most ``spacing`` m apart unless it has very many."""
    if len(tube.points) > _MOST_SAMPLES:
        return tube
    steps = np.maximum(np.ceil(np.diff(tube.station) / spacing - 1e-9).astype(int), 1)
    start = np.repeat(np.arange(len(steps)), steps)
    share = (np.arange(len(start)) - np.repeat(np.cumsum(steps) - steps, steps)) / steps[start]
    at = np.append(start + share, len(tube.points) - 1.0)
    index = np.arange(len(tube.points))

    def fine(values: Floats) -> Floats:
        if values.ndim == 1:
            return frozen(np.interp(at, index, values))
        return frozen(np.column_stack([np.interp(at, index, values[:, k]) for k in range(3)]))

    return replace(
        tube,
        points=fine(tube.points),
        tangents=frozen(unit(fine(tube.tangents))),
        station=fine(tube.station),
        tension=fine(tube.tension),
        sidewall=fine(tube.sidewall),
        utilization=fine(tube.utilization),
    )


def show_values(tubes: tuple[MovingTube, ...]) -> None:
    """Give the tubes the colors of their scale."""
    for tube in tubes:
        tube.mesh.points = tube.points
        tube.mesh.point_data["rgb"] = tube.values


def show_head(tubes: tuple[MovingTube, ...], head: float, reverse: bool, theme: Theme) -> None:
    """Color the tubes for a head at station ``head`` m: cable as the reel, rope as the machine."""
    cable, rope = (np.array(rgb(c), dtype=np.uint8) for c in (theme.feed, theme.machine))
    for tube in tubes:
        behind = (tube.station >= head) if reverse else (tube.station <= head)
        tube.mesh.point_data["rgb"] = np.where(behind[:, None], cable, rope)
        share = np.where(behind, 1.0, _ROPE)[:, None]
        tube.mesh.points = tube.center + share * (tube.points - tube.center)


def head_place(scene: Scene, head: float) -> Floats:
    """Where station ``head`` m lies in the scene, (3,)."""
    station = np.concatenate([t.station for t in scene.tubes])
    points = np.vstack([t.points for t in scene.tubes])
    return frozen([np.interp(head, station, points[:, k]) for k in range(3)])


def head_mesh(scene: Scene) -> pv.PolyData:
    """The marker of the head, about the origin."""
    import pyvista as pv

    radius = _MARK * max(t.radius for t in scene.tubes)
    return pv.Sphere(radius=radius, center=(0.0, 0.0, 0.0), theta_resolution=32, phi_resolution=24)


def nearest_station(
    scene: Scene, pixels: Floats, at: tuple[float, float] | Floats
) -> tuple[float, float]:
    """Station of the place of the route nearest to a pixel, and its distance in pixels.

    ``pixels`` (n, 2) are the projected points of all tubes in order; ``pixels`` (n, 3) and ``at``
    (3,) are places in the scene.
    """
    station = np.concatenate([t.station for t in scene.tubes])
    start, step = pixels[:-1], np.diff(pixels, axis=0)
    long = np.maximum(np.einsum("ij,ij->i", step, step), 1e-12)
    share = np.clip(np.einsum("ij,ij->i", np.array(at) - start, step) / long, 0.0, 1.0)
    away = norm(start + share[:, None] * step - np.array(at))
    i = int(np.argmin(away))
    return float(station[i] + share[i] * (station[i + 1] - station[i])), float(away[i])
