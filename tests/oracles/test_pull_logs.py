"""The generator of the simulated logs against the pull model: two marches that share no code."""

from __future__ import annotations

import numpy as np
import pytest

from route3d.field.expected import expected_load
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
    noise_along,
    simulated,
)


@pytest.mark.parametrize("truth", [TERMINAL, QUAY], ids=["terminal", "quay"])
def test_generator_and_pull_model_agree(truth: Truth) -> None:
    """To 1e-5, whatever the friction of conduits and rope and the tension at the reels."""
    job = job_of(truth)
    pull = solve_pull(job.run(truth.run), job.practice, reverse=truth.against)
    assert pull.feed_name == truth.feed
    assert pull.path.length == pytest.approx(truth.length, rel=1e-9)
    at = np.linspace(0.0, truth.length, 61)
    expected = expected_load(pull, at)
    for reel, rope, factor in ((1.0, 1.0, [1, 1, 1]), (1.6, 0.7, [0.8, 1.5, 1.2])):
        friction = {
            name: mu * f for (name, mu), f in zip(truth.friction.items(), factor, strict=False)
        }
        changed = truth.having(
            friction=friction, rope_friction=truth.rope_friction * rope, reel=truth.reel * reel
        )
        ours = expected.loads(
            np.array([friction[name] for name in expected.conduits]),
            changed.rope_friction,
            changed.reel,
        )[:, 0]
        assert ours == pytest.approx(clean_loads(changed, at), rel=1e-5)


def test_disturbances_are_as_asked() -> None:
    """Noise of the stated deviation and correlation, marks, a snag, a gap and a change of brake."""
    exact = Gauge(sigma=0.0, step=0.0)
    plain = simulated(TERMINAL, exact, 1)
    assert plain.load == pytest.approx(plain.clean)
    random = np.random.default_rng(5)
    noise = np.array([noise_along(Gauge(), plain.true_pulled, random) for _ in range(80)]) / LBF
    assert noise.std() == pytest.approx(25.0, rel=0.1)
    assert (noise[:, 1:] * noise[:, :-1]).mean() / noise.var() == pytest.approx(0.85, abs=0.03)
    rough = simulated(
        TERMINAL,
        Gauge(
            sigma=0.0,
            tare=2 * LBF,
            gaps=((20.0, 30.0),),
            drift=0.01,
            brakes=((60.0, 400 * LBF, True),),
            snags=(Snag(40.0, 0.5, 5.0),),
            stops=((50.0, 120.0),),
        ),
        1,
    )
    marks = rough.load / (50 * LBF)
    assert marks == pytest.approx(np.round(marks))
    assert not ((rough.true_pulled > 20.0) & (rough.true_pulled < 30.0)).any()
    assert rough.pulled == pytest.approx(rough.true_pulled * 1.01)
    steps = np.abs(rough.load - rough.clean - 2 * LBF)
    snagged = (rough.true_pulled >= 40.0) & (rough.true_pulled < 45.0)
    assert (steps[~snagged] <= 25.1 * LBF).all()
    assert (steps[snagged] > 75 * LBF).all()
    assert rough.clean[rough.true_pulled >= 60.0][0] > 1.3 * rough.clean[-90]
    log = rough.log()
    assert [e.kind for e in log.events] == ["start", "stop", "start", "brake"]
    lines = rough.csv().splitlines()
    assert len(lines) == 1 + len(log) + 4
    assert lines[1].startswith("2026-05-04T08:00:00.0-07:00,")
    assert max(np.diff(rough.time)) > 120.0
    assert rough.pulled[-1] / FOOT < 340
