"""The README does what it says: its Python runs, its printed output is what the commands print."""

from __future__ import annotations

import doctest
import re
from pathlib import Path

import pytest

from route3d.cli.main import main

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
BLOCKS = re.findall(r"```\n\$ route3d (.+)\n((?:.*\n)+?)```", README)
# What the README's example of bad input changes in the demo model.
SLIPS = {
    "diameter       = 1.387 ": 'diameter       = "1.36 lb"',
    "friction   = 0.25": "friktion   = 0.25",
}


def test_the_python_example_runs(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(ROOT)
    result = doctest.testfile(str(ROOT / "README.md"), module_relative=False)
    assert result.attempted >= 5 and result.failed == 0


@pytest.mark.parametrize(("command", "printed"), BLOCKS, ids=[c for c, _ in BLOCKS])
def test_output_is_what_the_command_prints(
    command: str,
    printed: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
) -> None:
    monkeypatch.chdir(ROOT)
    if "models/x.toml" in command:
        text = (ROOT / "models/riser_duct_bank.toml").read_text(encoding="utf-8")
        for right, wrong in SLIPS.items():
            assert right in text
            text = text.replace(right, wrong, 1)
        (tmp_path / "models").mkdir()
        (tmp_path / "models/x.toml").write_text(text, encoding="utf-8")
        monkeypatch.chdir(tmp_path)
    main(command.split())
    out = capsys.readouterr()
    real = " ".join((out.out + out.err).split())
    for part in printed.split("...\n"):
        assert " ".join(part.split()) in real


def test_every_command_named_exists(capsys: pytest.CaptureFixture[str]) -> None:
    main(["--help"])
    known = capsys.readouterr().out
    named = set(re.findall(r"(?:`|bin/|\$ )route3d ([a-z]+)", README))
    assert {"tension", "view", "check", "new", "schema", "stock", "bends"} <= named
    for name in named:
        assert f" {name} " in known, name
