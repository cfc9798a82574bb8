"""Each cause is found in logs made with it, and what no log can tell apart is said to be so.

The logs are those of ``tests/support/pull_logs.py``, a march of its own; the plan is route3d's.
"""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from route3d.api import plan
from route3d.cli.main import main
from route3d.field.causes import Explanation, bend_stretches, trial_of
from route3d.field.compare import Comparison, compare_log
from route3d.planning.pull_plan.gauge import gauge_band
from route3d.report.field_compare import explanation_lines
from tests.support.pull_logs import (
    FOOT,
    LBF,
    TERMINAL,
    Gauge,
    Readings,
    Snag,
    Truth,
    job_of,
    noise_along,
    simulated,
)

STEP = 50.0 * LBF


@cache
def made():  # type: ignore[no-untyped-def]
    """Job and plan of the terminal's pull."""
    job = job_of(TERMINAL)
    return job, plan(job, feed=TERMINAL.feed).plans[0]


def compared(readings: Readings) -> Comparison:
    job, planned = made()
    return compare_log(planned, job, readings.log())


def explained(truth: Truth, gauge: Gauge, seed: int = 1) -> tuple[Explanation, ...]:
    return compared(simulated(truth, gauge, seed)).explanations


def kinds(found: tuple[Explanation, ...]) -> list[tuple[str, str]]:
    return [(e.causes[0].kind, e.causes[0].name) for e in found]


def test_band_at_any_footage_is_that_of_the_gauge_table() -> None:
    job, planned = made()
    band = gauge_band(
        planned.pull,
        np.array([row.pulled for row in planned.gauge]),
        job.allowances,
        planned.brake,
        head_rating=planned.head_rating,
        line_rating=planned.line_limit[0],
    )
    for ours, name in (
        (band.expected, "expected"),
        (band.low, "expected_low"),
        (band.high, "expected_high"),
        (band.caution, "caution"),
        (band.stop, "stop"),
    ):
        assert ours == pytest.approx([getattr(row, name) for row in planned.gauge], rel=1e-12)


def test_a_pull_as_planned_needs_no_explanation() -> None:
    for seed in (1, 2):
        assert explained(TERMINAL, Gauge(), seed) == ()


def test_friction_of_one_conduit_is_found_with_its_size() -> None:
    for name, planned in TERMINAL.friction.items():
        found = explained(TERMINAL.having(friction={name: planned * 4 / 3}), Gauge())
        assert kinds(found) == [("friction", name)]
        cause = found[0].causes[0]
        assert found[0].told
        # 0.01: the reels of the generator are held by a rounded force
        assert cause.low - 0.01 < 4 / 3 < cause.high + 0.01


def test_reel_tension_rope_friction_and_an_offset_are_told_from_each_other() -> None:
    reel = explained(TERMINAL.having(reel=TERMINAL.reel * 1.6), Gauge())
    assert kinds(reel) == [("reel tension", "")]
    assert reel[0].causes[0].size == pytest.approx(0.6 * TERMINAL.reel, rel=0.05)
    rope = explained(TERMINAL.having(rope_friction=0.225), Gauge())
    assert kinds(rope) == [("rope friction", "")]
    assert rope[0].causes[0].size == pytest.approx(1.5, rel=0.06)
    offset = explained(TERMINAL, Gauge(tare=150 * LBF))
    assert kinds(offset) == [("offset", "")]
    assert offset[0].causes[0].size == pytest.approx(150 * LBF, rel=0.12)


def test_a_snag_is_found_beside_other_friction() -> None:
    truth = TERMINAL.having(friction={"duct": 1 / 3})
    found = explained(truth, Gauge(snags=(Snag(200 * FOOT, 0.25),)))
    assert sorted(kinds(found)) == [("friction", "duct"), ("jump", "")]
    jump = next(e.causes[0] for e in found if e.causes[0].kind == "jump")
    assert jump.start == pytest.approx(200 * FOOT, abs=2.1 * FOOT)


def test_a_change_of_brake_is_found_at_its_event() -> None:
    found = explained(TERMINAL, Gauge(brakes=((45.0, 400 * LBF, True),)))
    assert kinds(found) == [("brake", "")]
    assert found[0].causes[0].size == pytest.approx(400 * LBF - TERMINAL.reel, rel=0.03)


def test_several_figures_off_at_once_are_blamed_on_no_single_one() -> None:
    friction = {name: mu * 0.85 for name, mu in TERMINAL.friction.items()}
    truth = TERMINAL.having(friction=friction, rope_friction=0.16, reel=TERMINAL.reel * 1.35)
    for seed in (1, 2):
        found = explained(truth, Gauge(), seed)
        assert [e.causes[0].kind for e in found] == ["several"]
        assert np.isnan(found[0].causes[0].size)


def test_a_change_of_brake_not_written_and_a_snag_are_not_told_apart() -> None:
    told = simulated(TERMINAL, Gauge(brakes=((62.0, 300 * LBF, True),)), 1)
    found = compared(replace(told, events=())).explanations
    assert {"reel change", "jump"} <= {cause.kind for cause in found[0].causes}
    reel = next(c for c in found[0].causes if c.kind == "reel change")
    assert reel.low < 300 * LBF - TERMINAL.reel < reel.high


