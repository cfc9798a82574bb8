"""What explains a log: causes that compete for the same residuals, and which cannot be told apart.

Each cause is one figure that differs from the plan (friction of a conduit, of one bend, of all, of
the rope; reel tension; an offset; a jump at a place; what changed at an event; pulsing), with a
normal prior of mean zero. The load is the full pull model at every trial, never a sum of effects.
Noise is that of ``field.noise``. Causes are taken in one at a time, the likeliest first, as long as
each is worth it; sets are weighed by their evidence in Laplace's approximation (D. J. C. MacKay,
Information Theory, Inference, and Learning Algorithms, 2003, section 28.1, from memory), which
makes a cause pay for what it could have explained. Then each cause is put out and every other is
tried in its place: those that do as well cannot be told apart from it by this log.

In a true pull several figures are off at once. So all conduits, rope and reel together are a cause
too, weighed as all others are; where it does as well as the best set without it, it stands in that
set. No interval takes the other figures to be known: each is taken as far off as before the log.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Generator, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from route3d.field.expected import ExpectedLoad, expected_load
from route3d.field.noise import Noise, log_likelihood
from route3d.field.readings import Event
from route3d.geometry.path import ARC
from route3d.geometry.vectors import Floats
from route3d.mechanics.feed import feed_factor
from route3d.mechanics.pull import Pull

CauseKind = Literal[
    "friction", "all friction", "bend", "rope friction", "reel tension", "offset", "jump",
    "event", "brake", "lubricant", "pulsing", "drop", "several", "reel change",
]  # fmt: skip
WORTH = 3.0
"""ln of the odds at which one more cause is taken in: 20 to 1."""
AS_GOOD = 3.0
"""ln of the odds within which another cause cannot be told apart: 20 to 1."""
MOST_CAUSES = 6


@dataclass(frozen=True, slots=True)
class Cause:
    """One thing that explains readings: ``size`` with its 95 % interval ``low`` to ``high``.

    Of friction a ratio to the plan, of all others N ("reel tension", "reel change" and "brake":
    more than the plan's, summed; "pulsing": from crest to trough, every ``period`` m; "several":
    NaN). It acts from ``start`` to ``end`` m of cable in. ``name`` is the conduit, the bend or the
    event; ``most`` N the largest change of a reading it makes. ``share`` is its probability among
    those that explain the same readings. ``written`` N is the brake that the log writes there.
    """

    kind: CauseKind
    name: str
    start: float
    end: float
    size: float
    low: float
    high: float
    most: float
    share: float
    period: float = math.nan
    written: float = math.nan


@dataclass(frozen=True, slots=True)
class Explanation:
    """Causes of the same readings, the likeliest first; ``odds`` is ln of the odds against none."""

    causes: tuple[Cause, ...]
    odds: float

    @property
    def told(self) -> bool:
        """True where the log tells its cause from all others."""
        return len(self.causes) == 1


# --- the candidates -------------------------------------------------------------------------------


class Candidate(NamedTuple):
    """A cause to try: columns of the model, and how far they may lie from the plan.

    ``spread`` is the standard deviation of the figure of each column before any reading, ``prior``
    the ln of the odds for it. It can act from ``start`` to ``end`` m of cable in.
    """

    kind: CauseKind
    name: str
    start: float
    end: float
    columns: tuple[int, ...]
    spread: tuple[float, ...]
    prior: float
    period: float = math.nan
    written: float = math.nan


# Standard deviation of each figure before any reading: ratios to the plan; for the rest dial
# steps, or half of what the readings are off; and the odds for all causes of a kind. Own judgment.
_SPREAD = {
    "friction": 0.35, "all friction": 0.35, "bend": 0.5, "rope friction": 0.35, "lubricant": 0.35,
}  # fmt: skip
_SPREAD_STEPS = 4.0
_ODDS = {
    "friction": 0.3, "all friction": 0.3, "bend": 0.2, "rope friction": 0.1, "reel tension": 0.2,
    "offset": 0.2, "jump": 0.2, "event": 0.3, "brake": 0.4, "lubricant": 0.2, "pulsing": 0.1,
    "several": 0.6, "reel change": 0.1,
}  # fmt: skip
# Where several figures are off, each is by less: of conduits and rope, of the reel tension; and
# what is left of an offset where the gauge was read at rest, in dial steps. Own judgment.
_SPREAD_EACH, _SPREAD_REEL, _SPREAD_TARED = 0.25, 0.5, 0.5
_LEAST = 0.05  # no friction falls below this share of the plan
# Periods of a swing that is looked for: the longest (m), at most so many, each half a turn from the
# next over the whole log.
_LONGEST, _PERIODS = 12.0, 240
# A jump is looked for at so many places, and at each reading so near (m) to one that was called.
_JUMPS, _BESIDE = 48, 3.0
# A change of the brake is looked for at the first so many jumps; a jump leaves so many readings.
_SILENT, _FEWEST = 3, 2


@dataclass(frozen=True, eq=False)
class Trial:
    """The model of a log with every candidate in it, at n readings with ``at`` (n,) m of cable in.

    ``load`` (n,) N as read, tare off. ``expected`` is worked out at m places, close in bends; a
    load is a straight line between, which along a straight conduit it is. Of the q figures, 0 for
    the plan, the first p go through the pull model: friction of each conduit, of each bend
    (``bend_of`` (s,) of each segment, 0 for none), of all, rope, reel tension, and one for each of
    ``events``; ``added`` (n, q - p) are the patterns of the others.
    """

    expected: ExpectedLoad
    at: Floats
    load: Floats
    bend_of: NDArray[np.int64]
    events: tuple[Event, ...]
    added: Floats
    candidates: tuple[Candidate, ...]

    @property
    def modeled(self) -> int:
        """The number p of figures that go through the pull model."""
        bends = int(self.bend_of.max())
        return len(self.expected.conduits) + bends + 3 + len(self.events)

    @property
    def count(self) -> int:
        """The number q of figures."""
        return int(self.modeled + self.added.shape[1])

    def loads(self, x: Floats) -> Floats:
        """The readings (n,) N without noise, for figures ``x`` (q,)."""
        return self.loads_and_slopes(x, ())[0]

    def loads_and_slopes(self, x: Floats, columns: Sequence[int]) -> tuple[Floats, Floats]:
        """The readings (n,) N for ``x`` (q,), and their change per unit of each of ``columns``."""
        return self.all_loads_and_slopes([(x, columns)])[0]

    def all_loads_and_slopes(
        self, asked: Sequence[tuple[Floats, Sequence[int]]]
    ) -> list[tuple[Floats, Floats]]:
        """As ``loads_and_slopes`` for each of ``asked``, in one march along the route."""
        moved = [self._moved(x, columns) for x, columns in asked]
        made = self._pulled(np.hstack(moved))
        ends = np.cumsum([each.shape[1] for each in moved])[:-1]
        parts = np.split(made, ends, axis=1)
        return [self._sloped(*each, part) for each, part in zip(asked, parts, strict=True)]

    def _moved(self, x: Floats, columns: Sequence[int]) -> Floats:
        """The modeled figures of ``x``, and with a trifle more and less of each of ``columns``."""
        each = [k for k in columns if k < self.modeled]
        moved = np.repeat(x[: self.modeled, None], 1 + 2 * len(each), axis=1)
        for i, k in enumerate(each):
            moved[k, 1 + 2 * i : 3 + 2 * i] += np.array([1.0, -1.0]) * self.trifle[k]
        return moved

    def _sloped(self, x: Floats, columns: Sequence[int], made: Floats) -> tuple[Floats, Floats]:
        """Readings and slopes from what the pull model made of the figures of ``_moved``."""
        p, each = self.modeled, [k for k in columns if k < self.modeled]
        slopes = np.zeros((len(self.at), len(columns)))
        for i, k in enumerate(each):
            slopes[:, columns.index(k)] = made[:, 1 + 2 * i] - made[:, 2 + 2 * i]
            slopes[:, columns.index(k)] /= 2.0 * self.trifle[k]
        rest = [i for i, k in enumerate(columns) if k >= p]
        slopes[:, rest] = self.added[:, [columns[i] - p for i in rest]]
        return made[:, 0] + self.added @ x[p:], slopes

    @cached_property
    def trifle(self) -> Floats:
        """A small change of each figure that goes through the pull model, (p,)."""
        small = np.ones(self.modeled)
        for one in self.candidates:
            for k in one.columns:
                if k < self.modeled:
                    small[k] = 1e-3 * one.spread[one.columns.index(k)]
        return small

    def _pulled(self, x: Floats) -> Floats:
        """The part of the pull model, (n, k) N, for its figures ``x`` (p, k)."""
        told = self.expected
        c, b = len(told.conduits), int(self.bend_of.max())
        every, rope, reel = x[c + b : c + b + 3]
        conduit = np.maximum(1.0 + x[:c] + every, _LEAST)[told.owner]
        bend = np.vstack((np.ones((1, x.shape[1])), np.maximum(1.0 + x[c : c + b], _LEAST)))
        ratios = conduit * bend[self.bend_of]
        made = plain = self._model(ratios, rope, reel)
        for event, change in zip(self.events, x[c + b + 3 :], strict=True):
            after, on = (told.pulled >= event.pulled)[:, None], np.flatnonzero(change)
            if not len(on):
                continue
            own = ratios[:, on], rope[on], reel[on]
            made = made.copy()
            if event.kind == "brake":
                grown = self._model(own[0], own[1], own[2] + change[on]) - plain[:, on]
                made[:, on] += after * grown
            else:
                grown = self._model(np.maximum(own[0] + change[on], _LEAST), *own[1:])
                grown = grown - plain[:, on]
                since = min(int(np.argmax(after[:, 0])), len(grown) - 1)
                made[:, on] += after * (grown - grown[since])
        return _between(self.at, told.pulled, made)

    def _model(self, ratios: Floats, rope: Floats, reel: Floats) -> Floats:
        """Machine load (m, k) N; ``rope`` (k,) ratios less 1, ``reel`` (k,) N more than planned."""
        told = self.expected
        tension = np.maximum(told.reel_tension + reel, 0.0) * feed_factor(told.pull.run)
        friction = told.rope_friction * np.maximum(1.0 + rope, _LEAST)
        return told.track.machine_loads(ratios, friction, tension)


def trial_of(
    pull: Pull,
    at: Floats,
    load: Floats,
    step: float,
    events: Sequence[Event] = (),
    jumps: Sequence[float] = (),
    *,
    tared: bool = False,
) -> Trial:
    """All candidates for readings ``load`` (n,) N at ``at`` (n,) m in order of time.

    ``step`` N of the dial; ``jumps`` m are places at which a jump was called. ``tared`` where the
    gauge was read at rest, so that an offset is hardly possible.
    """
    length = pull.path.length
    bends = bend_stretches(pull)
    expected = expected_load(pull, _places(length, bends, events, _beside(at, jumps)))
    stretches = conduit_stretches(expected)
    walked = expected.track.walked
    numbers = {vertex: i for i, (_, _, _, vertex) in enumerate(bends, 1)}
    bend_of = np.array(
        [
            numbers.get(int(vertex), 0) if kind == ARC else 0
            for vertex, kind in zip(walked.vertex, walked.kind, strict=True)
        ],
        dtype=np.int64,
    )
    inner = [e for e in events if at[0] < e.pulled < at[-1]]
    physical = tuple(e for e in inner if e.kind in ("brake", "lubricant"))
    # a brake that was changed where a jump was called, and not written
    told = [e.pulled for e in physical if e.kind == "brake"]
    silent = tuple(
        Event("brake", place, math.nan)
        for place in _beside(at, jumps)
        if all(abs(place - x) > _BESIDE for x in told)
    )
    others = _apart([e for e in inner if e.kind not in ("brake", "lubricant", "note")])
    grid = np.linspace(at[0], at[-1], _JUMPS + 2)[1:-1]
    called = at[(np.abs(at[:, None] - np.asarray(jumps, np.float64)) < _BESIDE).any(axis=1)]
    places = np.unique(np.round(np.concatenate((called, grid)), 3))
    # one reading alone is no cause
    ahead = np.array([np.count_nonzero(at >= x - 1e-6) for x in places])
    places = places[(ahead >= _FEWEST) & (len(at) - ahead >= _FEWEST)]
    periods = _periods(at)
    turns = 2.0 * math.pi * at[:, None] / periods
    waves = np.stack((np.cos(turns), np.sin(turns)), axis=2).reshape(len(at), -1)
    added = np.hstack(
        (
            np.ones((len(at), 1)),
            *((at >= e.pulled).astype(np.float64)[:, None] for e in others),
            (at[:, None] >= places - 1e-6).astype(np.float64),
            waves,
        )
    )
    c, b = len(stretches), len(bends)
    away = load - np.interp(at, expected.pulled, expected.loads()[:, 0])
    many = max(_SPREAD_STEPS * step, 0.5 * float(np.abs(away).max()))

    def one(
        kind: CauseKind,
        name: str,
        columns: tuple[int, ...],
        start: float = 0.0,
        end: float = length,
        among: int = 1,
        period: float = math.nan,
        spread: float = math.nan,
        written: float = math.nan,
    ) -> Candidate:
        prior = math.log(_ODDS[kind] / among)
        spread = _SPREAD.get(kind, many) if math.isnan(spread) else spread
        each = (spread,) * len(columns)
        return Candidate(kind, name, start, end, columns, each, prior, period, written)

    def all_of() -> Iterator[Candidate]:
        for i, (name, start, end) in enumerate(stretches):
            yield one("friction", name, (i,), start, end)
        for i, (name, start, end, _) in enumerate(bends, c):
            yield one("bend", name, (i,), start, end, b)
        k = c + b
        if c > 1:
            yield one("all friction", "", (k,))
        yield one("rope friction", "", (k + 1,))
        yield one("reel tension", "", (k + 2,))
        for i, event in enumerate(physical, k + 3):
            kind: CauseKind = "brake" if event.kind == "brake" else "lubricant"
            yield one(kind, event.words, (i,), event.pulled, written=event.force)
        for i, event in enumerate(silent, k + 3 + len(physical)):
            # as likely at any place as a jump, though looked for only where one was called
            many_places, usual = len(places), max(expected.reel_tension, 2.0 * step)
            yield one("reel change", "", (i,), event.pulled, among=many_places, spread=usual)
        each = (*range(c), k + 1, k + 2)
        reel = max(_SPREAD_REEL * expected.reel_tension, _SPREAD_STEPS * step / 2.0)
        spread = (*(_SPREAD_EACH,) * (c + 1), reel)
        prior = math.log(_ODDS["several"])
        yield Candidate("several", "", 0.0, length, each, spread, prior)
        k += 3 + len(physical) + len(silent)
        yield one("offset", "", (k,), spread=_SPREAD_TARED * step if tared else math.nan)
        for i, event in enumerate(others, k + 1):
            yield one("event", event.kind, (i,), event.pulled)
        k += 1 + len(others)
        for i, place in enumerate(places.tolist(), k):
            yield one("jump", "", (i,), place, among=len(places))
        k += len(places)
        for i, period in enumerate(periods.tolist()):
            pair = (k + 2 * i, k + 2 * i + 1)
            yield one("pulsing", "", pair, among=len(periods), period=period)

    return Trial(expected, at, load, bend_of, (*physical, *silent), added, tuple(all_of()))


# The pull is worked out at so many places in each bend, and this often (m) between.
_IN_BEND, _APART = 7, 12.0


def _places(
    length: float,
    bends: Sequence[tuple[str, float, float, int]],
    events: Sequence[Event],
    jumps: Sequence[float],
) -> Floats:
    """Where the load is worked out (m,): it is a straight line between, or near enough."""
    even = np.linspace(0.0, length, max(2, math.ceil(length / _APART) + 1))
    inside = [np.linspace(start, end, _IN_BEND) for _, start, end, _ in bends]
    # just before an event and at it, for the load may jump there
    at = [*(e.pulled for e in events), *jumps]
    changed = [x - back for x in at if 0.1 < x < length for back in (0.02, 0.0)]
    places = np.sort(np.concatenate((even, *inside, np.array(changed))))
    return np.asarray(places[np.append(True, np.diff(places) > 0.01)])


def _beside(at: Floats, jumps: Sequence[float]) -> list[float]:
    """The readings at each of the first jumps and next to it, m of cable in."""
    near: set[float] = set()
    for place in jumps[:_SILENT]:
        i = int(np.argmin(np.abs(at - place)))
        near.update(at[max(i - 1, 0) : i + 2].tolist())
    return sorted(near)


def _periods(at: Floats) -> Floats:
    """The periods (m) that readings at ``at`` (n,) m can show, the longest first."""
    far = float(at.max() - at.min())
    gaps = np.abs(np.diff(at))
    gaps = gaps[gaps > 0]
    if far < 2.0 * _LONGEST or not len(gaps):
        return np.zeros(0)
    slow, fast = 1.0 / _LONGEST, 0.5 / float(np.median(gaps))
    count = min(_PERIODS, math.ceil(2.0 * far * max(fast - slow, 0.0)))
    return np.asarray(1.0 / np.linspace(slow, fast, count)) if count else np.zeros(0)


def _between(at: Floats, places: Floats, loads: Floats) -> Floats:
    """Loads (m, k) at ``places`` (m,) taken straight to ``at`` (n,): (n, k)."""
    i = (np.searchsorted(places, at, side="right") - 1).clip(0, len(places) - 2)
    t = ((at - places[i]) / (places[i + 1] - places[i]))[:, None]
    return np.asarray(loads[i] + t * (loads[i + 1] - loads[i]))


def conduit_stretches(expected: ExpectedLoad) -> list[tuple[str, float, float]]:
    """Each conduit with the cable in (m) at which the head enters and leaves it for good."""
    walked, found = expected.track.walked, []
    for i, name in enumerate(expected.conduits):
        own = np.flatnonzero(expected.owner == i)
        ends = walked.stations[[own[0], own[-1] + 1]] - walked.stations[0]
        start, end = np.abs(ends).tolist()
        found.append((name, start, end))
    return found


def bend_stretches(pull: Pull) -> list[tuple[str, float, float, int]]:
    """Each bend in pulling order: name, cable in (m) as the head enters and leaves it, vertex."""
    path = pull.path
    arcs = np.flatnonzero(path.kind == ARC)
    found = []
    for number, i in enumerate(arcs.tolist(), 1):
        vertex = int(path.vertex[i])
        ends = path.stations[i : i + 2]
        start, end = sorted((path.length - ends if pull.reverse else ends).tolist())
        found.append((pull.run.route.bend_label(number, vertex), start, end, vertex))
    return found[::-1] if pull.reverse else found


def _apart(events: list[Event]) -> list[Event]:
    """One event of those at the same footage, a stop and its start being one."""
    kept: list[Event] = []
    for event in sorted(events, key=lambda e: e.pulled):
        if not kept or event.pulled - kept[-1].pulled > _ONE_PLACE:
            kept.append(event)
        elif event.kind == "gear":
            kept[-1] = event
    return kept


_ONE_PLACE = 0.3  # m


# --- the competition ------------------------------------------------------------------------------


class _Fit(NamedTuple):
    """A set of candidates fitted: figures ``x`` (q,), evidence, covariance of the set's columns."""

    chosen: tuple[int, ...]
    x: Floats
    evidence: float
    cov: Floats


