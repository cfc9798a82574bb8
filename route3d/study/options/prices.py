"""What an option costs, by the user's figures: nothing that was not given is counted."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from route3d.geometry.path import ARC
from route3d.planning.result import RunResult
from route3d.planning.summary import RunSummary
from route3d.study.options.given import Costs

HOUR = 3600.0


@dataclass(frozen=True, eq=False)
class Bill:
    """What is paid for: the pulls with their results, in the same order, vaults and splices.

    ``crew_time`` s is over all, None where it is not known.
    """

    results: Sequence[RunResult]
    pulls: Sequence[RunSummary]
    vaults: int
    splices: int
    crew_time: float | None
    lubricant: str
    extra: Mapping[str, float]


def priced(costs: Costs, bill: Bill) -> tuple[tuple[str, float | None], ...]:
    """Each cost by what it is for; None where it hangs on a crew time that is not known."""
    return tuple(_items(costs, bill))


def not_priced(costs: Costs, bill: Bill) -> Iterator[str]:
    """What is used and has no price: the kind alone where none of its kind has one."""
    yield from (what for what, each, count in _counted(costs, bill) if each is None and count)
    if costs.crew_hour is None:
        yield "crew hours"
    machines = {name: 0.0 for name in _machines(bill.results) if name}
    for kind, used, given in (
        ("conduit", _lengths(bill.results), costs.conduit),
        ("lubricant", {bill.lubricant: 0.0} if bill.lubricant else {}, costs.lubricant),
        ("machine days", machines, costs.machine_day),
    ):
        missing = [name for name in used if name not in given]
        if missing and not given:
            yield kind
        else:
            yield from (f"{kind} {name}" for name in missing)


def _items(costs: Costs, bill: Bill) -> Iterator[tuple[str, float | None]]:
    counted = _counted(costs, bill)
    yield from ((what, each * count) for what, each, count in counted if each is not None)
    lengths = _lengths(bill.results)
    for name, rate in costs.conduit.items():
        if name in lengths:
            yield f"conduit {name}", rate * lengths[name]
    if (rate_ := costs.lubricant.get(bill.lubricant)) is not None:
        yield f"lubricant {bill.lubricant}", rate_ * sum(lengths.values())
    if costs.crew_hour is not None:
        hours = None if bill.crew_time is None else bill.crew_time / HOUR
        yield "crew", None if hours is None else costs.crew_hour * hours
    yield from _machine_days(costs, bill)
    yield from bill.extra.items()


def _counted(costs: Costs, bill: Bill) -> tuple[tuple[str, float | None, int], ...]:
    """What is paid by its number: what it is, the price of one, how many."""
    return (
        ("new vaults", costs.vault, bill.vaults),
        ("bends", costs.bend, sum(_bends(result) for result in bill.results)),
        ("splices", costs.splice, bill.splices),
        ("set-ups", costs.setup, len(bill.pulls)),
    )


def _machine_days(costs: Costs, bill: Bill) -> Iterator[tuple[str, float | None]]:
    """Each machine for every day begun of the pulls it makes."""
    machines = _machines(bill.results)
    for name, rate in costs.machine_day.items():
        times = [p.crew_time for p, m in zip(bill.pulls, machines, strict=True) if m == name]
        known = [t for t in times if t is not None]
        if times:
            days = math.ceil(sum(known) / costs.day - 1e-9)
            yield f"machine {name}", rate * days if len(known) == len(times) else None


def _machines(results: Sequence[RunResult]) -> list[str]:
    """The name of the machine of each pull, "" where it has none."""
    machines = (result.best.pull.run.machine for result in results)
    return ["" if machine is None else machine.name for machine in machines]


def _lengths(results: Sequence[RunResult]) -> dict[str, float]:
    """Length of every conduit by name over all pulls, m."""
    total: dict[str, float] = {}
    for result in results:
        path, conduits = result.path, result.run.route.conduits
        along = np.bincount(path.leg, weights=path.lengths, minlength=len(conduits))
        for conduit, length in zip(conduits, along.tolist(), strict=True):
            total[conduit.name] = total.get(conduit.name, 0.0) + length
    return total


def _bends(result: RunResult) -> int:
    return int(np.count_nonzero(result.path.kind == ARC))
