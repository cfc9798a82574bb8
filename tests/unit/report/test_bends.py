"""The bend schedule as text, CSV, workbook and JSON: the same figures in each."""

from __future__ import annotations

import csv
import io
import json
import math
import re
from dataclasses import replace
from functools import partial
from itertools import takewhile
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
from route3d.report.bends import BendSheet, bend_sheets, bends_csv, bends_report
from route3d.report.bends_json import bends_data
from route3d.report.bends_xlsx import bends_xlsx, sheet_names
from route3d.report.json_result import dumps
from route3d.report.layout import table as report_table
from route3d.units import tape

MODELS = Path(route3d.__file__).parents[1] / "models"
NAMES = ("riser_duct_bank", "roof_drop", "yard_run")
INCH = 0.0254
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


_SHEETS: dict[int, tuple[JobResult, tuple[BendSheet, ...]]] = {}


def sheets_of(result: JobResult) -> tuple[BendSheet, ...]:
    """The schedules, made once: each takes a plan and the margins of all bends."""
    if id(result) not in _SHEETS:
        _SHEETS[id(result)] = result, bend_sheets(result)
    return _SHEETS[id(result)][1]


def report_of(result: JobResult, system: str) -> RenderableType:
    return bends_report(result, system, sheets_of(result))


def text_of(report: RenderableType, width: int = 10_000) -> str:
    out = io.StringIO()
    Console(file=out, width=width, color_system=None, highlight=False).print(report)
    return out.getvalue()


def workbook(result: JobResult, system: str) -> Any:
    data = bends_xlsx(result, sheets_of(result), system)
    return openpyxl.load_workbook(io.BytesIO(data))


# --- terminal ------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", [*NAMES, "offset"])
@pytest.mark.parametrize("system", ["US", "SI"])
def test_the_tables_are_whole_at_120_columns(
    results: dict[str, JobResult], name: str, system: str
) -> None:
    """No table line is wrapped: the same table lines come out as in a pipe."""
    narrow = [line.rstrip() for line in text_of(report_of(results[name], system), 120).split("\n")]
    wide = [line.rstrip() for line in text_of(report_of(results[name], system)).split("\n")]
    rules = [i for i, line in enumerate(wide) if line.startswith("───")]
    assert len(rules) == {"offset": 9, "roof_drop": 7}.get(name, 6)
    for rule in rules:
        for line in wide[rule - 1 : rule + 2]:
            assert line in narrow and len(line) <= 120


def table(text: str, title: str) -> list[str]:
    """The rows of the table whose heading line begins so."""
    lines = text.splitlines()
    first = next(i for i, line in enumerate(lines) if line.startswith(title))
    rule = next(i for i in range(first, len(lines)) if lines[i].startswith("───"))
    return list(takewhile(str.strip, lines[rule + 1 :]))


def test_field_bends_are_marked(results: dict[str, JobResult]) -> None:
    """The first bend begins at 8 ft less 10 in x tan 15°: the offset has no room in that stick.

    So the stick is cut before it, by an outside diameter of 2.197 in and half of that for the
    coupling. By hand: the arc is 5.236 in long, its center 2.618 in on; the second begins
    24 in - gain 0.123 in after the first.
    """
    text = text_of(report_of(results["offset"], "US"))
    first, second, *_ = table(text, "Field bends")
    held = 1.5 * 2.197
    before = 8 * 12 - 10 * math.tan(math.radians(15)) - held
    assert first.split("  ") != second.split("  ")
    for inches in (before, held, held + 2.618, held + 5.236):
        assert tape(inches * INCH, "US") in first
    for inches in (held + 23.877, held + 23.877 + 5.236):
        assert tape(inches * INCH, "US") in second
    offset, saddle = table(text, "Offsets and saddles")
    assert offset.split()[:3] == ["offset", "R1-B01", "R1-B02"] and "2.000" in offset
    assert "1'-0\"" in offset and "2'-0\"" in offset
    assert saddle.split()[:3] == ["saddle", "R1-B03", "R1-B05"] and "2.613" in saddle


