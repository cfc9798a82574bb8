"""Every pull between two pull points of a run, in both directions, solved together.

The cable's tension does not know how far ahead the machine stands: all pulls that feed at one point
with one reel tension are one march along the route, read off at each pull point. What a rope brings
to the machine is read off the same march, for of all places the head has stood in the tightest rope
stays the tightest. Marches go side by side, and one that breaks a limit of the cable goes no
further: a longer pull with the same feed breaks it too.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, replace
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from route3d.checks.limits import NO_BRAKE, Rated, Utilisation, turn_stops
from route3d.geometry.path import CORNER, Path
from route3d.geometry.route_path import route_path
from route3d.geometry.vectors import Floats
from route3d.mechanics.course import Course, course
from route3d.mechanics.feed import feed_factor, reel_drag
from route3d.mechanics.fit import Fit
from route3d.mechanics.lead_off import lead_off_factor
from route3d.mechanics.pull import Peaks, run_fits, sidewall_share
from route3d.mechanics.tension import carry, integrate
from route3d.model.practice import Practice
from route3d.model.rope import Rope
from route3d.model.run import Run

# Rounding of converted units is no breach, as in the checks.
_ROUNDING = 1e-9

Key = tuple[int, int, bool]
"""Numbers of the points (not vertices) where a stage feeds and pulls; True if fed off the reel."""


@dataclass(frozen=True, slots=True)
class SectionPull:
    """One pull from vertex ``feed`` to vertex ``pull``, solved.

    ``brake`` N is the smallest tension at the feed that keeps the cable taut, ``reel_tension`` N
    the one worked with, 0 where the cable is fed from figure eights. ``load`` N is the largest on
    the machine, or without a rope the tension of the head at the end. ``starts`` is false where
    the first movement, with all of the rope in the conduit, is more than rope or machine may do,
    and ``turns`` where it goes straight through a pull point that turns and may not.
    """

    feed: int
    pull: int
    brake: float
    reel_tension: float
    peak_tension: float
    peak_sidewall: float
    load: float
    utilisation: Utilisation
    starts: bool
    turns: bool = False

    @property
    def taut(self) -> bool:
        """False where the cable overruns: the feed does not hold it back enough."""
        return self.brake <= self.reel_tension + NO_BRAKE

    @property
    def allowed(self) -> bool:
        """True where the pull starts, exceeds no limit and the cable does not overrun."""
        within = self.utilisation.peak <= 1 + _ROUNDING
        return self.starts and self.taut and within and not self.turns


@dataclass(frozen=True, eq=False)
class Sections:
    """All pulls between the ``points`` of a run that access allows, as far as they can matter.

    ``points`` are the vertex numbers of both ends and of the pull points between, ``stations``
    theirs, m. ``pulls`` leaves out pulls that go on beyond one which breaks a limit of the cable,
    and pulls from figure eights which need a brake. ``practice`` is what they are worked by.
    """

    points: tuple[int, ...]
    stations: tuple[float, ...]
    pulls: Mapping[Key, SectionPull]
    practice: Practice


def section_pulls(
    run: Run, practice: Practice, *, path: Path | None = None, fits: tuple[Fit, ...] | None = None
) -> Sections:
    """Solve every pull between two points of a run, as ``solve_pull`` would each by itself.

    ``path`` and ``fits`` may be handed in where they are known already. Raises as ``solve_pull``.
    """
    path = route_path(run.route) if path is None else path
    fits = run_fits(run) if fits is None else fits
    points = (0, *run.route.pull_points, len(run.route.vertices) - 1)
    pulls: dict[Key, SectionPull] = {}
    stations: tuple[float, ...] = ()
    for reverse in (False, True):
        way = course(run, practice, path, fits, reverse)
        share = sidewall_share(run, practice, fits, way.walked)
        cut = _cut(way, share, points)
        pulls.update(_direction(run, practice, cut, points))
        if not reverse:
            lengths = [s.path.length for s in cut.stretches]
            stations = tuple(np.concatenate(([0.0], np.cumsum(lengths))).tolist())
    return Sections(points, stations, pulls, practice)


# --- the route in pulling order, cut at its points -----------------------------------------------


class _Stretch(NamedTuple):
    """The conduit from one point to the next in pulling order, or the corner a point makes.

    ``path`` is cut where the pull is looked at; ``firsts`` and ``lasts`` are the joints of its
    whole bends and straights, and ``bends`` those pieces of it. ``on_sheave`` is true for a corner
    whose sheave guides the cable.
    """

    path: Path
    friction: Floats
    weight_factor: Floats
    share: Floats
    firsts: NDArray[np.int64]
    lasts: NDArray[np.int64]
    bends: tuple[Path, ...]
    on_sheave: bool

    def whole(self) -> _Stretch:
        """The same without looks inside bends and straights."""
        at, path = self.firsts, self.path
        merged = {f.name: getattr(path, f.name)[at] for f in fields(Path)}
        for name in ("lengths", "angles"):
            merged[name] = np.add.reduceat(getattr(path, name), at)
        return self._replace(
            path=Path(**merged), friction=self.friction[at], weight_factor=self.weight_factor[at]
        )


class _Cut(NamedTuple):
    """A course cut at its points; ``corners`` by the place of their point in pulling order."""

    course: Course
    stretches: list[_Stretch]
    corners: dict[int, _Stretch]

    def turn(self, point: int) -> float:
        """Turn (rad) of the corner at a point."""
        return float(self.corners[point].path.angles[0])

    def tension(self, part: _Stretch, start: Floats, *, back: bool = False) -> Floats:
        """Tension of every line at the joints of a stretch, (n + 1, lines) N.

        ``back`` walks it backwards with friction -μ, as ``tension.brake`` does.
        """
        mu, weight, method = part.friction, self.course.weight, self.course.method
        law = (weight, -mu if back else mu, part.weight_factor)
        return integrate(part.path, *law, start, back, method, per_segment=True)[1]


def _cut(way: Course, share: Floats, points: tuple[int, ...]) -> _Cut:
    walked, last = way.walked, len(points) - 1
    section = np.searchsorted(points, walked.leg, side="right") - 1
    turn = -1 if way.reverse else 1
    mu, omega = way.friction[::turn], way.weight_factor[::turn]
    on_sheave = way.on_sheave[::turn]

    def one(index: NDArray[np.int64]) -> _Stretch:
        a, b = int(index[0]), int(index[-1]) + 1
        part = _slice(walked, a, b)
        joints = _joints(part)
        bends = tuple(_slice(part, i, j) for i, j in pairwise(joints.tolist()))
        guided = bool(on_sheave[a:b].any())
        law = (part, mu[a:b], omega[a:b], share[a:b])
        return _Stretch(*law, joints[:-1], joints[1:], bends, guided)

    corner = walked.kind == CORNER
    order = range(last)[::turn]
    stretches = [one(np.flatnonzero((section == k) & ~corner)) for k in order]
    corners = {}
    for i in np.flatnonzero(corner):
        k = points.index(int(walked.vertex[i]))
        corners[last - k if way.reverse else k] = one(np.array([i]))
    return _Cut(way, stretches, corners)


def _slice(path: Path, first: int, last: int) -> Path:
    return Path(**{f.name: getattr(path, f.name)[first:last] for f in fields(Path)})


def _joints(path: Path) -> NDArray[np.int64]:
    """Joints between whole bends and straights of a path cut into looks, both ends included."""
    other = (np.diff(path.vertex) != 0) | (np.diff(path.leg) != 0)
    return np.concatenate(([0], np.flatnonzero(other) + 1, [len(path)]))


# --- one direction -------------------------------------------------------------------------------


class _Lines(NamedTuple):
    """Marches side by side: each from point ``start`` with ``tension`` N, needed up to ``last``.

    Points are counted in pulling order here.
    """

    start: NDArray[np.int64]
    last: NDArray[np.int64]
    tension: Floats


class _Peaks(NamedTuple):
    """Largest tension N, sidewall pressure N/m and machine load N of each line at each point.

    ``start`` N is the load of the first movement. NaN where a line was not followed. ``corner`` N
    is the tension of the cable leaving the turn of a point.
    """

    tension: Floats
    sidewall: Floats
    load: Floats
    start: Floats
    corner: Floats


def _direction(
    run: Run, practice: Practice, cut: _Cut, points: tuple[int, ...]
) -> Iterator[tuple[Key, SectionPull]]:
    order = points[::-1] if cut.course.reverse else points
    brakes = _brakes(cut)
    wanted = dict(_wanted(run, order, brakes))
    if not wanted:
        return
    lines, row = _lines(wanted)
    # Equipment may differ by end: what the machine's end has is looked up once for each.
    at_end = [run.pulled(order[0], v) for v in order]
    rated = [Rated.of(equipped, practice) for equipped in at_end]
    rested = run.rope and replace(run.rope, friction=run.rope.friction * practice.restart)
    lead_off = [_lead_off(equipped, run.rope) for equipped in at_end]
    from_rest = [_lead_off(equipped, rested) for equipped in at_end]
    peaks = _march(run.rope, rested, cut, lines, max(rated, key=lambda r: r.grip))
    last = len(points) - 1
    for (i, j, reel), feed in wanted.items():
        line = row[i, feed]
        tension, pressure, load, start = (float(values[line, j]) for values in peaks[:4])
        if np.isnan(tension):
            continue
        load *= lead_off[j]
        machine = None if run.rope is None else load
        turns = any(
            turn_stops(run, order[k], cut.turn(k), float(peaks.corner[line, k]), load)
            for k in cut.corners
            if i < k < j
        )
        key = (last - i, last - j, reel) if cut.course.reverse else (i, j, reel)
        yield (
            key,
            SectionPull(
                feed=order[i],
                pull=order[j],
                brake=float(brakes[i, j]),
                reel_tension=feed / _feed_factor(run, order[i]) if reel else feed,
                peak_tension=tension,
                peak_sidewall=pressure,
                load=load,
                utilisation=rated[j].utilisation(Peaks(tension, pressure, machine, load)),
                starts=_tackle_holds(rated[j], start * from_rest[j]),
                turns=turns,
            ),
        )


def _lead_off(equipped: Run, rope: Rope | None) -> float:
    return 1.0 if rope is None else lead_off_factor(equipped.lead_off, rope.friction)


def _brakes(cut: _Cut) -> Floats:
    """Smallest tension at feed i that keeps the cable taut up to the machine at j, [i, j] N.

    Walked backwards from zero at each machine. Most walks run into no tension at all somewhere,
    and are one and the same from there on.
    """
    count = len(cut.stretches)
    brakes = np.zeros((count + 1, count + 1))
    t = np.zeros(0)
    for i in range(count - 1, -1, -1):
        if i + 1 in cut.corners and t.size:
            t = cut.tension(cut.corners[i + 1], t, back=True)[-1]
        different, which = np.unique(np.concatenate(([0.0], t)), return_inverse=True)
        t = cut.tension(cut.stretches[i].whole(), different, back=True)[-1][which]
        brakes[i, i + 1 :] = t
    return brakes


def _wanted(run: Run, order: tuple[int, ...], brakes: Floats) -> Iterator[tuple[Key, float]]:
    """Tension entering the conduit for every pull that access allows, by points in pulling order.

    Off the reel that is its tension with the friction of the feed guide. Nobody holds cable back
    that is fed from figure eights: a pull that needs it is left out.
    """
    access = [run.route.vertices[v].access for v in order]
    for i, feed in enumerate(access):
        for j in range(i + 1, len(order)):
            if "reel" not in feed or "machine" not in access[j]:
                continue
            brake = float(brakes[i, j])
            reel = run.reel_tension
            if reel is None:
                reel = max(brake, reel_drag(run.pulled(order[i], order[j])))
            yield (i, j, True), reel * _feed_factor(run, order[i])
            if brake <= NO_BRAKE:
                yield (i, j, False), 0.0


def _feed_factor(run: Run, feed: int) -> float:
    """What the feed guide at a vertex makes of the reel's tension."""
    return feed_factor(run.pulled(feed, feed))


