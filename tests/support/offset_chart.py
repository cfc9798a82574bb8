"""The bender's offset chart, as the table of it stands."""

from __future__ import annotations

from math import radians
from typing import NamedTuple

from route3d.standards.tables import load


class OffsetChart(NamedTuple):
    """One angle: exact and as printed on hand-bender charts.

    ``angle`` in rad; ``multiplier`` is the distance between bends and ``shrink`` the loss of run,
    both per height of the offset, with sharp corners.
    """

    angle: float
    multiplier: float
    multiplier_chart: float
    shrink: float
    shrink_chart: float


_KEYS = ("csc_exact", "multiplier_chart", "shrink_exact_per_in", "shrink_chart_per_in")


def offset_chart() -> tuple[OffsetChart, ...]:
    """The offset chart, smallest angle first."""
    return tuple(
        OffsetChart(radians(row["deg"]), *(float(row[key]) for key in _KEYS))
        for row in load("bending_geometry").rows
    )