def test_both_spacings_of_a_saddle_and_both_shrinks(results: dict[str, JobResult]) -> None:
    """A saddle of 12 in, 22.5° and 45° at 12 in radius, by hand.

    Slope 12/sin 22.5° = 31.358 in; set-backs 12 tan 11.25° = 2.387 and 12 tan 22.5° = 4.971, arcs
    4.712 and 9.425: 28.712 and 33.425 in between starts. Gains 0.0614 and 0.5164: up to the center
    mark 12 tan 11.25° - 0.0614 - 0.5164/2 = 2.067 in are lost, 4.135 in all. The offset: 12 in at
    30° and 10 in radius has gains of 0.123: 24 - 0.123 in, and 12 tan 15° - 0.246 = 2.969 in.
    """
    text = text_of(report_of(results["offset"], "US"))
    offset, saddle = table(text, "Offsets and saddles, between")
    assert re.split("  +", offset.strip())[3:] == ["1'-11 7/8\"", "-", "-", "0'-3\""]
    spaced, lost = ["2'-4 11/16\"", "2'-9 7/16\""], ["0'-2 1/16\"", "0'-4 1/8\""]
    assert re.split("  +", saddle.strip())[3:] == [*spaced, *lost]
    run = json.loads(dumps(bends_data(results["offset"], sheets_of(results["offset"]))))["runs"][0]
    first, figure = (run["bends"][k]["figure"] for k in (0, 3))
    spacings = [m / INCH for m in figure["between_starts_m"]]
    assert spacings == pytest.approx([28.712, 33.425], abs=1e-3)
    assert first["shrink_to_center_m"] is None
    assert figure["shrink_to_center_m"] / INCH == pytest.approx(2.067, abs=1e-3)
    assert figure["shrink_m"] / INCH == pytest.approx(4.135, abs=1e-3)
    (line,) = [
        row
        for row in csv.DictReader(
            io.StringIO(bends_csv(results["offset"], "US", sheets_of(results["offset"])))
        )
        if row["label"] == "R1-B04"
    ]
    named = ("starts 1 to 2 (in)", "starts 2 to 3 (in)", "shrink to center mark (in)")
    assert [float(line[n]) for n in named] == pytest.approx([28.712, 33.425, 2.067], abs=1e-3)


def test_turns_and_headings_come_first(results: dict[str, JobResult]) -> None:
    text = text_of(report_of(results["offset"], "US"))
    rows = table(text, "Run R1")
    assert [row.split()[0] for row in rows[:6]] == [f"R1-B0{n}" for n in range(1, 7)]
    assert "up 30    E to E rising 30°" in rows[0]
    assert "down 45" in rows[3] and "opposite side" in rows[3]
    assert "left 90  E to N" in rows[5] and "90° counterclockwise" in rows[5]


def test_no_row_mixes_feet_and_inches(results: dict[str, JobResult]) -> None:
    """But in the notation of feet and inches throughout; metric rows are in mm alone."""
    for name in (*NAMES, "offset"):
        for system, wrong in (("US", r"\d (ft|in|mm|m)\b"), ("SI", r"\d (ft|in|m)\b|'")):
            text = text_of(report_of(results[name], system)).partition("\nSticks by")[0]
            rows = [line for line in text.splitlines() if "-B0" in line or "-S0" in line]
            assert rows and not [row for row in rows if re.search(wrong, row)]


def test_reactions_say_how_large_and_which_way(results: dict[str, JobResult]) -> None:
    result = results["riser_duct_bank"]
    rows = table(text_of(report_of(result, "US")), "Reaction of the pull")
    toward = [row.split("lbf")[2].strip() for row in rows]
    assert [word.split("  ")[0] for word in toward] == ["NW, 0.2° up", "S, 45° up", "E, 45° down"]
    (sheet,) = sheets_of(result)
    for row in sheet.rows:
        found = row.reaction
        assert found is not None and found.force == pytest.approx(found.tension * math.sqrt(2))


