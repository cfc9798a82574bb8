"""The job workbook: the same job there and back, and what is wrong told with its cell."""

from __future__ import annotations

import re
import shutil
import zipfile
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from time import perf_counter

import openpyxl
import pytest

from route3d.cli.main import main
from route3d.errors import InputError
from route3d.modelfile.places import column_letters
from route3d.modelfile.read import load, loads
from route3d.modelfile.schema import ModelEntry
from route3d.modelfile.starter import starter
from route3d.modelfile.toml_positions import read_toml
from route3d.modelfile.toml_text import toml_text
from route3d.modelfile.whole_job import without_places, write_job
from route3d.modelfile.workbook.cells import BadCell
from route3d.modelfile.workbook.layout import job_items, sheets
from route3d.modelfile.workbook.reading import document_of
from route3d.modelfile.workbook.writing import workbook_of
from route3d.units import SYSTEMS, parse
from tests.support.berths import BERTHS_XLSX, berths_data
from tests.support.broken_jobs import MODELS, broken_text
from tests.support.failing_jobs import random_job
from tests.support.workbooks import (
    NAME,
    Grid,
    grid_of,
    job_of_grid,
    place_of,
    sheet_of,
    with_cell,
)

SEEDS = (1, 4)  # of which a job can be made
DEMOS = sorted(MODELS.glob("*.toml"))
YARD = (MODELS / "yard_run.toml").read_text(encoding="utf-8")

# What no demo has: legs, stock names, a run with an end that is equipped otherwise, an empty list
# that means something, names with commas, a list in a cell, a table where a number would do.
ODD = """
title = "=1+1"
units = "US"
[cable."a, b"]
diameter = "35 mm"
weight = 1.8
conductor = { metal = "copper", area = "350 kcmil" }
sidewall_limit = 500
bend_multiple = 12
[cable.ground]
diameter = 0.5
weight = 0.2
conductor = { metal = "copper", area = "4/0 AWG", count = 1 }
sidewall_limit = 500
bend_multiple = 8
main = false
[conduit."5"]
type = "PVC-40"
trade_size = 5
friction = { value = "0.3", low = 0.2, above = "150 lbf/ft", then = 0.15, test_report = "T, 4" }
[sheave.pit]
radius = 24
rating = 9000
[cable.stock]
stock = "600 V XHHW-2 copper 500 kcmil"
[conduit.named]
stock = "PVC-40 5"
friction = { stock = "XLPE jacket, PVC conduit, lubricated", high = 0.5 }
[anchor.floor]
kind = "floor bolts"
bolts = [[0, -1], ["12 in", 1]]
bolt_tension = 3000
bolt_shear = 2500
[[run]]
name = "F, 1"
cables = { "a, b" = 3, ground = 1 }
reel_tension = "auto"
lead_off = [{ turn = 90, sheave = "pit", distance = "4 ft" }]
can_splice = ["vault, V2"]
route = [
  { at = [0, 0, "-5 ft"], name = "@V1", access = ["reel", "machine"], conduit = "5" },
  { at = [100, 0, -5], name = "vault, V2", access = ["machine", "reel"], box = [72, 36, 36] },
  { at = [200, 0, -5], name = "V3", access = ["machine"] },
]
[run.ends.V3]
lead_off = []
[run.ends."@V1"]
anchor = "floor"
[[run]]
name = "G1"
cables = { stock = 3 }
closes_to = [120, 95, 60]
legs = [
  "start pad at 0, 0, 0 heading north in named",
  "120 ft", "right 90 at 48 in", "95 ft", "up 90 at 48 in", "60 ft",
]
[site]
context = ["basement_switchroom.glb"]
room = [{ name = "pump, room", outline = [[0, 0], [9, 0], [9, 9]], floor = 0 }]
"""


@pytest.mark.parametrize(
    "text",
    [
        *(pytest.param(p.read_text(encoding="utf-8"), id=p.stem) for p in DEMOS),
        *(pytest.param(starter(units), id=f"starter {units}") for units in ("SI",)),
        *(pytest.param(random_job(seed), id=f"random {seed}") for seed in SEEDS),
        pytest.param(broken_text("grip"), id="grip"),
        pytest.param(ODD, id="odd"),
    ],
)
def test_the_same_job_by_workbook_and_by_text(text: str) -> None:
    given = loads(text, NAME, MODELS)
    by_cells = job_of_grid(grid_of(text))
    assert without_places(by_cells) == without_places(given)
    again = toml_text(document_of(grid_of(text), NAME).data)
    assert without_places(loads(again, NAME, MODELS)) == without_places(given)


