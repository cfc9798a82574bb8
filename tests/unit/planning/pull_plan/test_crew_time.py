"""The crew's time: every part by itself, and their sum."""

from __future__ import annotations

import numpy as np
import pytest

from route3d.model import Allowances, Gear, Machine
from route3d.planning.pull_plan.gears import plan_gears
from route3d.planning.pull_plan.head_history import HeadHistory
from route3d.planning.pull_plan.schedule import CrewTime
from route3d.planning.pull_plan.stops import lubricant_places


def test_every_part_counts() -> None:
    """80 m at 0.5 m/s and 20 m at 0.1 m/s, one change, and three stops at 25, 50 and 75 m."""
    allowances = Allowances(
        gear_margin=0.0,
        time_tolerance=0.0,
        setup_time=1800.0,
        gear_change_time=90.0,
        lubricant_interval=25.0,
        lubricant_stop=240.0,
    )
    s = np.array([0.0, 100.0])
    history = HeadHistory(s, s, 10 * s, 10 * s, s, s, s, s)
    machine = Machine("m", (Gear(800.0, 0.5), Gear(1000.0, 0.1)))
    stops = lubricant_places(100.0, allowances)
    plan = plan_gears(history, machine, allowances, stops)
    found = CrewTime.of(plan, len(stops), allowances)
    assert (found.setup, found.gear_changes, found.lubricant_stops) == (1800, 90, 720)
    assert found.pulling == pytest.approx(160 + 200)
    assert found.total == pytest.approx(1800 + 360 + 90 + 720)
    assert found.pulling + found.gear_changes == pytest.approx(plan.time)


@pytest.mark.parametrize(
    ("length", "interval", "places"),
    [
        (100.0, None, ()),
        (100.0, 40.0, (40.0, 80.0)),
        (100.0, 50.0, (50.0,)),  # none at the end
        (100.0, 100.0, ()),
        (100.0, 250.0, ()),
        (100.005, 50.0, (50.0,)),
        (100.1, 50.0, (50.0, 100.0)),
    ],
)
def test_lubricant_stops(length: float, interval: float | None, places: tuple[float, ...]) -> None:
    assert lubricant_places(length, Allowances(lubricant_interval=interval)) == places
