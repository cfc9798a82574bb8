"""The bend schedule as text, CSV, workbook and JSON: the same figures in each."""

from __future__ import annotations

import csv
import io
import json
import math
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from rich.console import Console, RenderableType
from rich.text import Text

import route3d
from route3d.planning.evaluate import evaluate
from route3d.planning.remedies.bend_margins import bend_margins
from route3d.planning.result import JobResult
from route3d.report.bends import bend_sheets, bends_csv, bends_report
from route3d.report.bends_json import bends_data
from route3d.report.bends_xlsx import bends_xlsx, sheet_names
from route3d.report.json_result import dumps
from route3d.report.layout import table

MODELS = Path(route3d.__file__).parents[1] / "models"
NAMES = ("riser_duct_bank", "roof_drop", "yard_run")
INCH, FOOT = 0.0254, 0.3048
OFFSET = """
title = "Ferry terminal: offset and saddle under the roof"
units = "US"
[cable.phase]
about = "invented"
diameter = 0.8
weight = 0.6
conductor = { metal = "copper", area = "250 kcmil" }
sidewall_limit = 500
bend_multiple = 6
[conduit.steel]
type = "EMT"
trade_size = "2"
friction = 0.3
[[run]]
name = "R1"
cables = { phase = 1 }
route = [
  { at = [0, 0, 0], name = "=1+1", access = ["reel", "machine"], conduit = "steel" },
  { at = [8, 0, 0], bend = 10 },
  { at = [9.7320508, 0, 1], bend = 10 },
  { at = [20, 0, 1], bend = 12 },
  { at = [22.4142136, 0, 2], bend = 12, name = "12" },
  { at = [24.8284272, 0, 1], bend = 12 },
  { at = [40, 0, 1], bend = 9.5 },
  { at = [40, 12, 1], name = "box", access = ["reel", "machine"] },
]
"""


@pytest.fixture(scope="module")
def results(tmp_path_factory: pytest.TempPathFactory) -> dict[str, JobResult]:
    path = tmp_path_factory.mktemp("models") / "offset.toml"
    path.write_text(OFFSET)
    files = {name: MODELS / f"{name}.toml" for name in NAMES} | {"offset": path}
    return {n: evaluate(route3d.load(f), with_remedies=False) for n, f in files.items()}


def text_of(report: RenderableType, width: int = 10_000) -> str:
    out = io.StringIO()
    Console(file=out, width=width, color_system=None, highlight=False).print(report)
    return out.getvalue()


def workbook(result: JobResult, system: str) -> Any:
    data = bends_xlsx(result, bend_sheets(result), system)
    return openpyxl.load_workbook(io.BytesIO(data))


# --- terminal ------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", [*NAMES, "offset"])
@pytest.mark.parametrize("system", ["US", "SI"])
def test_the_tables_are_whole_at_120_columns(
    results: dict[str, JobResult], name: str, system: str
) -> None:
    """No table line is wrapped: the same table lines come out as in a pipe."""
    narrow = [
        line.rstrip() for line in text_of(bends_report(results[name], system), 120).split("\n")
    ]
    wide = [line.rstrip() for line in text_of(bends_report(results[name], system)).split("\n")]
    rules = [i for i, line in enumerate(wide) if line.startswith("───")]
    assert len(rules) == (4 if name in ("offset", "roof_drop") else 3)
    for rule in rules:
        for line in wide[rule - 1 : rule + 2]:
            assert line in narrow and len(line) <= 120


def test_field_bends_are_marked(results: dict[str, JobResult]) -> None:
    text = text_of(bends_report(results["offset"], "US"))
    (line,) = [x for x in text.splitlines() if x.startswith("2") and "offset 1-2" in x]
    assert "2.000" in line and "12 in" in line and "24 in" in line
    assert text.count("saddle 3-5") == 3
    # The first mark: 8 ft less the set-back 10 in x tan 15°.
    assert f"{8 * 12 - 10 * math.tan(math.radians(15)):.1f} in" in text


def test_no_length_of_stick_is_said(results: dict[str, JobResult]) -> None:
    text = text_of(bends_report(results["roof_drop"], "SI"))
    assert "no stick length (use --stick) for shaft" in text
    assert "no table of factory elbows for shaft" in text


