"""Still pictures: ``write_png``."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from route3d.disk import write_bytes_atomic
from route3d.drawing.pixels import measure, painted
from route3d.model.job import Job
from route3d.planning.result import RunResult
from viewer.renderer import render_image, start_trial
from viewer.scene.records import Coloring, Scene
from viewer.still.layout import Layout, arrange
from viewer.still.unrolled import arrange_unrolled
from viewer.theme import Theme, theme_named
from viewer.verdict import Planned, planned, planned_scene

if TYPE_CHECKING:
    from PIL.Image import Image

StillView = Literal["isometric", "plan", "side", "profile"]
"""Three parallel projections, and the route unrolled."""

# Twice the pixels each way, then averaged: smooth edges, and the same bytes on every run.
_TIMES = 2


def write_png(
    result: RunResult,
    job: Job,
    path: str | Path,
    *,
    size: tuple[int, int] = (1600, 1000),
    units: str = "US",
    view: StillView = "isometric",
    theme: str = "light",
    color_by: Coloring = "tension",
    feed: int | str | None = None,
    exaggeration: float | None = None,
    ready: Planned | None = None,
) -> None:
    """Write a picture of one run; the same input gives the same bytes.

    ``ready`` is the direction fed from ``feed`` with its plan, if that is made already.
    What stops the pull by its plan is flagged and said like what exceeds a limit of the cable.
    Raises RendererError where this machine cannot render, InputError where the file cannot be
    written, ValueError for an unknown option or a size below 360 x 300.
    """
    start_trial()  # it takes a second; the scene is made meanwhile
    ready = ready or planned(result, job, feed)
    look = {"units": units, "color_by": color_by, "feed": feed, "exaggeration": exaggeration}
    scene = planned_scene(result, job, ready, **look)
    write_bytes_atomic(path, png_bytes(picture(scene, size=size, view=view, theme=theme)))


def picture(
    scene: Scene,
    *,
    size: tuple[int, int] = (1600, 1000),
    view: StillView = "isometric",
    theme: str = "light",
) -> Image:
    """The picture of a scene, as a Pillow image of ``size`` pixels."""
    colors = theme_named(theme)
    if view == "profile":
        return flat_picture(arrange_unrolled(scene, size, colors, measure), colors)
    layout = arrange(scene, view, size, colors, measure)
    return painted(render_image(scene, layout.camera, colors, _TIMES), layout.overlay, _TIMES)


def flat_picture(layout: Layout, theme: Theme) -> Image:
    """A picture with nothing 3D in it."""
    from PIL import Image as Images

    width, height = layout.camera.size
    ground = Images.new("RGB", (width * _TIMES, height * _TIMES), theme.ground)
    return painted(ground, layout.overlay, _TIMES)


def png_bytes(image: Image) -> bytes:
    """An image as PNG."""
    buffer = BytesIO()
    image.save(buffer, "PNG", optimize=False, compress_level=6)
    return buffer.getvalue()


def png_of(pixels: NDArray[np.uint8]) -> bytes:
    """An array (height, width, 3) as PNG."""
    from PIL import Image as Images

    return png_bytes(Images.fromarray(pixels))
