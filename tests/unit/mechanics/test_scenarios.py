"""Many scenarios of one pull at once, against the pulls solved one by one."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from route3d.checks.limits import Rated
from route3d.mechanics.pull import Peaks, Pull, solve_pull
from route3d.mechanics.scenarios import (
    TABLES,
    Scenarios,
    conduits_of,
    scenario_chunks,
    scenario_loads,
)
from route3d.model import CableSet, Conduit, LeadOff, Practice, Run, Sheave
from tests.support import jobs
from tests.support.jobs import at, cable, conduit, lay
from tests.support.routes import Go, Turn, centerward, vertices

TURNS = (LeadOff(0.5), LeadOff(1.5, Sheave("s", 0.3, 1e5, 0.95)))
SHEAVE = Sheave("corner", 0.6, 1e5, 0.9)
# The agreement asked for, as a share of the largest value of the scenario.
SAME = 1e-9


def falling(rng: np.random.Generator, kind: Conduit) -> Conduit:
    """Friction that falls, by a test report, above 0.4 to 60 times the weight of the set."""
    above = 3 * cable().weight * 10 ** rng.uniform(-0.4, 1.8)
    return replace(
        kind,
        friction_above=above,
        friction_then=kind.friction * rng.uniform(0.2, 0.9),
        friction_report="lab report 12",
    )


def random_run(rng: np.random.Generator, law: bool = False) -> Run:
    """Two to six bends up, down and aside, steep risers, pull points that turn, two conduits.

    With the ``law`` friction falls in one of them or in both.
    """
    pieces: list[Go | Turn] = [Go(rng.uniform(0.5, 60))]
    t = np.array([1.0, 0.0, 0.0])
    for _ in range(rng.integers(2, 7)):
        side = rng.choice(["left", "right", "up", "down", "any"])
        if side == "any" or abs(t[2]) > 0.95:  # left and right mean nothing on a riser
            side = rng.normal(size=3)
        turn = Turn(rng.choice([22.5, 45.0, 90.0, 130.0]), rng.uniform(0.4, 4.0), side)
        n, angle = centerward(t, side), np.radians(turn.degrees)
        t = np.cos(angle) * t + np.sin(angle) * n
        pieces += [turn, Go(rng.uniform(0.0, 60) if rng.random() < 0.8 else 0.0)]
    points, radii = vertices([*pieces, Go(3.0)])
    corner = rng.integers(1, len(points) - 1) if rng.random() < 0.4 else 0
    places = []
    for i, (point, radius) in enumerate(zip(points.tolist(), radii.tolist(), strict=True)):
        end = i in (0, corner, len(points) - 1)
        place = at(point, 0.0 if end else radius, ends=jobs.BOTH if end else "")
        sheave = SHEAVE if i == corner and corner and rng.random() < 0.7 else None
        places.append(replace(place, sheave=sheave))
    kinds = [conduit(0.13, 0.3, "duct"), conduit(0.11, 0.2, "riser")]
    if law:
        kinds = [falling(rng, kinds[0]), falling(rng, kinds[1]) if rng.random() < 0.6 else kinds[1]]
    ducts = [kinds[int(rng.integers(2))] for _ in places[1:]]
    rope = jobs.rope(rng.uniform(0.5, 40), rng.uniform(0, 0.5)) if rng.random() < 0.8 else None
    return jobs.run(lay(*places, conduits=ducts), [(cable(), 3)], rope=rope, lead_off=TURNS)


def random_scenarios(rng: np.random.Generator, run: Run, k: int) -> Scenarios:
    count, weight = len(conduits_of(run)), run.cables.weight
    start = rng.choice([0.0, 1.0, 30.0], (k,)) * weight * rng.uniform(0.1, 3.0, k)
    return Scenarios(
        rng.uniform(0.0, 0.6, (count, k)),
        weight * rng.uniform(0.7, 1.3, k),
        start,
        rng.uniform(0.0, 0.5, k) if run.rope and rng.random() < 0.5 else None,
        rng.uniform(1.0, 1.4, (count, k)) if rng.random() < 0.5 else None,
        rng.uniform(0.4, 1.0, (count, k)) if rng.random() < 0.5 else None,
    )


def one_by_one(pull: Pull, given: Scenarios, j: int) -> Pull:
    """The pull of scenario ``j`` alone, its model changed by hand."""
    run, rows = pull.run, conduits_of(pull.run)
    ducts = {c: c.at_friction(float(given.friction[i, j])) for i, c in enumerate(rows)}
    fits = []
    for duct, fit in zip(run.route.conduits, pull.fits, strict=True):
        i = rows.index(duct)
        if given.weight_factor is not None:
            fit = replace(fit, weight_factor=float(given.weight_factor[i, j]))
        if given.sidewall_factor is not None:
            fit = replace(fit, sidewall_factor=float(given.sidewall_factor[i, j]))
        fits.append(fit)
    heavier = float(given.weight[j]) / run.cables.weight
    changed = replace(
        run,
        route=replace(run.route, conduits=tuple(ducts[c] for c in run.route.conduits)),
        cables=CableSet(
            tuple((replace(c, weight=c.weight * heavier), n) for c, n in run.cables.items)
        ),
        reel_tension=float(given.reel_tension[j]),
    )
    if changed.rope is not None and given.rope_friction is not None:
        rope = replace(changed.rope, friction=float(given.rope_friction[j]))
        changed = replace(changed, rope=rope)
    return solve_pull(
        changed, pull.practice, reverse=pull.reverse, path=pull.path, fits=tuple(fits)
    )


PRACTICES = [
    Practice(),
    Practice("straights", sidewall_radius="inside"),
    Practice(bend_form="capstan"),
]


@pytest.mark.parametrize(
    ("seed", "law"),
    [*((seed, False) for seed in range(24)), *((seed, True) for seed in range(30, 48))],
)
def test_every_scenario_is_the_pull_solved_alone(seed: int, law: bool) -> None:
    rng = np.random.default_rng(seed)
    run, practice = random_run(rng, law), PRACTICES[seed % (2 if law else 3)]
    pull = solve_pull(run, practice, reverse=bool(seed % 2))
    assert (pull.course.fall is not None) == law
    given = random_scenarios(rng, run, 400)
    heads, looked = None, np.empty(0, dtype=int)
    if pull.heads is not None:
        twice = np.flatnonzero(np.diff(pull.heads) == 0)  # before a turn of no length
        looked = np.setdiff1d(np.arange(len(pull.heads)), twice)
        heads = pull.heads[looked]
    found = scenario_loads(pull, given, keep=TABLES, heads=heads)
    assert found.tension is not None and found.largest is not None and found.sidewall is not None
    for j in range(0, given.count, 40):
        one = one_by_one(pull, given, j)
        close = pytest.approx
        size = max(one.peak_tension, one.machine_least)
        many = Peaks(*(None if p is None else p[j] for p in found.peaks[:4]))
        for name, mine, other in zip(Peaks._fields, many, one.peaks, strict=True):
            largest = one.peak_sidewall if name == "sidewall" else size
            assert (mine is None) == (other is None)
            assert mine is None or mine == close(other, abs=SAME * largest), name
        for row, segment in enumerate(found.segment.tolist()):
            on = one.profile.segment == segment
            tensions = one.profile.tension[on]
            assert found.tension[row, j] == close(tensions[0], abs=SAME * size)
            assert found.tension[row + 1, j] == close(tensions[-1], abs=SAME * size)
            assert found.largest[row, j] == close(tensions.max(), abs=SAME * size)
            walls = one.profile.sidewall[on].max()
            assert found.sidewall[row, j] == close(walls, abs=SAME * one.peak_sidewall)
        worst = int(found.peaks.sidewall_segment[j])
        if worst >= 0:
            row = found.segment.tolist().index(worst)
            assert found.sidewall[row, j] == found.peaks.sidewall[j]
        if found.machine is not None:
            assert found.machine[:, j] == close(one.machine_loads[looked], abs=SAME * size)


def test_a_slope_that_only_the_higher_friction_climbs_is_looked_into() -> None:
    """Over a crest: up to the threshold tension grows, above it the weight of the cable wins."""
    shape = vertices([Go(1), Turn(32.5, 1.9, "down"), Go(1), Turn(47, 1.9, "down"), Go(5)])
    weight = cable().weight
    duct = conduit(
        friction=0.57, friction_above=2.34 * weight, friction_then=0.023, friction_report="T-1"
    )
    pull = solve_pull(jobs.run(jobs.along(shape, duct)), Practice())
    start = np.linspace(0.0, 12.0, 40) * weight
    given = Scenarios(np.full((1, 40), 0.57), np.full(40, weight), start)
    found = scenario_loads(pull, given, keep=TABLES)
    assert found.largest is not None and found.tension is not None
    ends = np.maximum(found.tension[1:], found.tension[:-1])
    assert (found.largest > ends * 1.001).any()
    for j in range(40):
        one = one_by_one(pull, given, j)
        for row, segment in enumerate(found.segment.tolist()):
            most = one.profile.tension[one.profile.segment == segment].max()
            assert found.largest[row, j] == pytest.approx(most, rel=SAME)


def yard() -> Pull:
    shape = vertices([Go(60), Turn(90, 1.2), Go(20), Turn(90, 1.2, "up"), Go(15)])
    run = jobs.run(
        jobs.along(shape, conduit()), rope=jobs.rope(), machine=jobs.machine(), lead_off=TURNS
    )
    return solve_pull(run, Practice())


def test_parts_are_worked_apart_and_come_in_order() -> None:
    pull, k = yard(), 20_001
    friction = np.linspace(0.1, 0.5, k)[None]
    weight, reel = np.array([pull.run.cables.weight]), np.array([500.0])  # one value serves all
    given = Scenarios(friction, weight, reel)
    whole = scenario_loads(pull, given, keep=("tension",))
    assert whole.tension is not None and whole.tension.shape == (6, k)
    assert (np.diff(whole.peaks.tension) > 0).all()
    some = np.array([0, 9_000, k - 1])
    apart = scenario_loads(pull, Scenarios(friction[:, some], weight, reel), keep=("tension",))
    np.testing.assert_allclose(whole.tension[:, some], apart.tension, rtol=1e-12)
    spans = scenario_chunks(pull, given, lambda span, loads: (span, loads.peaks.machine.max()))
    assert [s.start for s, _ in spans[1:]] == [s.stop for s, _ in spans[:-1]]
    assert [most for _, most in spans] == [whole.peaks.machine[s].max() for s, _ in spans]


def test_limits_are_held_against_all_scenarios() -> None:
    pull = yard()
    given = Scenarios(np.array([[0.2, 0.3]]), np.array([25.0]), np.array([400.0]))
    peaks = scenario_loads(pull, given).peaks
    rated = Rated.of(pull.run, pull.practice)
    many = rated.utilizations(peaks)
    for j in range(2):
        one = rated.utilization(Peaks(*(float(p[j]) for p in peaks[:4])))
        assert {name: shares[j] for name, shares in many.items()} == dict(one.items())


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"weight": np.array([0.0])}, "weight must not be 0"),
        ({"friction": np.array([[-0.1]])}, "friction must not be -0.1"),
        ({"friction": np.array([0.1])}, "friction must have 2 axes"),
        ({"friction": np.full((2, 1), 0.3)}, "a row for each of 1 conduits"),
        ({"reel_tension": np.array([np.nan, 1.0])}, "reel_tension must not be nan"),
        ({"reel_tension": np.ones(2), "weight": np.ones(3)}, "must agree in number"),
    ],
)
def test_scenarios_that_make_no_sense_are_refused(changed: dict[str, Any], message: str) -> None:
    given = {"friction": np.array([[0.3]]), "weight": np.array([25.0]), "reel_tension": np.ones(1)}
    with pytest.raises(ValueError, match=message):
        scenario_loads(yard(), Scenarios(**{**given, **changed}))


def test_heads_need_a_rope_and_tables_a_name() -> None:
    pull = yard()
    given = Scenarios(np.array([[0.3]]), np.array([25.0]), np.ones(1))
    with pytest.raises(ValueError, match="no table 'loads'"):
        scenario_loads(pull, given, keep=["loads"])
    with pytest.raises(ValueError, match="pulling order"):
        scenario_loads(pull, given, heads=[5.0, 1.0])
    bare = solve_pull(replace(pull.run, rope=None), Practice())
    with pytest.raises(ValueError, match="no rope"):
        scenario_loads(bare, given, heads=[0.0])
