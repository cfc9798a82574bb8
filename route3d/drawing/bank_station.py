"""The section of a duct bank at one station: ducts and their runs, ground, earth cover and trench.

To scale, seen along the route, plumb lines upright. Where trench and ground leave the ducts too
small to be numbered, the bank is drawn once more below, larger.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from route3d.drawing.bank_section import (
    SectionView,
    across_marks,
    concrete_marks,
    counted,
    duct_marks,
    level_dimension,
    turned,
    upright_marks,
    words_free,
)
from route3d.drawing.marks import Line, Mark, Rect, Shape, arrow, written
from route3d.drawing.picture import Picture
from route3d.drawing.section import INK, PAPER, SOFT, cut, over_title
from route3d.errors import InputError, Problem
from route3d.geometry.encasement import ConcreteSection, section
from route3d.geometry.rmf_frames import STEEP, frames_at
from route3d.geometry.vectors import Floats
from route3d.model.examples import MOST_NAMED, example_banner
from route3d.planning.bank import BankResult
from route3d.planning.bank_trench import TrenchSection, trench_at
from route3d.units import render, show, show_marked

WIDTH = 860
# The box of the drawing, px, and the panel of figures beside it.
_LEFT, _TOP, _WIDE, _HIGH = 84.0, 96.0, 400.0, 400.0
_PANEL = 585.0
_SMALL = 11.0
# The bank is drawn once more where it is narrower than this, px, within this box.
_LEAST, _DETAIL = 190.0, (300.0, 230.0)
# Rows level within this are dimensioned, rad.
_LEVEL = math.radians(0.5)
_MOST_DUCTS = 24
# Beyond the trench the ground is drawn this far, of its width.
_BEYOND = 0.2


def refuse_station(result: BankResult, station: float, system: str) -> None:
    """InputError for a station off the bank."""
    if not 0.0 <= station <= result.center.length:
        ends = " to ".join(show(s, "length", system) for s in (0.0, result.center.length))
        said = f"station {show(station, 'length', system)} is not on run {result.run.name}"
        raise InputError(Problem(said, where="--at", fix=f"the run has stations {ends}"))


def bank_station(
    result: BankResult, station: float, system: str, examples: Sequence[str] = ()
) -> Picture:
    """The section of a bank at a station, m; ``examples`` are tables nobody has confirmed."""
    refuse_station(result, station, system)
    drawn = _Drawn(result, station, system)
    where = show(station, "length", system)
    title = f"{result.run.name}: duct bank, section at station {where}"
    figures, foot = _figures(drawn)
    detail, low = _detail(drawn)
    high = round(max(low, foot + 20) + 50)
    earth = list(_earth(drawn))
    marks: list[Mark] = [
        *over_title(example_banner(examples, MOST_NAMED)),
        written(30, 38, cut(title, 70), 18, INK, bold=True),
        *earth[:-1],
        *concrete_marks(drawn.shown, drawn.view, drawn.roll),
        *duct_marks(drawn.shown, drawn.view, drawn.roll, drawn.conduit),
        *words_free(
            [*_dimensions(drawn), *earth[-1:]],
            (20.0, 50.0, _PANEL - 15, drawn.lowest + 66),
            [drawn.box],
            earth,
        ),
        *detail,
        *figures,
        written(30, high - 22, cut(f"View along the route, {_ends(result)}.", 110), 12, SOFT),
    ]
    return Picture(marks, (WIDTH, high), title)


def _ends(result: BankResult) -> str:
    route = result.run.route
    return f"from {route.label(0)} to {route.label(len(route.vertices) - 1)}; plumb lines upright"


class _Drawn:
    """What is drawn, and where on the sheet: right and up of the run's line in m, to px."""

    def __init__(self, result: BankResult, station: float, system: str) -> None:
        self.result, self.station, self.system = result, station, system
        center, run = result.center, result.run
        segment = int(center.locate(station)[0])
        self.conduit = run.route.conduits[int(center.leg[segment])]
        widest = max(c.outer_diameter for c in run.route.conduits)
        shape = section(result.bank, widest, self.conduit.outer_diameter)
        self.shown = replace(result, section=shape)
        self.in_concrete = any(a <= station <= b for a, b in result.stretches)
        self.below = any(a <= station <= b for a, b in result.below)
        self.known = not any(a < station < b for a, b in result.outside)
        self.trench = trench_at(result, station) if self.in_concrete else None
        tangent = center.tangent(station)
        self.steep = abs(float(tangent[2])) > STEEP
        self.roll = 0.0 if self.steep else _roll(result, station, tangent)
        self.ground = self._ground()
        self._place(shape)

    @property
    def side(self) -> float | None:
        """The working space, where a trench is asked for and the bank is below grade."""
        return self.result.bank.trench_side if self.below else None

    @property
    def box(self) -> Rect:
        """What the bank takes on the sheet."""
        view = self.view
        return (view.x(-self.half), view.y(self.up), view.x(self.half), view.y(-self.up))

    def _reach(self, shape: ConcreteSection) -> tuple[float, float]:
        """Half of what the turned bank takes across, and upright, m."""
        corners = [turned((float(x), float(y)), self.roll) for x, y in shape.corners]
        return max(abs(x) for x, _ in corners), max(abs(y) for _, y in corners)

    def _ground(self) -> Floats | None:
        """The ground across, (k, 2) m right and up of the run's line; None where none is drawn."""
        cutting = self.trench
        if cutting is None or not math.isfinite(cutting.ground):
            return None
        sides = [t for t in cutting.out if math.isfinite(t)]
        half = (cutting.half + max(sides, default=0.0)) * (1 + _BEYOND)
        right = np.linspace(-half, half, 81)
        grade = self.result.grade
        z = grade.at(cutting.point[None, :2] + right[:, None] * cutting.across[None, :2])
        z = np.where(np.isnan(z), cutting.ground, z)
        return np.column_stack((right, z - cutting.point[2]))

    def _place(self, shape: ConcreteSection) -> None:
        """Scale and place, so that bank, ground and trench are on the sheet."""
        half, up = self._reach(shape)
        bottom, top, wide = -up, up, half
        if self.ground is not None:
            top, wide = max(top, float(self.ground[:, 1].max())), float(self.ground[-1, 0])
            bottom = min(bottom, float(self.ground[:, 1].min()))
        if self.trench is not None and self.side is not None:
            bottom = min(bottom, -self.trench.below)
        scale = min(_WIDE / (2 * wide), _HIGH / (top - bottom))
        self.view = SectionView(shape, scale, (_LEFT + _WIDE / 2, _TOP + top * scale))
        self.half, self.up = half, up
        self.lowest = self.view.y(bottom)


