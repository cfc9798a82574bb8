"""The chapter "Sensitivity": the studies in the report, before its appendix."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from route3d.api import calculations, sensitivities
from route3d.cli.main import main
from route3d.model import Job
from route3d.report.calculation import calculation_report
from route3d.report.calculation_html import calculation_html
from route3d.report.calculation_pdf import calculation_pdf
from route3d.report.document import Figures, Heading, Table, Words
from route3d.report.issue import issue_of
from route3d.report.sensitivity import sensitivity_parts
from route3d.study.limits.outcome import ByBoth as LimitsByBoth
from route3d.study.limits.outcome import FrictionLimits
from route3d.study.spread.outcome import ByBoth
from tests.support.study_records import bent_run, sensitivity_of

MODELS = Path(__file__).parents[3] / "models"


def test_tables_say_what_the_studies_found() -> None:
    found = sensitivity_of(bent_run(3))
    parts = list(sensitivity_parts(found, "US"))
    tables = {part.caption: part.block for part in parts if isinstance(part, Table)}
    reached = tables["Probability of reaching each limit"]
    assert reached.heads == ("limit", "fed from vault V1", "fed from roof switchroom")
    assert ("machine line pull", "30.0% \u00b1 1.00%", "70.0% \u00b1 1.00%") in reached.rows
    inputs = tables["Uncertain inputs"]
    figures = ("0.12", "0.25", "0.30", "0.25")
    assert inputs.rows[0][:6] == ("friction of conduit 1", "lognormal", *figures)
    far = tables["Farthest values, fed from vault V1"]
    assert [row[3] for row in far.rows] == ["23.7 in", "none", "23.7 in"]
    assert far.heavy == {1}  # what no value of an input mends stands out
    assert sum(isinstance(part, Figures) for part in parts) == 5
    said = [text for part in parts if isinstance(part, Words) for text in part.texts]
    assert "Fed from vault V1: 70 of 100 such pulls pass." in said


def test_both_frictions_are_told_where_one_falls_above_a_load() -> None:
    """Chance of passing, utilization and largest friction, from each end, in report and data."""
    decides = "constant friction (no test report)"
    found = sensitivity_of(bent_run(1))
    most = found.limits.ends[0].values[0]
    friction = replace(most, input="friction", quantity="factor", at_most=True, beyond=2.0)
    limits = LimitsByBoth(
        FrictionLimits(0.9, replace(friction, farthest=1.1)),
        FrictionLimits(0.6, replace(friction, farthest=1.5)),
        decides,
    )
    first, second = found.spread.ends
    passing = replace(first, by_both=ByBoth(0.7, 0.95, decides))
    spread = replace(found.spread, ends=(passing, second))
    near, far = found.limits.ends
    told = replace(
        found,
        spread=spread,
        limits=replace(found.limits, ends=(replace(near, by_both=limits), far)),
    )
    parts = sensitivity_parts(told, "US")
    said = [text for part in parts if isinstance(part, Words) for text in part.texts]
    assert (
        "Friction by pressure, fed from vault V1: 70.0% pass with constant friction, 95.0% by "
        f"pressure. Decides: {decides}."
    ) in said
    assert (
        "Friction by pressure: constant friction utilization 90%, all friction at most x 1.100; by "
        f"pressure utilization 60%, all friction at most x 1.500. Decides: {decides}."
    ) in said
    assert sum("by pressure" in text for text in said) == 2


def test_the_chapter_of_a_solved_run_stands_before_the_appendix() -> None:
    """The studies themselves, of a run with two bends, set out as page and as PDF."""
    job = Job("yard", "SI", (bent_run(1),))
    (found,) = sensitivities(job)
    issue = issue_of(job, "report", "SI")
    runs = calculations(job, "SI")
    document = calculation_report(job, runs, issue, paper="a4", sensitivity=(found,))
    heads = [p.text for p in document.parts if isinstance(p, Heading) and p.level == 1]
    chapter = heads.index("Sensitivity, run F1: how sure, how far")
    assert heads[chapter + 1].startswith("Appendix A")
    html = calculation_html(document, issue)
    assert html.count("data:image/svg+xml") >= 7
    pages = PdfReader(BytesIO(calculation_pdf(document, issue, paper="a4"))).pages
    text = "\n".join(page.extract_text() for page in pages)
    assert "How far each input may go" in text and "Sensitivity, run F1" in text
    plain = calculation_report(job, runs, issue, paper="a4")
    assert not [p for p in plain.parts if isinstance(p, Heading) and "Sensitivity" in p.text]


def test_the_command_adds_the_chapter_where_it_is_asked_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(
        "route3d.api.sensitivities", lambda job, progress: (sensitivity_of(bent_run(2)),)
    )
    out = tmp_path / "report.html"
    model = str(MODELS / "riser_duct_bank.toml")
    assert main(["report", model, "--html", str(out), "--sensitivity"]) == 0
    assert "Sensitivity, run F1" in out.read_text(encoding="utf-8")
    assert main(["view", model, "--sensitivity", "--svg", str(tmp_path / "x.svg")]) == 2
    assert "--sensitivity has no effect on --svg" in capsys.readouterr().err
