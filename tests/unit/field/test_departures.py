"""Departures called one reading at a time: snags, pulsing, a drop; and nothing in clean pulls.

The logs are those of ``tests/support/pull_logs.py``, which shares no code with the rule.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from route3d.field.departures import ONSETS, SWINGS, Departure, detect
from tests.support.pull_logs import FOOT, LBF, TERMINAL, Gauge, Readings, Snag, simulated
from tests.support.snag_trials import PULLS, planned, trial


def called(readings: Readings) -> list[Departure]:
    """What the plan of the terminal calls in these readings."""
    return list(detect(planned("terminal"), readings.log()))


def shaken(swing: float, period: float) -> Readings:
    """The terminal's pull with a sawtooth on it, N from trough to crest, every so many m."""
    exact = simulated(TERMINAL, Gauge(step=0.0), 5)
    phase = (exact.true_pulled / period) % 1.0
    load = exact.load + swing * (phase - 0.5)
    step = 50.0 * LBF
    return replace(exact, load=np.maximum(np.round(load / step) * step, 0.0))


def _figures(name: str, count: int) -> tuple[float, float]:
    """Shares of snags called within 10 ft, and of clean pulls with a false call."""
    found = [trial(name, seed) for seed in range(count)]
    return sum(o.called for o in found) / count, sum(bool(o.clean) for o in found) / count


def test_snags_are_called_and_clean_pulls_are_not() -> None:
    """Of 20 pulls, 10 of each route, all but one and none."""
    each = [_figures(name, 10) for name in PULLS]
    assert sum(hit for hit, _ in each) / 2 >= 0.95
    assert sum(false for _, false in each) == 0.0


@pytest.mark.many
@pytest.mark.parametrize("name", list(PULLS))
def test_snags_are_called_in_five_hundred_pulls(name: str) -> None:
    hit, false = _figures(name, 500)
    assert hit >= 0.95
    assert false < 0.02


def test_a_jump_has_its_place_and_its_size_and_is_called_once() -> None:
    for share in (0.3, 4.0):  # the second is far beyond all noise
        found = [
            d
            for d in called(simulated(TERMINAL, Gauge(snags=(Snag(200 * FOOT, share),)), 3))
            if d.kind == "jump"
        ]
        assert len(found) == 1
        assert found[0].start == pytest.approx(200 * FOOT, abs=2.1 * FOOT)
        assert found[0].called <= 206 * FOOT
        assert found[0].size == pytest.approx(share * 668 * LBF, rel=0.25)


def test_a_snag_that_lets_go_jumps_up_and_down() -> None:
    snag = Snag(200 * FOOT, 0.5, 40 * FOOT)
    ups = [d for d in called(simulated(TERMINAL, Gauge(snags=(snag,)), 3)) if d.kind == "jump"]
    assert [d.size > 0 for d in ups] == [True, False]


def test_one_wild_reading_is_no_jump() -> None:
    for size in (120.0, 300.0, 3000.0):
        clean = simulated(TERMINAL, Gauge(), 3)
        load = clean.load.copy()
        load[100] += size * LBF
        assert not [d for d in called(replace(clean, load=load)) if d.kind == "jump"], size


def test_a_change_of_brake_that_is_written_is_no_jump() -> None:
    brakes = ((45.0, 320 * LBF, True),)
    told = simulated(TERMINAL, Gauge(brakes=brakes), 3)
    silent = replace(told, events=())
    assert not [d for d in called(told) if d.kind == "jump"]
    assert [d for d in called(silent) if d.kind == "jump"]


@pytest.mark.parametrize(("swing", "period"), [(300.0, 4.0), (300.0, 1.0), (200.0, 6.0)])
def test_pulsing_is_called_and_its_jerks_are_not_each_a_jump(swing: float, period: float) -> None:
    found = called(shaken(swing * LBF, period))
    assert "pulsing" in [d.kind for d in found]
    assert len([d for d in found if d.kind == "jump"]) <= 2


def test_load_that_drops_to_nothing_is_called_once_with_the_second_reading() -> None:
    clean = simulated(TERMINAL, Gauge(), 3)
    load = clean.load.copy()
    load[120:] = 0.0
    found = [d for d in called(replace(clean, load=load)) if d.kind == "drop"]
    assert [d.called for d in found] == [pytest.approx(clean.pulled[121])]


def test_a_constant_difference_is_an_offset_and_a_growing_one_a_slow_climb() -> None:
    high = called(simulated(TERMINAL, Gauge(tare=160 * LBF), 3))
    rough = called(simulated(TERMINAL.having(friction={"duct": 0.4}), Gauge(), 3))
    assert [d.kind for d in high] == ["offset"]
    assert [d.kind for d in rough] == ["slow climb"]
    # the plan of these trials has less reel tension besides: what truly lies between, so far
    true = simulated(TERMINAL, Gauge(sigma=0.0, step=0.0, tare=160 * LBF), 3)
    plan = np.array([planned("terminal").response.planned(at) for at in true.true_pulled])
    away = (true.load - plan)[true.true_pulled <= high[0].called]
    assert high[0].size == pytest.approx(float(away.mean()), rel=0.2)


def test_a_snag_that_lets_go_drops_to_the_plan_and_not_to_nothing() -> None:
    snag = Snag(200 * FOOT, 5.0, 20 * FOOT)
    found = called(simulated(TERMINAL, Gauge(snags=(snag,)), 3))
    assert [d.kind for d in found if d.kind in ("jump", "drop")] == ["jump", "jump"]


def test_memory_does_not_grow() -> None:
    told = planned("terminal")
    readings = simulated(TERMINAL, Gauge(spacing=0.03), 3)
    state = told.start()
    for at, load in zip(readings.pulled.tolist(), readings.load.tolist(), strict=True):
        state, _ = told.step(state, at, load)
        assert len(state.onset) <= ONSETS + 1
        assert len(state.recent) <= SWINGS


def test_nothing_is_known_of_later_readings() -> None:
    """What is called up to a reading is the same whatever comes after it."""
    whole = simulated(TERMINAL, Gauge(snags=(Snag(150 * FOOT, 0.4), Snag(250 * FOOT, 0.4))), 3)
    early = replace(
        whole,
        **{k: getattr(whole, k)[:110] for k in ("pulled", "load", "time", "gear")},
    )
    until = float(whole.pulled[109])
    assert called(early) == [d for d in called(whole) if d.called <= until]
