"""The details file: an empty one gives nothing, and every mistake is told at its line."""

from __future__ import annotations

from pathlib import Path

import pytest

from route3d import load
from route3d.errors import InputError
from route3d.field.details import Details, UsedLubricant
from route3d.modelfile.pull_details import (
    TESTS,
    PullDetailsEntry,
    details_of_log,
    details_template,
    read_details,
)

RUN = load("models/riser_duct_bank.toml").runs[0]


def _read(tmp_path: Path, text: str, system: str = "SI") -> Details:
    path = tmp_path / "details.toml"
    path.write_text(text, encoding="utf-8")
    return read_details(path, system)


@pytest.mark.parametrize("system", ["US", "SI"])
def test_an_empty_template_gives_nothing_but_what_is_to_be_written(
    system: str, tmp_path: Path
) -> None:
    text = details_template(RUN, system)
    assert f'units = "{system}"' in text
    for name in PullDetailsEntry.model_fields:
        assert name in text
    read = _read(tmp_path, text)
    assert [reel.cable for reel in read.reels] == ["phase"] * 3
    assert [(t.when, t.what) for t in read.tests] == [
        (when, what) for when in ("before", "after") for what in TESTS
    ]
    assert not any(t.value or t.by for t in read.tests)
    assert Details(reels=read.reels, tests=read.tests) == read


def test_figures_are_read_in_the_units_of_the_file(tmp_path: Path) -> None:
    body = 'temperature = 50\nbrake = 100\n[lubricant]\nquantity = 5\n[[reel]]\nlength = "300 m"\n'
    us = _read(tmp_path, 'units = "US"\n' + body, "SI")
    assert us.temperature == pytest.approx(283.15)
    assert us.brake == pytest.approx(444.82216)
    assert us.lubricant.quantity == pytest.approx(5 * 231 * 0.0254**3)
    assert us.reels[0].length == 300.0
    assert _read(tmp_path, body, "SI").temperature == pytest.approx(323.15)


def test_dates_times_and_numbers_may_stand_without_quotes(tmp_path: Path) -> None:
    read = _read(tmp_path, "date = 2026-11-24\nstarted = 07:40:00\n[[test]]\nvalue = 5.2\n")
    assert (read.date, read.started, read.tests[0].value) == ("2026-11-24", "07:40:00", "5.2")


def test_every_mistake_is_told_at_its_line(tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        _read(
            tmp_path,
            'temperature = "warm"\n[[reel]]\nlenght = 5\n[[test]]\nwhen = "never"\n'
            '[lubricant]\nquantity = "3 ft"\n[[stop]]\nwhy = "radio"\n',
        )
    found = [(p.line, p.where, p.message) for p in caught.value.problems]
    assert [line for line, _, _ in found] == [1, 3, 5, 7, 8]
    assert "did you mean 'length'?" in caught.value.problems[1].fix
    assert "is not one of: before, after" in found[2][2]
    assert "is a length, a volume is required" in found[3][2]
    assert "at is missing" in found[4][2]


def test_the_page_may_carry_the_same_keys() -> None:
    read = details_of_log({"foreman": "Ortiz", "reel": [{"number": "R1"}]}, "log.json", "US")
    assert (read.foreman, read.reels[0].number) == ("Ortiz", "R1")
    assert details_of_log(None, "log.json", "US") == Details()
    with pytest.raises(InputError, match=r"log\.json: formen: unknown key 'formen'; did you mean"):
        details_of_log({"formen": "Ortiz"}, "log.json", "US")
    with pytest.raises(InputError, match="is not a table"):
        details_of_log(["x"], "log.json", "US")


def test_the_file_goes_before_the_page_key_by_key() -> None:
    page = Details(foreman="page", weather="rain", lubricant=UsedLubricant("gel", quantity=0.01))
    file = Details(foreman="file", lubricant=UsedLubricant(lot="B7"))
    both = file.over(page)
    assert (both.foreman, both.weather) == ("file", "rain")
    assert both.lubricant == UsedLubricant("gel", "B7", 0.01, "")
