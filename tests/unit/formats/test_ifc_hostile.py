"""IFC files that are broken, huge, empty or not IFC at all: each ends in words, none in a crash."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from route3d.cli.main import main
from route3d.errors import InputError
from route3d.formats.exchange import ReadOptions
from route3d.formats.ifc.reading import read_ifc
from route3d.formats.ifc.writing import write_ifc
from tests.support.plant import Plant, three_axes
from tests.support.wild_routes import wild_route

CLOSE = 1e-9

MODELS = Path(__file__).parents[3] / "models"


# --- hostile -----------------------------------------------------------------------------------


def written(tmp_path: Path) -> str:
    write_ifc([wild_route(1)], tmp_path / "x.ifc", "m")
    return (tmp_path / "x.ifc").read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda t: "", "is not an IFC file"),
        (lambda t: "hello\n" * 99, "is not an IFC file"),
        (lambda t: "PK\x03\x04" + t, "is a zip archive"),
        (lambda t: t[: len(t) // 2], "truncated"),
        (lambda t: t[: len(t) // 2] + "\nENDSEC;\nEND-ISO-10303-21;\n", "is damaged|be read"),
        (lambda t: t.replace("'IFC4'", "'IFC9'"), "Unsupported schema"),
        (lambda t: t.replace("3D(((0.", "3D(((NAN", 1), "has NAN instead of a number"),
        (lambda t: t.replace("3D(((0.", "3D(((1E400", 1), "cannot be read as IFC"),
        (lambda t: t.replace("IFCCABLECARRIER", "IFCWALLCARRIER"), "is damaged"),
    ],
)
def test_what_is_no_model_is_refused_in_words(change: Any, said: str, tmp_path: Path) -> None:
    text = written(tmp_path)
    (tmp_path / "y.ifc").write_text(change(text), encoding="utf-8")
    with pytest.raises(InputError, match=said):
        read_ifc(tmp_path / "y.ifc", ReadOptions())


def test_a_name_that_looks_like_no_number_is_a_name(tmp_path: Path) -> None:
    write_ifc([wild_route(1, name="(NAN, INF)")], tmp_path / "x.ifc", "m")
    assert read_ifc(tmp_path / "x.ifc", ReadOptions()).routes[0].name == "(NAN, INF)"


def test_placements_and_maps_in_a_circle_end(tmp_path: Path) -> None:
    plant = Plant.new()
    first, *_ = three_axes(plant, np.eye(4))
    first.ObjectPlacement.PlacementRelTo = first.ObjectPlacement
    said = " | ".join(plant.read(tmp_path).ignored)
    assert "circular placements" in said


def test_a_model_without_conduits_says_so(tmp_path: Path) -> None:
    plant = Plant.new()
    plant.element("IfcWall", {})
    with pytest.raises(InputError, match="has no cable carrier, duct or pipe segment"):
        plant.read(tmp_path)


def test_too_many_entities_are_refused_before_they_are_loaded(tmp_path: Path) -> None:
    head = written(tmp_path).split("DATA;")[0] + "DATA;\n"
    many = "#1=IFCCARTESIANPOINT((0.,0.,0.));\n" * 1_000_001
    (tmp_path / "y.ifc").write_text(head + many + "ENDSEC;\nEND-ISO-10303-21;\n")
    with pytest.raises(InputError, match="1,000,001 entities, the maximum is 1,000,000"):
        read_ifc(tmp_path / "y.ifc", ReadOptions())


@pytest.mark.parametrize("seed", range(60))
def test_changed_bytes_end_in_an_error_or_a_route(seed: int, tmp_path: Path) -> None:
    data = bytearray(written(tmp_path).encode())
    start = data.index(b"DATA;")
    draw = np.random.default_rng(seed)
    for i in draw.integers(start, len(data) - 40, 1 + seed % 4):
        data[i] = ord("0123456789.,()$#'A"[int(draw.integers(18))])
    (tmp_path / "y.ifc").write_bytes(bytes(data))
    try:
        reading = read_ifc(tmp_path / "y.ifc", ReadOptions())
    except InputError:
        return
    assert all(np.isfinite(r.points).all() for r in reading.routes)


@pytest.mark.parametrize("action", ["read", "write"])
def test_without_ifcopenshell_the_message_says_how_to_get_it(
    action: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    written(tmp_path)
    monkeypatch.setitem(__import__("sys").modules, "ifcopenshell", None)
    given, made = str(tmp_path / "x.ifc"), str(tmp_path / "z.csv")
    if action == "write":
        given, made = str(MODELS / "riser_duct_bank.toml"), str(tmp_path / "z.ifc")
    assert main(["convert", given, made]) == 2
    assert "pip install 'route3d[ifc]'" in capsys.readouterr().err


def test_too_many_conduits_ask_for_systems(tmp_path: Path) -> None:
    head, rest = written(tmp_path).split("DATA;\n")
    one = "#{0}=IFCFLOWSEGMENT('{0:022d}',$,$,$,$,$,$,$);\n"
    many = "".join(one.format(n) for n in range(100_000, 105_001))
    (tmp_path / "y.ifc").write_text(f"{head}DATA;\n{many}{rest}")
    with pytest.raises(InputError, match=r"the maximum is 5,000; select systems: .*wild"):
        read_ifc(tmp_path / "y.ifc", ReadOptions())
    chosen = read_ifc(tmp_path / "y.ifc", ReadOptions(layers=("wild",)))
    assert "system y: 5,001 elements, not a requested system" in chosen.ignored