# Asks for loads and slopes of figures x (q,) by their columns, and ends in a fit.
_Fitting = Generator[tuple[Floats, Sequence[int]], tuple[Floats, Floats], _Fit]


@dataclass(frozen=True, eq=False)
class _Race:
    """Sets of causes weighed under one noise; ``white`` (n, n) makes residuals independent."""

    trial: Trial
    white: Floats

    def fit(self, chosen: Sequence[int], start: Floats) -> _Fit:
        """The set fitted, from the figures ``start`` (q,)."""
        return self.fits([chosen], start)[0]

    def fits(self, sets: Sequence[Sequence[int]], start: Floats) -> list[_Fit]:
        """Each set fitted as ``fit`` does; each step of all of them is one march of the model."""
        found: dict[int, _Fit] = {}
        going = {i: self._fitting(chosen, start) for i, chosen in enumerate(sets)}
        asked = {i: next(fitting) for i, fitting in going.items()}
        while asked:
            made = self.trial.all_loads_and_slopes(list(asked.values()))
            for i, answer in zip(list(asked), made, strict=True):
                try:
                    asked[i] = going[i].send(answer)
                except StopIteration as done:
                    found[i] = done.value
                    del asked[i]
        return [found[i] for i in range(len(sets))]

    def _fitting(self, chosen: Sequence[int], start: Floats) -> _Fitting:
        """Gauss and Newton, each step halved until it is better; asks for loads and slopes."""
        trial = self.trial
        columns, spread = self._columns(chosen)
        x = np.zeros(trial.count)
        x[columns] = start[columns]
        cost, surprise, slopes = self._cost(x, columns, spread, (yield x, columns))
        for _ in range(_MOST_STEPS):
            move = np.linalg.solve(
                np.eye(len(columns)) + slopes.T @ slopes, slopes.T @ surprise - x[columns] / spread
            )
            for share in (1.0, 0.5, 0.25, 0.1):
                there = x.copy()
                there[columns] += share * move * spread
                new = self._cost(there, columns, spread, (yield there, columns))
                if new[0] < cost:
                    break
            else:
                break
            gained, x, (cost, surprise, slopes) = cost - new[0], there, new
            if gained < _ENOUGH:
                break
        inverse = np.linalg.inv(np.eye(len(columns)) + slopes.T @ slopes)
        evidence = -cost + 0.5 * float(np.linalg.slogdet(inverse)[1])
        evidence += sum(trial.candidates[i].prior for i in chosen)
        return _Fit(tuple(chosen), x, evidence, inverse * np.outer(spread, spread))

    def uncertain(self, fit: _Fit, wanted: Sequence[int]) -> Floats:
        """Covariance of the ``wanted`` columns of a fitted set, no other figure taken as known."""
        columns, spread = self._columns(fit.chosen)
        several = next(one for one in self.trial.candidates if one.kind == "several")
        more = [(k, s) for k, s in zip(several.columns, several.spread, strict=True)]
        free = [(k, s) for k, s in more if k not in columns]
        columns = [*columns, *(k for k, _ in free)]
        spread = np.append(spread, [s for _, s in free])
        slopes = self.white @ (self.trial.loads_and_slopes(fit.x, columns)[1] * spread)
        inverse = np.linalg.inv(np.eye(len(columns)) + slopes.T @ slopes)
        at = [columns.index(k) for k in wanted]
        return np.asarray((inverse * np.outer(spread, spread))[np.ix_(at, at)])

    def gains(self, fit: _Fit) -> Floats:
        """What each candidate beside a fitted set adds to its evidence, to first order, (all,)."""
        trial = self.trial
        columns, spread = self._columns(fit.chosen)
        made, modeled = trial.loads_and_slopes(fit.x, range(trial.modeled))
        surprise = self.white @ (trial.load - made)
        slopes = np.hstack((self.white @ modeled, self.added))
        own = slopes[:, columns] * spread
        inverse = np.linalg.inv(np.eye(len(columns)) + own.T @ own)
        gains = np.full(len(trial.candidates), -math.inf)
        of_width: dict[int, list[int]] = defaultdict(list)
        for i, one in enumerate(trial.candidates):
            if i in fit.chosen or not set(columns).isdisjoint(one.columns):
                continue
            if one.kind == "jump" and self._one_reading(one.start, fit.chosen):
                continue
            of_width[len(one.columns)].append(i)
        for width, those in of_width.items():  # all of so many columns at once
            each = [trial.candidates[i] for i in those]
            new = slopes[:, [one.columns for one in each]] * [one.spread for one in each]
            new = new.transpose(1, 0, 2)  # (candidates, n, width)
            pull, across = surprise @ new, own.T @ new
            held = np.eye(width) + new.transpose(0, 2, 1) @ new
            held -= across.transpose(0, 2, 1) @ inverse @ across
            shift = (pull * np.linalg.solve(held, pull[..., None])[..., 0]).sum(axis=1)
            prior = np.array([one.prior for one in each])
            gains[those] = 0.5 * shift - 0.5 * np.linalg.slogdet(held)[1] + prior
        return gains

    @cached_property
    def added(self) -> Floats:
        """The patterns ``added`` of the trial, made independent, (n, q - p)."""
        return np.asarray(self.white @ self.trial.added)

    def _columns(self, chosen: Sequence[int]) -> tuple[list[int], Floats]:
        each = [self.trial.candidates[i] for i in chosen]
        columns = [k for one in each for k in one.columns]
        return columns, np.array([spread for one in each for spread in one.spread])

    def _one_reading(self, start: float, chosen: Sequence[int]) -> bool:
        """Whether fewer readings than make a cause lie between a jump and a chosen one."""
        trial, at = self.trial, self.trial.at
        others = [trial.candidates[i] for i in chosen]
        return any(
            np.count_nonzero((at >= min(start, x.start) - 1e-6) & (at < max(start, x.start) - 1e-6))
            < _FEWEST
            for x in others
            if x.kind in ("jump", "event", "reel change")
        )

    def _cost(
        self, x: Floats, columns: list[int], spread: Floats, answer: tuple[Floats, Floats]
    ) -> tuple[float, Floats, Floats]:
        """Minus the log of likelihood and prior, but for constants; the surprise and its slopes.

        ``answer`` is loads and slopes for ``x``.
        """
        made, slopes = answer
        surprise = self.white @ (self.trial.load - made)
        before = x[columns] / spread
        cost = 0.5 * float(surprise @ surprise + before @ before)
        return cost, surprise, self.white @ (slopes * spread)


