from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from route3d.checks.finding import Finding
from route3d.checks.limits import (
    check_corners,
    check_loads,
    check_sidewall,
    check_slack,
    conductor_limit,
    grip_limit,
    pull_place,
    sidewall_limit,
    turn_stops,
    utilization,
)
from route3d.checks.restart import check_restart
from route3d.geometry.path import ARC, CORNER, STRAIGHT
from route3d.mechanics.pull import Pull, at_friction, solve_pull, with_friction
from route3d.model import Practice, Rigging, Run, Sheave
from route3d.units import render
from tests.support import jobs
from tests.support.jobs import LBF, along, at, cable, conduit, lay
from tests.support.routes import Go, Turn, slope, vertices

# Pressures here are worked on the centerline radius, as the hand figures beside them are.
PRACTICE = Practice(sidewall_radius="centerline")
AHEAD = (1.0, 0.0, 0.0)  # the way out of a vertical leg, where left and up say nothing
LEVEL = along(vertices([Go(10), Turn(90, 1.5), Go(10)]), conduit(friction=0.0))
# 0.008 and 0.006 lb/cmil in N/mm2: reference notes 4.1 (COMPUTED conversions, 5 figures).
COPPER, ALUMINIUM = 70.229e6, 52.672e6
FIGURES = 2e-5


def held(tension: float, cables: object = None, **more: object) -> Pull:
    """A level, frictionless pull: the tension is the reel tension all the way."""
    run = jobs.run(LEVEL, cables, reel_tension=tension, **more)  # type: ignore[arg-type]
    return solve_pull(run, PRACTICE)


def by_rule(findings: tuple[Finding, ...]) -> dict[str, Finding]:
    return {f.rule: f for f in findings}


# --- conductors --------------------------------------------------------------------------------


def limit(*cables: tuple[object, int], practice: Practice = PRACTICE) -> float:
    return conductor_limit(jobs.run(LEVEL, cables), practice).value  # type: ignore[arg-type]


def test_conductors_carry_their_stress_times_their_area_up_to_three() -> None:
    for n in (1, 2, 3):
        assert limit((cable(area=240e-6), n)) == pytest.approx(COPPER * 240e-6 * n, rel=FIGURES)
    three_core = limit((cable(area=95e-6, cores=3, metal="aluminium"), 1))
    assert three_core == pytest.approx(ALUMINIUM * 95e-6 * 3, rel=FIGURES)


def test_above_three_conductors_four_fifths_of_the_sum_count() -> None:
    # Southwire (READ): 0.8 N S A for more than three; the cores of all cables are counted.
    assert limit((cable(), 4)) == pytest.approx(0.8 * COPPER * 240e-6 * 4, rel=FIGURES)
    assert limit((cable(cores=3), 2)) == pytest.approx(0.8 * COPPER * 240e-6 * 6, rel=FIGURES)
    assert (
        "guide of a cable maker, US"
        in conductor_limit(jobs.run(LEVEL, [(cable(), 4)]), PRACTICE).source
    )


def test_two_of_three_singles_count_by_that_practice() -> None:
    practice = Practice(strength_count="two of three")
    assert limit((cable(), 3), practice=practice) == pytest.approx(COPPER * 480e-6, rel=FIGURES)
    # One, two, four cables and a three-core cable are not what the rule speaks of.
    for cables in ((cable(), 1), (cable(), 2), (cable(), 4), (cable(cores=3), 1)):
        assert limit(cables, practice=practice) == limit(cables)


def test_mixed_metals_share_by_area_or_equally_and_the_weaker_sets_the_stress() -> None:
    cables = (cable(), 2), (cable("half", metal="aluminium", area=120e-6), 1)
    # By area each stretches alike, so the weaker metal fails first over the whole area.
    by_area = ALUMINIUM * (480e-6 + 120e-6)
    # Held alike, each has a third: the small one bears that with its own area.
    equally = ALUMINIUM * 120e-6 * 3
    assert limit(*cables) == pytest.approx(min(by_area, equally), rel=FIGURES)
    practice = Practice(tension_sharing="conductor area")
    assert limit(*cables, practice=practice) == pytest.approx(by_area, rel=FIGURES)
    practice = Practice(tension_sharing="equal")
    assert limit(*cables, practice=practice) == pytest.approx(equally, rel=FIGURES)


def test_a_stress_the_maker_gives_comes_before_the_table() -> None:
    assert limit((cable(max_stress=50e6), 3)) == pytest.approx(50e6 * 720e-6, rel=1e-12)


