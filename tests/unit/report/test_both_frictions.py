"""Friction that falls above a contact load, as it is told: both results, and which decides."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path

import pytest
from rich.console import Console

import route3d
from route3d.model import Job
from route3d.planning.evaluate import evaluate
from route3d.planning.result import RunResult, evaluate_run
from route3d.report.json_result import falling_data
from route3d.report.tension import directions_table, tension_report
from route3d.report.worked import explanation

BANK = route3d.load(Path(route3d.__file__).parents[1] / "models" / "riser_duct_bank.toml")
ABOVE = 2189.0  # 150 lbf/ft


def job(reports: tuple[str, str], then: float = 0.15) -> Job:
    """The bank with friction that falls in both conduits, and a test report of each."""
    run = BANK.runs[0]
    names = list(dict.fromkeys(c.name for c in run.route.conduits))
    conduits = tuple(
        replace(
            c,
            friction_above=ABOVE,
            friction_then=then,
            friction_report=reports[names.index(c.name)],
        )
        for c in run.route.conduits
    )
    run = replace(run, route=replace(run.route, conduits=conduits))
    return replace(BANK, runs=(run,))


def result(made: Job) -> RunResult:
    return evaluate_run(made.runs[0], made.practice, allowances=made.allowances)


def table(found: RunResult) -> dict[str, list[str]]:
    """The rows by label; those at the machine by what they stand below."""
    rows, above = {}, ""
    for label, *cells in directions_table(found, None, "US")[1]:
        above = above if str(label).startswith(" ") else str(label)
        rows[above + str(label) if str(label).startswith(" ") else above] = list(map(str, cells))
    return rows


@pytest.mark.parametrize("reports", [("", ""), ("T 1", "T 2"), ("", "T 2")])
def test_the_result_that_decides_is_always_among_those_told(reports: tuple[str, str]) -> None:
    found = result(job(reports))
    rows = table(found)
    assert ("as decided" in rows) == (len(set(map(bool, reports))) > 1)
    told = falling_data(found)["falling_friction"]["pulls"]
    decided = "as decided" if "as decided" in rows else "friction by pressure"
    decided = decided if any(reports) else "constant friction"
    for i, (candidate, data) in enumerate(zip(found.candidates, told, strict=True)):
        assert data["as_decided"]["end_tension_N"] == pytest.approx(candidate.pull.end_tension)
        assert rows[decided][i].startswith(rows["end tension"][i])
    widths = [max(len(line) for c in cells for line in c.split("\n")) for cells in rows.values()]
    assert 28 + 2 * max(widths) + 2 <= 100


def test_by_hand_no_row_tells_both_and_the_head_says_why() -> None:
    made = job(("T 1", "T 2"))
    by_hand = replace(made, practice=replace(made.practice, bend_form="capstan"))
    found = result(by_hand)
    assert "constant friction" not in table(found)
    console = Console(width=400)
    with console.capture() as said:
        console.print(tension_report(evaluate(by_hand, with_remedies=False), "US"))
    assert "constant friction decides: the hand method has no contact load" in said.get()


def test_friction_that_falls_to_nothing_is_a_caution() -> None:
    cautions = [
        f for f in result(job(("", ""), 0.0)).run_findings if f.rule == "friction by pressure"
    ]
    assert [f.severity for f in cautions if "friction 0 above" in f.fix.template] == ["caution"] * 2


def test_it_is_explained_with_the_load_on_the_wall_in_numbers() -> None:
    told = explanation("friction by pressure", result(job(("T 1", ""))), "US")["worked"]
    of_conduits = [one for one in told if one["where"].startswith("conduit")]
    assert len(of_conduits) == 4  # two conduits, two directions
    for one in of_conduits:
        figures = re.findall(r"(?:\(- )?\d+\.\d+", one["formulas"][0]["plain"])
        *given, load = (float(figure.replace("(- ", "-")) for figure in figures)
        tension, radius, w, nz, _, b = given
        assert math.hypot(tension / radius - w * nz, w * b) == pytest.approx(load, abs=0.06)
