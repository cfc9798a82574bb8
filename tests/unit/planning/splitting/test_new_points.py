"""New pull points against every choice of places, each part solved by itself."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import combinations, pairwise

import numpy as np
import pytest

from route3d.geometry.fillet import route_path, sub_route
from route3d.mechanics.pull import solve_pull
from route3d.model import Practice, Route, Run
from route3d.planning.direction import candidate
from route3d.planning.splitting import new_points
from route3d.planning.splitting.new_points import (
    CLEAR,
    NewPoint,
    fewest_new_points,
    new_points_for_turn,
    places,
    thinned,
    with_points,
)
from tests.support import jobs
from tests.support.jobs import BOTH, at, cable, conduit, hills, lay

PRACTICE = Practice()


def passes(run: Run, aim: float) -> bool:
    """Whether one end or the other feeds a pull that takes at most ``aim`` of every limit."""
    for reverse in (False, True):
        one = candidate(candidate(solve_pull(run, PRACTICE, reverse=reverse)).planned)
        if one.passes and one.utilization.peak <= aim * (1 + 1e-7):
            return True
    return False


def in_parts(run: Run, new: tuple[NewPoint, ...], aim: float) -> bool:
    """Whether the run can be pulled in parts that all pass, cut at the new points and any given."""
    changed, numbers = with_points(run, new)
    given = sorted(set(changed.route.pull_points) - set(numbers))
    last = len(changed.route.vertices) - 1
    for count in range(len(given) + 1):
        for some in combinations(given, count):
            cuts = [0, *sorted((*some, *numbers)), last]
            parts = (
                replace(changed, route=sub_route(changed.route, a, b)) for a, b in pairwise(cuts)
            )
            if all(passes(part, aim) for part in parts):
                return True
    return False


def strained(route: Route, share: float) -> Run:
    """A run whose machine pulls that share of what the whole run takes, and its bends as much."""
    run = jobs.run(route, [(cable(sidewall_limit=1e6), 3)], rope=jobs.rope())
    whole = solve_pull(run, PRACTICE)
    assert whole.machine_peak is not None
    return jobs.run(
        route,
        [(cable(sidewall_limit=share * whole.peak_sidewall), 3)],
        rope=jobs.rope(),
        machine=jobs.machine(share * whole.machine_peak),
    )


@pytest.mark.parametrize("aim", [1.0, 0.8])
@pytest.mark.parametrize("share", [0.9, 0.6, 0.35])
@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_as_few_as_by_every_choice_of_places(
    monkeypatch: pytest.MonkeyPatch, seed: int, share: float, aim: float
) -> None:
    monkeypatch.setattr(new_points, "_PLACES", 7)
    monkeypatch.setattr(new_points, "_FEWEST_PLACES", 7)
    route = hills(np.random.default_rng([seed, 3]), 2 + seed % 2, 2.0)
    run = strained(route, share)
    path = route_path(route)
    found = fewest_new_points(run, PRACTICE, path, aim=aim)
    straight = sum(path.lengths[path.kind == 0])
    every = thinned(places(path, spacing=straight / 7), 7)
    fewest = next(
        (n for n in range(4) if any(in_parts(run, c, aim) for c in combinations(every, n))), None
    )
    assert (None if found is None else len(found)) == fewest
    assert found is None or in_parts(run, found, aim)


def level(length: float, most: float, *vaults: float) -> Run:
    """A straight level run whose cable may be pulled ``most`` m at a time, but for the reel."""
    inside = (at((x, 0, 0), name=f"V{x:g}", ends=BOTH) for x in vaults)
    ends = at((0, 0, 0), name="A", ends=BOTH), at((length, 0, 0), name="B", ends=BOTH)
    route = lay(ends[0], *inside, ends[1], conduits=conduit(friction=0.5))
    run = jobs.run(route, [(cable(), 1)], reel_tension=0.0)
    per_meter = solve_pull(run, PRACTICE).peak_tension / length
    return jobs.run(route, [(cable(max_tension=most * per_meter), 1)], reel_tension=0.0)


@pytest.mark.parametrize(
    ("length", "vaults", "stations"),
    [
        (99.0, (), ()),
        (150.0, (), (75.0,)),
        (290.0, (), (96.7, 193.3)),
        (390.0, (), (97.5, 195.0, 292.5)),
        (410.0, (), None),  # four
        (150.0, (75.0,), ()),  # one is there
        (290.0, (100.0,), (195.0,)),
        (290.0, (10.0,), (103.0, 196.0)),  # that one is of no help
    ],
)
def test_a_straight_run_is_shared_out(
    length: float, vaults: tuple[float, ...], stations: tuple[float, ...] | None
) -> None:
    """Tension goes with length: at most 100 m at a time, and the longest part as short as can be.

    Places are a thirtieth of the run apart or so.
    """
    run = level(length, 100.0, *vaults)
    found = fewest_new_points(run, PRACTICE, route_path(run.route))
    if stations is None:
        assert found is None
        assert len(fewest_new_points(run, PRACTICE, route_path(run.route), most=4) or ()) == 4
        return
    assert found is not None and len(found) == len(stations)
    cuts = sorted((0.0, *(p.station for p in found), *vaults, length))
    assert max(b - a for a, b in pairwise(cuts)) <= 100.0
    assert [p.station for p in found] == pytest.approx(stations, abs=length / 30)
    assert all(p.point == pytest.approx((p.station, 0, 0)) for p in found)


def test_an_aim_asks_for_more_points() -> None:
    run = level(190.0, 100.0)
    path = route_path(run.route)
    counts = [len(fewest_new_points(run, PRACTICE, path, aim=a) or ()) for a in (1.0, 0.9, 0.6)]
    assert counts == [1, 2, 3]


def test_a_run_of_very_many_pull_points_is_left_to_the_ways_to_split_it() -> None:
    for count, found in ((40, ()), (41, None)):
        run = level(10.0 * (count + 1), 50.0, *(10.0 * (i + 1) for i in range(count)))
        assert fewest_new_points(run, PRACTICE, route_path(run.route)) == found


def test_places_keep_clear_of_bends_and_lie_at_most_so_far_apart() -> None:
    route = hills(np.random.default_rng(5), 2, 2.0)
    path = route_path(route)
    for spacing in (2.0, 5.0, math.inf):
        found = places(path, spacing=spacing)
        for i in np.flatnonzero(path.kind == 0):
            a, b = float(path.stations[i]), float(path.stations[i + 1])
            inside = [p.station for p in found if a < p.station < b]
            steep = abs(path.tangents[i, 2]) > math.sin(math.radians(10.1))
            if b - a < 2 * CLEAR or steep:  # a box needs a floor
                assert not inside
                continue
            assert (a + b) / 2 == pytest.approx(min(inside, key=lambda x: abs(x - (a + b) / 2)))
            assert min(inside) >= a + CLEAR - 1e-9 and max(inside) <= b - CLEAR + 1e-9
            if b - a >= 6 * CLEAR:
                assert max(np.diff(inside)) <= spacing + 1e-9
                assert min(inside) == pytest.approx(a + CLEAR)
    assert len(places(path)) < len(found)  # only the middles


def test_turn_is_shared_out_at_the_middles_of_straights() -> None:
    """Six quarter turns, 540 degrees: one point leaves 270 and 270."""
    corners = [(20 * (i // 2 + i % 2), 20 * (i // 2), 0) for i in range(1, 7)]
    route = lay(
        at((0, 0, 0), ends=BOTH),
        *(at(p, 1.0) for p in corners),
        at((80, 60, 0), ends=BOTH),
        conduits=conduit(),
    )
    path = route_path(route)
    assert math.degrees(path.turn) == pytest.approx(540)
    (point,) = new_points_for_turn(path, 0, 7, 2 * math.pi)
    before = path.angles[path.stations[1:] <= point.station].sum()
    assert point.leg == 3 and math.degrees(before) == pytest.approx(270)
    assert not new_points_for_turn(path, 0, 7, math.radians(80))