def test_a_tension_the_maker_gives_comes_before_everything() -> None:
    assert limit((cable(max_tension=9000.0), 1)) == pytest.approx(9000.0, rel=1e-12)
    assert limit((cable(max_tension=9000.0, max_stress=50e6), 3)) == pytest.approx(27000.0)
    # The maker of a four-core cable has counted its cores already.
    assert limit((cable(max_tension=9000.0, cores=4), 1)) == pytest.approx(9000.0, rel=1e-12)
    assert limit((cable(max_tension=9000.0, cores=3), 2)) == pytest.approx(18000.0, rel=1e-12)
    assert limit((cable(max_tension=9000.0), 4)) == pytest.approx(0.8 * 36000.0, rel=1e-12)


def test_given_and_tabulated_limits_mix_by_stress() -> None:
    weak = cable("weak", max_tension=2400.0, area=120e-6)  # 20 N/mm2
    by_area = Practice(tension_sharing="conductor area")
    assert limit((cable(), 2), (weak, 1), practice=by_area) == pytest.approx(12000.0, rel=1e-12)
    assert limit((cable(), 2), (weak, 1)) == pytest.approx(3 * 2400.0, rel=1e-12)  # equal shares


def test_conductor_tension_finding_at_its_boundary() -> None:
    one = cable(max_tension=10_000.0)
    ok, close, full, over = (
        by_rule(check_loads(held(t, one)))["conductor tension"]
        for t in (8999.0, 9001.0, 10_000.0, 10_001.0)
    )
    assert [f.severity for f in (ok, close, full, over)] == ["ok", "caution", "caution", "stop"]
    assert full.demand == pytest.approx(full.limit)
    assert over.source == "given (max_tension)"


# --- attachment --------------------------------------------------------------------------------


def test_a_basket_grip_holds_1000_lbf_and_eyes_10000_lbf() -> None:
    # READ: 1,000 lb per grip (iewc page); 10,000 lb any device (Southwire).
    run = jobs.run(LEVEL)
    assert grip_limit(replace(run, attach="basket grip")).value == pytest.approx(1000 * LBF)
    assert grip_limit(run).value == pytest.approx(10_000 * LBF)


def test_a_grip_loaded_over_its_cap_is_answered_by_eyes() -> None:
    findings = by_rule(check_loads(held(4460.0, attach="basket grip")))
    grip = findings["basket grip load"]
    assert (grip.severity, grip.demand) == ("stop", pytest.approx(4460.0))
    assert "use pulling eyes on the conductors" in render(grip.fix, "US")
    eyes = by_rule(check_loads(held(4460.0)))["pulling eyes load"]
    assert eyes.severity == "ok"


# --- sidewall ----------------------------------------------------------------------------------


def test_sidewall_limit_is_that_of_the_weakest_cable() -> None:
    run = jobs.run(LEVEL, [(cable(), 2), (cable("earth", sidewall_limit=4000.0), 1)])
    assert sidewall_limit(run).value == 4000.0
    assert "earth" in sidewall_limit(run).source


@pytest.mark.parametrize(
    ("tension", "severity"),
    [(9449.0, "ok"), (9451.0, "caution"), (10_500.0, "caution"), (10_501.0, "stop")],
)
def test_sidewall_finding_at_its_boundary(tension: float, severity: str) -> None:
    # T/R against 7000 N/m at R = 1.5 m: 10,500 N, nine tenths 9,450 N.
    (finding,) = check_sidewall(held(tension))
    assert finding.severity == severity
    assert finding.demand == pytest.approx(tension / 1.5)
    assert finding.where == "bend 1"


@pytest.mark.parametrize("reverse", [False, True])
def test_every_bend_is_reported_at_its_worst_place_numbered_along_the_route(reverse: bool) -> None:
    shape = vertices([Go(30), Turn(90, 1.5), Go(20), Turn(45, 1.0), Go(10)])
    pull = solve_pull(jobs.run(along(shape, conduit())), PRACTICE, reverse=reverse)
    first, second = check_sidewall(pull)
    assert (first.where, second.where) == ("bend 1", "bend 2")
    s = pull.path.stations
    # Level bends: tension rises through each, so the worst place is where the cable leaves.
    leaving = (s[1], s[3]) if reverse else (s[2], s[4])
    assert (first.station, second.station) == pytest.approx(leaving)
    assert max(first.demand, second.demand) == pull.peak_sidewall


