"""The section of a duct bank as a drawing: concrete, ducts, dimensions, grade, and the figures.

Legible in black and white. The bank is to scale; the earth over it is not.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from route3d.checks.finding import Finding
from route3d.drawing.labels import PICTURE, LabelRoom, Wish
from route3d.drawing.marks import Line, Mark, Rect, Ring, Shape, Text, arrow, written
from route3d.drawing.picture import Picture
from route3d.drawing.section import INK, PAPER, SOFT, cut, over_title
from route3d.geometry.encasement import ConcreteSection
from route3d.model.conduit import Conduit
from route3d.model.examples import MOST_NAMED, example_banner
from route3d.planning.bank import BankResult
from route3d.units import parse, render, show

if TYPE_CHECKING:
    from shapely.coords import CoordinateSequence

WIDTH = 860.0
# The box of the drawing: what the concrete is fitted into, px.
_LEFT, _TOP, _WIDE, _HIGH = 90.0, 150.0, 300.0, 250.0
_GRADE = 84.0
_PANEL = 545.0
_SMALL = 11.0
# Words of dimensions keep off lines; one that moves goes at most so far, px.
_FREE = replace(PICTURE, gap=5.0, cover=math.inf, turn=60.0)
_REACH = 120.0


class SectionView:
    """From meters right and up of the middle of the bank, at ``center`` px, to px on the sheet."""

    def __init__(self, shape: ConcreteSection, scale: float, center: tuple[float, float]) -> None:
        self.scale, (self.cx, self.cy) = scale, center
        half_wide, half_high = shape.width * scale / 2, shape.height * scale / 2
        self.left, self.right = self.cx - half_wide, self.cx + half_wide
        self.top, self.bottom = self.cy - half_high, self.cy + half_high

    def x(self, right: float) -> float:
        """Px across for a distance to the right, m."""
        return self.cx + right * self.scale

    def y(self, up: float) -> float:
        """Px down for a distance up, m."""
        return self.cy - up * self.scale

    def at(self, point: tuple[float, float]) -> tuple[float, float]:
        """Px of a point right and up, m."""
        return self.x(point[0]), self.y(point[1])


def bank_section(result: BankResult, system: str, examples: Sequence[str] = ()) -> Picture:
    """The section of a bank with its dimensions and figures.

    ``examples`` are the tables of the job whose values nobody has confirmed.
    """
    shape, bank = result.section, result.bank
    scale = min(_WIDE / shape.width, _HIGH / shape.height)
    view = SectionView(shape, scale, (_LEFT + _WIDE / 2, _TOP + shape.height * scale / 2))
    kind = ", ".join(dict.fromkeys(c.label for c in result.run.route.conduits))
    title = f"{result.run.name}: duct bank, {counted(bank.rows, 'row')} of {bank.columns}, {kind}"
    panel, foot = _panel(result, system)
    ways = (_grade, across_marks, upright_marks)
    dimensions = [mark for way in ways for mark in way(result, view, system)]
    high = max(view.bottom + 84, foot) + 44
    marks: list[Mark] = [
        *over_title(example_banner(examples, MOST_NAMED)),
        written(30, 38, cut(title, 70), 18, INK, bold=True),
        *concrete_marks(result, view),
        *duct_marks(result, view),
        *words_free(dimensions, (20.0, 50.0, _PANEL - 15, view.bottom + 84), [_box(view)]),
        *panel,
        written(30, high - 22, cut(f"View {looking(result)}.", 100), 12, SOFT),
    ]
    return Picture(marks, (round(WIDTH), round(high)), title)


# --- the bank ------------------------------------------------------------------------------------


def concrete_marks(result: BankResult, view: SectionView, roll: float = 0.0) -> list[Mark]:
    """The concrete without the ducts, turned by ``roll`` rad clockwise."""
    if result.bank.cover == 0:
        return []

    def loop(coordinates: CoordinateSequence) -> tuple[tuple[float, float], ...]:
        return tuple(view.at(turned((x, y), roll)) for x, y in list(coordinates)[:-1])

    polygon = result.section.polygon(sides=64)
    holes = tuple(loop(ring.coords) for ring in polygon.interiors)
    return [Shape(loop(polygon.exterior.coords), "concrete", INK, 1.8, holes)]


def turned(point: tuple[float, float], roll: float) -> tuple[float, float]:
    """A point of the section (right, up) turned clockwise."""
    x, y = point
    return (
        x * math.cos(roll) + y * math.sin(roll),
        y * math.cos(roll) - x * math.sin(roll),
    )


def duct_marks(
    result: BankResult, view: SectionView, roll: float = 0.0, conduit: Conduit | None = None
) -> list[Mark]:
    """The ducts with their rows and columns; by default the widest conduit of the run."""
    conduit = conduit or max(result.run.route.conduits, key=lambda c: c.outer_diameter)
    outer, bore = (d * view.scale / 2 for d in (conduit.outer_diameter, conduit.inner_diameter))
    size = min(13.0, bore * 0.6)
    marks: list[Mark] = []
    for duct in result.ducts:
        at = view.at(turned(duct.offset, roll))
        marks += [Ring(at, outer, INK, 1.6, PAPER), Ring(at, bore, INK, 0.8, PAPER)]
        if size >= 5:
            marks.append(Text(at, f"{duct.row}-{duct.column}", size, INK, align="middle"))
    return marks


def _grade(result: BankResult, view: SectionView, system: str) -> list[Mark]:
    """Grade, and the minimum earth cover where the bank is below grade."""
    if result.earth is None:
        return []
    ground = render(result.grade.said, system)
    if result.earth[0] <= 0:
        above = f"the bank rises {show(-result.earth[0], 'length', system)} above {ground}"
        return [written(_LEFT - 50, _GRADE - 7, above, _SMALL, INK, bold=True)]
    left, right = _LEFT - 50, _LEFT + _WIDE + 90
    marks: list[Mark] = [Line(((left, _GRADE), (right, _GRADE)), INK, 1.8)]
    ticks = range(int(left), int(right), 14)
    marks += [Line(((x + 8, _GRADE), (x, _GRADE + 7)), SOFT, 0.8) for x in ticks]
    marks.append(written(left, _GRADE - 7, ground, _SMALL, SOFT))
    x = view.left + 12
    label = f"minimum earth cover {show(result.earth[0], 'length', system)}, not to scale"
    middle = (_GRADE + view.top) / 2 + 8
    marks += arrow((x, _GRADE), (x, view.top), INK, both=True)
    marks.append(written(x + 9, middle, label, _SMALL, INK, back=PAPER))
    return marks


# --- dimensions ----------------------------------------------------------------------------------


def words_free(
    marks: Sequence[Mark], frame: Rect, bodies: Sequence[Rect] = (), drawn: Sequence[Mark] = ()
) -> list[Mark]:
    """Dimensions with their words off all lines, ``bodies`` and each other, lines first.

    They keep off the lines that are ``drawn`` already, too. Words that stand free keep their
    place; others move within the ``frame``, with a thin line to where they belong.
    """
    lines = [mark for mark in marks if not isinstance(mark, Text)]
    words = [mark for mark in marks if isinstance(mark, Text)]
    room = LabelRoom(frame, _FREE)
    for body in bodies:
        room.take_sign(body)
    for line in (*lines, *drawn):
        if isinstance(line, Line):
            room.take_other(np.asarray(line.points, dtype=float), 2.0)
    clear = [room.free(word.box) for word in words]
    for word, stays in zip(words, clear, strict=True):
        if stays:
            room.take(word.box)
    for i, word in enumerate(words):
        if clear[i]:
            continue
        left, top, right, bottom = word.box
        anchor = (word.at[0], (top + bottom) / 2)
        side = math.pi if word.align == "right" else 0.0
        found = room.find(Wish(anchor, (right - left, bottom - top), reach=_REACH, prefer=side))
        if found is None:
            continue
        box, elbow = found
        lift = word.at[1] - top
        words[i] = replace(word, at=(box[0], box[1] + lift), align="left")
        room.take(box, np.array([anchor, elbow]))
        lines.append(Line((anchor, elbow), SOFT, 0.6))
    return [*lines, *words]


def _box(view: SectionView) -> Rect:
    return (view.left, view.top, view.right, view.bottom)


def across_marks(result: BankResult, view: SectionView, system: str) -> list[Mark]:
    """Below the bank: clear width of the last two columns, spacing of the first two, over all."""
    bank, half = result.bank, result.section.diameter / 2
    level = view.bottom + 24
    marks: list[Mark] = []
    # Lines start beside the number in a duct, not through it.
    lowest = view.y(result.ducts[-1].offset[1]) + min(half * view.scale, 12.0)
    if bank.columns > 1:
        xs = [view.x(d.offset[0]) for d in result.ducts[: bank.columns]]
        edge = half * view.scale
        clear = show(bank.spacing[0] - 2 * half, "diameter", system) + " clear"
        marks += level_dimension(xs[-2] + edge, xs[-1] - edge, lowest, level, clear)
        spaced = show(bank.spacing[0], "diameter", system)
        marks += level_dimension(xs[0], xs[1], lowest, level + 24, spaced)
        level += 48
    whole = show(result.section.width, "diameter", system)
    return marks + level_dimension(view.left, view.right, view.bottom, level, whole)


def level_dimension(x1: float, x2: float, start: float, y: float, label: str) -> list[Mark]:
    """A dimension across with its witness lines from ``start`` px; outside where it is narrow."""
    marks: list[Mark] = [Line(((x, start + 3), (x, y + 5)), SOFT, 0.6) for x in (x1, x2)]
    left, _, right, _ = written(0.0, 0.0, label, _SMALL).box
    wide = right - left + 2
    if x2 - x1 > wide + 34:
        middle = (x1 + x2) / 2
        marks += arrow((middle - wide / 2 - 3, y), (x1, y), INK)
        marks += arrow((middle + wide / 2 + 3, y), (x2, y), INK)
        return [*marks, written(middle, y + 4, label, _SMALL, INK, "middle", back=PAPER)]
    marks += [*arrow((x1 - 20, y), (x1, y), INK), *arrow((x2 + 20, y), (x2, y), INK)]
    return [*marks, written(x2 + 25, y + 4, label, _SMALL, INK, back=PAPER)]


def upright_marks(result: BankResult, view: SectionView, system: str) -> list[Mark]:
    """Right of the bank: cover and row spacing; left of it: over all."""
    bank, half = result.bank, result.section.diameter / 2
    first = result.ducts[0].offset[1]
    at, lowest = view.right + 26, -1e9
    marks: list[Mark] = []
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
        marks += [Line(((x, y), (at + 5, y)), SOFT, 0.6) for y, x in starts]
        if bottom - top > 26:
            marks += arrow((at, top), (at, bottom), INK, both=True)
        else:
            marks += arrow((at, top - 18), (at, top), INK)
            marks += arrow((at, bottom + 18), (at, bottom), INK)
        lowest = max((top + bottom) / 2 + 4, lowest + 15)
        marks.append(written(at + 9, lowest, label, _SMALL, INK, back=PAPER))
    return marks + _over_all(result, view, system)


def _over_all(result: BankResult, view: SectionView, system: str) -> list[Mark]:
    x, middle = view.left - 26, (view.top + view.bottom) / 2
    marks: list[Mark] = [
        Line(((view.left - 3, y), (x - 5, y)), SOFT, 0.6) for y in (view.top, view.bottom)
    ]
    told = show(result.section.height, "diameter", system)
    label = Text((x - 8, middle), told, _SMALL, INK, align="middle", base=True, upright=True)
    return [*marks, *arrow((x, view.top), (x, view.bottom), INK, both=True), label]


# --- figures -------------------------------------------------------------------------------------


def _panel(result: BankResult, system: str) -> tuple[list[Mark], float]:
    """The figures beside the drawing, and how far down they reach, px."""
    y = 92.0
    marks: list[Mark] = [written(_PANEL, 70, "Compared with published values", 13, INK, bold=True)]
    for finding in result.findings:
        if not math.isnan(finding.limit):  # a note has none
            marks += _checked(finding, y, system)
            y += 42
    if y == 92.0:
        marks.append(written(_PANEL, y, "no published values apply", 12, SOFT))
        y += 26
    marks.append(written(_PANEL, y + 12, "Concrete", 13, INK, bold=True))
    y += 34
    for label, value in _amounts(result, system):
        marks.append(written(_PANEL, y, label, 12, SOFT))
        marks.append(written(WIDTH - 30, y, value, 12, INK, "right"))
        y += 21
    return marks, y


def _checked(finding: Finding, y: float, system: str) -> Iterator[Mark]:
    """A figure, and below it the minimum of the table and whether it is met."""
    known = not math.isnan(finding.demand)
    value = show(finding.demand, finding.quantity, system) if known else "not judged"
    least = show(finding.limit, finding.quantity, system)
    short = finding.severity != "ok"
    yield written(_PANEL, y, finding.rule, 12, INK, bold=short)
    yield written(WIDTH - 30, y, value, 12, INK, "right", bold=short)
    said = f"minimum {least}: " + ("NOT MET" if short else "met")
    if not known:
        said = f"minimum {least}: ground not known"
    yield written(_PANEL, y + 16, said, _SMALL, INK if short else SOFT)


def _amounts(result: BankResult, system: str) -> Iterator[tuple[str, str]]:
    if result.bank.cover == 0:
        yield "none: direct-buried ducts", ""
        return
    yield "per length of bank", per_length(result, system)
    yield "encased length", show(result.encased_length, "length", system)
    yield (
        "total, ducts deducted",
        "not known"
        if result.concrete is None
        else show(result.concrete, "concrete", system, decimals=2),
    )


# --- words ---------------------------------------------------------------------------------------


def counted(number: int, thing: str) -> str:
    """``1 row``, ``2 rows``."""
    return f"{number} {thing if number == 1 else thing + 's'}"


def looking(result: BankResult) -> str:
    """The direction of view of a bank section."""
    route = result.run.route
    ends = f"from {route.label(0)} to {route.label(len(route.vertices) - 1)}"
    return f"looking {ends} along the longest straight"


def per_length(result: BankResult, system: str) -> str:
    """Concrete for a length of the bank, where its ducts are widest: 100 ft, or a meter."""
    long, words = (100.0, "100 ft") if system == "US" else (1.0, "m")
    volume = result.section.area * parse(long, "length", system)
    places = 2 if system == "US" else 3
    told = f"{show(volume, 'concrete', system, decimals=places)} per {words}"
    several = len({c.outer_diameter for c in result.run.route.conduits}) > 1
    return told + (", at the largest duct size" if several else "")
