"""Still pictures: ``write_png``."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

from route3d.files.writing import write_bytes_atomic
from route3d.model.job import Job
from route3d.planning.evaluate import RunResult
from viewer.camera import View
from viewer.fonts import measure
from viewer.layout import arrange
from viewer.paint import painted
from viewer.renderer import render_image, start_trial
from viewer.scene import build_scene
from viewer.scene_data import ColourBy, Scene
from viewer.theme import theme_named

if TYPE_CHECKING:
    from PIL.Image import Image

# Twice the pixels each way, then averaged: smooth edges, and the same bytes on every run.
_TIMES = 2


def write_png(
    result: RunResult,
    job: Job,
    path: str | Path,
    *,
    size: tuple[int, int] = (1600, 1000),
    units: str = "US",
    view: View = "isometric",
    theme: str = "light",
    colour_by: ColourBy = "tension",
    feed: int | str | None = None,
    exaggeration: float | None = None,
) -> None:
    """Write a picture of one run; the same input gives the same bytes.

    Raises RendererError where this machine cannot render, InputError where the file cannot be
    written, ValueError for an unknown option or a size below 480 x 360.
    """
    start_trial()  # it takes a second; the scene is made meanwhile
    scene = build_scene(
        result, job, units=units, colour_by=colour_by, feed=feed, exaggeration=exaggeration
    )
    write_bytes_atomic(path, png_bytes(picture(scene, size=size, view=view, theme=theme)))


def picture(
    scene: Scene,
    *,
    size: tuple[int, int] = (1600, 1000),
    view: View = "isometric",
    theme: str = "light",
) -> Image:
    """The picture of a scene, as a Pillow image of ``size`` pixels."""
    colours = theme_named(theme)
    layout = arrange(scene, view, size, colours, measure)
    return painted(render_image(scene, layout.camera, colours, _TIMES), layout.overlay, _TIMES)


def png_bytes(image: Image) -> bytes:
    """An image as PNG."""
    buffer = BytesIO()
    image.save(buffer, "PNG", optimize=False, compress_level=6)
    return buffer.getvalue()
