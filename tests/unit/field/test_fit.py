"""Friction found from simulated logs: calibrated intervals, and what a log cannot tell is said."""

from __future__ import annotations

import json
from dataclasses import replace
from io import StringIO
from pathlib import Path

import numpy as np
import pytest
from rich.console import Console

from route3d.cli.main import main
from route3d.errors import InputError
from route3d.field.fit import Fit, dial_step, fit_logs
from route3d.report.field_fit import fit_report
from tests.support.fit_trials import Score, trial
from tests.support.pull_logs import FOOT, LBF, TERMINAL, Gauge, Snag, job_of, simulated

MODEL = "models/riser_duct_bank.toml"


def _score(count: int) -> Score:
    return Score(tuple(t for seed in range(count) for t in trial(seed)[1]))


@pytest.mark.slow
def test_intervals_of_friction_hold_the_truth() -> None:
    """Of 40 logs: 95 % intervals within a binomial band; logs that can tell are answered."""
    score = _score(40)
    assert 0.89 <= score.covered <= 0.99
    assert score.answered >= 0.7
    blind = [t for t in score.tried if not t.identifiable]
    assert blind
    assert sum(t.known for t in blind) < 0.5 * len(blind)


@pytest.mark.many
def test_intervals_of_friction_hold_the_truth_in_many_logs() -> None:
    """Of 500 logs, the figures of docs/friction_found.md."""
    score = _score(500)
    assert 0.92 <= score.covered <= 0.98
    assert score.answered >= 0.7


def test_an_exact_gauge_gives_the_exact_friction() -> None:
    truth = TERMINAL.having(friction={"duct": 0.31, "riser": 0.22}, reel=300 * LBF)
    gauge = Gauge(spacing=4 * FOOT, sigma=1.0, rho=0.5, step=0.1)
    fit = fit_logs(job_of(truth), [simulated(truth, gauge, 3).log()])
    for name, mu in truth.friction.items():
        found = fit.frictions[name]
        assert found.known
        assert found.value == pytest.approx(mu, abs=0.004)
        assert found.low < mu < found.high
    reel = next(e for e in fit.estimates if e.kind == "reel tension")
    assert reel.value == pytest.approx(truth.reel, rel=0.03)


def test_a_snag_gets_a_level_of_its_own_and_moves_no_friction() -> None:
    gauge = Gauge(spacing=4 * FOOT, sigma=10 * LBF)
    snagged = Gauge(spacing=4 * FOOT, sigma=10 * LBF, snags=(Snag(70.0, 0.8, 5.0),))
    job = job_of(TERMINAL)
    plain, with_snag = (fit_logs(job, [simulated(TERMINAL, g, 11).log()]) for g in (gauge, snagged))
    assert not plain.levels
    (level,) = with_snag.levels
    assert 69.0 < level.start < level.end < 76.0
    assert level.size > 300 * LBF
    for name, found in with_snag.frictions.items():
        assert found.value == pytest.approx(plain.frictions[name].value, abs=0.01)


def test_logs_of_one_bank_share_friction_and_tell_it_better() -> None:
    logs = [
        simulated(TERMINAL.having(reel=reel * LBF), Gauge(spacing=4 * FOOT), seed).log(
            f"way {seed}"
        )
        for seed, reel in ((1, 170), (2, 380))
    ]
    job = job_of(TERMINAL)
    alone, both = fit_logs(job, logs[:1]), fit_logs(job, logs)

    def width(fit: Fit, name: str) -> float:
        return fit.frictions[name].high - fit.frictions[name].low

    assert width(both, "duct") < width(alone, "duct")
    assert width(both, "riser") < width(alone, "riser")
    assert [e.name for e in both.estimates if e.kind == "reel tension"] == ["way 1", "way 2"]


