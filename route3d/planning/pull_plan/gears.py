"""Which gear to pull in, where to change, and how long it takes.

A gear holds while the load keeps below what of its rated pull reaches the rope, less a margin.
Gears are changed only at rest and where it is safe to stop (``stops``). After a change the load of
the first move counts, as it does at the feed and after every other stop. Between two heads
loads are taken as straight lines, and the places where they pass the limit of a gear are places to
change at too.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from route3d.geometry.vectors import Floats, distinct
from route3d.model.allowances import Allowances
from route3d.model.machine import Gear, Machine
from route3d.planning.pull_plan.head_history import HeadHistory
from route3d.planning.pull_plan.stops import PULL_POINT_REACH, SAFE_SHARE, FirstMoves

TRUE_GAUGE_SHARE, TRUE_GAUGE_TIME = 0.1, 600.0
"""So much of the time of a pull, or so many s where that is more, are given for an accurate gauge.

Own judgment, no source: without a gauge nobody sees a load before it has done its harm.
"""

# Loads that meet a limit up to rounding hold; times that differ by less are equal.
_ROUNDING = 1e-9
# Parts of an interval at whose middles speed is read: where it halves within one interval the time
# is then 0.3 % short.
_PARTS = 4


@dataclass(frozen=True, slots=True)
class GearSpan:
    """One stretch in one gear: cable lengths ``start`` to ``end`` m, peak load N, time s."""

    gear: Gear
    start: float
    end: float
    peak_load: float
    time: float


@dataclass(frozen=True, slots=True)
class GearChange:
    """Stop with ``pulled`` m of cable in, the head at ``station`` m, and change gear.

    ``restart_load`` N is that of the first move in the new gear.
    """

    pulled: float
    station: float
    from_gear: Gear
    to_gear: Gear
    restart_load: float


class Overload(NamedTuple):
    """Where the strongest gear no longer holds: ``station`` m of the head, ``pulled`` m of cable.

    ``limit`` N is what of its rated pull reaches the rope. ``load`` N is the load right there: the
    limit itself where the load rises past it, or with ``restart`` the load of a first move that
    the gear cannot make there. ``largest`` N is the largest load from there on, met with the head
    at ``largest_station`` m.
    """

    station: float
    load: float
    limit: float
    pulled: float
    restart: bool
    largest: float
    largest_station: float


@dataclass(frozen=True, slots=True)
class GearPlan:
    """``spans`` in pulling order with a change between each two; times in s.

    ``time`` is the pulling with its gear changes, without other stops; ``slow_time`` that of the
    same pull in the strongest gear alone. With an ``overload`` both reach only to where it is.
    ``margin_kept`` is false where a gear is used beyond its margin, or there is an overload.
    ``true_gauge`` is the time by which a plan in gears of an accurate gauge alone is longer than
    one in any gear: taken where it is small; None where any plan has an accurate gauge, or no plan.
    """

    spans: tuple[GearSpan, ...]
    changes: tuple[GearChange, ...]
    time: float
    slow_time: float
    overload: Overload | None
    margin_kept: bool
    true_gauge: float | None = None

    @property
    def blind(self) -> float:
        """Cable in (m) pulled in gears whose gauge is not accurate."""
        return sum(span.end - span.start for span in self.spans if not span.gear.gauge)

    def gear_at(self, pulled: float) -> Gear | None:
        """The gear from ``pulled`` m of cable in on; at the end of the plan the last."""
        for span in reversed(self.spans):
            if span.start - 1e-9 <= pulled <= span.end + 1e-9:
                return span.gear
        return None


def plan_gears(
    history: HeadHistory,
    machine: Machine,
    allowances: Allowances,
    stops: Sequence[float] = (),
    moves: FirstMoves | None = None,
) -> GearPlan:
    """The plan with the fewest gear changes whose time is within the tolerance of the least.

    ``stops`` (m of cable in) are other stops, such as those for lubricant. Gears are changed only
    where ``moves`` call it safe, into a gear of which the first move takes at most 90 %; where
    they are left out, anywhere, and a first move is the restart of the history. Of plans with
    equally many changes the fastest is taken, and of equally fast ones that which changes latest;
    so a faster gear is left at the last place where it holds. Then a change is moved to a safe pull
    point close by, where that holds too. Where the margin cannot be kept all the way, the strongest
    gear goes without it. Exact among changes at the heads, where loads pass the limits and at the
    ends of safe stretches: a dynamic program over place, gear and number of changes (R. Bellman,
    "Dynamic Programming", 1957; from memory). Gears whose gauge is not accurate are left out where
    that costs little time (``TRUE_GAUGE_TIME``) and no margin.
    """
    any_gear = _plan_gears(history, machine, allowances, stops, moves, tuple(machine.gears))
    if not any_gear.blind or any_gear.overload is not None:
        return any_gear
    true = tuple(gear for gear in machine.gears if gear.gauge)
    seen = _plan_gears(history, machine, allowances, stops, moves, true)
    through = bool(seen.spans) and seen.spans[-1].end >= float(history.pulled[-1]) - _ROUNDING
    if not through or any_gear.margin_kept > seen.margin_kept:
        return any_gear
    longer = seen.time - any_gear.time
    small = longer <= max(TRUE_GAUGE_SHARE * any_gear.time, TRUE_GAUGE_TIME)
    return replace(seen if small else any_gear, true_gauge=longer)


def _plan_gears(
    history: HeadHistory,
    machine: Machine,
    allowances: Allowances,
    stops: Sequence[float],
    moves: FirstMoves | None,
    allowed: tuple[Gear, ...],
) -> GearPlan:
    """The plan of ``plan_gears`` in some of the machine's gears."""
    gears = tuple(sorted(machine.gears, key=lambda g: (-g.line_pull, -g.speed)))
    used = np.array([gear in allowed for gear in gears])
    kept, spent = available_pulls(gears, machine.efficiency, allowances.gear_margin)
    change_time = allowances.gear_change_time
    road = _road(history, gears, machine.efficiency, kept, stops, moves, change_time, used)
    margin_kept = road.goes_through
    if not margin_kept:
        road = _road(history, gears, machine.efficiency, spent, stops, moves, change_time, used)
    overload = _overload(road, machine.available_pull)
    route = _fewest_changes(road, 1.0 + allowances.time_tolerance)
    route = _at_pull_points(road, route)
    changes = tuple(_changes(road, gears, route))
    spans = tuple(_spans(road, gears, route))
    return GearPlan(
        spans=spans,
        changes=changes,
        time=sum(s.time for s in spans) + len(changes) * allowances.gear_change_time,
        slow_time=float(road.unlimited[: road.reach, 0].sum()),
        overload=overload,
        margin_kept=margin_kept and overload is None,
    )


