"""A sheet as SVG in paper mm, black on white, and sheets as the pages of a PDF by typst."""

from __future__ import annotations

from collections.abc import Sequence

from route3d.report.drawing_geometry import Sheet
from route3d.report.drawing_marks import CAPITAL, Mark, Ring, Stroke, Words
from route3d.report.svg import number, polyline, text
from route3d.report.typeset import typeset

_INK, _GROUND = "#000000", "#ffffff"


def sheet_svg(sheet: Sheet) -> str:
    """One sheet, true to scale where it is printed at 100 %; the same sheet gives the same text."""
    layout = sheet.setup.layout
    size = f"{layout.width:g}", f"{layout.height:g}"
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size[0]} {size[1]}" '
        f'width="{size[0]}mm" height="{size[1]}mm" '
        "font-family=\"'DejaVu Sans','Helvetica Neue',Arial,sans-serif\">"
    )
    ground = f'<rect width="{size[0]}" height="{size[1]}" fill="{_GROUND}"/>'
    return "\n".join([head, ground, *map(_drawn, sheet.marks), "</svg>\n"])


def _drawn(mark: Mark) -> str:
    if isinstance(mark, Stroke):
        return polyline(mark.points[:, 0], mark.points[:, 1], _INK, mark.width, mark.dash)
    if isinstance(mark, Ring):
        place = f'cx="{number(mark.x)}" cy="{number(mark.y)}" r="{number(mark.radius)}"'
        return f'<circle {place} fill="none" stroke="{_INK}" stroke-width="{mark.width:g}"/>'
    return _words(mark)


def _words(mark: Words) -> str:
    size = round(mark.height / CAPITAL, 3)
    look = {"size": size, "anchor": mark.anchor, "bold": mark.bold}
    if not mark.upright:
        return text(mark.x, mark.y, mark.text, _INK, **look)  # type: ignore[arg-type]
    turn = f"translate({number(mark.x)} {number(mark.y)}) rotate(-90)"
    inner = text(0.0, 0.0, mark.text, _INK, **look)  # type: ignore[arg-type]
    return f'<g transform="{turn}">{inner}</g>'


def sheets_pdf(sheets: Sequence[Sheet], title: str) -> bytes:
    """The sheets as pages of the size of their paper; the same sheets give the same bytes."""
    pages = [
        {
            "width": sheet.setup.layout.width,
            "height": sheet.setup.layout.height,
            "svg": sheet_svg(sheet),
        }
        for sheet in sheets
    ]
    return typeset("drawing.typ", {"title": title, "pages": pages})