def test_no_length_of_stick_is_said(results: dict[str, JobResult]) -> None:
    text = text_of(report_of(results["roof_drop"], "SI"))
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

    quick = report_table(["a", "number\nof b", "船"], CELLS, numbers=[1])
    parts = list(quick._parts(width))  # type: ignore[union-attr]
    assert (len(parts) > 1) is (width <= 20)
    assert printed(quick) == "\n".join(printed(part._laid_out(width)) for part in parts)


def test_an_empty_table_and_a_cell_of_two_lines() -> None:
    for cells in ([], [["a\nb", "1", "c"]]):
        quick = report_table(["a", "number\nof b", "c"], cells, numbers=[1])
        assert text_of(quick) == text_of(quick._laid_out(10_000))  # type: ignore[union-attr]


# --- CSV and workbook ----------------------------------------------------------------------------


@pytest.mark.parametrize("system", ["US", "SI"])
@pytest.mark.parametrize("name", [*NAMES, "offset"])
def test_the_workbook_has_the_figures_of_the_json(
    results: dict[str, JobResult], name: str, system: str
) -> None:
    """One unit of length on every sheet; the CSV has the same numbers in its own units."""
    result = results[name]
    book = workbook(result, system)
    one = result.runs[0].run.name
    assert book.sheetnames == [run.run.name for run in result.runs]
    unit, per = ("in", INCH) if system == "US" else ("mm", 0.001)
    data = json.loads(dumps(bends_data(result, sheets_of(result))))["runs"][0]
    lines = list(csv.DictReader(io.StringIO(bends_csv(result, system, sheets_of(result)))))
    titles = "Bends", "Layout", "Limits", "Reaction", "Pieces"
    bends, layout, limits, reactions, pieces = (read_table(book[one], t) for t in titles)
    tables = zip(data["bends"], lines, bends, layout, limits, reactions, strict=False)
    for told, line, row, shape, held, pulled in tables:
        assert (row["label"], row["bend"], row["turn"]) == (
            told["label"],
            told["number"],
            told["turn"],
        )
        assert (line["label"], line["turn"], line["heading"]) == (
            told["label"],
            told["turn"],
            told["heading"],
        )
        for of, title, key in (
            (row, "station", "station_m"),
            (row, "straight before", "straight_before_m"),
            (shape, "arc length", "arc_length_m"),
        ):
            assert of[f"{title} ({unit})"] == pytest.approx(told[key] / per)
            assert float(line[f"{title} ({unit})"]) == pytest.approx(told[key] / per, abs=5e-5)
            if system == "US":
                assert of[f"{title}, tape"] == tape(told[key], system)
        assert line["station, tape"] == tape(told["station_m"], system)
        assert held[f"min. radius ({unit})"] == pytest.approx(told["least_radius_m"] / per)
        assert pulled["toward"] == told["reaction"]["toward"] == line["toward"]
    heads = [str(c) for page in book for row in page.iter_rows(values_only=True) for c in row]
    heads += lines[0]
    assert not [h for h in heads if re.search(r"\((ft|m)\)$", h)]
    assert [(p["piece"], p[f"length each ({unit})"]) for p in pieces] == [
        (p["label"], pytest.approx(p["length_m"] / per)) for p in data["pieces"]
    ]


def head_of(page: Any, title: str) -> int:
    """The row of the heading below the first line that begins so."""
    return 2 + next(k for k, c in enumerate(page["A"]) if str(c.value).startswith(title))


def read_table(page: Any, title: str) -> list[dict[str, Any]]:
    """The rows below that heading, up to the first without a label."""
    top = head_of(page, title)
    rows = page.iter_rows(min_row=top + 1, values_only=True)
    head = [c.value for c in page[top]]
    return [dict(zip(head, row, strict=True)) for row in takewhile(lambda r: r[0], rows)]