def test_the_layout_holds_every_key_of_the_model_file() -> None:
    """A key that has no column would be lost: the odd job and the demos have each kind of value."""

    def leaves(model: object, path: tuple[str, ...]) -> set[tuple[str, ...]]:
        found = set()
        for name, field in model.model_fields.items():  # type: ignore[attr-defined]
            inner = [a for a in _types(field.annotation) if hasattr(a, "model_fields")]
            key = (*path, field.alias or name)
            found |= leaves(inner[0], key) if inner else {key}
        return found

    columns = {tuple(k for k in item.path if isinstance(k, str)) for item in job_items()}
    for sheet in sheets():
        base = tuple(str(k) for k in sheet.path if k not in "*#")
        columns |= {(*base, *(k for k in c.path if isinstance(k, str))) for c in sheet.columns}
        columns |= {base} if sheet.text else set()
    assert leaves(ModelEntry, ()) == columns


def _types(annotation: object) -> list[object]:
    from typing import get_args

    return [annotation, *(t for a in get_args(annotation) for t in _types(a))]


@pytest.mark.parametrize("system", SYSTEMS)
def test_every_unit_of_a_header_reads_as_a_bare_number_does(system: str) -> None:
    for column in [*job_items(), *(c for s in sheets() for c in s.columns)]:
        if unit := column.unit(system):
            assert parse(f"2 {unit}", column.quantity, system) == pytest.approx(
                parse(2, column.quantity, system), rel=1e-14
            )


# --- what cells may hold ------------------------------------------------------------------------


@pytest.fixture(scope="module")
def grid() -> Grid:
    return grid_of(YARD)


def test_a_header_gives_the_unit_of_its_column(grid: Grid) -> None:
    before = job_of_grid(grid).runs[0].cables.items[0][0].diameter
    changed = with_cell(grid, "Cables", "diameter", 1, "Diameter  [mm]")
    changed = with_cell(changed, "Cables", "Diameter  [mm]", 2, 38.1)
    assert job_of_grid(changed).runs[0].cables.items[0][0].diameter == pytest.approx(0.0381)
    for text in ("1.5 in", '1 1/2"', "1.5", " 1.5 "):
        changed = with_cell(grid, "Cables", "diameter", 2, text.strip())
        assert job_of_grid(changed).runs[0].cables.items[0][0].diameter == pytest.approx(0.0381)
    assert before != pytest.approx(0.0381)


def test_a_run_is_named_once_and_rows_without_a_value_are_passed(grid: Grid) -> None:
    points = sheet_of(grid, "Points")
    rows = {row for row, _ in points.cells} - {1}
    assert len(rows) > 2
    cells = {(r + 2 * (r > 1), c): v for (r, c), v in points.cells.items() if c > 1 or r <= 2}
    cells[50, 1] = "Y1"  # filled down too far
    cells |= {(r + 3, 40): "measured" for r in range(3)}
    cells[1, 40] = "# remark"
    changed = tuple(replace(s, cells=cells) if s is points else s for s in grid)
    assert without_places(job_of_grid(changed)) == without_places(job_of_grid(grid))


def test_hidden_rows_and_sheets_are_read_and_said(tmp_path: Path) -> None:
    file = tmp_path / "yard.xlsx"
    file.write_bytes(workbook_of(read_toml(YARD).data))
    book = openpyxl.load_workbook(file)
    book["Points"].row_dimensions[3].hidden = True
    book["Cables"].sheet_state = "hidden"
    book["Cables"].column_dimensions["C"].hidden = True
    book.save(file)
    job = load(file)
    assert without_places(job) == without_places(loads(YARD))
    assert job.notes == (
        "sheet Cables is hidden and was read",
        "sheet Cables: hidden columns were read: C",
        "sheet Points: hidden rows were read: 3",
    )


# --- what is wrong ------------------------------------------------------------------------------

