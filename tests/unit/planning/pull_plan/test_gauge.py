"""The gauge table: places by hand, loads against pulls solved one by one."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from route3d.checks.limits import conductor_limit
from route3d.geometry.path import ARC
from route3d.mechanics.pull import Pull, at_friction, solve_pull
from route3d.model import Allowances, Gear, LeadOff, Machine, Practice, Run, Sheave
from route3d.planning.margins import BrakeWindow, brake_window
from route3d.planning.pull_plan.gauge import (
    GaugeRow,
    gauge_table,
    reading_findings,
    window_findings,
    within_stops,
)
from route3d.planning.pull_plan.gears import GearPlan, plan_gears
from route3d.planning.pull_plan.head_history import history
from tests.support.jobs import FOOT, along, at, cable, conduit, lay, rope, run

PRACTICE, GIVEN = Practice(), Allowances()
STRONG = Machine("m", (Gear(1e6, 0.1),))
POINTS = [[0, 0, 0], [60, 0, 0], [60, 80, 0], [60, 80, 20], [70, 80, 20]]
# Both sides are within 1e-8 of the law, and the brake within that of the cable's weight.
SAME = 1e-6


def bent(machine: Machine = STRONG, **more: object) -> Run:
    more = {"rope": rope(rated_load=1e6), **more}
    shape = (POINTS, [0, 1.2, 1.5, 1.2, 0])
    return run(along(shape, conduit(friction=0.25)), machine=machine, **more)


def level(machine: Machine = STRONG, **more: object) -> Pull:
    """T = 0.3 x 25 N/m x s, and 0.2 x 2 N/m of rope ahead, on top of the drag of the reel."""
    route = along(([[0, 0, 0], [200, 0, 0]], [0, 0]), conduit(friction=0.3))
    more = {"rope": rope(2.0, 0.2), **more}
    return solve_pull(run(route, cable(weight=25.0), machine=machine, **more), PRACTICE)


def planned(pull: Pull, allowances: Allowances = GIVEN) -> GearPlan:
    seen, machine = history(pull), pull.run.machine
    assert seen is not None and machine is not None
    return plan_gears(seen, machine, allowances)


def table(pull: Pull, step: float = 25.0, **ratings: float) -> tuple[GaugeRow, ...]:
    return gauge_table(pull, planned(pull), GIVEN, step, **ratings)


# --- places -------------------------------------------------------------------------------------


def test_a_row_for_every_step_and_both_ends() -> None:
    rows = table(level(), 60.0)
    assert [(r.pulled, r.station, r.kind, r.place) for r in rows] == [
        (0, 0, "start", "A"),
        (60, 60, "step", ""),
        (120, 120, "step", ""),
        (180, 180, "step", ""),
        (200, 200, "end", "B"),
    ]
    assert [r.pulled for r in table(level(), 100.0)] == [0, 100, 200]
    assert [r.pulled for r in table(level(), 500.0)] == [0, 200]


def test_bends_pull_points_and_gear_changes_have_rows() -> None:
    route = lay(
        at((0, 0, 0), name="vault", ends="reel machine"),
        at((50, 0, 0), 2.0, name="corner"),
        at((50, 40, 0), name="pit", ends="reel machine"),
        at((50, 80, 0), 2.0),
        at((90, 80, 0), name="quay", ends="reel machine"),
        conduits=conduit(friction=0.25),
    )
    machine = Machine("m", (Gear(1500.0, 0.5, "high"), Gear(9000.0, 0.1, "low")))
    one = run(route, rope=rope(), machine=machine)
    for reverse in (False, True):
        pull = solve_pull(one, PRACTICE, reverse=reverse)
        (change,) = planned(pull).changes
        rows = table(pull, 1000.0)
        assert [r.pulled for r in rows] == sorted({r.pulled for r in rows})
        named = {r.place: r for r in rows}
        bends = ["start of bend 1 at corner", "end of bend 1 at corner"]
        bends += ["start of bend 2", "end of bend 2"]
        order = bends[2:] + bends[:2] if reverse else bends
        assert [p for p in named if "bend" in p] == order
        assert named["pit"].kind == "pull point"
        assert named["change to gear low"].pulled == change.pulled
        assert len(rows) == len(named) == 8
        total = pull.path.length
        assert named["start of bend 1 at corner"].station == pytest.approx(
            48 + math.pi if reverse else 48
        )
        for row in rows:
            assert row.station == pytest.approx(total - row.pulled if reverse else row.pulled)
        assert rows[0].place == ("quay" if reverse else "vault")
        assert {r.gear.name for r in rows if r.gear and r.pulled >= change.pulled} == {"low"}
        assert {r.gear.name for r in rows if r.gear and r.pulled < change.pulled} == {"high"}


def test_marks_at_one_place_are_one_row() -> None:
    """The bend starts at 58.8 m, a step at 58.8 m too; S-bends share a joint."""
    rows = table(solve_pull(bent(), PRACTICE), 58.8)
    at_start = [r for r in rows if abs(r.pulled - 58.8) < 1]
    assert [(r.kind, r.place) for r in at_start] == [("bend", "start of bend 1")]
    points = [[0, 0, 0], [20, 0, 0], [20, 2, 0], [40, 2, 0]]
    joined = run(along((points, [0, 1, 1, 0]), conduit()), rope=rope(), machine=STRONG)
    places = [r.place for r in table(solve_pull(joined, PRACTICE), 1000.0)]
    assert places == [
        "A",
        "start of bend 1",
        "end of bend 1, start of bend 2",
        "end of bend 2",
        "B",
    ]


def test_a_step_must_be_positive() -> None:
    with pytest.raises(ValueError, match="step"):
        table(level(), 0.0)


def test_no_rope_no_table() -> None:
    pull = solve_pull(replace(bent(), rope=None), PRACTICE)
    assert gauge_table(pull, None, GIVEN, 10.0) == ()


# --- expected and caution -----------------------------------------------------------------------


@pytest.mark.parametrize("reverse", [False, True])
@pytest.mark.parametrize("practice", [PRACTICE, Practice(bend_form="capstan")])
def test_expected_and_caution_are_the_pull_and_the_pull_at_more_friction(
    practice: Practice, reverse: bool
) -> None:
    turns = (LeadOff(0.4), LeadOff(1.5, Sheave("s", 0.3, 1e5, 0.95)))
    pull = solve_pull(bent(lead_off=turns), practice, reverse=reverse)
    rougher = at_friction(pull, 1.2)
    assert pull.heads is not None
    rows = [r for r in table(pull) if r.kind != "step"]
    assert len(rows) == 8
    for row in rows:  # bends and ends are looked at in the pull too
        i = int(np.argmin(abs(pull.heads - row.station)))
        assert pull.heads[i] == pytest.approx(row.station)
        assert row.expected == pytest.approx(pull.machine_loads[i], rel=SAME, abs=SAME)
        assert row.caution == pytest.approx(rougher.machine_loads[i], rel=SAME, abs=SAME)


def test_on_a_level_straight_all_three_are_known() -> None:
    """The reel's drag D, 25 ft of cable, then 7.5 N/m of cable and 0.4 N/m of rope ahead.

    The conductor limit C is reached at the head: C and the rope read C + 0.4 (200 - s).
    """
    pull = level(reel=None)
    limit = conductor_limit(pull.run, PRACTICE).value
    drag = 25 * FOOT * 25.0
    for row in table(pull, 50.0)[1:]:
        s = row.pulled
        load = 7.5 * s + 0.4 * (200 - s)
        assert row.expected == pytest.approx(drag + load)
        assert row.caution == pytest.approx(drag + 1.2 * load)
        assert row.stop == pytest.approx(limit + 0.4 * (200 - s))
        assert (row.limit, row.limit_place) == ("conductor", "cable head")
        assert row.slick.reading == pytest.approx(limit + 0.8 * 0.4 * (200 - s))


def test_a_first_move_has_a_stop_of_its_own() -> None:
    """Rope ahead at 1.3 times its friction; None where no start from rest is planned."""
    limit = conductor_limit(level().run, PRACTICE).value
    rows = gauge_table(level(), None, GIVEN, 100.0, stops=[50.0])
    told = {r.pulled: r.first_stop for r in rows}
    assert told[0.0] == pytest.approx(limit + 1.3 * 0.4 * 200)
    assert told[50.0] == pytest.approx(limit + 1.3 * 0.4 * 150)
    assert told[100.0] is None and told[200.0] is None


def test_a_planned_start_that_reads_above_stop_is_a_caution() -> None:
    rows = gauge_table(level(), None, GIVEN, 100.0, stops=[50.0])
    low = tuple(replace(r, first_stop=1.0 + r.expected) if r.pulled == 50.0 else r for r in rows)
    assert not [f for f in reading_findings(rows, level()) if f.severity == "stop"]
    (found,) = [f for f in reading_findings(low, level()) if f.rule == "first move above stop"]
    assert found.severity == "caution"  # the load of 3 m against the lowest Stop of them
    (row,) = [r for r in low if r.pulled == 50.0]
    assert row.first_stop is not None
    assert (found.demand, found.limit) == (row.first_move, row.first_stop)


# --- stop ---------------------------------------------------------------------------------------


def test_the_rope_caps_the_stop() -> None:
    """The rope is tightest where it leaves the conduit, which is at the machine."""
    weak = table(level(rope=rope(2.0, 0.2, rated_load=1700.0)))
    assert {(r.limit, r.stop) for r in weak} == {("rope", 1700.0)}


def test_what_the_gear_can_pull_is_no_stop() -> None:
    gears = (Gear(1300.0, 0.5), Gear(2300.0, 0.1))
    rows = table(level(Machine("m", gears, efficiency=0.9)))
    assert rows[0].gear == gears[0] and rows[-1].gear == gears[1]
    assert rows[0].stalls == pytest.approx(1170.0) and rows[-1].stalls == pytest.approx(2070.0)
    assert all(r.stop > 9000 and r.limit == "conductor" for r in rows)


def test_fittings_that_the_chain_knows_count_too() -> None:
    """A fitting of 1800 N at the head reads 1800 with all cable in, and the rope more before."""
    rows = table(level(), head_rating=1800.0)
    assert (rows[-1].stop, rows[-1].limit) == (pytest.approx(1800.0), "head fitting")
    assert rows[4].stop == pytest.approx(1800.0 + 0.4 * 100)
    rows = table(level(), line_rating=1750.0)
    assert {(r.stop, r.limit) for r in rows} == {(1750.0, "line fitting")}


def test_where_friction_does_nothing_caution_is_what_is_expected() -> None:
    straight_up = along(([[0, 0, 0], [0, 0, 30]], [0, 0]), conduit(friction=0.3))
    machine = Machine("m", (Gear(5000.0, 0.1),))
    pull = solve_pull(run(straight_up, rope=rope(), machine=machine), PRACTICE)
    assert all(r.expected == pytest.approx(r.caution) for r in table(pull))


@pytest.mark.parametrize(("share", "exceeded"), [(1 + 1e-6, False), (1.0, False), (1 - 1e-6, True)])
def test_a_plan_above_its_stop_must_not_be_pulled(share: float, exceeded: bool) -> None:
    """A head fitting rated at, just above and just below what the planned pull has at the end."""
    pull = level()
    rows = table(pull, head_rating=share * pull.end_tension)
    assert rows[-1].exceeded is exceeded
    found = [f for f in reading_findings(rows, pull) if f.rule == "stop reading"]
    assert [f.severity for f in found] == ["stop"] * exceeded
    if exceeded:
        (finding,) = found
        assert math.isnan(finding.demand) and math.isnan(finding.limit)  # no reading is told
        assert (finding.ratio, finding.station) == (pytest.approx(1 / share), 200.0)
        assert "fitting at the cable head at cable head" in finding.fix.template
        assert rows[-1].caution == rows[-1].expected


# --- what the gauge cannot protect --------------------------------------------------------------


def slippery(limit: float) -> Pull:
    """20 m, a bend, and 200 m on; the bend bears ``limit`` N at its end."""
    route = along(([[0, 0, 0], [20, 0, 0], [20, 200, 0]], [0, 1.2, 0]), conduit(friction=0.3))
    one = cable(weight=25.0, sidewall_limit=limit / (1.2 - 0.065), area=1e-2)
    line = rope(2.0, 0.2, rated_load=1e9)
    return solve_pull(run(route, one, rope=line, machine=STRONG), PRACTICE)


def test_where_lower_friction_hides_a_limit_the_stretch_is_named() -> None:
    """Behind the bend cable adds 7.5 N/m and rope 0.4, or 6 and 0.32 at 0.8 of the friction.

    With T at the bend's end and 1.2 T its limit, that reads T + 7.5 s + 0.4 (r - s) expected, s m
    behind the bend with r m behind it in all, and 1.2 T + 6 s + 0.32 (r - s) at the limit.
    """
    end = 18.8 + 1.2 * math.pi / 2
    pull = slippery(1e6)
    along_ = pull.course.tension(pull.start_tension)
    tension = float(np.interp(end, pull.course.walked.stations, along_))
    rows = table(slippery(1.2 * tension), 10.0)
    found = [f for f in reading_findings(rows, pull) if f.rule == "gauge cannot protect"]
    (finding,) = found
    assert finding.severity == "caution" and "cannot protect bend 1" in finding.fix.template
    assert "sidewall pressure" in finding.fix.template
    begin, last, reading, expected = (v for v, _ in finding.fix.values)
    from_ = end + (0.2 * tension - 0.08 * (pull.path.length - end)) / 1.42
    first = next(r for r in rows if r.slick.reading < r.expected)
    assert begin <= from_ <= first.pulled <= begin + 10.0 + 1e-9 and last == rows[-1].pulled
    assert reading == pytest.approx(1.2 * tension + 6.0 * (last - end), rel=1e-3)
    assert expected == pytest.approx(rows[-1].expected)
    # With the bend far from its limit nothing is to be said.
    rows = table(slippery(5 * tension), 10.0)
    assert not list(reading_findings(rows, pull))


def test_where_the_cable_goes_slack_the_row_and_a_finding_say_so() -> None:
    points = [[0, 0, 12], [6, 0, 12], [6, 0, 0], [24, 0, 0]]
    route = along((points, [0, 1.2, 1.2, 0]), conduit(friction=0.35))
    one = cable(sidewall_limit=50.0, area=1e-2)
    pull = solve_pull(run(route, one, rope=rope(), machine=STRONG), PRACTICE)
    rows = table(pull, 5.0)
    assert "bend 1" in rows[-1].hidden and rows[0].hidden == ()
    found = [f for f in reading_findings(rows, pull) if f.rule == "gauge cannot show"]
    assert found and all(f.severity == "caution" for f in found)
    assert any("bend 1" in f.fix.template for f in found)
    assert found[-1].fix.values[1][0] == rows[-1].pulled


# --- the brake window -----------------------------------------------------------------------------


def test_the_band_is_what_the_window_of_the_reels_reads() -> None:
    """On a level straight what the reels are held with comes on top of everything."""
    pull = level()
    window = brake_window(pull)
    assert not window.holds
    for row in gauge_table(pull, None, GIVEN, 100.0, window=window):
        assert row.expected_low == pytest.approx(row.expected)  # the free reel's drag is the plan
        more = window.at_most - pull.reel_tension
        assert row.expected_high == pytest.approx(row.expected + more)
    for row in gauge_table(pull, None, GIVEN, 100.0):
        assert row.expected_low == row.expected == row.expected_high


def test_the_lower_end_is_what_keeps_the_cables_taut() -> None:
    points = [[0, 0, 12], [6, 0, 12], [6, 0, 0], [24, 0, 0]]
    route = along((points, [0, 1.2, 1.2, 0]), conduit(friction=0.35))
    pull = solve_pull(run(route, rope=rope(), machine=STRONG, reel_tension=900.0), PRACTICE)
    window = brake_window(pull)
    assert window.holds and window.at_least < 900.0
    rows = gauge_table(pull, None, GIVEN, 5.0, window=window)
    light = replace(pull.run, reel_tension=window.at_least)
    for row, other in zip(
        rows, gauge_table(solve_pull(light, PRACTICE), None, GIVEN, 5.0), strict=True
    ):
        assert row.expected_low == pytest.approx(other.expected, rel=SAME, abs=SAME)
        assert row.stop == pytest.approx(other.stop)  # stops know nothing of the reel


@pytest.mark.parametrize("start", [False, True])
def test_the_reels_are_held_no_harder_than_the_stops_allow(start: bool) -> None:
    """On a level straight: the line's rating less what cable and rope add, at the end of the run.

    Where the pull is started again there, less what they add at 1.3 times the friction.
    """
    pull = level()
    rated = 6000.0
    more = {"stops": [199.0]} if start else {}
    rows = gauge_table(pull, None, GIVEN, 100.0, line_rating=rated, **more)
    window = brake_window(pull)
    banded, within = within_stops(rows, pull, window)
    added = 1.3 * (7.5 * 199.0 + 0.4) if start else 7.5 * 200.0
    assert within.at_most == pytest.approx(rated - added, rel=1e-3)
    assert within.at_most <= rated - added and window.at_most > rated
    assert all(row.expected_high <= row.stop for row in banded)
    assert banded[-1].expected_high == pytest.approx(within.at_most + 1500.0)
    (finding,) = window_findings(pull, window, within)
    assert finding.severity == "caution"
    assert [v for v, _ in finding.fix.values] == [within.at_most, window.at_most]
    assert within_stops(rows, pull, within) == (tuple(rows), within)
    assert not list(window_findings(pull, within, within))


def test_a_brake_that_must_be_harder_than_the_stops_allow_is_a_stop() -> None:
    window = BrakeWindow(2000.0, 2500.0, 4000.0, True, 100.0)
    (finding,) = window_findings(level(), window, replace(window, at_most=1999.0))
    assert finding.severity == "stop"
    (finding,) = window_findings(level(), window, replace(window, at_most=2000.0))
    assert finding.severity == "caution"


def test_where_the_planned_reel_tension_reads_above_a_stop_the_window_stays() -> None:
    pull = level()
    rows, window = table(pull, line_rating=1000.0), brake_window(pull)
    assert within_stops(rows, pull, window) == (rows, window)


# --- the gauge itself ---------------------------------------------------------------------------


def test_a_gauge_that_reads_true_in_one_gear_only() -> None:
    gears = (Gear(1000.0, 0.5, gauge=False), Gear(2000.0, 0.1))
    rows = table(level(Machine("m", gears)))
    assert [r.readable for r in rows] == [r.gear == gears[1] for r in rows]
    assert {r.readable for r in rows} == {True, False}


def test_beyond_an_overload_there_is_no_gear_and_nothing_to_read() -> None:
    pull = level(Machine("m", (Gear(1000.0, 0.5),)))
    plan = planned(pull)
    assert plan.overload is not None
    for row in table(pull):
        assert (row.gear is None) == (row.pulled > plan.overload.pulled)
        assert row.readable == (row.gear is not None)
        assert row.stalls == 1000.0


def test_without_a_machine_the_table_still_tells_the_loads() -> None:
    pull = replace(level(), run=replace(level().run, machine=None))
    rows = gauge_table(pull, None, GIVEN, 50.0)
    assert [r.expected for r in rows] == [r.expected for r in table(level(), 50.0)]
    assert all(r.readable and r.gear is None for r in rows)


def test_the_band_is_that_of_the_allowances() -> None:
    def caution(band: float) -> float:
        return gauge_table(level(reel=None), None, Allowances(friction_band=band), 500.0)[
            -1
        ].caution

    drag = 25 * FOOT * 25.0
    assert [caution(b) for b in (0.0, 0.5)] == pytest.approx([drag + 1500.0, drag + 2250.0])


@pytest.mark.parametrize(("most", "numbers"), [(3, [1, 2, 3]), (2, [2, 3]), (1, [3]), (0, [])])
def test_of_very_many_bends_those_of_the_highest_pressure_have_rows(
    most: int, numbers: list[int]
) -> None:
    """Tension grows along the route: the third bend presses most, the first least."""
    pull = solve_pull(bent(), PRACTICE)
    pressure = pull.profile.sidewall[pull.worst_rows[pull.path.kind == ARC]]
    assert list(np.argsort(pressure)) == [0, 1, 2]
    rows = gauge_table(pull, planned(pull), GIVEN, 1000.0, most_bends=most)
    places = [r.place for r in rows if "of bend" in r.place]
    assert places == [f"{end} of bend {n}" for n in numbers for end in ("start", "end")]


def test_a_first_move_is_read_at_the_friction_of_a_start() -> None:
    """All friction 1.3 times as large, of 50 m of cable and of 150 m of rope ahead of it."""
    pull = level()
    rows = gauge_table(pull, None, GIVEN, 100.0, stops=[50.0])
    told = {r.pulled: r.first_move for r in rows}
    assert told[0.0] == pytest.approx(pull.reel_tension + 1.3 * 0.4 * 200)
    assert told[50.0] == pytest.approx(pull.reel_tension + 1.3 * (7.5 * 50 + 0.4 * 150))
    assert told[100.0] is None
