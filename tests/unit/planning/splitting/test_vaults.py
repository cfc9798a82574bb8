"""Places of vaults against every choice of places, each part solved by itself."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache
from itertools import combinations, pairwise
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from route3d.geometry.fillet import route_path, sub_route
from route3d.geometry.path import STRAIGHT
from route3d.mechanics.pull import solve_pull
from route3d.model import Job, Practice, Route, Run
from route3d.planning.direction import candidate
from route3d.planning.evaluate import evaluate
from route3d.planning.splitting import vaults
from route3d.planning.splitting.new_points import free_stretches, places, with_points
from route3d.planning.splitting.vaults import PlacedVaults, easiest_cuts, parts_of, place_vaults
from tests.support import jobs
from tests.support.jobs import at, cable, conduit, hills, lay

PRACTICE = Practice()


def ways(last: int, new: set[int], splices: set[int], count: int) -> Iterator[tuple[int, ...]]:
    """Every choice of cuts between 0 and ``last`` with so many new ones, as the ends of parts."""
    for some in combinations(sorted(new), count):
        for more in range(len(splices) + 1):
            for given in combinations(sorted(splices), more):
                yield (0, *sorted((*some, *given)), last)


def best_of_all(
    every: Iterator[tuple[int, ...]], share: Callable[[int, int], float | None]
) -> tuple[float, int, list[float]] | None:
    """The lowest worst share, then the fewest parts, then the shares, largest first."""
    found = []
    for ends in every:
        shares = [share(a, b) for a, b in pairwise(ends)]
        known = sorted((s for s in shares if s is not None), reverse=True)
        if len(known) == len(shares):
            found.append((known[0], len(known), known))
    return min(found, default=None)


@pytest.mark.parametrize("seed", range(40))
def test_the_cuts_are_the_best_of_all_by_any_shares(seed: int) -> None:
    """Shares at random, of which some parts have none; two runs side by side count by the harder.

    Nothing is asked of the shares: a longer part may take less than a shorter one.
    """
    rng = np.random.default_rng(seed)
    count, last = int(rng.integers(1, 4)), int(rng.integers(4, 9))
    kinds = rng.integers(0, 3, last + 1)
    new = {k for k in range(1, last) if kinds[k] == 0}
    splices = {k for k in range(1, last) if kinds[k] == 1}
    tables = [
        {
            (i, j, True): SimpleNamespace(
                utilization=SimpleNamespace(peak=round(float(rng.uniform(0, 1)), 1)),
                allowed=lambda aim: True,
            )
            for i in range(last + 1)
            for j in range(last + 1)
            if i != j and rng.uniform() < 0.8
        }
        for _ in range(1 + seed % 2)
    ]
    solved: Any = [SimpleNamespace(points=tuple(range(last + 1)), pulls=t) for t in tables]

    def share(a: int, b: int) -> float | None:
        lighter = [
            min((t[k].utilization.peak for k in ((a, b, True), (b, a, True)) if k in t), default=9)
            for t in tables
        ]
        return max(lighter) if max(lighter) < 9 else None

    found = easiest_cuts(solved, new, splices, count)
    best = best_of_all(ways(last, new, splices, count), share)
    if best is None:
        assert found is None
        return
    assert found is not None
    cuts, shares = found
    assert (max(shares), len(shares), sorted(shares, reverse=True)) == best
    assert [share(a, b) for a, b in pairwise((0, *cuts, last))] == list(shares)
    assert sum(c in new for c in cuts) == count and set(cuts) <= new | splices


def lighter(run: Run) -> float:
    """Share of a limit that a run takes from its better end, the reels held as ordered."""
    pulls = (solve_pull(run, PRACTICE, reverse=reverse) for reverse in (False, True))
    return min(candidate(candidate(p).planned).utilization.peak for p in pulls)


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_the_places_are_the_best_of_every_choice(
    monkeypatch: pytest.MonkeyPatch, seed: int
) -> None:
    """Small random routes: every choice of places, each part pulled by itself from both ends."""
    monkeypatch.setattr(vaults, "_CLOSE", 1e9)  # no closer look
    route = hills(np.random.default_rng([seed, 8]), 2 + seed % 2, 0.5)
    tackle: dict[str, Any] = {"rope": jobs.rope(), "machine": jobs.machine()}
    run = jobs.run(route, [(cable(), 3)], splices=frozenset(route.pull_points), **tackle)
    count, every = 1 + seed // 3, places(route_path(route), spacing=1e9)
    tried, numbers = with_points(run, every)
    last = len(tried.route.vertices) - 1
    given = set(tried.route.pull_points) - set(numbers)

    @cache
    def share(a: int, b: int) -> float:
        return lighter(replace(tried, route=sub_route(tried.route, a, b)))

    best = best_of_all(ways(last, set(numbers), given, count), share)
    found = place_vaults(run, PRACTICE, count)
    assert best is not None and found is not None
    assert sorted(found.shares, reverse=True) == pytest.approx(best[2], rel=2e-7)


def solved_by_check(found: PlacedVaults) -> list[float]:
    result = evaluate(Job(runs=parts_of(found.run, found.cuts)), with_remedies=False)
    return [run.best.utilization.peak for run in result.runs]


@pytest.mark.parametrize("report", ["", "T-1"])
def test_a_closer_look_finds_what_a_fine_scan_finds(report: str) -> None:
    """One vault: the best of a scan, every part solved as ``check`` solves it.

    Also where friction that falls above a contact load decides, by a test report.
    """
    falls = {"friction_above": 250.0, "friction_then": 0.15, "friction_report": report}
    steel = conduit(friction=0.45, name="steel", **falls)
    route = lay(
        at((0, 0, 0), name="A", ends="reel machine"),
        at((70, 0, -1), 1.5),
        at((70, 90, -1), 2.0),
        at((150, 90, 0), name="B", ends="reel machine"),
        conduits=[conduit(friction=0.25), steel, conduit()],
    )
    run = jobs.run(route, [(cable(), 3)], rope=jobs.rope(), machine=jobs.machine())
    path = route_path(route)
    scan = [
        max(lighter(part) for part in parts_of(tried, numbers))
        for point in places(path, spacing=4.0)
        for tried, numbers in [with_points(run, [point])]
    ]
    found = place_vaults(run, PRACTICE, 1)
    assert found is not None
    assert max(found.shares) <= min(scan) * 1.002
    assert list(found.shares) == pytest.approx(solved_by_check(found), rel=2e-7)


def bent() -> Route:
    return lay(
        at((0, 0, 0), name="A", ends="reel machine"),
        at((40, 0, 0), 2.0),
        at((40, 60, 0), 2.0),
        at((40, 60, 20), 2.0),  # up a wall
        at((70, 60, 20), name="B", ends="reel machine"),
        conduits=conduit(),
    )


@pytest.mark.parametrize("seed", range(5))
def test_vaults_stand_clear_and_never_where_none_may(seed: int) -> None:
    rng = np.random.default_rng(seed)
    path, clear = route_path(bent()), float(rng.uniform(0.5, 6))
    keep_out = [(float(a), float(a + rng.uniform(0, 30))) for a in rng.uniform(-5, 140, 3)]
    free = free_stretches(path, clear=clear, keep_out=keep_out)
    for at_ in np.linspace(0, path.length, 400):
        i = int(path.locate(at_)[0])
        room = min(at_ - path.stations[i], path.stations[i] + path.lengths[i] - at_)
        level = path.kind[i] == STRAIGHT and abs(path.tangents[i, 2]) < 0.17
        allowed = level and room >= clear and not any(a < at_ < b for a, b in keep_out)
        assert any(a <= at_ <= b for a, b in free) == allowed
    run = jobs.run(bent(), [(cable(), 3)])
    found = place_vaults(run, PRACTICE, 2, clear=clear, keep_out=keep_out)
    for point in () if found is None else found.points:
        assert any(a <= point.station <= b for a, b in free)
        assert point.point == pytest.approx(path.point(point.station))


def test_a_straight_run_is_cut_evenly() -> None:
    """Tension of a level straight goes with its length: k vaults make k + 1 equal parts."""
    route = lay(
        at((0, 0, 0), name="A", ends="reel machine"),
        at((300, 0, 0), name="B", ends="reel machine"),
        conduits=conduit(),
    )
    run = jobs.run(route, [(cable(), 1)], reel_tension=0.0)
    for count in (1, 2):
        found = place_vaults(run, PRACTICE, count)
        assert found is not None
        even = [300 * k / (count + 1) for k in range(1, count + 1)]
        assert [p.station for p in found.points] == pytest.approx(even, abs=0.5)
        whole = candidate(solve_pull(run, PRACTICE)).utilization.peak
        assert max(found.shares) == pytest.approx(whole / (count + 1), rel=0.01)


def test_none_where_no_place_is_left() -> None:
    run = jobs.run(bent(), [(cable(), 3)])
    assert place_vaults(run, PRACTICE, 1, keep_out=[(0.0, 1e3)]) is None
    assert place_vaults(run, PRACTICE, 1, clear=40.0) is None
