"""A real window on a screen of its own: real keys, real mouse, the pixels it saves.

The window's title says what it shows, and ``S`` saves its picture: that is how it is read here.
"""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from route3d.drawing.pixels import measure
from route3d.units import show
from tests.viewer.conftest import MODELS, answer
from tests.viewer.virtual_screen import until, virtual_screen
from tests.viewer.web.served import three_runs
from viewer.camera import Camera, camera_for
from viewer.scene.build import build_scene
from viewer.still.panels import panels_for
from viewer.theme import LIGHT, rgb
from viewer.window.panels import STRIP, slider_ends
from viewer.window.pick import UnrolledView

pytestmark = [pytest.mark.window, pytest.mark.slow]

SIZE = (1280, 800)


@pytest.fixture(scope="module")
def display() -> Iterator[str]:
    missing = [p for p in ("Xvfb", "xdotool") if shutil.which(p) is None]
    if missing:
        pytest.skip(
            f"NO WINDOW TESTS: {' and '.join(missing)} missing; apt-get install xvfb xdotool"
        )
    with virtual_screen() as name:
        yield name


@dataclass(frozen=True)
class Window:
    """A running ``route3d view`` and its X window."""

    process: subprocess.Popen[bytes]
    display: str
    folder: Path
    number: str

    def xdotool(self, *arguments: object) -> str:
        done = subprocess.run(
            ["xdotool", *map(str, arguments)],
            env={**os.environ, "DISPLAY": self.display},
            capture_output=True,
            check=True,
            text=True,
        )
        return done.stdout.strip()

    @property
    def title(self) -> str:
        return self.xdotool("getwindowname", self.number)

    def settled(self) -> str:
        """The title once it has not changed for a while."""
        seen, since = self.title, time.monotonic()

        def still() -> bool:
            nonlocal seen, since
            if (now := self.title) != seen:
                seen, since = now, time.monotonic()
            return time.monotonic() - since > 1.0

        until(still, "a title that stays")
        return seen

    def key(self, *keys: str, shows: str = "") -> str:
        for key in keys:
            self.xdotool("key", key)
        return self.shows(shows) if shows else self.title

    def shows(self, words: str) -> str:
        return str(until(lambda: self.title if words in self.title else "", f"{words} in title"))

    def click(self, x: float, y: float) -> None:
        self.xdotool("mousemove", round(x), round(y), "click", 1)

    def drag(self, start: tuple[float, float], end: tuple[float, float]) -> None:
        middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
        self.settled()
        # with a rest after each: a busy window takes the motions of a queue all at once
        steps: list[object] = ["mousemove", *map(round, start), "sleep", 0.5, "mousedown", 1]
        for at in (middle, end):
            steps += ["sleep", 0.7, "mousemove", *map(round, at)]
        self.xdotool(*steps, "sleep", 0.7, "mouseup", 1)

    def picture(self) -> np.ndarray:
        """What the window shows, by its own key for it."""
        from PIL import Image

        before = set(self.folder.glob("*.png"))
        self.xdotool("key", "s")

        def new() -> Path | None:
            return next(iter(set(self.folder.glob("*.png")) - before), None)

        path = until(new, "a saved picture")
        assert isinstance(path, Path)
        with Image.open(path) as image:
            return np.asarray(image.convert("RGB")).astype(int)

    def heard(self) -> str:
        return (self.folder / "err").read_text()


@contextlib.contextmanager
def opened(display: str, folder: Path, model: str, *options: str) -> Iterator[Window]:
    with (folder / "err").open("wb") as err:
        process = subprocess.Popen(
            [sys.executable, "-m", "route3d", "view", str(_file(model)), *options],
            cwd=folder,
            env={**os.environ, "DISPLAY": display, "PYTHONPATH": str(MODELS.parent)},
            stdout=subprocess.DEVNULL,
            stderr=err,
        )
        try:
            run = {"riser_duct_bank": "F1", "yard_run": "Y1"}.get(model, "R1")
            number = until(lambda: _find(process, display, folder, run), "a window")
            window = Window(process, display, folder, str(number))
            window.xdotool("windowfocus", "--sync", number)
            yield window
        finally:
            if process.poll() is None:
                process.kill()
            process.wait(10)


def _file(model: str) -> Path:
    """A demo job by its name, any other by its path."""
    return Path(model) if model.endswith(".toml") else MODELS / f"{model}.toml"


def _find(process: subprocess.Popen[bytes], display: str, folder: Path, run: str) -> str:
    assert process.poll() is None, (folder / "err").read_text()
    done = subprocess.run(
        ["xdotool", "search", "--name", f"route3d {run} .*fed from"],
        env={**os.environ, "DISPLAY": display},
        capture_output=True,
        text=True,
    )
    return done.stdout.split("\n")[0].strip()


