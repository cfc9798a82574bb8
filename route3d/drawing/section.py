"""The section of a conduit: the wall, the cables in it, and the clearance.

Legible in black and white: sizes of cable differ by letter and hatching, never by color.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence

import numpy as np

from route3d.drawing import svg
from route3d.drawing.marks import Align, Line, Mark, Ring, Text, arrow, written
from route3d.geometry.vectors import Floats
from route3d.mechanics.fit import Fit
from route3d.model.cable import Cable
from route3d.model.examples import MOST_NAMED, example_banner
from route3d.planning.result import RunResult
from route3d.units import show

Display = Callable[[float, str], str]

WIDTH, HEIGHT = 760.0, 440.0
# Where the section stands on the sheet and how big it is drawn, px.
CX, CY, RADIUS = 215.0, 240.0, 140.0
PANEL = 470.0
INK, SOFT, PAPER = "#111", "#555", "#fff"
# Cable faces by size, largest first.
FACES = ("#fff", "dots", "#d9d9d9", "lines", "#b0b0b0", "grid")


def tightest(runs: Sequence[RunResult]) -> RunResult:
    """The run with the highest conduit fill."""
    return max(runs, key=lambda run: run.governing_fit.fill)


def section_of(run: RunResult, system: str, examples: Sequence[str] = ()) -> str:
    """SVG of the conduit with the highest fill of a run.

    ``examples`` are the tables of the job whose values nobody has confirmed.
    """
    fit, cables = run.governing_fit, run.run.cables
    conduit = run.run.route.conduits[run.fits.index(fit)]
    names = [name for items in (cables.mains, cables.riders) for name in _by_size(items)]
    return section_svg(
        fit,
        fit.centers,
        conduit.outer_diameter,
        f"{run.run.name}: {cables.describe()} in {conduit.label}",
        names,
        lambda value, quantity: show(value, quantity, system),
        example_banner(examples, MOST_NAMED),
    )


def _by_size(items: Sequence[tuple[Cable, int]]) -> list[str]:
    """The name of every cable, largest diameter first, as ``Fit.diameters`` has them."""
    each = [cable for cable, n in items for _ in range(n)]
    return [cable.name for cable in sorted(each, key=lambda c: -c.diameter)]


def section_svg(
    fit: Fit,
    centers: Floats,
    outer_diameter: float,
    title: str = "",
    labels: Sequence[str] = (),
    display: Display = lambda value, quantity: f"{value:.4g}",
    banner: str = "",
) -> str:
    """SVG text of the section of a conduit with its cables, dimensions and key figures.

    ``centers`` (N, 2) m, in the order of ``fit.diameters``, are those of ``fit.centers``;
    ``outer_diameter`` m; ``labels`` a name for each cable, or none. ``display(value, quantity)``
    turns SI values into text; the quantities asked for are "diameter", "factor" and "ratio".
    ``banner`` stands over the title.
    """
    if len(centers) != len(fit.diameters) or (labels and len(labels) != len(fit.diameters)):
        counts = f"{len(centers)} and {len(labels)} for {len(fit.diameters)} cables"
        raise ValueError(f"centers and labels must match fit.diameters one to one, not {counts}")
    names = tuple(labels) or ("",) * len(fit.diameters)
    kinds = sorted(set(zip(fit.diameters, names, strict=True)), key=lambda k: (-k[0], k[1]))
    of_cable = [kinds.index(k) for k in zip(fit.diameters, names, strict=True)]
    scale = 2 * RADIUS / outer_diameter
    reach = RADIUS + 10
    marks: list[Mark] = [
        *over_title(banner),
        written(30, 38, title, 18, INK, bold=True),
        Ring((CX, CY), RADIUS, INK, 1.6, "wall"),
        Ring((CX, CY), fit.inner_diameter * scale / 2, INK, 1.6, PAPER),
        Line(((CX - reach, CY), (CX + reach, CY)), SOFT, 0.6, "14 3 3 3"),
        Line(((CX, CY - reach), (CX, CY + reach)), SOFT, 0.6, "14 3 3 3"),
        *_cables(fit, centers, of_cable, scale, lettered=len(kinds) > 1),
        *_dimensions(fit, centers, outer_diameter, scale, display),
        *_panel(fit, kinds, of_cable, display),
    ]
    return svg.document(marks, (WIDTH, HEIGHT), title=title or "Conduit section")


def over_title(banner: str) -> list[Mark]:
    """A banner over the title of a section; nothing where there is none."""
    return [written(30, 17, cut(banner, 105), 12, INK, bold=True)] if banner else []


def _cables(
    fit: Fit, centers: Floats, of_cable: Sequence[int], scale: float, *, lettered: bool
) -> list[Mark]:
    marks: list[Mark] = []
    for (x, y), d, kind in zip(centers, fit.diameters, of_cable, strict=True):
        px, py, r = CX + x * scale, CY - y * scale, d * scale / 2
        marks.append(Ring((px, py), r, INK, 1.4, FACES[kind % len(FACES)]))
        if lettered and r > 8:
            size = min(16.0, r)
            marks.append(Ring((px, py), 0.75 * size, "", 0, PAPER))
            marks.append(Text((px, py), _letter(kind), size, INK, align="middle"))
        else:
            marks += [_soft(px - 3, py, px + 3, py, INK), _soft(px, py - 3, px, py + 3, INK)]
    return marks


def _soft(x1: float, y1: float, x2: float, y2: float, color: str = SOFT) -> Line:
    return Line(((x1, y1), (x2, y2)), color, 0.6 if color == SOFT else 0.9)


def _said(x: float, y: float, text: str, align: Align = "left", *, soft: bool = False) -> Text:
    return written(x, y, text, 13, SOFT if soft else INK, align)


def _dimensions(
    fit: Fit, centers: Floats, outer: float, scale: float, display: Display
) -> list[Mark]:
    bore, top, bottom = fit.inner_diameter * scale / 2, CY - RADIUS - 28, CY + RADIUS + 30
    marks = [
        *_across(CX - bore, CX + bore, top, "ID " + display(fit.inner_diameter, "diameter")),
        *_across(CX - RADIUS, CX + RADIUS, bottom, "OD " + display(outer, "diameter")),
    ]
    for x, side in ((CX - bore, 1), (CX + bore, 1), (CX - RADIUS, -1), (CX + RADIUS, -1)):
        # An inner witness line starts just outside the wall, an outer one on the centerline.
        start = CY - math.sqrt(RADIUS**2 - bore**2) - 4 if side > 0 else CY + 4
        marks.append(_soft(x, start, x, top - 4 if side > 0 else bottom + 4))
    return marks + _gap(fit, centers, bore, scale, display)


def _gap(fit: Fit, centers: Floats, bore: float, scale: float, display: Display) -> list[Mark]:
    """The clearance: from the level of the highest cable to the crown, measured at the right."""
    tops = centers[:, 1] + np.asarray(fit.diameters) / 2
    highest = int(np.lexsort((-centers[:, 0], -np.round(tops / fit.inner_diameter, 6)))[0])
    x, crown, level = CX + RADIUS + 24, CY - bore, CY - float(tops[highest]) * scale
    marks: list[Mark] = [
        _soft(CX + 3, crown, x + 5, crown),
        _soft(CX + centers[highest, 0] * scale + 3, level, x + 5, level),
    ]
    if level - crown > 26:
        marks += arrow((x, crown), (x, level), INK, both=True)
    else:  # too tight for two arrows inside: point at it from both sides
        marks += arrow((x, crown - 18), (x, crown), INK) + arrow((x, level + 18), (x, level), INK)
    middle = (crown + level) / 2 + 4
    told = display(fit.clearance, "diameter")
    return [
        *marks,
        written(x + 8, middle, told, 13, INK, back=PAPER),
        written(x + 8, middle + 14, "clear", 11, SOFT),
    ]


def _across(x1: float, x2: float, y: float, label: str) -> list[Mark]:
    gap, middle = 4.2 * len(label) + 6, (x1 + x2) / 2
    return [
        *arrow((middle - gap, y), (x1, y), INK),
        *arrow((middle + gap, y), (x2, y), INK),
        Text((middle, y), label, 13, INK, align="middle"),
    ]


def _panel(
    fit: Fit, kinds: Sequence[tuple[float, str]], of_cable: Sequence[int], display: Display
) -> list[Mark]:
    """The figures beside the drawing: cables first, then their arrangement."""
    y = 92.0
    marks: list[Mark] = []
    for kind, (d, name) in enumerate(kinds[:8]):
        marks.append(Ring((PANEL + 9, y - 4.5), 9, INK, 1.2, FACES[kind % len(FACES)]))
        if len(kinds) > 1:
            marks.append(Ring((PANEL + 9, y - 4.5), 6.5, "", 0, PAPER))
            marks.append(written(PANEL + 9, y, _letter(kind), 11, INK, "middle"))
        text = f"{of_cable.count(kind)} × {display(d, 'diameter')}"
        if len(kinds) > 3:  # one line each, or they run off the sheet
            text = cut(f"{text}  {name}".rstrip(), 26)
        elif name:
            marks.append(written(PANEL + 28, y + 16, cut(name, 30), 12, SOFT))
        marks.append(_said(PANEL + 28, y, text))
        y += 42 if name and len(kinds) <= 3 else 25
    if len(kinds) > 8:
        marks.append(_said(PANEL + 28, y, f"and {len(kinds) - 8} more sizes", soft=True))
        y += 25
    marks.append(_soft(PANEL, y - 8, WIDTH - 30, y - 8))
    y += 16
    for label, value in _figures(fit, display):
        marks += [_said(PANEL, y, label, soft=True), _said(WIDTH - 30, y, value, "right")]
        y += 22
    return marks


def _figures(fit: Fit, display: Display) -> Iterable[tuple[str, str]]:
    yield "Arrangement", fit.arrangement
    yield "Weight factor", display(fit.weight_factor, "factor")
    for way in fit.alternatives:
        if way.arrangement != fit.arrangement:
            yield f"   if {way.arrangement}", display(way.weight_factor, "factor")
    yield "Fill", f"{100 * fit.fill:.1f}%"
    yield "Clearance", display(fit.clearance, "diameter")
    if fit.jam_ratio is not None and fit.jam_ratio_oval is not None:
        yield "Jam ratio D/d", display(fit.jam_ratio, "ratio")
        yield "   in oval bends, 1.05 D/d", display(fit.jam_ratio_oval, "ratio")
    if fit.enclosing_diameter is not None and len(fit.diameters) > 1:
        yield "Circle around the cables", display(fit.enclosing_diameter, "diameter")


def _letter(kind: int) -> str:
    return "ABCDEFGHIJKLMNOPQRSTUVWXYZ"[kind % 26]


def cut(text: str, limit: int) -> str:
    """A text of at most so many letters."""
    return text if len(text) <= limit else text[: limit - 1] + "…"
