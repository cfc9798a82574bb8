"""A drawing of the conduit section: the wall, the cables lying in it, and the room left.

Plain SVG, the same bytes for the same input, legible in black and white: sizes of cable differ
by letter and hatching, never by color.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from xml.sax.saxutils import escape

import numpy as np
import numpy.typing as npt

from route3d.directions import isolated
from route3d.mechanics.fit import Fit

Display = Callable[[float, str], str]

WIDTH, HEIGHT = 760.0, 440.0
# Where the section stands on the sheet and how big it is drawn, px.
CX, CY, RADIUS = 215.0, 240.0, 140.0
PANEL = 470.0
INK, SOFT = "#111", "#555"
FONT = "font-family=\"'DejaVu Sans','Helvetica Neue',Arial,sans-serif\""
# Cable faces by size, largest first; patterns are defined in _DEFS.
FACES = ("#fff", "url(#dots)", "#d9d9d9", "url(#lines)", "#b0b0b0", "url(#grid)")
_DEFS = """<defs>
<pattern id="wall" width="5" height="5" patternUnits="userSpaceOnUse" \
patternTransform="rotate(45)"><rect width="5" height="5" fill="#fff"/>\
<path d="M0 0V5" stroke="#555" stroke-width="1.4"/></pattern>
<pattern id="dots" width="5" height="5" patternUnits="userSpaceOnUse">\
<rect width="5" height="5" fill="#fff"/><circle cx="2.5" cy="2.5" r=".8" fill="#777"/></pattern>
<pattern id="lines" width="4" height="4" patternUnits="userSpaceOnUse">\
<rect width="4" height="4" fill="#fff"/><path d="M0 2H4" stroke="#888" stroke-width=".8"/></pattern>
<pattern id="grid" width="5" height="5" patternUnits="userSpaceOnUse">\
<rect width="5" height="5" fill="#fff"/>\
<path d="M0 0H5M0 0V5" stroke="#888" stroke-width=".8"/></pattern>
<marker id="tip" viewBox="0 0 10 6" refX="10" refY="3" markerWidth="9" markerHeight="6" \
orient="auto-start-reverse" markerUnits="userSpaceOnUse"><path d="M0 0L10 3L0 6z" fill="#111"/>\
</marker>
</defs>"""


def section_svg(
    fit: Fit,
    centres: npt.NDArray[np.float64],
    outer_diameter: float,
    title: str = "",
    labels: Sequence[str] = (),
    display: Display = lambda value, quantity: f"{value:.4g}",
) -> str:
    """SVG text of the section of a conduit with its cables, dimensions and key figures.

    ``centres`` (N, 2) m, in the order of ``fit.diameters``, are those of ``fit.centres``;
    ``outer_diameter`` m; ``labels`` a name for each cable, or none. ``display(value, quantity)``
    turns SI values into text; the quantities asked for are "diameter", "factor" and "ratio".
    """
    if len(centres) != len(fit.diameters) or (labels and len(labels) != len(fit.diameters)):
        counts = f"{len(centres)} and {len(labels)} for {len(fit.diameters)} cables"
        raise ValueError(f"centers and labels must match fit.diameters one to one, not {counts}")
    names = tuple(labels) or ("",) * len(fit.diameters)
    kinds = sorted(set(zip(fit.diameters, names, strict=True)), key=lambda k: (-k[0], k[1]))
    of_cable = [kinds.index(k) for k in zip(fit.diameters, names, strict=True)]
    scale = 2 * RADIUS / outer_diameter
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {HEIGHT:.0f}" '
        f'width="{WIDTH:.0f}" height="{HEIGHT:.0f}" {FONT} font-size="13" fill="{INK}" role="img">',
        f"<title>{escape(title or 'Conduit section')}</title>",
        _DEFS,
        f'<rect width="{WIDTH:.0f}" height="{HEIGHT:.0f}" fill="#fff"/>',
        _text(30, 38, title, size=18, weight="bold"),
        *_conduit(fit.inner_diameter * scale / 2),
        *_cables(fit, centres, of_cable, scale, lettered=len(kinds) > 1),
        *_dimensions(fit, centres, outer_diameter, scale, display),
        *_panel(fit, kinds, of_cable, display),
        "</svg>",
    ]
    return "\n".join(p for p in parts if p) + "\n"


def _conduit(bore: float) -> list[str]:
    reach = RADIUS + 10
    return [
        _circle(CX, CY, RADIUS, "url(#wall)", 1.6),
        _circle(CX, CY, bore, "#fff", 1.6),
        _line(CX - reach, CY, CX + reach, CY, dash="14 3 3 3", soft=True),
        _line(CX, CY - reach, CX, CY + reach, dash="14 3 3 3", soft=True),
    ]


def _cables(
    fit: Fit,
    centres: npt.NDArray[np.float64],
    of_cable: Sequence[int],
    scale: float,
    *,
    lettered: bool,
) -> list[str]:
    parts = []
    for (x, y), d, kind in zip(centres, fit.diameters, of_cable, strict=True):
        px, py, r = CX + x * scale, CY - y * scale, d * scale / 2
        parts.append(_circle(px, py, r, FACES[kind % len(FACES)], 1.4))
        if lettered and r > 8:
            size = min(16.0, r)
            parts.append(_circle(px, py, 0.75 * size, "#fff", 0))
            parts.append(_text(px, py + 0.36 * size, _letter(kind), size=size, anchor="middle"))
        else:
            parts.append(_line(px - 3, py, px + 3, py) + _line(px, py - 3, px, py + 3))
    return parts


def _dimensions(
    fit: Fit, centres: npt.NDArray[np.float64], outer: float, scale: float, display: Display
) -> list[str]:
    bore, top, bottom = fit.inner_diameter * scale / 2, CY - RADIUS - 28, CY + RADIUS + 30
    parts = [
        *_across(CX - bore, CX + bore, top, "ID " + display(fit.inner_diameter, "diameter")),
        *_across(CX - RADIUS, CX + RADIUS, bottom, "OD " + display(outer, "diameter")),
    ]
    for x, side in ((CX - bore, 1), (CX + bore, 1), (CX - RADIUS, -1), (CX + RADIUS, -1)):
        # An inner witness line starts just outside the wall, an outer one on the centerline.
        start = CY - math.sqrt(RADIUS**2 - bore**2) - 4 if side > 0 else CY + 4
        parts.append(_line(x, start, x, top - 4 if side > 0 else bottom + 4, soft=True))
    return parts + _gap(fit, centres, bore, scale, display)


def _gap(
    fit: Fit, centres: npt.NDArray[np.float64], bore: float, scale: float, display: Display
) -> list[str]:
    """The clearance: from the level of the highest cable to the crown, measured at the right."""
    tops = centres[:, 1] + np.asarray(fit.diameters) / 2
    highest = int(np.lexsort((-centres[:, 0], -np.round(tops / fit.inner_diameter, 6)))[0])
    x, crown, level = CX + RADIUS + 24, CY - bore, CY - float(tops[highest]) * scale
    parts = [
        _line(CX + 3, crown, x + 5, crown, soft=True),
        _line(CX + centres[highest, 0] * scale + 3, level, x + 5, level, soft=True),
    ]
    if level - crown > 26:
        parts.append(_arrow(x, crown, x, level, both=True))
    else:  # too tight for two arrows inside: point at it from both sides
        parts += [_arrow(x, crown - 18, x, crown), _arrow(x, level + 18, x, level)]
    middle = (crown + level) / 2 + 4
    return [
        *parts,
        _text(x + 8, middle, display(fit.clearance, "diameter"), backed=True),
        _text(x + 8, middle + 14, "clear", size=11, soft=True),
    ]


def _across(x1: float, x2: float, y: float, label: str) -> list[str]:
    gap = 4.2 * len(label) + 6
    middle = (x1 + x2) / 2
    return [
        _arrow(middle - gap, y, x1, y),
        _arrow(middle + gap, y, x2, y),
        _text(middle, y + 4.5, label, anchor="middle"),
    ]


def _panel(
    fit: Fit, kinds: Sequence[tuple[float, str]], of_cable: Sequence[int], display: Display
) -> list[str]:
    """The figures beside the drawing: cables first, then how they lie."""
    y, parts = 92.0, []
    for kind, (d, name) in enumerate(kinds[:8]):
        parts.append(_circle(PANEL + 9, y - 4.5, 9, FACES[kind % len(FACES)], 1.2))
        if len(kinds) > 1:
            parts.append(_circle(PANEL + 9, y - 4.5, 6.5, "#fff", 0))
            parts.append(_text(PANEL + 9, y, _letter(kind), size=11, anchor="middle"))
        text = f"{of_cable.count(kind)} × {display(d, 'diameter')}"
        if len(kinds) > 3:  # one line each, or they run off the sheet
            text = _cut(f"{text}  {name}".rstrip(), 26)
        elif name:
            parts.append(_text(PANEL + 28, y + 16, _cut(name, 30), size=12, soft=True))
        parts.append(_text(PANEL + 28, y, text))
        y += 42 if name and len(kinds) <= 3 else 25
    if len(kinds) > 8:
        parts.append(_text(PANEL + 28, y, f"and {len(kinds) - 8} more sizes", soft=True))
        y += 25
    parts.append(_line(PANEL, y - 8, WIDTH - 30, y - 8, soft=True))
    y += 16
    for label, value in _figures(fit, display):
        parts.append(_text(PANEL, y, label, soft=True))
        parts.append(_text(WIDTH - 30, y, value, anchor="end"))
        y += 22
    return parts


def _figures(fit: Fit, display: Display) -> Iterable[tuple[str, str]]:
    yield "Arrangement", fit.arrangement
    yield "Weight factor", display(fit.weight_factor, "factor")
    for way in fit.alternatives:
        if way.arrangement != fit.arrangement:
            yield f"   if {way.arrangement}", display(way.weight_factor, "factor")
    yield "Fill", f"{100 * fit.fill:.1f} %"
    yield "Clearance", display(fit.clearance, "diameter")
    if fit.jam_ratio is not None and fit.jam_ratio_oval is not None:
        yield "Jam ratio D/d", display(fit.jam_ratio, "ratio")
        yield "   in oval bends, 1.05 D/d", display(fit.jam_ratio_oval, "ratio")
    if fit.enclosing_diameter is not None and len(fit.diameters) > 1:
        yield "Circle round the cables", display(fit.enclosing_diameter, "diameter")


def _letter(kind: int) -> str:
    return "ABCDEFGHIJKLMNOPQRSTUVWXYZ"[kind % 26]


def _cut(text: str, limit: int) -> str:
    return text if len(text) <= limit else text[: limit - 1] + "…"


def _n(value: float) -> str:
    """A coordinate with two decimals and no minus zero: drawings must not differ by rounding."""
    return f"{round(float(value), 2) + 0.0:.2f}"


def _circle(x: float, y: float, r: float, fill: str, width: float) -> str:
    edge = f' stroke="{INK}" stroke-width="{width}"' if width else ""
    return f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(r)}" fill="{fill}"{edge}/>'


def _line(x1: float, y1: float, x2: float, y2: float, *, dash: str = "", soft: bool = False) -> str:
    colour, width = (SOFT, 0.6) if soft else (INK, 0.9)
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    ends = f'x1="{_n(x1)}" y1="{_n(y1)}" x2="{_n(x2)}" y2="{_n(y2)}"'
    return f'<line {ends} stroke="{colour}" stroke-width="{width}"{dashes}/>'


def _arrow(x1: float, y1: float, x2: float, y2: float, *, both: bool = False) -> str:
    tips = ' marker-end="url(#tip)"' + (' marker-start="url(#tip)"' if both else "")
    return _line(x1, y1, x2, y2)[:-2] + tips + "/>"


def _text(
    x: float,
    y: float,
    text: str,
    *,
    size: float = 13,
    anchor: str = "start",
    weight: str = "normal",
    soft: bool = False,
    backed: bool = False,
) -> str:
    if not text:
        return ""
    look = f'font-size="{_n(size)}" text-anchor="{anchor}"'
    look += f' font-weight="{weight}"' if weight != "normal" else ""
    look += f' fill="{SOFT}"' if soft else ""
    # A white outline keeps letters clear of the lines behind them.
    look += ' stroke="#fff" stroke-width="4" paint-order="stroke"' if backed else ""
    space = ' xml:space="preserve"' if text != text.strip() else ""
    return f'<text x="{_n(x)}" y="{_n(y)}" {look}{space}>{escape(isolated(text))}</text>'