def available_pulls(
    gears: Sequence[Gear], efficiency: float, margin: float
) -> tuple[Floats, Floats]:
    """Pull of each gear, (g,) N: with its margin, and with that of the strongest gear given up.

    More is never needed: what any gear pulls and starts without its margin, the strongest does.
    """
    full = np.array([g.line_pull * efficiency for g in gears])
    kept = full * (1.0 - margin)
    return kept, np.where(full == full.max(), full, kept)


# --- the road: places, and what each gear can do between them ----------------------------------


@dataclass(frozen=True, eq=False)
class _Road:
    """Places (n,) and gears (g,), the strongest first.

    ``times`` (n - 1, g) s to the next place, infinite where the gear does not hold, and
    ``unlimited`` as if it did; ``starts`` (n, g) whether it can start from rest; ``stop`` (n,)
    whether the pull rests there anyway, and ``change`` (n,) whether it may for another gear;
    ``point`` (n,) whether the head stands at a pull point; ``reach`` the last place any plan comes
    to.
    """

    pulled: Floats
    station: Floats
    load: Floats
    restart: Floats
    times: Floats
    unlimited: Floats
    starts: NDArray[np.bool_]
    stop: NDArray[np.bool_]
    change: NDArray[np.bool_]
    point: NDArray[np.bool_]
    change_time: float
    reach: int = -1

    @property
    def goes_through(self) -> bool:
        return self.reach == len(self.pulled) - 1


