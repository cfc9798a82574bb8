"""The calculation report: every line can be redone by hand from the page, and it is whole."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from html import unescape
from io import BytesIO
from typing import NamedTuple

import numpy as np
import pytest
from pypdf import PdfReader

from route3d.api import calculations
from route3d.mechanics.pull import solve_pull
from route3d.mechanics.segment_lines import segment_lines
from route3d.model.conduit import Conduit
from route3d.model.job import Job
from route3d.model.practice import Practice
from route3d.modelfile.read import loads
from route3d.report.calculation import calculation_report, not_modeled
from route3d.report.calculation_html import calculation_html
from route3d.report.calculation_pdf import calculation_pdf
from route3d.report.document import Document, Heading, Table, Verdict, Words
from route3d.report.inputs import input_figures, origin_of, other_origins
from route3d.report.issue import issue_of
from route3d.report.plan_blocks import verdict
from route3d.report.segment_table import line_constants, rounding_words, segment_block
from route3d.report.worked import line_worked
from tests.support import jobs
from tests.support.broken_jobs import MODELS
from tests.support.printed_lines import check, tables
from tests.support.report_model import MODEL


def report_of(job: Job, system: str, paper: str = "a4") -> tuple[Document, bytes]:
    runs, issue = calculations(job, system), issue_of(job, "report", system)
    document = calculation_report(job, runs, issue, paper=paper)
    return document, calculation_pdf(document, issue, paper=paper)


class Made(NamedTuple):
    """A report, its PDF, and the text of each page."""

    document: Document
    pdf: bytes
    pages: list[str]

    @property
    def text(self) -> str:
        return "\n".join(self.pages)


@pytest.fixture(scope="module")
def made() -> Made:
    document, pdf = report_of(loads(MODEL), "US", "letter")
    return Made(document, pdf, [p.extract_text() for p in PdfReader(BytesIO(pdf)).pages])


def test_every_line_of_the_pdf_can_be_redone_by_hand(made: Made) -> None:
    found = tables(made.text)
    assert len(found) == 4  # two runs, both directions
    redone = [check(table) for table in found]
    assert [sum(each.values()) >= 5 for each in redone] == [True] * 4
    forms = {form for each in redone for form in each}
    assert forms >= {"S", "L", "V", "W", "C", "X", "Q", "0"}, forms


def test_a_wrong_figure_on_the_page_is_noticed(made: Made) -> None:
    table = tables(made.text)[0]
    for i, line in enumerate(table.lines):
        if line.form == "X":
            continue
        step = 1.0 + 3e-4 * line.t_out
        wrong = [*table.lines]
        wrong[i] = replace(line, t_out=line.t_out + step)
        with pytest.raises(AssertionError):
            check(replace(table, lines=wrong))


def falling(friction: float, above: float, then: float) -> Conduit:
    """Friction that falls above a contact load by a test report."""
    return jobs.conduit(
        friction=friction, friction_above=above, friction_then=then, friction_report="T-1"
    )


@pytest.mark.parametrize("system", ["US", "SI"])
def test_lines_of_random_routes_can_be_redone(system: str) -> None:
    rng = np.random.default_rng(12)
    redone: dict[str, int] = {}
    for number in range(15):
        route = jobs.hills(rng, 6, 25.0)
        if number % 3 == 0:
            one = falling(0.4, 260.0, 0.05)
            route = replace(route, conduits=(one,) * len(route.conduits))
        run = jobs.run(route)
        for reverse in (False, True):
            pull = solve_pull(run, Practice(rules="none"), reverse=reverse)
            lines = segment_lines(pull)
            block = segment_block(pull, lines, system)
            words = [line_constants(pull, system), *(" ".join(row) for row in block.rows)]
            (table,) = tables("\n".join([*words, *block.notes, rounding_words(system)]))
            assert len(table.lines) == len(lines)
            for form, count in check(table).items():
                redone[form] = redone.get(form, 0) + count
    assert redone["X"] > 20 and redone["S"] > 100


def test_the_report_holds_what_a_reviewer_asks_for(made: Made) -> None:
    document = made.document
    text = re.sub(r"\s+", " ", made.text)
    for wanted in (
        'Ferry terminal: <b>feeders</b> & "more"',
        "Harbor Authority",
        "K-7",
        "made: A. Engineer",
        "Summary of all runs",
        "Results from both ends",
        "friction margin",
        "brake window",
        "at a restart",
        "clause and edition",
        "Fit in numbers",
        "Appendix A: inputs and their origin",
        "Options chosen",
        "Exact against hand calculation",
        "Load path",
        "Assumptions",
        "Not modeled",
        "bending stiffness of the cable",
        "Sources",
        "tilted bends",
        "page 1 of",
    ):
        assert wanted in text, wanted
    assert len(not_modeled()) >= 5
    reader = PdfReader(BytesIO(made.pdf))
    mark = issue_of(loads(MODEL), "report", "US")
    assert all(mark.words in page for page in made.pages)
    assert reader.metadata is not None and mark.mark in str(reader.metadata["/Keywords"])
    assert set(reader.attachments) == {"route3d.json"}
    for part in document.parts:
        if isinstance(part, Table):
            assert all(len(row) == len(part.block.heads) for row in part.block.rows)


def test_every_input_has_its_origin() -> None:
    """Given, from a table with its source, default, assumed, example: none is left without."""
    text = MODEL.replace(
        "[conduit.riser]\ninner_diameter = 150\nouter_diameter = 160",
        '[conduit.riser]\ntype = "RMC"\ntrade_size = "5"',
    ).replace("[rope.line]", "[rope.line]\nexample = true")
    job = loads(text)
    found = {f.key: origin_of(f, job) for f in input_figures(job)}
    assert [key for key, origin in found.items() if origin is None] == []
    kinds = {key: origin.kind for key, origin in found.items() if origin is not None}
    assert kinds["cable.phase.diameter"] == "given"
    assert kinds["conduit.riser.inner_diameter"] == "table"
    assert kinds["practice.restart"] == "default"
    assert {kind for key, kind in kinds.items() if key.startswith("rope.line.")} == {"example"}
    assert "run.A1.reel.drag" in {key for key, origin in other_origins(job)}
    parts = calculation_report(job, (), issue_of(job, "report", "SI"), paper="a4").parts
    inputs = next(p for p in parts if isinstance(p, Table) and p.block.heads[0] == "key")
    rows = {row[0]: row[1:] for row in inputs.block.rows}
    assert rows["rated_load"] == ("25000 N", "example", "")
    assert rows["trade_size"][:2] == ("5", "given")
    table = [row for row in inputs.block.rows if row[2] == "table"]
    assert table and all(row[3] for row in table)


def test_no_heading_stands_alone_and_no_page_is_empty(made: Made) -> None:
    """A heading is followed by what it heads on the same page."""
    heads = {part.text for part in made.document.parts if isinstance(part, Heading)}
    for page in made.pages:
        lines = [line.strip() for line in page.splitlines() if line.strip()]
        body = [line for line in lines if "mark " not in line and not line.startswith("page ")]
        assert body and body[-1] not in heads, body[-3:]


def test_the_headline_is_that_of_plan_and_sheet() -> None:
    """Of the end it plans, and what only the plan finds as well: bolts too weak for the machine."""
    text = (MODELS / "riser_duct_bank.toml").read_text()
    weak = text.replace("bolt_tension = 3000", "bolt_tension = 30")
    pressed = text.replace("sidewall_limit = 500", "sidewall_limit = 100")
    assert text not in (weak, pressed)
    for changed, rule in ((weak, "load path: worst bolt"), (pressed, "brake window")):
        job = loads(changed, "job.toml", MODELS)
        (run,) = calculations(job, "US")
        document = calculation_report(job, (run,), issue_of(job, "report", "US"), paper="letter")
        (told,) = [part for part in document.parts if isinstance(part, Verdict)]
        assert run.plan is not None and run.stops and told.stop
        assert told.text == verdict(run.plan, "US")
        assert told.text.startswith(f"STOP. Do not pull: {rule}")


def test_the_same_job_gives_the_same_bytes() -> None:
    job = loads(MODEL)
    job = replace(job, runs=job.runs[1:])
    assert report_of(job, "SI")[1] == report_of(job, "SI")[1]


def test_the_page_says_the_same_and_can_be_read_aloud(made: Made) -> None:
    document = made.document
    page = calculation_html(document, issue_of(loads(MODEL), "report", "US"))
    assert "<b>feeders" not in page and "&lt;b&gt;feeders" in page
    assert not re.search(r'(?:src|href)="(?!data:)', page)  # nothing from elsewhere
    text = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page))
    for part in document.parts:
        if isinstance(part, Words):
            assert all(re.sub(r"\s+", " ", t) in unescape(text) for t in part.texts)
    tables_found = re.findall(r"<table>.*?</table>", page, re.DOTALL)
    assert len(tables_found) == sum(isinstance(part, Table) for part in document.parts)
    for table in tables_found:
        assert 'scope="col"' in table and 'scope="row"' in table
    assert all(m for m in re.findall(r'<img alt="([^"]*)"', page)) and "<math" in page
    assert repr(tables(unescape(text))) == repr(tables(made.text))  # repr: nan is nan


def test_a_bend_is_cut_where_friction_falls_and_where_the_load_is_held() -> None:
    """Down 60 degrees into a sag: above 60 N/m with 0.05, held there, above it again."""
    route = jobs.lay(
        jobs.at((0, 0, 10), ends=jobs.BOTH),
        jobs.at((5, 0, 10 - 5 * math.sqrt(3)), bend=1.5),
        jobs.at((17, 0, 10 - 5 * math.sqrt(3) + 12 / math.sqrt(3)), ends=jobs.BOTH),
        conduits=falling(0.8, 60.0, 0.05),
    )
    pull = solve_pull(jobs.run(route, reel_tension=220.0), Practice(rules="none"))
    lines = [line for line in segment_lines(pull) if line.number == 2]
    assert [(line.part, line.form) for line in lines] == [("a", "sag"), ("b", "held"), ("c", "sag")]
    first, held, last = lines
    assert (first.friction, last.friction) == (pytest.approx(0.05), pytest.approx(0.05))
    w = pull.run.cables.weight
    by_height = held.tension_in - w * held.rise
    assert held.rise < -0.3 and held.tension_out == pytest.approx(by_height, rel=1e-9)
    (formula,) = line_worked(pull, held, "SI").formulas
    figures = [float(each) for each in re.findall(r"-?\d+\.?\d*", formula)[1:]]
    t1, weight, rise, t2 = figures
    assert t1 - weight * rise == pytest.approx(t2, abs=0.1)
    assert "P" in {row[2] for row in segment_block(pull, tuple(lines), "SI").rows}


def test_slope_of_a_bend_past_upright_is_still_its_formula() -> None:
    """A bend that turns past upright: slopes go on past 90 degrees, and the line can be redone."""
    route = jobs.lay(
        jobs.at((0, 0, 0), ends=jobs.BOTH),
        jobs.at((10, 0, 0), bend=1.0),
        jobs.at((8, 0, 6), bend=1.0),
        jobs.at((-5, 0, 6), ends=jobs.BOTH),
        conduits=jobs.conduit(),
    )
    for reverse in (False, True):
        lines = segment_lines(solve_pull(jobs.run(route), Practice(rules="none"), reverse=reverse))
        assert max(abs(math.degrees(a)) for x in lines for a in (x.slope_in, x.slope_out)) > 90
        assert not [x for x in lines if x.form == "tilted"]
