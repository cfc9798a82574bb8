"""The cells of survey tables: numbers, commas, short rows, conduits and boxes."""

from __future__ import annotations

import pytest

from route3d.errors import InputError
from tests.support.csv_jobs import PLAIN, Csv, problem


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("4,x,6", "row 3, column 'y (m)': 'x' is not a number"),
        ("4,,6", "row 3, column 'y (m)': is empty"),
        ("4,nan,6", "'nan' is not a number"),
        ("4,1e999,6", "'1e999' is not a number"),
        ("4,inf,6", "'inf' is not a number"),
        ("4,0x10,6", "'0x10' is not a number"),
        ("4,1_000,6", "'1_000' is not a number"),
        ("4,٣,6", "'٣' is not a number"),
        ('4,"1,5",6', "'1,5' contains a comma; write a decimal point"),
        ("4,1,5,6", "row 3 has 4 cells under 3 headers; use a decimal point instead"),
        ("4,5", "row 3, column 'z (m)': is empty"),
        ('4,"5,6', "is not CSV"),
    ],
)
def test_a_bad_cell_is_told_by_row_and_column(csv: Csv, row: str, said: str) -> None:
    assert said in problem(csv, PLAIN + f"1,2,3\n{row}\n7,8,9\n")


@pytest.mark.parametrize("separator", [";", "\t", "|"])
def test_a_decimal_comma_is_one_where_no_cells_are_parted_by_it(csv: Csv, separator: str) -> None:
    text = "x (m);y (m);z (m)\n1;2;3\n-1,5;2,125;,5\n".replace(";", separator)
    reading = csv(text)
    assert reading.routes[0].points[1].tolist() == [-1.5, 2.125, 0.5]
    assert "commas in numbers read as decimal: '-1,5' in row 3 is -1.5" in reading.used
    assert reading.guessed == ()


def test_a_comma_that_may_mark_thousands_is_told_as_a_guess(csv: Csv) -> None:
    reading = csv("x (m);y (m);z (m)\n1,250;2;3\n4,500;2;3\n")
    assert reading.routes[0].points[0, 0] == 1.25
    assert reading.guessed == ("commas in numbers read as decimal: '1,250' in row 2 is 1.250",)


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (
            "4,5;2;3.5",
            "mixes decimal marks: '4,5' in row 3 and '3.5' in row 3; use a decimal point "
            "everywhere",
        ),
        ("1.250,5;2;3", "'1.250,5' contains both points and commas; write it without thousands"),
        ("1,250,000;2;3", "'1,250,000' contains a comma"),
    ],
)
def test_commas_and_points_are_not_mixed(csv: Csv, row: str, said: str) -> None:
    assert said in problem(csv, f"x (m);y (m);z (m)\n1;2;3\n{row}\n")


def test_a_german_survey_as_the_help_has_it(csv: Csv) -> None:
    """Right and up values of a Gauss-Krüger survey, as German instruments write them."""
    text = (
        "Punkt;Rechtswert;Hochwert;Höhe;Bemerkung\r\n"
        "101;3567123,250;5932481,100;4,37;Schacht V1\r\n"
        "102;3567163,250;5932481,100;4,37;\r\n"
    )
    columns = {"x": "Rechtswert", "y": "Hochwert", "z": "Höhe"}
    reading = csv("\ufeff" + text, columns=columns, units="m")
    (route,) = reading.routes
    assert route.points.tolist() == [[3567123.25, 5932481.1, 4.37], [3567163.25, 5932481.1, 4.37]]
    assert reading.ignored == ("column 'Punkt'", "column 'Bemerkung'")


def test_short_rows_are_told(csv: Csv) -> None:
    reading = csv("x (m),y,z,radius,name\n0,0,0,,V1\n9,0,0\n9,9,0\n")
    assert reading.guessed == (
        "2 rows with fewer cells than headers: missing cells taken as empty, first row 3",
    )


