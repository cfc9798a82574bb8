"""What the gauge will read at every place ahead, from the readings so far.

An ensemble of scenarios, each a friction for every conduit and for the rope, a reel tension, and a
noise. Within a scenario a reading is the load of the tables, times one and a level, plus a tare,
plus correlated, rounded noise (``field.noise``): level, tare and noise enter in straight
proportion, so that a Kalman filter in each scenario knows them exactly (Rao and Blackwell's way:
C. P. Robert, G. Casella, Monte Carlo Statistical Methods, 2004, section 4.2, from memory). Every
reading changes what a scenario weighs by its likelihood in that filter. When few of them count, new
ones are drawn from what those that count have in common, wider and with long tails, and each is
given the weight that it would have had it been there from the first reading (iterated batch
importance sampling: N. Chopin, A sequential particle filter method for static models, Biometrika
89, 2002, 539-551, from memory). A jump that is called opens level and tare of every scenario from
there on: the readings since say how much of it is either. The loads of
a scenario come from the tables of ``field.response``, so that this takes about a tenth of a second;
``viewer/web/app/forecast.js`` does the same in the browser.

A forecast is no permission: it never replaces the limiter, the operator or the word that stops.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from route3d.field.departures import Departure
from route3d.field.judgment import Limits
from route3d.field.readings import Event
from route3d.field.response import Prior, Response, prior_of, response
from route3d.geometry.vectors import Floats
from route3d.planning.pull_plan.plan import Plan
from route3d.planning.pull_plan.stops import FirstMoves

SCENARIOS = 2000
FEW, ENOUGH = 200, 400
"""Scenarios that count, below which new ones are drawn, and with how many that is enough."""
LIKELY, POSSIBLE = 0.5, 0.1
"""Shares of the scenarios that make an event likely, and possible."""
BAND = (0.05, 0.95)
"""The band of the forecast: nine readings of ten lie within."""
ONE_PLACE, MOST_READINGS = 0.25, 600
"""Readings within so much cable (m) are one; on a long route so many remain."""
_ROUNDS, _WIDER, _TAILS = 5, 1.3, 8
# A reading which so few of the scenarios come near to waits for so many more like it.
_DOUBTFUL, _BEYOND, _WAITING = 1e-3, 4.5, 3
# What a jump leaves open: how much of it grows with the load, and how well its size is known.
_GROWS, _GROWS_SPREAD, _JUMP_SPREAD = 0.5, 0.5, 0.2
# Friction is not quite the same all along a conduit: the level wanders by so much over 1 m of cable
# (standard deviation, as the root of the length).
_WANDERS = 0.002
_KNOWN_BRAKE = 0.1  # how well a brake force that was written down is known, as a share


@dataclass(frozen=True, eq=False)
class Weighed:
    """The filter of each of k scenarios after the reading ``at`` m, and their log weights, (k,).

    ``mean`` (3, k) and ``cov`` (3, 3, k) of noise N, tare N, and level, a share of the load.
    """

    mean: Floats
    cov: Floats
    logs: Floats
    at: float = math.nan

    @property
    def weights(self) -> Floats:
        """What each scenario weighs, of 1 in all."""
        each = np.exp(self.logs - self.logs.max())
        weights: Floats = each / each.sum()
        return weights

    @property
    def counting(self) -> float:
        """How many scenarios of even weight would say as much."""
        return float(1.0 / np.square(self.weights).sum())


@dataclass(frozen=True, eq=False)
class Known:
    """A normal distribution of scenarios and their filters, after a reading ``at`` m.

    ``mean`` (d,) and ``cov`` (d, d) of a scenario; the filter of a scenario x has the mean
    ``filter_mean`` (3,) + ``slope`` (3, d) @ (x - mean) and the covariance ``filter_cov`` (3, 3).
    """

    mean: Floats
    cov: Floats
    filter_mean: Floats
    slope: Floats
    filter_cov: Floats
    at: float = math.nan


@dataclass(frozen=True, eq=False)
class Forecast:
    """All that is known after some readings.

    ``known`` is what was known before them, ``scenarios`` (d, k), one row for each name of the
    prior, ``loads`` (m, k) N at the heads of the response. ``base`` are the filters and weights
    before the readings, ``now`` after them. ``readings`` are (place m, load N, False), with a jump
    that was called (place m, size N, True) before the first of those that show it. ``held`` are
    readings that no scenario explains.
    """

    known: Known
    scenarios: Floats
    loads: Floats
    base: Weighed
    now: Weighed
    readings: tuple[tuple[float, float, bool], ...] = ()
    held: tuple[tuple[float, float, bool], ...] = ()
    pulled: float = 0.0
    draws: int = 1


@dataclass(frozen=True, eq=False)
class Ahead:
    """The readings to come, at n places from here to the end.

    ``pulled`` (n,) m, ``mid`` (n,) N what half of the scenarios stay below, ``low`` and ``high``
    (n,) N the band of nine readings of ten. ``peak`` N is the largest of ``mid``, at ``peak_at`` m.
    ``stop_at`` m is where Stop is likely to be passed, ``stop_from`` m where one scenario in ten
    has passed it, ``chance`` the share that ever does, ``last_safe`` m the last safe place to stop
    before ``stop_from``; ``caution_at`` m where Caution is likely to be passed. None where that is
    not to be expected, or where there is no such place. ``ends_above`` is true where the last
    reading is forecast above Stop. ``counting`` is the number of scenarios that count.
    """

    pulled: Floats
    low: Floats
    mid: Floats
    high: Floats
    peak: float
    peak_at: float
    stop_at: float | None
    stop_from: float | None
    caution_at: float | None
    chance: float
    last_safe: float | None
    ends_above: bool
    counting: float


@dataclass(frozen=True, eq=False)
class Forecaster:
    """What does not change during a pull; the same ``seed`` gives the same forecast."""

    response: Response
    prior: Prior
    limits: Limits
    moves: FirstMoves
    seed: int = 13
    count: int = SCENARIOS

    @staticmethod
    def of(plan: Plan, gauge_step: float, *, seed: int = 13, count: int = SCENARIOS) -> Forecaster:
        """The forecaster of one plan; ``gauge_step`` N is that of the dial."""
        tables = response(plan.pull)
        prior, limits = prior_of(plan, tables, gauge_step), Limits.of(plan.gauge)
        return Forecaster(tables, prior, limits, plan.pace.moves, seed, count)

    @property
    def length(self) -> float:
        """Cable in with the head at the end, m."""
        return float(self.response.pulled[-1])

    @cached_property
    def wide(self) -> float:
        """Readings within so much cable are one, m."""
        return max(ONE_PLACE, self.length / MOST_READINGS)

    # --- one thing after another ----------------------------------------------------------------

    def start(self) -> Forecast:
        """Before the first reading."""
        return self._started

    @cached_property
    def _started(self) -> Forecast:
        prior = self.prior
        d = len(prior.mean)
        first = np.diag([0.0, prior.tare**2, prior.scale**2])  # the noise: each scenario's own
        known = Known(prior.mean, prior.cov, np.zeros(3), np.zeros((3, d)), first)
        return self._fresh(known, 0.0, 0)

    def read(self, known: Forecast, pulled: float, load: float) -> Forecast:
        """With one more reading, tare off. One with less cable in than the last is not used.

        Readings within ``wide`` of each other are better joined to one before.
        """
        place = min(max(pulled, 0.0), self.length)
        if known.readings and place < known.readings[-1][0]:
            return known
        now, near = self._weighed(known, place, load)
        doubtful = near < _DOUBTFUL and bool(known.readings)
        if doubtful and len(known.held) < _WAITING:
            return replace(known, held=(*known.held, (place, load, False)), pulled=place)
        held = known.held if doubtful else ()
        readings = (*known.readings, *held, (place, load, False))
        more = replace(known, now=now, readings=readings, held=(), pulled=place)
        return self._drawn_anew(self._reread(more, more.base) if held else more)

    def after(self, known: Forecast, event: Event) -> Forecast:
        """After an event that changes the load: the brake, or lubricant.

        What was learned stays, as a normal distribution; what may have changed is free again.
        """
        if event.kind not in ("brake", "lubricant"):
            return known
        mean, cov = _joint_moments(known.scenarios, known.now)
        first, names = self.prior.cov, self.prior.names
        if event.kind == "brake":
            k = names.index("reel")
            cov[k, :] = cov[:, k] = 0.0
            cov[k, k] = 2.0 * first[k, k]
            if event.force > 0:
                mean[k] = math.log(event.force / self.prior.reel)
                cov[k, k] = _KNOWN_BRAKE**2
        else:
            c = names.index("rope")
            cov[:c, :c] += first[:c, :c] / 2.0
        d = len(names)
        slope: Floats = np.asarray(np.linalg.solve(cov[:d, :d], cov[:d, d:]).T, dtype=np.float64)
        rest = cov[d:, d:] - slope @ cov[:d, d:]
        learned = Known(mean[:d], cov[:d, :d], mean[d:], slope, rest, known.now.at)
        return self._fresh(learned, known.pulled, known.draws)

    def departed(self, known: Forecast, found: Departure) -> Forecast:
        """After a jump was called: part of it stays the same, part grows with the load.

        From where it began on, level and tare are free for it.
        """
        if found.kind != "jump":
            return known
        readings = (*known.readings, *known.held)
        count = sum(r[0] < found.start - 1e-9 for r in readings)
        jump = (found.start, found.size, True)
        all_ = (*readings[:count], jump, *readings[count:])
        return self._drawn_anew(self._reread(replace(known, readings=all_, held=()), known.base))

    # --- what lies ahead ------------------------------------------------------------------------

    def ahead(self, known: Forecast) -> Ahead:
        """The readings to come, with as many scenarios of even weight."""
        heads = self.response.pulled
        places = np.concatenate(([known.pulled], heads[heads > known.pulled + 1e-6]))
        chosen = _evenly(known.now.weights)
        each, now = known.scenarios[:, chosen], known.now
        noise, tare, level = now.mean[:, chosen] + _drawn_of(now.cov[..., chosen], self._draws[:3])
        far = places - places[0] if math.isnan(now.at) else places - now.at
        wander = _WANDERS * np.sqrt(np.maximum(far, 0.0))[:, None] * self._draws[3]
        clean = self._between(known.loads[:, chosen], places) * (1.0 + level + wander) + tare
        gone = _faded(places[:, None] - now.at, each[-1])
        spread = np.sqrt((1 - gone**2) * np.exp(2 * each[-2]) + self.prior.step**2 / 12.0)
        read = clean + gone * noise + spread * self._draws[4 : 4 + len(places)]
        low, high = np.maximum(_quantiles(read, BAND), 0.0)
        mid = _quantiles(clean, (0.5,))[0]
        stops, cautions = self.limits.stops(places), self.limits.cautions(places)
        passed = _first_passed(places, clean - stops[:, None])
        stop_from = _place_at(passed, POSSIBLE)
        return Ahead(
            pulled=places,
            low=low,
            mid=mid,
            high=high,
            peak=float(mid.max()),
            peak_at=float(places[mid.argmax()]),
            stop_at=_place_at(passed, LIKELY),
            stop_from=stop_from,
            caution_at=_place_at(_first_passed(places, clean - cautions[:, None]), LIKELY),
            chance=float(np.isfinite(passed).mean()),
            last_safe=None if stop_from is None else self.moves.last_safe(known.pulled, stop_from),
            ends_above=bool(mid[-1] >= stops[-1]),
            counting=known.now.counting,
        )

    def learned(self, known: Forecast) -> tuple[Floats, Floats]:
        """Mean (d,) and standard deviation (d,) of what a scenario is made of."""
        mean, cov = _moments(known.scenarios, known.now.weights)
        return mean, np.sqrt(np.diag(cov))

    # --- scenarios and their weights ------------------------------------------------------------

    def _fresh(self, known: Known, pulled: float, draws: int) -> Forecast:
        """All that is known is a normal distribution."""
        random = np.random.default_rng((self.seed, draws))
        normal = random.standard_normal((len(known.mean), self.count))
        scenarios = known.mean[:, None] + _root(known.cov) @ normal
        base = _unread(known, scenarios, np.zeros(self.count))
        loads = self._loads(scenarios)
        return Forecast(known, scenarios, loads, base, base, pulled=pulled, draws=draws + 1)

    def _loads(self, scenarios: Floats) -> Floats:
        c = len(self.response.expected.conduits)
        ratios = np.exp(scenarios[: c + 2])
        return self.response.loads(ratios[:c], ratios[c], self.prior.reel * ratios[c + 1])

    def _between(self, loads: Floats, places: Floats) -> Floats:
        """Loads at places (n,) m from those at the heads, (n, k) N."""
        heads = self.response.pulled
        i = np.clip(np.searchsorted(heads, places, side="right") - 1, 0, len(heads) - 2)
        share = ((places - heads[i]) / (heads[i + 1] - heads[i]))[:, None]
        between: Floats = loads[i] + share * (loads[i + 1] - loads[i])
        return between

    def _weighed(self, known: Forecast, place: float, load: float) -> tuple[Weighed, float]:
        """After one reading, and what the scenarios weigh that come near to it."""
        clean = self._between(known.loads, np.array([place]))[0]
        after, squared = _filtered(known.scenarios, known.now, self.prior.step, place, clean, load)
        return after, float(known.now.weights[squared < _BEYOND**2].sum())

    def _drawn_anew(self, known: Forecast) -> Forecast:
        """Where too few count: new scenarios like them, with the weight of all the readings."""
        if known.now.counting >= FEW:
            return known
        root = _root(known.known.cov)
        for _ in range(_ROUNDS):
            mean, cov = _moments(known.scenarios, _tempered(known.now).weights)
            cov = _WIDER * cov + 1e-6 * np.diag(np.diag(known.known.cov))
            random = np.random.default_rng((self.seed, known.draws))
            scenarios, drawn = _student(mean, _root(cov), self.count, random)
            before = _normal_density(scenarios, known.known.mean, root)
            base = _unread(known.known, scenarios, before - drawn)
            loads, draws = self._loads(scenarios), known.draws + 1
            made = replace(known, scenarios=scenarios, loads=loads, base=base, draws=draws)
            known = self._reread(made, base)
            if known.now.counting >= ENOUGH:
                break
        return known

    def _reread(self, known: Forecast, state: Weighed) -> Forecast:
        """The scenarios with the weight of all the readings, from the ``state`` before them."""
        places = np.array([at for at, _, _ in known.readings])
        clean = self._between(known.loads, places)
        step = self.prior.step
        for (at, load, jump), each in zip(known.readings, clean, strict=True):
            if jump:
                state = _jumped(known.scenarios, state, at, each, load)
            else:
                state, _ = _filtered(known.scenarios, state, step, at, each, load)
        return replace(known, now=state)

    @cached_property
    def _draws(self) -> Floats:
        """Normal numbers for every place, the same at every call."""
        random = np.random.default_rng((self.seed, 2**31))
        return random.standard_normal((len(self.response.pulled) + 5, self.count))


# --- one reading ----------------------------------------------------------------------------------


def _unread(known: Known, scenarios: Floats, logs: Floats) -> Weighed:
    """The filters before the first reading."""
    count = scenarios.shape[1]
    mean = known.filter_mean[:, None] + known.slope @ (scenarios - known.mean[:, None])
    cov = np.repeat(known.filter_cov[:, :, None], count, axis=2)
    if math.isnan(known.at):
        cov[0, 0] = np.exp(2.0 * scenarios[-2])
    return Weighed(mean, cov, logs, known.at)


def _faded(distance: Floats | float, log_reach: Floats) -> Floats:
    """What is left of the noise after so much cable; nothing is known before the first reading."""
    far = np.abs(np.where(np.isnan(distance), np.inf, distance))
    left: Floats = np.exp(-far * np.exp(-log_reach))
    return left


def _carried(scenarios: Floats, state: Weighed, place: float) -> tuple[Floats, Floats]:
    """Mean (3, k) and covariance (3, 3, k) of the filters at ``place`` m, before it is read."""
    mean, cov = state.mean.copy(), state.cov.copy()
    if not math.isnan(state.at):
        gone = np.exp(-abs(place - state.at) * np.exp(-scenarios[-1]))
        mean[0] *= gone
        cov[0] *= gone
        cov[:, 0] *= gone
        cov[0, 0] += (1.0 - gone**2) * np.exp(2.0 * scenarios[-2])
        cov[2, 2] += _WANDERS**2 * abs(place - state.at)
    return mean, cov


def _filtered(
    scenarios: Floats, state: Weighed, step: float, place: float, clean: Floats, load: float
) -> tuple[Weighed, Floats]:
    """The step of a Kalman filter in each scenario, ``clean`` (k,) N of the tables at ``place``.

    Also the squared surprise over its variance, (k,).
    """
    mean, cov = _carried(scenarios, state, place)
    across = cov[:, 0] + cov[:, 1] + clean * cov[:, 2]
    total = across[0] + across[1] + clean * across[2] + step**2 / 12.0
    surprise = load - clean - (mean[0] + mean[1] + clean * mean[2])
    gain = across / total
    squared = surprise**2 / total
    logs = state.logs - 0.5 * (np.log(2.0 * math.pi * total) + squared)
    return Weighed(mean + gain * surprise, cov - gain[:, None] * across, logs, place), squared


def _jumped(scenarios: Floats, state: Weighed, place: float, clean: Floats, size: float) -> Weighed:
    """A jump by ``size`` N at ``place``: part of it in the tare, part in the level."""
    mean, cov = _carried(scenarios, state, place)
    share = size / np.maximum(clean, abs(size))
    mean[1] += (1.0 - _GROWS) * size
    mean[2] += _GROWS * share
    loose = _GROWS_SPREAD**2
    cov[1, 1] += (loose + _JUMP_SPREAD**2) * size**2
    cov[1, 2] -= loose * size * share
    cov[2, 1] -= loose * size * share
    cov[2, 2] += loose * share**2
    return Weighed(mean, cov, state.logs, place)


# --- distributions --------------------------------------------------------------------------------


def _moments(scenarios: Floats, weights: Floats) -> tuple[Floats, Floats]:
    mean = scenarios @ weights
    apart = scenarios - mean[:, None]
    return mean, (apart * weights) @ apart.T


def _joint_moments(scenarios: Floats, now: Weighed) -> tuple[Floats, Floats]:
    """Of scenarios and their filters together, (d + 3,) and (d + 3, d + 3)."""
    d, weights = len(scenarios), now.weights
    mean, cov = _moments(np.concatenate((scenarios, now.mean)), weights)
    cov[d:, d:] += now.cov @ weights
    return mean, cov


def _drawn_of(cov: Floats, normal: Floats) -> Floats:
    """Points of normal distributions about 0 with covariances (3, 3, k), from ``normal`` (3, k)."""
    diagonal = np.einsum("iik->ik", cov)
    even = cov + 1e-9 * np.eye(3)[:, :, None] * (diagonal + 1e-12)
    root = np.linalg.cholesky(np.moveaxis(even, 2, 0))
    points: Floats = np.einsum("kij,jk->ik", root, normal)
    return points


def _root(cov: Floats) -> Floats:
    """The lower triangle whose product with its transpose is ``cov``."""
    small = np.diag(np.maximum(np.diag(cov), 1e-12)) * 1e-12
    return np.asarray(np.linalg.cholesky((cov + cov.T) / 2 + small), dtype=np.float64)


def _student(
    mean: Floats, root: Floats, count: int, random: np.random.Generator
) -> tuple[Floats, Floats]:
    """Points (d, k) of Student's distribution, and their log density up to a constant, (k,)."""
    d = len(mean)
    normal = random.standard_normal((d, count)) * np.sqrt(_TAILS / random.chisquare(_TAILS, count))
    logs = -(_TAILS + d) / 2.0 * np.log1p((normal**2).sum(axis=0) / _TAILS)
    return mean[:, None] + root @ normal, logs


