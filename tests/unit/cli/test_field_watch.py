"""``route3d field watch``: lines, exit codes, and a watch that is killed and taken up again."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
import tracemalloc
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from route3d.api import plan
from route3d.cli.main import main
from route3d.field.readings import Reading
from route3d.field.watch import Watch
from route3d.modelfile.read import load
from tests.support.pull_logs import LBF, TERMINAL, Gauge, Snag, simulated

MODEL = "models/riser_duct_bank.toml"
CSV = simulated(TERMINAL, Gauge(snags=(Snag(55.0, 0.4),)), 3).csv()


def _watch(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, list[str]]:
    code = main(["field", "watch", MODEL, *map(str, words)])
    return code, capsys.readouterr().out.splitlines()


def test_a_line_for_every_reading_the_state_first(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log = tmp_path / "pull.csv"
    log.write_text(CSV)
    code, lines = _watch(capsys, log, "--once")
    rows = [line for line in lines if " in; load " in line]
    assert code == 0 and len(rows) == CSV.count("reading,")
    heads = [line.split(":")[0] for line in rows]
    held = heads.index("STOP AND CALL")  # the snag stays to the end, and so does the call
    assert heads[0] == "RECORDED ONLY" and set(heads[1:held]) == {"ON PLAN"}
    assert set(heads[held:]) == {"STOP AND CALL"}
    assert "forecast at the end" in rows[-1] and "not used" not in rows[-1]
    assert any("Load jumps by +" in line for line in lines)
    assert "never replaces the limiter, the operator, or the word that stops" in lines[1]
    assert "Stop was not reached." in lines
    code, lines = _watch(capsys, log, "--once", "--json")
    data = [json.loads(line) for line in lines]
    assert [data[0]["event"], data[-1]["event"]] == ["job", "summary"]
    assert data[0]["examples"] == [] and data[-1]["readings"] == len(rows)
    last = data[-2]
    assert last["forecast"]["end_low_N"] < last["load_N"] < last["forecast"]["end_high_N"]
    whole = next(x for x in data if x.get("forecast") and "places" in x["forecast"])
    assert len({len(x) for x in whole["forecast"]["places"].values()}) == 1


def test_stop_ends_with_1_and_a_model_that_must_not_be_pulled_with_2(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log = tmp_path / "pull.csv"
    log.write_text("cable in (ft),reading (lbf)\n" + "".join(f"{x},600\n" for x in range(90, 100)))
    assert _watch(capsys, log, "--once")[0] == 0
    with log.open("a") as file:
        file.write("100,4600\n101,4650\n")
    code, lines = _watch(capsys, log, "--once")
    assert code == 1 and lines[-2] == "Stop was reached or exceeded in 2 readings."
    assert [line for line in lines if line.startswith("STOP: 100 ft in; load 4,600 lbf")]
    assert main(["field", "watch", "models/yard_run.toml", str(log), "--once"]) == 2
    assert "must not be pulled as modeled" in capsys.readouterr().err


def test_a_killed_watch_is_taken_up_again(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Half of a log, kill -9, the rest: no row twice, none lost, and the forecast of one watch."""
    log, state = tmp_path / "pull.csv", tmp_path / "state.json"
    rows = CSV.splitlines(keepends=True)
    log.write_text("".join(rows[:80]))
    words = [sys.executable, "-m", "route3d", "field", "watch", MODEL, str(log), "--json"]
    ran = subprocess.Popen([*words, "--state", str(state)], stdout=subprocess.PIPE, text=True)
    assert ran.stdout is not None
    for line in ran.stdout:
        if json.loads(line).get("row") == 80:
            break
    wanted = time.monotonic() + 20.0
    while not (state.exists() and json.loads(state.read_text())["row"] == 80):
        assert time.monotonic() < wanted
        time.sleep(0.05)
    os.kill(ran.pid, signal.SIGKILL)
    ran.wait()
    ran.stdout.close()
    with log.open("a") as file:
        file.write("".join(rows[80:]))
    code, lines = _watch(capsys, log, "--once", "--json", "--state", state)
    later = [json.loads(line) for line in lines]
    seen = [x["row"] for x in later if x["event"] == "reading"]
    assert code == 0 and seen[0] == 81 and len(seen) == len(set(seen))
    _, lines = _watch(capsys, log, "--once", "--json")
    whole = [json.loads(line) for line in lines]
    assert later[-1]["readings"] == whole[-1]["readings"]
    assert later[-2]["forecast"]["end_N"] == pytest.approx(whole[-2]["forecast"]["end_N"], rel=0.02)
    state.write_text("{}")
    assert main(["field", "watch", MODEL, str(log), "--state", str(state), "--once"]) == 2