def _roll(result: BankResult, station: float, tangent: Floats) -> float:
    """How far the bank is turned clockwise from upright, seen along the route, rad."""
    right, up = frames_at(result.center, np.array([station]), result.starts)[0]
    level = np.cross(tangent, np.array([0.0, 0.0, 1.0]))
    level = level / np.linalg.norm(level)
    return math.atan2(float(up @ level), float(right @ level))


# --- earth ---------------------------------------------------------------------------------------


def _earth(drawn: _Drawn) -> Iterator[Mark]:
    """The ground line with its hatching, trench and bedding; last the name of the ground."""
    if drawn.ground is None:
        return
    line = [drawn.view.at((float(x), float(y))) for x, y in drawn.ground]
    yield Line(line, INK, 1.8)
    for x, y in line[2:-1:3]:
        yield Line(((x, y), (x - 8, y + 7)), SOFT, 0.8)
    if drawn.side is not None and drawn.trench is not None:
        yield from _trench(drawn, drawn.trench)
    name = render(drawn.result.grade.said, drawn.system)
    yield written(line[0][0], line[0][1] - 8, cut(name, 60), _SMALL, SOFT, back=PAPER)


def _trench(drawn: _Drawn, cutting: TrenchSection) -> Iterator[Mark]:
    half, floor, bedding = cutting.half, -cutting.below, drawn.result.bank.bedding or 0.0
    slope = drawn.result.bank.trench_slope or 0.0
    assert drawn.ground is not None
    for side, out in zip((-1.0, 1.0), cutting.out, strict=True):
        if not math.isfinite(out):
            continue
        top = float(np.interp(side * (half + out), drawn.ground[:, 0], drawn.ground[:, 1]))
        ends = (drawn.view.at((side * half, floor)), drawn.view.at((side * (half + out), top)))
        yield Line(ends, INK, 1.0, dash="7 4")
    bottom = (drawn.view.at((-half, floor)), drawn.view.at((half, floor)))
    yield Line(bottom, INK, 1.0, dash="7 4")
    if bedding > 0:
        wide = half + bedding * slope
        corners = ((-half, floor), (half, floor), (wide, floor + bedding), (-wide, floor + bedding))
        yield Shape([drawn.view.at(c) for c in corners], "dots", SOFT, 0.6)


