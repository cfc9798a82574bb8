"""The gauge table: places by hand, loads against pulls solved one by one."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from route3d.checks.limits import conductor_limit, grip_limit, sidewall_limit, utilisation
from route3d.mechanics.pull import Pull, at_friction, solve_pull
from route3d.model import Allowances, Gear, LeadOff, Machine, Practice, Run, Sheave
from route3d.planning.gauge import GaugeRow, gauge_table
from route3d.planning.gears import GearPlan, plan_gears
from route3d.planning.history import history
from tests.support.jobs import along, at, cable, conduit, lay, rope, run

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
    """T = 0.3 x 25 N/m x s, and 0.2 x 2 N/m of rope ahead: 80 N at the feed, 1500 N at the end."""
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
    """Conductor limit C: it breaks at 7.5 f s = C, and then the rope adds 0.4 f (200 - s)."""
    pull = level()
    limit = conductor_limit(pull.run, PRACTICE).value
    for row in table(pull, 50.0)[1:]:
        s = row.pulled
        load = 7.5 * s + 0.4 * (200 - s)
        assert row.expected == pytest.approx(load)
        assert row.caution == pytest.approx(1.2 * load)
        factor = limit / (7.5 * s)
        assert factor < 64  # beyond that no friction is looked at
        assert row.stop == pytest.approx(factor * load, rel=1e-4)
        assert row.limit == "conductor"


# --- stop ---------------------------------------------------------------------------------------


def by_bisection(pull: Pull, station: float) -> float:
    """Machine load at which the first limit of the cable breaks with the head at a station."""
    limits = conductor_limit(pull.run, PRACTICE).value, grip_limit(pull.run).value
    assert pull.heads is not None
    i = int(np.argmin(abs(pull.heads - station)))

    def state(factor: float) -> tuple[float, float]:
        one = at_friction(pull, factor)
        assert one.machine_loads is not None
        rows = slice(0, 2 * i)
        tension = one.profile.tension[rows].max(initial=one.reel_tension)
        wall = one.profile.sidewall[rows].max(initial=0.0) / sidewall_limit(one.run).value
        return max(tension / min(limits), wall), float(one.machine_loads[i])

    low, high = 0.0, 64.0
    if state(high)[0] < 1:
        return math.inf
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (low, middle) if state(middle)[0] > 1 else (middle, high)
    return state(low)[1]


@pytest.mark.parametrize("reverse", [False, True])
@pytest.mark.parametrize("sidewall", [3000.0, 1e6])
def test_stop_is_where_the_first_limit_breaks(sidewall: float, reverse: bool) -> None:
    """With the brake of a drop on the way back; sidewall governs, or without it the conductor."""
    one = replace(bent(), cables=run(bent().route, cable(sidewall_limit=sidewall)).cables)
    pull = solve_pull(one, PRACTICE, reverse=reverse)
    rows = [r for r in table(pull) if r.kind == "bend" or r.kind == "end"]
    expected = [min(by_bisection(pull, row.station), 1e6) for row in rows]
    # Loads within the last step of friction, 0.5 % of it, are taken as straight.
    assert [row.stop for row in rows] == pytest.approx(expected, rel=1e-4)
    # Before the first bend, and in its whole length where only conductors limit, no friction up to
    # 64 times breaks anything of the cable: the machine's 1 MN stand there.
    cable_limit = "sidewall" if sidewall == 3000.0 else "conductor"
    strong = 3 if (sidewall, reverse) == (1e6, True) else 1
    assert [row.limit for row in rows] == ["machine"] * strong + [cable_limit] * (7 - strong)


def test_rope_and_gear_cap_the_stop() -> None:
    weak = table(level(rope=rope(2.0, 0.2, rated_load=1700.0)))
    assert {r.limit for r in weak} == {"rope"}
    # The rope is tightest where it leaves the conduit, which is at the machine.
    assert [r.stop for r in weak] == pytest.approx([1700.0] * len(weak), rel=1e-9)
    gears = (Gear(1000.0, 0.5), Gear(2000.0, 0.1))
    rows = table(level(Machine("m", gears, efficiency=0.9)))
    assert rows[0].gear == gears[0] and rows[-1].gear == gears[1]
    assert (rows[0].stop, rows[0].limit) == (900.0, "machine")
    assert (rows[-1].stop, rows[-1].limit) == (1800.0, "machine")


def test_fittings_that_the_chain_knows_count_too() -> None:
    """A swivel of 1600 N: with all cable in, the machine then feels just that."""
    rows = table(level(), head_rating=1600.0)
    assert (rows[-1].stop, rows[-1].limit) == (pytest.approx(1600.0, rel=1e-4), "head fitting")
    assert 7.5 * 100 * (f := 1600 / 750) + 0.4 * 100 * f == pytest.approx(rows[4].stop, rel=1e-4)
    rows = table(level(), line_rating=1550.0)
    assert (rows[-1].stop, rows[-1].limit) == (1550.0, "line fitting")


def test_where_friction_does_nothing_only_the_caps_are_left() -> None:
    straight_up = along(([[0, 0, 0], [0, 0, 30]], [0, 0]), conduit(friction=0.3))
    machine = Machine("m", (Gear(5000.0, 0.1),))
    pull = solve_pull(run(straight_up, rope=rope(), machine=machine), PRACTICE)
    assert {(r.stop, r.limit) for r in table(pull)} == {(5000.0, "machine")}
    assert all(r.expected == pytest.approx(r.caution) for r in table(pull))


def test_a_plan_that_breaks_a_limit_stops_below_what_is_expected() -> None:
    one = run(along((POINTS, [0, 0.3, 0.3, 0.3, 0]), conduit(friction=0.4)), rope=rope())
    one = replace(one, machine=STRONG, cables=run(one.route, cable(sidewall_limit=2000.0)).cables)
    pull = solve_pull(one, PRACTICE)
    assert utilisation(pull).sidewall > 1.2
    last = table(pull)[-1]
    assert last.limit == "sidewall" and last.stop < last.expected
    assert last.stop == pytest.approx(by_bisection(pull, pull.path.length), rel=1e-4)


def test_a_limit_broken_without_any_friction_scales_the_load_down() -> None:
    """30 m straight up weigh 750 N; a head fitting of 500 N bears two thirds of that."""
    straight_up = along(([[0, 0, 0], [0, 0, 30]], [0, 0]), conduit(friction=0.3))
    pull = solve_pull(run(straight_up, rope=rope(), machine=STRONG), PRACTICE)
    last = table(pull, head_rating=500.0)[-1]
    assert (last.stop, last.limit) == (pytest.approx(500.0), "head fitting")


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
        assert row.stop <= 1000.0


def test_without_a_machine_the_table_still_tells_the_loads() -> None:
    pull = replace(level(), run=replace(level().run, machine=None))
    rows = gauge_table(pull, None, GIVEN, 50.0)
    assert [r.expected for r in rows] == [r.expected for r in table(level(), 50.0)]
    assert all(r.readable and r.gear is None for r in rows)


def test_the_band_is_that_of_the_allowances() -> None:
    def caution(band: float) -> float:
        return gauge_table(level(), None, Allowances(friction_band=band), 500.0)[-1].caution

    assert [caution(b) for b in (0.0, 0.5)] == pytest.approx([1500.0, 2250.0])
