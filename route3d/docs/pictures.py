"""The pictures of README and docs, made by the commands themselves from the demo models."""

from __future__ import annotations

import contextlib
import io
import shutil
import tempfile
from pathlib import Path

from route3d.cli.main import main

MODELS = Path(__file__).parents[2] / "models"
# Each picture with the command that makes it; {} stands for the file to write.
BY_COMMAND = {
    "route.png": "view riser_duct_bank.toml --png {} --size 1200x750 --theme light",
    "limit.png": "view yard_run.toml --png {} --size 1200x750 --theme light --color-by sidewall",
    "charts.svg": "view riser_duct_bank.toml --svg {}",
    "plan_profile.svg": "drawing riser_duct_bank.toml {}",
    "rigging.svg": "drawing riser_duct_bank.toml {} --rigging",
    "section.svg": "check riser_duct_bank.toml --section {}",
    "bank.svg": "bank riser_duct_bank.toml --section {}",
    "days.svg": "study days berths.xlsx crews/berths.toml --seconds 2 --svg {}",
    "readings.svg": "field compare riser_duct_bank.toml pulls/F1_recorder.csv --svg {}",
}
# Each picture with the command that makes the page it shows, and the window it is shown in.
BY_BROWSER = {
    "page.png": ("view riser_duct_bank.toml --html {}", (1200, 800)),
    "crew_page.png": ("plan riser_duct_bank.toml --html {}", (420, 760)),
}
# The 3D view of a page is drawn by the processor here, and goes on settling for a moment, ms.
_SETTLED = 4000


def make_pictures(folder: Path) -> None:
    """Write every picture into ``folder``; needs a renderer and Chromium."""
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as text:
        made = Path(text)
        for name, command in BY_COMMAND.items():
            _run(command, made / name)
        for name, (command, _) in BY_BROWSER.items():
            _run(command, (made / name).with_suffix(".html"))
        _photograph(made)
        for name in (*BY_COMMAND, *BY_BROWSER):
            if name.endswith(".png"):
                _shrink(made / name)
            shutil.copy(made / name, folder / name)


def _run(command: str, out: Path) -> None:
    """One command of the command line, which must write its file."""
    words = [word.replace("{}", str(out)) for word in command.split()]
    arguments = [str(MODELS / word) if (MODELS / word).is_file() else word for word in words]
    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
        main(arguments)
    first = out.with_name(f"{out.stem}-1{out.suffix}")
    if first.is_file():  # of several sheets the first
        first.replace(out)
    if not out.is_file():
        raise FileNotFoundError(f"route3d {command.format(out)} wrote no file")


def _photograph(folder: Path) -> None:
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=shutil.which("chromium"),
            args=["--no-sandbox", "--enable-unsafe-swiftshader"],
        )
        for name, (_, (width, height)) in BY_BROWSER.items():
            page = browser.new_page(viewport={"width": width, "height": height})
            page.goto((folder / name).with_suffix(".html").as_uri())
            page.wait_for_timeout(_SETTLED)
            page.screenshot(path=folder / name)
        browser.close()


def _shrink(picture: Path) -> None:
    """The same picture in 256 colors: flat areas and a color scale need no more."""
    from PIL import Image

    with Image.open(picture) as image:
        few = image.convert("RGB").quantize(256, Image.Quantize.FASTOCTREE)
    few.save(picture, optimize=True)
