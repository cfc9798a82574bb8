"""Drawings that are broken, huge, of other versions, or no drawings: an error in words, soon."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
from ezdxf.math import UCS

from route3d.errors import InputError
from route3d.formats.dxf.reading import MOST_ENTITIES, read_dxf
from route3d.formats.dxf.writing import write_dxf
from route3d.formats.exchange import ReadOptions
from tests.support.drawings import HEAD, LINE, PLANES, TAIL, elbow, elbow_vertices, line, read
from tests.support.wild_routes import wild_route

# Drawings hold some 16 digits; angles in degrees and turned planes cost a few of them.
CLOSE = 1e-9
IN_METERS = ReadOptions(units="m")


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "is empty"),
        (b"hello world\n" * 50, "is not a DXF file"),
        (bytes(range(256)) * 20, "is not a DXF file"),
        (b"AC1032\x00\x00", "is a DWG file"),
        (LINE[:-15].encode(), "truncated"),
        ((HEAD + TAIL).encode(), "has no line, arc or polyline"),
        ((HEAD + line(0, 0, "nan", 9, 0, 0) + TAIL).encode(), "coordinate that is not finite"),
        ((HEAD + line(0, 0, "1e400", 9, 0, 0) + TAIL).encode(), "coordinate that is not finite"),
        ((HEAD + line(0, 0, 1e12, 9, 0, 0) + TAIL).encode(), "coordinate that is not finite"),
        ((HEAD + line(0, 0, "abc", 9, 0, 0) + TAIL).encode(), "coordinate that is not finite"),
    ],
)
def test_what_is_no_drawing_is_refused_in_words(content: bytes, said: str, tmp_path: Path) -> None:
    file = tmp_path / "x.dxf"
    file.write_bytes(content)
    with pytest.raises(InputError, match=said):
        read_dxf(file, IN_METERS)


@pytest.mark.parametrize(
    ("key", "value"), [(40, "nan"), (40, "-2"), (40, "0"), (50, "inf"), (51, "nan")]
)
def test_an_arc_of_no_radius_or_angle_is_left_out(key: int, value: str, tmp_path: Path) -> None:
    numbers = {10: "0", 20: "0", 30: "0", 40: "2", 50: "0", 51: "90"} | {key: value}
    body = "".join(f"{c}\n{n}\n" for c, n in numbers.items())
    file = tmp_path / "x.dxf"
    file.write_text(f"{HEAD}0\nARC\n5\n1F\n8\nA\n{body}{TAIL}")
    with pytest.raises(InputError, match=r"only 1 ARC \(has the radius"):
        read_dxf(file, IN_METERS)
    file.write_text(f"{HEAD}{line(0, 0, 0, 9, 0, 0)}0\nARC\n5\n1F\n8\nA\n{body}{TAIL}")
    reading = read_dxf(file, IN_METERS)
    assert len(reading.routes) == 1
    (lost,) = reading.elements
    assert (lost.handle, lost.kind, lost.state) == ("1F", "ARC", "missing")


def test_a_file_without_the_end_of_a_section_is_mended_and_that_is_said(tmp_path: Path) -> None:
    file = tmp_path / "x.dxf"
    file.write_text(HEAD + line(0, 0, 0, 9, 0, 0) + "0\nEOF\n")
    reading = read_dxf(file, IN_METERS)
    assert reading.routes[0].points[1] == pytest.approx([9, 0, 0])
    assert any("the file was repaired" in said for said in reading.guessed)


def test_a_million_entities_are_refused_before_they_are_loaded(tmp_path: Path) -> None:
    file = tmp_path / "x.dxf"
    one = line(0, 0, 0, 9, 0, 0)
    file.write_text(HEAD + one * 1_000_000 + TAIL)
    with pytest.raises(
        InputError, match=r"1,000,00\d entities, the maximum is 40,000; save only the route layers"
    ):
        read_dxf(file, IN_METERS)


def test_as_many_entities_as_allowed_of_other_things_are_read(tmp_path: Path) -> None:
    file = tmp_path / "x.dxf"
    point = "0\nPOINT\n8\nTREES\n10\n1\n20\n1\n30\n0\n"
    file.write_text(HEAD + line(0, 0, 0, 9, 0, 0) + point * (MOST_ENTITIES - 100) + TAIL)
    assert f"layer TREES: {MOST_ENTITIES - 100:,} POINT" in read_dxf(file, IN_METERS).ignored


def test_blocks_of_blocks_of_blocks_are_refused(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        space.doc.blocks.new("B0").add_line((0, 0), (1, 0))
        for level in range(1, 9):
            block = space.doc.blocks.new(f"B{level}")
            for _ in range(10):
                block.add_blockref(f"B{level - 1}", (0, 0))
        space.add_blockref("B8", (0, 0))

    with pytest.raises(InputError, match="its blocks have more than"):
        read(draw, tmp_path)


def test_a_block_within_itself_ends(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        space.add_line((0, 0), (9, 0))
        block = space.doc.blocks.new("SELF")
        block.add_blockref("SELF", (1, 0))
        space.add_blockref("SELF", (0, 0))

    assert any("INSERT (nested too deeply)" in s for s in read(draw, tmp_path).ignored)


def test_a_plan_of_loose_lines_asks_for_layers(tmp_path: Path) -> None:
    def draw(space: Any) -> None:
        for i in range(1001):
            space.add_line((0, i), (5, i), dxfattribs={"layer": "WALLS"})

    with pytest.raises(InputError, match=r"1,000 separate lines.*select the layers.*WALLS"):
        read(draw, tmp_path)


@pytest.mark.parametrize("version", ["R12", "R2000", "R2018"])
def test_other_versions_and_binary_files_read_alike(version: str, tmp_path: Path) -> None:
    doc = ezdxf.new(version)
    doc.header["$INSUNITS"] = 6
    elbow(doc.modelspace(), PLANES["tilted"])
    doc.saveas(tmp_path / "text.dxf")
    doc.saveas(tmp_path / "binary.dxf", fmt="bin")
    options = ReadOptions(units="m")
    text, binary = (read_dxf(tmp_path / f"{n}.dxf", options) for n in ("text", "binary"))
    expected = np.array([tuple(p) for p in elbow_vertices(PLANES["tilted"])])
    assert text.routes[0].points == pytest.approx(expected)
    assert binary.routes[0].points == pytest.approx(expected)
    assert binary.routes[0].radii == pytest.approx([0, 2, 0], abs=CLOSE)


def test_a_damaged_binary_file_is_refused(tmp_path: Path) -> None:
    doc = ezdxf.new("R2010")
    elbow(doc.modelspace(), UCS())
    file = tmp_path / "binary.dxf"
    doc.saveas(file, fmt="bin")
    whole = file.read_bytes()
    for end in (30, 500, len(whole) // 2, len(whole) - 10):
        file.write_bytes(whole[:end])
        with pytest.raises(InputError):
            read_dxf(file, IN_METERS)


@pytest.mark.parametrize("seed", range(60))
def test_changed_bytes_end_in_an_error_or_a_route_never_elsewhere(
    seed: int, tmp_path: Path
) -> None:
    file = tmp_path / "x.dxf"
    write_dxf([wild_route(1)], file, "m")
    data = bytearray(file.read_bytes())
    start = data.index(b"ENTITIES")
    draw = np.random.default_rng(seed)
    for i in draw.integers(start, len(data), 1 + seed % 4):
        data[i] = ord("0123456789 .-\nA"[int(draw.integers(15))])
    file.write_bytes(bytes(data))
    try:
        reading = read_dxf(file, IN_METERS)
    except InputError:
        return
    assert all(np.isfinite(r.points).all() for r in reading.routes)


def test_faults_read_over_are_told_and_not_printed(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "x.dxf"
    write_dxf([wild_route(1)], file, "m")
    doc = ezdxf.readfile(file)
    first, second = list(doc.modelspace().query("LINE"))[:2]
    text = file.read_text(encoding="utf-8")
    file.write_text(
        text.replace(f"\n  5\n{second.dxf.handle}\n", f"\n  5\n{first.dxf.handle}\n"), "utf-8"
    )
    assert any("non-unique entity handle" in s for s in read_dxf(file, ReadOptions()).guessed)
    assert capsys.readouterr().err == ""
