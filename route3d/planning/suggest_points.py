"""Where pull points would have to be: to pull a run in parts, or to share out its turn."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from route3d.geometry.path import Path
from route3d.geometry.route_path import sub_route
from route3d.model.practice import Practice
from route3d.model.run import Run
from route3d.planning.direction import Candidate
from route3d.planning.result import evaluate_run
from route3d.planning.splitting.new_points import NewPoint, _share, places, thinned, with_points
from route3d.planning.splitting.section_pulls import Sections, section_pulls

# Places looked at for pull points: all pulls between any two of them are solved, in a time that
# goes with the length of the run too.
_MOST_PLACES, _FEWEST_PLACES, _MOST_WORK = 40, 8, 20_000
# More new pull points than this are no repair of a run but another one.
MOST_NEW = 3


@dataclass(frozen=True, slots=True)
class Split:
    """A run pulled in parts that all pass: ``run`` with its ``new`` points, cut at ``cuts``.

    ``pulls`` are the candidates chosen, in the order of the route.
    """

    run: Run
    new: tuple[NewPoint, ...]
    cuts: tuple[int, ...]
    pulls: tuple[Candidate, ...]


def splits(run: Run, practice: Practice, path: Path) -> Iterator[Split]:
    """Ways to cut a run so that every part passes: at the pull points it has, and at new ones.

    At most one of each kind, with the fewest cuts, then with the lightest worst pull. None for a
    run of very many pull points, whose splits are the work of a plan.
    """
    if len(run.route.pull_points) > _MOST_PLACES:
        return
    most = max(_FEWEST_PLACES, min(_MOST_PLACES, _MOST_WORK // len(path)))
    wanted = thinned(places(path, spacing=math.inf), most)
    tried, numbers = with_points(run, wanted)
    sections = section_pulls(tried, practice)
    new = dict(zip(numbers, wanted, strict=True))
    given = [p for p in sections.points if p not in new]
    found = _fewest(sections, given.__contains__, len(given))
    if found:
        yield from _carried_out(run, practice, given, found, new)
    ends = (sections.points[0], sections.points[-1])
    added = _fewest(sections, lambda p: p in new or p in ends, MOST_NEW)
    if added is None and not found:
        added = _fewest(sections, lambda _: True, MOST_NEW)
    if added:
        yield from _carried_out(run, practice, given, added, new)


def _fewest(
    sections: Sections, may_cut: Callable[[int], bool], most: int
) -> tuple[int, ...] | None:
    """The fewest vertices at which every part passes one way, lightest first; None where none do.

    Known of each point: how few parts lead there, the worst share of a limit in them, and where
    the last begins.
    """
    points = sections.points
    best: dict[int, tuple[int, float, int]] = {0: (0, 0.0, 0)}
    for j in range(1, len(points)):
        if not may_cut(points[j]):
            continue
        ways = [
            (best[i][0] + 1, max(best[i][1], share), i)
            for i in best
            if (share := _share(sections, i, j, 1.0)) is not None
        ]
        if ways:
            best[j] = min(ways)
    last = len(points) - 1
    if last not in best or not 1 < best[last][0] <= most + 1:
        return None
    cuts, at = [], best[last][2]
    while at:
        cuts.append(points[at])
        at = best[at][2]
    return tuple(reversed(cuts))


def _carried_out(
    run: Run,
    practice: Practice,
    given: Sequence[int],
    cuts: Sequence[int],
    new: dict[int, NewPoint],
) -> Iterator[Split]:
    """The split with only the points it needs, every part solved by itself."""
    chosen = [new[c] for c in cuts if c in new]
    changed, numbers = with_points(run, chosen)
    renumbered = dict(zip((c for c in cuts if c in new), numbers, strict=True))
    own = [0, *run.route.pull_points, len(run.route.vertices) - 1]
    for tried, vertex in zip(given, own, strict=True):
        renumbered[tried] = vertex + sum(p.leg < vertex for p in chosen)
    places_cut = tuple(renumbered[c] for c in cuts)
    pulls = []
    for a, b in pairwise((0, *places_cut, len(changed.route.vertices) - 1)):
        part = replace(changed, route=sub_route(changed.route, a, b), splices=frozenset())
        choice = evaluate_run(part, practice).decision.choice
        if choice is None:
            return
        pulls.append(choice)
    yield Split(changed, tuple(chosen), places_cut, tuple(pulls))
