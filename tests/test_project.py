"""The files around the code: hooks and forge call what a developer calls by hand."""

from __future__ import annotations

import re
from pathlib import Path

ROOT = Path(__file__).parents[1]
CI = (ROOT / ".ci/run").read_text(encoding="utf-8")


def test_hooks_run_the_tools_of_the_full_check() -> None:
    hooks = (ROOT / ".pre-commit-config.yaml").read_text(encoding="utf-8")
    entries = re.findall(r"entry: (\.venv/bin/\w+(?: \w+)?)", hooks)
    assert entries == [".venv/bin/ruff check", ".venv/bin/ruff format", ".venv/bin/mypy"]
    assert all(entry in CI for entry in entries)


def test_the_forge_runs_the_full_check_and_nothing_else() -> None:
    (workflow,) = (ROOT / ".github/workflows").iterdir()
    steps = re.findall(r"- (?:run|uses): (.+)", workflow.read_text(encoding="utf-8"))
    assert steps[-1] == "bash .ci/run"
    assert [s for s in steps if "pytest" in s or "ruff" in s] == []


def test_the_top_of_the_repository_holds_what_it_says() -> None:
    known = {"README.md", "DEVELOPERS.md", "pyproject.toml", "route3d", "viewer", "tests", "models"}
    made = {"build", "dist", "route3d.egg-info"}
    found = {p.name for p in ROOT.iterdir() if not p.name.startswith(".")}
    assert found - made == known


def test_the_developers_guide_names_files_that_are_there() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    for path in re.findall(r"`((?:route3d|viewer|tests|models|\.ci)/[\w./]+)`", text):
        assert (ROOT / path).exists(), path
