"""``friction = { history = ... }``: one's own past pulls, with their count and range everywhere."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from route3d import load
from route3d.checks.stock import check_stock
from route3d.cli.main import main
from route3d.errors import InputError
from route3d.field.history import learned_friction
from route3d.field.library import append
from route3d.field.pooling import PUBLISHED_PULLS
from route3d.model.conduit import ENOUGH_PULLS
from route3d.model.job import Job
from tests.support.past_pulls import past_pull

_MODEL = Path("models/riser_duct_bank.toml").read_text(encoding="utf-8")


def _model(folder: Path, friction: str) -> Path:
    text = _MODEL.replace("shielded       = true", 'shielded       = true\njacket = "PE"')
    text = text.replace("friction   = 0.25 ", f"friction = {friction} ")
    path = folder / "job.toml"
    path.write_text(text, encoding="utf-8")
    return path


def _library(folder: Path, *friction: float) -> Path:
    path = folder / "pulls.sqlite"
    for number, value in enumerate(friction):
        append(path, past_pull(number, value))
    return path


def _duct(job: Job) -> tuple[float, float, float]:
    duct = job.runs[0].route.conduits[0]
    assert duct.name == "duct"
    return duct.friction, duct.lowest_friction, duct.highest_friction


def test_value_and_range_are_those_of_the_next_pull(tmp_path: Path) -> None:
    library = _library(tmp_path, 0.14, 0.18, 0.16, 0.2, 0.15, 0.17, 0.15)
    job = load(_model(tmp_path, '{ history = "pulls.sqlite" }'))
    told = learned_friction(
        library, jacket="PE", conduit="PVC-40", lubricated=True, published=(0.2, 0.06, 0.35)
    )
    assert told.count == 7 and _duct(job) == (told.value, told.low, told.high)
    assert told.low < 0.14 < told.value < 0.2 < told.high
    origin = job.origins["conduit.duct.friction.value"]
    assert origin.kind == "history"
    assert origin.words.startswith("history: 7 pulls, range 0.14 to 0.20; library pulls.sqlite")
    (found,) = (f for f in check_stock(job.runs[0]) if f.rule == "friction from past pulls")
    assert found.severity == "note"


def test_few_pulls_are_a_caution_with_their_count(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert ENOUGH_PULLS == PUBLISHED_PULLS + 1
    _library(tmp_path, 0.14, 0.18)
    model = _model(tmp_path, '{ history = "pulls.sqlite" }')
    main(["check", str(model)])
    shown = capsys.readouterr().out
    assert "friction from past pulls" in shown and "mostly the published range" in shown
    assert "history: 2 pulls, range 0.14 to 0.18" in shown
    main(["check", str(model), "--json"])
    (run,) = json.loads(capsys.readouterr().out)["runs"]
    (found,) = (f for f in run["findings"] if f["rule"] == "friction from past pulls")
    assert found["severity"] == "caution"


@pytest.mark.parametrize(
    ("keys", "count"),
    [
        ("", 3),
        (', lubricant = "Water-based  GEL"', 2),
        (', lubricant = "wax"', 1),
        (', temperature = "50 degF"', 2),
        (', stock = "PE jacket, dry"', 1),
        (', lubricant = "none"', 1),
        (', stock = "PVC jacket, lubricated"', 0),
    ],
)
def test_pulls_of_the_same_kind_are_taken(keys: str, count: int, tmp_path: Path) -> None:
    path = tmp_path / "pulls.sqlite"
    append(path, past_pull(1, temperature_K=288.15))
    append(path, past_pull(2, temperature_K=268.15))
    append(path, past_pull(3, lubricant={"product": "wax"}))
    append(path, past_pull(4, lubricant={"product": "none"}))
    append(path, past_pull(5, lubricant={"product": ""}))  # nobody recorded any
    job = load(_model(tmp_path, f'{{ history = "pulls.sqlite"{keys} }}'))
    assert job.runs[0].route.conduits[0].friction_pulls == count


def test_pulls_of_one_day_and_of_one_bank_count_once(tmp_path: Path) -> None:
    day, bank = tmp_path / "day.sqlite", tmp_path / "bank.sqlite"
    for number in range(6):
        append(day, past_pull(number, day="2026-03-02"))
        append(bank, past_pull(number, bank="F1"))
    for library in ("day", "bank"):
        job = load(_model(tmp_path, f'{{ history = "{library}.sqlite" }}'))
        assert "6 pulls, counted as 1, range" in job.runs[0].route.conduits[0].friction_source


def test_what_the_file_gives_itself_goes_before(tmp_path: Path) -> None:
    _library(tmp_path, 0.14, 0.18)
    model = _model(tmp_path, '{ history = "pulls.sqlite", high = 0.6, source = "test pulls" }')
    job = load(model)
    assert _duct(job)[2] == 0.6
    assert job.origins["conduit.duct.friction.high"].kind == "given"
    assert job.runs[0].route.conduits[0].friction_source == "test pulls"


@pytest.mark.parametrize(
    ("friction", "said"),
    [
        ('{ history = "none.sqlite" }', r"none\.sqlite: no such library"),
        ('{ history = "job.toml" }', "is not a library of past pulls"),
        ('{ history = "pulls.sqlite", stock = "dry", lubricant = "wax" }', "does not go with"),
        ('{ value = 0.2, lubricant = "wax" }', "lubricant requires history"),
        ('{ history = "pulls.sqlite", stock = "rubber jacket" }', "does not name"),
    ],
)
def test_what_is_wrong_is_told_at_its_line(friction: str, said: str, tmp_path: Path) -> None:
    _library(tmp_path, 0.2)
    model = _model(tmp_path, friction)
    line = next(
        n for n, text in enumerate(model.read_text().splitlines(), 1) if "friction = {" in text
    )
    with pytest.raises(InputError, match=said) as caught:
        load(model)
    (problem,) = caught.value.problems
    assert (problem.line, problem.where.startswith("conduit.duct.friction")) == (line, True)
    assert main(["check", str(model)]) == 2