_MOST_STEPS, _ENOUGH = 8, 0.02


def explain(trial: Trial, usual: Noise) -> tuple[tuple[Explanation, ...], Floats, Noise]:
    """What explains the readings, the likeliest first; the readings (n,) N so explained; the noise.

    ``usual`` is the noise expected of such a gauge; what the causes leave says which it was.
    """
    fit = _chosen(_Race(trial, _whitener(usual, trial.at)))
    noise = noise_of(usual, trial.at, trial.load - trial.loads(fit.x))
    race = _Race(trial, _whitener(noise, trial.at))
    fit = _chosen(race)
    made = trial.loads(fit.x)
    found = sorted((_told(race, fit, i) for i in fit.chosen), key=lambda e: -e.odds)
    return tuple(_let_go(list(_one_swing(found, fit, trial)))), made, noise


_ALIKE = 0.25  # a snag lets go where a fall is so near its rise, as a share of it


def _let_go(found: list[Explanation]) -> Iterator[Explanation]:
    """The explanations with a jump up and the like one down after it made one: a snag let go."""
    jumps = sorted(
        (e for e in found if e.causes[0].kind == "jump"), key=lambda e: e.causes[0].start
    )
    ends: dict[int, Explanation] = {}
    for up, down in pairwise(jumps):
        rise, fall = up.causes[0], down.causes[0]
        if rise.size > 0.0 and abs(rise.size + fall.size) <= _ALIKE * rise.size:
            ends[id(up)] = down
    gone = {id(e) for e in ends.values()}
    for one in found:
        if id(one) in ends:
            first, *others = one.causes
            snag = replace(first, end=ends[id(one)].causes[0].start)
            yield Explanation((snag, *others), one.odds)
        elif id(one) not in gone:
            yield one


