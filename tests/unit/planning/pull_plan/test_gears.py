"""Gears by head position, on histories short enough to plan by hand."""

from __future__ import annotations

from math import log

import numpy as np
import pytest

from route3d.mechanics.pull import solve_pull
from route3d.model import Allowances, Gear, Machine, Practice
from route3d.planning.pull_plan.findings import gear_findings
from route3d.planning.pull_plan.gears import GearPlan, plan_gears
from route3d.planning.pull_plan.head_history import HeadHistory
from tests.support import jobs
from tests.support.histories import seen
from tests.support.jobs import FOOT

PLAIN = Allowances(gear_margin=0.0, time_tolerance=0.0, gear_change_time=60.0)
FAST, SLOW = Gear(800.0, 0.5, "high"), Gear(1000.0, 0.1, "low")


def plan(
    history: HeadHistory,
    gears: tuple[Gear, ...] = (FAST, SLOW),
    allowances: Allowances = PLAIN,
    efficiency: float = 1.0,
    stops: tuple[float, ...] = (),
) -> GearPlan:
    return plan_gears(history, Machine("m", gears, efficiency=efficiency), allowances, stops)


def test_the_fast_gear_is_left_at_the_last_place_where_it_holds() -> None:
    """Load 10 N/m: 800 N at 80 m; 80 m at 0.5 m/s, a change, 20 m at 0.1 m/s."""
    found = plan(seen([0, 100], [0, 1000]))
    (change,) = found.changes
    assert change.pulled == pytest.approx(80.0)
    assert (change.from_gear, change.to_gear) == (FAST, SLOW)
    assert change.restart_load == pytest.approx(800.0)
    assert found.time == pytest.approx(160 + 60 + 200)
    assert found.slow_time == pytest.approx(1000)
    assert [s.time for s in found.spans] == pytest.approx([160, 200])
    assert [s.peak_load for s in found.spans] == pytest.approx([800, 1000])
    assert found.margin_kept and found.overload is None


def test_the_change_comes_earlier_where_the_slow_gear_could_not_start_later() -> None:
    """1.3 x 10 N/m x 76.92 m = 1000 N: beyond that the slow gear moves on but does not start."""
    found = plan(seen([0, 100], [0, 1000], restart=1.3))
    (change,) = found.changes
    assert change.pulled == pytest.approx(1000 / 13)
    assert change.restart_load == pytest.approx(1000.0)


def test_the_margin_brings_the_change_forward() -> None:
    found = plan(seen([0, 100], [0, 850]), allowances=Allowances(0.1, 0.0, gear_change_time=60))
    assert found.changes[0].pulled == pytest.approx(720 / 8.5)


def test_efficiency_counts() -> None:
    """A gear of 800 N of which 0.9 reaches the rope holds 720 N."""
    found = plan(seen([0, 100], [0, 900]), efficiency=0.9)
    assert found.changes[0].pulled == pytest.approx(80.0)


def test_a_load_that_falls_calls_for_the_faster_gear_again() -> None:
    """Up to 900 N half way and back: the slow gear from 44.4 m, and the fast one from 55.6 m."""
    found = plan(seen([0, 50, 100], [0, 900, 0]))
    assert [c.pulled for c in found.changes] == pytest.approx([400 / 9, 500 / 9])
    assert [s.gear for s in found.spans] == [FAST, SLOW, FAST]


def test_a_change_that_costs_more_than_it_saves_is_not_made() -> None:
    """Either end in the fast gear saves 44.4 m x 8 s/m = 356 s."""
    history = seen([0, 50, 100], [0, 900, 0])
    for change_time, changes in ((350.0, 2), (360.0, 0)):
        found = plan(history, allowances=Allowances(0.0, 0.0, gear_change_time=change_time))
        assert len(found.changes) == changes


