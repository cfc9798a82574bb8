"""The page for newcomers: its files are short, and are answered as it says."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from route3d.cli.main import main
from route3d.modelfile.read import load
from route3d.modelfile.starter import TEMPLATES

PAGE = (Path(__file__).parents[1] / "route3d/docs/start.md").read_text(encoding="utf-8")
FILES = re.findall(r"```toml\n(.*?)```", PAGE, flags=re.DOTALL)
ANSWERS = re.findall(r"```text\n(Feed from .*?)\n```", PAGE)


@pytest.mark.parametrize(("text", "answer"), [*zip(FILES, ANSWERS, strict=True)], ids=["US", "SI"])
def test_the_mezzanine_job_in_25_lines(
    text: str, answer: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert len([line for line in text.splitlines() if line.strip()]) <= 25
    path = tmp_path / "mezzanine.toml"
    path.write_text(text, encoding="utf-8")
    (run,) = load(path).runs
    assert [n for _, n in run.cables.items] == [4, 1] and not load(path).examples
    assert len(dict.fromkeys(run.route.conduits)) == 2
    for command in ("check", "plan", "tension"):
        assert main([command, str(path)]) == 0
    assert answer in capsys.readouterr().out


def test_every_template_is_listed() -> None:
    assert set(TEMPLATES) <= set(re.findall(r"(?m)^\| `([a-z-]+)` \|", PAGE))
