"""Stops on purpose and by accident, against an independent march at restart friction."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from route3d.checks.limits import Rated
from route3d.geometry.path import ARC
from route3d.mechanics.pull import Pull, solve_pull
from route3d.mechanics.rope_scenarios import head_track
from route3d.model import Allowances, Gear, Machine, Practice, Rigging, Run
from route3d.planning.pull_plan.findings import hanging_findings, start_findings
from route3d.planning.pull_plan.gears import plan_gears
from route3d.planning.pull_plan.head_history import HeadHistory, history
from route3d.planning.pull_plan.restarts import FirstMoveStops, accidental_stops, restartable
from route3d.planning.pull_plan.schedule import Pace, pace
from route3d.planning.pull_plan.stop_reading import stop_readings
from route3d.planning.pull_plan.stops import FirstMoves, first_moves, hanging_at
from route3d.units import render
from tests.support.jobs import along, at, cable, conduit, lay, machine, rope, run
from tests.support.march import ahead, behind, march
from tests.support.routes import Go, Turn, vertices

PRACTICE = Practice()
GEARS = (Gear(6000.0, 0.5, "high"), Gear(14e3, 0.1, "low"))
OFTEN = Allowances(lubricant_interval=17.0)
# Of the routes drawn, those on which gears are changed; on the last no restart is possible far in.
CHANGED = (6, 9, 11)


def drawn(seed: int) -> tuple[Run, bool]:
    """A run of three to six bends in any plane, and which way it is pulled."""
    rng = np.random.default_rng(seed)
    pieces: list[Go | Turn] = [Go(rng.uniform(5, 40))]
    for _ in range(rng.integers(3, 7)):
        side = str(rng.choice(["left", "right", "up", "down"]))
        pieces += [Turn(rng.uniform(10, 80), rng.uniform(1, 2.5), side), Go(rng.uniform(8, 40))]
    route = along(vertices(pieces), conduit(friction=float(rng.uniform(0.15, 0.35))))
    one = run(
        route,
        cable(sidewall_limit=float(rng.uniform(1500, 6000))),
        rope=rope(rated_load=float(rng.uniform(8e3, 30e3))),
        machine=Machine("m", GEARS),
        rigging=Rigging("head", head_length=float(rng.uniform(0.3, 2.0))),
    )
    return one, bool(rng.integers(2))


def solved(seed: int) -> tuple[Pull, HeadHistory, Pace]:
    one, reverse = drawn(seed)
    pull = solve_pull(one, PRACTICE, reverse=reverse)
    course = history(pull)
    assert course is not None and one.machine is not None
    return pull, course, pace(pull, course, one.machine, OFTEN)


def first_move(pull: Pull, pulled: float, ways: int = 3) -> dict[str, float]:
    """Share of each limit over the first 3 m at friction x 1.3, by the independent march."""
    (duct,) = set(pull.run.route.conduits)
    wall = np.where(pull.path.kind == ARC, pull.path.radii, 1.0) - duct.inner_diameter / 2
    rated, line = Rated.of(pull.run, pull.practice), pull.run.rope
    assert line is not None and rated.rope is not None and rated.machine is not None
    friction, weight = 1.3 * duct.friction, pull.run.cables.weight
    worst = dict.fromkeys(("conductor", "grip", "sidewall", "load"), 0.0)
    length, back = pull.path.length, pull.reverse
    for x in np.linspace(pulled, min(pulled + 3.0, length), ways):
        station = float(length - x if back else x)
        after, t = [pull.reel_tension], pull.reel_tension
        if x > 0:
            cable_on = behind(pull.path, station, back)
            after = march(cable_on, weight, [friction] * len(cable_on), t, back)
            arcs = cable_on.kind[::-1] if back else cable_on.kind
            pairs = np.maximum(after[:-1], after[1:])
            radius = np.where(cable_on.kind == ARC, cable_on.radii, 1.0) - duct.inner_diameter / 2
            radius = radius[::-1] if back else radius
            pressure = np.where(arcs == ARC, pairs / radius, 0.0)
            worst["sidewall"] = max(worst["sidewall"], float(pressure.max()) / rated.sidewall)
        load = after[-1]
        if x < length - 1e-9:
            rope_on = ahead(pull.path, station, back)
            load = march(rope_on, line.weight, [1.3 * line.friction] * len(rope_on), load, back)[-1]
        worst["conductor"] = max(worst["conductor"], max(after) / rated.conductor)
        worst["grip"] = max(worst["grip"], max(after) / rated.grip)
        worst["load"] = max(worst["load"], load)
    assert (wall > 0).all()
    return worst


@pytest.mark.parametrize("seed", CHANGED)
def test_no_planned_stop_takes_more_than_nine_tenths_of_a_limit(seed: int) -> None:
    """90 % and 3 m: common practice, no source. The strongest gear brings 14 kN."""
    pull, _, going = solved(seed)
    rated = Rated.of(pull.run, pull.practice)
    bends = np.column_stack((pull.path.stations[:-1], pull.path.stations[1:]))
    bends = np.sort(np.abs(bends[pull.path.kind == ARC] - pull.course.stations[0]), axis=1)
    assert pull.run.rigging is not None and pull.run.rigging.head_length is not None
    room = pull.run.rigging.head_length + 3.0
    into = {change.pulled: change.to_gear for change in going.gears.changes}
    watched = {*into, *going.starts[-2:]} - {0.0}
    for place in sorted(watched):
        taken = first_move(pull, place)
        gear = into.get(place, GEARS[1])
        shares = [taken[name] for name in ("conductor", "grip", "sidewall")]
        shares += [taken["load"] / (rated.rope or 1), taken["load"] / gear.line_pull]
        assert max(shares) <= 0.9 + 1e-6
        for a, b in bends.tolist():
            assert place >= b - 1e-6 or place <= a - room + 1e-6


def test_the_routes_drawn_have_stops_changes_and_stops_left_out() -> None:
    """Else the test before would have nothing to look at."""
    found = [solved(seed)[2] for seed in range(12)]
    assert sum(len(p.stops.stops) for p in found) > 15
    assert sum(len(p.gears.changes) for p in found) >= 3
    assert any(p.stops.left_out for p in found)


@pytest.mark.parametrize("seed", range(6))
def test_safe_stretches_end_where_a_limit_or_a_bend_does(seed: int) -> None:
    """Just beyond the end of a safe stretch a first move takes 90 %, or a bend is near."""
    pull, _, going = solved(seed)
    moves, clear = going.moves, going.moves.clear.ravel()
    for a, b in moves.safe.tolist():
        for edge in (a, b):
            at_bend = np.abs(clear - edge).min() < 1e-6
            assert at_bend or moves.at(edge, moves.share) == pytest.approx(0.9, abs=1e-6)
    for place in np.linspace(0, pull.path.length, 23).tolist():
        expected = moves.at(place, moves.share) <= 0.9 and any(
            a <= place <= b for a, b in moves.clear.tolist()
        )
        assert bool(moves.is_safe(np.array([place]))[0]) == expected


@pytest.mark.parametrize("seed", range(3))
def test_first_movements_are_those_of_the_independent_march(seed: int) -> None:
    pull, _, going = solved(seed)
    rated = Rated.of(pull.run, pull.practice)
    for a, b in going.moves.clear[:3].tolist():
        place = (a + b) / 2
        taken = first_move(pull, place, 5)
        assert going.moves.load_at(place) == pytest.approx(taken["load"], rel=2e-3)
        assert going.moves.at(place, going.moves.tension) / rated.conductor == pytest.approx(
            taken["conductor"], rel=2e-3
        )


def without_safe_places(going: Pace) -> FirstMoves:
    return replace(going.moves, safe=np.empty((0, 2)))


def test_without_any_safe_place_there_is_no_stop_and_a_finding_says_so(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    pull = straight(machine=Machine("m", (Gear(420.0, 0.5), Gear(9000.0, 0.1))), reel_tension=0.0)
    course = history(pull)
    assert course is not None and pull.run.machine is not None
    going = pace(pull, course, pull.run.machine, OFTEN)
    assert len(going.stops.stops) == 5 and going.gears.changes and going.unsafe_change is None
    bare = without_safe_places(going)
    monkeypatch.setattr("route3d.planning.pull_plan.schedule.first_moves", lambda *_: bare)
    found = pace(pull, course, pull.run.machine, OFTEN)
    assert not found.stops.stops and not found.gears.changes
    assert found.stops.left_out == pytest.approx([17.0, 34.0, 51.0, 68.0, 85.0])
    said = [f for f in start_findings(pull, found) if f.rule == "no safe place to stop"]
    texts = [render(f.fix, "SI") for f in said]
    assert "no safe place for a lubricant stop before 17.00 m" in texts[0]
    assert found.unsafe_change is not None
    where = found.unsafe_change.pulled
    assert f"no safe place to change gear before {where:.2f} m of cable in" in texts[1]


def straight(length: float = 100.0, **more: object) -> Pull:
    route = lay(
        at((0, 0, 0), ends="reel machine"),
        at((length * 0.4, 0, 0), ends="reel machine", name="pit"),
        at((length, 0, 0), ends="reel machine"),
        conduits=conduit(friction=0.3),
    )
    return solve_pull(run(route, rope=rope(), **more), PRACTICE)  # type: ignore[arg-type]


def test_a_pull_point_close_before_is_preferred() -> None:
    """The pit stands at 40 m: a stop wanted at 50 m goes there, one at 56 m does not (15 m)."""
    pull = straight(machine=machine())
    course = history(pull)
    assert course is not None
    moves = first_moves(pull, course)
    assert moves.last_safe(0.0, 50.0) == pytest.approx(40.0)
    assert moves.last_safe(0.0, 56.0) == 56.0
    assert moves.last_safe(40.0, 50.0) == 50.0
    assert moves.last_safe(50.0, 50.0) is None


def test_a_gear_is_changed_at_a_pull_point_close_by() -> None:
    """W mu 1.3 = 9.75 N/m of cable, 0.52 of rope: high ends a little beyond 40 m."""
    pull = straight(machine=Machine("m", (Gear(420.0, 0.5), Gear(9000.0, 0.1))), reel_tension=0.0)
    course = history(pull)
    assert course is not None and pull.run.machine is not None
    exact = Allowances(gear_margin=0.0, time_tolerance=0.0)
    free = plan_gears(course, pull.run.machine, exact)
    near = plan_gears(course, pull.run.machine, exact, (), first_moves(pull, course))
    assert 40.0 < free.changes[0].pulled < 55.0
    assert near.changes[0].pulled == pytest.approx(40.0)


def test_more_than_twenty_stops_are_questioned() -> None:
    pull = straight(machine=machine())
    course = history(pull)
    assert course is not None and pull.run.machine is not None
    for interval, questioned in ((100 / 21, False), (100 / 22, True)):
        going = pace(pull, course, pull.run.machine, Allowances(lubricant_interval=interval))
        found = [f for f in start_findings(pull, going) if f.rule == "number of stops"]
        assert bool(found) is questioned
    assert "21 lubricant stops" in render(found[0].fix, "SI")
    assert "with at least 4.77 m" in render(found[0].fix, "SI")  # 100 m / 21, rounded up


def test_cable_that_hangs_at_a_stop_is_named_with_what_holds_it() -> None:
    """40 m plumb down, 60 m level; low friction 0.5 x 0.3. Halfway down nothing but weight acts:
    the reel holds w x 20 m, and 25 N/m x 20 m = 500 N.
    """
    down = along(([[0, 0, 40], [0, 0, 0], [60, 0, 0]], [0, 1.5, 0]), conduit(friction=0.3))
    pull = solve_pull(run(down, cable(weight=25.0), rope=rope(), machine=machine()), PRACTICE)
    (half,) = hanging_at(pull, [20.0])
    assert (half.feed, half.head) == (pytest.approx(500.0), 0.0)
    (finding,) = hanging_findings(pull, [half])
    assert finding.severity == "caution"
    held = "with 20.00 m of cable in: set the brake before stopping, at least 0.50 kN"
    assert render(finding.fix, "SI").startswith(held)
    again = replace(half, pulled=25.0)
    (both,) = hanging_findings(pull, [half, again])  # alike ones are told together
    assert "with 20.00 m, 25.00 m of cable in" in render(both.fix, "SI")
    more = replace(half, feed=600.0)
    assert len(list(hanging_findings(pull, [half, more]))) == 2
    up = solve_pull(pull.run, PRACTICE, reverse=True)
    (risen,) = hanging_at(up, [up.path.length - 5.0])
    assert risen.feed == 0.0 and risen.head > 0
    assert "it must hold at least" in render(next(hanging_findings(up, [risen])).fix, "SI")
    assert not list(hanging_at(up, [30.0]))  # on the level


@pytest.mark.parametrize("seed", CHANGED[:3])
def test_after_an_accident_the_gear_named_makes_the_first_move(seed: int) -> None:
    """At any place of a stretch: within all limits in that gear, or a limit breaks somewhere."""
    pull, _, going = solved(seed)
    machine_, rated = pull.run.machine, Rated.of(pull.run, pull.practice)
    assert machine_ is not None and rated.rope is not None
    places = np.linspace(0, pull.path.length, 9).tolist()
    found = accidental_stops(pull, machine_, OFTEN, going.moves, going.gears, places)
    assert found[0].start == 0 and found[-1].end == pytest.approx(pull.path.length)
    for stop in found:
        heads = np.linspace(stop.start, stop.end, 4)
        taken = [first_move(pull, float(x), 2) for x in heads]
        load = max(t["load"] for t in taken)
        most = max(max(t["conductor"], t["grip"], t["sidewall"]) for t in taken)
        most = max(most, load / rated.rope, load / 14e3)
        assert load <= stop.first_move * (1 + 2e-3)
        if stop.gear is None:
            assert most > 0.97 and stop.share > 1
        else:
            assert most <= 1 + 2e-3 and stop.share <= 1 + 1e-9
            full = 14e3 if stop.gear.name == "low" else 0.9 * 6000.0
            assert stop.first_move <= full * (1 + 1e-9)
            # no stronger than needed: what the high gear would start is in the planned one
            if stop.gear.name == "low" and stop.first_move <= 0.9 * 6000.0:
                assert going.gears.gear_at(stop.start) == stop.gear


def test_after_an_accident_the_pull_goes_on_in_the_gear_planned() -> None:
    """A level pull in the low gear, whose gauge is accurate, though the high one would start it."""
    one = run(
        along(([[0, 0, 0], [60, 0, 0]], [0, 0]), conduit(friction=0.3)),
        cable(),
        rope=rope(),
        machine=Machine("m", (Gear(6000.0, 0.5, "high", gauge=False), GEARS[1])),
    )
    pull = solve_pull(one, PRACTICE)
    course = history(pull)
    assert course is not None and one.machine is not None
    going = pace(pull, course, one.machine, Allowances())
    assert [s.gear.name for s in going.gears.spans] == ["low"]
    ends = [0.0, pull.path.length]
    (stop,) = accidental_stops(pull, one.machine, Allowances(), going.moves, going.gears, ends)
    assert stop.gear == GEARS[1] and stop.first_move < 0.9 * 6000.0


@pytest.mark.parametrize("seed", [0, *CHANGED])
def test_after_an_accident_no_first_move_reads_above_stop_or_limiter(seed: int) -> None:
    """Stop of each place by its own track; "most" holds anywhere in the stretch and 3 m on."""
    pull, _, going = solved(seed)
    machine_, length = pull.run.machine, pull.path.length
    assert machine_ is not None
    line = 0.6 * float(going.moves.load.max())  # so that Stop is lower than some first moves
    stops = FirstMoveStops.everywhere(pull, going.moves.safe.ravel(), line_rating=line)
    limiter = 0.9 * line
    for held in (math.inf, limiter):
        found = accidental_stops(
            pull, machine_, OFTEN, going.moves, going.gears, stops.pulled, math.inf, stops, held
        )
        assert found[0].start == 0 and found[-1].end == pytest.approx(length)
        assert {x.limit for x in found if x.gear is None} & {"stop", "limiter"}
        for stop in found:
            if stop.gear is None:
                continue
            for place in np.linspace(stop.start, stop.end, 5).tolist():
                heads = np.minimum([place, place + 1.3, place + 3.0], length)
                stations = np.sort(length - heads if pull.reverse else heads)
                if pull.reverse:
                    stations = stations[::-1]
                track = head_track(pull, stations)
                least = min(x.moving.reading for x in stop_readings(track, line_rating=line))
                assert stop.most <= min(least, held) * (1 + 1e-9)
                load = going.moves.load_at(place)
                assert stop.least * (1 - 1e-9) <= load <= stop.first_move * (1 + 1e-9)
            assert stop.first_move <= stop.most * (1 + 1e-9)
        kept = restartable(going.moves.safe, found)
        for at_ in np.linspace(0, length, 61).tolist():
            go = any(x.gear and x.start <= at_ <= x.end for x in found)
            inside = any(a - 1e-9 <= at_ <= b + 1e-9 for a, b in kept.tolist())
            assert inside is (go and bool(going.moves.is_safe(np.array([at_]))[0]))


def test_a_weak_fitting_of_the_line_forbids_a_restart() -> None:
    pull, _, going = solved(0)
    assert pull.run.machine is not None
    ends = [0.0, pull.path.length]
    (stop,) = accidental_stops(pull, pull.run.machine, OFTEN, going.moves, going.gears, ends, 1.0)
    assert stop.gear is None and stop.limit == "line fitting"


def test_where_the_load_falls_it_is_safe_from_the_place_it_comes_down_to_nine_tenths() -> None:
    """Down a slope of 60 degrees, held back at the reels: the farther in, the less to pull."""
    slope = [[0, 0, 52], [30, 0, 0]]
    down = run(
        along((slope, [0, 0]), conduit(friction=0.1)),
        cable(weight=25.0, max_tension=1e6),
        rope=rope(rated_load=2600.0),
        machine=machine(1e6),
        reel_tension=3000.0,
    )
    pull = solve_pull(down, PRACTICE)
    course = history(pull)
    assert course is not None
    moves = first_moves(pull, course)
    ((start, end),) = moves.safe.tolist()
    assert 1.0 < start < end == pytest.approx(pull.path.length)
    assert moves.at(start, moves.share) == pytest.approx(0.9, abs=1e-9)
    assert moves.at(start - 0.1, moves.share) > 0.9 > moves.at(start + 0.1, moves.share)


def test_nothing_hangs_before_the_head_goes_in() -> None:
    down = along(([[0, 0, 40], [0, 0, 0], [60, 0, 0]], [0, 1.5, 0]), conduit(friction=0.3))
    pull = solve_pull(run(down, cable(weight=25.0), rope=rope(), machine=machine()), PRACTICE)
    assert [h.pulled for h in hanging_at(pull, [0.0, 20.0])] == [20.0]


def test_what_hangs_on_a_slope_is_held_without_counting_friction() -> None:
    """20 m of 25 N/m at 60 degrees: 433.0 N by weight; friction of 0.15 would hold 37.5 N of it."""
    down = along(([[0, 0, 52], [52 / math.tan(math.pi / 3), 0, 0]], [0, 0]), conduit(friction=0.3))
    pull = solve_pull(run(down, cable(weight=25.0), rope=rope(), machine=machine()), PRACTICE)
    (hanging,) = hanging_at(pull, [20.0])
    assert hanging.feed == pytest.approx(25.0 * 20 * math.sin(math.pi / 3))