def test_fewest_changes_within_the_time_tolerance() -> None:
    """Least is 88.9/0.5 + 11.1/0.1 + 2 x 60 s = 409 s with two changes; one takes 705 s."""
    history = seen([0, 50, 100], [0, 900, 0])
    for tolerance, changes in ((0.0, 2), (0.7, 2), (0.73, 1), (1.4, 1), (1.5, 0)):
        found = plan(history, allowances=Allowances(0.0, tolerance, gear_change_time=60.0))
        assert len(found.changes) == changes, tolerance
    assert plan(history).time == pytest.approx(800 / 9 / 0.5 + 100 / 9 / 0.1 + 120)


def test_of_equally_fast_gears_the_strongest_does_it_all() -> None:
    twins = (Gear(500.0, 0.2), Gear(1000.0, 0.2))
    found = plan(seen([0, 50, 100], [100, 400, 900]), twins)
    assert [s.gear for s in found.spans] == [twins[1]]


def test_a_single_gear() -> None:
    found = plan(seen([0, 100], [10, 900]), (SLOW,))
    assert (found.changes, found.time, found.slow_time) == ((), 1000, 1000)


def test_no_load_at_all_goes_in_the_fastest() -> None:
    found = plan(seen([0, 40, 100], [0, 0, 0]))
    assert [(s.gear, s.start, s.end, s.peak_load) for s in found.spans] == [(FAST, 0, 100, 0)]
    assert found.time == 200


@pytest.mark.parametrize(("load", "broken"), [(500.0, False), (1200.0, True)])
def test_one_head_position_takes_no_time(load: float, broken: bool) -> None:
    found = plan(seen([0], [load]))
    assert (found.spans, found.changes, found.time, found.slow_time) == ((), (), 0, 0)
    assert (found.overload is not None) == broken


def test_three_gears_one_after_another() -> None:
    gears = (Gear(300.0, 1.0), Gear(600.0, 0.5), Gear(1000.0, 0.1))
    quick = Allowances(0.0, 0.0, gear_change_time=10.0)
    found = plan(seen([0, 100], [0, 1000]), gears, quick)
    assert [c.pulled for c in found.changes] == pytest.approx([30, 60])


def test_gears_may_be_skipped() -> None:
    """From 100 m on the load jumps: the middle gear is fast but holds nowhere of use."""
    gears = (Gear(300.0, 1.0), Gear(400.0, 0.5), Gear(1000.0, 0.1))
    found = plan(seen([0, 100, 100.5, 130], [200, 290, 900, 900]), gears)
    assert [s.gear for s in found.spans] == [gears[0], gears[2]]


def test_without_room_for_the_margin_the_strongest_gear_alone_gives_it_up() -> None:
    """950 N of 1000 leaves no tenth. The fast gear still keeps its own: change at 720 N."""
    found = plan(seen([0, 95], [0, 950]), allowances=Allowances(0.1, 0.0, gear_change_time=60))
    assert not found.margin_kept and found.overload is None
    assert found.changes[0].pulled == pytest.approx(72.0)


@pytest.mark.parametrize("reverse", [False, True])
def test_more_than_the_strongest_gear_holds(reverse: bool) -> None:
    """10 N/m over 120 m: 1000 N at 100 m of cable; there the plan ends, and its times."""
    found = plan(seen([0, 120], [0, 1200], reverse=reverse))
    assert found.overload is not None
    there, end = (20.0, 0.0) if reverse else (100.0, 120.0)
    assert found.overload == pytest.approx((there, 1000, 1000, 100, False, 1200, end))
    assert found.spans[-1].end == pytest.approx(100.0)
    assert found.time == pytest.approx(160 + 60 + 200)
    assert found.slow_time == pytest.approx(1000)
    assert not found.margin_kept


def test_more_than_the_strongest_gear_holds_at_the_feed() -> None:
    found = plan(seen([0, 100], [1500, 200]))
    assert found.overload is not None
    assert found.overload[:4] == (0, 1500, 1000, 0)
    assert (found.spans, found.time, found.slow_time) == ((), 0, 0)


