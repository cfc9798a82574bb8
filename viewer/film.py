"""A film of a pull: ``write_movie``."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Iterator
from dataclasses import replace
from importlib.util import find_spec
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from route3d.disk import write_bytes_atomic
from route3d.drawing.marks import Marks
from route3d.drawing.pixels import measure, painted
from route3d.errors import InputError, Problem
from route3d.model.job import Job
from route3d.planning.result import RunResult
from viewer.camera import View, camera_for
from viewer.gauge import must_not_be_pulled, rows_of, why_none
from viewer.load_chart import (
    CHART_ROOM,
    figure_items,
    key_items,
    load_chart,
    load_chart_items,
    now_items,
)
from viewer.meshes import Part, scene_parts, through_walls
from viewer.moving import head_mesh, head_place, moving_tubes, show_head
from viewer.playback import Playback, evenly, playback, warning
from viewer.renderer import off_screen, start_trial
from viewer.scene.records import Scene
from viewer.still.layout import arrange_with
from viewer.still.panels import panels_for
from viewer.theme import Theme, theme_named
from viewer.verdict import Planned, planned, planned_scene

if TYPE_CHECKING:
    from PIL.Image import Image

FORMATS = (".gif", ".mp4")
FRAMES_PER_SECOND = 10
_HOLD = 15  # frames that the last one stands
_TIMES = 2
_STRIP, _LOW_STRIP = 330.0, 240.0
_LOW = 600  # pixels: a film below this height needs them for the route
_KEY = (210.0, 28.0)  # room at 1600 x 1000 for the words cable and rope with their lines
Told = Callable[[int, int], None]
"""Told how many frames are done, of how many."""


def write_movie(
    result: RunResult,
    job: Job,
    path: str | Path,
    *,
    seconds: float = 8.0,
    size: tuple[int, int] = (1280, 720),
    units: str = "US",
    view: View = "isometric",
    theme: str = "light",
    feed: int | str | None = None,
    exaggeration: float | None = None,
    told: Told | None = None,
    ready: Planned | None = None,
) -> None:
    """Write the pull as GIF or MP4: the head goes from the feed to the pulling end.

    ``ready`` is the direction fed from ``feed`` with its plan, if that is made already. Raises
    InputError for another ending of the file, for MP4 without imageio-ffmpeg and for a file
    that cannot be written; RendererError where this machine cannot render; ValueError for an
    unknown option.
    """
    kind = movie_kind(path)
    start_trial()
    ready = ready or planned(result, job, feed, patient=True)
    candidate, plan = ready.candidate, ready.plan
    count = max(2, round(seconds * FRAMES_PER_SECOND))
    made = not must_not_be_pulled(result, candidate, plan)
    whole = playback(result, candidate.planned, units, job.allowances, rows_of(plan), made=made)
    look = {"units": units, "feed": feed, "exaggeration": exaggeration}
    scene = planned_scene(result, job, ready, **look)
    if made:
        lacking = why_none(candidate, patient=True)
        scene = replace(scene, sentence=warning(whole, units) or lacking)
    even = (size[0] - size[0] % 2, size[1] - size[1] % 2)  # what MP4 needs
    used = even if kind == ".mp4" else size
    images = film(scene, whole, count, view, used, theme_named(theme), told)
    data = _gif(images) if kind == ".gif" else _mp4(images, even)
    write_bytes_atomic(path, data)


def movie_kind(path: str | Path) -> str:
    """The suffix of a movie file; InputError for a format that cannot be written."""
    kind = Path(path).suffix.lower()
    if kind not in FORMATS:
        fix = "name it FILE.gif or FILE.mp4"
        raise InputError(Problem("a movie must be a GIF or an MP4 file", "--movie", fix, str(path)))
    if kind == ".mp4" and find_spec("imageio_ffmpeg") is None:
        fix = "pip install 'route3d[movie]', or name it FILE.gif"
        said = "MP4 requires the package imageio-ffmpeg, which is not installed"
        raise InputError(Problem(said, "--movie", fix, str(path)))
    return kind


def film(
    scene: Scene,
    whole: Playback,
    count: int,
    view: View,
    size: tuple[int, int],
    theme: Theme,
    told: Told | None = None,
) -> Iterator[Image]:
    """The pictures of a film, ``count`` frames at equal steps of cable pulled."""
    from PIL import Image as Images

    frames = evenly(whole, count, scene.units)
    notes = (whole.ending, *scene.notes[:1]) if whole.ending else scene.notes[:1]
    scene = replace(scene, facts=(), notes=notes)
    strip = _STRIP if size[1] >= _LOW else _LOW_STRIP
    panels = panels_for(scene, size, theme, measure, strip=strip, bar=False)
    camera = camera_for(scene, view, size, panels.room, panels.frame)
    corner = panels.frame[:2]
    free = (*corner, corner[0] + _KEY[0] * panels.unit, corner[1] + _KEY[1] * panels.unit)
    layout = arrange_with(scene, camera, panels, theme, measure, free=free)
    left, top, right, bottom = panels.strip
    unit = panels.unit
    room = [side * unit for side in CHART_ROOM]
    high = top + 56 * unit + room[1]  # below the figures
    rect = (left + room[0], high, right - room[2], bottom - room[3])
    chart = load_chart(whole, scene.units, scene.limits[0], rect)
    key = key_items((panels.frame[0], panels.frame[1] + 14 * unit), theme, unit, measure)
    still = (*layout.overlay, *load_chart_items(chart, theme, unit, measure), *key)
    row = (left, top + 4 * unit, right, top + 60 * unit)

    def overlay(at: int) -> Marks:
        words = figure_items(frames, at, scene.units, row, theme, unit, measure)
        return (*still, *now_items(chart, float(frames.pulled[at]), theme, unit), *words)

    tubes = moving_tubes(scene, theme)
    head = head_mesh(scene)
    middle = np.array(head.points)
    parts = through_walls(
        (
            *(Part("tube", t.mesh, smooth=True) for t in tubes),
            *(p for p in scene_parts(scene, theme) if p.name not in ("tube", "arrow")),
            Part("head", head, theme.ink, smooth=True),
        )
    )
    with off_screen(parts, camera, theme, _TIMES) as shot:
        for at, station in enumerate(frames.station):
            show_head(tubes, float(station), frames.reverse, theme)
            head.points = middle + head_place(scene, float(station))
            picture = Images.fromarray(shot())
            yield painted(picture, overlay(at), _TIMES)
            if told is not None:
                told(at + 1, len(frames))


def _gif(images: Iterator[Image]) -> bytes:
    """All pictures in the colors of the middle one, so that nothing flickers."""
    from PIL import Image as Images

    found = list(images)
    palette = found[len(found) // 2].quantize(256, dither=Images.Dither.NONE)
    small = [image.quantize(palette=palette, dither=Images.Dither.NONE) for image in found]
    buffer = BytesIO()
    step = 1000 // FRAMES_PER_SECOND
    durations = [step] * (len(small) - 1) + [_HOLD * step]
    small[0].save(buffer, "GIF", save_all=True, append_images=small[1:], duration=durations, loop=0)
    return buffer.getvalue()


def _mp4(images: Iterator[Image], size: tuple[int, int]) -> bytes:
    from imageio_ffmpeg import write_frames

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "film.mp4"
        writer = write_frames(
            str(path),
            size,
            fps=FRAMES_PER_SECOND,
            codec="libx264",
            quality=8,
            macro_block_size=2,
            # one thread and no date: the same bytes for the same film
            output_params=["-threads", "1", "-fflags", "+bitexact", "-flags:v", "+bitexact"],
        )
        writer.send(None)
        try:
            last = b""
            for image in images:
                last = image.tobytes()
                writer.send(last)
            for _ in range(_HOLD):
                writer.send(last)
        finally:
            writer.close()
        return path.read_bytes()