def _road(
    history: HeadHistory,
    gears: tuple[Gear, ...],
    efficiency: float,
    available: Floats,
    stops: Sequence[float],
    moves: FirstMoves | None,
    change_time: float,
    used: NDArray[np.bool_],
) -> _Road:
    """The road for the gears that are ``used`` (g,); the others hold nowhere."""
    heads = np.arange(len(history.pulled), dtype=np.float64)
    inside = [s for s in stops if history.pulled[0] < s < history.pulled[-1]]
    stopped = np.interp(inside, history.pulled, heads)
    caps = _caps(gears, efficiency, available, moves)
    crossings = [_crossings(history.load, a) for a in available]
    if moves is None:
        crossings += [_crossings(history.restart, a) for a in available]
    else:
        crossings.append(np.interp(_bounds(moves, caps), history.pulled, heads))
    at = distinct(np.concatenate([heads, stopped, *crossings]))
    names = ("pulled", "station", "load", "restart")
    pulled, station, load, restart = (np.interp(at, heads, getattr(history, n)) for n in names)
    change = point = np.ones(len(at), dtype=bool)
    if moves is not None:
        restart = np.interp(pulled, moves.pulled, moves.load)
        change = moves.is_safe(pulled)
        point = (np.abs(pulled[:, None] - moves.pull_points) <= _ROUNDING).any(axis=1)
    limit = available * (1.0 + _ROUNDING)
    holds = (np.maximum(load[:-1], load[1:])[:, None] <= limit) & used
    unlimited = np.column_stack([_times(g, load, np.diff(pulled)) for g in gears])
    stop = np.isin(at, stopped)
    stop[0] = True
    starts = restart[:, None] <= caps * (1.0 + _ROUNDING)
    starts[0] = restart[0] <= limit
    starts &= used
    road = _Road(
        pulled=pulled,
        station=station,
        load=load,
        restart=restart,
        times=np.where(holds, unlimited, np.inf),
        unlimited=unlimited,
        starts=starts,
        stop=stop,
        change=change,
        point=point,
        change_time=change_time,
    )
    return _reaching(road)


def _caps(
    gears: tuple[Gear, ...], efficiency: float, available: Floats, moves: FirstMoves | None
) -> Floats:
    """What a first move on the way may take of each gear, (g,) N.

    The strongest has no cap of its own: it is one of the limits that make a place safe.
    """
    if moves is None:
        return available
    full = np.array([g.line_pull * efficiency for g in gears])
    return np.where(full == full.max(), available, np.minimum(available, SAFE_SHARE * full))


def _bounds(moves: FirstMoves, caps: Floats) -> Floats:
    """Cable in (m) where safe stretches end, at pull points, and where first moves pass a cap."""
    looks = np.arange(len(moves.pulled), dtype=np.float64)
    passed = np.concatenate([_crossings(moves.load, cap) for cap in caps])
    crossed = np.interp(passed, looks, moves.pulled)
    bounds: Floats = np.concatenate((moves.safe.ravel(), moves.pull_points, crossed))
    return bounds


def _crossings(values: Floats, level: float) -> Floats:
    """Where a line through ``values`` passes ``level``, as fractions of the way between two."""
    before, after = values[:-1] - level, values[1:] - level
    i = np.flatnonzero(before * after < 0)
    crossings: Floats = i + before[i] / (before[i] - after[i])
    return crossings


def _times(gear: Gear, load: Floats, lengths: Floats) -> Floats:
    """Time of each interval, s: the load goes straight from one end to the other."""
    if not gear.speeds:
        return lengths / gear.speed
    shares = (np.arange(_PARTS) + 0.5) / _PARTS
    loads = load[:-1, None] + np.diff(load)[:, None] * shares
    pace = np.array([[1.0 / gear.speed_at(x) for x in row] for row in loads.tolist()])
    times: Floats = lengths * pace.reshape(-1, _PARTS).mean(axis=1)
    return times


def _reaching(road: _Road) -> _Road:
    """The road with its ``reach``; it ends there for every plan."""
    arrivals = _arrivals(road, None)
    reach = int(np.flatnonzero(np.isfinite(arrivals).any(axis=1))[-1])
    return replace(road, reach=reach)


def _overload(road: _Road, limit: float) -> Overload | None:
    """What stops the strongest gear where the road ends, if it ends too early."""
    i, most = road.reach, limit * (1.0 + _ROUNDING)
    running = bool(road.load[i : i + 2].max() > most)
    if not running and not (road.restart[i] > most and (i == 0 or not road.goes_through)):
        return None
    worst = i + int(road.load[i:].argmax())
    return Overload(
        station=float(road.station[i]),
        load=float(road.load[i] if running else road.restart[i]),
        limit=limit,
        pulled=float(road.pulled[i]),
        restart=not running,
        largest=float(road.load[worst]),
        largest_station=float(road.station[worst]),
    )


# --- the program -------------------------------------------------------------------------------


