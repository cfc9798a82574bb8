"""Rows in the order in which they were taken, and a counter that does not fit: whole logs only."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from itertools import groupby, pairwise

import numpy as np

from route3d.field.log.decisions import Decisions
from route3d.field.log.rows import LogRow
from route3d.geometry.vectors import Floats

# So many rows together may be slips of a pen; more are of the counter, or of the cable.
_SLIPS = 2
# A counter trembles by less, m.
_TREMBLE = 0.15


def in_order(rows: Sequence[LogRow], decisions: Decisions) -> tuple[list[LogRow], bool]:
    """The rows by their times, where the clock is sound; and whether they now are.

    It is sound where cable in rises better by time than as the rows stand; where no cable in is
    written, where times do not overlap after sorting. Else the clock was set, and rows stay.
    """
    times = np.array([row.time for row in rows])
    timed = np.flatnonzero(~np.isnan(times))
    back = int((np.diff(times[timed]) < -1e-6).sum())
    if not back:
        return list(rows), True
    order = timed[np.argsort(times[timed], kind="stable")]
    places = np.array([row.pulled for row in rows])
    if np.isnan(places).all():
        sound = _regular(times[timed], times[order])
    else:
        sound = _falls(places[order]) < _falls(places[timed])
    if not sound:
        return list(rows), False
    result = list(rows)
    moved = [rows[i].line for i, j in zip(timed.tolist(), order.tolist(), strict=True) if i != j]
    for slot, i in zip(timed.tolist(), order.tolist(), strict=True):
        result[slot] = rows[i]
    said = "Rows were out of order. They were put in order of their times; the clock is sound."
    decisions.note("put in order", said, min(moved), max(moved), len(moved))
    return result, True


def _falls(places: Floats) -> float:
    """By how much cable in falls from row to row in all, m."""
    steps = np.diff(places[~np.isnan(places)])
    return float(-steps[steps < 0].sum())


def _regular(as_written: Floats, by_time: Floats) -> bool:
    """Whether no two rows come much closer than they did as written."""
    steps = np.diff(as_written)
    usual = float(np.median(steps[steps > 0])) if (steps > 0).any() else 0.0
    gaps = np.diff(by_time)
    return bool(usual > 0 and (gaps[gaps > 1e-6] > 0.5 * usual).mean() > 0.95)


def counts_down(rows: Sequence[LogRow]) -> float | None:
    """The first figure of a counter that counts down through the whole log, m; else None."""
    places = np.array([row.pulled for row in rows if row.pulled == row.pulled])
    if len(places) < 3:
        return None
    steps = np.diff(places)
    falls, rises = int((steps < 0).sum()), int((steps > 0).sum())
    whole = places[0] - places[-1] > 0.5 * (places.max() - places.min())
    return float(places[0]) if falls > 4 * rises and whole else None


def out_of_line(rows: Sequence[LogRow], down: float | None) -> set[int]:
    """Lines of rows whose cable in lies off the longest rising row of them, few together.

    The rows that are left are the most that rise together (the patience method of C. Schensted,
    Canad. J. Math. 13, 1961, from memory).
    """
    sign = 1.0 if down is None else -1.0
    known = [(row.line, sign * row.pulled) for row in rows if row.pulled == row.pulled]
    places = [place for _, place in known]
    if all(b >= a - _TREMBLE for a, b in pairwise(places)):
        return set()
    tails: list[float] = []
    ends: list[int] = []
    before: list[int] = []
    for i, place in enumerate(places):
        # a fall within the trembling of the counter is none
        k = bisect_right(tails, place + _TREMBLE)
        before.append(ends[k - 1] if k else -1)
        if k == len(tails):
            tails.append(place)
            ends.append(i)
        elif place < tails[k]:
            tails[k], ends[k] = place, i
    kept: set[int] = set()
    i = ends[-1] if ends else -1
    while i >= 0:
        kept.add(i)
        i = before[i]
    lines: set[int] = set()
    for odd, group in groupby(range(len(known)), key=lambda i: i not in kept):
        here = list(group)
        if odd and len(here) <= _SLIPS:
            lines.update(known[i][0] for i in here)
    return lines
