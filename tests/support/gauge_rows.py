"""Rows of a gauge table made up for a test: what is not said is as expected."""

from __future__ import annotations

from route3d.model import Gear
from route3d.planning.pull_plan.gauge import GaugeRow
from route3d.planning.pull_plan.stop_reading import Reached


def gauge_row(pulled: float, kind: str, expected: float, stop: Reached, gear: Gear) -> GaugeRow:
    return GaugeRow(
        pulled=pulled,
        station=pulled,
        place="",
        kind=kind,
        expected=expected,
        expected_low=expected,
        expected_high=expected,
        caution=expected,
        stop=stop.reading,
        limit=stop.limit,
        limit_place=stop.place,
        gear=gear,
        readable=True,
        stalls=gear.line_pull,
        slick=stop,
    )
