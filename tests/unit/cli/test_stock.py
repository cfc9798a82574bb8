"""``route3d stock``: names first with lines to paste, then the rows of the tables."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest

import route3d
from route3d.cli.main import main
from route3d.modelfile.read import loads
from route3d.standards.search import entries
from route3d.standards.stock import KINDS, names
from tests.support.stock_jobs import SI, US


def printed(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(["stock", *words]) == 0
    return capsys.readouterr().out


def test_the_best_known_row_comes_first_with_lines_to_paste(
    capsys: pytest.CaptureFixture[str],
) -> None:
    out = printed(capsys, "500", "kcmil")
    rows = [line for line in out.splitlines() if line.startswith(("600 V", "bare"))]
    assert rows[0].startswith("600 V XHHW-2 copper 500 kcmil") and rows[0].endswith("read")
    assert "estimate" in out and "16 more stock entries" in out
    lines = out.split("Paste into the model file")[1].splitlines()[1:3]
    table, name = (line.strip() for line in lines)
    pasted = tomllib.loads(f"{table}\n{name}")
    assert pasted["cable"]["phase"]["stock"] == "600 V XHHW-2 copper 500 kcmil"
    assert loads(US.replace('stock = "600 V XHHW-2 copper 500 kcmil"', name)).runs
    # The rows of the tables follow.
    assert out.index("cable_600v_thhn_cu_300_1000: ") > out.index("Paste into")


@pytest.mark.parametrize(
    "word", ["cable", "Cables", "conduit", "rope", "ropes", "machine", "machine classes"]
)
def test_the_word_for_a_kind_lists_that_kind(word: str, capsys: pytest.CaptureFixture[str]) -> None:
    kind = next(k for k in KINDS if word.lower().startswith(k))
    data = json.loads(printed(capsys, *word.split(), "--json"))
    assert tuple(e["name"] for e in data if "to_type" in e and "table" not in e) == names(kind)
    assert names(kind)[0] in printed(capsys, *word.split())


def test_friction_lists_the_table_of_that_name(capsys: pytest.CaptureFixture[str]) -> None:
    out = printed(capsys, "friction")
    assert out.startswith("friction: Basic friction coefficients")
    assert all(e.name.split()[0] in out for e in entries("", "friction"))


def test_a_miss_names_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["stock", "550 kcmil XHHW-2 copper"]) == 2
    said = capsys.readouterr().err
    assert "nearest stock entries" in said and '"600 V XHHW-2 copper 600 kcmil"' in said


def test_machines_read_names_and_figures(capsys: pytest.CaptureFixture[str]) -> None:
    data = json.loads(printed(capsys, "PVC-40 5", "--json"))
    assert data[0]["name"] == "PVC-40 5"
    assert data[0]["values"]["inner_diameter"]["value"] == pytest.approx(5.016 * 0.0254)
    assert data[0]["to_type"] == '[conduit.duct]\nstock = "PVC-40 5"'


def test_one_table_is_shown_without_names(capsys: pytest.CaptureFixture[str]) -> None:
    assert "Stock entries" not in printed(capsys, "4", "--table", "nec_ch9_t4_emt")


def test_the_page_shows_the_jobs_that_are_tested() -> None:
    page = (Path(route3d.__file__).parent / "docs/stock.md").read_text(encoding="utf-8")
    assert US in page and SI in page
