"""Where the window looks, the unrolled route in it, and which station lies under the mouse."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from route3d.drawing.axes import Axes
from route3d.drawing.marks import Line
from route3d.drawing.pixels import measure
from route3d.geometry.vectors import frozen, unit
from viewer.camera import Camera
from viewer.moving import nearest_station
from viewer.scene.records import Scene
from viewer.still.layout import Layout
from viewer.still.unrolled import arrange_unrolled, unrolled_axes
from viewer.theme import Theme
from viewer.window.panels import strip_height

_NEAR = 14  # pixels from the route within which a click reads it


def camera_now(plotter: Any, size: tuple[int, int]) -> Camera:
    """Where a window of ``size`` pixels looks from now."""
    view = plotter.camera
    forward = unit(np.array(view.direction, dtype=np.float64))
    right = unit(np.cross(forward, np.array(view.up, dtype=np.float64)))
    axes = (frozen(right), frozen(np.cross(right, forward)), frozen(forward))
    scale = 2 * float(view.parallel_scale) / size[1]
    return Camera(*axes, frozen(np.array(view.focal_point)), scale, size)


def station_under(scene: Scene, camera: Camera, at: tuple[float, float]) -> float | None:
    """The station in m of the route at a pixel from the top left, None where it is not near."""
    pixels = camera.project(np.vstack([t.points for t in scene.tubes]))
    station, away = nearest_station(scene, pixels, at)
    return station if away <= _NEAR else None


@dataclass(frozen=True, slots=True, eq=False)
class UnrolledView:
    """The unrolled route in a window of ``size`` pixels, ``left`` of which stay free."""

    scene: Scene
    size: tuple[int, int]
    theme: Theme
    left: float

    def axes(self) -> tuple[Axes, ...]:
        """The panels from the top."""
        strip = strip_height(self.size, profile=True)
        return unrolled_axes(self.scene, self.size, self.theme, measure, strip, self.left)[2]


def profile_layout(profile: UnrolledView, picked: float | None) -> Layout:
    """Its picture, with an upright line through all panels where a station in m is read."""
    layout = arrange_unrolled(
        profile.scene,
        profile.size,
        profile.theme,
        measure,
        strip=strip_height(profile.size, profile=True),
        left=profile.left,
        picked=picked,
    )
    if picked is None:
        return layout
    axes = profile.axes()
    x = axes[0].across(picked)
    lines = (Line(((x, a.rect[1]), (x, a.rect[3])), profile.theme.ink, 1.5) for a in axes)
    return replace(layout, overlay=(*lines, *layout.overlay))


def station_across(profile: UnrolledView, at: tuple[float, float]) -> float | None:
    """The station in m over which a pixel lies; None beside the panels."""
    axes = profile.axes()
    (left, top, right, _), bottom = axes[0].rect, axes[-1].rect[3]
    if not (left - _NEAR <= at[0] <= right + _NEAR and top <= at[1] <= bottom):
        return None
    low, high = axes[0].x
    return low + min(1.0, max(0.0, (at[0] - left) / (right - left))) * (high - low)
