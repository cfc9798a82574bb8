"""VTP files of others, and broken ones."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import pyvista as pv

from route3d.errors import InputError
from route3d.formats.exchange import ReadOptions
from route3d.formats.vtp import read_vtp, write_vtp
from tests.support.wild_routes import wild_route

IN_METRES = ReadOptions(units="m")


def line_file(folder: Path, *, binary: bool) -> Path:
    """A bend of 3 m radius in chords, as pyvista saves it."""
    a = np.linspace(0, np.pi / 2, 25)
    bend = np.column_stack((10 + 3 * np.sin(a), 3 - 3 * np.cos(a), 0 * a))
    points = np.vstack(([0, 0, 0], bend, [13, 20, 0])).astype(np.float64)
    pv.lines_from_points(points).strip().save(folder / "line.vtp", binary=binary)
    return folder / "line.vtp"


def test_a_polyline_of_others_needs_a_unit_and_gets_its_arcs(tmp_path: Path) -> None:
    file = line_file(tmp_path, binary=False)
    with pytest.raises(InputError, match="does not say its unit of length"):
        read_vtp(file, ReadOptions())
    reading = read_vtp(file, IN_METRES)
    (route,) = reading.routes
    assert route.name == "line"
    # pyvista's text has 12 digits or fewer of each number
    assert route.path().length == pytest.approx(10 + 1.5 * math.pi + 17, abs=1e-3)
    assert any("1 arc recognized in 27 points" in said for said in reading.guessed)


def test_binary_numbers_are_refused_in_words(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"numbers in binary form; save it as text \(ASCII\)"):
        read_vtp(line_file(tmp_path, binary=True), IN_METRES)


def test_the_unit_asked_for_and_the_origin_count(tmp_path: Path) -> None:
    before = wild_route(3)
    write_vtp([before], tmp_path / "x.vtp", "US")
    options = ReadOptions(units="m", origin=(1.0, 2.0, 3.0))
    (after,) = read_vtp(tmp_path / "x.vtp", options).routes
    assert after.points == pytest.approx(before.points / 0.3048 - (1, 2, 3))
    assert after.radii == pytest.approx(before.radii / 0.3048)


def text(folder: Path) -> str:
    write_vtp([wild_route(3)], folder / "x.vtp", "SI")
    return (folder / "x.vtp").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda t: "", "is not complete XML"),
        (lambda t: t[: len(t) // 2], "is not complete XML"),
        (lambda t: "<!DOCTYPE a [<!ENTITY b 'c'>]>" + t, "declares its own XML entities"),
        (lambda t: "<svg/>", "is not a VTK PolyData file"),
        (lambda t: "<a>" * 20_000, "more than 10,000 elements"),
        (lambda t: t.replace("0.0", "nan", 3), "point at nan|do not match"),
        (lambda t: t.replace('Name="radii"', 'Name="other"'), "has no array radii"),
        (lambda t: t.replace("0.0\n", "x\n", 1), "has no numbers in"),
        (lambda t: t.replace('format="ascii">118', 'format="ascii">0 118', 1), "do not match"),
    ],
)
def test_what_is_broken_is_refused_in_words(change: Any, said: str, tmp_path: Path) -> None:
    (tmp_path / "y.vtp").write_text(change(text(tmp_path)), encoding="utf-8")
    with pytest.raises(InputError, match=said):
        read_vtp(tmp_path / "y.vtp", ReadOptions())


@pytest.mark.parametrize("seed", range(60))
def test_changed_bytes_end_in_an_error_or_a_route(seed: int, tmp_path: Path) -> None:
    data = bytearray(text(tmp_path).encode())
    draw = np.random.default_rng(seed)
    for i in draw.integers(100, len(data), 1 + seed % 4):
        data[i] = ord('0123456789.e<>"- nax'[int(draw.integers(20))])
    (tmp_path / "y.vtp").write_bytes(bytes(data))
    try:
        reading = read_vtp(tmp_path / "y.vtp", ReadOptions())
    except InputError:
        return
    assert all(np.isfinite(r.points).all() for r in reading.routes)