# --- rope and machine --------------------------------------------------------------------------


def test_rope_and_machine_at_their_boundaries() -> None:
    # A rope of no friction on a level route hands on the head's tension: 8 kN.
    line, strong = jobs.rope(2.0, 0.0, rated_load=8000.0), jobs.machine(8889.0)
    findings = by_rule(check_loads(held(8000.0, rope=line, machine=strong)))
    assert findings["rope load"].severity == "caution"
    assert findings["rope load"].ratio == pytest.approx(1.0)
    assert findings["machine line pull"].severity == "ok"  # 8000/8889 = 0.899989
    findings = by_rule(check_loads(held(8001.0, rope=line, machine=jobs.machine(8000.0))))
    assert findings["rope load"].severity == findings["machine line pull"].severity == "stop"


def test_a_machine_is_judged_by_its_strongest_gear() -> None:
    from route3d.model import Gear

    two = replace(jobs.machine(), gears=(Gear(3000.0, 0.2), Gear(9000.0, 0.1)))
    pull = held(6000.0, rope=jobs.rope(2.0, 0.0), machine=two)
    assert utilization(pull).machine == pytest.approx(6000 / 9000)


def test_without_a_rope_the_machine_is_held_against_the_end_tension() -> None:
    """Rope drag is left out, so the end tension is the least the machine can meet."""
    pull = held(8000.0, machine=jobs.machine(100.0))
    finding = by_rule(check_loads(pull))["machine load"]
    assert finding.severity == "note"
    assert "assign a rope" in render(finding.fix, "SI")
    assert by_rule(check_loads(pull))["machine line pull"].severity == "stop"
    assert utilization(pull).machine == pytest.approx(80.0)
    assert utilization(pull).rope is None
    bare = held(8000.0)
    assert utilization(bare).machine is None
    assert utilization(bare).governing == "sidewall"  # 8000 N / 1.5 m of 7000 N/m
    assert utilization(bare).peak == pytest.approx(8000 / 1.5 / 7000)


def test_machine_load_is_placed_where_the_head_stands() -> None:
    shape = vertices(
        [
            Go(10),
            Turn(90, 1.0, "up"),
            Go(30),
            Turn(90, 1.0, AHEAD),
            Go(5),
            Turn(90, 1.0, "down"),
            Go(30),
            Turn(90, 1.0, AHEAD),
            Go(5),
            Turn(90, 1.0),
            Go(5),
        ]
    )
    run = jobs.run(along(shape, conduit(friction=0.25)), rope=jobs.rope(1.0, 0.2))
    pull = solve_pull(run, PRACTICE)
    finding = by_rule(check_loads(pull))["rope load"]
    assert finding.demand == pull.machine_peak
    assert finding.station is not None and 40 < finding.station < 52  # round the top
    assert render(finding.place, "SI").startswith("F1, head at station 4")


# --- utilization -------------------------------------------------------------------------------


def test_utilization_is_demand_over_limit_for_each() -> None:
    run = {"rope": jobs.rope(2.0, 0.0, 16e3), "machine": jobs.machine(20e3)}
    pull = held(4000.0, cable(max_tension=10e3, sidewall_limit=8000.0), **run)
    share = utilization(pull)
    assert share.conductor == pytest.approx(0.4)
    assert share.grip == pytest.approx(4000 / (10_000 * LBF))
    assert share.sidewall == pytest.approx(4000 / 1.5 / 8000)
    assert share.rope == pytest.approx(0.25)
    assert share.machine == pytest.approx(0.2)
    assert (share.governing, share.peak) == ("conductor", pytest.approx(0.4))
    assert [name for name, _ in share.items()] == [
        "conductor",
        "grip",
        "sidewall",
        "rope",
        "machine",
    ]


@pytest.mark.parametrize(
    ("governing", "weak"),
    [
        ("conductor", {"cables": cable(max_tension=1000.0)}),
        ("grip", {"attach": "basket grip", "cables": cable(max_tension=9e9, sidewall_limit=9e9)}),
        ("sidewall", {"cables": cable(sidewall_limit=100.0)}),
        ("rope", {"rope": jobs.rope(2.0, 0.0, 1000.0)}),
        ("machine", {"machine": jobs.machine(1000.0)}),
    ],
)
def test_the_weakest_governs(governing: str, weak: dict[str, object]) -> None:
    given = {"rope": jobs.rope(2.0, 0.0), "machine": jobs.machine()} | weak
    assert utilization(held(4000.0, **given)).governing == governing


