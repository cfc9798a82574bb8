"""The cheapest ways to fill a run with cable by stages, searched exactly.

A run is cut at splices into lengths of cable; each is fed at one point and pulled from there to one
end of it or to both, in stages. Fewest set-ups come first, then time, then the worst share of a
limit. A dearer part never makes a cheaper whole, so the best few plans are made of the best few of
each part: chains of stages to one end, then lengths of cable, then the run.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from heapq import nsmallest
from operator import itemgetter
from typing import NamedTuple


class Leg(NamedTuple):
    """One stage by numbers of points: cable is fed at ``feed`` and pulled to ``pull``.

    ``reel`` is true if fed off the reel, false if from figure eights. ``end`` is the point the
    cable is bound for: all that is to lie between ``feed`` and ``end`` goes through the stage.
    """

    feed: int
    pull: int
    reel: bool
    end: int


class StageOrder(NamedTuple):
    """Stages in the order of the work with what they cost; compared by that, then by their legs.

    ``clock`` is in whole milliseconds, so that sums are exact and equal times are a tie;
    ``share`` is the worst of the stages.
    """

    setups: int
    clock: int
    share: float
    legs: tuple[Leg, ...]

    def then(self, other: StageOrder, between: int = 0) -> StageOrder:
        """Both, with ``between`` ms of work between them."""
        return StageOrder(
            self.setups + other.setups,
            self.clock + between + other.clock,
            max(self.share, other.share),
            self.legs + other.legs,
        )


class Price(NamedTuple):
    """What a stage costs: ``clock`` ms, set-up included, and its ``share`` of a limit."""

    clock: int
    share: float


Pricing = Callable[[Leg], Price | None]
"""The price of a stage; None where it cannot be done."""
_Table = Mapping[tuple[int, bool], list[StageOrder]]


def best_chains(
    count: int,
    splices: Collection[int],
    price: Pricing,
    *,
    laying: int = 0,
    splicing: int = 0,
    best: int = 3,
) -> list[StageOrder]:
    """The ``best`` cheapest ways from point 0 to the last of ``count`` points, cheapest first.

    ``splices`` are the points where cable may be spliced; ``laying`` ms is the work of figure
    eights and ``splicing`` ms that of a splice. Of two plans that differ only in which way a
    length fed from its middle is pulled first, one is given.
    """
    last = count - 1
    cuts = [0, *sorted(p for p in splices if 0 < p < last), last]
    onward = {b: _chains(count, b, 1, price, laying, best) for b in cuts[1:]}
    back = {a: _chains(count, a, -1, price, laying, best) for a in cuts[:-1]}
    plans = {0: [StageOrder(0, 0, 0.0, ())]}
    for b in cuts[1:]:
        found: list[StageOrder] = []
        for a in (c for c in cuts if c < b and plans[c]):
            lengths = _lengths(a, b, onward[b], back[a], laying, best)
            work = splicing if a else 0
            found += _joined(((p, length) for p in plans[a] for length in lengths), work, best)
        plans[b] = nsmallest(best, found)
    return plans[last]


def _chains(count: int, end: int, turn: int, price: Pricing, laying: int, best: int) -> _Table:
    """The best chains that bring cable to ``end``, by where and how they are fed.

    ``turn`` is 1 for chains that go up the route to ``end`` and -1 for those that go down.
    """
    table: dict[tuple[int, bool], list[StageOrder]] = {}

    def starting(feed: int, reel: bool) -> Iterator[tuple[StageOrder, StageOrder | None]]:
        for pull in range(feed + turn, end + turn, turn):
            leg = Leg(feed, pull, reel, end)
            cost = price(leg)
            if cost is None:
                continue
            first = StageOrder(1, *cost, (leg,))
            if pull == end:
                yield first, None
            else:
                yield from ((first, rest) for rest in table[pull, False])

    for feed in range(end - turn, -1 if turn > 0 else count, -turn):
        for reel in (True, False):
            table[feed, reel] = nsmallest(best, _joined(starting(feed, reel), laying, best))
    return table


def _joined(
    pairs: Iterable[tuple[StageOrder, StageOrder | None]], between: int, enough: int
) -> Iterator[StageOrder]:
    """Each pair as one chain; none that has more set-ups than the first ``enough`` of them have."""
    counted = [(x.setups + (y.setups if y else 0), x, y) for x, y in pairs]
    counted.sort(key=itemgetter(0))
    most = counted[enough - 1][0] if len(counted) > enough else math.inf
    for setups, x, y in counted:
        if setups > most:
            return
        yield x.then(y, between) if y else x


def _lengths(
    a: int, b: int, onward: _Table, back: _Table, laying: int, best: int
) -> list[StageOrder]:
    """The best ways to install one length of cable from a to b, fed at an end or between."""
    pairs: list[tuple[StageOrder, StageOrder | None]] = [(x, None) for x in onward[a, True]]
    pairs += ((x, None) for x in back[b, True])
    for feed in range(a + 1, b):
        for off_reel, laid in ((onward, back), (back, onward)):
            pairs += ((x, y) for x in off_reel[feed, True] for y in laid[feed, False])
    # each may stand there twice, in either order
    return _distinct(_joined(pairs, laying, 2 * best), best)


def _distinct(chains: Iterable[StageOrder], best: int) -> list[StageOrder]:
    """The cheapest of chains that are not made of the same stages in another order."""
    seen: dict[frozenset[tuple[int, int]], StageOrder] = {}
    for chain in sorted(chains):
        seen.setdefault(frozenset((leg.feed, leg.pull) for leg in chain.legs), chain)
        if len(seen) == best:
            break
    return list(seen.values())
