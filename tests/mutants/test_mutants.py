"""One wrong change at a time, in a copy of the product: some test of the named ones must fail.

On demand: ``pytest -m mutants tests/mutants``. It takes about half a minute a change; whether each
change can still be made is looked at in every run. What fails without any change is left out first,
so that nothing counts as noticed which was broken before.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import NamedTuple

import pytest

ROOT = Path(__file__).parents[2]
WHOLE = "tests/last_mile"


class Mutant(NamedTuple):
    """``old`` becomes ``new`` in a file, which holds it once; ``tests`` are those that run."""

    name: str
    file: str
    old: str
    new: str
    tests: tuple[str, ...]


def _mutants() -> tuple[Mutant, ...]:
    with Path(__file__).with_name("mutants.toml").open("rb") as file:
        listed = tomllib.load(file)["mutant"]
    keys = ("name", "file", "old", "new")
    return tuple(Mutant(*(m[key] for key in keys), (*m["tests"], WHOLE)) for m in listed)


MUTANTS = _mutants()


def _pytest(where: Path, *words: str) -> subprocess.CompletedProcess[str]:
    call = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "--no-header", *words]
    env = {**os.environ, "PYTHONPATH": str(where), "PYTHONDONTWRITEBYTECODE": "1"}
    return subprocess.run(call, cwd=where, env=env, capture_output=True, text=True, timeout=900)


@pytest.fixture(scope="session")
def copied(tmp_path_factory: pytest.TempPathFactory) -> Path:
    where = tmp_path_factory.mktemp("copy")
    for name in ("route3d", "viewer", "tests", "models"):
        shutil.copytree(ROOT / name, where / name, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", where)
    return where


_failing: dict[str, list[str]] = {}


def _failing_before(where: Path, tests: str) -> list[str]:
    """What fails without any change, to be left out."""
    if tests not in _failing:
        out = _pytest(where, "-rfE", tests).stdout
        found = re.findall(r"^(?:FAILED|ERROR) (\S+::[^\n]*?)(?: - .*)?$", out, re.M)
        _failing[tests] = [f"--deselect={node}" for node in found]
    return _failing[tests]


def test_every_change_can_be_made() -> None:
    """Else the product has moved on, and a change that cannot be made is noticed by nobody."""
    for mutant in MUTANTS:
        text = (ROOT / mutant.file).read_text(encoding="utf-8")
        assert text.count(mutant.old) == 1, f"{mutant.name}: not there once in {mutant.file}"
        assert all((ROOT / tests).exists() for tests in mutant.tests), mutant.name


@pytest.mark.mutants
@pytest.mark.slow
@pytest.mark.parametrize("mutant", MUTANTS, ids=lambda m: m.name.replace(" ", "-"))
def test_a_wrong_change_is_noticed(copied: Path, mutant: Mutant) -> None:
    file = copied / mutant.file
    before = file.read_text(encoding="utf-8")
    survived = []
    for tests in mutant.tests:
        left_out = _failing_before(copied, tests)
        file.write_text(before.replace(mutant.old, mutant.new), encoding="utf-8")
        try:
            done = _pytest(copied, "-x", tests, *left_out)
        finally:
            file.write_text(before, encoding="utf-8")
        if done.returncode == 1:
            return
        assert done.returncode == 0, done.stdout + done.stderr
        survived.append(tests)
    pytest.fail(f"no test of {', '.join(survived)} noticed: {mutant.name}")
