"""What to do where the pull stops by accident: which gear to start again in, or not to start."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from route3d.checks.limits import Rated
from route3d.mechanics.pull import Peaks, Pull
from route3d.model.allowances import Allowances
from route3d.model.machine import Gear, Machine
from route3d.planning.pull_plan.gears import GearPlan, available_pulls
from route3d.planning.pull_plan.stops import FirstMoves

_ROUNDING = 1e-9
# Places this close (m) are one.
_SAME = 1e-6


@dataclass(frozen=True, slots=True)
class AccidentalStop:
    """If the pull stops with ``start`` to ``end`` m of cable in: restart in ``gear``, or do not.

    ``gear`` is the planned one where its available pull covers the first move from anywhere in the
    stretch, else the weakest stronger one that does; None where the pull must not be started
    again. ``first_move`` N is the largest load on the machine over the first 3 m. ``share`` is the
    largest share of a limit that this movement takes, and ``limit`` which limit ("conductor",
    "grip", "sidewall", "rope", "machine" or "line fitting").
    """

    start: float
    end: float
    gear: Gear | None
    first_move: float
    limit: str
    share: float


def accidental_stops(
    pull: Pull,
    machine: Machine,
    allowances: Allowances,
    moves: FirstMoves,
    plan: GearPlan,
    places: Sequence[float],
    line_rating: float = math.inf,
) -> tuple[AccidentalStop, ...]:
    """What to do after a stop nobody planned, for the stretches between ``places`` (m of cable in).

    Neighbors with the same answer are one. A gear is used to its planned margin, the strongest to
    all it brings to the rope. The pull is not started again where the first move, at the
    friction of a restart, exceeds any limit; ``line_rating`` N is the machine load at which the
    weakest fitting of the line is at its rating. Common practice, no source.
    """
    ends = [*(x for x, y in pairwise(sorted(places)) if y - x > _SAME), max(places)]
    found = _stretches(pull, machine, allowances, moves, plan, ends, line_rating)
    return tuple(_merged(found))


def _stretches(
    pull: Pull,
    machine: Machine,
    allowances: Allowances,
    moves: FirstMoves,
    plan: GearPlan,
    ends: Sequence[float],
    line_rating: float,
) -> Iterator[AccidentalStop]:
    rated = Rated.of(pull.run, pull.practice)
    gears = sorted(machine.gears, key=lambda g: (g.line_pull, -g.speed))
    available = available_pulls(gears, machine.efficiency, allowances.gear_margin)[1]
    for start, end in pairwise(ends):
        load, tension, sidewall = (
            moves.most(start, end, y) for y in (moves.load, moves.tension, moves.sidewall)
        )
        use = rated.utilization(Peaks(tension, sidewall, load, tension))
        line = load / line_rating if line_rating > 0 else math.inf
        limit, share = max(
            (use.governing, use.peak), ("line fitting", line), key=lambda named: named[1]
        )
        planned = plan.gear_at(start)
        weakest = 0 if planned is None else gears.index(planned)
        strong = np.flatnonzero(load <= available[weakest:] * (1.0 + _ROUNDING))
        go = share <= 1.0 + _ROUNDING and bool(strong.size)
        gear = gears[weakest + int(strong[0])] if go else None
        yield AccidentalStop(start, end, gear, load, limit, share)


def _merged(stretches: Iterator[AccidentalStop]) -> list[AccidentalStop]:
    found: list[AccidentalStop] = []
    for one in stretches:
        if not found or found[-1].gear != one.gear:
            found.append(one)
            continue
        last = found[-1]
        worse = one if one.share > last.share else last
        most = max(last.first_move, one.first_move)
        found[-1] = replace(worse, start=last.start, end=one.end, first_move=most)
    return found
