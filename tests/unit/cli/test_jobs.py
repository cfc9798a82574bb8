"""Whole jobs from outside: the summary of all runs, comparisons, and reels."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import pytest

import route3d
from route3d.cli.main import main
from tests.support.twelve_runs import TITLE, twelve_runs

MODELS = Path(route3d.__file__).parents[1] / "models"
YARD = MODELS / "yard_run.toml"


class Ended(NamedTuple):
    code: int
    out: str
    err: str


Call = Callable[..., Ended]


@pytest.fixture
def call(capsys: pytest.CaptureFixture[str]) -> Call:
    def ended(*arguments: object) -> Ended:
        code = main([str(a) for a in arguments])
        return Ended(code, *capsys.readouterr())

    return ended


@pytest.fixture(scope="module")
def four(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The runs B1A, B1B, B6A and B6B."""
    file = tmp_path_factory.mktemp("jobs") / "four.toml"
    file.write_text(twelve_runs((1, 6)))
    return file


@pytest.fixture(scope="module")
def twelve(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("jobs") / "twelve.toml"
    file.write_text(twelve_runs())
    return file


def _runs(text: str) -> dict[str, Any]:
    return {run["name"]: run for run in json.loads(text)["runs"]}


# --- the summary ----------------------------------------------------------------------------------


def test_the_table_agrees_with_tension_and_plan_of_each_run(call: Call, four: Path) -> None:
    table = json.loads(call("jobs", four, "--json").out)["runs"]
    assert [run["name"] for run in table] == ["B6B", "B6A", "B1A", "B1B"]
    rank = [(not run["must_not_be_pulled"], -round(run["utilization"], 4)) for run in table]
    assert rank == sorted(rank)
    tension = _runs(call("tension", four, "--json").out)
    planned = [name for name in tension if name != "B1B"]
    asked = [word for name in planned for word in ("--run", name)]
    plan = _runs(call("plan", four, "--json", *asked).out)
    for run in table:
        data = tension[run["name"]]
        assert run["length_m"] == data["length_m"] and run["turn_deg"] == data["turn_deg"]
        pull = next(p for p in data["pulls"] if p["feed"] == run["feed"])
        assert run["friction_margin"] == pull["friction_margin"]
        assert run["utilization"] == max(filter(None, pull["utilization"].values()))
        assert data["decision"]["feed"] in (run["feed"], None)
        if run["name"] == "B1B":  # names no machine: no plan, no time
            assert run["crew_time_s"] is None and not run["must_not_be_pulled"]
            continue
        of_plan = plan[run["name"]]
        assert run["must_not_be_pulled"] == of_plan["must_not_be_pulled"]
        assert run["reasons"] == list(dict.fromkeys(f["rule"] for f in of_plan["reasons"]))
        time = of_plan["crew_time_s"]
        assert run["crew_time_s"] == (time and time["total"])


@pytest.mark.parametrize("command", ["check", "tension", "plan"])
def test_several_runs_begin_with_the_table_and_detail_what_fails(
    call: Call, four: Path, command: str
) -> None:
    named = call(command, four, "--run", "B6B", "--run", "B1A")
    assert named.code == 1 and named.out.startswith(TITLE)
    table, details = named.out.split("2 runs: 1 pull, 1 do not pull.")
    assert [line.split()[0] for line in table.splitlines() if line[:1] == "B"] == ["B6B", "B1A"]
    assert "do not pull: sidewall" in table and "do not pull" not in table.split("B1A")[1]
    assert all(f"Run {name}" in details for name in ("B6B", "B1A"))
    if command == "plan":  # every run must have a machine
        return
    whole = call(command, four)
    assert "3 runs are not detailed below" in whole.out and "--run B6A" in whole.out
    assert [line[:8] for line in whole.out.splitlines() if line.startswith("Run B")] == ["Run B6B:"]
    every = call(command, four, "--all").out
    assert sum(line.startswith("Run B") for line in every.splitlines()) == 4


def test_a_run_without_a_machine_is_marked(call: Call, four: Path, tmp_path: Path) -> None:
    """Its rope and machine are not checked: the verdict says so in the table and in files."""
    for command in ("jobs", "check"):
        out = call(command, four).out
        rows = {line.split()[0]: line for line in out.splitlines() if line.startswith("B")}
        assert rows["B1B"].endswith("pull *") and rows["B1A"].endswith("pull")
        assert "* rope and machine not checked: the run names no rope or no machine." in out
    call("jobs", four, "--csv", tmp_path / "out.csv")
    found = {r["run"]: r for r in csv.DictReader(io.StringIO((tmp_path / "out.csv").read_text()))}
    assert found["B1B"]["verdict"] == "pull (rope and machine not checked)"
    assert found["B1A"]["verdict"] == "pull"
    runs = json.loads(call("jobs", four, "--json").out)["runs"]
    assert {run["name"]: run["planned"] for run in runs} == {n: n != "B1B" for n in found}
    ends = {(run["feed"], run["pull"]) for run in runs}
    assert {(r["feed from"], r["pull at"]) for r in found.values()} == ends
    assert all(feed != pull for feed, pull in ends)
    # In a terminal where there is room for it.
    assert "pull at" not in call("jobs", four).out
    assert "pull at" in call("check", four, "--run", "B1A", "--run", "B1B").out


def test_a_job_of_one_run_has_no_table(call: Call, four: Path) -> None:
    one = call("tension", four, "--run", "B1A")
    assert one.code == 0 and "do not pull" not in one.out and "not detailed" not in one.out
    assert one.out.splitlines()[2].startswith("Run B1A: 3 x phase, 1 x ground")


def test_a_run_that_is_not_there_is_named(call: Call, four: Path) -> None:
    ended = call("check", four, "--run", "B1A", "--run", "B7A")
    assert ended.code == 2 and "no run is named 'B7A'; did you mean" in ended.err


def test_a_bad_file_in_a_folder_is_reported_and_the_rest_is_answered(
    call: Call, tmp_path: Path
) -> None:
    (tmp_path / "a.toml").write_text(twelve_runs([6]))
    (tmp_path / "b.toml").write_text(twelve_runs([6]).replace("friction = 0.25", "frction = 0.25"))
    (tmp_path / "notes.txt").write_text("no model")
    ended = call("jobs", tmp_path, YARD, "--csv", tmp_path / "out.csv")
    assert ended.code == 2
    assert "b.toml:" in ended.err and "frction" in ended.err
    assert "1 file has errors and no line in this table" in ended.out
    rows = list(csv.DictReader(io.StringIO((tmp_path / "out.csv").read_text())))
    assert [row["run"] for row in rows][:3] == ["", "Y1", "B6B"] and len(rows) == 4
    assert rows[0]["file"].endswith("b.toml") and rows[0]["verdict"].startswith("error: ")
    assert "frction" in rows[0]["verdict"] and rows[0]["length (ft)"] == ""
    assert rows[1]["file"].endswith("yard_run.toml") and rows[2]["job"] == TITLE
    assert float(rows[2]["length (ft)"]) == pytest.approx(1060.3, abs=0.05)
    files = json.loads(call("jobs", tmp_path, "--json").out)["files"]
    assert [(f["runs"], len(f["errors"])) for f in files] == [(2, 0), (0, 1)]


def test_a_folder_without_model_files_is_an_error(call: Call, tmp_path: Path) -> None:
    assert call("jobs", tmp_path).code == 2


def test_the_workbook_of_the_table_is_numbers(call: Call, tmp_path: Path) -> None:
    openpyxl = pytest.importorskip("openpyxl")
    assert call("jobs", YARD, "--xlsx", tmp_path / "out.xlsx").code == 1
    head, row = openpyxl.load_workbook(tmp_path / "out.xlsx").active.values
    found = dict(zip(head, row, strict=True))
    assert found["length (ft)"] == pytest.approx(1534.9, abs=0.05)
    assert found["verdict"].startswith("do not pull: sidewall pressure")


# --- compare --------------------------------------------------------------------------------------


def test_two_files_are_compared_and_drawn(call: Call, tmp_path: Path) -> None:
    text = YARD.read_text()
    (tmp_path / "now.toml").write_text(text)
    (tmp_path / "new.toml").write_text(text.replace("weight         = 1.795", "weight = 1.2"))
    files = [tmp_path / f"out.{kind}" for kind in ("svg", "png", "pdf")]
    drawn = [word for file in files for word in (f"--{file.suffix[1:]}", file)]
    ended = call("compare", tmp_path / "now.toml", tmp_path / "new.toml", *drawn)
    assert "cable.phase.weight  1.79 lb/ft  1.20 lb/ft" in ended.out
    assert "Run Y1" in ended.out and "(-" in ended.out
    assert ended.code == call("jobs", tmp_path / "new.toml").code
    svg = files[0].read_text()
    assert "now, feed" in svg and "new, feed" in svg and "utilization of each limit" in svg
    assert files[1].read_bytes()[:4] == b"\x89PNG" and files[2].read_bytes()[:4] == b"%PDF"
    call("compare", tmp_path / "now.toml", tmp_path / "new.toml", "--svg", files[0])
    assert files[0].read_text() == svg


def test_the_variants_of_a_file_are_compared_with_it(
    call: Call, four: Path, tmp_path: Path
) -> None:
    file = tmp_path / "job.toml"
    variant = '\n[[variant]]\nname = "%s"\nchanges = { conduit.duct.friction = %s }\n'
    file.write_text(twelve_runs([1]) + variant % ("wide", 0.1) + variant % ("dry", 0.5))
    ended = call("compare", file, "--run", "B1A", "--json", "--variant", "wide")
    data = json.loads(ended.out)
    assert ended.code == 0 and [job["label"] for job in data["jobs"]] == ["as modeled", "wide"]
    assert [(i["key"], i["values"]) for i in data["inputs"]] == [
        ("conduit.duct.friction", [0.25, 0.1])
    ]
    assert [run["name"] for run in data["runs"]] == ["B1A"]
    assert call("compare", file).code == 1  # dry must not be pulled
    assert "did you mean 'wide'" in call("compare", file, "--variant", "wida").err
    assert call("compare", four).code == 2  # nothing to compare with


# --- reels ----------------------------------------------------------------------------------------


def test_the_cut_list_says_the_same_in_print_csv_and_json(
    call: Call, twelve: Path, tmp_path: Path
) -> None:
    ask = ("reels", twelve, "--reel-length", "2000")
    ended = call(*ask, "--csv", tmp_path / "cuts.csv")
    assert ended.code == 0 and "gap 1" in ended.out
    cables = json.loads(call(*ask, "--json").out)["cables"]
    cuts = [
        cut | {"reel": reel["reel"]} for c in cables for reel in c["reels"] for cut in reel["cuts"]
    ]
    rows = list(csv.DictReader(io.StringIO((tmp_path / "cuts.csv").read_text())))
    assert len(rows) == len(cuts) == 12 * 3 + 6
    for row, cut in zip(rows, cuts, strict=True):
        assert (row["reel"], row["run"]) == (cut["reel"], cut["run"])
        assert float(row["cut length (ft)"]) == pytest.approx(
            cut["cut_length_m"] / 0.3048, abs=1e-3
        )
    for cable in cables:
        lengths = [reel["length_m"] - reel["left_over_m"] for reel in cable["reels"]]
        assert sum(lengths) == pytest.approx(cable["cut_length_m"])
        assert cable["reels_used"] == len(lengths) == cable["lower_bound"] + cable["gap"]


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        ((), 2, "no reels are given for phase, ground"),
        (("--reel-length", "800 ft"), 1, "No reel for run B6B, phase 1 of 3, 1,080.0 ft"),
        (("--reel-length", "-3"), 2, "not above zero"),
        (("--reel-length", "3 lb"), 2, "--reel-length"),
        (("--reel-length", "1e9"), 2, "exceeds the maximum of 328,084.0 ft"),
    ],
)
def test_reels_that_do_not_do_are_said(
    call: Call, twelve: Path, words: tuple[str, ...], code: int, said: str
) -> None:
    ended = call("reels", twelve, *words)
    assert ended.code == code and said in ended.out + ended.err
