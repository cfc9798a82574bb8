"""Survey tables: what headers mean, what numbers look like, and where an error is said to be."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import openpyxl
import pytest

from route3d.errors import InputError
from route3d.formats.catalog import read_routes
from route3d.formats.exchange import ExchangeRoute, ReadOptions
from route3d.formats.tables.routes import read_csv, read_xlsx, write_csv, write_xlsx
from tests.support.csv_jobs import PLAIN, Csv, problem


def test_a_file_cut_in_the_middle_of_a_row_is_refused(csv: Csv) -> None:
    head = "x (m),y (m),z (m),radius (m),access\n"
    whole = "1,2,3,,reel\n4,5,6,,machine"
    assert len(csv(head + whole).routes[0].points) == 2  # no line end, but all its cells
    said = problem(csv, head + "1,2,3,,reel\n4,5,6")
    assert "ends in the middle of a row: 3 of 5 cells" in said and ":3" in said
    assert len(csv(head + "1,2,3,,reel\n4,5,6\n").routes[0].points) == 2  # a short row, ended


def test_no_cell_runs_as_a_formula_and_names_come_back(tmp_path: Path) -> None:
    """Cells that begin with = + - @ are run by spreadsheets (common practice, no source)."""
    names = ("=cmd", "+1", "@x", "-a", "'quoted", "'=both", "plain", "")
    file = tmp_path / "names.csv"
    points = np.array([[float(i), 0.0, 0.0] for i in range(len(names))])
    route = ExchangeRoute("=run", points, np.zeros(len(names)), names)
    write_csv([route], file, "m")
    cells = [c for line in file.read_text().splitlines()[1:] for c in line.split(",")[:2]]
    assert not any(c.startswith(("=", "+", "-", "@")) for c in cells)
    back = read_csv(file, ReadOptions()).routes[0]
    assert back.name == "=run" and back.names == names


# --- headers -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("head", "meters"),
    [
        ("x (m),y (m),z (m)", 1.0),
        ("X [ft],Y [ft],Z [ft]", 0.3048),
        ("Easting (m),Northing (m),Level (m)", 1.0),
        ("EAST_ft,NORTH_ft,ELEV_ft", 0.3048),
        ("e (mm),n (mm),rl (mm)", 1e-3),
        ("Easting (US survey feet),Northing,Elevation", 1200 / 3937),
        ('"Easting (m)", Northing ,"Level"', 1.0),
    ],
)
def test_a_header_says_axis_and_unit(csv: Csv, head: str, meters: float) -> None:
    route = csv(f"{head}\n1,2,3\n4,5,6\n").routes[0]
    assert route.points == pytest.approx(meters * np.array([[1, 2, 3], [4, 5, 6]]))
    assert route.name == "berth"


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
def test_the_separator_is_found(csv: Csv, separator: str) -> None:
    text = (PLAIN + "1,2,3\n4,5,6\n").replace(",", separator)
    assert csv(text).routes[0].points[1].tolist() == [4, 5, 6]


def test_headers_are_mapped_by_name(csv: Csv) -> None:
    columns = {"x": "A", "y": "b (m)", "z": "C", "radius": "Rad", "run": "Which"}
    text = "A,B (m),C,Rad,Which,x,note\n1,2,3,,f1,9,\n5,2,3,1.5,f1,9,hand hole\n5,8,3,,f1,9,\n"
    reading = csv(text, columns=columns)
    assert reading.routes[0].name == "f1"
    assert reading.routes[0].radii.tolist() == [0, 1.5, 0]
    assert reading.routes[0].points[1].tolist() == [5, 2, 3]
    assert reading.ignored == ("column 'x'", "column 'note'")


def test_units_asked_for_count_where_headers_have_none(csv: Csv) -> None:
    text = "x,y,z\n1,2,3\n4,5,6\n"
    assert csv(text, units="in").routes[0].points[0, 0] == pytest.approx(0.0254)
    assert "use --units" in problem(csv, text)


def test_units_that_contradict_the_header_are_refused(csv: Csv) -> None:
    assert "is in m, but --units is ft" in problem(csv, PLAIN + "1,2,3\n4,5,6\n", units="ft")


def test_radii_may_have_a_unit_of_their_own(csv: Csv) -> None:
    text = "x (ft),y (ft),z (ft),radius (in)\n0,0,0,\n9,0,0,48\n9,9,0,\n"
    assert csv(text, units="ft").routes[0].radii[1] == pytest.approx(1.2192)


@pytest.mark.parametrize(
    ("head", "said"),
    [
        ("x (m),Easting (m),y,z", "'x (m)' and 'Easting (m)' could both be x"),
        ("x (m),y (m),depth", "has no column for z"),
        ("lon,lat,z", "degrees are not read from tables"),
        ("x (furlong),y,z", "the unit 'furlong'"),
        ("1,2,3", "has no column for x, y, z"),
    ],
)
def test_a_header_that_does_not_do(csv: Csv, head: str, said: str) -> None:
    assert said in problem(csv, f"{head}\n1,2,3,4\n4,5,6,4\n")


def test_headers_as_surveyors_write_them(csv: Csv) -> None:
    text = '"Point No.","Easting (mm)","Northing (mm)","Elev. (mm)","Bend R (mm)"\n'
    (route,) = csv(text + "1,0,0,0,\n2,9000,0,0,1200\n3,9000,9000,0,\n").routes
    assert route.points[2].tolist() == [9, 9, 0]
    assert route.radii.tolist() == [0, 1.2, 0]


def test_the_row_nearest_to_a_header_is_the_one_told(csv: Csv) -> None:
    said = problem(csv, "Survey of berth 2,,\nPt,Easting (m),Northing (m)\n1,2,3\n4,5,6\n")
    assert ":2: has no column for z; columns: 'Pt', 'Easting (m)', 'Northing (m)'" in said


def test_an_unknown_column_asked_for_is_told_with_the_nearest(csv: Csv) -> None:
    text = "Easting (m),Northing,Level\n1,2,3\n4,5,6\n"
    assert "did you mean 'Easting (m)'" in problem(csv, text, columns={"x": "Eastng (m)"})


def test_titles_above_the_header_are_told(csv: Csv) -> None:
    reading = csv("Survey of berth 2,,\n\n" + PLAIN + "1,2,3\n4,5,6\n")
    assert reading.ignored == ("1 row above the header",)


# --- runs --------------------------------------------------------------------------------------


def test_a_column_of_runs_makes_several_routes(csv: Csv) -> None:
    text = "run,name,x (m),y,z,access\nF1,V1,0,0,0,reel machine\nF1,,9,0,0,\n"
    text += "F2,V1,0,1,0,reel\n,,9,1,0,\nF1,,9,5,0,\n"
    reading = csv(text)
    assert [r.name for r in reading.routes] == ["F1", "F2"]
    assert [len(r.points) for r in reading.routes] == [3, 2]
    assert reading.routes[0].names == ("V1", "", "")
    assert reading.routes[0].access[0] == {"reel", "machine"}
    assert len(reading.guessed) == 2  # a row without a run; rows of F1 that stand apart


def test_a_point_given_twice_is_left_out_and_told(csv: Csv) -> None:
    reading = csv(PLAIN + "0,0,0\n1,0,0\n1,0,0\n2,0,0\n")
    assert len(reading.routes[0].points) == 3
    assert reading.ignored == (
        "1 row of berth at the same position as the row before, first row 4",
    )


def test_far_coordinates_come_near_and_the_origin_is_told(tmp_path: Path) -> None:
    file = tmp_path / "a.csv"
    file.write_text(PLAIN + "512345.25,4651000.5,3\n512355.25,4651000.5,3\n")
    reading = read_routes(file, ReadOptions())
    assert reading.routes[0].points.tolist() == [[345.25, 0.5, 3], [355.25, 0.5, 3]]
    assert "x 512000 m, y 4651000 m subtracted" in reading.guessed[0]


def test_an_origin_is_in_the_units_of_the_file(csv: Csv) -> None:
    text = "x (ft),y (ft),z (ft)\n1000,2000,10\n1010,2000,10\n"
    points = csv(text, origin=(1000.0, 2000.0, 0.0)).routes[0].points
    assert points == pytest.approx(0.3048 * np.array([[0, 0, 10], [10, 0, 10]]))


# --- workbooks ---------------------------------------------------------------------------------


def book(path: Path, rows: list[list[object]], title: str = "survey") -> Path:
    made = openpyxl.Workbook()
    sheet = made.active
    assert sheet is not None
    sheet.title = title
    for row in rows:
        sheet.append(row)
    made.save(path)
    return path


HEAD: list[object] = ["Easting (m)", "Northing (m)", "Level (m)", "Radius (m)"]


def test_a_workbook_is_read_as_the_table_it_holds(tmp_path: Path) -> None:
    rows = [["Berth 2"], [], HEAD, [0, 0, -1.5, None], [9, 0, "-1.5", 2], [9, 9, -1.5]]
    reading = read_xlsx(book(tmp_path / "b.xlsx", rows), ReadOptions())
    assert reading.routes[0].points.tolist() == [[0, 0, -1.5], [9, 0, -1.5], [9, 9, -1.5]]
    assert reading.routes[0].radii.tolist() == [0, 2, 0]
    assert reading.ignored == ("1 row above the header",)


@pytest.mark.parametrize(
    ("cell", "said"),
    [
        ("=1+2", "a formula without a saved value"),
        (None, "is empty, merged"),
        (True, "True is not a number"),
        ("#N/A", "'#N/A' is not a number"),
        ("1,5", "contains a comma"),
    ],
)
def test_a_bad_cell_of_a_workbook_is_told(tmp_path: Path, cell: object, said: str) -> None:
    file = book(tmp_path / "b.xlsx", [HEAD, [0, 0, 0], [9, cell, 0], [9, 9, 0]])
    with pytest.raises(InputError, match="row 3, column 'Northing \\(m\\)'") as caught:
        read_xlsx(file, ReadOptions())
    assert said in str(caught.value)


def test_merged_cells_leave_holes_that_are_told(tmp_path: Path) -> None:
    made = openpyxl.Workbook()
    sheet = made.active
    assert sheet is not None
    for row in (HEAD, [0, 0, 0], [9, 0, 0], [9, 9, 0]):
        sheet.append(row)
    sheet.merge_cells("A3:B3")
    made.save(tmp_path / "b.xlsx")
    with pytest.raises(InputError, match="row 3, column 'Northing"):
        read_xlsx(tmp_path / "b.xlsx", ReadOptions())


def test_sheets_without_points_are_passed_over_and_told(tmp_path: Path) -> None:
    made = openpyxl.Workbook()
    for title, rows in {"notes": [["tide", "date"]], "B2": [HEAD, [0, 0, 0], [1, 0, 0]]}.items():
        sheet = made.create_sheet(title)
        for row in rows:
            sheet.append(row)
    made.remove(made.worksheets[0])
    made.save(tmp_path / "b.xlsx")
    reading = read_xlsx(tmp_path / "b.xlsx", ReadOptions())
    assert [r.name for r in reading.routes] == ["B2"]
    assert reading.ignored[0].startswith("sheet 'notes': has no column")
    with pytest.raises(InputError, match="has no sheet 'B3'; valid names: notes, B2"):
        read_xlsx(tmp_path / "b.xlsx", ReadOptions(layers=("B3",)))


# --- out ---------------------------------------------------------------------------------------


@pytest.fixture
def route() -> ExchangeRoute:
    return ExchangeRoute(
        '=F1, "the first"',
        np.array([[0, 0, -1.5], [1 / 3, 9e4, 0.1], [7.0, 9e4, 12]]),
        np.array([0, 1.2192, 0]),
        ("vault V1; lower", "", "Ω"),
        "duct",
        None,
        (frozenset({"reel", "machine"}), frozenset(), frozenset({"machine"})),
        ("", "+riser", ""),
        ((3.6576, 1.8288, 2.1336), None, None),
    )


@pytest.mark.parametrize("unit", ["ft", "m"])
@pytest.mark.parametrize(("write", "suffix"), [(write_csv, ".csv"), (write_xlsx, ".xlsx")])
def test_a_table_reads_back_as_it_was(
    tmp_path: Path,
    route: ExchangeRoute,
    unit: str,
    write: Callable[..., None],
    suffix: str,
) -> None:
    file = tmp_path / f"out{suffix}"
    write([route], file, unit)
    back = read_routes(file, ReadOptions()).routes[0]
    assert back.points == pytest.approx(route.points, abs=1e-8)  # 14 digits of 100 km
    assert back.radii == pytest.approx(route.radii, abs=1e-12)
    assert (back.name, back.names, back.access) == (route.name, route.names, route.access)
    assert back.conduits == route.conduits == ("duct", "+riser")
    assert back.boxes[0] == pytest.approx(route.boxes[0], abs=1e-12)
    assert back.boxes[1:] == (None, None)


def test_a_workbook_holds_text_as_text_and_is_the_same_each_time(
    tmp_path: Path, route: ExchangeRoute
) -> None:
    for name in ("a.xlsx", "b.xlsx"):
        write_xlsx([route], tmp_path / name, "ft")
    assert (tmp_path / "a.xlsx").read_bytes() == (tmp_path / "b.xlsx").read_bytes()
    sheet = openpyxl.load_workbook(tmp_path / "a.xlsx").worksheets[0]
    cell = sheet["A2"]
    assert (cell.value, cell.data_type) == ('=F1, "the first"', "s")
    assert sheet["C1"].value == "x (ft)"
    assert sheet["F3"].value == 48
