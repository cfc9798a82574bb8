"""Trials of the fit: a random pull, its log as a bad gauge and a busy crew leave it, and the fit.

    python -m tests.support.fit_trials 500

prints the figures of docs/friction_found.md. A friction counts as identifiable where the log has
readings over at least half of its conduit, whatever the fit says of it.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from functools import cache

import numpy as np

from route3d.field.fit import Fit, fit_logs
from route3d.model import Job
from tests.support.pull_logs import (
    FOOT,
    LBF,
    QUAY,
    TERMINAL,
    Gauge,
    Snag,
    Truth,
    conduit_cover,
    job_of,
    simulated,
)


@dataclass(frozen=True)
class Tried:
    """One friction of one trial: ``known`` as the fit has it, its interval, and the truth."""

    seed: int
    name: str
    identifiable: bool
    known: bool
    low: float
    high: float
    truth: float

    @property
    def covered(self) -> bool:
        """Whether the interval holds the truth."""
        return self.low <= self.truth <= self.high


@cache
def _job(number: int) -> Job:
    job: Job = job_of(_PULLS[number])
    return job


_PULLS = (TERMINAL, QUAY)


def case(seed: int) -> tuple[Truth, Gauge, np.random.Generator]:
    """What is pulled and how it is read, all of it drawn anew."""
    random = np.random.default_rng(1000 + seed)
    base = _PULLS[seed % 2]
    length = base.length

    def between(low: float, high: float) -> float:
        return float(random.uniform(low, high))

    rope = base.rope_friction * (1.0 + 0.2 * float(np.clip(random.normal(), -2.0, 2.0)))
    truth = base.having(
        friction={name: mu * between(0.6, 1.5) for name, mu in base.friction.items()},
        rope_friction=rope,
        reel=base.reel * between(0.8, 2.2),
    )
    brakes, gaps, ends = (), (), ()
    if random.random() < 0.4:
        said = bool(random.random() < 0.5)
        brakes = ((length * between(0.3, 0.7), truth.reel * between(0.7, 1.6), said),)
    if random.random() < 0.5:
        start = length * between(0.05, 0.8)
        gaps = ((start, start + between(3.0, 15.0)),)
    if random.random() < 0.2:  # nobody wrote any more
        ends = ((length * between(0.3, 0.95), length + 1.0),)
    snags = tuple(
        Snag(length * between(0.1, 0.9), between(0.15, 0.6), between(1.0, 6.0))
        for _ in range(int(random.integers(0, 3)))
    )
    gauge = Gauge(
        spacing=(4.0, 6.0)[seed % 2] * FOOT,
        sigma=between(15.0, 40.0) * LBF,
        rho=between(0.6, 0.92),
        tare=float(random.normal()) * 50.0 * LBF,
        gaps=gaps + ends,
        drift=float(random.normal()) * 0.002,
        brakes=brakes,
        snags=snags,
        lost=between(0.0, 0.2),
    )
    return truth, gauge, random


def trial(seed: int) -> tuple[Fit, list[Tried]]:
    """One log fitted."""
    truth, gauge, random = case(seed)
    readings = simulated(truth, gauge, random)
    fit = fit_logs(_job(seed % 2), [readings.log()])
    cover = conduit_cover(truth, readings.true_pulled)
    return fit, [
        Tried(seed, name, cover[name] >= 0.5, e.known, e.low, e.high, truth.friction[name])
        for name, e in fit.frictions.items()
    ]


@dataclass(frozen=True)
class Score:
    """Of all frictions ``tried``: how many could be answered and were, and were covered."""

    tried: tuple[Tried, ...]

    @property
    def answered(self) -> float:
        """The share of identifiable logs of which every identifiable friction is answered."""
        logs: dict[int, list[bool]] = {}
        for t in self.tried:
            if t.identifiable:
                logs.setdefault(t.seed, []).append(t.known)
        return sum(map(all, logs.values())) / len(logs)

    @property
    def known(self) -> tuple[Tried, ...]:
        """Those that were answered."""
        return tuple(t for t in self.tried if t.known)

    @property
    def covered(self) -> float:
        """The share of answers whose interval holds the truth."""
        return sum(t.covered for t in self.known) / len(self.known)


def main(count: int) -> None:
    """Print the score of ``count`` trials as it grows."""
    tried: list[Tried] = []
    for seed in range(count):
        tried += trial(seed)[1]
        if (seed + 1) % 20 == 0 or seed + 1 == count:
            score = Score(tuple(tried))
            print(
                f"{seed + 1} trials: {len(score.known)} of {len(tried)} frictions answered, "
                f"{score.covered:.1%} of them covered; {score.answered:.1%} of identifiable logs "
                "answered",
                flush=True,
            )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 500)
