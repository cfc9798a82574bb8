"""Cameras: parallel projection from world to pixels, and the view that shows a route best.

Every view is a parallel projection, so a length across the picture is to scale everywhere and
one scale bar serves; nothing is stretched in any direction.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np

from route3d.geometry.vectors import Floats, frozen, norm
from viewer.scene.build import content
from viewer.scene.records import Scene

View = Literal["isometric", "plan", "side"]
VIEWS: tuple[View, ...] = ("isometric", "plan", "side")

Rect = tuple[float, float, float, float]
"""Left, top, right, bottom in pixels; y counts down."""

_ELEVATION = math.radians(30.0)
# The camera is this far round from the route's main direction in plan, never square to it: a
# leg seen end-on has no length, and an arrow no point.
_OFFSETS = (30.0, 37.5, 45.0, 52.5, 60.0)
# Two places of the route closer than this on the picture, in widths of the tube, hide each other.
_HIDES = 2.5
# What a view is worth in which the two ends of the pull stand in front of each other.
_BEHIND = 0.6


@dataclass(frozen=True, slots=True, eq=False)
class Camera:
    """Unit axes ``right``, ``up``, ``forward`` (3,); the world ``center`` (3,) lands mid-frame.

    ``scale`` is m per pixel, ``size`` width and height of the frame in pixels.
    """

    right: Floats
    up: Floats
    forward: Floats
    center: Floats
    scale: float
    size: tuple[int, int]

    def project(self, points: Floats) -> Floats:
        """Pixels x, y (down) of world points, (..., 3) to (..., 2)."""
        away = np.asarray(points, dtype=np.float64) - self.center
        x = self.size[0] / 2 + away @ self.right / self.scale
        y = self.size[1] / 2 - away @ self.up / self.scale
        return np.stack((x, y), axis=-1)


def camera_for(scene: Scene, view: View, size: tuple[int, int], room: Rect, outer: Rect) -> Camera:
    """The camera that fits a scene into ``room`` of a frame of ``size`` pixels.

    The grade about it may reach as far as ``outer``. Raises ValueError for an unknown view.
    """
    points = content(scene)
    if view == "plan":
        axes = _axes(math.radians(270.0), math.pi / 2)
    elif view == "side":
        axes = _axes(_side_azimuth(scene), 0.0)
    elif view == "isometric":
        axes = max(
            (_axes(a, _ELEVATION) for a in _azimuths(scene)),
            key=lambda axes: _merit(scene, points, axes, room),
        )
    else:
        raise ValueError(f"view {view!r} is not one of {list(VIEWS)}")
    camera = fitted(points, axes, size, room)
    if scene.grade is None:
        return camera
    grade = scene.grade.corners.reshape(-1, 3)
    pixels = camera.project(grade)
    if (pixels >= np.array(outer[:2])).all() and (pixels <= np.array(outer[2:])).all():
        return camera
    both = np.vstack((points, grade))
    camera = fitted(both, axes, size, outer)
    # The grade may reach to the edge, the route keeps off: tubes and rings stand out from its line.
    left, top, right, bottom = ((a + b) / 2 for a, b in zip(room, outer, strict=True))
    pixels = camera.project(points)
    if (pixels >= (left, top)).all() and (pixels <= (right, bottom)).all():
        return camera
    return fitted(both, axes, size, (left, top, right, bottom))


def _axes(azimuth: float, elevation: float) -> tuple[Floats, Floats, Floats]:
    """Right, up and forward of a camera standing at ``azimuth`` (rad from east, counter-clockwise).

    Azimuth 270° at elevation 90° is the plan with north up.
    """
    ca, sa, ce, se = (f(a) for a in (azimuth, elevation) for f in (math.cos, math.sin))
    right = frozen([-sa, ca, 0.0])
    up = frozen([-se * ca, -se * sa, ce])
    forward = frozen([-ce * ca, -ce * sa, -se])
    return right, up, forward


def _side_azimuth(scene: Scene) -> float:
    """From the side on which the route is longest, the pull running left to right."""
    xy = np.vstack([t.points for t in scene.tubes])[:, :2]
    spread = xy - xy.mean(axis=0)
    long_axis = np.linalg.svd(spread, full_matrices=False)[2][0]
    reel, machine = scene.solids[0], scene.solids[1]
    if float((machine.base - reel.base)[:2] @ long_axis) < 0:
        long_axis = -long_axis
    return math.atan2(-long_axis[0], long_axis[1])  # right = (-sin, cos) = long_axis


def fitted(
    points: Floats, axes: tuple[Floats, Floats, Floats], size: tuple[int, int], room: Rect
) -> Camera:
    """The largest picture of ``points`` (n, 3) that stays in ``room``, its middle in the middle."""
    right, up, forward = axes
    x, y, depth = points @ right, points @ up, points @ forward
    across, tall = max(float(np.ptp(x)), 1e-6), max(float(np.ptp(y)), 1e-6)
    scale = max(across / (room[2] - room[0]), tall / (room[3] - room[1]))
    dx = (room[0] + room[2] - size[0]) / 2 * scale
    dy = (room[1] + room[3] - size[1]) / 2 * scale
    middle = [(float(v.min()) + float(v.max())) / 2 for v in (x, y, depth)]
    center = (middle[0] - dx) * right + (middle[1] + dy) * up + middle[2] * forward
    return Camera(right, up, forward, frozen(center), scale, size)


def _azimuths(scene: Scene) -> list[float]:
    """Where an isometric camera may stand, rad: askew to the direction most of the plan runs in."""
    steps = np.vstack([np.diff(t.points, axis=0)[:, :2] for t in scene.tubes])
    turn = np.arctan2(steps[:, 1], steps[:, 0])
    # legs square to each other count as one direction: four times the angle makes them equal
    main = np.angle((norm(steps) * np.exp(4j * turn)).sum() + 1e-9) / 4
    return [float(main + math.radians(90 * k + o)) for k in range(4) for o in _OFFSETS]


def _merit(
    scene: Scene, points: Floats, axes: tuple[Floats, Floats, Floats], room: Rect
) -> tuple[float, float]:
    """Pixels of route shown, less what hides itself; a view from the south where equal.

    Reel and machine in front of each other count as so much less.
    """
    camera = fitted(points, axes, (int(room[2]), int(room[3])), room)
    route = _spaced(np.vstack([t.points for t in scene.tubes]), 160)
    pixels = camera.project(route)
    shown = float(norm(np.diff(pixels, axis=0)).sum())
    apart = norm(pixels[:, None] - pixels[None])
    width = 2 * max(t.radius for t in scene.tubes) / camera.scale
    index = np.arange(len(route))
    far = np.abs(index[:, None] - index[None]) > len(route) // 12
    hidden = (far & (apart < _HIDES * width)).any(axis=1)
    ends = []
    for solid in scene.solids[:2]:
        reach = 0.7 * max(solid.size) / camera.scale
        middle = camera.project(solid.base + np.array([0.0, 0.0, solid.size[2] / 2]))
        away = norm(route - solid.mouth) > 2 * max(solid.size)
        hidden |= away & (norm(pixels - middle) < reach)
        ends.append((middle, reach))
    (one, near), (two, wide) = ends
    clear = 1.0 if norm(one - two) > near + wide else _BEHIND
    northward = float(camera.up[1]) / math.sin(_ELEVATION)
    seen = clear * shown * (1 - 2 * float(hidden.mean()))
    return round(seen * (1 + 0.15 * northward), 6), northward


def _spaced(points: Floats, count: int) -> Floats:
    """``count`` points evenly spaced along a polyline, (n, 3) to (count, 3)."""
    along = np.concatenate(([0.0], np.cumsum(norm(np.diff(points, axis=0)))))
    at = np.linspace(0.0, along[-1], count)
    return np.column_stack([np.interp(at, along, points[:, k]) for k in range(3)])
