"""Loads of one pull over many scenarios at once: friction, weight and reel tension of each.

The cable is carried over whole straights and bends, and the rope by its worst line (see
``worst_line``). What a solved pull looks at inside a bend can exceed both ends of it only where the
cable runs down while it turns. Simple bounds tell in which scenarios it may; those alone are
carried from look to look, so the peaks are those of ``pull`` at a fraction of the work.

Where friction that falls above a contact load decides in the pull, it does in every scenario: both
coefficients are multiplied alike, and the load stays. The bounds then take the lower one, which
friction never is below.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, NamedTuple, TypeVar

import numpy as np
from numpy.polynomial import chebyshev
from numpy.typing import ArrayLike, NDArray

from route3d.geometry.path import ARC, STRAIGHT, Path
from route3d.geometry.vectors import Floats
from route3d.mechanics.bend import Bend
from route3d.mechanics.bend_batch import room_for
from route3d.mechanics.bend_slack import highest_normal, lowest_slope
from route3d.mechanics.feed import feed_factor
from route3d.mechanics.friction_path import Fall
from route3d.mechanics.lead_off import lead_off_factors
from route3d.mechanics.pressure_friction import FallingFriction
from route3d.mechanics.pull import Pull
from route3d.mechanics.tension import (
    MarchSegment,
    Whole,
    pieces_of,
    through_part,
    through_piece,
    through_segment,
)
from route3d.model.conduit import Conduit
from route3d.model.run import Run

T = TypeVar("T")
TABLES = ("tension", "largest", "sidewall")
"""Tables that are made where they are asked for; ``machine`` is made where heads are given."""

# Scenarios worked at a time: the dozen arrays of one bend then stay in a core's own cache.
_CHUNK = 8192
# With fewer scenarios the curves of the rope cost more than carrying it.
_WORTH_CURVES = 200
# Rope from joint to joint as a polynomial of the tension, held at other points to this share.
_CURVE_DEGREE, _CURVE_ERROR = 14, 2e-11
_NODES = np.cos(np.pi * (np.arange(_CURVE_DEGREE) + 0.5) / _CURVE_DEGREE)
_TRIED = np.cos(np.pi * np.arange(_CURVE_DEGREE + 1) / _CURVE_DEGREE)
_CURVE_POINTS = np.concatenate((_NODES, _TRIED))
_TO_CHEBYSHEV = np.linalg.inv(chebyshev.chebvander(_NODES, _CURVE_DEGREE - 1))
_AT_TRIED = chebyshev.chebvander(_TRIED, _CURVE_DEGREE - 1)
# A look exceeds the ends of its bend where it does so by more than rounding.
_ROUNDING = 1e-13


@dataclass(frozen=True, eq=False)
class Scenarios:
    """What differs from scenario to scenario; rows of one value serve all k of them.

    Parameters
    ----------
    friction : ndarray, shape (c, k)
        Basic coefficient in each of the c distinct conduits, in the order of `conduits_of`. What
        friction falls to above a contact load is the pull's own share of it.
    weight : ndarray, shape (k,)
        Of the whole set, N/m.
    reel_tension : ndarray, shape (k,)
        Leaving the reels, summed, N.
    rope_friction : ndarray, shape (k,), optional
        Default: that of the rope.
    weight_factor, sidewall_factor : ndarray, shape (c, k), optional
        Default: those of the pull's fits. The sidewall factor counts where the practice works
        sidewall pressure for each cable.

    Raises
    ------
    ValueError
        For values out of range and shapes that do not agree.
    """

    friction: Floats
    weight: Floats
    reel_tension: Floats
    rope_friction: Floats | None = None
    weight_factor: Floats | None = None
    sidewall_factor: Floats | None = None

    def __post_init__(self) -> None:
        for name, axes in _AXES.items():
            value = getattr(self, name)
            if value is None:
                continue
            array = np.asarray(value, dtype=np.float64)
            if array.ndim != axes:
                raise ValueError(f"{name} must have {axes} axes, not {array.ndim}")
            wrong = ~np.isfinite(array) | ((array <= 0) if name == "weight" else (array < 0))
            if wrong.any():
                raise ValueError(f"{name} must not be {array[wrong].flat[0]}")
            object.__setattr__(self, name, array)
        sizes = {s for s in self._sizes() if s != 1}
        if len(sizes) > 1:
            raise ValueError(f"scenarios must agree in number, not {sorted(sizes)}")

    def _sizes(self) -> Iterator[int]:
        for name in _AXES:
            value = getattr(self, name)
            if value is not None:
                yield value.shape[-1]

    @property
    def count(self) -> int:
        """k, the number of scenarios."""
        sizes = set(self._sizes())
        return (sizes - {1} or {1}).pop()

    def part(self, span: slice) -> Scenarios:
        """The scenarios of ``span``, not looked through again."""
        found = object.__new__(Scenarios)
        for name in _AXES:
            value = getattr(self, name)
            whole = value is None or value.shape[-1] == 1
            object.__setattr__(found, name, value if whole else value[..., span])
        return found


_AXES = {
    "friction": 2,
    "weight": 1,
    "reel_tension": 1,
    "rope_friction": 1,
    "weight_factor": 2,
    "sidewall_factor": 2,
}


class ManyPeaks(NamedTuple):
    """Largest loads in each of k scenarios, as `pull.Peaks` has them for one, all (k,).

    ``tension`` N of the cable, ``sidewall`` N/m of the worst cable, ``machine`` N (None without a
    rope), ``tension_at_end`` N of the cable head there. ``sidewall_segment`` is the segment of the
    pull's path with the largest sidewall pressure, -1 where there is none.
    """

    tension: Floats
    sidewall: Floats
    machine: Floats | None
    tension_at_end: Floats
    sidewall_segment: NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class ScenarioLoads:
    """Loads of one pull in k scenarios; tables that were not asked for are None.

    ``stations`` (n + 1,) m are the joints between the n straights and bends in pulling order,
    ``segment`` (n,) the segments of the pull's path between them. ``tension`` (n + 1, k) N is that
    of the cable at the joints; ``largest`` (n, k) N the largest in each segment, its ends
    included; ``sidewall`` (n, k) N/m the pressure on the worst cable there. ``machine`` (m, k) N
    is what the machine feels with the head at each of ``heads`` (m,) m, lead-off included.
    Tensions beyond the range of floats come out infinite.
    """

    peaks: ManyPeaks
    stations: Floats
    segment: NDArray[np.int64]
    tension: Floats | None
    largest: Floats | None
    sidewall: Floats | None
    heads: Floats | None
    machine: Floats | None


def conduits_of(run: Run) -> tuple[Conduit, ...]:
    """The distinct conduits of a run, in the order of its route: the rows of scenario tables.

    Parameters
    ----------
    run : Run
        The run, in SI.

    Returns
    -------
    tuple of Conduit
    """
    return tuple(dict.fromkeys(run.route.conduits))


def scenario_loads(
    pull: Pull,
    given: Scenarios,
    *,
    keep: Collection[str] = (),
    heads: ArrayLike | None = None,
) -> ScenarioLoads:
    """Loads of a pull in all scenarios.

    Parameters
    ----------
    pull : Pull
        One direction, solved: its route, cables, practice and rope are taken.
    given : Scenarios
        k scenarios.
    keep : collection of {"tension", "largest", "sidewall"}
        Tables to keep beside the peaks; each takes 8 (n + 1) k bytes.
    heads : array_like, shape (m,), optional
        Stations at which the machine load is wanted, m, in pulling order; only with a rope.

    Returns
    -------
    ScenarioLoads
        N, N/m.

    Raises
    ------
    ValueError
        For tables that are not known, rows of friction that are not those of `conduits_of`, and
        heads without a rope.

    References
    ----------
    docs/theory.md sections 2 to 8 and 15.
    """
    parts = scenario_chunks(pull, given, lambda _, loads: loads, keep=keep, heads=heads)
    if len(parts) == 1:
        return parts[0]

    first = parts[0]
    return ScenarioLoads(
        ManyPeaks._make(map(_joined, zip(*(part.peaks for part in parts), strict=True))),
        first.stations,
        first.segment,
        _joined([part.tension for part in parts]),
        _joined([part.largest for part in parts]),
        _joined([part.sidewall for part in parts]),
        first.heads,
        _joined([part.machine for part in parts]),
    )


def _joined(parts: Sequence[Any]) -> Any:
    return None if parts[0] is None else np.concatenate(parts, axis=-1)


def scenario_chunks(
    pull: Pull,
    given: Scenarios,
    reduce: Callable[[slice, ScenarioLoads], T],
    *,
    keep: Collection[str] = (),
    heads: ArrayLike | None = None,
) -> list[T]:
    """As `scenario_loads`, some thousand scenarios at a time: what ``reduce`` makes of each part.

    Parameters
    ----------
    pull, given, keep, heads
        As for `scenario_loads`.
    reduce : callable
        Given the span of scenarios and their loads, on one of two threads.

    Returns
    -------
    list
        In the order of the scenarios.

    Raises
    ------
    ValueError
        As `scenario_loads` does.
    """
    march = _March.of(pull, given, keep, heads)
    count = given.count
    spans = [slice(i, min(i + _CHUNK, count)) for i in range(0, count, _CHUNK)]

    def work(span: slice) -> T:
        with np.errstate(over="ignore", invalid="ignore"):  # numpy keeps this for each thread
            return reduce(span, march.loads(given.part(span), span.stop - span.start))

    if len(spans) == 1:
        return [work(spans[0])]
    with ThreadPoolExecutor(max_workers=2) as pool:
        return list(pool.map(work, spans))


class _Looks(NamedTuple):
    """The looks inside one bend, and what bounds the loads there.

    ``pieces`` lie between the looks. ``drop`` is how far the highest look lies above the end of
    the bend, and ``fall`` how far the lowest lies below its start, as shares of R; ``lowest`` and
    ``highest`` bound t_z on the bend, and ``normal`` is the largest n_z.
    """

    pieces: list[MarchSegment]
    drop: float
    fall: float
    lowest: float
    highest: float
    normal: float


class _Step(NamedTuple):
    """One straight, bend or corner on the way, or a piece of one.

    ``owner`` counts the segments in pulling order. ``sheave`` is the friction that stands for a
    sheave's efficiency; ``share`` 1/m the sidewall pressure over tension. ``fall`` has the friction
    that falls above a contact load there, None where none does. ``head`` tells that the
    cable head is looked at where the step begins, and ``heads`` (numbers and places, m or rad)
    those asked for along it.
    """

    segment: MarchSegment
    owner: int
    conduit: int
    sheave: float | None
    share: float
    fall: Fall | None
    looks: _Looks | None
    head: bool
    heads: list[tuple[int, float]]


@dataclass(frozen=True, eq=False)
class _March:
    """The way from feed to machine, made ready for any number of scenarios."""

    pull: Pull
    steps: list[_Step]
    stations: Floats
    segment: NDArray[np.int64]
    weight_factors: Floats
    sidewall_factors: Floats
    keep: frozenset[str]
    heads: Floats | None

    @classmethod
    def of(
        cls, pull: Pull, given: Scenarios, keep: Collection[str], heads: ArrayLike | None
    ) -> _March:
        run, unknown = pull.run, set(keep) - set(TABLES)
        if unknown:
            raise ValueError(f"no table {sorted(unknown)[0]!r}: keep some of {TABLES}")
        conduits = conduits_of(run)
        for name in ("friction", "weight_factor", "sidewall_factor"):
            rows = getattr(given, name)
            if rows is not None and len(rows) != len(conduits):
                raise ValueError(f"{name} must have a row for each of {len(conduits)} conduits")
        if heads is not None and run.rope is None:
            raise ValueError(f"run {run.name!r} has no rope, so no head to follow")
        at = None if heads is None else np.asarray(heads, dtype=np.float64)
        count = len(pull.path)
        order = np.arange(count)[::-1] if pull.reverse else np.arange(count)
        fits = dict(zip(run.route.conduits, pull.fits, strict=True))
        return cls(
            pull,
            _steps(pull, conduits, at),
            pull.path.stations[::-1] if pull.reverse else pull.path.stations,
            order,
            np.array([[fits[c].weight_factor] for c in conduits]),
            np.array([[fits[c].sidewall_factor] for c in conduits]),
            frozenset(keep),
            at,
        )

    def loads(self, given: Scenarios, count: int) -> ScenarioLoads:
        """Loads in ``count`` scenarios."""
        pull, run = self.pull, self.pull.run
        practice, rope = pull.practice, pull.run.rope
        method, room = practice.method, room_for(count)
        weight, per_conduit = _shared(given.weight), _PerConduit.of(self, given)
        mu_rope = 0.0
        if rope is not None:
            mu_rope = rope.friction if given.rope_friction is None else _shared(given.rope_friction)
        t = np.empty(count)
        t[:] = given.reel_tension * feed_factor(run)
        peak, line = t.copy(), np.full(count, -math.inf)
        wall, worst = np.zeros(count), np.full(count, -1)
        tables = {
            name: np.zeros((len(self.segment), count)) for name in TABLES if name in self.keep
        }
        if "tension" in tables:
            tables["tension"] = np.empty((len(self.segment) + 1, count))
            tables["tension"][0] = t
        ahead = _Ahead(self, count, mu_rope)
        for step in self.steps:
            k = per_conduit.friction(step)
            end = through_piece(step.segment, weight, k, t, method, room)
            most = np.maximum(t, end)
            if rope is not None:
                if step.head:
                    np.maximum(line, t, out=line)
                ahead.pass_step(step, weight, k, t)
                k_rope = mu_rope if step.sheave is None else step.sheave
                after = through_piece(step.segment, rope.weight, k_rope, line, "exact", room)
            else:
                k_rope, after = 0.0, line
            if step.looks is not None:
                lighter = None if rope is None else rope.weight
                which = _may_exceed(step, method, weight, k, t, end, line, lighter, k_rope)
                if which.size:
                    own = _pick(weight, which), _pick(k, which), _pick(k_rope, which)
                    _look(step.looks, method, own, lighter, which, t, line, most, after)
            np.maximum(peak, most, out=peak)
            if step.share:
                pressure = most * per_conduit.share(step)
                higher = pressure > wall
                np.copyto(wall, pressure, where=higher)
                np.copyto(worst, self.segment[step.owner], where=higher)
                if "sidewall" in tables:
                    row = tables["sidewall"][step.owner]
                    np.maximum(row, pressure, out=row)
            if "largest" in tables:
                row = tables["largest"][step.owner]
                np.maximum(row, most, out=row)
            if "tension" in tables:
                tables["tension"][step.owner + 1] = end
            t, line = end, after
        machine = table = None
        if rope is not None:
            lead_off = lead_off_factors(run.lead_off, mu_rope)
            machine = np.maximum(line, t) * lead_off
            table = ahead.table(t, lead_off)
        return ScenarioLoads(
            ManyPeaks(peak, wall, machine, t, worst),
            self.stations,
            self.segment,
            tables.get("tension"),
            tables.get("largest"),
            tables.get("sidewall"),
            self.heads,
            table,
        )


class _PerConduit(NamedTuple):
    """Effective friction in straights and in bends, and the sidewall factor over the pull's own."""

    straights: list[Any]
    bends: list[Any]
    walls: list[Any] | None

    @classmethod
    def of(cls, march: _March, given: Scenarios) -> _PerConduit:
        practice, factor = march.pull.practice, given.weight_factor
        omega = march.weight_factors if factor is None else factor
        full = [_shared(row) for row in given.friction * omega]
        bare = full
        if practice.weight_factor_in == "straights":
            bare = [_shared(row) for row in given.friction]
        walls = None
        if given.sidewall_factor is not None and practice.sidewall == "per cable":
            walls = [_shared(row) for row in given.sidewall_factor / march.sidewall_factors]
        return cls(full, bare, walls)

    def friction(self, step: _Step) -> Any:
        """K of a step, as it falls there; the sheave's own where there is one."""
        if step.sheave is not None:
            return step.sheave
        rows = self.straights if step.segment.kind == STRAIGHT else self.bends
        k = rows[step.conduit]
        return k if step.fall is None else step.fall.at(0, k)

    def share(self, step: _Step) -> Any:
        """Sidewall pressure over tension, 1/m."""
        return step.share if self.walls is None else step.share * self.walls[step.conduit]


