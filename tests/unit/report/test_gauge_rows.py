"""The rows of the gauge table on paper: what is left out of a long one."""

from __future__ import annotations

from dataclasses import replace

import pytest

from route3d.model import Gear
from route3d.planning.pull_plan.gauge import GaugeRow
from route3d.planning.pull_plan.stop_reading import Reached
from route3d.report.plan_blocks import weightiest
from tests.support.gauge_rows import gauge_row

GEAR = Gear(30e3, 0.1)


def row(at: float, stop: float, kind: str = "step", expected: float = 100.0) -> GaugeRow:
    return gauge_row(at, kind, expected, Reached(stop, "grip", "cable head"), GEAR)


@pytest.mark.parametrize("most", [3, 5, 8])
def test_between_two_rows_the_lower_stop_is_never_above_one_that_is_left_out(most: int) -> None:
    """A dip of one row, as where the head passes a weak fitting, stays."""
    stops = [9e3, 8e3, 7e3, 6e3, 3.5e3, 4.5e3, 6e3, 7e3, 8e3, 8.5e3, 9e3, 9e3]
    rows = [row(float(k), stop) for k, stop in enumerate(stops)]
    rows = [replace(rows[0], kind="start"), *rows[1:-1], replace(rows[-1], kind="end")]
    kept = weightiest(rows, most)
    assert len(kept) == most
    assert min(r.stop for r in kept) == 3.5e3
    for left in rows:
        before = [r for r in kept if r.pulled <= left.pulled][-1]
        after = next(r for r in kept if r.pulled >= left.pulled)
        assert min(before.stop, after.stop) <= left.stop


def test_ends_changes_stops_and_pull_points_go_last() -> None:
    kinds = ["start", "step", "bend", "gear change", "step", "pull point", "bend", "stop", "end"]
    rows = [row(float(k), 9e3, kind) for k, kind in enumerate(kinds)]
    kept = [r.kind for r in weightiest(rows, 5)]
    assert kept == ["start", "gear change", "pull point", "stop", "end"]


def test_of_the_others_the_nearest_to_its_stop_stays() -> None:
    rows = [row(0.0, 9e3, "start"), *(row(k, 9e3, expected=1e3 * k) for k in range(1, 8))]
    rows.append(row(8.0, 9e3, "end"))
    assert [r.pulled for r in weightiest(rows, 3)] == [0.0, 7.0, 8.0]
