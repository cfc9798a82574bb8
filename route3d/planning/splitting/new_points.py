"""Where pull points would have to be: to pull a run in parts, or to share out its turn."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import count as counting
from itertools import islice

import numpy as np

from route3d.checks.bends import turn_as_judged
from route3d.geometry.path import STRAIGHT, Path
from route3d.model.practice import Practice
from route3d.model.route import Route, Vertex
from route3d.model.run import Run
from route3d.planning.splitting.section_pulls import Sections, section_pulls

CLEAR = 1.0
"""A pull point keeps this clear of a bend, m: a box needs room (common practice, no source)."""
NEW_POINT = "new pull point"
"""What a pull point that is added is called, with a number."""
# Sine of the steepest slope of a leg that a pull point is put on: 10 degrees (common practice, no
# source).
_LEVEL = 0.174
# Places looked at for pull points: all pulls between any two of them are solved, in a time that
# goes with the length of the run too.
_PLACES, _FEWEST_PLACES, _MOST_WORK = 32, 8, 20_000
# Of a run with more pull points than this the ways to split it are the work of a plan.
_MOST_GIVEN = 40


@dataclass(frozen=True, slots=True)
class NewPoint:
    """A place for a pull point: its station (m), the leg it is on, and where it is, m."""

    station: float
    leg: int
    point: tuple[float, float, float]


def places(
    path: Path,
    *,
    spacing: float | None = None,
    clear: float = CLEAR,
    keep_out: Sequence[tuple[float, float]] = (),
) -> list[NewPoint]:
    """Places for a pull point on the straights of a path, in order.

    In the middle of each stretch where one may stand (``free_stretches``). With ``spacing`` m on a
    long one at both ends too, and between at most so far apart.
    """
    found: list[NewPoint] = []
    for first, last in free_stretches(path, clear=clear, keep_out=keep_out):
        at = np.array([(first + last) / 2])
        if last - first >= 4 * CLEAR and spacing is not None:
            halves = max(1, math.ceil((last - first) / (2 * spacing)))
            at = np.linspace(first, last, 2 * halves + 1)
        found += [point_at(path, station) for station in at.tolist()]
    return found


def free_stretches(
    path: Path, *, clear: float = CLEAR, keep_out: Sequence[tuple[float, float]] = ()
) -> list[tuple[float, float]]:
    """Stations between which the middle of a pull point may stand, (from, to) m, in order.

    ``clear`` m off both ends of a straight that is nearly level: on a steep one reel, machine and
    figure eights have no floor. Of the stretches ``keep_out`` only the ends are free.
    """
    found: list[tuple[float, float]] = []
    level = np.abs(path.tangents[:, 2]) <= _LEVEL
    for i in np.flatnonzero((path.kind == STRAIGHT) & (path.lengths >= 2 * clear) & level):
        first = float(path.stations[i]) + clear
        last = float(path.stations[i] + path.lengths[i]) - clear
        for start, end in sorted(keep_out):
            if start > last or end < first:
                continue
            if start >= first:
                found.append((first, start))
            first = max(first, end)
        if first <= last:
            found.append((first, last))
    return found


def point_at(path: Path, station: float) -> NewPoint:
    """The place at a station, m, of a straight."""
    x, y, z = path.point(station).tolist()
    return NewPoint(station, int(path.leg[int(path.locate(station)[0])]), (x, y, z))


def thinned(points: Sequence[NewPoint], most: int) -> list[NewPoint]:
    """At most so many of the places, evenly taken."""
    if len(points) <= most:
        return list(points)
    return [points[math.floor(k * len(points) / most)] for k in range(most)]


def new_names(route: Route, count: int, called: str = NEW_POINT) -> list[str]:
    """Names of so many new pull points that no vertex has yet, in their order."""
    taken = {v.name for v in route.vertices}
    free = (name for k in counting(1) if (name := f"{called} {k}") not in taken)
    return list(islice(free, count))


def with_points(
    run: Run, points: Sequence[NewPoint], called: str = NEW_POINT
) -> tuple[Run, tuple[int, ...]]:
    """The run with pull points added, and their vertex numbers in it; splices are left out."""
    ordered = sorted(points, key=lambda p: p.station)
    names = new_names(run.route, len(ordered), called)
    for name, new in reversed(list(zip(names, ordered, strict=True))):
        run = run.with_point(new.leg, Vertex.pull_point(new.point, name))
    numbers = tuple(new.leg + 1 + shift for shift, new in enumerate(ordered))
    return replace(run, splices=frozenset()), numbers


# --- load ----------------------------------------------------------------------------------------


def fewest_new_points(
    run: Run, practice: Practice, path: Path, *, aim: float = 1.0, most: int = 3
) -> tuple[NewPoint, ...] | None:
    """The fewest new pull points with which every part takes at most ``aim`` of each limit.

    Each part is pulled off the reel, one way or the other, from a point to the next; those that the
    run has may be used too. Of equally many the fewest parts, then the lightest worst one. Places
    are those of ``places``. Empty where none is needed; None where more than ``most`` are, or the
    run has very many pull points. Raises as ``solve_pull``.
    """
    if len(run.route.pull_points) > _MOST_GIVEN:
        return None
    count = max(_FEWEST_PLACES, min(_PLACES, _MOST_WORK // len(path)))
    straight = float(path.lengths[path.kind == STRAIGHT].sum())
    wanted = thinned(places(path, spacing=straight / count), count)
    tried, numbers = with_points(run, wanted)
    sections = section_pulls(tried, practice, eights=False)
    new = dict(zip(numbers, wanted, strict=True))
    cuts = _fewest(sections, [v in new for v in sections.points], aim)
    chosen = None if cuts is None else tuple(new[c] for c in cuts if c in new)
    return None if chosen is None or len(chosen) > most else chosen


def _fewest(sections: Sections, new: Sequence[bool], aim: float) -> tuple[int, ...] | None:
    """The vertices to cut a run at, so that every part passes one way; None where nothing does.

    Known of each point: how few ``new`` points lead there, how few parts, the worst share of a
    limit in them, and where the last begins.
    """
    points = sections.points
    best: dict[int, tuple[int, int, float, int]] = {0: (0, 0, 0.0, 0)}
    for j in range(1, len(points)):
        ways = [
            (best[i][0] + new[j], best[i][1] + 1, max(best[i][2], share), i)
            for i in best
            if (share := lighter_share(sections, i, j, aim)) is not None
        ]
        if ways:
            best[j] = min(ways)
    last = len(points) - 1
    if last not in best:
        return None
    cuts, at = [], best[last][3]
    while at:
        cuts.append(points[at])
        at = best[at][3]
    return tuple(reversed(cuts))


def lighter_share(sections: Sections, i: int, j: int, aim: float) -> float | None:
    """The lower of the largest shares of a limit, of the two ways to pull a part; None: neither."""
    pulls = (sections.pulls.get((a, b, True)) for a, b in ((i, j), (j, i)))
    return min((p.utilization.peak for p in pulls if p and p.allowed(aim)), default=None)


# --- turn ----------------------------------------------------------------------------------------


def new_points_for_turn(path: Path, first: int, last: int, limit: float) -> tuple[NewPoint, ...]:
    """Pull points between two others that leave no more turn than ``limit`` rad between any two.

    As few as will do; one alone is set where it shares the turn most evenly. Empty where a straight
    with room is lacking.
    """
    free = [p for p in places(path) if first <= p.leg < last]
    inside = (path.vertex > first) & (path.vertex < last)
    total = float(path.angles[inside].sum())

    def turned(point: NewPoint) -> float:
        return float(path.angles[inside & (path.stations[1:] <= point.station)].sum())

    def passes(turn: float) -> bool:
        return turn_as_judged(turn, limit) <= limit

    turns = [turned(p) for p in free]
    halves = [(abs(total - 2 * t), k) for k, t in enumerate(turns) if passes(max(t, total - t))]
    if halves:
        return (free[min(halves)[1]],)
    chosen: list[int] = []
    done = 0.0
    while not passes(total - done):
        within = [k for k, t in enumerate(turns) if t > done and passes(t - done)]
        if not within:
            return ()
        chosen.append(within[-1])
        done = turns[within[-1]]
    return tuple(free[k] for k in chosen)
