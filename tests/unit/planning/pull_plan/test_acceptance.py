"""What is checked before each stage: the limiter by its stops, the first move by its own."""

from __future__ import annotations

import math
from dataclasses import replace

from route3d.model import Gear
from route3d.planning.margins import BrakeWindow
from route3d.planning.pull_plan.acceptance import acceptance
from route3d.planning.pull_plan.gauge import GaugeRow
from route3d.planning.pull_plan.stop_reading import Reached
from tests.support.gauge_rows import gauge_row

WINDOW = BrakeWindow(100.0, 150.0, 900.0, True, 50.0)
HIGH, LOW = Gear(4e3, 0.2, "high", gauge=False), Gear(9e3, 0.1, "low")


def row(pulled: float, kind: str, expected: float, stop: float, **more: object) -> GaugeRow:
    plain = gauge_row(pulled, kind, expected, Reached(stop, "sidewall", "bend 1"), LOW)
    return replace(plain, **more)


ROWS = (
    row(0, "start", 100, 5000, first_move=130.0, first_stop=5600.0, gear=HIGH, readable=False),
    row(50, "bend", 400, 3000, gear=HIGH, readable=False),
    row(80, "gear change", 700, 3200, first_move=900.0, first_stop=3500.0),
    row(90, "stop", 800, 3300, first_move=1050.0, first_stop=3700.0),
    row(95, "step", 850, 2900),
    row(100, "end", 950, 3100),
)


def test_each_stage_has_the_lowest_stop_up_to_the_next_start() -> None:
    found = acceptance(ROWS, WINDOW)
    assert [s.pulled for s in found.stages] == [0, 80, 90]
    # The first stage still moves where the second begins, and the second where the third does.
    assert [s.limiter for s in found.stages] == [3000, 3200, 2900]
    assert [s.largest for s in found.stages] == [700, 800, 950]
    assert [(s.first_move, s.first_stop) for s in found.stages] == [
        (130, 5600),
        (900, 3500),
        (1050, 3700),
    ]
    assert [s.readable for s in found.stages] == [False, True, True]
    assert found.limiter == 2900 and found.one_setting and found.window is WINDOW
    assert not any(s.trips or s.trips_at_start for s in found.stages)


def test_a_limiter_at_the_lowest_stop_that_ends_the_planned_pull_is_told() -> None:
    """At the stop itself it does not trip; a first move and a later reading above it do."""
    at = acceptance((*ROWS[:5], replace(ROWS[5], expected=2900.0)), WINDOW)
    assert at.one_setting and not at.stages[-1].trips
    above = acceptance((*ROWS[:5], replace(ROWS[5], expected=2900.1)), WINDOW)
    assert not above.one_setting and above.stages[-1].trips
    start = acceptance((*ROWS[:3], replace(ROWS[3], first_move=2900.1), *ROWS[4:]), WINDOW)
    assert not start.one_setting
    assert [s.trips_at_start for s in start.stages] == [False, False, True]


def test_a_first_move_is_held_by_stop_limiter_or_gear() -> None:
    """One setting for the whole pull holds every first move, and a gear that stalls below it."""
    found = acceptance(ROWS, WINDOW)
    assert [found.first_most(s) for s in found.stages] == [(2900, "limiter")] * 3
    weak = acceptance((replace(ROWS[0], stalls=2800.0), *ROWS[1:]), WINDOW)
    assert weak.first_most(weak.stages[0]) == (2800, "stall") and weak.stages[0].starts
    assert not replace(weak.stages[0], stalls=129.0).starts
    near = acceptance((replace(ROWS[0], first_stop=2700.0), *ROWS[1:]), WINDOW)
    assert near.first_most(near.stages[0]) == (2700, "stop")
    # Where one setting will not do each stage has its own, raised for a first move above it.
    rows = (*ROWS[:3], replace(ROWS[3], first_move=2950.0), *ROWS[4:])
    several = acceptance(rows, WINDOW)
    assert [several.set_point(s) for s in several.stages] == [3000, 3200, 2900]
    assert [several.first_most(s) for s in several.stages] == [
        (3000, "limiter"),
        (3200, "limiter"),
        (3700, "stop"),
    ]


def test_rows_beyond_the_last_gear_count_for_nothing() -> None:
    """The plan ends where no gear holds: the limiter is set for what is pulled."""
    rows = (*ROWS[:4], *(replace(r, gear=None, stop=10.0) for r in ROWS[4:]))
    assert acceptance(rows, WINDOW).limiter == 3000


def test_without_gears_all_rows_count_and_without_rows_there_is_nothing() -> None:
    bare = tuple(replace(r, gear=None) for r in ROWS)
    assert acceptance(bare, WINDOW).limiter == 2900
    nothing = acceptance((), WINDOW)
    assert nothing.stages == () and math.isinf(nothing.limiter) and nothing.one_setting
