"""The letters of pictures: DejaVu Sans, which comes with matplotlib and so with PyVista."""

from __future__ import annotations

from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

from route3d.errors import RendererError

if TYPE_CHECKING:
    from PIL.ImageFont import FreeTypeFont


@cache
def font_file(bold: bool) -> Path:
    """The font file; RendererError where matplotlib is not installed whole."""
    found = find_spec("matplotlib")
    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    if found is not None and found.origin is not None:
        file = Path(found.origin).parent / "mpl-data" / "fonts" / "ttf" / name
        if file.is_file():
            return file
    raise RendererError(
        f"the font {name} of matplotlib is missing: install matplotlib again with pip"
    )


@cache
def font(size: int, bold: bool) -> FreeTypeFont:
    """The font at a letter height of ``size`` pixels.

    The basic layout engine is asked for by name: with the other, spacing would depend on whether
    a machine has libraqm.
    """
    from PIL import ImageFont

    return ImageFont.truetype(str(font_file(bold)), size, layout_engine=ImageFont.Layout.BASIC)


def measure(text: str, size: float, bold: bool) -> tuple[float, float]:
    """Width and line height in pixels of one line of text."""
    letters = font(round(size), bold)
    return float(letters.getlength(text)), 1.3 * round(size)
