"""The plan as a whole: its parts agree, and it stops where it must."""

from __future__ import annotations

import itertools
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from route3d.errors import InputError
from route3d.mechanics.lead_off import lead_off_factor
from route3d.mechanics.pull import at_friction, solve_pull, with_friction
from route3d.model import (
    EndSetup,
    Gear,
    Job,
    LeadOff,
    Practice,
    Room,
    Site,
    Vehicle,
    WorkPlatform,
)
from route3d.modelfile.read import load
from route3d.planning.evaluate import evaluate
from route3d.planning.placement.rope_legs import drawn_out
from route3d.planning.placement.search import machine_search
from route3d.planning.pull_plan.feeding import held_at_rest
from route3d.planning.pull_plan.findings import least_load_findings, swivel_findings
from route3d.planning.pull_plan.load_path import governing
from route3d.planning.pull_plan.plan import Plan, make_plan
from route3d.report.plan_blocks import plan_blocks
from route3d.units import GRAVITY, render, show_marked
from tests.support import jobs
from tests.support.histories import seen
from tests.support.jobs import FOOT, at, cable, conduit, lay

MODELS = Path(__file__).parents[4] / "models"


def planned(name: str, feed: int | None = None) -> Plan:
    return of_job(load(MODELS / f"{name}.toml"), feed)


def of_job(job: Job, feed: int | None = None) -> Plan:
    (result,) = evaluate(job, with_remedies=False).runs
    return make_plan(result, job, step=15.0, feed=feed)


@pytest.mark.parametrize("name", ["riser_duct_bank", "roof_drop", "yard_run"])
def test_the_parts_of_a_plan_agree(name: str) -> None:
    plan = planned(name)
    course, gears, allow = plan.pace.history, plan.pace.gears, plan.pace.allowances
    length = plan.pull.path.length
    moves = [0.0, *plan.pace.stops.places, *(change.pulled for change in gears.changes)]
    # The largest load over the first 3 m counts: it is nowhere less than that at the place itself.
    first_moves = [plan.pace.moves.load_at(at) for at in moves]
    assert (first_moves >= np.interp(moves, course.pulled, course.restart) * (1 - 1e-9)).all()
    assert plan.peak == pytest.approx(max(course.load.max(), *first_moves))
    turns = lead_off_factor(plan.pull.run.lead_off, plan.pull.run.rope.friction)
    assert course.load[-1] == pytest.approx(plan.pull.end_tension * turns, rel=1e-6)
    assert plan.gauge[-1].expected == pytest.approx(plan.pull.end_tension * turns, rel=1e-6)
    edges = [0.0, *(change.pulled for change in gears.changes), length]
    assert [(s.start, s.end) for s in gears.spans] == [
        pytest.approx(pair) for pair in itertools.pairwise(edges)
    ]
    slowest, fastest = zip(*map(extremes, (s.gear for s in gears.spans)), strict=True)
    lengths = np.diff(edges)
    assert (lengths / fastest).sum() <= plan.pace.crew.pulling * (1 + 1e-9)
    assert plan.pace.crew.pulling <= (lengths / slowest).sum() * (1 + 1e-9)
    assert plan.feeding.cable_length == pytest.approx(length + allow.feed_slack + allow.pull_slack)
    assert plan.supplies.rope is not None
    assert plan.supplies.rope.length == pytest.approx(length + allow.rope_tail)
    # Everything behind the last sheave carries the peak, everything before the first less.
    loads = {link.name: link.load for link in plan.links}
    assert loads["machine, strongest gear"] == loads["rope, working load"] == plan.peak
    # A head drawn out over a lead-off sheave carries the tension going out of it.
    out = drawn_out(plan.pull.run, allow)
    passed = [t.sheave.efficiency for t in plan.pull.run.lead_off if t.sheave and t.distance < out]
    most = max(
        plan.pull.peak_tension, np.interp(moves, course.pulled, course.restart_tension).max()
    )
    assert loads["swivel"] == pytest.approx(most / np.prod(passed))
    shares = {link.name: link.load / link.rating for link in plan.links if link.rating is not None}
    weakest = governing(plan.links)
    assert weakest is not None and weakest.name == max(shares, key=lambda name: shares[name])
    assert plan.placement.best and plan.placement.good > 0