def _lines(wanted: Mapping[Key, float]) -> tuple[_Lines, dict[tuple[int, float], int]]:
    """One line for each feed and tension, as far as any pull needs it; its row by both."""
    last: dict[tuple[int, float], int] = {}
    for (i, j, _), tension in wanted.items():
        last[i, tension] = max(j, last.get((i, tension), 0))
    starts, tensions = zip(*last, strict=True)
    lines = _Lines(np.array(starts), np.array(list(last.values())), np.array(tensions, dtype=float))
    return lines, {key: row for row, key in enumerate(last)}


def _march(
    rope: Rope | None, rested: Rope | None, cut: _Cut, lines: _Lines, rated: Rated
) -> _Peaks:
    """``rested`` is the rope with the friction of a first movement."""
    shape = (len(lines.start), len(cut.stretches) + 1)
    found = _Peaks(*(np.full(shape, np.nan) for _ in _Peaks._fields))
    at = lines.tension.copy()  # of the cable head
    load = at.copy()  # what the machine would feel at this point at most
    start = at.copy()  # what it would feel with the head still at the feed
    peak, pressure = at.copy(), np.zeros_like(at)
    alive = np.ones(len(at), dtype=bool)
    for point, stretch in enumerate(cut.stretches):
        on = np.flatnonzero(alive & (lines.start < point) & (lines.last > point))
        if point in cut.corners and on.size:
            corner = cut.corners[point]
            tension = cut.tension(corner, at[on])
            at[on], load[on] = tension[-1], _carried(rope, corner, tension, load[on])
            start[on] = _led(rested, corner, start[on])
            found.corner[on, point] = at[on]
            peak[on] = np.maximum(peak[on], at[on])
            pressure[on] = np.maximum(pressure[on], tension[-1] * corner.share[0])
        on = np.flatnonzero(alive & (lines.start <= point) & (lines.last > point))
        if not on.size:
            continue
        tension = cut.tension(stretch, at[on])
        at[on] = tension[-1]
        load[on] = _carried(rope, stretch, tension, load[on])
        start[on] = _led(rested, stretch, start[on])
        worst = np.maximum(tension[:-1], tension[1:]) * stretch.share[:, None]
        peak[on] = np.maximum(peak[on], tension.max(axis=0))
        pressure[on] = np.maximum(pressure[on], worst.max(axis=0))
        for values, now in zip(found[:4], (peak, pressure, load, start), strict=True):
            values[on, point + 1] = now[on]
        alive[on] = _cable_holds(rated, peak[on], pressure[on])
    return found


