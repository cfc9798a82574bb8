"""Sections across a run: its bank, and its boxes and vaults, to scale with dimensions.

One looks along the run, from its first point to its last.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

import numpy as np

from route3d.checks.bank import widest_duct
from route3d.drawing.marks import BLACK, Line, Mark, Rect, Ring, Shape, Text
from route3d.drawing.plan_profile.layout import Scale, large_scales
from route3d.drawing.plan_profile.linework import SMALL, frame, letters, stroke
from route3d.drawing.plan_profile.setup import Cut, Setup
from route3d.drawing.plan_profile.surroundings import DrawnBox, boxes_of
from route3d.drawing.text_width import text_width
from route3d.errors import GeometryError
from route3d.geometry.encasement import ConcreteSection, section
from route3d.geometry.grade import Grade
from route3d.model.job import Bank
from route3d.planning.bank import stretches as bank_stretches
from route3d.planning.bank_outline import ground_over_bank
from route3d.units import show

_WIDE, _HIGH = 110.0, 80.0  # what is cut is no larger on paper, mm; on large paper
_WIDE_SHARE, _HIGH_SHARE = 0.27, 0.27  # these shares of its sides
_ALIKE = 2.5  # boxes whose sides differ by less than this factor have one scale
_OFFSET = 6.0  # from what is measured to the first dimension line, and from line to line
_GROUND_GAP = 34.0  # the ground is drawn no farther above what is cut than this, mm
_TIGHT = 5.0  # mm of cover in which words have no room
_OFF_CENTER = 0.3  # of the length of a box: where it is cut, clear of dimensions to its middle
_SHARE = 0.4  # of the longest straight: where a bank is cut


@dataclass(frozen=True, slots=True, eq=False)
class LargeView:
    """A section, detail or table by itself: its marks in mm, y down, the ``box`` they fill.

    A table has no ``scale``.
    """

    title: str
    said: str
    scale: Scale | None
    marks: tuple[Mark, ...]
    box: Rect


@dataclass(frozen=True, slots=True, eq=False)
class Section:
    """A section of a run: where it is taken, and what it shows."""

    cut: Cut
    bank: Bank | None = None
    box: DrawnBox | None = None
    others: tuple[str, ...] = ()


def sections_of(setup: Setup) -> list[Section]:
    """The sections of a run: one of its bank, one of the boxes of each size."""
    found = []
    bank = next((b for b in setup.job.banks if b.run == setup.course.run.name), None)
    if bank is not None and (station := _bank_station(setup, bank)) is not None:
        whole = section(bank, widest_duct(setup.course.run))
        half, high = whole.width / 2, whole.height / 2
        found.append(Section(Cut("", station, half, high, high), bank))
    boxes = sorted(boxes_of(setup.job, setup.course), key=lambda b: b.size)
    for _, group in groupby(boxes, key=lambda b: b.size):
        box, *others = sorted(group, key=lambda b: b.station)
        z = float(box.place.point[2])
        off = _OFF_CENTER
        if box.shift:
            off = _OFF_CENTER - 0.5 if box.station > 0 else -_OFF_CENTER / 2
        shift = box.shift + off * box.size[0]
        up = box.low + box.size[2] - z
        cut = Cut("", box.station, box.size[1] / 2, z - box.low, up, shift)
        names = tuple(b.name for b in others)
        found.append(Section(cut, None, box, names))
    return sorted(found, key=lambda s: s.cut.station)


def _bank_station(setup: Setup, bank: Bank) -> float | None:
    """On the longest straight in concrete."""
    course = setup.course
    try:
        spans = bank_stretches(bank, course.run, course.path, setup.around.grade or Grade())
    except GeometryError:
        return None
    best: tuple[float, float] | None = None
    for straight in course.straights:
        for start, end in spans:
            a, b = max(straight.start, start), min(straight.end, end)
            if b > a and not straight.is_riser and (best is None or b - a > best[1] - best[0]):
                best = a, b
    return None if best is None else best[0] + _SHARE * (best[1] - best[0])


def section_scale(setup: Setup, taken: Section) -> Scale:
    """The largest round scale at which a section has room."""
    wide, high = 2 * taken.cut.half, taken.cut.up + taken.cut.down
    most = (
        max(_WIDE, _WIDE_SHARE * setup.layout.width),
        max(_HIGH, _HIGH_SHARE * setup.layout.height),
    )
    scales = large_scales(setup.system)
    fitting = (s for s in scales if wide * s.mm <= most[0] and high * s.mm <= most[1])
    return next(fitting, scales[-1])


def section_scales(taken: Sequence[tuple[Setup, Section]]) -> list[Scale]:
    """The scale of each section of a set: boxes that are alike in size have the same."""
    scales = [section_scale(*one) for one in taken]

    def side(section: Section) -> float:
        return max(2 * section.cut.half, section.cut.up + section.cut.down)

    boxes = [i for i, (_, section) in enumerate(taken) if section.box is not None]
    found = list(scales)
    for i in boxes:
        size = side(taken[i][1])
        alike = [k for k in boxes if size / _ALIKE < side(taken[k][1]) < size * _ALIKE]
        found[i] = max((scales[k] for k in alike), key=lambda s: s.ratio)
    return found


def section_view(setup: Setup, taken: Section, scale: Scale) -> LargeView:
    """A section drawn at a scale."""
    cut, system = taken.cut, setup.system
    drawn = _Drawn(setup, scale.mm)
    if taken.bank is not None:
        drawn.bank(taken.bank, cut)
        what = f"duct bank, run {setup.course.run.name}"
        held = [f"{d.row}-{d.column} {d.run}" for d in taken.bank.ducts]
        what += f"; ducts {', '.join(held)}" if held else ""
    else:
        assert taken.box is not None
        drawn.vault(taken.box, cut)
        name = taken.box.name or "pull box"
        length = show(taken.box.place.size[0], "length", system)
        others = f"; also {', '.join(filter(None, taken.others))}" if taken.others else ""
        what = f"{name}, inside length {length}{others}"
    at = f"sta {show(cut.station, 'length', system)}, looking ahead"
    return LargeView(
        f"SECTION {cut.letter}-{cut.letter}", f"{what}; {at}", scale, tuple(drawn.marks),
        bounds(drawn.marks),
    )  # fmt: skip


def bounds(marks: Sequence[Mark]) -> Rect:
    """The box that marks fill."""
    boxes = []
    for mark in marks:
        if isinstance(mark, Text):
            boxes.append(mark.box)
        elif isinstance(mark, Line | Shape):
            points = np.asarray(mark.points)
            boxes.append((*points.min(axis=0).tolist(), *points.max(axis=0).tolist()))
        elif isinstance(mark, Ring):
            (x, y), r = mark.at, mark.radius
            boxes.append((x - r, y - r, x + r, y + r))
    left, top, right, bottom = zip(*boxes, strict=True)
    return (min(left), min(top), max(right), max(bottom))


class _Drawn:
    """A section being drawn, the run's line at the origin."""

    def __init__(self, setup: Setup, mm: float) -> None:
        self.setup, self.mm = setup, mm
        self.marks: list[Mark] = []

    def bank(self, bank: Bank, cut: Cut) -> None:
        """Concrete, ducts with their numbers, spacing, cover, size over all, grade."""
        shape, mm = self._shape(bank, cut.station), self.mm
        half, high = shape.width / 2 * mm, shape.height / 2 * mm
        outer = shape.diameter / 2 * mm
        centers = shape.ducts * np.array([mm, -mm])
        if bank.cover > 0:
            corners = np.array([(-half, -high), (half, -high), (half, high), (-half, high)])
            turn = np.linspace(0.0, 2 * math.pi, 49)
            circle = outer * np.column_stack((np.cos(turn), np.sin(turn)))
            holes = tuple(center + circle for center in centers)
            self.marks.append(Shape(corners, BLACK, holes=holes, layer="SECTION-FILL"))
            self.marks.append(frame((-half, -high, half, high), layer="SECTIONS"))
        self._ducts(centers, outer, cut.station, named=True, bank=bank)
        xs = sorted({round(float(x), 6) for x in centers[:, 0]})
        ys = sorted({round(float(y), 6) for y in centers[:, 1]})
        below = high + _OFFSET
        if len(xs) > 1:
            self.across(xs[0], xs[1], float(centers[:, 1].max()) + outer, below, bank.spacing[0])
            below += _OFFSET
        self.across(-half, half, high, below, shape.width)
        beside = half + _OFFSET
        if bank.cover > 0:
            top = float(centers[:, 1].min()) - outer
            self.upright(-high, top, half, beside, bank.cover, " concrete")
        if len(ys) > 1:
            self.upright(ys[0], ys[1], xs[-1] + outer, beside, bank.spacing[1])
        self.upright(-high, high, -half, -half - _OFFSET, shape.height)
        grade = self.setup.around.grade or Grade()
        run = self.setup.course.run
        least = float(ground_over_bank(bank, run, grade, np.array([cut.station]))[0])
        self._ground(cut.station, -high, half, least)

    def vault(self, box: DrawnBox, cut: Cut) -> None:
        """Inside width and height, where the conduit enters, grade."""
        half, high, low = box.size[1] / 2 * self.mm, -cut.up * self.mm, cut.down * self.mm
        self.marks.append(frame((-half, high, half, low), layer="SECTIONS"))
        bank = next((b for b in self.setup.job.banks if b.run == self.setup.course.run.name), None)
        outer = self._outer(cut.station) / 2 * self.mm
        centers = np.zeros((1, 2))
        if bank is not None:
            centers = self._shape(bank, cut.station).ducts * np.array([self.mm, -self.mm])
        self._ducts(centers, outer, cut.station, named=False)
        self.across(-half, half, low, low + _OFFSET, box.size[1], "length")
        self.upright(high, low, -half, -half - _OFFSET, box.size[2], "", "length")
        if cut.down > 0.01:
            start = float(centers[:, 0].max()) + outer
            self.upright(0.0, low, start, half + _OFFSET, cut.down, "", "length")
        self._ground(cut.station, high, half)

    # --- parts ---

    def _outer(self, station: float) -> float:
        """Outer diameter of the conduit at a station, m."""
        path, conduits = self.setup.course.path, self.setup.course.run.route.conduits
        row = int(np.searchsorted(path.stations, station, side="right")) - 1
        return conduits[int(path.leg[min(max(row, 0), len(path.leg) - 1)])].outer_diameter

    def _shape(self, bank: Bank, station: float) -> ConcreteSection:
        return section(bank, widest_duct(self.setup.course.run), self._outer(station))

    def _ducts(
        self,
        centers: np.ndarray,
        outer: float,
        station: float,
        *,
        named: bool,
        bank: Bank | None = None,
    ) -> None:
        path, conduits = self.setup.course.path, self.setup.course.run.route.conduits
        at = int(np.searchsorted(path.stations, station, side="right")) - 1
        conduit = conduits[int(path.leg[min(max(at, 0), len(path.leg) - 1)])]
        bore = conduit.inner_diameter / 2 * self.mm
        rows = sorted({round(float(y), 6) for y in centers[:, 1]})
        columns = sorted({round(float(x), 6) for x in centers[:, 0]})
        for x, y in centers.tolist():
            self.marks.append(Ring((x, y), outer, BLACK, 0.35, layer="SECTIONS"))
            self.marks.append(Ring((x, y), bore, BLACK, 0.18, layer="SECTIONS"))
            words = f"{rows.index(round(y, 6)) + 1}-{columns.index(round(x, 6)) + 1}"
            row, column = map(int, words.split("-"))
            held = bank.run_in(row, column) if named and bank is not None else ""
            if held and text_width(f"{words} {held}", SMALL) < 2 * bore - 1:
                words = f"{words} {held}"
            if named and text_width(words, SMALL) < 2 * bore - 1:
                self.marks.append(letters(x, y + SMALL / 2, words, align="middle"))
        if not named:
            return
        x, y = float(centers[:, 0].max()), float(centers[:, 1].max())
        out = outer * math.sqrt(0.5)
        beside = x + outer + _OFFSET * 1.6
        foot = y + max(outer, 3.0)
        self.marks.append(stroke((x + out, y + out), (beside, foot), layer="NAMES"))
        self.marks.append(letters(beside + 0.8, foot + SMALL / 2, conduit.label, layer="NAMES"))

    def _ground(self, station: float, top: float, half: float, least: float = math.nan) -> None:
        """Grade above what is cut: true where it is near, else with a break and "not to scale".

        The cover is that from the ``least`` elevation (m) of the ground over a bank.
        """
        course = self.setup.course
        if not np.isfinite(course.ground).any():
            return
        ground = float(np.interp(station, course.stations, course.ground))
        above = (ground - float(course.path.point(station)[2])) * self.mm + top
        if not math.isfinite(above) or above < 0.5:
            return
        true = above <= _GROUND_GAP
        y = top - (above if true else _GROUND_GAP / 2)
        tight = above < _TIGHT
        left, right = -half - 4.0, half + (1.5 if tight else 4.0)
        self.marks.append(stroke((left, y), (right, y), layer="GROUND"))
        grade = self.setup.around.grade
        name = "grade" if grade is not None and grade.given else "assumed grade"
        self.marks.append(letters(left, y - 1.4, f"{name}, elev. {self.setup.elevation(ground)}",
                                  layer="NAMES"))  # fmt: skip
        note = "" if true else ", not to scale"
        cover = above / self.mm - (ground - least if math.isfinite(least) else 0.0)
        start, at = (half, half + 3.0) if tight else (-half * 0.3, -half * 0.3)
        self.upright(y, top, start, at, cover, f" cover{note}", "length")

    # --- dimensions ---

    def across(
        self, a: float, b: float, start: float, y: float, length: float, quantity: str = "diameter"
    ) -> None:
        """A level dimension from a to b at y, its witness lines from ``start``."""
        words = show(length, quantity, self.setup.system)
        for x in (a, b):
            self.marks.append(stroke((x, start + 1.0), (x, y + 1.0), layer="DIMENSIONS"))
            tick = ((x - 0.8, y + 0.8), (x + 0.8, y - 0.8))
            self.marks.append(stroke(*tick, layer="DIMENSION-ENDS"))
        wide = text_width(words, SMALL)
        inside = b - a > wide + 3.0
        middle = (a + b) / 2
        parts = [(a, middle - wide / 2 - 0.8), (middle + wide / 2 + 0.8, b)] if inside else [(a, b)]
        for c, d in parts:
            self.marks.append(stroke((c, y), (d, y), layer="DIMENSIONS"))
        x = middle - wide / 2 if inside else b + 2.0
        self.marks.append(letters(x, y + SMALL / 2, words, layer="DIMENSIONS"))

    def upright(
        self,
        a: float,
        b: float,
        start: float,
        x: float,
        length: float,
        more: str = "",
        quantity: str = "diameter",
    ) -> None:
        """An upright dimension from a down to b at x, its witness lines from ``start``."""
        side = 1.0 if x >= start else -1.0
        for y in (a, b):
            if abs(x - start) > 1.5:
                witness = ((start + side, y), (x + side, y))
                self.marks.append(stroke(*witness, layer="DIMENSIONS"))
            tick = ((x - 0.8, y + 0.8), (x + 0.8, y - 0.8))
            self.marks.append(stroke(*tick, layer="DIMENSION-ENDS"))
        self.marks.append(stroke((x, a), (x, b), layer="DIMENSIONS"))
        words = f"{show(length, quantity, self.setup.system)}{more}"
        wide, middle = text_width(words, SMALL), (a + b) / 2
        if side < 0:
            self.marks.append(letters(x - 1.2, middle + wide / 2, words, upright=True,
                                      layer="DIMENSIONS"))  # fmt: skip
            return
        self.marks.append(letters(x + 1.4, middle + SMALL / 2, words, layer="DIMENSIONS"))


def lettered(sections: Sequence[Section], names: Iterator[str]) -> list[Section]:
    """The sections with their letters."""
    return [replace(s, cut=replace(s.cut, letter=next(names))) for s in sections]
