"""PDF by typst from a template and plain data: no browser, same bytes twice."""

from __future__ import annotations

import json
from collections.abc import Sequence
from importlib import resources
from typing import Any, NamedTuple

from route3d.directions import all_isolated
from route3d.errors import RendererError

# Pale and behind the text, once across each page; a template that sets a page keeps it.
_DRAFT = b"""#set page(background: context {
  let diagonal = calc.sqrt(calc.pow(page.width / 1pt, 2) + calc.pow(page.height / 1pt, 2))
  rotate(-calc.atan2(page.width / 1pt, page.height / 1pt),
    text(font: "DejaVu Sans", size: diagonal * 0.16pt, weight: "bold", fill: luma(92%), "DRAFT"))
})
"""


# What a document carries with it: a file of plain data, and its list of keywords.
_ATTACHED = b"""#let attached = json(bytes(sys.inputs.attached))
#set document(keywords: attached.keywords)
#pdf.attach(attached.name, bytes(attached.text), mime-type: "application/json",
  relationship: "source")
"""


class Attached(NamedTuple):
    """A file of plain data that goes with a PDF, and the keywords of the PDF."""

    name: str
    text: str
    keywords: Sequence[str]


def typeset(
    package: str,
    template: str,
    data: dict[str, Any],
    *,
    draft: bool = False,
    attached: Attached | None = None,
) -> bytes:
    """The PDF of a template of a package; ``data`` reaches it as JSON: no text in it is markup.

    A ``draft`` has the word DRAFT across every page, behind what the template sets out.
    """
    import typst

    source = (resources.files(package) / template).read_bytes()
    source = (_DRAFT if draft else b"") + (_ATTACHED if attached else b"") + source
    text = json.dumps(all_isolated(data), allow_nan=False)
    inputs = {"data": text}
    if attached is not None:
        inputs["attached"] = json.dumps(attached._asdict())
    fonts = typst.Fonts(include_system_fonts=False, font_paths=font_folders())
    pdf: bytes = typst.compile(source, sys_inputs=inputs, font_paths=fonts)
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
