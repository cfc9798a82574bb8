"""Where a file cannot be written that is said first: nothing is solved, printed or half written."""

from __future__ import annotations

from pathlib import Path

import pytest

from route3d.cli.main import main

MODELS = Path(__file__).parents[3] / "models"
RISER = str(MODELS / "riser_duct_bank.toml")


@pytest.mark.parametrize(
    ("command", "option", "name"),
    [
        ("check", "--section", "x.svg"),
        ("bends", "--csv", "x.csv"),
        ("bends", "--xlsx", "x.xlsx"),
        ("bank", "--csv", "x.csv"),
        ("bank", "--section", "x.svg"),
        ("bank", "--solid", "x.glb"),
        ("clearance", "--csv", "x.csv"),
        ("plan", "--sheet", "x.pdf"),
        ("view", "--png", "x.png"),
        ("view", "--svg", "x.svg"),
        ("drawing", "", "x.pdf"),
        ("convert", "", "x.dxf"),
    ],
)
def test_a_missing_folder_is_said_before_the_work(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], command: str, option: str, name: str
) -> None:
    target = str(tmp_path / "none" / name)
    assert main([command, RISER, *([option] if option else []), target]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert f"folder {tmp_path / 'none'} does not exist" in said.err
    assert list(tmp_path.iterdir()) == []
