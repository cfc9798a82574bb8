"""The forecast: its tables, what it learns, its band, and where Stop is likely."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest

from route3d.api import plan
from route3d.field.departures import Departure, detector
from route3d.field.expected import expected_load
from route3d.field.forecast import Forecast, Forecaster
from route3d.field.readings import Event
from route3d.field.response import response
from route3d.model import Job
from route3d.modelfile.read import load as model_of
from tests.support.forecast_trials import STEP, covered
from tests.support.pull_logs import QUAY, TERMINAL, Gauge, Snag, Truth, job_of, simulated

TRUTHS = {"terminal": TERMINAL, "quay": QUAY}


@cache
def _forecaster(name: str) -> Forecaster:
    truth = TRUTHS[name]
    return Forecaster.of(plan(job_of(truth), feed=truth.feed).plans[0], STEP)


def _read(forecaster: Forecaster, truth: Truth, gauge: Gauge, until: float) -> Forecast:
    known = forecaster.start()
    readings = simulated(truth, gauge, 11)
    for at, load in zip(readings.pulled.tolist(), readings.load.tolist(), strict=True):
        if at <= until * truth.length:
            known = forecaster.read(known, at, load)
    return known


def _share_held(name: str, count: int, seed: int) -> float:
    truth, forecaster = TRUTHS[name], _forecaster(name)
    calls = detector(forecaster.response.expected.pull, STEP)
    return float(np.mean(list(covered(forecaster, calls, truth, count, seed))))


@pytest.mark.parametrize("name", list(TRUTHS))
def test_the_band_at_half_holds_nine_ends_of_ten(name: str) -> None:
    """Twenty pulls each: of a band that holds nine of ten, 14 or fewer is one chance in 90."""
    assert _share_held(name, 20, 1) >= 0.75


@pytest.mark.many
@pytest.mark.slow
@pytest.mark.parametrize("name", list(TRUTHS))
def test_the_band_is_calibrated_over_many_pulls(name: str) -> None:
    """Five hundred pulls of each route: 85 to 95 % within the band that says 90 %."""
    assert 0.85 <= _share_held(name, 500, 2) <= 0.95


def _falling(job: Job) -> Job:
    """Friction that falls to 0.7 of it above 2 kN/m of contact load, by a test report."""
    run = job.runs[0]
    fall = {"friction_above": 2e3, "friction_report": "T-1"}
    conduits = tuple(replace(c, friction_then=0.7 * c.friction, **fall) for c in run.route.conduits)
    return replace(job, runs=(replace(run, route=replace(run.route, conduits=conduits)),))


@pytest.mark.parametrize("name", [*TRUTHS, "models/roof_drop.toml", "terminal, falling"])
def test_the_tables_are_the_full_solver_between_heads_too(name: str) -> None:
    """Within 1 % all but one load in a thousand, and none 3 % off; under a tenth of it, of that."""
    known = TRUTHS.get(name.partition(",")[0])
    job = model_of(name) if known is None else job_of(known)
    job = _falling(job) if "falling" in name else job
    tables = response(plan(job).plans[0].pull)
    solver, heads = tables.expected, tables.pulled
    ratios = np.exp(np.random.default_rng(4).normal(0.0, 0.25, (len(solver.conduits) + 2, 100)))
    reel = max(solver.reel_tension, STEP) * ratios[-1]
    ours = tables.loads(ratios[:-2], ratios[-2], reel)
    between = heads[:-1] + 0.4 * np.diff(heads)
    full = expected_load(solver.pull, between).loads(
        solver.friction[:, None] * ratios[:-2], solver.rope_friction * ratios[-2], reel
    )
    line = ours[:-1] + 0.4 * np.diff(ours, axis=0)
    apart = np.abs(line - full) / np.maximum(full, 0.1 * solver.loads().max())
    assert np.quantile(apart, 0.999) < 0.01 and apart.max() < 0.03


def test_it_learns_the_friction_and_is_the_same_twice() -> None:
    truth = TERMINAL.having(friction={name: 1.25 * mu for name, mu in TERMINAL.friction.items()})
    forecaster = _forecaster("terminal")
    before, known = forecaster.start(), _read(forecaster, truth, Gauge(), 0.9)
    mean, spread = forecaster.learned(known)
    conduits = len(TERMINAL.friction)
    assert np.abs(mean[:conduits] - np.log(1.25)) == pytest.approx(0.0, abs=0.2)
    assert (spread[:conduits] < 0.6 * forecaster.learned(before)[1][:conduits]).all()
    assert known.now.counting >= 200
    again = _read(forecaster, truth, Gauge(), 0.9)
    assert np.array_equal(again.scenarios, known.scenarios)
    ahead, first = forecaster.ahead(known), forecaster.ahead(before)
    assert ahead.high[-1] - ahead.low[-1] < 0.5 * (first.high[-1] - first.low[-1])


def test_stop_ahead_and_the_last_safe_place() -> None:
    """Friction so high that Stop is reached: where, and a place of the plan before it."""
    forecaster = _forecaster("quay")
    truth = QUAY.having(friction={name: 2.2 * mu for name, mu in QUAY.friction.items()})
    ahead = forecaster.ahead(_read(forecaster, truth, Gauge(), 0.35))
    assert ahead.chance > 0.9 and ahead.stop_at is not None and ahead.stop_from is not None
    stop = forecaster.limits.stops(np.array([ahead.stop_at]))[0]
    mid = np.interp(ahead.stop_at, ahead.pulled, ahead.mid)
    assert mid == pytest.approx(stop, rel=0.03)
    assert ahead.stop_from <= ahead.stop_at
    assert ahead.last_safe is not None
    assert ahead.pulled[0] < ahead.last_safe <= ahead.stop_from
    assert forecaster.moves.is_safe(np.array([ahead.last_safe])).all()
    calm = forecaster.ahead(_read(forecaster, QUAY, Gauge(), 0.35))
    assert calm.chance < 0.1 and calm.stop_at is None and calm.last_safe is None


def test_a_jump_and_a_brake_that_is_told_are_carried_to_the_end() -> None:
    forecaster = _forecaster("terminal")
    snag = Gauge(snags=(Snag(0.4 * TERMINAL.length, 0.3),))
    start = 0.4 * TERMINAL.length
    known = _read(forecaster, TERMINAL, snag, 0.42)
    planned = float(np.interp(start, forecaster.response.pulled, _planned(forecaster)))
    jump = Departure("jump", start, start + 2.0, 0.3 * planned, start + 2.0, 20.0)
    after = forecaster.ahead(forecaster.departed(known, jump))
    end = 1.3 * _planned(forecaster)[-1]
    assert after.low[-1] < end < after.high[-1]
    assert forecaster.departed(known, jump).readings.count((start, jump.size, True)) == 1
    brake = Event("brake", start, 0.0, "", 1.5 * forecaster.prior.reel)
    held = forecaster.after(_read(forecaster, TERMINAL, Gauge(), 0.4), brake)
    mean, _ = forecaster.learned(held)
    assert mean[forecaster.prior.names.index("reel")] == pytest.approx(np.log(1.5), abs=0.03)


def _planned(forecaster: Forecaster) -> Any:
    return forecaster.response.expected.loads()[:, 0]
