"""The gauge table as a dial shows it: every reading at a mark, Stop never above the true Stop."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from route3d.planning.pull_plan.gauge import GaugeRow

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
    ``first_move`` is at the next mark, or at the one below where the next is above its own stop;
    None where no start is planned. ``rule`` is "" or what applies where the marks are too far
    apart: ``NO_WARNING`` or ``TOO_COARSE``.
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

    Between two rows the lower of their stops holds: where a row that is not kept has a lower one,
    the row before it takes that.
    """
    return tuple(_at_marks(row, stop, step) for row, stop in _with_stops(rows, kept or rows))


def _with_stops(
    rows: Sequence[GaugeRow], kept: Sequence[GaugeRow]
) -> Iterator[tuple[GaugeRow, float]]:
    for row, after in zip(kept, [*kept[1:], None], strict=True):
        end = math.inf if after is None else after.pulled
        omitted = [r.stop for r in rows if row.pulled < r.pulled < end]
        held = math.inf if after is None else after.stop
        lowest = min(omitted, default=math.inf)
        yield row, lowest if lowest < min(row.stop, held) else row.stop


def _at_marks(row: GaugeRow, stop: float, step: float) -> DialRow:
    last = mark_below(stop, step)
    expected, caution = mark_nearest(row.expected, step), mark_nearest(row.caution, step)
    rule = ""
    if row.expected > last:
        rule = TOO_COARSE
    elif caution >= last:
        rule = NO_WARNING
    first = row.first_move
    if first is not None:
        first = first_move_mark(first, math.inf if row.first_stop is None else row.first_stop, step)
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


def first_move_mark(load: float, stop: float, step: float) -> float:
    """What a first move may read up to: the next mark, or the one below where that passes its stop.

    >>> first_move_mark(1669.0, 3000.0, 50.0), first_move_mark(1669.0, 1690.0, 50.0)
    (1700.0, 1650.0)
    """
    above = math.ceil(load / step - _ON_A_MARK) * step
    return above if above <= stop else mark_below(load, step)
