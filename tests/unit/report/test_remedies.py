"""The list of remedies: the same on every surface, in the same order, with what comes of each."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

import route3d
from route3d.cli.main import main
from route3d.planning.evaluate import evaluate, with_advice
from route3d.planning.result import RunResult
from route3d.report.remedies import RemedyList, list_data, remedies_data, remedy_list
from route3d.units import render
from tests.support.broken_jobs import broken_job, broken_text

MODELS = Path(route3d.__file__).parents[1] / "models"
YARD = str(MODELS / "yard_run.toml")
COMMANDS = ("tension", "check", "bends", "plan")


@pytest.fixture(scope="module")
def yard() -> RunResult:
    return evaluate(route3d.load(YARD)).runs[0]


def test_every_command_prints_the_same_list(
    yard: RunResult, capsys: pytest.CaptureFixture[str]
) -> None:
    told = remedy_list(yard, "US")
    lines = told.lines
    assert [line.number for line in lines] == list(range(1, len(lines) + 1))
    for command in COMMANDS:
        assert main([command, YARD]) == 1
        said = " ".join(capsys.readouterr().out.split())
        places = [said.index(f"{line.number}. {line.what}") for line in lines]
        assert places == sorted(places), command
        assert f"{told.title} ({told.aim}):" in said
        for line in lines:
            assert f"{line.comes_of_it} {line.caution}".strip() in said
        assert f"{told.foot} {told.command}" in said


def test_json_of_every_command_holds_the_same_remedies(
    yard: RunResult, capsys: pytest.CaptureFixture[str]
) -> None:
    expected = json.loads(json.dumps(remedies_data(yard.advice)))
    for command in COMMANDS:
        main([command, YARD, "--json"])
        (run,) = json.loads(capsys.readouterr().out)["runs"]
        assert run["remedies"] == expected, command


def test_the_keys_of_a_remedy(yard: RunResult) -> None:
    for row in remedies_data(yard.advice):
        assert {
            "what",
            "change",
            "utilization",
            "friction_margin",
            "cost_class",
            "still_stops",
        } <= set(row)
        assert row["still_stops"] == [] and row["reaches_margin"] is True
        assert row["change"] and all("edit" in change for change in row["change"])


@pytest.mark.parametrize("what", ["fill", "machine", "no room", "degrees"])
def test_every_edit_can_be_told_to_a_machine(what: str) -> None:
    job = broken_job(what)
    (result,) = evaluate(job).runs
    data = json.loads(json.dumps(remedies_data(result.advice)))
    assert data and all(row["change"] for row in data)


def test_a_run_that_passes_has_none(capsys: pytest.CaptureFixture[str]) -> None:
    job = route3d.load(MODELS / "roof_drop.toml")
    (result,) = evaluate(job).runs
    assert result.advice is None
    assert remedies_data(None) == [] and remedy_list(result, "US") == RemedyList()
    main(["tension", str(MODELS / "roof_drop.toml")])
    assert "make it pass" not in capsys.readouterr().out


def test_a_restart_above_its_limit_is_told_with_the_remedy(yard: RunResult) -> None:
    assert yard.advice is not None
    lines = remedy_list(yard, "US").lines
    for remedy, line in zip(yard.advice.remedies, lines, strict=True):
        assert line.caution.startswith("Stop only where the plan allows") is (remedy.restart > 1.0)


def test_what_still_stops_is_told_where_nothing_passes(tmp_path: Path) -> None:
    text = broken_text("machine").replace("sidewall_limit = 500", "sidewall_limit = 8")
    model = tmp_path / "hopeless.toml"
    model.write_text(text)
    job = route3d.load(model)
    (result,) = evaluate(job, with_remedies=False).runs
    result = with_advice(result, job)
    advice = result.advice
    assert advice is not None
    told = remedy_list(result, "US")
    assert told.why_none == render(advice.why_none, "US") and told.title == "Closest remedies"
    assert all(line.left.startswith("Still stops: ") for line in told.lines)


def test_the_foot_names_the_run_and_what_was_solved(yard: RunResult) -> None:
    told = remedy_list(yard, "US")
    assert told.command == "route3d tension MODEL --run Y1 --apply N OUT.toml"
    assert "with all checks and the plan." in told.foot
    two = replace(yard, run=replace(yard.run, name="berth 4; yard"))
    assert "--run 'berth 4; yard' --apply" in remedy_list(two, "US").command
    assert yard.advice is not None
    first = replace(yard.advice.remedies[0], planned=False)
    bare = replace(yard, advice=replace(yard.advice, remedies=(first,), left_out=2))
    foot = remedy_list(bare, "US").foot
    assert foot.startswith("2 more not listed. Each was recalculated with all")
    assert "no plan: the run has no machine or no rope" in foot


def test_a_run_edited_on_the_page_is_not_written_from_the_file(yard: RunResult) -> None:
    """The file holds another run, whose remedy of that number is another."""
    told = remedy_list(yard, "US", edited=True)
    assert told.command == "" and "as edited here" in told.foot


def test_remedies_stand_under_their_cost_class_in_their_order(yard: RunResult) -> None:
    told = remedy_list(yard, "US")
    assert yard.advice is not None
    assert [line.number for line in told.lines] == list(range(1, len(yard.advice.remedies) + 1))
    assert [group.rank for group in told.groups] == sorted({g.rank for g in told.groups})
    for group in told.groups:
        assert all(line.cost_class == group.cost_class for line in group.lines)
    data = list_data(told)
    assert data["aim"].startswith("Target: 90%") and data["aim"].endswith(".")
    assert [g["cost_class"] for g in data["groups"]] == [g.cost_class for g in told.groups]


def test_a_figure_of_the_equipment_has_its_unit_in_its_key() -> None:
    for what, key in (("machine", "value_N"), ("rope", "value_N")):
        (result,) = evaluate(broken_job(what)).runs
        assert result.advice is not None
        found = [c for row in remedies_data(result.advice) for c in row["change"]]
        tackle = [c for c in found if c["edit"] == "tackle"]
        assert tackle and all(set(c) == {"edit", "table", "name", "key", key} for c in tackle)