def test_a_stop_from_which_no_gear_starts_is_an_overload() -> None:
    """900 N runs in the slow gear, but starts with 1170 N: a stop for lubricant ends the pull."""
    history = seen([0, 90, 100], [0, 900, 900], restart=1.3)
    assert plan(history).overload is None
    found = plan(history, stops=(95.0,))
    assert found.overload == pytest.approx((95, 1170, 1000, 95, True, 900, 95))
    assert found.spans[-1].end == pytest.approx(95.0)


def test_a_stop_where_the_gear_in_use_cannot_start_again_is_a_change() -> None:
    """At 70 m it runs with 700 N and starts with 910 N: not in the fast gear's 800 N."""
    history = seen([0, 100], [0, 1000], restart=1.3)
    found = plan(history, stops=(40.0, 70.0))
    assert [c.pulled for c in found.changes] == pytest.approx([70.0])
    assert plan(history, stops=(40.0, 0.0, 100.0)).changes[0].pulled == pytest.approx(1000 / 13)


def test_speed_that_falls_with_load() -> None:
    """With v = 1 - load/1000 from 0 to 500 N over 100 m: the integral of ds/v is 200 ln 2 s."""
    gear = Gear(800.0, 0.2, speeds=((0.0, 1.0), (800.0, 0.2)))
    heads = np.linspace(0, 100, 41)
    found = plan(seen(heads.tolist(), (5 * heads).tolist()), (gear,))
    assert found.time == pytest.approx(200 * log(2), rel=1e-5)
    # One interval in which the speed halves: the promise of 0.3 %.
    assert plan(seen([0, 100], [0, 500]), (gear,)).time == pytest.approx(200 * log(2), rel=3e-3)


def test_which_gear_is_fast_may_depend_on_the_load() -> None:
    """One gear races without load and crawls at its rating, the other is steady."""
    racing = Gear(1000.0, 0.05, speeds=((0.0, 2.0), (500.0, 0.05)))
    steady = Gear(990.0, 0.3)
    heads = np.arange(0, 201, 2.0)
    found = plan(seen(heads.tolist(), np.maximum(0, 9 * (heads - 100)).tolist()), (racing, steady))
    assert [s.gear for s in found.spans] == [racing, steady]
    # The racing gear is down to 0.3 m/s at 436 N, which is at 148.4 m; heads are 2 m apart.
    assert found.changes[0].pulled == pytest.approx(148.4, abs=2.0)


def test_where_two_gears_are_equally_fast_the_change_comes_late() -> None:
    """Both make 0.3 m/s from 500 to 600 N, which is from 55.6 to 66.7 m; heads are 1 m apart."""
    curve = ((0.0, 0.5), (500.0, 0.3), (600.0, 0.3), (1000.0, 0.05))
    racing, steady = Gear(1000.0, 0.05, speeds=curve), Gear(900.0, 0.3)
    heads = np.arange(0, 101, 1.0)
    quick = Allowances(0.0, 0.0, gear_change_time=10.0)
    found = plan(seen(heads.tolist(), (9 * heads).tolist()), (racing, steady), quick)
    assert [c.pulled for c in found.changes] == [66.0]


def test_five_hundred_feet() -> None:
    """Common practice, no source: 500 ft at 6 ft/min is about 83 min; with four fifths of it in a
    gear several times faster and the rest in the slow one, about a quarter of that.

    The first holds. The second needs the fast gear to be sixteen times as fast, for the slow fifth
    alone is a fifth of the time: 400/v + 100/6 = 83.3/4 at v = 96 ft/min. With a gear of 30 to 40
    ft/min it comes to 0.35 to 0.32 of the slow time (0.38 to 0.34 with a change of 2 min).
    """
    per_minute = FOOT / 60
    slow = Gear(10.0e3, 6 * per_minute)
    history = seen([0, 400 * FOOT, 500 * FOOT], [100, 2000, 9000])
    for speed, share in ((30, 0.36), (40, 0.32), (96, 0.25)):
        gears = (Gear(2000.0, speed * per_minute), slow)
        found = plan(history, gears, Allowances(0.0, 0.0, gear_change_time=0.0))
        assert found.slow_time / 60 == pytest.approx(83, abs=0.5)
        assert found.time / found.slow_time == pytest.approx(share, abs=0.005)
        assert found.time / 60 == pytest.approx(400 / speed + 100 / 6)