def test_what_was_not_solved_is_said(
    results: dict[str, JobResult], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("route3d.report.bends.bend_margins", partial(bend_margins, most=3))
    text = text_of(bends_report(results["yard_run"], "US"))
    assert "was not calculated for 2 of 3 bends" in text


# --- the quick way to print a table --------------------------------------------------------------

CELLS = [
    ["x", "1.00", Text("é船着", style="red")],
    ["", "22,222", ""],
    ["long text of many words", "3", Text("stop: sidewall pressure", style="bold red")],
]


@pytest.mark.parametrize("width", [10_000, 62, 61, 40, 20, 8])
@pytest.mark.parametrize("terminal", [False, True])
def test_a_table_looks_as_rich_lays_it_out(width: int, terminal: bool) -> None:
    def printed(renderable: RenderableType) -> str:
        out, system = io.StringIO(), "standard" if terminal else None
        console = Console(
            file=out,
            width=width,
            color_system=system,
            force_terminal=terminal,
            highlight=False,  # type: ignore[arg-type]
        )
        console.print(renderable)
        return out.getvalue()

    quick = table(["a", "number\nof b", "船"], CELLS, numbers=[1])
    parts = list(quick._parts(width))  # type: ignore[union-attr]
    assert (len(parts) > 1) is (width <= 20)
    assert printed(quick) == "\n".join(printed(part._laid_out(width)) for part in parts)


def test_an_empty_table_and_a_cell_of_two_lines() -> None:
    for cells in ([], [["a\nb", "1", "c"]]):
        quick = table(["a", "number\nof b", "c"], cells, numbers=[1])
        assert text_of(quick) == text_of(quick._laid_out(10_000))  # type: ignore[union-attr]


# --- CSV and workbook ----------------------------------------------------------------------------


@pytest.mark.parametrize("system", ["US", "SI"])
@pytest.mark.parametrize("name", [*NAMES, "offset"])
def test_the_workbook_has_the_figures_of_the_csv(
    results: dict[str, JobResult], name: str, system: str
) -> None:
    result = results[name]
    book = workbook(result, system)
    assert book.sheetnames == [r.run.name for r in result.runs]
    lines = list(csv.DictReader(io.StringIO(bends_csv(result, system))))
    page = book[result.runs[0].run.name]
    head = [c.value for c in page[3] if c.value is not None]
    for line, row in zip(lines, page.iter_rows(min_row=4, max_col=len(head)), strict=False):
        for title, cell in zip(head, row, strict=True):
            text = line[title]
            if cell.value is None:
                assert text == ""
            elif isinstance(cell.value, str):
                assert cell.value == text and cell.data_type == "s"
            else:
                assert cell.value == pytest.approx(float(text), abs=1e-4)  # rounded in the CSV


def test_numbers_are_numbers_and_texts_stay_texts(results: dict[str, JobResult]) -> None:
    page = workbook(results["offset"], "US")["R1"]
    head = {c.value: k for k, c in enumerate(page[3])}
    row = page[7]  # the crown of the saddle, named "12"
    assert row[head["at"]].value == "12" and row[head["at"]].data_type == "s"
    assert row[head["radius (in)"]].value == 12 and row[head["radius (in)"]].data_type == "n"
    assert row[head["bend"]].value == 4
    assert row[head["multiplier"]].value == pytest.approx(1 / math.sin(math.radians(22.5)))
    assert row[head["radius (in)"]].number_format == "#,##0.0"
    first = [c.value for c in page["A"]]
    assert "=1+1" in first and page.cell(first.index("=1+1") + 1, 1).data_type == "s"


def test_the_workbook_is_ready_to_print(results: dict[str, JobResult]) -> None:
    for system, paper in (("US", 1), ("SI", 9)):
        page = workbook(results["yard_run"], system).worksheets[0]
        assert page.freeze_panes == "C4"
        assert page.print_title_rows == "$3:$3"
        assert page.page_setup.orientation == "landscape"
        assert page.page_setup.paperSize == paper  # letter, A4
        assert page.sheet_properties.pageSetUpPr.fitToPage
        assert page["A1"].value == results["yard_run"].job.title


def test_between_pull_points_stands_below(results: dict[str, JobResult]) -> None:
    page = workbook(results["yard_run"], "US").worksheets[0]
    first = [c.value for c in page["A"]]
    at = first.index("Between pull points")
    rows = list(page.iter_rows(min_row=at + 2, values_only=True))
    columns = {title: k for k, title in enumerate(rows[0])}
    assert [r[columns["from"]] for r in rows[1:]] == [
        "substation",
        "pull vault V1",
        "pull vault V2",
    ]
    total = sum(r[columns["length (ft)"]] for r in rows[1:])
    assert total == pytest.approx(results["yard_run"].runs[0].path.length / FOOT)
    assert [r[columns["total bend (°)"]] for r in rows[1:]] == pytest.approx([90, 90, 90])


def test_the_same_job_gives_the_same_workbook(results: dict[str, JobResult]) -> None:
    result = results["yard_run"]
    sheets = bend_sheets(result)
    assert bends_xlsx(result, sheets, "US") == bends_xlsx(result, sheets, "US")


@pytest.mark.parametrize(
    ("runs", "names"),
    [
        (["F1", "f1", "F1"], ["F1", "f1 (2)", "F1 (3)"]),
        (["a/b[c]:*?\\"], ["a b c"]),
        (["", "'", "History"], ["run", "run (2)", "run History"]),
        (["x" * 40, "x" * 40], ["x" * 31, "x" * 27 + " (2)"]),
    ],
)
def test_sheet_names(runs: list[str], names: list[str]) -> None:
    assert sheet_names(runs) == names


def test_any_name_makes_a_workbook(results: dict[str, JobResult]) -> None:
    job = results["yard_run"].job
    runs = tuple(replace(job.runs[0], name=n) for n in ("船着き場", "[x]", "=A1", "\x01"))
    result = evaluate(replace(job, runs=runs), with_remedies=False)
    assert len(workbook(result, "SI").sheetnames) == 4


# --- JSON ----------------------------------------------------------------------------------------


def test_json_has_the_shop_and_the_margins(results: dict[str, JobResult]) -> None:
    run = json.loads(dumps(bends_data(results["offset"])))["runs"][0]
    second, crown, last = run["bends"][1], run["bends"][3], run["bends"][5]
    assert second["figure"]["kind"] == "offset" and second["figure"]["height_m"] == pytest.approx(
        12 * INCH,
        rel=1e-6,  # the points are given to 1e-7 ft
    )
    assert (crown["figure"]["first_bend"], crown["figure"]["last_bend"]) == (3, 5)
    assert last["made_as"] == "standard" and last["marks"] is None
    assert run["bends"][0]["roll_deg"] is None and second["roll_deg"] == pytest.approx(180)
    assert second["marks"]["end_m"] - second["marks"]["start_m"] == pytest.approx(
        second["arc_length_m"]
    )
    (section,) = run["sections"]
    assert section["turn_deg"] == pytest.approx(240) and section["verdict"] == "ok"
    assert run["remedies"] == []