def test_each_lubricant_has_its_own_friction() -> None:
    """Two logs of one name, read with little noise, with other friction in the duct."""
    gauge = Gauge(spacing=6 * FOOT, sigma=5 * LBF, step=5 * LBF)
    logs = [
        replace(
            simulated(TERMINAL.having(friction={"duct": mu}), gauge, 2).log(),
            details=(("lubricant", name),),
        )
        for name, mu in (("wax", 0.2), ("gel", 0.3))
    ]
    fit = fit_logs(job_of(TERMINAL), logs)
    assert fit.frictions["duct, lubricant wax"].value == pytest.approx(0.2, abs=0.02)
    assert fit.frictions["duct, lubricant gel"].value == pytest.approx(0.3, abs=0.02)
    tares = [e.name for e in fit.estimates if e.kind == "tare"]
    assert tares == ["simulated (1)", "simulated (2)"]
    assert fit.named("duct") == [e for name, e in fit.frictions.items() if "duct" in name]


def test_what_a_log_cannot_tell_is_said() -> None:
    """Readings in the riser alone, past its bend: friction and brake do the same to them."""
    short = Gauge(spacing=1 * FOOT, sigma=60 * LBF, gaps=((0.0, 6.5), (15.0, 200.0)))
    fit = fit_logs(job_of(TERMINAL), [simulated(TERMINAL, short, 4).log()])
    riser, duct = fit.frictions["riser"], fit.frictions["duct"]
    assert not duct.known
    assert not riser.known
    assert (duct.value, duct.low, duct.high) == pytest.approx((0.25, 0.125, 0.3))
    assert riser.why == "this log cannot tell friction in riser from the brake"
    why = "the readings are too far apart"
    none = replace(fit, estimates=tuple(replace(e, known=False, why=why) for e in fit.estimates))
    console = Console(width=200, file=StringIO())
    with console.capture() as told:
        console.print(fit_report(none, "US"))
    assert told.get().count("The readings are too far apart.") == 1
    assert "Correlation" not in told.get() and "Keep the planned values" in told.get()


def test_too_few_readings_are_refused() -> None:
    log = simulated(TERMINAL, Gauge(spacing=50 * FOOT), 1).log()
    with pytest.raises(InputError, match="7 readings that count; at least 8"):
        fit_logs(job_of(TERMINAL), [log])


def test_the_step_of_the_dial_is_that_of_the_readings() -> None:
    marks = 50 * LBF
    random = np.random.default_rng(1)
    load = 500 * LBF + 300 * LBF * random.random(60)
    assert dial_step(np.round(load / marks) * marks, marks) == pytest.approx(marks)
    coarse = 2 * marks
    assert dial_step(np.round(load / coarse) * coarse, marks) == pytest.approx(coarse)
    few = np.array([4.0, 6.0, 8.0]) * marks
    assert dial_step(few, marks) == marks
    assert dial_step(load, marks) < 0.2 * marks


def test_the_command_prints_and_changes_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    truth = TERMINAL.having(friction={"duct": 0.30}, reel=250 * LBF)
    log = tmp_path / "pull.csv"
    log.write_text(simulated(truth, Gauge(spacing=4 * FOOT), 8).csv())
    before = Path(MODEL).read_bytes()
    assert main(["field", "fit", MODEL, str(log), "--json", "--profile", "duct"]) == 0
    data = json.loads(capsys.readouterr().out)
    duct = data["friction"]["duct"]
    assert duct["low"] < 0.30 < duct["high"]
    assert duct["low"] < duct["value"] < duct["high"]
    drop = data["profile"]["friction: duct"]["drop"]
    assert min(drop) < 0.1 < 2.0 < max(drop)
    assert main(["field", "fit", MODEL, str(log)]) == 0
    out = capsys.readouterr().out
    assert f"[conduit.duct]  friction = {duct['value']:.3f}" in out
    assert "The model file is not changed." in out
    assert Path(MODEL).read_bytes() == before
    assert main(["field", "fit", MODEL, str(log), "--profile", "pipe"]) == 2
