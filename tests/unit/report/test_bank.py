"""The bank as tables and as a drawing."""

from __future__ import annotations

import csv
import io
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import pytest
from rich.console import Console

import route3d
from route3d.drawing.bank_section import bank_section
from route3d.drawing.picture import picture_file
from route3d.geometry.grade import Grade
from route3d.model import Bank, Job
from route3d.planning.bank import BankResult, evaluate_bank, evaluate_banks
from route3d.report.bank import bank_csv, bank_data, bank_report

DEMO = Path(__file__).parents[3] / "models" / "riser_duct_bank.toml"


@pytest.fixture(scope="module")
def job() -> Job:
    return route3d.load(DEMO)


@pytest.fixture(scope="module")
def result(job: Job) -> BankResult:
    return evaluate_banks(job, Grade())[0]


def bank_of(job: Job, **changes: object) -> BankResult:
    return evaluate_bank(replace(job.banks[0], **changes), job.runs[0], job.practice, Grade())  # type: ignore[arg-type]


def tender(job: Job, multiple: float = 30.0) -> BankResult:
    """The bank with cables that need 1.057 m: more than the 1.029 m of the inner ducts."""
    run = job.runs[0]
    items = tuple((replace(c, bend_multiple=multiple), n) for c, n in run.cables.items)
    return evaluate_bank(
        job.banks[0], replace(run, cables=replace(run.cables, items=items)), job.practice, Grade()
    )


def printed(result: BankResult, system: str = "US") -> str:
    console = Console(width=10_000, color_system=None, file=io.StringIO())
    with console.capture() as captured:
        console.print(bank_report(Job("title"), [result], system))
    return captured.get()


def bank_section_svg(result: BankResult, system: str) -> str:
    return str(picture_file(bank_section(result, system), ".svg"))


def texts(svg: str) -> list[str]:
    return [e.text or "" for e in ET.fromstring(svg).iter("{http://www.w3.org/2000/svg}text")]


# --- tables --------------------------------------------------------------------------------------


def test_the_best_and_the_worst_duct_are_named(result: BankResult) -> None:
    text = printed(result)
    assert f"Best duct: {result.best.label}" in text
    assert f"Worst duct: {result.worst.label}" in text
    assert "looking from vault V1 to roof switchroom" in text


def test_the_bend_that_fails_is_named_with_its_limit_and_the_radius_needed(job: Job) -> None:
    text = printed(tender(job))
    (line,) = [row for row in text.splitlines() if row.startswith("1 ") and "point 2" in row]
    cells = re.split(r"\s{2,}", line.strip())
    # Held against the inner wall, R - ID/2, with 5.016 in for PVC-40 5 (NFPA 70, chapter 9, table
    # 4): 40.5 - 2.508 = 37.99. Needed: 30 x 1.387 = 41.61 + 2.508 + the 7.5 in by which the duct
    # lies inside the centerline = 51.618, rounded up.
    assert cells[1:] == [
        *("point 2", "48 in", "row 1, column 1", "40.5 in", "cable bend radius"),
        *("38 in", "41.6 in", "stop", "51.7 in"),
    ]
    assert "Stops for the duct in row" in text


def test_the_concrete_is_told(result: BankResult) -> None:
    text = printed(result)
    # By hand: (15 + 5.563 + 6) x (7.5 + 5.563 + 6) less six circles of 5.563, square inches.
    area = 26.563 * 19.063 - 6 * 3.14159265 / 4 * 5.563**2
    per_100_ft = area / 144 * 100 / 27
    assert f"{per_100_ft:.2f} yd³ per 100 ft" in text
    assert "m³ per m" in printed(result, "SI")
    assert "Encased where any part of the bank is below grade" in text


def test_a_bank_above_grade_of_one_duct_says_less(job: Job) -> None:
    text = printed(bank_of(job, rows=1, columns=1))
    assert "Best duct" not in text
    assert "center to center" not in text
    assert "No concrete" in printed(bank_of(job, cover=0.0))


def test_csv_has_a_line_for_every_duct(result: BankResult) -> None:
    rows = list(csv.DictReader(io.StringIO(bank_csv(Job(), [result], "SI"))))
    assert [(r["row"], r["column"]) for r in rows] == [
        (str(d.row), str(d.column)) for d in result.ducts
    ]
    for row, duct in zip(rows, result.ducts, strict=True):
        assert float(row["length (m)"]) == pytest.approx(duct.result.path.length, abs=1e-4)
        assert float(row["right (mm)"]) == pytest.approx(duct.offset[0] * 1000, abs=1e-3)


