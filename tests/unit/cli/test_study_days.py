"""``route3d study days`` from outside: the demo, its files, and runs without a place."""

from __future__ import annotations

import csv
import io
import json
from contextlib import redirect_stdout
from dataclasses import replace
from datetime import datetime
from itertools import pairwise
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

import route3d
from route3d.cli.main import main
from route3d.model.schedule import Crew, Schedule
from route3d.modelfile.read import load, loads
from route3d.planning.evaluate import evaluate
from route3d.planning.result import JobResult
from route3d.planning.splitting.stage_plans import way_plans
from route3d.planning.summary import summaries
from route3d.study.day_plan.work import works_of

MODELS = Path(route3d.__file__).parents[1] / "models"
BERTHS, CREWS = str(MODELS / "berths.xlsx"), str(MODELS / "crews/berths.toml")
YARD = MODELS / "yard_run.toml"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """All files of the demo."""
    folder = tmp_path_factory.mktemp("days")
    files = [w for kind in ("csv", "xlsx", "svg") for w in (f"--{kind}", str(folder / f"x.{kind}"))]
    with redirect_stdout(io.StringIO()) as out:
        assert main(["study", "days", BERTHS, CREWS, "--seconds", "0.3", "--json", *files]) == 0
    (folder / "x.json").write_text(out.getvalue(), encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def berths() -> JobResult:
    """The demo answered."""
    return evaluate(load(Path(BERTHS)), with_remedies=False)


def test_the_demo_is_in_days(made: Path, berths: JobResult) -> None:
    data = json.loads((made / "x.json").read_text(encoding="utf-8"))
    assert len(data["pulls"]) == 12 and not data["unplaced"]
    assert data["best_possible"] and data["working_time_bound_s"] == data["working_time_s"]
    # the hours of the pull plans, each part rounded up to a minute
    hours = {r.name: r.crew_time for r in summaries(berths)}
    for pull in data["pulls"]:
        spent = pull["pull_s"] + (1200.0 if pull["stands_there_already"] else 3600.0)
        assert pull["setup_s"] + pull["pull_s"] == spent
        assert 0 <= 3600.0 + pull["pull_s"] - hours[pull["run"]] < 60
        start, end = (datetime.fromisoformat(pull[k]) for k in ("start", "end"))
        assert (end - start).total_seconds() == pull["move_s"] + spent
    inside = {p["run"]: p["waits_for"] for p in data["pulls"]}
    assert inside["B7"] == inside["B8"] == "window berths 7 and 8 closed"


def test_its_files_have_every_pull(made: Path) -> None:
    rows = list(csv.DictReader((made / "x.csv").read_text(encoding="utf-8").splitlines()))
    assert {row["run"] for row in rows} == {f"B{i}" for i in range(1, 13)}
    assert all(float(row["set-up (min)"]) in (20, 60) for row in rows)
    from openpyxl import load_workbook

    book = load_workbook(made / "x.xlsx")
    first = [book["day plan"].cell(2, k) for k in (1, 3, 4)]
    assert all(cell.is_date and isinstance(cell.value, datetime) for cell in first)
    assert str(first[1].value) == f"{rows[0]['start']}:00"
    assert book.sheetnames == ["day plan", "crews"] and book["day plan"].max_row == 13
    chart = ElementTree.fromstring((made / "x.svg").read_text(encoding="utf-8"))
    words = [e.text for e in chart.iter() if e.tag.endswith("text")]
    for i in range(1, 13):  # every run, and its vault beside it
        assert words[words.index(f"B{i}") + 1] == f"at vault V{i}"
    assert "berths 7 and 8 closed: B7, B8" in words and "second truck: B9, B10, B11, B12" in words


def test_bars_lie_side_by_side_and_on_the_chart(made: Path) -> None:
    """No bar of a lane overlaps another, and none leaves the picture."""
    chart = ElementTree.fromstring((made / "x.svg").read_text(encoding="utf-8"))
    lanes: dict[float, list[tuple[float, float]]] = {}
    for box in chart.iter():
        if box.tag.endswith("rect") and float(box.get("height", "nan")) == 18:
            x, y, wide = (float(box.get(k, "nan")) for k in ("x", "y", "width"))
            lanes.setdefault(y, []).append((x, x + wide))
    assert sum(map(len, lanes.values())) >= 24  # set-up and pull of every run
    for bars in lanes.values():
        bars.sort()
        assert all(a[1] <= b[0] + 0.1 for a, b in pairwise(bars))
        assert bars[-1][1] <= float(chart.get("width", "nan"))


def crews_for(tmp_path: Path, more: str = "", hours: str = "06:00-18:00") -> str:
    machine = load(YARD).machines[0].name
    file = tmp_path / "crews.toml"
    crew = f'[crew.A]\nmachines = ["{machine}"]\nhours = "{hours}"\n'
    file.write_text(f"start = 2026-06-01\n{more}\n{crew}", encoding="utf-8")
    return str(file)


def test_a_run_that_must_not_be_pulled_has_no_place(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["study", "days", str(YARD), crews_for(tmp_path)]) == 1
    out = capsys.readouterr().out
    name = load(YARD).runs[0].name
    assert f"Not in the plan: {name}: must not be pulled: " in out
    assert f'ways = {{ "{name}" = 1 }} in the crews file pulls it in stages' in out


def test_stages_take_the_hours_of_their_plans_in_their_order(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = load(YARD)
    name = job.runs[0].name
    crews = crews_for(tmp_path, f'ways = {{ "{name}" = 1 }}')
    code = main(["study", "days", str(YARD), crews, "--json", "--seconds", "2"])
    pulls = json.loads(capsys.readouterr().out)["pulls"]
    plans = way_plans(job.runs[0], job, 1, step=lambda length: length / 4)
    assert code == 0 and len(pulls) == len(plans)
    assert [p["start"] for p in pulls] == sorted(p["start"] for p in pulls)
    assert [p["stage"] for p in pulls] == [f"stage {i} of {len(plans)}" for i in (1, 2)]
    # the work of the stages is that of the way: set-ups, pulling, figure eights, splices
    schedule = Schedule(
        datetime(2026, 6, 1).date(),
        (Crew("A", (), (datetime.min.time(),) * 2, (0,), datetime(2026, 6, 1).date()),),
        ways={name: 1},
    )
    answered = evaluate(job, with_remedies=False)
    works = works_of(answered, schedule).pulls
    place = plans[0].place
    assert place is not None
    assert sum(w.setup + w.work for w in works) == pytest.approx(place.way.time, abs=0.1)
    assert [w.after for w in works] == [None, 0]
    (_, why), *_ = works_of(answered, replace(schedule, ways={name: 9})).unplaced
    assert why.startswith("way 9: no such way; ")


@pytest.mark.parametrize("lacking", ["machine", "rope"])
def test_a_run_without_tackle_has_no_hours(lacking: str) -> None:
    job = load(MODELS / "riser_duct_bank.toml")
    bare = replace(job, runs=[replace(run, **{lacking: None}) for run in job.runs])
    found = works_of(evaluate(bare, with_remedies=False), _nobody())
    assert not found.pulls
    assert all(f"the run names no {lacking}" in reason for _, reason in found.unplaced)


@pytest.mark.parametrize("report", ["", 'test_report = "T-1"'])
def test_friction_that_falls_decides_whether_a_run_has_hours(report: str) -> None:
    """Constant friction stops it from both ends; by a test report it has the time of its plan."""
    text = (MODELS / "riser_duct_bank.toml").read_text()
    for planned, high in (("0.25", 0.6), ("0.35", 0.7)):
        law = f'value = {high}, low = 0.2, above = "60 lbf/ft", then = 0.2, {report}'.rstrip(", ")
        text = text.replace(f"friction   = {planned}", f"friction = {{ {law} }}")
    answer = evaluate(loads(text, folder=MODELS), with_remedies=False)
    found = works_of(answer, _nobody())
    assert [not found.pulls, bool(found.unplaced)] == [not report] * 2
    if report:
        (line,) = summaries(answer)
        assert found.pulls[0].setup + found.pulls[0].work == pytest.approx(line.crew_time)


def _nobody(**more: Any) -> Schedule:
    return Schedule(datetime(2026, 6, 1).date(), (), **more)


def test_points_within_the_distance_of_the_first_are_one_place(berths: JobResult) -> None:
    """Vaults 10 ft apart: in pairs with 12 ft, and not in one chain of all twelve."""
    for near, count in ((0.0, 12), (12 * 0.3048, 6)):
        works = works_of(berths, _nobody(same_place=near))
        assert len(works.places) == count == len({w.place for w in works.pulls})


def test_wrong_files_are_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    crews = crews_for(tmp_path, hours="06:00-06:00")
    assert main(["study", "days", str(YARD), crews]) == 2
    assert "ends when it begins" in capsys.readouterr().err
    assert main(["study", "days", str(YARD), str(tmp_path / "none.toml")]) == 2
    assert main(["study", "days", str(YARD)]) == 2
    assert "CREWS" in capsys.readouterr().err
    assert main(["study", "days", BERTHS, CREWS, "--csv", str(tmp_path / "x.txt")]) == 2


def test_python_gives_the_rows_and_the_report(tmp_path: Path) -> None:
    job = load(MODELS / "riser_duct_bank.toml")
    crews = tmp_path / "crews.toml"
    machine = job.machines[0].name
    hours = 'hours = "07:00-15:30"'
    crews.write_text(f'start = 2026-06-01\n[crew.A]\nmachines = ["{machine}"]\n{hours}\n')
    found = route3d.days(job, crews, seconds=1)
    assert len(found.rows()) == len(job.runs) and not found.stops
    assert "1 pull on 1 day, finished Mon Jun 1, 08:10: best possible." in found.text()
