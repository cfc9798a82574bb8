"""``route3d legs``: a run by legs as it was understood, a run by points as legs to paste."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path

import pytest

import route3d
from route3d.cli.main import main
from route3d.modelfile.read import load, loads

MODELS = Path(route3d.__file__).parents[1] / "models"
FEEDER, YARD = MODELS / "mezzanine.toml", MODELS / "yard_run.toml"


def printed(capsys: pytest.CaptureFixture[str], *words: object) -> str:
    assert main(["legs", *map(str, words)]) == 0
    return capsys.readouterr().out


def test_a_run_by_legs_is_told_leg_by_leg(capsys: pytest.CaptureFixture[str]) -> None:
    text = printed(capsys, FEEDER)
    assert "Run M1: 6 straights, 490.0 ft from corner to corner, given by legs" in text
    row = next(line for line in text.splitlines() if line.startswith("5. right 90"))
    assert row.split()[-9:] == ["120.0", "ft", "108.0", "ft", "296.8", "ft", "-3.0", "ft", "150.0°"]
    assert "Closing error: 0.02 ft (to be added: x 0.00 ft, y 0.02 ft, z 0.00 ft)" in text
    assert "leg 4: 96.00 ft -> 96.01 ft" in text and "legs = [" not in text
    assert "Closing error: 0.005 m" in printed(capsys, FEEDER, "--units", "SI")


def test_a_run_by_points_is_printed_as_legs_to_paste(capsys: pytest.CaptureFixture[str]) -> None:
    """What is printed, put in place of the points, gives the same points."""
    text = printed(capsys, YARD, "--run", "Y1")
    legs = re.search(r"^legs = \[\n(?:  .*\n)+\]$", text, re.MULTILINE)
    assert legs is not None and '  "left 90 at 48 in",' in legs[0]
    model = YARD.read_text(encoding="utf-8")
    start, end = model.index("route = ["), model.index("[[site.room]]")
    pasted = loads(f"{model[:start]}{legs[0]}\n\n{model[end:]}").runs[0].route.vertices
    for ours, theirs in zip(load(YARD).runs[0].route.vertices, pasted, strict=True):
        assert ours.point == pytest.approx(theirs.point, abs=1e-9)
        assert (ours.name, ours.access, ours.bend) == (theirs.name, theirs.access, theirs.bend)
        assert ours.box == pytest.approx(theirs.box)


def test_as_data_it_is_in_si_with_all_changes(capsys: pytest.CaptureFixture[str]) -> None:
    (run,) = json.loads(printed(capsys, FEEDER, "--json"))["runs"]
    assert run["given_by"] == "legs"
    assert run["legs"] == tomllib.loads(FEEDER.read_text())["run"][0]["legs"]
    assert run["canonical"][2] == "left 30 at 60 in" and len(run["straights"]) == 6
    last = run["straights"][-1]
    assert last["legs"][-1].startswith("11. end") and last["total_bend_deg"] == pytest.approx(330)
    assert run["straights"][4]["heading_deg"] is None and last["radius_m"] == pytest.approx(1.2192)
    changes = {change["leg"]: change["add_m"] for change in run["closing"]["changes"]}
    assert sorted(changes) == [2, 4, 6, 8, 10] and run["closing"]["left_m"] < 1e-9
    assert sum(changes[leg] for leg in (2, 4, 10)) == pytest.approx(run["closing"]["distance_m"])
    (run,) = json.loads(printed(capsys, YARD, "--json"))["runs"]
    assert run["given_by"] == "points" and run["legs"] == run["canonical"] and not run["closing"]


def test_wrong_legs_are_told_with_file_line_and_place(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    model = tmp_path / "wrong.toml"
    model.write_text(FEEDER.read_text().replace("right 90 at 60", "right 90 att 60"))
    assert main(["legs", str(model)]) == 2
    said = capsys.readouterr().err
    line = next(i for i, t in enumerate(model.read_text().splitlines(), 1) if "att" in t)
    assert f'wrong.toml:{line}: run M1, leg 5: "' in said
    assert 'column 10: "att" is not understood here; understood so far: "right 90"' in said
