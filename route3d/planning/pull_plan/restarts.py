"""What to do where the pull stops by accident: which gear to start again in, or not to start."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from route3d.checks.limits import Rated
from route3d.geometry.vectors import Floats, distinct
from route3d.mechanics.pull import Peaks, Pull
from route3d.mechanics.rope_scenarios import head_track
from route3d.model.allowances import Allowances
from route3d.model.machine import Gear, Machine
from route3d.planning.pull_plan.gears import GearPlan, available_pulls
from route3d.planning.pull_plan.stop_reading import stop_readings
from route3d.planning.pull_plan.stops import FIRST_MOVE, FirstMoves

_ROUNDING = 1e-9
# Places this close (m) are one.
_SAME = 1e-6


# Places at which Stop is read besides those asked for: so far apart (m), and no more than so many.
_LOOK, _MOST_LOOKS = 3.0, 100
_PARTS = 2


@dataclass(frozen=True, eq=False)
class FirstMoveStops:
    """The most that a first move may read with the head at each of m places, N; both (m,).

    ``stop`` is the lower of the Stop of a moving cable and that of a first move: Stop always
    applies. ``pulled`` m of cable in, rising.
    """

    pulled: Floats
    stop: Floats

    @classmethod
    def at(
        cls,
        pull: Pull,
        places: Sequence[float] | Floats,
        *,
        head_rating: float = math.inf,
        line_rating: float = math.inf,
    ) -> FirstMoveStops:
        """With so many m of cable in, and over the first 3 m from each; the run has a rope."""
        length = pull.path.length
        ways = np.linspace(0.0, FIRST_MOVE, _PARTS + 1)
        at = np.asarray(places, dtype=np.float64)[:, None] + ways
        pulled = distinct(np.clip(at.ravel(), 0.0, length))
        return cls._read(pull, pulled, head_rating, line_rating)

    @classmethod
    def everywhere(
        cls,
        pull: Pull,
        places: Sequence[float] | Floats,
        *,
        head_rating: float = math.inf,
        line_rating: float = math.inf,
    ) -> FirstMoveStops:
        """At ``places`` (m of cable in), 3 m behind each, and evenly between."""
        length, asked = pull.path.length, np.asarray(places, dtype=np.float64)
        even = np.arange(0.0, length, max(_LOOK, length / _MOST_LOOKS))
        at = np.concatenate((asked, asked + FIRST_MOVE, even, [length]))
        return cls._read(pull, distinct(np.clip(at, 0.0, length)), head_rating, line_rating)

    @classmethod
    def _read(cls, pull: Pull, pulled: Floats, head: float, line: float) -> FirstMoveStops:
        stations = pull.path.length - pulled if pull.reverse else pulled
        found = stop_readings(head_track(pull, stations), head_rating=head, line_rating=line)
        stop = [min(each.moving.reading, each.first_move.reading) for each in found]
        return cls(pulled, np.array(stop))

    def least(self, start: float, end: float) -> float:
        """The lowest over the first 3 m from anywhere between ``start`` and ``end``, N."""
        first = int(np.searchsorted(self.pulled, start + _SAME, side="right")) - 1
        last = int(np.searchsorted(self.pulled, end + FIRST_MOVE - _SAME, side="left"))
        return float(self.stop[max(first, 0) : last + 1].min())


@dataclass(frozen=True, slots=True)
class AccidentalStop:
    """If the pull stops with ``start`` to ``end`` m of cable in: restart in ``gear``, or do not.

    ``gear`` is the planned one where its available pull covers the first move from anywhere in the
    stretch, else the weakest stronger one that does; None where the pull must not be started
    again. The first move is expected to load the machine with ``least`` to ``first_move`` N over
    its first 3 m, by the place in the stretch. ``most`` N is the most that it may read from
    anywhere in it: Stop, the limiter, what the gear pulls. ``share`` is the largest share of a
    limit that this movement takes, and ``limit`` which limit ("conductor", "grip", "sidewall",
    "rope", "machine", "line fitting", "stop" or "limiter").
    """

    start: float
    end: float
    gear: Gear | None
    least: float
    first_move: float
    most: float
    limit: str
    share: float


def accidental_stops(
    pull: Pull,
    machine: Machine,
    allowances: Allowances,
    moves: FirstMoves,
    plan: GearPlan,
    places: Sequence[float] | Floats,
    line_rating: float = math.inf,
    stops: FirstMoveStops | None = None,
    limiter: float = math.inf,
) -> tuple[AccidentalStop, ...]:
    """What to do after a stop nobody planned, for the stretches between ``places`` (m of cable in).

    Neighbors with the same answer are one, as long as what is expected anywhere in them may be
    read everywhere in them. A gear is used to its planned margin, the strongest to all it brings
    to the rope. The pull is not started again where the first move, at the friction of a restart,
    exceeds any limit, reads above a Stop of ``stops`` or above ``limiter`` N, the one setting of
    the machine's limiter; ``line_rating`` N is the machine load at which the weakest fitting of the
    line is at its rating. Common practice, no source.
    """
    ends = [*(x for x, y in pairwise(sorted(places)) if y - x > _SAME), max(places)]
    found = _stretches(pull, machine, allowances, moves, plan, ends, line_rating, stops, limiter)
    return tuple(_merged(found))


def restartable(safe: Floats, accidents: Sequence[AccidentalStop]) -> Floats:
    """The parts of the ``safe`` stretches (k, 2) m in which the pull may be started again, too."""
    found: list[tuple[float, float]] = []
    for a, b in safe.tolist():
        for one in accidents:
            start, end = max(a, one.start), min(b, one.end)
            if one.gear is None or end < start:
                continue
            if found and start - found[-1][1] <= _SAME and found[-1][1] >= a:
                start = found.pop()[0]
            found.append((start, end))
    parts: Floats = np.array(found, dtype=np.float64).reshape(-1, 2)
    return parts


def _stretches(
    pull: Pull,
    machine: Machine,
    allowances: Allowances,
    moves: FirstMoves,
    plan: GearPlan,
    ends: Sequence[float],
    line_rating: float,
    stops: FirstMoveStops | None,
    limiter: float,
) -> Iterator[AccidentalStop]:
    rated = Rated.of(pull.run, pull.practice)
    gears = sorted(machine.gears, key=lambda g: (g.line_pull, -g.speed))
    available = available_pulls(gears, machine.efficiency, allowances.gear_margin)[1]
    for start, end in pairwise(ends):
        load, tension, sidewall = (
            moves.most(start, end, y) for y in (moves.load, moves.tension, moves.sidewall)
        )
        use = rated.utilization(Peaks(tension, sidewall, load, tension))
        stop = math.inf if stops is None else stops.least(start, end)
        limit, share = max(
            (use.governing, use.peak),
            ("line fitting", _share(load, line_rating)),
            ("stop", _share(load, stop)),
            ("limiter", _share(load, limiter)),
            key=lambda named: named[1],
        )
        planned = plan.gear_at(start)
        weakest = 0 if planned is None else gears.index(planned)
        strong = np.flatnonzero(load <= available[weakest:] * (1.0 + _ROUNDING))
        go = share <= 1.0 + _ROUNDING and bool(strong.size)
        gear = gears[weakest + int(strong[0])] if go else None
        stalls = math.inf if gear is None else gear.line_pull * machine.efficiency
        least = moves.least(start, end, moves.load)
        most = max(load, min(stop, limiter, line_rating, stalls)) if go else 0.0
        yield AccidentalStop(start, end, gear, least, load, most, limit, share)


def _share(load: float, limit: float) -> float:
    return load / limit if limit > 0 else math.inf


def _merged(stretches: Iterator[AccidentalStop]) -> list[AccidentalStop]:
    found: list[AccidentalStop] = []
    for one in stretches:
        if not found or not _alike(found[-1], one):
            found.append(one)
            continue
        last = found[-1]
        worse = one if one.share > last.share else last
        found[-1] = replace(
            worse,
            start=last.start,
            end=one.end,
            least=min(last.least, one.least),
            first_move=max(last.first_move, one.first_move),
            most=min(last.most, one.most),
        )
    return found


def _alike(one: AccidentalStop, other: AccidentalStop) -> bool:
    """Whether one answer is true of both: the largest expected is nowhere more than allowed."""
    if one.gear != other.gear:
        return False
    expected = max(one.first_move, other.first_move)
    return one.gear is None or expected <= min(one.most, other.most) * (1.0 + _ROUNDING)
