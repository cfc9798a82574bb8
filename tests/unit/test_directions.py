"""Marks that turn figures are refused, letters that would are shut off (Unicode UAX 9)."""

from __future__ import annotations

import unicodedata
from pathlib import Path

import pytest

from route3d.directions import all_isolated, isolated, mark_in
from route3d.drawing.marks import Text
from route3d.drawing.svg import element
from route3d.errors import InputError
from route3d.formats.catalog import read_routes
from route3d.formats.exchange import ReadOptions
from route3d.modelfile.read import load
from route3d.modelfile.toml_positions import read_toml

MODELS = Path(__file__).parents[2] / "models"
# UAX 9, table 4 and section 2: explicit embeddings, overrides, isolates and implicit marks.
MARKS = "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
HEBREW, ARABIC = "\u05de\u05d1\u05e0\u05d4", "\u0645\u0628\u0646\u0649"


def test_every_mark_of_the_standard_is_found_and_no_letter_is() -> None:
    for code in range(0x110000):
        sign = chr(code)
        explicit = unicodedata.bidirectional(sign) in (
            *("LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"),
        )
        assert bool(mark_in(sign)) == (explicit or sign in "\u061c\u200e\u200f"), hex(code)


def test_all_letters_that_turn_figures_are_shut_off() -> None:
    for code in range(0x110000):
        sign = chr(code)
        if unicodedata.bidirectional(sign) in ("R", "AL") and sign not in MARKS:
            assert isolated(sign) == f"\u2068{sign}\u2069", hex(code)
        elif unicodedata.bidirectional(sign) == "L" or sign.isascii():
            assert isolated(sign) == sign, hex(code)


def test_figures_stay_outside_and_twice_is_once() -> None:
    told = isolated(f"{HEBREW} {HEBREW} 3: 3,500 lbf of {ARABIC}")
    assert told == f"\u2068{HEBREW} {HEBREW}\u2069 3: 3,500 lbf of \u2068{ARABIC}\u2069"
    assert isolated(told) == told
    data = {"a": [HEBREW, 1.0, None], HEBREW: ("x",)}
    assert all_isolated(data) == {
        "a": [f"\u2068{HEBREW}\u2069", 1.0, None],
        f"\u2068{HEBREW}\u2069": ["x"],
    }
    assert isolated("vault V1, 3,500 lbf²") == "vault V1, 3,500 lbf²"


def test_words_of_a_picture_are_isolated() -> None:
    assert f"\u2068{HEBREW}\u2069 3,500 lbf</text>" in element(
        Text((0, 0), f"{HEBREW} 3,500 lbf", 13.0)
    )


@pytest.mark.parametrize("mark", MARKS)
@pytest.mark.parametrize("as_escape", [True, False])
def test_a_name_of_a_model_with_a_mark_is_refused_by_line(mark: str, as_escape: bool) -> None:
    sign = f"\\u{ord(mark):04x}" if as_escape else mark
    source = f'units = "US"\n\n[[run]]\nname = "A{sign}1"\n[cable."x{sign}"]\nabout = ["{sign}"]\n'
    with pytest.raises(InputError) as caught:
        read_toml(source, "job.toml")
    found = [(p.file, p.line, p.where.split("[")[0]) for p in caught.value.problems]
    assert found[0] == ("job.toml", 4, "run")
    assert [line for _, line, _ in found] == [4, 5, 6]
    assert all(f"U+{ord(mark):04X}" in p.message for p in caught.value.problems)
    assert not any(mark in str(p) for p in caught.value.problems)


def test_a_model_in_hebrew_is_read(tmp_path: Path) -> None:
    model = tmp_path / "job.toml"
    source = (MODELS / "yard_run.toml").read_text(encoding="utf-8")
    assert source.count('"Y1"') == 1
    model.write_text(source.replace('"Y1"', f'"{HEBREW}"'), encoding="utf-8")
    assert [r.name for r in load(model).runs] == [HEBREW]


def test_a_name_of_an_imported_file_with_a_mark_is_refused_by_line(tmp_path: Path) -> None:
    table = tmp_path / "survey.csv"
    table.write_text(
        "run,x,y,z,name\nA,0,0,0,vault\nA,50,0,0,\nA,90,0,0,V\u202e1\n", encoding="utf-8"
    )
    with pytest.raises(InputError) as caught:
        read_routes(table, ReadOptions(units="m"))
    (problem,) = caught.value.problems
    assert problem.line == 4 and problem.file == str(table)
    assert "name of point 3" in problem.where and "U+202E" in problem.message