def test_numbers_are_numbers_and_texts_stay_texts(results: dict[str, JobResult]) -> None:
    page = workbook(results["offset"], "US")["R1"]
    top = head_of(page, "Bends")
    head = {c.value: k for k, c in enumerate(page[top])}
    row = page[top + 4]  # the crown of the saddle, named "12"
    assert row[head["at"]].value == "12" and row[head["at"]].data_type == "s"
    assert row[head["bend"]].value == 4 and row[head["label"]].value == "R1-B04"
    top = head_of(page, "Layout")
    head = {c.value: k for k, c in enumerate(page[top])}
    row = page[top + 4]
    assert row[head["radius (in)"]].value == 12 and row[head["radius (in)"]].data_type == "n"
    assert row[head["radius (in)"]].number_format == "#,##0.00"
    top = head_of(page, "Field bends")
    at = {c.value: k for k, c in enumerate(page[top])}
    start = page[top + 1][at["mark at start (in)"]]
    assert start.data_type == "n"
    assert page[top + 1][at["mark at start, tape"]].value == tape(start.value * INCH, "US")
    _, saddle = read_table(page, "Offsets and saddles, between")
    assert saddle["starts 2 to 3 (in)"] == pytest.approx(33.425, abs=1e-3)
    assert saddle["shrink to center mark, tape"] == "0'-2 1/16\""
    first = [c.value for c in page["A"]]
    assert "=1+1" in first and page.cell(first.index("=1+1") + 1, 1).data_type == "s"


def test_the_workbook_is_ready_to_print(results: dict[str, JobResult]) -> None:
    for system, paper in (("US", 1), ("SI", 9)):
        for page in workbook(results["yard_run"], system).worksheets:
            assert page.freeze_panes == "B3"
            assert page.print_title_rows == "$1:$2"
            stop = "Stop: sidewall pressure, bend 3, fed from substation"
            assert page["A3"].value.startswith(stop)
            assert page.page_setup.orientation == "landscape"
            assert page.page_setup.paperSize == paper  # letter, A4
            assert page.sheet_properties.pageSetUpPr.fitToPage
            assert page.page_setup.fitToHeight == 0 and page.page_setup.fitToWidth in (None, 1)
            assert page["A1"].value == results["yard_run"].job.title


def test_between_pull_points_stands_below(results: dict[str, JobResult]) -> None:
    page = workbook(results["yard_run"], "US").worksheets[0]
    first = [c.value for c in page["A"]]
    at = first.index("Between pull points")
    rows = list(page.iter_rows(min_row=at + 2, max_row=at + 5, values_only=True))
    columns = {title: k for k, title in enumerate(rows[0])}
    assert [r[columns["from"]] for r in rows[1:]] == [
        "substation",
        "pull vault V1",
        "pull vault V2",
    ]
    total = sum(r[columns["length (in)"]] for r in rows[1:])
    assert total == pytest.approx(results["yard_run"].runs[0].path.length / INCH)
    assert [r[columns["total bend (°)"]] for r in rows[1:]] == pytest.approx([90, 90, 90])


def test_the_same_job_gives_the_same_workbook(results: dict[str, JobResult]) -> None:
    result = results["yard_run"]
    sheets = sheets_of(result)
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
    run = json.loads(dumps(bends_data(results["offset"], sheets_of(results["offset"]))))["runs"][0]
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
    assert second["figure"]["between_starts_m"] == pytest.approx(
        [second["station_m"] - run["bends"][0]["station_m"]]
    )
    assert [p["label"] for p in run["pieces"]][:3] == ["R1-S01", "R1-B01-B02", "R1-B03-B05"]
    assert (crown["label"], crown["piece"]) == ("R1-B04", "R1-B03-B05")
    assert crown["reaction"]["direction"] == pytest.approx([0, 0, -1], abs=1e-9)
