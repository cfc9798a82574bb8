"""``route3d study spread`` from outside: report, JSON, CSV, options and exit codes."""

from __future__ import annotations

import csv
import io
import json
from dataclasses import replace
from pathlib import Path

import pytest

import route3d
from route3d.cli.main import main
from route3d.report.study_spread import (
    answer_words,
    caution_words,
    chance_words,
    input_notes,
    limit_heads,
)
from route3d.study.spread.outcome import InputSpread

BANK, YARD = "models/riser_duct_bank.toml", "models/yard_run.toml"


def test_the_report_begins_with_how_likely_each_end_passes(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["study", "spread", BANK]) == 0
    out = capsys.readouterr().out
    first, second = out.split("\n\n")[1].splitlines()[1:3]
    assert first == "Fed from roof switchroom (planned): all of 4,096 calculated pulls pass."
    assert second == "Fed from vault V1: 71 of 100 such pulls pass."
    for words in (
        "low assumed, 0.5 times the plan", "nothing else varies", "sidewall pressure", "bend 3",
        "a limit reached", "friction of riser", "Settled", "brake 35 lbf plus reel drag 135 lbf",
    ):  # fmt: skip
        assert words.lower() in out.lower()


def test_json_and_csv_hold_the_same_in_si(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "x.csv"
    words = ["study", "spread", BANK, "--json", "--csv", str(file), "--units", "SI", "--seed", "7"]
    assert main(words) == 0
    (run,) = json.loads(capsys.readouterr().out)["runs"]
    assert run["seed"] == 7 and run["settled"] and run["percentiles"] == [5, 25, 50, 75, 95]
    rows = list(csv.DictReader(io.StringIO(file.read_text(encoding="utf-8"))))
    end = run["ends"][0]
    assert [r["fed from"] for r in rows].count(end["feed"]) == len(end["cable_in_m"])
    last = rows[len(end["cable_in_m"]) - 1]
    assert float(last["cable in (m)"]) == pytest.approx(end["cable_in_m"][-1], abs=1e-3)
    assert float(last["machine 95% (kN)"]) * 1e3 == pytest.approx(end["machine_N"][4][-1], rel=1e-3)
    assert float(last["a limit reached by here"]) == pytest.approx(1 - end["passes"], abs=1e-3)
    assert {c["limit"] for c in end["limits"]} >= {"conductor", "grip", "sidewall", "machine"}
    assert sum(i["first"] for i in end["importance"]) == pytest.approx(1.0, abs=0.1)


def test_a_plan_that_exceeds_a_limit_ends_with_1_and_says_so(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["study", "spread", YARD, "--most", "1024", "--to", "0.5"]) == 1
    said = capsys.readouterr().out.split("\n\n")[1].splitlines()[1]
    assert said == "The run must not be pulled as planned: see route3d check."


def test_an_end_that_is_ruled_out_is_compared_with_none() -> None:
    (found,) = route3d.spread(route3d.load("models/mezzanine.toml"), most=1024, to=0.5).spreads
    first, second, *more = answer_words(found)
    assert first.startswith("Fed from pad (planned): 8") and not more
    assert second.startswith("Fed from mezzanine: ruled out, mezzanine has no reel access")
    assert limit_heads(found) == ("limit", "fed from pad", "fed from mezzanine (ruled out)")


def test_what_is_doubtful_about_the_inputs_is_told() -> None:
    (assumed,) = route3d.spread(route3d.load(BANK), most=1024, to=0.5).spreads
    (told,) = caution_words(assumed, "US")
    assert "range of friction is assumed" in told and "a third either way" in told
    riser = InputSpread("friction of riser", "uniform", "ratio", 0.2, 0.25, 0.3, 0.35, "given")
    oval = InputSpread("ovality of duct", "uniform", "percent", 0.0, 0.01, 0.03, 0.0, "given", 0.05)
    spread = replace(assumed, varying=(riser, oval))
    (told,) = caution_words(spread, "US")
    assert "riser is planned at 0.35, above its own range in [spread] (0.20 to 0.30)" in told
    notes = " ".join(input_notes(spread))
    assert "Percentages are of the planned value" not in notes
    assert "ovality of duct: 5% of the range given is below 0 and left out" in notes


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--most", "5000"], "--most: 5000 is not a power of two"),
        (["--to", "0"], "--to: 0 cannot be worked for"),
        (["--seed", "-1"], "--seed: -1 is below 0"),
        (["--run", "F9"], "no run is named 'F9'"),
        (["--csv", "x.toml"], "x.toml"),
    ],
)
def test_bad_options_are_refused(
    words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["study", "spread", BANK, *words]) == 2
    assert said in capsys.readouterr().err


def test_an_entry_that_is_no_spread_is_named_with_its_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text = Path(BANK).read_text(encoding="utf-8")
    entry = '\n[[spread.input]]\ninput = "friction"\nlow = 0.4\nhigh = 0.3\n'
    path = tmp_path / "feeder.toml"
    path.write_text(text + entry, encoding="utf-8")
    assert main(["study", "spread", str(path)]) == 2
    err = capsys.readouterr().err
    line = text.count("\n") + 4
    assert f"feeder.toml:{line}" in err and "spread.input[0].low" in err and "95th" in err


@pytest.mark.parametrize(
    ("p", "words"),
    [
        (1.0, "all of 4,096 calculated pulls pass"),
        (0.0, "none of 4,096 calculated pulls passes"),
        (0.97, "97 of 100 such pulls pass"),
        (0.996, "996 of 1,000 such pulls pass"),
        (0.9998, "more than 999 of 1,000 such pulls pass"),
        (0.001, "1 of 1,000 such pulls passes"),
        (0.0002, "fewer than 1 of 1,000 such pulls passes"),
    ],
)
def test_chances_in_words(p: float, words: str) -> None:
    assert chance_words(p, 4096) == words
