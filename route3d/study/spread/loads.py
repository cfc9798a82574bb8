"""Loads of both directions of a run over many scenarios of its uncertain inputs.

Friction, weight and drag leave the path as it is: all scenarios are marched along it at once. What
changes the path or the bore (radius, angle, diameter, ovality) makes a run of its own for each.

The reels are held as planned. What the plan holds above the drag of the reels is the brake, a force
that stays as it is set; the drag of a scenario comes on top. A plan with less than the drag turns
the reels by hand, and there the drag is not felt.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from route3d.checks.limits import Rated
from route3d.errors import GeometryError, InputError, Problem
from route3d.geometry.fillet import route_path
from route3d.geometry.path import ARC, CORNER, STRAIGHT, Path
from route3d.geometry.vectors import Floats
from route3d.mechanics.arrangement import FitError
from route3d.mechanics.bend_batch import room_for
from route3d.mechanics.feed import feed_factor, reel_count, reel_drag
from route3d.mechanics.fit import Fit
from route3d.mechanics.friction_path import Fall, FrictionPath, course
from route3d.mechanics.lead_off import lead_off_factor
from route3d.mechanics.pull import Pull, run_fits, sidewall_share
from route3d.mechanics.scenarios import ScenarioLoads, Scenarios, conduits_of, scenario_chunks
from route3d.mechanics.tension import carry, pieces_of, through_piece
from route3d.model.cable import Cable
from route3d.model.conduit import Conduit
from route3d.model.practice import Practice
from route3d.model.route import Route
from route3d.model.run import CableSet, Run
from route3d.planning.direction import Candidate
from route3d.standards.fill import jam_band_at
from route3d.study.spread.inputs import ALL_BENDS, FRICTION, RunInputs

LIMITS = ("conductor", "grip", "sidewall", "rope", "machine")
"""The limits as ``Utilization`` names them, in the order of the rows of ``EndLoads.shares``."""
JAM = "jam ratio"
FIT = "fit"
_SIDEWALL = LIMITS.index("sidewall")
NOWHERE = -1
# Even steps along a run, to draw what lies between the ends of its straights.
_STEPS = 24
# A run of very many bends is solved through all of them, and looked at in so many places.
_MOST_MARKS = 400
# The sidewall pressure in each bend is kept of so many bends: no chart shows more side by side.
_MOST_BENDS = 60


class UnfitBendError(InputError):
    """A bend radius of the spread that does not fit its legs: the ``route`` with it, built so.

    ``vertices`` are those at fault.
    """

    def __init__(self, run: str, route: Route, error: GeometryError) -> None:
        self.run, self.route, self.vertices = run, route, error.vertices
        said = f"a bend radius of the spread does not fit the route: {error}"
        super().__init__(Problem(said, f"run {run}, spread", self.FIX))

    FIX = "less spread of the bend radius, or longer legs"


@dataclass(frozen=True, eq=False)
class EndLoads:
    """One direction in k scenarios.

    ``shares`` (l, k) is how much of each of ``LIMITS`` is taken, NaN where there is no such limit,
    infinite where the cables do not enter the conduit. ``places`` (l, k) is where: a mark of the
    ``End``, and for sidewall pressure a segment of its path. ``first`` (k,) is the mark at which
    the first limit is reached, the number of marks where none is; ``tension`` (m, k) N that of the
    cable there. ``machine`` (m, k) N is the load with the head at each mark, None where it follows
    from that tension. ``jammed`` (k,) says where three cables are likely to jam. ``sidewall``
    (b, k) N/m is the pressure on the worst cable in each of the bends of the ``End``.
    """

    shares: Floats
    places: NDArray[np.int32]
    first: NDArray[np.int32]
    tension: NDArray[np.float32]
    machine: NDArray[np.float32] | None = None
    jammed: NDArray[np.bool_] | None = None
    sidewall: NDArray[np.float32] | None = None

    @property
    def peak(self) -> Floats:
        """The largest share of any limit in each scenario, (k,)."""
        peak: Floats = np.nanmax(self.shares, axis=0)
        return peak

    @classmethod
    def joined(cls, parts: list[EndLoads]) -> EndLoads:
        """Several one after the other."""
        if len(parts) == 1:
            return parts[0]

        def all_of(name: str) -> object:
            arrays = [getattr(part, name) for part in parts]
            return None if arrays[0] is None else np.concatenate(arrays, axis=-1)

        return cls(*map(all_of, cls.__dataclass_fields__))  # type: ignore[arg-type]


@dataclass(frozen=True, eq=False)
class End:
    """One direction as planned, made ready to be solved many times.

    ``walked`` is the path in pulling order, cut at the middle of bends and in even steps.
    ``friction``, ``weight_factor`` and ``pressing`` belong to its n pieces, ``conduit`` numbers
    their conduit among ``conduits_of``, -1 on a sheave, where the friction stays; ``fall`` has the
    friction that falls above a contact load and decides, None where none does. ``whole``
    (n + 1,) numbers the joints that are ends of straights and bends, -1 for the others. The m
    ``marks`` are the joints that are looked at, all but on very long runs; ``mark_of`` (n + 1,) is
    the number of the mark at or behind each joint. ``pulled`` (m,) m of cable is in there.
    ``bends`` (b,) are the segments of the pull's path where sidewall pressure is looked at, none on
    a run of very many.
    """

    candidate: Candidate
    walked: Path
    conduit: NDArray[np.int64]
    friction: Floats
    weight_factor: Floats
    pressing: Floats
    whole: NDArray[np.int64]
    marks: NDArray[np.int64]
    mark_of: NDArray[np.int64]
    rated: Rated
    pulled: Floats
    rope_friction: float | Floats
    fall: Fall | None
    bends: NDArray[np.int64]

    @property
    def pull(self) -> Pull:
        """The pull as planned."""
        return self.candidate.pull

    @property
    def held(self) -> float:
        """The brake: what the plan holds the cables with beyond the drag of the reels, N."""
        return max(self.pull.reel_tension - reel_drag(self.pull.run), 0.0)

    @property
    def by_hand(self) -> bool:
        """Whether the plan holds less than the drag of the reels: they are turned."""
        drag = reel_drag(self.pull.run)
        return self.pull.reel_tension < drag - 1e-6 * max(drag, 1.0)

    def place(self, limit: str, at: int) -> tuple[str, float | None]:
        """A place in words, empty on a straight, and m of cable in there."""
        pull, path = self.pull, self.pull.path
        if limit == LIMITS[_SIDEWALL]:
            number = int(np.count_nonzero(path.kind[: at + 1] == ARC))
            vertex = int(path.vertex[at])
            if path.kind[at] == CORNER:
                return pull.run.route.label(vertex), None
            return pull.run.route.bend_label(number, vertex), None
        pulled = float(self.pulled[at])
        if at == len(self.pulled) - 1:
            return pull.pull_name, pulled
        if at == 0:
            return pull.feed_name, pulled
        station = path.length - pulled if pull.reverse else pulled
        segment = int(path.locate(np.array([station]))[0][0])
        if path.kind[segment] != ARC:
            return "", pulled
        number = int(np.count_nonzero(path.kind[: segment + 1] == ARC))
        return pull.run.route.bend_label(number, int(path.vertex[segment])), pulled

    @property
    def bend_places(self) -> tuple[tuple[str, float], ...]:
        """Name and station of the middle, m along the route, of each bend looked at."""
        at = self.pull.path.stations
        middles = (at[self.bends] + at[self.bends + 1]) / 2
        names = (self.place(LIMITS[_SIDEWALL], i)[0] for i in self.bends.tolist())
        return tuple(zip(names, middles.tolist(), strict=True))

    def gauge(self, tension: Floats) -> Floats:
        """Load on the machine (m,) for a tension of the cable (m,) at its head at each mark, N."""
        rope, phase = self.pull.run.rope, self.pull.rope_phase
        assert rope is not None and phase is not None
        loads = carry(self.walked, rope.weight, self.rope_friction, tension, self.marks)
        return np.asarray(loads * phase.lead_off)

    @cached_property
    def cable_cap(self) -> Floats:
        """The largest tension at each joint that breaks no limit of the cable, (n + 1,) N."""
        rated = self.rated
        cap = np.full(len(self.walked) + 1, min(rated.conductor, rated.grip))
        side = np.maximum(np.append(self.pressing, 0.0), np.insert(self.pressing, 0, 0.0))
        pressed = np.where(side > 0, rated.sidewall / np.where(side > 0, side, 1.0), np.inf)
        return np.asarray(np.minimum(cap, pressed))

    @cached_property
    def machine_cap(self) -> Floats:
        """The largest tension at each mark that breaks no limit of rope and machine, (m,) N.

        A load at the machine only grows with the tension at the head: it is found by halving.
        """
        count = len(self.pulled)
        if self.pull.rope_phase is None:
            return np.append(np.full(count - 1, np.inf), self.rated.machine or math.inf)
        most = min(self.rated.machine or math.inf, self.rated.rope or math.inf)
        if math.isinf(most):
            return np.full(count, np.inf)
        low, high = np.zeros(count), np.full(count, 2.0 * most)
        for _ in range(50):
            middle = (low + high) / 2
            over = self.gauge(middle) > most
            low, high = np.where(over, low, middle), np.where(over, middle, high)
        return np.asarray(np.where(self.gauge(np.zeros(count)) > most, -1.0, high))


def end_of(candidate: Candidate) -> End:
    """One direction of a run, ready to be solved many times."""
    pull = candidate.pull
    way, run, path = pull.course, pull.run, pull.path
    cut = path.split(_marks(path))
    owner = way.fine.locate((cut.stations[:-1] + cut.stations[1:]) / 2)[0]
    owner[cut.kind == CORNER] = np.flatnonzero(way.fine.kind == CORNER)
    number = {conduit: i for i, conduit in enumerate(conduits_of(run))}
    legs = np.array([number[c] for c in run.route.conduits])
    which = np.where(way.on_sheave[owner], -1, legs[cut.leg])
    order = slice(None, None, -1 if pull.reverse else 1)
    walked = cut.reversed() if pull.reverse else cut
    rope, count = run.rope, len(walked) + 1
    even = np.linspace(0, count - 1, min(count, _MOST_MARKS)).round().astype(np.int64)
    marks = np.unique(even)
    return End(
        candidate=candidate,
        walked=walked,
        conduit=which[order],
        friction=way.friction[owner][order],
        weight_factor=way.weight_factor[owner][order],
        pressing=sidewall_share(run, pull.practice, pull.fits, walked),
        whole=_joints(pull, walked),
        marks=marks,
        mark_of=np.searchsorted(marks, np.arange(count)),
        rated=Rated.of(run, pull.practice),
        pulled=walked.stations[marks],
        rope_friction=0.0 if rope is None else way.rope_friction(rope.friction, walked),
        fall=None if way.fall is None else way.fall.of(owner).of(order),
        bends=_pressed(pull),
    )


def _pressed(pull: Pull) -> NDArray[np.int64]:
    """The segments of the path that press on the cables; none where there are very many."""
    share = sidewall_share(pull.run, pull.practice, pull.fits, pull.path)
    found = np.flatnonzero(share > 0)
    few = len(found) <= _MOST_BENDS and len(pull.path) <= _MOST_MARKS
    return found if few else found[:0]


def _joints(pull: Pull, walked: Path) -> NDArray[np.int64]:
    """The number of the joint of the whole path at each joint of the cut one, -1 for none."""
    whole = pull.path.reversed() if pull.reverse else pull.path
    ends = (np.diff(walked.vertex) != 0) | (np.diff(walked.leg) != 0)
    at = np.concatenate(([0], np.flatnonzero(ends) + 1, [len(walked)]))
    numbers = np.full(len(walked) + 1, -1)
    if len(at) == len(whole) + 1:
        numbers[at] = np.arange(len(at))
    return numbers


def _marks(path: Path) -> Floats:
    """Stations at which a run is looked at, beside the ends of its straights and bends."""
    even = np.linspace(0.0, path.length, _STEPS + 1)[1:-1]
    straight = path.kind[path.locate(even)[0]] == STRAIGHT
    bends = path.kind == ARC
    middles = (path.stations[:-1] + path.stations[1:])[bends] / 2
    return np.sort(np.concatenate((even[straight], middles)))


# --- friction, weight and drag: all scenarios at once ---------------------------------------------


def scenarios_of(
    end: End, inputs: RunInputs, values: Floats, multiplier: Floats | float = 1.0
) -> Scenarios:
    """The scenarios of one direction at values (d, k) of its inputs.

    ``multiplier`` comes on the friction of every conduit, besides.
    """
    count, run = values.shape[1], end.pull.run
    conduits = conduits_of(run)
    friction = np.repeat([[c.friction] for c in conduits], count, axis=1)
    weights = {cable.name: cable.weight for cable, _ in run.cables.items}
    changed: dict[str, Floats] = {}
    drag: tuple[Floats, bool] | None = None
    for each, row in zip(inputs.varying, values, strict=True):
        if each.kind == FRICTION:
            for i, conduit in enumerate(conduits):
                if conduit.name == each.name:
                    friction[i] = row * conduit.friction if each.factor else row
        elif each.kind == "cable weight":
            changed[each.name] = row * weights[each.name] if each.factor else row
        elif each.kind == "reel drag":
            drag = row, each.factor
    weight = np.array([run.cables.weight])
    if changed:
        weight = np.zeros(count)
        for cable, n in run.cables.items:
            weight = weight + n * changed.get(cable.name, np.full(1, cable.weight))
    return Scenarios(friction * multiplier, weight, _reel(end, weight, drag))


def _reel(end: End, weight: Floats, drag: tuple[Floats, bool] | None) -> Floats:
    """Tension of the cables leaving the reels: the brake as planned, and the drag on top, N."""
    run = end.pull.run
    if end.by_hand:
        return np.array([end.pull.reel_tension])
    by_length = run.reel is None or run.reel.drag_force is None
    felt = reel_drag(run) * (weight / run.cables.weight if by_length else np.ones(1))
    if drag is not None:
        row, factor = drag
        felt = felt * row if factor else row * reel_count(run)
    return end.held + felt


def solve(end: End, given: Scenarios) -> EndLoads:
    """One direction in k scenarios of friction, weight and reel tension."""

    def reduce(span: slice, loads: ScenarioLoads) -> EndLoads:
        return _reduced(end, given.part(span), loads)

    keep = ("tension",) if len(end.pull.path) <= _MOST_MARKS else ()
    if end.bends.size:
        keep = (*keep, "sidewall")
    return EndLoads.joined(scenario_chunks(end.pull, given, reduce, keep=keep))


def _reduced(end: End, given: Scenarios, loads: ScenarioLoads) -> EndLoads:
    """Shares, places and tensions of some scenarios whose peaks are known."""
    peaks, count = loads.peaks, len(loads.peaks.tension)
    seen = _along(end, given, loads.tension, count)
    taken = end.rated.utilizations(peaks)
    shares = np.array([taken.get(limit, np.full(count, np.nan)) for limit in LIMITS])
    marks = len(end.marks)
    places = np.empty((len(LIMITS), count), dtype=np.int32)
    places[:2], places[2] = seen.peak, peaks.sidewall_segment
    over = seen.tension > end.machine_cap[:, None]
    at_head = np.where(over.any(axis=0), over.argmax(axis=0), marks)
    places[3:] = np.minimum(at_head, marks - 1)
    # A peak between two marks passes a limit by a hair: it counts with the last of them.
    first = np.minimum(np.minimum(seen.first, at_head), marks - 1)
    first[~(shares > 1.0).any(axis=0)] = marks
    return EndLoads(
        shares,
        places,
        first.astype(np.int32),
        seen.tension,
        sidewall=_in_bends(end, loads),
    )


def _in_bends(end: End, loads: ScenarioLoads) -> NDArray[np.float32] | None:
    """Sidewall pressure in each bend looked at, (b, k) N/m."""
    if loads.sidewall is None:
        return None
    row = np.zeros(len(end.pull.path), dtype=np.int64)
    row[loads.segment] = np.arange(len(loads.segment))
    return loads.sidewall[row[end.bends]].astype(np.float32)


class _Seen(NamedTuple):
    """What the march along one direction leaves of k scenarios.

    ``tension`` (m, k) N at the marks; the mark of the ``peak`` (k,), and the ``first`` mark (k,) at
    which a limit of the cable is reached, the number of marks where none is.
    """

    tension: NDArray[np.float32]
    peak: NDArray[np.int32]
    first: NDArray[np.int32]


def _along(end: End, given: Scenarios, known: Floats | None, count: int) -> _Seen:
    """The cable carried along; its tension is ``known`` at the ends of straights and bends."""
    pieces, method = pieces_of(end.walked), end.pull.practice.method
    weight = float(given.weight[0]) if given.weight.size == 1 else given.weight
    t: Floats = np.full(count, given.reel_tension * feed_factor(end.pull.run))
    tension = np.empty((len(end.marks), count), dtype=np.float32)
    peak, at_peak = np.full(count, -1.0), np.zeros(count, dtype=np.int32)
    first = np.full(count, len(end.marks), dtype=np.int32)
    effective: dict[tuple[int, float], Floats] = {}
    fall = end.fall
    room = room_for(count)
    caps, marks = end.cable_cap.tolist(), end.mark_of.tolist()
    kept = np.diff(end.mark_of, append=len(end.marks)).tolist()
    for i in range(len(pieces) + 1):
        if i and known is not None and (joint := int(end.whole[i])) >= 0:
            t = known[joint]
        elif i:
            number, omega = int(end.conduit[i - 1]), float(end.weight_factor[i - 1])
            if number < 0:
                k: Any = float(end.friction[i - 1]) * omega
            else:
                k = effective.setdefault((number, omega), given.friction[number] * omega)
                k = k if fall is None else fall.at(i - 1, k)
            t = through_piece(pieces[i - 1], weight, k, t, method, room)
        if kept[i]:
            tension[marks[i]] = t
        np.copyto(at_peak, marks[i], where=t > peak)
        np.maximum(peak, t, out=peak)
        over = t > caps[i]
        if over.any():
            np.minimum(first, marks[i], out=first, where=over)
    return _Seen(tension, at_peak, first)


# --- geometry: each scenario a run of its own -----------------------------------------------------


def solve_each(
    ends: tuple[End, End],
    inputs: RunInputs,
    values: Floats,
    multiplier: Floats | float = 1.0,
    progress: Callable[[int], None] | None = None,
) -> tuple[EndLoads, EndLoads]:
    """Both directions in k scenarios, the path solved anew for each.

    InputError where a bend of a scenario does not fit its legs.
    """
    given = [scenarios_of(end, inputs, values, multiplier) for end in ends]
    made = [_Kept.room(end, values.shape[1]) for end in ends]
    for k in range(values.shape[1]):
        built = _built(ends[0], inputs, values[:, k], given[0].part(slice(k, k + 1)))
        for end, each, kept in zip(ends, given, made, strict=True):
            kept.put(k, end, built, each.part(slice(k, k + 1)))
        if progress is not None:
            progress(k + 1)
    return made[0].loads, made[1].loads


@dataclass(frozen=True, eq=False)
class _AsBuilt:
    """The run of one scenario and its course with the route; None where the cables do not enter."""

    run: Run
    fits: tuple[Fit, ...]
    way: FrictionPath | None
    jammed: bool = False


def _built(end: End, inputs: RunInputs, values: Floats, given: Scenarios) -> _AsBuilt:
    """The run with radii, diameters and bores of one scenario, and the bends turned as built."""
    run, practice = end.pull.run, end.pull.practice
    vertices, conduits = list(run.route.vertices), list(run.route.conduits)
    cables = dict(run.cables.items)
    turned: dict[int, Callable[[float], float]] = {}
    for each, x in zip(inputs.varying, values.tolist(), strict=True):
        bends = [
            i
            for i, v in enumerate(run.route.vertices)
            if v.bend > 0 and each.name in (ALL_BENDS, run.route.label(i))
        ]
        if each.kind == "bend radius":
            for i in bends:
                radius = x * vertices[i].bend if each.factor else x
                vertices[i] = replace(vertices[i], bend=radius)
        elif each.kind == "bend angle":
            turned |= {i: _turn(x, each.factor) for i in bends}
        elif each.kind == "cable diameter":
            cables = {_sized(c, each.name, x, each.factor): n for c, n in cables.items()}
        elif each.kind == "ovality":
            conduits = [_oval(c, x) if c.name == each.name else c for c in conduits]
    route = replace(run.route, vertices=tuple(vertices), conduits=tuple(conduits))
    made = replace(run, route=route, cables=CableSet(cables))
    try:
        path = _as_turned(route_path(route), turned)
    except GeometryError as error:
        raise UnfitBendError(run.name, route, error) from None
    try:
        fits = run_fits(made)
    except FitError:
        return _AsBuilt(made, (), None)
    mu = dict(zip((c.name for c in conduits_of(run)), given.friction[:, 0].tolist(), strict=True))
    way = course(made, practice, path, fits, reverse=False)
    way = way.with_friction(made, lambda c: mu[c.name], sheaves=True)
    way = replace(way, weight=float(given.weight[0]))
    jammed = any(_may_jam(fit, practice) for fit in dict.fromkeys(fits))
    return _AsBuilt(made, fits, way, jammed)


def _turn(x: float, factor: bool) -> Callable[[float], float]:
    return (lambda angle: angle * x) if factor else (lambda angle: angle + x)


def _sized(cable: Cable, name: str, x: float, factor: bool) -> Cable:
    if cable.name != name:
        return cable
    return replace(cable, diameter=x * cable.diameter if factor else x)


def _oval(conduit: Conduit, ovality: float) -> Conduit:
    """The conduit with the smaller of its inner diameters: (D max - D min) / D is the ovality."""
    return replace(conduit, inner_diameter=conduit.inner_diameter * (1 - ovality / 2))


def _as_turned(path: Path, turned: dict[int, Callable[[float], float]]) -> Path:
    """The path with bends that turn by more or less than planned.

    The legs keep their direction: what a bend turns too much is taken up at its ends.
    """
    if not turned:
        return path
    angles, lengths = path.angles.copy(), path.lengths.copy()
    for i in np.flatnonzero(path.kind == ARC).tolist():
        change = turned.get(int(path.vertex[i]))
        if change is not None:
            angle = change(float(angles[i]))
            if not 0 < angle < math.pi:
                said = f"a bend of {math.degrees(angle):.1f}° is none"
                fix = "less spread of the bend angle"
                raise InputError(Problem(said, where="spread: bend angle", fix=fix))
            angles[i], lengths[i] = angle, float(path.radii[i]) * angle
    return replace(path, angles=angles, lengths=lengths)


@dataclass(frozen=True, eq=False)
class _Kept:
    """Room for the loads of one direction, filled scenario by scenario."""

    loads: EndLoads

    @classmethod
    def room(cls, end: End, count: int) -> _Kept:
        """For ``count`` scenarios."""
        return cls(
            EndLoads(
                np.full((len(LIMITS), count), np.nan),
                np.full((len(LIMITS), count), NOWHERE, dtype=np.int32),
                np.zeros(count, dtype=np.int32),
                np.full((len(end.pulled), count), np.nan, dtype=np.float32),
                None
                if end.pull.rope_phase is None
                else np.full((len(end.pulled), count), np.nan, dtype=np.float32),
                np.zeros(count, dtype=bool),
                np.full((len(end.bends), count), np.nan, dtype=np.float32)
                if end.bends.size
                else None,
            )
        )

    def put(self, k: int, end: End, built: _AsBuilt, given: Scenarios) -> None:
        """Solve one scenario in one direction; places are those of the planned path."""
        kept, reverse = self.loads, end.pull.reverse
        if built.way is None:
            kept.shares[:3, k] = np.inf
            return
        assert kept.jammed is not None
        kept.jammed[k] = built.jammed
        last = len(built.run.route.vertices) - 1
        run = built.run.pulled(*((last, 0) if reverse else (0, last)))
        way = built.way.turned if reverse else built.way
        pressing = sidewall_share(run, end.pull.practice, built.fits, way.walked)
        reel = float(given.reel_tension[0])
        with np.errstate(over="ignore", invalid="ignore"):
            t = way.tension(reel * feed_factor(run))
            self._shares(k, end, run, way, pressing, t)

    def _shares(
        self, k: int, end: End, run: Run, way: FrictionPath, pressing: Floats, t: Floats
    ) -> None:
        kept, rated = self.loads, end.rated
        pulled = np.abs(way.stations - way.stations[0])
        as_planned = pulled * (end.pulled[-1] / pulled[-1])
        side = pressing * np.maximum(t[:-1], t[1:])
        at = int(t.argmax())
        peak, worst = float(t[at]), int(side.argmax())
        kept.shares[:3, k] = (
            peak / rated.conductor, peak / rated.grip, float(side[worst]) / rated.sidewall
        )  # fmt: skip
        rope, over = run.rope, t > min(rated.conductor, rated.grip)
        over |= np.maximum(np.append(side, 0.0), np.insert(side, 0, 0.0)) > rated.sidewall
        at_machine, head = float(t[-1]), len(t) - 1
        if rope is not None:
            along = way.rope_friction(rope.friction, way.walked)
            loads = carry(way.walked, rope.weight, along, t, np.arange(len(t)))
            loads = loads * lead_off_factor(run.lead_off, rope.friction)
            head = int(loads.argmax())
            at_machine = float(loads[head])
            over |= loads > min(rated.machine or math.inf, rated.rope or math.inf)
            assert kept.machine is not None
            kept.machine[:, k] = np.interp(end.pulled, as_planned, loads)
            if rated.rope is not None:
                kept.shares[3, k] = at_machine / rated.rope
        elif rated.machine is not None:
            over[-1] |= at_machine > rated.machine
        if rated.machine is not None:
            kept.shares[4, k] = at_machine / rated.machine
        marks = np.searchsorted(end.pulled, as_planned[[at, at, worst, head, head]] - 1e-9)
        kept.places[:, k] = np.minimum(marks, len(end.pulled) - 1)
        middles = (way.stations[:-1] + way.stations[1:]) / 2
        at_planned = end.pull.path.locate(middles * (end.pull.path.length / way.fine.length))[0]
        kept.places[_SIDEWALL, k] = int(at_planned[worst])
        if kept.sidewall is not None:
            most = np.zeros(len(end.pull.path))
            np.maximum.at(most, at_planned, side)
            kept.sidewall[:, k] = most[end.bends]
        first = len(end.pulled)
        if over.any():
            first = int(np.searchsorted(end.pulled, as_planned[int(over.argmax())] - 1e-9))
        kept.first[k] = min(first, len(end.pulled))
        kept.tension[:, k] = np.interp(end.pulled, as_planned, t)


def _may_jam(fit: Fit, practice: Practice) -> bool:
    if fit.jam_ratio is None:
        return False
    band = jam_band_at(fit.jam_ratio, practice.jam_ratio)  # type: ignore[arg-type]
    return band.severity_hint == "caution"