WRONG = [
    # sheet, header, row, value, words of the message, and where it is told if not there
    ("Cables", "diameter", 2, "1,36 in", "use a decimal point", ()),
    ("Cables", "diameter", 2, None, "diameter is missing", ()),
    ("Cables", "diameter", 1, "diamter (in)", "did you mean 'diameter'?", ()),
    ("Cables", "diameter", 1, "diameter (kg)", "write diameter (in)", ()),
    ("Cables", "weight", 1, "diameter", "duplicate column, first in", ()),
    ("Cables", "diameter", 2, "12 kg", "is a mass, a length is required", ()),
    ("Cables", "diameter", 2, 400, "exceeds the maximum", ()),
    ("Cables", "diameter", 2, True, "TRUE is no diameter", ()),
    ("Cables", "shielded", 2, "maybe", "write yes or no", ()),
    ("Cables", "stock", 2, "350 kcmill", "of the stock tables; enter", ()),
    ("Cables", "conductor metal", 2, "coper", "did you mean 'copper'?", ()),
    ("Cables", "conductor metal", 2, None, "metal is missing", ()),
    ("Conduits", "trade size", 2, datetime(2026, 3, 4), "format the cell as text", ()),
    ("Conduits", "name", 2, None, "name is missing", ()),
    ("Runs", "cable", 2, "phse", "there is no cable 'phse'; did you mean 'phase'?", ()),
    ("Runs", "number", 2, None, "cable without number", ("Runs", "cable", 2)),
    ("Runs", "number", 2, 2.5, "2.5", ()),
    ("Runs", "number", 2, -3, "-3 must be between 1 and 40", ()),
    ("Runs", "name", 2, None, "there is no run 'Y1'", ("Points", "run", 2)),
    ("Points", "z", 3, None, "z is missing", ()),
    ("Points", "z", 3, BadCell("contains the error #REF!", "correct it"), "#REF!", ()),
    ("Points", "x", 3, "l0", "is not a number", ()),
    ("Points", "run", 3, "Y2", "there is no run 'Y2'; valid names: Y1", ()),
    ("Points", "run", 1, None, "there is no column 'run'", ()),
    ("Points", "conduit", 2, "dukt", "did you mean 'duct'?", ()),
    ("Points", "access", 2, "reel, crane", "'crane' is not one of", ()),
    ("Machines", "name", 2, "pull", "there is no machine", ("Gears", "machine", 2)),
    ("Gears", "speeds", 2, "[[1, 2", "is not a list", ()),
    ("Job", "units", 0, None, "units is missing", ()),
    ("Job", "units", 0, "metric", "'metric' is not one of: US, SI", ()),
]


@pytest.mark.parametrize(("sheet", "header", "row", "value", "words", "told_at"), WRONG)
def test_what_is_wrong_is_told_with_its_cell(
    grid: Grid,
    sheet: str,
    header: str,
    row: int,
    value: object,
    words: str,
    told_at: tuple[str, str, int],
) -> None:
    if sheet == "Job":
        job = sheet_of(grid, "Job")
        (row,) = [r for (r, c), v in job.cells.items() if c == 1 and v == header]
        cells = {k: v for k, v in job.cells.items() if k != (row, 2)}
        cells |= {} if value is None else {(row, 2): value}
        changed = tuple(replace(s, cells=cells) if s is job else s for s in grid)
        name, place = "Job", (row, 2)
    else:
        changed = with_cell(grid, sheet, header, row, value)
        name, *at = told_at or (sheet, header, row)
        place = place_of(grid, name, *at)
    with pytest.raises(InputError) as caught:
        job_of_grid(changed)
    told = [str(p) for p in caught.value.problems if words in str(p)]
    expected = f"{NAME}, sheet {name}, cell {column_letters(place[1])}{place[0]}"
    assert told and told[0].startswith(f"{expected}: "), [str(p) for p in caught.value.problems]


def test_rows_of_one_name_are_told_with_the_first(grid: Grid) -> None:
    cables = sheet_of(grid, "Cables")
    cells = dict(cables.cells) | {(9, c): v for (r, c), v in cables.cells.items() if r == 2}
    changed = tuple(replace(s, cells=cells) if s is cables else s for s in grid)
    with pytest.raises(InputError, match=r"cell A9: two rows are named 'phase', the first in A2"):
        job_of_grid(changed)
    runs = sheet_of(grid, "Runs")
    cells = dict(runs.cells) | {(9, c): v for (r, c), v in runs.cells.items() if r == 2}
    changed = tuple(replace(s, cells=cells) if s is runs else s for s in grid)
    with pytest.raises(InputError, match=r"sheet Runs, cell A9.*two runs are named 'Y1'.*cell A2"):
        job_of_grid(changed)


