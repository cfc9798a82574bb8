"""The plan of gears against every assignment of gears there is, on short pulls."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from route3d.model import Allowances, Gear, Machine
from route3d.planning.pull_plan.gears import plan_gears
from route3d.planning.pull_plan.head_history import HeadHistory
from route3d.planning.pull_plan.stops import SAFE_SHARE, FirstMoves

MEETS = 1 + 1e-9  # a load meets a limit up to rounding

gears = st.builds(Gear, st.integers(2, 12).map(float), st.sampled_from([0.1, 0.2, 0.3, 0.6, 1.0]))
loads = st.integers(0, 11).map(float)


@st.composite
def pulls(draw: st.DrawFn) -> tuple[HeadHistory, tuple[float, ...]]:
    steps = draw(st.lists(st.integers(1, 40), min_size=1, max_size=4))
    pulled = np.concatenate(([0.0], np.cumsum(steps))).astype(float)
    load = np.array(draw(st.lists(loads, min_size=len(pulled), max_size=len(pulled))))
    if draw(st.booleans()):  # most pulls: the load only grows
        load = np.sort(load)
    restart = load * draw(st.sampled_from([1.0, 1.1, 1.3, 1.6]))
    length = int(pulled[-1])
    stops = draw(st.lists(st.integers(0, length), max_size=2))
    zero = np.zeros_like(pulled)
    return HeadHistory(pulled, pulled, load, restart, zero, zero, zero, zero), tuple(
        map(float, stops)
    )


def safe_where(history: HeadHistory, shares: list[float]) -> FirstMoves:
    """First movements as the history has them, safe wherever the line of shares is at most 1."""
    at = history.pulled.tolist()
    stretches = []
    for (a, b), (y, z) in zip(pairwise(at), pairwise(shares), strict=True):
        cut = a + (b - a) * (1.0 - y) / (z - y) if min(y, z) < 1.0 < max(y, z) else None
        low = a if y <= 1.0 else cut
        high = b if z <= 1.0 else cut
        if low is None or high is None:  # above 1, or a single place of it
            low = high = b if z <= 1.0 else a if y <= 1.0 else None
        if low is not None:
            stretches.append((low, high))
    zero = np.zeros(len(at))
    safe = np.array(stretches, dtype=float).reshape(-1, 2)
    return FirstMoves(
        history.pulled, history.restart, zero, zero, np.array(shares), safe, safe, np.empty(0)
    )


def places(
    history: HeadHistory,
    stops: tuple[float, ...],
    limits: list[float],
    caps: list[float],
    shares: list[float],
) -> list[float]:
    """Heads, stops, and where running or restart load passes a limit, or a share of one 1."""
    found = {*history.pulled.tolist(), *stops}
    watched = ((history.load, limits), (history.restart, caps), (np.array(shares), [1.0]))
    for values, levels in watched:
        steps = zip(pairwise(history.pulled.tolist()), pairwise(values.tolist()), strict=True)
        for (a, b), (y, z) in steps:
            found |= {a + (b - a) * (x - y) / (z - y) for x in levels if min(y, z) < x < max(y, z)}
    close = sorted(found)
    return [close[0], *(b for a, b in pairwise(close) if b - a > 1e-9)]


def assignments(
    history: HeadHistory,
    machine: Machine,
    available: list[float],
    stops: tuple[float, ...],
    change_time: float,
    shares: list[float],
) -> Iterator[tuple[int, float]]:
    """Number of changes and time of every way to give each interval a gear that works.

    No change where ``shares``, of a limit in a first move, is above 1. On the way a gear starts
    with at most 90 % of its pull, the strongest with what it has.
    """
    full = [gear.line_pull * machine.efficiency for gear in machine.gears]
    caps = [
        x if y == max(full) else min(x, SAFE_SHARE * y)
        for x, y in zip(available, full, strict=True)
    ]
    at = places(history, stops, available, caps, shares)
    share = np.interp(at, history.pulled, shares).tolist()
    load = np.interp(at, history.pulled, history.load).tolist()
    restart = np.interp(at, history.pulled, history.restart).tolist()

    def onward(i: int, before: int, changes: int, time: float) -> Iterator[tuple[int, float]]:
        if i == len(at) - 1:
            yield changes, time
            return
        for g, gear in enumerate(machine.gears):
            rested = g != before or at[i] in stops
            if rested and restart[i] > (caps if i else available)[g] * MEETS:
                continue
            if max(load[i : i + 2]) > available[g] * MEETS:
                continue
            changed = i > 0 and g != before
            if changed and share[i] > MEETS:
                continue
            more = (at[i + 1] - at[i]) / gear.speed + change_time * changed
            yield from onward(i + 1, g, changes + changed, time + more)

    return onward(0, -1, 0, 0.0)


@settings(max_examples=250, deadline=None)
@given(
    pulls(),
    st.lists(gears, min_size=1, max_size=3),
    st.sampled_from([0.0, 0.1, 0.25]),
    st.sampled_from([0.0, 0.05, 0.1, 0.5]),
    st.sampled_from([0.0, 5.0, 60.0, 400.0]),
    st.sampled_from([1.0, 0.85]),
    st.lists(st.sampled_from([0.2, 0.9, 1.0, 1.1, 1.7]), min_size=5, max_size=5),
)
def test_no_assignment_beats_the_plan(
    pull: tuple[HeadHistory, tuple[float, ...]],
    chosen: list[Gear],
    margin: float,
    tolerance: float,
    change_time: float,
    efficiency: float,
    drawn: list[float],
) -> None:
    history, stops = pull
    machine = Machine("m", tuple(chosen), efficiency=efficiency)
    allowances = Allowances(margin, tolerance, gear_change_time=change_time)
    shares = drawn[: len(history.pulled)]
    found = plan_gears(history, machine, allowances, stops, safe_where(history, shares))
    full = [g.line_pull * efficiency for g in chosen]
    kept = [x * (1 - margin) for x in full]
    relieved = [x if x == max(full) else y for x, y in zip(full, kept, strict=True)]
    for available in (kept, relieved):
        every = set(assignments(history, machine, available, stops, change_time, shares))
        if every:
            break
    else:
        assert found.overload is not None
        assert not set(assignments(history, machine, full, stops, change_time, shares))
        return
    assert found.overload is None
    assert found.margin_kept == (available is kept)
    allowed = min(time for _, time in every) * (1 + tolerance) * MEETS
    fewest = min(changes for changes, time in every if time <= allowed)
    least = min(time for changes, time in every if changes == fewest)
    assert len(found.changes) == fewest
    assert found.time == pytest.approx(least, rel=1e-9)
    assert_it_works(found, history, available, machine, stops)
    for change in found.changes:
        assert np.interp(change.pulled, history.pulled, shares) <= 1 + 1e-8


def assert_it_works(found, history, available, machine, stops) -> None:  # type: ignore[no-untyped-def]
    """The spans follow each other, and every gear holds and starts where it has to."""
    limits = dict(zip(machine.gears, available, strict=True))
    for gear, limit in zip(machine.gears, available, strict=True):
        limits[gear] = max(limits[gear], limit)
    assert found.spans[0].start == 0.0
    assert found.spans[-1].end == history.pulled[-1]
    for before, after in pairwise(found.spans):
        assert before.end == after.start
    for span in found.spans:
        inside = (history.pulled >= span.start) & (history.pulled <= span.end)
        peak = max(
            [
                *history.load[inside],
                *np.interp([span.start, span.end], history.pulled, history.load),
            ]
        )
        assert span.peak_load == pytest.approx(peak)
        assert peak <= limits[span.gear] * (1 + 1e-8)
        rests = [span.start, *(s for s in stops if span.start < s < span.end)]
        for rest in rests:
            assert np.interp(rest, history.pulled, history.restart) <= limits[span.gear] * (
                1 + 1e-8
            )
