"""Files made to hurt end in a clear error within 10 s and 1 GB, each in its own process."""

from __future__ import annotations

import io
import json
import resource
import subprocess
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest

from route3d.disk import LARGEST_RATIO

SECONDS, BYTES = 10, 1_000_000_000
# Address space beyond what is used: libraries reserve it for threads.
RESERVED = 1_500_000_000
_SCRIPT = """
import resource, sys
from pathlib import Path
from route3d.errors import InputError
from route3d.formats.exchange import ReadOptions
from route3d.formats.catalog import read_routes
try:
    reading = read_routes(Path(sys.argv[1]), ReadOptions(units=sys.argv[2] or None))
    print("read", len(reading.routes))
except InputError as error:
    print("refused", error)
print("peak", resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""


def outcome(file: Path, units: str = "", seconds: int = SECONDS) -> str:
    """What became of reading the file, within limits of time and memory."""

    def limit() -> None:
        resource.setrlimit(resource.RLIMIT_AS, (BYTES + RESERVED, BYTES + RESERVED))
        resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds + 1))

    done = subprocess.run(
        [sys.executable, "-c", _SCRIPT, str(file), units],
        capture_output=True,
        text=True,
        timeout=60,  # the machine may be shared: processor time is what is limited
        preexec_fn=limit,
        env={"PATH": "", "OPENBLAS_NUM_THREADS": "1", "PYTHONPATH": ":".join(sys.path)},
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2000:]
    *said, peak = done.stdout.strip().splitlines()
    assert int(peak.split()[1]) * 1024 < BYTES
    return "\n".join(said)


def refused(file: Path, units: str = "") -> str:
    said = outcome(file, units)
    assert said.startswith("refused")
    return said


# --- workbooks ---------------------------------------------------------------------------------

Parts = dict[str, bytes]


def workbook(path: Path, change: Callable[[Parts], None]) -> Path:
    """A small good workbook with its parts changed."""
    held = io.BytesIO()
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    for row in (["x (m)", "y (m)", "z (m)"], [0, 0, 0], [9, 0, 0]):
        sheet.append(row)
    book.save(held)
    with zipfile.ZipFile(held) as archive:
        parts = {n: archive.read(n) for n in archive.namelist()}
    change(parts)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    return path


SHEET = "xl/worksheets/sheet1.xml"


def rows(body: str) -> bytes:
    space = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    return f'<worksheet xmlns="{space}"><sheetData>{body}</sheetData></worksheet>'.encode()


HEAD = "".join(
    f'<c r="{c}1" t="inlineStr"><is><t>{n} (m)</t></is></c>'
    for c, n in zip("ABC", "xyz", strict=True)
)


def test_a_bomb_of_zeros_is_refused_before_it_is_unpacked(tmp_path: Path) -> None:
    def change(parts: Parts) -> None:
        parts["xl/media/image1.bin"] = bytes(50_000_000)

    said = refused(workbook(tmp_path / "a.xlsx", change))
    assert "unpacks to 50 MB" in said
    assert float(said.split("parts, ")[1].split(" times")[0]) > LARGEST_RATIO


def test_a_bomb_that_lies_about_its_size_is_refused(tmp_path: Path) -> None:
    file = workbook(tmp_path / "a.xlsx", lambda p: p.update({"xl/big.xml": b" " * 70_000_000}))
    data = file.read_bytes().replace(
        (70_000_000).to_bytes(4, "little"), (900).to_bytes(4, "little")
    )
    file.write_bytes(data)
    assert "workbook" in refused(file)


def test_entities_are_refused(tmp_path: Path) -> None:
    lol = b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "' + b"x" * 100 + b'">]><a>&b;</a>'
    file = workbook(tmp_path / "a.xlsx", lambda p: p.update({"xl/workbook.xml": lol}))
    assert "declares entities in xl/workbook.xml" in refused(file)


def test_a_row_far_down_is_refused(tmp_path: Path) -> None:
    body = f'<row r="1">{HEAD}</row><row r="900000000"><c r="A900000000"><v>1</v></c></row>'
    said = refused(workbook(tmp_path / "a.xlsx", lambda p: p.update({SHEET: rows(body)})))
    assert "has a row 300,001" in said


def test_a_sheet_that_claims_to_be_huge_is_read_as_it_is(tmp_path: Path) -> None:
    def change(parts: Parts) -> None:
        small = parts[SHEET].replace(b'<dimension ref="A1:C3"', b'<dimension ref="A1:XFD1048576"')
        assert small != parts[SHEET]
        parts[SHEET] = small

    assert outcome(workbook(tmp_path / "a.xlsx", change)) == "read 1"


def test_wide_rows_of_a_large_sheet(tmp_path: Path) -> None:
    row = '<row><c r="XFD1"><v>1</v></c></row>'
    body = f'<row r="1">{HEAD}</row>' + row * 200_000
    assert refused(workbook(tmp_path / "a.xlsx", lambda p: p.update({SHEET: rows(body)})))


@pytest.mark.scale
def test_a_large_sheet_of_points(tmp_path: Path) -> None:
    cells = "".join(
        f"<row><c><v>{i * 0.37:.2f}</v></c><c><v>{i % 7 / 100}</v></c><c><v>-1.5</v></c></row>"
        for i in range(120_000)
    )
    body = f'<row r="1">{HEAD}</row>' + cells
    file = workbook(tmp_path / "a.xlsx", lambda p: p.update({SHEET: rows(body)}))
    assert outcome(file, seconds=30) == "read 1"  # honest work: a slow machine takes its time


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9, 0.99])
def test_a_truncated_workbook_is_refused(tmp_path: Path, share: float) -> None:
    file = workbook(tmp_path / "a.xlsx", lambda p: None)
    file.write_bytes(file.read_bytes()[: int(file.stat().st_size * share)])
    assert "cannot be read as a workbook" in refused(file)


def test_an_old_workbook_is_told(tmp_path: Path) -> None:
    file = tmp_path / "a.xlsx"
    file.write_bytes(b"\xd0\xcf\x11\xe0" + bytes(5000))
    assert "is an old-format or encrypted workbook" in refused(file)


def test_a_workbook_lacking_its_parts_is_refused(tmp_path: Path) -> None:
    for name in ("xl/workbook.xml", SHEET, "[Content_Types].xml"):
        file = workbook(tmp_path / "a.xlsx", lambda p, n=name: p.pop(n) and None)  # type: ignore[misc]
        assert refused(file)


# --- text --------------------------------------------------------------------------------------


@pytest.mark.scale
def test_hundreds_of_thousands_of_points_of_csv(tmp_path: Path) -> None:
    file = tmp_path / "a.csv"
    body = "".join(f"{i * 0.1},{i % 3 / 100},-1.5\n" for i in range(290_000))
    file.write_text("x (m),y (m),z (m)\n" + body)
    assert outcome(file, seconds=30) == "read 1"  # honest work, as that of a large sheet
    file.write_text("x (m),y (m),z (m)\n" + body + body)
    assert "has more than 300,000 rows" in refused(file)


@pytest.mark.scale
def test_fifty_thousand_runs_of_csv(tmp_path: Path) -> None:
    file = tmp_path / "a.csv"
    body = "".join(f"r{i},{i},0,0\nr{i},{i},9,0\n" for i in range(50_000))
    file.write_text("run,x (m),y (m),z (m)\n" + body)
    assert "has 50,000 routes" in refused(file)


@pytest.mark.parametrize(
    "text",
    [
        "\x00" * 1_000_000,
        '"' + "a" * 5_000_000,
        "," * 5_000_000,
        "x (m),y,z\n" + "1,2,3," * 200_000,
        "x (m),y,z\n1,2," + "9" * 1_000_000,
        "x (m)," + "y" * 3_000_000 + ",z\n1,2,3\n",
        "x " + "(" * 200_000 + ",y,z\n",
    ],
    ids=["nulls", "open quote", "commas", "wide row", "digits", "long header", "brackets"],
)
def test_csv_of_no_sense(tmp_path: Path, text: str) -> None:
    file = tmp_path / "a.csv"
    file.write_text(text)
    assert len(refused(file)) < 3000


@pytest.mark.scale
def test_a_large_geojson(tmp_path: Path) -> None:
    file = tmp_path / "a.geojson"
    points = [[i * 0.1, i % 3 / 100, 0] for i in range(200_000)]
    file.write_text(
        json.dumps({"type": "LineString", "coordinates": points}, separators=(",", ":"))
    )
    assert outcome(file, "m") == "read 1"


@pytest.mark.parametrize("body", ["[" * 20_000_000, "[[]," * 5_000_000, '{"a":' * 4_000_000])
def test_geojson_of_brackets(tmp_path: Path, body: str) -> None:
    file = tmp_path / "a.json"
    file.write_text(body)
    assert refused(file)


@pytest.mark.scale
def test_geojson_of_a_whole_map(tmp_path: Path) -> None:
    file = tmp_path / "a.geojson"
    lines = ",".join(f"[[{i},0],[{i},1]]" for i in range(900_000))
    file.write_text(f'{{"type":"MultiLineString","coordinates":[{lines}]}}')
    assert "more than 2,000 lines" in refused(file, "m")


@pytest.mark.scale
def test_geojson_of_many_empty_collections(tmp_path: Path) -> None:
    file = tmp_path / "a.geojson"
    empty = ",".join(['{"type":"GeometryCollection","geometries":[]}'] * 300_000)
    file.write_text(f'{{"type":"GeometryCollection","geometries":[{empty}]}}')
    assert "has no line" in refused(file)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "utf-16-be"])
@pytest.mark.parametrize("suffix", [".xml", ".landxml"])
def test_entities_are_seen_in_any_encoding(tmp_path: Path, suffix: str, encoding: str) -> None:
    file = tmp_path / f"a{suffix}"
    levels = "".join(f'<!ENTITY e{i} "{f"&e{i - 1};" * 10}">' for i in range(1, 12))
    text = f'<!DOCTYPE L [<!ENTITY e0 "lol">{levels}]><VTKFile>&e11;</VTKFile>'
    file.write_bytes(text.encode(encoding))
    assert "declares" in refused(file)


def test_landxml_of_entities(tmp_path: Path) -> None:
    file = tmp_path / "a.xml"
    levels = "".join(f'<!ENTITY e{i} "{f"&e{i - 1};" * 10}">' for i in range(1, 12))
    file.write_text(f'<!DOCTYPE L [<!ENTITY e0 "lol">{levels}]><LandXML>&e11;</LandXML>')
    assert "declares entities" in refused(file)


@pytest.mark.scale
@pytest.mark.parametrize(
    "body",
    ["<a/>" * 15_000_000, "<a>" * 2_000_000, "<Alignment " + "a='b' " * 9_000_000 + "/>"],
    ids=["elements", "depth", "attributes"],
)
def test_landxml_of_tags(tmp_path: Path, body: str) -> None:
    file = tmp_path / "a.xml"
    file.write_text(f"<LandXML>{body}</LandXML>")
    assert refused(file)


@pytest.mark.scale
def test_landxml_with_a_huge_surface(tmp_path: Path) -> None:
    file = tmp_path / "a.xml"
    faces = "<F>1 2 3</F>" * 1_000_000
    line = "<Line><Start>0 0</Start><End>0 9</End></Line>"
    file.write_text(
        f"<LandXML><Units><Metric linearUnit='meter'/></Units><Surfaces>{faces}</Surfaces>"
        f"<Alignments><Alignment name='a'><CoordGeom>{line}</CoordGeom></Alignment></Alignments>"
        "</LandXML>"
    )
    assert outcome(file) == "read 1"


@pytest.mark.scale
def test_landxml_of_many_curves(tmp_path: Path) -> None:
    curve = (
        "<Curve rot='ccw'><Start>0 1</Start><Center>0 0</Center><End>0 -1</End></Curve>"
        "<Curve rot='ccw'><Start>0 -1</Start><Center>0 0</Center><End>0 1</End></Curve>"
    )
    file = tmp_path / "a.xml"
    file.write_text(
        "<LandXML><Units><Metric linearUnit='meter'/></Units><Alignments><Alignment name='a'>"
        f"<CoordGeom>{curve * 10_000}</CoordGeom></Alignment></Alignments></LandXML>"
    )
    outcome(file)