def test_a_file_without_a_last_line_end_may_be_cut_in_its_last_number(csv: Csv) -> None:
    assert csv(PLAIN + "1,2,3\n4,5,6\n").guessed == ()
    (said,) = csv(PLAIN + "1,2,3\n4,5,6").guessed
    assert said.startswith("the last row is taken as complete")


# --- conduits and boxes --------------------------------------------------------------------------


def test_the_conduit_goes_on_until_another_is_named(csv: Csv) -> None:
    text = "x (m),y,z,conduit\n0,0,0,duct\n5,0,0,\n9,0,0,duct\n9,5,0,riser\n9,9,0,riser\n"
    (route,) = csv(text).routes
    assert route.conduit == "duct"
    assert route.changes == ("", "", "", "riser", "")
    assert route.conduits == ("duct", "duct", "duct", "riser")


@pytest.mark.parametrize("cell", ["1.2 x 0.6 x 0.9", "1.2×0.6×0.9", "1.2 X .6 X .9", "1.2 0.6 0.9"])
def test_a_box_is_three_sizes(csv: Csv, cell: str) -> None:
    (route,) = csv(f"x (m),y,z,box (m)\n0,0,0,{cell}\n5,0,0,\n").routes
    assert route.boxes == ((1.2, 0.6, 0.9), None)


@pytest.mark.parametrize("cell", ["1.2 x 0.6", "big", "1 x 1 x 0", "1 x 1 x -1", "1 x 1 x 1e9"])
def test_a_cell_that_is_no_box_is_told(csv: Csv, cell: str) -> None:
    said = problem(csv, f"x (m),y,z,box (m)\n0,0,0,{cell}\n5,0,0,\n")
    assert (
        f"row 2, column 'box (m)': '{cell}' is not a box size; write length x width x height"
        in said
    )


def test_every_bad_cell_is_told_up_to_a_number(csv: Csv) -> None:
    with pytest.raises(InputError) as caught:
        csv(PLAIN + "a,b,c\n" * 100)
    assert len(caught.value.problems) == 20


def test_a_byte_order_mark_blank_lines_and_windows_ends_are_no_matter(csv: Csv) -> None:
    text = (
        b"\xef\xbb\xbf" + PLAIN.encode().replace(b"\n", b"\r\n") + b"\r\n1,2,3\r\n ,, \r\n4,5,6\r\n"
    )
    assert len(csv(text).routes[0].points) == 2


def test_a_negative_radius_is_refused(csv: Csv) -> None:
    text = "x (m),y (m),z (m),radius\n0,0,0,\n9,0,0,-2\n9,9,0,\n"
    assert "row 3, column 'radius': the radius '-2' is negative" in problem(csv, text)


@pytest.mark.parametrize("text", ["", "\n\n", PLAIN, PLAIN + "1,2,3\n", PLAIN + "1,2,3\n1,2,3\n"])
def test_a_table_without_a_route_is_refused(csv: Csv, text: str) -> None:
    assert problem(csv, text)


def test_two_separators_are_asked_about(csv: Csv) -> None:
    assert "delimiter unclear: " in problem(csv, "x (m),y,z;a;b\n1,2,3;a;b\n")


def test_feet_and_inches_say_their_own_unit(csv: Csv) -> None:
    """A marked length is what it says, under a header in feet or in meters: 12 in are 0.3048 m."""
    for unit in ("ft", "m"):
        text = f'x ({unit});y ({unit});z ({unit})\n0;0;0\n10\'-0"";0;0\n'.replace('""', '"')
        reading = csv(text + "5'-3 1/2\";7;0\n")
        assert reading.routes[0].points[1:, 0] == pytest.approx([3.048, 63.5 * 0.0254])
        assert reading.routes[0].points[2, 1] == pytest.approx(7 * (0.3048 if unit == "ft" else 1))
        assert any(
            said.startswith("feet and inches read by their marks, such as 10'-0\"")
            for said in reading.used
        )


def test_feet_with_too_many_inches_are_no_number(csv: Csv) -> None:
    assert "is not a number" in problem(csv, "x (ft);y;z\n0;0;0\n5'-14\";1;1\n")