def test_json_is_si_whatever_is_shown(job: Job, result: BankResult) -> None:
    (bank,) = bank_data(job, [result])["banks"]
    assert bank["spacing_m"] == pytest.approx([0.1905, 0.1905])
    assert bank["concrete_m3"] == pytest.approx(result.concrete)
    assert [f["rule"] for f in bank["findings"] if f["severity"] == "caution"] == [
        "duct spacing across a row",
        "duct spacing between rows",
    ]
    assert len(bank["ducts"]) == 6
    assert all(b["radius_needed_m"] is None for b in bank["bends"])
    failing = bank_data(job, [tender(job)])["banks"][0]
    assert failing["bends"][0]["radius_needed_m"] == pytest.approx(51.618 * 0.0254)
    assert failing["stops"]


# --- drawing -------------------------------------------------------------------------------------


def test_the_drawing_holds_every_duct_and_its_dimensions(result: BankResult) -> None:
    svg = bank_section_svg(result, "US")
    told = texts(svg)
    assert {"1-1", "1-2", "1-3", "2-1", "2-2", "2-3"} <= set(told)
    # over all both ways, center to center, clear, cover
    for label in ("26.56 in", "19.06 in", "7.50 in", "1.94 in clear", "3.00 in concrete"):
        assert label in told
    assert told.count("minimum 2.00 in: NOT MET") == 2
    assert "minimum 1.5 ft: met" in told
    assert "grade assumed at z = 0" in told
    assert svg == bank_section_svg(result, "US")


def test_the_drawing_is_to_scale(result: BankResult) -> None:
    root = ET.fromstring(bank_section_svg(result, "US"))
    circles = [e for e in root.iter("{http://www.w3.org/2000/svg}circle") if e.get("stroke")]
    big = [e for e in circles if e.get("stroke-width") == "1.6"]
    assert len(big) == 6
    step = float(big[1].get("cx", 0)) - float(big[0].get("cx", 0))
    assert step / float(big[0].get("r", 0)) == pytest.approx(7.5 / (5.563 / 2), rel=2e-3)
    assert float(big[0].get("cy", 0)) < float(big[3].get("cy", 0))  # row 1 on top


def test_a_name_with_markup_stays_text(job: Job) -> None:
    run = replace(job.runs[0], name="<F&1>")
    svg = bank_section_svg(evaluate_bank(job.banks[0], run, job.practice, Grade()), "SI")
    assert any(t.startswith("<F&1>: duct bank") for t in texts(svg))


@pytest.mark.parametrize(
    ("bank", "grade"),
    [
        (Bank("F1", 1, 1, (0.2, 0.2), 0.1), True),
        (Bank("F1", 4, 8, (0.2, 0.2), 0.05), True),
        (Bank("F1", 1, 3, (0.2, 0.2), 0.0), True),
        (Bank("F1", 20, 2, (0.2, 0.17), 0.1), False),
    ],
    ids=["one", "many", "no concrete", "out of the ground"],
)
def test_other_banks_are_drawn(job: Job, bank: Bank, grade: bool) -> None:
    run = job.runs[0]
    vertices = tuple(replace(v, bend=v.bend and 3.0) for v in run.route.vertices)
    run = replace(run, route=replace(run.route, vertices=vertices))
    svg = bank_section_svg(evaluate_bank(bank, run, job.practice, Grade()), "SI")
    told = texts(svg)
    assert ("grade assumed at z = 0" in told) == grade
    assert ("fill-rule" in svg) == (bank.cover > 0)
    width, height = (float(v) for v in ET.fromstring(svg).get("viewBox", "").split()[2:])
    for x, y in re.findall(r'<text x="([-\d.]+)" y="([-\d.]+)"', svg):
        assert 0 <= float(x) <= width
        assert 0 <= float(y) <= height


def test_no_line_of_the_section_is_drawn_over_words(result: BankResult) -> None:
    """Dimensions outside their arrows lie on the witness lines of others: the words come last."""
    svg = bank_section_svg(result, "SI").splitlines()
    label = next(i for i, p in enumerate(svg) if ">190.5 mm<" in p)
    assert not any(part.startswith("<line") for part in svg[label:])