def messages(grid: Grid) -> list[str]:
    with pytest.raises(InputError) as caught:
        job_of_grid(grid)
    return [str(p).removeprefix(f"{NAME}, ") for p in caught.value.problems]


def test_the_number_of_any_cable_is_told_with_its_cell() -> None:
    grid = grid_of(ODD)
    for header, value, words in [
        ("number", 2.5, "2.5 is not a whole number"),
        ("number 2", -3, "-3 must be between 1 and 40"),
        ("number 2", "two", "'two' is not a whole number"),
        ("cable 2", "grond", "there is no cable 'grond'"),
    ]:
        row, column = place_of(grid, "Runs", header, 2)
        (said,) = messages(with_cell(grid, "Runs", header, row, value))
        assert said.startswith(f"sheet Runs, cell {column_letters(column)}2: ") and words in said


def test_the_cause_is_told_and_not_each_row_that_follows_from_it() -> None:
    """Runs that are named twice, or missing, and the rows that belong to them."""
    grid = grid_of(toml_text(berths_data()))
    assert messages(with_cell(grid, "Runs", "name", 3, "B1")) == [
        "sheet Runs, cell A3: two runs are named 'B1', the first in cell A2; "
        "give each run a unique name"
    ]
    runs = sheet_of(grid, "Runs")
    last = {(14, c): v for (r, c), v in runs.cells.items() if r == 2}
    more = tuple(replace(s, cells={**s.cells, **last}) if s is runs else s for s in grid)
    (said,) = messages(more)
    assert said.startswith("sheet Runs, cell A14: ") and "two runs are named 'B1'" in said
    without = tuple(s for s in grid if s.name != "Runs")
    first, *others = messages(without)
    assert first == (
        "sheet Legs, cell A2: belongs to a run, and there is no sheet Runs; "
        "add it, with a row for each run"
    )
    assert not others
    legs = [c for c, v in sheet_of(grid, "Legs").cells.items() if v == "B2"]
    (said,) = messages(with_cell(grid, "Runs", "name", 3, "C2"))
    assert f"there is no run 'B2' ({len(legs)} rows)" in said and "Legs" in said


def test_a_merged_name_is_told_once_for_its_rows() -> None:
    grid = grid_of(toml_text(berths_data()))
    legs = sheet_of(grid, "Legs")
    column = [row for (row, c), v in legs.cells.items() if c == 1 and v == "B1"]
    cells = {k: v for k, v in legs.cells.items() if k not in [(r, 1) for r in column]}
    cells[column[0], 1] = BadCell("is merged with other cells", "unmerge them")
    changed = tuple(replace(s, cells=cells) if s is legs else s for s in grid)
    assert len(column) > 2
    assert messages(changed) == [
        f"sheet Legs, cell A{column[0]}: is merged with other cells; unmerge them"
    ]


def test_formulas_merges_and_errors_of_a_file(tmp_path: Path) -> None:
    file = tmp_path / "yard.xlsx"
    file.write_bytes(workbook_of(read_toml(YARD).data))
    book = openpyxl.load_workbook(file)
    book["Points"]["B3"] = "=B2+100"
    book["Points"].merge_cells("C3:C4")
    book["Points"]["D4"] = "#DIV/0!"
    book.create_sheet("Poinst")["A1"] = "x"
    book.save(file)
    with pytest.raises(InputError) as caught:
        load(file)
    assert [str(p).removeprefix(f"{file}, ").partition(";")[0] for p in caught.value.problems] == [
        "sheet Points, cell B3: contains a formula without a saved value",
        "sheet Points, cell C3: is merged with other cells (C3:C4)",
        "sheet Points, cell C4: y is missing",
        "sheet Points, cell D4: contains the error #DIV/0!",
        "sheet Poinst, cell A1: unknown sheet",
    ]
    assert main(["check", str(file)]) == 2


@pytest.mark.parametrize("kind", [".xls", ".xlsm", ".ods"])
def test_other_workbooks_are_refused_with_the_fix(tmp_path: Path, kind: str) -> None:
    file = tmp_path / f"yard{kind}"
    file.write_bytes(b"PK\x03\x04")
    with pytest.raises(InputError, match=r"save it as \.xlsx"):
        load(file)


