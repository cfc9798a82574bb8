"""Where things stand on a sheet, and how metres become paper millimetres."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from route3d.geometry.vectors import Floats
from route3d.report.drawing_marks import Box

MARGIN = 9.0  # from the edge of the paper to the frame
STRIP = 29.0  # the title block, over the whole width
TABLE = 96.0  # width of the table beside the plan
HEADS = 27.0  # width of the row heads before the profile
RIGHT = 9.0  # free behind the profile
ROWS = 44.0  # height of the rows below the profile
HEADER = 7.0  # height of the line above each view
ROW = 4.0  # height of a row of the table


@dataclass(frozen=True, slots=True)
class Layout:
    """Where things go on a paper, as boxes in mm."""

    width: float
    height: float
    share: float

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
    def _parting(self) -> float:
        top, bottom = self.frame[1], self.strip[1]
        return top + (1 - self.share) * (bottom - top)

    @property
    def plan(self) -> Box:
        """The plan view."""
        left, top, right, _ = self.frame
        return (left, top + HEADER, right - TABLE, self._parting)

    @property
    def table(self) -> Box:
        """The table beside the plan."""
        _, top, right, _ = self.frame
        return (right - TABLE, top, right, self._parting)

    @property
    def profile(self) -> Box:
        """The profile itself, without its header and rows."""
        left, _, right, _ = self.frame
        return (left + HEADS, self._parting + HEADER, right - RIGHT, self.strip[1] - ROWS)

    @property
    def rows(self) -> Box:
        """The rows below the profile."""
        left, _, right, _ = self.frame
        return (left, self.strip[1] - ROWS, right, self.strip[1])

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


@dataclass(frozen=True, slots=True)
class ProfileView:
    """From station and elevation (m) to paper; elevation ``low`` stands at ``bottom``."""

    mm: float
    exaggeration: int
    start: float
    low: float
    left: float
    bottom: float

    def x(self, station: float) -> float:
        """Where a station stands, mm."""
        return self.left + self.mm * (station - self.start)

    def y(self, elevation: float) -> float:
        """Where an elevation stands, mm."""
        return self.bottom - self.mm * self.exaggeration * (elevation - self.low)


def turned(points: Floats, turn: float) -> tuple[Floats, Floats]:
    """Plan coordinates turned by an angle, anticlockwise."""
    cos, sin = math.cos(turn), math.sin(turn)
    return cos * points[:, 0] - sin * points[:, 1], sin * points[:, 0] + cos * points[:, 1]