def extremes(gear: Gear) -> tuple[float, float]:
    """Slowest and fastest speed of a gear, m/s."""
    speeds = [speed for _, speed in gear.speeds] or [gear.speed]
    return min(speeds), max(speeds)


def test_only_the_run_that_breaks_a_limit_stops() -> None:
    assert planned("yard_run").stops
    assert not planned("riser_duct_bank").stops and not planned("roof_drop").stops


def test_the_chosen_end_is_planned_unless_another_is_asked_for() -> None:
    plan = planned("riser_duct_bank")
    assert plan.pull.feed == plan.result.best.pull.feed
    other = planned("riser_duct_bank", feed=plan.pull.pull)
    assert other.pull.feed == plan.pull.pull and not other.stops


def test_an_end_without_access_stops_the_plan() -> None:
    plan = planned("roof_drop")
    assert planned("roof_drop", feed=plan.pull.pull).stops


def test_lubricant_stops_count_for_peak_and_clock() -> None:
    job = load(MODELS / "yard_run.toml")
    without = of_job(replace(job, allowances=replace(job.allowances, lubricant_interval=None)))
    with_stops = of_job(job)
    starts = [stop.restart for stop in with_stops.pace.stops.stops]
    assert with_stops.peak == max(*starts, with_stops.pace.history.load.max(), without.peak)
    count = len(with_stops.pace.stops.stops)
    assert with_stops.pace.crew.lubricant_stops == count * job.allowances.lubricant_stop
    assert [row.pulled for row in with_stops.gauge if "lubricant" in row.place] == pytest.approx(
        with_stops.pace.stops.places, abs=0.06
    )
    assert without.pace.crew.lubricant_stops == 0


def test_a_platform_without_a_brace_stops_the_plan() -> None:
    job = load(MODELS / "roof_drop.toml")
    bare = replace(job.runs[0], anchor=WorkPlatform("bare"))
    plan = of_job(replace(job, runs=(bare,)))
    assert plan.stops
    assert any("must be braced" in f.source for f in plan.findings if f.severity == "stop")


def test_a_room_without_a_place_stops_the_plan() -> None:
    job = load(MODELS / "riser_duct_bank.toml")
    (room,) = job.site.rooms
    low = replace(room, ceiling=room.floor + 1.0)  # lower than the machine
    plan = of_job(replace(job, site=replace(job.site, rooms=(low,))))
    (finding,) = [f for f in plan.findings if f.rule == "machine location"]
    assert finding.severity == "stop" and plan.stops and not plan.placement.best


def test_a_weak_swivel_stops_the_plan_and_governs() -> None:
    job = load(MODELS / "riser_duct_bank.toml")
    run = job.runs[0]
    assert run.rigging is not None
    weak = replace(run, rigging=replace(run.rigging, swivel_rating=1000.0))
    plan = of_job(replace(job, runs=(weak,)))
    assert plan.stops and plan.findings[0].rule == "load path: swivel"
    (swivel,) = [link for link in plan.links if link.name == "swivel"]
    assert governing(plan.links) is swivel
    assert (
        plan.gauge[-1].limit in ("grip", "head fitting")
        and plan.gauge[-1].stop < plan.gauge[-1].expected
    )