def _one_swing(found: list[Explanation], fit: _Fit, trial: Trial) -> Iterator[Explanation]:
    """The explanations with all swings, which are harmonics of one, made one: the largest."""
    swings = [i for i in fit.chosen if trial.candidates[i].kind == "pulsing"]
    pulsing = [e for e in found if e.causes[0].kind == "pulsing"]
    x = np.zeros(trial.count)
    for i in swings:
        columns = list(trial.candidates[i].columns)
        x[columns] = fit.x[columns]
    for one in found:
        if one not in pulsing:
            yield one
        elif one is pulsing[0]:
            first = one.causes[0]
            all_of = float(np.ptp(trial.added @ x[trial.modeled :]))
            grown = all_of / first.size if len(swings) > 1 else 1.0
            figures = {k: getattr(first, k) * grown for k in ("size", "low", "high", "most")}
            yield Explanation((replace(first, **figures), *one.causes[1:]), one.odds)


def _chosen(race: _Race) -> _Fit:
    """The best set of causes: with several figures at once where that does as well.

    Not where only one figure is off and the rest of the set is the same: told apart later.
    """
    trial = race.trial
    several = next(i for i, one in enumerate(trial.candidates) if one.kind == "several")
    without = _taken_in(race, race.fit((), np.zeros(trial.count)), several)
    if not any(trial.candidates[i].kind in _FIGURES for i in without.chosen):
        return without
    together = _taken_in(race, race.fit((several,), np.zeros(trial.count)), several)
    return together if together.evidence > without.evidence - AS_GOOD else without


