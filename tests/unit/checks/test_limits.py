from __future__ import annotations

import math
from dataclasses import replace

import pytest

from route3d.checks.finding import Finding
from route3d.checks.limits import (
    check_corners,
    check_loads,
    check_sidewall,
    check_slack,
    conductor_limit,
    grip_limit,
    sidewall_limit,
    utilisation,
)
from route3d.checks.restart import check_restart
from route3d.mechanics.pull import Pull, solve_pull, with_friction
from route3d.model import Practice, Run
from route3d.units import render
from tests.support import jobs
from tests.support.jobs import LBF, along, at, cable, conduit, lay
from tests.support.routes import Go, Turn, slope, vertices

PRACTICE = Practice()
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
    assert "Southwire" in conductor_limit(jobs.run(LEVEL, [(cable(), 4)]), PRACTICE).source


def test_two_of_three_singles_count_by_that_practice() -> None:
    practice = Practice(strength_count="two of three")
    assert limit((cable(), 3), practice=practice) == pytest.approx(COPPER * 480e-6, rel=FIGURES)
    # One, two, four cables and a three-core cable are not what the rule speaks of.
    for cables in ((cable(), 1), (cable(), 2), (cable(), 4), (cable(cores=3), 1)):
        assert limit(cables, practice=practice) == limit(cables)


def test_mixed_metals_share_by_area_and_the_weaker_sets_the_stress() -> None:
    mixed = limit((cable(), 2), (cable("earth", metal="aluminium", area=120e-6), 1))
    assert mixed == pytest.approx(ALUMINIUM * (480e-6 + 120e-6), rel=FIGURES)


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
    assert limit((cable(), 2), (weak, 1)) == pytest.approx(20e6 * 600e-6, rel=1e-12)


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
    assert "pull on conductor eyes" in render(grip.fix, "US")
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


def test_sidewall_fix_passes_when_it_is_built() -> None:
    (finding,) = check_sidewall(held(12_000.0))
    (radius, _), (given, _) = finding.fix.values
    assert given == pytest.approx(1.5)
    shape = vertices([Go(10), Turn(90, radius), Go(10)])
    run = jobs.run(along(shape, conduit(friction=0.0)), reel_tension=12_000.0)
    (again,) = check_sidewall(solve_pull(run, PRACTICE))
    assert again.severity == "caution"  # exactly at the limit: friction does not enter here
    assert again.ratio == pytest.approx(1.0, abs=1e-9)


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
    assert utilisation(pull).machine == pytest.approx(6000 / 9000)


def test_without_a_rope_the_machine_is_held_against_the_end_tension() -> None:
    """Rope drag is left out, so the end tension is the least the machine can meet."""
    pull = held(8000.0, machine=jobs.machine(100.0))
    finding = by_rule(check_loads(pull))["machine load"]
    assert finding.severity == "note"
    assert "name a rope" in render(finding.fix, "SI")
    assert by_rule(check_loads(pull))["machine line pull"].severity == "stop"
    assert utilisation(pull).machine == pytest.approx(80.0)
    assert utilisation(pull).rope is None
    bare = held(8000.0)
    assert utilisation(bare).machine is None
    assert utilisation(bare).governing == "sidewall"  # 8000 N / 1.5 m of 7000 N/m
    assert utilisation(bare).peak == pytest.approx(8000 / 1.5 / 7000)


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


# --- utilisation -------------------------------------------------------------------------------


def test_utilisation_is_demand_over_limit_for_each() -> None:
    run = {"rope": jobs.rope(2.0, 0.0, 16e3), "machine": jobs.machine(20e3)}
    pull = held(4000.0, cable(max_tension=10e3, sidewall_limit=8000.0), **run)
    share = utilisation(pull)
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
    assert utilisation(held(4000.0, **given)).governing == governing


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
    assert (finding.severity, finding.where) == ("stop", "A")
    assert (finding.demand, finding.limit) == (50.0, pull.brake)
    (brake, _), *stretch, (most, _) = finding.fix.values
    assert [value for value, _ in stretch] == list(pull.slack[0])
    assert most == pull.brake_without_friction > pull.brake
    for system in ("US", "SI"):  # as printed, too: to 1 lbf or 10 N
        printed = render(finding.fix, system).split("at least ")[1].split(":")[0]
        number, unit = printed.replace(",", "").split()
        force = float(number) * {"lbf": LBF, "kN": 1000.0}[unit]
        held_back = solve_pull(jobs.run(DROP, reel_tension=force), PRACTICE)
        assert held_back.slack == (), system
        (now,) = check_slack(held_back)
        assert now.severity == "caution"
    assert brake >= pull.brake


def test_the_brake_the_plan_sets_itself_is_a_caution() -> None:
    pull = solve_pull(jobs.run(DROP), PRACTICE)
    (finding,) = check_slack(pull)
    assert finding.severity == "caution"
    assert "hold the cables back" in render(finding.fix, "SI")
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


def test_a_turn_at_a_pull_point_is_a_caution_with_its_angle() -> None:
    route = lay(
        at((0, 0, 0)),
        at((30, 0, 0), name="V{1}", ends="reel machine"),
        at((30, 20, 0)),
        conduits=conduit(),
    )
    (finding,) = check_corners(solve_pull(jobs.run(route), PRACTICE))
    assert (finding.severity, finding.where) == ("caution", "V{1}")
    assert finding.demand == pytest.approx(math.pi / 2)
    assert finding.station == pytest.approx(30.0)
    assert render(finding.place, "US") == "V{1}"


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
    """The same pull at twice its tension; what breaks while moving is not said a second time."""
    pull = held(8000.0)
    run = pull.run
    least = min(conductor_limit(run, PRACTICE).value, grip_limit(run).value)
    assert pull.peak_tension < least
    double = held(8000.0 * 1.01 * least / pull.peak_tension)
    rules = {f.rule for f in check_restart(pull, double)}
    assert rules & {"restart: conductor tension", "restart: pulling eyes load"}
    assert rules.isdisjoint(f.rule for f in check_restart(double, double))