class _Ahead:
    """The rope ahead of the heads asked for: a row for each head that has been passed.

    With one friction of the rope for all scenarios the rows wait at the joint behind their heads:
    from there the machine load depends on the tension alone, and is read from a curve.
    """

    def __init__(self, march: _March, count: int, friction: Any) -> None:
        heads, rope = march.heads, march.pull.run.rope
        self.rows = None if heads is None else np.empty((len(heads), count))
        self.steps, self.method = march.steps, march.pull.practice.method
        self.friction, self.weight = friction, 0.0 if rope is None else rope.weight
        self.waits = not isinstance(friction, np.ndarray) and count >= _WORTH_CURVES
        self.passed = 0

    def friction_at(self, step: _Step) -> Any:
        """Friction of the rope along a step."""
        return self.friction if step.sheave is None else step.sheave

    def pass_step(self, step: _Step, weight: Any, k: Any, t: Floats) -> None:
        """Carry the rows over one step, and begin those of its heads; ``t`` N is the cable's."""
        if self.rows is None:
            return
        mu = self.friction_at(step)
        if self.passed and not self.waits:
            rows = self.rows[: self.passed]
            each = np.tile(mu, self.passed) if isinstance(mu, np.ndarray) else mu
            flat = through_piece(step.segment, self.weight, each, rows.ravel(), "exact")
            rows[:] = flat.reshape(rows.shape)
        whole = Whole(0, np.empty(0), step.segment)
        size = step.segment.length if step.segment.kind == STRAIGHT else step.segment.bend.angle
        for number, at in step.heads:
            begin = t if at == 0.0 else through_part(whole, 0.0, at, weight, k, t, self.method)
            rest = size - at
            self.rows[number] = through_part(whole, at, rest, self.weight, mu, begin, "exact")
            self.passed = number + 1

    def table(self, end: Floats, lead_off: Any) -> Floats | None:
        """The machine loads (m, k); heads at the pulling end have the cable's own tension."""
        if self.rows is None:
            return None
        if self.waits and self.passed:
            self._carry_waiting(self.rows)
        self.rows[self.passed :] = end
        self.rows *= lead_off
        return self.rows

    def _carry_waiting(self, rows: Floats) -> None:
        """Carry the rows that wait at the joints to the end."""
        waiting = {}
        for i, step in enumerate(self.steps):
            if step.heads:
                waiting[i + 1] = rows[step.heads[0][0] : step.heads[-1][0] + 1]
        curves = self._curves(waiting)
        for joint, some in waiting.items():
            at = joint
            while True:
                curve = curves[at]
                some[:] = curve.at(some)
                if curve.to == len(self.steps):
                    break
                step = self.steps[curve.to]
                through = through_piece(
                    step.segment, self.weight, self.friction_at(step), some.ravel(), "exact"
                )
                some[:], at = through.reshape(some.shape), curve.to + 1

    def _curves(self, waiting: dict[int, Floats]) -> dict[int, _Curve]:
        """From each joint a curve to the end, or to where the next one is no smooth curve."""
        count, first = len(self.steps), min(waiting)
        low, high = math.inf, -math.inf
        ranges = {}
        for i in range(first, count):
            if i in waiting:
                low, high = min(low, float(waiting[i].min())), max(high, float(waiting[i].max()))
            ranges[i] = low, high
            step = self.steps[i]
            along = step.segment, self.weight, self.friction_at(step)
            low, high = (through_segment(*along, t, "exact") for t in (low, high))
        curves = {count: _Curve(count, 0.0, 1.0, None)}
        for i in reversed(range(first, count)):
            step, after = self.steps[i], curves[i + 1]
            middle, half = sum(ranges[i]) / 2, (ranges[i][1] - ranges[i][0]) / 2
            tension = middle + half * _CURVE_POINTS
            through = after.at(
                through_piece(step.segment, self.weight, self.friction_at(step), tension, "exact")
            )
            curves[i] = _Curve.through(after.to, middle, half, through) or _Curve(i, 0.0, 1.0, None)
        return curves


