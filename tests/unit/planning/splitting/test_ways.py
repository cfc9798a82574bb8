"""The best plans of a run with pull points: what the crew does, and what each costs."""

from __future__ import annotations

from dataclasses import replace

import pytest

from route3d.mechanics.pull import solve_pull
from route3d.model import Allowances, Gear, Machine, Practice, Route, Run
from route3d.planning.splitting.section_pulls import SectionPull, section_pulls
from route3d.planning.splitting.ways import SplitPlan, SplitSearch, fastest_gear
from route3d.units import render
from tests.support import jobs
from tests.support.jobs import BOTH, at, conduit, lay
from tests.support.one_gear import one_gear_splits

PRACTICE = Practice()
TIMES = Allowances(setup_time=3600.0, figure_eight_time=2700.0, splice_time=14400.0)


def straight(*access: str) -> Route:
    """A straight level run with a point every 100 m."""
    points = (at((100.0 * k, 0, 0), name=f"P{k}", ends=e) for k, e in enumerate(access))
    return lay(*points, conduits=conduit(friction=0.25))


def pulled(route: Route, share: float, **more: object) -> Run:
    """A run whose through pull would take ``share`` of its machine's line pull; 0.1 m/s."""
    run = jobs.run(route, rope=jobs.rope(weight=0.01), machine=jobs.machine(1e9), **more)  # type: ignore[arg-type]
    peak = solve_pull(run, PRACTICE).machine_peak
    assert peak is not None
    return replace(run, machine=jobs.machine(peak / share))


def search(run: Run, **more: object) -> SplitSearch:
    return one_gear_splits(run, PRACTICE, TIMES, **more)  # type: ignore[arg-type]


def stages(run: Run, plan: SplitPlan) -> list[tuple[str, str, bool]]:
    label = run.route.label
    return [(label(s.feed), label(s.pull), s.reel) for s in plan.stages]


def test_without_pull_points_there_is_nothing_to_split() -> None:
    found = search(pulled(straight(BOTH, BOTH), 0.5))
    assert not found.plans
    assert found.solved == 4  # both ways, off a reel and from figure eights


@pytest.mark.parametrize("share", [0.9, 1.8])
def test_the_pull_through_the_whole_run_is_no_split_whether_it_holds_or_not(share: float) -> None:
    """By physics and shares it would come first at 0.9: it has the fewest set-ups."""
    plans = search(pulled(straight(BOTH, BOTH, BOTH), share)).plans
    assert plans and all(len(p.stages) > 1 and p.setups > 1 for p in plans)
    assert plans[0].kind == "middle feed"


def test_feeding_from_the_middle_halves_the_load() -> None:
    run = pulled(straight(BOTH, BOTH, BOTH), 1.8)
    first = search(run).plans[0]
    assert stages(run, first) == [("P1", "P0", True), ("P1", "P2", False)]
    assert first.kind == "middle feed"
    assert first.utilization == pytest.approx(0.9, rel=1e-3)  # but for the rope's own drag
    assert first.time == pytest.approx(2 * 3600 + 2700 + 200 / 0.1, abs=1e-3)
    assert [s.cable_length for s in first.stages] == pytest.approx([100.0, 100.0])
    assert [s.laid for s in first.stages] == [0.0, 0.0]


def test_a_re_feed_draws_the_rest_of_the_cable_through_too() -> None:
    """Reel room at the first two points only: the cable goes one way, by a stop at P1."""
    run = pulled(straight("reel", BOTH, "machine"), 1.8)
    (plan,) = search(run).plans
    assert stages(run, plan) == [("P0", "P1", True), ("P1", "P2", False)]
    assert plan.kind == "pull and re-feed"
    assert [s.cable_length for s in plan.stages] == pytest.approx([200.0, 100.0])
    assert [s.laid for s in plan.stages] == pytest.approx([100.0, 0.0])
    assert plan.time == pytest.approx(2 * 3600 + 2700 + 300 / 0.1, abs=1e-3)
    assert [s.time for s in plan.stages] == pytest.approx([2000.0, 1000.0])


def test_a_splice_only_where_it_is_allowed() -> None:
    """No room for cable in figure eights at P1, but for the machine: two reels, one splice."""
    run = pulled(straight("reel", "machine", "reel"), 1.8)
    assert not search(run).plans
    spliced = replace(run, splices=frozenset({1}))
    (plan,) = search(spliced).plans
    assert set(stages(run, plan)) == {("P0", "P1", True), ("P2", "P1", True)}
    assert plan.splices == (1,)
    assert plan.kind == "splice at P1: through pull"
    assert [s.cable for s in plan.stages] == [1, 2]
    assert plan.time == pytest.approx(2 * 3600 + 14400 + 200 / 0.1, abs=1e-3)


def test_a_stop_on_the_way_needs_room_for_the_machine_too() -> None:
    run = pulled(straight("reel", "reel", "machine"), 1.8)
    found = search(run)
    assert not found.plans
    assert "no pull is possible from P0 to P1 in either direction" in render(found.why_none, "SI")


def test_plans_come_by_set_ups_then_time_then_utilization() -> None:
    run = pulled(straight(*[BOTH] * 6), 1.6, splices=frozenset({1, 2, 3, 4}))
    plans = search(run, best=12).plans
    costs = [(p.setups, p.time, round(p.utilization, 9)) for p in plans]
    assert costs == sorted(costs) and len({p.stages for p in plans}) == 12
    assert plans[0].setups == 2
    assert plans[0].kind == "middle feed"
    assert search(run).plans == plans[:3]


