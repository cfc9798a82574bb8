"""``route3d bank``: what is written, and what is refused."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from route3d.cli.main import main

MODELS = Path(__file__).parents[3] / "models"
BANK, YARD = str(MODELS / "riser_duct_bank.toml"), str(MODELS / "yard_run.toml")


def run(*arguments: str) -> int:
    return main(["bank", *arguments])


def model(folder: Path, *changes: tuple[str, str]) -> str:
    text = Path(BANK).read_text()
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    file = folder / "bank.toml"
    file.write_text(text)
    return str(file)


def test_the_demo_passes(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(BANK) == 0
    out = capsys.readouterr().out
    assert "Bank of run F1: 2 rows of 3 ducts" in out
    assert "duct spacing across a row" in out


def test_a_duct_that_breaks_a_limit_ends_in_1(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(model(tmp_path, ("bend_multiple  = 12", "bend_multiple  = 30"))) == 1
    assert "stop: cable bend radius" in capsys.readouterr().out


def test_a_job_without_a_bank_says_how_to_add_one(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(YARD) == 2
    said = capsys.readouterr().err
    assert "no duct bank" in said
    assert "[[bank]]" in said


def test_ducts_that_pass_the_center_of_a_bend_are_in_the_table_without_a_path(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(model(tmp_path, ("[7.5, 7.5]", "[60, 7.5]"))) == 1
    said = capsys.readouterr().out
    # The first leg falls 1 ft in 180, so the rows lie askew in bend 3 by that angle: 3.75 in up
    # are 0.021 in toward its center. With the 24 in of the elbow: 48 - 24 - 0.021 = 23.979 is left
    # for the columns, and 60 + 24 + 0.021 = 84.021 is the radius needed.
    assert "4 ducts of 6 without a path: the duct in row 1, column 3 would have a radius" in said
    assert "of -12 in at bend 3" in said
    assert "the maximum column spacing that fits is 23.9 in" in said
    assert "or a bend radius of at least 84.1 in is required" in said
    rows = [line.split() for line in said.splitlines() if "no path" in line and "-12 in" in line]
    assert [r[:2] for r in rows[:4]] == [["1", "1"], ["1", "3"], ["2", "1"], ["2", "3"]]


def test_no_path_in_csv_and_json(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    wide = model(tmp_path, ("[7.5, 7.5]", "[60, 7.5]"))
    table = tmp_path / "d.csv"
    assert run(wide, "--json", "--csv", str(table)) == 1
    (bank,) = json.loads(capsys.readouterr().out)["banks"]
    assert [d["length_m"] is None for d in bank["ducts"]] == [True, False, True] * 2
    assert bank["ducts"][0]["verdict"] == "stop: no path: no radius left in the bend"
    assert table.read_text().splitlines()[1].startswith("F1,1,1,,-12,,")


def test_json(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(BANK, "--json") == 0
    (bank,) = json.loads(capsys.readouterr().out)["banks"]
    assert (bank["rows"], bank["columns"], bank["stops"]) == (2, 3, False)


def test_csv_and_section_are_written(tmp_path: Path) -> None:
    table, drawing = tmp_path / "d.csv", tmp_path / "d.svg"
    assert run(BANK, "--csv", str(table), "--section", str(drawing)) == 0
    assert len(table.read_text().splitlines()) == 7
    assert drawing.read_text().startswith("<svg")


@pytest.mark.parametrize("suffix", [".stl", ".glb"])
@pytest.mark.parametrize("filled", [True, False])
def test_the_solid_is_read_back_watertight(tmp_path: Path, suffix: str, filled: bool) -> None:
    import trimesh

    from route3d.formats.building_meshes import read_mesh
    from route3d.model.site import Placing

    file = tmp_path / f"bank{suffix}"
    assert run(BANK, "--solid", str(file), *(["--filled"] if filled else [])) == 0
    read = read_mesh(file, Placing("ft" if suffix == ".stl" else ""))
    mesh = trimesh.Trimesh(read.vertices, read.faces)
    assert mesh.is_watertight
    # By hand, in square inches: the box, less six ducts of 5.563.
    area = 26.563 * 19.063 - (0 if filled else 6 * 3.14159265 / 4 * 5.563**2)
    # 277.57 ft of it lie below grade; single precision, and flat faces in the bends.
    assert mesh.volume == pytest.approx(area * 0.0254**2 * 277.57 * 0.3048, rel=2e-4)
    assert mesh.bounds[0][2] == pytest.approx(-6 * 0.3048 - 19.063 / 2 * 0.0254, abs=0.01)


def test_a_solid_without_concrete_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = model(tmp_path, ('cover   = "3 in"', "cover   = 0"))
    assert run(file, "--solid", str(tmp_path / "a.stl")) == 2
    assert "no concrete" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("option", "file"), [("--csv", "a.txt"), ("--section", "a.png"), ("--solid", "a.obj")]
)
def test_a_wrong_ending_is_refused(
    option: str, file: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(BANK, option, str(tmp_path / file)) == 2
    assert option in capsys.readouterr().err
    assert not (tmp_path / file).exists()


def test_one_file_for_two_banks_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = Path(BANK).read_text()
    start, end = text.index("[[run]]"), text.index("[[bank]]")
    room = text.index("[[site.room]]")
    twice = text[start:end].replace('"F1"', '"F2"') + text[end:room].replace('"F1"', '"F2"')
    file = tmp_path / "two.toml"
    file.write_text(text[:room] + twice + text[room:])
    assert run(str(file), "--section", str(tmp_path / "a.svg")) == 2
    assert "--run F1 or --run F2" in capsys.readouterr().err
    assert run(str(file), "--run", "F2", "--section", str(tmp_path / "a.svg")) == 0
