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


def test_earth_cover_that_cannot_be_judged_is_no_pass(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A surface that ends on the way: the verdict is not "ok" where a rule requires cover."""
    surface = "[site]\ngrade = [[-50, -50, 0], [60, -50, 0], [60, 50, 0], [-50, 50, 0]]\n[practice]"
    short = model(tmp_path, ("[practice]", surface))
    assert run(short) == 1
    said = capsys.readouterr().out
    assert "not judged at station" in said and "outside the grade surface" in said
    assert not any(line.startswith("ok") and "earth cover" in line for line in said.splitlines())


def test_no_table_of_published_values_where_no_rule_looks_at_a_bank(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = Path(model(tmp_path)).read_text()
    file = tmp_path / "none.toml"
    file.write_text(text.replace("[practice]", '[practice]\nrules = "none"', 1))
    run(str(file))
    assert "Bank compared with published values" not in capsys.readouterr().out


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
    ("option", "file"),
    [
        ("--csv", "a.txt"),
        ("--section", "a.gif"),
        ("--solid", "a.obj"),
        ("--out", "a.obj"),
        ("--xlsx", "a.csv"),
    ],
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


# --- built ---------------------------------------------------------------------------------------

BUILT = (
    'cover   = "3 in"',
    """cover   = "3 in"
ducts = ["1-2: F1"]
spacer_interval = "8 ft"
trench_side = "6 in"
bedding = "3 in\"""",
)


def test_what_is_built_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    book, table = tmp_path / "b.xlsx", tmp_path / "p.csv"
    assert run(model(tmp_path, BUILT), "--xlsx", str(book), "--pieces", str(table)) == 0
    out = capsys.readouterr().out
    assert "Spacers: 38 stations, each for 6 ducts, at most 8.0 ft apart" in out
    assert "governed by local code and licensed practice" in " ".join(out.split())
    # Two columns at 48 in less and more 7.5 in, and the middle one.
    sweeps = out[out.index("Sweeps to order") :].splitlines()[3:6]
    assert [" ".join(line.split()) for line in sweeps] == [
        f"PVC-40 5 {radius} in 90.0° 2 1" for radius in ("40.5", "48", "55.5")
    ]
    # Floor 26.563 + 12 in; the level trench of the first leg is 5 to 6 ft plus 12.53 in deep.
    assert "38.56 in wide at the bottom" in out
    # Seven pieces a duct: three bends and four straights.
    assert len(table.read_text().splitlines()) == 1 + 6 * 7
    from openpyxl import load_workbook

    sheets = load_workbook(book)
    names = ["Ducts", "Pieces", "Sweeps", "Straights", "Spacers", "Runs", "Volumes"]
    assert sheets.sheetnames == names
    assert sheets["Pieces"].max_row == 1 + 6 * 7
    heads = [cell.value for cell in sheets["Pieces"][1]]
    lengths = [row[heads.index("length (ft)")].value for row in sheets["Pieces"].iter_rows(2)]
    ducts = [cell.value for cell in sheets["Ducts"][1]]
    whole = [row[ducts.index("length (ft)")].value for row in sheets["Ducts"].iter_rows(2)]
    assert sum(lengths) == pytest.approx(sum(whole), abs=1e-9)


def test_json_says_what_is_built(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(model(tmp_path, BUILT), "--json") == 0
    (bank,) = json.loads(capsys.readouterr().out)["banks"]
    for duct in bank["ducts"]:
        mine = [p for p in bank["pieces"] if p["duct"] == [duct["row"], duct["column"]]]
        assert sum(p["length_m"] for p in mine) == pytest.approx(duct["length_m"], abs=1e-9)
    assert sum(s["count"] for s in bank["sweeps"]) == 18
    trench = bank["trench"]
    left = trench["excavation_m3"] - trench["bedding_m3"] - trench["bank_m3"]
    assert trench["backfill_m3"] == pytest.approx(left)
    # The box of the concrete times what lies below grade.
    box = 26.563 * 19.063 * 0.0254**2
    assert trench["bank_m3"] == pytest.approx(box * 277.57 * 0.3048, rel=1e-4)
    assert [u["usable"] for u in bank["uses"]] == [True] * 6


@pytest.mark.parametrize("suffix", [".svg", ".png", ".pdf"])
def test_the_section_at_a_station(suffix: str, tmp_path: Path) -> None:
    drawing = tmp_path / f"d{suffix}"
    assert run(model(tmp_path, BUILT), "--section", str(drawing), "--at", "100 ft") == 0
    starts = {".svg": b"<svg", ".png": b"\x89PNG", ".pdf": b"%PDF"}
    assert drawing.read_bytes().startswith(starts[suffix])


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--at", "100 ft"], "--section"),
        (["--section", "d.svg", "--at", "900 ft"], "not on run F1"),
        (["--section", "d.svg", "--at", "near"], "--at"),
    ],
)
def test_a_wrong_station_is_refused(
    words: list[str],
    said: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run(BANK, *words) == 2
    assert said in capsys.readouterr().err
    assert not (tmp_path / "d.svg").exists()


@pytest.mark.parametrize(
    ("ducts", "said"),
    [
        ('["3-1: F1"]', "duct 3-1 is not in a bank of 2 by 3"),
        ('["1-1: F1", "1-1: F2"]', "duct 1-1 already has run 'F1'"),
        ('["1.1 F1"]', "does not name a duct and its run"),
    ],
)
def test_a_wrong_duct_is_refused(
    ducts: str, said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = model(tmp_path, ('cover   = "3 in"', f'cover   = "3 in"\nducts = {ducts}'))
    assert run(file) == 2
    assert said in capsys.readouterr().err


@pytest.mark.parametrize("suffix", [".ifc", ".dxf", ".glb", ".stl"])
def test_the_model_of_a_bank_is_written(
    suffix: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / f"bank{suffix}"
    assert run(BANK, "-o", str(file)) == 0
    assert f"wrote {file}" in capsys.readouterr().err
    assert file.stat().st_size > 1000
