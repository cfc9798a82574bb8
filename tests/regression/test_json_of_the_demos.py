"""Our own older output: what ``--json`` gave for the demo models when last looked at.

No check against an outside source: these files only show that something changed. Where the change
is meant, write them anew and read the difference::

    route3d tension models/NAME.toml --json > tests/regression/NAME.tension.json
    route3d check models/NAME.toml --json > tests/regression/NAME.check.json
    route3d bends models/NAME.toml --json > tests/regression/NAME.bends.json
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

import route3d
from route3d.cli.main import main

MODELS = Path(route3d.__file__).parents[1] / "models"
OLD = sorted(Path(__file__).parent.glob("*.json"))
# Sines and exponentials differ in the last bits between builds of numpy; 1e-8 is the accuracy
# claimed for tension. Forces and lengths that are zero but for rounding stay below 1e-6.
CLOSE = {"rel": 1e-8, "abs": 1e-6}


def output(capsys: pytest.CaptureFixture[str], command: str, model: str) -> str:
    assert main([command, str(MODELS / f"{model}.toml"), "--json"]) in (0, 1)
    return capsys.readouterr().out


def test_every_demo_has_its_older_output() -> None:
    wanted = {
        f"{model.stem}.{command}.json"
        for model in MODELS.glob("*.toml")
        for command in ("tension", "check", "bends")
    }
    assert {file.name for file in OLD} == wanted


@pytest.mark.parametrize("file", OLD, ids=lambda file: file.stem)
def test_regression(file: Path, capsys: pytest.CaptureFixture[str]) -> None:
    model, command = file.stem.split(".")
    new = json.loads(output(capsys, command, model))
    differences = list(compare(json.loads(file.read_text(encoding="utf-8")), new, "$"))
    assert not differences, "\n".join(differences[:10])


@pytest.mark.parametrize("command", ["tension", "check", "bends"])
def test_the_same_input_gives_the_same_bytes(
    command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    for model in MODELS.glob("*.toml"):
        assert output(capsys, command, model.stem) == output(capsys, command, model.stem)


def compare(old: Any, new: Any, place: str) -> Any:
    """Every place where two JSON values differ by more than rounding."""
    if isinstance(old, dict) and isinstance(new, dict):
        if list(old) != list(new):
            yield f"{place}: keys {list(old)} became {list(new)}"
            return
        for key in old:
            yield from compare(old[key], new[key], f"{place}.{key}")
    elif isinstance(old, list) and isinstance(new, list):
        if len(old) != len(new):
            yield f"{place}: {len(old)} entries became {len(new)}"
            return
        for i, (a, b) in enumerate(zip(old, new, strict=True)):
            yield from compare(a, b, f"{place}[{i}]")
    elif isinstance(old, float) and isinstance(new, int | float):
        if new != pytest.approx(old, **CLOSE):
            yield f"{place}: {old!r} became {new!r}"
    elif old != new:
        yield f"{place}: {old!r} became {new!r}"
