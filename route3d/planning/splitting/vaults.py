"""Where a given number of new vaults along a run makes its hardest part as easy as can be.

A vault cuts the run: each part is a length of cable of its own, pulled off the reel from one of its
ends to the other, whichever way is lighter, and spliced in the vault. All parts between two places
are solved together (``section_pulls``); the places are then chosen by dynamic programming on
prefixes of the run, which is exact over the places looked at.
"""

from __future__ import annotations

import math
from bisect import insort
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from route3d.geometry.fillet import route_path, sub_route
from route3d.geometry.path import Path
from route3d.model.practice import Practice
from route3d.model.run import Run
from route3d.planning.splitting.new_points import (
    CLEAR,
    NewPoint,
    free_stretches,
    lighter_share,
    places,
    point_at,
    thinned,
    with_points,
)
from route3d.planning.splitting.section_pulls import Sections, section_pulls

NEW_VAULT = "new vault"
"""What a vault that is placed is called, with a number."""
USUAL_LENGTH = CLEAR
"""Length of a new vault along the route where none is given, m: common practice, no source."""
# Places looked at first; then so many more on each side of those chosen, each time closer, until
# they are nearer to each other than anybody sets out a vault, m.
_PLACES, _BESIDE, _CLOSE = 96, 3, 0.25
# A long run takes longer to solve from place to place.
_FEWEST_PLACES, _MOST_WORK = 12, 30_000


@dataclass(frozen=True, slots=True)
class PlacedVaults:
    """New vaults ``points``, in order; ``run`` has them, and is cut at the vertices ``cuts``.

    Among those are pull points of the run where a splice is allowed, if they help. ``shares`` are
    the shares of a limit that the parts between take in the lighter direction, in order.
    """

    points: tuple[NewPoint, ...]
    run: Run
    cuts: tuple[int, ...]
    shares: tuple[float, ...]


