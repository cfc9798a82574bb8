"""Survey files as instruments and spreadsheets write them: no header, footers, odd encodings."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from route3d.cli.main import main
from route3d.errors import InputError
from route3d.formats.catalog import read_routes
from route3d.formats.exchange import ImportedRoutes, ReadOptions

POINTS = np.array([[100.0, 20.0, 3.0], [100.0, 80.0, 3.5], [160.0, 80.0, 4.0]])
PNEZD = {"x": "3", "y": "2", "z": "4", "name": "5"}
ROWS = "1,20,100,3,vault\n2,80,100,3.5,corner\n3,80,160,4,pad\n"


def read(tmp_path: Path, data: str | bytes, **options: object) -> ImportedRoutes:
    file = tmp_path / "points.csv"
    file.write_bytes(data.encode() if isinstance(data, str) else data)
    given = {"units": "m", "columns": PNEZD, **options}
    return read_routes(file, ReadOptions(**given))  # type: ignore[arg-type]


def test_columns_by_number(tmp_path: Path) -> None:
    route = read(tmp_path, ROWS).routes[0]
    assert route.points.tolist() == POINTS.tolist()
    assert route.names == ("vault", "corner", "pad")


@pytest.mark.parametrize(
    ("order", "line"),
    [
        ("PNEZD", "7 {y} {x} {z} CL of duct"),
        ("penzd", "7,{x},{y},{z},CL of duct"),
        ("NEZ", "{y}\t{x}\t{z}"),
        ("ENZ", "{x};{y};{z}"),
        ("XYZ", "{x} {y} {z}"),
        ("PYXZ", "7|{y}|{x}|{z}"),
    ],
)
@pytest.mark.parametrize("unit", ["m", "us-ft"])
def test_common_orders_by_letters(
    tmp_path: Path, order: str, line: str, unit: str, capsys: pytest.CaptureFixture[str]
) -> None:
    points, out = tmp_path / "points.txt", tmp_path / "out.csv"
    points.write_text("\n".join(line.format(x=x, y=y, z=z) for x, y, z in POINTS) + "\n")
    # exit code 1: the survey has a corner without a radius
    assert main(["convert", str(points), str(out), "--order", order, "--units", unit]) == 1
    back = read_routes(out, ReadOptions()).routes[0]
    meters = {"m": 1.0, "us-ft": 1200 / 3937}[unit]  # the survey foot, exact by definition
    assert back.points == pytest.approx(POINTS * meters, rel=1e-12)
    if "CL" in line:
        assert back.names[:2] == ("CL of duct", "CL of duct 2")
        assert "2 repeated names of points numbered: 'CL of duct' became 'CL of duct 2'" in (
            capsys.readouterr().out
        )


@pytest.mark.parametrize(("order", "words"), [("PNED", "no order"), ("XEYZ", "no order")])
def test_an_order_that_says_too_little_or_too_much(
    tmp_path: Path, order: str, words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "p.csv").write_text(ROWS)
    assert main(["convert", str(tmp_path / "p.csv"), "o.csv", "--order", order]) == 2
    assert words in capsys.readouterr().err


def test_a_file_without_header_says_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="--order PNEZD"):
        read(tmp_path, ROWS, columns={})
    with pytest.raises(InputError, match=r"no column 9 for z: it has 5 columns"):
        read(tmp_path, ROWS, columns={**PNEZD, "z": "9"})


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (
            "caf\u00e9".encode("cp1252"),
            "Windows text (cp1252): it is not UTF-8, first 'é' on line 3",
        ),
        ("utf-16", "text read as UTF-16"),
        ("utf-16-le", "UTF-16 (it has no byte order mark)"),
        ("utf-16-be", "UTF-16 (it has no byte order mark)"),
    ],
)
def test_encodings_are_found_and_told(tmp_path: Path, data: str | bytes, said: str) -> None:
    if isinstance(data, bytes):
        reading = read(tmp_path, ROWS.replace("pad", "").encode()[:-1] + data + b"\n")
        assert reading.routes[0].names[-1] == "café"
    else:
        reading = read(tmp_path, ROWS.encode(data))
        assert reading.routes[0].points.tolist() == POINTS.tolist()
    assert said in " ".join((*reading.used, *reading.guessed))


@pytest.mark.parametrize(
    "footer",
    [
        "End of file\n",
        "END",
        "Total,3,points\n",
        "\n,,,,\nNumber of points: 3\n\n",
        "-----\nSurveyed 2026-11-30 by J. Doe\n",
    ],
)
def test_rows_below_the_points_are_left_out_and_told(tmp_path: Path, footer: str) -> None:
    reading = read(tmp_path, ROWS + footer)
    assert reading.routes[0].points.tolist() == POINTS.tolist()
    assert "below the points, from row" in reading.ignored[0]


def test_rows_among_the_points_are_no_footer(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="'end' is not a number"):
        read(tmp_path, "1,20,100,3,a\n2,end,end,end,b\n3,80,160,4,c\n4,90,160,4,d\n")
    with pytest.raises(InputError, match="row 3"):
        read(tmp_path, ROWS.replace("3,80,160,4", "3,8O,160,4"))


HEADED = "run;name;x (m);y (m);z (m)\nF1;pad;0;0;3,5\nF1;;40;0;3,5\nF1;vault;40;60;4\n"


@pytest.mark.parametrize("footer", ["Mittel;;;;9,67\n", "Anzahl;;3\n", ";;;;\nSumme;;;;11\n;;;\n"])
def test_totals_in_any_language_below_the_points_are_left_out(tmp_path: Path, footer: str) -> None:
    (tmp_path / "s.csv").write_text(HEADED + footer)
    reading = read_routes(tmp_path / "s.csv", ReadOptions())
    assert [len(r.points) for r in reading.routes] == [3]
    assert any("below the points, from row" in said for said in reading.ignored)


@pytest.mark.parametrize(
    "broken",
    [
        "F1;end;;;9,67\n",  # of the run: a point without its x and y
        "P7;;;;9,67\n",  # a numbered point
        ";;;;9,67\n",
        "Summe;;40;60\n",  # x and y: a point without its z
        "Mittel;;;;9,67\nF1;end;50;60;4\n",  # points go on below
    ],
)
def test_a_broken_point_is_no_total(tmp_path: Path, broken: str) -> None:
    (tmp_path / "s.csv").write_text(HEADED + broken)
    with pytest.raises(InputError, match=r"row 5.*is empty"):
        read_routes(tmp_path / "s.csv", ReadOptions())


@pytest.mark.parametrize(
    ("header", "names"),
    [
        ("y (m),x (m),z (m),Description", ("pad", "", "vault")),
        ("y (m),x (m),z (m),desc.", ("pad", "", "vault")),
        ("y (m),x (m),z (m),Description,Point", ("1", "2", "3")),  # a name goes before it
    ],
)
def test_a_description_is_the_name_where_there_is_no_other(
    tmp_path: Path, header: str, names: tuple[str, ...]
) -> None:
    rows = ["0,0,3,pad,1", "40,0,3,,2", "40,60,3,vault,3"]
    wide = header.count(",") + 1
    text = "\n".join([header, *(",".join(row.split(",")[:wide]) for row in rows)])
    (tmp_path / "s.csv").write_text(text + "\n")
    assert read_routes(tmp_path / "s.csv", ReadOptions()).routes[0].names == names


def test_a_file_without_units_is_told_of_both_feet(tmp_path: Path) -> None:
    (tmp_path / "s.csv").write_text("x,y,z\n0,0,3\n40,0,3\n")
    with pytest.raises(InputError, match="--units m, ft, us-ft, mm or in"):
        read_routes(tmp_path / "s.csv", ReadOptions())


def test_rows_above_the_points_are_told(tmp_path: Path) -> None:
    reading = read(tmp_path, "Job 12\nP,N,E,Z,D\n" + ROWS)
    assert reading.routes[0].points.tolist() == POINTS.tolist()
    assert "2 rows above the points" in reading.ignored
