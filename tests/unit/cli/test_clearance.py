"""The command: what it prints and writes, its exit codes, and bad input at its line."""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from route3d.cli.check import check
from route3d.cli.clearance import clearance
from route3d.errors import InputError
from tests.support.clearance_jobs import box, run_text, write_job

STRAIGHT = run_text("A", [(0, 0, 0), (40, 0, 0)])
WALL = '[site]\ncontext = [{ file = "wall.stl", units = "m" }]\n'

app = typer.Typer(pretty_exceptions_enable=False)
app.command()(clearance)
checks = typer.Typer(pretty_exceptions_enable=False)
checks.command()(check)


def call(*arguments: object) -> tuple[int, str]:
    result = CliRunner().invoke(app, [str(a) for a in arguments])
    if result.exception is not None and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result.exit_code, result.stdout


@pytest.fixture
def through(tmp_path: Path) -> Path:
    return write_job(tmp_path, STRAIGHT, WALL, {"wall.stl": box((0.5, 8, 6), (20, 0, 0))})


@pytest.fixture
def beside(tmp_path: Path) -> Path:
    return write_job(tmp_path, STRAIGHT, WALL, {"wall.stl": box((0.5, 8, 6), (20, 5, 0))})


def test_a_clash_ends_with_1_and_is_told_with_station_and_depth(through: Path) -> None:
    code, text = call(through)
    assert code == 1
    assert "19.75 m" in text and "70.0 mm" in text and "wall.stl" in text
    assert "opening with a sleeve" in text and "inside a closed surface" in text
    checked = CliRunner().invoke(checks, [str(through)]).stdout  # which finds no clashes
    assert "plausible" in checked and "Run route3d clearance for clashes" in checked


def test_a_duct_that_clashes_where_its_run_does_not_is_told(tmp_path: Path) -> None:
    """The wall's face 0.15 m beside the bank's center, 0.05 m from the center of its near duct."""
    bank = "[[bank]]\nrun = 'A'\nrows = 1\ncolumns = 2\nspacing = [200, 200]\ncover = 75\n"
    wall = {"wall.stl": box((30, 0.2, 4), (20, 0.25, 0))}
    model = write_job(tmp_path, STRAIGHT, WALL + bank, wall)
    table = tmp_path / "rows.csv"
    code, text = call(model, "--csv", table)
    assert code == 1
    _, ducts = text.split("Ducts of the bank of run A:")
    assert "Verdict: 1 stop (1 clash)." in text
    assert re.search(r"duct row 1, column \d +the building.* clash", ducts)
    assert "20.0 mm" in ducts
    names = [row[0] for row in csv.reader(table.read_text(encoding="utf-8").splitlines())]
    assert {"A, duct row 1, column 1", "A, duct row 1, column 2"} == set(names) - {"run"}
    told = json.loads(call(model, "--json")[1])
    assert [d["against"][0]["verdict"] for d in told["ducts"]].count("clash") == 1


def test_clear_of_everything_ends_with_0(beside: Path) -> None:
    code, text = call(beside)
    assert code == 0
    assert "Conduit of run A: no clash" in text and "930.0 mm" in text
    assert text.endswith("Verdict: no clash, all required clearances are met.\n")


def test_the_least_required_clearance_decides(beside: Path) -> None:
    text = beside.read_text(encoding="utf-8")
    beside.write_text(
        text.replace(
            'units = "m"',
            'units = "m", class = "steam", clearance = "931 mm"',
        ),
        encoding="utf-8",
    )
    code, said = call(beside)
    assert code == 1 and "clearance from steam" in said
    assert re.search(r"move the run away by 1\.[01] mm", said)  # rounded up


def test_one_run_and_no_mesh_leave_nothing_to_measure(tmp_path: Path) -> None:
    model = write_job(tmp_path, STRAIGHT)
    for more in ([], ["--by", "zone"]):
        code, text = call(model, *more)
        assert code == 0 and "Nothing to measure against" in text and "no clash" not in text.lower()
    code, text = call(model, "--json")
    assert code == 0 and json.loads(text)["nothing_to_measure_against"] is True