# Causes that several figures at once may take the place of.
_FIGURES = ("friction", "all friction", "bend", "rope friction", "reel tension", "offset")


def _taken_in(race: _Race, fit: _Fit, several: int) -> _Fit:
    """Causes taken in one at a time, and put out again where a later one makes them idle."""
    while len(fit.chosen) < MOST_CAUSES:
        gains = race.gains(fit)
        gains[several] = -math.inf
        tried = race.fits([(*fit.chosen, i) for i in _likeliest(gains, 4)], fit.x)
        best = max(tried, key=lambda f: f.evidence, default=fit)
        if best.evidence < fit.evidence + WORTH:
            break
        fit = _without_idle(race, best, several)
    return fit


def _likeliest(gains: Floats, most: int, below: float = 25.0) -> list[int]:
    order = np.argsort(-gains)[:most]
    return [int(i) for i in order if gains[i] > gains[order[0]] - below and gains[i] > 0.0]


def _without_idle(race: _Race, fit: _Fit, several: int) -> _Fit:
    fewer = [tuple(k for k in fit.chosen if k != i) for i in fit.chosen[:-1] if i != several]
    for less in race.fits(fewer, fit.x):
        if less.evidence > fit.evidence - WORTH:
            return _without_idle(race, less, several)
    return fit


