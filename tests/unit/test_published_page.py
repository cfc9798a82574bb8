"""The page of printed figures can be made, and holds every comparison of every published test."""

from __future__ import annotations

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.support.published import COMPARISONS, Comparison, Place, agreeing_digits, enter, leave
from tests.support.published import printed as as_printed
from tests.support.published_page import text

ROOT = Path(__file__).parents[2]
PUBLISHED = sorted((ROOT / "tests/published").glob("test_*.py"))


def named_in(path: Path) -> list[str]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    found = [node.name for node in tree.body if isinstance(node, ast.FunctionDef)]
    return [name for name in found if name.startswith("test_")]


def test_the_page_holds_every_published_test(tmp_path: Path) -> None:
    out = tmp_path / "page.md"
    command = [sys.executable, "-m", "tests.support.published_page", str(out)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-2000:]
    page = out.read_text(encoding="utf-8")
    rows = [line.strip("| ").split(" | ") for line in page.splitlines() if line.startswith("| ")]
    figures = [row for row in rows if row[0] not in ("clause", "---")]
    assert {len(row) for row in figures} == {5}
    assert f"{len(figures)} comparisons; 0 outside their tolerance." in page
    whats = {row[1].split(" [")[0].split(", ")[0] for row in figures}
    named = {
        name.removeprefix("test_").replace("_", " ") for p in PUBLISHED for name in named_in(p)
    }
    assert len(named) > 100
    assert named <= whats, named - whats


def test_a_way_to_call_it_that_names_no_page_is_refused() -> None:
    command = [sys.executable, "-m", "tests.support.published_page"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 2 and "OUT.md" in done.stderr


@pytest.fixture
def noted() -> Iterator[list[Comparison]]:
    """What a test of its own compares; taken out of the page again."""
    before = len(COMPARISONS)
    enter(Place("t", "Standard", "clause 1", "what"))
    found: list[Comparison] = []
    yield found
    leave()
    del COMPARISONS[before:]


def last(n: int) -> list[Comparison]:
    return COMPARISONS[-n:]


def test_every_figure_of_a_list_and_a_table_is_a_comparison(noted: list[Comparison]) -> None:
    assert [1.0, 2.0] == as_printed([1.0, 2.1], abs=0.2)
    assert [(c.printed, c.ours, c.agrees) for c in last(2)] == [(1.0, 1.0, True), (2.1, 2.0, True)]
    assert {"a": 1.0} != as_printed({"a": 1.0, "b": 2.0})
    assert [(c.what, c.ours, c.agrees) for c in last(2)] == [
        ("what, a", 1.0, True),
        ("what, b", "nothing", False),
    ]
    assert [1.0] != as_printed([1.0, 2.0])
    assert not last(1)[0].agrees
    assert "5 in" == as_printed("5 in") and "4 in" != as_printed("5 in")


def test_without_a_tolerance_figures_must_be_equal(noted: list[Comparison]) -> None:
    assert 0.53 == as_printed(0.53) and 0.5301 != as_printed(0.53)
    assert 0.5301 == as_printed(0.53, abs=0.0002)
    assert 0.5303 != as_printed(0.53, abs=0.0002)
    assert 1.0 != as_printed("1.0")


@pytest.mark.parametrize(
    ("figure", "ours", "digits"),
    [
        (100.0, 101.0, 2.0),
        (1.07, 1.07107, 3.0),
        (5.0, 5.0, None),
        (3.0, 33.0, 0.0),
        (0.0, 1.0, 0.0),
    ],
)
def test_agreeing_digits(figure: float, ours: float, digits: float | None) -> None:
    found = agreeing_digits(figure, ours)
    assert found == (None if digits is None else pytest.approx(digits, abs=1e-6))


def test_a_figure_outside_its_tolerance_is_marked() -> None:
    one = Comparison("t", "NFPA 70", "Table 1", "two cables", 0.31, 0.4, 0.5, False)
    page = text([one])
    assert "1 comparisons; 1 outside their tolerance." in page
    assert "| Table 1 | two cables | 0.31 | 0.4 | 0.5, outside the tolerance |" in page