def test_a_sheave_too_small_for_the_cable_stops_the_plan_where_the_cable_reaches_it() -> None:
    job = load(MODELS / "yard_run.toml")
    run = with_friction(job.runs[0], 0.5)  # at the friction given its sidewall stops it anyway
    assert run.reel is not None and not stops_of(replace(job, runs=(run,)))
    small = replace(run, reel=replace(run.reel, sheave_radius=0.1))
    assert "radius of feed-in sheave" in stops_of(replace(job, runs=(small,)))
    pit, rim = run.lead_off
    assert pit.sheave is not None
    tight = replace(pit, sheave=replace(pit.sheave, radius=0.3))
    assert stops_of(replace(job, runs=(replace(run, lead_off=(tight, rim)),))) == {
        "radius of sheave pit"
    }
    assert rim.sheave is not None and rim.sheave.radius < pit.sheave.radius  # only rope runs there
    far = replace(tight, distance=drawn_out(run, job.allowances))
    assert not stops_of(replace(job, runs=(replace(run, lead_off=(far, rim)),)))


def stops_of(job: Job) -> set[str]:
    return {f.rule for f in of_job(job).findings if f.severity == "stop"}


def test_lubricant_stops_move_to_where_a_first_move_passes() -> None:
    """Past the first of the bends that break, no stop may be: friction at a start is 1.3 times.

    At a stop at most 90 % of any limit (common practice, no source).
    """
    plan = of_job(load(MODELS / "yard_run.toml"))
    stops = plan.pace.stops.stops
    moved = [stop for stop in stops if stop.pulled < stop.wanted]
    assert moved and all(stop.pulled <= stop.wanted for stop in stops)
    for stop in stops:
        assert plan.pace.moves.at(stop.pulled, plan.pace.moves.share) <= 0.9 + 1e-9
    assert plan.pace.stops.left_out  # and no stop after the bend at all


def test_planned_first_moves_load_the_head_too() -> None:
    """What the head bears at the restart, over the sheaves that it has passed by then."""
    job = load(MODELS / "yard_run.toml")
    run = job.runs[0]
    lighter = with_friction(run, 0.6)
    plan = of_job(replace(job, runs=(lighter,)))
    links = {link.name: link.load for link in plan.links}
    static = at_friction(plan.pull, job.practice.restart)
    last = plan.pace.stops.places[-1]
    tension = np.interp(last + 3.0, plan.pace.history.pulled, plan.pace.history.restart_tension)
    pit, _ = run.lead_off  # the head is drawn out over this one
    assert pit.sheave is not None
    borne = max(plan.pull.peak_tension, tension) / pit.sheave.efficiency
    assert links["conductors"] == pytest.approx(borne)
    assert tension <= static.peak_tension


def test_a_machine_that_nothing_is_given_to_hold_is_cautioned() -> None:
    job = load(MODELS / "yard_run.toml")
    assert "rating missing" not in {f.rule for f in of_job(job).findings}
    loose = replace(job, runs=(replace(job.runs[0], anchor=None),))
    plan = of_job(loose)
    (finding,) = [f for f in plan.findings if f.rule == "rating missing"]
    assert finding.severity == "caution" and finding.demand == pytest.approx(plan.peak)
    assert "before pulling: anchor" in render(finding.fix, "SI")


def test_a_full_reel_lighter_than_its_cable_is_cautioned() -> None:
    job = load(MODELS / "yard_run.toml")
    reel = job.runs[0].reel
    assert reel is not None and reel.mass is not None
    for share, expected in ((0.9, True), (1.01, False)):
        cable = job.runs[0].cables.items[0][0].weight / GRAVITY * of_job(job).feeding.cable_length
        light = replace(job.runs[0], reel=replace(reel, mass=share * cable))
        rules = {f.rule for f in of_job(replace(job, runs=(light,))).findings}
        assert ("reel weight" in rules) is expected


def test_blind_gears_are_cautioned() -> None:
    rules = {f.rule for f in of_job(load(MODELS / "yard_run.toml")).findings}
    assert "gauge not accurate" in rules