# --- dimensions ----------------------------------------------------------------------------------


def _dimensions(drawn: _Drawn) -> Iterator[Mark]:
    system, shape = drawn.system, drawn.shown.section
    level = drawn.lowest + 24
    if abs(drawn.roll) <= _LEVEL:
        wide = show(shape.width, "diameter", system)
        left, right = drawn.view.left, drawn.view.right
        yield from level_dimension(left, right, drawn.view.bottom, level, wide)
        level += 24
    cutting = drawn.trench
    if cutting is None or drawn.ground is None:
        return
    if drawn.side is not None:
        floor = show(2 * cutting.half, "diameter", system) + " trench"
        left, right = drawn.view.x(-cutting.half), drawn.view.x(cutting.half)
        yield from level_dimension(left, right, drawn.lowest, level, floor)
        x = (drawn.view.x(-cutting.half) + drawn.view.left) / 2
        right = (x - drawn.view.x(0.0)) / drawn.view.scale
        over = float(np.interp(right, drawn.ground[:, 0], drawn.ground[:, 1]))
        deep = show(max(cutting.below + over, 0.0), "length", system) + " deep"
        top, bottom = drawn.view.y(over), drawn.view.y(-cutting.below)
        yield from arrow((x, top), (x, bottom), INK, both=True)
        yield written(x - 6, top + (bottom - top) / 3, deep, _SMALL, INK, "right", back=PAPER)
    if drawn.below and cutting.cover > 0:
        x = drawn.view.x(cutting.cover_at)
        over = float(np.interp(cutting.cover_at, drawn.ground[:, 0], drawn.ground[:, 1]))
        ground, top = drawn.view.y(over), drawn.view.y(drawn.up)
        yield from arrow((x, ground), (x, top), INK, both=True)
        words = show_marked(cutting.cover, "length-", system) + " cover"
        yield written(x + 7, (ground + top) / 2 + 4, words, _SMALL, INK, back=PAPER)


def _detail(drawn: _Drawn) -> tuple[list[Mark], float]:
    """The bank once more where it is small, with its dimensions; and how far down, px."""
    low = drawn.lowest + 24 * (1 + (drawn.side is not None)) + 12
    if 2 * drawn.half * drawn.view.scale >= _LEAST:
        return [], low
    scale = min(_DETAIL[0] / (2 * drawn.half), _DETAIL[1] / (2 * drawn.up))
    center = (_LEFT + _WIDE / 2, low + 44 + drawn.up * scale)
    view = SectionView(drawn.shown.section, scale, center)
    marks: list[Mark] = [
        written(30, low + 26, "The bank, larger", 13, INK, bold=True),
        *concrete_marks(drawn.shown, view, drawn.roll),
        *duct_marks(drawn.shown, view, drawn.roll, drawn.conduit),
    ]
    low = center[1] + drawn.up * scale
    if abs(drawn.roll) <= _LEVEL:
        ways = (across_marks, upright_marks)
        found = [m for way in ways for m in way(drawn.shown, view, drawn.system)]
        box = (view.left, view.top, view.right, view.bottom)
        low += 84
        marks += words_free(found, (20.0, view.top - 10, _PANEL - 15, low), [box])
    return marks, low