@pytest.fixture(scope="module")
def window(display: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Window]:
    """One window for all tests, its keys put away; every test leaves it as it was."""
    with opened(display, tmp_path_factory.mktemp("window"), "riser_duct_bank") as window:
        window.key("h")
        yield window
        window.key("q")
        assert window.process.wait(30) == 0
        assert "Traceback" not in window.heard()


def riser_camera() -> tuple[object, Camera]:
    scene = build_scene(*answer("riser_duct_bank"))
    panels = panels_for(scene, SIZE, LIGHT, measure, strip=STRIP)
    return scene, camera_for(scene, "isometric", SIZE, panels.room, panels.frame)


def test_the_title_says_what_is_shown(window: Window) -> None:
    for words in ("route3d F1", "fed from roof switchroom", "tension", "US", "isometric"):
        assert words in window.title


def test_keys_change_what_is_shown_and_lead_back_to_the_same_picture(window: Window) -> None:
    before = window.picture()
    for there, shows, back in (
        (["f"], "fed from vault V1", ["f"]),
        (["c"], "| sidewall |", ["c", "c", "c"]),
        (["u"], "| SI |", ["u"]),
        (["d"], "| dark", ["d"]),
        (["2"], "| plan |", ["1"]),
        (["4"], "| profile |", ["1"]),
    ):
        window.key(*there, shows=shows)
        changed = window.picture()
        assert (changed != before).any(), shows
        window.key(*back, shows="| tension | US | isometric | light")
        # Nothing of what was shown meanwhile is left: no stale range, camera or label.
        np.testing.assert_array_equal(window.picture(), before, err_msg=shows)


def test_layers_go_and_come(window: Window) -> None:
    before = window.picture()
    for key in "labg":
        window.key(key)
        assert (window.picture() != before).any(), key
        window.key(key)
        np.testing.assert_array_equal(window.picture(), before)


def test_keys_of_the_toolkit_do_nothing(window: Window) -> None:
    before = window.picture()
    window.key("w", "r", "p", "3", "i", "j", shows="| side |")  # 3 is ours: the side view
    window.key("1", shows="| isometric |")
    np.testing.assert_array_equal(window.picture(), before)


@pytest.mark.parametrize("station", [20.0, 40.0, 90.0])
def test_a_click_reads_the_place(window: Window, station: float) -> None:
    scene, camera = riser_camera()
    result, _ = answer("riser_duct_bank")
    point = result.path.point(station) - scene.origin  # type: ignore[attr-defined]
    x, y = camera.project(point)
    window.click(x, y)
    title = window.shows("| Station ")
    read = float(re.search(r"Station ([\d.]+) ft", title)[1]) * 0.3048  # type: ignore[index]
    # a pixel across the picture, and the wall of a conduit drawn larger than it is
    assert read == pytest.approx(station, abs=4 * camera.scale)
    pull = result.best.pull
    order = np.argsort(pull.profile.station, kind="stable")
    tension = np.interp(read, pull.profile.station[order], pull.profile.tension[order])
    shown = float(re.search(r"tension ([\d,]+) lbf", title)[1].replace(",", ""))  # type: ignore[index]
    # the station in the title is rounded to 0.1 ft, tension changes by some 3 lbf a foot
    assert shown == pytest.approx(tension / 4.4482216, abs=1.5)
    assert f"of limit {show(scene.limits[1], 'sidewall', 'US')}" in title  # type: ignore[attr-defined]
    assert "Station " in window.heard()
    window.key("Escape")
    until(lambda: "Station" not in window.title, "the reading put away")


def test_a_click_beside_the_route_reads_nothing(window: Window) -> None:
    window.click(640, 560)
    time.sleep(0.5)
    assert "Station" not in window.title


def test_the_slider_moves_the_head(window: Window) -> None:
    scene, _ = riser_camera()
    panels = panels_for(scene, SIZE, LIGHT, measure, strip=STRIP)  # type: ignore[arg-type]
    (left, low), (right, _) = slider_ends(panels, SIZE)
    y = (1 - low) * SIZE[1]
    span = right - left
    before = window.picture()
    window.drag((right * SIZE[0] - 26, y), ((left + 0.5 * span) * SIZE[0], y))
    title = window.settled()
    length = answer("riser_duct_bank")[0].path.length / 0.3048
    head = float(re.search(r"head at station ([\d.]+) ft", title)[1])  # type: ignore[index]
    assert head == pytest.approx(0.5 * length, abs=0.04 * length)
    for words in ("expected ", "caution ", "stop ", "gear high", ":"):
        assert words in title
    picture = window.picture()
    # shaded, so by its hue: the reel's blue where cable lies, the machine's purple for the rope
    assert (np.abs(picture - np.array(rgb(LIGHT.feed))).max(axis=2) < 40).sum() > 500
    assert (picture != before).any()
    window.key("t")
    until(lambda: "head at" not in window.title, "the whole cable again")
    np.testing.assert_array_equal(window.picture(), before)


