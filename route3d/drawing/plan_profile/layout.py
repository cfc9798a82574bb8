"""Where things stand on a sheet, and how meters become paper mm at a round scale."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import overload

import numpy as np

from route3d.drawing.axes import round_up
from route3d.drawing.marks import Rect
from route3d.errors import InputError, Problem
from route3d.geometry.vectors import Floats
from route3d.units import convert

_INCH_MM = 25.4
# Landscape, mm: width and height (ISO 216; ASME Y14.1; ARCH sizes; all from memory).
PAPERS = {
    "letter": (11 * _INCH_MM, 8.5 * _INCH_MM),
    "tabloid": (17 * _INCH_MM, 11 * _INCH_MM),
    "a4": (297.0, 210.0),
    "a3": (420.0, 297.0),
    "a2": (594.0, 420.0),
    "a1": (841.0, 594.0),
    "a0": (1189.0, 841.0),
    "ansi-a": (11 * _INCH_MM, 8.5 * _INCH_MM),
    "ansi-b": (17 * _INCH_MM, 11 * _INCH_MM),
    "ansi-c": (22 * _INCH_MM, 17 * _INCH_MM),
    "ansi-d": (34 * _INCH_MM, 22 * _INCH_MM),
    "ansi-e": (44 * _INCH_MM, 34 * _INCH_MM),
    "arch-a": (12 * _INCH_MM, 9 * _INCH_MM),
    "arch-b": (18 * _INCH_MM, 12 * _INCH_MM),
    "arch-c": (24 * _INCH_MM, 18 * _INCH_MM),
    "arch-d": (36 * _INCH_MM, 24 * _INCH_MM),
    "arch-e": (48 * _INCH_MM, 36 * _INCH_MM),
}
PAPER_NAMES = {
    "letter": "Letter",
    "tabloid": "Tabloid",
    **{name: name.upper().replace("-", " ") for name in PAPERS if name[0] == "a"},
}
"""Papers as a drawing names them."""
_FEET_TO_THE_INCH = (5, 10, 20, 30, 40, 50, 60, 100, 200)  # engineer's scales (from memory)
_INCHES_TO_THE_FOOT = dict(
    zip(
        (0.25, 0.5, 0.75, 1.0, 1.5, 3.0, 6.0, 12.0),
        ("1/4", "1/2", "3/4", "1", "1 1/2", "3", "6", "12"),
        strict=True,
    )
)
# Architect's scales from 3 in = 1 ft to 1/4 in = 1 ft; ISO 5455 and between (from memory).
_LARGE = {"US": (4.0, 8.0, 12.0, 16.0, 24.0, 48.0), "SI": (5.0, 10.0, 20.0, 25.0, 50.0)}
# ISO 5455, and between them the other scales of a metric ruler (from memory).
_RATIOS = (50, 100, 200, 250, 300, 400, 500, 1000, 2000)
# No scale smaller than this is chosen unasked: bends of a meter would be dots.
_SMALLEST = {"US": 40 * 12.0, "SI": 500.0}
_RATIO = re.compile(r"\s*1\s*[:/]\s*(\d+(?:\.\d+)?)\s*")
_INCH = re.compile(r"\s*1\s*(?:in|\")\s*=\s*(\d+(?:\.\d+)?)\s*(?:ft|')\s*")
_SCALE_RANGE = 1.0, 100_000.0
MARGIN = 9.0  # from the edge of the paper to the frame
STRIP = 34.0  # the title block, over the whole width
TABLE = 96.0  # width of the table beside the plan
HEADS = 27.0  # width of the row heads before the profile
RIGHT = 4.0  # free behind the profile
ROWS = 41.0  # height of the rows below the profile
COVER = 11.0  # height of the row of cover below grade among them, where there is one
HEADER = 7.0  # height of the line above each view
ROW = 4.0  # height of a row of the table
PAD = 8.0  # free at both ends of the line in the profile
_PLAN_BESIDE = 0.55  # share of the height the plan takes where it stands beside the profile


@dataclass(frozen=True, slots=True)
class Scale:
    """A drawing scale 1:``ratio``."""

    ratio: float

    @property
    def mm(self) -> float:
        """Paper millimeters in a meter."""
        return 1000.0 / self.ratio

    def words(self, system: str) -> str:
        """The scale as printed on the drawing."""
        feet = self.ratio / 12
        if system == "US" and 12 / self.ratio in _INCHES_TO_THE_FOOT:
            return f"{_INCHES_TO_THE_FOOT[12 / self.ratio]} in = 1 ft (1:{self.ratio:g})"
        if system == "US" and abs(feet - round(feet)) < 1e-9:
            return f"1 in = {feet:.0f} ft (1:{self.ratio:g})"
        return f"1:{self.ratio:g}"


def round_scales(system: str) -> tuple[tuple[Scale, ...], tuple[Scale, ...]]:
    """The round scales from large to small: those for a single sheet, those for several.

    The smallest of the first is the largest of the second.
    """
    ratios = [12.0 * n for n in _FEET_TO_THE_INCH] if system == "US" else [*map(float, _RATIOS)]
    limit = _SMALLEST[system]
    single = tuple(Scale(r) for r in ratios if r <= limit)
    return single, tuple(Scale(r) for r in ratios if r >= limit)


def large_scales(system: str) -> tuple[Scale, ...]:
    """The scales of sections and details, from large to small."""
    single, several = round_scales(system)
    small = [s for s in (*single, *several[1:]) if s.ratio > _LARGE[system][-1]]
    return (*map(Scale, _LARGE[system]), *small)


def parse_scale(text: str) -> Scale:
    """The scale of ``1:200`` or ``1 in = 20 ft``; InputError otherwise."""
    if match := _RATIO.fullmatch(text):
        ratio = float(match[1])
    elif match := _INCH.fullmatch(text):
        ratio = 12 * float(match[1])
    else:
        said = f"{text!r} is not a drawing scale"
        raise InputError(Problem(said, where="--scale", fix="enter 1:200 or 1in=20ft"))
    low, high = _SCALE_RANGE
    if not low <= ratio <= high:
        said = f"{text!r} is a scale of 1:{ratio:g}, which no sheet is drawn at"
        raise InputError(Problem(said, where="--scale", fix=f"use 1:{low:g} to 1:{high:.0f}"))
    return Scale(ratio)


def round_step(least: float, system: str) -> float:
    """The least round length (1, 2, 5, ... of the unit shown) of ``least`` m or more, in m."""
    unit = convert(1.0, "length", system)
    return round_up(max(least * unit, 1e-6), (1, 2, 5, 10)) / unit


@dataclass(frozen=True, slots=True)
class SheetLayout:
    """Where things go on a paper, as boxes in mm.

    The profile takes ``share`` of the height, below plan and table; or, for a run that rises more
    than it goes on, ``share`` of the width and all the height, ``beside`` them. With ``cover``
    there is a row below the profile for the cover below grade.
    """

    width: float
    height: float
    share: float
    beside: bool = False
    cover: bool = False

    @property
    def frame(self) -> Rect:
        """The frame around everything."""
        return (MARGIN, MARGIN, self.width - MARGIN, self.height - MARGIN)

    @property
    def strip(self) -> Rect:
        """The title block."""
        left, _, right, bottom = self.frame
        return (left, bottom - STRIP, right, bottom)

    @property
    def plan_part(self) -> Rect:
        """The plan view with its header."""
        left, top, right, _ = self.frame
        bottom = self.strip[1]
        if self.beside:
            return (self._across, top, right, top + _PLAN_BESIDE * (bottom - top))
        return (left, top, right - TABLE, self._down)

    @property
    def plan(self) -> Rect:
        """The plan view."""
        left, top, right, bottom = self.plan_part
        return (left, top + HEADER, right, bottom)

    @property
    def table(self) -> Rect:
        """The table beside the plan, or below it."""
        _, top, right, _ = self.frame
        if self.beside:
            return (self._across, self.plan[3], right, self.strip[1])
        return (right - TABLE, top, right, self._down)

    @property
    def profile_part(self) -> Rect:
        """The profile with its header and rows."""
        left, top, right, _ = self.frame
        if self.beside:
            return (left, top, self._across, self.strip[1])
        return (left, self._down, right, self.strip[1])

    @property
    def profile(self) -> Rect:
        """The profile itself, without its header and rows."""
        left, top, right, bottom = self.profile_part
        return (left + HEADS, top + HEADER, right - RIGHT, bottom - self._rows)

    @property
    def rows(self) -> Rect:
        """The rows below the profile."""
        left, _, right, bottom = self.profile_part
        return (left, bottom - self._rows, right, bottom)

    @property
    def views(self) -> Rect:
        """All of the frame above the title block."""
        left, top, right, _ = self.frame
        return (left, top, right, self.strip[1])

    @property
    def _rows(self) -> float:
        return ROWS + COVER * self.cover

    @property
    def _down(self) -> float:
        top, bottom = self.frame[1], self.strip[1]
        return top + (1 - self.share) * (bottom - top)

    @property
    def _across(self) -> float:
        left, _, right, _ = self.frame
        return left + self.share * (right - left)

    @property
    def capacity(self) -> int:
        """How many rows the table has below its head and above its foot."""
        _, top, _, bottom = self.table
        return int((bottom - top - 18.0) / ROW)


@dataclass(frozen=True, slots=True, eq=False)
class PlanView:
    """From plan coordinates (m) to paper: turned by ``turn`` rad, ``focus`` (m) put to ``at``."""

    turn: float
    mm: float
    focus: tuple[float, float]
    at: tuple[float, float]

    def __call__(self, points: Floats) -> Floats:
        """Where points (n, 2 or 3) stand, (n, 2) mm."""
        x, y = turned(points - np.resize((*self.focus, 0.0), points.shape[-1]), self.turn)
        return np.column_stack((self.at[0] + self.mm * x, self.at[1] - self.mm * y))


@dataclass(frozen=True, slots=True, eq=False)
class ProfileView:
    """From station and elevation (m) to paper, developed along the plan.

    ``level`` (n,) m is how far the run has gone in plan at ``stations`` (n,) m. Distance ``start``
    in plan stands at ``left``, elevation ``low`` at ``bottom``.
    """

    mm: float
    exaggeration: int
    stations: Floats
    level: Floats
    start: float
    low: float
    left: float
    bottom: float

    def x(self, station: float) -> float:
        """Position of a station, mm."""
        return self.left + self.mm * (self.plan_distance(station) - self.start)

    def plan_distance(self, station: float) -> float:
        """How far the run has gone in plan at a station, m."""
        return float(np.interp(station, self.stations, self.level))

    @overload
    def y(self, elevation: float) -> float: ...
    @overload
    def y(self, elevation: Floats) -> Floats: ...
    def y(self, elevation: float | Floats) -> float | Floats:
        """Position of an elevation, mm; or each of several."""
        return self.bottom - self.mm * self.exaggeration * (elevation - self.low)


def turned(points: Floats, turn: float) -> tuple[Floats, Floats]:
    """Plan coordinates turned by an angle, counterclockwise."""
    cos, sin = math.cos(turn), math.sin(turn)
    return cos * points[:, 0] - sin * points[:, 1], sin * points[:, 0] + cos * points[:, 1]
