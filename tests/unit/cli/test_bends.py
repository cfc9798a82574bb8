"""``route3d bends`` from outside: files, remedies, sticks, and how it ends."""

from __future__ import annotations

import json
import re
import time
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

import openpyxl
import pytest
from pypdf import PdfReader

import route3d
from route3d.cli.main import main
from tests.support.big import write_big_job

MODELS = Path(route3d.__file__).parents[1] / "models"
YARD, ROOF = (str(MODELS / f"{name}.toml") for name in ("yard_run", "roof_drop"))


class Ended(NamedTuple):
    code: int
    out: str
    err: str


Call = Callable[..., Ended]


@pytest.fixture
def bends(capsys: pytest.CaptureFixture[str]) -> Call:
    def call(*arguments: object) -> Ended:
        code = main(["bends", *(str(a) for a in arguments)])
        captured = capsys.readouterr()
        return Ended(code, captured.out, captured.err)

    return call


def test_files_of_both_kinds_at_once(bends: Call, tmp_path: Path) -> None:
    table, book = tmp_path / "b.csv", tmp_path / "b.xlsx"
    ended = bends(ROOF, "--csv", table, "--xlsx", book, "--units", "US")
    assert ended.code == 0
    assert ended.err == f"wrote {table}\nwrote {book}\n"
    assert "radius (in)" in table.read_text()
    assert "radius (in)" in [c.value for row in openpyxl.load_workbook(book)["N1"] for c in row]


def test_strips_and_labels_on_paper_of_the_units(bends: Call, tmp_path: Path) -> None:
    """The same labels on every output: schedule, JSON, strips and labels."""
    strips, labels = tmp_path / "s.pdf", tmp_path / "l.svg"
    ended = bends(MODELS / "mezzanine.toml", "--strips", strips, "--labels", labels)
    made = sorted(p.name for p in tmp_path.iterdir())
    assert made == ["l-1.svg", "l-2.svg", "l-3.svg", "s.pdf"]
    pages = PdfReader(strips).pages
    assert [float(side) for side in pages[0].mediabox[2:]] == pytest.approx([792, 612], abs=0.5)
    drawn = re.findall(r"M1-B\d\d:", " ".join(page.extract_text() for page in pages))
    assert drawn == [f"M1-B0{k}:" for k in range(1, 6)]
    data = json.loads(bends(MODELS / "mezzanine.toml", "--json").out)["runs"][0]
    wanted = [piece["label"] for piece in data["pieces"]]
    text = " ".join((tmp_path / f"l-{k}.svg").read_text() for k in (1, 2, 3))
    assert re.findall(r">(M1-[SB]\d\d)<", text) == wanted
    assert {b["label"] for b in data["bends"]} <= set(wanted)
    assert all(b["label"] in ended.out for b in data["bends"])


def test_a_run_without_bends_has_no_strips(bends: Call, tmp_path: Path) -> None:
    model = tmp_path / "m.toml"
    text = Path(ROOF).read_text(encoding="utf-8")
    start = text.index("route = [")
    ends = [line for line in text[start:].splitlines() if "access" in line]
    model.write_text(
        text[:start] + "route = [\n" + "\n".join((ends[0], ends[-1])) + "\n]\n", encoding="utf-8"
    )
    ended = bends(model, "--strips", tmp_path / "s.pdf")
    assert "no strip drawings written: there are no bends" in ended.err
    assert not (tmp_path / "s.pdf").exists()


def test_what_would_make_it_pass_follows_the_schedule(bends: Call) -> None:
    ended = bends(YARD)
    assert ended.code == 1
    stop, first = ended.out.index("Stop: sidewall pressure"), ended.out.index("Y1-B01")
    assert ended.out.index("Run Y1") < stop < ended.out.index("Remedies follow") < first
    assert ended.out.index("Between pull points") < ended.out.index("Remedies, least effort first")
    assert "Remedies, least effort first" not in bends(ROOF).out


def test_remedies_as_json_are_the_same_in_all_units(bends: Call) -> None:
    first, second = (bends(YARD, "--json", "--units", u).out for u in ("US", "SI"))
    assert first == second
    assert json.loads(first)["runs"][0]["remedies"][0]["cost_class"] == "nothing to buy"
    assert json.loads(bends(ROOF, "--json").out)["runs"][0]["remedies"] == []


def test_the_length_of_a_stick(bends: Call) -> None:
    def sticks(*more: str) -> list[int]:
        data = json.loads(bends(YARD, "--json", *more).out)
        return [s["sticks"] for s in data["runs"][0]["sections"]]

    usual, long, in_feet = sticks(), sticks("--stick", "20 ft"), sticks("--stick", "20")
    assert long == in_feet
    assert all(a > b >= a / 2 for a, b in zip(usual, long, strict=True))
    roof = json.loads(bends(ROOF, "--json", "--stick", "3 m").out)["runs"][0]["sections"]
    assert roof[0]["sticks"] == 19  # 54 m in two conduits, none cut twice


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--stick", "ten"], "--stick: 'ten'"),
        (["--stick", "1 in"], "is not a stick length"),
        (["--stick", "2 ft"], "such as 10 ft or 3 m; allowed: 3 ft to 98 ft"),
        (["--stick", "200 ft"], "is not a stick length"),
        (["--stick", "-3 m"], "is not a stick length"),
        (["--xlsx", "x.csv"], "name it x.xlsx"),
        (["--strips", "x.png"], "name it x.pdf or x.svg"),
        (["--labels", "no/such/x.pdf"], "create the folder first"),
        (["--xlsx", "no/such/x.xlsx"], "create the folder first"),
    ],
)
def test_bad_input(bends: Call, arguments: list[str], said: str) -> None:
    ended = bends(YARD, *arguments)
    assert ended.code == 2 and said in ended.err and ended.out == ""


@pytest.mark.scale
def test_a_route_of_two_thousand_bends_into_a_pipe(bends: Call, tmp_path: Path) -> None:
    """Twice as long as on a busy machine, remedies included; what grows faster takes longer."""
    model = write_big_job(tmp_path)
    start = time.process_time()
    ended = bends(model)
    assert time.process_time() - start < 90
    rows = [line for line in ended.out.splitlines() if "-B1999 " in line[:16]]
    # its turn, layout, limits, the marks of a field bend, its reaction, and its piece
    assert len(rows) == 6
    assert "was not calculated for 2,000 of 2,000 bends" in ended.out
