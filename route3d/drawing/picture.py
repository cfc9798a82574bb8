"""A drawing on one sheet as SVG, PNG or PDF."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass

from route3d.drawing import svg
from route3d.drawing.marks import Mark

SUFFIXES = (".svg", ".png", ".pdf")
_TIMES = 2  # pixels are drawn so much larger, then brought to size
_MM = 25.4 / 96  # of a pixel on paper (CSS)


@dataclass(frozen=True, slots=True)
class Picture:
    """The ``marks`` of a drawing, its ``size`` px and its ``title``."""

    marks: Sequence[Mark]
    size: tuple[int, int]
    title: str


def picture_file(picture: Picture, suffix: str) -> str | bytes:
    """The contents of a file with one of the ``SUFFIXES``; the same drawing, the same bytes."""
    if suffix == ".svg":
        return svg.document(picture.marks, picture.size, title=picture.title)
    return _png(picture) if suffix == ".png" else _pdf(picture)


def _png(picture: Picture) -> bytes:
    from PIL import Image

    from route3d.drawing.pixels import painted

    wide, high = picture.size
    ground = Image.new("RGB", (wide * _TIMES, high * _TIMES), "#ffffff")
    made = io.BytesIO()
    painted(ground, picture.marks, _TIMES).save(made, "PNG")
    return made.getvalue()


def _pdf(picture: Picture) -> bytes:
    from route3d.drawing.pdf import pages_pdf

    wide, high = picture.size
    drawn = svg.document(picture.marks, picture.size, title=picture.title)
    return pages_pdf([(drawn, (wide * _MM, high * _MM))], picture.title)
