"""How far each input may go: closed forms, and each value solved again on both of its sides."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

import route3d
from route3d.checks.limits import conductor_limit, grip_limit, sidewall_limit, utilization
from route3d.checks.run import check_run
from route3d.errors import InputError
from route3d.geometry.fillet import route_path
from route3d.mechanics.pull import run_fits, solve_pull
from route3d.model import Job, Practice, Run
from route3d.planning.direction import candidate
from route3d.planning.margins import share_at_least_brake
from route3d.planning.remedies.bend_margins import bend_margins
from route3d.planning.result import evaluate_run
from route3d.report.study_limits import special_words
from route3d.study.limits.inputs import studied_inputs
from route3d.study.limits.outcome import EndLimits, FarthestValue
from route3d.study.limits.study import job_limits
from tests.support import jobs, routes
from tests.support.routes import Go, Turn

LEVEL = [Go(200.0)]
QUARTER = [Go(30.0), Turn(90.0, 3.0), Go(20.0)]


def only(end: EndLimits, kind: str) -> FarthestValue:
    (value,) = (v for v in end.values if v.input == kind)
    return value


def ends_of(run: Run, *kinds: str, practice: Practice | None = None) -> tuple[EndLimits, EndLimits]:
    job = Job(runs=(run,), practice=practice or Practice(rules="none"))
    (found,) = job_limits(job, kinds) if kinds else job_limits(job)
    return found.ends


def tension_limit(run: Run) -> float:
    return min(conductor_limit(run, Practice()).value, grip_limit(run).value)


# --- closed forms ---------------------------------------------------------------------------------


def test_a_level_straight_by_its_closed_form() -> None:
    """T = μ w L from a reel without drag: each of the three where T is the limit."""
    run = jobs.run(jobs.along(routes.vertices(LEVEL), jobs.conduit(friction=0.3)))
    weight, most = run.cables.weight, tension_limit(run)
    for end in ends_of(run, "friction", "longest straight", "set weight"):
        factor, friction, *_ = end.values
        assert factor.farthest == pytest.approx(most / (weight * 200.0) / 0.3, rel=1e-6)
        assert friction.farthest == pytest.approx(most / (weight * 200.0), rel=1e-6)
        straight, heavy = only(end, "longest straight"), only(end, "set weight")
        assert straight.farthest == pytest.approx(most / (0.3 * weight), rel=1e-6)
        assert heavy.farthest == pytest.approx(most / (0.3 * 200.0), rel=1e-6)
        assert {v.first for v in end.values} <= {"conductor tension", "pulling eyes load"}
        assert straight.where == end.pull
        assert straight.room == pytest.approx((straight.farthest or 0.0) / 200.0 - 1.0)


def weightless(friction: float = 0.3, **more: float) -> Run:
    cable = jobs.cable(weight=1e-9, bend_multiple=1.0, **more)  # type: ignore[arg-type]
    route = jobs.along(routes.vertices(QUARTER), jobs.conduit(friction=friction))
    return jobs.run(route, cable, reel_tension=2000.0)


def test_friction_of_a_capstan_by_its_closed_form() -> None:
    """T = T0 exp(μ φ) of a cable without weight, so μ = ln(T / T0) / φ."""
    run = weightless(sidewall_limit=1e9)
    expected = math.log(tension_limit(run) / 2000.0) / (math.pi / 2)
    for end in ends_of(run, "friction"):
        assert end.values[1].farthest == pytest.approx(expected, rel=1e-6)


def test_the_radius_of_a_capstan_by_its_closed_form() -> None:
    """T0 exp(μ φ) over the radius of the inner wall is the limit of sidewall pressure."""
    run = weightless(sidewall_limit=4000.0)
    tension = 2000.0 * math.exp(0.3 * math.pi / 2)
    expected = tension / sidewall_limit(run).value + 0.13 / 2
    for end in ends_of(run, "bend radius"):
        found = only(end, "bend radius")
        assert found.farthest == pytest.approx(expected, rel=1e-6)
        assert (found.first, found.where) == ("sidewall pressure", "bend 1")


def test_the_smallest_machine_and_rope_by_the_load_on_them() -> None:
    """The load does not depend on their rating: the rating that passes is the load."""
    run = jobs.run(
        jobs.along(routes.vertices(QUARTER), jobs.conduit()),
        rope=jobs.rope(),
        machine=replace(jobs.machine(), efficiency=0.9),
    )
    for end, reverse in zip(ends_of(run, "machine", "rope"), (False, True), strict=True):
        load = solve_pull(run, Practice(), reverse=reverse).machine_least
        assert only(end, "machine").farthest == pytest.approx(load / 0.9, rel=1e-6)
        assert only(end, "rope").farthest == pytest.approx(load, rel=1e-6)


def test_the_largest_cable_by_fill_and_by_jamming() -> None:
    """NFPA 70 chapter 9 table 1: 53 % for one cable. Three jam where 1.05 D/d falls to 3.0."""
    rules = Practice()
    one = jobs.straight_run(jobs.conduit(0.13, 0.1), jobs.cable())
    found = only(ends_of(one, "cable diameter", practice=rules)[0], "cable diameter")
    assert found.first == "fill"
    assert found.farthest == pytest.approx(0.13 * math.sqrt(0.53), rel=1e-6)
    three = jobs.straight_run(jobs.conduit(0.13, 0.1), [(jobs.cable(diameter=0.03), 3)])
    found = only(ends_of(three, "cable diameter", practice=rules)[0], "cable diameter")
    assert (found.first, found.where) == ("jam ratio", "F1, conduit duct")
    assert found.farthest == pytest.approx(1.05 * 0.13 / 3.0, rel=1e-6)


def test_the_first_place_that_fails_counts_where_a_larger_value_passes_again() -> None:
    """Three cables that are too large to roll over each other cannot jam any more."""
    run = jobs.straight_run(jobs.conduit(0.13, 0.1), [(jobs.cable(diameter=0.03), 3)])
    practice = Practice(rules="none")
    (of,) = studied_inputs(run, practice, route_path(run.route), False, ("cable diameter",))
    assert not stops(of.changed(1.05 * 0.13 / 2.45), practice, False, True)
    found = only(ends_of(run, "cable diameter")[0], "cable diameter")
    assert found.farthest == pytest.approx(1.05 * 0.13 / 3.0, rel=1e-6)


def test_a_radius_that_needs_a_special_bend_is_said_to() -> None:
    """From the standard elbow to the least field bend a bend is a caution: stops alone count."""
    duct = jobs.conduit(min_bend_radius=0.8, elbow_radius=0.6)
    run = jobs.run(jobs.along(routes.vertices(QUARTER), duct))
    for end in ends_of(run, "bend radius"):
        found = only(end, "bend radius")
        assert found.farthest == pytest.approx(0.6, rel=1e-5) and found.special == 0.8
        (words,) = special_words(end, "SI")
        assert "below 0.800 m requires" in words or "below 0.8 m requires" in words


def test_without_friction_or_load_nothing_limits() -> None:
    run = jobs.straight_run(jobs.conduit(friction=0.0), jobs.cable())
    (factor,) = ends_of(run, "friction")[0].values
    assert factor.unlimited and factor.farthest == math.inf and factor.room is None
    assert ends_of(run, "rope")[0].values == ()  # no rope is given
    machine = only(ends_of(run, "machine")[0], "machine")
    assert math.isnan(machine.planned) and machine.unlimited


# --- both sides of every value --------------------------------------------------------------------


def stops(run: Run, practice: Practice, reverse: bool, jams: bool) -> bool:
    """Whether anything stops a run pulled in one direction, by every check there is."""
    try:
        path, fits = route_path(run.route), run_fits(run)
        pull = solve_pull(run, practice, reverse=reverse)
    except InputError:
        return True
    found = (*check_run(run, practice, path, fits), *candidate(pull).findings)
    jam = jams and any(f.rule == "jam ratio" and f.severity == "caution" for f in found)
    return jam or any(f.severity == "stop" for f in found)


def random_run(seed: int, law: bool = False) -> Run:
    """Two to four bends any way up, one to three cables, with rope and machine or without.

    With the ``law`` friction falls in one of the two conduits by a test report.
    """
    rng = np.random.default_rng(seed)
    pieces: list[Go | Turn] = []
    for _ in range(rng.integers(2, 5)):
        side = rng.choice(["left", "right", "up", "down"])
        pieces += [Go(rng.uniform(3, 40)), Turn(rng.uniform(15, 90), rng.uniform(0.8, 2.5), side)]
    pieces.append(Go(rng.uniform(3, 40)))
    points, radii = routes.vertices(pieces, routes.slope(rng.uniform(-20, 20)))
    ducts = [jobs.conduit(0.13, f, f"duct {f}") for f in (0.15, 0.3)]
    if law:
        fall = {"friction_above": float(rng.uniform(150.0, 800.0)), "friction_then": 0.12}
        ducts[1] = replace(ducts[1], **fall, friction_report="lab report 12")  # type: ignore[arg-type]
    legs = [ducts[i] for i in rng.integers(0, 2, len(points) - 1)]
    tackle = {"rope": jobs.rope(), "machine": jobs.machine()} if seed % 3 else {}
    cables = [(jobs.cable(), int(rng.integers(1, 4)))]
    return jobs.run(jobs.along((points, radii), legs), cables, **tackle)


@pytest.mark.parametrize(
    ("seed", "law"), [*((seed, False) for seed in range(40)), (2, True), (3, True), (5, True)]
)
def test_inside_passes_and_outside_fails(seed: int, law: bool) -> None:
    run, practice = random_run(seed, law), Practice()
    path = route_path(run.route)
    for end in ends_of(run, practice=practice):
        asked = studied_inputs(run, practice, path, end.reverse)
        planned = stops(run, practice, end.reverse, False)
        assert end.passes != planned
        for of, value in zip(asked, end.values, strict=True):
            jams = of.jams and value.first == "jam ratio"
            if value.farthest is None:
                assert planned and stops(of.changed(of.easier[-1]), practice, end.reverse, jams)
                continue
            if value.unlimited:
                assert not stops(of.changed(of.harder[-1]), practice, end.reverse, jams)
                continue
            assert not stops(of.changed(value.farthest), practice, end.reverse, jams), value
            assert stops(of.changed(value.beyond), practice, end.reverse, jams), value
            assert abs(value.beyond - value.farthest) <= 1e-6 * abs(value.farthest) + 1e-9
            assert (value.room is None) or (value.room < 0) == planned


def test_both_frictions_are_told_and_each_is_the_limit_it_would_decide() -> None:
    """One conduit with a fall: the figures are those of the run decided either way."""

    def run(report: str, **fall: float) -> Run:
        duct = jobs.conduit(friction=0.3, friction_report=report, **fall)
        shape = routes.vertices([Go(60.0), Turn(90.0, 1.5), Go(40.0), Turn(90.0, 1.5), Go(20.0)])
        return jobs.run(jobs.along(shape, duct), [(jobs.cable(), 3)], rope=jobs.rope())

    fall = {"friction_above": 400.0, "friction_then": 0.15}
    plain, shown, tested = run(""), run("", **fall), run("T-1", **fall)
    found = [ends_of(each, "friction", "bend radius") for each in (plain, shown, tested)]
    for constant, mine, other in zip(*found, strict=True):
        assert constant.by_both is None and mine.by_both == replace(
            other.by_both,
            decides="constant friction (no test report)",  # type: ignore[type-var]
        )
        both = mine.by_both
        assert both is not None and both.constant.farthest is not None
        assert both.by_pressure.farthest is not None
        assert mine.values == constant.values
        assert both.constant.farthest.farthest == mine.values[0].farthest
        assert both.by_pressure.farthest.farthest == other.values[0].farthest
        assert both.by_pressure.farthest.farthest > both.constant.farthest.farthest * 1.05
        assert both.by_pressure.utilization < both.constant.utilization
        pull = solve_pull(tested, Practice(rules="none"), reverse=mine.reverse)
        assert both.by_pressure.utilization == pytest.approx(utilization(pull).peak)


def test_no_friction_at_all_is_no_fall() -> None:
    """Where nothing passes, friction goes down to 0: also friction that falls."""
    duct = jobs.conduit(
        friction=0.3, friction_above=400.0, friction_then=0.1, friction_report="T-1"
    )
    heavy = jobs.run(jobs.along(routes.vertices(QUARTER), duct), reel_tension=1e6)
    for end in ends_of(heavy, "friction"):
        assert [v.farthest for v in end.values] == [None, None]


@pytest.mark.parametrize("seed", range(20))
def test_the_share_at_the_lightest_brake_says_whether_the_window_is_empty(seed: int) -> None:
    """By the search for both ends of the window, over frictions that open and close it."""
    rng = np.random.default_rng(seed)
    drop = [
        Go(5.0),
        Turn(90.0, 1.5, "down"),
        Go(rng.uniform(20, 200)),
        Turn(90.0, 1.5, "up"),
        Go(40),
    ]
    run = jobs.run(
        jobs.along(routes.vertices(drop), jobs.conduit(friction=rng.uniform(0.1, 0.5))),
        [(jobs.cable(sidewall_limit=rng.uniform(2e3, 9e3)), 3)],
        rope=jobs.rope(),
        machine=jobs.machine(rng.uniform(5e3, 2e4)),
    )
    found = candidate(solve_pull(run, Practice()))
    assert (found.least_brake_share > 1.0) == found.window.empty
    assert share_at_least_brake(found.pull, found._planned_starts) == found.least_brake_share


# --- jobs -----------------------------------------------------------------------------------------


def test_a_plan_that_fails_gets_what_would_have_to_change() -> None:
    """The yard run is stopped by one bend from each end; other inputs cannot mend it."""
    job = route3d.load("models/yard_run.toml")
    study = route3d.limits(job, inputs=["radius", "straight"])
    (found,) = study.found
    assert study.stops and not any(end.passes for end in found.ends)
    text = study.text()
    assert text.index("The run must not be pulled as planned") < text.index("Feed from")
    assert "no radius here helps" in text and "(planned)" in text
    for end, number in zip(found.ends, (3, 1), strict=True):
        radii = [v for v in end.values if v.input == "bend radius"]
        assert [v.farthest is None for v in radii] == [n != number for n in (1, 2, 3)]
        value = radii[number - 1]
        assert value.room is not None and value.room < 0 and value.first == "sidewall pressure"
        assert all(v.farthest is None for v in end.values if v.input == "longest straight")
    # The bend schedule finds the same radius, for the better end, on a grid of a thousandth.
    better = next(v for v in found.ends[found.planned].values if v.name == "bend 1")
    (margin,) = (m for m in bend_margins(evaluate_run(job.runs[0], job.practice)) if m.number == 1)
    assert margin.passing_radius is not None
    assert margin.passing_radius == pytest.approx(better.farthest, rel=0.002)
    assert "Not acceptable from this end as planned" in study.text() and "none" in study.html()
    assert {row["input"] for row in study.rows()} == {"bend radius", "longest straight"}


def test_the_machine_and_rope_of_the_tables_pass_and_the_next_smaller_do_not() -> None:
    job = route3d.load("models/roof_drop.toml")
    (found,) = job_limits(job, ("machine", "rope"))
    roof = found.ends[0]
    machine, rope = only(roof, "machine"), only(roof, "rope")
    assert machine.own is not None and machine.own.name == "winch"
    assert machine.stock is not None and machine.stock.name == "capstan 10 kN one-speed"
    assert rope.stock is not None and rope.farthest is not None
    assert rope.stock.rated >= 0.9 * rope.farthest  # its own weight and friction count
    assert "reel access" in found.ends[1].barred.template  # and its values are there all the same
    assert only(found.ends[1], "machine").farthest is not None


def test_shares_along_the_route_are_those_of_the_planned_pull() -> None:
    job = route3d.load("models/riser_duct_bank.toml")
    (found,) = job_limits(job, ())
    result = evaluate_run(job.runs[0], job.practice)
    for end, planned in zip(found.ends, result.candidates, strict=True):
        shares = dict(end.shares)
        assert len(end.stations) == len(planned.pull.profile.station)
        for key, share in planned.utilization.items():
            most = shares[planned.name(key)].max()
            assert most == pytest.approx(share, rel=0.02)  # the peak may lie between two places
    assert found.ends[found.planned].feed == "roof switchroom"


def test_an_input_that_is_none_is_refused() -> None:
    with pytest.raises(InputError, match="no input is named 'frction'; use friction, straight"):
        route3d.limits(route3d.load("models/roof_drop.toml"), inputs=["frction"])