def test_json_is_in_si_and_the_same_in_all_units(through: Path) -> None:
    code, text = call(through, "--json")
    assert (code, text) == call(through, "--json", "--units", "US")
    data = json.loads(text)
    (run,) = data["runs"]
    assert len(run["rows"]) == 40 and run["against"][0]["verdict"] == "clash"
    assert run["against"][0]["clashes"][0]["depth_m"] == pytest.approx(0.07, abs=1e-5)
    assert [f["severity"] for f in run["findings"]] == ["stop", "stop", "caution"]


def test_csv_has_every_row(through: Path, tmp_path: Path) -> None:
    out = tmp_path / "c.csv"
    call(through, "--csv", out, "--step", "0.5 m")
    rows = list(csv.DictReader(out.read_text(encoding="utf-8").splitlines()))
    assert len(rows) == 80
    assert {r["verdict"] for r in rows} == {"ok", "clash", "end"}
    assert float(rows[39]["clearance (mm)"]) == pytest.approx(-70, abs=0.01)


def test_all_rows_are_shown_where_asked_for(beside: Path) -> None:
    assert len(call(beside, "--all")[1].splitlines()) > len(call(beside)[1].splitlines()) + 25


def test_one_run_is_still_measured_against_the_others(tmp_path: Path) -> None:
    runs = STRAIGHT + run_text("B", [(15, -20, 0.1), (15, 20, 0.1)])
    code, text = call(write_job(tmp_path, runs), "--run", "B")
    assert code == 1 and "clash with run A" in text and "Run A:" not in text


@pytest.mark.parametrize("step", ["0", "-1 m", "1 mm", "five", "3 kg", "nan m"])
def test_a_step_that_is_no_length_is_refused(beside: Path, step: str) -> None:
    with pytest.raises(InputError) as caught:
        call(beside, "--step", step)
    assert caught.value.problems[0].where == "--step"


def test_names_and_endings_that_are_wrong_are_refused(beside: Path) -> None:
    with pytest.raises(InputError, match="no run is named 'Z'"):
        call(beside, "--run", "Z")
    with pytest.raises(InputError, match=r"must end in \.csv"):
        call(beside, "--csv", "x.txt")


def test_a_broken_mesh_is_refused(tmp_path: Path) -> None:
    model = write_job(tmp_path, STRAIGHT, WALL, {"wall.stl": box((1, 1, 1), (0, 0, 0))})
    (tmp_path / "wall.stl").write_bytes(b"solid nothing\nendsolid\n")
    with pytest.raises(InputError, match=r"wall\.stl"):
        call(model)


def test_a_building_in_other_units_is_not_judged_and_stops(tmp_path: Path) -> None:
    """In millimeters, a column stands 30 mm inside the conduit; read as meters it is far off."""
    column = box((300, 300, 3000), (20e3, 190, 0))  # its face at y = 40 mm, the conduit's at 70 mm
    model = write_job(tmp_path, STRAIGHT, WALL, {"wall.stl": column})
    code, text = call(model)
    assert code == 1 and "no clash" not in text.lower()
    assert "not judged: wall.stl" in text and 'units = "mm" would bring it to the routes' in text
    assert "19,850.00 to 20,150.00 m" in text  # its extents, in the unit of the job
    found = json.loads(call(model, "--json")[1])["meshes"][0]
    assert found["judged"] is False and found["finding"]["severity"] == "stop"
    model.write_text(model.read_text().replace('units = "m"', 'units = "mm"'))
    code, text = call(model)
    assert code == 1 and "clash with the building" in text and "30.0 mm" in text


def test_runs_in_banks_alone_are_told_by_their_ducts(tmp_path: Path) -> None:
    bank = "[[bank]]\nrun = 'A'\nrows = 1\ncolumns = 2\nspacing = [200, 200]\ncover = 75\n"
    model = write_job(tmp_path, STRAIGHT + run_text("B", [(0, 3, 0), (40, 3, 0)]), bank)
    code, text = call(model)
    assert code == 0
    assert "Measured at the ducts of its bank." in text and "duct row 1, column 2  run B" in text
