"""The gauge table as a dial shows it: every reading at a mark, Stop never above the true Stop."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from route3d.planning.pull_plan.acceptance import Acceptance, AcceptanceStage
from route3d.planning.pull_plan.gauge import GaugeRow
from route3d.planning.pull_plan.restarts import AccidentalStop
from route3d.quantities import QUANTITIES
from route3d.units import convert

# A reading this close to a mark, in marks, is on it.
_ON_A_MARK = 1e-9
NO_WARNING = "no warning"
"""Rule of a row whose Caution is the same mark as Stop."""
TOO_COARSE = "too coarse"
"""Rule of a row whose expected reading is above the last mark below Stop."""


@dataclass(frozen=True, slots=True)
class DialRow:
    """One row of the gauge table at the marks of the dial, N.

    ``expected`` and ``caution`` are at the nearest mark, and no higher than ``stop``; ``stop`` is
    at the last mark not above the true Stop, infinite where the gauge can show no limit.
    ``first_move`` is expected, at the nearest mark that is not above what it must stay below; None
    where no start is planned.
    ``rule`` is "" or what applies where the marks are too far apart: ``NO_WARNING`` or
    ``TOO_COARSE``.
    """

    row: GaugeRow
    expected: float
    caution: float
    stop: float
    first_move: float | None
    rule: str


def dial_rows(
    rows: Sequence[GaugeRow], step: float, kept: Sequence[GaugeRow] | None = None
) -> tuple[DialRow, ...]:
    """The ``kept`` rows, or all, at marks ``step`` N apart.

    Between two rows the lower of their cautions and stops holds: where a row that is not kept has
    a lower one, the row before it takes that, but no caution below what it expects itself.
    """
    return tuple(_at_marks(*lowered, step) for lowered in _lowered(rows, kept or rows))


def _lowered(
    rows: Sequence[GaugeRow], kept: Sequence[GaugeRow]
) -> Iterator[tuple[GaugeRow, float, float]]:
    """The kept rows with their caution and stop."""
    for row, after in zip(kept, [*kept[1:], None], strict=True):
        end = math.inf if after is None else after.pulled
        omitted = [r for r in rows if row.pulled < r.pulled < end]
        ends = [row] if after is None else [row, after]
        lowest = min((r.stop for r in omitted), default=math.inf)
        stop = lowest if lowest < min(r.stop for r in ends) else row.stop
        lowest = min((r.caution for r in omitted), default=math.inf)
        caution = (
            max(lowest, row.expected) if lowest < min(r.caution for r in ends) else row.caution
        )
        yield row, caution, stop


def _at_marks(row: GaugeRow, lowest_caution: float, stop: float, step: float) -> DialRow:
    last = mark_below(stop, step)
    expected, caution = mark_nearest(row.expected, step), mark_nearest(lowest_caution, step)
    rule = ""
    if row.expected > last:
        rule = TOO_COARSE
    elif caution >= last:
        rule = NO_WARNING
    first = row.first_move
    most = math.inf if row.first_stop is None else mark_below(row.first_stop, step)
    if first is not None:
        first = first_move_mark(first, most, step)
    return DialRow(row, min(expected, last), min(caution, last), last, first, rule)


def mark_nearest(load: float, step: float) -> float:
    """The mark nearest to a load, N; of two as near the higher.

    >>> mark_nearest(474.0, 50.0), mark_nearest(475.0, 50.0)
    (450.0, 500.0)
    """
    return math.floor(load / step + 0.5) * step


def mark_below(load: float, step: float) -> float:
    """The last mark not above a load, N; infinite for an infinite load.

    >>> mark_below(3594.0, 50.0), mark_below(3600.0, 50.0)
    (3550.0, 3600.0)
    """
    return load if math.isinf(load) else math.floor(load / step + _ON_A_MARK) * step


def first_move_mark(load: float, most: float, step: float) -> float:
    """What a first move is expected to read: the nearest mark not above the most it may read.

    >>> first_move_mark(656.0, 3000.0, 50.0), first_move_mark(1681.0, 1690.0, 50.0)
    (650.0, 1650.0)
    """
    return min(mark_nearest(load, step), mark_below(most, step))


def restart_marks(stop: AccidentalStop, step: float) -> tuple[float, float, float]:
    """After an unplanned stop: what a first move is expected to read, from and to, and the most."""
    most = mark_below(stop.most, step)
    least, first = (first_move_mark(load, most, step) for load in (stop.least, stop.first_move))
    return least, first, most


def start_marks(checks: Acceptance, stage: AcceptanceStage, step: float) -> tuple[float, float]:
    """What the first move of a stage is expected to read, and the most that it may read."""
    most = mark_below(checks.first_most(stage)[0], step)
    return first_move_mark(stage.first_move, most, step), most


def limiter_mark(load: float, system: str) -> float:
    """A load rounded down to what a person can set: to a half of its second digit, N.

    As it is where no system shows it, and where nothing is left of it.
    """
    number = convert(load, "force", system)
    if not (math.isfinite(number) and number > 0):
        return load
    finest = 10.0 ** -QUANTITIES["force"].decimals[system]
    step = max(10.0 ** (math.floor(math.log10(number)) - 1) / 2, finest)
    return load * (math.floor(number / step * (1 + 1e-9) + _ON_A_MARK) * step) / number
