"""The pull through time."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import route3d
from route3d.planning.progress import progress

MODELS = Path(__file__).parents[3] / "models"


@pytest.fixture(scope="module")
def first():
    job = route3d.load(MODELS / "riser_duct_bank.toml")
    return progress(route3d.evaluate(job).runs[0].candidates[0].pull)


def test_each_step_is_in_the_fastest_gear_that_holds(first) -> None:
    step = np.maximum(first.load[:-1], first.load[1:])
    for gear, load in zip(first.gear[:-1], step, strict=True):
        assert first.gears[gear].line_pull >= load
        assert all(faster.line_pull < load for faster in first.gears[:gear])


def test_the_clock_is_length_over_speed(first) -> None:
    slowest, fastest = first.gears[-1].speed, first.gears[0].speed
    length = first.pulled[-1]
    assert length / fastest - 1e-6 <= first.elapsed[-1] <= length / slowest + 1e-6
    assert (np.diff(first.elapsed) >= 0).all()


def test_a_load_beyond_every_gear_stops_the_clock() -> None:
    job = route3d.load(MODELS / "yard_run.toml")
    pull = route3d.evaluate(job, with_changes=False).runs[0].candidates[0].pull
    weak = tuple(replace(g, line_pull=g.line_pull / 10) for g in pull.run.machine.gears)
    machine = replace(pull.run.machine, gears=weak)
    result = progress(replace(pull, run=replace(pull.run, machine=machine)))
    assert result.gear[-1] == -1
    assert np.isnan(result.elapsed[-1]) and np.isfinite(result.elapsed[0])


def test_no_rope_no_progress() -> None:
    job = route3d.load(MODELS / "riser_duct_bank.toml")
    pull = route3d.evaluate(job).runs[0].candidates[0].pull
    assert progress(replace(pull, rope_phase=None)) is None
