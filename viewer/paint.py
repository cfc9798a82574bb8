"""Draws an overlay onto a picture with Pillow."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from viewer.fonts import font
from viewer.overlay import Box, Item, Line, Overlay, Ring, Shape, Strip, Text

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageDraw import ImageDraw

_ANCHORS = {"left": "lm", "middle": "mm", "right": "rm"}


def painted(picture: Image, overlay: Overlay, times: int) -> Image:
    """The picture, ``times`` larger than wanted, with the overlay, brought to its wanted size.

    Shapes are drawn large and shrink with the picture, which smooths their edges; text is drawn
    last at its own size, where the font's own hinting keeps it crisp.
    """
    from PIL import ImageDraw

    draw = ImageDraw.Draw(picture)
    for item in overlay:
        if not isinstance(item, Text):
            _draw_shape(picture, draw, item, times)
    small = picture.reduce(times)
    draw = ImageDraw.Draw(small)
    for item in overlay:
        if isinstance(item, Text):
            _draw_text(draw, item)
    return small


def _draw_text(draw: ImageDraw, item: Text) -> None:
    at = (round(item.at[0]), round(item.at[1]))
    letters = font(round(item.size), item.bold, item.text)
    draw.text(at, item.text, fill=item.colour, font=letters, anchor=_ANCHORS[item.align])


def _draw_shape(picture: Image, draw: ImageDraw, item: Item, times: int) -> None:
    match item:
        case Line(points, colour, width):
            scaled = [(x * times, y * times) for x, y in points]
            draw.line(scaled, fill=colour, width=max(1, round(width * times)), joint="curve")
        case Box(rect, fill, edge, width, corner):
            draw.rounded_rectangle(
                [round(v * times) for v in rect],
                radius=round(corner * times),
                fill=fill or None,
                outline=edge or None,
                width=round(width * times) if edge else 0,
            )
        case Shape(points, fill):
            draw.polygon([(x * times, y * times) for x, y in points], fill=fill)
        case Ring((x, y), radius, edge, width, fill):
            box = [(x - radius) * times, (y - radius) * times]
            box += [(x + radius) * times, (y + radius) * times]
            draw.ellipse(box, fill=fill or None, outline=edge, width=max(1, round(width * times)))
        case Strip(rect, colours):
            _draw_strip(picture, [round(v * times) for v in rect], colours)


def _draw_strip(picture: Image, rect: list[int], colours: tuple[tuple[int, int, int], ...]) -> None:
    from PIL import Image as Images

    left, top, right, bottom = rect
    rows = np.linspace(len(colours) - 1, 0, bottom - top).round().astype(int)
    strip = np.asarray(colours, dtype=np.uint8)[rows][:, None].repeat(right - left, axis=1)
    picture.paste(Images.fromarray(strip), (left, top))