# --- an accurate gauge ---------------------------------------------------------------------------

BLIND = Gear(800.0, 0.5, "high", gauge=False)


@pytest.mark.parametrize(
    ("length", "slow", "taken"),
    [
        # at 0.5 m/s all the way, or slower in the strong gear: 599 s and 601 s longer
        (100.0, 100 / 799, True),
        (100.0, 100 / 801, False),
        # 9,900 s at 0.5 m/s: a tenth of it is 990 s
        (4950.0, 4950 / 10889, True),
        (4950.0, 4950 / 10891, False),
    ],
)
def test_an_accurate_gauge_is_preferred_where_it_costs_little_time(
    length: float, slow: float, taken: bool
) -> None:
    found = plan(seen([0, length], [100, 500]), (BLIND, Gear(1000.0, slow, "low")))
    assert [s.gear.gauge for s in found.spans] == [taken]
    assert found.blind == (0.0 if taken else pytest.approx(length))
    longer = length / slow - length / 0.5
    assert found.true_gauge == pytest.approx(longer)
    assert found.time == pytest.approx(length / (slow if taken else 0.5))


def test_without_an_accurate_gear_that_holds_all_the_way_the_fastest_is_taken() -> None:
    """The gear of the accurate gauge pulls 600 N of the 700 N at the end."""
    weak, strong = Gear(600.0, 0.5, "weak"), Gear(1000.0, 0.4, "strong", gauge=False)
    found = plan(seen([0, 100], [100, 700]), (weak, strong))
    assert found.blind > 0 and found.true_gauge is None and found.overload is None
    assert found.spans[-1].end == pytest.approx(100.0)


def test_no_margin_is_given_up_for_an_accurate_gauge() -> None:
    """800 N with a tenth to spare from 1,000 N; 850 N less a tenth would not hold them."""
    seeing, strong = Gear(850.0, 0.5, "weak"), Gear(1000.0, 0.5, "strong", gauge=False)
    margin = Allowances(0.1, 0.0, gear_change_time=60.0)
    found = plan(seen([0, 100], [800, 800]), (seeing, strong), margin)
    assert [s.gear for s in found.spans] == [strong] and found.margin_kept
    assert found.true_gauge is None


def test_the_strongest_gear_counts_for_the_overload_whatever_its_gauge() -> None:
    seeing, strong = Gear(600.0, 0.5, "weak"), Gear(1000.0, 0.5, "strong", gauge=False)
    found = plan(seen([0, 100], [0, 1200]), (seeing, strong))
    assert found.overload is not None and found.overload.limit == 1000.0


@pytest.mark.parametrize(
    ("rated", "rules"), [(650.0, []), (649.0, ["restart in the strongest gear"])]
)
def test_a_gear_that_could_pull_but_not_start_stops_the_plan(
    rated: float, rules: list[str]
) -> None:
    """500 N all the way while it runs, and 650 N to move off; no margin is kept here."""
    course, one = seen([0.0, 100.0], [500.0, 500.0], restart=1.3), jobs.machine(rated)
    plan = plan_gears(course, one, Allowances(gear_margin=0.0))
    level = jobs.straight_run(jobs.conduit(), jobs.cable(), machine=one, rope=jobs.rope())
    found = list(gear_findings(plan, solve_pull(level, Practice()), one, 650.0))
    assert [f.rule for f in found] == rules
    for finding in found:
        assert (finding.severity, finding.demand, finding.limit) == ("stop", 650.0, rated)
        assert finding.station == 0.0 and finding.ratio == pytest.approx(650.0 / rated)
