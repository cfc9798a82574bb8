"""``route3d study limits`` from outside."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest
from openpyxl import load_workbook

import route3d
from route3d.cli.main import main
from route3d.study.limits.inputs import kinds_named
from route3d.study.limits.study import job_limits

MODELS = Path(route3d.__file__).parents[1] / "models"
YARD, BANK = (str(MODELS / f"{name}.toml") for name in ("yard_run", "riser_duct_bank"))
SOME = ["--input", "radius", "--input", "rope"]


def test_table_json_csv_and_workbook_say_the_same(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = job_limits(route3d.load(BANK), kinds_named(["radius", "rope"]))
    monkeypatch.setattr("route3d.study.limits.study.job_limits", lambda *_: found)
    table, book = tmp_path / "x.csv", tmp_path / "x.xlsx"
    files = ["--csv", str(table), "--xlsx", str(book)]
    assert main(["study", "limits", BANK, *SOME, *files]) == 0
    printed = capsys.readouterr().out
    assert "Feed from roof switchroom, pull at vault V1 (planned)" in printed
    (bend, *_) = (line.split() for line in printed.splitlines() if "bend 3" in line)
    assert " ".join(bend[3:]) == "bend 3 48 in 45.7 in 4.9% sidewall pressure bend 3"
    assert main(["study", "limits", BANK, *SOME, "--json"]) == 0
    (run,) = json.loads(capsys.readouterr().out)["runs"]
    values = [value for end in run["ends"] for value in end["values"]]
    lines = list(csv.DictReader(io.StringIO(table.read_text())))
    cells = list(load_workbook(book).worksheets[0].iter_rows(min_row=2, values_only=True))
    assert len(lines) == len(cells) == len(values) == 8
    for line, cell, value in zip(lines, cells, values, strict=True):
        assert line["of"] == cell[5] == value["of"]
        meters = {"in": 0.0254, "lbf": 4.4482216152605}[line["unit"]]
        assert float(line["farthest"]) * meters == pytest.approx(value["farthest"], rel=1e-5)
        # Six digits, rounded to the side that passes.
        assert cell[8] * meters == pytest.approx(value["farthest"], rel=1e-5)
        assert cell[8] * meters >= value["farthest"] and len(f"{cell[8]:.12g}") <= 7
    end = run["ends"][0]
    assert all(len(s["share"]) == len(end["station_m"]) for s in end["shares"])
    assert (run["planned"], run["must_not_be_pulled"]) == (1, False)


def test_a_plan_that_breaks_a_limit_ends_with_one(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["study", "limits", YARD, "--input", "radius", "--units", "SI"]) == 1
    printed = capsys.readouterr().out
    assert printed.count("Not acceptable from this end as planned") == 2
    assert "1.958 m" in printed and "none" in printed


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--input", "frction"], "--input: no input is named 'frction'; use friction, straight"),
        (["--run", "Y9"], "no run is named 'Y9'"),
        (["--csv", "x.txt"], "must end in .csv"),
        (["--xlsx", str(MODELS / "berths.xlsx")], "is a job workbook. Not overwritten"),
    ],
)
def test_bad_input_is_told(words: list[str], said: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["study", "limits", YARD, *words]) == 2
    ended = capsys.readouterr()
    assert said in ended.err and not ended.out and "Traceback" not in ended.err
