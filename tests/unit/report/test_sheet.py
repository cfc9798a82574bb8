"""The crew's sheet: what it holds, that it stays short, and that typed text stays text."""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape
from io import BytesIO
from pathlib import Path

import pytest
from pypdf import PdfReader

from route3d.disk import file_mark
from route3d.model import Job
from route3d.modelfile.read import load, loads
from route3d.phrase import say
from route3d.planning.evaluate import evaluate
from route3d.planning.pull_plan.plan import Plan, make_plan
from route3d.report.plan_steps import NO_STEPS, steps
from route3d.report.remedies import remedy_list
from route3d.report.sheet import (
    DANGERS,
    SIGN_OFF,
    phone_page,
    printed_pages,
    sheet_pdf,
)
from route3d.units import show

MODELS = Path(__file__).parents[3] / "models"
LBF = 4.4482216152605  # exact by definition
DEMOS = ("riser_duct_bank", "roof_drop", "yard_run")


def plans_of(job: Job) -> list[Plan]:
    return [make_plan(r, job, step=15.0) for r in evaluate(job).runs]


def pages(pdf: bytes) -> list[str]:
    return [page.extract_text() for page in PdfReader(BytesIO(pdf)).pages]


def words(text: str) -> str:
    return re.sub(r"\s+", " ", text)


@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize("name", DEMOS)
def test_two_pages_and_the_gauge_page_with_everything_on_them(name: str, paper: str) -> None:
    job = load(MODELS / f"{name}.toml")
    plans = plans_of(job)
    pdf = sheet_pdf(job, plans, job.units, paper=paper)
    found = pages(pdf)
    # a pull that must not be made has no readings and no rigging
    rigging = [page for page in found if "Rigging drawing" in page]
    ends = [] if plans[0].stops else ["MACHINE END", "FEED END"]
    assert len(found) == (2 if plans[0].stops else 3 + len(ends))
    assert sum("Gauge readings" in page for page in found) == (not plans[0].stops)
    assert [end for page in found[3:] for end in ends if end in page] == ends
    assert rigging == found[3:]
    lines = [line.strip() for page in found for line in page.splitlines()]
    for heading in (
        "Limits",
        "Load path",
        "Findings",
        *(
            ()
            if plans[0].stops
            else (
                "Gears and time",
                "Lines to read aloud",
                f"Machine: {plans[0].machine.name}",
                "Reel end",
                "Rope, lubricant, fittings",
            )
        ),
    ):
        assert lines.count(heading) == 1, heading
    assert sum(line.startswith("Steps (") for line in lines) == 1
    whole = words(" ".join(found))
    plan = plans[0]
    for part in (
        *(
            (NO_STEPS,)
            if plan.stops
            else (*SIGN_OFF, show(plan.feeding.set_mass, "mass", job.units))
        ),
        show(plan.pull.peak_tension, "force", job.units),
        show(plan.peak, "force", job.units),
        *DANGERS,
    ):
        assert words(part) in whole, part
    assert (words(NO_STEPS) in whole) is plan.stops
    assert ("HOLD " in whole) is not plan.stops
    for page in found:
        assert f"SHA-256 {file_mark(job.path)}" in page and "route3d 0." in page


def test_the_list_of_remedies_stands_on_the_sheet_and_on_the_phone() -> None:
    job = load(MODELS / "yard_run.toml")
    (result,) = evaluate(job).runs
    (plan,) = plans_of(job)
    told = remedy_list(result, "US")
    assert len(told.groups) > 1
    page = phone_page(job, [plan], "US")
    for text in (*pages(sheet_pdf(job, [plan], "US"))[:1], unescape(re.sub("<[^>]+>", " ", page))):
        flat = words(text)
        assert flat.count(told.title) == 1
        places = [flat.upper().index(group.cost_class.upper()) for group in told.groups]
        assert places == sorted(places)
        for line in told.lines:
            assert words(line.what) in flat and line.comes_of_it in flat and line.caution in flat
        assert words(f"{told.foot} {told.command}") in flat
    numbered = [int(n) for n in re.findall(r'<li value="(\d+)">', page)]
    assert numbered == [line.number for line in told.lines]


def test_a_name_in_a_remedy_is_no_markup() -> None:
    job = load(MODELS / "yard_run.toml")
    (result,) = evaluate(job).runs
    assert result.advice is not None
    (first, *others) = result.advice.remedies
    hostile = replace(first, what=say("<b>#strong[x]</b>"))
    result = replace(result, advice=replace(result.advice, remedies=(hostile, *others)))
    plan = replace(make_plan(result, job, step=15.0), result=result)
    assert "<b>#strong" not in phone_page(job, [plan], "US")
    assert "<b>#strong[x]</b>" in words(" ".join(pages(sheet_pdf(job, [plan], "US"))))