def _rope_friction(rope: Rope, stretch: _Stretch) -> float | Floats:
    """Friction of the rope along a stretch; on a guiding sheave it stands for its efficiency."""
    return float(stretch.friction[0]) if stretch.on_sheave else rope.friction


def _carried(rope: Rope | None, stretch: _Stretch, tension: Floats, load: Floats) -> Floats:
    """Largest rope tension at the end of a stretch, with the head anywhere up to it.

    ``load`` (lines,) N is that at its start and ``tension`` (n + 1, lines) N the cable's; without a
    rope the load is the tension of the head.
    """
    if rope is None:
        return np.asarray(tension[-1])
    lines, friction = len(load), _rope_friction(rope, stretch)
    for first, last, bend in zip(stretch.firsts, stretch.lasts, stretch.bends, strict=True):
        heads = np.concatenate((load[None], tension[first + 1 : last]))
        nodes = np.repeat(np.arange(last - first), lines)
        left = carry(bend, rope.weight, friction, heads.ravel(), nodes)
        load = np.maximum(left.reshape(-1, lines).max(axis=0), tension[last])
    return load


def _led(rope: Rope | None, stretch: _Stretch, start: Floats) -> Floats:
    """Rope tension at the end of a stretch that it runs all through, from that at its start."""
    if rope is None:
        return start
    nodes = np.zeros(len(start), dtype=np.int64)
    friction = _rope_friction(rope, stretch)
    return carry(stretch.whole().path, rope.weight, friction, start, nodes)


def _cable_holds(rated: Rated, tension: Floats, pressure: Floats) -> NDArray[np.bool_]:
    """Whether a line may go on: these two only grow with the length of the pull."""
    most = min(rated.conductor, rated.grip) * (1 + _ROUNDING)
    return (tension <= most) & (pressure <= rated.sidewall * (1 + _ROUNDING))


def _tackle_holds(rated: Rated, load: float) -> bool:
    """Whether rope and machine may do so much, N."""
    limits = [x for x in (rated.rope, rated.machine) if x is not None]
    return load <= min(limits, default=math.inf) * (1 + _ROUNDING)
