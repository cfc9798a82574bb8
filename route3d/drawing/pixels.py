"""Marks as pixels, drawn onto a picture with Pillow.

The letters are DejaVu Sans, which comes with matplotlib and so with PyVista. What it has no
letters for is drawn with a font of this machine that has them; where there is none, ``undrawable``
says so before boxes are drawn in their place.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cache, lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from route3d.drawing.marks import (
    HATCHES,
    Box,
    Line,
    Mark,
    Ring,
    Shape,
    Strip,
    Text,
    along,
    lengths,
    stretches,
)
from route3d.errors import RendererError
from route3d.geometry.vectors import Floats

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageDraw import ImageDraw
    from PIL.ImageFont import FreeTypeFont

_HATCHED, _PAPER = "#e4e4e4", "#ffffff"  # hatching is a gray in pixels; holes show the paper
_ANCHORS = {"left": "lm", "middle": "mm", "right": "rm"}


def painted(picture: Image, marks: Iterable[Mark], times: int) -> Image:
    """The picture, ``times`` larger than wanted, with the marks, brought to its wanted size.

    Shapes are drawn large and shrink with the picture, which smooths their edges; text is drawn
    last at its own size, where the font's own hinting keeps it crisp.
    """
    from PIL import ImageDraw

    draw = ImageDraw.Draw(picture)
    texts: list[Text] = []
    for mark in marks:
        if isinstance(mark, Text):
            texts.append(mark)
        else:
            _draw_shape(picture, draw, mark, times)
    small = picture.reduce(times)
    draw = ImageDraw.Draw(small)
    for mark in texts:
        anchor = _ANCHORS[mark.align][0] + ("s" if mark.base else "m")
        at = (round(mark.at[0]), round(mark.at[1]))
        letters = font(round(mark.size), mark.bold, mark.text)
        if mark.upright:
            _draw_upright(small, mark, letters)
            continue
        draw.text(at, mark.text, fill=mark.color, font=letters, anchor=anchor)
    return small


def _draw_upright(picture: Image, mark: Text, letters: FreeTypeFont) -> None:
    """Words that read upwards: drawn level, turned, and set in their place."""
    from PIL import Image as Images
    from PIL import ImageDraw

    wide = round(letters.getlength(mark.text)) + 2
    above, below = letters.getmetrics()
    level = Images.new("L", (wide, above + below), 0)
    ImageDraw.Draw(level).text((1, above), mark.text, fill=255, font=letters, anchor="ls")
    mask = level.rotate(90, expand=True)
    left = mark.at[0] - (above if mark.base else (above + below) / 2)
    top = mark.at[1] - {"left": wide, "middle": wide / 2, "right": 0}[mark.align]
    picture.paste(mark.color, (round(left), round(top)), mask)


def _draw_shape(picture: Image, draw: ImageDraw, mark: Mark, times: int) -> None:
    match mark:
        case Line(points, color, width, dash):
            thick = max(1, round(width * times))
            for part in _dashes(np.asarray(points, dtype=np.float64), dash):
                draw.line([*map(tuple, part * times)], fill=color, width=thick, joint="curve")
        case Box(rect, fill, edge, width, corner):
            draw.rounded_rectangle(
                [round(v * times) for v in rect],
                radius=round(corner * times),
                fill=fill or None,
                outline=edge or None,
                width=round(width * times) if edge else 0,
            )
        case Shape(points, fill, edge, width, holes):
            ground = _HATCHED if fill in HATCHES else fill
            for loop, inside in ((points, ground), *((hole, _PAPER) for hole in holes)):
                line = [(float(x) * times, float(y) * times) for x, y in loop]
                draw.polygon(line, fill=inside or None)
                if edge:
                    draw.line([*line, line[0]], fill=edge, width=max(1, round(width * times)))
        case Ring((x, y), radius, edge, width, fill):
            box = [(x - radius) * times, (y - radius) * times]
            box += [(x + radius) * times, (y + radius) * times]
            draw.ellipse(box, fill=fill or None, outline=edge, width=max(1, round(width * times)))
        case Strip(rect, colors):
            _draw_strip(picture, [round(v * times) for v in rect], colors)


def _dashes(points: Floats, dash: str) -> Iterator[Floats]:
    """The unbroken parts of a line (n, 2): those between NaN, cut into dashes where it has any."""
    for rows in stretches(np.isfinite(points[:, 0] + points[:, 1])):
        line = points[rows]
        if not dash or len(line) < 2:
            yield line
            continue
        on, off = map(float, dash.split())
        walked = lengths(line)
        for start in np.arange(0.0, walked[-1], on + off).tolist():
            end = min(start + on, float(walked[-1]))
            inner = walked[(walked > start) & (walked < end)]
            yield along(line, np.concatenate(([start], inner, [end])))


def _draw_strip(picture: Image, rect: list[int], colors: tuple[tuple[int, int, int], ...]) -> None:
    from PIL import Image as Images

    left, top, right, bottom = rect
    rows = np.linspace(len(colors) - 1, 0, bottom - top).round().astype(int)
    strip = np.asarray(colors, dtype=np.uint8)[rows][:, None].repeat(right - left, axis=1)
    picture.paste(Images.fromarray(strip), (left, top))


# --- letters ------------------------------------------------------------------------------------


@cache
def font_file(bold: bool) -> Path:
    """The font file; RendererError where matplotlib is not installed whole.

    Raises ModuleNotFoundError where it is not installed at all.
    """
    found = find_spec("matplotlib")
    if found is None:
        raise ModuleNotFoundError("no package matplotlib", name="matplotlib")
    name = "DejaVuSans-Bold.ttf" if bold else "DejaVuSans.ttf"
    if found.origin is not None:
        file = Path(found.origin).parent / "mpl-data" / "fonts" / "ttf" / name
        if file.is_file():
            return file
    raise RendererError(
        f"the font {name} of matplotlib is missing: install matplotlib again with pip"
    )


# The characters around a name in the lines of a picture; one font draws a whole line.
_AROUND = frozenset(map(chr, range(0x20, 0x7F))) | {"·", "°"}


def undrawable(text: str) -> str:
    """The characters of a name that no font of this machine can draw, in their order."""
    lacking = _lacking(text)
    return "" if not lacking or _font_with(frozenset(text) | _AROUND) else "".join(lacking)


def _lacking(text: str) -> tuple[str, ...]:
    """The characters that DejaVu Sans has no letter for."""
    if text.isascii():  # by far most texts
        return ()
    known = _letters(font_file(False))
    return tuple(dict.fromkeys(c for c in text if ord(c) not in known))


@cache
def _letters(file: Path) -> frozenset[int]:
    """Code points a font has letters for; none where it cannot be read."""
    from fontTools.ttLib import TTFont  # matplotlib itself takes half a second to load

    try:
        with file.open("rb") as letters, TTFont(letters, fontNumber=0, lazy=True) as font:
            return frozenset(font.getBestCmap() or ())
    except Exception:  # a damaged font fails in as many ways as it has tables
        return frozenset()


@cache
def _font_with(characters: frozenset[str]) -> Path | None:
    """A font of this machine with all these letters, the first by name."""
    wanted = frozenset(map(ord, characters))
    return next((f for f in system_fonts() if wanted <= _letters(f) and _opens(f)), None)


@cache
def system_fonts() -> tuple[Path, ...]:
    """The font files of this machine, by name so that the same machine draws the same."""
    from matplotlib.font_manager import findSystemFonts

    return tuple(sorted(map(Path, findSystemFonts())))


def _opens(file: Path) -> bool:
    """Whether Pillow can use it: fonts of colored pictures have letters of one size only."""
    from PIL import ImageFont

    try:
        ImageFont.truetype(str(file), 20)
    except OSError:
        return False
    return True


def font(size: int, bold: bool, text: str = "") -> FreeTypeFont:
    """The font for a text at a letter height of ``size`` pixels."""
    other = _font_with(frozenset(text) | _AROUND) if _lacking(text) else None
    return _opened(font_file(bold) if other is None else other, size)


@cache
def _opened(file: Path, size: int) -> FreeTypeFont:
    """A font file at a size.

    The basic layout engine is asked for by name: with the other, spacing would depend on whether
    a machine has libraqm.
    """
    from PIL import ImageFont

    return ImageFont.truetype(str(file), size, layout_engine=ImageFont.Layout.BASIC)


@lru_cache(1 << 15)  # lines are broken, and cards laid out, by trial
def measure(text: str, size: float, bold: bool) -> tuple[float, float]:
    """Width and line height in pixels of one line of text."""
    letters = font(round(size), bold, text)
    return float(letters.getlength(text)), 1.3 * round(size)
