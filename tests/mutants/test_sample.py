"""Of 500 small wrong changes drawn at random, at least nine in ten must be noticed.

On demand: ``pytest -m sampled tests/mutants`` (about an hour on two cores). Environment:
``ROUTE3D_SAMPLE`` how many, ``ROUTE3D_SEED`` which. A change that makes no difference to any answer
is an equivalent: it stands in ``equivalents.toml`` with the reason, and does not count.
"""

from __future__ import annotations

import ast
import os
import shutil
import subprocess
import sys
import tomllib
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from queue import SimpleQueue

import pytest

from tests.mutants.sample import BUDGET, Change, Runs, changes, environment, measured, sample

ROOT = Path(__file__).parents[2]
NUMBER = int(os.environ.get("ROUTE3D_SAMPLE", "500"))
SEED = int(os.environ.get("ROUTE3D_SEED", "20261129"))
WORKERS = 2


def _copy(where: Path) -> Path:
    for name in ("route3d", "viewer", "tests", "models"):
        shutil.copytree(ROOT / name, where / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "README.md"):
        shutil.copy(ROOT / name, where)
    return where


def _noticed(where: Path, change: Change, runs: Runs) -> bool:
    """Whether a test that runs the changed line fails, or runs far longer than without."""
    tests = runs.of(change)
    if not tests:
        return False
    file = where / change.file
    before = file.read_text(encoding="utf-8")
    call = [sys.executable, "-m", "pytest", "-x", "-q", "-p", "no:cacheprovider", *tests]
    file.write_text(change.of(before), encoding="utf-8")
    try:
        done = subprocess.run(
            call, cwd=where, env=environment(where), capture_output=True, timeout=10 * BUDGET
        )
    except subprocess.TimeoutExpired:
        return True
    finally:
        file.write_text(before, encoding="utf-8")
    return done.returncode != 0


def _line(change: Change) -> str:
    text = (ROOT / change.file).read_text(encoding="utf-8").splitlines()[change.line - 1].strip()
    return f"{change.file}: {text}: {change.old} -> {change.new}"


def _equivalents() -> dict[str, str]:
    with Path(__file__).with_name("equivalents.toml").open("rb") as file:
        return {e["change"]: e["reason"] for e in tomllib.load(file)["equivalent"]}


def test_changes_of_every_kind_are_found_and_leave_python() -> None:
    drawn = sample(ROOT, 60, SEED)
    assert {c.kind for c in drawn} == {"arithmetic", "comparison", "constant", "unit"}
    assert drawn == sample(ROOT, 60, SEED) != sample(ROOT, 60, SEED + 1)
    for change in drawn:
        ast.parse(change.of((ROOT / change.file).read_text(encoding="utf-8")))


def test_every_equivalent_can_still_be_made() -> None:
    known = {_line(c) for c in changes(ROOT)}
    assert not [e for e in _equivalents() if e not in known]


@pytest.mark.sampled
@pytest.mark.slow
def test_nine_in_ten_small_changes_are_noticed(tmp_path: Path) -> None:
    copies: SimpleQueue[Path] = SimpleQueue()
    for i in range(WORKERS):
        copies.put(_copy(tmp_path / f"copy{i}"))
    whole = _copy(tmp_path / "whole")
    runs = measured(whole, tmp_path / "coverage")
    known = _equivalents()
    drawn = [c for c in sample(ROOT, NUMBER, SEED) if _line(c) not in known]

    def tried(change: Change) -> tuple[Change, bool]:
        where = copies.get()
        try:
            return change, _noticed(where, change, runs)
        finally:
            copies.put(where)

    survived = []
    with ThreadPoolExecutor(WORKERS) as pool:
        for n, (change, noticed) in enumerate(pool.map(tried, drawn), 1):
            if not noticed:
                survived.append(change)
                print(f"{n}: survived: {_line(change)}", flush=True)
    share = 1 - len(survived) / len(drawn)
    print(f"noticed {share:.1%} of {len(drawn)}; equivalents left out: {NUMBER - len(drawn)}")
    assert share >= 0.9, "\n".join(_line(c) for c in survived)
