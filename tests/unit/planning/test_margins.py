"""Friction margin and brake window.

O1 and O2 are worked numbers of an independent solver (DOP853 arc by arc, no rounding): computed,
not published.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from route3d.checks.limits import NO_BRAKE, utilization
from route3d.mechanics.feed import reel_drag
from route3d.mechanics.pull import Pull, at_friction, peaks_with, solve_pull, with_friction
from route3d.model import Cable, CableSet, Conductor, Conduit, Practice, Reel, Rope, Route, Run
from route3d.model.run import EndSetup
from route3d.planning.direction import candidate
from route3d.planning.margins import (
    BrakeWindow,
    as_ordered,
    brake_findings,
    brake_label,
    brake_setting,
    brake_window,
    brake_words,
    friction_margin,
)
from route3d.report.words import limit_of, measured
from route3d.units import render
from tests.support import jobs
from tests.support.jobs import FOOT, INCH, LBF, LBF_PER_FT, along, at, conduit, hills, lay
from tests.support.routes import Go, Turn, vertices

AXIS, INSIDE = Practice(sidewall_radius="centerline"), Practice()
BORE = 5.016 * INCH


def job(points: list[tuple[float, float, float]], friction: float, **more: object) -> Run:
    """The cable and rope of O1 and O2; points in ft, bends of 48 in."""
    strength = Conductor("copper", 8400 * LBF / 1e8, 1, 1e8)
    cable = Cable("c", 1.8 * INCH, 5.385 * LBF_PER_FT, strength, 500 * LBF_PER_FT, 12)
    rope = Rope("r", 0.75 * INCH, 0.16 * LBF_PER_FT, 0.15, 1e9, 0.012)
    last = len(points) - 1
    bends = [0.0, *[48 * INCH] * (last - 1), 0.0]
    names = ["A", *[""] * (last - 1), "B"]
    ends = ["reel machine", *[""] * (last - 1), "reel machine"]
    places = [[x * FOOT for x in point] for point in points]
    duct = Conduit("duct", BORE, 5.563 * INCH, friction)
    route = lay(*map(at, places, bends, names, ends), conduits=duct)
    return Run(CableSet(((cable, 1),)), route, "R", rope=rope, **more)  # type: ignore[arg-type]


O1 = job([(0, 0, -5), (300, 0, -5), (300, 200, -5), (420, 200, -5)], 0.22)
O2 = job([(0, 0, 40), (20, 0, 40), (20, 0, 0), (80, 0, 0)], 0.35)


def test_o1_without_a_reel_the_drag_is_25_ft_of_cable() -> None:
    pull = solve_pull(O1, AXIS)
    assert pull.path.length / FOOT == pytest.approx(616.5664, abs=5e-5)
    assert pull.reel_tension / LBF == pytest.approx(134.625, abs=5e-4)
    assert pull.machine_least / LBF == pytest.approx(1427.77, abs=5e-3)


@pytest.mark.parametrize(
    ("practice", "margin", "restart"),
    [(AXIS, 1.335551, 1.0273), (INSIDE, 1.292207, 0.9940)],
)
def test_o1_friction_margin(practice: Practice, margin: float, restart: float) -> None:
    found = friction_margin(solve_pull(O1, practice))
    assert found.factor == pytest.approx(margin, abs=6e-7)
    assert found.at_restart == pytest.approx(restart, abs=6e-5)
    assert found.limit == "sidewall"
    assert found.brake_holds_from == 0.0  # level: nothing to hold


def test_o2_brake_window() -> None:
    pull = solve_pull(O2, AXIS)
    window = brake_window(pull)
    assert window.at_least / LBF == pytest.approx(144.42, abs=6e-3)
    assert pull.brake / LBF == pytest.approx(87.37, abs=6e-3)
    assert window.without_friction / LBF == pytest.approx(215.40, abs=6e-3)
    assert window.at_most / LBF == pytest.approx(541.55, abs=6e-3)
    assert window.anywhere and window.holds and not window.empty


def test_o2_at_most_while_moving_is_that_of_friction_at_its_high_end() -> None:
    # Without a restart factor only the moving pull at 1.2 x counts.
    window = brake_window(solve_pull(O2, replace(AXIS, restart=1.0)))
    assert window.at_most / LBF == pytest.approx(606.57, abs=6e-3)


def test_the_ends_of_a_range_that_is_given_count() -> None:
    duct = replace(O2.route.conduits[0], friction_low=0.1, friction_high=0.7)
    ranged = replace(O2, route=Route(O2.route.vertices, (duct,) * 3))
    wide = brake_window(solve_pull(ranged, replace(AXIS, restart=1.0)))
    slick = solve_pull(with_friction(O2, 0.1 / 0.35), AXIS)
    assert wide.at_least == pytest.approx(slick.brake, rel=1e-9)
    rough = Route(O2.route.vertices, (replace(duct, friction=0.7),) * 3)
    # The rope has one figure: 1.2 times it at the high end.
    rope = replace(O2.rope, friction=0.15 * 1.2)  # type: ignore[type-var]
    at_high = solve_pull(replace(O2, route=rough, rope=rope, reel_tension=wide.at_most), AXIS)
    assert utilization(at_high).peak == pytest.approx(1.0, abs=1e-6)


# --- at the figure, and half a per cent to either side -------------------------------------------


def random_pulls() -> list[Pull]:
    found = []
    for seed in range(12):
        route = hills(np.random.default_rng([seed, 3]), 4, [0.0, 3.0, 12.0][seed % 3])
        more = {"rope": jobs.rope(), "machine": jobs.machine(40e3)}
        cables = [(jobs.cable(sidewall_limit=20e3), 3)]
        reel = Reel("r") if seed % 2 else Reel("r", drag_force=40.0)
        run = jobs.run(route, cables, reel=reel, **more)
        found += [solve_pull(run, Practice(), reverse=reverse) for reverse in (False, True)]
    return found


RANDOM = random_pulls()


def peak_at(pull: Pull, factor: float) -> float:
    return utilization(at_friction(pull, factor)).peak


@pytest.mark.parametrize("pull", RANDOM, ids=range(len(RANDOM)))
def test_the_margin_is_where_the_first_limit_is_reached(pull: Pull) -> None:
    margin = friction_margin(pull)
    if margin.factor is None:
        assert peak_at(pull, 1e-9) > 1.0
        return
    assert peak_at(pull, margin.factor) == pytest.approx(1.0, abs=1e-5)
    assert peak_at(pull, 0.995 * margin.factor) < 1.0 < peak_at(pull, 1.005 * margin.factor)
    assert utilization(at_friction(pull, 1.001 * margin.factor)).governing == margin.limit
    assert margin.at_restart == pytest.approx(margin.factor / pull.practice.restart)
    # A restart at that multiple of the friction just reaches the limit.
    again = at_friction(pull, (margin.at_restart or 0.0) * pull.practice.restart)
    assert utilization(again).peak == pytest.approx(1.0, abs=1e-5)


@pytest.mark.parametrize("pull", RANDOM, ids=range(len(RANDOM)))
def test_the_brake_holds_from_the_multiple_that_is_said(pull: Pull) -> None:
    least = friction_margin(pull).brake_holds_from
    for factor in (least, 1.005 * least):
        assert pull.course.scaled(factor).needed[0] <= pull.start_tension * (1 + 1e-6) + NO_BRAKE
    if least > 0:
        assert pull.course.scaled(0.995 * least).needed[0] > pull.start_tension


@pytest.mark.parametrize("held", [0.0, 100.0])
def test_no_friction_holds_cable_that_hangs_plumb_below_the_feed(held: float) -> None:
    """Nothing presses on the wall of a plumb riser: 30 m of cable ask for the same brake always.

    The search for a multiple that would do ran into numbers past all floats, and ended in an error.
    """
    shape = vertices([Go(30), Turn(90, 1.0, (1, 0, 0)), Go(20), Turn(90, 1.0), Go(20)], (0, 0, -1))
    run = jobs.run(along(shape, conduit(friction=0.35)), reel_tension=held)
    pull = solve_pull(run, Practice())
    assert friction_margin(pull).brake_holds_from == np.inf
    assert pull.brake > 29 * run.cables.weight > held


@pytest.mark.parametrize("pull", RANDOM, ids=range(len(RANDOM)))
def test_both_ends_of_the_window_hold_and_beyond_them_nothing_does(pull: Pull) -> None:
    window = brake_window(pull)
    low = replace(with_friction(pull.run, 0.5), reel_tension=window.at_least)
    assert not solve_pull(low, pull.practice, reverse=pull.reverse).slack or not window.holds
    if window.holds:
        less = replace(low, reel_tension=0.995 * window.at_least)
        assert solve_pull(less, pull.practice, reverse=pull.reverse).slack

    def worst(reel: float) -> float:
        run = replace(pull.run, reel_tension=reel)
        high = at_friction(solve_pull(run, pull.practice, reverse=pull.reverse), 1.2)
        again = at_friction(solve_pull(run, pull.practice, reverse=pull.reverse), 1.3)
        shares = [utilization(high).peak]
        return max(shares + ([utilization(again).peak] if window.anywhere else []))

    if window.at_most > 0 and window.anywhere:
        assert worst(0.995 * window.at_most) < 1.0 < worst(1.005 * window.at_most)
    elif window.at_most == 0:
        assert worst(0.0) > 1.0


@pytest.mark.parametrize("pull", RANDOM[:6], ids=range(6))
def test_peaks_without_a_profile_are_those_of_the_pull(pull: Pull) -> None:
    assert peaks_with(pull) == pytest.approx(pull.peaks, rel=1e-12)
    doubled = at_friction(pull, 2.0)
    again = peaks_with(pull, course=pull.course.scaled(2.0), rope_factor=2.0)
    assert again == pytest.approx(doubled.peaks, rel=1e-12)


@pytest.mark.parametrize("method", [Practice(), Practice(bend_form="capstan")])
def test_cable_that_nothing_holds_stays_taut_from_some_friction_on(method: Practice) -> None:
    """Fed from figure eights down 40 m: no reel, no drag, and without friction it runs away."""
    bends = [at((5, 0, 0), 1.0), at((5, 0, -40), 1.0)]
    ends = at((0, 0, 0), ends="reel"), at((15, 0, -40), ends="machine")
    route = lay(ends[0], *bends, ends[1], conduits=conduit(friction=0.2))
    pull = solve_pull(jobs.run(route, reel_tension=0.0), method)
    found = friction_margin(pull).brake_holds_from
    assert 1.0 < found < 10.0
    for factor, taut in ((1.001, True), (0.999, False)):
        needed = float(pull.course.scaled(found * factor).needed[0])
        assert (needed <= NO_BRAKE) is taut


def test_no_margin_where_a_limit_is_exceeded_without_friction() -> None:
    # 40 ft of cable hang in the riser whatever the friction: 215 lbf of at most 200.
    weak = replace(O2.cables.items[0][0], max_tension=200 * LBF)
    up = solve_pull(replace(O2, cables=CableSet(((weak, 1),))), AXIS, reverse=True)
    margin = friction_margin(up)
    assert (margin.factor, margin.at_restart, margin.limit) == (None, None, "conductor")


# --- findings -------------------------------------------------------------------------------------


def found(run: Run, practice: Practice = AXIS) -> dict[str, tuple[str, str]]:
    pull = solve_pull(run, practice)
    return {
        f.rule: (f.severity, render(f.fix, "US")) for f in brake_findings(pull, brake_window(pull))
    }


def with_reel(**given: object) -> Run:
    return replace(O2, reel=Reel("berth", drag_force=0.0, **given))  # type: ignore[arg-type]


def test_a_brake_that_holds_is_a_caution_with_both_ends_of_the_window() -> None:
    severity, text = found(O2)["reel brake"]
    assert severity == "caution"
    assert text.startswith(
        "Brake the reels: at least 145 lbf total, at most 541 lbf, for the whole"
    )
    assert "With no friction it takes 216 lbf to hold the cable" in text


def test_a_light_brake_is_a_note_and_never_a_free_reel() -> None:
    severity, text = found(O1)["reel brake"]
    assert (severity, text) == (
        "note",
        "Brake lightly to prevent overrun: at most 169 lbf total",
    )
    window = brake_window(solve_pull(O1, AXIS))
    assert window.at_least == 0.0 and not window.holds


def test_a_light_brake_below_the_drag_is_a_caution() -> None:
    run = replace(O1, reel=Reel("stiff", drag_force=800 * LBF))
    severity, text = found(run)["reel brake"]
    assert severity == "caution"
    assert "Reel drag alone is 800 lbf" in text
    broken = replace(O1, reel=Reel("stiff", drag_force=0.0))
    weak = replace(O1.cables.items[0][0], sidewall_limit=100 * LBF_PER_FT)
    severity, text = found(replace(broken, cables=CableSet(((weak, 1),))))["reel brake"]
    assert severity == "caution" and "at any reel tension" in text


def test_an_empty_window_is_a_stop() -> None:
    # A limit that the tension of the brake alone exceeds in the first bend.
    tight = replace(O2.cables.items[0][0], sidewall_limit=20 * LBF_PER_FT)
    run = replace(O2, cables=CableSet(((tight, 1),)))
    severity, text = found(run)["brake window"]
    assert severity == "stop"
    assert "need at least 145 lbf to stay taut" in text
    assert candidate(solve_pull(run, AXIS)).passes is False


@pytest.mark.parametrize(
    ("given", "severity"),
    [
        ({"brake_force": 144.5 * LBF}, "ok"),
        ({"brake_force": 144.3 * LBF}, "stop"),
        ({"brake_torque": 144.5 * LBF * 0.8, "diameter": 1.6}, "ok"),
        ({"brake_torque": 144.3 * LBF * 0.8, "diameter": 1.6}, "stop"),
        ({"brake_force": 72.3 * LBF, "count": 2}, "ok"),
        ({"brake_force": 72.1 * LBF, "count": 2}, "stop"),
    ],
)
def test_a_window_above_the_rating_is_a_stop(given: dict[str, object], severity: str) -> None:
    assert found(with_reel(**given))["brake rating"][0] == severity


def test_no_rating_is_judged_without_one_or_without_the_drum() -> None:
    assert "brake rating" not in found(with_reel())
    assert "brake rating" not in found(with_reel(brake_torque=500.0))  # no diameter


@pytest.mark.parametrize(("drum", "caution"), [(0.43, False), (0.42, True)])
def test_at_constant_torque_tension_rises_as_the_drum_empties(drum: float, caution: bool) -> None:
    # 144.42 lbf at a full drum of 1.6 m, at most 541.55 at the last turn: 0.4267 m.
    rules = found(with_reel(diameter=1.6, drum_diameter=drum))
    assert ("brake at the empty drum" in rules) == caution


def test_the_assumed_drag_is_said_where_it_is_worked_with() -> None:
    assert "from memory" in found(O1)["reel drag"][1]
    assert "reel drag" not in found(replace(O1, reel=Reel("r", drag_length=7.0)))
    assert "reel drag" not in found(replace(O1, reel_tension=900.0))


# --- reels ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("reel", "lbf"),
    [
        (None, 3 * 25 * 5.385),
        (Reel("r", drag_length=10 * FOOT), 3 * 10 * 5.385),
        (Reel("r", drag_force=40 * LBF), 3 * 40.0),  # of each of three reels
        (Reel("r", drag_force=40 * LBF, count=1), 40.0),
        (Reel("r", drag_force=0.0), 0.0),
    ],
)
def test_the_drag_of_the_reels_is_summed(reel: Reel | None, lbf: float) -> None:
    three = replace(O1, cables=CableSet(((O1.cables.items[0][0], 3),)), reel=reel)
    assert solve_pull(three, AXIS).reel_tension / LBF == pytest.approx(lbf, abs=1e-9)


def test_auto_is_the_larger_of_brake_and_drag() -> None:
    slack, stiff = (replace(O2, reel=Reel("r", drag_force=x * LBF)) for x in (50.0, 90.0))
    assert solve_pull(slack, AXIS).reel_tension / LBF == pytest.approx(87.37, abs=6e-3)
    assert solve_pull(stiff, AXIS).reel_tension / LBF == pytest.approx(90.0)


@pytest.mark.parametrize(
    ("given", "factor"),
    [
        ({"feed_efficiency": 0.95}, 1 / 0.95),
        ({"feed_friction": 0.25}, float(np.exp(0.25 * np.pi / 2))),
        ({}, 1.0),
    ],
)
def test_the_feed_guide_raises_the_tension_before_the_first_bend(
    given: dict[str, float], factor: float
) -> None:
    reel = Reel("r", drag_force=100.0, feed_turn=np.pi / 2, **given)
    pull = solve_pull(replace(O1, reel=reel), AXIS)
    assert pull.reel_tension == pytest.approx(100.0)
    assert pull.start_tension == pytest.approx(100.0 * factor)
    assert pull.profile.tension[0] == pull.start_tension


# --- equipment of one end -------------------------------------------------------------------------


def test_equipment_of_one_end_is_used_at_that_end_only() -> None:
    strong, weak = jobs.machine(60e3, name="strong"), jobs.machine(20e3, name="weak")
    reel = Reel("far reel", drag_force=500.0)
    ends = (EndSetup("B", machine=weak, reel=reel),)
    shape = vertices([Go(40), Turn(90, 1.5), Go(10)])
    run = jobs.run(along(shape, conduit()), rope=jobs.rope(), machine=strong, ends=ends)
    onward, back = (solve_pull(run, AXIS, reverse=reverse) for reverse in (False, True))
    assert (onward.run.machine, back.run.machine) == (weak, strong)
    assert (onward.reel_tension, back.reel_tension) == (0.0, 500.0)
    assert utilization(onward).machine == pytest.approx(onward.machine_least / 20e3)


# --- what is ordered ------------------------------------------------------------------------------


def test_a_plan_holds_the_reels_as_ordered() -> None:
    """O2: 144.42 lbf where the drag of 134.625 lbf and the 87.37 at the given friction are less."""
    pull = solve_pull(O2, AXIS)
    assert pull.reel_tension / LBF == pytest.approx(134.625, abs=5e-4)
    ordered = as_ordered(pull)
    assert ordered.reel_tension / LBF == pytest.approx(144.42, abs=6e-3)
    again = solve_pull(replace(O2, reel_tension=ordered.reel_tension), AXIS)
    assert ordered.machine_peak == pytest.approx(again.machine_peak, rel=1e-12)
    assert as_ordered(ordered) is ordered
    level = solve_pull(O1, AXIS)
    assert as_ordered(level) is level


WINDOW = brake_window(solve_pull(O2, AXIS))


@pytest.mark.parametrize(
    ("window", "words", "setting", "label"),
    [
        (
            WINDOW,
            "Brake the reels: at least 145 lbf total, at most 541 lbf, for the whole pull",
            "145 lbf to 541 lbf",
            "brake 145 lbf to 541 lbf",
        ),
        (
            replace(WINDOW, at_most=100.6 * LBF),
            "No brake setting meets every limit: at least 145 lbf total required, at most "
            "100 lbf allowed",
            "no brake setting works",
            "no brake setting",
        ),
        (
            replace(WINDOW, at_least=0.0),
            "Brake lightly to prevent overrun: at most 541 lbf total",
            "light, at most 541 lbf",
            "light brake, at most 541 lbf",
        ),
        (
            replace(WINDOW, at_least=0.0, at_most=0.0),
            "Brake as lightly as possible, only to prevent overrun: at high friction a limit "
            "is exceeded",
            "lightest",
            "lightest possible brake",
        ),
    ],
)
def test_brake_in_words_bounds_rounded_to_their_safe_side(
    window: BrakeWindow, words: str, setting: str, label: str
) -> None:
    told = (brake_words(window), brake_setting(window), brake_label(window))
    assert tuple(render(phrase, "US") for phrase in told) == (words, setting, label)


def test_the_figures_of_a_finding_are_rounded_to_their_safe_side() -> None:
    pull = solve_pull(O2, AXIS)
    empty = replace(WINDOW, at_most=100.6 * LBF)
    (stop,) = [f for f in brake_findings(pull, empty) if f.rule == "brake window"]
    assert (measured(stop, "US"), limit_of(stop, "US")) == ("at least 145 lbf", "at most 100 lbf")
    assert (stop.demand, stop.limit) == (empty.at_least, empty.at_most)
    (caution,) = [f for f in brake_findings(pull, WINDOW) if f.rule == "reel brake"]
    assert measured(caution, "US") == "145 lbf"


@pytest.mark.parametrize(
    ("share", "narrow"), [(1.0, True), (1.2499, True), (1.25, False), (1.2501, False)]
)
def test_a_window_too_narrow_for_a_hand_is_a_caution(share: float, narrow: bool) -> None:
    """Within 10 % either way: 1.1 / 0.9 = 1.22, taken as 1.25."""
    window = replace(WINDOW, at_most=WINDOW.at_least * share)
    rules = {f.rule: f for f in brake_findings(solve_pull(O2, AXIS), window)}
    assert ("narrow brake window" in rules) == narrow
    if narrow:
        found = rules["narrow brake window"]
        assert found.severity == "caution"
        assert found.demand == pytest.approx(WINDOW.at_least * (share - 1))
        assert found.limit == pytest.approx(WINDOW.at_least * 0.25)


def test_one_force_given_for_several_reels_is_taken_for_each_and_said() -> None:
    """Three cables of one kind on three reels of 60 lbf: 180 lbf; on one reel 60 lbf."""
    three = replace(O1, cables=CableSet(((O1.cables.items[0][0], 3),)))
    reel = Reel("yard", drag_force=60 * LBF)
    severity, text = found(replace(three, reel=reel))["reel drag"]
    assert severity == "note"
    assert text.startswith("60 lbf used for each of 3 reels, 180 lbf total.")
    assert "reel drag" not in found(replace(three, reel=replace(reel, count=1)))


def test_a_length_of_cable_as_drag_is_that_of_each_reel_of_its_own_cable() -> None:
    """10 ft of 5.385 lb/ft and of 2 x 1 lb/ft: 53.85 + 10 + 10 = 73.85 lbf."""
    big = O1.cables.items[0][0]
    thin = replace(big, name="thin", weight=1.0 * LBF_PER_FT)
    reel = Reel("yard", drag_length=10 * FOOT)
    run = replace(O1, cables=CableSet(((big, 1), (thin, 2))), reel=reel)
    assert reel_drag(run) / LBF == pytest.approx(73.85)


@pytest.mark.parametrize(
    ("range_", "said"),
    [
        ((0.3, 0.5, "site test"), "friction 0.30 to 0.50 in duct: site test"),
        ((0.3, 0.5, ""), "friction 0.30 to 0.50 in duct: given"),
        (
            (0.3, None, "site test"),
            "friction 0.30 to 0.42 in duct: site test, high assumed, 1.2 times the value "
            "given (common practice, no source)",
        ),
        (
            (None, None, ""),
            "friction 0.17 to 0.42 in duct: low assumed, 0.5 times the value given (common "
            "practice, no source), high assumed, 1.2 times the value given (common practice, "
            "no source)",
        ),
    ],
)
def test_the_source_of_the_window_is_the_range_that_was_given(
    range_: tuple[float | None, float | None, str], said: str
) -> None:
    low, high, who = range_
    given = {"friction_low": low, "friction_high": high, "friction_source": who}
    duct = replace(O2.route.conduits[0], friction=0.35, **given)  # type: ignore[arg-type]
    run = replace(O2, route=replace(O2.route, conduits=(duct,) * len(O2.route.conduits)))
    findings = candidate(solve_pull(run, AXIS)).findings
    assert {f.source for f in findings if f.rule in ("reel brake", "brake window")} == {said}


@pytest.mark.parametrize(
    ("at_least", "at_most", "said"),
    [
        (1200.0, 3400.0, "1.20 kN to 3.40 kN"),
        (0.0, 3400.0, "light, at most 3.40 kN"),
        (0.0, 0.0, "lightest"),
    ],
)
def test_a_label_says_what_the_brake_is_set_to(at_least: float, at_most: float, said: str) -> None:
    window = BrakeWindow(at_least, at_least, at_most, True, 0.0)
    assert render(brake_setting(window), "SI") == said
