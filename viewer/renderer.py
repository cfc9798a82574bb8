"""Is there a renderer on this machine, and which; and rendering without a screen.

VTK without its system libraries ends the process with a segmentation fault, which no ``except``
catches. So it is tried first in a process of its own, once.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from route3d.errors import RendererError
from viewer.camera import Camera
from viewer.meshes import Part, scene_parts
from viewer.scene_data import Scene
from viewer.theme import Theme

if TYPE_CHECKING:
    import pyvista as pv
    from PIL.Image import Image

OVERRIDE = "ROUTE3D_RENDERER"
"""``none``: as if there were no renderer; ``trust``: do not try it first; else it is tried."""

_WINDOW = "VTK_DEFAULT_OPENGL_WINDOW"
# Without a screen VTK looks for X first and complains; named, it goes straight to one of these.
_OFF_SCREEN = (
    ("vtkEGLRenderWindow", "vtkOSOpenGLRenderWindow") if sys.platform == "linux" else ("",)
)
_TRY_SECONDS = 60
_TRY = """
from vtkmodules.vtkRenderingCore import vtkRenderer, vtkRenderWindow, vtkWindowToImageFilter
import vtkmodules.vtkRenderingOpenGL2
window, renderer, grab = vtkRenderWindow(), vtkRenderer(), vtkWindowToImageFilter()
window.SetOffScreenRendering(1)
window.SetSize(8, 8)
renderer.SetBackground(1, 0, 0)
window.AddRenderer(renderer)
window.Render()
grab.SetInput(window)
grab.Update()
raise SystemExit(grab.GetOutput().GetScalarComponentAsDouble(4, 4, 0, 0) != 255)
"""
_MISSING = (
    "no working off-screen renderer on this machine. On Debian or Ubuntu install one with: "
    "apt-get install libegl1 libgl1-mesa-dri libx11-6 libxrender1 "
    "(or libosmesa6 in place of the first two). Everything but 3D pictures works without it."
)


def start_trial() -> RendererTrial:
    """Start trying the renderer in the background; ask the trial when the picture is ready."""
    return _trial(os.environ.get(OVERRIDE, ""))


@dataclass(frozen=True, eq=False)
class RendererTrial:
    """A renderer being tried: ``process`` of the first kind, None where nothing is tried."""

    process: subprocess.Popen[bytes] | None
    works: bool

    def window_class(self) -> str:
        """The VTK window class that works, empty for VTK's own choice; else RendererError."""
        return _outcome(self)


@cache
def _trial(override: str) -> RendererTrial:
    if override in ("none", "trust"):
        return RendererTrial(None, override == "trust")
    return RendererTrial(_try_window(_OFF_SCREEN[0]), True)


def _try_window(window: str) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-c", _TRY],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        env={**os.environ, _WINDOW: window},
    )


@cache
def _outcome(trial: RendererTrial) -> str:
    if trial.process is None:
        if trial.works:
            return _OFF_SCREEN[0]
        raise RendererError(_MISSING)
    for window in _OFF_SCREEN:
        process = trial.process if window == _OFF_SCREEN[0] else _try_window(window)
        if _ends_well(process):
            return window
    raise RendererError(_MISSING)


def _ends_well(process: subprocess.Popen[bytes]) -> bool:
    try:
        return process.wait(_TRY_SECONDS) == 0
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
        return False


def render_image(scene: Scene, camera: Camera, theme: Theme, times: int) -> Image:
    """The meshes of a scene without a screen, ``times`` as many pixels as the camera's frame.

    Raises RendererError where this machine cannot.
    """
    start_trial()
    from PIL import Image as Images

    with off_screen(scene_parts(scene, theme), camera, theme, times) as shot:
        return Images.fromarray(shot())


@contextmanager
def off_screen(
    parts: tuple[Part, ...], camera: Camera, theme: Theme, times: int
) -> Iterator[Callable[[], NDArray[np.uint8]]]:
    """Parts before a camera without a screen: a function that renders them as they are then.

    Raises RendererError where this machine cannot.
    """
    trial = start_trial()
    import pyvista as pv

    with _window_class(trial.window_class()):
        size = [camera.size[0] * times, camera.size[1] * times]
        plotter = pv.Plotter(off_screen=True, window_size=size, lighting="none")
        try:
            window = plotter.render_window
            if window is not None:  # smoothed by its size already
                window.SetMultiSamples(0)
            fill(plotter, parts, theme, times)
            aim(plotter, camera, parts)

            def shot() -> NDArray[np.uint8]:
                plotter.render()
                pixels = np.asarray(plotter.screenshot(return_img=True))
                return np.ascontiguousarray(pixels[..., :3], dtype=np.uint8)

            yield shot
        finally:
            plotter.close()


@contextmanager
def _window_class(name: str) -> Iterator[None]:
    """VTK makes windows of the class ``name`` while this lasts."""
    before = os.environ.get(_WINDOW)
    if name:
        os.environ[_WINDOW] = name
    try:
        yield
    finally:
        if name and before is None:
            os.environ.pop(_WINDOW, None)
        elif before is not None:
            os.environ[_WINDOW] = before


def fill(
    plotter: pv.Plotter, parts: tuple[Part, ...], theme: Theme, times: int = 1
) -> tuple[pv.Actor, ...]:
    """Put parts and lights into any plotter, a window's too; an actor for each part."""
    import pyvista as pv

    plotter.set_background(theme.ground)  # type: ignore[arg-type]
    # One light from the viewer's upper left: colors stay near those of the bar, shapes show.
    for place, strength in (((-0.6, 0.9, 1.0), 0.7), ((0.8, -0.2, 1.0), 0.4)):
        light = pv.Light(light_type="camera light", intensity=strength)
        light.position, light.focal_point = place, (0.0, 0.0, 0.0)
        plotter.add_light(light)
    actors = []
    for part in parts:
        look = {"color": part.colour} if part.colour else {"scalars": "rgb", "rgb": True}
        actor = plotter.add_mesh(
            part.mesh,
            **look,
            opacity=part.opacity,
            smooth_shading=part.smooth,
            split_sharp_edges=part.smooth and bool(part.colour),
            line_width=part.line_width * times or None,
            lighting=part.lit,
            ambient=0.48,
            diffuse=0.56,
            specular=0.0,
            culling="front" if part.hollow else None,
            show_scalar_bar=False,
            reset_camera=False,
            render=False,
        )
        actors.append(actor)
    return tuple(actors)


def aim(plotter: pv.Plotter, camera: Camera, parts: tuple[Part, ...]) -> None:
    """Point a plotter's camera as ``camera`` says, with everything between its planes."""
    bounds = np.array([part.mesh.bounds for part in parts])
    low, high = bounds[:, ::2].min(axis=0), bounds[:, 1::2].max(axis=0)
    reach = float(np.linalg.norm(high - low)) + 1.0
    view = plotter.camera
    view.parallel_projection = True
    view.focal_point = tuple(camera.centre)
    view.position = tuple(camera.centre - 2 * reach * camera.forward)
    view.up = tuple(camera.up)
    view.parallel_scale = camera.size[1] * camera.scale / 2
    view.clipping_range = (0.5 * reach, 3.5 * reach)