def test_a_table_of_points_is_no_job(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    book.worksheets[0].append(["x (m)", "y (m)", "z (m)"])
    book.save(tmp_path / "survey.xlsx")
    with pytest.raises(InputError, match=r"is not a job workbook.*route3d convert"):
        load(tmp_path / "survey.xlsx")


# --- the file -----------------------------------------------------------------------------------


def test_the_workbook_is_one_to_fill_in(tmp_path: Path) -> None:
    file = tmp_path / "job.xlsx"
    assert main(["new", str(file), "--units", "SI"]) == 0
    assert main(["new", str(file)]) == 2  # not overwritten
    book = openpyxl.load_workbook(file)
    assert book.sheetnames[:6] == ["Job", "Cables", "Conduits", "Runs", *book.sheetnames[4:6]]
    cables = book["Cables"]
    heads = {str(cell.value): cell for cell in cables[1]}
    assert cables.freeze_panes == "B2"
    assert "Outer diameter of one cable" in heads["diameter (mm)"].comment.text
    rules = {rule.formula1 for rule in cables.data_validations.dataValidation}
    assert {'"copper,aluminum"', '"yes,no"'} <= rules
    points = book["Points"].data_validations.dataValidation
    assert {"'Conduits'!$A$2:$A$301", "'Runs'!$A$2:$A$301"} <= {r.formula1 for r in points}
    assert workbook_of(read_toml(YARD).data) == workbook_of(read_toml(YARD).data)
    assert book["Legs"].column_dimensions["B"].width >= 60  # sentences, of which it has none yet
    # Where a length may stand instead of a force no unit is claimed; the note says it.
    reels = {str(cell.value): cell for cell in book["Reels"][1]}
    for header in ("drag", "brake rating"):
        assert "A number alone is in N" in reels[header].comment.text


def test_no_cell_runs_as_a_formula(tmp_path: Path) -> None:
    file = tmp_path / "odd.xlsx"
    file.write_bytes(workbook_of(read_toml(ODD).data))
    cells = [c for s in openpyxl.load_workbook(file) for row in s.iter_rows() for c in row]
    assert not any(c.data_type == "f" for c in cells)
    assert any(c.value == "=1+1" for c in cells)


def test_whole_jobs_there_and_back_by_the_command(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.copy(MODELS / "basement_switchroom.glb", tmp_path)
    first, book, last = (tmp_path / n for n in ("a.toml", "b.xlsx", "c.toml"))
    first.write_text((MODELS / "roof_drop.toml").read_text(encoding="utf-8"), encoding="utf-8")
    assert main(["convert", str(first), str(book), "--workbook"]) == 0
    assert "comments" in capsys.readouterr().out
    assert main(["convert", str(book), str(last)]) == 0
    assert without_places(load(last)) == without_places(load(first))
    assert main(["convert", str(first), str(book)]) == 2  # a table of routes over the job
    assert "is a job workbook. Not overwritten" in capsys.readouterr().err
    assert main(["convert", str(book), str(tmp_path / "r.csv")]) == 0
    assert main(["convert", str(first), str(tmp_path / "f.csv")]) == 0
    assert (tmp_path / "r.csv").read_text() == (tmp_path / "f.csv").read_text()


def test_a_workbook_is_taken_where_a_model_is_asked_for(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    text, book = MODELS / "riser_duct_bank.toml", tmp_path / "riser_duct_bank.xlsx"
    write_job(text, book)
    for command in (["tension", "--json"], ["check", "--json"], ["bends"], ["plan", "--json"]):
        code = main([command[0], str(text), *command[1:]])
        wanted = capsys.readouterr().out
        assert main([command[0], str(book), *command[1:]]) == code
        assert capsys.readouterr().out == wanted
    assert main(["convert", str(MODELS / "yard_run.toml"), str(tmp_path / "y.csv")]) == 0
    like = ["convert", str(tmp_path / "y.csv"), str(tmp_path / "y.toml"), "--like", str(book)]
    assert main(like) == 0
    assert [r.name for r in load(tmp_path / "y.toml").runs] == ["Y1"]


def test_what_no_cell_can_hold_is_told() -> None:
    text = YARD.replace('name    = "Y1"', 'name    = "Y1 "').replace('name = "Y1"', 'name = "Y1 "')
    assert text != YARD
    with pytest.raises(InputError, match="begins or ends with a space"):
        workbook_of(read_toml(text).data)


# --- files made to harm -------------------------------------------------------------------------


def edited(file: Path, part: str, old: str, new: str) -> Path:
    """A workbook with another text in one of its parts."""
    file.write_bytes(workbook_of(read_toml(YARD).data))
    with zipfile.ZipFile(file) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    assert old.encode() in parts[part]
    parts[part] = parts[part].replace(old.encode(), new.encode(), 1)
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    return file


def test_a_merge_of_the_whole_sheet_takes_no_time(tmp_path: Path) -> None:
    merge = '</sheetData><mergeCells count="1"><mergeCell ref="A1:XFD1048576"/></mergeCells>'
    file = edited(tmp_path / "m.xlsx", "xl/worksheets/sheet2.xml", "</sheetData>", merge)
    start = perf_counter()
    with pytest.raises(InputError, match=r"sheet Cables, cell A1: is merged with other cells"):
        load(file)
    assert perf_counter() - start < 10


def test_a_cell_far_out_is_told(tmp_path: Path) -> None:
    far = '<row r="1048576"><c r="XFD1048576"><v>1</v></c></row></sheetData>'
    file = edited(tmp_path / "f.xlsx", "xl/worksheets/sheet2.xml", "</sheetData>", far)
    with pytest.raises(InputError, match=r"sheet Cables: has a value in XFD1048576, beyond row"):
        load(file)


def test_what_unpacks_to_very_much_is_refused(tmp_path: Path) -> None:
    much = "<!--" + " " * 20_000_000 + "--></sheetData>"
    file = edited(tmp_path / "b.xlsx", "xl/worksheets/sheet2.xml", "</sheetData>", much)
    with pytest.raises(InputError, match=r"unpacks to .* MB"):
        load(file)


# --- a whole job of twelve runs -------------------------------------------------------------------


def test_the_twelve_runs_of_the_demo_are_those_of_its_file() -> None:
    job = load(BERTHS_XLSX)
    assert without_places(job) == without_places(loads(toml_text(berths_data())))
    assert [run.name for run in job.runs] == [f"B{n}" for n in range(1, 13)]
    assert all(run.machine and run.rope and run.reel for run in job.runs)
    assert BERTHS_XLSX.stat().st_size < 100_000


def test_a_leg_that_is_not_understood_is_told_with_its_cell() -> None:
    grid = grid_of(toml_text(berths_data()))
    with pytest.raises(InputError, match=r"sheet Legs, cell B4: run B1, leg 3: .*sideways"):
        job_of_grid(with_cell(grid, "Legs", "leg", 4, "sideways 90 at 48 in"))


def test_a_plan_names_the_cell_of_the_machine_that_is_missing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "y.xlsx"
    text = YARD.replace('machine = "puller"', "")
    assert text != YARD
    file.write_bytes(workbook_of(read_toml(text).data))
    assert main(["plan", str(file)]) == 2
    assert re.search(r"sheet Runs, cell [A-Z]+2: run\[0\]\.machine", capsys.readouterr().err)


@pytest.mark.parametrize(
    ("command", "of_text", "of_workbook"),
    [
        (["reels"], "add [[cable_reel]] with", "add rows on the sheet Cable reels with"),
        (["bank"], "add a table [[bank]] with", "add a row on the sheet Banks with"),
        (["compare"], "add a [[variant]] with", "add a row on the sheet Variants with"),
        (["check"], "then delete the line example = true", "then clear the column example"),
        (["plan", "--sheet", "s.pdf"], "delete each example = true", "clear the column example"),
    ],
)
def test_a_fix_for_a_workbook_names_its_sheet(
    tmp_path: Path,
    command: list[str],
    of_text: str,
    of_workbook: str,
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["new", "job.toml", "--template", "riser"]) == 0
    assert main(["new", "job.xlsx", "--template", "riser"]) == 0
    capsys.readouterr()
    for file, said, other in [
        ("job.toml", of_text, of_workbook),
        ("job.xlsx", of_workbook, of_text),
    ]:
        main([command[0], file, *command[1:]])
        printed = capsys.readouterr()
        words = " ".join((printed.out + printed.err).split())
        assert said in words and other not in words, words
