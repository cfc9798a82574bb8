"""The section of a duct bank as a drawing: concrete, ducts, dimensions, grade, and the figures.

Plain SVG, the same bytes for the same input, legible in black and white. The bank is to scale; the
earth over it is not.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING
from xml.sax.saxutils import escape

from route3d.checks.finding import Finding
from route3d.planning.bank import BankResult
from route3d.report.bank import counted, looking, per_length
from route3d.report.svg import line, number, text
from route3d.units import show

if TYPE_CHECKING:
    from shapely import Polygon

WIDTH = 860.0
INK, SOFT, PAPER = "#111", "#555", "#fff"
_FONT = "font-family=\"'DejaVu Sans','Helvetica Neue',Arial,sans-serif\""
# The box of the drawing: what the concrete is fitted into, px.
_LEFT, _TOP, _WIDE, _HIGH = 90.0, 150.0, 300.0, 250.0
_GRADE = 84.0
_PANEL = 545.0
# A figure of this many letters is about so wide, px each, in the size of the dimensions.
_LETTER, _SMALL = 6.6, 11.0
_DEFS = """<defs>
<pattern id="concrete" width="18" height="18" patternUnits="userSpaceOnUse">\
<rect width="18" height="18" fill="#fff"/><path d="M3 6l3-4 3 4zM12 15l2-3 3 2z" fill="none" \
stroke="#999" stroke-width=".7"/><circle cx="13" cy="4" r=".8" fill="#999"/>\
<circle cx="5" cy="12" r=".8" fill="#999"/><circle cx="9" cy="16" r=".6" fill="#999"/></pattern>
<marker id="tip" viewBox="0 0 10 6" refX="10" refY="3" markerWidth="9" markerHeight="6" \
orient="auto-start-reverse" markerUnits="userSpaceOnUse"><path d="M0 0L10 3L0 6z" fill="#111"/>\
</marker>
</defs>"""


class _View:
    """From meters right and up of the middle of the bank to px on the sheet."""

    def __init__(self, result: BankResult) -> None:
        shape = result.section
        self.scale = min(_WIDE / shape.width, _HIGH / shape.height)
        self.cx, self.cy = _LEFT + _WIDE / 2, _TOP + shape.height * self.scale / 2
        half_wide, half_high = shape.width * self.scale / 2, shape.height * self.scale / 2
        self.left, self.right = self.cx - half_wide, self.cx + half_wide
        self.top, self.bottom = self.cy - half_high, self.cy + half_high

    def x(self, right: float) -> float:
        """Px across for a distance to the right, m."""
        return self.cx + right * self.scale

    def y(self, up: float) -> float:
        """Px down for a distance up, m."""
        return self.cy - up * self.scale


def bank_section_svg(result: BankResult, system: str) -> str:
    """SVG text of the section of a bank with its dimensions and figures."""
    view, bank = _View(result), result.bank
    kind = ", ".join(dict.fromkeys(c.label for c in result.run.route.conduits))
    title = f"{result.run.name}: duct bank, {counted(bank.rows, 'row')} of {bank.columns}, {kind}"
    panel, foot = _panel(result, system)
    ways = (_grade, _across, _upright)
    dimensions = [part for way in ways for part in way(result, view, system)]
    wide, high = f"{WIDTH:.0f}", f"{max(view.bottom + 84, foot) + 44:.0f}"
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide} {high}" width="{wide}" '
        f'height="{high}" {_FONT} font-size="13" fill="{INK}" role="img">',
        f"<title>{escape(title)}</title>",
        _DEFS,
        f'<rect width="{wide}" height="{high}" fill="{PAPER}"/>',
        text(30, 38, _cut(title, 70), INK, size=18, bold=True),
        *_concrete(result, view),
        *_ducts(result, view),
        *sorted(dimensions, key=_is_text),  # words over the lines that would cross them
        *panel,
        text(30, float(high) - 22, _cut(f"Seen {looking(result)}.", 100), SOFT, size=12),
        "</svg>",
    ]
    return "\n".join(p for p in parts if p) + "\n"


def _is_text(part: str) -> bool:
    return not part.startswith(("<line", "<polyline"))


# --- the bank ------------------------------------------------------------------------------------


def _concrete(result: BankResult, view: _View) -> list[str]:
    if result.bank.cover == 0:
        return []
    outline = _path(result.section.polygon(sides=64), view)
    look = f'fill="url(#concrete)" fill-rule="evenodd" stroke="{INK}" stroke-width="1.8"'
    return [f'<path d="{outline}" {look}/>']


def _path(polygon: Polygon, view: _View) -> str:
    loops = []
    for ring in (polygon.exterior, *polygon.interiors):
        points = [f"{number(view.x(x))} {number(view.y(y))}" for x, y in list(ring.coords)[:-1]]
        loops.append("M" + "L".join(points) + "Z")
    return "".join(loops)


def _ducts(result: BankResult, view: _View) -> list[str]:
    conduit = max(result.run.route.conduits, key=lambda c: c.outer_diameter)
    outer, bore = (d * view.scale / 2 for d in (conduit.outer_diameter, conduit.inner_diameter))
    size, parts = min(13.0, bore * 0.6), []
    for duct in result.ducts:
        x, y = (view.x(duct.offset[0]), view.y(duct.offset[1]))
        parts += [_circle(x, y, outer, 1.6), _circle(x, y, bore, 0.8)]
        if size >= 5:
            name = f"{duct.row}-{duct.column}"
            parts.append(text(x, y + 0.36 * size, name, INK, size=round(size, 1), anchor="middle"))
    return parts


def _circle(x: float, y: float, r: float, width: float) -> str:
    ends = f'cx="{number(x)}" cy="{number(y)}" r="{number(r)}"'
    return f'<circle {ends} fill="{PAPER}" stroke="{INK}" stroke-width="{width}"/>'


def _grade(result: BankResult, view: _View, system: str) -> list[str]:
    """The ground and the least earth over the bank, where it lies below grade."""
    if result.earth is None:
        return []
    if result.earth[0] <= 0:
        above = f"the bank rises {show(-result.earth[0], 'length', system)} above grade, z = 0"
        return [text(_LEFT - 50, _GRADE - 7, above, INK, size=_SMALL, bold=True)]
    left, right = _LEFT - 50, _LEFT + _WIDE + 90
    parts = [line(left, _GRADE, right, _GRADE, INK, 1.8)]
    ticks = range(int(left), int(right), 14)
    parts += [line(x + 8, _GRADE, x, _GRADE + 7, SOFT, 0.8) for x in ticks]
    parts.append(text(left, _GRADE - 7, "grade, z = 0", SOFT, size=_SMALL))
    x = view.left + 12
    label = f"{show(result.earth[0], 'length', system)} of earth at the least, not to scale"
    middle = (_GRADE + view.top) / 2 + 8
    parts.append(_arrow(x, _GRADE, x, view.top))
    parts.append(text(x + 9, middle, label, INK, size=_SMALL, back=PAPER))
    return parts


# --- dimensions ----------------------------------------------------------------------------------


def _across(result: BankResult, view: _View, system: str) -> list[str]:
    """Below the bank: spacing of the first two columns, clear width of the last two, over all."""
    bank, half = result.bank, result.section.diameter / 2
    level, parts = view.bottom + 24, []
    # Lines start beside the number in a duct, not through it.
    lowest = view.y(result.ducts[-1].offset[1]) + min(half * view.scale, 12.0)
    if bank.columns > 1:
        xs = [view.x(d.offset[0]) for d in result.ducts[: bank.columns]]
        spaced = show(bank.spacing[0], "diameter", system)
        parts += _level(xs[0], xs[1], lowest, level, spaced)
        clear = show(bank.spacing[0] - 2 * half, "diameter", system) + " clear"
        edge = half * view.scale
        parts += _level(xs[-2] + edge, xs[-1] - edge, lowest, level + 24, clear)
        level += 48
    whole = show(result.section.width, "diameter", system)
    return parts + _level(view.left, view.right, view.bottom, level, whole)


def _level(x1: float, x2: float, start: float, y: float, label: str) -> list[str]:
    """A dimension across with its witness lines from ``start`` px; outside where it is narrow."""
    parts = [line(x, start + 3, x, y + 5, SOFT, 0.6) for x in (x1, x2)]
    wide = _LETTER * len(label)
    if x2 - x1 > wide + 34:
        middle = (x1 + x2) / 2
        parts += [_arrow(middle - wide / 2 - 3, y, x1, y, both=False)]
        parts += [_arrow(middle + wide / 2 + 3, y, x2, y, both=False)]
        return [*parts, text(middle, y + 4, label, INK, size=_SMALL, anchor="middle", back=PAPER)]
    parts += [_arrow(x1 - 20, y, x1, y, both=False), _arrow(x2 + 20, y, x2, y, both=False)]
    return [*parts, text(x2 + 25, y + 4, label, INK, size=_SMALL, back=PAPER)]


def _upright(result: BankResult, view: _View, system: str) -> list[str]:
    """Right of the bank: cover and row spacing; left of it: over all."""
    bank, half = result.bank, result.section.diameter / 2
    first = result.ducts[0].offset[1]
    at, parts, lowest = view.right + 26, [], -1e9
    steps = []
    if bank.cover > 0:
        cover = show(bank.cover, "diameter", system) + " concrete"
        steps.append((view.top, view.y(first + half), cover))
    if bank.rows > 1:
        spaced = show(bank.spacing[1], "diameter", system)
        steps.append((view.y(first), view.y(first - bank.spacing[1]), spaced))
    side = view.x(result.ducts[bank.columns - 1].offset[0]) + min(half * view.scale, 16.0)
    for top, bottom, label in steps:
        starts = [(y, side if y > view.top else view.right + 3) for y in (top, bottom)]
        parts += [line(x, y, at + 5, y, SOFT, 0.6) for y, x in starts]
        if bottom - top > 26:
            parts.append(_arrow(at, top, at, bottom))
        else:
            parts += [_arrow(at, top - 18, at, top, both=False)]
            parts += [_arrow(at, bottom + 18, at, bottom, both=False)]
        lowest = max((top + bottom) / 2 + 4, lowest + 15)
        parts.append(text(at + 9, lowest, label, INK, size=_SMALL, back=PAPER))
    return parts + _over_all(result, view, system)


def _over_all(result: BankResult, view: _View, system: str) -> list[str]:
    x, middle = view.left - 26, (view.top + view.bottom) / 2
    parts = [line(view.left - 3, y, x - 5, y, SOFT, 0.6) for y in (view.top, view.bottom)]
    label = text(x - 8, middle, show(result.section.height, "diameter", system), INK, size=_SMALL)
    turned = f'<g transform="rotate(-90 {number(x - 8)} {number(middle)})">'
    centred = label.replace('text-anchor="start"', 'text-anchor="middle"')
    return [*parts, _arrow(x, view.top, x, view.bottom), f"{turned}{centred}</g>"]


def _arrow(x1: float, y1: float, x2: float, y2: float, *, both: bool = True) -> str:
    tips = ' marker-end="url(#tip)"' + (' marker-start="url(#tip)"' if both else "")
    return line(x1, y1, x2, y2, INK, 0.9)[:-2] + tips + "/>"


# --- figures -------------------------------------------------------------------------------------


def _panel(result: BankResult, system: str) -> tuple[list[str], float]:
    """The figures beside the drawing, and how far down they reach, px."""
    y, parts = 92.0, [text(_PANEL, 70, "Against the published figures", INK, size=13, bold=True)]
    for finding in result.findings:
        if not math.isnan(finding.limit):  # a note has none
            parts += _checked(finding, y, system)
            y += 42
    if y == 92.0:
        parts.append(text(_PANEL, y, "no figures apply", SOFT, size=12))
        y += 26
    parts.append(text(_PANEL, y + 12, "Concrete", INK, size=13, bold=True))
    y += 34
    for label, value in _amounts(result, system):
        parts.append(text(_PANEL, y, label, SOFT, size=12))
        parts.append(text(WIDTH - 30, y, value, INK, size=12, anchor="end"))
        y += 21
    return parts, y


def _checked(finding: Finding, y: float, system: str) -> Iterator[str]:
    """A figure, and below it what the table asks for and whether it is met."""
    value = show(finding.demand, finding.quantity, system)
    least = show(finding.limit, finding.quantity, system)
    short = finding.severity != "ok"
    yield text(_PANEL, y, finding.rule, INK, size=12, bold=short)
    yield text(WIDTH - 30, y, value, INK, size=12, anchor="end", bold=short)
    said = f"at least {least}: " + ("BELOW THE TABLE" if short else "met")
    yield text(_PANEL, y + 16, said, INK if short else SOFT, size=_SMALL)


def _amounts(result: BankResult, system: str) -> Iterator[tuple[str, str]]:
    if result.bank.cover == 0:
        yield "none: ducts buried directly", ""
        return
    yield "for a length of bank", per_length(result, system)
    yield "length encased", show(result.encased_length, "length", system)
    yield (
        "in all, ducts left out",
        "not known"
        if result.concrete is None
        else show(result.concrete, "concrete", system, decimals=2),
    )


def _cut(words: str, limit: int) -> str:
    return words if len(words) <= limit else words[: limit - 1] + "…"