def _arrivals(road: _Road, fewer: Floats | None) -> Floats:
    """Least time to each place in each gear, before anything is done there, (n, g) s.

    At most one change more than ``fewer``, a table of arrivals, took; any number if that is None.
    A table of infinities allows none.
    """
    count, gears = road.starts.shape
    change, table = road.change_time, [[0.0] * gears]
    places = zip(
        road.starts.tolist(),
        road.stop.tolist(),
        road.change.tolist(),
        road.times.tolist(),
        [None] * count if fewer is None else fewer.tolist(),
        strict=False,
    )
    # In plain floats: a machine has few gears.
    for i, (starts, stop, may_change, times, changed) in enumerate(places):
        here = table[-1]
        leave = (
            here if not stop else [t if s else math.inf for t, s in zip(here, starts, strict=True)]
        )
        if i and may_change:
            entered = _entered(changed or here, change)
            leave = [min(t, e) if s else t for t, e, s in zip(leave, entered, starts, strict=True)]
        table.append([t + x for t, x in zip(leave, times, strict=True)])
    return np.array(table)


def _entered(times: list[float], change: float) -> list[float]:
    """Least time in each gear after a change from another, by the times in each before it."""
    if len(times) == 1:
        return [math.inf]
    first, second = sorted(times)[:2]
    return [change + (second if t == first else first) for t in times]


def _fewest_changes(road: _Road, tolerance: float) -> NDArray[np.int64]:
    """Gear of every interval up to the reach, by the plan that is chosen."""
    least = float(_arrivals(road, None)[road.reach].min())
    none = np.full(road.starts.shape, np.inf)
    tables = [_arrivals(road, none)]
    while tables[-1][road.reach].min() > least * tolerance * (1.0 + _ROUNDING):
        tables.append(_arrivals(road, tables[-1]))
    return _followed_back(road, tables)


def _followed_back(road: _Road, tables: list[Floats]) -> NDArray[np.int64]:
    """The gears that gave the last of ``tables`` its least time at the reach, later changes first.

    ``tables`` hold the arrivals with at most 0, 1, 2 ... changes.
    """
    # s from one gear to another; infinite from a gear to itself
    others = np.where(np.eye(road.starts.shape[1], dtype=bool), np.inf, road.change_time)
    k, gear = len(tables) - 1, int(tables[-1][road.reach].argmin())
    gears = np.empty(road.reach, dtype=np.int64)
    for i in range(road.reach - 1, -1, -1):
        gears[i] = gear
        if k == 0 or i == 0 or not (road.starts[i, gear] and road.change[i]):
            continue
        entered = tables[k - 1][i] + others[:, gear]
        if entered.min() <= tables[k][i, gear] * (1.0 + _ROUNDING):
            k, gear = k - 1, int(entered.argmin())
    return gears


def _at_pull_points(road: _Road, route: NDArray[np.int64]) -> NDArray[np.int64]:
    """The same gears, each change moved to the nearest pull point close by where it can be."""
    route = route.copy()
    for i in (np.flatnonzero(np.diff(route)) + 1).tolist():
        away = np.abs(road.pulled[: len(route)] - road.pulled[i])
        near = np.flatnonzero(road.point[: len(route)] & (away <= PULL_POINT_REACH))
        for j in near[np.argsort(away[near], kind="stable")].tolist():
            moved = route.copy()
            moved[j:i], moved[i:j] = route[i], route[i - 1]
            if np.count_nonzero(np.diff(moved)) == np.count_nonzero(
                np.diff(route)
            ) and _can_be_pulled(road, moved):
                route = moved
                break
    return route


def _can_be_pulled(road: _Road, route: NDArray[np.int64]) -> bool:
    """Whether every gear holds, starts after each stop, and is changed where it may be."""
    i = np.arange(len(route))
    changed = np.concatenate(([False], np.diff(route) != 0))
    rests = changed | road.stop[: len(route)]
    starts = road.starts[i, route] | ~rests
    allowed = road.change[: len(route)] | ~changed
    return bool((np.isfinite(road.times[i, route]) & starts & allowed).all())


def _changes(
    road: _Road, gears: tuple[Gear, ...], route: NDArray[np.int64]
) -> Iterator[GearChange]:
    for i in (np.flatnonzero(np.diff(route)) + 1).tolist():
        yield GearChange(
            pulled=float(road.pulled[i]),
            station=float(road.station[i]),
            from_gear=gears[route[i - 1]],
            to_gear=gears[route[i]],
            restart_load=float(road.restart[i]),
        )


def _spans(road: _Road, gears: tuple[Gear, ...], route: NDArray[np.int64]) -> Iterator[GearSpan]:
    if not len(route):
        return
    bounds = [0, *(np.flatnonzero(np.diff(route)) + 1).tolist(), len(route)]
    for a, b in pairwise(bounds):
        yield GearSpan(
            gear=gears[route[a]],
            start=float(road.pulled[a]),
            end=float(road.pulled[b]),
            peak_load=float(road.load[a : b + 1].max()),
            time=float(road.times[a:b, route[a]].sum()),
        )
