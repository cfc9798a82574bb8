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
from viewer.meshes import Part, scene_parts, through_walls
from viewer.scene.records import Scene
from viewer.theme import Theme, rgb

if TYPE_CHECKING:
    from PIL.Image import Image
    from vtkmodules.vtkRenderingCore import vtkActor, vtkRenderer

OVERRIDE = "ROUTE3D_RENDERER"
"""``none``: as if there were no renderer; ``trust``: do not try it first; else it is tried."""

_WINDOW = "VTK_DEFAULT_OPENGL_WINDOW"
# Without a screen VTK looks for X first and complains; named, it goes straight to one of these.
_OFF_SCREEN = (
    ("vtkEGLRenderWindow", "vtkOSOpenGLRenderWindow") if sys.platform == "linux" else ("",)
)
_TRY_SECONDS = 60
_SHARP = 30.0  # degrees between faces that keep their edge
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


# Steps of depth (VTK's, 1.6e-5 of the depth in view) that bring a part before all others.
_OVER = 25_000.0


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

    with off_screen(through_walls(scene_parts(scene, theme)), camera, theme, times) as shot:
        return Images.fromarray(shot())


@contextmanager
def off_screen(
    parts: tuple[Part, ...], camera: Camera, theme: Theme, times: int
) -> Iterator[Callable[[], NDArray[np.uint8]]]:
    """Parts before a camera without a screen: a function that renders them as they are then.

    Raises RendererError where this machine cannot.
    """
    trial = start_trial()
    # Not a pyvista plotter: that loads matplotlib's pyplot, which takes longer than the picture.
    import vtkmodules.vtkRenderingOpenGL2  # noqa: F401  (the classes that draw)
    from vtkmodules.util.numpy_support import vtk_to_numpy
    from vtkmodules.vtkRenderingCore import vtkRenderer, vtkRenderWindow, vtkWindowToImageFilter

    with _window_class(trial.window_class()):
        window, renderer = vtkRenderWindow(), vtkRenderer()
        try:
            window.SetOffScreenRendering(1)
            window.SetMultiSamples(0)  # smoothed by its size already
            window.SetSize(camera.size[0] * times, camera.size[1] * times)
            window.AddRenderer(renderer)
            fill(renderer, parts, theme, times)
            aim(renderer, camera, parts)

            def shot() -> NDArray[np.uint8]:
                window.Render()
                grab = vtkWindowToImageFilter()
                grab.SetInput(window)
                grab.ReadFrontBufferOff()
                grab.Update()
                image = grab.GetOutput()
                wide, high, _ = image.GetDimensions()
                scalars = image.GetPointData().GetScalars()
                pixels: NDArray[np.uint8] = vtk_to_numpy(scalars)  # type: ignore[no-untyped-call]
                return np.ascontiguousarray(pixels.reshape(high, wide, 3)[::-1], dtype=np.uint8)

            yield shot
        finally:
            window.Finalize()


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
    renderer: vtkRenderer, parts: tuple[Part, ...], theme: Theme, times: int = 1
) -> tuple[vtkActor, ...]:
    """Put parts and lights into any renderer, a window's too; an actor for each part."""
    from vtkmodules.vtkRenderingCore import vtkLight

    renderer.SetBackground(*(c / 255 for c in rgb(theme.ground)))
    renderer.RemoveAllLights()
    renderer.AutomaticLightCreationOff()
    # One light from the viewer's upper left: colors stay near those of the bar, shapes show.
    for place, strength in (((-0.6, 0.9, 1.0), 0.7), ((0.8, -0.2, 1.0), 0.4)):
        light = vtkLight()
        light.SetLightTypeToCameraLight()
        light.SetIntensity(strength)
        light.SetPosition(*place)
        light.SetFocalPoint(0.0, 0.0, 0.0)
        renderer.AddLight(light)
    actors = tuple(_actor(part, times) for part in parts)
    for actor in actors:
        renderer.AddActor(actor)
    return actors


def _actor(part: Part, times: int) -> vtkActor:
    """A part as it looks; edges between faces of a plain color stay sharp."""
    from vtkmodules.vtkFiltersCore import vtkPolyDataNormals
    from vtkmodules.vtkRenderingCore import vtkActor, vtkPolyDataMapper

    actor, mapper = vtkActor(), vtkPolyDataMapper()
    mapper.SetInputData(part.mesh)
    look = actor.GetProperty()
    if part.color:
        if part.smooth:
            normals = vtkPolyDataNormals()
            normals.SetInputData(part.mesh)
            normals.SetFeatureAngle(_SHARP)
            mapper.SetInputConnection(normals.GetOutputPort())
        mapper.ScalarVisibilityOff()
        look.SetColor(*(c / 255 for c in rgb(part.color)))
    else:
        if part.smooth:
            part.mesh.compute_normals(cell_normals=False, inplace=True)
        mapper.SetScalarModeToUsePointFieldData()
        mapper.SelectColorArray("rgb")
    actor.SetMapper(mapper)
    if part.over:
        mapper.SetResolveCoincidentTopologyToPolygonOffset()
        mapper.SetRelativeCoincidentTopologyPolygonOffsetParameters(0.0, -_OVER)
    look.SetOpacity(part.opacity)
    look.SetInterpolation(1 if part.smooth else 0)
    look.SetLighting(part.lit)
    look.SetAmbient(0.48)
    look.SetDiffuse(0.56)
    look.SetSpecular(0.0)
    look.SetFrontfaceCulling(part.hollow)
    if part.line_width:
        look.SetLineWidth(part.line_width * times)
    return actor


def aim(renderer: vtkRenderer, camera: Camera, parts: tuple[Part, ...]) -> None:
    """Point a renderer's camera as ``camera`` says, with everything between its planes."""
    bounds = np.array([part.mesh.bounds for part in parts])
    low, high = bounds[:, ::2].min(axis=0), bounds[:, 1::2].max(axis=0)
    reach = float(np.linalg.norm(high - low)) + 1.0
    view = renderer.GetActiveCamera()
    view.ParallelProjectionOn()
    view.SetFocalPoint(*camera.center)
    view.SetPosition(*(camera.center - 2 * reach * camera.forward))
    view.SetViewUp(*camera.up)
    view.SetParallelScale(camera.size[1] * camera.scale / 2)
    view.SetClippingRange(0.5 * reach, 3.5 * reach)
