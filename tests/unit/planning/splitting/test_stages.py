"""The search against every plan written out, on runs small enough for that."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import accumulate, chain, combinations, pairwise, product

import numpy as np
import pytest

from route3d.planning.splitting.stages import Leg, Price, Pricing, StageOrder, best_chains

Cost = tuple[int, int, float]
Key = frozenset[tuple[int, int, int]]
"""Number of the length of cable, feed and pull of every stage: what makes plans distinct."""
LAYING, SPLICING = 7, 30


def subsets(items: list[int]) -> Iterator[tuple[int, ...]]:
    return chain.from_iterable(combinations(items, k) for k in range(len(items) + 1))


def ways_to(feed: int, end: int) -> list[list[tuple[int, int]]]:
    """Stages from one point to another with every choice of stops between; none for no way."""
    turn = 1 if end > feed else -1
    stops = subsets(list(range(feed + turn, end, turn)))
    return [list(pairwise((feed, *between, end))) for between in stops] if feed != end else [[]]


def one_length(a: int, b: int) -> Iterator[list[Leg]]:
    """Every way to install one length of cable, stages in the order of the work."""
    for feed in range(a, b + 1):
        for up, down in product(ways_to(feed, b), ways_to(feed, a)):
            for first, second in (((b, up), (a, down)), ((a, down), (b, up))):
                legs = [(stage, end) for end, stages in (first, second) for stage in stages]
                yield [Leg(*stage, i == 0, end) for i, (stage, end) in enumerate(legs)]


def every_plan(count: int, splices: list[int], price: Pricing) -> list[tuple[Cost, Key]]:
    """Cost and stages (whichever is first) of all plans that can be done, cheapest first."""
    found: dict[Key, Cost] = {}
    for cut in subsets(splices):
        lengths = [list(one_length(a, b)) for a, b in pairwise((0, *cut, count - 1))]
        for plan in product(*lengths):
            prices = [price(leg) for legs in plan for leg in legs]
            known = [p for p in prices if p is not None]
            if len(known) < len(prices):
                continue
            work = LAYING * sum(len(legs) - 1 for legs in plan) + SPLICING * len(cut)
            cost = len(known), sum(p.clock for p in known) + work, max(p.share for p in known)
            key = frozenset((n, g.feed, g.pull) for n, legs in enumerate(plan, 1) for g in legs)
            found[key] = min(cost, found.get(key, cost))
    return sorted(((cost, key) for key, cost in found.items()), key=lambda item: item[0])


def random_price(rng: np.random.Generator, count: int, done: float, ties: bool) -> Pricing:
    """Any stage may be impossible; with ``ties`` times and shares take few values."""
    most = 3 if ties else 10**6
    table = {
        Leg(a, b, reel, end): Price(100 + int(rng.integers(most)), int(rng.integers(most)) / most)
        for a, b, end in product(range(count), repeat=3)
        for reel in (True, False)
        if (a < b <= end or a > b >= end) and rng.random() < done
    }
    return table.get


@pytest.mark.parametrize("ties", [False, True], ids=["no ties", "ties"])
@pytest.mark.parametrize("done", [0.35, 0.6, 0.9])
@pytest.mark.parametrize("count", [2, 3, 4, 5])
def test_the_best_are_those_of_all_plans(count: int, done: float, ties: bool) -> None:
    rng = np.random.default_rng([count, int(100 * done), ties])
    none = 0
    for _ in range(25):
        splices = [p for p in range(1, count - 1) if rng.random() < 0.5]
        price = random_price(rng, count, done, ties)
        found = best_chains(count, splices, price, laying=LAYING, splicing=SPLICING, best=3)
        every = every_plan(count, splices, price)
        assert [c[:3] for c in found] == [cost for cost, _ in every[:3]]
        known = {key: cost for cost, key in every}
        keys = [stages(c) for c in found]
        assert len(set(keys)) == len(keys)  # distinct plans
        assert [known[key] for key in keys] == [c[:3] for c in found]  # each costs what it says
        none += not found
    assert none < 25  # some can be done, or nothing was compared


def stages(plan: StageOrder) -> Key:
    """Only the first stage of a length of cable is fed off its reel."""
    numbers = accumulate(leg.reel for leg in plan.legs)
    return frozenset((n, g.feed, g.pull) for n, g in zip(numbers, plan.legs, strict=True))


def only(*legs: Leg, clock: int = 100) -> Pricing:
    return {leg: Price(clock, 0.5) for leg in legs}.get


def test_a_stage_goes_on_from_figure_eights_and_pays_for_them() -> None:
    price = only(Leg(0, 1, True, 2), Leg(1, 2, False, 2))
    (plan,) = best_chains(3, (), price, laying=LAYING, splicing=SPLICING)
    assert plan[:3] == (2, 200 + LAYING, 0.5)
    assert plan.legs == (Leg(0, 1, True, 2), Leg(1, 2, False, 2))


def test_the_way_off_the_reel_comes_first_when_fed_from_the_middle() -> None:
    """Down the route the cable needs a brake, so it goes off the reel; the other way is laid."""
    price = only(Leg(1, 0, True, 0), Leg(1, 2, False, 2))
    (plan,) = best_chains(3, (), price, laying=LAYING)
    assert plan.legs == (Leg(1, 0, True, 0), Leg(1, 2, False, 2))


def test_no_splice_but_where_it_is_allowed() -> None:
    price = only(Leg(0, 1, True, 1), Leg(1, 2, True, 2))
    assert best_chains(3, (), price) == []
    (plan,) = best_chains(3, {1}, price, splicing=SPLICING)
    assert plan[:2] == (2, 200 + SPLICING)


def test_fewest_set_ups_come_before_time_and_time_before_share() -> None:
    slow, fast = Price(10**6, 0.9), Price(1, 0.1)
    table = {
        Leg(0, 2, True, 2): slow,
        Leg(2, 0, True, 0): Price(10**6, 0.8),
        Leg(1, 0, True, 0): fast,
        Leg(1, 2, False, 2): fast,
    }
    plans = best_chains(3, (), table.get)
    assert [p[:3] for p in plans] == [(1, 10**6, 0.8), (1, 10**6, 0.9), (2, 2, 0.1)]


def test_as_many_plans_as_asked_for() -> None:
    every = random_price(np.random.default_rng(5), 5, 1.0, False)
    ten = best_chains(5, (1, 2, 3), every, best=10)
    assert len(ten) == 10
    assert best_chains(5, (1, 2, 3), every, best=1) == ten[:1]