# --- places ------------------------------------------------------------------------------------


def place_of_peak(run: Run, reverse: bool = False) -> str:
    findings = by_rule(check_loads(solve_pull(run, PRACTICE, reverse=reverse)))
    return render(findings["conductor tension"].place, "SI")


def test_the_peak_is_placed_at_an_end_in_a_bend_or_at_a_station() -> None:
    level = along(vertices([Go(10), Turn(90, 1.5), Go(10)]), conduit())
    assert place_of_peak(jobs.run(level)) == "B"
    assert place_of_peak(jobs.run(level), reverse=True) == "A"
    falling = lay(at((0, 0, 0), name="top"), at(20 * slope(-60)), conduits=conduit())
    assert place_of_peak(jobs.run(falling)) == "top"
    over = vertices([Go(20), Turn(90, 20.0, "down"), Go(1)])
    crest = jobs.run(along(over, conduit(friction=0.2)), reel_tension=1400.0)
    assert place_of_peak(crest) == "bend 1"


# --- slack -------------------------------------------------------------------------------------

DROP = along(
    vertices([Go(20), Turn(90, 1.2, "down"), Go(30), Turn(90, 1.2, AHEAD), Go(10)]),
    conduit(friction=0.2),
)


def test_too_little_brake_stops_and_the_brake_it_asks_for_works() -> None:
    pull = solve_pull(jobs.run(DROP, reel_tension=50.0), PRACTICE)
    (finding,) = check_slack(pull)
    assert (finding.rule, finding.severity, finding.where) == ("slack cable", "stop", "A")
    assert (finding.demand, finding.limit) == (50.0, pull.brake)
    (brake, _), *stretch = finding.fix.values
    assert [value for value, _ in stretch] == list(pull.slack[0])
    for system in ("US", "SI"):  # as printed, too: to 1 lbf or 10 N
        printed = render(finding.fix, system).split("at least ")[1].split(" total")[0]
        number, unit = printed.replace(",", "").split()
        force = float(number) * {"lbf": LBF, "kN": 1000.0}[unit]
        held_back = solve_pull(jobs.run(DROP, reel_tension=force), PRACTICE)
        assert held_back.slack == (), system
        assert check_slack(held_back) == ()
    assert brake >= pull.brake


def test_a_brake_a_little_too_small_is_a_stop_too() -> None:
    # 100 m at 30 degrees: slack begins within the last places that are looked at.
    route = lay(at((0, 0, 0)), at(100 * slope(-30)), conduits=conduit(friction=0.2))
    needed = solve_pull(jobs.run(route), PRACTICE).brake
    for share, severity in ((0.98, "stop"), (1.0, "")):
        found = check_slack(solve_pull(jobs.run(route, reel_tension=share * needed), PRACTICE))
        assert [f.severity for f in found] == ([severity] if severity else [])


def test_the_brake_without_friction_is_that_of_a_pull_without_friction() -> None:
    pull = solve_pull(jobs.run(DROP), PRACTICE)
    slippery = solve_pull(with_friction(jobs.run(DROP), 1e-9), PRACTICE)
    assert pull.brake_without_friction == pytest.approx(slippery.brake, rel=1e-6)


def test_no_word_of_a_brake_where_none_is_needed() -> None:
    assert check_slack(solve_pull(jobs.run(DROP), PRACTICE, reverse=True)) == ()
    # A newton is no brake: whether asked for or missing.
    gentle = lay(at((0, 0, 0)), at(20 * slope(-12)), conduits=conduit(friction=0.2113))
    pull = solve_pull(jobs.run(gentle), PRACTICE)
    assert 0 < pull.brake < 1.0
    assert check_slack(pull) == ()
    unbraked = solve_pull(jobs.run(gentle, reel_tension=0.0), PRACTICE)
    assert unbraked.slack != ()
    assert check_slack(unbraked) == ()


# --- corners -----------------------------------------------------------------------------------


def turned(sheave: Sheave | None = None, tension: float = 4000.0, **more: object) -> Pull:
    """Level, without friction, straight through a pull point that turns by 90 degrees."""
    point = replace(at((30, 0, 0), name="V{1}", ends="reel machine"), sheave=sheave)
    route = lay(at((0, 0, 0)), point, at((30, 20, 0)), conduits=conduit(friction=0.0))
    return solve_pull(jobs.run(route, reel_tension=tension, **more), PRACTICE)