def _told(race: _Race, fit: _Fit, chosen: int) -> Explanation:
    """A cause of a fitted set, with all that could stand in its place."""
    rest = tuple(k for k in fit.chosen if k != chosen)
    without = race.fit(rest, fit.x)
    others = [i for i in _likeliest(race.gains(without), 8, math.inf) if i != chosen]
    instead = race.fits([(*rest, i) for i in others], without.x)
    fits = [fit, *instead]
    weights = np.array([f.evidence for f in fits])
    kept: list[_Fit] = []
    for f in [fit, *sorted(instead, key=lambda f: -f.evidence)]:
        if f.evidence > weights.max() - AS_GOOD and not _same(race.trial, kept, f):
            kept.append(f)
    share = np.exp([f.evidence - weights.max() for f in kept])
    share /= share.sum()
    causes = [
        _cause(race, f, chosen if f is fit else f.chosen[-1], float(p))
        for f, p in zip(kept, share, strict=True)
    ]
    causes.sort(key=lambda cause: -cause.share)
    return Explanation(tuple(causes), max(0.0, float(weights.max()) - without.evidence))


def _same(trial: Trial, kept: list[_Fit], fit: _Fit) -> bool:
    """Jumps at neighboring places, and swings of neighboring periods, are one cause."""
    new = trial.candidates[fit.chosen[-1]]
    olds = [trial.candidates[f.chosen[-1]] for f in kept]
    if kept:  # the first is the set itself, whose cause in question is not its last
        olds[0] = trial.candidates[next(i for i in kept[0].chosen if i not in fit.chosen[:-1])]
    return any(
        old.kind == new.kind
        and (
            new.kind == "pulsing"
            or (new.kind in ("jump", "reel change") and abs(old.start - new.start) < _NEAR)
        )
        for old in olds
    )


