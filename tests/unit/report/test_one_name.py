"""One name for one limit, and the worst first, on every surface of a run that must not be pulled.

A 4 AWG ground beside a 750 kcmil cable under one basket grip: the ground carries an equal half of
the tension and is the first to reach its strength (334 lbf by 41,740 cmil x 0.008 lbf).
"""

from __future__ import annotations

import io
import re
from pathlib import Path

import pytest
from rich.console import Console, RenderableType

from route3d.checks.limits import limit_name
from route3d.model import Job
from route3d.modelfile.read import load
from route3d.planning.evaluate import evaluate
from route3d.planning.pull_plan.plan import make_plan
from route3d.planning.result import JobResult
from route3d.report.findings import check_report
from route3d.report.json_result import tension_data
from route3d.report.plan import plan_report
from route3d.report.plan_blocks import limits_block, verdict
from route3d.report.tension import tension_report

JOB = """
title = "Ferry terminal: gangway"
units = "US"
[cable.main]
diameter = 1.30
weight = 2.65
conductor = { metal = "copper", area = "750 kcmil" }
sidewall_limit = 1000
bend_multiple = 6
[cable.gnd]
diameter = 0.324
weight = 0.155
conductor = { metal = "copper", area = "4 AWG" }
sidewall_limit = 500
bend_multiple = 4
[conduit.duct]
type = "RMC"
trade_size = "3"
friction = { value = 0.4, low = 0.3, high = 0.5, source = "site test" }
[rope.line]
diameter = 0.875
weight = 0.2
friction = 0.2
rated_load = 20000
stretch = 0.012
[machine.puller]
gears = [{ line_pull = 15000, speed = 15 }]
[[run]]
name = "G1"
cables = { main = 1, gnd = 1 }
attach = "basket grip"
rope = "line"
machine = "puller"
route = [
  { at = [0, 0, 0], name = "pier", access = ["reel", "machine"], conduit = "duct" },
  { at = [300, 0, 0], bend = 36 },
  { at = [300, 250, 0], bend = 36 },
  { at = [600, 250, 0], name = "gangway", access = ["reel", "machine"] },
]
"""
RIDER = "riding cable gnd"


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Job:
    path: Path = tmp_path_factory.mktemp("one") / "job.toml"
    path.write_text(JOB)
    return load(path)


@pytest.fixture(scope="module")
def result(job: Job) -> JobResult:
    return evaluate(job)


def text_of(report: RenderableType) -> str:
    out = io.StringIO()
    Console(file=out, width=10_000, color_system=None).print(report)
    return out.getvalue()


def test_the_row_the_decision_and_the_finding_name_the_same_limit(result: JobResult) -> None:
    (run,) = result.runs
    text = text_of(tension_report(result, "US"))
    row = next(line for line in text.splitlines() if line.startswith("governing"))
    assert row.count(f"{RIDER}, ") == 2
    assert len(re.findall(rf"exceeds the {RIDER} limit \([0-9,]+ lbf; limit 334 lbf\)", text)) == 2
    assert f"of {RIDER} limit" in text and "of basket grip load limit" in text
    assert "conductor tension" not in text
    assert run.candidates[0].name("conductor") == RIDER
    # its key in the results stays
    assert tension_data(result)["runs"][0]["pulls"][0]["governing"] == "conductor"


def test_the_plan_names_it_too(job: Job, result: JobResult) -> None:
    plan = make_plan(result.runs[0], job, step=15.0)
    assert verdict(plan, "US").startswith(f"STOP. Do not pull: load path: {RIDER}, ")
    text = text_of(plan_report(job, [plan], "US"))
    assert f"Weakest link: {RIDER}" in text
    assert f"where {RIDER} at cable head reaches its limit" in text
    assert [row[0] for row in limits_block(plan, "US").rows] == [
        *(RIDER, "basket grip load", "sidewall pressure", "machine line pull", "rope load")
    ]


def test_the_worst_stop_is_named_first(result: JobResult) -> None:
    (run,) = result.runs
    for candidate in run.candidates:
        ratios = [f.ratio for f in candidate.breaks]
        assert ratios == sorted(ratios, reverse=True)
    text = text_of(tension_report(result, "US"))
    assert f"STOP: {RIDER}, basket grip load" in text
    first = next(x for x in text_of(check_report(result, "US")).splitlines() if x[:4] == "stop")
    assert first.split("  ")[0:1] == ["stop"] and RIDER in first


def test_every_limit_goes_by_the_rule_of_its_finding(result: JobResult) -> None:
    (run,) = result.runs
    pull = run.candidates[0].pull
    rules = {f.rule for f in run.candidates[0].findings}
    for limit in ("conductor", "grip", "sidewall", "rope", "machine"):
        assert limit_name(limit, pull.run, pull.practice) in rules


def test_the_friction_range_of_the_file_is_told(result: JobResult) -> None:
    sources = {f.source for r in result.runs for f in r.findings if f.rule == "reel brake"}
    assert sources == {"friction 0.30 to 0.50 in RMC 3: site test"}
