"""The layers of a drawing to issue: one table for DXF, SVG and PDF.

Names follow the fields of ISO 13567-2 (from memory): agent responsible (2), element (6),
presentation (2), status (1), unused places filled with hyphens. The agent is ``E-`` (electrical).
The element codes are our own, four letters for the thing and two for the view: PL plan, PR profile,
SE section, SH sheet. Presentation: ``E-`` element, ``T-`` text and symbols, ``D-`` dimensions,
``H-`` hatching, ``B-`` border and title block. Status: ``N`` new, ``E`` existing.

One color stands for one pen, so a table of plot styles by color needs a line for each pen alone.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from route3d.drawing.marks import BLACK, Line, Mark, Ring, Shape, Text

WHITE = "#ffffff"


@dataclass(frozen=True, slots=True)
class Pen:
    """A line of the plot style: ``width`` mm and the ``gray`` it prints in."""

    width: float
    gray: str


PENS = {
    1: Pen(0.18, BLACK),
    2: Pen(0.25, BLACK),
    3: Pen(0.35, BLACK),
    4: Pen(0.5, BLACK),
    7: Pen(0.7, BLACK),
    8: Pen(0.13, "#8c8c8c"),
    9: Pen(0.18, "#8c8c8c"),
    254: Pen(0.13, "#e2e2e2"),
}
"""Pens by the color number (ACI) of the layers they draw. Widths: the row of ISO 128, from memory;
grays: own judgment, apart from each other on a black and white printer."""

LINE_TYPES = {
    "CONTINUOUS": "",
    "DASHED": "3 1.2",
    "BEYOND": "1.6 1.2",
    "MATCH_LINE": "6 1.2 1 1.2",
}
"""Dashes and gaps, paper mm."""


@dataclass(frozen=True, slots=True)
class Layer:
    """A layer: its ``name`` in CAD, color number, line type, and what is on it.

    ``seen`` is the view whose viewport looks at it in model space: "plan", "profile", or empty for
    what each sheet has on paper.
    """

    name: str
    color: int
    line_type: str
    holds: str
    seen: str = ""

    @property
    def pen(self) -> Pen:
        """How it is plotted."""
        return PENS[self.color]

    @property
    def dash(self) -> str:
        """Dashes and gaps as in SVG, empty for a solid line."""
        return LINE_TYPES[self.line_type]


_ON, _DASHED, _BEYOND = "CONTINUOUS", "DASHED", "BEYOND"
LAYERS = {
    "CENTERLINE": Layer("E-CNDTPLE-N", 7, _ON, "conduit centerline, plan", "plan"),
    "BEYOND": Layer("E-CNDBPLE-N", 3, _BEYOND, "conduit on other sheets, plan"),
    "PROFILE": Layer("E-CNDTPRE-N", 7, _ON, "conduit centerline, profile", "profile"),
    "BANK": Layer("E-BANKPLE-N", 3, _ON, "duct bank outline, plan", "plan"),
    "BANK-PROFILE": Layer("E-BANKPRE-N", 3, _ON, "duct bank outline, profile", "profile"),
    "BOXES": Layer("E-BOXSPLE-N", 3, _ON, "pull boxes and vaults, plan", "plan"),
    "BOXES-PROFILE": Layer("E-BOXSPRE-N", 3, _ON, "pull boxes and vaults, profile", "profile"),
    "OTHER-RUNS": Layer("E-OTHRPLE-N", 1, _DASHED, "other runs, plan", "plan"),
    "CROSSINGS": Layer("E-OTHRPRE-N", 1, _ON, "other runs where they cross, profile", "profile"),
    "GROUND": Layer("E-GRNDPRE-E", 3, _DASHED, "ground line, profile", "profile"),
    "CONTEXT": Layer("E-SITEPLE-E", 9, _ON, "buildings, rooms and plant, plan", "plan"),
    "CONTEXT-FILL": Layer("E-SITEPLH-E", 254, _ON, "buildings, filled, plan", "plan"),
    "SECTIONS": Layer("E-SECTSEE-N", 3, _ON, "concrete, boxes and ducts, cut"),
    "SECTION-FILL": Layer("E-SECTSEH-N", 254, _ON, "concrete, filled"),
    "SECTION-MARKS": Layer("E-SECTSHT-N", 4, _ON, "where sections are taken"),
    "CALLOUTS": Layer("E-DETLSHT-N", 2, _ON, "where details are taken"),
    "BENDS": Layer("E-BENDSHT-N", 2, _ON, "bends: numbers, radii, angles"),
    "PULL-POINTS": Layer("E-PULLSHT-N", 3, _ON, "pull points and ends"),
    "STATIONS": Layer("E-STATSHT-N", 1, _ON, "round stations"),
    "DIMENSIONS": Layer("E-DIMSSHD-N", 1, _ON, "dimensions"),
    "DIMENSION-ENDS": Layer("E-DIMTSHD-N", 3, _ON, "strokes at the ends of dimensions"),
    "MATCH-LINES": Layer("E-MATCSHT-N", 4, "MATCH_LINE", "match lines"),
    "NAMES": Layer("E-NAMESHT-N", 1, _ON, "names of banks, runs, buildings, grade"),
    "TEXT": Layer("E-TEXTSHT-N", 1, _ON, "other words and tables"),
    "GRID": Layer("E-GRIDSHT-N", 8, _ON, "grid of the profile"),
    "KEY": Layer("E-KEYPSHB-N", 1, _ON, "key plan"),
    "KEY-SHEET": Layer("E-KEYSSHB-N", 4, _ON, "this sheet on the key plan"),
    "DRAFT": Layer("E-DRFTSHB-N", 254, _ON, "the word DRAFT"),
    "TABLE": Layer("E-TABLSHB-N", 1, _ON, "thin lines of tables and title block"),
    "FRAME": Layer("E-FRAMSHB-N", 3, _ON, "edges of views and title block"),
    "BORDER": Layer("E-BORDSHB-N", 7, _ON, "border of the sheet"),
}
"""Layers by the names that marks of a plan and profile drawing carry."""

VIEWPORTS = "E-VIEWSHB-N"
"""The frames of viewports, which do not plot."""


def styled(marks: Iterable[Mark]) -> tuple[Mark, ...]:
    """Marks with the pen and line type of their layers."""
    return tuple(_styled(mark) for mark in marks)


def _styled(mark: Mark) -> Mark:
    if isinstance(mark, Text):
        return replace(mark, color=LAYERS[mark.layer].pen.gray)
    if isinstance(mark, Line):
        layer = LAYERS[mark.layer]
        return replace(mark, color=layer.pen.gray, width=layer.pen.width, dash=layer.dash)
    if isinstance(mark, Ring):
        pen = LAYERS[mark.layer].pen
        return replace(mark, edge=pen.gray, width=pen.width)
    assert isinstance(mark, Shape)
    pen = LAYERS[mark.layer].pen
    fill = mark.fill if mark.fill in ("", WHITE) else pen.gray
    return replace(mark, fill=fill, edge=pen.gray if mark.edge else "", width=pen.width)
