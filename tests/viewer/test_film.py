"""Films of a pull: the head goes from end to end, the figures with it, the same bytes twice."""

from __future__ import annotations

import importlib.machinery
import re
import subprocess
from collections.abc import Callable
from dataclasses import replace
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from route3d.drawing.marks import Text
from route3d.drawing.pixels import measure, painted
from route3d.errors import InputError
from route3d.model import Job
from route3d.planning.result import RunResult, evaluate_run
from tests.viewer.test_layout import text_box
from viewer import film as movie
from viewer.film import FRAMES_PER_SECOND, movie_kind, write_movie
from viewer.gauge import GEAR_WORDS, STOP_WORDS
from viewer.playback import playback

Answered = tuple[RunResult, Job]
SMALL = (640, 400)


def frames(path: Path) -> list[np.ndarray]:
    with Image.open(path) as film:
        found = []
        for k in range(film.n_frames):  # type: ignore[attr-defined]
            film.seek(k)
            found.append(np.asarray(film.convert("RGB")).astype(int))
        return found


def blue(picture: np.ndarray) -> int:
    """Pixels of the 3D part in the hue of reel and cable, however shaded."""
    r, g, b = np.moveaxis(picture[: len(picture) // 2].astype(int), 2, 0)
    return int(((b - r > 50) & (g - r > 15)).sum())


def purple(picture: np.ndarray) -> int:
    """Pixels of the 3D part in the hue of machine and rope, however shaded."""
    r, g, b = np.moveaxis(picture[: len(picture) // 2].astype(int), 2, 0)
    return int(((r - g > 15) & (b - g > 30)).sum())


@pytest.mark.renderer
def test_cable_takes_the_place_of_rope(yard: Answered, tmp_path: Path) -> None:
    path = tmp_path / "pull.gif"
    done: list[tuple[int, int]] = []
    write_movie(*yard, path, seconds=1.0, size=(960, 600), told=lambda k, n: done.append((k, n)))
    film = frames(path)
    assert len(film) == FRAMES_PER_SECOND
    assert film[0].shape[:2] == (600, 960)
    assert done == [(k, FRAMES_PER_SECOND) for k in range(1, FRAMES_PER_SECOND + 1)]
    cable = [blue(p) for p in film]
    rope = [purple(p) for p in film]
    # the reel, the machine and their labels are in every frame; the rest is the run
    assert cable[-1] > cable[0] + 300
    assert rope[0] > rope[-1] + 100
    assert (np.diff(cable) > -60).all()  # the head only goes on; its marker hides a little


@pytest.mark.renderer
def test_same_bytes_twice(drop: Answered, tmp_path: Path) -> None:
    for kind in ("gif", *(("mp4",) if find_spec("imageio_ffmpeg") else ())):
        one, two = tmp_path / f"one.{kind}", tmp_path / f"two.{kind}"
        for path in (one, two):
            write_movie(*drop, path, seconds=0.3, size=SMALL, theme="dark")
        assert one.read_bytes() == two.read_bytes()


@pytest.mark.renderer
@pytest.mark.skipif(
    find_spec("imageio_ffmpeg") is None, reason="NO MP4 TEST: route3d[movie] absent"
)
def test_an_mp4_plays_as_long_as_asked(riser: Answered, tmp_path: Path) -> None:
    from imageio_ffmpeg import get_ffmpeg_exe

    path = tmp_path / "pull.mp4"
    write_movie(*riser, path, seconds=1.0, size=(641, 401))
    raw = subprocess.run(
        [get_ffmpeg_exe(), "-i", str(path), "-f", "rawvideo", "-pix_fmt", "rgb24", "-"],
        capture_output=True,
        check=True,
    )
    # an even number of pixels, which the format needs; the last picture stands for a while
    pictures = np.frombuffer(raw.stdout, dtype=np.uint8).reshape(-1, 400, 640, 3)
    assert len(pictures) == FRAMES_PER_SECOND + 15
    assert b"10 fps" in raw.stderr
    assert (pictures[0] != pictures[5]).any()
    assert blue(pictures[-1]) > blue(pictures[0]) + 100


@pytest.fixture
def overlays(monkeypatch: pytest.MonkeyPatch) -> list[tuple[Text, ...]]:
    """The words of every frame that is painted; nothing is rendered."""
    seen: list[tuple[Text, ...]] = []

    class Shot:
        def __init__(self, *args: object) -> None:
            self.camera, self.times = args[1], args[3]

        def __enter__(self) -> Callable[[], np.ndarray]:
            width, height = self.camera.size  # type: ignore[attr-defined]
            return lambda: np.zeros((height * self.times, width * self.times, 3), dtype=np.uint8)  # type: ignore[operator]

        def __exit__(self, *args: object) -> None: ...

    def keep(picture: Image.Image, overlay: tuple[object, ...], times: int) -> Image.Image:
        seen.append(tuple(i for i in overlay if isinstance(i, Text)))
        return painted(picture, overlay, times)  # type: ignore[arg-type]

    monkeypatch.setattr(movie, "off_screen", Shot)
    monkeypatch.setattr(movie, "painted", keep)
    monkeypatch.setattr(movie, "start_trial", lambda: None)
    return seen


@pytest.mark.parametrize("size", [SMALL, (1280, 720), (800, 800)])
def test_words_stay_in_the_frame_and_apart(
    demo: Answered, size: tuple[int, int], overlays: list[tuple[Text, ...]], tmp_path: Path
) -> None:
    result, job = demo
    write_movie(result, job, tmp_path / "x.gif", seconds=0.4, size=size, units=job.units)
    assert len(overlays) == 4
    for texts in overlays:
        boxes = [(t, text_box(t)) for t in texts if t.text]
        for i, (text, a) in enumerate(boxes):
            assert a[0] >= 0 and a[1] >= 0 and a[2] <= size[0] and a[3] <= size[1], text
            for other, b in boxes[:i]:
                apart = a[0] >= b[2] or b[0] >= a[2] or a[1] >= b[3] or b[1] >= a[3]
                assert apart, (text, other)


def test_the_clock_ends_with_the_pull(
    fine_yard: Answered, overlays: list[tuple[Text, ...]], tmp_path: Path
) -> None:
    from viewer.playback import clock

    result, job = fine_yard
    write_movie(*fine_yard, tmp_path / "x.gif", seconds=0.5)
    whole = playback(result, result.best.pull, "US", job.allowances)
    for texts, seconds in ((overlays[0], 0.0), (overlays[-1], float(whole.elapsed[-1]))):
        assert clock(seconds) in {t.text for t in texts}
    last = {t.text for t in overlays[-1]}
    assert {"cable", "rope", "low", STOP_WORDS, GEAR_WORDS} <= last
    assert any(words.startswith("Elapsed, ") for words in last)
    assert "exceeds the stop load from" not in " ".join(last)
    # one row of the table: the head is in, and no place comes next
    assert any(re.fullmatch(r"Now, .* in: expected / caution / stop", w) for w in last)
    assert not any(w.startswith("Next, ") for w in last)
    assert not {"Machine load", "Machine load: OVER"} & last
    assert {f"feed: {result.best.pull.feed_name}", "bend 1", "bend 2", "bend 3"} <= last


def test_a_pull_that_no_gear_can_make_has_neither_gears_nor_clock(
    weak: Answered, overlays: list[tuple[Text, ...]], tmp_path: Path
) -> None:
    write_movie(*weak, tmp_path / "x.gif", seconds=0.5)
    last = " ".join(t.text for t in overlays[-1])
    assert "The plan ends at" not in last and "Elapsed" not in last and "Stop load" not in last
    assert "Machine load: OVER" in last and "Machine line pull 5,000 lbf" in last


def test_a_run_without_rope_has_a_film_too(
    riser: Answered, overlays: list[tuple[Text, ...]], tmp_path: Path
) -> None:
    result, job = riser
    bare = evaluate_run(replace(result.run, rope=None, machine=None), job.practice)
    write_movie(bare, job, tmp_path / "x.gif", seconds=0.3)
    assert any("Tension at the head" in t.text for t in overlays[0])
    said = " ".join(t.text for t in overlays[0])
    assert "Stop load: no rope given" in said and "No rope given" in said


@pytest.mark.parametrize("name", ["pull.avi", "pull", "pull.mp4.txt"])
def test_another_ending_is_an_input_error(name: str) -> None:
    with pytest.raises(InputError, match=r"FILE\.gif or FILE\.mp4"):
        movie_kind(name)


def test_without_the_extra_mp4_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    def find(name: str) -> importlib.machinery.ModuleSpec | None:
        return None if name == "imageio_ffmpeg" else find_spec(name)

    monkeypatch.setattr(movie, "find_spec", find)
    with pytest.raises(InputError, match=r"pip install 'route3d\[movie\]'"):
        movie_kind("pull.mp4")
    assert movie_kind("pull.GIF") == ".gif"


def test_letters_are_measured_where_they_are_drawn() -> None:
    # the fixture above trusts this: a text's box is that of the font it is painted with
    assert measure("head", 20, True)[0] > measure("head", 20, False)[0] > 0
