"""All sections at once against each solved by itself."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations
from pathlib import Path

import numpy as np
import pytest

from route3d.checks.limits import Rated, utilization
from route3d.checks.run import check_pull
from route3d.geometry.fillet import sub_route
from route3d.mechanics.lead_off import lead_off_factor
from route3d.mechanics.pull import Peaks, Pull, at_friction, solve_pull
from route3d.model import LeadOff, Practice, Route, Run, Sheave
from route3d.modelfile.read import load
from route3d.planning.direction import candidate
from route3d.planning.pull_plan.head_history import history
from route3d.planning.pull_plan.stops import FIRST_MOVE, SAFE_SHARE, first_moves
from route3d.planning.splitting.section_pulls import SectionPull, section_pulls
from tests.support import jobs
from tests.support.jobs import BOTH, at, cable, conduit, hills, lay

# Both solve the same law to 1e-8 or better.
SAME = 2e-8


def by_itself(run: Run, practice: Practice, feed: int, pull: int, reel: bool) -> Pull:
    part = replace(run, route=sub_route(run.route, min(feed, pull), max(feed, pull)))
    part = part if reel else replace(part, reel_tension=0.0)
    return solve_pull(part, practice, reverse=feed > pull)


def stopped(pull: Pull) -> bool:
    return any(f.severity == "stop" for f in check_pull(pull))


def starts(pull: Pull) -> bool:
    """Whether rope and machine may do the first move, by the pull at a restart's friction."""
    loads = at_friction(pull, pull.practice.restart).machine_loads
    tackle = (pull.run.rope and pull.run.rope.rated_load, pull.run.machine)
    if loads is None:
        return True
    rope, machine = tackle
    rated = [rope] if rope else []
    rated += [machine.available_pull] if machine else []
    return not rated or float(loads[0]) <= min(rated) * (1 + 1e-9)


def full_share(rest: Pull) -> float:
    """Share of a limit of a first move with all cable in, by the tension of its head."""
    rope = rest.run.rope
    led = 1.0 if rope is None else lead_off_factor(rest.run.lead_off, rope.friction)
    load = rest.end_tension * led
    machine = None if rope is None else load
    peaks = Peaks(rest.peak_tension, rest.peak_sidewall, machine, load)
    return Rated.of(rest.run, rest.practice).utilization(peaks).peak


def check_light(section: SectionPull, own: Pull, rest: Pull) -> bool:
    """First movements up to ``light`` take at most 90 % of every limit; true where others do not.

    The first that takes more is at the next place looked at, unless it is rope or machine that do.
    """
    course = history(own)
    if course is None:
        return False
    moves, length = first_moves(own, course), float(course.pulled[-1])
    assert section.light is not None and 0 <= section.light <= length + 1e-9
    safe = moves.pulled <= section.light - FIRST_MOVE
    assert (moves.share[safe] <= SAFE_SHARE * (1 + 1e-7)).all()
    use = utilization(rest)
    if max(use.rope or 0.0, use.machine or 0.0) > SAFE_SHARE:
        assert section.light == 0.0
    elif use.peak <= SAFE_SHARE:
        assert section.light == pytest.approx(length)
    else:
        beyond = course.pulled > section.light + 1e-9
        k = int(np.argmax(beyond))
        rated = Rated.of(own.run, own.practice)
        shares = (
            course.restart_tension[k] / min(rated.conductor, rated.grip),
            course.restart_sidewall[k] / rated.sidewall,
        )
        assert beyond.any() and max(shares) > SAFE_SHARE * (1 - 1e-7)
        return section.light > FIRST_MOVE
    return False


FULL = {"rope": jobs.rope(), "machine": replace(jobs.machine(16e3), efficiency=0.9)}
LED = {"lead_off": (LeadOff(1.57, Sheave("s", 0.3, 1e5, 0.95)), LeadOff(0.8))}
CASES = {
    "level": (0.0, FULL, Practice()),
    "hills": (3.0, FULL, Practice()),
    "steep": (12.0, FULL | LED, Practice()),
    "given reel tension": (3.0, FULL | {"reel_tension": 900.0}, Practice()),
    "a low reel tension given": (6.0, FULL | {"reel_tension": 20.0}, Practice()),
    "rope that drags": (3.0, FULL | {"rope": jobs.rope(weight=260.0)}, Practice(restart=1.5)),
    "no rope": (3.0, {"machine": jobs.machine(9e3)}, Practice()),
    "neither rope nor machine": (3.0, {}, Practice()),
    "by hand": (3.0, FULL, Practice(weight_factor_in="straights", bend_form="capstan")),
}


def falling(route: Route) -> Route:
    """The route with friction that falls to 0.4 of it above 300 N/m, by a test report."""
    conduits = (
        replace(c, friction_above=300.0, friction_then=0.4 * c.friction, friction_report="T-1")
        for c in route.conduits
    )
    return replace(route, conduits=tuple(conduits))