def test_the_size_of_the_paper() -> None:
    job = load(MODELS / "roof_drop.toml")
    plans = plans_of(job)
    box = {
        p: PdfReader(BytesIO(sheet_pdf(job, plans, "SI", paper=p))).pages[0].mediabox
        for p in ("letter", "a4")
    }
    assert (round(box["letter"].width), round(box["letter"].height)) == (612, 792)
    assert (round(box["a4"].width), round(box["a4"].height)) == (595, 842)


def test_the_same_input_gives_the_same_bytes() -> None:
    job = load(MODELS / "yard_run.toml")
    plans = plans_of(job)
    assert sheet_pdf(job, plans, "US") == sheet_pdf(job, plans, "US")
    assert phone_page(job, plans, "US") == phone_page(job, plans, "US")


def test_the_mark_changes_with_the_file(tmp_path: Path) -> None:
    copy = tmp_path / "x.toml"
    text = (MODELS / "yard_run.toml").read_text(encoding="utf-8")
    copy.write_text(text, encoding="utf-8")
    before = file_mark(copy)
    copy.write_text(text + "\n", encoding="utf-8")
    assert before != file_mark(copy)
    assert before == file_mark(MODELS / "yard_run.toml")


HOSTILE = '#panic("x") *b* $a$ <script>alert(1)</script> {0} \\\\ "&amp;'


def test_what_people_type_stays_text() -> None:
    text = (MODELS / "riser_duct_bank.toml").read_text(encoding="utf-8")
    name = HOSTILE.replace('"', '\\"')
    hostile = text.replace('name = "vault V1", access', f'name = "{name}", access')
    hostile = hostile.replace('title = "', f'title = "{name} ')
    job = loads(hostile)
    plans = plans_of(job)
    found = words(" ".join(pages(sheet_pdf(job, plans, "US"))))
    assert '#panic("x") *b* $a$' in found and "<script>" in found
    page = phone_page(job, plans, "US")
    assert "<script>" not in page and "&lt;script&gt;" in page


def test_the_page_for_a_phone_needs_nothing_else() -> None:
    job = load(MODELS / "riser_duct_bank.toml")
    page = phone_page(job, plans_of(job), "US")
    assert "http://www.w3.org/2000/svg" in page  # a name, not an address that is fetched
    # a hatch within the page is no address
    assert not re.search(r"(src|href)\s*=|@import|url\((?!#)", page)
    assert page.count("<table>") >= 6 and len(page) < 100_000


def test_units_follow_the_request() -> None:
    job = load(MODELS / "riser_duct_bank.toml")
    plans = plans_of(job)
    assert "lbf" in phone_page(job, plans, "US") and "lbf" not in phone_page(job, plans, "SI")


def test_the_gauge_page_is_in_large_type_with_stop_in_bold_and_the_marks_of_the_dial() -> None:
    job = load(MODELS / "riser_duct_bank.toml")
    (plan,) = plans_of(job)
    # the rigging of both ends follows
    page = PdfReader(BytesIO(sheet_pdf(job, [plan], "US"))).pages[-3]
    bold, sizes = {}, {}

    def look(text, cm, tm, font, points) -> None:  # type: ignore[no-untyped-def]
        for word in text.split():
            bold.setdefault(word, set()).add("Bold" in font["/BaseFont"])
            sizes.setdefault(word, set()).add(round(points * abs(tm[3] * cm[3]), 1))

    text = page.extract_text(visitor_text=look)
    gauge = printed_pages(job, plan, "US", paper="letter")["gauge"]
    stop = gauge["heads"].index("STOP, lbf")
    for row, planned in zip(gauge["rows"], plan.gauge, strict=True):
        shown = float(row[stop].replace(",", "")) * LBF
        assert shown <= planned.stop < shown + plan.pace.allowances.gauge_step * (1 + 1e-9)
        assert bold[row[stop]] == {True} and min(sizes[row[stop]]) >= 10
        assert row[-2:] == ["", ""]
    assert gauge["heads"][-2:] == ["reading", "time"] and "Scan: this table as text" in text


def test_steps_lead_from_the_cable_in_place_to_tested_and_marked_ends() -> None:
    job = load(MODELS / "riser_duct_bank.toml")
    (plan,) = plans_of(job)
    told = [text for text, _ in steps(plan, "US")]
    order = ("past the conduit end", "supports", "rope down", "Cut back", "Seal", "Train", "Mark")
    places = [
        next(i for i, text in enumerate(told) if part in text) for part in (*order, "Test ins")
    ]
    assert places == sorted(places)
    assert "1.0 ft of each cable behind the pulling eyes" in told[places[3]]
    grip = replace(plan.pull, run=replace(plan.pull.run, attach="basket grip"))
    assert any(
        "3.3 ft of each cable behind the grip" in text
        for text, _ in steps(replace(plan, pull=grip), "US")
    )