def test_a_snag_that_lets_go_is_one_cause() -> None:
    found = explained(TERMINAL, Gauge(snags=(Snag(200 * FOOT, 1.0, 20 * FOOT),)))
    jumps = [e.causes[0] for e in found if e.causes[0].kind == "jump"]
    assert len(jumps) == 1
    assert jumps[0].start == pytest.approx(200 * FOOT, abs=2.1 * FOOT)
    assert jumps[0].end == pytest.approx(220 * FOOT, abs=2.1 * FOOT)


def test_friction_of_each_bend_is_found_at_that_bend() -> None:
    exact = simulated(TERMINAL, Gauge(sigma=0.0, step=0.0), 1)
    trial = trial_of(made()[1].pull, exact.true_pulled, exact.load, STEP)
    assert trial.loads(np.zeros(trial.count)) == pytest.approx(exact.load, abs=5 * LBF)
    noise = noise_along(Gauge(), exact.true_pulled, np.random.default_rng(4))
    for one in (c for c in trial.candidates if c.kind == "bend"):
        figures = np.zeros(trial.count)
        figures[one.columns[0]] = 0.8
        load = np.round((trial.loads(figures) + noise) / STEP) * STEP
        found = compared(replace(exact, load=load)).explanations
        assert kinds(found)[0] == ("bend", one.name)
        assert found[0].causes[0].size == pytest.approx(1.8, abs=0.08)


def test_pulsing_is_found_with_its_swing_and_period() -> None:
    exact = simulated(TERMINAL, Gauge(step=0.0), 1)
    wave = 100 * LBF * np.sin(2 * np.pi * exact.true_pulled / 6.0)
    load = np.maximum(np.round((exact.load + wave) / STEP) * STEP, 0.0)
    found = compared(replace(exact, load=load)).explanations
    assert kinds(found) == [("pulsing", "")]
    assert found[0].causes[0].size == pytest.approx(200 * LBF, rel=0.15)
    assert found[0].causes[0].period == pytest.approx(6.0, rel=0.05)


def test_a_load_that_drops_to_nothing_is_said_first_and_spoils_nothing() -> None:
    clean = simulated(TERMINAL, Gauge(), 1)
    load = clean.load.copy()
    load[120:] = 0.0
    assert kinds(compared(replace(clean, load=load)).explanations) == [("drop", "")]


def test_causes_that_a_log_cannot_tell_apart_are_said_together() -> None:
    """With the readings of the last straight alone, what came before shifts them all alike."""
    gauge = Gauge(tare=150 * LBF, gaps=((-1.0, 50.0),))
    found = compared(simulated(TERMINAL, gauge, 1))
    assert len(found.explanations) == 1
    one = found.explanations[0]
    assert not one.told
    assert {"offset", "friction", "bend"} <= {cause.kind for cause in one.causes}
    assert sum(cause.share for cause in one.causes) == pytest.approx(1.0)
    words = explanation_lines(found, "US")
    assert words[0].startswith("1. Cannot be told apart by this log")


def test_residuals_are_those_of_the_places() -> None:
    found = compared(simulated(TERMINAL, Gauge(sigma=0.0, step=0.0, tare=100 * LBF), 1))
    assert [p.name for p in found.places if p.kind == "bend"] == [
        name for name, _, _, _ in bend_stretches(found.plan.pull)
    ]
    # the generator's reels are held by 170 lbf, those of the plan by 169.4
    for place in found.places:
        assert place.mean == pytest.approx(100 * LBF, abs=5 * LBF)
        assert place.largest == pytest.approx(100 * LBF, abs=5 * LBF)


def test_the_command_says_first_that_stop_was_passed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log, chart = tmp_path / "pull.csv", tmp_path / "pull.svg"
    model = TERMINAL.model
    snagged = simulated(TERMINAL, Gauge(snags=(Snag(200 * FOOT, 5.0),)), 3)
    log.write_text(snagged.csv(), encoding="utf-8")
    words = ["field", "compare", model, str(log), "--feed", TERMINAL.feed]
    assert main([*words, "--svg", str(chart)]) == 1
    assert capsys.readouterr().out.splitlines()[1].startswith("STOP PASSED: ")
    assert chart.read_text(encoding="utf-8").count("<circle") > 300
    assert main([*words, "--json"]) == 1
    data = json.loads(capsys.readouterr().out)
    assert data["stop_passed"]
    first = data["readings"][data["readings_above_stop"][0]]
    assert first["measured_N"] > first["stop_N"]
    log.write_text(simulated(TERMINAL, Gauge(), 3).csv(), encoding="utf-8")
    assert main(words) == 0
    assert "STOP PASSED" not in capsys.readouterr().out


def test_a_first_move_at_stop_is_told_by_compare_and_record_alike(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log = tmp_path / "pull.csv"
    log.write_text(
        "\n".join(
            [
                "cable in (ft),reading (lbf)",
                "0,5000",
                *(f"{x},{y}" for x, y in ((5, 300), (50, 350), (100, 400), (150, 500), (200, 700))),
            ]
        ),
        encoding="utf-8",
    )
    words = [TERMINAL.model, str(log), "--run", "F1", "--feed", TERMINAL.feed]
    assert main(["field", "compare", *words]) == 1
    assert "STOP PASSED: 1 reading. Worst: 5,000 lbf with 0.0 ft" in capsys.readouterr().out
    assert main(["field", "record", *words, "--no-fit"]) == 1
    assert "Stop was passed during the pull. Highest reading 5,000" in capsys.readouterr().out