class _Curve(NamedTuple):
    """Tension at joint ``to`` over that at a joint before: a polynomial of (t - middle)/half.

    Without ``powers``, highest first, it is the tension itself.
    """

    to: int
    middle: float
    half: float
    powers: list[float] | None

    @classmethod
    def through(cls, to: int, middle: float, half: float, values: Floats) -> _Curve | None:
        """The curve through values at `_CURVE_POINTS`; None where it is none to rounding."""
        known, tried = values[:_CURVE_DEGREE], values[_CURVE_DEGREE:]
        largest = float(np.abs(values).max())
        coefficients = _TO_CHEBYSHEV @ known
        if not np.abs(_AT_TRIED @ coefficients - tried).max() <= _CURVE_ERROR * largest:
            return None
        kept = np.flatnonzero(np.abs(coefficients) > 1e-14 * largest)
        coefficients = coefficients[: kept[-1] + 1] if kept.size else coefficients[:1]
        powers = chebyshev.cheb2poly(coefficients)[::-1].tolist()
        return cls(to, middle, half if half > 0.0 else 1.0, powers)

    def at(self, t: Floats) -> Floats:
        """Tension at the other joint."""
        if self.powers is None:
            return t
        x = (t - self.middle) / self.half
        value = np.full_like(x, self.powers[0])
        for power in self.powers[1:]:
            value *= x
            value += power
        return value