@pytest.mark.parametrize("part", ["rope", "machine"])
def test_without_rope_or_machine_there_is_no_plan(part: str) -> None:
    job = load(MODELS / "riser_duct_bank.toml")
    bare = replace(job.runs[0], **{part: None})  # type: ignore[arg-type]
    with pytest.raises(InputError, match=f"has no {part}"):
        of_job(replace(job, runs=(bare,)))


@pytest.mark.parametrize(
    ("load", "below"),
    [
        ([0.0, 1000.0], [(0.0, 50.0)]),  # 10 N/m: 500 N at 50 m
        ([600.0, 600.0], []),
        ([500.0, 500.0], []),  # at the value
        ([499.0, 499.0], [(0.0, 100.0)]),
    ],
)
def test_the_minimum_load_is_held_at_every_footage(
    load: list[float], below: list[tuple[float, float]]
) -> None:
    """A machine that holds 500 N and more; the peak alone says nothing of the start."""
    pull = planned("riser_duct_bank").pull
    machine = replace(pull.run.machine, min_load=500.0)
    found = list(least_load_findings(seen([0.0, 100.0], load), pull, machine))
    ends = [value for f in found for value, _ in f.fix.values]
    assert ends == pytest.approx([x for pair in below for x in pair])
    assert [(f.severity, f.limit) for f in found] == [("caution", 500.0)] * bool(below)


def test_two_stretches_below_the_minimum_load_are_both_named() -> None:
    """Down to 0 N and up again: 600 N at 0 and 100 m, 0 at 50 m, then 600 to 0 over 60 m."""
    pull = planned("riser_duct_bank").pull
    machine = replace(pull.run.machine, min_load=300.0)
    (found,) = least_load_findings(seen([0, 50, 100, 160], [600, 0, 600, 0]), pull, machine)
    assert [value for value, _ in found.fix.values] == pytest.approx([25, 75, 130, 160])
    assert found.demand == 0.0


def test_brakes_at_rest_in_a_riser_hold_what_hangs_without_friction() -> None:
    """Worked answer O2, 40 ft of 5.385 lb/ft: reels fed from the top, else the machine."""
    route, lbf = jobs.riser_between_ducts(), 4.4482216152605
    run = jobs.run(route, [(cable(weight=5.385 * lbf / FOOT), 1)], reel_tension=1000.0)
    down, up = (solve_pull(run, Practice(), reverse=back) for back in (False, True))
    assert held_at_rest(down) == pytest.approx((215.40 * lbf, 0.0))
    assert held_at_rest(up) == pytest.approx((0.0, 1000.0 + 215.40 * lbf))
    level = replace(run, route=lay(at((0, 0, 0)), at((80, 0, 0)), conduits=conduit()))
    assert held_at_rest(solve_pull(level, Practice())) == (0.0, 0.0)


@pytest.mark.parametrize(("beyond", "cautioned"), [(-0.01, True), (0.0, False), (0.01, False)])
def test_a_swivel_drawn_over_a_sheave_is_cautioned(beyond: float, cautioned: bool) -> None:
    """Just before the end of the head, at it, and beyond it."""
    job = load(MODELS / "yard_run.toml")
    run = job.runs[0]
    out = drawn_out(run, job.allowances)
    turn = replace(run.lead_off[0], distance=out + beyond)
    found = list(swivel_findings(solve_pull(replace(run, lead_off=(turn,)), Practice()), out))
    assert [f.rule for f in found] == ["swivel on sheave pit"] * cautioned
    assert all(f.severity == "caution" for f in found)


