"""``route3d field watch`` on eight hours of a recorder at 10 Hz, written faster than it was read.

Run by hand: ``python -m tests.support.watched_at_ten_hertz [lines] [lines a second]
[lines already there]``. A file grows
line by line; the command follows it. Told at the end: the time from the writing of a line to its
line of JSON, and the memory of the command at every tenth of the log.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

import numpy as np

from tests.support.pull_logs import FOOT, LBF, TERMINAL, Gauge, simulated


def main(lines: int = 288_000, rate: float = 400.0, there: int = 20) -> None:
    """Print the 50th, 99th and last percentile of the time, ms, and the memory, MB."""
    random = np.random.default_rng(2)
    clean = simulated(TERMINAL, Gauge(), 3)
    at = np.linspace(0.0, TERMINAL.length, lines)
    load = np.interp(at, clean.pulled, clean.load) + random.normal(0.0, 8.0 * LBF, lines)
    rows = [
        f"{0.1 * i:.1f},{x / FOOT:.2f},{max(y, 0.0) / LBF:.0f}\n"
        for i, (x, y) in enumerate(zip(at.tolist(), load.tolist(), strict=True))
    ]
    log = Path(tempfile.mkdtemp()) / "recorder.csv"
    words = ["field", "watch", "models/riser_duct_bank.toml", str(log), "--json"]
    with log.open("w") as file:
        file.write("time (s),cable in (ft),reading (lbf)\n" + "".join(rows[:there]))
        file.flush()
        ran = subprocess.Popen(
            [sys.executable, "-m", "route3d", *words], stdout=subprocess.PIPE, text=True
        )
        written, told, memory = [0.0] * lines, [0.0] * lines, list[float]()
        start = threading.Event()
        read = threading.Thread(target=_read, args=(ran, told, start))
        read.start()
        start.wait()
        began = time.monotonic()
        for i in range(there, lines):
            due = began + (i - there) / rate
            if due > time.monotonic():
                time.sleep(max(0.0, due - time.monotonic()))
            written[i] = time.monotonic()
            file.write(rows[i])
            file.flush()
            if i % (lines // 10) == 0:
                memory.append(_memory(ran.pid))
                print(f"{i:,} lines, {memory[-1]:.1f} MB", flush=True)
        until = time.monotonic() + 30.0
        while not told[-1] and time.monotonic() < until:
            time.sleep(0.1)
        memory.append(_memory(ran.pid))
    ran.terminate()
    read.join()
    took = 1000.0 * (np.array(told) - np.array(written))[there + 50 :]
    assert (np.array(told) > 0).all(), "lines were lost"
    half, most, worst = np.percentile(took, [50, 99, 100])
    print(
        f"{lines:,} lines: median {half:.0f} ms, 99th percentile {most:.0f} ms, most {worst:.0f} ms"
    )
    print("memory, MB: " + " ".join(f"{x:.1f}" for x in memory))


def _read(ran: subprocess.Popen[str], told: list[float], start: threading.Event) -> None:
    """When each line of the log was told; the first row of readings is row 2."""
    assert ran.stdout is not None
    for line in ran.stdout:
        data = json.loads(line)
        if data["event"] == "reading":
            told[data["row"] - 2] = time.monotonic()
            start.set()


def _memory(pid: int) -> float:
    pages = int(Path(f"/proc/{pid}/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:]))