def _steps(pull: Pull, conduits: tuple[Conduit, ...], heads: Floats | None) -> list[_Step]:
    """Whole straights and bends where the pull looks at every joint, else all its pieces."""
    way, reverse = pull.course, pull.reverse
    count = len(pull.path)
    owners = pull.profile.segment[::2]
    owners = count - 1 - owners if reverse else owners
    first = np.concatenate(([0], np.flatnonzero(np.diff(owners)) + 1, [len(owners)]))
    phase = pull.rope_phase
    looked = np.arange(len(owners) + 1) if phase is None else phase.joints
    by_look = len(looked) <= len(owners)
    fine = pieces_of(way.walked)
    order = slice(None, None, -1) if reverse else slice(None)
    mu, on_sheave = way.friction[order].tolist(), way.on_sheave[order].tolist()
    fall = way.walked_fall
    rows = {conduit: i for i, conduit in enumerate(conduits)}
    legs = [rows[conduit] for conduit in pull.run.route.conduits]
    whole = pull.path.reversed() if reverse else pull.path
    walked = way.walked if by_look else whole
    starts = np.arange(len(owners)) if by_look else first[:-1]
    at_head = set(looked.tolist())
    asked = _places(walked, heads, way.stations[0])
    steps = []
    for i, (segment, start) in enumerate(zip(pieces_of(walked), starts.tolist(), strict=True)):
        looks = None
        if not by_look and segment.kind == ARC:
            span = slice(start, int(first[i + 1]))
            looks = _looks(segment, fine[span], way.walked.normals[span, 2])
        steps.append(
            _Step(
                segment,
                int(owners[start]),
                legs[int(walked.leg[i])],
                mu[start] if on_sheave[start] else None,
                float(pull.pressing[start]),
                None if fall is None else fall.of(slice(start, start + 1)),
                looks,
                start in at_head,
                asked.get(i, []),
            )
        )
    return steps