def _normal_density(points: Floats, mean: Floats, root: Floats) -> Floats:
    """Log density of a normal distribution at points (d, k), up to a constant, (k,)."""
    each = np.linalg.solve(root, points - mean[:, None])
    logs: Floats = -0.5 * (each**2).sum(axis=0)
    return logs


def _tempered(state: Weighed) -> Weighed:
    """Log weights held back so far that enough scenarios count."""
    low, high = 0.0, 1.0
    if state.counting >= FEW:
        return state
    for _ in range(30):
        middle = (low + high) / 2
        few = replace(state, logs=state.logs * middle).counting < FEW
        low, high = (low, middle) if few else (middle, high)
    return replace(state, logs=state.logs * low)


def _evenly(weights: Floats) -> NDArray[np.int64]:
    """Numbers (k,) of as many scenarios, all of even weight: those of more weight several times."""
    count = len(weights)
    at = np.searchsorted(np.cumsum(weights), (np.arange(count) + 0.5) / count)
    return np.minimum(at, count - 1)


def _quantiles(values: Floats, shares: tuple[float, ...]) -> Floats:
    """Of each row of ``values`` (n, k), (len(shares), n)."""
    count = values.shape[1]
    at = [min(int(share * count), count - 1) for share in shares]
    found: Floats = np.partition(values, at, axis=1)[:, at].T
    return found


# --- where a limit is passed ----------------------------------------------------------------------


def _first_passed(places: Floats, over: Floats) -> Floats:
    """The first place (k,) m at which ``over`` (n, k) is not below 0; infinite where none is."""
    above = over >= 0
    first = above.argmax(axis=0)
    rows = np.arange(over.shape[1])
    here, before = over[first, rows], over[np.maximum(first - 1, 0), rows]
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where(first > 0, -before / (here - before), 1.0)
    start = places[np.maximum(first - 1, 0)]
    found = start + share * (places[first] - start)
    return np.where(above.any(axis=0), found, np.inf)


def _place_at(passed: Floats, share: float) -> float | None:
    """The place by which a share of the scenarios has passed; None where fewer ever do."""
    at = float(np.sort(passed)[math.ceil(share * len(passed)) - 1])
    return at if math.isfinite(at) else None
