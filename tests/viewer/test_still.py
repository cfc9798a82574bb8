"""Still pictures: the same bytes twice, true colors, and no renderer is an error in words."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from route3d.drawing.pixels import measure
from route3d.errors import InputError, RendererError
from route3d.model import Job
from route3d.planning.result import RunResult
from viewer import renderer
from viewer.camera import Camera
from viewer.scene.build import build_scene
from viewer.still.layout import arrange
from viewer.still.picture import picture, write_png
from viewer.theme import LIGHT, OVER_LIMIT, colors, rgb

Answered = tuple[RunResult, Job]
SMALL = (640, 480)


@pytest.mark.renderer
def test_same_bytes_twice(riser: Answered, tmp_path: Path) -> None:
    for name in ("one.png", "two.png"):
        write_png(*riser, tmp_path / name, size=SMALL)
    one, two = (
        hashlib.md5((tmp_path / n).read_bytes()).hexdigest() for n in ("one.png", "two.png")
    )
    assert one == two


@pytest.mark.renderer
@pytest.mark.parametrize("theme", ["light", "dark"])
@pytest.mark.parametrize("view", ["isometric", "plan", "profile"])
def test_picture_has_its_size_and_is_not_blank(demo: Answered, view: str, theme: str) -> None:
    scene = build_scene(*demo)
    image = picture(scene, size=(700, 520), view=view, theme=theme)  # type: ignore[arg-type]
    assert image.size == (700, 520)
    pixels = np.asarray(image).reshape(-1, 3)
    kinds, counts = np.unique(pixels, axis=0, return_counts=True)
    assert len(kinds) > 500  # shades of tube, reel and machine, edges of letters
    assert counts.max() < 0.95 * len(pixels)


def tube_pixel(answered: Answered, station: float) -> tuple[np.ndarray, np.ndarray]:
    """Color seen at a station of the tube, and the color of its value by the scale."""
    scene = build_scene(*answered, feed=0, color_by="utilization")
    camera: Camera = arrange(scene, "isometric", (1000, 700), LIGHT, measure).camera
    image = renderer.render_image(scene, camera, LIGHT, 1)
    place = answered[0].path.point(station) - scene.origin
    x, y = np.rint(camera.project(place)).astype(int)
    tube = next(t for t in scene.tubes if t.station[0] <= station <= t.station[-1])
    value = np.interp(station, tube.station, tube.utilization)
    wanted = colors(np.array([value]), scene.scale.full, scene.scale.limit, LIGHT)[0]
    return np.asarray(image)[y, x].astype(float), wanted.astype(float)


def likeness(a: np.ndarray, b: np.ndarray) -> float:
    """Cosine between two colors: 1 where they differ by shading only."""
    return float(a @ b / np.linalg.norm(a) / np.linalg.norm(b))


@pytest.mark.renderer
def test_tube_has_the_color_of_its_value_and_friction_changes_it(
    riser: Answered, riser_rough: Answered
) -> None:
    path = riser[0].path
    up = int(np.argmax(path.tangents[:, 2]))  # the riser: above grade nothing lies before it
    station = float(path.stations[up] + 0.8 * path.lengths[up])
    seen, wanted = tube_pixel(riser, station)
    rough_seen, rough_wanted = tube_pixel(riser_rough, station)
    assert likeness(seen, wanted) > 0.995
    assert likeness(rough_seen, rough_wanted) > 0.995
    assert np.abs(wanted - rough_wanted).max() > 20  # else this would prove nothing
    assert np.abs(seen - rough_seen).max() > 15


@pytest.mark.renderer
def test_a_broken_limit_is_seen(yard: Answered, riser: Answered) -> None:
    def vermilion(answered: Answered) -> int:
        scene = build_scene(*answered, color_by="sidewall")
        pixels = np.asarray(picture(scene, size=(800, 600))).reshape(-1, 3).astype(int)
        return int((np.abs(pixels - rgb(OVER_LIMIT)).max(axis=1) < 6).sum())

    assert vermilion(yard) > 100
    assert vermilion(riser) == 0


@pytest.mark.renderer
@pytest.mark.parametrize("display", [None, ":987"])
def test_needs_no_screen_and_says_nothing(display: str | None, tmp_path: Path) -> None:
    """With no DISPLAY, and with one that leads nowhere, as over a dropped remote session."""
    env = {k: v for k, v in os.environ.items() if k not in ("DISPLAY", "WAYLAND_DISPLAY")}
    if display:
        env["DISPLAY"] = display
    code = (
        "import sys; from route3d import evaluate, load;"
        "from viewer.still.picture import write_png;"
        "j = load(sys.argv[1]); r = evaluate(j, with_remedies=False);"
        "write_png(r.runs[0], j, sys.argv[2], size=(640, 480));"
        # it takes longer to load than the picture to draw
        "assert 'matplotlib.pyplot' not in sys.modules"
    )
    model = Path(__file__).parents[2] / "models" / "roof_drop.toml"
    out = tmp_path / "x.png"
    done = subprocess.run(
        [sys.executable, "-c", code, str(model), str(out)], env=env, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    assert (done.stdout, done.stderr) == ("", "")
    assert out.read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"


# --- without a renderer ------------------------------------------------------------------------


@pytest.fixture
def fresh_trial() -> Iterator[None]:
    """The trial's outcome is kept for the process; these tests need it anew."""
    renderer._trial.cache_clear()
    renderer._outcome.cache_clear()
    yield
    renderer._trial.cache_clear()
    renderer._outcome.cache_clear()