def _places(walked: Path, heads: Floats | None, feed: float) -> dict[int, list[tuple[int, float]]]:
    """By segment: the heads along it, and how far into it, m or rad; at a corner behind it."""
    found: dict[int, list[tuple[int, float]]] = {}
    if heads is None:
        return found
    pulled = np.abs(heads - feed)
    if np.any(np.diff(pulled) < 0):
        raise ValueError("heads must be in pulling order")
    segments = np.searchsorted(walked.stations, pulled + 2e-9, side="right") - 1
    for number, i in enumerate(segments.tolist()):
        if i < len(walked):
            into = float(pulled[number] - walked.stations[i])
            into = 0.0 if into <= 2e-9 else into
            place = into / float(walked.radii[i]) if walked.kind[i] == ARC else into
            found.setdefault(i, []).append((number, place))
    return found


def _looks(segment: MarchSegment, pieces: list[MarchSegment], normals: Floats) -> _Looks | None:
    """The looks in a bend cut into ``pieces``, with n_z at the start of each; None without any."""
    if len(pieces) == 1:
        return None
    bend, inside = segment.bend, normals[1:].tolist()
    # The height gained along an arc is R times the fall of n_z.
    return _Looks(
        pieces,
        bend.nz[-1] - min(inside),
        max(inside) - bend.nz[0],
        lowest_slope(bend),
        -lowest_slope(bend._replace(tz=[-x for x in bend.tz], nz=[-x for x in bend.nz])),
        highest_normal(bend),
    )