def test_example_values_are_named_in_lines_json_and_on_the_screen(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log, model = tmp_path / "pull.csv", tmp_path / "model.toml"
    log.write_text("cable in (ft),reading (lbf)\n0,100\n2,150\n")
    text = Path(MODEL).read_text()
    model.write_text(text.replace("[cable.phase]\n", "[cable.phase]\nexample = true\n", 1))
    words = ["field", "watch", str(model), str(log), "--once"]
    assert main(words) == 0
    told = capsys.readouterr().out
    assert "EXAMPLE VALUES" in told and "cable.phase" in told
    assert main([*words, "--json"]) == 0
    assert json.loads(capsys.readouterr().out.splitlines()[0])["examples"] == ["cable.phase"]
    screen = _on_a_terminal(words)
    assert "EXAMPLE VALUES" in screen and "cable.phase" in screen
    assert "never replaces the limiter" in screen


def _on_a_terminal(words: list[str]) -> str:
    """What ``route3d`` writes to a terminal of 100 columns."""
    import fcntl
    import pty
    import struct
    import termios

    here, there = pty.openpty()
    fcntl.ioctl(there, termios.TIOCSWINSZ, struct.pack("HHHH", 40, 100, 0, 0))
    ran = subprocess.Popen(
        [sys.executable, "-m", "route3d", *words], stdout=there, stderr=there, stdin=there
    )
    os.close(there)
    told = b""
    while True:
        try:
            part = os.read(here, 65536)
        except OSError:  # the other end is closed
            break
        if not part:
            break
        told += part
    os.close(here)
    ran.wait()
    return told.decode()


def _ten_hertz(count: int) -> Iterator[Reading]:
    """Ten readings a second of a slow pull that stands for most of the time."""
    random = np.random.default_rng(2)
    clean = simulated(TERMINAL, Gauge(), 3)
    at = np.linspace(0.0, TERMINAL.length, count)
    load = np.interp(at, clean.pulled, clean.load) + random.normal(0.0, 8.0 * LBF, count)
    for i, (place, force) in enumerate(zip(at.tolist(), load.tolist(), strict=True)):
        yield Reading(place, round(force), 0.1 * i, "high", True, (), i + 2)


def _watched(count: int) -> tuple[float, float]:
    """The 99th percentile of the time for a reading, s, and the growth of memory, MB."""
    job = load(MODEL)
    watch = Watch(plan(job).plans[0], job.allowances.gauge_step)
    took = []
    tracemalloc.start()
    before = 0
    for i, reading in enumerate(_ten_hertz(count)):
        if i == count // 2:
            before = tracemalloc.get_traced_memory()[0]
        start = time.process_time()
        seen = watch.reading(reading)
        took.append(time.process_time() - start)
        assert seen is not None
    took.sort()
    grown = (tracemalloc.get_traced_memory()[0] - before - sys.getsizeof(took) / 2) / 1e6
    tracemalloc.stop()
    return took[int(0.99 * count)], grown


def test_many_readings_at_one_place_cost_no_memory_and_little_time() -> None:
    p99, grown = _watched(3000)
    assert p99 < 0.2 and grown < 2.0


@pytest.mark.scale
@pytest.mark.slow
def test_eight_hours_at_ten_hertz() -> None:
    p99, grown = _watched(288_000)
    print(f"99th percentile {1000 * p99:.1f} ms, memory {grown:+.1f} MB over the second half")
    assert p99 < 0.2 and grown < 12.0  # 288,000 times of this test itself are 7 MB
