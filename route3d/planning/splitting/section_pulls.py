"""Every pull between two pull points of a run, in both directions, solved together.

The cable's tension does not know how far ahead the machine stands: all pulls that feed at one point
with one reel tension are one march along the route, read off at each pull point. What a rope brings
to the machine is read off the same march, for of all places the head has stood in the tightest rope
stays the tightest. Marches go side by side, and one that exceeds a limit of the cable goes no
further: a longer pull with the same feed exceeds it too. The reels are held as the crew is told to
(``planning.margins.as_ordered``), so that a stage is judged by the pull that is planned for it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from route3d.checks.limits import NO_BRAKE, Rated, Utilization, turn_stops
from route3d.geometry.fillet import route_path
from route3d.geometry.path import CORNER, Path
from route3d.geometry.vectors import Floats
from route3d.mechanics.feed import feed_factor, reel_drag
from route3d.mechanics.fit import Fit
from route3d.mechanics.friction_path import FrictionPath, course
from route3d.mechanics.lead_off import lead_off_factor
from route3d.mechanics.pull import Peaks, run_fits, sidewall_share
from route3d.mechanics.rope import head_nodes
from route3d.mechanics.tension import (
    MarchSegment,
    Whole,
    pieces_of,
    through_part,
    through_piece,
    whole_path,
    wholes_of,
)
from route3d.model.practice import Practice
from route3d.model.rope import Rope
from route3d.model.run import Run
from route3d.planning.pull_plan.stops import SAFE_SHARE

# Rounding of converted units is no breach, as in the checks.
_ROUNDING = 1e-9
# So many looks at a bend, 45 degrees, are worked out from where the first begins: from further away
# a cable of low tension takes several steps to each.
_TOGETHER = 6

Key = tuple[int, int, bool]
"""Numbers of the points (not vertices) where a stage feeds and pulls; True if fed off the reel."""


@dataclass(frozen=True, slots=True)
class SectionPull:
    """One pull from vertex ``feed`` to vertex ``pull``, solved.

    ``brake`` N is the smallest tension at the feed that keeps the cable taut with friction as
    given; ``taut`` is false where the file gives less: the cable overruns. ``reel_tension`` N is
    the one worked with, as ordered; 0 where the cable is fed from figure eights. ``load`` N is the
    largest on the machine, or without a rope the tension of the head at the end. ``starts`` is
    false where the first move, with all of the rope in the conduit, is more than rope or
    machine may do, and ``turns`` where it goes straight through a pull point that turns and may
    not. ``light`` is the cable in, m, up to which first moves from rest take at most 90 % of
    every limit, and ``rested`` the largest share of a limit that one takes with the conduit full;
    None where that was not asked.
    """

    feed: int
    pull: int
    brake: float
    reel_tension: float
    peak_tension: float
    peak_sidewall: float
    load: float
    utilization: Utilization
    taut: bool
    starts: bool
    turns: bool = False
    light: float | None = None
    rested: float | None = None

    def allowed(self, aim: float = 1.0) -> bool:
        """Whether the pull starts, takes at most that share of each limit, and does not overrun."""
        within = self.utilization.peak <= aim * (1 + _ROUNDING)
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
    run: Run,
    practice: Practice,
    *,
    path: Path | None = None,
    fits: tuple[Fit, ...] | None = None,
    from_rest: bool = False,
    eights: bool = True,
    beyond: bool = False,
) -> Sections:
    """Solve every pull between two points of a run, as ``solve_pull`` would each by itself.

    ``path`` and ``fits`` may be handed in where they are known already. ``from_rest`` solves the
    first moves with the head anywhere too. Without ``eights`` cable is fed off the reel only.
    ``beyond`` follows pulls that exceed a limit of the cable to their end too.
    Raises as ``solve_pull``.
    """
    path = route_path(run.route) if path is None else path
    fits = run_fits(run) if fits is None else fits
    points = (0, *run.route.pull_points, len(run.route.vertices) - 1)
    pulls: dict[Key, SectionPull] = {}
    stations: tuple[float, ...] = ()
    for reverse in (False, True):
        way = course(run, practice, path, fits, reverse)
        share = sidewall_share(run, practice, fits, way.walked)
        cut = _cut(run, way, share, points)
        pulls.update(_direction(run, practice, cut, points, from_rest, eights, beyond))
        if not reverse:
            stations = tuple(np.cumsum([0.0, *(s.length for s in cut.stretches)]).tolist())
    return Sections(points, stations, pulls, practice)


# --- the route in pulling order, cut at its points -----------------------------------------------


class _SectionPart(NamedTuple):
    """The conduit from one point to the next in pulling order, or the corner a point makes.

    ``looks`` (n,) m are the lengths of the pieces between two looks at the pull, and ``share`` (n,)
    the sidewall pressure per newton of each. ``wholes`` (m) are whole bends and straights in
    pulling order, with the effective ``friction`` of each. ``back`` are the same from its end to
    its start; ``back_friction`` (m, 2) is that of each as given, and with the friction of every
    conduit at its low end. ``on_sheave`` is true for a corner whose sheave guides the cable: its
    friction stands for the sheave's efficiency.
    """

    length: float
    turn: float
    looks: Floats
    share: Floats
    wholes: list[Whole]
    friction: list[float]
    back: list[MarchSegment]
    back_friction: Floats
    on_sheave: bool


class _Cut(NamedTuple):
    """A course cut at its points; ``corners`` by the place of their point in pulling order.

    ``still`` says that no cable runs away by itself, even with friction at its low end.
    """

    course: FrictionPath
    still: bool
    stretches: list[_SectionPart]
    corners: dict[int, _SectionPart]


def _cut(run: Run, way: FrictionPath, share: Floats, points: tuple[int, ...]) -> _Cut:
    walked, last = way.walked, len(points) - 1
    section = np.searchsorted(points, walked.leg, side="right") - 1
    slippery = way.with_friction(run, lambda c: c.lowest_friction, sheaves=False)
    turn = -1 if way.reverse else 1
    given, low = (w.friction[::turn] * w.weight_factor[::turn] for w in (way, slippery))
    on_sheave = way.on_sheave[::turn]
    still = way.lies_still and slippery.lies_still
    whole, firsts = whole_path(walked)
    wholes = wholes_of(walked)
    back = [] if still else pieces_of(whole.reversed())[::-1]
    back_friction = np.column_stack((given, low))[firsts]

    def one(index: NDArray[np.int64]) -> _SectionPart:
        a, b = int(index[0]), int(index[-1]) + 1
        # No whole bend or straight reaches past a point.
        of_whole = slice(*np.searchsorted(firsts, (a, b)).tolist())
        return _SectionPart(
            length=float(walked.lengths[a:b].sum()),
            turn=float(walked.angles[a:b].sum()),
            looks=walked.lengths[a:b],
            share=share[a:b],
            wholes=wholes[of_whole],
            friction=given[firsts[of_whole]].tolist(),
            back=back[of_whole][::-1],
            back_friction=back_friction[of_whole][::-1],
            on_sheave=bool(on_sheave[a:b].any()),
        )

    corner = walked.kind == CORNER
    order = range(last)[::turn]
    stretches = [one(np.flatnonzero((section == k) & ~corner)) for k in order]
    corners = {}
    for i in np.flatnonzero(corner):
        k = points.index(int(walked.vertex[i]))
        corners[last - k if way.reverse else k] = one(np.array([i]))
    return _Cut(way, still, stretches, corners)


# --- one direction -------------------------------------------------------------------------------


class _Lines(NamedTuple):
    """Marches side by side: each from point ``start`` with ``tension`` N, needed up to ``last``.

    Points are counted in pulling order here.
    """

    start: NDArray[np.int64]
    last: NDArray[np.int64]
    tension: Floats


class _SectionPeaks(NamedTuple):
    """What each line has come to at each point, (lines, points); NaN where it was not followed.

    Largest ``tension`` N, ``sidewall`` pressure N/m and machine ``load`` N of the cable moving;
    the load of the first move, ``start`` N; tension of the cable leaving the turn of a point,
    ``corner`` N. With friction at rest the same three, and the tension of the head, ``rest_head``
    N; NaN where that is not asked.
    """

    tension: Floats
    sidewall: Floats
    load: Floats
    start: Floats
    corner: Floats
    rest_tension: Floats
    rest_sidewall: Floats
    rest_load: Floats
    rest_head: Floats


class _Along(NamedTuple):
    """Largest ``tension`` N and ``sidewall`` pressure N/m so far with friction at rest.

    At the J joints of the whole course, (lines, J); ``pulled`` (J,) m is their way from the first
    point. ``begins`` and ``ends`` (points,) are the joints before and behind the corner of a point.
    """

    pulled: Floats
    begins: NDArray[np.int64]
    ends: NDArray[np.int64]
    tension: Floats
    sidewall: Floats

    @classmethod
    def of(cls, cut: _Cut, lines: int) -> _Along:
        """Nothing known yet of so many lines."""
        pulled, begins, ends = [0.0], [], [0]
        for point, stretch in enumerate(cut.stretches):
            if point in cut.corners:
                pulled.append(pulled[-1])
            begins.append(len(pulled) - 1)
            pulled += (pulled[-1] + np.cumsum(stretch.looks)).tolist()
            ends.append(len(pulled) - 1)
        none = (np.full((lines, len(pulled)), np.nan) for _ in range(2))
        return cls(np.array(pulled), np.array([*begins, ends[-1]]), np.array(ends), *none)

    def light(self, line: int, i: int, j: int, rated: Rated) -> float:
        """Cable in, m, up to which the cable takes at most 90 % of its limits, fed at i."""
        first, last = int(self.begins[i]), int(self.ends[j]) + 1
        tension, sidewall = self.tension[line, first:last], self.sidewall[line, first:last]
        most = SAFE_SHARE * min(rated.conductor, rated.grip)
        over = (tension > most) | (sidewall > SAFE_SHARE * rated.sidewall)
        if not over.any():
            return float(self.pulled[last - 1] - self.pulled[first])
        if len(head_nodes(len(over))) < len(over):  # the head is not looked at at every joint
            return 0.0
        at = max(int(np.argmax(over)) - 1, 0)
        return float(self.pulled[first + at] - self.pulled[first])


def _direction(
    run: Run,
    practice: Practice,
    cut: _Cut,
    points: tuple[int, ...],
    from_rest: bool,
    eights: bool,
    beyond: bool,
) -> Iterator[tuple[Key, SectionPull]]:
    order = points[::-1] if cut.course.reverse else points
    brakes, ordered = _brakes(cut)
    # Equipment may differ by end: what each has is looked up once.
    at_end = [run.pulled(v, v) for v in order]
    feeds = [feed_factor(equipped) for equipped in at_end]
    wanted = dict(_wanted(run, order, at_end, brakes, ordered, eights))
    if not wanted:
        return
    lines, row = _lines(wanted)
    usual = Rated.of(run, practice)
    rated = [usual if equipped is run else Rated.of(equipped, practice) for equipped in at_end]
    rested = run.rope and replace(run.rope, friction=run.rope.friction * practice.restart)
    lead_off = [_lead_off(equipped, run.rope) for equipped in at_end]
    lead_rest = [_lead_off(equipped, rested) for equipped in at_end]
    strongest = None if beyond else max(rated, key=lambda r: r.grip)
    peaks, along = _march(run.rope, practice.restart, cut, lines, strongest, from_rest)
    last = len(points) - 1
    corners = [k for k, corner in cut.corners.items() if corner.turn > 0]
    at = [row[i, feed] for (i, _, _), feed in wanted.items()], [j for _, j, _ in wanted]
    columns = zip(*(values[at].tolist() for values in peaks), strict=True)
    for ((i, j, reel), feed), line, found in zip(wanted.items(), at[0], columns, strict=True):
        tension, pressure, load, start, _, *rest = found
        if math.isnan(tension):
            continue
        load *= lead_off[j]
        machine = None if run.rope is None else load
        turns = any(
            turn_stops(run, order[k], cut.corners[k].turn, float(peaks.corner[line, k]), load)
            for k in corners
            if i < k < j
        )
        held = feed / feeds[i] if reel else 0.0
        given = held if run.reel_tension is None or not reel else run.reel_tension
        brake = float(brakes[i, j])
        light = rested_share = None
        if from_rest:
            peak, pressed, worst, at_end_load = rest
            full = at_end_load * lead_rest[j]
            use = rated[j].utilization(
                Peaks(peak, pressed, None if run.rope is None else full, full)
            )
            rested_share = use.peak
            light = 0.0
            if _tackle_holds(rated[j], worst * lead_rest[j] / SAFE_SHARE):
                light = along.light(line, i, j, rated[j])
        key = (last - i, last - j, reel) if cut.course.reverse else (i, j, reel)
        yield (
            key,
            SectionPull(
                feed=order[i],
                pull=order[j],
                brake=brake,
                reel_tension=held,
                peak_tension=tension,
                peak_sidewall=pressure,
                load=load,
                utilization=rated[j].utilization(Peaks(tension, pressure, machine, load)),
                taut=brake <= given + NO_BRAKE,
                starts=_tackle_holds(rated[j], start * lead_rest[j]),
                turns=turns,
                light=light,
                rested=rested_share,
            ),
        )


def _lead_off(equipped: Run, rope: Rope | None) -> float:
    return 1.0 if rope is None else lead_off_factor(equipped.lead_off, rope.friction)


def _brakes(cut: _Cut) -> Floats:
    """Smallest tension at feed i that keeps the cable taut up to the machine at j, [., i, j] N.

    With friction as given, and at its low end with sheaves turning freely: what is ordered. Walked
    backwards from zero at each machine.
    """
    count = len(cut.stretches)
    brakes = np.zeros((2, count + 1, count + 1))
    if cut.still:
        return brakes
    t = np.zeros((2, 0))
    for i in range(count - 1, -1, -1):
        if i + 1 in cut.corners and t.size:
            t = _walked_back(cut, cut.corners[i + 1], t)
        t = _walked_back(cut, cut.stretches[i], np.column_stack((np.zeros(2), t)))
        brakes[:, i, i + 1 :] = t
    return brakes


def _walked_back(cut: _Cut, part: _SectionPart, t: Floats) -> Floats:
    """Tension at the start of a stretch that leaves ``t`` (2, m) N at its end.

    Most walks run into no tension at all somewhere, and are one and the same from there on.
    """
    way = cut.course
    different, which = zip(*(np.unique(row, return_inverse=True) for row in t), strict=True)
    counts, flat = [len(row) for row in different], np.concatenate(different)
    for piece, k in zip(part.back, -part.back_friction, strict=True):
        flat = through_piece(piece, way.weight, np.repeat(k, counts), flat, way.method)
    return np.stack((flat[: counts[0]][which[0]], flat[counts[0] :][which[1]]))


def _wanted(
    run: Run,
    order: tuple[int, ...],
    at_end: Sequence[Run],
    brakes: Floats,
    ordered: Floats,
    eights: bool,
) -> Iterator[tuple[Key, float]]:
    """Tension entering the conduit for every pull that access allows, by points in pulling order.

    Off the reel that is the tension ordered with the friction of the feed guide. Nobody holds cable
    back that is fed from figure eights: a pull that needs it is left out.
    """
    access = [run.route.vertices[v].access for v in order]
    for i, equipped in enumerate(at_end):
        if "reel" not in access[i]:
            continue
        factor, drag = feed_factor(equipped), reel_drag(equipped)
        for j in range(i + 1, len(order)):
            if "machine" not in access[j]:
                continue
            brake, least = float(brakes[i, j]), float(ordered[i, j])
            reel = max(brake, drag) if run.reel_tension is None else run.reel_tension
            reel = max(reel, least) if least > NO_BRAKE else reel
            yield (i, j, True), reel * factor
            if eights and brake <= NO_BRAKE:
                yield (i, j, False), 0.0


def _lines(wanted: Mapping[Key, float]) -> tuple[_Lines, dict[tuple[int, float], int]]:
    """One line for each feed and tension, as far as any pull needs it; its row by both."""
    last: dict[tuple[int, float], int] = {}
    for (i, j, _), tension in wanted.items():
        last[i, tension] = max(j, last.get((i, tension), 0))
    starts, tensions = zip(*last, strict=True)
    lines = _Lines(np.array(starts), np.array(list(last.values())), np.array(tensions, dtype=float))
    return lines, {key: row for row, key in enumerate(last)}


def _march(
    rope: Rope | None,
    restart: float,
    cut: _Cut,
    lines: _Lines,
    rated: Rated | None,
    from_rest: bool,
) -> tuple[_SectionPeaks, _Along]:
    """All lines to the last point each is needed at, or to where it exceeds a limit of the cable.

    Without ``rated`` limits none ends early. ``restart`` multiplies friction at a first move.
    """
    count, shape = len(lines.start), (len(lines.start), len(cut.stretches) + 1)
    found = _SectionPeaks(*(np.full(shape, np.nan) for _ in _SectionPeaks._fields))
    law = _Law(cut.course, rope, (1.0, restart) if from_rest else (1.0,), restart)
    # Cable heads, moving and at rest; the tightest rope for each, and that with the head at the
    # feed still: without a rope the machine holds the head.
    cable = np.tile(lines.tension, (len(law.factors), 1))
    ropes = np.tile(lines.tension, (len(law.factors) + 1, 1))
    peak, pressure = cable.copy(), np.zeros_like(cable)
    alive = np.ones(count, dtype=bool)
    along = _Along.of(cut, count)
    for point, stretch in enumerate(cut.stretches):
        on = np.flatnonzero(alive & (lines.start < point) & (lines.last > point))
        corner = cut.corners.get(point)
        parts = [(corner, on)] if corner is not None and on.size else []
        on = np.flatnonzero(alive & (lines.start <= point) & (lines.last > point))
        for part, some in (*parts, (stretch, on)):
            if not some.size:
                continue
            so_far = peak[:, some], pressure[:, some]
            marched = law.through(part, cable[:, some], ropes[:, some], *so_far)
            cable[:, some], ropes[:, some], most, worst = marched
            peak[:, some], pressure[:, some] = most[-1], worst[-1]
            if part is corner:
                found.corner[some, point] = cable[0, some]
            elif from_rest:
                at = slice(int(along.begins[point]), int(along.ends[point + 1]) + 1)
                along.tension[some, at] = most[:, 1].T
                along.sidewall[some, at] = worst[:, 1].T
        if not on.size:
            continue
        now = (peak[0], pressure[0], ropes[0], ropes[-1])
        for values, at in zip(found[:4], now, strict=True):
            values[on, point + 1] = at[on]
        if from_rest:
            for values, at in zip(
                found[5:], (peak[1], pressure[1], ropes[1], cable[1]), strict=True
            ):
                values[on, point + 1] = at[on]
        if rated is not None:
            alive[on] = _cable_holds(rated, peak[0, on], pressure[0, on])
    return found, along


class _Law(NamedTuple):
    """How cable and rope go through a stretch, with friction multiplied by each of ``factors``.

    The rope with the head at the feed still moves from rest: its friction is that ``at_rest``.
    """

    course: FrictionPath
    rope: Rope | None
    factors: tuple[float, ...]
    at_rest: float

    def through(
        self, part: _SectionPart, cable: Floats, ropes: Floats, peak: Floats, pressure: Floats
    ) -> tuple[Floats, Floats, Floats, Floats]:
        """Cable and ropes at the end of a stretch, with the largest tension and pressure so far.

        ``cable`` (f, lines) N is the tension of the heads for each factor; ``ropes`` (f + 1,
        lines) N the tightest rope so far for each, and the rope with the head at the feed.
        ``peak`` N and ``pressure`` N/m (f, lines) are the largest up to its start; they come back
        for all its joints, (n + 1, f, lines).
        """
        count, n = cable.shape[1], len(self.factors)
        times = np.repeat([1.0] * n if part.on_sheave else self.factors, count)
        rope = self.rope
        drawn = np.zeros(len(ropes) * count)
        if rope is not None:
            mu = rope.friction * np.repeat((*self.factors, self.at_rest), count)
            drawn = np.full(mu.shape, part.friction[0]) if part.on_sheave else mu
        t, led = cable.ravel(), ropes.ravel()
        tensions = [t[None]]
        for whole, k in zip(part.wholes, part.friction, strict=True):
            looks = self._cable(whole, k * times, t)
            if rope is not None:
                led = self._rope(whole, rope.weight, drawn, led, looks)
            tensions.append(looks)
            t = looks[-1]
        if rope is None:
            led = np.concatenate((t, led[n * count :]))
        marched = np.concatenate(tensions).reshape(-1, n, count)
        pressed = np.maximum(marched[:-1], marched[1:]) * part.share[:, None, None]
        most = np.maximum.accumulate(np.concatenate((peak[None], marched)))[1:]
        worst = np.maximum.accumulate(np.concatenate((pressure[None], pressed)))
        return t.reshape(n, count), led.reshape(n + 1, count), most, worst

    def _cable(self, whole: Whole, friction: Floats, t: Floats) -> Floats:
        """Tension of lines (k,) at every look of a bend or straight, (looks, k) N."""
        weight, method = self.course.weight, self.course.method
        found, start = [], 0.0
        for a in range(0, len(whole.ends), _TOGETHER):
            size = whole.ends[a : a + _TOGETHER] - start
            n, k = len(size), len(t)
            every = np.tile(friction, n), np.tile(t, n)
            marched = through_part(whole, start, np.repeat(size, k), weight, *every, method)
            found.append(marched.reshape(n, k))
            t, start = found[-1][-1], start + float(size[-1])
        return np.concatenate(found)

    def _rope(
        self, whole: Whole, weight: float, friction: Floats, led: Floats, cable: Floats
    ) -> Floats:
        """The tightest ropes at the end of a bend or straight, with heads at its looks too.

        ``led`` N (r,) enters it; ``cable`` (looks, k) N are the heads at its looks, which the first
        k ropes may start from.
        """
        k = cable.shape[1]
        start = np.concatenate((np.zeros(len(led)), np.repeat(whole.ends[:-1], k)))
        every = np.concatenate((friction, np.tile(friction[:k], len(cable) - 1)))
        entering = np.concatenate((led, cable[:-1].ravel()))
        size = whole.ends[-1] - start
        leaving = through_part(whole, start, size, weight, every, entering, "exact")
        led = leaving[: len(led)]
        heads = np.concatenate((led[None, :k], leaving[len(led) :].reshape(-1, k), cable[-1:]))
        return np.concatenate((heads.max(axis=0), led[k:]))


def _cable_holds(rated: Rated, tension: Floats, pressure: Floats) -> NDArray[np.bool_]:
    """Whether a line may go on: these two only grow with the length of the pull."""
    most = min(rated.conductor, rated.grip) * (1 + _ROUNDING)
    return (tension <= most) & (pressure <= rated.sidewall * (1 + _ROUNDING))


def _tackle_holds(rated: Rated, load: float) -> bool:
    """Whether rope and machine may do so much, N."""
    limits = [x for x in (rated.rope, rated.machine) if x is not None]
    return load <= min(limits, default=math.inf) * (1 + _ROUNDING)
