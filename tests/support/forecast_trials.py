"""Pulls to forecast: figures drawn at random, events in the first half only."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from route3d.field.departures import Detector
from route3d.field.forecast import Ahead, Forecaster
from route3d.field.readings import Event
from tests.support.pull_logs import LBF, Gauge, Readings, Snag, Truth, simulated

STEP = 50.0 * LBF


def trial(truth: Truth, random: np.random.Generator) -> Readings:
    """One pull: friction of each conduit about a fifth off, brake changes and snags before half."""
    common = random.normal(0.0, 0.15)
    friction = {
        name: mu * np.exp(common + random.normal(0.0, 0.12)) for name, mu in truth.friction.items()
    }
    reel = truth.reel * np.exp(random.normal(0.1, 0.2))
    rope = truth.rope_friction * np.exp(random.normal(0.0, 0.15))
    real = truth.having(friction=friction, rope_friction=rope, reel=reel)
    brakes, snags = (), ()
    if random.random() < 0.3:
        place = random.uniform(0.1, 0.45) * truth.length
        brakes = ((place, reel * random.uniform(0.8, 1.6), random.random() < 0.7),)
    if random.random() < 0.25:
        snags = (Snag(random.uniform(0.1, 0.45) * truth.length, random.uniform(0.15, 0.4)),)
    gauge = Gauge(
        sigma=random.uniform(10.0, 40.0) * LBF,
        rho=random.uniform(0.7, 0.95),
        tare=random.normal(0.0, 20.0) * LBF,
        brakes=brakes,
        snags=snags,
        drift=float(random.choice([0.0, 0.0, 0.005])),
        lost=float(random.choice([0.0, 0.2])),
    )
    return simulated(real, gauge, random)


def at_half(forecaster: Forecaster, detector: Detector, readings: Readings) -> Ahead:
    """The forecast with half of the cable in."""
    known, state = forecaster.start(), detector.start()
    events = [Event(kind, at, t, words, n) for kind, at, t, words, n in readings.events]  # type: ignore[arg-type]
    rows = zip(
        readings.pulled.tolist(), readings.load.tolist(), readings.time.tolist(), strict=True
    )
    for at, load, time in rows:
        if at > forecaster.length / 2:
            break
        while events and events[0].time <= time:
            event = events.pop(0)
            state = detector.loosened(state, event.kind)
            known = forecaster.after(known, event)
        state, called = detector.step(state, at, load)
        known = forecaster.read(known, at, load)
        for found in called:
            known = forecaster.departed(known, found)
    return forecaster.ahead(known)


def covered(
    forecaster: Forecaster, detector: Detector, truth: Truth, count: int, seed: int
) -> Iterator[bool]:
    """Whether the band at half the pull holds the last reading, trial by trial."""
    for i in range(count):
        readings = trial(truth, np.random.default_rng((seed, i)))
        ahead = at_half(forecaster, detector, readings)
        at, end = min(float(readings.pulled[-1]), forecaster.length), float(readings.load[-1])
        low, high = (np.interp(at, ahead.pulled, line) for line in (ahead.low, ahead.high))
        yield bool(low <= end <= high)
