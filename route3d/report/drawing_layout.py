"""Where things stand on a sheet, and how meters become paper millimeters."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import overload

import numpy as np

from route3d.geometry.vectors import Floats
from route3d.report.drawing_marks import Box

MARGIN = 9.0  # from the edge of the paper to the frame
STRIP = 29.0  # the title block, over the whole width
TABLE = 96.0  # width of the table beside the plan
HEADS = 27.0  # width of the row heads before the profile
RIGHT = 4.0  # free behind the profile
ROWS = 44.0  # height of the rows below the profile
HEADER = 7.0  # height of the line above each view
ROW = 4.0  # height of a row of the table
PAD = 8.0  # free at both ends of the line in the profile
_PLAN_BESIDE = 0.55  # share of the height the plan takes where it stands beside the profile


@dataclass(frozen=True, slots=True)
class Layout:
    """Where things go on a paper, as boxes in mm.

    The profile takes ``share`` of the height, below plan and table; or, for a run that rises more
    than it goes on, ``share`` of the width and all the height, ``beside`` them.
    """

    width: float
    height: float
    share: float
    beside: bool = False

    @property
    def frame(self) -> Box:
        """The frame around everything."""
        return (MARGIN, MARGIN, self.width - MARGIN, self.height - MARGIN)

    @property
    def strip(self) -> Box:
        """The title block."""
        left, _, right, bottom = self.frame
        return (left, bottom - STRIP, right, bottom)

    @property
    def plan_part(self) -> Box:
        """The plan view with its header."""
        left, top, right, _ = self.frame
        bottom = self.strip[1]
        if self.beside:
            return (self._across, top, right, top + _PLAN_BESIDE * (bottom - top))
        return (left, top, right - TABLE, self._down)

    @property
    def plan(self) -> Box:
        """The plan view."""
        left, top, right, bottom = self.plan_part
        return (left, top + HEADER, right, bottom)

    @property
    def table(self) -> Box:
        """The table beside the plan, or below it."""
        _, top, right, _ = self.frame
        if self.beside:
            return (self._across, self.plan[3], right, self.strip[1])
        return (right - TABLE, top, right, self._down)

    @property
    def profile_part(self) -> Box:
        """The profile with its header and rows."""
        left, top, right, _ = self.frame
        if self.beside:
            return (left, top, self._across, self.strip[1])
        return (left, self._down, right, self.strip[1])

    @property
    def profile(self) -> Box:
        """The profile itself, without its header and rows."""
        left, top, right, bottom = self.profile_part
        return (left + HEADS, top + HEADER, right - RIGHT, bottom - ROWS)

    @property
    def rows(self) -> Box:
        """The rows below the profile."""
        left, _, right, bottom = self.profile_part
        return (left, bottom - ROWS, right, bottom)

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
        """Where a station stands, mm."""
        return self.left + self.mm * (self.plan_distance(station) - self.start)

    def plan_distance(self, station: float) -> float:
        """How far the run has gone in plan at a station, m."""
        return float(np.interp(station, self.stations, self.level))

    @overload
    def y(self, elevation: float) -> float: ...
    @overload
    def y(self, elevation: Floats) -> Floats: ...
    def y(self, elevation: float | Floats) -> float | Floats:
        """Where an elevation stands, mm; or each of several."""
        return self.bottom - self.mm * self.exaggeration * (elevation - self.low)


def turned(points: Floats, turn: float) -> tuple[Floats, Floats]:
    """Plan coordinates turned by an angle, anticlockwise."""
    cos, sin = math.cos(turn), math.sin(turn)
    return cos * points[:, 0] - sin * points[:, 1], sin * points[:, 0] + cos * points[:, 1]