def test_the_words_say_what_to_do_and_what_it_costs() -> None:
    run = pulled(straight("reel", BOTH, "machine"), 1.8)
    assert render(search(run).plans[0].text, "SI") == (
        "pull and re-feed: feed off the reel at P0, pull at P1; lay 100.00 m of cable in "
        "figure eights at P1, feed on from there, pull at P2 (2 set-ups, 215 min, highest "
        "utilization 90%: machine line pull, P0 to P1)"
    )
    run = pulled(straight(BOTH, BOTH, BOTH), 1.8)
    assert render(search(run).plans[0].text, "SI").startswith(
        "middle feed: feed off the reel at P1, pull at P0; take the rest (100.00 m) off the "
        "reel at P1, lay it in figure eights, feed it back, pull at P2 (2 set-ups, 198 min"
    )


def test_names_with_braces_stay_as_they_are() -> None:
    route = straight("reel", BOTH, "machine")
    named = tuple(replace(v, name=f"{{{v.name}}}") for v in route.vertices)
    run = pulled(replace(route, vertices=named), 1.8, splices=frozenset({1}))
    assert "lay 100.00 m of cable in figure eights at {P1}" in render(
        search(run).plans[0].text, "SI"
    )


def test_the_reel_is_held_where_the_cable_would_run_away() -> None:
    route = lay(
        at((0, 0, 0), name="roof", ends="reel"),
        at((5, 0, 0), 1.0),
        at((5, 0, -40), 1.0),
        at((15, 0, -40), name="V1", ends=BOTH),
        at((20, 0, -40), name="V2", ends="machine"),
        conduits=conduit(friction=0.2),
    )
    run = jobs.run(route, rope=jobs.rope(), machine=jobs.machine())
    (plan,) = search(run).plans
    assert plan.stages[0].reel_tension > 100
    assert "feed off the reel at roof, reels braked at" in render(plan.text, "SI")


def test_what_the_run_does_not_name_is_said() -> None:
    run = replace(pulled(straight("reel", BOTH, "machine"), 0.5), rope=None, machine=None)
    found = search(run)
    rope, machine = (render(p, "SI") for p in found.notes)
    assert rope.startswith("no rope assigned")
    assert machine.startswith("no machine assigned: machine limit and pulling time not included")
    plan = found.plans[0]
    assert plan.stages[0].time is None and plan.time == 2 * 3600.0 + 2700.0
    assert "165 min plus pulling time" in render(plan.text, "SI")


@pytest.mark.parametrize(
    ("access", "share", "words"),
    [
        (("machine", "machine"), 0.5, "no point on one side has reel access"),
        ((BOTH, BOTH), 1.5, "reaches 150% of its limit (machine line pull)"),
        # P1 takes no reel: what is pulled there from either side cannot go on, nor be spliced.
        (("reel", "machine", "reel"), 0.9, "each part of the run can be pulled, but no split"),
        ((BOTH, BOTH), 0.9, "each part of the run can be pulled, but no split installs all of it"),
    ],
)
def test_why_there_is_no_plan(access: tuple[str, ...], share: float, words: str) -> None:
    found = search(pulled(straight(*access), share))
    assert not found.plans
    assert words in render(found.why_none, "SI")


def test_why_none_where_the_given_reel_tension_lets_the_cable_overrun() -> None:
    route = lay(
        at((0, 0, 0), name="roof", ends="reel"),
        at((5, 0, 0), 1.0),
        at((5, 0, -40), 1.0),
        at((15, 0, -40), name="V1", ends="machine"),
        conduits=conduit(friction=0.2),
    )
    run = jobs.run(route, reel_tension=10.0)
    assert "goes slack unless the reels are braked at" in render(search(run).why_none, "SI")


# --- time -----------------------------------------------------------------------------------------


def loaded(load: float) -> SectionPull:
    run = pulled(straight(BOTH, BOTH), 0.5)
    return replace(section_pulls(run, PRACTICE).pulls[0, 1, True], load=load)


GEARS = (Gear(10e3, 0.6), Gear(30e3, 0.2))


@pytest.mark.parametrize(
    ("load", "speed"),
    [
        (7.1e3, 0.6),  # 10 kN x 0.8 x 0.9 = 7.2 kN with the margin kept
        (7.3e3, 0.2),
        (21.5e3, 0.2),
        (23.9e3, 0.2),  # 30 kN x 0.8 = 24 kN: the margin cannot be kept
        (24.1e3, None),
    ],
)
def test_the_fastest_gear_that_holds(load: float, speed: float | None) -> None:
    machine = Machine("puller", GEARS, efficiency=0.8)
    time = fastest_gear(machine, TIMES)(loaded(load), 60.0)
    assert time == (None if speed is None else pytest.approx(60.0 / speed))


def test_speed_falls_with_load() -> None:
    machine = Machine("puller", (Gear(10e3, 0.1, speeds=((0.0, 0.5), (10e3, 0.1))),))
    time = fastest_gear(machine, TIMES)
    assert time(loaded(5e3), 60.0) == pytest.approx(60.0 / 0.3)


def test_time_may_be_given_and_decides_among_plans_of_as_many_set_ups() -> None:
    run = pulled(straight(BOTH, BOTH, BOTH), 0.5, splices=frozenset({1}))

    def slow_from_p1(section: SectionPull, length: float) -> float:
        return length * (200.0 if section.feed == 1 else 10.0)

    first, *others = search(run, time=slow_from_p1).plans
    assert {s.feed for s in first.stages} == {0, 2}  # spliced at P1, where both are pulled to
    assert first.time == pytest.approx(2 * 3600 + 14400 + 2000)
    assert all(other.time >= first.time for other in others)