def _may_exceed(
    step: _Step,
    method: str,
    weight: Any,
    k: Any,
    t: Floats,
    end: Floats,
    line: Floats,
    rope: float | None,
    k_rope: Any,
) -> NDArray[np.int64]:
    """Scenarios in which a look inside a bend may exceed both ends, of cable or machine load.

    Tension that once gains more by friction than gravity takes grows all along the bend, and no
    look has more than ``end`` + w R drop. Where the cable's grows faster than the rope's, no rope
    begun inside the bend is the worst; nor where the line followed is tighter than any look.
    """
    falls = isinstance(k, FallingFriction)
    k = k.then if falls else k
    looks, bend = step.looks, step.segment.bend
    assert looks is not None
    exact, scale = method == "exact", weight * bend.radius
    gain, normal = (looks.lowest, looks.normal) if exact else (0.0, 0.0)
    grows: Any = True
    most, may = end, np.zeros(1, dtype=np.bool_)
    if gain < 0.0:
        grows = k * (t - scale * normal) >= -gain * scale
        if looks.drop > 0.0 and not np.all(grows):
            above = np.where(grows, 0.0, scale * looks.drop)
            most = end + above
            may = (above > 0.0) & (most > np.maximum(t, end) * (1.0 + _ROUNDING))
            if not falls:
                may &= _turns_down(looks, bend, scale, k, t, end)
    if rope is not None:
        hung = rope * bend.radius
        if exact:
            slope = np.minimum(looks.lowest * (scale - hung), looks.highest * (scale - hung))
        else:
            slope = -hung * max(looks.highest, 0.0)
        faster = (k - k_rope) * t - k * scale * normal + (slope - k_rope * hung) >= 0.0
        faster &= (k >= k_rope) & grows
        if not np.all(faster):
            top = most + hung * max(looks.fall, 0.0)
            may = may | (~faster & (top > line * (1.0 + _ROUNDING)))
    return np.flatnonzero(np.broadcast_to(may, t.shape))