def test_a_rating_at_the_head_counts_less_once_it_is_past_a_sheave() -> None:
    """The same gauge as with the head short of the sheave and a swivel of 0.95 of the rating."""
    job = load(MODELS / "riser_duct_bank.toml")
    run = job.runs[0]
    assert run.rigging is not None
    (sheave,) = {t.sheave for t in load(MODELS / "yard_run.toml").runs[0].lead_off[:1]}
    assert sheave is not None and sheave.efficiency == 0.95

    def stop(distance: float, swivel: float) -> float:
        lead = (LeadOff(np.pi / 2, replace(sheave, radius=5.0), distance=distance),)
        rigging = replace(run.rigging, swivel_rating=swivel)
        changed = replace(run, lead_off=lead, rigging=rigging)
        return of_job(replace(job, runs=(changed,))).gauge[-1].stop

    assert stop(0.5, 1000.0) == pytest.approx(stop(50.0, 950.0), rel=1e-9)
    assert stop(50.0, 1000.0) > stop(50.0, 950.0) * 1.01


def test_each_end_is_planned_with_its_own_machine_anchor_and_lead_off() -> None:
    job = load(MODELS / "yard_run.toml")
    run = job.runs[0]
    ends = (run.route.vertices[0].name, run.route.vertices[-1].name)
    assert run.machine is not None and run.rigging is not None
    other = replace(run.machine, name="other")
    setup = EndSetup(
        ends[1],
        machine=other,
        anchor=WorkPlatform("deck"),
        rigging=replace(run.rigging, head_length=2.5),
        lead_off=(),
    )
    job = replace(job, runs=(replace(run, ends=(setup,)),))
    last = len(run.route.vertices) - 1
    here, there = of_job(job, feed=last), of_job(job, feed=0)
    assert (here.machine.name, there.machine.name) == ("puller", "other")
    assert here.held.kind != there.held.kind
    assert any(link.name.startswith("sheave") for link in here.links)
    assert not any(link.name.startswith("sheave") for link in there.links)
    out = drawn_out(there.pull.run, job.allowances)
    assert out == job.allowances.pull_slack + 2.5


# --- the brake that is ordered -------------------------------------------------------------------


def test_nobody_who_brakes_as_told_reads_below_expected_or_above_caution() -> None:
    """Riser fed from the roof: at least 170 lbf is ordered, more than the drag of 135 lbf."""
    plan = planned("riser_duct_bank")
    window = plan.acceptance.window
    assert plan.candidate.pull.reel_tension == window.at_least > window.drag
    assert plan.pull.reel_tension == plan.feeding.tension == window.at_least
    held = replace(plan.pull.run, reel_tension=window.at_least)
    light = solve_pull(held, plan.pull.practice, reverse=plan.pull.reverse)
    hard = solve_pull(
        replace(held, reel_tension=window.at_most), plan.pull.practice, reverse=plan.pull.reverse
    )
    end = plan.gauge[-1]
    assert end.expected == end.expected_low == pytest.approx(light.end_tension)
    assert end.caution >= end.expected_high == pytest.approx(hard.end_tension)
    for row in plan.gauge:
        assert row.expected_low == pytest.approx(row.expected, rel=1e-9)
        assert row.expected_high <= row.caution <= row.stop
    assert plan.peak >= light.machine_peak
    assert [f.rule for f in plan.findings if f.rule.startswith("reel tension")] == []
    (said,) = [w for b in plan_blocks(plan, "US") for w in b.words if "in this plan:" in w]
    low = show_marked(window.at_least, "force+", "US")
    told = f"Reel tension in this plan: {low} total, the low end of the brake window."
    assert said == told


def test_a_reel_tension_of_the_file_below_the_order_is_raised_and_said() -> None:
    job = load(MODELS / "riser_duct_bank.toml")
    feed = len(job.runs[0].route.vertices) - 1
    brake = of_job(job, feed).candidate.window.at_least
    low = of_job(replace(job, runs=(replace(job.runs[0], reel_tension=0.9 * brake),)), feed)
    assert low.pull.reel_tension == pytest.approx(brake)
    (said,) = [f for f in low.findings if f.rule == "reel tension below the brake window"]
    assert said.severity == "caution"
    assert (said.demand, said.limit) == (pytest.approx(0.9 * brake), pytest.approx(brake))
    more = of_job(replace(job, runs=(replace(job.runs[0], reel_tension=1.1 * brake),)), feed)
    assert more.pull.reel_tension == pytest.approx(1.1 * brake)
    assert "reel tension below the brake window" not in {f.rule for f in more.findings}


