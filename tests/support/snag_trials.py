"""How often a snag is called, and how often one is called that was none, on simulated logs.

Friction of every conduit is off by up to a third either way, the friction of the rope, the reel
tension and the tare besides. A snag is at least 15 % of the load and at least 3 dial steps, at any
place from 20 ft in to 12 ft before the end. The figures of the documents:

    python -m tests.support.snag_trials 500
"""

from __future__ import annotations

import sys
from dataclasses import replace
from functools import cache
from typing import NamedTuple

import numpy as np

from route3d.field.departures import Departure, Detector, detect, detector
from route3d.mechanics.pull import solve_pull
from tests.support.pull_logs import (
    FOOT,
    LBF,
    QUAY,
    TERMINAL,
    Gauge,
    Snag,
    Truth,
    clean_loads,
    job_of,
    simulated,
)

PULLS = {"terminal": TERMINAL, "quay": QUAY}
SHARE, STEPS, WITHIN = 0.15, 3.0, 10.0 * FOOT


class Outcome(NamedTuple):
    """What was called in a clean pull, and with a snag: before it, and within 10 ft of it."""

    clean: tuple[Departure, ...]
    early: bool
    called: bool
    at: float
    size: float


@cache
def planned(name: str) -> Detector:
    """The detector that the plan of a pull gives."""
    truth = PULLS[name]
    job = job_of(truth)
    pull = solve_pull(job.run(truth.run), job.practice, reverse=truth.against)
    return detector(pull, Gauge().step)


def off_plan(truth: Truth, random: np.random.Generator) -> Truth:
    """The pull as it really is: friction off by up to a third, the rest by up to a fifth."""
    return truth.having(
        friction={k: mu * random.uniform(2 / 3, 4 / 3) for k, mu in truth.friction.items()},
        rope_friction=truth.rope_friction * random.uniform(0.8, 1.2),
        reel=truth.reel * random.uniform(0.8, 1.2),
    )


def trial(name: str, seed: int) -> Outcome:
    """One pull read twice with the same noise: clean, and with a snag."""
    random = np.random.default_rng([seed, len(name)])
    truth = off_plan(PULLS[name], random)
    gauge = Gauge(tare=random.uniform(-0.5, 0.5) * 50 * LBF)
    at = float(random.uniform(20 * FOOT, truth.length - 12 * FOOT))
    load = float(clean_loads(truth, np.array([at]))[0])
    size = max(SHARE * load, STEPS * gauge.step)
    noise = int(random.integers(1 << 30))
    plain = simulated(truth, gauge, noise).log()
    snagged = simulated(truth, replace(gauge, snags=(Snag(at, size / load),)), noise).log()
    jumps = [d for d in detect(planned(name), snagged) if d.kind == "jump" and d.size > 0]
    return Outcome(
        tuple(d for d in detect(planned(name), plain) if d.kind not in ("slow climb", "offset")),
        any(d.called < at for d in jumps),
        any(at <= d.called <= at + WITHIN for d in jumps),
        at,
        size,
    )


def main(count: int) -> None:
    """Print the figures of ``count`` trials of each pull."""
    for name in PULLS:
        found = [trial(name, seed) for seed in range(count)]
        called = sum(o.called for o in found)
        false = sum(bool(o.clean) for o in found)
        print(f"{name}: {count} pulls, snags called within 10 ft {called}, false calls {false}")
        missed = [(round(o.at / FOOT), round(o.size / LBF)) for o in found if not o.called]
        print(f"  not called, at ft of lbf: {missed}")
        print("  false:", [d for o in found for d in o.clean])


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 40)
