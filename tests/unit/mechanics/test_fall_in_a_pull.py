"""A pull in conduits whose friction falls above a contact load: who decides, and who follows."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from route3d.mechanics.ceiling import LimitTensions, ceilings
from route3d.mechanics.friction_path import course
from route3d.mechanics.pull import (
    Pull,
    at_fall,
    at_friction,
    solve_pull,
    with_fall,
    with_friction,
    with_friction_in,
)
from route3d.mechanics.rope_scenarios import head_track
from route3d.mechanics.tension import brake, integrate
from route3d.model import Practice, Run
from route3d.planning.reactions import tensions_at
from tests.support import jobs
from tests.support.jobs import at, cable, conduit, lay

ABOVE, THEN = 450.0, 0.12
REPORT = {"friction_above": ABOVE, "friction_then": THEN, "friction_report": "lab report 12"}


def job(**fall: object) -> Run:
    """Up, over and steeply down, through one conduit in which friction falls and one without."""
    duct, steel = conduit(friction=0.3, **fall), conduit(friction=0.35, name="steel")
    route = lay(
        at((0, 0, 0), ends="reel machine"),
        at((40, 0, 2), 1.5),
        at((40, 30, 10), 2.0),
        at((60, 30, -6), 2.0),
        at((60, 60, -6), ends="reel machine"),
        conduits=[duct, duct, duct, steel],
    )
    return jobs.run(route, [(cable(), 3)], rope=jobs.rope(2.0, 0.15))


def by_integrate(pull: Pull) -> np.ndarray:
    """The tension at the joints of the course, by ``integrate`` with the law for each segment."""
    conduits = [pull.run.route.conduits[leg] for leg in pull.course.fine.leg]
    mu = np.array([c.friction for c in conduits])
    then = np.array([c.friction if c.friction_then is None else c.friction_then for c in conduits])
    above = np.array([np.inf if c.friction_above is None else c.friction_above for c in conduits])
    return integrate(
        pull.course.fine,
        pull.run.cables.weight,
        mu,
        pull.course.weight_factor,
        pull.start_tension,
        pull.reverse,
        per_segment=True,
        above=above,
        then=then,
    )[1]


def joints(pull: Pull) -> np.ndarray:
    return np.append(pull.profile.tension[::2], pull.end_tension)


both_ways = pytest.mark.parametrize("reverse", [False, True])


@both_ways
def test_without_a_test_report_constant_friction_decides(reverse: bool) -> None:
    plain = solve_pull(job(), Practice(), reverse=reverse)
    shown = solve_pull(job(friction_above=ABOVE, friction_then=THEN), Practice(), reverse=reverse)
    assert np.array_equal(plain.profile.tension, shown.profile.tension)
    assert (plain.machine_peak, plain.brake) == (shown.machine_peak, shown.brake)


@both_ways
def test_with_a_test_report_the_pull_and_what_is_solved_again_follow_the_law(
    reverse: bool,
) -> None:
    pull = solve_pull(job(**REPORT), Practice(), reverse=reverse)
    constant = solve_pull(job(), Practice(), reverse=reverse)
    assert joints(pull) == pytest.approx(by_integrate(pull), rel=1e-10)
    assert pull.end_tension < 0.97 * constant.end_tension
    for factor in (0.5, 1.3):
        again = at_friction(pull, factor)
        assert joints(again) == pytest.approx(by_integrate(again), rel=1e-10)
        assert again.run.route.conduits[0].friction_then == pytest.approx(factor * THEN)
    by_hand = Practice(bend_form="capstan")
    assert solve_pull(job(**REPORT), by_hand, reverse=reverse).end_tension == pytest.approx(
        solve_pull(job(), by_hand, reverse=reverse).end_tension
    )


@both_ways
def test_the_least_brake_lies_between_those_of_both_frictions(reverse: bool) -> None:
    run, practice = job(**REPORT), Practice()
    pull = solve_pull(run, practice, reverse=reverse)
    way = pull.course
    mu = way.friction
    least, most = (
        brake(way.fine, way.weight, k, way.weight_factor, reverse, per_segment=True)[1][0]
        for k in (mu, np.where(np.isinf(way.fall.above), mu, THEN))  # type: ignore[union-attr]
    )
    assert least - 1e-9 <= pull.brake <= most + 1e-9
    low = way.with_friction(run, lambda c: c.lowest_friction, sheaves=False)
    assert low.fall is None and low.needed[0] >= most - 1e-9


def test_constant_and_by_pressure_can_be_asked_for() -> None:
    run, practice = job(**REPORT), Practice()
    pull = solve_pull(run, practice)
    args = (run, practice, pull.path, pull.fits, False)
    assert course(*args).fall is not None
    assert course(*args, by_pressure=False).fall is None
    shown = job(friction_above=ABOVE, friction_then=THEN)
    args = (shown, *args[1:])
    assert course(*args).fall is None and course(*args, by_pressure=True).fall is not None


@both_ways
def test_readings_carried_back_and_ceilings_follow_the_law(reverse: bool) -> None:
    pull = solve_pull(replace(job(**REPORT), reel_tension=1200.0), Practice(), reverse=reverse)
    assert pull.heads is not None and pull.rope_phase is not None
    back = tensions_at(pull, pull.heads, pull.machine_loads)
    rope = {b.vertex: b.tension for b in pull.rope_phase.in_bends()}
    for vertex, tension in back.items():
        segment = int(np.flatnonzero(pull.path.vertex == vertex)[0])
        bend = pull.profile.tension[pull.profile.segment == segment].max()
        assert tension == pytest.approx(max(bend, rope.get(vertex, 0.0)), rel=1e-6)
    # The limit of every joint is what the cable has there: the reading is the machine's load.
    heads = pull.heads[[4, 20, -1]]
    track = head_track(pull, heads)
    start = np.full((len(heads), 1), pull.start_tension)
    loads = track.loads(np.ones_like(start), start)
    n = len(track.walked)
    most = float(loads.cable.max())
    limits = LimitTensions(
        np.full((1, n + 1), np.inf),
        np.full((1, len(heads)), most),
        np.full((1, n + 1), np.inf),
        np.inf,
    )
    found = ceilings(track, limits, np.ones(1))
    # Drag alone that brings the head to its limit brings the machine to that reading.
    for i in range(len(heads)):
        low, high = 0.0, 1e5
        for _ in range(50):
            middle = (low + high) / 2
            head = _head_tension(pull, heads[i], middle)
            low, high = (middle, high) if head < most else (low, middle)
        one = head_track(pull, heads[i : i + 1])
        at_head = one.loads(np.ones((1, 1)), np.array([[low]]))
        assert found.reading[i, 0] == pytest.approx(float(at_head.machine[0, 0]), rel=1e-6)


def _head_tension(pull: Pull, head: float, start: float) -> float:
    behind = pull.course.behind(head)
    return start if behind is None else float(behind.tension(start)[-1])


def test_a_conduit_at_another_friction_keeps_its_law_and_not_what_was_learned() -> None:
    """Also where one conduit of a run is changed, and at no friction at all."""
    run = job(**REPORT, friction_learned=((1.0, -1.2, 0.2),), friction_high=0.4)
    for changed in (with_friction_in(run, "duct", 1.5), with_friction(run, 1.5)):
        duct = changed.route.conduits[0]
        assert duct.friction_then == pytest.approx(1.5 * THEN)
        assert duct.friction_high == pytest.approx(0.6)
        assert (duct.friction_above, duct.friction_report) == (ABOVE, "lab report 12")
        assert duct.friction_learned == ()
        way = solve_pull(changed, Practice()).course
        assert way.fall is not None and way.fall.share.min() == pytest.approx(THEN / 0.3)
    assert with_friction_in(run, "duct", 1.5).route.conduits[-1] == run.route.conduits[-1]
    none = with_friction(run, 0.0)
    assert none.route.conduits[0].friction_then == 0.0
    slick = solve_pull(none, Practice())
    assert slick.end_tension == pytest.approx(
        solve_pull(with_friction(job(), 0.0), Practice()).end_tension
    )


@both_ways
def test_a_pull_by_the_other_friction_is_that_of_both_with_the_reels_held_alike(
    reverse: bool,
) -> None:
    for report in ("", "lab report 12"):
        run = job(**{**REPORT, "friction_report": report})
        pull = solve_pull(run, Practice(), reverse=reverse)
        both = pull.by_both_frictions
        assert both is not None and at_fall(pull, bool(report)) is pull
        for falls, peaks in ((False, both.constant), (True, both.by_pressure)):
            assert at_fall(pull, falls).peaks == pytest.approx(peaks, rel=1e-12)
        assert with_fall(job(), True) == job()