_NEAR = 6.0  # m


def _cause(race: _Race, fit: _Fit, chosen: int, share: float) -> Cause:
    trial = race.trial
    one = trial.candidates[chosen]
    without = fit.x.copy()
    without[list(one.columns)] = 0.0
    effect = trial.loads(fit.x) - trial.loads(without)
    most = float(effect[int(np.argmax(np.abs(effect)))])
    cov = race.uncertain(fit, one.columns)
    base = 1.0 if one.kind in _SPREAD else 0.0
    if one.kind == "several":
        size = spread = math.nan
    elif one.kind == "pulsing":
        size = 2.0 * float(np.hypot(*fit.x[list(one.columns)]))
        spread = 2.0 * math.sqrt(float(np.trace(cov)) / 2.0)
    else:
        size, spread = base + float(fit.x[one.columns[0]]), math.sqrt(float(cov[0, 0]))
    low, high = (size + z * 1.96 * spread for z in (-1.0, 1.0))
    return Cause(
        one.kind, one.name, one.start, one.end, size, low, high, most, share, one.period,
        one.written,
    )  # fmt: skip


# --- the noise ------------------------------------------------------------------------------------


def _whitener(noise: Noise, at: Floats) -> Floats:
    """The matrix (n, n) that makes residuals at ``at`` (n,) m independent with variance 1."""
    apart = np.abs(at[:, None] - at)
    covariance = noise.sigma**2 * np.exp(-apart / noise.reach)
    covariance[np.diag_indices_from(covariance)] += noise.rounding + 1e-6 * noise.sigma**2
    return np.asarray(np.linalg.inv(np.linalg.cholesky(covariance)))


# Standard deviations of ln(sigma) and ln(reach) about those of the usual noise. Own judgment.
_SIGMA_SPREAD, _REACH_SPREAD = 0.8, 0.7


def noise_of(usual: Noise, at: Floats, residual: Floats) -> Noise:
    """The likeliest noise of ``residual`` (n,) N at ``at`` (n,) m, near ``usual``."""

    def height(noise: Noise) -> float:
        away = math.log(noise.sigma / usual.sigma) / _SIGMA_SPREAD
        far = math.log(noise.reach / usual.reach) / _REACH_SPREAD
        fitting = float(log_likelihood(noise, at, residual[:, None])[0])
        return fitting - 0.5 * (away**2 + far**2)

    best, width = usual, 2.0
    for _ in range(5):
        near = [
            replace(best, sigma=best.sigma * width**i, reach=best.reach * width**j)
            for i in (-1, 0, 1)
            for j in (-1, 0, 1)
        ]
        found = max(near, key=height)
        width = width if found != best else math.sqrt(width)
        best = found
    return best
