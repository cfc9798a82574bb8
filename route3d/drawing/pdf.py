"""PDF by typst from a template and plain data: no browser, same bytes twice."""

from __future__ import annotations

import json
from collections.abc import Sequence
from importlib import resources
from typing import Any

from route3d.directions import all_isolated
from route3d.errors import RendererError


def typeset(package: str, template: str, data: dict[str, Any]) -> bytes:
    """The PDF of a template of a package; ``data`` reaches it as JSON: no text in it is markup."""
    import typst

    source = (resources.files(package) / template).read_bytes()
    text = json.dumps(all_isolated(data), allow_nan=False)
    fonts = typst.Fonts(include_system_fonts=False, font_paths=font_folders())
    pdf: bytes = typst.compile(source, sys_inputs={"data": text}, font_paths=fonts)
    return pdf


def pages_pdf(pages: Sequence[tuple[str, tuple[float, float]]], title: str) -> bytes:
    """Drawings as SVG with their size in mm, each a page of that size."""
    found = [{"width": size[0], "height": size[1], "svg": svg} for svg, size in pages]
    return typeset(__package__ or "", "sheets.typ", {"title": title, "pages": found})


def font_folders() -> list[str]:
    """Where DejaVu Sans is; the fonts of a system may differ."""
    from route3d.drawing.pixels import font_file

    try:
        return [str(font_file(bold=False).parent)]
    except RendererError:
        return []