def test_a_turn_at_a_pull_point_is_a_stop_with_its_angle() -> None:
    (finding,) = check_corners(turned())
    assert (finding.severity, finding.where) == ("stop", "V{1}")
    assert finding.demand == pytest.approx(math.pi / 2)
    assert finding.station == pytest.approx(30.0)
    assert render(finding.place, "US") == "V{1}"
    assert turn_stops(turned().run, 1, math.pi / 2, 0.0, 0.0)


def test_a_fall_of_the_ground_is_no_turn_and_a_slight_one_a_note() -> None:
    def through(degrees: float) -> list[str]:
        end = 30 + 20 * math.cos(math.radians(degrees)), 20 * math.sin(math.radians(degrees)), 0
        route = lay(at((0, 0, 0)), at((30, 0, 0), ends="reel"), at(end), conduits=conduit())
        return [f.severity for f in check_corners(solve_pull(jobs.run(route), PRACTICE))]

    assert (through(0.9), through(1.1), through(4.9), through(5.1)) == (
        [],
        ["note"],
        ["note"],
        ["stop"],
    )


def sheave_findings(**given: float) -> dict[str, Finding]:
    """A 90 degree sheave, no friction: 4 kN of one cable of 40 mm, bend multiple 12."""
    sheave = Sheave("S", **({"radius": 0.6, "rating": 6000.0} | given))
    return {f.rule: f for f in check_corners(turned(sheave))}


def test_a_sheave_at_a_turn_is_checked_for_pressure_radius_and_fastening() -> None:
    found = sheave_findings()
    pressure = found["sidewall pressure on a sheave"]
    assert pressure.demand == pytest.approx(4000 / 0.6)  # T/R of a single cable
    assert pressure.severity == "caution"  # 6,667 of 7,000 N/m
    assert sheave_findings(radius=4000 / 7000 * 0.999)[pressure.rule].severity == "stop"
    assert sheave_findings(radius=4000 / 6300 * 1.001)[pressure.rule].severity == "ok"
    radius = found["cable bend radius on a sheave"]
    assert (radius.demand, radius.limit) == (0.6, pytest.approx(0.48))
    assert sheave_findings(radius=0.479)[radius.rule].severity == "stop"
    force = found["sheave fastening S"]
    assert force.demand == pytest.approx(2 * 4000 * math.sin(math.pi / 4))  # 5,657 N
    assert force.severity == "caution"
    assert sheave_findings(rating=5656.0)[force.rule].severity == "stop"
    assert sheave_findings(rating=5657.0 / 0.9 + 1)[force.rule].severity == "ok"
    for radius_m, rating, stops in (
        (0.48, 5657.0, False),
        (0.479, 6000.0, True),
        (0.5, 5656, True),
    ):
        run = turned(Sheave("S", radius_m, rating)).run
        assert turn_stops(run, 1, math.pi / 2, 4000.0, 0.0) == stops
        assert turn_stops(run, 1, math.pi / 2, 0.0, 4000.0) == stops


def test_a_sheave_takes_its_efficiency_from_cable_and_rope_whatever_the_friction() -> None:
    pull = turned(Sheave("S", 0.6, 1e5, efficiency=0.9), rope=jobs.rope(2.0, 0.0))
    assert pull.end_tension == pytest.approx(4000 / 0.9)
    # The load is already there with the head at the feed, and the sheave gives it once.
    assert pull.machine_loads is not None
    assert pull.machine_loads.tolist() == pytest.approx([4000 / 0.9] * len(pull.machine_loads))
    doubled = at_friction(pull, 2.0)
    assert doubled.end_tension == pytest.approx(4000 / 0.9)
    assert pull.peak_sidewall == pytest.approx(4000 / 0.9 / 0.6)


def test_no_corner_where_pull_points_lie_in_line() -> None:
    route = lay(at((0, 0, 0)), at((30, 0, 0), ends="reel"), at((50, 0, 0)), conduits=conduit())
    assert check_corners(solve_pull(jobs.run(route), PRACTICE)) == ()


def test_a_restart_beyond_the_machine_is_a_caution_and_one_within_it_is_ok() -> None:
    pull = held(8000.0, machine=jobs.machine(9000.0))
    (fine,) = check_restart(pull, pull)
    assert fine.severity == "ok"
    (over,) = check_restart(pull, held(9500.0, machine=jobs.machine(9000.0)))
    assert (over.rule, over.severity) == ("restart: machine line pull", "caution")
    assert over.ratio == pytest.approx(9500 / 9000)