def test_a_reel_tension_of_the_file_above_the_window_is_said() -> None:
    job = load(MODELS / "riser_duct_bank.toml")
    feed = len(job.runs[0].route.vertices) - 1
    most = of_job(job, feed).candidate.window.at_most
    much = of_job(replace(job, runs=(replace(job.runs[0], reel_tension=1.2 * most),)), feed)
    assert much.pull.reel_tension == pytest.approx(1.2 * most)
    (said,) = [f for f in much.all_findings if f.rule == "reel tension above the brake window"]
    assert said.severity == "caution"
    assert said.demand == pytest.approx(1.2 * most)
    assert said.limit == pytest.approx(much.candidate.window.at_most)
    assert said.limit < said.demand
    assert said in much.candidate.findings  # so `check` says it too
    within = of_job(replace(job, runs=(replace(job.runs[0], reel_tension=0.9 * most),)), feed)
    assert "reel tension above the brake window" not in {f.rule for f in within.all_findings}


def test_a_gauge_that_is_not_accurate_is_said_with_what_an_accurate_one_would_cost() -> None:
    """1,300 ft at 15 ft/min instead of 40 is most of an hour; the high gear alone sees nothing."""
    job = load(MODELS / "yard_run.toml")
    plan = of_job(job)
    (found,) = [f for f in plan.findings if f.rule == "gauge not accurate"]
    assert plan.pace.gears.true_gauge is not None and plan.pace.gears.true_gauge > 600
    assert "more than this plan accepts for it (10% of the pulling time or 10 min" in render(
        found.fix, "US"
    )
    machine = job.runs[0].machine
    assert machine is not None
    blind = replace(machine, gears=tuple(replace(g, gauge=False) for g in machine.gears))
    none = of_job(replace(job, runs=(replace(job.runs[0], machine=blind),)))
    (found,) = [f for f in none.findings if f.rule == "gauge not accurate"]
    assert "gears with an accurate gauge cannot make the whole pull" in render(found.fix, "US")


@pytest.mark.parametrize(
    ("length", "width", "deep", "fits", "noted"),
    [
        (None, None, 5.0, True, True),
        (4.0, None, 5.0, True, True),
        (4.0, 1.8, 12.0, True, False),
        (4.0, 1.8, 5.0, False, False),
    ],
)
def test_the_vehicle_that_holds_the_machine_needs_its_own_room(
    length: float | None, width: float | None, deep: float, fits: bool, noted: bool
) -> None:
    """0.9 m clear of the wall, a machine of 1.2 m and a truck of 4 m: 6.1 m of hall."""
    corners = ((30.0, -6.0), (30.0 + deep, -6.0), (30.0 + deep, 6.0), (30.0, 6.0))
    hall = Room("hall", corners, 0.0, 4.0)
    puller = replace(jobs.machine(), envelope=(1.2, 0.8, 1.0), line_height=0.75, clearance=0.9)
    line = jobs.along(([[0, 0, 0.75], [30, 0, 0.75]], [0, 0]), conduit())
    truck = Vehicle("truck", 4000.0, 0.5, 25e3, length=length, width=width)
    one = jobs.run(line, cable(), machine=puller, rope=jobs.rope(), anchor=truck)
    job = Job("hall", "SI", (one,), site=Site(rooms=(hall,)))
    found = machine_search(solve_pull(one, Practice()), puller, job)
    assert bool(found.best) is fits
    notes = [render(n, "SI") for place in found.best for n in place.notes]
    assert ("vehicle footprint not given: not checked" in notes) is noted
    assert fits or "vehicle" in {f.reason for f in found.failures}