def place_vaults(
    run: Run,
    practice: Practice,
    count: int,
    *,
    clear: float = CLEAR,
    keep_out: Sequence[tuple[float, float]] = (),
    beside: Sequence[Run] = (),
) -> PlacedVaults | None:
    """Place ``count`` new vaults so that the hardest part takes as little of a limit as can be.

    Then the next hardest, and so on. They stand on nearly level straights, ``clear`` m off bends
    and ends, and in none of the stretches ``keep_out`` (from, to) m. The run may be cut at its own
    pull points with an allowed splice too. Runs ``beside`` it, of the same route, share its vaults:
    the harder of them counts. None where there are not so many places, or some part can be pulled
    neither way, whatever the places. Raises as ``solve_pull``.
    """
    path, runs = route_path(run.route), (run, *beside)
    most = max(_FEWEST_PLACES, min(_PLACES, _MOST_WORK // len(path)))
    free = free_stretches(path, clear=clear, keep_out=keep_out)
    spacing = max(sum(b - a for a, b in free) / most, _CLOSE)
    while len(wanted := places(path, spacing=spacing, clear=clear, keep_out=keep_out)) > most:
        if spacing > path.length:  # more stretches than places that can be solved
            wanted = thinned(wanted, most)
            break
        spacing *= 1.2
    found = _best_of(runs, practice, wanted, count)
    while found is not None and spacing > _CLOSE:
        closer = spacing / (_BESIDE + 1)
        wanted = _beside(path, free, found.points, closer)
        found, spacing = _best_of(runs, practice, wanted, count) or found, closer
    return found


def _beside(
    path: Path, free: Sequence[tuple[float, float]], points: Sequence[NewPoint], step: float
) -> list[NewPoint]:
    """The points, and places beside each a ``step`` apart where a vault may stand."""
    stations = sorted(p.station for p in points)
    for point in points:
        first, last = next((a, b) for a, b in free if a <= point.station <= b)
        for k in (*range(-_BESIDE, 0), *range(1, _BESIDE + 1)):
            at = min(max(point.station + k * step, first), last)
            # Two of them would make a part too short to mean anything.
            if all(abs(at - other) > step / 2 for other in stations):
                insort(stations, at)
    return [point_at(path, at) for at in stations]


def _best_of(
    runs: Sequence[Run], practice: Practice, wanted: Sequence[NewPoint], count: int
) -> PlacedVaults | None:
    """The best ``count`` of some places."""
    if len(wanted) < count:
        return None
    run = runs[0]
    tried, numbers = with_points(run, wanted)
    solved = [
        section_pulls(with_points(one, wanted)[0], practice, eights=False, beyond=True)
        for one in runs
    ]
    given = [v for v in tried.route.pull_points if v not in numbers]
    known = dict(zip(given, run.route.pull_points, strict=True))
    splices = {v for v, number in known.items() if number in run.splices}
    best = easiest_cuts(solved, numbers, splices, count)
    if best is None:
        return None
    cuts, shares = best
    new = dict(zip(numbers, wanted, strict=True))
    points = tuple(new[c] for c in cuts if c in new)
    made, at = with_points(run, points, NEW_VAULT)
    left = [v for v in made.route.pull_points if v not in at]
    again = dict(zip(run.route.pull_points, left, strict=True))
    here = iter(at)
    numbered = tuple(next(here) if c in new else again[known[c]] for c in cuts)
    return PlacedVaults(points, made, numbered, shares)


def easiest_cuts(
    solved: Sequence[Sections], new: Collection[int], splices: Collection[int], count: int
) -> tuple[tuple[int, ...], tuple[float, ...]] | None:
    """The vertices to cut a run at and the share of a limit of each part; None where none go.

    ``solved`` are the pulls of one run, or of several of the same route: of each part the harder.
    Exactly ``count`` of the vertices ``new`` are used, and any of ``splices``. The largest share is
    as small as can be, then the second largest, and so on; where that leaves a choice, of the
    fewest parts. The shares of a prefix, largest first, are known for each number of new vertices
    and of parts: one more part changes the order of no two of the same length, so that the best
    prefix makes the best whole.
    """
    points = solved[0].points
    last = len(points) - 1
    # By point, number of new ones and of parts: the shares, largest first, and where the last part
    # begins.
    best: list[dict[tuple[int, int], tuple[tuple[float, ...], int]]] = [{} for _ in points]
    best[0][0, 0] = ((), 0)
    for j in range(1, last + 1):
        used = points[j] in new
        if not (used or j == last or points[j] in splices):
            continue
        for i in range(j):
            share = _hardest(solved, i, j) if best[i] else None
            if share is None:
                continue
            for (cuts, parts), (shares, _) in best[i].items():
                key = (cuts + used, parts + 1)
                if key[0] > count:
                    continue
                way = tuple(sorted((*shares, share), reverse=True)), i
                if key not in best[j] or way < best[j][key]:
                    best[j][key] = way
    ways = [(s, parts) for (cuts, parts), (s, _) in best[last].items() if cuts == count]
    if not ways:
        return None
    _, parts = min(ways, key=lambda way: (way[0][0], way[1], way[0]))
    ends, at, key = [last], last, (count, parts)
    while at:
        before = best[at][key][1]
        key = (key[0] - (points[at] in new), key[1] - 1)
        ends.append(at := before)
    ends.reverse()
    walked = (_hardest(solved, i, j) for i, j in pairwise(ends))
    return tuple(points[k] for k in ends[1:-1]), tuple(s for s in walked if s is not None)


def _hardest(solved: Sequence[Sections], i: int, j: int) -> float | None:
    """The largest share of a limit that a part takes in any of the runs; None if one cannot go."""
    shares = [lighter_share(sections, i, j, math.inf) for sections in solved]
    known = [share for share in shares if share is not None]
    return max(known) if len(known) == len(shares) else None


def parts_of(run: Run, cuts: Sequence[int]) -> tuple[Run, ...]:
    """The parts of a run cut at some vertices, each a run of its own that may be pulled either way.

    A run that is not cut stays as it is.
    """
    if not cuts:
        return (run,)
    return tuple(_part(run, a, b) for a, b in pairwise((0, *cuts, len(run.route.vertices) - 1)))


def _part(run: Run, first: int, last: int) -> Run:
    route = sub_route(run.route, first, last)
    start, *between, end = route.vertices
    # A sheave of a pull point guides no cable that ends there.
    vertices = (replace(start, sheave=None), *between, replace(end, sheave=None))
    name = f"{run.name}, {run.route.label(first)} to {run.route.label(last)}"
    return replace(run, name=name, route=replace(route, vertices=vertices), splices=frozenset())
