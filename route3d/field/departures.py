"""Departures from the plan, called while they happen: one reading in, what is known out.

A reading is what the model expects, plus an offset, plus the correlated noise of ``field.noise``.
True friction is never quite that of the plan, so a mismatch that grows as the head passes bends
is no jump: the ratio of every friction to its plan, the reel tension, the offset and the footage
are carried as unknowns by an extended Kalman filter, and only what none of them explains is a
departure.

A jump is looked for at every recent reading at once by the generalized likelihood ratio test of
A. S. Willsky and H. L. Jones (A generalized likelihood ratio approach to the detection and
estimation of jumps in linear systems, IEEE Trans. Automatic Control 21, 1976, 108-112, from
memory): what a unit jump there would have added to every surprise since is carried along, and the
surprises are fitted with it. Memory does not grow: the filter, and the few onsets within
``LOOK_BACK``.

The rule is the same in the browser. It never replaces the limiter, the operator or the word that
stops.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from route3d.field.expected import ExpectedLoad, expected_load
from route3d.field.noise import Noise
from route3d.field.readings import PullLog
from route3d.geometry.vectors import Floats, frozen
from route3d.mechanics.pull import Pull

Kind = Literal["jump", "slow climb", "offset", "drop", "pulsing"]

LOOK_BACK, ONSETS = 4.6, 24
"""A jump is looked for this far back (m), and at no more readings than this."""
EVIDENCE, BEYOND_ONE = 9.0, 2.0
"""Log likelihood ratio of a jump that is called, and how much of it one wild reading must leave."""
LEAST_STEPS, LEAST_SHARE = 2.0, 0.09
"""The smallest jump that is called: dial steps, and share of the load expected."""
CLIMB_STEPS, CLIMB_SHARE, CLIMB_OVER = 3.0, 0.15, 8.0
"""A mean difference from the plan, over this many m, that is called: dial steps and share."""
SWINGS, SWING_EVIDENCE, SWING_MOST, TURNS = 16, 3.5, 9.0, 6
"""Readings looked at for pulsing, their mean squared surprise where each counts up to so much, and
the fewest turns up or down."""
SWING_STEPS = 3.0
"""The smallest swing from crest to trough that is pulsing, dial steps."""
JUMPS, JUMPS_WITHIN, OVER_SWING = 2, 15.0, 1.5
"""So many jumps within so many m before another, that lead back to where they began, are pulsing; a
jump in pulsing that is called is so many times the swings."""
GROSS = 8.0
"""A surprise of so many standard deviations is kept from the filter until the next reading: two
alike are a jump at once, one alone is a wild reading."""
NOTHING = 0.2
"""Share of the load expected below which two readings in a row are a drop to nothing."""


@dataclass(frozen=True, slots=True)
class Departure:
    """Where the readings leave the plan: from ``start`` to ``end`` m of cable in, by ``size`` N.

    "jump" up (or down, below 0) at once; "slow climb" of the mean away from the plan; "offset" the
    same all along; "drop" to nothing; "pulsing" by ``size`` from crest to trough. ``called`` m is
    where that was known, ``evidence`` the log likelihood ratio against no such departure.
    """

    kind: Kind
    start: float
    end: float
    size: float
    called: float
    evidence: float


def nearly_nothing(reading: ArrayLike, expected: ArrayLike, step: float) -> NDArray[np.bool_]:
    """True where the rope carries next to nothing though a load of several marks is expected."""
    told = np.asarray(expected)
    return np.asarray((told >= 2.0 * LEAST_STEPS * step) & (np.asarray(reading) <= NOTHING * told))


def usual_noise(step: float) -> Noise:
    """The noise of a dial with marks ``step`` N apart: half a mark, forgotten over 3.75 m.

    25 lbf with a correlation of 0.85 over 2 ft for marks of 50 lbf. Own judgement, no source.
    """
    return Noise(0.5 * step, 3.75, step)


# --- what is expected, and how it changes -------------------------------------------------------

# Standard deviations of a friction over its plan: common to all, and of one conduit besides; of the
# rope, of the reel tension, of the offset in dial steps, of the footage in m. Own judgement.
_COMMON, _OWN, _ROPE, _REEL, _OFFSET, _FOOTAGE = 0.3, 0.15, 0.35, 0.5, 2.0, 0.3
# How far a ratio, and the footage (m), wander over 1 m of cable, standard deviations.
_WANDER, _WANDER_FOOTAGE = 0.0015, 0.004
# The tables hold the load with each figure at these ratios to the plan.
_LOW, _HIGH = 0.7, 1.4
_BOUNDS = (0.2, 3.0)
# A squared surprise counts up to this for the scale; its mean is then 0.974, by the normal law.
_WILD, _CAPPED = 6.0, 0.974


@dataclass(frozen=True, eq=False)
class LoadResponse:
    """The load at the machine, and how it answers to what may differ from the plan.

    ``places`` (m,) m of cable in; ``plan`` (m,) N expected there. The p figures in ``names`` have
    ratios r to the plan: ln((load + ``floor``) / (plan + ``floor``)) is the sum of
    ``first`` (p, m) times r - 1 and ``second`` (p, m) times (r - 1)². ``spread`` (p, p) is their
    covariance before the first reading.
    """

    places: Floats
    plan: Floats
    names: tuple[str, ...]
    first: Floats
    second: Floats
    spread: Floats
    floor: float

    def __post_init__(self) -> None:
        for name in ("places", "plan", "first", "second", "spread"):
            object.__setattr__(self, name, frozen(np.asarray(getattr(self, name), np.float64)))

    def at(self, pulled: float, change: Floats) -> tuple[float, Floats, float]:
        """Load N, its slopes (p,) N per ratio, and N per m of cable; ``change`` (p,) is r - 1."""
        last = len(self.places) - 2
        i = min(max(int(np.searchsorted(self.places, pulled, side="right")) - 1, 0), last)
        gap = float(self.places[i + 1] - self.places[i])
        t = min(max((pulled - float(self.places[i])) / gap, 0.0), 1.0)
        x = np.clip(change, _BOUNDS[0] - 1.0, _BOUNDS[1] - 1.0)
        ends = self.first[:, i : i + 2] + np.outer(x, [1.0, 1.0]) * self.second[:, i : i + 2]
        raised = (self.plan[i : i + 2] + self.floor) * np.exp(x @ ends)
        first = ends + np.outer(x, [1.0, 1.0]) * self.second[:, i : i + 2]
        load = float(raised[0] + t * (raised[1] - raised[0]))
        each = raised * first
        slopes = each[:, 0] + t * (each[:, 1] - each[:, 0])
        return load - self.floor, slopes, float(raised[1] - raised[0]) / gap

    def planned(self, pulled: float) -> float:
        """The load of the plan, N."""
        return float(np.interp(pulled, self.places, self.plan))


def load_response(expected: ExpectedLoad, step: float) -> LoadResponse:
    """The response at the places of ``expected``, by its full model; ``step`` N of the dial."""
    c = len(expected.conduits)
    names = (*(f"friction:{n}" for n in expected.conduits), "rope", "reel")
    ratios = np.ones((c + 2, 2 * (c + 2) + 1))
    for j in range(c + 2):
        ratios[j, 1 + 2 * j : 3 + 2 * j] = _LOW, _HIGH
    reel = max(expected.reel_tension, 2.0 * step)
    loads = expected.loads(
        expected.friction[:, None] * ratios[:c],
        expected.rope_friction * ratios[c],
        expected.reel_tension + reel * (ratios[c + 1] - 1.0),
    )
    plan = loads[:, 0]
    floor = 4.0 * step
    low, high = (np.log((loads[:, k::2] + floor) / (plan + floor)[:, None]).T for k in (1, 2))
    a, b = _LOW - 1.0, _HIGH - 1.0
    second = (high / b - low / a) / (b - a)
    first = low / a - second * a
    spread = np.diag([*(_OWN**2,) * c, _ROPE**2, _REEL**2])
    spread[:c, :c] += _COMMON**2
    return LoadResponse(expected.pulled, plan, names, first, second, spread, floor)


# --- the filter ---------------------------------------------------------------------------------


class State(NamedTuple):
    """All that is kept between readings: q = p + 3 figures, ``mean`` (q,) and ``cov`` (q, q).

    In order: correlated noise N, offset N, footage m, and the p ratios less 1. For w onsets:
    ``onset`` (w,) m, ``added`` (w, 2, q) what a jump of 1 N there, and a wild reading of 1 N, have
    added to ``mean``, ``top`` and ``weight`` (w, 2) the sums of their fits. ``recent`` are the last
    surprises: where, over their standard deviation, and N; ``scale`` is their mean square. ``low``
    counts readings near nothing; ``excess`` N is the mean difference from the plan since the last
    jump or change of brake, fading, and ``over`` the weight of it in all; ``jumped`` N what was
    called a jump, ``jumps`` the last ones (where, N, and N away from the plan then); ``gross`` a
    surprise N that waits for the next reading, and where; ``open`` what is called now.
    """

    mean: Floats
    cov: Floats
    onset: Floats
    added: Floats
    top: Floats
    weight: Floats
    at: float = math.nan
    scale: float = 1.0
    recent: tuple[tuple[float, float, float], ...] = ()
    low: int = 0
    excess: float = 0.0
    over: float = 0.0
    jumped: float = 0.0
    jumps: tuple[tuple[float, float, float], ...] = ()
    gross: tuple[float, float] | None = None
    open: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class Detector:
    """What readings are held against: ``response`` of the model, ``noise`` of the gauge."""

    response: LoadResponse
    noise: Noise

    def start(self) -> State:
        """Before the first reading."""
        q = len(self.response.names) + 3
        cov = np.zeros((q, q))
        cov[0, 0], cov[1, 1] = self.noise.sigma**2, (_OFFSET * self.noise.step) ** 2
        cov[2, 2], cov[3:, 3:] = _FOOTAGE**2, self.response.spread
        none = np.zeros((0, 2))
        return State(np.zeros(q), cov, np.zeros(0), np.zeros((0, 2, q)), none, none)

    def step(self, state: State, at: float, reading: float) -> tuple[State, tuple[Departure, ...]]:
        """The state after ``reading`` N, tare off, with ``at`` m of cable in, and what it calls."""
        gone = 0.0 if math.isnan(state.at) else abs(at - state.at)
        state = self._carried(state, at, gone)
        load, slopes, rate = self.response.at(at + float(state.mean[2]), state.mean[3:])
        expected = load + float(state.mean[0] + state.mean[1])
        state, drop = self._dropped(state, at, reading, expected)
        if state.low:
            return state, drop
        h = np.array([1.0, 1.0, rate, *slopes])
        total = float(h @ state.cov @ h) + self.noise.rounding
        away = reading - self.response.planned(at)
        surprise = reading - expected
        alike = state.gross is not None and 0.5 < surprise / state.gross[1] < 2.0
        if alike or abs(surprise) > GROSS * math.sqrt(total):
            return self._gross(state, at, surprise, total, away, alike=alike)
        state = _fitted(state._replace(gross=None), at, h, surprise, total)
        state, jump = self._jumped(state, at, expected, away)
        state, pulsing = _pulsed(state, at, self.noise.step)
        state, climb = self._climbed(state, at, reading, gone)
        return state, jump + pulsing + climb

    def loosened(self, state: State, kind: str) -> State:
        """The state after an event that may change the load: "brake", "lubricant", "start", "gear".

        What it may have changed is free again, so that its effect is no departure.
        """
        cov = state.cov.copy()
        cov[1, 1] += (_OFFSET * self.noise.step) ** 2
        if kind == "brake":
            k = 3 + self.response.names.index("reel")
            cov[k, k] += _REEL**2
            state = state._replace(excess=0.0, over=0.0)
        if kind == "lubricant":
            cov[3:, 3:] += self.response.spread / 4.0
        return _without_onsets(state._replace(cov=cov))

    def _carried(self, state: State, at: float, gone: float) -> State:
        """The state carried on by ``gone`` m, before anything is read there."""
        rho = math.exp(-gone / self.noise.reach)
        mean, cov, added = state.mean.copy(), state.cov.copy(), state.added.copy()
        mean[0] *= rho
        cov[0] *= rho
        cov[:, 0] *= rho
        added[..., 0] *= rho
        cov[0, 0] += (1.0 - rho**2) * self.noise.sigma**2
        wander = [0.0, 0.0, _WANDER_FOOTAGE, *(_WANDER,) * len(self.response.names)]
        cov[np.diag_indices_from(cov)] += np.square(wander) * gone
        near = state.onset >= at - LOOK_BACK
        near[: max(0, len(near) - ONSETS)] = False
        kept = (x[near] for x in (state.onset, added, state.top, state.weight))
        onset, added, top, weight = kept
        return state._replace(
            mean=mean, cov=cov, onset=onset, added=added, top=top, weight=weight, at=at
        )

    def _dropped(
        self, state: State, at: float, reading: float, expected: float
    ) -> tuple[State, tuple[Departure, ...]]:
        """Two readings in a row near nothing; such readings teach nothing of friction.

        Nothing beside the plan too: where a snag lets go, the load falls to what it should be.
        """
        least = min(expected, self.response.planned(at))
        if not nearly_nothing(reading, least, self.noise.step):
            return state._replace(low=0), ()
        state = state._replace(low=state.low + 1)
        if state.low != 2:
            return state, ()
        evidence = 0.5 * (expected - reading) ** 2 / (self.noise.sigma**2 + self.noise.rounding)
        return state, (Departure("drop", at, at, reading - expected, at, evidence),)

    def _gross(
        self, state: State, at: float, surprise: float, total: float, away: float, *, alike: bool
    ) -> tuple[State, tuple[Departure, ...]]:
        """A surprise far beyond all noise: the second one alike is a jump, the first one waits."""
        seen = (*state.recent, (at, surprise / math.sqrt(total), surprise))[-SWINGS:]
        before, state = state.gross, state._replace(recent=seen, gross=(at, surprise))
        if before is None or not alike:
            return _pulsed(state, at, self.noise.step)
        mean, cov, size = state.mean.copy(), state.cov.copy(), 0.5 * (surprise + before[1])
        mean[1] += size
        cov[1, 1] += total
        jump = Departure("jump", before[0], at, size, at, 0.5 * size**2 / total)
        return self._called(state._replace(mean=mean, cov=cov, gross=None), jump, away)

    def _jumped(
        self, state: State, at: float, expected: float, away: float
    ) -> tuple[State, tuple[Departure, ...]]:
        """The likeliest jump of late if large and sure enough; from then on it is an offset."""
        both = 0.5 * state.top**2 / state.weight / max(state.scale, 1.0)
        evidence, sure = both[:, 0], both[:, 0] - both[:, 1] > BEYOND_ONE
        size = state.top[:, 0] / state.weight[:, 0]
        least = max(LEAST_STEPS * self.noise.step, LEAST_SHARE * expected)
        found = sure & (evidence > EVIDENCE) & (np.abs(size) >= least)
        if not found.any():
            return state, ()
        k = int(np.argmax(np.where(found, evidence, -1.0)))
        way = -state.added[k, 0]
        way[1] += 1.0
        mean = state.mean + size[k] * way
        cov = state.cov + np.outer(way, way) / state.weight[k, 0]
        jump = Departure("jump", float(state.onset[k]), at, float(size[k]), at, float(evidence[k]))
        return self._called(state._replace(mean=mean, cov=cov), jump, away)

    def _called(
        self, state: State, jump: Departure, away: float
    ) -> tuple[State, tuple[Departure, ...]]:
        """A jump that is taken in as an offset; called, unless it is one of many to and fro."""
        at, swing = jump.called, float(np.ptp([each[2] for each in state.recent]))
        near = [each for each in state.jumps if at - each[0] <= JUMPS_WITHIN]
        jumped = state.jumped + jump.size
        state = _without_onsets(state._replace(jumped=jumped, excess=0.0, over=0.0))
        state = state._replace(jumps=(*near, (at, jump.size, away))[-JUMPS:])
        if "pulsing" in state.open:
            return state, ((jump,) if abs(jump.size) > OVER_SWING * swing else ())
        moved = abs(jump.size) + sum(abs(size) for _, size, _ in near[1:])
        if len(near) < JUMPS or abs(away - near[0][2]) > 0.5 * moved:
            return state._replace(recent=()), (jump,)
        pulsing = Departure("pulsing", near[0][0], at, swing, at, jump.evidence)
        return state._replace(open=(*state.open, "pulsing")), (pulsing,)

    def _climbed(
        self, state: State, at: float, reading: float, gone: float
    ) -> tuple[State, tuple[Departure, ...]]:
        """A mean difference from the plan, and not by jumps alone: the same, or growing."""
        plan, noise = self.response.planned(at), self.noise
        kept = math.exp(-gone / CLIMB_OVER)
        excess = kept * state.excess + (1.0 - kept) * (reading - plan)
        over = kept * state.over + 1.0 - kept
        state = state._replace(excess=excess, over=over)
        least = max(CLIMB_STEPS * noise.step, CLIMB_SHARE * plan)
        rest = excess - over * state.jumped
        called = [k for k in state.open if k in ("offset", "slow climb")]
        if called:
            closed = over > 0.5 and abs(rest) < 0.5 * over * least
            return state._replace(open=_but(state.open, *called) if closed else state.open), ()
        if min(abs(rest), abs(excess)) < least or rest * excess < 0.0:
            return state, ()
        offset = float(state.mean[1]) - state.jumped
        kind: Kind = "offset" if offset / rest > 0.5 else "slow climb"
        spread = noise.sigma**2 * noise.reach / CLIMB_OVER + noise.rounding
        evidence = 0.5 * rest**2 / spread
        found = Departure(kind, at - CLIMB_OVER, at, excess / over, at, evidence)
        return state._replace(open=(*state.open, kind)), (found,)


def _fitted(state: State, at: float, h: Floats, surprise: float, total: float) -> State:
    """The state with a ``surprise`` N of variance ``total`` taken in, for each onset too."""
    gain = state.cov @ h / total
    added = np.concatenate((state.added, np.zeros((1, 2, len(gain)))))
    share = np.tile([1.0, 0.0], (len(added), 1)) - added @ h  # of 1 N, what this surprise shows
    share[-1] = 1.0
    each = surprise / math.sqrt(total)
    held = min(each**2, _WILD) / _CAPPED
    return state._replace(
        mean=state.mean + gain * surprise,
        cov=state.cov - np.outer(gain, gain) * total,
        onset=np.append(state.onset, at),
        added=added + share[..., None] * gain,
        top=np.concatenate((state.top, np.zeros((1, 2)))) + share * surprise / total,
        weight=np.concatenate((state.weight, np.zeros((1, 2)))) + share**2 / total,
        scale=state.scale + (held - state.scale) / SWINGS,
        recent=(*state.recent, (at, each, surprise))[-SWINGS:],
    )


def _pulsed(state: State, at: float, step: float) -> tuple[State, tuple[Departure, ...]]:
    """Surprises that are large and turn from up to down and back, again and again."""
    if len(state.recent) < SWINGS:
        return state, ()
    places, each, swings = np.array(state.recent).T
    strength = float(np.mean(np.minimum(each**2, SWING_MOST)))
    turns = int(np.count_nonzero(np.diff(np.sign(np.diff(swings)))))
    if "pulsing" in state.open:
        calm = strength < 0.5 * SWING_EVIDENCE
        return state._replace(open=_but(state.open, "pulsing") if calm else state.open), ()
    swing = float(np.ptp(swings))
    if strength < SWING_EVIDENCE or turns < TURNS or swing < SWING_STEPS * step:
        return state, ()
    evidence = 0.5 * SWINGS * (strength - 1.0 - math.log(strength))
    found = Departure("pulsing", float(places[0]), at, swing, at, evidence)
    return state._replace(open=(*state.open, "pulsing")), (found,)


def _but(names: tuple[str, ...], *gone: str) -> tuple[str, ...]:
    return tuple(name for name in names if name not in gone)


def _without_onsets(state: State) -> State:
    none = np.zeros((0, 2))
    empty = np.zeros((0, 2, len(state.mean)))
    return state._replace(onset=np.zeros(0), added=empty, top=none, weight=none)


# --- a whole log --------------------------------------------------------------------------------

# The response is worked out this often (m), and where bends begin and end.
_TABLE_STEP = 0.3


def detector(pull: Pull, step: float, noise: Noise | None = None) -> Detector:
    """What the readings of ``pull`` on a dial with marks ``step`` N apart are held against."""
    length = pull.path.length
    joints = np.abs(pull.path.stations - (length if pull.reverse else 0.0))
    even = np.linspace(0.0, length, max(2, math.ceil(length / _TABLE_STEP) + 1))
    places = np.unique(np.round(np.concatenate((even, joints)), 6).clip(0.0, length))
    expected = expected_load(pull, places[np.append(True, np.diff(places) > 1e-3)])
    return Detector(load_response(expected, step), noise or usual_noise(step))


def detect(detector: Detector, log: PullLog) -> tuple[Departure, ...]:
    """All departures of a log, in the order they were called, as they would have been called."""
    state, events = detector.start(), list(log.events)
    found: list[Departure] = []
    for i in np.flatnonzero(log.used).tolist():
        while events and events[0].pulled <= log.pulled[i]:
            state = detector.loosened(state, events.pop(0).kind)
        state, called = detector.step(state, float(log.pulled[i]), float(log.load[i] - log.tare))
        found += called
    return tuple(found)