def _turns_down(looks: _Looks, bend: Bend, scale: Any, k: Any, t: Floats, end: Floats) -> Any:
    """Whether tension may rise and then fall in a bend, where its slope t_z + K |q|/w tells.

    Where the slope is zero it changes by n_z + K t_z y/|q|. On the way down over a crest (t_z and
    n_z below zero) that is negative, so the slope turns at most once, from rise to fall. On the way
    down into a sag, in a vertical plane, it is negative only while y > 0 and n_z < -K t_z, which is
    over once it is over: so a slope that begins with a fall turns at most once, to rise.
    """
    level = 1e-12  # what a level or upright end of a bend is known to
    if looks.highest > level:
        return True
    if looks.normal <= level:
        first, last = t / scale - bend.nz[0], end / scale - bend.nz[-1]
        b2 = bend.b * bend.b
        rises = bend.tz[0] + k * np.sqrt(first * first + b2) > 0.0
        return rises & (bend.tz[-1] + k * np.sqrt(last * last + b2) < 0.0)
    if bend.b == 0.0 and min(bend.nz[0], bend.nz[-1]) >= -level:
        return bend.tz[0] + k * (t / scale - bend.nz[0]) > 0.0
    return True


def _look(
    looks: _Looks,
    method: str,
    own: tuple[Any, Any, Any],
    rope: float | None,
    which: NDArray[np.int64],
    t: Floats,
    line: Floats,
    most: Floats,
    after: Floats,
) -> None:
    """Carry the scenarios ``which`` from look to look; ``most`` and ``after`` take what is more."""
    weight, k, k_rope = own
    tension, high, worst = t[which], most[which], line[which]
    for piece in looks.pieces:
        if rope is not None:
            worst = np.maximum(worst, tension)
            worst = through_piece(piece, rope, k_rope, worst, "exact")
        tension = through_piece(piece, weight, k, tension, method)
        high = np.maximum(high, tension)
    most[which] = high
    if rope is not None:
        after[which] = np.maximum(after[which], worst)


def _shared(row: Floats) -> Any:
    """A row of one value as a float, so that it is worked with once."""
    return float(row[0]) if row.size == 1 else row


def _pick(value: Any, which: NDArray[np.int64]) -> Any:
    if isinstance(value, FallingFriction):
        return FallingFriction(*(_pick(each, which) for each in value))
    return value[which] if isinstance(value, np.ndarray) and value.ndim else value
