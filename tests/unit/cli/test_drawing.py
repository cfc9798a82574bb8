"""``route3d drawing``: what is written where, and what is refused."""

from __future__ import annotations

from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from route3d.cli.drawing import drawing
from route3d.errors import InputError
from tests.support.drawn_jobs import terminal_feeder

MODELS = Path(__file__).parents[3] / "models"
YARD = MODELS / "yard_run.toml"

app = typer.Typer()
app.command()(drawing)


def ran(*arguments: object) -> str:
    result = CliRunner().invoke(app, [str(a) for a in arguments], catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return result.stderr


def refused(*arguments: object) -> str:
    result = CliRunner().invoke(app, [str(a) for a in arguments])
    assert isinstance(result.exception, InputError)
    return str(result.exception)


def test_a_pdf_of_all_sheets(tmp_path: Path) -> None:
    said = ran(YARD, tmp_path / "y.pdf")
    assert (tmp_path / "y.pdf").read_bytes().startswith(b"%PDF")
    assert "run Y1: 4 sheets at 1 in = 40 ft (1:480) on tabloid" in said


def test_one_svg_for_each_sheet(tmp_path: Path) -> None:
    said = ran(YARD, tmp_path / "y.svg", "--scale", "1in=40ft")
    names = sorted(p.name for p in tmp_path.iterdir())
    assert names == [f"y-{i}.svg" for i in range(1, 6)]  # the last has a section of the vaults
    assert all(name in said for name in names)


def test_the_table_to_set_out_by_is_a_sheet_of_its_own(tmp_path: Path) -> None:
    ran(MODELS / "roof_drop.toml", tmp_path / "n.svg", "--paper", "A1")
    assert sorted(p.name for p in tmp_path.iterdir()) == ["n-1.svg", "n-2.svg"]


def test_dxf_in_other_units(tmp_path: Path) -> None:
    said = ran(YARD, tmp_path / "y.dxf", "--units", "SI", "--scale", "1:1000", "--run", "Y1")
    assert "1:1000 on a3" in said
    assert (tmp_path / "y.dxf").read_text().rstrip().endswith("EOF")


def test_a_draft_says_so_on_every_sheet_of_any_paper(tmp_path: Path) -> None:
    ran(YARD, tmp_path / "y.svg", "--draft", "--paper", "arch-d")
    files = list(tmp_path.iterdir())
    assert files and all(">DRAFT<" in f.read_text() for f in files)
    assert all('width="914.4mm" height="609.6mm"' in f.read_text() for f in files)  # 36 x 24 in


def test_one_run_is_drawn_with_the_others_around_it(tmp_path: Path) -> None:
    (tmp_path / "t.toml").write_text(terminal_feeder())
    ran(tmp_path / "t.toml", tmp_path / "q4.svg", "--run", "Q4", "--scale", "1in=200ft")
    sheets = [f.read_text() for f in tmp_path.glob("q4*.svg")]
    assert any(">run Q9<" in sheet for sheet in sheets)
    assert not any("Run Q9: plan and profile" in sheet for sheet in sheets)


@pytest.mark.parametrize(
    ("arguments", "word"),
    [
        (["y.png"], "must end in .pdf or .svg or .dxf"),
        (["y.pdf", "--scale", "big"], "'big' is not a drawing scale"),
        (["y.pdf", "--scale", "1:1"], "more than 60 sheets"),
        (["y.pdf", "--run", "Y2"], "no run is named 'Y2'"),
    ],
)
def test_refusals(tmp_path: Path, arguments: list[str], word: str) -> None:
    name, *rest = arguments
    assert word in refused(YARD, tmp_path / name, *rest)
    assert list(tmp_path.iterdir()) == []


def test_a_scale_that_leaves_a_dot_is_refused(tmp_path: Path) -> None:
    """332.9 ft is 101.5 m: at 1:100000 1.0 mm on paper."""
    riser = MODELS / "riser_duct_bank.toml"
    said = refused(riser, tmp_path / "F1.pdf", "--scale", "1:100000")
    assert "run F1 of 332.9 ft is 1.0 mm long on paper" in said
    assert "1:4000 or larger" in said  # 25 mm and a bit for 101.5 m
    assert not list(tmp_path.iterdir())