def check_refused(answered: Answered, path: Path) -> None:
    with pytest.raises(RendererError) as caught:
        write_png(*answered, path, size=SMALL)
    for package in ("libegl1", "libgl1-mesa-dri", "libosmesa6", "libx11-6", "libxrender1"):
        assert package in str(caught.value)
    assert not path.exists()


@pytest.mark.usefixtures("fresh_trial")
def test_override_stands_for_a_machine_without_renderer(
    riser: Answered, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(renderer.OVERRIDE, "none")
    check_refused(riser, tmp_path / "x.png")


@pytest.mark.usefixtures("fresh_trial")
@pytest.mark.skipif(sys.platform == "win32", reason="no SIGSEGV to send on Windows")
@pytest.mark.parametrize(
    "what", ["import os, signal; os.kill(os.getpid(), signal.SIGSEGV)", "raise SystemExit(1)"]
)
def test_a_crash_in_the_trial_is_an_error_here(
    riser: Answered, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, what: str
) -> None:
    monkeypatch.delenv(renderer.OVERRIDE, raising=False)
    monkeypatch.setattr(renderer, "_TRY", what)
    check_refused(riser, tmp_path / "x.png")


@pytest.mark.usefixtures("fresh_trial")
def test_a_trial_that_hangs_is_ended(
    riser: Answered, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv(renderer.OVERRIDE, raising=False)
    monkeypatch.setattr(renderer, "_TRY", "import time; time.sleep(600)")
    monkeypatch.setattr(renderer, "_TRY_SECONDS", 0.5)
    check_refused(riser, tmp_path / "x.png")


@pytest.mark.renderer
def test_the_trial_runs_once(riser: Answered, monkeypatch: pytest.MonkeyPatch) -> None:
    renderer.start_trial().window_class()
    monkeypatch.setattr(renderer, "_TRY", "raise SystemExit(1)")
    assert renderer.start_trial().window_class() in renderer._OFF_SCREEN


@pytest.mark.renderer
def test_the_environment_is_left_as_it_was(riser: Answered) -> None:
    before = dict(os.environ)
    picture(build_scene(*riser), size=SMALL)
    assert dict(os.environ) == before


@pytest.mark.renderer
def test_no_folder_is_an_input_error(riser: Answered, tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"folder .* does not exist"):
        write_png(*riser, tmp_path / "absent" / "x.png", size=SMALL)
