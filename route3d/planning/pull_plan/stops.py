"""Where a pull may stop and start again: safe places, and the stops planned for lubricant.

A first move meets friction at rest, and needs some way before the cable runs. So a stop is
planned only where all of that way stays below every limit and in a straight conduit.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from route3d.checks.limits import NO_BRAKE, Rated
from route3d.geometry.fillet import pull_stations
from route3d.geometry.path import ARC, CORNER, Path
from route3d.geometry.vectors import Floats, distinct, frozen
from route3d.mechanics.pull import Pull
from route3d.model.allowances import Allowances
from route3d.model.run import Run
from route3d.planning.pull_plan.head_history import HeadHistory

FIRST_MOVE = 3.0
"""A first move meets friction at rest over so much cable, m (common practice, no source)."""
SAFE_SHARE = 0.9
"""Share of every limit that a planned first move may take (common practice, no source)."""
MOST_STOPS = 20
"""More stops for lubricant than this are questioned (common practice, no source)."""
PULL_POINT_REACH = 15.0
"""A stop is moved so far to stand at a pull point, m (common practice, no source)."""

# First moves are examined every so often, m, beside the joints of the pull: between two looks
# they are taken as straight lines, which lie above what they stand for on a straight.
_LOOK = 1.0
# A duct that turns by less at a pull point is straight for the head, rad.
_NO_TURN = np.radians(1.0)
_SAME = 1e-9
# A stop this close (m) before the end is none: the cable is in.
_AT_THE_END = 0.01


@dataclass(frozen=True, eq=False)
class FirstMoves:
    """The first move at rest friction over 3 m, with the head at each of m places; all (m,).

    ``pulled`` m of cable in. ``load`` N is the largest on the machine over those 3 m, ``tension`` N
    and ``sidewall`` N/m the largest in the cable, and ``share`` the largest share of any limit,
    that of the strongest gear included. ``clear`` (k, 2) m are the stretches where the head stands
    outside bends and not within its own length and 3 m before one; ``safe`` (k, 2) m those parts of
    them where no share exceeds 90 %; ``pull_points`` (k,) m.
    """

    pulled: Floats
    load: Floats
    tension: Floats
    sidewall: Floats
    share: Floats
    clear: Floats
    safe: Floats
    pull_points: Floats

    def at(self, place: float, values: Floats) -> float:
        """One of the values with ``place`` m of cable in."""
        return float(np.interp(place, self.pulled, values))

    def load_at(self, place: float) -> float:
        """The largest load on the machine at a first move with ``place`` m of cable in, N."""
        return self.at(place, self.load)

    def is_safe(self, places: Floats) -> NDArray[np.bool_]:
        """Whether the pull may stop with so much cable in, (n,)."""
        at = np.asarray(places, dtype=np.float64)[..., None]
        inside = (at >= self.safe[:, 0] - _SAME) & (at <= self.safe[:, 1] + _SAME)
        return np.asarray(inside.any(axis=-1))

    def last_safe(self, after: float, until: float) -> float | None:
        """The last safe place beyond ``after`` and up to ``until`` m of cable; None without one.

        A safe pull point up to 15 m before that place is preferred.
        """
        ends = [min(float(b), until) for a, b in self.safe if a <= until]
        place = max(ends, default=after)
        if place <= after:
            return None
        near = [float(x) for x in self.pull_points[self.is_safe(self.pull_points)]]
        points = [x for x in near if max(after, place - PULL_POINT_REACH) < x <= place]
        return max(points, default=place)

    def most(self, start: float, end: float, values: Floats) -> float:
        """The largest of some values with the head anywhere from ``start`` to ``end`` m."""
        inside = (self.pulled >= start) & (self.pulled <= end)
        ends = (self.at(start, values), self.at(end, values))
        return max(float(values[inside].max(initial=0.0)), *ends)

    def least(self, start: float, end: float, values: Floats) -> float:
        """The smallest of them."""
        inside = (self.pulled >= start) & (self.pulled <= end)
        ends = (self.at(start, values), self.at(end, values))
        return min(float(values[inside].min(initial=math.inf)), *ends)


def first_moves(pull: Pull, course: HeadHistory) -> FirstMoves:
    """First moves from rest with the head anywhere, and where the pull may be stopped.

    All friction is multiplied by that of the practice at a restart, the reel held as planned.
    """
    clear = clear_stretches(pull.run, pull.path, pull.reverse)
    at = _looks(course.pulled, clear)
    whole = len(course.pulled) == len(pull.course.stations)
    load, tension, sidewall = (
        _most_over(course.pulled, values, at, whole)
        for values in (course.restart, course.restart_tension, course.restart_sidewall)
    )
    rated = Rated.of(pull.run, pull.practice)
    shares = [tension / rated.conductor, tension / rated.grip, sidewall / rated.sidewall]
    shares += [load / x for x in (rated.rope, rated.machine) if x is not None]
    share: Floats = np.max(shares, axis=0)
    points = pull_stations(pull.run.route, pull.path)
    return FirstMoves(
        pulled=frozen(at),
        load=frozen(load),
        tension=frozen(tension),
        sidewall=frozen(sidewall),
        share=frozen(share),
        clear=frozen(clear),
        safe=frozen(_below(at, share, clear)),
        pull_points=frozen(np.sort(np.abs(np.array(points) - pull.course.stations[0]))),
    )


def clear_stretches(run: Run, path: Path, reverse: bool) -> Floats:
    """Cable in (m), (k, 2), with the head outside bends and not close before one.

    Close is within the length of the head and the 3 m of a first move. A pull point that turns
    counts as a bend without length.
    """
    reach = run.head_length + FIRST_MOVE
    turns = (path.kind == ARC) | ((path.kind == CORNER) & (path.angles > _NO_TURN))
    ends = np.column_stack((path.stations[:-1], path.stations[1:]))[turns]
    bends = np.sort(np.abs(ends - (path.length if reverse else 0.0)), axis=1)
    found, start = [], 0.0
    for a, b in bends[np.argsort(bends[:, 0], kind="stable")].tolist():
        if a - reach >= start:
            found.append((start, a - reach))
        start = b
    found.append((start, path.length))
    return np.array(found)


def _looks(joints: Floats, clear: Floats) -> Floats:
    even = np.arange(0.0, joints[-1], _LOOK)
    at = np.concatenate((joints, joints - FIRST_MOVE, even, clear.ravel()))
    looks: Floats = distinct(np.clip(at, 0.0, joints[-1]))
    return looks


def _most_over(joints: Floats, values: Floats, at: Floats, whole: bool) -> Floats:
    """The largest of ``values`` at ``joints`` (n,) over 3 m from each place, (m,).

    Not ``whole`` where joints were left out, those of a route of very many bends: then from the
    joint before to the one behind.
    """
    end = np.minimum(at + FIRST_MOVE, joints[-1])
    low, high = at, end
    if not whole:
        low = joints[np.maximum(np.searchsorted(joints, at, side="right") - 1, 0)]
        high = joints[np.minimum(np.searchsorted(joints, end), len(joints) - 1)]
    first = np.searchsorted(joints, low)
    last = np.searchsorted(joints, high, side="right")
    most: Floats = np.maximum(np.interp(at, joints, values), np.interp(end, joints, values))
    inside = np.flatnonzero(last > first)
    if inside.size:
        # Of pairs of first and last, what is reduced from a last to the next first is of no use.
        pairs = np.column_stack((first[inside], last[inside])).ravel()
        largest = np.maximum.reduceat(np.append(values, -np.inf), pairs)[::2]
        most[inside] = np.maximum(most[inside], largest)
    return most


def _below(at: Floats, share: Floats, stretches: Floats) -> Floats:
    """The parts of ``stretches`` where ``share`` at the places ``at`` is at most 90 %, (k, 2)."""
    found: list[tuple[float, float]] = []
    for a, b in stretches.tolist():
        inside = np.flatnonzero((at >= a - _SAME) & (at <= b + _SAME))
        s, y = at[inside], share[inside] - SAFE_SHARE
        good = y <= _SAME
        edges = np.flatnonzero(np.diff(np.concatenate(([0], good.astype(int), [0]))))
        for i, j in edges.reshape(-1, 2).tolist():
            start, end = s[i], s[j - 1]
            if i > 0:
                start += (s[i - 1] - s[i]) * y[i] / (y[i] - y[i - 1]) if y[i] < 0 else 0.0
            if j < len(s):
                end += (s[j] - s[j - 1]) * y[j - 1] / (y[j - 1] - y[j]) if y[j - 1] < 0 else 0.0
            found.append((float(start), float(end)))
    parts: Floats = np.array(found, dtype=np.float64).reshape(-1, 2)
    return parts


# --- stops for lubricant -------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class PlannedStop:
    """A stop with ``pulled`` m of cable in; ``wanted`` m is where the interval would put it.

    ``restart`` N is the machine's largest load over the first 3 m of the first move, and
    ``tension`` N the cable's.
    """

    pulled: float
    wanted: float
    restart: float
    tension: float


@dataclass(frozen=True, slots=True)
class PlannedStops:
    """The ``stops`` in order, and the wanted places (m) that are ``left_out``.

    They are left out where there is no safe place between the stop before and them.
    """

    stops: tuple[PlannedStop, ...] = ()
    left_out: tuple[float, ...] = ()

    @property
    def places(self) -> tuple[float, ...]:
        """Cable in the conduit at each stop, m."""
        return tuple(stop.pulled for stop in self.stops)


def lubricant_places(length: float, allowances: Allowances) -> tuple[float, ...]:
    """Cable lengths in the conduit (m) at which the pull stops for lubricant.

    One interval after another, none at the feed or the end; empty where no interval is given.
    Common practice, no source.
    """
    interval = allowances.lubricant_interval
    if interval is None:
        return ()
    count = math.ceil((length - _AT_THE_END) / interval) - 1
    return tuple(interval * i for i in range(1, count + 1))


def planned_stops(length: float, allowances: Allowances, moves: FirstMoves) -> PlannedStops:
    """Every stop the lubricant asks for, each at the last safe place up to there.

    Common practice, no source.
    """
    stops: list[PlannedStop] = []
    left_out: list[float] = []
    before = 0.0
    for wanted in lubricant_places(length, allowances):
        place = moves.last_safe(before, wanted)
        if place is None:
            left_out.append(wanted)
            continue
        loads = (moves.at(place, y) for y in (moves.load, moves.tension))
        stops.append(PlannedStop(place, wanted, *loads))
        before = place
    return PlannedStops(tuple(stops), tuple(left_out))


def fewest_stops(run: Run, path: Path, reverse: bool, light: float, allowances: Allowances) -> int:
    """No plan has fewer stops for lubricant, whose first moves are safe up to ``light`` m.

    Each stop wanted finds a place where there is a safe one since the stop wanted before it.
    """
    wanted = np.array(lubricant_places(path.length, allowances))
    clear = clear_stretches(run, path, reverse)
    clear = np.column_stack((clear[:, 0], np.minimum(clear[:, 1], light - FIRST_MOVE)))
    clear = clear[clear[:, 0] <= clear[:, 1]]
    before = np.concatenate(([0.0], wanted))[:-1, None]
    place = np.minimum(clear[:, 1], wanted[:, None])  # the last safe place of each stretch
    return int(((place > before) & (place >= clear[:, 0])).any(axis=1).sum())


# --- what hangs at rest --------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Hanging:
    """Cable that would slide with the head at rest at ``pulled`` m of cable, ``station`` m.

    ``feed`` N is what must be held at the reels so that it does not run on, ``head`` N at its head
    so that it does not run back; 0 where friction at its low value holds it. What is held counts no
    friction, as for a riser: at rest nothing says which way friction helps.
    """

    pulled: float
    station: float
    feed: float
    head: float


def hanging_at(pull: Pull, places: Sequence[float]) -> Iterator[Hanging]:
    """The stops of ``places`` (m of cable in) at which cable hangs steeper than friction holds."""
    course, run = pull.course, pull.run
    slippery = course.with_friction(run, lambda c: c.lowest_friction, sheaves=False)
    slick = course.with_friction(run, lambda _: 0.0, sheaves=False)
    for place in places:
        station = float(abs(course.stations[0] - place))
        slides, hangs = slippery.behind(station), slick.behind(station)
        if slides is None or hangs is None:
            continue
        feed, head = (
            float(held.needed[0]) if moves.needed[0] > NO_BRAKE else 0.0
            for moves, held in ((slides, hangs), (slides.turned, hangs.turned))
        )
        if feed or head:
            yield Hanging(place, station, feed, head)
