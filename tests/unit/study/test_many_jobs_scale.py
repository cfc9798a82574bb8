"""Many jobs at scale: time, how well two processes share it, and memory. Before a release."""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.support.many_jobs import ROOT, peak_memory, write_feeders

# Of one job of one run that passes, planned, on one processor: 10,000 on two take 120 s.
SECONDS_A_JOB = 0.024


def command_time(folder: Path, workers: int) -> tuple[float, float]:
    """Wall time and processor time of the whole command, s."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    begun = time.monotonic()
    words = ["jobs", str(folder), "--json", "--workers", str(workers)]
    ended = subprocess.run(
        [sys.executable, "-m", "route3d", *words],
        env=os.environ | {"PYTHONPATH": str(ROOT)},
        capture_output=True,
        check=True,
    )
    wall = time.monotonic() - begun
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    assert all(not run["must_not_be_pulled"] for run in json.loads(ended.stdout)["runs"])
    used = after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime
    return wall, used


def test_jobs_take_no_more_than_their_share(tmp_path: Path) -> None:
    """By processor time, which other work on the machine changes little; start and report too."""
    write_feeders(tmp_path, 40)
    assert command_time(tmp_path, 1)[1] < 40 * SECONDS_A_JOB + 2.0


@pytest.mark.scale
def test_ten_thousand_jobs_take_two_minutes_on_two_processors(tmp_path: Path) -> None:
    write_feeders(tmp_path, 10_000)
    wall, _ = command_time(tmp_path, 2)  # of the workers only the wall time is known
    print(f"10,000 jobs, 2 workers: {wall:.1f} s")
    assert wall <= 120.0


@pytest.mark.scale
def test_two_processes_share_the_work_well(tmp_path: Path) -> None:
    """The best of three, on a machine with nothing else to do."""
    write_feeders(tmp_path, 1500)
    one, two = (min(command_time(tmp_path, n)[0] for _ in range(3)) for n in (1, 2))
    print(f"1,500 jobs: {one:.1f} s in one process, {two:.1f} s in two: {one / two / 2:.2f}")
    assert one / two / 2 >= 0.85


@pytest.mark.scale
def test_memory_stays_flat_to_a_hundred_thousand_jobs(tmp_path: Path) -> None:
    """Bytes for each job more: its name, and where its line stands. No line is kept."""
    few, many = (peak_memory(tmp_path / str(n), n) for n in (1_000, 100_000))
    print(f"1,000 jobs: {few / 1e6:.0f} MB; 100,000 jobs: {many / 1e6:.0f} MB")
    assert (many - few) / 99_000 < 600
