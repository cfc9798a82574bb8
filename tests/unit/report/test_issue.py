"""Issue control: a document tells the job it was made from, and what has changed since."""

from __future__ import annotations

import re
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import Any

import pytest

import route3d
from route3d.cli.main import main
from route3d.errors import InputError
from route3d.modelfile.read import load
from route3d.report.inputs import document_figures, input_figures
from route3d.report.issue import changes, issue_of, read_issue
from route3d.report.sheet import sheet_pdf

MODELS = Path(__file__).parents[3] / "models"
DEMOS = ("riser_duct_bank", "roof_drop", "yard_run")


@pytest.fixture(scope="module")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The crew's sheet of a demo, with a copy of its model file beside it."""
    folder = tmp_path_factory.mktemp("issued")
    text = (MODELS / "yard_run.toml").read_text(encoding="utf-8")
    text += '\n[document]\nnumber = "C-104"\nrevision = 2\ndate = 2026-05-04\n'
    (folder / "job.toml").write_text(text, encoding="utf-8")
    job = load(folder / "job.toml")
    (folder / "sheet.pdf").write_bytes(sheet_pdf(job, route3d.plan(job).plans, "US"))
    return folder / "sheet.pdf"


def edited(sheet: Path, tmp_path: Path, *pairs: tuple[str, str]) -> Path:
    text = (sheet.parent / "job.toml").read_text(encoding="utf-8")
    for old, new in pairs:
        assert old in text
        text = text.replace(old, new)
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    return tmp_path / "job.toml"


def test_current_whatever_the_comments_say(
    sheet: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    same = (("# invented", "# said so"), ('bend = "48 in"', 'bend = "4 ft"'))
    model = edited(sheet, tmp_path, *same)
    assert main(["issued", str(sheet), str(model)]) == 0
    told = capsys.readouterr().out
    assert told.startswith("Current.") and "number C-104, revision 2, date 2026-05-04" in told


def test_superseded_with_every_change_in_the_units_asked_for(
    sheet: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    model = edited(
        sheet,
        tmp_path,
        ("friction   = 0.25", "friction   = 0.3"),
        ("rated_load = 12000", "rated_load = 10000"),
        ("revision = 2", "revision = 3"),
        ('name = "berth 4 charger"', 'name = "berth 5"'),
    )
    assert main(["issued", str(sheet), str(model), "--units", "SI"]) == 1
    rows = [re.split(r"\s{2,}", line) for line in capsys.readouterr().out.splitlines()]
    assert [row for row in rows if len(row) == 3][1:] == [
        ["document.revision", "2", "3"],
        ["conduit.duct.friction", "0.25", "0.3"],
        ["rope.line.rated_load", "53378.7 N", "44482.2 N"],
        ["run.Y1.route[6].name", "berth 4 charger", "berth 5"],
    ]


def test_another_run_of_the_model_supersedes_nothing(sheet: Path) -> None:
    issue, job = read_issue(sheet), load(sheet.parent / "job.toml")
    more = replace(job, runs=(*job.runs, replace(job.runs[0], name="Y2")))
    assert changes(issue, more) == ()
    assert {c.new for c in changes(issue, replace(job, runs=()))} >= {None}


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (lambda b: b[:3000] + bytes([b[3000] ^ 1]) + b[3001:], "was changed after it was issued"),
        (lambda b: b + b"\n% appended", "was changed after it was issued"),
        (lambda b: b[: b.rindex(b"%route3d seal")], "was not issued by route3d, or"),
        (lambda b: b"%PDF-1.7\n%%EOF\n", "was not issued by route3d"),
        (lambda b: b"hello", "is not a PDF"),
        (lambda b: b"", "is not a PDF"),
    ],
)
def test_what_is_not_as_issued_is_refused(
    sheet: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    change: Any,
    message: str,
) -> None:
    other = tmp_path / "other.pdf"
    other.write_bytes(change(sheet.read_bytes()))
    assert main(["issued", str(other), str(sheet.parent / "job.toml")]) == 2
    assert message in capsys.readouterr().err
    with pytest.raises(InputError):
        read_issue(other)


def test_the_mark_is_that_of_the_figures_and_the_version() -> None:
    job = load(MODELS / "roof_drop.toml")
    issue = issue_of(job, "report", "SI")
    assert issue.mark == issue_of(load(MODELS / "roof_drop.toml"), "sheet", "US").mark
    assert issue.mark != replace(issue, version="0.0.9").mark
    assert issue.short == issue.mark[:12] and issue.short in issue.words


# Fields that no figure of a document hangs on: names given as part of the key, sources, lines.
_NOT_FIGURES = frozenset(
    (
        *("name", "about", "size", "line", "doubtful", "rules_assumed", "path", "examples"),
        *("source", "elbow_source", "min_bend_source", "bend_source"),
        *("origins", "units", "machines"),
    )
)


@pytest.mark.parametrize("name", DEMOS)
def test_a_change_of_any_figure_of_a_job_is_noticed(name: str) -> None:
    """Every number of every record of a job, one at a time: none is lost from the record."""
    job = load(MODELS / f"{name}.toml")
    before = {f.key: f.plain for f in (*document_figures(job), *input_figures(job))}
    count = 0
    for changed in each_changed(job):
        after = {f.key: f.plain for f in (*document_figures(changed), *input_figures(changed))}
        assert after != before
        count += 1
    assert count > 60


def each_changed(record: Any) -> Any:
    """The record with one number or text in it changed, for each of them."""
    if isinstance(record, bool):
        yield not record
    elif isinstance(record, int | float):
        yield record + 1
    elif isinstance(record, tuple):
        for i, value in enumerate(record):
            for changed in each_changed(value):
                yield (*record[:i], changed, *record[i + 1 :])
    elif is_dataclass(record):
        for field in fields(record):
            if field.name in _NOT_FIGURES:
                continue
            if field.name == "grade" and not record.grade.given:
                continue  # assumed, all of it
            if type(record).__name__ == "Placing" or field.name == "given":
                continue  # of no account without a file; seen in tests of the site
            if type(record).__name__ == "Route" and field.name == "conduits":
                continue  # those of the tables, seen there
            for changed in each_changed(getattr(record, field.name)):
                try:
                    yield replace(record, **{field.name: changed})
                except (ValueError, TypeError):  # a record that refuses it
                    continue