def test_arrows_and_playing_move_the_head(window: Window) -> None:
    window.key("Right", "Right", shows="head at ")
    first = window.title
    window.key("space")
    until(lambda: window.title != first, "the pull playing")
    window.key("space")
    assert float(re.search(r"head at station ([\d.]+) ft", window.settled())[1]) > 5  # type: ignore[index]
    window.key("t")
    until(lambda: "head at" not in window.title, "the whole cable again")


def test_a_drag_orbits_and_a_key_looks_afresh(window: Window) -> None:
    before = window.picture()
    window.drag((640, 330), (760, 300))
    turned = window.picture()
    assert (turned != before).any()
    window.xdotool("mousemove", 640, 330, "click", 4)
    time.sleep(0.5)
    assert (window.picture() != turned).any()
    window.key("1")
    # All but a few edge pixels: the toolkit's camera keeps the last digits of where it has been.
    assert (window.picture() != before).any(axis=2).mean() < 1e-3


def test_another_size_is_laid_out_afresh(window: Window) -> None:
    window.xdotool("windowsize", window.number, 900, 640)
    until(lambda: window.picture().shape[:2] == (640, 900), "the smaller window")
    window.xdotool("windowsize", window.number, *SIZE)
    until(lambda: window.picture().shape[:2] == (SIZE[1], SIZE[0]), "the old size")


def test_a_click_in_the_profile_reads_the_station_under_it(window: Window) -> None:
    scene, _ = riser_camera()
    axes = UnrolledView(scene, SIZE, LIGHT, 0.0).axes()  # type: ignore[arg-type]
    window.key("4", shows="| profile |")
    before = window.picture()
    for panel in axes:
        x = float(panel.place(np.array([60.0]), np.zeros(1))[0, 0])
        window.click(x, (panel.rect[1] + panel.rect[3]) / 2)
        title = window.shows("| Station ")
        read = float(re.search(r"Station ([\d.]+) ft", title)[1]) * 0.3048  # type: ignore[index]
        assert read == pytest.approx(60.0, abs=0.2)  # two pixels
        assert "of limit" in title
        assert (window.picture() != before).any()
        window.key("Escape")
        until(lambda: "Station" not in window.title, "the reading put away")
    window.key("1", shows="| isometric |")


def test_all_runs_of_a_file_are_a_key_away(display: str, tmp_path: Path) -> None:
    model = tmp_path / "three.toml"
    model.write_text(three_runs().replace('"F1"', '"R1"'))  # found by its title, beside F1's
    with opened(display, tmp_path, str(model)) as window:
        listed = window.picture()
        for run in ("F2", "F3", "R1"):
            window.key("n", shows=f"route3d {run} |")
        np.testing.assert_array_equal(window.picture(), listed)
        window.key("q")
        assert window.process.wait(30) == 1  # F3 has a stop


def test_options_are_those_of_a_picture(display: str, tmp_path: Path) -> None:
    options = ("--theme", "dark", "--view", "plan", "--color-by", "utilization", "--units", "SI")
    with opened(display, tmp_path, "yard_run", *options, "--feed", "substation") as window:
        for words in ("Y1", "fed from substation", "utilization", "SI", "plan", "dark"):
            assert words in window.title
        window.key("q")
        assert window.process.wait(30) == 1  # the yard run has a stop


@pytest.mark.parametrize(
    ("value", "said"), [(None, "DISPLAY is not set"), (":9871", "not respond")]
)
def test_without_a_screen_the_other_ways_are_named(value: str | None, said: str) -> None:
    env = {k: v for k, v in os.environ.items() if k != "DISPLAY"} | (
        {"DISPLAY": value} if value else {}
    )
    done = subprocess.run(
        [sys.executable, "-m", "route3d", "view", str(MODELS / "yard_run.toml")],
        env={**env, "PYTHONPATH": str(MODELS.parent)},
        capture_output=True,
        text=True,
    )
    assert done.returncode == 2
    assert said in done.stderr and "Traceback" not in done.stderr
    for way in ("--png", "--html", "route3d serve"):
        assert way in done.stderr
