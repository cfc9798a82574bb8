"""Figures of speed: run, kept, compared with the last, and put into README and docs.

Each run is kept in ``tests/benchmarks/history`` as the JSON of pytest-benchmark without its raw
data, so that ``pytest-benchmark compare`` reads it too. Figures are compared in yards: the time of
a fixed work on the same machine just before (``tests/benchmarks/conftest.py``).
"""

from __future__ import annotations

import json
import subprocess
import sys
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from route3d.disk import write_text_atomic
from route3d.errors import InputError, Problem

ROOT = Path(__file__).parents[2]
HISTORY = ROOT / "tests/benchmarks/history"
PAGES = (ROOT / "README.md", ROOT / "route3d/docs/index.md")
START, END = "<!-- speed -->\n\n", "\n<!-- /speed -->"
# A figure so many times the last one is slower; less is the unrest of a machine (own judgment).
SLOWER = 1.3


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure that is kept: in ``words``, with the ``aim``; ``short`` where README has it."""

    words: str
    aim: str
    short: str = ""


FIGURES: Mapping[str, Figure] = {
    "one pull": Figure(
        "41 segments in space, both directions, one scenario", "100 times DOP853", "one pull"
    ),
    "kernel": Figure("100,000 scenarios, both directions", "0.5 s", "100,000 pulls"),
    "many bends": Figure("10,000 bends, fillet and both directions", "0.5 s, linear"),
    "riser": Figure("the demo run of duct bank and riser, solved from both ends", ""),
    "evaluate": Figure("the same, checked and decided", "", "a run decided"),
    "limits": Figure("the same, [how far friction may go](study_limits.md)", ""),
    "page data": Figure("all data of its page", ""),
    "split": Figure("30 pull points, all ways to split the run", "1 s"),
    "placement": Figure("place for the machine in a room of 200,000 triangles", "2 s"),
    "clearance": Figure("clearance of 500 m at 0.1 m in a million triangles", "3 s"),
    "concrete": Figure("the concrete of a bank there", ""),
    "edit": Figure("2,000 bends on the live page, from an edit to the new decision", "1 s"),
    "start": Figure("import of the command line", "", "start"),
    "command": Figure("`route3d tension models/riser_duct_bank.toml`, whole process", ""),
}
"""The figures that are kept, by name; a benchmark names the one it times."""


@dataclass(frozen=True, slots=True)
class Timed:
    """One figure of a run: least and most ``seconds`` of its cases, most ``yards``, a ``note``."""

    seconds: tuple[float, float]
    yards: float
    note: str


def kept(found: Mapping[str, Any]) -> dict[str, Any]:
    """The JSON of a run as it is kept: without raw data and what tells one machine from another."""
    machine = found["machine_info"]
    return {
        "datetime": found["datetime"],
        "version": found["version"],
        "commit_info": {key: found["commit_info"].get(key) for key in ("id", "time", "dirty")},
        "machine_info": {
            "python_version": machine["python_version"],
            "system": machine["system"],
            "machine": machine["machine"],
            "cpu": {"count": machine.get("cpu", {}).get("count")},
        },
        "benchmarks": [
            {
                **{k: b[k] for k in ("group", "name", "fullname", "param", "extra_info")},
                "params": None,
                "options": {"timer": b["options"]["timer"]},
                "stats": {k: _short(v) for k, v in b["stats"].items() if k != "data"},
            }
            for b in found["benchmarks"]
        ],
    }


def _short(value: Any) -> Any:
    return float(f"{value:.5g}") if isinstance(value, float) else value


def timed_figures(run: Mapping[str, Any]) -> dict[str, Timed]:
    """The figures of a run by name, in the order of ``FIGURES``."""
    cases: dict[str, list[Mapping[str, Any]]] = {}
    for benchmark in run["benchmarks"]:
        cases.setdefault(benchmark["extra_info"].get("figure", ""), []).append(benchmark)
    found = {}
    for name in FIGURES:
        if of_figure := cases.get(name):
            seconds = [b["stats"]["min"] for b in of_figure]
            infos = [b["extra_info"] for b in of_figure]
            found[name] = Timed(
                (min(seconds), max(seconds)),
                max(info["yards"] for info in infos),
                next((info["note"] for info in infos if "note" in info), ""),
            )
    return found


def runs_kept(folder: Path = HISTORY) -> list[Path]:
    """The files of the runs that are kept, the last one last."""
    return sorted(folder.glob("[0-9]*.json"))


def read_run(file: Path) -> dict[str, Any]:
    """A run from its file; InputError where it is none."""
    try:
        found: dict[str, Any] = json.loads(file.read_text(encoding="utf-8"))
        timed_figures(found)
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        fix = "name a file that pytest --benchmark-json wrote"
        raise InputError(Problem("no run of the benchmarks", fix=fix, file=str(file))) from None
    return found


# --- tables ---------------------------------------------------------------------------------------


def speed_words(seconds: float) -> str:
    """A time as a person reads it: two digits, in ms below a tenth of a second."""
    value, unit = (seconds, "s") if seconds >= 0.0995 else (seconds * 1e3, "ms")
    return f"{float(f'{value:.2g}'):g} {unit}"


def _words_of(timed: Timed) -> str:
    least, most = (speed_words(s) for s in timed.seconds)
    if least == most:
        return most
    number, _, unit = least.partition(" ")
    return f"{number if most.endswith(f' {unit}') else least} to {most}"


def whole_table(figures: Mapping[str, Timed]) -> str:
    """All figures with their aims."""
    lines = ["| what | figure | aim |", "|---|---|---|"]
    for name, timed in figures.items():
        note = f"; {timed.note}" if timed.note else ""
        figure = FIGURES[name]
        lines.append(f"| {figure.words} | {_words_of(timed)}{note} | {figure.aim} |")
    return "\n".join(lines) + "\n"


def short_table(figures: Mapping[str, Timed]) -> str:
    """The few figures of README, side by side."""
    shown = {FIGURES[n].short: _words_of(t) for n, t in figures.items() if FIGURES[n].short}
    rows = (shown.keys(), ["---"] * len(shown), shown.values())
    return "".join("|" + "|".join(row) + "|\n" for row in rows)


def with_table(page: str, table: str) -> str:
    """A page with another table between its markers."""
    before, start, rest = page.partition(START)
    _, end, after = rest.partition(END)
    if not start or not end:
        raise ValueError(f"the page has no markers {START.strip()} and {END.strip()}")
    return before + START + table + END + after


def comparison(new: Mapping[str, Timed], old: Mapping[str, Timed]) -> tuple[list[str], bool]:
    """A line for each figure beside the last one, and whether any is slower."""
    lines, slower = [], False
    for name, timed in new.items():
        line = f"{name:<12} {_words_of(timed):>18} {timed.yards:9.3f} yards"
        if name in old:
            ratio = timed.yards / old[name].yards
            worse = ratio > SLOWER
            slower |= worse
            line += f"  {ratio:5.2f} times the last" + (", SLOWER" if worse else "")
        lines.append(line)
    lines += [f"{name:<12} not timed" for name in old if name not in new]
    return lines, slower


# --- the command ----------------------------------------------------------------------------------


def run_benchmarks(file: Path | None = None) -> bool:
    """Run them, or take a run from a file; compare, keep it, and renew the tables.

    True if every benchmark kept its limit and no figure is slower than the last one. A run that
    lacks figures is compared and not kept.
    """
    run, passed = (read_run(file), True) if file is not None else _run()
    new, before = timed_figures(run), runs_kept()
    old = timed_figures(read_run(before[-1])) if before else {}
    lines, slower = comparison(new, old)
    print("\n".join(lines))
    if lacking := [name for name in FIGURES if name not in new]:
        print(f"not kept: {', '.join(lacking)} not timed")
        return False
    keep(run)
    return passed and not slower


def _run() -> tuple[dict[str, Any], bool]:
    """A run of all benchmarks, and whether each kept its limit."""
    with tempfile.TemporaryDirectory() as folder:
        made = Path(folder) / "run.json"
        words = ["-q", "-s", "-m", "benchmarks", "--benchmark-only", "--benchmark-quiet"]
        words += [f"--benchmark-json={made}", "tests/benchmarks"]
        done = subprocess.run([sys.executable, "-m", "pytest", *words], cwd=ROOT)
        return read_run(made), done.returncode == 0


def keep(run: Mapping[str, Any], folder: Path = HISTORY, pages: Sequence[Path] = PAGES) -> Path:
    """Keep a run as the next file, and put its figures into README and docs."""
    before = runs_kept(folder)
    number = int(before[-1].stem) + 1 if before else 1
    made = folder / f"{number:04}.json"
    folder.mkdir(exist_ok=True)
    write_text_atomic(made, json.dumps(kept(run), indent=1) + "\n")
    figures = timed_figures(run)
    for page, table in zip(pages, (short_table(figures), whole_table(figures)), strict=True):
        text = page.read_text(encoding="utf-8")
        write_text_atomic(page, with_table(text, table))
    return made
