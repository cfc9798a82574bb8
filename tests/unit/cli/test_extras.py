"""A command whose package is not installed says so in one line, and how to get it."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from route3d.cli.main import EXTRAS

ROOT = Path(__file__).parents[3]
YARD, DROP, BERTHS = "models/yard_run.toml", "models/roof_drop.toml", "models/berths.xlsx"
CODE = """
import sys
for name in sys.argv[1].split(","):
    sys.modules[name] = None
from route3d.cli.main import main
raise SystemExit(main(sys.argv[2:]))
"""


@pytest.mark.parametrize(
    ("package", "words"),
    [
        ("ezdxf", ["convert", YARD, "out.dxf"]),
        ("openpyxl", ["bends", DROP, "--xlsx", "out.xlsx"]),
        ("openpyxl", ["jobs", BERTHS]),
        ("typst", ["plan", DROP, "--sheet", "out.pdf"]),
        ("typst", ["report", DROP, "--pdf", "out.pdf"]),
        ("pyvista", ["view", DROP, "--png", "out.png"]),
        ("matplotlib", ["view", DROP, "--png", "out.png"]),
        ("PIL", ["study", "limits", DROP, "--input", "rope", "--png", "out.png"]),
        ("distributed", ["jobs", DROP, "--out", "out.jsonl", "--scheduler", "tcp://127.0.0.1:9"]),
        ("ortools", ["study", "days", BERTHS, "models/crews/berths.toml"]),
        ("scipy", ["study", "spread", YARD]),
        ("ifcopenshell", ["convert", YARD, "out.ifc"]),
    ],
)
def test_a_missing_package_is_one_line(package: str, words: list[str], tmp_path: Path) -> None:
    given = [str(tmp_path / w) if w.startswith("out.") else w for w in words]
    told = subprocess.run(
        [sys.executable, "-c", CODE, package, *given], cwd=ROOT, capture_output=True, text=True
    )
    assert told.returncode == 2
    (line,) = told.stderr.splitlines()
    study = words[0] == "study"
    command = " ".join(words[: 2 if study else 1])
    named = "pillow" if package == "PIL" else package
    extra = "study" if study and package == "scipy" else EXTRAS[package]
    assert line == (
        f"{command}: this needs the package {named}, which is not installed; "
        f"pip install 'route3d[{extra}]'"
    )
    assert not list(tmp_path.iterdir())


def test_answers_need_no_extra() -> None:
    barred = ",".join(EXTRAS)
    for command in ("check", "tension", "bends", "plan"):
        told = subprocess.run(
            [sys.executable, "-c", CODE, barred, command, DROP, "--json"],
            cwd=ROOT,
            capture_output=True,
            text=True,
        )
        assert told.returncode == 0, told.stderr