# --- figures -------------------------------------------------------------------------------------


def _figures(drawn: _Drawn) -> tuple[list[Mark], float]:
    """The figures of the section and the ducts with their runs; and how far down they reach."""
    y = 70.0
    marks: list[Mark] = [written(_PANEL, y, "At this station", 13, INK, bold=True)]
    y += 22
    for label, value in _told(drawn):
        marks.append(written(_PANEL, y, label, 12, SOFT))
        marks.append(written(WIDTH - 30, y, value, 12, INK, "right"))
        y += 20
    y += 14
    marks.append(written(_PANEL, y, f"Ducts: {drawn.conduit.label}", 13, INK, bold=True))
    y += 22
    ducts = drawn.result.ducts
    for duct in ducts[:_MOST_DUCTS]:
        run = drawn.result.bank.run_in(duct.row, duct.column)
        marks.append(written(_PANEL, y, f"{duct.row}-{duct.column}", 12, SOFT))
        marks.append(written(WIDTH - 30, y, cut(run, 30) or "no run assigned", 12, INK, "right"))
        y += 18
    if len(ducts) > _MOST_DUCTS:
        more = f"and {counted(len(ducts) - _MOST_DUCTS, 'duct')} more"
        marks.append(written(_PANEL, y, more, 12, SOFT))
        y += 18
    return marks, y


def _buried(drawn: _Drawn, cutting: TrenchSection) -> Iterator[tuple[str, str]]:
    """The earth over the bank, or how far it lies out of the ground."""
    high, system = drawn.result.upright_at(drawn.station), drawn.system
    if not drawn.below:
        yield "above the ground, bottom", show(-cutting.cover - high, "length", system)
    elif cutting.cover < 0:
        yield "rises above the ground", show(-cutting.cover, "diameter", system)
        yield "below the ground", show(max(high + cutting.cover, 0.0), "diameter", system)
    else:
        yield "minimum earth cover", show_marked(cutting.cover, "length-", system)


def _told(drawn: _Drawn) -> Iterator[tuple[str, str]]:
    bank, system, cutting = drawn.result.bank, drawn.system, drawn.trench
    z = float(drawn.result.center.point(drawn.station)[2])
    yield "elevation of the centerline", show(z, "length", system)
    if cutting is not None and math.isfinite(cutting.ground):
        yield "elevation of the ground", show(cutting.ground, "length", system)
        yield from _buried(drawn, cutting)
    elif drawn.steep:
        yield "steeper than 45°", "no ground drawn"
    elif not drawn.known:
        yield "ground", "not known here"
    elif not drawn.in_concrete:
        yield "above grade or in a box", "no concrete"
    else:
        yield "ground", "not known here"
    shape = drawn.shown.section
    if bank.cover > 0:
        size = " by ".join(show(v, "diameter", system) for v in (shape.width, shape.height))
        yield "concrete", size if drawn.in_concrete else "none here"
    if bank.columns > 1:
        yield "spacing across", show(bank.spacing[0], "diameter", system)
    if bank.rows > 1:
        yield "spacing between rows", show(bank.spacing[1], "diameter", system)
    yield "concrete cover", show(bank.cover, "diameter", system)
    if abs(drawn.roll) > _LEVEL:
        yield "rows tilt", show(abs(drawn.roll), "angle", system)
    if drawn.side is not None and cutting is not None:
        yield "working space each side", show(drawn.side, "diameter", system)
        yield "slope of the sides", f"{bank.trench_slope or 0.0:g} to 1"
        yield "bedding", show(bank.bedding or 0.0, "diameter", system)