@pytest.mark.parametrize("case", [*CASES, "steep, friction falls"])
@pytest.mark.parametrize("seed", [1, 2])
def test_every_section_is_that_of_its_own_run(case: str, seed: int) -> None:
    rise, more, practice = CASES[case.partition(",")[0]]
    route = hills(np.random.default_rng([seed, 7]), 5, rise)
    route = falling(route) if "falls" in case else route
    run = jobs.run(route, [(cable(sidewall_limit=9000.0), 3)], **more)  # type: ignore[arg-type]
    found = section_pulls(run, practice, from_rest=True)
    assert found.points == (0, *route.pull_points, len(route.vertices) - 1)
    allowed = 0
    for i, j in permutations(range(len(found.points)), 2):
        for reel in (True, False):
            given = by_itself(run, practice, found.points[i], found.points[j], reel)
            own = candidate(given).planned if reel else given  # held as the crew is told to
            section = found.pulls.get((i, j, reel))
            if section is None:
                use = utilization(own)
                broken = max(use.conductor, use.grip, use.sidewall) > 1
                assert broken or (not reel and own.brake > 1.0)
                continue
            mine = (section.peak_tension, section.peak_sidewall, section.load, section.brake)
            theirs = (own.peak_tension, own.peak_sidewall, own.machine_least, own.brake)
            assert mine == pytest.approx(theirs, rel=SAME, abs=1e-6)
            assert section.reel_tension == pytest.approx(own.reel_tension, rel=SAME, abs=1e-6)
            assert section.starts == starts(own)
            assert section.taut == (given.brake <= given.reel_tension + 1.0)
            assert section.allowed() == (section.taut and not stopped(own) and starts(own))
            rest = at_friction(own, practice.restart)
            assert section.rested == pytest.approx(full_share(rest), rel=SAME)
            check_light(section, own, rest)
            assert section.utilization.governing == utilization(own).governing
            assert (section.feed, section.pull) == (found.points[i], found.points[j])
            allowed += section.allowed()
    assert 0 < allowed < len(found.pulls)  # both answers occur


def test_first_movements_are_light_up_to_the_bend_that_takes_too_much() -> None:
    job = load(Path(__file__).parents[4] / "models" / "yard_run.toml")
    found = section_pulls(job.runs[0], job.practice, from_rest=True)
    some = 0
    for (_, _, reel), section in found.pulls.items():
        own = by_itself(job.runs[0], job.practice, section.feed, section.pull, reel)
        some += check_light(section, own, at_friction(own, job.practice.restart))
    assert some > 3


def test_stations_are_those_of_the_points() -> None:
    route = hills(np.random.default_rng(3), 4, 2.0)
    found = section_pulls(jobs.run(route), Practice())
    whole = solve_pull(jobs.run(route), Practice()).path
    assert found.stations[0] == 0.0
    assert found.stations[-1] == pytest.approx(whole.length, rel=1e-12)
    for vertex, station in zip(found.points, found.stations, strict=True):
        point = whole.point(np.array(station))
        assert point == pytest.approx(np.array(route.vertices[vertex].point), abs=1e-9)


def test_access_decides_what_is_solved() -> None:
    route = lay(
        at((0, 0, 0), ends="reel"),
        at((50, 0, 0), ends="machine"),
        at((90, 0, 0), ends="reel machine"),
        conduits=conduit(),
    )
    off_reels = {key for key in section_pulls(jobs.run(route), Practice()).pulls if key[2]}
    assert off_reels == {(0, 1, True), (0, 2, True), (2, 1, True)}


def test_cable_in_figure_eights_is_not_held_back() -> None:
    """40 m of fall: off a reel it is braked, from figure eights it would run away."""
    route = lay(
        at((0, 0, 0), ends=BOTH),
        at((5, 0, 0), 1.0),
        at((5, 0, -40), 1.0),
        at((15, 0, -40), ends=BOTH),
        conduits=conduit(friction=0.2),
    )
    pulls = section_pulls(jobs.run(route), Practice()).pulls
    assert set(pulls) == {(0, 1, True), (1, 0, True), (1, 0, False)}
    assert pulls[0, 1, True].brake > 100


def test_a_given_reel_tension_that_lets_the_cable_overrun_is_not_allowed() -> None:
    route = lay(
        at((0, 0, 0), ends=BOTH),
        at((5, 0, 0), 1.0),
        at((5, 0, -40), 1.0),
        at((15, 0, -40), ends=BOTH),
        conduits=conduit(friction=0.2),
    )
    run = jobs.run(route, reel_tension=50.0)
    down = section_pulls(run, Practice()).pulls[0, 1, True]
    assert not down.taut and not down.allowed()
    assert down.utilization.peak < 1
