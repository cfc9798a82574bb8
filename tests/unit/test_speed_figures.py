"""Speed figures: what is kept of a run, how runs are compared, and where the figures are told."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from route3d.docs import benchmarks
from route3d.docs.benchmarks import FIGURES, HISTORY, PAGES
from route3d.errors import InputError


def run(times: float = 1.0, *, without: str = "") -> dict[str, Any]:
    """A run as pytest-benchmark writes it, each figure of two cases, ``times`` as slow."""

    def case(name: str, number: int) -> dict[str, Any]:
        seconds = times * 0.0123456789 * number
        return {
            **dict(group=None, name=f"test_{name}[{number}]", fullname="f", param=str(number)),
            "params": {"work": "<object>"},
            "options": {"timer": "process_time", "warmup": True},
            "extra_info": {"figure": name, "yards": 10 * seconds, "note": f"note of {name}"},
            "stats": {"min": seconds, "median": seconds, "rounds": 2, "data": [seconds] * 2},
        }

    return {
        "datetime": "2026-01-01T00:00:00+00:00",
        "version": "5.3.1",
        "commit_info": {"id": "0" * 40, "time": "t", "dirty": False, "branch": "b"},
        "machine_info": {
            **dict(node="secret", python_version="3.11.7", system="Linux", machine="x86_64"),
            "cpu": {"count": 2, "brand_raw": "a processor"},
        },
        "benchmarks": [case(name, n) for name in FIGURES if name != without for n in (1, 2)],
    }


def test_what_is_kept_is_small_and_names_no_machine() -> None:
    kept = json.dumps(benchmarks.kept(run()))
    assert "data" not in json.loads(kept)["benchmarks"][0]["stats"]
    assert "secret" not in kept and "a processor" not in kept and "<object>" not in kept
    assert benchmarks.timed_figures(json.loads(kept))["kernel"].seconds == (0.012346, 0.024691)


def test_a_run_is_compared_in_yards_with_the_last_one() -> None:
    old = benchmarks.timed_figures(run())
    lines, slower = benchmarks.comparison(old, old)
    assert not slower and len(lines) == len(FIGURES) and "1.00 times the last" in lines[0]
    lines, slower = benchmarks.comparison(benchmarks.timed_figures(run(1.5, without="start")), old)
    assert slower and "1.50 times the last, SLOWER" in lines[0] and "start" in lines[-1]
    assert "not timed" in lines[-1]


def test_a_run_is_kept_as_the_next_and_told_on_the_pages(tmp_path: Path) -> None:
    pages = [tmp_path / name for name in ("README.md", "index.md")]
    for page in pages:
        page.write_text("before\n<!-- speed -->\n\nold\n\n<!-- /speed -->\nafter\n")
    folder = tmp_path / "history"
    for number in (1, 2):
        made = benchmarks.keep(run(number), folder, pages)
        assert made.name == f"000{number}.json"
    assert benchmarks.runs_kept(folder)[-1] == made
    short, whole = (page.read_text() for page in pages)
    assert short.startswith("before\n<!-- speed -->\n\n|one pull|") and "25 to 49 ms|" in short
    assert short.count("\n|") == 3 and short.endswith("|\n\n<!-- /speed -->\nafter\n")
    assert whole.count("\n| ") == len(FIGURES) + 1 and "; note of kernel | 0.5 s |" in whole
    with pytest.raises(ValueError, match="no markers"):
        benchmarks.with_table("a page", "")


def test_a_file_that_is_no_run_is_told(tmp_path: Path) -> None:
    file = tmp_path / "x.json"
    for text in ("", "[]", '{"benchmarks": [{}]}'):
        file.write_text(text)
        with pytest.raises(InputError, match=r"x\.json: no run of the benchmarks; name a file"):
            benchmarks.read_run(file)
    with pytest.raises(InputError, match="no run of the benchmarks"):
        benchmarks.read_run(tmp_path / "none.json")


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0.000212, "0.21 ms"), (0.0994, "99 ms"), (1.46, "1.5 s"), (12.3, "12 s")],
)
def test_a_time_is_told_with_two_digits(seconds: float, words: str) -> None:
    assert benchmarks.speed_words(seconds) == words


def test_the_pages_tell_the_last_run() -> None:
    """Whoever changes a figure by hand is found out; renew: python -m route3d.docs benchmarks."""
    last = benchmarks.read_run(benchmarks.runs_kept()[-1])
    figures = benchmarks.timed_figures(last)
    assert list(figures) == list(FIGURES)
    for page, table in zip(PAGES, (benchmarks.short_table, benchmarks.whole_table), strict=True):
        text = page.read_text(encoding="utf-8")
        assert benchmarks.with_table(text, table(figures)) == text
    assert all(file.stat().st_size < 60_000 for file in HISTORY.iterdir())
