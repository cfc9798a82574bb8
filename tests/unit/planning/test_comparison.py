"""Jobs side by side: the input that differs, and results that are those of each job alone."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from typing import Any, get_args, get_type_hints

import pytest
from rich.console import Console

from route3d import model
from route3d.drawing.comparison import comparison_marks
from route3d.drawing.marks import Text
from route3d.modelfile.read import loads
from route3d.planning.comparison import compare
from route3d.planning.evaluate import evaluate
from route3d.planning.inputs import _OMITTED, QUANTITY_OF, differences
from route3d.planning.reels import reel_plan
from route3d.report.compare import compare_data, compare_report
from route3d.report.json_result import dumps, tension_data
from route3d.report.reels import reels_csv, reels_report
from route3d.report.summary import jobs_csv
from route3d.study.many_jobs.answer import JobLine
from tests.support.twelve_runs import twelve_runs

TEXT = twelve_runs()
# Numbers without a unit: shares of nothing, counts, and coordinates that the route gives itself.
_PLAIN = {"point", "start"}


def _two(text: str = TEXT, runs: int = 2) -> model.Job:
    job = loads(text)
    return replace(job, runs=job.runs[:runs])


@pytest.mark.parametrize(
    ("old", "new", "key", "values"),
    [
        ("friction = 0.25", "friction = 0.3", "conduit.duct.friction", [0.25, 0.3]),
        ('friction = 0.25', 'friction = { value = 0.25, high = 0.4 }', "conduit.duct.friction.high",
         [None, 0.4]),
        ("rated_load = 9000", 'rated_load = "8000 lbf"', "rope.line.rated_load",
         [40033.9987, 35585.7766]),
        ("[90, 140, 0]", "[90, 141, 0]", "run.B1A.route.point 3.at",
         [(27.432, 42.672, 0.0), (27.432, 42.9768, 0.0)]),
        ('edition = "2023"', 'edition = "2020"', "practice.edition", ["2023", "2020"]),
        ("line_pull = 7500", "line_pull = 7000", "machine.puller.gears.2.line_pull",
         [33361.662, 31137.551]),
        ("weight = 0.16", "weight = 0.16", "", []),
        ("diameter = 0.75", 'diameter = "19.05 mm"', "", []),  # the same in another unit
    ],
)  # fmt: skip
def test_one_key_changed_is_the_one_difference(
    old: str, new: str, key: str, values: list[Any]
) -> None:
    found = differences([_two(), _two(TEXT.replace(old, new))])
    assert [d.key for d in found] == [key] * bool(key)
    if key:
        got = [None if x is None else x.value for x in found[0].inputs]
        assert got == [pytest.approx(v) if isinstance(v, float | tuple) else v for v in values]


def test_a_route_with_another_point_is_one_difference() -> None:
    point = "  { at = [90, 140, 0], bend = 48 },\n"
    changed = TEXT.replace(point, point + "  { at = [120, 140, 0] },\n", 1)
    found = differences([_two(), _two(changed)])
    assert [d.key for d in found] == ["run.B1A.route.points"]


def test_every_number_of_the_records_has_a_unit_to_be_shown_in() -> None:
    records = [getattr(model, name) for name in model.__all__]
    lacking = [
        f"{record.__name__}.{field.name}"
        for record in records
        if is_dataclass(record) and record.__name__ not in ("Vertex", "Origin", "Phrase")
        for field in fields(record)
        if _holds_float(get_type_hints(record)[field.name])
        if field.name not in QUANTITY_OF and field.name not in _OMITTED
    ]
    # Pairs of load and speed; the plan grid of a job.
    assert set(lacking) <= {"Gear.speeds"}


def _holds_float(kind: Any) -> bool:
    return kind is float or any(map(_holds_float, get_args(kind)))


def test_the_figures_are_those_of_each_job_alone() -> None:
    jobs = [_two(), _two(TEXT.replace("friction = 0.25", "friction = 0.35"))]
    found = compare([("now", jobs[0]), ("dry", jobs[1])])
    for run in found.runs:
        figures = {f.figure.key: f.values for f in run.figures}
        for i, job in enumerate(jobs):
            alone = tension_data(evaluate(job, with_remedies=False))["runs"]
            data = next(r for r in alone if r["name"] == run.name)
            pull = next(p for p in data["pulls"] if p["feed"] == figures["feed"][i])
            for key in ("end_tension_N", "peak_tension_N", "peak_sidewall_N_per_m"):
                assert figures[key][i] == pull[key]
            assert figures["utilization"][i] == max(filter(None, pull["utilization"].values()))
            assert figures["friction_margin"][i] == pull["friction_margin"]
    peak = next(f for f in found.runs[0].figures if f.figure.key == "peak_tension_N")
    now, dry = peak.values
    assert isinstance(now, float) and isinstance(dry, float)
    assert dry > now and peak.change(1) == pytest.approx(dry / now - 1)


def test_every_output_names_the_values_that_are_examples() -> None:
    job = replace(_two(), examples=("cable.phase",))
    found = compare([("now", _two()), ("draft", job)])
    line = "EXAMPLE VALUES, not confirmed: cable.phase (draft)"
    marks, _ = comparison_marks(found, "US")
    assert line in [mark.text for mark in marks if isinstance(mark, Text)]
    assert line in _printed(compare_report(found, "US"))
    assert [data["examples"] for data in compare_data(found)["jobs"]] == [[], ["cable.phase"]]
    plan = reel_plan(job, longest=500.0)
    assert "EXAMPLE VALUES, not confirmed: cable.phase" in _printed(reels_report(plan, "US"))
    head, row, *_ = reels_csv(plan, "US").splitlines()
    assert head.endswith(",EXAMPLE VALUES") and row.endswith(",cable.phase")
    lines = [JobLine("a.toml", "t", a.summary, job.examples) for a in found.runs[0].answers if a]
    assert list(jobs_csv(lines, "US", examples=True))[1].endswith(",cable.phase\n")


def _printed(report: Any) -> str:
    console = Console(width=200)
    with console.capture() as captured:
        console.print(report)
    return captured.get()


def test_findings_come_and_go_and_a_run_may_be_in_one_job_only() -> None:
    jobs = [_two(), replace(_two(TEXT.replace("bend = 48", "bend = 14"), 3), title="tight")]
    found = compare([("now", jobs[0]), ("tight", jobs[1])])
    first, _, third = found.runs
    stops = [f.rule for f in first.gained(1) if f.severity == "stop"]
    assert "cable bend radius" in stops and not [f for f in first.lost(1) if f.severity == "stop"]
    assert third.answers[0] is None and not third.matched and found.stops
    assert not compare([("tight", jobs[1]), ("now", jobs[0])]).stops  # the first is what is left
    assert not any(run.differs for run in compare([("a", jobs[0]), ("b", jobs[0])]).runs)
    data = compare_data(found, "US")
    assert [run["in"] for run in data["runs"]] == [[True, True], [True, True], [False, True]]
    assert dumps(data) == dumps(compare_data(found, "US"))
    assert data["runs"][2]["profiles"][0] is None