def test_a_restart_beyond_conductors_or_attachment_is_a_caution() -> None:
    """240 mm2 of copper take 16,855 N (0.008 lb/cmil, READ), one basket grip 4,448.2 N (1,000 lbf).

    What breaks while moving is not said a second time.
    """
    for attach, limit, rule in (
        ("pulling eyes", 240e-6 * 70.229e6, "restart: conductor tension"),
        ("basket grip", 1000 * 4.4482216, "restart: basket grip load"),
    ):
        pull, within, beyond = (
            held(share * limit, cable(sidewall_limit=1e6), attach=attach)
            for share in (0.5, 0.999, 1.001)
        )
        assert [f.rule for f in check_restart(pull, within)] == ["restart"]
        (finding,) = check_restart(pull, beyond)
        assert (finding.rule, finding.severity) == (rule, "caution")
        assert finding.ratio == pytest.approx(1.001, abs=1e-5)
        assert [f.rule for f in check_restart(beyond, beyond)] == ["restart"]


@pytest.mark.parametrize("tension", [10_000.0, 18_000.0])
def test_what_would_hold_the_pressure_is_left_to_the_remedies(tension: float) -> None:
    """A radius by this rule of thumb would be another one than that of the run solved again."""
    (finding,) = check_sidewall(held(tension))
    assert finding.fix.values == ()


def test_every_row_of_a_pull_is_placed_at_an_end_a_bend_a_vertex_or_a_station() -> None:
    """A bend of a right angle, and a pull point between straights that turns by 30 degrees."""
    side = 20 * np.array([math.cos(math.radians(120)), math.sin(math.radians(120)), 0.0])
    route = lay(
        at((0, 0, 0), name="A"),
        at((10, 0, 0), 1.5),
        at((10, 20, 0), name="vault", ends=jobs.BOTH),
        at(np.array([10.0, 20.0, 0.0]) + side, name="B"),
        conduits=conduit(),
    )
    for reverse in (False, True):
        pull = solve_pull(jobs.run(route), PRACTICE, reverse=reverse)
        rows = range(len(pull.profile.station))
        where = [pull_place(pull, row) for row in rows]
        ends = ["A", "B"][:: -1 if reverse else 1]
        assert [where[0], where[-1]] == ends
        kinds = [pull.path.kind[k] for k in pull.profile.segment[1:-1]]
        expected = {CORNER: "vault", ARC: "bend 1", STRAIGHT: "F1, station {}"}
        assert where[1:-1] == [expected[k] for k in kinds]
        assert set(kinds) == set(expected)


@pytest.mark.parametrize(("share", "breaks"), [(0.999, False), (1.001, True)])
def test_a_restart_beyond_the_sidewall_limit_is_a_caution(share: float, breaks: bool) -> None:
    """7,000 N/m on a radius of 1.5 m are 10,500 N; the moving pull presses with 8,000 N."""
    found = check_restart(held(8000.0), held(share * 10_500.0))
    assert [(f.rule, f.severity) for f in found] == [
        ("restart: sidewall pressure", "caution") if breaks else ("restart", "ok")
    ]
    if breaks:
        assert (found[0].demand, found[0].ratio) == pytest.approx((7007.0, 1.001))


EYES, GRIP = 10_000 * LBF, 1000 * LBF  # what protects the cable, as above


@pytest.mark.parametrize(
    ("attach", "rating", "swivel", "expected"),
    [
        ("pulling eyes", None, None, EYES),
        ("pulling eyes", 60e3, 60e3, EYES),  # stronger fittings do not make the cable stronger
        ("pulling eyes", 60e3, 20e3, 20e3),
        ("pulling eyes", 20e3, 30e3, 20e3),
        ("pulling eyes", 20e3, None, 20e3),
        ("basket grip", 3e3, 9e3, 3e3),
        ("basket grip", 9e3, 9e3, GRIP),
    ],
)
def test_the_attachment_carries_the_smallest_of_cap_grip_and_swivel(
    attach: str, rating: float | None, swivel: float | None, expected: float
) -> None:
    head = Rigging("head", swivel_rating=swivel, grip_rating=rating, eye_rating=rating)
    run = jobs.run(LEVEL, cable(), attach=attach, rigging=head)
    assert grip_limit(run).value == pytest.approx(expected)
