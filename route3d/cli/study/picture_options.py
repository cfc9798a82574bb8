"""The picture options of the studies."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

from route3d.cli.common import option, refuse_suffix, save

if TYPE_CHECKING:
    from route3d.drawing.picture import Picture

SvgOption = Annotated[Path | None, option("FILE.svg", "Draw the study as SVG.")]
PngOption = Annotated[Path | None, option("FILE.png", "Draw the study as a picture.")]


def refuse_picture_suffixes(svg: Path | None, png: Path | None) -> None:
    """Refuse a file whose suffix is not that of its option."""
    refuse_suffix("--svg", svg, ".svg")
    refuse_suffix("--png", png, ".png")


def save_pictures(svg: Path | None, png: Path | None, drawn: Callable[[], Picture]) -> None:
    """Write what is ``drawn`` to the files asked for."""
    if svg is None and png is None:
        return
    from route3d.drawing.picture import picture_file

    picture = drawn()
    for file, suffix in ((svg, ".svg"), (png, ".png")):
        if file is not None:
            save(file, picture_file(picture, suffix))
